"""What the page says of a service and of how it stands: controls, what is seen and heard, cards, verdicts.

Everything here is plain data for the page; the words come from the layers below.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from loomlore.answers.opening import Opened
from loomlore.answers.operate import QUIET_STATES
from loomlore.behaviour.exploring import Operation, levers_of_items
from loomlore.behaviour.influence import supply_items
from loomlore.behaviour.operating import lever_words
from loomlore.behaviour.proving import Verdict, is_function
from loomlore.behaviour.readings import Reading, items_of, name_of, readings, services_of
from loomlore.behaviour.stating import presumed, sentences_of, services_spoken_of
from loomlore.behaviour.tables.telling import condition_words, listed, lowered
from loomlore.behaviour.wording import lever_name
from loomlore.bench.sittings import METER, Sitting
from loomlore.faults.expecting import ohms_between, standing_ohms
from loomlore.faults.modes import faults_of
from loomlore.faults.situations import services_of_lever
from loomlore.faults.terminals import terminal_words
from loomlore.findings import UnknownName, UnreadableValue
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Fuse, Generator, Source
from loomlore.quantities import Quantity, as_written
from loomlore.record.model import Cable, Statement
from loomlore.sentences import words_of

__all__ = [
    "card_of",
    "controls_of",
    "items_spoken_of",
    "ohms_data",
    "seen_now",
    "setting_of",
    "statements_of",
    "verdict_data",
]

MARKS = {
    "proved": ("proved", "good"),
    "proved-if": ("if", "doubt"),
    "contradicted": ("not so", "bad"),
    "never-reached": ("never reached", "doubt"),
    "not-computable": ("not computable", "doubt"),
    "out-of-scope": ("another fit", "plain"),
}
"""What stands in the margin beside a source's sentence, and its tone."""


# -- controls ------------------------------------------------------------------------------------------------


def controls_of(plant: Plant, service: str) -> list[dict[str, Any]]:
    """The controls and conditions that a service's page offers, in groups.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    service
        Its id.

    Returns
    -------
    list of dict
        Groups with a title, whether they are open, and their levers.
    """
    levers = plant.network.levers
    own = [n for n in range(len(levers)) if service in services_of_lever(plant, n)]
    own += [n for n in sorted(levers_of_items(plant, items_of(plant.installation, service))) if n not in own]
    supply = [n for n in sorted(levers_of_items(plant, sorted(supply_items(plant)))) if n not in own]
    rest = [n for n in range(len(levers)) if n not in own and n not in supply]
    joints = [n for n in (*own, *supply) if levers[n].positions == ("in", "parted")]
    kept = [n for n in own if n not in joints]
    groups = [
        ("Controls", True, [n for n in kept if not levers[n].world]),
        ("What happens to it", True, [n for n in kept if levers[n].world]),
        ("Supply", True, [n for n in supply if not levers[n].world and n not in joints]),
        ("Supply: what happens to it", False, [n for n in supply if levers[n].world and n not in joints]),
        ("Plugs", False, joints),
        ("Everything else", False, rest),
    ]
    return [
        {"title": title, "open": is_open, "levers": [lever_data(plant, n) for n in numbers]}
        for title, is_open, numbers in groups
        if numbers
    ]


def lever_data(plant: Plant, number: int) -> dict[str, Any]:
    """One control or condition as data."""
    lever = plant.network.levers[number]
    name = lever_name(plant, number)
    data: dict[str, Any] = {
        "id": lever.name,
        "name": name[:1].upper() + name[1:],
        "positions": list(lever.positions),
    }
    if lever.positions:
        data["start"] = lever.positions[int(lever.start)]
        data["springs"] = lever.positions[lever.springs_to] if lever.springs_to is not None else ""
        return data
    data |= {"low": lever.low, "high": lever.high, "start": lever.start}
    data["ends"] = [as_written(lever.low, lever.dimension), as_written(lever.high, lever.dimension)]
    data["marks"] = [t for t in lever.thresholds if lever.low < t < lever.high]
    return data


# -- how it stands -------------------------------------------------------------------------------------------


