"""Values made of several: lists, tables in braces, points, steps.

Readers like those of :mod:`loomlore.record.values`; a bad part costs that part.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from loomlore.findings import Severity, UnreadableValue, nearest
from loomlore.quantities import Quantity, as_bare, read_quantity
from loomlore.record.model import Step
from loomlore.record.toml import as_quoted, as_toml
from loomlore.record.values import (
    LOST,
    Reader,
    Slip,
    amount_or_words,
    duration,
    each,
    is_number,
    list_of_texts,
    mapping_of,
    name,
    names,
    part,
    quantity,
    sentence,
    terminal,
    text,
    wrong_type,
)

__all__ = [
    "duties",
    "feeds",
    "link_groups",
    "outline_points",
    "picture_points",
    "point",
    "position_words",
    "quantity_list",
    "route",
    "settings",
    "starts",
    "steps",
    "terminals",
    "written_keys",
]

_NOT_A_POSITION = frozenset({"and", "or", "not", "is", "one", "through"})
_STEP_KEYS = ("do", "see", "hold", "wait", "text")


def quantity_list(dimension: str) -> Reader:
    """A reader of a list of amounts of one dimension.

    Parameters
    ----------
    dimension
        The dimension wanted.

    Returns
    -------
    Reader
        Gives a tuple of Quantity.
    """
    one = quantity(dimension)

    def read(raw: Any, slips: list[Slip]) -> tuple[Quantity, ...]:
        if not isinstance(raw, list):
            raise wrong_type(raw, "a list of amounts", 'a list in brackets, like ["1.2 m", "0.8 m"]')
        return tuple(each(raw, one, slips))

    return read


def route(raw: Any, slips: list[Slip]) -> tuple[str, ...]:
    """Places in the order in which a loom passes them; one may come twice, but not twice running.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of str
        As written.
    """
    if not isinstance(raw, list) or len(raw) < 2:
        raise wrong_type(raw, "a list of at least two places", '["panel", "frame-3"]')
    for index, (one, next_one) in enumerate(pairwise(raw)):
        if one == next_one:
            hint = "Take one of the two out, or write the one that was meant."
            slips.append(
                Slip((index + 1,), f"{as_toml(one)} stands twice running.", hint, rule="twice-in-list")
            )
    return tuple(each(raw, name, slips))


def feeds(raw: Any, slips: list[Slip]) -> tuple[str, ...]:
    """What feeds a service: a way, an item, or a list of them.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of str
        As written; empty where nothing does.
    """
    if raw in ("", "none"):
        return ()
    return list_of_texts(raw, terminal, slips)


def terminals(raw: Any, slips: list[Slip]) -> tuple[str, ...]:
    """Two terminals, or one line of a card as a text.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of str
        Two terminals, or the one text.
    """
    if isinstance(raw, str) and raw.strip():
        return (raw,)
    if not isinstance(raw, list) or len(raw) != 2:
        raise wrong_type(raw, "two terminals", '["horn.1", "horn.2"], or the line of a card in quotes')
    return tuple(each(raw, terminal, slips))


def _triple(raw: Any, slips: list[Slip], example: str) -> tuple[float, float, float] | None:
    read = quantity("length")
    if not isinstance(raw, list) or len(raw) != 3:
        raise wrong_type(raw, "three lengths: aft, to starboard, up", example)
    if all(is_number(part) for part in raw):
        hint = f"Write {as_toml([f'{as_bare(part)} m' for part in raw])}, if metres are meant."
        raise UnreadableValue("The three lengths have no unit.", hint)
    values = each(raw, read, slips)
    units = {one.text.split()[-1] for one in values if one.value}
    if len(units) > 1:
        message = f"Three lengths in {' and '.join(sorted(units))}: is one of the units a slip?"
        hint = "Write all three in one unit."
        slips.append(Slip((), message, hint, rule="unusual-amount", severity=Severity.WARNING))
    return (values[0].value, values[1].value, values[2].value) if len(values) == 3 else None


def point(raw: Any, slips: list[Slip]) -> tuple[float, float, float] | None:
    """Metres aft, to starboard and up.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of float or None
        Three lengths [m]; None where one of them could not be read.
    """
    return _triple(raw, slips, '["2.4 m", "-0.3 m", "0.9 m"]')


def picture_points(raw: Any, slips: list[Slip]) -> tuple[tuple[float, float], ...]:
    """Points on a scan, in its own pixels.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of (float, float)
        From left and from top [1].
    """

    def pair(one: Any, inner: list[Slip]) -> tuple[float, float]:  # noqa: ARG001
        if not isinstance(one, list) or len(one) != 2 or not all(is_number(part) for part in one):
            raise wrong_type(one, "two numbers of pixels", "[120, 348]")
        return float(one[0]), float(one[1])

    if not isinstance(raw, list):
        raise wrong_type(raw, "a list of points", "[[120, 348], [180, 348]]")
    return tuple(each(raw, pair, slips))


def outline_points(raw: Any, slips: list[Slip]) -> tuple[tuple[float | Quantity, float | Quantity], ...]:
    """Points of an outline in order: pairs of bare numbers, or of amounts with their units.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of pairs
        As typed; aft, and up or to starboard.
    """
    if not isinstance(raw, list):
        raise wrong_type(raw, "a list of points", _POINTS)
    if raw and all(is_number(part) for part in raw):
        pairs = [list(pair) for pair in zip(raw[::2], raw[1::2], strict=False)]
        hint = f"Write {as_toml(pairs)}." if len(raw) % 2 == 0 else f"Write pairs, like {_POINTS}."
        raise UnreadableValue("The points stand in no pairs.", hint)
    return tuple(each(raw, _outline_point, slips))


_POINTS = "[[0, 1.2], [0.4, 0.1], [8.8, 0.3]]"


def _outline_point(raw: Any, slips: list[Slip]) -> tuple[float | Quantity, float | Quantity]:
    if isinstance(raw, list) and len(raw) in (3, 4) and all(map(is_number, raw)):
        meant = _with_points(raw)
        hint = f"Write [{meant}], if decimal commas were meant." if meant else "Write two, like [0.6, 1.2]."
        raise UnreadableValue(f"{as_toml(raw)} has {len(raw)} numbers, and a point has two.", hint)
    if not isinstance(raw, list) or len(raw) != 2:
        raise wrong_type(raw, "a point: two numbers, aft and across", "[0.6, 1.2]")
    read = quantity("length")
    ends = [float(end) if is_number(end) else part(end, read, (n,), slips) for n, end in enumerate(raw)]
    return None if None in ends else (ends[0], ends[1])  # type: ignore[return-value]  # said already


def _with_points(raw: list[int | float]) -> str:
    """Numbers that commas have cut, joined by points; "" where they may have been cut in several ways."""
    whole = [isinstance(number, int) for number in raw]
    if len(raw) == 4 and all(whole) and min(raw[1], raw[3]) >= 0:
        return f"{raw[0]}.{raw[1]}, {raw[2]}.{raw[3]}"
    if len(raw) == 3 and not whole[0] and all(whole[1:]) and raw[2] >= 0:
        return f"{raw[0]}, {raw[1]}.{raw[2]}"
    if len(raw) == 3 and not whole[2] and all(whole[:2]) and raw[1] >= 0:
        return f"{raw[0]}.{raw[1]}, {raw[2]}"
    return ""


def position_words(raw: Any, slips: list[Slip]) -> tuple[str, ...]:
    """The positions of a control or condition.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of str
        In order; at least two.
    """
    if not isinstance(raw, list) or len(raw) < 2:
        raise wrong_type(raw, "a list of at least two positions", '["off", "on"]')
    return list_of_texts(raw, _position, slips)


def _position(raw: Any, slips: list[Slip]) -> str:
    if isinstance(raw, int | float):
        raise wrong_type(raw, "a position's name", as_quoted(str(raw)))
    word = name(raw, slips)
    if word in _NOT_A_POSITION or "'" in word:
        raise UnreadableValue(
            f"{as_quoted(word)} is a word of the sentence language.", "Call the position otherwise."
        )
    return word


def settings(raw: Any, slips: list[Slip]) -> dict[str, str | float]:
    """What is set to what: ``{ master = "on", throttle = 0.3 }``.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    dict of str to (str or float)
        By the name of the control or condition.
    """
    if not isinstance(raw, Mapping):
        raise wrong_type(raw, "controls and their positions", '{ master = "on" }')
    return mapping_of(amount_or_words)(_flat(raw), slips)  # type: ignore[no-any-return]


def _flat(raw: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    """``{ a.b = "on" }`` is read as ``{ "a.b" = "on" }``: an item's control has a point in its name."""
    flat: dict[str, Any] = {}
    for key, value in raw.items():
        if isinstance(value, Mapping) and value:
            flat.update(_flat(value, f"{before}{key}."))
        else:
            flat[before + key] = value
    return flat


