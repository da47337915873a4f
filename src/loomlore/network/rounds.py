"""From levers and memory to where many cases stay: the rounds of settling over arrays.

A round solves every case, and moves all coils, latches and sensed states at once; cases that have come to rest
lose their most overloaded fuse, or fire a cartridge, and go on. A memory that comes back is explored one flip at
a time, as :mod:`loomlore.network.settling` has it: no stable end chatters, several race. What a column cannot
decide is handed back: a case that does not arrive, or does not come to rest in a few rounds, is to be settled
*alone*; one that moves something outside its part is to be worked out *wider*.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from loomlore.network.arrays import Curve, Floats, Marks
from loomlore.network.changes import Changes
from loomlore.network.columns import Known, looked_at, timed
from loomlore.network.laws import Cartridge, Fuse, Law
from loomlore.network.settling import Event
from loomlore.network.standing import Setting
from loomlore.network.viewing import View, Whole, after, states_of

__all__ = ["ALONE", "DONE", "WIDER", "Stay", "settled_columns"]

ACTIVE, DONE, WIDER, ALONE = 0, 1, 2, 3
MOST_ROUNDS = 16


@dataclass(eq=False)
class Stay:
    """Where columns have come to rest, or what is to be done with them.

    ``potentials`` are [node, case] by the part's nodes, ``variables`` and ``states`` rows by variable and by
    place of branch; ``status`` is DONE, WIDER or ALONE; ``timers`` are
    the columns in which a latch's delays run; ``rounds`` how often all was solved.
    """

    potentials: Floats
    variables: dict[int, Whole]
    states: dict[int, Whole]
    status: Whole
    events: list[list[Event]]
    timers: dict[int, tuple[Marks, Marks]]
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

    def rows(self) -> Whole:
        """All of it, [row, case]."""
        pairs = [row for pair in self.edges.values() for row in pair]
        return np.array([*self.variables.values(), *pairs], dtype=np.int64)

    def of_rows(self, rows: Whole) -> _Memory:
        """The same from such rows."""
        count = len(self.variables)
        pairs = rows[count:]
        return _Memory(
            {n: rows[k].copy() for k, n in enumerate(self.variables)},
            {n: (pairs[2 * k].copy(), pairs[2 * k + 1].copy()) for k, n in enumerate(self.edges)},
        )


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
    setting: Setting, changes: Changes, start: Sequence[float], curves: Mapping[int, Curve], close: float
) -> Stay:
    """Let every column find where it stays.

    Parameters
    ----------
    setting
        Levers and memory that all begin from.
    changes
        What the columns change.
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
    sheet, count = setting.sheet, changes.count
    at = np.array([start[n] for n in sheet.part.nodes])
    stay = Stay(
        potentials=np.repeat(at[:, None], count, axis=1),
        variables={},
        states={k: np.zeros(count, dtype=np.int64) for k in setting.stated},
        status=np.zeros(count, dtype=np.int64),
        events=[[] for _ in range(count)],
        timers={n: (np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)) for n in _delayed(setting)},
    )
    run = _Rounds(setting, changes, curves, close, stay, _begun(setting, count))
    active = np.arange(count)
    while len(active) and stay.rounds < MOST_ROUNDS:
        stay.rounds += 1
        active = run.round(active)
    stay.status[active] = ALONE
    stay.variables = run.memory.variables
    return stay


def _delayed(setting: Setting) -> list[int]:
    """Latches of the part that have a delay."""
    rules = {n: setting.sheet.network.variables[n].latch for n in setting.sheet.part.variables}
    return [n for n, r in rules.items() if r and (r.set_after is not None or r.release_after is not None)]


