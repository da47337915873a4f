"""What ``cables`` and ``loads`` found as plain data: every number with how it came, down to the printed table."""

from __future__ import annotations

from typing import Any

from loomlore.behaviour.readings import name_of
from loomlore.references import Working
from loomlore.sizing.cable_study import CableReport, CableStudy
from loomlore.sizing.dropping import DropVerdict
from loomlore.sizing.judging import Judgement
from loomlore.sizing.protecting import FuseReport
from loomlore.sizing.rewiring import Rewiring

__all__ = ["cable_data", "drop_data", "fuse_data", "judgement_data", "rewiring_data", "working_data"]


def working_data(working: Working) -> dict[str, Any]:
    """A number with how it came, as plain data.

    Parameters
    ----------
    working
        Any figure.

    Returns
    -------
    dict
        Value, unit, formula, inputs with their own workings, source and status.
    """
    return {
        "quantity": working.quantity,
        "value": _finite(working.value),
        "unit": working.unit,
        "formula": working.formula,
        "inputs": [
            {
                "symbol": entry.symbol,
                "value": _finite(entry.value) if isinstance(entry.value, float | int) else entry.value,
                "unit": entry.unit,
                **({"working": working_data(entry.working)} if entry.working is not None else {}),
            }
            for entry in working.inputs
        ],
        "source": working.source.full,
        "status": working.status,
        "weakest": working.weakest_status,
        "note": working.note,
    }


def _finite(value: float) -> float | None:
    return value if abs(value) < float("inf") else None


def judgement_data(judgement: Judgement | None) -> dict[str, Any] | None:
    """A verdict with its value and its limit.

    Parameters
    ----------
    judgement
        None where nothing was judged.

    Returns
    -------
    dict or None
        Value and limit with their working; None for None.
    """
    if judgement is None:
        return None
    return {
        "rule": judgement.rule,
        "passes": judgement.passes,
        "by_tolerance": judgement.by_tolerance,
        "value": working_data(judgement.value),
        "limit": working_data(judgement.limit),
        "cure": "" if judgement.passes else judgement.cure,
    }


def cable_data(found: CableStudy, report: CableReport) -> dict[str, Any]:
    """A cable and all that is said of it.

    Parameters
    ----------
    found
        The whole study.
    report
        The cable.

    Returns
    -------
    dict
        Ready for JSON.
    """
    warmth, protection = report.warmth, report.protection
    data: dict[str, Any] = {
        "cable": report.cable.id,
        "service": report.cable.service,
        "size": report.size.text if report.size is not None else None,
        "length": report.length.value if report.length.known else None,
        "length_low": report.length.low,
        "length_high": report.length.high,
        "length_how": report.length.explanation,
        "copper_kg": report.mass,
        "verdict": report.word,
        "reasons": list(report.reasons),
        "period": judgement_data(report.period),
    }
    if warmth is not None:
        data |= {
            "amps": warmth.current,
            "setting": found.study.cases[warmth.case].words,
            "may_carry": working_data(warmth.limit),
            "temperature": working_data(warmth.temperature),
            "moment_amps": warmth.moment,
            "moment_lasts": warmth.lasts,
            "stretch": f"{warmth.stretch.loom}: {warmth.stretch.first} to {warmth.stretch.last}"
            if warmth.stretch
            else "",
        }
    if protection is not None:
        short = protection.short
        data |= {
            "fuse": found.plant.network.branches[protection.fuse].name if protection.fuse >= 0 else None,
            "side": protection.side,
            "unfused": protection.bare,
            "chart": judgement_data(protection.chart),
            "fuse_over_ampacity": judgement_data(protection.ampacity),
            "short": None
            if short is None
            else {"amps": short.current, "verdict": short.word, "words": short.words},
        }
    return data


def drop_data(found: CableStudy, drop: DropVerdict) -> dict[str, Any]:
    """A load's drop, its verdicts and disputes.

    Parameters
    ----------
    found
        The whole study.
    drop
        A load's.

    Returns
    -------
    dict
        Ready for JSON.
    """
    return {
        "load": drop.run.load.name,
        "name": name_of(found.plant, drop.run.load.name),
        "amps": drop.run.amps,
        "volts_at_20_C": drop.cold,
        "drop": working_data(drop.hot),
        "low": drop.low,
        "high": drop.high,
        "intermittent": drop.intermittent,
        "setting": drop.words,
        "bus": found.plant.network.node_names[drop.run.bus],
        "verdicts": [
            {
                "limit": working_data(v.limit),
                "verdict": v.word,
                "decides": v.decides,
                "disputes": [
                    {
                        "cable": d.cable,
                        "statement": d.statement,
                        "source": d.source,
                        "says": d.what,
                        "whole_run": d.whole,
                        "drop": d.drop,
                        "passes": d.passes,
                        "decides": d.passes is not v.judgement.passes,
                    }
                    for d in v.disputes
                ],
            }
            for v in drop.verdicts
        ],
    }


def fuse_data(found: CableStudy, report: FuseReport) -> dict[str, Any]:
    """A fuse and what it must stand.

    Parameters
    ----------
    found
        The whole study.
    report
        The fuse.

    Returns
    -------
    dict
        Ready for JSON.
    """
    return {
        "fuse": report.name,
        "name": name_of(found.plant, report.name),
        "carrying": report.carrying.value,
        "fusing": report.fusing.value,
        "basis": report.basis,
        "basis_given": report.basis_given,
        "running": report.running,
        "starting": report.starting,
        "verdict": report.word,
        "words": report.words,
        "above": found.plant.network.branches[report.above].name if report.above >= 0 else None,
        "discrimination": judgement_data(report.discrimination),
        "protects": list(report.protects),
    }


def rewiring_data(rewiring: Rewiring) -> dict[str, Any]:
    """A set chosen, line by line.

    Parameters
    ----------
    rewiring
        From one catalogue.

    Returns
    -------
    dict
        Ready for JSON.
    """
    return {
        "catalogue": rewiring.catalogue,
        "copper_kg": rewiring.mass,
        "period_copper_kg": rewiring.period_mass,
        "proven": rewiring.choice.proven,
        "gap": rewiring.choice.gap,
        "bound_kg": rewiring.choice.bound,
        "rounds": rewiring.rounds,
        "broken": list(rewiring.broken),
        "left": list(rewiring.left),
        "changes": [
            {
                "cable": c.cable,
                "service": c.service,
                "from": c.from_,
                "to": c.to,
                "period": c.period,
                "size": c.size,
                "cut": c.length,
                "copper_kg": c.mass,
                "period_copper_kg": c.period_mass,
                "why": c.why,
            }
            for c in rewiring.changes
        ],
    }
