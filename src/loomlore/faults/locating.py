"""From what is seen to what is wrong: suspects with their probability, and every check with its outcome under each.

A :class:`Search` is one table. Its columns are suspects, each with a weight; its rows are checks, each with
minutes and with the outcome that each suspect would give. Checks are of four kinds:

* *see*: set the controls so, and look or listen;
* *volts*: set the controls so, and put a voltmeter from a terminal to the airframe. The meter ties what is cut off
  to the airframe, so that reads nothing, whatever it floats at;
* *fuse*: take a fuse out and look at it; fit the right one and see whether it goes again;
* *lamp*: take a lamp out and try it.

What none of these tells apart is one group. It is then proved, suspect by suspect, by what its fault says to look
at (:func:`proofs_of`): ring the lead, undo the bolt, open the item.

A reading is an outcome by bands: expected volts that lie closer together than the tolerance are one band. What a
check costs is minutes: the work, the way in, and the levers to be moved. The figures are common practice, no source,
and the way in is the user's to give.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import lever_words
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered, order_words
from loomlore.faults.effects import Effect, effect_of, observables_of
from loomlore.faults.injecting import Struck, Workshop, struck
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.sequencing import Trial
from loomlore.faults.situations import Situation, services_of_lever
from loomlore.faults.terminals import item_place, place_words, services_at, terminal_words
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Generator, Source
from loomlore.network.settling import Settled
from loomlore.quantities import as_written
from loomlore.record.model import AIRFRAME

__all__ = [
    "WELL",
    "Check",
    "Proof",
    "Search",
    "Terms",
    "proofs_of",
    "search_of",
    "seen_of",
    "suspects_of",
    "telling_situations",
    "warnings_of",
]

WELL = "as it should be"

SEE_MINUTES = 0.5
VOLTS_MINUTES = 2.0
FUSE_MINUTES = 1.0
LEVER_MINUTES = 0.1
WAY_IN = 1.0
"""Minutes of the way to a place, where the user gives none: common practice, no source."""

PROVE_MINUTES: Mapping[str, float] = {
    "open": 8.0,
    "high-resistance": 8.0,
    "to-earth": 12.0,
    "touching": 12.0,
    "crossed": 8.0,
    "bridged": 10.0,
    "lifted": 5.0,
    "missing": 5.0,
    "parted": 2.0,
    "burnt-out": 3.0,
    "wrong-lamp": 3.0,
    "blown": 1.0,
    "too-light": 1.0,
    "too-heavy": 1.0,
    "flat": 6.0,
    "cell-shorted": 6.0,
    "reversed": 2.0,
}
"""Minutes to prove a suspect by its mode; anything inside an item takes :data:`INSIDE_MINUTES`."""

INSIDE_MINUTES = 15.0


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What the fitter has: tolerance of a reading, way in by place [min], and whether it was just rebuilt.

    ``tolerance`` is a share of the supply's volts: readings closer than that count as the same.
    """

    tolerance: float = 0.04
    way_in: Mapping[str, float] = field(default_factory=dict)
    after_rebuild: bool = True
    metered: bool = True


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check. ``outcomes`` are its possible results in words, by number; ``volts`` the middle of each band.

    ``moves`` are the levers to be set first, from rest; ``terminals`` where the leads go.
    """

    id: str
    what: str
    words: str
    place: str = ""
    item: str = ""
    minutes: float
    situation: str = ""
    moves: tuple[tuple[int, float], ...] = ()
    terminals: tuple[str, ...] = ()
    outcomes: tuple[str, ...]
    volts: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class Search:
    """Suspects, checks, and the outcome of each check under each suspect [check, suspect]."""

    plant: Plant
    situations: tuple[Situation, ...]
    faults: tuple[Fault, ...]
    weights: NDArray[np.float64]
    checks: tuple[Check, ...]
    table: NDArray[np.int64]
    readings: NDArray[np.float64]

    @property
    def number_of(self) -> Mapping[str, int]:
        """Checks by id."""
        return {check.id: number for number, check in enumerate(self.checks)}

    def trials(self) -> tuple[Trial, ...]:
        """As the sequencing wants them."""
        return _trials(self)

    def only(self, keep: Iterable[int]) -> Search:
        """The same with some of the suspects."""
        chosen = list(keep)
        return replace(
            self,
            faults=tuple(self.faults[n] for n in chosen),
            weights=self.weights[chosen],
            table=self.table[:, chosen],
            readings=self.readings[:, chosen],
        )


@lru_cache(maxsize=32)
def _trials(search: Search) -> tuple[Trial, ...]:
    return tuple(
        Trial(check.id, check.minutes, tuple(int(n) for n in row))
        for check, row in zip(search.checks, search.table, strict=True)
    )


# -- suspects ----------------------------------------------------------------------------------------------------


@lru_cache(maxsize=8)
def _feeding_services(plant: Plant) -> frozenset[str]:
    """Services of the batteries and machines: what is wrong there is felt everywhere."""
    items = {b.item for b in plant.network.branches if isinstance(b.law, Battery | Generator | Source)}
    batteries = {b.item for b in plant.network.branches if isinstance(b.law, Battery)}
    direct = services_at(plant, tuple(batteries), ())
    return frozenset(direct) or frozenset(services_at(plant, tuple(items), ()))


def suspects_of(plant: Plant, services: Iterable[str], *, feeding: bool = True) -> tuple[Fault, ...]:
    """Faults that may be behind something wrong in some services.

    Parameters
    ----------
    plant
        The installation.
    services
        In which something is wrong; all where empty.
    feeding
        With those of the battery and its mains.

    Returns
    -------
    tuple of Fault
        Also those that belong to no service.
    """
    wanted = set(services)
    if not wanted:
        return faults_of(plant)
    if feeding:
        wanted |= _feeding_services(plant)
    return tuple(f for f in faults_of(plant) if not f.services or wanted & set(f.services))


def telling_situations(
    plant: Plant, situations: Sequence[Situation], services: Iterable[str], *, most: int = 3
) -> tuple[Situation, ...]:
    """The few situations in which most of some services is at work.

    Parameters
    ----------
    plant
        The installation.
    situations
        To choose from.
    services
        Whose things should be at work.
    most
        How many at most.

    Returns
    -------
    tuple of Situation
        At least one.
    """
    wanted = set(services)
    numbers = [n for o in observables_of(plant) if not wanted or o.service in wanted for n in o.branches]
    left = set(numbers)
    chosen: list[Situation] = []
    pool = [s for s in situations if not s.only or s.only & wanted or not wanted]
    while len(chosen) < most:
        gains = [
            (sum(1 for n in left if _active(s.settled, n)), -k, s)
            for k, s in enumerate(pool)
            if s not in chosen
        ]
        best = max(gains, key=lambda gain: gain[:2], default=None)
        if best is None or (best[0] == 0 and chosen):
            break
        chosen.append(best[2])
        left -= {n for n in left if _active(best[2].settled, n)}
    return tuple(chosen)


def _active(settled: Settled, number: int) -> bool:
    return settled.solution.state(number) > 0


# -- the table ---------------------------------------------------------------------------------------------------


def search_of(
    plant: Plant,
    situations: Sequence[Situation],
    faults: Sequence[Fault],
    *,
    services: Iterable[str] = (),
    terms: Terms | None = None,
    workshop: Workshop | None = None,
) -> Search:
    """Work out every suspect in every situation, and from it every check.

    Parameters
    ----------
    plant
        The installation.
    situations
        In which things may be looked at and measured.
    faults
        The suspects.
    services
        Whose terminals may be measured; all of the suspects' where empty.
    terms
        What the fitter has.
    workshop
        Bulk solvers made already.

    Returns
    -------
    Search
        Ready to hunt in.
    """
    given = terms or Terms()
    shop = workshop or Workshop(plant)
    wanted = frozenset(services)
    ends = _terminals(plant, wanted, faults) if given.metered else ()
    rows: list[_Row] = []
    goes: list[set[str]] = [set() for _ in faults]
    for situation in situations:
        results = {one.fault.id: one for one in struck(shop, situation, faults)}
        effects = [effect_of(plant, results[f.id]) if f.id in results else None for f in faults]
        rows += _see_rows(plant, situation, effects, given, wanted)
        if ends:
            volts = _volts(plant, situation, faults, results, ends)
            rows += _volt_rows(plant, situation, ends, volts, given, wanted)
        for place, effect in enumerate(effects):
            goes[place] |= {c.name for c in effect.changes if c.kind == "blows"} if effect else set()
    rows += _fuse_rows(plant, faults, goes, given)
    rows += _lamp_rows(plant, faults, given)
    rows = [row for row in rows if len(set(row.outcomes)) > 1] or rows[:1]
    blank = np.full(len(faults), np.nan)
    weights = np.array(
        [f.likelihood if given.after_rebuild else f.rate.of_mode for f in faults], dtype=np.float64
    )
    if weights.sum() <= 0:
        weights = np.ones(len(faults))
    return Search(
        plant=plant,
        situations=tuple(situations),
        faults=tuple(faults),
        weights=weights / weights.sum() if len(faults) else weights,
        checks=tuple(row.check for row in rows),
        table=np.array([row.outcomes for row in rows], dtype=np.int64).reshape(len(rows), len(faults)),
        readings=np.array([blank if row.volts is None else row.volts for row in rows]).reshape(
            len(rows), len(faults)
        ),
    )


@dataclass(frozen=True, eq=False)
class _Row:
    check: Check
    outcomes: tuple[int, ...]
    volts: NDArray[np.float64] | None = None


def _way_in(plant: Plant, item: str, terms: Terms) -> float:
    return float(terms.way_in.get(item_place(plant, item), WAY_IN))


def _where(plant: Plant, item: str) -> str:
    return place_words(plant, item_place(plant, item)).removeprefix(", ")


def _setting(plant: Plant, situation: Situation, wanted: frozenset[str]) -> str:
    """The situation as an order, with only the levers that matter here."""
    kept = [
        m
        for m in situation.moves
        if not wanted or (wanted | _feeding_services(plant)) & services_of_lever(plant, m[0])
    ]
    if not kept:
        return (
            "With everything at rest"
            if not situation.moves
            else f"{situation.title[:1].upper()}{situation.title[1:]}"
        )
    orders = [order_words(plant, Operation(lever, value)) for lever, value in kept]
    said = listed(orders)
    return said[:1].upper() + said[1:]


def _numbered(labels: Sequence[str]) -> tuple[tuple[str, ...], tuple[int, ...]]:
    names = dict.fromkeys(labels)
    order = {name: n for n, name in enumerate(names)}
    return tuple(names), tuple(order[label] for label in labels)


# -- looking -----------------------------------------------------------------------------------------------------


def _see_rows(
    plant: Plant, situation: Situation, effects: Sequence[Effect | None], terms: Terms, wanted: frozenset[str]
) -> list[_Row]:
    seen = [seen_of(effect) for effect in effects]
    rows = []
    told = {
        name: item
        for effect in effects
        if effect
        for name, item in ((c.name, c.item) for c in effect.changes)
    }
    for name in dict.fromkeys(n for labels in seen for n in labels):
        item = told.get(name, name.rpartition(".")[0])
        fuse = any(labels.get(name) == BLOWS for labels in seen)
        labels, outcomes = _numbered([WELL, *(labels.get(name, WELL) for labels in seen)])
        setting = _setting(plant, situation, wanted or frozenset(services_at(plant, (item,), ())))
        called = lowered(name_of(plant, name))
        words = (
            f"{setting}; see whether the fuse {called} goes" if fuse else f"{setting}; look at the {called}"
        )
        minutes = (
            SEE_MINUTES
            + LEVER_MINUTES * len(situation.moves)
            + (FUSE_MINUTES + _way_in(plant, item, terms) if fuse else 0.0)
        )
        check = Check(
            id=f"see:{situation.id}:{name}",
            what="see",
            words=f"{words}.",
            place=_where(plant, item),
            item=item,
            minutes=minutes,
            situation=situation.id,
            moves=situation.moves,
            outcomes=tuple(_seen_words(plant, name, label, situation) for label in labels),
        )
        rows.append(_Row(check, outcomes[1:]))
    return rows


BLOWS = "blows"


def seen_of(effect: Effect | None) -> dict[str, str]:
    """What is otherwise, by the name of the thing: a plain label that does not turn on small figures.

    Parameters
    ----------
    effect
        Of a fault in a situation; None where nothing changes.

    Returns
    -------
    dict of str to str
        Such as ``{"tail-lamp.filament": "out"}``.
    """
    if effect is None:
        return {}
    found: dict[str, str] = {}
    for change in effect.changes:
        if change.kind in ("overload", "above-no-fire", "unfused", "live", "stopped") or change.name in found:
            continue
        if change.kind in ("unasked", "lost", "weak"):
            found[change.name] = change.after
        elif change.kind == "misreads":
            found[change.name] = change.after if change.after in ("no power", "off scale") else "reads wrong"
        else:
            found[change.name] = {"brighter": "too bright", "dimmer": "dim", "over-run": "too bright"}.get(
                change.kind, change.kind
            )
    return found


def _seen_words(plant: Plant, name: str, label: str, situation: Situation) -> str:
    if label != WELL:
        return {"blows": "it goes again", "fires": "it FIRES"}.get(label, label)
    number = plant.network.branch_of.get(name)
    if number is None:
        group = [o for o in observables_of(plant) if o.name == name]
        if not group:
            return WELL
        number = group[0].branches[0]
    law = plant.network.branches[number].law
    states = law.states
    dials = plant.network.dials.get(number, ())
    if dials:
        solution = situation.settled.solution
        shown = solution.shown(dials[0])
        scale = plant.network.indications[dials[0]]
        return f"shows {as_written(shown, scale.dimension)}, {WELL}" if shown is not None else WELL
    if not states:
        return WELL
    return f"{states[situation.settled.solution.state(number)].replace('-', ' ')}, {WELL}"


# -- measuring ---------------------------------------------------------------------------------------------------


def _terminals(plant: Plant, services: frozenset[str], faults: Sequence[Fault]) -> tuple[str, ...]:
    """Terminals that a voltmeter may be put on: ends of the leads of the services, and earth bolts."""
    wanted = services or frozenset(s for f in faults for s in f.services)
    touched = {c for f in faults for c in f.cables}
    found: dict[str, None] = {}
    for cable in plant.installation.dossier.cables.values():
        if (
            cable.service in wanted
            or (not services and cable.id in touched)
            or cable.service in _feeding_services(plant)
        ):
            for end in (cable.from_, cable.to):
                if end and end in plant.network.node_of and end != AIRFRAME and _may_probe(plant, end):
                    found.setdefault(end)
    return tuple(found)


def _may_probe(plant: Plant, terminal: str) -> bool:
    """No meter on a cartridge, nor on a fuel tank's unit."""
    item = terminal.rpartition(".")[0]
    equipment = plant.installation.equipment.get(item)
    return equipment is None or not equipment.hazard.startswith(("EXPLOSIVE", "Fuel vapour", "High tension"))


