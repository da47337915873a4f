"""``cables``: drop, ampacity and protection of every cable.

One cable argued from source to verdict; a re-wire chosen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from loomlore.answers.opening import Opened, Record, opened_of
from loomlore.answers.operate import finding_data
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.answers.sizing_data import (
    cable_data,
    drop_data,
    fuse_data,
    judgement_data,
    rewiring_data,
    working_data,
)
from loomlore.behaviour.readings import name_of
from loomlore.findings import Severity, UnknownName
from loomlore.quantities import as_written, read_size
from loomlore.references import Working
from loomlore.sizing.bundles import Conditions
from loomlore.sizing.cable_study import CableReport, CableStudy, Practice, cable_study
from loomlore.sizing.dropping import DropVerdict
from loomlore.sizing.judging import Judgement
from loomlore.sizing.mains import MainRun, judged_mains
from loomlore.sizing.protecting import FuseReport
from loomlore.sizing.rewiring import Catalogue, Rewiring, rewired

__all__ = ["CablesAnswer", "cables", "practice_of"]

TONES = {"passes": "good", "in doubt": "doubt", "fails": "bad", "not judged": "doubt"}

CLOSE = 0.8
"""A drop above this share of its limit is listed though it passes."""


@dataclass(frozen=True, kw_only=True)
class CablesAnswer:
    """What the cables of one standard of fit carry, drop and are protected by.

    ``one`` is the cable argued at length where one was asked for; ``rewirings`` the sets chosen, where asked
    for.
    """

    title: str
    standard: str
    found: CableStudy = field(repr=False)
    mains: tuple[tuple[MainRun, Judgement], ...]
    one: CableReport | None = None
    rewirings: tuple[Rewiring, ...] = ()
    everything: bool = False

    @property
    def failed(self) -> bool:
        """Whether a finding of severity error stands in the way.

        A cable that fails is the answer, not an error.
        """
        return any(f.severity is Severity.ERROR for f in self.found.findings)

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title, 1), Paragraph(self._conditions())]
        if self.one is not None:
            blocks += _argument(self.found, self.one)
        else:
            blocks += self._whole()
        for rewiring in self.rewirings:
            blocks += _rewiring_blocks(rewiring, self.found, self.everything)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def _conditions(self) -> str:
        practice = self.found.practice
        air = f"air at {practice.conditions.ambient:g} °C"
        height = f", {practice.conditions.altitude / 0.3048:,.0f} ft" if practice.conditions.altitude else ""
        own = f", and {100 * practice.share:g} % of the supply" if practice.share is not None else ""
        return (
            f"Standard of fit: {self.standard}. Judged in {air}{height}, by AC 43.13-1B{own}; lengths at "
            "their longer "
            f"ends; {len(self.found.study.cases)} settings tried."
        )

    def _whole(self) -> Iterator[Block]:
        found = self.found
        counts = [(word, found.count(word)) for word in ("passes", "in doubt", "fails", "not judged")]
        said = ", ".join(f"{number} {word}" for word, number in counts if number)
        yield Entry(
            "cables", f"{len(found.cables)} judged: {said}." if said else "There is no cable to judge."
        )
        yield from _drop_blocks(found, self.everything)
        yield from _mains_blocks(found, self.mains)
        yield from _cable_blocks(found, self.everything)
        yield from _fuse_blocks(found, self.everything)
        yield from _switch_blocks(found, self.everything)
        yield from _finding_blocks(found)
        yield Paragraph(
            "Ask for one cable by its mark and it is argued from source to verdict, figure by figure.",
            quiet=True,
        )

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        found = self.found
        return {
            "answer": "cables",
            "title": self.title,
            "standard": self.standard,
            "ambient": found.practice.conditions.ambient,
            "altitude": found.practice.conditions.altitude,
            "share": found.practice.share,
            "settings_tried": len(found.study.cases),
            "cables": [cable_data(found, r) for r in ([self.one] if self.one is not None else found.cables)],
            "drops": [drop_data(found, d) for d in found.drops],
            "mains": [{"name": m.name, "amps": m.amps, "verdict": judgement_data(j)} for m, j in self.mains],
            "fuses": [fuse_data(found, f) for f in found.fuses],
            "switches": [
                {
                    "item": s.item,
                    "amps": s.current,
                    "loads": dict(s.loads),
                    "needs": working_data(s.required),
                    "stamped": s.stamped,
                    "setting": s.words,
                }
                for s in found.switches
            ],
            "rewirings": [rewiring_data(r) for r in self.rewirings],
            "findings": [finding_data(f) for f in found.findings],
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def cables(
    record: Record,
    cable: str = "",
    *,
    standard: str = "",
    service: str = "",
    practice: Practice | None = None,
    choose: tuple[Catalogue, ...] = (),
    most_sizes: int | None = None,
    everything: bool = False,
) -> CablesAnswer:
    """Judge every cable, fuse and switch of an installation; choose a modern set beside the period's.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    cable
        Argue this one at length; by its mark.
    standard
        A named standard of fit; the dossier's own where empty.
    service
        Only this service's loads and cables are worked.
    practice
        By what they are judged: the air, a limit of the user's own, the period's carrying amperes; see
        :func:`practice_of`.
    choose
        Catalogues to choose from: awg, metric.
    most_sizes
        How many different sizes a choice may use.
    everything
        Also what passes easily.

    Returns
    -------
    CablesAnswer
        With its working: every number can say how it came.

    Raises
    ------
    UnknownName
        Where no cable, service or standard is called so.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = plant.installation.dossier
    if cable and cable not in dossier.cables:
        raise UnknownName("cable", cable, dossier.cables)
    if service and service not in dossier.services:
        raise UnknownName("service", service, dossier.services)
    found = cable_study(plant, practice, basis_given=basis_given(opened), service=service)
    one = next((r for r in found.cables if r.cable.id == cable), None) if cable else None
    if cable and one is None:
        raise UnknownName("solved cable", cable, [r.cable.id for r in found.cables])
    return CablesAnswer(
        title=dossier.header.title,
        standard=standard_name(opened, standard),
        found=found,
        mains=judged_mains(found.study),
        one=one,
        rewirings=tuple(rewired(found, catalogue=c, most_sizes=most_sizes) for c in choose),
        everything=everything,
    )


