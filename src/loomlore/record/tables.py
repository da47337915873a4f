"""Lists out of a dossier into spreadsheets, and any list of cables from a spreadsheet into a dossier.

A list of cables needs a mark and two ends; its columns are known by the words that people write over them.
An end that matches nothing in the record becomes an item of kind ``unknown``, and the list says so in one
finding, so that it stands at once and is mended by degrees. What cannot be read is kept in the cable's note:
nothing that somebody typed is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from loomlore.findings import Finding, Place, Severity, UnreadableValue, in_order
from loomlore.quantities import read_quantity, read_size
from loomlore.record.keys import TABLES
from loomlore.record.model import AIRFRAME, Dossier
from loomlore.record.sheets import Sheet, read_sheets, write_sheets
from loomlore.record.toml import as_key, as_toml
from loomlore.record.values import as_id
from loomlore.record.writing import raw_of

__all__ = ["Imported", "export_lists", "import_cables", "lists_of"]

# --- export ------------------------------------------------------------------------------------------------


def export_lists(dossier: Dossier, path: Path, *, words: Iterable[str] = ()) -> tuple[Path, ...]:
    """Write the record's lists as a spreadsheet.

    Parameters
    ----------
    dossier
        The record.
    path
        The file; its ending (``.xlsx``, ``.ods``, ``.csv``) says which kind.
    words
        Which tables, such as "cable"; all that hold something where none is named.

    Returns
    -------
    tuple of Path
        The files written.
    """
    wanted = frozenset(words)
    return write_sheets(path, [s for s in lists_of(dossier) if not wanted or s.name in wanted])


def lists_of(dossier: Dossier) -> tuple[Sheet, ...]:
    """The record as sheets: one a table, one column a key, lists joined by "; ".

    Parameters
    ----------
    dossier
        The record.

    Returns
    -------
    tuple of Sheet
        Only tables that hold something; the first row has the names of the keys.
    """
    sheets = []
    for word, table in TABLES.items():
        things = getattr(dossier, table.attribute)
        if things:
            rows = [_exported(word, thing, dossier) for thing in things.values()]
            columns = [key for key in _columns(word) if any(key in row for row in rows)]
            columns += sorted({key for row in rows for key in row} - set(columns))
            body = (tuple(row.get(column, "") for column in columns) for row in rows)
            sheets.append(Sheet(word, (tuple(columns), *body)))
    return tuple(sheets)


def _columns(word: str) -> list[str]:
    first = {"cable": ["id", "mark", "service"], "way": ["item", "way"]}.get(word, ["id", "name"])
    return [*first, *(key for key in TABLES[word].keys if key not in first)]


def _exported(word: str, thing: Any, dossier: Dossier) -> dict[str, str]:
    raw = {"id": thing.id} | raw_of(word, thing, dossier)
    if word == "cable":
        # A list is read alone: what the service gives its cables stands in every row.
        usual = {"size": thing.size, "colour": thing.colour, "cover": thing.cover}
        raw |= {"service": thing.service} | {key: str(getattr(v, "text", v)) for key, v in usual.items() if v}
    if word == "way":
        raw = {"item": thing.item, "way": thing.number} | {k: v for k, v in raw.items() if k != "id"}
    return {key: _cell(value) for key, value in raw.items()}


def _cell(value: Any) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, list) and all(isinstance(part, str) for part in value):
        return "; ".join(value)
    return as_toml(value)


# --- import: which column is which -------------------------------------------------------------------------

_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "mark": ("mark", "cable", "cable no", "cable number", "cable mark", "cable id", "wire", "wire no",
        "wire number", "wire id", "no", "number", "nr", "id", "ident", "identification", "marking",
        "ref", "reference", "tag", "conductor"),
    "from": ("from", "start", "end a", "end 1", "a", "a end", "origin", "source", "from item",
        "from equipment", "from device", "from unit", "from component", "first end", "left end",
        "connects from"),
    "from-terminal": ("from terminal", "from pin", "from way", "from contact", "from term", "terminal a",
        "pin a", "from point", "terminal 1", "from tag", "start terminal"),
    "to": ("to", "end", "finish", "end b", "end 2", "b", "b end", "destination", "target", "to item",
        "to equipment", "to device", "to unit", "to component", "second end", "right end", "connects to"),
    "to-terminal": ("to terminal", "to pin", "to way", "to contact", "to term", "terminal b", "pin b",
        "to point", "terminal 2", "to tag", "end terminal"),
    "size": ("size", "gauge", "cross section", "section", "csa", "conductor size", "cable size",
        "wire size", "awg", "swg", "cable type", "mm2", "mm²"),
    "length": ("length", "run", "len", "cable length", "wire length"),
    "colour": ("colour", "color", "col", "insulation colour"),
    "cover": ("cover", "covering", "insulation", "sheath", "sheathing"),
    "service": ("service", "circuit", "system", "function", "group"),
    "along": ("loom", "harness", "bundle", "along", "route", "conduit"),
    "text": ("description", "text", "purpose", "title"),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
}  # fmt: skip
"""The words that people write over the columns of a cable list."""

_KNOWN = {word: column for column, words in _COLUMNS.items() for word in words}
_EARTHS = frozenset(
    {"earth", "ground", "gnd", "e", "airframe", "chassis", "hull", "frame", "mass", "0v", "earthed"}
)


@dataclass(frozen=True)
class _Header:
    """Where a list's columns are: its row, each column's index, and its unit where the heading has one.

    ``others`` are columns whose headings are not known here, with the heading as it stands.
    """

    row: int
    columns: Mapping[str, int]
    units: Mapping[str, str]
    others: Mapping[int, str]


def _plain(heading: str) -> tuple[str, str]:
    """A column's heading in plain words, and the unit that stands in brackets behind it."""
    unit = re.search(r"[(\[]\s*([^)\]]+?)\s*[)\]]|,\s*(mm2|mm²|mm|cm|m|ft|in)\s*$", heading)
    bare = heading[: unit.start()] if unit else heading
    words = re.sub(r"[^a-z0-9²]+", " ", bare.casefold()).strip()
    return words, (unit[1] or unit[2]) if unit else ""


