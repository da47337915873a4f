"""How long the battery lasts: with the generators lost, load shed or not, and moored overnight.

Two laws for the minutes, as the trade has them (charge over current, and Peukert on the basis of the rate),
and a curve of bus volts against minutes from the network itself: in each step the battery has a little less
charge, the network is solved, and what the loads then draw decides how soon the next step is reached::

    charge 1.0 -> solve -> amperes, bus volts -> minutes to charge 0.975 -> solve -> ...
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from loomlore.behaviour.operating import Moves, operated
from loomlore.network.building import Plant
from loomlore.network.laws import Law
from loomlore.network.settling import Settled, settle
from loomlore.references import OutOfRange, Working
from loomlore.sizing.duty import levers_of_service, loads_of
from loomlore.sizing.endurance import (
    capacity_factor_ieee485_1997,
    endurance_peukert_1897,
    endurance_simple,
    usable_charge,
)
from loomlore.sizing.judging import Judgement
from loomlore.sizing.load_analysis import (
    ON,
    PhaseLoad,
    batteries_of,
    battery_at,
    bus_volts,
    capacity_of,
    dead_machines,
    generators_of,
    settled_again,
)
from loomlore.sizing.load_rules import assumed_capacity_share, judged_emergency_endurance
from loomlore.sizing.variants import with_laws

__all__ = ["BatteryTerms", "CurvePoint", "Endurance", "Mooring", "Shed", "endurances", "moorings"]

HOUR = 3600.0
STEP = 0.025

LEAST_CELL_VOLTS = 1.75
"""Of a lead cell on load, below which it is taken as flat: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryTerms:
    """What a battery is counted for.

    ``rate_hours`` of the stamped capacity [h]; ``share`` of it that is there (None: the British 0.72);
    ``exponent`` Peukert's; ``temperature`` of the electrolyte (None: no allowance) [°C]; ``age`` what age
    leaves [1]. Ten hours and 1.2 are common practice, no source.
    """

    rate_hours: float = 10.0
    share: float | None = None
    exponent: float = 1.2
    temperature: float | None = None
    age: float = 1.0


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Minutes since the generators went.

    Bus volts, amperes out of the battery, charge left [1], and what then happens.
    """

    minutes: float
    volts: float
    amps: float
    charge: float
    event: str = ""


@dataclass(frozen=True, slots=True)
class Shed:
    """A service turned off: amperes saved, and minutes gained by the plain law."""

    service: str
    title: str
    amps: float
    minutes: float


@dataclass(frozen=True, kw_only=True)
class Endurance:
    """A phase with every generator lost.

    ``current`` at the battery's nominal volts [A] and what is solved at its first moment; ``simple`` and
    ``peukert`` how long [s]; ``shed`` what each service costs; ``after_shedding`` the same with the services
    named off, or None.
    """

    phase: str
    title: str
    current: float
    charge: Working
    simple: Working
    peukert: Working
    judgement: Judgement
    curve: tuple[CurvePoint, ...]
    shed: tuple[Shed, ...]
    after_shedding: Endurance | None = None
    off: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Mooring:
    """A phase without generators.

    Ampere-hours by service, their sum, and how long the battery lasts at it [h].
    """

    phase: str
    title: str
    hours: float
    services: tuple[tuple[str, float], ...]
    used: float
    capacity: float
    lasts: float
    enough: bool
    findings: tuple[str, ...] = ()


def endurances(
    plant: Plant,
    phases: Sequence[PhaseLoad],
    terms: BatteryTerms | None = None,
    *,
    shed: Sequence[str] = (),
) -> tuple[Endurance, ...]:
    """How long the battery carries each phase that generators carry now.

    Parameters
    ----------
    plant
        One standard of fit.
    phases
        Its loads.
    terms
        What the battery is counted for.
    shed
        Services that the crew turns off.

    Returns
    -------
    tuple of Endurance
        Of phases of two minutes and more with a machine turning; none where no battery says its capacity.

    Source
    ------
    [peukert-1897], [190-01007-a3 fig 3-19], [method sect 5.4]
    """
    terms = terms or BatteryTerms()
    if not _capacity(plant):
        return ()
    wanted = (
        p for p in phases if p.machines and p.phase.minutes is not None and p.phase.minutes.value >= 120
    )
    return tuple(_endurance(plant, phase, terms, tuple(shed)) for phase in wanted)


def _capacity(plant: Plant) -> float:
    """Of the batteries that can be in use together: the first alone, since two are changed over [C]."""
    known = [capacity_of(plant, n) for n in batteries_of(plant)]
    return max((c for c in known if c), default=0.0)


def _endurance(plant: Plant, phase: PhaseLoad, terms: BatteryTerms, shed: tuple[str, ...]) -> Endurance:
    lost = dead_machines(plant, generators_of(plant))
    settled = settled_again(lost, phase.settled)
    title = phase.phase.title or phase.phase.name
    named = tuple(s for s in shed if s in plant.installation.dossier.services)
    whole = _told(lost, settled, phase, title, terms, ())
    if not named:
        return whole
    less = _shed(lost, settled, named)
    after = _told(lost, less, phase, title, terms, named)
    return Endurance(
        phase=whole.phase,
        title=whole.title,
        current=whole.current,
        charge=whole.charge,
        simple=whole.simple,
        peukert=whole.peukert,
        judgement=whole.judgement,
        curve=whole.curve,
        shed=whole.shed,
        after_shedding=after,
        off=named,
    )


def _told(
    plant: Plant, settled: Settled, phase: PhaseLoad, title: str, terms: BatteryTerms, off: tuple[str, ...]
) -> Endurance:
    capacity = _capacity(plant)
    current = _drawn(plant, settled)
    cold = _cold(terms)
    share = terms.share if terms.share is not None else assumed_capacity_share("uk").value
    charge = usable_charge(capacity * terms.age, share=share, temperature_factor=cold)
    simple = endurance_simple(charge, current=current)
    left = share * terms.age * (cold.value if cold is not None else 1.0)
    peukert = endurance_peukert_1897(
        capacity, rate_time=terms.rate_hours * HOUR, exponent=terms.exponent, current=current, share=left
    )
    return Endurance(
        phase=phase.phase.id,
        title=title,
        current=current,
        charge=charge,
        simple=simple,
        peukert=peukert,
        judgement=judged_emergency_endurance(peukert),
        curve=tuple(_curve(plant, settled, capacity, terms, left)),
        shed=tuple(_worth(plant, settled, phase, charge)) if not off else (),
        off=off,
    )


def _cold(terms: BatteryTerms) -> Working | None:
    if terms.temperature is None:
        return None
    try:
        return capacity_factor_ieee485_1997(terms.temperature)
    except OutOfRange:
        return None


def _drawn(plant: Plant, settled: Settled) -> float:
    """Out of all batteries [A]."""
    return max(0.0, -sum(settled.solution.amps(n) for n in batteries_of(plant)))


def _shed(plant: Plant, settled: Settled, services: Sequence[str]) -> Settled:
    """The crew's own controls of some services put back to where they start."""
    levers = plant.network.levers
    back = {
        n: levers[n].start
        for service in services
        for n in levers_of_service(plant, service)
        if not levers[n].world and settled.memory.levers[n] != levers[n].start
    }
    return operated(plant, settled, Moves(back, {})) if back else settled


