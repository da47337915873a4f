"""One solution: Newton's method on the live branches, elimination of all the rest.

Given where the levers stand and what the installation remembers, every contact is open or closed and the
laws are fixed. Quiet nodes are eliminated once (:mod:`loomlore.network.plan`); then

1. two secant steps for filaments, since a cold lamp's tangent overshoots;
2. Newton tangents, a piecewise law moving at most one piece a step;
3. from step eight a search along the line, on the convex content of the network.

Invariant: for monotone laws there is one solution, and the way to it does not depend on where it starts.
Constant power is the exception: it keeps its working branch where the start lies on it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Any

from loomlore.network.conditions import ALWAYS, Condition, Measured, compile_conditions, within
from loomlore.network.laws import (
    OPEN,
    STOPPING,
    Battery,
    Cartridge,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Magneto,
    Meter,
    Pieces,
    Rectifier,
    Source,
)
from loomlore.network.model import Network
from loomlore.network.plan import Plan, Program, plan_for, scalar_program

__all__ = ["Solution", "Solver", "prepare", "prepared_like", "solve"]

MOST_STEPS = 80
SECANT_STEPS = 2
SEARCH_FROM = 8
LEAST_STEP = 0.02
CLOSE = 1e-10
"""Volts as a share of the supply's in which a piece's edge is the same from both sides, and a step that is no
tangent's has arrived."""

ARRIVED = 2e-8
"""Newton has arrived when no live branch moves by more than this share of the supply's volts in a step of
tangents: what is left then is its square over the volts in which a law bends, 0.1 at the least (a lamp that is
all but cold), and that is under 1e-13."""

_PIECEWISE = (Battery, Generator, Rectifier, Source)
_LIVE = (Filament, ConstantPower, *_PIECEWISE)


@dataclass(frozen=True, kw_only=True)
class Solver:
    """What is made once for a network: its plan, its program, and its branches sorted by how they behave.

    ``powers`` are the sets among the live branches, whose working branch depends on where they start;
    ``followed`` are the levers that a law follows, ``decisive`` the variables that a solution depends on
    otherwise than by its contacts; ``hanging`` gives each node the least node that it always hangs together
    with, ``switched`` are the branches besides contacts that may part it. ``memo`` keeps solutions by what
    decides them.
    """

    network: Network
    plan: Plan
    program: Program
    base: tuple[float, ...]
    condition_of: tuple[int, ...]
    works_of: tuple[int, ...]
    restrained_of: tuple[int, ...]
    judged: Callable[[Sequence[Any], Sequence[int]], tuple[bool, ...]]
    contacts: tuple[tuple[int, int, float, int], ...]
    varying: tuple[int, ...]
    switched: tuple[int, ...]
    hanging: tuple[int, ...]
    live: tuple[int, ...]
    magnetos: tuple[int, ...]
    powers: tuple[int, ...]
    followed: tuple[int, ...]
    decisive: tuple[int, ...]
    memo: dict[Any, Solution] = field(default_factory=dict)


@lru_cache(maxsize=32)
def prepare(network: Network) -> Solver:
    """Make the plan and the program of a network.

    Parameters
    ----------
    network
        Any network; the same one gives the same solver.

    Returns
    -------
    Solver
        Ready for :func:`solve`.
    """
    branches = network.branches
    moving = [n for n, b in enumerate(branches) if isinstance(b.law, (*_LIVE, Magneto))]
    plan = plan_for(len(network.node_names), [(b.a, b.b) for b in branches], moving)
    conditions: list[Condition] = []
    condition_of = [_listed(b.closed, conditions) for b in branches]
    works_of = [_listed(b.works, conditions) for b in branches]
    restrained_of = [_listed(b.restrained, conditions) for b in branches]
    judged = compile_conditions(conditions)
    return _prepared(network, plan, scalar_program(plan), condition_of, works_of, restrained_of, judged)


