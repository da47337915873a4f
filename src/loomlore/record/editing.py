"""Changing a dossier's text in place: one key, one thing or one line, and every other byte as it was.

A change is worked out on the file as it is on the disk at that moment, tried by reading the result, and
saved whole: written beside the file, flushed to the disk and renamed over it, so that a fall of the current
leaves either the old text or the new. Where the text is not what the caller saw (``expected``), where the
result would not read, or where the folder cannot be written, nothing is done and :class:`RefusedEdit` says
why.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import stat
import time
import tomllib
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from loomlore.findings import RefusedEdit
from loomlore.record import places
from loomlore.record.keys import TABLES, heading_of, subject_of
from loomlore.record.reading import Reading
from loomlore.record.toml import as_key, as_toml

__all__ = [
    "add_thing",
    "remove_key",
    "remove_thing",
    "replace_thing",
    "save_bytes",
    "save_text",
    "set_key",
    "sweep",
    "text_of",
]

LONGEST_LINE = 120

_BESIDE = re.compile(r"\.[^/]+\.toml\.[0-9a-f]{8}")
"""What a save is called before it is put in the file's place."""


@dataclass(frozen=True, slots=True)
class _Splice:
    """Put ``put`` for the characters from ``start`` to ``end``, counted with plain line ends."""

    start: int
    end: int
    put: str


@dataclass(frozen=True)
class _File:
    """A file as it is on the disk, and the same with plain line ends."""

    path: Path
    raw: str
    text: str

    @property
    def lines(self) -> dict[places.Path, int]:
        return places.lines_of(self.text)

    def offset(self, line: int) -> int:
        """Where a line begins, counted from 1; the end for one beyond."""
        at = 0
        for _ in range(line - 1):
            found = self.text.find("\n", at)
            if found < 0:
                return len(self.text)
            at = found + 1
        return at


@dataclass(frozen=True, slots=True)
class _Span:
    """Where a thing stands: its characters, the path, and whether it has its own heading."""

    start: int
    end: int
    path: places.Path
    headed: bool


# --- what callers use --------------------------------------------------------------------------------------


def text_of(folder: Path, reading: Reading, subject: str) -> str:
    """The text of a thing as it is on the disk now, to be given back as ``expected``.

    Parameters
    ----------
    folder
        The dossier's folder.
    reading
        The reading that names the thing.
    subject
        For instance ``item horn``.

    Returns
    -------
    str
        Its line, or its lines from its own heading on.

    Raises
    ------
    RefusedEdit
        Where the thing is no longer there.
    """
    file, span = _found(folder, reading, subject)
    return file.text[span.start : span.end]


def set_key(
    folder: Path, reading: Reading, subject: str, key: str, value: Any, *, expected: str | None = None
) -> None:
    """Give a key of a thing a value, or another one.

    Parameters
    ----------
    folder
        The dossier's folder.
    reading
        The reading that names the thing.
    subject
        For instance ``item horn``.
    key
        The key.
    value
        A text, number, truth, list or table, as TOML would hold it.
    expected
        The thing's text as the caller saw it; None does without that check.

    Raises
    ------
    RefusedEdit
        Where nothing was changed, and why.
    """
    file, span = _found(folder, reading, subject, expected)
    found = _value_span(file, span, key)
    if found is not None:
        splice = _Splice(*found, as_toml(value))
    elif span.headed:
        splice = _new_key_line(file, span, key, value)
    else:
        splice = _new_key_inline(file, span, key, value)
    _save(file, [splice], (*span.path, key), value)


def remove_key(
    folder: Path, reading: Reading, subject: str, key: str, *, expected: str | None = None
) -> None:
    """Take a key out of a thing.

    Parameters
    ----------
    folder
        The dossier's folder.
    reading
        The reading that names the thing.
    subject
        For instance ``item horn``.
    key
        The key.
    expected
        The thing's text as the caller saw it; None does without that check.

    Raises
    ------
    RefusedEdit
        Where nothing was changed, and why.
    """
    file, span = _found(folder, reading, subject, expected)
    found = _value_span(file, span, key)
    if found is None:
        raise RefusedEdit(f"{subject} has no {key!r}; nothing was changed.")
    _save(file, [_without_key(file, span, key, found)], (*span.path, key), None)


