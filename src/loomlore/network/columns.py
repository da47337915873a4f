"""Cases of one part as columns: what each changes, and one solution of all of them for a given memory.

A :class:`Setting` is a part with its levers and what everything remembers, the same in every column; a
:class:`Column` is what one case changes in it, :class:`Changes` are those of many as arrays. One look makes the
conductances of every case, solves them, and gives a view of what is measured.
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
    Solved,
    law_arrays,
    pieces_row,
    solved,
)
from loomlore.network.cases import Case
from loomlore.network.compensating import MOST_CHANGES, MOST_COMPILED, Compensated, Places, compensated
from loomlore.network.conditions import ALWAYS, NEVER, Condition, Measured, StateIs, judge, leaves
from loomlore.network.laws import (
    OPEN,
    STOPPING,
    Cartridge,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Law,
    Magneto,
    Pieces,
    Source,
)
from loomlore.network.model import Branch
from loomlore.network.settling import Memory
from loomlore.network.solving import ISLAND
from loomlore.network.stands import Stand
from loomlore.network.viewing import HOLDS, NEVER_HOLDS, PERHAPS, View, Whole, held

__all__ = [
    "Changes",
    "Column",
    "Setting",
    "changes_of",
    "column_of",
    "looked_at",
    "standing_edges",
    "timed",
]

TINY = 1e-250
"""A bridge that only measures [S]."""
NOTHING = 1e-30
"""What every node has to the airframe [S], so that no pivot is nought."""


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
        if (
            (branch.a, branch.b) != (old.a, old.b)
            or not _plain(branch.closed)
            or branch.follows not in (-1, old.follows)
        ):
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
    return any(
        isinstance(old, kind) and isinstance(new, kind) for kind in (Filament, ConstantPower, PIECEWISE)
    )


@dataclass(eq=False)
class Setting:
    """A sheet with its levers and what everything remembers: what is the same in every column.

    ``standing`` are the states of the branches in ``stated`` as the installation stands, ``stand`` its answers
    where columns are to be worked out by what they change; ``fast`` asks for the compiled kernel.
    """

    sheet: Sheet
    memory: Memory
    fed_hubs: tuple[int, ...] = ()
    laws: list[Law] = field(init=False)
    constant: dict[int, float] = field(init=False)
    dynamic: tuple[int, ...] = field(init=False)
    base_edges: Floats = field(init=False)
    constants: Floats = field(init=False)
    edge_of: Whole = field(init=False)
    dynamic_edges: tuple[int, ...] = field(init=False)
    alone_on_edge: Marks = field(init=False)
    magnetos: tuple[int, ...] = field(init=False)
    fuses: tuple[int, ...] = field(init=False)
    arrays: LawArrays = field(init=False)
    works: dict[int, Any] = field(init=False)
    turning: tuple[int, ...] = field(init=False)
    stated: tuple[int, ...] = field(init=False)
    standing: tuple[int, ...] = ()
    stand: Stand | None = None
    restrained: tuple[int, ...] = field(init=False)
    holding: Whole = field(init=False)
    tested: tuple[int, ...] = field(init=False)
    fast: bool = False
    reached: dict[int, frozenset[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Judge what no column can change."""
        sheet, own = self.sheet, set(self.sheet.part.variables)
        branches = [sheet.network.branches[n] for n in sheet.part.branches]
        self.laws = [self._law(branch) for branch in branches]
        self.dynamic = tuple(k for k in sheet.straight if _moves(branches[k], own))
        self.works = {
            k: self._truth(branches[k].works) for k in range(len(branches)) if branches[k].works is not None
        }
        self.turning = tuple(
            k for k in self.works if k not in self.dynamic and _speaks(branches[k].works, own)
        )
        moving = set(self.dynamic)
        self.constant = {k: self._conductance(k, branches[k]) for k in sheet.straight if k not in moving}
        self.base_edges = np.zeros(len(sheet.order.edges))
        self.base_edges[: sheet.order.nodes - 1] = NOTHING
        for k, g in self.constant.items():
            if sheet.edge[k] >= 0:
                self.base_edges[sheet.edge[k]] += g
        self.constants = np.zeros(len(branches))
        for k, g in self.constant.items():
            self.constants[k] = g
        self.edge_of = np.array(sheet.edge, dtype=np.int64)
        self.dynamic_edges = tuple(sorted({sheet.edge[k] for k in self.dynamic} - {-1}))
        shared = [len(sheet.on_edge.get(sheet.edge[k], ())) > 1 for k in range(len(branches))]
        live = set(sheet.live)
        self.alone_on_edge = np.array(
            [sheet.edge[k] >= 0 and not shared[k] and k not in live for k in range(len(branches))], dtype=bool
        )
        self.magnetos = tuple(k for k, law in enumerate(self.laws) if isinstance(law, Magneto))
        self.fuses = tuple(k for k, law in enumerate(self.laws) if isinstance(law, Fuse | Cartridge))
        pieces = [self.pieces(k, self.works.get(k, (True,))[0], self.laws[k]) for k in sheet.pieces]
        self.arrays = law_arrays(sheet, self.laws, pieces)
        self.restrained = tuple(k for k in sheet.pieces if _speaks(branches[k].restrained, own))
        self.holding = _holding_as_it_stands(self)
        self.tested = _tested_nodes(sheet)
        self.stated = tuple(k for k, b in enumerate(branches) if b.law.states or b.memory >= 0)

    def _law(self, branch: Branch) -> Law:
        """As the branch says; a machine's with its full field where its regulator does not feel its volts."""
        if branch.restrained is not None and isinstance(branch.law, Generator):
            return branch.law if self._truth(branch.restrained)[0] else branch.law.unbridled()
        return branch.law

    def feels(self, place: int) -> bool:
        """Whether a machine's regulator feels its volts as things stand."""
        branch = self.sheet.network.branches[self.sheet.part.branches[place]]
        return branch.restrained is None or self._truth(branch.restrained)[0]

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

    def reach(self, place: int) -> frozenset[int]:
        """The nodes that a branch hangs together with by any branch, the airframe apart."""
        if place not in self.reached:
            around: dict[int, set[int]] = {}
            for a, b in self.sheet.ends:
                around.setdefault(a, set()).add(b)
                around.setdefault(b, set()).add(a)
            found = {node for node in self.sheet.ends[place] if node}
            waiting = list(found)
            while waiting:
                fresh = around[waiting.pop()] - found - {0}
                found |= fresh
                waiting += fresh
            self.reached[place] = frozenset(found)
        return self.reached[place]

    def _conductance(self, place: int, branch: Branch) -> float:
        if branch.closed is not None and not self._truth(branch.closed)[0]:
            return OPEN
        assert not isinstance(branch.law, LIVE)
        return branch.law.conductance(self.works.get(place, (True,))[0], self.lever(place))


