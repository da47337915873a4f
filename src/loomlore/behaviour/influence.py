"""Which levers can change what an element does, otherwise than by the sag of the common supply.

Take the supply's own nodes out of the network (airframe, bolts, the items of the services that hold a source,
the bars of the fuse boxes): what is left falls into *circuits*, each a load or a few with the contacts, ways
and cables that carry its current (:mod:`loomlore.behaviour.walking`). Two circuits that meet only at the supply
change each other's volts a little, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from loomlore.behaviour.readings import services_of
from loomlore.behaviour.walking import Circuits, Walk, circuit_of, measured_places, roots
from loomlore.network.building import Plant
from loomlore.network.conditions import Condition, Measured
from loomlore.network.laws import Battery, Generator, Source

__all__ = [
    "WITHIN_SUPPLY",
    "Influence",
    "circuits_measured",
    "circuits_that_matter",
    "influence_of",
    "levers_that_matter",
    "supply_items",
]


WITHIN_SUPPLY = -1
"""The circuit of branches that lie within the supply, at both their ends."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Influence:
    """``circuit_of`` gives each branch its circuit, ``branches`` lists them; ``circuits`` are to be walked."""

    circuit_of: tuple[int, ...]
    branches: Mapping[int, tuple[int, ...]]
    circuits: Circuits


def supply_items(plant: Plant) -> frozenset[str]:
    """Items of the services that have a source in them.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    frozenset of str
        Item ids.
    """
    sources = {b.item for b in plant.network.branches if isinstance(b.law, Battery | Generator | Source)}
    by_item = services_of(plant.installation)
    services = {s for item in sources for s in by_item.get(item, ())}
    return frozenset(item for item, of in by_item.items() if services & set(of))


@lru_cache(maxsize=16)
def influence_of(plant: Plant) -> Influence:
    """Sort the branches into circuits.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    Influence
        Made once for each plant.
    """
    network = plant.network
    core = _core_nodes(plant)
    root = roots(network, core)
    circuits = []
    members: dict[int, list[int]] = {}
    at_core: dict[int, dict[int, None]] = {node: {} for node in core}
    for number, branch in enumerate(network.branches):
        circuit = next((root[node] for node in (branch.a, branch.b) if node not in core), WITHIN_SUPPLY)
        circuits.append(circuit)
        members.setdefault(circuit, []).append(number)
        for node in core & {branch.a, branch.b}:
            at_core[node].setdefault(circuit)
    at_core[0] = {}  # the airframe is beside everything
    lone = {node: {root[node]: None} if root[node] in members else {} for node in range(len(root))}
    return Influence(
        circuit_of=tuple(circuits),
        branches={circuit: tuple(numbers) for circuit, numbers in members.items()},
        circuits=Circuits(
            held={circuit: circuit_of(network, numbers) for circuit, numbers in members.items()},
            at_node=[tuple(found) for found in {**lone, **at_core}.values()],
            at_branch=[(circuit,) for circuit in circuits],
        ),
    )


def _core_nodes(plant: Plant) -> frozenset[int]:
    network, items = plant.network, supply_items(plant)
    core = {0}
    for branch in network.branches:
        if branch.sort in ("bolt", "bond"):
            core |= {branch.a, branch.b}
        if branch.sort == "fuse":
            core |= _bar(plant, branch.a, branch.b)
    for name, node in network.node_of.items():
        if name.rpartition(".")[0] in items and not _is_way(plant, name):
            core.add(node)
    return frozenset(core)


def _is_way(plant: Plant, name: str) -> bool:
    """Whether a terminal is a numbered way: a fuse box or plug that the supply shares with others."""
    return (
        name.rpartition(".")[2].isdigit()
        and len(services_of(plant.installation).get(name.rpartition(".")[0], ())) > 1
    )


def _bar(plant: Plant, a: int, b: int) -> set[int]:
    """The bar's node of a fuse in a box: the end that other fuses share."""
    fuses = [branch for branch in plant.network.branches if branch.sort == "fuse"]
    return {node for node in (a, b) if sum(node in (f.a, f.b) for f in fuses) > 1}


def levers_that_matter(
    plant: Plant, branches: Iterable[int], conditions: Iterable[Condition] = ()
) -> set[int]:
    """Levers that can change what these branches do, or whether these conditions hold.

    Parameters
    ----------
    plant
        The installation.
    branches
        Numbers of branches.
    conditions
        More to be decided.

    Returns
    -------
    set of int
        Lever numbers, through coils and latches.
    """
    walk = _walked(plant, branches, conditions)
    of = influence_of(plant).circuit_of
    return walk.levers | {m.lever for m in plant.network.movements if of[m.branch] in walk.entered}


def circuits_that_matter(plant: Plant, conditions: Iterable[Condition]) -> frozenset[int]:
    """Circuits that can change whether conditions hold, through coils and latches.

    Parameters
    ----------
    plant
        The installation.
    conditions
        To be decided.

    Returns
    -------
    frozenset of int
        As numbered in :class:`Influence`.
    """
    return frozenset(_walked(plant, (), conditions).entered)


def _walked(plant: Plant, branches: Iterable[int], conditions: Iterable[Condition]) -> Walk:
    walk = Walk(network=plant.network, circuits=influence_of(plant).circuits)
    for number in branches:
        walk.start(number)
    for condition in conditions:
        walk.ask(condition)
    return walk.finish()


def circuits_measured(plant: Plant, leaf: Measured) -> list[int]:
    """Circuits in which something is measured.

    Parameters
    ----------
    plant
        The installation.
    leaf
        A measured test.

    Returns
    -------
    list of int
        Circuit numbers, perhaps several times.
    """
    circuits = influence_of(plant).circuits
    nodes, branches = measured_places(plant.network, leaf)
    return [
        *(circuit for node in nodes for circuit in circuits.at_node[node]),
        *(circuit for number in branches for circuit in circuits.at_branch[number]),
    ]