@dataclass(eq=False)
class _Rounds:
    """The rounds of settling some columns.

    ``seen`` are memories by column, ``held`` those that chatter or race and are held where they are until a
    fuse goes.
    """

    setting: Setting
    changes: Changes
    curves: Mapping[int, Curve]
    close: float
    stay: Stay
    memory: _Memory
    seen: dict[int, set[bytes]] = field(default_factory=dict)
    held: set[int] = field(default_factory=set)

    def round(self, active: Whole) -> Whole:
        """One round for the active columns; those that are to go on."""
        stay = self.stay
        here = self.memory.taken(active)
        view, status, moved = self._look(active, here)
        stay.potentials[:, active] = view.potentials
        changed = np.zeros(len(active), dtype=bool)
        for n, row in moved.variables.items():
            changed |= row != here.variables[n]
        if self.held:
            self._hold(active, here, moved, changed)
        calm = np.flatnonzero((status == ACTIVE) & ~changed)
        goes = _goes(self.setting, view, here.variables, calm, stay.events, active, moved.variables)
        for place in np.flatnonzero(goes):
            self.seen.pop(int(active[place]), None)
            self.held.discard(int(active[place]))
        done = (status == ACTIVE) & ~changed & ~goes
        status[done] = DONE
        again = self._again(active, here, moved, np.flatnonzero((status == ACTIVE) & (changed | goes)))
        self.memory.put(active, moved)
        stay.status[active] = status
        rest = np.flatnonzero(done)
        if len(rest):
            view.wanted = rest
            for k in self.setting.stated:
                stay.states[k][active[rest]] = states_of(view, k)[rest]
            for n, running in timed(self.setting, view).items():
                for kept, runs in zip(stay.timers[n], running, strict=True):
                    kept[active[rest]] = runs[rest]
            _overloaded(self.setting, view, rest, stay.events, active, moved.variables)
        if again:
            self._explore(again)
        going: Whole = active[stay.status[active] == ACTIVE]
        return going

    def _look(self, which: Whole, memory: _Memory, known: Known | None = None) -> tuple[View, Whole, _Memory]:
        """Solve columns with a memory; which are ACTIVE still, and what memory they go to."""
        view, arrived = looked_at(
            self.setting,
            self.changes.taken(which),
            memory.variables,
            self.stay.potentials[:, which],
            self.curves,
            self.close,
            known=None if known is None else known.of(which),
        )
        variables, edges = after(view, memory.edges)
        status = np.where(arrived, ACTIVE, ALONE)
        for node, curve in self.curves.items():
            volts = view.potentials[node]
            status[(status == ACTIVE) & ((volts < curve.low) | (volts > curve.high))] = WIDER
        if self.curves:
            for n in self.setting.sheet.part.exported:
                status[(status == ACTIVE) & (variables[n] != self.setting.memory.variables[n])] = WIDER
        return view, status, _Memory(variables, edges)

    def _hold(self, active: Whole, here: _Memory, moved: _Memory, changed: Marks) -> None:
        held = np.array([int(n) in self.held for n in active])
        changed[held] = False
        for n, row in moved.variables.items():
            moved.variables[n] = np.where(held, here.variables[n], row)
        for n, (a, b) in moved.edges.items():
            was = here.edges[n]
            moved.edges[n] = np.where(held, was[0], a), np.where(held, was[1], b)

    def _again(self, active: Whole, here: _Memory, moved: _Memory, places: Whole) -> list[int]:
        """Columns whose memory came back."""
        if not len(places):
            return []
        before, now = here.rows(), moved.rows()
        found = []
        for place in places:
            column = int(active[place])
            seen = self.seen.setdefault(column, set())
            if not seen and not self.stay.events[column]:
                seen.add(before[:, place].tobytes())
            key = now[:, place].tobytes()
            if key in seen:
                found.append(column)
            seen.add(key)
        return found

    def _explore(self, again: list[int]) -> None:
        """Explore single flips of memories that came back: no end chatters, several race."""
        searches = {column: _Search(self.memory.rows()[:, column]) for column in again}
        count = len(self.setting.sheet.part.variables)
        known = Known()
        while heads := [(c, s.waiting.popleft()) for c, s in searches.items() for _ in range(len(s.waiting))]:
            columns, rows = [column for column, _ in heads], np.array([row for _, row in heads]).T
            _, status, moved = self._look(np.array(columns), self.memory.of_rows(rows), known)
            now = moved.rows()
            for place, column in enumerate(columns):
                if column not in searches:
                    continue
                if status[place] != ACTIVE or len(searches[column].seen) >= MOST_FLIPS:
                    self.stay.status[column] = status[place] if status[place] != ACTIVE else ALONE
                    del searches[column]
                else:
                    searches[column].went(rows[:, place], now[:, place], count)
        names = [self.setting.sheet.network.variables[n].name for n in self.setting.sheet.part.variables]
        for column, search in searches.items():
            chosen, event = search.ended(names, count)
            if event is not None:
                self.stay.events[column].append(event)
            self.memory.put(np.array([column]), self.memory.of_rows(chosen[:, None]))
            self.held.add(column)


MOST_FLIPS = 400


class _Search:
    """One column's search for an end, as :mod:`loomlore.network.settling` has it."""

    def __init__(self, first: Whole) -> None:
        self.first = first
        self.waiting = deque([first])
        self.seen: set[bytes] = set()  # of memories that are waiting, or have been
        self.ends: list[Whole] = []
        self.restless: set[int] = set()

    def went(self, here: Whole, after: Whole, count: int) -> None:
        """Take in where one memory goes; its first ``count`` rows are the variables."""
        self.seen.add(here[:count].tobytes())
        wants = [int(n) for n in np.flatnonzero(here[:count] != after[:count])]
        if not wants:
            self.ends.append(after)
        self.restless.update(wants)
        for number in wants:
            there = np.concatenate([here[:count], after[count:]])
            there[number] = after[number]
            if (key := there[:count].tobytes()) not in self.seen:
                self.seen.add(key)
                self.waiting.append(there)

    def ended(self, names: list[str], count: int) -> tuple[Whole, Event | None]:
        """The memory it is held at, and what is to be said."""
        if not self.ends:
            return self.first, Event("chatters", tuple(names[n] for n in sorted(self.restless)))
        self.ends.sort(key=lambda end: tuple(end[:count]))
        if len(self.ends) == 1:
            return self.ends[0], None
        differing = [n for n in range(count) if len({int(end[n]) for end in self.ends}) > 1]
        return self.ends[0], Event("race", tuple(names[n] for n in differing))


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
    for k in setting.fuses:
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
    others = {k: dict(view.other_laws.get(k, ())) for k in setting.fuses}
    for case in np.flatnonzero(which >= 0).tolist():
        k = int(which[case])
        branch = network.branches[part.branches[k]]
        law = others[k].get(case, setting.laws[k])
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
    for k in setting.fuses:
        law, branch = setting.laws[k], network.branches[part.branches[k]]
        if not isinstance(law, Fuse) or branch.memory not in variables:
            continue
        amps = np.abs(view.amps(k))
        limit = np.full(view.count, law.carrying)
        for case, other in view.other_laws.get(k, ()):
            limit[case] = other.carrying if isinstance(other, Fuse) else np.inf
        for case in rest[(amps[rest] > limit[rest] * 1.0001) & (variables[branch.memory][rest] == 0)]:
            events[active[case]].append(
                Event("overload", (branch.name,), float(amps[case]), float(limit[case]))
            )
