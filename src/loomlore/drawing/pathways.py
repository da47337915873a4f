"""A path of the current shown on plates: a sneak's or a hazard's, step by step, over as many plates as it crosses.

Every conductor of the path lies in a light band with dark edges; arrows on it say which way, figures in what
order. What it goes through (contacts, lamps, fuses, bolts) stands on the same band. Where the path comes from
another plate or goes on to one, a tag says so, and the notes have every step in words. No hue is needed to read it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import hypot

from loomlore.drawing.composing import selector_groups
from loomlore.drawing.legends import KeyRow
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Box, Circle, Group, Item, Line, Path, Point, Rectangle, Scene, Text, hull
from loomlore.drawing.typefaces import text_width
from loomlore.faults.named_paths import NamedPath
from loomlore.faults.terminals import branch_words
from loomlore.faults.tracing import Step
from loomlore.network.building import Plant

__all__ = ["PathMark", "PathStep", "path_key", "path_mark", "path_notes", "pathed_scene"]

_RING = 1.9  # of a figure's ring [mm]
_FRAME = 10.6  # of a sheet, from its edge [mm]
_ASIDE = 0.9  # that words beside a conductor stand further off with a band on it [mm]
_BESIDE = 4  # what a figure beside its conductor weighs, against one on it
_ARROWS = 9.0  # from one arrow to the next [mm]
_GOING_ON = frozenset({"element", "bridge", "bond", "joint"})


Seat = tuple[Point, int]  # where a figure may stand, and what speaks against it


@dataclass(frozen=True)
class PathStep:
    """One step: its figure, the branch it is, the plate that shows it, its words; ``against`` runs to its start."""

    number: int
    name: str
    sort: str
    service: str
    against: bool
    words: str


@dataclass(frozen=True)
class PathMark:
    """A path to be drawn. ``plates`` are the numbers of the services' plates, ``drawn_as`` other names of parts."""

    name: str
    words: str
    steps: tuple[PathStep, ...]
    plates: Mapping[str, int]
    drawn_as: Mapping[str, str] = field(default_factory=dict)

    @property
    def services(self) -> tuple[str, ...]:
        """The services whose plates show it, in its order."""
        return tuple(dict.fromkeys(step.service for step in self.steps if step.service))


def path_mark(plant: Plant, named: NamedPath) -> PathMark:
    """Return what plates show of a path.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    named : NamedPath
        From ``named_path``.

    Returns
    -------
    PathMark
        A step that is no cable stands on the plate of the cable on that way, or that it leads to, or comes from.
    """
    services = _plate_of_each(plant, named.steps)
    steps = tuple(
        PathStep(
            n,
            step.name,
            step.sort,
            service,
            step.against,
            _step_words(plant, step.name, step.sort, step.against),
        )
        for n, (step, service) in enumerate(zip(named.steps, services, strict=True), 1)
    )
    plates = {name: n for n, name in enumerate(plant.installation.dossier.services, 1)}
    drawn_as = {
        f"{item}.{name}": f"{item}.{names[0]}"
        for item, equipment in plant.installation.equipment.items()
        for _, names in selector_groups(equipment)
        for name in names
    }
    return PathMark(named.name, named.words, steps, plates, drawn_as)


def _plate_of_each(plant: Plant, steps: Sequence[Step]) -> list[str]:
    """The service whose plate shows a step: a cable's own; a way's that of the cable on it, else of the next."""
    cables = plant.installation.dossier.cables
    found = [cables[step.name].service if step.name in cables else "" for step in steps]
    for n, step in enumerate(steps):
        for other, node in ((n - 1, step.enters), (n + 1, step.leaves)):
            if not found[n] and node == step.name and 0 <= other < len(steps) and steps[other].name in cables:
                found[n] = cables[steps[other].name].service
    for n in reversed(range(len(found) - 1)):
        found[n] = found[n] or found[n + 1]
    for n in range(1, len(found)):
        found[n] = found[n] or found[n - 1]
    return found


def _step_words(plant: Plant, name: str, sort: str, against: bool) -> str:
    words = branch_words(plant, name, sort)
    return f"{words} backwards" if against and sort not in _GOING_ON else words


# ---------------------------------------------------------------- in words


