"""The place plan: the craft from above and from the port side, figures at its places, and what is there.

The outline is the record's, drawn to scale; both views have one scale. Every place with coordinates has its
figure in both views, outside the craft at a leader that crosses no other; the table says what stands there.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from loomlore.drawing.leading import Led, Spot, led
from loomlore.drawing.legends import Legend, subtitle_of
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Box, Circle, Group, Item, Line, Point, Scene, Text
from loomlore.drawing.sheets import Block, free_plate
from loomlore.drawing.silhouettes import drawn_outline, spread_of
from loomlore.drawing.typefaces import text_width, wrapped
from loomlore.record.installation import Installation
from loomlore.record.outlines import Stretch, clearance, outline_stretches

__all__ = ["place_plate"]

_ROOM = (262.0, 176.0)  # what a view may cover on A3, its numbers' margin apart [mm]
_MARGIN = 13.0  # round the craft, for numbers [mm]
_TOP = 7.0 + _MARGIN  # of the craft, under a view's title [mm]
_OFF = 2.2  # of a number from the outline [mm]
_NEAR = 2.2  # spots nearer than this share one figure [mm]
_LIST = 122.0
_ROW = 3.6
_GAP = 1.5  # between two entries of the table [mm]
_DEPTHS = (176.0, 120.0, 84.0)  # of a column, tried in turn [mm]
_SHARES = (1.0, 0.88, 0.76, 0.64)  # of the largest scale, tried in turn


@dataclass(frozen=True)
class _View:
    """One view: its title, outlines and places in metres, across as it falls on paper."""

    title: str
    stretches: tuple[Stretch, ...]
    spots: tuple[tuple[str, Point], ...]
    routes: tuple[tuple[Point, ...], ...]

    @property
    def box(self) -> Box:
        """Everything that is drawn [m]."""
        points = [at for _, at in self.spots] + [at for route in self.routes for at in route]
        return spread_of((*self.stretches, Stretch(tuple(points), closed=False)))


def place_plate(joined: Installation, *, number: str = "", standing: str = "") -> list[Scene]:
    """Draw the place plan.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    number : str
        Of the plate.
    standing : str
        Name of the standard of fit, for the subtitle.

    Returns
    -------
    list of Scene
        None where no place has coordinates.
    """
    places = joined.dossier.places
    order = {name: f"{n}" for n, name in enumerate(places, 1)}
    if all(spot.at is None for spot in places.values()):
        return []
    views = [
        _view(joined, order, "From the port side, forward end to the left", "side"),
        _view(joined, order, "From above, forward end to the left", "plan"),
    ]
    drawn = any(view.stretches for view in views)
    notes = (
        "Distances are the record's. A fine line within is a loom's route from place to place.",
        "The outline is the record's, point by point; between points it is faired."
        if drawn
        else "The craft's outline is not drawn: the record has no points for it.",
        *_unplaced(joined, order),
    )
    legend = Legend("Places", subtitle_of(joined.dossier.header.title, standing), number, notes=notes)
    return _on_fewest(joined, order, views, legend)


def _on_fewest(
    joined: Installation, order: dict[str, str], views: Sequence[_View], legend: Legend
) -> list[Scene]:
    """Draw as large as will go on the fewest sheets, the table cut into columns as these leave room."""
    largest = min(
        min(_ROOM[0] / max(view.box.width, 0.1), _ROOM[1] / max(view.box.height, 0.1)) for view in views
    )
    tried: list[tuple[int, float, float]] = []
    for share in _SHARES:
        rooms = [Block((), *_size(view, share * largest)) for view in views]
        for deepest in _DEPTHS:
            count = len(free_plate(rooms + _lists(joined, order, deepest), legend))
            tried.append((count, -share, deepest))
            if count == 1:
                break
        if tried[-1][0] == 1:
            break
    _, share, deepest = min(tried, key=lambda one: one[:2])
    drawn = [_drawn(view, -share * largest) for view in views]
    return free_plate(drawn + _lists(joined, order, deepest), legend)


def _unplaced(joined: Installation, order: dict[str, str]) -> Iterator[str]:
    names = [order[name] for name, spot in joined.dossier.places.items() if spot.at is None]
    if names:
        yield f"Without coordinates in the record, so not drawn: {', '.join(names)}."


def _view(joined: Installation, order: dict[str, str], title: str, view: str) -> _View:
    """Take the record's metres to a view's: up and to port are towards the top of the sheet."""
    sign, axis = (-1.0, 2) if view == "side" else (1.0, 1)
    places = joined.dossier.places
    at = {name: (s.at[0], sign * s.at[axis]) for name, s in places.items() if s.at is not None}
    stretches = [
        Stretch(tuple((x, sign * y) for x, y in stretch.points), stretch.closed)
        for outline in joined.dossier.outlines.values()
        if outline.view == view
        for stretch in outline_stretches(outline)
    ]
    routes = [tuple(at[p] for p in loom.route if p in at) for loom in joined.dossier.looms.values()]
    return _View(title, tuple(stretches), tuple((order[n], point) for n, point in at.items()), tuple(routes))


# ---------------------------------------------------------------- a view


def _size(view: _View, scale: float) -> tuple[float, float]:
    """Width and height of a view with its title, its numbers' margin and its scale bar [mm]."""
    wide = max(2 * _MARGIN + view.box.width * scale, 70.0)
    return wide, _TOP + view.box.height * scale + _MARGIN + 6.0


