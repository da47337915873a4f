"""What each phase asks of the generators, by the stamp and by the network, with duty, margin and sharing.

Two reckonings stand side by side. By the stamp: the rated watts of all that is on, over the volts that the
regulator holds, as a load sheet adds them up. By the network: what the machines and the battery really
deliver, with their droop, the drops of the cables, sets that take less as volts rise. A rule is judged by the
greater.

A service with a duty is on for its share or its seconds only; all such are taken to begin together, which is
the worst that the phase allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from loomlore.behaviour.operating import Moves, operated
from loomlore.findings import Finding
from loomlore.network.building import Plant
from loomlore.network.elements import law_of
from loomlore.network.laws import (
    Battery,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Law,
    Motor,
    Source,
    Straight,
)
from loomlore.network.settling import Settled, settle
from loomlore.quantities import Quantity
from loomlore.record.model import Phase
from loomlore.references import Input, Working, citation
from loomlore.sizing.duty import Load, loads_of, phase_settled, worked
from loomlore.sizing.judging import Judgement
from loomlore.sizing.load_rules import (
    generator_limit,
    greatest_average,
    judged_generator_load,
    low_volts_warning,
    summed_load,
)
from loomlore.sizing.variants import with_laws

__all__ = [
    "MachineLoad",
    "PhaseLoad",
    "ServiceLoad",
    "Sharing",
    "bus_node",
    "dead_machines",
    "phase_loads",
    "regulated_volts",
    "settled_again",
    "sharing",
]

ON = 1e-3
"""A load that takes less [A] is off."""

CLASSES = (("5 s", 5.0), ("5 min", 300.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceLoad:
    """A service in a phase: stamped watts, amperes as solved, and how long it is on.

    ``share`` of the phase, ``seconds`` on in it; ``duty`` in words where the phase gives one.
    """

    service: str
    title: str
    watts: float
    amps: float
    share: float
    seconds: float
    duty: str = ""


@dataclass(frozen=True, slots=True)
class MachineLoad:
    """With ``running`` machines: what they may give, what is asked, the verdict.

    Bus volts and the battery's amperes.

    ``battery`` is positive while it charges [A].
    """

    running: int
    output: float
    stamped: float
    solved: float
    judgement: Judgement
    bus: float
    battery: float

    @property
    def share(self) -> float:
        """The greater reckoning over the output [1]."""
        return max(self.stamped, self.solved) / self.output if self.output > 0 else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseLoad:
    """A phase: its services, its sums in watts and amperes, its time classes, and each number of machines.

    ``classes`` are the greatest mean amperes in 5 s, 5 min and the whole; ``machines`` is empty where none
    turns. ``recharge`` is (amperes a half-charged battery takes, hours until it is full) or None.
    """

    phase: Phase
    settled: Settled = field(repr=False)
    services: tuple[ServiceLoad, ...]
    watts: float
    stamped: Working
    solved: float
    classes: tuple[tuple[str, Working], ...]
    machines: tuple[MachineLoad, ...] = ()
    bus: float = 0.0
    battery: float = 0.0
    warning: Working | None = None
    recharge: tuple[float, float] | None = None
    findings: tuple[Finding, ...] = field(default=())


# -- the plant's sources -------------------------------------------------------------------------------------


def generators_of(plant: Plant) -> tuple[int, ...]:
    """The branches of all generators."""
    return tuple(n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Generator))


def batteries_of(plant: Plant) -> tuple[int, ...]:
    """The branches of the installation's own batteries, a ground supply's apart."""
    equipment = plant.installation.equipment
    own = (n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Battery))
    return tuple(n for n in own if equipment[plant.network.branches[n].item].symbol != "ground-supply")


def dead_machines(plant: Plant, machines: Sequence[int]) -> Plant:
    """The installation with some machines dead.

    Parameters
    ----------
    plant
        The installation.
    machines
        Branches of generators.

    Returns
    -------
    Plant
        In which they stand as their armatures alone: a cut-out that is still closed sees the reverse current
        that opens it, as when a drive shears.
    """
    laws: dict[int, Law] = {}
    for number in machines:
        law = plant.network.branches[number].law
        if isinstance(law, Generator):
            laws[number] = Source(volts=0.0, resistance=max(law.resistance, 1e-3))
    return with_laws(plant, laws) if laws else plant


def settled_again(plant: Plant, settled: Settled) -> Settled:
    """A memory settled in another plant of the same numbering.

    Parameters
    ----------
    plant
        The other.
    settled
        Where things stand.

    Returns
    -------
    Settled
        As they then stand.
    """
    return settle(plant.solver, settled.memory, near=settled.solution)


def regulated_volts(plant: Plant) -> float:
    """The volts that the regulators hold.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    float
        The highest, or 28/24 of the supply where there are none [V].
    """
    held = [
        law.held for n in generators_of(plant) if isinstance(law := plant.network.branches[n].law, Generator)
    ]
    known = [volts for volts in held if volts is not None]
    return max(known) if known else plant.network.supply * 28 / 24


def bus_node(plant: Plant) -> int:
    """The node at which bus volts are told.

    A bus bar, else the bus of the first fuse box, else the first battery's.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    int
        Its number.
    """
    of = plant.network.node_of
    named = [f"{e.item.id}.bar" for e in plant.installation.equipment.values() if e.symbol == "bus-bar"]
    named += [f"{e.item.id}.bus" for e in plant.installation.equipment.values() if e.symbol == "fuse-box"]
    positive = [name for name in named if name in of and "negative" not in name]
    batteries = batteries_of(plant)
    return of[positive[0]] if positive else plant.network.branches[batteries[0]].a if batteries else 0


def bus_volts(plant: Plant, settled: Settled) -> float:
    """Volts of the bus against the return [V]."""
    solution = settled.solution
    two_wire = plant.installation.dossier.header.earthed == "none"
    batteries = batteries_of(plant)
    back = plant.network.branches[batteries[0]].b if two_wire and batteries else 0
    volts = solution.between(bus_node(plant), back)
    return 0.0 if volts is None else abs(volts)


# -- a phase -------------------------------------------------------------------------------------------------


def phase_loads(plant: Plant) -> tuple[PhaseLoad, ...]:
    """The load of every phase of the record.

    Parameters
    ----------
    plant
        One standard of fit.

    Returns
    -------
    tuple of PhaseLoad
        In order of the record.

    Source
    ------
    [14cfr23 sect 23.1351(a)(2)], [ac43.13-1b par 11-35a], [method sect 6.3]
    """
    return tuple(_phase(plant, phase) for phase in plant.installation.dossier.phases.values())


def _phase(plant: Plant, phase: Phase) -> PhaseLoad:
    settled, findings = phase_settled(plant, phase)
    seconds = phase.minutes.value if phase.minutes is not None else 0.0
    turning = any(_output(plant, settled, n) > 0 for n in generators_of(plant))
    volts = regulated_volts(plant) if turning else plant.network.supply
    services = tuple(_services(plant, phase, settled, seconds))
    entries = [(s.title, s.watts / volts, s.share) for s in services]
    stamped = summed_load(entries)
    watts = sum(s.watts * s.share for s in services)
    solved = _demand(plant, settled) + sum(_duty_amps(s) for s in services if s.duty)
    machines = tuple(_machines(plant, settled, stamped.value, services))
    return PhaseLoad(
        phase=phase,
        settled=settled,
        services=services,
        watts=watts,
        stamped=stamped,
        solved=solved,
        classes=tuple(_classes(services, volts, seconds)),
        machines=machines,
        bus=bus_volts(plant, settled),
        battery=_battery_amps(plant, settled),
        warning=low_volts_warning(plant.network.supply) if machines else None,
        recharge=_recharge(plant, settled) if machines else None,
        findings=findings,
    )


def _duty_amps(service: ServiceLoad) -> float:
    """What a duty makes of a service's amperes.

    Those it adds on average, less those the setting has on all the time.
    """
    return service.amps * service.share - (service.amps if service.duty.startswith("set on") else 0.0)


def _services(plant: Plant, phase: Phase, settled: Settled, seconds: float) -> Iterator[ServiceLoad]:
    loads = loads_of(plant)
    own = _by_service(plant, loads)
    for service, listed in own.items():
        record = plant.installation.dossier.services.get(service)
        title = record.title or record.name if record is not None else service
        duty = phase.duty.get(service)
        on = _taken(settled, listed)
        worked_at, said = settled, ""
        share = 1.0
        if duty is not None and duty != ("share", 1.0):
            share, span = _share(duty, seconds)
            said = f"{span:.0f} s" if duty[0] == "time" else f"{share:.0%}"
            if not on:
                worked_at = _worked(plant, service, listed, settled)
                said = f"worked {said}"
            else:
                said = f"set on, {said}"
            on = _taken(worked_at, listed)
        if not on:
            continue
        yield ServiceLoad(
            service=service,
            title=title,
            watts=sum(_stamped_watts(plant, load) for load in on),
            amps=sum(abs(worked_at.solution.amps(load.branch)) for load in on),
            share=share,
            seconds=share * seconds,
            duty=said,
        )


def _by_service(plant: Plant, loads: Sequence[Load]) -> dict[str, list[Load]]:
    found: dict[str, list[Load]] = {}
    for load in loads:
        feeds = [s for s in load.services if s in plant.installation.dossier.services]
        own = (
            plant.installation.dossier.items[load.item].service
            if load.item in plant.installation.dossier.items
            else ""
        )
        found.setdefault(own or (feeds[0] if feeds else "other"), []).append(load)
    return found


def _taken(settled: Settled, loads: Sequence[Load]) -> list[Load]:
    return [
        load for load in loads if abs(settled.solution.amps(load.branch)) > ON and load.sort != "cartridge"
    ]


def _share(duty: tuple[str, float], seconds: float) -> tuple[float, float]:
    kind, amount = duty
    if kind in ("time", "seconds", "s"):
        return (min(1.0, amount / seconds) if seconds > 0 else 0.0), amount
    return amount, amount * seconds


def _worked(plant: Plant, service: str, loads: Sequence[Load], settled: Settled) -> Settled:
    found = worked(plant, service, [load.branch for load in loads], settled)
    if not found:
        return settled
    most = max(found.values(), key=lambda entry: entry[0])
    return operated(plant, settled, Moves({o.lever: o.value for o in most[1]}, {}))


def _stamped_watts(plant: Plant, load: Load) -> float:
    """Rated watts; of what is stamped in ohms, at the regulated volts."""
    law = plant.network.branches[load.branch].law
    match law:
        case Filament(volts=volts, amps=amps) | Motor(volts=volts, amps=amps):
            return volts * amps
        case ConstantPower(power=power):
            return power
        case Straight(volts=volts, resistance=ohms) if volts:
            return volts**2 / ohms
        case Coil(resistance=ohms):
            element = plant.installation.equipment[load.item].elements[load.name.rpartition(".")[2]]
            rated = element.rating.get("power")
            return rated.value if rated is not None else plant.network.supply**2 / ohms
        case _:
            return 0.0


def _demand(plant: Plant, settled: Settled) -> float:
    """What the machines and the battery deliver, a charge taken off [A]."""
    return max(
        0.0, sum(given(plant, settled, n) for n in generators_of(plant)) - _battery_amps(plant, settled)
    )


def given(plant: Plant, settled: Settled, branch: int) -> float:
    """What a machine gives away, its own field's current taken off [A]: that is what its plate promises."""
    solution = settled.solution
    item = plant.network.branches[branch].item
    own = (n for n, b in enumerate(plant.network.branches) if b.item == item and isinstance(b.law, Coil))
    return -solution.amps(branch) - sum(abs(solution.amps(n)) for n in own)


