"""From what TOML gives (texts, numbers, lists) to the record's values, saying of each bad one what to write.

A reader takes the raw value and a list of slips. Where the whole value is no such thing it raises
:class:`~loomlore.findings.UnreadableValue`; where only a part of a list or table is bad it appends a
:class:`Slip` with the path to that part and reads on, so that one bad step costs one step.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from loomlore.findings import Severity, UnreadableValue, nearest
from loomlore.quantities import (
    Date,
    Quantity,
    Rating,
    Size,
    as_bare,
    read_date,
    read_quantity,
    read_rating,
    read_size,
)
from loomlore.record.model import Citation
from loomlore.record.toml import as_quoted, as_toml
from loomlore.sentences import KEYWORDS, Sentence, mixes_and_with_or, read_sentence

__all__ = [
    "ID",
    "LOST",
    "MARK",
    "Reader",
    "Slip",
    "amount_or_words",
    "as_id",
    "choice",
    "citation",
    "citations",
    "count",
    "date",
    "duration",
    "each",
    "file_path",
    "flag",
    "given",
    "is_number",
    "list_of_texts",
    "mapping_of",
    "name",
    "names",
    "part",
    "plain_text",
    "quantity",
    "rating",
    "sentence",
    "size",
    "span_of",
    "terminal",
    "text",
    "texts",
    "wrong_type",
]

ID = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*\Z")
"""What an id looks like."""

MARK = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*\Z")
"""What a cable's or sheath's key looks like."""

LOST = "\ue000"
"""Stands in a mended line for a key or a value that is not there; never shown. (A private character, so that
no text of a dossier is taken for it.)"""

_TERMINAL = re.compile(r"[A-Za-z0-9_-]+(?:\.[^\s.'\"#]+)?\Z")


@dataclass(frozen=True, slots=True)
class Slip:
    """A part of a value that is bad: the path to it within the key, what is wrong, what to write."""

    path: tuple[str | int, ...]
    message: str
    hint: str
    column: int = 0
    rule: str = "unreadable-value"
    severity: Severity = Severity.ERROR


Reader = Callable[[Any, list[Slip]], Any]
"""From a raw value to the record's; raises UnreadableValue, or appends slips."""


def _called(raw: Any) -> str:
    if isinstance(raw, bool):
        return f"{'true' if raw else 'false'} without quotes"
    if isinstance(raw, str):
        return "a text in quotes"
    if isinstance(raw, int | float):
        return f"the bare number {raw}"
    if isinstance(raw, list):
        return "a list in brackets"
    if isinstance(raw, Mapping):
        return "a table in braces"
    return "a date without quotes" if isinstance(raw, dt.date | dt.time) else "something else"


def wrong_type(raw: Any, wanted: str, example: str) -> UnreadableValue:
    """The refusal of a value of the wrong type.

    Parameters
    ----------
    raw
        What stands there.
    wanted
        What should, in words.
    example
        How to write that.

    Returns
    -------
    UnreadableValue
        To be raised.
    """
    return UnreadableValue(f"{_called(raw)} stands where {wanted} belongs.", f"Write {example}.")


def plain_text(raw: Any, example: str = '"…" in quotes') -> str:
    """A text, or the refusal of what is none.

    Parameters
    ----------
    raw
        The raw value.
    example
        What to write, where nothing better can be told.

    Returns
    -------
    str
        As written.
    """
    if isinstance(raw, str):
        return raw
    if isinstance(raw, bool | int | float | dt.date | dt.time):
        raise wrong_type(raw, "a text", f"it in quotes: {as_quoted(as_toml(raw))}")
    if isinstance(raw, list) and len(raw) == 1 and isinstance(raw[0], str):
        raise wrong_type(raw, "one text", f"it without brackets: {as_quoted(raw[0])}")
    raise wrong_type(raw, "a text", example)


def text(raw: Any, slips: list[Slip]) -> str:  # noqa: ARG001 - readers are called alike
    """Any text.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    str
        As written.
    """
    return plain_text(raw)


