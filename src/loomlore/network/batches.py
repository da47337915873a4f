"""Many cases at once: each worked out in its own part against a table of all the rest.

:class:`Bulk` stands for one settled installation, the base. A case is worked out in the part in which all its
changes are, with the other parts as curves at the hubs. When it would move something outside (a relay over
there lets go, a fuse in the other box blows, a coil in the part works a contact elsewhere), or reaches over
several parts, it is worked out in the whole network, as arrays too. What races or does not arrive is settled alone
by the one-by-one solver, whose answers all the others equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from loomlore.network.arrays import Curve, Floats, Sheet, sheet_of
from loomlore.network.cases import Case, solver_for
from loomlore.network.changes import Column, changes_of, column_of
from loomlore.network.columns import looked_at, standing_edges
from loomlore.network.kernel import compiled
from loomlore.network.model import Network
from loomlore.network.parts import Division, Part, divided, whole
from loomlore.network.rounds import DONE, Stay, settled_columns
from loomlore.network.screening import lone_columns, still_columns
from loomlore.network.settling import Event, Memory, Settled, settle
from loomlore.network.solving import CLOSE
from loomlore.network.standing import Setting
from loomlore.network.stands import Stand, stand_of
from loomlore.network.tabling import Table, less, linked, summed, tabled
from loomlore.network.viewing import View, states_of

__all__ = ["Bulk", "Outcome", "Outcomes", "bulk_of", "settle_cases"]

WIDTH = 512
"""Cases worked out together in a part: so many columns stay in the processor's cache."""

WHOLE_WIDTH = 256
ENTIRE_WIDTH = 2048
MOST_ENTIRE = 1500
"""Nodes up to which an installation's answers, a square of them, are kept: 18 MB, some 0.1 s a setting."""
TOP = 1.6
"""Tables go up to this many times the supply's volts."""


_Item = TypeVar("_Item")


@dataclass(eq=False)
class Bulk:
    """One settled installation, its parts and their tables; tables are made when first wanted.

    ``fast`` uses the compiled kernel. In an ``entire`` one every case is worked out in the whole, by what it
    changes there, and no table is wanted. ``store`` may be shared by the bulks of one network: what hangs at a hub
    is the same in many settings.
    """

    base: Settled
    fast: bool = False
    entire: bool = False
    store: dict[Any, Any] = field(default_factory=dict)
    settings: dict[int, Setting] = field(default_factory=dict)
    tables: dict[tuple[int, int], Table] = field(default_factory=dict)
    loads: dict[tuple[int, int], Curve] = field(default_factory=dict)
    totals: dict[int, Curve] = field(default_factory=dict)
    at_hubs: dict[tuple[int, int], Setting] = field(default_factory=dict)

    @cached_property
    def network(self) -> Network:
        """The network without fault."""
        return self.base.solution.solver.network

    @cached_property
    def division(self) -> Division:
        """Its parts."""
        return divided(self.network)

    @cached_property
    def close(self) -> float:
        """When a solution has arrived [V]."""
        return CLOSE * max(1.0, self.network.supply)

    def sheet(self, part: int, last: int | None = None) -> Sheet:
        """A part made ready; -1 is the whole."""
        key = ("sheet", part, last)
        if key not in self.store:
            record = whole(self.network) if part < 0 else self.division.parts[part]
            self.store[key] = sheet_of(self.network, record, last=last)
        sheet: Sheet = self.store[key]
        return sheet

    def setting(self, part: int) -> Setting:
        """A part as it stands in the base."""
        if part not in self.settings:
            self.settings[part] = _setting(self, self.sheet(part), self.base.memory)
            if part < 0:
                self.settings[part].stand = self.stand
        return self.settings[part]

    @cached_property
    def calm(self) -> bool:
        """Whether cases may be found to change nothing: there are answers, and all is at rest as it stands."""
        restless = {event.what for event in self.base.events} & {"chatters", "race", "stalled"}
        return self.stand is not None and not restless

    @cached_property
    def stand(self) -> Stand | None:
        """Answers of the whole as it stands."""
        if not self.entire:
            return None
        setting, solution = _setting(self, self.sheet(-1), self.base.memory), self.base.solution
        edges, straight = standing_edges(setting)
        return stand_of(
            setting.sheet,
            solution.potentials,
            edges,
            straight,
            setting.arrays,
            solution.islands,
            setting.works,
        )

    def floats(self, part: int) -> bool:
        """Whether one of a part's hubs is at no defined potential, so that its cases are worked out in the whole."""
        return any(self.base.solution.floats(hub) for hub in self.division.parts[part].hubs)

    def driven(self, part: int, hub: int) -> Setting:
        """A part as it stands in the base, made ready to be driven at a hub."""
        key = part, hub
        if key not in self.at_hubs:
            self.at_hubs[key] = _setting(self, self.sheet(part, hub), self.base.memory)
        return self.at_hubs[key]

    def table(self, part: int, hub: int) -> Table:
        """What a part takes at a hub."""
        key = part, hub
        if key not in self.tables:
            self.tables[key] = _table(self, part, hub)
        return self.tables[key]

    def load(self, part: int, hub: int) -> Curve:
        """What all other parts take at a part's hub."""
        key = part, hub
        if key not in self.loads:
            others = [self.table(n, hub).curve for n in self.division.at_hub[hub] if n != part]
            if (
                len(self.division.parts[part].hubs) > 1
            ):  # the sum of all is not known before this one's table is
                self.loads[key] = summed(others)
            else:
                self.loads[key] = less(self.total(hub), self.table(part, hub).curve, others)
        return self.loads[key]

    def total(self, hub: int) -> Curve:
        """What all parts take at a hub."""
        if hub not in self.totals:
            self.totals[hub] = summed([self.table(n, hub).curve for n in self.division.at_hub[hub]])
        return self.totals[hub]

    def same(self, part: int, hub: int) -> tuple[float, float]:
        """From which to which volts of a part's hub nothing outside it changes its state."""
        others = [self.table(other, hub) for other in self.division.at_hub[hub] if other != part]
        return max(t.same_low for t in others), min(t.same_high for t in others)

    def curves(self, part: int, but: int | None = None) -> dict[int, Curve]:
        """The loads at a part's hubs, by its own nodes."""
        sheet = self.sheet(part)
        return {sheet.local[hub]: self.load(part, hub) for hub in sheet.part.hubs if hub != but}