def _battery_amps(plant: Plant, settled: Settled) -> float:
    return sum(settled.solution.amps(n) for n in batteries_of(plant))


def _classes(services: Sequence[ServiceLoad], volts: float, seconds: float) -> Iterator[tuple[str, Working]]:
    """The greatest mean in each window, every duty beginning together."""
    if seconds <= 0:
        return
    ends = sorted({min(s.seconds, seconds) for s in services if 0 < s.seconds < seconds} | {seconds})
    steps, begin = [], 0.0
    for end in ends:
        amps = sum(s.watts / volts for s in services if s.seconds >= end or s.share >= 1.0)
        steps.append((end - begin, amps))
        begin = end
    for name, window in (*CLASSES, ("continuous", seconds)):
        yield name, greatest_average(steps, window=window)


def _machines(
    plant: Plant, settled: Settled, stamped: float, services: Sequence[ServiceLoad]
) -> Iterator[MachineLoad]:
    """With all that turn, and with one fewer, the strongest being lost."""
    turning = [n for n in generators_of(plant) if _output(plant, settled, n) > 0]
    duty = sum(_duty_amps(s) for s in services if s.duty)
    for lost in range(len(turning)):
        still = sorted(turning, key=lambda n: _output(plant, settled, n))[: len(turning) - lost]
        dead = dead_machines(plant, [n for n in turning if n not in still])
        now = settled_again(dead, settled) if lost else settled
        output = sum(_output(plant, settled, n) for n in still)
        battery = _battery_amps(dead, now)
        solved = _demand(dead, now) + duty
        asked = max(stamped, solved)
        load = Working(
            "continuous load",
            asked,
            "A",
            "the greater of stamp and network",
            (Input("by the stamp", stamped, "A"), Input("by the network", solved, "A")),
            citation("method", "sect 6.3"),
            "computed",
        )
        yield MachineLoad(
            running=len(still),
            output=output,
            stamped=stamped,
            solved=solved,
            judgement=judged_generator_load(load, generator_limit(output)),
            bus=bus_volts(dead, now),
            battery=battery,
        )


