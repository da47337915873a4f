"""Two installations that differ in one reading, worked side by side: what is seen, what flows, what is proved.

The settings are those of the services that the difference touches, each on the battery and with the generators
running; where the supply itself is touched, the phases of the record too, and everything is looked at. Two
installations are compared by the names in them, never by number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import combinations, product

from loomlore.behaviour.exploring import Operation, lever_values, levers_of_items, settled_once
from loomlore.behaviour.influence import WITHIN_SUPPLY, influence_of, supply_items
from loomlore.behaviour.readings import Reading, items_of, readings, services_of
from loomlore.behaviour.wording import setting_words
from loomlore.network.building import Plant
from loomlore.network.laws import Fuse, Rheostat
from loomlore.network.model import Branch
from loomlore.network.settling import Settled, moved
from loomlore.record.equipment import Equipment
from loomlore.sizing.duty import backgrounds, levers_of_service, presumed

__all__ = ["Difference", "Seen", "Setting", "difference", "seen_differently", "settings"]

WHOLE = 48
"""Up to so many settings of a service all are tried; beyond, single moves and pairs."""

MOST_PAIRS = 60

TOLD = 0.01
"""Volts or amperes that differ by less than this share of the supply's, or of the greater, are not told."""

LEAST_AMPS = 0.01
"""Amperes that differ by less are not told."""


@dataclass(frozen=True, kw_only=True)
class Difference:
    """What two installations have differently.

    ``branches`` are names as in the network (cables ``cable:MARK``), ``items`` ids, ``levers`` controls and
    conditions whose positions are otherwise called; ``services`` those that they belong to; ``supply`` whether
    a source, or what is common to all, is among them.
    """

    branches: tuple[str, ...]
    items: tuple[str, ...]
    services: tuple[str, ...]
    supply: bool = False
    levers: tuple[str, ...] = ()

    @property
    def nothing(self) -> bool:
        """Whether the two are the same to whoever computes."""
        return not self.branches and not self.items and not self.levers


def difference(one: Plant, other: Plant) -> Difference:
    """Compare two networks by name.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.

    Returns
    -------
    Difference
        Without what is joined to nothing on one side: ways that a box has more.
    """
    names = dict.fromkeys((*one.network.branch_of, *other.network.branch_of))
    branches = tuple(
        n
        for n in names
        if _signature(one, n) != _signature(other, n) and not (_idle(one, n) and _idle(other, n))
    )
    items = tuple(
        item
        for item in dict.fromkeys((*one.installation.equipment, *other.installation.equipment))
        if _parts(one.installation.equipment.get(item)) != _parts(other.installation.equipment.get(item))
    )
    touched = dict.fromkeys(_services(one, other, branches, items))
    sources = supply_items(one) | supply_items(other)
    held = {_item(one, other, name) for name in branches} | set(items)
    supply = bool(held & sources) or any(_common(plant, name) for plant in (one, other) for name in branches)
    return Difference(
        branches=branches,
        items=items,
        services=tuple(touched),
        supply=supply,
        levers=tuple(n for n in _positions(one) if _positions(one)[n] != _positions(other).get(n)),
    )


def _positions(plant: Plant) -> dict[str, object]:
    return {lever.name: (lever.positions, lever.low, lever.high) for lever in plant.network.levers}


def _branch(plant: Plant, name: str) -> Branch | None:
    number = plant.network.branch_of.get(name)
    return None if number is None else plant.network.branches[number]


def _signature(plant: Plant, name: str) -> tuple[object, ...] | None:
    branch = _branch(plant, name)
    if branch is None:
        return None
    nodes, levers = plant.network.node_names, plant.network.levers
    follows = levers[branch.follows].name if branch.follows >= 0 else ""
    return nodes[branch.a], nodes[branch.b], branch.law, branch.sort, follows


def _idle(plant: Plant, name: str) -> bool:
    """Whether a branch is not there, or hangs on nothing at one of its ends."""
    branch = _branch(plant, name)
    if branch is None:
        return True
    ends = [node for b in plant.network.branches for node in (b.a, b.b)]
    return branch.sort != "cable" and any(ends.count(node) == 1 for node in (branch.a, branch.b) if node)


def _common(plant: Plant, name: str) -> bool:
    """Whether a branch lies within the supply, at both its ends."""
    number = plant.network.branch_of.get(name)
    return number is not None and influence_of(plant).circuit_of[number] == WITHIN_SUPPLY


