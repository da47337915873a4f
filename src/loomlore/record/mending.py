"""The smallest change that makes a broken line of TOML readable, and how to say it.

The line is tried with one change after another: a quote, comma, bracket, brace or equals sign put in, a token
taken out, bare words put in quotes. Of the changes that make it readable, the one whose result has known keys
and readable values wins; where none does it alone, the one after which TOML gets furthest is kept and the
search goes on from there. Nobody's text is changed: the result is what the finding tells the user to write.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from loomlore.record.keys import HEADER, TABLES, Key, read_keys
from loomlore.record.places import Path
from loomlore.record.values import ID, LOST, MARK

__all__ = ["Effort", "Mend", "MendSlip", "mended"]

MOST_CHANGES = 6
KEPT = 4  # unreadable lines from which the search goes on
LONGEST = 20_000


@dataclass
class Effort:
    """How many characters may still be read in trying; when it is used up, lines are only reported."""

    left: int = 8_000_000


@dataclass(frozen=True, slots=True)
class MendSlip:
    """One change: the offset in the line as written, what is wrong, what to write."""

    at: int
    message: str
    hint: str


@dataclass(frozen=True)
class Mend:
    """What a mended line holds, and the changes that were needed."""

    body: Mapping[str, Any]
    slips: tuple[MendSlip, ...]


@dataclass(frozen=True, slots=True)
class _Change:
    """Replace ``text[start:end]`` by ``put``; ``cost`` orders changes that do equally well."""

    start: int
    end: int
    put: str
    what: str
    cost: float = 1.0

    def of(self, text: str) -> str:
        return text[: self.start] + self.put + text[self.end :]


@dataclass(frozen=True)
class _Trial:
    """The line as changed so far, each change with the text before it; ``misfits`` once it can be read."""

    text: str
    changes: tuple[tuple[_Change, str], ...] = ()
    refused: int | None = None
    misfits: float = 0.0

    def after(self, change: _Change, text: str) -> _Trial:
        return _Trial(text, (*self.changes, (change, self.text)), _refusal(text))

    @property
    def cost(self) -> float:
        """What speaks against a readable one: misfits weigh more than changes."""
        return 1.5 * self.misfits + sum(change.cost for change, _ in self.changes)

    @property
    def unread(self) -> tuple[float, float]:
        """How much of an unreadable one is still ahead."""
        return len(self.text) - (self.refused or 0), sum(change.cost for change, _ in self.changes)


def mended(chunk: str, heading: Path, effort: Effort) -> Mend | None:
    """Mend a chunk of text.

    Parameters
    ----------
    chunk
        A key and its value, perhaps over several lines, that TOML refuses.
    heading
        The path of the heading above it.
    effort
        What may be spent; made less.

    Returns
    -------
    Mend or None
        None where nothing helps.
    """
    if len(chunk) > LONGEST:
        return None
    start = _straightened(chunk)
    if start.refused is None:
        return _mend(start) if start.changes else None
    found: _Trial | None = None
    waiting = [start]
    for _ in range(MOST_CHANGES):
        readable, waiting = _one_step(waiting, heading, effort)
        found = min(filter(None, (found, *readable)), key=lambda trial: trial.cost, default=None)
        if (
            not waiting
            or effort.left <= 0
            or (found is not None and found.cost <= min(w.unread[1] for w in waiting) + 1)
        ):
            break
    return _mend(found) if found is not None else None


def _one_step(waiting: list[_Trial], heading: Path, effort: Effort) -> tuple[list[_Trial], list[_Trial]]:
    """Try every single change on each line that waits: the readable results, and the best of the others."""
    readable: list[_Trial] = []
    others: dict[str, _Trial] = {}
    for trial in waiting:
        for change in _changes(trial.text, trial.refused or 0):
            if effort.left <= 0:
                break
            after = trial.after(change, change.of(trial.text))
            effort.left -= len(after.text) + 40
            if after.refused is None:
                misfits = _misfits(after.text, heading)
                if misfits is not None:
                    readable.append(replace(after, misfits=misfits))
            elif after.unread[0] < trial.unread[0]:
                others.setdefault(after.text, after)
    return readable, sorted(others.values(), key=lambda trial: trial.unread)[:KEPT]


def _mend(trial: _Trial) -> Mend:
    return Mend(tomllib.loads(trial.text), tuple(_slips(trial)))


# --- what TOML says ----------------------------------------------------------------------------------------

_AT = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)")


def _refusal(text: str) -> int | None:
    """The offset at which TOML gives up; None where it does not."""
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = _offset(str(error), text)
        # An open text is noticed at the end of its line, and began to be wrong at its quote.
        return _open_quote(text, at) if text[at : at + 1] in ("", "\n") else at
    except (ValueError, RecursionError):
        return 0
    return None


def _offset(refusal: str, text: str) -> int:
    found = _AT.search(refusal)
    if not found or not found[1]:
        return len(text)
    at = 0
    for _ in range(int(found[1]) - 1):
        at = text.find("\n", at) + 1
    return min(at + int(found[2]) - 1, len(text))


def _open_quote(text: str, at: int) -> int:
    """The quote that is open at the end of a line; the end itself where none is."""
    start = text.rfind("\n", 0, at) + 1
    lone = [m.start() for m in _TOKEN.finditer(text, start, at) if m.group() in ('"', "'")]
    return lone[-1] if lone else at


# --- blanks, quotes and line ends of a word processor ------------------------------------------------------

_STRING = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'')
_CURLY = re.compile(r"[“”„‟«»]|(?<=[=,\[{])(\s*)[‘’‚`´]|[‘’`´](?=\s*(?:[,\]}]|$))", re.MULTILINE)
_NESTED = re.compile(r'''"([^"'=\[\]{},\n]*)"([^\s"'=\[\]{},#\n][^"'=\[\]{},\n]*)"([^"'=\[\]{},\n]*)"''')
"""A text in quotes with another inside: TOML never has a word directly behind a closing quote."""
_ODD_BLANK = re.compile(r"[\u00a0\u1680\u2000-\u200b\u202f\u205f\u2060\u3000\ufeff\u000b\u000c]")


def _straightened(chunk: str) -> _Trial:
    """Straight quotes for curly ones, blanks for odd blanks, one line for a thing spread over several."""
    trial = _Trial(chunk, refused=_refusal(chunk))
    for pattern, put, what in ((_ODD_BLANK, " ", "odd blank"), (_CURLY, '"', "curly quotes")):
        straight = _outside_strings(trial.text, pattern, put)
        if what == "curly quotes" and _refusal(straight) is not None:
            everywhere = pattern.sub(lambda m: (m[1] or "") + '"', trial.text)
            straight = everywhere if _refusal(everywhere) is None else straight
        if straight != trial.text:
            at = next(i for i, (a, b) in enumerate(zip(trial.text, straight, strict=False)) if a != b)
            trial = trial.after(_Change(at, at, "", what), straight)
    flat = _NESTED.sub("\"\\1'\\2'\\3\"", trial.text) if trial.refused is not None else trial.text
    if flat != trial.text and _refusal(flat) is None:
        at = next(_NESTED.finditer(trial.text)).start()
        trial = trial.after(_Change(at, at, "", "nested quotes"), flat)
    joined = _on_one_line(trial.text)
    if joined != trial.text:
        at = trial.text.index("\n")
        trial = trial.after(_Change(at, at, "", "spread"), joined)
    return trial


def _outside_strings(text: str, pattern: re.Pattern[str], put: str) -> str:
    parts, at = [], 0
    for found in _STRING.finditer(text):
        parts.append(
            pattern.sub(lambda m: (m.groups()[0] or "" if m.groups() else "") + put, text[at : found.start()])
        )
        parts.append(found.group())
        at = found.end()
    parts.append(pattern.sub(lambda m: (m.groups()[0] or "" if m.groups() else "") + put, text[at:]))
    return "".join(parts)


_LEXED = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}\n]')


def _on_one_line(text: str) -> str:
    """A thing in braces over several lines, on one; each character keeps its offset."""
    opened: list[str] = []
    out = list(text)
    for found in _LEXED.finditer(text):
        token = found.group()
        in_braces = bool(opened) and opened[-1] == "{"
        if token[0] == "#" and in_braces:
            out[found.start() : found.end()] = " " * len(token)
        elif token == "\n" and in_braces:
            out[found.start()] = " "
        elif token in "[{":
            opened.append(token)
        elif token in "]}" and opened:
            opened.pop()
    joined = "".join(out)
    if joined == text or opened:
        return text
    return re.sub(r",(\s*\})", r" \1", joined)


# --- changes worth trying ----------------------------------------------------------------------------------

_TOKEN = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|["\']|[{}\[\],=:;()]|[^\s{}\[\],="\'#:;()]+|#.*')
_EDGE = re.compile(r"(?<=[^\s\"])(?=[\s,=\]}\[{#]|$)|(?<=[\s,=\[{])(?=[^\s\"])|(?<=[\]}])", re.MULTILINE)
_REPLACED = {":": "=", ";": ",", "(": "{", ")": "}", "'": '"'}


_BARE_DECIMAL = re.compile(r"(?<==)[ \t]*(\d+),(\d+[^,\]}\"'\n]*)(?=[,\]}]|$)", re.MULTILINE)
_BARE_VALUE = re.compile(r"(?<==)[ \t]*([^\s\"'\[{][^\"'\n\]}{\[=]*?)[ \t]*(?=,|\}|\]|#|$)", re.MULTILINE)
_BARE_ELEMENT = re.compile(r"(?<=[\[,])[ \t]*([^\s\"'\[{\]][^\"'\n\]}{\[,=]*?)[ \t]*(?=,|\])")


def _window(text: str, at: int) -> tuple[int, int]:
    """The line where reading stopped, with the end of the one before."""
    start = text.rfind("\n", 0, max(at - 1, 0)) + 1
    end = text.find("\n", at)
    before = text.rfind("\n", 0, max(start - 1, 0)) + 1 if not text[start:at].strip() and start else start
    return before, len(text) if end < 0 else end


def _changes(text: str, at: int) -> Iterator[_Change]:
    start, end = _window(text, at)
    spans = [(m.start(), m.end()) for m in _TOKEN.finditer(text, start, end) if not m.group().startswith("#")]
    for edge in sorted({m.start() for m in _EDGE.finditer(text, start, end)} | {end}):
        yield _Change(edge, edge, '"', "quote")
    edges = sorted({edge for span in spans for edge in span} | {end})
    for edge in edges:
        for put in ",={}[]":
            yield _Change(edge, edge, put, "missing", 1.05 if put in "[]" else 1.0)
        yield _Change(edge, edge, "\n", "two lines", 1.4)
    for index, (first, last) in enumerate(spans):
        token = text[first:last]
        yield from _token_changes(text, spans, index, token)
    yield from _bare_words(text, start, end)


def _bare_words(text: str, start: int, end: int) -> Iterator[_Change]:
    """Words that stand where a text in quotes belongs: behind "=", and in lists."""
    part = text[start:end]
    for found in _BARE_DECIMAL.finditer(part):
        put = f'"{found[1]}.{found[2].rstrip()}"'
        yield _Change(start + found.start(1), start + found.end(2), put, "bare", 1.05)
    for pattern in (_BARE_VALUE, _BARE_ELEMENT):
        for found in pattern.finditer(part):
            yield _Change(start + found.start(1), start + found.end(1), f'"{found[1]}"', "bare", 1.1)


def _token_changes(text: str, spans: list[tuple[int, int]], index: int, token: str) -> Iterator[_Change]:
    first, last = spans[index]
    before = text[spans[index - 1][0] : spans[index - 1][1]] if index else ""
    doubled = token == before
    if doubled or token in ",={}[]\"'":
        yield _Change(first, last, "", "doubled" if doubled else "too many", 0.9 if doubled else 1.2)
    else:
        yield _Change(first, last, "", "too many", 2.0)
    bare = re.sub(r"[^A-Za-z0-9_.-]", "", token)
    if bare and bare != token and token[0] not in "\"'":
        yield _Change(first, last, bare, "instead", 1.2)
    if token in _REPLACED:
        yield _Change(first, last, _REPLACED[token], "instead", 1.05)
    if token.casefold() in ("true", "false", "yes", "no", "on", "off") and token not in ("true", "false"):
        right = "true" if token.casefold() in ("true", "yes", "on") else "false"
        yield _Change(first, last, right, "instead", 0.95)
    if token[0] in "\"'" and len(token) > 1 and before in ("{", ","):
        yield _Change(first, first, f'"{LOST}" = ', "no key", 1.3)
    if token == "=" and (before in "{," or not index):
        yield _Change(first, first, f'"{LOST}" ', "no key", 1.3)
    if token == "=":
        yield _Change(last, last, f' "{LOST}"', "no value", 1.3)
        previous = [text[a:b] for a, b in spans[: index - 1]]
        if before in previous:
            stop = next((b for a, b in spans[index:] if text[a:b] == ","), None)
            if stop is not None:
                yield _Change(spans[index - 1][0], stop, "", "key twice", 1.6)
            comma = next((a for a, b in reversed(spans[: index - 1]) if text[a:b] == ","), None)
            close = next((a for a, b in spans[index:] if text[a:b] == "}"), None)
            if comma is not None and close is not None:
                yield _Change(comma, close, " ", "key twice", 1.7)


def _misfits(text: str, heading: Path) -> float | None:
    """How little the result looks like what belongs under the heading."""
    body = tomllib.loads(text)
    if not body:
        return None
    match heading:
        case ("dossier",):
            return _unfit(body, HEADER)
        case ("service", _, "cables"):
            return _unfit_things(body, "cable")
        case ("service", _, "cables", _):
            return _unfit(body, TABLES["cable"].keys)
        case ("way", _):
            return _unfit_things(body, "way")
        case ("kind", *_) | ("scale", *_):
            return _lost(body)
        case (str() as word,) if word in TABLES:
            return _unfit_things(body, word)
        case (str() as word, _) if word in TABLES:
            return _lost(body.get("id", "")) + _unfit(
                {k: v for k, v in body.items() if k != "id"}, TABLES[word].keys, is_open=TABLES[word].open
            )
    return _lost(body)


def _unfit_things(body: Mapping[str, Any], word: str) -> float:
    table = TABLES[word]
    shape = MARK if table.ids in ("mark", "way") else ID
    unfit = 0.0
    for id_, raw in body.items():
        unfit += 0 if shape.match(id_) else 3
        if isinstance(raw, Mapping):
            unfit += _unfit(raw, table.keys, needed=table.needed, is_open=table.open)
        else:
            unfit += 5
    return unfit


def _unfit(
    raw: Mapping[str, Any], keys: Mapping[str, Key], *, needed: Iterable[Key] = (), is_open: bool = False
) -> float:
    """Slips of a thing's keys, and keys that no table has, counted twice."""
    _, slips = read_keys(raw, keys, needed=needed, is_open=is_open)
    unknown = [key for key in raw if key not in keys and key != LOST]
    strange = [key for key in unknown if not (is_open and ID.match(key))]
    shaped = [key for key in unknown if isinstance(raw[key], Mapping | list)]
    return len(slips) + 2 * len(strange) + len(shaped) + _lost(raw)


