"""Sneak paths: current where nobody meant it to go, with everything in order, and under each single fault.

What is looked for, after the sneak categories of the published handbooks:

* *path*: a lead that carries current one way in one setting and the other way in another, where cutting it
  puts
  out a load: two circuits are joined that should be apart. Under a fault: current backwards through a switch,
  lamp or fuse, or a load that works unasked by such a path.
* *indication*: a lamp that lights for the wrong reason.
* *label*: one control moved, and another one's load answers; a position whose word names the other side.
* *timing*: what chatters, or ends one way or the other by chance.

Which way current is meant to go through a switch is its cables' own direction, ``from`` the feed ``to`` the
load; a bare lead between two circuits has no right way, and either is reported.

**Names.** Every sneak has a name that stays while the record does, whatever else is found beside it:

* with all well: a path is ``LOAD.by.LEAD`` (``lower-hail-lamp.by.H6``: the item that is lit, and the lead, or the
  contact, that carries the current backwards), a label ``LEVER.POSITION.label``, a timing ``RELAY.restless``;
* under a fault: the fault's own id (``earth.hold-bolt.lifted``): there is one sneak a fault.

**Path.** ``steps`` are the marks of its way in the order of the current, from the source to the airframe or the
source's return, each with the two nodes between which it lies; ``settled`` is how the installation stands
before the fault is put in. :func:`loomlore.faults.named_paths.named_path` finds one by its name.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import combinations, groupby, product

import numpy as np

from loomlore.behaviour.exploring import Operation, lever_values
from loomlore.behaviour.influence import influence_of, supply_items
from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import event_words, items_of, name_of
from loomlore.behaviour.tables.reaching import cone_of
from loomlore.behaviour.tables.telling import listed, lowered, order_words
from loomlore.faults.effects import Change, FaultStudy, Observable, changes_of, observables_of
from loomlore.faults.injecting import Struck, run_of
from loomlore.faults.modes import Fault
from loomlore.faults.situations import Situation, charges_of, is_load, loads_of, moved_from, ready
from loomlore.faults.terminals import branch_words, services_at, thing_words
from loomlore.faults.tracing import Step, path_through, path_words
from loomlore.network.building import Plant
from loomlore.network.cases import network_with, opened
from loomlore.network.laws import Battery, Filament, Fuse, Generator, Meter, Rectifier, Source
from loomlore.network.settling import Settled, moved, settle
from loomlore.network.solving import prepare

__all__ = ["Sneak", "sneaks_under_faults", "sneaks_with_all_well"]

LEAST_AMPS = 0.002
"""Amperes under which a current the wrong way is leakage: common practice, no source."""

LEAST_SHARE = 0.01
"""And as a share of what the branch carries the right way."""

RESTLESS = ("chatters", "race")
"""Events of relays that find no rest."""

MOST_SETTINGS = 512
"""Settings of one service that are all tried; above that, every pair of moves."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Sneak:
    """One sneak condition. ``kind`` is path, indication, label or timing; ``fault`` None with all well.

    ``name`` and ``steps``: see the head of this module; ``way`` is the same way in words, from the last fuse.
    ``reversed_`` are the branches that carry current against the usual way; ``settled`` is how things stand,
    before the fault.
    """

    name: str
    kind: str
    words: str
    look: str
    situation: str
    fault: Fault | None = None
    loads: tuple[str, ...] = ()
    reversed_: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    way: str = ""
    services: tuple[str, ...] = ()
    settled: Settled | None = None

    @property
    def path(self) -> tuple[str, ...]:
        """Names of the branches on its way, in the order of the current."""
        return tuple(step.name for step in self.steps)


# -- which way current goes ------------------------------------------------------------------------


