"""Test cards: what to measure before and after power is put on, what to expect, and what to beware of.

A card is a title, what has to be done first, and rows. A row has what is measured and where, what is expected,
room for as found and as left, and the cautions of the items it touches beside it. Expected figures are worked out
(ohms with the battery off, amperes with it on); limits are printed with their source and how well it is known.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.tabulating import function_tables
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.expecting import Ohms, ohms_between, pair_words, standing_ohms
from loomlore.faults.powering import MEANING, PowerStep, first_power_rows, items_beyond, services_of_fuse
from loomlore.faults.situations import Situation, charges_of, situations_of
from loomlore.faults.terminals import item_place, place_words, services_at, terminal_words
from loomlore.network.building import Plant
from loomlore.network.laws import (
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Meter,
    Rectifier,
    Source,
    Straight,
)
from loomlore.network.model import Branch
from loomlore.quantities import as_written
from loomlore.record.model import AIRFRAME, Cable

__all__ = ["CARDS", "Card", "Limit", "Row", "bonding_limits", "card_of", "insulation_limits"]

CARDS = ("continuity", "bonding", "insulation", "first-power", "drops", "regulator", "fuses", "functions")
"""Cards in the order in which they are worked through: nothing is powered before insulation has passed."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A published limit, as printed. ``status`` is how the figure came here."""

    what: str
    words: str
    source: str
    status: str


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a card. ``id`` finds it again when what was found comes back.

    ``of`` are the two terminals that are measured, where there are two; ``wrong`` says what another reading means.
    """

    id: str
    what: str
    where: str = ""
    expect: str
    cautions: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    dimension: str = ""
    of: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Card:
    """One test card. ``meaning`` says what readings mean that are not as expected."""

    id: str
    title: str
    first: tuple[str, ...]
    rows: tuple[Row, ...]
    limits: tuple[Limit, ...] = ()
    meaning: tuple[str, ...] = ()


# -- limits --------------------------------------------------------------------------------------------------------

MEMORY = "from memory: read the print before leaning on it"


def bonding_limits() -> tuple[Limit, ...]:
    """Bonding limits for a card.

    Returns
    -------
    tuple of Limit
        As printed, with their status.

    Source
    ------
    [ac43.13-1b par 11-188f], [ac43.13-1b par 11-189], [faa-h-8083-32 ch 4], [cap562 leaflet 9-1 table 1]
    """
    read = "read"
    return (
        Limit("equipment frame to structure", "under 2.5 mohm", "AC 43.13-1B par 11-188f", read),
        Limit("each bonding strip's joint", "3 mohm at most", "AC 43.13-1B par 11-189", read),
        Limit("generator or battery earth to any equipment earth", "5 mohm", "FAA-H-8083-32 ch 4", read),
        Limit("parts carrying the main earth current", "50 mohm", "CAP 562 leaflet 9-1 table 1", MEMORY),
    )


def insulation_limits() -> tuple[Limit, ...]:
    """Insulation limits for a card.

    Returns
    -------
    tuple of Limit
        As remembered, with their status: the print was not open for any of them.

    Source
    ------
    [cap562 leaflet 9-1]
    """
    leaflet = "CAP 562 leaflet 9-1"
    return (
        Limit("wheel wells, engines and nacelles", "2 Mohm", leaflet, MEMORY),
        Limit("lighting and signalling", "5 Mohm", leaflet, MEMORY),
        Limit("all other services", "10 Mohm", leaflet, MEMORY),
        Limit("rotating machines", "0.5 Mohm", leaflet, MEMORY),
    )


CHARGES_OUT = (
    "Arming plugs out; every cartridge isolated and shorted before any test; "
    "no meter of unknown current near them."
)

PRODS = 0.2
"""Ohms by which prods and a meter's last figure may differ: common practice, no source."""

STRIP_LIMIT = 0.003
EQUIPMENT_LIMIT = 0.0025
"""Ohms: [ac43.13-1b par 11-189] and [ac43.13-1b par 11-188f]."""

START_AT = (
    "Start at 100 V; old rubber is not given 250 V until it has passed at 100 V (common practice, no source)."
)


# -- what a service touches ------------------------------------------------------------------------------------


def _cables(plant: Plant, service: str) -> list[Cable]:
    return [
        c
        for c in plant.installation.dossier.cables.values()
        if f"cable:{c.id}" in plant.network.branch_of and (not service or c.service == service)
    ]


