"""The restorer's list: everything that can be wrong with each item, cable, joint, way, bolt and fuse.

A :class:`Fault` is written twice over: for the fitter (words, what to look at, where) and for the network
(branches that stand in others' places, branches that are new, levers that stand elsewhere). Faults that no
current can tell apart, as two breaks in one unbranched run, have the same ``alike`` and are worked out once.

Not every pair of leads in a loom can touch in a list that is to be read: neighbours are cores of one sheath,
and cables of one loom that end side by side on one item. Hazards look at every pair of the loom.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from loomlore.faults.elements import element_faults
from loomlore.faults.rates import LIKELIHOODS, Rate, rate_of
from loomlore.faults.terminals import (
    cables_at,
    item_place,
    place_words,
    services_at,
    terminal_words,
    thing_words,
)
from loomlore.network.building import Plant
from loomlore.network.cases import SHORT
from loomlore.network.conditions import LeverIs, leaves
from loomlore.network.laws import OPEN, Battery, Generator, Meter, Rectifier, Source, Straight
from loomlore.network.model import Branch
from loomlore.record.model import AIRFRAME, Cable

__all__ = ["BAD_JOINT", "MODES", "Fault", "faults_of", "touching_in_loom"]

BAD_JOINT = 2.0
"""Ohms of a bad joint, enough to dim a lamp and stop a pump: common practice, no source."""

MODES: Mapping[str, str] = MappingProxyType(
    {
        "open": "open",
        "high-resistance": "a joint of high resistance",
        "to-earth": "chafed to earth",
        "touching": "touching its neighbour",
        "crossed": "two leads crossed",
        "bridged": "two ways bridged",
        "parted": "plug parted",
        "lifted": "earth bolt lifted",
        "missing": "bond missing",
        "does-not-make": "contact does not make",
        "sticks": "contact stuck or welded",
        "does-not-pull": "does not pull in",
        "sticks-in": "sticks pulled in",
        "blown": "fuse blown or not in",
        "too-light": "fuse too light",
        "too-heavy": "fuse too heavy",
        "burnt-out": "lamp burnt out",
        "wrong-lamp": "lamp for other volts",
        "shorted": "short-circuited inside",
        "seized": "seized",
        "flat": "battery half flat",
        "cell-shorted": "a cell shorted",
        "reversed": "polarity reversed",
        "lost-residual": "residual lost",
        "regulator-stuck": "regulator stuck",
    }
)
"""Every mode with its short name, for tables."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing wrong.

    ``words`` say it, ``look`` where a fitter looks; ``items``, ``cables`` and ``services`` are what it
    touches. ``branches``, ``extra`` and ``levers`` are what it changes in the network; ``forgets`` are
    variables that stand at their start again, since the fault keeps a machine from building up; ``needs`` a
    branch that must be closed for the new branches to be there (a crossed plug that is parted joins
    nothing). ``own`` are branches whose shown state means nothing under the fault.
    """

    id: str
    mode: str
    words: str
    look: str
    items: tuple[str, ...] = ()
    cables: tuple[str, ...] = ()
    services: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    branches: tuple[tuple[int, Branch], ...] = ()
    extra: tuple[Branch, ...] = ()
    levers: tuple[tuple[int, float], ...] = ()
    forgets: tuple[int, ...] = ()
    needs: int = -1
    own: tuple[int, ...] = ()
    rate: Rate
    likelihood: float = 1.0

    @property
    def place(self) -> str:
        """Where to look first."""
        return self.places[0] if self.places else ""


@lru_cache(maxsize=8)
def faults_of(plant: Plant) -> tuple[Fault, ...]:
    """Every single fault of an installation.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of Fault
        In order: earths, cables, plugs and ways, items.
    """
    found: dict[str, Fault] = {}
    for source in (
        _earth_faults,
        _cable_faults,
        _touching,
        _crossed,
        _way_faults,
        _plug_faults,
        _contact_faults,
        _inside,
    ):
        for fault in source(plant):
            found.setdefault(fault.id, fault)
    return tuple(found.values())


def _made(plant: Plant, fault_id: str, mode: str, part: str, words: str, look: str, **more: Any) -> Fault:
    """A fault with its rate, likelihood, and the services and places of what it touches."""
    items = tuple(dict.fromkeys(more.pop("items", ())))
    cables = tuple(dict.fromkeys(more.pop("cables", ())))
    services = more.pop("services", None) or services_at(plant, items, cables)
    places = tuple(dict.fromkeys(p for p in (item_place(plant, item) for item in items) if p))
    return Fault(
        id=fault_id,
        mode=mode,
        words=words,
        look=look,
        items=items,
        cables=cables,
        services=services,
        places=places,
        rate=rate_of(part, mode),
        likelihood=LIKELIHOODS.get(mode, 1.0),
        **more,
    )


def with_law(branch: Branch, ohms: float) -> Branch:
    """A branch as a plain resistance [ohm] that no condition opens."""
    return Branch(
        name=branch.name,
        a=branch.a,
        b=branch.b,
        law=Straight(resistance=ohms),
        sort=branch.sort,
        item=branch.item,
        memory=branch.memory,
    )


def with_added(branch: Branch, ohms: float) -> Branch | None:
    """A plain branch with some ohms more, still opened by its own condition; None for other laws."""
    if not isinstance(branch.law, Straight):
        return None
    return replace(branch, law=replace(branch.law, resistance=branch.law.resistance + ohms))


def _opened(plant: Plant, number: int) -> tuple[tuple[int, Branch], ...]:
    return ((number, with_law(plant.network.branches[number], 1 / OPEN)),)


def _worse(plant: Plant, number: int, ohms: float = BAD_JOINT) -> tuple[tuple[int, Branch], ...]:
    branch = with_added(plant.network.branches[number], ohms)
    return () if branch is None else ((number, branch),)


def _is_earth(plant: Plant, node: int) -> bool:
    return node == 0 or plant.network.node_names[node].startswith(f"{AIRFRAME}.")


# -- earths ----------------------------------------------------------------------------------------


def _earth_faults(plant: Plant) -> Iterator[Fault]:
    for number, branch in enumerate(plant.network.branches):
        if branch.sort not in ("bolt", "bond"):
            continue
        first, _, second = branch.name.removeprefix(f"{AIRFRAME}.").partition("~")
        bolt = plant.installation.dossier.earths[first]
        cables = tuple(
            c.id
            for c in plant.installation.dossier.cables.values()
            if f"{AIRFRAME}.{first}" in (c.from_, c.to)
        )
        items = tuple(
            i.id
            for i in plant.installation.dossier.items.values()
            if i.earth.removeprefix(f"{AIRFRAME}.") == first
        )
        services = services_at(plant, items, cables)
        name = terminal_words(plant, f"{AIRFRAME}.{first}")
        where = place_words(plant, bolt.place)
        if branch.sort == "bond":
            other = terminal_words(plant, f"{AIRFRAME}.{second}")
            words, mode = f"the bond from {name} to {other} is missing or broken", "missing"
            look = (
                f"Look at both ends of the braid from {name} to {other}{where}; measure it with four wires."
            )
            worse = f"the bond from {name} to {other} is corroded"
        else:
            lands = f" (on it: {', '.join([*cables, *items])})" if cables or items else ""
            words, mode = f"{name} is lifted or loose{lands}", "lifted"
            look = (
                f"Look at {name}{where}: tag, paint and corrosion under it; measure bolt to frame with "
                "four wires."
            )
            worse = f"{name} is corroded under its tags"
        given = {"items": items, "cables": cables, "services": services}
        yield _made(
            plant,
            f"{branch.name}.{mode}",
            mode,
            branch.sort,
            words,
            look,
            branches=_opened(plant, number),
            **given,
        )
        yield _made(
            plant,
            f"{branch.name}.high-resistance",
            "high-resistance",
            branch.sort,
            worse,
            look,
            branches=_worse(plant, number, 0.5),
            **given,
        )


# -- cables ----------------------------------------------------------------------------------------


def _cables(plant: Plant) -> Iterator[tuple[Cable, int]]:
    for cable in plant.installation.dossier.cables.values():
        number = plant.network.branch_of.get(f"cable:{cable.id}")
        if number is not None:
            yield cable, number


def _ends(plant: Plant, cable: Cable) -> str:
    return f"{terminal_words(plant, cable.from_)} to {terminal_words(plant, cable.to)}"


def _cable_items(plant: Plant, cable: Cable) -> tuple[str, ...]:
    ends = (cable.from_.rpartition(".")[0], cable.to.rpartition(".")[0])
    return tuple(item for item in ends if item in plant.installation.equipment)


def _cable_faults(plant: Plant) -> Iterator[Fault]:
    for cable, number in _cables(plant):
        ends = _ends(plant, cable)
        given = {
            "items": _cable_items(plant, cable),
            "cables": (cable.id,),
            "services": (cable.service,) if cable.service else (),
        }
        both = (
            f"both tags of {cable.id}, at {terminal_words(plant, cable.from_)} and at "
            f"{terminal_words(plant, cable.to)}"
        )
        yield _made(
            plant,
            f"{cable.id}.open",
            "open",
            "cable",
            f"cable {cable.id} ({ends}) is broken or off at an end",
            f"Look at {both}; then ring it through.",
            branches=_opened(plant, number),
            **given,
        )
        yield _made(
            plant,
            f"{cable.id}.high-resistance",
            "high-resistance",
            "cable",
            f"cable {cable.id} ({ends}) has a bad joint at one end",
            f"Look at {both}; measure the millivolts along it with the load on.",
            branches=_worse(plant, number),
            **given,
        )
        node = _chafing_node(plant, plant.network.branches[number])
        if node >= 0:
            along = f" along {cable.along.replace('-', ' ')}" if cable.along else ""
            short = Branch(
                name=f"{cable.id} to the airframe", a=node, b=0, law=Straight(resistance=SHORT), sort="bridge"
            )
            yield _made(
                plant,
                f"{cable.id}.to-earth",
                "to-earth",
                "cable",
                f"cable {cable.id} ({ends}) is chafed to earth",
                f"Look at {cable.id} where it passes clips, holes and edges{along}; insulation to earth "
                "with its lamps and sets off.",
                extra=(short,),
                **given,
            )


def _chafing_node(plant: Plant, branch: Branch) -> int:
    """Where a cable that touches the frame is taken to touch: at its far end, unless that is earth itself."""
    return next((node for node in (branch.b, branch.a) if not _is_earth(plant, node)), -1)


def _touching(plant: Plant) -> Iterator[Fault]:
    """Cores of one sheath, and cables of one loom that end side by side on one item."""
    cables = dict(_cables(plant))
    by_loom: dict[str, list[Cable]] = {}
    for cable in cables:
        group = f"sheath {cable.core.partition('.')[0]}" if cable.core else cable.along
        if group:
            by_loom.setdefault(group, []).append(cable)
    for loom, members in by_loom.items():
        for place, first in enumerate(members):
            for second in members[place + 1 :]:
                if loom.startswith("sheath ") or _side_by_side(plant, first, second):
                    yield touching(plant, first, second, loom)


def _side_by_side(plant: Plant, first: Cable, second: Cable) -> bool:
    for one in (first.from_, first.to):
        for other in (second.from_, second.to):
            item, _, terminal = one.rpartition(".")
            other_item, _, other_terminal = other.rpartition(".")
            if item != other_item or item == AIRFRAME or terminal == other_terminal:
                continue
            if (
                terminal.isdigit()
                and other_terminal.isdigit()
                and len(plant.installation.equipment[item].terminal_names) > 2
            ):
                return abs(int(terminal) - int(other_terminal)) == 1
            return True
    return False


def touching(plant: Plant, first: Cable, second: Cable, loom: str) -> Fault:
    """Two cables of a loom that touch, each taken at its end away from earth."""
    network = plant.network
    a, b = (
        _chafing_node(plant, network.branches[network.branch_of[f"cable:{c.id}"]]) for c in (first, second)
    )
    bridge = Branch(
        name=f"{first.id} ~ {second.id}",
        a=max(a, 0),
        b=max(b, 0),
        law=Straight(resistance=SHORT),
        sort="bridge",
    )
    where = loom.replace("-", " ")
    return _made(
        plant,
        f"{first.id}~{second.id}.touching",
        "touching",
        "cable",
        f"cables {first.id} and {second.id} touch each other in the {where}",
        f"Look at {first.id} and {second.id} along the {where}; insulation between the two with both ends "
        "off.",
        items=(*_cable_items(plant, first), *_cable_items(plant, second)),
        cables=(first.id, second.id),
        extra=(bridge,),
    )


def touching_in_loom(plant: Plant, cables: frozenset[str]) -> tuple[Fault, ...]:
    """Every touch between one of these cables and any other of the same loom.

    Parameters
    ----------
    plant
        The installation.
    cables
        Ids of cables.

    Returns
    -------
    tuple of Fault
        Pairs that are one node already are left out.
    """
    known = dict(_cables(plant))
    found: dict[str, Fault] = {}
    for first in known:
        for second in known if first.id in cables and first.along else ():
            if second.id == first.id or second.along != first.along:
                continue
            pair = (
                (first, second) if list(known).index(first) < list(known).index(second) else (second, first)
            )
            fault = touching(plant, *pair, first.along)
            if fault.extra[0].a != fault.extra[0].b:
                found.setdefault(fault.id, fault)
    return tuple(found.values())


# -- crossed leads ---------------------------------------------------------------------------------


def _crossed(plant: Plant) -> Iterator[Fault]:
    """Two leads of one item changed over, at terminals next to each other."""
    for item, equipment in plant.installation.equipment.items():
        names = equipment.terminal_names
        if equipment.symbol in ("bus-bar", "unknown") or (len(names) == 2 and _turns_about(plant, item)):
            continue
        used = [t for t in names if cables_at(plant, f"{item}.{t}")]
        for first, second in pairwise(used):
            one, other = cables_at(plant, f"{item}.{first}")[0], cables_at(plant, f"{item}.{second}")[0]
            crossing = _crossing(plant, one, other, f"{item}.{first}", f"{item}.{second}")
            if crossing is None:
                continue
            branches, extra = crossing
            yield _made(
                plant,
                f"{item}.{first}x{second}.crossed",
                "crossed",
                "way",
                f"{one} and {other} are changed over at {thing_words(plant, item)}, terminals {first} and "
                f"{second}",
                f"Look at {thing_words(plant, item)}: {one} belongs on {first}, {other} on {second}; ring "
                "both through.",
                items=(item,),
                cables=(one, other),
                branches=branches,
                extra=extra,
            )


def _turns_about(plant: Plant, item: str) -> bool:
    """Whether an item of two terminals does not mind which way round it is connected."""
    polarised = Battery | Generator | Meter | Rectifier | Source
    return not any(b.item == item and isinstance(b.law, polarised) for b in plant.network.branches)


def _crossing(
    plant: Plant, one: str, other: str, at_one: str, at_other: str
) -> tuple[tuple[tuple[int, Branch], ...], tuple[Branch, ...]] | None:
    network = plant.network
    numbers = [network.branch_of.get(f"cable:{name}", -1) for name in (one, other)]
    if -1 in numbers or numbers[0] == numbers[1]:
        return None
    here = [network.node_of[at_one], network.node_of[at_other]]
    far = [
        network.branches[n].b if network.branches[n].a == node else network.branches[n].a
        for n, node in zip(numbers, here, strict=True)
    ]
    if far[0] == far[1] or far[0] in here or far[1] in here or here[0] == here[1]:
        return None
    laws = [network.branches[n].law for n in numbers]
    extra = (
        Branch(name=f"{one} on the wrong terminal", a=here[1], b=far[0], law=laws[0], sort="bridge"),
        Branch(name=f"{other} on the wrong terminal", a=here[0], b=far[1], law=laws[1], sort="bridge"),
    )
    return (*_opened(plant, numbers[0]), *_opened(plant, numbers[1])), extra


# -- ways and plugs --------------------------------------------------------------------------------


def _way_faults(plant: Plant) -> Iterator[Fault]:
    network = plant.network
    by_item: dict[str, list[tuple[str, int]]] = {}
    for number, branch in enumerate(network.branches):
        if branch.sort == "joint" and (cables_at(plant, branch.name) or _far_used(plant, branch)):
            by_item.setdefault(branch.item, []).append((branch.name.rpartition(".")[2], number))
    for item, ways in by_item.items():
        for way, number in ways:
            branch = network.branches[number]
            name = terminal_words(plant, f"{item}.{way}")
            halves = tuple(dict.fromkeys((item, network.node_names[branch.b].rpartition(".")[0])))
            cables = (
                *cables_at(plant, network.node_names[branch.a]),
                *cables_at(plant, network.node_names[branch.b]),
            )
            given = {"items": halves, "cables": cables, "services": services_at(plant, (), cables)}
            look = f"Look at {name}, both halves: a pin pushed back, bent or black."
            yield _made(
                plant,
                f"{item}.{way}.open",
                "open",
                "way",
                f"{name} does not meet",
                look,
                branches=_opened(plant, number),
                **given,
            )
            yield _made(
                plant,
                f"{item}.{way}.high-resistance",
                "high-resistance",
                "way",
                f"{name} meets badly",
                look,
                branches=_worse(plant, number),
                **given,
            )
        for (way, number), (other, next_number) in pairwise(ways):
            if way.isdigit() and other.isdigit() and int(other) - int(way) == 1:
                yield from _two_ways(plant, item, (way, number), (other, next_number))


def _far_used(plant: Plant, branch: Branch) -> bool:
    return bool(cables_at(plant, plant.network.node_names[branch.b]))


def _two_ways(plant: Plant, item: str, first: tuple[str, int], second: tuple[str, int]) -> Iterator[Fault]:
    network = plant.network
    one, other = network.branches[first[1]], network.branches[second[1]]
    halves = tuple(dict.fromkeys((item, network.node_names[one.b].rpartition(".")[0])))
    cables = tuple(
        c for node in (one.a, one.b, other.a, other.b) for c in cables_at(plant, network.node_names[node])
    )
    name, ways = thing_words(plant, item), f"ways {first[0]} and {second[0]}"
    given = {"items": halves, "cables": cables, "services": services_at(plant, (), cables), "needs": first[1]}
    bridge = Branch(
        name=f"{item}.{first[0]} ~ {item}.{second[0]}",
        a=one.a,
        b=other.a,
        law=Straight(resistance=SHORT),
        sort="bridge",
    )
    stray = "a strand, a drop of solder, damp or carbon between them"
    yield _made(
        plant,
        f"{item}.{first[0]}~{second[0]}.bridged",
        "bridged",
        "way",
        f"{ways} of {name} are bridged",
        f"Look at the back of {name} at {ways}: {stray}.",
        extra=(bridge,),
        **{**given, "needs": -1},
    )
    extra = (
        Branch(name=f"{item}.{first[0]} crossed", a=one.a, b=other.b, law=one.law, sort="bridge"),
        Branch(name=f"{item}.{second[0]} crossed", a=other.a, b=one.b, law=other.law, sort="bridge"),
    )
    yield _made(
        plant,
        f"{item}.{first[0]}x{second[0]}.crossed",
        "crossed",
        "way",
        f"{ways} of {name} are changed over",
        f"Look at the back of {name} and of its other half: which lead is on {ways}; ring them through.",
        branches=(*_opened(plant, first[1]), *_opened(plant, second[1])),
        extra=extra,
        **given,
    )


def _plug_faults(plant: Plant) -> Iterator[Fault]:
    """A plug, stud or socket that is parted where it should be in."""
    network = plant.network
    for number, lever in enumerate(network.levers):
        if tuple(lever.positions) != ("in", "parted"):
            continue
        opened = [
            b
            for b in network.branches
            if b.closed is not None
            and any(isinstance(leaf, LeverIs) and leaf.lever == number for leaf in leaves(b.closed))
        ]
        items = tuple(
            dict.fromkeys(network.node_names[n].rpartition(".")[0] for b in opened for n in (b.a, b.b))
        )
        known = tuple(item for item in items if item in plant.installation.equipment)
        cables = tuple(
            dict.fromkeys(
                c for b in opened for n in (b.a, b.b) for c in cables_at(plant, network.node_names[n])
            )
        )
        name = thing_words(plant, lever.name.removesuffix(".joint"))
        yield _made(
            plant,
            f"{lever.name}.parted",
            "parted",
            "way",
            f"{name} is parted",
            f"Look at {name}: home, and its ring or nut tight.",
            items=known,
            cables=cables,
            services=services_at(plant, known if not cables else (), cables),
            branches=tuple(change for b in opened for change in _opened(plant, network.branch_of[b.name])),
        )


# -- contacts --------------------------------------------------------------------------------------

_PART_OF_SYMBOL = {
    "push": "push",
    "push-changeover": "push",
    "push-two-pole": "push",
    "key": "push",
    "rotary": "rotary",
    "signalling-box": "rotary",
    "changeover": "switch",
    "switch": "switch",
    "cam-switch": "cam-switch",
    "cam-changeover": "cam-switch",
    "pressure-switch": "pressure-switch",
    "flame-switch": "thermal-switch",
    "relay": "relay",
    "relay-changeover": "relay",
    "relay-two-pole": "relay",
    "relay-changeover-two-pole": "relay",
    "timer-relay": "relay",
    "cut-out": "relay",
}


def _contact_faults(plant: Plant) -> Iterator[Fault]:
    for number, branch in enumerate(plant.network.branches):
        if branch.sort != "contact":
            continue
        equipment = plant.installation.equipment[branch.item]
        part = _PART_OF_SYMBOL.get(equipment.symbol, "switch")
        ends = [plant.network.node_names[n].rpartition(".")[2] for n in (branch.a, branch.b)]
        name = f"{thing_words(plant, branch.item)}, contact {ends[0]}-{ends[1]},"
        if branch.closed is None:
            yield _made(
                plant,
                f"{branch.name}.open",
                "open",
                "way",
                f"{name.replace('contact', 'link')} is broken",
                f"Look inside {thing_words(plant, branch.item)}.",
                items=(branch.item,),
                branches=_opened(plant, number),
            )
            continue
        look = (
            f"Look at the contacts of {thing_words(plant, branch.item)}; measure across {ends[0]} and "
            f"{ends[1]}"
        )
        relay = part == "relay"
        stuck = Branch(
            name=branch.name, a=branch.a, b=branch.b, law=branch.law, sort=branch.sort, item=branch.item
        )
        yield _made(
            plant,
            f"{branch.name}.does-not-make",
            "does-not-make",
            part,
            f"{name} does not make",
            f"{look}, closed.",
            items=(branch.item,),
            branches=_opened(plant, number),
        )
        yield _made(
            plant,
            f"{branch.name}.high-resistance",
            "high-resistance",
            part,
            f"{name} is dirty",
            f"{look}, closed and under load.",
            items=(branch.item,),
            branches=_worse(plant, number),
        )
        if _is_plugged(plant, branch):  # in is how it should be
            continue
        yield _made(
            plant,
            f"{branch.name}.sticks",
            "sticks",
            part,
            f"{name} is {'welded' if relay else 'stuck'} closed",
            f"{look}, open.",
            items=(branch.item,),
            branches=((number, stuck),),
        )


def _is_plugged(plant: Plant, branch: Branch) -> bool:
    """Whether a contact is that of a stud, plug or socket, which is in or parted and cannot stick."""
    levers = plant.network.levers
    found = [leaf for leaf in leaves(branch.closed) if isinstance(leaf, LeverIs)] if branch.closed else []
    return bool(found) and all(tuple(levers[leaf.lever].positions) == ("in", "parted") for leaf in found)


def _inside(plant: Plant) -> Iterator[Fault]:
    for found in element_faults(plant):
        yield _made(
            plant,
            f"{found.name}.{found.mode}",
            found.mode,
            found.part,
            found.words,
            found.look,
            items=(found.item,),
            branches=found.branches,
            levers=found.levers,
            forgets=found.forgets,
            own=found.own,
            services=_services_behind(plant, found.name) if found.part == "fuse" else (),
        )


def _services_behind(plant: Plant, fuse: str) -> tuple[str, ...]:
    """The services that a fuse feeds: those of the cables on the end of it that is not the box's bar."""
    network = plant.network
    branch = network.branches[network.branch_of[fuse]]
    cables = [cables_at(plant, network.node_names[node]) for node in (branch.b, branch.a)]
    feeds = [s for s, service in plant.installation.dossier.services.items() if fuse in service.feed]
    return tuple(feeds) or services_at(plant, (), next((c for c in cables if c), ()))
