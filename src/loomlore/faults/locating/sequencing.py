"""In what order to make checks: the tree of checks that finds a fault for the least cost on average.

A *trial* is one check with its cost and its outcome under every fault. A chart is a tree: a trial at each
turning, one way on for each outcome, and at each end the faults that are left, which no trial tells apart.
Its cost is the mean over the faults, each by its weight, of the costs of the trials on the way to it.

Three ways to a chart, from the dearest to the cheapest to make:

* exact: dynamic programming over the sets of faults that outcomes can leave, with branch and bound. A set's
  lower bound is the cheapest trial times the mean depth of Huffman's tree; a set that cannot beat what is
  known is not opened;
* looking ahead: at each turning the few trials of most information for their cost are each followed to the end
  by the plain rule, and the cheapest is taken;
* the plain rule: most information for its cost. It is known to be caught out (a third over the best in one
  published case).

Where a chart is not proved best, the graph is opened a few checks deep and its leaves are bounded, so that the
gap can be printed.
"""

from __future__ import annotations

import heapq
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Chart",
    "End",
    "Trial",
    "Turning",
    "alike_groups",
    "best_chart",
    "charted",
    "next_trial",
    "plain_chart",
]

LOOKED_AT = 10
"""Trials that are followed to the end at a turning; more of them changed nothing measurable."""

SMALL = 9
"""Sets of so many faults and fewer are ordered exactly even while looking ahead."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One check: what it is called, its cost (minutes), and its outcome, a whole number, under each fault."""

    name: str
    cost: float
    outcomes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class End:
    """Where a chart ends: the faults left, by number."""

    faults: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Turning:
    """A trial, by number, and the way on for each of its outcomes."""

    trial: int
    ways: tuple[tuple[int, Node], ...]


Node = End | Turning


@dataclass(frozen=True, slots=True)
class Chart:
    """A tree of checks, its mean cost, and a cost under which no tree can be.

    ``exact`` where the tree is proved best.
    """

    tree: Node
    cost: float
    bound: float
    exact: bool

    @property
    def gap(self) -> float:
        """How far at most the chart is over the best, as a share of the best."""
        return (
            0.0
            if self.exact or self.cost <= self.bound
            else (self.cost - self.bound) / self.bound
            if self.bound > 0
            else math.inf
        )