def name(raw: Any, slips: list[Slip]) -> str:  # noqa: ARG001
    """The id of some other thing, not yet looked up.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    str
        As written.
    """
    word = plain_text(raw)
    if not word.strip():
        raise UnreadableValue("The name is empty.", "Write the id of what is meant, or leave the key out.")
    if word != word.strip():
        raise UnreadableValue(f"{as_quoted(word)} has blanks around it.", f"Write {as_quoted(word.strip())}.")
    return word


def flag(raw: Any, slips: list[Slip]) -> bool:  # noqa: ARG001
    """True or false.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    bool
        As written.
    """
    if isinstance(raw, bool):
        return raw
    meant = {"yes": "true", "true": "true", "1": "true", "no": "false", "false": "false", "0": "false"}
    word = meant.get(str(raw).casefold(), "true or false") if isinstance(raw, str | int) else "true or false"
    raise wrong_type(raw, "true or false", f"{word}, without quotes")


def count(raw: Any, slips: list[Slip]) -> int:  # noqa: ARG001
    """A whole number.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    int
        As written.
    """
    if isinstance(raw, int) and not isinstance(raw, bool):
        return raw
    example = raw.strip() if isinstance(raw, str) and raw.strip().isdigit() else "1"
    raise wrong_type(raw, "a whole number", f"{example}, without quotes")


def choice(*words: str) -> Reader:
    """A reader of one word out of several.

    Parameters
    ----------
    *words
        What may be written.

    Returns
    -------
    Reader
        Gives the word.
    """

    def read(raw: Any, slips: list[Slip]) -> str:  # noqa: ARG001
        word = plain_text(raw)
        if word in words:
            return word
        meant = nearest(word, words)
        listed = ", ".join(as_quoted(w) for w in words)
        hint = f"Write {as_quoted(meant)}." if meant else f"Write one of {listed}."
        raise UnreadableValue(f"{as_quoted(word)} is none of the words that may stand here.", hint)

    return read


def quantity(dimension: str | None, *, bare: str = "", usual: tuple[float, float] | None = None) -> Reader:
    """A reader of an amount.

    Parameters
    ----------
    dimension
        The dimension wanted; None takes any that has a unit.
    bare
        The unit meant by a bare number, where one will do.
    usual
        The ends [1], in the inside unit, beyond which the amount is doubtful.

    Returns
    -------
    Reader
        Gives a Quantity.
    """

    def read(raw: Any, slips: list[Slip]) -> Quantity:
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            if bare:
                raw = f"{as_bare(raw)} {bare}"
            else:
                raise _bare_number(raw, dimension)
        amount = read_quantity(plain_text(raw), dimension)
        if usual is not None and amount.value < 0:
            raise _below_nought(amount)
        if usual is not None and not _is_usual(amount, usual):
            slips.append(_doubtful(amount))
        return amount

    return read


def _bare_number(raw: float, dimension: str | None) -> UnreadableValue:
    try:
        read_quantity(as_bare(raw), dimension)
    except UnreadableValue as slip:
        return slip
    return wrong_type(raw, "an amount in quotes", as_quoted(as_bare(raw)))


def _below_nought(amount: Quantity) -> UnreadableValue:
    right = amount.text.replace("-", "", 1)
    return UnreadableValue(f"{as_quoted(amount.text)} is less than nothing.", f"Write {as_quoted(right)}.")


def _doubtful(amount: Quantity) -> Slip:
    message = f"{as_quoted(amount.text)} is far from anything usual here."
    hint = "Look at the unit and the decimal point; where it is right, say so in a note."
    return Slip((), message, hint, rule="unusual-amount", severity=Severity.WARNING)


def each(raw: Sequence[Any], read: Reader, slips: list[Slip]) -> list[Any]:
    """Read every element of a list; a bad one is a slip and is left out.

    Parameters
    ----------
    raw
        The elements.
    read
        The reader of one.
    slips
        Takes what is wrong.

    Returns
    -------
    list
        What could be read.
    """
    found = []
    for index, element in enumerate(raw):
        value = part(element, read, (index,), slips)
        if value is not None:
            found.append(value)
    return found


