"""The small language in which a dossier says when something holds: ``main and not silenced``.

Reading gives a frozen tree; :func:`truth` judges it in Kleene's three values, so that an unknown part
(None) makes the whole unknown only where it matters. Nothing here knows what a name stands for: whoever
judges a sentence brings a function that decides one test.

Grammar (hyphens are letters, there is no arithmetic; the reader below is its recursive descent)::

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
from dataclasses import dataclass, field
from functools import lru_cache

from loomlore.findings import UnreadableValue
from loomlore.quantities import UNITS, Quantity, read_quantity

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

KEYWORDS = frozenset(
    {"and", "or", "not", "is", "one", "of", "through", "volts", "across", "at", "amps", "in"}
)
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
        words = [_word_quoted(word) for word in self.words]
        if self.span:
            return f"{_quoted(self.name)} {verb} {words[0]} through {words[1]}"
        if len(words) > 1:
            return f"{_quoted(self.name)} {verb} one of ({', '.join(words)})"
        return f"{_quoted(self.name)} {verb} {words[0]}"


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
    bracketed: bool = field(default=False, compare=False)

    def __str__(self) -> str:
        return " and ".join(map(_part, self.parts))


@dataclass(frozen=True, slots=True)
class Or:
    """At least one part holds."""

    parts: tuple[Sentence, ...]
    bracketed: bool = field(default=False, compare=False)

    def __str__(self) -> str:
        return " or ".join(map(_part, self.parts))


def _part(sentence: Sentence) -> str:
    """A part as it stands within another: in brackets, so that it reads back as one part."""
    return f"({sentence})" if isinstance(sentence, And | Or) else str(sentence)


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


def _word_quoted(word: str) -> str:
    return word if _WORD.fullmatch(word) and word not in _JOINING and word != "one" else f"'{word}'"


_SLIPS: tuple[tuple[str, str], ...] = (
    (r"!=|<>", "Write 'is not'."),
    (r"==|(?<![<>])=(?!=)", "Write 'is' for a position or a state, or <, <=, >, >= for an amount."),
    (r"&&?", "Write 'and'."),
    (r"\|\|?", "Write 'or'."),
    (r"!", "Write 'not'."),
)


def _refuse_slips(text: str) -> None:
    short = re.search(r"\b(is|are)n['’]t\b", text)
    if short:
        raise UnreadableValue(
            f"{short.group()!r} is no word of a sentence.", "Write 'is not'.", column=short.start() + 1
        )
    bare = re.sub(r"'[^']*'", lambda m: " " * len(m.group()), text)
    for pattern, hint in _SLIPS:
        found = re.search(pattern, bare)
        if found:
            message = f"{found.group()!r} is no word of a sentence."
            raise UnreadableValue(message, hint, column=found.start() + 1)


_NAME = re.compile(
    r"[A-Za-z][A-Za-z0-9-]*(?:\.[A-Za-z0-9_+#/-]+)*|[0-9]+[A-Za-z][A-Za-z0-9-]*(?![A-Za-z0-9.])"
)
_WORD = re.compile(rf"{_NAME.pattern}|[0-9]+(?![A-Za-z0-9.-])")
_NUMBER = re.compile(r"[-+−]?[0-9]+(?:\.[0-9]+)?(?:/[0-9]+)?(?![A-Za-z0-9_.,-])")
_SIGN = re.compile(r"<=|>=|<|>")
_BLANK = re.compile(r"[ \t]*")
_UNIT = re.compile(
    "(?:" + "|".join(re.escape(unit) for unit in sorted(UNITS, key=len, reverse=True)) + r")(?![A-Za-z0-9-])"
)
_UNIT_LIKE = re.compile(r"[^\s()<>=,']+")


class _Reader:
    """One reading of one sentence by recursive descent; ``at`` is the offset of the next character."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.skip()

    def skip(self) -> None:
        """Pass over blanks."""
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def word(self) -> str:
        """The name or word that comes next, "" where none does."""
        found = _NAME.match(self.text, self.at)
        return found.group() if found else ""

    def take(self, length: int) -> None:
        """Go on behind what was looked at."""
        self.at += length
        self.skip()

    def takes(self, token: str) -> bool:
        """Take a word or sign if it comes next."""
        ahead = self.word() if token.isalpha() else self.text[self.at : self.at + len(token)]
        if ahead != token:
            return False
        self.take(len(token))
        return True

    def refused(self, message: str, hint: str, *, at: int | None = None) -> UnreadableValue:
        """A refusal at the next character, or at an offset."""
        return UnreadableValue(message, hint, column=(self.at if at is None else at) + 1)

    def sentence(self) -> Sentence:
        """``conj { "or" conj }``."""
        parts = [self.conjunction()]
        while self.takes("or"):
            parts.append(self.conjunction())
        return parts[0] if len(parts) == 1 else Or(tuple(parts))

    def conjunction(self) -> Sentence:
        """``neg { "and" neg }``."""
        parts = [self.negation()]
        while self.takes("and"):
            parts.append(self.negation())
        return parts[0] if len(parts) == 1 else And(tuple(parts))

    def negation(self) -> Sentence:
        """``"not" neg | "(" sentence ")" | test``."""
        if self.takes("not"):
            return Not(self.negation())
        opened = self.at
        if not self.takes("("):
            return self.test()
        inner = self.sentence()
        if not self.takes(")"):
            if self.at >= len(self.text):
                raise self.refused("A bracket is not closed.", "Write ')' where it ends.", at=opened)
            raise _stray(self)
        return type(inner)(inner.parts, bracketed=True) if isinstance(inner, And | Or) else inner

    def test(self) -> Sentence:
        """One test: a name alone, ``is``, or a comparison."""
        start = self.at
        if _NUMBER.match(self.text, start):
            return self.between(start)
        if self.takes("volts"):
            return self.comparison(self.volts(), start)
        if self.takes("amps"):
            if not self.takes("in"):
                raise self.refused("'in' is missing.", "Write 'amps in', and the cable or contact.")
            return self.comparison(Measure("amps in", self.name("the cable or contact")), start)
        name = self.name("what is meant")
        if self.takes("is"):
            return self.choice(name, start)
        if self.text[self.at : self.at + 1] in ("<", ">"):
            return self.comparison(Measure("name", name), start)
        return Holds(name, start + 1)

    def volts(self) -> Measure:
        """``volts across ELEMENT`` or ``volts at TERMINAL``, behind ``volts``."""
        for word in ("across", "at"):
            if self.takes(word):
                return Measure(f"volts {word}", self.name("the element or terminal"))
        raise self.refused(
            "'across' or 'at' is missing.", "Write 'volts across' an element, or 'volts at' a terminal."
        )

    def name(self, wanted: str) -> str:
        """A plain name, or one in single quotes."""
        if self.text[self.at : self.at + 1] == "'":
            end = self.text.find("'", self.at + 1)
            if end < 0:
                raise self.refused("A quote is not closed.", "Write ' on both sides of the name.")
            quoted = self.text[self.at + 1 : end]
            self.take(end + 1 - self.at)
            return quoted
        word = self.word()
        if wanted == "a word" and not word:
            digits = _WORD.match(self.text, self.at)
            word = digits.group() if digits else ""
        if not word or word in _JOINING:
            raise _stray(self, wanted)
        self.take(len(word))
        return word

    def choice(self, name: str, start: int) -> Is:
        """What stands behind ``is``."""
        negated = self.takes("not")
        words: tuple[str, ...]
        if self.word() == "one" and re.match(r"one[ \t]+of\b", self.text[self.at :]):
            self.takes("one")
            self.takes("of")
            words = self.listed()
            return Is(name, words, negated=negated, column=start + 1)
        words = (self.name("a word"),)
        if self.takes("through"):
            return Is(name, (*words, self.name("a word")), True, negated, start + 1)
        return Is(name, words, negated=negated, column=start + 1)

    def listed(self) -> tuple[str, ...]:
        """``(a, b)`` behind ``one of``."""
        if not self.takes("("):
            raise self.refused("'(' is missing.", "Write the words in brackets: 'is one of (a, b)'.")
        words = [self.name("a word")]
        while self.takes(","):
            words.append(self.name("a word"))
        if not self.takes(")"):
            raise self.refused(
                "The list is not closed.", "Write commas between the words and ')' behind them."
            )
        return tuple(words)

    def sign(self) -> str:
        """A comparison; what is none is refused."""
        found = _SIGN.match(self.text, self.at)
        if not found:
            raise self.refused(
                "A comparison is missing."
                if self.at >= len(self.text)
                else f"{_ahead(self)!r} is no comparison.",
                "Write <, <=, > or >=, and a number with its unit, like '> 26.8 V'.",
            )
        self.take(len(found.group()))
        return found.group()

    def comparison(self, measure: Measure, start: int) -> Compare:
        """``measure CMP QUANTITY``."""
        sign = self.sign()
        return Compare(measure, ((sign, self.quantity()),), start + 1)

    def between(self, start: int) -> Compare:
        """``QUANTITY CMP measure CMP QUANTITY``."""
        low = self.quantity()
        low_sign = self.sign()
        if self.takes("volts"):
            measure = self.volts()
        elif self.takes("amps"):
            self.takes("in")
            measure = Measure("amps in", self.name("the cable or contact"))
        else:
            measure = Measure("name", self.name("what is compared"))
        if not _SIGN.match(self.text, self.at):
            turned = f"{measure} {_MIRROR[low_sign]} {low.text}"
            raise self.refused("The number stands first.", f"Write {turned!r}.", at=start)
        high_sign = self.sign()
        high = self.quantity()
        if low_sign[0] != high_sign[0]:
            raise self.refused(
                "The two comparisons point different ways.", "Write them alike: '0.2 <= x < 0.4'.", at=start
            )
        return Compare(measure, ((_MIRROR[low_sign], low), (high_sign, high)), start + 1)

    def quantity(self) -> Quantity:
        """A number and its unit."""
        found = _NUMBER.match(self.text, self.at) or re.match(r"[-+−]?[0-9.]+", self.text[self.at :])
        comma = re.match(r"[-+]?[0-9]+,[0-9]+", self.text[self.at :])
        if comma:
            right = comma.group().replace(",", ".")
            raise self.refused(f"{comma.group()!r} has a comma.", f"Write a decimal point: {right!r}.")
        if not found:
            raise _no_number(self)
        start, number = self.at, found.group()
        self.take(len(number))
        unit = _UNIT.match(self.text, self.at)
        if unit:
            self.take(len(unit.group()))
            return self.amount(f"{number} {unit.group()}", start)
        like = _UNIT_LIKE.match(self.text, self.at)
        if like and like.group() not in _JOINING and not _SIGN.match(like.group()):
            self.amount(
                f"{number} {like.group()}" if like.group()[0] not in ",." else number + like.group(), start
            )
        return self.amount(number, start)

    def amount(self, text: str, start: int) -> Quantity:
        """Read a quantity, saying where a bad one stands."""
        try:
            return read_quantity(text, bare=True)
        except UnreadableValue as slip:
            raise UnreadableValue(slip.message, slip.hint, column=start + 1) from None


