"""Drawing a composed symbol over given column places: envelope, leads, parts, linkages, terminals.

The layout may have widened the columns, and moved a pin that stands between those of a selector; what is
drawn follows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from loomlore.drawing.bodies import Block, Body, Part, Pin, Side, joints_of, middle
from loomlore.drawing.glyphs import Glyph, actuator, glyph, linkage
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Circle, Group, Item, Line, Path, Rectangle, Text

__all__ = ["TRACK_STEP", "Frame", "inked", "moved_from_right", "turned_item"]

# How far the linkages of several movers stand from the middle of the parts [mm].
_HEIGHTS = (0.0, 1.2, -1.2, 0.6, -0.6)
TRACK_STEP = 2.0  # from one level lead inside a symbol to the next [mm]


@dataclass(frozen=True)
class Frame:
    """A symbol's order and heights, shared by measuring and drawing."""

    body: Body
    order: tuple[Block, ...]
    pins: tuple[Pin, ...]
    tracks: dict[tuple[Side, str], int]
    top: float
    band: float
    bottom: float
    left: float
    right: float
    framed: bool

    @property
    def height(self) -> float:
        """Height of the symbol [mm]."""
        return self.top + self.band + self.bottom

    def track_height(self, side: Side, net: str) -> float:
        """Return the height of a net's level lead in a channel [mm]."""
        step = self.tracks[side, net] * TRACK_STEP
        return self.top - 1.0 - step if side == "top" else self.top + self.band + 1.0 + step


class _Seating:
    """Where joints and pins stand: over their column, or where the layout moved them."""

    def __init__(self, pins: Sequence[Pin], places: Sequence[float], seats: Mapping[str, float]) -> None:
        self.places, self.seats = places, seats
        self.columns = {pin.name: pin.columns for pin in pins}

    def __call__(self, columns: tuple[int, ...], net: str) -> float:
        if len(columns) > 1 and net in self.seats and self.columns.get(net) == columns:
            return self.seats[net]
        return middle(columns, self.places)


def inked(frame: Frame, places: Sequence[float], seats: Mapping[str, float]) -> tuple[Item, ...]:
    """Draw a symbol.

    Parameters
    ----------
    frame : Frame
        Its order and heights.
    places : sequence of float
        Where its columns stand [mm].
    seats : mapping of str to float
        Where its pins stand [mm]; a pin that is not named stands over the middle of its columns.

    Returns
    -------
    tuple of Item
        The first column's place is kept, the top is at 0.
    """
    seat = _Seating(frame.pins, places, seats)
    items = [*_outline(frame, seat), *_leads(frame, seat)]
    centres: dict[str, tuple[float, float]] = {}
    first = 0
    for block in frame.order:
        items += _block_items(frame, block, first, centres, seat)
        first += block.width
    items[0:0] = _linkages(frame, centres)
    items += _pin_labels(frame, seat)
    if frame.framed:
        items[0:0] = _envelope(frame, places)
    return tuple(items)


def _envelope(frame: Frame, places: Sequence[float]) -> list[Item]:
    look = "envelope" if frame.body.parts else "body"
    width = places[-1] - places[0] + frame.left + frame.right
    found: list[Item] = [Rectangle((places[0] - frame.left, 0.0), width, frame.height, look, 0.8)]
    middle_x = places[0] - frame.left + width / 2
    size = LETTERINGS["t-name"].size
    start = frame.height / 2 - (len(frame.body.words) - 1) * 1.5 + 0.33 * size
    for n, line in enumerate(frame.body.words):
        found.append(Text((middle_x, start + 3.0 * n), line, "t-name", "middle"))
    return found


def _outline(frame: Frame, seat: _Seating) -> list[Item]:
    return [
        Circle((seat(pin.columns, pin.name), _pin_height(frame, pin)), 0.45, "solid") for pin in frame.pins
    ]


def _pin_height(frame: Frame, pin: Pin) -> float:
    return 0.0 if pin.side == "top" else frame.height


def _leads(frame: Frame, seat: _Seating) -> list[Item]:
    found: list[Item] = []
    edge: dict[Side, float] = {"top": frame.top, "bottom": frame.top + frame.band}
    points: dict[tuple[Side, str], list[float]] = {}
    for joint in joints_of(frame.order):
        points.setdefault((joint.side, joint.net), []).append(seat(joint.columns, joint.net))
    for (side, net), xs in points.items():
        level = frame.track_height(side, net) if (side, net) in frame.tracks else edge[side]
        found += [Line(((x, edge[side]), (x, level)), "ink") for x in xs if level != edge[side]]
        if len(set(xs)) > 1:
            found.append(Line(((min(xs), level), (max(xs), level)), "ink"))
        pin = next((pin for pin in frame.pins if pin.side == side and pin.name == net), None)
        if pin is not None and _has_inside(frame, net):
            x = seat(pin.columns, net)
            found.append(Line(((x, _pin_height(frame, pin)), (x, level)), "ink"))
        found += _knots(xs, level, pin, seat)
    return found


