"""What every setting that reaches a service does: what is then seen and heard, in all that can be reached.

Things whose cones hold the same levers are gathered together. Their levers are moved in every way, one at a
time and by waiting for delays; ranges are cut at the thresholds of the conditions in the cone, the supply is
moved as one, through the few kinds of it that the feed can have. What is kept of a state is where the levers
stand, what is remembered, and what is seen: never the solution.

A state in which a fuse blows or a cartridge fires is kept, but nothing is operated from there: what follows
belongs to mending, not to the crew.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import is_restless, items_of, name_of
from loomlore.behaviour.tables.ranging import Scale, scale_of
from loomlore.behaviour.tables.reaching import Cone, cone_of, feed_fuses, sources_at, supply_levers
from loomlore.behaviour.tables.supplying import Supply, supplies_of, supply_name, supply_states
from loomlore.network.building import Plant
from loomlore.network.laws import (
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Magneto,
    Meter,
    Motor,
    Rheostat,
    Source,
    Straight,
)
from loomlore.network.settling import Memory, Settled, moved, settle, wait
from loomlore.network.solving import Solution

__all__ = ["CHATTERING", "Gathered", "State", "Thing", "gathered_outcomes"]

MOST_STATES = 4000
SAMPLES = 9
CHATTERING = -1
"""State number of a thing that its relay makes and breaks without end."""

SEEN_COILS = frozenset({"valve", "boost-coil", "counter", "camera"})
"""Kinds (by symbol) whose coil is seen or heard to move; a relay's is not."""
COIL_WORDS = {
    "boost-coil": ("quiet", "sparking"),
    "counter": ("at rest", "stepped"),
    "camera": ("at rest", "tripped"),
}
GAP = 0.05
"""Marks of a meter that lie further apart than this share of its scale are told apart."""
MOST_MARKS = 6


@dataclass(frozen=True, slots=True)
class Thing:
    """Something seen or heard: an element, or several seen as one; ``quiet`` is its state when nothing is on.

    Of the supply itself (``feed``) what is told is which sources stand behind a box.
    """

    name: str
    item: str
    branches: tuple[int, ...]
    states: tuple[str, ...]
    quiet: int = 0
    dials: tuple[int, ...] = ()
    feed: bool = False

    def word(self, state: int) -> str:
        """A state's word."""
        return "chattering" if state == CHATTERING else self.states[state].replace("-", " ")


@dataclass(frozen=True, slots=True)
class State:
    """A settled state: the memory, which supply, each thing's state, and each dial's mark."""

    memory: Memory
    supply: int
    seen: tuple[int, ...]
    shown: tuple[float | None, ...]


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """Things that the same levers reach, and every state of them; ``whole`` is False where it was cut short.

    ``events`` are what went wrong on the way: the state's number, what (blown, race, chatters), and of what.
    ``heaps`` are the marks at which a meter's readings part, by the thing's place.
    """

    plant: Plant
    things: tuple[Thing, ...]
    scales: tuple[Scale, ...]
    supplies: tuple[Supply, ...]
    variables: tuple[int, ...]
    states: tuple[State, ...]
    events: tuple[tuple[int, str, tuple[str, ...]], ...] = ()
    whole: bool = True
    heaps: Mapping[int, tuple[float, ...]] = field(default_factory=dict)

    def seen(self, settled: Settled) -> tuple[int, ...]:
        """Each thing's state as things stand, readings told apart by their heaps."""
        raw = list(seen_in(self.plant, self.things, settled))
        for place, bounds in self.heaps.items():
            mark = settled.solution.shown(self.things[place].dials[0])
            raw[place] = _heaped(raw[place], mark, bounds)
        return tuple(raw)

    @property
    def smooth(self) -> tuple[int, ...]:
        """Levers that move a needle or a lamp smoothly, and drive no generator."""
        branches = self.plant.network.branches
        driving = {b.follows for b in branches if isinstance(b.law, Generator)}
        return tuple(
            s.lever for s in self.scales if s.lever not in driving and any(not edge.exact for edge in s.edges)
        )

    @property
    def settings(self) -> int:
        """How many different settings of its levers and supplies were settled."""
        return len(
            {
                (s.supply, *(scale.place(s.memory.levers[scale.lever]) for scale in self.scales))
                for s in self.states
            }
        )


