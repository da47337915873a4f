"""Cases of one part as columns, from levers and memory to where they stay: the rounds of settling over arrays.

A round makes the conductances of every case, solves them all, and moves all coils, latches and sensed states
at once; cases that have come to rest lose their most overloaded fuse, or fire a cartridge, and go on. What a
column cannot decide is handed back: a case that does not arrive, or does not come to rest in a few rounds, is
to be settled *alone*; one that moves something outside its part is to be worked out *wider*.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from loomlore.network.arrays import (
    LIVE,
    MOST_BREAKS,
    PIECEWISE,
    Batch,
    Curve,
    Floats,
    LawArrays,
    Marks,
    Sheet,
    law_arrays,
    pieces_row,
    solved,
)
from loomlore.network.cases import Case
from loomlore.network.conditions import ALWAYS, NEVER, Condition, StateIs, judge, leaves
from loomlore.network.laws import OPEN, Cartridge, ConstantPower, Filament, Fuse, Law, Magneto, Pieces
from loomlore.network.model import Branch
from loomlore.network.settling import Event, Memory
from loomlore.network.viewing import View, Whole, after, held, states_of

__all__ = ["ALONE", "DONE", "WIDER", "Column", "Setting", "Stay", "column_of", "looked_at", "settled_columns"]

ACTIVE, DONE, WIDER, ALONE = 0, 1, 2, 3
MOST_ROUNDS = 16
TINY = 1e-250
"""A bridge that only measures [S]."""


@dataclass(frozen=True, slots=True)
class Column:
    """What one case changes in a part: conductances in place of branches, laws, and a bridge.

    ``forced`` are (place, conductance [S]); ``laws`` are (place, law) for whatever is another law now;
    ``extra`` are (node, node, conductance [S]) by the part's own nodes.
    """

    forced: tuple[tuple[int, float], ...] = ()
    laws: tuple[tuple[int, Law], ...] = ()
    extra: tuple[tuple[int, int, float], ...] = ()


def column_of(sheet: Sheet, case: Case) -> Column | None:
    """Read a case as a column of a part; None where it is not one.

    Parameters
    ----------
    sheet
        Of the part.
    case
        With all its changes in that part.

    Returns
    -------
    Column or None
        None: settle it alone.
    """
    forced, laws, extra = [], [], []
    for number, branch in case.branches:
        k = sheet.place[number]
        old = sheet.network.branches[number]
        if (branch.a, branch.b) != (old.a, old.b) or not _plain(branch.closed) or branch.follows not in (-1, old.follows):
            return None
        if isinstance(branch.law, LIVE):
            if not _alike(old.law, branch.law) or branch.works != old.works:
                return None
        elif branch.works is not None and branch.works != old.works:
            return None
        else:
            forced.append((k, OPEN if branch.closed == NEVER else branch.law.conductance(True, 0.0)))
        if branch.law != old.law:
            laws.append((k, branch.law))
    for branch in case.extra:
        if isinstance(branch.law, LIVE) or branch.closed is not None or branch.works is not None:
            return None
        extra.append((sheet.local[branch.a], sheet.local[branch.b], branch.law.conductance(True, 0.0)))
    return Column(tuple(forced), tuple(laws), tuple(extra))


def _plain(closed: Condition | None) -> bool:
    return closed is None or closed in (ALWAYS, NEVER)


def _alike(old: Law, new: Law) -> bool:
    return any(isinstance(old, kind) and isinstance(new, kind) for kind in (Filament, ConstantPower, PIECEWISE))


@dataclass(eq=False)
class Setting:
    """A sheet with its levers and what everything remembers: what is the same in every column.

    ``standing`` are the states of the branches in ``stated`` as the installation stands.
    """

    sheet: Sheet
    memory: Memory
    fed_hubs: tuple[int, ...] = ()
    laws: list[Law] = field(init=False)
    constant: dict[int, float] = field(init=False)
    dynamic: tuple[int, ...] = field(init=False)
    base_edges: Floats = field(init=False)
    arrays: LawArrays = field(init=False)
    works: dict[int, Any] = field(init=False)
    turning: tuple[int, ...] = field(init=False)
    stated: tuple[int, ...] = field(init=False)
    standing: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Judge what no column can change."""
        sheet, own = self.sheet, set(self.sheet.part.variables)
        branches = [sheet.network.branches[n] for n in sheet.part.branches]
        self.laws = [branch.law for branch in branches]
        self.dynamic = tuple(k for k in sheet.straight if _moves(branches[k], own))
        self.works = {k: self._truth(branches[k].works) for k in range(len(branches)) if branches[k].works is not None}
        self.turning = tuple(k for k in self.works if k not in self.dynamic and _speaks(branches[k].works, own))
        moving = set(self.dynamic)
        self.constant = {k: self._conductance(k, branches[k]) for k in sheet.straight if k not in moving}
        self.base_edges = np.zeros(len(sheet.order.edges))
        for k, g in self.constant.items():
            if sheet.edge[k] >= 0:
                self.base_edges[sheet.edge[k]] += g
        pieces = [self.pieces(k, self.works.get(k, (True,))[0], self.laws[k]) for k in sheet.pieces]
        self.arrays = law_arrays(sheet, self.laws, pieces)
        self.stated = tuple(k for k, b in enumerate(branches) if b.law.states or b.memory >= 0)

    def _truth(self, condition: Condition | None) -> tuple[bool, bool]:
        if condition is None:
            return True, False
        value = judge(condition, self.memory.levers, self.memory.variables, lambda _: None)
        return value is True, value is not True

    def lever(self, place: int) -> float:
        """What a branch follows."""
        follows = self.sheet.network.branches[self.sheet.part.branches[place]].follows
        return float(self.memory.levers[follows]) if follows >= 0 else 0.0

    def pieces(self, place: int, works: bool, law: Law) -> Pieces:
        """The pieces of a piecewise branch."""
        assert isinstance(law, PIECEWISE)
        return law.pieces(works, self.lever(place))

    def _conductance(self, place: int, branch: Branch) -> float:
        if branch.closed is not None and not self._truth(branch.closed)[0]:
            return OPEN
        assert not isinstance(branch.law, LIVE)
        return branch.law.conductance(self.works.get(place, (True,))[0], self.lever(place))


