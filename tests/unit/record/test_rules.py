"""Each slip in a sound record makes one finding, of the right rule, at the line where it is."""

# ruff: noqa: E501  the cases stand one a line, as they would in a record

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.findings import Severity
from loomlore.record.rules import check_connections, check_record
from loomlore.record.rules.working import blocks
from small_record import PAGE
from trial_record import TRIAL, added, found_in, installation_of, line_of, reading_of, spoilt


def test_a_sound_record_has_no_findings():
    assert found_in(TRIAL) == ()


# what stands there, what is written instead, the rule, a word of the hint
ENDS = [
    ('from = "battery.-"', 'from = "batery.-"', "unknown-item", "'battery.-'"),
    ('to = "horn.1"', 'to = "horn.3"', "unknown-terminal", "horn.1, horn.2"),
    ('to = "horn.1"', 'to = "horn"', "no-terminal", "horn.1, horn.2"),
    ('to = "tank-unit.L"', 'to = "tank-unit.l"', "unknown-terminal", "'tank-unit.L'"),
    ('to = "earth.panel-bolt", core', 'to = "earth.panel-blot", core', "unknown-bolt", "'panel-bolt'"),
    ('{ from = "horn.2", to = "earth.bay-bolt"', '{ from = "horn.2", to = "horn.2"', "cable-to-itself", "ends"),
]  # fmt: skip

THINGS = [
    ('horn = { kind = "horn", ', 'horn = { kind = "hron", ', "unknown-kind", "'horn'"),
    ('place = "tip", binds', 'place = "top", binds', "unknown-place", "'tip'"),
    ("bonds = { bay-bolt", "bonds = { bay-blot", "unknown-bolt", "'bay-bolt'"),
    ('route = ["panel", "bay", "tip"]', 'route = ["panel", "baay", "tip"]', "unknown-place", "'bay'"),
    ('legs = ["3.4 m", "8.6 m"]', 'legs = ["3.4 m", "8.6 in"]', "too-short", "unit"),
    ('to = "master.1", length = "3.5 m"', 'to = "master.1", length = "2 m"', "too-short", "length"),
    ('core = "T1.black"', 'core = "T1.red"', "core-twice", "own core"),
    ('core = "T1.black"', 'core = "T1.blak"', "unknown-core", "'black'"),
    ('core = "T1.black"', 'core = "T2.black"', "unknown-sheath", "T1"),
    ('to = "horn.1", along = "main"', 'to = "horn.1", along = "mian"', "unknown-loom", "'main'"),
    ('mates = "radio-socket"', 'mates = "radio-sockt"', "unknown-item", "'radio-socket'"),
    ('regulated-by = "regulator"', 'regulated-by = "regulater"', "no-regulator", "'regulator'"),
    ('regulated-by = "regulator"', 'regulated-by = "cut-out"', "no-regulator", "regulator"),
    ('binds = { contents = "tank" }', 'binds = { contents = "tnak" }', "unknown-name", "'tank'"),
    ('binds = { contents = "tank" }', 'binds = { contents = "engine-speed" }', "unlike-binding", "fits"),
    ('binds = { contents = "tank" }', 'binds = { content = "tank" }', "unknown-bind", "'contents'"),
    ('binds = { lever = "fire-lever" }', 'binds = { lever = "wheels" }', "unlike-binding", "positions"),
    ("cams = { main =", "cams = { mian =", "unknown-cam", "'main'"),
    ('start = "off" }', 'start = "of" }', "unknown-position", "'off'"),
    ('kind = "fuse-box", ways = 3', 'kind = "fuse-box", way = 3', "unknown-key", "'ways'"),
    ('kind = "fuse-box", ways = 3', 'kind = "fuse-box", ways = "3"', "unfit-parameter", "bare number"),
    (
        'horn = { kind = "horn", rating = "24 V 42 W"',
        'horn = { kind = "horn", rating = "24 V"',
        "rating-missing",
        "24 V 42 W",
    ),
    (
        'lamp = { kind = "lamp", rating = "24 V 6 W", ',
        'lamp = { kind = "lamp", ',
        "rating-missing",
        "24 V 6 W",
    ),
    (
        'kind = "receiver", rating',
        'kind = "receiver", works-from = "19 A", rating',
        "unfit-parameter",
        "80 %",
    ),
]

