"""Sneak paths, wrong labels and restless relays of an installation in which every part does what it should."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from loomlore.behaviour.exploring import Operation, lever_values
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.reaching import cone_of
from loomlore.behaviour.tables.telling import listed, lowered, order_words
from loomlore.faults.effects import Observable, changes_of, observables_of
from loomlore.faults.injecting import run_of
from loomlore.faults.situations import loads_of, moved_from, ready
from loomlore.faults.sneaks.sneak import Sneak, sentence
from loomlore.faults.sneaks.ways import LEAST_AMPS, LEAST_SHARE, AllWell, Setting, all_well, watched
from loomlore.faults.terminals import branch_words, services_at, thing_words
from loomlore.faults.tracing import path_through, path_words
from loomlore.network.building import Plant
from loomlore.network.cases import network_with, opened
from loomlore.network.laws import Fuse
from loomlore.network.settling import Settled, moved, settle
from loomlore.network.solving import prepare

__all__ = ["sneaks_with_all_well"]


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
    for number in watched(plant):
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
        f"{sentence(listed(orders) or 'leave everything at rest')}: {listed(said)} by way of "
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
        words=f"{sentence(listed(orders))}: {words}",
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
        words=f"{sentence(order)}: {name} answers, and nothing that is called {word}. Its leads are "
        "crossed, or its plate is wrong.",
        look=f"Ring the leads of {name} through to the control, and read the plate again.",
    )
