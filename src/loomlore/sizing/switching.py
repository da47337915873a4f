"""Every switch, push and relay contact against what it makes and breaks.

The current of each kind of load behind a contact is found by following the flow, in the setting in which the
contact carries most; each kind asks its own factor, and a mixed load the sum.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from loomlore.network.building import Plant
from loomlore.network.conditions import leaves
from loomlore.references import Input, OutOfRange, Working, citation
from loomlore.sizing.duty import Case, Load, Study
from loomlore.sizing.judging import Judgement, judged
from loomlore.sizing.runs import loads_behind
from loomlore.sizing.switch_ratings import SwitchedLoad, switch_factor

__all__ = ["SwitchReport", "switch_reports"]

LEAST = 0.02
"""Amperes below which a contact is not asked for a rating: instruments and telephone lines."""

_LOADS: dict[str, SwitchedLoad] = {
    "lamp": "lamp",
    "motor": "motor",
    "heater": "resistive",
    "coil": "inductive",
    "horn": "inductive",
    "set": "motor",
    "cartridge": "resistive",
}
"""A set is taken as the motor of its rotary transformer; a horn as a coil."""


@dataclass(frozen=True, slots=True)
class SwitchReport:
    """A contact: what it switches, the rating it needs, and the one it has (None: not recorded).

    ``moving`` says whether it opens at all; ``judgement`` only where a rating is recorded.
    """

    item: str
    contact: str
    words: str
    current: float
    loads: tuple[tuple[SwitchedLoad, float], ...]
    required: Working
    stamped: float | None
    judgement: Judgement | None


def switch_reports(study: Study) -> tuple[SwitchReport, ...]:
    """What every switch must be rated for.

    Parameters
    ----------
    study
        All cases.

    Returns
    -------
    tuple of SwitchReport
        In order of the record, the worst contact of each item; none for a supply that the table has not.

    Source
    ------
    [ac43.13-1b table 11-4]
    """
    worst: dict[str, SwitchReport] = {}
    for number, branch in enumerate(study.plant.network.branches):
        if branch.sort != "contact" or branch.closed is None or not tuple(leaves(branch.closed)):
            continue
        amps, case = study.steady[number]
        if amps < LEAST:
            amps, case = study.most[number]
        if amps < LEAST or _is_joint(study.plant, branch.item):
            continue
        report = _report(study, number, case)
        if report is not None and (
            branch.item not in worst or report.required.value > worst[branch.item].required.value
        ):
            worst[branch.item] = report
    return tuple(worst.values())


@lru_cache(maxsize=512)
def _is_joint(plant: Plant, item: str) -> bool:
    """Plugs, studs and cut-outs are no switches; a cut-out's figures are its own."""
    return plant.installation.equipment[item].symbol in {
        "plug",
        "socket",
        "stud",
        "cut-out",
        "regulator",
        "ground-supply",
    }


def _report(study: Study, number: int, at: int) -> SwitchReport | None:
    plant, case = study.plant, study.cases[at]
    branch = plant.network.branches[number]
    by_sort: dict[SwitchedLoad, float] = {}
    for load in _behind(study, case, number):
        sort = _LOADS[load.sort]
        by_sort[sort] = by_sort.get(sort, 0.0) + abs(case.amps[load.branch])
    total, current = sum(by_sort.values()), abs(case.amps[number])
    if total <= 0:
        by_sort, total = {"resistive": current}, current
    # two contacts may share one load: only this contact's part of it is asked of it
    shares = tuple((sort, amps * min(1.0, current / total)) for sort, amps in by_sort.items())
    try:
        required = _required(plant.network.supply, shares)
    except OutOfRange:
        return None
    rating = plant.installation.equipment[branch.item].item.rating
    stamped = rating["current"].value if rating and "current" in rating else None
    judgement = None
    if stamped is not None:
        own = Working(
            "stamped rating", stamped, "A", "as stamped", (), citation("common-practice"), "practice"
        )
        cure = "Fit a switch of a higher rating, or let it work a relay."
        judgement = judged("Switch rating", value=required, limit=own, cure=cure)
    return SwitchReport(branch.item, branch.name, case.words, current, shares, required, stamped, judgement)


def _behind(study: Study, case: Case, number: int) -> tuple[Load, ...]:
    of = {load.branch: load for load in study.loads}
    return tuple(of[n] for n in loads_behind(study.plant, case, number) if n in of)


def _required(supply: float, shares: tuple[tuple[SwitchedLoad, float], ...]) -> Working:
    factors = [(sort, amps, switch_factor(supply, sort)) for sort, amps in shares]
    inputs = tuple(
        entry
        for sort, amps, factor in factors
        for entry in (Input(f"I of {sort}", amps, "A"), Input(f"factor of {sort}", factor.value, "", factor))
    )
    value = sum(amps * factor.value for _, amps, factor in factors)
    source = citation("ac43.13-1b", "table 11-4")
    return Working("required switch rating", value, "A", "sum of I x factor", inputs, source)
