"""How long a cable is, and how that is known.

In order: the length that is written; that of its sheath; the legs of the loom it lies along, with the
dossier's allowance at each end; else the straight distance between its ends times 1.3. The last is an
estimate and says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from loomlore.quantities import Quantity, as_written
from loomlore.record.model import AIRFRAME, Cable, Dossier, Loom

__all__ = [
    "DETOUR",
    "LONGEST_DETOUR",
    "Length",
    "cable_length",
    "distance_apart",
    "end_place",
    "end_position",
]

DETOUR = 1.3
"""A run over the straight distance between its ends: common practice, no source."""

LONGEST_DETOUR = 1.6
"""The worse end of an estimated run, for sizing: common practice, no source. The better end is the straight
distance itself, which no cable can undercut."""

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Length:
    """A cable's length [m] and how it came: ``how`` is given, sheath, loom or straight.

    ``estimated`` says that a straight distance is in it; ``explanation`` says it in words.
    """

    quantity: Quantity
    how: str
    explanation: str
    estimated: bool = False


def cable_length(cable: Cable, dossier: Dossier) -> Length | None:
    """How long a cable is.

    Parameters
    ----------
    cable
        Any cable of the dossier.
    dossier
        Where its ends, its loom and its sheath stand.

    Returns
    -------
    Length or None
        None where nothing is known: not even where its ends are.
    """
    if cable.length is not None:
        return Length(cable.length, "given", "as written", cable.length.assumed)
    sheath = dossier.sheaths.get(cable.core.partition(".")[0]) if cable.core else None
    if sheath is not None and sheath.length is not None:
        return Length(sheath.length, "sheath", f"that of sheath {sheath.id}", sheath.length.assumed)
    along = cable.along or (sheath.along if sheath else "")
    loom = dossier.looms.get(along)
    if loom is not None:
        routed = _along(cable, loom, dossier)
        if routed is not None:
            return routed
    return _straight(cable, dossier)


def end_place(end: str, dossier: Dossier) -> str:
    """The place in which a cable's end is.

    Parameters
    ----------
    end
        ``item.terminal``, ``earth.bolt`` or ``earth``.
    dossier
        Any dossier.

    Returns
    -------
    str
        The place's id, or "" where none is written.
    """
    item, _, terminal = end.partition(".")
    if item == AIRFRAME:
        bolt = dossier.earths.get(terminal)
        return bolt.place if bolt else ""
    found = dossier.items.get(item)
    return found.place if found else ""


def end_position(end: str, dossier: Dossier) -> Point | None:
    """Where a cable's end is, in metres aft, to starboard and up.

    Parameters
    ----------
    end
        ``item.terminal``, ``earth.bolt`` or ``earth``.
    dossier
        Any dossier.

    Returns
    -------
    tuple of float or None
        Shape (3,) [m]; None where it is not known.
    """
    found = dossier.items.get(end.partition(".")[0])
    if found is not None and found.at is not None:
        return found.at
    spot = dossier.places.get(end_place(end, dossier))
    return spot.at if spot else None


def distance_apart(cable: Cable, dossier: Dossier) -> float | None:
    """The straight distance between a cable's ends.

    Parameters
    ----------
    cable
        Any cable.
    dossier
        Where its ends are.

    Returns
    -------
    float or None
        Distance [m]; None where an end's position is not known.
    """
    here, there = end_position(cable.from_, dossier), end_position(cable.to, dossier)
    return None if here is None or there is None else math.dist(here, there)


def _straight(cable: Cable, dossier: Dossier) -> Length | None:
    distance = distance_apart(cable, dossier)
    if not distance:
        return None
    words = f"straight distance {as_written(distance, 'length')} x {DETOUR}"
    return Length(_estimate(distance), "straight", words, estimated=True)


def _estimate(distance: float) -> Quantity:
    value = DETOUR * distance
    return Quantity(
        value, distance, LONGEST_DETOUR * distance, "length", as_written(value, "length"), assumed=True
    )


def _sum(parts: Sequence[Quantity]) -> Quantity:
    value = math.fsum(p.value for p in parts)
    low, high = math.fsum(p.low for p in parts), math.fsum(p.high for p in parts)
    assumed = any(p.assumed for p in parts)
    return Quantity(value, low, high, "length", as_written(value, "length"), assumed)


@dataclass(frozen=True, slots=True)
class _Entry:
    """Where a cable joins its loom: at which place of the route, and how long its tail to there is."""

    index: int
    tail: Quantity | None


def _along(cable: Cable, loom: Loom, dossier: Dossier) -> Length | None:
    first, last = (_entry(end, loom, dossier) for end in (cable.from_, cable.to))
    if first is None or last is None:
        return None
    legs = _legs(loom, dossier)
    between = legs[min(first.index, last.index) : max(first.index, last.index)]
    parts = [leg for leg in between if leg is not None]
    if len(parts) < len(between):
        return None
    tails = [entry.tail for entry in (first, last) if entry.tail is not None]
    allowance = [dossier.header.allowance] * 2 if dossier.header.allowance else []
    if not (parts or tails or allowance):
        return None
    total = _sum([*parts, *tails, *allowance])
    guessed = bool(tails) or not _measured(loom)
    words = f"along {loom.id}, {len(parts)} legs" + (", allowance at both ends" if allowance else "")
    words += f", straight distances x {DETOUR} in it" if guessed else ""
    return Length(total, "loom", words, estimated=guessed)


def _measured(loom: Loom) -> bool:
    return len(loom.legs) == len(loom.route) - 1


def _legs(loom: Loom, dossier: Dossier) -> list[Quantity | None]:
    if _measured(loom):
        return list(loom.legs)
    spots = [dossier.places.get(name) for name in loom.route]
    positions = [spot.at if spot else None for spot in spots]
    return [_estimate(math.dist(a, b)) if a and b else None for a, b in pairwise(positions)]


def _entry(end: str, loom: Loom, dossier: Dossier) -> _Entry | None:
    """At the end's own place where the route goes through it, else at the nearest place of the route."""
    place = end_place(end, dossier)
    if place in loom.route:
        return _Entry(loom.route.index(place), None)
    here = end_position(end, dossier)
    if here is None:
        return None
    known = [(i, s.at) for i, n in enumerate(loom.route) if (s := dossier.places.get(n)) and s.at]
    if not known:
        return None
    index, there = min(known, key=lambda pair: math.dist(here, pair[1]))
    return _Entry(index, _estimate(math.dist(here, there)))
