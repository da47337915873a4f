"""Many cases of one part at once: the one-by-one solver's steps, each over an array with a column a case.

A :class:`Sheet` is what is made once for a part (its order of elimination, its branches by how they behave); a
:class:`Batch` is the columns of cases that are worked out on it. Rows are nodes or edges, so that one step of
elimination is a few operations on whole rows.

* What a case changes in straight branches is written into the conductances before anything is eliminated:
  nothing is ever subtracted, an open and a bar keep their digits.
* A bridge between nodes that no edge joins is a second right-hand side: with z the potentials that one ampere
  from end to end makes, and r what it drops, the bridge g carries g u / (1 + g r) where u stood without it.
* At a hub the other parts are a :class:`Curve`, current against volts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomlore.network.kernel import compiled, flat_steps
from loomlore.network.laws import (
    Battery,
    ConstantPower,
    Filament,
    Generator,
    Law,
    Magneto,
    Pieces,
    Rectifier,
    Source,
)
from loomlore.network.model import Branch, Network
from loomlore.network.parts import Order, Part, order_of

__all__ = ["Batch", "Curve", "Sheet", "moved_pieces", "sheet_of", "solved"]

Floats = NDArray[np.float64]
Marks = NDArray[np.bool_]

PIECEWISE = (Battery, Generator, Rectifier, Source)
LIVE = (Filament, ConstantPower, *PIECEWISE)

DEAD = 1e-10
MOST_STEPS = 60
SECANT_STEPS = 1
DAMP_FROM = 10
CLOSE = 1e-10
WORTH_SPLITTING = 64


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Current [A] into something at one node, against its volts: cubic between knots, straight beyond.

    Knots that lie less than 2e-9 V apart enclose a kink. The curve holds from ``low`` to ``high`` volts.
    """

    volts: Floats
    amps: Floats
    slopes: Floats
    low: float
    high: float

    def at(self, volts: Floats) -> tuple[Floats, Floats]:
        """Current [A] and slope [S] at these volts."""
        knots = self.volts
        k = np.clip(np.searchsorted(knots, volts, side="right") - 1, 0, len(knots) - 2)
        v0, i0, i1 = knots[k], self.amps[k], self.amps[k + 1]
        width = knots[k + 1] - v0
        t = (volts - v0) / width
        m0, m1 = self.slopes[k] * width, self.slopes[k + 1] * width
        d = i1 - i0
        b, c = 3 * d - 2 * m0 - m1, m0 + m1 - 2 * d
        amps = i0 + t * (m0 + t * (b + t * c))
        slope = (m0 + t * (2 * b + 3 * t * c)) / width
        narrow = width < 2e-9
        if narrow.any():
            amps = np.where(narrow, i0 + t * d, amps)
            slope = np.where(narrow, np.where(t == 0, self.slopes[k], d / width), slope)
        outside = (t < 0) | (t > 1)
        if outside.any():
            end = np.where(t < 0, k, k + 1)
            straight = self.amps[end] + self.slopes[end] * (volts - knots[end])
            amps, slope = np.where(outside, straight, amps), np.where(outside, self.slopes[end], slope)
        return amps, slope


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A part made ready. Branches and nodes go by their places in it; ``local`` finds a node's.

    ``runs`` are branches in series without a turning: (place, 1 or -1 by the way it lies).
    """

    part: Part
    network: Network
    order: Order
    local: Mapping[int, int]
    place: Mapping[int, int]
    ends: tuple[tuple[int, int], ...]
    edge: tuple[int, ...]
    on_edge: Mapping[int, tuple[int, ...]]
    straight: tuple[int, ...]
    filaments: tuple[int, ...]
    powers: tuple[int, ...]
    pieces: tuple[int, ...]
    kept: tuple[int, ...]
    kept_place: Mapping[int, int]
    live_edges: tuple[int, ...]
    live_edge_place: Mapping[int, int]
    steps: tuple[Any, ...]
    last: int | None
    flat: tuple[Any, ...]
    runs: tuple[tuple[tuple[int, float], ...], ...]

    @property
    def live(self) -> tuple[int, ...]:
        """The live branches, in the order of the arrays."""
        return (*self.filaments, *self.powers, *self.pieces)


def sheet_of(network: Network, part: Part, *, last: int | None = None) -> Sheet:
    """Make a part ready.

    Parameters
    ----------
    network
        The whole.
    part
        One of its parts.
    last
        A hub that is to be driven, else None.

    Returns
    -------
    Sheet
        For any number of batches.
    """
    local = {node: k for k, node in enumerate(part.nodes)}
    branches = [network.branches[n] for n in part.branches]
    ends = tuple((local[b.a], local[b.b]) for b in branches)
    lively = {
        node
        for (a, b), branch in zip(ends, branches, strict=True)
        if isinstance(branch.law, (*LIVE, Magneto))
        for node in (a, b)
    }
    hubs = {local[hub] for hub in part.hubs}
    order = order_of(len(part.nodes), ends, (lively | hubs) - {0}, None if last is None else local[last])
    edge = tuple(-1 if a == b else order.number[min(a, b), max(a, b)] for a, b in ends)
    on_edge: dict[int, list[int]] = {}
    for k, branch in enumerate(branches):
        if edge[k] >= 0 and not isinstance(branch.law, LIVE):
            on_edge.setdefault(edge[k], []).append(k)
    kept = (0, *(step[0] for step in order.live))
    kept_place = {node: k for k, node in enumerate(kept)}
    live_edges = sorted(
        {e for _, beside, fills in order.live for e in (*(e for _, e in beside), *(t for *_, t in fills))}
    )
    live_edge_place = {e: k for k, e in enumerate(live_edges)}
    return Sheet(
        part=part,
        network=network,
        order=order,
        local=local,
        place={n: k for k, n in enumerate(part.branches)},
        ends=ends,
        edge=edge,
        on_edge={e: tuple(ks) for e, ks in on_edge.items()},
        straight=tuple(k for k, b in enumerate(branches) if not isinstance(b.law, LIVE)),
        filaments=tuple(k for k, b in enumerate(branches) if isinstance(b.law, Filament)),
        powers=tuple(k for k, b in enumerate(branches) if isinstance(b.law, ConstantPower)),
        pieces=tuple(k for k, b in enumerate(branches) if isinstance(b.law, PIECEWISE)),
        kept=kept,
        kept_place=kept_place,
        live_edges=tuple(live_edges),
        live_edge_place=live_edge_place,
        steps=tuple(_live_step(step, kept_place, live_edge_place) for step in order.live),
        last=None if last is None else local[last],
        flat=_flat(order, ends, edge, branches, live_edges, kept),
        runs=tuple(_runs(len(part.nodes), ends)),
    )


def _runs(nodes: int, ends: Sequence[tuple[int, int]]) -> Iterator[tuple[tuple[int, float], ...]]:
    """Branches in series, of two at least; a node is no turning where two branches meet and no more."""
    at: list[list[int]] = [[] for _ in range(nodes)]
    for place, (a, b) in enumerate(ends):
        at[a].append(place)
        at[b].append(place)
    done: set[int] = set()
    for place, (a, b) in enumerate(ends):
        if place in done or a == b:
            continue
        before, after = _along(place, a, at, ends, done), _along(place, b, at, ends, done)
        done.add(place)
        if before or after:
            back = [(other, -sign) for other, sign in reversed(before)]
            yield (*back, (place, 1.0), *after)


def _along(
    place: int, node: int, at: Sequence[Sequence[int]], ends: Sequence[tuple[int, int]], done: set[int]
) -> list[tuple[int, float]]:
    """Branches that follow one another from a branch's end."""
    found: list[tuple[int, float]] = []
    first = place
    while node and len(at[node]) == 2 and at[node][0] != at[node][1]:
        place = at[node][0] if at[node][1] == place else at[node][1]
        if place == first or place in done:
            break
        a, b = ends[place]
        found.append((place, 1.0 if a == node else -1.0))
        node = b if a == node else a
        done.add(place)
    return found