_JUDGED = ("controls", "cams", "binds", "latches", "contacts", "groups", "ratio", "follows")


def _parts(equipment: Equipment | None) -> tuple[object, ...] | None:
    """What an item is besides its elements, whose branches are compared as such."""
    if equipment is None:
        return None
    names = {f.name for f in fields(equipment)}
    return tuple(getattr(equipment, name) for name in _JUDGED if name in names)


def _item(one: Plant, other: Plant, name: str) -> str:
    branch = _branch(one, name) or _branch(other, name)
    return branch.item if branch is not None else ""


def _services(one: Plant, other: Plant, branches: Iterable[str], items: Iterable[str]) -> Iterator[str]:
    for plant in (one, other):
        dossier = plant.installation.dossier
        by_item = services_of(plant.installation)
        for name in branches:
            mark = name.removeprefix("cable:")
            if name != mark and mark in dossier.cables:
                yield dossier.cables[mark].service
                continue
            item = _item(one, other, name)
            fed = [s.id for s in dossier.services.values() if {name, item} & set(s.feed)]
            yield from fed or by_item.get(item, ())
        for item in items:
            yield from by_item.get(item, ())


# -- settings --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class Setting:
    """One setting, settled in both installations; ``moves`` is how many operations it takes."""

    words: str
    moves: int
    service: str
    one: Settled
    other: Settled


def settings(one: Plant, other: Plant, differs: Difference) -> tuple[Setting, ...]:
    """Settle what tells, in both.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.

    Returns
    -------
    tuple of Setting
        Plainest first.
    """
    grounds = zip(backgrounds(one)[0], backgrounds(other)[0], strict=False)
    found: list[Setting] = []
    for ground, there in grounds:
        if ground.kind == "phase" and not differs.supply:
            continue
        found.append(Setting(words=ground.name, moves=0, service="", one=ground.settled, other=there.settled))
        if ground.kind == "phase":
            continue
        for service in differs.services:
            if service in one.installation.dossier.services:
                found += _worked(one, other, service, (ground.name, ground.settled, there.settled))
        if differs.supply:
            found += _switched(one, other, (ground.name, ground.settled, there.settled))
    return tuple(sorted(found, key=lambda setting: setting.moves))


_Ground = tuple[str, Settled, Settled]
"""How the rest stands: its name, and settled in both."""


def _worked(one: Plant, other: Plant, service: str, ground: _Ground) -> Iterator[Setting]:
    given = presumed(one, one.installation.dossier.services[service].given).levers
    levers = ground[1].memory.levers
    choices = [
        [Operation(n, v) for v in _values(one, n) if v != levers[n]] for n in levers_of_service(one, service)
    ]
    for operations in _combined([listed for listed in choices if listed]):
        setting = _setting(one, other, service, ground, {**given, **{o.lever: o.value for o in operations}})
        if setting is not None:
            yield setting


def _switched(one: Plant, other: Plant, ground: _Ground) -> Iterator[Setting]:
    """The supply's own controls and plugs moved alone."""
    levers = ground[1].memory.levers
    for lever in sorted(levers_of_items(one, sorted(supply_items(one)))):
        for value in _values(one, lever):
            if value != levers[lever]:
                setting = _setting(one, other, "", ground, {lever: value})
                if setting is not None:
                    yield setting


def _setting(
    one: Plant, other: Plant, service: str, ground: _Ground, moves: Mapping[int, float]
) -> Setting | None:
    name, here, there = ground
    named = _there(one, other, moves)
    if named is None:
        return None
    done = tuple(Operation(n, v) for n, v in moves.items() if here.memory.levers[n] != v)
    return Setting(
        words=f"{name}: {setting_words(one, done)}" if done else name,
        moves=len(done),
        service=service,
        one=settled_once(one, moved(here.memory, moves), here) if done else here,
        other=settled_once(other, moved(there.memory, named), there) if done else there,
    )


def _there(one: Plant, other: Plant, moves: Mapping[int, float]) -> dict[int, float] | None:
    """The same moves by the other's numbers; None where it has no such lever or position."""
    found: dict[int, float] = {}
    for number, value in moves.items():
        lever = one.network.levers[number]
        there = other.network.lever_of.get(lever.name)
        if there is None:
            return None
        if lever.positions:
            word, listed = lever.positions[int(value)], other.network.levers[there].positions
            if word not in listed:
                return None
            found[there] = float(listed.index(word))
        else:
            found[there] = value
    return found


