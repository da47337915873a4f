"""A sneak's path on the plates it crosses: every conductor in a band, arrows with the current, figures in order.

Expected paths are read off the record by hand, as in the tests of named paths.
"""

from itertools import combinations, pairwise
from math import hypot
from pathlib import Path

import pytest

from loomlore.answers.draw import draw
from loomlore.drawing.pathways import path_mark, path_notes
from loomlore.drawing.plates import service_plate
from loomlore.drawing.press import least_line, least_type
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Circle, Group, Line, Text, walk
from loomlore.faults.named_paths import named_path
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well
from loomlore.findings import RefusedEdit, UnknownName
from loomlore.record.model import AIRFRAME
from unit.drawing.test_roles import plant_of
from unit.drawing.test_sheets import words

EXAMPLES = Path(__file__).parents[3] / "examples"
HAIL = ("E1", "E2", "E3", "E10", "E11", "H1", "H4", "H5", "H6", "H7")
BOLT = "earth.hold-bolt.lifted"


@pytest.fixture(scope="module")
def hail():
    """The planted case: one lamp keyed and not pressed, the other on; H6 joins their returns."""
    plant = plant_of("mail-amphibian")
    return plant, path_mark(plant, named_path(plant, "lower-hail-lamp.by.H6"))


@pytest.fixture(scope="module")
def bolt():
    """The planted case: one bolt for the hold lamps and the bilge pump, and it is off."""
    plant = plant_of("mail-amphibian")
    return plant, path_mark(plant, named_path(plant, BOLT))


def scenes_of(plant, mark):
    known = roles(plant)
    for service in mark.services:
        for scene in service_plate(plant, service, known=known, path=mark).scenes:
            yield service, scene


def parts(scene):
    return [item for item in scene.items if isinstance(item, Group) and item.role == "part"]


def bands(scene):
    return [
        item.points
        for part in parts(scene)
        for item in part.items
        if isinstance(item, Line) and item.look == "path-band"
    ]


def figures(scene):
    """Each figure with the ring it stands in."""
    for part in parts(scene):
        for ring, text in pairwise(part.items):
            if isinstance(ring, Circle) and isinstance(text, Text) and text.words.isdigit():
                yield int(text.words), ring.centre


def wire_points(scene, cable):
    groups = [
        g for g, _ in walk(scene.items) if isinstance(g, Group) and g.role == "cable" and g.name == cable
    ]
    return [next(i for i in group.items if isinstance(i, Line)).points for group in groups]


def test_every_cable_of_the_path_is_banded_on_its_own_plate(hail):
    plant, mark = hail
    assert mark.services == ("supply", "hail-lamps")
    assert tuple(step.name for step in mark.steps if step.sort == "cable") == HAIL
    drawn = {}
    for service, scene in scenes_of(plant, mark):
        for points in bands(scene):
            for cable in HAIL:
                if any({*points} == {*wire} for wire in wire_points(scene, cable)):
                    drawn.setdefault(cable, service)
    services = {mark: plant.installation.dossier.cables[mark].service for mark in HAIL}
    assert drawn == services


def test_no_other_cable_is_banded(hail):
    plant, mark = hail
    for _, scene in scenes_of(plant, mark):
        on_path = [tuple(sorted(points)) for cable in HAIL for points in wire_points(scene, cable)]
        assert all(tuple(sorted(points)) in on_path for points in bands(scene))


def test_figures_go_from_one_to_the_last_over_all_plates(hail, bolt):
    for plant, mark in (hail, bolt):
        found = [number for _, scene in scenes_of(plant, mark) for number, _ in figures(scene)]
        assert len(found) == len(set(found)), "each figure once"
        bars = {step.number for step in mark.steps if step.name.startswith("main-bus.")}
        assert {step.number for step in mark.steps} - set(found) <= bars, "a bar that no plate draws"


def test_arrows_point_with_the_current(hail):
    """H5 runs from the lower lamp to the box, H6 against its own direction: from RD to RU."""
    plant, mark = hail
    dossier = plant.installation.dossier
    for service, scene in scenes_of(plant, mark):
        if service != "hail-lamps":
            continue
        for cable, against in (("H1", False), ("H4", False), ("H5", False), ("H6", True), ("H7", False)):
            [points] = wire_points(scene, cable)
            assert cable in dossier.cables
            start, end = (points[-1], points[0]) if against else (points[0], points[-1])
            [band] = [b for b in bands(scene) if {*b} == {*points}]
            assert (band[0], band[-1]) == (start, end)
            tips = [
                item.points
                for part in parts(scene)
                for item in part.items
                if isinstance(item, Line) and item.look == "path-arrow"
            ]
            for back, tip, other in tips:
                for a, b in pairwise(band):
                    long = hypot(b[0] - a[0], b[1] - a[1])
                    middle = ((back[0] + other[0]) / 2, (back[1] + other[1]) / 2)
                    share = (
                        (middle[0] - a[0]) * (b[0] - a[0]) + (middle[1] - a[1]) * (b[1] - a[1])
                    ) / long**2
                    off = hypot(
                        middle[0] - a[0] - share * (b[0] - a[0]), middle[1] - a[1] - share * (b[1] - a[1])
                    )
                    if 0 < share < 1 and off < 0.01:
                        along = (tip[0] - middle[0]) * (b[0] - a[0]) + (tip[1] - middle[1]) * (b[1] - a[1])
                        assert along > 0, cable


