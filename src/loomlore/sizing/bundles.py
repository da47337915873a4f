"""Looms walked stretch by stretch: which cables lie together, and how warm each runs among them.

A loom's route is cut at its places. A cable lies along the stretches between the places where it joins and
leaves, by the same rule by which its length is found. In each case every stretch has its currents; a cable
is judged in the stretch that leaves it least, in the case in which it carries most.

Two readings of the bundle chart are possible: all the wires that lie there, with the loading of all, or only
those that carry. Both are tried and the lesser factor taken; beyond the chart's 41 wires its end stands.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from loomlore.catalogue.conductors import conductor_area
from loomlore.findings import LoomloreError
from loomlore.quantities import Size
from loomlore.record.lengths import end_place, end_position
from loomlore.record.model import Cable, Dossier, Loom
from loomlore.references import Working
from loomlore.sizing.ampacity import (
    ampacity,
    bundle_factor,
    bundle_loading,
    conductor_temperature,
    free_air_current,
)
from loomlore.sizing.coverings import Covering, covering_of
from loomlore.sizing.duty import Study
from loomlore.sizing.protection import adiabatic_factor

__all__ = ["Conditions", "Stretch", "Warmth", "size_of", "stretches", "warmths"]

MOST_WIRES = 41
CARRIES = 0.01
"""A wire with less than this share of its free-air current warms nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Where the cables lie: ``ambient`` [°C] and ``altitude`` [m].

    30 °C in a hull or cabin is common practice, no source; an engine bay or the tropics want more.
    """

    ambient: float = 30.0
    altitude: float = 0.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A loom between two places of its route, and the marks of the cables in it."""

    loom: str
    index: int
    first: str
    last: str
    cables: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Warmth:
    """How a cable runs where it is worst.

    ``stretch`` is None for one that lies alone; ``wires`` how many lie with it, ``loading`` of the bundle;
    ``current`` the most it carries for good, ``limit`` what it may carry there, ``temperature`` of its
    conductor. ``moment`` is the most it carries while somebody holds a push or a cartridge fires, ``lasts``
    how long that may last [s]: None where it carries as much for good.
    """

    cable: str
    covering: Covering
    stretch: Stretch | None
    wires: int
    loading: float
    case: int
    current: float
    free_air: Working
    limit: Working
    temperature: Working
    moment: float = 0.0
    moment_case: int = 0
    lasts: float | None = None
    note: str = ""


def size_of(cable: Cable, dossier: Dossier) -> Size | None:
    """A cable's size, its own or its sheath's; None where neither is written.

    Parameters
    ----------
    cable
        Of the dossier.
    dossier
        For its sheaths.

    Returns
    -------
    Size or None
        As read.
    """
    if isinstance(cable.size, Size):
        return cable.size
    sheath = dossier.sheaths.get(cable.core.rpartition(".")[0]) if cable.core else None
    return sheath.size if sheath is not None else None


def stretches(dossier: Dossier) -> tuple[Stretch, ...]:
    """Every stretch of every loom with the cables that lie in it.

    Parameters
    ----------
    dossier
        In one standard of fit.

    Returns
    -------
    tuple of Stretch
        In order of the looms and their routes; coaxial runs and tubes are left out.
    """
    within: dict[tuple[str, int], list[str]] = {}
    for cable in dossier.cables.values():
        sheath = dossier.sheaths.get(cable.core.partition(".")[0]) if cable.core else None
        along = cable.along or (sheath.along if sheath else "")
        loom = dossier.looms.get(along)
        if loom is None or cable.type:
            continue
        for index in _legs_of(cable, loom, dossier):
            within.setdefault((loom.id, index), []).append(cable.id)
    return tuple(
        Stretch(loom.id, k, loom.route[k], loom.route[k + 1], tuple(within[loom.id, k]))
        for loom in dossier.looms.values()
        for k in range(len(loom.route) - 1)
        if (loom.id, k) in within
    )


def _legs_of(cable: Cable, loom: Loom, dossier: Dossier) -> range:
    first, last = (_joins(end, loom, dossier) for end in (cable.from_, cable.to))
    if first is None or last is None:
        return range(0)
    return range(min(first, last), max(first, last))


def _joins(end: str, loom: Loom, dossier: Dossier) -> int | None:
    """At its own place where the route goes through it, else at the nearest (as its length is found)."""
    place = end_place(end, dossier)
    if place in loom.route:
        return loom.route.index(place)
    here = end_position(end, dossier)
    known = [
        (k, spot.at) for k, name in enumerate(loom.route) if (spot := dossier.places.get(name)) and spot.at
    ]
    if here is None or not known:
        return None
    return min(known, key=lambda pair: math.dist(here, pair[1]))[0]


@dataclass(frozen=True, eq=False)
class _Bench:
    """What is worked out once: each cable's branch, free-air current and covering."""

    study: Study = field(repr=False)
    conditions: Conditions
    branch: Mapping[str, int]
    free: Mapping[str, Working]
    covering: Mapping[str, Covering]
    area: Mapping[str, float]
    factors: dict[tuple[str, int, int], tuple[float, int, float]] = field(default_factory=dict)