WAYS = [
    ('1 = { fuse = "5 A", text = "Horn" }', '1 = { text = "Horn" }', "way-without-fuse", "5 A"),
    ('3 = { fuse = "5 A" }', '3 = { spare = true }', "spare-way-used", "spare"),
    ('kind = "fuse-box", ways = 3', 'kind = "fuse-box", ways = 4', "way-unused", "spare = true"),
    ('2 = { fuse = "10 A", basis = "fusing" }', '2 = { fuse = "10 A", basis = "fusing" }\n7 = { fuse = "5 A" }', "unknown-way", "1, 2, 3"),
    ('feed = "box.1"', 'feed = "box.4"', "unknown-terminal", "box.1"),
    ('feed = "box.1"', 'feed = "boxx.1"', "unknown-item", "'box.1'"),
]  # fmt: skip

SENTENCES = [
    ('given = "master is on"', 'given = "mastre is on"', "unknown-name", "'master'"),
    ('given = "master is on"', 'given = "master is onn"', "unknown-position", "'on'"),
    ('given = "master is on"', 'given = "master"', "wrong-sense", "master is on"),
    ('main = "throttle < 0.2 and', 'main = "throttle < 20 deg and', "wrong-unit", "0.5"),
    ('when = "throttle < 0.1 and', 'when = "throttle < 1.5 and', "limit-beyond-range", "within"),
    ('wheels is one of (up, moving)"', '(wheels is up or moving)"', "is-one-of", "wheels is one of (up, moving)"),
    ('wheels is one of (up, moving)"', 'wheels is one of (up, mowing)"', "unknown-position", "'moving'"),
    ('then = "horn is sounding"', 'then = "horn is lit"', "unknown-position", "silent"),
    ('then = "horn-switch.silenced and', 'then = "horn-switch.silencd and', "unknown-name", "'horn-switch.silenced'"),
    ('then = "horn-switch.silenced and', 'then = "horn-switch and', "wrong-sense", "horn-switch.silenced"),
    ('see = "gauge is reading"', 'see = "gauge.fligt > 40 gal(UK)"', "unknown-name", "'gauge.flight'"),
    ('see = "gauge is reading"', 'see = "gauge > 4 A"', "wrong-unit", "gal(UK)"),
    ('see = "gauge is reading"', 'see = "amps in H22 > 1 A"', "unknown-name", "H2"),
    ('see = "gauge is reading"', 'see = "volts across horn > 20 A"', "wrong-unit", "24 V"),
    ('see = "gauge is reading"', 'see = "volts at horn.7 > 20 V"', "unknown-name", "1, 2"),
]  # fmt: skip

SETTINGS = [
    ('do = { throttle = 0.1 }', 'do = { throtle = 0.1 }', "unknown-name", "'throttle'"),
    ('{ "horn-switch.push" = "pressed" }', '{ "horn-switch.push" = "presed" }', "unknown-position", "'pressed'"),
    ('do = { master = "on" }', 'do = { horn = "sounding" }', "wrong-sense", "control"),
    ('duty = { lamps = "continuous"', 'duty = { lamp = "continuous"', "unknown-service", "'lamps'"),
    ('do = { master = "on" },', 'do = { master = "on" }, hold = ["master"],', "holds-nothing", "hold"),
    ('start = { engine-speed', 'start = { engin-speed', "unknown-name", "'engine-speed'"),
]  # fmt: skip

SOURCES = [
    ('sources = ["handbook 3.1"]', 'sources = ["hanbook 3.1"]', "unknown-source", "'handbook'"),
    ('source = "handbook 6.2"', 'source = "handbok 6.2"', "unknown-source", "'handbook'"),
    ('copied-from = "handbook"', 'copied-from = "drawing"', "copied-in-circle", "copied-from"),
    ('copied-from = "handbook"', 'copied-from = "sketch"', "unknown-source", "handbook"),
]  # fmt: skip

