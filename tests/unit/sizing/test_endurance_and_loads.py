"""Endurance and loads: cases worked by hand, and laws that must hold."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.findings import UnknownName
from loomlore.references import OutOfRange
from loomlore.sizing.endurance import (
    capacity_factor_ieee485_1997,
    endurance_in_phases,
    endurance_peukert_1897,
    endurance_simple,
    freezing_point_tm5_1185,
    peukert_exponent,
    usable_charge,
)
from loomlore.sizing.load_rules import (
    assumed_capacity_share,
    generator_limit,
    greatest_average,
    judged_generator_load,
    low_volts_warning,
    summed_load,
)

AH = HOUR = 3600.0
TEN_HOURS = 10 * HOUR


@pytest.mark.parametrize(("current", "simple", "peukert"), [(20.2, 96, 67), (8.0, 243, 203)])
def test_an_invented_night(current, simple, peukert):
    """45 Ah at ten hours, 72 % of it, k 1.2: minutes worked by hand, 10 (0.72 x 45 / (10 I))^1.2 h."""
    charge = usable_charge(45 * AH, share=0.72)
    assert round(endurance_simple(charge, current=current).value / 60) == simple
    own = endurance_peukert_1897(45 * AH, rate_time=TEN_HOURS, exponent=1.2, current=current, share=0.72)
    assert round(own.value / 60) == peukert


@given(st.floats(0.01, 300), st.floats(1.0, 1.5), st.floats(0.1, 1.0))
def test_peukert_never_promises_more_than_the_charge(current, exponent, share):
    own = endurance_peukert_1897(
        45 * AH, rate_time=TEN_HOURS, exponent=exponent, current=current, share=share
    )
    assert own.value * current <= share * 45 * AH * (1 + 1e-9)


def test_peukert_under_its_rate_is_held_and_says_so():
    assert "held to" in endurance_peukert_1897(45 * AH, rate_time=TEN_HOURS, exponent=1.2, current=1).note


def test_nothing_drawn_lasts_for_ever():
    assert endurance_simple(usable_charge(AH, share=1), current=0).value == math.inf
    assert endurance_peukert_1897(AH, rate_time=HOUR, exponent=1.2, current=0).value == math.inf
    charge = usable_charge(AH, share=1)
    assert endurance_in_phases(charge, fixed=[], remaining=("at rest", 0.0)).value == math.inf


@given(st.floats(1.05, 1.4), st.floats(1.5, 8))
def test_the_exponent_comes_back(exponent, times):
    first, second = 5.0, 5.0 * times
    lasts = [
        endurance_peukert_1897(45 * AH, rate_time=TEN_HOURS, exponent=exponent, current=i).value
        for i in (first, second)
    ]
    found = peukert_exponent(
        first_current=first, first_time=lasts[0], second_current=second, second_time=lasts[1]
    )
    assert found.value == pytest.approx(exponent, rel=1e-9)


def test_one_current_gives_no_exponent():
    with pytest.raises(OutOfRange):
        peukert_exponent(first_current=5, first_time=10, second_current=5, second_time=11)


def test_cold_enters_the_usable_charge():
    cold = capacity_factor_ieee485_1997(-5.0)
    charge = usable_charge(45 * AH, share=0.72, temperature_factor=cold)
    assert charge.value == pytest.approx(45 * AH * 0.72 * cold.value)
    assert charge.weakest_status == "memory"


def test_one_phase_is_the_simple_case():
    charge = usable_charge(45 * AH, share=0.75)
    in_phases = endurance_in_phases(charge, fixed=[], remaining=("cruise", 20.0))
    assert in_phases.value == pytest.approx(endurance_simple(charge, current=20.0).value)


@pytest.mark.parametrize("gravity", [1.05, 1.32])
def test_gravities_outside_the_freezing_table_are_refused(gravity):
    with pytest.raises(OutOfRange):
        freezing_point_tm5_1185(gravity)


def test_loads_of_an_invented_phase():
    """832 W at 28 V is 29.7 A: 83 % of one 36 A machine, over its 80 %; 41 % of two."""
    load = summed_load([("all of it", 832 / 28, 1.0)])
    one, two = generator_limit(36.0), generator_limit(72.0)
    verdict = judged_generator_load(load, one)
    assert not verdict.passes
    assert load.value / 36 == pytest.approx(0.83, abs=0.005)
    assert judged_generator_load(load, two).passes


def test_every_load_stands_in_the_working():
    load = summed_load([("lamps", 2.0, 1.0), ("pump", 5.0, 0.1)])
    assert [entry.symbol for entry in load.inputs] == ["lamps", "pump, 10% of the time"]


def test_another_supply_has_a_warning_in_proportion():
    warning = low_volts_warning(6.0)
    assert warning.value == pytest.approx(6.5)
    assert warning.note


def test_an_unknown_practice_is_refused():
    with pytest.raises(UnknownName):
        assumed_capacity_share("elsewhere")  # type: ignore[arg-type]


@given(st.lists(st.tuples(st.floats(0.5, 60), st.floats(0, 50)), min_size=1, max_size=6), st.floats(1, 100))
def test_the_greatest_mean_beside_a_window_moved_in_small_steps(steps, window):
    own = greatest_average(steps, window=window).value
    total = sum(time for time, _ in steps)
    span = min(window, total)
    edges = np.concatenate([[0.0], np.cumsum([time for time, _ in steps])])
    charge = np.concatenate([[0.0], np.cumsum([time * amps for time, amps in steps])])
    starts = np.linspace(0.0, total - span, 400)
    moved = (np.interp(starts + span, edges, charge) - np.interp(starts, edges, charge)) / span
    step = (total - span) / 399
    # between two positions of the moved window the mean can grow by at most one step of the greatest current
    slack = step * max(amps for _, amps in steps) / span
    assert moved.max() - 1e-9 <= own <= moved.max() + slack + 1e-9
