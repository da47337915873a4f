"""Docstrings, read from the source."""

import tomllib

import pytest

from architecture.docstrings import (
    citation_faults,
    citations,
    entries,
    is_unit,
    missing_docstrings,
    parameter_faults,
    sections,
)
from architecture.source import PACKAGE, SOURCE, expect_none, modules_of, package_modules

DOCUMENTS = {"handbook-7": {"clause": r"table \d+|", "example": "table 3"}}

WHOLE = '''
"""Whole."""

__all__ = ["drop"]


def drop(current: float, *lengths: float, size: str = "") -> float:
    """Voltage drop.

    Parameters
    ----------
    current : float [A]
        Steady current.
    *lengths : float
        Each run [m].
    size
        As stamped.

    Returns
    -------
    float [V]
        The drop.

    Source
    ------
    [handbook-7 table 3], and [handbook-7] at large.
    """


def unlisted(current: float) -> float:
    """Not offered, so that a line is enough."""
'''


def changed(old: str, new: str) -> str:
    assert old in WHOLE
    return WHOLE.replace(old, new)


def complaints(rule, text: str, *more) -> list[str]:
    modules = {name: module for name, module in modules_of(sizing__drop=text).items() if module.text}
    return list(rule(modules, *more))


def test_every_public_thing_has_a_docstring():
    expect_none(missing_docstrings(package_modules()))


def test_offered_functions_are_documented_whole():
    expect_none(parameter_faults(package_modules()))


def test_citations_resolve():
    modules = package_modules()
    if not citations(modules):
        pytest.skip("no docstring has a Source section with a citation yet")
    documents = tomllib.loads((SOURCE / PACKAGE / "references.toml").read_text(encoding="utf-8"))
    expect_none(citation_faults(modules, documents))


def test_whole_docstring_passes():
    assert complaints(missing_docstrings, WHOLE) == []
    assert complaints(parameter_faults, WHOLE) == []
    assert complaints(citation_faults, WHOLE, DOCUMENTS) == []


@pytest.mark.parametrize(
    "text",
    [
        "x = 1",
        '"""M."""\ndef f(): pass',
        '"""M."""\nclass A: pass',
        '"""M."""\nclass A:\n    """A."""\n    def m(self): pass',
        '"""M."""\nclass A:\n    """A."""\n    @property\n    def m(self): pass',
        '"""M."""\nif True:\n    async def f(): pass',
    ],
)
def test_missing_docstring_is_found(text):
    assert len(complaints(missing_docstrings, text)) == 1


@pytest.mark.parametrize(
    "text",
    [
        '"""M."""\ndef _f(): pass',
        '"""M."""\nclass _A:\n    def m(self): pass',
        '"""M."""\nclass A:\n    """A."""\n    def __len__(self): pass',
        '"""M."""\n@overload\ndef f(): ...',
        '"""M."""\ndef f():\n    """F."""\n    def inner(): pass',
    ],
)
def test_private_things_need_none(text):
    assert complaints(missing_docstrings, text) == []


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("current : float [A]", "amperes : float [A]", "Parameters names amperes"),
        ("    size\n        As stamped.\n", "", "size is not under Parameters"),
        ("float [A]", "float", "current is a number without a unit"),
        ("Each run [m].", "Each run.", "lengths is a number without a unit"),
        ("float [A]", "float [amps]", "[amps] is no unit"),
        ("float [V]", "float", "returns a number without a unit"),
        ("Returns\n    -------\n", "", "has no Returns section"),
        ('__all__ = ["drop"]\n', "", "unlisted: current is not under Parameters"),
    ],
)
def test_fault_in_parameters_is_found(old, new, word):
    found = complaints(parameter_faults, changed(old, new))
    assert any(word in complaint for complaint in found), found


@pytest.mark.parametrize(
    "annotation", ["float | None", "tuple[float, ...]", "Mapping[str, float]", "FloatArray"]
)
def test_numbers_need_a_unit(annotation):
    text = changed("current: float", f"current: {annotation}").replace("float [A]", "number")
    assert len(complaints(parameter_faults, text)) == 1


@pytest.mark.parametrize("annotation", ["int", "str", "float | str", "Callable[[float], float]"])
def test_other_things_need_none(annotation):
    text = changed("current: float", f"current: {annotation}").replace("float [A]", "other")
    assert complaints(parameter_faults, text) == []


def test_function_that_a_package_lists_is_offered():
    bare = '"""M."""\n__all__ = []\ndef drop(current: int) -> None:\n    """Drop."""'
    listing = 'from loomlore.sizing.drop import drop\n__all__ = ["drop"]'
    assert list(parameter_faults(modules_of(sizing__drop=bare))) == []
    assert len(list(parameter_faults(modules_of(sizing__drop=bare, sizing=listing)))) == 1


def test_command_keeps_its_docstring_for_its_user():
    text = '"""M."""\n@main.command("check")\ndef check(folder: str) -> None:\n    """Find what is wrong."""'
    assert complaints(parameter_faults, text) == []
    assert len(complaints(parameter_faults, text.replace('@main.command("check")\n', ""))) == 1


@pytest.mark.parametrize(
    ("old", "new"),
    [("[handbook-7]", "[handbook-8]"), ("[handbook-7 table 3]", "[handbook-7 page 3]")],
    ids=["no such document", "no such clause"],
)
def test_false_citation_is_found(old, new):
    assert len(complaints(citation_faults, changed(old, new), DOCUMENTS)) == 1


def test_sections_and_entries():
    parts = sections(
        "F.\n\n    Parameters\n    ----------\n    a, b : int\n        Words.\n\n    Notes\n    -----\n    N."
    )
    assert parts == {"Parameters": "a, b : int\n    Words.", "Notes": "N."}
    assert list(entries(parts["Parameters"])) == ["a", "b"]


@pytest.mark.parametrize(
    "text", ["V", "ohm/m", "1", "1/h", "mm2", "A^2 s", "A²·s", "K^-1", "lb/in2", "rev/min"]
)
def test_unit(text):
    assert is_unit(text)


@pytest.mark.parametrize("text", ["amps", "V/furlong", "str", "", "12", "mm9x", "handbook-7 table 3"])
def test_no_unit(text):
    assert not is_unit(text)