@dataclass(eq=False)
class _Ways:
    """The largest current each way through every branch, and the setting that gave it."""

    forward: dict[int, tuple[float, Settled]] = field(default_factory=dict)
    backward: dict[int, tuple[float, Settled]] = field(default_factory=dict)

    def see(self, settled: Settled, numbers: Iterable[int]) -> None:
        """Note a setting."""
        for number in numbers:
            amps = settled.solution.amps(number)
            if abs(amps) < LEAST_AMPS:
                continue
            table = self.forward if amps > 0 else self.backward
            if number not in table or abs(amps) > 1.0001 * table[number][0]:
                table[number] = abs(amps), settled

    def usual(self, number: int) -> int:
        """1 forward, -1 backward, 0 never seen."""
        along = self.forward.get(number, (0.0,))[0]
        against = self.backward.get(number, (0.0,))[0]
        return 0 if along == against == 0.0 else 1 if along >= against else -1

    def most(self, number: int) -> float:
        """Largest current either way [A]."""
        return max(self.forward.get(number, (0.0,))[0], self.backward.get(number, (0.0,))[0])


@lru_cache(maxsize=8)
def _watched(plant: Plant) -> tuple[int, ...]:
    """Branches in which current the other way tells: not the supply's own, nor earths, nor meters."""
    circuit_of = influence_of(plant).circuit_of
    core = supply_items(plant)
    sources = {
        circuit_of[n]
        for n, b in enumerate(plant.network.branches)
        if isinstance(b.law, Battery | Generator | Source)
    }
    cables = plant.installation.dossier.cables
    supplied = {
        n
        for n, b in enumerate(plant.network.branches)
        if b.sort == "cable" and _of_supply(plant, cables[b.name].service)
    }
    return tuple(
        n
        for n, b in enumerate(plant.network.branches)
        if b.sort not in ("bolt", "bond")
        and not isinstance(b.law, Battery | Generator | Source | Meter)
        and circuit_of[n] not in sources | {-1}
        and n not in supplied
        and not (b.item in core and not isinstance(b.law, Fuse))
    )


@lru_cache(maxsize=64)
def _of_supply(plant: Plant, service: str) -> bool:
    items = items_of(plant.installation, service)
    return any(
        b.item in items and isinstance(b.law, Battery | Generator | Source) for b in plant.network.branches
    )


# -- settings --------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Setting:
    """A setting of one service's levers from a base."""

    service: str
    base: Situation
    moves: tuple[tuple[int, float], ...]
    settled: Settled


def service_settings(plant: Plant) -> Iterator[Setting]:
    """Every setting of each service's levers, with supply and without; pairs where they are too many.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    iterator of Setting
        Those that fire a cartridge are left out.
    """
    bases = {ready(plant).id: ready(plant)}
    bases.setdefault("rest", Situation(id="rest", title="at rest", settled=rest(plant)))
    for service in plant.installation.dossier.services:
        items = set(items_of(plant.installation, service))
        loads = [n for n in loads_of(plant) if plant.network.branches[n].item in items]
        if not loads:
            continue
        levers = sorted(cone_of(plant, loads).levers)
        for base in bases.values():
            for moves in _choices(plant, base.settled, levers, whole=base.id != "rest" or len(bases) == 1):
                settled = moved_from(plant, base.settled, dict(moves))
                if all(settled.solution.state(n) == 0 for n in charges_of(plant)):
                    yield Setting(service, base, moves, settled)


def _choices(
    plant: Plant, base: Settled, levers: Sequence[int], *, whole: bool
) -> Iterator[tuple[tuple[int, float], ...]]:
    values = {n: lever_values(plant, n) for n in levers}
    count = 1
    for tried in values.values():
        count *= len(tried)
    stands = base.memory.levers
    if whole and count <= MOST_SETTINGS:
        for choice in product(*values.values()):
            yield tuple((n, v) for n, v in zip(levers, choice, strict=True) if v != stands[n])
        return
    yield ()
    singles = [(n, v) for n in levers for v in values[n] if v != stands[n]]
    for one in singles:
        yield (one,)
    for first, second in combinations(singles, 2) if len(singles) <= 30 else ():
        if first[0] != second[0]:
            yield first, second


# -- with all well ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class AllWell:
    """What was seen with everything in order."""

    ways: _Ways
    settings: Mapping[int, Setting]
    restless: tuple[tuple[Setting, str, str], ...]


@lru_cache(maxsize=4)
def all_well(plant: Plant) -> AllWell:
    """Go through every service's settings and note which way current goes.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    AllWell
        Made once.
    """
    ways, settings = _Ways(), {}
    restless: list[tuple[Setting, str, str]] = []
    for setting in service_settings(plant):
        settings[id(setting.settled)] = setting
        ways.see(setting.settled, _watched(plant))
        events = setting.settled.events
        restless += [
            (setting, event_words(plant, event), event.names[0]) for event in events if event.what in RESTLESS
        ]
    return AllWell(ways, settings, tuple(restless))


