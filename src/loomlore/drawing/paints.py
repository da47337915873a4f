"""What a conductor is painted with: by its role, by the service it belongs to, or by its own cover's colour.

Every paint has a hue and a second mark, so that a copy in black and white reads: a role has a letter, a
service the number of its plate in brackets, a cover the letters of IEC 60757.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from loomlore.drawing.looks import COVERS, ROLES, SERVICE_HUES
from loomlore.record.installation import Installation
from loomlore.record.model import AIRFRAME, Cable

__all__ = ["COLOUR_LETTERS", "WAYS", "Paint", "Painted", "Way", "colour_letters", "in_order", "painted",
           "role_paint", "visual_codes"]  # fmt: skip

Way = Literal["role", "service", "insulation"]
WAYS: tuple[Way, ...] = ("role", "service", "insulation")

# IEC 60757 letters by the colour's name (status: read in retrieved text of GOST 28763-90 = IEC 757:1983).
COLOUR_LETTERS: dict[str, str] = {
    "black": "BK", "brown": "BN", "red": "RD", "orange": "OG", "yellow": "YE", "green": "GN", "blue": "BU",
    "violet": "VT", "grey": "GY", "white": "WH", "pink": "PK", "gold": "GD", "turquoise": "TQ", "silver":
    "SR", "green-yellow": "GNYE",
}  # fmt: skip
_BARS = frozenset({"bus-bar"})


@dataclass(frozen=True, slots=True)
class Paint:
    """A hue by its class, its second mark, and the words of the key.

    ``tracer`` is the class of a second colour, a thin line along the middle; ``edged`` draws the line with
    dark edges, so that white and yellow read on paper; ``rank`` orders the key.
    """

    look: str
    letter: str
    words: str
    tracer: str = ""
    edged: bool = False
    rank: int = 0


_ROLE_PAINTS = {
    role: Paint(f"role-{role}", letter, words, rank=n)
    for n, (role, (letter, words)) in enumerate(ROLES.items())
}


def role_paint(role: str) -> Paint:
    """Return the paint of a role.

    Parameters
    ----------
    role : str
        A key of ``looks.ROLES``.

    Returns
    -------
    Paint
        Its hue, its letter and its words.
    """
    return _ROLE_PAINTS[role]


@dataclass(frozen=True)
class Painted:
    """One way of colouring an installation; ``of_service`` holds the paint of every service."""

    way: Way = "role"
    of_service: Mapping[str, Paint] = field(default_factory=dict)

    def paint(self, cable: Cable, role: str) -> Paint:
        """Return the paint of a cable."""
        if self.way == "service":
            return self.of_service.get(cable.service) or role_paint("recorded")
        if self.way == "insulation":
            return _cover_paint(cable.colour)
        return role_paint(role)


def painted(joined: Installation, way: Way) -> Painted:
    """Work out a way of colouring.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    way : str
        ``role``, ``service`` or ``insulation``.

    Returns
    -------
    Painted
        Services that meet on an item have different hues, as far as the hues go round.
    """
    if way != "service":
        return Painted(way)
    met = _neighbours(joined)
    hues: dict[str, int] = {}
    for service in joined.dossier.services:
        taken = [hues[other] for other in met.get(service, ()) if other in hues]
        every = list(hues.values())
        hues[service] = min(
            range(len(SERVICE_HUES)), key=lambda hue: (taken.count(hue), every.count(hue), hue)
        )
    return Painted(
        way,
        {
            name: Paint(f"service-{hues[name]}", f"({n})", f"{thing.title or thing.name}", rank=n)
            for n, (name, thing) in enumerate(joined.dossier.services.items(), 1)
        },
    )


def _neighbours(joined: Installation) -> dict[str, set[str]]:
    """Return which services meet on an item that is no bar, no box of fuses and not the airframe."""
    at: dict[str, set[str]] = {}
    for cable in joined.dossier.cables.values():
        for end in (cable.from_, cable.to):
            item = end.partition(".")[0]
            equipment = joined.equipment.get(item)
            if item != AIRFRAME and equipment and equipment.symbol not in _BARS and not equipment.fuse_ways:
                at.setdefault(item, set()).add(cable.service)
    found: dict[str, set[str]] = {}
    for many in at.values():
        for service in many:
            found.setdefault(service, set()).update(many - {service})
    return found


# ---------------------------------------------------------------- the cable's own colour


def _colours(colour: str) -> list[str]:
    """Return the names in a cable's colour: ``red/white`` and ``green and yellow`` are two."""
    words = colour.lower().replace("/", " ").replace("-", " ").replace(" and ", " ").split()
    return [{"gray": "grey", "purple": "violet"}.get(word, word) for word in words]


