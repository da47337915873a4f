"""Sneak paths and false indications that single faults open, each in the situation where most works unasked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np

from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.effects import Change, FaultStudy, observables_of
from loomlore.faults.injecting import Struck
from loomlore.faults.situations import is_load
from loomlore.faults.sneaks.sneak import Sneak, sentence
from loomlore.faults.sneaks.ways import LEAST_AMPS, LEAST_SHARE, Ways, all_well, watched
from loomlore.faults.terminals import branch_words, services_at
from loomlore.faults.tracing import Step, path_through, path_words
from loomlore.network.building import Plant
from loomlore.network.laws import Filament, Generator, Rectifier
from loomlore.network.settling import Settled

__all__ = ["is_indicator", "sneaks_under_faults"]


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
    watch = [n for n in watched(plant) if _tells(plant, n) and ways.usual(n)]
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
    plant: Plant, results: Sequence[Struck], ways: Ways, watch: Sequence[int]
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


def _backwards(one: Struck, after: Settled, ways: Ways, turned: Sequence[int]) -> list[int]:
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
        f" {sentence(listed([f'the {lowered(name_of(plant, n))}' for n in unasked[:5]]))} "
        f"{'work' if len(unasked) > 1 else 'works'} unasked."
        if unasked
        else ""
    )
    words = (
        f"{sentence(one.fault.words)}; {one.situation.words(plant, _concerned(plant, one, unasked))}: current goes "
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
            words=f"{sentence(fault.words)}; {when}: {lit} for the wrong reason.",
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
                    f"{sentence(fault.words)}; {effect.situation.words(plant, fault.services)}: "
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
