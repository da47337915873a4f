"""What is said on a plate beside the drawing, and the foot it is set in: key, notes, number, caution.

The foot tries a few arrangements (number beside, under the key, or as a strip; notes in one column or two)
and takes the lowest, so that the drawing has the room.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from loomlore.drawing.engraving import painted_looks
from loomlore.drawing.layout import Drawing
from loomlore.drawing.looks import LETTERINGS, width_class
from loomlore.drawing.paints import Paint, in_order
from loomlore.drawing.scene import Circle, Item, Line, Text
from loomlore.drawing.typefaces import text_width, wrapped

__all__ = [
    "CAUTION", "Foot", "KeyRow", "Legend", "fault_sign", "foot_items", "foot_of", "key_height", "key_items",
    "key_rows", "line_row", "note_items", "notes_height", "number_height", "number_items",
    "subtitle_of",
]  # fmt: skip

CAUTION = (
    "Not approved data. Work on an aircraft, and its release, belong to a licensed engineer "
    "under the rules of the local authority."
)
_ROW = 4.6
_NOTE = 3.9
_SAMPLE = 12.0
_EDGE = 5.0  # from a rule to the words [mm]
_GUTTER = 6.0  # between two columns of notes [mm]


@dataclass(frozen=True)
class KeyRow:
    """A row of the key: what is drawn, 12 mm wide about its middle line; its second mark; its words."""

    sample: tuple[Item, ...]
    letter: str
    words: str


@dataclass(frozen=True)
class Legend:
    """What is said on a plate beside the drawing; ``returns`` is what the key calls the return.

    ``beside`` is printed beside wires, by cable; ``shows`` tells a plate in a setting; ``fault`` is said in
    the alarm's hue before the notes.
    """

    title: str
    subtitle: str = ""
    number: str = ""
    account: str = ""
    notes: tuple[str, ...] = ()
    sources: str = ""
    verdicts: str = ""
    dated: str = ""
    credit: str = ""
    hazards: tuple[str, ...] = ()
    description: str = ""
    key: tuple[KeyRow, ...] = ()
    returns: str = ""
    beside: Mapping[str, str] = field(default_factory=dict)
    shows: bool = False
    fault: str = ""


def subtitle_of(title: str, standing: str) -> str:
    """Return what stands under the title of a plate that is not of one service.

    Parameters
    ----------
    title : str
        Of the dossier.
    standing : str
        Name of the standard of fit; empty where that is not to be said.

    Returns
    -------
    str
        On one line.
    """
    return f"{title} · standard of fit: {standing}" if standing else title


# ---------------------------------------------------------------- the key


def line_row(looks: Iterable[str], letter: str, words: str) -> KeyRow:
    """Return a key's row whose sample is a line.

    Parameters
    ----------
    looks : iterable of str
        Classes of the lines on one another, the lowest first.
    letter, words : str
        Second mark and meaning.

    Returns
    -------
    KeyRow
        For a legend.
    """
    return KeyRow(tuple(Line(((0.0, 0.0), (_SAMPLE, 0.0)), look) for look in looks), letter, words)


def key_rows(parts: Sequence[Drawing], legend: Legend) -> list[KeyRow]:
    """Return the rows of the key of what is used on a sheet.

    Parameters
    ----------
    parts : sequence of Drawing
        What is drawn.
    legend : Legend
        What is said.

    Returns
    -------
    list of KeyRow
        Paints in their order, then the other codes.
    """
    wires = [placed.wire for part in parts for placed in part.wires if not placed.wire.bare]
    rows = [_paint_row(paint, legend) for paint in in_order(wire.shown for wire in wires)]
    if any(wire.standing == "conjectural" for wire in wires):
        rows.append(line_row(("wire conjectural",), "", "conjecture: no source found"))
    if len({width_class(wire.amperes) for wire in wires}) > 1:
        steps = tuple(Line(((2.4 * n, 0.0), (2.4 * n + 2.4, 0.0)), f"wire amperes-{n + 1}") for n in range(5))
        rows.append(KeyRow(steps, "", "width: to 3, 12, 30, 100 A, and more"))
    rows += _state_rows(legend)
    return [*rows, *legend.key]


def _paint_row(paint: Paint, legend: Legend) -> KeyRow:
    words = legend.returns if paint.look == "role-return" and legend.returns else paint.words
    return line_row(painted_looks(paint, "amperes-3"), paint.letter, words)


def _state_rows(legend: Legend) -> Iterator[KeyRow]:
    if legend.shows:
        yield line_row(("wire dead",), "", "dead in this setting")
    if legend.fault:
        yield KeyRow((*_band(), *fault_sign(6.0, 0.0)), "", "the fault is here")


def _band() -> tuple[Item, ...]:
    return (Line(((1.6, 0.0), (_SAMPLE - 1.6, 0.0)), "fault-band"),)


def fault_sign(x: float, y: float) -> tuple[Item, ...]:
    """Return the sign of a fault: a cross in a ring.

    Parameters
    ----------
    x, y : float
        Its middle [mm].

    Returns
    -------
    tuple of Item
        Legible without its hue.
    """
    arm = 0.85
    return (
        Circle((x, y), 1.6, "fault-ring"),
        Line(((x - arm, y - arm), (x + arm, y + arm)), "fault-cross"),
        Line(((x - arm, y + arm), (x + arm, y - arm)), "fault-cross"),
    )


def _letter_room(rows: Sequence[KeyRow]) -> float:
    look = LETTERINGS["t-verdict"]
    widths = [text_width(row.letter, face=look.face, size=look.size) for row in rows if row.letter]
    return max(widths) + 2.0 if widths else 0.0


# ---------------------------------------------------------------- arrangements


@dataclass(frozen=True)
class Foot:
    """An arrangement of the foot: where the notes and the number begin, how many columns, how high [mm]."""

    left: float
    right: float
    under: str
    columns: int
    height: float
    rows: tuple[KeyRow, ...]


def foot_of(rows: Sequence[KeyRow], legend: Legend, *, inner: float) -> Foot:
    """Choose the lowest arrangement of the foot.

    Parameters
    ----------
    rows : sequence of KeyRow
        The key.
    legend : Legend
        What is said.
    inner : float
        Width between the sheet's inner rules [mm].

    Returns
    -------
    Foot
        Of equal ones the first.
    """
    found = [_measured(foot, legend, inner) for foot in _arrangements(tuple(rows), inner)]
    return min(found, key=lambda foot: foot.height)


def _arrangements(rows: tuple[KeyRow, ...], inner: float) -> Iterator[Foot]:
    keys = (74.0, 60.0) if inner < 230.0 else (84.0, 100.0, 68.0)
    for key in keys if rows else (0.0,):
        for columns in (1, 2):
            for number in (52.0,) if inner < 230.0 else (max(62.0, inner * 0.2),):
                if (inner - key - number) / columns > 56.0:
                    yield Foot(key, inner - number, "", columns, 0.0, rows)
            if rows and (inner - key) / columns > 56.0:
                yield Foot(key, inner, "key", columns, 0.0, rows)
                yield Foot(key, inner, "strip", columns, 0.0, rows)


def _measured(foot: Foot, legend: Legend, inner: float) -> Foot:
    key = key_height(foot)
    notes = notes_height(foot, legend)
    number = number_height(legend, _number_width(foot, inner))
    if foot.under == "key":
        height = max(key - 1.2 + number, notes)
    elif foot.under == "strip":
        height = max(key - 2.0, notes) + _strip_height(foot, legend, inner)
    else:
        height = max(key, notes, number)
    return Foot(foot.left, foot.right, foot.under, foot.columns, max(height, 24.0), foot.rows)


def _number_width(foot: Foot, inner: float) -> float:
    return (foot.left if foot.under == "key" else inner - foot.right) - 2 * _EDGE


def key_height(foot: Foot) -> float:
    """Return the height of the key [mm].

    Parameters
    ----------
    foot : Foot
        Its rows, and its width as ``left``.

    Returns
    -------
    float
        [mm].
    """
    return 11.0 + _ROW * len(_key_lines(foot))


def notes_height(foot: Foot, legend: Legend) -> float:
    """Return the height of the notes [mm].

    Parameters
    ----------
    foot : Foot
        They stand between its ``left`` and its ``right``.
    legend : Legend
        What is said.

    Returns
    -------
    float
        [mm].
    """
    return 9.5 + _NOTE * max(len(column) for column in _note_columns(foot, legend))


def number_height(legend: Legend, width: float) -> float:
    """Return the height of the plate's number and what stands under it [mm].

    Parameters
    ----------
    legend : Legend
        What is said.
    width : float
        Of its lines [mm].

    Returns
    -------
    float
        [mm].
    """
    return 12.5 + sum(LETTERINGS[look].size * 1.35 for look, _ in _number_lines(legend, width))


def _strip_height(foot: Foot, legend: Legend, inner: float) -> float:
    lines = _number_lines(legend, inner - foot.left - 2 * _EDGE)
    return max(10.5, 4.0 + sum(LETTERINGS[look].size * 1.35 for look, _ in lines))


def _number_lines(legend: Legend, width: float) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    said = (
        ("t-note-italic", legend.dated),
        ("t-verdict", legend.verdicts),
        ("t-fine", CAUTION),
        ("t-fine", legend.credit),
    )
    for cut, words in said:
        look = LETTERINGS[cut]
        lines = wrapped(words, face=look.face, size=look.size, width=width) if words else ()
        found += [(cut, line) for line in lines]
    return found


def _key_lines(foot: Foot) -> list[tuple[KeyRow | None, str]]:
    """Break the key's words into lines; a further line of an entry has no sample."""
    look = LETTERINGS["t-key"]
    room = foot.left - 2 * _EDGE - _SAMPLE - 3.0 - _letter_room(foot.rows)
    found: list[tuple[KeyRow | None, str]] = []
    for row in foot.rows:
        lines = wrapped(row.words, face=look.face, size=look.size, width=room)
        found += [(row if n == 0 else None, line) for n, line in enumerate(lines)]
    return found


