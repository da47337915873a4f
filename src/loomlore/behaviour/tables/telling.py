"""Names and conditions as a handbook says them: lamps under one heading, a latch's rule in a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import lever_words
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.wording import lever_name, operation_words
from loomlore.network.building import Plant
from loomlore.network.conditions import (
    AllOf,
    AnyOf,
    Condition,
    LeverCompare,
    LeverIs,
    Limits,
    Measured,
    NotSo,
    StateIs,
)
from loomlore.quantities import as_written

__all__ = [
    "condition_words",
    "crew_name",
    "joint_name",
    "listed",
    "lowered",
    "order_words",
    "position_cell",
    "stands",
]


def lowered(name: str) -> str:
    """A name within a sentence.

    Parameters
    ----------
    name
        As printed at the head of a line.

    Returns
    -------
    str
        Its first letter small, unless it is an abbreviation.
    """
    return name[:1].lower() + name[1:] if name[1:2].islower() or name[1:2] == " " else name


def listed(words: Sequence[str], last: str = "and") -> str:
    """Words as a list in a sentence.

    Parameters
    ----------
    words
        At least one.
    last
        What stands before the last.

    Returns
    -------
    str
        With commas between the others.

    Examples
    --------
    >>> listed(["port", "starboard", "tail"])
    'port, starboard and tail'
    """
    return f" {last} ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def crew_name(plant: Plant, lever: int) -> str:
    """What the crew calls a lever.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.

    Returns
    -------
    str
        Its item's name where that has no other control; within a sentence.
    """
    name = plant.network.levers[lever].name
    item = name.rpartition(".")[0] or name
    equipment = plant.installation.equipment.get(item)
    if equipment is not None and len(equipment.controls) == 1:
        return lowered(equipment.item.name)
    return lowered(name_of(plant, name))


PLAIN = frozenset({"pressed", "on", "parted", "in", "out"})
"""Positions that are no words on a plate: a lever with one of them has all its positions in small letters."""


def position_cell(plant: Plant, lever: int, values: Iterable[float]) -> str:
    """Positions of a lever as a table has them: ``KEYED or CONTINUOUS``, ``not OFF``, ``pressed``.

    Parameters
    ----------
    plant
        The installation.
    lever
        One that has positions.
    values
        Their numbers [1].

    Returns
    -------
    str
        All but one of more than two is said as "not" that one.
    """
    record = plant.network.levers[lever]
    plain = record.world or PLAIN & set(record.positions)
    words = [word.replace("-", " ") if plain else word.replace("-", " ").upper() for word in record.positions]
    chosen = sorted({int(value) for value in values})
    rest = [n for n in range(len(words)) if n not in chosen]
    if len(rest) == 1 and len(chosen) > 1:
        return f"not {words[rest[0]]}"
    return " or ".join(words[n] for n in chosen)


def order_words(plant: Plant, operation: Operation) -> str:
    """One operation as an order, the lever by its crew's name.

    Parameters
    ----------
    plant
        The installation.
    operation
        A lever moved.

    Returns
    -------
    str
        Such as ``put the ground supply in``.
    """
    record = plant.network.levers[operation.lever]
    name = crew_name(plant, operation.lever)
    if {"in", "out"} <= set(record.positions):
        return f"put the {name} {record.positions[int(operation.value)]}"
    return operation_words(plant, operation).replace(lever_name(plant, operation.lever), name, 1)


def stands(plant: Plant, lever: int, values: Iterable[float]) -> str:
    """That a lever stands at one of some values.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.
    values
        Position numbers [1], or values in the unit of the lever.

    Returns
    -------
    str
        Such as ``the selector is at LAND``, ``the push is pressed``.
    """
    record = plant.network.levers[lever]
    name = crew_name(plant, lever)
    if not record.positions:
        return f"the {name} is {' or '.join(lever_words(plant, lever, value) for value in values)}"
    plain = record.world or PLAIN & set(record.positions)
    return f"the {name} is {'' if plain else 'at '}{position_cell(plant, lever, values)}"


def joint_name(names: Sequence[str]) -> str:
    """One heading for several names, what they share said once.

    Parameters
    ----------
    names
        At least one.

    Returns
    -------
    str
        The first name's capital is kept.

    Examples
    --------
    >>> joint_name(["Port lamp", "Starboard lamp", "Tail lamp"])
    'Port, starboard and tail lamps'
    >>> joint_name(["Hold lamp 1", "Hold lamp 2"])
    'Hold lamps 1 and 2'
    >>> joint_name(["Bilge pump", "Bilge lamp"])
    'Bilge pump and bilge lamp'
    >>> joint_name(["Earth lamps, positive", "Earth lamps, negative"])
    'Earth lamps, positive and negative'
    """
    if len(names) == 1:
        return names[0]
    words = [name.split() for name in names]
    if all(len(w) > 1 and (w[-1].isdigit() or len(w[-1]) == 1) and w[:-1] == words[0][:-1] for w in words):
        return f"{_plural(' '.join(words[0][:-1]))} {listed([w[-1] for w in words])}"
    if all(len(w) > 1 and w[-1] == words[0][-1] for w in words) and "," not in "".join(names):
        own = [" ".join(w[:-1]) for w in words]
        return f"{listed([own[0], *(lowered(o) for o in own[1:])])} {_plural(words[0][-1])}"
    heads = {name.partition(", ")[0] for name in names}
    if len(heads) == 1 and all(", " in name for name in names):
        return f"{heads.pop()}, {listed([name.partition(', ')[2] for name in names])}"
    return listed([names[0], *(lowered(name) for name in names[1:])])


def _plural(noun: str) -> str:
    if noun.endswith(("s", "x", "ch", "sh")):
        return f"{noun}es"
    return f"{noun[:-1]}ies" if noun.endswith("y") and noun[-2:-1] not in "aeou" else f"{noun}s"


def condition_words(
    plant: Plant, condition: Condition, *, negated: bool = False, causes: Mapping[int, str] | None = None
) -> str:
    """A condition as part of a sentence.

    Parameters
    ----------
    plant
        The installation.
    condition
        Any.
    negated
        Say the opposite.
    causes
        What to say instead of "is pulled in", by the coil's variable.

    Returns
    -------
    str
        Such as ``the silencer is pressed and the port throttle is below 0.28``.
    """
    match condition:
        case NotSo(part):
            return condition_words(plant, part, negated=not negated, causes=causes)
        case AllOf(parts) | AnyOf(parts):
            together = isinstance(condition, AllOf) != negated
            return _joined(plant, parts, together, negated, causes)
        case LeverIs(lever, positions):
            rest = range(len(plant.network.levers[lever].positions))
            chosen = [n for n in rest if (n in positions) != negated]
            return stands(plant, lever, chosen)
        case LeverCompare(lever, limits):
            record = plant.network.levers[lever]
            return f"the {crew_name(plant, lever)} is {_limit_words(limits, record.dimension, negated)}"
        case StateIs(variable, values) if (1 in values) != negated and variable in (causes or {}):
            return (causes or {})[variable]
        case StateIs(variable, values):
            return _state_words(plant, variable, (1 in values) != negated)
        case Measured():
            return _measured_words(plant, condition, negated)
        case _:
            return "always" if (condition.value is True) != negated else "never"


def _joined(
    plant: Plant, parts: Sequence[Condition], together: bool, negated: bool, causes: Mapping[int, str] | None
) -> str:
    said = []
    for part in parts:
        words = condition_words(plant, part, negated=negated, causes=causes)
        inner = part.part if isinstance(part, NotSo) else part
        mixed = isinstance(inner, AllOf | AnyOf) and len(inner.parts) > 1
        said.append(f"({words})" if mixed and together and " or " in words else words)
    return (" and " if together else " or ").join(dict.fromkeys(said))


_SIGNS = {"<": "below", "<=": "at most", ">": "above", ">=": "at least"}
_OPPOSITES = {"<": ">=", "<=": ">", ">": "<=", ">=": "<"}


def _limit_words(limits: Limits, dimension: str, negated: bool) -> str:
    signs = [(_OPPOSITES[sign] if negated else sign, value) for sign, value in limits]
    return (" or " if negated else " and ").join(
        f"{_SIGNS[sign]} {as_written(value, dimension)}" for sign, value in signs
    )


def _state_words(plant: Plant, variable: int, holds: bool) -> str:
    record = plant.network.variables[variable]
    if record.what == "sensed" and record.test is not None:
        return condition_words(plant, record.test, negated=not holds)
    item, _, part = record.name.rpartition(".")
    if record.what == "latch":
        return f"the {lowered(name_of(plant, item))} is {'' if holds else 'not '}{part.replace('-', ' ')}"
    name = lowered(name_of(plant, record.name)).replace(",", "'s", 1)
    states = {
        "coil": ("is released", "is pulled in"),
        "blown": ("is whole", "is blown"),
        "fired": ("is unfired", "is fired"),
    }
    return f"the {name} {states.get(record.what, ('is not so', 'is so'))[holds]}"


def _measured_words(plant: Plant, measured: Measured, negated: bool) -> str:
    network = plant.network
    if measured.of == "volts":
        limits = _limit_words(measured.limits, "voltage", negated)
        nodes = {(b.a, b.b): b.name for b in network.branches if b.sort == "element"}
        name = nodes.get((measured.a, measured.b))
        where = (
            f"across {lowered(name_of(plant, name)).replace(', ', ' ')}"
            if name
            else f"at {network.node_names[measured.a]}"
        )
        return f"the volts {where} are {limits}"
    if measured.of == "amps":
        limits = _limit_words(measured.limits, "current", negated)
        item = network.branches[measured.a].name.rpartition(".")[0]
        return f"the current through the {lowered(name_of(plant, item))} is {limits}"
    if measured.of == "shown":
        return f"the {lowered(name_of(plant, network.indications[measured.a].name))} reads so"
    branch = network.branches[measured.a]
    states = [
        branch.law.states[n].replace("-", " ")
        for n in range(len(branch.law.states))
        if (n in measured.values) != negated
    ]
    return f"the {lowered(name_of(plant, branch.name))} is {' or '.join(states)}"
