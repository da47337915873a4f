"""From levers to a settled installation: contacts, coils, latches, fuses and delays, in rounds.

A round sets the contacts by levers and memory, solves, and then moves all coils, latches and sensed states
at once (release winning). When a round changes nothing the installation has settled. When a memory comes
back, all-at-once may have misjudged an interlock: the moves are then explored one at a time. No stable end
means that it *chatters*; several mean a *race*, and all ends are named. Only when the rest stands do fuses
blow, one by one, the most overloaded first, and cartridges fire: these never go back by themselves.

Settling takes no time. A running delay is part of the memory; :func:`wait` passes from event to event.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from loomlore.network.conditions import Condition, Judgement, judge, ready
from loomlore.network.laws import Cartridge, Coil, Fuse
from loomlore.network.model import LatchRule, Network
from loomlore.network.solving import Solution, Solver, solve

__all__ = ["Event", "Memory", "Settled", "at_rest", "moved", "next_event", "settle", "wait"]

MOST_ROUNDS = 60
MOST_FLIPS = 400
MOST_BETWEEN = 24
"""So many of the states that a chattering relay goes between are kept, each with its solution."""


@dataclass(frozen=True, slots=True)
class Memory:
    """All that the installation carries from one moment to the next.

    ``edges`` holds the last truth of each latch's set-on and release-on, ``timers`` the seconds left of its
    set-after and release-after (None: not running); two places a variable, in order.
    """

    levers: tuple[float, ...]
    variables: tuple[int, ...]
    edges: tuple[bool | None, ...]
    timers: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that settling had to say. ``what`` is chatters, race, blown, fired, overload, stalled or moved.

    ``names`` are the variables or branches concerned, ``amps`` the current that did it.
    """

    what: str
    names: tuple[str, ...]
    amps: float = 0.0
    limit: float = 0.0


@dataclass(frozen=True, slots=True)
class Settled:
    """A solution that holds, the memory it leaves, and what happened on the way.

    Where something chatters nothing holds: ``between`` are the states that it goes between, each with what is
    then remembered, and ``solution`` is only the first of them.
    """

    solution: Solution
    memory: Memory
    events: tuple[Event, ...] = ()
    between: tuple[tuple[Solution, tuple[int, ...]], ...] = ()


def at_rest(network: Network) -> Memory:
    """The memory of an installation that nobody has touched: every lever at its start, every latch too.

    Parameters
    ----------
    network
        Any network.

    Returns
    -------
    Memory
        Not settled yet.
    """
    count = len(network.variables)
    return Memory(
        levers=tuple(lever.start for lever in network.levers),
        variables=tuple(variable.start for variable in network.variables),
        edges=(None,) * (2 * count),
        timers=(None,) * (2 * count),
    )


def moved(memory: Memory, levers: Mapping[int, float], variables: Mapping[int, int] | None = None) -> Memory:
    """Move levers (and set variables by hand, a fuse taken out), without settling.

    Parameters
    ----------
    memory
        Where things stand.
    levers
        New position number or value [unit] by lever.
    variables
        New value by variable.

    Returns
    -------
    Memory
        To be settled.
    """
    new_levers, new_variables = list(memory.levers), list(memory.variables)
    for number, value in levers.items():
        new_levers[number] = value
    for number, whole in (variables or {}).items():
        new_variables[number] = whole
    return replace(memory, levers=tuple(new_levers), variables=tuple(new_variables))


def settle(solver: Solver, memory: Memory, *, near: Solution | None = None) -> Settled:
    """Let coils, latches, fuses and cartridges find where they stay.

    Parameters
    ----------
    solver
        The network's.
    memory
        Levers as they are now, and the memory of the moment before.
    near
        A solution to start from.

    Returns
    -------
    Settled
        Chattering and races are events, never exceptions; the study goes on.
    """
    events: list[Event] = []
    while True:
        solution, memory, said, between = _rounds(solver, memory, near)
        events += said
        goes, overloads = _consequences(solution)
        if goes is None:
            break
        event, variable = goes
        events.append(event)
        memory = moved(memory, {}, {variable: 1})
        near = solution
    events += overloads
    if solution.stalled:
        events.append(Event("stalled", ()))
    timers = _timers(solution, memory)
    if timers is not memory.timers:
        memory = replace(memory, timers=timers)
    return Settled(solution, memory, tuple(dict.fromkeys(events)), between)


