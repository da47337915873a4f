"""Sneak paths and hazards: those planted in the examples (examples/README.md), and small circuits worked by hand."""

from itertools import pairwise

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.faults.effects import fault_study
from loomlore.faults.hazards import (
    cartridge_hazards,
    firing_pairs,
    hazards_of,
    magneto_hazards,
    motor_hazards,
)
from loomlore.faults.modes import faults_of
from loomlore.faults.situations import charges_of, situations_of
from loomlore.faults.sneaks.under_faults import sneaks_under_faults
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well
from loomlore.faults.tracing import path_through
from loomlore.network.laws import Battery

# One bottle, its push and flame switch on neighbouring ways of a plug, and a test lamp: all invented.
BOTTLE = """
[dossier]
format = 1
title = "A bottle on a bench (invented)"
supply = "24 V"
[source.notes]
title = "Notes of the tests"
nature = "handbook"
[item]
battery = { kind = "battery", rating = "24 V 40 Ah" }
fuse = { kind = "fuse", rating = "10 A" }
push = { kind = "guarded-push" }
second-push = { kind = "guarded-push" }
arming = { kind = "arming-plug" }
bottle = { kind = "cartridge" }
[service.supply]
title = "Supply"
[service.supply.cables]
S1 = { from = "battery.-", to = "earth", size = "10 mm2", length = "0.5 m" }
S2 = { from = "battery.+", to = "fuse.1", size = "4 mm2", length = "1 m" }
[service.bottle]
title = "Bottle"
feed = "fuse"
given = "arming is in"
[service.bottle.cables]
B1 = { from = "fuse.2", to = "arming.1", size = "1 mm2", length = "1 m" }
B2 = { from = "arming.2", to = "push.1", size = "1 mm2", length = "1 m" }
B3 = { from = "push.2", to = "second-push.1", size = "1 mm2", length = "1 m" }
B4 = { from = "second-push.2", to = "bottle.1", size = "1 mm2", length = "1 m" }
B5 = { from = "bottle.2", to = "earth", size = "1 mm2", length = "1 m" }
"""


@pytest.fixture(scope="module")
def mail():
    return example("mail-amphibian", "mail")


# -- sneak paths -----------------------------------------------------------------------------------------------


def test_the_bridge_of_the_hail_lamps_is_found(mail):
    """Planted: H6 joins the two return screws; either lamp continuous lights the other at keyed."""
    paths = [s for s in sneaks_with_all_well(mail) if s.kind == "path"]
    assert {s.loads for s in paths} == {("upper-hail-lamp.filament",), ("lower-hail-lamp.filament",)}
    for sneak in paths:
        assert sneak.reversed_ == ("H6",)
        assert "H6" in sneak.path
        assert "by way of H6" in sneak.words
        assert "hail box, key" in sneak.words
        assert "KEYED" in sneak.situation
        assert "CONTINUOUS" in sneak.situation


def test_a_path_is_unbroken_and_follows_the_current(mail):
    (sneak, *_) = [s for s in sneaks_with_all_well(mail) if s.kind == "path"]
    network = mail.network
    branches = {b.name: b for b in network.branches}
    steps = [branches[name] for name in sneak.path]
    assert isinstance(steps[0].law, Battery)
    assert all({a.a, a.b} & {b.a, b.b} for a, b in pairwise(steps))
    assert 0 in (steps[-1].a, steps[-1].b)


def test_a_tug_whose_magneto_leads_are_crossed_has_a_wrong_label():
    """Planted: M1 and M2 crossed at the magneto switch."""
    labels = [s for s in sneaks_with_all_well(example("glider-tug")) if s.kind == "label"]
    assert {s.loads for s in labels} == {("left-magneto.primary",), ("right-magneto.primary",)}


def test_nothing_sneaks_where_two_switches_work_two_loads_together(mail):
    """The bilge pump and its lamp share one lead from float and push; that is a tie and no sneak path."""
    assert not any("P5" in s.reversed_ for s in sneaks_with_all_well(mail))
    assert sneaks_with_all_well(plant_of(BENCH)) == ()