def prepared_like(like: Solver, network: Network) -> Solver:
    """Make a network ready by the plan of one that it differs little from.

    Parameters
    ----------
    like
        Made for a network with the same nodes and branches, where every live branch of this one is live too.
    network
        Branches may have other laws of the same sort, or straight ones, and conditions may be gone.

    Returns
    -------
    Solver
        Ready for :func:`solve`.
    """
    branches = network.branches

    def kept(numbers: tuple[int, ...], conditions: list[Condition | None]) -> list[int]:
        return [-1 if c is None else n for n, c in zip(numbers, conditions, strict=True)]

    return _prepared(
        network,
        like.plan,
        like.program,
        kept(like.condition_of, [b.closed for b in branches]),
        kept(like.works_of, [b.works for b in branches]),
        kept(like.restrained_of, [b.restrained for b in branches]),
        like.judged,
    )


def _prepared(
    network: Network,
    plan: Plan,
    program: Program,
    condition_of: list[int],
    works_of: list[int],
    restrained_of: list[int],
    judged: Callable[[Sequence[Any], Sequence[int]], tuple[bool, ...]],
) -> Solver:
    branches = network.branches
    live = tuple(n for n, b in enumerate(branches) if isinstance(b.law, _LIVE))
    magnetos = tuple(n for n, b in enumerate(branches) if isinstance(b.law, Magneto))
    base, contacts, varying = [0.0] * len(plan.edges), [], []
    for number, branch in enumerate(branches):
        edge = plan.edge_of_branch[number]
        if edge < 0 or isinstance(branch.law, _LIVE):
            continue
        if branch.closed is not None:
            contacts.append((condition_of[number], edge, branch.law.conductance(True, 0.0), number))
        elif branch.works is not None or branch.follows >= 0 or isinstance(branch.law, Fuse | Cartridge):
            varying.append(number)
        else:
            base[edge] += branch.law.conductance(True, 0.0)
    switched = {n for n, b in enumerate(branches) if n in varying or isinstance(b.law, Source)}
    opened = {number for _, _, _, number in contacts}
    return Solver(
        network=network,
        plan=plan,
        program=program,
        base=tuple(base),
        condition_of=tuple(condition_of),
        works_of=tuple(works_of),
        restrained_of=tuple(restrained_of),
        judged=judged,
        contacts=tuple(contacts),
        varying=tuple(varying),
        switched=tuple(sorted(switched)),
        hanging=_hanging(network, opened, switched),
        live=live,
        magnetos=magnetos,
        powers=tuple(n for n in live if isinstance(branches[n].law, ConstantPower)),
        followed=tuple(sorted({b.follows for b in branches if b.follows >= 0})),
        decisive=tuple(n for n, v in enumerate(network.variables) if v.what not in ("latch", "sensed")),
    )