FITS = [
    ('one-of = ["radio", "no-radio"]', 'one-of = ["radio", "no-radoi"]', "unknown-fit", "'no-radio'"),
    ('change = { lamp = { rating', 'change = { lmap = { rating', "unknown-name", "'lamp'"),
    ('fits = ["radio"]', 'fits = ["radio", "no-radio"]', "not-permitted", "radio, no-radio"),
    ('fits = ["radio"]', 'fits = []', "not-permitted", "radio, no-radio"),
    ('fits = ["no-radio", "mod-1"]', 'fits = ["no-radio", "mod-2"]', "unknown-fit", "'mod-1'"),
    ('place = "bay", mates = "radio-socket", fit = "radio"', 'place = "bay", mates = "radio-socket", fit = "raido"', "unknown-fit", "'radio'"),
    ('place = "bay", mates = "radio-socket", fit = "radio"', 'place = "bay", mates = "radio-socket", fit = "wheels is up"', "unknown-fit", "radio"),
    ('supply = "24 V"', 'supply = "24 V"\nstandard = "delivred"', "unknown-standard", "'delivered'"),
]  # fmt: skip

# the last word is where the finding stands: the one cable that does it, else the item
COPPER = [
    ('from = "battery.+", to = "master.1", along = "main"', 'from = "battery.+", to = "earth.bay-bolt", length = "0.5 m"', "shorted-supply", "battery = {"),
    ('from = "battery.+", to = "master.1", along = "main"', 'from = "battery.+", to = "battery.-", length = "0.5 m"', "shorted-supply", "S2 = {"),
    ('S1 = { from = "battery.-", to', 'S1 = { from = "battery.+", to', "earthed-pole", "battery = {"),
    ('from = "box.1", to = "horn-switch.1", length', 'from = "box.1", to = "earth.panel-bolt", length', "way-to-earth", "H1 = {"),
    ('L4 = { from = "box.2", to = "gauge.+"', 'L4 = { from = "box.2", to = "box.1"', "ways-joined", "L4 = {"),
    ('L4 = { from = "box.2", to = "gauge.+"', 'L4 = { from = "box.2", to = "box.bus"', "bypassed-fuse", "L4 = {"),
    ('from = "lamp.2", to = "earth.panel-bolt", core', 'from = "lamp.1", to = "lamp.2", core', "shorted-element", "L3 = {"),
]  # fmt: skip

PEN = [
    ('title = "Lamps and gauge"', 'title = "Lamps and and gauge"', "word-twice", "Take one out"),
    ('L7 = { from', 'P7 = { from', "odd-mark", "letter"),
    ('H3 = { from = "horn.2", to = "earth.bay-bolt"', 'H3 = { from = "earth.bay-bolt", to = "horn.2"', "runs-backwards", 'from = "horn.2"'),
    ('H1 = { from = "box.1", to = "horn-switch.1"', 'H1 = { from = "horn-switch.1", to = "box.1"', "runs-backwards", 'from = "box.1"'),
    ('H2 = { from = "horn-switch.2", to = "horn.1"', 'H2 = { from = "horn.1", to = "horn-switch.2"', "runs-backwards", 'from = "horn-switch.2"'),
    ('of = ["horn.1", "earth.bay-bolt"]', 'of = ["horn.9", "earth.bay-bolt"]', "unknown-terminal", "horn.1"),
]  # fmt: skip

# well formed and hardly meant
DOUBTED = [
    ('rating = "24 V 42 W"', 'rating = "400 V 42 W"', "rating-above-supply", "decimal point"),
    ('generator = {', 'ammeter = { kind = "ammeter", rating = "40 V", place = "bay" }\ngenerator = {', "meter-in-volts", '"40 A"'),
    ('from = "lamp.2", to = "earth.panel-bolt", core = "T1.black"', 'from = "lamp.2", to = "earth.panel-bolt", along = "rail"', "loom-not-used", "bay, tip"),
]  # fmt: skip


ALL = [*ENDS, *THINGS, *WAYS, *SENTENCES, *SETTINGS, *SOURCES, *FITS, *PEN]


def first_change(text: str) -> int:
    """The first line, from 1, that is not as in the trial record."""
    return next(
        n
        for n, (new, old) in enumerate(zip(text.splitlines(), TRIAL.splitlines(), strict=False), 1)
        if new != old
    )


