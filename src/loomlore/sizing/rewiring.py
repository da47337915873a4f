"""Choosing cables for a re-wire: the lightest modern set, proved, and judged again in the network itself.

The integer programme of :mod:`loomlore.sizing.choosing` works on currents that it is given, at one
temperature. So its answer is put back into the network, every case is solved again, and drops, bundles and
shorts are judged as for the period set; what then breaks a rule tightens the programme, which is solved
again::

    cases -> runs, limits -> lightest set -> cases again -> broken? tighten -> ...

Left as they are: cables in which nothing reckoned flows (ignition, telephone lines). What has no fuse is not
made thinner than the period had it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from loomlore.behaviour.readings import name_of
from loomlore.catalogue.conductors import (
    aircraft_wires,
    conductor_area,
    mass_per_metre,
    resistance_per_metre,
    temperature_factor,
)
from loomlore.catalogue.published_tables import published_table
from loomlore.network.building import Plant
from loomlore.network.solving import solve
from loomlore.quantities import Size, read_size
from loomlore.references import OutOfRange
from loomlore.sizing.ampacity import conductor_temperature, free_air_current
from loomlore.sizing.bundles import Warmth, warmths
from loomlore.sizing.cable_study import CableReport, CableStudy
from loomlore.sizing.choosing import Candidate, Choice, Limit, Run, lightest_sizes
from loomlore.sizing.coverings import covering_of
from loomlore.sizing.drop import DROP_TOLERANCE, feeder_drop_limit
from loomlore.sizing.dropping import DropVerdict, judged_runs, warm_resistances
from loomlore.sizing.duty import Case, Study
from loomlore.sizing.mains import MainRun, fuse_below, mains_of, ohms_of
from loomlore.sizing.protection import adiabatic_factor, protector_limit_ac4313_1998
from loomlore.sizing.variants import with_resistances

__all__ = ["CATALOGUES", "Change", "Rewiring", "rewired"]

Catalogue = Literal["awg", "metric"]

CATALOGUES: tuple[Catalogue, ...] = ("awg", "metric")

MODERN = "ETFE"
"""The covering that a re-wire is reckoned with, good for 150 °C."""

HELD = 30.0
"""Seconds that a start or a push may be held: common practice, no source."""

CLEARS_BY = 2.0
"""A short at the load must draw so many times what melts its fuse: common practice, no source."""

ROUNDS = 6
MARGIN = 0.998
"""Drawn in by a hair more than was broken, so that a limit met exactly is not met from the wrong side."""

AS_HEAVY = 1.1
"""A cable without a fuse may have a tenth more resistance than the period's.

The catalogues' steps are wider.
"""


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the workshop's list: cut ``length`` [m] of ``size`` in place of the period's."""

    cable: str
    service: str
    from_: str
    to: str
    period: str
    size: str
    length: float
    mass: float
    period_mass: float
    why: str


@dataclass(frozen=True, slots=True)
class Rewiring:
    """The lightest set from one catalogue, beside the period set.

    ``mass`` and ``period_mass`` are metal only, over the same cables [kg]; ``judged`` the drops with the new
    set in the network, ``warmth`` how warm it runs; ``broken`` what still breaks a rule there; ``left``
    cables left as they are; ``rounds`` how often the programme was solved.
    """

    catalogue: Catalogue
    choice: Choice
    changes: tuple[Change, ...]
    mass: float
    period_mass: float
    judged: tuple[DropVerdict, ...]
    warmth: Mapping[str, Warmth]
    broken: tuple[str, ...]
    left: tuple[str, ...]
    rounds: int