def path_notes(mark: PathMark, service: str) -> tuple[str, ...]:
    """Return what the notes of a plate say of a path.

    Parameters
    ----------
    mark : PathMark
        The path.
    service : str
        Whose plate it is.

    Returns
    -------
    tuple of str
        What happens, and every step with the plate it is on.
    """
    runs: list[list[PathStep]] = []
    for step in mark.steps:
        if runs and runs[-1][-1].service == step.service:
            runs[-1].append(step)
        else:
            runs.append([step])
    said = []
    for run in runs:
        number = mark.plates.get(run[0].service)
        where = "this plate" if run[0].service == service else f"plate {number}" if number else "on no plate"
        said.append(f"{where}: " + ", ".join(f"{step.number} {step.words}" for step in run))
    steps = "; ".join(said)
    return f"Path {mark.name}. {mark.words}", f"Its steps, {steps}."


def path_key() -> KeyRow:
    """Return the key's row for a path.

    Returns
    -------
    KeyRow
        A piece of band with an arrow.
    """
    line = ((0.0, 0.0), (12.0, 0.0))
    lines = (Line(line, look) for look in ("path-edge", "path-band", "wire amperes-2"))
    sample = (*lines, *_arrow((8.0, 0.0), 1.0, 0.0))
    return KeyRow(sample, "1 2 3", "the path asked for, in the order of the current")


# ---------------------------------------------------------------- on a sheet


def pathed_scene(scene: Scene, mark: PathMark, service: str) -> Scene:
    """Mark a path in a scene.

    Parameters
    ----------
    scene : Scene
        A service's plate.
    mark : PathMark
        The path.
    service : str
        Whose plate it is.

    Returns
    -------
    Scene
        The same drawing with what it shows of the path.
    """
    steps = [step for step in mark.steps if step.service == service]
    shown: set[int] = set()
    others = list(_others(scene))
    items: list[Item] = []
    for item in scene.items:
        if isinstance(item, Group) and item.role == "part":
            x, y, scale = -item.shift[0], -item.shift[1], 1 / item.scale
            around = [_scaled(box.moved(x, y), scale) for box in others]
            items.append(
                _marked(item, [step for step in steps if step.number not in shown], mark, around, shown)
            )
        else:
            items.append(item)
    return replace(scene, items=tuple(items))


def _others(scene: Scene) -> Iterator[Box]:
    """What stands on the sheet besides the drawing, and everything outside its frame."""
    yield from _solid(item for item in scene.items if not isinstance(item, Group | Rectangle))
    frame = Box(_FRAME, _FRAME, scene.width - _FRAME, scene.height - _FRAME)
    far = 1000.0
    yield Box(-far, -far, frame.left, far)
    yield Box(frame.right, -far, scene.width + far, far)
    yield Box(-far, -far, scene.width + far, frame.top)
    yield Box(-far, frame.bottom, scene.width + far, scene.height + far)


def _scaled(box: Box, scale: float) -> Box:
    return Box(box.left * scale, box.top * scale, box.right * scale, box.bottom * scale)


@dataclass
class _Part:
    """What is gathered while one part of a sheet is marked: below the drawing, above it, and where nothing may go."""

    under: list[Item] = field(default_factory=list)
    over: list[Item] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)


def _marked(
    part: Group, steps: Sequence[PathStep], mark: PathMark, around: Sequence[Box], shown: set[int]
) -> Group:
    cables = {step.name for step in steps if step.sort == "cable"}
    part = replace(part, items=tuple(_words_aside(part.items, cables)))
    found = _Part(taken=[*_solid(part.items), *around])
    ends: dict[int, Point] = {}
    seats: list[tuple[PathStep, list[Seat], tuple[Point, ...]]] = []
    for step in steps:
        if step.sort == "cable":
            for line in _lines_of(part.items, step.name):
                points = tuple(reversed(line.points)) if step.against else line.points
                ends[step.number] = points[-1]
                found.under += [Line(points, "path-edge"), Line(points, "path-band")]
                seats.append((step, list(_along(points)), points))
        elif _is_here(part.items, step, mark):
            box = _thing(part.items, step, mark, ends.get(step.number - 1))
            if box is not None:
                found.under.insert(0, Rectangle((box.left, box.top), box.width, box.height, "path-halo", 1.2))
                seats.append((step, list(_around(box)), _corners(box)))
    arrows = _arrows(part.items, steps)
    for step, spots, target in seats:
        found.over += _ring(step, spots, target, found)
    found.over[:0] = [item for at, item in arrows if not any(_near(at, box) for box in _rings(found.over))]
    here = {step.number for step, _, _ in seats}
    shown |= here
    for step, _, _ in seats:
        for number in {step.number - 1, step.number + 1} - here - shown:
            found.over += _tag(step, found, mark, number)
    # Edges first, then bands: where two conductors of the path meet, no edge runs across a band.
    under = sorted(found.under, key=lambda item: isinstance(item, Line) and item.look == "path-band")
    return replace(part, items=(*under, *part.items, *found.over))


