"""From the texts of a folder to a dossier, and everything that is wrong with the text.

The text is read in one go, however much is wrong. Three rules keep one slip to one finding:

* a bad value costs its key, a bad key its line, a bad line its thing, and never more;
* where it is plain what was meant (a key one letter out, a heading in the plural) it is reported, and read
  as meant;
* ``Reading.broken`` names the things that a reported slip has cost something, ``Reading.touched`` the things
  that a broken line speaks of: later rules keep silent about the first, and about what only seems to be
  missing at the second.

Subjects are written ``item horn``, ``cable H1``, ``way fuse-box-a.3``, ``scale gauge.flight``,
``statement statement-12``, ``dossier``: the word of the heading, then the id.
"""

from __future__ import annotations

import gc
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path as FolderPath
from typing import Any

from loomlore.findings import Finding, Place, Severity, UnreadableValue, in_order, nearest
from loomlore.record import model, values
from loomlore.record.completing import FINISH, default_name, scale, settle_amounts
from loomlore.record.folder import texts_below
from loomlore.record.gathering import Entries, Entry, Made, Notes, gathered
from loomlore.record.keys import HEADER, TABLES, USUAL, Table, read_keys
from loomlore.record.places import Path, Places
from loomlore.record.tolerant import Effort, Parsed, read_text
from loomlore.record.toml import as_toml
from loomlore.record.values import LOST, Slip
from loomlore.sentences import KEYWORDS

__all__ = ["Reading", "altered", "read_dossier", "read_texts"]