def _moves(branch: Branch, own: set[int]) -> bool:
    if branch.memory >= 0 and isinstance(branch.law, Fuse | Cartridge):
        return True
    return _speaks(branch.closed, own) or _speaks(branch.works, own)


def _speaks(condition: Condition | None, own: set[int]) -> bool:
    return condition is not None and any(
        isinstance(leaf, StateIs) and leaf.variable in own for leaf in leaves(condition)
    )


@dataclass(eq=False)
class Stay:
    """Where columns have come to rest, or what is to be done with them.

    ``potentials`` are [node, case] by the part's nodes, ``variables`` and ``states`` rows by variable and by
    place of branch; ``status`` is DONE, WIDER or ALONE; ``rounds`` how often all was solved.
    """

    potentials: Floats
    variables: dict[int, Whole]
    states: dict[int, Whole]
    status: Whole
    events: list[list[Event]]
    rounds: int = 0


@dataclass(eq=False)
class _Memory:
    """Variables and edges of all columns."""

    variables: dict[int, Whole]
    edges: dict[int, tuple[Whole, Whole]]

    def taken(self, pick: Whole) -> _Memory:
        return _Memory(
            {n: row[pick] for n, row in self.variables.items()},
            {n: (a[pick], b[pick]) for n, (a, b) in self.edges.items()},
        )

    def put(self, pick: Whole, other: _Memory) -> None:
        for n, row in other.variables.items():
            self.variables[n][pick] = row
        for n, (a, b) in other.edges.items():
            self.edges[n][0][pick], self.edges[n][1][pick] = a, b


