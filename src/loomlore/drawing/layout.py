"""From a diagram to drawn places: every symbol, wire, earth, tag and mark with its coordinates.

``laid_out`` tries the best few orders of each connected part, routes them, and keeps the one that costs
least: eight a crossing, one a bend, one for each 47 mm of wire, a little for what stands against the
record's own order. Coordinates are millimetres, the part's upper left corner at 0, 0.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from loomlore.drawing.bodies import Symbol
from loomlore.drawing.diagram import Diagram, End, Node, Wire
from loomlore.drawing.glyphs import GLYPHS
from loomlore.drawing.labelling import Mark, crowded, mark_length, marked
from loomlore.drawing.naming import barred, berth, name_size
from loomlore.drawing.ordering import Order, orders
from loomlore.drawing.placing import Fabric, Hung, fabric
from loomlore.drawing.routing import TRACK, Run, Tracked, tracked
from loomlore.drawing.scene import Box, Point, hull
from loomlore.drawing.spacing import TAG_HEIGHT, Spaced, half_width, spaced
from loomlore.drawing.symbols import body_boxes
from loomlore.drawing.tightening import tightened
from loomlore.drawing.tuning import left_names

__all__ = [
    "Drawing",
    "PlacedHung",
    "PlacedNode",
    "PlacedWire",
    "bends",
    "crossings",
    "hung_height",
    "laid_out",
    "length",
    "moved",
    "solids",
]

BARE_LEAD = 3.0
MARK_AIR = 2.4  # of an upright run beyond the mark beside it [mm]
LENGTH_PRICE = 47.0
STRAY_PRICE = 2.7  # for a row that stands against the record's order: port left of starboard
LEFT_PRICE = 0.3  # for a name left of its symbol
NEAR = 4.0  # an order dearer by more than this is not tried with names on the left


@dataclass(frozen=True)
class PlacedNode:
    """An item where it stands: its symbol, columns [mm], top [mm], boxes, pins and bars.

    ``boxes`` are what it covers; with ``name_left`` the name stands left of it, lines flush right.
    """

    node: Node
    symbol: Symbol
    columns: tuple[float, ...]
    top: float
    boxes: tuple[Box, ...]
    pins: dict[str, Point]
    bars: tuple[tuple[Point, Point], ...]
    name_box: Box | None
    name_left: bool = False

    @property
    def box(self) -> Box:
        """The box round all that it covers."""
        return hull(self.boxes)


@dataclass(frozen=True)
class PlacedHung:
    """An earth or a tag: where its pin is, and whether it stands over the pin."""

    node: Node
    at: Point
    over: bool
    box: Box


@dataclass(frozen=True)
class PlacedWire:
    """A wire and its corners."""

    wire: Wire
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Drawing:
    """A part, laid out.

    ``again`` lays the same order out with more room: between neighbours in a row, and in each channel between
    rows [mm]. ``channels`` is how many channels would share added height.
    """

    nodes: tuple[PlacedNode, ...]
    hung: tuple[PlacedHung, ...]
    wires: tuple[PlacedWire, ...]
    marks: tuple[Mark, ...]
    box: Box
    channels: int
    again: Callable[[float, float], "Drawing"] = field(compare=False, repr=False)

    @property
    def cost(self) -> float:
        """Eight a crossing, one a bend, one for each 47 mm of wire."""
        return 8.0 * crossings(self.wires) + bends(self.wires) + length(self.wires) / LENGTH_PRICE


def crossings(wires: Iterable[PlacedWire]) -> int:
    """Count where a level run of one wire crosses an upright run of another.

    Parameters
    ----------
    wires : iterable of PlacedWire
        The routed wires.

    Returns
    -------
    int
        Crossings.
    """
    level, upright = [], []
    for n, placed in enumerate(wires):
        for (x0, y0), (x1, y1) in pairwise(placed.points):
            if abs(y0 - y1) < 1e-9:
                level.append((n, min(x0, x1), max(x0, x1), y0))
            else:
                upright.append((n, min(y0, y1), max(y0, y1), x0))
    if not level or not upright:
        return 0
    h, v = np.array(level), np.array(upright)
    other = h[:, None, 0] != v[None, :, 0]
    across = (h[:, None, 1] < v[None, :, 3] - 1e-6) & (v[None, :, 3] < h[:, None, 2] - 1e-6)
    down = (v[None, :, 1] < h[:, None, 3] - 1e-6) & (h[:, None, 3] < v[None, :, 2] - 1e-6)
    return int((other & across & down).sum())


def bends(wires: Iterable[PlacedWire]) -> int:
    """Count the corners of all wires.

    Parameters
    ----------
    wires : iterable of PlacedWire
        The routed wires.

    Returns
    -------
    int
        Corners.
    """
    return sum(len(placed.points) - 2 for placed in wires)


def length(wires: Iterable[PlacedWire]) -> float:
    """Return the length of all wires.

    Parameters
    ----------
    wires : iterable of PlacedWire
        The routed wires.

    Returns
    -------
    float
        [mm].
    """
    return sum(abs(x1 - x0) + abs(y1 - y0) for w in wires for (x0, y0), (x1, y1) in pairwise(w.points))


def laid_out(part: Diagram, *, restarts: int = 14, tries: int = 4) -> Drawing:
    """Lay out one connected part.

    Parameters
    ----------
    part : Diagram
        Localised and connected.
    restarts : int
        Restarts of the search for an order.
    tries : int
        How many of the best orders are routed.

    Returns
    -------
    Drawing
        The cheapest of those routed.
    """
    cloth = fabric(part)
    drawn = [(_drawn(cloth, order), order) for order in orders(cloth, restarts=restarts, keep=tries)]
    if not drawn:
        raise ValueError("a part without items cannot be laid out")
    drawn.sort(key=lambda pair: _price(*pair))
    near = [pair for pair in drawn[:2] if _price(*pair) < _price(*drawn[0]) + NEAR]
    for _, order in near:
        left = left_names(cloth, order)
        if left:
            drawn.append((_drawn(cloth, order, left), order))
    return min(drawn, key=lambda pair: _price(*pair))[0]


def _price(drawing: Drawing, order: Order) -> float:
    aside = sum(placed.name_left for placed in drawing.nodes)
    return drawing.cost + STRAY_PRICE * order.strays + LEFT_PRICE * aside


def _drawn(
    cloth: Fabric, order: Order, left: frozenset[str] = frozenset(), airy: float = 0.0, tall: float = 0.0
) -> Drawing:
    across = spaced(cloth, order, airy=airy, left=left)
    paths = _paths(cloth, across)
    heights = _heights(cloth, order, paths, tall)
    nodes = tuple(_placed_node(cloth, order, across, heights, name) for name in across.columns)
    hung, hung_wires = _placed_hung(cloth, across, heights)
    wires = tuple(_placed_wire(cloth, across, heights, paths, wire) for wire in cloth.wires) + hung_wires
    drawing = Drawing(
        nodes, hung, wires, (), Box(0, 0, 0, 0), len(paths), lambda a, t: _drawn(cloth, order, left, a, t)
    )
    return _finished(drawing)


# ---------------------------------------------------------------- channels and heights


def _paths(cloth: Fabric, across: Spaced) -> dict[int, Tracked]:
    runs: dict[int, list[Run]] = defaultdict(list)
    for wire in cloth.wires:
        a, b = (wire.start, f"{wire.id}:a"), (wire.end, f"{wire.id}:b")
        if cloth.channel(a[0]) > cloth.channel(b[0]):
            a, b = b, a
        first, last = cloth.channel(a[0]), cloth.channel(b[0])
        here = (across.slots[a[1]], cloth.side(a[0]) == "bottom")
        for row in range(first, last):
            x = across.gates[f"{wire.id}@{row}"]
            runs[row].append(Run(wire.id, (here, (x, False))))
            here = (x, True)
        runs[last].append(Run(wire.id, (here, (across.slots[b[1]], cloth.side(b[0]) == "bottom"))))
    return {channel: tracked(many) for channel, many in sorted(runs.items())}


@dataclass(frozen=True)
class _Heights:
    """Heights of one part [mm]: the middle of each row, its band, the first track of each channel."""

    middle: list[float]
    up: list[float]
    down: list[float]
    first_track: dict[int, float]
    hang: float


def _heights(cloth: Fabric, order: Order, paths: dict[int, Tracked], tall: float) -> _Heights:
    hang = _hang_length(cloth)
    count = len(order.rows)
    up, down = [0.0] * count, [0.0] * count
    for name in cloth.nodes:
        row = cloth.rows[name]
        over, under = _reach(cloth, order, name, hang)
        up[row], down[row] = max(up[row], over), max(down[row], under)
    middles, first_track, y = [], {}, 0.0
    for row in range(count + 1):
        upper, lower = (strip + tall / 2 for strip in _strips(cloth, order, paths.get(row), row, up, down))
        tracks = paths[row].count if row in paths else 0
        first_track[row] = y + upper
        y += (
            upper + max(0, tracks - 1) * TRACK + lower
            if row in paths
            else (0.0 if row in (0, count) else 6.0)
        )
        if row < count:
            middles.append(y + up[row])
            y += up[row] + down[row]
    return _Heights(middles, up, down, first_track, hang)


def _hang_length(cloth: Fabric) -> float:
    marks = [mark_length(one.wire) for many in cloth.hung.values() for one in many if not one.wire.bare]
    return max([2.5, *(mark + 2.2 for mark in marks)])


def _lead_length(one: Hung, hang: float) -> float:
    return BARE_LEAD if one.wire.bare else hang


def _reach(cloth: Fabric, order: Order, name: str, hang: float) -> tuple[float, float]:
    """How far an item reaches over and under its own middle, hung things and name included."""
    symbol = cloth.symbols[name][order.variant[name]]
    node = cloth.diagram.node(name)
    half = symbol.height / 2
    tall = name_size(node.name, node.small)[1]
    bars = barred(order, name, symbol)
    middles = [berth(symbol, tall, bars=bars, left=left).middle for left in (False, True)] if tall else [half]
    reach = {
        "top": max([half, *(half - middle + tall / 2 + 0.4 for middle in middles)]),
        "bottom": max([half, *(middle - half + tall / 2 + 0.4 for middle in middles)]),
    }
    for pin in symbol.pins:
        for one in cloth.hung.get((name, pin.name), ()):
            far = symbol.height / 2 + _lead_length(one, hang) + hung_height(one.node) + 0.8
            reach[pin.side] = max(reach[pin.side], far)
    return reach["top"], reach["bottom"]


def hung_height(node: Node) -> float:
    """Return the height of an earth with its name, or of a tag [mm].

    Parameters
    ----------
    node : Node
        An earth or a tag.

    Returns
    -------
    float
        [mm].
    """
    if node.role == "tag":
        return TAG_HEIGHT - (2.6 if len(node.name) < 2 else 0.0) + 2.6 * max(0, len(node.name) - 2)
    return GLYPHS["bolt" if node.name else "earth"].height + 2.7 * len(node.name)


def _strips(
    cloth: Fabric, order: Order, channel: Tracked | None, row: int, up: list[float], down: list[float]
) -> tuple[float, float]:
    """Leave room over and under the tracks for the marks of the wires that land there."""
    if channel is None:
        return 0.0, 0.0
    wires = {wire.id: wire for wire in cloth.wires}
    upper = lower = 2.5 if channel.count else 1.5
    for run in channel.runs:
        wire = wires[run.wire]
        need = mark_length(wire) + MARK_AIR
        lands = [end for end in (wire.start, wire.end) if cloth.channel(end) == row]
        for end in lands:
            name = end[0]
            half = cloth.symbols[name][order.variant[name]].height / 2
            here = cloth.rows[name]
            if cloth.side(end) == "top" and here == row:
                lower = max(lower, need - (up[here] - half))
            elif all(cloth.side(other) == "bottom" for other in lands) and len(lands) == 2:
                upper = max(upper, need - (down[here] - half))
    return upper, lower


# ---------------------------------------------------------------- coordinates


def _pin_point(cloth: Fabric, across: Spaced, heights: _Heights, end: End) -> Point:
    return across.pins[end[0]][end[1]], _pin_height(cloth, heights, end)


def _pin_height(cloth: Fabric, heights: _Heights, end: End) -> float:
    symbol = cloth.symbols[end[0]][0]
    half = symbol.height / 2
    return heights.middle[cloth.rows[end[0]]] + (-half if cloth.side(end) == "top" else half)


def _placed_node(cloth: Fabric, order: Order, across: Spaced, heights: _Heights, name: str) -> PlacedNode:
    symbol = cloth.symbols[name][order.variant[name]]
    node = cloth.diagram.node(name)
    columns = across.columns[name]
    top = heights.middle[cloth.rows[name]] - symbol.height / 2
    pins = {pin.name: _pin_point(cloth, across, heights, (name, pin.name)) for pin in symbol.pins}
    bars = []
    for pin in symbol.pins:
        xs = [across.slots[slot] for slot in order.slots.get((name, pin.name), [])]
        if len(xs) > 1:
            bars.append(((min(xs), pins[pin.name][1]), (max(xs), pins[pin.name][1])))
    boxes = tuple(part.moved(0.0, top) for part in body_boxes(symbol, columns))
    named = _name_box(node, across.names.get(name), top)
    left = named is not None and named.right < columns[0]
    return PlacedNode(node, symbol, columns, top, boxes, pins, tuple(bars), named, left)


def _name_box(node: Node, place: tuple[float, float] | None, top: float) -> Box | None:
    if place is None:
        return None
    width, height = name_size(node.name, node.small)
    x, centre = place[0], top + place[1]
    return Box(x, centre - height / 2, x + width, centre + height / 2)


def _placed_hung(
    cloth: Fabric, across: Spaced, heights: _Heights
) -> tuple[tuple[PlacedHung, ...], tuple[PlacedWire, ...]]:
    things, wires = [], []
    for pin, many in cloth.hung.items():
        for one in many:
            x = across.slots[f"{one.wire.id}:{one.end}:hung"]
            y = _pin_height(cloth, heights, pin)
            over = cloth.side(pin) == "top"
            lead = _lead_length(one, heights.hang)
            at = (x, y - lead if over else y + lead)
            half, tall = half_width(one) - 0.5, hung_height(one.node)
            box = (
                Box(x - half, at[1] - tall, x + half, at[1])
                if over
                else Box(x - half, at[1], x + half, at[1] + tall)
            )
            things.append(PlacedHung(one.node, at, over, box))
            points = ((x, y), at) if one.end == "a" else (at, (x, y))
            wires.append(PlacedWire(one.wire, points))
    return tuple(things), tuple(wires)


def _placed_wire(
    cloth: Fabric, across: Spaced, heights: _Heights, paths: dict[int, Tracked], wire: Wire
) -> PlacedWire:
    ends = [(wire.start, f"{wire.id}:a"), (wire.end, f"{wire.id}:b")]
    backwards = cloth.channel(wire.start) > cloth.channel(wire.end)
    if backwards:
        ends.reverse()
    points = [(across.slots[ends[0][1]], _pin_height(cloth, heights, ends[0][0]))]
    for row in range(cloth.channel(ends[0][0]), cloth.channel(ends[1][0]) + 1):
        channel = paths[row]
        for run in sorted((run for run in channel.runs if run.wire == wire.id), key=lambda run: run.half):
            if not run.straight:
                y = heights.first_track[row] + TRACK * channel.track[run.wire, run.half]
                points += [(run.ends[0][0], y), (run.ends[1][0], y)]
    points.append((across.slots[ends[1][1]], _pin_height(cloth, heights, ends[1][0])))
    if backwards:
        points.reverse()
    return PlacedWire(wire, _without_idle(points))


def _without_idle(points: list[Point]) -> tuple[Point, ...]:
    """Drop repeated points and points in the middle of a straight run."""
    kept: list[Point] = []
    for point in points:
        if kept and abs(kept[-1][0] - point[0]) + abs(kept[-1][1] - point[1]) < 1e-9:
            continue
        if len(kept) > 1 and _in_line(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _in_line(a: Point, b: Point, c: Point) -> bool:
    return (abs(a[0] - b[0]) < 1e-9 and abs(b[0] - c[0]) < 1e-9) or (
        abs(a[1] - b[1]) < 1e-9 and abs(b[1] - c[1]) < 1e-9
    )


def solids(drawing: Drawing) -> list[Box]:
    """Return the boxes of symbols, hung things and names.

    Parameters
    ----------
    drawing : Drawing
        A part.

    Returns
    -------
    list of Box
        What no mark may touch [mm].
    """
    solid = [box for node in drawing.nodes for box in node.boxes] + [one.box for one in drawing.hung]
    return solid + [node.name_box for node in drawing.nodes if node.name_box is not None]


def _finished(drawing: Drawing) -> Drawing:
    """Tighten the loops, set the marks, and move the part so that its corner is at 0, 0."""
    solid = solids(drawing)
    wires = [placed.wire for placed in drawing.wires]
    loose = {placed.wire.id: placed.points for placed in drawing.wires}
    lines = tightened(loose, {wire.id: mark_length(wire) + MARK_AIR for wire in wires}, solid)
    marks = marked(wires, lines, solid)
    if lines != loose and crowded(marks, lines, solid):
        lines, marks = loose, marked(wires, loose, solid)
    placed = tuple(replace(one, points=lines[one.wire.id]) for one in drawing.wires)
    drawing = replace(drawing, wires=placed)
    boxes = [*solid, *(mark.box for mark in marks)]
    boxes += [Box(x, y, x, y) for placed in drawing.wires for x, y in placed.points]
    around = hull(boxes)
    return moved(replace(drawing, marks=marks, box=around), x=-around.left, y=-around.top)


def moved(drawing: Drawing, *, x: float, y: float) -> Drawing:
    """Move a drawing.

    Parameters
    ----------
    drawing : Drawing
        A part.
    x, y : float
        To the right and down [mm].

    Returns
    -------
    Drawing
        The same part elsewhere.
    """

    def at(point: Point) -> Point:
        return point[0] + x, point[1] + y

    nodes = tuple(
        replace(
            placed,
            columns=tuple(column + x for column in placed.columns),
            top=placed.top + y,
            boxes=tuple(part.moved(x, y) for part in placed.boxes),
            pins={name: at(point) for name, point in placed.pins.items()},
            bars=tuple((at(a), at(b)) for a, b in placed.bars),
            name_box=None if placed.name_box is None else placed.name_box.moved(x, y),
        )
        for placed in drawing.nodes
    )
    hung = tuple(replace(one, at=at(one.at), box=one.box.moved(x, y)) for one in drawing.hung)
    wires = tuple(PlacedWire(one.wire, tuple(at(point) for point in one.points)) for one in drawing.wires)
    marks = tuple(replace(mark, at=at(mark.at), box=mark.box.moved(x, y)) for mark in drawing.marks)
    return replace(drawing, nodes=nodes, hung=hung, wires=wires, marks=marks, box=drawing.box.moved(x, y))
