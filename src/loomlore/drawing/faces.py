"""Plug faces: which way carries what, seen from the pins, with the cables on either side of each way.

How the maker set the pins out is not in the record: ways are drawn in order, in rows, and the plate says so.
"""

from collections.abc import Iterable
from math import ceil

from loomlore.drawing.looks import LETTERINGS, ROLES
from loomlore.drawing.preparation import citations
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Circle, Item, Line, Rectangle, Scene, Text
from loomlore.drawing.sheets import Block, Legend, free_plate
from loomlore.drawing.typefaces import wrapped
from loomlore.record.installation import Installation
from loomlore.record.model import Cable

__all__ = ["plug_plate", "plugs"]

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


def plug_plate(joined: Installation, roles: Roles, names: Iterable[str], *, number: str = "") -> list[Scene]:
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
        joined.dossier.header.title,
        number,
        notes=(
            "Ways are drawn in their order, seen from the pins; the maker's own arrangement is not recorded.",
            "A filled way is in use. Part a plug only with the supply off.",
        ),
        hazards=_hazards(joined, wanted),
        key=tuple(
            (f"wire amperes-3 role-{role}", f"{letter} {meaning}") for role, (letter, meaning) in _letters()
        ),
        sources="; ".join(citations(things)),
    )
    return free_plate(blocks, legend)


def _letters() -> list[tuple[str, tuple[str, str]]]:
    return [(role, said) for role, said in ROLES.items() if said[0]]


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
        items.append(Text((x, y + 0.8), way, "t-terminal", "middle"))
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
        return written.text
    services = dict.fromkeys(cable.service for cable in cables)
    titles = [
        joined.dossier.services[name].title or name for name in services if name in joined.dossier.services
    ]
    return "; ".join(titles) or ("spare" if written is not None and written.spare else "not used")