def _flat(
    order: Order,
    ends: Sequence[tuple[int, int]],
    edge: Sequence[int],
    branches: Sequence[Branch],
    live_edges: Sequence[int],
    kept: Sequence[int],
) -> tuple[Any, ...]:
    """The sheet as arrays of numbers, for the compiled kernel."""
    kinds: list[Any] = [Filament, ConstantPower, PIECEWISE]
    by_kind = [[k for k, b in enumerate(branches) if isinstance(b.law, kind)] for kind in kinds]
    live = [k for numbers in by_kind for k in numbers]
    return (
        flat_steps(order.quiet),
        flat_steps(order.live),
        np.array(live_edges, dtype=np.int64),
        np.array(kept, dtype=np.int64),
        np.array([ends[k] for k in live], dtype=np.int64).reshape(-1, 2),
        np.array([edge[k] for k in live], dtype=np.int64),
        np.array([len(numbers) for numbers in by_kind], dtype=np.int64),
    )


def _live_step(step: Any, kept: Mapping[int, int], edges: Mapping[int, int]) -> Any:
    node, beside, fills = step
    by_first: dict[int, list[tuple[int, int]]] = {}
    for a, b, t in fills:
        by_first.setdefault(edges[a], []).append((edges[b], edges[t]))
    return (
        kept[node],
        tuple(edges[e] for _, e in beside),
        tuple((kept[n], edges[e]) for n, e in beside if n),
        tuple((a, tuple(rest)) for a, rest in by_first.items()),
    )


