"""What symbols are made of: parts between ends, bodies with pins, blocks of columns, the symbol itself.

Types only, and two plain questions about them; ``symbols`` composes, ``inking`` draws.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from loomlore.drawing.scene import Item

__all__ = [
    "GRID", "Block", "Body", "Drawer", "Joint", "Order", "Part", "Pin", "Side", "Symbol", "joints_of",
    "middle",
]  # fmt: skip

Side = Literal["top", "bottom"]
Order = Literal["fixed", "mirror", "free"]

# Columns' places, and where the pins stand that may move between columns: to items.
Drawer = Callable[[Sequence[float], Mapping[str, float]], tuple[Item, ...]]

GRID = 1.25


@dataclass(frozen=True, slots=True)
class Part:
    """One thing inside an item: a glyph between two ends, or a selector (its common end first).

    ``rest`` is the throw a selector's blade stands on at rest (None: between); ``state`` the rest of a plain
    contact.
    """

    name: str
    glyph: str
    ends: tuple[str, ...]
    tint: str = ""
    actuator: str = ""
    rest: int | None = 0
    words: str = ""
    throws: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Body:
    """What a symbol is composed from.

    ``links`` join parts by a linkage; with ``labels`` the pins' names are shown, as ``printed`` has them.
    """

    tops: tuple[str, ...]
    bottoms: tuple[str, ...]
    parts: tuple[Part, ...] = ()
    links: tuple[tuple[str, str], ...] = ()
    order: Order = "mirror"
    labels: bool = True
    envelope: bool | None = None
    words: tuple[str, ...] = ()
    printed: tuple[tuple[str, str], ...] = ()

    def label(self, pin: str) -> str:
        """Return what is printed beside a pin."""
        return next((words for name, words in self.printed if name == pin), pin)


@dataclass(frozen=True, slots=True)
class Pin:
    """A terminal of a symbol: its side, and its column; over a selector, the columns it may stand between.

    ``prefers`` is the column of the throw that the blade rests on.
    """

    name: str
    side: Side
    columns: tuple[int, ...]
    prefers: int | None = None


@dataclass(frozen=True, slots=True)
class Joint:
    """An end of a part in a channel: its net, and the columns whose middle it stands at."""

    side: Side
    net: str
    columns: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """Neighbouring columns that keep together: parts, a selector, a passing lead, a stub."""

    parts: tuple[Part, ...]
    width: int
    joints: tuple[Joint, ...]
    over: bool = False


@dataclass(frozen=True)
class Symbol:
    """A composed symbol: its pins, its columns' least gaps and how far each stretches [mm], its drawing.

    ``inner`` is what its inside costs in tangles and detours. ``right`` has room for the words at the last
    column's terminals; ``trunk`` has not, and ``shoulders`` says how far these words reach on which side.
    """

    pins: tuple[Pin, ...]
    gaps: tuple[float, ...]
    stretches: tuple[float, ...]
    height: float
    left: float
    right: float
    inner: float
    trunk: float
    shoulders: tuple[tuple[Side, float], ...]
    draw: "Drawer" = field(compare=False)

    @property
    def columns(self) -> int:
        """Number of columns."""
        return len(self.gaps) + 1

    def places(self) -> tuple[float, ...]:
        """Return the columns' places at their least gaps, the first at 0 [mm]."""
        places = [0.0]
        for gap in self.gaps:
            places.append(places[-1] + gap)
        return tuple(places)

    def pin(self, name: str) -> Pin:
        """Return a pin by name."""
        return next(pin for pin in self.pins if pin.name == name)


def middle(columns: tuple[int, ...], places: Sequence[float]) -> float:
    """Return the middle of some columns.

    Parameters
    ----------
    columns : tuple of int
        Their numbers.
    places : sequence of float
        Places of all columns [mm].

    Returns
    -------
    float
        [mm].
    """
    return (places[columns[0]] + places[columns[-1]]) / 2


def joints_of(order: Sequence[Block]) -> list[Joint]:
    """Return the joints of blocks set side by side, their columns counted through.

    Parameters
    ----------
    order : sequence of Block
        From left to right.

    Returns
    -------
    list of Joint
        In that order.
    """
    found, first = [], 0
    for block in order:
        found += [replace(joint, columns=tuple(first + n for n in joint.columns)) for joint in block.joints]
        first += block.width
    return found
