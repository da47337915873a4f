"""``loads``: load by phase, generator margin and sharing, battery endurance, moorings, starting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from loomlore.answers.cables import standard_name
from loomlore.answers.opening import Record, opened_of
from loomlore.answers.operate import finding_data
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.answers.sizing_data import working_data
from loomlore.behaviour.wording import setting_words
from loomlore.findings import Finding, Severity, UnknownName, in_order
from loomlore.network.building import Plant
from loomlore.quantities import as_written
from loomlore.sizing.lacking import lacking_for_loads
from loomlore.sizing.lasting import BatteryTerms, Endurance, Mooring, endurances, moorings
from loomlore.sizing.load_analysis import MachineLoad, PhaseLoad, Sharing, phase_loads, sharing
from loomlore.sizing.starting import Start, StarterReport, starter_reports

__all__ = ["LoadsAnswer", "StandardLoads", "loads"]

BAR = 30
"""Columns of a chart's longest bar."""

POINTS = 9
"""Rows of a curve as text; as data it has every step."""

TONES = {"passes": "good", "in doubt": "doubt", "fails": "bad"}


@dataclass(frozen=True, kw_only=True)
class StandardLoads:
    """The loads of one standard of fit, and the plant they were solved in."""

    standard: str
    title: str
    plant: Plant = field(repr=False)
    phases: tuple[PhaseLoad, ...]
    sharing: tuple[tuple[str, Sharing], ...]
    endurances: tuple[Endurance, ...]
    moorings: tuple[Mooring, ...]
    starters: tuple[StarterReport, ...]


@dataclass(frozen=True, kw_only=True)
class LoadsAnswer:
    """What each phase asks, whether machines and battery carry it, and whether the engine starts."""

    title: str
    standards: tuple[StandardLoads, ...]
    terms: BatteryTerms
    findings: tuple[Finding, ...] = ()

    @property
    def failed(self) -> bool:
        """Whether a finding of severity error stands in the way.

        A load that is too great is the answer, not an error.
        """
        return any(f.severity is Severity.ERROR for f in self.findings)

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title, 1)]
        for finding in self.findings:
            tone = "bad" if finding.severity is Severity.ERROR else "doubt"
            blocks.append(
                Entry(finding.severity.word, f"{finding.place}  {finding.message}", (finding.hint,), tone)
            )
        for found in self.standards:
            blocks += _standard_blocks(found, self.terms)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "loads",
            "title": self.title,
            "battery_terms": {
                "rate_hours": self.terms.rate_hours,
                "share": self.terms.share,
                "exponent": self.terms.exponent,
                "temperature": self.terms.temperature,
                "age": self.terms.age,
            },
            "standards": [_standard_data(found) for found in self.standards],
            "findings": [finding_data(f) for f in self.findings],
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def loads(
    record: Record,
    *,
    standard: str = "",
    phase: str = "",
    shed: Sequence[str] = (),
    terms: BatteryTerms | None = None,
) -> LoadsAnswer:
    """Add up what each phase asks, and say whether machines, battery and starter are equal to it.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    standard
        A named standard of fit; every one where empty.
    phase
        This phase only.
    shed
        Services that the crew turns off when the generators fail.
    terms
        What the battery is counted for.

    Returns
    -------
    LoadsAnswer
        One part for each standard of fit.

    Raises
    ------
    UnknownName
        Where no standard, phase or service is called so.
    """
    terms = terms or BatteryTerms()
    opened = opened_of(record)
    dossier = opened.dossier
    if phase and phase not in dossier.phases:
        raise UnknownName("phase", phase, dossier.phases)
    for name in shed:
        if name not in dossier.services:
            raise UnknownName("service", name, dossier.services)
    if standard and standard not in dossier.standards:
        raise UnknownName("standard of fit", standard, dossier.standards)
    chosen = (standard,) if standard else tuple(dossier.standards) or ("",)
    parts, findings = [], []
    for name in chosen:
        plant = opened.plant(opened.fits(name))
        phases = tuple(p for p in phase_loads(plant) if not phase or p.phase.id == phase)
        findings += [*lacking_for_loads(plant), *(f for p in phases for f in p.findings)]
        parts.append(
            StandardLoads(
                standard=name,
                title=standard_name(opened, name),
                plant=plant,
                phases=phases,
                sharing=tuple(
                    (p.phase.id, s) for p in phases if (s := sharing(plant, p.settled)) is not None
                ),
                endurances=endurances(plant, phases, terms, shed=shed),
                moorings=moorings(plant, phases, terms),
                starters=starter_reports(plant),
            )
        )
    return LoadsAnswer(
        title=dossier.header.title, standards=tuple(parts), terms=terms, findings=in_order(findings)
    )