def rewired(
    found: CableStudy, *, catalogue: Catalogue = "awg", most_sizes: int | None = None, seconds: float = 5.0
) -> Rewiring:
    """Choose the lightest set of modern sizes for which every rule passes.

    Parameters
    ----------
    found
        The period set, judged.
    catalogue
        ``awg``: stranded aircraft wire; ``metric``: flexible cable to the cable standard.
    most_sizes
        How many different sizes may be bought; None for any.
    seconds
        For one solving of the programme [s].

    Returns
    -------
    Rewiring
        With the proof of least mass, or the gap; and what the network says of it.

    Source
    ------
    [method sect 7.1], [method sect 7.3]
    """
    sizes = _sizes(catalogue)
    candidates = _candidates(sizes, found)
    chosen_from = tuple(report for report in found.cables if _is_chosen(report))
    asked = _Asked(
        found, {r.cable.id: r for r in chosen_from}, {r.cable.id: _derating(r.warmth) for r in chosen_from}
    )
    for drop in found.drops:
        asked.add(drop)
    best: Rewiring | None = None
    for rounds in range(1, ROUNDS + 1):
        needs = {report.cable.id: _need(report, candidates, sizes, asked) for report in chosen_from}
        runs = [need.run for need in needs.values()]
        choice = lightest_sizes(runs, candidates, asked.limits(), most_sizes=most_sizes, seconds=seconds)
        if not choice.sizes:
            return best or _none(catalogue, choice, found, chosen_from, rounds)
        study, warmth = _with_set(found, {m: sizes[c.name] for m, c in choice.sizes.items()})
        judged = judged_runs(study, warmth, share=found.practice.share, longest_only=True)
        broken = tuple(asked.tightened(judged, warmth))
        here = _told(catalogue, choice, found, needs, judged, warmth, broken, rounds)
        better = best is None or (best.broken and not broken) or (not broken and here.mass < best.mass)
        best = here if better else best
        if rounds > 1 and not broken:
            break
        asked.warmed(warmth, at_least=bool(broken))
    if best is None:
        raise RuntimeError("the first round always gives a set, or returns")
    return best


# -- what is offered -----------------------------------------------------------------------------------------


def _sizes(catalogue: Catalogue) -> dict[str, Size]:
    """The sizes on offer by name, thinnest first.

    Nothing under No. 22 or 0.5 mm2, which breaks in handling.
    """
    if catalogue == "awg":
        return {f"AWG {g}": read_size(f"AWG {g}") for g in aircraft_wires() if g != "24"}
    rows = published_table("iec60228-2004-tables-1-2-3")
    named = [
        f"{float(row['area_mm2']):g} mm2" for row in rows if row["class_5"] and float(row["area_mm2"]) >= 0.5
    ]
    return {name: read_size(name) for name in named}


def _candidates(sizes: Mapping[str, Size], found: CableStudy) -> list[Candidate]:
    """Each size with its figures: resistance at 20 °C, warmth coming in with each run."""
    ambient, rated = found.practice.conditions.ambient, covering_of(MODERN).rated
    made = []
    for name, size in sizes.items():
        area = conductor_area(size)
        try:
            free = free_air_current(area, rise=rated - ambient).value
        except OutOfRange:
            continue
        made.append(
            Candidate(
                name=name,
                resistance=resistance_per_metre(size),
                mass=mass_per_metre(size),
                ampacity=free,
                greatest_fuse=_greatest_fuse(area),
            )
        )
    return made


def _greatest_fuse(area: float) -> float:
    try:
        return protector_limit_ac4313_1998(area, kind="fuse").value
    except OutOfRange:
        return 0.0


# -- what is asked -------------------------------------------------------------------------------------------


def _is_chosen(report: CableReport) -> bool:
    if report.area is None or not report.length.known or report.protection is None or report.warmth is None:
        return False
    return report.protection.side != "dead"


def _derating(warmth: Warmth | None) -> float:
    if warmth is None or warmth.free_air.value <= 0:
        return 1.0
    return max(0.01, warmth.limit.value / warmth.free_air.value)


@dataclass(frozen=True, slots=True)
class _Need:
    """A run of the programme, its cable, and why sizes were struck out of it beforehand."""

    report: CableReport
    run: Run
    struck: str


def _need(
    report: CableReport, candidates: Sequence[Candidate], sizes: Mapping[str, Size], asked: _Asked
) -> _Need:
    mark, protection = report.cable.id, report.protection
    least = _least_area(report)
    kept = [c.name for c in candidates if conductor_area(sizes[c.name]) >= least]
    struck = "a moment's current, or a short until its fuse has gone, would over-heat it" if least > 0 else ""
    fuse = asked.fuse_of(report)
    bound = protection is not None and fuse == 0.0 and mark not in asked.in_loops
    if bound and report.size is not None:
        own = resistance_per_metre(report.size) * AS_HEAVY
        kept = [name for name in kept if resistance_per_metre(sizes[name]) <= own] or kept[-1:]
        struck = "no fuse limits what it carries, and the period had it heavier"
    current = report.warmth.current if report.warmth is not None else 0.0
    asked.guess(mark, current, max(current, fuse), [c for c in candidates if c.name in kept])
    run = Run(
        name=mark,
        length=report.length.high,
        current=current,
        fuse=fuse,
        derating=asked.derated[mark],
        group=report.cable.core.partition(".")[0],
        allowed=tuple(kept) if len(kept) < len(candidates) else (),
    )
    return _Need(report, run, struck)


