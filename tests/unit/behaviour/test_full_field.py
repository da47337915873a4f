"""A regulator holds back the field by what it feels: with its coil's lead off the machine has its full field.

The volts then rise to what the machine gives open, half as much again as it is set to: common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from tests.unit.behaviour.small import HEAD, plant_of
from tests.unit.behaviour.test_proving import MACHINE

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.behaviour.readings import readings
from loomlore.network.batches import bulk_of, settle_cases
from loomlore.network.cases import opened, settled_case

SETTING = {"engine-speed": "2400 rev/min", "lamp-switch": "on"}


def machine_volts(text: str, **more: str) -> float:
    plant = plant_of(HEAD, text)
    moves, findings = read_setting(plant, SETTING | more)
    assert not findings
    settled = operated(plant, rest(plant), moves)
    return abs(settled.solution.volts(plant.network.branch_of["generator.armature"]))


@pytest.mark.parametrize("mark", ["G7"])
def test_the_coils_earth_lead_off_gives_full_field(mark):
    """28 V set; 42 V open, at full speed: the lamp is over-run (42/24 to the 3.4 is six times its light)."""
    whole = machine_volts(MACHINE)
    off = machine_volts(re.sub(rf"^{mark} = .*\n", "", MACHINE, flags=re.MULTILINE))
    assert whole == pytest.approx(28.0, abs=0.6)
    assert off == pytest.approx(1.5 * 28.0, rel=0.02)


def test_a_battery_holds_a_wild_machine_down_by_what_it_takes():
    """With the master on the battery takes what the machine can give, 36 A, at its charging volts."""
    text = re.sub(r"^G7 = .*\n", "", MACHINE, flags=re.MULTILINE)
    assert 28.0 < machine_volts(text, master="on") < 32.0


def test_the_lead_to_both_pile_and_coil_off_gives_no_field_at_all():
    """G2 is the regulator's only live lead: without it the field has nothing, and the residual alone is left."""
    assert machine_volts(re.sub(r"^G2 = .*\n", "", MACHINE, flags=re.MULTILINE)) < 3.0


def test_the_fault_is_found_in_bulk_as_one_by_one():
    plant = plant_of(HEAD, MACHINE)
    moves, _ = read_setting(plant, SETTING)
    base = operated(plant, rest(plant), moves)
    cases = [opened(plant.network, plant.network.branch_of[f"cable:{mark}"]) for mark in ("G7", "L3", "G2")]
    for case, outcome in zip(cases, settle_cases(bulk_of(base), cases), strict=True):
        alone = settled_case(base, case)
        assert outcome.variables == alone.memory.variables
        assert outcome.potentials == pytest.approx(alone.solution.potentials, abs=1e-6)
    lamp = plant.network.branch_of["lamp.filament"]
    wild = settle_cases(bulk_of(base), cases[:1])[0].potentials
    a, b = plant.network.branches[lamp].a, plant.network.branches[lamp].b
    assert wild[a] - wild[b] > 38.0


def test_a_wild_machine_over_runs_the_lamps():
    text = re.sub(r"^G7 = .*\n", "", MACHINE, flags=re.MULTILINE)
    plant = plant_of(HEAD, text)
    moves, _ = read_setting(plant, SETTING)
    found = {r.name: r.state for r in readings(plant, operated(plant, rest(plant), moves))}
    assert found["Lamp"] == "over-run"
