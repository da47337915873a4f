"""A statement tried in a sample of settings, so that two installations can be set beside each other unproved.

The settings are spread over all combinations of the levers that can make a difference to the statement, as a
proof would move them; what it presumes is moved first and its occasion last. One setting takes a few
operations from rest, where a proof goes through all states that there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import prod

from loomlore.behaviour.exploring import goes, levers_of_conditions, settled_once
from loomlore.behaviour.judging import applies, outcome
from loomlore.behaviour.operating import judged, rest
from loomlore.behaviour.stating import Case
from loomlore.network.building import Plant
from loomlore.network.conditions import AllOf, AnyOf, Condition, Constant, Measured, NotSo, StateIs, judge
from loomlore.network.settling import Settled, moved, next_event, wait

__all__ = ["Tried", "fares_alike", "tried"]

Path = tuple[tuple[str, float], ...]
"""Operations by the levers' names [unit]; "" waits [s]."""

Tried = tuple[Path, bool]
"""What was done, and whether the sentence then held."""

MOST_TRIED = 24
MOST_LOOKED_AT = 2000
"""So many of the combinations are looked at, whether the statement may apply in them at all."""


def tried(case: Case) -> tuple[Tried, ...]:
    """Try a statement in settings spread over all in which it may apply.

    Parameters
    ----------
    case
        The statement made ready; it is left as it is.

    Returns
    -------
    tuple of tuple
        Of the settings in which it applies and which tell: what was done, and whether it held.
    """
    found: list[Tried] = []
    settings = list(_settings(case))
    count = min(len(settings), MOST_TRIED)
    for number in range(count):
        setting = settings[(len(settings) - 1) * number // max(1, count - 1)]
        for path, state, fresh in _reached(case.plant, setting):
            held = outcome(case, state)[0] if applies(case, state, fresh=fresh) else None
            if held is not None:
                found.append((path, held))
    return tuple(found)


_Setting = tuple[tuple[int, float], ...]


def _settings(case: Case) -> Iterator[_Setting]:
    """Combinations of its levers' values in which what it says of levers, as far as it goes, is so."""
    start = rest(case.plant).memory.levers
    driven = {movement.lever for movement in case.plant.network.movements}
    levers = _in_order(case, [n for n in case.levers if n not in driven])
    choices = [tuple(dict.fromkeys((start[n], *case.values(n)))) for n in levers]
    before, of = _of_levers(case.before), prod(map(len, choices))
    count = min(of, MOST_LOOKED_AT)
    for number in range(count):
        values = _combination(choices, of * number // count)
        placed = list(start)
        for lever, value in zip(levers, values, strict=True):
            placed[lever] = value
        if judge(before, placed, (), lambda _: None) is not False:
            yield tuple((n, v) for n, v in zip(levers, values, strict=True) if v != start[n])


def _in_order(case: Case, levers: Iterable[int]) -> list[int]:
    """What it presumes first, its occasion last: a latch is set by what is done while all else stands."""
    lexicon = case.plant.lexicon
    given = levers_of_conditions(case.plant, [lexicon.condition(case.given)])
    when = levers_of_conditions(case.plant, [lexicon.condition(case.statement.when)])
    return sorted(levers, key=lambda n: (n in when and n not in given, n not in given, n))


def _combination(choices: Sequence[Sequence[float]], number: int) -> tuple[float, ...]:
    """The combination of a number, the last lever's values following one another fastest."""
    values = []
    for listed in reversed(choices):
        number, place = divmod(number, len(listed))
        values.append(listed[place])
    return tuple(reversed(values))


def _of_levers(condition: Condition) -> Condition:
    """A condition with all that only a settled installation tells left unknown."""
    match condition:
        case StateIs() | Measured():
            return Constant(None)
        case NotSo(part):
            return NotSo(_of_levers(part))
        case AllOf(parts):
            return AllOf(tuple(_of_levers(part) for part in parts))
        case AnyOf(parts):
            return AnyOf(tuple(_of_levers(part) for part in parts))
        case _:
            return condition


def _reached(plant: Plant, setting: _Setting) -> Iterator[tuple[Path, Settled, bool]]:
    """A setting made from rest, and where something is then under way the moment it is over.

    With whether the last operation has blown a fuse or fired a cartridge.
    """
    state, fresh = rest(plant), False
    path: Path = tuple((plant.network.levers[lever].name, value) for lever, value in setting)
    for lever, value in setting:
        there = settled_once(plant, moved(state.memory, {lever: value}), state)
        state, fresh = there, goes(state, there)
    yield path, state, fresh
    seconds = next_event(state)
    if seconds is not None:
        there = wait(state, seconds)
        yield (*path, ("", seconds)), there, goes(state, there)


def fares_alike(states: Sequence[Tried], other: Case) -> bool:
    """Whether a statement comes out the same in another installation, in the states that it was tried in.

    Parameters
    ----------
    states
        From :func:`tried`.
    other
        The same statement made ready in the other installation, whose levers go by the same names.

    Returns
    -------
    bool
        False as soon as one comes out otherwise. Where it is True the statement has been tried again and not
        proved anew.
    """
    return all(_replayed(path, other) is held for path, held in states)


def _replayed(path: Path, other: Case) -> bool | None:
    """What a state's own operations lead to in another installation."""
    plant = other.plant
    state = rest(plant)
    for name, value in path:
        if not name:
            state = wait(state, value)
            continue
        lever = plant.network.lever_of.get(name)
        if lever is None:
            return None
        state = settled_once(plant, moved(state.memory, {lever: value}), state)
    if judged(state, other.before) is not True:
        return None
    return outcome(other, state)[0]
