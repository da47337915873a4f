"""The tables of a dossier and their keys: what may stand where, how it is read, what to write instead.

This is the one list of keys. Reading, writing, the spreadsheets, the started dossier and the hints all go
by it; a key that is not here is a finding with the nearest one that is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from types import MappingProxyType
from typing import Any

from loomlore.findings import UnreadableValue, nearest
from loomlore.record import compounds, model, values
from loomlore.record.values import LOST, Reader, Slip

__all__ = [
    "HEADER",
    "TABLES",
    "USUAL",
    "WORDS",
    "Key",
    "Table",
    "described",
    "fits_table",
    "heading_of",
    "key_words",
    "read_keys",
    "subject_of",
    "table_that_fits",
    "tables_that_fit",
]


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a table: its name as written, its reader, the field of the model, an example of its value."""

    name: str
    read: Reader
    example: str
    field: str
    obligatory: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its word in headings, the type it makes, its keys, and a line to copy.

    ``ids`` is "id", "mark" (cables, sheaths), "way" or "list" (``[[statement]]``, ids of its own making);
    ``attribute`` is where the dossier keeps its things; ``open`` takes keys that only a kind can judge.
    """

    word: str
    made: type[model.Thing]
    attribute: str
    keys: Mapping[str, Key]
    line: str
    ids: str = "id"
    open: bool = False
    obligatory: tuple[str, ...] = field(default=())

    @property
    def needed(self) -> tuple[Key, ...]:
        """The keys that must be there."""
        return tuple(self.keys[name] for name in self.obligatory)


_ALWAYS: Mapping[str, tuple[Reader, str]] = {
    "name": (values.text, '"Port lamp"'),
    "also": (values.texts, '["left lamp"]'),
    "text": (values.text, '"printed beside it"'),
    "note": (values.text, '"never printed"'),
    "sources": (values.citations, '["handbook 6.8"]'),
    "standing": (values.choice(*model.STANDINGS), '"inferred"'),
    "fit": (values.sentence, '"voice-radio"'),
}
_FIELDS = {"from": "from_", "return": "return_", "as": "as_"}


def _keys(own: Mapping[str, tuple[Reader, str]], obligatory: tuple[str, ...]) -> Mapping[str, Key]:
    both = {**own, **{name: key for name, key in _ALWAYS.items() if name not in own}}
    return MappingProxyType(
        {
            name: Key(name, read, example, _FIELDS.get(name, name.replace("-", "_")), name in obligatory)
            for name, (read, example) in both.items()
        }
    )


def _table(
    word: str,
    made: type[model.Thing],
    attribute: str,
    own: Mapping[str, tuple[Reader, str]],
    line: str,
    *,
    obligatory: tuple[str, ...] = (),
    ids: str = "id",
    is_open: bool = False,
) -> Table:
    return Table(word, made, attribute, _keys(own, obligatory), line, ids, is_open, obligatory)


# Amounts beyond these ends are doubtful, not wrong: a metre for a millimetre, a point that slipped. They are
# common sense about aircraft, boats and vehicles of the age, no source.
_SUPPLY = values.quantity("voltage", usual=(2.0, 240.0))
_RUN = values.quantity("length", usual=(0.03, 120.0))
_FUSE = values.quantity("current", usual=(0.05, 600.0))
_BOND = values.quantity("resistance", usual=(1e-6, 10.0))

_CONTROL: Mapping[str, tuple[Reader, str]] = {
    "positions": (compounds.position_words, '["off", "on"]'),
    "range": (values.span_of, '["0 kt", "200 kt"]'),
    "start": (values.amount_or_words, '"off"'),
    "springs-to": (values.name, '"off"'),
    "guarded": (values.flag, "true"),
    "turns": (values.flag, "true"),
}
_FIT: Mapping[str, tuple[Reader, str]] = {
    "title": (values.text, '"Voice radio"'),
    "change": (compounds.written_keys, '{ port-lamp = { rating = "24 V 12 W" } }'),
    "removes": (values.names, '["horn", "H2"]'),
}
_NATURES = ("handbook", "amendment", "drawing", "schedule", "survey", "photograph", "letter", "recollection")

_ALL = (
    _table(
        "condition", model.Control, "conditions", _CONTROL,
        'wheels = { positions = ["up", "moving", "down"] }',
    ),
    _table(
        "control", model.Control, "controls", _CONTROL,
        "throttle = { range = [0, 1] }",
    ),
    _table(
        "place", model.Spot, "places",
        {
            "at": (compounds.point, '["2.4 m", "-0.3 m", "0.9 m"]'),
            "station": (values.text, '"frame 3"'),
            "zone": (values.text, '"cockpit"'),
        },
        'panel = { at = ["2.4 m", "0 m", "0.9 m"], text = "instrument panel" }',
    ),
    _table(
        "outline", model.Outline, "outlines",
        {
            "view": (values.choice("side", "plan"), '"side"'),
            "unit": (values.choice("m", "cm", "mm", "ft", "in"), '"m"'),
            "points": (compounds.outline_points, "[[0, 1.2], [0.4, 0.1], [8.8, 0.3], [9, 1.3]]"),
            "mirrored": (values.flag, "true"),
            "line": (values.flag, "true"),
        },
        'hull-side = { view = "side", unit = "m", points = [[0, 1.2], [0.4, 0.1], [8.8, 0.3], [9, 1.3]] }',
        obligatory=("view", "points"),
    ),
    _table(
        "earth", model.Bolt, "earths",
        {
            "place": (values.name, '"panel"'),
            "resistance": (_BOND, '"2 mohm"'),
            "bonds": (values.mapping_of(_BOND), '{ engine-bolt = "1 mohm" }'),
        },
        'panel-bolt = { place = "panel", resistance = "2 mohm" }',
    ),
    _table(
        "loom", model.Loom, "looms",
        {
            "route": (compounds.route, '["panel", "frame-3"]'),
            "legs": (compounds.quantity_list("length"), '["1.8 m"]'),
        },
        'loom-1 = { route = ["panel", "frame-3"], legs = ["1.8 m"] }',
        obligatory=("route",),
    ),
    _table(
        "sheath", model.Sheath, "sheaths",
        {
            "type": (values.text, '"twin 14/.0076 in"'),
            "cores": (values.names, '["red", "black"]'),
            "length": (_RUN, '"2.4 m"'),
            "along": (values.name, '"loom-1"'),
        },
        'T1 = { type = "twin 14/.0076 in", cores = ["red", "black"], length = "2.4 m" }',
        ids="mark",
    ),
    _table(
        "source", model.Source, "sources",
        {
            "title": (values.text, '"Maker\'s handbook"'),
            "nature": (values.choice(*_NATURES), '"handbook"'),
            "date": (values.date, '"1937"'),
            "describes": (values.text, '"serials 1 to 12"'),
            "held": (values.text, '"county record office, box 14"'),
            "copied-from": (values.name, '"drawing-7"'),
            "pages": (values.text, '"48"'),
            "file": (values.file_path, '"scans/handbook.pdf"'),
            "rights": (values.text, '"out of copyright"'),
            "credit": (values.text, '"the owner"'),
        },
        'handbook = { title = "Handbook", nature = "handbook", date = "1937" }',
    ),
    _table(
        "scan", model.Scan, "scans",
        {
            "file": (values.file_path, '"scans/sheet-2.png"'),
            "source": (values.citation, '"drawing-7 sheet 2"'),
            "shows": (values.names, '["horn", "H1"]'),
            "scale": (values.text, '"1:10"'),
        },
        'sheet-2 = { file = "scans/sheet-2.png", source = "drawing-7 sheet 2" }',
        obligatory=("file",),
    ),
    _table(
        "tracing", model.Tracing, "tracings",
        {
            "scan": (values.name, '"sheet-2"'),
            "of": (values.name, '"H1"'),
            "points": (compounds.picture_points, "[[120, 348], [180, 348]]"),
        },
        'trace-1 = { scan = "sheet-2", of = "H1", points = [[120, 348], [180, 348]] }',
        obligatory=("scan", "of", "points"), ids="list",
    ),
    _table("fit", model.Fit, "fits", _FIT, 'voice-radio = { title = "Voice radio" }'),
    _table(
        "choice", model.Choice, "choices",
        {"one-of": (values.names, '["voice-radio", "long-wave"]')},
        'radio = { one-of = ["voice-radio", "long-wave"] }',
        obligatory=("one-of",),
    ),
    _table(
        "modification", model.Fit, "modifications",
        {**_FIT, "date": (values.date, '"1939"'), "serials": (values.text, '"13 and after"')},
        'mod-12 = { title = "Single horn cam", date = "1939", removes = ["H2"] }',
    ),
    _table(
        "standard", model.Standard, "standards",
        {"title": (values.text, '"As delivered"'), "fits": (values.names, '["voice-radio"]')},
        'as-delivered = { title = "As delivered", fits = ["voice-radio"] }',
    ),
    _table(
        "service", model.Service, "services",
        {
            "title": (values.text, '"Warning horn"'),
            "feed": (compounds.feeds, '"fuse-box-a.3"'),
            "account": (values.text, '"how it works, in a paragraph"'),
            "given": (values.given, '"master is on"'),
            "usual": (values.mapping_of(values.text), '{ size = "14/.0076 in", colour = "red" }'),
        },
        'horn = { title = "Warning horn", feed = "fuse-box-a.3" }',
    ),
    _table(
        "item", model.Item, "items",
        {
            "kind": (values.name, '"horn"'),
            "rating": (values.rating, '"24 V 42 W"'),
            "ratings": (values.mapping_of(values.rating), '{ main = "24 V 24 W" }'),
            "place": (values.name, '"panel"'),
            "at": (compounds.point, '["2.4 m", "-0.3 m", "0.9 m"]'),
            "earth": (values.name, '"panel-bolt"'),
            "cams": (values.mapping_of(values.sentence), '{ main = "throttle < 0.2" }'),
            "binds": (values.mapping_of(values.name), '{ handle = "fire-lever" }'),
            "mates": (values.name, '"wing-socket"'),
            "links": (compounds.link_groups, '[["3", "4"]]'),
            "start": (compounds.starts, '{ push = "released" }'),
            "regulated-by": (values.name, '"regulator"'),
            "basis": (values.choice("carrying", "fusing"), '"carrying"'),
        },
        'horn = { kind = "horn", rating = "24 V 42 W", place = "panel" }',
        obligatory=("kind",), is_open=True,
    ),
    _table(
        "cable", model.Cable, "cables",
        {
            "from": (values.terminal, '"fuse-box-a.3"'),
            "to": (values.terminal, '"horn.1"'),
            "size": (values.size, '"14/.0076 in"'),
            "length": (_RUN, '"2.4 m"'),
            "along": (values.name, '"loom-1"'),
            "core": (values.terminal, '"T1.red"'),
            "colour": (values.text, '"red"'),
            "cover": (values.text, '"braided"'),
            "mark": (values.text, '"H/1"'),
            "type": (values.choice("coaxial", "aerial", "tube"), '"coaxial"'),
        },
        'H1 = { from = "fuse-box-a.3", to = "horn.1", length = "2.4 m" }',
        obligatory=("from", "to"), ids="mark",
    ),
    _table(
        "way", model.Way, "ways",
        {
            "fuse": (_FUSE, '"5 A"'),
            "basis": (values.choice("carrying", "fusing"), '"carrying"'),
            "spare": (values.flag, "true"),
        },
        '3 = { fuse = "5 A", text = "horn" }',
        ids="way",
    ),
    _table(
        "statement", model.Statement, "statements",
        {
            "source": (values.citation, '"handbook 6.8"'),
            "words": (values.text, '"The horn sounds when ..."'),
            "legible": (values.flag, "false"),
            "when": (values.sentence, '"wheels is down"'),
            "steps": (compounds.steps, '[{ do = { master = "on" } }]'),
            "then": (values.sentence, '"horn is silent"'),
            "given": (values.given, '"master is on"'),
            "about": (values.text, '"fuse-box-a.ways"'),
            "says": (values.text, '"8"'),
        },
        'source = "handbook 6.8"',
        obligatory=("source", "words"), ids="list",
    ),
    _table(
        "decision", model.Decision, "decisions",
        {
            "about": (values.text, '"H1.size"'),
            "adopts": (values.citation, '"survey photo 9"'),
            "weighed": (values.citations, '["handbook 6.8", "survey photo 9"]'),
            "because": (values.text, '"the cable itself was measured"'),
            "by": (values.text, '"J. B."'),
            "on": (values.date, '"2024-03-02"'),
            "dissent": (values.text, '"who thinks otherwise, and why"'),
        },
        'horn-cable = { about = "H1.size", adopts = "survey photo 9", because = "it was measured" }',
        obligatory=("because",), ids="list",
    ),
    _table(
        "procedure", model.Procedure, "procedures",
        {
            "title": (values.text, '"Before landing"'),
            "start": (compounds.settings, '{ master = "on" }'),
            "steps": (compounds.steps, '[{ do = { wheels = "down" }, see = "lamp is lit" }]'),
        },
        'landing = { title = "Before landing", steps = [{ do = { wheels = "down" } }] }',
        obligatory=("steps",),
    ),
    _table(
        "phase", model.Phase, "phases",
        {
            "title": (values.text, '"Night cruise"'),
            "minutes": (values.quantity("time", bare="min"), "20"),
            "settings": (compounds.settings, '{ master = "on" }'),
            "duty": (compounds.duties, '{ horn = "10 s", navigation = "continuous" }'),
        },
        'night-cruise = { minutes = 90, duty = { navigation = "continuous" } }',
    ),
    _table(
        "measurement", model.Measurement, "measurements",
        {
            "of": (compounds.terminals, '["horn.1", "earth"]'),
            "value": (values.quantity(None), '"12.4 ohm"'),
            "as": (values.choice("found", "left"), '"found"'),
            "on": (values.date, '"2024-03-02"'),
            "meter": (values.text, '"bridge no. 2"'),
            "by": (values.text, '"J. B."'),
        },
        'horn-coil = { of = ["horn.1", "horn.2"], value = "12.4 ohm", as = "found" }',
        obligatory=("of", "value"), ids="list",
    ),
)  # fmt: skip

TABLES: Mapping[str, Table] = MappingProxyType({table.word: table for table in _ALL})
"""Tables by their word; scales, the header and kinds have forms of their own and stand in ``reading``."""

HEADER: Mapping[str, Key] = MappingProxyType(
    {
        name: Key(name, read, example, _FIELDS.get(name, name), name in ("format", "title"))
        for name, (read, example) in {
            "format": (values.count, "1"),
            "title": (values.text, '"Warning horn of the Arlen Type 14"'),
            "supply": (_SUPPLY, '"24 V"'),
            "return": (values.choice("earth", "two-wire"), '"earth"'),
            "earthed": (values.choice("negative", "positive", "none"), '"negative"'),
            "allowance": (values.quantity("length", usual=(0.01, 2.0)), '"0.15 m"'),
            "basis": (values.choice("carrying", "fusing"), '"carrying"'),
            "given": (values.given, '"master is on"'),
            "standard": (values.name, '"as-delivered"'),
            "text": (values.text, '"printed on the first page"'),
            "note": (values.text, '"never printed"'),
        }.items()
    }
)
"""The keys of ``[dossier]``."""

USUAL = ("size", "cover", "colour")
"""What a service's ``usual`` may give its cables."""

