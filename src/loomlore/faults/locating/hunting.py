"""One hunt for a fault: what was seen, what was checked and found, and from it what is left and what to do next.

A hunt is a value. Every answer makes a new one; it is written as text, read again next morning, and any answer in
it may be put right or taken back. Nothing that follows from the answers is stored.

How an answer counts: a suspect that foretold it keeps its weight, one that did not keeps ``noise`` of it, shared
over the other outcomes. A reading in volts counts by its distance from what each suspect foretold.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loomlore.faults.locating.searching import WELL, Check, Search
from loomlore.faults.locating.sequencing import Chart, Trial, alike_groups, charted, next_trial
from loomlore.findings import UnknownName, UnreadableValue, nearest

__all__ = [
    "Answer",
    "Hunt",
    "Pattern",
    "Ranked",
    "answered",
    "contradictions",
    "corrected",
    "explains_all",
    "final_set",
    "hunt_from_data",
    "next_check",
    "patterns_of",
    "probabilities",
    "ranked",
    "seen_again",
    "standing",
    "symptom_answers",
]

SURE = 0.99
"""The suspects left are enough when together they have this probability."""

MISTAKEN = 0.05
"""Chance that a report of the crew is mistaken, where no other is given: judgement, no source."""

NEVER = 1e-6
"""What an impossible answer leaves of a suspect, so that one slip of the pen does not end a hunt."""

MOST_TIMES = 4
"""How often one check may be made again while readings are doubtful."""

WORTH = 1e-3
"""Suspects with less than this share of the likeliest one's weight do not steer the next check."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What one check gave: the outcome in words, or a reading in volts or ohms. ``note`` is the fitter's own.

    ``doubt`` is the chance that it is mistaken, where it is another than that of the hunt's checks [1].
    """

    check: str
    outcome: str = ""
    volts: float | None = None
    note: str = ""
    ohms: float | None = None
    doubt: float | None = None


@dataclass(frozen=True, kw_only=True)
class Hunt:
    """A hunt as it is stored. ``seen`` are answers to looking, from the crew's report; ``answers`` come after.

    ``mistaken`` is the chance that a report is of another thing, word or moment than it was: :data:`MISTAKEN`.
    """

    services: tuple[str, ...] = ()
    standard: str = ""
    setting: Mapping[str, str] = field(default_factory=dict)
    seen: tuple[str, ...] = ()
    answers: tuple[Answer, ...] = ()
    noise: float = 0.02
    after_rebuild: bool = True
    way_in: Mapping[str, float] = field(default_factory=dict)
    mistaken: float = MISTAKEN

    def as_data(self) -> dict[str, Any]:
        """As plain data, to be written as text."""
        return {
            "hunt": {
                "services": list(self.services),
                "standard": self.standard,
                "seen": list(self.seen),
                "noise": self.noise,
                "mistaken": self.mistaken,
                "after-rebuild": self.after_rebuild,
                "setting": dict(self.setting),
                "way-in": dict(self.way_in),
            },
            "answer": [
                {"check": a.check} | _found_data(a) | ({"note": a.note} if a.note else {})
                for a in self.answers
            ],
        }


def _found_data(answer: Answer) -> dict[str, Any]:
    if answer.volts is not None:
        return {"volts": answer.volts}
    return {"ohms": answer.ohms} if answer.ohms is not None else {"outcome": answer.outcome}


def hunt_from_data(data: Mapping[str, Any]) -> Hunt:
    """Read a stored hunt.

    Parameters
    ----------
    data
        As :meth:`Hunt.as_data` gave it.

    Returns
    -------
    Hunt
        To go on with.

    Raises
    ------
    UnreadableValue
        Where something in it is no hunt.
    """
    head = data.get("hunt")
    if not isinstance(head, Mapping):
        raise UnreadableValue("there is no [hunt] in this text", "Begin it with [hunt].")
    entries = data.get("answer", [])
    if not isinstance(entries, list):
        raise UnreadableValue("answer is no list", "Write [[answer]] above each answer.")
    return Hunt(
        services=_words(head, "services"),
        standard=str(head.get("standard", "")),
        setting={str(k): str(v) for k, v in _pairs(head, "setting").items()},
        seen=_words(head, "seen"),
        answers=tuple(_found_again(entry) for entry in entries),
        noise=_figure(head, "noise", 0.02, most=0.4),
        after_rebuild=bool(head.get("after-rebuild", True)),
        way_in={str(k): _figure(_pairs(head, "way-in"), k, 0.0, most=1e6) for k in _pairs(head, "way-in")},
        mistaken=_figure(head, "mistaken", MISTAKEN, most=0.5),
    )


def _words(head: Mapping[str, Any], key: str) -> tuple[str, ...]:
    given = head.get(key, [])
    if not isinstance(given, list) or not all(isinstance(word, str) for word in given):
        raise UnreadableValue(f"{key} is no list of words", f'Write {key} = ["...", "..."].')
    return tuple(given)


def _pairs(head: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    given = head.get(key, {})
    if not isinstance(given, Mapping):
        raise UnreadableValue(
            f"{key} holds no names with values", f"Write [hunt.{key}], and below it one a line."
        )
    return given


def _figure(head: Mapping[str, Any], key: str, usual: float, *, most: float = math.inf) -> float:
    given = head.get(key, usual)
    if isinstance(given, bool) or not isinstance(given, int | float) or not 0.0 <= given <= most:
        top = "" if math.isinf(most) else f" to {most:g}"
        raise UnreadableValue(f"{key} = {given} is no figure for it", f"Write a number from 0{top}.")
    return float(given)


def _found_again(entry: Any) -> Answer:
    if (
        not isinstance(entry, Mapping)
        or "check" not in entry
        or not {"outcome", "volts", "ohms"} & set(entry)
    ):
        raise UnreadableValue(
            "an answer has no check, or nothing found",
            'Write check = "..." and outcome = "..." or volts = 24.1 or ohms = 3.2.',
        )
    figures: list[float | None] = []
    for key in ("volts", "ohms"):
        given = entry.get(key)
        if given is not None and (
            isinstance(given, bool) or not isinstance(given, int | float) or not math.isfinite(given)
        ):
            raise UnreadableValue(f"{key} = {given} is no figure", f"Write {key} = 24.1, without a unit.")
        figures.append(None if given is None else float(given))
    return Answer(
        str(entry["check"]), str(entry.get("outcome", "")), figures[0], str(entry.get("note", "")), figures[1]
    )


def answered(hunt: Hunt, answer: Answer) -> Hunt:
    """Add an answer.

    Parameters
    ----------
    hunt
        So far.
    answer
        What a check gave.

    Returns
    -------
    Hunt
        A new one.
    """
    return replace(hunt, answers=(*hunt.answers, answer))


def corrected(hunt: Hunt, number: int, answer: Answer | None) -> Hunt:
    """Put an answer right, or take it back.

    Parameters
    ----------
    hunt
        So far.
    number
        Which answer, counted from 1.
    answer
        What it should have been; None takes it back.

    Returns
    -------
    Hunt
        A new one.

    Raises
    ------
    UnreadableValue
        Where there is no such answer.
    """
    if not 1 <= number <= len(hunt.answers):
        raise UnreadableValue(
            f"there is no answer {number}", _numbered("Answers", len(hunt.answers), "--found OUTCOME")
        )
    answers = list(hunt.answers)
    answers[number - 1 : number] = [] if answer is None else [answer]
    return replace(hunt, answers=tuple(answers))


def _numbered(what: str, count: int, how: str) -> str:
    return f"{what} are numbered from 1 to {count}." if count else f"There is none yet; give one with {how}."


def seen_again(hunt: Hunt, number: int, said: str) -> Hunt:
    """Put a report of the crew right, or take it back.

    Parameters
    ----------
    hunt
        So far.
    number
        Which report, counted from 1.
    said
        ``NAME=WORD`` as it should have been; "" takes it back.

    Returns
    -------
    Hunt
        A new one.

    Raises
    ------
    UnreadableValue
        Where there is no such report.
    """
    if not 1 <= number <= len(hunt.seen):
        raise UnreadableValue(
            f"there is no report {number}", _numbered("Reports", len(hunt.seen), "--seen NAME=WORD")
        )
    seen = list(hunt.seen)
    seen[number - 1 : number] = [said] if said else []
    return replace(hunt, seen=tuple(dict.fromkeys(seen)))


# -- what the answers leave --------------------------------------------------------------------------------------


def probabilities(search: Search, answers: Sequence[Answer], *, noise: float) -> NDArray[np.float64]:
    """Probability of each suspect after some answers.

    Parameters
    ----------
    search
        The table.
    answers
        What was found.
    noise
        Chance that an answer is wrong [1].

    Returns
    -------
    array
        By suspect, adding up to one [1].

    Raises
    ------
    UnknownName
        Where an answer is to no check of the table.
    UnreadableValue
        Where an outcome is none of the check's.
    """
    weights = search.weights.astype(np.float64).copy()
    for answer in answers:
        weights = weights * _likelihood(search, answer, noise)
        total = weights.sum()
        weights = weights / total if total > 0 else search.weights
    return weights


def _likelihood(search: Search, answer: Answer, noise: float) -> NDArray[np.float64]:
    number = search.number_of.get(answer.check)
    if number is None:
        raise UnknownName("check", answer.check, search.number_of)
    check = search.checks[number]
    least = max(noise if answer.doubt is None else answer.doubt, NEVER)
    if answer.volts is not None and check.volts:
        spread = max(0.15, 0.02 * search.plant.network.supply)
        off = (search.readings[number] - answer.volts) / spread
        found: NDArray[np.float64] = (1 - least) * np.exp(-0.5 * off * off) + least * 0.1
        return found
    outcome = outcome_number(check, answer)
    others = max(1, len(check.outcomes) - 1)
    return np.where(search.table[number] == outcome, 1 - least, least / others)


def outcome_number(check: Check, answer: Answer) -> int:
    """Which of a check's outcomes an answer is.

    Parameters
    ----------
    check
        Any.
    answer
        An outcome in words (its first words are enough), or volts.

    Returns
    -------
    int
        For volts and ohms the nearest band.

    Raises
    ------
    UnreadableValue
        Where it is none of them.
    """
    if answer.volts is not None and not check.volts:
        raise UnreadableValue(
            "this check has no figure for an outcome", f"Write one of: {'; '.join(check.outcomes)}."
        )
    if answer.volts is not None:
        return min(range(len(check.volts)), key=lambda n: abs(check.volts[n] - float(answer.volts or 0.0)))
    if answer.ohms is not None and check.ohms:
        return _nearest_band(check.ohms, answer.ohms)
    said = answer.outcome.strip().lower()
    exact = [n for n, words in enumerate(check.outcomes) if words.lower() == said]
    close = exact or [n for n, words in enumerate(check.outcomes) if said and words.lower().startswith(said)]
    if not close and said in (WELL, "well", "right", "ok"):
        close = [n for n, words in enumerate(check.outcomes) if words.endswith(WELL)]
    if len(close) != 1:
        meant = nearest(answer.outcome, check.outcomes)
        raise UnreadableValue(
            f"{answer.outcome!r} is no outcome of this check",
            f"Write {meant!r}." if meant else f"Write one of: {'; '.join(check.outcomes)}.",
        )
    return close[0]


def _nearest_band(bands: Sequence[tuple[float, float]], ohms: float) -> int:
    """By the ratio in which a reading lies outside a band; open is a reading over all bands."""

    def off(number: int) -> float:
        low, high = bands[number]
        if low <= ohms <= high:
            return 0.0
        near = low if ohms < low else high
        return (
            abs(math.log(max(ohms, 1e-3) / max(near, 1e-3)))
            if math.isfinite(near) and math.isfinite(ohms)
            else 9.0
        )

    return min(range(len(bands)), key=off)


def standing(search: Search, answers: Sequence[Answer], *, noise: float) -> float:
    """How well the suspects together foretold some answers: their weight times what each answer leaves of it.

    Parameters
    ----------
    search
        The table.
    answers
        What was found.
    noise
        Chance that an answer is wrong [1].

    Returns
    -------
    float
        To be set beside what chance alone would give [1].
    """
    weights = search.weights.astype(np.float64).copy()
    for answer in answers:
        weights = weights * _likelihood(search, answer, noise)
    return float(weights.sum())


def explains_all(search: Search, answers: Sequence[Answer]) -> bool:
    """Whether some one suspect foretold every answer.

    Parameters
    ----------
    search
        The table.
    answers
        What was found and reported.

    Returns
    -------
    bool
        True where there are no answers.
    """
    fits = np.ones(len(search.faults), dtype=bool)
    for answer in answers:
        fits &= _likelihood(search, replace(answer, doubt=None), 0.0) > FORETOLD
    return bool(fits.any())


FORETOLD = 0.01
"""A suspect foretold an answer of which no less than this is left to it."""


def contradictions(search: Search, answers: Sequence[Answer]) -> tuple[int, ...]:
    """Answers that stand against all the others: without that one, some single fault explains everything.

    Parameters
    ----------
    search
        The table.
    answers
        What was found.

    Returns
    -------
    tuple of int
        Numbers counted from 1; empty where nothing contradicts, or no one answer alone is to blame.
    """
    fits = np.array([_likelihood(search, replace(a, doubt=None), 0.0) > FORETOLD for a in answers]).reshape(
        len(answers), len(search.faults)
    )
    if not len(answers) or fits.all(axis=0).any():
        return ()
    return tuple(n + 1 for n in range(len(answers)) if np.delete(fits, n, axis=0).all(axis=0).any())


@dataclass(frozen=True, slots=True)
class Ranked:
    """Suspects that no check tells apart, with their probability together."""

    faults: tuple[int, ...]
    probability: float


def ranked(search: Search, weights: NDArray[np.float64]) -> tuple[Ranked, ...]:
    """Groups of suspects, the likeliest first.

    Parameters
    ----------
    search
        The table.
    weights
        From :func:`probabilities` [1].

    Returns
    -------
    tuple of Ranked
        Suspects that nothing tells apart are together.
    """
    groups = alike_groups(search.trials(), range(len(search.faults)))
    found = [
        Ranked(tuple(sorted(g, key=lambda n: (-weights[n], n))), float(weights[list(g)].sum()))
        for g in groups
    ]
    return tuple(sorted(found, key=lambda r: (-r.probability, r.faults)))


def final_set(search: Search, weights: NDArray[np.float64], *, sure: float = SURE) -> tuple[int, ...]:
    """The fewest groups of suspects that together are sure.

    Parameters
    ----------
    search
        The table.
    weights
        From :func:`probabilities` [1].
    sure
        Probability that is enough [1].

    Returns
    -------
    tuple of int
        Suspects by number.
    """
    found: list[int] = []
    total = 0.0
    for group in ranked(search, weights):
        found += group.faults
        total += group.probability
        if total >= sure:
            break
    return tuple(found)


def next_check(
    search: Search,
    weights: NDArray[np.float64],
    answers: Sequence[Answer] = (),
    *,
    noise: float = 0.0,
    sure: float = SURE,
) -> int | None:
    """The check that tells most for its minutes, looking ahead.

    Parameters
    ----------
    search
        The table.
    weights
        From :func:`probabilities` [1].
    answers
        What has been checked already.
    noise
        Chance that an answer is wrong [1]; with none a check is never made twice.
    sure
        Probability at which to stop [1].

    Returns
    -------
    int or None
        Number of the check; None when the hunt is over.
    """
    best = ranked(search, weights)
    if not best or best[0].probability >= sure:
        return None
    floor = WORTH * best[0].probability
    members = [n for group in best if group.probability > floor for n in group.faults]
    times: dict[str, int] = {}
    for answer in answers:
        times[answer.check] = times.get(answer.check, 0) + 1
    most = MOST_TIMES if noise > 0 else 1
    allowed = [n for n, check in enumerate(search.checks) if times.get(check.id, 0) < most]
    last = search.number_of.get(answers[-1].check, -1) if answers else -1
    trials, shares = search.trials(), [float(w) for w in weights]
    # nobody makes the same check twice running while another would tell as much
    for some in ([n for n in allowed if n != last], allowed):
        chosen = next_trial(shares, [trials[n] for n in some], faults=members, most=8)
        if chosen is not None:
            return some[chosen]
    return None


# -- symptoms, and the charts of a service -------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class Pattern:
    """What is seen in all situations together, the suspects that show just that, and the chart from there.

    ``symptoms`` are (check, outcome) by number, only of what is not as it should be.
    """

    symptoms: tuple[tuple[int, int], ...]
    faults: tuple[int, ...]
    probability: float
    chart: Chart | None = None


def patterns_of(search: Search, *, seconds: float = 0.0, draw: bool = True) -> tuple[Pattern, ...]:
    """Everything that can be seen, each with its suspects and its chart.

    Parameters
    ----------
    search
        The table.
    seconds
        For each chart's exact search [s].
    draw
        Whether charts are wanted.

    Returns
    -------
    tuple of Pattern
        Likeliest first; suspects that show nothing anywhere have no symptoms, and come last.
    """
    looks = [n for n, check in enumerate(search.checks) if check.what == "see"]
    found: dict[tuple[int, ...], list[int]] = {}
    for fault in range(len(search.faults)):
        found.setdefault(tuple(int(search.table[n, fault]) for n in looks), []).append(fault)
    made = []
    for shape, members in found.items():
        symptoms = tuple(
            (n, o)
            for n, o in zip(looks, shape, strict=True)
            if not search.checks[n].outcomes[o].endswith(WELL)
        )
        chart = _chart_of(search, members, seconds) if draw and symptoms else None
        made.append(
            Pattern(
                symptoms=symptoms,
                faults=tuple(members),
                probability=float(search.weights[members].sum()),
                chart=chart,
            )
        )
    return tuple(sorted(made, key=lambda p: (not p.symptoms, -p.probability)))


def _chart_of(search: Search, members: Sequence[int], seconds: float) -> Chart:
    trials: list[Trial] = list(search.trials())
    weights = [float(w) for w in search.weights]
    few = len(alike_groups(trials, members)) <= EXACT_TO
    return charted(weights, trials, faults=members, seconds=seconds if few else min(seconds, 0.5))


EXACT_TO = 24
"""Groups up to which a proof that a chart is the best is tried in earnest."""


def symptom_answers(search: Search, fault: int, situation: str = "") -> tuple[Answer, ...]:
    """What the crew would report of a fault: everything that is otherwise, in one situation or in all.

    Parameters
    ----------
    search
        The table.
    fault
        Number of the suspect.
    situation
        Only there; everywhere where empty.

    Returns
    -------
    tuple of Answer
        With what is as it should be left out.
    """
    found = []
    for number, check in enumerate(search.checks):
        if check.what == "see" and (not situation or check.situation == situation):
            words = check.outcomes[int(search.table[number, fault])]
            if not words.endswith(WELL):
                found.append(Answer(check.id, words))
    return tuple(found)