_JOINING = frozenset({"and", "or", "not", "is", "through"})
_NUMBER_WORDS = frozenset(
    "nil no zero half one two three four five six seven eight nine ten twelve twenty thirty".split()
)
_FOR_IS = frozenset("equals equal are was were be stays".split())
_FOR_SIGNS = {
    "above": ">", "over": ">", "exceeds": ">", "more": ">", "greater": ">", "beyond": ">", "past": ">",
    "below": "<", "under": "<", "less": "<", "least": ">=", "most": "<=",
}  # fmt: skip


def _ahead(reader: _Reader) -> str:
    """What stands next, to be named in a message."""
    found = re.match(r"'[^']*'|[^\s()<>=,']+|.", reader.text[reader.at :])
    return found.group() if found else ""


def _no_number(reader: _Reader) -> UnreadableValue:
    ahead = _ahead(reader)
    if not ahead:
        return reader.refused("The sentence breaks off.", "Write a number and its unit, like '26.8 V'.")
    if ahead.casefold() in _NUMBER_WORDS:
        return reader.refused(
            f"{ahead!r} is a number in words.", "Write it in figures with its unit, like '0.2' or '26.8 V'."
        )
    return reader.refused(f"{ahead!r} is no number.", "Write a number and its unit here, like '26.8 V'.")


