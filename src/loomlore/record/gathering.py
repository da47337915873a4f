"""Which thing stands where: from the parsed files to one list of entries for each table.

Here ids are given out, things written twice are reported, and lines under the wrong heading are brought home:
a heading that was left out, or a row that slipped into the next table, is one finding, and its rows are read
as what they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

from loomlore.findings import Finding, Place, Severity, nearest
from loomlore.record.keys import (
    HEADER,
    TABLES,
    WORDS,
    described,
    fits_table,
    heading_of,
    key_words,
    table_that_fits,
    tables_that_fit,
)
from loomlore.record.places import Path, Places
from loomlore.record.tolerant import Parsed, TextSlip
from loomlore.record.values import LOST, Slip

__all__ = ["Entries", "Entry", "Made", "Notes", "gathered"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing as it stands in the text: table, id, raw value, file and path.

    ``of`` is a cable's service, or the item of a way or scale.
    """

    word: str
    id: str
    raw: Any
    file: str
    path: Path
    of: str = ""

    @property
    def subject(self) -> str:
        """What findings call it."""
        return f"{self.word} {self.id}" if self.id else self.word


Entries = dict[str, list[Entry]]
"""Every thing found in the files, by the word of its table."""

_WORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")


def _words_in(raw: Any) -> Iterator[str]:
    """Every word of a value; without recursion, since a stranger may nest a thousand deep."""
    waiting = [raw]
    while waiting:
        part = waiting.pop()
        if isinstance(part, str):
            yield from _WORD.findall(part)
        elif isinstance(part, Mapping):
            yield from part
            waiting.extend(part.values())
        elif isinstance(part, list):
            waiting.extend(part)


@dataclass(frozen=True, slots=True)
class Made:
    """A thing of which nothing was to be said, with what it was made of: its entry, and what is usual there."""

    entry: Entry
    usual: Mapping[str, Any] | None
    thing: Any

    def still(self, entry: Entry, usual: Mapping[str, Any] | None) -> bool:
        """Whether an entry would make the same: the very raw value of a file that was not read again."""
        return self.entry.raw is entry.raw and self.entry == entry and self.usual == usual


@dataclass
class Notes:
    """What gathers during one reading: findings, what is broken, and where each thing stands.

    ``kept`` are things of the reading before, ``made`` those of this one that the next may take over.
    """

    places: Places
    findings: list[Finding] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)
    touched: set[str] = field(default_factory=set)
    paths: dict[str, tuple[str, Path]] = field(default_factory=dict)
    kept: Mapping[str, Made] = field(default_factory=dict)
    made: dict[str, Made] = field(default_factory=dict)

    def say(
        self,
        entry: Entry,
        slip: Slip,
        *,
        message: str = "",
        of_key: bool = False,
        also_at: tuple[Place, ...] = (),
    ) -> None:
        """Report a slip in a thing; an error breaks the thing."""
        place = self.places.place(entry.file, entry.path + slip.path, of_key=of_key, into=slip.column)
        words = message or f"{key_words(slip.path)}{entry.subject}: {slip.message}"
        found = Finding(
            slip.rule, slip.severity, place, words, slip.hint, subject=entry.subject, also_at=also_at
        )
        self.findings.append(found)
        if slip.severity is Severity.ERROR:
            self.broken.add(entry.subject)
            self.touch(entry.raw)

    def at(
        self,
        rule: str,
        file: str,
        path: Path,
        message: str,
        hint: str,
        *,
        subject: str = "",
        of_key: bool = True,
    ) -> None:
        """Report something about a heading."""
        place = self.places.place(file, path, of_key=of_key)
        self.findings.append(Finding(rule, Severity.ERROR, place, message, hint, subject=subject))

    def touch(self, raw: Any) -> None:
        """Remember the words of something that is broken."""
        self.touched.update(_words_in(raw))


