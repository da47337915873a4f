"""Proofs of invented sentences on a small horn circuit, whose truth is plain from its description.

The horn: silent with the throttle open; closed below 0.28 it sounds while the wheels are not locked for the
surface chosen; a push silences it until the throttle passes 0.45. Common practice, no source.
"""

from __future__ import annotations

import pytest
from tests.unit.behaviour.small import HEAD, HORN, plant_of

from loomlore.behaviour.operating import operated, rest
from loomlore.behaviour.proving import prove

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
    assert "engine speed is at least" in verdict.condition


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