def test_the_lifted_hold_bolt_feeds_the_hold_lamps_backwards(mail):
    """Planted: one bolt for hold lamps and bilge pump. The master is off, the pump's current goes on into box A."""
    lifted = [f for f in faults_of(mail) if f.id == "earth.hold-bolt.lifted"]
    stands = [s for s in situations_of(mail) if "earth.hold-bolt.lifted" in s.about]
    found = sneaks_under_faults(fault_study(mail, faults=lifted, situations=stands, keep=True))
    (sneak,) = [s for s in found if s.kind == "path"]
    assert {"hold-lamp-1.filament", "hold-lamp-2.filament", "hold-lamp-3.filament"} <= set(sneak.loads)
    assert {"fuse-box-a.4", "hold-lamp-1.filament"} <= set(sneak.reversed_)
    assert any(name.startswith("forward-door-switch") for name in sneak.reversed_)
    assert "bilge-pump.armature" in sneak.path
    assert sneak.path.index("bilge-pump.armature") < sneak.path.index("fuse-box-a.4")
    assert "master" not in sneak.words.partition(": current goes")[0]


def test_current_comes_back_through_the_tail_lamp_when_the_stern_bolt_is_off():
    """By hand: signal lamp 12 W and tail lamp 6 W in series through the lifted bolt, on to the tip lamps' earth."""
    tug = example("glider-tug")
    lifted = [f for f in faults_of(tug) if f.id == "earth.stern-bolt.lifted"]
    found = sneaks_under_faults(fault_study(tug, faults=lifted, keep=True))
    assert any("tail-lamp.filament" in s.loads and "tail-lamp.filament" in s.reversed_ for s in found)


def test_a_lamp_that_tells_the_truth_is_no_false_light():
    """The bilge lamp with its float stuck is right, for the pump runs; the hook lamp with its switch stuck lies."""
    tug = example("glider-tug")
    faults = [f for f in faults_of(tug) if f.id in ("hook-switch.pole.sticks", "generator.armature.open")]
    false = [
        s for s in sneaks_under_faults(fault_study(tug, faults=faults, keep=True)) if s.kind == "indication"
    ]
    assert {(s.fault.id, s.loads) for s in false} == {("hook-switch.pole.sticks", ("hook-lamp.filament",))}


def test_path_goes_from_the_source_through_the_load_to_earth():
    plant = plant_of(BENCH)
    moves, _ = read_setting(plant, {"master": "on", "lamp-switch": "on"})
    settled = operated(plant, rest(plant), moves)
    path = path_through(settled, plant.network.branch_of["lamp.filament"])
    wanted = (
        "battery.cells S2 master.pole S3 box.1 L1 lamp-switch.pole L2 plug.1 L3 lamp.filament L4 earth.bolt"
    )
    assert " ".join(path.names) == wanted
    assert path.names[path.at] == "lamp.filament"


# -- hazards ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bottle():
    return cartridge_hazards(plant_of(BOTTLE))[0]


def test_two_pushes_in_series_need_two_things(bottle):
    """By hand: plug in, one push stuck and the other pressed fires; neither alone."""
    assert bottle.commands == (("press the push", "press the second push"),)
    assert bottle.alone == ()
    assert {(t.fault.id, t.does) for t in bottle.with_one} == {
        ("push.pole.sticks", ("press the second push",)),
        ("second-push.pole.sticks", ("press the push",)),
    }
    assert bottle.plug_stops


def test_the_pair_that_fires_it_is_both_pushes_stuck():
    plant = plant_of(BOTTLE)
    firing = firing_pairs(plant, charges_of(plant)[0])
    pairs = firing.pairs
    assert firing.tried == firing.of
    assert {frozenset((p.first.id, p.second.id)) for p in pairs} == {
        frozenset(("push.pole.sticks", "second-push.pole.sticks"))
    }