_QUOTES = frozenset("\"'“”")


def _lost(raw: Any) -> float:
    """A little for each key or value that is not there, and for texts that seem to begin or end wrong."""
    if isinstance(raw, str):
        quoted = raw[:1] in _QUOTES or raw[-1:] in _QUOTES if raw else False
        swallowed = re.search(r"[\w-] *= *", raw) is not None
        return 0.2 if raw == LOST else 0.3 if quoted or swallowed else 0.1 if raw != raw.strip() else 0.0
    inner = (*raw.keys(), *raw.values()) if isinstance(raw, Mapping) else raw if isinstance(raw, list) else ()
    return sum(_lost(part) for part in inner)


# --- saying it ---------------------------------------------------------------------------------------------


def _slips(trial: _Trial) -> Iterator[MendSlip]:
    for index, (change, before) in enumerate(trial.changes):
        after = trial.changes[index + 1][1] if index + 1 < len(trial.changes) else trial.text
        at = change.start
        for earlier, _ in reversed(trial.changes[:index]):
            if earlier.start < at:
                at -= len(earlier.put) - (earlier.end - earlier.start)
        # What a later change does nearby is part of what to write, where the line stays as long as it was.
        shown_in = trial.text if len(trial.changes) == 1 else after
        message, hint = _said(change, before, shown_in)
        yield MendSlip(max(at, 0), message, hint.replace(f'"{LOST}"', "…"))


