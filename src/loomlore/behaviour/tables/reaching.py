"""What reaches an element: the levers and memories that can change it, and the supply behind a service.

From the element's two ends the wiring is walked (:mod:`loomlore.behaviour.walking`) up to the *hubs*: the airframe
and the common returns, the terminals of the sources, and both ends of every service's feeding fuse. What stands
behind the hubs is the supply: its own levers are explored once for the whole installation, and come down to a
few *supplies* (dead, battery, generator ...) for each feed.

Plugs and studs are taken as mated: a function table speaks of the installation whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from loomlore.behaviour.readings import services_of
from loomlore.behaviour.walking import Circuits, Walk, circuit_of, roots
from loomlore.network.building import Plant
from loomlore.network.conditions import LeverIs, leaves
from loomlore.network.laws import Battery, Fuse, Generator, Meter, Source, Straight
from loomlore.network.model import Branch
from loomlore.network.solving import Solution

__all__ = ["Cone", "cone_of", "feed_fuses", "sources_at", "supply_levers"]

THROUGH = 2.0
"""Up to so many ohms a plain conductor passes supply on; a shunt or an ammeter does, a coil does not."""
ALIVE = 0.8
"""A generator whose open volts reach this share of its rated volts is supply: common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Cone:
    """Levers and variables that can change an element.

    ``cuts`` are the values at which a condition in the cone changes its mind, by lever; ``followed`` the
    levers that a law follows smoothly. ``machines`` are generators whose own terminal is touched, ahead of
    the main: what they do is then seen directly, and not only as supply.
    """

    levers: frozenset[int]
    variables: frozenset[int]
    cuts: Mapping[int, tuple[float, ...]]
    followed: frozenset[int]
    machines: frozenset[int]


@dataclass(frozen=True, eq=False)
class _Ground:
    """The wiring as it lies: what is joined for good, where the hubs are, and the circuits between them.

    ``machines_at`` are generators at a node's own terminal, ``machines_of`` those that a circuit touches.
    """

    joined: tuple[int, ...]
    hubs: frozenset[int]
    circuits: Circuits
    machines_at: Mapping[int, tuple[int, ...]]
    machines_of: Mapping[int, frozenset[int]]


def feed_fuses(plant: Plant, service: str) -> tuple[int, ...]:
    """Branches of the fuses that feed a service.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id.

    Returns
    -------
    tuple of int
        In the order of the record; none for a service without a fused feed.
    """
    found = []
    network = plant.network
    for feed in plant.installation.dossier.services[service].feed:
        if feed in network.branch_of:
            found.append(network.branch_of[feed])
        else:
            found += [n for n, b in enumerate(network.branches) if b.item == feed and isinstance(b.law, Fuse)]
    return tuple(found)


def _root(parent: list[int], node: int) -> int:
    while parent[node] != node:
        parent[node] = parent[parent[node]]
        node = parent[node]
    return node


def _join(parent: list[int], branch: Branch) -> None:
    a, b = _root(parent, branch.a), _root(parent, branch.b)
    if a != b:
        parent[max(a, b)] = min(a, b)


def _passes(branch: Branch) -> bool:
    """Whether a branch is a plain conductor of low resistance."""
    law = branch.law
    return isinstance(law, Fuse) or (
        isinstance(law, Straight | Meter)
        and not (isinstance(law, Straight) and law.states)
        and law.resistance <= THROUGH
    )


def _mated(plant: Plant, branch: Branch) -> bool:
    """Whether a contact is a plug's, or a stud's that is undone only with the wing."""
    if branch.sort == "joint":
        return True
    equipment = plant.installation.equipment.get(branch.item)
    return branch.sort == "contact" and equipment is not None and equipment.symbol == "stud"


