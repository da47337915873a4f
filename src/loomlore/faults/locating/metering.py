"""Checks with a voltmeter, the battery on: from a terminal to clean metal of the airframe.

The meter ties what is cut off to the airframe, so that this reads nothing, whatever it floats at. Expected volts
that lie closer together than the tolerance are one band, and a band is one outcome.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from loomlore.faults.injecting import Struck
from loomlore.faults.locating.checks import (
    VOLTS_MINUTES,
    Check,
    Row,
    Terms,
    feeding_services,
    lever_minutes,
    may_probe,
    setting_words,
    way_in,
    where,
)
from loomlore.faults.modes import Fault
from loomlore.faults.situations import Situation
from loomlore.faults.terminals import services_at, terminal_words
from loomlore.network.building import Plant
from loomlore.network.cases import Case
from loomlore.network.laws import Source
from loomlore.network.settling import Settled
from loomlore.quantities import as_written
from loomlore.record.model import AIRFRAME

__all__ = ["banded", "probed_terminals", "volt_rows", "volts_of"]


def probed_terminals(plant: Plant, services: frozenset[str], faults: Sequence[Fault]) -> tuple[str, ...]:
    """Terminals that a meter may be put on: ends of the leads of some services, and earth bolts.

    Parameters
    ----------
    plant
        The installation.
    services
        Whose; those of the suspects where empty.
    faults
        The suspects.

    Returns
    -------
    tuple of str
        With those of the battery and its mains.
    """
    wanted = services or frozenset(s for f in faults for s in f.services)
    touched = {c for f in faults for c in f.cables}
    found: dict[str, None] = {}
    for cable in plant.installation.dossier.cables.values():
        if (
            cable.service in wanted
            or (not services and cable.id in touched)
            or cable.service in feeding_services(plant)
        ):
            for end in (cable.from_, cable.to):
                if end and end in plant.network.node_of and end != AIRFRAME and may_probe(plant, end):
                    found.setdefault(end)
    return tuple(found)


def volts_of(
    plant: Plant,
    situation: Situation,
    cases: Sequence[Case | None],
    results: Sequence[Struck | None],
    ends: Sequence[str],
) -> NDArray[np.float64]:
    """Volts to the airframe of each terminal under each suspect.

    Parameters
    ----------
    plant
        The installation.
    situation
        How it stands.
    cases
        What each suspect changes; None where nothing.
    results
        What came of it; None where every potential stays as it was.
    ends
        The terminals.

    Returns
    -------
    array
        By terminal and suspect [V].
    """
    nodes = [plant.network.node_of[end] for end in ends]
    base = situation.settled
    joined = _joined_pairs(plant, base)
    found = np.zeros((len(ends), len(cases)))
    well = _metered(base.solution.potentials, _tied(plant, joined, {}, ()), nodes)
    for place, (case, one) in enumerate(zip(cases, results, strict=True)):
        if case is None:
            found[:, place] = well
            continue
        after = base if one is None else one.settled(plant)
        same = after.memory.variables == base.memory.variables and after.memory.levers == base.memory.levers
        pairs = joined if same else _joined_pairs(plant, after)
        changed = {n: _conducts(after, n, b.law, closed=b.closed is None) for n, b in case.branches}
        tied = _tied(plant, pairs, changed, [(b.a, b.b) for b in case.extra])
        found[:, place] = _metered(after.solution.potentials, tied, nodes)
    return found


def _conducts(after: Settled, number: int, law: object, *, closed: bool) -> bool:
    return getattr(law, "resistance", 0.0) < 1e10 and (closed or after.solution.closed(number))


def _metered(potentials: Sequence[float], tied: frozenset[int], nodes: Sequence[int]) -> list[float]:
    return [float(potentials[n]) if n in tied else 0.0 for n in nodes]


def _joined_pairs(plant: Plant, settled: Settled) -> Mapping[int, tuple[int, int]]:
    """Branches that hold two nodes together as things stand."""
    solution, found = settled.solution, {}
    for number, branch in enumerate(plant.network.branches):
        own = solution.solver.network.branches[number]
        live = not hasattr(own.law, "conductance")
        if isinstance(own.law, Source):
            if not solution.works(number):
                continue
        elif not live and (not solution.closed(number) or solution.conductance(number) < 1e-10):
            continue
        found[number] = (branch.a, branch.b)
    return found


def _tied(
    plant: Plant,
    joined: Mapping[int, tuple[int, int]],
    changed: Mapping[int, bool],
    extra: Sequence[tuple[int, int]],
) -> frozenset[int]:
    """Nodes that hang together with the airframe."""
    beside: dict[int, list[int]] = {}
    pairs = [pair for n, pair in joined.items() if changed.get(n, True)]
    pairs += [
        (plant.network.branches[n].a, plant.network.branches[n].b)
        for n, made in changed.items()
        if made and n not in joined
    ]
    for a, b in (*pairs, *extra):
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    reached, waiting = {0}, [0]
    while waiting:
        for node in beside.get(waiting.pop(), ()):
            if node not in reached:
                reached.add(node)
                waiting.append(node)
    return frozenset(reached)


def volt_rows(
    plant: Plant,
    situation: Situation,
    ends: Sequence[str],
    volts: NDArray[np.float64],
    *,
    terms: Terms,
    wanted: frozenset[str],
) -> list[Row]:
    """One check for each terminal.

    Parameters
    ----------
    plant
        The installation.
    situation
        How it stands.
    ends
        The terminals.
    volts
        From :func:`volts_of` [V].
    terms
        What the fitter has.
    wanted
        Services whose levers are named.

    Returns
    -------
    list of Row
        In the order of the terminals.
    """
    rows = []
    band = max(0.3, terms.tolerance * plant.network.supply)
    for place, end in enumerate(ends):
        middles, outcomes = banded(volts[place], band)
        item = end.rpartition(".")[0]
        setting = setting_words(plant, situation, wanted or frozenset(services_at(plant, (item,), ())))
        labels = tuple(
            f"about {as_written(round(m, 1), 'voltage')}" if abs(m) > band / 2 else "nothing" for m in middles
        )
        check = Check(
            id=f"volts:{situation.id}:{end}",
            what="volts",
            words=f"{setting}; voltmeter from {terminal_words(plant, end)} to clean metal of the airframe.",
            place=where(plant, item),
            item=item,
            minutes=VOLTS_MINUTES + lever_minutes(situation) + way_in(plant, item, terms),
            situation=situation.id,
            moves=situation.moves,
            terminals=(end, AIRFRAME),
            outcomes=labels,
            volts=middles,
        )
        rows.append(Row(check, outcomes, volts[place]))
    return rows


def banded(volts: NDArray[np.float64], band: float) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """Readings put into bands: two neighbours closer than the tolerance are one.

    Parameters
    ----------
    volts
        Expected readings [V].
    band
        Tolerance [V].

    Returns
    -------
    tuple
        The middle of each band [V], from the lowest; and the band of each reading.
    """
    order = np.argsort(volts, kind="stable")
    outcomes = [0] * len(volts)
    groups: list[list[float]] = []
    for place in order:
        value = float(volts[place])
        if not groups or value - groups[-1][-1] > band:
            groups.append([])
        groups[-1].append(value)
        outcomes[int(place)] = len(groups) - 1
    return tuple((g[0] + g[-1]) / 2 for g in groups), tuple(outcomes)