def _said(change: _Change, before: str, after: str) -> tuple[str, str]:
    """What is wrong, and what to write."""
    gone = before[change.start : change.end]
    shown = _shown(after, change.start, change.start + len(change.put))
    match change.what:
        case "quote":
            return "a quote is missing.", f"Write {_shown_string(after, change.start)}."
        case "bare":
            return f"{gone.strip()} stands without quotes.", f"Write {change.put}."
        case "missing":
            return f"{_NAMED[change.put]} is missing.", f"Write {shown}"
        case "two lines":
            return "two things stand on one line.", "Begin a new line for the second."
        case "doubled" | "too many":
            return _said_too_many(change, before, shown)
        case "instead":
            return f"{_token(gone)} stands where {_token(change.put)} belongs.", f"Write {shown}"
        case "no key":
            return "a key is missing.", f"Write which key it is: {shown}"
        case "no value":
            return "nothing stands behind '='.", "Write the value, or take the key out."
        case "key twice":
            key = re.search(r"[\w-]+", gone)
            return (
                f"{key[0] if key else gone!r} stands twice.",
                f"Keep the one that is right: {gone.strip(' ,')}, or the other.",
            )
        case "spread":
            hint = "Write it on one line, or under its own heading with each key on a line."
            return "a thing in braces goes over several lines.", hint
    return _said_of_signs(change.what, _shown_string(after, change.start))


