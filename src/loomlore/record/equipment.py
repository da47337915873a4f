"""An item joined to its kind: terminals counted, parameters filled in, sentences and values read.

What the kind alone decides is made once for each set of parameters (:mod:`loomlore.record.shapes`); here the
item's own keys are laid over it: ratings, cams, what it is bound to, where it starts, fuses of its ways,
links between its ways. Scope of names: sentences of contacts, latches and elements speak the kind's own
names; cams speak the dossier's names, so that a kind's own ``reset = "not main"`` stands here as
``not horn-switch.main``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

from loomlore.findings import Finding, UnreadableValue, nearest
from loomlore.quantities import Rating, as_bare, read_quantity
from loomlore.record.laws import LAWS, RATED
from loomlore.record.model import Control, Dossier, Item
from loomlore.record.parts import Contact, Element, Kind, Latch
from loomlore.record.remarks import PlaceOf, Remarks, meant
from loomlore.record.shapes import Shape, Values, read_amount, shape, share_in_volts
from loomlore.sentences import And, Compare, Holds, Is, Measure, Not, Or, Sentence

__all__ = ["Contact", "Element", "Equipment", "Latch", "cable_ends", "equip", "qualified", "with_regulation"]

JOINED = ("in", "parted")
"""Positions of the joint that an item with ``mates`` makes; named by the item's own id."""


@dataclass(frozen=True, kw_only=True)
class Equipment:
    """What an item is, joined: all that the network, the drawings and the checks need of it.

    ``terminals`` maps a drawing side (top, bottom, left, right) to terminal names in order; ``inner`` are
    nodes no cable reaches. ``controls`` are the kind's own, by short name (for a plug half that says
    ``mates``: ``""`` with positions in, parted). ``cams`` maps each cam to the sentence that holds it (a cam
    that the item should say and does not is in ``silent_cams``), ``binds`` what the kind follows (or a
    control) to the dossier's control or condition that moves it. ``parameters`` are the kind's, as written,
    the item's own where it gives them. ``fuse_ways`` are the ways that may take a fuse, spare ones too.
    """

    item: Item
    kind: str
    title: str = ""
    symbol: str = ""
    hazard: str = ""
    terminals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    turn: str = "free"
    inner: tuple[str, ...] = ()
    controls: Mapping[str, Control] = field(default_factory=dict)
    cams: Mapping[str, Sentence] = field(default_factory=dict)
    silent_cams: tuple[str, ...] = ()
    follows: Mapping[str, str] = field(default_factory=dict)
    binds: Mapping[str, str] = field(default_factory=dict)
    latches: Mapping[str, Latch] = field(default_factory=dict)
    contacts: Mapping[str, Contact] = field(default_factory=dict)
    elements: Mapping[str, Element] = field(default_factory=dict)
    fuse_ways: tuple[str, ...] = ()
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    ratio: tuple[str, str] | None = None
    parameters: Mapping[str, str | float] = field(default_factory=dict)

    @cached_property
    def terminal_names(self) -> tuple[str, ...]:
        """All terminals, side by side in order."""
        return tuple(t for side in self.terminals.values() for t in side)

    @property
    def regulates(self) -> bool:
        """Whether a generator may be regulated by it."""
        return "set" in self.parameters and "droop" in self.parameters


