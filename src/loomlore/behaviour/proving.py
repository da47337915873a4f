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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from loomlore.behaviour.explaining import condition_sentence, condition_words, what_is_seen
from loomlore.behaviour.exploring import (
    Exploration,
    Operation,
    explored,
    lever_values,
    levers_of_conditions,
    levers_of_items,
    settled_once,
)
from loomlore.behaviour.influence import (
    circuits_measured,
    influence_of,
    levers_that_matter,
    supply_items,
)
from loomlore.behaviour.operating import judged, play_steps, read_setting
from loomlore.behaviour.presumptions import Requirement, Row, weakest_condition
from loomlore.behaviour.readings import services_of
from loomlore.behaviour.wording import operation_words
from loomlore.network.building import Plant
from loomlore.network.conditions import AllOf, Condition, LeverCompare, Measured, StateIs, leaves
from loomlore.network.settling import Settled, moved
from loomlore.record.model import Statement
from loomlore.sentences import And, Sentence, conjunction, words_of

__all__ = ["VERDICTS", "Verdict", "is_function", "presumed", "prove"]

VERDICTS = ("proved", "proved-if", "contradicted", "never-reached", "not-computable", "out-of-scope")

MOST_COMBINATIONS = 300
MOST_ALTERNATIVES = 3
PREFER_CONTROLS = 0.8
"""A condition on controls is given if it keeps so much of what one with latches would keep."""

TRIED_ALONE = 3
TRIED_FAILED = 12
"""Every other control is moved alone in so many of the states where a sentence holds, or, where it never
does, in so many of those."""


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


def is_function(statement: Statement) -> bool:
    """Whether a statement is about function (and not about a property).

    Parameters
    ----------
    statement
        Any.

    Returns
    -------
    bool
        True where something is to be seen.
    """
    return statement.then is not None or bool(statement.steps)


def presumed(plant: Plant, statement: Statement) -> Sentence | None:
    """What a statement is read with: its own ``given``, else the dossier's and its services' standing ones.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function.

    Returns
    -------
    Sentence or None
        None where nothing is presumed.
    """
    if statement.given_none:
        return None
    if statement.given is not None:
        return statement.given
    dossier = plant.installation.dossier
    services = _services(plant, _items_named(plant, (statement.then, *(s.see for s in statement.steps))))
    return conjunction(dossier.header.given, *(dossier.services[s].given for s in services))


def _items_named(plant: Plant, sentences: Iterable[Sentence | None]) -> tuple[str, ...]:
    """Items that sentences speak of."""
    found: dict[str, None] = {}
    for sentence in sentences:
        for name in words_of(sentence) if sentence is not None else ():
            for candidate in (name, name.partition(".")[0]):
                if candidate in plant.installation.equipment:
                    found.setdefault(candidate)
    return tuple(found)


def _services(plant: Plant, items: Sequence[str]) -> tuple[str, ...]:
    by_item = services_of(plant.installation)
    return tuple(dict.fromkeys(s for item in items for s in by_item.get(item, ())))


@dataclass(kw_only=True)
class _Case:
    """A statement made ready: its conditions, levers, and what it leaves unsaid."""

    plant: Plant
    statement: Statement
    given: Sentence | None
    before: Condition
    then: Condition
    named: set[int]
    stated: set[int]
    levers: tuple[int, ...]
    alone: tuple[int, ...]
    cuts: Mapping[int, tuple[float, ...]]
    one_way: tuple[int, ...]
    features: tuple[tuple[str, int], ...] = ()
    held: list[tuple[int, Settled]] = field(default_factory=list)
    failed: list[tuple[int, Settled, tuple[Operation, ...], Settled]] = field(default_factory=list)
    unknown: int = 0

    def values(self, lever: int) -> tuple[float, ...]:
        """The values of a lever that can make a difference to this statement."""
        return lever_values(self.plant, lever, thresholds=self.cuts.get(lever))


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
    refusal = _refusal(plant, statement, given)
    if refusal is not None:
        return refusal
    case = _ready(plant, statement, given)
    exploration = explored(plant, tuple((n, case.values(n)) for n in case.levers))
    _judge_all(case, exploration)
    if not case.held and not case.failed:
        return _nothing_judged(case, exploration)
    _move_alone(case, exploration)
    return _verdict(case, exploration)


