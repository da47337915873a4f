"""Units in and out: quoted text to SI floats, with the doubt that the text admits.

Inside the package every amount is a float in SI units, but for four that the trade never writes so:
angles stay in degrees, rotation in rev/min, temperature in °C, and luminous intensity in candle-power.
A :class:`Quantity` keeps the text as written, the middle value for the solver and both ends for sizing.
"""

from __future__ import annotations

import math
import re
from calendar import monthrange
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from loomlore.findings import UnreadableValue, nearest

__all__ = [
    "DIMENSIONS",
    "UNITS",
    "Date",
    "Quantity",
    "Rating",
    "Size",
    "as_bare",
    "as_written",
    "read_date",
    "read_quantity",
    "read_rating",
    "read_size",
]

INCH = 0.0254
IMPERIAL_GALLON = 4.54609e-3
US_GALLON = 231 * INCH**3

UNITS: dict[str, tuple[float, str]] = {
    "V": (1.0, "voltage"),
    "mV": (1e-3, "voltage"),
    "kV": (1e3, "voltage"),
    "A": (1.0, "current"),
    "mA": (1e-3, "current"),
    "W": (1.0, "power"),
    "mW": (1e-3, "power"),
    "kW": (1e3, "power"),
    "ohm": (1.0, "resistance"),
    "Ω": (1.0, "resistance"),
    "mohm": (1e-3, "resistance"),
    "mΩ": (1e-3, "resistance"),
    "kohm": (1e3, "resistance"),
    "kΩ": (1e3, "resistance"),
    "Mohm": (1e6, "resistance"),
    "MΩ": (1e6, "resistance"),
    "Ah": (3600.0, "charge"),
    "m": (1.0, "length"),
    "cm": (1e-2, "length"),
    "mm": (1e-3, "length"),
    "ft": (12 * INCH, "length"),
    "in": (INCH, "length"),
    "mm2": (1e-6, "area"),
    "mm²": (1e-6, "area"),
    "deg": (1.0, "angle"),
    "°": (1.0, "angle"),
    "rev/min": (1.0, "rotation"),
    "kt": (1852.0 / 3600.0, "speed"),
    "mph": (5280 * 12 * INCH / 3600.0, "speed"),
    "km/h": (1 / 3.6, "speed"),
    "kPa": (1e3, "pressure"),
    "lb/in2": (6894.757293168361, "pressure"),
    "gal(UK)": (IMPERIAL_GALLON, "volume"),
    "gal(US)": (US_GALLON, "volume"),
    "l": (1e-3, "volume"),
    "kg": (1.0, "mass"),
    "lb": (0.45359237, "mass"),
    "cp": (1.0, "light"),
    "°C": (1.0, "temperature"),
    "s": (1.0, "time"),
    "min": (60.0, "time"),
    "h": (3600.0, "time"),
    "uF": (1e-6, "capacitance"),
    "µF": (1e-6, "capacitance"),
    "%": (0.01, "fraction"),
}
"""Unit as written -> (factor to the unit used inside, dimension). Exact by definition (inch 25.4 mm,
pound 0.453 592 37 kg, imperial gallon 4.546 09 l, US gallon 231 cubic inches, knot 1852 m/h)."""

_WORDS = {
    "volt": "V", "volts": "V", "v": "V", "amp": "A", "amps": "A", "ampere": "A", "amperes": "A", "a": "A",
    "watt": "W", "watts": "W", "w": "W", "ohms": "ohm", "Ohm": "ohm", "Ohms": "ohm", "OHM": "ohm",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "M": "m", "feet": "ft", "foot": "ft",
    "inch": "in", "inches": "in", '"': "in", "'": "ft", "ah": "Ah", "AH": "Ah", "secs": "s", "sec": "s",
    "seconds": "s", "second": "s", "minutes": "min", "mins": "min", "hours": "h", "hour": "h",
    "rpm": "rev/min",
    "r.p.m.": "rev/min", "psi": "lb/in2", "gal": "gal(UK)", "galls": "gal(UK)", "gallons": "gal(UK)",
    "knots": "kt", "kts": "kt", "degrees": "deg", "degree": "deg", "sq mm": "mm2", "sqmm": "mm2",
    "mm^2": "mm2",
    "C": "°C", "litres": "l", "L": "l", "lbs": "lb", "Kg": "kg", "KW": "kW", "MW": "mW", "MV": "mV",
    "ma": "mA",
}  # fmt: skip
"""What people write instead, for the hint only: units are never guessed."""

