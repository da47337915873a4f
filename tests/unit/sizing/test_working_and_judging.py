"""Workings answer "how did this number come", down to the tables; verdicts keep to their tolerance."""

import pytest

from loomlore.catalogue.conductors import aircraft_wires, resistance_working
from loomlore.quantities import read_size
from loomlore.references import Working, citation
from loomlore.sizing.ampacity import ampacity
from loomlore.sizing.drop import (
    drop_limit,
    earth_return_limit,
    judged_drop,
    share_of_supply_limit,
    voltage_drop,
)
from loomlore.sizing.judging import judged
from loomlore.sizing.switch_ratings import judged_switch


def volts(value):
    return Working("drop", value, "V", "as measured", (), citation("common-practice"), "practice")


def recomputed(working):
    """The value again, from the inputs that the working shows."""
    return {entry.symbol: entry.value for entry in working.inputs}


def test_a_drop_can_be_worked_again_from_what_it_shows():
    resistance = resistance_working(read_size("23/.0076 in"), temperature=60.0)
    drop = voltage_drop(current=1.0, length=20.0, resistance=resistance)
    shown = recomputed(drop)
    assert shown["I"] * shown["L"] * shown["r"] == pytest.approx(drop.value)
    per_metre = recomputed(resistance)
    again = per_metre["r20"] * (per_metre["zero"] + per_metre["t"]) / (per_metre["zero"] + 20)
    assert again == pytest.approx(shown["r"])
    cold = recomputed(resistance.inputs[0].working)
    assert cold["resistivity"] * cold["lay"] / cold["area"] == pytest.approx(per_metre["r20"])


def test_an_ampacity_can_be_worked_again_from_what_it_shows():
    limit = ampacity(aircraft_wires()["16"].area, rated_temperature=105, ambient=40, wires=5, loading=0.5)
    shown = recomputed(limit)
    product = shown["free-air current"] * shown["bundle factor"] * shown["altitude factor"]
    assert product == pytest.approx(limit.value)


def test_lines_name_every_source_on_the_way():
    resistance = resistance_working(read_size("AWG 14"), temperature=50.0)
    text = str(voltage_drop(current=2, length=3, resistance=resistance))
    for source in ("table 11-7", "par 11-66d(4)", "table 11-9"):
        assert source in text


@pytest.mark.parametrize(
    ("value", "passes", "by_tolerance"),
    [(0.99, True, False), (1.0, True, False), (1.005, True, True), (1.02, False, False)],
)
def test_both_sides_of_a_tolerance(value, passes, by_tolerance):
    verdict = judged("Drop", value=volts(value), limit=volts(1.0), cure="Thicken it.", tolerance=0.01)
    assert (verdict.passes, verdict.by_tolerance) == (passes, by_tolerance)
    assert ("Thicken it." in str(verdict)) is not passes


def test_a_limit_of_nothing():
    assert judged("Drop", value=volts(0.0), limit=volts(0.0), cure="").share == 0
    assert judged("Drop", value=volts(0.1), limit=volts(0.0), cure="").share == float("inf")


def test_a_verdict_is_no_better_than_its_limit():
    resistance = resistance_working(read_size("AWG 20"))
    drop = voltage_drop(current=5, length=3, resistance=resistance)
    assert judged_drop(drop, drop_limit(28)).status == "transcribed"
    assert judged_drop(drop, drop_limit(28, intermittent=True)).status == "memory"


def test_the_cure_of_a_drop_says_how_much_thicker():
    resistance = resistance_working(read_size("1.2 mm2"))
    drop = voltage_drop(current=5, length=20, resistance=resistance)
    verdict = judged_drop(drop, share_of_supply_limit(24, share=0.03))
    assert not verdict.passes
    assert f"{drop.value / 0.72:.2g} times the metal" in verdict.cure


def test_a_supply_without_a_published_limit_keeps_the_same_share():
    """1/28 of a 6 V and of a 50 V supply, marked as our own and with a note."""
    for supply in (6.0, 50.0):
        limit = drop_limit(supply)
        assert limit.value == pytest.approx(supply / 28)
        assert limit.status == "computed"
        assert "No source" in limit.note
        assert drop_limit(supply, intermittent=True).value == pytest.approx(2 * supply / 28)


def test_switch_verdict():
    assert not judged_switch(rating=15, current=2, nominal=28, load="lamp").passes
    assert judged_switch(rating=16, current=2, nominal=28, load="lamp").passes


def test_earth_return():
    # FAA-H-8083-32 chapter 4 and AC 43.13-1B par 11-66, read: 0.005 ohm is satisfactory
    assert earth_return_limit().value == 0.005