def _least_area(report: CableReport) -> float:
    """The metal [mm2 as m2] that a moment's current needs, and a short until the fuse has gone."""
    need, modern = 0.0, covering_of(MODERN)
    warmth, protection = report.warmth, report.protection
    if warmth is not None and warmth.lasts is not None:
        k = adiabatic_factor(start=60.0, final=modern.rated).value
        need = max(need, warmth.moment * HELD**0.5 / k)
    short = protection.short if protection is not None else None
    if short is not None and short.melts is not None and short.withstand is not None:
        k = adiabatic_factor(start=60.0, final=modern.moment).value
        need = max(need, short.current * short.melts.value**0.5 / k)
    return need * 1e-6


@dataclass(eq=False)
class _Asked:
    """The limits of the programme so far.

    Each drop by its load and path, drawn in where the network broke it.

    ``in_loops`` are cables of a starter's loop, which a limit of their own keeps.
    """

    found: CableStudy
    chosen: Mapping[str, CableReport]
    derated: dict[str, float]
    drops: dict[tuple[str, frozenset[str]], tuple[DropVerdict, float]] = field(default_factory=dict)
    hot: dict[str, float] = field(default_factory=dict)

    def guess(self, mark: str, current: float, carried: float, kept: Sequence[Candidate]) -> None:
        """A run's warmth before any set is known: that of the thinnest size that may carry it."""
        if mark in self.hot:
            return
        derating = self.derated[mark]
        able = (c.ampacity * derating for c in kept if c.ampacity * derating >= carried)
        limit = min(able, default=max((c.ampacity for c in kept), default=1.0) * derating)
        warm = conductor_temperature(
            current=min(current, limit),
            ampacity=limit,
            ambient=self.found.practice.conditions.ambient,
            rated_temperature=covering_of(MODERN).rated,
        )
        self.hot[mark] = temperature_factor(warm.value)

    def warmed(self, warmth: Mapping[str, Warmth], *, at_least: bool) -> None:
        """Each run's warmth in the set just judged; never less than before where that broke a rule."""
        for mark in self.hot:
            if mark in warmth:
                now = temperature_factor(min(warmth[mark].temperature.value, 250.0))
                self.hot[mark] = max(self.hot[mark], now) if at_least else now

    def add(self, drop: DropVerdict) -> None:
        """Ask one more drop, unless this path of its load is asked already."""
        least = min(verdict.limit.value for verdict in drop.verdicts)
        self.drops.setdefault((drop.run.load.name, self._marks(drop)), (drop, least))

    def _marks(self, drop: DropVerdict) -> frozenset[str]:
        branches = self.found.plant.network.branches
        return frozenset(
            branches[p.branch].name for p in drop.run.parts if branches[p.branch].sort == "cable"
        )

    @cached_property
    def mains(self) -> tuple[MainRun, ...]:
        """The mains of generators, and the loops of starters."""
        return mains_of(self.found.study)

    @cached_property
    def in_loops(self) -> frozenset[str]:
        """The marks of all cables in a starter's loop or a generator's main."""
        branches = self.found.plant.network.branches
        return frozenset(
            branches[n].name for main in self.mains for n in main.branches if branches[n].sort == "cable"
        )

    @cached_property
    def _fusing(self) -> dict[int, tuple[float, float]]:
        return {r.branch: (r.carrying.value, r.fusing.value) for r in self.found.fuses}

    def fuse_of(self, report: CableReport) -> float:
        """What the fuse before a cable carries, or the first behind one that has none before it [A]."""
        protection = report.protection
        if protection is None:
            return 0.0
        if protection.fuse >= 0:
            return self._fusing[protection.fuse][0]
        if not protection.bare:
            return 0.0
        behind = fuse_below(self.found.study, report.cable.id)
        return self._fusing[behind][0] if behind in self._fusing else 0.0

    def limits(self) -> list[Limit]:
        """All limits as they stand."""
        return [*self._of_drops(), *self._of_mains()]

    def _of_drops(self) -> Iterator[Limit]:
        for number, ((name, _), (drop, least)) in enumerate(self.drops.items()):
            terms, fixed, supply_side, loop = self._split(drop)
            if not terms:
                continue
            shown = name_of(self.found.plant, name)
            yield Limit(f"drop at {shown} ({number})", tuple(terms.items()), max(least - fixed, 1e-6))
            carrying = self._fusing.get(drop.run.fuse)
            if carrying is not None and supply_side:
                ohms = self.found.plant.network.supply / (CLEARS_BY * carrying[1]) - loop
                along = tuple((mark, 1.0) for mark in supply_side)
                yield Limit(f"short at {shown} ({number})", along, max(ohms, 1e-6), "ohm")

    def _split(self, drop: DropVerdict) -> tuple[dict[str, float], float, list[str], float]:
        """A run's amperes by cable, what its other wiring drops, the supply side's cables, its other ohms."""
        branches = self.found.plant.network.branches
        terms: dict[str, float] = {}
        supply_side: list[str] = []
        fixed = loop = 0.0
        for part in drop.run.parts:
            branch = branches[part.branch]
            if branch.sort == "cable" and branch.name in self.chosen:
                terms[branch.name] = terms.get(branch.name, 0.0) + part.amps * self.hot.get(branch.name, 1.0)
                supply_side += [] if part.back else [branch.name]
            else:
                fixed += part.volts
                loop += part.volts / part.amps if part.amps > 0 and not part.back else 0.0
        return terms, fixed, supply_side, loop

    def _of_mains(self) -> Iterator[Limit]:
        """A generator's main keeps to 2 % at rated output; a starter's loop is no worse than the period's."""
        branches = self.found.plant.network.branches
        for main in self.mains:
            marks = [branches[n].name for n in main.branches if branches[n].sort == "cable"]
            own = [mark for mark in marks if mark in self.chosen]
            if own and main.amps > 0 and main.rule == "generator":
                fixed = main.amps * sum(
                    ohms_of(self.found.plant, n) for n in main.branches if branches[n].name not in own
                )
                greatest = max(feeder_drop_limit(main.volts).value - fixed, self._period(own, main.amps))
                yield Limit(
                    f"main of {name_of(self.found.plant, main.name)}",
                    tuple((mark, main.amps) for mark in own),
                    greatest,
                )
            elif own:
                yield Limit(
                    f"starting loop of {name_of(self.found.plant, main.name)}",
                    tuple((m, 1.0) for m in own),
                    self._period(own, 1.0),
                    "ohm",
                )

    def _period(self, marks: Sequence[str], amps: float) -> float:
        """What the period's own cables of these drop.

        So that a re-wire is never asked for less than it had.
        """
        total = 0.0
        for mark in marks:
            report = self.chosen[mark]
            if report.size is not None:
                total += amps * report.length.high * resistance_per_metre(report.size)
        return total

    def tightened(self, judged: Sequence[DropVerdict], warmth: Mapping[str, Warmth]) -> Iterator[str]:
        """What breaks a rule in the network, the limits being drawn in by as much."""
        for drop in judged:
            least = min(verdict.limit.value for verdict in drop.verdicts)
            if drop.high <= least * (1 + DROP_TOLERANCE):
                continue
            key = (drop.run.load.name, self._marks(drop))
            known, allowed = self.drops.get(key, (drop, least))
            self.drops[key] = (known, allowed * min(1.0, least / drop.high) * MARGIN)
            yield f"{name_of(self.found.plant, drop.run.load.name)}: drop {drop.high:.2f} V of {least:.2g} V"
        for mark in self.derated:
            warm = warmth.get(mark)
            if warm is not None and warm.current > warm.limit.value * (1 + 1e-6):
                self.derated[mark] = min(self.derated[mark], _derating(warm)) * MARGIN
                yield f"{mark}: {warm.current:.3g} A where it may carry {warm.limit.value:.3g} A"