def _tested_nodes(sheet: Sheet) -> tuple[int, ...]:
    """Nodes whose volts something asks for, and asks whether there are any."""
    found: set[int] = set()
    for number in sheet.part.variables:
        variable = sheet.network.variables[number]
        rule = variable.latch
        parts = (rule.set, rule.release, rule.set_on, rule.release_on) if rule is not None else ()
        for test in (variable.test, *parts):
            for leaf in leaves(test) if test is not None else ():
                if isinstance(leaf, Measured) and leaf.of == "volts":
                    found.update(
                        sheet.local[node] for node in (leaf.a, max(leaf.b, 0)) if node in sheet.local
                    )
    return tuple(sorted(found))


def _moves(branch: Branch, own: set[int]) -> bool:
    if branch.memory >= 0 and isinstance(branch.law, Fuse | Cartridge):
        return True
    return _speaks(branch.closed, own) or _speaks(branch.works, own)


def _speaks(condition: Condition | None, own: set[int]) -> bool:
    return condition is not None and any(
        isinstance(leaf, StateIs) and leaf.variable in own for leaf in leaves(condition)
    )


@dataclass(eq=False)
class Changes:
    """What columns change, as arrays: a row for each change, whatever the column.

    ``place``, ``column`` and ``siemens`` are of forced branches; ``first``, ``second``, ``edge`` (-1: none has
    such an edge), ``at`` and ``strength`` of new ones; ``laws`` are (place, column, law).
    """

    count: int
    place: Whole
    column: Whole
    siemens: Floats
    first: Whole
    second: Whole
    edge: Whole
    at: Whole
    strength: Floats
    laws: list[tuple[int, int, Law]]

    def taken(self, pick: Whole) -> Changes:
        """Those of some of the columns, which are numbered anew; one may be taken more than once."""
        if len(pick) == self.count and (pick == np.arange(self.count)).all():
            return self
        forced, here = _rows_of(self.column, pick)
        extra, there = _rows_of(self.at, pick)
        places: dict[int, list[int]] = {}
        for new, column in enumerate(pick.tolist() if self.laws else ()):
            places.setdefault(column, []).append(new)
        return Changes(
            count=len(pick),
            place=self.place[forced],
            column=here,
            siemens=self.siemens[forced],
            first=self.first[extra],
            second=self.second[extra],
            edge=self.edge[extra],
            at=there,
            strength=self.strength[extra],
            laws=[(k, new, law) for k, n, law in self.laws for new in places.get(n, ())],
        )


