"""From what is seen to what is wrong: suspects with their probability, and every check with its outcome under each.

A :class:`Search` is one table. Its columns are suspects, each with a weight; its rows are checks, each with
minutes and with the outcome that each suspect would give. Checks are of five kinds:

* *see*: set the controls so, and look or listen;
* *volts*: set the controls so, and put a voltmeter from a terminal to the airframe (:mod:`.metering`);
* *ohms*: the battery off, ohms between two terminals, with or without a plug parted, a bolt lifted, a fuse out
  (:mod:`.ringing`);
* *fuse*: take a fuse out and look at it; fit the right one and see whether it goes again;
* *lamp*: take a lamp out and try it.

What none of these tells apart is one group. It is then proved, suspect by suspect, by what its fault says to look
at (:func:`proofs_of`): ring the lead, undo the bolt, open the item.

A suspect that changes no current as things stand (:func:`changes_nothing`) is not worked out: its looks are those
of a sound installation, and its volts differ only where something is cut off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loomlore.behaviour.operating import lever_words
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import lowered
from loomlore.faults.effects import Effect, effects_of, observables_of
from loomlore.faults.injecting import Struck, Workshop, case_of, struck
from loomlore.faults.locating.checks import (
    FUSE_MINUTES,
    SEE_MINUTES,
    WAY_IN,
    WELL,
    Check,
    Row,
    Terms,
    feeding_services,
    lever_minutes,
    numbered,
    setting_words,
    way_in,
    where,
)
from loomlore.faults.locating.metering import banded, probed_terminals, volt_rows, volts_of
from loomlore.faults.locating.ringing import ring_rows
from loomlore.faults.locating.sequencing import Trial
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.situations import Situation
from loomlore.faults.terminals import services_at
from loomlore.network.building import Plant
from loomlore.network.cases import Case
from loomlore.network.laws import Straight
from loomlore.network.model import Branch
from loomlore.network.settling import Settled
from loomlore.network.solving import Solution
from loomlore.quantities import as_written

__all__ = [
    "WELL",
    "Check",
    "Proof",
    "Search",
    "Terms",
    "banded",
    "changes_nothing",
    "proofs_of",
    "search_of",
    "seen_of",
    "suspects_of",
    "telling_situations",
    "warnings_of",
    "weights_of",
]

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
        wanted |= feeding_services(plant)
    return tuple(f for f in faults_of(plant) if not f.services or wanted & set(f.services))


def telling_situations(
    plant: Plant,
    situations: Sequence[Situation],
    services: Iterable[str],
    *,
    most: int = 3,
    begun: Situation | None = None,
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
    begun
        One that is taken in any case, and comes first; others are taken only for what is idle in it.

    Returns
    -------
    tuple of Situation
        At least one.
    """
    wanted = set(services)
    numbers = [n for o in observables_of(plant) if not wanted or o.service in wanted for n in o.branches]
    left = set(numbers)
    chosen: list[Situation] = [] if begun is None else [begun]
    left -= {n for n in left for s in chosen if _active(s.settled, n)}
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
    told: Callable[[], None] | None = None,
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
    told
        Called after each situation.

    Returns
    -------
    Search
        Ready to hunt in.
    """
    given = terms or Terms()
    shop = workshop or Workshop(plant)
    wanted = frozenset(services)
    ends = probed_terminals(plant, wanted, faults) if given.metered else ()
    rows: list[Row] = []
    goes: list[set[str]] = [set() for _ in faults]
    for situation in situations:
        cases, results = _worked_out(shop, situation, faults)
        effects = _effects(plant, results)
        rows += _see_rows(plant, situation, effects, given, wanted)
        if ends:
            volts = volts_of(plant, situation, cases, results, ends)
            rows += volt_rows(plant, situation, ends, volts, terms=given, wanted=wanted)
        for place, effect in enumerate(effects):
            goes[place] |= {c.name for c in effect.changes if c.kind == "blows"} if effect else set()
        if told is not None:
            told()
    rows += _fuse_rows(plant, faults, goes, given)
    rows += _lamp_rows(plant, faults, given)
    if ends and given.dead and situations:
        rows += ring_rows(plant, situations[0], faults, goes, services=wanted, terms=given)
    rows = [row for row in rows if len(set(row.outcomes)) > 1] or rows[:1]
    blank = np.full(len(faults), np.nan)
    return Search(
        plant=plant,
        situations=tuple(situations),
        faults=tuple(faults),
        weights=weights_of(faults, after_rebuild=given.after_rebuild),
        checks=tuple(row.check for row in rows),
        table=np.array([row.outcomes for row in rows], dtype=np.int64).reshape(len(rows), len(faults)),
        readings=np.array([blank if row.readings is None else row.readings for row in rows]).reshape(
            len(rows), len(faults)
        ),
    )


def weights_of(faults: Sequence[Fault], *, after_rebuild: bool) -> NDArray[np.float64]:
    """Weight of each suspect before anything is known.

    Parameters
    ----------
    faults
        The suspects.
    after_rebuild
        For an installation just worked on; else by failures in service.

    Returns
    -------
    array
        Adding up to one [1].
    """
    weights = np.array([f.likelihood if after_rebuild else f.rate.of_mode for f in faults], dtype=np.float64)
    if weights.sum() <= 0:
        weights = np.ones(len(faults))
    return weights / weights.sum() if len(faults) else weights


def _worked_out(
    shop: Workshop, situation: Situation, faults: Sequence[Fault]
) -> tuple[list[Case | None], list[Struck | None]]:
    """What each suspect changes, and what comes of it; None where no current and no contact changes."""
    base = situation.settled
    cases = [case_of(shop.plant, fault, base) for fault in faults]
    at_work = [
        f for f, c in zip(faults, cases, strict=True) if c is not None and not changes_nothing(base, c)
    ]
    results = {one.fault.id: one for one in struck(shop, situation, at_work)}
    return cases, [results.get(fault.id) for fault in faults]


def _effects(plant: Plant, results: Sequence[Struck | None]) -> list[Effect | None]:
    some = [one for one in results if one is not None]
    found = {id(one): effect for one, effect in zip(some, effects_of(plant, some), strict=True)}
    return [None if one is None else found[id(one)] for one in results]


SAME_AMPS = 1e-9
"""Amperes by which a current may differ and still be the same."""


def changes_nothing(base: Settled, case: Case) -> bool:
    """Whether a case leaves every potential as it is: all that changes carries what it carried before.

    Parameters
    ----------
    base
        The installation before.
    case
        What is changed.

    Returns
    -------
    bool
        True only where it is certain: Kirchhoff's law then still holds with the potentials of before, and
        nothing that remembers is touched.
    """
    solution = base.solution
    if case.memory is not None:
        return False
    for number, branch in case.branches:
        old = solution.solver.network.branches[number]
        if not (isinstance(branch.law, Straight) and isinstance(old.law, Straight)):
            return False
        if branch.closed is not None or branch.works is not None or branch.follows >= 0:
            return False
        amps = solution.volts(number) * branch.law.conductance(works=True, lever=0.0)
        if abs(amps - solution.amps(number)) > SAME_AMPS or _parted(solution, branch):
            return False
    return not any(
        solution.islands[b.a] != solution.islands[b.b]
        or abs(solution.potentials[b.a] - solution.potentials[b.b]) > SAME_AMPS
        for b in case.extra
    )  # fmt: skip


def _parted(solution: Solution, branch: Branch) -> bool:
    return solution.islands[branch.a] != solution.islands[branch.b]


# -- looking -----------------------------------------------------------------------------------------------------


def _see_rows(
    plant: Plant, situation: Situation, effects: Sequence[Effect | None], terms: Terms, wanted: frozenset[str]
) -> list[Row]:
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
        labels, outcomes = numbered([WELL, *(labels.get(name, WELL) for labels in seen)])
        setting = setting_words(plant, situation, wanted or frozenset(services_at(plant, (item,), ())))
        called = lowered(name_of(plant, name))
        words = (
            f"{setting}; see whether the fuse of the {called} goes"
            if fuse
            else f"{setting}; look at the {called}"
        )
        minutes = (
            SEE_MINUTES
            + lever_minutes(situation)
            + (FUSE_MINUTES + way_in(plant, item, terms) if fuse else 0.0)
        )
        check = Check(
            id=f"see:{situation.id}:{name}",
            what="see",
            words=f"{words}.",
            place=where(plant, item),
            item=item,
            minutes=minutes,
            situation=situation.id,
            moves=situation.moves,
            outcomes=tuple(_seen_words(plant, name, label, situation) for label in labels),
        )
        rows.append(Row(check, outcomes[1:]))
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
        if change.kind in _UNSEEN or change.name in found:
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


_UNSEEN = frozenset({"overload", "above-no-fire", "unfused", "live", "stopped", "overcharged"})
"""Kinds of change that nobody sees from where he stands."""


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


# -- fuses, lamps, and proof of one suspect --------------------------------------------------------


def _fuse_rows(plant: Plant, faults: Sequence[Fault], goes: Sequence[set[str]], terms: Terms) -> list[Row]:
    rows = []
    blown = {f.id.removesuffix(".blown"): n for n, f in enumerate(faults) if f.mode == "blown"}
    for name in dict.fromkeys([*blown, *(n for names in goes for n in sorted(names))]):
        item = name.rpartition(".")[0]
        outcomes = tuple(int(blown.get(name) == n or name in goes[n]) for n in range(len(faults)))
        called = lowered(name_of(plant, name))
        check = Check(
            id=f"fuse:{name}",
            what="fuse",
            words=f"Take out the fuse of the {called}; look at it, ring it, look at its clips.",
            place=where(plant, item),
            item=item,
            minutes=FUSE_MINUTES + way_in(plant, item, terms),
            outcomes=("whole and tight", "blown, out or loose"),
        )
        rows.append(Row(check, outcomes))
    return rows


def _lamp_rows(plant: Plant, faults: Sequence[Fault], terms: Terms) -> list[Row]:
    rows = []
    for number, fault in enumerate(faults):
        if fault.mode != "burnt-out":
            continue
        item = fault.items[0]
        check = Check(
            id=f"lamp:{fault.id.removesuffix('.burnt-out')}", what="lamp", words=fault.look,
            place=where(plant, item), item=item, minutes=PROVE_MINUTES["burnt-out"] + way_in(plant, item, terms),
            outcomes=("the lamp is good", "the lamp is burnt out"),
        )  # fmt: skip
        rows.append(Row(check, tuple(int(n == number) for n in range(len(faults)))))
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
        place = where(search.plant, item) if item else ""
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
