"""Ohms between many pairs of terminals under many faults, the installation standing dead.

:mod:`loomlore.faults.expecting` reads one pair in one installation. Here the same cold conductances are brought
down once to the few nodes that matter (terminals of the meter, ends of what a fault changes, cartridges,
rectifiers); each fault is then a small matrix of its own.

Invariants: a branch that some fault changes is left out of the common part and put in, case by case, as that fault
has it, so that nothing is ever taken off a sum. Every kept node is tied to the airframe by :data:`TIE`, so that
what is open has an inverse; from :data:`OPEN_FROM` ohms a reading is open.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomlore.faults.expecting import Standing, dead_conductance, knee_volts
from loomlore.network.cases import Case
from loomlore.network.laws import Cartridge, Rectifier
from loomlore.network.model import Branch

__all__ = ["OPEN_FROM", "Dead", "Readings", "brought_down", "resistances"]

TIE = 1e-7
OPEN_FROM = 1e5
"""Ohms from which a reading is open: far under the ties, far over anything that is rung through."""

THROUGH = 1e-6
"""Share of the meter's current that may go through a cartridge: none."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Readings:
    """Ohms by [pair, case], leads not included; ``inf`` where open, ``nan`` where no meter may or can say.

    ``low`` has lamps at the least of their cold resistance, ``high`` at the greatest. ``banned`` are pairs whose
    current would go through a cartridge in some case.
    """

    low: Floats
    high: Floats
    banned: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Dead:
    """A dead installation brought down to the nodes that matter, once for each share of the lamps."""

    standing: Standing
    cases: Sequence[Sequence[Case]]
    place: Mapping[int, int]
    touched: frozenset[int]
    lamps: tuple[float, ...]
    matrices: tuple[Floats, ...]


def brought_down(
    standing: Standing,
    pairs: Sequence[tuple[int, int]],
    cases: Sequence[Sequence[Case]],
    lamps: tuple[float, ...],
) -> Dead:
    """Bring a dead installation down to the ends of some pairs, and of all that any case changes.

    Parameters
    ----------
    standing
        The dead installation, from :func:`loomlore.faults.expecting.standing_ohms`.
    pairs
        Nodes of the positive and of the other lead.
    cases
        For each column what is changed at once: a fault, and a plug that is parted.
    lamps
        Shares of the nominal cold resistance of lamps [1].

    Returns
    -------
    Dead
        For :func:`resistances`.

    Notes
    -----
    Schur's complement of the conductances, its diagonal summed anew from its branches.

    Source
    ------
    [method]
    """
    touched = frozenset(n for some in cases for n in _changes(standing, some))
    kept = _ends(standing, touched, (b for some in cases for case in some for b in case.extra))
    kept |= {n for pair in pairs for n in pair}
    place = {node: k for k, node in enumerate(sorted(kept))}
    matrices = tuple(_reduced(_whole(standing, touched, share), list(place)) for share in lamps)
    return Dead(standing, cases, place, touched, lamps, matrices)


def _ends(standing: Standing, numbers: Iterable[int], extra: Iterable[Branch]) -> set[int]:
    """Nodes of some branches, of cartridges and of rectifiers, and the airframe."""
    branches = standing.branches
    some = [*(branches[n] for n in (*numbers, *_watched(standing))), *extra]
    return {0} | {node for branch in some for node in (branch.a, branch.b)}


def _watched(standing: Standing) -> list[int]:
    return [n for n, b in enumerate(standing.branches) if isinstance(b.law, Cartridge | Rectifier)]


def _whole(standing: Standing, without: frozenset[int], lamps: float) -> Floats:
    nodes = standing.settled.solution.solver.plan.nodes
    found = np.zeros((nodes, nodes))
    for number, branch in enumerate(standing.branches):
        if number not in without and branch.a != branch.b:
            g = standing.conductance(number, lamps)
            if g > 0:
                _put(found, branch.a, branch.b, g)
    return found


def _reduced(full: Floats, inside: list[int]) -> Floats:
    outside = [n for n in range(len(full)) if n not in set(inside)]
    kept = full[np.ix_(inside, inside)]
    if outside:
        across = full[np.ix_(inside, outside)]
        body = full[np.ix_(outside, outside)] + TIE * 1e-4 * np.eye(len(outside))
        kept = kept - across @ np.linalg.solve(body, across.T)
    links = -np.minimum(kept - np.diag(np.diag(kept)), 0.0)
    links = np.where(links > TIE * 1e-2, (links + links.T) / 2, 0.0)
    found: Floats = np.diag(links.sum(axis=1)) - links
    return found


AT_ONCE = 16
"""Cases for which the matrix is brought down further together: more of them keep more nodes."""


def resistances(dead: Dead, pairs: Sequence[tuple[int, int]], columns: Sequence[int]) -> Readings:
    """Ohms between pairs of nodes under each of some cases.

    Parameters
    ----------
    dead
        From :func:`brought_down`.
    pairs
        Some of those it was brought down for.
    columns
        Numbers of the cases.

    Returns
    -------
    Readings
        Of every pair in every one of them.

    Notes
    -----
    R = Zaa + Zbb - 2 Zab of each case's inverse; cases that are the same to an ohmmeter are worked out once.

    Source
    ------
    [method]
    """
    groups: dict[Any, list[int]] = {}
    for place, number in enumerate(columns):
        groups.setdefault(_key(dead.standing, dead.cases[number]), []).append(place)
    alike = list(groups.values())
    low, high = np.full((len(pairs), len(columns)), np.inf), np.zeros((len(pairs), len(columns)))
    banned = np.zeros(len(pairs), dtype=bool)
    for start in range(0, len(alike), AT_ONCE):
        chunk = alike[start : start + AT_ONCE]
        some = [dead.cases[columns[group[0]]] for group in chunk]
        for share, matrix in zip(dead.lamps, dead.matrices, strict=True):
            few = _Few(dead, matrix, share, pairs, some)
            for place, group in enumerate(chunk):
                ohms = few.column(place)[:, None]
                low[:, group] = np.minimum(low[:, group], ohms)
                high[:, group] = np.maximum(high[:, group], ohms)
            banned |= few.banned
    return Readings(low, high, banned)


