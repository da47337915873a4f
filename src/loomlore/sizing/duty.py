"""Which settings matter: what is on, and where each load and each cable has its worst.

A drop, a temperature, a switch's current are worst in some setting, and nobody may be trusted to think of it.
So each service is worked through the settings of its own controls, on top of each way the rest may stand::

    backgrounds   on the battery; with the generators running; each phase of the record
    x worked      for each load of a service the setting in which it takes most, found by trying its levers

Invariants: nothing is tried that operations cannot reach from rest; joints stay mated, since a parted one
carries nothing; a cartridge is read at the moment it fires, not after.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from loomlore.behaviour.exploring import Operation, lever_values, levers_of_items
from loomlore.behaviour.operating import Moves, operated, read_setting, rest
from loomlore.behaviour.readings import items_of
from loomlore.behaviour.wording import setting_words
from loomlore.findings import Finding
from loomlore.network.building import Plant
from loomlore.network.laws import (
    OPEN,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Motor,
    Rheostat,
    Straight,
)
from loomlore.network.model import Network
from loomlore.network.settling import Settled, moved
from loomlore.network.solving import Solution, solve
from loomlore.record.model import Phase
from loomlore.record.naming import Unresolved, resolve
from loomlore.sentences import And, Compare, Holds, Is, Not, Or, Sentence

__all__ = [
    "Background",
    "Case",
    "Load",
    "Study",
    "backgrounds",
    "generators_running",
    "levers_of_service",
    "loads_of",
    "presumed",
    "starter_motors",
    "study",
    "worked",
]

WHOLE = 48
"""Up to so many settings of a service all are tried.