def _output(plant: Plant, settled: Settled, branch: int) -> float:
    """What a machine may give at the speed it has [A]; nothing where it does not excite."""
    law = plant.network.branches[branch].law
    if not isinstance(law, Generator) or not settled.solution.works(branch):
        return 0.0
    speed = settled.solution.followed(branch)
    if plant.network.branches[branch].follows >= 0 and speed < law.cuts_in:
        return 0.0
    return law.limit(True, speed)


def _recharge(plant: Plant, settled: Settled) -> tuple[float, float] | None:
    """What a half-charged battery takes at this bus, and how long until it is full at a falling rate.

    Charge is put back at that current at first and tapers; 1.1 of the charge, and a mean of six tenths of the
    first current, are common practice, no source.
    """
    batteries = batteries_of(plant)
    if not batteries:
        return None
    half: dict[int, Law] = {n: battery_at(plant, n, charge=0.5) for n in batteries}
    changed = with_laws(plant, half)
    now = settled_again(changed, settled)
    amps = _battery_amps(changed, now)
    capacity = sum(capacity_of(plant, n) or 0.0 for n in batteries) / 3600.0
    if amps <= 0.1 or capacity <= 0:
        return max(amps, 0.0), float("inf")
    return amps, 0.5 * capacity * 1.1 / (0.6 * amps)