def seen_now(sitting: Sitting, service: str) -> dict[str, Any]:
    """What is seen, heard and drawn in a service as a sitting stands.

    Parameters
    ----------
    sitting
        A reader's.
    service
        Its id; the whole installation where empty.

    Returns
    -------
    dict
        Lines of readings, of fuses, of sources and of the meter; what happened; the steps so far.
    """
    plant, settled = sitting.shown, sitting.now.settled
    wanted = [item for item, of in _services(sitting.plant).items() if service in of] if service else None
    found = readings(plant, settled, wanted, fuses=True)
    loads, fuses, sources = [], [], []
    for one in found:
        law = plant.network.branches[plant.network.branch_of[f"{one.item}.{one.part}"]].law
        if isinstance(law, Fuse):
            if service and not _feeds(sitting.plant, service, one):
                continue
            if one.state != "whole" or abs(one.amps) > 1e-3:
                fuses.append(_fuse_line(one))
        elif isinstance(law, Battery | Generator | Source):
            sources.append(_line(one))
        else:
            loads.append(_line(one))
    loads += _gone(sitting, wanted, {(one.item, one.part) for one in found})
    return {
        "loads": loads,
        "fuses": fuses,
        "sources": sources,
        "meter": _meter(sitting),
        "happened": sitting.happened(),
        "levers": sitting.positions(),
        "amounts": _amounts(plant, sitting),
        "steps": [
            {"done": m.done, "see": m.see, "verdict": m.verdict, "what_if": bool(m.fault)}
            for m in sitting.moments[-12:]
        ],
        "count": len(sitting.moments) - 1,
        "fault": _fault_words(sitting),
    }


def _gone(sitting: Sitting, wanted: list[str] | None, found: set[tuple[str, str]]) -> list[dict[str, Any]]:
    """What a fault has made of a load: a piece of wire, or nothing; it is as quiet as at rest."""
    if not sitting.now.fault:
        return []
    rest = readings(sitting.plant, sitting.moments[0].settled, wanted)
    return [
        _line(one) | {"quiet": True, "figures": ""}
        for one in rest
        if (one.item, one.part) not in found and one.state in QUIET_STATES and not one.shows
    ]


def _feeds(plant: Plant, service: str, one: Reading) -> bool:
    """Whether a fuse is the service's own: one of its feeds, or in an item that no other service uses."""
    feeds = plant.installation.dossier.services[service].feed
    return f"{one.item}.{one.part}" in feeds or len(services_with(plant, one.item)) == 1


def _fault_words(sitting: Sitting) -> str:
    if not sitting.now.fault:
        return ""
    return next(f.words for f in faults_of(sitting.plant) if f.id == sitting.now.fault)


def _line(one: Reading) -> dict[str, Any]:
    quiet = one.state in QUIET_STATES and not one.shows
    said = f"shows {one.shows}" if one.shows else one.state.replace("-", " ")
    figures = f"{as_written(_round(one.volts), 'voltage')}, {as_written(_round(one.amps), 'current')}"
    return {"name": one.name, "said": said, "figures": figures, "quiet": quiet, "item": one.item}


def _fuse_line(one: Reading) -> dict[str, Any]:
    said = as_written(_round(abs(one.amps)), "current") if one.state == "whole" else one.state
    whole = one.state == "whole"
    return {"name": one.name, "said": said, "figures": "", "quiet": False, "item": one.item, "whole": whole}


def _round(value: float) -> float:
    """Three figures are what a bench meter shows; under a milliampere or millivolt it shows nothing."""
    return float(f"{value:.3g}") if abs(value) >= 1e-3 else 0.0


def _amounts(plant: Plant, sitting: Sitting) -> dict[str, str]:
    values = sitting.now.settled.memory.levers
    return {
        lever.name: lever_words(plant, n, values[n])
        for n, lever in enumerate(plant.network.levers)
        if not lever.positions
    }


def _meter(sitting: Sitting) -> dict[str, Any] | None:
    meter = sitting.now.meter
    if meter is None:
        return None
    first, second, sort = meter
    network = sitting.shown.network
    number = next(n for n, branch in enumerate(network.branches) if branch.name == METER)
    volts = sitting.now.settled.solution.volts(number)
    said = as_written(_round(volts), "voltage")
    if sort == "test lamp":
        share = abs(volts) / network.supply
        state = "out" if share < 0.15 else "glimmers" if share < 0.5 else "lights"
        said = f"{state}, {said} across it"
    ends = [terminal_words(sitting.plant, end) for end in (first, second)]
    return {"from": ends[0], "to": ends[1], "with": sort, "said": said}


def setting_of(sitting: Sitting) -> dict[str, str]:
    """Every control and condition that does not stand at its start, as it would be written.

    Parameters
    ----------
    sitting
        A reader's.

    Returns
    -------
    dict
        By name: the position, or the amount with its unit.
    """
    values = sitting.now.settled.memory.levers
    return {
        lever.name: lever.positions[int(value)] if lever.positions else as_written(value, lever.dimension)
        for lever, value in zip(sitting.plant.network.levers, values, strict=True)
        if value != lever.start
    }


