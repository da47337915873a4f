"""Which settled states an installation can reach from rest, by single moves of some levers and by waiting.

A state is a memory: where the levers stand and what is remembered. Each is reached once, by a shortest
sequence of operations, so that the first state that breaks a rule is broken by the shortest sequence.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from loomlore.behaviour.operating import rest
from loomlore.network.building import Plant
from loomlore.network.conditions import Condition, LeverCompare, LeverIs, StateIs, leaves
from loomlore.network.laws import Generator
from loomlore.network.settling import Memory, Settled, moved, next_event, settle, wait

__all__ = [
    "END_OF_PIECE",
    "Exploration",
    "Operation",
    "explore",
    "explored",
    "goes",
    "lever_values",
    "levers_of_conditions",
    "levers_of_items",
    "settled_once",
    "smoothly_followed",
]

MOST_STATES = 3000
END_OF_PIECE = 1e-3
"""How far within a piece its ends are tried, as a share of the range."""

MOST_KNOWN = 12_000
"""Settled memories kept: about 5 kB each, their solutions shared."""


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing done: a lever moved to a value, or (lever -1) some seconds waited."""

    lever: int
    value: float


@dataclass(kw_only=True)
class Exploration:
    """States in the order they were reached; ``parents`` is (state before, operation), -1 for rest.

    ``fresh`` are the states that some operation entered by blowing a fuse or firing a cartridge; ``whole`` is
    False where the limit stopped it.
    """

    plant: Plant
    levers: tuple[int, ...]
    states: list[Settled] = field(default_factory=list)
    parents: list[tuple[int, Operation]] = field(default_factory=list)
    fresh: set[int] = field(default_factory=set)
    whole: bool = True

    def path(self, number: int) -> tuple[Operation, ...]:
        """The operations that lead from rest to a state."""
        operations: list[Operation] = []
        while number > 0:
            number, operation = self.parents[number]
            operations.append(operation)
        return tuple(reversed(operations))


def lever_values(plant: Plant, lever: int, *, thresholds: Sequence[float] | None = None) -> tuple[float, ...]:
    """The values worth trying: every position, or the middle of each piece between thresholds.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.
    thresholds
        Where its range is cut, in its own unit [unit]; everywhere that any sentence cuts it where None.

    Returns
    -------
    tuple of float
        In order, in the range's own unit [unit]. Where a law follows the range smoothly (a generator its speed),
        both ends of every piece, since what is so at both ends of a rise is so between them; a range
        without thresholds gives its ends and its middle.
    """
    record = plant.network.levers[lever]
    if record.positions:
        return tuple(float(n) for n in range(len(record.positions)))
    cuts = [
        t for t in (record.thresholds if thresholds is None else thresholds) if record.low < t < record.high
    ]
    if not cuts:
        return (record.low, (record.low + record.high) / 2, record.high)
    ends = [record.low, *cuts, record.high]
    if lever in smoothly_followed(plant):
        near = END_OF_PIECE * (record.high - record.low)
        inner = [value for cut in cuts for value in (cut - near, cut + near)]
        return tuple(dict.fromkeys(max(record.low, min(record.high, v)) for v in (ends[0], *inner, ends[-1])))
    return tuple((a + b) / 2 for a, b in pairwise(ends))


@lru_cache(maxsize=32)
def smoothly_followed(plant: Plant) -> frozenset[int]:
    """Levers that a generator's law follows smoothly.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    frozenset of int
        Lever numbers.
    """
    return frozenset(b.follows for b in plant.network.branches if isinstance(b.law, Generator))


def settled_once(plant: Plant, memory: Memory, near: Settled) -> Settled:
    """Settle, or remember having settled this very memory before.

    Parameters
    ----------
    plant
        The installation.
    memory
        Where the levers are, and what is remembered.
    near
        Where things stood before.

    Returns
    -------
    Settled
        The same for the same memory.
    """
    known = _known(plant)
    if memory not in known:
        if len(known) >= MOST_KNOWN:
            known.clear()
        known[memory] = settle(plant.solver, memory, near=near.solution)
    return known[memory]


@lru_cache(maxsize=16)
def _known(plant: Plant) -> dict[Memory, Settled]:  # noqa: ARG001  the plant is the key
    return {}