def alike_groups(trials: Sequence[Trial], faults: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    """Put together the faults that no trial tells apart.

    Parameters
    ----------
    trials
        All that may be made.
    faults
        Numbers of the faults in question.

    Returns
    -------
    tuple of tuple of int
        Groups in order of their first fault.
    """
    found: dict[tuple[int, ...], list[int]] = {}
    for fault in faults:
        found.setdefault(tuple(trial.outcomes[fault] for trial in trials), []).append(fault)
    return tuple(tuple(group) for group in found.values())


# -- the reduced puzzle ------------------------------------------------------------------------------------------


@dataclass(eq=False)
class _Puzzle:
    """Groups instead of faults, and only trials that split something, each partition once at its cheapest."""

    groups: tuple[tuple[int, ...], ...]
    weights: NDArray[np.float64]
    numbers: list[int]
    costs: NDArray[np.float64]
    table: NDArray[np.int64]
    memo: dict[tuple[int, ...], float] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """Most outcomes of any trial."""
        return int(self.table.max()) + 1 if self.table.size else 1


def _puzzle(weights: Sequence[float], trials: Sequence[Trial], faults: Sequence[int] | None) -> _Puzzle:
    chosen = range(len(weights)) if faults is None else faults
    groups = alike_groups(trials, chosen)
    sums = np.array([math.fsum(weights[f] for f in group) for group in groups])
    total = float(sums.sum())
    sums = sums / total if total > 0 else np.full(len(groups), 1 / max(1, len(groups)))
    cheapest: dict[tuple[int, ...], int] = {}
    for number, trial in enumerate(trials):
        shape = _ranked([trial.outcomes[group[0]] for group in groups])
        if max(shape, default=0) > 0 and (shape not in cheapest or trial.cost < trials[cheapest[shape]].cost):
            cheapest[shape] = number
    numbers = list(cheapest.values())
    return _Puzzle(
        groups=groups,
        weights=sums,
        numbers=numbers,
        costs=np.array([trials[n].cost for n in numbers], dtype=np.float64),
        table=np.array(list(cheapest), dtype=np.int64).reshape(len(numbers), len(groups)),
    )


def _ranked(outcomes: Sequence[int]) -> tuple[int, ...]:
    """Outcomes numbered in order of their first coming, so that the same partition looks the same."""
    seen: dict[int, int] = {}
    return tuple(seen.setdefault(outcome, len(seen)) for outcome in outcomes)


def _gains(puzzle: _Puzzle, members: NDArray[np.int64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Information of each trial for a set of groups, as share of the set's weight times bits."""
    width, rows = puzzle.width, len(puzzle.numbers)
    places = puzzle.table[:, members] + (np.arange(rows) * width)[:, None]
    sums = np.bincount(places.ravel(), np.tile(weights, rows), rows * width).reshape(rows, width)
    logs = np.log2(np.where(sums > 0, sums, 1.0))
    total = float(weights.sum())
    gains: NDArray[np.float64] = (
        total * math.log2(total) - (sums * logs).sum(axis=1) if total > 0 else sums.sum(axis=1)
    )
    return gains


def _splits(puzzle: _Puzzle, trial: int, members: tuple[int, ...]) -> list[tuple[int, ...]]:
    parts: dict[int, list[int]] = {}
    for member in members:
        parts.setdefault(int(puzzle.table[trial, member]), []).append(member)
    return [tuple(part) for part in parts.values()]


def _plain_trial(puzzle: _Puzzle, members: tuple[int, ...]) -> int:
    """The trial of most information for its cost; ties to the cheapest, then to the first."""
    return _ranking(puzzle, members, 1)[0]


def _ranking(puzzle: _Puzzle, members: tuple[int, ...], most: int) -> list[int]:
    """The trials of most information for their cost that split the set."""
    inside = np.array(members)
    rows = puzzle.table[:, inside]
    useful = np.flatnonzero((rows != rows[:, :1]).any(axis=1))
    weights = puzzle.weights[inside]
    if weights.sum() <= 0:
        weights = np.full(len(inside), 1.0 / len(inside))
    score = _gains(puzzle, inside, weights)[useful] / np.maximum(puzzle.costs[useful], 1e-9)
    # rounded, so that equal scores tie whatever the machine's last digit
    order = np.lexsort((useful, puzzle.costs[useful], -np.round(score, 12)))
    return [int(n) for n in useful[order[:most]]]


def _plain_cost(puzzle: _Puzzle, members: tuple[int, ...]) -> float:
    """Cost, times the set's weight, of the plain rule from here to the end."""
    if len(members) < 2:
        return 0.0
    known = puzzle.memo.get(members)
    if known is None:
        trial = _plain_trial(puzzle, members)
        own = float(puzzle.costs[trial]) * float(puzzle.weights[list(members)].sum())
        known = own + sum(_plain_cost(puzzle, part) for part in _splits(puzzle, trial, members))
        puzzle.memo[members] = known
    return known


# -- exact -------------------------------------------------------------------------------------------------------


class _OutOfTime(Exception):
    """The graph is too large for the time given."""


@dataclass(eq=False)
class _Exact:
    """Branch and bound over sets of groups, a set being the bits of a whole number."""

    weights: list[float]
    costs: list[float]
    masks: list[list[int]]
    until: float
    width: int
    best: dict[int, tuple[float, int]] = field(default_factory=dict)
    least: dict[int, float] = field(default_factory=dict)
    heavy: dict[int, float] = field(default_factory=dict)
    opened: int = 0

    def weight(self, members: int) -> float:
        """Weight of a set."""
        known = self.heavy.get(members)
        if known is None:
            known = self.heavy[members] = math.fsum(self.weights[n] for n in _bits(members))
        return known

    def options(self, members: int) -> list[tuple[float, int, list[int]]]:
        """Ways to split a set, each partition once, cheapest bound first."""
        found: dict[tuple[int, ...], int] = {}
        for number, masks in enumerate(self.masks):
            parts = tuple(sorted([p for mask in masks if (p := members & mask)]))
            if len(parts) > 1 and (parts not in found or self.costs[number] < self.costs[found[parts]]):
                found[parts] = number
        heavy = self.weight(members)
        listed = [
            (self.costs[n] * heavy + sum(self.bound(p) for p in parts), n, list(parts))
            for parts, n in found.items()
        ]
        listed.sort(key=lambda option: option[:2])
        return listed

    def bound(self, members: int) -> float:
        """A cost under which the set cannot be told apart."""
        known = self.least.get(members)
        if known is None:
            known = self.least[members] = self._first_bound(members)
        return known

    def _first_bound(self, members: int) -> float:
        count = members.bit_count()
        if count < 2:
            return 0.0
        # the cheapest trial that splits this very set
        splitting = [
            self.costs[n]
            for n, masks in enumerate(self.masks)
            if any(0 != (members & m) != members for m in masks)
        ]
        return huffman_cost([self.weights[n] for n in _bits(members)], self.width) * min(
            splitting, default=0.0
        )

    def value(self, members: int, limit: float) -> float:
        """The best cost of a set; anything from ``limit`` up where the best is not under it."""
        if members.bit_count() < 2:
            return 0.0
        known = self.best.get(members)
        if known is not None:
            return known[0]
        if self.bound(members) >= limit:
            return self.bound(members)
        self.opened += 1
        if not self.opened % 256 and time.monotonic() > self.until:
            raise _OutOfTime
        return self._searched(members, limit)

    def _searched(self, members: int, limit: float) -> float:
        lowest, chosen = limit, -1
        under = math.inf
        for bound, number, parts in self.options(members):
            if bound >= lowest - 1e-15:
                under = min(under, bound)
                break
            cost = self._split_cost(self.costs[number] * self.weight(members), parts, lowest)
            under = min(under, cost)
            if cost < lowest:
                lowest, chosen = cost, number
        if chosen >= 0:
            self.best[members] = lowest, chosen
            self.least[members] = max(self.least[members], lowest)
            return lowest
        self.least[members] = max(self.least[members], min(under, limit))
        return self.least[members]

    def _split_cost(self, own: float, parts: list[int], lowest: float) -> float:
        """Cost of a trial and of all its parts; given up, still a bound, once it is over the lowest known."""
        bounds = {part: self.bound(part) for part in parts}
        cost = own + sum(bounds.values())
        for part in sorted(parts, key=int.bit_count):
            if cost >= lowest:
                break
            cost += self.value(part, lowest - cost + bounds[part]) - bounds[part]
            if part.bit_count() > 1 and part not in self.best:
                return max(cost, lowest)  # only a bound: rounding must not make it look like a better cost
        return cost


def _bits(members: int) -> list[int]:
    found = []
    while members:
        low = members & -members
        found.append(low.bit_length() - 1)
        members ^= low
    return found


def huffman_cost(weights: Sequence[float], ways: int = 2) -> float:
    """Mean depth, times the weight, of the best tree in which every set may be split at will.

    Parameters
    ----------
    weights
        Of the leaves.
    ways
        Most branches at a turning.

    Returns
    -------
    float
        Sum of weight times depth.

    Source
    ------
    [method]

    Examples
    --------
    >>> round(huffman_cost([0.7, 0.01, 0.02, 0.1, 0.05, 0.12]), 2)
    1.59
    """
    ways = max(2, ways)
    heap = [float(w) for w in weights]
    heap += [0.0] * ((1 - len(heap)) % (ways - 1))
    heapq.heapify(heap)
    total = 0.0
    while len(heap) > 1:
        joined = math.fsum(heapq.heappop(heap) for _ in range(min(ways, len(heap))))
        total += joined
        heapq.heappush(heap, joined)
    return total


def _exact_of(puzzle: _Puzzle, members: Sequence[int], seconds: float) -> _Exact:
    """The exact search over some of the groups, numbered by their place in ``members``."""
    masks = []
    for row in puzzle.table:
        parts: dict[int, int] = {}
        for place, member in enumerate(members):
            outcome = int(row[member])
            parts[outcome] = parts.get(outcome, 0) | 1 << place
        masks.append(list(parts.values()))
    width = max((len(parts) for parts in masks), default=2)
    weights = [float(puzzle.weights[m]) for m in members]
    return _Exact(weights, [float(c) for c in puzzle.costs], masks, time.monotonic() + seconds, width)


def _exact_value(puzzle: _Puzzle, members: tuple[int, ...]) -> float:
    """Exact cost of a small set, remembered beside the plain costs under another key."""
    key = (-1, *members)
    known = puzzle.memo.get(key)
    if known is None:
        search = _exact_of(puzzle, members, math.inf)
        known = puzzle.memo[key] = search.value((1 << len(members)) - 1, math.inf)
    return known


# -- charts ------------------------------------------------------------------------------------------------------


def best_chart(
    weights: Sequence[float],
    trials: Sequence[Trial],
    *,
    faults: Sequence[int] | None = None,
    seconds: float = 5.0,
) -> Chart | None:
    """Find the chart of least mean cost by dynamic programming.

    Parameters
    ----------
    weights
        Probability of each fault, or anything in proportion to it [1].
    trials
        What may be checked.
    faults
        Only these, by number; all where None.
    seconds
        After how long to give up [s].

    Returns
    -------
    Chart or None
        Proved best; None where there was not enough time.

    Source
    ------
    [pattipati-1990]
    """
    puzzle = _puzzle(weights, trials, faults)
    members = tuple(range(len(puzzle.groups)))
    search = _exact_of(puzzle, members, seconds)
    everything = (1 << len(members)) - 1
    limit = _tree_cost(puzzle, members, _looking_choice(puzzle, small=0)) * (1 + 1e-12) + 1e-12
    try:
        cost = search.value(everything, limit)
    except _OutOfTime:
        return None
    tree = _exact_tree(puzzle, search, everything, trials)
    return Chart(tree, cost, cost, exact=True)


def _exact_tree(puzzle: _Puzzle, search: _Exact, members: int, trials: Sequence[Trial]) -> Node:
    places = tuple(_bits(members))
    if len(places) < 2:
        return End(tuple(f for place in places for f in puzzle.groups[place]))
    if members not in search.best:
        search.value(members, math.inf)
    _, number = search.best[members]
    ways = []
    for part in _splits(puzzle, number, places):
        mask = sum(1 << place for place in part)
        outcome = trials[puzzle.numbers[number]].outcomes[puzzle.groups[part[0]][0]]
        ways.append((outcome, _exact_tree(puzzle, search, mask, trials)))
    return Turning(puzzle.numbers[number], tuple(sorted(ways, key=lambda way: way[0])))


Chooser = Callable[[tuple[int, ...]], int]


def _looking_choice(puzzle: _Puzzle, *, small: int = SMALL, most: int = LOOKED_AT) -> Chooser:
    """Looking ahead: each likely trial followed to its end, and the cheapest taken."""

    def choose(members: tuple[int, ...]) -> int:
        heavy = float(puzzle.weights[list(members)].sum())
        best, chosen = math.inf, -1
        for trial in _ranking(puzzle, members, most):
            cost = float(puzzle.costs[trial]) * heavy
            for part in _splits(puzzle, trial, members):
                cost += _exact_value(puzzle, part) if 1 < len(part) <= small else _plain_cost(puzzle, part)
                if cost >= best:
                    break
            if cost < best - 1e-12:
                best, chosen = cost, trial
        return chosen

    return choose


def _tree_cost(puzzle: _Puzzle, members: tuple[int, ...], choose: Chooser) -> float:
    if len(members) < 2:
        return 0.0
    trial = choose(members)
    own = float(puzzle.costs[trial]) * float(puzzle.weights[list(members)].sum())
    return own + sum(_tree_cost(puzzle, part, choose) for part in _splits(puzzle, trial, members))


def _tree(puzzle: _Puzzle, members: tuple[int, ...], choose: Chooser, trials: Sequence[Trial]) -> Node:
    if len(members) < 2:
        return End(tuple(f for member in members for f in puzzle.groups[member]))
    row = choose(members)
    number = puzzle.numbers[row]
    ways = []
    for part in _splits(puzzle, row, members):
        outcome = trials[number].outcomes[puzzle.groups[part[0]][0]]
        ways.append((outcome, _tree(puzzle, part, choose, trials)))
    return Turning(number, tuple(sorted(ways, key=lambda way: way[0])))


def plain_chart(
    weights: Sequence[float], trials: Sequence[Trial], *, faults: Sequence[int] | None = None
) -> Chart:
    """Make a chart by the plain rule, most information for its cost.

    Parameters
    ----------
    weights
        Probability of each fault [1].
    trials
        What may be checked.
    faults
        Only these; all where None.

    Returns
    -------
    Chart
        With the first bound only.
    """
    puzzle = _puzzle(weights, trials, faults)
    members = tuple(range(len(puzzle.groups)))

    def choose(some: tuple[int, ...]) -> int:
        return _plain_trial(puzzle, some)

    tree = _tree(puzzle, members, choose, trials)
    return Chart(tree, _tree_cost(puzzle, members, choose), _opened_bound(puzzle, 0), exact=False)


def charted(
    weights: Sequence[float],
    trials: Sequence[Trial],
    *,
    faults: Sequence[int] | None = None,
    seconds: float = 2.0,
    small: int = SMALL,
) -> Chart:
    """Make the best chart that the time allows, with its gap.

    Parameters
    ----------
    weights
        Probability of each fault [1].
    trials
        What may be checked.
    faults
        Only these; all where None.
    seconds
        For the exact search, and as much again for the bound [s]; 0 looks ahead only.
    small
        Sets of so many groups are ordered exactly within the looking ahead.

    Returns
    -------
    Chart
        Exact where it could be proved.
    """
    if seconds > 0:
        exact = best_chart(weights, trials, faults=faults, seconds=seconds)
        if exact is not None:
            return exact
    puzzle = _puzzle(weights, trials, faults)
    members = tuple(range(len(puzzle.groups)))
    choose = _looking_choice(puzzle, small=small)
    cost = _tree_cost(puzzle, members, choose)
    bound = min(cost, _opened_bound(puzzle, seconds))
    return Chart(_tree(puzzle, members, choose, trials), cost, bound, exact=cost <= bound)


def _opened_bound(puzzle: _Puzzle, seconds: float) -> float:
    """The least that any chart can cost: the graph opened deeper and deeper until the time is up."""
    members = tuple(range(len(puzzle.groups)))
    if len(members) < 2:
        return 0.0
    search = _exact_of(puzzle, members, seconds)
    everything = (1 << len(members)) - 1
    found = search.bound(everything)
    for depth in range(1, 6):
        try:
            found = max(found, _bound_at(search, everything, depth, {}))
        except _OutOfTime:
            break
    return found


def _bound_at(search: _Exact, members: int, depth: int, memo: dict[tuple[int, int], float]) -> float:
    if members.bit_count() < 2:
        return 0.0
    if depth == 0:
        return search.bound(members)
    key = members, depth
    if key in memo:
        return memo[key]
    if time.monotonic() > search.until:
        raise _OutOfTime
    best = math.inf
    for bound, number, parts in search.options(members):
        if bound >= best:
            break
        cost = search.costs[number] * search.weight(members)
        best = min(best, cost + sum(_bound_at(search, part, depth - 1, memo) for part in parts))
    memo[key] = best
    search.least[members] = max(search.bound(members), best)
    return best


def next_trial(
    weights: Sequence[float],
    trials: Sequence[Trial],
    *,
    faults: Sequence[int] | None = None,
    most: int = LOOKED_AT,
) -> int | None:
    """Choose the next check, looking ahead.

    Parameters
    ----------
    weights
        Probability of each fault [1].
    trials
        What may be checked.
    faults
        Only these; all where None.
    most
        Trials followed to the end.

    Returns
    -------
    int or None
        Number of the trial; None where none tells anything.
    """
    puzzle = _puzzle(weights, trials, faults)
    if len(puzzle.groups) < 2:
        return None
    members = tuple(range(len(puzzle.groups)))
    small = SMALL if len(members) <= 16 else 6 if len(members) <= 40 else 4
    choose = _looking_choice(puzzle, small=small, most=most)
    return puzzle.numbers[choose(members)]


def walked(chart: Chart, outcome_of: Callable[[int], int]) -> tuple[tuple[int, ...], End]:
    """Follow a chart.

    Parameters
    ----------
    chart
        Any.
    outcome_of
        The outcome that a trial turns out to have.

    Returns
    -------
    tuple
        The trials made, in order, and where it ended.
    """
    node: Any = chart.tree
    made = []
    while isinstance(node, Turning):
        made.append(node.trial)
        outcome = outcome_of(node.trial)
        node = dict(node.ways)[outcome]
    return tuple(made), node