@dataclass(eq=False)
class Batch:
    """Columns of cases on a sheet, and the laws that hold in them.

    ``conductances`` are [edge, case], ``curves`` the loads at hubs by node; ``driven`` holds the volts of the
    sheet's last node instead of a load; ``fast`` asks for the compiled kernel. ``bridges`` are (first node,
    second node, conductance) by case, the conductance nought where there is none. ``laws`` are parameter
    arrays, see :func:`law_arrays`.
    """

    sheet: Sheet
    conductances: Floats
    laws: LawArrays
    curves: Mapping[int, Curve] = field(default_factory=dict)
    driven: Floats | None = None
    bridges: tuple[NDArray[np.intp], NDArray[np.intp], Floats] | None = None
    fast: bool = False


@dataclass(slots=True, eq=False)
class LawArrays:
    """Parameters of a sheet's live branches; each array is [branch, 1] or [branch, case]."""

    full: Floats
    per_volt: Floats
    cold4: Floats
    power: Floats
    knee: Floats
    breaks: Floats
    slopes: Floats
    offsets: Floats

    def columns(self, pick: NDArray[np.intp] | slice) -> LawArrays:
        """The parameters of some of the cases."""

        def taken(array: Floats) -> Floats:
            return array if array.shape[-1] == 1 else array[..., pick]

        return LawArrays(*(taken(getattr(self, name)) for name in LawArrays.__slots__))


FAR = 1e30


def pieces_row(law: Pieces, most: int) -> tuple[list[float], list[float], list[float]]:
    """Breaks, slopes and offsets padded to a number of breaks."""
    more = most - len(law.breaks)
    return (
        [*law.breaks, *[FAR] * more],
        [*law.slopes, *[law.slopes[-1]] * more],
        [*law.offsets, *[law.offsets[-1]] * more],
    )


MOST_BREAKS = 2


def law_arrays(sheet: Sheet, laws: Sequence[Law], pieces: Sequence[Pieces]) -> LawArrays:
    """Parameters of the live branches, the same in every case.

    Parameters
    ----------
    sheet
        Of the part.
    laws
        The law of each branch of the part.
    pieces
        The pieces of each piecewise branch, in the sheet's order.

    Returns
    -------
    LawArrays
        Each [branch, 1].
    """
    lamps = [laws[k] for k in sheet.filaments]
    sets = [laws[k] for k in sheet.powers]

    def column(values: Sequence[float]) -> Floats:
        return np.array(values, dtype=float).reshape(-1, 1)

    rows = [pieces_row(p, MOST_BREAKS) for p in pieces]
    return LawArrays(
        full=column([lamp.amps / lamp.volts for lamp in lamps if isinstance(lamp, Filament)]),
        per_volt=column([1 / lamp.volts for lamp in lamps if isinstance(lamp, Filament)]),
        cold4=column([lamp.cold**4 for lamp in lamps if isinstance(lamp, Filament)]),
        power=column([s.power for s in sets if isinstance(s, ConstantPower)]),
        knee=column([s.works_from for s in sets if isinstance(s, ConstantPower)]),
        breaks=np.array([r[0] for r in rows]).reshape(len(rows), MOST_BREAKS, 1),
        slopes=np.array([r[1] for r in rows]).reshape(len(rows), MOST_BREAKS + 1, 1),
        offsets=np.array([r[2] for r in rows]).reshape(len(rows), MOST_BREAKS + 1, 1),
    )