# -- judged in the network -----------------------------------------------------------------------------------


def _with_set(found: CableStudy, sizes: Mapping[str, Size]) -> tuple[Study, dict[str, Warmth]]:
    """The installation with the new set, its telling cases solved again, and how warm it runs."""
    installation = found.plant.installation
    dossier = installation.dossier
    cables = {
        mark: replace(cable, size=sizes[mark], cover=MODERN) if mark in sizes else cable
        for mark, cable in dossier.cables.items()
    }
    renewed = replace(installation, dossier=replace(dossier, cables=cables))
    length = {report.cable.id: report.length.high for report in found.cables}
    bare = replace(found.plant, installation=renewed)
    plant = with_resistances(bare, warm_resistances(bare, {}, lambda mark: length.get(mark, 0.0)))
    study = _again(found.study, plant)
    return study, warmths(study, found.practice.conditions)


def _again(study: Study, plant: Plant) -> Study:
    """The cases that are worst for any load or cable, solved in another plant."""
    cases = []
    telling = {number for _, number in (*study.most, *study.steady)}
    for case in (case for number, case in enumerate(study.cases) if number in telling):
        solution = solve(
            plant.solver, case.settled.memory.levers, case.solution.variables, near=case.solution
        )
        cases.append(
            Case(
                words=case.words,
                background=case.background,
                settled=case.settled,
                solution=solution,
                service=case.service,
                operations=case.operations,
            )
        )
    return replace(study, plant=plant, cases=tuple(cases))


