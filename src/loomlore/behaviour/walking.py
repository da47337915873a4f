"""A walk through the wiring, from what is asked about to everything that can change it.

The wiring falls into *circuits* at a boundary: nodes beyond which nothing is asked. The common supply is such
a boundary, the feeds and returns of the services another. A circuit depends on the levers of its own contacts,
and through coils and latches on other circuits: so the walk goes from circuit to circuit, every contact taken
as closed.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from loomlore.network.conditions import Condition, LeverCompare, LeverIs, Measured, StateIs, leaves
from loomlore.network.model import Network

__all__ = ["Circuit", "Circuits", "Walk", "circuit_of", "measured_places", "roots"]


@dataclass(frozen=True, slots=True)
class Circuit:
    """What a circuit hangs on: the conditions of its contacts, and the levers that its laws follow."""

    conditions: tuple[Condition, ...]
    followed: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Circuits:
    """The wiring as a boundary divides it.

    ``held`` are the circuits by number; ``at_node`` those that a measurement at a node is of, ``at_branch``
    those that a branch lies in or borders on. ``mated`` are contacts that are taken as closed for good.
    """

    held: Mapping[int, Circuit]
    at_node: Sequence[tuple[int, ...]]
    at_branch: Sequence[tuple[int, ...]]
    mated: frozenset[int] = frozenset()


def roots(network: Network, boundary: Container[int], *, left_out: Container[int] = ()) -> tuple[int, ...]:
    """Which nodes hang together without the boundary.

    Parameters
    ----------
    network
        Any.
    boundary
        Nodes that part it.
    left_out
        Branches that join nothing.

    Returns
    -------
    tuple of int
        By node one of those that it hangs together with, the same for all of them.
    """
    parent = list(range(len(network.node_names)))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = node = parent[parent[node]]
        return node

    for number, branch in enumerate(network.branches):
        if branch.a not in boundary and branch.b not in boundary and number not in left_out:
            parent[root(branch.a)] = root(branch.b)
    return tuple(root(node) for node in range(len(parent)))


def circuit_of(network: Network, branches: Iterable[int], mated: Container[int] = ()) -> Circuit:
    """What some branches hang on.

    Parameters
    ----------
    network
        Any.
    branches
        Their numbers.
    mated
        Contacts that are taken as closed for good.

    Returns
    -------
    Circuit
        Each condition once.
    """
    conditions: dict[Condition, None] = {}
    followed: dict[int, None] = {}
    for number in branches:
        branch = network.branches[number]
        if branch.closed is not None and number not in mated:
            conditions.setdefault(branch.closed)
        if branch.works is not None:
            conditions.setdefault(branch.works)
        if branch.follows >= 0:
            followed.setdefault(branch.follows)
    return Circuit(tuple(conditions), tuple(followed))


def measured_places(network: Network, leaf: Measured) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Where something is measured.

    Parameters
    ----------
    network
        Any.
    leaf
        A measured test.

    Returns
    -------
    tuple of tuple of int
        Nodes (the airframe among them), and branches.
    """
    if leaf.of == "volts":
        return (leaf.a, max(leaf.b, 0)), ()
    if leaf.of == "shown":
        dial = network.indications[leaf.a]
        return (), tuple(n for n in (dial.first, dial.second) if n >= 0)
    return (), leaf.group or (leaf.a,)


@dataclass(kw_only=True, eq=False)
class Walk:
    """What a walk has come by; begun with :meth:`start` or :meth:`ask`, done with :meth:`finish`.

    ``cuts`` are the values at which a condition changes its mind, by lever; ``followed`` the levers that a law
    follows; ``entered`` circuits; ``nodes`` the ends of what was started at.
    """

    network: Network
    circuits: Circuits
    levers: set[int] = field(default_factory=set)
    variables: set[int] = field(default_factory=set)
    cuts: dict[int, set[float]] = field(default_factory=dict)
    followed: set[int] = field(default_factory=set)
    entered: set[int] = field(default_factory=set)
    nodes: set[int] = field(default_factory=set)
    _waiting: list[int] = field(default_factory=list)

    def start(self, number: int) -> None:
        """Take in a branch, and the circuits that it lies in."""
        branch = self.network.branches[number]
        self._take(circuit_of(self.network, (number,), self.circuits.mated))
        self.nodes |= {branch.a, branch.b}
        self._enter(self.circuits.at_branch[number])

    def meet(self, number: int) -> None:
        """Take in what opens, drives or steers a branch, and nothing beside it."""
        self._take(circuit_of(self.network, (number,), self.circuits.mated))

    def ask(self, condition: Condition) -> None:
        """Take in what decides a condition."""
        for leaf in leaves(condition):
            match leaf:
                case LeverIs(lever, _):
                    self.levers.add(lever)
                case LeverCompare(lever, limits):
                    self.levers.add(lever)
                    self.cuts.setdefault(lever, set()).update(value for _, value in limits)
                case StateIs(variable, _):
                    self._remember(variable)
                case Measured():
                    nodes, branches = measured_places(self.network, leaf)
                    for node in nodes:
                        self.nodes.add(node)
                        self._enter(self.circuits.at_node[node])
                    for number in branches:
                        self.start(number)

    def finish(self) -> Walk:
        """Go on until there is nothing new."""
        while self._waiting:
            self._take(self.circuits.held[self._waiting.pop()])
        return self

    def _enter(self, circuits: Iterable[int]) -> None:
        for circuit in circuits:
            if circuit not in self.entered:
                self.entered.add(circuit)
                self._waiting.append(circuit)

    def _take(self, circuit: Circuit) -> None:
        for condition in circuit.conditions:
            self.ask(condition)
        self.levers.update(circuit.followed)
        self.followed.update(circuit.followed)

    def _remember(self, number: int) -> None:
        """A coil, a latch or a sensed state: what it lies in, and what sets and releases it."""
        if number in self.variables:
            return
        self.variables.add(number)
        variable = self.network.variables[number]
        if variable.branch >= 0:
            self._lie(variable.branch)
        rule = variable.latch
        parts = (variable.test, *((rule.set, rule.release, rule.set_on, rule.release_on) if rule else ()))
        for part in parts:
            if part is not None:
                self.ask(part)
        if rule is not None and rule.lost_with >= 0:
            self._lie(rule.lost_with)

    def _lie(self, number: int) -> None:
        branch = self.network.branches[number]
        self.nodes |= {branch.a, branch.b}
        self._enter(self.circuits.at_branch[number])
