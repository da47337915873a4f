"""The plain loop: what the solvers are measured against.

One case after another in one process: the sparsity pattern fixed once, all branches stamped at once by numpy,
the same Newton steps and the same rounds as the one-by-one solver, scipy's sparse LU for every step.
"""

from copy import copy
from dataclasses import replace

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from loomlore.network import settling
from loomlore.network.cases import Case, network_with
from loomlore.network.laws import ConstantPower, Filament, Pieces
from loomlore.network.model import Network
from loomlore.network.settling import Memory, Settled
from loomlore.network.solving import (
    _LIVE,
    _PIECEWISE,
    CLOSE,
    MOST_STEPS,
    SEARCH_FROM,
    SECANT_STEPS,
    Solution,
    Solver,
    prepare,
)

LEAK = 1e-12
"""From every node to the airframe [S]: a terminal that nothing joins must not make the matrix singular."""


class Pattern:
    """Where each branch goes in the matrix; made once for a network, or for a case that bridges two nodes."""

    def __init__(self, network: Network) -> None:
        self.a = np.array([b.a for b in network.branches])
        self.b = np.array([b.b for b in network.branches])
        size = len(network.node_names) - 1
        rows = np.concatenate([self.a, self.b, self.a, self.b]) - 1
        columns = np.concatenate([self.a, self.b, self.b, self.a]) - 1
        self.signs = np.repeat([1.0, 1.0, -1.0, -1.0], len(self.a))
        self.kept = np.flatnonzero((rows >= 0) & (columns >= 0))
        diagonal = np.arange(size) * (size + 1)
        flat = np.concatenate([columns[self.kept] * size + rows[self.kept], diagonal])
        slots, self.slot = np.unique(flat, return_inverse=True)
        self.indices = (slots % size).astype(np.int32)
        self.indptr = np.searchsorted(slots // size, np.arange(size + 1)).astype(np.int32)
        self.size = size

    def matrix(self, conductances: np.ndarray) -> csc_matrix:
        entries = (np.tile(conductances, 4) * self.signs)[self.kept]
        entries = np.concatenate([entries, np.full(self.size, LEAK)])
        data = np.bincount(self.slot, entries, len(self.indices))
        return csc_matrix((data, self.indices, self.indptr), (self.size, self.size))

    def right_side(self, offsets: np.ndarray) -> np.ndarray:
        size = self.size + 1
        return (np.bincount(self.b, offsets, size) - np.bincount(self.a, offsets, size))[1:]


class Stamps:
    """Conductances that nothing changes, stamped once; and the live branches' parameters."""

    def __init__(self, solver: Solver, network: Network) -> None:
        branches = network.branches
        moving = {number for *_, number in solver.contacts} | set(solver.varying)
        self.moving = [n for n in sorted(moving) if not isinstance(branches[n].law, _LIVE)]
        self.constant = np.zeros(len(branches))
        for number, branch in enumerate(branches):
            if number not in moving and not isinstance(branch.law, _LIVE):
                self.constant[number] = branch.law.conductance(True, 0.0)
        lamps = [(n, b.law) for n, b in enumerate(branches) if isinstance(b.law, Filament)]
        sets = [(n, b.law) for n, b in enumerate(branches) if isinstance(b.law, ConstantPower)]
        self.lamps = np.array([(n, w.amps / w.volts, 1 / w.volts, w.cold**4) for n, w in lamps]).reshape(
            -1, 4
        )
        self.sets = np.array([(n, w.power, w.works_from) for n, w in sets]).reshape(-1, 3)
        self.pieces = [(n, b.law) for n, b in enumerate(branches) if isinstance(b.law, _PIECEWISE)]

    def changed(self, case: Case) -> "Stamps":
        """The same with what a case changes."""
        new = copy(self)
        new.constant = np.concatenate([self.constant, [b.law.conductance(True, 0.0) for b in case.extra]])
        for number, branch in case.branches:
            new.moving = [n for n in new.moving if n != number]
            new.lamps = new.lamps[new.lamps[:, 0] != number]
            new.sets = new.sets[new.sets[:, 0] != number]
            new.pieces = [(n, law) for n, law in new.pieces if n != number]
            new.constant[number] = branch.law.conductance(True, 0.0)
        return new

    def at(self, solution: Solution) -> tuple[np.ndarray, dict]:
        g = self.constant.copy()
        for number in self.moving:
            g[number] = solution.conductance(number)
        pieces = [(n, law.pieces(solution.works(n), solution.followed(n))) for n, law in self.pieces]
        return g, {"lamps": self.lamps, "sets": self.sets, "pieces": pieces}


class PlainLoop:
    """One network's loop."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.solver = prepare(network)
        self.pattern = Pattern(network)
        self.stamps = Stamps(self.solver, network)

    def settled_case(self, base: Settled, case: Case) -> Settled:
        """One case from where the base stands."""
        network = network_with(self.network, case)
        pattern = Pattern(network) if case.extra else self.pattern
        solver = _solver_for(self.solver, network)
        memory = base.memory if case.memory is None else case.memory
        stamps = self.stamps.changed(case)
        return self._settled(stamps, solver, pattern, memory, np.array(base.solution.potentials))

    def _settled(
        self, stamps: Stamps, solver: Solver, pattern: Pattern, memory: Memory, start: np.ndarray
    ) -> Settled:
        events = []
        for _ in range(60):
            solution = self._solved(stamps, solver, pattern, memory, start)
            after = settling._next(solution, memory)
            if after.variables == memory.variables:
                goes = settling._what_goes(solution)
                if goes is None:
                    break
                events.append(goes[0])
                after = settling.moved(after, {}, {goes[1]: 1})
            memory, start = after, np.array(solution.potentials)
        return Settled(solution, memory, tuple(events))

    def _solved(
        self, stamps: Stamps, solver: Solver, pattern: Pattern, memory: Memory, start: np.ndarray
    ) -> Solution:
        truths = solver.judged(memory.levers, memory.variables)
        solution = Solution(
            solver=solver,
            levers=memory.levers,
            variables=memory.variables,
            truths=truths,
            potentials=start.tolist(),
            edges=[],
            slopes=[],
            steps=0,
            stalled=False,
        )
        g, laws = stamps.at(solution)
        close = CLOSE * max(1.0, self.network.supply)
        v, steps, arrived = _newton(pattern, g, laws, start, close)
        return replace(solution, potentials=v.tolist(), steps=steps, stalled=not arrived)


def _solver_for(solver: Solver, network: Network) -> Solver:
    """The base's solver with the case's branches: conditions that a case takes away count as held."""
    conditions, works = list(solver.condition_of), list(solver.works_of)
    for number, branch in enumerate(network.branches[: len(conditions)]):
        if branch.closed is None:
            conditions[number] = -1
        if branch.works is None:
            works[number] = -1
    more = len(network.branches) - len(conditions)
    return replace(
        solver,
        network=network,
        condition_of=(*conditions, *[-1] * more),
        works_of=(*works, *[-1] * more),
        memo={},
    )


def _newton(
    pattern: Pattern, g: np.ndarray, laws: dict, start: np.ndarray, close: float
) -> tuple[np.ndarray, int, bool]:
    lamps, sets, pieces = laws["lamps"], laws["sets"], laws["pieces"]
    lit, fed = lamps[:, 0].astype(int), sets[:, 0].astype(int)
    live = np.concatenate([lit, fed, [n for n, _ in pieces]]).astype(int)
    v = start.copy()
    volts = v[pattern.a] - v[pattern.b]
    place = [law.piece(volts[n]) for n, law in pieces]
    for step in range(MOST_STEPS):
        slopes, offsets = g.copy(), np.zeros_like(g)
        x = np.abs(volts[lit]) * lamps[:, 2]
        y = x**1.75
        inside = lamps[:, 3] + y
        conductance = lamps[:, 1] * inside**-0.25
        tangent = conductance if step < SECANT_STEPS else conductance * (1 - 0.4375 * y / inside)
        slopes[lit], offsets[lit] = tangent, (conductance - tangent) * volts[lit]
        works = np.abs(volts[fed]) >= sets[:, 2]
        below = sets[:, 1] / sets[:, 2] ** 2
        safe = np.where(works, volts[fed], 1.0)
        amps = np.where(works, sets[:, 1] / safe, below * volts[fed])
        tangent = np.where(works, -sets[:, 1] / safe**2, below)
        if step < SECANT_STEPS or step >= SEARCH_FROM:
            tangent = np.where(works, sets[:, 1] / safe**2, below)
        slopes[fed], offsets[fed] = tangent, amps - tangent * volts[fed]
        for k, (n, law) in enumerate(pieces):
            slopes[n], offsets[n] = law.slopes[place[k]], law.offsets[place[k]]
        v = np.concatenate([[0.0], splu(pattern.matrix(slopes)).solve(pattern.right_side(offsets))])
        fresh = v[pattern.a] - v[pattern.b]
        moved = np.abs(fresh[live] - volts[live]).max(initial=0.0)
        volts = fresh
        if not _moved_pieces(pieces, place, volts, close) and moved <= close and step >= SECANT_STEPS:
            return v, step + 1, True
    return v, MOST_STEPS, False


def _moved_pieces(
    pieces: list[tuple[int, Pieces]], place: list[int], volts: np.ndarray, close: float
) -> bool:
    moved = False
    for k, (n, law) in enumerate(pieces):
        wanted = law.piece(volts[n]) if law.breaks else 0
        if wanted != place[k]:
            moved = moved or abs(volts[n] - law.breaks[min(wanted, place[k])]) > close
            place[k] += 1 if wanted > place[k] else -1
    return moved
