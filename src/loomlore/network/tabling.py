"""What a part takes at a hub, as a table of current against volts.

The hub is driven from volt to volt and the part settled at each, its other hubs loaded with what hangs there.
Between knots the table is a cubic through currents and slopes, both exact; knots are added until the middle of
every gap agrees, and a kink (a regulator at its limit, a rectifier that begins to conduct) is closed in between
two knots. Over a part of the volts something in the part would pull in, let go or blow: there it does not hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomlore.network.arrays import MOST_BREAKS, Curve, Floats, Marks
from loomlore.network.changes import Column, changes_of
from loomlore.network.columns import looked_at, timed
from loomlore.network.laws import Cartridge, Fuse
from loomlore.network.standing import Setting
from loomlore.network.viewing import View, after, states_of

__all__ = ["Table", "less", "linked", "summed", "tabled"]

MOST_PASSES = 14
FIRST_KNOTS = np.array([-0.02, 0.0, 0.02, 0.05, 0.1, 0.16, 0.25, 0.4, 0.6, 1.0, 1.5, 2.2, 3.2, 4.5, 6.0])
CLOSED_IN = 1e-9
"""Width [V] in which a kink is closed."""
NARROW = 2e-9
AT_A_KINK = 5e-14
"""Nearer [V] to a kink than this it is rounding that says on which side of it a solution lies."""
FINER = 0.01
"""Tables are solved to this share of what closes a solution."""
AGREES = 1.5e-9
"""Amperes by which a gap's middle may differ from its cubic: a sixteenth of it is left in its halves. Where
volts are to be right to a nanovolt a volt, what feeds the hub has some tens of siemens."""
OF_TABLES = 8.0
"""How much more is allowed to a table of a part that others load: their own errors bend it."""
LOW, AGREES_LOW = 3.0, 1e-7
"""Under these volts a hub is fed by little, if at all; the cold filaments' bend there would cost most knots."""
EDGE = 0.1
"""Volts to which the ends of what holds are found."""


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A curve, and from which to which volts no element there changes its state."""

    curve: Curve
    same_low: float
    same_high: float


@dataclass(eq=False)
class _Knots:
    volts: Floats
    amps: Floats
    slopes: Floats
    good: Marks
    same: Marks
    measures: Floats
    potentials: Floats

    def merged(self, other: _Knots) -> _Knots:
        order = np.argsort(np.concatenate([self.volts, other.volts]), kind="stable")

        def joined(name: str) -> Any:
            return np.concatenate([getattr(self, name), getattr(other, name)], axis=-1)[..., order]

        return _Knots(*(joined(name) for name in _Knots.__annotations__))


def tabled(
    setting: Setting,
    base: Sequence[float],
    hub: int,
    curves: Mapping[int, Curve],
    same: Mapping[int, tuple[float, float]],
    *,
    top: float,
    close: float,
) -> Table:
    """Table what a part takes at one of its hubs.

    Parameters
    ----------
    setting
        The part as it stands; its sheet ends in the hub.
    base
        Potentials of the network as it stands [V].
    hub
        Number of the hub's node in the network [1].
    curves
        What the other parts take at the part's other hubs, by the part's own nodes.
    same
        Over which volts [V] of those hubs nothing beyond them changes its state.
    top
        The highest volts wanted [V].
    close
        When a solution has arrived [V].

    Returns
    -------
    Table
        From a little under nought to the top.
    """
    here = base[hub]
    wanted = np.concatenate([FIRST_KNOTS, np.arange(8.0, top, 2.0), [top, here]])
    limits = _limits(setting, curves)
    close *= FINER
    at = np.array([base[n] for n in setting.sheet.part.nodes])
    wanted = np.unique(np.round(wanted, 12))
    start = np.repeat(at[:, None], len(wanted), axis=1)
    knots = _sampled(setting, curves, same, wanted, start, limits, close)
    if len(knots.volts) < FEWEST:
        return _nothing(top)
    tested = np.zeros(len(knots.volts) - 1, dtype=bool)
    for _ in range(MOST_PASSES):
        points, middles = _wanting(knots, limits, tested)
        if not len(points):
            break
        nearest = np.clip(np.searchsorted(knots.volts, points) - 1, 0, len(knots.volts) - 1)
        fresh = _sampled(setting, curves, same, points, knots.potentials[:, nearest], limits, close)
        tested, knots = _joined(knots, fresh, tested, middles, OF_TABLES if curves else 1.0)
    place = int(np.argmin(np.abs(knots.volts - here)))
    closed, alike = _closed(knots, limits, tested), np.ones(len(tested), dtype=bool)
    inner, gaps = _within(knots, closed)
    if len(inner):
        seen = _sampled(setting, curves, same, inner, knots.potentials[:, gaps], limits, close)
        gaps = gaps[np.isin(inner, seen.volts)]
        closed[gaps[~seen.good]] = False
        alike[gaps[~seen.same]] = False
    low, high = _run(knots.good, closed, knots.volts, place)
    same_low, same_high = _run(knots.good & knots.same, closed & alike, knots.volts, place)
    curve = Curve(knots.volts, knots.amps, knots.slopes, low, high)
    return Table(curve, same_low, same_high)


FEWEST = 4
"""Knots under which there is no table: hardly any volts could be solved."""


def _nothing(top: float) -> Table:
    """A table that holds nowhere, so that cases that need it are worked out in the whole."""
    nought = np.zeros(2)
    return Table(Curve(np.array([0.0, top]), nought, nought, np.inf, -np.inf), np.inf, -np.inf)


def linked(conductances: tuple[float, float, float], load: Curve, same: tuple[float, float]) -> Table:
    """Table a part of conductors alone that leads from one hub to another.

    Every knot of the load beyond has its place here: no search is needed, and kinks stay kinks.

    Parameters
    ----------
    conductances
        From hub to hub, from the near one to the airframe, from the far one to it [S].
    load
        What the other parts take at the far hub.
    same
        From which to which volts [V] there nothing beyond changes its state.

    Returns
    -------
    Table
        At the near hub.

    Notes
    -----
    With u volts beyond, v = u + (u G_far + L(u)) / G here; the current in is v G_near + (v - u) G.
    """
    across, near, far = conductances

    def here(volts: Floats, amps: Floats) -> Floats:
        there: Floats = volts + (volts * far + amps) / across
        return there

    stretch = 1 + (far + load.slopes) / across
    volts = here(load.volts, load.amps)
    amps = volts * near + (volts - load.volts) * across
    slopes = near + across * (1 - 1 / stretch)
    ends = np.array([load.low, load.high, *same])
    low, high, same_low, same_high = (float(v) for v in here(ends, load.at(ends)[0]))
    curve = Curve(volts, amps, slopes, max(low, float(volts[0])), min(high, float(volts[-1])))
    return Table(curve, same_low, same_high)


def _closed(knots: _Knots, limits: Floats, tested: Marks) -> Marks:
    """Gaps that may be used: their middle agreed, and no kink lies open in them (a battery's open volts, say)."""
    sides = knots.measures >= limits[:, None]
    kinked = (sides[:, 1:] != sides[:, :-1]).any(axis=0)
    narrow = np.diff(knots.volts) <= NARROW
    found: Marks = narrow | (tested & ~kinked)
    return found


BETWEEN = np.array([0.1, 0.25, 0.4, 0.6, 0.75, 0.9])
"""Where in a gap it is looked whether something has changed its state there and back again."""


def _within(knots: _Knots, closed: Marks) -> tuple[Floats, NDArray[np.intp]]:
    """Points between good knots, and which gap each is in."""
    width = np.diff(knots.volts)
    gaps = np.flatnonzero(closed & (width > EDGE / 10) & knots.good[1:] & knots.good[:-1])
    points = knots.volts[gaps][:, None] + width[gaps][:, None] * BETWEEN
    return points.ravel(), np.repeat(gaps, len(BETWEEN))


def _run(good: Marks, closed: Marks, volts: Floats, place: int) -> tuple[float, float]:
    """The stretch of good knots and closed gaps around a place; nothing where it is not good itself."""
    if not good[place]:
        return float("inf"), float("-inf")
    low = high = place
    while low > 0 and good[low - 1] and closed[low - 1]:
        low -= 1
    while high < len(good) - 1 and good[high + 1] and closed[high]:
        high += 1
    return float(volts[low]), float(volts[high])


def _limits(setting: Setting, curves: Mapping[int, Curve]) -> Floats:
    """Thresholds of the measures of :func:`_measures`, in their order."""
    rows = [b for row in setting.arrays.breaks[:, :, 0] for b in row]
    sets = [k for knee in setting.arrays.knee[:, 0] for k in (knee, -knee)]
    kinks = [v for curve in curves.values() for v in _kinks(curve)]
    return np.array([*rows, *sets, *kinks])


def _kinks(curve: Curve) -> Floats:
    narrow = np.flatnonzero(np.diff(curve.volts) < NARROW)
    middles: Floats = (curve.volts[narrow] + curve.volts[narrow + 1]) / 2
    return middles


def _measures(setting: Setting, view: View, curves: Mapping[int, Curve]) -> Floats:
    """Volts whose crossing of a threshold makes a kink, [threshold, case]."""
    rows = [view.volts(k) for k in setting.sheet.pieces for _ in range(MOST_BREAKS)]
    rows += [view.volts(k) for k in setting.sheet.powers for _ in range(2)]
    rows += [view.potentials[node] for node, curve in curves.items() for _ in _kinks(curve)]
    return np.array(rows).reshape(len(rows), view.count)


def _sampled(
    setting: Setting,
    curves: Mapping[int, Curve],
    unchanged: Mapping[int, tuple[float, float]],
    volts: Floats,
    start: Floats,
    limits: Floats,
    close: float,
) -> _Knots:
    count = len(volts)
    own = setting.sheet.part.variables
    variables = {n: np.full(count, setting.memory.variables[n], dtype=np.int64) for n in own}
    found: list[Any] = []
    unchanged_columns = changes_of(setting.sheet, [Column()] * count)
    view, arrived = looked_at(
        setting, unchanged_columns, variables, start, curves, close, driven=volts, found=found
    )
    good = arrived & _calm(setting, view, variables)
    for node, curve in curves.items():
        good &= (view.potentials[node] >= curve.low) & (view.potentials[node] <= curve.high)
    states = [states_of(view, k) for k in setting.stated]
    same = np.ones(count, dtype=bool)
    for row, standing in zip(states, setting.standing, strict=True):
        same &= row == standing
    for node, (low, high) in unchanged.items():
        same &= (view.potentials[node] >= low) & (view.potentials[node] <= high)
    measures = _measures(setting, view, curves) if len(limits) else np.zeros((0, count))
    result = found[0]
    clear = arrived & ~(np.abs(measures - limits[:, None]) < AT_A_KINK).any(axis=0)
    return _Knots(
        volts[clear],
        result.current[clear],
        result.current_slope[clear],
        good[clear],
        same[clear],
        measures[:, clear],
        view.potentials[:, clear],
    )


def _calm(setting: Setting, view: View, variables: Mapping[int, Any]) -> Marks:
    """Where nothing would move, blow or fire."""
    network, memory = setting.sheet.network, setting.memory
    edges = {}
    for n in variables:
        if network.variables[n].latch is not None:
            pair = [-1 if e is None else int(e) for e in memory.edges[2 * n : 2 * n + 2]]
            edges[n] = np.full(view.count, pair[0]), np.full(view.count, pair[1])
    moved, turned = after(view, edges)
    calm = np.ones(view.count, dtype=bool)
    for n, truths in timed(setting, view).items():
        for running, place in zip(truths, (2 * n, 2 * n + 1), strict=True):
            calm &= running == (memory.timers[place] is not None)
    for n, row in moved.items():
        calm &= row == variables[n]
    for n, (set_on, release_on) in turned.items():
        calm &= (set_on == edges[n][0]) & (release_on == edges[n][1])
    for k, law in enumerate(setting.laws):
        record = network.branches[setting.sheet.part.branches[k]]
        if (
            isinstance(law, Fuse | Cartridge)
            and record.memory in variables
            and not memory.variables[record.memory]
        ):
            amps = np.abs(view.amps(k))
            calm &= (amps <= law.fusing) if isinstance(law, Fuse) else (amps < law.all_fire)
    return calm


def _wanting(knots: _Knots, limits: Floats, tested: Marks) -> tuple[Floats, dict[float, int]]:
    """Points to add; for the middles of gaps, which gap they are of."""
    width = np.diff(knots.volts)
    sides = knots.measures >= limits[:, None]
    kinked = (sides[:, 1:] != sides[:, :-1]).any(axis=0) & (width > CLOSED_IN)
    ends = (knots.good[1:] != knots.good[:-1]) & (width > EDGE)
    points: list[float] = []
    middles: dict[float, int] = {}
    for gap in np.flatnonzero(kinked | ends | ~tested):
        if kinked[gap]:
            points += _around_kink(knots, limits, sides, int(gap))
        elif width[gap] > NARROW:
            middle = float((knots.volts[gap] + knots.volts[gap + 1]) / 2)
            points.append(middle)
            middles[middle] = int(gap)
    return np.array(sorted(set(points))), middles


def _around_kink(knots: _Knots, limits: Floats, sides: Marks, gap: int) -> list[float]:
    """Points close around where the first crossing of a gap is expected, by a straight line from either side."""
    row = int(np.flatnonzero(sides[:, gap] != sides[:, gap + 1])[0])
    v, u = knots.volts, knots.measures[row] - limits[row]
    low, high = v[gap], v[gap + 1]
    reach = max(0.02 * (high - low), CLOSED_IN / 3)
    points = [(low + high) / 2]
    for near, beyond in ((gap, gap - 1), (gap + 1, gap + 2)):
        if 0 <= beyond < len(v) and u[near] != u[beyond]:
            guess = v[near] - u[near] * (v[near] - v[beyond]) / (u[near] - u[beyond])
            points += [guess - reach, guess + reach]
    return [float(p) for p in points if low < p < high]


def _joined(
    knots: _Knots, fresh: _Knots, tested: Marks, middles: Mapping[float, int], share: float
) -> tuple[Marks, _Knots]:
    """Merge new knots; a gap is tested when its middle agreed, or when it is closed."""
    agreed: set[float] = set()
    for place, volts in enumerate(fresh.volts):
        gap = middles.get(float(volts))
        if gap is not None:
            width = knots.volts[gap + 1] - knots.volts[gap]
            cubic = (knots.amps[gap] + knots.amps[gap + 1]) / 2
            cubic += width * (knots.slopes[gap] - knots.slopes[gap + 1]) / 8
            allowed = share * (AGREES if volts > LOW else AGREES_LOW)
            if abs(cubic - fresh.amps[place]) <= allowed * max(1.0, abs(fresh.slopes[place])):
                agreed.add(float(volts))
    old = {float(v): bool(t) for v, t in zip(knots.volts[:-1], tested, strict=True)}
    merged = knots.merged(fresh)
    marks = np.zeros(len(merged.volts) - 1, dtype=bool)
    new = {float(v) for v in fresh.volts}
    for place, (low, high) in enumerate(zip(merged.volts[:-1], merged.volts[1:], strict=True)):
        if float(low) in agreed or float(high) in agreed:
            marks[place] = True
        elif float(low) not in new and float(high) not in new:
            marks[place] = old[float(low)]
        elif high - low <= NARROW:
            marks[place] = True
    return marks, merged


def summed(curves: Sequence[Curve]) -> Curve:
    """What several parts take together at the hub where they meet.

    Parameters
    ----------
    curves
        At least one.

    Returns
    -------
    Curve
        On all their knots; it holds where all of them do.
    """
    if len(curves) == 1:
        return curves[0]
    volts = np.unique(np.concatenate([curve.volts for curve in curves]))
    amps, slopes = np.zeros(len(volts)), np.zeros(len(volts))
    for curve in curves:
        current, slope = curve.at(volts)
        amps += current
        slopes += slope
    return Curve(volts, amps, slopes, max(c.low for c in curves), min(c.high for c in curves))


def less(total: Curve, one: Curve, others: Sequence[Curve]) -> Curve:
    """What all parts at a hub but one take.

    Parameters
    ----------
    total
        What all of them take together.
    one
        The one that is left out.
    others
        The rest of them, for where they hold.

    Returns
    -------
    Curve
        On the total's knots.
    """
    amps, slopes = one.at(total.volts)
    low, high = max(c.low for c in others), min(c.high for c in others)
    return Curve(total.volts, total.amps - amps, total.slopes - slopes, low, high)