_CONVERTED: dict[str, tuple[float, str]] = {
    "km": (1000.0, "m"), "yd": (3.0, "ft"), "yds": (3.0, "ft"), "yard": (3.0, "ft"), "yards": (3.0, "ft"),
    "thou": (0.001, "in"), "mil": (0.001, "in"), "dm": (0.1, "m"),
    "mAh": (0.001, "Ah"), "uA": (0.001, "mA"), "µA": (0.001, "mA"), "nF": (0.001, "uF"), "pF": (1e-6, "uF"),
    "bar": (100.0, "kPa"), "hPa": (0.1, "kPa"), "cm2": (100.0, "mm2"), "sq in": (645.16, "mm2"),
    "ms": (0.001, "s"), "days": (24.0, "h"), "day": (24.0, "h"),
}  # fmt: skip
"""Units that are not taken, with what they are in one that is, exact by definition: for the hint only."""

DIMENSIONS: dict[str, str] = {
    "voltage": "24 V",
    "current": "5 A",
    "power": "6 W",
    "resistance": "80 ohm",
    "charge": "45 Ah",
    "length": "2.4 m",
    "area": "1.0 mm2",
    "angle": "10 deg",
    "rotation": "2200 rev/min",
    "speed": "80 kt",
    "pressure": "12 lb/in2",
    "volume": "90 gal(UK)",
    "mass": "3 kg",
    "light": "16 cp",
    "temperature": "15 °C",
    "time": "8 s",
    "capacitance": "2 uF",
    "fraction": "80 %",
    "": "0.5",
}
"""Dimension -> an example of how to write it ("" is a bare number: a fraction or a count)."""

