"""The supply behind a service: dead, battery, generators ..., each with the way to bring it about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.ranging import Scale, scale_of
from loomlore.behaviour.tables.reaching import feed_fuses, sources_at, supply_levers
from loomlore.behaviour.tables.telling import crew_name, order_words
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Generator, Source
from loomlore.network.settling import Memory, Settled, moved, settle
from loomlore.quantities import as_written

__all__ = ["Supply", "SupplyStates", "supplies_of", "supply_name", "supply_states"]

MOST_SUPPLY_STATES = 600


@dataclass(frozen=True, slots=True)
class Supply:
    """One kind of supply at a feed: its name, the whole as it then stands, and the orders that bring it."""

    name: str
    memory: Memory
    orders: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SupplyStates:
    """The supply's own levers moved in every way, everything else at rest.

    ``sources`` has, for each state, the items that stand behind each feeding fuse.
    """

    scales: tuple[Scale, ...]
    states: tuple[Settled, ...]
    parents: tuple[tuple[int, Operation], ...]
    sources: tuple[Mapping[int, frozenset[str]], ...]

    def path(self, number: int) -> tuple[Operation, ...]:
        """The operations that lead from rest to a state."""
        operations: list[Operation] = []
        while number > 0:
            number, operation = self.parents[number]
            operations.append(operation)
        return tuple(reversed(operations))


@lru_cache(maxsize=4)
def supply_states(plant: Plant) -> SupplyStates:
    """Move the supply's own levers in every way.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    SupplyStates
        Breadth first from rest.
    """
    levers, cuts = supply_levers(plant)
    scales = tuple(scale_of(plant, lever, cuts.get(lever, ()), smooth=0) for lever in levers)
    feeds = sorted({n for s in plant.installation.dossier.services for n in feed_fuses(plant, s)})
    nodes = [plant.network.branches[n].a for n in feeds]
    states, parents = [rest(plant)], [(-1, Operation(-1, 0.0))]
    seen = {states[0].memory}
    for here in range(MOST_SUPPLY_STATES):
        if here >= len(states):
            break
        for scale in scales:
            for value in scale.values:
                if scale.place(states[here].memory.levers[scale.lever]) == scale.place(value):
                    continue
                memory = moved(states[here].memory, {scale.lever: value})
                there = settle(plant.solver, memory, near=states[here].solution)
                if there.memory not in seen and len(states) < MOST_SUPPLY_STATES:
                    seen.add(there.memory)
                    states.append(there)
                    parents.append((here, Operation(scale.lever, value)))
    sources = tuple(
        dict(zip(feeds, sources_at(plant, state.solution, nodes), strict=True)) for state in states
    )
    return SupplyStates(scales=scales, states=tuple(states), parents=tuple(parents), sources=sources)


def supplies_of(plant: Plant, service: str) -> tuple[Supply, ...]:
    """The kinds of supply that a service's feeds can have, dead first.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id.

    Returns
    -------
    tuple of Supply
        One where the feed is always alive from the same source, none without a feed. Each is reached by its
        shortest operations; "generators" with as many sources on as there can be.
    """
    explored = supply_states(plant)
    feeds = feed_fuses(plant, service)
    best: dict[str, tuple[tuple[int, int], int]] = {}
    for number, sources in enumerate(explored.sources):
        named = dict.fromkeys(supply_name(plant, sources[feed]) for feed in feeds)
        if not named:
            return ()
        name = " and ".join(named)
        count = sum(len(sources[feed]) for feed in feeds) if "generator" in name else 0
        rank = (-count, number)
        if name not in best or rank < best[name][0]:
            best[name] = (rank, number)
    supplies = []
    for name, (_, number) in sorted(
        best.items(), key=lambda entry: (entry[0] != "dead", "generator" in entry[0], entry[1])
    ):
        supplies.append(Supply(name, explored.states[number].memory, _orders(plant, explored, number)))
    return tuple(supplies)


def _orders(plant: Plant, explored: SupplyStates, number: int) -> tuple[str, ...]:
    """What brings a supply about, as orders; an amount by the threshold that it must pass."""
    orders: dict[int, str] = {}
    scales = {scale.lever: scale for scale in explored.scales}
    for operation in explored.path(number):
        scale = scales[operation.lever]
        place = scale.place(operation.value)
        orders.pop(operation.lever, None)
        words = order_words(plant, operation)
        if scale.edges and place > 0:
            edge = scale.edges[place - 1]
            dimension = plant.network.levers[operation.lever].dimension
            name = crew_name(plant, operation.lever)
            words = (
                f"bring the {name} above {'' if edge.exact else 'about '}{as_written(edge.value, dimension)}"
            )
        orders[operation.lever] = words
    return tuple(orders.values())


@lru_cache(maxsize=256)
def supply_name(plant: Plant, sources: frozenset[str]) -> str:
    """What the sources behind a feed are called together.

    Parameters
    ----------
    plant
        The installation.
    sources
        Item ids.

    Returns
    -------
    str
        A generator speaks for the battery that it charges.
    """
    laws = {b.item: b.law for b in plant.network.branches if isinstance(b.law, Battery | Generator | Source)}
    if not sources:
        return "dead"
    machines = [item for item in laws if isinstance(laws[item], Generator)]
    if sources & set(machines):
        return "generator" if len(machines) == 1 else "generators"
    names = [name_of(plant, item) for item in laws if item in sources]
    return " and ".join(name[:1].lower() + name[1:] for name in names)