def _drawn(view: _View, scale: float) -> Block:
    box = view.box

    def on_paper(at: Point) -> Point:
        return _MARGIN + (at[0] - box.left) * scale, _TOP + (at[1] - box.top) * scale

    wide, tall = _size(view, scale)
    foot = tall - 6.0
    craft = [Stretch(tuple(map(on_paper, s.points)), s.closed) for s in view.stretches]
    routes = [tuple(map(on_paper, route)) for route in view.routes]
    spots = _gathered([(words, on_paper(at)) for words, at in view.spots])
    items: list[Item] = [Text((0.0, 3.0), view.title, "t-name")]
    shapes = tuple(drawn_outline(s.points, closed=s.closed) for s in craft if len(s.points) > 1)
    items.append(Group(shapes, role="outline", name=view.title))
    items += [Line(route, "route") for route in routes if len(route) > 1]
    for one in _seated(spots, craft, routes, Box(0.0, 6.0, wide, foot)):
        items += _figure(one)
    items += _measure(scale, foot + 4.0)
    return Block(tuple(items), wide, tall)


def _seated(
    spots: Sequence[Spot], craft: Sequence[Stretch], routes: Sequence[Sequence[Point]], field: Box
) -> list[Led]:
    """Seat the numbers outside the craft; where that has too little room, where they touch no line of it."""
    ways = _framed(Stretch(tuple(route), closed=False) for route in routes if len(route) > 1)
    shapes = _framed(craft)
    lines = _framed(Stretch((*s.points, *s.points[:1]), closed=False) for s in craft)

    def outside(box: Box) -> bool:
        return _clear(box, shapes, _OFF) and _clear(box, ways, 0.6)

    def anywhere(box: Box) -> bool:
        return _clear(box, lines, 0.5)

    if craft:
        try:
            return led(spots, field, free=outside)
        except ValueError:
            pass
    return led(spots, field.grown(6.0), free=anywhere)


def _framed(stretches: Iterable[Stretch]) -> list[tuple[Box, Stretch]]:
    """Give every line the box round it, so that most need not be looked at."""
    return [(spread_of([stretch]), stretch) for stretch in stretches]


def _clear(box: Box, framed: Sequence[tuple[Box, Stretch]], least: float) -> bool:
    """Whether a number's box is clear of lines, at its corners and its middle."""
    middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
    corners = [(x, y) for x in (box.left, box.right) for y in (box.top, box.bottom)]
    near = [stretch for frame, stretch in framed if box.grown(least).overlaps(frame.grown(0.1))]
    return all(clearance(at, near) > least for at in (middle, *corners))