def _listed(condition: Condition | None, conditions: list[Condition]) -> int:
    if condition is None or condition == ALWAYS:
        return -1
    conditions.append(condition)
    return len(conditions) - 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Solution:
    """Potentials [V] of all nodes for given levers and memory, and what follows from them.

    ``steps`` is how many steps it took, ``stalled`` that it did not arrive; ``remembered`` keeps what has been
    worked out from it already.
    """

    solver: Solver
    levers: tuple[float, ...]
    variables: tuple[int, ...]
    truths: tuple[bool, ...]
    potentials: list[float]
    edges: list[float]
    slopes: list[float]
    steps: int
    stalled: bool
    remembered: dict[str, Any] = field(default_factory=dict)

    def closed(self, branch: int) -> bool:
        """Whether a contact is closed (a branch without condition always is)."""
        condition = self.solver.condition_of[branch]
        return condition < 0 or self.truths[condition]

    def works(self, branch: int) -> bool:
        """Whether an element works as its record says it must."""
        condition = self.solver.works_of[branch]
        return condition < 0 or self.truths[condition]

    def followed(self, branch: int) -> float:
        """Value of the lever that a branch follows (0 where none)."""
        follows = self.solver.network.branches[branch].follows
        return float(self.levers[follows]) if follows >= 0 else 0.0

    def conductance(self, branch: int) -> float:
        """Conductance [S] of a branch whose law is straight, as it stands."""
        return _conductance(self.solver, branch, self.levers, self.variables, self.truths)

    def volts(self, branch: int) -> float:
        """Volts across a branch, first end minus second."""
        b = self.solver.network.branches[branch]
        return self.potentials[b.a] - self.potentials[b.b]

    def amps(self, branch: int) -> float:
        """Amperes through a branch, in at the first end."""
        b = self.solver.network.branches[branch]
        volts = self.potentials[b.a] - self.potentials[b.b]
        law = b.law
        if isinstance(law, Filament | ConstantPower):
            return law.amps_and_slope(volts)[0]
        if isinstance(law, _PIECEWISE):
            law = _as_restrained(self.solver, branch, self.truths)
            amps: float = law.pieces(self.works(branch), self.followed(branch)).amps(volts)
            return amps
        return self.conductance(branch) * volts

    def watts(self, branch: int) -> float:
        """Watts taken by a branch; negative for one that delivers."""
        return self.volts(branch) * self.amps(branch)

    @cached_property
    def balance(self) -> tuple[float, float]:
        """(watts delivered by the sources, residual of the balance [W]): sources = losses + loads."""
        watts = [self.watts(n) for n in range(len(self.solver.network.branches))]
        return -sum(w for w in watts if w < 0), sum(watts)

    @cached_property
    def islands(self) -> tuple[int, ...]:
        """For each node the least node of what it hangs together with; 0 is the airframe's own."""
        return _islands(self.solver, self.levers, self.variables, self.truths)

    def floats(self, node: int) -> bool:
        """Whether a node is at no defined potential against the airframe."""
        return self.islands[node] != 0

    def state(self, branch: int) -> int:
        """Number of the state a branch is in, by what is remembered and by its volts and amperes."""
        b = self.solver.network.branches[branch]
        if b.memory >= 0:
            remembered = self.variables[b.memory]
            if not isinstance(b.law, Cartridge):
                return remembered
            if remembered:
                return 2
        if isinstance(b.law, Magneto):
            return self._magneto(branch)
        if isinstance(b.law, Meter):
            dials = self.solver.network.dials.get(branch, ())
            return max((METER_STATES.index(self.indicates(dial)) for dial in dials), default=2)
        return b.law.state(self.volts(branch), self.amps(branch), self.works(branch), self.followed(branch))

    def resistance(self, branch: int) -> float:
        """Ohms from the first end of a live branch or magneto to its second, through all the rest."""
        b = self.solver.network.branches[branch]
        if self.islands[b.a] != self.islands[b.b]:
            return 1.0 / OPEN
        injected = [0.0] * self.solver.plan.nodes
        injected[b.a] += 1.0
        injected[b.b] -= 1.0
        v = self.solver.program.live(self._tangents(), injected)
        return v[b.a] - v[b.b]

    def _tangents(self) -> list[float]:
        g = self.edges[:]
        for slope, branch in zip(self.slopes, self.solver.live, strict=True):
            edge = self.solver.plan.edge_of_branch[branch]
            if edge >= 0:
                g[edge] += slope
        return g

    def _magneto(self, branch: int) -> int:
        key = f"magneto {branch}"
        if key not in self.remembered:
            turning = self.works(branch)
            self.remembered[key] = 1 if not turning or self.resistance(branch) < STOPPING else 0
        stopped: int = self.remembered[key]
        return stopped

    def measure(self, measured: Measured) -> bool | None:
        """Judge a measured test; None where it is at no defined potential or shows nothing."""
        match measured.of:
            case "volts":
                volts = self.between(measured.a, measured.b)
                return None if volts is None else within(volts, measured.limits)
            case "amps":
                return within(self.amps(measured.a), measured.limits)
            case "state":
                return self.state(measured.a) in measured.values
            case "group":
                return max(self.state(branch) for branch in measured.group) in measured.values
            case _:
                if measured.values:
                    return METER_STATES.index(self.indicates(measured.a)) in measured.values
                shown = self.shown(measured.a)
                return None if shown is None else within(shown, measured.limits)

    def between(self, a: int, b: int) -> float | None:
        """Volts from one node to another (-1: the airframe); None where they are of different islands."""
        b = max(b, 0)
        always = self.solver.hanging
        if always[a] != always[b] and self.islands[a] != self.islands[b]:
            return None
        return self.potentials[a] - self.potentials[b]

    def shown(self, indication: int) -> float | None:
        """The mark that an indication shows; None without power or off its scale."""
        return _shown(self, indication)[0]

    def indicates(self, indication: int) -> str:
        """``no-power``, ``off-scale`` or ``reading``."""
        return _shown(self, indication)[1]


MOST_REMEMBERED = 3000
"""Solutions kept: about 50 kB each in an installation of 500 nodes."""

