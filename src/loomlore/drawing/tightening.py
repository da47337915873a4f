"""Loops drawn tight: a wire that rises over things, or dips under them, turns as near to its ends as it may.

The tracks of a channel clear the tallest thing of a row. Where nothing tall stands under the level run of a
loop, the run is let down until it would come near a symbol, a name or another wire. Nothing is crossed that
was not crossed before, and room for the wire's mark is left.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from loomlore.drawing.bodies import GRID
from loomlore.drawing.scene import Box, Point

__all__ = ["tightened"]

Lines = dict[str, tuple[Point, ...]]
_APART = 2.5  # from one level run to another [mm]
_ASIDE = 1.9  # upright runs nearer than this would touch [mm]
_AIR = 1.2  # from a run to a symbol or a name [mm]
_STUB = 3.0  # what is left of a leg [mm]


@dataclass(frozen=True, slots=True)
class _Loop:
    """The level run of a loop: its wire, its place among the points, which way is inwards, how far it may go."""

    wire: str
    place: int
    inwards: float
    room: float
    width: float


def tightened(
    lines: Mapping[str, tuple[Point, ...]], needs: Mapping[str, float], solid: Sequence[Box]
) -> Lines:
    """Let the loops of a part down.

    Parameters
    ----------
    lines : mapping of str to points
        Corners of each wire, by id [mm].
    needs : mapping of str to float
        The length of upright run that each wire's mark needs [mm].
    solid : sequence of Box
        Symbols, names and hung things.

    Returns
    -------
    dict of str to points
        The same wires, the same crossings or fewer.
    """
    found = dict(lines)
    for _ in range(3):
        before = dict(found)
        # The narrowest first: what stands inside must have gone down before what goes round it.
        loops = [
            loop for wire, points in found.items() for loop in _loops(wire, points, needs.get(wire, 0.0))
        ]
        for loop in sorted(loops, key=lambda loop: (loop.width, loop.wire, loop.place)):
            _let_down(found, loop, solid)
        if found == before:
            break
    return found


def _loops(wire: str, points: Sequence[Point], need: float) -> Iterator[_Loop]:
    for n in range(1, len(points) - 2):
        (_, y0), (x1, y1), (x2, y2), (_, y3) = points[n - 1 : n + 3]
        legs = y0 - y1, y3 - y2
        if y1 != y2 or legs[0] * legs[1] <= 0:
            continue
        short, long = sorted(abs(leg) for leg in legs)
        room = min(short - _STUB, long - min(long, need))
        if room >= GRID:
            yield _Loop(wire, n, 1.0 if legs[0] > 0 else -1.0, room, abs(x2 - x1))


def _let_down(lines: Lines, loop: _Loop, solid: Sequence[Box]) -> None:
    points = list(lines[loop.wire])
    (x1, y), (x2, _) = points[loop.place : loop.place + 2]
    left, right = min(x1, x2), max(x1, x2)
    others = [run for wire, line in lines.items() if wire != loop.wire for run in pairwise(line)]
    crossed = {run for run in others if _crosses(run, left, right, y)}
    for step in range(int(loop.room / GRID), 0, -1):
        there = y + loop.inwards * step * GRID
        if _is_free(left, right, there, others, crossed, solid):
            points[loop.place], points[loop.place + 1] = (x1, there), (x2, there)
            lines[loop.wire] = tuple(points)
            return


def _crosses(run: tuple[Point, Point], left: float, right: float, y: float) -> bool:
    (x0, y0), (x1, y1) = run
    return x0 == x1 and left < x0 < right and min(y0, y1) < y < max(y0, y1)


def _is_free(
    left: float, right: float, y: float, others: Sequence[tuple[Point, Point]],
    crossed: set[tuple[Point, Point]], solid: Sequence[Box],
) -> bool:  # fmt: skip
    line = Box(left - _AIR, y - _AIR, right + _AIR, y + _AIR)
    if any(line.overlaps(box) for box in solid):
        return False
    for run in others:
        (x0, y0), (x1, y1) = run
        if y0 == y1:
            if abs(y0 - y) < _APART and min(x0, x1) < right + _ASIDE and left < max(x0, x1) + _ASIDE:
                return False
        elif left - _ASIDE < x0 < right + _ASIDE and min(y0, y1) - _ASIDE < y < max(y0, y1) + _ASIDE:
            inside = left < x0 < right and min(y0, y1) + _ASIDE < y < max(y0, y1) - _ASIDE
            if not (inside and run in crossed):
                return False
    return True
