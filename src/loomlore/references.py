"""Where a figure comes from: documents, clauses, and the working that led to a number.

Invariants: a :class:`Citation` always names a document that stands in ``references.toml`` and a clause of
the form that document has; a :class:`Working` always says its formula, its inputs, its source and how well
that source is known. An input that was itself worked out carries its own working, so that the question "how
did this number come" has an answer down to the printed tables::

    voltage drop 0.8584 V = I L r f
      I = 1 A, L = 20 m
      r = 0.04292 ohm/m  <-  resistance per metre = ... <- IEC 60028
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Literal, get_args

from loomlore.findings import LoomloreError, UnknownName

__all__ = [
    "Citation",
    "Document",
    "Input",
    "OutOfRange",
    "Status",
    "UnfitClause",
    "Working",
    "citation",
    "citations_in",
    "documents",
    "status_of_row",
    "weakest",
]

Status = Literal["read", "transcribed", "computed", "practice", "memory"]
"""How well a figure is known, best first."""

_ORDER: tuple[Status, ...] = get_args(Status)

_WORDS: Mapping[Status, str] = MappingProxyType(
    {
        "read": "read in the document",
        "transcribed": "from a transcription of the document",
        "computed": "worked out here",
        "practice": "common practice, no source",
        "memory": "from memory: check the print before leaning on it",
    }
)

_SOURCE_SECTION = re.compile(
    r"^[ \t]*Source\n[ \t]*-{3,}\n(?P<body>.*?)(?=\n[ \t]*[A-Z][A-Za-z ]+\n[ \t]*-{3,}\n|\Z)",
    re.MULTILINE | re.DOTALL,
)
_CITED = re.compile(r"\[(?P<key>[a-z0-9][a-z0-9.-]*)(?: (?P<clause>[^\]\n]+))?\]")


class UnfitClause(UnknownName):
    """A clause that the cited document cannot have; the message says how its clauses are written."""

    def __init__(self, document: Document, clause: str) -> None:
        examples = (document.example,) if document.example else ()
        super().__init__(f"clause of {document.short}", clause, examples)
        like = f"write it like {document.example!r}" if examples else "cite it without one"
        self.args = (f"{document.short} has no clause {clause!r}; {like}",)


class OutOfRange(LoomloreError, ValueError):
    """A figure was asked for outside what its source covers; ``low`` and ``high`` are the source's ends."""

    def __init__(self, what: str, value: float, *, low: float, high: float, unit: str, source: str) -> None:
        self.what = what
        self.value = value
        self.low = low
        self.high = high
        super().__init__(
            f"{what} {_shown(value, unit)} is outside what {source} covers: "
            f"{_shown(low, unit)} to {_shown(high, unit)}"
        )


@dataclass(frozen=True, slots=True)
class Document:
    """One document that figures are taken from; ``clause`` is the pattern of its clauses."""

    key: str
    title: str
    short: str
    issuer: str
    edition: str
    clause: str
    example: str
    status: Status
    note: str = ""


@dataclass(frozen=True, slots=True)
class Citation:
    """One place in one document."""

    document: Document
    clause: str = ""

    def __str__(self) -> str:
        return f"{self.document.short}, {self.clause}" if self.clause else self.document.short

    @property
    def full(self) -> str:
        """Issuer, title, edition and clause, as a book's list of sources prints them."""
        parts = (self.document.issuer, self.document.title, self.document.edition, self.clause)
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class Input:
    """One quantity that went into a working; ``working`` where it was itself worked out."""

    symbol: str
    value: float | str
    unit: str = ""
    working: Working | None = None

    def __str__(self) -> str:
        return f"{self.symbol} = {_shown(self.value, self.unit)}"