def practice_of(
    *,
    ambient: float = 30.0,
    altitude: float = 0.0,
    share: float | None = None,
    carrying: Mapping[str, float] | None = None,
) -> Practice:
    """By what cables are judged, from plain figures.

    Parameters
    ----------
    ambient
        Of the air about the cables [°C].
    altitude
        Above the sea [m].
    share
        A greatest drop of the user's own, or the period's, as a share of the supply: 0.03 for 3 % [1].
    carrying
        The period's own carrying amperes by size as written [A].

    Returns
    -------
    Practice
        For :func:`cables`.

    Raises
    ------
    UnreadableValue
        Where a size cannot be read.
    """
    return Practice(
        conditions=Conditions(ambient=ambient, altitude=altitude),
        share=share,
        carrying={read_size(size).text: amps for size, amps in (carrying or {}).items()} or None,
    )


def basis_given(opened: Opened) -> bool:
    """Whether the dossier's heading says what its fuses' figures mean."""
    return any("basis" in text.get("dossier", {}) for text in opened.reading.raw.values())


def standard_name(opened: Opened, standard: str) -> str:
    """A standard of fit as it is printed."""
    dossier = opened.dossier
    chosen = standard or dossier.header.standard or next(iter(dossier.standards), "")
    if chosen not in dossier.standards:
        return chosen or "as recorded"
    return dossier.standards[chosen].title or dossier.standards[chosen].name


# -- drops ---------------------------------------------------------------------------------------------------


def volts(value: float) -> str:
    """A drop as it is printed: two decimals, or three below a tenth."""
    return f"{value:.2f}" if value >= 0.095 else f"{value:.3f}"


def _drop_blocks(found: CableStudy, everything: bool) -> Iterator[Block]:
    yield Heading("Drop at each load, in its worst setting")
    drops = sorted(found.drops, key=lambda d: -max(d.high / v.limit.value for v in d.verdicts))
    listed = [
        d
        for d in drops
        if everything or any(v.word != "passes" or v.disputes for v in d.verdicts) or _share(d) > CLOSE
    ]
    rows = tuple(_drop_row(found, drop) for drop in listed)
    if rows:
        columns = ("load", "amps", "20 °C", "hot", "limit", "", "worst setting")
        yield Table(columns, rows, right=(1, 2, 3, 4))
    hidden = len(drops) - len(listed)
    if hidden:
        yield Paragraph(f"{hidden} more loads drop less than {CLOSE:.0%} of what they may.", quiet=True)
    for drop in listed:
        yield from _drop_entries(found, drop)


