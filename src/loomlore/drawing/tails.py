"""What of a cable is left outside its loom: the tail at either end, in millimetres, and how it is laid on a board.

A cable's whole length is the record's, the same that sizing judges by. The legs it lies in are taken off it; what
is left are its two tails. Each has first what it needs from its place of the route to what it goes to (the
straight distance times the usual detour, nothing where that stands at the very place), and of the rest one half.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist, hypot

from loomlore.drawing.looms import leaves, leg_lengths
from loomlore.drawing.scene import Point
from loomlore.record.installation import Installation
from loomlore.record.lengths import DETOUR, cable_length, end_place, end_position
from loomlore.record.model import Loom

__all__ = ["Laid", "Tail", "cable_tails", "laid_tail"]

RISE = 20.0  # from the trunk to where a tail stands upright [mm]
NAIL = 80.0  # from the trunk to the nail round which a long tail is folded [mm]
STRAIGHT = 108.0  # a tail whose tag lies along it may reach this far from the trunk [mm]
FOOT = 4.0  # from where a tail stands upright to the nail round which it goes out again [mm]
LANE = 1.7  # between a folded tail's stretches [mm]
CLEAR = 6.0  # of a folded tail's cut from the next nail [mm]


@dataclass(frozen=True, slots=True)
class Tail:
    """One end of a cable outside its loom: its length [mm] and the cable's whole length [m]; None: not known."""

    length: float | None
    whole: float | None
    estimated: bool = False


def cable_tails(joined: Installation, loom: Loom) -> dict[tuple[str, str], Tail]:
    """Return the tails of every cable that lies along a loom.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    loom : Loom
        The loom.

    Returns
    -------
    dict of (str, str) to Tail
        By cable and end, ``item.terminal``; a tail less than nothing is what the length falls short of its legs.
    """
    dossier = joined.dossier
    stops: dict[str, list[tuple[int, str]]] = {}
    for n, many in enumerate(leaves(joined, loom).values()):
        for cable, end in many:
            stops.setdefault(cable.id, []).append((n, end))
    found: dict[tuple[str, str], Tail] = {}
    legs = leg_lengths(loom)
    for name, ends in stops.items():
        known = cable_length(dossier.cables[name], dossier)
        between = legs[ends[0][0] : ends[-1][0]]
        whole = known.quantity.value if known is not None else None
        if whole is None or None in between:
            found |= {(name, end): Tail(None, whole) for _, end in ends}
            continue
        needs = [_need(joined, loom, n, end) for n, end in ends]
        spare = 1000.0 * whole - sum(leg for leg in between if leg is not None)
        lengths = _shared(spare, needs)
        estimated = bool(known and known.estimated) or any(needs)
        found |= {
            (name, end): Tail(long, whole, estimated) for (_, end), long in zip(ends, lengths, strict=True)
        }
    return found


def _need(joined: Installation, loom: Loom, stop: int, end: str) -> float:
    """From the place of the route to what the end goes to [mm]; 0 at the very place or where nobody knows."""
    place, at = loom.route[stop], end_position(end, joined.dossier)
    spot = joined.dossier.places.get(place)
    if end_place(end, joined.dossier) == place or at is None or spot is None or spot.at is None:
        return 0.0
    return 1000.0 * DETOUR * dist(at, spot.at)


def _shared(spare: float, needs: Sequence[float]) -> list[float]:
    rest = spare - sum(needs)
    if rest >= 0.0 or not sum(needs):
        return [need + rest / len(needs) for need in needs]
    return [max(spare, 0.0) * need / sum(needs) for need in needs]


# ---------------------------------------------------------------- on the board


@dataclass(frozen=True, slots=True)
class Laid:
    """A tail as it lies: its line from the trunk to the cut, the nails it is folded round, where its tag begins.

    ``whole`` is false where the line is broken off: the tail is longer than the board has room for.
    """

    line: tuple[Point, ...]
    nails: tuple[Point, ...]
    tag: float
    whole: bool

    @property
    def drawn(self) -> float:
        """Length of the line [mm]."""
        return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(self.line))


def laid_tail(length: float, aside: float, *, tag: float, pitch: float, rise: float = RISE) -> Laid:
    """Lay a tail out at full size, from the trunk at 0, 0; y counts away from the trunk.

    Parameters
    ----------
    length : float
        Of the tail [mm].
    aside : float
        Where its column of the comb stands [mm].
    tag : float
        Length of its tag [mm].
    pitch : float
        Room of its column [mm].
    rise : float
        How far from the trunk it stands upright [mm].

    Returns
    -------
    Laid
        Straight where there is room, else folded to and fro, else broken off at the first nail.
    """
    slant = hypot(aside, rise)
    if length <= slant + 4.0:
        share = max(length, 0.0) / slant
        return Laid(((0.0, 0.0), (aside * share, rise * share)), (), rise + 8.0, whole=True)
    upright = length - slant
    if upright >= tag + 6.0 and rise + upright <= STRAIGHT:
        return Laid(
            ((0.0, 0.0), (aside, rise), (aside, rise + upright)), (), rise + upright - 3.0 - tag, whole=True
        )
    if rise + upright <= NAIL:
        return Laid(
            ((0.0, 0.0), (aside, rise), (aside, rise + upright)), (), rise + upright + 3.0, whole=True
        )
    return _folded(upright, aside, pitch=pitch, rise=rise)


def _folded(upright: float, aside: float, *, pitch: float, rise: float) -> Laid:
    """Fold a tail to and fro between a nail at its head and one above the trunk, in lanes beside one another.

    The stretches are as many as it takes and alike, the last a little shorter, so that the cut stands clear of a
    nail. A step from lane to lane is cable as well, so it counts.
    """
    for lanes in range(2, int((pitch - 1.6) / LANE) + 2):
        # upright = first + (lanes - 1) * (first - FOOT + LANE) - CLEAR
        first = (upright + (lanes - 1) * (FOOT - LANE) + CLEAR) / lanes
        if rise + first <= NAIL:
            break
    else:
        return Laid(((0.0, 0.0), (aside, rise), (aside, NAIL)), (), NAIL + 4.0, whole=False)
    low, high = rise + FOOT, rise + first
    points, nails = [(0.0, 0.0), (aside, rise), (aside, high)], []
    for lane in range(1, lanes):
        x, outward = aside + LANE * lane, lane % 2 == 0
        start, end = (low, high) if outward else (high, low)
        nails.append((x - LANE / 2, start))
        stop = 0.0 if lane + 1 < lanes else CLEAR
        points += [(x, start), (x, end - stop if outward else end + stop)]
    return Laid(tuple(points), tuple(nails), high + 4.0, whole=True)
