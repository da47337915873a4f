"""Cards of the installation under power: first power, millivolt drop, regulator and cut-out, function test."""

from __future__ import annotations

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.tabulating import function_tables
from loomlore.behaviour.tables.telling import listed, lowered, order_words
from loomlore.faults.cards.card import (
    Card,
    Row,
    cables_of,
    cautions_of,
    ends_of,
    place_of,
)
from loomlore.faults.cards.powering import (
    MEANING,
    PowerStep,
    first_power_rows,
    items_beyond,
    services_of_fuse,
)
from loomlore.faults.expecting import pair_words
from loomlore.faults.situations import Situation, charges_of, ready, services_of_lever, situations_of
from loomlore.faults.terminals import place_words, services_at
from loomlore.network.building import Plant
from loomlore.network.laws import (
    Coil,
    Filament,
    Fuse,
    Generator,
)
from loomlore.network.model import Branch
from loomlore.quantities import as_written

__all__ = ["drops", "first_power", "functions", "regulator"]


def first_power(plant: Plant, service: str, limit_amps: float, lamp: Filament | None) -> Card:
    """Power from a limited supply, fuse by fuse.

    Parameters
    ----------
    plant
        The installation.
    service
        Of this service only; of the whole installation where empty.
    limit_amps
        Where the bench supply is set to limit [A].
    lamp
        A lamp in series instead of a limit.

    Returns
    -------
    Card
        In the order of work.
    """
    rows = first_power_rows(plant, service=service, limit_amps=limit_amps, lamp=lamp)
    return Card(
        id="first-power",
        title="First power",
        first=_before_power(plant, limit_amps, lamp),
        rows=tuple(_power_row(plant, row) for row in rows),
        meaning=MEANING,
    )


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
        where=place_of(plant, branch.item),
        expect=step.words,
        cautions=cautions_of(plant, items_beyond(plant, branch)),
        low=step.step * 0.85 - 0.05,
        high=step.step * 1.15 + 0.05,
        dimension="current",
        wrong=step.wrong,
    )


def drops(plant: Plant, service: str) -> Card:
    """Every lead, contact, fuse and bolt that carries the load of some situation, at its highest current.

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
    worst: dict[int, tuple[float, float, Situation]] = {}
    for situation in situations_of(plant):
        solution = situation.settled.solution
        for number, branch in enumerate(plant.network.branches):
            if branch.sort == "element" and not isinstance(branch.law, Fuse):
                continue
            amps = abs(solution.amps(number))
            if amps > worst.get(number, (0.05, 0.0, situation))[0]:
                worst[number] = amps, abs(solution.volts(number)), situation
    chosen = [
        number
        for number in worst
        if not service or service in _services_of_branch(plant, plant.network.branches[number])
    ]
    used = {worst[number][2].id for number in chosen}
    settings = {s.id: (_letter(n), s) for n, s in enumerate(s for s in situations_of(plant) if s.id in used)}
    rows = []
    for number in sorted(chosen, key=lambda n: list(settings).index(worst[n][2].id)):
        amps, volts, situation = worst[number]
        branch = plant.network.branches[number]
        names = [plant.network.node_names[n] for n in (branch.a, branch.b)]
        items = [n.rpartition(".")[0] for n in names]
        rows.append(
            Row(
                id=f"drops:{branch.sort}:{branch.name}",
                what=f"{_part_words(plant, branch)}: {pair_words(plant, *names)}",
                where=_where(plant, branch, items[0]),
                expect=f"{as_written(volts, 'voltage')} at {as_written(amps, 'current')}, "
                f"set as {settings[situation.id][0]}",
                cautions=cautions_of(plant, items),
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
            *(f"Set {letter}: {_set_words(plant, one, service)}." for letter, one in settings.values()),
            "A drop half as high again as expected and over 5 mV: take the joint apart (common practice, no source).",
        ),
        rows=tuple(rows),
    )


def _letter(number: int) -> str:
    return chr(ord("A") + number) if number < 26 else f"{_letter(number // 26 - 1)}{_letter(number % 26)}"


def _set_words(plant: Plant, situation: Situation, service: str) -> str:
    """How everything is to stand, lever by lever; of one service only the levers that matter to it."""
    always = {lever for lever, _ in ready(plant).moves}
    moves = [
        move
        for move in situation.moves
        if not service or move[0] in always or service in services_of_lever(plant, move[0])
    ]
    orders = listed([order_words(plant, Operation(lever, value)) for lever, value in moves])
    if situation.minutes:
        return f"{situation.title}{f': {orders}' if orders else ''}"
    return f"from rest, {orders}" if orders else "everything at rest"


def _where(plant: Plant, branch: Branch, item: str) -> str:
    """Where a part is: of an earth bolt its own place."""
    bolt = plant.installation.dossier.earths.get(branch.name)
    return place_words(plant, bolt.place).removeprefix(", ") if bolt is not None else place_of(plant, item)


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


def regulator(plant: Plant, service: str) -> Card:
    """Prove generators, regulators and cut-outs, warm.

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
    rows: list[Row] = []
    for number, branch in enumerate(plant.network.branches):
        law = branch.law
        if isinstance(law, Generator) and (not service or service in services_at(plant, (branch.item,), ())):
            called, where = name_of(plant, branch.item), place_of(plant, branch.item)
            warn = cautions_of(plant, (branch.item,))
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
                        where=place_of(plant, item), expect=said, cautions=cautions_of(plant, (item,)),
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
    called, where = name_of(plant, branch.item), place_of(plant, branch.item)
    pairs = (("pulls-in", "pulls in at", law.pulls_in), ("drops-out", "lets go at", law.drops_out))
    return [
        Row(
            id=f"regulator:{branch.name}:{key}", what=f"{called} {what}", where=where,
            expect=as_written(volts, "voltage"),
            low=0.97 * volts, high=1.03 * volts, dimension="voltage",
        )
        for key, what, volts in pairs
    ]  # fmt: skip


def functions(plant: Plant, service: str) -> Card:
    """Work every row of the function tables.

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
    chosen = [service] if service else list(plant.installation.dossier.services)
    rows: list[Row] = []
    for name in chosen:
        tables = function_tables(plant, name)
        items = [i for c in cables_of(plant, name) for i in ends_of(c)]
        charges = {plant.network.branches[n].item for n in charges_of(plant)}
        warn = cautions_of(plant, items)
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
