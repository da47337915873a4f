"""A fault shown on a plate: a red band along the conductor or a frame round the item, a cross in a ring.

The hue is not needed to see it: band and frame are there without, the ring has a cross, the notes say it in
words.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from loomlore.drawing.legends import fault_sign
from loomlore.drawing.scene import Box, Circle, Group, Item, Line, Path, Point, Rectangle, Scene, Text, hull
from loomlore.drawing.typefaces import text_width
from loomlore.faults.modes import Fault
from loomlore.record.model import AIRFRAME

__all__ = ["FaultMark", "fault_mark", "struck_scene"]

_ON_CABLES = frozenset({"to-earth", "touching"})
_CLEAR = 2.0  # from the middle of a sign to words [mm]


@dataclass(frozen=True)
class FaultMark:
    """What a plate shows of a fault.

    ``cables`` are the faulty conductors; ``exact`` names the ways, bolts or items at fault, ``whole`` the
    items these belong to, marked where no plate shows them singly. ``words`` says it, ``look`` where to look.
    """

    words: str
    look: str = ""
    cables: frozenset[str] = frozenset()
    exact: frozenset[str] = frozenset()
    whole: frozenset[str] = frozenset()


def fault_mark(fault: Fault) -> FaultMark:
    """Return what a plate shows of a fault of the restorer's list.

    Parameters
    ----------
    fault : Fault
        From ``faults_of``.

    Returns
    -------
    FaultMark
        Of a cable's fault the cable, of a bolt's the bolt, else the way or the item.
    """
    sorts = {branch.sort for _, branch in fault.branches}
    thing = fault.id.removesuffix(f".{fault.mode}")
    if sorts & {"bolt", "bond"}:
        bolts = thing.removeprefix(f"{AIRFRAME}.").split("~")
        return FaultMark(fault.words, fault.look, exact=frozenset(f"{AIRFRAME}.{bolt}" for bolt in bolts))
    if fault.cables and (fault.mode in _ON_CABLES or "cable" in sorts):
        return FaultMark(fault.words, fault.look, cables=frozenset(fault.cables))
    _, _, inner = thing.partition(".")
    ways = [way for part in inner.split("~") for way in part.split("x")] if inner else []
    exact = frozenset(f"{item}.{way}" for item in fault.items for way in ways)
    return FaultMark(fault.words, fault.look, exact=exact, whole=frozenset(fault.items))


def struck_scene(scene: Scene, mark: FaultMark) -> tuple[Scene, bool]:
    """Mark a fault in a scene.

    Parameters
    ----------
    scene : Scene
        A plate.
    mark : FaultMark
        What is at fault.

    Returns
    -------
    tuple of Scene and bool
        The plate, and whether the fault is on it.
    """
    names = {group.name for group in _groups(scene.items) if group.role in ("item", "earth", "tag")}
    things = (mark.exact & names) or (mark.whole & names)
    cables = mark.cables & {group.name for group in _groups(scene.items) if group.role == "cable"}
    if not things and not cables:
        return scene, False
    items = tuple(_struck(item, cables, things) for item in scene.items)
    return replace(scene, items=items), True


def _groups(items: Iterable[Item]) -> Iterator[Group]:
    for item in items:
        if isinstance(item, Group):
            yield item
            yield from _groups(item.items)


def _struck(item: Item, cables: frozenset[str], things: frozenset[str]) -> Item:
    if not isinstance(item, Group) or item.role == "bridges":
        return item
    if item.role == "cable":
        return _struck_cable(item) if item.name in cables else item
    if item.role in ("item", "earth", "tag"):
        return _struck_thing(item) if item.name in things else item
    return replace(item, items=tuple(_struck(inner, cables, things) for inner in item.items))


def _struck_cable(cable: Group) -> Group:
    line = next((item for item in cable.items if isinstance(item, Line)), None)
    if line is None:
        return cable
    sign = fault_sign(*_spot(line.points, [item for item in cable.items if isinstance(item, Text)]))
    return replace(cable, items=(Line(line.points, "fault-band"), *cable.items, *sign))


def _spot(points: Sequence[Point], texts: Sequence[Text]) -> Point:
    """Return a place along the longest run, off the words beside it if there is one."""
    (x0, y0), (x1, y1) = max(pairwise(points), key=lambda run: abs(run[0][0] - run[1][0]) + abs(
        run[0][1] - run[1][1]
    ))  # fmt: skip
    taken = [_text_box(text).grown(_CLEAR) for text in texts]
    for share in (0.5, 0.3, 0.7, 0.2, 0.8):
        x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
        room = share * (abs(x1 - x0) + abs(y1 - y0)) > _CLEAR + 1.0
        if room and not any(box.left < x < box.right and box.top < y < box.bottom for box in taken):
            return x, y
    # A short run: beside its middle, on the side that has no words.
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    side = 2.6 if any(box.right - _CLEAR < x for box in taken) else -2.6
    return (x + side, y) if x0 == x1 else (x, y + 2.6)


def _text_box(text: Text) -> Box:
    x, y = text.at
    long = text_width(text.words, face="sans", size=2.35)
    return Box(x - 1.6, y - long, x + 0.4, y) if text.turned else Box(x, y - 1.6, x + long, y + 0.4)


def _struck_thing(thing: Group) -> Group:
    box = hull(_boxes(thing.items)).grown(1.3)
    frame = Rectangle((box.left, box.top), box.width, box.height, "fault-frame", 1.0)
    return replace(thing, items=(*thing.items, frame, *fault_sign(box.left, box.top)))


def _boxes(items: Iterable[Item], x: float = 0.0, y: float = 0.0) -> Iterator[Box]:
    """Go through the boxes of what is drawn, words apart; parts of a symbol are never scaled."""
    for item in items:
        if isinstance(item, Group):
            yield from _boxes(item.items, x + item.shift[0], y + item.shift[1])
        elif isinstance(item, Circle):
            at = Box(item.centre[0], item.centre[1], item.centre[0], item.centre[1])
            yield at.grown(item.radius).moved(x, y)
        elif isinstance(item, Rectangle):
            left, top = item.corner
            yield Box(left, top, left + item.width, top + item.height).moved(x, y)
        elif isinstance(item, Line):
            yield from (Box(px, py, px, py).moved(x, y) for px, py in item.points)
        elif isinstance(item, Path):
            ends = [values[-2:] for _, values in item.commands if len(values) >= 2]
            yield from (Box(end[0], end[1], end[0], end[1]).moved(x, y) for end in ends)
