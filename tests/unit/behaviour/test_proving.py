"""Proofs of invented sentences on a small horn circuit, whose truth is plain from its description.

The horn: silent with the throttle open; closed below 0.28 it sounds while the wheels are not locked for the
surface chosen; a push silences it until the throttle passes 0.45. Common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from tests.unit.behaviour.small import HEAD, HORN, plant_of

from loomlore.behaviour.operating import holds, operated, read_setting, rest
from loomlore.behaviour.proving import prove
from loomlore.behaviour.readings import readings
from loomlore.behaviour.stating import sagging

STATEMENTS = """
[[statement]]
id = "{id}"
source = "notes 1"
words = "invented for the test"
{body}
"""


def verdict_of(body: str):
    plant = plant_of(HEAD, HORN, STATEMENTS.format(id="said", body=body))
    statement = plant.installation.dossier.statements["said"]
    return plant, prove(plant, statement)


def test_a_true_sentence_with_everything_stated_is_proved():
    _, verdict = verdict_of(
        'when = "throttle < 0.28 and wheels is moving and selector is land and not throttle-switch.silenced"\n'
        'then = "horn is sounding"'
    )
    assert verdict.verdict == "proved"
    assert verdict.given == "master is on"
    assert verdict.reached >= 1


def test_the_unstated_silencer_is_found_and_named():
    _, verdict = verdict_of(
        'when = "throttle < 0.28 and wheels is moving and selector is land"\nthen = "horn is sounding"'
    )
    assert verdict.verdict == "proved-if"
    assert verdict.condition_sentence == "not throttle-switch.silenced"


def test_the_unstated_selector_is_found_among_two():
    _, verdict = verdict_of(
        'when = "throttle < 0.28 and wheels is locked-up and not throttle-switch.silenced"\nthen = "horn is sounding"'
    )
    assert verdict.verdict == "proved-if"
    assert verdict.condition_sentence == "selector is land"
    assert "LAND" in verdict.condition


def test_a_false_sentence_is_contradicted_and_its_operations_break_it():
    plant, verdict = verdict_of(
        'when = "throttle < 0.28 and wheels is locked-up and selector is water"\nthen = "horn is sounding"'
    )
    assert verdict.verdict == "contradicted"
    settled = rest(plant)
    from loomlore.behaviour.operating import Moves, holds

    for operation in verdict.path:
        settled = operated(plant, settled, Moves({operation.lever: operation.value}))
    statement = plant.installation.dossier.statements["said"]
    assert holds(plant, settled, statement.when) is True
    assert holds(plant, settled, statement.then) is False
    assert any("silent" in words for words in verdict.seen)


def test_the_contradiction_is_the_shortest():
    # master on, throttle closed, wheels up, selector to water: four moves, and no fewer reach it
    _, verdict = verdict_of(
        'when = "throttle < 0.28 and wheels is locked-up and selector is water"\nthen = "horn is sounding"'
    )
    assert len(verdict.path) == 4


def test_without_given_the_master_switch_is_found():
    _, verdict = verdict_of(
        'when = "throttle < 0.28 and wheels is moving and not throttle-switch.silenced"\n'
        'then = "horn is sounding"\ngiven = ""'
    )
    assert verdict.verdict == "proved-if"
    assert verdict.condition_sentence == "master.lever is on"


def test_a_sentence_that_nothing_reaches_says_which_part():
    _, verdict = verdict_of('when = "throttle < 0.1 and throttle > 0.2"\nthen = "horn is sounding"')
    assert verdict.verdict == "never-reached"
    assert verdict.because


def test_a_misspelt_name_is_not_computable_and_says_the_nearest():
    _, verdict = verdict_of('when = "throtle < 0.1"\nthen = "horn is sounding"')
    assert verdict.verdict == "not-computable"
    assert "throttle" in verdict.because


SEQUENCE = """steps = [
  {{ do = {{ throttle = 0.1, wheels = "moving" }}, see = "horn is sounding" }},
  {{ do = {{ "throttle-switch.push" = "pressed" }}, see = "horn is silent" }},
  {{ do = {{ throttle = {opened} }} }},
  {{ do = {{ throttle = 0.1 }} }},
]
given = "master is on and selector is land and throttle > 0.45"
then = "horn is {then}"
"""


@pytest.mark.parametrize(("opened", "then"), [(0.4, "silent"), (0.6, "sounding")])
def test_a_sequence_is_played_from_every_state_in_which_it_applies(opened, then):
    """Once silenced it stays silent until the throttle passes 0.45."""
    _, verdict = verdict_of(SEQUENCE.format(opened=opened, then=then))
    assert verdict.verdict == "proved", verdict


@pytest.mark.parametrize(("opened", "then"), [(0.4, "sounding"), (0.6, "silent")])
def test_the_opposite_of_a_true_sequence_is_contradicted(opened, then):
    _, verdict = verdict_of(SEQUENCE.format(opened=opened, then=then))
    assert verdict.verdict == "contradicted", verdict


MACHINE = """
[condition]
engine-speed = { range = ["0 rev/min", "2400 rev/min"] }
[item]
generator = { kind = "generator", rating = "28 V 36 A", regulated-by = "regulator", binds = { speed = "engine-speed" } }
regulator = { kind = "regulator", rating = "24 V" }
cut-out = { kind = "cut-out", rating = "24 V 36 A" }
lamp-switch = { kind = "switch" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
[service.charging]
title = "Charging"
[service.charging.cables]
G1 = { from = "generator.D", to = "cut-out.D", size = "6 mm2", length = "1 m" }
G2 = { from = "generator.D", to = "regulator.D", size = "1.0 mm2", length = "1 m" }
G3 = { from = "regulator.F", to = "generator.F", size = "1.0 mm2", length = "1 m" }
G4 = { from = "generator.E", to = "earth", size = "6 mm2", length = "1 m" }
G5 = { from = "cut-out.A", to = "box.bus", size = "6 mm2", length = "1 m" }
G6 = { from = "cut-out.E", to = "earth", size = "1.0 mm2", length = "1 m" }
G7 = { from = "regulator.E", to = "earth", size = "1.0 mm2", length = "1 m" }
[service.lamps]
title = "Lamps"
feed = "box.1"
[service.lamps.cables]
L1 = { from = "box.1", to = "lamp-switch.1", size = "1.0 mm2", length = "1 m" }
L2 = { from = "lamp-switch.2", to = "lamp.1", size = "1.0 mm2", length = "1 m" }
L3 = { from = "lamp.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


@pytest.mark.parametrize(
    ("speed", "verdict"), [(400, "contradicted"), (1000, "contradicted"), (1700, "proved")]
)
def test_a_machine_is_tried_at_both_ends_of_a_stretch_of_speed(speed, verdict):
    """A shunt machine feeds nothing below its cutting-in speed (1,150 here): common practice, no source."""
    body = (
        f'when = "lamp-switch is on and master is off and engine-speed > {speed} rev/min"\n'
        'then = "lamp is lit"\ngiven = ""'
    )
    plant = plant_of(HEAD, MACHINE, STATEMENTS.format(id="said", body=body))
    assert prove(plant, plant.installation.dossier.statements["said"]).verdict == verdict


def test_alternatives_are_all_given():
    body = 'when = "lamp-switch is on"\nthen = "lamp is lit"\ngiven = ""'
    plant = plant_of(HEAD, MACHINE, STATEMENTS.format(id="said", body=body))
    verdict = prove(plant, plant.installation.dossier.statements["said"])
    assert verdict.verdict == "proved-if"
    assert "master is on" in verdict.condition
    assert "engine speed is from" in verdict.condition


def test_a_bound_of_speed_is_sought_and_is_where_the_cut_out_closes():
    """Not "2400, as tried": the volts pass the cut-out's 26.8 as the machine builds up to 28 at 1,150 rev/min.

    By hand, from nothing at two thirds of that speed: 1150 (2/3 + 26.8/28/3) = 1134, a little more with its field.
    """
    body = 'when = "lamp-switch is on and master is off"\nthen = "lamp is lit"\ngiven = ""'
    plant = plant_of(HEAD, MACHINE, STATEMENTS.format(id="said", body=body))
    verdict = prove(plant, plant.installation.dossier.statements["said"])
    assert verdict.verdict == "proved-if"
    found = re.search(
        r"engine speed is from (\d+) rev/min on \(tried in steps of 10 rev/min\)", verdict.condition
    )
    assert found, verdict.condition
    bound = int(found.group(1))
    assert verdict.condition_sentence == f"engine-speed >= {bound} rev/min"
    for speed, lit in ((bound, True), (bound - 10, False)):
        moves, _ = read_setting(plant, {"lamp-switch": "on", "engine-speed": f"{speed} rev/min"})
        settled = operated(plant, rest(plant), moves)
        assert holds(plant, settled, plant.installation.dossier.statements["said"].then) is lit
    assert 1134 <= bound <= 1150


BUZZER = """
[item]
buzzer = { kind = "break-relay", rating = "24 V 150 ohm" }
push = { kind = "push" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
[service.bell]
title = "Bell"
feed = "box.1"
[service.bell.cables]
B1 = { from = "box.1", to = "push.1", size = "1.0 mm2", length = "1 m" }
B2 = { from = "push.2", to = "buzzer.A", size = "1.0 mm2", length = "1 m" }
B3 = { from = "buzzer.B", to = "buzzer.1", size = "1.0 mm2", length = "1 m" }
B4 = { from = "buzzer.2", to = "earth", size = "1.0 mm2", length = "1 m" }
B5 = { from = "buzzer.B", to = "lamp.1", size = "1.0 mm2", length = "1 m" }
B6 = { from = "lamp.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


@pytest.mark.parametrize(
    "then", ["lamp is lit", "lamp is not lit", "buzzer is pulled-in", "buzzer is released"]
)
def test_what_a_chattering_relay_works_is_neither_so_nor_not_so(then):
    """A relay in series with its own break contact makes and breaks without end: an electric bell."""
    body = f'when = "push is pressed"\nthen = "{then}"'
    plant = plant_of(HEAD, BUZZER, STATEMENTS.format(id="said", body=body))
    verdict = prove(plant, plant.installation.dossier.statements["said"])
    assert verdict.verdict == "not-computable", verdict
    assert "Buzzer" in verdict.because
    assert "chatters" in verdict.because
    assert verdict.operations[-1] == "press the push"


def test_a_sentence_that_no_chatter_touches_is_judged_as_ever():
    for when, then, word in (
        ("push is released", "lamp is out", "proved"),
        ("push is pressed", "push is pressed", "proved"),
        ("push is released", "lamp is lit", "contradicted"),
    ):
        plant = plant_of(HEAD, BUZZER, STATEMENTS.format(id="said", body=f'when = "{when}"\nthen = "{then}"'))
        assert prove(plant, plant.installation.dossier.statements["said"]).verdict == word


def test_readings_of_a_chattering_relay_say_so():
    plant = plant_of(HEAD, BUZZER)
    moves, _ = read_setting(plant, {"master": "on", "push": "pressed"})
    found = {r.name: r.state for r in readings(plant, operated(plant, rest(plant), moves))}
    assert found["Lamp"] == found["Buzzer"] == "chattering"


def test_a_bound_is_claimed_only_where_it_was_tried():
    """Another sentence's threshold between two tried speeds is no bound of this one's condition."""
    from loomlore.behaviour.explaining import condition_words
    from loomlore.behaviour.presumptions import Requirement

    other = STATEMENTS.format(id="other", body='when = "engine-speed > 1900 rev/min"\nthen = "lamp is out"')
    third = STATEMENTS.format(id="third", body='when = "engine-speed > 2000 rev/min"\nthen = "lamp is out"')
    plant = plant_of(HEAD, MACHINE, other, third)
    lever = plant.network.lever_of["engine-speed"]
    features, found = (("lever", lever),), Requirement(((0, frozenset({2400.0})),), 1)
    words = condition_words(plant, features, found, lambda _: (0.0, 1152.4, 2400.0))
    assert "at least 2400 rev/min" in words
    words = condition_words(plant, features, found, lambda _: (0.0, 1999.0, 2400.0))
    assert "above 2000 rev/min" in words


STARTER = """
[item]
starter-relay = { kind = "starter-relay", rating = "24 V 8 ohm" }
starter-push = { kind = "push" }
starter = { kind = "motor", rating = "24 V 400 A" }
lamp-switch = { kind = "switch" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
[service.starting]
title = "Starting"
feed = "box.3"
[service.starting.cables]
M1 = { from = "box.3", to = "starter-push.1", size = "1.0 mm2", length = "1 m" }
M2 = { from = "starter-push.2", to = "starter-relay.1", size = "1.0 mm2", length = "1 m" }
M3 = { from = "starter-relay.2", to = "earth", size = "1.0 mm2", length = "1 m" }
M4 = { from = "box.bus", to = "starter-relay.A", size = "50 mm2", length = "1 m" }
M5 = { from = "starter-relay.B", to = "starter.1", size = "50 mm2", length = "1 m" }
M6 = { from = "starter.2", to = "earth", size = "50 mm2", length = "1 m" }
[service.lamps]
title = "Lamps"
feed = "box.1"
[service.lamps.cables]
L1 = { from = "box.1", to = "lamp-switch.1", size = "1.0 mm2", length = "1 m" }
L2 = { from = "lamp-switch.2", to = "lamp.1", size = "1.0 mm2", length = "1 m" }
L3 = { from = "lamp.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


def test_a_starter_reaches_every_load_through_the_sag_of_the_supply():
    """400 A through 24 milliohm take 9.6 V of 25: no wire joins the lamp to the starter's push, the battery does."""
    body = 'when = "lamp-switch is on"\nthen = "volts across lamp > 22 V"'
    plant = plant_of(HEAD, STARTER, STATEMENTS.format(id="said", body=body))
    assert sagging(plant) == {plant.network.lever_of["starter-push.push"]}
    verdict = prove(plant, plant.installation.dossier.statements["said"])
    assert verdict.verdict == "proved-if"
    assert verdict.condition_sentence == "starter-push.push is released"