def starts(raw: Any, slips: list[Slip]) -> dict[str, str | float]:
    """Where an item's controls stand at rest; a position alone is that of its only control, under "".

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    dict of str to (str or float)
        By the control's short name.
    """
    if isinstance(raw, Mapping):
        return settings(raw, slips)
    return {"": amount_or_words(raw, slips)}


def link_groups(raw: Any, slips: list[Slip]) -> tuple[tuple[str, ...], ...]:
    """Ways joined inside: ``[["3", "4"]]``.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    tuple of tuple of str
        Each group at least two.
    """

    def group(one: Any, inner: list[Slip]) -> tuple[str, ...]:
        if not isinstance(one, list) or len(one) < 2:
            raise wrong_type(one, "a list of ways joined to one another", '["3", "4"]')
        return tuple(each(one, name, inner))

    if not isinstance(raw, list):
        raise wrong_type(raw, "a list of joined ways", '[["3", "4"]]')
    if raw and all(isinstance(one, str) for one in raw):
        raise UnreadableValue(
            "The ways are not grouped.", f"Write {as_toml([raw])} where they are joined together."
        )
    return tuple(each(raw, group, slips))


def duties(raw: Any, slips: list[Slip]) -> dict[str, tuple[str, float]]:
    """How long each service runs in a phase: ``{ horn = "10 s", navigation = "continuous", pump = 0.1 }``.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    dict of str to (str, float)
        By service: ("share", 0 to 1 [1]), or ("time", seconds [s]).
    """

    def duty(one: Any, inner: list[Slip]) -> tuple[str, float]:  # noqa: ARG001
        if one == "continuous":
            return "share", 1.0
        if is_number(one) and 0 <= one <= 1:
            return "share", float(one)
        if isinstance(one, str):
            amount = read_quantity(one)
            if amount.dimension == "time":
                return "time", amount.value
            if amount.dimension == "fraction":
                return "share", amount.value
        raise UnreadableValue(
            f"{as_toml(one)} is no duty.", 'Write "continuous", a share such as 0.1, or "10 s".'
        )

    return mapping_of(duty)(raw, slips)  # type: ignore[no-any-return]


