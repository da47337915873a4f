"""What a check is, what it costs, and the words that all checks share.

A check costs minutes: the work, the way in, and the levers to be moved. The figures are common practice, no source,
and the way in is the user's to give.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.tables.telling import listed, order_words
from loomlore.faults.situations import Situation, services_of_lever
from loomlore.faults.terminals import item_place, place_words, services_at
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Generator, Source

__all__ = [
    "AS_SET",
    "WELL",
    "Check",
    "Row",
    "Terms",
    "feeding_services",
    "lever_minutes",
    "may_probe",
    "numbered",
    "setting_words",
    "way_in",
]

WELL = "as it should be"

AS_SET = "as-set"
"""Id of the situation in which the crew saw it."""

SEE_MINUTES = 0.5
VOLTS_MINUTES = 2.0
OHMS_MINUTES = 2.0
FUSE_MINUTES = 1.0
LEVER_MINUTES = 0.1
POWER_OFF_MINUTES = 3.0
"""A lead off the battery, and on again afterwards."""
PART_MINUTES = 3.0
"""A plug parted and mated again."""
LIFT_MINUTES = 5.0
"""An earth bolt lifted, cleaned and made again."""
WAY_IN = 1.0
"""Minutes of the way to a place, where the user gives none. All minutes here: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What the fitter has: tolerance of a reading, way in by place [min], and whether it was just rebuilt.

    ``tolerance`` is a share of the supply's volts: readings closer than that count as the same. ``dead`` says
    that the battery may be taken off, ohms measured, plugs parted and bolts lifted; with more suspects than
    ``part_up_to`` nothing is taken apart yet.
    """

    tolerance: float = 0.04
    way_in: Mapping[str, float] = field(default_factory=dict)
    after_rebuild: bool = True
    metered: bool = True
    dead: bool = True
    part_up_to: int = 150


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check. ``outcomes`` are its possible results in words, by number.

    ``moves`` are the levers to be set first, from rest; ``terminals`` where the leads go, the positive one first.
    ``volts`` is the middle of each band of a voltmeter; ``ohms`` the least and the greatest of each band of an
    ohmmeter. ``first`` is what is done before, in order; ``cautions`` what to beware of besides the item's hazard.
    """

    id: str
    what: str
    words: str
    place: str = ""
    item: str = ""
    minutes: float
    situation: str = ""
    moves: tuple[tuple[int, float], ...] = ()
    terminals: tuple[str, ...] = ()
    outcomes: tuple[str, ...]
    volts: tuple[float, ...] = ()
    ohms: tuple[tuple[float, float], ...] = ()
    first: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Row:
    """A check with the number of its outcome under each suspect, and the reading where there is one."""

    check: Check
    outcomes: tuple[int, ...]
    readings: NDArray[np.float64] | None = None


def feeding_services(plant: Plant) -> frozenset[str]:
    """Services of the batteries and machines: what is wrong there is felt everywhere.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    frozenset of str
        Service ids; of the machines where no battery has one.
    """
    items = {b.item for b in plant.network.branches if isinstance(b.law, Battery | Generator | Source)}
    batteries = {b.item for b in plant.network.branches if isinstance(b.law, Battery)}
    direct = services_at(plant, tuple(sorted(batteries)), ())
    return frozenset(direct) or frozenset(services_at(plant, tuple(sorted(items)), ()))


def way_in(plant: Plant, item: str, terms: Terms) -> float:
    """Minutes to get at an item, as the user says or as is usual.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.
    terms
        What the fitter has.

    Returns
    -------
    float
        Time [min].
    """
    return float(terms.way_in.get(item_place(plant, item), WAY_IN))


def lever_minutes(situation: Situation) -> float:
    """Minutes to set the controls; none where they stand so already, as the crew left them.

    Parameters
    ----------
    situation
        How they are to stand.

    Returns
    -------
    float
        Time [min].
    """
    return 0.0 if situation.id == AS_SET else LEVER_MINUTES * len(situation.moves)


def where(plant: Plant, item: str) -> str:
    """Where an item is, in words.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.

    Returns
    -------
    str
        "" where no place is written.
    """
    return place_words(plant, item_place(plant, item)).removeprefix(", ")


def setting_words(plant: Plant, situation: Situation, wanted: frozenset[str]) -> str:
    """The situation as an order, with only the levers that matter to some services.

    Parameters
    ----------
    plant
        The installation.
    situation
        How it is to stand.
    wanted
        The services; all levers where empty.

    Returns
    -------
    str
        The beginning of a sentence.
    """
    near = wanted | feeding_services(plant)
    kept = [m for m in situation.moves if not wanted or near & services_of_lever(plant, m[0])]
    if kept:
        said = listed([order_words(plant, Operation(lever, value)) for lever, value in kept])
        return said[:1].upper() + said[1:]
    if situation.moves:
        return f"{situation.title[:1].upper()}{situation.title[1:]}"
    return "With everything at rest"


def numbered(labels: Sequence[str]) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """Labels, each once, and the number of each.

    Parameters
    ----------
    labels
        In any order.

    Returns
    -------
    tuple
        (labels by number, numbers).
    """
    names = dict.fromkeys(labels)
    order = {name: n for n, name in enumerate(names)}
    return tuple(names), tuple(order[label] for label in labels)


def may_probe(plant: Plant, terminal: str) -> bool:
    """Whether a meter may go there: never on a cartridge, a fuel tank's unit or high tension.

    Parameters
    ----------
    plant
        The installation.
    terminal
        ``item.terminal``.

    Returns
    -------
    bool
        By the hazard of the item's kind.
    """
    item = terminal.rpartition(".")[0]
    equipment = plant.installation.equipment.get(item)
    return equipment is None or not equipment.hazard.startswith(("EXPLOSIVE", "Fuel vapour", "High tension"))
