"""One look at many columns: their conductances, one solution of all of them for a given memory, what is measured.

A :class:`Setting` is what is the same in all columns, :class:`Changes` what each changes in it. A look makes the
conductances of every case, solves them, and gives a view of what is measured.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    Solved,
    pieces_row,
    solved,
)
from loomlore.network.changes import Changes, Column, changes_of
from loomlore.network.compensating import Compensated, Places, compensated
from loomlore.network.conditions import Condition
from loomlore.network.laws import (
    OPEN,
    STOPPING,
    Cartridge,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Law,
    Pieces,
)
from loomlore.network.model import Branch
from loomlore.network.standing import NOTHING, Setting
from loomlore.network.stands import Stand
from loomlore.network.viewing import PERHAPS, View, Whole, held

__all__ = ["Known", "looked_at", "standing_edges", "timed"]

TINY = 1e-250
"""A bridge that only measures [S]."""


def looked_at(  # noqa: PLR0913  what one look takes
    setting: Setting,
    changes: Changes,
    variables: Mapping[int, Whole],
    start: Floats,
    curves: Mapping[int, Curve],
    close: float,
    *,
    driven: Floats | None = None,
    found: list[Any] | None = None,
    known: Known | None = None,
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
    known
        What was solved before of the same columns; what is solved now is put there.

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
        if known is None:
            done = _compensated(setting, conductance, changes, laws, start, close)
            result = _solved(setting, conductance, changes, laws, start, curves, driven, close, done)
        else:
            result = _solved_once(setting, conductance, changes, laws, start, close, known)
    else:
        result = _solved(setting, conductance, changes, laws, start, curves, driven, close, None)
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


def _compensated(
    setting: Setting,
    conductance: Floats,
    changes: Changes,
    laws: LawArrays,
    start: Floats,
    close: float,
) -> Compensated:
    assert setting.stand is not None
    places = _places(setting.stand, conductance, changes)
    return compensated(setting.stand, places, laws, start, close, fast=setting.fast)


@dataclass(eq=False)
class Known:
    """Solutions found before, by column and by what memory makes of it, and whether each arrived.

    ``which`` are the columns that are looked at now.
    """

    which: Whole = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    solutions: dict[tuple[int, bytes], tuple[Floats, bool]] = field(default_factory=dict)

    def of(self, which: Whole) -> Known:
        """The same for some columns."""
        return Known(which, self.solutions)


def _solved_once(
    setting: Setting,
    conductance: Floats,
    changes: Changes,
    laws: LawArrays,
    start: Floats,
    close: float,
    known: Known,
) -> Solved:
    """Solve what is not known; memory that shows in no conductance and no law makes no other case.

    The regulator of a machine that gives nothing is such a one.
    """
    keys = [(int(n), made) for n, made in zip(known.which, _made_of(setting, conductance, laws), strict=True)]
    fresh: dict[tuple[int, bytes], int] = {}
    for place, key in enumerate(keys):
        if key not in known.solutions:
            fresh.setdefault(key, place)
    if fresh:
        pick = np.array(list(fresh.values()))
        g, few, part = np.ascontiguousarray(conductance[:, pick]), changes.taken(pick), laws.columns(pick)
        begin = np.ascontiguousarray(start[:, pick])
        done = _compensated(setting, g, few, part, begin, close)
        result = _solved(setting, g, few, part, begin, {}, None, close, done)
        found = zip(result.potentials.T, result.arrived.tolist(), strict=True)
        known.solutions.update(zip(fresh, found, strict=True))
    solutions = [known.solutions[key] for key in keys]
    return Solved(
        np.array([volts for volts, _ in solutions]).T.copy(), np.array([arrived for _, arrived in solutions])
    )


def _made_of(setting: Setting, conductance: Floats, laws: LawArrays) -> list[bytes]:
    """What memory decides of each column: its moving contacts and its machines."""
    wide = [array for name in LawArrays.__slots__ if (array := getattr(laws, name)).shape[-1] > 1]
    rows = [conductance[list(setting.dynamic)], *(array.reshape(-1, array.shape[-1]) for array in wide)]
    table = np.ascontiguousarray(np.concatenate(rows).T)
    return [row.tobytes() for row in table]


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
    # a copy: which columns compensation itself did is asked again, for the ohms at a magneto
    result = Solved(done.potentials, done.arrived.copy())
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
    """Columns with more new branches than elimination carries to the last digit."""
    apart = changes.first != changes.second
    crowded: Marks = np.bincount(changes.at[apart], minlength=changes.count) > 1
    return crowded


def _holding(setting: Setting, changed: set[int]) -> Whole:
    """Of each branch, whether it holds its ends together whatever the case."""
    found = setting.holding.copy()
    found[list(changed)] = PERHAPS
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
