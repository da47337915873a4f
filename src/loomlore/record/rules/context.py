"""What the rules look at, and when they keep quiet."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from loomlore.record.equipment import Element, Equipment
from loomlore.record.installation import Installation
from loomlore.record.model import AIRFRAME, Dossier
from loomlore.record.remarks import Remarks
from loomlore.sentences import Sentence

__all__ = ["Context", "split_end"]


@dataclass(frozen=True)
class Context:
    """One standard of fit under examination.

    ``broken`` are subjects (``item horn``) of which something is reported already, ``touched`` the words that
    broken lines speak of. ``first`` says that no other standard was examined before: what does not change
    with the fits is judged only then. ``settled`` are tests that some standard could place, ``placed``
    sentences of which it could place all; ``doubtful`` are ends, items and cables that a wrong end may have meant.
    """

    installation: Installation
    remarks: Remarks
    broken: frozenset[str] = frozenset()
    touched: frozenset[str] = frozenset()
    first: bool = True
    settled: set[tuple[str, str]] = field(default_factory=set)
    placed: dict[str, Sentence] = field(default_factory=dict)
    doubtful: set[str] = field(default_factory=set)

    @property
    def dossier(self) -> Dossier:
        """What is fitted."""
        return self.installation.dossier

    @property
    def whole(self) -> Dossier:
        """The record before the fits."""
        return self.installation.whole

    def excused(self, name: str) -> bool:
        """Whether a name may only seem to be missing, because a broken line speaks of it."""
        return name in self.touched or any(subject.partition(" ")[2] == name for subject in self.broken)

    @cached_property
    def elements(self) -> tuple[tuple[Equipment, Element, str, str], ...]:
        """Every element with its item and the nodes of its ends; four rules ask for them."""
        return tuple(
            (parts, element, *nodes_of(parts, element.ends))
            for parts in self.installation.equipment.values()
            for element in parts.elements.values()
        )

    @cached_property
    def cabled(self) -> frozenset[str]:
        """Every end of a fitted cable."""
        return frozenset(end for cable in self.dossier.cables.values() for end in (cable.from_, cable.to))

    @cached_property
    def cabled_ever(self) -> frozenset[str]:
        """Every end of a cable in any fit."""
        return frozenset(end for cable in self.whole.cables.values() for end in (cable.from_, cable.to))

    @cached_property
    def varying(self) -> frozenset[str]:
        """Ids of items and cables that some fit adds, changes or takes away."""
        names = {
            n
            for table in (self.whole.items, self.whole.cables)
            for n, t in table.items()
            if t.fit is not None
        }
        for fit in (*self.whole.fits.values(), *self.whole.modifications.values()):
            names.update(fit.change)
            names.update(fit.removes)
        services = {n for n, s in self.whole.services.items() if s.fit is not None}
        names.update(n for n, c in self.whole.cables.items() if c.service in services)
        return frozenset(names)

    def due(self, *names: str) -> bool:
        """Whether something about these ids is to be judged in this standard."""
        return self.first or not self.varying.isdisjoint(names)


def nodes_of(parts: Equipment, ends: tuple[str, str]) -> tuple[str, str]:
    """The nodes of two ends inside an item.

    Parameters
    ----------
    parts
        The item.
    ends
        As its kind has them.

    Returns
    -------
    tuple of str
        With the item's id before them; the airframe is the airframe.
    """
    first, second = ends
    item = parts.item.id
    return (
        first if first == AIRFRAME else f"{item}.{first}",
        second if second == AIRFRAME else f"{item}.{second}",
    )


ENDS = 8192
"""Ends of which it is remembered what they are: each rule asks it of every cable, in every standard of fit."""


@lru_cache(maxsize=ENDS)
def split_end(end: str) -> tuple[str, str]:
    """The item and the terminal of a cable's end; the airframe has the terminal "".

    Parameters
    ----------
    end
        ``item.terminal``, ``earth`` or ``earth.bolt``.

    Returns
    -------
    tuple of str
        Item and terminal.

    Examples
    --------
    >>> split_end("horn.1"), split_end("earth")
    (('horn', '1'), ('earth', ''))
    """
    item, _, terminal = end.partition(".")
    return item, terminal


@lru_cache(maxsize=ENDS)
def is_earth(end: str) -> bool:
    """Whether an end is the airframe or a bolt to it.

    Parameters
    ----------
    end
        A cable's end.

    Returns
    -------
    bool
        True for ``earth`` and ``earth.bolt``.
    """
    return end == AIRFRAME or end.startswith(_BOLT)


_BOLT = f"{AIRFRAME}."
