"""The loom board at full size: the trunk along its lengths, nails, tails with their tags, tiled over pages.

One millimetre of the board is one of paper. The trunk runs straight from the first place of the route to the
last; two nails hold it at every place and between places, nothing is farther from a nail than 250 mm. Tails
are not to length: where along an item a cable ends is not in the record. Where a cable's length is, the tag
says what both its tails have together.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, sqrt

from loomlore.drawing.legends import CAUTION
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.looms import end_words, leaves
from loomlore.drawing.paints import Painted
from loomlore.drawing.preparation import cable_role, size_words
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Box, Circle, Group, Item, Line, Point, Rectangle, Scene, Text
from loomlore.drawing.typefaces import text_width, wrapped
from loomlore.record.installation import Installation
from loomlore.record.model import Cable, Loom

__all__ = ["BOARD_SHEETS", "board_length", "loom_board"]

BOARD_SHEETS: dict[str, tuple[float, float]] = {"A4": (297.0, 210.0), "A3": (420.0, 297.0)}
_MARGIN = 12.0  # of a page: printers leave no ink nearer to the edge [mm]
_OVERLAP = 10.0
_TAIL = 38.0
_TAG = 62.0
_PITCH = 8.0
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
    legs = _legs(loom)
    return sum(leg or _UNKNOWN_LEG for leg in legs), sum(leg is None for leg in legs)


def _legs(loom: Loom) -> list[float | None]:
    known: list[float | None] = [leg.value * 1000.0 for leg in loom.legs]
    return (known + [None] * len(loom.route))[: max(0, len(loom.route) - 1)]


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
        Row by row, from the left; none for a loom of fewer than two places.
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
    return [
        _tile(board, (column, row), (across, down), step, (width, height), f"{title} · plate {number}")
        for row in range(down)
        for column in range(across)
    ]


# ---------------------------------------------------------------- the board


def _board(joined: Installation, roles: Roles, loom: Loom, paints: Painted) -> _Board:
    found = leaves(joined, loom)
    fan = max(len(many) for many in found.values()) / 2 * _PITCH / 2 + 20.0
    level = _TAG + _TAIL + 14.0
    places = [fan]
    for leg in _legs(loom):
        places.append(places[-1] + (leg or _UNKNOWN_LEG))
    items = [*_trunk(loom, found, places, level), *_rule(places, level)]
    for place, x in zip(loom.route, places, strict=True):
        items += _place(joined, place, (x, ceil(len(found[place]) / 2) * _PITCH / 2), level)
        items += _tails(joined, roles, loom, found[place], (x, level), paints)
    return _Board(tuple(items), places[-1] + fan, 2 * level)


def _inside(found: dict[str, list[tuple[Cable, str]]], loom: Loom, n: int) -> int:
    """Count the cables in the leg that begins at the n-th place."""
    before = [cable.id for place in loom.route[: n + 1] for cable, _ in found[place]]
    return sum(before.count(name) == 1 for name in set(before))


def _trunk(
    loom: Loom, found: dict[str, list[tuple[Cable, str]]], places: Sequence[float], level: float
) -> list[Item]:
    items: list[Item] = []
    for n, leg in enumerate(_legs(loom)):
        start, end = places[n], places[n + 1]
        half = 0.8 + 0.8 * sqrt(_inside(found, loom, n))
        items.append(Rectangle((start, level - half), end - start, 2 * half, "body"))
        words = f"{_inside(found, loom, n)} cables · " + (
            f"{loom.legs[n].text}" if leg is not None else "LENGTH NOT RECORDED: measure it on the aircraft"
        )
        items.append(Text(((start + end) / 2, level - half - 5.0), words, "t-note", "middle"))
        count = ceil((end - start) / _NAILS_APART)
        for k in range(count + (n + 1 == len(places) - 1)):
            x = start + (end - start) * k / count
            items += [_nail(x, level - half - 1.2), _nail(x, level + half + 1.2)]
    return items


def _nail(x: float, y: float) -> Circle:
    return Circle((x, y), 1.1, "solid")


def _rule(places: Sequence[float], level: float) -> list[Item]:
    """Tick the trunk every 100 mm from its beginning, and number every half metre."""
    items: list[Item] = []
    for k in range(int((places[-1] - places[0]) // 100.0) + 1):
        x, long = places[0] + 100.0 * k, 5.0 if k % 5 == 0 else 3.0
        items.append(Line(((x, level + 9.0), (x, level + 9.0 + long)), "thin"))
        if k % 5 == 0 and k:
            items.append(Text((x + 1.5, level + 14.0), f"{k / 10:g} m from the first place", "t-terminal"))
    return items


def _place(joined: Installation, place: str, at: tuple[float, float], level: float) -> list[Item]:
    """Name a place beside its fan of tails."""
    spot = joined.dossier.places.get(place)
    name = spot.name if spot is not None else place
    return [Text((at[0] + at[1] + 3.0, level - 22.0), name.upper(), "t-head")]


def _tails(
    joined: Installation,
    roles: Roles,
    loom: Loom,
    ends: Sequence[tuple[Cable, str]],
    at: Point,
    paints: Painted,
) -> Iterator[Item]:
    x, level = at
    count = len(ends)
    for n, (cable, end) in enumerate(ends):
        up = n % 2 == 0
        side = ceil(count / 2) if up else count // 2
        tail = x + _PITCH * (n // 2 - (side - 1) / 2)
        far = level - 14.0 - _TAIL if up else level + 20.0 + _TAIL - 6.0
        elbow = level - 20.0 if up else level + 26.0
        paint = paints.paint(cable, cable_role(roles, cable))
        line = Line(((x, level), (tail, elbow), (tail, far)), f"wire amperes-2 {paint.look}")
        words = _tag_lines(joined, loom, cable, end, paint.letter)
        yield Group((line, *_tag(words, tail, far, up=up)), role="cable", name=cable.id)


def _tag_lines(joined: Installation, loom: Loom, cable: Cable, end: str, letter: str) -> tuple[str, ...]:
    parts = [f"{cable.mark or cable.id} {letter}".strip(), size_words(cable), end_words(joined, end)]
    together = _both_tails(loom, cable, leaves(joined, loom))
    words = " · ".join(part for part in (*parts, together) if part)
    look = LETTERINGS["t-mark"]
    return wrapped(words, face=look.face, size=look.size, width=_TAG - 4.0)[:3]


def _both_tails(loom: Loom, cable: Cable, found: dict[str, list[tuple[Cable, str]]]) -> str:
    stops = [n for n, place in enumerate(loom.route) for one, _ in found[place] if one.id == cable.id]
    legs = _legs(loom)[min(stops) : max(stops)]
    if cable.length is None or None in legs:
        return ""
    spare = cable.length.value * 1000.0 - sum(leg for leg in legs if leg is not None)
    return f"both tails {spare / 1000.0:.2f} m" if spare > 0 else "shorter than its legs: look"


def _tag(lines: tuple[str, ...], x: float, y: float, *, up: bool) -> list[Item]:
    look = LETTERINGS["t-mark"]
    long = max(text_width(line, face=look.face, size=look.size) for line in lines) + 2.0
    half = 1.35 * len(lines) + 0.2
    top = y - long if up else y
    items: list[Item] = [Rectangle((x - half, top), 2 * half, long, "tag")]
    for n, line in enumerate(lines):
        base = x - half + 2.05 + 2.6 * n
        items.append(Text((base, top + long - 1.0), line, "t-mark", turned=90.0))
    return items


# ---------------------------------------------------------------- tiles


def _tile(
    board: _Board,
    tile: tuple[int, int],
    tiles: tuple[int, int],
    step: tuple[float, float],
    page: tuple[float, float],
    title: str,
) -> Scene:
    left, top = tile[0] * step[0], tile[1] * step[1]
    window = Box(left, top, left + step[0] + _OVERLAP, top + step[1] + _OVERLAP)
    shown = tuple(_clipped(board.items, window))
    shift = (_MARGIN - left, _MARGIN - top)
    name = _tile_name(*tile)
    items = [
        Rectangle((0.0, 0.0), *page, "ground"),
        Group(shown, role="board", shift=shift),
        *_register(tile, tiles, page),
        *_edge_words(tile, tiles, page, f"{title} · page {name} of {_tile_name(tiles[0] - 1, tiles[1] - 1)}"),
    ]
    return Scene(*page, tuple(items), f"{title}, page {name}", "A page of a loom board at full size.")


def _tile_name(column: int, row: int) -> str:
    return f"{chr(ord('A') + row)}{column + 1}"


def _register(tile: tuple[int, int], tiles: tuple[int, int], page: tuple[float, float]) -> Iterator[Item]:
    """Set a cross in a ring where this page lies on its neighbours: lay them over one another."""
    half = _OVERLAP / 2
    xs = ([_MARGIN + half] if tile[0] else []) + (
        [page[0] - _MARGIN - half] if tile[0] + 1 < tiles[0] else []
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
    tile: tuple[int, int], tiles: tuple[int, int], page: tuple[float, float], title: str
) -> Iterator[Item]:
    foot = page[1] - 4.5
    yield Text((_MARGIN, foot), title, "t-symbol-small")
    yield Line(((page[0] / 2, foot), (page[0] / 2 + 100.0, foot)), "ink")
    for x in (page[0] / 2, page[0] / 2 + 100.0):
        yield Line(((x, foot - 1.5), (x, foot + 1.5)), "ink")
    check = "100 mm: measure it. If it is not, print again without fitting to the page."
    yield Text((page[0] / 2, foot - 2.4), check, "t-fine")
    yield Text((_MARGIN, 6.0), CAUTION, "t-fine")
    joins = [
        f"{words} {_tile_name(tile[0] + dx, tile[1] + dy)}"
        for dx, dy, words in ((-1, 0, "left:"), (1, 0, "right:"), (0, -1, "above:"), (0, 1, "below:"))
        if 0 <= tile[0] + dx < tiles[0] and 0 <= tile[1] + dy < tiles[1]
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
        elif isinstance(item, Text) and _text_box(item).overlaps(window):
            yield item


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
    """A box is kept whole where it is near the window: the trunk is cut to it with something to spare."""
    (x, y), spare = item.corner, window.grown(_MARGIN)
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
