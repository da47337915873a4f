"""Outlines of a craft as lines in metres, and whether a place lies within them.

An outline is typed point by point from a general-arrangement drawing. A mirrored half whose ends both lie on
the centre line becomes one closed line; any other (a wing, a float) is drawn once on either side.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from loomlore.quantities import UNITS, Quantity
from loomlore.record.model import Outline

__all__ = ["ON_CENTRE", "Stretch", "clearance", "crossing_of", "outline_stretches"]

Point = tuple[float, float]

ON_CENTRE = 0.02
"""Nearer than this to the centre line a point is taken to lie on it [m]: what a drawing can be read to."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One line of an outline: points [m], aft and up or aft and to starboard; whether it closes."""

    points: tuple[Point, ...]
    closed: bool


def outline_stretches(outline: Outline) -> tuple[Stretch, ...]:
    """The lines of an outline in metres, mirrored where one half was typed.

    Parameters
    ----------
    outline
        As typed.

    Returns
    -------
    tuple of Stretch
        One line, or two where a half does not close on the centre line.

    Examples
    --------
    >>> half = Outline(id="hull", view="plan", unit="m", mirrored=True, points=((0.0, 0.0), (2.0, 1.0), (4.0, 0.0)))
    >>> outline_stretches(half)[0].points
    ((0.0, 0.0), (2.0, 1.0), (4.0, 0.0), (2.0, -1.0))
    """
    factor = UNITS.get(outline.unit, (1.0, ""))[0]
    half = tuple((_metres(x, factor), _metres(y, factor)) for x, y in outline.points)
    if len(half) > 2 and half[0] == half[-1]:
        half = half[:-1]
    if not outline.mirrored or outline.view != "plan" or not half:
        return (Stretch(half, not outline.line),)
    other = tuple((x, -y) for x, y in half)
    ends_on_centre = abs(half[0][1]) <= ON_CENTRE and abs(half[-1][1]) <= ON_CENTRE
    if ends_on_centre and not outline.line:
        return (Stretch((*half, *reversed(other[1:-1])), closed=True),)
    return Stretch(half, not outline.line), Stretch(other, not outline.line)


def _metres(end: float | Quantity, factor: float) -> float:
    return end.value if isinstance(end, Quantity) else end * factor


def clearance(point: Point, stretches: Iterable[Stretch]) -> float:
    """How far a point lies outside all of some lines.

    Parameters
    ----------
    point
        Where [m].
    stretches
        Lines of one view.

    Returns
    -------
    float
        Distance to the nearest line [m]; 0 within a closed one; infinite where there are no lines.
    """
    found = math.inf
    for stretch in stretches:
        if stretch.closed and _inside(point, stretch.points):
            return 0.0
        found = min(found, *(_distance(point, a, b) for a, b in _sides(stretch)), math.inf)
    return found


def _sides(stretch: Stretch) -> list[tuple[Point, Point]]:
    points = (*stretch.points, stretch.points[0]) if stretch.closed and stretch.points else stretch.points
    return list(pairwise(points))


def _inside(point: Point, corners: Sequence[Point]) -> bool:
    """Count the sides that a ray to the right crosses: an odd number is within."""
    x, y = point
    within = False
    for (ax, ay), (bx, by) in zip(corners, (*corners[1:], corners[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            within = not within
    return within


def _distance(point: Point, a: Point, b: Point) -> float:
    (x, y), (dx, dy) = point, (b[0] - a[0], b[1] - a[1])
    long = dx * dx + dy * dy
    share = 0.0 if long == 0.0 else max(0.0, min(1.0, ((x - a[0]) * dx + (y - a[1]) * dy) / long))
    return math.hypot(x - a[0] - share * dx, y - a[1] - share * dy)


def crossing_of(stretch: Stretch) -> tuple[int, int] | None:
    """The first two sides of a line that cross one another: a figure slipped, or points out of order.

    Parameters
    ----------
    stretch
        A line of an outline.

    Returns
    -------
    tuple of int or None
        Numbers from 1 of the points at which the two sides begin.
    """
    sides = _sides(stretch)
    for n, one in enumerate(sides):
        for m in range(n + 2, len(sides)):
            if not (stretch.closed and n == 0 and m == len(sides) - 1) and _cross(one, sides[m]):
                return n + 1, m + 1
    return None


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    (a, b), (c, d) = one, other
    return _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