def _share(drop: DropVerdict) -> float:
    return max(drop.high / verdict.limit.value for verdict in drop.verdicts)


def _drop_row(found: CableStudy, drop: DropVerdict) -> tuple[str, ...]:
    limits = " / ".join(f"{verdict.limit.value:.3g}" for verdict in drop.verdicts)
    words = " / ".join(dict.fromkeys(v.word for v in drop.verdicts))
    kind = " int." if drop.intermittent else ""
    name = name_of(found.plant, drop.run.load.name)
    return (
        name,
        f"{drop.run.amps:.2f}",
        volts(drop.cold),
        volts(drop.hot.value),
        limits + kind,
        words,
        drop.words,
    )


def _drop_entries(found: CableStudy, drop: DropVerdict) -> Iterator[Block]:
    """What decides, where a length is in doubt; what another source's word would make of it."""
    name = name_of(found.plant, drop.run.load.name)
    for verdict in drop.verdicts:
        if verdict.word == "in doubt":
            text = (
                f"{name}: {volts(drop.low)} to {volts(drop.high)} V against {verdict.limit.value:.3g} V. "
                f"{verdict.decides}"
            )
            yield Entry("in doubt", text, tone="doubt")
        for dispute in verdict.disputes:
            mine = "passes" if verdict.judgement.passes else "fails"
            stands = "passes" if dispute.passes else "fails"
            if stands == mine and len(drop.verdicts) > 1:
                continue
            what = f"{dispute.cable} and the cables like it" if dispute.whole else dispute.cable
            text = (
                f"{name}: as recorded {volts(drop.high)} V {mine} {verdict.limit.value:.3g} V; with {what} "
                "as "
                f"{dispute.source} has it ({dispute.what}) {volts(dispute.drop)} V {stands}."
            )
            decides = stands != mine
            notes = (
                ("The dispute decides pass or fail here: settle it before cutting cable.",) if decides else ()
            )
            yield Entry("decides" if decides else "disputed", text, notes, "doubt" if decides else "plain")


def _mains_blocks(found: CableStudy, mains: tuple[tuple[MainRun, Judgement], ...]) -> Iterator[Block]:
    for main, judgement in mains:
        word = "passes" if judgement.passes else "fails"
        text = (
            f"Main of {name_of(found.plant, main.name)} at its rated {as_written(main.amps, 'current')}, "
            f"both sides: {volts(judgement.value.value)} V "
            f"of {judgement.limit.value:.2f} V (2 % of the regulated volts)."
        )
        yield Entry(word, text, () if judgement.passes else (judgement.cure,), TONES[word])


# -- cables --------------------------------------------------------------------------------------------------


def _cable_blocks(found: CableStudy, everything: bool) -> Iterator[Block]:
    yield Heading("What each cable carries, and its fuse")
    order = {"fails": 0, "in doubt": 1, "not judged": 2, "passes": 3}
    listed = sorted(
        (r for r in found.cables if everything or r.word != "passes"), key=lambda r: order[r.word]
    )
    if everything:
        columns = ("cable", "size", "m", "A", "may", "°C", "fuse", "", "why")
        yield Table(columns, tuple(_cable_row(found, report) for report in listed), right=(2, 3, 4, 5))
    elif listed:
        yield Table(("cables", "size", "fuse", "", "why"), tuple(_grouped(found, listed)), right=(2,))
    elif found.cables:
        yield Paragraph("Every cable keeps its rules.")
    if len(listed) < len(found.cables):
        yield Paragraph(f"{len(found.cables) - len(listed)} more pass.", quiet=True)
    warmest = max((r for r in found.cables if r.warmth is not None), key=_fullest, default=None)
    if warmest is not None and warmest.warmth is not None:
        warm = warmest.warmth
        text = (
            f"The fullest is {warmest.cable.id}: {warm.current:.2f} A for good of the "
            f"{warm.limit.value:.3g} A it may carry, "
            f"its conductor at {warm.temperature.value:.0f} °C ({found.study.cases[warm.case].words})."
        )
        yield Entry("fullest", text)


def _fullest(report: CableReport) -> float:
    warm = report.warmth
    return warm.current / warm.limit.value if warm is not None and warm.limit.value > 0 else 0.0