def remove_thing(folder: Path, reading: Reading, subject: str, *, expected: str | None = None) -> None:
    """Take a thing out of the record.

    Parameters
    ----------
    folder
        The dossier's folder.
    reading
        The reading that names the thing.
    subject
        For instance ``item horn``.
    expected
        The thing's text as the caller saw it; None does without that check.

    Raises
    ------
    RefusedEdit
        Where nothing was changed, and why.
    """
    file, span = _found(folder, reading, subject, expected)
    end = span.end
    if span.headed:
        while file.text[end : end + 1] == "\n":
            end += 1
    _save(file, [_Splice(span.start, end, "")], span.path, None)


def replace_thing(
    folder: Path, reading: Reading, subject: str, text: str, *, expected: str | None = None
) -> None:
    """Put other text in a thing's place, as somebody typed it.

    Parameters
    ----------
    folder
        The dossier's folder.
    reading
        The reading that names the thing.
    subject
        For instance ``item horn``.
    text
        Its new line or lines; it may be wrong, and is then a finding at the next reading.
    expected
        The thing's text as the caller saw it; None does without that check.

    Raises
    ------
    RefusedEdit
        Where nothing was changed, and why.
    """
    file, span = _found(folder, reading, subject, expected)
    put = text.replace("\r\n", "\n").rstrip("\n") + "\n"
    save_text(file.path, _spliced(file, [_Splice(span.start, span.end, put)]), expected=file.raw)


def add_thing(
    folder: Path,
    reading: Reading,
    word: str,
    id_: str,
    raw: Mapping[str, Any],
    *,
    of: str = "",
    file: str = "",
) -> None:
    """Add a thing to the record, below the last of its table.

    Parameters
    ----------
    folder
        The dossier's folder.
    reading
        The record as read.
    word
        The word of its table: "item", "cable", "way" and so on.
    id_
        Its id; a cable's mark, a way's number.
    raw
        Its keys, as TOML would hold them.
    of
        A cable's service, or a way's item.
    file
        Where to write it, relative to the folder; else where the last of its table stands.

    Raises
    ------
    RefusedEdit
        Where nothing was changed, and why.
    """
    subject = f"{word} {of}.{id_}" if word in ("way", "scale") else f"{word} {id_}"
    if subject in reading.paths:
        raise RefusedEdit(f"{subject} is there already; nothing was changed.")
    heading = _heading_path(word, of)
    name = file or _file_for(reading, heading)
    target = _opened(folder, name)
    if word in TABLES and TABLES[word].ids == "list":
        _save(target, [_new_listed(target, word, id_, raw)], (), None)
        return
    splice = _new_row(target, heading, id_, raw)
    _save(target, [splice], (*heading, id_), dict(raw))


def save_text(path: Path, text: str, *, expected: str | None = None) -> None:
    """Save a file whole, or not at all.

    Parameters
    ----------
    path
        The file; its mode is kept.
    text
        What it is to hold, line ends as given.
    expected
        What it must hold at this moment; "" for a file that is not there yet, None for anything.

    Raises
    ------
    RefusedEdit
        Where it holds something else, or cannot be written; the file is as it was.
    """
    before = None if expected is None else expected.encode("utf-8", errors="surrogateescape")
    save_bytes(path, text.encode("utf-8", errors="surrogateescape"), expected=before)


def save_bytes(path: Path, content: bytes, *, expected: bytes | None = None) -> None:
    """Save a file whole, or not at all.

    Parameters
    ----------
    path
        The file; its mode is kept.
    content
        What it is to hold.
    expected
        What it must hold at this moment; b"" for a file that is not there yet, None for anything.

    Raises
    ------
    RefusedEdit
        Where it holds something else, or cannot be written; the file is as it was.
    """
    try:
        _expect(path, expected)
        _write_beside(path, content, expected)
    except OSError as error:
        raise RefusedEdit(f"{path.name} is as it was: {_why_not(error)}") from error


