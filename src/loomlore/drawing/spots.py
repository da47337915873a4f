"""The place plan: where things are, seen from above and from the port side, with a numbered list.

Places without coordinates are listed, not drawn. Numbers stand beside their dots where they touch nothing.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, pi, sin

from loomlore.drawing.legends import Legend
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Box, Circle, Item, Line, Point, Scene, Text
from loomlore.drawing.sheets import Block, free_plate
from loomlore.drawing.typefaces import text_width, wrapped
from loomlore.record.installation import Installation

__all__ = ["place_plate"]

_WIDE = 250.0
_TALLEST = 205.0
_LIST = 122.0
_ROW = 3.6
_DEEPEST = 50  # lines of a column
# Where a number may stand beside its dot, the likeliest first.
_BESIDE = (
    (2.2, 0.9),
    (-2.2, 0.9),
    (0.0, -2.0),
    (0.0, 3.9),
    (2.2, 3.6),
    (2.2, -1.6),
    (-2.2, 3.6),
    (-2.2, -1.6),
)

Spot = tuple[str, float, float]
Segment = tuple[Point, Point]


def place_plate(joined: Installation, *, number: str = "") -> list[Scene]:
    """Draw the place plan.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    number : str
        Of the plate.

    Returns
    -------
    list of Scene
        None where no place has coordinates.
    """
    places = joined.dossier.places
    order = {name: f"{n}" for n, name in enumerate(places, 1)}
    known = [(name, spot.at) for name, spot in places.items() if spot.at is not None]
    if not known:
        return []
    above = [(order[name], at[0], at[1]) for name, at in known]
    aside = [(order[name], at[0], -at[2]) for name, at in known]
    scale = min(_scale(above), _scale(aside))
    routes = [
        tuple(order[place] for place in loom.route if place in order)
        for loom in joined.dossier.looms.values()
    ]
    blocks = [_view("From above, nose to the left", above, routes, scale)]
    blocks.append(_view("From the port side", aside, routes, scale))
    blocks += _lists(joined, order)
    notes = (
        "Distances are the record's, in metres aft, to starboard and up. The outline is not drawn.",
        "A thin line is a loom's route from place to place.",
    )
    return free_plate(blocks, Legend("Places", joined.dossier.header.title, number, notes=notes))


def _scale(spots: Sequence[Spot]) -> float:
    """Return the millimetres on paper for a metre at which a view fits."""
    xs, ys = [x for _, x, _ in spots], [y for _, _, y in spots]
    return min((_WIDE - 20.0) / max(max(xs) - min(xs), 0.1), (_TALLEST - 10.0) / max(max(ys) - min(ys), 0.1))


def _view(title: str, spots: Sequence[Spot], routes: Sequence[tuple[str, ...]], scale: float) -> Block:
    xs, ys = [x for _, x, _ in spots], [y for _, _, y in spots]
    left, top = 8.0, 12.0
    placed = [(words, left + (x - min(xs)) * scale, top + (y - min(ys)) * scale) for words, x, y in spots]
    bottom = top + (max(ys) - min(ys)) * scale + 8.0
    wide = max(left + (max(xs) - min(xs)) * scale + 10.0, 60.0)
    items: list[Item] = [Text((0.0, 3.0), title, "t-name")]
    if min(ys) <= 0.0 <= max(ys):
        level = top - min(ys) * scale
        items.append(Line(((0.0, level), (wide, level)), "tie"))
    at = {words: (x, y) for words, x, y in placed}
    for route in routes:
        points = tuple(at[words] for words in route if words in at)
        if len(points) > 1:
            items.append(Line(points, "linkage"))
    segments = [(at[a], at[b]) for route in routes for a, b in pairwise(route) if a in at and b in at]
    items += _dots(placed, segments)
    items += _measure(scale, bottom)
    return Block(tuple(items), wide, bottom + 6.0)


def _gathered(placed: Sequence[Spot]) -> list[Spot]:
    """Give places that fall on one another (port and starboard, seen from the side) one dot and one label."""
    found: list[tuple[list[str], float, float]] = []
    for words, x, y in placed:
        same = next((one for one in found if abs(one[1] - x) + abs(one[2] - y) < 1.2), None)
        if same is None:
            found.append(([words], x, y))
        else:
            same[0].append(words)
    return [(", ".join(names), x, y) for names, x, y in found]


def _dots(spots: Sequence[Spot], routes: Sequence[Segment]) -> list[Item]:
    """Set a dot at every place and its number near it, at a leader's end where it stands further off.

    A number touches no dot, no number and no route; no leader crosses another. Where all cannot be had, a
    route may be touched before anything else.
    """
    items: list[Item] = []
    placed = _gathered(spots)
    taken = [Box(x - 1.0, y - 1.0, x + 1.0, y + 1.0) for _, x, y in placed]
    lines = [box for a, b in routes for box in _along(a, b)]
    leaders: list[Segment] = []
    look = LETTERINGS["t-symbol-small"]
    for words, x, y in placed:
        items.append(Circle((x, y), 0.8, "solid"))
        wide = text_width(words, face=look.face, size=look.size)
        box, leader = _seat(x, y, wide, taken, lines, leaders)
        taken.append(box.grown(0.2))
        if leader is not None:
            leaders.append(leader)
            taken += [one.grown(-0.2) for one in _along(*leader)]
            items.append(Line(leader, "thin"))
        items.append(Text((box.left, box.bottom - 0.1), words, "t-symbol-small"))
    return items


def _seat(
    x: float, y: float, wide: float, taken: Sequence[Box], lines: Sequence[Box], leaders: Sequence[Segment]
) -> tuple[Box, Segment | None]:
    for barred in ([*taken, *lines], list(taken)):
        for box, far in _beside(x, y, wide):
            leader = _leader(x, y, box) if far else None
            own = [one for one in barred if not (one.left < x < one.right and one.top < y < one.bottom)]
            if any(box.overlaps(other) for other in own):
                continue
            if leader is not None and any(_cross(leader, other) for other in leaders):
                continue
            return box, leader
    return next(_beside(x, y, wide))[0], None


def _leader(x: float, y: float, box: Box) -> Segment:
    """A leader runs from the dot's rim to the nearest point of the number's box."""
    near = (min(max(x, box.left), box.right), min(max(y, box.top), box.bottom))
    away = max(hypot(near[0] - x, near[1] - y), 1e-6)
    return (x + 0.8 * (near[0] - x) / away, y + 0.8 * (near[1] - y) / away), near


def _along(a: Point, b: Point) -> list[Box]:
    """Cover a line with small boxes."""
    count = max(1, int(hypot(b[0] - a[0], b[1] - a[1]) / 0.6))
    steps = [n / count for n in range(count + 1)]
    return [
        Box(*at, *at).grown(0.3)
        for at in ((a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])) for s in steps)
    ]


def _cross(one: Segment, other: Segment) -> bool:
    def side(a: Point, b: Point, c: Point) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    (a, b), (c, d) = one, other
    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def _beside(x: float, y: float, wide: float) -> Iterator[tuple[Box, bool]]:
    """Try the places near a dot first, then rings further off, these with a leader."""
    for dx, dy in _BESIDE:
        left = x + dx - (wide if dx < 0 else wide / 2 if dx == 0 else 0.0)
        yield Box(left, y + dy - 1.7, left + wide, y + dy + 0.1), False
    for ring in (4.5, 7.0, 10.0, 14.0, 18.0):
        for n in range(16):
            angle = pi / 8 * n
            px, py = x + ring * cos(angle), y + ring * sin(angle)
            left = px - (wide if cos(angle) < -0.3 else wide / 2 if abs(cos(angle)) <= 0.3 else 0.0)
            yield Box(left, py - 0.9, left + wide, py + 0.9), True


def _measure(scale: float, y: float) -> list[Item]:
    metres = next((step for step in (5.0, 2.0, 1.0, 0.5, 0.2) if step * scale <= 80.0), 0.1)
    end = metres * scale
    ticks = [Line(((x, y - 1.0), (x, y + 1.0)), "ink") for x in (0.0, end)]
    return [
        Line(((0.0, y), (end, y)), "ink"),
        *ticks,
        Text((end + 2.0, y + 0.9), f"{metres:g} m", "t-terminal"),
    ]


def _lists(joined: Installation, order: dict[str, str]) -> list[Block]:
    """List the places with what is there, in columns."""
    lines: list[tuple[str, str, str]] = []
    look = LETTERINGS["t-fine"]
    for name, spot in joined.dossier.places.items():
        here = [one.item.name for one in joined.equipment.values() if one.item.place == name]
        lines.append((order[name], spot.name, "t-name"))
        for words in (spot.text, ", ".join(here)):
            wrapped_words = (
                wrapped(words, face=look.face, size=look.size, width=_LIST - 12.0) if words else ()
            )
            lines += [("", line, "t-fine") for line in wrapped_words]
    blocks = []
    for start in range(0, len(lines), _DEEPEST):
        part = lines[start : start + _DEEPEST]
        items: list[Item] = []
        for n, (number, words, cut) in enumerate(part):
            y = 3.0 + _ROW * n
            items.append(Text((8.0, y), words, cut))
            if number:
                items.append(Text((0.0, y), number, "t-symbol-small"))
        blocks.append(Block(tuple(items), _LIST, 4.0 + _ROW * len(part)))
    return blocks