def gathered(parsed: Mapping[str, Parsed], notes: Notes) -> Entries:
    """Find every thing, each once.

    Parameters
    ----------
    parsed
        The files as parsed, in order.
    notes
        Takes the findings and where each thing stands.

    Returns
    -------
    dict of str to list of Entry
        By the word of the table; ids are given.
    """
    entries: Entries = {}
    for file, one in parsed.items():
        _gather(file, one.raw, entries, notes)
    _bring_home(entries, notes)
    for word, listed in entries.items():
        named = _with_ids(word, listed) if word in TABLES and TABLES[word].ids == "list" else listed
        entries[word] = _once(named, notes)
    _one_name_space(entries, notes)
    for listed in entries.values():
        for entry in listed:
            notes.paths[entry.subject] = (entry.file, entry.path)
    _note_text_slips(parsed, entries, notes)
    return entries


def _add(entries: Entries, entry: Entry) -> None:
    entries.setdefault(entry.word, []).append(entry)


# --- headings ----------------------------------------------------------------------------------------------


def _gather(file: str, raw: Mapping[str, Any], entries: Entries, notes: Notes) -> None:
    loose: dict[str, Any] = {}
    for heading, body in raw.items():
        if heading in WORDS and isinstance(body, Mapping | list):
            _gather_table(Entry(heading, "", body, file, (heading,)), entries, notes)
        elif not isinstance(body, Mapping | list) or _without_heading(file, heading, notes.places):
            loose[heading] = body
        else:
            word = _meant_heading(file, heading, body, notes)
            if word:
                _gather_table(Entry(word, "", body, file, (heading,)), entries, notes)
    if loose:
        _gather_loose(file, loose, entries, notes)


def _without_heading(file: str, key: str, places: Places) -> bool:
    """Whether a key of the file's top stands on a line ``key = …`` and not under a heading."""
    line = places.lines.get(file, {}).get((key,))
    return bool(line) and not places.line_text(file, line or 0).lstrip().startswith("[")


def _gather_loose(file: str, loose: Mapping[str, Any], entries: Entries, notes: Notes) -> None:
    """Lines above the first heading: find out which it was."""
    first = next(iter(loose))
    if any(key in HEADER for key in loose):
        word = "dossier"
    else:
        shapes = [frozenset(v) if isinstance(v, Mapping) else frozenset() for v in loose.values()]
        word = next((w for w in (table_that_fits(shape, but="") for shape in shapes) if w), "")
    many = f"{len(loose)} lines stand" if len(loose) > 1 else f"{first!r} stands"
    hint = (
        f"Write {heading_of(word)} above it."
        if word
        else "Write the heading of its table above it, like [item]."
    )
    notes.at("no-heading", file, (first,), f"{many} under no heading, from {first!r} on.", hint)
    if word == "dossier":
        _add(entries, Entry(word, "", dict(loose), file, ()))
    elif word in TABLES and heading_of(word) == f"[{word}]":
        for id_, raw in loose.items():
            _add(entries, Entry(word, id_, raw, file, (id_,)))
    else:
        notes.touch(loose)


_MEANT = {
    "equipment": "item", "component": "item", "circuit": "service", "ground": "earth", "harness": "loom",
    "location": "place", "position": "place", "document": "source", "option": "fit", "test": "measurement",
    "remark": "statement", "switch": "control", "shape": "outline", "silhouette": "outline",
}  # fmt: skip
_CABLES = ("cable", "cables", "wire", "wires")


def _meant_heading(file: str, heading: str, body: Any, notes: Notes) -> str:
    """What an unknown heading means; "" where nothing can be made of it."""
    if heading in _CABLES:
        hint = "Write [service.ID.cables], with the service's id."
        message = f"[{heading}] is no table: cables stand under their service."
        notes.at("unknown-table", file, (heading,), message, hint)
        notes.touch(body)
        return ""
    if isinstance(body, Mapping) and set(body) == {"cables"}:
        return "service" if _lost_word(file, heading, body, notes) else ""
    word = _MEANT.get(heading) or nearest(heading, WORDS) or _of_its_things(body)
    hint = f"Write [{word}]." if word else "The tables are: " + ", ".join(WORDS) + "."
    notes.at("unknown-table", file, (heading,), f"[{heading}] is no table of a dossier.", hint)
    if not word:
        notes.touch(body)
    return word or ""


