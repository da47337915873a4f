"""Many cases at once: each worked out in its own part against a table of all the rest.

:class:`Bulk` stands for one settled installation, the base. A case is worked out in the part in which all its
changes are, with the other parts as curves at the hubs. When it would move something outside (a relay over
there lets go, a fuse in the other box blows, a coil in the part works a contact elsewhere), or reaches over
several parts, it is worked out in the whole network, as arrays too. What chatters, races or does not arrive is
settled alone by the one-by-one solver, whose answers all the others equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from loomlore.network.arrays import Curve, Floats, Sheet, sheet_of
from loomlore.network.cases import Case, settled_case
from loomlore.network.columns import ALONE, DONE, WIDER, Column, Setting, Stay, column_of, settled_columns
from loomlore.network.model import Network
from loomlore.network.parts import Division, Part, divided, whole
from loomlore.network.settling import Event, Memory, Settled
from loomlore.network.solving import CLOSE
from loomlore.network.tabling import Table, summed, tabled

__all__ = ["Bulk", "Outcome", "Outcomes", "bulk_of", "settle_cases"]

WIDTH = 512
"""Cases worked out together in a part: so many columns stay in the processor's cache."""

WHOLE_WIDTH = 256
TOP = 1.6
"""Tables go up to this many times the supply's volts."""


@dataclass(eq=False)
class Bulk:
    """One settled installation, its parts and their tables; tables are made when first wanted.

    ``store`` may be shared by the bulks of one network: what hangs at a hub is the same in many settings.
    """

    base: Settled
    store: dict[Any, Any] = field(default_factory=dict)
    settings: dict[int, Setting] = field(default_factory=dict)
    tables: dict[tuple[int, int], Table] = field(default_factory=dict)
    loads: dict[tuple[int, int], Curve] = field(default_factory=dict)

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
        return self.settings[part]

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
            others = [other for other in self.division.at_hub[hub] if other != part]
            self.loads[key] = summed([self.table(other, hub).curve for other in others])
        return self.loads[key]

    def curves(self, part: int, but: int | None = None) -> dict[int, Curve]:
        """The loads at a part's hubs, by its own nodes."""
        sheet = self.sheet(part)
        return {sheet.local[hub]: self.load(part, hub) for hub in sheet.part.hubs if hub != but}


def bulk_of(base: Settled, *, like: Bulk | None = None) -> Bulk:
    """Make an installation ready for many cases.

    Parameters
    ----------
    base
        Settled.
    like
        The same network in another setting: what they have in common is not made again.

    Returns
    -------
    Bulk
        For :func:`settle_cases`.
    """
    same = like is not None and like.network is base.solution.solver.network
    return Bulk(base, like.store if same and like is not None else {})


def _setting(bulk: Bulk, sheet: Sheet, memory: Memory) -> Setting:
    solution = bulk.base.solution
    fed = tuple(sheet.local[hub] for hub in sheet.part.hubs if not solution.floats(hub))
    setting = Setting(sheet, memory, fed)
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
            return _moved_to(known, bulk.base.solution.potentials[hub])
    setting = _setting(bulk, sheet, bulk.base.memory)
    made = tabled(
        setting,
        bulk.base.solution.potentials,
        hub,
        bulk.curves(part, but=hub),
        top=TOP * bulk.network.supply,
        close=bulk.close,
    )
    if key is not None:
        bulk.store[key] = made
    return made


def _moved_to(table: Table, volts: float) -> Table:
    """The same table, where the hub stands at other volts: good as long as they are within what holds."""
    return table if table.same_low <= volts <= table.same_high else table


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
    """Cases that were worked out together: in which part, and where they stay."""

    part: int
    setting: Setting
    columns: Sequence[Column]
    stay: Stay


@dataclass(frozen=True, eq=False)
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
        """State by branch, of the branches of the part (of all, where the case was worked out wider)."""
        if self.settled is not None:
            solution = self.settled.solution
            branches = self.bulk.network.branches
            return {n: solution.state(n) for n, b in enumerate(branches) if b.law.states or b.memory >= 0}
        assert self.group is not None
        part = self.group.setting.sheet.part
        return {part.branches[k]: int(row[self.column]) for k, row in self.group.stay.states.items()}

    @cached_property
    def potentials(self) -> list[float]:
        """Potentials of all nodes [V]; outside the part they are worked out when asked for."""
        if self.settled is not None:
            return self.settled.solution.potentials
        assert self.group is not None
        own = self.group.stay.potentials[:, self.column]
        nodes = self.group.setting.sheet.part.nodes
        found = list(self.bulk.base.solution.potentials) if self.group.part >= 0 else [0.0] * len(nodes)
        for node, volts in zip(nodes, own, strict=True):
            found[node] = float(volts)
        if self.group.part >= 0:
            _spread(self.bulk, self.group.part, found)
        return found


