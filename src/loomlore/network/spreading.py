"""Where many cases stay, spread out as arrays: potentials, states, variables, events, case by case in columns.

An :class:`~loomlore.network.batches.Outcome` answers for one case; whoever asks all cases the same question asks
here once. What the cases leave as it was stands at the base's value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomlore.network.arrays import Floats
from loomlore.network.batches import Outcome
from loomlore.network.settling import Event, Settled
from loomlore.network.viewing import states_of

__all__ = ["Spread", "spread_of"]

Whole = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Spread:
    """Cases as columns: ``potentials`` [node, case] in volts, ``variables`` [variable, case].

    ``states`` has a row for each branch that was asked for; ``events`` one tuple for each case.
    """

    potentials: Floats
    variables: Whole
    states: dict[int, Whole]
    events: list[tuple[Event, ...]]


def spread_of(outcomes: Sequence[Outcome], base: Settled, stated: Sequence[int]) -> Spread:
    """Spread outcomes out as arrays.

    Parameters
    ----------
    outcomes
        Of one base.
    base
        How things stand before, for what no case touches.
    stated
        Branches whose states are wanted.

    Returns
    -------
    Spread
        A column for each outcome, in order.
    """
    count = len(outcomes)
    made = Spread(
        potentials=np.repeat(np.array(base.solution.potentials)[:, None], count, axis=1),
        variables=np.repeat(np.array(base.memory.variables, dtype=np.int64)[:, None], count, axis=1),
        states={n: np.full(count, base.solution.state(n), dtype=np.int64) for n in stated},
        events=[()] * count,
    )
    together: dict[int, list[int]] = {}
    for number, outcome in enumerate(outcomes):
        if outcome.group is None:
            _fill_alone(made, number, outcome)
        else:
            together.setdefault(id(outcome.group), []).append(number)
    for numbers in together.values():
        _fill_group(made, np.array(numbers), [outcomes[n] for n in numbers])
    return made


def _fill_alone(made: Spread, number: int, outcome: Outcome) -> None:
    settled = outcome.settled
    assert settled is not None
    made.potentials[:, number] = settled.solution.potentials
    made.variables[:, number] = settled.memory.variables
    made.events[number] = settled.events
    for branch, row in made.states.items():
        own = outcome.bulk.network.branches[branch]
        if own.law.states or own.memory >= 0:  # else it was taken for a plain branch, and nobody asks
            row[number] = settled.solution.state(branch)


def _fill_group(made: Spread, at: NDArray[np.intp], outcomes: Sequence[Outcome]) -> None:
    group = outcomes[0].group
    assert group is not None
    columns = np.array([outcome.column for outcome in outcomes])
    case_of = np.full(int(columns.max()) + 1, -1)
    case_of[columns] = at
    for setting, view, some in group.beyond(columns):
        part = setting.sheet.part
        made.potentials[np.ix_(np.array(part.nodes), case_of[some])] = view.potentials
        for place in setting.stated:
            if part.branches[place] in made.states:
                made.states[part.branches[place]][case_of[some]] = states_of(view, place)
    part, stay = group.setting.sheet.part, group.stay
    made.potentials[np.ix_(np.array(part.nodes), at)] = stay.potentials[:, columns]
    for place, row in stay.states.items():
        if part.branches[place] in made.states:
            made.states[part.branches[place]][at] = row[columns]
    made.variables[:, at] = np.array(group.setting.memory.variables, dtype=np.int64)[:, None]
    for variable, row in stay.variables.items():
        made.variables[variable, at] = row[columns]
    bulk = group.bulk
    own = {bulk.network.branches[n].name for n in part.branches}
    standing = [e for e in bulk.base.events if e.what == "overload" and e.names[0] not in own]
    for number, column in zip(at.tolist(), columns.tolist(), strict=True):
        made.events[number] = tuple(dict.fromkeys((*stay.events[column], *standing)))