_Between = tuple[tuple[Solution, tuple[int, ...]], ...]
_Round = tuple[Solution, Memory, list[Event], _Between]


def _rounds(solver: Solver, memory: Memory, near: Solution | None) -> _Round:
    seen = {_key(memory)}
    solution = solve(solver, memory.levers, memory.variables, near=near)
    for _ in range(MOST_ROUNDS):
        after = _next(solution, memory)
        if after.variables == memory.variables:
            return solution, after, [], ()
        memory = after
        if _key(memory) in seen:
            return _one_at_a_time(solver, memory, solution)
        seen.add(_key(memory))
        solution = solve(solver, memory.levers, memory.variables, near=solution)
    return _one_at_a_time(solver, memory, solution)


def _key(memory: Memory) -> tuple[tuple[int, ...], tuple[bool | None, ...]]:
    return memory.variables, memory.edges


def _next(solution: Solution, memory: Memory) -> Memory:
    """All coils, latches and sensed states moved at once."""
    network = solution.solver.network
    watched = _watched(network)
    variables, edges = list(memory.variables), list(memory.edges)
    for number in watched.coils:
        branch = network.variables[number].branch
        law = network.branches[branch].law
        if isinstance(law, Coil):
            variables[number] = law.next_state(solution.volts(branch), memory.variables[number])
        else:  # a winding that a fault has opened or shorted is no coil any more, and pulls nothing
            variables[number] = 0
    for latch in watched.latches:
        place = 2 * latch.number
        variables[latch.number], edges[place], edges[place + 1] = _latched(solution, memory, latch)
    for number in watched.sensed:
        variable = network.variables[number]
        variables[number] = _sensed(solution, memory, variable.test, variable.branch)
    new_edges = tuple(edges)
    return Memory(
        memory.levers,
        tuple(variables),
        memory.edges if new_edges == memory.edges else new_edges,
        memory.timers,
    )


def _sensed(solution: Solution, memory: Memory, test: Condition | None, branch: int) -> int:
    if test is not None:
        return 1 if judge(test, memory.levers, memory.variables, solution.measure) else 0
    return solution.state(branch)


def _latched(solution: Solution, memory: Memory, latch: _ReadyLatch) -> tuple[int, bool | None, bool | None]:
    """The latch after this round, and the last truths of its set-on and release-on."""
    number, rule = latch.number, latch.rule
    levers, variables, measure = memory.levers, memory.variables, solution.measure

    def holds(judgement: Judgement | None) -> bool:
        return judgement is not None and judgement(levers, variables, measure) is True

    set_edge = holds(latch.set_on) if latch.set_on is not None else None
    release_edge = holds(latch.release_on) if latch.release_on is not None else None
    sets = (rule.set_after is None and holds(latch.set)) or (
        set_edge is True and memory.edges[2 * number] is False
    )
    releases = (rule.release_after is None and holds(latch.release)) or (
        release_edge is True and memory.edges[2 * number + 1] is False
    )
    if rule.lost_with >= 0 and solution.state(rule.lost_with) == 0:
        releases = True
    if sets and releases:
        return int(rule.set_wins), set_edge, release_edge
    return (1 if sets else 0 if releases else variables[number]), set_edge, release_edge


def _one_at_a_time(solver: Solver, memory: Memory, near: Solution) -> _Round:
    """Explore single flips from a memory that came back; see the head of the module."""
    network = solver.network
    first: Memory = memory
    seen: set[tuple[int, ...]] = {memory.variables}
    ends: list[tuple[Solution, Memory]] = []
    restless: set[int] = set()
    between: list[tuple[Solution, tuple[int, ...]]] = []
    waiting = deque([memory])
    while waiting and len(seen) < MOST_FLIPS:
        here = waiting.popleft()
        solution = solve(solver, here.levers, here.variables, near=near)
        after = _next(solution, here)
        wants = [n for n, (a, b) in enumerate(zip(here.variables, after.variables, strict=True)) if a != b]
        if not wants:
            ends.append((solution, after))
            continue
        restless.update(wants)
        if len(between) < MOST_BETWEEN:
            between.append((solution, here.variables))
        for number in wants:
            there = moved(here, {}, {number: after.variables[number]})
            there = replace(there, edges=after.edges)
            if there.variables not in seen:
                seen.add(there.variables)
                waiting.append(there)
    names = tuple(network.variables[n].name for n in sorted(restless))
    if not ends:
        solution = solve(solver, first.levers, first.variables, near=near)
        return solution, first, [Event("chatters", names)], tuple(between)
    ends.sort(key=lambda end: end[1].variables)
    solution, after = ends[0]
    if len(ends) == 1:
        return solution, after, [], ()
    differing = [n for n in range(len(network.variables)) if len({end[1].variables[n] for end in ends}) > 1]
    return solution, after, [Event("race", tuple(network.variables[n].name for n in differing))], ()


