"""Which road a written size takes to its metal, as docs/methods.md section 1.2 says; worked by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.catalogue.conductors import (
    ALUMINIUM,
    aircraft_wires,
    awg_diameter,
    conductor_area,
    conductor_resistance,
    equivalent_aircraft_wire,
    mass_per_metre,
    resistance_working,
)
from loomlore.catalogue.published_tables import published_table, published_tables
from loomlore.findings import UnknownName
from loomlore.quantities import Size, read_size
from loomlore.references import OutOfRange


def circle(diameter_mm):
    return math.pi / 4 * diameter_mm**2


@pytest.mark.parametrize(
    ("text", "ohm_per_metre"),
    [
        ("23/.0076 in", 1.02 / 58 / (23 * circle(0.19304))),
        ("14/0.30 mm", 1.02 / 58 / (14 * circle(0.30))),
        ("1/.044 in", 1 / 58 / circle(1.1176)),  # one strand has no lay
        ("SWG 20", 1 / 58 / circle(0.9144)),
        ("AWG 15", 1 / 58 / circle(1.4495)),
        ("AWG 16", 4.81e-3 / 0.3048),
        ("2.5 mm2", 7.98e-3),
        ("2.0 mm2", 1.02 / 58 / 2.0),
    ],
)
def test_resistance_by_every_road(text, ohm_per_metre):
    assert conductor_resistance(read_size(text), length=1.0) == pytest.approx(ohm_per_metre, rel=1e-4)


def test_a_core_of_a_twin_is_one_conductor():
    single, twin = read_size("14/.0076 in"), read_size("twin 14/.0076 in")
    assert conductor_resistance(twin, length=3) == conductor_resistance(single, length=3)
    assert mass_per_metre(twin) == pytest.approx(2 * mass_per_metre(single))


@given(st.floats(0, 500), st.floats(-55, 200))
def test_resistance_goes_as_length_and_rises_with_temperature(length, temperature):
    size = read_size("40/.0076 in")
    own = conductor_resistance(size, length=length, temperature=temperature)
    by_hand = length * 1.02 / 58 / (40 * circle(0.19304)) * (234.5 + temperature) / 254.5
    assert own == pytest.approx(by_hand, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("length", [-1.0, math.inf, math.nan])
def test_senseless_lengths_are_refused(length):
    with pytest.raises(OutOfRange):
        conductor_resistance(read_size("AWG 20"), length=length)


def test_a_conductor_without_metal_is_refused():
    with pytest.raises(OutOfRange):
        conductor_resistance(Size("area", 0.0, 0, 0.0, "", 1, "0 mm2"), length=1)


def test_a_class_that_the_standard_has_not_is_refused():
    with pytest.raises(UnknownName, match="class 6"):
        resistance_working(read_size("1.5 mm2"), conductor_class=6)


def test_aluminium_goes_by_its_metal_whatever_the_size():
    """The aircraft and cable tables are of copper: 0.028264 ohm mm2/m, 2 % lay; par 11-66's 238.1."""
    own = resistance_working(read_size("10 mm2"), metal=ALUMINIUM, temperature=70.0).value
    assert own == pytest.approx(0.028264 * 1.02 / 10 * (238.1 + 70) / 258.1, rel=1e-9)
    by_gauge = resistance_working(read_size("AWG 4"), metal=ALUMINIUM).value
    # 42,615 circular mils, of the table, are 21.59 mm2
    assert by_gauge == pytest.approx(0.028264 * 1.02 / 21.593, rel=1e-4)


def test_masses_by_hand():
    assert mass_per_metre(read_size("SWG 20")) == pytest.approx(8.89e-3 * circle(0.9144))
    assert mass_per_metre(read_size("70/.0076 in")) == pytest.approx(8.89e-3 * 1.02 * 70 * circle(0.19304))


def test_every_aircraft_wire_is_its_own_equivalent():
    for gauge, wire in aircraft_wires().items():
        found = equivalent_aircraft_wire(wire.area)
        assert found is not None
        assert found.gauge == gauge


@given(st.floats(0.05e-6, 150e-6))
def test_the_equivalent_never_has_more_metal(area):
    found = equivalent_aircraft_wire(area)
    thicker = [wire for wire in aircraft_wires().values() if wire.area <= area]
    assert (found is None) == (not thicker)
    if found is not None:
        assert found.area == max(wire.area for wire in thicker)


def test_a_gauge_by_table_and_by_formula_have_different_metal():
    """No. 16: 2,426 circular mils in the table, 2,583 by the gauge formula."""
    by_formula = math.pi / 4 * awg_diameter("16") ** 2
    assert conductor_area(read_size("AWG 16")) / by_formula == pytest.approx(2426 / 2583, rel=1e-3)


def test_an_unknown_table_is_refused_with_the_nearest():
    assert "ac43.13-1b-2001-table-11-9" in published_tables()
    with pytest.raises(UnknownName, match="table-11-9"):
        published_table("ac43.13-1b-1998-table-11-9")
