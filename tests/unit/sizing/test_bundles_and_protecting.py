"""Looms walked by stretches, and fuses judged in the network, against figures worked by hand."""

import math

import pytest

from loomlore.sizing.bundles import Conditions, stretches, warmths
from loomlore.sizing.cable_study import Practice, cable_study
from loomlore.sizing.coverings import covering_of
from loomlore.sizing.duty import study
from loomlore.sizing.switching import switch_reports
from unit.sizing.benches import HEAD, HEATER, WAYS, bench, plant_of

LOOM = """
[place]
here = { at = ["0 m", "0 m", "0 m"] }
middle = { at = ["2 m", "0 m", "0 m"] }
there = { at = ["5 m", "0 m", "0 m"] }

[loom]
run = { route = ["here", "middle", "there"], legs = ["2 m", "3 m"] }

[item]
first-switch = { kind = "switch", place = "here" }
second-switch = { kind = "switch", place = "here" }
first-lamp = { kind = "lamp", rating = "24 V 24 W", place = "middle" }
second-lamp = { kind = "lamp", rating = "24 V 24 W", place = "there" }

[service.lamps]
title = "Lamps"
feed = "box.1"
usual = { size = "1.0 mm2", cover = "rubber and braid" }
[service.lamps.cables]
L1 = { from = "box.1", to = "first-switch.1", length = "0.5 m" }
L2 = { from = "first-switch.1", to = "second-switch.1", length = "0.2 m" }
L3 = { from = "first-switch.2", to = "first-lamp.1", along = "run" }
L4 = { from = "second-switch.2", to = "second-lamp.1", along = "run" }
L5 = { from = "first-lamp.2", to = "earth", length = "0.2 m" }
L6 = { from = "second-lamp.2", to = "earth", length = "0.2 m" }
"""


def test_each_stretch_knows_the_cables_that_lie_in_it():
    found = {(s.first, s.last): set(s.cables) for s in stretches(bench(LOOM).installation.dossier)}
    assert found == {("here", "middle"): {"L3", "L4"}, ("middle", "there"): {"L4"}}


def test_a_cable_is_judged_where_it_lies_worst():
    found = warmths(study(bench(LOOM)), Conditions(ambient=30.0))
    assert found["L4"].stretch.first == "here"
    assert found["L4"].wires == 2
    assert found["L1"].stretch is None
    # MIL-W-5088L chart, two wires at 20 % loading (secondary transcription): 0.94 to 0.96
    assert 0.9 < found["L4"].limit.value / found["L4"].free_air.value < 1.0
    assert found["L1"].limit.value == pytest.approx(found["L1"].free_air.value)


def test_warmer_air_and_height_leave_less():
    here = study(bench(LOOM))
    plain, warm, high = (
        warmths(here, c)["L4"].limit.value
        for c in (
            Conditions(ambient=30.0),
            Conditions(ambient=45.0),
            Conditions(ambient=30.0, altitude=6096.0),
        )
    )
    # the rise left is 15 K of 30: the square root of a half; 0.91 at 20,000 ft is printed in the circular
    assert warm / plain == pytest.approx(math.sqrt(0.5), rel=1e-6)
    assert high / plain == pytest.approx(0.91, rel=1e-6)


def test_period_rubber_is_the_weakest_and_is_assumed_where_nothing_is_said():
    assert covering_of("").assumed
    assert covering_of("").rated == covering_of("rubber, lacquered braid").rated == 60.0
    assert covering_of("PTFE").rated > covering_of("PVC").rated > covering_of("rubber").rated


def _cables(*more, practice=None, strict=True):
    found = cable_study(bench(*more, strict=strict), practice)
    return {report.cable.id: report for report in found.cables}, found


def test_a_short_at_the_far_end_draws_what_ohm_says():
    """25.2 V over battery, main, fuse, cables and the short itself of 5 milliohms; IEC 60228 class 5."""
    cables, _ = _cables(HEATER)
    ohms = 0.024 + 1.5 * 1.91e-3 + 0.005 + 0.08 / 5 + 2 * 19.5e-3 + 0.005 + 6 * 19.5e-3 + 0.005
    # the heater is still there beside the short, and takes next to nothing
    assert cables["H2"].protection.short.current == pytest.approx(25.2 / ohms, rel=0.01)
    assert cables["H2"].protection.short.word == "clears"
    assert cables["H3"].protection.side == "return"
    assert cables["H3"].protection.short is None


def test_a_thin_cable_behind_a_great_fuse_fails_the_chart():
    """AC 43.13-1B table 11-3: No. 18 may have a fuse of 10 A; 1.0 mm2 is taken as No. 18."""
    cables, _ = _cables(HEATER)
    assert cables["H2"].protection.chart.limit.value == 10.0
    assert cables["H2"].protection.chart.passes
    great = WAYS.replace('1 = { fuse = "5 A" }', '1 = { fuse = "20 A" }')
    found = cable_study(plant_of(HEAD, great, HEATER))
    own = next(r for r in found.cables if r.cable.id == "H2")
    assert not own.protection.chart.passes
    assert own.word == "fails"