def _lost_word(file: str, heading: str, body: Mapping[str, Any], notes: Notes) -> bool:
    """``[horn.cables]`` for ``[service.horn.cables]``."""
    message = f"[{heading}.cables] lacks its first word."
    notes.at("wrong-heading", file, (heading, "cables"), message, f"Write [service.{heading}.cables].")
    notes.broken.add(f"service {heading}")
    notes.touch(body)
    return False


def _of_its_things(body: Any) -> str | None:
    things = body.values() if isinstance(body, Mapping) else ()
    for raw in things:
        word = table_that_fits(frozenset(raw), but="") if isinstance(raw, Mapping) else None
        if word and heading_of(word) == f"[{word}]":
            return word
    return None


# --- tables ------------------------------------------------------------------------------------------------


def _gather_table(whole: Entry, entries: Entries, notes: Notes) -> None:
    word = whole.word
    if word == "dossier":
        _add(entries, whole)
    elif word in ("way", "scale"):
        _gather_below(whole, entries, notes)
    elif word in TABLES and TABLES[word].ids == "list":
        _gather_list(whole, entries, notes)
    else:
        for id_, raw, path in _things(whole, notes):
            entry = Entry(word, id_, raw, whole.file, path)
            if word == "service" and isinstance(raw, Mapping):
                _gather_service(entry, entries, notes)
            else:
                _add(entries, entry)


def _things(whole: Entry, notes: Notes) -> Iterator[tuple[str, Any, Path]]:
    """The things of a table, also where it was written as a list."""
    bodies = whole.raw if isinstance(whole.raw, list) else [whole.raw]
    for index, body in enumerate(bodies):
        path = (*whole.path, index) if isinstance(whole.raw, list) else whole.path
        if not isinstance(body, Mapping):
            hint = f"Write {heading_of(whole.word)} on a line of its own."
            notes.at("wrong-type", whole.file, path, f"{whole.word!r} is a table, not a value.", hint)
            continue
        if isinstance(whole.raw, list):
            hint = f"Write {heading_of(whole.word)}, and each thing below it."
            notes.at("wrong-heading", whole.file, path, f"[[{whole.word}]] has two brackets too many.", hint)
        for id_, raw in body.items():
            yield id_, raw, (*path, id_)


def _is_cable(raw: Any) -> bool:
    return isinstance(raw, Mapping) and ("from" in raw or "to" in raw)


def _gather_service(entry: Entry, entries: Entries, notes: Notes) -> None:
    """A service and its cables; a heading ``[service.ID.cables]`` alone defines no service."""
    cables = entry.raw.get("cables", {})
    rest = {key: value for key, value in entry.raw.items() if key != "cables"}
    strays = {key: value for key, value in rest.items() if _is_cable(value)}
    if strays:
        _say_stray_cables(entry, strays, whole=len(strays) == len(rest), notes=notes)
        rest = {key: value for key, value in rest.items() if key not in strays}
        if entry.id == "cables":
            notes.touch(strays)
            return
        for mark, raw in strays.items():
            _add(entries, Entry("cable", mark, raw, entry.file, (*entry.path, mark), entry.id))
    if rest or not entry.raw:
        _add(entries, replace(entry, raw=rest))
    if not isinstance(cables, Mapping):
        slip = Slip(("cables",), "cables are a table, not a value.", f"Write [service.{entry.id}.cables].")
        notes.say(entry, replace(slip, rule="wrong-type"))
        return
    for mark, raw in cables.items():
        _add(entries, Entry("cable", mark, raw, entry.file, (*entry.path, "cables", mark), entry.id))


