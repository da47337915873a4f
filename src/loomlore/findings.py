"""What is wrong in the user's material is a value, a :class:`Finding`; exceptions are for callers.

The tree of exceptions::

    LoomloreError
    ├── UnreadableValue (ValueError)   a text that is no value of the asked kind
    ├── UnknownName (LookupError)      a caller named something that the record does not hold
    ├── UnfitRecord (ValueError)       the record has errors that stop what was asked; carries them
    ├── NoCluster (ConnectionError)    other machines cannot be reached, or do not agree
    └── RefusedEdit (RuntimeError)     the text changed under an edit, or could not be saved
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import IntEnum

__all__ = [
    "Finding",
    "LoomloreError",
    "NoCluster",
    "Place",
    "RefusedEdit",
    "Severity",
    "UnfitRecord",
    "UnknownName",
    "UnreadableValue",
    "in_order",
    "nearest",
]


class Severity(IntEnum):
    """How much a finding matters; errors make a command end with exit code 1."""

    NOTE = 0
    WARNING = 1
    ERROR = 2

    @property
    def word(self) -> str:
        """The severity as it is printed."""
        return self.name.lower()


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where in the text of a dossier: file relative to its folder, line and column from 1 (0: unknown)."""

    file: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        parts = [self.file or "?"]
        if self.line:
            parts.append(str(self.line))
            if self.column:
                parts.append(str(self.column))
        return ":".join(parts)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong or doubtful: which rule, how grave, where, what, and what to do about it.

    ``subject`` names the thing concerned (``item horn``), so that findings that only follow from a
    broken line can be silenced and the bench can put a mark beside it.
    """

    rule: str
    severity: Severity
    place: Place
    message: str
    hint: str
    subject: str = ""
    also_at: tuple[Place, ...] = field(default=())

    def __str__(self) -> str:
        return f"{self.place}: {self.severity.word}: {self.message} {self.hint} [{self.rule}]"


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Put findings in the order of the text, the graver first on one line, each once.

    Parameters
    ----------
    findings
        Any findings.

    Returns
    -------
    tuple of Finding
        Sorted by place, then severity, then rule.
    """
    unique = dict.fromkeys(findings)
    return tuple(sorted(unique, key=lambda f: (f.place, -f.severity, f.rule, f.message)))


def nearest(word: str, words: Iterable[str], *, cutoff: float = 0.6) -> str | None:
    """Return the word most like ``word``, or None where none is like it.

    Parameters
    ----------
    word
        What was written.
    words
        What might have been meant.
    cutoff
        How alike it must at least be [1].

    Returns
    -------
    str or None
        The nearest word; upper and lower case count as alike.
    """
    by_folded: dict[str, str] = {}
    for candidate in words:
        by_folded.setdefault(candidate.casefold(), candidate)
    found = get_close_matches(word.casefold(), by_folded, n=1, cutoff=cutoff)
    return by_folded[found[0]] if found else None


class LoomloreError(Exception):
    """Base of all exceptions that this package raises on purpose."""


class UnreadableValue(LoomloreError, ValueError):
    """A text is no value of the asked kind; ``hint`` says what to write instead."""

    def __init__(self, message: str, hint: str, *, column: int = 0) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.column = column

    def __str__(self) -> str:
        stop = "" if self.message.endswith((".", "?", "!", ":")) else "."
        return f"{self.message}{stop} {self.hint}"


class UnknownName(LoomloreError, LookupError):
    """A caller named something that is not there; ``nearest`` is what may have been meant."""

    SHOWN = 12

    def __init__(self, what: str, name: str, candidates: Iterable[str] = ()) -> None:
        self.what = what
        self.name = name
        known = list(dict.fromkeys(candidates))
        self.nearest = nearest(name, known)
        more = f"; did you mean {self.nearest!r}?" if self.nearest else ""
        if known and not more:
            some = ", ".join(known[: self.SHOWN])
            rest = len(known) - self.SHOWN
            more = f". Write one of: {some}{f' and {rest} more' if rest > 0 else ''}."
        super().__init__(f"no {what} is called {name!r}{more}")


class UnfitRecord(LoomloreError, ValueError):
    """The record has errors that stop what was asked; ``findings`` holds them."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = in_order(findings)
        super().__init__("; ".join(str(f) for f in self.findings[:3]) or "the record cannot be used")


class NoCluster(LoomloreError, ConnectionError):
    """Work was to be shared out among other machines, and they cannot be reached or do not agree."""


class RefusedEdit(LoomloreError, RuntimeError):
    """An edit was not carried out; nothing was written."""
