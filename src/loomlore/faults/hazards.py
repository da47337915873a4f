"""What can kill: cartridges that fire unasked, pumps in the tank, starters that turn, magnetos left live.

A cartridge's criterion is its no-fire current under any single fault. Each is looked at armed, with
nobody's hand on anything and nothing of the world against it; then with one thing done (one push held, one
well wet); then with its arming plug out. Pairs of faults are worked out on request. Every pair of leads
that lie in one loom with the firing line is tried here, not only the likely neighbours.

Every hazard has a name that stays while the record does: the item, and ``fires``, ``fires.with-one``, ``safe``,
``live``, ``energised`` or ``dry`` (``port-fire-cartridge.fires``). A threat keeps how things stood before its
fault; :func:`loomlore.faults.named_paths.named_path` follows the current from there.

A magneto is stopped by its switch through one thin lead: whatever parts that lead leaves it live, and nothing
in the cockpit shows it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

from loomlore.behaviour.exploring import Operation, lever_values
from loomlore.behaviour.influence import levers_that_matter
from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import items_of, name_of
from loomlore.behaviour.tables.reaching import cone_of
from loomlore.behaviour.tables.telling import listed, lowered, order_words
from loomlore.faults.injecting import (
    Struck,
    Workshop,
    case_of,
    put_in,
    representatives,
    struck_once,
    together,
)
from loomlore.faults.modes import Fault, faults_of, touching_in_loom
from loomlore.faults.situations import Situation, charges_of, magnetos_of, moved_from, presumed_moves, ready
from loomlore.faults.terminals import services_at, thing_words
from loomlore.network.building import Plant
from loomlore.network.laws import Cartridge, Magneto, Motor
from loomlore.network.settling import Settled

__all__ = [
    "Charge",
    "Firing",
    "Hazard",
    "Hazards",
    "Pair",
    "Threat",
    "cartridge_hazards",
    "firing_pairs",
    "hazards_of",
    "magneto_hazards",
    "motor_hazards",
]

MOST_COMMANDS = 256
"""Settings of one cartridge's controls at most."""

MOST_SLOW_PAIRS = 300
"""Pairs of two new connections at once, which are settled one by one, at most."""