def live_amps(laws: LawArrays, volts: Floats, counts: tuple[int, int]) -> Floats:
    """Currents [A] of all live branches at their volts, [branch, case].

    Parameters
    ----------
    laws
        Their parameters.
    volts
        Their volts [V], [branch, case].
    counts
        How many filaments and sets there are [1].

    Returns
    -------
    array
        As the laws have it.
    """
    lamps, sets = counts
    lit, _ = filament_laws(laws, volts[:lamps])
    fed, _ = power_laws(laws, volts[lamps : lamps + sets])
    rest = volts[lamps + sets :]
    piece = piece_of(laws, rest)
    return np.concatenate(
        [lit, fed, taken_pieces(laws.slopes, piece) * rest + taken_pieces(laws.offsets, piece)]
    )


def filament_laws(laws: LawArrays, volts: Floats) -> tuple[Floats, Floats]:
    """Currents [A] and slopes [S] of the filaments at their volts."""
    x = np.abs(volts) * laws.per_volt
    root = np.sqrt(x)
    y = x * root * np.sqrt(root)
    inside = laws.cold4 + y
    g = laws.full / np.sqrt(np.sqrt(inside))
    return g * volts, g * (1.0 - 0.4375 * y / inside)


def power_laws(laws: LawArrays, volts: Floats) -> tuple[Floats, Floats]:
    """Currents [A] and slopes [S] of the sets at their volts."""
    works = np.abs(volts) >= laws.knee
    safe = np.where(works, volts, 1.0)
    below = laws.power / laws.knee**2
    amps = np.where(works, laws.power / safe, below * volts)
    return amps, np.where(works, -laws.power / safe**2, below)


def piece_of(laws: LawArrays, volts: Floats) -> NDArray[np.intp]:
    """Which piece each piecewise branch is on at its volts."""
    piece = np.zeros(volts.shape, dtype=np.intp)
    for k in range(MOST_BREAKS):
        piece += volts >= laws.breaks[:, k]
    return piece


def taken_pieces(table: Floats, piece: NDArray[np.intp]) -> Floats:
    """What a table has for each branch on its piece: table[branch, piece[branch, case], case or 0]."""
    branch = np.arange(piece.shape[0])[:, None]
    case = np.arange(piece.shape[1])[None, :] if table.shape[2] > 1 else 0
    found: Floats = table[branch, piece, case]
    return found


def moved_pieces(
    laws: LawArrays, piece: NDArray[np.intp], volts: Floats, near: float
) -> tuple[NDArray[np.intp], Marks]:
    """Move each piecewise branch at most one piece.

    Parameters
    ----------
    laws
        Their parameters.
    piece
        Where each is, [branch, case].
    volts
        What is across them [V].
    near
        A branch no further off than this lies at its break [V].

    Returns
    -------
    tuple
        Where each is now, and in which columns one moved that lay off its break.
    """
    if not len(piece):
        return piece, np.zeros(volts.shape[1], dtype=bool)
    wanted = piece_of(laws, volts)
    towards = np.sign(wanted - piece)
    if not towards.any():
        return piece, np.zeros(volts.shape[1], dtype=bool)
    at = taken_pieces(laws.breaks, np.minimum(np.minimum(wanted, piece), MOST_BREAKS - 1))
    off = (towards != 0) & (np.abs(volts - at) > near)
    return piece + towards, off.any(axis=0)


# -- elimination ---------------------------------------------------------------------------------------------------


def _quiet(sheet: Sheet, g: Floats, bridge: Floats | None) -> tuple[list[Floats], Floats | None]:
    """Eliminate the quiet nodes in place; the reciprocal pivots, and what a bridge drops within them."""
    rows = list(g)
    pivots = []
    drop = None if bridge is None else np.zeros(g.shape[1])
    for node, beside, fills in sheet.order.quiet:
        q = rows[beside[0][1]] + rows[beside[1][1]] if len(beside) > 1 else rows[beside[0][1]].copy()
        for _, edge in beside[2:]:
            q += rows[edge]
        np.reciprocal(q, out=q)
        for a, b, t in fills:
            w = rows[a] * rows[b]
            w *= q
            rows[t] += w
        if bridge is not None and drop is not None:
            e = bridge[node]
            if e.any():
                e *= (q < 1 / DEAD) | (np.abs(e) > 0.5)
                share = e * q
                drop += e * share
                for other, edge in beside:
                    if other:
                        bridge[other] += rows[edge] * share
        pivots.append(q)
    return pivots, drop