def _expect(path: Path, expected: bytes | None) -> None:
    there = path.read_bytes() if expected is not None and path.exists() else b""
    if expected is not None and there != expected:
        raise RefusedEdit(f"{path.name} was changed by somebody else meanwhile; nothing was written.")


def _why_not(error: OSError) -> str:
    """Why a file could not be written, and what to do."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full. Make room on it, then keep this again."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "the file or its folder is read-only. See to its permissions, then keep this again."
    return f"{error.strerror or 'it cannot be written'}. See to the disk, then keep this again."


def _write_beside(path: Path, content: bytes, expected: bytes | None) -> None:
    beside = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    mode = stat.S_IMODE(path.stat().st_mode) if path.exists() else None
    if mode is not None and not mode & stat.S_IWUSR:
        raise PermissionError(errno.EACCES, "the file is read-only")
    try:
        with beside.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            beside.chmod(mode)
        _expect(path, expected)  # once more: a slow disk leaves time for somebody else's save
        beside.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise
    with contextlib.suppress(OSError):  # not every system lets a folder be opened
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def sweep(folder: Path, *, older_than: float = 60.0) -> int:
    """Take away what a save has left beside a file when the machine stopped in the middle of it.

    Parameters
    ----------
    folder
        The dossier's folder.
    older_than
        Age of what is taken away [s]; a younger one may be another program's save under way.

    Returns
    -------
    int
        How many.
    """
    taken = 0
    for path in Path(folder).rglob(".*.toml.*"):
        try:
            ours = _BESIDE.fullmatch(path.name) and not path.is_symlink() and path.is_file()
            if ours and time.time() - path.stat().st_mtime > older_than:
                path.unlink()
                taken += 1
        except OSError:
            continue
    return taken


# --- finding -----------------------------------------------------------------------------------------------


def _opened(folder: Path, name: str) -> _File:
    """A file of the dossier as it is now; never one outside its folder."""
    parts = name.split("/")
    path = Path(folder).joinpath(*parts)
    inside = name.endswith(".toml") and ".." not in parts and "" not in parts
    if not inside or any(link.is_symlink() for link in (path, *path.parents) if folder in link.parents):
        raise RefusedEdit(f"{name!r} is no file of this dossier; nothing was changed.")
    try:
        raw = path.read_bytes().decode("utf-8") if path.exists() else ""
    except (OSError, UnicodeDecodeError) as error:
        raise RefusedEdit(f"{name} cannot be read as text; nothing was changed.") from error
    text = raw.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return _File(path, raw, text)


def _found(folder: Path, reading: Reading, subject: str, expected: str | None = None) -> tuple[_File, _Span]:
    """The file and the span of a thing as it is now."""
    if subject not in reading.paths:
        raise RefusedEdit(f"the record has no {subject}; nothing was changed.")
    name, path = reading.paths[subject]
    file = _opened(Path(folder), name)
    span = _span(file, path)
    if span is None:
        raise RefusedEdit(f"{subject} is no longer where it was in {name}; nothing was changed.")
    if expected is not None and file.text[span.start : span.end].rstrip("\n") != expected.rstrip("\n"):
        raise RefusedEdit(
            f"{subject} was changed meanwhile in {name}; nothing was changed. Look at it again."
        )
    return file, span


def _span(file: _File, path: places.Path) -> _Span | None:
    line = file.lines.get(path)
    if line is None:
        return None
    start = file.offset(line)
    if file.text[start:].lstrip(" \t").startswith("["):
        return _Span(start, _end_of_block(file, line), path, headed=True)
    located = places.locate(file.text, start + _indent(file.text, start), ())
    if located is None:
        return None
    end = file.text.find("\n", _value_end(file.text, located[1]))
    return _Span(start, len(file.text) if end < 0 else end + 1, path, headed=False)


def _indent(text: str, start: int) -> int:
    return len(text[start:]) - len(text[start:].lstrip(" \t"))


def _end_of_block(file: _File, line: int) -> int:
    """The end of the last line below a heading that is its own; remarks above the next heading are not."""
    others = sorted(n for n in set(file.lines.values()) if n > line)
    headings = [n for n in others if file.text[file.offset(n) :].lstrip(" \t").startswith("[")]
    end = file.offset(headings[0]) if headings else len(file.text)
    block = file.text[file.offset(line) : end].split("\n")
    while len(block) > 1 and (not block[-1].strip() or block[-1].lstrip().startswith("#")):
        block.pop()
    size = len("\n".join(block))
    return min(file.offset(line) + size + 1, len(file.text))


def _value_end(text: str, start: int) -> int:
    """The end of the value that begins at an offset."""
    depth = 0
    end = start
    for token, at in places.tokens(text, start):
        end = at + len(token)
        depth += (token in "[{") - (token in "]}")
        if depth <= 0:
            break
    return end


def _value_span(file: _File, span: _Span, key: str) -> tuple[int, int] | None:
    """Where the value of a key of a thing stands."""
    if span.headed:
        line = file.lines.get((*span.path, key))
        start = file.offset(line) if line is not None else -1
        found = places.locate(file.text, start + _indent(file.text, start), ()) if start >= 0 else None
    else:
        found = places.locate(file.text, span.start + _indent(file.text, span.start), (key,))
    return None if found is None else (found[1], _value_end(file.text, found[1]))


# --- splices -----------------------------------------------------------------------------------------------


def _new_key_inline(file: _File, span: _Span, key: str, value: Any) -> _Splice:
    """A key put in before the closing brace."""
    located = places.locate(file.text, span.start + _indent(file.text, span.start), ())
    end = _value_end(file.text, located[1]) if located else span.end
    inside = file.text[located[1] + 1 : end - 1] if located else ""
    if located is None or file.text[located[1]] != "{" or file.text[end - 1] != "}":
        raise RefusedEdit("The line is no thing in braces; mend it by hand first.")
    written = f"{as_key(key)} = {as_toml(value)}"
    if not inside.strip():
        return _Splice(located[1] + 1, end - 1, f" {written} ")
    at = located[1] + 1 + len(inside.rstrip())
    return _Splice(at, at, f", {written}")


def _new_key_line(file: _File, span: _Span, key: str, value: Any) -> _Splice:
    """A line put in below the last key, its '=' under the others."""
    block = file.text[span.start : span.end]
    before = re.findall(r"^[ \t]*[\w-]+[ \t]*(?==)", block, re.MULTILINE)
    width = len(before[-1]) - 1 if before else 0
    at = span.end
    lead = "" if not at or file.text[at - 1] == "\n" else "\n"
    return _Splice(at, at, f"{lead}{as_key(key):{max(width, 0)}} = {as_toml(value)}\n")


def _without_key(file: _File, span: _Span, key: str, value: tuple[int, int]) -> _Splice:
    if span.headed:
        start = file.text.rfind("\n", 0, file.offset(file.lines[(*span.path, key)])) + 1
        end = file.text.find("\n", value[1])
        return _Splice(start, len(file.text) if end < 0 else end + 1, "")
    located = places.locate(file.text, span.start + _indent(file.text, span.start), (key,))
    start, end = (located[0] if located else value[0]), value[1]
    behind = re.compile(r"[ \t]*,[ \t]*").match(file.text, end)
    if behind:
        return _Splice(start, behind.end(), "")
    before = re.search(r"[ \t]*,[ \t]*\Z", file.text[span.start : start])
    return _Splice(start - len(before.group()) if before else start, end, "")


def _heading_path(word: str, of: str) -> places.Path:
    if word == "cable":
        return ("service", of, "cables")
    return (word, of) if word in ("way", "scale") else (word,)


def _file_for(reading: Reading, heading: places.Path) -> str:
    """The file that holds the last of a table, else the first file, else ``dossier.toml``."""
    holding = [name for name, lines in reading.places.lines.items() if heading in lines]
    texts = sorted(reading.texts)
    return holding[-1] if holding else texts[0] if texts else "dossier.toml"


def _row(id_: str, raw: Mapping[str, Any], width: int) -> str:
    return f"{as_key(id_):{width}} = {as_toml(dict(raw))}"


def _new_row(file: _File, heading: places.Path, id_: str, raw: Mapping[str, Any]) -> _Splice:
    """A row below the last of its heading; a long one under a heading of its own."""
    line = file.lines.get(heading)
    name = ".".join(as_key(str(part)) for part in heading)
    if line is None:
        gap = (
            ""
            if not file.text or file.text.endswith("\n\n")
            else "\n"
            if file.text.endswith("\n")
            else "\n\n"
        )
        return _Splice(len(file.text), len(file.text), f"{gap}[{name}]\n{_row(id_, raw, 0)}\n")
    end = _end_of_block(file, line)
    rows = re.findall(r"^[ \t]*[\w-]+[ \t]*(?==)", file.text[file.offset(line) : end], re.MULTILINE)
    row = _row(id_, raw, len(rows[-1]) - 1 if rows else 0)
    lead = "" if file.text[end - 1 : end] == "\n" else "\n"
    if len(row) > LONGEST_LINE and heading_of(str(heading[0])) == f"[{name}]":
        keys = "".join(f"{as_key(key)} = {as_toml(value)}\n" for key, value in raw.items())
        return _Splice(end, end, f"{lead}\n[{name}.{as_key(id_)}]\n{keys}")
    return _Splice(end, end, f"{lead}{row}\n")


def _new_listed(file: _File, word: str, id_: str, raw: Mapping[str, Any]) -> _Splice:
    """A ``[[statement]]`` below the last one."""
    lines = [line for path, line in file.lines.items() if len(path) == 2 and path[0] == word]
    end = _end_of_block(file, max(lines)) if lines else len(file.text)
    keys = ({"id": id_} if id_ else {}) | dict(raw)
    width = max((len(as_key(key)) for key in keys), default=0)
    body = "".join(f"{as_key(key):{width}} = {as_toml(value)}\n" for key, value in keys.items())
    lead = "" if not end else "\n" if file.text[end - 1] == "\n" else "\n\n"
    return _Splice(end, end, f"{lead}[[{word}]]\n{body}")


# --- saving ------------------------------------------------------------------------------------------------


def _spliced(file: _File, splices: list[_Splice]) -> str:
    """The file's own characters with the splices made; its line ends and byte order mark stay."""
    bom = 1 if file.raw.startswith("\ufeff") else 0
    pairs = [m.start() for m in re.finditer("\r\n", file.raw[bom:])]
    plain = [at - index for index, at in enumerate(pairs)]  # where each pair's "\n" stands in the plain text

    def raw_offset(offset: int) -> int:
        return bom + offset + bisect_left(plain, offset)

    newline = "\r\n" if len(pairs) * 2 > file.raw.count("\n") else "\n"
    raw = file.raw
    for splice in sorted(splices, key=lambda one: -one.start):
        put = splice.put.replace("\n", newline)
        raw = raw[: raw_offset(splice.start)] + put + raw[raw_offset(splice.end) :]
    return raw


