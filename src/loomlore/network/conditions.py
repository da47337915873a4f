"""When a contact is closed, a latch set, a machine working: sentences with their names made into numbers.

A condition speaks of *levers* (controls and conditions of the world), of *variables* (what the installation
remembers: coils, latches, fuses, sensed states) and, in latches only, of what is measured in the present
solution. Contacts speak of levers and variables alone, so that the conductors of a round are known before it
is solved; :func:`compile_conditions` makes one function of all of them.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

__all__ = [
    "ALWAYS",
    "NEVER",
    "AllOf",
    "AnyOf",
    "Condition",
    "Constant",
    "Judgement",
    "LeverCompare",
    "LeverIs",
    "Measured",
    "NotSo",
    "StateIs",
    "compile_conditions",
    "judge",
    "leaves",
    "ready",
]

Limits = tuple[tuple[str, float], ...]
"""Comparisons that all must hold, each (sign, limit in SI)."""


@dataclass(frozen=True, slots=True)
class Constant:
    """True, False, or None for what cannot be known in this standard of fit."""

    value: bool | None


ALWAYS = Constant(True)
NEVER = Constant(False)


@dataclass(frozen=True, slots=True)
class LeverIs:
    """A lever stands at one of these positions (by number)."""

    lever: int
    positions: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LeverCompare:
    """A lever of a range keeps to limits."""

    lever: int
    limits: Limits


@dataclass(frozen=True, slots=True)
class StateIs:
    """A variable has one of these values."""

    variable: int
    values: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Measured:
    """What is measured keeps to limits.

    ``of`` is "volts" (between nodes ``a`` and ``b``; b = -1 stands for the airframe), "amps" (in branch
    ``a``), "state" (the state of branch ``a`` is one of ``values``), "group" (the highest state among the
    branches ``group`` is one of ``values``), or "shown" (what indication ``a`` shows keeps to ``limits``, or
    its state is one of ``values``).
    """

    of: str
    a: int
    b: int = -1
    limits: Limits = ()
    values: tuple[int, ...] = ()
    group: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class NotSo:
    """Negation."""

    part: Condition


@dataclass(frozen=True, slots=True)
class AllOf:
    """All parts hold."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one part holds."""

    parts: tuple[Condition, ...]


Condition = Constant | LeverIs | LeverCompare | StateIs | Measured | NotSo | AllOf | AnyOf