def _rows_of(column: Whole, pick: Whole) -> tuple[Whole, Whole]:
    """Which rows are of the picked columns, and of which of them."""
    order = np.argsort(column, kind="stable")
    begin = np.searchsorted(column, pick, side="left", sorter=order)
    many = np.searchsorted(column, pick, side="right", sorter=order) - begin
    at = np.repeat(np.arange(len(pick)), many)
    within = np.arange(len(at)) - np.repeat(np.cumsum(many) - many, many)
    return order[np.repeat(begin, many) + within], at


def changes_of(sheet: Sheet, columns: Sequence[Column]) -> Changes:
    """Put columns together.

    Parameters
    ----------
    sheet
        Of the part.
    columns
        The cases.

    Returns
    -------
    Changes
        With as many columns.
    """
    number = sheet.order.number
    forced = [(k, n, g) for n, column in enumerate(columns) for k, g in column.forced]
    extra = [(a, b, n, g) for n, column in enumerate(columns) for a, b, g in column.extra]

    def whole(values: Sequence[int]) -> Whole:
        return np.array(values, dtype=np.int64)

    return Changes(
        count=len(columns),
        place=whole([k for k, _, _ in forced]),
        column=whole([n for _, n, _ in forced]),
        siemens=np.array([g for _, _, g in forced], dtype=float),
        first=whole([a for a, _, _, _ in extra]),
        second=whole([b for _, b, _, _ in extra]),
        edge=whole([number.get((a, b) if a < b else (b, a), -1) for a, b, _, _ in extra]),
        at=whole([n for _, _, n, _ in extra]),
        strength=np.array([g for _, _, _, g in extra], dtype=float),
        laws=[(k, n, law) for n, column in enumerate(columns) for k, law in column.laws],
    )


# -- one look ----------------------------------------------------------------------------------------------------


