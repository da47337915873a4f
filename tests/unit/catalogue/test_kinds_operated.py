"""Every shipped kind operated: it does what it is for, and does not do it when it should not.

The trials stand by subject in the files beside this one. That they can fail is tested too: a contact that is
turned round or that sticks, a latch that never sets or lets go, a part that is gone must be noticed.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from tests.unit.catalogue.joint_trials import TRIALS as JOINTS
from tests.unit.catalogue.lamp_trials import TRIALS as LAMPS
from tests.unit.catalogue.meter_trials import TRIALS as METERS
from tests.unit.catalogue.motor_trials import TRIALS as MOTORS
from tests.unit.catalogue.radio_trials import TRIALS as RADIO
from tests.unit.catalogue.relay_trials import TRIALS as RELAYS
from tests.unit.catalogue.store_trials import TRIALS as STORES
from tests.unit.catalogue.supply_trials import TRIALS as SUPPLY
from tests.unit.catalogue.switch_trials import TRIALS as SWITCHES
from tests.unit.catalogue.trials import Trial, disagreements, kinds_in, plant_of_trial, trial_findings

from loomlore.behaviour.operating import holds, operated, read_setting, rest
from loomlore.behaviour.readings import reading_of
from loomlore.catalogue.shipped import raw_kinds, shipped_kinds
from loomlore.network.cases import opened, settled_case
from loomlore.network.laws import Motor
from loomlore.record.kinds import read_kinds
from loomlore.sentences import read_sentence

TRIALS: tuple[Trial, ...] = (
    *JOINTS, *LAMPS, *METERS, *MOTORS, *RADIO, *RELAYS, *STORES, *SUPPLY, *SWITCHES,
)  # fmt: skip

RECORDED_ONLY = frozenset({"aerial", "aerial-winch", "coaxial-socket"})
"""Kinds that nothing solves: it is enough that they join, and that nothing is said against them."""


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.id)
def test_a_kind_does_what_it_is_for_and_nothing_else(trial):
    assert not (wrong := disagreements(trial, plant_of_trial(trial))), "\n".join(wrong)


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.id)
def test_nothing_is_said_against_a_record_that_uses_it(trial):
    assert trial_findings(trial) == []


def test_every_shipped_kind_is_tried():
    tried = {kind for trial in TRIALS for kind in trial.kinds.split()}
    assert set(shipped_kinds()) - tried == set()
    assert tried - set(shipped_kinds()) == set()


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.id)
def test_a_trial_has_what_it_claims_to_try_and_looks_at_it(trial):
    assert set(trial.kinds.split()) <= kinds_in(trial)
    assert any(step.see is not None for step in trial.reading().dossier.procedures["trial"].steps)


# ---- the trials notice what is wrong ---------------------------------------------------------------------

Spoilt = tuple[str, dict[str, Any]]

SAME_FROM_OUTSIDE = frozenset(
    {
        # its two tags part together: either alone breaks the winding
        ("heated-clothing", "contact first sticks"),
        ("heated-clothing", "contact second sticks"),
        # passes no steady current, whether it is there or not
        ("condenser", "element plates gone"),
        ("suppressor", "element condenser gone"),
    }
)


def _spoilt(table: dict[str, Any]) -> Iterator[Spoilt]:
    """A kind's table spoilt in every way that can be seen, one at a time."""
    for name, contact in table.get("contact", {}).items():
        said = contact["closed"]
        for how, closed in (
            ("turned round", f"not ({said})"),
            ("sticks", f"({said}) or not ({said})"),
            ("never makes", f"({said}) and not ({said})"),
        ):
            yield f"contact {name} {how}", _with(table, ("contact", name, "closed"), closed)
    for name, latch in table.get("latch", {}).items():
        for key in {"set", "set-on", "release", "release-on"} & latch.keys():
            said = latch[key]
            never = f"({said}) and not ({said})"
            yield f"latch {name} {key} never", _with(table, ("latch", name, key), never)
    for name, element in table.get("element", {}).items():
        if element["law"] != "conductor":
            gone = {"law": "conductor", "ends": element["ends"], "resistance": "1 Mohm"}
            yield f"element {name} gone", _with(table, ("element", name), gone)