# -- what is seen --------------------------------------------------------------------------------------------


def things_of(plant: Plant, service: str) -> tuple[Thing, ...]:
    """What is seen and heard of a service.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id.

    Returns
    -------
    tuple of Thing
        In the order of the record; a group of a kind (a window with two lamps) is one thing.
    """
    found: list[Thing] = list(_boxes(plant, service))
    for item in items_of(plant.installation, service):
        equipment = plant.installation.equipment[item]
        lone_group = len(equipment.groups) == 1 and set(*equipment.groups.values()) == set(equipment.elements)
        grouped = {part for parts in equipment.groups.values() for part in parts}
        for group, parts in equipment.groups.items():
            branches = tuple(plant.network.branch_of[f"{item}.{part}"] for part in parts)
            states = plant.network.branches[branches[0]].law.states
            found.append(
                Thing(name_of(plant, item if lone_group else f"{item}.{group}"), item, branches, states)
            )
        alone = (
            len([e for e in equipment.elements if e not in grouped and _is_seen(plant, f"{item}.{e}")]) == 1
        )
        for name in equipment.elements:
            if name not in grouped and _is_seen(plant, f"{item}.{name}"):
                full = item if alone and not equipment.groups else f"{item}.{name}"
                found.append(_thing(plant, item, plant.network.branch_of[f"{item}.{name}"], full))
    return _one_needle(found)


def _boxes(plant: Plant, service: str) -> Iterator[Thing]:
    """For a service with a source in it: the boxes whose ways feed others, by the bar their fuses hang on."""
    items = items_of(plant.installation, service)
    branches = plant.network.branches
    if feed_fuses(plant, service) or not any(
        b.item in items and isinstance(b.law, Battery | Generator | Source) for b in branches
    ):
        return
    explored = supply_states(plant)
    bars: dict[tuple[str, int], int] = {}
    for feed in explored.sources[0]:
        if (
            branches[feed].item in items
            and len(plant.installation.equipment[branches[feed].item].fuse_ways) > 1
        ):
            bars.setdefault((branches[feed].item, branches[feed].a), feed)
    for (item, node), feed in bars.items():
        names = list(dict.fromkeys(supply_name(plant, sources[feed]) for sources in explored.sources))
        names.sort(key=lambda name: (name != "dead", "generator" in name))
        several = sum(other == item for other, _ in bars) > 1
        bar = plant.network.node_names[node].rpartition(".")[2]
        yield Thing(
            name_of(plant, item) + (f" ({bar})" if several else ""), item, (feed,), tuple(names), feed=True
        )


def _is_seen(plant: Plant, name: str) -> bool:
    number = plant.network.branch_of.get(name)
    if number is None:
        return False
    branch = plant.network.branches[number]
    match branch.law:
        case Straight(states=states):
            return bool(states)
        case Coil():
            return plant.installation.equipment[branch.item].symbol in SEEN_COILS
        case Meter():
            return bool(plant.network.dials.get(number))
        case Filament() | Motor() | ConstantPower() | Cartridge() | Magneto():
            return True
        case _:
            return False


def _thing(plant: Plant, item: str, branch: int, name: str) -> Thing:
    law = plant.network.branches[branch].law
    dials = plant.network.dials.get(branch, ()) if isinstance(law, Meter) else ()
    symbol = plant.installation.equipment[item].symbol
    states = COIL_WORDS.get(symbol, law.states) if isinstance(law, Coil) else law.states
    return Thing(name_of(plant, name), item, (branch,), states, dials=dials)


def _one_needle(things: Iterable[Thing]) -> tuple[Thing, ...]:
    """A ratio meter's two coils are one needle."""
    kept: dict[object, Thing] = {}
    for thing in things:
        kept.setdefault((thing.item, thing.dials) if thing.dials else thing.branches, thing)
    needles = {t.item for t in kept.values() if t.dials}
    lone = {item for item in needles if sum(t.item == item for t in kept.values()) == 1}
    return tuple(replace(t, name=t.name.partition(",")[0]) if t.item in lone else t for t in kept.values())


