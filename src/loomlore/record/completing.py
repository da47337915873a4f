"""What belongs together within one thing, or among a few: defaults, and keys that must agree.

Each ``finish`` function gets the thing's values by field and its raw keys, adds what follows from them, and
appends a slip where two of them disagree.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any

from loomlore.findings import Severity, UnreadableValue, nearest
from loomlore.quantities import Quantity, Size, as_bare, read_quantity
from loomlore.record import model, values
from loomlore.record.gathering import Entry, Notes
from loomlore.record.keys import TABLES
from loomlore.record.places import Path
from loomlore.record.toml import as_toml
from loomlore.record.values import LOST, Slip

__all__ = ["FINISH", "default_name", "scale", "settle_amounts"]

Fields = dict[str, Any]
Finish = Callable[[Entry, Mapping[str, Any], Fields, list[Slip]], None]


def default_name(word: str, id_: str, *, mark: str = "") -> str:
    """The name of a thing that gives none: its id with blanks and a capital; of cables the mark.

    Parameters
    ----------
    word
        The word of its table.
    id_
        Its id.
    mark
        A cable's mark as printed.

    Returns
    -------
    str
        For instance "Port lamp".

    Examples
    --------
    >>> default_name("item", "port-lamp"), default_name("way", "fuse-box-a.3")
    ('Port lamp', 'Fuse box a, way 3')
    """
    if word in ("cable", "sheath"):
        return mark or id_
    if word == "way":
        item, _, number = id_.rpartition(".")
        return f"{default_name('item', item)}, way {number}"
    words = id_.rpartition(".")[2].replace("-", " ") if word == "scale" else id_.replace("-", " ")
    return words[:1].upper() + words[1:]


# --- controls ----------------------------------------------------------------------------------------------


def _finish_control(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:
    fields["world"] = entry.word == "condition"
    positions, span = fields.get("positions", ()), fields.get("range")
    if "positions" in raw and "range" in raw:
        slips.append(
            Slip(("range",), "it has positions and a range.", "Keep one of the two.", rule="one-of-two")
        )
    elif not {"positions", "range", LOST} & raw.keys() and not positions and span is None:
        hint = 'Write positions = ["off", "on"], or range = [0, 1].'
        slips.append(Slip((), "it has neither positions nor a range.", hint, rule="missing-key"))
    if positions:
        _choose_positions(positions, fields, slips)
    elif span is not None:
        if entry.word == "control" and span[0].dimension in _OF_THE_WORLD:
            message = f"nobody moves a lever through {span[0].text} to {span[1].text}."
            hint = "Move the line under [condition], if it is the world that does it."
            slips.append(Slip(("range",), message, hint, rule="unlike-a-lever", severity=Severity.WARNING))
        start = _within(fields.get("start", span[0].value), span, ("start",), slips)
        fields["start"] = span[0].value if start is None else start
        if "springs_to" in fields and _within(fields["springs_to"], span, ("springs-to",), slips) is None:
            del fields["springs_to"]
    else:
        fields.pop("start", None)


_OF_THE_WORLD = frozenset({"pressure", "rotation", "speed", "temperature", "volume", "mass"})


def _choose_positions(positions: tuple[str, ...], fields: Fields, slips: list[Slip]) -> None:
    for key in ("start", "springs-to"):
        field = key.replace("-", "_")
        word = fields.get(field)
        if word is not None and word not in positions:
            slips.append(_no_position(word, positions, key))
            del fields[field]
    fields.setdefault("start", positions[0])


def _no_position(word: object, positions: tuple[str, ...], key: str) -> Slip:
    meant = nearest(str(word), positions)
    hint = f"Write {as_toml(meant)}." if meant else f"Write one of {', '.join(map(as_toml, positions))}."
    return Slip((key,), f"{as_toml(word)} is none of its positions.", hint, rule="unknown-position")


def _within(raw: str | float, span: tuple[Quantity, Quantity], path: Path, slips: list[Slip]) -> float | None:
    """An amount within a range, in its inside unit; None with a slip where it is none."""
    low, high = span
    value = _amount_in(raw, span, path, slips)
    if value is None or low.value <= value <= high.value:
        return value
    message = f"{as_toml(raw)} is beyond its range, {low.text} to {high.text}."
    slips.append(Slip(path, message, "Write an amount within it, or widen the range.", rule="beyond-range"))
    return None


def _amount_in(
    raw: str | float, span: tuple[Quantity, Quantity], path: Path, slips: list[Slip]
) -> float | None:
    low, high = span
    if isinstance(raw, str):
        try:
            share = not low.dimension and raw.rstrip().endswith("%")
            return read_quantity(raw, "fraction" if share else low.dimension, bare=not low.dimension).value
        except UnreadableValue as slip:
            slips.append(Slip(path, slip.message, slip.hint))
            return None
    if low.dimension and raw != low.value:
        unit = high.text.split()[-1]
        message = f"{as_bare(raw)} has no unit, and its range {low.text} to {high.text} has."
        slips.append(Slip(path, message, f'Write "{as_bare(raw)} {unit}".'))
        return None
    return float(raw)


# --- other tables ------------------------------------------------------------------------------------------


def _finish_loom(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    legs, route = fields.get("legs"), fields.get("route")
    if legs and route and len(legs) == len(raw.get("legs", legs)) and len(legs) != len(route) - 1:
        message = f"its route has {len(route)} places and so {len(route) - 1} legs; {len(legs)} are given."
        hint = "Write one length for each stretch between two places."
        slips.append(Slip(("legs",), message, hint, rule="legs"))
        del fields["legs"]


def _finish_outline(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    points = fields.get("points", ())
    if any(isinstance(end, float) for point in points for end in point) and not fields.get("unit"):
        if "unit" not in raw and LOST not in raw:
            hint = 'Write unit = "m", or "in" or "ft", as the drawing has it.'
            slips.append(Slip(("points",), "its points have no unit.", hint, rule="no-unit"))
        fields["unit"] = "m"
    least = 2 if fields.get("line") else 3
    if points and len(points) == len(raw.get("points", points)) and len(points) < least:
        many = "two points" if least == 2 else "three points, in order round the outline, or line = true"
        count = "one point" if len(points) == 1 else f"{len(points)} points"
        message = f"it has {count}, which is no outline."
        slips.append(Slip(("points",), message, f"Write at least {many}.", rule="too-few-points"))
    if fields.get("mirrored") and fields.get("view") == "side":
        message = "a side view has no centre line to be mirrored about."
        slips.append(Slip(("mirrored",), message, "Take `mirrored` out.", rule="one-of-two"))


def _finish_sheath(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    made_as = fields.get("type")
    if not made_as:
        return
    try:
        size = values.size(made_as, [])
    except UnreadableValue as slip:
        slips.append(Slip(("type",), slip.message, slip.hint))
    else:
        fields["size"] = size if isinstance(size, Size) else None


def _finish_item(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    """What is no key of every item is its kind's to judge."""
    keys = TABLES["item"].keys
    said = {slip.path[0] for slip in slips if slip.rule == "unknown-key"}
    own: dict[str, str | float] = {}
    for key, value in raw.items():
        if key in keys or key in said or LOST in (key, value):
            continue
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            refused = values.wrong_type(value, "an amount or a word", '"…" in quotes')
            slips.append(Slip((key,), refused.message, refused.hint, rule="wrong-type"))
        else:
            own[key] = value
    fields["own"] = own


