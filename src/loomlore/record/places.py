"""Where things stand in the text: an index from path to line, and the column of a part on demand.

A path is what leads to a value in the parsed text: ``("item", "horn", "rating")``,
``("statement", 3, "steps", 0, "see")``. The lines of headings and of the keys at the start of a line are
found in one sweep; a part further inside a line is looked for only when a finding wants its column.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from loomlore.findings import Place

__all__ = ["Path", "Places", "key_parts", "lines_of", "locate", "tokens"]

Path = tuple[str | int, ...]

_PART = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
KEY = rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*"
_START = re.compile(
    r"^[ \t]*(?:(?P<bare>[A-Za-z0-9_-]+)[ \t]*="  # most lines: one bare key
    r"|(?P<open>\[\[?)[ \t]*"
    rf"(?P<heading>[A-Za-z][A-Za-z0-9_-]*(?:[ \t]*\.[ \t]*{_PART})*)[ \t]*\]\]?[ \t]*(?:#.*)?$"
    rf"|(?P<key>{KEY})[ \t]*=)",
    re.MULTILINE,
)
_BLANKS = re.compile(r"[ \t]*")
_MULTILINE = re.compile(r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'', re.DOTALL)
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|"(?:\\.|[^"\\\n])*"?|\'[^\'\n]*\'?|[{}\[\],=]|#[^\n]*|[^\s{}\[\],="\'#]+',
    re.DOTALL,
)


def key_parts(key: str) -> tuple[str, ...]:
    """The parts of a dotted key.

    Parameters
    ----------
    key
        As written, parts bare or quoted.

    Returns
    -------
    tuple of str
        Without quotes.

    Examples
    --------
    >>> key_parts('service."12 A".cables')
    ('service', '12 A', 'cables')
    """
    if "." not in key and key[:1] not in "\"'":
        return (key.strip(),)
    return tuple(part.strip("\"'") for part in re.findall(_PART, key))


def _without_long_texts(text: str) -> str:
    """The text with what stands between triple quotes blanked, its lines kept."""
    if '"""' not in text and "'''" not in text:
        return text
    return _MULTILINE.sub(lambda m: re.sub(r"[^\n]", "_", m.group()), text)


def lines_of(text: str) -> dict[Path, int]:
    """The line of every heading and of every key that begins a line.

    Parameters
    ----------
    text
        Well-formed TOML with plain line ends.

    Returns
    -------
    dict of path to int
        Lines count from 1; of what stands twice, the first.
    """
    lines: dict[Path, int] = {}
    here: Path = ()
    counts: dict[Path, int] = {}
    plain, line, at = _without_long_texts(text), 1, 0
    for found in _START.finditer(plain):
        start = found.start()
        line += plain.count("\n", at, start)
        at = start
        if (bare := found["bare"]) is not None:
            lines.setdefault((*here, bare), line)
            continue
        if (key := found["key"]) is not None:
            lines.setdefault((*here, *key_parts(key)), line)
            continue
        here = _under_lists(key_parts(found["heading"]), counts)
        if found["open"] == "[[":
            counts[here] = counts.get(here, -1) + 1
            here = (*here, counts[here])
        lines.setdefault(here, line)
    return lines


def _under_lists(heading: Path, counts: Mapping[Path, int]) -> Path:
    """``[statement.x]`` below ``[[statement]]`` belongs to the last one."""
    if len(heading) > 1 and heading[:1] in counts:
        return (heading[0], counts[heading[:1]], *heading[1:])
    return heading


def tokens(text: str, start: int) -> Iterator[tuple[str, int]]:
    """The tokens of TOML from some point on, comments left out.

    Parameters
    ----------
    text
        The text.
    start
        Offset of the first character.

    Yields
    ------
    tuple of (str, int)
        The token and its offset.
    """
    for found in _TOKEN.finditer(text, start):
        if not found.group().startswith("#"):
            yield found.group(), found.start()


def locate(text: str, start: int, path: Path) -> tuple[int, int] | None:
    """Find a value inside a line ``key = …``.

    Parameters
    ----------
    text
        The text.
    start
        Offset of the key that begins the line.
    path
        What leads from that key's value to the one wanted; () is the value itself.

    Returns
    -------
    tuple of (int, int) or None
        Offsets of the innermost key (or of the value, in a list) and of the value; None where it is absent.
    """
    walk = _Walk(start)
    for token, at in tokens(text, start):
        if walk.in_key:
            if not walk.key_token(token, at):
                return None
        elif token in ",}]":
            if not walk.close_or_go_on(token):
                return None
        elif tuple(walk.here) == path:
            return (at if walk.key_at < 0 else walk.key_at), at
        elif not walk.value(token):
            return None
    return None