def _stray(reader: _Reader, wanted: str = "") -> UnreadableValue:
    """A refusal of whatever stands next, with what to write as far as can be told."""
    ahead = _ahead(reader)
    before = re.findall(r"[^\s()]+", reader.text[: reader.at])
    last = before[-1] if before else ""
    if not ahead:
        hint = f"Write {wanted} behind {last!r}." if wanted and last else "Finish it."
        if last in ("and", "or"):
            hint = f"Write the other test behind {last!r}, or take {last!r} out."
        return reader.refused("The sentence breaks off.", hint, at=max(len(reader.text.rstrip()) - 1, 0))
    behind = reader.text[reader.at + len(ahead) :].split()[:1]
    if behind and (behind[0] in _COMPARING) and _is_plain(last) and _is_plain(ahead):
        hint = f"Write {last + '-' + ahead!r} where that is one name, or 'and' between two tests."
        return reader.refused(f"{ahead!r} does not belong here.", hint)
    return reader.refused(f"{ahead!r} does not belong here.", _cure(ahead, last, before, wanted))


_COMPARING = frozenset(("is", "<", "<=", ">", ">="))


def _is_plain(word: str) -> bool:
    return word not in KEYWORDS and re.match(r"[a-z][a-z0-9-]*\Z", word) is not None