def _begun(setting: Setting, count: int) -> _Memory:
    network, memory = setting.sheet.network, setting.memory
    variables = {n: np.full(count, memory.variables[n], dtype=np.int64) for n in setting.sheet.part.variables}
    edges = {}
    for n in setting.sheet.part.variables:
        if network.variables[n].latch is not None:
            pair = [-1 if e is None else int(e) for e in memory.edges[2 * n : 2 * n + 2]]
            edges[n] = np.full(count, pair[0], dtype=np.int64), np.full(count, pair[1], dtype=np.int64)
    return _Memory(variables, edges)


def settled_columns(
    setting: Setting, columns: Sequence[Column], start: Sequence[float], curves: Mapping[int, Curve], close: float
) -> Stay:
    """Let every column find where it stays.

    Parameters
    ----------
    setting
        Levers and memory that all begin from.
    columns
        The cases.
    start
        Potentials [V] of the part's nodes before.
    curves
        What the other parts take at each hub, by the part's own nodes.
    close
        When a solution has arrived [V].

    Returns
    -------
    Stay
        Cases that are not DONE have nothing in it.
    """
    sheet, count = setting.sheet, len(columns)
    at = np.array([start[n] for n in sheet.part.nodes])
    stay = Stay(
        potentials=np.repeat(at[:, None], count, axis=1),
        variables={},
        states={k: np.zeros(count, dtype=np.int64) for k in setting.stated},
        status=np.zeros(count, dtype=np.int64),
        events=[[] for _ in columns],
    )
    memory = _begun(setting, count)
    active = np.arange(count)
    while len(active) and stay.rounds < MOST_ROUNDS:
        stay.rounds += 1
        active = _round(setting, columns, curves, close, stay, memory, active)
    stay.status[active] = ALONE
    stay.variables = memory.variables
    return stay


def _round(
    setting: Setting,
    columns: Sequence[Column],
    curves: Mapping[int, Curve],
    close: float,
    stay: Stay,
    memory: _Memory,
    active: Whole,
) -> Whole:
    """One round for the active columns; those that are to go on."""
    here = memory.taken(active)
    view, arrived = looked_at(
        setting, [columns[n] for n in active], here.variables, stay.potentials[:, active], curves, close
    )
    stay.potentials[:, active] = view.potentials
    variables, edges = after(view, here.edges)
    changed = np.zeros(len(active), dtype=bool)
    for n, row in variables.items():
        changed |= row != here.variables[n]
    status = np.where(arrived, ACTIVE, ALONE)
    for node, curve in curves.items():
        volts = view.potentials[node]
        status[(status == ACTIVE) & ((volts < curve.low) | (volts > curve.high))] = WIDER
    if curves:
        for n in setting.sheet.part.exported:
            status[(status == ACTIVE) & (variables[n] != setting.memory.variables[n])] = WIDER
    goes = _goes(setting, view, here.variables, np.flatnonzero((status == ACTIVE) & ~changed), stay.events, active, variables)
    done = (status == ACTIVE) & ~changed & ~goes
    status[done] = DONE
    memory.put(active, _Memory(variables, edges))
    stay.status[active] = status
    rest = np.flatnonzero(done)
    if len(rest):
        for k in setting.stated:
            stay.states[k][active[rest]] = states_of(view, k)[rest]
        _overloaded(setting, view, rest, stay.events, active, variables)
    return active[status == ACTIVE]


# -- one look ----------------------------------------------------------------------------------------------------