def _header(rows: tuple[tuple[str, ...], ...]) -> _Header | None:
    """The first row, of the first forty, that names a mark and two ends."""
    for number, row in enumerate(rows[:40]):
        columns: dict[str, int] = {}
        units: dict[str, str] = {}
        others: dict[int, str] = {}
        for index, heading in enumerate(row):
            words, unit = _plain(heading)
            column = _KNOWN.get(words)
            if column is not None and column not in columns:
                columns[column] = index
                units[column] = unit
            elif heading:
                others[index] = heading
        if {"mark", "from", "to"} <= columns.keys():
            return _by_contents(_Header(number, columns, units, others), rows[number + 1 :])
    return None


def _by_contents(header: _Header, rows: tuple[tuple[str, ...], ...]) -> _Header:
    """The header with a column of sizes found by what stands in it, where no heading names one."""
    if "size" in header.columns:
        return header
    for index in header.others:
        cells = [row[index] for row in rows if index < len(row) and row[index]]
        # most of them, for a surveyor leaves a question mark or a word here and there
        if cells and sum(map(_is_size, cells)) > len(cells) / 2:
            others = {other: heading for other, heading in header.others.items() if other != index}
            return replace(header, columns={**header.columns, "size": index}, others=others)
    return header


def _is_size(cell: str) -> bool:
    try:
        read_size(cell)
    except UnreadableValue as slip:
        return _meant(slip) != ""
    return True


def _meant(slip: UnreadableValue) -> str:
    """The value that a slip's hint says to write, "" where it only gives an example."""
    found = re.fullmatch(r"Write (?:a decimal point: )?'([^']+)'\.", slip.hint)
    return found[1] if found else ""


# --- import: the cables ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Imported:
    """What a list gives: text to be saved as one more file of the dossier, and what is to be mended in it.

    ``cables`` counts the cables, ``unknown`` are the ids of the items that nothing in the record matches.
    """

    text: str
    cables: int
    unknown: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass
