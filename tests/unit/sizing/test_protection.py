"""Fuses: their basis, what a conductor stands, which goes first."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.references import OutOfRange, Working, citation
from loomlore.sizing.protection import (
    FUSING_OVER_CARRYING,
    adiabatic_factor,
    carrying_current,
    fusing_current,
    fusing_time_onderdonk,
    judged_discrimination,
    judged_fuse_for_ampacity,
    judged_protector,
    judged_withstand,
    protector_limit_ac4313_1998,
    withstand_current,
)


def amperes(value):
    return Working("given", value, "A", "as given", (), citation("common-practice"), "practice")


def test_basis_goes_with_the_number():
    """1.75: common practice for period fuses, no source."""
    assert FUSING_OVER_CARRYING == 1.75
    assert carrying_current(20, basis="carrying").value == 20
    assert carrying_current(35, basis="fusing").value == pytest.approx(20)
    assert fusing_current(35, basis="fusing").value == 35
    assert fusing_current(20, basis="carrying").value == 35
    assert fusing_current(20, basis="carrying", factor=2.0).value == 40


@given(st.floats(0.5, 200), st.sampled_from(["carrying", "fusing"]), st.floats(1.2, 2.5))
def test_fusing_is_always_the_factor_times_carrying(rating, basis, factor):
    carries = carrying_current(rating, basis=basis, factor=factor).value
    assert fusing_current(rating, basis=basis, factor=factor).value == pytest.approx(factor * carries)


def test_withstand_falls_as_the_square_root_of_time():
    one, four = (withstand_current(2.5e-6, time=t, start=60, final=200).value for t in (1.0, 4.0))
    assert one == pytest.approx(2 * four)


@pytest.mark.parametrize("time", [0.0, -1.0, 5.01, math.nan])
def test_times_outside_the_law_are_refused(time):
    with pytest.raises(OutOfRange):
        withstand_current(1e-6, time=time, start=60, final=200)


@pytest.mark.parametrize(("start", "final"), [(100, 90), (20, 1200), (-240, 100)])
def test_temperatures_that_make_no_sense_are_refused(start, final):
    with pytest.raises(OutOfRange):
        adiabatic_factor(start=start, final=final)


def test_a_long_time_to_melt_says_that_heat_gets_away():
    assert fusing_time_onderdonk(1e-6, current=50, ambient=20).note
    assert not fusing_time_onderdonk(1e-6, current=500, ambient=20).note


def test_verdicts_say_what_to_do():
    limit = protector_limit_ac4313_1998(0.41e-6, kind="fuse")
    assert judged_protector(carrying_current(5, basis="carrying"), limit).passes
    over = judged_protector(carrying_current(10, basis="carrying"), limit)
    assert not over.passes
    assert "5 A or less" in over.cure
    assert not judged_fuse_for_ampacity(amperes(10), amperes(8)).passes
    assert not judged_withstand(amperes(500), withstand_current(1e-6, time=1, start=70, final=160)).passes


@pytest.mark.parametrize(
    ("downstream", "upstream", "passes"), [(5, 10, True), (10, 15, False), (20, 40, True)]
)
def test_discrimination_two_to_one(downstream, upstream, passes):
    """Two to one between fuses of one type: common practice, no source."""
    verdict = judged_discrimination(downstream=amperes(downstream), upstream=amperes(upstream))
    assert verdict.passes is passes