class _Walk:
    """Where a walk through the tokens of one value stands: the path so far and the open brackets."""

    def __init__(self, start: int) -> None:
        self.here: list[str | int] = []
        self.opened: list[tuple[str, int]] = []  # bracket, and how long ``here`` was when it came
        self.key: list[str] = []
        self.in_key = True
        self.key_at = start

    def key_token(self, token: str, at: int) -> bool:
        """Take a token where a key is due; False at the end."""
        if token == "=":
            self.here.extend(self.key if self.opened else ())
            self.in_key = False
        elif token == "}":
            self.in_key = False
            return self._closed()
        elif token.strip(".,"):
            self.key_at = self.key_at if self.key else at
            self.key.extend(key_parts(token.strip(".")))
        return True

    def close_or_go_on(self, token: str) -> bool:
        """Take a comma or a closing bracket; False at the end."""
        if not self.opened:
            return False
        if token != ",":
            return self._closed()
        bracket, base = self.opened[-1]
        if bracket == "{":
            del self.here[base:]
            self._await_key()
        else:
            self.here[base] = int(self.here[base]) + 1
            self.key_at = -1
        return True

    def value(self, token: str) -> bool:
        """Take the beginning of a value; False where the whole was a plain one."""
        if token == "{":
            self.opened.append((token, len(self.here)))
            self._await_key()
        elif token == "[":
            self.opened.append((token, len(self.here)))
            self.here.append(0)
            self.key_at = -1
        return bool(self.opened)

    def _await_key(self) -> None:
        self.in_key = True
        self.key = []

    def _closed(self) -> bool:
        if not self.opened:
            return False
        _, base = self.opened.pop()
        del self.here[base:]
        return bool(self.opened)


@dataclass(frozen=True)
class Places:
    """The texts of a dossier, their lines by path, and where each thing stands by its subject."""

    texts: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, Mapping[Path, int]] = field(default_factory=dict)

    def line(self, file: str, path: Path) -> int:
        """The line of a path, or of the nearest thing around it; 0 where nothing is known.

        Parameters
        ----------
        file
            Relative to the dossier's folder.
        path
            What leads to the value.

        Returns
        -------
        int
            Counted from 1.
        """
        return self._nearest(file, path)[0]

    def _nearest(self, file: str, path: Path) -> tuple[int, Path]:
        lines = self.lines.get(file, {})
        if (line := lines.get(path)) is not None:
            return line, ()
        for length in range(len(path), 0, -1):
            line = lines.get(path[:length], 0)
            if line:
                return line, path[length:]
        for within, line in lines.items():
            if within[: len(path)] == path:
                return line, ()
        return (1, ()) if file in self.texts else (0, path)  # what has no heading belongs to the file

    def line_text(self, file: str, line: int) -> str:
        """A line of a file as it is written.

        Parameters
        ----------
        file
            Relative to the dossier's folder.
        line
            Counted from 1.

        Returns
        -------
        str
            Without its end.
        """
        text = self.texts[file]
        start = _offset_of_line(text, line)
        end = text.find("\n", start)
        return text[start:] if end < 0 else text[start:end]

    def place(self, file: str, path: Path, *, of_key: bool = False, into: int = 0) -> Place:
        """The place of a value or of its key, with its column.

        Parameters
        ----------
        file
            Relative to the dossier's folder.
        path
            What leads to the value.
        of_key
            Whether the key is meant and not the value.
        into
            Column within a quoted value, from 1.

        Returns
        -------
        Place
            Of the nearest thing around it, where the value itself is not to be found.
        """
        line, rest = self._nearest(file, path)
        if not line:
            return Place(file)
        text = self.texts[file]
        start = _offset_of_line(text, line)
        first = len(_BLANKS.match(text, start)[0])  # type: ignore[index]  # it matches anything
        is_heading = text[start + first : start + first + 1] == "["
        found = None if is_heading else locate(text, start + first, rest)
        while found is None and rest and not is_heading:
            rest = rest[:-1]
            found = locate(text, start + first, rest)
        if found is None:
            return Place(file, line, first + 1)
        at = found[0] if of_key else found[1] + (into or 0)
        return Place(file, line + text.count("\n", start, at), at - text.rfind("\n", 0, at))


@lru_cache(maxsize=256)
def _starts(text: str) -> tuple[int, ...]:
    """Where each line begins; kept, since one file may have a thousand findings."""
    return (0, *(found.end() for found in re.finditer("\n", text)))


def _offset_of_line(text: str, line: int) -> int:
    return _starts(text)[line - 1]