def _say_stray_cables(entry: Entry, strays: Mapping[str, Any], *, whole: bool, notes: Notes) -> None:
    first = next(iter(strays))
    if entry.id == "cables":
        message, hint = (
            "[service.cables] does not say which service.",
            "Write [service.ID.cables], with its id.",
        )
    else:
        message = f"Cable {first} stands under [service.{entry.id}]."
        hint = f"Write [service.{entry.id}.cables] above the cables."
    path = entry.path if whole else (*entry.path, first)
    notes.at("wrong-heading", entry.file, path, message, hint, subject=entry.subject)
    notes.broken.add(entry.subject)


def _gather_below(whole: Entry, entries: Entries, notes: Notes) -> None:
    """``[way.ITEM]`` and ``[scale.ITEM]``: things one level further down."""
    word = whole.word
    said = False
    for item, body, path in _things(whole, notes):
        bare = (
            isinstance(body, Mapping)
            and bool(body)
            and word == "way"
            and body.keys() <= TABLES[word].keys.keys()
        )
        if not isinstance(body, Mapping) or bare:
            if not said:
                message = f"{item!r} stands under [{word}] without its item."
                hint = f"Write {heading_of(word)}, with the item's id."
                notes.at("wrong-heading", whole.file, whole.path, message, hint)
            said = True
            notes.touch(body)
            continue
        for id_, raw in body.items():
            _add(entries, Entry(word, f"{item}.{id_}", raw, whole.file, (*path, id_), item))


def _gather_list(whole: Entry, entries: Entries, notes: Notes) -> None:
    """``[[statement]]``: ids of their own (key ``id``), else made later; a table of ids will do too."""
    word, body = whole.word, whole.raw
    if isinstance(body, Mapping) and body and body.keys() & TABLES[word].keys.keys():
        message = f"[{word}] holds one thing without an id."
        notes.at("wrong-heading", whole.file, whole.path, message, f"Write [[{word}]], with two brackets.")
        _add(entries, Entry(word, _own_id(body), body, whole.file, whole.path))
    elif isinstance(body, list):
        for index, raw in enumerate(body):
            _add(entries, Entry(word, _own_id(raw), raw, whole.file, (*whole.path, index)))
    else:
        for id_, raw, path in _things(whole, notes):
            _add(entries, Entry(word, id_, raw, whole.file, path))


def _own_id(raw: Any) -> str:
    id_ = raw.get("id", "") if isinstance(raw, Mapping) else ""
    return "" if id_ == LOST else str(id_)


# --- lines under the wrong heading -------------------------------------------------------------------------


def _bring_home(entries: Entries, notes: Notes) -> None:
    """Find things that plainly belong under another heading, report each run of them once, and move them."""
    moves: list[tuple[Entry, str]] = []
    homeless: list[Entry] = []
    for word in [word for word in TABLES if word in entries]:
        for entry in entries[word]:
            if isinstance(entry.raw, Mapping) and not fits_table(entry.raw, word):
                meant = table_that_fits(frozenset(entry.raw), but=word)
                # A lamp without its kind is not therefore an earth bolt: something must speak for that.
                if meant and (TABLES[meant].obligatory or not entry.raw.keys() <= TABLES[word].keys.keys()):
                    moves.append((entry, meant))
                elif not meant and _has_nothing_of(entry.raw, word):
                    homeless.append(entry)
    moves.extend(_out_of_things(entries))
    for (file, _, meant), group in groupby(
        moves, key=lambda move: (move[0].file, move[0].path[:-1], move[1])
    ):
        run = [entry for entry, _ in group]
        _say_strays(file, run, meant, notes)
        for entry in run:
            _move(entry, meant, entries, notes)
    for entry in homeless:
        _say_homeless(entry, entries, notes)


