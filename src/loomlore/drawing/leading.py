"""Figures at leaders: a number for every spot of a view, set where it touches nothing.

The seats are a grid of free places round the drawing. Spots and seats are matched so that the leaders
together are as short as can be: of two leaders that cross, exchanging their ends is always shorter, so the
shortest matching has no crossings. A leader over another spot weighs as much as a long one; where one still
crosses another or runs over a number, that choice is made dearer and the matching made again.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot

import numpy as np
from scipy.optimize import linear_sum_assignment

from loomlore.drawing.scene import Box, Point

__all__ = ["Led", "Spot", "crossing", "led"]

_DOWN = 3.6  # from one seat to the next [mm]
_ACROSS = 4.2
_TALL = 2.0  # of a figure [mm]
_CLEAR = 0.9  # of a leader from another spot, or a number [mm]
_REACH = 46.0  # seats farther than this from every spot are not looked at [mm]
_ROUNDS = 150
_OVER = 60.0  # what running over another spot weighs [mm of leader]
_DEARER = 4.0  # what a choice that led to a crossing weighs more the next time [mm of leader]

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on paper [mm] and the figures that stand for it."""

    words: str
    at: Point
    wide: float


@dataclass(frozen=True, slots=True)
class Led:
    """A spot with its number's box and its leader, from the spot's rim to the box."""

    spot: Spot
    box: Box
    leader: tuple[Point, Point]


def led(spots: Sequence[Spot], field: Box, *, free: Callable[[Box], bool], rim: float = 0.8) -> list[Led]:
    """Seat a number for every spot.

    Parameters
    ----------
    spots : sequence of Spot
        None on another.
    field : Box
        Where numbers may stand [mm].
    free : callable
        Whether a number's box touches nothing that is drawn besides spots.
    rim : float
        From a spot's middle to where its leader begins [mm].

    Returns
    -------
    list of Led
        In the order of the spots.

    Raises
    ------
    ValueError
        Where the field has fewer seats than there are spots.
    """
    if not spots:
        return []
    widest = max(spot.wide for spot in spots)
    seats = _seats(spots, field, widest, free)
    if len(seats) < len(spots):
        raise ValueError("there is no room for the numbers round the drawing")
    every = [[_led(spot, seat, widest, rim) for seat in seats] for spot in spots]
    cost = _lengths(every) + _OVER * _run_over(spots, every)
    best: tuple[int, list[Led]] | None = None
    for _ in range(_ROUNDS):
        columns = _uncrossed(every, linear_sum_assignment(cost)[1].tolist())
        chosen = [row[column] for row, column in zip(every, columns, strict=True)]
        wrong = _wrong(chosen)
        if best is None or len(wrong) < best[0]:
            best = len(wrong), chosen
        if not wrong:
            break
        # The seat is made dearer for all: whoever has it stands in a way, or has to go through one.
        cost[:, [columns[n] for n in wrong]] += _DEARER
    assert best is not None
    return best[1]


def _uncrossed(every: Sequence[Sequence[Led]], columns: list[int]) -> list[int]:
    """Exchange the ends of leaders that cross: each exchange makes them shorter, so there is an end to it."""
    for _ in range(len(columns) ** 2):
        chosen = [row[column] for row, column in zip(every, columns, strict=True)]
        pairs = combinations(range(len(columns)), 2)
        pair = next(((n, m) for n, m in pairs if crossing(chosen[n].leader, chosen[m].leader)), None)
        if pair is None:
            break
        columns[pair[0]], columns[pair[1]] = columns[pair[1]], columns[pair[0]]
    return columns


def _lengths(every: Sequence[Sequence[Led]]) -> Floats:
    return np.array([[_far(one.spot.at, one.leader[1]) for one in row] for row in every])