# -- batteries -----------------------------------------------------------------------------------------------


def capacity_of(plant: Plant, branch: int) -> float | None:
    """A battery's stamped capacity [C], or None."""
    record = plant.network.branches[branch]
    element = plant.installation.equipment[record.item].elements[record.name.rpartition(".")[2]]
    rated = element.rating.get("charge")
    return rated.value if rated is not None else None


def battery_at(
    plant: Plant, branch: int, *, charge: float | None = None, temperature: float | None = None
) -> Battery:
    """A battery's law with another charge [1] or temperature [°C].

    By the very rule that made the recorded one.
    """
    record = plant.network.branches[branch]
    element = plant.installation.equipment[record.item].elements[record.name.rpartition(".")[2]]
    values = dict(element.values)
    if charge is not None:
        values["charge"] = Quantity(charge, charge, charge, "", f"{charge:g}")
    if temperature is not None:
        values["temperature"] = Quantity(
            temperature, temperature, temperature, "temperature", f"{temperature:g} °C"
        )
    made = law_of(replace(element, values=values), supply=plant.network.supply, basis="carrying")
    if not isinstance(made, Battery):
        raise TypeError(f"{record.name} is no battery")
    return made


# -- sharing -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sharing:
    """How machines in parallel share: each one's amperes as set, and with one set high and the others low.

    ``doubt`` is the spread of the settings [V]; ``spread`` the difference of amperes that it makes.
    """

    names: tuple[str, ...]
    as_set: tuple[float, ...]
    uneven: tuple[float, ...]
    doubt: float
    spread: float
    reverse: bool


def sharing(plant: Plant, settled: Settled) -> Sharing | None:
    """How the machines that turn share the load.

    Parameters
    ----------
    plant
        The installation.
    settled
        A phase in which at least two turn.

    Returns
    -------
    Sharing or None
        None with fewer than two. The spread is that between the ends of the regulators' settings as written;
        0.2 V where they are written without doubt.

    Source
    ------
    [method sect 6.4]
    """
    turning = [n for n in generators_of(plant) if _output(plant, settled, n) > 0]
    if len(turning) < 2:
        return None
    as_set = tuple(given(plant, settled, n) for n in turning)
    ends = [_set_ends(plant, n) for n in turning]
    spread = max(high - low for low, high in ends)
    half = spread / 2 if spread > 0 else DEFAULT_SPREAD / 2
    changed: dict[int, Law] = {}
    for place, number in enumerate(turning):
        law = plant.network.branches[number].law
        if isinstance(law, Generator) and law.held is not None:
            changed[number] = replace(law, held=law.held + (half if place == 0 else -half))
    uneven_plant = with_laws(plant, changed)
    now = settled_again(uneven_plant, settled)
    uneven = tuple(given(uneven_plant, now, n) for n in turning)
    names = tuple(plant.installation.equipment[plant.network.branches[n].item].item.name for n in turning)
    return Sharing(names, as_set, uneven, 2 * half, max(uneven) - min(uneven), min(uneven) < 0)


DEFAULT_SPREAD = 0.2


def _set_ends(plant: Plant, branch: int) -> tuple[float, float]:
    record = plant.network.branches[branch]
    element = plant.installation.equipment[record.item].elements[record.name.rpartition(".")[2]]
    held = element.values.get("set")
    return (held.low, held.high) if held is not None else (0.0, 0.0)