ENERGISED = 0.05
"""Share of rated volts from which a motor counts as energised: common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Threat:
    """A fault that brings a hazard about, with what is done besides (nothing: it does it alone).

    ``settled`` is how things stood before it.
    """

    fault: Fault
    does: tuple[str, ...]
    result: str
    settled: Settled


@dataclass(frozen=True, kw_only=True, eq=False)
class Charge:
    """One cartridge: what fires it of right, which faults do alone, which with one thing done.

    ``plug`` are the orders that arm it; ``plug_stops`` says that with them undone no single fault reaches it.
    """

    name: str
    item: str
    no_fire: float
    plug: tuple[str, ...]
    commands: tuple[tuple[str, ...], ...]
    alone: tuple[Threat, ...]
    with_one: tuple[Threat, ...]
    unplugged: tuple[Threat, ...]

    @property
    def plug_stops(self) -> bool:
        """Whether the arming plug, out, stops every single fault."""
        return bool(self.plug) and not self.unplugged


@dataclass(frozen=True, kw_only=True, eq=False)
class Hazard:
    """A finding of danger. ``grave`` where one fault alone brings it about; ``name``: see the head."""

    name: str
    kind: str
    item: str
    words: str
    look: str
    grave: bool
    threats: tuple[Threat, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Pair:
    """Two faults that together take a cartridge above its no-fire current."""

    first: Fault
    second: Fault
    result: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Firing:
    """Pairs that fire one cartridge, and how many of how many were tried."""

    pairs: tuple[Pair, ...]
    tried: int
    of: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Hazards:
    """Everything found."""

    charges: tuple[Charge, ...]
    hazards: tuple[Hazard, ...]

    @property
    def grave(self) -> bool:
        """Whether one fault alone endangers anybody."""
        return any(hazard.grave for hazard in self.hazards)


def hazards_of(plant: Plant, *, item: str = "") -> Hazards:
    """Every hazard of an installation.

    Parameters
    ----------
    plant
        The installation.
    item
        Only this one's; all where empty.

    Returns
    -------
    Hazards
        Cartridges first.
    """
    workshop = Workshop(plant)
    charges = cartridge_hazards(plant, workshop, item=item)
    said = [hazard for group in _alike_charges(charges) for hazard in _charge_words(plant, group)]
    return Hazards(
        charges=charges,
        hazards=(
            *said,
            *magneto_hazards(plant, workshop, item=item),
            *motor_hazards(plant, workshop, item=item),
        ),
    )


def endangered(plant: Plant) -> Iterator[tuple[str, str]]:
    """Items that a hazard may be found of, each with the end of the hazard's name.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    iterator of tuple of str
        Such as ``("port-left-magneto", "live")``.
    """
    for branch in plant.network.branches:
        if isinstance(branch.law, Cartridge):
            yield branch.item, "fires"
            yield branch.item, "fires.with-one"
        elif isinstance(branch.law, Magneto):
            yield branch.item, "live"
        elif isinstance(branch.law, Motor) and (
            plant.installation.equipment[branch.item].symbol == "starter" or in_tank(plant, branch.item)
        ):
            yield branch.item, "energised"


def likeliest(threats: Sequence[Threat]) -> Threat:
    """The threat that a restorer meets first.

    Parameters
    ----------
    threats
        One at least.

    Returns
    -------
    Threat
        By the likelihood of its fault.
    """
    return max(threats, key=lambda threat: threat.fault.likelihood)


# -- cartridges ------------------------------------------------------------------------------------


def cartridge_hazards(
    plant: Plant, workshop: Workshop | None = None, *, item: str = ""
) -> tuple[Charge, ...]:
    """Each cartridge against its no-fire current, under every single fault of its circuit and its looms.

    Parameters
    ----------
    plant
        The installation.
    workshop
        Of the installation; a new one where None.
    item
        Only this one; all where empty.

    Returns
    -------
    tuple of Charge
        In order of the network.
    """
    made = workshop or Workshop(plant)
    numbers = [n for n in charges_of(plant) if item in ("", plant.network.branches[n].item)]
    return tuple(_charge(plant, made, number) for number in numbers)


def _charge(plant: Plant, workshop: Workshop, number: int) -> Charge:
    branch = plant.network.branches[number]
    law = branch.law
    assert isinstance(law, Cartridge)
    levers = _commands(plant, number)
    arming = dict(_arming(plant, number).items())
    base = moved_from(plant, ready(plant).settled, arming)
    acts = [n for n in levers if n not in arming]
    commanded, safe = _settings(plant, base, acts, number)
    faults = _faults_near(plant, number)
    alone = _reached(plant, workshop, number, faults, Situation(id="armed", title="armed", settled=base))
    known = {t.fault.id for t in alone}
    with_one: dict[str, Threat] = {}
    rest = [f for f in faults if f.id not in known]
    for moves, settled in safe:
        if len(moves) == 1:
            does = _orders(plant, moves)
            for threat in _reached(
                plant, workshop, number, rest, Situation(id="one", title="armed", settled=settled), does
            ):
                with_one.setdefault(threat.fault.id, threat)
    unplugged = _unplugged(plant, workshop, number, arming, faults, safe)
    return Charge(
        name=branch.name,
        item=branch.item,
        no_fire=law.no_fire,
        plug=_orders(plant, tuple(arming.items())),
        commands=tuple(_orders(plant, moves) for moves in commanded),
        alone=alone,
        with_one=tuple(with_one.values()),
        unplugged=unplugged,
    )


def _commands(plant: Plant, number: int) -> tuple[int, ...]:
    """Levers that can bear on a cartridge, its own arming plug among them."""
    return tuple(sorted(cone_of(plant, (number,)).levers))


def _arming(plant: Plant, number: int) -> dict[int, float]:
    """What arms a cartridge: its service's presumptions, and arming plugs in."""
    item = plant.network.branches[number].item
    moves: dict[int, float] = {}
    for service in services_at(plant, (item,), ()):
        moves.update(presumed_moves(plant, plant.installation.dossier.services[service].given))
        for other in items_of(plant.installation, service):
            if plant.installation.equipment[other].symbol == "arming-plug":
                for name in plant.installation.equipment[other].controls:
                    lever = plant.network.lever_of[f"{other}.{name}"]
                    positions = plant.network.levers[lever].positions
                    if "in" in positions:
                        moves[lever] = float(positions.index("in"))
    return moves


