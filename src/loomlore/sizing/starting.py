"""Starting an engine: bus volts at breakaway and cranking.

Warm and cold, and what each joint of the loop takes.

Breakaway is the motor at a standstill, a plain resistance. Cranking is the motor at its rated current: a
series motor's torque is its current's affair, so an engine of given stiffness takes given amperes whatever
the volts, and only turns slower on a weak battery. Relays are settled with it: one that drops out above the
sagging bus chatters.

The warm battery is the record's own; the cold one is half charged at -5 °C, the case that matters.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import Moves, operated, rest
from loomlore.behaviour.readings import name_of
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Coil, Law, Motor, Source
from loomlore.network.settling import Settled, settle
from loomlore.sizing.duty import Background, Case, loads_of, presumed, starter_motors, worked
from loomlore.sizing.load_analysis import batteries_of, battery_at, bus_volts
from loomlore.sizing.runs import Part, run_of, source_run
from loomlore.sizing.variants import with_laws

__all__ = ["BadJoint", "Held", "Start", "StarterReport", "starter_reports"]

COLD = (0.5, -5.0)
"""Charge and temperature [°C] of the cold battery."""

BAD_JOINTS = (0.005, 0.010, 0.020)
"""Ohms of a joint gone bad, for which the start is told again."""

CRANKING_STEPS = 30


@dataclass(frozen=True, slots=True)
class Held:
    """A relay that must hold while the engine turns.

    Volts on its coil, what it drops out and pulls in at [V].
    """

    name: str
    volts: float
    drops_out: float
    pulls_in: float
    chatters: bool

    @property
    def word(self) -> str:
        """passes, in doubt (within a tenth of dropping out), or fails."""
        if self.chatters or self.volts < self.drops_out:
            return "fails"
        return "in doubt" if self.volts < 1.1 * self.drops_out else "passes"


@dataclass(frozen=True, slots=True)
class BadJoint:
    """The start with one joint of the loop gone to ``ohms``.

    Amperes, bus volts, and torque over that of a sound loop.
    """

    ohms: float
    amps: float
    bus: float
    torque: float


@dataclass(frozen=True, kw_only=True)
class Start:
    """One start: ``moment`` breakaway or cranking, ``battery`` warm or cold, with ground supply or not.

    ``amps`` through the motor, ``terminals`` (of the battery or supply that gives most), ``bus`` and
    ``motor`` volts; ``joints`` the loop piece by piece; ``relays`` that must hold; ``chatter`` where settling
    found no rest.
    """

    moment: str
    battery: str
    ground_supply: bool
    amps: float
    terminals: float
    bus: float
    motor: float
    joints: tuple[tuple[str, float], ...]
    relays: tuple[Held, ...]
    chatter: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class StarterReport:
    """An engine's starter in every way it is used, what a bad joint does, and what is done to turn it."""

    item: str
    name: str
    words: tuple[Operation, ...]
    stall_ohms: float
    starts: tuple[Start, ...]
    bad_joints: tuple[BadJoint, ...]
    note: str = ""


def starter_reports(plant: Plant) -> tuple[StarterReport, ...]:
    """Start every engine.

    Parameters
    ----------
    plant
        One standard of fit.

    Returns
    -------
    tuple of StarterReport
        In order of the record; none where nothing starts electrically.

    Source
    ------
    [common-practice], [method sect 6.5]
    """
    return tuple(_report(plant, motor) for motor in starter_motors(plant))