def _gathered(placed: Iterable[tuple[str, Point]]) -> list[Spot]:
    """Give places that fall on one another (port and starboard, from the side) one dot and one figure."""
    found: list[tuple[list[str], Point]] = []
    for words, at in placed:
        same = next((one for one in found if abs(one[1][0] - at[0]) + abs(one[1][1] - at[1]) < _NEAR), None)
        if same is None:
            found.append(([words], at))
        else:
            same[0].append(words)
    look = LETTERINGS["t-symbol-small"]
    joined = [(", ".join(names), at) for names, at in found]
    return [Spot(words, at, text_width(words, face=look.face, size=look.size)) for words, at in joined]


def _figure(one: Led) -> list[Item]:
    at = ((one.box.left + one.box.right) / 2, one.box.bottom - 0.55)
    return [
        Line(one.leader, "leader"),
        Circle(one.spot.at, 0.75, "solid"),
        Text(at, one.spot.words, "t-symbol-small", "middle"),
    ]


def _measure(scale: float, y: float) -> list[Item]:
    """A scale bar of round metres in five parts, the first of them filled by turns."""
    metres = next((step for step in (10.0, 5.0, 2.0, 1.0, 0.5, 0.2) if step * scale <= 70.0), 0.1)
    end = metres * scale
    items: list[Item] = [Line(((0.0, y), (end, y)), "ink")]
    for n in range(6):
        x = end * n / 5
        items.append(Line(((x, y - (1.6 if n in (0, 5) else 0.9)), (x, y)), "ink"))
    items.append(Text((end + 2.4, y), f"{metres:g} m", "t-symbol-small"))
    return items


# ---------------------------------------------------------------- the table


Row = tuple[str, str, str, str]


def _lists(joined: Installation, order: dict[str, str], deepest: float) -> list[Block]:
    """List the places with what is there, in columns of nearly one depth; an entry is never parted."""
    entries = [_entry(joined, order, name) for name in joined.dossier.places]
    count = len(_columns(entries, deepest))
    tallest = max(map(_tall, entries))
    depths = [tallest + 4.0 * n for n in range(int((deepest - tallest) / 4.0) + 1)]
    columns = next((c for d in depths if len(c := _columns(entries, d)) == count), None)
    return [_column(column) for column in columns or _columns(entries, deepest)]


def _tall(entry: Sequence[Row]) -> float:
    return _ROW * len(entry) + _GAP


def _columns(entries: Sequence[list[Row]], deepest: float) -> list[list[list[Row]]]:
    columns: list[list[list[Row]]] = [[]]
    for entry in entries:
        if columns[-1] and sum(map(_tall, columns[-1])) + _tall(entry) > deepest:
            columns.append([])
        columns[-1].append(entry)
    return columns


def _entry(joined: Installation, order: dict[str, str], name: str) -> list[Row]:
    """Number, words, their look, and what stands at the right edge."""
    spot = joined.dossier.places[name]
    look = LETTERINGS["t-fine"]
    here = [one.item.name for one in joined.equipment.values() if one.item.place == name]
    lines = [(order[name], spot.name, "t-name", spot.station)]
    for words in (spot.text, ", ".join(here)):
        cut = wrapped(words, face=look.face, size=look.size, width=_LIST - 10.0) if words else ()
        lines += [("", line, "t-fine", "") for line in cut]
    return lines


def _column(entries: Sequence[Sequence[Row]]) -> Block:
    items: list[Item] = []
    y = 3.0
    for n, entry in enumerate(entries):
        if n:
            items.append(Line(((0.0, y - 3.3), (_LIST, y - 3.3)), "hair-rule"))
        for number, words, look, right in entry:
            items.append(Text((8.0, y), words, look))
            items += [Text((_LIST, y), right, "t-rating", "end")] if right else []
            items += [Text((0.0, y), number, "t-symbol-small")] if number else []
            y += _ROW
        y += _GAP
    return Block(tuple(items), _LIST, y - _GAP - 2.0)