def _cautions(plant: Plant, items: Iterable[str]) -> tuple[str, ...]:
    found = []
    for item in dict.fromkeys(items):
        equipment = plant.installation.equipment.get(item)
        if equipment is not None and equipment.hazard:
            found.append(f"{equipment.item.name}: {equipment.hazard}")
    return tuple(found)


def _ends(cable: Cable) -> tuple[str, str]:
    return cable.from_.rpartition(".")[0], cable.to.rpartition(".")[0]


def _place(plant: Plant, item: str) -> str:
    return place_words(plant, item_place(plant, item)).removeprefix(", ")


def _batteries(plant: Plant) -> tuple[str, ...]:
    found = [b.item for b in plant.network.branches if isinstance(b.law, Battery)]
    found += [b.item for b in plant.network.branches if isinstance(b.law, Source)]
    return tuple(dict.fromkeys(found))


def _called(plant: Plant, items: Iterable[str]) -> str:
    return listed([f"the {lowered(name_of(plant, item))}" for item in items])


def _power_off(plant: Plant) -> list[str]:
    first = []
    if _batteries(plant):
        first.append(f"Lead off {_called(plant, _batteries(plant))}, and tied back.")
    if charges_of(plant):
        first.append(CHARGES_OUT)
    return first


# -- cards -------------------------------------------------------------------------------------------------------


def card_of(
    plant: Plant, card: str, *, service: str = "", limit_amps: float = 5.0, lamp: Filament | None = None
) -> Card:
    """Make one card.

    Parameters
    ----------
    plant
        The installation.
    card
        One of :data:`CARDS`.
    service
        Of this service only; of the whole installation where empty.
    limit_amps
        Where the bench supply of the first-power card is set to limit [A].
    lamp
        A lamp in series instead of a limit.

    Returns
    -------
    Card
        In the order of work.

    Raises
    ------
    KeyError
        Where no card is called so.
    """
    if card == "first-power":
        rows = first_power_rows(plant, service=service, limit_amps=limit_amps, lamp=lamp)
        return Card(
            id="first-power",
            title="First power",
            first=_before_power(plant, limit_amps, lamp),
            rows=tuple(_power_row(plant, row) for row in rows),
            meaning=MEANING,
        )
    return _MAKERS[card](plant, service)


def _continuity(plant: Plant, service: str) -> Card:
    standing = standing_ohms(plant, rest(plant), taken_off=_batteries(plant))
    rows = []
    for cable in _cables(plant, service):
        reading = ohms_between(standing, cable.from_, cable.to)
        own = plant.network.branches[plant.network.branch_of[f"cable:{cable.id}"]].law
        alone = getattr(own, "resistance", 0.0) + standing.meter.leads
        rows.append(
            Row(
                id=f"continuity:{cable.id}",
                what=f"{cable.id}: {terminal_words(plant, cable.from_)} to {terminal_words(plant, cable.to)}",
                where=_place(plant, _ends(cable)[0]),
                expect=_ohms_words(reading, alone),
                cautions=_cautions(plant, _ends(cable)),
                low=max(0.0, reading.low - PRODS) if reading.ohms is not None else None,
                high=reading.high + PRODS if reading.ohms is not None else None,
                dimension="resistance",
                of=(cable.from_, cable.to),
            )
        )
    return Card(
        id="continuity",
        title="Continuity, end to end",
        meaning=(
            "Open: the lead is broken or off at an end, or a plug between is parted or crossed.",
            "Lower than expected: another path is beside it, or it touches its neighbour; one end off tells which.",
            "Higher by an ohm or more: a bad joint, or another lead than the mark says.",
        ),
        first=(
            *_power_off(plant),
            "Controls as the installation stands at rest.",
            (
                f"The figures hold the meter's leads, {as_written(standing.meter.leads, 'resistance')}: touch prods "
                "together first. An ohmmeter tells only whole from broken; joints are proved by millivolts under load."
            ),
        ),
        rows=tuple(rows),
    )


def _ohms_words(reading: Ohms, alone: float) -> str:
    if reading.refused:
        return f"not to be measured so. {reading.refused}"
    if reading.ohms is not None and alone - reading.ohms > 0.05 * alone:
        return f"{reading.words} by paths beside it; {as_written(alone, 'resistance')} with one end off"
    return reading.words


