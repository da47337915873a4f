"""The record's tables as the bench shows and edits them: cells as written, changed one at a time, undone in order.

An edit goes through :mod:`loomlore.record.editing`: worked out on the file as it is on the disk, refused where
the line is not the one the reader saw. Undo puts back the text from before, and is refused where the file has
been changed since. The ledger keeps what is needed for that in memory, never in the dossier.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import Any
from urllib.parse import quote

from loomlore.answers.opening import Opened, open_dossier
from loomlore.bench.desk import Desk, Seen, files_of
from loomlore.bench.markup import Child, Markup, joined, tag
from loomlore.findings import Finding, RefusedEdit, UnknownName, UnreadableValue
from loomlore.record.editing import add_thing, remove_key, remove_thing, save_text, set_key, text_of
from loomlore.record.folder import LARGEST_FILE
from loomlore.record.keys import TABLES, Table
from loomlore.record.reading import Reading
from loomlore.record.toml import as_toml
from loomlore.record.values import Slip

__all__ = ["Ledger", "record_page", "shown_value", "typed_value"]

SHOWN_TABLES = (
    "item",
    "cable",
    "way",
    "place",
    "outline",
    "service",
    "statement",
    "decision",
    "source",
    "control",
    "condition",
    "earth",
    "loom",
    "fit",
    "modification",
    "standard",
    "procedure",
    "measurement",
)
TITLES = {
    "item": "Items",
    "cable": "Cables",
    "way": "Ways",
    "place": "Places",
    "outline": "Outlines",
    "service": "Services",
    "statement": "Statements",
    "decision": "Decisions",
    "source": "Sources",
    "control": "Controls",
    "condition": "Conditions",
    "earth": "Earth bolts",
    "loom": "Looms",
    "fit": "Fits",
    "modification": "Modifications",
    "standard": "Standards of fit",
    "procedure": "Procedures",
    "measurement": "Measurements",
}
MOST_UNDONE = 200
LARGEST_PASTE = 2000
ROWS = 120
ELSEWHERE = {("service", "cables")}
"""Keys whose tables are tables of the record in their own right, and no cells."""


@dataclass(frozen=True)
class _Change:
    """Texts of the files that an edit changed, before and after, by path relative to the folder."""

    said: str
    before: Mapping[str, str]
    after: Mapping[str, str]


@dataclass
class Ledger:
    """Edits of one dossier, with undo and redo."""

    desk: Desk
    _done: list[_Change] = field(default_factory=list)
    _undone: list[_Change] = field(default_factory=list)
    _one_at_a_time: Lock = field(default_factory=Lock)

    def work(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Carry out one edit; raises :class:`LoomloreError` where it is refused, and nothing has changed then.

        One waits for another: two browsers must not both work from the same text, and one lose what it wrote.
        """
        with self._one_at_a_time:
            return self._work(asked)

    def _work(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        doing = {
            "set": self._set,
            "add": self._add,
            "remove": self._remove,
            "paste": self._paste,
        }.get(str(asked.get("do")))
        if asked.get("do") in ("undo", "redo"):
            return self._back(asked.get("do") == "undo")
        if doing is None:
            raise UnknownName("edit", str(asked.get("do")))
        opened = self.desk.fresh()
        before = dict(_on_disk(self.desk.folder))
        said = doing(opened.reading, asked)
        after = _on_disk(self.desk.folder)
        changed = {name for name in {*before, *after} if before.get(name) != after.get(name)}
        change = _Change(
            said, {n: before.get(n, "") for n in changed}, {n: after.get(n, "") for n in changed}
        )
        self._done = [*self._done[-MOST_UNDONE:], change]
        self._undone.clear()
        return self._report(said)

    def _set(self, reading: Reading, asked: Mapping[str, Any]) -> str:
        subject, key, text = str(asked.get("subject")), str(asked.get("key")), str(asked.get("text", ""))
        expected = self._as_seen(reading, subject, asked.get("version"))
        if not text.strip():
            remove_key(self.desk.folder, reading, subject, key, expected=expected)
            return f"{key} of {subject} taken out"
        value = typed_value(_table_of(subject), key, text)
        set_key(self.desk.folder, reading, subject, key, value, expected=expected)
        return f"{key} of {subject}"

    def _as_seen(self, reading: Reading, subject: str, version: Any) -> str:
        """The thing's text on the disk; refused where it is not what the reader's page showed."""
        seen = self.desk.past.get(version) if isinstance(version, int) else None
        if seen is None:
            raise RefusedEdit(
                "This page is too old to be written from. Keep what you typed, and load the page again."
            )
        then, now = raw_of(seen, subject), raw_of(reading, subject)
        if then != now:
            raise RefusedEdit(
                f"The line has been changed meanwhile. {_difference(then, now)} Nothing was written."
            )
        return text_of(self.desk.folder, reading, subject)

    def _add(self, reading: Reading, asked: Mapping[str, Any]) -> str:
        return _add_to(self.desk.folder, reading, asked)

    def _remove(self, reading: Reading, asked: Mapping[str, Any]) -> str:
        subject = str(asked.get("subject"))
        expected = self._as_seen(reading, subject, asked.get("version"))
        remove_thing(self.desk.folder, reading, subject, expected=expected)
        return f"{subject} taken out"

    def _paste(self, _: Reading, asked: Mapping[str, Any]) -> str:
        """Rows from a spreadsheet: tabs between cells, the first row has the names of the keys, and ``id``."""
        word = str(asked.get("table"))
        lines = [line.split("\t") for line in str(asked.get("text", "")).splitlines() if line.strip()]
        if len(lines) < 2 or len(lines) > LARGEST_PASTE:
            raise UnreadableValue(
                "A list has a row of headings and then rows.", "Copy both from the spreadsheet."
            )
        heads = [head.strip().lower() for head in lines[0]]
        with TemporaryDirectory(prefix="loomlore-") as scratch:
            tried = self._tried_in(Path(scratch), word, heads, lines[1:])
        here = _on_disk(self.desk.folder)
        _save_all(self.desk.folder, tried, {name: here.get(name, "") for name in tried})
        return f"{len(lines) - 1} lines pasted into {TITLES.get(word, word).lower()}"

    def _tried_in(
        self, scratch: Path, word: str, heads: Sequence[str], rows: Sequence[Sequence[str]]
    ) -> dict[str, str]:
        """What the files would hold with the rows in them, tried on a copy: all are taken, or none."""
        before = _on_disk(self.desk.folder)
        for name, text in before.items():
            path = scratch / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text.encode("utf-8", errors="surrogateescape"))
        opened = open_dossier(scratch)
        for number, cells in enumerate(rows, start=2):
            row = {h: c.strip() for h, c in zip(heads, cells, strict=False) if h and c.strip()}
            identity, of = row.pop("id", row.pop("mark", "")), row.pop("of", "")
            try:
                _add_to(scratch, opened.reading, {"table": word, "id": identity, "of": of, "cells": row})
            except (RefusedEdit, UnreadableValue, UnknownName) as error:
                raise RefusedEdit(f"Row {number} cannot be taken, so none was: {error}") from error
            opened = open_dossier(scratch, before=opened)
        return {name: text for name, text in _on_disk(scratch).items() if text != before.get(name)}

    def _back(self, undo: bool) -> dict[str, Any]:
        stack, other = (self._done, self._undone) if undo else (self._undone, self._done)
        if not stack:
            raise RefusedEdit(f"There is nothing to {'undo' if undo else 'do again'}.")
        change = stack[-1]
        now, put = (change.after, change.before) if undo else (change.before, change.after)
        here = _on_disk(self.desk.folder)
        if any(here.get(name, "") != text for name, text in now.items()):
            raise RefusedEdit("The text has been changed since; undo would lose that. Nothing was changed.")
        _save_all(self.desk.folder, put, now)
        other.append(stack.pop())
        return self._report(f"{'Undone' if undo else 'Done again'}: {change.said}")

    def _report(self, said: str) -> dict[str, Any]:
        findings = self.desk.findings()
        return {
            "said": said,
            "version": self.desk.version,
            "marks": len(findings),
            "can_undo": bool(self._done),
            "can_redo": bool(self._undone),
        }

    def tried(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """What is wrong with a value while it is typed; nothing is written."""
        table, key, text = (
            _table_of(str(asked.get("subject"))),
            str(asked.get("key")),
            str(asked.get("text", "")),
        )
        if not text.strip():
            needed = key in table.obligatory
            return {"wrong": f"{key} must be there." if needed else "", "hint": ""}
        found = table.keys.get(key)
        if found is None:
            return {"wrong": "", "hint": ""}
        slips: list[Slip] = []
        try:
            found.read(typed_value(table, key, text), slips)
        except UnreadableValue as slip:
            return {"wrong": slip.message, "hint": slip.hint}
        return {"wrong": slips[0].message if slips else "", "hint": slips[0].hint if slips else ""}


def _add_to(folder: Path, reading: Reading, asked: Mapping[str, Any]) -> str:
    """Add one line to the dossier in a folder."""
    word = str(asked.get("table"))
    table = TABLES.get(word)
    if table is None:
        raise UnknownName("table", word, TABLES)
    cells = asked.get("cells")
    if not isinstance(cells, dict):
        raise UnreadableValue("Nothing to add.", "Fill in the line.")
    raw = {str(k): typed_value(table, str(k), str(v)) for k, v in cells.items() if str(v).strip()}
    missing = [key.name for key in table.needed if key.name not in raw]
    if missing:
        raise UnreadableValue(f"A new line needs {', '.join(missing)}.", f"For instance: {table.line}")
    identity = str(asked.get("id", "")).strip()
    if not identity and table.ids != "list":
        raise UnreadableValue("A new line needs a name of its own.", f"For instance: {table.line}")
    add_thing(folder, reading, word, identity, raw, of=str(asked.get("of", "")))
    return f"{word} {identity} added"


def _save_all(folder: Path, texts: Mapping[str, str], expected: Mapping[str, str]) -> None:
    """Save some files; where one cannot be saved, those before it are put back."""
    saved: list[str] = []
    try:
        for name, text in texts.items():
            save_text(folder / name, text, expected=expected[name])
            saved.append(name)
    except RefusedEdit:
        for name in saved:
            save_text(folder / name, expected[name], expected=texts[name])
        raise


def _difference(then: Mapping[str, Any], now: Mapping[str, Any]) -> str:
    if not now:
        return "It is no longer there."
    keys = [key for key in {**then, **now} if then.get(key) != now.get(key)]
    words = [[shown_value(of[key]) if key in of else "not there" for of in (then, now)] for key in keys]
    said = [f"{key} was {was}, is {now_is}" for key, (was, now_is) in zip(keys, words, strict=True)]
    return f"{'; '.join(said)}."


def _on_disk(folder: Path) -> dict[str, str]:
    return {
        name: (folder / name).read_bytes().decode("utf-8", errors="surrogateescape")
        for name, state in files_of(folder).items()
        if state.st_size <= LARGEST_FILE
    }


def _table_of(subject: str) -> Table:
    word = subject.partition(" ")[0]
    if word not in TABLES:
        raise UnknownName("table", word, TABLES)
    return TABLES[word]


def typed_value(table: Table, key: str, text: str) -> Any:
    """Read what was typed into a cell.

    Parameters
    ----------
    table
        The table it stands in.
    key
        The key.
    text
        As typed: words without quotes where the key takes words, TOML where it takes a list or a table.

    Returns
    -------
    value
        As TOML would hold it.
    """
    known = table.keys.get(key)
    text = text.strip()
    example = _parsed(known.example) if known is not None else None
    if isinstance(example, str):
        whole = _parsed(text)
        return whole if isinstance(whole, str | list | dict | bool) else text
    value = _parsed(text)
    if isinstance(example, list) and not isinstance(value, list):
        return (
            [part.strip() for part in text.split(",")] if all(isinstance(v, str) for v in example) else text
        )
    return text if value is None else value


def _parsed(text: str) -> Any:
    try:
        return tomllib.loads(f"v = {text}\n")["v"] if "\n" not in text else None
    except (tomllib.TOMLDecodeError, RecursionError):
        return None


def shown_value(value: Any) -> str:
    """Show a value in a cell.

    Parameters
    ----------
    value
        As TOML holds it.

    Returns
    -------
    str
        Words without quotes; a list of plain words with commas; anything else as TOML.
    """
    if isinstance(value, str):
        return value
    if isinstance(value, list) and value and all(isinstance(v, str) and "," not in v for v in value):
        return ", ".join(value)
    return as_toml(value)


def raw_of(reading: Reading | Seen, subject: str) -> Mapping[str, Any]:
    """A thing's keys as written; nothing where it is not to be found."""
    found = reading.paths.get(subject)
    if found is None:
        return {}
    file, path = found
    here: Any = reading.raw.get(file, {})
    for part in path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return {}
    return here if isinstance(here, Mapping) else {}


# -- the page ------------------------------------------------------------------------------------------------


def record_page(
    opened: Opened,
    word: str,
    findings: Sequence[Finding],
    *,
    service: str = "",
    about: str = "",
    first: int = 0,
    at: str = "",
) -> Markup:
    """A table of the record, to be edited in place.

    Parameters
    ----------
    opened
        The dossier.
    word
        The table's word.
    findings
        Of the whole record; those of this table stand beside their cells.
    service
        Only cables of this service.
    about
        What a new decision is about.
    first
        The first row shown.
    at
        The name of a line that is to be among those shown, whatever ``first`` says.

    Returns
    -------
    Markup
        The page's body.

    Raises
    ------
    UnknownName
        Where there is no such table.
    """
    if word not in SHOWN_TABLES:
        raise UnknownName("table", word, SHOWN_TABLES)
    table, reading = TABLES[word], opened.reading
    subjects = [s for s in reading.paths if s.partition(" ")[0] == word]
    if service and word == "cable":
        subjects = [s for s in subjects if _of_service(opened, s, service)]
    raws = {subject: raw_of(reading, subject) for subject in subjects}
    keys = [key for key in _columns(table, raws.values()) if (word, key) not in ELSEWHERE]
    by_subject: dict[str, list[Finding]] = {}
    for finding in findings:
        by_subject.setdefault(finding.subject, []).append(finding)
    if f"{word} {at}" in raws:
        first = subjects.index(f"{word} {at}") // ROWS * ROWS
    page = subjects[first : first + ROWS]
    rows = [_row(opened, s, raws[s], keys, by_subject.get(s, [])) for s in page]
    head = tag(
        "tr",
        tag("th", "mark" if table.ids == "mark" else "called", scope="col", class_="id"),
        *[tag("th", key, scope="col") for key in keys],
        tag("td", class_="take-out"),
    )
    grid = tag(
        "table",
        tag("thead", head),
        tag("tbody", *rows),
        role="grid",
        id="ledger",
        data_table=word,
        aria_label=TITLES[word],
    )
    return joined(
        tag("h1", f"{TITLES[word]} of {_titled(opened, service)}" if service else TITLES[word]),
        _tables(word),
        tag("p", tag("a", f"All {TITLES[word].lower()}", href=f"/record/{word}")) if service else None,
        tag(
            "p",
            "Press Enter or click to change a cell; Enter keeps it, Escape leaves it. Each change goes into the "
            "text file at once, that line only.",
            class_="soft",
        ),
        tag(
            "p",
            tag("button", "Undo", type="button", id="ledger-undo"),
            tag("button", "Do again", type="button", id="ledger-redo"),
            tag("span", id="ledger-said", role="status"),
            class_="buttons",
        ),
        tag("div", grid, class_="wide", role="region", aria_label=f"{TITLES[word]}, table", tabindex=0),
        _more(word, service, first, len(subjects)),
        _adding(table, about, service),
    )


def _columns(table: Table, raws: Iterable[Mapping[str, Any]]) -> list[str]:
    """The keys that stand in a table, what must be there first, then what is written most often."""
    counts = Counter(key for raw in raws for key in raw)
    needed = [key.name for key in table.needed]
    order = {key: place for place, key in enumerate(table.keys)}
    others = sorted(
        (k for k in counts if k not in needed), key=lambda k: (-counts[k], order.get(k, len(order)), k)
    )
    return [*needed, *others]


def _of_service(opened: Opened, subject: str, service: str) -> bool:
    cable = opened.dossier.cables.get(subject.partition(" ")[2])
    return cable is not None and cable.service == service


def _titled(opened: Opened, service: str) -> str:
    found = opened.dossier.services.get(service)
    return f"“{found.title or found.name}”" if found is not None else service


def _tables(here: str) -> Markup:
    links = [
        tag(
            "li",
            tag("a", TITLES[word], href=f"/record/{word}", aria_current="page" if word == here else None),
        )
        for word in SHOWN_TABLES
    ]
    return tag("nav", tag("ul", *links), class_="tables", aria_label="Tables of the record")


def _more(word: str, service: str, first: int, of: int) -> Markup | None:
    if of <= ROWS:
        return None
    more = f"&service={quote(service)}" if service else ""
    links: list[Child] = []
    if first > 0:
        links.append(
            tag("a", f"rows before {first + 1}", href=f"/record/{word}?first={max(0, first - ROWS)}{more}")
        )
    if first + ROWS < of:
        links.append(
            tag("a", f"rows from {first + ROWS + 1}", href=f"/record/{word}?first={first + ROWS}{more}")
        )
    return tag(
        "p",
        f"Rows {first + 1} to {min(of, first + ROWS)} of {of}. ",
        joined(*links, between=" · "),
        class_="soft",
    )


def _row(
    opened: Opened, subject: str, raw: Mapping[str, Any], keys: Iterable[str], findings: Sequence[Finding]
) -> Markup:
    identity = subject.partition(" ")[2]
    place = opened.reading.place_of(subject)
    beside: dict[str, list[Finding]] = {}
    for finding in findings:
        beside.setdefault(_key_of(opened.reading, subject, raw, finding), []).append(finding)
    cells = [_cell(key, raw, beside.get(key, [])) for key in keys]
    general = beside.get("", [])
    elsewhere = (
        tag("a", "its cables", href=f"/record/cable?service={quote(identity)}", class_="beside")
        if subject.startswith("service ") and "cables" in raw
        else None
    )
    head = tag(
        "th",
        tag("span", identity),
        elsewhere,
        *map(_note, general),
        scope="row",
        class_="id",
        title=str(place),
    )
    out = tag(
        "td",
        tag("button", "take out", type="button", class_="out", aria_label=f"take out {identity}"),
        class_="take-out",
    )
    return tag("tr", head, *cells, out, id=identity, data_subject=subject)


def _cell(key: str, raw: Mapping[str, Any], findings: Sequence[Finding]) -> Markup:
    shown = shown_value(raw[key]) if key in raw else ""
    classes = "has-finding" if findings else None
    return tag(
        "td",
        tag("span", shown, class_="value"),
        *map(_note, findings),
        tabindex=-1,
        data_key=key,
        class_=classes,
    )


def _note(finding: Finding) -> Markup:
    return tag("span", f"{finding.message} {finding.hint}", class_="pencil beside")


def _key_of(reading: Reading, subject: str, raw: Mapping[str, Any], finding: Finding) -> str:
    """The key that a finding points at: the last one that stands before it in the line."""
    where = finding.place
    best, best_at = "", (0, 0)
    for key in raw:
        place = reading.place_of(subject, key)
        at = (place.line, place.column)
        if place.file == where.file and best_at <= at <= (where.line, where.column) and where.column > 1:
            best, best_at = key, at
    return best


def _adding(table: Table, about: str, service: str) -> Markup:
    keys = list(table.needed) + [
        k
        for k in table.keys.values()
        if k.name in ("about", "because", "name", "place", "length") and k.name not in table.obligatory
    ]
    keys = keys[:6]
    fields: list[Child] = []
    if table.ids != "list":
        fields.append(
            tag(
                "label",
                "mark " if table.ids == "mark" else "name of its own ",
                tag("input", name="id", autocomplete="off"),
            )
        )
    if table.word in ("cable", "way"):
        what, of = ("service ", service or None) if table.word == "cable" else ("of item ", None)
        fields.append(tag("label", what, tag("input", name="of", value=of, autocomplete="off")))
    for key in keys:
        value = about if key.name == "about" and about else None
        fields.append(
            tag(
                "label",
                f"{key.name} ",
                tag(
                    "input",
                    name=f"key-{key.name}",
                    value=value,
                    placeholder=key.example.strip('"'),
                    autocomplete="off",
                    required=key.obligatory,
                ),
            )
        )
    form = tag(
        "form",
        *fields,
        tag("button", "Add it", type="submit"),
        tag("p", role="status", class_="pencil"),
        id="add-form",
        data_table=table.word,
    )
    paste = tag(
        "form",
        tag(
            "label",
            "Rows copied from a spreadsheet, headings first (id, and the names of the columns above)",
            tag("textarea", name="text", rows=5),
        ),
        tag("button", "Take them in", type="submit"),
        tag("p", role="status", class_="pencil"),
        id="paste-form",
        data_table=table.word,
    )
    return tag(
        "section",
        tag("h2", "Add a line", id="add"),
        form,
        tag("details", tag("summary", "Paste from a spreadsheet"), paste),
        class_="adding",
    )
