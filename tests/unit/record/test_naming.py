"""What names in sentences and settings stand for."""

import pytest

from loomlore.record.naming import Reference, Unresolved, own_reference, resolve
from loomlore.record.settings import resolve_setting
from trial_record import added, installation_of, spoilt

FULL = added('windows = { kind = "twin-window-indicator", rating = "24 V 3 W" }', "[item]")
FULL = added(
    'twin = { kind = "double-pole-push" }\nmeter = { kind = "voltmeter", rating = "40 V" }', "[item]", FULL
)
FULL = added('box-key = { kind = "signalling-box" }', "[item]", FULL)
FULL = added('dimmer = { kind = "dimmer" }', "[item]", FULL)


@pytest.fixture(scope="module")
def here():
    return installation_of(FULL)


@pytest.mark.parametrize(
    ("name", "sense", "words", "what", "id_"),
    [
        ("wheels", "is", ("up",), "condition", "wheels"),
        ("fire-lever", "is", ("on",), "control", "fire-lever"),
        ("throttle", "compare", (), "control", "throttle"),
        ("radio", "holds", (), "fit", "radio"),
        ("mod-1", "is", ("fitted",), "fit", "mod-1"),
        ("horn", "is", ("sounding",), "element", "horn.diaphragm"),
        ("master", "is", ("on",), "control", "master.lever"),
        ("generator", "is", ("generating",), "element", "generator.armature"),
        ("generator", "is", ("pulled-in",), "element", "generator.field"),
        ("windows.red", "is", ("lit",), "group", "windows.red"),
        ("windows.red-a", "is", ("lit",), "element", "windows.red-a"),
        ("horn-switch.silenced", "holds", (), "latch", "horn-switch.silenced"),
        ("horn-switch.main", "holds", (), "cam", "horn-switch.main"),
        ("horn-switch.push", "is", ("pressed",), "control", "horn-switch.push"),
        ("box.2", "is", ("blown",), "element", "box.2"),
        ("gauge", "is", ("reading",), "element", "gauge.left"),
        ("gauge", "compare", (), "scale", "gauge.flight"),
        ("gauge.flight", "compare", (), "scale", "gauge.flight"),
        ("meter", "compare", (), "scale", "meter.movement"),
        ("dimmer", "compare", (), "control", "dimmer.knob"),
        ("tank-unit.contents", "compare", (), "follow", "tank-unit.contents"),
        ("radio-plug", "is", ("parted",), "condition", "radio-plug"),
        ("radio-socket", "is", ("in",), "condition", "radio-plug"),
        ("regulator", "is", ("stuck",), "regulator", "regulator"),
        ("horn", "volts across", (), "element", "horn.diaphragm"),
        ("box.1", "volts across", (), "element", "box.1"),
        ("cut-out.main", "volts across", (), "contact", "cut-out.main"),
        ("horn.1", "volts at", (), "terminal", "horn.1"),
        ("earth.bay-bolt", "volts at", (), "terminal", "earth.bay-bolt"),
        ("earth", "volts at", (), "terminal", "earth"),
        ("H1", "amps in", (), "cable", "H1"),
        ("cut-out.main", "amps in", (), "contact", "cut-out.main"),
        ("master", "amps in", (), "contact", "master.pole"),
        ("fire-switch", "is", ("on",), "control", "fire-lever"),
        ("fire-switch.lever", "is", ("on",), "control", "fire-lever"),
        ("box-key", "is", ("pressed",), "control", "box-key.key"),
    ],
)
def test_a_name_stands_for(here, name, sense, words, what, id_):
    found = resolve(name, here, sense=sense, words=words)
    assert isinstance(found, Reference), found
    assert (found.what, found.id) == (what, id_)
    assert set(words) <= set(found.words)


@pytest.mark.parametrize(
    ("name", "sense", "words", "rule", "hint"),
    [
        ("windows", "is", ("lit",), "ambiguous-name", "windows.red, windows.green"),
        ("box-key", "is", ("keyed",), "ambiguous-name", "box-key.upper, box-key.lower"),
        ("horn", "is", ("soundig",), "unknown-position", "'sounding'"),
        ("horn", "holds", (), "wrong-sense", "horn is"),
        ("master", "holds", (), "wrong-sense", "master is on"),
        ("horn", "compare", (), "wrong-sense", "horn is sounding"),
        ("horn-switch.silenced", "is", ("on",), "wrong-sense", "alone"),
        ("throttel", "compare", (), "unknown-name", "'throttle'"),
        ("hron.1", "volts at", (), "unknown-name", "'horn.1'"),
        ("horn.3", "volts at", (), "unknown-name", "1, 2"),
        ("windows", "volts across", (), "ambiguous-name", "windows.red-a"),
        ("earth.bay-blot", "volts at", (), "unknown-name", "'bay-bolt'"),
        ("box.1", "compare", (), "wrong-sense", "box.1 is whole"),
    ],
)
def test_a_name_that_stands_for_nothing_says_what_to_write(here, name, sense, words, rule, hint):
    found = resolve(name, here, sense=sense, words=words)
    assert isinstance(found, Unresolved)
    assert found.rule == rule
    assert hint in found.hint
    assert not found.absent_fit