def test_one_push_alone_is_fired_by_its_own_contact():
    """With a single push the bottle hangs on one contact."""
    single = BOTTLE.replace('second-push = { kind = "guarded-push" }\n', "").replace(
        'B3 = { from = "push.2", to = "second-push.1", size = "1 mm2", length = "1 m" }\n', ""
    )
    (charge,) = cartridge_hazards(plant_of(single.replace("second-push.2", "push.2")))
    assert {t.fault.id for t in charge.alone} == {"push.pole.sticks"}
    said = hazards_of(plant_of(single.replace("second-push.2", "push.2")))
    assert said.grave
    assert any(h.kind == "cartridge" and h.grave and "push" in h.words and h.look for h in said.hazards)


def test_the_early_flotation_is_caught_and_the_later_is_not():
    """Planted: one immersion switch between arming plug and cartridges in the early standard; two in the mail."""
    early = example("mail-amphibian", "early")
    flotation = [c for c in cartridge_hazards(early) if "flotation" in c.item]
    assert len(flotation) == 2
    for charge in flotation:
        assert {t.fault.id for t in charge.alone} == {"forward-immersion.pole.sticks"}
        assert charge.plug == ("put the flotation arming plug in",)


@pytest.fixture(scope="module")
def mail_charges(mail):
    return {c.item: c for c in cartridge_hazards(mail)}


def test_the_mail_flotation_takes_two(mail_charges):
    for name in ("port-flotation-cartridge", "starboard-flotation-cartridge"):
        charge = mail_charges[name]
        assert charge.alone == ()
        assert {"forward-immersion.pole.sticks", "aft-immersion.pole.sticks"} <= {
            t.fault.id for t in charge.with_one
        }


def test_flame_switch_beside_its_bottle(mail_charges):
    """Planted: ways 7 and 8 of the second root plugs bridged fire the bottle."""
    for side in ("port", "starboard"):
        alone = {t.fault.id for t in mail_charges[f"{side}-fire-cartridge"].alone}
        assert f"{side}-plug-2.7~8.bridged" in alone
        assert f"{side}-fire-push.pole.sticks" in alone


def test_a_parted_root_plug_leaves_both_magnetos_live(mail):
    """Common practice: dead means live; whatever parts the lead parts the stopping."""
    found = {h.item: {t.fault.id for t in h.threats} for h in magneto_hazards(mail)}
    for side in ("port", "starboard"):
        for which in ("left", "right"):
            assert f"{side}-plug-2.parted" in found[f"{side}-{which}-magneto"]
    assert {"M1.open", "M2.open", "M5.open", "port-ignition.stop-first.does-not-make"} <= found[
        "port-left-magneto"
    ]
    assert not {"M1.to-earth", "M3.open"} & found["port-left-magneto"]


def test_a_lifted_panel_bolt_leaves_both_magnetos_of_the_tug_live():
    """By hand: the switch's only earth is that bolt; what else returns to it is far over ten ohms."""
    found = {h.item: {t.fault.id for t in h.threats} for h in magneto_hazards(example("glider-tug"))}
    assert set(found) == {"left-magneto", "right-magneto"}
    assert all({"earth.panel-bolt.lifted", "M3.open"} <= threats for threats in found.values())


def test_the_pump_in_the_tank_and_the_starters(mail):
    found = {h.item: h for h in motor_hazards(mail) if h.kind != "tank-pump-dry"}
    assert {"transfer-pump", "port-starter", "starboard-starter"} == set(found)
    assert "transfer-switch.pole.sticks" in {t.fault.id for t in found["transfer-pump"].threats}
    assert {"port-starter-relay.main.sticks", "port-starter-push.pole.sticks"} <= {
        t.fault.id for t in found["port-starter"].threats
    }
    assert [h.item for h in motor_hazards(mail) if h.kind == "tank-pump-dry"] == ["transfer-pump"]
