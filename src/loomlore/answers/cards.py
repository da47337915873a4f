"""``cards``: test cards with expected readings, room for what is found, and what was found set beside them."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from loomlore.answers.card_pages import cards_document, numbered_cautions
from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.faults.cards.card import Card, Limit, Row, judged_row
from loomlore.faults.cards.carding import CARDS, card_of, sequence
from loomlore.findings import UnknownName, UnreadableValue
from loomlore.network.laws import Filament
from loomlore.quantities import read_quantity
from loomlore.record.model import Dossier

__all__ = ["CardsAnswer", "Found", "cards", "measured_rows", "read_found"]

COLUMNS = ("id", "what", "where", "expect", "as_found", "as_left", "meter", "date", "name")
ROOM = "............"
DEFER = (
    "Where this card and the local rules, the maker's manual or the licensed engineer differ, they hold. "
    "Who signs for the work is who the local rules let sign."
)


@dataclass(frozen=True, kw_only=True)
class Found:
    """What somebody measured for one row of a card."""

    as_found: str = ""
    as_left: str = ""
    meter: str = ""
    date: str = ""
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class CardsAnswer:
    """Test cards of one standard of fit, in the order of work; ``found`` are measurements by row."""

    title: str
    standard: str
    service: str
    cards: tuple[Card, ...]
    found: Mapping[str, Found]

    @property
    def failed(self) -> bool:
        """Whether something as left lies outside what is expected."""
        return any(
            self.verdict(row, left=True) in ("too low", "too high")
            for card in self.cards
            for row in card.rows
        )

    def verdict(self, row: Row, *, left: bool = False) -> str:
        """What was found (or left) beside its prediction."""
        found = self.found.get(row.id)
        said = (found.as_left if left else found.as_found or found.as_left) if found else ""
        if not said or not row.dimension:
            return ""
        try:
            return judged_row(row, read_quantity(said, row.dimension).value)
        except UnreadableValue:
            return "not a figure"

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [
            Heading(f"{self.title}: test cards", 1),
            Paragraph(f"Standard of fit: {self.standard}."),
        ]
        for card in self.cards:
            blocks += _card_blocks(self, card)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "cards",
            "title": self.title,
            "standard": self.standard,
            "service": self.service,
            "cards": [_card_data(self, card) for card in self.cards],
            "caution": CAUTION,
        }

    def as_document(self) -> str:
        """The cards as one HTML page that prints a card a sheet, to be filled in."""
        rows = [row for card in self.cards for row in card.rows]
        return cards_document(
            self.title,
            self.standard,
            self.cards,
            found=self.found,
            verdicts={row.id: (self._beside(row), self._beside(row, left=True)) for row in rows},
            defer=DEFER,
        )

    def _beside(self, row: Row, *, left: bool = False) -> str:
        """A verdict, where there is something written that it is of."""
        found = self.found.get(row.id)
        written = found is not None and (found.as_left if left else found.as_found)
        return self.verdict(row, left=left) if written else ""

    def as_csv(self) -> str:
        """All rows as a sheet to fill in; :func:`read_found` reads it back."""
        lines = io.StringIO()
        writer = csv.writer(lines, lineterminator="\n")
        writer.writerow(COLUMNS)
        for card in self.cards:
            for row in card.rows:
                f = self.found.get(row.id, Found())
                writer.writerow(
                    (row.id, row.what, row.where, row.expect, f.as_found, f.as_left, f.meter, f.date, f.name)
                )
        return lines.getvalue()

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def cards(
    record: Record,
    kinds: Iterable[str] = (),
    *,
    service: str = "",
    standard: str = "",
    limit: str = "5 A",
    found: Mapping[str, Found] | None = None,
    lamp: str = "",
    progress: Callable[[int, int], None] | None = None,
) -> CardsAnswer:
    """Make test cards.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    kinds
        Some of ``CARDS``; all where empty.
    service
        Rows of this service only.
    standard
        A named standard of fit.
    limit
        Where the bench supply of the first-power card limits.
    found
        What was measured, by row, from :func:`read_found`; it goes before what the record has.
    lamp
        A lamp in series instead of the limit, such as ``24 V 60 W``.
    progress
        Told (done, of how many) after each card.

    Returns
    -------
    CardsAnswer
        In the order of work.

    Raises
    ------
    UnknownName
        Where no card, service or standard is called so, or a measurement belongs to no row.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = plant.installation.dossier
    for kind in kinds:
        if kind not in CARDS:
            raise UnknownName("card", kind, CARDS)
    if service and service not in dossier.services:
        raise UnknownName("service", service, dossier.services)
    amps = read_quantity(limit, "current").value
    if amps <= 0:
        raise UnreadableValue(
            f"{limit!r} is no limit", "Write what the supply is set to limit at, such as 5 A."
        )
    series = _series_lamp(lamp) if lamp else None
    chosen = sequence(kinds) or CARDS
    made = []
    for number, kind in enumerate(chosen, start=1):
        made.append(card_of(plant, kind, service=service, limit_amps=amps, lamp=series))
        if progress is not None:
            progress(number, len(chosen))
    standing = standard or dossier.header.standard or next(iter(dossier.standards), "")
    return CardsAnswer(
        title=dossier.header.title,
        standard=dossier.standards[standing].name if standing in dossier.standards else "as recorded",
        service=service,
        cards=tuple(made),
        found=measured_rows(dossier, made) | dict(found or {}),
    )