ABOUT = 0.20
ASSUMED = 0.50


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount: the solver's middle ``value`` and the ends ``low`` and ``high``, all in the inside unit.

    ``dimension`` is one of :data:`DIMENSIONS` (a rate has "/time" behind it); ``assumed`` marks a guess.
    """

    value: float
    low: float
    high: float
    dimension: str
    text: str
    assumed: bool = False

    @property
    def exact(self) -> bool:
        """Whether the text admits no doubt."""
        return self.low == self.high

    def __str__(self) -> str:
        return self.text


Rating = dict[str, Quantity]
"""A stamped rating by dimension, as in ``24 V 6 W``."""


@dataclass(frozen=True, slots=True)
class Size:
    """A conductor's size as it is written.

    ``form`` is "area", "strands", "awg" or "swg"; ``area`` [m2] is that of the metal (0 for gauges, whose
    tables stand in the catalogue), ``strands`` and ``diameter`` [m] of one strand where known, ``gauge`` the
    number as text, ``cores`` 2 for a twin.
    """

    form: str
    area: float
    strands: int
    diameter: float
    gauge: str
    cores: int
    text: str


@dataclass(frozen=True, slots=True)
class Date:
    """A date or span, compared as text: ``earliest`` and ``latest`` are ISO dates ("" where open)."""

    earliest: str
    latest: str
    text: str


_NUMBER = r"[-+]?(?:\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?|\.\d+)(?:[eE][-+]?\d+)?"
_UNIT = r"(?:[^\s\d±(][^\s±]*)"
_AMOUNT = re.compile(rf"({_NUMBER})\s*({_UNIT})?\s*")


def _number(text: str) -> float:
    whole, _, fraction = text.rpartition(" ")
    if "/" in fraction:
        above, below = fraction.split("/")
        if float(below) == 0:
            raise UnreadableValue(f"{text!r} divides by nought.", "Write the number out.")
        part = float(above) / float(below)
        return float(whole) + part if whole else part
    return float(text.replace(" ", ""))


def _unit(text: str) -> tuple[float, str]:
    base, per, time = text.rpartition("/")
    if per and text not in UNITS and time in ("s", "min", "h") and base in UNITS:
        factor, dimension = UNITS[base]
        return factor / UNITS[time][0], dimension + "/time"
    if text in UNITS:
        return UNITS[text]
    meant = _WORDS.get(text) or _WORDS.get(text.casefold()) or nearest(text, UNITS, cutoff=0.5)
    hint = f"Write {meant!r}." if meant else "Use one of: " + " ".join(UNITS) + "."
    if text[0] in "/,;.":
        hint = "Write decimals with a point and a blank before the unit, like '2.4 m'."
    raise UnreadableValue(f"{text!r} is no unit known here.", hint)


_AMOUNT_WORDS = frozenset(
    "a an nil no half one two three four five six seven eight nine ten eleven twelve twenty thirty".split()
)


_HABITS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"[−–—](?=\s*[\d.])"), "-"),
    (
        re.compile(r"^(?:approx(?:imately)?\.?|circa|ca?\.|roughly|some|~|≈)\s*(?=[\d.])", re.IGNORECASE),
        "about ",
    ),
    (
        re.compile(r"^(?:max(?:imum)?\.?|up to|not more than|no more than|<=?|≤)\s*(?=[\d.])", re.IGNORECASE),
        "at most ",
    ),
    (
        re.compile(r"^(?:min(?:imum)?\.?|not less than|no less than|>=?|≥)\s*(?=[\d.])", re.IGNORECASE),
        "at least ",
    ),
)
"""How people write a doubt or a sign that is written otherwise here."""


def _refuse_habits(text: str) -> None:
    if re.search(r"\d,\d", text):
        point = text.replace(",", ".")
        hint = f"Write a decimal point: {point!r}."
        if re.search(r"\b\d{1,3},\d{3}\b", text):
            hint = f"Write {text.replace(',', '')!r} for thousands, or {point!r} for a decimal point."
        raise UnreadableValue(f"{text!r} has a comma.", hint)
    span = re.match(r"(\d+(?:\.\d+)?)\s*[-–—]\s*(\d+(?:\.\d+)?)(?=\s*[^\d\s.])", text)
    if span:
        right = f"{span[1]} to {span[2]}{text[span.end() :]}"
        raise UnreadableValue(f"{text!r} is no amount.", f"Write a span as {right!r}.")
    if ";" in text:
        each = ", ".join(f'"{part.strip()}"' for part in text.split(";") if part.strip())
        raise UnreadableValue(f"{text!r} has a semicolon.", f"Write each amount in its own quotes: {each}.")
    if re.fullmatch(r".*\d ?ft \d+(?:[./]\d+)?", text):
        raise UnreadableValue(f"{text!r} has inches without their unit.", f"Write '{text} in'.")
    for pattern, put in _HABITS:
        if pattern.search(text):
            raise UnreadableValue(f"{text!r} is no amount.", f"Write {pattern.sub(put, text, count=1)!r}.")


def _unit_within(text: str, match: re.Match[str]) -> tuple[float, str]:
    """The factor and dimension of an amount's unit; the whole text, mended, where it is nearly one."""
    if match[2] in _CONVERTED:
        factor, unit = _CONVERTED[match[2]]
        right = f"{_number(match[1]) * factor:.10g} {unit}"
        raise UnreadableValue(f"{match[2]!r} is no unit known here.", f"Write {right!r}.")
    try:
        return _unit(match[2])
    except UnreadableValue as slip:
        meant = re.fullmatch(r"Write '(.*)'\.", slip.hint)
        if meant and text.count(match[2]) == 1:
            whole = text.strip().replace(
                match[2], f"{'' if match[0][len(match[1])] == ' ' else ' '}{meant[1]}"
            )
            raise UnreadableValue(slip.message, f"Write {whole!r}.") from None
        raise


def _no_number(text: str, dimension: str | None) -> UnreadableValue:
    example = DIMENSIONS.get(dimension or "length", "2.4 m")
    first = text.split(maxsplit=1)[0].casefold() if text.split() else ""
    if first in _AMOUNT_WORDS:
        return UnreadableValue(f"{text!r} has its number in words.", f"Write figures, like {example!r}.")
    return UnreadableValue(f"{text!r} is no amount.", f"Write a number and its unit, like {example!r}.")


