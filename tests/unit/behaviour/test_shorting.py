"""Two supplies that the wiring sets against each other: told, with the cables, and only then."""

from __future__ import annotations

import pytest
from tests.unit.behaviour.small import HEAD, HORN, plant_of
from tests.unit.behaviour.test_proving import STARTER

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.behaviour.shorting import shorted_supplies

SECOND = """
[item]
second = {{ kind = "battery", rating = "{volts} 40 Ah" }}
tie = {{ kind = "switch" }}
[service.second]
title = "Second battery"
[service.second.cables]
T1 = {{ from = "second.{minus}", to = "earth", size = "10 mm2", length = "0.5 m" }}
T2 = {{ from = "second.{plus}", to = "tie.1", size = "10 mm2", length = "0.5 m" }}
T3 = {{ from = "tie.2", to = "box.bus", size = "10 mm2", length = "0.5 m" }}
"""


def said(text: str, **setting: str) -> tuple[str, ...]:
    plant = plant_of(HEAD, text)
    moves, findings = read_setting(plant, setting)
    assert not findings
    return shorted_supplies(plant, operated(plant, rest(plant), moves))


@pytest.mark.parametrize(
    ("volts", "minus", "plus"), [("24 V", "+", "-"), ("12 V", "-", "+")], ids=["reversed", "another voltage"]
)
def test_two_batteries_at_odds_are_told_with_their_cables(volts, minus, plus):
    """Reversed, 50 V stand across 48 milliohm of batteries and little more; 12 V on 24 is half of that."""
    text = SECOND.format(volts=volts, minus=minus, plus=plus)
    (words,) = said(text, master="on", tie="on")
    assert "Battery and Second are shorted together by the wiring" in words
    assert "S1, S2, S3, T1, T2, T3" in words
    assert said(text, master="on", tie="off") == ()


def test_two_batteries_alike_in_parallel_are_no_short():
    assert said(SECOND.format(volts="24 V", minus="-", plus="+"), master="on", tie="on") == ()


def test_a_starter_is_a_load_however_much_it_takes():
    assert said(STARTER, master="on", **{"starter-push": "pressed"}) == ()


def test_a_common_load_is_no_short():
    assert said(HORN, master="on", throttle="0.1", wheels="moving") == ()
