"""How grave each fault is and how much it counts: severity and criticality after MIL-STD-1629A.

The classes are the standard's, what falls into which is our judgement for an aeroplane of this age:

* I: somebody can be killed by it: a cartridge above its no-fire current, a magneto live, a starter that turns
  or a pump in a tank that is energised with its switch off.
* II: fire, or the loss of several services at once: a short that no fuse stops, three services or more.
* III: one or two services lost, working unasked, or misread.
* IV: dimmer, brighter, or nothing that anybody sees.

A user's own class for a service goes before ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from loomlore.faults.effects import Change, Effect, FaultStudy
from loomlore.faults.hazards import in_tank
from loomlore.faults.modes import Fault
from loomlore.faults.rates import effect_class, mode_criticality, occurrence_level
from loomlore.network.building import Plant

__all__ = ["SEVERITIES", "Rated", "criticality_table", "services_criticality", "severity_of"]

SEVERITIES = ("I", "II", "III", "IV")
"""Catastrophic, critical, marginal, minor."""

SEVERAL = 3
"""Services lost at once that make a fault critical: judgement."""

POSSIBLE = 0.1
"""Beta of a fault that shows in no phase but in some other setting: the upper end of "possible"."""


@dataclass(frozen=True, kw_only=True)
class Rated:
    """A fault with its severity, probability of the effect, and criticality number over the phases."""

    fault: Fault
    severity: str
    effect: float
    word: str
    number: float
    level: str
    hours: float


def severity_of(plant: Plant, changes: Iterable[Change], own: Mapping[str, str] | None = None) -> str:
    """The severity class of what changes.

    Parameters
    ----------
    plant
        The installation.
    changes
        In one situation.
    own
        The user's class by service; the gravest of those concerned goes before ours for what is lost.

    Returns
    -------
    str
        I to IV.

    Source
    ------
    [mil-std-1629a task 101]
    """
    listed = list(changes)
    if any(_kills(plant, change) for change in listed):
        return "I"
    lost = {
        c.service for c in listed if c.kind in ("lost", "weak", "blows", "unasked", "misreads", "stopped")
    }
    named = [own[s] for s in lost if own and s in own]
    if named:
        return min(named, key=SEVERITIES.index)
    if (
        any(c.kind in ("unfused", "overcharged") for c in listed)
        or len({c.service for c in listed if c.kind in ("lost", "weak", "blows")}) >= SEVERAL
    ):
        return "II"
    return (
        "III" if lost or any(c.kind in ("chatters", "race", "over-run", "overload") for c in listed) else "IV"
    )


def _kills(plant: Plant, change: Change) -> bool:
    if change.kind in ("fires", "above-no-fire", "live"):
        return True
    equipment = plant.installation.equipment.get(change.item)
    if change.kind != "unasked" or equipment is None:
        return False
    return equipment.symbol == "starter" or in_tank(plant, change.item)


def criticality_table(study: FaultStudy, own: Mapping[str, str] | None = None) -> tuple[Rated, ...]:
    """Every fault's severity and criticality over one round of the phases.

    Parameters
    ----------
    study
        Of every single fault.
    own
        The user's severity class by service.

    Returns
    -------
    tuple of Rated
        The gravest class first, then by criticality.

    Source
    ------
    [mil-std-1629a task 102]

    Notes
    -----
    Beta is the share of the phases' time in which the effect shows; a tenth where it shows only elsewhere. A
    fault without a rate by the hour (workmanship) has the number nought and still its severity.
    """
    minutes = sum(s.minutes for s in study.situations)
    hours = minutes / 60 if minutes else 1.0
    rows = []
    for fault in study.faults:
        effects = study.effects.get(fault.id, ())
        grades = {e.situation.id: severity_of(study.plant, e.changes, own) for e in effects if e.changes}
        worst = min(grades.values(), key=SEVERITIES.index, default="IV")
        beta = _beta(effects, grades, worst, minutes)
        number = mode_criticality(
            fault.rate.per_million_hours * 1e-6, share=fault.rate.share, effect=beta, hours=hours
        )
        rows.append((fault, worst, beta, number))
    whole = sum(f.rate.of_mode for f, *_ in rows)
    rated = [
        Rated(
            fault=fault,
            severity=worst,
            effect=beta,
            word=effect_class(beta),
            number=number,
            level=occurrence_level(fault.rate.of_mode / whole if whole else 0.0),
            hours=hours,
        )
        for fault, worst, beta, number in rows
    ]
    return tuple(sorted(rated, key=lambda r: (SEVERITIES.index(r.severity), -r.number)))


def _beta(effects: Iterable[Effect], grades: Mapping[str, str], worst: str, minutes: float) -> float:
    showing = [e for e in effects if grades.get(e.situation.id) == worst]
    if not showing:
        return 0.0
    in_phases = sum(e.situation.minutes for e in showing)
    return min(1.0, in_phases / minutes) if minutes and in_phases else POSSIBLE


def services_criticality(rows: Iterable[Rated]) -> dict[str, dict[str, float]]:
    """Criticality number of each service in each severity class.

    Parameters
    ----------
    rows
        From :func:`criticality_table`.

    Returns
    -------
    dict of str to dict
        By service, then by class: expected losses in one round of the phases [1].

    Source
    ------
    [mil-std-1629a task 102]
    """
    found: dict[str, dict[str, float]] = {}
    for row in rows:
        for service in row.fault.services:
            of = found.setdefault(service, dict.fromkeys(SEVERITIES, 0.0))
            of[row.severity] += row.number
    return found
