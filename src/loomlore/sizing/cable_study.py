"""One standard of fit judged whole: every cable's drop, warmth and protection, every fuse and every switch.

The pieces stand in modules of their own; here they are put together in their order, and each cable gets one
word:

    fails     a rule is broken: its fuse is greater than the chart's, it runs too warm, a drop along it is too
    great,
              a short at its end would burn it
    in doubt  a length or a missing figure decides, or only the stricter reading is broken
    passes    all rules kept
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from loomlore.behaviour.readings import name_of
from loomlore.catalogue.conductors import conductor_area, mass_per_metre
from loomlore.findings import Finding, LoomloreError
from loomlore.network.building import Plant
from loomlore.quantities import Size
from loomlore.record.model import Cable
from loomlore.references import Working, citation
from loomlore.sizing.ampacity import judged_ampacity
from loomlore.sizing.bundles import Conditions, Warmth, size_of, warmths
from loomlore.sizing.dropping import CableLength, DropVerdict, judged_runs, lengths_of
from loomlore.sizing.duty import Study, study
from loomlore.sizing.judging import Judgement
from loomlore.sizing.lacking import lacking_for_cables
from loomlore.sizing.protecting import CableProtection, FuseReport, cable_protections, fuse_reports
from loomlore.sizing.switching import SwitchReport, switch_reports

__all__ = ["CableReport", "CableStudy", "Practice", "cable_study"]

WORDS = ("fails", "in doubt", "passes", "not judged")


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """By what the cables are judged: the air, a limit of the user's own, the period's own carrying amperes.

    ``share`` is a greatest drop as a share of the supply [1]; ``carrying`` maps a size as written to what the
    period let it carry [A].
    """

    conditions: Conditions = field(default_factory=Conditions)
    share: float | None = None
    carrying: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CableReport:
    """A cable and all that is said of it; ``word`` is the gravest, ``reasons`` why in words.

    ``drops`` are the loads whose runs it is in; ``period`` is the judgement by the period's own carrying
    amperes.
    """

    cable: Cable
    size: Size | None
    area: float | None
    length: CableLength
    mass: float | None
    warmth: Warmth | None
    ampacity: Judgement | None
    protection: CableProtection | None
    period: Judgement | None
    drops: tuple[DropVerdict, ...]
    word: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class CableStudy:
    """Everything about the cables of one standard of fit."""

    study: Study = field(repr=False)
    practice: Practice
    cables: tuple[CableReport, ...]
    drops: tuple[DropVerdict, ...]
    fuses: tuple[FuseReport, ...]
    switches: tuple[SwitchReport, ...]
    findings: tuple[Finding, ...]

    @property
    def plant(self) -> Plant:
        """The installation."""
        return self.study.plant

    def count(self, word: str) -> int:
        """How many cables have a word."""
        return sum(report.word == word for report in self.cables)


def cable_study(
    plant: Plant, practice: Practice | None = None, *, basis_given: bool = True, service: str = ""
) -> CableStudy:
    """Judge every cable, fuse and switch of an installation.

    Parameters
    ----------
    plant
        One standard of fit.
    practice
        By what they are judged.
    basis_given
        Whether the dossier says what its fuses' figures mean.
    service
        Work and tell only this service's loads and cables; all where empty.

    Returns
    -------
    CableStudy
        Cables in order of the record.

    Source
    ------
    [ac43.13-1b table 11-3], [ac43.13-1b table 11-6], [ac43.13-1b par 11-69]
    """
    practice = practice or Practice()
    found = study(plant, only=service)
    dossier = plant.installation.dossier
    lengths = lengths_of(dossier)
    warmth = warmths(found, practice.conditions)
    areas = _areas(plant)
    drops = judged_runs(found, warmth, share=practice.share)
    protections = cable_protections(found, warmth, practice.conditions, areas=areas, basis_given=basis_given)
    switches = switch_reports(found)
    along: dict[int, list[DropVerdict]] = {}
    for drop in drops:
        for branch in drop.run.branches():
            along.setdefault(branch, []).append(drop)
    reports = []
    for cable in dossier.cables.values():
        number = plant.network.branch_of.get(f"cable:{cable.id}")
        if number is None:
            continue
        reports.append(
            _report(
                cable,
                areas.get(cable.id),
                lengths[cable.id],
                warmth.get(cable.id),
                protections.get(cable.id),
                tuple(along.get(number, ())),
                practice,
                plant,
            )
        )
    lacking = lacking_for_cables(plant, lengths, switches, basis_given=basis_given)
    return CableStudy(
        study=found,
        practice=practice,
        cables=tuple(r for r in reports if service in ("", r.cable.service)),
        drops=tuple(d for d in drops if not service or service in d.run.load.services),
        fuses=fuse_reports(found, protections, basis_given=basis_given),
        switches=switches,
        findings=(*found.findings, *lacking),
    )


def _areas(plant: Plant) -> dict[str, float]:
    dossier = plant.installation.dossier
    found: dict[str, float] = {}
    for cable in dossier.cables.values():
        size = size_of(cable, dossier)
        if size is None or f"cable:{cable.id}" not in plant.network.branch_of:
            continue
        try:
            found[cable.id] = conductor_area(size)
        except LoomloreError:
            continue
    return found


def _report(
    cable: Cable,
    area: float | None,
    length: CableLength,
    warmth: Warmth | None,
    protection: CableProtection | None,
    drops: tuple[DropVerdict, ...],
    practice: Practice,
    plant: Plant,
) -> CableReport:
    size = size_of(cable, plant.installation.dossier)
    ampacity = _steady(warmth) if warmth is not None else None
    period = _period(size, warmth, practice)
    told = [
        *(_told(length, warmth, ampacity, period) if area is not None else ()),
        *(_protected(protection) if area is not None and protection is not None else ()),
        *(_dropped(plant, drops) if area is not None else ()),
    ]
    word = min(
        (word for word, _ in told), key=WORDS.index, default="passes" if area is not None else "not judged"
    )
    mass = None
    if size is not None and area is not None and length.known:
        mass = mass_per_metre(size) / size.cores * length.value
    return CableReport(
        cable=cable,
        size=size,
        area=area,
        length=length,
        mass=mass,
        warmth=warmth,
        ampacity=ampacity,
        protection=protection,
        period=period,
        drops=drops,
        word=word,
        reasons=tuple(reason for _, reason in sorted(told, key=lambda entry: WORDS.index(entry[0])))
        if area is not None
        else ("No size is recorded, or none that the tables know.",),
    )


def _steady(warmth: Warmth) -> Judgement:
    source = citation("method", "sect 3.5")
    value = Working(
        "current for good", warmth.current, "A", "the most of all settings that last", (), source, "computed"
    )
    return judged_ampacity(value, warmth.limit)


def _period(size: Size | None, warmth: Warmth | None, practice: Practice) -> Judgement | None:
    """By the period's own figure for the size, where the user gives one."""
    carrying = (practice.carrying or {}).get(size.text) if size is not None else None
    if carrying is None or warmth is None:
        return None
    source = citation("common-practice")
    value = Working(
        "current for good", warmth.current, "A", "the most of all settings that last", (), source, "computed"
    )
    limit = Working("the period's carrying amperes", carrying, "A", "as given", (), source, "practice")
    return judged_ampacity(value, limit)