def _title(load: PhaseLoad) -> str:
    return load.phase.title or load.phase.name


def _standard_blocks(found: StandardLoads, terms: BatteryTerms) -> Iterator[Block]:
    yield Heading(f"Standard of fit: {found.title}")
    if found.phases:
        yield from _phase_tables(found)
        yield from _chart(found)
        yield from _margins(found)
    yield from _endurance_blocks(found, terms)
    yield from _mooring_blocks(found)
    yield from _starting_blocks(found)


# -- phases --------------------------------------------------------------------------------------------------


def _phase_tables(found: StandardLoads) -> Iterator[Block]:
    """Amperes by the stamp, a row a service and a column a phase, as a load sheet has them."""
    for group in _in_groups(found.phases, 5):
        columns = ("A by the stamp", *(load.phase.id for load in group))
        services: dict[str, str] = {s.service: s.title for load in group for s in load.services}
        rows = [(title, *(_cell(load, service) for load in group)) for service, title in services.items()]
        rows.append(("in all, W", *(f"{load.watts:.0f}" for load in group)))
        rows.append(("A by the stamp", *(f"{load.stamped.value:.1f}" for load in group)))
        rows.append(("A by the network", *(f"{load.solved:.1f}" for load in group)))
        windows = {"greatest in 5 s": "5 s", "greatest in 5 min": "5 min", "continuous": "continuous"}
        rows += [(said, *(_class(load, name) for load in group)) for said, name in windows.items()]
        rows.append(("bus, V", *(f"{load.bus:.1f}" if load.bus > 1 else "dead" for load in group)))
        rows.append(("battery, A", *(f"{load.battery:+.1f}" for load in group)))
        yield Table(columns, tuple(rows), right=tuple(range(1, len(columns))))
    duties = [f"{_title(load)}: {s.title} {s.duty}" for load in found.phases for s in load.services if s.duty]
    if duties:
        yield Paragraph(f"For part of the time: {'; '.join(duties)}.", quiet=True)
    yield Paragraph(
        "By the stamp: rated watts of all that is on over the regulated volts. By the network: what "
        "machines and battery "
        "give, the machines' own fields apart.",
        quiet=True,
    )


def _in_groups(phases: Sequence[PhaseLoad], size: int) -> Iterator[tuple[PhaseLoad, ...]]:
    for first in range(0, len(phases), size):
        yield tuple(phases[first : first + size])


def _cell(load: PhaseLoad, service: str) -> str:
    own = next((s for s in load.services if s.service == service), None)
    if own is None or load.watts <= 0:
        return ""
    volts = sum(s.watts * s.share for s in load.services) / load.stamped.value if load.stamped.value else 1.0
    return f"{own.watts / volts:.1f}" + (f" x {own.share:.0%}" if own.share < 1 else "")


def _class(load: PhaseLoad, name: str) -> str:
    value = next((working.value for label, working in load.classes if label == name), None)
    return f"{value:.1f}" if value is not None else ""


def _chart(found: StandardLoads) -> Iterator[Block]:
    """Bars of amperes against what the machines may give; the mark is 80 % of it."""
    points = chart_data(found.phases)
    top = max((max(p["amps"], p["limit"] or 0.0, p["output_one"] or 0.0) for p in points), default=0.0)
    if top <= 0:
        return
    rows = []
    for p in points:
        bar = ["#" if k < round(p["amps"] / top * BAR) else "." for k in range(BAR + 1)]
        for key, mark in (("limit_one", "1"), ("limit", "2" if p["machines"] > 1 else "1")):
            if p[key]:
                bar[min(BAR, round(p[key] / top * BAR))] = mark
        rows.append((p["title"], f"{p['amps']:.1f}", "".join(bar)))
    yield Table(
        ("load by phase", "A", "against 80 % of one (1) and of two (2) machines"), tuple(rows), right=(1,)
    )


