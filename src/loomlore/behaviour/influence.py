"""Which levers can change what an element does, otherwise than by the sag of the common supply.

Take the supply's own nodes out of the network (airframe, bolts, the items of the services that hold a source,
the bars of the fuse boxes): what is left falls into *circuits*, each a load or a few with the contacts, ways
and cables that carry its current. A circuit depends on the levers of its own contacts, and through coils and
latches on other circuits. Two circuits that meet only at the supply change each other's volts a little, and
nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from loomlore.behaviour.readings import services_of
from loomlore.network.building import Plant
from loomlore.network.conditions import Condition, LeverCompare, LeverIs, Measured, StateIs, leaves
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


@dataclass(frozen=True, kw_only=True)
class Influence:
    """``circuit_of`` gives each branch its circuit; ``branches`` lists them by circuit."""

    circuit_of: tuple[int, ...]
    branches: dict[int, tuple[int, ...]]


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
    parent = list(range(len(network.node_names)))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = node = parent[parent[node]]
        return node

    for branch in network.branches:
        if branch.a not in core and branch.b not in core:
            parent[root(branch.a)] = root(branch.b)
    circuit_of = []
    for branch in network.branches:
        ends = [node for node in (branch.a, branch.b) if node not in core]
        circuit_of.append(root(ends[0]) if ends else WITHIN_SUPPLY)
    members: dict[int, list[int]] = {}
    for number, circuit in enumerate(circuit_of):
        members.setdefault(circuit, []).append(number)
    return Influence(circuit_of=tuple(circuit_of), branches={c: tuple(m) for c, m in members.items()})


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
    driven = (m for m in plant.network.movements if walk.influence.circuit_of[m.branch] in walk.circuits)
    return walk.levers | {movement.lever for movement in driven}


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
    return frozenset(_walked(plant, (), conditions).circuits)


def _walked(plant: Plant, branches: Iterable[int], conditions: Iterable[Condition]) -> _Walk:
    walk = _Walk(plant=plant, influence=influence_of(plant))
    walk.circuits_waiting += [walk.influence.circuit_of[n] for n in branches]
    walk.conditions_waiting += list(conditions)
    while walk.conditions_waiting or walk.circuits_waiting:
        if walk.circuits_waiting:
            walk.enter(walk.circuits_waiting.pop())
        else:
            for leaf in leaves(walk.conditions_waiting.pop()):
                walk.meet(leaf)
    return walk


@dataclass(kw_only=True)
class _Walk:
    """A walk from circuit to circuit, through the conditions of their contacts."""

    plant: Plant
    influence: Influence
    levers: set[int] = field(default_factory=set)
    circuits: set[int] = field(default_factory=set)
    variables: set[int] = field(default_factory=set)
    circuits_waiting: list[int] = field(default_factory=list)
    conditions_waiting: list[Condition] = field(default_factory=list)

    def enter(self, circuit: int) -> None:
        """Take the conditions of a circuit's contacts, and the levers that its laws follow."""
        if circuit in self.circuits:
            return
        self.circuits.add(circuit)
        for number in self.influence.branches[circuit]:
            branch = self.plant.network.branches[number]
            self.conditions_waiting += [c for c in (branch.closed, branch.works) if c is not None]
            if branch.follows >= 0:
                self.levers.add(branch.follows)

    def meet(self, leaf: Condition) -> None:
        """Take a lever, or what a measurement or a memory hangs on."""
        if isinstance(leaf, LeverIs | LeverCompare):
            self.levers.add(leaf.lever)
        elif isinstance(leaf, Measured):
            self.circuits_waiting += circuits_measured(self.plant, leaf)
        elif isinstance(leaf, StateIs) and leaf.variable not in self.variables:
            self.variables.add(leaf.variable)
            self._remember(leaf.variable)

    def _remember(self, number: int) -> None:
        variable = self.plant.network.variables[number]
        if variable.branch >= 0:
            self.circuits_waiting.append(self.influence.circuit_of[variable.branch])
        rule = variable.latch
        parts = (variable.test, *((rule.set, rule.release, rule.set_on, rule.release_on) if rule else ()))
        self.conditions_waiting += [part for part in parts if part is not None]


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
    influence, network = influence_of(plant), plant.network
    if leaf.of == "volts":
        nodes = {leaf.a, leaf.b} - {0, -1}
        return [influence.circuit_of[n] for n, b in enumerate(network.branches) if nodes & {b.a, b.b}]
    if leaf.of == "shown":
        dial = network.indications[leaf.a]
        return [influence.circuit_of[n] for n in (dial.first, dial.second) if n >= 0]
    return [influence.circuit_of[n] for n in (leaf.group or (leaf.a,))]