def bulk_of(
    base: Settled, *, like: Bulk | None = None, fast: bool | None = None, entire: bool | None = None
) -> Bulk:
    """Make an installation ready for many cases.

    Parameters
    ----------
    base
        Settled.
    like
        The same network in another setting: what they have in common is not made again.
    fast
        Whether to use the compiled kernel; None: where the extra ``[fast]`` is installed.
    entire
        Whether to work out cases in the whole by what they change there; None: where it is small enough.

    Returns
    -------
    Bulk
        For :func:`settle_cases`.
    """
    network = base.solution.solver.network
    same = like is not None and like.network is network
    use = compiled() is not None if fast is None else fast
    whole_at_once = len(network.node_names) <= MOST_ENTIRE if entire is None else entire
    store = like.store if same and like is not None and like.entire == whole_at_once else {}
    return Bulk(base, use, whole_at_once, store)


def _setting(bulk: Bulk, sheet: Sheet, memory: Memory) -> Setting:
    solution = bulk.base.solution
    fed = tuple(sheet.local[hub] for hub in sheet.part.hubs if not solution.floats(hub))
    setting = Setting(sheet, memory, fed)
    setting.fast = bulk.fast
    setting.standing = tuple(solution.state(sheet.part.branches[k]) for k in setting.stated)
    return setting


def _table(bulk: Bulk, part: int, hub: int) -> Table:
    """A leaf's table depends on its own levers and memory alone, and is kept for other settings."""
    sheet = bulk.sheet(part, hub)
    key = None
    if len(sheet.part.hubs) == 1:
        key = ("table", part, hub, _standing(bulk, sheet.part))
        if key in bulk.store:
            known: Table = bulk.store[key]
            return known
    setting = bulk.driven(part, hub)
    link = _link(setting, hub)
    if link is not None:
        far = next(other for other in sheet.part.hubs if other != hub)
        load = bulk.load(part, far)
        if load.volts[0] <= load.low <= load.high <= load.volts[-1]:
            return linked(link, load, bulk.same(part, far))
    made = tabled(
        setting,
        bulk.base.solution.potentials,
        hub,
        bulk.curves(part, but=hub),
        {sheet.local[other]: bulk.same(part, other) for other in sheet.part.hubs if other != hub},
        top=TOP * bulk.network.supply,
        close=bulk.close,
    )
    if key is not None:
        bulk.store[key] = made
    return made