def _bonding(plant: Plant, service: str) -> Card:
    rows = []
    dossier = plant.installation.dossier
    for bolt in dossier.earths.values():
        name = f"{AIRFRAME}.{bolt.id}"
        cables = [
            c.id
            for c in dossier.cables.values()
            if name in (c.from_, c.to) and (not service or c.service == service)
        ]
        if service and not cables:
            continue
        recorded = (
            f"; the record has {as_written(bolt.resistance.value, 'resistance')}" if bolt.resistance else ""
        )
        rows.append(
            Row(
                id=f"bonding:{bolt.id}",
                what=f"{terminal_words(plant, name)} to clean structure"[:1].upper()
                + f"{terminal_words(plant, name)} to clean structure"[1:],
                where=place_words(plant, bolt.place).removeprefix(", "),
                expect=f"under {as_written(EQUIPMENT_LIMIT, 'resistance')}{recorded}",
                high=EQUIPMENT_LIMIT,
                low=0.0,
                dimension="resistance",
                of=(name, AIRFRAME),
            )
        )
        for other, bond in bolt.bonds.items():
            far = terminal_words(plant, f"{AIRFRAME}.{other}")
            rows.append(
                Row(
                    id=f"bonding:{bolt.id}~{other}",
                    what=f"Bond from {terminal_words(plant, name)} to {far}, each joint",
                    where=place_words(plant, bolt.place).removeprefix(", "),
                    expect=f"{as_written(STRIP_LIMIT, 'resistance')} at most; "
                    f"the record has {as_written(bond.value, 'resistance')}",
                    high=STRIP_LIMIT,
                    low=0.0,
                    dimension="resistance",
                    of=(name, f"{AIRFRAME}.{other}"),
                )
            )
    return Card(
        id="bonding",
        title="Bonding",
        meaning=("Too high: joint apart, clean to bright metal, make again, protect, and measure again.",),
        first=(
            *_power_off(plant),
            "Four-wire milliohm meter; prods on bare metal inside the joint, not on paint or anodising.",
        ),
        rows=tuple(rows),
        limits=bonding_limits(),
    )


def _insulation(plant: Plant, service: str) -> Card:
    services = [service] if service else [s for s in plant.installation.dossier.services if _cables(plant, s)]
    rows = []
    for name in services:
        cables = _cables(plant, name)
        items = dict.fromkeys(i for c in cables for i in _ends(c) if i in plant.installation.equipment)
        off = _to_be_disconnected(plant, items)
        limit = _insulation_limit(plant, items)
        title = plant.installation.dossier.services[name].title or name
        first = f"off first: {listed(off)}; " if off else ""
        rows.append(
            Row(
                id=f"insulation:{name}",
                what=f"{title}: {cables[0].id} to {cables[-1].id}, bunched, to earth"
                if len(cables) > 1
                else f"{title}: {cables[0].id} to earth",
                expect=f"{first}limit {as_written(limit, 'resistance')} ({MEMORY})",
                cautions=_cautions(plant, items),
                low=limit,
                dimension="resistance",
            )
        )
    return Card(
        id="insulation",
        title="Insulation to earth, and between leads",
        meaning=(
            (
                "Too low: part the service at its plugs and halve it until the leak is on one side; damp dries out, "
                "cracked rubber does not."
            ),
        ),
        first=(
            *_power_off(plant),
            "All fuses out. Earth ends of the service's leads off their bolts.",
            START_AT,
            "Write down the humidity and the weather of the day before. A limit is printed here, never a prediction.",
            "Discharge the leads to earth after each test.",
        ),
        rows=tuple(rows),
        limits=insulation_limits(),
    )


def _to_be_disconnected(plant: Plant, items: Iterable[str]) -> list[str]:
    """What would spoil the test or be spoilt by it: lamps, sets, rectifiers, condensers, meters, cartridges."""
    wanted = set(items)
    found: dict[str, None] = {}
    for branch in plant.network.branches:
        law = branch.law
        condenser = isinstance(law, Straight) and law.resistance >= 1e6 and branch.sort == "element"
        if branch.item in wanted and (
            condenser
            or isinstance(
                law, Filament | ConstantPower | Rectifier | Meter | Cartridge | Coil | Battery | Generator
            )
        ):
            found.setdefault(f"the {lowered(name_of(plant, branch.item))}")
    return list(found)


def _insulation_limit(plant: Plant, items: Iterable[str]) -> float:
    """Ohms, from the leaflet, from memory."""
    symbols = {plant.installation.equipment[i].symbol for i in items}
    places = " ".join(_place(plant, i).lower() for i in items)
    if any(word in places for word in ("nacelle", "engine", "wheel")):
        return 2e6
    if symbols & {"lamp", "horn", "key"}:
        return 5e6
    return 10e6