def _seen_in(plant: Plant, thing: Thing, solution: Solution) -> int:
    if thing.feed:
        node = plant.network.branches[thing.branches[0]].a
        return thing.states.index(supply_name(plant, sources_at(plant, solution, [node])[0]))
    return max(solution.state(branch) for branch in thing.branches)


def _smooth(plant: Plant, cone: Cone, things: Sequence[Thing], lever: int) -> int:
    """How finely a lever that a law follows is tried: a dimmer finely, a tank unit at its ends and middle."""
    if lever not in cone.followed:
        return 0
    laws = [b.law for b in plant.network.branches if b.follows == lever]
    if any(isinstance(law, Generator) for law in laws):
        return 0
    dims = any(isinstance(law, Rheostat) for law in laws) and any(not thing.dials for thing in things)
    return SAMPLES if dims else 3


# -- gathering -----------------------------------------------------------------------------------------------


def gathered_outcomes(plant: Plant, service: str, *, most: int = MOST_STATES) -> tuple[Gathered, ...]:
    """Operate everything that reaches a service in every way.

    Parameters
    ----------
    plant
        The installation.
    service
        Its id.
    most
        Stop a gathering after so many states.

    Returns
    -------
    tuple of Gathered
        One for each set of levers that things of the service have in common.
    """
    groups: dict[tuple[frozenset[int], bool], list[tuple[Thing, Cone]]] = {}
    supplies = supplies_of(plant, service)
    supply = set(supply_levers(plant)[0])
    for thing in things_of(plant, service):
        cone = cone_of(plant, () if thing.feed else thing.branches)
        fed = bool(supplies) and not cone.machines
        own = cone.levers - supply if fed else cone.levers | _telling(plant, thing)
        groups.setdefault((frozenset(own), fed), []).append((thing, cone))
    first = [
        (members, fed, _gathered(plant, levers, members, supplies if fed else (), most))
        for (levers, fed), members in groups.items()
    ]
    return tuple(_regrouped(plant, first, supplies, most))


_Members = Sequence[tuple[Thing, Cone]]


def _regrouped(
    plant: Plant, first: Sequence[tuple[_Members, bool, Gathered]], supplies: tuple[Supply, ...], most: int
) -> Iterator[Gathered]:
    """Gather anew, together, what turns out to depend on the same levers."""
    again: dict[tuple[frozenset[int], bool], list[tuple[_Members, Gathered]]] = {}
    for members, fed, gathering in first:
        again.setdefault((frozenset(_telling_levers(gathering)), fed), []).append((members, gathering))
    for (levers, fed), parts in again.items():
        if len(parts) == 1:
            yield _with_marks(parts[0][1])
        else:
            members = [member for found, _ in parts for member in found]
            yield _with_marks(_gathered(plant, levers, members, supplies if fed else (), most))


def _telling_levers(gathering: Gathered) -> Iterator[int]:
    """Levers whose place makes a difference to what is seen or remembered."""
    for n, scale in enumerate(gathering.scales):
        ends: dict[tuple[int, ...], dict[int, set[object]]] = {}
        for state in gathering.states:
            places = [s.place(state.memory.levers[s.lever]) for s in gathering.scales]
            kept = tuple(state.memory.variables[v] for v in gathering.variables)
            by_place = ends.setdefault((state.supply, *places[:n], *places[n + 1 :]), {})
            by_place.setdefault(places[n], set()).add((state.seen, state.shown, kept))
        if any(len({frozenset(found) for found in by_place.values()}) > 1 for by_place in ends.values()):
            yield scale.lever


