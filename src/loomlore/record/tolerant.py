"""TOML from a text that may be broken: every slip at its line, and reading on at the next thing.

``tomllib`` reads first; where it refuses, the text is cut into chunks (a heading, or a key with its value)
by how lines begin, and each chunk is read alone. A chunk that is no TOML goes to
:mod:`loomlore.record.mending`, which finds the smallest change that makes it one. What is read from a mended
chunk stands in for what was meant, so that later rules have something to go by; the slip is reported all the
same, and its thing counts as broken.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loomlore.record.keys import TABLES, WORDS, described, heading_of, subject_of, table_that_fits
from loomlore.record.mending import Effort, mended
from loomlore.record.places import KEY, Path, key_parts, lines_of
from loomlore.record.values import LOST

__all__ = ["Effort", "Parsed", "TextSlip", "read_text"]


@dataclass(frozen=True, slots=True)
class TextSlip:
    """Something wrong with the text as TOML: ``path`` is what it costs, ``also`` another line concerned.

    With ``within`` the message is about the thing at the path, and its subject is to be put before it.
    """

    line: int
    column: int
    message: str
    hint: str
    rule: str = "unreadable-text"
    path: Path = ()
    also: int = 0
    within: bool = False


@dataclass(frozen=True)
class Parsed:
    """What a text holds: its tables, the line of each path, its slips, and lines that were lost."""

    raw: Mapping[str, Any]
    lines: Mapping[Path, int]
    slips: tuple[TextSlip, ...] = ()
    lost: tuple[str, ...] = ()


DEEPEST = 16

_LONG_KEY = re.compile(r"(?<![\w\"'-])(?:(?:[\w-]++|\"[^\"\n]*+\"|'[^'\n]*+')[ \t]*+\.[ \t]*+){16}")
"""A key of seventeen parts: nothing of a dossier has them, and tomllib's time grows with their square."""


def read_text(text: str, effort: Effort | None = None) -> Parsed:
    """Read TOML, mending what can be mended.

    Parameters
    ----------
    text
        With plain line ends.
    effort
        How much work may still be spent on mending; one for all files of a dossier.

    Returns
    -------
    Parsed
        As far as it could be read.
    """
    text = text.replace(LOST, "\ufffd")
    if not _LONG_KEY.search(text):
        try:
            return Parsed(tomllib.loads(text), lines_of(text))
        except (ValueError, RecursionError) as refusal:
            reason = str(refusal)
    else:
        reason = "a key has more than sixteen parts"
    reader = _Tolerant(text, effort or Effort())
    parsed = reader.read()
    if parsed.slips:
        return parsed
    line = re.search(r"line (\d+)", reason)
    slip = TextSlip(
        int(line[1]) if line else 1, 1, f"The text is no TOML here: {reason}.", "Look at this line."
    )
    return Parsed(parsed.raw, parsed.lines, (slip,))


@dataclass
class _Chunk:
    """Some lines that belong together: ``what`` is "heading", "pair" or "stray"."""

    what: str
    line: int
    lines: list[str] = field(default_factory=list)
    opened: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "\n".join(self.lines)

    def add(self, line: str) -> None:
        """Take a line, and count its brackets."""
        self.lines.append(line)
        for token in _LEXED.findall(line):
            if token in "[{":
                self.opened.append(token)
            elif token in "]}" and self.opened:
                self.opened.pop()


_TRIPLE = ('"""', "'''")
_HEADING = re.compile(
    r"[\[\s]*[A-Za-z][\w-]*(?:[\s.]+(?:[\w-]+|\"[^\"\n]*\"|'[^'\n]*'))*[\s.]*[\]\s]*(?:#.*)?$"
)
_HALF_HEADING = re.compile(r"\s*\[[\[\s]*[^\"'={},\[\]\d]*[\]\s]*(?:#.*)?$")
_PAIR = re.compile(rf"[ \t]*({KEY})[ \t]*=")
_PAIR_LIKE = re.compile(r"[ \t]*[A-Za-z0-9][\w-]*[ \t]*:?[ \t]*[\[{\"“]")
_LEXED = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*|[\[\]{}]')


def _chunks(text: str) -> list[_Chunk]:
    """Cut a text into headings and pairs by how its lines begin."""
    chunks: list[_Chunk] = []
    last_quotes = {
        quotes: text.count("\n", 0, text.rfind(quotes)) + 1 for quotes in _TRIPLE if quotes in text
    }
    until = ""  # the quotes that close a long text
    for number, line in enumerate(text.split("\n"), 1):
        last = chunks[-1] if chunks else None
        if until and last is not None:
            last.lines.append(line)
            until = "" if until in line else until
            continue
        what = _begins(line, last)
        if not what:
            continue
        if what != "on" or last is None:
            last = _Chunk(what, number)
            chunks.append(last)
        last.add(line)
        until = next((q for q, end in last_quotes.items() if line.count(q) % 2 and end > number), "")
    return chunks


