"""Loom plates: a loom's route from place to place, its legs, and what leaves it where.

A cable says along which loom it runs, not where it leaves it: it is drawn to leave at the place of the item
it goes to, or at the nearest place of the route where that item stands elsewhere.
"""

from collections.abc import Iterable
from math import ceil

from loomlore.drawing.legends import Legend, subtitle_of
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.preparation import spoken
from loomlore.drawing.scene import Circle, Item, Line, Scene, Text
from loomlore.drawing.sheets import Block, free_plate
from loomlore.drawing.typefaces import text_width, wrapped
from loomlore.record.installation import Installation
from loomlore.record.lengths import end_place, end_position
from loomlore.record.model import AIRFRAME, Cable, Loom

__all__ = ["end_words", "leaves", "leg_lengths", "loom_plate"]

_STOP = 46.0
_ROW = 3.9
_DEEPEST = 36  # lines under a place before the next column
_WIDEST = 380.0  # of a block on A3 [mm]


def leaves(joined: Installation, loom: Loom) -> dict[str, list[tuple[Cable, str]]]:
    """Return which cable ends leave a loom at which place of its route.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    loom : Loom
        The loom.

    Returns
    -------
    dict of str to list of (Cable, str)
        By place: the cable and the end, ``item.terminal``.
    """
    found: dict[str, list[tuple[Cable, str]]] = {place: [] for place in loom.route}
    for cable in joined.dossier.cables.values():
        if cable.along == loom.id:
            stops = [_stop(joined, loom, end) for end in (cable.from_, cable.to)]
            if stops[0] == stops[1] and len(loom.route) > 1:
                stops[1] = _other_stop(joined, loom, cable.to, stops[0])
            for end, stop in zip((cable.from_, cable.to), stops, strict=True):
                found[stop].append((cable, end))
    return found


def leg_lengths(loom: Loom) -> list[float | None]:
    """Return the lengths of a loom's legs.

    Parameters
    ----------
    loom : Loom
        The loom.

    Returns
    -------
    list of float or None
        One for each stretch between two places [mm]; None where the record has none.
    """
    known: list[float | None] = [leg.value * 1000.0 for leg in loom.legs]
    return (known + [None] * len(loom.route))[: max(0, len(loom.route) - 1)]


def _stop(joined: Installation, loom: Loom, end: str) -> str:
    return _nearest(joined, loom.route, end)


def _other_stop(joined: Installation, loom: Loom, end: str, taken: str) -> str:
    return _nearest(joined, [place for place in loom.route if place != taken], end)


def _nearest(joined: Installation, route: Iterable[str], end: str) -> str:
    places = list(route)
    place, at = end_place(end, joined.dossier), end_position(end, joined.dossier)
    if place in places:
        return place
    known = {name: joined.dossier.places[name].at for name in places if name in joined.dossier.places}
    measured = [
        (sum((a - b) ** 2 for a, b in zip(at, spot, strict=True)), places.index(name))
        for name, spot in known.items()
        if at is not None and spot is not None
    ]
    return places[min(measured)[1]] if measured else places[-1]


def loom_plate(
    joined: Installation, names: Iterable[str], *, number: str = "", standing: str = ""
) -> list[Scene]:
    """Draw some looms.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    names : iterable of str
        Looms of the record.
    number : str
        Of the plate.
    standing : str
        Name of the standard of fit, for the subtitle.

    Returns
    -------
    list of Scene
        As few sheets as it takes; none where no loom has a route.
    """
    looms = [joined.dossier.looms[name] for name in names]
    blocks = [block for loom in looms if loom.route for block in _trunk(joined, loom)]
    if not blocks:
        return []
    notes = (
        "Over a leg stand the cables that lie in it and its length in the record; it is not drawn to scale.",
        "A cable leaves the loom at the place nearest to what it goes to.",
    )
    return free_plate(
        blocks, Legend("Looms", subtitle_of(joined.dossier.header.title, standing), number, notes=notes)
    )


def _trunk(joined: Installation, loom: Loom) -> list[Block]:
    """Draw a loom from left to right; a long one goes on in further blocks."""
    found = leaves(joined, loom)
    lists = [
        [line for cable, end in found[place] for line in _leaf(joined, cable, end)] for place in loom.route
    ]
    widths = [_STOP * max(1, ceil(len(lines) / _DEEPEST)) for lines in lists]
    blocks: list[Block] = []
    start = 0
    while start < len(loom.route):
        end = start + 1
        while end < len(loom.route) and sum(widths[start : end + 1]) <= _WIDEST:
            end += 1
        blocks.append(_stretch(joined, loom, found, lists, widths, range(start, end)))
        start = end
    return blocks


