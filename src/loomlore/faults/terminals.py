"""Names of terminals, bolts and things as a fitter says them, and what lands where."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from loomlore.behaviour.readings import name_of, services_of
from loomlore.behaviour.tables.telling import lowered
from loomlore.network.building import Plant
from loomlore.record.lengths import end_place
from loomlore.record.model import AIRFRAME

__all__ = [
    "branch_words",
    "cables_at",
    "item_place",
    "place_words",
    "services_at",
    "terminal_words",
    "thing_words",
]


def thing_words(plant: Plant, item: str) -> str:
    """An item's name within a sentence: ``the tail lamp``.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.

    Returns
    -------
    str
        With its article.
    """
    return f"the {lowered(name_of(plant, item))}"


def terminal_words(plant: Plant, terminal: str) -> str:
    """A terminal as a fitter says it: ``port root plug 1 way 3``, ``tail lamp 2``, ``the hold bolt``.

    Parameters
    ----------
    plant
        The installation.
    terminal
        ``item.terminal``, ``earth.bolt`` or ``earth``.

    Returns
    -------
    str
        Within a sentence.
    """
    item, _, end = terminal.rpartition(".")
    if terminal == AIRFRAME:
        return "the airframe"
    if item == AIRFRAME:
        bolt = plant.installation.dossier.earths.get(end)
        return (
            f"the {lowered(bolt.name or end.replace('-', ' '))}" if bolt else f"the {end.replace('-', ' ')}"
        )
    equipment = plant.installation.equipment.get(item)
    if equipment is None:
        return terminal
    many = end.isdigit() and len(equipment.terminal_names) > 3
    return f"{lowered(equipment.item.name)} {'way ' if many else ''}{end}"


@lru_cache(maxsize=8)
def _landing(plant: Plant) -> Mapping[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for cable in plant.installation.dossier.cables.values():
        for end in (cable.from_, cable.to):
            if end:
                found.setdefault(end, []).append(cable.id)
    return {end: tuple(cables) for end, cables in found.items()}


def cables_at(plant: Plant, terminal: str) -> tuple[str, ...]:
    """Cables that land on a terminal.

    Parameters
    ----------
    plant
        The installation.
    terminal
        ``item.terminal``.

    Returns
    -------
    tuple of str
        Their ids.
    """
    return _landing(plant).get(terminal, ())


@lru_cache(maxsize=8)
def _services(plant: Plant) -> Mapping[str, tuple[str, ...]]:
    return services_of(plant.installation)


def services_at(plant: Plant, items: Iterable[str], cables: Iterable[str]) -> tuple[str, ...]:
    """Services of some cables; where there are none, those of the items.

    Parameters
    ----------
    plant
        The installation.
    items
        Item ids.
    cables
        Cable ids.

    Returns
    -------
    tuple of str
        Each once.
    """
    known = plant.installation.dossier.cables
    found = dict.fromkeys(known[c].service for c in cables if c in known and known[c].service)
    if not found:
        found = dict.fromkeys(s for item in items for s in _services(plant).get(item, ()))
    return tuple(found)


def item_place(plant: Plant, item: str) -> str:
    """The place where an item is; "" where none is written.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.

    Returns
    -------
    str
        A place's id.
    """
    return end_place(f"{item}.", plant.installation.dossier)


def place_words(plant: Plant, place: str) -> str:
    """A place with its station, to stand behind a name: `` in the hold (frame 15)``; "" where none is known.

    Parameters
    ----------
    plant
        The installation.
    place
        Its id.

    Returns
    -------
    str
        With a blank before it.
    """
    spot = plant.installation.dossier.places.get(place)
    if spot is None:
        return ""
    station = f" ({spot.station})" if spot.station and spot.station != place else ""
    return f", {lowered(spot.name or place.replace('-', ' '))}{station}"


def branch_words(plant: Plant, name: str, sort: str) -> str:
    """A branch as a step of a path: ``H6``, ``hail box contact lower feed``, ``tail lamp``.

    Parameters
    ----------
    plant
        The installation.
    name
        The branch's.
    sort
        Of the branch.

    Returns
    -------
    str
        Within a sentence.
    """
    if sort in ("cable", "bridge"):
        return name
    if sort in ("bolt", "bond"):
        return terminal_words(plant, name.partition("~")[0])
    if sort == "joint":
        return terminal_words(plant, name)
    item, _, part = name.rpartition(".")
    equipment = plant.installation.equipment.get(item)
    if equipment is None:
        return name
    several = len(equipment.contacts) + len(equipment.elements) > 1
    if not several:
        return lowered(equipment.item.name)
    return f"{lowered(equipment.item.name)} {'way ' if part.isdigit() else ''}{part.replace('-', ' ')}"