ISLAND = 1e-10
"""Conductance [S] under which a branch does not hold two nodes together."""

METER_STATES = ("no-power", "off-scale", "reading")
NO_POWER = 1e-4
"""A ratio meter with less than this share of an ampere in both coils shows no power."""


def _shown(solution: Solution, number: int) -> tuple[float | None, str]:
    dial = solution.solver.network.indications[number]
    first = solution.amps(dial.first) if dial.of != "volts" else solution.volts(dial.first)
    if dial.of == "ratio":
        right = solution.amps(dial.second)
        if abs(first) < NO_POWER and abs(right) < NO_POWER:
            return None, "no-power"
        value = first / right if abs(right) > 1e-9 else float("inf")
    else:
        value = first
        if abs(first) < NO_POWER * max(abs(x) for x, _ in dial.points):
            return (_read_off(dial.points, value)[0], "no-power")
    return _read_off(dial.points, value)


def _read_off(points: tuple[tuple[float, float], ...], value: float) -> tuple[float | None, str]:
    slack = 0.02 * abs(points[-1][0] - points[0][0])
    if not points[0][0] - slack <= value <= points[-1][0] + slack:
        return None, "off-scale"
    for (x0, y0), (x1, y1) in pairwise(points):
        if value <= x1 or (x1, y1) == points[-1]:
            share = (min(max(value, points[0][0]), points[-1][0]) - x0) / (x1 - x0)
            return y0 + share * (y1 - y0), "reading"
    return None, "off-scale"


def _as_restrained(solver: Solver, number: int, truths: Sequence[bool]) -> Any:
    """The law of a piecewise branch: a machine's with its full field where its regulator does not feel its volts."""
    law = solver.network.branches[number].law
    condition = solver.restrained_of[number]
    if condition >= 0 and not truths[condition] and isinstance(law, Generator):
        return law.unbridled()
    return law


def _conductance(
    solver: Solver, number: int, levers: Sequence[Any], variables: Sequence[int], truths: Sequence[bool]
) -> float:
    branch = solver.network.branches[number]
    if branch.closed is not None:
        condition = solver.condition_of[number]
        if condition >= 0 and not truths[condition]:
            return OPEN
    law = branch.law
    if branch.memory >= 0 and variables[branch.memory] and isinstance(law, Fuse | Cartridge):
        return OPEN
    works = solver.works_of[number]
    lever = float(levers[branch.follows]) if branch.follows >= 0 else 0.0
    if isinstance(law, _LIVE):
        raise TypeError("a live branch has no single conductance")
    return law.conductance(works < 0 or truths[works], lever)


def _islands(
    solver: Solver, levers: Sequence[Any], variables: Sequence[int], truths: Sequence[bool]
) -> tuple[int, ...]:
    parent = list(solver.hanging)
    branches = solver.network.branches
    for condition, _, closed, number in solver.contacts:
        if closed >= ISLAND and (condition < 0 or truths[condition]):
            _unite(parent, branches[number].a, branches[number].b)
    for number in solver.switched:
        branch = branches[number]
        if isinstance(branch.law, Source):
            works = solver.works_of[number]
            joined = works < 0 or truths[works]
        else:
            joined = _conductance(solver, number, levers, variables, truths) >= ISLAND
        if joined:
            _unite(parent, branch.a, branch.b)
    return tuple([_root(parent, node) for node in range(len(parent))])


def _root(parent: list[int], node: int) -> int:
    while parent[node] != node:
        parent[node] = node = parent[parent[node]]
    return node


def _unite(parent: list[int], a: int, b: int) -> None:
    """Hang two nodes together, under the lesser: so the airframe's own are under 0."""
    a, b = _root(parent, a), _root(parent, b)
    if a != b:
        parent[max(a, b)] = min(a, b)


def _hanging(network: Network, contacts: set[int], switched: set[int]) -> tuple[int, ...]:
    """What always hangs together, by branches that nothing opens."""
    parent = list(range(len(network.node_names)))
    for number, branch in enumerate(network.branches):
        if number in contacts or number in switched or isinstance(branch.law, Magneto):
            continue
        if isinstance(branch.law, _LIVE) or branch.law.conductance(True, 0.0) >= ISLAND:
            _unite(parent, branch.a, branch.b)
    return tuple([_root(parent, node) for node in range(len(parent))])


