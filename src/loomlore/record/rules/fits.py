"""Rules about fits, modifications, choices and standards of fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from loomlore.record.fitting import CHANGEABLE, changed, fits_of, is_permitted
from loomlore.record.keys import TABLES
from loomlore.record.model import Dossier, Fit, Standard, Thing
from loomlore.record.remarks import called, meant
from loomlore.record.rules.context import Context
from loomlore.sentences import Is, Sentence, tests_of

__all__ = ["check_fits", "covering_standards"]


def check_fits(context: Context) -> None:
    """Judge fits, choices, standards and ``fit`` sentences of the whole record.

    Parameters
    ----------
    context
        The first standard of fit.
    """
    known = fits_of(context.whole)
    for thing, sentence in _fit_sentences(context.whole):
        _check_sentence(context, thing, sentence, known)
    for fit in known.values():
        _check_changes(context, fit)
        _check_removes(context, fit)
    _check_choices(context, known)
    for standard in context.whole.standards.values():
        _check_standard(context, standard, known)
    wanted = context.whole.header.standard
    if wanted and wanted not in context.whole.standards:
        hint = meant(wanted, context.whole.standards, none=f"Add [standard] {wanted} = {{ fits = […] }}.")
        header = Thing(id="", where=context.whole.header.where)
        message = f"The dossier takes the standard of fit {wanted!r}, which is not there."
        context.remarks.say("unknown-standard", header, message, hint, key="standard", unknown=wanted)


def covering_standards(
    dossier: Dossier, combinations: Iterator[frozenset[str]]
) -> tuple[frozenset[str], ...]:
    """Few standards in which every fit is both fitted and not, so that nothing goes unexamined.

    Parameters
    ----------
    dossier
        The whole record.
    combinations
        Permitted combinations, the default first; taken only as far as needed.

    Returns
    -------
    tuple of frozenset of str
        The default, the other named ones, and what is missing to cover each fit.
    """
    default = next(combinations, frozenset())
    named = [frozenset(standard.fits) for standard in dossier.standards.values()]
    chosen = list(dict.fromkeys([default, *(fits for fits in named if is_permitted(dossier, fits))]))
    missing = {(f, held) for f in fits_of(dossier) for held in (True, False)}
    missing -= {(f, f in fits) for f, _ in missing for fits in chosen}
    for _, fits in zip(range(_MOST_TRIED), combinations, strict=False):
        if not missing:
            break
        covered = {(f, held) for f, held in missing if (f in fits) is held}
        if covered:
            chosen.append(fits)
            missing -= covered
    return tuple(chosen)


_MOST_TRIED = 4096
"""Combinations looked through for a fit that is rarely permitted: enough for twelve free ones."""


def _fit_sentences(dossier: Dossier) -> Iterator[tuple[Thing, Sentence]]:
    for word, table in TABLES.items():
        if word == "scale":
            continue
        things: Mapping[str, Thing] = getattr(dossier, table.attribute)
        yield from ((thing, thing.fit) for thing in things.values() if thing.fit is not None)


def _check_sentence(context: Context, thing: Thing, sentence: Sentence, known: Mapping[str, Fit]) -> None:
    for test in tests_of(sentence):
        name = getattr(test, "name", None)
        if name in known and (not isinstance(test, Is) or test.words == ("fitted",)):
            continue
        if name is not None and context.excused(name):
            continue
        if name is None or name in known:
            message, hint = (
                f"{called(thing)}: {str(test)!r} does not speak of fits.",
                "Write the ids of fits alone.",
            )
        else:
            message = f"{called(thing)} is fitted with {name!r}, which is no fit or modification."
            hint = meant(name, known, none=f"Add [fit] {name} = {{ title = … }}.")
        context.doubtful.add(thing.id)
        unknown = name if name and name not in known else ""
        context.remarks.say("unknown-fit", thing, message, hint, key="fit", into=test.column, unknown=unknown)


def _check_changes(context: Context, fit: Fit) -> None:
    for name, written in fit.change.items():
        found = _found(context.whole, name)
        if found is None:
            if not context.excused(name):
                names = [*context.whole.items, *context.whole.cables]
                hint = meant(name, names, none="Write the id of an item or the mark of a cable.")
                message = f"{called(fit)} changes {name!r}, which is not in the record."
                context.remarks.say("unknown-name", fit, message, hint, key=f"change.{name}", unknown=name)
            continue
        for slip in changed(*found, written)[1]:
            path = ".".join(str(part) for part in slip.path)
            message = f"{called(fit)} changes {name!r}, {path}: {slip.message}"
            severity = slip.severity
            key = f"change.{name}.{path}"
            context.remarks.say(
                slip.rule, fit, message, slip.hint, key=key, into=slip.column, severity=severity
            )


def _found(dossier: Dossier, name: str) -> tuple[Thing, str] | None:
    for word in CHANGEABLE:
        thing: Thing | None = getattr(dossier, TABLES[word].attribute).get(name)
        if thing is not None:
            return thing, word
    return None


def _check_removes(context: Context, fit: Fit) -> None:
    removable = {*context.whole.items, *context.whole.cables}
    for number, name in enumerate(fit.removes):
        if name not in removable and not context.excused(name):
            hint = meant(name, removable, none="Write the id of an item or the mark of a cable.")
            message = f"{called(fit)} takes away {name!r}, which is not in the record."
            context.remarks.say("unknown-name", fit, message, hint, key=f"removes.{number}", unknown=name)


def _check_choices(context: Context, known: Mapping[str, Fit]) -> None:
    taken: dict[str, Thing] = {}
    for choice in context.whole.choices.values():
        if len(choice.one_of) < 2:
            hint = "Name at least two fits; 'none' is a fit of its own, with a title."
            context.remarks.warn(
                "choice-of-one", choice, f"{called(choice)} leaves no choice.", hint, key="one-of"
            )
        for number, name in enumerate(choice.one_of):
            key = f"one-of.{number}"
            if name not in known and not context.excused(name):
                hint = meant(name, known, none=f"Add [fit] {name} = {{ title = … }}.")
                message = f"{called(choice)} offers {name!r}, which is no fit."
                context.remarks.say("unknown-fit", choice, message, hint, key=key, unknown=name)
            other = taken.setdefault(name, choice)
            if other is not choice:
                message = f"{called(choice)} and {other.id!r} both offer {name!r}."
                hint = "Put the fit into one choice only."
                context.remarks.say("fit-in-two-choices", choice, message, hint, key=key, also=(other,))


def _check_standard(context: Context, standard: Standard, known: Mapping[str, Fit]) -> None:
    for number, name in enumerate(standard.fits):
        if name not in known:
            if not context.excused(name):
                hint = meant(name, known, none=f"Add [fit] {name} = {{ title = … }}.")
                message = f"{called(standard)} has {name!r}, which is no fit or modification."
                context.remarks.say(
                    "unknown-fit", standard, message, hint, key=f"fits.{number}", unknown=name
                )
            return
    fits = frozenset(standard.fits)
    for choice in context.whole.choices.values():
        had = [f for f in choice.one_of if f in fits]
        if len(had) != 1 and known.keys() >= set(choice.one_of):
            said = f"has {' and '.join(had)}" if had else "has none"
            message = f"{called(standard)} {said} of the choice {choice.id!r}, where exactly one is fitted."
            hint = f"Put one of these into its `fits`: {', '.join(choice.one_of)}."
            context.remarks.say("not-permitted", standard, message, hint, key="fits", also=(choice,))
            return
    whole = all(known.keys() >= set(choice.one_of) for choice in context.whole.choices.values())
    if whole and not is_permitted(context.whole, fits):
        message = f"{called(standard)} has a fit whose own `fit` does not hold with the others."
        context.remarks.say(
            "not-permitted", standard, message, "Mend its `fits`, or the fit's `fit`.", key="fits"
        )
