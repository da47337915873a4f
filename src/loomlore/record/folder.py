"""Which files of a folder are the dossier's text, and reading them without trusting them.

Links, hidden folders and anything that is no plain file are passed over; what is too large, or no text, is
a finding. Nothing outside the folder is opened.
"""

from __future__ import annotations

import codecs
import os
from pathlib import Path

from loomlore.findings import Finding, Place, Severity, UnknownName

__all__ = ["texts_below"]

LARGEST_FILE = 2_000_000
"""Bytes; about 16,000 lines of cables. More belongs into several files."""

MOST_FILES = 2_000
MOST_BYTES = 40_000_000
DEEPEST = 16


def texts_below(folder: Path) -> tuple[dict[str, str], tuple[Finding, ...]]:
    """Read every ``*.toml`` below a folder, in order of path.

    Parameters
    ----------
    folder
        The dossier's folder.

    Returns
    -------
    tuple of (dict of str to str, tuple of Finding)
        Texts by path relative to the folder ("/" between the parts), without byte order mark and with plain
        line ends; and what could not be read.

    Raises
    ------
    UnknownName
        Where there is no such folder.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise UnknownName("folder", str(folder))
    findings: list[Finding] = []
    texts: dict[str, str] = {}
    together = 0
    paths = sorted(_files(folder, "", 0, findings))
    for path, length in paths[:MOST_FILES]:
        together += length
        if length > LARGEST_FILE or together > MOST_BYTES:
            findings.append(_too_large(path, length))
            together -= length
            continue
        text = _text(folder / path, path, findings)
        if text is not None:
            texts[path] = text
    if len(paths) > MOST_FILES:
        message = f"The folder holds {len(paths)} files of text; {MOST_FILES} are read."
        findings.append(_finding(paths[MOST_FILES][0], message, "Join small files, or split the dossier."))
    return texts, tuple(findings)


def _files(folder: Path, below: str, depth: int, findings: list[Finding]) -> list[tuple[str, int]]:
    found: list[tuple[str, int]] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.startswith(".") or entry.is_symlink():
                    continue
                path = below + entry.name
                if entry.is_dir(follow_symlinks=False):
                    if depth < DEEPEST:
                        found.extend(_files(Path(entry.path), path + "/", depth + 1, findings))
                elif entry.name.endswith(".toml") and entry.is_file(follow_symlinks=False):
                    found.append((path, entry.stat(follow_symlinks=False).st_size))
    except OSError as error:
        message = f"The folder {below or '.'} cannot be read: {error.strerror}."
        findings.append(_finding(below, message, "See to its permissions."))
    return found


def _text(path: Path, relative: str, findings: list[Finding]) -> str | None:
    try:
        raw = path.read_bytes()
    except OSError as error:
        findings.append(
            _finding(relative, f"The file cannot be read: {error.strerror}.", "See to its permissions.")
        )
        return None
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        message = "The file is UTF-16 text; it was read, and cannot be edited in place."
        hint = "Save it as UTF-8 from your editor."
        findings.append(Finding("not-utf-8", Severity.ERROR, Place(relative, 1, 1), message, hint))
        return raw.decode("utf-16", errors="replace").replace("\r\n", "\n")
    if b"\0" in raw:
        hint = "Take it out of the folder, or give it another ending than .toml."
        findings.append(_finding(relative, "The file is no text; it was left unread.", hint))
        return None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - raw.rfind(b"\n", 0, error.start)
        hint = "Save the file as UTF-8 from your editor."
        place = Place(relative, line, column)
        findings.append(Finding("not-utf-8", Severity.ERROR, place, "The file is not UTF-8 text.", hint))
        text = raw.decode("cp1252", errors="replace")
    return text.replace("\r\n", "\n")


def _too_large(path: str, length: int) -> Finding:
    message = f"The file has {length / 1e6:.1f} MB; up to {LARGEST_FILE / 1e6:g} MB in a file are read."
    return _finding(path, message, "Split it; each service's cables may stand in a file of their own.")


def _finding(path: str, message: str, hint: str) -> Finding:
    return Finding("unread-file", Severity.ERROR, Place(path), message, hint)
