"""A service's plate for the browser: drawn once, and trimmed of its furniture.

Drawing is loaded by what draws, which is the process beside the bench; the bench itself only restyles
(:mod:`loomlore.bench.restyling`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from loomlore.drawing.painting import lettering, write_svg
from loomlore.drawing.scene import Box, Circle, Group, Item, Line, Path, Rectangle, Scene, Text, hull
from loomlore.drawing.typefaces import text_width
from loomlore.findings import UnknownName
from loomlore.network.building import Plant

__all__ = ["LivePlate", "contacts_alone", "live_plate", "plan_drawings", "sheet", "undrawn"]

MARGIN = 4.0
STYLED = ("cable", "contact", "part")


@dataclass(frozen=True)
class LivePlate:
    """The drawings of one service, and the names in them that a state can restyle.

    ``names`` has, by role, name as drawn to name as the state knows it. ``contacts`` is the installation with
    nothing but this plate's items and no branches: what is read off it is their contacts alone, so that a
    toggle costs what its plate costs, not what the installation does.
    """

    service: str
    number: int
    title: str
    drawings: tuple[str, ...]
    names: dict[str, dict[str, str]]
    items: tuple[str, ...]
    contacts: Plant


def live_plate(plant: Plant, service: str) -> LivePlate:
    """Draw a service's plate for the browser.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    service
        Its id.

    Returns
    -------
    LivePlate
        No drawings where the service has no cables in this standard of fit.
    """
    from loomlore.drawing.plates import service_plate
    from loomlore.drawing.roles import roles

    drawn = service_plate(plant, service, known=roles(plant))
    trimmed = [_trimmed(scene) for scene in drawn.scenes]
    groups = [group for scene in trimmed for group in _groups(scene.items)]
    names: dict[str, dict[str, str]] = {role: {} for role in STYLED}
    for group in groups:
        if group.role in names and group.name and not group.name.endswith(("~feed", "~case")):
            names[group.role][group.name] = _known_as(group.name)
    items = tuple(dict.fromkeys(group.name for group in groups if group.role == "item"))
    drawings = tuple(write_svg(scene, words="live") for scene in trimmed)
    return LivePlate(service, drawn.number, drawn.title, drawings, names, items, contacts_alone(plant, names))


def contacts_alone(plant: Plant, names: dict[str, dict[str, str]]) -> Plant:
    """The installation with nothing but a plate's contacts, as :class:`LivePlate` has it.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    names
        Of the plate.

    Returns
    -------
    Plant
        Without branches.
    """
    wanted = {known.rpartition(".")[0] for known in names["contact"].values()}
    equipment = {name: one for name, one in plant.installation.equipment.items() if name in wanted}
    installation = replace(plant.installation, equipment=equipment)
    return replace(plant, installation=installation, network=replace(plant.network, branches=()))


def undrawn(plant: Plant, service: str) -> LivePlate:
    """What is known of a service's plate before it is drawn.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    service
        Its id.

    Returns
    -------
    LivePlate
        With its number and title, and nothing on it.
    """
    services = plant.installation.dossier.services
    number = list(services).index(service) + 1 if service in services else 0
    title = services[service].title or services[service].name if service in services else service
    return LivePlate(service, number, title, (), {role: {} for role in STYLED}, (), plant)


def sheet(plant: Plant, service: str) -> str:
    """Draw a service's plate as a sheet to be printed, with its frame, title and key.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    service
        Its id.

    Returns
    -------
    str
        SVG; its first sheet.

    Raises
    ------
    UnknownName
        Where nothing of the service is fitted.
    """
    from loomlore.drawing.plates import service_plate
    from loomlore.drawing.roles import roles

    drawn = service_plate(plant, service, known=roles(plant))
    if not drawn.scenes:
        raise UnknownName("plate", service)
    return write_svg(drawn.scenes[0])


@lru_cache(maxsize=12)
def plan_drawings(plant: Plant, looms: tuple[str, ...] = ()) -> dict[str, tuple[str, ...]]:
    """Draw the place plan and the loom plan for the browser.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    looms
        Only these on the loom plan; all where none is named.

    Returns
    -------
    dict
        SVG, by title; none where no place has coordinates, or no loom a route.
    """
    from loomlore.drawing.looms import loom_plate

    joined = plant.installation
    drawn = loom_plate(joined, looms or tuple(joined.dossier.looms))
    return {
        "Place plan": _place_sheets(plant),
        "Loom plan": tuple(write_svg(scene, words="live") for scene in drawn),
    }


@lru_cache(maxsize=4)
def _place_sheets(plant: Plant) -> tuple[str, ...]:
    from loomlore.drawing.spots import place_plate

    return tuple(write_svg(scene, words="live") for scene in place_plate(plant.installation))


def _known_as(name: str) -> str:
    """A way is an item of its own on the plate: its fuse is called ``box.3.3`` there, ``box.3`` elsewhere."""
    parts = name.split(".")
    return ".".join(parts[:-1]) if len(parts) > 2 and parts[-1] == parts[-2] else name


def _trimmed(scene: Scene) -> Scene:
    """A scene of the drawing alone: no border, title or key, and no more paper than it needs."""
    parts = tuple(item for item in scene.items if isinstance(item, Group) and item.role == "part")
    box = hull(_boxes(parts, 0.0, 0.0, 1.0)).grown(MARGIN)
    inside = Group(parts, shift=(-box.left, -box.top))
    return replace(scene, width=box.width, height=box.height, items=(inside,))


def _groups(items: Iterable[Item]) -> Iterator[Group]:
    for item in items:
        if isinstance(item, Group):
            yield item
            yield from _groups(item.items)


def _boxes(items: Iterable[Item], x: float, y: float, scale: float) -> Iterator[Box]:
    """The boxes of items on the sheet [mm]; ``x``, ``y`` and ``scale`` place them."""
    for item in items:
        if isinstance(item, Group):
            yield from _boxes(
                item.items, x + scale * item.shift[0], y + scale * item.shift[1], scale * item.scale
            )
            continue
        corners = list(_corners(item))
        if corners:
            across, down = [x + scale * a for a, _ in corners], [y + scale * b for _, b in corners]
            yield Box(min(across), min(down), max(across), max(down))


def _corners(item: Line | Circle | Rectangle | Path | Text) -> Iterator[tuple[float, float]]:
    match item:
        case Line(points=points):
            yield from points
        case Circle(centre=(a, b), radius=r):
            yield from ((a - r, b - r), (a + r, b + r))
        case Rectangle(corner=(a, b)):
            yield from ((a, b), (a + item.width, b + item.height))
        case Path(commands=commands):
            yield from (values[-2:] for _, values in commands if len(values) >= 2)  # type: ignore[misc]
        case Text():
            yield from _text_corners(item)


def _text_corners(text: Text) -> Iterator[tuple[float, float]]:
    look = lettering(text.look)
    width = text_width(text.words, face=look.face, size=look.size, spacing=look.spacing)
    left = -{"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    (a, b), tall = text.at, look.size
    if abs(text.turned) == 90.0:
        sign = 1.0 if text.turned > 0 else -1.0
        yield from ((a - tall, b - sign * left), (a + tall, b - sign * (left + width)))
    else:
        yield from ((a + left, b - tall), (a + left + width, b + 0.3 * tall))