def looked_at(
    setting: Setting,
    columns: Sequence[Column],
    variables: Mapping[int, Whole],
    start: Floats,
    curves: Mapping[int, Curve],
    close: float,
    *,
    driven: Floats | None = None,
    found: list[Any] | None = None,
) -> tuple[View, Marks]:
    """Solve columns for given memory.

    Parameters
    ----------
    setting
        What is the same in all of them.
    columns
        The cases.
    variables
        Values of the part's own.
    start
        Potentials to begin from [V], [node, case].
    curves
        What the other parts take at each hub.
    close
        When a solution has arrived [V].
    driven
        Volts at the sheet's last node, where it is driven [V].
    found
        Takes the solution itself, where one is wanted.

    Returns
    -------
    tuple
        The view, and which cases arrived.
    """
    sheet, count = setting.sheet, start.shape[1]
    forced = _forced(columns)
    live_works = {k: held(_works(setting, k), _bare(setting, variables, start)) for k in setting.turning}
    conductance = _conductances(setting, variables, forced, count, start)
    g, bridges, extra = _edges(setting, conductance, forced, columns, count)
    laws = _laws(setting, columns, live_works, count)
    magnetos = [k for k, law in enumerate(setting.laws) if isinstance(law, Magneto)]
    kept = g.copy() if magnetos else None
    batch = Batch(sheet, g, laws, curves, driven, bridges)
    result = solved(batch, start, close=close)
    other: dict[int, list[tuple[int, Law]]] = {}
    for n, column in enumerate(columns):
        for k, law in column.laws:
            other.setdefault(k, []).append((n, law))
    view = View(
        sheet=sheet,
        potentials=result.potentials,
        levers=setting.memory.levers,
        variables=variables,
        rest=setting.memory.variables,
        conductance=conductance,
        law_arrays=laws,
        laws=setting.laws,
        works={**setting.works, **live_works, **_dynamic_works(setting, variables, start)},
        other_laws=other,
        fed_hubs=setting.fed_hubs,
        extra=extra,
    )
    for k in magnetos:
        assert kept is not None
        view.magneto_ohms = {**view.magneto_ohms, k: _ohms(view, kept, curves, k, bridges, close)}
    if found is not None:
        found.append(result)
    return view, result.arrived


def _works(setting: Setting, place: int) -> Condition | None:
    return setting.sheet.network.branches[setting.sheet.part.branches[place]].works


def _bare(setting: Setting, variables: Mapping[int, Whole], start: Floats) -> View:
    """A view that knows levers and memory only."""
    return View(
        setting.sheet, start, setting.memory.levers, variables, setting.memory.variables, {}, setting.arrays,
        setting.laws, {},
    )  # fmt: skip


def _dynamic_works(setting: Setting, variables: Mapping[int, Whole], start: Floats) -> dict[int, Any]:
    wanted = [k for k in setting.works if k in setting.dynamic]
    bare = _bare(setting, variables, start)
    return {k: held(_works(setting, k), bare) for k in wanted}


def _forced(columns: Sequence[Column]) -> dict[int, list[tuple[int, float]]]:
    forced: dict[int, list[tuple[int, float]]] = {}
    for n, column in enumerate(columns):
        for k, g in column.forced:
            forced.setdefault(k, []).append((n, g))
    return forced


def _conductances(
    setting: Setting, variables: Mapping[int, Whole], forced: Mapping[int, list[tuple[int, float]]], count: int, start: Floats
) -> dict[int, Any]:
    """Conductance of each straight branch: one number, or one a case; of live ones what stands in their place."""
    found: dict[int, Any] = dict(setting.constant)
    bare = _bare(setting, variables, start) if setting.dynamic else None
    for k in setting.dynamic:
        branch = setting.sheet.network.branches[setting.sheet.part.branches[k]]
        law = setting.laws[k]
        assert not isinstance(law, LIVE)
        assert bare is not None
        g: Any = law.conductance(True, setting.lever(k))
        if branch.works is not None:
            g = np.where(held(branch.works, bare)[0], g, law.conductance(False, setting.lever(k)))
        if branch.closed is not None:
            g = np.where(held(branch.closed, bare)[0], g, OPEN)
        found[k] = np.array(g * np.ones(count))
    for k, cases in forced.items():
        row = found.get(k, 0.0) * np.ones(count)
        pick = [n for n, _ in cases]
        row[pick] = [g for _, g in cases]
        found[k] = row
    for k in setting.dynamic:
        memory = setting.sheet.network.branches[setting.sheet.part.branches[k]].memory
        if memory >= 0 and isinstance(setting.laws[k], Fuse | Cartridge):
            gone = np.asarray(bare.variable(memory) if bare else 0) > 0
            found[k] = np.where(gone, np.minimum(found[k], OPEN), found[k])
    return found