class _Import:
    """One import as it goes on."""

    known: Dossier
    file: str
    service: str
    names: dict[str, str] = field(default_factory=dict)
    unknown: dict[str, str] = field(default_factory=dict)
    cables: dict[str, dict[str, dict[str, Any]]] = field(default_factory=dict)
    marks: dict[str, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    said: set[str] = field(default_factory=set)
    open_ends: int = 0
    plain_earths: list[str] = field(default_factory=list)

    def say_once(self, rule: str, row: int, column: int, message: str, hint: str) -> None:
        """Report something that many rows may have in common, at the first of them."""
        if message not in self.said:
            self.said.add(message)
            self.say(rule, row, column, message, hint)

    def say(self, rule: str, row: int, column: int, message: str, hint: str) -> None:
        """Report something at a cell; rows and columns count from 1."""
        place = Place(self.file, row, column)
        self.findings.append(Finding(rule, Severity.WARNING, place, message, hint))


def import_cables(path: Path, *, known: Dossier | None = None, service: str = "imported") -> Imported:
    """Read a list of cables from a spreadsheet.

    Parameters
    ----------
    path
        The spreadsheet; of several sheets the first is taken that has a mark and two ends.
    known
        The record that the ends are looked up in: ids, names, other names.
    service
        The service of cables whose list gives none.

    Returns
    -------
    Imported
        The text, and the findings, whose places are rows and columns of the list.

    Raises
    ------
    UnreadableValue
        Where no sheet has columns for a mark and two ends.
    """
    sheets = read_sheets(path)
    for sheet in sheets:
        header = _header(sheet.rows)
        if header is not None:
            break
    else:
        seen = next(
            (", ".join(cell for cell in row if cell) for s in sheets for row in s.rows if any(row)), "nothing"
        )
        hint = "Name three columns 'mark', 'from' and 'to'; others may stand beside them."
        raise UnreadableValue(
            f"No sheet has columns for a mark and two ends; the first row has {seen[:120]}.", hint
        )
    name = path.name if len(sheets) == 1 else f"{path.name} [{sheet.name}]"
    going = _Import(known or Dossier(), name, service)
    going.names = _names(going.known)
    going.marks = {mark.casefold(): mark for mark in going.known.cables}
    _say_others(header, going)
    for number, row in enumerate(sheet.rows[header.row + 1 :], header.row + 2):
        if any(row):
            _take(row, number, header, going)
    return _finished(going)


def _say_others(header: _Header, going: _Import) -> None:
    if header.others:
        named = ", ".join(map(repr, header.others.values()))
        message = (
            f"What a column {named} is for is not known; what stands there is kept in each cable's note."
        )
        hint = "Head it as one of these where it is one: size, length, colour, cover, service, along, note."
        column = min(header.others) + 1
        going.say("column-not-known", header.row + 1, column, message, hint)


def _names(known: Dossier) -> dict[str, str]:
    """Every name of an item, in plain letters, with its id."""
    names: dict[str, str] = {}
    for id_, item in known.items.items():
        for name in (id_, item.name, *item.also):
            names.setdefault(as_id(name), id_)
    return names


def _take(row: tuple[str, ...], number: int, header: _Header, going: _Import) -> None:
    cells = {
        column: row[index] for column, index in header.columns.items() if index < len(row) and row[index]
    }
    if "mark" not in cells and not {"from", "to"} & cells.keys():
        return  # a line of text between the rows
    absent = next((column for column in ("from", "to") if column not in cells), None)
    if absent is not None:
        message = f"The row has nothing under {absent!r}; it is left out."
        hint = f"Write this cable below the others in the new file, with its {absent!r}."
        going.say("row-left-out", number, header.columns[absent] + 1, message, hint)
        return
    others = [f"{head}: {row[at]}" for at, head in header.others.items() if at < len(row) and row[at]]
    if others:
        cells["note"] = "; ".join(filter(None, (cells.get("note", ""), *others)))
    if "mark" not in cells:
        cells["mark"] = f"unmarked-{number}"
        message = f"The row has no mark; the cable is called {cells['mark']!r}."
        going.say(
            "no-mark",
            number,
            header.columns["mark"] + 1,
            message,
            "Give it the mark that a drawing has for it.",
        )
    for one in _several(cells, number, header, going):
        _take_one(one, number, header, going)


def _several(cells: dict[str, str], number: int, header: _Header, going: _Import) -> Iterator[dict[str, str]]:
    """The cables of a row: one, or as many as its cell has marks, each with its own end where ends are listed."""
    marks = _marks(cells["mark"])
    if len(marks) == 1:
        yield cells
        return
    ends = {end: _JOINED_MARKS.split(cells[end]) for end in ("from", "to")}
    ends = {
        end: parts if len(parts) == len(marks) else [cells[end]] * len(marks) for end, parts in ends.items()
    }
    shared = all(len(set(parts)) == 1 for parts in ends.values())
    message = f"{cells['mark']!r} are {len(marks)} marks in one row; a cable is made of each, " + (
        "with the same ends." if shared else "the ends taken in the order in which they stand."
    )
    hint = "Mend the ends of the others." if shared else "See whether each has its own end."
    going.say("several-marks", number, header.columns["mark"] + 1, message, hint)
    note = "; ".join(filter(None, (cells.get("note", ""), f"listed as {cells['mark']}")))
    for index, mark in enumerate(marks):
        yield cells | {"mark": mark, "note": note} | {end: parts[index] for end, parts in ends.items()}


_JOINED_MARKS = re.compile(r"\s*(?:,|;|&|\+|\band\b)\s*")


def _marks(printed: str) -> list[str]:
    """The marks in a cell: ``N2, N3`` are two where each has letters and figures of its own."""
    parts = _JOINED_MARKS.split(printed)
    alike = all(re.fullmatch(r"[A-Za-z]{1,4}-?\d+[A-Za-z]?", part) for part in parts)
    return parts if alike else [printed]


def _take_one(cells: dict[str, str], number: int, header: _Header, going: _Import) -> None:
    """One cable of a row."""
    mark = _mark(cells["mark"], number, header, going)
    raw: dict[str, Any] = {
        end: _end(cells[end], cells.get(f"{end}-terminal", ""), going) for end in ("from", "to")
    }
    if mark != cells["mark"]:
        raw["mark"] = cells["mark"]
    raw |= {key: cells[key] for key in ("colour", "cover", "text") if key in cells}
    notes = [cells["note"]] if "note" in cells else []
    for key in ("size", "length", "along"):
        if key in cells:
            _measured(key, cells[key], number, header, raw, notes, going)
    if notes:
        raw["note"] = "; ".join(notes)
    service = as_id(cells.get("service", "")) or going.service
    going.cables.setdefault(service, {})[mark] = raw


def _mark(printed: str, number: int, header: _Header, going: _Import) -> str:
    """The key of a cable's mark, and none twice."""
    key = re.sub(r"[^A-Za-z0-9]+", "-", printed).strip("-") or "X"
    if key.casefold() not in going.marks:
        going.marks[key.casefold()] = key
        return key
    other = next(f"{key}-{n}" for n in range(2, 100_000) if f"{key}-{n}".casefold() not in going.marks)
    going.marks[other.casefold()] = other
    message = f"The mark {printed!r} is taken already; this cable becomes {other}."
    going.say(
        "mark-twice",
        number,
        header.columns["mark"] + 1,
        message,
        "Look whether both are one cable; if so, take one out.",
    )
    return other


_APART = re.compile(
    r"^(.*?\S)\s*(?:[.:/,#]|\b(?:terminal|term|pin|way|contact|tag)\b\.?|\s-\s)\s*([^\s.'\"#]{1,12})$",
    re.IGNORECASE,
)
_SHORT = re.compile(r"^(.*\S)\s+([A-Za-z]?\d{1,3}[A-Za-z]?|[A-Za-z+]{1,2}|[-+])$")


def _end(end: str, terminal: str, going: _Import) -> str:
    """One end as ``item.terminal``."""
    if as_id(end) in _EARTHS or end.casefold() in _EARTHS:
        return AIRFRAME
    bolt = re.fullmatch(r"earth\.([a-z0-9-]+)", end)
    if bolt:
        return end
    if _EARTHED_AT.match(end) and as_id(end) not in going.names:
        return _bolt(end, going)
    item, own = (end, terminal) if terminal else _apart(end, going)
    going.open_ends += not own
    return f"{_item(item, going)}.{re.sub(r'[^A-Za-z0-9+_/()?-]', '-', own or '?')}"


_EARTHED_AT = re.compile(
    r"(?:earth|ground|airframe)(?:ed)?\s*(?:[(,:@]|-\s|\b(?:at|near|on|by|beside|behind)\b)\s*(?=[A-Za-z])",
    re.IGNORECASE,
)
"""Not a blank alone: a ground socket and an earthing switch are things of their own."""


def _bolt(end: str, going: _Import) -> str:
    """``Earth (battery tray)``: the bolt of the record that has that name or place, else the airframe."""
    words = as_id(_EARTHED_AT.sub("", end, count=1))
    there = [
        bolt.id for bolt in going.known.earths.values() if {words, f"{words}-bolt"} & {bolt.id, bolt.place}
    ]
    if len(there) == 1:
        return f"earth.{there[0]}"
    going.plain_earths.append(end)
    return AIRFRAME


def _apart(end: str, going: _Import) -> tuple[str, str]:
    """An item and its terminal out of one cell; the terminal is "" where the cell has none."""
    marked, loose = _APART.match(end), _SHORT.match(end)
    if marked and (as_id(marked[1]) in going.names or as_id(end) not in going.names):
        return marked[1], marked[2]
    if loose and as_id(end) not in going.names:
        return loose[1], loose[2]
    return end, ""


def _item(words: str, going: _Import) -> str:
    """The item that some words name; one of kind ``unknown`` where there is none."""
    id_ = as_id(words) or f"item-{len(going.unknown) + 1}"
    if id_ in going.names:
        return going.names[id_]
    while id_ in going.known.conditions or id_ in going.known.controls:
        id_ += "-item"
    going.unknown.setdefault(id_, words)
    return id_


def _measured(
    key: str, cell: str, number: int, header: _Header, raw: dict[str, Any], notes: list[str], going: _Import
) -> None:
    """A size, length or loom, where it can be read; else a line in the note."""
    unit = header.units.get(key, "")
    bare = re.fullmatch(r"[\d.,/ ]+", cell) is not None
    text = f"{cell} {unit}" if unit and bare else cell
    if key == "size" and bare and "awg" in unit.casefold():
        text = f"AWG {cell}"
    place = (number, header.columns[key] + 1)
    try:
        raw[key] = _read(key, text, going)
    except UnreadableValue as slip:
        meant = _meant(slip)
        if meant:
            raw[key] = meant
            going.say_once(
                "read-as", *place, f"{key} {cell!r} is read as {meant!r}.", "See whether that is meant."
            )
            return
        notes.append(f"{key} as listed: {cell}")
        going.say_once("kept-as-note", *place, f"{slip.message} It is kept in the cable's note.", slip.hint)


def _read(key: str, text: str, going: _Import) -> str:
    """The value of a column as the record writes it."""
    if key == "size":
        return read_size(text).text
    if key == "length":
        return read_quantity(text, "length").text
    if as_id(text) not in going.known.looms:
        raise UnreadableValue(
            f"{text!r} is no loom of the record.", "Add it under [loom], then give the cable along = …"
        )
    return as_id(text)


def _finished(going: _Import) -> Imported:
    parts = [f"# Cables from {going.file.replace(chr(10), ' ')}.\n"]
    if going.unknown:
        width = max(map(len, going.unknown))
        rows = (
            f"{id_:{width}} = {as_toml({'kind': 'unknown', **_named(id_, words)})}\n"
            for id_, words in going.unknown.items()
        )
        parts.append("[item]\n" + "".join(rows))
        shown = ", ".join(list(going.unknown)[:6]) + (", …" if len(going.unknown) > 6 else "")
        are = "1 item is" if len(going.unknown) == 1 else f"{len(going.unknown)} items are"
        message = f"{are} not in the record and of kind 'unknown': {shown}."
        hint = "Give each its kind, or the name in the list to an item as one of 'also'."
        going.findings.append(Finding("unknown-items", Severity.WARNING, Place(going.file), message, hint))
    if going.open_ends:
        message = f"{going.open_ends} ends of the list name no terminal; it is written as '?'."
        hint = "Write the terminal as it stands on the item."
        going.findings.append(Finding("open-ends", Severity.WARNING, Place(going.file), message, hint))
    if going.plain_earths:
        shown = ", ".join(map(repr, list(dict.fromkeys(going.plain_earths))[:4]))
        message = (
            f"Ends that name an earth which is no bolt of the record are written as plain 'earth': {shown}."
        )
        hint = 'Add the bolt under [earth], and write for instance to = "earth.panel-bolt".'
        going.findings.append(Finding("plain-earths", Severity.WARNING, Place(going.file), message, hint))
    for service, cables in going.cables.items():
        if service not in going.known.services:
            parts.append(f"[service.{service}]\ntitle = {as_toml(service.replace('-', ' ').capitalize())}\n")
        width = max(len(as_key(mark)) for mark in cables)
        rows = (f"{as_key(mark):{width}} = {as_toml(raw)}\n" for mark, raw in cables.items())
        parts.append(f"[service.{service}.cables]\n" + "".join(rows))
    count = sum(len(cables) for cables in going.cables.values())
    return Imported("\n".join(parts), count, tuple(going.unknown), in_order(going.findings))


def _named(id_: str, words: str) -> dict[str, str]:
    """The words of the list as the item's name, where its id does not say the same."""
    usual = id_.replace("-", " ").capitalize()
    return {} if words.casefold() == usual.casefold() else {"name": words}