def solve(
    solver: Solver,
    levers: Sequence[float],
    variables: Sequence[int],
    *,
    near: Solution | None = None,
) -> Solution:
    """Solve the network for given levers and memory.

    Parameters
    ----------
    solver
        From :func:`prepare`.
    levers
        Position number or value [unit] of each lever.
    variables
        What is remembered, a whole number each.
    near
        A solution to start from. It decides nothing but whether a set (constant power) starts out working.

    Returns
    -------
    Solution
        Potentials with the airframe at 0 V; an island's are relative to one of its own nodes.

    Notes
    -----
    Newton's method on node potentials; see the head of the module.

    Source
    ------
    [chua-lin-1975 ch. 5]
    """
    truths = solver.judged(levers, variables)
    key = (
        truths,
        tuple([levers[n] for n in solver.followed]),
        tuple([variables[n] for n in solver.decisive]),
        _working(solver, near),
    )
    known = solver.memo.get(key)
    if known is not None:
        return known
    if len(solver.memo) >= MOST_REMEMBERED:
        solver.memo.clear()
    solver.memo[key] = made = _solved(solver, levers, variables, truths, near)
    return made


def _working(solver: Solver, near: Solution | None) -> tuple[bool, ...]:
    """Which sets start on their working branch: all but those that the start has fallen out."""
    if near is None or not solver.powers:
        return ()
    working = []
    for number in solver.powers:
        law = solver.network.branches[number].law
        assert isinstance(law, ConstantPower)
        working.append(abs(near.volts(number)) >= law.works_from)
    return () if all(working) else tuple(working)


def _solved(
    solver: Solver,
    levers: Sequence[float],
    variables: Sequence[int],
    truths: tuple[bool, ...],
    near: Solution | None,
) -> Solution:
    edges = _straight_edges(solver, levers, variables, truths)
    solver.program.quiet(edges)
    run = _Run(solver, levers, truths, edges, near)
    steps, arrived = run.iterate()
    solver.program.back(edges, run.potentials)
    return Solution(
        solver=solver,
        levers=tuple(levers),
        variables=tuple(variables),
        truths=truths,
        potentials=run.potentials,
        edges=edges,
        slopes=run.slopes,
        steps=steps,
        stalled=not arrived,
    )


def _straight_edges(
    solver: Solver, levers: Sequence[Any], variables: Sequence[int], truths: Sequence[bool]
) -> list[float]:
    g = list(solver.base)
    for condition, edge, closed, _ in solver.contacts:
        g[edge] += closed if condition < 0 or truths[condition] else OPEN
    for number in solver.varying:
        g[solver.plan.edge_of_branch[number]] += _conductance(solver, number, levers, variables, truths)
    return g