LEAST_LINK = 1e-6


def _link(setting: Setting, hub: int) -> tuple[float, float, float] | None:
    """A part of conductors alone between two hubs: from the one to the other, and from each to the airframe [S]."""
    sheet = setting.sheet
    if len(sheet.part.hubs) != 2 or sheet.live or sheet.part.variables or setting.stated or setting.dynamic:
        return None
    g = dict(enumerate(setting.base_edges))
    steps = [*sheet.order.quiet, *sheet.order.live]
    hubs = {sheet.local[other] for other in sheet.part.hubs}
    if {step[0] for step in steps[-2:]} != hubs:
        return None
    for _, beside, fills in steps[:-2]:
        total = sum(g[edge] for _, edge in beside)
        for a, b, t in fills:
            g[t] += g[a] * g[b] / total
    near = sheet.local[hub]
    far = next(node for node in hubs if node != near)
    across = g.get(sheet.order.number.get((min(near, far), max(near, far)), -1), 0.0)
    return (across, g[near - 1], g[far - 1]) if across >= LEAST_LINK else None


def _standing(bulk: Bulk, part: Part) -> Any:
    memory, network = bulk.base.memory, bulk.network
    solution = bulk.base.solution
    levers = {network.branches[n].follows for n in part.branches} - {-1}
    return (
        tuple((solution.closed(n), solution.works(n)) for n in part.branches),
        tuple(memory.levers[n] for n in sorted(levers)),
        tuple(memory.variables[n] for n in part.variables),
        tuple(memory.edges[2 * n : 2 * n + 2] for n in part.variables),
        tuple(solution.state(n) for n in part.branches),
    )


# -- outcomes ------------------------------------------------------------------------------------------------------


@dataclass(eq=False)
class _Group:
    """Cases that were worked out together: in which part, and where they stay; ``cases`` are their numbers.

    In a ``still`` one nothing has moved.
    """

    bulk: Bulk
    part: int
    setting: Setting
    stay: Stay
    cases: Sequence[int]
    still: bool = False

    def beyond(
        self, pick: NDArray[np.intp], *, changed: bool = False
    ) -> Iterator[tuple[Setting, View, NDArray[np.intp]]]:
        """All other parts in some of the columns, from the volts at the hubs outwards.

        With ``changed`` only those, and of them those columns, where something may have changed its state.
        """
        if self.part < 0:
            return
        bulk, done = self.bulk, {self.part}
        part, local = self.setting.sheet.part, self.setting.sheet.local
        waiting = [(hub, self.stay.potentials[local[hub], pick], pick) for hub in part.hubs]
        while waiting:
            hub, volts, columns = waiting.pop()
            for other in bulk.division.at_hub[hub]:
                if other in done:
                    continue
                done.add(other)
                here, at = columns, volts
                if changed:
                    table = bulk.table(other, hub)
                    moved = (volts < table.same_low) | (volts > table.same_high)
                    here, at = columns[moved], volts[moved]
                if not len(here):
                    continue
                setting, view = _driven(bulk, other, hub, at)
                further = [far for far in setting.sheet.part.hubs if far != hub]
                waiting += [(far, view.potentials[setting.sheet.local[far]], here) for far in further]
                yield setting, view, here

    def moved(self) -> list[tuple[int, int, int, int]]:
        """Changes of state as (column, branch, before, now), the part's own and those beyond it."""
        if self.still:
            return []
        done = self.stay.status == DONE
        found = _moved(self.setting, self.stay.states, np.flatnonzero(done))
        for setting, view, columns in self.beyond(np.flatnonzero(done), changed=True):
            states = {k: states_of(view, k) for k in setting.stated}
            moved = _moved(setting, states, np.arange(len(columns)))
            found += [(int(columns[column]), branch, was, now) for column, branch, was, now in moved]
        return found


def _moved(
    setting: Setting, states: Mapping[int, NDArray[np.int64]], pick: NDArray[np.intp]
) -> list[tuple[int, int, int, int]]:
    found = []
    for k, before in zip(setting.stated, setting.standing, strict=True):
        row = states[k][pick]
        branch = setting.sheet.part.branches[k]
        found += [(int(pick[n]), branch, before, int(row[n])) for n in np.flatnonzero(row != before)]
    return found


