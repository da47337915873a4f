"""What property statements speak of: ``THING.KEY``, what each source gives, and what the record has."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, fields
from itertools import combinations
from typing import Any

from loomlore.findings import UnreadableValue
from loomlore.quantities import Quantity, Size, read_quantity, read_size
from loomlore.record.fitting import fits_of, fitted, is_fitted, permitted_combinations
from loomlore.record.keys import TABLES
from loomlore.record.model import Dossier, Item, Statement, Thing
from loomlore.record.parts import Kind
from loomlore.record.remarks import Remarks, called, meant

__all__ = ["Matter", "Recorded", "agree", "comparable", "matters_of", "spoken_of"]

SPOKEN_OF = (
    "item", "cable", "way", "service", "control", "condition", "place", "earth", "loom", "sheath", "fit",
    "modification", "source",
)  # fmt: skip
"""Tables whose things a statement may be about, in the order in which an id is looked for."""

_DIGITS = 9
"""Significant digits in which two amounts are compared: far finer than any source, coarser than rounding."""


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """The record's own value of a matter: comparable, and as it is written; ``things`` it stands in."""

    value: Hashable
    text: str
    things: tuple[Thing, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Matter:
    """One property and all that is said of it, in order of the text.

    ``fit`` is the standard of fit that the statements speak of ("" for all); ``values`` are comparable, by
    statement; ``comparable`` says whether the record has such a key at all.
    """

    about: str
    fit: str
    statements: tuple[Statement, ...]
    values: Mapping[str, Hashable]
    recorded: Recorded | None
    comparable: bool

    @property
    def key(self) -> tuple[str, str]:
        """What tells matters apart."""
        return self.about, self.fit

    @property
    def key_name(self) -> str:
        """The key of the thing, such as ``rating``."""
        return self.about.rpartition(".")[2]

    def agree(self, one: Statement, other: Statement) -> bool:
        """Whether two of its statements give values that may both be true."""
        return agree(self.values[one.id], self.values[other.id])

    @property
    def unanimous(self) -> bool:
        """Whether no two of its statements differ."""
        return all(self.agree(a, b) for a, b in combinations(self.statements, 2))


def matters_of(
    dossier: Dossier, kinds: Mapping[str, Kind], remarks: Remarks
) -> dict[tuple[str, str], Matter]:
    """Group the property statements by what they speak of.

    Parameters
    ----------
    dossier
        The whole record.
    kinds
        All kinds, for values that an item leaves to its kind.
    remarks
        Takes findings about names and values that cannot be placed.

    Returns
    -------
    dict of tuple of str to Matter
        By name and standard of fit. A statement about nothing known, or whose value cannot be read, is left
        out with a finding.
    """
    groups: dict[tuple[str, str], list[Statement]] = {}
    for statement in dossier.statements.values():
        if statement.says and not statement.about:
            message = f"{called(statement)} says {statement.says!r}, and not of what."
            hint = "Write about = THING.KEY, such as 'fuse-box.ways' or 'H1.size'."
            remarks.say("missing-key", statement, message, hint, key="about")
        elif statement.about:
            groups.setdefault((statement.about, str(statement.fit or "")), []).append(statement)
    matters: dict[tuple[str, str], Matter] = {}
    for key, statements in groups.items():
        matter = _matter(dossier, kinds, statements, remarks)
        if matter is not None:
            matters[key] = matter
    return matters


def _matter(
    dossier: Dossier, kinds: Mapping[str, Kind], statements: list[Statement], remarks: Remarks
) -> Matter | None:
    first = statements[0]
    present = _in_fit(dossier, first)
    about = _Property(present, kinds, first.about)
    if not about.things:
        if first.fit is None or not _Property(dossier, kinds, first.about).things:
            _say_unknown(dossier, statements, remarks)
        return None
    if about.key and not about.known:
        _say_unknown_key(about, first, remarks)
    recorded = about.recorded()
    said = {s.id: _value_said(about, s, remarks) for s in statements}
    values = {name: value for name, value in said.items() if value is not None}
    if not values:
        return None
    if about.key == "rating":
        values = _completed(values, recorded)
    return Matter(
        about=first.about,
        fit=str(first.fit or ""),
        statements=tuple(s for s in statements if s.id in values),
        values=values,
        recorded=recorded,
        comparable=about.known,
    )


def _completed(values: Mapping[str, Hashable], recorded: Recorded | None) -> dict[str, Hashable]:
    """A rating of which a source gives a part counts as the one whole rating that it is a part of."""
    every = [recorded.value] if recorded else []
    whole = dict.fromkeys(v for v in (*every, *values.values()) if isinstance(v, tuple))
    completed: dict[str, Hashable] = {}
    for name, value in values.items():
        around = [w for w in whole if isinstance(value, tuple) and set(value) < set(w)]
        completed[name] = around[0] if around and all(set(w) <= set(around[0]) for w in around) else value
    return completed


def _in_fit(dossier: Dossier, statement: Statement) -> Dossier:
    """The record as it stands where the statement speaks of; the whole one where it says no fit."""
    if statement.fit is None:
        return dossier
    known = fits_of(dossier)
    for fits in permitted_combinations(dossier):
        if is_fitted(statement.fit, fits, known):
            return fitted(dossier, fits)
    return dossier


def _value_said(about: _Property, statement: Statement, remarks: Remarks) -> Hashable | None:
    """What a statement gives, comparable; None where it is no such value, with a finding."""
    try:
        return about.read(statement.says)
    except UnreadableValue as slip:
        message = f"{called(statement)} says {statement.says!r} of {statement.about!r}: {slip.message}"
        hint = f"{slip.hint} (`words` keeps what the source prints.)"
        remarks.warn("unreadable-value", statement, message, hint, key="says")
        return None


def _say_unknown(dossier: Dossier, statements: Iterable[Statement], remarks: Remarks) -> None:
    for statement in statements:
        thing, _, rest = statement.about.partition(".")
        names = [name for word in SPOKEN_OF for name in getattr(dossier, TABLES[word].attribute)]
        hint = meant(thing, names, none="Write THING.KEY, such as 'fuse-box.ways' or 'H1.size'.")
        if "Did you mean" in hint and rest:
            hint = hint.replace("'?", f".{rest}'?")
        message = f"{called(statement)} is about {statement.about!r}, and nothing is called {thing!r}."
        remarks.say("unknown-name", statement, message, hint, key="about")


def _say_unknown_key(about: _Property, statement: Statement, remarks: Remarks) -> None:
    message = f"{called(statement)} is about {statement.about!r}, which the record has no key for."
    hint = meant(about.key, about.keys, none="It is kept, and compared with other statements only.")
    remarks.warn("unknown-key", statement, message, hint, key="about")


class _Property:
    """A property of a thing: which things have it, how its values are read, what the record says."""

    def __init__(self, dossier: Dossier, kinds: Mapping[str, Kind], about: str) -> None:
        name, _, self.key = about.rpartition(".") if "." in about else (about, "", "")
        self.dossier = dossier
        self.things: tuple[Thing, ...] = ()
        self.word = ""
        for word in SPOKEN_OF:
            table: Mapping[str, Thing] = getattr(dossier, TABLES[word].attribute)
            whole = about if about in table else name if name in table else ""
            if whole:
                self.things, self.word = (table[whole],), word
                if whole == about:
                    self.key = ""
                break
        thing = self.things[0] if self.things else None
        kind = kinds.get(thing.kind) if isinstance(thing, Item) else None
        self.parameters = kind.parameters if kind else {}
        self.keys = (*TABLES[self.word].keys, *self.parameters) if self.word else ()

    @property
    def known(self) -> bool:
        """Whether the record has a key of that name, or the item gives its kind one."""
        thing = self.things[0] if self.things else None
        return self.key in self.keys or (isinstance(thing, Item) and self.key in thing.own)

    def read(self, text: str) -> Hashable:
        """A value as a source gives it, comparable."""
        key = TABLES[self.word].keys.get(self.key) if self.word else None
        if key is None:
            return _free(text)
        value = _read_any(key.read, text)
        if self.key == "rating":
            _refuse_strange_parts(text, value)
        return comparable(value)

    def recorded(self) -> Recorded | None:
        """The record's own value."""
        thing = self.things[0] if self.things else None
        if thing is None or not self.known:
            return None
        key = TABLES[self.word].keys.get(self.key)
        if key is not None:
            value = getattr(thing, key.field)
            empty = value is None or value in ("", (), {})
            return None if empty else Recorded(value=comparable(value), text=_written(value), things=(thing,))
        raw = thing.own.get(self.key) if isinstance(thing, Item) else None
        if raw is None and self.key in self.parameters:
            raw = self.parameters[self.key].default
        if raw is None:
            return None
        text = raw if isinstance(raw, str) else f"{raw:g}"
        return Recorded(value=_free(text), text=text, things=(thing,))


_STAMPED = frozenset({"voltage", "current", "power", "resistance", "charge", "light", "capacitance", "time"})
"""What a rating plate may give."""


def _refuse_strange_parts(text: str, rating: Mapping[str, Quantity]) -> None:
    for dimension, amount in rating.items():
        if dimension not in _STAMPED:
            raise UnreadableValue(f"{amount.text!r} in {text!r} is no part of a rating.", "Mend its unit.")


def spoken_of(dossier: Dossier, about: str) -> tuple[str, Thing, str] | None:
    """What a property statement is about, found in the record.

    Parameters
    ----------
    dossier
        The record, whole or in one standard of fit.
    about
        ``THING.KEY``, or a thing alone where it is its presence that is spoken of.

    Returns
    -------
    tuple of str, Thing and str or None
        The word of its table, the thing, and the key ("" for the thing itself); None for nothing known.
    """
    found = _Property(dossier, {}, about)
    return (found.word, found.things[0], found.key) if found.things else None


def _read_any(read: Callable[[Any, list[Any]], Any], text: str) -> Any:
    """Read a text through a key's reader; lists and counts are tried in the forms a source would use."""
    slips: list[Any] = []
    try:
        value = read(text, slips)
    except UnreadableValue as slip:
        number = _number(text)
        for other in ([part.strip() for part in text.split(",")], number):
            try:
                if other is not None:
                    return read(other, [])
            except UnreadableValue:
                continue
        raise slip from None
    return value


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _free(text: str) -> Hashable:
    """A value whose type nobody knows: an amount if it reads as one, a size, else its words."""
    readers: tuple[Callable[[str], Any], ...] = (lambda t: read_quantity(t, bare=True), read_size)
    for read in readers:
        try:
            return comparable(read(text))
        except UnreadableValue:
            continue
    return _as_text(text)


def _as_text(text: str) -> str:
    return " ".join(text.casefold().split())


def comparable(value: Any) -> Hashable:
    """A value such that two of them are equal where they mean the same.

    Parameters
    ----------
    value
        As a key's reader gives it.

    Returns
    -------
    Hashable
        Without the words that it was written in; amounts to nine digits.

    Examples
    --------
    >>> comparable(read_quantity("0.5 A")) == comparable(read_quantity("500 mA"))
    True
    >>> comparable(read_size("14/.0076 in")) == comparable(read_size("14/0.0076 in"))
    True
    """
    match value:
        case Quantity():
            return ("amount", value.dimension, *(_rounded(v) for v in (value.value, value.low, value.high)))
        case Size():
            parts = [getattr(value, f.name) for f in fields(value) if f.name != "text"]
            return ("size", *(comparable(part) for part in parts))
        case str():
            return _as_text(value)
        case bool():
            return value
        case int() | float():
            return _rounded(float(value))
        case Mapping():
            return tuple(sorted((str(k), comparable(v)) for k, v in value.items()))
        case list() | tuple():
            return tuple(comparable(v) for v in value)
        case _:
            return str(value)


def agree(one: Hashable, other: Hashable) -> bool:
    """Whether two comparable values may both be true.

    Parameters
    ----------
    one, other
        As :func:`comparable` gives them.

    Returns
    -------
    bool
        True where they are equal, or are amounts whose spans meet; a rating is judged part by part.

    Examples
    --------
    >>> agree(comparable(read_quantity("26.8 V")), comparable(read_quantity("26.6 to 27 V")))
    True
    """
    if one == other:
        return True
    if not (isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other)):
        return False
    if one[:1] == other[:1] == ("amount",):
        return bool(one[1] == other[1] and one[3] <= other[4] and other[3] <= one[4])
    return all(agree(a, b) for a, b in zip(one, other, strict=True))


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")


def _written(value: Any) -> str:
    match value:
        case Quantity() | Size():
            return value.text
        case str():
            return value
        case Mapping():
            return " ".join(_written(v) for v in value.values())
        case list() | tuple():
            return ", ".join(_written(v) for v in value)
        case _:
            return str(value)
