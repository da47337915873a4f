"""Bonding and insulation limits as the cards print them.

Bonding: AC 43.13-1B (8 September 1998) par 11-188f, page 11-74, "less than 0.0025 ohm" and par 11-189, "0.003 ohm":
read in a retrieved text; FAA-H-8083-32 chapter 4, 0.005 ohm from the generator or battery earth to any equipment's:
read. Insulation and the 0.05 ohm: CAP 562 leaflet 9-1, all from memory, the print not seen; the card must say so.
"""

import pytest

from loomlore.faults.cards.limits import MEMORY, bonding_limits, insulation_limits
from loomlore.quantities import read_quantity

BONDING_OHMS = {
    "equipment frame to structure": 0.0025,
    "each bonding strip's joint": 0.003,
    "generator or battery earth to any equipment earth": 0.005,
}
INSULATION_MEGOHMS = {
    "wheel wells, engines and nacelles": 2,
    "lighting and signalling": 5,
    "all other services": 10,
    "rotating machines": 0.5,
}


def figure(words):
    number = words.removeprefix("under ").removesuffix(" at most")
    return read_quantity(number, "resistance").value


@pytest.mark.parametrize("what", BONDING_OHMS)
def test_bonding_limits_that_were_read(what):
    limit = next(x for x in bonding_limits() if x.what == what)
    assert figure(limit.words) == pytest.approx(BONDING_OHMS[what])
    assert limit.status == "read"


@pytest.mark.parametrize("what", INSULATION_MEGOHMS)
def test_insulation_limits_are_as_remembered_and_say_so(what):
    limit = next(x for x in insulation_limits() if x.what == what)
    assert figure(limit.words) == pytest.approx(INSULATION_MEGOHMS[what] * 1e6)
    assert limit.status == MEMORY


def test_the_main_earth_limit_is_from_memory():
    limit = next(x for x in bonding_limits() if x.what == "parts carrying the main earth current")
    assert figure(limit.words) == pytest.approx(0.05)
    assert limit.status == MEMORY
