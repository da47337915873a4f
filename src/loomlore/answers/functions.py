"""``functions``: for each service what you do and what you see, in the fewest rows."""

from __future__ import annotations

import csv
import html
import io
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.behaviour.tables.tabulating import OTHERWISE, FunctionTable, ServiceFunctions, function_tables
from loomlore.findings import UnknownName

__all__ = ["FunctionsAnswer", "functions"]


@dataclass(frozen=True, kw_only=True)
class FunctionsAnswer:
    """The function tables of some services, or of all, in one standard of fit."""

    title: str
    standard: str
    services: tuple[ServiceFunctions, ...]

    @property
    def failed(self) -> bool:
        """A table finds nothing wrong."""
        return False

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title, 1), Paragraph(f"Standard of fit: {self.standard}.")]
        supplies = dict(pair for service in self.services for pair in service.supplies)
        if supplies:
            blocks.append(Table(("supply", "comes about by"), tuple(supplies.items())))
        for service in self.services:
            blocks += _service_blocks(service)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "functions",
            "title": self.title,
            "standard": self.standard,
            "services": [_service_data(service) for service in self.services],
            "caution": CAUTION,
        }

    def as_csv(self) -> str:
        """The answer for a spreadsheet: a line for each cell of what is seen, its row's settings in words."""
        lines = io.StringIO()
        writer = csv.writer(lines, lineterminator="\n")
        writer.writerow(("service", "table", "row", "what you do", "what you see", "state"))
        for service in self.services:
            for number, table in enumerate(service.tables, start=1):
                for row, (done, seen) in enumerate(_csv_rows(table), start=1):
                    for thing, state in zip(table.things, seen, strict=True):
                        writer.writerow((service.service, number, row, done, thing, state))
        return lines.getvalue()

    def as_document(self) -> str:
        """The answer as one HTML page that stands alone."""
        title = html.escape(f"{self.title}: what you do, what you see")
        return (
            f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><title>{title}</title>"
            f"<style>{_STYLE}</style></head><body>{as_html(self.page())}</body></html>\n"
        )

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


_STYLE = (
    "body{font:16px/1.45 serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#222;background:#fff}"
    "table{border-collapse:collapse;margin:.5rem 0 1rem}th,td{text-align:left;vertical-align:top;"
    "padding:.2rem 1.2rem .2rem 0;border-bottom:1px solid #bbb}h3{margin-top:2rem}"
    "@media print{h3,table{break-inside:avoid}}"
)


def functions(
    record: Record,
    services: Sequence[str] = (),
    *,
    standard: str = "",
    progress: Callable[[int, int], None] | None = None,
) -> FunctionsAnswer:
    """Make the function tables of a dossier's services in one standard of fit.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    services
        Ids; all where empty.
    standard
        A named standard of fit; the dossier's own where empty.
    progress
        Told (done, of how many) after each service.

    Returns
    -------
    FunctionsAnswer
        In the order of the record, or as asked for.

    Raises
    ------
    UnknownName
        Where no service or standard is called so.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = plant.installation.dossier
    for service in services:
        if service not in dossier.services:
            raise UnknownName("service", service, dossier.services)
    chosen = tuple(services) or tuple(dossier.services)
    made = []
    for number, service in enumerate(chosen):
        made.append(function_tables(plant, service))
        if progress is not None:
            progress(number + 1, len(chosen))
    standing = standard or dossier.header.standard or next(iter(dossier.standards), "")
    return FunctionsAnswer(
        title=dossier.header.title,
        standard=dossier.standards[standing].name if standing in dossier.standards else "as recorded",
        services=tuple(made),
    )


# -- pages ---------------------------------------------------------------------------------------------------


LIVE = "With the supply live:"


def _service_blocks(service: ServiceFunctions) -> list[Block]:
    blocks: list[Block] = [Heading(service.title)]
    if service.fed_by:
        blocks.append(Paragraph(f"Fed by {service.fed_by}."))
    if not service.tables:
        blocks.append(Paragraph("Nothing of it is seen or heard in this standard of fit."))
        return blocks
    blocks += [Entry("mind", warning, tone="bad") for warning in service.warnings]
    alike = all(table.live for table in service.tables)
    if alike:
        blocks.append(Paragraph(LIVE))
    often = Counter(said for table in service.tables for said in table.sayings)
    for table in service.tables:
        blocks += _table_blocks(table, say_live=table.live and not alike)
        blocks += [Paragraph(said) for said in table.sayings if table.rows and often[said] == 1]
    blocks += [Paragraph(said) for said, times in often.items() if times > 1]
    blocks.append(Paragraph(_proof(service), quiet=True))
    return blocks


def _table_blocks(table: FunctionTable, *, say_live: bool) -> list[Block]:
    blocks: list[Block] = []
    if not table.rows:
        for thing, state in zip(table.things, table.otherwise, strict=True):
            blocks.append(Paragraph(f"{thing}: {state}, whatever is done."))
        return blocks
    rows = [(*row.done, *row.seen) for row in table.rows]
    width = len(table.columns)
    rows.append((OTHERWISE, *[""] * (width - 1), *table.otherwise))
    if say_live:
        blocks.append(Paragraph(LIVE))
    blocks.append(Table((*table.columns, *(f"{thing}" for thing in table.things)), tuple(rows)))
    return blocks


def _proof(service: ServiceFunctions) -> str:
    rows = sum(len(table.rows) + 1 for table in service.tables)
    fewest = "the fewest rows there can be" if service.exact else "the fewest rows found"
    text = f"{service.settings} settings worked through; {rows} row{'s' * (rows > 1)}, {fewest}."
    if not service.whole:
        text += " There are more than could be worked through: what was not reached is in no table."
    return text


# -- data ----------------------------------------------------------------------------------------------------


def _csv_rows(table: FunctionTable) -> list[tuple[str, tuple[str, ...]]]:
    rows = []
    for row in table.rows:
        parts = [
            f"{head}: {cell}" for head, cell in zip(table.columns, row.done, strict=True) if cell != "any"
        ]
        if table.live:
            parts.insert(0, "supply: live")
        rows.append(("; ".join(parts), row.seen))
    rows.append((OTHERWISE if table.rows else "whatever is done", table.otherwise))
    return rows


def _service_data(service: ServiceFunctions) -> dict[str, Any]:
    return {
        "service": service.service,
        "title": service.title,
        "fed_by": service.fed_by,
        "supplies": [{"name": name, "reached_by": how} for name, how in service.supplies],
        "settings": service.settings,
        "whole": service.whole,
        "warnings": list(service.warnings),
        "tables": [_table_data(table) for table in service.tables],
    }


def _table_data(table: FunctionTable) -> dict[str, Any]:
    return {
        "columns": list(table.columns),
        "things": list(table.things),
        "rows": [{"done": list(row.done), "seen": list(row.seen)} for row in table.rows],
        "otherwise": list(table.otherwise),
        "wants_live_supply": table.live,
        "fewest": "exact" if table.exact else "fewest found",
        "sayings": list(table.sayings),
    }