def equip(
    item: Item,
    kind: Kind,
    dossier: Dossier,
    *,
    ends: Mapping[str, tuple[str, ...]] | None = None,
    place_of: PlaceOf | None = None,
) -> tuple[Equipment, tuple[Finding, ...]]:
    """Join an item to its kind.

    Parameters
    ----------
    item
        The item as read.
    kind
        Its kind.
    dossier
        Where the fuses of its ways and the supply stand.
    ends
        Terminals that cables name, by item, where the caller has them already; only a kind that takes any
        terminal needs them.
    place_of
        Where a key of the item stands, for findings.

    Returns
    -------
    tuple of Equipment and tuple of Finding
        What could be joined, and what could not.
    """
    volts = _rated_volts(item, dossier)
    own: Values = tuple(sorted((k, v) for k, v in item.own.items() if k in kind.parameters))
    made = shape(kind, own, volts)
    remarks = Remarks(place_of)
    if item.own or made.lacking:
        _judge_parameters(item, kind, made, volts, remarks)
    equipment = Equipment(
        item=item,
        kind=kind.id,
        title=kind.title,
        symbol=kind.symbol,
        hazard=kind.hazard,
        terminals=_any_terminals(item, dossier, ends) if kind.any_terminal else made.terminals,
        turn=kind.turn,
        inner=made.inner,
        controls=_controls(item, made, remarks),
        cams=_cams(item, made, remarks),
        silent_cams=tuple(n for n, held in made.cams.items() if held is None and n not in item.cams),
        follows=made.follows,
        binds=_binds(item, made, remarks),
        latches=_latches(item, made),
        contacts=_contacts(item, made, remarks) if item.links else made.contacts,
        elements=_elements(item, kind, made, own, dossier, remarks),
        fuse_ways=tuple(n for n, e in made.ways.items() if e.law == "fuse"),
        groups=kind.groups,
        ratio=kind.ratio,
        parameters=made.parameters,
    )
    return equipment, tuple(remarks.findings)


def cable_ends(dossier: Dossier) -> dict[str, tuple[str, ...]]:
    """The terminals that cables name, item by item, in order of the cables.

    Parameters
    ----------
    dossier
        Any dossier.

    Returns
    -------
    dict of str to tuple of str
        Each terminal once; whatever stands before the first point counts as the item.
    """
    found: dict[str, dict[str, None]] = {}
    for cable in dossier.cables.values():
        for end in (cable.from_, cable.to):
            item, point, terminal = end.partition(".")
            if point:
                found.setdefault(item, {})[terminal] = None
    return {item: tuple(terminals) for item, terminals in found.items()}


def qualified(sentence: Sentence, item: str) -> Sentence:
    """Say a kind's own sentence in the dossier's names.

    Parameters
    ----------
    sentence
        In the kind's own names.
    item
        The item's id.

    Returns
    -------
    Sentence
        The same with ``ITEM.`` before every name.

    Examples
    --------
    >>> from loomlore.sentences import read_sentence
    >>> str(qualified(read_sentence("not main"), "horn-switch"))
    'not horn-switch.main'
    """
    match sentence:
        case And(parts, bracketed):
            return And(tuple(qualified(p, item) for p in parts), bracketed)
        case Or(parts, bracketed):
            return Or(tuple(qualified(p, item) for p in parts), bracketed)
        case Not(part):
            return Not(qualified(part, item))
        case Compare(measure, limits, column):
            return Compare(Measure(measure.of, f"{item}.{measure.name}"), limits, column)
        case Is():
            return replace(sentence, name=f"{item}.{sentence.name}")
        case Holds(name, column):
            return Holds(f"{item}.{name}", column)


def _one_of(words: Iterable[str], word: str) -> str:
    return meant(word, words, none="Leave it out, or take a kind that has it.")


# ---- parameters ------------------------------------------------------------------------------------------


def _rated_volts(item: Item, dossier: Dossier) -> float | None:
    stamped = (item.rating or {}).get("voltage") or dossier.header.supply
    return stamped.value if stamped else None


def _judge_parameters(item: Item, kind: Kind, made: Shape, volts: float | None, remarks: Remarks) -> None:
    for name, value in item.own.items():
        if name in kind.parameters:
            _judge_parameter(item, kind, name, value, remarks)
        else:
            message = f"Item {item.id!r} has the key {name!r}, which its kind {kind.id!r} does not know."
            remarks.say("unknown-key", item, message, _one_of(kind.parameters, name), key=name)
    for name, paths in made.lacking.items():
        _say_lacking(item, kind, name, paths, remarks)
    if not made.problems or remarks.findings:
        return
    known = {(p.path, p.message) for p in shape(kind, (), volts).problems}
    for problem in made.problems:
        if (problem.path, problem.message) not in known:
            message = (
                f"Item {item.id!r} does not fit its kind {kind.id!r}, in {problem.path}: {problem.message}"
            )
            remarks.say("unfit-parameter", item, message, problem.hint)


