"""Test cards: what to measure before and after power is put on, what to expect, and what to beware of.

A card is a title, what has to be done first, and rows. A row has what is measured and where, what is expected,
room for as found and as left, and the cautions of the items it touches beside it. Expected figures are worked out
(ohms with the battery off, amperes with it on); limits are printed with their source and how well it is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.situations import charges_of
from loomlore.faults.terminals import item_place, place_words
from loomlore.network.building import Plant
from loomlore.network.laws import (
    Battery,
    Source,
)
from loomlore.record.model import Cable

__all__ = [
    "Card",
    "Limit",
    "Row",
    "batteries_of",
    "cables_of",
    "called",
    "cautions_of",
    "ends_of",
    "judged_row",
    "place_of",
    "power_off",
]


@dataclass(frozen=True, slots=True)
class Limit:
    """A published limit, as printed. ``status`` is how the figure came here."""

    what: str
    words: str
    source: str
    status: str


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a card. ``id`` finds it again when what was found comes back.

    ``of`` are the two terminals that are measured, where there are two; ``wrong`` says what another reading means.
    """

    id: str
    what: str
    where: str = ""
    expect: str
    cautions: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    dimension: str = ""
    of: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Card:
    """One test card. ``meaning`` says what readings mean that are not as expected."""

    id: str
    title: str
    first: tuple[str, ...]
    rows: tuple[Row, ...]
    limits: tuple[Limit, ...] = ()
    meaning: tuple[str, ...] = ()


def judged_row(row: Row, found: float) -> str:
    """A measurement beside its prediction.

    Parameters
    ----------
    row
        Of a card.
    found
        What was measured [ohm], [V] or [A], as the row has it.

    Returns
    -------
    str
        ``as expected``, ``too low``, ``too high``; "" where the row has no figure.
    """
    if row.low is None and row.high is None:
        return ""
    if row.low is not None and found < row.low:
        return "too low"
    return "too high" if row.high is not None and found > row.high else "as expected"


# -- what a service touches ------------------------------------------------------------------------------------

CHARGES_OUT = (
    "Arming plugs out; every cartridge isolated and shorted before any test; "
    "no meter of unknown current near them."
)


def cables_of(plant: Plant, service: str) -> list[Cable]:
    """Cables that are solved, of a service or of all.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id; all where empty.

    Returns
    -------
    list of Cable
        As the record has them.
    """
    return [
        c
        for c in plant.installation.dossier.cables.values()
        if f"cable:{c.id}" in plant.network.branch_of and (not service or c.service == service)
    ]


def cautions_of(plant: Plant, items: Iterable[str]) -> tuple[str, ...]:
    """What to beware of at some items.

    Parameters
    ----------
    plant
        The installation.
    items
        Their ids.

    Returns
    -------
    tuple of str
        Each with the item's name.
    """
    found = []
    for item in dict.fromkeys(items):
        equipment = plant.installation.equipment.get(item)
        if equipment is not None and equipment.hazard:
            found.append(f"{equipment.item.name}: {equipment.hazard}")
    return tuple(found)


def ends_of(cable: Cable) -> tuple[str, str]:
    """The items at a cable's two ends.

    Parameters
    ----------
    cable
        Of the record.

    Returns
    -------
    tuple of str
        From, to.
    """
    return cable.from_.rpartition(".")[0], cable.to.rpartition(".")[0]


def place_of(plant: Plant, item: str) -> str:
    """Where an item is.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.

    Returns
    -------
    str
        In words; empty where nobody wrote it down.
    """
    return place_words(plant, item_place(plant, item)).removeprefix(", ")


def batteries_of(plant: Plant) -> tuple[str, ...]:
    """Batteries and outside supplies.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of str
        Their items.
    """
    found = [b.item for b in plant.network.branches if isinstance(b.law, Battery)]
    found += [b.item for b in plant.network.branches if isinstance(b.law, Source)]
    return tuple(dict.fromkeys(found))


def called(plant: Plant, items: Iterable[str]) -> str:
    """Items by their names.

    Parameters
    ----------
    plant
        The installation.
    items
        Their ids.

    Returns
    -------
    str
        ``the battery and the ground supply``.
    """
    return listed([f"the {lowered(name_of(plant, item))}" for item in items])


def power_off(plant: Plant) -> list[str]:
    """What has to be dead and safe before a meter that sends a current is put on.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    list of str
        Sentences.
    """
    first = []
    if batteries_of(plant):
        first.append(f"Lead off {called(plant, batteries_of(plant))}, and tied back.")
    if charges_of(plant):
        first.append(CHARGES_OUT)
    return first