class _Run:
    """The state of one solve: volts, pieces and slopes of the live branches."""

    def __init__(
        self,
        solver: Solver,
        levers: Sequence[Any],
        truths: Sequence[bool],
        edges: list[float],
        near: Solution | None,
    ) -> None:
        self.solver = solver
        self.edges = edges
        network = solver.network
        self.ends = [(network.branches[n].a, network.branches[n].b) for n in solver.live]
        self.edge = [solver.plan.edge_of_branch[n] for n in solver.live]
        self.laws: list[Any] = []
        for n in solver.live:
            branch = network.branches[n]
            if isinstance(branch.law, _PIECEWISE):
                works = solver.works_of[n]
                lever = float(levers[branch.follows]) if branch.follows >= 0 else 0.0
                law = _as_restrained(solver, n, truths)
                self.laws.append(law.pieces(works < 0 or truths[works], lever))
            else:
                self.laws.append(branch.law)
        self.volts = [self._first(n, near) for n in range(len(self.laws))]
        self.piece = [
            w.piece(v) if isinstance(w, Pieces) else 0 for w, v in zip(self.laws, self.volts, strict=True)
        ]
        self.slopes = [0.0] * len(self.laws)
        self.potentials: list[float] = near.potentials if near is not None else [0.0] * solver.plan.nodes
        self.close = CLOSE * max(1.0, network.supply)
        self.arrived = ARRIVED * max(1.0, network.supply)

    def _first(self, place: int, near: Solution | None) -> float:
        if near is not None:
            return near.volts(self.solver.live[place])
        law = self.laws[place]
        if isinstance(law, Pieces):
            return law.breaks[-1] if law.breaks and law.offsets[0] < 0 else 0.0
        return law.volts if isinstance(law, ConstantPower) else 0.0

    def iterate(self) -> tuple[int, bool]:
        """Step until no live branch moves and every piece holds."""
        for step in range(MOST_STEPS):
            before = self.potentials
            self._step(step)
            fresh = [self.potentials[a] - self.potentials[b] for a, b in self.ends]
            moved = max((abs(n - o) for n, o in zip(fresh, self.volts, strict=True)), default=0.0)
            # judged by the whole step, which is then taken whole: a shortened one would look like arrival
            if step >= SEARCH_FROM and moved > self.close:
                self.potentials = self._searched(before)
                fresh = [self.potentials[a] - self.potentials[b] for a, b in self.ends]
            self.volts = fresh
            if self._moved_pieces():
                continue
            arrived = self.arrived if step < SEARCH_FROM else self.close
            if moved <= arrived and step >= min(SECANT_STEPS, len(self.laws)):
                return step + 1, True
        return MOST_STEPS, not self.laws

    def _step(self, step: int) -> None:
        g = self.edges[:]
        j = [0.0] * len(self.potentials)
        for k, law in enumerate(self.laws):
            v = self.volts[k]
            if isinstance(law, Pieces):
                piece = self.piece[k]
                slope, offset = law.slopes[piece], law.offsets[piece]
            else:
                amps, slope = law.amps_and_slope(v)
                if step < SECANT_STEPS or (isinstance(law, ConstantPower) and step >= SEARCH_FROM):
                    slope = amps / v if v else law.amps_and_slope(1e-9 * law.volts)[1]
                offset = amps - slope * v
            self.slopes[k] = slope
            if self.edge[k] < 0:
                continue
            g[self.edge[k]] += slope
            if offset:
                a, b = self.ends[k]
                j[a] -= offset
                j[b] += offset
        self.potentials = self.solver.program.live(g, j)

    def _moved_pieces(self) -> bool:
        moved = False
        for k, law in enumerate(self.laws):
            if isinstance(law, Pieces) and law.breaks:
                wanted = law.piece(self.volts[k])
                if wanted != self.piece[k]:
                    edge = law.breaks[min(wanted, self.piece[k])]
                    moved = moved or abs(self.volts[k] - edge) > self.close
                    self.piece[k] += 1 if wanted > self.piece[k] else -1
        return moved

    def _amps(self, k: int, v: float) -> float:
        law = self.laws[k]
        if isinstance(law, Pieces):
            return law.amps(v)
        amps: float = law.amps_and_slope(v)[0]
        return amps

    def _searched(self, before: list[float]) -> list[float]:
        """Go along the step only as far as the content falls: find where its slope along the line is nil.

        The slope at t is the sum of i(v + t d) d over the live branches plus a straight part for the rest.
        """
        after = self.potentials
        old = [before[a] - before[b] for a, b in self.ends]
        direction = [after[a] - after[b] - v for (a, b), v in zip(self.ends, old, strict=True)]
        at_start, growth = self._rest_along(before, after)

        def slope(t: float) -> float:
            live = sum(
                self._amps(k, v + t * d) * d for k, (v, d) in enumerate(zip(old, direction, strict=True))
            )
            return live + at_start + growth * t

        if slope(1.0) <= 0.0 or slope(0.0) >= 0.0:
            return after
        low, high = 0.0, 1.0
        for _ in range(30):
            middle = (low + high) / 2
            low, high = (middle, high) if slope(middle) < 0 else (low, middle)
        t = max(low, LEAST_STEP)
        return [o + t * (n - o) for o, n in zip(before, after, strict=True)]

    def _rest_along(self, before: list[float], after: list[float]) -> tuple[float, float]:
        """The straight rest's slope at the start and its growth, over the reduced network of live nodes."""
        kept = {step.node for step in self.solver.plan.live} | {0}
        at_start = growth = 0.0
        for g, (p, q) in zip(self.edges, self.solver.plan.edges, strict=True):
            if g and p in kept and q in kept:
                here = before[p] - before[q]
                d = after[p] - after[q] - here
                at_start += g * here * d
                growth += g * d * d
        return at_start, growth
