"""The way of the current in a sneak or a hazard, found by its name: to be drawn, or to be followed with a meter.

A name is what ``faults`` prints beside a sneak or a hazard (see the heads of :mod:`loomlore.faults.sneaks.sneak` and
:mod:`loomlore.faults.hazards`); any fault's id may stand for the sneak that it opens. Only what the name speaks
of is worked out, not the whole study.

A cartridge that has fired carries nothing: its way is the one at the moment before, its bridge whole. A magneto
that is live has no current either: its way is the lead that should earth it, from its primary to the airframe.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

from loomlore.faults.effects import fault_study
from loomlore.faults.hazards import Hazard, Threat, endangered, hazards_of, likeliest
from loomlore.faults.injecting import case_of
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.situations import ready
from loomlore.faults.sneaks.sneak import Sneak
from loomlore.faults.sneaks.under_faults import sneaks_under_faults
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well
from loomlore.faults.tracing import Step, path_through
from loomlore.findings import UnknownName
from loomlore.network.building import Plant
from loomlore.network.cases import network_with
from loomlore.network.laws import Cartridge, Fuse, Magneto, Motor, Straight
from loomlore.network.settling import Settled, settle
from loomlore.network.solving import prepare

__all__ = ["NamedPath", "named_path"]

STOPS = 10.0
"""Ohms up to which a branch is taken to be part of the lead that earths a magneto: common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class NamedPath:
    """A way of the current: its marks in order, how things stand, and the fault, None where all is well.

    ``steps`` is empty where no current tells of it (a label on a magneto, a relay that chatters).
    """

    name: str
    words: str
    steps: tuple[Step, ...]
    settled: Settled
    fault: Fault | None = None


def named_path(plant: Plant, name: str) -> NamedPath:
    """Find the way of the current in a sneak or a hazard by its name.

    Parameters
    ----------
    plant
        The installation.
    name
        As ``faults`` prints it, or the id of a fault that opens a sneak path.

    Returns
    -------
    NamedPath
        With its marks from the source to the return.

    Raises
    ------
    UnknownName
        Where no sneak and no hazard is called so; or a fault opens no sneak path.
    """
    listed = {fault.id: fault for fault in faults_of(plant)}
    if name in listed:
        study = fault_study(plant, faults=(listed[name],), keep=True)
        sneaks = {sneak.name: sneak for sneak in sneaks_under_faults(study)}
        if name not in sneaks:
            raise UnknownName("sneak path under one fault", name, sneaks)
        return _of_sneak(plant, sneaks[name])
    sneaks = {sneak.name: sneak for sneak in sneaks_with_all_well(plant)}
    if name in sneaks:
        return _of_sneak(plant, sneaks[name])
    item = name.partition(".")[0]
    hazards = {hazard.name: hazard for hazard in hazards_of(plant, item=item).hazards}
    if name not in hazards:
        dangerous = [f"{item}.{end}" for item, end in endangered(plant)]
        raise UnknownName("sneak path or hazard", name, (*sneaks, *dangerous))
    return _of_hazard(plant, hazards[name])


def _of_sneak(plant: Plant, sneak: Sneak) -> NamedPath:
    return NamedPath(
        name=sneak.name,
        words=sneak.words,
        steps=sneak.steps,
        settled=sneak.settled or ready(plant).settled,
        fault=sneak.fault,
    )


def _of_hazard(plant: Plant, hazard: Hazard) -> NamedPath:
    found = NamedPath(name=hazard.name, words=hazard.words, steps=(), settled=ready(plant).settled)
    if not hazard.threats:
        return found
    threat = likeliest(hazard.threats)
    laws = {"cartridge": Cartridge, "magneto": Magneto}
    law = laws.get(hazard.kind, Motor)
    branches = plant.network.branches
    number = next(n for n, b in enumerate(branches) if b.item == hazard.item and isinstance(b.law, law))
    steps = _stopping(threat.settled, number) if law is Magneto else _reaching(plant, threat, number)
    return replace(found, steps=steps, settled=threat.settled, fault=threat.fault)


def _reaching(plant: Plant, threat: Threat, number: int) -> tuple[Step, ...]:
    """The way of the current that reaches a motor or a cartridge, with every fuse and the bridge kept whole."""
    case = case_of(plant, threat.fault, threat.settled)
    if case is None:
        return ()
    network = network_with(plant.network, case)
    branches = tuple(
        replace(b, law=Straight(resistance=b.law.resistance), memory=-1)
        if isinstance(b.law, Cartridge | Fuse)
        else b
        for b in network.branches
    )
    solver = prepare.__wrapped__(replace(network, branches=branches))
    after = settle(solver, threat.settled.memory if case.memory is None else case.memory)
    return path_through(after, number).steps


def _stopping(settled: Settled, number: int) -> tuple[Step, ...]:
    """The lead that earths a magneto with everything in order: the fewest branches to the airframe."""
    network = settled.solution.solver.network
    at: dict[int, list[int]] = {}
    for other, branch in enumerate(network.branches):
        plain = isinstance(branch.law, Straight) and other != number
        if plain and settled.solution.conductance(other) > 1 / STOPS:
            at.setdefault(branch.a, []).append(other)
            at.setdefault(branch.b, []).append(other)
    own = network.branches[number]
    start = own.a or own.b
    came: dict[int, tuple[int, int]] = {start: (-1, -1)}
    waiting = deque([start])
    while waiting and 0 not in came:
        node = waiting.popleft()
        for other in at.get(node, ()):
            branch = network.branches[other]
            far = branch.b if branch.a == node else branch.a
            if far not in came:
                came[far] = other, node
                waiting.append(far)
    return _steps_back(settled, came, 0) if 0 in came else ()


def _steps_back(settled: Settled, came: dict[int, tuple[int, int]], node: int) -> tuple[Step, ...]:
    network = settled.solution.solver.network
    steps: list[Step] = []
    while came[node][0] >= 0:
        number, before = came[node]
        branch = network.branches[number]
        names = network.node_names
        steps.append(Step(branch.name, branch.sort, names[before], names[node], branch.a == node))
        node = before
    return tuple(reversed(steps))