def _amount(text: str, dimension: str | None) -> tuple[float, str]:
    """One or several numbers with units that add up, ``3 ft 6 in``; a bare number has dimension ""."""
    rest, total, found = text.strip(), 0.0, ""
    _refuse_habits(rest)
    first = True
    while rest:
        match = _AMOUNT.match(rest)
        if not match:
            raise _no_number(text, dimension)
        factor, unit = _unit_within(text, match) if match[2] else (1.0, "")
        if not first and unit != found:
            raise UnreadableValue(f"{text!r} mixes units.", "Write one amount, like '3 ft 6 in'.")
        found, first = unit, False
        total += _number(match[1]) * factor
        rest = rest[match.end() :]
    if first:
        raise _no_number(text, dimension)
    return total, found


def _with_unit_of(text: str, other: str) -> str:
    """In ``1.8 to 2.2 m`` and ``2 ± 0.1 m`` the first number borrows the unit behind the second."""
    match = _AMOUNT.fullmatch(text.strip())
    if match and not match[2]:
        behind = _AMOUNT.match(other.strip())
        if behind and behind[2]:
            return f"{text.strip()} {behind[2]}"
    return text


def _doubtful(text: str, dimension: str | None) -> tuple[float, float, float, str, bool]:
    """Value, low, high, dimension, and whether it is assumed."""
    bare = text.strip()
    for word, share in (("about ", ABOUT), ("assumed ", ASSUMED)):
        if bare.startswith(word):
            value, unit = _amount(bare[len(word) :], dimension)
            return value, value - share * abs(value), value + share * abs(value), unit, share == ASSUMED
    for word in ("at least ", "at most "):
        if bare.startswith(word):
            value, unit = _amount(bare[len(word) :], dimension)
            return (
                (value, value, math.inf, unit, False)
                if word == "at least "
                else (value, 0.0, value, unit, False)
            )
    spread = re.split(r"\s*(?:±|\+/?-)\s*", bare, maxsplit=1)
    if len(spread) == 2 and spread[0]:
        value, unit = _amount(_with_unit_of(spread[0], spread[1]), dimension)
        by, by_unit = _amount(spread[1], dimension)
        by = by * abs(value) if by_unit == "fraction" != unit else by
        return value, value - by, value + by, unit, False
    ends = re.split(r"\s+to\s+", bare, maxsplit=1)
    if len(ends) == 2:
        low, low_unit = _amount(_with_unit_of(ends[0], ends[1]), dimension)
        high, high_unit = _amount(ends[1], dimension)
        if low_unit != high_unit or low > high:
            raise UnreadableValue(f"{text!r} is no span.", "Write the lower end first, like '1.8 to 2.2 m'.")
        return (low + high) / 2, low, high, low_unit, False
    value, unit = _amount(bare, dimension)
    return value, value, value, unit, False


@lru_cache(maxsize=65536)
def read_quantity(text: str, dimension: str | None = None, *, bare: bool = False) -> Quantity:
    """Read an amount with its unit and its doubt.

    Parameters
    ----------
    text
        For instance ``2.4 m``, ``about 2 m``, ``3 ft 6 in``, ``1.8 to 2.2 m``, ``2 m ± 0.1 m``.
    dimension
        What is wanted, a key of :data:`DIMENSIONS`, possibly with "/time"; None takes any.
    bare
        Whether a number without a unit will do whatever the dimension.

    Returns
    -------
    Quantity
        In the inside unit of its dimension.

    Raises
    ------
    UnreadableValue
        Where the text is no such amount; its hint says what to write.

    Examples
    --------
    >>> round(read_quantity("3 ft 6 in", "length").value, 9)
    1.0668
    >>> q = read_quantity("about 2 m"); (q.low, q.high)
    (1.6, 2.4)
    """
    value, low, high, unit, assumed = _doubtful(text, dimension)
    if not all(map(math.isfinite, (value, low))):
        raise UnreadableValue(f"{text!r} is too large.", "Write a plain number.")
    if not unit and not bare and dimension != "":
        example = DIMENSIONS.get(dimension or "length", "2.4 m")
        hint = (
            f"Write its unit, like {text.strip() + ' ' + example.split()[1]!r}."
            if " " in example
            else "Add its unit."
        )
        raise UnreadableValue(f"{text!r} has no unit.", hint)
    if dimension is not None and unit != dimension and not (bare and not unit):
        wanted = dimension.removesuffix("/time")
        rate = " a second" if dimension.endswith("/time") else ""
        message = f"{text!r} is {_called(unit)}, where {_called(wanted)}{rate} is wanted."
        raise UnreadableValue(message, f"Write it like {DIMENSIONS.get(wanted, '0.5')!r}.")
    return Quantity(value, low, high, unit, text.strip(), assumed)