# -- told ----------------------------------------------------------------------------------------------------


def _period_mass(report: CableReport) -> float:
    if report.size is None:
        return 0.0
    return mass_per_metre(report.size) / report.size.cores * report.length.high


def _none(
    catalogue: Catalogue, choice: Choice, found: CableStudy, chosen_from: Sequence[CableReport], rounds: int
) -> Rewiring:
    chosen = {report.cable.id for report in chosen_from}
    return Rewiring(
        catalogue=catalogue,
        choice=choice,
        changes=(),
        mass=0.0,
        period_mass=sum(map(_period_mass, chosen_from)),
        judged=(),
        warmth={},
        broken=tuple(
            f"{s.name}: needs {s.least:.3g} {s.unit}, has {s.allowed:.3g}. {s.hint}"
            for s in choice.shortfalls
        ),
        left=tuple(r.cable.id for r in found.cables if r.cable.id not in chosen),
        rounds=rounds,
    )


def _told(
    catalogue: Catalogue,
    choice: Choice,
    found: CableStudy,
    needs: Mapping[str, _Need],
    judged: tuple[DropVerdict, ...],
    warmth: Mapping[str, Warmth],
    broken: tuple[str, ...],
    rounds: int,
) -> Rewiring:
    reasons = {reason.run: reason for reason in choice.reasons}
    changes = []
    for mark, need in needs.items():
        report, size = need.report, choice.sizes[mark]
        reason = reasons.get(mark)
        changes.append(
            Change(
                cable=mark,
                service=report.cable.service,
                from_=report.cable.from_,
                to=report.cable.to,
                period=report.size.text if report.size is not None else "",
                size=size.name,
                length=report.length.high,
                mass=size.mass * report.length.high,
                period_mass=_period_mass(report),
                why=_why(reason.lighter, reason.broken, mark, need.struck)
                if reason is not None
                else THINNEST,
            )
        )
    return Rewiring(
        catalogue=catalogue,
        choice=choice,
        changes=tuple(changes),
        mass=choice.mass,
        period_mass=sum(change.period_mass for change in changes),
        judged=judged,
        warmth=warmth,
        broken=broken,
        left=tuple(r.cable.id for r in found.cables if r.cable.id not in needs),
        rounds=rounds,
    )


THINNEST = "the thinnest that is handled"


def _why(lighter: str, broken: Sequence[str], mark: str, struck: str) -> str:
    """Why not the next lighter, in words: the limit it breaks, without the run's own name before it."""
    if not broken:
        return f"{lighter}: would break a limit of the set as a whole"
    first = broken[0].removeprefix(f"{mark}: ")
    if first == "not among the sizes allowed here":
        first = struck
    return f"{lighter}: {re.sub(r' [(][0-9]+[)]', '', first)}"
