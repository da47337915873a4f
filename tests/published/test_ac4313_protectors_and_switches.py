"""AC 43.13-1B (8 September 1998), table 11-3 (p 11-15) and table 11-4 (p 11-17). Read in retrieved text."""

import pytest

from loomlore.catalogue.conductors import aircraft_wires, conductor_area
from loomlore.quantities import read_size
from loomlore.references import OutOfRange
from loomlore.sizing.protection import protector_limit_ac4313_1998
from loomlore.sizing.switch_ratings import switch_factor
from published.printed import printed_rows

PROTECTORS = printed_rows("ac4313_protectors")
SWITCHES = printed_rows("ac4313_switch_derating")


@pytest.mark.parametrize("row", PROTECTORS, ids=lambda row: f"No {row['awg_copper']}")
def test_protectors_as_printed(row):
    area = aircraft_wires()[row["awg_copper"]].area
    assert protector_limit_ac4313_1998(area, kind="fuse").value == float(row["fuse_A"])
    # Nos. 1 and 0 have no breaker in the print: that of the next thinner, No. 2, stands for them
    assert protector_limit_ac4313_1998(area, kind="breaker").value == float(row["breaker_A"] or 125)


def test_a_period_conductor_takes_the_thinner_row():
    # 23/.0076 in is 0.673 mm2, between No. 20 (0.616) and No. 18 (0.963): 5 A, not 10
    area = conductor_area(read_size("23/.0076 in"))
    assert protector_limit_ac4313_1998(area, kind="fuse").value == 5
    assert protector_limit_ac4313_1998(area, kind="breaker").value == 7.5


def test_thinner_than_the_table_is_refused():
    with pytest.raises(OutOfRange, match="table 11-3"):
        protector_limit_ac4313_1998(aircraft_wires()["24"].area, kind="fuse")


@pytest.mark.parametrize("row", SWITCHES, ids=lambda row: f"{row['nominal_V']} V {row['load']}")
def test_switch_factors_as_printed(row):
    load = row["load"].split(" ")[0]
    assert switch_factor(float(row["nominal_V"]), load).value == float(row["factor"])


def test_the_trades_names_of_the_same_systems():
    assert switch_factor(24, "motor").value == switch_factor(28, "motor").value == 3
    assert switch_factor(14, "motor").value == switch_factor(12, "motor").value == 2


def test_a_supply_without_a_row_is_refused():
    with pytest.raises(OutOfRange, match="table 11-4"):
        switch_factor(110, "lamp")
