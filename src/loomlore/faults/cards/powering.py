"""First power: a limited supply in the battery's place, fuses put in one by one, the ampere step of each.

The installation is settled with a bench supply (a small resistance behind it) for its battery; where it draws more
than the limit, the supply's volts are brought down until it draws just that, as a limiting supply does. A lamp in
series is a resistance that follows its own current.

The order follows the current: a fuse comes after those it is fed through, since before them it shows nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.expecting import Ohms, Standing, ohms_between, standing_ohms
from loomlore.faults.observing import observables_of
from loomlore.faults.situations import charges_of, situations_of
from loomlore.network.building import Plant
from loomlore.network.cases import Case, network_with
from loomlore.network.laws import OPEN, Battery, Filament, Fuse, Source, Straight
from loomlore.network.model import Branch
from loomlore.network.settling import Memory, Settled, moved, settle
from loomlore.network.solving import prepare
from loomlore.quantities import as_written
from loomlore.record.model import AIRFRAME

__all__ = ["MEANING", "PowerStep", "first_power_rows", "items_beyond", "services_of_fuse"]

BENCH_OHMS = 0.02
"""Of a bench supply and its leads: common practice, no source."""

LEAST_STEP = 5e-4
"""Amperes under which a fuse is taken to add nothing."""


UNFUSED = (
    "More than expected: an unfused lead, a bus bar or a suppressor leaks or is crossed. Supply off; "
    "ohms from the bus to the airframe."
)


@dataclass(frozen=True, kw_only=True)
class PowerStep:
    """One fuse put in: its branch (-1 before the first), amperes in all and by how much they rise.

    ``words`` is what to expect, ``wrong`` what another reading means and what to do.
    """

    number: int
    amps: float
    step: float
    words: str = ""
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Bench:
    """What feeds the installation: volts, the limit, or a lamp in series."""

    plant: Plant
    volts: float
    limit: float
    lamp: Filament | None

    def settled(self, memory: Memory) -> tuple[Settled, float, float]:
        """The installation on the bench's supply, amperes drawn, and volts that the supply gives."""
        if self.lamp is not None:
            return self._through_lamp(memory, self.lamp)
        found, amps = self._at(memory, self.volts, BENCH_OHMS)
        if amps <= self.limit:
            return found, amps, self.volts
        low, high = 0.0, self.volts
        for _ in range(12):
            middle = (low + high) / 2
            found, amps = self._at(memory, middle, BENCH_OHMS)
            low, high = (middle, high) if amps <= self.limit else (low, middle)
        return found, min(amps, self.limit), low

    def _through_lamp(self, memory: Memory, lamp: Filament) -> tuple[Settled, float, float]:
        ohms = lamp.cold * lamp.volts / lamp.amps
        found, amps = self._at(memory, self.volts, BENCH_OHMS + ohms)
        for _ in range(8):
            across = max(amps * ohms, 1e-6)
            through = lamp.amps_and_slope(across)[0]
            ohms = across / through if through > 0 else ohms
            found, amps = self._at(memory, self.volts, BENCH_OHMS + ohms)
        return found, amps, self.volts - amps * ohms

    def _at(self, memory: Memory, volts: float, ohms: float) -> tuple[Settled, float]:
        network = self.plant.network
        numbers = [n for n, b in enumerate(network.branches) if isinstance(b.law, Battery)]
        branches = []
        for place, number in enumerate(numbers):
            law = Source(volts=volts, resistance=ohms) if place == 0 else Straight(resistance=1 / OPEN)
            old = network.branches[number]
            branches.append((number, replace(old, law=law, memory=-1, works=None)))
        if not numbers:
            return settle(self.plant.solver, memory), 0.0
        solver = prepare.__wrapped__(network_with(network, Case(branches=tuple(branches))))
        found = settle(solver, memory)
        return found, max(0.0, -found.solution.amps(numbers[0]))


