"""Checks with the battery off: ohms between two terminals, and again with a plug parted, a bolt lifted, a fuse out.

Where a fuse goes again there are no volts to follow. The trade's way is to ring the circuit through dead, and to
part it until the fault is on one side. The meter sees its leads, lamps cold, every path beside the one that is
meant, rectifiers by its polarity; controls stay as set. A pair that a cartridge has a share in is left out
altogether, and so is one whose reading turns on a rectifier's knee, whichever way the leads are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.expecting import COLD_HIGH, COLD_LOW, LEADS, TOLERANCE, Standing, standing_ohms
from loomlore.faults.injecting import case_of
from loomlore.faults.locating.checks import (
    FUSE_MINUTES,
    LIFT_MINUTES,
    OHMS_MINUTES,
    PART_MINUTES,
    POWER_OFF_MINUTES,
    Check,
    Row,
    Terms,
    lever_minutes,
    may_probe,
    setting_words,
    way_in,
    where,
)
from loomlore.faults.locating.resistances import Readings, brought_down, resistances
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.situations import Situation, moved_from, services_of_lever
from loomlore.faults.terminals import terminal_words, thing_words
from loomlore.network.building import Plant
from loomlore.network.cases import Case, opened
from loomlore.network.laws import Battery, Cartridge, Fuse, Generator, Magneto, Source
from loomlore.record.model import AIRFRAME

__all__ = ["ohm_bands", "ring_rows"]

MOST_PARTED = 3
"""Plugs, and again bolts, and again fuses, that are taken for one hunt: those with most of the service's leads."""

LIVE_MAGNETO = (
    "Parted or lifted here a magneto is LIVE: chocks in, everybody clear of the airscrew, plug leads off."
)
LIFTED = "No starter and no power while this bolt is lifted: the current would find its way through control cables."


_UNTOUCHED = Case()


@dataclass(frozen=True, kw_only=True)
class _Apart:
    """Something taken apart before the meter is put on; nothing where ``case`` is empty."""

    id: str = ""
    words: str = ""
    minutes: float = 0.0
    item: str = ""
    case: Case = _UNTOUCHED
    ends: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


_UNTAKEN = _Apart()


def ring_rows(
    plant: Plant,
    situation: Situation,
    faults: Sequence[Fault],
    goes: Sequence[Iterable[str]],
    *,
    services: frozenset[str],
    terms: Terms,
) -> list[Row]:
    """Every dead check in one standing of the controls.

    Parameters
    ----------
    plant
        The installation.
    situation
        How the controls stand.
    faults
        The suspects.
    goes
        Fuses that go under each of them.
    services
        Whose leads are rung; those of the suspects where empty.
    terms
        What the fitter has.

    Returns
    -------
    list of Row
        Without readings that no meter may take.
    """
    off = _sources(plant)
    if not off or not faults:
        return []
    theirs = services or frozenset(s for f in faults for s in f.services)
    situation = _standing_still(plant, situation, theirs)
    standing = standing_ohms(plant, situation.settled, taken_off=off)
    leads = _leads(plant, theirs)
    own = [_as_standing(plant, standing, fault, names) for fault, names in zip(faults, goes, strict=True)]
    parted = _to_part(plant, leads) if len(faults) <= terms.part_up_to else []
    everything = (_UNTAKEN, *parted)
    cases = [[*some, apart.case] for apart in everything for some in own]
    ends = [_pairs(plant, leads, apart) for apart in everything]
    dead = brought_down(
        standing, _nodes(plant, [p for some in ends for p in some]), cases, (COLD_LOW, COLD_HIGH)
    )
    rows: list[Row] = []
    for number, (apart, pairs) in enumerate(zip(everything, ends, strict=True)):
        columns = range(number * len(own), (number + 1) * len(own))
        found = resistances(dead, _nodes(plant, pairs), columns)
        rows += _rows(plant, situation, found, pairs, apart=apart, terms=terms, services=services)
    return rows


def _standing_still(plant: Plant, situation: Situation, services: frozenset[str]) -> Situation:
    """Only the services' own levers as they were set, and every machine standing."""
    turning = {b.follows for b in plant.network.branches if isinstance(b.law, Generator)}
    moves = tuple(
        (n, v) for n, v in situation.moves if n not in turning and services & services_of_lever(plant, n)
    )
    settled = moved_from(plant, rest(plant), dict(moves))
    return replace(situation, settled=settled, moves=moves)


def _sources(plant: Plant) -> tuple[str, ...]:
    return tuple(dict.fromkeys(b.item for b in plant.network.branches if isinstance(b.law, Battery | Source)))


def _leads(plant: Plant, services: frozenset[str]) -> list[tuple[str, str]]:
    """Both ends of every cable of some services."""
    return [
        (c.from_, c.to)
        for c in plant.installation.dossier.cables.values()
        if c.service in services and f"cable:{c.id}" in plant.network.branch_of
    ]


