"""State plates: what is seen in a setting, by hand on the shipped examples and against the solution."""

import pytest

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.drawing.plates import Said, service_plate
from loomlore.drawing.scene import Circle, Group, Line, Text, walk
from loomlore.drawing.states import plate_state, showing
from unit.drawing.test_roles import plant_of


@pytest.fixture(scope="module")
def tug():
    return plant_of("glider-tug")


def state_at(plant, **setting):
    moves, findings = read_setting(plant, {name.replace("_", "-"): value for name, value in setting.items()})
    assert not findings
    return plate_state(plant, operated(plant, rest(plant), moves))


def groups(scene, role, name):
    return [g for g, _ in walk(scene.items) if isinstance(g, Group) and g.role == role and g.name == name]


def test_at_rest_only_what_is_ahead_of_the_master_is_live(tug):
    state = plate_state(tug, rest(tug))
    assert "S1" in state.amperes
    assert not {"S3", "N1", "N2", "N5"} & set(state.amperes)
    assert state.contacts["navigation-switch.pole"] == "open"
    assert state.parts["port-lamp.filament"] == "out"


def test_a_lamp_that_burns_is_lit_and_its_wires_carry(tug):
    state = state_at(tug, master_switch="on", navigation_switch="on")
    assert state.parts["port-lamp.filament"] == "lit"
    assert state.contacts["navigation-switch.pole"] == "shut"
    # 12 W at 12 V is about an ampere: the shipped text's own figures.
    assert state.amperes["N2"] == pytest.approx(1.0, abs=0.1)
    assert state.amperes["N1"] == pytest.approx(
        state.amperes["N2"] + state.amperes["N3"] + state.amperes["N4"], rel=1e-6
    )


def test_the_plate_shows_the_state_and_moves_nothing(tug):
    [scene] = service_plate(tug, "navigation").scenes
    shown = showing(scene, state_at(tug, master_switch="on", navigation_switch="on"))
    [before], [after] = (groups(s, "contact", "navigation-switch.pole") for s in (scene, shown))
    assert (before.state, after.state) == ("open", "shut")
    [lamp] = groups(shown, "part", "port-lamp.filament")
    assert any(isinstance(item, Circle) and "lit-" in item.look for item in lamp.items)
    lines = [[i.points for i, _ in walk(s.items) if isinstance(i, Line)] for s in (scene, shown)]
    assert lines[0] == lines[1]


def test_dead_wires_are_thin(tug):
    [scene] = service_plate(tug, "navigation").scenes
    shown = showing(scene, plate_state(tug, rest(tug)))
    [cable] = groups(shown, "cable", "N2")
    assert cable.items[0].look.endswith("dead")


def test_a_selector_stands_on_the_throw_that_is_closed():
    plant = plant_of("mail-amphibian")
    at = state_at(plant, port_wheel="locked-down").contacts["port-down-striker.make"]
    away = state_at(plant, port_wheel="moving").contacts["port-down-striker.make"]
    assert (at, away) == ("at-0", "at-1")


def test_the_setting_is_said_on_the_plate(tug):
    state = state_at(tug, master_switch="on", navigation_switch="on")
    said = Said(setting="the navigation switch on")
    [scene] = service_plate(tug, "navigation", state=state, said=said).scenes
    words = " ".join(item.words for item, _ in walk(scene.items) if isinstance(item, Text))
    assert "shown with the navigation switch on" in words


def test_classes_are_what_the_page_needs(tug):
    classes = state_at(tug, master_switch="on", navigation_switch="on").classes()
    assert classes["part"]["port-lamp.filament"] == ["is-lit"]
    assert classes["contact"]["navigation-switch.pole"] == ["state-shut"]
    assert classes["cable"]["N2"][0] == "is-live"