def _has_nothing_of(raw: Mapping[str, Any], word: str) -> bool:
    """Whether a thing lacks what its table asks for, and has keys that several other tables know."""
    table = TABLES[word]
    lacks = bool(table.obligatory) and not any(key in raw for key in table.obligatory)
    return lacks and not raw.keys() <= table.keys.keys() and bool(tables_that_fit(frozenset(raw), but=word))


def _say_homeless(entry: Entry, entries: Entries, notes: Notes) -> None:
    fitting = tables_that_fit(frozenset(entry.raw), but=entry.word)
    message = f"{entry.id!r} has nothing of {_a(entry.word)}, and stands under {heading_of(entry.word)}."
    hint = f"Move the line where it belongs: {', '.join(map(heading_of, fitting))}."
    notes.say(entry, Slip((), "", hint, rule="wrong-table"), message=message, of_key=True)
    notes.broken.update(f"{word} {entry.id}" for word in fitting)
    notes.touched.add(entry.id)
    _take_out(entry, entries)


def _out_of_things(entries: Entries) -> Iterator[tuple[Entry, str]]:
    """Things that stand among the keys of another, because a heading is gone or a line slipped."""
    for word, listed in entries.items():
        keys = HEADER if word == "dossier" else TABLES[word].keys if word in TABLES else None
        if keys is None or TABLES.get(word) is TABLES["cable"]:
            continue
        for index, entry in enumerate(listed):
            if not isinstance(entry.raw, Mapping) or entry.raw.keys() <= keys.keys():
                continue
            meant = {
                key: table_that_fits(frozenset(value), but="")
                for key, value in entry.raw.items()
                if key not in keys and isinstance(value, Mapping)
            }
            strays = {key: word_meant for key, word_meant in meant.items() if word_meant}
            if strays:
                listed[index] = replace(entry, raw={k: v for k, v in entry.raw.items() if k not in strays})
                for key, word_meant in strays.items():
                    yield (
                        Entry("", key, entry.raw[key], entry.file, (*entry.path, key), entry.subject),
                        word_meant,
                    )


def _say_strays(file: str, run: list[Entry], meant: str, notes: Notes) -> None:
    first = run[0]
    own = str(first.path[-1])
    under = "" if not first.path[:-1] else f" and stands under [{'.'.join(map(str, first.path[:-1]))}]"
    article = "an" if meant[0] in "aeiou" else "a"
    if len(run) == 1:
        message = f"{own!r} has the keys of {article} {meant}{under}."
        hint = f"Move the line under {heading_of(meant)}."
    else:
        them = under.replace("stands", "stand")
        message = f"{len(run)} lines from {own!r} on have the keys of {article} {meant}{them}."
        hint = f"Write {heading_of(meant)} above them, or move them there."
    place = notes.places.place(file, first.path, of_key=True)
    subject = f"{meant} {own}"
    notes.findings.append(Finding("wrong-table", Severity.ERROR, place, message, hint, subject=subject))


def _move(entry: Entry, meant: str, entries: Entries, notes: Notes) -> None:
    own = str(entry.path[-1])
    if entry.word:
        _take_out(entry, entries)
    notes.broken.update((f"{meant} {own}", entry.subject if entry.word else entry.of))
    notes.touch(entry.raw)
    notes.touched.add(own)
    if TABLES[meant].ids in ("id", "list") or meant == "sheath":
        _add(entries, replace(entry, word=meant, id=own, of=""))


def _take_out(entry: Entry, entries: Entries) -> None:
    """Take a thing from its table, by where it stands: it may have lost strays of its own meanwhile."""
    place = (entry.file, entry.path)
    entries[entry.word] = [other for other in entries[entry.word] if (other.file, other.path) != place]


# --- ids ---------------------------------------------------------------------------------------------------