def first_power_rows(
    plant: Plant, *, service: str = "", limit_amps: float = 5.0, lamp: Filament | None = None
) -> tuple[PowerStep, ...]:
    """Put the fuses in one by one on a limited supply, everything standing as the dossier presumes.

    Parameters
    ----------
    plant
        The installation.
    service
        Only fuses of this service (those before it are taken to be in); all where empty.
    limit_amps
        Where the supply limits [A].
    lamp
        A lamp in series instead.

    Returns
    -------
    tuple of PowerStep
        The first has no fuse in. Fuses of cartridges are never put in.

    Source
    ------
    [method]
    """
    bench = _Bench(plant, plant.network.supply, limit_amps, lamp)
    fuses = _in_order(plant)
    memory = moved(
        _presumed(plant).memory,
        {},
        {b.memory: 1 for b in plant.network.branches if isinstance(b.law, Fuse) and b.memory >= 0},
    )
    here, before, _ = bench.settled(memory)
    first = PowerStep(number=-1, amps=before, step=before, wrong=_start_wrong(plant, here))
    steps = [first]
    dead = standing_ohms(plant, replace(_presumed(plant), memory=memory), taken_off=_sources(plant))
    for number in fuses:
        branch = plant.network.branches[number]
        last = here
        memory = moved(here.memory, {}, {branch.memory: 0})
        here, now, volts = bench.settled(memory)
        if service and service not in services_of_fuse(plant, branch.name):
            before = now
            continue
        words = _words(plant, (last, here), now - before, now, volts, bench=bench)
        said = f"{words}{_with_load(plant, number)}"
        wrong = _wrong(plant, number, dead_ohms=_load_side(plant, dead, last, number))
        steps.append(PowerStep(number=number, amps=now, step=now - before, words=said, wrong=wrong))
        before = now
    return tuple(steps)


def _presumed(plant: Plant) -> Settled:
    """Ready as the dossier presumes, the master on."""
    found = situations_of(plant)
    return next((s.settled for s in found if s.id == "ready"), found[0].settled)


def _sources(plant: Plant) -> tuple[str, ...]:
    return tuple(dict.fromkeys(b.item for b in plant.network.branches if isinstance(b.law, Battery | Source)))


def _in_order(plant: Plant) -> list[int]:
    """Fuses by how many others lie between them and the battery, without those of cartridges."""
    network = plant.network
    beside: dict[int, list[tuple[int, int]]] = {}
    settled = _presumed(plant)
    for branch_number, branch in enumerate(network.branches):
        if not settled.solution.closed(branch_number):
            continue
        for a, b in ((branch.a, branch.b), (branch.b, branch.a)):
            if b:
                beside.setdefault(a, []).append((b, branch_number))
    start = [b.a or b.b for b in network.branches if isinstance(b.law, Battery)]
    far: dict[int, int] = dict.fromkeys(start, 0)
    waiting = list(start)
    while waiting:
        node = waiting.pop(0)
        for other, number in beside.get(node, ()):
            steps = far[node] + isinstance(network.branches[number].law, Fuse)
            if steps < far.get(other, 1_000_000):
                far[other] = steps
                waiting.append(other)
    fuses = [
        n
        for n, b in enumerate(network.branches)
        if isinstance(b.law, Fuse) and b.memory >= 0 and not _feeds_charge(plant, b)
    ]
    return sorted(fuses, key=lambda n: (_before(far, network.branches[n]), n))


def _before(far: dict[int, int], branch: Branch) -> int:
    return min(far.get(branch.a, 1_000_000), far.get(branch.b, 1_000_000))


def _words(
    plant: Plant, states: tuple[Settled, Settled], step: float, now: float, volts: float, *, bench: _Bench
) -> str:
    if step <= LEAST_STEP:
        said = "no more"
    else:
        said = f"{as_written(step, 'current')} more, {as_written(now, 'current')} in all"
    if bench.lamp is not None:
        return f"{said}; the lamp has {as_written(bench.volts - volts, 'voltage')}{_comes_on(plant, *states)}"
    if volts < bench.volts:
        limit = as_written(bench.limit, "current")
        said += f"; the supply is at its limit of {limit} and gives {as_written(volts, 'voltage')}: raise it first"
    return f"{said}{_comes_on(plant, *states)}"