Moves = tuple[tuple[int, float], ...]


def _settings(
    plant: Plant, base: Settled, levers: Sequence[int], number: int
) -> tuple[list[Moves], list[tuple[Moves, Settled]]]:
    """Settings that fire the cartridge with all well, fewest moves first; and those that leave it safe."""
    values = {n: list(_tried(plant, n)) for n in levers}
    found: list[tuple[Moves, Settled]] = []
    sizes = range(len(levers) + 1) if _count(values.values()) <= MOST_COMMANDS else range(3)
    for size in sizes:
        for chosen in combinations(levers, size):
            for choice in product(*([v for v in values[n] if v != base.memory.levers[n]] for n in chosen)):
                moves = tuple(zip(chosen, choice, strict=True))
                found.append((moves, moved_from(plant, base, dict(moves))))
    fires = [moves for moves, settled in found if settled.solution.state(number) > 0]
    least = [m for m in fires if not any(set(other) < set(m) for other in fires)]
    return least, [(m, s) for m, s in found if s.solution.state(number) == 0]


def _count(values: Iterable[Sequence[float]]) -> int:
    count = 1
    for tried in values:
        count *= max(1, len(tried))
    return count


def _tried(plant: Plant, lever: int) -> tuple[float, ...]:
    return lever_values(plant, lever)


def _orders(plant: Plant, moves: Moves) -> tuple[str, ...]:
    return tuple(order_words(plant, Operation(lever, value)) for lever, value in moves)


def _faults_near(plant: Plant, number: int) -> tuple[Fault, ...]:
    """Faults of the cartridge's services, of joints and earths they share, every touch in its looms."""
    item = plant.network.branches[number].item
    services = set(services_at(plant, (item,), ()))
    cables = {c.id for c in plant.installation.dossier.cables.values() if c.service in services}
    chosen = [f for f in faults_of(plant) if services & set(f.services) or cables & set(f.cables)]
    found = {f.id: f for f in (*chosen, *touching_in_loom(plant, frozenset(cables)))}
    return tuple(found.values())


def _reached(
    plant: Plant,
    workshop: Workshop,
    number: int,
    faults: Sequence[Fault],
    situation: Situation,
    does: tuple[str, ...] = (),
) -> tuple[Threat, ...]:
    """Faults that take a cartridge above its no-fire current as things stand."""
    if situation.settled.solution.state(number) > 0:
        return ()
    alike = representatives(plant, faults)
    worked = list({f.id: f for f in alike.values()}.values())
    threats: dict[str, Threat] = {}
    for one in struck_once(workshop, situation, worked):
        result = _fired(plant, one, number)
        if result:
            threats[one.fault.id] = Threat(
                fault=one.fault, does=does, result=result, settled=situation.settled
            )
    return tuple(replace(threats[alike[f.id].id], fault=f) for f in faults if alike[f.id].id in threats)


def _fired(plant: Plant, one: Struck, number: int) -> str:
    """fired, above-no-fire, or nothing."""
    name = plant.network.branches[number].name
    if any(event.what == "fired" and name in event.names for event in one.events):
        return "fired"
    state = one.state(number)
    return ("", "above-no-fire", "fired")[state] if number not in one.fault.own else ""


def _unplugged(
    plant: Plant,
    workshop: Workshop,
    number: int,
    arming: Mapping[int, float],
    faults: Sequence[Fault],
    safe: Sequence[tuple[Moves, Settled]],
) -> tuple[Threat, ...]:
    """Single faults that reach a cartridge with its arming plug out, with at most one thing done besides."""
    if not arming:
        return ()
    out = {n: plant.network.levers[n].start for n in arming}
    found: dict[str, Threat] = {}
    for moves, settled in safe:
        if len(moves) <= 1:
            there = moved_from(plant, settled, out)
            situation = Situation(id="unplugged", title="plug out", settled=there)
            for threat in _reached(plant, workshop, number, faults, situation, _orders(plant, moves)):
                found.setdefault(threat.fault.id, threat)
    return tuple(found.values())


