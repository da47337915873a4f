"""Spreadsheets as plain tables of text: XLSX, ODS and CSV, read without trust and written without surprise.

Spreadsheets are for exchange; the record is text. Cells are read as what they show: a whole number without
its point, a date as ISO. They are written as text, so that a mark such as ``3-4`` or ``1E5`` stays what it is
and nothing is taken for a formula. The same lists give the same bytes.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from loomlore.findings import UnreadableValue
from loomlore.record.editing import save_bytes

__all__ = ["Sheet", "read_sheets", "write_sheets"]

LARGEST_FILE = 20_000_000
LARGEST_UNPACKED = 200_000_000
MOST_ROWS = 50_000
MOST_COLUMNS = 200
LONGEST_CELL = 20_000

_MADE = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - the format has no zone; any fixed date will do


@dataclass(frozen=True)
class Sheet:
    """A named table of text."""

    name: str
    rows: tuple[tuple[str, ...], ...]


def read_sheets(path: Path) -> tuple[Sheet, ...]:
    """Read every sheet of a file.

    Parameters
    ----------
    path
        An ``.xlsx``, ``.xls``, ``.ods``, ``.csv`` or ``.tsv`` file.

    Returns
    -------
    tuple of Sheet
        Cells as text, blanks around them taken off; empty rows stay, so that numbers of rows are right.

    Raises
    ------
    UnreadableValue
        Where the file is none of these, or too large.
    """
    suffix = path.suffix.casefold()
    try:
        size = path.stat().st_size
    except OSError as error:
        raise UnreadableValue(
            f"{path} cannot be read: {error.strerror}.", "Look at its name and place."
        ) from error
    if size > LARGEST_FILE:
        raise UnreadableValue(
            f"{path.name} has {size / 1e6:.0f} MB.", "Save the list alone in a file of its own."
        )
    if suffix in (".csv", ".tsv", ".txt"):
        return (Sheet(path.stem, _csv_rows(path.read_bytes())),)
    if suffix in (".xlsx", ".xlsm", ".xls", ".ods"):
        return _workbook(path)
    raise UnreadableValue(f"{path.name} is no spreadsheet known here.", "Save it as .xlsx, .ods or .csv.")


def _workbook(path: Path) -> tuple[Sheet, ...]:
    import python_calamine

    _refuse_bomb(path)
    try:
        book = python_calamine.load_workbook(path)
        return tuple(_sheet(name, book.get_sheet_by_name(name)) for name in book.sheet_names)
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        hint = "Open it in its own program and save it again, as .xlsx, .ods or .csv."
        raise UnreadableValue(f"{path.name} cannot be read as a spreadsheet.", hint) from error


def _sheet(name: str, sheet: object) -> Sheet:
    rows = sheet.to_python(skip_empty_area=False, nrows=MOST_ROWS)  # type: ignore[attr-defined]
    return Sheet(name, tuple(tuple(_shown(cell) for cell in row[:MOST_COLUMNS]) for row in rows))


def _refuse_bomb(path: Path) -> None:
    """A small file that unpacks to gigabytes is refused before anything unpacks it."""
    if not zipfile.is_zipfile(path):
        return
    with zipfile.ZipFile(path) as parts:
        if sum(part.file_size for part in parts.infolist()) > LARGEST_UNPACKED:
            hint = "Save the list alone in a file of its own."
            raise UnreadableValue(f"{path.name} unpacks to more than {LARGEST_UNPACKED / 1e6:.0f} MB.", hint)


def _shown(cell: object) -> str:
    """A cell as the sheet shows it."""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat() if cell.time() == dt.time() else cell.isoformat(" ")
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    return str(cell).strip()[:LONGEST_CELL]


def _csv_rows(content: bytes) -> tuple[tuple[str, ...], ...]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    unquoted = re.sub(r'"[^"]*"', "", text[:100_000])
    first = next((line for line in unquoted.splitlines() if re.search(r"[,;\t]", line)), "")
    delimiter = max(",;\t", key=first.count)
    rows: list[tuple[str, ...]] = []
    try:
        for row in csv.reader(io.StringIO(text.replace("\0", "")), delimiter=delimiter):
            rows.append(tuple(_from_csv(cell) for cell in row[:MOST_COLUMNS]))
            if len(rows) == MOST_ROWS:
                break
    except csv.Error as error:
        raise UnreadableValue(
            f"The list breaks off: {error}.", "Look for a quote that is not closed."
        ) from error
    return tuple(rows)


# --- writing -----------------------------------------------------------------------------------------------


def write_sheets(path: Path, sheets: Sequence[Sheet]) -> tuple[Path, ...]:
    """Write sheets into a file.

    Parameters
    ----------
    path
        Its ending says what is written: ``.xlsx``, ``.ods``, or ``.csv``, of which each sheet gets its own
        file, ``NAME-items.csv`` and so on.
    sheets
        The sheets; the first row of each holds the names of the columns.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    UnreadableValue
        Where the ending is none of these.
    RefusedEdit
        Where a file cannot be written.
    """
    suffix = path.suffix.casefold()
    if suffix == ".csv":
        paths = [path if len(sheets) == 1 else path.with_name(f"{path.stem}-{s.name}.csv") for s in sheets]
        for one, sheet in zip(paths, sheets, strict=True):
            save_bytes(one, _csv(sheet))
        return tuple(paths)
    if suffix not in (".xlsx", ".ods"):
        raise UnreadableValue(f"{path.name!r} says nothing about its kind.", "End it in .xlsx, .ods or .csv.")
    save_bytes(path, _xlsx(sheets) if suffix == ".xlsx" else _ods(sheets))
    return (path,)


_STARTS = ("=", "+", "-", "@", "\t", "\r", "'")


def _to_csv(cell: str) -> str:
    """A cell that a spreadsheet would take for a formula gets an apostrophe, as one would type it there."""
    amount = cell[:1] in ("+", "-") and (len(cell) == 1 or cell[1:2].isdigit())
    return f"'{cell}" if cell.startswith(_STARTS) and not amount else cell


def _from_csv(cell: str) -> str:
    bare = cell.strip()
    return bare[1:][:LONGEST_CELL] if bare.startswith("'") else bare[:LONGEST_CELL]


def _csv(sheet: Sheet) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n").writerows([_to_csv(cell) for cell in row] for row in sheet.rows)
    return ("\ufeff" + text.getvalue()).encode("utf-8")  # the mark tells older programs that it is UTF-8


def _xlsx(sheets: Sequence[Sheet]) -> bytes:
    import xlsxwriter  # type: ignore[import-untyped]  # it publishes no types

    content = io.BytesIO()
    book = xlsxwriter.Workbook(
        content, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    book.set_properties({"created": _MADE})
    head, text = book.add_format({"bold": True}), book.add_format({"num_format": "@"})
    for name, sheet in zip(_sheet_names(s.name for s in sheets), sheets, strict=True):
        page = book.add_worksheet(name)
        page.freeze_panes(1, 0)
        for number, row in enumerate(sheet.rows):
            for column, cell in enumerate(row):
                page.write_string(number, column, cell, head if number == 0 else text)
        for column in range(max(map(len, sheet.rows), default=0)):
            page.set_column(column, column, _width(sheet, column), text)
    book.close()
    return content.getvalue()


def _width(sheet: Sheet, column: int) -> float:
    longest = max((len(row[column]) for row in sheet.rows if column < len(row)), default=8)
    return float(min(max(longest + 1, 6), 60))


def _sheet_names(names: Iterable[str]) -> list[str]:
    """Names that a workbook takes: 31 characters, none twice."""
    taken: list[str] = []
    for name in names:
        bare = "".join("-" if sign in "[]:*?/\\'" else sign for sign in name)[:28] or "list"
        number = sum(1 for other in taken if other.casefold().rpartition("~")[0] == bare.casefold())
        taken.append(f"{bare}~{number}" if bare.casefold() in {t.casefold() for t in taken} else bare)
    return taken


_ODS_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content'
    ' xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
    ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
    ' xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2">'
    "<office:body><office:spreadsheet>"
)
_ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
_ODS_MANIFEST = (
    '<?xml version="1.0" encoding="UTF-8"?>'
    '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"'
    ' manifest:version="1.2">'
    f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_ODS_TYPE}"/>'
    '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
    "</manifest:manifest>"
)


def _ods(sheets: Sequence[Sheet]) -> bytes:
    """An OpenDocument sheet: the type first and unpacked, as the standard asks."""
    names = _sheet_names(s.name for s in sheets)
    tables = "".join(
        f"<table:table table:name={quoteattr(name)}>{''.join(map(_ods_row, sheet.rows))}</table:table>"
        for name, sheet in zip(names, sheets, strict=True)
    )
    parts = {
        "mimetype": _ODS_TYPE,
        "content.xml": f"{_ODS_HEAD}{tables}</office:spreadsheet></office:body></office:document-content>",
        "META-INF/manifest.xml": _ODS_MANIFEST,
    }
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as packed:
        for name, text in parts.items():
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            packed.writestr(entry, text)
    return content.getvalue()


def _ods_row(row: Sequence[str]) -> str:
    text = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    cells = "".join(text.format(escape(_printable(cell))) if cell else "<table:table-cell/>" for cell in row)
    return f"<table:table-row>{cells}</table:table-row>"


def _printable(cell: str) -> str:
    return "".join(sign for sign in cell.replace("\n", " ") if sign >= " ")