def _driven(bulk: Bulk, part: int, hub: int, volts: Floats) -> tuple[Setting, View]:
    """A part as it stands, with its hub at other volts."""
    sheet, memory = bulk.sheet(part, hub), bulk.base.memory
    setting = bulk.driven(part, hub)
    at = np.array([bulk.base.solution.potentials[n] for n in sheet.part.nodes])
    variables = {n: np.full(len(volts), memory.variables[n], dtype=np.int64) for n in sheet.part.variables}
    start = np.repeat(at[:, None], len(volts), axis=1)
    changes = changes_of(sheet, [Column()] * len(volts))
    view, _ = looked_at(
        setting, changes, variables, start, bulk.curves(part, but=hub), bulk.close, driven=volts
    )
    return setting, view


@dataclass(frozen=True, eq=False, slots=True)
class Outcome:
    """Where one case stays. ``how`` is part, whole or alone."""

    bulk: Bulk
    how: str
    group: _Group | None = None
    column: int = 0
    settled: Settled | None = None

    @property
    def variables(self) -> tuple[int, ...]:
        """What everything remembers."""
        if self.settled is not None:
            return self.settled.memory.variables
        assert self.group is not None
        found = list(self.group.setting.memory.variables)
        for number, row in self.group.stay.variables.items():
            found[number] = int(row[self.column])
        return tuple(found)

    @property
    def timers(self) -> tuple[float | None, ...]:
        """Seconds left of every delay that runs; None where it does not."""
        if self.settled is not None:
            return self.settled.memory.timers
        assert self.group is not None
        before = self.group.setting.memory.timers
        found = list(before)
        for number, running in self.group.stay.timers.items():
            rule = self.bulk.network.variables[number].latch
            assert rule is not None
            for place, runs, after in zip(
                (2 * number, 2 * number + 1), running, (rule.set_after, rule.release_after), strict=True
            ):
                left = after if before[place] is None else before[place]
                found[place] = left if runs[self.column] else None
        return tuple(found)

    @property
    def events(self) -> tuple[Event, ...]:
        """What happened: blown, fired, overload, chatters, race, stalled."""
        if self.settled is not None:
            return self.settled.events
        assert self.group is not None
        own = self.group.stay.events[self.column]
        names = {self.bulk.network.branches[n].name for n in self.group.setting.sheet.part.branches}
        standing = [e for e in self.bulk.base.events if e.what == "overload" and e.names[0] not in names]
        return tuple(dict.fromkeys((*own, *standing)))

    @property
    def states(self) -> dict[int, int]:
        """State by branch, of all branches that have states."""
        if self.settled is not None:
            solution = self.settled.solution
            branches = self.bulk.network.branches
            return {n: solution.state(n) for n, b in enumerate(branches) if b.law.states or b.memory >= 0}
        assert self.group is not None
        part = self.group.setting.sheet.part
        branches, standing = self.bulk.network.branches, self.bulk.base.solution.state
        found = {part.branches[k]: int(row[self.column]) for k, row in self.group.stay.states.items()}
        if self.group.part >= 0:
            # what no hub leads to is as it was
            found = {n: standing(n) for n, b in enumerate(branches) if b.law.states or b.memory >= 0} | found
        for setting, view, _ in self.group.beyond(np.array([self.column])):
            found.update({setting.sheet.part.branches[k]: int(states_of(view, k)[0]) for k in setting.stated})
        return found

    @property
    def potentials(self) -> list[float]:
        """Potentials of all nodes [V]; outside the part they are worked out when asked for."""
        if self.settled is not None:
            return self.settled.solution.potentials
        assert self.group is not None
        found = list(self.bulk.base.solution.potentials)
        for setting, view, _ in self.group.beyond(np.array([self.column])):
            for node, row in zip(setting.sheet.part.nodes, view.potentials, strict=True):
                found[node] = float(row[0])
        own = self.group.stay.potentials[:, self.column]
        for node, volts in zip(self.group.setting.sheet.part.nodes, own, strict=True):
            found[node] = float(volts)
        return found


