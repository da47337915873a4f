"""The shape of a craft on a plate: its outlines to scale, faired where the hand that drew them faired.

Points typed off a drawing lie on curves as often as on corners. Where a line turns gently it is drawn as a
smooth curve through its points, as along a spline; where it turns sharply it keeps its corner.
"""

from collections.abc import Sequence
from math import acos, degrees, hypot

from loomlore.drawing.scene import Box, Line, Path, Point, hull
from loomlore.record.outlines import Stretch

__all__ = ["drawn_outline", "spread_of"]

_CORNER = 50.0  # from here a turn is a corner [deg]
_TENSION = 1 / 6  # of the chord between a point's neighbours: a cubic through the points (Catmull and Rom)


def spread_of(stretches: Sequence[Stretch]) -> Box:
    """Return the box round some outlines.

    Parameters
    ----------
    stretches : sequence of Stretch
        Lines of one view [m].

    Returns
    -------
    Box
        [m].
    """
    return hull(Box(x, y, x, y) for stretch in stretches for x, y in stretch.points)


def drawn_outline(points: Sequence[Point], *, closed: bool) -> Path | Line:
    """Draw one line of an outline.

    Parameters
    ----------
    points : sequence of Point
        On paper [mm].
    closed : bool
        Whether it comes back to its first point.

    Returns
    -------
    Path or Line
        A closed one is filled: what is drawn later lies over it.
    """
    if not closed and len(points) == 2:
        return Line(tuple(points), "craft-line")
    count = len(points)
    pulls = [_pull(points, n, closed=closed) for n in range(count)]
    commands: list[tuple[str, tuple[float, ...]]] = [("M", points[0])]
    for n in range(count if closed else count - 1):
        a, b = points[n], points[(n + 1) % count]
        (ax, ay), (bx, by) = pulls[n], pulls[(n + 1) % count]
        chord = hypot(b[0] - a[0], b[1] - a[1])
        one, other = _within(ax, ay, chord), _within(bx, by, chord)
        commands.append(("C", (a[0] + one[0], a[1] + one[1], b[0] - other[0], b[1] - other[1], *b)))
    if closed:
        commands.append(("Z", ()))
    return Path(tuple(commands), "craft" if closed else "craft-line")


def _pull(points: Sequence[Point], n: int, *, closed: bool) -> Point:
    """The direction of the curve at a point, as long as a third of its chord; none at a corner or an end."""
    count = len(points)
    if not closed and n in (0, count - 1):
        return 0.0, 0.0
    before, here, after = points[n - 1], points[n], points[(n + 1) % count]
    one = (here[0] - before[0], here[1] - before[1])
    two = (after[0] - here[0], after[1] - here[1])
    long = hypot(*one) * hypot(*two)
    if long == 0.0:
        return 0.0, 0.0
    turn = degrees(acos(max(-1.0, min(1.0, (one[0] * two[0] + one[1] * two[1]) / long))))
    if turn > _CORNER:
        return 0.0, 0.0
    return (after[0] - before[0]) * _TENSION, (after[1] - before[1]) * _TENSION


def _within(x: float, y: float, chord: float) -> Point:
    """Keep a pull to a third of the chord, so that a short side beside a long one makes no loop."""
    long = hypot(x, y)
    share = min(1.0, chord / 3 / long) if long else 1.0
    return x * share, y * share