def _with(table: dict[str, Any], path: tuple[str, ...], value: object) -> dict[str, Any]:
    spoilt = copy.deepcopy(table)
    within = spoilt
    for key in path[:-1]:
        within = within[key]
    within[path[-1]] = value
    return spoilt


def _notices(trial: Trial, kinds: dict[str, Any]) -> bool:
    """Whether a trial fails with these kinds; a name of it that is gone is noticed as well."""
    try:
        return bool(disagreements(trial, plant_of_trial(trial, kinds)))
    except (AssertionError, KeyError):
        return True


@pytest.mark.parametrize("name", sorted(shipped_kinds().keys() - RECORDED_ONLY))
def test_the_trials_of_a_kind_notice_when_it_is_spoilt(name):
    raw = raw_kinds()
    table, place = raw[name]
    trials = [trial for trial in TRIALS if name in trial.kinds.split()]
    unnoticed = []
    for how, spoilt in _spoilt(dict(table)):
        kinds, findings = read_kinds({name: (spoilt, place)}, judged=False)
        assert not findings, how
        others = {**shipped_kinds(), **kinds}
        if (name, how) not in SAME_FROM_OUTSIDE and not any(_notices(trial, others) for trial in trials):
            unnoticed.append(how)
    assert unnoticed == []


# ---- what operating alone does not show ------------------------------------------------------------------


def _lit(name: str) -> Trial:
    return next(trial for trial in TRIALS if trial.kinds == name)


@pytest.mark.parametrize(
    ("kind", "switch", "position", "group", "pair"),
    [
        ("doubled-lamp", "on", "on", "window", ("a", "b")),
        ("twin-window-indicator", "on", "down", "red", ("red-a", "red-b")),
        ("twin-window-indicator", "on", "locked", "green", ("green-a", "green-b")),
    ],
)
def test_a_doubled_window_hides_one_lamp_and_not_two(kind, switch, position, group, pair):
    """Doubled lamps hide the failure of one, which halves the current (common practice, no source)."""
    plant = plant_of_trial(_lit(kind))
    moves, _ = read_setting(plant, {"master": "on", switch: position})
    whole = operated(plant, rest(plant), moves)
    network = plant.network
    numbers = [network.branch_of[f"it.{name}"] for name in pair]
    one, other = (opened(network, number) for number in numbers)
    lit = read_sentence(f"it.{group} is lit")
    assert holds(plant, settled_case(whole, one), lit) is True
    assert holds(plant, settled_case(whole, other), lit) is True
    both = replace(one, branches=(*one.branches, *other.branches))
    assert holds(plant, settled_case(whole, both), lit) is not True
    feed = network.branch_of["cable:T1"]
    before, after = (reading_of(plant, s, feed).amps for s in (whole, settled_case(whole, one)))
    assert after == pytest.approx(before / 2, rel=0.01)


@pytest.mark.parametrize(
    ("kind", "least", "most"),
    [
        *[(kind, 3, 5) for kind in ("motor", "motor-case-return", "pump", "tank-pump", "reversing-motor")],
        *[(kind, 3, 5) for kind in ("landing-lamp", "inertia-starter", "recording-camera")],
        *[(kind, 1.8, 2.5) for kind in ("starter", "insulated-starter")],
    ],
)
def test_a_motor_takes_more_to_start_than_to_run(kind, least, most):
    """Three to five times; a starter's breakaway about twice its cranking (common practice, no source)."""
    plant = plant_of_trial(_lit(kind))
    laws = [b.law for b in plant.network.branches if b.item == "it" and isinstance(b.law, Motor)]
    assert laws
    for law in laws:
        assert least <= law.conductance(False, 0.0) / law.conductance(True, 0.0) <= most