def _as_standing(plant: Plant, standing: Standing, fault: Fault, goes: Iterable[str]) -> list[Case]:
    """What a suspect is when everything stands dead: its own changes, and the fuses that it has blown."""
    own = case_of(plant, fault, standing.settled)
    blown = [
        opened(plant.network, n) for name in goes if (n := plant.network.branch_of.get(name)) is not None
    ]
    return [*([] if own is None else [own]), *blown]


# -- what is taken apart -------------------------------------------------------------------------------------------


def _to_part(plant: Plant, leads: Sequence[tuple[str, str]]) -> list[_Apart]:
    landing = {end for pair in leads for end in pair}
    explosive = {b.item for b in plant.network.branches if isinstance(b.law, Cartridge)}
    found: dict[str, list[tuple[int, _Apart]]] = {"parted": [], "lifted": [], "drawn": []}
    for fault in faults_of(plant):
        if fault.mode not in ("parted", "lifted") or explosive & {
            e.rpartition(".")[0] for e in _mates(plant, fault)
        }:
            continue
        ends = tuple(e for e in _mates(plant, fault) if e in landing and may_probe(plant, e))
        if ends:
            found[fault.mode].append((len(ends), _taken(plant, fault, ends)))
    found["drawn"] = [(1, apart) for apart in _drawn(plant, landing)]
    kept = []
    for some in found.values():
        kept += [apart for _, apart in sorted(some, key=lambda one: (-one[0], one[1].id))[:MOST_PARTED]]
    return kept


def _mates(plant: Plant, fault: Fault) -> tuple[str, ...]:
    names = plant.network.node_names
    return tuple(dict.fromkeys(names[n] for _, b in fault.branches for n in (b.a, b.b) if n))


def _taken(plant: Plant, fault: Fault, ends: tuple[str, ...]) -> _Apart:
    case = Case(branches=fault.branches)
    magneto = (LIVE_MAGNETO,) if _has_magneto(plant, fault) else ()
    if fault.mode == "parted":
        item = fault.items[0] if fault.items else ends[0].rpartition(".")[0]
        words = f"part {thing_words(plant, fault.id.removesuffix('.parted').removesuffix('.joint'))}"
        return _Apart(
            id=fault.id, words=words, minutes=PART_MINUTES, item=item, case=case, ends=ends, cautions=magneto
        )
    words = f"lift {terminal_words(plant, ends[0])}, its tags together"
    return _Apart(
        id=fault.id, words=words, minutes=LIFT_MINUTES, item=ends[0], case=case, ends=ends,
        cautions=(LIFTED, *magneto),
    )  # fmt: skip


def _has_magneto(plant: Plant, fault: Fault) -> bool:
    items = {b.item for b in plant.network.branches if isinstance(b.law, Magneto)}
    services = {
        c.service
        for c in plant.installation.dossier.cables.values()
        if items & {c.from_.rpartition(".")[0], c.to.rpartition(".")[0]}
    }
    return bool(services & set(fault.services))


def _drawn(plant: Plant, landing: set[str]) -> list[_Apart]:
    found = []
    for number, branch in enumerate(plant.network.branches):
        ends = tuple(e for n in (branch.a, branch.b) if (e := plant.network.node_names[n]) in landing)
        if isinstance(branch.law, Fuse) and ends:
            found.append(
                _Apart(
                    id=f"{branch.name}.drawn", words=f"take out the fuse of the {lowered(name_of(plant, branch.name))}",
                    minutes=FUSE_MINUTES, item=branch.item, case=opened(plant.network, number), ends=ends,
                )
            )  # fmt: skip
    return found


# -- pairs, readings, outcomes --------------------------------------------------------------------------------------


def _pairs(plant: Plant, leads: Sequence[tuple[str, str]], apart: _Apart) -> list[tuple[str, str]]:
    """Along each cable, and from each end to the airframe; only at what is apart, if something is."""
    ends = apart.ends if apart.id else tuple(dict.fromkeys(e for pair in leads for e in pair))
    to_metal = [(e, AIRFRAME) for e in ends if e != AIRFRAME]
    along = [] if apart.id else [p for p in leads if AIRFRAME not in p]
    known = plant.network.node_of
    return [
        (a, b)
        for a, b in (*along, *to_metal)
        if a in known and b in known and known[a] != known[b] and may_probe(plant, a) and may_probe(plant, b)
    ]


def _nodes(plant: Plant, ends: Sequence[tuple[str, str]]) -> list[tuple[int, int]]:
    """Both ways round for each pair: as given, and with the leads changed over."""
    nodes = [(plant.network.node_of[a], plant.network.node_of[b]) for a, b in ends]
    return [*nodes, *((b, a) for a, b in nodes)]


