"""What a name in a sentence stands for.

Two scopes. A kind's sentences see their own item's names only (:func:`own_reference`). The dossier's
sentences see conditions, controls, items, fits and cables, and inside an item ``ITEM.NAME``
(:func:`resolve`). One word may name several things of an item, a key's lever and its contact for instance;
what is asked of it (``sense``) and the word behind ``is`` say which is meant. Where that leaves several, or
none, the answer is an :class:`Unresolved`, which lists what could have been written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain

from loomlore.findings import nearest
from loomlore.quantities import DIMENSIONS
from loomlore.record.equipment import Equipment, equip
from loomlore.record.fitting import fits_of
from loomlore.record.installation import Installation
from loomlore.record.laws import LAWS, states_of
from loomlore.record.model import AIRFRAME, Control
from loomlore.record.parts import Element
from loomlore.sentences import Compare, Holds, Is, Test

__all__ = [
    "SENSES",
    "Reference",
    "Unresolved",
    "asked_of",
    "called_reference",
    "free_control",
    "own_reference",
    "resolve",
    "wrong_unit",
]

SENSES = ("is", "holds", "compare", "volts across", "volts at", "amps in")
"""What may be asked of a name: the kinds of test and measure of a sentence."""

FITTED = ("fitted", "not fitted")
REGULATING = LAWS["regulator"].states


@dataclass(frozen=True, slots=True)
class Reference:
    """What a name stands for.

    ``what`` is one of

    ========== ======================================================= =====================================
    what       id                                                      ``words`` / ``dimension``
    ========== ======================================================= =====================================
    control    of a dossier's control, or ``ITEM.CONTROL``             positions, or the range's dimension
    condition  of a dossier's condition, or a plug half (in, parted)   positions, or the range's dimension
    fit        of a fit or modification                                (fitted, not fitted)
    latch      ``ITEM.LATCH``                                          ()
    cam        ``ITEM.CAM``                                            ()
    follow     ``ITEM.FOLLOW``: what an item follows                   those of what it is bound to
    element    ``ITEM.ELEMENT`` (a way's fuse: ``BOX.WAY``)            the law's states
    group      ``ITEM.GROUP``                                          the states of its elements' law
    regulator  ``ITEM`` that regulates a generator                     regulating, open, stuck
    scale      ``ITEM.SCALE``: the number shown                        dimension of its marks
    cable      a cable's key (only in ``amps in``)                     ()
    contact    ``ITEM.CONTACT`` (only in ``amps in``, ``volts across``) ()
    terminal   ``ITEM.TERMINAL`` (only in ``volts at``)                ()
    ========== ======================================================= =====================================

    A control that its item binds to the dossier's is that of the dossier. A meter without a scale shows its
    own volts or amps: its element's name then stands where a scale's would.
    """

    what: str
    id: str
    words: tuple[str, ...] = ()
    dimension: str | None = None


@dataclass(frozen=True, slots=True)
class Unresolved:
    """A name that stands for nothing, or for several things.

    ``absent_fit`` says that the whole record has it and the present standard of fit does not; ``because`` is
    the subject (``item horn``) whose own finding explains it, so that this one may be kept quiet.
    """

    message: str
    hint: str
    absent_fit: bool = False
    because: str = ""
    rule: str = "unknown-name"


def own_reference(
    parts: Equipment, name: str, *, sense: str, words: tuple[str, ...] = ()
) -> Reference | Unresolved:
    """What a name in a kind's own sentence stands for.

    Parameters
    ----------
    parts
        The item, joined.
    name
        As written.
    sense
        One of :data:`SENSES`.
    words
        The words behind ``is``.

    Returns
    -------
    Reference or Unresolved
        With the item's id before its own.
    """
    return _chosen(
        tuple(_named(parts, name)), name, sense, words, names=_names_of(parts, sense), scope="its kind"
    )


def resolve(
    name: str,
    installation: Installation,
    *,
    within: str = "",
    sense: str = "is",
    words: tuple[str, ...] = (),
) -> Reference | Unresolved:
    """What a name in a sentence stands for, in one standard of fit.

    Parameters
    ----------
    name
        As written.
    installation
        The record in that standard.
    within
        An item's id: the sentence is its kind's and sees its own names only.
    sense
        One of :data:`SENSES`.
    words
        The words behind ``is``.

    Returns
    -------
    Reference or Unresolved
        What is meant; or why nothing is.
    """
    if within:
        return _bound(
            own_reference(installation.equipment[within], name, sense=sense), installation, sense, words
        )
    item, point, rest = name.partition(".")
    if sense == "volts at" and item == AIRFRAME:
        return _bolt(name, rest, installation)
    if not point:
        return _plain(name, installation, sense, words)
    if item in installation.equipment:
        return _of_item(installation.equipment[item], rest, installation, sense, words)
    return _no_item(item, name, installation)


def asked_of(test: Test) -> tuple[str, str, tuple[str, ...]]:
    """What a test asks: of which name, in which sense, with which words behind ``is``.

    Parameters
    ----------
    test
        One test of a sentence.

    Returns
    -------
    tuple of str, str and tuple of str
        Name, sense, words.
    """
    match test:
        case Holds(name):
            return name, "holds", ()
        case Is(name, words):
            return name, "is", words
        case Compare(measure):
            return measure.name, "compare" if measure.of == "name" else measure.of, ()


def wrong_unit(test: Test, found: Reference) -> tuple[str, str] | None:
    """What is wrong with the units of a comparison.

    Parameters
    ----------
    test
        One test of a sentence.
    found
        What its name stands for.

    Returns
    -------
    tuple of str or None
        Message and hint; None where units agree.
    """
    if not isinstance(test, Compare):
        return None
    wants = {"name": found.dimension, "amps in": "current"}.get(test.measure.of, "voltage")
    for _, limit in test.limits:
        if wants is None or limit.dimension == wants or {limit.dimension, wants} == {"", "fraction"}:
            continue
        called = f"{'an' if wants[0] in 'aeiou' else 'a'} {wants}" if wants else "a bare number"
        example = DIMENSIONS.get(wants, "0.5")
        return f"In {str(test)!r}, {limit.text!r} is not {called}.", f"Write it like {example!r}."
    return None


# ---- the parts of an item --------------------------------------------------------------------------------


def _named(parts: Equipment, name: str) -> Iterator[Reference]:
    """Everything of an item that has this name."""
    full = f"{parts.item.id}.{name}"
    if name in parts.controls:
        yield _control("control", full, parts.controls[name])
    if name in parts.follows:
        yield Reference("follow", full, (), parts.follows[name])
    if name in parts.cams or name in parts.silent_cams:
        yield Reference("cam", full)
    if name in parts.latches:
        yield Reference("latch", full)
    if name in parts.elements:
        yield _element(parts, parts.elements[name])
    if name in parts.groups:
        yield _group(parts, name)
    if name in parts.contacts:
        yield Reference("contact", full)
    if name in parts.terminal_names or name in parts.inner:
        yield Reference("terminal", full)


def _control(what: str, name: str, control: Control) -> Reference:
    dimension = control.range[0].dimension if control.range else None
    return Reference(what, name, control.positions, dimension)


def _element(parts: Equipment, element: Element) -> Reference:
    return Reference("element", f"{parts.item.id}.{element.name}", states_of(element.law))


def _group(parts: Equipment, name: str) -> Reference:
    members = parts.groups[name]
    law = next((parts.elements[m].law for m in members if m in parts.elements), "")
    return Reference("group", f"{parts.item.id}.{name}", states_of(law))


def _shown(parts: Equipment, installation: Installation) -> Iterator[Reference]:
    """The numbers that an item shows: its scales, or its movement's own volts or amps."""
    scales = [s for s in installation.dossier.scales.values() if s.item == parts.item.id]
    for scale in scales:
        dimension = scale.points[-1][1].dimension if scale.points else None
        yield Reference("scale", scale.id, (), dimension)
    if scales:
        return
    for element in parts.elements.values():
        if element.law == "meter" and element.rating:
            yield Reference("scale", f"{parts.item.id}.{element.name}", (), next(iter(element.rating)))


def _visible(parts: Equipment) -> Iterator[Reference]:
    """What one sees of an item: groups as one, two ratio coils as one, every other element with states."""
    grouped = {member for members in parts.groups.values() for member in members}
    grouped.update(parts.ratio[1:] if parts.ratio else ())
    for name in parts.groups:
        yield _group(parts, name)
    for element in parts.elements.values():
        if element.name not in grouped and states_of(element.law):
            yield _element(parts, element)
    if parts.regulates:
        yield Reference("regulator", parts.item.id, REGULATING)


_SUITS = {
    "is": ("control", "condition", "follow", "element", "group", "fit", "regulator"),
    "holds": ("latch", "cam", "fit"),
    "compare": ("control", "condition", "follow", "scale"),
    "volts across": ("element", "contact"),
    "volts at": ("terminal",),
    "amps in": ("element", "contact", "cable"),
}


def _suits(found: Reference, sense: str) -> bool:
    if found.what not in _SUITS[sense]:
        return False
    if sense == "is":
        return bool(found.words)
    return sense != "compare" or found.dimension is not None


def _names_of(parts: Equipment, sense: str) -> tuple[str, ...]:
    """Names of an item that could have been written in this sense."""
    every = chain(
        parts.controls, parts.follows, parts.cams, parts.silent_cams, parts.latches, parts.elements,
        parts.groups, parts.contacts, parts.terminal_names, parts.inner,
    )  # fmt: skip
    return tuple(n for n in dict.fromkeys(every) if n and any(_suits(r, sense) for r in _named(parts, n)))


# ---- choosing --------------------------------------------------------------------------------------------


def _chosen(
    found: tuple[Reference, ...],
    name: str,
    sense: str,
    words: tuple[str, ...],
    *,
    names: Iterable[str],
    scope: str,
) -> Reference | Unresolved:
    suiting = [r for r in found if _suits(r, sense)]
    if not found:
        return Unresolved(f"{name!r} is no name of {scope}.", _did_you_mean(name, names))
    if not suiting:
        return _wrong_sense(found[0], name, sense)
    if sense != "is" or not words:
        return suiting[0]
    owning = [r for r in suiting if all(w in r.words for w in words)]
    return owning[0] if owning else _wrong_word(name, suiting, words)


def _did_you_mean(name: str, names: Iterable[str]) -> str:
    known = tuple(dict.fromkeys(names))
    near = nearest(name, known)
    if near:
        return f"Did you mean {near!r}?"
    return f"Write one of: {', '.join(known[:12])}." if known else "Nothing there can be asked this."


def _wrong_word(name: str, suiting: list[Reference], words: tuple[str, ...]) -> Unresolved:
    owned = tuple(dict.fromkeys(w for r in suiting for w in r.words))
    strange = next((w for w in words if w not in owned), words[0])
    near = nearest(strange, owned)
    hint = f"Did you mean {near!r}?" if near else f"It is one of: {', '.join(owned)}."
    return Unresolved(f"{name!r} is never {strange!r}.", hint, rule="unknown-position")


def _wrong_sense(found: Reference, name: str, sense: str) -> Unresolved:
    hint = _instead(found, name)
    said = {
        "is": f"{name!r} has no positions or states",
        "holds": f"{name!r} does not simply hold or not",
        "compare": f"{name!r} is no amount",
        "volts across": f"{name!r} has no two ends to measure across",
        "volts at": f"{name!r} is no terminal",
        "amps in": f"{name!r} carries no current",
    }
    return Unresolved(f"{said[sense]}: it is {called_reference(found)}.", hint, rule="wrong-sense")


def called_reference(found: Reference) -> str:
    """How a finding calls what a name stands for.

    Parameters
    ----------
    found
        Any reference.

    Returns
    -------
    str
        Such as ``an element``.
    """
    article = "an" if found.what == "element" else "a"
    return f"{article} {found.what}"


def _instead(found: Reference, name: str) -> str:
    if found.what in ("latch", "cam"):
        return f"Write {name!r} alone, or 'not {name}'."
    if found.words:
        return f"Write '{name} is {found.words[0]}' (it may be {', '.join(found.words)})."
    if found.dimension is not None:
        return f"Compare it, like '{name} < …'."
    if found.what == "terminal":
        return f"Write 'volts at {name}'."
    if found.what in ("element", "contact", "cable"):
        return f"Write 'amps in {name}' or 'volts across {name}'."
    return "Leave it out."


# ---- the dossier's names ---------------------------------------------------------------------------------


def _plain(
    name: str, installation: Installation, sense: str, words: tuple[str, ...]
) -> Reference | Unresolved:
    """A name without a point."""
    dossier = installation.dossier
    if sense == "amps in" and name in dossier.cables:
        return Reference("cable", name)
    found: list[Reference] = []
    if name in dossier.conditions:
        found.append(_control("condition", name, dossier.conditions[name]))
    if name in dossier.controls:
        found.append(_control("control", name, dossier.controls[name]))
    if name in installation.whole.fits or name in installation.whole.modifications:
        found.append(Reference("fit", name, FITTED))
    asked = [r for r in found if _suits(r, sense) and all(w in r.words for w in words)]
    if asked:
        return asked[0]
    if name in installation.equipment:  # a fit and an item may share a word
        return _alone(installation.equipment[name], installation, sense, words)
    if found and name not in installation.whole.items:
        return _chosen(tuple(found), name, sense, words, names=(), scope="the dossier")
    return _no_item(name, name, installation)


def _alone(
    parts: Equipment, installation: Installation, sense: str, words: tuple[str, ...]
) -> Reference | Unresolved:
    """An item's name alone: its only thing that can be asked this, or the one that owns the word."""
    candidates = list(_candidates(parts, installation, sense))
    asked = [r for r in candidates if all(w in r.words for w in words)] if words else candidates
    if len(asked) == 1:
        return asked[0]
    name = parts.item.id
    if not candidates:
        return _nothing_asked(parts, installation, sense)
    if not asked:
        return _wrong_word(name, candidates, words)
    written = ", ".join(r.id for r in asked)
    return Unresolved(f"Which of {name!r} is meant?", f"Write one of: {written}.", rule="ambiguous-name")


def _candidates(parts: Equipment, installation: Installation, sense: str) -> Iterator[Reference]:
    if sense == "is":
        joint = _joint(parts, installation)
        yield from (joint,) if joint else ()
        yield from (r for r in _own_controls(parts, installation) if r.words)
        yield from _visible(parts)
    elif sense == "compare":
        yield from _shown(parts, installation)
        yield from (r for r in _own_controls(parts, installation) if r.dimension is not None)
    elif sense in ("volts across", "amps in"):
        elements = [_element(parts, e) for e in parts.elements.values()]
        yield from elements or [Reference("contact", f"{parts.item.id}.{c}") for c in parts.contacts]
    elif sense == "volts at":
        yield from (Reference("terminal", f"{parts.item.id}.{t}") for t in parts.terminal_names)


def _own_controls(parts: Equipment, installation: Installation) -> Iterator[Reference]:
    for short, control in parts.controls.items():
        if short:
            made = _bound(_control("control", f"{parts.item.id}.{short}", control), installation, "", ())
            if isinstance(made, Reference):
                yield made


def _joint(parts: Equipment, installation: Installation) -> Reference | None:
    half = installation.joined_by.get(parts.item.id)
    if half is None or "" not in installation.equipment[half].controls:
        return None
    return _control("condition", half, installation.equipment[half].controls[""])


def _nothing_asked(parts: Equipment, installation: Installation, sense: str) -> Unresolved:
    name = parts.item.id
    whole = installation.whole.items.get(name)
    if sense == "is" and whole is not None and _mated_in_another_fit(name, installation):
        return Unresolved(
            f"Nothing mates {name!r} in this standard of fit.", "Name the plug instead.", absent_fit=True
        )
    asked = {
        "is": "has no position or state of its own",
        "holds": "is an item, and does not simply hold or not",
        "compare": "shows no number",
        "volts across": "has nothing inside to measure across",
        "volts at": "has no terminal",
        "amps in": "has nothing inside that carries current",
    }
    inside = [f"{name}.{n}" for n in _names_of(parts, sense)] or [
        f"{name} is {r.words[-1]}" for r in _candidates(parts, installation, "is") if r.words
    ]
    hint = (
        f"Write {' or '.join(repr(n) for n in inside[:6])}."
        if inside
        else "Name a terminal, a cable or a control instead."
    )
    return Unresolved(f"{name!r} {asked[sense]}.", hint, rule="wrong-sense")


def _mated_in_another_fit(name: str, installation: Installation) -> bool:
    return any(item.mates == name for item in installation.whole.items.values())


def _of_item(
    parts: Equipment, rest: str, installation: Installation, sense: str, words: tuple[str, ...]
) -> Reference | Unresolved:
    """``ITEM.NAME``."""
    found = [*_named(parts, rest)]
    found += [r for r in _shown(parts, installation) if r.id == f"{parts.item.id}.{rest}"]
    name = f"{parts.item.id}.{rest}"
    if not any(_suits(r, sense) for r in found) and all(r.what == "terminal" for r in found):
        return _no_part(parts, rest, installation, sense)
    resolved = [r for r in (_bound(f, installation, "", ()) for f in found) if isinstance(r, Reference)]
    return _chosen(tuple(resolved or found), name, sense, words, names=(), scope=f"item {parts.item.id!r}")


def _no_part(parts: Equipment, rest: str, installation: Installation, sense: str) -> Unresolved:
    name = parts.item.id
    if _in_another_fit(name, rest, installation, sense):
        message = f"{name}.{rest} is not there in this standard of fit."
        return Unresolved(message, "Say in which fit it holds.", absent_fit=True)
    way = installation.dossier.ways.get(f"{name}.{rest}")
    if way is not None and way.spare:
        return Unresolved(f"Way {rest} of {name!r} is spare: no fuse is in it.", "Name a way that is used.")
    shown = [r.id.partition(".")[2] for r in _shown(parts, installation)]
    names = [*_names_of(parts, sense), *(shown if sense == "compare" else ())]
    near = nearest(rest, names)
    if near:
        hint = f"Did you mean {f'{name}.{near}'!r}?"
    else:
        hint = f"It has: {', '.join(names[:12])}." if names else "Nothing in it can be asked this."
    return Unresolved(f"Item {name!r} has nothing called {rest!r}.", hint)


def _in_another_fit(name: str, rest: str, installation: Installation, sense: str) -> bool:
    """Whether some fit gives the item a kind, or a scale, that has this name."""
    whole = installation.whole
    item = whole.items.get(name)
    if item is None:
        return False
    if f"{name}.{rest}" in whole.scales:
        return True
    for fit in fits_of(whole).values():
        other = fit.change.get(name, {}).get("kind", item.kind if fit.id in installation.fits else None)
        kind = installation.kinds.get(str(other))
        if kind is not None and other != installation.dossier.items[name].kind:
            parts = equip(replace(item, kind=kind.id, own={}), kind, whole)[0]
            if any(_suits(r, sense) for r in _named(parts, rest)):
                return True
    return False


def _bound(
    found: Reference | Unresolved, installation: Installation, sense: str, words: tuple[str, ...]
) -> Reference | Unresolved:
    """Follow what an item binds: a control becomes the dossier's, a follow takes its positions or unit."""
    if isinstance(found, Unresolved):
        return found
    if found.what in ("control", "follow"):
        item, _, short = found.id.partition(".")
        target = installation.equipment[item].binds.get(short)
        free = free_control(target, installation) if target else None
        if free is not None and found.what == "control":
            found = free
        elif free is not None:
            found = Reference("follow", found.id, free.words, free.dimension)
    if not sense:
        return found
    return _chosen((found,), found.id, sense, words, names=(), scope="its kind")


def free_control(name: str, installation: Installation) -> Reference | None:
    """The control or condition that a name moves, through what items bind.

    Parameters
    ----------
    name
        Of a condition or control of the dossier, ``ITEM.CONTROL``, or an item that has only one.
    installation
        The record in one standard of fit.

    Returns
    -------
    Reference or None
        What is moved by itself, at the end of the chain; None where there is none.
    """
    dossier = installation.dossier
    for _ in range(_LONGEST_CHAIN):
        if name in dossier.conditions:
            return _control("condition", name, dossier.conditions[name])
        if name in dossier.controls:
            return _control("control", name, dossier.controls[name])
        item, _, short = name.partition(".")
        parts = installation.equipment.get(item)
        if parts is None:
            return None
        if not short and len(parts.controls) == 1:
            short = next(iter(parts.controls))
        if short not in parts.controls:
            return None
        if short not in parts.binds:
            return _control(
                "control" if short else "condition", parts.controls[short].id, parts.controls[short]
            )
        name = parts.binds[short]
    return None


_LONGEST_CHAIN = 8


# ---- names that are not there ----------------------------------------------------------------------------


def _bolt(name: str, bolt: str, installation: Installation) -> Reference | Unresolved:
    if not bolt or bolt in installation.dossier.earths:
        return Reference("terminal", name)
    absent = bolt in installation.whole.earths
    return Unresolved(
        f"There is no earth bolt {bolt!r}.", _did_you_mean(bolt, installation.whole.earths), absent
    )


def _no_item(item: str, name: str, installation: Installation) -> Unresolved:
    whole = installation.whole
    if item in installation.dossier.items:
        message = f"{name!r} cannot be judged while nobody knows what kind of item {item!r} is."
        return Unresolved(message, "Mend its `kind` first.", because=f"item {item}")
    if (
        any(item in table for table in (whole.items, whole.controls, whole.conditions))
        or name in whole.cables
    ):
        message = f"{name!r} is not fitted in this standard of fit."
        return Unresolved(
            message, "Say in which fit it holds.", absent_fit=name not in installation.dossier.cables
        )
    names = chain(
        whole.items, whole.conditions, whole.controls, fits_of(whole), whole.cables if "." not in name else ()
    )
    near = nearest(item, names)
    rest = name[len(item) :]
    hint = (
        f"Did you mean {near + rest!r}?"
        if near
        else "Add an item, control or condition of that name, or mend it."
    )
    return Unresolved(f"Nothing is called {item!r}.", hint)