def sneaks_with_all_well(plant: Plant) -> tuple[Sneak, ...]:
    """Sneak paths, labels and timings of an installation in which everything works.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of Sneak
        Paths first.

    Source
    ------
    [mil-std-1543b], [mil-std-785b task 205]
    """
    seen = all_well(plant)
    found: list[Sneak] = []
    runs: dict[int, list[int]] = {}
    for number in _watched(plant):
        along = seen.ways.forward.get(number, (0.0,))[0]
        against = seen.ways.backward.get(number, (0.0,))[0]
        if min(along, against) >= max(LEAST_AMPS, LEAST_SHARE * max(along, against)):
            runs.setdefault(run_of(plant, number), []).append(number)
    found += _one_a_setting([sneak for numbers in runs.values() for sneak in _of_run(plant, seen, numbers)])
    found += _by_label(plant)
    found += [_restless(plant, *rest) for rest in seen.restless[:20]]
    return tuple(_each_by_its_name(found))


def _one_a_setting(found: Sequence[Sneak]) -> Iterator[Sneak]:
    """Of several leads on one way in one setting, the one that puts most out; which is wrong nobody can tell."""
    by_setting: dict[tuple[str, tuple[str, ...]], list[Sneak]] = {}
    for sneak in found:
        by_setting.setdefault((sneak.situation, sneak.services), []).append(sneak)
    for those in by_setting.values():
        first = max(those, key=lambda sneak: len(sneak.loads))
        others = [
            s.name.partition(".by.")[2] for s in those if s is not first and set(s.loads) & set(first.loads)
        ]
        rest = [s for s in those if s is not first and not set(s.loads) & set(first.loads)]
        more = f" Or it is {listed(others, 'or')}, by which the same current goes." if others else ""
        yield replace(first, look=f"{first.look}{more}")
        yield from rest


def _each_by_its_name(found: Sequence[Sneak]) -> Iterator[Sneak]:
    """A second of one name gets a number."""
    counted: Counter[str] = Counter()
    for sneak in found:
        counted[sneak.name] += 1
        count = counted[sneak.name]
        yield sneak if count == 1 else replace(sneak, name=f"{sneak.name}.{count}")


def _of_run(plant: Plant, seen: AllWell, numbers: Sequence[int]) -> Iterator[Sneak]:
    branches = plant.network.branches
    number = min(
        numbers,
        key=lambda n: ("contact", "fuse", "element", "cable", "joint", "bridge").index(branches[n].sort),
    )
    bare = all(branches[n].sort in ("cable", "joint") for n in numbers)
    tried: set[tuple[str, ...]] = set()
    tie = len(_feeds(plant, seen, number)) < 2
    for along in (False, True):
        setting = _setting_of(seen, number, numbers, branches, along=along)
        if setting is None or (along and not bare):
            continue
        found = _cut(plant, seen, setting, number, numbers, tie=tie)
        if found is not None and found.loads not in tried:
            tried.add(found.loads)
            yield found


def _feeds(plant: Plant, seen: AllWell, number: int) -> set[str]:
    """The fuses from which a branch is fed, the one way and the other."""
    found = set()
    for table in (seen.ways.forward, seen.ways.backward):
        path = path_through(table[number][1], number)
        steps = [step.name for step in path.steps[: path.at] if not step.against]
        fuses = [n for n in steps if isinstance(_law(plant, n), Fuse)]
        found |= set(fuses[-1:])
    return found


def _law(plant: Plant, name: str) -> object:
    number = plant.network.branch_of.get(name)
    return None if number is None else plant.network.branches[number].law


def _setting_of(
    seen: AllWell, number: int, numbers: Sequence[int], branches: Sequence[object], *, along: bool
) -> Setting | None:
    """A setting in which the run carries current along (or against) the direction of its cables."""
    votes = 0
    tables = seen.ways.forward, seen.ways.backward
    settled = tables[0][number][1]
    for other in numbers:
        if getattr(branches[other], "sort", "") == "cable":
            votes += 1 if settled.solution.amps(other) > 0 else -1
    forward_is_along = votes >= 0
    table = tables[0] if forward_is_along == along else tables[1]
    return seen.settings.get(id(table[number][1])) if number in table else None


