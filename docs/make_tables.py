"""Write docs/keys.md and docs/kinds.md from the code and the catalogue; a test holds the files to what this makes.

python3 dev.py run docs/make_tables.py
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from loomlore.catalogue.shipped import raw_kinds, shipped_kinds
from loomlore.record.keys import HEADER, TABLES
from loomlore.record.laws import LAWS

FOLDER = Path(__file__).parent
ALWAYS = ("name", "also", "text", "note", "sources", "standing", "fit")


def table(columns: Iterable[str], rows: Iterable[Iterable[str]]) -> list[str]:
    """Lines of a Markdown table."""
    heads = list(columns)
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return [*lines, *("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows)]


def keys_page() -> str:
    """Every table of a dossier with its keys and an example of each value."""
    lines = [
        "# Keys of every table",
        "",
        "Made from the code by `docs/make_tables.py`. What the tables are for stands in [format.md](format.md).",
        "Every thing may also carry `name`, `also`, `text`, `note`, `sources`, `standing` and `fit`.",
        "",
        "## [dossier]",
        "",
        *table(
            ("key", "example", ""),
            ((f"`{k.name}`", f"`{k.example}`", "must" if k.obligatory else "") for k in HEADER.values()),
        ),
    ]
    for word, spec in TABLES.items():
        heading = f"[[{word}]]" if spec.ids == "list" else f"[{word}]"
        rows = [
            (f"`{k.name}`", f"`{k.example}`", "must" if k.obligatory else "")
            for k in spec.keys.values()
            if k.name not in ALWAYS
        ]
        lines += ["", f"## {heading}", "", "```", spec.line, "```", "", *table(("key", "example", ""), rows)]
    return "\n".join(lines) + "\n"


def kinds_page() -> str:
    """The shipped catalogue: kinds with terminals, controls, latches, elements and parameters; and the laws."""
    lines = [
        "# The shipped catalogue of kinds",
        "",
        "Made from the catalogue by `docs/make_tables.py`. A kind is data; an item is an instance of it and may give",
        "its parameters as plain keys. Your dossier may have kinds of its own under `[kind.ID]`.",
        "",
    ]
    rows = []
    for kind in sorted(shipped_kinds().values(), key=lambda k: k.id):
        terminals = (
            " ".join(str(t) for side in kind.terminals.values() for t in side)
            if isinstance(kind.terminals, dict)
            else str(kind.terminals)
        )
        parameters = ", ".join(
            f"{p.name} = {p.default}" if p.default is not None else f"{p.name} ({p.unit}, must)"
            for p in kind.parameters.values()
        )
        rows.append((f"`{kind.id}`", kind.title, terminals, parameters, kind.hazard))
    lines += table(("kind", "what it is", "terminals", "parameters", "care"), rows)
    lines += [
        "",
        "## What lies between the terminals",
        "",
        "Each element with its law, each contact with when it is closed. A name that is no terminal is an inner node;",
        "`earth` is the case, on the airframe.",
        "",
    ]
    insides = ((f"`{name}`", inside(raw)) for name, (raw, _) in sorted(raw_kinds().items()))
    lines += table(("kind", "between its terminals"), insides)
    lines += [
        "",
        "## Laws",
        "",
        "The volt-ampere behaviour that an element may have, and its states in order.",
        "",
    ]
    law_rows = [
        (f"`{name}`", ", ".join(law.states + law.marks), ", ".join(law.amounts), ", ".join(law.words))
        for name, law in LAWS.items()
    ]
    lines += table(("law", "states", "amounts", "words"), law_rows)
    return "\n".join(lines) + "\n"


def inside(raw: Mapping[str, Any]) -> str:
    """What lies between a kind's terminals: its elements, its contacts and when they are closed, its ways."""
    parts = [
        (name if name == element["law"] else f"{name} ({element['law']})") + f" {_between(element)}"
        for name, element in raw.get("element", {}).items()
    ]
    for name, contact in raw.get("contact", {}).items():
        closed = contact.get("closed")
        parts.append(f"{name} {_between(contact)}" + (f" when {closed}" if closed else ", always"))
    each = raw.get("each-way")
    if each:
        parts.append(f"each way ({each['law']}) {_between(each)}" if "law" in each else "a stud each way")
    return "; ".join(parts) or "nothing that is solved"


def _between(part: Mapping[str, Any]) -> str:
    first, second = part["ends"]
    return f"{first} to {second}".replace("#", "its own")


def pages() -> dict[str, str]:
    """The made pages by file name."""
    return {"keys.md": keys_page(), "kinds.md": kinds_page()}


def main() -> None:
    """Write them."""
    for name, text in pages().items():
        (FOLDER / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
