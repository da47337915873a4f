"""What a plate is made of: a few kinds of drawn item, in millimetres.

Invariants
----------
* Everything is frozen; x grows to the right, y grows downwards, the unit is the millimetre.
* An item names its ``look`` (one or more class names of ``looks``), never a colour or a face, so that one
  table decides how the paper, the dark and the live variants appear.
* ``only`` names the state of the nearest group in which the item is seen (a blade that is open, a lamp that
  is lit). A painter for paper keeps what fits the group's state; the browser gets everything and shows it by
  class.
* Painters read this module and ``looks`` alone; they know nothing of layout.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "Anchor",
    "Box",
    "Circle",
    "Group",
    "Item",
    "Line",
    "Path",
    "Point",
    "Rectangle",
    "Scene",
    "Text",
    "hull",
    "walk",
]

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Line:
    """A polyline through two or more points."""

    points: tuple[Point, ...]
    look: str
    only: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle about its centre."""

    centre: Point
    radius: float
    look: str
    only: str = ""


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An upright rectangle from its upper left corner."""

    corner: Point
    width: float
    height: float
    look: str
    rounded: float = 0.0
    only: str = ""


@dataclass(frozen=True, slots=True)
class Path:
    """A path of absolute commands: M and L (x y), C (x1 y1 x2 y2 x y), A (r sweep x y; the short arc), Z."""

    commands: tuple[tuple[str, tuple[float, ...]], ...]
    look: str
    only: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of words; ``turned`` is in degrees, counter-clockwise, about ``at`` (on the base line)."""

    at: Point
    words: str
    look: str
    anchor: Anchor = "start"
    turned: float = 0.0
    only: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Items that belong together: an item, a cable, a contact. ``role`` says which, ``name`` whose.

    ``state`` is what it shows at rest; ``link`` is where a press on it leads; ``title`` is read aloud.
    ``shift`` and ``scale`` place it; ``scale`` also scales line widths and type.
    """

    items: "tuple[Item, ...]"
    role: str = ""
    name: str = ""
    state: str = ""
    title: str = ""
    link: str = ""
    shift: Point = (0.0, 0.0)
    scale: float = 1.0
    only: str = ""


Item = Line | Circle | Rectangle | Path | Text | Group


@dataclass(frozen=True, slots=True)
class Scene:
    """One sheet: its size [mm], its items, and what is said of it to those who cannot see it.

    ``trim`` is where a printer cuts it and ``bleed`` how far its ground goes on, where it is larger than that.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    title: str
    description: str = ""
    trim: "Box | None" = None
    bleed: "Box | None" = None


@dataclass(frozen=True, slots=True)
class Box:
    """An upright box between two corners [mm]."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Width [mm]."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Height [mm]."""
        return self.bottom - self.top

    def moved(self, x: float, y: float) -> "Box":
        """Return the box moved by x to the right and y down [mm]."""
        return Box(self.left + x, self.top + y, self.right + x, self.bottom + y)

    def grown(self, margin: float) -> "Box":
        """Return the box with a margin [mm] added on every side."""
        return Box(self.left - margin, self.top - margin, self.right + margin, self.bottom + margin)

    def overlaps(self, other: "Box", least: float = 1e-6) -> bool:
        """Tell whether two boxes share more than ``least`` mm in both directions."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > least and down > least


def hull(boxes: Iterable[Box]) -> Box:
    """Return the smallest box around others; an empty box at the origin where there are none.

    Parameters
    ----------
    boxes : iterable of Box
        The boxes [mm].

    Returns
    -------
    Box
        [mm].
    """
    kept = list(boxes)
    if not kept:
        return Box(0.0, 0.0, 0.0, 0.0)
    return Box(
        min(box.left for box in kept),
        min(box.top for box in kept),
        max(box.right for box in kept),
        max(box.bottom for box in kept),
    )


def walk(items: Iterable[Item], *, scale: float = 1.0) -> Iterator[tuple[Item, float]]:
    """Go through items and the items of groups, with the scale that applies to each.

    Parameters
    ----------
    items : iterable of Item
        The items of a scene or group.
    scale : float
        The scale that applies already [1].

    Yields
    ------
    tuple of Item and float
        The item and its scale [1]; groups come before what they hold.
    """
    for item in items:
        yield item, scale
        if isinstance(item, Group):
            yield from walk(item.items, scale=scale * item.scale)