def _with_ids(word: str, listed: list[Entry]) -> list[Entry]:
    """``statement-12`` is the twelfth of the dossier: giving another an id does not change it."""
    taken = {entry.id for entry in listed}
    named = []
    for number, entry in enumerate(listed, 1):
        id_ = entry.id or f"{word}-{number}"
        while not entry.id and id_ in taken:
            id_ += "-b"
        named.append(replace(entry, id=id_) if id_ != entry.id else entry)
    return named


def _once(listed: list[Entry], notes: Notes) -> list[Entry]:
    first: dict[str, Entry] = {}
    for entry in listed:
        key = entry.id.casefold() if entry.word in ("cable", "sheath") else entry.id
        before = first.setdefault(key, entry)
        if before is not entry:
            _say_twice(entry, before, notes)
    return list(first.values())


def _say_twice(entry: Entry, before: Entry, notes: Notes) -> None:
    there = notes.places.place(before.file, before.path, of_key=True)
    if entry.word == "dossier":
        message, hint = "[dossier] stands twice.", f"Keep one; the other is at {there}."
    elif entry.id != before.id:
        message = f"{entry.subject} differs from {before.id}, at {there}, only in capitals."
        hint = "Give one of them another mark; a printed mark goes into 'mark'."
    else:
        message = f"{entry.subject} is written twice, here and at {there}."
        own = "mark" if entry.word in ("cable", "sheath") else "id"
        hint = f"Give this one its own {own}, or take one of the two out."
    notes.say(entry, Slip((), "", hint, rule="written-twice"), message=message, of_key=True, also_at=(there,))


def _one_name_space(entries: Entries, notes: Notes) -> None:
    """Conditions, controls and items share their names: a sentence must know which is meant."""
    first: dict[str, Entry] = {}
    for word in ("condition", "control", "item"):
        for entry in entries.get(word, ()):
            before = first.setdefault(entry.id, entry)
            if before is entry:
                continue
            there = notes.places.place(before.file, before.path, of_key=True)
            message = f"{entry.id!r} names {_a(entry.word)} here and {_a(before.word)} at {there}."
            hint = "Call one of them otherwise; a sentence could not tell them apart."
            notes.say(
                entry, Slip((), "", hint, rule="name-taken"), message=message, of_key=True, also_at=(there,)
            )


def _a(word: str) -> str:
    return f"an {word}" if word[0] in "aeiou" else f"a {word}"


# --- slips of the text itself ------------------------------------------------------------------------------


def _note_text_slips(parsed: Mapping[str, Parsed], entries: Entries, notes: Notes) -> None:
    """Report what TOML refused; the thing it costs counts as broken."""
    if not any(one.slips or one.lost for one in parsed.values()):
        return
    by_path = {(entry.file, entry.path): entry for listed in entries.values() for entry in listed}
    for file, one in parsed.items():
        for slip in one.slips:
            entry = _around(by_path, file, slip.path)
            subject = entry.subject if entry else ""
            also = (Place(file, slip.also),) if slip.also else ()
            place = Place(file, slip.line, slip.column)
            message = _lead(slip, entry) + slip.message
            notes.findings.append(
                Finding(slip.rule, Severity.ERROR, place, message, slip.hint, subject=subject, also_at=also)
            )
            if entry:
                notes.broken.add(subject)
                notes.touch(entry.raw)
        for words in one.lost:
            notes.touch(words)


def _lead(slip: TextSlip, entry: Entry | None) -> str:
    """What a message about a thing begins with."""
    if not slip.within or not slip.path:
        return ""
    if entry is None:
        return f"{described(slip.path)}: " if described(slip.path) else ""
    return f"{key_words(slip.path[len(entry.path) :])}{entry.subject}: "


def _around(by_path: Mapping[tuple[str, Path], Entry], file: str, path: Path) -> Entry | None:
    for length in range(len(path), 0, -1):
        entry = by_path.get((file, path[:length]))
        if entry is not None:
            return entry
    return None
