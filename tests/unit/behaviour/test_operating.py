"""Settings and procedures on small invented circuits. What must happen is common practice, no source."""

from __future__ import annotations

import pytest
from tests.unit.behaviour.small import HEAD, HORN, plant_of

from loomlore.behaviour.operating import holds, operated, play, read_setting, rest
from loomlore.behaviour.readings import event_words, readings, services_of

PUMP = """
[item]
timer = { kind = "timer-relay", rating = "24 V 150 ohm" }
push = { kind = "push" }
pump = { kind = "motor", rating = "24 V 60 W" }
[service.pump]
title = "De-icing pump"
feed = "box.2"
[service.pump.cables]
P1 = { from = "box.2", to = "push.1", size = "1.0 mm2", length = "1 m" }
P2 = { from = "push.2", to = "timer.1", size = "1.0 mm2", length = "1 m" }
P3 = { from = "timer.2", to = "earth", size = "1.0 mm2", length = "1 m" }
P4 = { from = "box.2", to = "timer.A", size = "1.0 mm2", length = "1 m" }
P5 = { from = "timer.B", to = "pump.1", size = "1.0 mm2", length = "1 m" }
P6 = { from = "pump.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""

SHORT = """
[item]
lamp-switch = { kind = "switch" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
bad-switch = { kind = "switch" }
[service.lamps]
title = "Lamps"
feed = "box.2"
[service.lamps.cables]
L1 = { from = "box.2", to = "lamp-switch.1", size = "1.0 mm2", length = "1 m" }
L2 = { from = "lamp-switch.2", to = "lamp.1", size = "1.0 mm2", length = "1 m" }
L3 = { from = "lamp.2", to = "earth", size = "1.0 mm2", length = "1 m" }
L4 = { from = "box.2", to = "bad-switch.1", size = "1.0 mm2", length = "1 m" }
L5 = { from = "bad-switch.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


def state(plant, settled, name):
    return {r.name: r.state for r in readings(plant, settled, fuses=True)}[name]


def moved(plant, settled, **setting):
    moves, findings = read_setting(plant, {name.replace("_", "-"): value for name, value in setting.items()})
    assert not findings
    return operated(plant, settled, moves)


def procedure(plant, name):
    return play(plant, plant.installation.dossier.procedures[name])


def test_a_lamp_lights_and_its_power_balances():
    plant = plant_of(HEAD, SHORT)
    settled = moved(plant, rest(plant), master="on", lamp_switch="on")
    assert state(plant, settled, "Lamp") == "lit"
    delivered, residual = settled.solution.balance
    assert 5.5 < delivered < 7.5
    assert abs(residual) < 1e-9 * delivered


def test_a_short_blows_its_fuse_alone_and_says_so():
    plant = plant_of(HEAD, SHORT)
    settled = moved(plant, rest(plant), master="on", lamp_switch="on", bad_switch="on")
    assert [e.what for e in settled.events] == ["blown"]
    assert "Box way 2 blows" in event_words(plant, settled.events[0])
    assert state(plant, settled, "Lamp") == "out"


def test_a_blown_fuse_stays_blown_and_is_put_back_by_hand():
    plant = plant_of(HEAD, SHORT)
    settled = moved(plant, rest(plant), master="on", lamp_switch="on", bad_switch="on")
    settled = moved(plant, settled, bad_switch="off")
    assert state(plant, settled, "Lamp") == "out"
    moves, _ = read_setting(plant, {"box.2": "whole"})
    assert state(plant, operated(plant, settled, moves), "Lamp") == "lit"


def test_a_push_springs_back_and_a_delay_runs_on():
    text = """
    [procedure.one-push]
    steps = [
      { do = { master = "on", push = "pressed" }, see = "pump is running" },
      { wait = "7 s" },
      { see = "pump is running" },
      { wait = "2 s" },
      { see = "pump is stopped" },
    ]
    [procedure.second-push]
    steps = [
      { do = { master = "on", push = "pressed" }, see = "pump is running" },
      { wait = "5 s" },
      { do = { push = "pressed" }, see = "pump is running" },
      { wait = "4 s" },
      { see = "pump is stopped" },
    ]
    """
    plant = plant_of(HEAD, PUMP, text)
    for name in ("one-push", "second-push"):
        played = procedure(plant, name)
        assert [s.seen for s in played.steps if s.step.see is not None] == [True] * 3, name


def test_what_is_held_stays_until_it_is_moved_again():
    text = """
    [procedure.held]
    steps = [
      { do = { master = "on", push = "pressed" }, hold = ["push"], see = "push is pressed" },
      { see = "push is pressed" },
      { do = { push = "released" }, see = "push is released" },
    ]
    """
    plant = plant_of(HEAD, PUMP, text)
    assert all(s.seen for s in procedure(plant, "held").steps)


def test_a_wrong_position_names_the_right_ones():
    plant = plant_of(HEAD, HORN)
    _, findings = read_setting(plant, {"selector": "sea"})
    assert "land" in findings[0].hint
    assert "water" in findings[0].hint
    _, findings = read_setting(plant, {"throttle": 1.5})
    assert "0 to 1" in findings[0].hint


@pytest.mark.parametrize(
    ("name", "value", "message", "hint"),
    [
        # what closes the horn's circuit, read off the wiring in small.py by hand; the throttle's switch has a push
        (
            "horn",
            "on",
            "'horn' is not moved by hand.",
            "What changes it: selector, wheels, throttle, throttle-switch.",
        ),
        (
            "horn",
            "sounding",
            "'horn' is not moved by hand.",
            "What changes it: selector, wheels, throttle, throttle-switch.",
        ),
        ("throttel", "1", "Nothing is called 'throttel'.", "Did you mean 'throttle'?"),
        ("mast", "on", "Nothing is called 'mast'.", "Did you mean 'master'?"),
        # a fuse is put in and taken out, so its own words are asked for
        ("box.1", "out", "'box.1' is never 'out'.", "It is one of: whole, blown."),
    ],
)
def test_what_no_hand_moves_says_what_does(name, value, message, hint):
    plant = plant_of(HEAD + HORN)
    moves, findings = read_setting(plant, {name: value})
    assert [(f.message, f.hint) for f in findings] == [(message, hint)]
    assert not moves.levers


def test_a_setting_holds_no_memory_of_what_was_not_done():
    plant = plant_of(HEAD, HORN)
    silenced = moved(
        plant, rest(plant), master="on", wheels="moving", throttle=0.1, **{"throttle-switch.push": "pressed"}
    )
    assert state(plant, silenced, "Horn") == "silent"
    fresh = moved(plant, rest(plant), master="on", wheels="moving", throttle=0.1)
    assert state(plant, fresh, "Horn") == "sounding"


def test_a_name_that_is_not_there_is_unknown_and_not_false():
    from loomlore.sentences import read_sentence

    plant = plant_of(HEAD, HORN)
    assert holds(plant, rest(plant), read_sentence("bell is sounding")) is None
    assert holds(plant, rest(plant), read_sentence("bell is sounding or horn is silent")) is True


def test_items_know_their_services():
    plant = plant_of(HEAD, HORN)
    assert services_of(plant.installation)["horn"] == ("horn",)
    assert services_of(plant.installation)["box"] == ("supply", "horn")


@pytest.mark.parametrize("volts", ["12 V", "24 V"])
def test_one_kind_serves_several_supplies(volts):
    """Relay volts in the catalogue are shares of the supply."""
    plant = plant_of(HEAD.replace("24 V", volts), PUMP.replace("24 V", volts))
    settled = moved(plant, rest(plant), master="on", push="pressed")
    assert state(plant, settled, "Pump") == "running"