def _comes_on(plant: Plant, before: Settled, after: Settled) -> str:
    """Things that begin to work with this fuse."""
    found = [
        lowered(name_of(plant, thing.name))
        for thing in observables_of(plant)
        if max(after.solution.state(n) for n in thing.branches)
        > max(before.solution.state(n) for n in thing.branches)
    ]
    found = list(dict.fromkeys(found))
    more = f" and {len(found) - 4} more" if len(found) > 4 else ""
    return f"; comes on: {', '.join(found[:4])}{more}" if found else ""


def _with_load(plant: Plant, number: int) -> str:
    """What the fuse carries at most when its loads are put on, over all situations."""
    most = max(abs(s.settled.solution.amps(number)) for s in situations_of(plant))
    return f"; with its loads on up to {as_written(most, 'current')}" if most > 0.05 else ""


def _load_side(plant: Plant, dead: Standing, last: Settled, number: int) -> Ohms | None:
    """Ohms from a fuse's load side to the airframe with every fuse out: what to measure after a short."""
    branch = plant.network.branches[number]
    ends = [n for n in (branch.a, branch.b) if n]
    if not ends:
        return None
    volts = [abs(last.solution.potentials[n]) if not last.solution.floats(n) else 0.0 for n in ends]
    load = ends[volts.index(min(volts))]
    return ohms_between(dead, plant.network.node_names[load], AIRFRAME)


def _start_wrong(plant: Plant, here: Settled) -> tuple[str, ...]:
    on = [
        lowered(name_of(plant, o.name))
        for o in observables_of(plant)
        if max(here.solution.state(n) for n in o.branches) > 0
    ]
    said = "Nothing that can be seen is on yet: what flows goes through coils."
    if on:
        said = f"On already, since no fuse is in their way: {', '.join(on[:5])}."
    return (said, UNFUSED)


MEANING = (
    (
        "The supply goes to its limit: a short behind this fuse. Fuse out, supply off, and ring its load side to the "
        "airframe."
    ),
    (
        "No step where one is expected, or less: the fuse or its clips, a lead open, a lamp out. Look at what "
        "should have come on."
    ),
    (
        "A step where none is expected, or more: something is on that should be off, a wrong lamp, a lead that is "
        "crossed or leaks. See what works, and put its switch off."
    ),
)
"""What a wrong step means, for every fuse."""


def _wrong(plant: Plant, number: int, *, dead_ohms: Ohms | None) -> tuple[str, ...]:
    """Which leads are behind a fuse, and what its load side rings to the airframe."""
    leads = _leads(plant, plant.network.branches[number])
    said = f"Behind it: {listed(list(leads[:8]))}{' and others' if len(leads) > 8 else ''}." if leads else ""
    ring = ""
    if dead_ohms is not None and not dead_ohms.refused:
        ring = f"Load side to the airframe, all fuses out: {dead_ohms.words}."
    return tuple(part for part in (said, ring) if part)


def _leads(plant: Plant, branch: Branch) -> tuple[str, ...]:
    services = set(services_of_fuse(plant, branch.name))
    return tuple(c.mark or c.id for c in plant.installation.dossier.cables.values() if c.service in services)


def services_of_fuse(plant: Plant, name: str) -> tuple[str, ...]:
    """Services that a fuse feeds, by their titles' ids.

    Parameters
    ----------
    plant
        The installation.
    name
        The fuse.

    Returns
    -------
    tuple of str
        Service ids.
    """
    return tuple(s for s, service in plant.installation.dossier.services.items() if name in service.feed)


def items_beyond(plant: Plant, branch: Branch) -> tuple[str, ...]:
    """Items of the services that a fuse feeds.

    Parameters
    ----------
    plant
        The installation.
    branch
        The fuse.

    Returns
    -------
    tuple of str
        Their ids, each once.
    """
    return tuple(dict.fromkeys(_items(plant, set(services_of_fuse(plant, branch.name)))))


def _items(plant: Plant, services: set[str]) -> Iterator[str]:
    for cable in plant.installation.dossier.cables.values():
        if cable.service in services:
            for end in (cable.from_, cable.to):
                item = end.rpartition(".")[0]
                if item in plant.installation.equipment:
                    yield item


def _feeds_charge(plant: Plant, branch: Branch) -> bool:
    charges: Sequence[str] = [plant.network.branches[n].item for n in charges_of(plant)]
    return bool(set(charges) & set(items_beyond(plant, branch)))