def _save(file: _File, splices: list[_Splice], path: places.Path, value: Any) -> None:
    """Save the change, if it does what it should and nothing else stops reading."""
    new = _spliced(file, splices)
    plain = new.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if _reads(file.text) and not _holds(plain, path, value):
        what = subject_of(path)[0] or "the text"
        raise RefusedEdit(f"The change would not have read back as meant at {what}; nothing was changed.")
    save_text(file.path, new, expected=file.raw)


def _reads(text: str) -> bool:
    return _parsed(text) is not None


@lru_cache(maxsize=4)
def _parsed(text: str) -> dict[str, Any] | None:
    """What a text holds, None where it is no TOML; remembered, for what one edit writes the next begins with."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        return None


def _holds(text: str, path: places.Path, value: Any) -> bool:
    """Whether a text reads, and has the value at the path (None: nothing there)."""
    there: Any = _parsed(text)
    if there is None:
        return False
    if not path:
        return True
    for part in path[:-1]:
        try:
            there = there[part]
        except (KeyError, IndexError, TypeError):
            return value is None
    last = path[-1]
    if value is None:
        # of a list the next one moves up, so that only a key can be seen to be gone
        return isinstance(last, int) or not isinstance(there, Mapping) or last not in there
    return isinstance(there, Mapping) and bool(there.get(last) == _plain(value))


def _plain(value: Any) -> Any:
    """A value as TOML gives it back."""
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, list | tuple) else value