_FOR_STATES = {
    "sounds": "sounding", "rings": "sounding", "lights": "lit", "burns": "lit", "glows": "lit", "shines": "lit",
    "glimmers": "glimmering", "runs": "running", "turns": "running", "works": "working", "stops": "stopped",
    "charges": "charging", "discharges": "discharging", "blows": "blown", "fires": "fired",
    "generates": "generating", "conducts": "conducting", "labours": "labouring",
}  # fmt: skip
"""What a handbook's verb is called as a state."""


def _cure(ahead: str, last: str, before: list[str], wanted: str) -> str:
    """What to write instead of ``ahead``, which stands behind ``last``."""
    if ahead == ")":
        return "Take the bracket out, or write the other one."
    if ahead in {",", ";"}:
        return "Write 'and' or 'or' between two tests."
    if ahead == last and ahead in KEYWORDS:
        return f"Write {ahead!r} once."
    if last == "is" or wanted == "a word":
        return "Write one word behind 'is' or 'is not', or 'is one of (a, b)'."
    if ahead in ("and", "or", "through", "is") and (not before or last in KEYWORDS):
        return f"Write a name before {ahead!r}, or take it out."
    if ahead in _FOR_IS:
        return f"Write 'is': '{last} is …'."
    if ahead in _FOR_SIGNS:
        return f"Write {_FOR_SIGNS[ahead]!r} and the number: '{last} {_FOR_SIGNS[ahead]} …'."
    if last and last not in KEYWORDS and ahead in _FOR_STATES:
        return f"Write '{last} is {_FOR_STATES[ahead]}'."
    if last and last not in KEYWORDS and re.match(r"[a-z-]+\Z", ahead):
        one = f"'{last}-{ahead}' where it is one name, "
        return f"Write '{last} is {ahead}' for a position or state, {one}or 'and' between two tests."
    return (
        "Join two tests with 'and' or 'or'; a mark or terminal that is no plain name stands in single quotes."
    )


def _whole(text: str) -> Sentence:
    reader = _Reader(text)
    tree = reader.sentence()
    if reader.at < len(text):
        raise _stray(reader)
    return tree


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
        raise UnreadableValue(
            f"The sentence has {len(text)} characters.", f"Keep it under {LONGEST}; split it."
        )
    if text.count("(") > MOST_BRACKETS:
        raise UnreadableValue("The sentence has too many brackets.", f"Keep it under {MOST_BRACKETS} pairs.")
    if not text.strip():
        raise UnreadableValue("The sentence is empty.", "Write when it holds, or leave the key out.")
    _refuse_slips(text)
    return _whole(text)


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
