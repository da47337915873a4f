"""One reader's hands on the installation: what was done, step by step, how it stands now, and each step undone.

A sitting holds moments. A moment has what was done in words, the action that did it (so that it can be done
again when the record has changed under it), and the settled installation. A fault put in or a meter put on
stands in the network like anything else, and stays until it is taken out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

from loomlore.behaviour.exploring import Operation
from loomlore.behaviour.operating import Moves, lever_words, play_steps, read_setting
from loomlore.behaviour.readings import event_words, name_of
from loomlore.behaviour.wording import lever_name, operation_words
from loomlore.faults.injecting import case_of
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.terminals import terminal_words
from loomlore.findings import LoomloreError, UnknownName, UnreadableValue
from loomlore.network.building import Plant
from loomlore.network.cases import Case, network_with
from loomlore.network.laws import Straight
from loomlore.network.model import Branch, Lever
from loomlore.network.settling import Event, Memory, Settled, at_rest, moved, settle, wait
from loomlore.network.solving import Solver, prepare
from loomlore.quantities import as_written

__all__ = ["METER", "METERS", "Moment", "Sitting"]

VOLTMETERS = 1e7
TEST_LAMP_WATTS = 6.0
METERS = ("voltmeter", "test lamp")
"""What is put between two terminals: a 10 megohm voltmeter, or a 6 W lamp for the supply's volts, taken as its
hot resistance. Common practice, no source."""

METER = "meter put on"
MOST_MOMENTS = 400
LONGEST_WAIT = 24 * 3600.0


@dataclass(frozen=True, kw_only=True)
class Moment:
    """How the installation stands after something was done; ``verdict`` is whether a step was as it says."""

    done: str
    action: Mapping[str, Any]
    settled: Settled
    events: tuple[Event, ...] = ()
    fault: str = ""
    meter: tuple[str, str, str] | None = None
    held: frozenset[int] = frozenset()
    see: str = ""
    verdict: str = ""


@dataclass(kw_only=True)
class Sitting:
    """A reader's installation, from rest to now."""

    plant: Plant
    standard: str = ""
    moments: list[Moment] = field(default_factory=list)
    _solvers: dict[Any, Solver] = field(default_factory=dict)
    _shown: Plant | None = None

    def __post_init__(self) -> None:
        # A network of its own: proofs run beside it in another thread, and each solver keeps a memory.
        network = replace(self.plant.network)
        self.plant = replace(self.plant, network=network, solver=prepare(network))
        if not self.moments:
            self.moments.append(self._moment("Everything at rest", {"do": "rest"}, at_rest(network)))

    @property
    def now(self) -> Moment:
        """The latest moment."""
        return self.moments[-1]

    @property
    def shown(self) -> Plant:
        """The installation as it stands: with its fault, and with the meter that is on."""
        solver = self.now.settled.solution.solver
        if self._shown is None or self._shown.solver is not solver:
            self._shown = replace(self.plant, network=solver.network, solver=solver)
        return self._shown

    def work(self, action: Mapping[str, Any]) -> None:
        """Do one thing.

        Raises :class:`LoomloreError` where it cannot be done; nothing has happened then.
        """
        name = str(action.get("do", ""))
        doing = self._doings.get(name)
        if doing is None:
            raise UnknownName("action", name, self._doings)
        doing(self, action)
        del self.moments[1 : max(1, len(self.moments) - MOST_MOMENTS)]

    @property
    def actions(self) -> tuple[Mapping[str, Any], ...]:
        """What was done, in order."""
        return tuple(moment.action for moment in self.moments[1:])

    @classmethod
    def replayed(cls, plant: Plant, standard: str, actions: Iterable[Mapping[str, Any]]) -> Sitting:
        """A sitting in which these things have been done; what cannot be done in it is left out."""
        fresh = cls(plant=plant, standard=standard)
        for action in actions:
            with suppress(LoomloreError):
                fresh.work(action)
        return fresh

    # -- how a moment comes about

    def _moment(self, done: str, action: Mapping[str, Any], memory: Memory, **more: Any) -> Moment:
        now = self.moments[-1] if self.moments else None
        fault = more.pop("fault", now.fault if now else "")
        meter = more.pop("meter", now.meter if now else None)
        held = more.pop("held", now.held if now else frozenset())
        settled = self._settled(memory, fault, meter, now.settled if now else None)
        events = more.pop("events", settled.events)
        return Moment(
            done=done,
            action=dict(action),
            settled=settled,
            events=events,
            fault=fault,
            meter=meter,
            held=held,
            **more,
        )

    def _settled(
        self, memory: Memory, fault: str, meter: tuple[str, str, str] | None, before: Settled | None
    ) -> Settled:
        near = before.solution if before is not None else None
        found = self._fault(fault) if fault else None
        if found is not None:
            memory = moved(memory, dict(found.levers))
        settled = settle(
            self._solver(None, meter), memory, near=near if meter is None and not fault else None
        )
        if found is None:
            return settled
        # Whether a fault changes anything may hang on how contacts stand, and they on the fault: look again.
        for _ in range(3):
            case = case_of(self.plant, found, self._as_if_well(settled))
            again = settle(self._solver(case, meter), memory)
            if again.memory == settled.memory and again.solution.levers == settled.solution.levers:
                return again
            settled = again
        return settled

    def _as_if_well(self, settled: Settled) -> Settled:
        solver, memory = self.plant.solver, settled.memory
        truths = solver.judged(memory.levers, memory.variables)
        solution = replace(settled.solution, solver=solver, truths=truths, remembered={})
        return replace(settled, solution=solution)

    def _solver(self, case: Case | None, meter: tuple[str, str, str] | None) -> Solver:
        extra = (self._meter_branch(meter),) if meter is not None else ()
        key = (case, extra)
        if not extra and case is None:
            return self.plant.solver
        if key not in self._solvers:
            if len(self._solvers) > 16:
                self._solvers.clear()
            put = Case(branches=case.branches if case else (), extra=(*(case.extra if case else ()), *extra))
            self._solvers[key] = prepare(network_with(self.plant.network, put))
        return self._solvers[key]

    def _meter_branch(self, meter: tuple[str, str, str]) -> Branch:
        first, second, sort = meter
        ohms = VOLTMETERS if sort == "voltmeter" else self.plant.network.supply**2 / TEST_LAMP_WATTS
        ends = [self.plant.network.node_of[name] for name in (first, second)]
        return Branch(name=METER, a=ends[0], b=ends[1], law=Straight(resistance=ohms), sort="meter")

    def _fault(self, fault: str) -> Fault:
        for one in faults_of(self.plant):
            if one.id == fault:
                return one
        raise UnknownName("fault", fault)

    # -- what can be done

    def _move(self, action: Mapping[str, Any]) -> None:
        number = self._lever(action)
        lever = self.plant.network.levers[number]
        value = _value(lever, action.get("to"))
        memory = moved(self.now.settled.memory, {number: value})
        done = _capital(operation_words(self.plant, Operation(number, value)))
        made = self._moment(done, action, memory)
        sliding = not lever.positions and self.now.action.get("lever") == action.get("lever")
        if sliding and self.now.action.get("do") == "move":
            self.moments[-1] = made
        else:
            self.moments.append(made)

    def _rest(self, action: Mapping[str, Any]) -> None:
        memory = at_rest(self.plant.network)
        self.moments.append(self._moment("Everything back at rest", action, memory, fault="", meter=None))

    def _undo(self, action: Mapping[str, Any]) -> None:
        del action
        if len(self.moments) > 1:
            self.moments.pop()

    def _wait(self, action: Mapping[str, Any]) -> None:
        seconds = _number(action.get("seconds"), "seconds")
        if not 0 < seconds <= LONGEST_WAIT:
            raise UnreadableValue(f"Nobody waits {seconds:g} s here.", "Wait between 0 and a day.")
        later = wait(self.now.settled, seconds)
        done = _capital(operation_words(self.plant, Operation(-1, seconds)))
        self.moments.append(self._moment(done, action, later.memory, events=later.events))

    def _set(self, action: Mapping[str, Any]) -> None:
        name, value = str(action.get("name", "")), str(action.get("to", ""))
        moves, findings = read_setting(self.plant, {name: value})
        if findings:
            raise UnreadableValue(findings[0].message, findings[0].hint)
        memory = moved(self.now.settled.memory, moves.levers, moves.variables)
        self.moments.append(self._moment(f"{name_of(self.plant, name)}: {value}", action, memory))

    def _strike(self, action: Mapping[str, Any]) -> None:
        found = self._fault(str(action.get("id", "")))
        self.moments.append(
            self._moment(f"What if: {found.words}", action, self.now.settled.memory, fault=found.id)
        )

    def _mend(self, action: Mapping[str, Any]) -> None:
        self.moments.append(self._moment("Put right", action, self.now.settled.memory, fault=""))

    def _measure(self, action: Mapping[str, Any]) -> None:
        first, second = str(action.get("from", "")), str(action.get("to", ""))
        sort = str(action.get("with", "voltmeter"))
        for name in (first, second):
            if name not in self.plant.network.node_of:
                raise UnknownName("terminal", name, self.plant.network.node_of)
        if sort not in METERS:
            raise UnknownName("meter", sort, METERS)
        if first == second:
            raise UnreadableValue("Both leads are on one terminal.", "Choose two.")
        ends = [terminal_words(self.plant, name) for name in (first, second)]
        done = f"{_capital(sort)} from {ends[0]} to {ends[1]}"
        self.moments.append(self._moment(done, action, self.now.settled.memory, meter=(first, second, sort)))

    def _unmeasure(self, action: Mapping[str, Any]) -> None:
        self.moments.append(self._moment("Meter taken off", action, self.now.settled.memory, meter=None))

    def _moves(self, action: Mapping[str, Any]) -> None:
        """Play moves from rest, each a moment of its own; levers by name, or ``""`` to wait."""
        played = action.get("moves")
        if (
            not isinstance(played, list)
            or len(played) > 100
            or not all(isinstance(one, dict) for one in played)
        ):
            raise UnreadableValue("These are no moves.", "Choose them from a statement.")
        kept = list(self.moments)
        try:
            self._rest({"do": "rest"})
            for one in played:
                if one.get("lever"):
                    self._move({**one, "do": "move"})
                else:
                    self._wait({"do": "wait", "seconds": one.get("to")})
        except LoomloreError:
            self.moments[:] = kept
            raise

    def _begin(self, action: Mapping[str, Any]) -> None:
        procedure = self.plant.installation.dossier.procedures.get(str(action.get("procedure", "")))
        if procedure is None:
            raise UnknownName("procedure", str(action.get("procedure", "")))
        moves, _ = read_setting(self.plant, procedure.start)
        memory = moved(at_rest(self.plant.network), moves.levers, moves.variables)
        done = f"Begin: {procedure.title or procedure.name}"
        self.moments.append(self._moment(done, action, memory, fault=self.now.fault, held=frozenset()))

    def _step(self, action: Mapping[str, Any]) -> None:
        procedure = self.plant.installation.dossier.procedures.get(str(action.get("procedure", "")))
        number = action.get("number")
        if procedure is None or not isinstance(number, int) or not 0 <= number < len(procedure.steps):
            raise UnknownName("step", f"{action.get('procedure')} {number}")
        step = procedure.steps[number]
        plant, settled = self.shown, self.now.settled
        (played,), findings = play_steps(plant, [step], settled)
        if findings:
            raise UnreadableValue(findings[0].message, findings[0].hint)
        moves: Moves = read_setting(plant, step.do)[0]
        words = [operation_words(plant, Operation(lever, value)) for lever, value in moves.levers.items()]
        words += [f"wait {as_written(step.wait, 'time')}"] if step.wait is not None else []
        verdict = (
            "" if step.see is None else "unknown" if played.unknown else "so" if played.seen else "not so"
        )
        # What springs back has gone back in ``after``; the plate shows the moment in which the step was judged.
        at = played.at.memory if step.wait is None else played.after.memory
        self.moments.append(
            self._moment(
                _capital(", ".join(words)) or "Look", action, at, see=str(step.see or ""), verdict=verdict,
                events=(*played.at.events, *played.after.events),
            )
        )  # fmt: skip

    def _lever(self, action: Mapping[str, Any]) -> int:
        name = str(action.get("lever", ""))
        number = self.plant.network.lever_of.get(name)
        if number is None:
            raise UnknownName("control", name, self.plant.network.lever_of)
        return number

    _doings: ClassVar[Mapping[str, Callable[[Sitting, Mapping[str, Any]], None]]] = {
        "move": _move,
        "rest": _rest,
        "undo": _undo,
        "wait": _wait,
        "set": _set,
        "fault": _strike,
        "mend": _mend,
        "measure": _measure,
        "unmeasure": _unmeasure,
        "moves": _moves,
        "begin": _begin,
        "step": _step,
    }

    # -- what is said of it

    def happened(self) -> list[str]:
        """What the latest moment brought about, in sentences."""
        return [event_words(self.shown, event) for event in self.now.events]

    def positions(self) -> dict[str, str | float]:
        """Where every lever stands: the word of its position, or its amount."""
        levers = self.plant.network.levers
        values = self.now.settled.memory.levers
        return {
            lever.name: lever.positions[int(value)] if lever.positions else value
            for lever, value in zip(levers, values, strict=True)
        }

    def moved_words(self) -> list[str]:
        """Everything that does not stand at its start, in words."""
        found = []
        for number, lever in enumerate(self.plant.network.levers):
            value = self.now.settled.memory.levers[number]
            if value != lever.start:
                found.append(f"{lever_name(self.plant, number)} {lever_words(self.plant, number, value)}")
        return found


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _number(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or math.isnan(value):
        raise UnreadableValue(f"{what} must be a number.", "Write it in figures.")
    return float(value)


def _value(lever: Lever, value: Any) -> float:
    if lever.positions:
        if value not in lever.positions:
            raise UnknownName("position", str(value), lever.positions)
        return float(lever.positions.index(str(value)))
    amount = _number(value, lever.name)
    if not lever.low <= amount <= lever.high:
        raise UnreadableValue(
            f"{lever.name} cannot be {amount:g}.", f"It goes from {lever.low:g} to {lever.high:g}."
        )
    return amount
