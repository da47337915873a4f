"""Rules of load analysis as printed in AC 43.13-1B, FAA-H-8083-32 and installation manuals."""

import re

import pytest

from loomlore.sizing.drop import feeder_drop_limit
from loomlore.sizing.load_rules import (
    assumed_capacity_share,
    generator_limit,
    generator_limit_190_00734_17,
    low_volts_warning,
)
from published.printed import is_read, printed_rows


def rule(name):
    (row,) = printed_rows("load_rules", rule=name)
    return row["value"], is_read(row)


def numbers(text):
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", text)]


def test_eighty_per_cent_of_the_generator():
    """AC 43.13-1B par 11-35a, p 11-12. Read."""
    value, read = rule("generator continuous load without placard/monitor")
    assert read
    assert generator_limit(100.0).value == numbers(value)[0] == 80.0
    assert generator_limit(100.0, monitored=True).value == 100.0


def test_low_volts_warning():
    """AC 43.13-1B par 11-35b, p 11-12. Read."""
    value, read = rule("low-bus-voltage warning")
    assert read
    warn_14, system_14, warn_28, system_28 = numbers(value)
    assert low_volts_warning(system_14).value == low_volts_warning(12).value == warn_14
    assert low_volts_warning(system_28).value == low_volts_warning(24).value == warn_28


def test_feeder_drop():
    """FAA-H-8083-32 chapter 4; AC 43.13-1B par 11-66. Read."""
    value, read = rule("feeder drop generator or battery to bus")
    assert read
    assert feeder_drop_limit(28.5).value == pytest.approx(numbers(value)[0] / 100 * 28.5)


def test_take_off_and_landing():
    """190-00734-17 rev 1 p 3-24. Read."""
    value, read = rule("alternator load in take-off/landing with pitot heat and landing light")
    assert read
    with_lamp, without = numbers(value)
    assert generator_limit_190_00734_17(100.0, landing_lamp=True).value == with_lamp
    assert generator_limit_190_00734_17(100.0, landing_lamp=False).value == without


def test_assumed_capacity():
    """American 75 % read in 190-01007-A3; British 80 % x 90 % from memory."""
    value, read = rule("assumed battery capacity US practice")
    assert read
    american = assumed_capacity_share("us")
    assert american.value == numbers(value)[0] / 100
    assert american.status == "read"
    value, read = rule("assumed battery capacity UK/EU")
    assert not read
    british = assumed_capacity_share("uk")
    assert british.value == pytest.approx(numbers(value)[-1] / 100)
    assert british.status == "memory"
