"""The thresholds that the catalogue prints with their sources are those that the laws go by.

``thresholds.toml`` is what a reader looks up; the laws of the network hold the same numbers, since the
network reads no files. Each threshold is approached from both sides, so that a change of either shows here.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tests.unit.catalogue.trials import SOURCE, Trial, disagreements, plant_of_trial

from loomlore.behaviour.readings import OVER_RUN_LIGHT
from loomlore.network import viewing
from loomlore.network.laws import STOPPING, ConstantPower, Filament, light
from loomlore.network.translating import OVER_RUN
from loomlore.quantities import read_quantity

PRINTED: dict[str, Any] = tomllib.loads(
    (files("loomlore.catalogue") / "kinds" / "thresholds.toml").read_text(encoding="utf-8")
)["threshold"]

RATED = 24.0
NEAR = 1e-6

KINDS = {"filament": "lamp", "motor": "motor", "horn": "horn", "heater": "heater", "set": "receiver"}
"""A kind by which each law is tried."""


def law_called(law: str) -> Any:
    terminals = ("+", "-") if law == "set" else ("1", "2")
    trial = Trial(
        KINDS[law],
        f'it = {{ kind = "{KINDS[law]}", rating = "24 V 60 W" }}',
        f"box.1 > it.{terminals[0]}; it.{terminals[1]} > earth",
        "master on",
    )
    network = plant_of_trial(trial).network
    return next(branch.law for branch in network.branches if branch.item == "it")


def volts_at(law: str, measure: str, threshold: float, made: Any) -> float:
    """Volts at which a threshold of the table lies."""
    match measure:
        case "light":
            return float(RATED * threshold ** (1 / PRINTED[law]["exponent"]))
        case "heat":
            return RATED * threshold**0.5
        case "volts":
            return RATED * threshold
        case _:
            return float(made.works_from) * threshold


CASES = [
    (law, measure, state, threshold)
    for law, table in PRINTED.items()
    for measure, states in table.items()
    if isinstance(states, dict)
    for state, threshold in states.items()
    if state != "over-run"
]


def test_the_table_is_whole():
    assert {law for law, *_ in CASES} == set(KINDS)
    assert len(CASES) == 2 * len(KINDS)


@pytest.mark.parametrize(("law", "measure", "state", "threshold"), CASES)
def test_a_state_begins_at_its_printed_threshold(law, measure, state, threshold):
    made = law_called(law)
    volts = volts_at(law, measure, threshold, made)
    above = made.state(volts * (1 + NEAR), 0.0, True)
    below = made.state(volts * (1 - NEAR), 0.0, True)
    assert made.states[above] == state
    assert below == above - 1


def test_a_lamp_is_over_run_from_its_printed_light():
    printed = PRINTED["filament"]["light"]["over-run"]
    assert printed == OVER_RUN == OVER_RUN_LIGHT
    volts = RATED * printed ** (1 / PRINTED["filament"]["exponent"])
    trial = Trial(
        "lamp",
        f'{SOURCE}\n[item.it]\nkind = "lamp"\nrating = "24 V 24 W"',
        "source.- > earth; source.+ > it.1; it.2 > earth",
        f"volts-set {volts - 0.1:.2f} | it is lit and it is not over-run\n"
        f"volts-set {volts + 0.1:.2f} | it is over-run",
    )
    assert not (wrong := disagreements(trial, plant_of_trial(trial))), "\n".join(wrong)


def test_light_goes_by_the_printed_exponent():
    exponent = PRINTED["filament"]["exponent"]
    assert light(28.0, RATED) == pytest.approx((28 / RATED) ** exponent, rel=1e-12)
    # 1.7 times the light for a 24 volt lamp at 28: common practice, no source
    assert light(28.0, RATED) == pytest.approx(1.7, abs=0.05)


def test_a_cold_filament_is_the_printed_share_of_a_hot_one():
    made = law_called("filament")
    assert isinstance(made, Filament)
    assert made.cold == pytest.approx(PRINTED["cold-filament"]["ratio"], rel=0.01)


def test_a_set_works_from_what_its_kind_says():
    made = law_called("set")
    assert isinstance(made, ConstantPower)
    assert made.works_from == pytest.approx(0.8 * RATED)


@pytest.mark.parametrize(("ohms", "seen"), [(9.5, "stopped"), (10.5, "live")])
def test_a_magneto_stops_below_its_printed_ohms(ohms, seen):
    assert read_quantity(PRINTED["magneto"]["stopped-below"], "resistance").value == STOPPING == 10.0
    trial = Trial(
        "magneto",
        f'it = {{ kind = "magneto" }}\npath = {{ kind = "resistor", resistance = "{ohms} ohm" }}',
        "it.P > path.1; path.2 > earth",
        f"| it is {seen}",
    )
    assert not (wrong := disagreements(trial, plant_of_trial(trial))), "\n".join(wrong)


@pytest.mark.parametrize(("law", "measure", "state", "threshold"), CASES)
def test_columns_of_cases_are_judged_by_the_same_thresholds(law, measure, state, threshold):
    """What judges many cases at once has its own copy of some of the numbers."""
    made = law_called(law)
    volts = volts_at(law, measure, threshold, made)
    column = np.array([volts * (1 - NEAR), volts * (1 + NEAR)])
    view = SimpleNamespace(works={}, volts=lambda _: column)
    below, above = viewing._states(view, 0, made)
    assert made.states[above] == state
    assert below == above - 1