def _note_columns(foot: Foot, legend: Legend) -> list[list[tuple[str, str]]]:
    """Break the notes into lines and columns; a note, a caution above all, is never parted."""
    notes = [("t-fault", legend.fault)] if legend.fault else []
    notes += [("t-note", note) for note in legend.notes]
    notes += [("t-verdict", f"Caution: {hazard}") for hazard in legend.hazards]
    notes += [("t-note-italic", f"Sources: {legend.sources}")] if legend.sources else []
    room = _note_width(foot)
    whole: list[list[tuple[str, str]]] = []
    for cut, note in notes:
        look = LETTERINGS[cut]
        lines = wrapped(note, face=look.face, size=look.size, width=room)
        whole.append([(cut, line) for line in lines])
    if foot.columns == 1:
        return [[line for note in whole for line in note]]
    best = min(range(len(whole) + 1), key=lambda n: (max(_count(whole[:n]), _count(whole[n:])), -n))
    return [[line for note in half for line in note] for half in (whole[:best], whole[best:])]


def _count(notes: Sequence[Sequence[tuple[str, str]]]) -> int:
    return sum(len(note) for note in notes)


def _note_width(foot: Foot) -> float:
    whole = foot.right - foot.left - 2 * _EDGE
    return (whole - _GUTTER * (foot.columns - 1)) / foot.columns