WORDS = ("dossier", *(word for word in TABLES if word != "cable"), "scale", "kind")
"""Every word that a heading may begin with."""


def heading_of(word: str) -> str:
    """The heading under which a table's things stand.

    Parameters
    ----------
    word
        The table's word.

    Returns
    -------
    str
        For instance ``[item]``.
    """
    special = {
        "cable": "[service.ID.cables]",
        "way": "[way.ITEM]",
        "scale": "[scale.ITEM]",
        "statement": "[[statement]]",
    }
    return special.get(word, f"[{word}]")


@cache
def _names(word: str) -> frozenset[str]:
    return frozenset(TABLES[word].keys) | ({"id"} if TABLES[word].ids == "list" else set())


def fits_table(raw: Mapping[str, Any], word: str) -> bool:
    """Whether a thing has nothing about it that makes one ask if it stands in the right table.

    Parameters
    ----------
    raw
        The thing as TOML has it.
    word
        The table's word.

    Returns
    -------
    bool
        True also where a key is only spelt wrong in a table that takes any.
    """
    table = TABLES[word]
    if table.open:
        return "kind" in raw
    return raw.keys() <= _names(word) and all(key in raw for key in table.obligatory)


def table_that_fits(keys: frozenset[str], *, but: str) -> str | None:
    """The table whose keys these are, where a line seems to stand under the wrong heading.

    Parameters
    ----------
    keys
        The keys of the line.
    but
        The table under which it stands.

    Returns
    -------
    str or None
        The only other table that has all these keys and asks for no others; None where several do, or none.
    """
    fitting = tables_that_fit(keys, but=but)
    alike = {TABLES[word].made for word in fitting}
    return fitting[0] if len(alike) == 1 else None


