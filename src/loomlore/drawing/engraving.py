"""From places to a scene.

A laid-out drawing as items, wires under symbols, each in a group that says whose it is.
"""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from loomlore.drawing.glyphs import bolt, earth
from loomlore.drawing.inking import turned_item
from loomlore.drawing.labelling import Mark, further_marks
from loomlore.drawing.layout import Drawing, PlacedHung, PlacedNode, PlacedWire, solids
from loomlore.drawing.looks import LETTERINGS, width_class
from loomlore.drawing.naming import LINE
from loomlore.drawing.paints import Paint
from loomlore.drawing.scene import Group, Item, Line, Path, Text

__all__ = ["beside_wires", "engraved", "painted_looks", "wire_looks"]


def engraved(drawing: Drawing, beside: Mapping[str, str] | None = None) -> tuple[Item, ...]:
    """Draw a laid-out part.

    Parameters
    ----------
    drawing : Drawing
        Where everything is.
    beside : mapping of str to str, optional
        Further words beside a wire, by its cable: its amperes.

    Returns
    -------
    tuple of Item
        Level runs first, then upright runs with their casing, so that a crossing reads as a bridge; then
        symbols.
    """
    marks = {mark.wire: mark for mark in drawing.marks}
    ordered = sorted(drawing.wires, key=lambda placed: len(placed.points) == 2)
    further = beside_wires(drawing, beside or {})
    items: list[Item] = [
        _wire(placed, marks.get(placed.wire.id), further.get(placed.wire.id)) for placed in ordered
    ]
    items += [_bridges(drawing)] if len(drawing.wires) > 1 else []
    items += [_hung(one) for one in drawing.hung]
    items += [_node(placed) for placed in drawing.nodes]
    return tuple(items)


def wire_looks(placed: PlacedWire) -> tuple[str, ...]:
    """Return the classes of a wire's lines, the lowest first.

    Parameters
    ----------
    placed : PlacedWire
        The wire.

    Returns
    -------
    tuple of str
        Its edge, if it has one; itself, width by amperes, hue by paint, dash by standing; its tracer.
    """
    wire = placed.wire
    if wire.bare:
        return ("ink",)
    return painted_looks(wire.shown, width_class(wire.amperes), conjectural=wire.standing == "conjectural")


def painted_looks(paint: Paint, width: str, *, conjectural: bool = False) -> tuple[str, ...]:
    """Return the classes of the lines of a paint.

    Parameters
    ----------
    paint : Paint
        Hue, tracer, edge.
    width : str
        Its class of width.
    conjectural : bool
        Drawn with a dash.

    Returns
    -------
    tuple of str
        The lowest first.
    """
    dash = " conjectural" if conjectural else ""
    edge = (f"{width.replace('amperes', 'edge')}{dash}",) if paint.edged else ()
    tracer = (f"tracer {paint.tracer}{dash}",) if paint.tracer else ()
    return (*edge, f"wire {width} {paint.look}{dash}", *tracer)


def _wire(placed: PlacedWire, mark: Mark | None, beside: Mark | None) -> Group:
    items: list[Item] = [Line(placed.points, look) for look in wire_looks(placed)]
    if mark is not None:
        items.append(Text(mark.at, mark.words, "t-mark", turned=mark.turned))
    if beside is not None:
        items.append(Text(beside.at, beside.words, "t-amperes", turned=beside.turned))
    return Group(tuple(items), role="cable", name=placed.wire.cable, title=_title(placed))


def beside_wires(drawing: Drawing, words: Mapping[str, str]) -> dict[str, Mark]:
    """Set further words beside wires, where they touch nothing.

    Parameters
    ----------
    drawing : Drawing
        Laid out and marked.
    words : mapping of str to str
        By cable.

    Returns
    -------
    dict of str to Mark
        By wire; a wire without room is left out.
    """
    wires = [placed.wire for placed in drawing.wires if not placed.wire.bare]
    wanted = {wire.id: words[wire.cable] for wire in wires if wire.cable in words}
    if not wanted:
        return {}
    lines = {placed.wire.id: placed.points for placed in drawing.wires}
    taken = [*solids(drawing), *(mark.box for mark in drawing.marks)]
    return further_marks([placed.wire for placed in drawing.wires], lines, taken, wanted)


