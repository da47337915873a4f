"""What every single fault does, as the crew would see it, in every situation.

A *change* is one load, window, gauge or fuse that does something else than it does there with all well: it is
lost, weak, works unasked, is brighter or dimmer, misreads; a fuse goes. What changes nothing anywhere is
hidden, and so is what leaves a window lit on its other lamp.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import groupby

from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.injecting import Struck, Workshop, representatives, struck
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.observing import (
    Observable,
    endangered_by,
    may_differ,
    observables_of,
    same_volts,
)
from loomlore.faults.situations import Situation, charges_of, magnetos_of, situations_of
from loomlore.faults.terminals import services_at
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Filament, Fuse, Meter, Straight, light
from loomlore.network.settling import Settled
from loomlore.quantities import as_written

__all__ = [
    "Change",
    "Effect",
    "FaultStudy",
    "Observable",
    "changes_of",
    "effect_words",
    "effects_of",
    "fault_study",
    "observables_of",
]

DIM, BRIGHT = 0.7, 1.4
"""A lamp's light that differs by this much from what it was is noticed: common practice, no source."""

MISREADS = 0.05
"""A pointer that is off by this share of its scale is noticed: common practice, no source."""

KINDS = (
    "fires",
    "above-no-fire",
    "live",
    "unfused",
    "unasked",
    "lost",
    "weak",
    "stopped",
    "misreads",
    "overcharged",
    "over-run",
    "brighter",
    "dimmer",
    "blows",
    "overload",
    "chatters",
    "race",
)
"""Kinds of change, the gravest first."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is otherwise than with all well. ``kind`` is one of :data:`KINDS`."""

    name: str
    item: str
    service: str
    kind: str
    before: str
    after: str

    def words(self, plant: Plant) -> str:
        """As a fitter says it: ``the tail lamp is out``."""
        return _change_words(plant, self)