def _words_aside(items: Iterable[Item], cables: set[str]) -> Iterator[Item]:
    """Move the words beside the path's conductors off the band."""
    every = list(items)
    solid = list(_solid(every))
    for item in every:
        if not isinstance(item, Group) or item.role != "cable" or item.name not in cables:
            yield item
            continue
        line = next((inner for inner in item.items if isinstance(inner, Line)), None)
        words = (
            _aside(one, line, solid) if line is not None and isinstance(one, Text) else one
            for one in item.items
        )
        yield replace(item, items=tuple(words))


def _aside(text: Text, line: Line, solid: Sequence[Box]) -> Text:
    own = _text_box(text)
    x, y = (own.left + own.right) / 2, (own.top + own.bottom) / 2
    near = (_onto((x, y), *run) for run in pairwise(line.points))
    far, dx, dy = min((hypot(x - on[0], y - on[1]), x - on[0], y - on[1]) for on in near)
    for share in (1.0, 0.6, 0.3):
        move = (share * _ASIDE * dx / max(far, 1e-6), share * _ASIDE * dy / max(far, 1e-6))
        if not any(own.moved(*move).overlaps(other) for other in solid if not other.overlaps(own)):
            return replace(text, at=(text.at[0] + move[0], text.at[1] + move[1]))
    return text


def _onto(at: Point, a: Point, b: Point) -> Point:
    """The point of a run that is nearest to another."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    long = dx * dx + dy * dy
    share = max(0.0, min(1.0, ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / long)) if long else 0.0
    return a[0] + share * dx, a[1] + share * dy


def _lines_of(items: Iterable[Item], cable: str) -> Iterator[Line]:
    for group in items:
        if isinstance(group, Group) and group.role == "cable" and group.name == cable:
            line = next((item for item in group.items if isinstance(item, Line)), None)
            if line is not None:
                yield line


def _is_here(items: Iterable[Item], step: PathStep, mark: PathMark) -> bool:
    """Whether a part has a cable that leads to or from a step: a bolt is drawn at every end that comes to it."""
    beside = [one for one in mark.steps if abs(one.number - step.number) == 1 and one.sort == "cable"]
    beside = [one for one in beside if one.service == step.service]
    held = list(items)
    return not beside or any(True for one in beside for _ in _lines_of(held, one.name))


def _thing(items: Iterable[Item], step: PathStep, mark: PathMark, near: Point | None) -> Box | None:
    """The box of what a step goes through: its part of a symbol, else its way, else a small item whole."""
    name, item = mark.drawn_as.get(step.name, step.name), step.name.partition(".")[0]
    every = list(_named(items))
    for names, roles, most in (
        ({name, step.name}, ("contact", "part"), 60.0),
        ({step.name}, ("item", "earth"), 30.0),
        ({item}, ("item",), 26.0),
        ({step.name}, ("tag",), 30.0),
    ):
        boxes = [box for group, box in every if group.name in names and group.role in roles]
        boxes = [box for box in boxes if max(box.width, box.height) <= most]
        if boxes:
            return min(boxes, key=lambda box: _far(near, box) if near else box.top).grown(0.6)
    return None


def _far(at: Point | None, box: Box) -> float:
    if at is None:
        return 0.0
    x = min(max(at[0], box.left), box.right)
    y = min(max(at[1], box.top), box.bottom)
    return hypot(x - at[0], y - at[1])


def _named(items: Iterable[Item], x: float = 0.0, y: float = 0.0) -> Iterator[tuple[Group, Box]]:
    """Every group that has a name, with the box round what it draws, words apart."""
    for item in items:
        if isinstance(item, Group):
            at = (x + item.shift[0], y + item.shift[1])
            # The bars over an item's terminals reach far beyond it: of an item its symbol alone counts.
            inner = (
                [one for one in item.items if isinstance(one, Group)] if item.role == "item" else item.items
            )
            boxes = list(_shapes(inner, *at))
            if item.name and boxes:
                yield item, hull(boxes)
            yield from _named(item.items, *at)


def _shapes(items: Iterable[Item], x: float, y: float) -> Iterator[Box]:
    """Boxes of what is drawn; a fault's sign and frame are no part of a symbol."""
    for item in items:
        if not isinstance(item, Group) and item.look.startswith("fault"):
            continue
        if isinstance(item, Group):
            yield from _shapes(item.items, x + item.shift[0], y + item.shift[1])
        elif isinstance(item, Circle):
            yield Box(*item.centre, *item.centre).grown(item.radius).moved(x, y)
        elif isinstance(item, Rectangle):
            left, top = item.corner
            yield Box(left, top, left + item.width, top + item.height).moved(x, y)
        elif isinstance(item, Line):
            yield hull(Box(px, py, px, py) for px, py in item.points).moved(x, y)
        elif isinstance(item, Path):
            ends = [values[-2:] for _, values in item.commands if len(values) >= 2]
            yield hull(Box(end[0], end[1], end[0], end[1]) for end in ends).moved(x, y)