def _said_of_signs(what: str, string: str) -> tuple[str, str]:
    """Of blanks and quotes as word processors and hurried hands make them."""
    match what:
        case "odd blank":
            return "a blank from a word processor stands here.", "Write an ordinary blank."
        case "nested quotes":
            return "quotes stand within a text in quotes.", f"Write single ones within: {string}."
    return "the quotes are curly.", f"Write straight ones: {string}."


def _said_too_many(change: _Change, before: str, shown: str) -> tuple[str, str]:
    gone = before[change.start : change.end]
    if _lone_word(before, change):
        return f"{_token(gone)} stands without a value.", f"Write {gone.strip()} = true"
    behind = re.match(r"[ \t]*([\w-]+)[ \t]*=", before[change.end :])
    if behind and re.fullmatch(r"[\w-]+", gone.strip()):
        name = f"{gone.strip()} {behind[1]}"
        return f"{name!r} has a blank, which no id and no key has.", f"Write {name.replace(' ', '-')} ="
    return f"{_token(gone)} stands here once too often.", f"Write {shown}"


def _lone_word(before: str, change: _Change) -> bool:
    """Whether what is too many is a bare word alone between braces and commas, as in ``{ spare }``."""
    word = before[change.start : change.end].strip()
    left, right = before[: change.start].rstrip()[-1:], before[change.end :].lstrip()[:1]
    return re.fullmatch(r"[a-z][a-z-]*", word) is not None and left in ("{", ",") and right in ("}", ",")


