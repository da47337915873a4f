"""The small drawings that symbols are composed of, one for every law, contact and actuator.

Each stands on a vertical lead at x = 0 from y = 0 down to its height; the module is 2.5 mm. Shapes follow IEC
60617 where ``SHAPES_AFTER_IEC`` lists them (geometry from memory: no conformity is claimed); the rest are our
own.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import cos, pi, sin

from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Circle, Group, Item, Line, Path, Point, Rectangle, Text

__all__ = [
    "ACTUATOR_REACH",
    "GLYPHS",
    "MODULE",
    "SHAPES_AFTER_IEC",
    "Glyph",
    "actuator",
    "bolt",
    "earth",
    "glyph",
    "lamp",
    "lead",
    "linkage",
    "meter",
]

MODULE = 2.5

# Glyph: number in the older part-wise numbering of IEC 60617. From memory, unverified.
SHAPES_AFTER_IEC: dict[str, str] = {
    "resistor": "04-01-01",
    "rheostat": "04-01-03",
    "rectifier": "05-03-01",
    "battery": "06-15-01",
    "motor": "06-04-01",
    "generator": "06-04-01",
    "make": "07-02-01",
    "break": "07-02-03",
    "selector": "07-02-04",
    "coil": "07-15-01",
    "fuse": "07-21-01",
    "lamp": "08-10-01",
    "meter": "08-02-01",
    "earth": "02-15-01",
    "plug-way": "03-03-05",
}


@dataclass(frozen=True, slots=True)
class Glyph:
    """A drawing on one lead: its height, how far it reaches left and right [mm], and its items."""

    height: float
    left: float
    right: float
    items: tuple[Item, ...]


def lead(top: float, bottom: float, x: float = 0.0) -> Line:
    """Return an upright piece of lead.

    Parameters
    ----------
    top, bottom : float
        Its ends [mm].
    x : float
        Where it stands [mm].

    Returns
    -------
    Line
        In ink.
    """
    return Line(((x, top), (x, bottom)), "ink")


def _letters(words: str, y: float, look: str = "t-symbol") -> Text:
    return Text((0.0, y + 0.33 * LETTERINGS[look].size), words, look, "middle")


def _arrow(tail: Point, head: Point, size: float = 1.3) -> tuple[Item, ...]:
    (x0, y0), (x1, y1) = tail, head
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    bx, by = x1 - size * ux, y1 - size * uy
    wing = 0.35 * size
    barbs = (
        ("M", (x1, y1)),
        ("L", (bx - wing * uy, by + wing * ux)),
        ("L", (bx + wing * uy, by - wing * ux)),
    )
    return Line((tail, (bx, by)), "ink"), Path((*barbs, ("Z", ())), "solid")


def _resistor() -> Glyph:
    return Glyph(10, 1.2, 1.2, (lead(0, 2), Rectangle((-1.1, 2), 2.2, 6, "body"), lead(8, 10)))


def _heater() -> Glyph:
    bars = tuple(Line(((-1.1, y), (1.1, y)), "ink") for y in (3.5, 5.0, 6.5))
    return Glyph(10, 1.2, 1.2, (*_resistor().items, *bars))


def _rheostat() -> Glyph:
    return Glyph(10, 3.2, 3.2, (*_resistor().items, *_arrow((-2.8, 7.4), (2.8, 2.4))))


def _carbon_pile() -> Glyph:
    discs = tuple(Line(((-1.6, 2.6 + 0.8 * n), (1.6, 2.6 + 0.8 * n)), "ink") for n in range(7))
    return Glyph(10, 3.2, 3.2, (lead(0, 2.6), *discs, lead(7.4, 10), *_arrow((-3.0, 7.0), (3.0, 3.0))))


def _coil() -> Glyph:
    return Glyph(10, 3, 3, (lead(0, 3.4), Rectangle((-3, 3.4), 6, 3.2, "body"), lead(6.6, 10)))


def _winding() -> Glyph:
    bumps = tuple(("A", (1.0, 1.0, 0.0, y)) for y in (4.0, 6.0, 8.0))
    return Glyph(10, 0.5, 1.3, (lead(0, 2), Path((("M", (0.0, 2.0)), *bumps), "ink"), lead(8, 10)))


def _booster() -> Glyph:
    core = tuple(Line(((x, 2.2), (x, 7.8)), "thin") for x in (1.8, 2.3))
    return Glyph(10, 0.5, 2.5, (*_winding().items, *core))


def _cross(radius: float, y: float) -> tuple[Item, ...]:
    d = radius * cos(pi / 4)
    return Line(((-d, y - d), (d, y + d)), "ink"), Line(((-d, y + d), (d, y - d)), "ink")


def lamp(tint: str = "") -> Glyph:
    """Return a lamp whose window may be tinted.

    Parameters
    ----------
    tint : str
        ``red``, ``green``, ``amber``, ``blue``, ``white`` or nothing.

    Returns
    -------
    Glyph
        A circle with a diagonal cross.
    """
    look = f"glass glass-{tint}" if tint in {"red", "green", "amber", "blue"} else "glass"
    return Glyph(10, 2.6, 2.6, (lead(0, 2.5), Circle((0, 5), 2.5, look), *_cross(2.5, 5), lead(7.5, 10)))


def _machine(letter: str) -> Glyph:
    brushes = tuple(Rectangle((-0.8, y), 1.6, 0.9, "solid") for y in (1.35, 7.75))
    return Glyph(
        10, 3, 3, (lead(0, 2), *brushes, Circle((0, 5), 2.9, "body"), _letters(letter, 5), lead(8, 10))
    )


def meter(letter: str) -> Glyph:
    """Return a pointer instrument.

    Parameters
    ----------
    letter : str
        A for amperes, V for volts, or another of one or two letters.

    Returns
    -------
    Glyph
        A circle with the letter under a pointer's arc.
    """
    face = Circle((0, 5), 3, "body")
    return Glyph(10, 3.1, 3.1, (lead(0, 2), face, _letters(letter, 5), lead(8, 10)))


def _ratio() -> Glyph:
    pointer = Line(((2.4, 7.6), (5.2, 3.6)), "ink")
    return Glyph(10, 0.5, 5.4, (*_winding().items, pointer, Circle((2.4, 7.6), 0.4, "solid")))


def _horn() -> Glyph:
    bell = (("M", (1.2, 3.8)), ("L", (4.0, 2.0)), ("L", (4.0, 8.0)), ("L", (1.2, 6.2)), ("Z", ()))
    body = Rectangle((-1.2, 3.2), 2.4, 3.6, "body")
    return Glyph(10, 1.4, 4.2, (lead(0, 3.2), Path(bell, "body"), body, lead(6.8, 10)))


def _fuse() -> Glyph:
    return Glyph(10, 1.2, 1.2, (Rectangle((-1.1, 2), 2.2, 6, "body"), lead(0, 10)))


def _breaker() -> Glyph:
    cross = tuple(Line(((-0.8, 3 - s), (0.8, 3 + s)), "ink") for s in (0.8, -0.8))
    return Glyph(10, 3, 1.2, (*_make().items, *cross))


def _battery() -> Glyph:
    plates: list[Item] = []
    for y in (2.4, 4.6, 6.8):
        plates += [Line(((-3.2, y), (3.2, y)), "ink"), Line(((-1.5, y + 0.9), (1.5, y + 0.9)), "thick")]
    plus = (Line(((2.2, 1.0), (3.8, 1.0)), "ink"), Line(((3.0, 0.2), (3.0, 1.8)), "ink"))
    return Glyph(10, 3.4, 4.0, (lead(0, 2.4), *plates, *plus, lead(7.7, 10)))


def _rectifier() -> Glyph:
    triangle = (("M", (-1.7, 3.4)), ("L", (1.7, 3.4)), ("L", (0.0, 6.4)), ("Z", ()))
    bar = Line(((-1.7, 6.4), (1.7, 6.4)), "blade")
    return Glyph(10, 1.9, 1.9, (lead(0, 3.4), Path(triangle, "body"), bar, lead(6.4, 10)))


def _condenser() -> Glyph:
    plates = tuple(Line(((-2.2, y), (2.2, y)), "blade") for y in (4.5, 5.5))
    return Glyph(10, 2.4, 2.4, (lead(0, 4.5), *plates, lead(5.5, 10)))


def _suppressor() -> Glyph:
    return Glyph(10, 1.9, 1.9, (Rectangle((-1.8, 1.6), 3.6, 6.8, "body"), *_winding().items))


def _shunt() -> Glyph:
    block = Rectangle((-1.6, 2.6), 3.2, 4.8, "body")
    taps = tuple(Circle((0, y), 0.4, "solid") for y in (3.4, 6.6))
    return Glyph(10, 1.8, 1.8, (lead(0, 2.6), block, *taps, lead(7.4, 10)))


def _valve() -> Glyph:
    bow = (("M", (4.2, 3.4)), ("L", (7.0, 6.6)), ("L", (7.0, 3.4)), ("L", (4.2, 6.6)), ("Z", ()))
    return Glyph(10, 3, 7.2, (*_coil().items, Line(((3, 5), (5.6, 5)), "linkage"), Path(bow, "body")))


def _cartridge() -> Glyph:
    case = (("M", (-1.7, 2.4)), ("L", (1.7, 2.4)), ("L", (1.7, 7.6)), ("L", (-1.7, 7.6)), ("Z", ()))
    bridge = Line(((0, 2.4), (0, 3.6), (-0.9, 4.2), (0.9, 5.0), (-0.9, 5.8), (0, 6.4), (0, 7.6)), "ink")
    rays = tuple(
        Line(((2.4 * cos(a), 5 + 2.4 * sin(a)), (3.4 * cos(a), 5 + 3.4 * sin(a))), "thin")
        for a in (-0.5, 0.0, 0.5, pi - 0.5, pi, pi + 0.5)
    )
    return Glyph(10, 3.5, 3.5, (lead(0, 2.4), Path(case, "body"), bridge, *rays, lead(7.6, 10)))


def _magneto() -> Glyph:
    shoe = (("M", (-2.4, 6.9)), ("L", (-2.4, 4.6)), ("A", (2.4, 1.0, 2.4, 4.6)), ("L", (2.4, 6.9)))
    spark = Line(((0.4, 3.2), (-0.6, 5.0), (0.6, 5.0), (-0.4, 6.8)), "ink")
    return Glyph(10, 2.8, 2.8, (lead(0, 2.2), Path(shoe, "thick"), spark, lead(6.8, 10)))


def _set() -> Glyph:
    return Glyph(10, 3.8, 3.8, (lead(0, 2.2), Rectangle((-3.6, 2.2), 7.2, 5.6, "body", 0.6), lead(7.8, 10)))


def _timer() -> Glyph:
    clock = (Circle((0, 5), 1.1, "ring"), Line(((0, 4.2), (0, 5), (0.6, 5)), "thin"))
    return Glyph(10, 3, 3, (*_coil().items, *clock))


def _plug_way() -> Glyph:
    cup = Path((("M", (-1.5, 3.0)), ("A", (1.5, 0.0, 1.5, 3.0))), "blade")
    pin = Line(((0, 4.4), (0, 6.0)), "thick")
    return Glyph(7.5, 1.7, 1.7, (lead(0, 4.4), cup, pin, lead(4.4, 7.5)))


def _cup() -> Glyph:
    cup = Path(
        (("M", (-1.6, 5.0)), ("L", (-1.6, 6.4)), ("A", (1.6, 0.0, 1.6, 6.4)), ("L", (1.6, 5.0))), "blade"
    )
    return Glyph(10, 1.8, 1.8, (cup, lead(8.0, 10)))


def _blades(closed: Point, opened: Point, *, rests_open: bool) -> Group:
    pivot = (0.0, 7.5)
    shut = Line((pivot, closed), "blade", "shut")
    away = Line((pivot, opened), "blade", "open")
    return Group((shut, away), role="contact", state="open" if rests_open else "shut")


def _make() -> Glyph:
    blade = _blades((0.0, 3.0), (-2.3, 3.2), rests_open=True)
    dots = (Circle((0, 7.5), 0.4, "solid"), Circle((0, 2.6), 0.45, "ring"))
    return Glyph(10, 2.6, 1.0, (lead(0, 2.2), blade, lead(7.5, 10), *dots))


def _break() -> Glyph:
    blade = _blades((1.5, 2.5), (3.0, 3.6), rests_open=False)
    stop = Line(((0, 2.8), (1.7, 2.8)), "ink")
    return Glyph(10, 1.0, 2.4, (lead(0, 2.8), stop, blade, lead(7.5, 10), Circle((0, 7.5), 0.4, "solid")))


def _earth_plates(y: float) -> tuple[Item, ...]:
    return tuple(Line(((-w, y + d), (w, y + d)), "blade") for w, d in ((2.4, 0.0), (1.5, 1.0), (0.6, 2.0)))


def earth() -> Glyph:
    """Return an earth: an upright line on three bars that grow shorter.

    Returns
    -------
    Glyph
        Its lead at the top.
    """
    return Glyph(3.5, 2.6, 2.6, (lead(0, 1.2), *_earth_plates(1.2)))


def bolt() -> Glyph:
    """Return a named earth bolt: the earth's bars under a ring.

    Returns
    -------
    Glyph
        Its lead at the top.
    """
    return Glyph(
        5.5, 2.6, 2.6, (lead(0, 0.8), Circle((0, 1.7), 0.9, "ring"), lead(2.6, 3.2), *_earth_plates(3.2))
    )


def _terminal() -> Glyph:
    return Glyph(5, 0.8, 0.8, (lead(0, 1.9), Circle((0, 2.5), 0.6, "ring")))


def _line() -> Glyph:
    return Glyph(10, 0.6, 0.6, (lead(0, 10),))


def _stud() -> Glyph:
    return Glyph(5, 1.2, 1.2, (lead(0, 5), Circle((0, 2.5), 0.9, "ring"), Circle((0, 2.5), 0.35, "solid")))


_MAKERS: dict[str, Callable[[], Glyph]] = {
    "line": _line,
    "stud": _stud,
    "resistor": _resistor,
    "heater": _heater,
    "rheostat": _rheostat,
    "carbon-pile": _carbon_pile,
    "coil": _coil,
    "winding": _winding,
    "booster": _booster,
    "lamp": lamp,
    "motor": lambda: _machine("M"),
    "generator": lambda: _machine("G"),
    "transformer": lambda: _machine("MG"),
    "ammeter": lambda: meter("A"),
    "voltmeter": lambda: meter("V"),
    "meter": lambda: meter(""),
    "ratio": _ratio,
    "horn": _horn,
    "fuse": _fuse,
    "breaker": _breaker,
    "battery": _battery,
    "rectifier": _rectifier,
    "condenser": _condenser,
    "suppressor": _suppressor,
    "shunt": _shunt,
    "valve": _valve,
    "cartridge": _cartridge,
    "magneto": _magneto,
    "set": _set,
    "timer": _timer,
    "plug-way": _plug_way,
    "cup": _cup,
    "make": _make,
    "break": _break,
    "terminal": _terminal,
    "earth": earth,
    "bolt": bolt,
}

GLYPHS: dict[str, Glyph] = {name: make() for name, make in _MAKERS.items()}


def glyph(name: str, *, tint: str = "") -> Glyph:
    """Return a glyph by name; an unknown name is the plain box of an unknown element.

    Parameters
    ----------
    name : str
        A key of ``GLYPHS``.
    tint : str
        For a lamp: the colour of its window.

    Returns
    -------
    Glyph
        On one upright lead.
    """
    return lamp(tint) if name == "lamp" else GLYPHS.get(name, GLYPHS["set"])


def actuator(name: str) -> tuple[Item, ...]:
    """Return what moves a blade, to its left, with its double line of linkage.

    Parameters
    ----------
    name : str
        ``push``, ``guarded-push``, ``lever``, ``key``, ``cam``, ``pressure``, ``float``, ``inertia``,
        ``heat``, ``water``.

    Returns
    -------
    tuple of Item
        In the blade's own frame; the linkage meets the blade at (-1.2, 5).
    """
    x = -5.6
    drawn = _ACTUATORS.get(name)
    return (*linkage(x, -1.2, 5.0), *drawn(x)) if drawn else ()


def linkage(start: float, end: float, y: float) -> tuple[Item, ...]:
    """Return a mechanical linkage: a thin double line.

    Parameters
    ----------
    start, end : float
        From and to [mm].
    y : float
        Height [mm].

    Returns
    -------
    tuple of Item
        Two lines.
    """
    return tuple(Line(((start, y + d), (end, y + d)), "linkage") for d in (-0.28, 0.28))


def _push(x: float) -> tuple[Item, ...]:
    return Line(((x + 0.9, 3.5), (x, 3.5), (x, 6.5), (x + 0.9, 6.5)), "ink"), Line(
        ((x, 5), (x + 1.4, 5)), "ink"
    )


def _guarded(x: float) -> tuple[Item, ...]:
    return *_push(x), Path((("M", (x + 1.6, 2.6)), ("L", (x - 1.2, 2.6)), ("L", (x - 1.2, 7.4))), "ink")


def _lever(x: float) -> tuple[Item, ...]:
    return (
        Line(((x, 5), (x - 0.8, 2.8)), "blade"),
        Circle((x, 5), 0.5, "solid"),
        Circle((x - 0.9, 2.5), 0.6, "ring"),
    )


def _key(x: float) -> tuple[Item, ...]:
    return Line(((x, 5), (x, 3.4)), "ink"), Line(((x - 1.2, 3.2), (x + 1.2, 3.2)), "thick")


def _cam(x: float) -> tuple[Item, ...]:
    follower = Path((("M", (x - 1.1, 7.6)), ("A", (2.9, 1.0, x - 1.1, 2.4))), "blade")
    return Circle((x, 5), 0.9, "ring"), follower


def _lettered(letter: str) -> Callable[[float], tuple[Item, ...]]:
    def draw(x: float) -> tuple[Item, ...]:
        words = replace(_letters(letter, 5, "t-symbol-small"), at=(x - 0.6, 5 + 0.33 * 2.35))
        return Rectangle((x - 2.0, 3.6), 2.8, 2.8, "body"), words

    return draw


def _float(x: float) -> tuple[Item, ...]:
    water = Path(
        (("M", (x - 2.2, 6.6)), ("A", (0.7, 1.0, x - 1.0, 6.6)), ("A", (0.7, 0.0, x + 0.2, 6.6))), "thin"
    )
    return Circle((x - 0.9, 5), 1.2, "ring"), water


def _inertia(x: float) -> tuple[Item, ...]:
    weight = (("M", (x - 1.0, 3.4)), ("L", (x + 0.6, 6.4)), ("L", (x - 2.6, 6.4)), ("Z", ()))
    return (Path(weight, "body"),)


_ACTUATORS: dict[str, Callable[[float], tuple[Item, ...]]] = {
    "push": _push,
    "guarded-push": _guarded,
    "lever": _lever,
    "key": _key,
    "cam": _cam,
    "pressure": _lettered("P"),
    "heat": _lettered("T"),
    "water": _float,
    "float": _float,
    "inertia": _inertia,
}
ACTUATOR_REACH = 8.0