def _series_lamp(text: str) -> Filament:
    parts = text.split()
    if len(parts) != 4:
        raise UnreadableValue(f"{text!r} is no lamp", "Write its volts and watts: 24 V 60 W.")
    volts = read_quantity(" ".join(parts[:2]), "voltage").value
    watts = read_quantity(" ".join(parts[2:]), "power").value
    if volts <= 0 or watts <= 0:
        raise UnreadableValue(f"{text!r} is no lamp", "Write its volts and watts: 24 V 60 W.")
    return Filament(volts=volts, amps=watts / volts)


def measured_rows(dossier: Dossier, made: Iterable[Card]) -> dict[str, Found]:
    """What the record itself has measured, by row: a card's line by its name, or its two terminals either way round.

    Parameters
    ----------
    dossier
        The record.
    made
        The cards.

    Returns
    -------
    dict of str to Found
        The latest of each.
    """
    found: dict[str, Found] = {}
    rows = [row for card in made for row in card.rows]
    by_ends = {frozenset(row.of): row for row in rows if len(row.of) == 2}
    by_id = {row.id: row for row in rows}
    for one in sorted(dossier.measurements.values(), key=lambda m: m.on.text if m.on is not None else ""):
        row = by_id.get(one.of[0]) if len(one.of) == 1 else by_ends.get(frozenset(one.of))
        if row is None or one.value is None or one.value.dimension != row.dimension:
            continue
        old = found.get(row.id, Found())
        new = {
            "as_left" if one.as_ == "left" else "as_found": one.value.text,
            "meter": one.meter,
            "name": one.by,
        }
        if one.on is not None:
            new["date"] = one.on.text
        found[row.id] = replace(old, **{key: value for key, value in new.items() if value})
    return found


def read_found(text: str) -> dict[str, Found]:
    """Read a filled-in sheet.

    Parameters
    ----------
    text
        CSV with the columns of ``CardsAnswer.as_csv``, or TOML with a ``[[row]]`` of the same keys for each.

    Returns
    -------
    dict of str to Found
        Rows in which nothing was written are left out.

    Raises
    ------
    UnreadableValue
        Where a column is missing, or TOML cannot be read.
    """
    lines = _sheet_lines(text)
    found: dict[str, Found] = {}
    for line in lines:
        entry = Found(
            **{key: (line.get(key) or "").strip() for key in ("as_found", "as_left", "meter", "date", "name")}
        )
        if not (entry.as_found or entry.as_left):
            continue
        id_ = (line.get("id") or "").strip()
        if found.get(id_, entry) != entry:
            raise UnreadableValue(f"the line {id_!r} stands twice on the sheet", "Strike one of them.")
        found[id_] = entry
    return found