def part(raw: Any, read: Reader, path: tuple[str | int, ...], slips: list[Slip]) -> Any:
    """Read a part of a value; None with a slip where it is bad.

    Parameters
    ----------
    raw
        The part.
    read
        Its reader.
    path
        What leads to it.
    slips
        Takes what is wrong.

    Returns
    -------
    value or None
        What the reader gives.
    """
    inner: list[Slip] = []
    if raw == LOST:
        return None
    try:
        value = read(raw, inner)
    except UnreadableValue as slip:
        inner.append(Slip((), slip.message, slip.hint, slip.column))
        value = None
    if inner:
        slips.extend(replace(one, path=path + one.path) for one in inner)
    return value


def list_of_texts(raw: Any, read: Reader, slips: list[Slip]) -> tuple[str, ...]:
    """A list of texts read alike, or one alone; each once.

    Parameters
    ----------
    raw
        The raw value.
    read
        The reader of one.
    slips
        Takes what is wrong, also what stands twice.

    Returns
    -------
    tuple of str
        In the order written.
    """
    if isinstance(raw, str):
        return (read(raw, slips),)
    if not isinstance(raw, list):
        raise wrong_type(raw, "a list of texts", '["…", "…"]')
    found = each(raw, read, slips)
    for index, word in enumerate(raw):
        if isinstance(word, str) and word in raw[:index]:
            hint = "Take one of the two out, or write the one that was meant."
            slips.append(
                Slip((index,), f"{as_quoted(word)} stands twice in the list.", hint, rule="twice-in-list")
            )
    return tuple(dict.fromkeys(found))


def texts(raw: Any, slips: list[Slip]) -> tuple[str, ...]:
    """A list of texts, or one alone.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of str
        As written.
    """
    return list_of_texts(raw, text, slips)


def names(raw: Any, slips: list[Slip]) -> tuple[str, ...]:
    """A list of ids, or one alone; each once.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of str
        As written.
    """
    return list_of_texts(raw, name, slips)


def terminal(raw: Any, slips: list[Slip]) -> str:  # noqa: ARG001
    """A terminal, ``item.terminal``, or ``earth``, or ``earth.bolt``.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    str
        As written; not yet looked up.
    """
    if isinstance(raw, list | Mapping):
        raise wrong_type(raw, "one terminal", '"horn.1"')
    word = plain_text(raw)
    if _TERMINAL.match(word):
        return word
    if not word.strip():
        raise UnreadableValue("The terminal is empty.", 'Write the item and its terminal, like "horn.1".')
    mended = re.sub(r"\s*[\s.,:;/]\s*", ".", word.strip(" .,:;'\"#"))
    hint = 'Write the item, a point, and its terminal, like "horn.1".'
    hyphened = re.sub(r"(?<=[a-z0-9]) +(?=[a-z0-9])", "-", word.strip())
    if hyphened != word and _TERMINAL.match(hyphened) and hyphened.count(".") == 1:
        hint = f"Write {as_quoted(hyphened)}: an id has no blanks."
    elif _TERMINAL.match(mended) and mended.count(".") == 1:
        hint = f"Write {as_quoted(mended)}."
    raise UnreadableValue(f"{as_quoted(word)} is no terminal.", hint)


def sentence(raw: Any, slips: list[Slip]) -> Sentence:
    """A sentence that says when something holds.

    Parameters
    ----------
    raw, slips
        As for every reader; ``and`` beside ``or`` without brackets is a slip of severity warning.

    Returns
    -------
    Sentence
        Its tree.
    """
    if isinstance(raw, bool):
        raise wrong_type(raw, "a sentence in quotes", "when it holds, or leave the key out: always")
    plain = plain_text(raw)
    tree = read_sentence(plain)
    if mixes_and_with_or(tree):
        hint = f"Say which belong together: {as_quoted(str(tree))}, if that is meant."
        message = "'and' stands beside 'or' without brackets."
        slips.append(Slip((), message, hint, rule="and-beside-or", severity=Severity.WARNING))
    return tree


def given(raw: Any, slips: list[Slip]) -> Sentence | None:
    """A sentence of presumptions; empty quotes stand for none.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    Sentence or None
        None for ``""``.
    """
    return None if raw == "" else sentence(raw, slips)


