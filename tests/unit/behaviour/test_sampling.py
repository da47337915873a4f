"""A statement tried in a sample: what it tries, and that it tells two installations apart. Worked by hand."""

from __future__ import annotations

import pytest
from tests.unit.behaviour.small import HEAD, HORN, plant_of

from loomlore.behaviour.sampling import fares_alike, tried
from loomlore.behaviour.stating import presumed, ready

SAID = """
[statement.sounds]
source = "notes"
words = "At LAND with a throttle closed and a wheel not down the horn sounds."
when = "selector is land and throttle < 0.28 and wheels is moving"
then = "horn is sounding"
[statement.silent]
source = "notes"
words = "At LAND with the wheels down it is silent."
when = "selector is land and wheels is locked-down"
then = "horn is silent"
"""


def case(plant, name):
    statement = plant.installation.dossier.statements[name]
    return ready(plant, statement, presumed(plant, statement))


@pytest.fixture(scope="module")
def plant():
    return plant_of(HEAD, HORN, SAID)


def test_it_is_tried_only_where_it_applies_and_by_operations_from_rest(plant):
    found = tried(case(plant, "silent"))
    assert found
    for path, held in found:
        done = dict(path)
        assert done["master.lever"] == 1  # presumed, and moved before the rest
        assert next(iter(done)) == "master.lever"
        assert done.get("wheels", 0) == 0  # at rest the wheels are locked down
        assert held


def test_all_three_stretches_of_the_throttle_are_in_the_sample(plant):
    values = {dict(path).get("throttle", 0.5) for path, _ in tried(case(plant, "silent"))}
    assert any(v < 0.28 for v in values)
    assert any(0.28 < v < 0.45 for v in values)
    assert any(v > 0.45 for v in values)


def test_a_statement_fares_alike_beside_itself(plant):
    for name in ("sounds", "silent"):
        assert fares_alike(tried(case(plant, name)), case(plant_of(HEAD, HORN, SAID), name))


@pytest.mark.parametrize(
    ("old", "new", "name"),
    [
        # a horn whose return is off is silent; one that is fed past the wheels' switch sounds with them down
        ('H4 = { from = "horn.2", to = "earth"', 'H4 = { from = "throttle-switch.1", to = "earth"', "sounds"),
        ('H3 = { from = "wheel-switch.2"', 'H3 = { from = "wheel-switch.1"', "silent"),
    ],
)
def test_what_another_wiring_breaks_is_found(plant, old, new, name):
    other = plant_of(HEAD, HORN.replace(old, new), SAID)
    assert not fares_alike(tried(case(plant, name)), case(other, name))