def _stretch(
    joined: Installation,
    loom: Loom,
    found: dict[str, list[tuple[Cable, str]]],
    lists: list[list[str]],
    widths: list[float],
    stops: range,
) -> Block:
    name = loom.name if stops.start == 0 else f"{loom.name}, continued"
    items: list[Item] = [Text((0.0, 3.0), name, "t-name")]
    look = LETTERINGS["t-name"]
    wide = text_width(name, face=look.face, size=look.size)
    items.append(Text((wide + 3.0, 3.0), _whole(loom), "t-rating"))
    x, y = 2.0, 14.0
    deepest = y
    for n in stops:
        items += _place_name(joined, loom.route[n], x, y - 3.0)
        if n + 1 < len(loom.route):
            items += _leg(loom, found, n, x, y, widths[n])
        items += [Circle((x, y), 1.2, "ring"), Line(((x, y + 1.2), (x, y + 4.0)), "ink")]
        for k, line in enumerate(lists[n]):
            at = (x + _STOP * (k // _DEEPEST), y + 7.0 + _ROW * (k % _DEEPEST))
            items.append(Text(at, line, "t-mark"))
            deepest = max(deepest, at[1] + 2.0)
        x += widths[n]
    if stops.stop < len(loom.route):
        spot = joined.dossier.places.get(loom.route[stops.stop])
        words = f"on to {spot.name.lower() if spot is not None else loom.route[stops.stop]}"
        items.append(Text((x - 1.2, y + 4.0), words, "t-rating", "end"))
    return Block(tuple(items), x, deepest)


def _whole(loom: Loom) -> str:
    """The loom's length from end to end, where the record has every leg."""
    legs = leg_lengths(loom)
    known = [leg for leg in legs if leg is not None]
    return (
        f"{sum(known) / 1000.0:.1f} m from end to end"
        if len(known) == len(legs)
        else "not every leg is recorded"
    )


def _place_name(joined: Installation, place: str, x: float, y: float) -> list[Item]:
    spot = joined.dossier.places.get(place)
    look = LETTERINGS["t-rating"]
    lines = wrapped(
        spot.name if spot is not None else place, face=look.face, size=look.size, width=_STOP - 4.0
    )
    return [Text((x, y - 2.8 * (len(lines) - 1 - n)), line, "t-rating") for n, line in enumerate(lines)]


def _leg(
    loom: Loom, found: dict[str, list[tuple[Cable, str]]], n: int, x: float, y: float, width: float
) -> list[Item]:
    before = [cable.id for place in loom.route[: n + 1] for cable, _ in found[place]]
    count = sum(before.count(name) == 1 for name in set(before))
    length = loom.legs[n].text if n < len(loom.legs) else ""
    many = f"{count} cable" if count == 1 else f"{count} cables"
    words = f"{many} · {length}" if length else f"{many} · length not recorded"
    look = f"wire amperes-{min(5, 2 + count // 8)}"
    return [
        Line(((x + 1.2, y), (x + width - 1.2, y)), look),
        Text((x + width / 2, y - 1.4), words, "t-mark", "middle"),
    ]


def _leaf(joined: Installation, cable: Cable, end: str) -> tuple[str, ...]:
    look = LETTERINGS["t-mark"]
    words = f"{cable.mark or cable.id}  {end_words(joined, end)}"
    if text_width(words, face=look.face, size=look.size) <= _STOP - 3.0:
        return (words,)
    return wrapped(words, face=look.face, size=look.size, width=_STOP - 3.0)


def end_words(joined: Installation, end: str) -> str:
    """Return what a cable's end is printed as: the item and its terminal, or the bolt.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    end : str
        ``item.terminal``.

    Returns
    -------
    str
        In words.
    """
    item, _, terminal = end.partition(".")
    if item == AIRFRAME:
        bolt = joined.dossier.earths.get(terminal)
        return bolt.name if bolt is not None else "airframe"
    name = joined.dossier.items[item].name if item in joined.dossier.items else item
    return f"{spoken(name)} · {terminal}"