def _spread(bulk: Bulk, part: int, potentials: list[float]) -> None:
    """Work out the other parts from the volts at the hubs, outwards."""
    done = {part}
    waiting = [(part, hub) for hub in bulk.division.parts[part].hubs]
    while waiting:
        came, hub = waiting.pop()
        for other in bulk.division.at_hub[hub]:
            if other in done:
                continue
            done.add(other)
            _driven(bulk, other, hub, potentials)
            waiting += [(other, further) for further in bulk.division.parts[other].hubs if further != hub]
        del came


def _driven(bulk: Bulk, part: int, hub: int, potentials: list[float]) -> None:
    from loomlore.network.columns import looked_at

    sheet = bulk.sheet(part, hub)
    setting = _setting(bulk, sheet, bulk.base.memory)
    start = np.array([[bulk.base.solution.potentials[n]] for n in sheet.part.nodes])
    variables = {n: np.array([bulk.base.memory.variables[n]]) for n in sheet.part.variables}
    volts = np.array([potentials[hub]])
    view, _ = looked_at(setting, [Column()], variables, start, bulk.curves(part, but=hub), bulk.close, driven=volts)
    for node, row in zip(sheet.part.nodes, view.potentials, strict=True):
        if node != hub:
            potentials[node] = float(row[0])


@dataclass(eq=False)
class Outcomes(Sequence[Outcome]):
    """Outcomes in the order of the cases; ``counts`` says how many were worked out how."""

    bulk: Bulk
    places: list[Outcome]

    def __getitem__(self, number: Any) -> Any:
        return self.places[number]

    def __len__(self) -> int:
        return len(self.places)

    @property
    def counts(self) -> dict[str, int]:
        """How many in their part, in the whole, alone."""
        return {how: sum(o.how == how for o in self.places) for how in ("part", "whole", "alone")}


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
    by_part: dict[int, list[int]] = {}
    for number, case in enumerate(cases):
        by_part.setdefault(_part_of(bulk, case), []).append(number)
    wide = by_part.pop(-1, [])
    for part, numbers in sorted(by_part.items()):
        for chunk in _chunks(numbers, WIDTH):
            wide += _worked_out(bulk, part, None, cases, chunk, places)
    by_memory: dict[Any, list[int]] = {}
    for number in wide:
        memory = cases[number].memory
        by_memory.setdefault(None if memory is None else (memory.levers, memory.variables, memory.edges), []).append(number)
    for numbers in by_memory.values():
        for chunk in _chunks(sorted(numbers), WHOLE_WIDTH):
            _worked_out(bulk, -1, cases[chunk[0]].memory, cases, chunk, places)
    for number, outcome in enumerate(places):
        if outcome is None:
            places[number] = Outcome(bulk, "alone", settled=settled_case(bulk.base, cases[number]))
    return Outcomes(bulk, [o for o in places if o is not None])


def _chunks(numbers: list[int], width: int) -> Iterator[list[int]]:
    for begin in range(0, len(numbers), width):
        yield numbers[begin : begin + width]


def _part_of(bulk: Bulk, case: Case) -> int:
    """The part in which all of a case is; -1: the whole."""
    if case.memory is not None or not bulk.division.at_hub:
        return -1
    division = bulk.division
    candidates: set[int] | None = None

    def narrowed(parts: set[int]) -> None:
        nonlocal candidates
        candidates = parts if candidates is None else candidates & parts

    for number, _ in case.branches:
        narrowed({division.part_of_branch[number]})
    for branch in case.extra:
        for node in (branch.a, branch.b):
            if node:
                at = division.at_hub.get(node)
                narrowed({division.part_of_node[node]} if at is None else set(at))
    if not candidates:
        return -1
    part = min(candidates)
    floating = any(bulk.base.solution.floats(hub) for hub in division.parts[part].hubs)
    return -1 if floating else part


def _worked_out(
    bulk: Bulk,
    part: int,
    memory: Memory | None,
    cases: Sequence[Case],
    numbers: list[int],
    places: list[Outcome | None],
) -> list[int]:
    """Work out a chunk of cases; the numbers of those that are to be worked out wider."""
    sheet = bulk.sheet(part)
    setting = bulk.setting(part) if memory is None else _setting(bulk, sheet, memory)
    columns = {number: column_of(sheet, cases[number]) for number in numbers}
    wider: list[int] = []
    for bridged in (False, True):
        taken = [n for n in numbers if (c := columns[n]) is not None and _needs_bridge(sheet, c) == bridged]
        if not taken:
            continue
        chosen = [c for n in taken if (c := columns[n]) is not None]
        curves = bulk.curves(part) if part >= 0 else {}
        stay = settled_columns(setting, chosen, bulk.base.solution.potentials, curves, bulk.close)
        group = _Group(part, setting, chosen, stay)
        for column, number in enumerate(taken):
            if stay.status[column] == DONE:
                places[number] = Outcome(bulk, "part" if part >= 0 else "whole", group, column)
            elif stay.status[column] == WIDER:
                wider.append(number)
            elif stay.status[column] == ALONE and part >= 0:
                wider.append(number)
    return wider


def _needs_bridge(sheet: Sheet, column: Column) -> bool:
    return any(a != b and (min(a, b), max(a, b)) not in sheet.order.number for a, b, _ in column.extra)
