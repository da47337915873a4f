"""Verdicts in words: the condition a sentence leaves unsaid, and what is seen where it fails."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from loomlore.behaviour.bounding import Bound, Bounds
from loomlore.behaviour.presumptions import Requirement
from loomlore.behaviour.readings import name_of, reading_of
from loomlore.behaviour.wording import latch_words, lever_name, position_words
from loomlore.network.building import Plant
from loomlore.network.conditions import Condition, Measured, StateIs, leaves
from loomlore.network.laws import Magneto
from loomlore.network.settling import Settled
from loomlore.quantities import as_written
from loomlore.record.model import Statement
from loomlore.sentences import tests_of

__all__ = ["Feature", "condition_sentence", "condition_words", "what_is_seen"]

DEAD = 0.005
"""Volts under which a thing is said to have none."""

Feature = tuple[str, int]
"""("lever", number) or ("variable", number): something that a sentence leaves unsaid."""

_STATE_WORDS = {
    "blown": ("is whole", "is blown"),
    "fired": ("is unfired", "is fired"),
}
_STATE_SENTENCES = {
    "latch": ("not {}", "{}"),
    "blown": ("{} is whole", "{} is blown"),
    "fired": ("{} is not fired", "{} is fired"),
}


Tried = Callable[[int], tuple[float, ...]]
"""The values that a lever was tried at, in order."""


def condition_words(
    plant: Plant,
    features: Sequence[Feature],
    found: Requirement,
    tried: Tried,
    bounds: Bounds | None = None,
) -> str:
    """A condition in the crew's words.

    Parameters
    ----------
    plant
        The installation.
    features
        What each place of the requirement's rows is.
    found
        From :func:`loomlore.behaviour.presumptions.weakest_condition`.
    tried
        The values that a lever was tried at, in its own unit [unit].
    bounds
        Bounds that were sought by halving, where they were.

    Returns
    -------
    str
        Such as "the selector is at LAND and the silencer is not silenced".
    """
    parts = []
    for place, values in found.allowed:
        what, number = features[place]
        if what == "lever":
            parts.append(_lever_words(plant, number, sorted(values), tried, bounds or {}))
            continue
        variable = plant.network.variables[number]
        if variable.what == "latch":
            parts.append(latch_words(plant, variable.name, is_set=1.0 in values))
            continue
        word = _STATE_WORDS[variable.what][1 if 1.0 in values else 0]
        parts.append(f"{name_of(plant, variable.name)} {word}")
    return " and ".join(parts)


def _lever_words(plant: Plant, lever: int, values: Sequence[float], tried: Tried, bounds: Bounds) -> str:
    record = plant.network.levers[lever]
    if record.positions:
        rest = [float(n) for n in range(len(record.positions)) if float(n) not in values]
        if len(rest) == 1 and len(values) > 1:
            return position_words(plant, lever, rest).replace(" is ", " is not ", 1)
        return position_words(plant, lever, values)
    low, high = _interval(plant, lever, values, tried)
    name = lever_name(plant, lever)
    parts = []
    if (lever, "low") in bounds:
        parts.append(_bound_words("from {} on", bounds[lever, "low"], record.dimension))
    elif low is not None:
        word = "at least" if low in values else "above"
        parts.append(f"{word} {as_written(low, record.dimension)}")
    if (lever, "high") in bounds:
        parts.append(_bound_words("up to {}", bounds[lever, "high"], record.dimension))
    elif high is not None:
        word = "at most" if high in values else "below"
        parts.append(f"{word} {as_written(high, record.dimension)}")
    return f"the {name} is {' and '.join(parts) or 'anything'}"


def _bound_words(words: str, bound: Bound, dimension: str) -> str:
    """A bound as tried: one step beyond it failed."""
    step = as_written(bound.step, dimension)
    return f"{words.format(as_written(bound.value, dimension))} (tried in steps of {step})"


def _interval(
    plant: Plant, lever: int, values: Sequence[float], tried: Tried
) -> tuple[float | None, float | None]:
    """The bounds of the values that held; None for an end of the range.

    A bound is the one threshold between the last value that held and the next that did not; where there is
    none, or several, it is the value that held, since nothing is known of what lies beyond.
    """
    cuts, every = plant.network.levers[lever].thresholds, tried(lever)
    under = [value for value in every if value < min(values)]
    over = [value for value in every if value > max(values)]

    def bound(held: float, failed: float) -> float:
        between = [cut for cut in cuts if min(held, failed) < cut < max(held, failed)]
        return between[0] if len(between) == 1 else held

    return (
        bound(min(values), max(under)) if under else None,
        bound(max(values), min(over)) if over else None,
    )


def condition_sentence(
    plant: Plant,
    features: Sequence[Feature],
    found: Requirement,
    tried: Tried,
    bounds: Bounds | None = None,
) -> str:
    """A condition in the dossier's own language, to be written as a statement's ``given``.

    Parameters
    ----------
    plant
        The installation.
    features
        What each place of the requirement's rows is.
    found
        The condition.
    tried
        The values that a lever was tried at, in its own unit [unit].
    bounds
        Bounds that were sought by halving, where they were.

    Returns
    -------
    str
        A sentence that can be read back.
    """
    parts = []
    for place, values in found.allowed:
        what, number = features[place]
        if what == "lever":
            parts += _lever_sentences(plant, number, sorted(values), tried, bounds or {})
            continue
        variable = plant.network.variables[number]
        parts.append(_STATE_SENTENCES[variable.what][1 if 1.0 in values else 0].format(variable.name))
    return " and ".join(parts)


def _lever_sentences(
    plant: Plant, number: int, values: Sequence[float], tried: Tried, bounds: Bounds
) -> list[str]:
    lever = plant.network.levers[number]
    if lever.positions:
        words = [lever.positions[int(value)] for value in values]
        choice = words[0] if len(words) == 1 else f"one of ({', '.join(words)})"
        return [f"{lever.name} is {choice}"]
    low, high = _interval(plant, number, values, tried)
    found = []
    if (number, "low") in bounds:
        found.append(f"{lever.name} >= {as_written(bounds[number, 'low'].value, lever.dimension)}")
    elif low is not None:
        found.append(f"{lever.name} {'>=' if low in values else '>'} {as_written(low, lever.dimension)}")
    if (number, "high") in bounds:
        found.append(f"{lever.name} <= {as_written(bounds[number, 'high'].value, lever.dimension)}")
    elif high is not None:
        found.append(f"{lever.name} {'<=' if high in values else '<'} {as_written(high, lever.dimension)}")
    return found


def what_is_seen(plant: Plant, statement: Statement, after: Settled) -> tuple[str, ...]:
    """What the things that a statement speaks of are doing.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function.
    after
        How things stand.

    Returns
    -------
    tuple of str
        Each once, in the statement's order.
    """
    said: dict[str, None] = {}
    sentences = [statement.then, *(step.see for step in statement.steps)]
    for sentence in sentences:
        for test in tests_of(sentence) if sentence is not None else ():
            for leaf in leaves(plant.lexicon.condition(test)):
                for words in _leaf_words(plant, leaf, after):
                    said.setdefault(words)
    return tuple(said)


def _leaf_words(plant: Plant, leaf: Condition, after: Settled) -> list[str]:
    branches: tuple[int, ...] = ()
    if isinstance(leaf, Measured):
        if leaf.of == "shown":
            dial = plant.network.indications[leaf.a]
            shown = after.solution.shown(leaf.a)
            name = name_of(plant, dial.name)
            if shown is not None:
                return [f"{name} shows {as_written(shown, dial.dimension)}"]
            return [f"{name}: {after.solution.indicates(leaf.a)}"]
        if leaf.of == "volts":
            volts = after.solution.between(leaf.a, leaf.b)
            where = _terminal_words(plant, plant.network.node_names[leaf.a])
            return [f"volts at {where}: " + ("undefined" if volts is None else as_written(volts, "voltage"))]
        branches = leaf.group or (leaf.a,)
    elif isinstance(leaf, StateIs):
        variable = plant.network.variables[leaf.variable]
        if variable.branch < 0:
            return [latch_words(plant, variable.name, is_set=bool(after.memory.variables[leaf.variable]))]
        branches = (variable.branch,)
    said = []
    for branch in branches:
        reading = reading_of(plant, after, branch)
        amount = as_written(abs(reading.volts) if abs(reading.volts) > DEAD else 0.0, "voltage")
        plain = f"current in {reading.name}: {as_written(reading.amps, 'current')}"
        if isinstance(plant.network.branches[branch].law, Magneto):
            said.append(
                f"{reading.name} is {reading.state}"
            )  # its own sparks are no volts of the installation
        else:
            said.append(f"{reading.name} is {reading.state} ({amount})" if reading.state else plain)
    return said


def _terminal_words(plant: Plant, where: str) -> str:
    item, _, terminal = where.rpartition(".")
    if item not in plant.installation.equipment:
        return where
    name = name_of(plant, item)
    return f"terminal {terminal} of the {name[:1].lower()}{name[1:]}"