def _begins(line: str, last: _Chunk | None) -> str:
    """What a line begins: "heading", "pair", "stray", "on" where it goes on with the last, "" for none."""
    bare = line.strip()
    opened = last.opened if last is not None and last.what == "pair" else []
    if not bare or bare.startswith("#"):
        return "on" if opened else ""
    if _PAIR.match(line):
        spread = opened and opened[-1] == "{" and last and re.search(r"[,{]\s*(?:#.*)?$", last.lines[-1])
        return "on" if spread or (last and _lost_brace(line, last)) else "pair"
    bracketed = bare[0] == "[" or bare.split("#")[0].rstrip().endswith("]")
    if bracketed and _HEADING.match(line) and not (opened and re.match(r"\[*\s*[\"'\d]", bare)):
        return "heading"
    if opened:
        return "on"
    if _HALF_HEADING.match(line):
        return "heading"
    if _PAIR_LIKE.match(line):
        return "pair"
    short = last is not None and last.what == "pair" and len(last.lines) < 100
    if short and last and bare[0] in ']}{["' and not _complete(last):
        return "on"
    # prose, perhaps a whole page of it, is one finding
    prose = last is not None and last.what == "stray" and not re.search(r"[={}\[\]\"]", line + last.lines[-1])
    return "on" if prose else "stray"


def _lost_brace(line: str, last: _Chunk) -> bool:
    """Whether a line is one of a list of tables whose own ``{`` is lost: it closes one more than it opens."""
    bare = [token for token in _LEXED.findall(line) if token in ("{", "}")]
    in_list = re.match(rf"[ \t]*{KEY}[ \t]*=[ \t]*\[[ \t]*(?:#.*)?(?:\n|$)", last.text) is not None
    return last.what == "pair" and in_list and bare.count("}") == bare.count("{") + 1


def _complete(chunk: _Chunk) -> bool:
    try:
        tomllib.loads(chunk.text)
    except (ValueError, RecursionError):
        return False
    return True