def _report(plant: Plant, motor: int) -> StarterReport:
    record = plant.network.branches[motor]
    law = record.law
    if not isinstance(law, Motor):
        raise TypeError(f"{record.name} is no motor")
    name = plant.installation.equipment[record.item].item.name
    ohms = law.volts / law.amps / law.stall
    operations = _operations(plant, motor)
    if operations is None:
        note = "Nothing that was tried turns it; the record may lack a cable or a control."
        return StarterReport(
            item=record.item, name=name, words=(), stall_ohms=ohms, starts=(), bad_joints=(), note=note
        )
    ready = with_laws(plant, {motor: Source(volts=0.0, resistance=ohms)})
    starts: list[Start] = []
    for supply in (False, True):
        plugged = _ground_supply(plant) if supply else {}
        if supply and not plugged:
            continue
        # plugged in, the trolley turns the engine, and its battery is the record's own
        for battery in ("warm",) if supply else ("warm", "cold"):
            way = _Way(operations, plugged, battery, supply)
            own = with_laws(ready, _batteries(plant, battery))
            starts += [_start(own, motor, law, moment, way) for moment in ("breakaway", "cranking")]
    return StarterReport(
        item=record.item,
        name=name,
        words=operations,
        stall_ohms=ohms,
        starts=tuple(starts),
        bad_joints=tuple(_bad_joints(ready, motor, ohms, _Way(operations, {}, "warm", False))),
    )


@dataclass(frozen=True, slots=True)
class _Way:
    """What is done to turn the engine, with which battery, and whether ground supply is ``plugged`` in."""

    operations: Sequence[Operation]
    plugged: Mapping[int, float]
    battery: str
    supply: bool


def _operations(plant: Plant, motor: int) -> tuple[Operation, ...] | None:
    """What the crew does to turn it, from the presumptions on."""
    start = operated(plant, rest(plant), presumed(plant, plant.installation.dossier.header.given))
    load = next(load for load in loads_of(plant) if load.branch == motor)
    for service in load.services:
        found = worked(plant, service, [motor], start)
        if motor in found:
            return found[motor][1]
    return None


def _ground_supply(plant: Plant) -> dict[int, float]:
    """The levers of ground supplies put to their other position."""
    found: dict[int, float] = {}
    for equipment in plant.installation.equipment.values():
        if equipment.symbol == "ground-supply":
            for control in equipment.controls:
                number = plant.network.lever_of.get(f"{equipment.item.id}.{control}")
                if number is not None and "in" in plant.network.levers[number].positions:
                    found[number] = float(plant.network.levers[number].positions.index("in"))
    return found


def _batteries(plant: Plant, which: str) -> dict[int, Law]:
    if which == "warm":
        return {n: battery_at(plant, n) for n in batteries_of(plant)}
    charge, temperature = COLD
    return {n: battery_at(plant, n, charge=charge, temperature=temperature) for n in batteries_of(plant)}


def _start(plant: Plant, motor: int, law: Motor, moment: str, way: _Way) -> Start:
    ohms = law.volts / law.amps / law.stall
    settled = _turned(plant, motor, ohms, way)
    if moment == "cranking":
        plant, settled = _cranked(plant, motor, law.amps, ohms, way)
    solution = settled.solution
    chatter = tuple(name for event in settled.events if event.what == "chatters" for name in event.names)
    return Start(
        moment=moment,
        battery=way.battery,
        ground_supply=way.supply,
        amps=abs(solution.amps(motor)),
        terminals=_terminals(plant, settled),
        bus=bus_volts(plant, settled),
        motor=abs(solution.volts(motor)),
        joints=tuple(_joints(plant, settled, motor)),
        relays=tuple(_relays(plant, settled, chatter)),
        chatter=tuple(name for name in chatter if not name.startswith("sensed ")),
    )


def _terminals(plant: Plant, settled: Settled) -> float:
    """Volts of the battery or ground supply that gives most."""
    sources = [n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Battery)]
    most = min(sources, key=settled.solution.amps, default=None)
    return 0.0 if most is None else abs(settled.solution.volts(most))


