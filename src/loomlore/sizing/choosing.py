"""The lightest set of conductor sizes for a harness, as an integer programme with its proof.

Drops add up along a branching run, so the lightest size of one cable depends on what was chosen for the
others: metal is best spent where most current flows. Run by run it cannot be decided; together it is linear::

    least  sum over runs  length x mass of the chosen size
    one size a run;  cables of one group alike;  at most so many different sizes, if asked
    each size carries the run's current and its fuse's        (sizes that do not are struck out beforehand)
    each drop limit:  sum of current x length x ohm/m along its path <= limit
    each loop limit:  sum of          length x ohm/m along its path <= limit   (so that a fuse goes)

Invariants: the solver works to one in a million, and limits met or missed by less have led its presolve to a
wrong optimum that it called proven. So it is given whole numbers: every limit's coefficients in hundred
thousandths of the limit, cut down, never up. No set that keeps the limits is lost by that; one that breaks a
limit by a hair may slip in, so every answer is checked again in plain sums, and one that a limit refuses is
cut off and the programme solved again. The proof is the solver's lower bound, which holds for the true limits
because the whole-number programme is the looser one: where bound and mass meet, no lighter set exists; where
time ran out, the gap is told.
"""

from __future__ import annotations

import math
import os
import sys
import time as clock
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from loomlore.findings import UnknownName
from loomlore.references import Input, OutOfRange, Working, citation

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "Candidate",
    "Choice",
    "Limit",
    "LimitKept",
    "Reason",
    "Run",
    "Shortfall",
    "lightest_sizes",
]

SLACK = 1e-9
"""Relative; a limit met exactly must not fail by the rounding of a sum."""

_MEETS = 1e-6
"""Relative gap between mass and bound that counts as none: the solver's own integer tolerance."""


_PARTS = 100_000
"""A part is ten times the solver's tolerance of 1e-6 even when its own row is scaled to one."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A size that may be chosen.

    ``resistance`` at the temperature at which it runs [ohm/m], ``mass`` with its covering [kg/m],
    ``ampacity`` in free air [A]; ``greatest_fuse`` where a table sets one besides [A].
    """

    name: str
    resistance: float
    mass: float
    ampacity: float
    greatest_fuse: float = float("inf")


@dataclass(frozen=True, slots=True)
class Run:
    """One cable of the harness.

    ``length`` [m]; ``current`` the most it ever carries [A]; ``fuse`` what the fuse before it carries for
    good (0: none) [A]; ``derating`` of its bundle and height, on the ampacity [1]; cables that share a
    ``group`` get one size (two cores of a twin); ``allowed`` names the only sizes that will do, if any.
    """

    name: str
    length: float
    current: float
    fuse: float = 0.0
    derating: float = 1.0
    group: str = ""
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Limit:
    """A sum along a path that must stay under ``greatest``.

    ``terms`` are run and amperes for a drop [V], run and 1 for the resistance of a loop [ohm]. A load that
    works in several phases, or has a return cable, has one limit for each phase, and both cables in it.
    """

    name: str
    terms: tuple[tuple[str, float], ...]
    greatest: float
    unit: str = "V"