def test_not_fitted_is_told_from_misspelt():
    without = installation_of(fits=frozenset({"no-radio"}))
    for name, sense in [
        ("radio-set", "is"),
        ("radio-set.receiver", "is"),
        ("radio-plug", "is"),
        ("R2", "amps in"),
    ]:
        found = resolve(name, without, sense=sense, words=("working",) if sense == "is" else ())
        assert isinstance(found, Unresolved)
        assert found.absent_fit, name
    misspelt = resolve("radio-sett", without, sense="is", words=("working",))
    assert isinstance(misspelt, Unresolved)
    assert not misspelt.absent_fit


def test_what_another_fit_makes_of_an_item_is_not_fitted_here():
    text = spoilt(
        "change = { lamp = { rating", 'change = { lamp-switch = { kind = "dimmer" }, lamp = { rating'
    )
    text = spoilt(
        'lamp-switch = { kind = "switch", place = "panel", start = "off" }',
        'lamp-switch = { kind = "switch", place = "panel" }',
        text,
    )
    found = resolve("lamp-switch.knob", installation_of(text), sense="compare")
    assert isinstance(found, Unresolved)
    assert found.absent_fit
    there = resolve("lamp-switch.knob", installation_of(text, frozenset({"radio", "mod-1"})), sense="compare")
    assert isinstance(there, Reference)


def test_a_socket_that_nothing_mates_here_is_not_fitted_here():
    text = spoilt(
        'radio-socket = { kind = "socket", ways = 2, place = "bay", fit = "radio" }',
        'radio-socket = { kind = "socket", ways = 2, place = "bay" }',
    )
    found = resolve("radio-socket", installation_of(text, frozenset({"no-radio"})), sense="is", words=("in",))
    assert isinstance(found, Unresolved)
    assert found.absent_fit


def test_an_item_of_unknown_kind_points_to_its_own_finding():
    text = spoilt('horn = { kind = "horn"', 'horn = { kind = "hron"')
    found = resolve("horn", installation_of(text), sense="is", words=("sounding",))
    assert isinstance(found, Unresolved)
    assert found.because == "item horn"


def test_a_fit_and_an_item_may_share_a_word():
    text = added('mod-1 = { kind = "lamp", rating = "24 V 6 W" }', "[item]")
    here = installation_of(text)
    assert resolve("mod-1", here, sense="is", words=("lit",)) == Reference(
        "element", "mod-1.filament", ("out", "glimmering", "lit", "over-run")
    )
    assert resolve("mod-1", here, sense="holds") == Reference("fit", "mod-1", ("fitted", "not fitted"))


def test_a_kinds_own_sentence_sees_its_own_names_only(here):
    assert resolve("push", here, within="horn-switch", sense="is", words=("pressed",)) == Reference(
        "control", "horn-switch.push", ("released", "pressed")
    )
    outside = resolve("wheels", here, within="horn-switch", sense="is", words=("up",))
    assert isinstance(outside, Unresolved)
    # what binds a control, moves it: the kind's own sentence then speaks of the dossier's lever
    assert resolve("lever", here, within="fire-switch", sense="is", words=("on",)) == Reference(
        "control", "fire-lever", ("off", "on")
    )
    assert own_reference(here.equipment["fire-switch"], "lever", sense="is") == Reference(
        "control", "fire-switch.lever", ("off", "on")
    )


@pytest.mark.parametrize(
    ("name", "value", "id_", "is_"),
    [
        ("wheels", "down", "wheels", "down"),
        ("master", "on", "master.lever", "on"),
        ("fire-switch", "on", "fire-lever", "on"),
        ("radio-socket", "parted", "radio-plug", "parted"),
        ("throttle", 0.3, "throttle", 0.3),
        ("engine-speed", "1200 rev/min", "engine-speed", 1200.0),
        ("dimmer.knob", "40 %", "dimmer.knob", 0.4),
        ("box.2", "blown", "box.2", "blown"),
    ],
)
def test_a_setting_moves(here, name, value, id_, is_):
    found = resolve_setting(name, value, here)
    assert not isinstance(found, Unresolved), found
    assert (found.reference.id, found.value) == (id_, is_)


@pytest.mark.parametrize(
    ("name", "value", "rule", "hint"),
    [
        ("master", "onn", "unknown-position", "'on'"),
        ("engine-speed", "3000 rev/min", "unknown-position", "within"),
        ("engine-speed", "3 kt", "wrong-unit", "2200 rev/min"),
        ("horn", "sounding", "wrong-sense", "control"),
        ("mastr", "on", "unknown-name", "'master'"),
        ("dimmer.knob", 1.5, "unknown-position", "within"),
    ],
)
def test_a_setting_that_cannot_be_says_why(here, name, value, rule, hint):
    found = resolve_setting(name, value, here)
    assert isinstance(found, Unresolved)
    assert found.rule == rule
    assert hint in found.hint
