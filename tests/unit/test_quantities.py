"""Amounts, ratings, sizes and dates.

Units are exact by definition, and stand here from memory: inch 25.4 mm and pound 0.453 592 37 kg (the
international yard and pound of 1959), UK gallon 4.546 09 l (Weights and Measures Act 1985), US gallon 231
cubic inches = 3.785 411 784 l, nautical mile 1852 m, statute mile 1609.344 m, pound-force per square inch
6894.757 293 168 Pa (with g = 9.806 65 m/s2).
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.findings import UnreadableValue
from loomlore.quantities import (
    DIMENSIONS,
    UNITS,
    as_bare,
    as_written,
    read_date,
    read_quantity,
    read_rating,
    read_size,
)


@pytest.mark.parametrize(
    ("text", "value", "dimension"),
    [
        ("1 in", 0.0254, "length"),
        ("3 ft 6 in", 42 * 0.0254, "length"),
        ("1 lb", 0.45359237, "mass"),
        ("1 gal(UK)", 4.54609e-3, "volume"),
        ("1 gal(US)", 3.785411784e-3, "volume"),
        ("36 kt", 36 * 1852 / 3600, "speed"),
        ("60 mph", 60 * 1609.344 / 3600, "speed"),
        ("36 km/h", 10.0, "speed"),
        ("10 lb/in2", 68947.57293168, "pressure"),
        ("1/3 A", 1 / 3, "current"),
        ("2 1/2 A", 2.5, "current"),
        ("60 mV", 0.06, "voltage"),
        ("45 Ah", 45 * 3600, "charge"),
        ("1.5 h", 5400, "time"),
        ("80 %", 0.8, "fraction"),
        ("10 deg/s", 10, "angle/time"),
        ("6 deg/min", 0.1, "angle/time"),
        ("-5 A", -5, "current"),
        ("2.5mm²", 2.5e-6, "area"),
    ],
)
def test_units_are_what_they_are_defined_as(text, value, dimension):
    found = read_quantity(text)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.dimension == dimension
    assert found.exact
    assert found.text == text


@pytest.mark.parametrize(
    ("text", "low", "value", "high"),
    [
        ("about 2 m", 1.6, 2, 2.4),  # 20 %, the record's own rule
        ("assumed 2 m", 1, 2, 3),  # 50 %
        ("2 m ± 0.1 m", 1.9, 2, 2.1),
        ("2 ± 0.1 m", 1.9, 2, 2.1),
        ("2 m +- 5 %", 1.9, 2, 2.1),
        ("2 m +/- 0.1 m", 1.9, 2, 2.1),
        ("1.8 to 2.2 m", 1.8, 2, 2.2),
        ("-5 to -3 A", -5, -4, -3),
        ("at least 2 m", 2, 2, math.inf),
        ("at most 2 m", 0, 2, 2),
    ],
)
def test_doubt_has_two_ends(text, low, value, high):
    found = read_quantity(text)
    assert (found.low, found.value, found.high) == pytest.approx((low, value, high))
    assert found.assumed == text.startswith("assumed")


@pytest.mark.parametrize(
    ("text", "write"),
    [
        ("2.4", "'2.4 m'"),
        ("2,4 m", "'2.4 m'"),
        ("1,000 m", "'1000 m'"),
        ("two metres", "figures"),
        ("2.4 metres", "'2.4 m'"),
        ("2.4 M", "'2.4 m'"),
        ("24 V", "'2.4 m'"),
        ("approx 2 m", "'about 2 m'"),
        ("~2 m", "'about 2 m'"),
        ("c. 2 m", "'about 2 m'"),
        ("2-3 m", "'2 to 3 m'"),
        ("2 – 3 m", "'2 to 3 m'"),
        ("max. 3 m", "'at most 3 m'"),
        (">= 3 m", "'at least 3 m'"),
        ("−0.3 m", "'-0.3 m'"),
        ("3 to 2 m", "lower end first"),
        ("2 m 5 V", "one amount"),
        ("", "'2.4 m'"),
        ("1/0 m", "number"),
        ("2.4.1 m", "point"),
        ("1e999 m", "plain number"),
    ],
)
def test_what_is_no_length_says_what_to_write(text, write):
    with pytest.raises(UnreadableValue) as refused:
        read_quantity(text, "length")
    assert write in refused.value.hint
    assert refused.value.hint.endswith(".")


@given(st.sampled_from(sorted(UNITS)), st.floats(min_value=1e-6, max_value=1e6))
def test_a_number_and_any_unit_read_back(unit, number):
    found = read_quantity(f"{as_bare(number)} {unit}")
    factor, dimension = UNITS[unit]
    assert found.value == number * factor
    assert found.dimension == dimension


@given(st.text(max_size=30), st.sampled_from([None, *DIMENSIONS]))
def test_any_text_is_an_amount_or_is_refused_with_a_hint(text, dimension):
    try:
        found = read_quantity(text, dimension)
    except UnreadableValue as refused:
        told = refused.message, refused.hint
    else:
        told = found.low <= found.high, math.isfinite(found.value)
    assert all(told)


def test_a_rating_is_read_as_stamped():
    assert {k: q.value for k, q in read_rating("24 V 6 W").items()} == {"voltage": 24, "power": 6}
    assert {k: q.value for k, q in read_rating("12V 40 Ah").items()} == {"voltage": 12, "charge": 144000}
    assert {k: q.value for k, q in read_rating("24 V, 80 ohm").items()} == {"voltage": 24, "resistance": 80}


@pytest.mark.parametrize(
    ("text", "write"),
    [
        ("24/6", "unit"),
        ("24 V 6", "'24 V 6 W'"),
        ("24V,6W", "'24 V 6 W'"),
        ("24 V / 6 W", "'24 V 6 W'"),
        ("36 A at 28 V", "'36 A 28 V'"),
        ("24 V 28 V", "'ratings'"),
        ("24 V 6 watts", "'24 V 6 W'"),
        ("", "leave the key out"),
    ],
)
def test_a_bad_rating_says_what_to_write(text, write):
    with pytest.raises(UnreadableValue) as refused:
        read_rating(text)
    assert write in refused.value.hint


def test_sizes_have_the_area_of_their_metal():
    # 23 strands of 0.0076 in: 23 x pi/4 x (0.0076 x 25.4 mm)^2, worked by hand: 0.6731 mm2
    assert read_size("23/.0076 in").area == pytest.approx(0.6731e-6, rel=1e-4)
    # 14/0.30 mm: 14 x 0.0706858 mm2 = 0.98960 mm2
    assert read_size("14/0.30 mm").area == pytest.approx(0.98960e-6, rel=1e-5)
    assert read_size("1.5 mm2").area == pytest.approx(1.5e-6)
    assert read_size("twin 14/.0076 in").cores == 2
    assert (read_size("AWG 16").form, read_size("AWG 16").gauge) == ("awg", "16")
    assert (read_size("swg 20").form, read_size("SWG 20").area) == ("swg", 0)


@pytest.mark.parametrize(
    ("text", "write"),
    [
        ("14/.0076", "'14/.0076 in'"),
        ("14/0.30", "'14/0.30 mm'"),
        ('14/.0076"', "'14/.0076 in'"),
        ("16 AWG", "'AWG 16'"),
        ("20 s.w.g.", "'SWG 20'"),
        ("1,5 mm2", "'1.5 mm2'"),
        ("1.5 sq mm", "'1.5 mm2'"),
        ("1.5", "'1.5 mm2'"),
        ("0/.0076 in", "14/0.30 mm"),
        ("thick", "'1.0 mm2'"),
    ],
)
def test_a_bad_size_says_what_to_write(text, write):
    with pytest.raises(UnreadableValue) as refused:
        read_size(text)
    assert write in refused.value.hint


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("1937", "1937-01-01", "1937-12-31"),
        ("1936-02", "1936-02-01", "1936-02-29"),  # a leap year
        ("1937-02", "1937-02-01", "1937-02-28"),
        ("1937-05-11", "1937-05-11", "1937-05-11"),
        ("about 1937", "1935-01-01", "1939-12-31"),
        ("1937 to 1939-06", "1937-01-01", "1939-06-30"),
        ("before 1940", "", "1940-01-01"),
        ("after 1940-03", "1940-03-31", ""),
    ],
)
def test_dates_have_two_ends(text, earliest, latest):
    found = read_date(text)
    assert (found.earliest, found.latest) == (earliest, latest)


@pytest.mark.parametrize(
    ("text", "write"),
    [
        ("11 May 1937", "'1937-05-11'"),
        ("May 1937", "'1937-05'"),
        ("circa 1937", "'about 1937'"),
        ("1937-39", "'1937 to 1939'"),
        ("1930s", "'1930 to 1939'"),
        ("1937-5-1", "'1937-05-01'"),
        ("11/5/1937", "(year, month, day)"),  # day or month first? never guessed
        ("1937-02-29", "'1937'"),
        ("1937-13", "'1937'"),
        ("1939 to 1937", "'1937 to 1939'"),
    ],
)
def test_a_bad_date_says_what_to_write(text, write):
    with pytest.raises(UnreadableValue) as refused:
        read_date(text)
    assert write in refused.value.hint


@given(st.text(max_size=20))
def test_any_text_is_a_date_a_size_a_rating_or_is_refused(text):
    for read in (read_date, read_size, read_rating):
        try:
            told = bool(read(text))
        except UnreadableValue as refused:
            told = bool(refused.message and refused.hint)
        assert told


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_by_hand_is_the_same_number(number):
    text = as_bare(number)
    assert float(text) == number
    assert "e" not in text


@given(
    st.floats(min_value=1e-3, max_value=1e4),
    st.sampled_from(["voltage", "current", "power", "length", "time"]),
)
def test_what_is_written_reads_back_to_three_digits(value, dimension):
    assert read_quantity(as_written(value, dimension), dimension).value == pytest.approx(value, rel=6e-3)
