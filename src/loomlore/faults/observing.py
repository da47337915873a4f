"""What the crew can see, hear or feel; and, of many faults at once, what of it may be otherwise.

The sieve works on arrays of all faults of a situation and lets through too much rather than too little: what it
holds back is surely as it was. Each that it lets through is judged by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loomlore.faults.injecting import Struck
from loomlore.faults.situations import Situation, charges_of, loads_of, magnetos_of
from loomlore.faults.terminals import services_at
from loomlore.network.building import Plant
from loomlore.network.laws import Filament, Meter
from loomlore.network.spreading import Spread

__all__ = ["Observable", "endangered_by", "may_differ", "observables_of", "same_volts"]

VOLTS_SHARE, VOLTS_LEAST = 0.005, 1e-6
"""Volts across a thing within this share and these volts are the same: it does what it did."""

LIGHT_SHARE = 0.03
"""A lamp whose volts differ by less than this share cannot be noticed: a tenth of its light."""

Truths = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Observable:
    """Something the crew can see, hear or feel: one load, or a window with several lamps."""

    name: str
    branches: tuple[int, ...]
    item: str
    service: str


@lru_cache(maxsize=8)
def observables_of(plant: Plant) -> tuple[Observable, ...]:
    """Everything that the crew can see, hear or feel.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of Observable
        Lamps of one window are one.
    """
    grouped: dict[int, str] = {}
    members: dict[str, list[int]] = {}
    for item, equipment in plant.installation.equipment.items():
        for group, names in equipment.groups.items():
            for name in names:
                number = plant.network.branch_of[f"{item}.{name}"]
                grouped[number] = f"{item}.{group}"
                members.setdefault(f"{item}.{group}", []).append(number)
    found: dict[str, Observable] = {}
    for number in loads_of(plant):
        branch = plant.network.branches[number]
        name = grouped.get(number, branch.name)
        if name not in found:
            service = next(iter(services_at(plant, (branch.item,), ())), "")
            found[name] = Observable(name, tuple(members.get(name, [number])), branch.item, service)
    return tuple(found.values())


def same_volts(before: float, now: float) -> bool:
    """Whether volts across a thing are what they were.

    Parameters
    ----------
    before
        With all well [V].
    now
        With a fault [V].

    Returns
    -------
    bool
        Within half a per cent.
    """
    return abs(now - before) <= VOLTS_SHARE * abs(before) + VOLTS_LEAST


# -- the sieve -------------------------------------------------------------------------------------


@lru_cache(maxsize=8)
def _things_of_branch(plant: Plant) -> dict[int, tuple[int, ...]]:
    """Places of observables by the branches that decide what they show: a ratio gauge has two."""
    found: dict[int, list[int]] = {}
    for place, thing in enumerate(observables_of(plant)):
        for number in _deciding(plant, thing):
            found.setdefault(number, []).append(place)
    return {number: tuple(places) for number, places in found.items()}


def _deciding(plant: Plant, thing: Observable) -> tuple[int, ...]:
    network = plant.network
    if not isinstance(network.branches[thing.branches[0]].law, Meter):
        return thing.branches
    dials = [network.indications[n] for n in network.dials.get(thing.branches[0], ())]
    seconds = [dial.second for dial in dials if dial.second >= 0]
    return tuple(dict.fromkeys((*thing.branches, *seconds)))


def may_differ(plant: Plant, results: Sequence[Struck]) -> list[list[Observable]]:
    """For each fault the observables that may be otherwise than with all well.

    Parameters
    ----------
    plant
        The installation.
    results
        Of one situation and one spread.

    Returns
    -------
    list of list of Observable
        In order of the installation.
    """
    things = observables_of(plant)
    situation, spread = results[0].situation, results[0].spread
    columns = np.array([one.column for one in results])
    rows = [_differs(plant, thing, situation, spread) for thing in things]
    table = np.array(rows).reshape(len(things), spread.potentials.shape[1])[:, columns]
    by_branch = _things_of_branch(plant)
    for case, one in enumerate(results):
        for number in (*one.own, *(n for n, _ in one.case.branches)):
            for place in by_branch.get(number, ()):
                table[place, case] = True
    found: list[list[Observable]] = [[] for _ in results]
    for place, case in zip(*np.nonzero(table), strict=True):
        found[int(case)].append(things[int(place)])
    return found


def _differs(plant: Plant, thing: Observable, situation: Situation, spread: Spread) -> Truths:
    """In which cases a thing may be otherwise, if nothing has been put in its own place."""
    branches, base = plant.network.branches, situation.settled.solution
    first = branches[thing.branches[0]]
    if isinstance(first.law, Meter):
        return _volts_differ(plant, _deciding(plant, thing), situation, spread, VOLTS_SHARE)
    was = max(base.state(n) for n in thing.branches)
    now = np.max([spread.states[n] for n in thing.branches], axis=0)
    differs: Truths = now != was
    if isinstance(first.law, Filament) and was == len(first.law.states) - 1:
        differs = differs | _volts_differ(plant, thing.branches, situation, spread, LIGHT_SHARE)
    return differs


def _volts_differ(
    plant: Plant, numbers: Sequence[int], situation: Situation, spread: Spread, share: float
) -> Truths:
    differs: Truths = np.zeros(spread.potentials.shape[1], dtype=bool)
    for number in numbers:
        branch, before = plant.network.branches[number], situation.settled.solution.volts(number)
        now = spread.potentials[branch.a] - spread.potentials[branch.b]
        differs = differs | (np.abs(now - before) > share * abs(before) + VOLTS_LEAST)
    return differs


def endangered_by(plant: Plant, results: Sequence[Struck]) -> list[bool]:
    """For each fault whether a cartridge or a magneto is in another state than with all well.

    Parameters
    ----------
    plant
        The installation.
    results
        Of one situation and one spread.

    Returns
    -------
    list of bool
        True also where one of them is itself what is broken.
    """
    situation, spread = results[0].situation, results[0].spread
    numbers = (*charges_of(plant), *magnetos_of(plant))
    moved: Truths = np.zeros(spread.potentials.shape[1], dtype=bool)
    for number in numbers:
        moved = moved | (spread.states[number] != situation.settled.solution.state(number))
    return [bool(moved[one.column]) or bool(set(numbers) & set(one.own)) for one in results]
