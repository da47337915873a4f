"""The record as another reading has it: one property of one thing changed, and the installation joined anew.

A terminal that another cable of the same service already holds is exchanged with it: a source that has two leads
the other way about says so of each of them, and most often of one only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from loomlore.evidence.matters import Matter, spoken_of
from loomlore.findings import UnreadableValue
from loomlore.quantities import Rating, Size
from loomlore.record.fitting import changed, fits_of, is_fitted, permitted_combinations
from loomlore.record.installation import Installation, join
from loomlore.record.keys import TABLES
from loomlore.record.model import Cable, Dossier, Item, Statement, Thing
from loomlore.record.parts import Kind

__all__ = ["Rival", "fits_spoken_of", "is_absence", "read_as"]

ABSENT = frozenset({"absent", "missing", "none", "no", "not fitted", "not there"})
"""What a source may say of a thing itself: that there is none."""

_AMOUNTS = frozenset({"power", "current", "resistance"})
"""Parts of a rating that say one thing in three ways."""


@dataclass(frozen=True, kw_only=True)
class Rival:
    """One reading of a matter: its value and who gives it.

    ``recorded`` says that the record has it so; ``installation`` is the record joined with it, None where that
    cannot be done (``refused``). ``aside`` is what had to be taken along with it; ``marks`` the cables that
    are taken to be alike, where the reading is tried in all of a service's cables of one size.
    """

    value: str
    statements: tuple[str, ...]
    recorded: bool = False
    installation: Installation | None = None
    aside: str = ""
    refused: str = ""
    marks: tuple[str, ...] = ()


def is_absence(says: str) -> bool:
    """Whether what a source says of a thing itself is that there is none.

    Parameters
    ----------
    says
        The source's word.

    Returns
    -------
    bool
        False where it says anything else.
    """
    return says.casefold().strip(" .") in ABSENT


def fits_spoken_of(dossier: Dossier, matter: Matter, usual: frozenset[str]) -> frozenset[str]:
    """The fits in which a matter is looked at: the usual ones, or the first that its statements speak of.

    Parameters
    ----------
    dossier
        The whole record.
    matter
        One property and all that is said of it.
    usual
        The standard of fit that is asked for.

    Returns
    -------
    frozenset of str
        Ids of fits and modifications.
    """
    known = fits_of(dossier)

    def suits(fits: frozenset[str]) -> bool:
        return is_fitted(matter.statements[0].fit, fits, known) and _present(dossier, matter, fits)

    return next((fits for fits in (usual, *permitted_combinations(dossier)) if suits(fits)), usual)


def _present(dossier: Dossier, matter: Matter, fits: frozenset[str]) -> bool:
    found = spoken_of(dossier, matter.about)
    return found is None or is_fitted(found[1].fit, fits, fits_of(dossier))


def read_as(
    dossier: Dossier,
    kinds: Mapping[str, Kind],
    statement: Statement,
    fits: frozenset[str],
    *,
    like: Installation,
    everywhere: bool = False,
) -> Rival:
    """Join the record as one statement has it.

    Parameters
    ----------
    dossier
        The whole record.
    kinds
        All kinds.
    statement
        About a property.
    fits
        What is fitted.
    like
        The record as it stands in that standard of fit.
    everywhere
        Whether a size goes for all cables of the service that have the record's size.

    Returns
    -------
    Rival
        With what was wrong, where it cannot be joined.
    """
    whole = Rival(value=statement.says, statements=(statement.id,))
    found = spoken_of(dossier, statement.about)
    if found is None:
        return replace(whole, refused="nothing is called so.")
    word, thing, key = found
    try:
        rival, aside, marks = _rival(dossier, like, word, thing, key, statement.says, everywhere)
    except UnreadableValue as slip:
        return replace(whole, refused=f"{slip.message} {slip.hint}".strip())
    installation, findings = join(rival, kinds, fits, like=like)
    wrong = [finding.message for finding in findings if finding.severity.word == "error"]
    if wrong:
        return replace(whole, refused=wrong[0], aside=aside)
    return replace(whole, installation=installation, aside=aside, marks=marks)


def _rival(
    dossier: Dossier, like: Installation, word: str, thing: Thing, key: str, says: str, everywhere: bool
) -> tuple[Dossier, str, tuple[str, ...]]:
    if not key:
        return _without(dossier, word, thing, says), "", ()
    things, aside = list[Thing]([thing]), ""
    marks: tuple[str, ...] = ()
    if isinstance(thing, Cable) and key in ("from", "to"):
        other = _holder(like, thing, says)
        if other is not None:
            mark, end, own = other
            aside = f"{mark} is taken to be exchanged with it, from {says} to {own}"
            dossier = _with(dossier, "cable", dossier.cables[mark], end, own)
    if everywhere and key == "size" and isinstance(thing, Cable) and isinstance(thing.size, Size):
        alike = [c for c in dossier.cables.values() if c.service == thing.service and c.size == thing.size]
        things, marks = list[Thing](alike), tuple(c.id for c in alike)
    if key == "place":
        aside = "its cables keep the looms and lengths that the record gives them"
    for one in things:
        dossier = _with(dossier, word, one, key, says)
    return dossier, aside, marks


def _holder(like: Installation, cable: Cable, terminal: str) -> tuple[str, str, str] | None:
    """The one other cable of the service whose end is at a terminal; its mark, which end, and what is left free."""
    item = terminal.rpartition(".")[0]
    own = next((end for end in (cable.from_, cable.to) if end.rpartition(".")[0] == item), "")
    held = [
        (other.id, name)
        for other in like.dossier.cables.values()
        if other.id != cable.id and other.service == cable.service
        for name, end in (("from", other.from_), ("to", other.to))
        if end == terminal
    ]
    return (*held[0], own) if own and len(held) == 1 else None


def _with(dossier: Dossier, word: str, thing: Thing, key: str, says: str) -> Dossier:
    """The record with one key of one thing changed, in itself and in every fit that writes that key."""
    made, raw = _read(thing, word, key, says)
    attribute = TABLES[word].attribute
    dossier = _put(dossier, attribute, {**getattr(dossier, attribute), thing.id: made})
    for table in ("fits", "modifications"):
        fits = {
            name: replace(fit, change={**fit.change, thing.id: {**fit.change[thing.id], key: raw}})
            for name, fit in getattr(dossier, table).items()
            if key in fit.change.get(thing.id, {})
        }
        dossier = _put(dossier, table, {**getattr(dossier, table), **fits})
    return dossier


def _put(dossier: Dossier, attribute: str, table: Mapping[str, Any]) -> Dossier:
    given: dict[str, Any] = {attribute: table}
    return replace(dossier, **given)


def _read(thing: Thing, word: str, key: str, says: str) -> tuple[Thing, Any]:
    """The thing with the value, in the first form in which it can be read, and that form."""
    first = None
    for raw in _raw_values(thing, key, says):
        made, slips = changed(thing, word, {key: raw})
        if not slips:
            return made, raw
        first = first or slips[0]
    raise UnreadableValue(
        first.message if first else f"{says!r} cannot be read.", first.hint if first else ""
    )


def _raw_values(thing: Thing, key: str, says: str) -> Iterator[Any]:
    """A source's word in the forms that a key may want: text, number, list; a rating filled up by the record's."""
    number = _number(says)
    if number is not None and isinstance(thing, Item) and key in thing.own:
        yield number
    if key == "rating" and isinstance(thing, Item) and thing.rating:
        yield _filled(thing.rating, says)
    yield says
    if number is not None:
        yield int(number) if number == int(number) else number
    yield [part.strip() for part in says.split(",")]


def _filled(rating: Rating, says: str) -> str:
    """A part of a rating with the rest from the record: amperes, watts and ohms stand for one another."""
    try:
        made: Mapping[str, Any] = TABLES["item"].keys["rating"].read(says, [])
    except UnreadableValue:
        return says
    given = set(made)
    kept = [
        amount.text
        for dimension, amount in rating.items()
        if dimension not in given and not (dimension in _AMOUNTS and given & _AMOUNTS)
    ]
    return " ".join([*kept, says])


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _without(dossier: Dossier, word: str, thing: Thing, says: str) -> Dossier:
    """The record without a thing that a source has not: an item with its ways, or a cable."""
    if not is_absence(says):
        hint = 'Write says = "absent" where a source has none of it.'
        raise UnreadableValue(f"{says!r} of a thing itself changes nothing in the record.", hint)
    if word not in ("item", "cable"):
        raise UnreadableValue(f"A {word} cannot be left out.", "Leave out its items or cables.")
    attribute = TABLES[word].attribute
    left = {name: kept for name, kept in getattr(dossier, attribute).items() if name != thing.id}
    dossier = _put(dossier, attribute, left)
    if word == "cable":
        return dossier
    ways = {name: way for name, way in dossier.ways.items() if way.item != thing.id}
    scales = {name: scale for name, scale in dossier.scales.items() if scale.item != thing.id}
    cables = {
        mark: cable
        for mark, cable in dossier.cables.items()
        if thing.id not in (cable.from_.rpartition(".")[0], cable.to.rpartition(".")[0])
    }
    return replace(dossier, ways=ways, scales=scales, cables=cables)
