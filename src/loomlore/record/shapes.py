"""A kind with its parameters filled in: terminals counted, values and sentences read, ways spread out.

Many items share one kind and one set of parameters, so that a :class:`Shape` is made once for each such set
and kept; joining an item then only lays its own keys over it. Sentences stay in the kind's own names.

A parameter that the item must give and does not costs only the keys that it stands in: they are left out and
the shape says which parts are short of what.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from loomlore.findings import UnreadableValue
from loomlore.quantities import Quantity, Rating, as_bare, as_written, read_quantity, read_rating
from loomlore.record.laws import CONTACT_OHMS, LAWS
from loomlore.record.model import Control
from loomlore.record.parts import Contact, Element, Kind, Latch
from loomlore.record.values import span_of
from loomlore.sentences import And, Compare, Not, Or, Sentence, read_sentence

__all__ = [
    "Problem",
    "Shape",
    "Values",
    "counted",
    "in_volts",
    "read_amount",
    "shape",
    "share_in_volts",
    "substituted",
]

Values = tuple[tuple[str, str | float], ...]
"""What an item gives of the kind's parameters, in order of name."""

_PLACEHOLDER = re.compile(r"<([a-z][a-z0-9-]*)>")
_COUNTED = re.compile(r"([A-Za-z+-]*)(\d+)\.\.(\d+|<?[a-z][a-z0-9-]*>?)([A-Za-z+-]*)\Z")
_DOUBT = re.compile(r"(about|assumed|at least|at most) |±|\+/?-| to ")
_MOST_WAYS = 200


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in a kind that cannot be read: where in it, what, and what to write."""

    path: str
    message: str
    hint: str
    column: int = 0


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A kind with one set of parameters. ``cams`` that the item must say are None.

    ``ways`` are the elements of each way by its number, from ``each-way`` or a fuse that is named after its
    terminal; ``lacking`` maps a parameter that was not given to
    the parts that need it; ``own_rating`` names the elements that the kind itself rates.
    """

    terminals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    inner: tuple[str, ...] = ()
    controls: Mapping[str, Control] = field(default_factory=dict)
    cams: Mapping[str, Sentence | None] = field(default_factory=dict)
    follows: Mapping[str, str] = field(default_factory=dict)
    latches: Mapping[str, Latch] = field(default_factory=dict)
    contacts: Mapping[str, Contact] = field(default_factory=dict)
    elements: Mapping[str, Element] = field(default_factory=dict)
    ways: Mapping[str, Element] = field(default_factory=dict)
    own_rating: frozenset[str] = frozenset()
    parameters: Mapping[str, str | float] = field(default_factory=dict)
    lacking: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