def _volts(
    plant: Plant,
    situation: Situation,
    faults: Sequence[Fault],
    results: Mapping[str, Struck],
    ends: Sequence[str],
) -> NDArray[np.float64]:
    """Volts to the airframe of each terminal under each suspect [terminal, suspect]."""
    nodes = [plant.network.node_of[end] for end in ends]
    joined = _joined_pairs(plant, situation.settled)
    found = np.zeros((len(ends), len(faults)))
    base = _metered(situation.settled.solution.potentials, _tied(plant, joined, {}, ()), nodes)
    for place, fault in enumerate(faults):
        one = results.get(fault.id)
        if one is None:
            found[:, place] = base
            continue
        after = one.settled(plant)
        pairs = joined
        if (
            after.memory.variables != situation.settled.memory.variables
            or after.memory.levers != situation.settled.memory.levers
        ):
            pairs = _joined_pairs(plant, after)
        changed = {
            n: getattr(b.law, "resistance", 0.0) < 1e10 and after.solution.closed(n)
            for n, b in one.case.branches
        }
        tied = _tied(plant, pairs, changed, [(b.a, b.b) for b in one.case.extra])
        found[:, place] = _metered(after.solution.potentials, tied, nodes)
    return found


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


def _volt_rows(
    plant: Plant,
    situation: Situation,
    ends: Sequence[str],
    volts: NDArray[np.float64],
    terms: Terms,
    wanted: frozenset[str],
) -> list[_Row]:
    rows = []
    band = max(0.3, terms.tolerance * plant.network.supply)
    for place, end in enumerate(ends):
        middles, outcomes = banded(volts[place], band)
        item = end.rpartition(".")[0]
        setting = _setting(plant, situation, wanted or frozenset(services_at(plant, (item,), ())))
        words = f"{setting}; voltmeter from {terminal_words(plant, end)} to clean metal of the airframe."
        labels = tuple(
            f"about {as_written(round(m, 1), 'voltage')}" if abs(m) > band / 2 else "nothing" for m in middles
        )
        check = Check(
            id=f"volts:{situation.id}:{end}",
            what="volts",
            words=words,
            place=_where(plant, item),
            item=item,
            minutes=VOLTS_MINUTES + LEVER_MINUTES * len(situation.moves) + _way_in(plant, item, terms),
            situation=situation.id,
            moves=situation.moves,
            terminals=(end, AIRFRAME),
            outcomes=labels,
            volts=middles,
        )
        rows.append(_Row(check, outcomes, volts[place]))
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


