"""Every shipped kind operated: it does what it is for, and does not do it when it should not."""

from __future__ import annotations

import pytest

from tests.unit.catalogue.joint_trials import TRIALS as JOINT
from tests.unit.catalogue.lamp_trials import TRIALS as LAMP
from tests.unit.catalogue.meter_trials import TRIALS as METER
from tests.unit.catalogue.motor_trials import TRIALS as MOTOR
from tests.unit.catalogue.radio_trials import TRIALS as RADIO
from tests.unit.catalogue.relay_trials import TRIALS as RELAY
from tests.unit.catalogue.store_trials import TRIALS as STORE
from tests.unit.catalogue.switch_trials import TRIALS as SWITCH
from tests.unit.catalogue.trials import Trial, disagreements, plant_of_trial, trial_findings

TRIALS: tuple[Trial, ...] = (*JOINT, *LAMP, *METER, *MOTOR, *RADIO, *RELAY, *STORE, *SWITCH)


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.id)
def test_a_kind_does_what_it_is_for_and_nothing_else(trial):
    assert not (wrong := disagreements(trial, plant_of_trial(trial))), "\n".join(wrong)


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.id)
def test_nothing_is_said_against_a_record_that_uses_it(trial):
    assert trial_findings(trial) == []