def _sentences(statement: Statement, given: Sentence | None) -> tuple[Sentence | None, ...]:
    return (given, statement.when, statement.then, *(step.see for step in statement.steps))


def _refusal(plant: Plant, statement: Statement, given: Sentence | None) -> Verdict | None:
    """Out of scope or not computable where a name stands for nothing here."""
    doubts = []
    for sentence in _sentences(statement, given):
        if sentence is None:
            continue
        plant.lexicon.condition(sentence)
        doubts += [plant.lexicon.doubts[name] for name in words_of(sentence) if name in plant.lexicon.doubts]
    written = f"statement {statement.id}"
    for step in statement.steps:
        _, findings = read_setting(plant, step.do, place=step.where, subject=written)
        if findings and not any(d.not_fitted for d in doubts):
            missing = _not_fitted_name(plant, step.do)
            verdict = "out-of-scope" if missing else "not-computable"
            return Verdict(statement=statement.id, verdict=verdict, because=findings[0].message)
    for doubt in doubts:
        if doubt.not_fitted:
            because = f"{doubt.name} is not fitted in this standard of fit."
            return Verdict(statement=statement.id, verdict="out-of-scope", because=because)
    if doubts:
        because = f"{doubts[0].message} {doubts[0].hint}"
        return Verdict(statement=statement.id, verdict="not-computable", because=because)
    return None


def _not_fitted_name(plant: Plant, names: Iterable[str]) -> bool:
    whole, fitted = plant.installation.whole, plant.installation.dossier
    for name in names:
        for table in ("items", "controls", "conditions"):
            first = name.partition(".")[0]
            if first in getattr(whole, table) and first not in getattr(fitted, table):
                return True
    return False


def _ready(plant: Plant, statement: Statement, given: Sentence | None) -> _Case:
    lexicon = plant.lexicon
    sentences = _sentences(statement, given)
    named = levers_of_conditions(plant, [lexicon.condition(s) for s in sentences if s is not None])
    stated = levers_of_conditions(plant, [lexicon.condition(given), lexicon.condition(statement.when)])
    for step in statement.steps:
        named |= set(read_setting(plant, step.do)[0].levers)
    looked_at = [statement.then, *(step.see for step in statement.steps)]
    conditions = [lexicon.condition(s) for s in looked_at if s is not None]
    wider = {n for n in levers_that_matter(plant, (), conditions) - named if not _is_joint(plant, n)}
    cuts = _cuts(plant, sentences)
    levers, left = _within_limit(plant, named, wider, cuts)
    cone_items = _items_around(plant, conditions)
    others = levers_of_items(plant, [*supply_items(plant), *_of_services(plant, looked_at)])
    others = (others | set(left)) - set(levers)
    of_supply = levers_of_items(plant, list(supply_items(plant)))
    alone = {
        n for n in others if not _is_joint(plant, n) and (n in of_supply or not plant.network.levers[n].world)
    }
    before = AllOf((lexicon.condition(given), lexicon.condition(statement.when)))
    case = _Case(
        plant=plant,
        statement=statement,
        given=given,
        before=before,
        then=lexicon.condition(statement.then),
        named=named,
        stated=stated,
        levers=tuple(levers),
        alone=tuple(sorted(alone)),
        cuts=cuts,
        one_way=_one_way(plant, (lexicon.condition(given), lexicon.condition(statement.when))),
    )
    case.features = _features(case, cone_items)
    return case


def _is_joint(plant: Plant, lever: int) -> bool:
    return plant.network.levers[lever].positions == ("in", "parted")


def _of_services(plant: Plant, sentences: Sequence[Sentence | None]) -> list[str]:
    """Items of the services whose items the sentences speak of."""
    services = set(_services(plant, _items_named(plant, sentences)))
    return [item for item, of in services_of(plant.installation).items() if services & set(of)]