def _grouped(found: CableStudy, listed: list[CableReport]) -> Iterator[tuple[str, ...]]:
    """Cables of one service with one reason in one row, as a fitter would note them."""
    groups: dict[tuple[str, ...], list[CableReport]] = {}
    for report in listed:
        reason = report.reasons[0] if report.reasons else ""
        drop = reason.partition(":")[0] if "drop" in reason else reason.partition(",")[0]
        groups.setdefault((report.cable.service, report.word, drop), []).append(report)
    for (_, word, _), reports in groups.items():
        sizes = ", ".join(dict.fromkeys(r.size.text for r in reports if r.size is not None))
        fuses = ", ".join(dict.fromkeys(_cable_row(found, r)[6] for r in reports))
        yield " ".join(r.cable.id for r in reports), sizes, fuses, word, reports[0].reasons[0]


def _cable_row(found: CableStudy, report: CableReport) -> tuple[str, ...]:
    warmth, protection = report.warmth, report.protection
    fuse = ""
    if protection is not None and protection.fuse >= 0:
        fuse = f"{_fuse_of(found, protection.fuse).carrying.value:.3g}"
    elif protection is not None and protection.bare:
        fuse = "none"
    return (
        report.cable.id,
        report.size.text if report.size is not None else "?",
        f"{report.length.high:.1f}" if report.length.known else "?",
        f"{warmth.current:.2f}" if warmth is not None else "",
        f"{warmth.limit.value:.3g}" if warmth is not None else "",
        f"{warmth.temperature.value:.0f}" if warmth is not None else "",
        fuse,
        report.word,
        report.reasons[0] if report.reasons else "",
    )


def _fuse_of(found: CableStudy, branch: int) -> FuseReport:
    return next(report for report in found.fuses if report.branch == branch)


def _fuse_blocks(found: CableStudy, everything: bool) -> Iterator[Block]:
    yield Heading("Fuses")
    shown = [f for f in found.fuses if everything or f.word != "passes" or _indiscriminate(f)]
    if not found.fuses:
        yield Paragraph("There is no fuse in this record.")
    elif not shown:
        yield Paragraph(
            "Every fuse lets its loads live, running and starting, and goes before the one above it."
        )
    for report in shown:
        name = name_of(found.plant, report.name)
        word = (
            report.word
            if not _indiscriminate(report)
            else max(report.word, "in doubt", key=list(TONES).index)
        )
        notes = []
        if _indiscriminate(report) and report.discrimination is not None:
            above = name_of(found.plant, found.plant.network.branches[report.above].name)
            notes.append(
                f"Above it stands {above} of {report.discrimination.limit.value:.3g} A: "
                f"{report.discrimination.cure}"
            )
        basis = f"{report.carrying.value:.3g} A carrying, goes at {report.fusing.value:.3g} A"
        yield Entry(word, f"{name} ({basis}): {report.words}", tuple(notes), TONES[word])
    hidden = len(found.fuses) - len(shown)
    if hidden and shown:
        yield Paragraph(f"{hidden} more fuses let their loads live and go before the one above.", quiet=True)


def _indiscriminate(report: FuseReport) -> bool:
    return report.discrimination is not None and not report.discrimination.passes


def _switch_blocks(found: CableStudy, everything: bool) -> Iterator[Block]:
    yield Heading("Switches")
    listed = sorted(found.switches, key=lambda s: -s.required.value)
    wrong = [s for s in listed if s.judgement is not None and not s.judgement.passes]
    for report in wrong:
        text = (
            f"{name_of(found.plant, report.item)} is stamped {report.stamped:g} A and needs "
            f"{report.required.value:.3g} A."
        )
        yield Entry("fails", text, (report.judgement.cure if report.judgement else "",), "bad")
    shown = listed if everything else listed[:8]
    rows = tuple(
        (
            name_of(found.plant, s.item),
            f"{s.current:.2f}",
            ", ".join(f"{sort} {amps:.3g} A" for sort, amps in s.loads),
            f"{s.required.value:.3g}",
            f"{s.stamped:g}" if s.stamped is not None else "?",
        )
        for s in shown
    )
    if not rows:
        yield Paragraph("No switch carries enough to be asked, or the table has no factors for this supply.")
    else:
        yield Table(("switch, push or relay", "A", "works", "needs A", "stamped"), rows, right=(1, 3, 4))
    if len(shown) < len(listed):
        yield Paragraph(f"{len(listed) - len(shown)} more need less.", quiet=True)