@pytest.mark.parametrize(("old", "new", "rule", "hint"), ALL, ids=[f"{r}-{n[:30]}" for _, n, r, _ in ALL])
def test_one_slip_makes_one_finding_at_its_line(old, new, rule, hint):
    text = spoilt(old, new)
    (finding,) = found_in(text)
    assert finding.rule == rule
    assert hint in finding.hint
    assert finding.place.line == first_change(text)


@pytest.mark.parametrize(("old", "new", "rule", "at"), COPPER, ids=[f"{r}-{a[:6]}" for _, _, r, a in COPPER])
def test_impossible_connections_are_found_where_they_can_be_mended(old, new, rule, at):
    text = spoilt(old, new)
    (finding,) = found_in(text)
    assert finding.rule == rule
    assert finding.place.line == line_of(at, text)


@pytest.mark.parametrize(("old", "new", "rule", "hint"), DOUBTED, ids=[rule for _, _, rule, _ in DOUBTED])
def test_what_is_hardly_meant_is_doubted_and_a_note_quiets_it(old, new, rule, hint):
    text = spoilt(old, new)
    if rule == "loom-not-used":  # both lamp and bolt are nearest to one end of this loom
        text = (
            text.replace("[sheath]", 'rail = { route = ["bay", "tip"] }\n\n[sheath]')
            .replace('to = "earth.panel-bolt", along', 'to = "earth.tip-bolt", along')
            .replace("bay-bolt = { place", 'tip-bolt = { place = "tip" }\nbay-bolt = { place')
        )
    found = [f for f in found_in(text) if f.rule == rule]
    (finding,) = found
    assert finding.severity is Severity.WARNING
    assert hint in finding.hint
    line = text.splitlines()[finding.place.line - 1]
    noted = text.replace(line, line[: line.rindex("}")] + ', note = "as found" }')
    assert rule not in {f.rule for f in found_in(noted)}


def test_in_two_wires_a_load_returned_to_the_airframe_is_doubted():
    text = TRIAL.replace('supply = "24 V"', 'supply = "24 V"\nreturn = "two-wire"')
    doubted = [f for f in found_in(text) if f.rule == "return-by-airframe"]
    lines = [text.splitlines()[f.place.line - 1].split()[0] for f in doubted]
    # horn and lamp return by bolts in the trial; supplies, gauges and switches are not judged
    assert sorted(lines) == ["H3", "L3"]
    more = "".join(f'lamp-{n} = {{ kind = "lamp", rating = "24 V 6 W", place = "bay" }}\n' for n in range(4))
    cables = "".join(f'P{n} = {{ from = "lamp-{n}.2", to = "earth" }}\n' for n in range(4))
    several = added(cables, "[service.horn.cables]").replace("[item]\n", "[item]\n" + more)
    several = several.replace('supply = "24 V"', 'supply = "24 V"\nreturn = "two-wire"')
    (once,) = [f for f in found_in(several) if f.rule == "return-by-airframe"]
    assert "return =" in once.hint
    assert len(once.also_at) == 5
    assert "return-by-airframe" not in {f.rule for f in found_in(TRIAL)}


def test_a_doubled_cable_points_to_the_first_and_a_note_explains_it():
    again = 'H4 = { from = "horn.1", to = "horn-switch.2", along = "main" }'
    (finding,) = found_in(added(again, "[service.horn.cables]"))
    assert finding.rule == "doubled-cable"
    assert finding.severity is Severity.WARNING
    assert len(finding.also_at) == 1
    explained = again.replace(" }", ', note = "two in parallel" }')
    assert "doubled-cable" not in {f.rule for f in found_in(added(explained, "[service.horn.cables]"))}


def test_missing_size_and_length_are_warnings_and_coaxial_runs_need_neither():
    bare = 'X1 = { from = "horn.1", to = "lamp.1" }'
    text = added(bare, "[service.ignition.cables]").replace(
        'title = "Ignition"\nusual = { size = "14/.0076 in" }\n', 'title = "Ignition"\n'
    )
    rules = [f.rule for f in found_in(text) if f.place.line == line_of("X1", text)]
    assert rules == ["size-missing", "length-estimated"]
    coaxial = text.replace('to = "lamp.1" }', 'to = "lamp.1", type = "coaxial" }')
    assert not [f for f in found_in(coaxial) if f.place.line == line_of("X1", coaxial)]


