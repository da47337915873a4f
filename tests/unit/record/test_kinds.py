"""Kinds read from TOML: every slip is said, in words of the kind."""

# ruff: noqa: E501  the cases stand one a line, as they would in a record

import tomllib

import pytest

from loomlore.findings import Place, UnreadableValue
from loomlore.quantities import read_quantity
from loomlore.record.kinds import read_kinds
from loomlore.record.shapes import counted, in_volts, shape, substituted
from loomlore.sentences import read_sentence

CUT_OUT = """
title = "Cut-out"
terminals = { top = ["D"], bottom = ["A", "E"] }
parameter = { closes = "26.8 V", shunt = "ohm" }
control.reset = { positions = ["released", "pressed"], springs-to = "released" }
element.shunt = { law = "conductor", ends = ["D", "E"], resistance = "<shunt>" }
element.lamp = { law = "filament", ends = ["A", "E"] }
latch.cut-in = { set = "volts across shunt > <closes>", release = "amps in main < -5 A or reset is pressed" }
contact.main = { ends = ["D", "A"], closed = "cut-in" }
group = { window = ["lamp"] }
"""


def findings_of(text: str):
    return read_kinds({"trial": (tomllib.loads(text), Place("kinds.toml", 3))})[1]


def test_a_sound_kind_has_no_findings():
    assert findings_of(CUT_OUT) == ()


@pytest.mark.parametrize(
    ("old", "new", "rule", "hint"),
    [
        ('title = "Cut-out"', 'titel = "Cut-out"', "unknown-key", "'title'"),
        ('law = "conductor"', 'law = "condutor"', "unknown-law", "'conductor'"),
        ('law = "conductor", ends = ["D", "E"], resistance', 'law = "conductor", ends = ["D", "E"], resistence', "unknown-key", "'resistance'"),
        ('ends = ["D", "A"]', 'ends = ["D", "B"]', "unknown-terminal", "terminals"),
        ('ends = ["D", "A"]', 'ends = ["D"]', "unreadable-value", 'ends = ["1", "2"]'),
        ('ends = ["D", "A"]', 'ends = ["D", "D"]', "same-ends", "different"),
        ('closed = "cut-in"', 'closed = "cutin"', "unknown-name", "'cut-in'"),
        ('closed = "cut-in"', 'closed = "cut-in is on"', "unknown-name", "alone"),
        ('closed = "cut-in"', 'closed = "not"', "unreadable-value", "'not'"),
        ('volts across shunt > <closes>', 'volts across shnt > <closes>', "unknown-name", "'shunt'"),
        ('volts across shunt > <closes>', 'volts across shunt > <close>', "unreadable-value", "parameter"),
        ('volts across shunt > <closes>', 'volts across shunt > 5 A', "wrong-unit", "24 V"),
        ('amps in main < -5 A', 'amps in main < -5 V', "wrong-unit", "5 A"),
        ('reset is pressed', 'reset is presed', "unknown-name", "'pressed'"),
        ('springs-to = "released"', 'springs-to = "relased"', "unreadable-value", "released, pressed"),
        ('set = "volts across', 'sets = "volts across', "unknown-key", "'set'"),
        ('group = { window = ["lamp"] }', 'group = { window = ["lmp"] }', "unknown-element", "'lamp'"),
        ('group = { window = ["lamp"] }', 'group = { window = ["lamp", "shunt"] }', "mixed-group", "one law"),
        ('group = { window = ["lamp"] }', 'group = { lamp = ["lamp"] }', "doubled-name", "otherwise"),
        ('parameter = { closes = "26.8 V"', 'parameter = { closes = true', "unreadable-value", "16 V"),
        ('terminals = { top = ["D"], bottom = ["A", "E"] }', 'terminals = { top = ["D", "A"], bottom = ["A", "E"] }', "doubled-terminal", "otherwise"),
        ('terminals = { top =', 'terminals = { tops =', "unknown-key", "'top'"),
    ],
)  # fmt: skip
def test_a_slip_in_a_kind_is_said(old, new, rule, hint):
    assert CUT_OUT.count(old) == 1
    findings = findings_of(CUT_OUT.replace(old, new))
    assert rule in {f.rule for f in findings}
    assert any(hint in f.hint for f in findings), [str(f) for f in findings]
    assert all(f.place == Place("kinds.toml", 3) and f.subject == "kind trial" for f in findings)


def test_terminals_are_counted_to_a_parameter():
    assert counted("1..ways", {"ways": 4}) == ("1", "2", "3", "4")
    assert counted("a1..3", {}) == ("a1", "a2", "a3")
    assert counted("bus", {}) == ("bus",)
    for count in (0, 2.5, 201, "many"):
        with pytest.raises(UnreadableValue):
            counted("1..ways", {"ways": count})


def test_parameters_are_substituted_as_text_and_doubt_stays_out_of_sentences():
    assert substituted("lever is <first>", {"first": "land"}) == "lever is land"
    doubtful = {"closes": "26.6 to 27.0 V"}
    assert substituted("volts across shunt > <closes>", doubtful, plain=True) == "volts across shunt > 26.8 V"
    assert substituted("<closes>", doubtful) == "26.6 to 27.0 V"


def test_a_share_of_volts_becomes_volts_but_other_shares_stay():
    # 112 % of 24 V is 26.88 V
    sentence = in_volts(read_sentence("volts across shunt > 112 % and level > 60 %"), 24.0)
    assert str(sentence) == "volts across shunt > 26.88 V and level > 60 %"
    with pytest.raises(UnreadableValue, match="rated volts"):
        in_volts(read_sentence("volts across shunt > 112 %"), None)


def test_a_parameter_that_nobody_gave_costs_only_what_leans_on_it():
    kinds, _ = read_kinds({"trial": (tomllib.loads(CUT_OUT), Place())})
    made = shape(kinds["trial"], (), 24.0)
    assert made.lacking == {"shunt": ("element.shunt",)}
    assert "resistance" not in made.elements["shunt"].values
    assert made.latches["cut-in"].set is not None
    whole = shape(kinds["trial"], (("shunt", "90 ohm"),), 24.0)
    assert whole.elements["shunt"].values["resistance"] == read_quantity("90 ohm")
    assert whole.lacking == {}


def test_a_shape_is_made_once_for_each_set_of_parameters():
    kinds, _ = read_kinds({"trial": (tomllib.loads(CUT_OUT), Place())})
    own = (("shunt", "90 ohm"),)
    assert shape(kinds["trial"], own, 24.0) is shape(kinds["trial"], own, 24.0)
    assert shape(kinds["trial"], own, 24.0) is not shape(kinds["trial"], own, 12.0)