def _finding_blocks(found: CableStudy) -> Iterator[Block]:
    if found.findings:
        yield Heading("What the record does not say")
    tones = {Severity.ERROR: "bad", Severity.WARNING: "doubt", Severity.NOTE: "plain"}
    for finding in found.findings:
        where = f"{finding.place}  " if finding.place.file else ""
        yield Entry(
            finding.severity.word, f"{where}{finding.message}", (finding.hint,), tones[finding.severity]
        )


# -- one cable argued ----------------------------------------------------------------------------------------


def _argument(found: CableStudy, report: CableReport) -> list[Block]:
    """One cable from source to verdict: what it is, length, current, drop, warmth, fuse, short.

    Then the working.
    """
    cable, plant = report.cable, found.plant
    blocks: list[Block] = [
        Heading(f"Cable {cable.id}: {_end(found, cable.from_)} to {_end(found, cable.to)}")
    ]
    sources = "; ".join(str(source) for source in cable.sources)
    size = report.size.text if report.size is not None else "no size"
    stands = f"{cable.standing}, {sources}" if sources else cable.standing
    blocks.append(Entry("source", f"{size}, {cable.cover or 'covering not recorded'} ({stands})."))
    length = report.length
    span = f", {length.low:.3g} to {length.high:.3g} m" if length.doubtful else ""
    blocks.append(Entry("length", f"{length.value:.3g} m{span}: {length.explanation}."))
    workings: list[Working] = []
    if report.warmth is not None:
        blocks += _warmth_entries(found, report, workings)
    blocks += _drop_arguments(found, report, workings)
    blocks += _protection_entries(found, report, workings)
    verdict = report.reasons or ("All rules are kept.",)
    blocks.append(Entry(report.word, verdict[0], tuple(verdict[1:]), TONES[report.word]))
    blocks.append(Heading("How the figures came"))
    for working in workings:
        lines = working.lines()
        blocks.append(Entry("", lines[0], tuple(lines[1:])))
    if not workings:
        blocks.append(
            Paragraph(f"No figure could be worked out in {plant.installation.dossier.header.title}.")
        )
    return blocks


def _end(found: CableStudy, end: str) -> str:
    item, _, terminal = end.partition(".")
    return f"{name_of(found.plant, item)} {terminal}".strip()


def _warmth_entries(found: CableStudy, report: CableReport, workings: list[Working]) -> Iterator[Block]:
    warmth = report.warmth
    assert warmth is not None
    case = found.study.cases[warmth.case]
    yield Entry("current", f"{as_written(warmth.current, 'current')} for good: {case.words}.")
    if warmth.moment > warmth.current * 1.01:
        lasts = (
            f", which may last {warmth.lasts:.0f} s"
            if warmth.lasts is not None
            else ", less than it may carry for good"
        )
        words = found.study.cases[warmth.moment_case].words
        yield Entry("moment", f"{as_written(warmth.moment, 'current')}{lasts}: {words}.")
    lies = "alone in air"
    if warmth.stretch is not None:
        lies = (
            f"worst in {warmth.stretch.loom} from {warmth.stretch.first} to {warmth.stretch.last}, "
            f"{warmth.wires} wires "
            f"together, loaded to {min(warmth.loading, 1.0):.0%} or less"
        )
    text = (
        f"May carry {warmth.limit.value:.3g} A ({warmth.free_air.value:.3g} A in free air; {lies}); its "
        "conductor runs at "
        f"{warmth.temperature.value:.0f} °C where {warmth.covering.name} stands {warmth.covering.rated:.0f}."
    )
    passes = report.ampacity is None or report.ampacity.passes
    yield Entry("warmth", text, (warmth.note,) if warmth.note else (), "good" if passes else "bad")
    workings += [warmth.temperature, warmth.limit]
    if report.period is not None:
        word = "passes" if report.period.passes else "fails"
        yield Entry(
            "period", f"The period lets it carry {report.period.limit.value:.3g} A: {word}.", (), TONES[word]
        )


