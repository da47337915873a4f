"""The symbol sheet: every glyph and a few composed symbols, each with its name."""

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.diagram import BOLT_BODY, EARTH_BODY
from loomlore.drawing.glyphs import GLYPHS, SHAPES_AFTER_IEC
from loomlore.drawing.legends import Legend
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Group, Item, Scene, Text
from loomlore.drawing.sheets import Block, free_plate
from loomlore.drawing.symbols import compose
from loomlore.drawing.typefaces import wrapped

__all__ = ["specimens", "symbol_sheet"]

_CELL = (28.0, 26.0)
_ACROSS = 9

_NAMES: dict[str, str] = {
    "rheostat": "rheostat, dimmer",
    "carbon-pile": "carbon pile",
    "coil": "relay coil",
    "winding": "winding, field",
    "booster": "booster coil",
    "timer": "timer coil",
    "valve": "solenoid valve",
    "transformer": "rotary transformer",
    "ratio": "ratio meter's coil",
    "plug-way": "plug and socket, one way",
    "cup": "socket, one way",
    "set": "set at constant power",
    "line": "link",
    "make": "contact open at rest",
    "break": "contact closed at rest",
    "terminal": "terminal",
    "bolt": "earth bolt",
}
_MOVERS = {
    "push": "push",
    "guarded-push": "push under a guard",
    "lever": "lever switch",
    "key": "signalling key",
    "cam": "cam switch",
    "pressure": "pressure switch",
    "float": "float or immersion switch",
    "heat": "thermal or flame switch",
    "inertia": "inertia switch",
}


def specimens() -> list[tuple[str, Body]]:
    """Return what the symbol sheet shows.

    Returns
    -------
    list of (str, Body)
        Names, and bodies to compose.
    """
    found = [(_NAMES.get(name, name), _plain(name)) for name in GLYPHS if name not in ("earth", "bolt")]
    found += [("earth", EARTH_BODY), ("earth bolt", BOLT_BODY)]
    found += [(f"lamp, {tint} window", _plain("lamp", tint)) for tint in ("red", "green", "amber", "blue")]
    found += [(name, _moved(mover)) for mover, name in _MOVERS.items()]
    return found + _composed()


def _plain(glyph: str, tint: str = "") -> Body:
    return Body(("a",), ("b",), (Part(glyph, glyph, ("a", "b"), tint=tint),), labels=False, envelope=False)


def _moved(mover: str) -> Body:
    return Body(("1",), ("2",), (Part("pole", "make", ("1", "2"), actuator=mover),))


def _composed() -> list[tuple[str, Body]]:
    coil, main = Part("coil", "coil", ("1", "2")), Part("main", "make", ("A", "B"))
    selector = Part("s", "selector", ("C", "A1", "A2", "A3"), actuator="lever", rest=None)
    shunt = (Part("main", "make", ("D", "A")), Part("shunt", "coil", ("D", "E")))
    machine = (Part("armature", "generator", ("D", "E")), Part("field", "winding", ("F", "E")))
    return [
        ("changeover", Body(("C",), ("B", "M"), (Part("s", "selector", ("C", "B", "M"), actuator="cam"),))),
        ("selector", Body(("C",), ("A1", "A2", "A3"), (selector,))),
        ("relay", Body(("1", "A"), ("2", "B"), (coil, main), (("coil", "main"),))),
        ("cut-out", Body(("D",), ("A", "E"), shunt, (("shunt", "main"),))),
        ("generator with its field", Body((), ("D", "E", "F"), machine)),
        ("box, inside not known", Body(("+", "H"), ("E",), words=("Receiver",))),
    ]


def symbol_sheet(number: str = "") -> list[Scene]:
    """Draw the symbol sheet.

    Parameters
    ----------
    number : str
        Of the plate.

    Returns
    -------
    list of Scene
        One or more sheets.
    """
    everything = specimens()
    rows = [everything[n : n + _ACROSS] for n in range(0, len(everything), _ACROSS)]
    items: list[Item] = []
    y = 0.0
    for row in rows:
        bodies = [compose(body) for _, body in row]
        tallest = max(symbol.height for symbol in bodies)
        for n, ((name, _), symbol) in enumerate(zip(row, bodies, strict=True)):
            places = symbol.places()
            x = n * _CELL[0] + (_CELL[0] - places[-1]) / 2
            items.append(Group(symbol.draw(places, {}), shift=(x, y + (tallest - symbol.height) / 2)))
            items += _caption(name, n * _CELL[0] + _CELL[0] / 2, y + tallest + 4.5)
        y += tallest + 13.0
    after = ", ".join(sorted(name.replace("-", " ") for name in SHAPES_AFTER_IEC))
    legend = Legend(
        "Symbols",
        "on a module of 2.5 mm",
        number,
        notes=(
            f"After IEC 60617, from memory, no conformity claimed: {after}. The rest are our own.",
            "Contacts stand as nobody has touched them. A double line joins a contact to what moves it.",
            "A symbol of several parts is composed from what the item's kind says is inside.",
        ),
    )
    return free_plate([Block(tuple(items), _ACROSS * _CELL[0], y)], legend)


def _caption(name: str, x: float, y: float) -> list[Item]:
    look = LETTERINGS["t-terminal"]
    lines = wrapped(name, face=look.face, size=look.size, width=_CELL[0] - 2.0)
    return [Text((x, y + 2.8 * n), line, "t-terminal", "middle") for n, line in enumerate(lines)]