# -- first power ---------------------------------------------------------------------------------------------------


def _before_power(plant: Plant, limit_amps: float, lamp: Filament | None) -> tuple[str, ...]:
    volts = as_written(plant.network.supply, "voltage")
    supply = (
        f"Bench supply of {volts} in the battery's place, limited to {as_written(limit_amps, 'current')}"
        if lamp is None
        else f"Battery or supply of {volts} through a lamp of {as_written(lamp.volts, 'voltage')} "
        f"{as_written(lamp.volts * lamp.amps, 'power')} in series: the lamp is the limit, and lights on a short"
    )
    charges = (
        ("Fuses of cartridge circuits stay out: they have their own test, arming plugs out.",)
        if charges_of(plant)
        else ()
    )
    return (
        "Continuity, bonding and insulation have passed.",
        "Chocks, all clear of the airscrews; magneto switches off and their leads proved earthed.",
        f"{supply}; polarity proved with a voltmeter before it is connected. The battery itself stays out.",
        "All fuses out. Put them in one at a time, in this order, each with the rating of its own card.",
        "Cold lamps and motors draw more for a moment, and may touch the limit: let the needle settle, then read.",
        "A step that is not as expected: stop, that fuse out again, and find out why before the next goes in.",
        *charges,
    )


def _power_row(plant: Plant, step: PowerStep) -> Row:
    branch = plant.network.branches[step.number] if step.number >= 0 else None
    if branch is None:
        return Row(
            id="first-power:start", what="All fuses out, supply on", expect=as_written(step.amps, "current"),
            low=step.amps * 0.85 - 0.05, high=step.amps * 1.1 + 0.1, dimension="current", wrong=step.wrong,
        )  # fmt: skip
    services = listed(list(services_of_fuse(plant, branch.name)) or ["main or several services"])
    return Row(
        id=f"first-power:{branch.name}",
        what=f"{name_of(plant, branch.name)}: fuse in ({services})",
        where=_place(plant, branch.item),
        expect=step.words,
        cautions=_cautions(plant, items_beyond(plant, branch)),
        low=step.step * 0.85 - 0.05,
        high=step.step * 1.15 + 0.05,
        dimension="current",
        wrong=step.wrong,
    )


# -- millivolts, joint by joint ------------------------------------------------------------------------------------


def _drops(plant: Plant, service: str) -> Card:
    """Every lead, contact, fuse and bolt that carries the load of some situation, at its highest current."""
    worst: dict[int, tuple[float, float, Situation]] = {}
    for situation in situations_of(plant):
        solution = situation.settled.solution
        for number, branch in enumerate(plant.network.branches):
            if branch.sort == "element" and not isinstance(branch.law, Fuse):
                continue
            amps = abs(solution.amps(number))
            if amps > worst.get(number, (0.05, 0.0, situation))[0]:
                worst[number] = amps, abs(solution.volts(number)), situation
    rows = []
    for number, (amps, volts, situation) in worst.items():
        branch = plant.network.branches[number]
        services = _services_of_branch(plant, branch)
        if service and service not in services:
            continue
        names = [plant.network.node_names[n] for n in (branch.a, branch.b)]
        items = [n.rpartition(".")[0] for n in names]
        rows.append(
            Row(
                id=f"drops:{branch.sort}:{branch.name}",
                what=f"{_part_words(plant, branch)}: {pair_words(plant, *names)}",
                where=_place(plant, items[0]),
                expect=f"{as_written(volts, 'voltage')} at {as_written(amps, 'current')} ({situation.title})",
                cautions=_cautions(plant, items),
                low=0.0,
                high=1.5 * volts + 0.005,
                dimension="voltage",
                of=(names[0], names[1]),
            )
        )
    return Card(
        id="drops",
        title="Millivolt drop under load, joint by joint",
        meaning=(
            "Much more than expected: that very joint, contact or lead; clean it, and read again.",
            "Nothing at all: no load flows. See that the load is on before the joint is believed good.",
        ),
        first=(
            "Load on as the row says, long enough to settle; prods on the metal of the two ends.",
            "A drop half as high again as expected and over 5 mV: take the joint apart (common practice, no source).",
        ),
        rows=tuple(rows),
    )


def _part_words(plant: Plant, branch: Branch) -> str:
    return {
        "cable": branch.name,
        "joint": "plug way",
        "bolt": "earth bolt",
        "bond": "bond",
        "contact": "contact",
    }.get(branch.sort, lowered(name_of(plant, branch.name)))