def _called(dimension: str) -> str:
    names = {"": "a bare number", "voltage": "volts", "current": "amperes", "power": "watts"}
    article = "an" if dimension[:1] in "aeiou" else "a"
    return names.get(dimension, f"{article} {dimension}")


_RATING_PART = re.compile(rf"\s*(?:(?:about|assumed)\s+)?{_NUMBER}\s*{_UNIT}")


_RATING_WORDS = re.compile(
    r"(?<=[\d\s])(amp(?:ere)?s?[\s.-]*h(?:ou)?rs?\.?|a\.?\s?h\.?|volts?|v|amp(?:ere)?s?|watts?|w|ohms)(?![\w/])",
    re.IGNORECASE,
)


def _as_stamped(text: str) -> str:
    """A rating with its words put as units, ``12 V 60 Ah`` for ``12 volts, 60 amp hours``."""

    def unit(found: re.Match[str]) -> str:
        letters = re.sub(r"[\s.-]", "", found[1]).casefold()
        return " Ah" if letters.endswith(("h", "hour", "hours", "hr", "hrs")) else " " + _WORDS[letters]

    return re.sub(r"\s+", " ", re.sub(r"[,;@]|\bat\b", " ", _RATING_WORDS.sub(unit, text))).strip()


def _better_rating(text: str) -> str:
    """The same rating as it should be written, or "" where putting units for words does not make one."""
    better = _as_stamped(text)
    if better == text.strip():
        return ""
    try:
        _rating_parts(better)
    except UnreadableValue:
        return ""
    return better


@lru_cache(maxsize=65536)
def _rating_parts(text: str) -> tuple[tuple[str, Quantity], ...]:
    rest, parts = text.strip(), {}
    rest = re.sub(r"(?<=[A-Za-z%Ω])\s*,\s+", " ", rest)
    apart = re.sub(r"\s*(?:[,;@]|/(?=\s*\d)| at )\s*", " ", rest)
    if apart != rest and re.search(r"[A-Za-z%][^/]*\d", apart) and not re.search(r"\d/\d", rest):
        hint = f"Write the amounts one behind the other: {apart!r}."
        raise UnreadableValue(f"{text!r} is no rating.", hint)
    while rest:
        match = _RATING_PART.match(rest)
        if not match:
            raise UnreadableValue(
                f"{text!r} is no rating.", "Write it as stamped, with units, like '24 V 6 W'."
            )
        quantity = read_quantity(match.group())
        if quantity.dimension in parts:
            hint = "Write each unit once; several ratings of one item go into 'ratings'."
            raise UnreadableValue(f"{text!r} gives two values of one kind.", hint)
        parts[quantity.dimension] = quantity
        rest = rest[match.end() :].lstrip(" ,")
    if not parts:
        raise UnreadableValue(
            "The rating is empty.", "Write it as stamped, like '24 V 6 W', or leave the key out."
        )
    return tuple(parts.items())


