"""The loom board at full size: the trunk along its lengths, nails, tails with their tags, tiled over pages.

One millimetre of the board is one of paper. The trunk runs straight from the first place of the route to the
last; two nails hold it at every place and between places, nothing is farther from a nail than 250 mm. They are
numbered, two that stand opposite alike. A tail is drawn as long as it is cut, from the nail at its place to the bar
across its end; one that is too long for the board is folded to and fro round nails of its own, and one too long for
that is broken off. Its tag says in any case where it is cut, and how long the whole cable is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, sqrt

from loomlore.drawing.legends import CAUTION
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.looms import end_words, leaves, leg_lengths
from loomlore.drawing.paints import Paint, Painted
from loomlore.drawing.preparation import cable_role, size_words
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Box, Circle, Group, Item, Line, Point, Rectangle, Scene, Text
from loomlore.drawing.tails import NAIL, RISE, Tail, cable_tails, laid_tail
from loomlore.drawing.typefaces import text_width, wrapped
from loomlore.record.installation import Installation
from loomlore.record.model import Cable, Loom

__all__ = ["BOARD_SHEETS", "board_length", "loom_board"]

BOARD_SHEETS: dict[str, tuple[float, float]] = {"A4": (297.0, 210.0), "A3": (420.0, 297.0)}
_MARGIN = 12.0  # of a page: printers leave no ink nearer to the edge [mm]
_OVERLAP = 10.0
_TAG = 46.0
_PITCHES = (9.6, 7.4)  # of the comb of tails, the second where many leave at one place [mm]
_MANY = 20
_DEEP = 131.0  # from the trunk to either edge: with both, one row of A3 [mm]
_LOW = 4.0  # a tail below stands upright this much later, to leave room for the rule [mm]
_NAILS_APART = 250.0
_UNKNOWN_LEG = 300.0  # drawn where the record has no length, and marked as broken [mm]


@dataclass(frozen=True)
class _Board:
    """A board: what is on it, and its size [mm]."""

    items: tuple[Item, ...]
    width: float
    height: float


def board_length(loom: Loom) -> tuple[float, int]:
    """Return the trunk's length and how many of its legs the record does not give.

    Parameters
    ----------
    loom : Loom
        The loom.

    Returns
    -------
    tuple of float and int
        [mm], legs of unknown length counted at 300 mm; number of these.
    """
    legs = leg_lengths(loom)
    return sum(leg or _UNKNOWN_LEG for leg in legs), sum(leg is None for leg in legs)


def loom_board(
    joined: Installation,
    roles: Roles,
    name: str,
    *,
    sheet: str = "A3",
    paints: Painted | None = None,
    number: str = "",
) -> list[Scene]:
    """Draw a loom's board at full size, tiled over pages.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    name : str
        The loom.
    sheet : str
        ``A4`` or ``A3``, lying.
    paints : Painted, optional
        How the tails are coloured; by role where not given.
    number : str
        Of the plate.

    Returns
    -------
    list of Scene
        Row by row, from the left, without pages that would be blank; none for a loom of fewer than two places.
    """
    loom = joined.dossier.looms[name]
    if len(loom.route) < 2:
        return []
    board = _board(joined, roles, loom, paints or Painted())
    width, height = BOARD_SHEETS[sheet]
    step = (width - 2 * _MARGIN - _OVERLAP, height - 2 * _MARGIN - _OVERLAP)
    across = max(1, ceil((board.width - _OVERLAP) / step[0]))
    down = max(1, ceil((board.height - _OVERLAP) / step[1]))
    title = f"{loom.name}, board at full size"
    tiles = [(column, row) for row in range(down) for column in range(across)]
    kept = [tile for tile in tiles if any(True for _ in _clipped(board.items, _window(tile, step)))]
    return [_tile(board, tile, kept, step, (width, height), f"{title} · plate {number}") for tile in kept]


def _window(tile: tuple[int, int], step: tuple[float, float]) -> Box:
    """What of the board is on a page."""
    left, top = tile[0] * step[0], tile[1] * step[1]
    return Box(left, top, left + step[0] + _OVERLAP, top + step[1] + _OVERLAP)


# ---------------------------------------------------------------- the board


def _board(joined: Installation, roles: Roles, loom: Loom, paints: Painted) -> _Board:
    found = leaves(joined, loom)
    fan = max(_half_comb(len(many)) for many in found.values()) + 20.0
    level = _DEEP
    places = [fan]
    for leg in leg_lengths(loom):
        places.append(places[-1] + (leg or _UNKNOWN_LEG))
    nails = _nail_places(places)
    items = [*_trunk(loom, found, places, nails, level), *_rule(places, level)]
    tails = cable_tails(joined, loom)
    for place, x in zip(loom.route, places, strict=True):
        nail = f"N{nails.index(x) + 1}"
        items += _place(joined, place, nail, (x + _half_comb(len(found[place])), level))
        for n, (cable, end) in enumerate(found[place]):
            column = _column(n, len(found[place]))
            words = _Words(cable, end_words(joined, end), paints.paint(cable, cable_role(roles, cable)), nail)
            items.append(_tail(words, tails[cable.id, end], (x, level), *column))
    return _Board(tuple(items), places[-1] + fan, 2 * level)


def _pitch(count: int) -> float:
    return _PITCHES[count > _MANY]


def _half_comb(count: int) -> float:
    return ceil(count / 2) * _pitch(count) / 2


def _column(n: int, count: int) -> tuple[float, bool, float]:
    """Where the n-th tail of a place stands beside it [mm], whether above the trunk, and its column's room."""
    up = n % 2 == 0
    side = ceil(count / 2) if up else count // 2
    return _pitch(count) * (n // 2 - (side - 1) / 2), up, _pitch(count)


def _nail_places(places: Sequence[float]) -> list[float]:
    """Where the pairs of nails stand: at every place, and between these nowhere far apart."""
    found: list[float] = []
    for start, end in pairwise(places):
        count = ceil((end - start) / _NAILS_APART)
        found += [start + (end - start) * k / count for k in range(count)]
    return [*found, places[-1]]


def _inside(found: dict[str, list[tuple[Cable, str]]], loom: Loom, n: int) -> int:
    """Count the cables in the leg that begins at the n-th place."""
    before = [cable.id for place in loom.route[: n + 1] for cable, _ in found[place]]
    return sum(before.count(name) == 1 for name in set(before))


def _trunk(
    loom: Loom,
    found: dict[str, list[tuple[Cable, str]]],
    places: Sequence[float],
    nails: Sequence[float],
    level: float,
) -> list[Item]:
    items: list[Item] = []
    halves = [0.8 + 0.8 * sqrt(_inside(found, loom, n)) for n in range(len(places) - 1)]
    for n, leg in enumerate(leg_lengths(loom)):
        start, end, half = places[n], places[n + 1], halves[n]
        items.append(Rectangle((start, level - half), end - start, 2 * half, "body"))
        words = f"{_inside(found, loom, n)} cables · " + (
            f"{loom.legs[n].text}" if leg is not None else "LENGTH NOT RECORDED: measure it on the aircraft"
        )
        items.append(Text(((start + end) / 2, level - half - 5.0), words, "t-note", "middle"))
    for k, x in enumerate(nails, 1):
        half = max(h for h, (a, b) in zip(halves, pairwise(places), strict=True) if a - 1e-6 <= x <= b + 1e-6)
        items += [_nail(x, level - half - 1.2), _nail(x, level + half + 1.2)]
        if x not in places:
            items.append(Text((x + 1.9, level + half + 2.2), f"N{k}", "t-symbol-small"))
    return items


def _nail(x: float, y: float) -> Circle:
    return Circle((x, y), 1.1, "solid")


def _rule(places: Sequence[float], level: float) -> list[Item]:
    """Tick the trunk every 100 mm from its beginning, and say every half metre how far it is."""
    items: list[Item] = []
    for k in range(int((places[-1] - places[0]) // 100.0) + 1):
        x, long = places[0] + 100.0 * k, 5.0 if k % 5 == 0 else 3.0
        items.append(Line(((x, level + 9.0), (x, level + 9.0 + long)), "thin"))
        if k % 5 == 0 and k:
            items.append(Text((x + 1.5, level + 14.0), f"{k / 10:g} m", "t-terminal"))
    return items


def _place(joined: Installation, place: str, nail: str, at: Point) -> list[Item]:
    """Name a place and its nail beside its comb of tails."""
    spot = joined.dossier.places.get(place)
    name = spot.name if spot is not None else place
    return [Text((at[0] + 3.0, at[1] - 22.0), f"{nail} {name.upper()}", "t-head")]


@dataclass(frozen=True)
class _Words:
    """What a tail's tag is written from."""

    cable: Cable
    end: str
    paint: Paint
    nail: str


def _tail(words: _Words, tail: Tail, at: Point, aside: float, up: bool, room: float) -> Group:
    """Draw a tail to its length, its nails, the bar where it is cut, and its tag."""
    lines = _tag_lines(words, tail, 2 if room < _PITCHES[0] else 3)
    look = LETTERINGS["t-mark"]
    long = max(text_width(line, face=look.face, size=look.size) for line in lines) + 2.0
    rise = RISE if up else RISE + _LOW
    known = tail.length if tail.length is not None else NAIL
    laid = laid_tail(known, aside, tag=long, pitch=room, rise=rise)
    sign = -1.0 if up else 1.0

    def on_board(point: Point) -> Point:
        return at[0] + point[0], at[1] + sign * point[1]

    items: list[Item] = [Line(tuple(map(on_board, laid.line)), f"wire amperes-2 {words.paint.look}")]
    items += [Circle(on_board(nail), 0.7, "solid") for nail in laid.nails]
    x, y = laid.line[-1]
    if laid.whole and tail.length is not None:
        items.append(Line((on_board((x - 1.2, y)), on_board((x + 1.2, y))), "thick"))
        if y <= rise:
            items.append(Line((on_board((x, y)), on_board((aside, laid.tag))), "leader"))
    else:
        items += [
            Line((on_board((x - 1.2, y - 1.5 + d)), on_board((x + 1.2, y - 0.3 + d))), "ink")
            for d in (0.0, 1.2)
        ]
    near = on_board((aside, laid.tag))[1]
    items += _tag(lines, at[0] + aside, near - long if up else near, long)
    return Group(tuple(items), role="cable", name=words.cable.id)


def _tag_lines(words: _Words, tail: Tail, most: int) -> tuple[str, ...]:
    """The mark and where it is cut first, whatever else there is no room for."""
    cable = words.cable
    mark = f"{cable.mark or cable.id} {words.paint.letter}".strip()
    whole = f"of {tail.whole:.2f} m" if tail.whole is not None else "length not recorded"
    cut = f"cut {tail.length:.0f} mm from {words.nail}" if tail.length is not None else "cut on the aircraft"
    if tail.length is not None and tail.length <= 0.0:
        cut = "shorter than its legs: look"
    first = f"{mark} · {cut} {whole}"
    rest = " · ".join(part for part in (size_words(cable), words.end) if part)
    look = LETTERINGS["t-mark"]
    lines = [
        line
        for part in (first, rest)
        for line in wrapped(part, face=look.face, size=look.size, width=_TAG - 2.0)
    ]
    return tuple(lines[:most])


def _tag(lines: tuple[str, ...], x: float, top: float, long: float) -> list[Item]:
    half = 1.35 * len(lines) + 0.2
    items: list[Item] = [Rectangle((x - half, top), 2 * half, long, "tag")]
    for n, line in enumerate(lines):
        base = x - half + 2.05 + 2.6 * n
        items.append(Text((base, top + long - 1.0), line, "t-mark", turned=90.0))
    return items


# ---------------------------------------------------------------- tiles


def _tile(
    board: _Board,
    tile: tuple[int, int],
    tiles: Sequence[tuple[int, int]],
    step: tuple[float, float],
    page: tuple[float, float],
    title: str,
) -> Scene:
    window = _window(tile, step)
    shown = tuple(_clipped(board.items, window))
    shift = (_MARGIN - window.left, _MARGIN - window.top)
    name = _tile_name(*tile)
    items = [
        Rectangle((0.0, 0.0), *page, "ground"),
        Group(shown, role="board", shift=shift),
        *_register(tile, tiles, page),
        *_edge_words(tile, tiles, page, f"{title} · page {name} of {_tile_name(*tiles[-1])}"),
    ]
    return Scene(*page, tuple(items), f"{title}, page {name}", "A page of a loom board at full size.")


def _tile_name(column: int, row: int) -> str:
    return f"{chr(ord('A') + row)}{column + 1}"


def _register(
    tile: tuple[int, int], tiles: Sequence[tuple[int, int]], page: tuple[float, float]
) -> Iterator[Item]:
    """Set a cross in a ring where this page lies on its neighbours: lay them over one another."""
    half = _OVERLAP / 2
    xs = ([_MARGIN + half] if tile[0] else []) + (
        [page[0] - _MARGIN - half] if (tile[0] + 1, tile[1]) in tiles else []
    )
    ys = [_MARGIN + half, page[1] - _MARGIN - half]
    if not xs:
        xs = [_MARGIN + half, page[0] - _MARGIN - half]
    for x in xs:
        for y in ys:
            yield Circle((x, y), 2.0, "fine-rule")
            yield Line(((x - 4.0, y), (x + 4.0, y)), "fine-rule")
            yield Line(((x, y - 4.0), (x, y + 4.0)), "fine-rule")


def _edge_words(
    tile: tuple[int, int], tiles: Sequence[tuple[int, int]], page: tuple[float, float], title: str
) -> Iterator[Item]:
    foot = page[1] - 4.5
    yield Text((_MARGIN, foot), title, "t-symbol-small")
    yield Line(((page[0] / 2, foot), (page[0] / 2 + 100.0, foot)), "ink")
    for x in (page[0] / 2, page[0] / 2 + 100.0):
        yield Line(((x, foot - 1.5), (x, foot + 1.5)), "ink")
    check = "100 mm: measure it. If it is not, print again without fitting to the page."
    yield Text((page[0] / 2, foot - 2.4), check, "t-fine")
    yield Text((_MARGIN, 6.0), CAUTION, "t-fine")
    yield Text(
        (_MARGIN + 128.0, 6.0), "Cut a tail at its bar: measured from the trunk at its nail.", "t-fine"
    )
    joins = [
        f"{words} {_tile_name(tile[0] + dx, tile[1] + dy)}"
        for dx, dy, words in ((-1, 0, "left:"), (1, 0, "right:"), (0, -1, "above:"), (0, 1, "below:"))
        if (tile[0] + dx, tile[1] + dy) in tiles
    ]
    yield Text((page[0] - _MARGIN, 6.0), ", ".join(joins), "t-symbol-small", "end")


def _clipped(items: Sequence[Item], window: Box) -> Iterator[Item]:
    for item in items:
        if isinstance(item, Group):
            inner = tuple(_clipped(item.items, window))
            if inner:
                yield Group(inner, role=item.role, name=item.name)
        elif isinstance(item, Line):
            yield from (Line(pair, item.look) for pair in _inside_pairs(item.points, window))
        elif isinstance(item, Rectangle):
            yield from _rectangle_inside(item, window)
        elif isinstance(item, Circle):
            if window.grown(item.radius).overlaps(Box(*item.centre, *item.centre), -1.0):
                yield item
        elif isinstance(item, Text) and _is_on(_text_box(item), window):
            yield item


def _is_on(words: Box, window: Box) -> bool:
    """Words that are shorter than pages overlap stand whole on one page or the other; longer ones may be cut."""
    if max(words.width, words.height) > _OVERLAP:
        return words.overlaps(window)
    across = window.left <= words.left and words.right <= window.right
    return across and window.top <= words.top and words.bottom <= window.bottom


def _inside_pairs(points: Sequence[Point], window: Box) -> Iterator[tuple[Point, Point]]:
    """Cut each piece of a polyline to a window (by the parameter along it)."""
    for (x0, y0), (x1, y1) in pairwise(points):
        low, high = 0.0, 1.0
        spans = ((x0, x1 - x0, window.left, window.right), (y0, y1 - y0, window.top, window.bottom))
        for start, run, first, last in spans:
            if abs(run) < 1e-9:
                low, high = (low, high) if first <= start <= last else (1.0, 0.0)
                continue
            ends = sorted(((first - start) / run, (last - start) / run))
            low, high = max(low, ends[0]), min(high, ends[1])
        if high - low > 1e-9:
            yield (
                (x0 + low * (x1 - x0), y0 + low * (y1 - y0)),
                (x0 + high * (x1 - x0), y0 + high * (y1 - y0)),
            )


def _rectangle_inside(item: Rectangle, window: Box) -> Iterator[Rectangle]:
    """A box is kept whole where it is near the window: the trunk is cut to it, beyond the paper's edge."""
    (x, y), spare = item.corner, window.grown(_MARGIN + 2.0)
    left, right = max(x, spare.left), min(x + item.width, spare.right)
    top, bottom = max(y, spare.top), min(y + item.height, spare.bottom)
    if right > left and bottom > top:
        yield Rectangle((left, top), right - left, bottom - top, item.look)


def _text_box(text: Text) -> Box:
    look = next(LETTERINGS[part] for part in text.look.split() if part in LETTERINGS)
    long = text_width(text.words, face=look.face, size=look.size)
    x, y = text.at
    if text.turned:
        return Box(x - look.size, y - long, x, y)
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * long
    return Box(left, y - look.size, left + long, y)
