"""A statement judged state by state: played where it applies, and with the other controls moved alone."""

from __future__ import annotations

from collections.abc import Sequence

from loomlore.behaviour.exploring import Exploration, Operation, settled_once
from loomlore.behaviour.operating import judged, play_steps, read_setting
from loomlore.behaviour.stating import Case, sagging
from loomlore.network.settling import Settled, moved

__all__ = ["applies", "judge_all", "move_alone", "outcome"]

TRIED_ALONE = 3
TRIED_FAILED = 12
"""Every other control is moved alone in so many of the states where a sentence holds, or, where it never
does, in so many of those."""


def judge_all(case: Case, exploration: Exploration) -> None:
    """Judge every state in which the sentence applies, and keep where it held and where it failed.

    Parameters
    ----------
    case
        The sentence made ready; takes what is found.
    exploration
        The states that its levers reach.
    """
    for number, state in enumerate(exploration.states):
        if not applies(case, state, fresh=number in exploration.fresh):
            continue
        result, after, operations = outcome(case, state)
        if result is True:
            case.held.append((number, state))
        elif result is False:
            case.failed.append((number, state, (*exploration.path(number), *operations), after))
        else:
            _note_unknown(case, (*exploration.path(number), *operations), after)


def applies(case: Case, state: Settled, *, fresh: bool) -> bool:
    """Whether a sentence applies in a state, and is judged in it.

    Parameters
    ----------
    case
        The sentence made ready.
    state
        As things stand.
    fresh
        Whether a fuse has only now blown, or a cartridge fired.

    Returns
    -------
    bool
        False too where somebody holds what the sentence leaves alone, or a fuse has gone before.
    """
    if judged(state, case.before) is not True or not _hands_off(case, state):
        return False
    return fresh or not _spent(case, state)


def _note_unknown(case: Case, path: tuple[Operation, ...], after: Settled) -> None:
    case.unknown += 1
    if after.between and not case.restless:
        case.restless = (path, after)


def outcome(case: Case, state: Settled) -> tuple[bool | None, Settled, tuple[Operation, ...]]:
    """Whether the sentence holds from a state; how things then stand, and the steps played to get there.

    Parameters
    ----------
    case
        The sentence made ready.
    state
        In which it applies.

    Returns
    -------
    tuple of bool or None, Settled and tuple of Operation
        None where it is unknown.
    """
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
        if step.unknown and step.at.between:
            return None, step.at, tuple(operations)
        unknown = unknown or step.unknown
        if step.step.wait is not None:
            operations.append(Operation(-1, step.step.wait))
    last = played[-1].after
    value = judged(last, case.then) if case.statement.then is not None else True
    return (None if unknown and value else value), last, tuple(operations)


def _hands_off(case: Case, state: Settled) -> bool:
    """A sequence begins with nobody holding what springs back, unless the sentence says so."""
    if not case.statement.steps:
        return True
    levers = state.memory.levers
    return all(
        levers[number] == lever.springs_to
        for number, lever in enumerate(case.plant.network.levers)
        if lever.springs_to is not None and number not in case.stated
    )


def _spent(case: Case, state: Settled) -> bool:
    """Whether a fuse has blown or a cartridge has fired: a sentence presumes that none has gone before."""
    return any(state.memory.variables[n] for n in case.one_way)


def move_alone(case: Case, exploration: Exploration) -> None:
    """Move every other control alone, in a few states: one may break what held, or make hold what never did.

    Parameters
    ----------
    case
        The sentence, judged; takes what is found.
    exploration
        The states that it was judged in.
    """
    if case.failed and case.held:
        return
    # a sag may break what held, but nobody presses a starter to make a sentence true
    levers = case.alone if case.held else tuple(n for n in case.alone if n not in sagging(case.plant))
    states = _spread(case.held, TRIED_ALONE) or [(number, state) for number, state, _, _ in case.failed]
    for number, state in _spread(states, TRIED_FAILED):
        for lever in levers:
            for value in case.values(lever):
                if value != state.memory.levers[lever]:
                    _try_alone(case, exploration, number, Operation(lever, value))


def _try_alone(case: Case, exploration: Exploration, number: int, operation: Operation) -> None:
    state = exploration.states[number]
    there = settled_once(case.plant, moved(state.memory, {operation.lever: operation.value}), state)
    if judged(there, case.before) is not True:
        return
    result, after, operations = outcome(case, there)
    path = (*exploration.path(number), operation, *operations)
    if result is False or (result is None and after.between):
        # what chatters once another control is moved does not hold there: that control stays as it was
        case.failed.append((number, there, path, after))
    elif result is True:
        case.held.append((number, there))


def _spread(held: Sequence[tuple[int, Settled]], count: int) -> list[tuple[int, Settled]]:
    if len(held) <= count:
        return list(held)
    return [held[(len(held) - 1) * n // (count - 1)] for n in range(count)]
