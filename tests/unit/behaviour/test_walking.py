"""What a walk through the wiring comes by, against the wiring of ``small.HORN`` read off by hand."""

from __future__ import annotations

import pytest
from tests.unit.behaviour.small import HEAD, HORN, plant_of

from loomlore.behaviour.influence import WITHIN_SUPPLY, circuits_that_matter, influence_of, levers_that_matter
from loomlore.behaviour.tables.reaching import cone_of
from loomlore.sentences import read_sentence

LAMPS = """

[item.lamp-switch]
kind = "switch"
[item.lamp]
kind = "lamp"
rating = "24 V 12 W"

[service.lamp]
title = "Lamp"
feed = "box.2"
[service.lamp.cables]
L1 = { from = "box.2", to = "lamp-switch.1", size = "1.0 mm2", length = "3 m" }
L2 = { from = "lamp-switch.2", to = "lamp.1", size = "1.0 mm2", length = "3 m" }
L3 = { from = "lamp.2", to = "earth", size = "1.0 mm2", length = "0.5 m" }
"""


@pytest.fixture(scope="module")
def plant():
    return plant_of(HEAD, HORN, LAMPS)


def names(plant, levers):
    return {plant.network.levers[n].name for n in levers}


def branch(plant, name):
    (number,) = (
        n for n, b in enumerate(plant.network.branches) if b.name.startswith(name) and b.sort == "element"
    )
    return number


HORN_LEVERS = {"wheels", "throttle", "selector"}
"""Those in the cams of the two switches between way 1 and the horn; the silencing push is the switch's own."""


def test_a_load_hangs_on_the_contacts_of_its_own_circuit_and_on_no_others(plant):
    found = names(plant, levers_that_matter(plant, [branch(plant, "horn.")]))
    assert found >= HORN_LEVERS
    assert not {name.partition(".")[0] for name in found} & {"lamp-switch", "master"}
    assert names(plant, levers_that_matter(plant, [branch(plant, "lamp.")])) == {"lamp-switch.lever"}


def test_both_boundaries_give_the_same_levers_where_neither_lies_between(plant):
    """The way's fuse is where the common supply ends, and where a service's feed begins."""
    for name in ("horn.", "lamp."):
        number = branch(plant, name)
        assert set(cone_of(plant, [number]).levers) == levers_that_matter(plant, [number])


def test_a_cone_has_the_cuts_of_its_conditions(plant):
    throttle = plant.network.lever_of["throttle"]
    assert cone_of(plant, [branch(plant, "horn.")]).cuts[throttle] == (0.28, 0.45)  # as HORN has them


def test_circuits_part_at_the_bar_and_meet_nowhere_else(plant):
    influence, of = influence_of(plant), plant.network.branch_of
    horn = {influence.circuit_of[of[f"cable:H{n}"]] for n in (1, 2, 3)}
    lamp = {influence.circuit_of[of[f"cable:L{n}"]] for n in (1, 2)}
    assert not horn & lamp
    assert influence.circuit_of[of["cable:S3"]] == WITHIN_SUPPLY


def test_what_a_sentence_looks_at_says_which_circuits_matter(plant):
    influence, of = influence_of(plant), plant.network.branch_of

    def matter(text):
        return circuits_that_matter(plant, [plant.lexicon.condition(read_sentence(text))])

    assert not matter("master is on")  # a lever, and no circuit
    assert matter("lamp is lit") == {
        influence.circuit_of[of["cable:L2"]],
        influence.circuit_of[of["cable:L1"]],
    }