DEEPEST = 16


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A dossier as read, what is wrong with its text, and the text itself.

    ``texts`` are the files by path relative to the folder, ``raw`` what TOML made of each (``parsed``: with
    the lines, and ``made``: the things, for the next reading to take over where a file has not changed).
    ``broken`` are the subjects of things that a slip has cost something; ``touched`` the words that broken
    lines speak of.
    """

    dossier: model.Dossier
    findings: tuple[Finding, ...] = ()
    texts: Mapping[str, str] = field(default_factory=dict)
    raw: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    broken: frozenset[str] = frozenset()
    touched: frozenset[str] = frozenset()
    places: Places = field(default_factory=Places)
    paths: Mapping[str, tuple[str, Path]] = field(default_factory=dict)
    parsed: Mapping[str, Parsed] = field(default_factory=dict, repr=False)
    made: Mapping[str, Made] = field(default_factory=dict, repr=False)

    def place_of(self, subject: str, key: str | None = None, *, into: int = 0) -> Place:
        """Where a thing, or the value of one of its keys, stands.

        Parameters
        ----------
        subject
            For instance ``item horn``.
        key
            A key of it; parts of its value behind points, ``steps.2.see`` (counted from 0).
        into
            Column within a quoted value, from 1: where a sentence goes wrong.

        Returns
        -------
        Place
            Of the nearest thing around it where it is not there; an empty Place for an unknown subject.
        """
        found = self.paths.get(subject)
        if found is None:
            return Place()
        file, path = found
        if key is None:
            return Place(file, self.places.line(file, path), 1)
        parts = tuple(int(part) if part.isdigit() and at else part for at, part in enumerate(key.split(".")))
        return self.places.place(file, path + parts, into=into)


def read_dossier(folder: FolderPath, *, before: Reading | None = None) -> Reading:
    """Read the record of one installation from its folder.

    Parameters
    ----------
    folder
        The dossier's folder; every ``*.toml`` below it is read.
    before
        An earlier reading: files that hold what they held then are not taken apart again.

    Returns
    -------
    Reading
        The dossier and the findings about its text.

    Raises
    ------
    UnknownName
        Where there is no such folder.
    """
    texts, findings = texts_below(folder)
    return read_texts(texts, findings=findings, before=before)


def read_texts(
    texts: Mapping[str, str], *, findings: Iterable[Finding] = (), before: Reading | None = None
) -> Reading:
    """Read a record from texts that are already at hand.

    Parameters
    ----------
    texts
        By path relative to the dossier's folder.
    findings
        What is known to be wrong already.
    before
        An earlier reading, whose files are taken over where their text is the same.

    Returns
    -------
    Reading
        The dossier and the findings about its text.
    """
    effort = Effort()
    with _uncollected():
        kept = _unchanged(texts, before)
        parsed = {file: kept.get(file) or read_text(text, effort) for file, text in texts.items()}
        places = Places(texts, {file: one.lines for file, one in parsed.items()})
        made = {} if before is None else before.made
        notes = Notes(places, [*findings, *_commas_before_brackets(texts)], kept=made)
        entries = gathered(parsed, notes)
        dossier = _dossier(entries, notes)
    return Reading(
        dossier=dossier,
        findings=in_order(notes.findings),
        texts=texts,
        raw={file: one.raw for file, one in parsed.items()},
        broken=frozenset(notes.broken),
        touched=frozenset(notes.touched),
        places=places,
        paths=notes.paths,
        parsed=parsed,
        made=notes.made,
    )


def _unchanged(texts: Mapping[str, str], before: Reading | None) -> dict[str, Parsed]:
    """Files of an earlier reading whose text is the same.

    One that had to be mended is read again: what may be spent on mending is counted over all files.
    """
    if before is None:
        return {}
    return {
        file: one
        for file, one in before.parsed.items()
        if before.texts[file] == texts.get(file) and not one.slips and not one.lost
    }


_COMMA_BEFORE_BRACKET = re.compile(r",[ \t]*\]")
_STRING_OR_REMARK = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#.*')


def _commas_before_brackets(texts: Mapping[str, str]) -> Iterator[Finding]:
    """``["a", ]`` on one line: TOML takes it, and it is what a lost element leaves behind."""
    for file, text in texts.items():
        for found in _COMMA_BEFORE_BRACKET.finditer(text):
            start = text.rfind("\n", 0, found.start()) + 1
            end = text.find("\n", found.start())
            line = text[start : end if end >= 0 else len(text)]
            bare = _STRING_OR_REMARK.sub(lambda m: "_" * len(m.group()), line)
            if bare[found.start() - start] == ",":
                place = Place(file, text.count("\n", 0, start) + 1, found.start() - start + 1)
                message, hint = (
                    "A comma stands before ']'.",
                    "Write what is missing there, or take the comma out.",
                )
                yield Finding("lost-element", Severity.WARNING, place, message, hint)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Put the collector of cycles off: reading makes a million small things and no cycle; saves a fifth."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


# --- the tables --------------------------------------------------------------------------------------------


def _dossier(entries: Entries, notes: Notes) -> model.Dossier:
    header = _header(entries.get("dossier", []), notes)
    tables: dict[str, dict[str, Any]] = {table.attribute: {} for table in TABLES.values()}
    for word, table in TABLES.items():
        if word != "cable":
            things = ((entry.id, _thing(entry, table, notes)) for entry in entries.get(word, ()))
            tables[table.attribute] = {id_: thing for id_, thing in things if thing is not None}
    _read_cables(entries, tables, notes)
    scales = ((entry.id, scale(entry, notes, _where(entry, notes))) for entry in entries.get("scale", ()))
    tables["scales"] = {id_: thing for id_, thing in scales if thing is not None}
    settle_amounts(tables, notes)
    return model.Dossier(header=header, kinds=dict(_kinds(entries, notes)), **tables)


def _read_cables(entries: Entries, tables: dict[str, dict[str, Any]], notes: Notes) -> None:
    usual = {id_: _usual(service, notes) for id_, service in tables["services"].items()}
    for entry in entries.get("cable", ()):
        cable = _thing(entry, TABLES["cable"], notes, usual.get(entry.of))
        if cable is not None:
            tables["cables"][entry.id] = cable
    _report_absent_services(entries, notes)


def _header(found: list[Entry], notes: Notes) -> model.Header:
    if not found:
        files = sorted(notes.places.texts)
        hint = 'Write [dossier], and below it format = 1, title = "…" and supply = "24 V".'
        message = "The dossier has no [dossier]." if files else "The folder holds no text of a dossier."
        place = Place(files[0], 1) if files else Place("dossier.toml")
        notes.findings.append(Finding("no-header", Severity.ERROR, place, message, hint, subject="dossier"))
        notes.broken.add("dossier")
        return model.Header()
    entry = found[0]
    if not isinstance(entry.raw, Mapping):
        hint = "Write [dossier] on a line of its own."
        notes.say(entry, Slip((), "it is a table, not a value.", hint, rule="wrong-type"))
        return model.Header()
    fields, slips = read_keys(entry.raw, HEADER, needed=(HEADER["format"], HEADER["title"]))
    if fields.get("format", 1) != 1:
        message = f"the dossier is of format {fields['format']}; this program reads format 1."
        slips.append(Slip(("format",), message, "Take a newer program, or see what the format page says."))
    for slip in slips:
        notes.say(entry, slip, of_key=slip.rule == "unknown-key")
    present = {key: value for key, value in fields.items() if value is not None}
    return model.Header(**present, where=_where(entry, notes))


def _where(entry: Entry, notes: Notes) -> Place:
    return Place(entry.file, notes.places.line(entry.file, entry.path), 0)


def _in_braces(entry: Entry, table: Table) -> str:
    """What to write for a thing that stands there as something else."""
    if table.ids == "way" and isinstance(entry.raw, str) and '"' not in entry.raw:
        inner = "spare = true" if entry.raw.strip().casefold() == "spare" else f'fuse = "{entry.raw}"'
        return f"{entry.path[-1]} = {{ {inner} }}"
    return f"for instance {table.line}"


def _thing(entry: Entry, table: Table, notes: Notes, usual: Mapping[str, Any] | None = None) -> Any:
    """One thing as its model, taken over where nothing about it has changed; None where its line holds none."""
    kept = notes.kept.get(entry.subject)
    if kept is None or not kept.still(entry, usual):
        said = len(notes.findings)
        kept = Made(entry, usual, _read_thing(entry, table, notes, usual))
        if len(notes.findings) > said:
            return kept.thing
    notes.made[entry.subject] = kept
    return kept.thing


def _read_thing(entry: Entry, table: Table, notes: Notes, usual: Mapping[str, Any] | None) -> Any:
    raw = entry.raw
    if not isinstance(raw, Mapping):
        if raw != LOST:
            message = f"{entry.subject} is a thing: it stands in braces."
            hint = f"Write {_in_braces(entry, table)}"
            notes.say(entry, Slip((), "", hint, rule="wrong-type"), message=message)
        return None
    if table.ids == "list" and "id" in raw:
        raw = {key: value for key, value in raw.items() if key != "id"}
    _check_id(entry, table, notes)
    fields, slips = read_keys(raw, table.keys, needed=table.needed, is_open=table.open)
    if entry.word == "cable":
        fields["service"] = entry.of
        if usual:
            _fill_in(fields, usual)
    elif entry.word in FINISH:
        FINISH[entry.word](entry, raw, fields, slips)
    for slip in slips:
        notes.say(entry, slip, of_key=slip.rule == "unknown-key")
    fields.setdefault("name", default_name(entry.word, entry.id, mark=fields.get("mark") or ""))
    if "standing" not in fields:
        cited = fields.get("sources") or (entry.word == "statement" and fields.get("source"))
        fields["standing"] = "attested" if cited else "unsupported"
    where = _where(entry, notes)
    if fields.get("steps"):
        steps_at = Place(entry.file, notes.places.line(entry.file, (*entry.path, "steps")))
        fields["steps"] = tuple(replace(step, where=steps_at) for step in fields["steps"])
    return table.made(id=entry.id, where=where, **{k: v for k, v in fields.items() if v is not None})


def _check_id(entry: Entry, table: Table, notes: Notes) -> None:
    """Ids that a sentence could not hold, or that are no ids."""
    id_ = entry.id
    if table.ids == "way":
        number = id_.rpartition(".")[2]
        if not number or re.search(r"[\s.'\"#]", number):
            hint = "Write the way as the box has it, without blanks, points, quotes or '#'."
            _say_bad_id(entry, f"{number!r} can be no way.", hint, notes)
    elif table.ids == "mark":
        if not values.MARK.match(id_):
            better = re.sub(r"[^A-Za-z0-9]+", "-", id_).strip("-")
            hint = (
                f"Call it {better} and write mark = {as_toml(id_)}." if better else "Give it a mark, like H1."
            )
            _say_bad_id(entry, f"{id_!r} can be no key of a {entry.word}.", hint, notes)
    else:
        _check_plain_id(entry, notes)


def _check_plain_id(entry: Entry, notes: Notes) -> None:
    if entry.id in KEYWORDS:
        hint = f"Call it otherwise, for instance {entry.id}-1."
        _say_bad_id(entry, f"{entry.id!r} is a word of the sentence language.", hint, notes)
    elif not values.ID.match(entry.id):
        better = values.as_id(entry.id)
        hint = "Write small letters and figures, with hyphens between words."
        if better:
            hint = f"Write {better}; its printed name goes into 'name'."
        _say_bad_id(entry, f"{entry.id!r} is no id.", hint, notes)


def _say_bad_id(entry: Entry, message: str, hint: str, notes: Notes) -> None:
    notes.say(entry, Slip((), message, hint, rule="bad-id"), of_key=True)


# --- cables and their services -----------------------------------------------------------------------------


def _usual(service: model.Service, notes: Notes) -> dict[str, Any]:
    """What a service gives its cables, read."""
    entry = Entry("service", service.id, service.usual, *notes.paths[f"service {service.id}"])
    ready: dict[str, Any] = {}
    for key, value in service.usual.items():
        if key not in USUAL:
            meant = nearest(key, USUAL)
            hint = f"Write {meant!r}." if meant else "It gives size, cover and colour."
            slip = Slip(
                ("usual", key), f"{key!r} is nothing that cables have in common.", hint, rule="unknown-key"
            )
            notes.say(entry, slip, of_key=True)
            continue
        try:
            ready[key] = values.size(value, []) if key == "size" else value
        except UnreadableValue as refused:
            notes.say(entry, Slip(("usual", key), refused.message, refused.hint))
    return ready


def _fill_in(fields: dict[str, Any], usual: Mapping[str, Any]) -> None:
    """A core is as its sheath is, and what is not solved has no usual size."""
    if not fields.get("core") and not fields.get("type"):
        for key, value in usual.items():
            fields.setdefault(key, value)


def _report_absent_services(entries: Entries, notes: Notes) -> None:
    """Cables whose service is written nowhere: once for each service."""
    known = {entry.id for entry in entries.get("service", ())}
    said: set[str] = set()
    for entry in entries.get("cable", ()):
        service = entry.of
        if service in known or service in said or f"service {service}" in notes.broken:
            continue
        said.add(service)
        meant = nearest(service, known)
        hint = f"Write [service.{service}] with its title and feed."
        if meant:
            hint = f"Write [service.{meant}.cables], or [service.{service}] with its title and feed."
        message = f"The cables of service {service!r} stand here, and the service is written nowhere."
        place = notes.places.place(entry.file, entry.path[:-1], of_key=True)
        subject = f"service {service}"
        notes.findings.append(
            Finding("unknown-service", Severity.ERROR, place, message, hint, subject=subject)
        )
        notes.broken.add(subject)


# --- kinds -------------------------------------------------------------------------------------------------


def _kinds(entries: Entries, notes: Notes) -> Iterator[tuple[str, tuple[Mapping[str, Any], Place]]]:
    """Kinds as they are written; :mod:`loomlore.record.kinds` reads them."""
    for entry in entries.get("kind", ()):
        if not isinstance(entry.raw, Mapping):
            if entry.raw != LOST:
                hint = f"Write [kind.{entry.id}] on a line of its own, and its keys below."
                notes.say(entry, Slip((), "it is a table, not a value.", hint, rule="wrong-type"))
            continue
        _check_plain_id(entry, notes)
        if _depth(entry.raw) > DEEPEST:
            hint = f"Keep it to {DEEPEST} levels."
            notes.say(entry, Slip((), "it is nested too deep.", hint, rule="too-deep"))
            continue
        yield entry.id, (entry.raw, _where(entry, notes))


def _depth(raw: Any) -> int:
    """How deep tables and lists are nested, without recursion: a stranger may nest a thousand."""
    deepest, waiting = 0, [(raw, 1)]
    while waiting:
        value, level = waiting.pop()
        deepest = max(deepest, level)
        inner = value.values() if isinstance(value, Mapping) else value if isinstance(value, list) else ()
        waiting.extend((part, level + 1) for part in inner)
    return deepest


def altered(thing: Any, change: Mapping[str, Any]) -> tuple[Any, tuple[Slip, ...]]:
    """An item or cable with some keys replaced, as a fit or modification writes them.

    Parameters
    ----------
    thing
        An Item or a Cable.
    change
        Keys and raw values, as in ``Fit.change``.

    Returns
    -------
    tuple of (Item or Cable, tuple of Slip)
        The thing as changed, and what could not be read; the path of a slip begins with its key.
    """
    table = TABLES["cable" if isinstance(thing, model.Cable) else "item"]
    fields, slips = read_keys(change, table.keys, is_open=table.open)
    if isinstance(thing, model.Item):
        FINISH["item"](Entry("item", thing.id, change, "", ()), change, fields, slips)
        fields["own"] = {**thing.own, **fields["own"]}
    return replace(thing, **{key: value for key, value in fields.items() if value is not None}), tuple(slips)