def _solid(items: Iterable[Item], x: float = 0.0, y: float = 0.0) -> Iterator[Box]:
    """What a figure must not lie on: words, wires run by run, symbols; cases may be crossed."""
    for item in items:
        if isinstance(item, Group):
            yield from _solid(item.items, x + item.shift[0], y + item.shift[1])
        elif isinstance(item, Text):
            yield _text_box(item).moved(x, y)
        elif isinstance(item, Line):
            yield from (
                hull(Box(*at, *at) for at in run).grown(0.3).moved(x, y) for run in pairwise(item.points)
            )
        elif not (isinstance(item, Rectangle) and "envelope" in item.look):
            plain = replace(item, look="ink")
            yield from (box.grown(0.2) for box in _shapes([plain], x, y))


def _text_box(text: Text) -> Box:
    look = next(LETTERINGS[part] for part in text.look.split() if part in LETTERINGS)
    long = text_width(text.words, face=look.face, size=look.size)
    x, y = text.at
    if text.turned:
        return Box(x - 0.75 * look.size, y - long, x + 0.2 * look.size, y)
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * long
    return Box(left, y - 0.75 * look.size, left + long, y + 0.2 * look.size)


# ---------------------------------------------------------------- figures, arrows, tags


def _along(points: Sequence[Point]) -> Iterator[Seat]:
    """Places on a line, from the middle of its longest run outwards; then places beside it."""
    runs = sorted(pairwise(points), key=lambda run: -hypot(run[1][0] - run[0][0], run[1][1] - run[0][1]))
    for (ax, ay), (bx, by) in runs:
        count = max(1, int(hypot(bx - ax, by - ay)))
        for n in sorted(range(1, count + 1), key=lambda n: abs(n - (count + 1) / 2)):
            share = n / (count + 1)
            yield (ax + share * (bx - ax), ay + share * (by - ay)), 0
    for (ax, ay), (bx, by) in runs[:1]:
        box = Box(min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)).grown(_RING + 0.8)
        for at, _ in _around(box):
            yield at, _BESIDE


def _around(box: Box) -> Iterator[Seat]:
    """Places beside a box, its corners first."""
    for off in (0.3, _RING + 0.4, 2 * _RING, 3 * _RING):
        left, right, top, bottom = box.left - off, box.right + off, box.top - off, box.bottom + off
        middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
        for x in (left, right, middle[0]):
            for y in (top, bottom, middle[1]):
                if (x, y) != middle:
                    yield (x, y), int(off > _RING)


def _corners(box: Box) -> tuple[Point, ...]:
    left, top, right, bottom = box.left, box.top, box.right, box.bottom
    return (left, top), (right, top), (right, bottom), (left, bottom), (left, top)