def _finish_way(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:
    fields["item"] = entry.of
    fields["number"] = entry.id.rpartition(".")[2]
    if raw.get("spare") is True and "basis" in raw and "fuse" not in raw:
        slips.append(Slip(("basis",), "it is spare and has no fuse.", "Write its fuse, or take 'basis' out."))


def _finish_statement(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    fields["given_none"] = raw.get("given") == ""
    sees = any(step.see is not None for step in fields.get("steps") or ())
    function = "then" in raw or sees
    of_property = "about" in raw or "says" in raw
    if function and of_property:
        hint = "Keep 'then', or 'about' and 'says'; two statements may quote one sentence."
        slips.append(Slip((), "it speaks of a function and of a property.", hint, rule="one-of-two"))
    if any(slip.rule == "unknown-key" for slip in slips) or LOST in raw:
        return
    if ("when" in raw or "steps" in raw) and not function:
        slips.append(Slip((), "it has no 'then'.", 'Write then = "…": what is seen.', rule="missing-key"))
    elif of_property and not {"about", "says"} <= raw.keys():
        absent = "says" if "about" in raw else "about"
        example = TABLES["statement"].keys[absent].example
        slips.append(Slip((), f"it has no {absent!r}.", f"Write {absent} = {example}.", rule="missing-key"))


def _finish_measurement(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    value, of = fields.get("value"), fields.get("of", ())
    if value is None or len(of) != 2 or value.dimension in _BETWEEN_TERMINALS:
        return
    message = f"{value.text!r} is nothing that a meter shows between two terminals."
    slips.append(Slip(("value",), message, "Write volts, amperes or ohms, like '24.6 V'."))
    del fields["value"]


_BETWEEN_TERMINALS = frozenset(
    {"voltage", "current", "resistance", "power", "charge", "capacitance", "fraction"}
)


def _finish_modification(entry: Entry, raw: Mapping[str, Any], fields: Fields, slips: list[Slip]) -> None:  # noqa: ARG001
    fields["modification"] = True


FINISH: Mapping[str, Finish] = {
    "condition": _finish_control,
    "control": _finish_control,
    "loom": _finish_loom,
    "outline": _finish_outline,
    "sheath": _finish_sheath,
    "item": _finish_item,
    "way": _finish_way,
    "statement": _finish_statement,
    "measurement": _finish_measurement,
    "modification": _finish_modification,
}
"""What to do with a thing of each table once its keys are read."""


# --- scales ------------------------------------------------------------------------------------------------


def scale(entry: Entry, notes: Notes, where: Any) -> model.Scale | None:
    """Read ``[["0.25", "0 gal(UK)"], …]``: rising amps, volts or ratio, and the printed mark.

    Parameters
    ----------
    entry
        The scale as it stands.
    notes
        Takes what is wrong.
    where
        Its place.

    Returns
    -------
    Scale or None
        None where fewer than two points could be read.
    """
    if entry.raw == LOST:
        return None
    if not isinstance(entry.raw, list) or len(entry.raw) < 2:
        example = '[["0.25", "0 gal(UK)"], ["0.80", "90 gal(UK)"]]'
        refused = values.wrong_type(entry.raw, "a list of at least two pairs", example)
        notes.say(entry, Slip((), refused.message, refused.hint, rule="wrong-type"))
        return None
    slips: list[Slip] = []
    points = [point for index, pair in enumerate(entry.raw) if (point := _point(pair, index, slips))]
    if len(points) == len(entry.raw):
        _check_points(points, slips)
    for slip in slips:
        notes.say(entry, slip)
    if len(points) < 2:
        return None
    marks = tuple((amount.value, mark) for amount, mark in points)
    name = default_name("scale", entry.id)
    return model.Scale(id=entry.id, name=name, item=entry.of, points=marks, where=where)


def _point(pair: Any, index: int, slips: list[Slip]) -> tuple[Quantity, Quantity] | None:
    if not isinstance(pair, list) or len(pair) != 2:
        refused = values.wrong_type(pair, "a pair: what goes in, and the mark", '["0.25", "0 gal(UK)"]')
        slips.append(Slip((index,), refused.message, refused.hint, rule="wrong-type"))
        return None
    read = []
    for side, raw in enumerate(pair):
        number = isinstance(raw, int | float) and not isinstance(raw, bool)
        try:
            read.append(read_quantity(as_bare(raw) if number else values.text(raw, slips), bare=True))
        except UnreadableValue as slip:
            slips.append(Slip((index, side), slip.message, slip.hint))
    return (read[0], read[1]) if len(read) == 2 else None


def _check_points(points: list[tuple[Quantity, Quantity]], slips: list[Slip]) -> None:
    for index, (one, after) in enumerate(pairwise(points), 1):
        for side in (0, 1):
            if one[side].dimension != after[side].dimension:
                message = f"{after[side].text!r} has another unit than {one[side].text!r} before it."
                slips.append(Slip((index, side), message, "Write all of them in one unit."))
                return
        if after[0].value <= one[0].value:
            message = f"{after[0].text!r} does not rise above {one[0].text!r}."
            slips.append(Slip((index, 0), message, "Write the points in rising order."))
            return


# --- settings: amounts of the dossier's own ranges ---------------------------------------------------------


def settle_amounts(tables: Mapping[str, dict[str, Any]], notes: Notes) -> None:
    """Read ``"80 kt"`` in settings where the name is a dossier's range; other names are looked up later.

    Parameters
    ----------
    tables
        Things by id, by the dossier's attribute; procedures, phases and statements are replaced.
    notes
        Takes what is wrong.
    """
    controls = {**tables["conditions"], **tables["controls"]}
    spans = {id_: control.range for id_, control in controls.items() if control.range is not None}
    if not spans:
        return
    for attribute, word, key in (
        ("procedures", "procedure", "start"),
        ("phases", "phase", "settings"),
        ("procedures", "procedure", "steps"),
        ("statements", "statement", "steps"),
    ):
        for id_, thing in tables[attribute].items():
            entry = Entry(word, id_, {}, *notes.paths[f"{word} {id_}"])
            if key == "steps":
                settled: Any = tuple(
                    replace(step, do=_settled(step.do, spans, (key, index, "do"), entry, notes))
                    if step.do.keys() & spans.keys()
                    else step
                    for index, step in enumerate(thing.steps)
                )
            else:
                settled = _settled(getattr(thing, key), spans, (key,), entry, notes)
            if settled != getattr(thing, key):
                tables[attribute][id_] = replace(thing, **{key: settled})


def _settled(
    settings: Mapping[str, str | float], spans: Mapping[str, Any], path: Path, entry: Entry, notes: Notes
) -> dict[str, str | float]:
    slips: list[Slip] = []
    settled: dict[str, str | float] = {}
    for name, value in settings.items():
        amount = _within(value, spans[name], (*path, name), slips) if name in spans else value
        if amount is not None:
            settled[name] = amount
    for slip in slips:
        notes.say(entry, slip)
    return settled