def tables_that_fit(keys: frozenset[str], *, but: str) -> tuple[str, ...]:
    """All tables that have these keys and ask for no others.

    Parameters
    ----------
    keys
        The keys of a line.
    but
        The table under which it stands.

    Returns
    -------
    tuple of str
        Words of tables.
    """
    own = keys - frozenset(_ALWAYS)
    return tuple(
        word
        for word, table in TABLES.items()
        if word != but
        and set(table.obligatory) <= keys
        and (keys <= _names(word) or (table.open and "kind" in keys))
        and (own or table.open)
    )


def read_keys(
    raw: Mapping[str, Any],
    keys: Mapping[str, Key],
    *,
    needed: Iterable[Key] = (),
    is_open: bool = False,
) -> tuple[dict[str, Any], list[Slip]]:
    """The values of a thing by the model's fields, and what is wrong with them.

    An unknown key that is nearly a free one is reported and read as that one.

    Parameters
    ----------
    raw
        The thing as TOML has it.
    keys
        The keys of its table.
    needed
        Those of them that must be there.
    is_open
        Whether keys that the table does not know are left to the caller.

    Returns
    -------
    tuple of (dict of str to value, list of Slip)
        The path of a slip begins with its key.
    """
    fields: dict[str, Any] = {}
    slips: list[Slip] = []
    lost: set[str] = set()
    for key, value in raw.items():
        spec = keys.get(key)
        if spec is None:
            spec = _meant_key(key, raw, keys, slips, is_open=is_open)
            if spec is None:
                continue
        if value == LOST:
            lost.add(spec.name)
            continue
        before = len(slips)
        try:
            fields[spec.field] = spec.read(value, slips)
        except UnreadableValue as slip:
            slips.append(Slip((), slip.message, slip.hint, slip.column))
            lost.add(spec.name)
        if len(slips) > before:
            slips[before:] = [replace(slip, path=(key, *slip.path)) for slip in slips[before:]]
    missing = [key for key in needed if key.field not in fields and key.name not in lost]
    if missing and LOST not in raw:
        slips.append(_missing(missing))
    return fields, slips