def test_an_item_without_a_cable_is_found_and_one_that_is_only_carried_is_not():
    text = added('bell = { kind = "bell", rating = "24 V 6 W" }', "[item]")
    (finding,) = found_in(text)
    assert finding.rule == "item-unconnected"


def test_a_service_whose_cables_do_not_lead_to_its_feed():
    text = spoilt(
        'H1 = { from = "box.1", to = "horn-switch.1"', 'H1 = { from = "master.2", to = "horn-switch.1"'
    )
    rules = {f.rule for f in found_in(text)}
    assert "no-feed-path" in rules
    assert "way-unused" in rules


def test_a_cable_on_a_way_that_does_not_feed_its_service():
    text = spoilt('L7 = { from = "box.2"', 'L7 = { from = "box.3"')
    (finding,) = found_in(text)
    assert finding.rule == "way-not-its-feed"


def test_a_magneto_has_no_fuse():
    text = spoilt('title = "Ignition"', 'title = "Ignition"\nfeed = "box.2"').replace(
        'M2 = { from = "magneto-switch.E"', 'M2 = { from = "box.2"'
    )
    assert "magneto-with-feed" in {f.rule for f in found_in(text)}


def test_a_step_written_twice_is_found_unless_it_is_a_push():
    step = '  { do = { master = "on" }, see = "gauge is reading" },'
    (finding,) = found_in(spoilt(step, f"{step}\n{step}"))
    assert finding.rule == "step-twice"
    push = '  { do = { "horn-switch.push" = "pressed" } },'
    assert found_in(spoilt(push, f"{push}\n{push}")) == ()


def test_what_is_fitted_with_an_item_must_be_fitted_with_its_cables():
    (finding,) = found_in(
        spoilt(
            'title = "Radio"\nfeed = "box.3"\nusual = { size = "23/.0076 in" }\nfit = "radio"',
            'title = "Radio"\nfeed = "box.3"\nusual = { size = "23/.0076 in" }',
        )
        .replace("R2 = {", 'R2 = { fit = "radio",')
        .replace("R3 = {", 'R3 = { fit = "radio",')
        .replace("R4 = {", 'R4 = { fit = "radio",')
    )
    assert finding.rule == "not-fitted"
    assert 'fit = "radio"' in finding.hint


def test_a_misspelt_thing_is_one_finding_at_its_own_line():
    text = spoilt('horn = { kind = "horn"', 'hron = { kind = "horn"')
    (finding,) = found_in(text)
    assert finding.rule == "misnamed"
    assert finding.place.line == line_of("hron", text)
    assert "'horn'" in finding.hint
    assert len(finding.also_at) >= 4


def test_a_misspelt_heading_of_ways_is_one_finding():
    text = spoilt("[way.box]", "[way.boxx]")
    (finding,) = found_in(text)
    assert finding.rule == "unknown-item"
    assert finding.place.line == line_of("[way.boxx]", text) + 1
    assert "'box'" in finding.hint


def test_what_follows_from_a_line_that_cannot_be_read_is_not_said():
    text = spoilt('horn = { kind = "horn", rating', 'horn = { kind = "horn" rating')
    reading = reading_of(text)
    assert [f.severity for f in reading.findings] == [Severity.ERROR]
    assert check_record(reading, shipped_kinds()) == ()


def test_a_loose_negative_pole_in_an_installation_that_earths_none():
    text = spoilt('supply = "24 V"', 'supply = "24 V"\nreturn = "two-wire"\nearthed = "none"')
    assert {f.rule for f in found_in(text)} == {"earthed-pole", "return-by-airframe"}


def test_one_standard_of_fit_can_be_judged_alone():
    assert check_connections(installation_of()) == ()
    crossed = installation_of(
        spoilt('L4 = { from = "box.2", to = "gauge.+"', 'L4 = { from = "box.2", to = "box.1"')
    )
    findings = check_connections(crossed)
    assert [f.rule for f in findings] == ["ways-joined"]
    assert check_connections(crossed, broken=frozenset({"cable L4"})) == ()