def citation(raw: Any, slips: list[Slip]) -> Citation:  # noqa: ARG001
    """A source and where in it: ``handbook 6.8``.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    Citation
        The source is not yet looked up.
    """
    plain = plain_text(raw, '"handbook 6.8"')
    source, _, locator = plain.strip().partition(" ")
    if ID.match(source):
        return Citation(source, locator.strip())
    shorter = re.match(r"([a-z][a-z0-9-]*[a-z0-9])[\s.,:;/§]+(.+)", plain.strip())
    hint = 'Write the source\'s id, a blank, and where in it, like "handbook 6.8".'
    if shorter:
        hint = f"Write {as_quoted(f'{shorter[1]} {shorter[2]}')}."
    elif source and ID.match(as_id(source)):
        hint = f"Write {as_quoted(f'{as_id(source)} {locator}'.strip())}."
    raise UnreadableValue(f"{as_quoted(plain)} is no citation.", hint)


def citations(raw: Any, slips: list[Slip]) -> tuple[Citation, ...]:
    """A list of citations, or one alone.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of Citation
        In the order written.
    """
    if isinstance(raw, str):
        return (citation(raw, slips),)
    if not isinstance(raw, list):
        raise wrong_type(raw, "a list of citations", '["handbook 6.8"]')
    found = each(raw, citation, slips)
    for index, word in enumerate(raw):
        if isinstance(word, str) and word in raw[:index]:
            hint = "Take one of the two out, or write the one that was meant."
            slips.append(
                Slip((index,), f"{as_quoted(word)} stands twice in the list.", hint, rule="twice-in-list")
            )
    return tuple(dict.fromkeys(found))


def date(raw: Any, slips: list[Slip]) -> Date:  # noqa: ARG001
    """A date or a span of dates, in quotes.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    Date
        With its ends.
    """
    return read_date(plain_text(raw, '"1937-05-11"'))


def duration(raw: Any, slips: list[Slip]) -> float:  # noqa: ARG001
    """A time, in seconds.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    float
        [s]
    """
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raise _bare_number(raw, "time")
    return read_quantity(plain_text(raw), "time").value


def rating(raw: Any, slips: list[Slip]) -> Rating:
    """A rating as stamped.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    dict of str to Quantity
        By dimension.
    """
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raise UnreadableValue(
            f"{as_bare(raw)} has no unit.", f'Write it as stamped, like "{as_bare(raw)} V 6 W".'
        )
    parts = read_rating(plain_text(raw))
    strange = next((part for kind, part in parts.items() if kind not in _STAMPED), None)
    if strange is not None:
        hint = "Write what is stamped: volts and watts, amperes, ohms or Ah, like '24 V 6 W'."
        raise UnreadableValue(f"{strange.text!r} is nothing that a rating has.", hint)
    if len(parts) > 1 and not {"voltage", "current"} & parts.keys():
        hint = "Write its volts or amperes too, like '24 V 6 W'."
        raise UnreadableValue(f"{as_quoted(plain_text(raw))} has neither volts nor amperes.", hint)
    below = next((part for part in parts.values() if part.value < 0), None)
    if below is not None:
        raise _below_nought(below)
    slips.extend(_doubtful(part) for kind, part in parts.items() if not _is_usual(part, _STAMPED[kind]))
    return parts


def _is_usual(amount: Quantity, ends: tuple[float, float]) -> bool:
    return amount.value == 0 or ends[0] <= amount.value <= ends[1]


# What may be stamped, and between which ends nobody wonders [SI]: common sense, no source.
_STAMPED: Mapping[str, tuple[float, float]] = {
    "voltage": (0.02, 3e3), "current": (1e-5, 2e3), "power": (1e-2, 5e4), "resistance": (1e-4, 1e7),
    "charge": (36.0, 1e7), "light": (0.1, 1e5), "rotation": (1.0, 1e5), "capacitance": (1e-9, 0.1),
}  # fmt: skip


def size(raw: Any, slips: list[Slip]) -> Size | str:  # noqa: ARG001
    """A conductor's size, or the name of a cable of the catalogue.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    Size or str
        A text where it is an id that the catalogue must know.
    """
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raise UnreadableValue(
            f"{as_bare(raw)} has no unit.", f'Write "{as_bare(raw)} mm2", or what the source has.'
        )
    plain = plain_text(raw)
    try:
        return read_size(plain)
    except UnreadableValue:
        if ID.match(plain):
            return plain
        raise


