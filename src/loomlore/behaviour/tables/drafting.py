"""From what was gathered to reduced tables, still in numbers: what decides, the points, the rows.

Each thing seen has a table of its own; things that always agree share one, and so do things whose joint table
has fewer rows than their own together. What relays do is left out wherever levers decide it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from loomlore.behaviour.tables.gathering import Gathered, State
from loomlore.behaviour.tables.reducing import (
    Axis,
    Derived,
    Point,
    Reduced,
    Row,
    derivations,
    derived_points,
    reduced_table,
)

__all__ = ["Draft", "Input", "decides", "drafts_of", "inputs_of", "value_of"]

MOST_JOINED = 6
"""So many different outcomes at most in a table that several things share."""
FEW = 2
"""Tables of so few inputs are joined even where that saves no row."""
WEIGHTS = {"supply": 0.9, "lever": 1.0, "latch": 1.2, "timer": 1.3, "coil": 1.6, "sensed": 2.0}


# -- what a row can speak of ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Input:
    """A variable of the table. ``number`` is the place of its scale, or its variable's number."""

    what: str
    number: int
    size: int
    ordered: bool = False

    @property
    def axis(self) -> Axis:
        """As the reduction sees it."""
        return Axis(self.size, self.ordered, WEIGHTS[self.what])


def inputs_of(gathering: Gathered) -> tuple[Input, ...]:
    """Everything that a row could speak of: the supply, the levers, and what is remembered now so, now so.

    Parameters
    ----------
    gathering
        Of one service.

    Returns
    -------
    tuple of Input
        The supply first, then the levers in the record's order, then memories.
    """
    found = []
    if len(gathering.supplies) > 1:
        found.append(Input("supply", 0, len(gathering.supplies)))
    for place, scale in enumerate(gathering.scales):
        found.append(Input("lever", place, len(scale.values), bool(scale.edges)))
    network = gathering.plant.network
    for number in gathering.variables:
        variable = network.variables[number]
        varies = len({s.memory.variables[number] for s in gathering.states}) > 1
        if varies and variable.what in ("latch", "coil", "sensed"):
            found.append(Input(variable.what, number, 2))
        if variable.latch is not None and len({_running(s, number) for s in gathering.states}) > 1:
            found.append(Input("timer", number, 2))
    return tuple(found)


def _running(state: State, variable: int) -> bool:
    return any(left is not None for left in state.memory.timers[2 * variable : 2 * variable + 2])


def value_of(gathering: Gathered, state: State, found: Input) -> int:
    """The number of an input's value in a state.

    Parameters
    ----------
    gathering
        Of one service.
    state
        One of its states.
    found
        One of its inputs.

    Returns
    -------
    int [1]
        From 0.
    """
    match found.what:
        case "supply":
            return state.supply
        case "lever":
            scale = gathering.scales[found.number]
            return scale.place(state.memory.levers[scale.lever])
        case "timer":
            return int(_running(state, found.number))
        case _:
            return int(state.memory.variables[found.number] != 0)


# -- from states to points -----------------------------------------------------------------------------------

