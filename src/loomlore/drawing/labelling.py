"""Marks on wires: upright, beside the longest free upright run, touching nothing.

The layout leaves a strip free where each wire lands, so that a place is always found; shortest wires choose
first.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from loomlore.drawing.diagram import Wire
from loomlore.drawing.looks import LETTERINGS, STROKES, width_class
from loomlore.drawing.scene import Box, Point
from loomlore.drawing.typefaces import text_width

__all__ = ["Mark", "crowded", "further_marks", "mark_length", "mark_words", "marked"]

_OFF = 0.25  # from the edge of the wire to the mark [mm]
_AIR = 1.2  # from a mark to other words and symbols, where there is room [mm]
_TALL = 1.95  # from the top of a capital to the foot of a descender [mm]


@dataclass(frozen=True)
class Mark:
    """A wire's mark where it is set; ``turned`` is 90 when it reads upwards."""

    wire: str
    words: str
    at: Point
    turned: float
    box: Box


def mark_words(wire: Wire) -> str:
    """Return what is printed on a wire: its mark and its second mark, the letter of its role.

    Parameters
    ----------
    wire : Wire
        The wire.

    Returns
    -------
    str
        Nothing for a bare lead.
    """
    return "" if wire.bare else f"{wire.mark} {wire.shown.letter}".strip()


def mark_length(wire: Wire) -> float:
    """Return the length of a wire's mark [mm].

    Parameters
    ----------
    wire : Wire
        The wire.

    Returns
    -------
    float
        [mm].
    """
    look = LETTERINGS["t-mark"]
    return text_width(mark_words(wire), face=look.face, size=look.size)


def marked(
    wires: Sequence[Wire], lines: dict[str, tuple[Point, ...]], solid: Sequence[Box]
) -> tuple[Mark, ...]:
    """Set the marks of all wires.

    Parameters
    ----------
    wires : sequence of Wire
        The wires.
    lines : dict
        Corners of each, by id.
    solid : sequence of Box
        What a mark must not touch.

    Returns
    -------
    tuple of Mark
        One for every wire that has words.
    """
    table = _Table(lines, solid)
    found = []
    for wire in sorted(wires, key=lambda wire: (_extent(lines[wire.id]), wire.id)):
        if mark_words(wire):
            mark = _set(table, wire, lines[wire.id])
            table.taken.append(mark.box)
            found.append(mark)
    return tuple(found)


def crowded(marks: Sequence[Mark], lines: dict[str, tuple[Point, ...]], solid: Sequence[Box]) -> bool:
    """Tell whether some mark found no free place.

    Parameters
    ----------
    marks : sequence of Mark
        As ``marked`` has set them.
    lines : dict
        Corners of each wire, by id.
    solid : sequence of Box
        What a mark must not touch.

    Returns
    -------
    bool
        True where one touches a wire, a thing or another mark.
    """
    table = _Table(lines, solid)
    for mark in marks:
        if not table.free(mark.box):
            return True
        table.taken.append(mark.box)
    return False


def further_marks(
    wires: Sequence[Wire], lines: dict[str, tuple[Point, ...]], solid: Sequence[Box], words: Mapping[str, str]
) -> dict[str, Mark]:
    """Set further words beside some wires that have their marks already.

    Parameters
    ----------
    wires : sequence of Wire
        The wires.
    lines : dict
        Corners of each, by id.
    solid : sequence of Box
        What the words must not touch, the marks among it.
    words : mapping of str to str
        By wire.

    Returns
    -------
    dict of str to Mark
        A wire beside which there is no room is left out.
    """
    table = _Table(lines, solid)
    found: dict[str, Mark] = {}
    look = LETTERINGS["t-amperes"]
    for wire in sorted(wires, key=lambda wire: (_extent(lines[wire.id]), wire.id)):
        if wire.id in words:
            long = text_width(words[wire.id], face=look.face, size=look.size)
            mark = _free(table, wire, words[wire.id], long, lines[wire.id])
            if mark is not None:
                table.taken.append(mark.box)
                found[wire.id] = mark
    return found