def _cut(
    plant: Plant, seen: AllWell, setting: Setting, number: int, numbers: Sequence[int], *, tie: bool
) -> Sneak | None:
    """What goes out when the run is cut; None where nothing does.

    Loads that are always on together may well be tied on purpose (``tie``): not where the lead is fed from two
    fuses, for then each had a circuit of its own.
    """
    solver = prepare.__wrapped__(network_with(plant.network, opened(plant.network, number)))
    cut = settle(solver, setting.settled.memory)
    lost = [c for c in changes_of(plant, setting.settled, cut)[0] if c.kind in ("lost", "weak")]
    if not lost or (tie and _always_together(plant, seen, setting, lost[0].name)):
        return None
    names = tuple(dict.fromkeys(c.name for c in lost))
    loads = {plant.network.branch_of.get(name, -1) for name in names} - {-1}
    through = min(loads) if loads else number
    path = path_through(setting.settled, through)
    lead = _lead(plant, numbers)
    proper = _proper_orders(plant, cut, names[0])
    orders = [
        order_words(plant, Operation(lever, value)) for lever, value in (*setting.base.moves, *setting.moves)
    ]
    said = [f"the {lowered(name_of(plant, c.name))} is {c.before}" for c in lost]
    instead = f" Of its own it should wait until you {listed(proper, 'or')}." if proper else ""
    words = (
        f"{_sentence(listed(orders) or 'leave everything at rest')}: {listed(said)} by way of "
        f"{lead}.{instead} In another setting {lead} carries the current the other way."
    )
    look = (
        f"Take {lead} off at one end and try again: if {thing_words(plant, names[0].rpartition('.')[0])} "
        "goes out, it joins two circuits that should be apart. See what the drawing shows there."
    )
    item = names[0].rpartition(".")[0]
    return Sneak(
        name=f"{item}.by.{_lead_name(plant, numbers)}",
        kind="path",
        words=words,
        look=look,
        situation=listed(orders),
        loads=names,
        reversed_=tuple(plant.network.branches[n].name for n in numbers),
        steps=path.steps,
        way=path_words(plant, path),
        services=(setting.service,),
        settled=setting.settled,
    )


def _always_together(plant: Plant, seen: AllWell, setting: Setting, name: str) -> bool:
    """Whether a load is on exactly when the others that are on here are: one lead feeds them all."""
    things = {
        thing.name: thing
        for thing in observables_of(plant)
        if thing.service == setting.service or thing.name == name
    }
    others = [t for t in things.values() if t.name != name and _on(t, setting.settled)]
    own = things[name]
    same = [s.settled for s in seen.settings.values() if s.service == setting.service]
    return bool(others) and all(_on(own, s) == _on(other, s) for other in others for s in same)


def _on(thing: Observable, settled: Settled) -> bool:
    return any(settled.solution.state(n) > 0 for n in thing.branches)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lead(plant: Plant, numbers: Sequence[int]) -> str:
    branches = [plant.network.branches[n] for n in numbers]
    contacts = [b for b in branches if b.sort == "contact"]
    if contacts:
        return f"the {branch_words(plant, contacts[0].name, 'contact')}"
    return listed([branch_words(plant, b.name, b.sort) for b in branches[:3]])


def _lead_name(plant: Plant, numbers: Sequence[int]) -> str:
    branches = [plant.network.branches[n] for n in numbers]
    return next((b.name for b in branches if b.sort == "contact"), branches[0].name)


def _proper_orders(plant: Plant, cut: Settled, name: str) -> list[str]:
    """Single moves that bring a load on by its own way, with the sneak path cut."""
    number = plant.network.branch_of.get(name, -1)
    if number < 0:
        return []
    found = []
    for lever in sorted(cone_of(plant, (number,)).levers):
        for value in lever_values(plant, lever):
            if value == cut.memory.levers[lever]:
                continue
            there = settle(cut.solution.solver, moved(cut.memory, {lever: value}))
            if there.solution.state(number) > cut.solution.state(number):
                found.append(order_words(plant, Operation(lever, value)))
                break
    return found[:3]