def _back(sheet: Sheet, g: Floats, pivots: list[Floats], v: Floats, injected: Floats | None) -> None:
    rows = list(g)
    for (node, beside, _), q in zip(reversed(sheet.order.quiet), reversed(pivots), strict=True):
        total = np.zeros(g.shape[1]) if injected is None else injected[node].copy()
        for other, edge in beside:
            if other:
                total += rows[edge] * v[other]
        total *= q
        v[node] = total


def _forward(
    sheet: Sheet, rows: list[Floats], jrows: list[Floats], zrows: list[Floats] | None
) -> list[Floats]:
    """Eliminate the live nodes (but a driven one); the reciprocal pivots."""
    pivots: list[Floats] = []
    steps = sheet.steps if sheet.last is None else sheet.steps[:-1]
    for node, own, beside, fills in steps:
        s = rows[own[0]] + rows[own[1]] if len(own) > 1 else rows[own[0]].copy()
        for edge in own[2:]:
            s += rows[edge]
        fed = np.abs(s) > DEAD
        q = np.reciprocal(s)
        for a, targets in fills:
            w = rows[a] * q
            for b, t in targets:
                rows[t] += w * rows[b]
        j = jrows[node]
        j *= fed
        share = j * q
        for other, edge in beside:
            jrows[other] += rows[edge] * share
        if zrows is not None:
            zrows[node] *= fed | (
                np.abs(zrows[node]) > 0.5
            )  # an ampere that has both ends here leaves rounding
            share = zrows[node] * q
            for other, edge in beside:
                zrows[other] += rows[edge] * share
        pivots.append(q)
    return pivots


def _backward(
    sheet: Sheet, rows: list[Floats], jrows: list[Floats], pivots: list[Floats], v: list[Floats]
) -> None:
    steps = sheet.steps if sheet.last is None else sheet.steps[:-1]
    for (node, _, beside, _), q in zip(reversed(steps), reversed(pivots), strict=True):
        total = jrows[node]
        for other, edge in beside:
            total = total + rows[edge] * v[other]
        np.multiply(total, q, out=v[node])


# -- Newton's method over columns -----------------------------------------------------------------------------------


@dataclass(slots=True, eq=False)
class Solved:
    """Potentials [V] as [node, case], and which cases arrived; of a driven hub the current and its slope.

    ``bridged`` is the resistance [ohm] from one end of a bridge to the other, without it, and ``response``
    what one ampere there makes of the sheet's kept nodes.
    """

    potentials: Floats
    arrived: Marks
    current: Floats | None = None
    current_slope: Floats | None = None
    bridged: Floats | None = None
    response: Floats | None = None


def solved(batch: Batch, start: Floats, *, close: float) -> Solved:
    """Solve all the cases of a batch.

    Parameters
    ----------
    batch
        The columns; its conductances are used up.
    start
        Potentials to begin from, [node, case].
    close
        A case has arrived when no live branch moves by more [V].

    Returns
    -------
    Solved
        A case that did not arrive is to be settled by itself.
    """
    if batch.fast:
        return _compiled(batch, start, close)
    sheet, g = batch.sheet, batch.conductances
    count = g.shape[1]
    bridge = _bridge_rows(batch)
    quiet, drop = _quiet(sheet, g, bridge)
    run = _Run(
        sheet=sheet,
        edges=g[list(sheet.live_edges)],
        laws=batch.laws,
        curves=batch.curves,
        driven=batch.driven,
        bridge=None if bridge is None else bridge[list(sheet.kept)],
        drop=drop,
        strength=None if batch.bridges is None else batch.bridges[2],
        close=close,
    )
    kept = start[list(sheet.kept)].copy()
    kept[0] = 0.0
    if batch.driven is not None and sheet.last is not None:
        kept[sheet.kept_place[sheet.last]] = batch.driven
    result = run.iterate(kept)
    potentials = np.zeros((sheet.order.nodes, count))
    potentials[list(sheet.kept)] = result.kept
    injected = None
    if bridge is not None and result.bridge_amps is not None:
        injected = -bridge * result.bridge_amps
    _back(sheet, g, quiet, potentials, injected)
    return Solved(
        potentials, result.arrived, result.current, result.current_slope, result.resistance, result.response
    )


