"""``operate``: what is seen, heard and drawn in a setting, or step by step in a procedure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import PlayedStep, lever_words, operated, play, read_setting, rest
from loomlore.behaviour.readings import Reading, event_words, items_of, readings
from loomlore.behaviour.shorting import shorted_supplies
from loomlore.behaviour.wording import lever_name, operation_words
from loomlore.findings import Finding, Place, Severity, UnfitRecord, UnknownName
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Fuse, Generator, Source
from loomlore.network.settling import Settled
from loomlore.quantities import as_written

__all__ = ["OperateAnswer", "operate"]

QUIET_STATES = frozenset(
    {
        "out",
        "stopped",
        "silent",
        "released",
        "cold",
        "dead",
        "idle",
        "blocking",
        "whole",
        "no-power",
        "safe",
        "",
    }
)
"""States of things that do nothing; they are listed only on request."""

SPEAKING = 1e-6
"""Power [W] below which nothing is said to be given or taken: what is left of a solution's last digits."""


@dataclass(frozen=True, kw_only=True)
class Moment:
    """How things stand at one time: what was done, what is seen, what the sources deliver, what happened.

    ``verdict`` is whether a step's ``see`` held: "so", "not so", "unknown", or "".
    """

    done: str
    readings: tuple[Reading, ...]
    fuses: tuple[tuple[str, float, float], ...]
    sources: tuple[Reading, ...]
    watts: float
    residual: float
    happened: tuple[str, ...]
    see: str = ""
    verdict: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class OperateAnswer:
    """What an installation does in a setting or a procedure, in one standard of fit."""

    title: str
    standard: str
    positions: tuple[tuple[str, str], ...]
    moments: tuple[Moment, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def failed(self) -> bool:
        """Whether a finding of severity error stands in the way, or a step did not go as it says."""
        wrong = any(moment.verdict == "not so" for moment in self.moments)
        return wrong or any(f.severity is Severity.ERROR for f in self.findings)

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title, 1), Paragraph(f"Standard of fit: {self.standard}.")]
        blocks += [Entry(f.severity.word, f"{f.message} {f.hint}", tone="bad") for f in self.findings]
        if self.positions:
            blocks.append(Heading("Moved from rest"))
            blocks.append(Table(("control or condition", "stands at"), self.positions))
        before: Moment | None = None
        for moment in self.moments:
            blocks += (
                _moment_blocks(moment) if not moment.done and not moment.see else _step_blocks(moment, before)
            )
            before = moment
        if before is not None and (before.done or before.see):
            blocks += [Heading("How things stand at the end"), *_standing_blocks(before)]
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "operate",
            "title": self.title,
            "standard": self.standard,
            "positions": [{"name": name, "position": word} for name, word in self.positions],
            "moments": [_moment_data(moment) for moment in self.moments],
            "findings": [finding_data(f) for f in self.findings],
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def finding_data(finding: Finding) -> dict[str, Any]:
    """A finding as plain data."""
    return {
        "rule": finding.rule,
        "severity": finding.severity.word,
        "file": finding.place.file,
        "line": finding.place.line,
        "column": finding.place.column,
        "message": finding.message,
        "hint": finding.hint,
        "subject": finding.subject,
        "also_at": [{"file": p.file, "line": p.line, "column": p.column} for p in finding.also_at],
    }


