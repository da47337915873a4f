"""Ampacity: consistency of table 11-9 with itself, limits of the charts, bundles that load themselves."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.catalogue.conductors import aircraft_wires
from loomlore.references import OutOfRange
from loomlore.sizing.ampacity import (
    TABLE_ALTITUDE,
    TABLE_AMBIENT,
    TABLE_LOADING,
    altitude_factor,
    ampacity,
    bundle_factor,
    bundle_loading,
    conductor_temperature,
    conductor_temperature_ac4313_2001,
    conductor_temperature_square_law,
    free_air_current,
    judged_ampacity,
)
from loomlore.sizing.protection import fusing_current_preece_1888

THICK = frozenset({"8", "6", "4", "2", "1", "0", "00", "000", "0000"})


def test_the_printed_table_comes_back():
    """By the square root of the rise all three columns come from one free-air current; they need not."""
    errors = []
    for gauge, wire in aircraft_wires().items():
        for rated, printed in wire.amperes.items():
            own = ampacity(
                wire.area,
                rated_temperature=rated,
                ambient=TABLE_AMBIENT,
                wires=9 if gauge in THICK else 33,
                loading=TABLE_LOADING,
                altitude=TABLE_ALTITUDE,
            ).value
            # the print is in whole amperes (one half at No. 24): half a digit is 8 % of 6 A
            errors.append(max(0.0, abs(own - printed) - 0.5) / printed)
    assert max(errors) < 0.06
    assert sum(errors) / len(errors) < 0.01


@pytest.mark.parametrize("ambient", [20.0, 50.0, 60.0])
def test_only_seventy_degrees_makes_the_columns_agree(ambient):
    """What is assumed about the table's ambient could be otherwise: at 70 °C the spread is least."""

    def spread(of_ambient):
        spreads = []
        for wire in aircraft_wires().values():
            found = [amps / math.sqrt(rated - of_ambient) for rated, amps in wire.amperes.items()]
            spreads.append((max(found) - min(found)) / min(found))
        return sum(spreads) / len(spreads)

    assert spread(TABLE_AMBIENT) < 0.05 < spread(ambient)


@given(st.floats(0.06e-6, 100e-6), st.floats(1.01, 1.5))
def test_more_metal_carries_more(area, times):
    thicker = min(area * times, 106e-6)
    assert free_air_current(thicker, rise=50).value >= free_air_current(area, rise=50).value


def test_free_air_current_has_no_step_at_the_thinnest_wire():
    thinnest = aircraft_wires()["24"].area
    below, above = (
        free_air_current(thinnest * 0.999999, rise=80),
        free_air_current(thinnest * 1.000001, rise=80),
    )
    assert below.value == pytest.approx(above.value, rel=1e-5)


def test_under_the_thinnest_wire_current_falls_as_preece_has_it():
    """Diameter to the 3/2, for a thin wire alone in air: an independent law of the same loss of heat."""
    thinnest = aircraft_wires()["24"].area
    own = free_air_current(thinnest / 2, rise=80).value / free_air_current(thinnest, rise=80).value
    diameters = (1e-3 / math.sqrt(2), 1e-3)
    thin, thick = (fusing_current_preece_1888(d).value for d in diameters)
    assert own == pytest.approx(thin / thick, rel=1e-9)


@pytest.mark.parametrize("area", [0.01e-6, 150e-6])
def test_areas_outside_the_table_are_refused(area):
    with pytest.raises(OutOfRange, match="table 11-9"):
        free_air_current(area, rise=50)


def test_air_as_warm_as_the_covering_leaves_nothing():
    limit = ampacity(1e-6, rated_temperature=60, ambient=70)
    assert limit.value == 0
    assert "as warm as" in limit.note


@given(st.integers(1, 41), st.floats(0, 1), st.floats(0, 1))
def test_a_heavier_bundle_leaves_less(wires, one, other):
    low, high = sorted((one, other))
    assert bundle_factor(wires, loading=low).value >= bundle_factor(wires, loading=high).value


@given(st.integers(1, 40), st.floats(0, 1))
def test_a_wire_more_leaves_less(wires, loading):
    assert bundle_factor(wires, loading=loading).value > bundle_factor(wires + 1, loading=loading).value


@pytest.mark.parametrize(("wires", "loading"), [(0, 0.5), (42, 0.5), (5, 1.1), (5, -0.1)])
def test_bundles_outside_the_chart_are_refused(wires, loading):
    with pytest.raises(OutOfRange, match="bundle chart"):
        bundle_factor(wires, loading=loading)


@given(st.integers(2, 30), st.floats(0.05, 0.95))
def test_a_bundle_loaded_to_a_share_says_that_share(wires, loading):
    """Given currents of exactly that loading, worked forwards from the chart."""
    free_air = [10.0] * wires
    each = 10.0 * loading * bundle_factor(wires, loading=loading).value
    assert bundle_loading([each] * wires, free_air).value == pytest.approx(loading, rel=1e-6)


def test_loading_times_factor_rises():
    """Else a bundle's loading would have several answers."""
    for wires in range(1, 42):
        carried = [s / 100 * bundle_factor(wires, loading=s / 100).value for s in range(1, 101)]
        assert all(later > earlier for earlier, later in itertools.pairwise(carried))


def test_an_overloaded_bundle_is_infinite_and_an_idle_one_nothing():
    assert bundle_loading([9.0] * 10, [10.0] * 10).value == math.inf
    assert bundle_loading([0.0] * 10, [10.0] * 10).value == 0


@pytest.mark.parametrize("altitude", [-100.0, 0.0])
def test_the_ground_takes_nothing_off(altitude):
    assert altitude_factor(altitude).value == 1


def test_higher_than_the_chart_is_refused():
    with pytest.raises(OutOfRange, match="fig 11-5"):
        altitude_factor(25_000)


def test_the_two_temperature_laws_meet_at_the_ampacity_and_the_warmer_is_taken():
    case = {"ampacity": 20.0, "ambient": 30.0, "rated_temperature": 90.0}
    for law in (conductor_temperature_ac4313_2001, conductor_temperature_square_law, conductor_temperature):
        assert law(current=20.0, **case).value == pytest.approx(90.0)
        assert law(current=0.0, **case).value == 30.0
    for current in (5.0, 15.0, 25.0, 60.0):
        both = (conductor_temperature_ac4313_2001, conductor_temperature_square_law)
        warmer = max(law(current=current, **case).value for law in both)
        assert conductor_temperature(current=current, **case).value == pytest.approx(warmer)


def test_a_verdict_on_current_has_no_tolerance():
    limit = ampacity(1e-6, rated_temperature=105, ambient=50)
    assert judged_ampacity(limit, limit).passes
    smaller = ampacity(0.99e-6, rated_temperature=105, ambient=50)
    assert not judged_ampacity(limit, smaller).passes