def read_rating(text: str) -> Rating:
    """Read a rating as it is stamped on the item.

    Parameters
    ----------
    text
        Amounts one behind the other, ``24 V 45 Ah``.

    Returns
    -------
    dict of str to Quantity
        By dimension.

    Raises
    ------
    UnreadableValue
        Where a part is no amount, or one dimension comes twice.

    Examples
    --------
    >>> {k: q.value for k, q in read_rating("24 V 6 W").items()}
    {'voltage': 24.0, 'power': 6.0}
    """
    try:
        return dict(_rating_parts(text))
    except UnreadableValue as slip:
        if better := _better_rating(text):
            raise UnreadableValue(slip.message, f"Write {better!r}.") from None
        raise


_STRANDS = re.compile(r"(\d+)\s*/\s*(\d*\.?\d+)\s*(mm|in)?\Z")
_AREA = re.compile(r"(\d*\.?\d+)\s*(?:mm2|mm²)\Z")
_GAUGE = re.compile(r"(AWG|SWG)\s*(\d{1,2}|0{2,6}|[1-7]/0)\Z", re.IGNORECASE)
_CORES = {"twin": 2, "pair": 2, "triple": 3, "three-core": 3, "quad": 4, "four-core": 4}


@lru_cache(maxsize=4096)
def read_size(text: str) -> Size:
    """Read a conductor's size.

    Parameters
    ----------
    text
        ``1.0 mm2``, ``14/0.30 mm``, ``23/.0076 in``, ``AWG 16``, ``SWG 20``, each perhaps after ``twin``.

    Returns
    -------
    Size
        With the metal's area [m2] where the text itself gives it.

    Raises
    ------
    UnreadableValue
        Where it is none of these.

    Examples
    --------
    >>> read_size("23/.0076 in").strands
    23
    """
    bare, cores = text.strip(), 1
    word, _, rest = bare.partition(" ")
    if word in _CORES:
        bare, cores = rest.strip(), _CORES[word]
    if match := _AREA.match(bare):
        return Size("area", float(match[1]) * 1e-6, 0, 0.0, "", cores, text.strip())
    if match := _STRANDS.match(bare):
        if not match[3]:
            # The thickest strand in inches is a tenth of the thinnest one in millimetres: the figure tells.
            unit = "in" if float(match[2]) < 0.1 else "mm"
            raise UnreadableValue(f"{text!r} has no unit.", f"Write {f'{bare} {unit}'!r}.")
        diameter = float(match[2]) * (INCH if match[3] == "in" else 1e-3)
        strands = int(match[1])
        if strands == 0 or diameter <= 0:
            raise UnreadableValue(
                f"{text!r} is no conductor.", "Write strands over their diameter, like '14/0.30 mm'."
            )
        return Size(
            "strands", strands * math.pi / 4 * diameter**2, strands, diameter, "", cores, text.strip()
        )
    if match := _GAUGE.match(bare):
        return Size(match[1].lower(), 0.0, 0, 0.0, match[2], cores, text.strip())
    raise UnreadableValue(f"{text!r} is no size of conductor.", _size_hint(bare))


_SIZE_HABITS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"(\d*[.,]?\d+)\s*(?:sq\.? ?mm\.?|mm\^2|mm sq\.?|qmm)\Z", re.IGNORECASE), r"\1 mm2"),
    (re.compile(r"(\d{1,2}|0{2,6})\s*awg\Z", re.IGNORECASE), r"AWG \1"),
    (re.compile(r"(\d{1,2}|0{2,6})\s*s\.?w\.?g\.?\Z", re.IGNORECASE), r"SWG \1"),
    (re.compile(r"(\d+\s*/\s*\d*\.?\d+)\s*(?:\"|''|inch|inches|ins?\.)\Z", re.IGNORECASE), r"\1 in"),
    (re.compile(r"(\d*[.,]\d+|\d+)\Z"), r"\1 mm2"),
    (re.compile(r"(\d+)\s*[x×*]\s*(\d*\.?\d+)\s*(mm|in)\Z", re.IGNORECASE), r"\1/\2 \3"),
    (re.compile(r"(\d+),(\d+)\s*(mm2|mm²)\Z"), r"\1.\2 \3"),
)


_SOME_GAUGE = re.compile(
    r"(?:(?:no\.?|gauge|ga\.?|#)\s*)?(\d{1,2}|0{2,6})\s*(?:ga\.?|gauge|g\.?|bwg|#)?\Z", re.IGNORECASE
)