def _restless(plant: Plant, setting: Setting, words: str, relay: str) -> Sneak:
    orders = [
        order_words(plant, Operation(lever, value)) for lever, value in (*setting.base.moves, *setting.moves)
    ]
    return Sneak(
        name=f"{relay.replace(' ', '-')}.restless",
        kind="timing",
        words=f"{_sentence(listed(orders))}: {words}",
        situation=listed(orders),
        services=(setting.service,),
        settled=setting.settled,
        look="Try it slowly and listen to the relays; look at the order in which their contacts part.",
    )


OPPOSITES = (
    ("left", "right"),
    ("port", "starboard"),
    ("upper", "lower"),
    ("forward", "aft"),
    ("front", "rear"),
    ("inner", "outer"),
)


def _by_label(plant: Plant) -> Iterator[Sneak]:
    """A position or control whose word names one side, and the other side's thing that answers it."""
    opposite = {a: b for pair in OPPOSITES for a, b in (pair, pair[::-1])}
    things = (
        *loads_of(plant),
        *(n for n, b in enumerate(plant.network.branches) if type(b.law).__name__ == "Magneto"),
    )
    base = ready(plant).settled
    for number, lever in enumerate(plant.network.levers):
        for value, word in enumerate(lever.positions):
            named = set(word.split("-")) & opposite.keys() or (
                set(lever.name.rpartition(".")[2].split("-")) & opposite.keys()
                if value != lever.start
                else set()
            )
            if len(named) != 1 or lever.world:
                continue
            there = moved_from(plant, base, {number: float(value)})
            answers = [n for n in things if _answers(plant, base, there, n)]
            own = named.pop()
            words = {n: set(plant.network.branches[n].item.split("-")) for n in answers}
            wrong = [n for n in answers if opposite[own] in words[n] and own not in words[n]]
            if wrong and not any(own in words[n] for n in answers):
                yield _label(plant, there, number, float(value), wrong[0], own)


def _answers(plant: Plant, base: Settled, there: Settled, number: int) -> bool:
    """Whether a thing comes to work, or a magneto to life."""
    if type(plant.network.branches[number].law).__name__ == "Magneto":
        return base.solution.state(number) == 1 and there.solution.state(number) == 0
    return there.solution.state(number) > base.solution.state(number)


def _label(plant: Plant, there: Settled, lever: int, value: float, number: int, word: str) -> Sneak:
    order = order_words(plant, Operation(lever, value))
    name = thing_words(plant, plant.network.branches[number].item)
    control = plant.network.levers[lever]
    carries = abs(there.solution.amps(number)) > LEAST_AMPS
    return Sneak(
        name=f"{control.name}.{control.positions[int(value)]}.label",
        kind="label",
        services=services_at(plant, (plant.network.branches[number].item,), ()),
        settled=there,
        steps=path_through(there, number).steps if carries else (),
        situation=order,
        loads=(plant.network.branches[number].name,),
        words=f"{_sentence(order)}: {name} answers, and nothing that is called {word}. Its leads are "
        "crossed, or its plate is wrong.",
        look=f"Ring the leads of {name} through to the control, and read the plate again.",
    )


# -- under each fault ------------------------------------------------------------------------------


def sneaks_under_faults(study: FaultStudy) -> tuple[Sneak, ...]:
    """Sneak paths and false indications that single faults open.

    Parameters
    ----------
    study
        Made with ``keep=True``.

    Returns
    -------
    tuple of Sneak
        One a fault, in the situation where most works unasked; the most first.
    """
    plant = study.plant
    ways = all_well(plant).ways
    watch = [n for n in _watched(plant) if _tells(plant, n) and ways.usual(n)]
    best: dict[str, tuple[tuple[int, int, int], Struck, list[int], list[str]]] = {}
    for one, turned in _turned(plant, study.results, ways, watch):
        if one.fault.mode in ("crossed", "reversed"):
            continue
        backwards = _backwards(one, one.settled(plant), ways, turned)
        if not backwards:
            continue
        effects = study.effects.get(one.fault.id, ())
        unasked = [
            c.name for e in effects if e.situation is one.situation for c in e.changes if c.kind == "unasked"
        ]
        switches = sum(plant.network.branches[n].sort in ("contact", "fuse") for n in backwards)
        rank = (len(unasked), switches, -len(one.situation.moves))
        if one.fault.id not in best or rank > best[one.fault.id][0]:
            best[one.fault.id] = rank, one, backwards, unasked
    ordered = sorted(best.values(), key=lambda entry: entry[0], reverse=True)
    found = [_under_fault(plant, one, backwards, unasked) for _, one, backwards, unasked in ordered]
    return (*found, *_indications(study, {s.fault.id for s in found if s.fault}), *_answering_wrongly(study))


