"""From a dossier to its text: the inverse of reading, and a started dossier.

``read_texts(written_texts(dossier))`` gives the same dossier, but for the places. What a reader fills in
(names from ids, standings from sources, what a service's cables have in common) is not written out again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from loomlore.findings import RefusedEdit
from loomlore.quantities import UNITS, Date, Quantity, Size, as_bare, read_quantity
from loomlore.record import model
from loomlore.record.completing import default_name
from loomlore.record.editing import save_text
from loomlore.record.keys import HEADER, TABLES, Key, heading_of
from loomlore.record.toml import as_key, as_toml

__all__ = ["amount_text", "new_dossier", "raw_of", "write_dossier", "written_texts"]

LONGEST_LINE = 120

FILES: Mapping[str, tuple[str, ...]] = {
    "dossier.toml": (
        "condition", "control", "place", "outline", "earth", "loom", "sheath", "fit", "choice", "modification",
        "standard",
    ),
    "equipment.toml": ("item", "way"),
    "kinds.toml": (),
    "procedures.toml": ("procedure", "phase"),
    "services.toml": ("service",),
    "sources.toml": ("source", "statement", "decision", "measurement"),
    "scans/scans.toml": ("scan", "tracing"),
}  # fmt: skip
"""Which tables go into which file."""


def write_dossier(dossier: model.Dossier, folder: Path) -> tuple[str, ...]:
    """Write a whole record into a folder.

    Parameters
    ----------
    dossier
        The record.
    folder
        Made where it is not there; files that the record has nothing for are left alone.

    Returns
    -------
    tuple of str
        The files written, relative to the folder.

    Raises
    ------
    RefusedEdit
        Where the folder holds text of a dossier in other files already, or cannot be written.
    """
    texts = written_texts(dossier)
    _make_folder(folder)
    others = sorted(str(path.relative_to(folder)) for path in folder.rglob("*.toml"))
    strays = [name for name in others if name.replace("\\", "/") not in texts]
    if strays:
        raise RefusedEdit(f"{folder} holds {strays[0]} already; nothing was written. Choose an empty folder.")
    for name, text in texts.items():
        _make_folder((folder / name).parent)
        save_text(folder / name, text)
    return tuple(texts)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RefusedEdit(f"{folder} cannot be made: {error.strerror}; nothing was written.") from error


def written_texts(dossier: model.Dossier) -> dict[str, str]:
    """The text of a whole record.

    Parameters
    ----------
    dossier
        The record.

    Returns
    -------
    dict of str to str
        Texts by file, relative to the dossier's folder; only those that hold something.
    """
    texts: dict[str, str] = {}
    for file, words in FILES.items():
        parts: list[str] = []
        if file == "dossier.toml":
            parts.append(_header(dossier.header))
        for word in words:
            parts.extend(_table(dossier, word))
        if file == "equipment.toml":
            parts.extend(_scales(dossier))
        if file == "kinds.toml":
            parts.extend(_kind(id_, raw) for id_, (raw, _) in dossier.kinds.items())
        if parts:
            texts[file] = "\n".join(parts)
    return texts


# --- things -------------------------------------------------------------------------------------------------


def raw_of(word: str, thing: model.Thing, dossier: model.Dossier) -> dict[str, Any]:
    """A thing as TOML would hold it: what was written, not what reading adds.

    Parameters
    ----------
    word
        The word of its table.
    thing
        The thing.
    dossier
        Its record: ranges have units, and a service's cables things in common.

    Returns
    -------
    dict of str to value
        By key, in the order of the table.
    """
    raw = {
        key.name: value
        for key in TABLES[word].keys.values()
        if (value := _value(key, thing, dossier)) is not None
    }
    if raw.get("name") == default_name(word, thing.id, mark=raw.get("mark", "")):
        del raw["name"]
    cited = "sources" in raw or (word == "statement" and "source" in raw)
    if raw.get("standing") == ("attested" if cited else "unsupported"):
        del raw["standing"]
    _MORE.get(word, lambda *_: None)(raw, thing, dossier)
    return raw


def _value(key: Key, thing: Any, dossier: model.Dossier) -> Any:
    """The raw value of a key; None where nothing is to be written."""
    value = getattr(thing, key.field)
    if value is None or (isinstance(value, str | tuple | Mapping) and not value) or value is False:
        return None
    if key.name in ("do", "settings") or (key.name == "start" and not isinstance(value, str | float | int)):
        return _settings(value, dossier)
    if key.name == "steps":
        return [_step(step, dossier) for step in value]
    if key.name == "at":
        return [f"{as_bare(part)} m" for part in value]
    if key.name == "duty":
        return {service: _duty(*duty) for service, duty in value.items()}
    return _plain(value)


def _plain(value: Any) -> Any:
    match value:
        case Quantity() | Size() | Date():
            return value.text
        case model.Citation():
            return str(value)
        case tuple():
            return [_plain(part) for part in value]
        case Mapping() if value and all(isinstance(part, Quantity) for part in value.values()):
            return {key: part.text for key, part in value.items()}
        case Mapping():
            return {key: _plain(part) for key, part in value.items()}
        case bool() | str() | int() | float() | list():
            return value
        case _:
            return str(value)


def _rating(rating: Mapping[str, Quantity]) -> str:
    return " ".join(part.text for part in rating.values())


def _settings(settings: Mapping[str, str | float], dossier: model.Dossier) -> Any:
    if set(settings) == {""}:
        return settings[""]
    return {name: _setting(name, value, dossier) for name, value in settings.items()}


def _setting(name: str, value: str | float, dossier: model.Dossier) -> str | float:
    control = dossier.conditions.get(name) or dossier.controls.get(name)
    if isinstance(value, str) or control is None or control.range is None:
        return value
    return _ranged(value, control.range)


def _ranged(value: float, span: tuple[Quantity, Quantity]) -> str | float:
    """An amount of a range: bare where the range is, else with its unit."""
    dimension = span[0].dimension
    return amount_text(value, dimension) if dimension not in ("", "fraction") else value


def amount_text(value: float, dimension: str) -> str:
    """An amount in the inside unit as a text that reads back as the very same number.

    Parameters
    ----------
    value
        A plain number [1] in the inside unit of the dimension.
    dimension
        For instance "speed".

    Returns
    -------
    str
        With the unit that makes it shortest.

    Examples
    --------
    >>> amount_text(80 * 1852 / 3600, "speed"), amount_text(0.5, "time")
    ('80 kt', '0.5 s')
    """
    units = [(unit, factor) for unit, (factor, kind) in UNITS.items() if kind == dimension]
    found: list[str] = []
    for unit, factor in units:
        near = value / factor
        for number in (round(near, 9), near, math.nextafter(near, math.inf), math.nextafter(near, -math.inf)):
            text = f"{as_bare(number)} {unit}"
            if read_quantity(text).value == value:
                found.append(text)
                break
    return min(found, key=len) if found else f"{as_bare(value / units[0][1])} {units[0][0]}"


def _duty(what: str, value: float) -> str | float:
    if what == "time":
        return f"{as_bare(value)} s"
    return "continuous" if value == 1 else value


def _step(step: model.Step, dossier: model.Dossier) -> dict[str, Any]:
    raw: dict[str, Any] = {}
    if step.do:
        raw["do"] = _settings(step.do, dossier)
    if step.see is not None:
        raw["see"] = str(step.see)
    if step.hold:
        raw["hold"] = list(step.hold)
    if step.wait is not None:
        raw["wait"] = f"{as_bare(step.wait)} s"
    return raw | ({"text": step.text} if step.text else {})


# --- what some tables have beyond their plain keys ----------------------------------------------------------


def _more_of_control(raw: dict[str, Any], thing: Any, dossier: model.Dossier) -> None:  # noqa: ARG001
    if thing.range is not None:
        raw["range"] = [_end(end) for end in thing.range]
        raw["start"] = _ranged(thing.start, thing.range)
        if thing.start == thing.range[0].value:
            del raw["start"]
    elif thing.positions and thing.start == thing.positions[0]:
        raw.pop("start", None)


def _end(end: Quantity) -> str | int | float:
    bare = end.dimension == "" and as_bare(end.value) == end.text
    return (int(end.value) if end.value.is_integer() else end.value) if bare else end.text


def _more_of_item(raw: dict[str, Any], thing: Any, dossier: model.Dossier) -> None:  # noqa: ARG001
    if thing.rating:
        raw["rating"] = _rating(thing.rating)
    if thing.ratings:
        raw["ratings"] = {name: _rating(rating) for name, rating in thing.ratings.items()}
    raw.update(thing.own)


def _more_of_cable(raw: dict[str, Any], thing: Any, dossier: model.Dossier) -> None:
    service = dossier.services.get(thing.service)
    if service is not None and not thing.core and not thing.type:
        for key, value in service.usual.items():
            if raw.get(key) == value:
                del raw[key]


def _more_of_service(raw: dict[str, Any], thing: Any, dossier: model.Dossier) -> None:  # noqa: ARG001
    if len(thing.feed) == 1:
        raw["feed"] = thing.feed[0]


def _more_of_statement(raw: dict[str, Any], thing: Any, dossier: model.Dossier) -> None:  # noqa: ARG001
    raw.pop("legible", None)
    if not thing.legible:
        raw["legible"] = False
    if thing.given_none:
        raw["given"] = ""


def _more_of_measurement(raw: dict[str, Any], thing: Any, dossier: model.Dossier) -> None:  # noqa: ARG001
    if len(thing.of) == 1:
        raw["of"] = thing.of[0]


_MORE: Mapping[str, Any] = {
    "condition": _more_of_control,
    "control": _more_of_control,
    "item": _more_of_item,
    "cable": _more_of_cable,
    "service": _more_of_service,
    "statement": _more_of_statement,
    "measurement": _more_of_measurement,
}


# --- text ---------------------------------------------------------------------------------------------------


def _header(header: model.Header) -> str:
    raw = {
        key.name: _plain(getattr(header, key.field))
        for key in HEADER.values()
        if getattr(header, key.field) not in (None, "")
    }
    return "[dossier]\n" + _lines(raw)


def _lines(raw: Mapping[str, Any]) -> str:
    width = max((len(as_key(key)) for key in raw), default=0)
    return "".join(f"{as_key(key):{width}} = {_line_value(value, width)}\n" for key, value in raw.items())


def _line_value(value: Any, width: int) -> str:
    """A value on one line; a long list of things with one on each line."""
    one = as_toml(value)
    if (
        isinstance(value, list)
        and len(one) + width > LONGEST_LINE
        and all(isinstance(part, Mapping | list) for part in value)
    ):
        return "[\n" + "".join(f"  {as_toml(part)},\n" for part in value) + "]"
    return one


def _table(dossier: model.Dossier, word: str) -> Iterator[str]:
    things = getattr(dossier, TABLES[word].attribute)
    raws = {id_: raw_of(word, thing, dossier) for id_, thing in things.items()}
    if word == "service":
        for id_, raw in raws.items():
            yield _service(id_, raw, dossier)
    elif word == "way":
        for item in dict.fromkeys(way.item for way in things.values()):
            yield _rows(
                f"way.{as_key(item)}", {t.number: raws[i] for i, t in things.items() if t.item == item}
            )
    elif word in ("statement", "measurement", "procedure"):
        heading = "[[{0}]]" if word != "procedure" else "[{0}.{1}]"
        for id_, raw in raws.items():
            keys = {"id": id_} | raw if word != "procedure" else raw
            yield heading.format(word, as_key(id_)) + "\n" + _lines(keys)
    elif raws:
        yield _rows(word, raws)


def _rows(heading: str, raws: Mapping[str, Mapping[str, Any]]) -> str:
    """Things one a line; those that grow too long below, under their own headings."""
    width = max((len(as_key(id_)) for id_ in raws), default=0)
    short, long = [], []
    for id_, raw in raws.items():
        row = f"{as_key(id_):{width}} = {as_toml(raw)}"
        if len(row) <= LONGEST_LINE or not raw:
            short.append(row)
        else:
            long.append(f"\n[{heading}.{as_key(id_)}]\n{_lines(raw)}")
    head = [f"[{heading}]\n"] if short else []
    return "".join([*head, *(f"{row}\n" for row in short), *long]).removeprefix("\n")


def _service(id_: str, raw: Mapping[str, Any], dossier: model.Dossier) -> str:
    cables = {
        mark: raw_of("cable", cable, dossier)
        for mark, cable in dossier.cables.items()
        if cable.service == id_
    }
    text = f"[service.{as_key(id_)}]\n{_lines(raw)}"
    return f"{text}\n{_rows(f'service.{as_key(id_)}.cables', cables)}" if cables else text


def _scales(dossier: model.Dossier) -> Iterator[str]:
    for item in dict.fromkeys(scale.item for scale in dossier.scales.values()):
        own = {id_: scale for id_, scale in dossier.scales.items() if scale.item == item}
        rows = {
            id_.rpartition(".")[2]: [[as_bare(amount), mark.text] for amount, mark in scale.points]
            for id_, scale in own.items()
        }
        yield f"[scale.{as_key(item)}]\n{_lines(rows)}"


def _kind(id_: str, raw: Mapping[str, Any]) -> str:
    return f"[kind.{as_key(id_)}]\n{_lines(raw)}"


# --- a started dossier --------------------------------------------------------------------------------------


def new_dossier(
    folder: Path,
    title: str,
    *,
    supply: str = "24 V",
    return_: str = "earth",
    earthed: str = "negative",
) -> Path:
    """Start a dossier: a folder with one file that reads without error and shows how each table is written.

    Parameters
    ----------
    folder
        Made where it is not there.
    title
        What the dossier is of.
    supply
        Its volts, as ``24 V``.
    return_
        "earth" or "two-wire".
    earthed
        "negative", "positive" or "none".

    Returns
    -------
    Path
        The file.

    Raises
    ------
    RefusedEdit
        Where the folder holds a dossier already, or cannot be written.
    UnreadableValue
        Where the volts, the return or the pole cannot be read.
    """
    raw = {"format": 1, "title": title, "supply": supply, "return": return_, "earthed": earthed}
    for key, value in raw.items():
        HEADER[key].read(value, [])
    _make_folder(folder)
    there = sorted(folder.rglob("*.toml"))
    if there:
        raise RefusedEdit(
            f"{folder} holds {there[0].name} already; nothing was written. Choose another folder."
        )
    path = folder / "dossier.toml"
    save_text(path, "[dossier]\n" + _lines(raw) + _STARTED + "".join(_examples()), expected="")
    return path


_STARTED = """
# One thing a line. Amounts stand in quotes, with their unit: "2.4 m", "about 2 m", "1.8 to 2.2 m".
# Take the # away from an example and write your own over it. Other files may stand beside this one.
"""

_WORDS: Mapping[str, str] = {
    "condition": "What the world does: wheels, speed, water. Positions, or a range.",
    "control": "What the crew moves and that belongs to no item: levers.",
    "place": "Where things are: metres aft, to starboard and up from a point of your choice.",
    "outline": "The craft's shape, point by point off a drawing: aft and up, or aft and to starboard.",
    "earth": "Bolts to the airframe; in cables \"earth.panel-bolt\", plain \"earth\" where none is known.",
    "loom": "Bundles along a route of places, and the lengths between them.",
    "sheath": "Several cores in one cover; a cable then says core = \"T1.red\".",
    "source": "Documents, drawings, photographs, surveys. Cited as \"handbook 6.8\".",
    "scan": "Pictures of sources, kept in this folder.",
    "tracing": "Cables followed on a scan.",
    "fit": "Alternative or optional equipment, and what it changes.",
    "choice": "Fits of which exactly one is fitted.",
    "modification": "Changes with a date and serials.",
    "standard": "Named standards of fit.",
    "service": "Each service, its feed; then its cables, one a line.",
    "item": "Pieces of equipment, each of a kind of the catalogue or of your own.",
    "way": "The ways of a fuse box or plug.",
    "statement": "What a source says, word for word.",
    "decision": "What you conclude where sources differ, and why.",
    "procedure": "Operations in order.",
    "phase": "Phases of use, for loads and endurance.",
    "measurement": "Values as found and as left.",
}  # fmt: skip


def _examples() -> Iterator[str]:
    """Every table with a line to copy, as remarks."""
    for word, about in _WORDS.items():
        table = TABLES[word]
        lines = [table.line]
        heading = heading_of(word)
        if word == "service":
            lines = [
                "[service.horn]", 'title = "Warning horn"', 'feed  = "fuse-box-a.3"', "",
                "[service.horn.cables]", TABLES["cable"].line,
            ]  # fmt: skip
            heading = ""
        elif word == "way":
            heading = "[way.fuse-box-a]"
        elif word == "statement":
            lines += [
                'words  = "The horn sounds when ..."',
                'when   = "wheels is up"',
                'then   = "horn is sounding"',
            ]
        yield f"\n# {about}\n" + "".join(f"#{line}\n" for line in ([heading] if heading else []) + lines)
