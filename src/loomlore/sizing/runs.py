"""Drops along the paths that current takes: from a load back to its fuse, and on to its return.

From a solved case, not from a list: at each node the branch that brings most current is followed. Potential
differences along a path add up whatever else the cables carry, so that shared runs, bonds and earth bolts are
in the figure by themselves::

    bus --fuse--cable--switch--cable-- load --cable--bolt-- airframe
        |----- supply side ---------|      |--- return ---|

Only wiring counts: cables, contacts, joints, fuses, bolts, bonds, bus bars and shunts. What a dimmer or a
lamp in series takes is not a drop.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Fuse, Generator, Rectifier, Rheostat, Source, Straight
from loomlore.network.model import Network
from loomlore.network.solving import Solution
from loomlore.sizing.duty import Case, Load, Study

__all__ = [
    "LoadRun",
    "Part",
    "drop_along",
    "is_wiring",
    "run_of",
    "source_run",
    "worst_runs",
]

WIRING = frozenset({"cable", "contact", "joint", "fuse", "bolt", "bond"})

WIRING_OHMS = 0.05
"""A plain conductor inside equipment below this is wiring: bus bars, shunts, chokes."""

LONGEST = 80
"""Steps of a walk; none of a sane record is as long."""

CARRIES = 1e-7
"""Amperes below which a branch leads nowhere."""


@dataclass(frozen=True, slots=True)
class Part:
    """One piece of a run: the branch, what it drops [V] and carries [A]; ``back`` on the return side."""

    branch: int
    volts: float
    amps: float
    back: bool = False


@dataclass(frozen=True, slots=True)
class LoadRun:
    """A load's run in one case, from its bus to its return.

    ``fuse`` is the branch of its fuse (-1: none met before the source), ``bus`` and ``end`` the nodes between
    which the drop counts, ``drop`` the sum over the wiring [V], ``volts`` what the load has left [V].
    """

    load: Load
    case: int
    parts: tuple[Part, ...]
    fuse: int
    bus: int
    end: int
    drop: float
    volts: float
    amps: float

    @property
    def supply_drop(self) -> float:
        """On the supply side [V]."""
        return sum(part.volts for part in self.parts if not part.back)

    @property
    def return_drop(self) -> float:
        """On the return side [V]."""
        return sum(part.volts for part in self.parts if part.back)

    def branches(self) -> tuple[int, ...]:
        """Of its wiring, in order from the bus."""
        return tuple(part.branch for part in self.parts)


@lru_cache(maxsize=32)
def _around(network: Network) -> tuple[tuple[tuple[int, int, int], ...], ...]:
    """For each node (branch, node at its other end, +1 where the branch begins here)."""
    found: list[list[tuple[int, int, int]]] = [[] for _ in network.node_names]
    for number, branch in enumerate(network.branches):
        if branch.a != branch.b:
            found[branch.a].append((number, branch.b, 1))
            found[branch.b].append((number, branch.a, -1))
    return tuple(tuple(entry) for entry in found)


@lru_cache(maxsize=32)
def _wiring(network: Network) -> tuple[bool, ...]:
    return tuple(is_wiring(network, n) for n in range(len(network.branches)))


def is_wiring(network: Network, branch: int) -> bool:
    """Whether a branch is wiring, whose drop is a loss, and no equipment.

    Parameters
    ----------
    network
        Any.
    branch
        Its number.

    Returns
    -------
    bool
        True for cables, contacts, joints, fuses, bolts and bonds, and for bars and shunts inside equipment.
    """
    record = network.branches[branch]
    if record.sort in WIRING:
        return True
    law = record.law
    return isinstance(law, Straight) and not law.states and law.resistance < WIRING_OHMS


@dataclass(frozen=True, slots=True)
class _Walk:
    branches: tuple[int, ...]
    end: int
    fuse: int = -1
    source: int = -1


def _walk(
    network: Network,
    amps: tuple[float, ...],
    start: int,
    avoid: int,
    *,
    inward: bool,
    service: str = "",
    services: Mapping[int, str] | None = None,
    past_fuses: bool = False,
) -> _Walk:
    """Follow the greatest current from a node, against its flow (``inward``) or with it.

    Ends at the airframe, behind the first fuse (unless ``past_fuses``), at a source, or, on a return, before
    the first cable of another service.
    """
    around = _around(network)
    taken: list[int] = []
    node, last, fuse = start, avoid, -1
    for _ in range(LONGEST):
        if node == 0 and taken:
            break
        best, best_amps = None, CARRIES
        for branch, other, sign in around[node]:
            flow = -sign * amps[branch] if inward else sign * amps[branch]
            if branch != last and flow > best_amps:
                best, best_amps = (branch, other), flow
        if best is None:
            break
        branch, other = best
        record = network.branches[branch]
        if isinstance(record.law, Battery | Generator | Source):
            return _Walk(tuple(taken), node, fuse, branch)
        if service and services and services.get(branch, service) != service and taken:
            break
        taken.append(branch)
        node, last = other, branch
        if isinstance(record.law, Fuse) and fuse < 0:
            fuse = branch
            if not past_fuses:
                break
    return _Walk(tuple(taken), node, fuse)


@lru_cache(maxsize=16)
def _cable_services(plant: Plant) -> Mapping[int, str]:
    of = plant.network.branch_of
    cables = plant.installation.dossier.cables.values()
    return {of[f"cable:{c.id}"]: c.service for c in cables if f"cable:{c.id}" in of and c.service}


def run_of(plant: Plant, case: Case, number: int, load: Load) -> LoadRun | None:
    """A load's run in a case.

    Parameters
    ----------
    plant
        The installation.
    case
        Solved.
    number
        Of the case.
    load
        What the run ends at.

    Returns
    -------
    LoadRun or None
        None where the load takes nothing.
    """
    network, amps = plant.network, case.amps
    if abs(amps[load.branch]) <= CARRIES:
        return None
    record = network.branches[load.branch]
    enters, leaves = (record.a, record.b) if amps[load.branch] > 0 else (record.b, record.a)
    header = plant.installation.dossier.header
    positive_earth = header.earthed == "positive"
    hot, cold = (leaves, enters) if positive_earth else (enters, leaves)
    service = load.services[0] if load.services else ""
    service = _own_service(plant, load) or service
    supply = _walk(network, amps, hot, load.branch, inward=not positive_earth)
    two_wire = header.return_ == "two-wire"
    back = _walk(
        network,
        amps,
        cold,
        load.branch,
        inward=positive_earth,
        service=service if two_wire else "",
        services=_cable_services(plant) if two_wire else None,
        past_fuses=True,
    )
    return _made(case.solution, amps, load, number, supply, back)


def _own_service(plant: Plant, load: Load) -> str:
    item = plant.installation.dossier.items.get(load.item)
    return item.service if item is not None else ""


def _made(
    solution: Solution, amps: tuple[float, ...], load: Load, number: int, supply: _Walk, back: _Walk
) -> LoadRun:
    wiring = _wiring(solution.solver.network)
    parts = [Part(n, abs(solution.volts(n)), abs(amps[n])) for n in reversed(supply.branches) if wiring[n]]
    parts += [Part(n, abs(solution.volts(n)), abs(amps[n]), back=True) for n in back.branches if wiring[n]]
    return LoadRun(
        load=load,
        case=number,
        parts=tuple(parts),
        fuse=supply.fuse,
        bus=supply.end,
        end=back.end,
        drop=sum(part.volts for part in parts),
        volts=abs(solution.volts(load.branch)),
        amps=abs(amps[load.branch]),
    )


def drop_along(solution: Solution, run: LoadRun) -> float:
    """The drop of a run's wiring in another solution of the same installation.

    Parameters
    ----------
    solution
        Of a plant with the same numbering.
    run
        Found in any of its cases.

    Returns
    -------
    float
        [V]
    """
    return sum(abs(solution.volts(part.branch)) for part in run.parts)


def source_run(plant: Plant, case: Case, node: int) -> tuple[tuple[int, ...], int]:
    """The wiring from a bus back to the source that feeds it most.

    Parameters
    ----------
    plant
        The installation.
    case
        Solved.
    node
        The bus.

    Returns
    -------
    tuple of tuple of int and int
        Branches from the source on, and the source's branch (-1 where none is met).
    """
    inward = plant.installation.dossier.header.earthed != "positive"
    walk = _walk(plant.network, case.amps, node, -1, inward=inward, past_fuses=True)
    wiring = _wiring(plant.network)
    return tuple(n for n in reversed(walk.branches) if wiring[n]), walk.source


ALIKE = 0.995


def worst_runs(study: Study, *, loads: Iterable[Load] | None = None) -> dict[int, LoadRun]:
    """For each load the run of the case in which it drops most.

    Parameters
    ----------
    study
        All cases.
    loads
        Those asked for; all but cartridges' own where None.

    Returns
    -------
    dict of int to LoadRun
        By the load's branch. Of cases within half a per cent of the worst the plainest.

    Notes
    -----
    A load that can be on for good is judged in the settings that last; one that is only on while a push is
    held, in those.

    Source
    ------
    [ac43.13-1b table 11-7]
    """
    found: dict[int, list[LoadRun]] = {}
    wanted = study.loads if loads is None else tuple(loads)
    for number, case in enumerate(study.cases):
        for load in wanted:
            if abs(case.amps[load.branch]) < 0.5 * study.most[load.branch][0] or case.amps[load.branch] == 0:
                continue
            run = run_of(study.plant, case, number, load)
            if run is not None:
                found.setdefault(load.branch, []).append(run)
    return {branch: _worst(study, listed) for branch, listed in found.items()}


def _worst(study: Study, every: list[LoadRun]) -> LoadRun:
    listed = [run for run in every if not study.cases[run.case].momentary] or every
    greatest = max(run.drop for run in listed)
    near = [run for run in listed if run.drop >= ALIKE * greatest]
    return min(near, key=lambda run: len(study.cases[run.case].operations))


def fuse_above(plant: Plant, case: Case, node: int, avoid: int) -> tuple[int, bool]:
    """The first fuse against the flow from a node, and whether equipment is passed before it.

    Parameters
    ----------
    plant
        The installation.
    case
        Solved.
    node
        Where to begin.
    avoid
        The branch that is come from.

    Returns
    -------
    tuple of int and bool
        Branch of the fuse (-1 none), and whether a load stands between: then the node is on a return.
    """
    inward = plant.installation.dossier.header.earthed != "positive"
    walk = _walk(plant.network, case.amps, node, avoid, inward=inward)
    wiring = _wiring(plant.network)
    passed = node == 0 or walk.end == 0 or any(not wiring[branch] for branch in walk.branches)
    return walk.fuse, passed


def loads_behind(plant: Plant, case: Case, branch: int) -> tuple[int, ...]:
    """The equipment that the current through a contact works.

    Whether it lies behind the contact or before it.

    Parameters
    ----------
    plant
        The installation.
    case
        Solved.
    branch
        A contact.

    Returns
    -------
    tuple of int
        Branches that are no wiring: with the flow to the airframe, or, for a contact in a return, against it
        to the fuse.
    """
    network, amps = plant.network, case.amps
    positive_earth = plant.installation.dossier.header.earthed == "positive"
    record = network.branches[branch]
    to_return = (amps[branch] > 0) != positive_earth
    near, far = (record.a, record.b) if to_return else (record.b, record.a)
    _, on_return = fuse_above(plant, case, near, branch)
    direction = (-1 if positive_earth else 1) * (-1 if on_return else 1)
    return _spread(network, amps, near if on_return else far, branch, direction, stops=on_return)


def _spread(
    network: Network, amps: tuple[float, ...], start: int, avoid: int, direction: int, *, stops: bool
) -> tuple[int, ...]:
    around, wiring = _around(network), _wiring(network)
    waiting, seen, found = [start], {avoid}, []
    while waiting:
        node = waiting.pop()
        for number, other, sign in around[node] if node else ():
            law = network.branches[number].law
            if (
                number in seen
                or direction * sign * amps[number] <= CARRIES
                or (stops and isinstance(law, Fuse))
            ):
                continue
            seen.add(number)
            if isinstance(law, Battery | Generator | Source):
                continue
            if wiring[number]:
                waiting.append(other)
                continue
            found.append(number)
            passed = isinstance(law, Rheostat | Rectifier) or (isinstance(law, Straight) and not law.states)
            if passed:
                waiting.append(other)
    return tuple(found)


def follow(
    plant: Plant,
    case: Case,
    node: int,
    avoid: int,
    *,
    inward: bool,
    to_bus: bool = False,
) -> tuple[int, ...]:
    """The wiring that the greatest current takes from a node.

    Parameters
    ----------
    plant
        The installation.
    case
        Solved.
    node
        Where to begin.
    avoid
        The branch that is come from.
    inward
        Against the flow instead of with it.
    to_bus
        Stop where the current divides: before the first cable of another service, or a way of a fuse box.

    Returns
    -------
    tuple of int
        Branches in order, equipment left out.
    """
    network = plant.network
    services = _cable_services(plant)
    walk = _walk(network, case.amps, node, avoid, inward=inward, past_fuses=True)
    wiring = _wiring(network)
    found: list[int] = []
    own = ""
    ways = _box_ways(plant)
    for branch in walk.branches:
        service = services.get(branch, "")
        if not wiring[branch] or (to_bus and (branch in ways or (own and service and service != own))):
            break
        own = own or service
        found.append(branch)
    items = [network.branches[branch].item for branch in found]
    while to_bus and len(found) > 1 and items[-1] and items[-1] == items[-2]:
        found.pop()  # in at one way of a bar is the bus; out at another is no more the main
        items.pop()
    return tuple(found)


@lru_cache(maxsize=16)
def _box_ways(plant: Plant) -> frozenset[int]:
    """Fuses that are one of several in their item: from there on it is a service's own."""
    count: dict[str, int] = {}
    fuses = [(n, b.item) for n, b in enumerate(plant.network.branches) if isinstance(b.law, Fuse)]
    for _, item in fuses:
        count[item] = count.get(item, 0) + 1
    return frozenset(n for n, item in fuses if count[item] > 1)


def only_fuse(plant: Plant, node: int, avoid: int) -> int:
    """The fuse that wiring leads to from a node without dividing, or -1.

    Parameters
    ----------
    plant
        The installation.
    node
        Where to begin.
    avoid
        The branch that is come from.

    Returns
    -------
    int
        Branch of the fuse.
    """
    around = _around(plant.network)
    for _ in range(LONGEST):
        onward = [entry for entry in around[node] if entry[0] != avoid]
        if len(onward) != 1:
            return -1
        avoid, node = onward[0][0], onward[0][1]
        if isinstance(plant.network.branches[avoid].law, Fuse):
            return avoid
    return -1
