"""The hard rules of a plate, checked on its geometry alone, independently of how it was laid out.

Figures are those of the layout trials, where 16 px were the pitch of two slots: here 5 mm, so that 6 px are
1.875 mm.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from loomlore.drawing.layout import Drawing, PlacedWire
from loomlore.drawing.scene import Box, Point

__all__ = ["LEAST_APART", "Breach", "blank_spot", "breaches", "covered", "largest_blank"]

Cells = NDArray[np.bool_]
LEAST_APART = 6 / 16 * 5.0  # parallel wires [mm]
_SKIN = 0.05  # touching a border is allowed, entering by more than this is not [mm]


@dataclass(frozen=True, slots=True)
class Breach:
    """A hard rule broken: which, by what, where [mm]."""

    rule: str
    who: str
    at: Point


@dataclass(frozen=True, slots=True)
class _Segment:
    wire: str
    box: Box
    level: bool


def breaches(drawing: Drawing) -> list[Breach]:
    """Check a laid-out part against every hard rule.

    Parameters
    ----------
    drawing : Drawing
        Where everything is.

    Returns
    -------
    list of Breach
        Empty if the plate may be printed.
    """
    segments = [segment for placed in drawing.wires for segment in _segments(placed)]
    found = [*_diagonals(drawing), *_loose_ends(drawing), *_wires_on_wires(segments)]
    solid = dict(_solids(drawing))
    found += [*_wires_on_things(segments, solid), *_things_on_things(solid)]
    return [*found, *_marks(drawing, segments, solid)]


def _segments(placed: PlacedWire) -> Iterator[_Segment]:
    for (x0, y0), (x1, y1) in pairwise(placed.points):
        box = Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
        yield _Segment(placed.wire.id, box, box.height < 1e-9)


def _diagonals(drawing: Drawing) -> Iterator[Breach]:
    for placed in drawing.wires:
        for a, b in pairwise(placed.points):
            if abs(a[0] - b[0]) > 1e-9 and abs(a[1] - b[1]) > 1e-9:
                yield Breach("no diagonal", placed.wire.id, a)


def _loose_ends(drawing: Drawing) -> Iterator[Breach]:
    hung = {one.node.id: one.at for one in drawing.hung}
    nodes = {placed.node.id: placed for placed in drawing.nodes}
    for placed in drawing.wires:
        for (name, pin), (x, y) in (
            (placed.wire.start, placed.points[0]),
            (placed.wire.end, placed.points[-1]),
        ):
            if name in hung:
                good = abs(hung[name][0] - x) + abs(hung[name][1] - y) < 1e-6
            else:
                px, py = nodes[name].pins[pin]
                bars = [bar for bar in nodes[name].bars if bar[0][1] == py and bar[0][0] <= px <= bar[1][0]]
                good = abs(py - y) < 1e-6 and (
                    abs(px - x) < 1e-6 or any(bar[0][0] - 1e-6 <= x <= bar[1][0] + 1e-6 for bar in bars)
                )
            if not good:
                yield Breach("every end on its terminal", f"{placed.wire.id} at {name}.{pin}", (x, y))


def _wires_on_wires(segments: list[_Segment]) -> Iterator[Breach]:
    for level in (True, False):
        mine = [segment for segment in segments if segment.level == level]
        for a, b in combinations(mine, 2):
            if a.wire == b.wire:
                continue
            if level:
                along = min(a.box.right, b.box.right) - max(a.box.left, b.box.left)
                apart = abs(a.box.top - b.box.top)
            else:
                along = min(a.box.bottom, b.box.bottom) - max(a.box.top, b.box.top)
                apart = abs(a.box.left - b.box.left)
            if (apart < 1e-6 and along > -1e-6) or (apart < LEAST_APART - 1e-6 and along > 1e-6):
                yield Breach("no wire on a wire", f"{a.wire} and {b.wire}", (b.box.left, b.box.top))
    yield from _ends_on_wires(segments)


def _ends_on_wires(segments: list[_Segment]) -> Iterator[Breach]:
    """A corner or end of one wire on the line of another would read as a joint."""
    level = [segment for segment in segments if segment.level]
    upright = [segment for segment in segments if not segment.level]
    for h in level:
        for v in upright:
            if h.wire == v.wire:
                continue
            x, y = v.box.left, h.box.top
            inside = (
                h.box.left - 1e-6 <= x <= h.box.right + 1e-6 and v.box.top - 1e-6 <= y <= v.box.bottom + 1e-6
            )
            proper = h.box.left + 1e-6 < x < h.box.right - 1e-6 and v.box.top + 1e-6 < y < v.box.bottom - 1e-6
            if inside and not proper:
                yield Breach("no wire ends on a wire", f"{h.wire} and {v.wire}", (x, y))


def _solids(drawing: Drawing) -> Iterator[tuple[str, Box]]:
    for placed in drawing.nodes:
        for n, box in enumerate(placed.boxes):
            yield f"symbol {placed.node.id}" if not n else f"words {n} of {placed.node.id}", box
        if placed.name_box is not None:
            yield f"name {placed.node.id}", placed.name_box
    for one in drawing.hung:
        yield f"symbol {one.node.id}", one.box


def _wires_on_things(segments: list[_Segment], solid: dict[str, Box]) -> Iterator[Breach]:
    for segment in segments:
        # A line has no thickness of its own: give it some, so that it can share more than a border.
        line = segment.box.grown(_SKIN)
        for who, box in solid.items():
            if line.overlaps(box, 2 * _SKIN):
                yield Breach(
                    "no wire on a symbol or a name", f"{segment.wire} on {who}", (line.left, line.top)
                )
            elif _enters(segment, box):
                yield Breach(
                    "no wire on a symbol or a name", f"{segment.wire} in {who}", (line.left, line.top)
                )


def _enters(segment: _Segment, box: Box) -> bool:
    if segment.level:
        along = min(segment.box.right, box.right) - max(segment.box.left, box.left)
        return along > _SKIN and box.top + _SKIN < segment.box.top < box.bottom - _SKIN
    along = min(segment.box.bottom, box.bottom) - max(segment.box.top, box.top)
    return along > _SKIN and box.left + _SKIN < segment.box.left < box.right - _SKIN


def _things_on_things(solid: dict[str, Box]) -> Iterator[Breach]:
    for (who, box), (other, another) in combinations(solid.items(), 2):
        if box.overlaps(another, _SKIN):
            yield Breach("no symbol on a symbol", f"{who} and {other}", (another.left, another.top))


def _marks(drawing: Drawing, segments: list[_Segment], solid: dict[str, Box]) -> Iterator[Breach]:
    counts = {placed.wire.id: 0 for placed in drawing.wires if not placed.wire.bare}
    for mark in drawing.marks:
        counts[mark.wire] = counts.get(mark.wire, 0) + 1
    for wire, count in counts.items():
        if count != 1:
            yield Breach("every cable labelled", wire, (0.0, 0.0))
    for mark in drawing.marks:
        for who, box in solid.items():
            if mark.box.overlaps(box, _SKIN):
                yield Breach("no label collision", f"{mark.wire} on {who}", mark.at)
        for segment in segments:
            if mark.box.overlaps(segment.box.grown(0.2), _SKIN):
                yield Breach("no label collision", f"{mark.wire} on wire {segment.wire}", mark.at)
    for one, two in combinations(drawing.marks, 2):
        if one.box.overlaps(two.box, _SKIN):
            yield Breach("no label collision", f"{one.wire} and {two.wire}", one.at)


def largest_blank(field: Box, boxes: list[Box], *, step: float = 2.0) -> Box:
    """Find the largest rectangle of a field that nothing touches.

    Parameters
    ----------
    field : Box
        Where the drawing may stand [mm].
    boxes : list of Box
        Everything drawn, wires included [mm].
    step : float
        How finely to look [mm].

    Returns
    -------
    Box
        The blank rectangle, to one step.
    """
    wide, tall = int(field.width / step), int(field.height / step)
    taken = _taken(field, boxes, step, wide, tall)
    best, found = 0, (0, 0, 0, 0)
    depth = np.zeros(wide, dtype=int)
    for row in range(tall):
        depth = np.where(taken[row], 0, depth + 1)
        area, left, right, high = _largest_under(depth.tolist())
        if area > best:
            best, found = area, (left, row - high + 1, right, row + 1)
    x0, y0, x1, y1 = found
    return Box(field.left + x0 * step, field.top + y0 * step, field.left + x1 * step, field.top + y1 * step)


def blank_spot(
    field: Box, boxes: Sequence[Box], *, width: float, height: float, step: float = 3.0
) -> Box | None:
    """Find a place of a field for a rectangle that touches nothing, the nearest to a corner.

    Parameters
    ----------
    field : Box
        Where the drawing may stand [mm].
    boxes : sequence of Box
        Everything drawn, wires included [mm].
    width, height : float
        Of the rectangle [mm].
    step : float
        How finely to look [mm].

    Returns
    -------
    Box or None
        [mm].
    """
    across, down = int(-(-field.width // step)), int(-(-field.height // step))
    wide, tall = int(-(-width // step)), int(-(-height // step))
    if width > field.width or height > field.height:
        return None
    # Sums over the cells from the corner: a window is free where the four at its corners cancel out.
    sums = np.zeros((down + 1, across + 1), dtype=int)
    sums[1:, 1:] = _taken(field, boxes, step, across, down).cumsum(axis=0).cumsum(axis=1)
    window = sums[tall:, wide:] - sums[:-tall, wide:] - sums[tall:, :-wide] + sums[:-tall, :-wide]
    free = np.argwhere(window == 0)
    if not len(free):
        return None
    from_side = np.minimum(free[:, 1], across - wide - free[:, 1])
    from_end = np.minimum(free[:, 0], down - tall - free[:, 0])
    row, column = (int(n) for n in free[int(np.argmin(from_side + from_end))])
    top = min(field.top + row * step, field.bottom - height)
    left = min(field.left + column * step, field.right - width)
    return Box(left, top, left + width, top + height)


def _taken(field: Box, boxes: Sequence[Box], step: float, across: int, down: int) -> Cells:
    """Mark the cells of a field that something touches."""
    taken = np.zeros((down, across), dtype=bool)
    for box in boxes:
        x0, x1 = int((box.left - field.left) // step), int(-(-(box.right - field.left) // step))
        y0, y1 = int((box.top - field.top) // step), int(-(-(box.bottom - field.top) // step))
        taken[max(y0, 0) : max(y1, y0 + 1, 0), max(x0, 0) : max(x1, x0 + 1, 0)] = True
    return taken


def _largest_under(depth: list[int]) -> tuple[int, int, int, int]:
    """Return the largest rectangle under a row of column heights: area, left, right, height."""
    best = (0, 0, 0, 0)
    stack: list[tuple[int, int]] = []
    for place, height in enumerate([*depth, 0]):
        start = place
        while stack and stack[-1][1] >= height:
            start, tall = stack.pop()
            best = max(best, (tall * (place - start), start, place, tall))
        stack.append((start, height))
    return best


def covered(drawing: Drawing) -> list[Box]:
    """Return the boxes of everything drawn in a part.

    Parameters
    ----------
    drawing : Drawing
        The part.

    Returns
    -------
    list of Box
        Symbols, names, hung things, marks and wires [mm].
    """
    boxes = [box for _, box in _solids(drawing)] + [mark.box for mark in drawing.marks]
    return boxes + [segment.box for placed in drawing.wires for segment in _segments(placed)]