def _drop_arguments(found: CableStudy, report: CableReport, workings: list[Working]) -> Iterator[Block]:
    for drop in sorted(report.drops, key=_share, reverse=True)[:3]:
        name = name_of(found.plant, drop.run.load.name)
        own = next((e for e in drop.hot.inputs if e.symbol == f"cable {report.cable.id}"), None)
        part = f"{volts(float(own.value))} V of it in this cable; " if own is not None else ""
        span = (
            f" ({volts(drop.low)} to {volts(drop.high)} with the doubt in lengths)"
            if drop.high > drop.low
            else ""
        )
        for verdict in drop.verdicts:
            text = (
                f"At {name} {volts(drop.hot.value)} V hot{span}, {volts(drop.cold)} V at 20 °C; {part}limit "
                f"{verdict.limit.value:.3g} V ({verdict.limit.formula}): {verdict.word}. Worst {drop.words}."
            )
            yield Entry("drop", text, (verdict.decides,) if verdict.decides else (), TONES[verdict.word])
        yield from _drop_entries(found, drop)
        workings += [drop.hot, drop.verdicts[0].limit]
    if not report.drops:
        yield Entry("drop", "It is in the run of no load that was judged.")


def _protection_entries(found: CableStudy, report: CableReport, workings: list[Working]) -> Iterator[Block]:
    protection = report.protection
    if protection is None:
        return
    if protection.bare:
        yield Entry("fuse", "A battery reaches it through no fuse.", (), "doubt")
    elif protection.fuse < 0:
        yield Entry("fuse", protection.note or "No fuse stands before it.")
    else:
        fuse = _fuse_of(found, protection.fuse)
        text = (
            f"{name_of(found.plant, fuse.name)}, {fuse.carrying.value:.3g} A carrying, goes at "
            f"{fuse.fusing.value:.3g} A."
        )
        judged = [j for j in (protection.chart, protection.ampacity) if j is not None]
        notes = tuple(f"{'Keeps' if j.passes else 'Breaks'} it: {j}" for j in judged)
        passes = all(j.passes for j in judged)
        yield Entry("fuse", text, notes, "good" if passes else "doubt")
        workings += [j.limit for j in judged] + [fuse.fusing]
    if protection.short is not None:
        yield Entry("short", f"At its far end draws {protection.short.words}.")
        if protection.short.melts is not None:
            workings.append(protection.short.melts)
        if protection.short.withstand is not None:
            workings.append(protection.short.withstand.limit)


# -- a re-wire -----------------------------------------------------------------------------------------------


def _rewiring_blocks(rewiring: Rewiring, found: CableStudy, everything: bool) -> Iterator[Block]:
    names = {"awg": "stranded aircraft wire (AWG)", "metric": "flexible metric cable"}
    yield Heading(f"Re-wired in {names[rewiring.catalogue]}, beside the period set")
    if not rewiring.changes and not rewiring.broken:
        yield Paragraph("There is no cable to choose for.")
        return
    if not rewiring.changes:
        yield Entry("no set", "No set of these sizes keeps every rule.", rewiring.broken, "bad")
        return
    proof = (
        "proved: no lighter set of these sizes keeps the rules asked"
        if rewiring.choice.proven
        else f"a set up to {rewiring.choice.gap:.1%} lighter may exist"
    )
    text = (
        f"{rewiring.mass:.2f} kg of copper in {len(rewiring.changes)} cables, where the period had "
        f"{rewiring.period_mass:.2f} kg; {proof}. Solved {rewiring.rounds} times, and judged again in the "
        "network."
    )
    broken = tuple(f"Still breaks a rule: {line}." for line in rewiring.broken)
    yield Entry("lightest", text, broken, "bad" if broken else "good")
    period_fails = found.count("fails")
    if rewiring.mass > rewiring.period_mass and period_fails:
        yield Paragraph(
            f"It is heavier because {period_fails} cables of the period set break a rule that this one keeps."
        )
    by_size: dict[str, tuple[int, float]] = {}
    for change in rewiring.changes:
        count, length = by_size.get(change.size, (0, 0.0))
        by_size[change.size] = count + 1, length + change.length
    rows = tuple((size, str(count), f"{length:.1f}") for size, (count, length) in sorted(by_size.items()))
    yield Table(("to buy", "cables", "metres"), rows, right=(1, 2))
    changes = rewiring.changes if everything else rewiring.changes[:20]
    lines = tuple(
        (c.cable, f"{c.from_} to {c.to}", f"{c.length:.2f}", c.period, c.size, c.why) for c in changes
    )
    yield Table(("cable", "run", "cut m", "period", "new", "not thinner, because"), lines, right=(2,))
    if len(changes) < len(rewiring.changes):
        yield Paragraph(
            f"{len(rewiring.changes) - len(changes)} more lines; ask for all of them.", quiet=True
        )
    if rewiring.left:
        yield Paragraph(
            f"Left as they are, since nothing reckoned flows in them: {', '.join(rewiring.left)}."
        )
