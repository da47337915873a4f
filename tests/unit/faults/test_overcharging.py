"""A regulator whose coil has lost its earth lets the machine go to full field, and the battery boils.

Above 2.4 volts a cell a lead battery gasses: common practice, no source.
"""

from tests.unit.behaviour.small import HEAD, plant_of
from tests.unit.behaviour.test_proving import MACHINE

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.faults.criticality import severity_of
from loomlore.faults.effects import batteries_of, effects_of
from loomlore.faults.injecting import Workshop, struck
from loomlore.faults.modes import faults_of
from loomlore.faults.situations import Situation


def found_in(fault: str, speed: str):
    plant = plant_of(HEAD, MACHINE)
    moves, findings = read_setting(plant, {"engine-speed": speed, "master": "on"})
    assert not findings
    running = Situation(id="running", title="running", settled=operated(plant, rest(plant), moves))
    chosen = [f for f in faults_of(plant) if f.id == fault]
    (effect,) = effects_of(plant, list(struck(Workshop(plant), running, chosen)))
    return plant, [c for c in effect.changes if c.kind == "overcharged"]


def test_the_battery_is_told_as_overcharged_where_the_regulators_earth_is_off():
    plant, (change,) = found_in("G7.open", "2400 rev/min")
    assert batteries_of(plant)[0][1] == 24.0
    volts = float(change.after.split()[0])
    assert 28.8 < volts < 32.0  # 12 cells at 2.4 V, and what the machine's 36 A can lift it to
    assert "gasses" in change.words(plant)
    assert severity_of(plant, [change]) == "II"


def test_with_the_engine_idling_or_another_lead_off_it_is_not():
    assert found_in("G7.open", "600 rev/min")[1] == []
    assert found_in("L2.open", "2400 rev/min")[1] == []
