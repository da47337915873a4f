"""Items joined to their kinds; figures worked by hand beside each check."""

import pytest

from loomlore.record.installation import Joint
from loomlore.record.laws import CONTACT_OHMS, states_of
from loomlore.sentences import Is, read_sentence
from trial_record import TRIAL, added, installation_of, joined, spoilt


def part(item: str, text: str = TRIAL, fits=None):
    return installation_of(text, fits).equipment[item]


def test_ways_are_spread_and_take_their_fuses_with_their_basis():
    box = part("box")
    assert box.terminals == {"top": ("bus",), "bottom": ("1", "2", "3")}
    assert {n: e.rating["current"].value for n, e in box.elements.items()} == {"1": 5.0, "2": 10.0, "3": 5.0}
    assert [e.words["basis"] for e in box.elements.values()] == ["carrying", "fusing", "carrying"]
    assert box.elements["2"].ends == ("bus", "2")
    assert box.elements["2"].each == "2"


def test_a_spare_way_has_no_fuse_in_it_and_keeps_its_terminal():
    box = part("box", spoilt('3 = { fuse = "5 A" }', "3 = { spare = true }"))
    assert list(box.elements) == ["1", "2"]
    assert box.fuse_ways == ("1", "2", "3")
    assert "3" in box.terminal_names


def test_a_fuse_named_after_its_terminal_is_a_way():
    kind = """
[kind.split-box]
terminals = { top = ["live", "bus"], bottom = ["1", "2", "3"] }
element.1 = { law = "fuse", ends = ["live", "1"] }
element.2 = { law = "fuse", ends = ["bus", "2"] }
element.3 = { law = "fuse", ends = ["bus", "3"] }
"""
    text = spoilt('box = { kind = "fuse-box", ways = 3,', 'box = { kind = "split-box",') + kind
    box = part("box", text)
    assert box.elements["2"].rating["current"].value == 10.0
    assert box.fuse_ways == ("1", "2", "3")


def test_one_rating_goes_to_all_that_the_kind_leaves_unrated():
    text = added(
        'windows = { kind = "twin-window-indicator", rating = "24 V 3 W", ratings = { green-b = "24 V 2 W" } }',
        "[item]",
    )
    ratings = {n: e.rating["power"].value for n, e in part("windows", text).elements.items()}
    assert ratings == {"red-a": 3.0, "red-b": 3.0, "green-a": 3.0, "green-b": 2.0}


def test_what_the_kind_rates_does_not_take_the_items_rating():
    generator = part("generator")
    assert set(generator.elements["field"].rating) == {"resistance"}
    assert generator.elements["armature"].rating["current"].value == 36.0


def test_shares_are_of_the_items_volts_else_of_the_supply():
    # field builds up at 3 % of the generator's 28 V; the cut-out, not rated, closes at 112.5 % of the 24 V supply
    assert part("generator").elements["field"].values["pulls-in"].value == pytest.approx(0.84)
    assert str(part("cut-out").latches["cut-in"].set) == "volts across shunt > 27 V"
    twelve = added('relay = { kind = "relay", rating = "12 V 40 ohm" }', "[item]")
    assert part("relay", twelve).elements["coil"].values["pulls-in"].value == pytest.approx(7.2)  # 60 %


def test_a_generator_takes_set_and_droop_from_its_regulator():
    armature = part("generator").elements["armature"]
    # 116.7 % and 2 % of the 24 V supply; the regulator is not rated itself
    assert armature.values["set"].value == pytest.approx(28.008)
    assert armature.values["droop"].value == pytest.approx(0.48)
    assert armature.words["regulator"] == "regulator"


def test_cams_speak_the_dossiers_names():
    switch = part("horn-switch")
    assert switch.cams["main"] == read_sentence("throttle < 0.2 and wheels is not down")
    assert str(switch.cams["reset"]) == "not horn-switch.main"
    assert str(switch.contacts["pole"].closed) == "main and not silenced"
    assert switch.contacts["pole"].resistance == CONTACT_OHMS