def chart_data(phases: Sequence[PhaseLoad]) -> list[dict[str, Any]]:
    """Load by phase as points of a chart: amperes, and what one machine and all may give."""
    found = []
    for load in phases:
        every = load.machines[0] if load.machines else None
        one = load.machines[-1] if load.machines else None
        found.append(
            {
                "phase": load.phase.id,
                "title": _title(load),
                "amps": max(load.stamped.value, load.solved),
                "machines": len(load.machines),
                "output": every.output if every else None,
                "limit": every.judgement.limit.value if every else None,
                "output_one": one.output if one else None,
                "limit_one": one.judgement.limit.value if one else None,
            }
        )
    return found


def _margins(found: StandardLoads) -> Iterator[Block]:
    for load in found.phases:
        for machine in load.machines:
            yield _margin(load, machine)
        if load.warning is not None and load.bus < load.warning.value:
            text = (
                f"{_title(load)}: the bus stands at {load.bus:.1f} V, below the {load.warning.value:.0f} V "
                "of a low-volts warning."
            )
            yield Entry("in doubt", text, tone="doubt")
        if load.recharge is not None and load is next(
            (x for x in found.phases if x.recharge is not None), None
        ):
            amps, hours = load.recharge
            until = (
                f"about {hours:.1f} h until it is full" if hours < 100 else "it is not charged at these volts"
            )
            yield Entry("recharge", f"{_title(load)}: a half-charged battery takes {amps:.1f} A; {until}.")
    for phase, share in found.sharing[:1]:
        even = ", ".join(f"{n} {a:.1f} A" for n, a in zip(share.names, share.as_set, strict=True))
        uneven = " and ".join(f"{a:.1f} A" for a in share.uneven)
        reverse = " One is driven backwards." if share.reverse else ""
        text = (
            f"In {phase}: {even}; with the first set {share.doubt:.1f} V above the other, {uneven}.{reverse}"
        )
        yield Entry("sharing", text, tone="bad" if share.reverse else "plain")


def _margin(load: PhaseLoad, machine: MachineLoad) -> Entry:
    word = "passes" if machine.judgement.passes else "fails"
    many = {1: "one machine", 2: "two machines"}.get(machine.running, f"{machine.running} machines")
    stamp, network = machine.stamped / machine.output, machine.solved / machine.output
    text = (
        f"{_title(load)}, {many} of {machine.output:.0f} A: {machine.stamped:.1f} A by the stamp "
        f"({stamp:.0%}), "
        f"{machine.solved:.1f} A by the network ({network:.0%}); 80 % is "
        f"{machine.judgement.limit.value:.1f} A. "
        f"Bus {machine.bus:.1f} V, battery {machine.battery:+.1f} A."
    )
    return Entry(word, text, () if machine.judgement.passes else (machine.judgement.cure,), TONES[word])


# -- endurance -----------------------------------------------------------------------------------------------


def _endurance_blocks(found: StandardLoads, terms: BatteryTerms) -> Iterator[Block]:
    if not found.endurances:
        return
    yield Heading("Generators lost", 3)
    for endurance in found.endurances:
        word = "passes" if endurance.judgement.passes else "fails"
        yield Entry(
            word,
            _lasts(endurance),
            () if endurance.judgement.passes else (endurance.judgement.cure,),
            TONES[word],
        )
        if endurance.after_shedding is not None:
            yield Entry("shed", f"With {', '.join(endurance.off)} off: {_lasts(endurance.after_shedding)}")
    first = found.endurances[0]
    if first.shed:
        rows = tuple(
            (s.title, f"{s.amps:.1f}", f"{s.minutes:.0f}") for s in sorted(first.shed, key=lambda s: -s.amps)
        )
        yield Table((f"turned off in {first.title.lower()}", "saves A", "gains min"), rows, right=(1, 2))
    yield from _curve_blocks(first.after_shedding or first)
    yield Paragraph(
        f"Counted on: {first.charge.formula} = {first.charge.value / 3600:.1f} Ah; stamped for "
        f"{terms.rate_hours:g} h; Peukert's "
        f"exponent {terms.exponent:g}. A measured discharge of this battery is worth more than any of it.",
        quiet=True,
    )


def _lasts(endurance: Endurance) -> str:
    return (
        f"{endurance.title}: {endurance.current:.1f} A out of the battery; {_span(endurance.simple.value)} "
        "by charge over "
        f"current, {_span(endurance.peukert.value)} by Peukert, where "
        f"{endurance.judgement.value.value / 60:.0f} min are asked."
    )


def _span(seconds: float) -> str:
    """A time as the crew would say it: minutes up to four hours, then hours."""
    return f"{seconds / 60:.0f} min" if seconds < 4 * 3600 else f"{seconds / 3600:.1f} h"