def _what_goes(solution: Solution) -> tuple[Event, int] | None:
    """The cartridge that fires, else the fuse that blows first (most overloaded); None where nothing goes."""
    network = solution.solver.network
    worst: tuple[float, Event, int] | None = None
    for number in _watched(network).going:
        branch = network.branches[number]
        if solution.variables[branch.memory]:
            continue
        amps = abs(solution.amps(number))
        if isinstance(branch.law, Cartridge):
            if amps >= branch.law.all_fire:
                return Event("fired", (branch.name,), amps, branch.law.all_fire), branch.memory
        elif isinstance(branch.law, Fuse) and amps > branch.law.fusing:
            share = amps / branch.law.fusing
            if worst is None or share > worst[0]:
                worst = share, Event("blown", (branch.name,), amps, branch.law.fusing), branch.memory
    return None if worst is None else (worst[1], worst[2])


def _overloads(solution: Solution) -> list[Event]:
    network = solution.solver.network
    said = []
    for number in _watched(network).going:
        branch = network.branches[number]
        if isinstance(branch.law, Fuse) and not solution.variables[branch.memory]:
            amps = abs(solution.amps(number))
            if amps > branch.law.carrying * 1.0001:
                said.append(Event("overload", (branch.name,), amps, branch.law.carrying))
    return said


def _consequences(solution: Solution) -> tuple[tuple[Event, int] | None, list[Event]]:
    """What goes, and if nothing does what is overloaded; worked out once for each solution."""
    known: tuple[tuple[Event, int] | None, list[Event]] | None = solution.remembered.get("consequences")
    if known is None:
        goes = _what_goes(solution)
        known = goes, ([] if goes is not None else _overloads(solution))
        solution.remembered["consequences"] = known
    return known


@dataclass(frozen=True, slots=True)
class _ReadyLatch:
    """A latch's rule with its conditions made into functions."""

    number: int
    rule: LatchRule
    set: Judgement | None
    release: Judgement | None
    set_on: Judgement | None
    release_on: Judgement | None


def _ready_latch(number: int, rule: LatchRule) -> _ReadyLatch:
    conditions = (rule.set, rule.release, rule.set_on, rule.release_on)
    made = [None if condition is None else ready(condition) for condition in conditions]
    return _ReadyLatch(number, rule, *made)


@dataclass(frozen=True, slots=True)
class _Watched:
    """Numbers of the branches that can blow or fire, and of the variables by what they are."""

    going: tuple[int, ...]
    coils: tuple[int, ...]
    latches: tuple[_ReadyLatch, ...]
    sensed: tuple[int, ...]
    timed: tuple[int, ...]


@lru_cache(maxsize=64)
def _watched(network: Network) -> _Watched:
    def of(what: str) -> tuple[int, ...]:
        return tuple(n for n, v in enumerate(network.variables) if v.what == what)

    rules = {n: rule for n in of("latch") if (rule := network.variables[n].latch) is not None}
    latches = tuple(_ready_latch(n, rule) for n, rule in rules.items())
    timed = tuple(n for n, r in rules.items() if r.set_after is not None or r.release_after is not None)
    going = tuple(
        n for n, b in enumerate(network.branches) if b.memory >= 0 and isinstance(b.law, Fuse | Cartridge)
    )
    return _Watched(going, of("coil"), latches, of("sensed"), timed)


