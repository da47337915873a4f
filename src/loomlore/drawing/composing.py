"""From an item of the record to the body of its symbol.

Contacts as blades, elements as glyphs, what moves what.  No kind needs a drawing of its own: the symbol
follows from the kind's terminals, contacts, elements, controls and cams. ``symbol`` in the catalogue only
chooses between glyphs of one law (a carbon pile or a resistor). Contacts are drawn as they stand at rest;
contacts of one lever that share a terminal and never close together become one selector.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from loomlore.drawing.bodies import Body, Order, Part
from loomlore.record.equipment import Contact, Element, Equipment, Latch
from loomlore.sentences import Compare, Holds, Is, Sentence, Test, tests_of, truth

__all__ = ["CASE", "Composed", "composed", "selector_groups"]

CASE = "case"
_MANY = 8
_COLOURS = ("red", "green", "amber", "blue", "white")

# Law to glyph, where the symbol or the name does not choose another.
_GLYPHS: dict[str, str] = {
    "conductor": "resistor",
    "filament": "lamp",
    "motor": "motor",
    "horn": "horn",
    "coil": "coil",
    "heater": "heater",
    "set": "set",
    "battery": "battery",
    "generator": "generator",
    "rectifier": "rectifier",
    "fuse": "fuse",
    "rheostat": "rheostat",
    "meter": "meter",
    "ratio-coil": "winding",
    "cartridge": "cartridge",
    "magneto": "magneto",
    "condenser": "condenser",
    "suppressor": "suppressor",
}

_BY_SYMBOL: dict[tuple[str, str], str] = {
    ("valve", "coil"): "valve",
    ("boost-coil", "coil"): "booster",
    ("generator", "coil"): "winding",
    ("timer-relay", "coil"): "timer",
    ("rotary-transformer", "motor"): "transformer",
    ("rotary-transformer", "set"): "transformer",
    ("tank-unit", "conductor"): "rheostat",
}

# By the unit of what is followed, where the symbol does not say.
_FOLLOWERS: dict[str, str] = {"lb/in2": "pressure", "°C": "heat"}

_ACTUATORS: dict[str, str] = {
    "inertia-switch": "inertia",
    "immersion-switch": "float",
    "float-switch": "float",
    "flame-switch": "heat",
    "thermal-switch": "heat",
    "pressure-switch": "pressure",
    "key": "key",
}


@dataclass(frozen=True)
class Composed:
    """A body, and whether an end of its inside is on the case (then it has a pin ``case``)."""

    body: Body
    on_case: bool


def composed(
    equipment: Equipment, shut: Mapping[str, bool], *, used: frozenset[str] | None = None
) -> Composed:
    """Compose the body of an item's symbol.

    Parameters
    ----------
    equipment : Equipment
        The item joined to its kind.
    shut : mapping of str to bool
        Which contacts are closed at rest, by their short names.
    used : frozenset of str, optional
        Terminals that have cables on this plate; a large item, or one that only joins, is drawn with these.

    Returns
    -------
    Composed
        The body.
    """
    parts, links = _contacts(equipment, shut)
    parts += [_element_part(equipment, element) for element in equipment.elements.values()]
    parts = [
        replace(part, ends=tuple(CASE if end == "earth" else end for end in part.ends)) for part in parts
    ]
    tops, bottoms = _sides(equipment, used)
    kept = _kept(parts, {*tops, *bottoms}, equipment) if used is not None else parts
    if not kept and equipment.symbol == "socket":
        kept = [Part(name, "cup", (f"{name}~", name)) for name in (*tops, *bottoms)]
    on_case = any(CASE in part.ends for part in kept)
    if on_case:
        bottoms = (*bottoms, CASE)
    names = {part.name for part in kept}
    order: Order = "mirror" if len(tops) > 3 or len(bottoms) > 3 else "free"
    body = Body(
        tops, bottoms, tuple(kept), tuple(link for link in links if set(link) <= names),
        order, labels=True, envelope=None if kept else True, printed=_printed(equipment),
    )  # fmt: skip
    return Composed(body, on_case)


def _sides(equipment: Equipment, used: frozenset[str] | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    sides = equipment.terminals
    tops = sides.get("top", ())
    bottoms = (*sides.get("left", ()), *sides.get("bottom", ()), *sides.get("right", ()))
    empty = not equipment.elements and all(contact.closed is None for contact in equipment.contacts.values())
    if used is not None and (empty or len(tops) + len(bottoms) > _MANY):
        tops = tuple(name for name in tops if name in used)
        bottoms = tuple(name for name in bottoms if name in used)
    return tops, bottoms


def _kept(parts: list[Part], pins: set[str], equipment: Equipment) -> list[Part]:
    """Drop parts none of whose ends can be reached from a drawn terminal."""
    reach = set(pins)
    while True:
        more = {end for part in parts if reach & set(part.ends) for end in part.ends} - reach
        more &= set(equipment.inner) | {CASE}
        if not more:
            break
        reach |= more
    every = {*pins, *equipment.inner, CASE}
    return [part for part in parts if set(part.ends) <= every and reach & set(part.ends)]


def _printed(equipment: Equipment) -> tuple[tuple[str, str], ...]:
    """Print the positions of a lever beside the terminals it connects: ``A land``."""
    found: dict[str, str] = {}
    for contact in equipment.contacts.values():
        tests = list(tests_of(contact.closed)) if contact.closed is not None else []
        if len(tests) != 1 or not isinstance(tests[0], Is) or tests[0].negated or len(tests[0].words) != 1:
            continue
        control = equipment.controls.get(tests[0].name)
        far = contact.ends[1]
        if control is not None and control.springs_to is None and far in equipment.terminal_names:
            word = tests[0].words[0]
            if word not in ("on", "off", "in", "out") and len(word) <= 10 and far not in found:
                found[far] = f"{far} {word.upper()}"
    # A terminal that several positions reach is printed bare: one word would mislead.
    ends = [contact.ends[1] for contact in equipment.contacts.values()]
    return tuple((name, words) for name, words in found.items() if ends.count(name) == 1)


# ---------------------------------------------------------------- elements


def _element_part(equipment: Equipment, element: Element) -> Part:
    return Part(
        element.name, _element_glyph(equipment, element), element.ends, tint=_tint(equipment, element),
        words=_set_words(equipment, element),
    )  # fmt: skip


def _element_glyph(equipment: Equipment, element: Element) -> str:
    symbol = equipment.symbol
    if (symbol, element.law) in _BY_SYMBOL:
        return _BY_SYMBOL[symbol, element.law]
    if element.law == "conductor":
        return _conductor_glyph(equipment, element)
    if element.law == "meter":
        return "ammeter" if "current" in element.rating or symbol == "meter-amps" else "voltmeter"
    if element.law == "ratio-coil":
        return "ratio" if equipment.ratio and element.name == equipment.ratio[1] else "winding"
    return _GLYPHS.get(element.law, "set")


def _conductor_glyph(equipment: Equipment, element: Element) -> str:
    ohms = element.values.get("resistance")
    if equipment.symbol == "shunt" and element.name == "strip":
        return "shunt"
    if element.name in ("pile", "points"):
        return "carbon-pile" if element.name == "pile" else "rheostat"
    if equipment.symbol in ("regulator", "cut-out"):
        return "coil"
    if ohms is not None and ohms.value < 0.5e-3:
        return "line"
    return "rheostat" if element.words.get("follows") else "resistor"


def _tint(equipment: Equipment, element: Element) -> str:
    if element.law != "filament":
        return ""
    item = equipment.item
    for words in (element.name, item.id, item.text.lower().partition("window")[0][-12:], equipment.kind):
        for colour in _COLOURS:
            if colour in words.replace("-", " ").split():
                return colour
    return ""


def _set_words(equipment: Equipment, element: Element) -> str:
    return "W/T" if element.law == "set" and equipment.symbol == "radio" else ""


# ---------------------------------------------------------------- contacts


def _contacts(equipment: Equipment, shut: Mapping[str, bool]) -> tuple[list[Part], list[tuple[str, str]]]:
    groups = _selectors(equipment)
    taken = {contact.name for _, many in groups for contact in many}
    parts = [_selector(common, many, shut) for common, many in groups]
    for contact in equipment.contacts.values():
        if contact.name not in taken:
            glyph = "line" if contact.closed is None else "break" if shut.get(contact.name, False) else "make"
            parts.append(Part(contact.name, "stud" if equipment.symbol == "stud" else glyph, contact.ends))
    if equipment.symbol == "stud":
        return parts, []
    return _moved(equipment, parts, {many[0].name: many for _, many in groups})


def _selectors(equipment: Equipment) -> list[tuple[str, list[Contact]]]:
    """Group contacts that share an end and of which no position closes two."""
    found: list[tuple[str, list[Contact]]] = []
    left = [contact for contact in equipment.contacts.values() if contact.closed is not None]
    for end in _shared_ends(left):
        many = [contact for contact in left if end in contact.ends]
        fars = [_far(contact, end) for contact in many]
        if len(many) > 1 and len(set(fars)) == len(fars) and _exclusive(equipment, many):
            found.append((end, many))
            left = [contact for contact in left if contact not in many]
    return found


def selector_groups(equipment: Equipment) -> list[tuple[str, tuple[str, ...]]]:
    """Return the selectors of an item: the common end, and the contacts of which only one can be closed.

    Parameters
    ----------
    equipment : Equipment
        The item joined to its kind.

    Returns
    -------
    list of (str, tuple of str)
        Common end and names of the contacts.
    """
    return [(end, tuple(contact.name for contact in many)) for end, many in _selectors(equipment)]


def _shared_ends(contacts: Iterable[Contact]) -> list[str]:
    counts: dict[str, int] = {}
    for contact in contacts:
        for end in contact.ends:
            counts[end] = counts.get(end, 0) + 1
    return sorted((end for end, count in counts.items() if count > 1), key=lambda end: -counts[end])


def _far(contact: Contact, end: str) -> str:
    return contact.ends[1] if contact.ends[0] == end else contact.ends[0]


def _exclusive(equipment: Equipment, contacts: list[Contact]) -> bool:
    sentences = [contact.closed for contact in contacts if contact.closed is not None]
    movers = {_subject(test) for sentence in sentences for test in tests_of(sentence)}
    if len(movers) != 1 or len(sentences) != len(contacts):
        return False
    mover = movers.pop()
    states = _states(equipment, mover)
    return bool(states) and all(_closed_in(word, sentences) <= 1 for word in states)


def _closed_in(word: str, sentences: Iterable[Sentence]) -> int:
    """Count the contacts that are closed while their mover stands at a word."""
    return sum(truth(sentence, lambda test: _stands(test, word)) is True for sentence in sentences)


def _subject(test: Test) -> str:
    return test.measure.name if isinstance(test, Compare) else test.name


def _states(equipment: Equipment, mover: str) -> tuple[str, ...]:
    if mover in equipment.controls:
        return equipment.controls[mover].positions
    if mover in equipment.cams or mover in equipment.silent_cams or mover in equipment.latches:
        return ("true", "false")
    element = equipment.elements.get(mover)
    return ("pulled-in", "released") if element is not None and element.law == "coil" else ()


def _stands(test: Test, word: str) -> bool | None:
    if isinstance(test, Holds):
        return word == "true"
    if isinstance(test, Is):
        return (word in test.words) is not test.negated
    return None


def _selector(common: str, many: list[Contact], shut: Mapping[str, bool]) -> Part:
    throws = tuple(_far(contact, common) for contact in many)
    rest = next((n for n, contact in enumerate(many) if shut.get(contact.name, False)), None)
    return Part(many[0].name, "selector", (common, *throws), rest=rest)


def _moved(
    equipment: Equipment, parts: list[Part], groups: Mapping[str, list[Contact]]
) -> tuple[list[Part], list[tuple[str, str]]]:
    """Give the first part of each mover its actuator, and link the others to it.

    A coil is linked to all it moves.
    """
    first: dict[str, str] = {}
    links: list[tuple[str, str]] = []
    done: list[Part] = []
    for bare in parts:
        part = bare
        contact = groups[part.name][0] if part.name in groups else equipment.contacts[part.name]
        mover, word = _mover(equipment, contact.closed)
        if mover in equipment.elements:
            links.append((mover, part.name))
        elif mover and mover in first:
            links.append((first[mover], part.name))
        elif mover:
            part = replace(bare, actuator=word)
        if mover:
            first[mover] = part.name
        done.append(part)
    return done, links


def _mover(equipment: Equipment, closed: Sentence | None, depth: int = 0) -> tuple[str, str]:
    """Return what moves a contact (a control, a cam, a coil, something followed) and how that is drawn."""
    if closed is None or depth > 3:
        return "", ""
    names = [_subject(test) for test in tests_of(closed)]
    for name in names:
        if name in equipment.controls:
            return name, _lever(equipment, name)
    for name in names:
        if name in equipment.cams or name in equipment.silent_cams:
            return name, _ACTUATORS.get(equipment.symbol, "cam")
        element = equipment.elements.get(name)
        if element is not None:
            return name, ""
        if name in equipment.follows:
            return name, _ACTUATORS.get(equipment.symbol, _FOLLOWERS.get(equipment.follows[name], "cam"))
    for name in names:
        if name in equipment.latches:
            return _latch_mover(equipment, equipment.latches[name], depth)
    return "", ""


def _latch_mover(equipment: Equipment, latch: Latch, depth: int) -> tuple[str, str]:
    for sentence in (latch.set, latch.set_on, latch.release, latch.release_on):
        found = _mover(equipment, sentence, depth + 1)
        if found[0]:
            return found
    return "", ""


def _lever(equipment: Equipment, name: str) -> str:
    control = equipment.controls[name]
    if equipment.symbol == "key" or name == "key":
        return "key"
    if control.springs_to is not None:
        return "guarded-push" if control.guarded else "push"
    return "lever"