# -- fuses, lamps, and proof of one suspect --------------------------------------------------------


def _fuse_rows(plant: Plant, faults: Sequence[Fault], goes: Sequence[set[str]], terms: Terms) -> list[_Row]:
    rows = []
    blown = {f.id.removesuffix(".blown"): n for n, f in enumerate(faults) if f.mode == "blown"}
    for name in dict.fromkeys([*blown, *(n for names in goes for n in sorted(names))]):
        item = name.rpartition(".")[0]
        outcomes = tuple(int(blown.get(name) == n or name in goes[n]) for n in range(len(faults)))
        called = lowered(name_of(plant, name))
        check = Check(
            id=f"fuse:{name}",
            what="fuse",
            words=f"Take out the fuse {called}; look at it, ring it, look at its clips.",
            place=_where(plant, item),
            item=item,
            minutes=FUSE_MINUTES + _way_in(plant, item, terms),
            outcomes=("whole and tight", "blown, out or loose"),
        )
        rows.append(_Row(check, outcomes))
    return rows


def _lamp_rows(plant: Plant, faults: Sequence[Fault], terms: Terms) -> list[_Row]:
    rows = []
    for number, fault in enumerate(faults):
        if fault.mode != "burnt-out":
            continue
        item = fault.items[0]
        check = Check(
            id=f"lamp:{fault.id.removesuffix('.burnt-out')}", what="lamp", words=fault.look,
            place=_where(plant, item), item=item, minutes=PROVE_MINUTES["burnt-out"] + _way_in(plant, item, terms),
            outcomes=("the lamp is good", "the lamp is burnt out"),
        )  # fmt: skip
        rows.append(_Row(check, tuple(int(n == number) for n in range(len(faults)))))
    return rows


