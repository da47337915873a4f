"""How long a cable is; every figure worked by hand from the trial record's places and legs."""

import pytest

from loomlore.record.lengths import cable_length
from trial_record import TRIAL, reading_of, spoilt


def length_of(mark: str, text: str = TRIAL):
    dossier = reading_of(text).dossier
    return cable_length(dossier.cables[mark], dossier)


def test_what_is_written_stands():
    found = length_of("H1")
    assert (found.quantity.value, found.how, found.estimated) == (0.6, "given", False)


def test_a_core_is_as_long_as_its_sheath():
    found = length_of("L2")
    assert (found.quantity.value, found.how) == (6.0, "sheath")


def test_legs_and_an_allowance_at_each_end():
    # panel to bay 3.4 m, twice 0.1 m; panel to tip 3.4 + 8.6 m, twice 0.1 m
    assert length_of("H2").quantity.value == pytest.approx(3.6)
    assert length_of("L5").quantity.value == pytest.approx(12.2)
    assert length_of("L5").how == "loom"
    assert not length_of("L5").estimated


def test_the_doubt_of_legs_adds_up():
    text = spoilt('legs = ["3.4 m", "8.6 m"]', 'legs = ["3.2 to 3.6 m", "8.6 m ± 0.1 m"]')
    quantity = length_of("L5", text).quantity
    assert quantity.low == pytest.approx(3.2 + 8.5 + 0.2)
    assert quantity.high == pytest.approx(3.6 + 8.7 + 0.2)


def test_a_loom_without_legs_goes_by_the_places_and_says_so():
    text = spoilt(', legs = ["3.4 m", "8.6 m"]', "")
    found = length_of("L5", text)
    # places 3 m and 8 m apart, x 1.3, twice 0.1 m; at best straight, at worst x 1.6
    assert found.quantity.value == pytest.approx(1.3 * 11 + 0.2)
    assert found.quantity.low == pytest.approx(11.2)
    assert found.quantity.high == pytest.approx(1.6 * 11 + 0.2)
    assert found.estimated


def test_an_item_beside_the_loom_joins_it_at_the_nearest_place():
    text = spoilt(
        'horn = { kind = "horn", rating = "24 V 42 W", place = "bay" }',
        'horn = { kind = "horn", rating = "24 V 42 W", at = ["5 m", "2 m", "1 m"] }',
    )
    found = length_of("H2", text)
    # 3.4 m of loom, a tail of 2 m x 1.3, twice 0.1 m
    assert found.quantity.value == pytest.approx(3.4 + 2.6 + 0.2)
    assert found.estimated


def test_else_the_straight_distance_times_1_3():
    text = spoilt('to = "horn.1", along = "main" }', 'to = "horn.1" }')
    found = length_of("H2", text)
    assert found.quantity.value == pytest.approx(3.9)
    assert (found.how, found.estimated, found.quantity.assumed) == ("straight", True, True)


def test_nothing_known_is_nothing():
    text = spoilt(
        'horn = { kind = "horn", rating = "24 V 42 W", place = "bay" }',
        'horn = { kind = "horn", rating = "24 V 42 W" }',
    )
    assert length_of("H2", text) is None
    same_place = spoilt('to = "horn-switch.1", length = "0.6 m"', 'to = "horn-switch.1"')
    assert length_of("H1", same_place) is None
