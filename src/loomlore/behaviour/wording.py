"""Operations and settings in the crew's words: ``put the selector to WATER``, ``press the silencer``."""

from __future__ import annotations

from collections.abc import Iterable

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import lever_words
from loomlore.behaviour.readings import name_of
from loomlore.network.building import Plant
from loomlore.quantities import as_written

__all__ = ["latch_words", "lever_name", "operation_words", "position_words", "setting_words"]


def lever_name(plant: Plant, lever: int) -> str:
    """A control's or condition's name within a sentence: ``master switch``, ``engine speed``.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.

    Returns
    -------
    str
        Without an article.
    """
    name = name_of(plant, plant.network.levers[lever].name)
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def latch_words(plant: Plant, name: str, *, is_set: bool) -> str:
    """How a latch stands, its name being what its item then is: ``the horn silencer is not silenced``.

    Parameters
    ----------
    plant
        The installation.
    name
        ``ITEM.LATCH``.
    is_set
        Whether it is set.

    Returns
    -------
    str
        Without a full stop.
    """
    item, _, latch = name.rpartition(".")
    called = name_of(plant, item)
    called = called[:1].lower() + called[1:] if called[1:2].islower() else called
    return f"the {called} is {'' if is_set else 'not '}{latch.replace('-', ' ')}"


def operation_words(plant: Plant, operation: Operation) -> str:
    """One operation as an order.

    Parameters
    ----------
    plant
        The installation.
    operation
        A lever moved, or some time waited.

    Returns
    -------
    str
        Without a full stop.
    """
    if operation.lever < 0:
        return f"wait {as_written(operation.value, 'time')}"
    lever = plant.network.levers[operation.lever]
    name = lever_name(plant, operation.lever)
    word = lever_words(plant, operation.lever, operation.value)
    if lever.positions == ("released", "pressed"):
        return f"{'press' if word == 'pressed' else 'let go'} the {name}"
    if lever.positions == ("in", "parted"):
        return f"{'part' if word == 'parted' else 'mate'} the {name}"
    if lever.world:
        return f"let the {name} be {word}" if lever.positions else f"bring the {name} to {word}"
    if set(lever.positions) == {"off", "on"}:
        return f"put the {name} {word}"
    if lever.positions:
        return f"put the {name} to {word.upper()}"
    return f"bring the {name} to {word}"


def position_words(plant: Plant, lever: int, values: Iterable[float]) -> str:
    """That a lever stands at one of some values: ``the selector is at LAND``.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.
    values
        Positions' numbers, or values in the range's own unit [unit].

    Returns
    -------
    str
        Without a full stop.
    """
    listed = [lever_words(plant, lever, value) for value in values]
    record = plant.network.levers[lever]
    name = lever_name(plant, lever)
    if record.positions and not record.world and not set(record.positions) & {"pressed", "on", "parted"}:
        return f"the {name} is at {' or '.join(word.upper() for word in listed)}"
    return f"the {name} is {' or '.join(listed)}"


def setting_words(plant: Plant, operations: Iterable[Operation]) -> str:
    """A sequence of operations as one sentence of orders.

    Parameters
    ----------
    plant
        The installation.
    operations
        In order.

    Returns
    -------
    str
        Without a full stop.
    """
    parts = [operation_words(plant, operation) for operation in operations]
    if not parts:
        return "with everything at rest"
    return ", ".join(parts[:-1]) + (" and " if len(parts) > 1 else "") + parts[-1]
