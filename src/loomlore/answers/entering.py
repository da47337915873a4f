"""``cards --enter``: what a filled-in card says, entered in the record as measurements, each under its card's line.

Every figure becomes a ``[[measurement]]`` of its own in one file; nothing else in the record is touched. What has no
figure, no unit, or no line on any card is a finding, and stays on the sheet. What is there already is not entered
twice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from loomlore.answers.cards import Found, cards
from loomlore.answers.opening import Opened, Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.faults.cards.card import Row, judged_row
from loomlore.findings import Finding, LoomloreError, Place, RefusedEdit, Severity, nearest
from loomlore.quantities import read_date, read_quantity
from loomlore.record.editing import add_thing

__all__ = ["EnteredAnswer", "enter"]

FILE = "measured-on-cards.toml"


@dataclass(frozen=True, kw_only=True)
class EnteredAnswer:
    """What was entered (line, as found or left, value, verdict), what was there already, and what could not be."""

    title: str
    file: str
    entered: tuple[tuple[str, str, str, str], ...]
    already: int
    findings: tuple[Finding, ...]

    @property
    def failed(self) -> bool:
        """Whether something on the sheet could not be entered."""
        return any(f.severity is Severity.ERROR for f in self.findings)

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(f"{self.title}: entered from cards", 1)]
        if self.entered:
            blocks.append(
                Table(("line of the card", "as", "measured", "beside what is expected"), self.entered)
            )
            blocks.append(Paragraph(f"Written to {self.file}."))
        else:
            blocks.append(Paragraph("Nothing was entered."))
        if self.already:
            blocks.append(Paragraph(f"{self.already} stand in the record already."))
        for finding in self.findings:
            tone = "bad" if finding.severity is Severity.ERROR else "doubt"
            blocks.append(Entry(finding.place.file, finding.message, (finding.hint,), tone))
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "entered",
            "title": self.title,
            "file": self.file,
            "entered": [
                dict(zip(("line", "as", "value", "verdict"), row, strict=True)) for row in self.entered
            ],
            "already": self.already,
            "findings": [
                {"severity": f.severity.word, "where": f.place.file, "message": f.message, "hint": f.hint}
                for f in self.findings
            ],
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def enter(
    record: Record, found: Mapping[str, Found], *, standard: str = "", file: str = FILE
) -> EnteredAnswer:
    """Enter what was measured.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    found
        By line of a card, from :func:`loomlore.answers.cards.read_found`.
    standard
        A named standard of fit, for what is expected.
    file
        Where to write it, relative to the folder.

    Returns
    -------
    EnteredAnswer
        With a finding for each thing that could not be entered.

    Raises
    ------
    UnknownName
        Where no standard is called so.
    """
    opened = opened_of(record)
    kinds = tuple(dict.fromkeys(id_.partition(":")[0] for id_ in found))
    known = {row.id: row for row in _rows(opened, kinds, standard)}
    lines: list[tuple[str, str, str, str]] = []
    findings: list[Finding] = []
    already = 0
    taken = set(opened.dossier.measurements)
    for id_, one in found.items():
        row = known.get(id_)
        if row is None:
            findings.append(_unknown(id_, known))
            continue
        if one.date and (said := _undated(one.date)):
            findings.append(_finding(id_, "unreadable-value", said, "Write the day as 2024-03-02."))
            continue
        for as_, text in (("found", one.as_found), ("left", one.as_left)):
            if not text:
                continue
            said, hint, value = _figure(row, text)
            if said:
                findings.append(_finding(id_, "unreadable-value", said, hint))
                continue
            raw = _raw(row, one, as_, text)
            if _is_there(opened, raw):
                already += 1
                continue
            name = _free(taken, row.id, as_)
            try:
                add_thing(opened.folder, opened.reading, "measurement", name, raw, file=file)
            except RefusedEdit as refused:
                findings.append(
                    _finding(id_, "refused", str(refused), "Mend that, and enter the sheet again.")
                )
                continue
            taken.add(name)
            lines.append((id_, as_, text, judged_row(row, value)))
    title = opened.dossier.header.title
    return EnteredAnswer(
        title=title, file=file, entered=tuple(lines), already=already, findings=tuple(findings)
    )


def _rows(record: Record, kinds: tuple[str, ...], standard: str) -> list[Row]:
    from loomlore.faults.cards.carding import CARDS

    wanted = [kind for kind in kinds if kind in CARDS]
    return [r for c in cards(record, wanted, standard=standard).cards for r in c.rows] if wanted else []


def _figure(row: Row, text: str) -> tuple[str, str, float]:
    """What is wrong with a figure and what to do, or its value."""
    if not row.dimension:
        return (
            f"{text!r} belongs to a line that has no figure.",
            "It stays on the sheet: keep that with the record.",
            0.0,
        )
    try:
        value = read_quantity(text, row.dimension).value
    except LoomloreError as slip:
        example = {"resistance": "0.31 ohm", "voltage": "24.2 V", "current": "0.25 A"}.get(row.dimension, "")
        return (
            f"{text!r} is no reading of this line: {slip}",
            f"Write the figure with its unit, like {example}.",
            0.0,
        )
    if row.dimension == "resistance" and value < 0:
        return (
            f"{text!r}: no resistance is below nothing; a meter shows that where something is live.",
            "See that every supply is off, short the prods together, and measure again.",
            0.0,
        )
    return "", "", value


def _undated(text: str) -> str:
    try:
        read_date(text)
    except LoomloreError as slip:
        return str(slip)
    return ""


def _raw(row: Row, one: Found, as_: str, text: str) -> dict[str, Any]:
    raw: dict[str, Any] = {"of": row.id, "value": text, "as": as_}
    raw |= {key: value for key, value in (("on", one.date), ("meter", one.meter), ("by", one.name)) if value}
    return raw | {"text": f"{row.what}. Expected: {row.expect}"}


def _is_there(opened: Opened, raw: Mapping[str, Any]) -> bool:
    return any(
        one.of == (raw["of"],)
        and one.value is not None
        and one.value.text == raw["value"]
        and (one.as_ or "found") == raw["as"]
        and (one.on.text if one.on is not None else "") == raw.get("on", "")
        for one in opened.dossier.measurements.values()
    )


def _free(taken: set[str], line: str, as_: str) -> str:
    """An id that no measurement has yet."""
    stem = f"{re.sub('[^a-z0-9]+', '-', line.lower()).strip('-')}-{as_}"
    if stem not in taken:
        return stem
    return next(name for n in range(2, len(taken) + 3) if (name := f"{stem}-{n}") not in taken)


def _unknown(id_: str, known: Mapping[str, Row]) -> Finding:
    meant = nearest(id_, known)
    hint = f"Is {meant!r} meant?" if meant else "Keep the first column of the sheet as it was printed."
    return _finding(id_, "unknown-name", f"No card has the line {id_!r}.", hint)


def _finding(id_: str, rule: str, message: str, hint: str) -> Finding:
    return Finding(rule, Severity.ERROR, Place(id_), message, hint)
