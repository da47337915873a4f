"""Every citation resolves, every document and shipped figure says how well it is known."""

import ast
import re
from pathlib import Path

import pytest

import loomlore.references as references_module
from loomlore.catalogue.published_tables import published_table, published_tables
from loomlore.findings import UnknownName
from loomlore.references import (
    Input,
    UnfitClause,
    Working,
    citation,
    citations_in,
    documents,
    status_of_row,
)

PACKAGE = Path(references_module.__file__).parent
METHODS = PACKAGE.parent.parent / "docs" / "methods.md"


def cited_in_package() -> list[tuple[str, str, str]]:
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
                where = f"{path.relative_to(PACKAGE)}:{getattr(node, 'name', '')}"
                found += [(where, key, clause) for key, clause in citations_in(ast.get_docstring(node) or "")]
    return found


def test_every_source_section_resolves():
    cited = cited_in_package()
    assert len(cited) > 40
    unresolved = []
    for where, key, clause in cited:
        try:
            citation(key, clause)
        except UnknownName as slip:
            unresolved.append(f"{where}: [{key} {clause}]: {slip}")
    assert not unresolved, "\n".join(unresolved)


def test_sections_of_methods_exist():
    headings = set(re.findall(r"^#+ (\d+(?:\.\d+)?) ", METHODS.read_text(encoding="utf-8"), re.MULTILINE))
    wanted = {
        clause.removeprefix("sect ") for _, key, clause in cited_in_package() if key == "method" and clause
    }
    assert wanted
    assert wanted <= headings, f"docs/methods.md lacks {sorted(wanted - headings)}"


def test_documents_are_whole():
    for key, document in documents().items():
        assert document.title, key
        assert document.short, key
        assert document.issuer, key
        assert status_of_row(document.status) == document.status, key
        assert re.fullmatch(document.clause, document.example), (
            f"{key}: its own example does not fit its clause"
        )


def test_a_clause_that_the_document_cannot_have_is_refused():
    with pytest.raises(UnfitClause, match="like 'table 11-9'"):
        citation("ac43.13-1b", "chapter twelve")


def test_an_unknown_document_is_refused_with_the_nearest():
    with pytest.raises(UnknownName, match=r"ac43\.13-1b"):
        citation("ac4313-1b", "table 11-9")


def test_every_shipped_figure_has_a_status():
    for name in published_tables():
        for row in published_table(name):
            assert status_of_row(row["status"])


def test_shipped_tables_name_a_document():
    stems = {re.sub(r"[^a-z0-9]", "", key) for key in documents()}
    for name in published_tables():
        plain = re.sub(r"[^a-z0-9]", "", name)
        assert any(plain.startswith(re.sub(r"1(888|997)$", "", stem)) for stem in stems), name


def test_a_working_is_no_better_than_what_it_leans_on():
    below = Working("factor", 0.5, "", "as printed", (), citation("ail0194"), "memory")
    above = Working(
        "load", 2.0, "A", "I x factor", (Input("factor", 0.5, "", below),), citation("ail0194"), "read"
    )
    assert above.weakest_status == "memory"
    assert any("from memory" in line for line in above.lines())


def test_source_section_ends_at_the_next_heading():
    text = "Drop.\n\nSource\n------\n[ac43.13-1b table 11-6]\n\nExamples\n--------\n[not-a-key here]\n"
    assert citations_in(text) == (("ac43.13-1b", "table 11-6"),)


def test_no_source_section_cites_nothing():
    assert citations_in("Drop [V].\n\nNotes\n-----\n[ac43.13-1b table 11-6]") == ()
