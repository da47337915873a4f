"""The way of a sneak or a hazard, found by its name. Expected ways are read off the records by hand."""

from itertools import pairwise

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.faults.named_paths import named_path
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well
from loomlore.findings import UnknownName


@pytest.fixture(scope="module")
def mail():
    return example("mail-amphibian", "mail")


NAMES = (
    "lower-hail-lamp.by.H6",
    "earth.hold-bolt.lifted",
    "port-fire-cartridge.fires",
    "starboard-flotation-cartridge.fires.with-one",
    "transfer-pump.energised",
    "port-left-magneto.live",
)


@pytest.mark.parametrize("name", NAMES)
def test_each_mark_begins_where_the_one_before_ends(mail, name):
    steps = named_path(mail, name).steps
    assert len(steps) > 2
    assert all(one.leaves == other.enters for one, other in pairwise(steps))
    assert not steps[0].against or steps[0].name in ("battery.cells", "M2")
    nodes = set(mail.network.node_names)
    assert all({step.enters, step.leaves} <= nodes for step in steps)


def test_names_of_all_well_are_each_its_own(mail):
    """One load, one lead: the two lamps that H6 lights have two names."""
    names = [sneak.name for sneak in sneaks_with_all_well(mail)]
    assert len(set(names)) == len(names)
    assert {"upper-hail-lamp.by.H6", "lower-hail-lamp.by.H6"} <= set(names)


def test_the_hold_bolt_leads_over_the_bilge_pump_into_box_a(mail):
    """Planted in the example: see examples/README.md."""
    found = named_path(mail, "earth.hold-bolt.lifted")
    names = [step.name for step in found.steps]
    assert found.fault is not None
    assert found.fault.id == "earth.hold-bolt.lifted"
    ways = ["bilge-pump.armature", "P3", "hold-lamp-3.filament", "fuse-box-a.4"]
    assert [name for name in names if name in ways] == ways
    assert {s.name for s in found.steps if s.against} >= {"hold-lamp-3.filament", "fuse-box-a.4"}


def test_a_cartridge_has_its_way_before_it_is_fired(mail):
    """A fired bridge carries nothing; the way is that of the moment before, through the leads changed over."""
    names = [step.name for step in named_path(mail, "port-fire-cartridge.fires").steps]
    assert "port-fire-cartridge.charge" in names
    assert any("wrong terminal" in name for name in names)


def test_a_live_magneto_has_the_lead_that_should_earth_it():
    """By hand on the tug, whose leads are planted crossed: left primary, M1, the switch, M3, panel bolt."""
    steps = named_path(example("glider-tug"), "left-magneto.live").steps
    assert [s.name for s in steps] == ["M1", "magneto-switch.stop-second", "M3", "earth.panel-bolt"]


def test_a_false_light_has_a_way_too():
    found = named_path(example("glider-tug"), "hook-switch.pole.sticks")
    assert [s.name for s in found.steps][-4:] == ["W5", "hook-switch.pole", "W6", "earth.stern-bolt"]


@pytest.mark.parametrize(
    ("name", "meant"),
    [("lower-hail-lamp.by.H7", "lower-hail-lamp.by.H6"), ("port-left-magneto.lve", "port-left-magneto.live")],
)
def test_a_wrong_name_is_refused_with_the_nearest(mail, name, meant):
    with pytest.raises(UnknownName, match=meant.replace(".", r"\.")):
        named_path(mail, name)


def test_a_fault_that_opens_no_sneak_path_says_so():
    with pytest.raises(UnknownName, match="no sneak path under one fault"):
        named_path(plant_of(BENCH), "L1.open")
