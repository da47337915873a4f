"""What coils, latches, fuses and instruments make of many solutions at once: conditions and states by column.

The same rules as :mod:`loomlore.network.solving` and :mod:`loomlore.network.settling` have for one solution,
each over a row with a column a case. Truth has three values, kept as two marks: surely so, surely not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomlore.network.arrays import LIVE, Floats, LawArrays, Marks, Sheet, live_amps
from loomlore.network.conditions import (
    AllOf,
    AnyOf,
    Condition,
    Constant,
    LeverCompare,
    LeverIs,
    Limits,
    Measured,
    NotSo,
    StateIs,
    within,
)
from loomlore.network.laws import (
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Law,
    Magneto,
    Meter,
    Motor,
    Rectifier,
    Source,
    Straight,
)
from loomlore.network.model import LatchRule
from loomlore.network.solving import ISLAND, NO_POWER

__all__ = ["HOLDS", "NEVER_HOLDS", "PERHAPS", "View", "after", "held", "states_of"]

Whole = NDArray[np.int64]
NEVER_HOLDS, PERHAPS, HOLDS = 0, 1, 2

Truth = tuple[Any, Any]
"""Surely so, surely not: marks, or plain truths that hold for every case."""


@dataclass(eq=False)
class View:
    """Solutions of one part, a column a case.

    ``variables`` are rows of a part's own, ``rest`` those of everything else. ``conductance`` is that of each
    straight branch, [place, case], ``constant`` of those that are the same in all. ``laws`` are the part's,
    ``other_laws`` what single cases have in their place; ``replaced`` are the places where some case has
    something else, and ``holding`` says of each whether it HOLDS its ends together in all cases, PERHAPS, or in
    none. ``magneto`` tells their states, in the ``wanted`` columns where not all are. ``fed_hubs`` are nodes
    known to hang together with the airframe; ``extra`` tells what new branches join, and where.
    """

    sheet: Sheet
    potentials: Floats
    levers: Sequence[float]
    variables: Mapping[int, Whole]
    rest: Sequence[int]
    conductance: Floats
    constant: Mapping[int, float]
    law_arrays: LawArrays
    laws: Sequence[Law]
    works: Mapping[int, Truth]
    other_laws: Mapping[int, Sequence[tuple[int, Law]]] = field(default_factory=dict)
    fed_hubs: tuple[int, ...] = ()
    replaced: frozenset[int] = frozenset()
    extra: Callable[[], list[tuple[int, int, Marks]]] = list
    magneto: Callable[[int], Whole] | None = None
    wanted: Whole | None = None
    holding: Whole = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    _live: Floats | None = None
    _reached: dict[int, Marks] = field(default_factory=dict)
    _links: _Links | None = None

    @property
    def count(self) -> int:
        """How many cases."""
        return int(self.potentials.shape[1])

    def variable(self, number: int) -> Any:
        """The value of a variable in each case."""
        own = self.variables.get(number)
        return self.rest[number] if own is None else own

    def volts(self, branch: int) -> Floats:
        """Volts across a branch of the part, by its place in it."""
        a, b = self.sheet.ends[branch]
        difference: Floats = self.potentials[a] - self.potentials[b]
        return difference

    def amps(self, branch: int) -> Floats:
        """Amperes through a branch of the part, by its place in it."""
        if not isinstance(self.laws[branch], LIVE):
            flow: Floats = self.conductance[branch] * self.volts(branch)
            return flow
        if self._live is None:
            places = np.array([self.sheet.ends[k] for k in self.sheet.live])
            volts = self.potentials[places[:, 0]] - self.potentials[places[:, 1]]
            self._live = live_amps(
                self.law_arrays, volts, (len(self.sheet.filaments), len(self.sheet.powers))
            )
        row: Floats = self._live[self.sheet.live.index(branch)]
        return row + self.conductance[branch] * self.volts(branch) if branch in self.replaced else row

    def place(self, number: int) -> int:
        """Place in the part of a branch of the network."""
        return self.sheet.place[number]

    def together(self, a: int, b: int) -> Marks:
        """In which cases two nodes hang together, so that there are volts between them."""
        if a == b:
            return np.ones(self.count, dtype=bool)
        fed = self._hanging(0)
        if (fed[a] | fed[b]).all():
            both: Marks = fed[a] & fed[b]
            return both
        # an installation without earth, or what is cut off from it
        known: Marks = (fed[a] & fed[b]) | self._hanging(a)[b]
        return known

    def _hanging(self, node: int) -> Marks:
        """What hangs together with a node, [node, case]."""
        if node not in self._reached:
            if self._links is None:
                self._links = _links(self)
            self._reached[node] = _reached(self._links, node, self.count)
        return self._reached[node]


@dataclass(frozen=True, eq=False, slots=True)
class _Links:
    """The lump that each node is in whatever the case, and what joins lumps in which cases."""

    labels: Whole
    moving: list[tuple[int, int, Any]]


def _links(view: View) -> _Links:
    from scipy.sparse import coo_array  # not at every start of the program
    from scipy.sparse.csgraph import connected_components

    count = view.potentials.shape[0]
    a, b = np.array(view.sheet.ends, dtype=np.int64).reshape(-1, 2)[view.holding == HOLDS].T
    _, labels = connected_components(coo_array((np.ones(len(a)), (a, b)), (count, count)), directed=False)
    moving_places = np.flatnonzero(view.holding == PERHAPS).tolist()
    joins = [(*view.sheet.ends[k], _joined(view, k)) for k in moving_places]
    joins += [(0, hub, True) for hub in view.fed_hubs]
    moving = [
        (int(labels[a]), int(labels[b]), made) for a, b, made in [*joins, *view.extra()] if made is not False
    ]
    return _Links(labels.astype(np.int64), [(a, b, made) for a, b, made in moving if a != b])


def _reached(links: _Links, node: int, count: int) -> Marks:
    """From lump to lump until nothing new is found."""
    marks = np.zeros((int(links.labels.max()) + 1, count), dtype=bool)
    marks[links.labels[node]] = True
    before = -1
    while (now := int(marks.sum())) != before:
        before = now
        for a, b, made in links.moving:
            either = (marks[a] | marks[b]) & made
            marks[a] |= either
            marks[b] |= either
    found: Marks = marks[links.labels]
    return found


def _joined(view: View, branch: int) -> Any:
    law = view.laws[branch]
    made: Any = True
    if isinstance(law, Magneto):
        return False
    if isinstance(law, Source):
        made = view.works.get(branch, (True, False))[0]
        made = made if isinstance(made, np.ndarray) else bool(made)
    elif not isinstance(law, LIVE):
        g = view.constant.get(branch)
        return view.conductance[branch] >= ISLAND if g is None else g >= ISLAND
    if branch in view.other_laws:
        marks = np.ones(view.count, dtype=bool) & made
        for case, other in view.other_laws[branch]:
            marks[case] = isinstance(other, LIVE) or other.conductance(True, 0.0) >= ISLAND
        return marks
    return made


# -- conditions ---------------------------------------------------------------------------------------------------


def held(condition: Condition | None, view: View) -> Truth:
    """Judge a condition in every case.

    Parameters
    ----------
    condition
        What is to hold; None never holds.
    view
        The solutions.

    Returns
    -------
    tuple
        Surely so and surely not, as marks or plain truths.
    """
    match condition:
        case None:
            return False, True
        case Constant(value):
            return value is True, value is False
        case LeverIs(lever, positions):
            there = view.levers[lever] in positions
            return there, not there
        case LeverCompare(lever, limits):
            keeps = within(view.levers[lever], limits)
            return keeps, not keeps
        case StateIs(variable, values):
            so = _among(view.variable(variable), values)
            return so, np.logical_not(so)
        case NotSo(part):
            so, isnt = held(part, view)
            return isnt, so
        case AllOf(parts):
            return _combined([held(part, view) for part in parts])
        case AnyOf(parts):
            isnt, so = _combined([held(part, view)[::-1] for part in parts])
            return so, isnt
        case Measured():
            return _measured(condition, view)


def _combined(truths: list[Truth]) -> Truth:
    so: Any = True
    isnt: Any = False
    for this, other in truths:
        so, isnt = np.logical_and(so, this), np.logical_or(isnt, other)
    return so, isnt


def _among(value: Any, values: Sequence[int]) -> Any:
    so: Any = False
    for one in values:
        so = np.logical_or(so, value == one)
    return so


def _within(value: Floats, limits: Limits) -> Marks:
    marks = np.ones(value.shape, dtype=bool)
    for sign, limit in limits:
        marks &= {"<": value < limit, "<=": value <= limit, ">": value > limit, ">=": value >= limit}[sign]
    return marks


def _measured(test: Measured, view: View) -> Truth:
    sheet = view.sheet
    match test.of:
        case "volts":
            a, b = sheet.local[test.a], sheet.local[max(test.b, 0)]
            known = view.together(a, b)
            keeps = _within(view.potentials[a] - view.potentials[b], test.limits)
            return keeps & known, ~keeps & known
        case "amps":
            keeps = _within(view.amps(view.place(test.a)), test.limits)
        case "state":
            keeps = _among(states_of(view, view.place(test.a)), test.values)
        case "group":
            highest = np.max([states_of(view, view.place(n)) for n in test.group], axis=0)
            keeps = _among(highest, test.values)
        case _:
            shown, state = _shown(view, test.a)
            if test.values:
                keeps = _among(state, test.values)
            else:
                known = ~np.isnan(shown)
                keeps = _within(np.nan_to_num(shown), test.limits)
                return keeps & known, ~keeps & known
    return keeps, np.logical_not(keeps)


def _shown(view: View, number: int) -> tuple[Floats, Whole]:
    """Mark shown (not a number where there is none), and 0 no power, 1 off its scale, 2 reading."""
    dial = view.sheet.network.indications[number]
    first = view.place(dial.first)
    value = view.volts(first) if dial.of == "volts" else view.amps(first)
    dead = np.abs(value) < NO_POWER * max(abs(x) for x, _ in dial.points)
    kept = True
    if dial.of == "ratio":
        right = view.amps(view.place(dial.second))
        dead = (np.abs(value) < NO_POWER) & (np.abs(right) < NO_POWER)
        turned = np.abs(right) > 1e-9
        value = np.where(turned, value / np.where(turned, right, 1.0), np.inf)
        kept = False
    xs, ys = np.array(dial.points).T
    slack = 0.02 * abs(xs[-1] - xs[0])
    on = (value >= xs[0] - slack) & (value <= xs[-1] + slack)
    mark = np.where(on, np.interp(np.clip(value, xs[0], xs[-1]), xs, ys), np.nan)
    mark = np.where(dead & (not kept), np.nan, mark)
    return mark, np.where(dead, 0, np.where(on, 2, 1))


# -- states -------------------------------------------------------------------------------------------------------


def states_of(view: View, branch: int) -> Whole:
    """State of one branch of the part in every case.

    Parameters
    ----------
    view
        The solutions.
    branch
        Its place in the part.

    Returns
    -------
    array
        Numbers of states.
    """
    record = view.sheet.network.branches[view.sheet.part.branches[branch]]
    others = view.other_laws.get(branch, ())
    if record.memory >= 0:
        remembered = np.broadcast_to(np.asarray(view.variable(record.memory)), (view.count,))
        if not isinstance(view.laws[branch], Cartridge):
            return remembered.astype(np.int64)
        size = np.abs(view.amps(branch))
        law = view.laws[branch]
        assert isinstance(law, Cartridge)
        live = np.where(size >= law.all_fire, 2, np.where(size > law.no_fire, 1, 0))
        found = np.where(remembered > 0, 2, live)
        for case, other in others:
            found[case] = (
                _one_state(view, branch, case, other) if isinstance(other, Cartridge) else remembered[case]
            )
        return found
    found = np.array(_states(view, branch, view.laws[branch]), dtype=np.int64) * np.ones(
        view.count, dtype=np.int64
    )
    for case, other in others:
        found[case] = _one_state(view, branch, case, other)
    return found


def _one_state(view: View, branch: int, case: int, law: Law) -> int:
    lever = _lever(view, branch)
    return law.state(float(view.volts(branch)[case]), float(view.amps(branch)[case]), True, lever)


def _lever(view: View, branch: int) -> float:
    follows = view.sheet.network.branches[view.sheet.part.branches[branch]].follows
    return float(view.levers[follows]) if follows >= 0 else 0.0


def _states(view: View, branch: int, law: Law) -> Any:  # noqa: C901  one arm a law
    works = view.works.get(branch, (True, False))[0]
    match law:
        case Straight():
            if not law.steps or not law.volts:
                return 0
            x = np.abs(view.volts(branch)) / law.volts
            return np.searchsorted(law.steps, x * x if law.squared else x, side="right")
        case Motor():
            running = np.searchsorted(law.steps, np.abs(view.volts(branch)) / law.volts, side="right")
            return np.where(works, running, 0)
        case Filament():
            light = (np.abs(view.volts(branch)) / law.volts) ** 3.4
            return np.where(light >= 0.1, 2, np.where(light >= 0.001, 1, 0))
        case ConstantPower():
            size = np.abs(view.volts(branch))
            return np.where(size >= law.works_from, 2, np.where(size >= law.works_from / 2, 1, 0))
        case Rectifier():
            return np.where(view.amps(branch) > 1e-3 * law.amps, 1, 0)
        case Battery():
            amps = view.amps(branch)
            idle = np.abs(amps) <= 1e-4 * max(1.0, law.float_amps)
            return np.where(idle, 0, np.where(amps > 0, 2, 1))
        case Source():
            amps = view.amps(branch)
            return np.where(np.abs(amps) < 1e-6, 0, np.where(amps < 0, 1, 2))
        case Generator():
            given = -view.amps(branch)
            top = 0.999 * law.limit(True, _lever(view, branch))
            made = np.where(given >= top, 2, 1)
            return np.where(np.logical_not(works) | (given < 1e-3 * law.amps), 0, made)
        case Coil():
            size = view.volts(branch) if law.polarised else np.abs(view.volts(branch))
            return np.where(size >= law.pulls_in, 1, 0)
        case Meter():
            number = view.sheet.part.branches[branch]
            dials = view.sheet.network.dials.get(number, ())
            return np.max([_shown(view, dial)[1] for dial in dials], axis=0) if dials else 2
        case Magneto():
            if view.magneto is None:
                return 0
            return np.where(works, view.magneto(branch), 1)
        case _:
            return 0


# -- what moves ---------------------------------------------------------------------------------------------------


def after(
    view: View, edges: Mapping[int, tuple[Whole, Whole]]
) -> tuple[dict[int, Whole], dict[int, tuple[Whole, Whole]]]:
    """All coils, latches and sensed states of the part moved at once.

    Parameters
    ----------
    view
        The solutions.
    edges
        By latch, the last truth of its set-on and release-on (-1 where there was none).

    Returns
    -------
    tuple
        The part's variables and edges.
    """
    variables = dict(view.variables)
    fresh = dict(edges)
    for number, now in view.variables.items():
        variable = view.sheet.network.variables[number]
        if variable.what == "latch" and variable.latch is not None:
            variables[number], fresh[number] = _latched(view, variable.latch, now, edges[number])
        elif variable.what == "coil":
            variables[number] = _pulled(view, view.place(variable.branch), now)
        elif variable.what == "sensed" and variable.test is not None:
            variables[number] = np.where(held(variable.test, view)[0], 1, 0) * np.ones_like(now)
        elif variable.what == "sensed":
            variables[number] = states_of(view, view.place(variable.branch))
    return variables, fresh


def _pulled(view: View, branch: int, now: Whole) -> Whole:
    law = view.laws[branch]
    if not isinstance(law, Coil):
        return np.zeros_like(now)
    volts = view.volts(branch)
    size = volts if law.polarised else np.abs(volts)
    moved = np.where(size >= law.pulls_in, 1, np.where(size < law.drops_out, 0, now))
    for case, other in view.other_laws.get(branch, ()):
        moved[case] = other.next_state(float(volts[case]), int(now[case])) if isinstance(other, Coil) else 0
    return moved


def _latched(
    view: View, rule: LatchRule, now: Whole, was: tuple[Whole, Whole]
) -> tuple[Whole, tuple[Whole, Whole]]:
    ones = np.ones_like(now)
    set_edge = ones * -1 if rule.set_on is None else np.where(held(rule.set_on, view)[0], 1, 0) * ones
    release_edge = (
        ones * -1 if rule.release_on is None else np.where(held(rule.release_on, view)[0], 1, 0) * ones
    )
    sets = (set_edge == 1) & (was[0] == 0)
    if rule.set_after is None:
        sets = sets | held(rule.set, view)[0]
    releases = (release_edge == 1) & (was[1] == 0)
    if rule.release_after is None:
        releases = releases | held(rule.release, view)[0]
    if rule.lost_with >= 0:
        releases = releases | (states_of(view, view.place(rule.lost_with)) == 0)
    both = sets & releases
    moved = np.where(both, int(rule.set_wins), np.where(sets, 1, np.where(releases, 0, now)))
    return moved, (set_edge, release_edge)
