"""Standards of fit: which combinations are permitted, and the record as it stands in one of them.

A choice has exactly one of its fits; any of the other fits and modifications may be fitted, unless its own
``fit`` sentence forbids it. Taking a standard makes a smaller dossier: what is not fitted is gone, what a
fit replaces is replaced (through the very readers that read the text), what a fit takes away is gone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, replace
from itertools import chain, combinations, product
from typing import Any, cast

from loomlore.findings import UnknownName, UnreadableValue
from loomlore.record.keys import TABLES
from loomlore.record.model import Cable, Dossier, Fit, Item, Thing
from loomlore.record.reading import altered
from loomlore.record.values import Slip
from loomlore.sentences import Compare, Holds, Is, Sentence, Test, truth

__all__ = [
    "CHANGEABLE",
    "changed",
    "fits_of",
    "fitted",
    "is_fitted",
    "is_permitted",
    "named_standard",
    "permitted_combinations",
]

CHANGEABLE = ("item", "cable", "way", "service", "control", "condition", "earth", "loom", "sheath")
"""Tables whose things a fit may change, in the order in which an id is looked for."""


def fits_of(dossier: Dossier) -> dict[str, Fit]:
    """All fits and modifications, in order of the text.

    Parameters
    ----------
    dossier
        The whole record.

    Returns
    -------
    dict of str to Fit
        By id.
    """
    return {**dossier.fits, **dossier.modifications}


def is_fitted(sentence: Sentence | None, fits: frozenset[str], known: Iterable[str]) -> bool:
    """Judge a ``fit`` sentence.

    Parameters
    ----------
    sentence
        None always holds.
    fits
        What is fitted.
    known
        All fits and modifications of the record; a name that is none of them is unknown.

    Returns
    -------
    bool
        False only where it is known to be false: what nobody can judge stays in, and is a finding.
    """
    if sentence is None:
        return True

    def decide(test: Test) -> bool | None:
        match test:
            case Holds(name) if name in known:
                return name in fits
            case Is(name, words, _, negated) if name in known and words == ("fitted",):
                return (name in fits) is not negated
            case Holds() | Is() | Compare():
                return None

    return truth(sentence, decide) is not False


def is_permitted(dossier: Dossier, fits: frozenset[str]) -> bool:
    """Whether a set of fits is a permitted combination.

    Parameters
    ----------
    dossier
        The whole record.
    fits
        Fits and modifications.

    Returns
    -------
    bool
        True where each choice has exactly one and each fit's own sentence holds.
    """
    known = fits_of(dossier)
    one_each = all(sum(f in fits for f in choice.one_of) == 1 for choice in dossier.choices.values())
    return one_each and all(is_fitted(known[f].fit, fits, known) for f in fits if f in known)


def permitted_combinations(dossier: Dossier, names: frozenset[str] | None = None) -> Iterator[frozenset[str]]:
    """Go through the permitted combinations of fits.

    Parameters
    ----------
    dossier
        The whole record.
    names
        Vary only these; everything else stays as in the default standard, but that a choice of which a
        fit is named also takes one of its others. None varies everything.

    Yields
    ------
    frozenset of str
        Whole combinations, the default standard's first where it is permitted.
    """
    default = named_standard(dossier, None)
    seen: set[frozenset[str]] = set()
    for combination in chain((default,), _combinations(dossier, names, default)):
        if combination not in seen and is_permitted(dossier, combination):
            seen.add(combination)
            yield combination


def _combinations(
    dossier: Dossier, names: frozenset[str] | None, default: frozenset[str]
) -> Iterator[frozenset[str]]:
    alternatives = [_alternatives(choice.one_of, names, default) for choice in dossier.choices.values()]
    chosen = {f for choice in dossier.choices.values() for f in choice.one_of}
    rest = [f for f in fits_of(dossier) if f not in chosen]
    free = [f for f in rest if names is None or f in names]
    kept = default.intersection(rest).difference(free)
    for picked in product(*alternatives):
        for count in range(len(free) + 1):
            for taken in combinations(free, count):
                yield kept.union(picked, taken)


def _alternatives(
    one_of: tuple[str, ...], names: frozenset[str] | None, default: frozenset[str]
) -> list[str]:
    if names is None:
        return list(one_of)
    named = [f for f in one_of if f in names]
    others = [f for f in one_of if f not in names]
    usual = [f for f in others if f in default]
    return named + (usual or others)[:1]


def named_standard(dossier: Dossier, name: str | None) -> frozenset[str]:
    """The fits of a named standard of fit.

    Parameters
    ----------
    dossier
        The whole record.
    name
        Its id; None is the one that ``[dossier]`` names, else the first, else the first of every choice.

    Returns
    -------
    frozenset of str
        Fits and modifications.

    Raises
    ------
    UnknownName
        Where no standard is called so.
    """
    if name is not None:
        if name not in dossier.standards:
            raise UnknownName("standard of fit", name, dossier.standards)
        return frozenset(dossier.standards[name].fits)
    standard = dossier.standards.get(dossier.header.standard) or next(iter(dossier.standards.values()), None)
    if standard is not None:
        return frozenset(standard.fits)
    return frozenset(choice.one_of[0] for choice in dossier.choices.values() if choice.one_of)


def fitted(dossier: Dossier, fits: frozenset[str]) -> Dossier:
    """The record as it stands with some fits.

    Parameters
    ----------
    dossier
        The whole record.
    fits
        Fits and modifications that are fitted.

    Returns
    -------
    Dossier
        Without what is not fitted or taken away, with the fits' changes made. A change that cannot be read
        leaves the key as it was; :func:`changed` says what is wrong with it.
    """
    known = fits_of(dossier)
    removed = {name for f in fits if f in known for name in known[f].removes}
    tables: dict[str, Any] = {
        entry.name: _present(getattr(dossier, entry.name), fits, known, removed)
        for entry in fields(dossier)
        if entry.name not in ("header", "kinds", "fits", "modifications", "choices", "standards")
    }
    items, services = tables["items"], tables["services"]
    tables["ways"] = _kept(tables["ways"], lambda way: way.item in items)
    tables["scales"] = _kept(tables["scales"], lambda scale: scale.item in items)
    tables["cables"] = _kept(tables["cables"], lambda c: not c.service or c.service in services)
    for fit in (known[f] for f in known if f in fits):
        _make_changes(tables, fit)
    return replace(dossier, **tables)


def _present(
    things: Mapping[str, Any], fits: frozenset[str], known: Mapping[str, Fit], removed: set[str]
) -> dict[str, Any] | Mapping[str, Any]:
    if not removed and all(thing.fit is None for thing in things.values()):
        return things
    return {
        name: thing
        for name, thing in things.items()
        if (thing.fit is None or is_fitted(thing.fit, fits, known))
        and not (name in removed and isinstance(thing, Item | Cable))
    }


def _kept(things: Mapping[str, Any], keep: Any) -> Mapping[str, Any]:
    if all(map(keep, things.values())):
        return things
    return {name: thing for name, thing in things.items() if keep(thing)}


def _make_changes(tables: dict[str, Any], fit: Fit) -> None:
    for name, written in fit.change.items():
        for word in CHANGEABLE:
            attribute = TABLES[word].attribute
            thing = tables[attribute].get(name)
            if thing is not None:
                tables[attribute] = {**tables[attribute], name: changed(thing, word, written)[0]}
                break


def changed(thing: Thing, word: str, written: Mapping[str, Any]) -> tuple[Thing, tuple[Slip, ...]]:
    """A thing with some of its keys replaced by what a fit writes.

    Parameters
    ----------
    thing
        Of the record.
    word
        Its table's word, such as ``item``.
    written
        Keys and raw values.

    Returns
    -------
    tuple of Thing and tuple of Slip
        The thing, and what was wrong; the path of a slip begins with its key. Where an item's kind is
        replaced, the parameters of the old kind go.
    """
    if isinstance(thing, Item) and "kind" in written:
        thing = replace(thing, own={})
    if isinstance(thing, Item | Cable):
        made, slips = altered(thing, written)
        return cast("Thing", made), slips
    keys = TABLES[word].keys
    fields_read: dict[str, Any] = {}
    wrong: list[Slip] = []
    for name, raw in written.items():
        slips_here: list[Slip] = []
        try:
            if name not in keys:
                raise UnreadableValue(f"{name!r} is no key of a {word}.", f"It has: {', '.join(keys)}.")
            fields_read[keys[name].field] = keys[name].read(raw, slips_here)
        except UnreadableValue as slip:
            slips_here.append(Slip((), slip.message, slip.hint, slip.column))
        wrong.extend(replace(slip, path=(name, *slip.path)) for slip in slips_here)
    return replace(thing, **fields_read), tuple(wrong)