def steps(raw: Any, slips: list[Slip]) -> tuple[Step, ...]:
    """The steps of a procedure, in order.

    Parameters
    ----------
    raw, slips
        As for every reader; a bad part of a step costs that part.

    Returns
    -------
    tuple of Step
        Without their places.
    """
    if not isinstance(raw, list) or not raw:
        raise wrong_type(raw, "a list of steps", '[{ do = { master = "on" }, see = "lamp is lit" }]')
    return tuple(each(raw, _step, slips))


def _step(raw: Any, slips: list[Slip]) -> Step:
    if not isinstance(raw, Mapping):
        raise wrong_type(raw, "a step", '{ do = { master = "on" }, see = "lamp is lit" }')
    readers: dict[str, Reader] = {
        "do": settings,
        "see": sentence,
        "hold": names,
        "wait": duration,
        "text": text,
    }
    fields: dict[str, Any] = {}
    for key, value in raw.items():
        if key == LOST:
            continue
        meant = key if key in readers else nearest(key, [k for k in _STEP_KEYS if k not in raw])
        if meant != key:
            hint = f"Write {meant!r}." if meant else "A step has: " + ", ".join(_STEP_KEYS) + "."
            slips.append(Slip((key,), f"{key!r} is no key of a step.", hint, rule="unknown-key"))
        if meant:
            fields[meant] = part(value, readers[meant], (key,), slips)
    if not raw:
        raise UnreadableValue("The step is empty.", "Write what is done or seen, or take it out.")
    return Step(**{key: value for key, value in fields.items() if value is not None})


def written_keys(raw: Any, slips: list[Slip]) -> dict[str, dict[str, Any]]:
    """What a fit changes: ids, and for each the keys it replaces, kept as written.

    Parameters
    ----------
    raw, slips
        As for every reader.

    Returns
    -------
    dict of str to dict
        By id.
    """

    def one(keys: Any, inner: list[Slip]) -> dict[str, Any]:  # noqa: ARG001
        if not isinstance(keys, Mapping):
            raise wrong_type(keys, "the keys it replaces", '{ rating = "24 V 12 W" }')
        return dict(keys)

    return mapping_of(one)(raw, slips)  # type: ignore[no-any-return]