def looked_at(
    setting: Setting,
    changes: Changes,
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
    changes
        What the columns change.
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
    live_works = {k: held(_works(setting, k), _bare(setting, variables, start)) for k in setting.turning}
    conductance = _conductances(setting, variables, changes, start)
    bare = _bare(setting, variables, start)
    felt = {k: held(_branch(setting, k).restrained, bare)[0] for k in setting.restrained}
    laws = _laws(setting, changes, live_works, felt, count)
    done: Compensated | None = None
    if setting.stand is not None and driven is None and not curves:
        places = _places(setting.stand, conductance, changes)
        most = MOST_COMPILED if setting.fast else MOST_CHANGES
        done = compensated(setting.stand, places, laws, start, close, most=most)
    result = _solved(setting, conductance, changes, laws, start, curves, driven, close, done)
    other: dict[int, list[tuple[int, Law]]] = {}
    for k, n, law in changes.laws:
        other.setdefault(k, []).append((n, law))
    forced = set(changes.place.tolist())
    view = View(
        sheet=sheet,
        potentials=result.potentials,
        levers=setting.memory.levers,
        variables=variables,
        rest=setting.memory.variables,
        conductance=conductance,
        constant={k: g for k, g in setting.constant.items() if k not in forced},
        law_arrays=laws,
        laws=setting.laws,
        works={**setting.works, **live_works, **_dynamic_works(setting, variables, start)},
        other_laws=other,
        replaced=frozenset(forced),
        holding=_holding(setting, forced.union(other)),
        fed_hubs=setting.fed_hubs,
        extra=lambda: _joined_by_extras(changes),
    )
    if setting.magnetos:
        view.magneto = lambda k: _magneto(setting, changes, view, curves, k, close, done)
    if found is not None:
        found.append(result)
    return view, result.arrived


def _places(stand: Stand, conductance: Floats, changes: Changes) -> Places:
    """What is not as it stands: branches by their places, then new ones."""
    more = conductance - stand.straight[:, None]
    place, column = np.nonzero(more)
    new = np.flatnonzero(changes.first != changes.second)
    return Places(
        column=np.concatenate([column, changes.at[new]]),
        first=np.concatenate([stand.first[place], changes.first[new]]),
        second=np.concatenate([stand.second[place], changes.second[new]]),
        more=np.concatenate([more[place, column], changes.strength[new]]),
        place=np.concatenate([place, np.full(len(new), -1)]),
    )


def _solved(  # noqa: PLR0913, PLR0917  what one look is made of
    setting: Setting,
    conductance: Floats,
    changes: Changes,
    laws: LawArrays,
    start: Floats,
    curves: Mapping[int, Curve],
    driven: Floats | None,
    close: float,
    done: Compensated | None,
) -> Solved:
    """Eliminate in the columns that are not done; one that joins more than one pair of nodes anew is refused."""
    if done is None:
        g, bridges = _edges(setting, conductance, changes)
        batch = Batch(setting.sheet, g, laws, curves, driven, bridges, setting.fast)
        result = solved(batch, start, close=close)
        result.arrived &= ~_crowded(changes)
        return result
    result = Solved(done.potentials, done.arrived)
    rest = np.flatnonzero(~done.arrived)
    if len(rest):
        few = changes.taken(rest)
        g, bridges = _edges(setting, np.ascontiguousarray(conductance[:, rest]), few)
        batch = Batch(setting.sheet, g, laws.columns(rest), curves, None, bridges, setting.fast)
        other = solved(batch, np.ascontiguousarray(start[:, rest]), close=close)
        result.potentials[:, rest] = other.potentials
        result.arrived[rest] = other.arrived & ~_crowded(few)
    return result


def _crowded(changes: Changes) -> Marks:
    """Columns with more bridges than elimination carries."""
    apart = (changes.edge < 0) & (changes.first != changes.second)
    crowded: Marks = np.bincount(changes.at[apart], minlength=changes.count) > 1
    return crowded


def _holding(setting: Setting, changed: set[int]) -> Whole:
    """Of each branch, whether it holds its ends together whatever the case."""
    found = setting.holding.copy()
    found[list(changed)] = PERHAPS
    return found


def _holding_as_it_stands(setting: Setting) -> Whole:
    found = np.full(len(setting.laws), PERHAPS, dtype=np.int64)
    for k, law in enumerate(setting.laws):
        if isinstance(law, Magneto):
            found[k] = NEVER_HOLDS
        elif isinstance(law, LIVE):
            found[k] = PERHAPS if isinstance(law, Source) else HOLDS
        elif k in setting.constant:
            found[k] = HOLDS if setting.constant[k] >= ISLAND else NEVER_HOLDS
    return found


def _joined_by_extras(changes: Changes) -> list[tuple[int, int, Marks]]:
    """What new branches join, and in which columns."""
    marks: dict[tuple[int, int], Marks] = {}
    for a, b, n in zip(changes.first.tolist(), changes.second.tolist(), changes.at.tolist(), strict=True):
        marks.setdefault((a, b), np.zeros(changes.count, dtype=bool))[n] = True
    return [(a, b, mark) for (a, b), mark in marks.items()]


def _branch(setting: Setting, place: int) -> Branch:
    return setting.sheet.network.branches[setting.sheet.part.branches[place]]


def _works(setting: Setting, place: int) -> Condition | None:
    return _branch(setting, place).works


def _bare(setting: Setting, variables: Mapping[int, Whole], start: Floats) -> View:
    """A view that knows levers and memory only."""
    return View(
        sheet=setting.sheet,
        potentials=start,
        levers=setting.memory.levers,
        variables=variables,
        rest=setting.memory.variables,
        conductance=_NONE,
        constant={},
        law_arrays=setting.arrays,
        laws=setting.laws,
        works={},
    )


_NONE = np.zeros((0, 0))


def _dynamic_works(setting: Setting, variables: Mapping[int, Whole], start: Floats) -> dict[int, Any]:
    wanted = [k for k in setting.works if k in setting.dynamic]
    bare = _bare(setting, variables, start)
    return {k: held(_works(setting, k), bare) for k in wanted}


def _conductances(
    setting: Setting, variables: Mapping[int, Whole], changes: Changes, start: Floats
) -> Floats:
    """Conductance of each straight branch, and what stands in the place of live ones, [place, case]."""
    found = np.repeat(setting.constants[:, None], changes.count, axis=1)
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
        found[k] = g
    found[changes.place, changes.column] = changes.siemens
    for k in setting.dynamic:
        memory = setting.sheet.network.branches[setting.sheet.part.branches[k]].memory
        if memory >= 0 and isinstance(setting.laws[k], Fuse | Cartridge):
            gone = np.asarray(bare.variable(memory) if bare else 0) > 0
            if gone.any():
                found[k] = np.where(gone, np.minimum(found[k], OPEN), found[k])
    return found


def _edges(setting: Setting, conductance: Floats, changes: Changes) -> tuple[Floats, Any]:
    """Conductances of all edges, and the bridges that no edge takes."""
    sheet, count = setting.sheet, changes.count
    g = np.repeat(setting.base_edges[:, None], count, axis=1)
    for edge in setting.dynamic_edges:
        g[edge] = NOTHING + conductance[list(sheet.on_edge[edge])].sum(axis=0)
    edges = setting.edge_of[changes.place]
    straight = setting.alone_on_edge[changes.place]
    place, column = changes.place[straight], changes.column[straight]
    g[edges[straight], column] = conductance[place, column] + NOTHING
    for place, column in zip(
        changes.place[~straight].tolist(), changes.column[~straight].tolist(), strict=True
    ):
        edge = sheet.edge[place]
        if edge >= 0:
            among = {*sheet.on_edge.get(edge, ()), place}
            live = [k for k in sheet.live if sheet.edge[k] == edge and k != place]
            g[edge, column] = NOTHING + sum(conductance[k, column] for k in (*among, *live))
    on = changes.edge >= 0
    np.add.at(g, (changes.edge[on], changes.at[on]), changes.strength[on])
    apart = ~on & (changes.first != changes.second)
    if not apart.any():
        return g, None
    first, second = np.zeros(count, dtype=np.intp), np.zeros(count, dtype=np.intp)
    strength = np.zeros(count)
    at = changes.at[apart]
    first[at], second[at], strength[at] = changes.first[apart], changes.second[apart], changes.strength[apart]
    return g, (first, second, strength)


def _laws(
    setting: Setting, changes: Changes, works: Mapping[int, Any], felt: Mapping[int, Any], count: int
) -> LawArrays:
    """The live branches' parameters, with what single cases change in them.

    ``works`` says by place which machines work, ``felt`` which regulators feel their machine's volts, where the
    part's own memory decides it.
    """
    live = set(setting.sheet.live)
    changed = [(n, k, law) for k, n, law in changes.laws if k in live]
    standing = all(np.all(so == setting.feels(k)) for k, so in felt.items())
    if not changed and not works and standing:
        return setting.arrays
    wide = LawArrays(
        *(np.repeat(getattr(setting.arrays, name), count, axis=-1) for name in LawArrays.__slots__)
    )
    for k in {*works, *felt}.intersection(setting.sheet.pieces):
        so = works[k][0] if k in works else setting.works.get(k, (True,))[0]
        _turned(
            setting, wide, k, *(np.broadcast_to(np.asarray(m), (count,)) for m in (so, felt.get(k, True)))
        )
    for n, k, law in changed:
        if k in felt and isinstance(law, Generator) and not np.broadcast_to(felt[k], (count,))[n]:
            law = law.unbridled()  # noqa: PLW2901  the same machine, its regulator blind
        _put(setting, wide, n, k, law)
    return wide


def _turned(setting: Setting, wide: LawArrays, place: int, so: Marks, felt: Marks) -> None:
    """A piecewise branch that works in some columns, or is restrained in some."""
    row = setting.sheet.pieces.index(place)
    plain = _branch(setting, place).law if place in setting.restrained else setting.laws[place]
    for works in (True, False):
        for bridled in (True, False):
            pick = (so == works) & (felt == bridled)
            law = plain if bridled or not isinstance(plain, Generator) else plain.unbridled()
            if pick.any():
                rows = pieces_row(setting.pieces(place, works, law), MOST_BREAKS)
                for name, values in zip(("breaks", "slopes", "offsets"), rows, strict=True):
                    getattr(wide, name)[row][:, pick] = np.array(values)[:, None]


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
        wide.breaks[row, :, case], wide.slopes[row, :, case], wide.offsets[row, :, case] = pieces_row(
            pieces, MOST_BREAKS
        )


def _magneto(
    setting: Setting,
    changes: Changes,
    view: View,
    curves: Mapping[int, Curve],
    place: int,
    close: float,
    done: Compensated | None,
) -> Whole:
    """State of a magneto in every column: 1 where its ends are within a few ohms of each other, all in all.

    Where nothing in reach of it has been touched it is as it was. A bridge g takes g m^2 / (1 + g b) off the
    ohms, where one ampere through it makes b volts at itself and m here.
    """
    state = np.full(view.count, setting.standing[setting.stated.index(place)], dtype=np.int64)
    pick = _in_reach(setting, changes, place)
    if view.wanted is not None:
        pick = np.intersect1d(pick, view.wanted)
    ends = view.sheet.ends[place]
    if done is not None:
        sure = done.ohms(*ends, UNSURE)
        sure[~done.arrived | (np.abs(sure - STOPPING) < UNSURE)] = np.nan
        state[pick] = np.where(sure[pick] < STOPPING, 1, 0)
        pick = pick[np.isnan(sure[pick])]
    if not len(pick):
        return state
    g, bridges = _edges(setting, np.ascontiguousarray(view.conductance[:, pick]), changes.taken(pick))
    laws = view.law_arrays.columns(pick)

    def measured(a: Any, b: Any) -> tuple[Floats, Floats]:
        strength = np.full(len(pick), TINY)
        ends = np.broadcast_to(a, (len(pick),)).copy(), np.broadcast_to(b, (len(pick),)).copy(), strength
        batch = Batch(view.sheet, g.copy(), laws, curves, None, ends, setting.fast)
        result = solved(batch, np.ascontiguousarray(view.potentials[:, pick]), close=close)
        assert result.bridged is not None
        assert result.response is not None
        return result.bridged, result.response

    ohms, _ = measured(*ends)
    if bridges is not None:
        first, second, strength = bridges
        across, response = measured(first, second)
        here, there = (response[view.sheet.kept_place[end]] for end in ends)
        ohms = ohms - strength * (here - there) ** 2 / (1 + strength * across)
    state[pick] = np.where(ohms < STOPPING, 1, 0)
    return state


UNSURE = 0.1 * STOPPING
"""Nearer [ohm] to what stops a magneto than this, the ohms are worked out by elimination."""


def _in_reach(setting: Setting, changes: Changes, place: int) -> Whole:
    """Columns that touch what hangs together with a magneto, or all where memory or a hub might."""
    sheet = setting.sheet
    nodes = setting.reach(place)
    moves = any(nodes.intersection(sheet.ends[k]) for k in (*setting.dynamic, *setting.turning))
    if moves or nodes.intersection(sheet.local[hub] for hub in sheet.part.hubs):
        return np.arange(changes.count)
    near = np.zeros(sheet.order.nodes, dtype=bool)
    near[list(nodes)] = True
    ends = np.array(sheet.ends, dtype=np.int64)
    touched = np.zeros(changes.count, dtype=bool)
    touched[changes.column[near[ends[changes.place]].any(axis=1)]] = True
    touched[changes.at[near[changes.first] | near[changes.second]]] = True
    for k, n, _ in changes.laws:
        touched[n] |= bool(near[list(sheet.ends[k])].any())
    return np.flatnonzero(touched)


def standing_edges(setting: Setting) -> tuple[Floats, Floats]:
    """Conductances of a part as its setting has it.

    Parameters
    ----------
    setting
        The part.

    Returns
    -------
    tuple
        By edge and by place [S].
    """
    own = setting.sheet.part.variables
    variables = {n: np.full(1, setting.memory.variables[n], dtype=np.int64) for n in own}
    changes = changes_of(setting.sheet, [Column()])
    conductance = _conductances(setting, variables, changes, np.zeros((setting.sheet.order.nodes, 1)))
    edges, _ = _edges(setting, conductance, changes)
    return edges[:, 0], conductance[:, 0]


def timed(setting: Setting, view: View) -> dict[int, tuple[Marks, Marks]]:
    """Delays of a part that run: by latch, in which columns that of its setting does and that of its release.

    Parameters
    ----------
    setting
        The part.
    view
        Where its columns stay.

    Returns
    -------
    dict of int to tuple
        Marks; only latches that have a delay.
    """
    found = {}
    for number, now in view.variables.items():
        rule = setting.sheet.network.variables[number].latch
        if rule is None or (rule.set_after is None and rule.release_after is None):
            continue
        nothing = np.zeros(view.count, dtype=bool)
        sets = nothing if rule.set_after is None else held(rule.set, view)[0] & (now != 1)
        releases = nothing if rule.release_after is None else held(rule.release, view)[0] & (now != 0)
        found[number] = sets | nothing, releases | nothing
    return found