def _size_hint(bare: str) -> str:
    """What to write for a size that is written in some other way."""
    if (gauge := _SOME_GAUGE.match(bare)) and not bare.isdigit():
        return (
            f"Write which gauge it is: 'SWG {gauge[1]}' (British standard) or 'AWG {gauge[1]}' (American); "
            "they differ widely in area."
        )
    for pattern, put in _SIZE_HABITS:
        if pattern.match(bare):
            return f"Write {pattern.sub(put, bare).replace(',', '.')!r}."
    return "Write '1.0 mm2', '14/0.30 mm', '23/.0076 in', 'AWG 16', 'SWG 20', or a cable of the catalogue."


_DAY = r"\d{4}(?:-\d{2}(?:-\d{2})?)?"


def read_date(text: str) -> Date:
    """Read a date: ``1937``, ``1937-05-11``, ``about 1937``, ``1937 to 1939``, ``before 1940``.

    Parameters
    ----------
    text
        As written.

    Returns
    -------
    Date
        Its ends as ISO text; "about" is two years either way.

    Raises
    ------
    UnreadableValue
        Where it is no such date.

    Examples
    --------
    >>> read_date("1937 to 1939").latest
    '1939-12-31'
    """
    bare = text.strip()
    if re.fullmatch(_DAY, bare) and _possible(bare):
        return Date(_earliest(bare), _latest(bare), bare)
    span = re.fullmatch(rf"({_DAY})\s+to\s+({_DAY})", bare)
    if span and span[1] <= span[2] and _possible(span[1]) and _possible(span[2]):
        return Date(_earliest(span[1]), _latest(span[2]), bare)
    if match := re.fullmatch(r"about (\d{4})", bare):
        year = int(match[1])
        return Date(f"{year - 2:04d}-01-01", f"{year + 2:04d}-12-31", bare)
    match = re.fullmatch(rf"(before|after) ({_DAY})", bare)
    if match and _possible(match[2]):
        return (
            Date("", _earliest(match[2]), bare) if match[1] == "before" else Date(_latest(match[2]), "", bare)
        )
    raise UnreadableValue(f"{text!r} is no date.", _date_hint(bare))


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def _date_hint(bare: str) -> str:
    """What to write for a date that is written in some other way; day and month are never guessed."""
    around = re.match(r"(?:c|ca|circa|about|approx)\.? ?(\d{4})\Z", bare, re.IGNORECASE)
    span = re.match(r"(\d{4})\s*[-–/]\s*(\d{4}|\d{2})\Z", bare)
    words = re.match(r"(?:(\d{1,2})(?:st|nd|rd|th)? )?([A-Za-z]{3})[a-z]*\.?,? (\d{4})\Z", bare)
    decade = re.match(r"(\d{3})0'?s\Z", bare)
    loose = re.match(r"(\d{4})-(\d{1,2})-(\d{1,2})\Z", bare)
    if around:
        return f"Write 'about {around[1]}'."
    if span and int(span[2]) > int(span[1][-len(span[2]) :]):
        return f"Write {f'{span[1]} to {span[1][: 4 - len(span[2])]}{span[2]}'!r}."
    if words and words[2].casefold() in _MONTHS:
        month = _MONTHS.index(words[2].casefold()) + 1
        day = f"-{int(words[1]):02d}" if words[1] else ""
        return f"Write {f'{words[3]}-{month:02d}{day}'!r}."
    if decade:
        return f"Write '{decade[1]}0 to {decade[1]}9'."
    if loose and _possible(f"{loose[1]}-{int(loose[2]):02d}-{int(loose[3]):02d}"):
        return f"Write '{loose[1]}-{int(loose[2]):02d}-{int(loose[3]):02d}'."
    return "Write '1937', '1937-05-11' (year, month, day), 'about 1937', '1937 to 1939' or 'before 1940'."


def _possible(day: str) -> bool:
    year, month, number = (*map(int, day.split("-")), 1, 1)[:3]
    return 1 <= month <= 12 and year > 0 and 1 <= number <= monthrange(year, month)[1]