def _missing(keys: list[Key]) -> Slip:
    """All that is missing is one slip."""
    absent = " and no ".join(repr(key.name) for key in keys)
    hint = " and ".join(f"{key.name} = {key.example}" for key in keys)
    return Slip((), f"it has no {absent}.", f"Write {hint}.", rule="missing-key")


_OTHER_WORDS = {
    "color": "colour", "wire": "size", "gauge": "size", "source": "sources", "ground": "earth",
    "location": "place", "title": "name", "remark": "note", "remarks": "note", "comment": "note",
    "type": "kind",
}  # fmt: skip
"""Words that people write for a key, beside those that are nearly right."""


def _meant_key(
    key: str, raw: Mapping[str, Any], keys: Mapping[str, Key], slips: list[Slip], *, is_open: bool
) -> Key | None:
    if key == LOST:
        return None
    free = [name for name in keys if name not in raw]
    other = _OTHER_WORDS.get(key)
    meant = other if other in free else nearest(key, free, cutoff=0.7 if is_open else 0.6)
    if is_open and (meant is None or not keys[meant].obligatory):
        return None
    hint = f"Write {meant!r}." if meant else "Its keys are: " + ", ".join(keys) + "."
    slips.append(Slip((key,), f"{key!r} is no key of it.", hint, rule="unknown-key"))
    return keys[meant] if meant else None


