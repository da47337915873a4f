"""Rules about names: in sentences, settings, citations, feeds, scans, and whatever else names something."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from loomlore.record.equipment import Equipment
from loomlore.record.installation import Installation
from loomlore.record.keys import TABLES
from loomlore.record.model import AIRFRAME, Citation, Dossier, Service, Statement, Step, Thing
from loomlore.record.naming import (
    Reference,
    Unresolved,
    asked_of,
    free_control,
    resolve,
    wrong_unit,
)
from loomlore.record.remarks import called, meant
from loomlore.record.rules.connections import check_end
from loomlore.record.rules.context import Context, split_end
from loomlore.record.settings import control_behind, resolve_setting
from loomlore.sentences import Compare, Holds, Is, Or, Sentence, Test, tests_of

__all__ = [
    "check_bindings",
    "check_citations",
    "check_feed_names",
    "check_sentences",
    "check_settings",
    "check_sights",
]


# ---- sentences -------------------------------------------------------------------------------------------


def check_sentences(context: Context) -> None:
    """Judge every sentence of the dossier that speaks its own names, and of kinds whose controls are bound.

    Parameters
    ----------
    context
        The standard of fit. A test that an earlier standard could place is not judged again.
    """
    for thing, key, sentence in _sentences(context.dossier):
        name = f"{called(thing)} {key}"
        if context.placed.get(name) is sentence:
            continue
        marks = {(name, f"{test} {test.column}"): test for test in tests_of(sentence)}
        for mark, test in marks.items():
            if mark not in context.settled and _check_test(context, thing, key, sentence, test):
                context.settled.add(mark)
        if context.settled.issuperset(marks):
            context.placed[name] = sentence


def _sentences(dossier: Dossier) -> Iterator[tuple[Thing, str, Sentence]]:
    header = Thing(id="", where=dossier.header.where)
    if dossier.header.given is not None:
        yield header, "given", dossier.header.given
    for service in dossier.services.values():
        if service.given is not None:
            yield service, "given", service.given
    for item in dossier.items.values():
        for name, held in item.cams.items():
            yield item, f"cams.{name}", held
    for statement in dossier.statements.values():
        for key in ("given", "when", "then"):
            sentence: Sentence | None = getattr(statement, key)
            if sentence is not None:
                yield statement, key, sentence
        yield from _sights(statement, statement.steps)
    for procedure in dossier.procedures.values():
        yield from _sights(procedure, procedure.steps)


def _sights(thing: Thing, steps: tuple[Step, ...]) -> Iterator[tuple[Thing, str, Sentence]]:
    for number, step in enumerate(steps):
        if step.see is not None:
            yield thing, f"steps.{number}.see", step.see


def _check_test(context: Context, thing: Thing, key: str, sentence: Sentence, test: Test) -> bool:
    """Whether a test needs no further look in other standards; says what is wrong with it."""
    name, sense, words = asked_of(test)
    found = resolve(name, context.installation, sense=sense, words=words)
    if isinstance(found, Unresolved):
        if found.absent_fit:
            return False
        first = name.partition(".")[0]
        if not (found.because or context.excused(first)):
            _say_unresolved(context, thing, key, sentence, test, found)
        return True
    if wrong := wrong_unit(test, found):
        context.remarks.say(
            "wrong-unit", thing, f"{called(thing)}: {wrong[0]}", wrong[1], key=key, into=test.column
        )
    elif isinstance(test, Compare):
        _check_limits(context, thing, key, test, found)
    return True


def _say_unresolved(
    context: Context, thing: Thing, key: str, sentence: Sentence, test: Test, found: Unresolved
) -> None:
    rule, message, hint = found.rule, found.message, found.hint
    if isinstance(test, Holds) and (cure := _one_of(context.installation, sentence, test)):
        rule, message = "is-one-of", f"{test.name!r} stands alone behind 'or'."
        hint = f"Write '{cure}'."
    unknown = asked_of(test)[0].partition(".")[0] if rule == "unknown-name" else ""
    message = f"{called(thing)}: {message}"
    context.remarks.say(rule, thing, message, hint, key=key, into=test.column, unknown=unknown)


def _one_of(installation: Installation, sentence: Sentence, test: Holds) -> str | None:
    """``x is a or b`` that means ``x is one of (a, b)``."""
    for joined in _alternatives(sentence):
        before: Is | None = None
        words: list[str] = []
        for part in joined.parts:
            if isinstance(part, Is):
                before, words = part, list(part.words)
            elif isinstance(part, Holds) and before is not None:
                owner = resolve(before.name, installation, sense="is", words=before.words)
                if isinstance(owner, Reference) and part.name in owner.words:
                    words.append(part.name)
        if before is not None and test.name in words:
            return f"{before.name} is one of ({', '.join(words)})"
    return None


def _alternatives(sentence: Sentence) -> Iterator[Or]:
    if isinstance(sentence, Or):
        yield sentence
    for part in getattr(sentence, "parts", ()) or ((sentence.part,) if hasattr(sentence, "part") else ()):
        yield from _alternatives(part)


def _check_limits(context: Context, thing: Thing, key: str, test: Compare, found: Reference) -> None:
    """A limit beyond the range of what is compared is never, or always, reached."""
    span = _span(context.installation, found)
    if span is None:
        return
    low, high, shown = span
    for _, limit in test.limits:
        if not low <= limit.value <= high:
            message = f"{called(thing)}: {str(test)!r} is never decided: {found.id!r} runs {shown}."
            hint = f"Write a limit within {shown}, or widen the range."
            context.remarks.warn("limit-beyond-range", thing, message, hint, key=key)


def _span(installation: Installation, found: Reference) -> tuple[float, float, str] | None:
    control = control_behind(found, installation)
    if control is None or control.range is None:
        return None
    low, high = control.range
    return low.value, high.value, f"from {low.text} to {high.text}"


# ---- what moves items ------------------------------------------------------------------------------------


def check_bindings(context: Context) -> None:
    """Judge what items are bound to: that it is there, and that its positions or unit fit.

    Parameters
    ----------
    context
        The standard of fit.
    """
    for parts in context.installation.equipment.values():
        for short, target in parts.binds.items():
            if not (short in parts.follows or short in parts.controls) or not context.due(parts.item.id):
                continue
            free = free_control(target, context.installation)
            if free is None:
                _say_no_mover(context, parts.item, short, target)
            elif short in parts.follows:
                _check_follow(context, parts, short, free)
            else:
                wants = parts.controls[short].positions
                if not set(wants) <= set(free.words):
                    has = f"has {', '.join(free.words) or 'a range'}"
                    _say_unlike(
                        context, parts.item, short, target, f"has {', '.join(wants) or 'a range'}", has
                    )


def _check_follow(context: Context, parts: Equipment, short: str, free: Reference) -> None:
    wants, has = parts.follows[short], free.dimension
    if has == wants or {has, wants} == {"", "fraction"} or (free.words and not wants):
        return
    said = f"follows a {wants or 'fraction'}"
    other = f"has the positions {', '.join(free.words)}" if has is None else f"is a {has or 'fraction'}"
    _say_unlike(context, parts.item, short, parts.binds[short], said, other)


def _say_no_mover(context: Context, item: Thing, short: str, target: str) -> None:
    first = target.partition(".")[0]
    if context.excused(first):
        return
    whole = context.whole
    if first in whole.items and first not in context.dossier.items:
        message = f"{called(item)} is moved by {target!r}, which is not fitted in every standard that has it."
        context.remarks.warn("not-fitted", item, message, "Give both the same fit.", key=f"binds.{short}")
        return
    names = [*whole.conditions, *whole.controls]
    hint = meant(target, names, none=f"Add it under [condition] or [control], or mend the name {target!r}.")
    message = f"{called(item)}: its {short!r} is bound to {target!r}, which is no condition or control."
    context.remarks.say("unknown-name", item, message, hint, key=f"binds.{short}", unknown=first)


def _say_unlike(context: Context, item: Thing, short: str, target: str, wants: str, has: str) -> None:
    message = f"{called(item)}: its {short!r} {wants}, but {target!r} {has}."
    hint = "Bind it to one that fits, or give the two the same positions or unit."
    context.remarks.say("unlike-binding", item, message, hint, key=f"binds.{short}")


# ---- settings --------------------------------------------------------------------------------------------


def check_settings(context: Context) -> None:
    """Judge what procedures, statements and phases set, hold and count on.

    Parameters
    ----------
    context
        The standard of fit.
    """
    dossier = context.dossier
    for phase in dossier.phases.values():
        _check_set(context, phase, "settings", phase.settings)
        for service in phase.duty:
            if service not in context.whole.services and not context.excused(service):
                hint = meant(service, context.whole.services, none=f"Add [service.{service}].")
                message = f"{called(phase)} gives the duty of {service!r}, which is no service."
                context.remarks.say(
                    "unknown-service", phase, message, hint, key=f"duty.{service}", unknown=service
                )
    for procedure in dossier.procedures.values():
        _check_set(context, procedure, "start", procedure.start)
        _check_steps(context, procedure, procedure.steps)
    for statement in dossier.statements.values():
        _check_steps(context, statement, statement.steps)


def _check_steps(context: Context, thing: Thing, steps: tuple[Step, ...]) -> None:
    for number, step in enumerate(steps):
        _check_set(context, thing, f"steps.{number}.do", step.do)
        if number and _says_again(context, step, steps[number - 1]):
            message = f"{called(thing)} has the same step twice running."
            hint = "Take one out; where the crew does wait, write the `wait`."
            context.remarks.warn("step-twice", thing, message, hint, key=f"steps.{number}")
        for place, name in enumerate(step.hold):
            found = resolve_setting(name, None, context.installation)
            key = f"steps.{number}.hold.{place}"
            if isinstance(found, Unresolved):
                _say_setting(context, thing, key, found, name)
            elif found.control is None or found.control.springs_to is None:
                message = f"{called(thing)} holds {name!r}, which does not spring back."
                context.remarks.warn("holds-nothing", thing, message, "Take it out of `hold`.", key=key)


def _says_again(context: Context, step: Step, before: Step) -> bool:
    """Whether a step repeats the one before it; a push that springs back may be pressed twice."""
    if not step.do or (step.do, step.see, step.hold, step.wait) != (
        before.do,
        before.see,
        before.hold,
        before.wait,
    ):
        return False
    settings = [resolve_setting(n, v, context.installation) for n, v in step.do.items()]
    springs = any(
        not isinstance(s, Unresolved) and s.control and s.control.springs_to is not None for s in settings
    )
    return step.wait is None and not (springs and not step.hold)


def _check_set(context: Context, thing: Thing, key: str, settings: Mapping[str, str | float]) -> None:
    for name, value in settings.items():
        found = resolve_setting(name, value, context.installation)
        if isinstance(found, Unresolved):
            # The reader keeps a name with a point as one key; places are found for plain names only.
            _say_setting(context, thing, key if "." in name else f"{key}.{name}", found, name)


def _say_setting(context: Context, thing: Thing, key: str, found: Unresolved, name: str) -> None:
    mark = (f"{called(thing)} {key} {name}", found.message)
    if (
        found.absent_fit
        or found.because
        or mark in context.settled
        or context.excused(name.partition(".")[0])
    ):
        return
    context.settled.add(mark)
    unknown = name.partition(".")[0] if found.rule == "unknown-name" else ""
    message = f"{called(thing)}: {found.message}"
    context.remarks.say(found.rule, thing, message, found.hint, key=key, unknown=unknown)


# ---- feeds, scans, measurements --------------------------------------------------------------------------


def check_feed_names(context: Context) -> None:
    """Judge that what a service is fed from is there and not spare.

    Parameters
    ----------
    context
        The standard of fit.
    """
    for service in context.dossier.services.values():
        for number, feed in enumerate(service.feed):
            key = "feed" if len(service.feed) == 1 else f"feed.{number}"
            item, terminal = split_end(feed)
            if not terminal and item in context.installation.equipment:
                continue
            way = context.dossier.ways.get(feed)
            sound = check_end(context, service, feed, key)
            if sound and way is not None and way.spare and feed not in context.cabled:
                _say_spare(context, service, feed, key)


def _say_spare(context: Context, service: Service, feed: str, key: str) -> None:
    message = f"{called(service)} is fed from {feed!r}, which is called spare."
    context.remarks.warn("spare-way-used", service, message, "Take `spare` out, or mend `feed`.", key=key)


def check_sights(context: Context) -> None:
    """Judge what scans show, tracings follow, scales belong to and measurements are of.

    Parameters
    ----------
    context
        The first standard of fit; the whole record is judged.
    """
    whole = context.whole
    drawn = {*whole.items, *whole.cables}
    for scan in whole.scans.values():
        for number, name in enumerate(scan.shows):
            _check_drawn(context, scan, name, f"shows.{number}", drawn)
    for tracing in whole.tracings.values():
        _check_drawn(context, tracing, tracing.of, "of", drawn)
        if tracing.scan not in whole.scans and not context.excused(tracing.scan):
            hint = meant(tracing.scan, whole.scans, none=f"Add [scan] {tracing.scan} = {{ file = … }}.")
            message = f"{called(tracing)} is on {tracing.scan!r}, which is no scan."
            context.remarks.say("unknown-scan", tracing, message, hint, key="scan", unknown=tracing.scan)
    for scale in whole.scales.values():
        if scale.item not in whole.items and not context.excused(scale.item):
            hint = meant(scale.item, whole.items, none=f"Add the item {scale.item!r}.")
            context.remarks.say(
                "unknown-item", scale, f"[scale.{scale.item}] names no item.", hint, unknown=scale.item
            )
    for measurement in whole.measurements.values():
        for number, end in enumerate(measurement.of):
            if end in context.dossier.cables or ":" in end or ("." not in end and end != AIRFRAME):
                continue  # a cable, or a card's line
            check_end(context, measurement, end, f"of.{number}")


def _check_drawn(context: Context, thing: Thing, name: str, key: str, drawn: set[str]) -> None:
    if name and name not in drawn and not context.excused(name):
        hint = meant(name, drawn, none="Write the id of an item, or the mark of a cable.")
        message = f"{called(thing)} shows {name!r}, which is neither item nor cable."
        context.remarks.say("unknown-name", thing, message, hint, key=key, unknown=name)


# ---- citations -------------------------------------------------------------------------------------------


def check_citations(context: Context) -> None:
    """Judge that whatever is cited is a source or a statement, and that copies do not run in a circle.

    Parameters
    ----------
    context
        The first standard of fit; the whole record is judged.
    """
    whole = context.whole
    known = {*whole.sources, *whole.statements}
    for thing, key, citation in _citations(whole):
        if citation.source not in known and not context.excused(citation.source):
            hint = meant(
                citation.source, whole.sources, none=f"Add [source] {citation.source} = {{ title = … }}."
            )
            message = f"{called(thing)} cites {citation.source!r}, which is no source."
            context.remarks.say("unknown-source", thing, message, hint, key=key, unknown=citation.source)
    for source in whole.sources.values():
        copied = source.copied_from
        if copied and copied not in whole.sources and not context.excused(copied):
            hint = meant(copied, whole.sources, none=f"Add [source] {copied} = {{ title = … }}.")
            message = f"{called(source)} is copied from {copied!r}, which is no source."
            context.remarks.say("unknown-source", source, message, hint, key="copied-from", unknown=copied)
        elif copied and _circles(whole, source.id):
            message = f"{called(source)} is copied from itself, by way of {copied!r}."
            context.remarks.say(
                "copied-in-circle", source, message, "Take one `copied-from` out.", key="copied-from"
            )


def _circles(dossier: Dossier, start: str) -> bool:
    seen, name = {start}, dossier.sources[start].copied_from
    while name in dossier.sources and name not in seen:
        seen.add(name)
        name = dossier.sources[name].copied_from
    return name == start


def _citations(dossier: Dossier) -> Iterator[tuple[Thing, str, Citation]]:
    for word, table in TABLES.items():
        if word in ("scan", "tracing", "statement", "decision", "source"):
            continue
        things: Mapping[str, Thing] = getattr(dossier, table.attribute)
        for thing in things.values():
            yield from ((thing, f"sources.{n}", citation) for n, citation in enumerate(thing.sources))
    for scan in dossier.scans.values():
        if scan.source is not None:
            yield scan, "source", scan.source
    for statement in dossier.statements.values():
        yield from _statement_citations(statement)
    for decision in dossier.decisions.values():
        if decision.adopts is not None:
            yield decision, "adopts", decision.adopts
        yield from ((decision, f"weighed.{n}", citation) for n, citation in enumerate(decision.weighed))


def _statement_citations(statement: Statement) -> Iterator[tuple[Thing, str, Citation]]:
    if statement.source is not None:
        yield statement, "source", statement.source
    yield from ((statement, f"sources.{n}", citation) for n, citation in enumerate(statement.sources))
