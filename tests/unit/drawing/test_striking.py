"""State plates with a fault in it: marked where it is, said in words, currents beside heavy runs."""

import pytest

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.drawing.engraving import beside_wires
from loomlore.drawing.layout import solids
from loomlore.drawing.plates import Said, service_drawings, service_plate
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Circle, Group, Line, Rectangle, Text, walk
from loomlore.drawing.states import ampere_words, plate_state
from loomlore.drawing.striking import fault_mark
from loomlore.faults.injecting import case_of
from loomlore.faults.modes import faults_of
from loomlore.network.cases import settled_case
from unit.drawing.test_roles import plant_of


@pytest.fixture(scope="module")
def tug():
    plant = plant_of("glider-tug")
    return plant, roles(plant), {fault.id: fault for fault in faults_of(plant)}


def standing(plant, **setting):
    moves, findings = read_setting(plant, {name.replace("_", "-"): value for name, value in setting.items()})
    assert not findings
    return operated(plant, rest(plant), moves)


def struck(tug, name, service="navigation"):
    plant, known, faults = tug
    base = standing(plant, master_switch="on", navigation_switch="on")
    case = case_of(plant, faults[name], base)
    settled = settled_case(base, case) if case is not None else base
    [scene] = service_plate(
        plant,
        service,
        known=known,
        said=Said(setting="navigation switch on"),
        state=plate_state(plant, settled),
        fault=fault_mark(faults[name]),
    ).scenes
    return scene


def marked(scene):
    """The groups that carry a fault's band or frame."""
    found = []
    for group, _ in walk(scene.items):
        if isinstance(group, Group) and any(
            getattr(item, "look", "") in ("fault-band", "fault-frame") for item in group.items
        ):
            found.append((group.role, group.name))
    return found


def words(scene):
    return " ".join(item.words for item, _ in walk(scene.items) if isinstance(item, Text))


def test_a_broken_cable_is_marked_and_said_and_its_lamp_is_out(tug):
    scene = struck(tug, "N2.open")
    assert marked(scene) == [("cable", "N2")]
    assert "FAULT. Cable N2" in words(scene)
    lit = {
        group.name
        for group, _ in walk(scene.items)
        if isinstance(group, Group)
        and any(isinstance(item, Circle) and "lit-" in item.look for item, _ in walk(group.items))
        and group.role == "part"
    }
    assert lit - {""} == {"starboard-lamp.filament", "tail-lamp.filament"}


def test_a_burnt_out_lamp_is_framed(tug):
    scene = struck(tug, "port-lamp.filament.burnt-out")
    assert marked(scene) == [("item", "port-lamp")]


def test_the_frame_holds_the_item(tug):
    scene = struck(tug, "port-lamp.filament.burnt-out")
    [group] = [
        g for g, _ in walk(scene.items) if isinstance(g, Group) and g.role == "item" and g.name == "port-lamp"
    ]
    [frame] = [item for item in group.items if isinstance(item, Rectangle) and item.look == "fault-frame"]
    shift = group.items[0].shift
    for item, _ in walk(group.items[0].items):
        if isinstance(item, Circle) and item.radius > 2:
            assert frame.corner[1] < shift[1] < frame.corner[1] + frame.height


def test_a_lifted_bolt_is_framed(tug):
    faults = tug[2]
    [name] = [n for n, f in faults.items() if f.mode == "lifted" and "N5" in f.cables]
    assert {role for role, _ in marked(struck(tug, name))} == {"earth"}


def test_a_fault_elsewhere_is_said_and_not_marked(tug):
    plant, _, faults = tug
    name = next(n for n, f in faults.items() if f.mode == "open" and f.cables and "navigation" not in f.services
                and plant.installation.dossier.cables[f.cables[0]].service == "hook")  # fmt: skip
    scene = struck(tug, name)
    assert marked(scene) == []
    assert "A fault that is not on this plate" in words(scene)


def test_every_cable_fault_of_a_service_is_marked_on_its_plate(tug):
    plant, known, faults = tug
    parts = service_drawings(plant, "navigation", known=known)
    shown = {placed.wire.cable for part in parts for placed in part.wires}
    for fault in faults.values():
        if fault.mode in ("open", "to-earth") and fault.cables and fault.services == ("navigation",):
            assert fault_mark(fault).cables & shown or not fault_mark(fault).cables


def test_amperes_stand_beside_heavy_runs_and_touch_nothing():
    plant = plant_of("mail-amphibian")
    state = plate_state(plant, standing(plant, master_switch="on", port_starter_push="pressed"))
    said = ampere_words(state)
    # 20 V 170 A starter breaking away: the solution's own figure, to the ampere.
    assert said["K3"] == f"{state.amperes['K3']:.0f} A"
    assert state.amperes["K3"] > 100
    assert all(state.amperes[name] >= 1.0 for name in said)
    for part in service_drawings(plant, "starting"):
        placed = beside_wires(part, said)
        wanted = {w.wire.id for w in part.wires if w.wire.cable in said and not w.wire.bare}
        assert set(placed) == wanted
        taken = [*solids(part), *(mark.box for mark in part.marks)]
        for mark in placed.values():
            assert not any(mark.box.overlaps(box) for box in taken)


def test_a_dead_cover_has_neither_edge_nor_tracer(tug):
    plant, known, _ = tug
    state = plate_state(plant, rest(plant))
    [scene] = service_plate(plant, "navigation", known=known, state=state, way="insulation").scenes
    looks = [item.look for item, _ in walk(scene.items) if isinstance(item, Line)]
    assert not [look for look in looks if look.startswith(("edge-", "tracer"))]