_NAMED = {",": "a comma", "=": "'='", "{": "'{'", "}": "'}'", "[": "'['", "]": "']'"}


def _token(token: str) -> str:
    """A token in a message: bare signs and words in quotes, texts as they are."""
    return (
        "a comma"
        if token == ","
        else token
        if token[:1] in "\"'" and len(token) > 1
        else f"'{token.strip()}'"
    )


def _shown(text: str, start: int, end: int) -> str:
    """A stretch of the mended text, from the key before a change to the value behind it."""
    spans = [(m.group(), m.start(), m.end()) for m in _TOKEN.finditer(text)]
    before = [span for span in spans if span[2] <= max(start, 0)]
    inside = [span for span in spans if span[1] < end and span[2] > start] if end > start else []
    behind = [span for span in spans if span[1] >= end]
    left = _pair_before(before)
    right = _pair_behind(behind)
    tokens = [*(s[0] for s in left), *(s[0] for s in inside), *(s[0] for s in right)]
    closing = behind[len(right) : len(right) + 1]
    if closing and closing[0][0] == "]" and tokens.count("[") > tokens.count("]"):
        tokens.append("]")
    return _spaced(tokens)


def _pair_before(spans: list[tuple[str, int, int]]) -> list[tuple[str, int, int]]:
    taken: list[tuple[str, int, int]] = []
    for span in reversed(spans[-6:]):
        if taken and span[0] in (",", "{", "["):
            break
        taken.insert(0, span)
    return taken


def _pair_behind(spans: list[tuple[str, int, int]]) -> list[tuple[str, int, int]]:
    taken: list[tuple[str, int, int]] = []
    for span in spans[:4]:
        if span[0] in (",", "}", "]") and taken:
            break
        taken.append(span)
    return taken


def _spaced(tokens: list[str]) -> str:
    text = " ".join(tokens)
    for close, put in ((" ,", ","), ("[ ", "["), (" ]", "]")):
        text = text.replace(close, put)
    return text if len(text) <= 120 else text[:117] + "..."


def _shown_string(text: str, at: int) -> str:
    for found in _STRING.finditer(text):
        if found.start() <= at <= found.end():
            return found.group()
    return _shown(text, at, at)