def ohms_data(sitting: Sitting, first: str, second: str) -> dict[str, Any]:
    """What an ohmmeter reads between two terminals with the batteries and ground supplies off.

    Parameters
    ----------
    sitting
        A reader's, for how the controls and contacts stand, and for the fault that is in.
    first
        Terminal on the meter's positive lead.
    second
        Terminal on the other.

    Returns
    -------
    dict
        ``said`` is the reading, or why there is none; ``notes`` what it goes through, and what is off.

    Raises
    ------
    UnknownName
        Where no terminal is called so.
    UnreadableValue
        Where both leads are on one terminal.
    """
    if first == second:
        raise UnreadableValue("Both leads are on one terminal.", "Choose two.")
    plant, settled = sitting.shown, sitting.now.settled
    off = {
        branch.item: lowered(name_of(plant, branch.item))
        for branch in plant.network.branches
        if isinstance(branch.law, Battery | Source)
    }
    ohms = ohms_between(standing_ohms(plant, settled, taken_off=off), first, second)
    notes = [ohms.refused] if ohms.refused else []
    if ohms.through:
        through = [lowered(name_of(plant, item)) for item in ohms.through]
        notes.append(f"through {listed([f'the {name}' for name in through])}")
    if ohms.polar:
        notes.append("the other way round it reads otherwise: a rectifier is in the way")
    if off:
        notes.append(f"with a lead off {listed([f'the {name}' for name in off.values()])}")
    return {"said": ohms.words, "notes": notes}


# -- cards ---------------------------------------------------------------------------------------------------


def card_of(opened: Opened, sitting: Sitting, name: str) -> dict[str, Any]:
    """The card of an item or a cable: what it is, where, how it stands, and what could be wrong with it.

    Parameters
    ----------
    opened
        The dossier.
    sitting
        A reader's, for how it stands.
    name
        An item's or cable's id, or a way (``box.3``).

    Returns
    -------
    dict
        Title, lines, terminals, faults, fuse.

    Raises
    ------
    UnknownName
        Where nothing is called so.
    """
    plant = sitting.shown
    dossier = plant.installation.dossier
    if name in dossier.cables:
        return _cable_card(plant, sitting, dossier.cables[name])
    item = name if name in plant.installation.equipment else name.rpartition(".")[0]
    equipment = plant.installation.equipment.get(item)
    if equipment is None:
        raise UnknownName("item", name, plant.installation.equipment)
    thing = equipment.item
    lines = [equipment.title]
    if thing.rating is not None:
        lines.append(rating_words(thing.rating))
    if thing.place:
        lines.append(place_of(opened, thing.place))
    lines += [thing.text] if thing.text else []
    now = [
        f"{one.name}: {line['said']}, {line['figures']}"
        for one in readings(plant, sitting.now.settled, [item])
        for line in [_line(one)]
    ]
    way = name.rpartition(".")[2] if name != item else ""
    faults = [
        {"id": f.id, "words": f.words}
        for f in faults_of(sitting.plant)
        if item in f.items and (not way or not f.id or f".{way}" in f.id or way in f.words)
    ]
    return {
        "name": name,
        "title": thing.name + (f" way {way}" if way else ""),
        "lines": lines,
        "now": now,
        "hazard": equipment.hazard,
        "standing": _standing(thing.standing, [str(c) for c in thing.sources]),
        "page": f"/item/{item}",
        "terminals": [f"{item}.{t}" for side in equipment.terminals.values() for t in side],
        "faults": faults[:40],
        "fuse": _fuse(plant, sitting, name),
        "controls": [f"{item}.{c}" for c in equipment.controls if f"{item}.{c}" in plant.network.lever_of],
    }


def rating_words(rating: Mapping[str, Quantity]) -> str:
    """A rating as written, ``24 V 42 W``."""
    return " ".join(amount.text for amount in rating.values())


def size_words(cable: Cable) -> str:
    """The size of a cable as written; nothing where none is."""
    if isinstance(cable.size, str):
        return cable.size
    return cable.size.text if cable.size is not None else ""


def _cable_card(plant: Plant, sitting: Sitting, cable: Cable) -> dict[str, Any]:
    number = plant.network.branch_of.get(f"cable:{cable.id}")
    now = []
    if number is not None:
        amps = as_written(_round(abs(sitting.now.settled.solution.amps(number))), "current")
        node = plant.network.branches[number].a
        volts = as_written(_round(sitting.now.settled.solution.potentials[node]), "voltage")
        now.append(f"{amps} through it, {volts} against the airframe")
    lines = [
        f"{terminal_words(plant, cable.from_)} to {terminal_words(plant, cable.to)}",
        ", ".join(p for p in (size_words(cable), cable.colour, cable.cover) if p),
    ]
    lines += [cable.length.text] if cable.length is not None else []
    lines += [f"along {cable.along}"] if cable.along else []
    return {
        "name": cable.id,
        "title": f"Cable {cable.mark or cable.id}",
        "lines": [line for line in lines if line],
        "now": now,
        "hazard": "",
        "standing": _standing(cable.standing, [str(c) for c in cable.sources]),
        "page": f"/record/cable#{cable.id}",
        "terminals": [cable.from_, cable.to],
        "faults": [{"id": f.id, "words": f.words} for f in faults_of(sitting.plant) if cable.id in f.cables],
        "fuse": None,
        "controls": [],
    }