def _edges(
    setting: Setting,
    conductance: Mapping[int, Any],
    forced: Mapping[int, Any],
    columns: Sequence[Column],
    count: int,
) -> tuple[Floats, Any, list[tuple[int, int, Marks]]]:
    """Conductances of all edges, the bridges that no edge takes, and the marks of what hangs together by extras."""
    sheet = setting.sheet
    g = np.repeat(setting.base_edges[:, None], count, axis=1)
    for edge in {sheet.edge[k] for k in (*setting.dynamic, *forced)} - {-1}:
        g[edge] = sum(conductance[k] for k in sheet.on_edge.get(edge, ()))
        for k in forced:
            if sheet.edge[k] == edge and isinstance(setting.laws[k], LIVE):
                g[edge] += conductance[k]
    first = second = None
    strength = np.zeros(count)
    extra = []
    for n, column in enumerate(columns):
        for a, b, siemens in column.extra:
            mark = np.zeros(count, dtype=bool)
            mark[n] = True
            extra.append((a, b, mark))
            edge = sheet.order.number.get((min(a, b), max(a, b)), -1)
            if edge >= 0:
                g[edge, n] += siemens
            elif a != b:
                if first is None or second is None:
                    first, second = np.zeros(count, dtype=np.intp), np.zeros(count, dtype=np.intp)
                first[n], second[n], strength[n] = a, b, siemens
    return g, None if first is None else (first, second, strength), extra


def _laws(setting: Setting, columns: Sequence[Column], works: Mapping[int, Any], count: int) -> LawArrays:
    """The live branches' parameters, with what single cases change in them."""
    sheet = setting.sheet
    changed = [(n, k, law) for n, column in enumerate(columns) for k, law in column.laws if k in set(sheet.live)]
    if not changed and not works:
        return setting.arrays
    wide = LawArrays(
        *(np.repeat(getattr(setting.arrays, name), count, axis=-1) for name in LawArrays.__slots__)
    )
    for k, (so, _) in works.items():
        if k in sheet.pieces:
            _turned(setting, wide, k, np.broadcast_to(np.asarray(so), (count,)))
    for n, k, law in changed:
        _put(setting, wide, n, k, law)
    return wide


def _turned(setting: Setting, wide: LawArrays, place: int, so: Marks) -> None:
    row = setting.sheet.pieces.index(place)
    for value in (True, False):
        breaks, slopes, offsets = pieces_row(setting.pieces(place, value, setting.laws[place]), MOST_BREAKS)
        pick = so if value else ~so
        wide.breaks[row][:, pick] = np.array(breaks)[:, None]
        wide.slopes[row][:, pick] = np.array(slopes)[:, None]
        wide.offsets[row][:, pick] = np.array(offsets)[:, None]


def _put(setting: Setting, wide: LawArrays, case: int, place: int, law: Law) -> None:
    """Another law of the same sort; or, where a straight one stands in its place, none at all."""
    sheet = setting.sheet
    if place in sheet.filaments:
        row = sheet.filaments.index(place)
        wide.full[row, case] = law.amps / law.volts if isinstance(law, Filament) else 0.0
        if isinstance(law, Filament):
            wide.per_volt[row, case], wide.cold4[row, case] = 1 / law.volts, law.cold**4
    elif place in sheet.powers:
        row = sheet.powers.index(place)
        wide.power[row, case] = law.power if isinstance(law, ConstantPower) else 0.0
        if isinstance(law, ConstantPower):
            wide.knee[row, case] = law.works_from
    else:
        row = sheet.pieces.index(place)
        pieces = Pieces((), (0.0,), (0.0,))
        if isinstance(law, PIECEWISE):
            pieces = setting.pieces(place, bool(setting.works.get(place, (True,))[0]), law)
        wide.breaks[row, :, case], wide.slopes[row, :, case], wide.offsets[row, :, case] = pieces_row(pieces, MOST_BREAKS)