def subject_of(path: tuple[str | int, ...]) -> tuple[str, tuple[str | int, ...]]:
    """The thing that a path in the text leads to or into.

    Parameters
    ----------
    path
        For instance ``("service", "horn", "cables", "H1", "size")``.

    Returns
    -------
    tuple of (str, path)
        Its subject ("" for a heading alone), and the rest of the path, which leads on within it.

    Examples
    --------
    >>> subject_of(("service", "horn", "cables", "H1", "size"))
    ('cable H1', ('size',))
    """
    match path:
        case ("dossier", *rest):
            return "dossier", tuple(rest)
        case ("service", _, "cables", mark, *rest):
            return f"cable {mark}", tuple(rest)
        case ("way" | "scale" as word, item, inner, *rest):
            return f"{word} {item}.{inner}", tuple(rest)
        case ("way" | "scale", *_) | ("service", _, "cables"):
            return "", ()
        case (str() as word, str() as id_, *rest):
            return f"{word} {id_}", tuple(rest)
        case (str() as word, int() as index, *rest):
            return f"{word} no. {index + 1}", tuple(rest)
    return "", ()


def described(path: tuple[str | int, ...]) -> str:
    """A path in words: ``'size' of cable H1``.

    Parameters
    ----------
    path
        As in :func:`subject_of`.

    Returns
    -------
    str
        "" for a heading alone.
    """
    subject, rest = subject_of(path)
    return f"{key_words(rest)}{subject}"


def key_words(path: tuple[str | int, ...]) -> str:
    """The way into a thing, in words, with "of" behind it.

    Parameters
    ----------
    path
        From the thing's key on.

    Returns
    -------
    str
        "" for no path.

    Examples
    --------
    >>> key_words(("steps", 1, "see"))
    "'steps' no. 2 'see' of "
    """
    if not path:
        return ""
    return " ".join(f"no. {part + 1}" if isinstance(part, int) else repr(part) for part in path) + " of "