def _run_over(spots: Sequence[Spot], every: Sequence[Sequence[Led]]) -> Floats:
    """How many other spots each possible leader runs over; shape (spots, seats)."""
    at = np.array([spot.at for spot in spots])
    ends = np.array([[one.leader[1] for one in row] for row in every])
    run = ends - at[:, None, :]
    long = np.maximum((run**2).sum(axis=2), 1e-12)
    over = np.zeros(long.shape)
    for k, other in enumerate(at):
        off = other - at
        share = np.clip((run * off[:, None, :]).sum(axis=2) / long, 0.0, 1.0)
        apart = np.hypot(*np.moveaxis(off[:, None, :] - share[..., None] * run, 2, 0))
        near = apart < _CLEAR
        near[k] = False
        over += near
    return over


def _seats(spots: Sequence[Spot], field: Box, wide: float, free: Callable[[Box], bool]) -> list[Point]:
    """The middles of boxes on a grid that are free, and clear of every spot."""
    across = max(_ACROSS, wide + 2.2)
    found: list[Point] = []
    for row in range(int((field.bottom - field.top) // _DOWN)):
        for column in range(int((field.right - field.left) // across)):
            at = (field.left + (column + 0.5) * across, field.top + (row + 0.5) * _DOWN)
            box = _box(at, wide)
            near = min(hypot(at[0] - spot.at[0], at[1] - spot.at[1]) for spot in spots)
            if near <= _REACH and not any(_holds(box.grown(1.0), spot.at) for spot in spots) and free(box):
                found.append(at)
    return found


def _box(at: Point, wide: float) -> Box:
    return Box(at[0] - wide / 2, at[1] - _TALL / 2, at[0] + wide / 2, at[1] + _TALL / 2)


def _holds(box: Box, at: Point) -> bool:
    return box.left < at[0] < box.right and box.top < at[1] < box.bottom


def _far(a: Point, b: Point) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def _led(spot: Spot, seat: Point, widest: float, rim: float) -> Led:
    """Set the number against that side of its seat on which its spot is."""
    x, y = spot.at
    spare = (widest - spot.wide) / 2
    middle = (seat[0] + (spare if x > seat[0] + spare else -spare if x < seat[0] - spare else 0.0), seat[1])
    box = _box(middle, spot.wide).grown(0.4)
    end = (min(max(x, box.left), box.right), min(max(y, box.top), box.bottom))
    # A leader goes to the middle of the nearest side, never to a corner: it then points at the figures.
    end = (middle[0], end[1]) if box.left < end[0] < box.right else (end[0], middle[1])
    away = max(_far(spot.at, end), 1e-6)
    start = (x + rim * (end[0] - x) / away, y + rim * (end[1] - y) / away)
    return Led(spot, box, (start, end))


def _wrong(chosen: Sequence[Led]) -> list[int]:
    """Those whose leader runs over another number, with that number; and of two that cross the longer."""
    found = set()
    for n, one in enumerate(chosen):
        for m, other in enumerate(chosen):
            if n != m and _cuts(one.leader, other.box.grown(0.3)):
                found |= {n, m}
            if m < n and crossing(one.leader, other.leader):
                found.add(max(n, m, key=lambda k: _far(*chosen[k].leader)))
    return sorted(found)


def _cuts(line: tuple[Point, Point], box: Box) -> bool:
    (ax, ay), (bx, by) = line
    low, high = 0.0, 1.0
    for start, run, first, last in ((ax, bx - ax, box.left, box.right), (ay, by - ay, box.top, box.bottom)):
        if abs(run) < 1e-9:
            if not first <= start <= last:
                return False
            continue
        ends = sorted(((first - start) / run, (last - start) / run))
        low, high = max(low, ends[0]), min(high, ends[1])
    return low <= high


def crossing(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """Tell whether two leaders cross.

    Parameters
    ----------
    one, other : pair of Point
        Their ends [mm].

    Returns
    -------
    bool
        False where they only touch.
    """
    (a, b), (c, d) = one, other
    return _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
