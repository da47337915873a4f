"""Drops along solved paths, against Ohm's law written out by hand."""

import pytest

from loomlore.sizing.bundles import Conditions
from loomlore.sizing.cable_study import Practice, cable_study
from loomlore.sizing.duty import study
from loomlore.sizing.runs import worst_runs
from unit.sizing.benches import HEAD, HEATER, WAYS, bench, plant_of

# IEC 60228 table 3, flexible copper, greatest resistance at 20 °C [ohm/m]
ONE_MM2, TEN_MM2 = 19.5e-3, 1.91e-3
BATTERY_OHMS, BATTERY_VOLTS = 0.024, 25.2
CONTACT, FUSE = 0.005, 0.08 / 5  # a contact; 80 mV across a fuse at what it carries (common practice)
HEATER_OHMS = 24**2 / 96


def _current(wiring: float) -> float:
    supply = BATTERY_OHMS + 1.5 * TEN_MM2 + CONTACT
    return BATTERY_VOLTS / (supply + wiring + HEATER_OHMS)


def _drop_of(plant, load="heater.winding"):
    found = study(plant)
    runs = worst_runs(found)
    return next(run for run in runs.values() if run.load.name == load)


def test_a_run_is_fuse_cables_switch_and_return():
    wiring = FUSE + 9 * ONE_MM2 + CONTACT
    run = _drop_of(bench(HEATER))
    assert run.amps == pytest.approx(_current(wiring), rel=1e-6)
    assert run.drop == pytest.approx(_current(wiring) * wiring, rel=1e-6)
    assert run.return_drop == pytest.approx(_current(wiring) * ONE_MM2, rel=1e-6)


def test_a_shared_run_drops_for_both():
    """Two heaters behind one cable: the shared cable carries the sum."""
    second = (
        HEATER
        + """
[item.second]
kind = "heater"
rating = "24 V 96 W"
[service.heater.cables.H4]
from = "heater.1"
to = "second.1"
size = "1.0 mm2"
length = "1 m"
[service.heater.cables.H5]
from = "second.2"
to = "earth"
size = "1.0 mm2"
length = "1 m"
"""
    )
    alone, shared = _drop_of(bench(HEATER)), _drop_of(bench(second))
    assert shared.drop > 1.6 * alone.drop
    far = _drop_of(bench(second), "second.winding")
    assert far.drop > shared.drop  # its own metre there and back comes on top


def test_positive_earth_drops_the_same():
    """Turned about, with the positive earthed: every figure keeps its size."""
    turned = HEAD.replace("given = ", 'earthed = "positive"\ngiven = ')
    ways = (
        WAYS.replace("battery.-", "battery.X")
        .replace("battery.+", "battery.-")
        .replace("battery.X", "battery.+")
    )
    plain, other = _drop_of(bench(HEATER)), _drop_of(plant_of(turned, ways, HEATER))
    assert other.drop == pytest.approx(plain.drop, rel=1e-9)
    assert other.supply_drop == pytest.approx(plain.supply_drop, rel=1e-9)


def test_an_insulated_return_is_counted_to_the_bar_where_services_meet():
    head = HEAD.replace("given = ", 'return = "two-wire"\nearthed = "none"\ngiven = ')
    bar = '[item]\nbar = { kind = "bus-bar", ways = 3 }\n'
    ways = WAYS.replace('to = "earth"', 'to = "bar.bar"')
    run = _drop_of(plant_of(head, ways, bar, HEATER.replace('to = "earth"', 'to = "bar.1"')))
    wiring = FUSE + 9 * ONE_MM2 + CONTACT + CONTACT  # a way of the bar is a contact more
    assert run.drop == pytest.approx(run.amps * wiring, rel=0.03)
    assert run.drop < run.amps * (wiring + 0.5 * TEN_MM2 + CONTACT)


def _verdict(length: str, *, share: float = 0.03):
    text = HEATER.replace('length = "6 m"', f'length = "{length}"')
    found = cable_study(bench(text), Practice(share=share, conditions=Conditions(ambient=20.0)))
    return next(drop for drop in found.drops if drop.run.load.name == "heater.winding")


@pytest.mark.parametrize(
    ("length", "word"), [("2 m", "passes"), ("12 m", "fails"), ("2 m to 12 m", "in doubt")]
)
def test_the_doubt_in_a_length_decides_between_its_ends(length, word):
    """3 % of 24 V is 0.72 V; at 4.1 A hot the run may be about 8 m long."""
    length = length.replace(" m to ", " to ")
    drop = _verdict(length)
    own = drop.verdicts[1]
    assert own.word == word
    assert ("H2" in own.decides) is (word == "in doubt")
    if word == "in doubt":
        assert drop.low < own.limit.value < drop.high


def test_a_doubt_that_does_not_matter_is_not_told():
    assert _verdict("2.0 m ± 0.1 m").verdicts[1].decides == ""


def test_a_hot_conductor_drops_more_by_the_straight_law():
    """AC 43.13-1B par 11-66d(4): (234.5 + t) / 254.5, each cable at its own temperature."""
    drop = _verdict("6 m")
    cable = next(entry for entry in drop.hot.inputs if entry.symbol == "cable H2").working
    hot = next(entry.working for entry in cable.inputs if entry.symbol == "r")
    temperature = float(next(entry.value for entry in hot.inputs if entry.symbol == "t"))
    assert temperature > 20
    assert hot.value == pytest.approx(ONE_MM2 * (234.5 + temperature) / 254.5, rel=1e-9)
    assert cable.value == pytest.approx(
        float(next(e.value for e in cable.inputs if e.symbol == "I")) * 6 * hot.value
    )


DISPUTE = """
[source.drawing]
title = "Drawing 1 (invented)"
nature = "drawing"

[[statement]]
id = "drawing-size"
source = "drawing sheet 1"
words = "H1 to H3: 0.5 sq mm."
about = "H2.size"
says = "0.5 mm2"
"""


def test_a_disputed_size_is_tried_alone_and_for_all_cables_like_it():
    text = HEATER.replace('length = "6 m"', 'length = "4 m"')
    found = cable_study(bench(text, DISPUTE), Practice(share=0.03, conditions=Conditions(ambient=20.0)))
    drop = next(d for d in found.drops if d.run.load.name == "heater.winding")
    disputes = {d.whole: d for d in drop.verdicts[1].disputes}
    assert set(disputes) == {False, True}
    assert drop.verdicts[1].word == "passes"
    assert not disputes[True].passes
    # IEC 60228 table 3: 0.5 mm2 has 39.0 ohm/km, twice that of 1.0 mm2
    extra = disputes[True].drop - drop.hot.value
    assert extra == pytest.approx(drop.run.amps * 7 * ONE_MM2, rel=0.15)
    assert disputes[False].drop < disputes[True].drop


def test_every_load_says_in_which_setting_it_is_worst():
    assert "heater switch" in _verdict("6 m").words


def test_a_push_is_judged_by_the_intermittent_limit():
    pushed = HEATER.replace('heater-switch = { kind = "switch" }', 'heater-switch = { kind = "push" }')
    found = cable_study(bench(pushed))
    drop = next(d for d in found.drops if d.run.load.name == "heater.winding")
    assert drop.intermittent
    assert drop.verdicts[0].limit.value == 2.0
