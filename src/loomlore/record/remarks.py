"""What a rule says about a thing, gathered as findings at the place where the thing's key stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

from loomlore.findings import Finding, Place, Severity, nearest
from loomlore.record.model import Cable, Control, Fit, Item, Thing, Way
from loomlore.record.parts import Kind

__all__ = ["PlaceOf", "Remarks", "called", "meant", "subject_of"]


class PlaceOf(Protocol):
    """Says where a thing, or one of its keys, stands: a reading's ``place_of``."""

    def __call__(self, subject: str, key: str | None = None, *, into: int = 0) -> Place:
        """The place; an empty one for an unknown subject."""
        ...


_WORDS = {"Spot": "place", "Bolt": "earth"}


def subject_of(thing: Thing | Kind) -> str:
    """What a finding calls a thing: its table's word and its id.

    Parameters
    ----------
    thing
        Any thing of a dossier, or a kind.

    Returns
    -------
    str
        For instance ``item horn``.

    Examples
    --------
    >>> subject_of(Item(id="horn"))
    'item horn'
    """
    match thing:
        case Item():
            return f"item {thing.id}"
        case Cable():
            return f"cable {thing.id}"
        case Way():
            return f"way {thing.id}"
        case Control():
            return f"{'condition' if thing.world else 'control'} {thing.id}"
        case Fit():
            return f"{'modification' if thing.modification else 'fit'} {thing.id}"
        case _:
            name = type(thing).__name__
            if name == "Thing":
                return "dossier"  # the header is no thing; what is said of it needs one
            return f"{_WORDS.get(name, name.lower())} {thing.id}"


def called(thing: Thing | Kind) -> str:
    """A thing as a sentence begins with it.

    Parameters
    ----------
    thing
        Any thing of a dossier, or a kind.

    Returns
    -------
    str
        For instance ``Item 'horn'``.

    Examples
    --------
    >>> called(Item(id="horn"))
    "Item 'horn'"
    """
    word, _, name = subject_of(thing).partition(" ")
    return f"{word.capitalize()} {name!r}" if name else f"The {word}"


def meant(word: str, known: Iterable[str], *, none: str) -> str:
    """A hint: the nearest of some names, else all of them where they are few, else something else.

    Parameters
    ----------
    word
        What was written.
    known
        What could have been written.
    none
        The hint where there is nothing to offer.

    Returns
    -------
    str
        A sentence.

    Examples
    --------
    >>> meant("hron", ["horn", "lamp"], none="Add it.")
    "Did you mean 'horn'?"
    """
    names = tuple(dict.fromkeys(known))
    near = nearest(word, names)
    if near:
        return f"Did you mean {near!r}?"
    return f"There is: {', '.join(names)}." if 0 < len(names) <= 8 else none


@dataclass
class Remarks:
    """Findings as they gather. ``place_of`` finds keys; without it the thing's own line is named.

    ``unknown`` are the findings about names that stand for nothing, by the name.
    """

    place_of: PlaceOf | None = None
    findings: list[Finding] = field(default_factory=list)
    unknown: dict[str, list[Finding]] = field(default_factory=dict)

    def say(  # noqa: PLR0913  everything a finding has; all but three by keyword
        self,
        rule: str,
        thing: Thing | Kind,
        message: str,
        hint: str,
        *,
        key: str = "",
        into: int = 0,
        severity: Severity = Severity.ERROR,
        also: Iterable[Thing] = (),
        unknown: str = "",
    ) -> None:
        """Say something about a thing; ``key`` is where in it, ``into`` the column within a quoted value.

        ``unknown`` is the name that stands for nothing, where that is what is wrong.
        """
        subject = subject_of(thing)
        places = tuple(other.where for other in also)
        place = self.where(thing, subject, key, into)
        self.findings.append(Finding(rule, severity, place, message, hint, subject, places))
        if unknown:
            self.unknown.setdefault(unknown, []).append(self.findings[-1])

    def warn(
        self,
        rule: str,
        thing: Thing | Kind,
        message: str,
        hint: str,
        *,
        key: str = "",
        also: Iterable[Thing] = (),
    ) -> None:
        """Say something that does not make a record unfit."""
        self.say(rule, thing, message, hint, key=key, severity=Severity.WARNING, also=also)

    def note(self, rule: str, thing: Thing | Kind, message: str, hint: str, *, key: str = "") -> None:
        """Say something worth knowing."""
        self.say(rule, thing, message, hint, key=key, severity=Severity.NOTE)

    def where(self, thing: Thing | Kind, subject: str, key: str, into: int = 0) -> Place:
        """Where a key of a thing stands, or the thing itself."""
        if self.place_of is not None and key:
            found = self.place_of(subject, key, into=into)
            if found.line:
                return found
        return thing.where
