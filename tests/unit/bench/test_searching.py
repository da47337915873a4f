"""The search takes both of the trade's vocabularies (pairs: common practice, no source)."""

import pytest

from loomlore.bench.searching import search
from small_record import changed, reading_of

RECORD = changed(
    "horn     = {",
    'pitot = { kind = "pressure-head", name = "Pressure head" }\nstart = { kind = "relay", name = "Magnetic relay" }\n'
    'nav = { kind = "lamp", name = "Port navigation lamp" }\nhorn     = {',
)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("horn", "horn"),
        ("HORN switch", "horn-switch"),
        ("pitot tube", "pitot"),
        ("solenoid", "start"),
        ("contactor", "start"),
        ("position light", "nav"),
        ("port position light", "nav"),
        ("bow", "horn"),
        ("wire H1", "H1"),
        ("instrument", "panel"),
        ("hron", "horn"),
    ],
)
def test_found_by_any_name(asked, found):
    assert found in search(reading_of(RECORD).dossier, asked)


@pytest.mark.parametrize("asked", ["", "   ", "?", "zzzzqqq"])
def test_nothing_is_found_for_nothing(asked):
    assert search(reading_of(RECORD).dossier, asked) == []