def _worth(plant: Plant, settled: Settled, phase: PhaseLoad, charge: Working) -> Iterator[Shed]:
    whole = _drawn(plant, settled)
    for service in phase.services:
        less = _drawn(plant, _shed(plant, settled, (service.service,)))
        if 0 < less < whole - ON:
            gained = charge.value / less - charge.value / whole
            yield Shed(service.service, service.title, whole - less, gained / 60)


def _curve(
    plant: Plant, settled: Settled, capacity: float, terms: BatteryTerms, left: float
) -> Iterator[CurvePoint]:
    """Bus volts as the charge goes, solved anew at each step.

    Ends where the charge that is counted on is gone.
    """
    batteries = batteries_of(plant)
    volts_flat = LEAST_CELL_VOLTS * round(plant.network.supply / 2)
    steps, minutes, now = max(2, round(left / STEP)), 0.0, settled
    events = _Events(plant, now)
    for step in range(steps + 1):
        charge = left - step * left / steps
        laws: dict[int, Law] = {
            n: battery_at(plant, n, charge=charge, temperature=terms.temperature) for n in batteries
        }
        changed = with_laws(plant, laws)
        now = settle(changed.solver, now.memory, near=now.solution)
        amps, volts = _drawn(changed, now), bus_volts(changed, now)
        said = events.since(now)
        yield CurvePoint(minutes, volts, amps, charge, said if step else "")
        if volts < volts_flat or amps <= ON:
            return
        lasts = endurance_peukert_1897(
            capacity, rate_time=terms.rate_hours * HOUR, exponent=terms.exponent, current=amps
        )
        minutes += lasts.value / 60 * left / steps


class _Events:
    """What changes its state as the volts fall.

    Sets that weaken, relays that drop out, lamps that only glimmer.
    """

    def __init__(self, plant: Plant, settled: Settled) -> None:
        self.plant = plant
        self.branches = [load.branch for load in loads_of(plant)]
        self.before = {n: settled.solution.state(n) for n in self.branches}

    def since(self, settled: Settled) -> str:
        """In words, what has changed since the last asking."""
        said = []
        for number in self.branches:
            state = settled.solution.state(number)
            if state != self.before[number]:
                branch = self.plant.network.branches[number]
                words = branch.law.states
                equipment = self.plant.installation.equipment[branch.item]
                said.append(f"{equipment.item.name} {words[state].replace('-', ' ')}")
                self.before[number] = state
        return ", ".join(said)


def moorings(
    plant: Plant, phases: Sequence[PhaseLoad], terms: BatteryTerms | None = None
) -> tuple[Mooring, ...]:
    """What each phase without generators takes from the battery.

    Parameters
    ----------
    plant
        One standard of fit.
    phases
        Its loads.
    terms
        What the battery is counted for.

    Returns
    -------
    tuple of Mooring
        In order of the record.

    Source
    ------
    [method sect 5.4]
    """
    terms = terms or BatteryTerms()
    capacity = _capacity(plant)
    if not capacity:
        return ()
    return tuple(
        _mooring(phase, capacity, terms) for phase in phases if not phase.machines and phase.services
    )


def _mooring(phase: PhaseLoad, capacity: float, terms: BatteryTerms) -> Mooring:
    seconds = phase.phase.minutes.value if phase.phase.minutes is not None else 0.0
    services = tuple((s.title, s.amps * s.share * seconds / HOUR) for s in phase.services)
    own = sum(s.amps * s.share for s in phase.services)
    used = max(phase.solved, own) * seconds / HOUR
    share = terms.share if terms.share is not None else assumed_capacity_share("uk").value
    cold = _cold(terms)
    usable = capacity / HOUR * share * terms.age * (cold.value if cold is not None else 1.0)
    drawn = max(phase.solved, own)
    return Mooring(
        phase=phase.phase.id,
        title=phase.phase.title or phase.phase.name,
        hours=seconds / HOUR,
        services=services,
        used=used,
        capacity=capacity / HOUR,
        lasts=usable / drawn if drawn > 0 else float("inf"),
        enough=used <= usable,
    )