def warmths(study: Study, conditions: Conditions) -> dict[str, Warmth]:
    """How warm each cable runs in its worst case.

    Parameters
    ----------
    study
        All cases.
    conditions
        Of the air.

    Returns
    -------
    dict of str to Warmth
        By mark; cables without a size that is known are left out.

    Source
    ------
    [ac43.13-1b par 11-69], [method sect 3.5]
    """
    bench = _bench(study, conditions)
    together: dict[str, list[Stretch]] = {}
    for stretch in stretches(study.plant.installation.dossier):
        for mark in stretch.cables:
            together.setdefault(mark, []).append(stretch)
    return {mark: _warmth(bench, mark, together.get(mark, ())) for mark in bench.free}


def _bench(study: Study, conditions: Conditions) -> _Bench:
    dossier = study.plant.installation.dossier
    branch: dict[str, int] = {}
    free: dict[str, Working] = {}
    coverings: dict[str, Covering] = {}
    areas: dict[str, float] = {}
    for cable in dossier.cables.values():
        number = study.plant.network.branch_of.get(f"cable:{cable.id}")
        size = size_of(cable, dossier)
        if number is None or size is None:
            continue
        covering = covering_of(cable.cover)
        try:
            area = conductor_area(size)
            free[cable.id] = free_air(area, max(0.0, covering.rated - conditions.ambient))
        except LoomloreError:
            continue
        branch[cable.id], coverings[cable.id], areas[cable.id] = number, covering, area
    return _Bench(study, conditions, branch, free, coverings, areas)


@lru_cache(maxsize=512)
def free_air(area: float, rise: float) -> Working:
    """The free-air current [A] of an area [m2] at a rise [K], worked out once."""
    return free_air_current(area, rise=rise)


def _warmth(bench: _Bench, mark: str, along: Sequence[Stretch]) -> Warmth:
    current, case = bench.study.steady[bench.branch[mark]]
    worst, wires, loading, where = 1.0, 1, 1.0, None
    for stretch in along:
        factor, count, loaded = _factor(bench, stretch, case)
        if factor < worst:
            worst, wires, loading, where = factor, count, loaded, stretch
    covering, conditions = bench.covering[mark], bench.conditions
    limit = _limit(
        bench.area[mark],
        covering.rated,
        conditions.ambient,
        wires,
        round(min(loading, 1.0), 6),
        conditions.altitude,
    )
    crowded = len(where.cables) if where is not None else 1
    notes = []
    if loading > 1:
        notes.append("The bundle as a whole carries more than a full one may.")
    if crowded > MOST_WIRES:
        notes.append(f"{crowded} wires lie together; the chart ends at {MOST_WIRES}.")
    temperature = conductor_temperature(
        current=current,
        ampacity=max(limit.value, 1e-9),
        ambient=conditions.ambient,
        rated_temperature=max(covering.rated, conditions.ambient),
    )
    moment, moment_case = bench.study.most[bench.branch[mark]]
    return Warmth(
        cable=mark,
        covering=covering,
        stretch=where,
        wires=crowded,
        loading=loading,
        case=case,
        current=current,
        free_air=bench.free[mark],
        limit=limit,
        temperature=temperature,
        moment=moment,
        moment_case=moment_case,
        lasts=_lasts(bench.area[mark], moment, limit.value, temperature.value, covering.rated),
        note=" ".join(notes),
    )


def _lasts(area: float, moment: float, limit: float, start: float, rated: float) -> float | None:
    """Seconds until a moment's current brings the conductor to its rated temperature.

    No heat getting away.
    """
    if moment <= limit:
        return None
    if start >= rated:
        return 0.0
    return (adiabatic_factor(start=start, final=rated).value * area * 1e6 / moment) ** 2


@lru_cache(maxsize=4096)
def _limit(area: float, rated: float, ambient: float, wires: int, loading: float, altitude: float) -> Working:
    return ampacity(
        area, rated_temperature=rated, ambient=ambient, wires=wires, loading=loading, altitude=altitude
    )


def _factor(bench: _Bench, stretch: Stretch, case: int) -> tuple[float, int, float]:
    """The lesser bundle factor of the two readings, with its wires and loading."""
    key = (stretch.loom, stretch.index, case)
    if key not in bench.factors:
        amps = bench.study.cases[case].amps
        lying = [m for m in stretch.cables if m in bench.free]
        currents = [abs(amps[bench.branch[m]]) for m in lying]
        capacities = [bench.free[m].value for m in lying]
        carrying = [(i, c) for i, c in zip(currents, capacities, strict=True) if i > CARRIES * c]
        readings = [_reading(currents, capacities)]
        if carrying:
            readings.append(_reading([i for i, _ in carrying], [c for _, c in carrying]))
        bench.factors[key] = min(readings)
    return bench.factors[key]


def _reading(currents: Sequence[float], capacities: Sequence[float]) -> tuple[float, int, float]:
    if not currents:
        return 1.0, 1, 0.0
    wires, total, capacity = min(len(currents), MOST_WIRES), sum(currents), sum(capacities)
    low = _chart(wires, 0.2)
    if capacity <= 0 or total / capacity <= 0.2 * low:
        return low, wires, 0.2
    # over the chart's end the share is what counts: as many wires as it has, with the same share each
    alike = [total / len(currents)] * wires
    loading = bundle_loading(alike, [capacity / len(capacities)] * wires).value
    return _chart(wires, min(1.0, loading)), wires, loading


@lru_cache(maxsize=4096)
def _chart(wires: int, loading: float) -> float:
    return bundle_factor(wires, loading=loading).value
