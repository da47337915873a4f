"""Which way current goes through every lead, switch and lamp, over all settings of each service.

What carries current one way in one setting and the other way in another is where sneak paths are looked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations, product

from loomlore.behaviour.exploring import lever_values
from loomlore.behaviour.influence import influence_of, supply_items
from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import event_words, items_of
from loomlore.behaviour.tables.reaching import cone_of
from loomlore.faults.situations import Situation, charges_of, loads_of, moved_from, ready
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Fuse, Generator, Meter, Source
from loomlore.network.settling import Settled

__all__ = [
    "LEAST_AMPS",
    "LEAST_SHARE",
    "AllWell",
    "Setting",
    "Ways",
    "all_well",
    "service_settings",
    "watched",
]

LEAST_AMPS = 0.002
"""Amperes under which a current the wrong way is leakage: common practice, no source."""

LEAST_SHARE = 0.01
"""And as a share of what the branch carries the right way."""

RESTLESS = ("chatters", "race")
"""Events of relays that find no rest."""

MOST_SETTINGS = 512
"""Settings of one service that are all tried; above that, every pair of moves."""


@dataclass(eq=False)
class Ways:
    """The largest current each way through every branch, and the setting that gave it."""

    forward: dict[int, tuple[float, Settled]] = field(default_factory=dict)
    backward: dict[int, tuple[float, Settled]] = field(default_factory=dict)

    def see(self, settled: Settled, numbers: Iterable[int]) -> None:
        """Note a setting."""
        for number in numbers:
            amps = settled.solution.amps(number)
            if abs(amps) < LEAST_AMPS:
                continue
            table = self.forward if amps > 0 else self.backward
            if number not in table or abs(amps) > 1.0001 * table[number][0]:
                table[number] = abs(amps), settled

    def usual(self, number: int) -> int:
        """1 forward, -1 backward, 0 never seen."""
        along = self.forward.get(number, (0.0,))[0]
        against = self.backward.get(number, (0.0,))[0]
        return 0 if along == against == 0.0 else 1 if along >= against else -1

    def most(self, number: int) -> float:
        """Largest current either way [A]."""
        return max(self.forward.get(number, (0.0,))[0], self.backward.get(number, (0.0,))[0])


@lru_cache(maxsize=8)
def watched(plant: Plant) -> tuple[int, ...]:
    """Branches in which current the other way tells: not the supply's own, nor earths, nor meters.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of int
        Their numbers.
    """
    circuit_of = influence_of(plant).circuit_of
    core = supply_items(plant)
    sources = {
        circuit_of[n]
        for n, b in enumerate(plant.network.branches)
        if isinstance(b.law, Battery | Generator | Source)
    }
    cables = plant.installation.dossier.cables
    supplied = {
        n
        for n, b in enumerate(plant.network.branches)
        if b.sort == "cable" and _of_supply(plant, cables[b.name].service)
    }
    return tuple(
        n
        for n, b in enumerate(plant.network.branches)
        if b.sort not in ("bolt", "bond")
        and not isinstance(b.law, Battery | Generator | Source | Meter)
        and circuit_of[n] not in sources | {-1}
        and n not in supplied
        and not (b.item in core and not isinstance(b.law, Fuse))
    )


@lru_cache(maxsize=64)
def _of_supply(plant: Plant, service: str) -> bool:
    items = items_of(plant.installation, service)
    return any(
        b.item in items and isinstance(b.law, Battery | Generator | Source) for b in plant.network.branches
    )


@dataclass(frozen=True, eq=False)
class Setting:
    """A setting of one service's levers from a base."""

    service: str
    base: Situation
    moves: tuple[tuple[int, float], ...]
    settled: Settled


def service_settings(plant: Plant) -> Iterator[Setting]:
    """Every setting of each service's levers, with supply and without; pairs where they are too many.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    iterator of Setting
        Those that fire a cartridge are left out.
    """
    bases = {ready(plant).id: ready(plant)}
    bases.setdefault("rest", Situation(id="rest", title="at rest", settled=rest(plant)))
    for service in plant.installation.dossier.services:
        items = set(items_of(plant.installation, service))
        loads = [n for n in loads_of(plant) if plant.network.branches[n].item in items]
        if not loads:
            continue
        levers = sorted(cone_of(plant, loads).levers)
        for base in bases.values():
            for moves in _choices(plant, base.settled, levers, whole=base.id != "rest" or len(bases) == 1):
                settled = moved_from(plant, base.settled, dict(moves))
                if all(settled.solution.state(n) == 0 for n in charges_of(plant)):
                    yield Setting(service, base, moves, settled)


def _choices(
    plant: Plant, base: Settled, levers: Sequence[int], *, whole: bool
) -> Iterator[tuple[tuple[int, float], ...]]:
    values = {n: lever_values(plant, n) for n in levers}
    count = 1
    for tried in values.values():
        count *= len(tried)
    stands = base.memory.levers
    if whole and count <= MOST_SETTINGS:
        for choice in product(*values.values()):
            yield tuple((n, v) for n, v in zip(levers, choice, strict=True) if v != stands[n])
        return
    yield ()
    singles = [(n, v) for n in levers for v in values[n] if v != stands[n]]
    for one in singles:
        yield (one,)
    for first, second in combinations(singles, 2) if len(singles) <= 30 else ():
        if first[0] != second[0]:
            yield first, second


@dataclass(frozen=True, eq=False)
class AllWell:
    """What was seen with everything in order."""

    ways: Ways
    settings: Mapping[int, Setting]
    restless: tuple[tuple[Setting, str, str], ...]


@lru_cache(maxsize=4)
def all_well(plant: Plant) -> AllWell:
    """Go through every service's settings and note which way current goes.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    AllWell
        Made once.
    """
    ways, settings = Ways(), {}
    restless: list[tuple[Setting, str, str]] = []
    for setting in service_settings(plant):
        settings[id(setting.settled)] = setting
        ways.see(setting.settled, watched(plant))
        events = setting.settled.events
        restless += [
            (setting, event_words(plant, event), event.names[0]) for event in events if event.what in RESTLESS
        ]
    return AllWell(ways, settings, tuple(restless))