_NONE = np.zeros(0)
_NO_NODES = np.zeros(0, dtype=np.intp)


def _compiled(batch: Batch, start: Floats, close: float) -> Solved:
    """The same by the compiled kernel."""
    kernel = compiled()
    assert kernel is not None
    sheet, laws = batch.sheet, batch.laws
    curves = list(batch.curves.values())
    bridges = batch.bridges or (_NO_NODES, _NO_NODES, _NONE)
    # one layout of every array, or each would be compiled for anew
    potentials, arrived, current, slope, bridged, response = kernel(
        np.ascontiguousarray(batch.conductances), np.ascontiguousarray(start), *sheet.flat,
        *(np.ascontiguousarray(getattr(laws, name)) for name in LawArrays.__slots__),
        np.array(list(batch.curves), dtype=np.int64),
        np.cumsum([0, *[len(curve.volts) for curve in curves]], dtype=np.int64),
        np.concatenate([_NONE, *[curve.volts for curve in curves]]),
        np.concatenate([_NONE, *[curve.amps for curve in curves]]),
        np.concatenate([_NONE, *[curve.slopes for curve in curves]]),
        -1 if sheet.last is None else sheet.last,
        _NONE if batch.driven is None else np.ascontiguousarray(batch.driven),
        *(np.ascontiguousarray(row) for row in bridges), float(close),
    )  # fmt: skip
    return Solved(potentials, arrived, current, slope, bridged, response)


def _bridge_rows(batch: Batch) -> Floats | None:
    """One ampere in at a bridge's first end and out at its second, [node, case]."""
    if batch.bridges is None:
        return None
    first, second, strength = batch.bridges
    rows = np.zeros((batch.sheet.order.nodes, len(strength)))
    columns = np.arange(len(strength))
    there = (strength > 0).astype(float)
    rows[first, columns] += there
    rows[second, columns] -= there
    rows[0] = 0.0
    return rows


@dataclass(slots=True, eq=False)
class _Result:
    kept: Floats
    arrived: Marks
    slopes: Floats
    current: Floats | None
    current_slope: Floats | None
    bridge_amps: Floats | None
    resistance: Floats | None
    response: Floats | None