def _with_marks(gathering: Gathered) -> Gathered:
    """Tell a meter's readings apart where they lie well apart and no smooth lever (a tank) moves it."""
    things, heaps, dial = list(gathering.things), {}, 0
    seen = [list(state.seen) for state in gathering.states]
    for place, thing in enumerate(things):
        if thing.dials and not gathering.smooth:
            marks = [s.shown[dial] for s in gathering.states if s.seen[place] == 2]
            scale = gathering.plant.network.indications[thing.dials[0]].points
            bounds = _heaps([mark for mark in marks if mark is not None], scale)
            if 0 < len(bounds) < MOST_MARKS:
                heaps[place] = bounds
                things[place] = replace(thing, states=(*thing.states[:2], *["reading"] * (len(bounds) + 1)))
                for number, state in enumerate(gathering.states):
                    seen[number][place] = _heaped(state.seen[place], state.shown[dial], bounds)
        dial += len(thing.dials)
    states = tuple(replace(state, seen=tuple(s)) for state, s in zip(gathering.states, seen, strict=True))
    return replace(gathering, things=tuple(things), states=states, heaps=heaps)


def _heaped(state: int, mark: float | None, bounds: Sequence[float]) -> int:
    return state if state != 2 or mark is None else 2 + bisect_right(bounds, mark)