Beyond, single moves, pairs, and a climb from the best.
"""

MOST_PAIRS = 150
SPEAKING = 1e-4
"""A load that takes less than this [A] is off."""

ALIKE = 0.995
"""Cases whose figures differ by less are told as the plainest of them."""


@dataclass(frozen=True, slots=True)
class Load:
    """An element that a service is there for. ``sort`` is lamp, motor, heater, coil, set, horn or cartridge.

    ``services`` are those with a cable on its item; ``stamped`` says whether the record rates it.
    """

    branch: int
    name: str
    item: str
    sort: str
    services: tuple[str, ...]
    stamped: bool = True


@dataclass(frozen=True, slots=True)
class Background:
    """How the rest stands while a service is worked: ``kind`` is battery, generators or phase."""

    name: str
    kind: str
    settled: Settled = field(repr=False)
    phase: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """One setting, settled: its words, and the amperes of every branch.

    ``solution`` is that of the moment a cartridge fires where one does.
    """

    words: str
    background: Background
    settled: Settled = field(repr=False)
    solution: Solution = field(repr=False)
    service: str = ""
    operations: tuple[Operation, ...] = ()

    @cached_property
    def momentary(self) -> bool:
        """Whether somebody must hold it: a lever that springs back, or a cartridge at its moment."""
        levers = self.solution.solver.network.levers
        held = (
            o.value != levers[o.lever].springs_to
            for o in self.operations
            if levers[o.lever].springs_to is not None
        )
        return any(held) or any(event.what == "fired" for event in self.settled.events)

    @cached_property
    def amps(self) -> tuple[float, ...]:
        """Amperes by branch, in at the first end [A]."""
        solution = self.solution
        plain = _plain(solution.solver.network)
        potentials = np.asarray(solution.potentials)
        flows = plain.conductance * (potentials[plain.first] - potentials[plain.second])
        for number in plain.contacts:
            if not solution.closed(number):
                flows[number] *= OPEN / plain.conductance[number]
        for number in plain.others:
            flows[number] = solution.amps(number)
        return tuple(flows.tolist())


@dataclass(frozen=True, kw_only=True, eq=False)
class Study:
    """All cases of an installation in one standard of fit, and the loads that they were made for.

    ``idle`` are loads that no setting tried has turned on.
    """

    plant: Plant = field(repr=False)
    loads: tuple[Load, ...]
    cases: tuple[Case, ...]
    idle: tuple[Load, ...] = ()
    findings: tuple[Finding, ...] = ()
    best: Mapping[str, tuple[tuple[Operation, ...], ...]] = field(default_factory=dict)

    @cached_property
    def most(self) -> tuple[tuple[float, int], ...]:
        """For each branch its greatest current [A] and the case in which it flows.

        Of the cases within half a per cent of it the plainest: fewest operations, first background.
        """
        return self._greatest(tuple(range(len(self.cases))))

    @cached_property
    def steady(self) -> tuple[tuple[float, int], ...]:
        """The same over the cases that last."""
        return self._greatest(tuple(n for n, case in enumerate(self.cases) if not case.momentary))

    def _greatest(self, numbers: tuple[int, ...]) -> tuple[tuple[float, int], ...]:
        """Cases in order of plainness, so that the first that is near the greatest is the one to tell."""
        plainest = sorted(numbers, key=lambda n: len(self.cases[n].operations))
        flows = np.abs(np.array([self.cases[n].amps for n in plainest]))
        greatest = flows.max(axis=0)
        first = (flows >= ALIKE * greatest).argmax(axis=0)
        return tuple((float(most), plainest[k]) for most, k in zip(greatest, first, strict=True))


@dataclass(frozen=True, slots=True)
class _Plain:
    """The branches whose amperes are conductance times volts, as arrays.

    The contacts among them; the rest.
    """

    first: NDArray[np.int64]
    second: NDArray[np.int64]
    conductance: NDArray[np.float64]
    contacts: tuple[int, ...]
    others: tuple[int, ...]


@lru_cache(maxsize=32)
def _plain(network: Network) -> _Plain:
    branches = network.branches
    conductance, contacts, others = np.ones(len(branches)), [], []
    for number, branch in enumerate(branches):
        law = branch.law
        if isinstance(law, Straight | Coil | Motor) and branch.works is None and branch.follows < 0:
            conductance[number] = law.conductance(True, 0.0)
            if branch.closed is not None:
                contacts.append(number)
        else:
            others.append(number)
    return _Plain(
        np.array([b.a for b in branches]),
        np.array([b.b for b in branches]),
        conductance,
        tuple(contacts),
        tuple(others),
    )


# -- what the loads are --------------------------------------------------------------------------------------


def _sort(law: object) -> str:
    match law:
        case Filament():
            return "lamp"
        case Motor():
            return "motor"
        case Coil():
            return "coil"
        case ConstantPower():
            return "set"
        case Cartridge():
            return "cartridge"
        case Straight(squared=True):
            return "heater"
        case Straight(states=states) if states:
            return "horn"
        case _:
            return ""


def loads_of(plant: Plant) -> tuple[Load, ...]:
    """Every load of an installation.

    Parameters
    ----------
    plant
        One standard of fit.

    Returns
    -------
    tuple of Load
        In order of the record; a machine's own field is none.
    """
    services: dict[str, dict[str, None]] = {}
    for cable in plant.installation.dossier.cables.values():
        for end in (cable.from_, cable.to):
            services.setdefault(end.rpartition(".")[0], {}).setdefault(cable.service)
    machines = {b.item for b in plant.network.branches if isinstance(b.law, Generator)}
    found = []
    for number, branch in enumerate(plant.network.branches):
        sort = _sort(branch.law) if branch.sort == "element" else ""
        if not sort or branch.item in machines:
            continue
        element = plant.installation.equipment[branch.item].elements[branch.name.rpartition(".")[2]]
        stamped = bool(element.rating) or "resistance" in element.values
        of = tuple(s for s in services.get(branch.item, {}) if s)
        found.append(Load(number, branch.name, branch.item, sort, of, stamped))
    return tuple(found)


@lru_cache(maxsize=16)
def starter_motors(plant: Plant) -> tuple[int, ...]:
    """The branches of the motors that turn engines.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of int
        In order of the record.
    """
    symbol = {item: equipment.symbol for item, equipment in plant.installation.equipment.items()}
    motors = (n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Motor))
    return tuple(n for n in motors if symbol[plant.network.branches[n].item] == "starter")


# -- how the rest stands -------------------------------------------------------------------------------------


def presumed(plant: Plant, sentence: Sentence | None) -> Moves:
    """The moves that make a presumption true, as plainly as can be: ``master-switch is on``.

    Parameters
    ----------
    plant
        The installation.
    sentence
        A ``given``; None asks for nothing.

    Returns
    -------
    Moves
        Of the parts that name a control or a condition; of alternatives the first.
    """
    levers: dict[int, float] = {}
    variables: dict[int, int] = {}
    for name, value in _asked(plant, sentence):
        moves, _ = read_setting(plant, {name: value})
        levers |= moves.levers
        variables |= moves.variables
    return Moves(levers, variables)


def _asked(plant: Plant, sentence: Sentence | None) -> Iterator[tuple[str, str]]:
    match sentence:
        case And(parts):
            for part in parts:
                yield from _asked(plant, part)
        case Or(parts):
            yield from _asked(plant, parts[0])
        case Is(name, words, _, False):
            yield name, words[0]
        case Is(name, words, _, True) | Not(Is(name, words, _, False)):
            others = [word for word in _positions(plant, name, words) if word not in (*words, "off")]
            yield from ((name, word) for word in others[:1])
        case Holds() | Compare() | Not() | None:
            return


def _positions(plant: Plant, name: str, words: tuple[str, ...]) -> tuple[str, ...]:
    found = resolve(name, plant.installation, sense="is", words=words)
    number = None if isinstance(found, Unresolved) else plant.network.lever_of.get(found.id)
    return () if number is None else plant.network.levers[number].positions


def generators_running(plant: Plant) -> Moves:
    """The moves that bring every generator to the speed of its full output.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    Moves
        Of the conditions that the machines follow.
    """
    levers: dict[int, float] = {}
    for branch in plant.network.branches:
        if isinstance(branch.law, Generator) and branch.follows >= 0:
            lever = plant.network.levers[branch.follows]
            levers[branch.follows] = min(lever.high, max(branch.law.full_at, branch.law.cuts_in, lever.low))
    return Moves(levers, {})


def backgrounds(plant: Plant) -> tuple[tuple[Background, ...], tuple[Finding, ...]]:
    """How the rest may stand: on the battery, with the generators, and in each phase of the record.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of tuple of Background and tuple of Finding
        What could be set, and slips in the phases' settings.
    """
    dossier = plant.installation.dossier
    start = operated(plant, rest(plant), presumed(plant, dossier.header.given))
    found = [Background("on the battery", "battery", start)]
    running = generators_running(plant)
    if running.levers:
        found.append(Background("generators running", "generators", operated(plant, start, running)))
    findings: list[Finding] = []
    for phase in dossier.phases.values():
        settled, slips = phase_settled(plant, phase)
        findings += slips
        found.append(Background(f"in {phase.name.lower()}", "phase", settled, phase.id))
    return tuple(found), tuple(findings)


def phase_settled(plant: Plant, phase: Phase) -> tuple[Settled, tuple[Finding, ...]]:
    """The installation as a phase sets it.

    Parameters
    ----------
    plant
        The installation.
    phase
        Of its dossier.

    Returns
    -------
    tuple of Settled and tuple of Finding
        From rest, and what could not be set.
    """
    moves, slips = read_setting(plant, phase.settings, place=phase.where, subject=f"phase {phase.id}")
    return operated(plant, rest(plant), moves), slips


# -- a service worked ----------------------------------------------------------------------------------------


def levers_of_service(plant: Plant, service: str) -> tuple[int, ...]:
    """The controls and conditions that work a service: not its joints, not the machines' speed.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id.

    Returns
    -------
    tuple of int
        Lever numbers, in order.
    """
    levers = plant.network.levers
    speeds = {b.follows for b in plant.network.branches if isinstance(b.law, Generator)}
    given = set(presumed(plant, plant.installation.dossier.header.given).levers)
    items = set(items_of(plant.installation, service))
    mates = {i.id: i.mates for i in plant.installation.dossier.items.values() if i.mates}
    items |= {half for half, mate in mates.items() if mate in items} | {mates[i] for i in items if i in mates}
    found = levers_of_items(plant, tuple(items))
    return tuple(sorted(n for n in found if n not in speeds | given and "parted" not in levers[n].positions))


def worked(
    plant: Plant, service: str, branches: Sequence[int], start: Settled
) -> Mapping[int, tuple[float, tuple[Operation, ...]]]:
    """For each load or cable of a service the fewest operations that make it take most.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id.
    branches
        Loads and cables of the service.
    start
        How the rest stands.

    Returns
    -------
    Mapping of int to (float, tuple of Operation)
        By branch: amperes [A] and what is done. What nothing turns on is left out.
    """
    record = plant.installation.dossier.services[service]
    given = tuple(Operation(n, v) for n, v in presumed(plant, record.given).levers.items())
    choices = {
        n: [Operation(n, v) for v in _values(plant, n) if v != start.memory.levers[n]]
        for n in levers_of_service(plant, service)
    }
    best: dict[int, tuple[float, tuple[Operation, ...]]] = {}
    starters = starter_motors(plant)

    def tried(operations: tuple[Operation, ...]) -> None:
        solution = _done(plant, start, given + operations)[1]
        if sum(abs(solution.amps(n)) > SPEAKING for n in starters) > 1:
            return  # nobody starts two engines at once
        for branch in branches:
            amps = abs(solution.amps(branch))
            known = best.get(branch, (SPEAKING, ()))
            much = amps * ALIKE > known[0] or (amps > known[0] and len(operations) <= len(known[1]))
            if much or (branch in best and amps > known[0] * ALIKE and len(operations) < len(known[1])):
                best[branch] = amps, operations

    for operations in _settings(choices):
        tried(operations)
    if _count(choices) > WHOLE:
        for _, reached in tuple(best.values()):
            taken = {operation.lever for operation in reached}
            for more in (o for n, listed in choices.items() if n not in taken for o in listed):
                tried((*reached, more))
    return {branch: (amps, given + operations) for branch, (amps, operations) in best.items()}


def _values(plant: Plant, lever: int) -> tuple[float, ...]:
    """Positions; of a range the middles of its pieces, and its ends where a rheostat or a lamp follows it."""
    record = plant.network.levers[lever]
    if record.positions:
        return lever_values(plant, lever)
    followed = any(b.follows == lever and isinstance(b.law, Rheostat) for b in plant.network.branches)
    ends = (record.low, record.high) if followed else ()
    return tuple(dict.fromkeys((*lever_values(plant, lever), *ends)))


def _count(choices: Mapping[int, Sequence[Operation]]) -> int:
    count = 1
    for listed in choices.values():
        count *= len(listed) + 1
    return count


def _settings(choices: Mapping[int, Sequence[Operation]]) -> Iterator[tuple[Operation, ...]]:
    """All settings where they are few, the fewest operations first; else none, one or two operations."""
    if _count(choices) <= WHOLE:
        every = product(*((None, *listed) for listed in choices.values()))
        whole = [tuple(o for o in setting if o is not None) for setting in every]
        yield from sorted(whole, key=len)
        return
    yield ()
    for listed in choices.values():
        yield from ((o,) for o in listed)
    pairs = ((a, b) for x, y in combinations(choices.values(), 2) for a, b in product(x, y))
    yield from (pair for _, pair in zip(range(MOST_PAIRS), pairs, strict=False))


def _done(plant: Plant, start: Settled, operations: Sequence[Operation]) -> tuple[Settled, Solution]:
    """Operations one after the other in time, settled at the end; and the moment a cartridge fires."""
    if not operations:
        return start, start.solution
    settled = operated(plant, start, Moves({o.lever: o.value for o in operations}, {}))
    return settled, _at_firing(plant, settled)


def _at_firing(plant: Plant, settled: Settled) -> Solution:
    fired = {
        n
        for e in settled.events
        if e.what == "fired"
        for n in (plant.network.variable_of[x] for x in e.names)
    }
    if not fired:
        return settled.solution
    memory = moved(settled.memory, {}, dict.fromkeys(fired, 0))
    return solve(plant.solver, memory.levers, memory.variables, near=settled.solution)


# -- everything ----------------------------------------------------------------------------------------------


def study(plant: Plant, *, only: str = "") -> Study:
    """Try every setting that matters.

    Parameters
    ----------
    plant
        One standard of fit.
    only
        Work this service alone; all where empty.

    Returns
    -------
    Study
        Cases, each once.
    """
    loads = loads_of(plant)
    grounds, findings = backgrounds(plant)
    cases: dict[object, Case] = {}
    for ground in grounds:
        _add(cases, _case(plant, ground, ground.settled, "", ()))
    best: dict[str, tuple[tuple[Operation, ...], ...]] = {}
    for service in plant.installation.dossier.services:
        own = tuple(load for load in loads if service in load.services)
        cables = _cables(plant, service)
        if not (own or cables) or (only and service != only):
            continue
        plain = grounds[:2][-1]
        found = worked(plant, service, [load.branch for load in own] + cables, plain.settled)
        of_loads = dict.fromkeys(found[load.branch][1] for load in own if load.branch in found)
        best[service] = tuple(of_loads)
        of_cables = dict.fromkeys(ops for branch, (_, ops) in found.items() if ops not in of_loads)
        for ground in grounds:
            for operations in (*of_loads, *(of_cables if ground is plain else ())):
                settled, solution = _done(plant, ground.settled, operations)
                _add(cases, _case(plant, ground, settled, service, operations, solution))
    made = Study(plant=plant, loads=loads, cases=tuple(cases.values()), findings=findings, best=best)
    idle = (load for load in loads if made.most[load.branch][0] <= SPEAKING)
    return replace(made, idle=tuple(load for load in idle if not only or only in load.services))


def _cables(plant: Plant, service: str) -> list[int]:
    of = plant.network.branch_of
    cables = plant.installation.dossier.cables.values()
    return [of[f"cable:{c.id}"] for c in cables if c.service == service and f"cable:{c.id}" in of]


def _add(cases: dict[object, Case], case: Case) -> None:
    memory = case.settled.memory
    cases.setdefault((memory.levers, memory.variables), case)


def _case(
    plant: Plant,
    ground: Background,
    settled: Settled,
    service: str,
    operations: tuple[Operation, ...],
    solution: Solution | None = None,
) -> Case:
    kept = ground.settled.memory.levers
    done = tuple(o for o in operations if kept[o.lever] != o.value)
    words = f"{ground.name}: {setting_words(plant, done)}" if done else ground.name
    return Case(
        words=words,
        background=ground,
        settled=settled,
        solution=settled.solution if solution is None else solution,
        service=service,
        operations=operations,
    )
