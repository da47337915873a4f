"""Faces of plugs and fuse boxes: what is in each way, with the cables on either side of it.

How the maker set the pins out is not in the record: ways are drawn in order, in rows, and the plate says so.
"""

from collections.abc import Iterable
from math import ceil

from loomlore.drawing.legends import KeyRow, Legend, line_row, subtitle_of
from loomlore.drawing.looks import LETTERINGS, ROLES
from loomlore.drawing.preparation import cited_together, spoken
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Circle, Item, Line, Rectangle, Scene, Text
from loomlore.drawing.sheets import Block, free_plate
from loomlore.drawing.typefaces import wrapped
from loomlore.record.installation import Installation
from loomlore.record.model import Cable

__all__ = ["fuse_boxes", "fuse_plate", "plug_plate", "plugs"]

_PITCH = 9.0
_ROW = 5.2
_COLUMNS = (0.0, 12.0, 34.0, 56.0, 66.0)  # way, cable on the socket, cable on the plug, role, what for
_WIDE = 118.0


def plugs(joined: Installation) -> list[str]:
    """Return the halves that say what they mate, in order of the record.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.

    Returns
    -------
    list of str
        Item ids.
    """
    return [item for item in joined.equipment if joined.joined_by.get(item) == item]


def plug_plate(
    joined: Installation, roles: Roles, names: Iterable[str], *, number: str = "", standing: str = ""
) -> list[Scene]:
    """Draw the faces of some plugs, with their ways.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    names : iterable of str
        Halves that say what they mate.
    number : str
        Of the plate.
    standing : str
        Name of the standard of fit, for the subtitle.

    Returns
    -------
    list of Scene
        As few sheets as it takes; none without plugs.
    """
    wanted = list(names)
    blocks = [_face(joined, roles, plug) for plug in wanted]
    if not blocks:
        return []
    things = [joined.equipment[plug].item for plug in wanted]
    legend = Legend(
        "Plugs and sockets",
        subtitle_of(joined.dossier.header.title, standing),
        number,
        notes=(
            "Ways are drawn in their order, seen from the pins; the maker's own arrangement is not recorded.",
            "A filled way is in use. Part a plug only with the supply off.",
        ),
        hazards=_hazards(joined, wanted),
        key=_letter_key(_letters(blocks)),
        sources=cited_together(things),
    )
    return free_plate(blocks, legend)


def _letters(blocks: Iterable[Block]) -> set[str]:
    """The roles' letters that stand in the tables."""
    letters = {letter for letter, _ in ROLES.values() if letter}
    return letters & {
        item.words
        for block in blocks
        for item in block.items
        if isinstance(item, Text) and item.look == "t-key"
    }


def _letter_key(used: set[str]) -> tuple[KeyRow, ...]:
    return tuple(
        line_row((f"wire amperes-3 role-{role}",), letter, words)
        for role, (letter, words) in ROLES.items()
        if letter in used
    )


def _hazards(joined: Installation, names: list[str]) -> tuple[str, ...]:
    """A magneto's lead must be named: parted, it leaves the magneto live."""
    magnetos = {
        f"{item}.{element.ends[0]}"
        for item, equipment in joined.equipment.items()
        for element in equipment.elements.values()
        if element.law == "magneto"
    }
    met = {
        plug
        for plug in names
        for way in joined.equipment[plug].terminal_names
        for cable in _on(joined, f"{plug}.{way}")
        if magnetos & {cable.from_, cable.to}
    }
    if not met:
        return ()
    words = ", ".join(joined.equipment[plug].item.name for plug in names if plug in met)
    return (f"{words}: parting it leaves a magneto live whatever the switch shows.",)