# ---------------------------------------------------------------- drawing it


def foot_items(
    foot: Foot, legend: Legend, sheet: tuple[int, int], *, left: float, top: float, inner: float
) -> list[Item]:
    """Draw the foot.

    Parameters
    ----------
    foot : Foot
        Its arrangement.
    legend : Legend
        What is said.
    sheet : (number, count)
        Which sheet of how many.
    left, top : float
        Its upper left corner [mm].
    inner : float
        Its width [mm].

    Returns
    -------
    list of Item
        Rules and words.
    """
    bottom = top + foot.height
    strip = _strip_height(foot, legend, inner) if foot.under == "strip" else 0.0
    upright = left + foot.left
    items: list[Item] = [Line(((left, top), (left + inner, top)), "fine-rule")]
    if foot.rows:
        items.append(Line(((upright, top), (upright, bottom - strip)), "fine-rule"))
        items += key_items(foot, left + _EDGE, top)
    items += note_items(foot, legend, upright + _EDGE, top)
    if foot.under == "strip":
        items.append(Line(((left, bottom - strip), (left + inner, bottom - strip)), "fine-rule"))
        return [*items, *_strip_items(foot, legend, sheet, left, bottom - strip, inner)]
    if foot.under == "key":
        below = top + 9.8 + _ROW * len(_key_lines(foot))
        items.append(Line(((left, below), (upright, below)), "fine-rule"))
        return [*items, *number_items(legend, sheet, left + _EDGE, below, foot.left - 2 * _EDGE)]
    x = left + foot.right
    items.append(Line(((x, top), (x, bottom)), "fine-rule"))
    return [*items, *number_items(legend, sheet, x + _EDGE, top, inner - foot.right - 2 * _EDGE)]


