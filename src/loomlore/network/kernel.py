"""The same steps case by case, compiled: what the extra ``[fast]`` adds.

:func:`columns` and :func:`live_columns` are plain Python over arrays of numbers; numba compiles them where it is
installed. They do for each column what :mod:`loomlore.network.arrays` and :mod:`loomlore.network.compensating` do
for all of them at once, in the same order, and the tests hold them together. Without numba nobody calls them but
those tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from importlib.util import find_spec
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["columns", "compiled", "flat_steps", "live_columns"]

MOST_STEPS = 60
SECANT_STEPS = 1
DAMP_FROM = 10
DEAD = 1e-10
KINK = 2e-9

Flat = tuple[NDArray[np.int64], ...]


def flat_steps(steps: Sequence[Any]) -> Flat:
    """Write steps of elimination as arrays.

    Parameters
    ----------
    steps
        Of an :class:`loomlore.network.parts.Order`.

    Returns
    -------
    tuple
        Nodes; where each one's neighbours begin; neighbours, edges; where its fills begin; fills in threes.
    """
    nodes = [step[0] for step in steps]
    beside = [pair for step in steps for pair in step[1]]
    fills = [fill for step in steps for fill in step[2]]
    first_beside = np.cumsum([0, *[len(step[1]) for step in steps]])
    first_fill = np.cumsum([0, *[len(step[2]) for step in steps]])
    return (
        np.array(nodes, dtype=np.int64),
        first_beside.astype(np.int64),
        np.array([n for n, _ in beside], dtype=np.int64),
        np.array([e for _, e in beside], dtype=np.int64),
        first_fill.astype(np.int64),
        np.array(fills, dtype=np.int64).reshape(-1, 3),
    )


def columns(  # noqa: C901, PLR0913, PLR0917, PLR0915  one loop over numbers, so that it compiles as one
    g_all: Any, start: Any, quiet: Any, live: Any, live_edges: Any, kept: Any, ends: Any, edge: Any, counts: Any,
    full: Any, per_volt: Any, cold4: Any, power: Any, knee: Any, breaks: Any, slopes: Any, offsets: Any,
    hubs: Any, hub_first: Any, hub_volts: Any, hub_amps: Any, hub_slopes: Any,
    last: int, driven: Any, bridge_a: Any, bridge_b: Any, bridge_g: Any, close: float,
) -> Any:  # fmt: skip
    """Solve every column.

    Parameters
    ----------
    g_all, start
        Conductances [S] as [edge, case], and potentials [V] to begin from as [node, case].
    quiet, live, live_edges, kept
        Steps of elimination, the edges that live steps touch, the nodes they are about.
    ends, edge, counts
        Nodes and edge of each live branch; how many filaments, sets and piecewise ones there are.
    full, per_volt, cold4, power, knee, breaks, slopes, offsets
        Parameters of the laws, see :class:`loomlore.network.arrays.LawArrays`.
    hubs, hub_first, hub_volts, hub_amps, hub_slopes
        Nodes with a curve, where each curve's knots begin, and the knots.
    last, driven
        A node that is held, or -1; its volts [V].
    bridge_a, bridge_b, bridge_g
        Ends and conductance [S] of each column's bridge; empty where there are none.
    close
        A column has arrived when no live branch moves by more [V].

    Returns
    -------
    tuple
        Potentials [V], arrived, current [A] and its slope [S] at the held node, resistance [ohm] at
        the bridge, and what one ampere there makes of the kept nodes [ohm].
    """
    (q_node, q_first, q_other, q_edge, q_fill, q_fills) = quiet
    (l_node, l_first, l_other, l_edge, l_fill, l_fills) = live
    count, nodes = start.shape[1], start.shape[0]
    lamps, sets, lines = counts
    total = lamps + sets + lines
    potentials = np.zeros((nodes, count))
    arrived = np.zeros(count, dtype=np.bool_)
    current, current_slope, bridged = np.zeros(count), np.zeros(count), np.zeros(count)
    response = np.zeros((len(kept), len(bridge_g)))
    g = np.zeros(g_all.shape[0])
    saved = np.zeros(len(live_edges))
    v, fresh, j, z, e = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
    q_pivot, l_pivot = np.zeros(len(q_node)), np.zeros(len(l_node))
    volts, slope, offset = np.zeros(total), np.zeros(total), np.zeros(total)
    piece = np.zeros(lines, dtype=np.int64)
    bridging = len(bridge_g) > 0
    steps = len(l_node) - (1 if last >= 0 else 0)
    for c in range(count):
        for k in range(len(g)):
            g[k] = g_all[k, c]
        strength, drop, resistance, through = 0.0, 0.0, 0.0, 0.0
        if bridging:
            strength = bridge_g[c]
            for k in range(nodes):
                e[k] = 0.0
            if strength > 0.0:
                e[bridge_a[c]] += 1.0
                e[bridge_b[c]] -= 1.0
            e[0] = 0.0
        # quiet nodes, once
        for k in range(len(q_node)):
            s = 0.0
            for p in range(q_first[k], q_first[k + 1]):
                s += g[q_edge[p]]
            q = 1.0 / s
            q_pivot[k] = q
            for p in range(q_fill[k], q_fill[k + 1]):
                g[q_fills[p, 2]] += g[q_fills[p, 0]] * g[q_fills[p, 1]] * q
            if strength > 0.0 and e[q_node[k]] != 0.0:
                if q >= 1.0 / DEAD and abs(e[q_node[k]]) <= 0.5:
                    e[q_node[k]] = 0.0
                share = e[q_node[k]] * q
                drop += e[q_node[k]] * share
                for p in range(q_first[k], q_first[k + 1]):
                    if q_other[p]:
                        e[q_other[p]] += g[q_edge[p]] * share
        for k in range(len(live_edges)):
            saved[k] = g[live_edges[k]]
        # where it begins
        v[0] = 0.0
        for k in range(len(kept)):
            v[kept[k]] = start[kept[k], c]
        v[0] = 0.0
        if last >= 0:
            v[last] = driven[c]
        for k in range(total):
            volts[k] = v[ends[k, 0]] - v[ends[k, 1]]
        for k in range(lines):
            cb = c if breaks.shape[2] > 1 else 0
            piece[k] = 0
            for b in range(breaks.shape[1]):
                if volts[lamps + sets + k] >= breaks[k, b, cb]:
                    piece[k] += 1
        done = False
        for step in range(MOST_STEPS):
            for k in range(len(kept)):
                j[kept[k]] = 0.0
            for k in range(len(live_edges)):
                g[live_edges[k]] = saved[k]
            for k in range(lamps):
                cf = c if full.shape[1] > 1 else 0
                x = abs(volts[k]) * per_volt[k, cf]
                root = np.sqrt(x)
                y = x * root * np.sqrt(root)
                inside = cold4[k, cf] + y
                chord = full[k, cf] / np.sqrt(np.sqrt(inside))
                slope[k] = chord if step < SECANT_STEPS else chord * (1.0 - 0.4375 * y / inside)
                offset[k] = (chord - slope[k]) * volts[k]
            for k in range(sets):
                cp = c if power.shape[1] > 1 else 0
                u = volts[lamps + k]
                below = power[k, cp] / knee[k, cp] ** 2
                secant = step < SECANT_STEPS or step >= DAMP_FROM
                if abs(u) >= knee[k, cp]:
                    amps = power[k, cp] / u
                    tangent = power[k, cp] / u**2 if secant else -power[k, cp] / u**2
                else:
                    amps, tangent = below * u, below
                slope[lamps + k] = tangent
                offset[lamps + k] = amps - tangent * u
            for k in range(lines):
                cb = c if breaks.shape[2] > 1 else 0
                slope[lamps + sets + k] = slopes[k, piece[k], cb]
                offset[lamps + sets + k] = offsets[k, piece[k], cb]
            for k in range(total):
                if edge[k] >= 0:
                    g[edge[k]] += slope[k]
                    j[ends[k, 0]] -= offset[k]
                    j[ends[k, 1]] += offset[k]
            for h in range(len(hubs)):
                u = v[hubs[h]]
                low, high = hub_first[h], hub_first[h + 1] - 2
                first, top = low, high
                while low < high:
                    middle = (low + high + 1) // 2
                    if hub_volts[middle] <= u:
                        low = middle
                    else:
                        high = middle - 1
                width = hub_volts[low + 1] - hub_volts[low]
                t = (u - hub_volts[low]) / width
                i0, i1 = hub_amps[low], hub_amps[low + 1]
                if (low == first and t < 0.0) or (low == top and t > 1.0):
                    end = low if t < 0.0 else low + 1
                    tangent = hub_slopes[end]
                    amps = hub_amps[end] + tangent * (u - hub_volts[end])
                elif width < KINK:
                    tangent = hub_slopes[low] if t == 0.0 else (i1 - i0) / width
                    amps = i0 + t * (i1 - i0)
                else:
                    m0, m1, d = hub_slopes[low] * width, hub_slopes[low + 1] * width, i1 - i0
                    b2, b3 = 3 * d - 2 * m0 - m1, m0 + m1 - 2 * d
                    amps = i0 + t * (m0 + t * (b2 + t * b3))
                    tangent = (m0 + t * (2 * b2 + 3 * t * b3)) / width
                g[hubs[h] - 1] += tangent
                j[hubs[h]] -= amps - tangent * u
            if strength > 0.0:
                for k in range(len(kept)):
                    z[kept[k]] = e[kept[k]]
            # live nodes forwards
            for k in range(steps):
                node = l_node[k]
                s = 0.0
                for p in range(l_first[k], l_first[k + 1]):
                    s += g[l_edge[p]]
                q = 1.0 / s
                l_pivot[k] = q
                for p in range(l_fill[k], l_fill[k + 1]):
                    g[l_fills[p, 2]] += g[l_fills[p, 0]] * g[l_fills[p, 1]] * q
                fed = abs(s) > DEAD
                if not fed:
                    j[node] = 0.0
                share = j[node] * q
                for p in range(l_first[k], l_first[k + 1]):
                    if l_other[p]:
                        j[l_other[p]] += g[l_edge[p]] * share
                if strength > 0.0:
                    if not fed and abs(z[node]) <= 0.5:
                        z[node] = 0.0
                    share = z[node] * q
                    for p in range(l_first[k], l_first[k + 1]):
                        if l_other[p]:
                            z[l_other[p]] += g[l_edge[p]] * share
            if last >= 0:
                fresh[last] = v[last]
                current_slope[c] = g[last - 1]
                current[c] = g[last - 1] * v[last] - j[last]
            # and back
            for k in range(steps - 1, -1, -1):
                node = l_node[k]
                s = j[node]
                for p in range(l_first[k], l_first[k + 1]):
                    if l_other[p]:
                        s += g[l_edge[p]] * fresh[l_other[p]]
                fresh[node] = s * l_pivot[k]
            if strength > 0.0:
                stood, resistance = 0.0, drop
                for k in range(steps - 1, -1, -1):
                    node = l_node[k]
                    s = z[node]
                    for p in range(l_first[k], l_first[k + 1]):
                        if l_other[p]:
                            s += g[l_edge[p]] * z[l_other[p]]
                    z[node] = s * l_pivot[k]
                for k in range(len(kept)):
                    stood += e[kept[k]] * fresh[kept[k]]
                    resistance += e[kept[k]] * z[kept[k]]
                through = strength * stood / (1.0 + strength * resistance)
                for k in range(len(kept)):
                    fresh[kept[k]] -= z[kept[k]] * through
            fresh[0] = 0.0
            moved = 0.0
            for k in range(total):
                moved = max(moved, abs(fresh[ends[k, 0]] - fresh[ends[k, 1]] - volts[k]))
            for h in range(len(hubs)):
                moved = max(moved, abs(fresh[hubs[h]] - v[hubs[h]]))
            damped = step >= DAMP_FROM and step % 2 == 1 and moved > close
            for k in range(len(kept)):
                if damped:
                    v[kept[k]] += 0.5 * (fresh[kept[k]] - v[kept[k]])
                else:
                    v[kept[k]] = fresh[kept[k]]
            for k in range(total):
                volts[k] = v[ends[k, 0]] - v[ends[k, 1]]
            changed = False
            for k in range(lines):
                cb = c if breaks.shape[2] > 1 else 0
                u = volts[lamps + sets + k]
                wanted = 0
                for b in range(breaks.shape[1]):
                    if u >= breaks[k, b, cb]:
                        wanted += 1
                if wanted != piece[k]:
                    at = min(wanted, piece[k], breaks.shape[1] - 1)
                    if abs(u - breaks[k, at, cb]) > 1e-3 * close:
                        changed = True
                    piece[k] += 1 if wanted > piece[k] else -1
            if moved <= close and not changed and step > min(SECANT_STEPS, total) - 1:
                done = True
                break
        arrived[c] = done
        bridged[c] = resistance
        if strength > 0.0:
            for k in range(len(kept)):
                response[k, c] = z[kept[k]]
        # quiet nodes back
        for k in range(len(kept)):
            potentials[kept[k], c] = v[kept[k]]
        for k in range(len(q_node) - 1, -1, -1):
            node = q_node[k]
            s = -e[node] * through if strength > 0.0 else 0.0
            for p in range(q_first[k], q_first[k + 1]):
                if q_other[p]:
                    s += g[q_edge[p]] * v[q_other[p]]
            v[node] = s * q_pivot[k]
            potentials[node, c] = v[node]
    return potentials, arrived, current, current_slope, bridged, response


def live_columns(  # noqa: C901, PLR0913, PLR0917, PLR0915  one loop over numbers, so that it compiles as one
    among: Any, seen: Any, solving: Any, unmoved: Any, start: Any, base_slopes: Any, base_offsets: Any, counts: Any,
    full: Any, per_volt: Any, cold4: Any, power: Any, knee: Any, breaks: Any, slopes: Any, offsets: Any,
    matters: float, least_pivot: float, close: float,
) -> Any:  # fmt: skip
    """Newton's method on the live branches of every column, as :mod:`loomlore.network.compensating` has it.

    Parameters
    ----------
    among
        Volts of the live branches by an ampere in each, as the installation stands [ohm].
    seen, solving
        The same by an ampere at each change, [branch, change, case]; and from volts there to currents [S].
    unmoved, start
        Volts with the straight changes alone, and to begin from [V], [branch, case].
    base_slopes, base_offsets
        Tangents as the installation stands [S], [A].
    counts
        How many filaments, sets and piecewise ones there are.
    full, per_volt, cold4, power, knee, breaks, slopes, offsets
        Parameters of the laws, see :class:`loomlore.network.arrays.LawArrays`.
    matters
        A branch is solved for where the change of its slope times the ohms it sees is more than this [1].
    least_pivot
        What a single pivot must be for its digits to do [1].
    close
        A column has arrived when no live branch moves by more [V].

    Returns
    -------
    tuple
        What each branch takes beyond its tangent [A], which columns arrived, by how much slopes moved [S].
    """
    total, count = start.shape
    depth = seen.shape[1]
    lamps, sets, lines = counts
    beyond, steeper = np.zeros((total, count)), np.zeros((total, count))
    arrived = np.zeros(count, dtype=np.bool_)
    answers, currents = np.zeros((total, total)), np.zeros((depth, total))
    volts, fresh, taken, more = np.zeros(total), np.zeros(total), np.zeros(total), np.zeros(total)
    which, matrix, right = np.zeros(total, dtype=np.int64), np.zeros((total, total)), np.zeros(total)
    piece = np.zeros(lines, dtype=np.int64)
    for c in range(count):
        # what an ampere in each makes at each, with the changes in place
        for s in range(depth):
            for k in range(total):
                x = 0.0
                for t in range(depth):
                    x += solving[c, s, t] * seen[k, t, c]
                currents[s, k] = x
        for i in range(total):
            for k in range(total):
                answers[i, k] = among[i, k]
            for s in range(depth):
                x = seen[i, s, c]
                if x != 0.0:
                    for k in range(total):
                        answers[i, k] -= x * currents[s, k]
        cf = c if full.shape[1] > 1 else 0
        cp = c if power.shape[1] > 1 else 0
        cb = c if breaks.shape[2] > 1 else 0
        for k in range(total):
            volts[k] = start[k, c]
        for k in range(lines):
            piece[k] = 0
            for b in range(breaks.shape[1]):
                if volts[lamps + sets + k] >= breaks[k, b, cb]:
                    piece[k] += 1
        for step in range(LIVE_STEPS):
            secant = step < LIVE_SECANTS
            for k in range(lamps):
                x = abs(volts[k]) * per_volt[k, cf]
                root = np.sqrt(x)
                y = x * root * np.sqrt(root)
                inside = cold4[k, cf] + y
                chord = full[k, cf] / np.sqrt(np.sqrt(inside))
                slope = chord if secant else chord * (1.0 - 0.4375 * y / inside)
                taken[k] = chord * volts[k] - (base_slopes[k] * volts[k] + base_offsets[k])
                more[k] = slope - base_slopes[k]
            for n in range(sets):
                k = lamps + n
                u, below = volts[k], power[n, cp] / knee[n, cp] ** 2
                amps, slope = below * u, below
                if abs(u) >= knee[n, cp]:
                    amps = power[n, cp] / u
                    slope = amps / u if secant or step >= DAMP_FROM else -amps / u
                taken[k] = amps - (base_slopes[k] * u + base_offsets[k])
                more[k] = slope - base_slopes[k]
            for n in range(lines):
                k = lamps + sets + n
                slope = slopes[n, piece[n], cb]
                taken[k] = (slope * volts[k] + offsets[n, piece[n], cb]) - (
                    base_slopes[k] * volts[k] + base_offsets[k]
                )
                more[k] = slope - base_slopes[k]
            for i in range(total):
                fresh[i] = unmoved[i, c]
                for k in range(total):
                    fresh[i] -= answers[i, k] * taken[k]
            # those whose slope has moved by enough to matter, solved for together
            size = 0
            for k in range(total):
                if abs(more[k] * answers[k, k]) > matters:
                    which[size] = k
                    size += 1
            for i in range(size):
                for n in range(size):
                    matrix[i, n] = answers[which[i], which[n]] * more[which[n]]
                matrix[i, i] += 1.0
                right[i] = fresh[which[i]] - volts[which[i]]
            if size == 1 and abs(matrix[0, 0]) <= least_pivot and right[0] != 0.0:
                matrix[0, 0] = np.nan
            for i in range(size):
                best = i
                for n in range(i + 1, size):
                    if abs(matrix[n, i]) > abs(matrix[best, i]):
                        best = n
                if best != i:
                    for n in range(i, size):
                        matrix[i, n], matrix[best, n] = matrix[best, n], matrix[i, n]
                    right[i], right[best] = right[best], right[i]
                if matrix[i, i] == 0.0:
                    matrix[i, i] = np.nan
                for n in range(i + 1, size):
                    x = matrix[n, i] / matrix[i, i]
                    if x != 0.0:
                        for k in range(i + 1, size):
                            matrix[n, k] -= x * matrix[i, k]
                        right[n] -= x * right[i]
            for i in range(size - 1, -1, -1):
                x = right[i]
                for n in range(i + 1, size):
                    x -= matrix[i, n] * right[n]
                right[i] = x / matrix[i, i]
            for n in range(size):
                x = more[which[n]] * right[n]
                for i in range(total):
                    fresh[i] -= answers[i, which[n]] * x
            there = True
            for k in range(total):
                there = there and abs(fresh[k] - volts[k]) <= close
            if step >= DAMP_FROM and step % 2 == 1 and not there:
                for k in range(total):
                    fresh[k] = volts[k] + 0.5 * (fresh[k] - volts[k])
            for n in range(lines):
                u = fresh[lamps + sets + n]
                wanted = 0
                for b in range(breaks.shape[1]):
                    if u >= breaks[n, b, cb]:
                        wanted += 1
                if wanted != piece[n]:
                    at = min(wanted, piece[n], breaks.shape[1] - 1)
                    if abs(u - breaks[n, at, cb]) > 1e-3 * close:
                        there = False
                    piece[n] += 1 if wanted > piece[n] else -1
            there = there and step >= min(LIVE_SECANTS, total)
            # linear in the last step: exact for what is on its piece, and a square of the close for the rest
            for k in range(total):
                taken[k] += more[k] * (fresh[k] - volts[k])
                volts[k] = fresh[k]
            if there:
                arrived[c] = True
                break
        for k in range(total):
            beyond[k, c] = taken[k]
            steeper[k, c] = more[k]
    return beyond, arrived, steeper


LIVE_STEPS = 40
LIVE_SECANTS = 1


@lru_cache(maxsize=4)
def compiled(work: Callable[..., Any] = columns) -> Callable[..., Any] | None:
    """A kernel compiled, or None where numba is not installed.

    Parameters
    ----------
    work
        :func:`columns` or :func:`live_columns`.

    Returns
    -------
    callable or None
        Compiled when first called, and kept on disk beside the package or in the user's cache.
    """
    if find_spec("numba") is None:
        return None
    import numba

    made: Callable[..., Any] = numba.njit(cache=True, error_model="numpy")(work)
    return made