def _items_around(plant: Plant, conditions: Sequence[Condition]) -> list[str]:
    """Items in the circuits that conditions look at: whose latches and fuses a sentence may leave unsaid."""
    influence = influence_of(plant)
    circuits = {c for condition in conditions for leaf in leaves(condition) for c in _circuits(plant, leaf)}
    branches = [plant.network.branches[n] for c in circuits for n in influence.branches[c]]
    return list(dict.fromkeys(branch.item for branch in branches if branch.item))


def _circuits(plant: Plant, leaf: Condition) -> list[int]:
    if isinstance(leaf, StateIs):
        branch = plant.network.variables[leaf.variable].branch
        return [influence_of(plant).circuit_of[branch]] if branch >= 0 else []
    return circuits_measured(plant, leaf) if isinstance(leaf, Measured) else []


def _cuts(plant: Plant, sentences: Sequence[Sentence | None]) -> Mapping[int, tuple[float, ...]]:
    """Where each range is cut: where the installation itself changes, and where this statement's sentences do."""
    cuts = {n: set(lever.wired) for n, lever in enumerate(plant.network.levers) if not lever.positions}
    for sentence in sentences:
        for leaf in leaves(plant.lexicon.condition(sentence)) if sentence is not None else ():
            if isinstance(leaf, LeverCompare):
                cuts[leaf.lever] |= {limit for _, limit in leaf.limits}
    return {n: tuple(sorted(found)) for n, found in cuts.items()}


def _within_limit(
    plant: Plant, named: set[int], wider: set[int], cuts: Mapping[int, tuple[float, ...]]
) -> tuple[list[int], list[int]]:
    """As many levers as the limit lets be combined, the named ones first, then those with fewest values."""
    levers, left, product = sorted(named), [], 1
    for lever in levers:
        product *= len(lever_values(plant, lever, thresholds=cuts.get(lever)))
    counts = {n: len(lever_values(plant, n, thresholds=cuts.get(n))) for n in wider}
    for lever in sorted(wider, key=lambda n: (counts[n], n)):
        count = counts[lever]
        if product * count <= MOST_COMBINATIONS:
            product *= count
            levers.append(lever)
        else:
            left.append(lever)
    return sorted(levers), left


def _one_way(plant: Plant, stated: Sequence[Condition]) -> tuple[int, ...]:
    """Fuses and cartridges that the sentence says nothing about beforehand."""
    spoken = {leaf.variable for c in stated for leaf in leaves(c) if isinstance(leaf, StateIs)}
    spoken |= {
        plant.network.branches[leaf.a].memory
        for c in stated
        for leaf in leaves(c)
        if isinstance(leaf, Measured) and leaf.of == "state"
    }
    variables = enumerate(plant.network.variables)
    return tuple(n for n, v in variables if v.what in ("blown", "fired") and n not in spoken)


def _features(case: _Case, items: Sequence[str]) -> tuple[tuple[str, int], ...]:
    """What the sentence leaves unsaid: levers it does not name, latches and fuses of its items."""
    plant = case.plant
    levers = [("lever", n) for n in (*case.levers, *case.alone) if n not in case.named]
    spoken = {
        leaf.variable
        for s in _sentences(case.statement, case.given)
        if s is not None
        for leaf in leaves(plant.lexicon.condition(s))
        if isinstance(leaf, StateIs)
    }
    wanted = set(items)
    memories = [
        ("variable", n)
        for n, variable in enumerate(plant.network.variables)
        if variable.what == "latch" and variable.name.rpartition(".")[0] in wanted and n not in spoken
    ]
    return (*levers, *memories)


def _judge_all(case: _Case, exploration: Exploration) -> None:
    for number, state in enumerate(exploration.states):
        if judged(state, case.before) is not True or not _hands_off(case, state):
            continue
        if _spent(case, state) and number not in exploration.fresh:
            continue
        result, after, operations = _outcome(case, state)
        if result is True:
            case.held.append((number, state))
        elif result is False:
            case.failed.append((number, state, (*exploration.path(number), *operations), after))
        else:
            case.unknown += 1


