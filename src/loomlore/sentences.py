"""The small language in which a dossier says when something holds: ``main and not silenced``.

Reading gives a frozen tree; :func:`truth` judges it in Kleene's three values, so that an unknown part
(None) makes the whole unknown only where it matters. Nothing here knows what a name stands for: whoever
judges a sentence brings a function that decides one test.

Grammar (LALR(1), hyphens are letters, there is no arithmetic)::

    sentence = conj { "or" conj } ;      conj = neg { "and" neg } ;
    neg      = "not" neg | "(" sentence ")" | test ;
    test     = NAME | NAME "is" [ "not" ] choice
             | measure CMP QUANTITY | QUANTITY CMP measure CMP QUANTITY ;
    choice   = word | word "through" word | "one" "of" "(" word { "," word } ")" ;
    measure  = NAME | "volts" "across" ELEMENT | "volts" "at" TERMINAL | "amps" "in" NAME ;
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from loomlore.findings import UnreadableValue
from loomlore.quantities import Quantity, read_quantity

if TYPE_CHECKING:
    from lark import Lark

__all__ = [
    "KEYWORDS",
    "And",
    "Compare",
    "Holds",
    "Is",
    "Measure",
    "Not",
    "Or",
    "Sentence",
    "Test",
    "conjunction",
    "mixes_and_with_or",
    "read_sentence",
    "tests_of",
    "truth",
    "words_of",
]

KEYWORDS = frozenset({"and", "or", "not", "is", "one", "of", "through", "volts", "across", "at", "amps", "in"})
"""Words that no id may be."""

LONGEST = 1000
MOST_BRACKETS = 32


@dataclass(frozen=True, slots=True)
class Measure:
    """What is compared: ``of`` is "name", "volts across", "volts at" or "amps in"."""

    of: str
    name: str

    def __str__(self) -> str:
        return _quoted(self.name) if self.of == "name" else f"{self.of} {_quoted(self.name)}"


@dataclass(frozen=True, slots=True)
class Holds:
    """A bare name: a latch, a cam, a fit, or a state that is simply true or false."""

    name: str
    column: int = 0

    def __str__(self) -> str:
        return _quoted(self.name)


@dataclass(frozen=True, slots=True)
class Is:
    """``name is word``; several ``words`` for "one of", ``span`` for "first through last"."""

    name: str
    words: tuple[str, ...]
    span: bool = False
    negated: bool = False
    column: int = 0

    def __str__(self) -> str:
        verb = "is not" if self.negated else "is"
        if self.span:
            return f"{_quoted(self.name)} {verb} {self.words[0]} through {self.words[1]}"
        if len(self.words) > 1:
            return f"{_quoted(self.name)} {verb} one of ({', '.join(self.words)})"
        return f"{_quoted(self.name)} {verb} {self.words[0]}"


@dataclass(frozen=True, slots=True)
class Compare:
    """A measure against one or two limits; each limit is (comparison as seen from the measure, quantity)."""

    measure: Measure
    limits: tuple[tuple[str, Quantity], ...]
    column: int = 0

    def __str__(self) -> str:
        if len(self.limits) == 2:
            (low_sign, low), (high_sign, high) = self.limits
            return f"{low.text} {_MIRROR[low_sign]} {self.measure} {high_sign} {high.text}"
        sign, limit = self.limits[0]
        return f"{self.measure} {sign} {limit.text}"

    def holds(self, value: float) -> bool:
        """Whether a measured value [SI] keeps to all limits."""
        return all(_COMPARISONS[sign](value, limit.value) for sign, limit in self.limits)


@dataclass(frozen=True, slots=True)
class Not:
    """Negation."""

    part: Sentence

    def __str__(self) -> str:
        inner = str(self.part)
        return f"not ({inner})" if isinstance(self.part, And | Or) else f"not {inner}"


@dataclass(frozen=True, slots=True)
class And:
    """All parts hold."""

    parts: tuple[Sentence, ...]
    bracketed: bool = False

    def __str__(self) -> str:
        return " and ".join(f"({p})" if isinstance(p, Or) else str(p) for p in self.parts)


@dataclass(frozen=True, slots=True)
class Or:
    """At least one part holds."""

    parts: tuple[Sentence, ...]
    bracketed: bool = False

    def __str__(self) -> str:
        return " or ".join(f"({p})" if isinstance(p, And) else str(p) for p in self.parts)


type_of_test = (Holds, Is, Compare)
Test = Holds | Is | Compare
Sentence = Holds | Is | Compare | Not | And | Or

_COMPARISONS: dict[str, Callable[[float, float], bool]] = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}
_MIRROR = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}
_PLAIN_NAME = re.compile(r"[a-z0-9][a-z0-9-]*(\.[A-Za-z0-9_+#/-]+)*\Z")


def _quoted(name: str) -> str:
    return name if _PLAIN_NAME.match(name) and name not in KEYWORDS else f"'{name}'"


_GRAMMAR = r"""
?start: sentence
?sentence: conj ("or" conj)*           -> either
?conj: neg ("and" neg)*                -> both
?neg: "not" neg                        -> negation
    | "(" sentence ")"                 -> bracket
    | test