def is_number(raw: Any) -> bool:
    """Whether a raw value is a plain finite number.

    Parameters
    ----------
    raw
        Any raw value.

    Returns
    -------
    bool
        False for true and false.
    """
    return isinstance(raw, int | float) and not isinstance(raw, bool) and math.isfinite(raw)


def span_of(raw: Any, slips: list[Slip]) -> tuple[Quantity, Quantity]:  # noqa: ARG001
    """The two ends of a range.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of Quantity
        The lower end first, of one dimension ("" for a fraction).
    """
    if isinstance(raw, str) and " to " in raw:
        low_text, _, high_text = raw.partition(" to ")
        unit = high_text.strip().partition(" ")[2]
        both = [low_text if " " in low_text.strip() or not unit else f"{low_text.strip()} {unit}", high_text]
        raise UnreadableValue(
            "A range is a list of its two ends.", f"Write {as_toml([b.strip() for b in both])}."
        )
    if not isinstance(raw, list) or len(raw) != 2:
        raise wrong_type(raw, "the two ends of a range", '[0, 1] or ["0 kt", "200 kt"]')
    low, high = (read_quantity(as_bare(end) if is_number(end) else plain_text(end), bare=True) for end in raw)
    if low.dimension != high.dimension:
        raise UnreadableValue(
            f"The two ends have different units, {low.text} and {high.text}.",
            'Write both with one unit, like ["0 kt", "200 kt"].',
        )
    if low.value >= high.value:
        raise UnreadableValue("The range does not rise.", f"Write the lower end first: {as_toml(raw[::-1])}.")
    return low, high


def amount_or_words(raw: Any, slips: list[Slip]) -> str | float:
    """A position or an amount as it is written: texts stay texts, numbers numbers.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    str or float
        As written.
    """
    if is_number(raw):
        return raw  # type: ignore[no-any-return]
    if isinstance(raw, bool | float):
        raise wrong_type(raw, "a position", 'its name in quotes, like "on"')
    return name(raw, slips)


def mapping_of(read: Reader) -> Reader:
    """A reader of a table in braces whose values are all read alike.

    Parameters
    ----------
    read
        The reader of one value.

    Returns
    -------
    Reader
        Gives a dict; a bad value is a slip and is left out.
    """

    def read_all(raw: Any, slips: list[Slip]) -> dict[str, Any]:
        if not isinstance(raw, Mapping):
            inner = raw if isinstance(raw, str) and '"' not in raw else "…"
            raise wrong_type(raw, "a table in braces", f'{{ NAME = "{inner}" }}; NAME is what it is for')
        read_values = {key: part(value, read, (key,), slips) for key, value in raw.items() if key != LOST}
        return {key: value for key, value in read_values.items() if value is not None}

    return read_all


def file_path(raw: Any, slips: list[Slip]) -> str:  # noqa: ARG001
    """A file beside the record, by its path within the dossier's folder.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    str
        With "/" between the parts; nothing outside the folder is ever opened.
    """
    path = plain_text(raw)
    parts = re.split(r"[/\\]", path)
    outside = not path.strip() or "\\" in path or ":" in path or "\0" in path or parts[0] in ("", "~")
    if outside or ".." in parts:
        message = f"{as_quoted(path)} is no path within the dossier's folder."
        raise UnreadableValue(
            message, 'Put the file beneath the folder and write its path there, like "scans/sheet-2.png".'
        )
    return path


def as_id(words: str) -> str:
    """The nearest thing to an id that some words make.

    Parameters
    ----------
    words
        Any text.

    Returns
    -------
    str
        An id, or "" where nothing is left.

    Examples
    --------
    >>> as_id("Port Lamp No. 2")
    'port-lamp-no-2'
    """
    slug = re.sub(r"[^a-z0-9]+", "-", words.casefold()).strip("-")
    slug = re.sub(r"^[0-9-]+", "", slug)
    return f"{slug}-1" if slug in KEYWORDS else slug
