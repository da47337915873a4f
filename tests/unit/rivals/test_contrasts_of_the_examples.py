"""What each planted disagreement of the examples comes to, against figures worked by hand.

What is planted stands in ``examples/README.md``. Laws used by hand: copper 1/58 ohm mm2/m, 2 % for the lay of
strands; a lamp's amperes as the 0.56 and its light as the 3.4 power of its volts (tests/published).
"""

from __future__ import annotations

import re
from math import pi
from pathlib import Path

import pytest

from loomlore.answers.opening import Opened, open_dossier
from loomlore.evidence.disagreements import weigh
from loomlore.rivals.contrasting import Contrast, Other, contrasts

EXAMPLES = Path(__file__).parents[3] / "examples"
INCH = 25.4


def contrasts_of(name: str, only: str = "") -> dict[str, Contrast]:
    opened: Opened = open_dossier(EXAMPLES / name)
    weighed = weigh(opened.dossier, opened.kinds)
    every = contrasts(opened.dossier, opened.kinds, weighed, opened.plant, opened.fits())
    return {contrast.about: contrast for contrast in every if only in contrast.about}


@pytest.fixture(scope="module")
def amphibian() -> dict[str, Contrast]:
    return contrasts_of("mail-amphibian")


def numbers(words: str, unit: str) -> list[float]:
    return [float(n) for n in re.findall(rf"(-?[0-9.]+) {re.escape(unit)}", words)]


def changes(other: Other, what: str, subject: str = ""):
    return [c for c in other.changes if c.what == what and subject.casefold() in c.subject.casefold()]


def test_every_planted_disagreement_is_told(amphibian):
    planted = {
        "fuse-box-a.ways", "R2.size", "port-regulator.set", "port-generator.rating", "P3.to", "fuse-box-c.3.fuse",
        "tail-lamp.rating", "T4.from", "pilot-dimmer.most", "pressure-head.place", "flotation-push-2.place",
    }  # fmt: skip
    assert set(amphibian) == planted
    for contrast in amphibian.values():
        assert contrast.others, contrast.about
        for other in contrast.others:
            assert other.changes or other.nothing, contrast.about


def test_two_more_spare_ways_change_nothing_that_is_computed(amphibian):
    (other,) = amphibian["fuse-box-a.ways"].others
    assert "Nothing that the tool computes changes" in other.nothing
    assert sorted(re.findall(r"Way (\d+) of 'fuse-box-a'", " ".join(c.otherwise for c in other.changes))) == [
        "10",
        "11",
    ]
    assert all(change.what == "check" for change in other.changes)


def test_the_mooring_lamps_drop_is_i_l_r(amphibian):
    """14.4 m of R2; 1.0 A at 24 V is 1.07 A at 27.2: 0.40 V with 23 strands, 23/14 of it with 14."""
    ohms_a_metre = 1.02 / 58 / (23 * pi / 4 * (0.0076 * INCH) ** 2)
    by_hand = 1.0 * (27.2 / 24) ** 0.56 * 14.4 * ohms_a_metre
    alone, everywhere = amphibian["R2.size"].others
    (drop,) = changes(alone, "drop")
    here, there = (re.search(r"([0-9.]+) V of it in R2", words) for words in (drop.recorded, drop.otherwise))
    assert float(here.group(1)) == pytest.approx(by_hand, abs=0.01)
    assert float(there.group(1)) == pytest.approx(by_hand * 23 / 14, abs=0.015)
    assert "mooring switch on" in drop.setting
    # in all three cables: R1 and R3 have 5.6 and 1.9 m less, and the circular's volt is passed
    assert everywhere.rival.marks == ("R1", "R2", "R3")
    (whole,) = changes(everywhere, "drop")
    assert "within the circular's 1 V" in whole.recorded
    assert "over the circular's 1 V" in whole.otherwise


def test_the_machine_that_is_set_higher_takes_the_load(amphibian):
    """Of two shunt machines in parallel, that whose regulator holds more takes the load: common practice, no source."""
    (other,) = amphibian["port-regulator.set"].others
    (verdict,) = changes(other, "verdict")
    assert verdict.subject == "hb-ammeters"
    assert verdict.recorded == "proved"
    assert verdict.otherwise.startswith("contradicted")
    (port,) = changes(other, "mark", "port-ammeter")
    (starboard,) = changes(other, "mark", "starboard-ammeter")
    assert numbers(port.otherwise, "A")[0] > numbers(port.recorded, "A")[0] > 0
    assert numbers(starboard.otherwise, "A")[0] < 0 < numbers(starboard.recorded, "A")[0]


def test_a_smaller_machine_is_asked_for_a_greater_share_of_the_same_amperes(amphibian):
    (other,) = amphibian["port-generator.rating"].others
    figures = changes(other, "machine")
    asked = []
    for figure in figures:
        for words in (figure.recorded, figure.otherwise):
            share, output = re.match(r"(\d+)% of ([0-9.]+) A", words).groups()
            asked.append(float(share) / 100 * float(output))
    assert len(asked) == 4  # both machines, and one alone
    assert asked[3] == pytest.approx(asked[2], rel=0.01)
    assert figures[1].otherwise.endswith("of 30 A")
    assert figures[0].otherwise.endswith("of 66 A")


