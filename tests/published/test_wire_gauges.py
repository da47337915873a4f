"""ASTM B258 (formula and four-figure diameters, read); the Imperial Standard Wire Gauge (read)."""

import math

import pytest

from loomlore.catalogue.conductors import awg_diameter, conductor_resistance, swg_diameter
from loomlore.findings import UnknownName
from loomlore.quantities import read_size
from published.printed import INCH, agrees_with_print, printed_rows

AWG, SWG = printed_rows("awg"), printed_rows("swg")


@pytest.mark.parametrize("row", AWG, ids=lambda row: f"AWG {row['awg']}")
def test_awg_diameter_as_tabulated(row):
    # four decimals of an inch; the csv drops closing noughts
    assert awg_diameter(row["awg"]) / INCH == pytest.approx(
        float(row["diameter_in_tabulated"]), abs=0.5e-4 * 1.0001
    )


def test_awg_defining_sizes():
    """The gauge is defined by these two: 0.46 in for 0000, 0.005 in for 36."""
    assert awg_diameter("0000") == pytest.approx(0.46 * INCH, rel=1e-12)
    assert awg_diameter("36") == pytest.approx(0.005 * INCH, rel=1e-12)


@pytest.mark.parametrize("row", SWG, ids=lambda row: f"SWG {row['swg']}")
def test_swg_diameter_as_printed_and_resistance(row):
    assert swg_diameter(row["swg"]) / INCH == pytest.approx(float(row["diameter_in"]), rel=1e-12)
    if len(row["swg"]) <= 3:
        # computed from the diameter with 1/58 ohm mm2/m, to five figures
        size = read_size(f"SWG {row['swg']}")
        own = conductor_resistance(size, length=1000)
        assert own == pytest.approx(float(row["R20_ohm_per_km"]), rel=6e-5)


def test_swg_28_is_the_smaller_of_the_two_prints():
    """0.0148 in by the legal series; 0.0149 in some tables."""
    assert agrees_with_print(swg_diameter("28") / INCH, "0.0148")
    assert not agrees_with_print(swg_diameter("28") / INCH, "0.0149")


def test_swg_0_in_millimetres():
    """A millimetre column elsewhere prints 8.236; 0.324 in is 8.2296 mm."""
    assert swg_diameter("0") * 1000 == pytest.approx(8.2296, abs=1e-9)


def test_noughts_both_ways():
    assert swg_diameter("000") == swg_diameter("3/0")
    assert awg_diameter("00") == awg_diameter("2/0")


@pytest.mark.parametrize("gauge", ["", "57", "-1", "9/0", "x"])
def test_what_is_no_gauge_is_refused(gauge):
    with pytest.raises(UnknownName):
        awg_diameter(gauge)
    with pytest.raises(UnknownName):
        swg_diameter(gauge)


def test_inch_strands_by_hand():
    """14 strands of 0.0076 in, worked by hand: 14 x pi/4 x 0.19304^2 mm2 = 0.4097; x 1.02 / 58 / 0.4097."""
    size = read_size("14/.0076 in")
    by_hand = 1.02 / 58 / (14 * math.pi / 4 * 0.19304**2)
    assert conductor_resistance(size, length=1) == pytest.approx(by_hand, rel=1e-9)
    assert by_hand == pytest.approx(0.0429, abs=5e-5)
