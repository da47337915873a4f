"""Whether a source's sentence about function holds of the record, over every state that can be reached.

A sentence is judged with its written presumptions (``given``). All levers that it names, and those of the
services whose items ``then`` names, are moved in every way from rest; in every state where ``given and
when`` holds, ``then`` must. Verdicts:

proved
    it holds in all of them;
proved-if
    it holds in all of them that keep to a condition the sentence does not state;
contradicted
    no such condition was found; the shortest sequence of operations that breaks it is given;
never-reached
    no state that can be reached fulfils ``given and when``;
not-computable
    something it speaks of is unknown, or the states are too many;
out-of-scope
    it speaks of what is not fitted in this standard of fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from loomlore.behaviour.bounding import bounds_of
from loomlore.behaviour.explaining import condition_sentence, condition_words, what_is_seen
from loomlore.behaviour.exploring import Exploration, Operation, explored
from loomlore.behaviour.judging import judge_all, move_alone
from loomlore.behaviour.operating import judged
from loomlore.behaviour.presumptions import Requirement, Row, weakest_condition
from loomlore.behaviour.readings import event_words
from loomlore.behaviour.stating import Case, is_function, presumed, ready, refusal
from loomlore.behaviour.wording import operation_words
from loomlore.network.building import Plant
from loomlore.network.settling import Settled
from loomlore.record.model import Statement
from loomlore.sentences import And

__all__ = ["VERDICTS", "Verdict", "is_function", "presumed", "prove"]

VERDICTS = ("proved", "proved-if", "contradicted", "never-reached", "not-computable", "out-of-scope")

MOST_ALTERNATIVES = 3
PREFER_CONTROLS = 0.8
"""A condition on controls is given if it keeps so much of what one with latches would keep."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What became of one statement in one standard of fit.

    ``condition`` are the unstated presumptions in words, for proved-if. ``operations`` is the shortest
    sequence that breaks it, as orders, ``path`` the same in numbers, and ``seen`` what is then seen; for
    proved-if they show the failure outside the condition. ``states`` were reached, in ``reached`` of them
    the sentence applied. ``because`` is the reason where there is no plain verdict.
    """

    statement: str
    verdict: str
    given: str = ""
    condition: str = ""
    condition_sentence: str = ""
    because: str = ""
    operations: tuple[str, ...] = ()
    path: tuple[Operation, ...] = ()
    seen: tuple[str, ...] = ()
    states: int = 0
    reached: int = 0
    fits: tuple[str, ...] = ()


def prove(plant: Plant, statement: Statement) -> Verdict:
    """Judge a statement about function in one standard of fit.

    Parameters
    ----------
    plant
        The installation in that standard of fit.
    statement
        About function.

    Returns
    -------
    Verdict
        One of :data:`VERDICTS`, with its reasons.
    """
    given = presumed(plant, statement)
    refused = refusal(plant, statement, given)
    if refused is not None:
        return Verdict(statement=statement.id, verdict=refused[0], because=refused[1])
    case = ready(plant, statement, given)
    exploration = explored(plant, tuple((n, case.values(n)) for n in case.levers))
    judge_all(case, exploration)
    if not case.held and not case.failed:
        return _nothing_judged(case, exploration)
    move_alone(case, exploration)
    return _verdict(case, exploration)


def _row(case: Case, state: Settled) -> tuple[float, ...]:
    memory = state.memory
    return tuple(
        memory.levers[n] if what == "lever" else float(memory.variables[n]) for what, n in case.features
    )


def _verdict(case: Case, exploration: Exploration) -> Verdict:
    plain = Verdict(
        statement=case.statement.id,
        verdict="proved",
        given="" if case.given is None else str(case.given),
        states=len(exploration.states),
        reached=len(case.held) + len(case.failed) + case.unknown,
        fits=tuple(sorted(case.plant.installation.fits)),
    )
    if not case.failed:
        if case.restless is not None:
            return replace(plain, verdict="not-computable", **_chatters(case))
        if exploration.whole:
            return plain
        because = f"More than {len(exploration.states)} states can be reached; so far it holds."
        return replace(plain, verdict="not-computable", because=because)
    _, _, path, after = min(case.failed, key=lambda f: len(f[2]))
    held = [_row(case, state) for _, state in case.held]
    failed = [_row(case, state) for _, state, _, _ in case.failed]
    found = _conditions(case, held, failed)
    plain = replace(
        plain,
        verdict="contradicted",
        operations=tuple(operation_words(case.plant, operation) for operation in path),
        path=path,
        seen=what_is_seen(case.plant, case.statement, after),
    )
    if not found:
        return plain
    rows = [(number, _row(case, state)) for number, state in case.held]
    bounds = [bounds_of(case, exploration, rows, one) for one in found]
    told = list(zip(found, bounds, strict=True))
    sentences = [condition_sentence(case.plant, case.features, one, case.values, b) for one, b in told]
    return replace(
        plain,
        verdict="proved-if",
        condition=", or if ".join(
            condition_words(case.plant, case.features, one, case.values, b) for one, b in told
        ),
        condition_sentence=sentences[0] if len(found) == 1 else " or ".join(f"({one})" for one in sentences),
    )


def _chatters(case: Case) -> dict[str, Any]:
    """What chatters where the sentence applies, and the operations that lead there."""
    assert case.restless is not None
    path, after = case.restless
    said = [event_words(case.plant, event) for event in after.events if event.what == "chatters"]
    return {
        "because": " ".join(said) + " What it works is neither so nor not so.",
        "operations": tuple(operation_words(case.plant, operation) for operation in path),
        "path": path,
        "seen": what_is_seen(case.plant, case.statement, after),
    }


def _conditions(case: Case, held: Sequence[Row], failed: Sequence[Row]) -> list[Requirement]:
    """The weakest condition, and where it leaves out states in which the sentence held, up to two more."""
    found: list[Requirement] = []
    left = list(held)
    while left and len(found) < MOST_ALTERNATIVES:
        condition = _condition(case, left, failed)
        if condition is None:
            break
        found.append(condition)
        left = [row for row in left if not condition.keeps(row)]
    return found


def _condition(case: Case, held: Sequence[Row], failed: Sequence[Row]) -> Requirement | None:
    """The weakest condition; one on controls alone is preferred to one on what only follows from them."""
    levers = case.plant.network.levers
    ranges = frozenset(
        place for place, (what, n) in enumerate(case.features) if what == "lever" and not levers[n].positions
    )
    of_all = weakest_condition(held, failed, ranges=ranges)
    count = sum(what == "lever" for what, _ in case.features)
    of_levers = weakest_condition(
        [row[:count] for row in held], [row[:count] for row in failed], ranges=ranges
    )
    if of_all is None or of_levers is None:
        return of_all
    kept_rows = [row for row in set(held) if of_levers.keeps(row)]
    return of_levers if len(kept_rows) >= PREFER_CONTROLS * of_all.kept else of_all


def _nothing_judged(case: Case, exploration: Exploration) -> Verdict:
    fits = tuple(sorted(case.plant.installation.fits))
    given = "" if case.given is None else str(case.given)
    because, verdict = "", "not-computable"
    chatter = _chatters(case) if case.restless is not None else {}
    if chatter:
        because = chatter.pop("because")
    elif case.unknown:
        because = "What it speaks of is at no defined potential, or shows nothing, wherever it applies."
    elif not exploration.whole:
        because = (
            f"More than {len(exploration.states)} states can be reached, and in none of them does it apply."
        )
    else:
        because = _never_words(case, exploration)
        verdict = "never-reached"
    return Verdict(
        statement=case.statement.id,
        verdict=verdict,
        given=given,
        because=because,
        states=len(exploration.states),
        fits=fits,
        **chatter,
    )


def _never_words(case: Case, exploration: Exploration) -> str:
    """Which part is never fulfilled: the presumptions, the occasion, or only both together."""
    plant, when = case.plant, case.statement.when
    given = plant.lexicon.condition(case.given)
    if not any(judged(state, given) is True for state in exploration.states):
        return f"Its presumptions are never fulfilled: {case.given}."
    parts = when.parts if isinstance(when, And) else (when,)
    for part in parts:
        if part is None:
            continue
        condition = plant.lexicon.condition(part)
        if not any(judged(state, condition) is True for state in exploration.states):
            return f"No operation makes this so: {part}."
    if case.given is not None and any(
        judged(state, plant.lexicon.condition(when)) is True for state in exploration.states
    ):
        return (
            f"It is presumed that {case.given}, and with that it never applies. Where the sentence means the "
            f'contrary, write given = "" or a given of its own.'
        )
    return f"Its parts are never so together: {when}."