def _heaps(marks: Sequence[float], points: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """Where marks part into heaps: half way across each gap, and at zero."""
    gap = GAP * abs(points[-1][1] - points[0][1])
    rising = sorted(set(marks))
    return tuple(0.0 if a < 0 <= b else (a + b) / 2 for a, b in pairwise(rising) if b - a > gap or a < 0 <= b)


def _telling(plant: Plant, thing: Thing) -> frozenset[int]:
    """Supply levers that a thing tells of with everything else at rest."""
    explored = supply_states(plant)
    seen: dict[int, dict[tuple[int, ...], set[tuple[object, int]]]] = {
        scale.lever: {} for scale in explored.scales
    }
    for state, sources in zip(explored.states, explored.sources, strict=True):
        places = tuple(scale.place(state.memory.levers[scale.lever]) for scale in explored.scales)
        shown = tuple(map(state.solution.indicates, thing.dials))
        alive = tuple(sorted({bool(s) for s in sources.values()})) if thing.dials else ()
        outcome = (_seen_in(plant, thing, state.solution), shown, alive)
        for n, scale in enumerate(explored.scales):
            others = (*places[:n], *places[n + 1 :])
            seen[scale.lever].setdefault(others, set()).add((outcome, places[n]))
    return frozenset(lever for lever, by in seen.items() if any(_differs(found) for found in by.values()))


def _differs(found: set[tuple[object, int]]) -> bool:
    by_place: dict[int, set[object]] = {}
    for outcome, place in found:
        by_place.setdefault(place, set()).add(outcome)
    return len({frozenset(outcomes) for outcomes in by_place.values()}) > 1


def _gathered(
    plant: Plant,
    levers: frozenset[int],
    members: Sequence[tuple[Thing, Cone]],
    supplies: tuple[Supply, ...],
    most: int,
) -> Gathered:
    things = tuple(thing for thing, _ in members)
    cuts: dict[int, set[float]] = {n: set(c) for n, c in supply_levers(plant)[1].items() if n in levers}
    variables: set[int] = set()
    for _, cone in members:
        variables |= cone.variables
        for lever, values in cone.cuts.items():
            cuts.setdefault(lever, set()).update(values)
    for movement in plant.network.movements:
        if movement.lever in levers:
            record = plant.network.levers[movement.lever]
            cuts.setdefault(movement.lever, set()).update((record.low, record.high))
    scales = tuple(
        scale_of(
            plant,
            n,
            sorted(cuts.get(n, ())),
            smooth=max(_smooth(plant, cone, things, n) for _, cone in members),
        )
        for n in sorted(levers)
    )
    start = Gathered(
        plant=plant,
        things=things,
        scales=scales,
        supplies=supplies,
        variables=tuple(sorted(variables)),
        states=(),
    )
    return _explored(start, most)


@dataclass(kw_only=True)
class _Found:
    states: list[State] = field(default_factory=list)
    known: dict[tuple[Memory, int], int] = field(default_factory=dict)
    tried: set[tuple[Memory, int]] = field(default_factory=set)
    events: list[tuple[int, str, tuple[str, ...]]] = field(default_factory=list)
    ends: set[int] = field(default_factory=set)


def _explored(gathering: Gathered, most: int) -> Gathered:
    plant, found = gathering.plant, _Found()
    first = rest(plant)
    start = {s.lever: s.values[s.place(first.memory.levers[s.lever])] for s in gathering.scales}
    supply = _supply_at_rest(gathering)
    waiting: list[tuple[int, Settled]] = []
    _note(
        gathering,
        found,
        waiting,
        settle(plant.solver, moved(first.memory, start), near=first.solution),
        supply,
    )
    place = 0
    while place < len(waiting) and len(found.states) < most:
        number, here = waiting[place]
        waiting[place] = (number, first)  # its solution is not needed again
        place += 1
        if number in found.ends:
            continue
        for memory, there in _moves(gathering, here, found.states[number].supply):
            if (memory, there) not in found.tried:
                found.tried.add((memory, there))
                _note(gathering, found, waiting, settle(plant.solver, memory, near=here.solution), there)
        until = min((t for t in here.memory.timers if t is not None), default=None)
        if until is not None:
            _note(gathering, found, waiting, wait(here, until), found.states[number].supply)
    return replace(
        gathering, states=tuple(found.states), events=tuple(found.events), whole=place >= len(waiting)
    )


def _supply_at_rest(gathering: Gathered) -> int:
    for number, supply in enumerate(gathering.supplies):
        if not supply.orders:
            return number
    return 0


def _moves(gathering: Gathered, here: Settled, supply: int) -> Iterator[tuple[Memory, int]]:
    for scale in gathering.scales:
        place = scale.place(here.memory.levers[scale.lever])
        for number, value in enumerate(scale.values):
            if number != place:
                yield moved(here.memory, {scale.lever: value}), supply
    for number, other in enumerate(gathering.supplies):
        if number != supply:
            yield _under(gathering, here.memory, other), number


def _under(gathering: Gathered, memory: Memory, supply: Supply) -> Memory:
    """The same with another supply, the supply's own relays and cut-outs as they stand when it is at rest."""
    levers, variables = list(supply.memory.levers), list(supply.memory.variables)
    edges, timers = list(supply.memory.edges), list(supply.memory.timers)
    for scale in gathering.scales:
        levers[scale.lever] = memory.levers[scale.lever]
    for number in gathering.variables:
        if len({other.memory.variables[number] for other in gathering.supplies}) > 1:
            continue
        variables[number] = memory.variables[number]
        edges[2 * number : 2 * number + 2] = memory.edges[2 * number : 2 * number + 2]
        timers[2 * number : 2 * number + 2] = memory.timers[2 * number : 2 * number + 2]
    return Memory(tuple(levers), tuple(variables), tuple(edges), tuple(timers))


def _note(
    gathering: Gathered, found: _Found, waiting: list[tuple[int, Settled]], settled: Settled, supply: int
) -> None:
    key = (settled.memory, supply)
    if key in found.known:
        return
    number = found.known[key] = len(found.states)
    seen = seen_in(gathering.plant, gathering.things, settled)
    shown = tuple(settled.solution.shown(dial) for thing in gathering.things for dial in thing.dials)
    found.states.append(State(settled.memory, supply, seen, shown))
    for event in settled.events:
        if event.what in ("blown", "race", "fired", "chatters"):
            found.events.append((number, event.what, event.names))
        if event.what in ("blown", "fired"):
            found.ends.add(number)
    waiting.append((number, settled))


def seen_in(plant: Plant, things: Sequence[Thing], settled: Settled) -> tuple[int, ...]:
    """Each thing's state; one that a chattering relay makes and breaks is :data:`CHATTERING`.

    Parameters
    ----------
    plant
        The installation.
    things
        What is looked at.
    settled
        Where things stand.

    Returns
    -------
    tuple of int
        State numbers.
    """
    seen = [_seen_in(plant, thing, settled.solution) for thing in things]
    for solution, _ in settled.between:
        for place, thing in enumerate(things):
            if _seen_in(plant, thing, solution) != seen[place]:
                seen[place] = CHATTERING
    for place, thing in enumerate(things):
        if any(is_restless(settled, branch) for branch in thing.branches):
            seen[place] = CHATTERING
    return tuple(seen)