?test: name                            -> holds
    | name "is" choice                 -> is_
    | name "is" "not" choice           -> is_not
    | measure CMP quantity             -> compare
    | quantity CMP measure CMP quantity -> between
choice: word                           -> single
    | word "through" word              -> span
    | "one" "of" "(" word ("," word)* ")" -> several
?measure: name                         -> of_name
    | "volts" "across" name            -> volts_across
    | "volts" "at" name                -> volts_at
    | "amps" "in" name                 -> amps_in
name: WORD | QUOTED
word: WORD | QUOTED
quantity: NUMBER UNIT?
CMP: "<=" | ">=" | "<" | ">"
NUMBER.2: /[-+]?[0-9]+(\.[0-9]+)?(\/[0-9]+)?(?![A-Za-z0-9_.-])/
UNIT.2: /(?<=[0-9] )(rev\/min|km\/h|lb\/in2|gal\(U[KS]\)|mohm|kohm|Mohm|ohm|mm2|mm²|mΩ|kΩ|MΩ|Ω|mV|kV|V|mA|Ah|A|mW|kW|W|cm|mm|m|ft|in|deg|°C|°|kt|mph|kPa|kg|lb|cp|min|ms|s|h|uF|µF|l|%)(?![A-Za-z0-9-])/
QUOTED: /'[^']*'/
WORD: /[A-Za-z][A-Za-z0-9-]*(\.[A-Za-z0-9_+#\/-]+)*|[0-9]+[A-Za-z][A-Za-z0-9-]*/
%ignore /[ \t]+/
"""


@cache
def _parser() -> Lark:
    from lark import Lark

    return Lark(_GRAMMAR, parser="lalr", propagate_positions=True, maybe_placeholders=False)


_SLIPS: tuple[tuple[str, str], ...] = (
    (r"==|(?<![<>])=(?!=)", "Write 'is' for a position or a state, or <, <=, >, >= for an amount."),
    (r"!=|<>", "Write 'is not'."),
    (r"&&?", "Write 'and'."),
    (r"\|\|?", "Write 'or'."),
    (r"!", "Write 'not'."),
)


def _refuse_slips(text: str) -> None:
    bare = re.sub(r"'[^']*'", lambda m: " " * len(m.group()), text)
    for pattern, hint in _SLIPS:
        found = re.search(pattern, bare)
        if found:
            message = f"{found.group()!r} is no word of a sentence."
            raise UnreadableValue(message, hint, column=found.start() + 1)


@lru_cache(maxsize=65536)
def read_sentence(text: str) -> Sentence:
    """Read one sentence.

    Parameters
    ----------
    text
        A sentence such as ``wheels is moving and throttle < 0.2``.

    Returns
    -------
    Sentence
        Its tree; names are kept as written and resolved by whoever judges it.

    Raises
    ------
    UnreadableValue
        Where the text is no sentence; ``column`` counts from 1 within the text.

    Examples
    --------
    >>> str(read_sentence("a and not (b or c)"))
    'a and not (b or c)'
    >>> str(read_sentence("0.28 <= throttle < 0.45"))
    '0.28 <= throttle < 0.45'
    """
    if len(text) > LONGEST:
        raise UnreadableValue(f"The sentence has {len(text)} characters.", f"Keep it under {LONGEST}; split it.")
    if text.count("(") > MOST_BRACKETS:
        raise UnreadableValue("The sentence has too many brackets.", f"Keep it under {MOST_BRACKETS} pairs.")
    if not text.strip():
        raise UnreadableValue("The sentence is empty.", "Write when it holds, or leave the key out.")
    _refuse_slips(text)
    return _build(_parse(text))


def _parse(text: str) -> Any:
    from lark.exceptions import UnexpectedCharacters, UnexpectedEOF, UnexpectedInput, UnexpectedToken

    try:
        return _parser().parse(text)
    except (UnexpectedEOF, UnexpectedToken) as slip:
        token = getattr(slip, "token", None)
        if token is None or token.type == "$END":
            raise UnreadableValue(
                "The sentence breaks off.", "Finish it, or close its bracket.", column=len(text)
            ) from None
        column = int(slip.column or 1)
        raise UnreadableValue(f"{str(token)!r} does not belong here.", _after(text, column), column=column) from None
    except UnexpectedCharacters as slip:
        column = int(slip.column or 1)
        raise UnreadableValue(
            f"{text[column - 1]!r} does not belong here.", _after(text, column), column=column
        ) from None
    except UnexpectedInput:
        raise UnreadableValue("This is no sentence.", "Write for instance 'main and not silenced'.") from None


_NUMBER_WORDS = {"nil", "zero", "half", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}


def _after(text: str, column: int) -> str:
    """What to write, from what stands before the point where reading stopped."""
    before = re.findall(r"[^\s()]+", text[: column - 1])
    word = re.match(r"[A-Za-z-]+", text[column - 1 :])
    last = before[-1] if before else ""
    if last in ("<", ">", "<=", ">="):
        if word and word.group() in _NUMBER_WORDS:
            return "Write the number in figures with its unit, like '0.2' or '26.8 V'."
        return "Write a number and its unit after the comparison, like '26.8 V'."
    if re.search(r"\d,\d", text):
        return "Write decimals with a point, like '26.8 V'."
    if last == "is":
        return "Write one word after 'is', 'is not', or 'is one of (a, b)'."
    if word and word.group() in ("equals", "are", "was", "than", "above", "below", "over", "under"):
        return "Write 'is' for a position, or <, <=, >, >= for an amount."
    return "Join two tests with 'and' or 'or'; put a mark or terminal that is no plain name in single quotes."


def _build(tree: Any) -> Sentence:
    return _BUILDERS[tree.data](tree)


def _joined(tree: Any, made: type[And] | type[Or]) -> Sentence:
    parts = tuple(_build(child) for child in tree.children)
    return parts[0] if len(parts) == 1 else made(parts)


def _bracketed(tree: Any) -> Sentence:
    inner = _build(tree.children[0])
    if isinstance(inner, And | Or):
        return type(inner)(inner.parts, bracketed=True)
    return inner


def _word(tree: Any) -> str:
    return str(tree.children[0]).strip("'")


def _is(tree: Any, *, negated: bool) -> Is:
    name, choice = tree.children
    words = tuple(_word(w) for w in choice.children)
    return Is(_word(name), words, choice.data == "span", negated, tree.meta.column)


def _measure(tree: Any) -> Measure:
    of = {"of_name": "name", "volts_across": "volts across", "volts_at": "volts at", "amps_in": "amps in"}
    return Measure(of[tree.data], _word(tree.children[0]))


def _quantity(tree: Any) -> Quantity:
    return read_quantity(" ".join(str(part) for part in tree.children), bare=True)


def _compare(tree: Any) -> Compare:
    measure, sign, limit = tree.children
    return Compare(_measure(measure), ((str(sign), _quantity(limit)),), tree.meta.column)


def _between(tree: Any) -> Compare:
    low, low_sign, measure, high_sign, high = tree.children
    limits = ((_MIRROR[str(low_sign)], _quantity(low)), (str(high_sign), _quantity(high)))
    return Compare(_measure(measure), limits, tree.meta.column)


_BUILDERS: dict[str, Callable[[Any], Sentence]] = {
    "either": lambda t: _joined(t, Or),
    "both": lambda t: _joined(t, And),
    "negation": lambda t: Not(_build(t.children[0])),
    "bracket": _bracketed,
    "holds": lambda t: Holds(_word(t.children[0]), t.meta.column),
    "is_": lambda t: _is(t, negated=False),
    "is_not": lambda t: _is(t, negated=True),
    "compare": _compare,
    "between": _between,
}


def mixes_and_with_or(sentence: Sentence) -> bool:
    """Whether ``and`` stands beside ``or`` without brackets anywhere in it.

    Parameters
    ----------
    sentence
        A sentence as read.

    Returns
    -------
    bool
        True where a reader may take it in two ways.
    """
    match sentence:
        case Or(parts):
            bare = any(isinstance(p, And) and not p.bracketed for p in parts)
            return bare or any(mixes_and_with_or(p) for p in parts)
        case And(parts):
            return any(mixes_and_with_or(p) for p in parts)
        case Not(part):
            return mixes_and_with_or(part)
        case _:
            return False


def tests_of(sentence: Sentence) -> Iterator[Test]:
    """Go through the single tests of a sentence, left to right.

    Parameters
    ----------
    sentence
        A sentence as read.

    Yields
    ------
    Test
        Each test, as often as it stands there.
    """
    match sentence:
        case And(parts) | Or(parts):
            for part in parts:
                yield from tests_of(part)
        case Not(part):
            yield from tests_of(part)
        case _:
            yield sentence


def words_of(sentence: Sentence) -> tuple[str, ...]:
    """The names that a sentence speaks of, each once, in order.

    Parameters
    ----------
    sentence
        A sentence as read.

    Returns
    -------
    tuple of str
        Names as written.
    """
    names = (t.measure.name if isinstance(t, Compare) else t.name for t in tests_of(sentence))
    return tuple(dict.fromkeys(names))


def conjunction(*sentences: Sentence | None) -> Sentence | None:
    """Join sentences with "and"; None stands for one that always holds.

    Parameters
    ----------
    *sentences
        Sentences, or None.

    Returns
    -------
    Sentence or None
        None where all are None.
    """
    parts: list[Sentence] = []
    for sentence in sentences:
        if isinstance(sentence, And):
            parts.extend(sentence.parts)
        elif sentence is not None:
            parts.append(sentence)
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else And(tuple(parts))


def truth(sentence: Sentence, decide: Callable[[Test], bool | None]) -> bool | None:
    """Judge a sentence in three values.

    Parameters
    ----------
    sentence
        A sentence as read.
    decide
        Says of one test whether it holds: True, False, or None for unknown.

    Returns
    -------
    bool or None
        Kleene's strong logic: unknown only where the unknown part decides.

    Source
    ------
    [kleene-1952 par. 64]
    """
    match sentence:
        case And(parts):
            unknown = False
            for part in parts:
                value = truth(part, decide)
                if value is False:
                    return False
                unknown = unknown or value is None
            return None if unknown else True
        case Or(parts):
            unknown = False
            for part in parts:
                value = truth(part, decide)
                if value is True:
                    return True
                unknown = unknown or value is None
            return None if unknown else False
        case Not(part):
            value = truth(part, decide)
            return None if value is None else not value
        case _:
            return decide(sentence)
