"""Hands on the installation: moves, undo, faults, meters, procedures.

Outside: Ohm's and Kirchhoff's laws worked by hand beside each figure; a 10 megohm voltmeter through a 1 megohm
joint still shows most of the volts and a test lamp there stays out (common practice, no source).
"""

import pytest

from loomlore.answers.opening import open_dossier
from loomlore.bench.sittings import METER, Sitting
from loomlore.bench.telling import card_of, seen_now
from loomlore.findings import LoomloreError
from unit.bench.benches import LAMP, dossier


@pytest.fixture
def opened(tmp_path):
    return open_dossier(dossier(tmp_path / "lamp", LAMP))


@pytest.fixture
def sitting(opened):
    return Sitting(plant=opened.plant())


def said(sitting, name):
    return next(one["said"] for one in seen_now(sitting, "lamp")["loads"] if one["name"] == name)


def move(sitting, lever, to):
    sitting.work({"do": "move", "lever": lever, "to": to})


def metered(sitting, first, second, sort="voltmeter"):
    sitting.work({"do": "measure", "from": first, "to": second, "with": sort})
    network = sitting.shown.network
    number = next(n for n, branch in enumerate(network.branches) if branch.name == METER)
    return sitting.now.settled.solution.volts(number)


def test_each_step_is_undone(sitting):
    assert said(sitting, "Lamp") == "out"
    move(sitting, "switch.lever", "on")
    move(sitting, "push.push", "pressed")
    assert said(sitting, "Lamp") == said(sitting, "Other") == "lit"
    sitting.work({"do": "undo"})
    assert said(sitting, "Other") == "out"
    sitting.work({"do": "undo"})
    assert said(sitting, "Lamp") == "out"
    sitting.work({"do": "undo"})
    assert len(sitting.moments) == 1


def test_rest_puts_everything_back_and_can_be_undone(sitting):
    move(sitting, "switch.lever", "on")
    sitting.work({"do": "rest"})
    assert said(sitting, "Lamp") == "out"
    sitting.work({"do": "undo"})
    assert said(sitting, "Lamp") == "lit"


def test_a_broken_cable_puts_its_lamp_out_and_no_other(sitting):
    move(sitting, "switch.lever", "on")
    move(sitting, "push.push", "pressed")
    sitting.work({"do": "fault", "id": "L2.open"})
    assert said(sitting, "Lamp") == "out"
    assert said(sitting, "Other") == "lit"
    assert "L2" in seen_now(sitting, "lamp")["fault"]
    sitting.work({"do": "mend"})
    assert said(sitting, "Lamp") == "lit"


def test_a_fault_stays_while_controls_are_moved(sitting):
    sitting.work({"do": "fault", "id": "L2.open"})
    move(sitting, "switch.lever", "on")
    assert said(sitting, "Lamp") == "out"


def test_every_fault_on_the_lamps_card_can_be_put_in_and_taken_out(opened, sitting):
    move(sitting, "switch.lever", "on")
    faults = card_of(opened, sitting, "lamp")["faults"]
    assert len(faults) >= 4
    for fault in faults:
        sitting.work({"do": "fault", "id": fault["id"]})
        sitting.work({"do": "mend"})
        assert said(sitting, "Lamp") == "lit"


def test_the_meter_is_part_of_the_network(sitting):
    # 10 megohm in series with 24 V^2 / 0.000576 W = 1 megohm: ten elevenths of the battery's volts.
    battery = metered(sitting, "battery.+", "battery.-")
    assert metered(sitting, "bad-joint.2", "earth") / battery == pytest.approx(10 / 11, rel=1e-6)


def test_a_test_lamp_stays_out_behind_a_bad_joint(sitting):
    # 24 V^2 / 6 W = 96 ohm in series with 1 megohm.
    battery = metered(sitting, "battery.+", "battery.-")
    assert metered(sitting, "bad-joint.2", "earth", "test lamp") == pytest.approx(
        battery * 96 / 1_000_096, rel=1e-3
    )
    assert seen_now(sitting, "lamp")["meter"]["said"].startswith("out")
    sitting.work({"do": "unmeasure"})
    assert seen_now(sitting, "lamp")["meter"] is None


def test_a_procedure_is_judged_step_by_step(sitting):
    sitting.work({"do": "begin", "procedure": "light"})
    sitting.work({"do": "step", "procedure": "light", "number": 0})
    assert sitting.now.verdict == "so"
    sitting.work({"do": "step", "procedure": "light", "number": 1})
    assert sitting.now.verdict == "not so"


def test_moves_are_played_from_rest_one_by_one(sitting):
    move(sitting, "push.push", "pressed")
    sitting.work({"do": "moves", "moves": [{"lever": "switch.lever", "to": "on"}, {"lever": "", "to": 2.0}]})
    assert [m.done for m in sitting.moments[-3:]] == [
        "Everything back at rest",
        "Put the switch on",
        "Wait 2 s",
    ]
    assert said(sitting, "Other") == "out"


def test_moves_that_cannot_be_played_leave_everything_as_it_was(sitting):
    move(sitting, "switch.lever", "on")
    before = list(sitting.moments)
    with pytest.raises(LoomloreError):
        sitting.work(
            {"do": "moves", "moves": [{"lever": "switch.lever", "to": "off"}, {"lever": "no", "to": "on"}]}
        )
    assert sitting.moments == before


def test_what_was_done_is_done_again_in_a_changed_record(tmp_path, sitting):
    move(sitting, "switch.lever", "on")
    sitting.work({"do": "fault", "id": "L2.open"})
    changed = open_dossier(dossier(tmp_path / "changed", LAMP.replace("L3 =", "L33 =")))
    again = Sitting.replayed(changed.plant(), "", sitting.actions)
    assert again.now.fault == "L2.open"
    assert again.positions()["switch.lever"] == "on"
