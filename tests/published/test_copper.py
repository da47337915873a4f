"""IEC 60028 copper, its temperature law, and two independent tables that were made from it."""

import math

import pytest

from loomlore.catalogue.conductors import (
    ALUMINIUM,
    CIRCULAR_MIL,
    COPPER,
    awg_diameter,
    temperature_factor,
    temperature_factor_iec60228_2004,
)
from loomlore.references import OutOfRange
from published.printed import FOOT, agrees_with_print, printed_rows


def test_resistivity():
    # 17.241 ohm mm2/km, read on a secondary page; 10.3712 ohm cmil/ft computed from 1/58
    assert agrees_with_print(COPPER.resistivity * 1e9, "17.241")
    assert agrees_with_print(COPPER.resistivity / CIRCULAR_MIL * FOOT, "10.3712")


def test_zero_resistance_temperatures_as_read():
    """AC 43.13-1B par 11-66d(4), p 11-22."""
    assert COPPER.zero == -234.5
    assert ALUMINIUM.zero == -238.1


def test_density_beside_the_mass_resistivity():
    """8.89 from memory; the standard's own 0.15328 ohm g/m2, from memory too, closes it with 1/58."""
    assert agrees_with_print(COPPER.resistivity * COPPER.density * 1e3, "0.15328")


def test_temperature_coefficient():
    # 0.00393 per kelvin at 20 °C, read on a secondary page
    assert agrees_with_print(temperature_factor(21.0) - 1, "0.00393")
    # aluminium 0.00403 is from memory; AC 43.13-1B's 238.1 was read and gives 0.003874: they are two grades
    assert temperature_factor(21.0, metal=ALUMINIUM) - 1 == pytest.approx(1 / 258.1, rel=1e-9)


@pytest.mark.parametrize("row", printed_rows("copper_75C_check"), ids=lambda row: f"No {row['awg']}")
def test_solid_wire_at_75_degrees(row):
    """NFPA 70, chapter 9, table 8: an independent table, made with other constants. Read."""
    area = math.pi / 4 * awg_diameter(row["awg"]) ** 2
    own = COPPER.resistivity / area * temperature_factor(75.0) * 1000
    assert agrees_with_print(own, row["published_R75_ohm_km"])


@pytest.mark.parametrize("row", printed_rows("conductor_temperature_factors"), ids=lambda row: row["t_C"])
def test_factors_of_the_cable_standard(row):
    """IEC 60228, k_t as printed to three decimals. Read."""
    temperature = float(row["t_C"])
    printed = row["kt_published"]
    padded = printed + "0" * (3 - len(printed.partition(".")[2]))
    assert agrees_with_print(1 / temperature_factor_iec60228_2004(temperature), padded)
    assert temperature_factor(temperature) == pytest.approx(
        temperature_factor_iec60228_2004(temperature), rel=5e-3
    )


@pytest.mark.parametrize("temperature", [-234.5, -300.0, 1200.0, math.nan])
def test_senseless_temperatures_are_refused(temperature):
    with pytest.raises(OutOfRange):
        temperature_factor(temperature)