def _outcome(case: _Case, state: Settled) -> tuple[bool | None, Settled, tuple[Operation, ...]]:
    """Whether the sentence holds from a state; how things then stand, and the steps played to get there."""
    if not case.statement.steps:
        return judged(state, case.then), state, ()
    played, _ = play_steps(case.plant, case.statement.steps, state)
    operations: list[Operation] = []
    unknown = False
    for step in played:
        moves = read_setting(case.plant, step.step.do)[0]
        operations += [Operation(lever, value) for lever, value in moves.levers.items()]
        if step.seen is False:
            return False, step.at, tuple(operations)
        unknown = unknown or step.unknown
        if step.step.wait is not None:
            operations.append(Operation(-1, step.step.wait))
    last = played[-1].after
    value = judged(last, case.then) if case.statement.then is not None else True
    return (None if unknown and value else value), last, tuple(operations)


def _hands_off(case: _Case, state: Settled) -> bool:
    """A sequence begins with nobody holding what springs back, unless the sentence says so."""
    if not case.statement.steps:
        return True
    levers = state.memory.levers
    return all(
        levers[number] == lever.springs_to
        for number, lever in enumerate(case.plant.network.levers)
        if lever.springs_to is not None and number not in case.stated
    )


def _spent(case: _Case, state: Settled) -> bool:
    """Whether a fuse has blown or a cartridge has fired: a sentence presumes that none has gone before."""
    return any(state.memory.variables[n] for n in case.one_way)


def _move_alone(case: _Case, exploration: Exploration) -> None:
    """Move every other control alone, in a few states: one may break what held, or make hold what never did."""
    if case.failed and case.held:
        return
    states = _spread(case.held, TRIED_ALONE) or [(number, state) for number, state, _, _ in case.failed]
    for number, state in _spread(states, TRIED_FAILED):
        for lever in case.alone:
            for value in case.values(lever):
                if value != state.memory.levers[lever]:
                    _try_alone(case, exploration, number, Operation(lever, value))


def _try_alone(case: _Case, exploration: Exploration, number: int, operation: Operation) -> None:
    state = exploration.states[number]
    there = settled_once(case.plant, moved(state.memory, {operation.lever: operation.value}), state)
    if judged(there, case.before) is not True:
        return
    result, after, operations = _outcome(case, there)
    if result is False:
        path = (*exploration.path(number), operation, *operations)
        case.failed.append((number, there, path, after))
    elif result is True:
        case.held.append((number, there))


def _spread(held: Sequence[tuple[int, Settled]], count: int) -> list[tuple[int, Settled]]:
    if len(held) <= count:
        return list(held)
    return [held[(len(held) - 1) * n // (count - 1)] for n in range(count)]


def _row(case: _Case, state: Settled) -> tuple[float, ...]:
    memory = state.memory
    return tuple(
        memory.levers[n] if what == "lever" else float(memory.variables[n]) for what, n in case.features
    )


def _verdict(case: _Case, exploration: Exploration) -> Verdict:
    plain = Verdict(
        statement=case.statement.id,
        verdict="proved",
        given="" if case.given is None else str(case.given),
        states=len(exploration.states),
        reached=len(case.held) + len(case.failed) + case.unknown,
        fits=tuple(sorted(case.plant.installation.fits)),
    )
    if not case.failed:
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
    sentences = [condition_sentence(case.plant, case.features, one, case.values) for one in found]
    return replace(
        plain,
        verdict="proved-if",
        condition=", or if ".join(
            condition_words(case.plant, case.features, one, case.values) for one in found
        ),
        condition_sentence=sentences[0] if len(found) == 1 else " or ".join(f"({one})" for one in sentences),
    )


def _conditions(case: _Case, held: Sequence[Row], failed: Sequence[Row]) -> list[Requirement]:
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


def _condition(case: _Case, held: Sequence[Row], failed: Sequence[Row]) -> Requirement | None:
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


def _nothing_judged(case: _Case, exploration: Exploration) -> Verdict:
    fits = tuple(sorted(case.plant.installation.fits))
    given = "" if case.given is None else str(case.given)
    if case.unknown:
        because = "What it speaks of is at no defined potential, or shows nothing, wherever it applies."
        verdict = "not-computable"
    elif not exploration.whole:
        because = (
            f"More than {len(exploration.states)} states can be reached, and in none of them does it apply."
        )
        verdict = "not-computable"
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
    )


def _never_words(case: _Case, exploration: Exploration) -> str:
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