def _ring(step: PathStep, seats: Sequence[Seat], target: Sequence[Point], part: _Part) -> list[Item]:
    """A figure in a ring at the first of some places at which it lies on nothing, else where it lies on least.

    Where it stands off what it means, a leader joins the two.
    """

    def weighs(seat: Seat) -> int:
        box = Box(*seat[0], *seat[0]).grown(_RING + 0.2)
        # On its own wire it lies once (or a few times where that has edges): others count far more.
        return seat[1] + sum(10 if _covers(other, box) else 1 for other in part.taken if other.overlaps(box))

    (x, y), _ = min(seats, key=weighs)
    part.taken.append(Box(x, y, x, y).grown(_RING))
    near = min((_onto((x, y), *run) for run in pairwise(target)), key=lambda on: hypot(x - on[0], y - on[1]))
    off = hypot(x - near[0], y - near[1])
    return [
        *([Line(((x, y), near), "leader")] if off > _RING + 0.5 else []),
        Circle((x, y), _RING, "path-ring"),
        Text((x, y + 0.85), str(step.number), "t-symbol-small", "middle"),
    ]


def _covers(other: Box, ring: Box) -> bool:
    """Whether something is more than a line through the ring's middle."""
    x, y = (ring.left + ring.right) / 2, (ring.top + ring.bottom) / 2
    thin, about = min(other.width, other.height) <= 0.7, other.grown(0.1)
    return not (thin and about.left <= x <= about.right and about.top <= y <= about.bottom)


def _rings(items: Iterable[Item]) -> list[Box]:
    return [Box(*i.centre, *i.centre).grown(_RING) for i in items if isinstance(i, Circle)]


def _near(at: Point, box: Box) -> bool:
    return _far(at, box) < 1.2


def _arrows(items: Sequence[Item], steps: Iterable[PathStep]) -> list[tuple[Point, Item]]:
    found: list[tuple[Point, Item]] = []
    for step in steps:
        for line in _lines_of(items, step.name) if step.sort == "cable" else ():
            points = tuple(reversed(line.points)) if step.against else line.points
            for (ax, ay), (bx, by) in pairwise(points):
                long = hypot(bx - ax, by - ay)
                count = int(long // _ARROWS) or (1 if long > 4.0 else 0)
                for n in range(count):
                    share = (n + 0.5) / count
                    at = (ax + share * (bx - ax), ay + share * (by - ay))
                    found += [(at, item) for item in _arrow(at, (bx - ax) / long, (by - ay) / long)]
    return found


def _arrow(at: Point, dx: float, dy: float) -> tuple[Item, ...]:
    """A chevron across the band that points the way the current goes."""
    x, y = at
    tip = (x + 0.7 * dx, y + 0.7 * dy)
    back = [(x - 0.5 * dx - side * 1.0 * dy, y - 0.5 * dy + side * 1.0 * dx) for side in (-1.0, 1.0)]
    return (Line((back[0], tip, back[1]), "path-arrow"),)


def _tag(step: PathStep, part: _Part, mark: PathMark, number: int) -> list[Item]:
    """Say beside a figure where the path comes from another plate or goes on to one."""
    other = next((one for one in mark.steps if one.number == number), None)
    if other is None or other.service not in mark.plates or other.service == step.service:
        return []
    way = "goes on to" if number > step.number else "comes from"
    words = f"{step.number} {way} {other.number}, plate {mark.plates[other.service]}"
    ring = next(
        (
            circle.centre
            for circle, text in pairwise(part.over)
            if isinstance(circle, Circle) and isinstance(text, Text) and text.words == str(step.number)
        ),
        None,
    )
    if ring is None:
        return []
    long = text_width(words, face="sans-semibold", size=2.35) + 2.0
    x, y = ring
    for off in (0.6, 2.2, 4.0, 7.0, 11.0):
        for left, top in (
            (x + _RING + off, y - 1.7),
            (x - _RING - off - long, y - 1.7),
            (x - long / 2, y - _RING - off - 3.4),
            (x - long / 2, y + _RING + off),
            (x + _RING + off, y + 1.0 + off),
            (x - _RING - off - long, y + 1.0 + off),
        ):
            box = Box(left, top, left + long, top + 3.4)
            if not any(box.grown(0.2).overlaps(taken) for taken in part.taken):
                part.taken.append(box)
                shape = Rectangle((left, top), long, 3.4, "path-tag", 0.8)
                return [shape, Text((left + 1.0, top + 2.45), words, "t-symbol-small")]
    return []