def _ohms(view: View, g: Floats, curves: Mapping[int, Curve], place: int, bridges: Any, close: float) -> Floats:
    """Ohms from one end of a magneto to the other through all the rest."""
    count = view.count
    a, b = view.sheet.ends[place]
    ends = np.full(count, a), np.full(count, b), np.full(count, TINY)
    if bridges is not None:
        return np.full(count, np.inf)  # a bridge beside it: its cases are settled alone
    measuring = Batch(view.sheet, g.copy(), view.law_arrays, curves, None, ends)
    result = solved(measuring, view.potentials, close=close)
    assert result.bridged is not None
    return result.bridged


# -- what goes ---------------------------------------------------------------------------------------------------


def _goes(
    setting: Setting,
    view: View,
    now: Mapping[int, Whole],
    calm: Whole,
    events: list[list[Event]],
    active: Whole,
    variables: dict[int, Whole],
) -> Marks:
    """Fire a cartridge or blow the most overloaded fuse of each calm column; which columns lost one."""
    lost = np.zeros(view.count, dtype=bool)
    worst = np.ones(view.count)
    which = np.full(view.count, -1)
    network, part = setting.sheet.network, setting.sheet.part
    marks = np.zeros(view.count, dtype=bool)
    marks[calm] = True
    candidates = [k for k, law in enumerate(setting.laws) if isinstance(law, Fuse | Cartridge)]
    for k in candidates:
        memory = network.branches[part.branches[k]].memory
        if memory < 0 or memory not in now:
            continue
        limit = np.full(view.count, _goes_at(setting.laws[k]))
        for case, law in view.other_laws.get(k, ()):
            limit[case] = _goes_at(law)
        over = np.abs(view.amps(k)) / limit
        if isinstance(setting.laws[k], Cartridge):
            over = np.where(over >= 1.0, np.where(which >= 0, np.where(worst > 1e6, 0.0, 1e9), 1e9), 0.0)
        better = marks & (now[memory] == 0) & (over > worst)
        worst, which = np.where(better, over, worst), np.where(better, k, which)
    for case in np.flatnonzero(which >= 0):
        k = int(which[case])
        branch = network.branches[part.branches[k]]
        law = next((law for n, law in view.other_laws.get(k, ()) if n == case), setting.laws[k])
        what = "fired" if isinstance(law, Cartridge) else "blown"
        amps = float(abs(view.amps(k)[case]))
        events[active[case]].append(Event(what, (branch.name,), amps, _goes_at(law)))
        row = variables[branch.memory]
        if row is now[branch.memory]:
            row = variables[branch.memory] = row.copy()
        row[case] = 1
        lost[case] = True
    return lost


def _goes_at(law: Law) -> float:
    return law.fusing if isinstance(law, Fuse) else law.all_fire if isinstance(law, Cartridge) else np.inf


def _overloaded(
    setting: Setting,
    view: View,
    rest: Whole,
    events: list[list[Event]],
    active: Whole,
    variables: Mapping[int, Whole],
) -> None:
    network, part = setting.sheet.network, setting.sheet.part
    for k, law in enumerate(setting.laws):
        branch = network.branches[part.branches[k]]
        if not isinstance(law, Fuse) or branch.memory not in variables:
            continue
        amps = np.abs(view.amps(k))
        limit = np.full(view.count, law.carrying)
        for case, other in view.other_laws.get(k, ()):
            limit[case] = other.carrying if isinstance(other, Fuse) else np.inf
        for case in rest[(amps[rest] > limit[rest] * 1.0001) & (variables[branch.memory][rest] == 0)]:
            events[active[case]].append(Event("overload", (branch.name,), float(amps[case]), float(limit[case])))