def _face(joined: Installation, roles: Roles, plug: str) -> Block:
    equipment = joined.equipment[plug]
    socket = equipment.item.mates
    ways = equipment.terminal_names
    across = max(3, ceil(len(ways) ** 0.5))
    down = ceil(len(ways) / across)
    width, height = across * _PITCH + 4.0, down * _PITCH + 4.0
    top = 12.0
    items: list[Item] = [Text((0.0, 3.0), equipment.item.name, "t-name")]
    place = joined.dossier.places.get(equipment.item.place)
    mate = joined.equipment[socket].item.name
    words = f"in {mate}" + (f", {place.name.lower()}" if place is not None else "")
    items.append(Text((0.0, 6.4), words, "t-rating"))
    items.append(Rectangle((0.0, top), width, height, "body", 5.0))
    for n, way in enumerate(ways):
        x, y = 2.0 + _PITCH * (n % across + 0.5), top + 2.0 + _PITCH * (n // across + 0.5)
        used = bool(_on(joined, f"{plug}.{way}") or _on(joined, f"{socket}.{way}"))
        items.append(Circle((x, y), 3.0, f"ring way {'glass glass-amber' if used else ''}".strip()))
        items.append(Text((x, y + 0.8), way, "t-mark", "middle"))
    table, tall = _table(joined, roles, plug, socket, top + height + 6.0)
    return Block((*items, *table), _WIDE, tall)


def _on(joined: Installation, end: str) -> list[Cable]:
    return [cable for cable in joined.dossier.cables.values() if end in (cable.from_, cable.to)]


def _marks(cables: list[Cable]) -> str:
    return ", ".join(cable.mark or cable.id for cable in cables)


def _table(joined: Installation, roles: Roles, plug: str, socket: str, y: float) -> tuple[list[Item], float]:
    heads = ("way", "socket", "plug", "", "for")
    items: list[Item] = [Text((x, y), word, "t-rating") for x, word in zip(_COLUMNS, heads, strict=True)]
    items.append(Line(((0.0, y + 1.6), (_WIDE, y + 1.6)), "thin"))
    y += _ROW
    look = LETTERINGS["t-key"]
    for way in joined.equipment[plug].terminal_names:
        far, near = _on(joined, f"{socket}.{way}"), _on(joined, f"{plug}.{way}")
        purpose = wrapped(
            _purpose(joined, plug, way, far + near), face=look.face, size=look.size, width=_WIDE - 68.0
        )
        role = roles.of_node.get(f"{plug}.{way}", "never")
        letter = ROLES[role][0] if far or near else ""
        cells = (way, _marks(far), _marks(near), letter)
        items += [Text((x, y), words, "t-key") for x, words in zip(_COLUMNS, cells, strict=False) if words]
        items += [Text((_COLUMNS[4], y + 3.4 * n), line, "t-key") for n, line in enumerate(purpose)]
        y += _ROW + 3.4 * (len(purpose) - 1)
    return items, y


def _purpose(joined: Installation, plug: str, way: str, cables: list[Cable]) -> str:
    written = joined.dossier.ways.get(f"{plug}.{way}")
    if written is not None and written.text:
        if written.spare:
            return f"spare: {written.text[:1].lower()}{written.text[1:]}"
        return written.text if cables else f"{written.text}: nothing on it in this standard of fit"
    services = dict.fromkeys(cable.service for cable in cables)
    titles = [
        joined.dossier.services[name].title or name for name in services if name in joined.dossier.services
    ]
    return "; ".join(titles) or ("spare" if written is not None and written.spare else "not used")


# ---------------------------------------------------------------- fuse boxes

_FUSE_COLUMNS = (0.0, 12.0, 26.0, 58.0, 66.0)  # way, fuse, cables, role, what for


def fuse_boxes(joined: Installation) -> list[str]:
    """Return the boxes of several fused ways, in order of the record.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.

    Returns
    -------
    list of str
        Item ids.
    """
    return [item for item, equipment in joined.equipment.items() if len(equipment.fuse_ways) > 1]


def fuse_plate(
    joined: Installation, roles: Roles, names: Iterable[str], *, number: str = "", standing: str = ""
) -> list[Scene]:
    """Draw the faces of some fuse boxes: what is in each way, and what it feeds.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    names : iterable of str
        Boxes of the record.
    number : str
        Of the plate.
    standing : str
        Name of the standard of fit, for the subtitle.

    Returns
    -------
    list of Scene
        As few sheets as it takes; none without boxes.
    """
    wanted = list(names)
    blocks = [_box_face(joined, roles, box) for box in wanted]
    if not blocks:
        return []
    boxes_here = [joined.equipment[box] for box in wanted]
    things = [box.item for box in boxes_here]
    hazards = [f"{box.item.name}: {box.hazard}" for box in boxes_here if box.hazard]
    legend = Legend(
        "Fuse boxes",
        subtitle_of(joined.dossier.header.title, standing),
        number,
        notes=(
            "Ways are drawn in their order; the maker's own arrangement is not recorded.",
            "A fuse that blows says something is wrong: find what, then put in one of the same amperes.",
        ),
        hazards=tuple(hazards),
        key=_letter_key(_letters(blocks)),
        sources=cited_together(things),
    )
    return free_plate(blocks, legend)


def _box_face(joined: Installation, roles: Roles, box: str) -> Block:
    equipment = joined.equipment[box]
    ways = list(equipment.fuse_ways)
    across = min(len(ways), 10)
    down = ceil(len(ways) / across)
    pitch, tall, top = 11.0, 17.0, 10.0
    items: list[Item] = [Text((0.0, 3.0), spoken(equipment.item.name), "t-name")]
    place = joined.dossier.places.get(equipment.item.place)
    if place is not None:
        items.append(Text((0.0, 6.4), place.name.lower(), "t-rating"))
    items.append(Rectangle((0.0, top), across * pitch + 2.0, down * tall + 2.0, "body", 2.0))
    for n, way in enumerate(ways):
        x, y = 1.0 + pitch * (n % across + 0.5), top + 1.0 + tall * (n // across)
        used = bool(_on(joined, f"{box}.{way}"))
        items.append(Text((x, y + 3.4), way, "t-terminal", "middle"))
        look = "ring" if used else "hair-rule"
        items.append(Rectangle((x - 1.5, y + 4.4), 3.0, 8.0, look))
        items += [Line(((x, y + 4.4), (x, y + 12.4)), "ink")] if used else []
        items.append(Text((x, y + 15.6), _fuse(joined, f"{box}.{way}"), "t-symbol-small", "middle"))
    table, deep = _fuse_table(joined, roles, box, ways, top + down * tall + 8.0)
    return Block((*items, *table), _WIDE, deep)


def _fuse(joined: Installation, way: str) -> str:
    known = joined.dossier.ways.get(way)
    return known.fuse.text if known is not None and known.fuse is not None else ""


def _fuse_table(
    joined: Installation, roles: Roles, box: str, ways: list[str], y: float
) -> tuple[list[Item], float]:
    heads = ("way", "fuse", "cables", "", "for")
    items: list[Item] = [Text((x, y), word, "t-rating") for x, word in zip(_FUSE_COLUMNS, heads, strict=True)]
    items.append(Line(((0.0, y + 1.6), (_WIDE, y + 1.6)), "thin"))
    y += _ROW
    look = LETTERINGS["t-key"]
    for way in ways:
        key = f"{box}.{way}"
        cables = _on(joined, key)
        marks = wrapped(_marks(cables), face=look.face, size=look.size, width=30.0) if cables else ()
        purpose = wrapped(
            _purpose(joined, box, way, cables), face=look.face, size=look.size, width=_WIDE - 68.0
        )
        letter = ROLES[roles.of_node.get(key, "never")][0] if cables else ""
        items += [
            Text((x, y), words, "t-key")
            for x, words in zip((0.0, 12.0, 58.0), (way, _fuse(joined, key), letter), strict=True)
            if words
        ]
        items += [Text((_FUSE_COLUMNS[2], y + 3.4 * n), line, "t-key") for n, line in enumerate(marks)]
        items += [Text((_FUSE_COLUMNS[4], y + 3.4 * n), line, "t-key") for n, line in enumerate(purpose)]
        y += _ROW + 3.4 * (max(len(purpose), len(marks)) - 1)
    return items, y