def _rows(
    plant: Plant,
    situation: Situation,
    found: Readings,
    ends: Sequence[tuple[str, str]],
    *,
    apart: _Apart,
    terms: Terms,
    services: frozenset[str],
) -> list[Row]:
    rows = []
    for place, pair in enumerate(ends):
        for number, leads in ((place, pair), (place + len(ends), pair[::-1])):
            low, high = found.low[number], found.high[number]
            if found.banned[number] or np.isnan(low).any() or np.isnan(high).any():
                continue
            bands, outcomes = ohm_bands(low, high)
            if len(bands) > 1:
                check = _check(plant, situation, leads, bands, apart=apart, terms=terms, services=services)
                rows.append(Row(check, outcomes, np.sqrt(low * high) + LEADS))
            break
    return rows


NEAR_OHMS = 0.3
"""Two ranges closer than this are one outcome: about what a meter's own leads are worth."""


def ohm_bands(
    low: NDArray[np.float64], high: NDArray[np.float64], *, leads: float = LEADS
) -> tuple[tuple[tuple[float, float], ...], tuple[int, ...]]:
    """Ranges of ohms put into bands: what overlaps within the meter's tolerance is one.

    Parameters
    ----------
    low
        Least reading under each suspect, without leads [ohm]; inf where open.
    high
        Greatest [ohm].
    leads
        Of the meter [ohm].

    Returns
    -------
    tuple
        Least and greatest of each band with the leads in [ohm], from the lowest; and the band of each reading.
    """
    least, most = (1 - TOLERANCE) * low + leads, (1 + TOLERANCE) * high + leads
    outcomes = [0] * len(low)
    bands: list[list[float]] = []
    for place in np.argsort(least, kind="stable"):
        start, end = float(least[place]), float(most[place])
        if not bands or start > bands[-1][1] + NEAR_OHMS:
            bands.append([start, end])
        bands[-1][1] = max(bands[-1][1], end)
        outcomes[int(place)] = len(bands) - 1
    return tuple((a, b) for a, b in bands), tuple(outcomes)


def _band_words(band: tuple[float, float], *, alone: bool) -> str:
    low, high = band
    if np.isinf(low):
        return "open"
    if high < 1.0 and alone:
        return "through, under 1 ohm"
    if high <= 1.4 * low or high < 1.0:
        return f"about {float(f'{(low + high) / 2:.2g}'):g} ohm"
    return f"{float(f'{low:.2g}'):g} to {float(f'{high:.2g}'):g} ohm"


def _check(
    plant: Plant,
    situation: Situation,
    leads: tuple[str, str],
    bands: Sequence[tuple[float, float]],
    *,
    apart: _Apart,
    terms: Terms,
    services: frozenset[str],
) -> Check:
    first, second = (_end_words(plant, end) for end in leads)
    item = next(e for e in leads if e != AIRFRAME).rpartition(".")[0]
    named = listed([f"the {lowered(name_of(plant, s))}" for s in _sources(plant)])
    setting = setting_words(plant, situation, services)
    done = f"; {apart.words}" if apart.id else ""
    minutes = OHMS_MINUTES + POWER_OFF_MINUTES + apart.minutes + lever_minutes(situation)
    elsewhere = bool(apart.item) and apart.item.rpartition(".")[0] != item and apart.item != item
    minutes += way_in(plant, item, terms) + (way_in(plant, apart.item, terms) if elsewhere else 0.0)
    before = [f"take the lead off {named} and tie it back", *([apart.words] if apart.id else [])]
    return Check(
        id=f"ohms:{situation.id}:{f'{apart.id}:' if apart.id else ''}{leads[0]}:{leads[1]}",
        what="ohms",
        words=f"{setting}; lead off {named}{done}; ohmmeter from {first} (positive lead) to {second}.",
        place=where(plant, item),
        item=item,
        minutes=minutes,
        situation=situation.id,
        moves=situation.moves,
        terminals=leads,
        outcomes=_said_apart([_band_words(b, alone=bands[1][0] > 1.0) for b in bands]),
        ohms=tuple(bands),
        first=tuple(f"{said[:1].upper()}{said[1:]}." for said in before),
        cautions=apart.cautions,
    )  # fmt: skip


def _end_words(plant: Plant, end: str) -> str:
    return "clean metal of the airframe" if end == AIRFRAME else terminal_words(plant, end)


def _said_apart(words: Sequence[str]) -> tuple[str, ...]:
    """Two bands that are rounded to the same words keep their order."""
    seen: dict[str, int] = {}
    found = []
    for word in words:
        seen[word] = seen.get(word, 0) + 1
        found.append(word if seen[word] == 1 else f"{word}, but more ({seen[word]})")
    return tuple(found)
