"""Faults put into an installation as it stands, many at once.

Faults that no current can tell apart are worked out once: all breaks of one unbranched run, all shorts of one
net of leads. Each case goes to the bulk solver, which hands back what the one-by-one solver would.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from loomlore.faults.modes import Fault
from loomlore.faults.situations import Situation, charges_of, loads_of, magnetos_of
from loomlore.faults.terminals import services_at
from loomlore.network.batches import Bulk, Outcome, bulk_of, settle_cases
from loomlore.network.building import Plant
from loomlore.network.cases import Case
from loomlore.network.conditions import Measured, StateIs, leaves
from loomlore.network.laws import OPEN, Generator, Magneto, Straight
from loomlore.network.model import Branch, Network
from loomlore.network.settling import Event, Memory, Settled, moved, settle
from loomlore.network.solving import prepare
from loomlore.network.spreading import Spread, spread_of

__all__ = ["Struck", "Workshop", "alike_of", "case_of", "put_in", "representatives", "struck", "together"]

ALIKE_OHMS = 0.5
"""Leads up to this many ohms are one net where a dead short on either end of them is looked at."""


def case_of(plant: Plant, fault: Fault, base: Settled) -> Case | None:
    """A fault as a case for the solver.

    Parameters
    ----------
    plant
        The installation.
    fault
        What is wrong.
    base
        How the installation stood.

    Returns
    -------
    Case or None
        None where it changes nothing as things stand: a plug crossed that is parted, or parted already.
    """
    if fault.needs >= 0 and not base.solution.closed(fault.needs):
        return None
    if fault.levers and all(base.memory.levers[lever] == value for lever, value in fault.levers):
        return None
    branches = _as_it_stands(fault, base)
    if branches is None:
        return None
    memory = None
    if fault.levers or fault.forgets:
        starts = {n: plant.network.variables[n].start for n in fault.forgets}
        memory = moved(base.memory, dict(fault.levers), starts)
    return Case(branches=branches, extra=fault.extra, memory=memory)


def _as_it_stands(fault: Fault, base: Settled) -> tuple[tuple[int, Branch], ...] | None:
    """A dirty contact that only levers move: a plain resistance while closed, nothing while open."""
    found = []
    for number, branch in fault.branches:
        if branch.closed is not None and not any(isinstance(leaf, StateIs) for leaf in leaves(branch.closed)):
            if not base.solution.closed(number):
                return None
            branch = replace(branch, closed=None)  # noqa: PLW2901  the same branch, closed for good
        found.append((number, branch))
    return tuple(found)


def together(first: Case, second: Case) -> Case | None:
    """Two faults at once.

    Parameters
    ----------
    first, second
        Cases of one installation as it stands.

    Returns
    -------
    Case or None
        None where both change one branch, or both move levers.
    """
    numbers = {n for n, _ in first.branches}
    if numbers & {n for n, _ in second.branches}:
        return None
    if first.memory is not None and second.memory is not None:
        return None
    return Case(
        branches=(*first.branches, *second.branches),
        extra=(*first.extra, *second.extra),
        memory=first.memory or second.memory,
    )


# -- what no current can tell apart ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Runs:
    """The run of each branch (branches in series without a turning), and the net of each node."""

    run: tuple[int, ...]
    net: tuple[int, ...]


@lru_cache(maxsize=8)
def _runs(plant: Plant) -> _Runs:
    network = plant.network
    at: list[list[int]] = [[] for _ in network.node_names]
    for number, branch in enumerate(network.branches):
        at[branch.a].append(number)
        at[branch.b].append(number)
    parent = list(range(len(network.branches)))
    measured = _measured_nodes(plant)
    for node, numbers in enumerate(at):
        if node and node not in measured and len(numbers) == 2:
            _unite(parent, numbers[0], numbers[1])
    nets = list(range(len(network.node_names)))
    for branch in network.branches:
        law = branch.law
        if (
            branch.sort in ("cable", "joint")
            and isinstance(law, Straight)
            and law.resistance < ALIKE_OHMS
            and branch.b
            and branch.a
        ):
            _unite(nets, branch.a, branch.b)
    return _Runs(
        tuple(_root(parent, n) for n in range(len(parent))), tuple(_root(nets, n) for n in range(len(nets)))
    )


def _root(parent: list[int], place: int) -> int:
    while parent[place] != place:
        parent[place] = place = parent[parent[place]]
    return place


def _unite(parent: list[int], a: int, b: int) -> None:
    a, b = _root(parent, a), _root(parent, b)
    parent[max(a, b)] = min(a, b)


def _measured_nodes(plant: Plant) -> set[int]:
    network = plant.network
    found: set[int] = set()
    for variable in network.variables:
        rule = variable.latch
        tests = [variable.test, *((rule.set, rule.release, rule.set_on, rule.release_on) if rule else ())]
        for leaf in (leaf for test in tests if test is not None for leaf in leaves(test)):
            if isinstance(leaf, Measured) and leaf.of == "volts":
                found |= {leaf.a, leaf.b}
    return found


def run_of(plant: Plant, number: int) -> int:
    """The unbranched run that a branch is in; branches of one run carry one current."""
    return _runs(plant).run[number]


def alike_of(plant: Plant, fault: Fault) -> Any:
    """What two faults must share to be electrically the same.

    Parameters
    ----------
    plant
        The installation.
    fault
        One of its list.

    Returns
    -------
    hashable
        The run that is broken, the nets that are joined; else the fault's own id.
    """
    runs, network = _runs(plant), plant.network
    if len(fault.branches) == 1 and not fault.extra and not fault.levers:
        number, branch = fault.branches[0]
        ohms = getattr(branch.law, "resistance", 0.0)
        if ohms >= 1 / OPEN:
            return "open", runs.run[number]
        old = network.branches[number].law
        if fault.mode == "high-resistance" and isinstance(old, Straight):
            return "added", runs.run[number], round(ohms - old.resistance, 6)
    if len(fault.extra) == 1 and not fault.branches:
        nets = sorted((runs.net[fault.extra[0].a], runs.net[fault.extra[0].b]))
        return ("nothing",) if nets[0] == nets[1] else ("joined", *nets)
    return fault.id


def representatives(plant: Plant, faults: Sequence[Fault]) -> dict[str, Fault]:
    """For each fault the one that is worked out in its stead.

    Parameters
    ----------
    plant
        The installation.
    faults
        Of its list.

    Returns
    -------
    dict of str to Fault
        By the fault's id. A broken lead stands for a broken filament, never the other way about.
    """
    first: dict[Any, Fault] = {}
    for fault in sorted(faults, key=lambda f: bool(f.own)):
        first.setdefault(alike_of(plant, fault), fault)
    return {fault.id: first[alike_of(plant, fault)] for fault in faults}


# -- working them out ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Struck:
    """One fault in one situation, worked out; ``column`` is its place in the spread of all that were.

    ``second`` is there besides where a pair was put in.
    """

    fault: Fault
    situation: Situation
    case: Case
    spread: Spread
    column: int
    second: Fault | None = None

    @property
    def own(self) -> tuple[int, ...]:
        """Branches whose shown state means nothing, since they are what is broken."""
        return self.fault.own if self.second is None else (*self.fault.own, *self.second.own)

    @property
    def events(self) -> tuple[Event, ...]:
        """What happened: fuses, cartridges, chatter."""
        return self.spread.events[self.column]

    def state(self, number: int) -> int:
        """State of a branch with the fault in: of a load, a machine, a cartridge or a magneto."""
        return int(self.spread.states[number][self.column])

    def volts(self, a: int, b: int) -> float:
        """Volts between two nodes."""
        return float(self.spread.potentials[a, self.column] - self.spread.potentials[b, self.column])

    @property
    def variables(self) -> list[int]:
        """What everything remembers."""
        found: list[int] = self.spread.variables[:, self.column].tolist()
        return found

    def settled(self, plant: Plant) -> Settled:
        """The installation with its fault, as if it had been settled by itself.

        New branches of the fault are not in it; :attr:`case` has them.
        """
        base = self.situation.settled
        memory = base.memory if self.case.memory is None else self.case.memory
        memory = replace(memory, variables=tuple(self.variables))
        solver = base.solution.solver
        if self.case.branches:
            branches = list(plant.network.branches)
            for number, branch in self.case.branches:
                branches[number] = branch
            solver = replace(solver, network=replace(plant.network, branches=tuple(branches)))
        solution = replace(
            base.solution,
            solver=solver,
            levers=memory.levers,
            variables=memory.variables,
            truths=plant.solver.judged(memory.levers, memory.variables),
            potentials=self.spread.potentials[:, self.column].tolist(),
            remembered={},
        )
        return Settled(solution, memory, self.events)


@lru_cache(maxsize=8)
def _stated(plant: Plant) -> tuple[int, ...]:
    """Branches whose states a study of faults looks at."""
    wanted = {*loads_of(plant), *charges_of(plant), *magnetos_of(plant)}
    for item, equipment in plant.installation.equipment.items():
        wanted |= {
            plant.network.branch_of[f"{item}.{n}"] for names in equipment.groups.values() for n in names
        }
    wanted |= {n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Generator)}
    return tuple(sorted(wanted))


@lru_cache(maxsize=8)
def _without_magnetos(plant: Plant) -> Network:
    """The network with its magnetos as the open branches that they are to every current.

    Whether one is live wants a solution of its own in every round; only faults of their services ask.
    """
    open_branch = Straight(resistance=1 / OPEN)
    branches = [
        replace(b, law=open_branch) if isinstance(b.law, Magneto) else b for b in plant.network.branches
    ]
    return replace(plant.network, branches=tuple(branches))


@lru_cache(maxsize=8)
def _magneto_services(plant: Plant) -> frozenset[str] | None:
    """Services that have a magneto in them; None where something in the installation watches one."""
    network = plant.network
    magnetos = {n for n, b in enumerate(network.branches) if isinstance(b.law, Magneto)}
    for variable in network.variables:
        if variable.test is not None and any(
            isinstance(leaf, Measured) and leaf.a in magnetos and leaf.of in ("state", "group")
            for leaf in leaves(variable.test)
        ):
            return None
    items = [network.branches[n].item for n in magnetos]
    return frozenset(s for item in items for s in services_at(plant, (item,), ()))


def _is_quiet(plant: Plant, fault: Fault) -> bool:
    services = _magneto_services(plant)
    return services is not None and not services & set(fault.services)


@dataclass
class Workshop:
    """Bulk solvers of one installation, one a situation; what they have in common is made once."""

    plant: Plant
    bulks: dict[Memory, Bulk] = field(default_factory=dict)
    quiet_bulks: dict[Memory, Bulk] = field(default_factory=dict)
    known: dict[tuple[Memory, bool, tuple[str, ...]], tuple[Struck, ...]] = field(default_factory=dict)

    def bulk(self, settled: Settled, *, quiet: bool = False) -> Bulk:
        """The bulk solver of a settled installation; ``quiet`` where nobody asks for its magnetos."""
        bulks = self.quiet_bulks if quiet else self.bulks
        key = settled.memory
        if key not in bulks:
            like = next(iter(bulks.values()), None)
            base = settle(prepare(_without_magnetos(self.plant)), key) if quiet else settled
            bulks[key] = bulk_of(base, like=like)
        return bulks[key]

    def run(self, settled: Settled, cases: Sequence[Case], *, quiet: bool = False) -> Sequence[Outcome]:
        """Settle cases, whatever they change."""
        outcomes: Sequence[Outcome] = settle_cases(self.bulk(settled, quiet=quiet), cases)
        return outcomes


def struck(workshop: Workshop, situation: Situation, faults: Iterable[Fault]) -> Iterator[Struck]:
    """Put each fault by itself into an installation as it stands.

    Parameters
    ----------
    workshop
        Of the installation.
    situation
        How it stands.
    faults
        Worked out one and all; take :func:`representatives` first.

    Returns
    -------
    iterator of Struck
        Faults that change nothing there are left out.
    """
    plant = workshop.plant
    pairs = [
        (fault, case) for fault in faults if (case := case_of(plant, fault, situation.settled)) is not None
    ]
    pairs = [(fault, case) for fault, case in pairs if alike_of(plant, fault) != ("nothing",)]
    for quiet in (False, True):
        taken = [(fault, case) for fault, case in pairs if _is_quiet(plant, fault) == quiet]
        if taken:
            yield from put_in(workshop, situation, taken, quiet=quiet)


def put_in(
    workshop: Workshop,
    situation: Situation,
    taken: Sequence[tuple[Fault, Case]],
    *,
    quiet: bool,
    seconds: Sequence[Fault] = (),
) -> tuple[Struck, ...]:
    """Put cases into an installation as it stands, each under the name of a fault.

    Parameters
    ----------
    workshop
        Of the installation.
    situation
        How it stands.
    taken
        Faults and their cases.
    quiet
        Whether nobody asks for magnetos.
    seconds
        Of pairs of faults, the second of each; the case is that of both.

    Returns
    -------
    tuple of Struck
        In order.
    """
    outcomes = workshop.run(situation.settled, [case for _, case in taken], quiet=quiet)
    spread = spread_of(outcomes, situation.settled, _stated(workshop.plant))
    others: Sequence[Fault | None] = seconds or [None] * len(taken)
    return tuple(
        Struck(fault, situation, case, spread, n, second)
        for n, ((fault, case), second) in enumerate(zip(taken, others, strict=True))
    )


def struck_once(
    workshop: Workshop, situation: Situation, faults: Sequence[Fault], *, magnetos: bool = False
) -> tuple[Struck, ...]:
    """The same as :func:`struck`, remembered: two cartridges in one circuit ask the same.

    ``magnetos`` says that their states are wanted; without, all faults go the quick way.
    """
    key = situation.settled.memory, magnetos, tuple(fault.id for fault in faults)
    if key not in workshop.known:
        plant = workshop.plant
        pairs = [(f, c) for f in faults if (c := case_of(plant, f, situation.settled)) is not None]
        pairs = [(f, c) for f, c in pairs if alike_of(plant, f) != ("nothing",)]
        workshop.known[key] = put_in(workshop, situation, pairs, quiet=not magnetos)
    return workshop.known[key]