def _tells(plant: Plant, number: int) -> bool:
    branch = plant.network.branches[number]
    return (
        branch.sort in ("contact", "fuse")
        or isinstance(branch.law, Filament | Rectifier)
        or is_load(plant, number)
    )


def _turned(
    plant: Plant, results: Sequence[Struck], ways: _Ways, watch: Sequence[int]
) -> Iterator[tuple[Struck, list[int]]]:
    """Faults under which the volts across something that is watched have turned round, with what it is."""
    branches = plant.network.branches
    a, b = ([getattr(branches[n], end) for n in watch] for end in ("a", "b"))
    usual = np.array([ways.usual(n) for n in watch])[:, None]
    for _, those in groupby(results, key=lambda one: id(one.spread)):
        some = list(those)
        potentials = some[0].spread.potentials
        turned = (potentials[a] - potentials[b]) * usual < -1e-7
        for one in some:
            if turned[:, one.column].any():
                yield one, [watch[int(place)] for place in np.flatnonzero(turned[:, one.column])]


def _backwards(one: Struck, after: Settled, ways: _Ways, turned: Sequence[int]) -> list[int]:
    """Switches, fuses, lamps and loads that carry current against their usual way."""
    changed = {n for n, _ in one.case.branches}
    found = []
    for number in turned:
        if number in changed or isinstance(after.solution.solver.network.branches[number].law, Rectifier):
            continue
        amps = after.solution.amps(number)
        if (
            abs(amps) > max(2.5 * LEAST_AMPS, LEAST_SHARE * ways.most(number))
            and amps * ways.usual(number) < 0
        ) and one.situation.settled.solution.amps(number) * ways.usual(number) >= -LEAST_AMPS:
            found.append(number)
    return found


def _under_fault(plant: Plant, one: Struck, backwards: Sequence[int], unasked: Sequence[str]) -> Sneak:
    after = one.settled(plant)
    branches = plant.network.branches
    number = _load_on_the_way(plant, after, backwards, unasked)
    path = path_through(after, number, one.case.extra)
    names = [f"the {branch_words(plant, branches[n].name, branches[n].sort)}" for n in backwards]
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    works = (
        f" {_sentence(listed([f'the {lowered(name_of(plant, n))}' for n in unasked[:5]]))} "
        f"{'work' if len(unasked) > 1 else 'works'} unasked."
        if unasked
        else ""
    )
    words = (
        f"{_sentence(one.fault.words)}; {one.situation.words(plant, _concerned(plant, one, unasked))}: current goes "
        "backwards through "
        f"{listed(names[:4]) if not more else ', '.join(names[:4])}{more}.{works}"
    )
    return Sneak(
        name=one.fault.id,
        kind="path",
        words=words,
        look=one.fault.look,
        situation=one.situation.id,
        fault=one.fault,
        loads=tuple(unasked),
        reversed_=tuple(branches[n].name for n in backwards),
        steps=path.steps,
        way=path_words(plant, path, one.case.extra),
        services=one.fault.services,
        settled=one.situation.settled,
    )


def _concerned(plant: Plant, one: Struck, loads: Sequence[str]) -> tuple[str, ...]:
    """The services of a fault and of what works by it, on whose controls it depends."""
    items = [name.rpartition(".")[0] for name in loads]
    return *one.fault.services, *(s for item in items for s in services_at(plant, (item,), ()))


def _load_on_the_way(plant: Plant, after: Settled, backwards: Sequence[int], unasked: Sequence[str]) -> int:
    """The branch to trace: a load that is fed backwards, else the strongest backward current."""
    by_name = [plant.network.branch_of[name] for name in unasked if name in plant.network.branch_of]
    both = [n for n in by_name if n in backwards]
    if both:
        return max(both, key=lambda n: abs(after.solution.amps(n)))
    return max(
        backwards, key=lambda n: (plant.network.branches[n].sort != "contact", abs(after.solution.amps(n)))
    )