def key_items(foot: Foot, left: float, top: float) -> list[Item]:
    """Draw the key.

    Parameters
    ----------
    foot : Foot
        Its rows, and its width as ``left``.
    left, top : float
        Where it stands [mm].

    Returns
    -------
    list of Item
        Samples and words.
    """
    lines = _key_lines(foot)
    items: list[Item] = [Text((left, top + 6.0), "KEY", "t-head")] if lines else []
    words_at = left + _SAMPLE + 3.0 + _letter_room(foot.rows)
    for n, (row, words) in enumerate(lines):
        y = top + 11.0 + _ROW * n
        if row is not None:
            items += [_placed(item, left, y - 1.0) for item in row.sample]
            items += [Text((left + _SAMPLE + 3.0, y), row.letter, "t-verdict")] if row.letter else []
        items.append(Text((words_at, y), words, "t-key"))
    return items


def _placed(item: Item, x: float, y: float) -> Item:
    if isinstance(item, Line):
        return Line(tuple((x + px, y + py) for px, py in item.points), item.look)
    if isinstance(item, Circle):
        return Circle((x + item.centre[0], y + item.centre[1]), item.radius, item.look)
    raise TypeError("a sample of the key is made of lines and circles")


def note_items(foot: Foot, legend: Legend, left: float, top: float) -> list[Item]:
    """Draw the notes.

    Parameters
    ----------
    foot : Foot
        They stand between its ``left`` and its ``right``.
    legend : Legend
        What is said.
    left, top : float
        Where they stand [mm].

    Returns
    -------
    list of Item
        Words.
    """
    columns = _note_columns(foot, legend)
    items: list[Item] = [Text((left, top + 6.0), "NOTES", "t-head")] if columns[0] else []
    for k, lines in enumerate(columns):
        x = left + k * (_note_width(foot) + _GUTTER)
        items += [Text((x, top + 11.0 + _NOTE * n), line, look) for n, (look, line) in enumerate(lines)]
    return items


def _plate_words(legend: Legend, sheet: tuple[int, int]) -> tuple[str, str]:
    return f"PLATE {legend.number}".strip(), f"sheet {sheet[0]} of {sheet[1]}" if sheet[1] > 1 else ""


def number_items(legend: Legend, sheet: tuple[int, int], x: float, top: float, width: float) -> list[Item]:
    """Draw the plate's number and what stands under it.

    Parameters
    ----------
    legend : Legend
        What is said.
    sheet : (number, count)
        Which sheet of how many.
    x, top, width : float
        Where it stands, and how wide [mm].

    Returns
    -------
    list of Item
        Words.
    """
    number, count = _plate_words(legend, sheet)
    items: list[Item] = [Text((x, top + 7.4), number, "t-plate")]
    if count:
        items.append(Text((x + width, top + 7.4), count, "t-note-italic", "end"))
    y = top + 12.6
    for look, line in _number_lines(legend, width):
        items.append(Text((x, y), line, look))
        y += LETTERINGS[look].size * 1.35
    return items


def _strip_items(
    foot: Foot, legend: Legend, sheet: tuple[int, int], left: float, top: float, inner: float
) -> list[Item]:
    number, count = _plate_words(legend, sheet)
    items: list[Item] = [Text((left + _EDGE, top + 6.9), number, "t-plate")]
    if count:
        items.append(Text((left + foot.left - _EDGE, top + 6.9), count, "t-note-italic", "end"))
    y = top + 4.6
    for look, line in _number_lines(legend, inner - foot.left - 2 * _EDGE):
        items.append(Text((left + foot.left + _EDGE, y), line, look))
        y += LETTERINGS[look].size * 1.35
    return items
