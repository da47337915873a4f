"""How far along a range a condition reaches: the bound between what held and what failed, sought by halving.

A proof tries a range at the ends of its pieces. Where nothing in the installation cuts it between a value that
held and one that did not, the bound lies somewhere between: it is sought on whole steps of a sensible size, in a
few of the states that the condition keeps, and the value that held there is what is claimed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loomlore.behaviour.exploring import END_OF_PIECE, Exploration, Operation, settled_once, smoothly_followed
from loomlore.behaviour.judging import outcome
from loomlore.behaviour.operating import judged, rest
from loomlore.behaviour.presumptions import Requirement, Row
from loomlore.behaviour.stating import Case
from loomlore.network.settling import moved, wait

__all__ = ["Bound", "Bounds", "bounds_of"]

STEPS = 240
"""A range is sought in at least so many steps."""

MOST_STATES = 3
"""So many of the states that a condition keeps are tried; the bound is what suffices in all of them."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A value that held, and the step [unit] in which it was sought: one step beyond it failed."""

    value: float
    step: float


Bounds = Mapping[tuple[int, str], Bound]
"""By lever and side (low, high)."""


def bounds_of(
    case: Case, exploration: Exploration, rows: Sequence[tuple[int, Row]], found: Requirement
) -> dict[tuple[int, str], Bound]:
    """Seek the bounds of a condition's ranges.

    Parameters
    ----------
    case
        The sentence, judged.
    exploration
        The states that it was judged in.
    rows
        Numbers of the states in which it held, with their features.
    found
        The condition.

    Returns
    -------
    dict
        Where a bound was found; nothing where a threshold of the installation lies between, or none was tried.
    """
    bounds: dict[tuple[int, str], Bound] = {}
    kept = [(number, row) for number, row in rows if found.keeps(row)]
    for place, values in found.allowed:
        what, lever = case.features[place]
        if what != "lever" or case.plant.network.levers[lever].positions:
            continue
        every = case.values(lever)
        for side, held, beyond in (
            ("low", min(values), [v for v in every if v < min(values)][-1:]),
            ("high", max(values), [v for v in every if v > max(values)][:1]),
        ):
            if not beyond or _threshold_between(case, lever, held, beyond[0]):
                continue
            numbers = [number for number, row in kept if row[place] == held][:MOST_STATES]
            bound = _sought(case, exploration, numbers, lever, held, beyond[0])
            if bound is not None:
                bounds[lever, side] = bound
    return bounds


def _threshold_between(case: Case, lever: int, held: float, failed: float) -> bool:
    """Whether one threshold parts the two: a cam's, or one at whose very edges a smooth range was tried."""
    low, high = sorted((held, failed))
    record = case.plant.network.levers[lever]
    if lever in smoothly_followed(case.plant) and high - low > 3 * END_OF_PIECE * (record.high - record.low):
        return False
    return sum(low < cut < high for cut in record.thresholds) == 1


def _step(case: Case, lever: int) -> float:
    """One, two or five times a power of ten, at most a two hundred and fortieth of the range."""
    record = case.plant.network.levers[lever]
    least = (record.high - record.low) / STEPS
    power = 10.0 ** math.floor(math.log10(least))
    return max(power * times for times in (1, 2, 5) if power * times <= least * (1 + 1e-9))


def _sought(
    case: Case, exploration: Exploration, numbers: Sequence[int], lever: int, held: float, failed: float
) -> Bound | None:
    """Halve between a step that held and one that did not, in every state; None where nothing lies between."""
    step = _step(case, lever)
    towards = 1 if failed > held else -1
    good = math.ceil(held / step - 1e-9) if towards < 0 else math.floor(held / step + 1e-9)
    bad = math.floor(failed / step + 1e-9) if towards < 0 else math.ceil(failed / step - 1e-9)
    if not numbers or not _holds(case, exploration, numbers, lever, good * step):
        return None
    while abs(good - bad) > 1:
        middle = (good + bad) // 2
        if _holds(case, exploration, numbers, lever, middle * step):
            good = middle
        else:
            bad = middle
    return Bound(round(good * step, 9), step)


def _holds(case: Case, exploration: Exploration, numbers: Sequence[int], lever: int, value: float) -> bool:
    return all(_held_at(case, exploration, number, lever, value) for number in numbers)


def _held_at(case: Case, exploration: Exploration, number: int, lever: int, value: float) -> bool:
    """Whether the sentence applies and holds where a state's last move of the lever ends at another value."""
    path = list(exploration.path(number))
    last = max((n for n, operation in enumerate(path) if operation.lever == lever), default=-1)
    if last < 0:
        path.append(Operation(lever, value))
    else:
        path[last] = Operation(lever, value)
    state = rest(case.plant)
    for operation in path:
        state = (
            wait(state, operation.value)
            if operation.lever < 0
            else settled_once(case.plant, moved(state.memory, {operation.lever: operation.value}), state)
        )
    return judged(state, case.before) is True and outcome(case, state)[0] is True