def test_a_mistake_in_a_kind_of_the_record_is_said_once():
    kind = """
[kind.own-lamp]
title = "Own lamp"
terminals = { top = ["1"], bottom = ["2"] }
element.filament = { law = "filment", ends = ["1", "2"] }
"""
    text = spoilt('lamp = { kind = "lamp"', 'lamp = { kind = "own-lamp"') + kind
    (finding,) = found_in(text)
    assert finding.rule == "unknown-law"
    assert "'filament'" in finding.hint
    assert finding.place.line == line_of("[kind.own-lamp]", text)


def test_a_scale_belongs_to_something_that_measures():
    (finding,) = found_in(TRIAL + '\n[scale.horn]\nsilly = [["0 V", "0 V"], ["5 V", "5 V"]]\n')
    assert finding.rule == "scale-without-meter"
    assert "horn" in finding.message


@pytest.mark.parametrize(
    ("word", "ours"), [("accumulator", "battery"), ("hooter", "horn"), ("dynamo", "generator")]
)
def test_a_kind_in_the_other_vocabulary_is_told_ours(word, ours):
    slip = TRIAL.replace('kind = "horn"', f'kind = "{word}"', 1)
    hints = [f.hint for f in found_in(slip) if f.rule == "unknown-kind"]
    assert hints == [f"Here it is called '{ours}'."]


def test_a_load_without_a_return_is_found_and_is_quiet_where_the_line_is_broken():
    text = "\n".join(line for line in TRIAL.splitlines() if not line.startswith("L3 ="))
    (finding,) = found_in(text)
    assert finding.rule == "never-fed"
    assert "'lamp.2'" in finding.message
    assert finding.place.line == line_of('lamp = { kind = "lamp", rating = "24 V 6 W"', text)
    broken = spoilt(
        'L3 = { from = "lamp.2", to = "earth.panel-bolt"', 'L3 = { from = "lamp.2", to = "erth.panel-bolt"'
    )
    assert "never-fed" not in {f.rule for f in found_in(broken)}


def test_a_load_with_both_leads_on_one_pole_is_found():
    lamp = 'spare-lamp = { kind = "lamp", rating = "24 V 6 W", place = "tip" }\n'
    cables = 'L20 = { from = "battery.+", to = "spare-lamp.1" }\nL21 = { from = "spare-lamp.2", to = "master.2" }\n'
    text = added(cables, "[service.lamps.cables]").replace("[item]\n", "[item]\n" + lamp)
    assert [
        f.rule for f in found_in(text) if f.rule == "never-fed"
    ] == []  # the master, open, puts it in series
    cables = cables.replace("master.2", "master.1")
    text = added(cables, "[service.lamps.cables]").replace("[item]\n", "[item]\n" + lamp)
    rules = {f.rule for f in found_in(text)}
    assert rules & {"never-fed", "shorted-element"}


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=25))
def test_blocks_are_those_of_a_reference_library(pairs):
    edges = [(str(a), str(b)) for a, b in pairs]
    of = blocks(edges)
    graph = nx.Graph((a, b) for a, b in edges if a != b)
    reference = [frozenset(map(frozenset, part)) for part in nx.biconnected_component_edges(graph)]
    for first, one in enumerate(edges):
        for second, other in enumerate(edges):
            if first == second:
                continue
            if one[0] == one[1] or other[0] == other[1]:
                assert of[first] != of[second]
                continue
            together = any(frozenset(one) in part and frozenset(other) in part for part in reference)
            assert (of[first] == of[second]) == (together or set(one) == set(other))


def test_items_of_unknown_kind_are_noted_together():
    text = TRIAL.replace('horn = { kind = "horn", rating = "24 V 42 W"', 'horn = { kind = "unknown"')
    text = text.replace('lamp = { kind = "lamp", rating = "24 V 6 W"', 'lamp = { kind = "unknown"')
    (noted,) = [f for f in found_in(text) if f.rule == "kind-unknown"]
    assert noted.severity is Severity.NOTE
    assert "'horn', 'lamp'" in noted.message
    assert len(noted.also_at) == 1


