"""Each fuse against its cables, its loads and the fuse above; and a short to earth at each cable's far end.

Which fuse protects a cable is found from the solved case in which it carries most: the first fuse met against
the flow. A cable that a battery reaches through no fuse at all is bare, whatever else feeds it. A short is
put on each cable's far end in turn (:func:`loomlore.sizing.variants.with_faults`), with batteries and
generators as they stand.

How soon a fuse goes nobody printed for period fuses: taken as the tinned copper wire of the trade table for
what it carries, by Onderdonk up to ten seconds; a made fuse may be slower or quicker.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from loomlore.behaviour.readings import name_of
from loomlore.findings import LoomloreError
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Filament, Fuse, Motor
from loomlore.network.solving import Solution, solve
from loomlore.references import OutOfRange, Working, citation
from loomlore.sizing.bundles import Conditions, Warmth
from loomlore.sizing.duty import Case, Load, Study
from loomlore.sizing.judging import Judgement
from loomlore.sizing.protection import (
    Basis,
    carrying_current,
    fuse_wire_swg,
    fusing_current,
    fusing_time_onderdonk,
    judged_discrimination,
    judged_fuse_for_ampacity,
    judged_protector,
    judged_withstand,
    protector_limit_ac4313_1998,
    withstand_current,
)
from loomlore.sizing.runs import fuse_above, is_wiring
from loomlore.sizing.variants import with_fault, with_faults

__all__ = [
    "CableProtection",
    "FuseReport",
    "Short",
    "bare_nodes",
    "cable_protections",
    "fuse_reports",
]

QUICK = 2.0
"""A short of so many times the fusing current is cleared at once: common practice, no source."""

INRUSH_SECONDS = 0.05
"""How long a cold filament draws its inrush: common practice, no source."""

ADIABATIC_SECONDS = 5.0


@dataclass(frozen=True, slots=True)
class Short:
    """A short to earth (or between the poles) at the far end of a cable.

    ``current`` flows in the short, ``through`` in the fuse [A]; ``melts`` the fuse's time by its wire [s] or
    None; ``word`` is clears, clears slowly, does not clear, or no fuse.
    """

    current: float
    through: float
    word: str
    words: str
    melts: Working | None = None
    withstand: Judgement | None = None


@dataclass(frozen=True, slots=True)
class CableProtection:
    """A cable's protection. ``side`` is supply, return or dead (nothing flows in it in any setting tried).

    ``fuse`` is the branch of its fuse (-1 none), ``bare`` whether a battery reaches it through no fuse.
    """

    cable: str
    fuse: int
    side: str
    bare: bool
    chart: Judgement | None = None
    ampacity: Judgement | None = None
    short: Short | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class FuseReport:
    """A fuse and what it must stand: ``carrying`` and ``fusing`` [A] with the basis they came from.

    ``running`` the most it carries for good, ``starting`` the most while a motor starts, in words what that
    means; ``above`` the fuse nearer the supply (-1 none).
    """

    branch: int
    name: str
    carrying: Working
    fusing: Working
    basis: Basis
    basis_given: bool
    running: float
    running_case: int
    starting: float
    starts: str
    word: str
    words: str
    above: int = -1
    discrimination: Judgement | None = None
    protects: tuple[str, ...] = field(default=())


# -- fuses ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stamp:
    carrying: Working
    fusing: Working
    basis: Basis
    given: bool


@lru_cache(maxsize=16)
def _stamps(plant: Plant, default_given: bool) -> Mapping[int, _Stamp]:
    """What each fuse carries and what melts it, from its print and basis."""
    found: dict[int, _Stamp] = {}
    header = plant.installation.dossier.header
    for number, branch in enumerate(plant.network.branches):
        if not isinstance(branch.law, Fuse):
            continue
        equipment = plant.installation.equipment[branch.item]
        element = equipment.elements[branch.name.rpartition(".")[2]]
        way = plant.installation.dossier.ways.get(branch.name)
        own = (way.basis if way is not None else "") or equipment.item.basis
        says = element.words.get("basis") or own or header.basis
        basis: Basis = "fusing" if says == "fusing" else "carrying"
        printed = branch.law.fusing if basis == "fusing" else branch.law.carrying
        found[number] = _Stamp(
            carrying_current(printed, basis=basis),
            fusing_current(printed, basis=basis),
            basis,
            bool(own) or default_given,
        )
    return found


def bare_nodes(plant: Plant) -> frozenset[int]:
    """The nodes that a battery reaches through no fuse, every contact taken as closed.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    frozenset of int
        Without the airframe and what hangs on it.
    """
    network = plant.network
    header = plant.installation.dossier.header
    around: dict[int, list[int]] = {}
    for number, branch in enumerate(network.branches):
        if not isinstance(branch.law, Fuse) and is_wiring(network, number):
            around.setdefault(branch.a, []).append(branch.b)
            around.setdefault(branch.b, []).append(branch.a)
    starts = {
        b.b if header.earthed == "positive" else b.a for b in network.branches if isinstance(b.law, Battery)
    }
    reached, waiting = set(starts), list(starts)
    while waiting:
        for other in around.get(waiting.pop(), ()):
            if other not in reached and other != 0:
                reached.add(other)
                waiting.append(other)
    return frozenset(reached)


# -- cables --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Fed:
    """How a cable is fed where it carries most: its far end, and what was passed on the way to its fuse."""

    far: int
    fuse: int
    side: str
    case: int


def cable_protections(
    study: Study,
    warmth: Mapping[str, Warmth],
    conditions: Conditions,
    *,
    areas: Mapping[str, float],
    basis_given: bool = True,
) -> dict[str, CableProtection]:
    """Judge the protection of every cable.

    Parameters
    ----------
    study
        All cases.
    warmth
        How warm each runs, and what it may carry.
    conditions
        Of the air.
    areas
        Of each cable's metal [m2]; those without are left out.
    basis_given
        Whether the dossier says what its fuses' figures mean.

    Returns
    -------
    dict of str to CableProtection
        By mark.

    Source
    ------
    [ac43.13-1b table 11-3], [iec60949 sect 3], [method sect 4.1]
    """
    plant = study.plant
    bare = bare_nodes(plant)
    stamps = _stamps(plant, basis_given)
    fed = {mark: _fed(study, plant.network.branch_of[f"cable:{mark}"]) for mark in areas}
    shorted = [mark for mark, how in fed.items() if how.side == "supply"]
    return_node = _return_node(plant)
    solver, first = with_faults(plant, [fed[mark].far for mark in shorted], to=return_node)
    shorts: dict[str, Solution] = {}
    for place, mark in enumerate(shorted, start=1):
        case = study.cases[fed[mark].case]
        memory = with_fault(case.settled.memory, place)
        shorts[mark] = solve(solver, memory.levers, case.solution.variables)
    found = {}
    for mark, how in fed.items():
        short = None
        branch = plant.network.branches[plant.network.branch_of[f"cable:{mark}"]]
        is_bare = branch.a in bare and branch.b in bare
        if mark in shorts:
            amps = abs(shorts[mark].amps(first + shorted.index(mark)))
            fuse = how.fuse if how.fuse >= 0 or is_bare else _goes_first(shorts[mark], stamps)
            through = abs(shorts[mark].amps(fuse)) if fuse >= 0 else amps
            if (
                fuse >= 0 and fuse != how.fuse
            ):  # another source's fuse goes; what is left feeds the short alone
                amps = _left(shorts[mark], fuse, first + shorted.index(mark))
                fuse = -1
            stamp = None if is_bare else stamps.get(fuse)
            short = _short(amps, through, stamp, areas[mark], warmth.get(mark), conditions)
        found[mark] = _protection(
            mark, how, is_bare, stamps.get(how.fuse), areas[mark], warmth.get(mark), short
        )
    return found


def _goes_first(solution: Solution, stamps: Mapping[int, _Stamp]) -> int:
    """The fuse that a short melts first, wherever it stands, or -1."""
    over = {n: abs(solution.amps(n)) / stamp.fusing.value for n, stamp in stamps.items()}
    worst = max(over, key=lambda n: over[n], default=-1)
    return worst if worst >= 0 and over[worst] >= 1 else -1


def _left(solution: Solution, fuse: int, short: int) -> float:
    """What still feeds a short when a fuse has gone [A]: a generator that has none of its own."""
    variables = list(solution.variables)
    variables[solution.solver.network.branches[fuse].memory] = 1
    return abs(solve(solution.solver, solution.levers, variables).amps(short))


def _return_node(plant: Plant) -> int:
    if plant.installation.dossier.header.earthed != "none":
        return 0
    return next((b.b for b in plant.network.branches if isinstance(b.law, Battery)), 0)


def _fed(study: Study, branch: int) -> _Fed:
    amps, case = study.steady[branch]
    if amps <= 1e-6:
        amps, case = study.most[branch]
    record = study.plant.network.branches[branch]
    if amps <= 1e-6:
        return _Fed(record.b, _fuse_of_service(study.plant, record.name), "dead", case)
    flow = study.cases[case].amps[branch]
    positive = study.plant.installation.dossier.header.earthed != "positive"
    near, far = (record.a, record.b) if (flow > 0) == positive else (record.b, record.a)
    fuse, through_load = fuse_above(study.plant, study.cases[case], near, branch)
    if through_load and fuse >= 0 and not _feeds(study.plant, fuse, record.name):
        fuse = -1
    return _Fed(far, fuse, "return" if through_load else "supply", case)


def _feeds(plant: Plant, fuse: int, mark: str) -> bool:
    """Whether a fuse is a feed of the cable's own service.

    What comes home in it is then that service's alone.
    """
    service = plant.installation.dossier.services.get(plant.installation.dossier.cables[mark].service)
    record = plant.network.branches[fuse]
    return service is not None and bool({record.name, record.item} & set(service.feed))


def _fuse_of_service(plant: Plant, mark: str) -> int:
    dossier = plant.installation.dossier
    service = dossier.services.get(dossier.cables[mark].service)
    if service is None or len(service.feed) != 1:
        return -1
    feed = service.feed[0]
    own = (n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Fuse))
    return next(
        (n for n in own if feed in (plant.network.branches[n].name, plant.network.branches[n].item)), -1
    )


def _protection(
    mark: str,
    fed: _Fed,
    bare: bool,
    stamp: _Stamp | None,
    area: float,
    warm: Warmth | None,
    short: Short | None,
) -> CableProtection:
    chart = ampacity = None
    note = ""
    if fed.side == "dead" and not bare:
        note = "Nothing that the record reckons with flows in it."
    elif stamp is not None and not bare:
        try:
            chart = judged_protector(stamp.carrying, protector_limit_ac4313_1998(area, kind="fuse"))
        except OutOfRange:
            note = "Thinner than the chart begins; no fuse is listed for it."
        if warm is not None:
            ampacity = judged_fuse_for_ampacity(stamp.carrying, warm.limit)
    fuse = -1 if bare else fed.fuse
    return CableProtection(mark, fuse, fed.side, bare, chart, ampacity, short, note)


def _short(
    amps: float,
    through: float,
    stamp: _Stamp | None,
    area: float,
    warm: Warmth | None,
    conditions: Conditions,
) -> Short:
    start = warm.temperature.value if warm is not None else conditions.ambient
    if stamp is None:
        itself = fusing_time_onderdonk(area, current=max(amps, 1e-6), ambient=min(start, 200.0))
        words = f"{amps:.0f} A with no fuse; the conductor itself melts in about {_seconds(itself.value)}"
        return Short(amps, through, "no fuse", words, itself)
    fusing = stamp.fusing.value
    if through < fusing:
        words = f"{amps:.1f} A, {through:.1f} A through a fuse that goes at {fusing:.3g} A: it does not go"
        return Short(amps, through, "does not clear", words)
    melts = _fuse_melts(stamp.carrying.value, through)
    soon = f" in about {_seconds(melts.value)}" if melts is not None else ""
    quick = through >= QUICK * fusing
    words = (
        f"{amps:.0f} A, {through / fusing:.1f} times what melts the fuse: it "
        f"goes{soon if quick else ' slowly'}"
    )
    return Short(
        amps,
        through,
        "clears" if quick else "clears slowly",
        words,
        melts,
        _withstood(amps, melts, area, warm, start),
    )


def _seconds(value: float) -> str:
    return f"{value:.0f} s" if value >= 10 else f"{value:.1g} s" if value >= 0.001 else "a millisecond"


@lru_cache(maxsize=512)
def _fuse_wire_area(carrying: float) -> float | None:
    try:
        return math.pi / 4 * fuse_wire_swg(carrying).value ** 2
    except OutOfRange:
        return None


def _fuse_melts(carrying: float, current: float) -> Working | None:
    area = _fuse_wire_area(carrying)
    return None if area is None else fusing_time_onderdonk(area, current=current, ambient=20.0)


def _withstood(
    amps: float, melts: Working | None, area: float, warm: Warmth | None, start: float
) -> Judgement | None:
    """The conductor against the let-through of its fuse.

    Where that is quick enough for no heat to get away.
    """
    if melts is None or warm is None or not 0 < melts.value <= ADIABATIC_SECONDS:
        return None
    fault = Working(
        "short-circuit current",
        amps,
        "A",
        "solved network, a short of 5 mohm",
        (),
        citation("method", "sect 4.1"),
        "computed",
    )
    try:
        stands = withstand_current(
            area, time=melts.value, start=min(start, warm.covering.moment), final=warm.covering.moment
        )
    except LoomloreError:
        return None
    return judged_withstand(fault, stands)


# -- fuses and their loads -----------------------------------------------------------------------------------


def fuse_reports(
    study: Study, protections: Mapping[str, CableProtection], *, basis_given: bool = True
) -> tuple[FuseReport, ...]:
    """Judge every fuse against its loads and the fuse above.

    Parameters
    ----------
    study
        All cases.
    protections
        Of the cables, for what each fuse protects.
    basis_given
        Whether the dossier says what its fuses' figures mean.

    Returns
    -------
    tuple of FuseReport
        In order of the record.

    Source
    ------
    [ac43.13-1b par 11-48], [method sect 4.1]
    """
    found = []
    for branch, stamp in _stamps(study.plant, basis_given).items():
        marks = tuple(mark for mark, how in protections.items() if how.fuse == branch)
        found.append(_report(study, branch, stamp, marks, _stamps(study.plant, basis_given)))
    return tuple(found)


def _report(
    study: Study, branch: int, stamp: _Stamp, marks: tuple[str, ...], stamps: Mapping[int, _Stamp]
) -> FuseReport:
    running, case = study.steady[branch]
    moment, moment_case = study.most[branch]
    starting, starts = _starting(study, branch)
    word, words = _fares(study, stamp, running, moment, moment_case, starting, starts)
    above = _above(study, branch)
    discrimination = None
    if above >= 0:
        discrimination = judged_discrimination(downstream=stamp.carrying, upstream=stamps[above].carrying)
    return FuseReport(
        branch=branch,
        name=study.plant.network.branches[branch].name,
        carrying=stamp.carrying,
        fusing=stamp.fusing,
        basis=stamp.basis,
        basis_given=stamp.given,
        running=running,
        running_case=case,
        starting=starting,
        starts=starts,
        word=word,
        words=words,
        above=above,
        discrimination=discrimination,
        protects=marks,
    )


def _above(study: Study, branch: int) -> int:
    amps, case = study.most[branch]
    if amps <= 1e-6:
        return -1
    record = study.plant.network.branches[branch]
    flow = study.cases[case].amps[branch]
    positive = study.plant.installation.dossier.header.earthed != "positive"
    near = record.a if (flow > 0) == positive else record.b
    above, through_load = fuse_above(study.plant, study.cases[case], near, branch)
    return -1 if through_load or above < 0 or _feeds_bus(study, above, case) else above


def _feeds_bus(study: Study, fuse: int, case: int) -> bool:
    """Whether it stands in a generator's own main, which feeds what a battery reaches without a fuse.

    Such a fuse stands beside the battery's way and not above the others: discrimination is not asked of it.
    """
    record = study.plant.network.branches[fuse]
    flow = study.cases[case].amps[fuse]
    to = record.b if flow > 0 else record.a
    return to in bare_nodes(study.plant)


def _loads_below(study: Study, fuse: int) -> Iterator[tuple[Load, Case, float]]:
    """Loads whose run begins at this fuse, each in the case in which it takes most."""
    for load in study.loads:
        amps, number = study.most[load.branch]
        if amps <= 1e-6:
            continue
        case = study.cases[number]
        record = study.plant.network.branches[load.branch]
        positive = study.plant.installation.dossier.header.earthed != "positive"
        flow = case.amps[load.branch]
        near = record.a if (flow > 0) == positive else record.b
        above, through_load = fuse_above(study.plant, case, near, load.branch)
        if above == fuse and not through_load:
            yield load, case, amps


def _starting(study: Study, fuse: int) -> tuple[float, str]:
    """The most through a fuse while a motor below it starts or cold lamps are switched on, and what it is."""
    most, what = 0.0, ""
    for load, case, amps in _loads_below(study, fuse):
        law = study.plant.network.branches[load.branch].law
        if isinstance(law, Motor):
            surge, kind = law.amps * law.stall, "motor"
        elif isinstance(law, Filament):
            surge, kind = law.amps / law.cold, "cold lamp"
        else:
            continue
        total = max(0.0, abs(case.amps[fuse]) - amps) + surge
        if kind == "cold lamp":
            total = sum(
                x.amps / x.cold
                for other, _, _ in _loads_below(study, fuse)
                if isinstance(x := study.plant.network.branches[other.branch].law, Filament)
                and abs(case.amps[other.branch]) > 1e-3
            )
        if total > most:
            most, what = total, f"{kind} {name_of(study.plant, load.name)}"
    return most, what


def _fares(
    study: Study, stamp: _Stamp, running: float, moment: float, moment_case: int, starting: float, starts: str
) -> tuple[str, str]:
    carrying, fusing = stamp.carrying.value, stamp.fusing.value
    if running > fusing:
        return "fails", f"{running:.3g} A for good melts it: it goes at {fusing:.3g} A."
    if running > carrying * (1 + 1e-6):
        return "in doubt", f"{running:.3g} A for good, more than the {carrying:.3g} A it is made to carry."
    if moment > fusing:
        soon = _fuse_melts(carrying, moment)
        lasts = f", for about {_seconds(soon.value)}" if soon is not None else ""
        return (
            "in doubt",
            f"Stands {moment:.3g} A only for a moment{lasts}: {study.cases[moment_case].words}.",
        )
    if starting > fusing:
        soon = _fuse_melts(carrying, starting)
        if starts.startswith("cold lamp"):
            if soon is not None and soon.value > INRUSH_SECONDS:
                return (
                    "passes",
                    f"Stands the {starting:.3g} A of the cold lamps, which is over in {INRUSH_SECONDS:g} s.",
                )
            return "in doubt", f"The {starting:.3g} A of the cold lamps may melt it as they are switched on."
        lasts = f" about {_seconds(soon.value)}" if soon is not None else " a time that nobody printed"
        return (
            "in doubt",
            (
                f"{starts.removeprefix('motor ')} draws {starting:.3g} A as it starts; "
                f"the fuse stands that for{lasts}."
            ),
        )
    return "passes", "Carries its loads, running and starting."