def test_a_drawn_wire_runs_from_its_from_to_its_to(hail):
    """What arrows rest on: the points of a wire are in its cable's own order, earthed ends too."""
    plant, _ = hail
    scene = service_plate(plant, "hail-lamps").scenes[0]
    lamps = {g.name: g for g, _ in walk(scene.items) if isinstance(g, Group) and g.role == "earth"}
    assert f"{AIRFRAME}.switch-bolt" in lamps
    [[start, *_, end]] = wire_points(scene, "H7")
    assert end[1] > start[1], "from the box down to the bolt"
    [[start, *_, end]] = wire_points(scene, "H1")
    assert end[1] > start[1], "from the fuse down to the box"


def test_figures_and_tags_lie_on_no_word_and_within_the_frame(hail, bolt):
    for plant, mark in (hail, bolt):
        for _, scene in scenes_of(plant, mark):
            found = list(words(scene.items))
            for (one, _, a), (other, _, b) in combinations(found, 2):
                assert not a.overlaps(b, 0.25), f"{one.words!r} on {other.words!r}"
            for _, _, box in found:
                assert box.left > 9.6
                assert box.right < scene.width - 9.6


def test_both_sides_of_a_crossing_say_where_it_goes(hail):
    plant, mark = hail
    said = {}
    for service, scene in scenes_of(plant, mark):
        said.setdefault(service, []).extend(i.words for i, _ in walk(scene.items) if isinstance(i, Text))
    assert "9 goes on to 10, plate 7" in said["supply"]
    assert "10 comes from 9, plate 1" in said["hail-lamps"]


def test_the_notes_have_every_step_in_words(bolt):
    _, mark = bolt
    (what, steps) = path_notes(mark, "bilge-pump")
    assert "hold bolt is lifted" in what
    assert "this plate: " in steps
    assert "12 D9 backwards" in steps
    for step in mark.steps:
        assert f"{step.number} {step.words}" in steps


def test_a_path_can_be_printed(bolt):
    plant, mark = bolt
    for _, scene in scenes_of(plant, mark):
        assert least_type(scene) >= 6.5 * 25.4 / 72 - 1e-9
        assert least_line(scene) >= 0.2


def test_draw_takes_the_name_that_faults_prints(tmp_path):
    answer = draw(
        EXAMPLES / "mail-amphibian", path="lower-hail-lamp.by.H6", folder=tmp_path, formats=("svg",)
    )
    assert [plates.service for plates in answer.plates] == ["supply", "hail-lamps"]
    text = "".join(path.read_text(encoding="utf-8") for path in sorted(tmp_path.iterdir()))
    assert 'class="path-band"' in text
    assert "hail box, upper continuous" in text


def test_a_live_magneto_s_lead_is_drawn(tmp_path):
    answer = draw(EXAMPLES / "glider-tug", path="left-magneto.live", folder=tmp_path, formats=("svg",))
    assert [plates.service for plates in answer.plates] == ["ignition"]
    assert "FAULT" in (tmp_path / answer.files[0].rpartition("/")[2]).read_text(encoding="utf-8")


def test_a_wrong_name_or_another_setting_is_refused_and_nothing_written(tmp_path):
    with pytest.raises(UnknownName, match="H6"):
        draw(EXAMPLES / "mail-amphibian", path="lower-hail-lamp.by.H7", folder=tmp_path / "a")
    with pytest.raises(RefusedEdit, match="--set"):
        draw(EXAMPLES / "glider-tug", path="left-magneto.live", fault="N2.open", folder=tmp_path / "a")
    plant = plant_of("glider-tug")
    label = next(
        sneak.name for sneak in sneaks_with_all_well(plant) if sneak.kind == "label" and not sneak.steps
    )
    with pytest.raises(RefusedEdit, match="no way to draw"):
        draw(EXAMPLES / "glider-tug", path=label, folder=tmp_path / "a")
    assert not (tmp_path / "a").exists()