def _say_lacking(item: Item, kind: Kind, name: str, paths: tuple[str, ...], remarks: Remarks) -> None:
    unit = kind.parameters[name].unit
    blocked = ", ".join(path.partition(".")[2] or path for path in paths)
    message = (
        f"Item {item.id!r} gives no {name!r}, so that nothing fed through its {blocked} "
        "can be computed, proved or sized."
    )
    hint = f'Write {name} = "… {unit}" in the item.' if unit else f"Write {name} = … in the item."
    remarks.warn("parameter-missing", item, message, hint)


def _judge_parameter(item: Item, kind: Kind, name: str, value: str | float, remarks: Remarks) -> None:
    parameter = kind.parameters[name]
    wanted = parameter.default if parameter.default is not None else f"1 {parameter.unit}"
    shown = f'"{wanted}"' if isinstance(wanted, str) else as_bare(wanted)
    message = f"Item {item.id!r} gives {name} = {value!r}, where something like {shown} is wanted."
    if isinstance(wanted, str) and isinstance(value, str):
        wants, has = _dimension(wanted), _dimension(value)
        if (wants is None) == (has is None) and (wants is None or _may_stand(kind, name, wants, has)):
            return
        remarks.say("unfit-parameter", item, message, f"Write it like {name} = {shown}.", key=name)
    elif isinstance(wanted, str) != isinstance(value, str):
        quotes = "in quotes, with its unit" if isinstance(wanted, str) else "as a bare number, without quotes"
        remarks.say("unfit-parameter", item, message, f"Write it {quotes}.", key=name)


def _dimension(text: str) -> str | None:
    try:
        return read_quantity(text, bare=True).dimension
    except UnreadableValue:
        return None


def _may_stand(kind: Kind, name: str, wants: str, has: str | None) -> bool:
    """Whether an amount of another dimension will do: volts for %, or what the law allows besides."""
    if has == wants or {has, wants} == {"voltage", "fraction"}:
        return True
    tables = [*kind.elements.values(), *([kind.each_way] if kind.each_way else [])]
    for raw in tables:
        law = LAWS.get(str(raw.get("law", "")))
        for key, value in raw.items():
            if value == f"<{name}>" and (key == "rating" or (law and has in law.amounts.get(key, ()))):
                return True
    return False


# ---- elements and ratings --------------------------------------------------------------------------------


def _elements(
    item: Item, kind: Kind, made: Shape, own: Values, dossier: Dossier, remarks: Remarks
) -> Mapping[str, Element]:
    if not (made.ways or item.rating or item.ratings or made.elements):
        return made.elements
    for name in item.ratings:
        if name not in made.elements:
            message = f"Item {item.id!r} rates {name!r}, which is no element of its kind {kind.id!r}."
            remarks.say("unknown-element", item, message, _one_of(made.elements, name), key=f"ratings.{name}")
    elements = {n: _rated(item, kind, made, own, element) for n, element in made.elements.items()}
    short = {path.partition(".")[2] for paths in made.lacking.values() for path in paths}
    for name, element in elements.items():
        if name not in short:
            _judge_rating(item, element, remarks, many=len(elements) > 1)
    for number, element in made.ways.items():
        fitted = _way_element(item, element, dossier)
        if fitted is not None:
            elements[number] = fitted
    return elements


def _rated(item: Item, kind: Kind, made: Shape, own: Values, element: Element) -> Element:
    rating: Rating | None = item.ratings.get(element.name)
    if rating is None and item.rating and element.name not in made.own_rating and _takes_rating(element):
        rating = item.rating
    values = element.values
    if element.name in item.ratings and "voltage" in item.ratings[element.name]:
        volts = item.ratings[element.name]["voltage"].value
        values = shape(kind, own, volts).elements[element.name].values
    words = {**element.words, "basis": item.basis} if element.law == "fuse" and item.basis else element.words
    if rating is None and words is element.words and values is element.values:
        return element
    return replace(element, rating=element.rating if rating is None else rating, values=values, words=words)


def _takes_rating(element: Element) -> bool:
    return element.law in RATED or (element.law == "conductor" and "resistance" not in element.values)