@dataclass(frozen=True, slots=True)
class LimitKept:
    """What a limit's sum comes to in the chosen set."""

    limit: Limit
    value: Working

    @property
    def share(self) -> float:
        """The sum over the greatest allowed [1]."""
        return self.value.value / self.limit.greatest if self.limit.greatest > 0 else float("inf")


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a run has its size and not the next lighter: what the lighter one would break."""

    run: str
    chosen: str
    lighter: str
    broken: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shortfall:
    """Something that no set of the offered sizes can keep, and what to do about it.

    ``least`` is what it needs at best (nan where time ran out first), ``allowed`` what it has.
    """

    name: str
    least: float
    allowed: float
    unit: str
    hint: str


@dataclass(frozen=True, slots=True)
class Choice:
    """The lightest set found.

    ``sizes`` run -> candidate; ``mass`` [kg]; ``bound`` no set is lighter than this [kg]; ``proven`` where
    mass and bound meet. Where nothing fits, ``sizes`` is empty and ``shortfalls`` says why.
    """

    sizes: Mapping[str, Candidate]
    mass: float
    bound: float
    proven: bool
    limits: tuple[LimitKept, ...] = ()
    reasons: tuple[Reason, ...] = ()
    shortfalls: tuple[Shortfall, ...] = ()
    solved: int = field(default=0, compare=False)

    @property
    def gap(self) -> float:
        """How much lighter a set might still be, as a share of the mass [1]."""
        return max(0.0, self.mass - self.bound) / self.mass if self.mass > 0 else 0.0


@dataclass(frozen=True, slots=True)
class _Harness:
    """Runs that share a size stand in one of ``groups``; ``fitting[g]``: the sizes that it may have."""

    groups: tuple[tuple[Run, ...], ...]
    fitting: tuple[tuple[Candidate, ...], ...]
    limits: tuple[Limit, ...]
    offered: tuple[Candidate, ...]

    def group_of(self) -> dict[str, int]:
        return {run.name: g for g, runs in enumerate(self.groups) for run in runs}

    def length_of(self) -> dict[str, float]:
        return {run.name: run.length for runs in self.groups for run in runs}


def lightest_sizes(
    runs: Sequence[Run],
    candidates: Sequence[Candidate],
    limits: Sequence[Limit],
    *,
    most_sizes: int | None = None,
    seconds: float = 30.0,
) -> Choice:
    """Choose the lightest set of sizes that keeps every limit.

    Parameters
    ----------
    runs
        The cables.
    candidates
        The sizes on offer.
    limits
        Drops of loads and resistances of loops.
    most_sizes
        How many different sizes may be used, since each reel and its crimps must be bought; None for any.
    seconds
        After which the best set so far is taken, with its gap [s].

    Returns
    -------
    Choice
        With what each limit comes to, why each size is as it is, and the proof or the gap.

    Raises
    ------
    UnknownName
        Where a limit names no run, or a run allows no candidate.
    OutOfRange
        Where a length or a term is negative.

    Notes
    -----
    Resistances and ampacities are those given; a warmer conductor drops more, so give them warm.

    Source
    ------
    [method sect 7.1], [method sect 7.2]

    Examples
    --------
    A feeder and two branches within 1 V. Each branch alone would pass in the thin size.

    >>> thin = Candidate("thin", resistance=0.020, mass=0.010, ampacity=10)
    >>> thick = Candidate("thick", resistance=0.010, mass=0.018, ampacity=20)
    >>> choice = lightest_sizes(
    ...     [Run("feeder", 5, 8), Run("lamp", 4, 3), Run("pump", 4, 5)],
    ...     [thin, thick],
    ...     [
    ...         Limit("lamp", (("feeder", 8), ("lamp", 3)), 1.0),
    ...         Limit("pump", (("feeder", 8), ("pump", 5)), 1.0),
    ...     ],
    ... )
    >>> {run: size.name for run, size in choice.sizes.items()}, choice.proven
    ({'feeder': 'thick', 'lamp': 'thin', 'pump': 'thin'}, True)
    """
    if not runs:
        return Choice(MappingProxyType({}), 0.0, 0.0, proven=True)
    harness = _harness(runs, candidates, limits)
    short = _shortfalls(harness)
    if short:
        return Choice(MappingProxyType({}), 0.0, 0.0, proven=True, shortfalls=short)
    return _solved(harness, most_sizes, clock.monotonic() + seconds)


def _harness(runs: Sequence[Run], candidates: Sequence[Candidate], limits: Sequence[Limit]) -> _Harness:
    names = [run.name for run in runs]
    offered = [candidate.name for candidate in candidates]
    for listed, what in ((names, "run"), (offered, "size on offer")):
        if twice := [name for name, count in Counter(listed).items() if count > 1]:
            raise UnknownName(f"{what} standing only once", twice[0])
    for wanted in (name for limit in limits for name, _ in limit.terms):
        if wanted not in names:
            raise UnknownName("run", wanted, names)
    for wanted in (name for run in runs for name in run.allowed):
        if wanted not in offered:
            raise UnknownName("size on offer", wanted, offered)
    for amount in (*(run.length for run in runs), *(weight for limit in limits for _, weight in limit.terms)):
        if not 0 <= amount < math.inf:
            source = "a programme of sums that only grow"
            raise OutOfRange("an amount of", amount, low=0, high=math.inf, unit="", source=source)
    grouped: dict[str, list[Run]] = {}
    for run in runs:
        grouped.setdefault(f"group {run.group}" if run.group else f"run {run.name}", []).append(run)
    groups = tuple(tuple(group) for group in grouped.values())
    fitting = tuple(tuple(c for c in candidates if all(not _unfit(r, c) for r in group)) for group in groups)
    return _Harness(groups, fitting, tuple(limits), tuple(candidates))


def _unfit(run: Run, candidate: Candidate) -> str:
    """Why a run cannot have a size whatever the others are, or nothing."""
    carries = candidate.ampacity * run.derating * (1 + SLACK)
    if run.allowed and candidate.name not in run.allowed:
        return "not among the sizes allowed here"
    if run.current > carries:
        return f"carries {carries:.3g} A, and {run.current:.3g} A flow"
    if run.fuse > carries:
        return f"carries {carries:.3g} A behind a fuse that carries {run.fuse:.3g} A"
    if run.fuse > candidate.greatest_fuse * (1 + SLACK):
        return f"may have a fuse of {candidate.greatest_fuse:.3g} A at most, and has {run.fuse:.3g} A"
    return ""


def _shortfalls(harness: _Harness) -> tuple[Shortfall, ...]:
    """What cannot be kept even with the best conductor everywhere."""
    paired = zip(harness.groups, harness.fitting, strict=True)
    if without := [_no_size(group, harness.offered) for group, fitting in paired if not fitting]:
        return tuple(without)
    hint = "Offer thicker sizes, shorten the run, or divide its load."
    return tuple(
        Shortfall(kept.limit.name, kept.value.value, kept.limit.greatest, kept.limit.unit, hint)
        for kept in _kept(harness, _stoutest(harness))
        if kept.value.value > kept.limit.greatest * (1 + SLACK)
    )


def _no_size(group: tuple[Run, ...], offered: tuple[Candidate, ...]) -> Shortfall:
    """The run of a group that needs most, against the most that any size offers it."""
    run = max(group, key=lambda r: max(r.current, r.fuse) / r.derating if r.derating > 0 else float("inf"))
    carried = max((min(c.ampacity * run.derating, c.greatest_fuse) for c in offered), default=0.0)
    why = next((f" {c.name}: {why}." for c in offered if (why := _unfit(run, c))), "")
    hint = f"Offer a thicker size, fit a smaller fuse, or take the run out of its bundle.{why}"
    return Shortfall(run.name, max(run.current, run.fuse), carried, "A", hint)


def _stoutest(harness: _Harness) -> dict[str, Candidate]:
    """The least resistance everywhere: it keeps every limit that can be kept at all."""
    best = [min(fitting, key=lambda c: c.resistance) for fitting in harness.fitting]
    return {run.name: size for runs, size in zip(harness.groups, best, strict=True) for run in runs}


def _solved(harness: _Harness, most_sizes: int | None, until: float) -> Choice:
    programme = _Programme.of(harness, most_sizes)
    cuts: list[_Cut] = []
    while True:
        found = programme.least(cuts, max(0.1, until - clock.monotonic()))
        if found.columns is None:
            return _without_answer(harness, found, most_sizes, len(cuts) + 1)
        sizes = programme.sizes_of(found.columns)
        broken = [kept for kept in _kept(harness, sizes) if kept.share > 1 + SLACK]
        if not broken:
            return _told(harness, sizes, found.bound, len(cuts) + 1)
        if clock.monotonic() > until:
            return _without_answer(harness, replace(found, proven=False), most_sizes, len(cuts) + 1)
        cuts.extend(programme.cut(kept.limit, found.columns) for kept in broken)


def _without_answer(harness: _Harness, found: _Found, most_sizes: int | None, solved: int) -> Choice:
    """No set exists, which only too few different sizes can cause; or time ran out before one was found."""
    stoutest = _stoutest(harness)
    fits = most_sizes is None or len({size.name for size in stoutest.values()}) <= most_sizes
    if fits and not found.proven:
        return _told(harness, stoutest, found.bound, solved)
    hint = "Allow more different sizes." if found.proven else "Allow more time, or more different sizes."
    allowed = float(most_sizes or 0)
    least = allowed + 1 if found.proven else float("nan")
    short = Shortfall("number of different sizes", least, allowed, "", hint)
    empty: Mapping[str, Candidate] = MappingProxyType({})
    return Choice(empty, 0.0, found.bound, proven=found.proven, shortfalls=(short,), solved=solved)


def _told(harness: _Harness, sizes: Mapping[str, Candidate], bound: float, solved: int) -> Choice:
    length_of = harness.length_of()
    mass = sum(length_of[run] * size.mass for run, size in sizes.items())
    proven = mass - bound <= _MEETS * mass
    return Choice(
        sizes=MappingProxyType(dict(sizes)),
        mass=mass,
        bound=min(bound, mass),
        proven=proven,
        limits=_kept(harness, sizes),
        reasons=_reasons(harness, sizes),
        solved=solved,
    )


def _kept(harness: _Harness, sizes: Mapping[str, Candidate]) -> tuple[LimitKept, ...]:
    length_of = harness.length_of()
    return tuple(LimitKept(limit, _sum_along(limit, length_of, sizes)) for limit in harness.limits)


def _sum_along(limit: Limit, length_of: Mapping[str, float], sizes: Mapping[str, Candidate]) -> Working:
    parts = [(run, weight * length_of[run] * sizes[run].resistance) for run, weight in limit.terms]
    inputs = tuple(Input(f"{run} ({sizes[run].name})", value, limit.unit) for run, value in parts)
    formula = "sum of I L r" if limit.unit == "V" else "sum of L r"
    total = sum(value for _, value in parts)
    return Working(limit.name, total, limit.unit, formula, inputs, citation("method", "sect 7.1"), "computed")


def _reasons(harness: _Harness, sizes: Mapping[str, Candidate]) -> tuple[Reason, ...]:
    told: list[Reason] = []
    of_run: dict[str, list[Limit]] = {}
    for limit in harness.limits:
        for name in {name for name, _ in limit.terms}:
            of_run.setdefault(name, []).append(limit)
    for group in harness.groups:
        chosen = sizes[group[0].name]
        lighter = [c for c in harness.offered if c.mass < chosen.mass]
        if not lighter:
            continue
        tried = max(lighter, key=lambda c: c.mass)
        unfit = tuple(f"{run.name}: {why}" for run in group if (why := _unfit(run, tried)))
        changed = {**sizes, **{run.name: tried for run in group}}
        touched = dict.fromkeys(limit for run in group for limit in of_run.get(run.name, ()))
        over = tuple(
            f"{kept.limit.name}: {kept.value.value:.3g} {kept.limit.unit} of {kept.limit.greatest:.3g}"
            for kept in _kept(replace(harness, limits=tuple(touched)), changed)
            if kept.share > 1 + SLACK
        )
        told.extend(Reason(run.name, chosen.name, tried.name, unfit + over) for run in group)
    return tuple(told)


@dataclass(frozen=True, slots=True)
class _Cut:
    """At most so many of these columns."""

    columns: tuple[int, ...]
    most: int


@dataclass(frozen=True, slots=True)
class _Found:
    columns: tuple[int, ...] | None
    bound: float
    proven: bool


@contextmanager
def _quiet_solver() -> Iterator[None]:
    """Keep the solver's library from writing to standard output, which it now and then does unasked.

    It writes below Python, so the file descriptor itself is turned aside for as long as it works.
    """
    sys.stdout.flush()
    try:
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    except OSError:  # no standard output to keep clean
        yield
        return
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


@dataclass(frozen=True, slots=True)
class _Programme:
    """The integer programme: a column for each group and size that fits, then one for each size in use."""

    harness: _Harness
    columns: tuple[tuple[int, Candidate], ...]
    cost: NDArray[np.float64]
    scale: float
    equal: NDArray[np.float64]
    rows: NDArray[np.float64]
    most: NDArray[np.float64]

    @classmethod
    def of(cls, harness: _Harness, most_sizes: int | None) -> _Programme:
        import numpy as np

        columns = tuple((g, c) for g, fitting in enumerate(harness.fitting) for c in fitting)
        masses = np.array([c.mass * sum(r.length for r in harness.groups[g]) for g, c in columns])
        # The solver's absolute gap is 1e-6; a cost of about one a column keeps that far under any difference.
        scale = float(masses.mean()) / len(columns) if masses.size and masses.mean() > 0 else 1.0
        equal = np.zeros((len(harness.groups), len(columns)))
        equal[[g for g, _ in columns], range(len(columns))] = 1.0
        rows = [_limit_row(harness, columns, limit) for limit in harness.limits]
        limits = np.array(rows).reshape(len(rows), len(columns))
        bare = cls(harness, columns, masses / scale, scale, equal, limits, np.full(len(rows), float(_PARTS)))
        return bare if most_sizes is None else bare.with_most_sizes(most_sizes)

    def with_most_sizes(self, most_sizes: int) -> _Programme:
        """One column more for each size: 1 where any run uses it; their sum is bounded."""
        import numpy as np

        names = sorted({c.name for _, c in self.columns})
        n, k = len(self.columns), len(names)
        linked = np.zeros((n + 1, n + k))
        for row, (_, candidate) in enumerate(self.columns):
            linked[row, row], linked[row, n + names.index(candidate.name)] = 1.0, -1.0
        linked[n, n:] = 1.0
        return replace(
            self,
            cost=np.concatenate([self.cost, np.zeros(k)]),
            equal=np.hstack([self.equal, np.zeros((len(self.equal), k))]),
            rows=np.vstack([np.hstack([self.rows, np.zeros((len(self.rows), k))]), linked]),
            most=np.concatenate([self.most, np.zeros(n), [float(most_sizes)]]),
        )

    def least(self, cuts: Sequence[_Cut], seconds: float) -> _Found:
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        width = len(self.cost)
        cut_rows = np.zeros((len(cuts), width))
        for row, cut in enumerate(cuts):
            cut_rows[row, list(cut.columns)] = 1.0
        most = np.concatenate([self.most, [float(cut.most) for cut in cuts]])
        constraints = [LinearConstraint(self.equal, 1.0, 1.0)]
        if len(most):
            constraints.append(LinearConstraint(np.vstack([self.rows, cut_rows]), -np.inf, most))
        with _quiet_solver():
            solution = milp(
                self.cost,
                integrality=np.ones(width, dtype=np.int64),
                bounds=Bounds(0, 1),
                constraints=constraints,
                options={"time_limit": seconds, "mip_rel_gap": 0.0},
            )
        bound = solution.mip_dual_bound
        below = self.scale * float(bound) if bound is not None and np.isfinite(bound) else 0.0
        if solution.x is None:
            return _Found(None, below, proven=solution.status == 2)
        chosen = tuple(int(k) for k in np.flatnonzero(solution.x[: len(self.columns)] > 0.5))
        return _Found(chosen, below, proven=solution.status == 0)

    def sizes_of(self, columns: Sequence[int]) -> dict[str, Candidate]:
        by_group = dict(self.columns[k] for k in columns)
        return {run.name: by_group[g] for g, runs in enumerate(self.harness.groups) for run in runs}

    def cut(self, limit: Limit, chosen: Sequence[int]) -> _Cut:
        """Of each group along a limit the columns that drop no less than the chosen one.

        What broke the limit breaks it with any of these in its place, so not all groups may stay among them.
        """
        group_of = self.harness.group_of()
        along = {group_of[run] for run, _ in limit.terms}
        drops = {self.columns[k][0]: self.columns[k][1].resistance for k in chosen}
        columns = (k for k, (g, c) in enumerate(self.columns) if g in along and c.resistance >= drops[g])
        return _Cut(tuple(columns), len(along) - 1)


def _limit_row(harness: _Harness, columns: Sequence[tuple[int, Candidate]], limit: Limit) -> list[float]:
    """The limit in whole parts of what is allowed, cut down: looser than the truth, and free of rounding."""
    group_of, length_of = harness.group_of(), harness.length_of()
    weights: dict[int, float] = {}
    for run, weight in limit.terms:
        weights[group_of[run]] = weights.get(group_of[run], 0.0) + weight * length_of[run]
    part = limit.greatest * (1 + SLACK) / _PARTS
    # A limit of nothing admits only terms of nothing; anything else is far over it.
    if part <= 0:
        return [0.0] * len(columns)
    return [
        float(min(math.floor(weights[g] * c.resistance / part), 2 * _PARTS)) if g in weights else 0.0
        for g, c in columns
    ]
