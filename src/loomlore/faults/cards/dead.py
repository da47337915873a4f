"""Cards of the dead installation: continuity, bonding, insulation, fuse ratings."""

from __future__ import annotations

from collections.abc import Iterable

from loomlore.behaviour.operating import rest
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.cards.card import (
    Card,
    Row,
    batteries_of,
    cables_of,
    cautions_of,
    ends_of,
    place_of,
    power_off,
)
from loomlore.faults.cards.limits import (
    EQUIPMENT_LIMIT,
    PRODS,
    START_AT,
    STRIP_LIMIT,
    bonding_limits,
    insulation_limits,
)
from loomlore.faults.cards.powering import (
    services_of_fuse,
)
from loomlore.faults.expecting import Ohms, ohms_between, standing_ohms
from loomlore.faults.terminals import place_words, terminal_words
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
    Straight,
)
from loomlore.quantities import as_written
from loomlore.record.model import AIRFRAME

__all__ = ["bonding", "continuity", "fuses", "insulation"]


def continuity(plant: Plant, service: str) -> Card:
    """Ring every lead from end to end, parallel paths included.

    Parameters
    ----------
    plant
        The installation.
    service
        Of this service only; of the whole installation where empty.

    Returns
    -------
    Card
        In the order of work.
    """
    standing = standing_ohms(plant, rest(plant), taken_off=batteries_of(plant))
    rows = []
    for cable in cables_of(plant, service):
        reading = ohms_between(standing, cable.from_, cable.to)
        own = plant.network.branches[plant.network.branch_of[f"cable:{cable.id}"]].law
        alone = getattr(own, "resistance", 0.0) + standing.meter.leads
        rows.append(
            Row(
                id=f"continuity:{cable.id}",
                what=f"{cable.id}: {terminal_words(plant, cable.from_)} to {terminal_words(plant, cable.to)}",
                where=place_of(plant, ends_of(cable)[0]),
                expect=_ohms_words(reading, alone),
                cautions=cautions_of(plant, ends_of(cable)),
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
            *power_off(plant),
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


def bonding(plant: Plant, service: str) -> Card:
    """Measure every earth bolt to clean structure, and every bond's joints.

    Parameters
    ----------
    plant
        The installation.
    service
        Of this service only; of the whole installation where empty.

    Returns
    -------
    Card
        In the order of work.
    """
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
            *power_off(plant),
            "Four-wire milliohm meter; prods on bare metal inside the joint, not on paint or anodising.",
        ),
        rows=tuple(rows),
        limits=bonding_limits(),
    )


def insulation(plant: Plant, service: str) -> Card:
    """Test every service's leads, bunched, to earth.

    Parameters
    ----------
    plant
        The installation.
    service
        Of this service only; of the whole installation where empty.

    Returns
    -------
    Card
        In the order of work.
    """
    services = (
        [service] if service else [s for s in plant.installation.dossier.services if cables_of(plant, s)]
    )
    rows = []
    for name in services:
        cables = cables_of(plant, name)
        items = dict.fromkeys(i for c in cables for i in ends_of(c) if i in plant.installation.equipment)
        off = _to_be_disconnected(plant, items)
        limit = _insulation_limit(plant, items)
        title = plant.installation.dossier.services[name].title or name
        first = f"; off first: {listed(off)}" if off else ""
        rows.append(
            Row(
                id=f"insulation:{name}",
                what=f"{title}: {cables[0].id} to {cables[-1].id}, bunched, to earth"
                if len(cables) > 1
                else f"{title}: {cables[0].id} to earth",
                expect=f"{as_written(limit, 'resistance')} at least (from memory){first}",
                cautions=cautions_of(plant, items),
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
            *power_off(plant),
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
    places = " ".join(place_of(plant, i).lower() for i in items)
    if any(word in places for word in ("nacelle", "engine", "wheel")):
        return 2e6
    if symbols & {"lamp", "horn", "key"}:
        return 5e6
    return 10e6


def fuses(plant: Plant, service: str) -> Card:
    """Read every fuse against the record.

    Parameters
    ----------
    plant
        The installation.
    service
        Of this service only; of the whole installation where empty.

    Returns
    -------
    Card
        In the order of work.
    """
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
                where=place_of(plant, branch.item),
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
