"""Slips of the pen that leave a record well formed: a word written twice, a mark unlike its neighbours."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

from loomlore.record.keys import TABLES
from loomlore.record.model import Thing
from loomlore.record.remarks import called
from loomlore.record.rules.context import Context

__all__ = ["check_marks", "check_words"]

_TWICE = re.compile(r"(?<![\w-])([^\W\d_]{2,})\s+\1(?![\w-])")
_LEGITIMATE = frozenset({"that", "had", "is"})
_OURS = ("text", "note", "title", "account", "because", "dissent", "name")
"""Keys in our own words; a statement's ``words`` are the source's, and stay as they are."""


def check_words(context: Context) -> None:
    """Note words that stand twice running in the record's own texts.

    Parameters
    ----------
    context
        The first standard of fit; the whole record is judged.
    """
    for table in TABLES.values():
        keys = [key for key in _OURS if key in table.keys]
        things: Mapping[str, Thing] = getattr(context.whole, table.attribute)
        for thing in things.values():
            for key in keys:
                text: str = getattr(thing, key)
                found = _TWICE.search(text) if text else None
                if found and found[1].casefold() not in _LEGITIMATE:
                    message = f"{called(thing)}: {found[1]!r} stands twice in its {key}."
                    context.remarks.note("word-twice", thing, message, "Take one out.", key=key)


def check_marks(context: Context) -> None:
    """Note a cable whose mark begins unlike all others of its service.

    Parameters
    ----------
    context
        The first standard of fit; the whole record is judged.
    """
    by_service: dict[str, list[str]] = {}
    for cable in context.whole.cables.values():
        by_service.setdefault(cable.service, []).append(cable.id)
    for marks in by_service.values():
        letters = Counter(_letters(mark) for mark in marks)
        usual, count = letters.most_common(1)[0]
        if len(marks) < _ENOUGH or count != len(marks) - 1:
            continue
        odd = next(mark for mark in marks if _letters(mark) != usual)
        cable = context.whole.cables[odd]
        if cable.mark or cable.note:
            continue
        message = f"Cable {odd!r} is marked unlike the others of service {cable.service!r}, all {usual!r}."
        hint = "Mend it if a letter slipped; a mark that does differ may say so in the `note`."
        context.remarks.note("odd-mark", cable, message, hint)


_ENOUGH = 4
"""Fewer marks than this make no custom."""


def _letters(mark: str) -> str:
    match = re.match(r"[A-Za-z]*", mark)
    return match[0] if match else ""