@dataclass(frozen=True, slots=True)
class Working:
    """A number and how it came: formula, inputs, source, and how well the source is known."""

    quantity: str
    value: float
    unit: str
    formula: str
    inputs: tuple[Input, ...]
    source: Citation
    status: Status = "read"
    note: str = ""

    @property
    def weakest_status(self) -> Status:
        """The lowest status among this working and all that it leans on."""
        below = (entry.working.weakest_status for entry in self.inputs if entry.working is not None)
        return weakest(self.status, *below)

    def lines(self, *, indent: str = "") -> tuple[str, ...]:
        """The whole working as plain lines of text, each deeper step indented by two.

        Parameters
        ----------
        indent
            What stands before each line.

        Returns
        -------
        tuple of str
            The result with its formula, its inputs, its source; then the steps below it.
        """
        head = f"{indent}{self.quantity}: {_shown(self.value, self.unit)}, from {self.formula}"
        plain = ", ".join(str(entry) for entry in self.inputs)
        known = f"{indent}  source: {self.source} ({_WORDS[self.status]})"
        below = (
            line
            for entry in self.inputs
            if entry.working
            for line in entry.working.lines(indent=indent + "  ")
        )
        noted = (f"{indent}  note: {self.note}",) if self.note else ()
        return (head, *((f"{indent}  with {plain}",) if plain else ()), known, *noted, *below)

    def __str__(self) -> str:
        return "\n".join(self.lines())


def _shown(value: float | str, unit: str) -> str:
    text = value if isinstance(value, str) else f"{value:.4g}"
    return f"{text} {unit}" if unit else text


def weakest(*statuses: Status) -> Status:
    """Return the lowest of some statuses.

    Parameters
    ----------
    *statuses
        One or more.

    Returns
    -------
    str
        The one that stands last in the order read, transcribed, computed, practice, memory.

    Examples
    --------
    >>> weakest("read", "memory", "computed")
    'memory'
    """
    return max(statuses, key=_ORDER.index)


def status_of_row(text: str) -> Status:
    """Return the status that a table's row carries in its first word.

    Parameters
    ----------
    text
        The cell of the status column, such as ``memory: agrees with Preece``.

    Returns
    -------
    str
        One of the five statuses.

    Raises
    ------
    UnknownName
        Where the first word is none of them.

    Examples
    --------
    >>> status_of_row("memory: agrees with Preece within 14 %")
    'memory'
    """
    word = re.match(r"\w*", text.strip())
    for status in _ORDER:
        if word is not None and word.group() == status:
            return status
    raise UnknownName("status of a figure", text, _ORDER)


@cache
def documents() -> Mapping[str, Document]:
    """Return every document cited, by its key.

    Returns
    -------
    Mapping of str to Document
        In the order of ``references.toml``.
    """
    text = Path(__file__).with_name("references.toml").read_text(encoding="utf-8")
    listed = tomllib.loads(text)
    return MappingProxyType({key: Document(key=key, **entry) for key, entry in listed.items()})


@cache
def citation(key: str, clause: str = "") -> Citation:
    """Return the citation of one clause of a known document.

    Parameters
    ----------
    key
        The document's key in ``references.toml``.
    clause
        The clause, in the form that the document has, or nothing where the whole is meant.

    Returns
    -------
    Citation
        Prints as the document's short name and the clause.

    Raises
    ------
    UnknownName
        Where no document has that key, or the document can have no such clause.

    Examples
    --------
    >>> str(citation("ac43.13-1b", "table 11-9"))
    'AC 43.13-1B, table 11-9'
    """
    document = documents().get(key)
    if document is None:
        raise UnknownName("document", key, documents())
    if not re.fullmatch(document.clause, clause):
        raise UnfitClause(document, clause)
    return Citation(document, clause)


def citations_in(docstring: str) -> tuple[tuple[str, str], ...]:
    r"""Return the keys and clauses that a docstring's Source section cites.

    Parameters
    ----------
    docstring
        A docstring, indented or not.

    Returns
    -------
    tuple of (str, str)
        Key and clause of each ``[key clause]``, as written, whether they resolve or not.

    Examples
    --------
    >>> citations_in("Drop.\n\nSource\n------\n[ac43.13-1b table 11-6], [common-practice]")
    (('ac43.13-1b', 'table 11-6'), ('common-practice', ''))
    """
    section = _SOURCE_SECTION.search(docstring)
    if section is None:
        return ()
    return tuple((found["key"], found["clause"] or "") for found in _CITED.finditer(section["body"]))