def _key(standing: Standing, cases: Sequence[Case]) -> Any:
    """What two cases must share to be the same to an ohmmeter."""
    changes = {
        number: dead_conductance(standing, number, branch, closed=closed, lamps=1.0)
        for number, (branch, closed) in _changes(standing, cases).items()
    }
    own = {n: g for n, g in changes.items() if abs(g - standing.conductances[n]) > 1e-12}
    return frozenset(own.items()), tuple((b.a, b.b, b.law) for case in cases for b in case.extra)


class _Few:
    """A few cases on the nodes that matter to them, for one share of the lamps."""

    def __init__(
        self,
        dead: Dead,
        matrix: Floats,
        lamps: float,
        pairs: Sequence[tuple[int, int]],
        cases: Sequence[Sequence[Case]],
    ) -> None:
        self.standing, self.lamps = dead.standing, lamps
        self.changes = [_changes(self.standing, some) for some in cases]
        self.extra = [tuple(b for case in some for b in case.extra) for some in cases]
        self.touched = {n for change in self.changes for n in change}
        self.watched = _watched(self.standing)
        own = matrix.copy()
        for number in dead.touched - self.touched:
            branch, closed = self._usual(number)
            g = dead_conductance(self.standing, number, branch, closed=closed, lamps=lamps)
            if g > 0:
                _put(own, dead.place[branch.a], dead.place[branch.b], g)
        kept = _ends(self.standing, self.touched, (b for some in self.extra for b in some))
        nodes = sorted(kept | {n for pair in pairs for n in pair})
        self.matrix = _reduced(own, [dead.place[node] for node in nodes]) + TIE * np.eye(len(nodes))
        self.place = {node: k for k, node in enumerate(nodes)}
        self.leads = np.array([(self.place[a], self.place[b]) for a, b in pairs], dtype=int).reshape(-1, 2).T
        self.banned = np.zeros(len(pairs), dtype=bool)

    def _usual(self, number: int) -> tuple[Branch, bool]:
        return self.standing.branches[number], self.standing.settled.solution.closed(number)

    def column(self, number: int) -> Floats:
        """Ohms of every pair in one case."""
        matrix = self.matrix.copy()
        own: dict[int, float] = {}
        for n, (branch, closed) in ({n: self._usual(n) for n in self.touched} | self.changes[number]).items():
            own[n] = g = dead_conductance(self.standing, n, branch, closed=closed, lamps=self.lamps)
            if g > 0:
                _put(matrix, self.place[branch.a], self.place[branch.b], g)
        for branch in self.extra[number]:
            g = dead_conductance(self.standing, -1, branch, closed=True, lamps=self.lamps)
            _put(matrix, self.place[branch.a], self.place[branch.b], g)
        inverse = np.zeros_like(matrix)
        inverse[1:, 1:] = np.linalg.inv(matrix[1:, 1:])
        return self._read(inverse, own)

    def _read(self, inverse: Floats, own: Mapping[int, float]) -> Floats:
        a, b = self.leads
        ohms: Floats = inverse[a, a] + inverse[b, b] - 2 * inverse[a, b]
        meter = self.standing.meter
        amps = meter.cell / (meter.cell / meter.amps + meter.leads + ohms)
        for number in self.watched:
            branch = self.standing.branches[number]
            x, y = self.place[branch.a], self.place[branch.b]
            share = (inverse[x, a] - inverse[x, b]) - (inverse[y, a] - inverse[y, b])
            if isinstance(branch.law, Cartridge):
                g = own.get(number, self.standing.conductance(number, self.lamps))
                self.banned |= np.abs(share * g) > THROUGH
            else:
                ohms = np.where(share * amps > knee_volts(self.standing, number), np.nan, ohms)
        return np.where(ohms >= OPEN_FROM, np.inf, ohms)


def _put(matrix: Floats, a: int, b: int, g: float) -> None:
    matrix[a, a] += g
    matrix[b, b] += g
    matrix[a, b] -= g
    matrix[b, a] -= g


def _changes(standing: Standing, cases: Sequence[Case]) -> dict[int, tuple[Branch, bool]]:
    """Branches that stand otherwise in a case, and whether they are closed; the last case wins.

    Levers that a case moves open and close contacts by the conditions as compiled; coils stay as they are, since
    nothing is fed.
    """
    found: dict[int, tuple[Branch, bool]] = {}
    solution = standing.settled.solution
    for case in cases:
        if case.memory is not None and case.memory.levers != standing.settled.memory.levers:
            variables = standing.settled.memory.variables
            truths = solution.solver.judged(case.memory.levers, variables)
            for number, condition in enumerate(solution.solver.condition_of):
                if condition >= 0 and truths[condition] != solution.truths[condition]:
                    found[number] = standing.branches[number], truths[condition]
        for number, branch in case.branches:
            found[number] = branch, branch.closed is None or solution.closed(number)
    return found