def _services_of_branch(plant: Plant, branch: Branch) -> tuple[str, ...]:
    if branch.sort == "cable":
        service = plant.installation.dossier.cables[branch.name].service
        return (service,) if service else ()
    if branch.sort == "fuse" or isinstance(branch.law, Fuse):
        return services_of_fuse(plant, branch.name)
    ends = [plant.network.node_names[n] for n in (branch.a, branch.b)]
    landing = [c.service for c in plant.installation.dossier.cables.values() if {c.from_, c.to} & set(ends)]
    return tuple(dict.fromkeys(s for s in landing if s)) or services_at(plant, (branch.item,), ())


# -- regulator and cut-out, fuses, functions --------------------------------------------------------------------


def _regulator(plant: Plant, service: str) -> Card:
    rows: list[Row] = []
    for number, branch in enumerate(plant.network.branches):
        law = branch.law
        if isinstance(law, Generator) and (not service or service in services_at(plant, (branch.item,), ())):
            called, where = name_of(plant, branch.item), _place(plant, branch.item)
            warn = _cautions(plant, (branch.item,))
            held = f"{as_written(law.held, 'voltage')}" if law.held is not None else "not regulated by volts"
            entries = [
                (
                    "residual",
                    "volts at rated speed, field lead off",
                    f"about {as_written(law.residual, 'voltage')}",
                    law.residual,
                ),
                ("held", "volts held, load light", held, law.held),
                ("cuts-in", "speed from which it charges", _speed(plant, branch, law.cuts_in), None),
            ]
            for key, what, expect, middle in entries:
                rows.append(
                    Row(
                        id=f"regulator:{branch.name}:{key}", what=f"{called}: {what}", where=where, expect=expect,
                        cautions=warn,
                        low=None if middle is None else 0.97 * middle, high=None if middle is None else 1.03 * middle,
                        dimension="" if middle is None else "voltage",
                    )
                )  # fmt: skip
        elif isinstance(law, Coil) and plant.installation.equipment[branch.item].symbol in (
            "cut-out",
            "reverse-current-relay",
        ):
            rows += _coil_rows(plant, number)
    for item, equipment in plant.installation.equipment.items():
        for latch in equipment.latches.values():
            if "cut-out" in equipment.kind and (not service or service in services_at(plant, (item,), ())):
                said = f"set when {latch.set}; released when {latch.release}"
                rows.append(
                    Row(
                        id=f"regulator:{item}:{latch.name}", what=f"{equipment.item.name}: closing and reverse current",
                        where=_place(plant, item), expect=said, cautions=_cautions(plant, (item,)),
                    )
                )  # fmt: skip
    return Card(
        id="regulator",
        title="Regulator and cut-out",
        meaning=(
            (
                "No volts but the residual: field open, brushes, or the regulator stuck open. Volts run away: stop; "
                "the regulator is stuck closed or has lost its earth."
            ),
            "The cut-out does not close, or lets go late: its gap and spring, by its maker's sheet only.",
        ),
        first=(
            "Machine turning on the rig, or engine running with the airscrew guarded and one person at the switch.",
            "Battery charged. Voltmeter and ammeter proved. Read when warm: a cold regulator holds high.",
            "A failure lamp's rectifier must not feed a dead bus: bus off, machine running, the bus reads nothing.",
        ),
        rows=tuple(rows),
    )


def _speed(plant: Plant, branch: Branch, value: float) -> str:
    return as_written(value, plant.network.levers[branch.follows].dimension) if branch.follows >= 0 else "any"


def _coil_rows(plant: Plant, number: int) -> list[Row]:
    branch = plant.network.branches[number]
    law = branch.law
    assert isinstance(law, Coil)
    called, where = name_of(plant, branch.item), _place(plant, branch.item)
    pairs = (("pulls-in", "pulls in at", law.pulls_in), ("drops-out", "lets go at", law.drops_out))
    return [
        Row(
            id=f"regulator:{branch.name}:{key}", what=f"{called} {what}", where=where,
            expect=as_written(volts, "voltage"),
            low=0.97 * volts, high=1.03 * volts, dimension="voltage",
        )
        for key, what, volts in pairs
    ]  # fmt: skip


