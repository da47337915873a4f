"""The 'H pattern': hazard lamps, brake switch and radio of a motor car, one sneak state in eight.

Truth table constructed from the case as it is told in the literature of sneak circuit analysis: ignition feeds the
radio; a brake switch leads from the ignition's line to the stop lamps; the hazard switch feeds the stop lamps from
the battery. Brake and hazard together feed the radio backwards through the brake switch.
"""

import pytest
from tests.unit.faults.records import plant_of

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well
from published.printed import printed_rows

CAR = """
[dossier]
format = 1
title = "The H pattern (invented car)"
supply = "12 V"
[source.notes]
title = "Notes of the tests"
nature = "handbook"
[item]
battery = { kind = "battery", rating = "12 V 40 Ah" }
ignition = { kind = "switch" }
brake = { kind = "switch" }
hazard = { kind = "switch" }
radio = { kind = "heater", rating = "12 V 24 W" }
stop-lamps = { kind = "lamp", rating = "12 V 42 W" }
[service.supply]
title = "Supply"
[service.supply.cables]
S1 = { from = "battery.-", to = "earth", size = "10 mm2", length = "0.5 m" }
S2 = { from = "battery.+", to = "ignition.1", size = "4 mm2", length = "1 m" }
[service.car]
title = "Stop lamps and radio"
[service.car.cables]
C1 = { from = "ignition.2", to = "radio.1", size = "1.5 mm2", length = "1 m" }
C2 = { from = "radio.2", to = "earth", size = "1.5 mm2", length = "1 m" }
C3 = { from = "ignition.2", to = "brake.1", size = "1.5 mm2", length = "1 m" }
C4 = { from = "brake.2", to = "stop-lamps.1", size = "1.5 mm2", length = "4 m" }
C5 = { from = "stop-lamps.2", to = "earth", size = "1.5 mm2", length = "1 m" }
C6 = { from = "ignition.1", to = "hazard.1", size = "1.5 mm2", length = "1 m" }
C7 = { from = "hazard.2", to = "stop-lamps.1", size = "1.5 mm2", length = "4 m" }
"""

ROWS = printed_rows("sneak_h_pattern_truth_table")


@pytest.fixture(scope="module")
def car():
    return plant_of(CAR)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['ignition']}{row['brake_pedal']}{row['hazard']}")
def test_what_the_wiring_really_does(car, row):
    words = {"0": "off", "1": "on"}
    setting = {
        name: words[row[column]]
        for name, column in (("ignition", "ignition"), ("brake", "brake_pedal"), ("hazard", "hazard"))
    }
    moves, slips = read_setting(car, setting)
    assert not slips
    settled = operated(car, rest(car), moves)
    radio, lamps = (
        settled.solution.state(car.network.branch_of[n]) > 0 for n in ("radio.winding", "stop-lamps.filament")
    )
    assert (radio, lamps) == (row["radio_on_actual"] == "1", row["stop_lamps_actual"] == "1")


def test_one_sneak_state_in_eight_and_it_is_the_one(car):
    (sneak,) = [s for s in sneaks_with_all_well(car) if s.kind == "path"]
    (row,) = [row for row in ROWS if row["sneak"] == "1"]
    assert (row["ignition"], row["brake_pedal"], row["hazard"]) == ("0", "1", "1")
    assert sneak.loads == ("radio.winding",)
    assert "brake on" in sneak.situation
    assert "hazard on" in sneak.situation
    assert "ignition" not in sneak.situation
    assert "brake.pole" in sneak.path
    assert (
        sneak.path.index("hazard.pole") < sneak.path.index("brake.pole") < sneak.path.index("radio.winding")
    )


def test_a_rectifier_in_the_brake_lead_cures_it():
    """The cure of the literature: current cannot come back through the brake switch."""
    cured = CAR.replace(
        'C4 = { from = "brake.2", to = "stop-lamps.1", size = "1.5 mm2", length = "4 m" }',
        'C4 = { from = "brake.2", to = "valve.+", size = "1.5 mm2", length = "4 m" }\n'
        'C8 = { from = "valve.-", to = "stop-lamps.1", size = "1.5 mm2", length = "1 m" }',
    ).replace("[service.supply]\n", '[item.valve]\nkind = "rectifier"\nrating = "5 A"\n[service.supply]\n', 1)
    assert not [s for s in sneaks_with_all_well(plant_of(cured)) if s.kind == "path"]
