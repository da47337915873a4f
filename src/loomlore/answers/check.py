"""``check``: every finding about the text, the connections and what the sources say of properties."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.catalogue.shipped import shipped_kinds
from loomlore.evidence.disagreements import weigh
from loomlore.findings import Finding, Severity, in_order
from loomlore.record.rules import check_record

__all__ = ["CheckAnswer", "check"]


@dataclass(frozen=True, kw_only=True)
class CheckAnswer:
    """What was read, and everything that is wrong or doubtful about it."""

    title: str
    counts: tuple[tuple[str, int], ...]
    findings: tuple[Finding, ...]

    @property
    def failed(self) -> bool:
        """Whether a finding is an error."""
        return any(f.severity is Severity.ERROR for f in self.findings)

    def count(self, severity: Severity) -> int:
        """How many findings of a severity."""
        return sum(f.severity is severity for f in self.findings)

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title or "Untitled dossier", 1)]
        rows = tuple((what, str(number)) for what, number in self.counts if number)
        if rows:
            blocks.append(Table(("in the record", ""), rows, right=(1,)))
        tones = {Severity.ERROR: "bad", Severity.WARNING: "doubt", Severity.NOTE: "plain"}
        for finding in self.findings:
            where = str(finding.place)
            also = _also(finding)
            text = f"{where}  {finding.message}"
            blocks.append(Entry(finding.severity.word, text, (finding.hint, *also), tones[finding.severity]))
        blocks.append(Paragraph(self._summary()))
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def _summary(self) -> str:
        if not self.findings:
            return "Nothing is wrong with the text or its connections."
        words = [("error", Severity.ERROR), ("warning", Severity.WARNING), ("note", Severity.NOTE)]
        said = [f"{n} {w}{'s' if n != 1 else ''}" for w, s in words if (n := self.count(s))]
        return f"{', '.join(said)}."

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        from loomlore.answers.operate import finding_data  # brings the network with it; a check does without

        return {
            "answer": "check",
            "title": self.title,
            "counts": dict(self.counts),
            "findings": [finding_data(f) for f in self.findings],
            "errors": self.count(Severity.ERROR),
            "warnings": self.count(Severity.WARNING),
            "notes": self.count(Severity.NOTE),
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def _also(finding: Finding) -> tuple[str, ...]:
    """The other places of a finding, a line for each file."""
    lines: dict[str, list[str]] = {}
    for place in finding.also_at:
        file, _, line = str(place).partition(":")
        lines.setdefault(file, []).append(line)
    return tuple(
        f"also at {file}:{', '.join(at)}" if any(at) else f"also at {file}" for file, at in lines.items()
    )


def check(record: Record) -> CheckAnswer:
    """Gather every finding about a dossier that can be had without operating it.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.

    Returns
    -------
    CheckAnswer
        Findings in the order of the text.
    """
    opened = opened_of(record)
    dossier = opened.dossier
    reading = opened.reading
    findings = (
        *reading.findings,
        *check_record(reading, shipped_kinds()),
        *weigh(dossier, opened.kinds, place_of=reading.place_of, broken=reading.broken).findings,
    )
    # a decision that adopts what is not there cites it too: the first says more
    adopting = {f.place for f in findings if f.rule == "adopts-nothing"}
    findings = tuple(f for f in findings if f.rule != "unknown-source" or f.place not in adopting)
    names = (
        ("services", dossier.services),
        ("items", dossier.items),
        ("cables", dossier.cables),
        ("places", dossier.places),
        ("looms", dossier.looms),
        ("earth bolts", dossier.earths),
        ("controls and conditions", {**dossier.controls, **dossier.conditions}),
        ("fits and modifications", {**dossier.fits, **dossier.modifications}),
        ("standards of fit", dossier.standards),
        ("sources", dossier.sources),
        ("statements", dossier.statements),
        ("decisions", dossier.decisions),
        ("procedures", dossier.procedures),
    )
    counts = tuple((what, len(things)) for what, things in names)
    return CheckAnswer(title=dossier.header.title, counts=counts, findings=in_order(findings))