def _standing(standing: str, sources: Iterable[str]) -> str:
    listed = "; ".join(sources)
    return f"{standing}: {listed}" if listed else standing


def place_of(opened: Opened, place: str) -> str:
    """A place as a card says it; its name where it is not recorded."""
    spot = opened.dossier.places.get(place)
    if spot is None:
        return place
    return ", ".join(part for part in (spot.text.rstrip(".") or spot.name, spot.station, spot.zone) if part)


def _fuse(plant: Plant, sitting: Sitting, name: str) -> dict[str, str] | None:
    number = plant.network.branch_of.get(name)
    if number is None or not isinstance(plant.network.branches[number].law, Fuse):
        return None
    states = plant.network.branches[number].law.states
    state = states[sitting.now.settled.solution.state(number)]
    other = next((s for s in states if s != state), "")
    order = "Take the fuse out" if state == "whole" else "Put a whole fuse in"
    return {"name": name, "state": state, "to": other, "order": order}


# -- sentences -----------------------------------------------------------------------------------------------


def statements_of(opened: Opened, plant: Plant, service: str) -> list[Statement]:
    """Function statements that speak of a service.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    service
        Its id; all where it is empty.

    Returns
    -------
    list of Statement
        In the order of the record.
    """
    said = [s for s in opened.dossier.statements.values() if is_function(s)]
    return [s for s in said if not service or service in services_spoken_of(plant, s)]


def items_spoken_of(statement: Statement) -> frozenset[str]:
    """Items and conditions that a sentence about function names.

    Parameters
    ----------
    statement
        What the source says.

    Returns
    -------
    frozenset of str
        Their ids.
    """
    sentences = sentences_of(statement, None)
    return frozenset(name.partition(".")[0] for s in sentences if s is not None for name in words_of(s))


def verdict_data(plant: Plant, verdict: Verdict, set_aside: str = "") -> dict[str, Any]:
    """A verdict as the margin shows it, with its reasons as pencil notes and the moves that break it.

    Parameters
    ----------
    plant
        The installation in which it was judged.
    verdict
        From the proof.
    set_aside
        Why a decision does not follow the sentence, where one does not.

    Returns
    -------
    dict
        Mark, tone, notes, moves.
    """
    mark, tone = MARKS[verdict.verdict]
    notes = []
    if verdict.verdict == "proved-if":
        notes.append(f"holds if {verdict.condition}")
    if verdict.operations and verdict.verdict in ("contradicted", "proved-if"):
        otherwise = "otherwise: " if verdict.verdict == "proved-if" else ""
        notes.append(f"{otherwise}{', '.join(verdict.operations)}: {'; '.join(verdict.seen)}")
    elif verdict.verdict == "contradicted":
        notes.append(f"with everything at rest: {'; '.join(verdict.seen)}")
    notes += [verdict.because] if verdict.because else []
    notes += [f"read with: {_given_words(plant, verdict)}"] if verdict.given else []
    if set_aside:
        notes.append(f"set aside by decision: {set_aside}")
        tone = "plain" if tone == "bad" else tone
    moves = [_move(plant, operation) for operation in verdict.path]
    return {"mark": mark, "tone": tone, "notes": notes, "moves": moves, "verdict": verdict.verdict}


def _given_words(plant: Plant, verdict: Verdict) -> str:
    """What the sentence was read with, in words; as written where it cannot be said."""
    statement = plant.installation.dossier.statements.get(verdict.statement)
    given = presumed(plant, statement) if statement is not None else None
    if given is None or str(given) != verdict.given:
        return verdict.given
    return condition_words(plant, plant.lexicon.condition(given))


def _move(plant: Plant, operation: Operation) -> dict[str, Any]:
    if operation.lever < 0:
        return {"lever": "", "to": operation.value}
    lever = plant.network.levers[operation.lever]
    to: str | float = lever.positions[int(operation.value)] if lever.positions else operation.value
    return {"lever": lever.name, "to": to}


def services_with(plant: Plant, item: str) -> tuple[str, ...]:
    """Services that an item belongs to."""
    return _services(plant).get(item, ())


@lru_cache(maxsize=16)
def _services(plant: Plant) -> Mapping[str, tuple[str, ...]]:
    return services_of(plant.installation)


def called(plant: Plant, name: str) -> str:
    """A name as printed."""
    return name_of(plant, name)