@lru_cache(maxsize=32)
def _ground(plant: Plant) -> _Ground:
    network = plant.network
    parent = list(range(len(network.node_names)))
    feeds = {n for service in plant.installation.dossier.services for n in feed_fuses(plant, service)}
    for number, branch in enumerate(network.branches):
        if number in feeds or not _passes(branch):
            continue
        if branch.closed is None or _mated(plant, branch):
            _join(parent, branch)
    joined = tuple(_root(parent, node) for node in range(len(parent)))
    hubs = {joined[0]} | {
        joined[node] for n in feeds for node in (network.branches[n].a, network.branches[n].b)
    }
    positive_earth = plant.installation.dossier.header.earthed == "positive"
    live: dict[int, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if isinstance(branch.law, Battery | Generator | Source):
            hubs |= {joined[branch.a], joined[branch.b]}
            if isinstance(branch.law, Generator):
                live.setdefault(joined[branch.b if positive_earth else branch.a], []).append(number)
    machines_at = {node: tuple(live[of]) for node, of in enumerate(joined) if of in live}
    boundary = frozenset(node for node, of in enumerate(joined) if of in hubs)
    circuits, members = _circuits(plant, boundary)
    machines_of = {
        circuit: frozenset(
            machine
            for number in numbers
            for node in (network.branches[number].a, network.branches[number].b)
            for machine in machines_at.get(node, ())
        )
        for circuit, numbers in members.items()
    }
    return _Ground(joined, frozenset(hubs), circuits, machines_at, machines_of)


def _circuits(plant: Plant, boundary: frozenset[int]) -> tuple[Circuits, Mapping[int, Sequence[int]]]:
    """Circuits between the hubs, and their branches: without the supply's own cables, and the sources."""
    network, cables, supplying = plant.network, plant.installation.dossier.cables, _supply_services(plant)
    left_out = {
        n
        for n, b in enumerate(network.branches)
        if isinstance(b.law, Battery | Generator | Source)
        or (b.sort == "cable" and cables[b.name].service in supplying)
    }
    mated = frozenset(n for n, b in enumerate(network.branches) if _mated(plant, b))
    root = roots(network, boundary, left_out=left_out)
    members: dict[int, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if number not in left_out:
            for circuit in {root[node] for node in (branch.a, branch.b) if node not in boundary}:
                members.setdefault(circuit, []).append(number)
    at_node = [
        (root[node],) if node not in boundary and root[node] in members else () for node in range(len(root))
    ]
    circuits = Circuits(
        held={circuit: circuit_of(network, numbers, mated) for circuit, numbers in members.items()},
        at_node=at_node,
        at_branch=[(*at_node[b.a], *at_node[b.b]) for b in network.branches],
        mated=mated,
    )
    return circuits, members


def _supply_services(plant: Plant) -> set[str]:
    by_item = services_of(plant.installation)
    sources = {b.item for b in plant.network.branches if isinstance(b.law, Battery | Generator | Source)}
    return {
        service for item in sources for service in by_item.get(item, ()) if not feed_fuses(plant, service)
    }


def cone_of(plant: Plant, branches: Iterable[int]) -> Cone:
    """Walk back from elements to everything that can change them.

    Parameters
    ----------
    plant
        The installation.
    branches
        Numbers of the elements.

    Returns
    -------
    Cone
        Without what stands behind the feeds, and without plugs.
    """
    ground = _ground(plant)
    walk = Walk(network=plant.network, circuits=ground.circuits)
    for number in branches:
        walk.start(number)
    walk.finish()
    levers = {n for n in walk.levers if not _is_plug(plant, n)}
    machines = {machine for node in walk.nodes for machine in ground.machines_at.get(node, ())}
    return Cone(
        levers=frozenset(levers),
        variables=frozenset(walk.variables),
        cuts={lever: tuple(sorted(cuts)) for lever, cuts in walk.cuts.items()},
        followed=frozenset(walk.followed),
        machines=frozenset(machines.union(*(ground.machines_of[circuit] for circuit in walk.entered))),
    )


@lru_cache(maxsize=32)
def _plugs(plant: Plant) -> frozenset[int]:
    found: set[int] = set()
    for branch in plant.network.branches:
        if branch.closed is not None and _mated(plant, branch):
            found |= {leaf.lever for leaf in leaves(branch.closed) if isinstance(leaf, LeverIs)}
    return frozenset(found)


def _is_plug(plant: Plant, lever: int) -> bool:
    return lever in _plugs(plant)


@lru_cache(maxsize=32)
def supply_levers(plant: Plant) -> tuple[tuple[int, ...], Mapping[int, tuple[float, ...]]]:
    """Levers of the services that have a source in them, and where their ranges are cut.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple
        Lever numbers [1], plugs left out; values [unit of the lever] at which something changes its mind.
    """
    services = _supply_services(plant)
    by_item = services_of(plant.installation)
    items = {item for item, of in by_item.items() if services & set(of) and not set(of) - services}
    items |= {b.item for b in plant.network.branches if isinstance(b.law, Battery | Generator | Source)}
    items |= {item for item, of in by_item.items() if services & set(of) and _switches_supply(plant, item)}
    walk = Walk(network=plant.network, circuits=_ground(plant).circuits)
    for number, branch in enumerate(plant.network.branches):
        if branch.item in items:
            walk.meet(number)
    levers = tuple(sorted(n for n in walk.levers if not _is_plug(plant, n)))
    return levers, {n: tuple(sorted(walk.cuts.get(n, ()))) for n in levers}


def _switches_supply(plant: Plant, item: str) -> bool:
    """Whether an item of several services has a contact between two hubs: it passes supply on."""
    ground = _ground(plant)
    return any(
        b.item == item and b.sort == "contact" and {ground.joined[b.a], ground.joined[b.b]} <= ground.hubs
        for b in plant.network.branches
    )


def sources_at(plant: Plant, solution: Solution, nodes: Iterable[int]) -> tuple[frozenset[str], ...]:
    """Which sources stand behind each of some nodes, through closed contacts and whole fuses.

    Parameters
    ----------
    plant
        The installation.
    solution
        How things stand.
    nodes
        Nodes of the network.

    Returns
    -------
    tuple of frozenset of str
        Item ids, none for a dead node or one on the return.
    """
    lying, switched, sources = _passing(plant)
    parent = list(lying)
    for number, branch in switched:
        if solution.closed(number) and not (branch.memory >= 0 and solution.variables[branch.memory]):
            _join(parent, branch)
    found: dict[int, set[str]] = {}
    positive_earth = plant.installation.dossier.header.earthed == "positive"
    for number, branch in sources:
        law = branch.law
        if not solution.works(number):
            continue
        if isinstance(law, Generator) and law.force(True, solution.followed(number)) < ALIVE * law.volts:
            continue
        found.setdefault(_root(parent, branch.b if positive_earth else branch.a), set()).add(branch.item)
    return tuple(frozenset(found.get(_root(parent, node), ())) for node in nodes)


_Numbered = tuple[tuple[int, Branch], ...]


@lru_cache(maxsize=32)
def _passing(plant: Plant) -> tuple[tuple[int, ...], _Numbered, _Numbered]:
    """What always passes supply on, joined; what does so while closed and whole; and the sources."""
    branches = plant.network.branches
    parent = list(range(len(plant.network.node_names)))
    switched = []
    for number, branch in enumerate(branches):
        if not _passes(branch):
            continue
        if branch.closed is None and branch.memory < 0:
            _join(parent, branch)
        else:
            switched.append((number, branch))
    sources = tuple((n, b) for n, b in enumerate(branches) if isinstance(b.law, Battery | Generator | Source))
    return tuple(_root(parent, node) for node in range(len(parent))), tuple(switched), sources