Outcome = tuple[tuple[int, ...], ...]
"""For each thing its state; several where the same setting has been seen to end in several."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Draft:
    """A table on its way: which things, what decides, the points, and their reduction."""

    gathering: Gathered
    members: tuple[int, ...]
    inputs: tuple[Input, ...]
    points: Mapping[Point, int]
    outcomes: tuple[Outcome, ...]
    quiet: int
    reduced: Reduced
    derived: tuple[Derived, ...] = ()
    vectors: tuple[Point, ...] = ()

    @property
    def count(self) -> int:
        """Rows in all, the last one too."""
        return len(self.reduced.rows) + 1


def _drafted(
    gathering: Gathered, members: tuple[int, ...], all_inputs: tuple[Input, ...], vectors: Sequence[Point]
) -> Draft:
    seen = [tuple(state.seen[m] for m in members) for state in gathering.states]
    inputs, projected = _deciding(all_inputs, vectors, seen)
    ends: dict[Point, set[tuple[int, ...]]] = {}
    for vector, outcome in zip(projected, seen, strict=True):
        ends.setdefault(vector, set()).add(outcome)
    as_outcome = {
        vector: tuple(tuple(sorted(set(s))) for s in zip(*found, strict=True))
        for vector, found in ends.items()
    }
    outcomes = tuple(sorted(set(as_outcome.values())))
    points = {vector: outcomes.index(outcome) for vector, outcome in as_outcome.items()}
    quiet = _quiet(gathering, members, outcomes, points)
    axes = [found.axis for found in inputs]
    reduced, derived = _reduced(gathering, inputs, axes, points, quiet)
    return Draft(
        gathering=gathering,
        members=members,
        inputs=inputs,
        points=points,
        outcomes=outcomes,
        quiet=quiet,
        reduced=reduced,
        derived=derived,
        vectors=tuple(projected),
    )


def _deciding(
    inputs: tuple[Input, ...], vectors: Sequence[Point], seen: Sequence[tuple[int, ...]]
) -> tuple[tuple[Input, ...], list[Point]]:
    """Leave out what need not be spoken of, the least readable first."""
    order = sorted(range(len(inputs)), key=lambda n: (-WEIGHTS[inputs[n].what], -n))
    kept = list(range(len(inputs)))
    whole = _spread(vectors, seen)
    for place in order:
        fewer = [n for n in kept if n != place]
        if _spread([tuple(v[n] for n in fewer) for v in vectors], seen) == whole or (
            whole == 0 and decides(vectors, seen, fewer)
        ):
            kept = fewer
    return tuple(inputs[n] for n in kept), [tuple(v[n] for n in kept) for v in vectors]


def decides(vectors: Sequence[Point], seen: Sequence[tuple[int, ...]], places: Sequence[int]) -> bool:
    """Whether some places of the vectors settle what is seen.

    Parameters
    ----------
    vectors
        Values of all inputs [1], one vector a state.
    seen
        What is seen in each state, as state numbers [1].
    places
        Which inputs are looked at, by number [1].

    Returns
    -------
    bool
        False where two states agree in them and differ in what is seen.
    """
    known: dict[Point, tuple[int, ...]] = {}
    return all(
        known.setdefault(tuple(v[n] for n in places), s) == s for v, s in zip(vectors, seen, strict=True)
    )


def _spread(vectors: Sequence[Point], seen: Sequence[tuple[int, ...]]) -> int:
    """How many states share their setting with one of another outcome."""
    ends: dict[Point, set[tuple[int, ...]]] = {}
    for vector, outcome in zip(vectors, seen, strict=True):
        ends.setdefault(vector, set()).add(outcome)
    return sum(len(ends[vector]) > 1 for vector in vectors)


def _quiet(
    gathering: Gathered, members: Sequence[int], outcomes: Sequence[Outcome], points: Mapping[Point, int]
) -> int:
    """The outcome that is left to "otherwise": all at rest, or else the commonest."""
    still = tuple((gathering.things[m].quiet,) for m in members)
    if still in outcomes:
        return outcomes.index(still)
    counts = [sum(found == n for found in points.values()) for n in range(len(outcomes))]
    return counts.index(max(counts))


def _reduced(
    gathering: Gathered,
    inputs: Sequence[Input],
    axes: Sequence[Axis],
    points: Mapping[Point, int],
    quiet: int,
) -> tuple[Reduced, tuple[Derived, ...]]:
    """Reduce as it stands, then with variables taken together where that saves rows."""
    best = reduced_table(axes, points, otherwise=quiet)
    used: tuple[Derived, ...] = ()
    if len(best.rows) < 2:
        return best, used
    alike = [
        (a, b)
        for a, b in combinations(range(len(inputs)), 2)
        if inputs[a].what == inputs[b].what == "lever"
        and _same_scale(gathering, inputs[a].number, inputs[b].number)
    ]
    for candidate in derivations(axes, points, alike):
        together = derived_points(axes, points, candidate)
        if together is None:
            continue
        fewer = reduced_table(together[0], together[1], otherwise=quiet)
        if len(fewer.rows) < len(best.rows) and all(
            _can_be_said(row, derived, axes) for row in fewer.rows for derived in (*used, candidate)
        ):
            best, axes, points, used = fewer, together[0], together[1], (*used, candidate)
    return best, used


def _can_be_said(row: Row, derived: Derived, axes: Sequence[Axis]) -> bool:
    """Whether "either" and "both" say what a row allows the lower and the higher of two."""
    if derived.how == "parity":
        return True
    lower, higher = (row.allowed[place] for place in derived.members)
    top = axes[derived.members[0]].size - 1
    return lower == higher or all(0 in values or top in values for values in (lower, higher))


def _same_scale(gathering: Gathered, a: int, b: int) -> bool:
    first, second = gathering.scales[a], gathering.scales[b]
    levers = gathering.plant.network.levers
    one, other = levers[first.lever], levers[second.lever]
    return (one.positions, first.values, first.edges) == (other.positions, second.values, second.edges)


# -- which things share a table ------------------------------------------------------------------------------


def drafts_of(gathering: Gathered) -> list[Draft]:
    """Reduce what was gathered to as few rows in as few tables as may be.

    Parameters
    ----------
    gathering
        Of one service.

    Returns
    -------
    list of Draft
        In the order of the things.
    """
    inputs = inputs_of(gathering)
    vectors = [tuple(value_of(gathering, state, found) for found in inputs) for state in gathering.states]
    drafts = [_drafted(gathering, members, inputs, vectors) for members in _agreeing(gathering)]
    while (joined := _best_joined(drafts, inputs, vectors)) is not None:
        drafts = joined
    return sorted(drafts, key=lambda draft: draft.members)


def _agreeing(gathering: Gathered) -> list[tuple[int, ...]]:
    """Things that agree in every state: the one's state tells the other's."""
    classes: list[list[int]] = []
    for place in range(len(gathering.things)):
        for members in classes:
            pairs = {(state.seen[members[0]], state.seen[place]) for state in gathering.states}
            if len({a for a, _ in pairs}) == len({b for _, b in pairs}) == len(pairs):
                members.append(place)
                break
        else:
            classes.append([place])
    return [tuple(members) for members in classes]


def _best_joined(
    drafts: list[Draft], inputs: tuple[Input, ...], vectors: Sequence[Point]
) -> list[Draft] | None:
    best: tuple[int, int, int, Draft] | None = None
    for a, b in combinations(range(len(drafts)), 2):
        one, other = drafts[a], drafts[b]
        if (
            not set(one.inputs) & set(other.inputs)
            or len(one.outcomes) * len(other.outcomes) > 2 * MOST_JOINED
        ):
            continue
        both = _drafted(one.gathering, tuple(sorted(one.members + other.members)), inputs, vectors)
        saved = one.count + other.count - both.count
        same = set(one.inputs) == set(other.inputs) == set(both.inputs) and len(both.inputs) <= FEW
        if (
            len(both.outcomes) <= MOST_JOINED
            and saved > (-1 if same else 0)
            and (best is None or saved > best[0])
        ):
            best = (saved, a, b, both)
    if best is None:
        return None
    return [draft for n, draft in enumerate(drafts) if n not in best[1:3]] + [best[3]]