@dataclass(slots=True, eq=False)
class _Run:
    sheet: Sheet
    edges: Floats
    laws: LawArrays
    curves: Mapping[int, Curve]
    driven: Floats | None
    bridge: Floats | None
    drop: Floats | None
    strength: Floats | None
    close: float

    def columns(self, pick: NDArray[np.intp]) -> _Run:
        """The same for some of the cases."""

        def taken(array: Floats | None) -> Floats | None:
            return None if array is None else array[..., pick]

        return _Run(
            self.sheet, self.edges[:, pick], self.laws.columns(pick), self.curves, taken(self.driven),
            taken(self.bridge), taken(self.drop), taken(self.strength), self.close,
        )  # fmt: skip

    def iterate(self, kept: Floats, begun: int = 0) -> _Result:
        """Step until every case has arrived; late ones go on without the others."""
        sheet = self.sheet
        places = np.array([[sheet.kept_place[n] for n in sheet.ends[k]] for k in sheet.live], dtype=np.intp)
        first, second = places.reshape(-1, 2).T
        counts = len(sheet.filaments), len(sheet.powers)
        volts = kept[first] - kept[second]
        piece = piece_of(self.laws, volts[sum(counts) :])
        hubs = [(sheet.kept_place[node], curve) for node, curve in self.curves.items()]
        result = None
        for step in range(begun, MOST_STEPS):
            result, stepped = self._step(step, kept, volts, piece, hubs, counts)
            fresh = stepped[first] - stepped[second]
            moved = np.abs(fresh - volts).max(axis=0, initial=0.0)
            for node, _ in hubs:
                np.maximum(moved, np.abs(stepped[node] - kept[node]), out=moved)
            if step >= DAMP_FROM and step % 2:
                slow = moved > self.close
                stepped = np.where(slow, kept + 0.5 * (stepped - kept), stepped)
                fresh = stepped[first] - stepped[second]
            kept, volts = stepped, fresh
            piece, changed = moved_pieces(self.laws, piece, volts[sum(counts) :], 1e-3 * self.close)
            arrived = (moved <= self.close) & ~changed & (step > min(SECANT_STEPS, len(volts)) - 1)
            result.arrived = arrived
            result.kept = kept
            if arrived.all():
                return result
            late = np.flatnonzero(~arrived)
            if step >= 3 and len(arrived) - len(late) >= max(WORTH_SPLITTING, len(arrived) // 4):
                return self._go_on(result, late, step + 1)
        assert result is not None
        return result

    def _go_on(self, result: _Result, late: NDArray[np.intp], step: int) -> _Result:
        rest = self.columns(late).iterate(result.kept[:, late], step)
        result.kept[:, late] = rest.kept
        result.arrived[late] = rest.arrived
        result.slopes[:, late] = rest.slopes
        for name in ("current", "current_slope", "bridge_amps", "resistance", "response"):
            whole, part = getattr(result, name), getattr(rest, name)
            if whole is not None:
                whole[..., late] = part
        return result

    def _step(
        self,
        step: int,
        kept: Floats,
        volts: Floats,
        piece: NDArray[np.intp],
        hubs: list[tuple[int, Curve]],
        counts: tuple[int, int],
    ) -> tuple[_Result, Floats]:
        sheet, laws = self.sheet, self.laws
        lamps, sets = counts
        amps, slopes = np.zeros_like(volts), np.zeros_like(volts)
        if lamps:
            amps[:lamps], slopes[:lamps] = filament_laws(laws, volts[:lamps])
            if step < SECANT_STEPS:
                slopes[:lamps] = laws.full / np.sqrt(
                    np.sqrt(laws.cold4 + (np.abs(volts[:lamps]) * laws.per_volt) ** 1.75)
                )
        if sets:
            here = slice(lamps, lamps + sets)
            amps[here], slopes[here] = power_laws(laws, volts[here])
            if step < SECANT_STEPS or step >= DAMP_FROM:
                v = volts[here]
                slopes[here] = np.where(
                    v != 0, amps[here] / np.where(v != 0, v, 1.0), laws.power / laws.knee**2
                )
        offsets = amps - slopes * volts
        if len(piece):
            here = slice(lamps + sets, None)
            slopes[here], offsets[here] = taken_pieces(laws.slopes, piece), taken_pieces(laws.offsets, piece)
        g = self.edges.copy()
        rows = list(g)
        j = np.zeros_like(kept)
        jrows = list(j)
        for k, branch in enumerate(sheet.live):
            edge = sheet.edge[branch]
            if edge < 0:
                continue
            rows[sheet.live_edge_place[edge]] += slopes[k]
            a, b = sheet.ends[branch]
            jrows[sheet.kept_place[a]] -= offsets[k]
            jrows[sheet.kept_place[b]] += offsets[k]
        for node, curve in hubs:
            current, slope = curve.at(kept[node])
            rows[sheet.live_edge_place[sheet.kept[node] - 1]] += slope
            jrows[node] -= current - slope * kept[node]
        return self._eliminated(rows, jrows, kept, slopes)

    def _eliminated(
        self, rows: list[Floats], jrows: list[Floats], kept: Floats, slopes: Floats
    ) -> tuple[_Result, Floats]:
        sheet = self.sheet
        zrows = None if self.bridge is None else list(self.bridge.copy())
        pivots = _forward(sheet, rows, jrows, zrows)
        fresh = np.zeros_like(kept)
        v = list(fresh)
        result = _Result(fresh, np.zeros(kept.shape[1], dtype=bool), slopes, None, None, None, None, None)
        if sheet.last is not None:
            hub = sheet.kept_place[sheet.last]
            v[hub][:] = kept[hub]
            slope = rows[sheet.live_edge_place[sheet.last - 1]]
            result.current = slope * kept[hub] - jrows[hub]
            result.current_slope = slope
        _backward(sheet, rows, jrows, pivots, v)
        if (
            zrows is not None
            and self.bridge is not None
            and self.strength is not None
            and self.drop is not None
        ):
            z = list(np.zeros_like(kept))
            _backward(sheet, rows, zrows, pivots, z)
            stood = sum(e * u for e, u in zip(self.bridge, v, strict=True))
            r = self.drop + sum(e * u for e, u in zip(self.bridge, z, strict=True))
            result.resistance = r
            result.bridge_amps = self.strength * stood / (1.0 + self.strength * r)
            result.response = np.array(z)
            fresh -= result.response * result.bridge_amps
        return result, fresh