def colour_letters(colour: str) -> str:
    """Write a cable's own colour in the letters of IEC 60757, a combination run together.

    Parameters
    ----------
    colour : str
        As the record has it.

    Returns
    -------
    str
        Words that are no colour of the standard's are left out.
    """
    return "".join(COLOUR_LETTERS.get(word, "") for word in _colours(colour))


def _cover_paint(colour: str) -> Paint:
    names = [name for name in _colours(colour) if name in COLOUR_LETTERS]
    if not names:
        if "bare" in colour.lower():
            return Paint("cover-bare", "bare", "bare metal", rank=98)
        return Paint("cover-unknown", "", "colour not recorded", rank=99)
    words = " with ".join(dict.fromkeys(names))
    tracer = f"cover-{names[1]}" if len(set(names)) > 1 else ""
    rank = list(COLOUR_LETTERS).index(names[0])
    # The letters stand in the cable's mark already.
    letters = "".join(COLOUR_LETTERS[name] for name in names)
    return Paint(f"cover-{names[0]}", "", f"{letters} {words}", tracer, edged=True, rank=rank)


# ---------------------------------------------------------------- the table of codes


def visual_codes() -> tuple[tuple[str, str, str], ...]:
    """Return the one table of visual codes: what is seen, its second mark, what it means.

    Returns
    -------
    tuple of (str, str, str)
        In the documents' order.
    """
    names = {"battery": "purple line", "fused": "vermilion line", "switched": "blue line",
             "generated": "green line", "return": "ink line", "never": "grey line, thin",
             "recorded": "pale grey line"}  # fmt: skip
    rows = [(names[role], letter, words) for role, (letter, words) in ROLES.items()]
    hues = f"one of {len(SERVICE_HUES)} hues, by service"
    rows.append((hues, "(11)", "the service whose plate has that number"))
    rows += [(f"{name} line with dark edges", COLOUR_LETTERS[name], f"cover is {name}") for name in COVERS
             if name in COLOUR_LETTERS]  # fmt: skip
    rows += [
        ("one colour, another along its middle", "RDWH", "cover of two colours, the first is the wider"),
        ("copper-coloured line", "bare", "bare metal"),
        ("grey line, thin, by insulation", "", "colour not recorded"),
        ("width in five steps", "", "up to 3, 12, 30, 100 amperes, and more"),
        ("dashed line", "", "conjecture: no source found"),
        ("thin outline, rounded", "", "the case of an item with several parts"),
        ("thin double line", "", "linkage: moves together"),
        ("gap in a line under another", "", "they cross and do not join"),
        ("thin grey line, in a setting", "", "dead"),
        ("filled lamp, in a setting", "", "lit"),
        ("red band and a cross in a ring", "FAULT", "the fault is here"),
        ("light band with dark edges and arrows", "1 2 3", "the path asked for, in the order of the current"),
    ]
    return tuple(rows)


def in_order(paints: Iterable[Paint]) -> list[Paint]:
    """Put paints into the key's order, each once.

    Parameters
    ----------
    paints : iterable of Paint
        Those used.

    Returns
    -------
    list of Paint
        By rank.
    """
    return sorted(dict.fromkeys(paints), key=lambda paint: (paint.rank, paint.look, paint.words))