@dataclass(eq=False)
class Outcomes(Sequence[Outcome]):
    """Outcomes in the order of the cases; ``counts`` says how many were worked out how."""

    bulk: Bulk
    places: list[Outcome]
    groups: list[_Group]

    def __getitem__(self, number: Any) -> Any:
        return self.places[number]

    def __len__(self) -> int:
        return len(self.places)

    @property
    def counts(self) -> dict[str, int]:
        """How many in their part, in the whole, alone."""
        return {how: sum(o.how == how for o in self.places) for how in ("part", "whole", "alone")}

    @cached_property
    def changes(self) -> list[list[tuple[int, int, int]]]:
        """For each case the branches whose state is another than before: (branch, before, now)."""
        found: list[list[tuple[int, int, int]]] = [[] for _ in self.places]
        for group in self.groups:
            for column, branch, before, now in group.moved():
                found[group.cases[column]].append((branch, before, now))
        before_of = self.bulk.base.solution
        for number, outcome in enumerate(self.places):
            if outcome.settled is not None:
                states = outcome.states.items()
                found[number] = [(n, b, s) for n, s in states if (b := before_of.state(n)) != s]
        return found


# -- cases ---------------------------------------------------------------------------------------------------------


def settle_cases(bulk: Bulk, cases: Sequence[Case]) -> Outcomes:
    """Settle many cases.

    Parameters
    ----------
    bulk
        The installation before.
    cases
        What is changed in each.

    Returns
    -------
    Outcomes
        Equal to :func:`loomlore.network.cases.settled_case` one by one.
    """
    places: list[Outcome | None] = [None] * len(cases)
    groups: list[_Group] = []
    by_part: dict[int, list[tuple[int, _Read]]] = {}
    for number, case in enumerate(cases):
        read = _read(bulk, case)
        by_part.setdefault(read.part, []).append((number, read))
    wide = [number for number, _ in by_part.pop(-1, [])]
    for part, taken in sorted(by_part.items()):
        if bulk.floats(part):
            wide += [number for number, _ in taken]
            continue
        for chunk in _chunks(taken, WIDTH):
            numbers, reads = [number for number, _ in chunk], [read for _, read in chunk]
            wide += _worked_out(bulk, bulk.setting(part), part, reads, numbers, places, groups)
    by_memory: dict[Any, list[int]] = {}
    for number in sorted(wide):
        memory = cases[number].memory
        key = None if memory is None else (memory.levers, memory.variables, memory.edges)
        by_memory.setdefault(key, []).append(number)
    for numbers in by_memory.values():
        memory = cases[numbers[0]].memory
        setting = bulk.setting(-1)
        if memory is not None:
            setting = _setting(bulk, bulk.sheet(-1), memory)
            setting.stand = bulk.stand
        for some in _chunks(numbers, ENTIRE_WIDTH if bulk.entire else WHOLE_WIDTH):
            _worked_out(bulk, setting, -1, [_read(bulk, cases[n], -1) for n in some], some, places, groups)
    for number, outcome in enumerate(places):
        if outcome is None:
            places[number] = Outcome(bulk, "alone", settled=_alone(bulk, cases[number]))
    return Outcomes(bulk, [o for o in places if o is not None], groups)


def _alone(bulk: Bulk, case: Case) -> Settled:
    """Settle a case by itself; its solver is kept for the other settings."""
    known = bulk.store.setdefault("alone", {})
    key = case.branches, case.extra
    if key not in known:
        if len(known) >= MOST_ALONE:
            known.clear()
        known[key] = solver_for(bulk.base, case)
    return settle(known[key], bulk.base.memory if case.memory is None else case.memory)


MOST_ALONE = 300
"""Solvers of single cases that are kept, some 0.8 MB each (measured on the large example)."""


def _chunks(numbers: list[_Item], width: int) -> Iterator[list[_Item]]:
    for begin in range(0, len(numbers), width):
        yield numbers[begin : begin + width]


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """A case read once for a network: its part (-1: the whole), and as a column of it and of the whole."""

    case: Case
    part: int
    column: Column | None
    bridges: bool


def _read(bulk: Bulk, case: Case, part: int | None = None) -> _Read:
    """Read a case, or find it where it was read before; with a part given, as a column of that part."""
    known = bulk.store.setdefault("read" if part is None else "read in the whole", {})
    found: _Read | None = known.get(id(case))
    if found is not None and found.case is case:
        return found
    if len(known) > MOST_READ:
        known.clear()
    at = _part_of(bulk, case) if part is None else part
    sheet = bulk.sheet(at)
    column = column_of(sheet, case)
    known[id(case)] = found = _Read(case, at, column, column is not None and _needs_bridge(sheet, column))
    return found