def _told(
    length: CableLength,
    warmth: Warmth | None,
    ampacity: Judgement | None,
    period: Judgement | None,
) -> Iterator[tuple[str, str]]:
    if warmth is not None and ampacity is not None and not ampacity.passes:
        yield (
            "fails",
            (
                f"{warmth.current:.3g} A for good, where it may carry {warmth.limit.value:.3g} A: "
                f"its conductor would run at {warmth.temperature.value:.0f} °C."
            ),
        )
    if warmth is not None and warmth.lasts is not None and warmth.lasts < SHORTEST_MOMENT:
        yield "in doubt", f"{warmth.moment:.3g} A brings it to its rated temperature in {warmth.lasts:.2g} s."
    if period is not None and not period.passes:
        yield (
            "fails",
            (
                f"By the period's own figure it may carry {period.limit.value:.3g} A, and "
                f"{period.value.value:.3g} A flow."
            ),
        )
    if not length.known:
        yield "in doubt", "Its length is not known."


def _dropped(plant: Plant, drops: tuple[DropVerdict, ...]) -> Iterator[tuple[str, str]]:
    for drop in drops:
        for verdict in drop.verdicts:
            if verdict.word != "passes":
                name = name_of(plant, drop.run.load.name)
                yield verdict.word, f"{name}: drop {drop.high:.2f} V of {verdict.limit.value:.2g} V allowed."


SHORTEST_MOMENT = 3.0
"""A start, a cartridge or a push held is over in this time [s]: common practice, no source."""


def _protected(protection: CableProtection) -> Iterator[tuple[str, str]]:
    chart, ampacity, short = protection.chart, protection.ampacity, protection.short
    if chart is not None and not chart.passes:
        yield (
            "fails",
            (
                f"Its fuse carries {chart.value.value:.3g} A; "
                f"the chart allows its size {chart.limit.value:.3g} A."
            ),
        )
    if ampacity is not None and not ampacity.passes:
        yield (
            "in doubt",
            (
                f"Its fuse carries {ampacity.value.value:.3g} A, "
                f"more than the {ampacity.limit.value:.2g} A it may carry "
                "where it lies: an overload short of the fuse's would over-heat it."
            ),
        )
    if short is not None and short.word == "does not clear":
        yield "fails", f"A short at its end draws {short.words}."
    elif (short is not None and short.word == "clears slowly") or (
        short is not None
        and short.word == "no fuse"
        and short.melts is not None
        and short.melts.value < SHORTEST_MOMENT
    ):
        yield "in doubt", f"A short at its end draws {short.words}."
    if short is not None and short.withstand is not None and not short.withstand.passes:
        yield "fails", f"A short burns its covering before the fuse goes: {short.current:.0f} A."
    if protection.note:
        yield "in doubt" if "Thinner" in protection.note else "passes", protection.note