def _way_element(item: Item, element: Element, dossier: Dossier) -> Element | None:
    """A way's element with its fuse; none where the way is spare and has no fuse in it."""
    if element.law != "fuse":
        return element
    way = dossier.ways.get(f"{item.id}.{element.each}")
    if way is None:
        return element
    if way.fuse is None:
        return None if way.spare else element
    words = {**element.words, "basis": way.basis or item.basis or dossier.header.basis}
    return replace(element, rating={"current": way.fuse}, words=words)


_WRITTEN = {
    "filament": "24 V 6 W",
    "motor": "24 V 60 W",
    "horn": "24 V 42 W",
    "coil": "24 V 80 ohm",
    "heater": "24 V 110 W",
    "set": "24 V 90 W",
    "battery": "24 V 45 Ah",
    "generator": "28 V 36 A",
    "rectifier": "1 A",
    "fuse": "5 A",
    "meter": "40 V",
    "ratio-coil": "100 ohm",
    "conductor": "10 ohm",
}


def _judge_rating(item: Item, element: Element, remarks: Remarks, *, many: bool) -> None:
    wants = LAWS[element.law].wants
    given = {*element.rating, *element.values, *element.words}
    if not wants or any(given.issuperset(want) for want in wants):
        return
    sample = _WRITTEN.get(element.law, "24 V")
    hint = f'Write rating = "{sample}", as it is stamped'
    hint += f', or ratings = {{ {element.name} = "{sample}" }}.' if many else "."
    if element.rating:
        stamped = " ".join(q.text for q in element.rating.values())
        said = f"is rated {stamped!r}, which does not say enough about its {element.law} {element.name!r}"
    else:
        said = f"has no rating for its {element.law} {element.name!r}"
    message = f"Item {item.id!r} {said}, so that it cannot be solved."
    remarks.warn("rating-missing", item, message, hint, key="rating" if item.rating else "")


# ---- controls, cams, what moves it -----------------------------------------------------------------------


def _controls(item: Item, made: Shape, remarks: Remarks) -> Mapping[str, Control]:
    if not (made.controls or item.mates or item.start):
        return made.controls
    controls = {n: replace(c, id=f"{item.id}.{n}") for n, c in made.controls.items()}
    if item.mates:
        controls[""] = Control(id=item.id, where=item.where, world=True, positions=JOINED, start=JOINED[0])
    for name, start in item.start.items():
        short = _started(item, name, controls)
        if short in controls:
            controls[short] = _with_start(item, controls[short], start, remarks)
        elif short not in made.latches:
            message = f"Item {item.id!r} starts {name!r}, which is no control or latch of it."
            names = [n or item.id for n in controls] + list(made.latches)
            remarks.say("unknown-control", item, message, _one_of(names, name), key=_start_key(name))
    return controls


def _started(item: Item, name: str, controls: Mapping[str, Control]) -> str:
    """The short name that a key of ``start`` means; the item's id, or nothing, its joint or only control."""
    if name in ("", item.id) and "" not in controls and len(controls) == 1:
        return next(iter(controls))
    return "" if name == item.id else name


def _start_key(name: str) -> str:
    return f"start.{name}" if name else "start"


def _with_start(item: Item, control: Control, start: str | float, remarks: Remarks) -> Control:
    key = _start_key(control.id.partition(".")[2])
    if control.positions:
        if start in control.positions:
            return replace(control, start=start)
        message = f"Item {item.id!r} starts {control.id!r} at {start!r}, which is none of its positions."
        remarks.say("unknown-position", item, message, _one_of(control.positions, str(start)), key=key)
        return control
    try:
        amount = read_amount(start, control.range[0].dimension if control.range else None)
    except UnreadableValue as slip:
        message = f"Item {item.id!r} starts {control.id!r} wrongly: {slip.message}"
        remarks.say("unreadable-value", item, message, slip.hint, key=key)
        return control
    return replace(control, start=amount.value)