@dataclass(frozen=True, kw_only=True)
class Proof:
    """What proves one or more suspects: where to look, how long it takes, and their probability together."""

    look: str
    place: str
    minutes: float
    faults: tuple[Fault, ...]
    probability: float
    hazards: tuple[str, ...] = ()


def proofs_of(search: Search, weights: Sequence[float], members: Iterable[int]) -> tuple[Proof, ...]:
    """In what order to prove the suspects that are left: the likeliest for its minutes first.

    Parameters
    ----------
    search
        The table.
    weights
        Probability of each suspect [1].
    members
        Numbers of those that are left.

    Returns
    -------
    tuple of Proof
        Suspects that one look proves are together. For one fault, the order of probability over cost is the best
        there is.

    Source
    ------
    [common-practice]
    """
    by_look: dict[str, list[int]] = {}
    for number in members:
        by_look.setdefault(search.faults[number].look, []).append(number)
    found = []
    for look, numbers in by_look.items():
        faults = tuple(search.faults[n] for n in numbers)
        minutes = min(PROVE_MINUTES.get(f.mode, INSIDE_MINUTES) for f in faults) + WAY_IN
        item = faults[0].items[0] if faults[0].items else ""
        place = _where(search.plant, item) if item else ""
        found.append(
            Proof(
                look=look, place=place, minutes=minutes, faults=faults,
                probability=float(sum(weights[n] for n in numbers)), hazards=warnings_of(search.plant, faults),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda p: (-p.probability / p.minutes, p.look)))


def warnings_of(plant: Plant, faults: Iterable[Fault]) -> tuple[str, ...]:
    """What the kinds of the items concerned say of danger.

    Parameters
    ----------
    plant
        The installation.
    faults
        Any.

    Returns
    -------
    tuple of str
        Each once.
    """
    items = dict.fromkeys(i for f in faults for i in f.items)
    return tuple(
        dict.fromkeys(
            h
            for i in items
            if i in plant.installation.equipment and (h := plant.installation.equipment[i].hazard)
        )
    )


def position_words(plant: Plant, moves: Iterable[tuple[int, float]]) -> tuple[tuple[str, str], ...]:
    """Levers and where they are to stand, for a table.

    Parameters
    ----------
    plant
        The installation.
    moves
        Levers with their values.

    Returns
    -------
    tuple of tuple of str
        (name, position).
    """
    return tuple(
        (lowered(name_of(plant, plant.network.levers[n].name)), lever_words(plant, n, v)) for n, v in moves
    )