def _curve_blocks(endurance: Endurance) -> Iterator[Block]:
    points = endurance.curve
    if len(points) < 2:
        return
    step = max(1, (len(points) - 1) // (POINTS - 1))
    shown = {*range(0, len(points), step), len(points) - 1, *(k for k, p in enumerate(points) if p.event)}
    low, high = min(p.volts for p in points), max(p.volts for p in points)
    span = max(high - low, 1e-9)
    rows = tuple(
        (
            f"{p.minutes:.0f}",
            f"{p.volts:.1f}",
            f"{p.amps:.1f}",
            f"{p.charge:.0%}",
            "#" * (1 + round((p.volts - low) / span * (BAR - 1))),
            p.event,
        )
        for k, p in enumerate(points)
        if k in shown
    )
    yield Table(
        ("min", "bus V", "A", "charge", f"{low:.1f} to {high:.1f} V", "then"), rows, right=(0, 1, 2, 3)
    )


def _mooring_blocks(found: StandardLoads) -> Iterator[Block]:
    for mooring in found.moorings:
        word = "passes" if mooring.enough else "fails"
        listed = ", ".join(f"{title} {hours:.1f} Ah" for title, hours in mooring.services if hours >= 0.05)
        time = as_written(mooring.hours * 3600, "time")
        text = (
            f"{mooring.title}, {time} without a machine: {mooring.used:.1f} of {mooring.capacity:.0f} Ah "
            f"({listed}); "
            f"the battery would last {mooring.lasts:.0f} h."
        )
        cure = (
            ("Turn something off, charge before, or leave a larger battery aboard.",)
            if not mooring.enough
            else ()
        )
        yield Entry(word, text, cure, TONES[word])


# -- starting ------------------------------------------------------------------------------------------------


def _starting_blocks(found: StandardLoads) -> Iterator[Block]:
    if not found.starters:
        return
    yield Heading("Starting", 3)
    for report in _alike(found.starters):
        if report.note:
            yield Entry("in doubt", f"{report.name}: {report.note}", tone="doubt")
            continue
        done = setting_words(found.plant, report.words)
        rows = tuple(_start_row(start) for start in report.starts)
        columns = (f"{report.name}: {done}", "A", "battery V", "bus V", "motor V", "relays")
        yield Table(columns, rows, right=(1, 2, 3, 4))
        for start in report.starts:
            yield from _relay_entries(report, start)
        yield _joints_table(report)
        lines = tuple(
            (
                as_written(bad.ohms, "resistance") if bad.ohms else "sound",
                f"{bad.amps:.0f}",
                f"{bad.bus:.1f}",
                f"{bad.torque:.0%}",
            )
            for bad in report.bad_joints
        )
        yield Table(("one joint of the loop gone to", "A", "bus V", "of the torque"), lines, right=(1, 2, 3))


def _alike(reports: Sequence[StarterReport]) -> Iterator[StarterReport]:
    """Each starter once; one that starts to a hundredth as another is not told again."""
    seen: set[tuple[int, ...]] = set()
    for report in reports:
        key = tuple(round(100 * s.amps / max(s.amps, 1)) + round(s.amps) for s in report.starts)
        if not report.starts or key not in seen:
            yield report
        seen.add(key)


def _start_row(start: Start) -> tuple[str, ...]:
    what = f"{start.moment}, {'ground supply in' if start.ground_supply else start.battery + ' battery'}"
    held = "hold" if all(r.word == "passes" for r in start.relays) else "do not all hold"
    return (
        what,
        f"{start.amps:.0f}",
        f"{start.terminals:.1f}",
        f"{start.bus:.1f}",
        f"{start.motor:.1f}",
        held,
    )


def _relay_entries(report: StarterReport, start: Start) -> Iterator[Block]:
    for relay in start.relays:
        if relay.word == "passes":
            continue
        what = f"{start.moment}, {'ground supply' if start.ground_supply else start.battery + ' battery'}"
        does = "chatters" if relay.chatters else "hardly holds" if relay.word == "in doubt" else "drops out"
        text = (
            f"{report.name}, {what}: {relay.name} {does}: {relay.volts:.1f} V on its coil, which drops out "
            "at "
            f"{relay.drops_out:.1f} V and pulls in at {relay.pulls_in:.1f} V."
        )
        cure = "Fit a relay that drops out lower, charge or warm the battery, or start from ground supply."
        yield Entry(relay.word, text, (cure,), TONES[relay.word])


def _joints_table(report: StarterReport) -> Table:
    worst = report.starts[0]
    total = sum(v for _, v in worst.joints)
    rows = tuple((name, f"{1000 * v:.0f}", f"{v / total:.0%}" if total else "") for name, v in worst.joints)
    return Table((f"in the loop at breakaway, {worst.amps:.0f} A", "mV", "share"), rows, right=(1, 2))


# -- plain data ----------------------------------------------------------------------------------------------


def _standard_data(found: StandardLoads) -> dict[str, Any]:
    return {
        "standard": found.standard,
        "title": found.title,
        "phases": [_phase_data(load) for load in found.phases],
        "chart": chart_data(found.phases),
        "sharing": [
            {
                "phase": phase,
                "machines": list(s.names),
                "as_set": list(s.as_set),
                "uneven": list(s.uneven),
                "volts_apart": s.doubt,
                "reverse": s.reverse,
            }
            for phase, s in found.sharing
        ],
        "endurance": [_endurance_data(e) for e in found.endurances],
        "moorings": [
            {
                "phase": m.phase,
                "hours": m.hours,
                "services": dict(m.services),
                "used_Ah": m.used,
                "capacity_Ah": m.capacity,
                "lasts_hours": m.lasts if m.lasts < float("inf") else None,
                "enough": m.enough,
            }
            for m in found.moorings
        ],
        "starting": [_starter_data(r) for r in found.starters],
    }


def _phase_data(load: PhaseLoad) -> dict[str, Any]:
    return {
        "phase": load.phase.id,
        "title": _title(load),
        "seconds": load.phase.minutes.value if load.phase.minutes is not None else None,
        "watts": load.watts,
        "amps_by_stamp": working_data(load.stamped),
        "amps_by_network": load.solved,
        "bus_volts": load.bus,
        "battery_amps": load.battery,
        "classes": {name: working_data(working) for name, working in load.classes},
        "services": [
            {
                "service": s.service,
                "title": s.title,
                "watts": s.watts,
                "amps": s.amps,
                "share": s.share,
                "duty": s.duty,
            }
            for s in load.services
        ],
        "machines": [
            {
                "running": m.running,
                "output": m.output,
                "by_stamp": m.stamped,
                "by_network": m.solved,
                "limit": working_data(m.judgement.limit),
                "passes": m.judgement.passes,
                "bus_volts": m.bus,
                "battery_amps": m.battery,
            }
            for m in load.machines
        ],
        "recharge": None
        if load.recharge is None
        else {
            "amps": load.recharge[0],
            "hours": load.recharge[1] if load.recharge[1] < float("inf") else None,
        },
    }


def _endurance_data(endurance: Endurance) -> dict[str, Any]:
    return {
        "phase": endurance.phase,
        "off": list(endurance.off),
        "amps": endurance.current,
        "charge": working_data(endurance.charge),
        "simple": working_data(endurance.simple),
        "peukert": working_data(endurance.peukert),
        "passes": endurance.judgement.passes,
        "curve": [
            {"minutes": p.minutes, "bus_volts": p.volts, "amps": p.amps, "charge": p.charge, "then": p.event}
            for p in endurance.curve
        ],
        "shed": [
            {"service": s.service, "saves_amps": s.amps, "gains_minutes": s.minutes} for s in endurance.shed
        ],
        "after_shedding": None
        if endurance.after_shedding is None
        else _endurance_data(endurance.after_shedding),
    }


def _starter_data(report: StarterReport) -> dict[str, Any]:
    return {
        "item": report.item,
        "name": report.name,
        "note": report.note,
        "starts": [
            {
                "moment": s.moment,
                "battery": s.battery,
                "ground_supply": s.ground_supply,
                "amps": s.amps,
                "battery_volts": s.terminals,
                "bus_volts": s.bus,
                "motor_volts": s.motor,
                "joints": [{"name": name, "volts": volts} for name, volts in s.joints],
                "relays": [
                    {
                        "name": r.name,
                        "volts": r.volts,
                        "drops_out": r.drops_out,
                        "pulls_in": r.pulls_in,
                        "chatters": r.chatters,
                        "verdict": r.word,
                    }
                    for r in s.relays
                ],
                "chatters": list(s.chatter),
            }
            for s in report.starts
        ],
        "bad_joints": [
            {"ohms": b.ohms, "amps": b.amps, "bus_volts": b.bus, "torque": b.torque}
            for b in report.bad_joints
        ],
    }
