"""Operating an installation: settings, and procedures played in order with memory.

A setting moves controls and conditions from where they stand; an installation at rest has every one at its
start. A step of a procedure is: do, settle, judge what is seen; then what springs goes back unless it is
held; then time passes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from loomlore.behaviour.influence import levers_that_matter
from loomlore.findings import Finding, Place, Severity, UnreadableValue, nearest
from loomlore.network.building import Plant
from loomlore.network.conditions import Condition, judge
from loomlore.network.settling import Event, Memory, Settled, at_rest, moved, settle, wait
from loomlore.quantities import as_written, read_quantity
from loomlore.record.model import Procedure, Step
from loomlore.record.naming import Unresolved, resolve
from loomlore.sentences import Sentence

__all__ = [
    "Moves",
    "Played",
    "PlayedStep",
    "holds",
    "lever_words",
    "operated",
    "play",
    "read_setting",
    "rest",
    "sprung_back",
]

NOWHERE = Place()

Setting = Mapping[str, str | float]
"""Names as in sentences, with a position, an amount as text, or a number in the range's inside unit."""


@dataclass(frozen=True, slots=True)
class Moves:
    """A setting in numbers: levers, and things put by hand (a fuse taken out)."""

    levers: Mapping[int, float] = field(default_factory=dict)
    variables: Mapping[int, int] = field(default_factory=dict)


def read_setting(
    plant: Plant, setting: Setting, *, place: Place = NOWHERE, subject: str = ""
) -> tuple[Moves, tuple[Finding, ...]]:
    """Look up a setting's names and read its values.

    Parameters
    ----------
    plant
        The installation.
    setting
        What is moved where.
    place
        Where it is written, for the findings.
    subject
        Whose it is, for the findings.

    Returns
    -------
    tuple of Moves and tuple of Finding
        What could be read, and what not.
    """
    levers: dict[int, float] = {}
    variables: dict[int, int] = {}
    findings: list[Finding] = []
    for name, value in setting.items():
        try:
            _read_one(plant, name, value, levers, variables)
        except UnreadableValue as slip:
            findings.append(Finding("setting", Severity.ERROR, place, slip.message, slip.hint, subject))
    return Moves(levers, variables), tuple(findings)


def _read_one(
    plant: Plant, name: str, value: str | float, levers: dict[int, float], variables: dict[int, int]
) -> None:
    words = (str(value),) if isinstance(value, str) else ()
    found = resolve(name, plant.installation, sense="is", words=words)
    if isinstance(found, Unresolved):
        refused = found
        found = resolve(name, plant.installation, sense="compare")
        if isinstance(found, Unresolved):
            raise _not_by_hand(plant, name) or _no_such_lever(plant, name, refused)
    if found.what == "element" and found.id in plant.network.variable_of:
        branch = plant.network.branches[plant.network.branch_of[found.id]]
        if value not in branch.law.states:
            raise _no_position(name, value, branch.law.states)
        variables[plant.network.variable_of[found.id]] = branch.law.states.index(str(value))
        return
    number = plant.network.lever_of.get(found.id)
    if number is None:
        slip = _not_by_hand(plant, name)
        raise slip or UnreadableValue(f"{name!r} cannot be moved.", "Name a control or a condition.")
    lever = plant.network.levers[number]
    if lever.positions:
        if value not in lever.positions:
            raise _no_position(name, value, lever.positions)
        levers[number] = lever.positions.index(str(value))
        return
    levers[number] = _amount(name, value, lever.dimension, lever.low, lever.high)


def _no_such_lever(plant: Plant, name: str, refused: Unresolved) -> UnreadableValue:
    """An unknown name is compared with what can be moved first: nobody sets a lamp."""
    calls = tuple(dict.fromkeys(_called(plant, lever) for lever in plant.network.lever_of))
    begun = [call for call in calls if name and call.startswith(f"{name}-")]
    meant = begun[0] if len(begun) == 1 else nearest(name, calls)
    known = name in calls or name.partition(".")[0] in plant.installation.equipment
    if meant is None or known:
        return UnreadableValue(refused.message, refused.hint)
    return UnreadableValue(f"Nothing is called {name!r}.", f"Did you mean {meant!r}?")


