"""A slip in a thing's own name makes every line that names it wrong: say it once, where the slip is.

After all rules: a name that stands for nothing and is used twice or more, beside a thing with nearly that
name that nothing names, is one misnamed thing. Its line is the one to mend.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from loomlore.findings import Finding, Severity, nearest
from loomlore.record.keys import TABLES
from loomlore.record.model import AIRFRAME, Dossier, Thing
from loomlore.record.remarks import Remarks, called, subject_of
from loomlore.sentences import And, Compare, Holds, Is, Not, Or, words_of

__all__ = ["with_misnamed"]

_NAMED = ("item", "control", "condition", "fit", "modification", "place", "earth", "loom", "sheath", "source",
          "service", "scan", "standard", "statement")  # fmt: skip
_FOLLOWING = ("item-unconnected", "way-unused", "service-without-cables")


def with_misnamed(findings: list[Finding], remarks: list[Remarks], dossier: Dossier) -> list[Finding]:
    """Put one finding at a misnamed thing in place of those at all the lines that name it.

    Parameters
    ----------
    findings
        What all rules found.
    remarks
        Where they gathered, with the names that stand for nothing.
    dossier
        The whole record.

    Returns
    -------
    list of Finding
        The same where nothing is misnamed.
    """
    unknown: dict[str, dict[Finding, None]] = {}
    for one in remarks:
        for name, said in one.unknown.items():
            unknown.setdefault(name, {}).update(dict.fromkeys(said))
    if not unknown:
        return findings
    named = frozenset(_names_used(dossier))
    unnamed = {n: thing for n, thing in _things(dossier) if n not in named}
    for name, found in unknown.items():
        near = nearest(name, unnamed, cutoff=0.75)
        if near is not None:
            findings = _with_one(findings, name, list(found), unnamed[near])
    return findings


def _with_one(findings: list[Finding], name: str, found: list[Finding], thing: Thing) -> list[Finding]:
    subject = subject_of(thing)
    gone = {f for f in findings if f.subject == subject and f.rule in _FOLLOWING}
    gone |= {f for f in findings if f.rule == "way-unused" and f"'{thing.id}'" in f.message}
    if len(found) == 1:
        return [f for f in findings if f not in gone]
    message = f"{called(thing)} is named nowhere; {name!r}, which is nothing, is named {len(found)} times."
    hint = f"Call it {name!r}, or mend those names."
    also = tuple(dict.fromkeys(f.place for f in found))
    gone.update(found)
    kept = [f for f in findings if f not in gone]
    return [*kept, Finding("misnamed", Severity.ERROR, thing.where, message, hint, subject, also)]


def _things(dossier: Dossier) -> Iterator[tuple[str, Thing]]:
    for word in _NAMED:
        yield from getattr(dossier, TABLES[word].attribute).items()


_WORD = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")


def _names_used(dossier: Dossier) -> Iterator[str]:
    """Every word of the record that may name something, but not the words under which things are written."""
    for word, table in TABLES.items():
        for thing in getattr(dossier, table.attribute).values():
            for key in table.keys.values():
                if key.name not in ("name", "also", "text", "note", "title", "words", "account", "because"):
                    yield from _words_in(getattr(thing, key.field, None))
            if word == "cable":
                yield thing.service
    yield from _words_in(dossier.header.given)
    yield from (AIRFRAME, dossier.header.standard)


def _words_in(value: object) -> Iterator[str]:
    match value:
        case str():
            yield from _WORD.findall(value)
        case Mapping():
            for key, inner in value.items():
                yield from _WORD.findall(str(key))
                yield from _words_in(inner)
        case tuple() | list():
            for inner in value:
                yield from _words_in(inner)
        case Holds() | Is() | Compare() | Not() | And() | Or():
            for name in words_of(value):
                yield from _WORD.findall(name)
        case None | int() | float():
            return
        case _:
            for slot in ("source", "do", "see", "hold"):
                if hasattr(value, slot):
                    yield from _words_in(getattr(value, slot))