class _Lacking(Exception):
    """A value leans on a parameter that nobody gave. Never leaves this module."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name


def substituted(text: str, values: Mapping[str, str | float], *, plain: bool = False) -> str:
    """Fill parameters into a text of a kind.

    Parameters
    ----------
    text
        With ``<name>`` anywhere.
    values
        Parameters as written.
    plain
        Whether a doubtful amount is to be replaced by its middle, as sentences need.

    Returns
    -------
    str
        The text without placeholders of known parameters; unknown ones stay.

    Examples
    --------
    >>> substituted("lever is <first>", {"first": "land"})
    'lever is land'
    """

    def filled(match: re.Match[str]) -> str:
        value = values.get(match[1])
        if value is None:
            return match[0]
        return _plain(value) if plain else _text(value)

    return _PLACEHOLDER.sub(filled, text)


def _text(value: str | float) -> str:
    return value if isinstance(value, str) else as_bare(value)


def _plain(value: str | float) -> str:
    text = _text(value)
    if not _DOUBT.search(text):
        return text
    try:
        amount = read_quantity(text)
    except UnreadableValue:
        return text
    return as_written(amount.value, amount.dimension, digits=12)


def counted(text: str, values: Mapping[str, str | float]) -> tuple[str, ...]:
    """Spread a counted terminal, ``1..ways``, into its terminals.

    Parameters
    ----------
    text
        A terminal, or ``1..8``, ``1..ways``, each perhaps with letters before or behind.
    values
        Parameters; a count is a whole number.

    Returns
    -------
    tuple of str
        Terminals in order; the text itself where it counts nothing.

    Raises
    ------
    UnreadableValue
        Where the count is no whole number from 1 to 200.

    Examples
    --------
    >>> counted("1..ways", {"ways": 3})
    ('1', '2', '3')
    """
    match = _COUNTED.match(text)
    if not match:
        return (substituted(text, values),)
    before, first, last, behind = match.groups()
    name = last.strip("<>")
    end = last if last.isdigit() else values.get(name)
    if end is None:
        raise UnreadableValue(
            f"{text!r} counts to {name!r}, which is no parameter.", f"Add {name!r} to `parameter`."
        )
    number = float(end) if _text(end).replace(".", "", 1).isdigit() else 0.0
    if not (number.is_integer() and 1 <= number <= _MOST_WAYS):
        hint = f"Write a whole number from 1 to {_MOST_WAYS}."
        raise UnreadableValue(f"{name} = {_text(end)!r} is no number of ways.", hint)
    return tuple(f"{before}{n}{behind}" for n in range(int(first), int(number) + 1))


def in_volts(sentence: Sentence, volts: float | None) -> Sentence:
    """Turn limits in % on measured volts into volts.

    Parameters
    ----------
    sentence
        A sentence of a kind.
    volts
        Rated volts [V] that 100 % stands for, or None where nobody gave any.

    Returns
    -------
    Sentence
        The same without shares of volts.

    Raises
    ------
    UnreadableValue
        Where a share is written and there are no rated volts.
    """
    match sentence:
        case And(parts, bracketed):
            return And(tuple(in_volts(p, volts) for p in parts), bracketed)
        case Or(parts, bracketed):
            return Or(tuple(in_volts(p, volts) for p in parts), bracketed)
        case Not(part):
            return Not(in_volts(part, volts))
        case Compare(measure, limits, column) if measure.of.startswith("volts"):
            changed = tuple((sign, share_in_volts(limit, volts)) for sign, limit in limits)
            return Compare(measure, changed, column)
        case _:
            return sentence


def share_in_volts(amount: Quantity, volts: float | None) -> Quantity:
    """Turn a share of the rated volts into volts; anything else stays as it is.

    Parameters
    ----------
    amount
        Perhaps in %.
    volts
        What 100 % stands for [V], or None where nobody gave any.

    Returns
    -------
    Quantity
        In volts where it was a share.

    Raises
    ------
    UnreadableValue
        Where it is a share and there are no rated volts.
    """
    if amount.dimension != "fraction":
        return amount
    if volts is None:
        hint = 'Give the item its rating, like rating = "24 V", or the dossier its supply.'
        raise UnreadableValue(f"{amount.text!r} is a share of rated volts, and none are given.", hint)
    value, low, high = amount.value * volts, amount.low * volts, amount.high * volts
    text = as_written(value, "voltage", digits=6)
    return Quantity(value, low, high, "voltage", text, amount.assumed)


@lru_cache(maxsize=8192)
def shape(kind: Kind, own: Values, volts: float | None) -> Shape:
    """Fill an item's parameters into its kind.

    Parameters
    ----------
    kind
        The kind as written.
    own
        What the item gives, sorted by name; names the kind does not know are left alone.
    volts
        The item's rated volts [V], else the dossier's supply, for values written in %.

    Returns
    -------
    Shape
        Everything that could be read, and what could not.
    """
    return _Shaping(kind, dict(own), volts).shape()


class _Shaping:
    """One pass over a kind; collects problems instead of stopping at the first."""

    def __init__(self, kind: Kind, own: Mapping[str, str | float], volts: float | None) -> None:
        self.kind = kind
        self.volts = volts
        known = {n: own.get(n, p.default) for n, p in kind.parameters.items()}
        self.values: dict[str, str | float] = {n: v for n, v in known.items() if v is not None}
        self.problems: list[Problem] = []
        self.lacking: dict[str, list[str]] = {}

    def shape(self) -> Shape:
        terminals = {side: self._spread(side, names) for side, names in self.kind.terminals.items()}
        elements = {n: e for n, raw in self.kind.elements.items() if (e := self._element(n, raw))}
        named = {t for names in terminals.values() for t in names}
        fuses = {n: replace(e, each=n) for n, e in elements.items() if e.law == "fuse" and n in named}
        return Shape(
            terminals=terminals,
            inner=tuple(substituted(n, self.values) for n in self.kind.inner),
            controls={n: self._control(n, raw) for n, raw in self.kind.controls.items()},
            cams={n: self._sentence(f"cams.{n}", t) if t else None for n, t in self.kind.cams.items()},
            follows=self._follows(),
            latches={n: self._latch(n, raw) for n, raw in self.kind.latches.items()},
            contacts={n: c for n, raw in self.kind.contacts.items() if (c := self._contact(n, raw))},
            elements={n: e for n, e in elements.items() if n not in fuses},
            ways={**self._ways(terminals), **fuses},
            own_rating=frozenset(n for n, raw in self.kind.elements.items() if "rating" in raw),
            parameters=dict(self.values),
            lacking={name: tuple(dict.fromkeys(paths)) for name, paths in self.lacking.items()},
            problems=tuple(self.problems),
        )

    def _problem(self, path: str, message: str, hint: str, column: int = 0) -> None:
        self.problems.append(Problem(path, message, hint, column))

    def _try(self, path: str, reading: Callable[..., Any], *raw: Any) -> Any:
        """Read something; a slip is a problem, a missing parameter is noted, and both give None."""
        try:
            return reading(*raw)
        except UnreadableValue as slip:
            self._problem(path, slip.message, slip.hint, slip.column)
        except _Lacking as lack:
            self.lacking.setdefault(lack.name, []).append(path.rsplit(".", 1)[0])
        return None

    def _fill(self, text: str, *, plain: bool = False) -> str:
        filled = substituted(text, self.values, plain=plain)
        for match in _PLACEHOLDER.finditer(filled):
            if match[1] in self.kind.parameters:
                raise _Lacking(match[1])
            hint = f"Add {match[1]!r} to the kind's `parameter`."
            raise UnreadableValue(f"<{match[1]}> is no parameter of the kind.", hint)
        return filled

    def _sentence(self, path: str, text: Any) -> Sentence | None:
        def reading() -> Sentence:
            if not isinstance(text, str):
                raise UnreadableValue(f"{text!r} is no sentence.", "Write it in quotes.")
            return in_volts(read_sentence(self._fill(text, plain=True)), self.volts)

        found: Sentence | None = self._try(path, reading)
        return found

    def _spread(self, side: str, names: tuple[str, ...]) -> tuple[str, ...]:
        spread = (self._try(f"terminals.{side}", counted, name, self.values) for name in names)
        return tuple(t for part in spread if part for t in part)

    def _follows(self) -> dict[str, str]:
        return {name: self._dimension(f"follows.{name}", unit) for name, unit in self.kind.follows.items()}

    def _dimension(self, path: str, unit: str) -> str:
        if not unit:
            return ""
        found = self._try(path, lambda: read_quantity(f"1 {unit}").dimension)
        return str(found or "")

    def _control(self, name: str, raw: Mapping[str, Any]) -> Control:
        path = f"control.{name}"
        words = [self._try(f"{path}.positions", self._fill, str(w)) for w in raw.get("positions", ())]
        positions = tuple(w for w in words if w is not None)
        span = self._try(f"{path}.range", span_of, raw["range"], []) if "range" in raw else None
        start: str | float = positions[0] if positions else span[0].value if span else ""
        if "start" in raw:
            start = self._start(path, raw["start"], span)
        springs = raw.get("springs-to")
        control = Control(
            id=name,
            positions=positions,
            range=span,
            start=start,
            springs_to=None if springs is None else substituted(str(springs), self.values),
            guarded=bool(raw.get("guarded", False)),
            turns=bool(raw.get("turns", False)),
        )
        self._check_control(path, control)
        return control

    def _start(self, path: str, raw: Any, span: tuple[Quantity, Quantity] | None) -> str | float:
        if span is None:
            return substituted(str(raw), self.values)
        amount = self._try(f"{path}.start", read_amount, raw, span[0].dimension)
        return amount.value if amount else span[0].value

    def _check_control(self, path: str, control: Control) -> None:
        if not control.positions and control.range is None:
            self._problem(path, "it has neither positions nor a range.", 'Write positions = ["off", "on"].')
        for key, word in (("start", control.start), ("springs-to", control.springs_to)):
            if control.positions and word is not None and word not in control.positions:
                choices = ", ".join(control.positions)
                self._problem(
                    f"{path}.{key}", f"{word!r} is none of its positions.", f"Write one of: {choices}."
                )

    def _latch(self, name: str, raw: Mapping[str, Any]) -> Latch:
        path = f"latch.{name}"
        return Latch(
            name=name,
            set=self._sentence_of(path, raw, "set"),
            release=self._sentence_of(path, raw, "release"),
            set_on=self._sentence_of(path, raw, "set-on"),
            release_on=self._sentence_of(path, raw, "release-on"),
            set_after=self._seconds(path, raw, "set-after"),
            release_after=self._seconds(path, raw, "release-after"),
            start=raw.get("start", False) in (True, "set"),
            wins=str(raw.get("wins", "release")),
            lost_with=substituted(str(raw.get("lost-with", "")), self.values),
        )

    def _sentence_of(self, path: str, raw: Mapping[str, Any], key: str) -> Sentence | None:
        return self._sentence(f"{path}.{key}", raw[key]) if key in raw else None

    def _seconds(self, path: str, raw: Mapping[str, Any], key: str) -> float | None:
        if key not in raw:
            return None
        amount = self._try(f"{path}.{key}", lambda: read_quantity(self._fill(str(raw[key])), "time"))
        return amount.value if amount else None

    def _ends(self, path: str, raw: Mapping[str, Any]) -> tuple[str, str] | None:
        def reading() -> tuple[str, str]:
            ends = raw.get("ends")
            if not isinstance(ends, list | tuple) or len(ends) != 2:
                raise UnreadableValue(
                    "it has not two ends.", 'Write ends = ["1", "2"], the positive one first.'
                )
            return self._fill(str(ends[0])), self._fill(str(ends[1]))

        found: tuple[str, str] | None = self._try(f"{path}.ends", reading)
        return found

    def _contact(self, name: str, raw: Mapping[str, Any]) -> Contact | None:
        path = f"contact.{name}"
        ends = self._ends(path, raw)
        closed = self._sentence_of(path, raw, "closed")
        if ends is None or ("closed" in raw and closed is None):
            return None
        ohms = CONTACT_OHMS
        if "resistance" in raw:
            amount = self._try(f"{path}.resistance", self._amount, raw["resistance"], ("resistance",))
            ohms = amount.value if amount else CONTACT_OHMS
        return Contact(name=name, ends=ends, closed=closed, resistance=ohms)

    def _amount(self, raw: Any, dimensions: tuple[str, ...], volts: float | None = None) -> Quantity:
        filled = self._fill(raw) if isinstance(raw, str) else raw
        amount = read_amount(filled, None)
        if amount.dimension == "fraction" and "voltage" in dimensions:
            amount = share_in_volts(amount, volts)
        if amount.dimension not in dimensions:
            return read_amount(filled, dimensions[0])
        return amount

    def _element(self, name: str, raw: Mapping[str, Any], *, path: str = "") -> Element | None:
        path = path or f"element.{name}"
        law = str(raw.get("law", ""))
        ends = self._ends(path, raw)
        if law not in LAWS or ends is None:
            return None
        works = self._sentence_of(path, raw, "works")
        rating = self._rating(path, raw)
        volts = rating["voltage"].value if "voltage" in rating else self.volts
        values, words = self._law_keys(path, law, raw, volts)
        return Element(
            name=name,
            law=law,
            ends=ends,
            works=works,
            rating=rating,
            values=values,
            words=words,
            moves=self._moves(path, raw),
            polarised=bool(raw.get("polarised", False)),
        )

    def _rating(self, path: str, raw: Mapping[str, Any]) -> Rating:
        if "rating" not in raw:
            return {}
        return self._try(f"{path}.rating", lambda: read_rating(self._fill(str(raw["rating"])))) or {}

    def _law_keys(
        self, path: str, law: str, raw: Mapping[str, Any], volts: float | None
    ) -> tuple[dict[str, Quantity], dict[str, str]]:
        values: dict[str, Quantity] = {}
        words: dict[str, str] = {}
        known = LAWS[law]
        for key in raw:
            if key in known.words:
                words[key] = substituted(str(raw[key]), self.values)
            elif key in known.amounts and raw[key] == "none":
                words[key] = "none"
            elif key in known.amounts:
                amount = self._try(f"{path}.{key}", self._amount, raw[key], known.amounts[key], volts)
                if amount:
                    values[key] = amount
        return values, words

    def _moves(self, path: str, raw: Mapping[str, Any]) -> dict[str, float]:
        rates: dict[str, float] = {}
        for name, rate in dict(raw.get("moves", {})).items():
            amount = self._try(f"{path}.moves", self._rate, rate)
            if amount is not None:
                rates[name] = amount
        return rates

    def _rate(self, raw: Any) -> float:
        if isinstance(raw, int | float):
            return float(raw)
        amount = read_quantity(self._fill(raw))
        if not amount.dimension.endswith("/time"):
            raise UnreadableValue(
                f"{amount.text!r} is no rate.", "Write it per second, like '10 deg/s' or '10 %/s'."
            )
        return amount.value

    def _ways(self, terminals: Mapping[str, tuple[str, ...]]) -> dict[str, Element]:
        raw = self.kind.each_way
        if raw is None:
            return {}
        ways: dict[str, Element] = {}
        element = self._element("#", raw, path="each-way")
        for number in self._numbers(terminals) if element else ():
            assert element is not None
            first, second = (end.replace("#", number) for end in element.ends)
            ways[number] = replace(element, name=number, ends=(first, second), each=number)
        return ways

    def _numbers(self, terminals: Mapping[str, tuple[str, ...]]) -> Iterator[str]:
        """The ways' numbers: those counted by the first counted terminal of the kind."""
        for side, names in self.kind.terminals.items():
            for name in names:
                match = _COUNTED.match(name)
                if match and terminals[side]:
                    bare = f"{match[2]}..{match[3]}"
                    yield from self._try(f"terminals.{side}", counted, bare, self.values) or ()
                    return


def read_amount(raw: Any, dimension: str | None) -> Quantity:
    """Read an amount that may stand as a bare number where no unit is wanted.

    Parameters
    ----------
    raw
        A text with its unit, or a number.
    dimension
        What is wanted, or None for anything.

    Returns
    -------
    Quantity
        In the inside unit.

    Raises
    ------
    UnreadableValue
        Where it is none.
    """
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise UnreadableValue(f"{raw!r} is no amount.", "Write a number, or text in quotes like '5 A'.")
    if isinstance(raw, str):
        return read_quantity(raw, dimension) if dimension else read_quantity(raw, bare=True)
    return read_quantity(_text(raw), dimension or "")