class _Tolerant:
    """One reading of one broken text."""

    def __init__(self, text: str, effort: Effort) -> None:
        self.chunks = _chunks(text)
        self.effort = effort
        self.raw: dict[str, Any] = {}
        self.lines: dict[Path, int] = {}
        self.slips: list[TextSlip] = []
        self.lost: list[str] = []
        self.here: Path | None = ()
        self.skipping = False

    def read(self) -> Parsed:
        """Go through the chunks."""
        open_text = False
        for index, chunk in enumerate(self.chunks):
            if open_text and chunk.what == "stray":
                continue
            open_text = chunk.what == "pair" and chunk.text.count('"""') % 2 == 1
            if chunk.what == "heading":
                self._heading(chunk, self._next_pair(index))
            elif self.skipping or self.here is None:
                self.lost.append(chunk.text)
            else:
                self._pair(chunk)
        return Parsed(self.raw, self.lines, tuple(self.slips), tuple(self.lost))

    def _next_pair(self, index: int) -> _Chunk | None:
        after = self.chunks[index + 1] if index + 1 < len(self.chunks) else None
        return after if after is not None and after.what == "pair" else None

    def _say(self, chunk: _Chunk, at: int, message: str, hint: str, **more: Any) -> None:
        """Report something at an offset within a chunk."""
        before = chunk.text[:at]
        line = chunk.line + before.count("\n")
        column = at - (before.rfind("\n") + 1) + 1
        self.slips.append(TextSlip(line, column, message, hint, **more))

    # headings

    def _heading(self, chunk: _Chunk, after: _Chunk | None) -> None:
        """Take a heading, mending its brackets and points."""
        self.skipping = False
        bare = re.sub(r"#.*", "", chunk.text).strip()
        parts = _heading_parts(bare)
        meant = self._meant_heading(bare, parts, after) if len(parts) <= DEEPEST else None
        if meant is None:
            hint = "Write its table in brackets, like [item] or [service.horn.cables]."
            self._say(chunk, 0, f"{bare[:60]!r} is no heading.", hint, rule="wrong-heading")
            self.here = None
            return
        path, written = meant
        if re.sub(r"\s+|[\"']", "", bare) != re.sub(r"[\"']", "", written):
            self._say(chunk, 0, f"{bare!r} is no heading.", f"Write {written}.", rule="wrong-heading")
        self._enter(chunk, path, is_list=written.startswith("[["))

    def _meant_heading(
        self, bare: str, parts: tuple[str, ...], after: _Chunk | None
    ) -> tuple[Path, str] | None:
        """The path that a heading leads to, and how it should be written."""
        if not parts or parts[0] not in WORDS:
            guess = self._guess(after)
            if not parts and guess is None:
                return None
            if parts[-1:] == ("cables",) and len(parts) > 1 and bare.startswith("[."):
                parts = ("service", *parts)
            elif not parts:
                parts = (guess or "",)
        is_list = len(parts) == 1 and parts[0] in TABLES and TABLES[parts[0]].ids == "list"
        if is_list:
            single = (
                bare.startswith("[")
                and not bare.startswith("[[")
                and bare.endswith("]")
                and not bare.endswith("]]")
            )
            is_list = not single or self._has_own_keys(parts[0], after)
        path: Path = parts
        if len(parts) == 2 and parts[0] == "service" and path in self.lines and self._heads_cables(after):
            path = (*parts, "cables")
            parts = tuple(str(part) for part in path)
        inside = ".".join(part if re.fullmatch(r"[\w-]+", part) else f'"{part}"' for part in parts)
        return path, f"[[{inside}]]" if is_list else f"[{inside}]"

    def _has_own_keys(self, word: str, after: _Chunk | None) -> bool:
        found = _PAIR.match(after.text) if after is not None else None
        return found is not None and key_parts(found[1])[0] in (*TABLES[word].keys, "id")

    def _heads_cables(self, after: _Chunk | None) -> bool:
        body = _loaded(after.text) if after is not None else None
        return bool(body) and all(isinstance(raw, Mapping) and "from" in raw for raw in (body or {}).values())

    def _guess(self, after: _Chunk | None) -> str | None:
        """The table that the first line below a lost heading fits."""
        if after is None:
            return None
        try:
            (body,) = tomllib.loads(after.text).values()
        except (ValueError, RecursionError):
            return None
        word = table_that_fits(frozenset(body), but="") if isinstance(body, Mapping) else None
        return word if word is None or heading_of(word) == f"[{word}]" else None

    def _enter(self, chunk: _Chunk, path: Path, *, is_list: bool) -> None:
        """Make the table of a heading the one that is written into."""
        if is_list:
            listed = self.raw.setdefault(str(path[0]), [])
            if isinstance(listed, list):
                listed.append({})
                self.here = (path[0], len(listed) - 1)
                self.lines[self.here] = chunk.line
                return
        before = self.lines.get(path)
        self.here = path
        if before is not None:
            self._twice_headed(chunk, path, before)
        elif self._table(path) is None:
            hint = "Write the thing in one of the two ways: in braces, or under its own heading."
            words = described(path) or f"[{'.'.join(map(str, path))}]"
            self._say(
                chunk, 0, f"{words} has been given a value already.", hint, rule="written-twice", path=path
            )
            self.skipping = True
        else:
            subject, rest = subject_of(path)
            if subject and not rest and subject.split()[0] != "service" and self._has_content(path):
                self._twice_headed(chunk, path, 0)
        self.lines.setdefault(path, chunk.line)

    def _has_content(self, path: Path) -> bool:
        """Whether the thing stood in braces before it got a heading."""
        return path in self.lines

    def _twice_headed(self, chunk: _Chunk, path: Path, before: int) -> None:
        subject, _ = subject_of(path)
        heading = f"[{'.'.join(map(str, path))}]"
        there = f"line {before}" if before else "above"
        if subject and subject != "dossier":
            hint = "Give this one its own id, or take one of the two out."
            message = f"{subject} is written twice, here and at {there}."
            self.skipping = True
        else:
            hint = f"Put what stands below it under the first {heading}, and take this heading out."
            message = f"{heading} stands twice in this file, here and at {there}."
        self._say(chunk, 0, message, hint, rule="written-twice", path=path, also=before)

    # pairs

    def _pair(self, chunk: _Chunk) -> None:
        """Take a key and its value, mending them where needed."""
        found = _PAIR.match(chunk.text)
        key: Path = key_parts(found[1]) if found else ()
        here = self.here or ()
        path = (*here, *key)
        if len(key) > DEEPEST:
            self._lose(chunk, path[:DEEPEST], ())
            return
        if found and path in self.lines:
            self._twice(chunk, path)
            return
        body = _loaded(chunk.text)
        if body is None and chunk.text.count('"""') % 2 == 0:
            body = self._mended(chunk, path)
        if body is None:
            self._lose(chunk, path, key)
            return
        if LOST in body and not subject_of((*here, LOST))[1]:  # an id that is not there
            self.lost.append(chunk.text)
            body = {name: value for name, value in body.items() if name != LOST}
        target = self._table(here)
        if target is None or not _merge(target, body):
            self._twice(chunk, path)
            return
        for top in (key,) if key and key[0] in body else tuple((name,) for name in body):
            self.lines.setdefault((*here, *top), chunk.line)

    def _mended(self, chunk: _Chunk, path: Path) -> dict[str, Any] | None:
        mend = mended(chunk.text, self.here or (), self.effort)
        if mend is None:
            return None
        if not _PAIR.match(chunk.text) and mend.body:
            path = (*(self.here or ()), *(key for key in list(mend.body)[:1] if key != LOST))
        for slip in mend.slips:
            self._say(chunk, slip.at, slip.message, slip.hint, path=path, within=True)
        return dict(mend.body)

    def _lose(self, chunk: _Chunk, path: Path, key: Path) -> None:
        """A line of which nothing can be made."""
        word = (subject_of(path)[0] or str((self.here or ("",))[0])).partition(" ")[0]
        example = TABLES[word].line if word in TABLES else TABLES["item"].line
        at = len(chunk.text) - len(chunk.text.lstrip())
        bare = chunk.text.strip()
        if bare in WORDS or bare.strip("[]. ") in WORDS:
            self._say(
                chunk,
                at,
                f"{bare!r} alone is no heading.",
                f"Write [{bare.strip('[]. ')}].",
                rule="wrong-heading",
            )
            self._enter(chunk, (bare.strip("[]. "),), is_list=False)
            return
        if bare.count('"""') % 2:
            self._say(
                chunk, at, "the long text is not closed.", 'Write """ where it ends.', path=path, within=True
            )
        elif not re.search(r"[={}\"]", bare):
            hint = "Write # before a remark; a long text goes between triple quotes."
            what = "The line is" if len(chunk.lines) == 1 else f"{len(chunk.lines)} lines are"
            self._say(chunk, at, f"{what} neither a heading nor a thing.", hint)
        else:
            hint = f"Write it like {example}"
            self._say(chunk, at, "the line cannot be read.", hint, path=path, within=True)
        self.lost.append(chunk.text)
        target = self._table(self.here or ())
        if key and target is not None and len(key) == 1 and key[0] not in target:
            target[str(key[0])] = LOST
            self.lines[path] = chunk.line

    def _twice(self, chunk: _Chunk, path: Path) -> None:
        subject, rest = subject_of(path)
        before = self.lines.get(path, 0)
        there = f"line {before}" if before else "above"
        message = f"{described(path) or repr(path[-1])} is written twice, here and at {there}."
        hint = "Give this one its own id, or take one of the two out."
        if rest:
            hint = "Keep the one that is right."
        elif subject.startswith(("cable", "sheath")):
            hint = "Give this one its own mark, or take one of the two out."
        at = len(chunk.text) - len(chunk.text.lstrip())
        self._say(chunk, at, message, hint, rule="written-twice", path=path, also=before)
        self.lost.append(chunk.text)

    def _table(self, path: Path) -> dict[str, Any] | None:
        """The table at a path, made where it is not there; None where something else stands in the way."""
        table: Any = self.raw
        for part in path:
            if isinstance(table, list):
                index = part if isinstance(part, int) else -1
                table = table[index] if table else None
                if not isinstance(part, int) and isinstance(table, dict):
                    table = table.setdefault(part, {})
            elif isinstance(table, dict):
                table = table.setdefault(part, {})
            if not isinstance(table, dict | list):
                return None
        return table if isinstance(table, dict) else None


def _heading_parts(bare: str) -> tuple[str, ...]:
    """The words of a heading, however they are put together; a word doubled by mistake once."""
    spaced = re.sub(r"[\s,;:/]+", " ", bare.strip("[] \t"))
    words = [part for part in key_parts(re.sub(r"[ .]+", ".", spaced)) if part][: DEEPEST + 1]
    return tuple(w for i, w in enumerate(words) if not i or w != words[i - 1] or f"{w} {w}" not in spaced)


def _loaded(text: str) -> dict[str, Any] | None:
    if _LONG_KEY.search(text):
        return None
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        return None


def _merge(target: dict[str, Any], body: Mapping[str, Any]) -> bool:
    """Put what was read into a table; False, and nothing done, where something is there already."""
    for key, value in body.items():
        there = target.get(key)
        if there is None:
            continue
        if not isinstance(there, dict) or not isinstance(value, dict) or not _merge({**there}, value):
            return False
    for key, value in body.items():
        there = target.get(key)
        if isinstance(there, dict) and isinstance(value, dict):
            _merge(there, value)
        else:
            target[key] = value
    return True