@dataclass(frozen=True, eq=False)
class Effect:
    """What one fault does in one situation."""

    fault: Fault
    situation: Situation
    changes: tuple[Change, ...]
    quiet: tuple[Change, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class FaultStudy:
    """Every single fault in every situation.

    ``effects`` has, for each fault's id, the situations in which anything changes. ``alike`` gives each fault
    the one that was worked out in its stead: what has the same one cannot be told apart by any reading.
    """

    plant: Plant
    situations: tuple[Situation, ...]
    faults: tuple[Fault, ...]
    effects: Mapping[str, tuple[Effect, ...]]
    alike: Mapping[str, Fault]
    cases: int = 0
    results: Sequence[Struck] = field(default=(), repr=False)

    @property
    def hidden(self) -> tuple[Fault, ...]:
        """Faults that nobody sees in any situation."""
        return tuple(f for f in self.faults if not any(e.changes for e in self.effects.get(f.id, ())))

    def symptoms(self) -> dict[tuple[str, str, str], tuple[Fault, ...]]:
        """Faults by what is seen: (observable, kind of change, situation's id)."""
        table: dict[tuple[str, str, str], dict[str, Fault]] = {}
        for fault in self.faults:
            for effect in self.effects.get(fault.id, ()):
                for change in effect.changes:
                    table.setdefault((change.name, change.kind, effect.situation.id), {})[fault.id] = fault
        return {key: tuple(faults.values()) for key, faults in table.items()}


_SAID = {
    "fires": "{name} FIRES ({after})",
    "above-no-fire": "{name} carries more than its no-fire current ({after})",
    "live": "{name} is LIVE with its switch off",
    "stopped": "{name} is earthed and gives no spark",
    "unasked": "{name} is {after} where it should be {before}",
    "lost": "{name} is {after} where it should be {before}",
    "weak": "{name} is only {after} where it should be {before}",
    "misreads": "{name} shows {after} where it should show {before}",
    "overcharged": "{name} is held at {after}, where it gasses and boils (what burns on the bus is over-run)",
    "over-run": "{name} burns {after}",
    "brighter": "{name} burns {after}",
    "dimmer": "{name} burns {after}",
    "blows": "{fuse} blows ({after})",
    "overload": "{fuse} is overloaded ({after})",
    "unfused": "{after} flow into the fault and nothing blows",
    "chatters": "{name} chatters",
    "race": "{name} may end either way",
}


def _change_words(plant: Plant, change: Change) -> str:
    bare = lowered(name_of(plant, change.name))
    fuse = f"the {bare}" if bare.endswith("fuse") else f"the fuse in {bare}"
    return _SAID[change.kind].format(name=f"the {bare}", fuse=fuse, before=change.before, after=change.after)


# -- what is otherwise ------------------------------------------------------------------------------


def changes_of(
    plant: Plant,
    base: Settled,
    after: Settled,
    own: Iterable[int] = (),
    things: Sequence[Observable] | None = None,
) -> tuple[tuple[Change, ...], tuple[Change, ...]]:
    """What is otherwise than it was.

    Parameters
    ----------
    plant
        The installation.
    base
        With all well.
    after
        With a fault.
    own
        Branches that are what is broken: they do nothing.
    things
        Only these are looked at; all where None.

    Returns
    -------
    tuple of tuple of Change
        What is seen; and what is quiet, as a window that stays lit on its other lamp.
    """
    dead = set(own)
    seen: list[Change] = []
    quiet: list[Change] = []
    for thing in observables_of(plant) if things is None else things:
        _judge(plant, thing, base, after, dead, seen, quiet)
    return tuple(seen), tuple(quiet)


def _judge(
    plant: Plant,
    thing: Observable,
    base: Settled,
    after: Settled,
    dead: set[int],
    seen: list[Change],
    quiet: list[Change],
) -> None:
    first = thing.branches[0]
    branch = plant.network.branches[first]
    law = after.solution.solver.network.branches[first].law
    plain = branch.works is None and branch.memory < 0 and law == branch.law
    if (
        plain
        and not dead & set(thing.branches)
        and all(same_volts(base.solution.volts(n), after.solution.volts(n)) for n in thing.branches)
    ):
        return
    if isinstance(branch.law, Meter):
        _judge_meter(plant, thing, first, base, after, dead, seen)
        return
    was = max(base.solution.state(n) for n in thing.branches)
    now = max(0 if n in dead else after.solution.state(n) for n in thing.branches)
    states = branch.law.states
    if was != now:
        kind = "unasked" if now > was else "lost" if now == 0 else "weak"
        seen.append(
            Change(
                thing.name,
                thing.item,
                thing.service,
                kind,
                states[was].replace("-", " "),
                states[now].replace("-", " "),
            )
        )
        return
    if isinstance(branch.law, Filament) and was == len(states) - 1:
        _judge_light(plant, thing, base, after, dead, seen, quiet)


def _judge_light(
    plant: Plant,
    thing: Observable,
    base: Settled,
    after: Settled,
    dead: set[int],
    seen: list[Change],
    quiet: list[Change],
) -> None:
    before, now = _watts_of_light(base, thing, set()), _watts_of_light(after, thing, dead)
    share = sum(now) / sum(before) if sum(before) > 0 else 1.0
    most = max((own / rated for own, rated in zip(now, _rated(plant, thing), strict=True)), default=0.0)
    if most >= 3.0 and share > BRIGHT:
        seen.append(
            Change(
                thing.name,
                thing.item,
                thing.service,
                "over-run",
                "lit",
                "far too bright: it will soon burn out",
            )
        )
    elif share > BRIGHT:
        seen.append(
            Change(
                thing.name,
                thing.item,
                thing.service,
                "brighter",
                "lit",
                f"brighter, {share:.1f} times the light",
            )
        )
    elif share < DIM:
        into = quiet if dead & set(thing.branches) else seen
        into.append(
            Change(
                thing.name, thing.item, thing.service, "dimmer", "lit", f"dimmer, {share:.0%} of the light"
            )
        )


def _watts_of_light(settled: Settled, thing: Observable, dead: set[int]) -> list[float]:
    """Light of each lamp of a thing, as its share of rated light times its rated watts."""
    found = []
    for number in thing.branches:
        law = settled.solution.solver.network.branches[number].law
        shines = isinstance(law, Filament) and number not in dead
        found.append(
            light(settled.solution.volts(number), law.volts) * law.volts * law.amps
            if shines and isinstance(law, Filament)
            else 0.0
        )
    return found


def _rated(plant: Plant, thing: Observable) -> list[float]:
    laws = [plant.network.branches[n].law for n in thing.branches]
    return [law.volts * law.amps if isinstance(law, Filament) else 1.0 for law in laws]


def _judge_meter(
    plant: Plant,
    thing: Observable,
    number: int,
    base: Settled,
    after: Settled,
    dead: set[int],
    seen: list[Change],
) -> None:
    for dial in plant.network.dials.get(number, ()):
        scale = plant.network.indications[dial]
        was, now = base.solution.indicates(dial), after.solution.indicates(dial)
        old, new = base.solution.shown(dial), after.solution.shown(dial)
        if number in dead:
            now, new = "no-power", None
        span = scale.points[-1][1] - scale.points[0][1] if scale.points else 0.0
        if was == now and (
            was != "reading" or old is None or new is None or abs(new - old) <= MISREADS * abs(span)
        ):
            continue
        words = [
            as_written(v, scale.dimension) if s == "reading" and v is not None else s.replace("-", " ")
            for s, v in ((was, old), (now, new))
        ]
        seen.append(Change(thing.name, thing.item, thing.service, "misreads", words[0], words[1]))
        return


def _event_changes(plant: Plant, base: Settled, one: Struck) -> list[Change]:
    """Fuses that go and are overloaded, cartridges, relays that find no rest."""
    kinds = {
        "blown": "blows",
        "fired": "fires",
        "overload": "overload",
        "chatters": "chatters",
        "race": "race",
    }
    known = {(event.what, event.names) for event in base.events}
    own = {plant.network.branches[n].name for n in one.own}
    found = []
    for event in one.events:
        kind = kinds.get(event.what)
        names = [n for n in event.names if not n.startswith("sensed ") and n not in own]
        if kind is None or not names or (event.what, event.names) in known:
            continue
        item = names[0].rpartition(".")[0]
        service = next(iter(_fed(plant, names[0])), "")
        amps = as_written(event.amps, "current") if event.amps else ""
        found.append(Change(names[0], item, service, kind, "", amps))
    blown = {c.name for c in found if c.kind == "blows"}
    return [c for c in found if c.kind != "overload" or c.name not in blown]


SHORTS = ("to-earth", "touching", "bridged")
UNFUSED = 30.0
"""Amperes into a short that are called a fire if no fuse has gone: common practice, no source."""


def _unfused(plant: Plant, one: Struck) -> list[Change]:
    """A short that draws on and on, with no fuse before it."""
    found = []
    faults = (one.fault,) if one.second is None else (one.fault, one.second)
    shorts = [(f, branch) for f in faults if f.mode in SHORTS for branch in f.extra]
    for fault, branch in shorts:
        amps = abs(one.volts(branch.a, branch.b)) / getattr(branch.law, "resistance", 1.0)
        if amps > UNFUSED and _arrives(plant, one, branch.a or branch.b, amps):
            service = fault.services[0] if fault.services else ""
            item = fault.items[0] if fault.items else ""
            found.append(Change(branch.name, item, service, "unfused", "", as_written(amps, "current")))
    return found


GASSES = 1.2
"""A lead battery above this share of its stamped volts, 2.4 V a cell, gasses: common practice, no source."""

NOTICED_VOLTS = 0.5


def _overcharged(plant: Plant, base: Settled, one: Struck) -> list[Change]:
    """A battery that is held above its gassing volts, where with all well it is not."""
    found = []
    for number, stamped in batteries_of(plant):
        branch = plant.network.branches[number]
        limit = max(GASSES * stamped, base.solution.volts(number) + NOTICED_VOLTS)
        volts = one.volts(branch.a, branch.b)
        if number not in one.own and volts > limit:
            service = next(iter(services_at(plant, (branch.item,), ())), "")
            held = as_written(volts, "voltage")
            found.append(Change(branch.name, branch.item, service, "overcharged", "", held))
    return found


@lru_cache(maxsize=8)
def batteries_of(plant: Plant) -> tuple[tuple[int, float], ...]:
    """Branches that are batteries, each with its stamped volts [V].

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of tuple
        Number and volts; one that is not stamped is left out.
    """
    found = []
    for number, branch in enumerate(plant.network.branches):
        if isinstance(branch.law, Battery):
            item, _, name = branch.name.rpartition(".")
            rated = plant.installation.equipment[item].elements[name].rating.get("voltage")
            if rated is not None:
                found.append((number, rated.value))
    return tuple(found)


def _arrives(plant: Plant, one: Struck, node: int, amps: float) -> bool:
    """Whether the other branches bring the current to a short: between two nodes that hang free none flows."""
    solution = one.settled(plant).solution
    flow = sum(
        solution.amps(n) * (1 if branch.a == node else -1)
        for n, branch in enumerate(plant.network.branches)
        if node in (branch.a, branch.b)
    )
    return abs(flow) > 0.5 * amps


@lru_cache(maxsize=4096)
def _fed(plant: Plant, name: str) -> tuple[str, ...]:
    network = plant.network
    number = network.branch_of.get(name)
    if number is not None and isinstance(network.branches[number].law, Fuse):
        feeds = [s for s, service in plant.installation.dossier.services.items() if name in service.feed]
        if feeds:
            return tuple(feeds)
    return services_at(plant, (name.rpartition(".")[0],), ())


def _dangers(plant: Plant, base: Settled, one: Struck, after: Settled) -> list[Change]:
    """Cartridges above their no-fire current, magnetos live or stopped against their switch."""
    found = []
    for number in (*charges_of(plant), *magnetos_of(plant)):
        branch = plant.network.branches[number]
        was, now = base.solution.state(number), one.state(number)
        if number in one.own or isinstance(branch.law, Straight):
            now = was if number in charges_of(plant) else 1
        if was == now:
            continue
        service = next(iter(services_at(plant, (branch.item,), ())), "")
        if number in charges_of(plant):
            if now == 1:
                amps = as_written(abs(after.solution.amps(number)), "current")
                found.append(Change(branch.name, branch.item, service, "above-no-fire", "safe", amps))
        else:
            kind = "live" if now == 0 else "stopped"
            found.append(
                Change(branch.name, branch.item, service, kind, "stopped" if now == 0 else "live", kind)
            )
    return found


# -- the study -------------------------------------------------------------------------------------


def fault_study(
    plant: Plant,
    *,
    services: Iterable[str] = (),
    situations: Sequence[Situation] | None = None,
    faults: Sequence[Fault] | None = None,
    keep: bool = False,
) -> FaultStudy:
    """Work out every single fault in every situation.

    Parameters
    ----------
    plant
        The installation.
    services
        Faults of these services only; all where empty.
    situations
        How the installation stands; rest, ready, phases and services at work where None.
    faults
        Instead of the whole list.
    keep
        Whether each result is kept whole, for sneak paths.

    Returns
    -------
    FaultStudy
        What changes, fault by fault.
    """
    wanted = set(services)
    chosen = [
        f for f in (faults_of(plant) if faults is None else faults) if not wanted or wanted & set(f.services)
    ]
    stands = tuple(situations_of(plant) if situations is None else situations)
    alike = representatives(plant, chosen)
    worked = list({f.id: f for f in alike.values()}.values())
    workshop = Workshop(plant)
    found: dict[str, list[Effect]] = {}
    kept: list[Struck] = []
    cases = 0
    for situation in stands:
        results = tuple(struck(workshop, situation, _looked_at(situation, worked, chosen, alike)))
        cases += len(results)
        for effect in effects_of(plant, results):
            if effect.changes or effect.quiet:
                found.setdefault(effect.fault.id, []).append(effect)
        kept += results if keep else ()
    effects = {f.id: _theirs(f, _merged(found, f, alike[f.id])) for f in chosen}
    return FaultStudy(
        plant=plant,
        situations=stands,
        faults=tuple(chosen),
        effects={name: those for name, those in effects.items() if those},
        alike=alike,
        cases=cases,
        results=tuple(kept),
    )


def _merged(found: Mapping[str, list[Effect]], fault: Fault, stands_for: Fault) -> list[Effect]:
    """A fault's own effects and those of the one that was worked out in its stead."""
    theirs = list(found.get(stands_for.id, []))
    return theirs + [e for e in found.get(fault.id, []) if e not in theirs]


def _looked_at(
    situation: Situation, worked: Sequence[Fault], chosen: Sequence[Fault], alike: Mapping[str, Fault]
) -> Sequence[Fault]:
    """All that are worked out; in a situation of some services only theirs, by any fault they stand for."""
    if situation.about:
        return [f for f in chosen if f.id in situation.about]
    if not situation.only:
        return worked
    touched = {alike[f.id].id for f in chosen if situation.only & set(f.services)}
    return [f for f in worked if f.id in touched]


def _theirs(fault: Fault, found: Sequence[Effect]) -> tuple[Effect, ...]:
    return tuple(Effect(fault, e.situation, e.changes, e.quiet) for e in found)


def effects_of(plant: Plant, results: Sequence[Struck]) -> list[Effect]:
    """What each fault does in the situation in which it was struck.

    Parameters
    ----------
    plant
        The installation.
    results
        From :func:`loomlore.faults.injecting.struck`; those struck together stand side by side.

    Returns
    -------
    list of Effect
        In order, of each the gravest change first.
    """
    found: list[Effect] = []
    for _, those in groupby(results, key=lambda one: id(one.spread)):
        some = list(those)
        sieved = zip(some, may_differ(plant, some), endangered_by(plant, some), strict=True)
        found += [_effect(plant, one, things, danger=danger) for one, things, danger in sieved]
    return found


def _effect(plant: Plant, one: Struck, things: Sequence[Observable], *, danger: bool) -> Effect:
    base = one.situation.settled
    unfused = _unfused(plant, one)
    events = _event_changes(plant, base, one) if one.events else []
    unfused += _overcharged(plant, base, one)
    if not (things or danger or events or unfused):
        return Effect(one.fault, one.situation, ())
    after = one.settled(plant)
    seen, quiet = changes_of(plant, base, after, one.own, things)
    dangers = _dangers(plant, base, one, after) if danger else []
    changes = [*events, *unfused, *dangers, *seen]
    changes.sort(key=lambda change: KINDS.index(change.kind))
    return Effect(one.fault, one.situation, tuple(changes), quiet)


def effect_words(plant: Plant, effect: Effect, *, most: int = 4) -> str:
    """An effect as one sentence.

    Parameters
    ----------
    plant
        The installation.
    effect
        With changes.
    most
        Changes named; the rest are counted.

    Returns
    -------
    str
        Without a full stop.
    """
    said = [change.words(plant) for change in effect.changes[:most]]
    more = len(effect.changes) - most
    if more > 0:
        said.append(f"{more} more thing{'s are' if more > 1 else ' is'} otherwise")
    concerned = (*effect.fault.services, *(change.service for change in effect.changes[:most]))
    return f"{effect.situation.words(plant, concerned)}: {listed(said)}"