@lru_cache(maxsize=24)
def explored(plant: Plant, values: tuple[tuple[int, tuple[float, ...]], ...]) -> Exploration:
    """The same as :func:`explore` with the usual limit, remembered: many sentences speak of one circuit.

    Parameters
    ----------
    plant
        The installation.
    values
        Levers with the values that each is tried at [unit].

    Returns
    -------
    Exploration
        Not to be changed.
    """
    return explore(plant, dict(values))


def explore(plant: Plant, values: Mapping[int, tuple[float, ...]], *, most: int = MOST_STATES) -> Exploration:
    """Reach every state that moving these levers and waiting can reach.

    Parameters
    ----------
    plant
        The installation.
    values
        The levers that are moved, and the values that each is tried at [unit]; all others stand at their
        start.
    most
        Stop after so many states.

    Returns
    -------
    Exploration
        Breadth first, so that paths are shortest.
    """
    found = Exploration(plant=plant, levers=tuple(values))
    driven = {movement.lever for movement in plant.network.movements}
    values = {n: tried for n, tried in values.items() if n not in driven}
    first = rest(plant)
    found.states.append(first)
    found.parents.append((-1, Operation(-1, 0.0)))
    seen = {first.memory: 0}
    place = 0
    while place < len(found.states):
        here = found.states[place]
        for operation, there in _neighbours(plant, here, values):
            if there.memory in seen:
                if goes(here, there):
                    found.fresh.add(seen[there.memory])
                continue
            if len(found.states) >= most:
                found.whole = False
                return found
            seen[there.memory] = len(found.states)
            if goes(here, there):
                found.fresh.add(len(found.states))
            found.states.append(there)
            found.parents.append((place, operation))
        place += 1
    return found


def goes(here: Settled, there: Settled) -> bool:
    """Whether one operation has blown a fuse or fired a cartridge.

    Parameters
    ----------
    here
        Before it.
    there
        After it.

    Returns
    -------
    bool
        False where all that went had gone before.
    """
    return any(event.what in ("blown", "fired") for event in there.events) and (
        here.memory.variables != there.memory.variables
    )


def _neighbours(
    plant: Plant, here: Settled, values: Mapping[int, tuple[float, ...]]
) -> Iterator[tuple[Operation, Settled]]:
    for lever, choices in values.items():
        for value in choices:
            if value != here.memory.levers[lever]:
                yield Operation(lever, value), settled_once(plant, moved(here.memory, {lever: value}), here)
    seconds = next_event(here)
    if seconds is not None:
        yield Operation(-1, seconds), wait(here, seconds)


def levers_of_conditions(plant: Plant, conditions: Sequence[Condition | None]) -> set[int]:
    """Levers that conditions speak of, through the latches they speak of too.

    Parameters
    ----------
    plant
        The installation.
    conditions
        Any; None speaks of nothing.

    Returns
    -------
    set of int
        Lever numbers.
    """
    found: set[int] = set()
    waiting, seen = [c for c in conditions if c is not None], set()
    while waiting:
        for leaf in leaves(waiting.pop()):
            if isinstance(leaf, LeverIs | LeverCompare):
                found.add(leaf.lever)
            elif isinstance(leaf, StateIs) and leaf.variable not in seen:
                seen.add(leaf.variable)
                rule = plant.network.variables[leaf.variable].latch
                if rule is not None:
                    parts = (rule.set, rule.release, rule.set_on, rule.release_on)
                    waiting += [part for part in parts if part is not None]
    return found


def levers_of_items(plant: Plant, items: Sequence[str]) -> set[int]:
    """Levers that move something in these items: their contacts, latches, works, or what a law follows.

    Parameters
    ----------
    plant
        The installation.
    items
        Item ids.

    Returns
    -------
    set of int
        Lever numbers.
    """
    wanted = set(items)
    found: set[int] = set()
    for branch in plant.network.branches:
        if branch.item in wanted:
            found |= levers_of_conditions(plant, (branch.closed, branch.works))
            if branch.follows >= 0:
                found.add(branch.follows)
    for variable in plant.network.variables:
        if variable.name.rpartition(".")[0] in wanted and variable.latch is not None:
            rule = variable.latch
            found |= levers_of_conditions(plant, (rule.set, rule.release, rule.set_on, rule.release_on))
    return found
