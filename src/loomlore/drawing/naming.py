"""Where the name of an item stands: on which side of its symbol, how near, how high.

A name stands right of what its symbol draws, about its middle; past the words at the terminals, and past the
bars on these, only where its lines would not fit between them. The layout may ask for the left instead.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from loomlore.drawing.bodies import Side, Symbol
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.ordering import Order
from loomlore.drawing.symbols import LABEL_BAND
from loomlore.drawing.typefaces import text_width

__all__ = ["LINE", "Berth", "barred", "berth", "name_size"]

LINE = 3.1  # from one line of a name to the next [mm]
_BAR_AIR = 1.3  # from a bar to a name beside it [mm]
_OVER = 1.0  # how far a name may reach past an end of its symbol that has no bar [mm]


@dataclass(frozen=True, slots=True)
class Berth:
    """A name's place beside its symbol.

    ``off`` is the least distance from the outermost column to the name, ``middle`` the height of its middle
    from the symbol's top [mm]; ``past`` names the sides whose bars it must stand clear of.
    """

    off: float
    middle: float
    past: tuple[Side, ...]


def name_size(name: Iterable[str], small: Iterable[str]) -> tuple[float, float]:
    """Measure the lines beside a symbol.

    Parameters
    ----------
    name, small : iterable of str
        Lines of the name, and the smaller lines under it.

    Returns
    -------
    tuple of float
        Width and height [mm].
    """
    lines = [(line, LETTERINGS["t-name"]) for line in name] + [
        (line, LETTERINGS["t-rating"]) for line in small
    ]
    width = max((text_width(line, face=look.face, size=look.size) for line, look in lines), default=0.0)
    return width, LINE * len(lines)


def barred(order: Order, name: str, symbol: Symbol) -> frozenset[Side]:
    """Return the sides of an item on which several wires meet on one terminal.

    Parameters
    ----------
    order : Order
        Its part's.
    name : str
        The item's id.
    symbol : Symbol
        Its symbol.

    Returns
    -------
    frozenset of str
        Of top and bottom.
    """
    return frozenset(pin.side for pin in symbol.pins if len(order.slots.get((name, pin.name), ())) > 1)


def berth(symbol: Symbol, height: float, *, bars: frozenset[Side], left: bool = False) -> Berth:
    """Find the nearest place for a name.

    Parameters
    ----------
    symbol : Symbol
        What it names.
    height : float
        Of its lines together [mm].
    bars : frozenset of str
        The sides on which several wires meet on one terminal.
    left : bool
        Whether it stands left of the symbol, where no terminal has words.

    Returns
    -------
    Berth
        Between bars and words if it fits there, else past them.
    """
    half, worded = symbol.height / 2, {side for side, _ in symbol.shoulders}
    margins = {
        side: LABEL_BAND + 0.3 if side in worded and not left else _BAR_AIR if side in bars else -_OVER
        for side in ("top", "bottom")
    }
    trunk = symbol.left if left else symbol.trunk
    if symbol.height - margins["top"] - margins["bottom"] >= height:
        low, high = margins["top"] + height / 2, symbol.height - margins["bottom"] - height / 2
        return Berth(trunk, min(max(half, low), high), ())
    past: tuple[Side, ...] = ("top", "bottom") if height > symbol.height - 3.0 else ()
    return Berth(symbol.left if left else symbol.right, half, past)