_SIGNS: dict[str, Callable[[float, float], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


def within(value: float, limits: Limits) -> bool:
    """Whether a value keeps to all limits."""
    for sign, limit in limits:  # noqa: SIM110  a generator costs more than the loop, and this is the inner loop
        if not _SIGNS[sign](value, limit):
            return False
    return True


def leaves(condition: Condition) -> Iterator[Condition]:
    """Go through the single tests of a condition.

    Parameters
    ----------
    condition
        Any.

    Yields
    ------
    Condition
        Each test, left to right.

    Returns
    -------
    Iterator
        Over the tests.
    """
    match condition:
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from leaves(part)
        case NotSo(part):
            yield from leaves(part)
        case _:
            yield condition


def judge(
    condition: Condition,
    levers: Sequence[Any],
    variables: Sequence[int],
    measure: Callable[[Measured], bool | None],
) -> bool | None:
    """Judge a condition in Kleene's three values.

    Parameters
    ----------
    condition
        What is to hold.
    levers
        Position number or value of each lever.
    variables
        Value of each variable.
    measure
        Judges a :class:`Measured` against the present solution; None where it is at no defined potential.

    Returns
    -------
    bool or None
        None where an unknown part decides.
    """
    match condition:
        case LeverIs(lever, positions):
            return levers[lever] in positions
        case StateIs(variable, values):
            return variables[variable] in values
        case LeverCompare(lever, limits):
            return within(levers[lever], limits)
        case Measured():
            return measure(condition)
        case NotSo(part):
            value = judge(part, levers, variables, measure)
            return None if value is None else not value
        case AllOf(parts):
            return _all(judge(p, levers, variables, measure) for p in parts)
        case AnyOf(parts):
            return _any(judge(p, levers, variables, measure) for p in parts)
        case Constant(value):
            return value


def _all(values: Iterator[bool | None]) -> bool | None:
    unknown = False
    for value in values:
        if value is False:
            return False
        unknown = unknown or value is None
    return None if unknown else True


def _any(values: Iterator[bool | None]) -> bool | None:
    unknown = False
    for value in values:
        if value is True:
            return True
        unknown = unknown or value is None
    return None if unknown else False


Judgement = Callable[[Sequence[Any], Sequence[int], Callable[[Measured], "bool | None"]], "bool | None"]
"""What :func:`ready` makes: the same question as :func:`judge` asks, of one condition."""


@lru_cache(maxsize=16384)
def ready(condition: Condition) -> Judgement:
    """Make a function of a condition, for one that is judged over and over.

    Parameters
    ----------
    condition
        What is to hold.

    Returns
    -------
    callable
        (levers, variables, measure) to True, False or None, as :func:`judge` says.
    """
    match condition:
        case LeverIs(lever, positions):
            return lambda levers, _, __: levers[lever] in positions
        case StateIs(variable, values):
            return lambda _, variables, __: variables[variable] in values
        case LeverCompare(lever, limits):
            return lambda levers, _, __: within(levers[lever], limits)
        case Measured():
            return lambda _, __, measure: measure(condition)
        case Constant(value):
            return lambda _, __, ___: value
        case NotSo(part):
            return _ready_not(ready(part))
        case AllOf(parts):
            return _ready_several(tuple(ready(p) for p in parts), ends=False)
        case AnyOf(parts):
            return _ready_several(tuple(ready(p) for p in parts), ends=True)


def _ready_not(part: Judgement) -> Judgement:
    def judged(levers: Sequence[Any], variables: Sequence[int], measure: Any) -> bool | None:
        value = part(levers, variables, measure)
        return None if value is None else not value

    return judged


def _ready_several(parts: tuple[Judgement, ...], *, ends: bool) -> Judgement:
    """All of them (``ends`` False: the first false one decides) or any of them (True)."""

    def judged(levers: Sequence[Any], variables: Sequence[int], measure: Any) -> bool | None:
        unknown = False
        for part in parts:
            value = part(levers, variables, measure)
            if value is ends:
                return ends
            if value is None:
                unknown = True
        return None if unknown else not ends

    return judged


def source_text(condition: Condition) -> str:
    """A Python expression over ``L`` (levers) and ``S`` (variables) for a condition without measurements."""
    match condition:
        case Constant(value):
            return "True" if value else "False"
        case LeverIs(lever, positions):
            return f"L[{lever}]=={positions[0]}" if len(positions) == 1 else f"L[{lever}] in {positions!r}"
        case StateIs(variable, values):
            return f"S[{variable}]=={values[0]}" if len(values) == 1 else f"S[{variable}] in {values!r}"
        case LeverCompare(lever, limits):
            return "(" + " and ".join(f"L[{lever}]{sign}{limit!r}" for sign, limit in limits) + ")"
        case NotSo(part):
            return f"(not {source_text(part)})"
        case AllOf(parts):
            return "(" + " and ".join(source_text(p) for p in parts) + ")" if parts else "True"
        case AnyOf(parts):
            return "(" + " or ".join(source_text(p) for p in parts) + ")" if parts else "False"
        case Measured():
            raise ValueError("a contact's condition measures something; make it a variable first")


def compile_conditions(
    conditions: Sequence[Condition],
) -> Callable[[Sequence[Any], Sequence[int]], tuple[bool, ...]]:
    """Make one function that judges many conditions at once.

    Parameters
    ----------
    conditions
        Without measurements; the expressions are written from numbers alone, never from a dossier's text.

    Returns
    -------
    callable
        (levers, variables) to a tuple of truths, in the order given.
    """
    body = ",".join(source_text(c) for c in conditions)
    text = f"def judged(L, S):\n    return ({body}{',' if conditions else ''})\n"
    made: dict[str, Any] = {}
    exec(compile(text, "<conditions>", "exec"), made)  # noqa: S102  numbers only, see above
    function: Callable[[Sequence[Any], Sequence[int]], tuple[bool, ...]] = made["judged"]
    return function