def _cams(item: Item, made: Shape, remarks: Remarks) -> Mapping[str, Sentence]:
    for name in item.cams:
        if name not in made.cams:
            message = f"Item {item.id!r} says when its cam {name!r} is held, but has no such cam."
            remarks.say("unknown-cam", item, message, _one_of(made.cams, name), key=f"cams.{name}")
    cams: dict[str, Sentence] = {}
    for name, held in made.cams.items():
        if name in item.cams:
            cams[name] = item.cams[name]
        elif held is not None:
            cams[name] = qualified(held, item.id)
        elif not _misspelt(name, item.cams, made.cams):
            said = f"does not say when its cam {name!r} is held, so that its contacts cannot be judged."
            hint = f'Write cams = {{ {name} = "…" }}, a sentence such as "throttle < 0.2".'
            remarks.warn("cam-missing", item, f"Item {item.id!r} {said}", hint)
    return cams


def _binds(item: Item, made: Shape, remarks: Remarks) -> Mapping[str, str]:
    for name in item.binds:
        if name not in made.follows and name not in made.controls:
            message = f"Item {item.id!r} binds {name!r}, which it neither follows nor has as a control."
            hint = _one_of([*made.follows, *made.controls], name)
            remarks.say("unknown-bind", item, message, hint, key=f"binds.{name}")
    for name in made.follows:
        if name not in item.binds and not _misspelt(name, item.binds, (*made.follows, *made.controls)):
            message = f"Item {item.id!r} does not say what its {name!r} follows, so that it cannot be judged."
            hint = f'Write binds = {{ {name} = "…" }}, the id of a condition or a control.'
            remarks.warn("bind-missing", item, message, hint)
    return item.binds


def _misspelt(name: str, written: Iterable[str], known: Iterable[str]) -> bool:
    """Whether an unknown key that is written nearly is this one: that has its own finding."""
    return any(key not in known and nearest(key, [name]) for key in written)


def _latches(item: Item, made: Shape) -> Mapping[str, Latch]:
    started = {n: s in ("set", "true", 1.0, True) for n, s in item.start.items() if n in made.latches}
    if not started:
        return made.latches
    return {n: replace(latch, start=started.get(n, latch.start)) for n, latch in made.latches.items()}


# ---- links and loose terminals ---------------------------------------------------------------------------


def _contacts(item: Item, made: Shape, remarks: Remarks) -> Mapping[str, Contact]:
    contacts = dict(made.contacts)
    terminals = {t for side in made.terminals.values() for t in side}
    for number, link in enumerate(item.links, start=1):
        for terminal in link:
            if terminal not in terminals:
                message = f"Item {item.id!r} links {terminal!r}, which is no terminal of it."
                remarks.say(
                    "unknown-terminal", item, message, _one_of(sorted(terminals), terminal), key="links"
                )
        known = [t for t in link if t in terminals]
        for step, (first, second) in enumerate(pairwise(known)):
            name = f"link-{number}" + (f"-{step + 1}" if len(known) > 2 else "")
            contacts[name] = Contact(name=name, ends=(first, second), closed=None, resistance=0.0)
    return contacts


def _any_terminals(
    item: Item, dossier: Dossier, ends: Mapping[str, tuple[str, ...]] | None
) -> Mapping[str, tuple[str, ...]]:
    found = (cable_ends(dossier) if ends is None else ends).get(item.id, ())
    half = (len(found) + 1) // 2
    return {"top": found[:half], "bottom": found[half:]}


def with_regulation(generator: Element, regulator: Equipment, *, supply: float | None) -> Element:
    """A generator's element with the set volts and droop of the item that regulates it.

    Parameters
    ----------
    generator
        An element of law generator.
    regulator
        The joined item that ``regulated-by`` names.
    supply
        The dossier's supply [V], for a regulator that is not rated.

    Returns
    -------
    Element
        With ``set`` and ``droop`` among its values [V] and ``regulator`` among its words.

    Raises
    ------
    UnreadableValue
        Where they are no volts.
    """
    stamped = (regulator.item.rating or {}).get("voltage")
    volts = stamped.value if stamped else supply
    values = dict(generator.values)
    for key in ("set", "droop"):
        amount = share_in_volts(read_amount(regulator.parameters[key], None), volts)
        if amount.dimension != "voltage":
            raise UnreadableValue(f"{key} = {amount.text!r} is no voltage.", "Write it like '28 V'.")
        values[key] = amount
    return replace(generator, values=values, words={**generator.words, "regulator": regulator.item.id})