def _values(plant: Plant, lever: int) -> tuple[float, ...]:
    record = plant.network.levers[lever]
    if record.positions:
        return lever_values(plant, lever)
    followed = any(b.follows == lever and isinstance(b.law, Rheostat) for b in plant.network.branches)
    ends = (record.low, record.high) if followed else ()
    return tuple(dict.fromkeys((*lever_values(plant, lever), *ends)))


def _combined(choices: Sequence[Sequence[Operation]]) -> Iterator[tuple[Operation, ...]]:
    count = 1
    for listed in choices:
        count *= len(listed) + 1
    if count <= WHOLE:
        every = product(*((None, *listed) for listed in choices))
        yield from sorted((tuple(o for o in setting if o) for setting in every if any(setting)), key=len)
        return
    for listed in choices:
        yield from ((o,) for o in listed)
    pairs = (pair for x, y in combinations(choices, 2) for pair in product(x, y))
    yield from (pair for _, pair in zip(range(MOST_PAIRS), pairs, strict=False))


# -- what is seen ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """One thing that is otherwise in a setting: ``what`` is state, mark or amount; ``times`` in how many settings."""

    what: str
    setting: Setting
    one: Reading
    other: Reading
    times: int = 1

    @cached_property
    def size(self) -> float:
        """How much it differs, in watts."""
        return abs(abs(self.one.watts) - abs(self.other.watts))


def seen_differently(
    one: Plant, other: Plant, differs: Difference, tried: Sequence[Setting]
) -> tuple[Seen, ...]:
    """What is seen, shown or taken otherwise, each thing once, in the plainest setting that tells most.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.
    tried
        From :func:`settings`.

    Returns
    -------
    tuple of Seen
        States first, then marks, then amounts, the greatest first.
    """
    found: dict[tuple[str, str], list[Seen]] = {}
    for setting in tried:
        items = _looked_at(one, other, differs, setting)
        here = {f"{r.item}.{r.part}": r for r in readings(one, setting.one, items, fuses=True)}
        there = {f"{r.item}.{r.part}": r for r in readings(other, setting.other, items, fuses=True)}
        for name in here.keys() & there.keys():
            what = _what(one, here[name], there[name])
            if what:
                seen = Seen(what=what, setting=setting, one=here[name], other=there[name])
                found.setdefault((what, name), []).append(seen)
    told = [
        _told(listed, _plainest if what != "amount" else _greatest) for (what, _), listed in found.items()
    ]
    said = {(s.one.item, s.one.part) for s in told if s.what != "amount"}
    told = [s for s in told if s.what != "amount" or (s.one.item, s.one.part) not in said]
    order = ("state", "mark", "amount")
    return tuple(sorted(told, key=lambda s: (order.index(s.what), -s.size, s.one.name)))


def _looked_at(one: Plant, other: Plant, differs: Difference, setting: Setting) -> frozenset[str] | None:
    if differs.supply:
        return None
    services = (setting.service,) if setting.service else differs.services
    found: set[str] = set()
    for plant in (one, other):
        for service in services:
            if service in plant.installation.dossier.services:
                found |= set(items_of(plant.installation, service))
    return frozenset(found)


def _what(plant: Plant, here: Reading, there: Reading) -> str:
    fuse = isinstance(plant.network.branches[plant.network.branch_of[f"{here.item}.{here.part}"]].law, Fuse)
    if fuse and here.state == there.state:
        return ""  # what a fuse carries is told of the fuse that differs
    if here.state != there.state:
        return "state"
    if here.shows and there.shows and here.shows != there.shows:
        return "mark"
    volts = abs(abs(here.volts) - abs(there.volts))
    amps = abs(abs(here.amps) - abs(there.amps))
    most = max(abs(here.amps), abs(there.amps))
    return "amount" if volts > TOLD * plant.network.supply or amps > max(LEAST_AMPS, 2 * TOLD * most) else ""


def _plainest(listed: Sequence[Seen]) -> Seen:
    return min(listed, key=lambda seen: seen.setting.moves)


def _greatest(listed: Sequence[Seen]) -> Seen:
    most = max(seen.size for seen in listed)
    return _plainest([seen for seen in listed if seen.size >= 0.98 * most])


def _told(listed: Sequence[Seen], chosen: Callable[[Sequence[Seen]], Seen]) -> Seen:
    best = chosen(listed)
    return Seen(what=best.what, setting=best.setting, one=best.one, other=best.other, times=len(listed))
