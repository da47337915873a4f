"""Reading kinds from parsed TOML, and saying of each slip what to write.

A kind is kept as written where a parameter may stand in it (``"<resistance>"``): only an item gives the
parameters, and :mod:`loomlore.record.equipment` joins the two. To find slips before any item does, each kind
is here joined to a sample item that gives a plain value for whatever an item must give.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from loomlore.findings import Finding, Place, Severity, nearest
from loomlore.quantities import UNITS, read_quantity
from loomlore.record.equipment import Equipment, equip
from loomlore.record.laws import LAWS
from loomlore.record.model import Dossier, Header, Item
from loomlore.record.naming import Unresolved, asked_of, own_reference, wrong_unit
from loomlore.record.parts import Kind, Parameter
from loomlore.record.shapes import Shape, Values, shape
from loomlore.sentences import KEYWORDS, Sentence, mixes_and_with_or, tests_of

__all__ = ["Kind", "Parameter", "known_kinds", "read_kinds", "sample_values"]

SIDES = ("top", "bottom", "left", "right")
TURNS = ("free", "mirror", "fixed")

_KEYS = frozenset(
    "title symbol hazard terminals turn inner parameter control cams follows latch contact element each-way "
    "group ratio text note sources name also standing".split()
)
_CONTROL_KEYS = frozenset("positions range start springs-to guarded turns".split())
_LATCH_KEYS = frozenset("set release set-on release-on set-after release-after start wins lost-with".split())
_CONTACT_KEYS = frozenset("ends closed resistance".split())
_ELEMENT_KEYS = frozenset("law ends works rating moves polarised".split())
_SAMPLE_VOLTS = 24.0


def read_kinds(
    raw: Mapping[str, tuple[Mapping[str, Any], Place]], *, judged: bool = True
) -> tuple[Mapping[str, Kind], tuple[Finding, ...]]:
    """Read kinds.

    Parameters
    ----------
    raw
        For each id its table as TOML gives it, and where it stands.
    judged
        Whether to try each kind with sample values too; the shipped ones are tried by a test, once.

    Returns
    -------
    tuple of mapping and tuple of Finding
        The kinds by id, and what is wrong in them. A bad part costs that part only.
    """
    kinds: dict[str, Kind] = {}
    findings: list[Finding] = []
    for name, (table, where) in raw.items():
        reading = _Reading(name, where)
        kinds[name] = reading.kind(table)
        if judged and not reading.findings:  # what follows from a slip is not worth a second finding
            reading.judge(kinds[name])
        findings.extend(reading.findings)
    return kinds, tuple(findings)


def known_kinds(
    dossier: Dossier, catalogue: Mapping[str, Kind]
) -> tuple[Mapping[str, Kind], tuple[Finding, ...]]:
    """The catalogue's kinds with the dossier's own beside them.

    Parameters
    ----------
    dossier
        Whose ``kinds`` are raw tables and their places.
    catalogue
        The shipped kinds.

    Returns
    -------
    tuple of mapping and tuple of Finding
        An id that the catalogue has already is a finding; the dossier's kind is then the one taken.
    """
    if not dossier.kinds:
        return catalogue, ()
    own, findings = read_kinds(dossier.kinds)
    twice = [_stands_twice(kind) for name, kind in own.items() if name in catalogue]
    return {**catalogue, **own}, (*findings, *twice)


def _stands_twice(kind: Kind) -> Finding:
    message = f"Kind {kind.id!r} is in the catalogue already."
    hint = f"Call yours otherwise, like 'own-{kind.id}', and use that name in its items."
    return Finding("kind-twice", Severity.ERROR, kind.where, message, hint, f"kind {kind.id}")


def sample_values(kind: Kind) -> Values:
    """A plain value for every parameter that an item must give.

    Parameters
    ----------
    kind
        Any kind.

    Returns
    -------
    tuple of (str, value)
        Sorted by name: 1 of the parameter's unit, or the number 1 where it has none.
    """
    needed = (p for p in kind.parameters.values() if p.default is None)
    return tuple(sorted((p.name, f"1 {p.unit}" if p.unit else 1.0) for p in needed))


class _Reading:
    """One kind on its way in; collects findings."""

    def __init__(self, name: str, where: Place) -> None:
        self.name = name
        self.where = where
        self.findings: list[Finding] = []

    def slip(
        self, rule: str, path: str, message: str, hint: str, *, severity: Severity = Severity.ERROR
    ) -> None:
        text = f"Kind {self.name!r}, {path}: {message}" if path else f"Kind {self.name!r}: {message}"
        self.findings.append(Finding(rule, severity, self.where, text, hint, f"kind {self.name}"))

    # ---- the table's form ----

    def kind(self, table: Mapping[str, Any]) -> Kind:
        self.known_keys("", table, _KEYS)
        return Kind(
            id=self.name,
            where=self.where,
            title=self.words(table, "title"),
            symbol=self.words(table, "symbol"),
            hazard=self.words(table, "hazard"),
            text=self.words(table, "text"),
            note=self.words(table, "note"),
            terminals=self.terminals(table.get("terminals", {})),
            any_terminal=table.get("terminals") == "any",
            turn=self.choice(table, "turn", TURNS),
            inner=self.list_of("inner", table.get("inner", ())),
            parameters=self.parameters(table.get("parameter", {})),
            controls=self.tables(table, "control", _CONTROL_KEYS),
            cams=self.texts(table, "cams"),
            follows=self.texts(table, "follows"),
            latches=self.tables(table, "latch", _LATCH_KEYS),
            contacts=self.tables(table, "contact", _CONTACT_KEYS),
            elements={
                n: e for n, e in self.tables(table, "element", None).items() if self.law(f"element.{n}", e)
            },
            each_way=self.each_way(table.get("each-way")),
            groups={n: self.list_of(f"group.{n}", g) for n, g in self.table(table, "group").items()},
            ratio=self.ratio(table.get("ratio")),
        )

    def known_keys(self, path: str, table: Mapping[str, Any], known: Iterable[str]) -> None:
        for key in table:
            if key not in known:
                near = nearest(key, known)
                hint = f"Did you mean {near!r}?" if near else f"It may have: {', '.join(sorted(known))}."
                self.slip("unknown-key", path, f"{key!r} is no key here.", hint)

    def words(self, table: Mapping[str, Any], key: str) -> str:
        value = table.get(key, "")
        if not isinstance(value, str):
            self.slip("unreadable-value", key, f"{value!r} is no text.", "Write it in quotes.")
            return ""
        return value

    def choice(self, table: Mapping[str, Any], key: str, choices: tuple[str, ...]) -> str:
        value = table.get(key, choices[0])
        if value not in choices:
            self.slip(
                "unreadable-value",
                key,
                f"{value!r} is none of the choices.",
                f"Write {' or '.join(choices)}.",
            )
            return choices[0]
        return str(value)

    def table(self, table: Mapping[str, Any], key: str) -> Mapping[str, Any]:
        value = table.get(key, {})
        if not isinstance(value, Mapping):
            self.slip("unreadable-value", key, f"{value!r} is no table.", "Write it in braces: { name = … }.")
            return {}
        return value

    def tables(
        self, table: Mapping[str, Any], key: str, known: frozenset[str] | None
    ) -> Mapping[str, Mapping[str, Any]]:
        good: dict[str, Mapping[str, Any]] = {}
        for name, value in self.table(table, key).items():
            if not isinstance(value, Mapping):
                self.slip(
                    "unreadable-value", f"{key}.{name}", f"{value!r} is no table.", "Write it in braces."
                )
                continue
            if known is not None:
                self.known_keys(f"{key}.{name}", value, known)
            self.plain_name(f"{key}.{name}", name)
            good[name] = value
        return good

    def plain_name(self, path: str, name: str) -> None:
        if name in KEYWORDS:
            self.slip(
                "reserved-word", path, f"{name!r} is a word of the sentence language.", "Call it otherwise."
            )

    def texts(self, table: Mapping[str, Any], key: str) -> dict[str, str]:
        good: dict[str, str] = {}
        for name, value in self.table(table, key).items():
            if isinstance(value, str):
                good[name] = value
            else:
                self.slip(
                    "unreadable-value",
                    f"{key}.{name}",
                    f"{value!r} is no text.",
                    'Write it in quotes, or "".',
                )
            self.plain_name(f"{key}.{name}", name)
        return good

    def list_of(self, path: str, value: Any) -> tuple[str, ...]:
        if not isinstance(value, list | tuple) or not all(isinstance(v, str) for v in value):
            self.slip("unreadable-value", path, f"{value!r} is no list of texts.", 'Write ["a", "b"].')
            return ()
        return tuple(value)

    def terminals(self, value: Any) -> dict[str, tuple[str, ...]]:
        if value == "any":
            return {}
        if not isinstance(value, Mapping):
            hint = 'Write terminals = { top = ["1"], bottom = ["2"] }, or "any".'
            self.slip("unreadable-value", "terminals", f"{value!r} are no terminals.", hint)
            return {}
        self.known_keys("terminals", value, SIDES)
        return {
            side: self.list_of(f"terminals.{side}", names) for side, names in value.items() if side in SIDES
        }

    def parameters(self, value: Any) -> dict[str, Parameter]:
        good: dict[str, Parameter] = {}
        for name, default in (value if isinstance(value, Mapping) else {}).items():
            if isinstance(default, bool) or not isinstance(default, str | int | float):
                hint = 'Write a default like "16 V", or a unit alone where the item must give it.'
                self.slip("unreadable-value", f"parameter.{name}", f"{default!r} is no value.", hint)
            elif isinstance(default, str) and _is_unit(default):
                good[name] = Parameter(name, None, default)
            else:
                good[name] = Parameter(name, default)
        return good

    def law(self, path: str, element: Mapping[str, Any]) -> bool:
        name = element.get("law")
        if name not in LAWS:
            near = nearest(str(name), LAWS) if name else None
            hint = f"Did you mean {near!r}?" if near else f"Laws are: {', '.join(LAWS)}."
            self.slip("unknown-law", path, f"law = {name!r} is none." if name else "it has no law.", hint)
            return False
        law = LAWS[str(name)]
        self.known_keys(path, element, {*_ELEMENT_KEYS, *law.amounts, *law.words})
        if not isinstance(element.get("moves", {}), Mapping):
            self.slip(
                "unreadable-value",
                f"{path}.moves",
                "it is no table.",
                'Write moves = { angle = "10 deg/s" }.',
            )
            return False
        return True

    def each_way(self, value: Any) -> Mapping[str, Any] | None:
        if value is None:
            return None
        if not isinstance(value, Mapping):
            hint = 'Write each-way = { law = "fuse", ends = ["bus", "#"] }.'
            self.slip("unreadable-value", "each-way", f"{value!r} is no table.", hint)
            return None
        return value if self.law("each-way", value) else None

    def ratio(self, value: Any) -> tuple[str, str] | None:
        if value is None:
            return None
        names = self.list_of("ratio", value)
        if len(names) != 2:
            hint = 'Write ratio = ["left", "right"].'
            self.slip("unreadable-value", "ratio", "it names not two elements.", hint)
            return None
        return names[0], names[1]

    # ---- what it says, with sample values ----

    def judge(self, kind: Kind) -> None:
        made = shape(kind, sample_values(kind), _SAMPLE_VOLTS)
        for problem in made.problems:
            self.slip("unreadable-value", problem.path, problem.message, problem.hint)
        if made.problems:
            return
        self.judge_terminals(made, kind)
        self.judge_names(made, kind)
        sample = _sample(kind)
        for path, sentence in _sentences(sample, made):
            self.judge_sentence(path, sentence, sample)

    def judge_terminals(self, made: Shape, kind: Kind) -> None:
        terminals = [t for names in made.terminals.values() for t in names]
        nodes = {*terminals, *made.inner}
        for twice in sorted({t for t in [*terminals, *made.inner] if [*terminals, *made.inner].count(t) > 1}):
            self.slip(
                "doubled-terminal", "terminals", f"{twice!r} stands twice.", "Call one of them otherwise."
            )
        parts = [(f"contact.{c.name}", c.ends) for c in made.contacts.values()]
        parts += [(f"element.{e.name}", e.ends) for e in made.elements.values()]
        parts += [(f"each-way {e.each}", e.ends) for e in made.ways.values()]
        for path, ends in parts:
            if kind.any_terminal:
                break
            for end in ends:
                if end not in nodes and end != "earth":
                    near = nearest(end, nodes)
                    hint = f"Did you mean {near!r}?" if near else "Add it to `terminals` or to `inner`."
                    self.slip(
                        "unknown-terminal", path, f"{end!r} is neither a terminal nor an inner node.", hint
                    )
            if ends[0] == ends[1]:
                self.slip("same-ends", path, "both ends are the same.", "Give it two different ends.")
        touched = {end for _, ends in parts for end in ends}
        for name in made.inner:
            if name not in touched:
                self.slip(
                    "unused-inner",
                    "inner",
                    f"nothing ends at {name!r}.",
                    "Take it out.",
                    severity=Severity.WARNING,
                )

    def judge_names(self, made: Shape, kind: Kind) -> None:
        spaces = {
            "controls": made.controls,
            "cams": made.cams,
            "follows": made.follows,
            "latches": made.latches,
            "elements": made.elements,
            "groups": kind.groups,
        }
        owners: dict[str, str] = {}
        for space, names in spaces.items():
            for name in names:
                if name in owners:
                    message = f"it stands among its {owners[name]} and its {space}."
                    self.slip("doubled-name", name, message, "Call one of them otherwise.")
                owners[name] = space
        for name, members in kind.groups.items():
            self.judge_group(f"group.{name}", members, made)
        for name in kind.ratio or ():
            self.judge_element("ratio", name, made)
        for latch in made.latches.values():
            self.judge_latch(latch.name, kind.latches[latch.name], made)
        for element in (*made.elements.values(), *made.ways.values()):
            for followed in (
                *element.moves,
                *(element.words[w] for w in ("follows", "speed") if w in element.words),
            ):
                if followed not in made.follows and followed not in made.controls:
                    near = nearest(followed, [*made.follows, *made.controls])
                    hint = f"Did you mean {near!r}?" if near else "Add it to `follows`, with its unit."
                    self.slip(
                        "unknown-name",
                        f"element.{element.name}",
                        f"{followed!r} is nothing that moves.",
                        hint,
                    )

    def judge_group(self, path: str, members: tuple[str, ...], made: Shape) -> None:
        laws = {made.elements[m].law for m in members if m in made.elements}
        for member in members:
            self.judge_element(path, member, made)
        if len(laws) > 1:
            hint = "A group is seen as one: put elements of one law together."
            self.slip("mixed-group", path, f"it mixes {' and '.join(sorted(laws))}.", hint)

    def judge_element(self, path: str, name: str, made: Shape) -> None:
        if name not in made.elements:
            near = nearest(name, made.elements)
            hint = (
                f"Did you mean {near!r}?" if near else f"Elements are: {', '.join(made.elements) or 'none'}."
            )
            self.slip("unknown-element", path, f"{name!r} is no element of it.", hint)

    def judge_latch(self, name: str, raw: Mapping[str, Any], made: Shape) -> None:
        path = f"latch.{name}"
        if not ("set" in raw or "set-on" in raw):
            self.slip("latch-never-set", path, "nothing sets it.", 'Write set = "…".')
        if raw.get("wins", "release") not in ("set", "release"):
            self.slip(
                "unreadable-value",
                f"{path}.wins",
                f"{raw['wins']!r} is none of them.",
                "Write set or release.",
            )
        if raw.get("lost-with"):
            self.judge_element(f"{path}.lost-with", made.latches[name].lost_with, made)
        for when in ("set", "release"):
            if f"{when}-after" in raw and not (when in raw or f"{when}-on" in raw):
                hint = f'Write {when} = "…", the sentence whose turning true starts the time.'
                self.slip("delay-without-sentence", f"{path}.{when}-after", "it delays nothing.", hint)

    def judge_sentence(self, path: str, sentence: Sentence, sample: Equipment) -> None:
        if mixes_and_with_or(sentence):
            hint = f"Put brackets: {sentence}."
            self.slip("and-beside-or", path, "`and` stands beside `or`.", hint, severity=Severity.WARNING)
        for test in tests_of(sentence):
            name, sense, words = asked_of(test)
            found = own_reference(sample, name, sense=sense, words=words)
            if isinstance(found, Unresolved):
                self.slip("unknown-name", path, found.message, found.hint)
            elif wrong := wrong_unit(test, found):
                self.slip("wrong-unit", path, *wrong)


def _is_unit(text: str) -> bool:
    if text in UNITS:
        return True
    base, per, time = text.rpartition("/")
    return bool(per) and base in UNITS and time in ("s", "min", "h")


def _sample(kind: Kind) -> Equipment:
    supply = read_quantity(f"{_SAMPLE_VOLTS:g} V", "voltage")
    own = dict(sample_values(kind))
    item = Item(id="it", kind=kind.id, own=own)
    return equip(item, kind, Dossier(header=Header(supply=supply)))[0]


def _sentences(sample: Equipment, made: Shape) -> Iterator[tuple[str, Sentence]]:
    for name, held in made.cams.items():
        if held is not None:
            yield f"cams.{name}", held
    for contact in sample.contacts.values():
        if contact.closed is not None:
            yield f"contact.{contact.name}", contact.closed
    for element in sample.elements.values():
        if element.works is not None:
            yield f"element.{element.name}", element.works
    for latch in sample.latches.values():
        for key in ("set", "release", "set_on", "release_on"):
            sentence: Sentence | None = getattr(latch, key)
            if sentence is not None:
                yield f"latch.{latch.name}.{key.replace('_', '-')}", sentence