def _title(placed: PlacedWire) -> str:
    return placed.wire.title or placed.wire.mark


def _bridges(drawing: Drawing) -> Group:
    """Redraw, with a paper casing, the short piece of each upright run that crosses a level one."""
    level = [(w.wire.id, a, b) for w in drawing.wires for a, b in pairwise(w.points) if a[1] == b[1]]
    items: list[Item] = []
    for placed in drawing.wires:
        for (x0, y0), (x1, y1) in pairwise(placed.points):
            if x0 != x1:
                continue
            low, high = min(y0, y1), max(y0, y1)
            for other, a, b in level:
                if other != placed.wire.id and min(a[0], b[0]) < x0 < max(a[0], b[0]) and low < a[1] < high:
                    ends = ((x0, a[1] - 0.9), (x0, a[1] + 0.9))
                    short = (Line(ends, "casing"), *(Line(ends, look) for look in wire_looks(placed)))
                    items.append(Group(short, role="cable", name=placed.wire.cable, title=_title(placed)))
    return Group(tuple(items), role="bridges")


def _hung(one: PlacedHung) -> Group:
    x, y = one.at
    if one.node.role == "tag":
        items = _tag(one)
    else:
        shape = (bolt() if one.node.name else earth()).items
        if one.over:
            shape = tuple(turned_item(item, 0.0) for item in shape)
        items = (Group(shape, shift=(x, y)), *_earth_name(one))
    return Group(tuple(items), role=one.node.role, name=one.node.of or one.node.id, title=one.node.title)


def _tag(one: PlacedHung) -> tuple[Item, ...]:
    box = one.box
    (x, y), point = one.at, 1.5
    away = box.top if one.over else box.bottom
    inner = y - point if one.over else y + point
    corners = [(box.left, away), (box.right, away), (box.right, inner), (x, y), (box.left, inner)]
    outline = Path((("M", corners[0]), *(("L", corner) for corner in corners[1:]), ("Z", ())), "tag")
    first = (box.top + 2.55) if one.over else (inner + 2.35)
    words = [Text((x, first + 2.6 * n), line, "t-tag", "middle") for n, line in enumerate(one.node.name)]
    return (outline, *words)


def _earth_name(one: PlacedHung) -> list[Item]:
    x, _ = one.at
    foot = one.box.top + 2.0 if one.over else one.box.bottom - 2.7 * len(one.node.name) + 2.3
    return [Text((x, foot + 2.7 * n), line, "t-terminal", "middle") for n, line in enumerate(one.node.name)]


def _node(placed: PlacedNode) -> Group:
    seats = {name: point[0] for name, point in placed.pins.items()}
    drawn = tuple(_owned(item, placed.node.of) for item in placed.symbol.draw(placed.columns, seats))
    items: list[Item] = [Group(drawn, shift=(0.0, placed.top))]
    items += [Line(((a[0] - 0.4, a[1]), (b[0] + 0.4, b[1])), "thick") for a, b in placed.bars]
    items += _name(placed)
    node = placed.node
    return Group(tuple(items), role="item", name=node.of or node.id, title=node.title or " ".join(node.name))


def _owned(item: Item, owner: str) -> Item:
    """Call a part or a contact by its full name, ``ITEM.PART``, so that a page or a state can find it."""
    if not isinstance(item, Group):
        return item
    name = f"{owner}.{item.name}" if item.name and owner else item.name
    return replace(item, name=name, items=tuple(_owned(inner, owner) for inner in item.items))


def _name(placed: PlacedNode) -> list[Item]:
    if placed.name_box is None:
        return []
    size = LETTERINGS["t-name"].size
    anchor: Literal["start", "end"] = "end" if placed.name_left else "start"
    x = placed.name_box.right if placed.name_left else placed.name_box.left
    y = placed.name_box.top + LINE / 2 + 0.33 * size
    lines = [(line, "t-name") for line in placed.node.name] + [
        (line, "t-rating") for line in placed.node.small
    ]
    return [Text((x, y + LINE * n), line, look, anchor) for n, (line, look) in enumerate(lines)]