def _timers(solution: Solution, memory: Memory) -> tuple[float | None, ...]:
    """Delays that start, go on, or are dropped, as the settled solution has it."""
    network = solution.solver.network
    timers = list(memory.timers)
    for number in _watched(network).timed:
        rule = network.variables[number].latch
        if rule is None:
            continue
        now = memory.variables[number]
        for place, after, condition, idle in (
            (2 * number, rule.set_after, rule.set, now == 1),
            (2 * number + 1, rule.release_after, rule.release, now == 0),
        ):
            if after is None or condition is None:
                continue
            holds = judge(condition, memory.levers, memory.variables, solution.measure) is True
            running = timers[place]
            timers[place] = None if idle or not holds else after if running is None else running
    new = tuple(timers)
    return memory.timers if new == memory.timers else new


NUDGE = 1e-9
"""How far beyond a threshold, as a share of its range, a moving lever is put, so that < and <= agree."""


def _speeds(settled: Settled) -> dict[int, float]:
    """Speed [unit/s] of each lever that something drives and that can still move that way."""
    network = settled.solution.solver.network
    speeds: dict[int, float] = {}
    for movement in network.movements:
        branch = network.branches[movement.branch]
        if settled.solution.state(movement.branch) == len(branch.law.states) - 1:
            speeds[movement.lever] = speeds.get(movement.lever, 0.0) + movement.rate
    levers = settled.memory.levers
    return {
        n: speed
        for n, speed in speeds.items()
        if speed and levers[n] != (network.levers[n].high if speed > 0 else network.levers[n].low)
    }


def _next_stop(network: Network, lever: int, value: float, speed: float) -> float:
    """The next value at which some sentence changes its mind, nudged beyond; or the end of the range."""
    record = network.levers[lever]
    nudge = NUDGE * (record.high - record.low)
    if speed > 0:
        beyond = [t + nudge for t in record.thresholds if t + nudge > value and t + nudge < record.high]
        return min(beyond, default=record.high)
    beyond = [t - nudge for t in record.thresholds if t - nudge < value and t - nudge > record.low]
    return max(beyond, default=record.low)


def next_event(settled: Settled) -> float | None:
    """Seconds until a delay runs out or a moving lever crosses a threshold.

    Parameters
    ----------
    settled
        Where things stand.

    Returns
    -------
    float or None
        Seconds [s]; None where nothing is under way.
    """
    network = settled.solution.solver.network
    times = [t for t in settled.memory.timers if t is not None]
    for lever, speed in _speeds(settled).items():
        value = settled.memory.levers[lever]
        times.append((_next_stop(network, lever, value, speed) - value) / speed)
    return min(times, default=None)


def wait(settled: Settled, seconds: float) -> Settled:
    """Let time pass, settling at every event.

    Parameters
    ----------
    settled
        Where things stand.
    seconds
        How long [s].

    Returns
    -------
    Settled
        After that time; its events are all that happened meanwhile.
    """
    events: list[Event] = []
    left = seconds
    for _ in range(10_000):
        until = next_event(settled)
        if until is None or until > left + 1e-9:
            if left > 0:
                settled = Settled(settled.solution, _passed(settled, left), settled.events)
                settled = settle(settled.solution.solver, settled.memory, near=settled.solution)
            break
        settled = settle(settled.solution.solver, _passed(settled, until), near=settled.solution)
        events += settled.events
        left = max(0.0, left - until)
    return replace(settled, events=tuple(dict.fromkeys((*events, *settled.events))))


def _passed(settled: Settled, seconds: float) -> Memory:
    """The memory after some seconds: delays shorter, levers moved, what has run out done."""
    memory, network = settled.memory, settled.solution.solver.network
    levers = list(memory.levers)
    for lever, speed in _speeds(settled).items():
        record = network.levers[lever]
        stop = _next_stop(network, lever, levers[lever], speed)
        value = levers[lever] + speed * seconds
        reached = value >= stop - 1e-12 * abs(stop) if speed > 0 else value <= stop + 1e-12 * abs(stop)
        levers[lever] = min(record.high, max(record.low, stop if reached else value))
    variables, timers = list(memory.variables), list(memory.timers)
    for place, left in enumerate(memory.timers):
        if left is None:
            continue
        if left <= seconds + 1e-9:
            variables[place // 2] = 1 if place % 2 == 0 else 0
            timers[place] = None
        else:
            timers[place] = left - seconds
    return Memory(tuple(levers), tuple(variables), memory.edges, tuple(timers))