def _sheet_lines(text: str) -> list[Mapping[str, str]]:
    """Rows of a sheet, CSV or TOML with ``[[row]]``."""
    text = text.removeprefix("\ufeff")
    if not text.strip():
        raise UnreadableValue("the sheet is empty", "Print one with --sheet FILE, fill it in, and try again.")
    if "\0" in text:
        raise UnreadableValue("the sheet is no text", "Save it from the spreadsheet as CSV (UTF-8).")
    if re.search(r"(?m)^\s*\[\[row\]\]", text):
        try:
            rows = tomllib.loads(text)["row"]
        except tomllib.TOMLDecodeError as slip:
            raise UnreadableValue(f"the sheet cannot be read: {slip}", "Mend the line.") from slip
        if not all("id" in row for row in rows):
            raise UnreadableValue("a row of the sheet has no id", 'Write id = "..." as on the card.')
        return [{key: str(value) for key, value in row.items()} for row in rows]
    head = text.lstrip().partition("\n")[0]
    reader = csv.DictReader(
        io.StringIO(text), delimiter=max(",;\t", key=head.count), restval=""
    )  # some spreadsheets part their columns with semicolons
    missing = [c for c in ("id", "as_found", "as_left") if c not in (reader.fieldnames or ())]
    if missing:
        raise UnreadableValue(
            f"the sheet has no column {missing[0]!r}",
            f"Print it again with --sheet FILE and keep the columns: {', '.join(COLUMNS)}.",
        )
    return list(reader)


def _card_blocks(answer: CardsAnswer, card: Card) -> list[Block]:
    blocks: list[Block] = [Heading(card.title)]
    blocks += [Entry("first" if n == 0 else "", said) for n, said in enumerate(card.first)]
    warnings = numbered_cautions(card)
    blocks += [Entry(f"mind {number}", said, tone="bad") for said, number in warnings.items()]
    if not card.rows:
        return [*blocks, Paragraph("Nothing of the installation comes on this card.")]
    rows = []
    for row in card.rows:
        f = answer.found.get(row.id, Found())
        where = f" ({row.where})" if row.where else ""
        verdict = answer.verdict(row)
        mark = (
            f" !{' !'.join(map(str, sorted({warnings[said] for said in row.cautions})))}"
            if row.cautions
            else ""
        )
        as_found = f"{f.as_found or ROOM}{f' {verdict}' if verdict and f.as_found else ''}"
        later = answer.verdict(row, left=True) if f.as_left else ""
        as_left = f"{f.as_left or ROOM}{f' {later}' if later else ''}"
        rows.append((f"{row.what}{where}{mark}", row.expect, as_found, as_left))
    blocks.append(Table(("what", "expect", "as found", "as left"), tuple(rows)))
    if warnings:
        blocks.append(Paragraph("!1: mind the warning of that number at the head of the card.", quiet=True))
    if card.limits:
        blocks.append(
            Table(("limit for", "limit", "source", "how it came here"), tuple(map(_limit_row, card.limits)))
        )
    blocks += [Entry("if not so" if n == 0 else "", said) for n, said in enumerate(card.meaning)]
    if any(row.wrong for row in card.rows):
        wrong = tuple((row.what, " ".join(row.wrong)) for row in card.rows if row.wrong)
        blocks.append(Table(("if it is not so", "look here"), wrong))
    blocks.append(Paragraph(f"Meter {ROOM}  Date {ROOM}  Name {ROOM}"))
    return [*blocks, Paragraph(DEFER, quiet=True)]


def _limit_row(limit: Limit) -> tuple[str, str, str, str]:
    return limit.what, limit.words, limit.source, limit.status


def _card_data(answer: CardsAnswer, card: Card) -> dict[str, Any]:
    return {
        "card": card.id,
        "title": card.title,
        "first": list(card.first),
        "if_not_so": list(card.meaning),
        "rows": [_row_data(answer, row) for row in card.rows],
        "limits": [
            {"what": x.what, "limit": x.words, "source": x.source, "status": x.status} for x in card.limits
        ],
    }


def _row_data(answer: CardsAnswer, row: Row) -> dict[str, Any]:
    f = answer.found.get(row.id, Found())
    return {
        "id": row.id,
        "what": row.what,
        "where": row.where,
        "expect": row.expect,
        "low": row.low,
        "high": row.high,
        "dimension": row.dimension,
        "cautions": list(row.cautions),
        "of": list(row.of),
        "if_wrong": list(row.wrong),
        "as_found": f.as_found,
        "as_left": f.as_left,
        "meter": f.meter,
        "date": f.date,
        "name": f.name,
        "verdict": answer.verdict(row),
    }
