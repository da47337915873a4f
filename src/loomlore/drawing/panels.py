"""The panel: a column on the right of a narrow drawing, with what the foot has under a wide one.

A chain of a few items leaves a blank on either side that no spacing fills. A draughtsman stands the account,
the key and the notes beside it, one under the other, and the plate's number in the corner below.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from loomlore.drawing.legends import (
    Foot,
    KeyRow,
    Legend,
    key_height,
    key_items,
    note_items,
    notes_height,
    number_height,
    number_items,
)
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Item, Line, Text
from loomlore.drawing.typefaces import wrapped

__all__ = ["PANELS", "Panel", "panel_items", "panel_of", "text_block"]

PANELS = (56.0, 66.0, 76.0, 86.0)  # widths that are tried [mm]
_EDGE = 5.0
_NOTE = 3.9


@dataclass(frozen=True)
class Panel:
    """A panel's width and the heights of its parts, from above: account, key, notes, number [mm]."""

    width: float
    account: float
    key: float
    notes: float
    number: float
    rows: tuple[KeyRow, ...]

    @property
    def height(self) -> float:
        """What all need together [mm]."""
        return self.account + self.key + self.notes + self.number


def panel_of(rows: Sequence[KeyRow], legend: Legend, *, width: float) -> Panel:
    """Measure a panel.

    Parameters
    ----------
    rows : sequence of KeyRow
        The key.
    legend : Legend
        What is said.
    width : float
        Of the panel [mm].

    Returns
    -------
    Panel
        Its parts' heights.
    """
    foot = _foot(tuple(rows), width)
    account = len(_account_lines(legend, width))
    return Panel(
        width,
        9.5 + _NOTE * account + 2.0 if account else 0.0,
        key_height(foot) if rows else 0.0,
        notes_height(_notes(width), legend),
        number_height(legend, width - 2 * _EDGE),
        tuple(rows),
    )


def _foot(rows: tuple[KeyRow, ...], width: float) -> Foot:
    return Foot(width, width, "", 1, 0.0, rows)


def _notes(width: float) -> Foot:
    return Foot(0.0, width, "", 1, 0.0, ())


def _account_lines(legend: Legend, width: float) -> tuple[str, ...]:
    look = LETTERINGS["t-note"]
    room = width - 2 * _EDGE
    return wrapped(legend.account, face=look.face, size=look.size, width=room) if legend.account else ()


def panel_items(
    panel: Panel, legend: Legend, sheet: tuple[int, int], *, left: float, top: float, bottom: float
) -> list[Item]:
    """Draw a panel.

    Parameters
    ----------
    panel : Panel
        As measured.
    legend : Legend
        What is said.
    sheet : (number, count)
        Which sheet of how many.
    left, top, bottom : float
        Its borders [mm].

    Returns
    -------
    list of Item
        Rules and words.
    """
    right, words = left + panel.width, left + _EDGE
    items: list[Item] = [Line(((left, top), (left, bottom)), "fine-rule")]
    y = top
    if panel.account:
        lines = _account_lines(legend, panel.width)
        items += text_block("How it works", lines, words, y, panel.width - 2 * _EDGE)
        y += panel.account
    foot = _foot(panel.rows, panel.width)
    items += key_items(foot, words, y)
    y += panel.key
    items += note_items(_notes(panel.width), legend, words, y)
    below = bottom - panel.number
    items.append(Line(((left, below), (right, below)), "fine-rule"))
    return items + number_items(legend, sheet, words, below, panel.width - 2 * _EDGE)


def text_block(head: str, lines: Sequence[str], left: float, top: float, width: float) -> list[Item]:
    """Set some lines under a head and a rule.

    Parameters
    ----------
    head : str
        Printed in capitals.
    lines : sequence of str
        Already broken.
    left, top, width : float
        Where they stand [mm].

    Returns
    -------
    list of Item
        Rule and words.
    """
    items: list[Item] = [
        Text((left, top + 2.4), head.upper(), "t-head"),
        Line(((left, top + 4.2), (left + width, top + 4.2)), "fine-rule"),
    ]
    return items + [Text((left, top + 8.4 + _NOTE * n), line, "t-note") for n, line in enumerate(lines)]