def test_controls_bear_the_items_name_and_start_where_it_says():
    assert part("lamp-switch").controls["lever"].id == "lamp-switch.lever"
    text = spoilt(
        'lamp-switch = { kind = "switch", place = "panel", start = "off" }',
        'lamp-switch = { kind = "switch", place = "panel", start = "on" }',
    )
    assert part("lamp-switch", text).controls["lever"].start == "on"


def test_links_are_contacts_that_are_always_closed():
    text = spoilt(
        'radio-socket = { kind = "socket", ways = 2,',
        'radio-socket = { kind = "socket", ways = 2, links = [["1", "2"]],',
    )
    (link,) = part("radio-socket", text).contacts.values()
    assert (link.ends, link.closed, link.resistance) == (("1", "2"), None, 0.0)


def test_mated_halves_have_one_joint_a_way_and_one_condition():
    installation = installation_of()
    closed = Is("radio-plug", ("in",))
    assert installation.joints == (
        Joint("radio-plug.1", "radio-socket.1", closed),
        Joint("radio-plug.2", "radio-socket.2", closed),
    )
    assert installation.equipment["radio-plug"].controls[""].positions == ("in", "parted")
    assert installation.equipment["radio-socket"].controls == {}


def test_halves_that_name_each_other_make_one_joint():
    both = spoilt(
        'radio-socket = { kind = "socket", ways = 2,',
        'radio-socket = { kind = "socket", ways = 2, mates = "radio-plug",',
    )
    assert len(installation_of(both).joints) == 2


def test_halves_of_unequal_ways_and_a_socket_mated_twice_are_found():
    _, findings = joined(
        spoilt('radio-plug = { kind = "plug", ways = 2', 'radio-plug = { kind = "plug", ways = 3')
    )
    assert [f.rule for f in findings] == ["unequal-halves"]
    again = 'other-plug = { kind = "plug", ways = 2, mates = "radio-socket", fit = "radio" }'
    _, findings = joined(added(again, "[item]"))
    assert [f.rule for f in findings] == ["mated-twice"]


def test_an_unknown_item_has_whatever_terminals_cables_name():
    text = added('box-x = { kind = "unknown" }', "[item]").replace('to = "gauge.+"', 'to = "box-x.A7"')
    assert part("box-x", text).terminal_names == ("A7",)


def test_a_required_parameter_says_what_it_blocks():
    _, findings = joined(added('drop = { kind = "resistor" }', "[item]"))
    (finding,) = findings
    assert finding.rule == "parameter-missing"
    assert "fed through its wire" in finding.message
    assert finding.hint == 'Write resistance = "… ohm" in the item.'


def test_words_of_the_plate_rename_positions():
    text = added('selector = { kind = "two-way-switch", first = "land", second = "water" }', "[item]")
    selector = part("selector", text)
    assert selector.controls["lever"].positions == ("land", "water")
    assert str(selector.contacts["a"].closed) == "lever is land"


@pytest.mark.parametrize(
    ("law", "states"),
    [  # the table of laws and states of the record's format
        ("filament", ("out", "glimmering", "lit", "over-run")),
        ("motor", ("stopped", "labouring", "running")),
        ("horn", ("silent", "faint", "sounding")),
        ("coil", ("released", "pulled-in")),
        ("heater", ("cold", "warm", "hot")),
        ("set", ("dead", "weak", "working")),
        ("battery", ("idle", "discharging", "charging")),
        ("generator", ("idle", "generating", "limited")),
        ("rectifier", ("blocking", "conducting")),
        ("fuse", ("whole", "blown")),
        ("meter", ("no-power", "off-scale", "reading")),
        ("ratio-coil", ("no-power", "off-scale", "reading")),
        ("cartridge", ("safe", "above-no-fire", "fired")),
        ("magneto", ("live", "stopped")),
        ("conductor", ()),
        ("rheostat", ()),
    ],
)
def test_states_are_those_of_the_format(law, states):
    assert states_of(law) == states