def firing_pairs(plant: Plant, number: int, *, most: int = 4000, workshop: Workshop | None = None) -> Firing:
    """Pairs of faults that reach a cartridge, armed and with nothing done, where neither does alone.

    Parameters
    ----------
    plant
        The installation.
    number
        Branch of the cartridge.
    most
        Pairs worked out at most; the likeliest are taken.
    workshop
        Of the installation; a new one where None.

    Returns
    -------
    Firing
        The likelier first.
    """
    made = workshop or Workshop(plant)
    base = moved_from(plant, ready(plant).settled, _arming(plant, number))
    situation = Situation(id="armed", title="armed", settled=base)
    faults = [
        f
        for f in _faults_near(plant, number)
        if f.mode not in ("open", "high-resistance", "blown", "too-light", "too-heavy")
    ]
    single = {t.fault.id for t in _reached(plant, made, number, faults, situation)}
    alike = representatives(plant, faults)
    kept = [f for f in {g.id: g for g in alike.values()}.values() if f.id not in single]
    cases = {f.id: case for f in kept if (case := case_of(plant, f, base)) is not None}
    pairs = [(a, b) for a, b in combinations([f for f in kept if f.id in cases], 2)]
    pairs.sort(key=lambda pair: -pair[0].likelihood * pair[1].likelihood)
    both = [(a, b, case) for a, b in pairs if (case := together(cases[a.id], cases[b.id])) is not None]
    possible = len(both)
    slow = [entry for entry in both if len(entry[2].extra) > 1][:MOST_SLOW_PAIRS]
    both = [entry for entry in both if len(entry[2].extra) < 2][:most] + slow
    results = put_in(made, situation, [(first, case) for first, _, case in both], quiet=True)
    found = []
    for (first, second, _), one in zip(both, results, strict=True):
        result = _fired(plant, one, number)
        if result:
            found.append(Pair(first=first, second=second, result=result))
    return Firing(pairs=tuple(found), tried=len(both), of=possible)


def _alike_charges(charges: Sequence[Charge]) -> list[list[Charge]]:
    """Cartridges that the same things fire, together."""
    groups: dict[tuple[object, ...], list[Charge]] = {}
    for charge in charges:
        own = {item for c in charges for item in (c.item, c.name)}
        key = (
            charge.plug,
            charge.commands,
            tuple(t.fault.id for t in charge.alone if not own & set(t.fault.items)),
        )
        groups.setdefault(key, []).append(charge)
    return list(groups.values())


def _charge_words(plant: Plant, group: Sequence[Charge]) -> Iterator[Hazard]:
    charge = group[0]
    names = listed([f"the {lowered(name_of(plant, c.item))}" for c in group])
    several = len(group) > 1
    alone = {t.fault.id: t for c in group for t in c.alone}
    one = {t.fault.id: t for c in group for t in c.with_one if t.fault.id not in alone}
    fires = "are fired" if several else "is fired"
    proper = listed([listed(list(c)) for c in charge.commands[:4]], "or") or "nothing that was found"
    armed = (
        f"{_sentence(listed(list(charge.plug)))} and touch nothing: " if charge.plug else "Nothing touched: "
    )
    plug = _plug_words(group)
    if alone:
        first = likeliest(tuple(alone.values()))
        others = len(alone) - 1
        more = f" {others} other single fault{'s do' if others > 1 else ' does'} the same." if others else ""
        yield Hazard(
            name=f"{charge.item}.fires",
            kind="cartridge",
            item=charge.item,
            grave=True,
            threats=tuple(alone.values()),
            words=f"{armed}if {first.fault.words}, {names} {fires}.{more} Only this should do it: "
            f"{proper}. {plug}",
            look=f"{first.fault.look} Cartridges out and their leads shorted before anything is touched "
            "here.",
        )
    if one:
        yield Hazard(
            name=f"{charge.item}.fires.with-one",
            kind="cartridge",
            item=charge.item,
            grave=False,
            threats=tuple(one.values()),
            words=f"{_sentence(names)}: {_faults(len(one))} only one thing done besides, as: "
            f"{_as_one(one)}. Only this should do it: {proper}. {plug}",
            look="Put these on the card of the firing circuit: insulation of the firing line, and each "
            "switch of it by itself, cartridges out.",
        )
    if not alone and not one:
        yield Hazard(
            name=f"{charge.item}.safe",
            kind="cartridge-safe",
            item=charge.item,
            grave=False,
            words=f"{_sentence(names)}: no single fault takes {'them' if several else 'it'} above the "
            f"no-fire current of {charge.no_fire:g} A, with nothing or with one thing done. {plug}",
            look="Cartridges out and their leads shorted before anything is touched here.",
        )