def _has_inside(frame: Frame, net: str) -> bool:
    """A stub's pin ends at its terminal: only nets that meet a part or pass through get a lead."""
    blocks = [block for block in frame.order if any(joint.net == net for joint in block.joints)]
    return any(
        block.parts or len({joint.side for joint in block.joints if joint.net == net}) == 2
        for block in blocks
    )


def _knots(xs: list[float], level: float, pin: Pin | None, seat: _Seating) -> list[Item]:
    """Dot a joint where three leads meet."""
    if len(set(xs)) < 2:
        return []
    inner = {x for x in xs if min(xs) < x < max(xs)}
    if pin is not None:
        inner.add(seat(pin.columns, pin.name))
    return [Circle((x, level), 0.55, "solid") for x in sorted(inner)]


def _block_items(
    frame: Frame,
    block: Block,
    first: int,
    centres: dict[str, tuple[float, float]],
    seat: _Seating,
) -> list[Item]:
    top, bottom = frame.top, frame.top + frame.band
    columns = seat.places[first : first + block.width]
    if not block.parts:
        sides = {joint.side for joint in block.joints if joint.net == block.joints[0].net}
        return [Line(((columns[0], top), (columns[0], bottom)), "ink")] if len(sides) == 2 else []
    shapes = [glyph(part.glyph, tint=part.tint) for part in block.parts]
    spare = frame.band - sum(shape.height for shape in shapes)
    y = top + spare / 2
    if len(block.parts[0].ends) > 2:
        part = block.parts[0]
        centre = seat(tuple(range(first, first + block.width)), part.ends[0])
        centres[part.name] = (centre, y + 5.0)
        throws, common = (y + 10, bottom), (top, y)
        if block.over:
            throws, common = (top, y), (y + 10, bottom)
        selector = _selector(part, columns, centre, y, over=block.over)
        return [*_extended(columns, *throws), *_extended([centre], *common), selector]
    items: list[Item] = [*_extended(columns, top, y)]
    for part, shape in zip(block.parts, shapes, strict=True):
        items.append(_part_group(part, shape, columns[0], y, over=block.over))
        centres[part.name] = (columns[0], y + shape.height / 2)
        y += shape.height
    return [*items, *_extended(columns, y, bottom)]


def _extended(columns: Sequence[float], start: float, end: float) -> list[Item]:
    return [Line(((x, start), (x, end)), "ink") for x in columns if end - start > 0.01]


def _part_group(part: Part, shape: Glyph, x: float, y: float, *, over: bool) -> Group:
    items = shape.items
    if over:
        items = tuple(turned_item(item, shape.height) for item in items)
    items = tuple(replace(i, name=part.name) if isinstance(i, Group) else i for i in items)
    words = (Text((0.0, 5.8), part.words, "t-symbol-small", "middle"),) if part.words else ()
    return Group((*items, *words, *actuator(part.actuator)), role="part", name=part.name, shift=(x, y))


def _selector(part: Part, columns: Sequence[float], centre: float, y: float, *, over: bool) -> Group:
    items: list[Item] = [Line(((centre, 0), (centre, 2.6)), "ink")]
    blades: list[Item] = []
    for n, x in enumerate(columns):
        items += [Line(((x, 7.9), (x, 10)), "ink"), Circle((x, 7.4), 0.45, "ring")]
        blades.append(
            Line(
                ((centre, 2.8), (x - 0.1 * (x - centre), 7.0)),
                "blade",
                f"at-{part.throws[n] if part.throws else n}",
            )
        )
    rest_x = (columns[0] + columns[1]) / 2
    blades.append(Line(((centre, 2.8), (rest_x, 6.4)), "blade", "at-none"))
    state = "at-none" if part.rest is None else f"at-{part.throws[part.rest] if part.throws else part.rest}"
    items += [
        Group(tuple(blades), role="contact", name=part.name, state=state),
        Circle((centre, 2.8), 0.45, "solid"),
    ]
    if part.actuator:
        target = rest_x if part.rest is None else columns[part.rest]
        at = centre + 0.45 * (target - centre) + 1.2
        drawn = actuator(part.actuator)
        if moved_from_right(part):
            drawn = tuple(_mirrored(item) for item in drawn)
            at -= 2.4
        items.append(Group(drawn, shift=(at, 0.0)))
    if over:
        items = [turned_item(item, 10.0) for item in items]
    return Group(tuple(items), role="part", name=part.name, shift=(0.0, y))