def test_a_fusing_figure_carries_less():
    """1.75 between fusing and carrying amperes: common practice, no source."""
    fusing = HEAD.replace('basis = "carrying"', 'basis = "fusing"')
    found = cable_study(plant_of(fusing, WAYS, HEATER))
    own = next(f for f in found.fuses if f.name == "box.1")
    assert own.carrying.value == pytest.approx(5 / 1.75)
    assert own.fusing.value == 5.0
    assert own.word == "in doubt"  # 4 A for good, more than the 2.9 A it is made to carry


def test_a_cable_that_no_fuse_protects_is_called_bare():
    cables, _ = _cables(HEATER)
    assert cables["S2"].protection.bare
    assert not cables["H1"].protection.bare
    assert cables["S2"].protection.short.word == "no fuse"


MOTOR = """
[item]
pump-switch = { kind = "switch" }
pump = { kind = "pump", rating = "24 V 192 W", stall = "400 %" }

[service.pump]
title = "Pump"
feed = "box.2"
[service.pump.cables]
P1 = { from = "box.2", to = "pump-switch.1", size = "2.5 mm2", length = "1 m" }
P2 = { from = "pump-switch.2", to = "pump.1", size = "2.5 mm2", length = "1 m" }
P3 = { from = "pump.2", to = "earth", size = "2.5 mm2", length = "1 m" }
"""


def test_a_motor_starts_at_four_times_and_the_fuse_is_asked_to_stand_it():
    _, found = _cables(MOTOR)
    own = next(f for f in found.fuses if f.name == "box.2")
    assert own.starting == pytest.approx(4 * 192 / 24)
    assert own.word == "in doubt"
    assert "starts" in own.words


FEEDER = """
[item]
feeder = { kind = "fuse", rating = "RATING" }
"""


@pytest.mark.parametrize(("rating", "passes"), [("20 A", True), ("15 A", False)])
def test_the_fuse_above_must_be_twice_as_great(rating, passes):
    """Two to one for fuses of one type: common practice, no source."""
    ways = WAYS.replace('to = "box.bus"', 'to = "feeder.1"').replace(
        "[service.supply.cables]",
        "[service.supply.cables]\n"
        'S4 = { from = "feeder.2", to = "box.bus", size = "10 mm2", length = "0.5 m" }',
    )
    found = cable_study(plant_of(HEAD, ways, FEEDER.replace("RATING", rating), MOTOR))
    own = next(f for f in found.fuses if f.name == "box.2")
    assert own.discrimination.passes is passes
    assert found.plant.network.branches[own.above].name == "feeder.wire"


def test_a_switch_is_asked_for_the_factor_of_what_it_works():
    """AC 43.13-1B table 11-4 at 28 V: lamps 8, motors 3, heaters 2."""
    lamps = {r.item: r for r in switch_reports(study(bench(LOOM)))}
    heater = {r.item: r for r in switch_reports(study(bench(HEATER)))}
    motor = {r.item: r for r in switch_reports(study(bench(MOTOR)))}
    assert lamps["first-switch"].required.value == pytest.approx(8 * lamps["first-switch"].current, rel=1e-3)
    assert heater["heater-switch"].required.value == pytest.approx(
        2 * heater["heater-switch"].current, rel=1e-3
    )
    assert motor["pump-switch"].required.value == pytest.approx(3 * motor["pump-switch"].current, rel=1e-3)


def test_a_stamped_switch_is_judged():
    stamped = HEATER.replace('{ kind = "switch" }', '{ kind = "switch", rating = "24 V 5 A" }')
    _, found = _cables(stamped)
    own = next(s for s in found.switches if s.item == "heater-switch")
    assert not own.judgement.passes  # 4 A of heater want a switch of 8 A


def test_the_period_judges_by_its_own_amperes():
    cables, _ = _cables(HEATER, practice=Practice(carrying={"1.0 mm2": 3.0}))
    assert not cables["H2"].period.passes
    assert cables["H2"].word == "fails"
    assert cables["S2"].period is None


BARE = """
[item]
lamp-switch = { kind = "switch" }
lamp = { kind = "lamp", rating = "24 V" }

[service.lamp]
title = "Lamp"
feed = "box.2"
[service.lamp.cables]
B1 = { from = "box.2", to = "lamp-switch.1", size = "1.0 mm2" }
B2 = { from = "lamp-switch.2", to = "lamp.1", length = "2 m" }
B3 = { from = "lamp.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


def test_what_is_missing_is_a_finding_that_says_what_it_blocks_and_the_rest_is_answered():
    cables, found = _cables(HEATER, BARE, strict=False)
    rules = {finding.rule: finding for finding in found.findings}
    assert {"size-lacking", "length-lacking", "rating-lacking"} <= set(rules)
    assert "B2" in rules["size-lacking"].message
    assert "fuse" in rules["size-lacking"].message
    assert "B1" in rules["length-lacking"].message
    assert "not answered" in rules["rating-lacking"].message
    assert cables["B2"].word == "not judged"
    assert cables["H2"].word == "passes"


def test_a_dossier_that_says_no_basis_is_told_what_hangs_on_it():
    found = cable_study(bench(HEATER), basis_given=False)
    own = next(f for f in found.findings if f.rule == "basis-lacking")
    assert "1.75" in own.message
