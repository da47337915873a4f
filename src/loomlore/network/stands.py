"""A settled installation's answers: the volts that an ampere makes everywhere, wherever it is put in.

They are worked out by the star-mesh once a setting, for every node and across every branch, so that what is small
beside a neighbour keeps its digits. Beside them stands what takes a difference of nearly equal numbers out of the
way later: for each branch its mate in the run, what its going cuts off, and what leaks there all the same.

An island has no answer of its own: one of its nodes is held.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomlore.network.arrays import (
    Floats,
    LawArrays,
    Marks,
    Sheet,
    filament_laws,
    piece_of,
    power_laws,
    taken_pieces,
)
from loomlore.network.laws import Magneto, Source
from loomlore.network.solving import ISLAND

__all__ = ["Stand", "Whole", "live_laws", "pieces_at", "stand_of"]

Whole = NDArray[np.int64]

HELD = 1.0
"""Siemens by which one node of each island is held."""


@dataclass(frozen=True, eq=False, slots=True)
class Stand:
    """A settled installation, and its answers.

    ``straight`` are conductances [S] by place, ``slopes`` and ``offsets`` the tangents of the live branches in
    the sheet's order. ``nodal`` are potentials [V], [node, node it is put in at], by an ampere from the airframe;
    ``across`` by one from a branch's second end to its first, [node, place]. ``at_live_of_node`` and
    ``at_live_of_place`` are the same as volts of the live branches, ``among_live`` of the live by the live.
    ``islands`` has 0 for what hangs together with the airframe.

    ``mates`` are places (-1: none), ``turned`` has -1 where a mate lies the other way about; ``run`` is the run a
    branch is in, ``inside`` that of a node that is no end of it (-1: none). ``tangents`` are slopes [S] and ``amps``
    currents of all by place.

    Where nothing else leads from the airframe to what lies beyond a branch, the nodes there are those whose
    ``within`` is from beyond[place, 0] up to, not with, beyond[place, 1]; it is empty for all other branches. What
    is left beside such a branch is what ``leak`` has, ``leaking`` are the amperes that it carries for leaks, and
    ``leak_ohms`` the most ohms to the airframe that such a leak sees where it ends.
    """

    sheet: Sheet
    first: Whole
    second: Whole
    potentials: Floats
    straight: Floats
    slopes: Floats
    offsets: Floats
    nodal: Floats
    across: Floats
    at_live_of_node: Floats
    at_live_of_place: Floats
    among_live: Floats
    islands: Whole
    mates: Whole
    turned: Floats
    run: Whole
    inside: Whole
    tangents: Floats
    amps: Floats
    beyond: Whole
    within: Whole
    leak: Floats
    leaking: Floats
    leak_ohms: Floats

    @property
    def live(self) -> Whole:
        """Places of the live branches."""
        return np.array(self.sheet.live, dtype=np.int64)


def stand_of(
    sheet: Sheet,
    potentials: Sequence[float],
    edges: Floats,
    straight: Floats,
    laws: LawArrays,
    islands: Sequence[int],
    works: Mapping[int, Any],
) -> Stand:
    """Work out the answers of an installation as it stands.

    Parameters
    ----------
    sheet
        Of the whole.
    potentials
        As they stand [V].
    edges
        Conductances of the straight branches by edge [S].
    straight
        The same by place [S].
    laws
        Parameters of the live branches.
    islands
        For each node the least node of what it hangs together with.
    works
        By place whether a machine works, as (surely, surely not).

    Returns
    -------
    Stand
        For any number of cases.
    """
    v = np.array(potentials)
    ends = np.array(sheet.ends, dtype=np.int64).reshape(-1, 2)
    first, second = ends[:, 0], ends[:, 1]
    live = np.array(sheet.live, dtype=np.int64)
    volts = (v[first[live]] - v[second[live]])[:, None]
    amps, slopes = live_laws(sheet, laws, volts, pieces_at(sheet, laws, volts), secant=False)
    g = edges.tolist()
    for place, slope in zip(sheet.live, slopes[:, 0].tolist(), strict=True):
        if sheet.edge[place] >= 0:
            g[sheet.edge[place]] += slope
    for node in set(islands) - {0}:
        g[node - 1] += HELD
    offsets = (amps - slopes * volts)[:, 0]
    count, places = len(v), len(first)
    right = np.zeros((count, count + places + 1))
    right[np.arange(count), np.arange(count)] = 1.0
    np.add.at(right, (first, count + np.arange(places)), 1.0)
    np.add.at(right, (second, count + np.arange(places)), -1.0)
    np.add.at(right[:, -1], first[live], -offsets)
    np.add.at(right[:, -1], second[live], offsets)
    right[0] = 0.0
    _answer(sheet, g, right)
    nodal, across = np.ascontiguousarray(right[:, :count]), np.ascontiguousarray(right[:, count:-1])
    v = _polished(v, right[:, -1], np.array(islands))
    volts = (v[first[live]] - v[second[live]])[:, None]
    amps = slopes * volts + offsets[:, None]
    of_place = across[first[live]] - across[second[live]]
    tangents, currents = straight.copy(), straight * (v[first] - v[second])
    tangents[live], currents[live] = slopes[:, 0], amps[:, 0]
    mates, turned, run = _mates(sheet, tangents)
    made = _joins(sheet, straight, works)
    beyond, within = _cut_off(count, ends, made)
    leak, leaking, leak_ohms = _leaks(ends, straight, made, beyond, within, across, v, nodal.diagonal())
    inside = np.full(count, -1, dtype=np.int64)
    for number, places_in_it in enumerate(sheet.runs):
        seen = Counter(node for place, _ in places_in_it for node in sheet.ends[place])
        inside[[node for node, times in seen.items() if times > 1 and node]] = number
    return Stand(
        sheet=sheet,
        first=first,
        second=second,
        potentials=v,
        straight=straight,
        slopes=slopes[:, 0],
        offsets=offsets,
        nodal=nodal,
        across=across,
        at_live_of_node=nodal[first[live]] - nodal[second[live]],
        at_live_of_place=of_place,
        among_live=np.ascontiguousarray(of_place[:, live]),
        islands=np.array(islands, dtype=np.int64),
        mates=mates,
        turned=turned,
        run=run,
        inside=inside,
        tangents=tangents,
        amps=currents,
        beyond=beyond,
        within=within,
        leak=leak,
        leaking=leaking,
        leak_ohms=leak_ohms,
    )


def _leaks(
    ends: Whole,
    straight: Floats,
    made: Marks,
    beyond: Whole,
    within: Whole,
    across: Floats,
    v: Floats,
    height: Floats,
) -> tuple[Floats, Floats, Floats]:
    """What goes round by open contacts where nothing else leads beyond a branch, for an ampere and as it stands."""
    leak, leaking, ohms = np.zeros(len(ends)), np.zeros(len(ends)), np.zeros(len(ends))
    cutting = np.flatnonzero(beyond[:, 1] > beyond[:, 0])
    open_ones = np.flatnonzero(~made & (straight > 0) & (ends[:, 0] != ends[:, 1]))
    if not len(cutting) or not len(open_ones):
        return leak, leaking, ohms
    low, high = beyond[cutting].T

    def inside(nodes: Whole) -> Floats:
        at = within[nodes][:, None]
        marks: Floats = ((at >= low) & (at < high)).astype(float)
        return marks

    p, q = ends[open_ones].T
    outward = (inside(p) - inside(q)) * straight[open_ones][:, None]
    way = 2 * inside(ends[cutting, 0]).diagonal() - 1
    leak[cutting] = way * (outward * (across[p][:, cutting] - across[q][:, cutting])).sum(axis=0)
    leaking[cutting] = -way * (outward * (v[p] - v[q])[:, None]).sum(axis=0)
    far = np.where(outward > 0, height[q][:, None], np.where(outward < 0, height[p][:, None], 0.0))
    ohms[cutting] = far.max(axis=0)
    return leak, leaking, ohms


def _cut_off(count: int, ends: Whole, made: Marks) -> tuple[Whole, Whole]:
    """By place, what is cut off from the airframe (or from an island's first node) where the branch goes.

    Depth first, nodes numbered as they are come to: what lies beyond is a stretch of numbers.
    """
    around: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for place in np.flatnonzero(made).tolist():
        a, b = ends[place].tolist()
        if a != b:
            around[a].append((b, place))
            around[b].append((a, place))
    number, low = [-1] * count, [0] * count
    beyond = np.zeros((len(ends), 2), dtype=np.int64)
    come = 0
    for root in range(count):
        if number[root] >= 0:
            continue
        number[root] = low[root] = come
        come += 1
        path = [(root, -1, iter(around[root]))]
        while path:
            node, way, others = path[-1]
            step = next(others, None)
            if step is None:
                path.pop()
                if path:
                    above = path[-1][0]
                    low[above] = min(low[above], low[node])
                    if low[node] > number[above]:
                        beyond[way] = number[node], come
                continue
            other, place = step
            if number[other] < 0:
                number[other] = low[other] = come
                come += 1
                path.append((other, place, iter(around[other])))
            elif place != way:
                low[node] = min(low[node], number[other])
    return beyond, np.array(number, dtype=np.int64)


def _joins(sheet: Sheet, straight: Floats, works: Mapping[int, Any]) -> Marks:
    """Branches that hold their two nodes together, by place.

    Parameters
    ----------
    sheet
        Of the part.
    straight
        Conductances [S].
    works
        By place whether a machine works, as (surely, surely not).

    Returns
    -------
    array
        Marks.
    """
    made: Marks = straight >= ISLAND
    for place in sheet.live:
        law = sheet.network.branches[sheet.part.branches[place]].law
        made[place] = not isinstance(law, Source) or bool(works.get(place, (True, False))[0])
    for place, number in enumerate(sheet.part.branches):
        if isinstance(sheet.network.branches[number].law, Magneto):
            made[place] = False
    return made


def _polished(rough: Floats, fresh: Floats, islands: Whole) -> Floats:
    """Potentials of one more step, which the answers fit to the last digit; an island keeps its own height."""
    found = fresh.copy()
    for first in set(islands.tolist()) - {0}:
        found[islands == first] += rough[first] - fresh[first]
    found[0] = 0.0
    return found


def _mates(sheet: Sheet, tangents: Floats) -> tuple[Whole, Floats, Whole]:
    """For each branch the one of most ohms in its unbranched run, whether that lies the same way about; its run."""
    mates, turned = np.full(len(tangents), -1, dtype=np.int64), np.ones(len(tangents))
    numbers = np.full(len(tangents), -1, dtype=np.int64)
    for number, run in enumerate(sheet.runs):
        places = np.array([place for place, _ in run], dtype=np.int64)
        signs = np.array([sign for _, sign in run])
        most = int(np.argmin(np.abs(tangents[places])))
        mates[places], turned[places] = places[most], signs * signs[most]
        mates[places[most]] = -1
        numbers[places] = number
    return mates, turned, numbers


def _answer(sheet: Sheet, g: list[float], right: Floats) -> None:
    """Eliminate, and put the potentials that the columns of currents make in their place."""
    rows, pivots = list(right), []
    steps = [*sheet.order.quiet, *sheet.order.live]
    for node, beside, fills in steps:
        q = 1.0 / sum([g[edge] for _, edge in beside])
        for a, b, t in fills:
            g[t] += g[a] * g[b] * q
        for other, edge in beside:
            if other:
                rows[other] += rows[node] * (g[edge] * q)
        pivots.append(q)
    for (node, beside, _), q in zip(reversed(steps), reversed(pivots), strict=True):
        row = rows[node]
        for other, edge in beside:
            if other:
                row += rows[other] * g[edge]
        row *= q


# -- laws --------------------------------------------------------------------------------------------------------


def pieces_at(sheet: Sheet, laws: LawArrays, volts: Floats) -> NDArray[np.intp]:
    """Which piece each piecewise branch is on.

    Parameters
    ----------
    sheet
        Of the part.
    laws
        Their parameters.
    volts
        What is across the live branches [V].

    Returns
    -------
    array
        [branch, case].
    """
    return piece_of(laws, volts[len(sheet.filaments) + len(sheet.powers) :])


def live_laws(
    sheet: Sheet,
    laws: LawArrays,
    volts: Floats,
    piece: NDArray[np.intp],
    *,
    secant: bool,
    secant_sets: bool = False,
) -> tuple[Floats, Floats]:
    """Currents and slopes of the live branches at their volts; of piecewise ones on the piece they are on.

    Parameters
    ----------
    sheet
        Of the part.
    laws
        Their parameters.
    volts
        What is across them [V].
    piece
        Where the piecewise ones are.
    secant
        Whether the slopes of lamps and sets are those from nought.
    secant_sets
        The same for sets alone.

    Returns
    -------
    tuple
        Amperes [A] and slopes [S].
    """
    lamps = len(sheet.filaments)
    lines = lamps + len(sheet.powers)
    amps, slopes = np.empty_like(volts), np.empty_like(volts)
    if lamps:
        amps[:lamps], slopes[:lamps] = filament_laws(laws, volts[:lamps])
        if secant:
            v = volts[:lamps]
            cold = laws.full / np.sqrt(np.sqrt(laws.cold4))
            slopes[:lamps] = np.where(v != 0, amps[:lamps] / np.where(v != 0, v, 1.0), cold)
    if lines > lamps:
        here, v = slice(lamps, lines), volts[lamps:lines]
        amps[here], slopes[here] = power_laws(laws, v)
        if secant or secant_sets:
            cold = laws.power / laws.knee**2
            slopes[here] = np.where(v != 0, amps[here] / np.where(v != 0, v, 1.0), cold)
    if len(piece):
        slopes[lines:] = taken_pieces(laws.slopes, piece)
        amps[lines:] = slopes[lines:] * volts[lines:] + taken_pieces(laws.offsets, piece)
    return amps, slopes