MOST_READ = 200_000


def _part_of(bulk: Bulk, case: Case) -> int:
    """The part in which all of a case is; -1: the whole."""
    if bulk.entire or case.memory is not None or not bulk.division.at_hub:
        return -1
    division = bulk.division
    candidates: set[int] | None = None
    for number, _ in case.branches:
        at = {division.part_of_branch[number]}
        candidates = at if candidates is None else candidates & at
    for branch in case.extra:
        for node in (branch.a, branch.b):
            if node:
                hub = division.at_hub.get(node)
                at = {division.part_of_node[node]} if hub is None else set(hub)
                candidates = at if candidates is None else candidates & at
    return min(candidates) if candidates else -1


def _worked_out(
    bulk: Bulk,
    setting: Setting,
    part: int,
    reads: Sequence[_Read],
    numbers: list[int],
    places: list[Outcome | None],
    groups: list[_Group],
) -> list[int]:
    """Work out a chunk of cases; the numbers of those that are to be worked out wider."""
    how = "part" if part >= 0 else "whole"
    curves = bulk.curves(part) if part >= 0 else {}
    wider: list[int] = []
    # in a part, cases without a bridge need no second right-hand side; the whole is cheaper in one go
    for bridged in ((False,), (True,)) if part >= 0 else ((False, True),):
        taken = [(n, read.column) for n, read in zip(numbers, reads, strict=True) if read.bridges in bridged]
        chosen = [(n, column) for n, column in taken if column is not None]
        if not chosen:
            continue
        changes = changes_of(setting.sheet, [column for _, column in chosen])
        if setting is bulk.settings.get(-1) and bulk.calm:
            still = still_columns(setting, changes)
            numbers_still = [n for (n, _), yes in zip(chosen, still.tolist(), strict=True) if yes]
            group = _Group(
                bulk, part, setting, _standing_still(setting, len(numbers_still), bulk), numbers_still, True
            )
            groups.append(group)
            for column, number in enumerate(numbers_still):
                places[number] = Outcome(bulk, how, group, column)
            rest = np.flatnonzero(~still & ~lone_columns(setting, changes))
            if not len(rest):
                continue
            chosen, changes = [chosen[n] for n in rest.tolist()], changes.taken(rest)
        stay = settled_columns(setting, changes, bulk.base.solution.potentials, curves, bulk.close)
        group = _Group(bulk, part, setting, stay, [n for n, _ in chosen])
        groups.append(group)
        for column, (number, status) in enumerate(zip(group.cases, stay.status.tolist(), strict=True)):
            if status == DONE:
                places[number] = Outcome(bulk, how, group, column)
            elif part >= 0:  # wider, or not arrived: perhaps the whole does
                wider.append(number)
    return wider


def _standing_still(setting: Setting, count: int, bulk: Bulk) -> Stay:
    """Where columns stay in which nothing moves."""
    memory = setting.memory

    def row(value: int) -> NDArray[np.int64]:
        return np.broadcast_to(np.int64(value), (count,))

    def runs(place: int) -> NDArray[np.bool_]:
        return np.broadcast_to(np.bool_(memory.timers[place] is not None), (count,))

    delayed = [n for n in range(len(memory.timers) // 2) if memory.timers[2 * n : 2 * n + 2] != (None, None)]
    overloads = [event for event in bulk.base.events if event.what == "overload"]
    return Stay(
        potentials=np.broadcast_to(
            np.array(bulk.base.solution.potentials)[:, None], (len(setting.sheet.part.nodes), count)
        ),
        variables={n: row(memory.variables[n]) for n in setting.sheet.part.variables},
        states={k: row(state) for k, state in zip(setting.stated, setting.standing, strict=True)},
        status=row(DONE),
        events=[overloads] * count,
        timers={n: (runs(2 * n), runs(2 * n + 1)) for n in delayed},
    )


def _needs_bridge(sheet: Sheet, column: Column) -> bool:
    number = sheet.order.number
    return any(a != b and ((a, b) if a < b else (b, a)) not in number for a, b, _ in column.extra)