def _turned(plant: Plant, motor: int, ohms: float, way: _Way) -> Settled:
    """Ground supply first, then the presumptions, then the push.

    Its relay pulls in before the motor draws.
    """
    idle = with_laws(plant, {motor: Source(volts=0.0, resistance=1e5)})
    given = presumed(plant, plant.installation.dossier.header.given)
    start = operated(idle, rest(idle), Moves(dict(way.plugged), {}))
    start = operated(idle, start, Moves({**given.levers, **way.plugged}, given.variables))
    pressed = operated(idle, start, Moves({o.lever: o.value for o in way.operations}, {}))
    loaded = with_laws(plant, {motor: Source(volts=0.0, resistance=ohms)})
    return settle(loaded.solver, pressed.memory, near=pressed.solution)


def _cranked(plant: Plant, motor: int, amps: float, ohms: float, way: _Way) -> tuple[Plant, Settled]:
    """The resistance at which the motor takes its rated current.

    Found by holding the volts that it then has.
    """
    r = ohms * 3
    settled = _turned(plant, motor, r, way)
    for _ in range(CRANKING_STEPS):
        flows = abs(settled.solution.amps(motor))
        if flows <= 1e-3 or abs(flows - amps) < 1e-4 * amps:
            break
        r = max(ohms, r * flows / amps)
        changed = with_laws(plant, {motor: Source(volts=0.0, resistance=r)})
        settled = settle(changed.solver, settled.memory, near=settled.solution)
        if r == ohms and flows < amps:
            break
    return with_laws(plant, {motor: Source(volts=0.0, resistance=r)}), settled


def _joints(plant: Plant, settled: Settled, motor: int) -> Iterator[tuple[str, float]]:
    """The loop from the battery to the motor and home, piece by piece [V]."""
    load = next(load for load in loads_of(_as_motor(plant, motor)) if load.branch == motor)
    case = Case(
        words="", background=Background("", "battery", settled), settled=settled, solution=settled.solution
    )
    run = run_of(plant, case, 0, load)
    if run is None:
        return
    parts: list[Part] = list(run.parts)
    before: tuple[Part, ...] = ()
    if run.fuse >= 0:
        along, _ = source_run(plant, case, run.bus)
        before = tuple(Part(n, abs(settled.solution.volts(n)), abs(case.amps[n])) for n in along)
    for part in (*before, *parts):
        branch = plant.network.branches[part.branch]
        yield (f"cable {branch.name}" if branch.sort == "cable" else name_of(plant, branch.name)), part.volts


def _as_motor(plant: Plant, motor: int) -> Plant:
    """The installation with the motor a motor again, for looking it up among the loads."""
    branch = plant.network.branches[motor]
    branches = list(plant.network.branches)
    branches[motor] = replace(branch, law=Motor(volts=1.0, amps=1.0))
    return replace(plant, network=replace(plant.network, branches=tuple(branches)))


def _relays(plant: Plant, settled: Settled, chatter: Sequence[str]) -> Iterator[Held]:
    for number, branch in enumerate(plant.network.branches):
        law = branch.law
        if not isinstance(law, Coil) or branch.memory < 0:
            continue
        if not settled.memory.variables[branch.memory] and branch.name not in chatter:
            continue
        equipment = plant.installation.equipment[branch.item]
        if "relay" not in equipment.symbol:
            continue
        volts = abs(settled.solution.volts(number))
        yield Held(equipment.item.name, volts, law.drops_out, law.pulls_in, branch.name in chatter)


def _bad_joints(plant: Plant, motor: int, ohms: float, way: _Way) -> Iterator[BadJoint]:
    """A joint anywhere in the loop is in series with the motor, so that it is told as if it stood there."""
    sound = abs(_turned(plant, motor, ohms, way).solution.amps(motor))
    for bad in (0.0, *BAD_JOINTS):
        settled = _turned(plant, motor, ohms + bad, way)
        amps = abs(settled.solution.amps(motor))
        torque = (amps / sound) ** 2 if sound > 0 else 0.0
        yield BadJoint(bad, amps, bus_volts(plant, settled), torque)