INDICATORS = ("indicator", "twin-lamp", "earth-lamps")


def is_indicator(plant: Plant, item: str) -> bool:
    """Whether an item tells the crew something: a warning lamp, a window, an indicator.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.

    Returns
    -------
    bool
        By its kind or its symbol.
    """
    equipment = plant.installation.equipment.get(item)
    return equipment is not None and (
        equipment.symbol in INDICATORS or equipment.kind.startswith("warning-lamp")
    )


def _indications(study: FaultStudy, told: set[str]) -> Iterator[Sneak]:
    """Warning lamps and windows that light for the wrong reason."""
    plant = study.plant
    said: set[str] = set(told)
    for one in study.results:
        fault = one.fault
        if fault.id in said or fault.mode == "crossed":
            continue
        effects = [e for e in study.effects.get(fault.id, ()) if e.situation is one.situation]
        false = [c for e in effects for c in e.changes if c.kind == "unasked" and is_indicator(plant, c.item)]
        if not false or _truly_so(plant, one, effects[0].changes):
            continue
        said.add(fault.id)
        lit = listed([f"the {lowered(name_of(plant, c.name))} is {c.after}" for c in false])
        when = one.situation.words(plant, fault.services)
        yield Sneak(
            name=fault.id,
            kind="indication",
            settled=one.situation.settled,
            steps=_way_of_load(plant, one, false[0].name),
            words=f"{_sentence(fault.words)}; {when}: {lit} for the wrong reason.",
            look=fault.look,
            situation=one.situation.id,
            fault=fault,
            loads=tuple(c.name for c in false),
            services=fault.services,
        )


def _way_of_load(plant: Plant, one: Struck, name: str) -> tuple[Step, ...]:
    """The way of the current through a load that works under a fault; nothing where none flows."""
    after = one.settled(plant)
    thing = next((t for t in observables_of(plant) if t.name == name), None)
    lit = [n for n in thing.branches if abs(after.solution.amps(n)) > LEAST_AMPS] if thing else []
    return path_through(after, lit[0], one.case.extra).steps if lit else ()


def _truly_so(plant: Plant, one: Struck, changes: Sequence[Change]) -> bool:
    """Whether a relay, a machine or a load has changed with the lamp, so that it may well be right."""
    if any(c.kind in ("unasked", "lost", "blows") and not is_indicator(plant, c.item) for c in changes):
        return True
    before, now = one.situation.settled.memory.variables, one.variables
    kinds = ("coil", "latch", "blown")
    if any(v.what in kinds and before[n] != now[n] for n, v in enumerate(plant.network.variables)):
        return True
    machines = [n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Generator)]
    solution = one.situation.settled.solution
    return any((solution.state(n) == 0) != (one.state(n) == 0) for n in machines)


def _answering_wrongly(study: FaultStudy) -> Iterator[Sneak]:
    """Crossed leads: one control moved, and another one's load answers."""
    plant = study.plant
    worked = {(one.fault.id, one.situation.id): one for one in study.results}
    for fault in study.faults:
        if fault.mode != "crossed" or study.alike[fault.id].id != fault.id:
            continue
        for effect in study.effects.get(fault.id, ()):
            lost = [c for c in effect.changes if c.kind == "lost"]
            unasked = [c for c in effect.changes if c.kind == "unasked"]
            if lost and unasked:
                words = (
                    f"{_sentence(fault.words)}; {effect.situation.words(plant, fault.services)}: "
                    f"the {lowered(name_of(plant, unasked[0].name))} answers in place of the "
                    f"{lowered(name_of(plant, lost[0].name))}."
                )
                one = worked.get((fault.id, effect.situation.id))
                yield Sneak(
                    name=fault.id,
                    kind="label",
                    settled=effect.situation.settled,
                    steps=_way_of_load(plant, one, unasked[0].name) if one else (),
                    words=words,
                    look=fault.look,
                    situation=effect.situation.id,
                    fault=fault,
                    loads=(unasked[0].name,),
                    services=fault.services,
                )
                break
