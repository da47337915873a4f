"""A result as a page of few kinds of block, and painters that know nothing of what it says.

Blocks are what a printed test sheet has: a heading, a paragraph, a table, an entry with a mark in the margin.
:func:`as_text` sets them for a terminal of any width, :func:`as_html` for a notebook.
"""

from __future__ import annotations

import html
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["CAUTION", "Block", "Entry", "Heading", "Page", "Paragraph", "Table", "as_html", "as_text"]

CAUTION = (
    "Not approved data. Work on an aircraft, and its release, belong to a licensed engineer under the rules of "
    "the local authority."
)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the page's own."""

    text: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; ``quiet`` is set small or grey."""

    text: str
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings; ``right`` are the columns set to the right (figures)."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Entry:
    """Text with a mark in the margin, as a verdict stands beside a sentence; ``tone`` good, doubt, bad, plain."""

    mark: str
    text: str
    notes: tuple[str, ...] = ()
    tone: str = "plain"


Block = Heading | Paragraph | Table | Entry
Page = tuple[Block, ...]

_COLOURS = {"good": "32", "doubt": "33", "bad": "31", "plain": "0"}


def as_text(page: Sequence[Block], *, width: int = 100, colour: bool = False) -> str:
    """Set a page for a terminal.

    Parameters
    ----------
    page
        Blocks in order.
    width
        Columns.
    colour
        Whether marks may be coloured.

    Returns
    -------
    str
        Lines, without a last line feed.
    """
    lines: list[str] = []
    for block in page:
        match block:
            case Heading(text, level):
                lines += ["", _bold(text.upper() if level == 2 else text, colour)]
                if level == 1:
                    lines.append("=" * min(width, len(text)))
            case Paragraph(text, _):
                lines += ["", *textwrap.wrap(text, width)] if text else [""]
            case Table():
                lines += ["", *_table_lines(block, width, colour)]
            case Entry():
                lines += _entry_lines(block, width, colour)
    return "\n".join(lines).strip("\n")


def _bold(text: str, colour: bool) -> str:
    return f"\033[1m{text}\033[0m" if colour else text


MARGIN = 15


def _entry_lines(entry: Entry, width: int, colour: bool) -> list[str]:
    body = textwrap.wrap(entry.text, max(20, width - MARGIN)) or [""]
    mark = entry.mark.ljust(MARGIN)
    if colour:
        mark = f"\033[{_COLOURS[entry.tone]}m{mark}\033[0m"
    lines = ["", mark + body[0], *(" " * MARGIN + line for line in body[1:])]
    for note in entry.notes:
        wrapped = textwrap.wrap(note, max(20, width - MARGIN - 2))
        lines += [" " * MARGIN + ("| " + line) for line in wrapped]
    return lines


def _table_lines(table: Table, width: int, colour: bool) -> list[str]:
    rows = [table.columns, *table.rows]
    widths = _column_widths(rows, width)
    lines: list[str] = []
    for place, row in enumerate(rows):
        cells = [textwrap.wrap(text, max(1, widths[n])) or [""] for n, text in enumerate(row)]
        for line in range(max(len(cell) for cell in cells)):
            parts = [
                (cell[line] if line < len(cell) else "").rjust(widths[n])
                if n in table.right
                else (cell[line] if line < len(cell) else "").ljust(widths[n])
                for n, cell in enumerate(cells)
            ]
            text = "  ".join(parts).rstrip()
            lines.append(_bold(text, colour) if place == 0 else text)
        if place == 0:
            lines.append("-" * min(width, sum(widths) + 2 * (len(widths) - 1)))
    return lines


COMFORTABLE = 12
"""Columns are made narrower than this only where the page is too narrow for it."""


def _column_widths(rows: Sequence[Sequence[str]], width: int) -> list[int]:
    """As wide as their texts; the widest give way, down to what is comfortable, to whole words, to a few letters."""
    columns = range(len(rows[0]))
    widths = [max(len(row[n]) for row in rows) for n in columns]
    words = [max((len(word) for row in rows for word in row[n].split()), default=1) for n in columns]
    left = width - 2 * (len(widths) - 1)
    for least in ([max(COMFORTABLE, w) for w in words], words, [min(w, 6) for w in words]):
        while sum(widths) > left:
            wide = [n for n in columns if widths[n] > least[n]]
            if not wide:
                break
            widths[max(wide, key=lambda n: widths[n])] -= 1
    return widths


def as_html(page: Sequence[Block]) -> str:
    """Set a page for a notebook.

    Parameters
    ----------
    page
        Blocks in order.

    Returns
    -------
    str
        HTML, every text escaped.
    """
    parts = ["<div class='loomlore'>"]
    for block in page:
        match block:
            case Heading(text, level):
                parts.append(f"<h{level + 1}>{html.escape(text)}</h{level + 1}>")
            case Paragraph(text, quiet):
                tag = "small" if quiet else "span"
                parts.append(f"<p><{tag}>{html.escape(text)}</{tag}></p>")
            case Table(columns, rows, right):
                parts.append(_table_html(columns, rows, right))
            case Entry(mark, text, notes, _):
                said = "".join(f"<br><small>{html.escape(note)}</small>" for note in notes)
                parts.append(f"<p><b>{html.escape(mark)}</b> {html.escape(text)}{said}</p>")
    return "".join([*parts, "</div>"])


def _table_html(columns: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int]) -> str:
    def cell(tag: str, place: int, text: str) -> str:
        side = " align='right'" if place in right else ""
        return f"<{tag}{side}>{html.escape(text)}</{tag}>"

    head = "".join(cell("th", n, text) for n, text in enumerate(columns))
    body = "".join("<tr>" + "".join(cell("td", n, t) for n, t in enumerate(row)) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