def _not_by_hand(plant: Plant, name: str) -> UnreadableValue | None:
    """What moves an item that no hand moves; None where one does (a control, a fuse), or it is no item."""
    network, item = plant.network, name.partition(".")[0]
    if all(isinstance(resolve(name, plant.installation, sense=s), Unresolved) for s in ("is", "compare")):
        return None
    branches = [number for number, branch in enumerate(network.branches) if branch.item == item]
    if item not in plant.installation.equipment or not branches:
        return None
    fuses = (of for of, number in network.branch_of.items() if network.branches[number].sort == "fuse")
    movable = (*network.lever_of, *fuses)
    if any(of == item or of.startswith(f"{item}.") for of in movable):
        return None
    levers = [
        _called(plant, network.levers[number].name) for number in sorted(levers_that_matter(plant, branches))
    ]
    hint = f"What changes it: {_listed(levers)}." if levers else "Nothing that can be moved changes it."
    return UnreadableValue(f"{name!r} is not moved by hand.", hint)


def _called(plant: Plant, lever: str) -> str:
    """A lever as a setting calls it: by its item alone where that has no other."""
    item = lever.partition(".")[0]
    alone = sum(other.partition(".")[0] == item for other in plant.network.lever_of) == 1
    return item if alone else lever


MOST_LISTED = 8
"""A hint that names more is not read."""