def operate(
    record: Record,
    setting: Mapping[str, str | float] | None = None,
    *,
    procedure: str = "",
    standard: str = "",
    service: str = "",
    everything: bool = False,
) -> OperateAnswer:
    """Operate an installation from rest.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    setting
        Controls and conditions to move, all at once, from rest (or from a procedure's start).
    procedure
        A procedure to play after that.
    standard
        A named standard of fit; the dossier's own where empty.
    service
        Readings of this service's items only.
    everything
        Also readings of things that do nothing.

    Returns
    -------
    OperateAnswer
        One moment for a setting, one a step for a procedure.

    Raises
    ------
    UnknownName
        Where no service, procedure or standard is called so.
    UnfitRecord
        Where the setting names what is not there; its findings say what to write.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = plant.installation.dossier
    if service and service not in dossier.services:
        raise UnknownName("service", service, dossier.services)
    items = frozenset(items_of(plant.installation, service)) if service else None
    moves, findings = read_setting(plant, setting or {}, place=Place("--set"))
    if findings:
        raise UnfitRecord(findings)
    settled = operated(plant, rest(plant), moves) if moves.levers or moves.variables else rest(plant)
    standing = standard or dossier.header.standard or next(iter(dossier.standards), "as recorded")
    standing = dossier.standards[standing].name if standing in dossier.standards else standing
    if procedure:
        if procedure not in dossier.procedures:
            raise UnknownName("procedure", procedure, dossier.procedures)
        written = dossier.procedures[procedure]
        played = play(plant, written, start=settled)
        moments = tuple(_step_moment(plant, step, items, everything) for step in played.steps)
        return OperateAnswer(
            title=written.title or written.name,
            standard=standing,
            positions=_positions(plant, played.start),
            moments=moments,
            findings=played.findings,
        )
    return OperateAnswer(
        title=dossier.header.title,
        standard=standing,
        positions=_positions(plant, settled),
        moments=(_moment(plant, settled, items, everything, done=""),),
    )


def _positions(plant: Plant, settled: Settled) -> tuple[tuple[str, str], ...]:
    found = []
    for number, lever in enumerate(plant.network.levers):
        value = settled.memory.levers[number]
        if value != lever.start:
            name = lever_name(plant, number)
            found.append((name[:1].upper() + name[1:], lever_words(plant, number, value)))
    return tuple(found)


def _moment(
    plant: Plant, settled: Settled, items: frozenset[str] | None, everything: bool, *, done: str
) -> Moment:
    found = readings(plant, settled, items)
    sources = tuple(r for r in found if isinstance(_law(plant, r), Battery | Generator | Source))
    loads = tuple(
        r for r in found if r not in sources and (everything or r.state not in QUIET_STATES or r.shows)
    )
    delivered, residual = settled.solution.balance
    return Moment(
        done=done,
        readings=loads,
        fuses=_fuses(plant, settled, items),
        sources=sources,
        watts=delivered,
        residual=residual,
        happened=(
            *(event_words(plant, event) for event in settled.events),
            *shorted_supplies(plant, settled),
        ),
    )


def _law(plant: Plant, reading: Reading) -> Any:
    return plant.network.branches[plant.network.branch_of[f"{reading.item}.{reading.part}"]].law


def _fuses(
    plant: Plant, settled: Settled, items: frozenset[str] | None
) -> tuple[tuple[str, float, float], ...]:
    """(name, amperes, carrying amperes) of the fuses that carry something."""
    found = []
    for reading in readings(plant, settled, None, fuses=True):
        law = _law(plant, reading)
        asked_for = items is None or reading.item in items
        if asked_for and isinstance(law, Fuse) and reading.state == "whole" and abs(reading.amps) > 1e-3:
            found.append((reading.name, abs(reading.amps), law.carrying))
    return tuple(found)


def _step_moment(plant: Plant, played: PlayedStep, items: frozenset[str] | None, everything: bool) -> Moment:
    step = played.step
    moves = read_setting(plant, step.do)[0]
    done = [operation_words(plant, Operation(lever, value)) for lever, value in moves.levers.items()]
    if step.wait is not None:
        done.append(f"wait {as_written(step.wait, 'time')}")
    moment = _moment(plant, played.at, items, everything, done=", ".join(done))
    verdict = ""
    if step.see is not None:
        verdict = "unknown" if played.unknown else "so" if played.seen else "not so"
    later = tuple(event_words(plant, event) for event in played.after.events)
    return Moment(
        done=moment.done,
        readings=moment.readings,
        fuses=moment.fuses,
        sources=moment.sources,
        watts=moment.watts,
        residual=moment.residual,
        happened=tuple(dict.fromkeys((*moment.happened, *later))),
        see=str(step.see) if step.see is not None else "",
        verdict=verdict,
        note=step.text,
    )


_TONES = {"so": "good", "not so": "bad", "unknown": "doubt"}


def _step_blocks(moment: Moment, before: Moment | None) -> list[Block]:
    """A step of a procedure: what is done, what the step says of it, and what has changed by it."""
    notes = [moment.note] if moment.note else []
    if moment.see:
        notes.append(f"see: {moment.see}")
    notes += _changes(moment, before)
    done = moment.done[:1].upper() + moment.done[1:] if moment.done else "As things stand"
    blocks: list[Block] = [
        Entry(moment.verdict or "done", f"{done}.", tuple(notes), _TONES.get(moment.verdict, "plain"))
    ]
    return blocks + [Entry("mind", said, tone="bad") for said in moment.happened]


def _changes(moment: Moment, before: Moment | None) -> list[str]:
    """What is seen and heard now and was not before, and what has stopped."""
    then = {r.name: r for r in before.readings} if before is not None else {}
    now = {r.name: r for r in moment.readings}
    fresh = [f"{n} {_said(r)}" for n, r in now.items() if n not in then or _said(then[n]) != _said(r)]
    gone = [n for n in then if n not in now]
    return ([f"now: {', '.join(fresh)}"] if fresh else []) + (
        [f"no longer: {', '.join(gone)}"] if gone else []
    )


def _said(r: Reading) -> str:
    return f"shows {r.shows}" if r.shows else r.state


def _moment_blocks(moment: Moment) -> list[Block]:
    blocks: list[Block] = [Entry("mind", said, tone="bad") for said in moment.happened]
    return blocks + _standing_blocks(moment)


def _standing_blocks(moment: Moment) -> list[Block]:
    blocks: list[Block] = []
    if moment.readings:
        blocks.append(_table("what is seen and heard", moment.readings))
    else:
        blocks.append(Paragraph("Nothing lights, sounds or moves."))
    if moment.sources:
        blocks.append(_supply_table(moment.sources))
    if moment.fuses:
        rows = tuple((n, as_written(a, "current"), as_written(c, "current")) for n, a, c in moment.fuses)
        blocks.append(Table(("fuse", "carries now", "made to carry"), rows, right=(1, 2)))
    delivered = f"The sources deliver {as_written(moment.watts, 'power')}"
    closed = abs(moment.residual) <= 1e-9 * max(moment.watts, 1e-3)
    proof = "; losses and loads account for all of it" if closed and moment.watts > SPEAKING else ""
    return [*blocks, Paragraph(f"{delivered}{proof}.", quiet=True)]


def _table(title: str, found: tuple[Reading, ...]) -> Table:
    rows = []
    for r in found:
        light = f"{r.light:.0%}" if r.light is not None and r.light >= 0.001 else ""
        rows.append((r.name, _said(r), *_figures(r), light))
    return Table((title, "", "volts", "amps", "watts", "light"), tuple(rows), right=(2, 3, 4, 5))


def _supply_table(found: tuple[Reading, ...]) -> Table:
    """Sources: what they give stands as such, what they take too."""
    rows = []
    for r in found:
        gives = "gives" if r.watts < 0 else "takes"
        power = f"{gives} {as_written(abs(r.watts), 'power')}" if abs(r.watts) > SPEAKING else ""
        rows.append((r.name, r.state, *_figures(r)[:2], power))
    return Table(("supply", "", "volts", "amps", "watts"), tuple(rows), right=(2, 3, 4))


def _figures(r: Reading) -> tuple[str, str, str]:
    return (
        as_written(abs(r.volts), "voltage"),
        as_written(abs(r.amps), "current"),
        as_written(r.watts, "power"),
    )


def _moment_data(moment: Moment) -> dict[str, Any]:
    def reading(r: Reading) -> dict[str, Any]:
        data = {"item": r.item, "part": r.part, "name": r.name, "state": r.state}
        return data | {"volts": r.volts, "amps": r.amps, "watts": r.watts, "shows": r.shows, "light": r.light}

    return {
        "done": moment.done,
        "see": moment.see,
        "verdict": moment.verdict,
        "note": moment.note,
        "readings": [reading(r) for r in moment.readings],
        "sources": [reading(r) for r in moment.sources],
        "fuses": [{"name": n, "amps": a, "carrying": c} for n, a, c in moment.fuses],
        "delivered_watts": moment.watts,
        "residual_watts": moment.residual,
        "happened": list(moment.happened),
    }