def _faults(count: int) -> str:
    return "1 single fault needs" if count == 1 else f"{count} single faults need"


def _as_one(threats: Mapping[str, Threat]) -> str:
    first = likeliest(tuple(threats.values()))
    return f"{first.fault.words}, and {listed(list(first.does))}"


def _plug_words(group: Sequence[Charge]) -> str:
    charge = group[0]
    if not charge.plug:
        return "There is no arming plug in it."
    through = {t.fault.id: t for c in group for t in c.unplugged}
    if not through:
        return "With the arming plug out no single fault reaches it, whatever one thing is done."
    first = next(iter(through.values()))
    besides = f" with {listed(list(first.does))}" if first.does else ""
    return (
        f"The arming plug, out, does not stop {len(through)} of the single faults, as: "
        f"{first.fault.words}{besides}."
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


# -- magnetos --------------------------------------------------------------------------------------


def magneto_hazards(plant: Plant, workshop: Workshop | None = None, *, item: str = "") -> tuple[Hazard, ...]:
    """Each magneto with its switch off: every fault and parted plug that leaves it live.

    Parameters
    ----------
    plant
        The installation.
    workshop
        Of the installation; a new one where None.
    item
        Only this one; all where empty.

    Returns
    -------
    tuple of Hazard
        One a magneto; one that is live with everything in order says so.
    """
    made = workshop or Workshop(plant)
    base = ready(plant).settled
    found = []
    for number in magnetos_of(plant):
        magneto = plant.network.branches[number].item
        if item not in ("", magneto):
            continue
        name = thing_words(plant, magneto)
        caution = (
            f"Treat {name} as live: plugs out, airscrew clear; earth its primary and prove it with a meter "
            "at the magneto."
        )
        if base.solution.state(number) == 0:
            words = f"{_sentence(name)} is live with every control at rest."
            found.append(
                Hazard(
                    name=f"{magneto}.live",
                    kind="magneto",
                    item=magneto,
                    words=words,
                    look=caution,
                    grave=True,
                )
            )
            continue
        services = set(services_at(plant, (magneto,), ()))
        faults = [f for f in faults_of(plant) if services & set(f.services)]
        alike = representatives(plant, faults)
        worked = list({f.id: f for f in alike.values()}.values())
        live = {
            one.fault.id: situation.settled
            for situation in (Situation(id="rest", title="at rest", settled=rest(plant)), ready(plant))
            for one in struck_once(made, situation, worked, magnetos=True)
            if number not in one.fault.own and one.state(number) == 0
        }
        threats = tuple(
            Threat(fault=f, does=(), result="live", settled=live[alike[f.id].id])
            for f in faults
            if alike[f.id].id in live
        )
        if threats:
            plugs = [t.fault for t in threats if t.fault.mode == "parted"]
            said = listed(
                [f.words for f in (*plugs, *(t.fault for t in threats if t.fault.mode != "parted"))][:4], "or"
            )
            words = (
                f"With its switch off {name} is left live by any of {len(threats)} single faults, and "
                "nothing in the cockpit shows it: "
                f"{said}{', and others' if len(threats) > 4 else ''}."
            )
            found.append(
                Hazard(
                    name=f"{magneto}.live",
                    kind="magneto",
                    item=magneto,
                    words=words,
                    look=caution,
                    grave=True,
                    threats=threats,
                )
            )
    return tuple(found)


# -- pumps in tanks, starters ----------------------------------------------------------------------


def motor_hazards(plant: Plant, workshop: Workshop | None = None, *, item: str = "") -> tuple[Hazard, ...]:
    """Pumps in tanks and starters: what energises them with their switch off, and whether a pump can run dry.

    Parameters
    ----------
    plant
        The installation.
    workshop
        Of the installation; a new one where None.
    item
        Only this one; all where empty.

    Returns
    -------
    tuple of Hazard
        Of each such motor.
    """
    made = workshop or Workshop(plant)
    found: list[Hazard] = []
    for number, branch in enumerate(plant.network.branches):
        if not isinstance(branch.law, Motor) or item not in ("", branch.item):
            continue
        equipment = plant.installation.equipment[branch.item]
        starter = equipment.symbol == "starter"
        if not starter and not in_tank(plant, branch.item):
            continue
        threats = _energised(plant, made, number)
        name = thing_words(plant, branch.item)
        if threats:
            said = listed(
                [t.fault.words for t in sorted(threats, key=lambda t: -t.fault.likelihood)[:3]], "or"
            )
            danger = "the airscrew turns" if starter else "current in the tank with the switch off"
            words = (
                f"{_sentence(name)} is energised unasked by {len(threats)} single faults ({danger}): "
                f"{said}{', and others' if len(threats) > 3 else ''}."
            )
            cure = (
                "Chocks, magnetos off, all clear whenever the battery is connected."
                if starter
                else "Fuse out whenever the tank is open or empty; look to the bond and the vapour seal."
            )
            found.append(
                Hazard(
                    name=f"{branch.item}.energised",
                    kind="starter" if starter else "tank-pump",
                    item=branch.item,
                    words=words,
                    look=f"{likeliest(threats).fault.look} {cure}",
                    grave=True,
                    threats=threats,
                )
            )
        if not starter:
            found += _dry(plant, number, branch.item)
    return tuple(found)


def in_tank(plant: Plant, item: str) -> bool:
    """Whether a pump stands in a fuel tank, by its kind.

    Parameters
    ----------
    plant
        The installation.
    item
        Its id.

    Returns
    -------
    bool
        A kind of the dossier's own says so in its title or hazard: "in the tank".
    """
    equipment = plant.installation.equipment[item]
    return equipment.kind == "tank-pump" or "in the tank" in f"{equipment.title} {equipment.hazard}".lower()


def _energised(plant: Plant, workshop: Workshop, number: int) -> tuple[Threat, ...]:
    law = plant.network.branches[number].law
    assert isinstance(law, Motor)
    item = plant.network.branches[number].item
    services = set(services_at(plant, (item,), ()))
    cables = frozenset(c.id for c in plant.installation.dossier.cables.values() if c.service in services)
    faults = [f for f in faults_of(plant) if services & set(f.services)]
    faults += [f for f in touching_in_loom(plant, cables) if f.id not in {g.id for g in faults}]
    situation = ready(plant)
    if abs(situation.settled.solution.volts(number)) > ENERGISED * law.volts:
        return ()
    alike = representatives(plant, faults)
    live = set()
    for one in struck_once(workshop, situation, list({f.id: f for f in alike.values()}.values())):
        node_a, node_b = plant.network.branches[number].a, plant.network.branches[number].b
        if abs(one.volts(node_a, node_b)) > ENERGISED * law.volts and number not in one.fault.own:
            live.add(one.fault.id)
    return tuple(
        Threat(fault=f, does=(), result="energised", settled=situation.settled)
        for f in faults
        if alike[f.id].id in live
    )


def _dry(plant: Plant, number: int, item: str) -> Iterator[Hazard]:
    """Whether anything stops a pump when its tank is empty."""
    levers = levers_that_matter(plant, (number,))
    contents = [
        n
        for n in levers
        if plant.network.levers[n].world
        and ("content" in plant.network.levers[n].name or "level" in plant.network.levers[n].name)
    ]
    if not contents:
        name = thing_words(plant, item)
        yield Hazard(
            name=f"{item}.dry",
            kind="tank-pump-dry",
            item=item,
            grave=False,
            words=f"Nothing in the wiring stops {name} when its tank is empty: it runs dry as long as its "
            "switch is on.",
            look="Put it in the drill: pump off at the gauge's last mark; never tried on an empty tank. "
            "Ask for a float or pressure switch only if the type had one.",
        )