def _listed(names: list[str]) -> str:
    more = len(names) - MOST_LISTED
    return ", ".join(names[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def _no_position(name: str, value: object, positions: Iterable[str]) -> UnreadableValue:
    listed = tuple(positions)
    meant = nearest(str(value), listed)
    hint = f"Write {meant!r}." if meant else f"Write one of: {', '.join(listed)}."
    return UnreadableValue(f"{name!r} has no position {str(value)!r}.", hint)


def _amount(name: str, value: str | float, dimension: str, low: float, high: float) -> float:
    if isinstance(value, str):
        amount = read_quantity(value, dimension or None, bare=not dimension).value
    else:
        amount = float(value)
    if not low <= amount <= high:
        span = f"{as_written(low, dimension)} to {as_written(high, dimension)}"
        raise UnreadableValue(f"{name!r} cannot be {value}.", f"Its range is {span}.")
    return amount


@lru_cache(maxsize=32)
def rest(plant: Plant) -> Settled:
    """The installation as nobody has touched it, settled.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    Settled
        Every control and condition at its start.
    """
    return settle(plant.solver, at_rest(plant.network))


def operated(plant: Plant, settled: Settled, moves: Moves) -> Settled:
    """Move controls and conditions, all at once, and let the installation settle.

    Parameters
    ----------
    plant
        The installation.
    settled
        Where things stand.
    moves
        From :func:`read_setting`.

    Returns
    -------
    Settled
        With the memory of before.
    """
    memory = moved(settled.memory, moves.levers, moves.variables)
    return settle(plant.solver, memory, near=settled.solution)


def holds(plant: Plant, settled: Settled, sentence: Sentence | None) -> bool | None:
    """Whether a sentence of the dossier holds as things stand.

    Parameters
    ----------
    plant
        The installation.
    settled
        Where things stand.
    sentence
        None always holds.

    Returns
    -------
    bool or None
        None where it is unknown.
    """
    return judged(settled, plant.lexicon.condition(sentence))


def judged(settled: Settled, condition: Condition) -> bool | None:
    """Whether a condition holds as things stand; unknown where it comes and goes as a relay chatters."""
    memory = settled.memory
    if not settled.between:
        return judge(condition, memory.levers, memory.variables, settled.solution.measure)
    found = {
        judge(condition, memory.levers, variables, solution.measure)
        for solution, variables in settled.between
    }
    return found.pop() if len(found) == 1 else None


def sprung_back(plant: Plant, memory: Memory, held: Iterable[int] = ()) -> Memory:
    """Let go of everything that springs back and is not held.

    Parameters
    ----------
    plant
        The installation.
    memory
        Where things stand.
    held
        Levers that somebody keeps in their place.

    Returns
    -------
    Memory
        The same where nothing springs.
    """
    kept = set(held)
    back = {
        number: float(lever.springs_to)
        for number, lever in enumerate(plant.network.levers)
        if lever.springs_to is not None and number not in kept and memory.levers[number] != lever.springs_to
    }
    return moved(memory, back) if back else memory


@dataclass(frozen=True, slots=True)
class PlayedStep:
    """One step as it went: what stood when it was judged, whether it was as the step says, and afterwards.

    ``seen`` is None where the step says nothing, or where it is unknown (``unknown``).
    """

    step: Step
    at: Settled
    seen: bool | None
    unknown: bool
    after: Settled


@dataclass(frozen=True, slots=True)
class Played:
    """A procedure as it went."""

    start: Settled
    steps: tuple[PlayedStep, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def events(self) -> tuple[Event, ...]:
        """Everything that happened on the way."""
        return tuple(e for s in self.steps for e in (*s.at.events, *s.after.events))


def play(plant: Plant, procedure: Procedure, *, start: Settled | None = None) -> Played:
    """Play a procedure in order.

    Parameters
    ----------
    plant
        The installation.
    procedure
        Its start and steps.
    start
        Where things stand before; at rest where None. The procedure's own start is moved from there.

    Returns
    -------
    Played
        Step by step; names that are not fitted are findings, and their moves left out.
    """
    settled = rest(plant) if start is None else start
    subject = f"procedure {procedure.id}"
    moves, findings = read_setting(plant, procedure.start, place=procedure.where, subject=subject)
    if moves.levers or moves.variables:
        settled = operated(plant, settled, moves)
    steps, more = play_steps(plant, procedure.steps, settled, subject=subject)
    return Played(settled, steps, (*findings, *more))


def play_steps(
    plant: Plant, steps: Iterable[Step], settled: Settled, *, subject: str = ""
) -> tuple[tuple[PlayedStep, ...], tuple[Finding, ...]]:
    """Play steps from where things stand; see :func:`play`."""
    played: list[PlayedStep] = []
    findings: list[Finding] = []
    held: set[int] = set()
    for step in steps:
        moves, slips = read_setting(plant, step.do, place=step.where, subject=subject)
        findings += slips
        held = (held - set(moves.levers)) | _held(plant, step, findings, subject)
        at = operated(plant, settled, moves) if moves.levers or moves.variables else settled
        seen = holds(plant, at, step.see) if step.see is not None else None
        after = _after(plant, at, held, step.wait)
        played.append(PlayedStep(step, at, seen, step.see is not None and seen is None, after))
        settled = after
    return tuple(played), tuple(findings)


def _held(plant: Plant, step: Step, findings: list[Finding], subject: str) -> set[int]:
    """Levers that a step says are held: controls by name, or the only control of an item."""
    numbers: set[int] = set()
    for name in step.hold:
        found = _controls_called(plant, name)
        if len(found) == 1:
            numbers.add(found[0])
            continue
        message = (
            f"{name!r} is no control that could be held." if not found else f"{name!r} has several controls."
        )
        known = [lever.name for lever in plant.network.levers]
        listed = [plant.network.levers[n].name for n in found] or [nearest(name, known) or known[0]]
        hint = f"Write {' or '.join(repr(word) for word in listed)}."
        findings.append(Finding("hold", Severity.ERROR, step.where, message, hint, subject))
    return numbers


def _controls_called(plant: Plant, name: str) -> list[int]:
    if name in plant.network.lever_of:
        return [plant.network.lever_of[name]]
    equipment = plant.installation.equipment.get(name)
    if equipment is None:
        return []
    names = [f"{name}.{control}" for control in equipment.controls]
    return [plant.network.lever_of[n] for n in names if n in plant.network.lever_of]


def _after(plant: Plant, at: Settled, held: set[int], seconds: float | None) -> Settled:
    memory = sprung_back(plant, at.memory, held)
    settled = at if memory is at.memory else settle(plant.solver, memory, near=at.solution)
    return settled if seconds is None else wait(settled, seconds)


def lever_words(plant: Plant, number: int, value: float) -> str:
    """A lever's position in words, as ``on`` or ``0.15`` or ``1800 rev/min``.

    Parameters
    ----------
    plant
        The installation.
    number
        Of the lever.
    value
        A position's number, or a value in the range's own unit [unit].

    Returns
    -------
    str
        For the user.
    """
    lever = plant.network.levers[number]
    if lever.positions:
        return lever.positions[int(value)]
    return as_written(value, lever.dimension)