def test_the_shared_earth_bolt_shows_when_it_is_off(amphibian):
    """With the hold bolt off the pump's current goes home through the hold lamps (examples/README.md)."""
    (other,) = amphibian["P3.to"].others
    (bolt,) = changes(other, "bolt")
    assert "Hold lamp 1 lit" in bolt.recorded
    assert "hold bolt" in bolt.recorded
    assert bolt.otherwise == "(the well bolt) nothing of other services comes to life"
    assert not changes(other, "verdict")


def test_a_ten_ampere_fuse_would_go_before_both_cartridges(amphibian):
    """0.8 + 1.0 + 0.1 ohm a cartridge: 12.6 A of 24 V each, 25 together; 10 A fuses at 17.5, 20 A at 35."""
    by_hand = 2 * 24 / 1.9
    (other,) = amphibian["fuse-box-c.3.fuse"].others
    (fuse,) = changes(other, "fuse")
    asked = numbers(fuse.subject, "A")[0]
    assert asked == pytest.approx(by_hand * 27.5 / 24, rel=0.1)  # worst with the generators running
    assert "under the 35 A that melts it" in fuse.recorded
    assert "it would go" in fuse.otherwise
    assert "17.5 A that melts it" in fuse.otherwise


def test_the_later_tail_lamp_is_over_run(amphibian):
    (other,) = amphibian["tail-lamp.rating"].others
    (lamp,) = changes(other, "amount", "tail-lamp")
    for words, rated in ((lamp.recorded, 28.0), (lamp.otherwise, 24.0)):
        volts = numbers(words, "V")[0]
        assert float(re.search(r"light (\d+)%", words).group(1)) / 100 == pytest.approx(
            (volts / rated) ** 3.4, abs=0.02
        )
    milliamps = [numbers(words, "mA")[0] for words in (lamp.recorded, lamp.otherwise)]
    assert milliamps[0] == pytest.approx(1000 * 12 / 28 * (27.5 / 28) ** 0.56, rel=0.01)
    assert milliamps[1] == pytest.approx(1000 * 6 / 24 * (27.6 / 24) ** 0.56, rel=0.01)


def test_crossed_tank_leads_make_the_gauge_read_backwards(amphibian):
    """What one reading has above the middle of the 0 to 90 scale the other has as far below it."""
    (other,) = amphibian["T4.from"].others
    assert "T6 is taken to be exchanged with it" in other.rival.aside
    for mark in changes(other, "mark", "port-gauge"):
        right, backwards = (numbers(w, "gal(UK) (flight)")[0] for w in (mark.recorded, mark.otherwise))
        assert right + backwards == pytest.approx(90, abs=0.5)
        assert abs(right - 45) > 10


def test_a_smaller_rheostat_leaves_the_lamp_brighter(amphibian):
    (other,) = amphibian["pilot-dimmer.most"].others
    (lamp,) = changes(other, "state", "pilot-lamp")
    assert lamp.recorded.startswith("glimmering")
    assert lamp.otherwise.startswith("lit")
    # knob a shade under half way: about 77 ohm of 150, 62 of 120; what is over the track agrees with that
    (track,) = changes(other, "amount", "pilot-dimmer")
    ohms = [numbers(w, "V")[0] / numbers(w, "mA")[0] * 1000 for w in (track.recorded, track.otherwise)]
    assert ohms[0] / ohms[1] == pytest.approx(150 / 120, rel=0.02)


@pytest.mark.parametrize("about", ["pressure-head.place", "flotation-push-2.place"])
def test_another_place_is_a_matter_of_lengths_and_of_nothing_that_is_seen(amphibian, about):
    (other,) = amphibian[about].others
    assert {change.what for change in other.changes} <= {"drop", "check", "amount"}
    assert changes(other, "check")  # the looms no longer pass by it


def test_the_launch_charges_alongside_with_the_mains_other_end():
    """``charges-on-the-quay`` fails of the survey's G3 and holds of the diagram's (examples/README.md)."""
    (other,) = contrasts_of("harbour-launch", "G3")["G3.to"].others
    (verdict,) = changes(other, "verdict")
    assert verdict.subject == "charges-on-the-quay"
    assert verdict.recorded.startswith("contradicted")
    assert verdict.otherwise == "proved"


def test_twice_the_watts_take_twice_the_amperes():
    (other,) = contrasts_of("glider-tug")["tail-lamp.rating"].others
    (lamp,) = changes(other, "amount", "tail-lamp")
    assert numbers(lamp.otherwise, "A")[0] == pytest.approx(
        2 * numbers(lamp.recorded, "mA")[0] / 1000, rel=0.03
    )
