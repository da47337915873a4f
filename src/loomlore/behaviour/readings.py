"""What is seen, heard and measured: each item's reading in the words of the trade, with volts, amps, watts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from loomlore.network.building import Plant
from loomlore.network.laws import Filament, Fuse, Meter, Straight, light
from loomlore.network.settling import Event, Settled
from loomlore.quantities import as_written
from loomlore.record.installation import Installation

__all__ = [
    "CHATTERING",
    "Reading",
    "event_words",
    "is_restless",
    "items_of",
    "name_of",
    "reading_of",
    "readings",
    "services_of",
]

OVER_RUN_LIGHT = 3.0
"""Light, as a multiple of that at the rated volts, above which a lamp is over-run: about 1.38 times the volts, by the
3.4th power. Common practice, no source."""

CHATTERING = "chattering"
"""The state of what a relay that finds no rest makes and breaks."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One element of an item as it stands: volts across, amperes in, watts taken, and its state in words.

    ``shows`` is the mark that a meter shows; ``light`` a filament's as a share of its rated light.
    """

    item: str
    part: str
    name: str
    state: str
    volts: float
    amps: float
    watts: float
    shows: str = ""
    light: float | None = None


def services_of(installation: Installation) -> dict[str, tuple[str, ...]]:
    """Which services an item belongs to: those with a cable on it, and those it feeds.

    Parameters
    ----------
    installation
        Any.

    Returns
    -------
    dict of str to tuple of str
        By item, in order of the record; made once for each installation, and not to be changed.
    """
    return _services_of(_Itself(installation))


@dataclass(frozen=True, slots=True, eq=False)
class _Itself:
    """An installation told from others by being itself, since what it holds cannot be hashed."""

    installation: Installation

    def __hash__(self) -> int:
        return id(self.installation)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Itself) and other.installation is self.installation


@lru_cache(maxsize=16)
def _services_of(itself: _Itself) -> dict[str, tuple[str, ...]]:
    installation = itself.installation
    found: dict[str, dict[str, None]] = {item: {} for item in installation.equipment}
    for cable in installation.dossier.cables.values():
        for end in (cable.from_, cable.to):
            item = end.rpartition(".")[0]
            if item in found and cable.service:
                found[item].setdefault(cable.service)
    return {item: tuple(services) for item, services in found.items()}


def items_of(installation: Installation, service: str) -> tuple[str, ...]:
    """Items that a service's cables land on, in order of the record.

    Parameters
    ----------
    installation
        Any.
    service
        Its id.

    Returns
    -------
    tuple of str
        Item ids.
    """
    return tuple(item for item, services in services_of(installation).items() if service in services)


def name_of(plant: Plant, name: str) -> str:
    """A name as printed: the item's own, and its part where it has several (``Horn relay, coil``).

    Parameters
    ----------
    plant
        The installation.
    name
        ``ITEM``, ``ITEM.PART``, or the id of a control or condition.

    Returns
    -------
    str
        The name itself where nothing is called so.
    """
    equipment = plant.installation.equipment
    if name in equipment:
        return equipment[name].item.name
    item, _, part = name.rpartition(".")
    if item in equipment:
        own = equipment[item]
        if part.isdigit():
            return f"{own.item.name} way {part}"
        alone = len(own.elements) + len(own.controls) + len(own.latches) <= 1
        return own.item.name if alone else f"{own.item.name}, {part.replace('-', ' ')}"
    dossier = plant.installation.dossier
    thing = dossier.controls.get(name) or dossier.conditions.get(name)
    if thing is not None:
        return thing.name
    return name


def reading_of(plant: Plant, settled: Settled, branch: int) -> Reading:
    """The reading of one element.

    Parameters
    ----------
    plant
        The installation.
    settled
        Where things stand.
    branch
        Number of an element's branch.

    Returns
    -------
    Reading
        Volts are first end minus second.
    """
    solution = settled.solution
    record = plant.network.branches[branch]
    volts, amps = solution.volts(branch), solution.amps(branch)
    states = record.law.states
    state = states[solution.state(branch)] if states else ""
    shine = light(volts, record.law.volts) if isinstance(record.law, Filament) else None
    if shine is not None and shine >= OVER_RUN_LIGHT:
        state = "over-run"
    if is_restless(settled, branch):
        state = CHATTERING
    item, _, part = record.name.rpartition(".")
    return Reading(
        item=item,
        part=part,
        name=name_of(plant, record.name),
        state=state,
        volts=volts,
        amps=amps,
        watts=volts * amps,
        shows=_shown(plant, settled, branch),
        light=shine,
    )


def is_restless(settled: Settled, branch: int) -> bool:
    """Whether an element's state comes and goes as something chatters.

    Parameters
    ----------
    settled
        Where things stand.
    branch
        Number of an element's branch.

    Returns
    -------
    bool
        False wherever everything has come to rest.
    """
    if not settled.between or not settled.solution.solver.network.branches[branch].law.states:
        return False
    memory = settled.solution.solver.network.branches[branch].memory
    states = {
        (solution.state(branch), variables[memory] if memory >= 0 else 0)
        for solution, variables in settled.between
    }
    return len(states) > 1


def _shown(plant: Plant, settled: Settled, branch: int) -> str:
    if not isinstance(plant.network.branches[branch].law, Meter) or is_restless(settled, branch):
        return ""
    marks = []
    for number in plant.network.dials.get(branch, ()):
        dial = plant.network.indications[number]
        value = settled.solution.shown(number)
        if value is not None and settled.solution.indicates(number) == "reading":
            scale = dial.name.rpartition(".")[2].replace("-", " ")
            label = f" ({scale})" if len(plant.network.dials[branch]) > 1 else ""
            marks.append(f"{as_written(value, dial.dimension)}{label}")
    return ", ".join(marks)


def readings(
    plant: Plant, settled: Settled, items: Iterable[str] | None = None, *, fuses: bool = False
) -> tuple[Reading, ...]:
    """Readings of all elements that have something to say.

    Parameters
    ----------
    plant
        The installation.
    settled
        Where things stand.
    items
        Only these; all where None.
    fuses
        Whether whole fuses are listed too.

    Returns
    -------
    tuple of Reading
        In order of the record.
    """
    wanted = None if items is None else set(items)
    found = []
    for number, branch in enumerate(plant.network.branches):
        if branch.sort not in ("element", "fuse") or (wanted is not None and branch.item not in wanted):
            continue
        if isinstance(branch.law, Straight) and not branch.law.states:
            continue
        reading = reading_of(plant, settled, number)
        if isinstance(branch.law, Fuse) and reading.state == "whole" and not fuses:
            continue
        found.append(reading)
    return tuple(found)


def event_words(plant: Plant, event: Event) -> str:
    """What happened while settling, as a sentence.

    Parameters
    ----------
    plant
        The installation.
    event
        From a settled state.

    Returns
    -------
    str
        For the user.
    """
    names = [name_of(plant, name) for name in event.names if not name.startswith("sensed ")] or list(
        event.names
    )
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    match event.what:
        case "blown":
            drew = f"{as_written(event.amps, 'current')} through it, it fuses at {as_written(event.limit, 'current')}"
            return f"{listed} blows: {drew}."
        case "fired":
            fires = f"all-fire current {as_written(event.limit, 'current')}"
            return f"{listed} FIRES at {as_written(event.amps, 'current')} ({fires})."
        case "overload":
            carries = (
                f"{as_written(event.amps, 'current')} where it carries {as_written(event.limit, 'current')}"
            )
            return f"{listed} is overloaded: {carries}; it may hold or go in time."
        case "chatters":
            return f"{listed} never comes to rest: it chatters."
        case "race":
            return f"{listed} may end either way: which of them moves first decides."
        case "stalled":
            return "The solution did not settle to its last digit; take its readings with care."
        case _:
            return f"{event.what}: {listed}."