@pytest.mark.parametrize(("count", "said"), [(3, 3), (9, 1)])
def test_what_many_cables_lack_is_said_once(count, said):
    cables = "\n".join(
        f'X{n} = {{ from = "horn.1", to = "lamp.1", length = "20 m", note = "{n}" }}' for n in range(count)
    )
    text = f'{TRIAL}\n[service.unsorted]\ntitle = "Not sorted yet"\n[service.unsorted.cables]\n{cables}\n'
    found = [f for f in found_in(text) if f.rule == "size-missing"]
    assert len(found) == said
    lines = {place.line for f in found for place in (f.place, *f.also_at)}
    assert lines == {line_of(f"X{n} =", text) for n in range(count)}


@pytest.mark.parametrize(
    ("text", "old", "new", "write"),
    [
        (TRIAL, '3 = { fuse = "5 A" }', '3 = "5 A"', 'Write 3 = { fuse = "5 A" }'),
        # its way is without a cable, which is no slip where it was to be called spare
        (PAGE, "2 = { spare = true }", '2 = "spare"', "Write 2 = { spare = true }"),
    ],
)
def test_a_way_that_is_no_table_is_told_how_and_no_more(text, old, new, write):
    before, after = (reading_of(written) for written in (text, text.replace(old, new)))
    assert before != after
    known = {f.message for f in check_record(before, shipped_kinds())}
    found = (*after.findings, *check_record(after, shipped_kinds()))
    assert [f.hint for f in found if f.message not in known] == [write]


M2 = 'M2 = { from = "magneto-switch.E", to = "earth.panel-bolt", length = "0.4 m" }\n'


def test_a_magneto_that_no_switch_can_stop_is_found():
    (finding,) = found_in(spoilt(M2, ""))
    assert (finding.rule, finding.severity) == ("never-stopped", Severity.WARNING)
    assert finding.subject == "item magneto"


def test_two_magnetos_do_not_stop_each_other():
    """One switch of both without its earth: their primaries are joined through it, and neither is stopped."""
    switch = spoilt('kind = "magneto-switch"', 'kind = "dual-magneto-switch"').replace(M2, "")
    switch = switch.replace('to = "magneto-switch.1"', 'to = "magneto-switch.2"')
    second = 'right-magneto = { kind = "magneto", place = "bay" }'
    lead = 'M3 = { from = "right-magneto.P", to = "magneto-switch.1", along = "main" }'
    text = added(second, "[item]", added(lead, "[service.ignition.cables]", switch))
    (finding,) = [f for f in found_in(text) if f.rule == "never-stopped"]
    assert "'magneto'" in finding.message
    assert "'right-magneto'" in finding.message
    earthed = added(M2.rstrip(), "[service.ignition.cables]", text)
    assert "never-stopped" not in {f.rule for f in found_in(earthed)}


@pytest.mark.parametrize(
    ("name", "across", "wrong"),
    [
        ("port-tip", "5.4 m", True),
        ("port-tip", "-5.4 m", False),
        ("starboard-float", "-1 m", True),
        ("starboard-float", "1 m", False),
        ("port-and-starboard-root", "1 m", False),
        ("port-hatch", "0.04 m", False),
        ("airport-panel", "1 m", False),
    ],
)
def test_a_place_lies_on_the_side_it_is_called_by(name, across, wrong):
    text = added(f'{name} = {{ at = ["1.4 m", "{across}", "0.1 m"] }}', "[place]")
    assert [f.rule for f in found_in(text) if f.subject == f"place {name}"] == ["other-side"] * wrong


@pytest.mark.parametrize(
    ("length", "wrong"), [("60 m", True), ("4 m", False), ('60 m", note = "on a drum', False)]
)
def test_a_cable_many_times_as_long_as_the_craft_is_doubted(length, wrong):
    spots = "\n".join(f'spot-{n} = {{ at = ["{n} m", "0 m", "0 m"] }}' for n in range(4))
    text = added(
        spots,
        "[place]",
        spoilt('"earth.panel-bolt", length = "0.4 m"', f'"earth.panel-bolt", length = "{length}"'),
    )
    assert [f.subject for f in found_in(text) if f.rule == "too-long"] == ["cable M2"] * wrong