def _extent(points: Sequence[Point]) -> float:
    return sum(abs(x1 - x0) + abs(y1 - y0) for (x0, y0), (x1, y1) in pairwise(points))


class _Table:
    """Everything a mark must keep clear of."""

    def __init__(self, lines: dict[str, tuple[Point, ...]], solid: Sequence[Box]) -> None:
        self.taken = list(solid)
        rows = []
        for points in lines.values():
            for (x0, y0), (x1, y1) in pairwise(points):
                rows.append((min(x0, x1) - 0.3, min(y0, y1) - 0.3, max(x0, x1) + 0.3, max(y0, y1) + 0.3))
        self.lines = np.array(rows)

    def free(self, box: Box, air: float = 0.0) -> bool:
        lines = self.lines
        across = (lines[:, 0] < box.right) & (box.left < lines[:, 2])
        if bool((across & (lines[:, 1] < box.bottom) & (box.top < lines[:, 3])).any()):
            return False
        wider = box.grown(air)
        return not any(wider.overlaps(other) for other in self.taken)


def _set(table: _Table, wire: Wire, points: Sequence[Point]) -> Mark:
    words, long = mark_words(wire), mark_length(wire)
    found = _free(table, wire, words, long, points)
    if found is not None:
        return found
    first = next(_uprights(wire, words, long, points), None)
    return first or _upright(wire, words, long, *points[0], right=True)


def _free(table: _Table, wire: Wire, words: str, long: float, points: Sequence[Point]) -> Mark | None:
    # With air about it first; a tight place is better than none.
    for air in (_AIR, 0.0):
        for mark in _uprights(wire, words, long, points):
            if table.free(mark.box, air):
                return mark
    return _level(table, wire, words, long, points)


def _uprights(wire: Wire, words: str, long: float, points: Sequence[Point]) -> Iterator[Mark]:
    """Go through the places along the upright runs, the longest run first."""
    for (x0, y0), (x1, y1) in sorted(pairwise(points), key=lambda run: -abs(run[0][1] - run[1][1])):
        if x0 == x1:
            for middle in _middles(min(y0, y1), max(y0, y1), long):
                for right in (True, False):
                    yield _upright(wire, words, long, x0, middle, right=right)


def _middles(top: float, bottom: float, long: float) -> list[float]:
    """Try the middle of the run first, then further and further from it."""
    spare = (bottom - top - long) / 2 - 0.4
    if spare < 0:
        return []
    middle = (top + bottom) / 2
    steps = [0.0] + [sign * 1.25 * n for n in range(1, int(spare / 1.25) + 1) for sign in (1, -1)]
    return [middle + step for step in [*steps, spare, -spare]]


def _off(wire: Wire) -> float:
    return _OFF + STROKES[width_class(wire.amperes)].width / 2


def _upright(wire: Wire, words: str, long: float, x: float, middle: float, *, right: bool) -> Mark:
    base = x + _off(wire) + 1.6 if right else x - _off(wire) - 0.35
    box = Box(base - 1.6, middle - long / 2, base - 1.6 + _TALL, middle + long / 2)
    return Mark(wire.id, words, (base, middle + long / 2), 90.0, box)


def _level(table: _Table, wire: Wire, words: str, long: float, points: Sequence[Point]) -> Mark | None:
    for (x0, y0), (x1, y1) in sorted(pairwise(points), key=lambda run: -abs(run[0][0] - run[1][0])):
        if y0 != y1 or abs(x1 - x0) < long + 1.0:
            continue
        for middle in _middles(min(x0, x1), max(x0, x1), long):
            for over in (True, False):
                base = y0 - _off(wire) - 0.35 if over else y0 + _off(wire) + 1.6
                box = Box(middle - long / 2, base - 1.6, middle + long / 2, base - 1.6 + _TALL)
                if table.free(box):
                    return Mark(wire.id, words, (middle - long / 2, base), 0.0, box)
    return None