def _fuses(plant: Plant, service: str) -> Card:
    rows = []
    for branch in plant.network.branches:
        if not isinstance(branch.law, Fuse) or (
            service and service not in services_of_fuse(plant, branch.name)
        ):
            continue
        law = branch.law
        way = plant.installation.dossier.ways.get(branch.name)
        printed = as_written(way.fuse.value, "current") if way is not None and way.fuse is not None else ""
        basis = (way.basis if way is not None else "") or plant.installation.equipment[branch.item].item.basis
        feeds = (
            listed(list(services_of_fuse(plant, branch.name)))
            if services_of_fuse(plant, branch.name)
            else "no service"
        )
        said = f"{as_written(law.carrying, 'current')} carrying, {as_written(law.fusing, 'current')} fusing"
        rows.append(
            Row(
                id=f"fuses:{branch.name}",
                what=f"{name_of(plant, branch.name)} ({feeds})",
                where=_place(plant, branch.item),
                expect=f"{said}{f'; written as {printed}' if printed else ''}{f', {basis}' if basis else ''}",
                low=0.99 * min(law.carrying, _printed_amps(plant, branch.name, law.carrying)),
                high=1.01 * max(law.carrying, _printed_amps(plant, branch.name, law.carrying)),
                dimension="current",
            )
        )
    return Card(
        id="fuses",
        title="Fuse ratings as fitted",
        first=(
            "Master off. Read the cap or measure the wire with a micrometer; replace a fuse that cannot be read.",
        ),
        rows=tuple(rows),
    )


def _printed_amps(plant: Plant, name: str, carrying: float) -> float:
    """What is stamped on the fuse, if the record has it: carrying or fusing amperes."""
    way = plant.installation.dossier.ways.get(name)
    return way.fuse.value if way is not None and way.fuse is not None else carrying


def _functions(plant: Plant, service: str) -> Card:
    chosen = [service] if service else list(plant.installation.dossier.services)
    rows: list[Row] = []
    for name in chosen:
        tables = function_tables(plant, name)
        items = [i for c in _cables(plant, name) for i in _ends(c)]
        charges = {plant.network.branches[n].item for n in charges_of(plant)}
        warn = _cautions(plant, items)
        if charges & set(items):
            warn = (
                "Test lamps in the cartridges' places; no cartridge is fitted while this is worked.",
                *warn,
            )
        for number, table in enumerate(tables.tables, start=1):
            for place, row in enumerate(table.rows, start=1):
                parts = [
                    f"{h}: {c}" for h, c in zip(table.columns, row.done, strict=True) if c not in ("any", "")
                ]
                done = "; ".join(parts) or "Whatever is done"
                seen = [f"{t}: {s}" for t, s in zip(table.things, row.seen, strict=True)]
                rows.append(
                    Row(
                        id=f"functions:{name}:{number}:{place}", what=f"{tables.title}. {done}",
                        expect="; ".join(seen), cautions=warn,
                    )
                )  # fmt: skip
            rest_of = "In every other setting" if table.rows else "Whatever is done"
            other = [f"{t}: {s}" for t, s in zip(table.things, table.otherwise, strict=True)]
            rows.append(
                Row(
                    id=f"functions:{name}:{number}:other", what=f"{tables.title}. {rest_of}",
                    expect="; ".join(other), cautions=warn,
                )
            )  # fmt: skip
    return Card(
        id="functions",
        title="Function test",
        first=(
            "Supply live at its working volts. Work the rows in order; write what was seen, not that it was right.",
        ),
        rows=tuple(rows),
    )


_MAKERS = {
    "continuity": _continuity,
    "bonding": _bonding,
    "insulation": _insulation,
    "drops": _drops,
    "regulator": _regulator,
    "fuses": _fuses,
    "functions": _functions,
}


# -- what was found ------------------------------------------------------------------------------------------------


def judged_row(row: Row, found: float) -> str:
    """A measurement beside its prediction.

    Parameters
    ----------
    row
        Of a card.
    found
        What was measured, in the row's unit.

    Returns
    -------
    str
        ``as expected``, ``too low``, ``too high``; "" where the row has no figure.
    """
    if row.low is None and row.high is None:
        return ""
    if row.low is not None and found < row.low:
        return "too low"
    return "too high" if row.high is not None and found > row.high else "as expected"


def sequence(cards: Iterable[str]) -> Sequence[str]:
    """Cards in the order of work.

    Parameters
    ----------
    cards
        Ids.

    Returns
    -------
    sequence of str
        Of :data:`CARDS`.
    """
    wanted = set(cards)
    return [card for card in CARDS if card in wanted]