def _earliest(day: str) -> str:
    return day + "-01-01"[: 10 - len(day)] if len(day) != 7 else day + "-01"


def _latest(day: str) -> str:
    if len(day) == 7:
        year, month = map(int, day.split("-"))
        return f"{day}-{monthrange(year, month)[1]:02d}"
    return day + "-12-31" if len(day) == 4 else day


_SHOWN: dict[str, tuple[tuple[float, float, str], ...]] = {
    "voltage": ((1.0, 1.0, "V"), (0.0, 1e-3, "mV")),
    "current": ((1.0, 1.0, "A"), (0.0, 1e-3, "mA")),
    "power": ((1e3, 1e3, "kW"), (0.1, 1.0, "W"), (0.0, 1e-3, "mW")),
    "resistance": ((1e6, 1e6, "Mohm"), (1e3, 1e3, "kohm"), (1.0, 1.0, "ohm"), (0.0, 1e-3, "mohm")),
    "charge": ((0.0, 3600.0, "Ah"),),
    "length": ((1.0, 1.0, "m"), (0.0, 1e-3, "mm")),
    "area": ((0.0, 1e-6, "mm2"),),
    "angle": ((0.0, 1.0, "deg"),),
    "rotation": ((0.0, 1.0, "rev/min"),),
    "speed": ((0.0, 1852.0 / 3600.0, "kt"),),
    "pressure": ((0.0, 6894.757293168361, "lb/in2"),),
    "volume": ((0.0, IMPERIAL_GALLON, "gal(UK)"),),
    "mass": ((0.0, 1.0, "kg"),),
    "light": ((0.0, 1.0, "cp"),),
    "temperature": ((0.0, 1.0, "°C"),),
    "time": ((3600.0, 3600.0, "h"), (90.0, 60.0, "min"), (0.0, 1.0, "s")),
    "capacitance": ((0.0, 1e-6, "uF"),),
    "": ((0.0, 1.0, ""),),
}

_NOUGHT = {"voltage": 1e-5, "current": 1e-6, "power": 1e-6}
"""Less than this [SI] is written as nought: a millivoltmeter tells a hundredth of a millivolt at best."""

_PLAIN = {"power": "W", "resistance": "ohm"}
"""The unit of nought, where the first of the list is a large one."""


def as_written(value: float, dimension: str, *, digits: int = 3) -> str:
    """Write an inside value with a unit that suits its size.

    Parameters
    ----------
    value
        A plain number [1] in the inside unit of the dimension.
    dimension
        A key of :data:`DIMENSIONS`.
    digits
        Significant digits.

    Returns
    -------
    str
        Such as ``26.9 V`` or ``340 mA``.

    Examples
    --------
    >>> as_written(0.0125, "current")
    '12.5 mA'
    >>> as_written(642.2, "power")
    '642 W'
    """
    if dimension == "fraction":
        return f"{_rounded(value * 100, digits)} %"
    if abs(value) < _NOUGHT.get(dimension, 0.0) or value == 0:
        return f"0 {_PLAIN.get(dimension) or _SHOWN.get(dimension, _SHOWN[''])[0][2]}".strip()
    shown = _SHOWN.get(dimension, _SHOWN[""])
    factor, unit = next((f, u) for least, f, u in shown if abs(value) >= least or least == 0.0)
    return f"{_rounded(value / factor, digits)} {unit}".strip()


def as_bare(number: float) -> str:
    """Write a number as one would by hand: no exponent, no point behind a whole number.

    Parameters
    ----------
    number
        Any finite number [1].

    Returns
    -------
    str
        Which reads back as the same number.

    Examples
    --------
    >>> as_bare(2.0), as_bare(0.00025), as_bare(12)
    ('2', '0.00025', '12')
    """
    text = repr(float(number) + 0.0)  # no minus before nought
    if "e" in text or "inf" in text or "nan" in text:
        text = format(Decimal(text), "f") if math.isfinite(number) else text
    return text.removesuffix(".0")


def _rounded(value: float, digits: int) -> str:
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