def moved_from_right(part: Part) -> bool:
    """Tell whether what moves a selector stands to its right: where the other throws lie to the left.

    Parameters
    ----------
    part : Part
        Any part.

    Returns
    -------
    bool
        False for a plain contact.
    """
    throws = len(part.ends) - 1
    return throws > 1 and part.rest == throws - 1


def _mirrored(item: Item) -> Item:
    """Mirror an actuator left to right; its letter stays as it is."""
    if isinstance(item, Line):
        return replace(item, points=tuple((-x, y) for x, y in item.points))
    if isinstance(item, Circle):
        return replace(item, centre=(-item.centre[0], item.centre[1]))
    if isinstance(item, Rectangle):
        return replace(item, corner=(-item.corner[0] - item.width, item.corner[1]))
    if isinstance(item, Text):
        return replace(item, at=(-item.at[0], item.at[1]))
    if isinstance(item, Path):
        return replace(item, commands=tuple(_command_mirrored(c, v) for c, v in item.commands))
    return item


def _command_mirrored(command: str, values: tuple[float, ...]) -> tuple[str, tuple[float, ...]]:
    if command == "A":
        radius, sweep, x, y = values
        return command, (radius, 1.0 - sweep, -x, y)
    return command, tuple(v if place % 2 else -v for place, v in enumerate(values))


def _linkages(frame: Frame, centres: dict[str, tuple[float, float]]) -> list[Item]:
    """Link what moves to what is moved; the linkages of different movers lie at different heights."""
    glyphs = {part.name: part.glyph for part in frame.body.parts}
    roots: dict[str, str] = {}
    for mover, moved in frame.body.links:
        roots[moved] = roots.get(mover, mover)
    heights = dict(zip(dict.fromkeys(roots.values()), _HEIGHTS, strict=False))
    found: list[Item] = []
    for mover, moved in frame.body.links:
        (x0, y0), (x1, _) = centres[mover], centres[moved]
        start, end = sorted((_edge(glyphs[mover], x0, x1), _edge(glyphs[moved], x1, x0)))
        found += linkage(start, end, y0 + heights.get(roots[moved], 0.0))
    return found


def _edge(shape: str, x: float, towards: float) -> float:
    """Return where a linkage meets a part: at the side of a coil, or at the blade, which leans."""
    if shape == "break":
        return x + 0.75
    if shape in ("make", "selector"):
        return x - (1.15 if shape == "make" else 0.0)
    return x + (glyph(shape).right if towards > x else -glyph(shape).left)


def _pin_labels(frame: Frame, seat: _Seating) -> list[Item]:
    if not frame.body.labels:
        return []
    found: list[Item] = []
    for pin in frame.pins:
        x = seat(pin.columns, pin.name) + 0.7
        y = 2.55 if pin.side == "top" else frame.height - 0.95
        found.append(Text((x, y), _printed(frame.body.label(pin.name)), "t-terminal"))
    return found


def _printed(label: str) -> str:
    """A minus is printed as one: a hyphen is hardly seen."""
    return "−" if label == "-" else label


# ---------------------------------------------------------------- turning over


def turned_item(item: Item, height: float) -> Item:
    """Return an item upside down; words stay upright, they are only moved.

    Parameters
    ----------
    item : Item
        An item of a symbol.
    height : float
        Height of the symbol [mm].

    Returns
    -------
    Item
        As it stands when the symbol is turned over.
    """
    if isinstance(item, Line):
        return replace(item, points=tuple((x, height - y) for x, y in item.points))
    if isinstance(item, Circle):
        return replace(item, centre=(item.centre[0], height - item.centre[1]))
    if isinstance(item, Rectangle):
        return replace(item, corner=(item.corner[0], height - item.corner[1] - item.height))
    if isinstance(item, Path):
        return replace(item, commands=tuple(_command_over(c, v, height) for c, v in item.commands))
    if isinstance(item, Text):
        size = next(LETTERINGS[part].size for part in item.look.split() if part in LETTERINGS)
        return replace(item, at=(item.at[0], height - item.at[1] + 0.66 * size))
    # The group moves to mirrored place; what it holds is turned over about its own origin.
    inner = tuple(turned_item(part, 0.0) for part in item.items)
    return replace(item, items=inner, shift=(item.shift[0], height - item.shift[1]))


def _command_over(command: str, values: tuple[float, ...], height: float) -> tuple[str, tuple[float, ...]]:
    if command == "A":
        radius, sweep, x, y = values
        return command, (radius, 1.0 - sweep, x, height - y)
    return command, tuple(height - v if place % 2 else v for place, v in enumerate(values))
