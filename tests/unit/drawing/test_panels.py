"""The panel beside a narrow drawing: chosen where it fills the sheet better, everything said in it."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from loomlore.drawing.diagram import localised, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.legends import Legend
from loomlore.drawing.painting import write_png
from loomlore.drawing.plates import service_plate
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Line
from loomlore.drawing.sheets import plate
from unit.drawing.test_roles import plant_of
from unit.drawing.trial_graphs import read_graph

DOTS = 20  # an inch: 1.27 mm a dot


def largest_blank(scene):
    """Share of what lies under the title and within the frame that the largest rectangle of bare ground takes.

    Counted in a painted picture, so that it knows nothing of boxes.
    """
    picture = np.asarray(
        Image.open(BytesIO(write_png(scene, dots_per_inch=4 * DOTS))).convert("L"), dtype=int
    )
    dark = np.abs(picture - picture[3, 3]) > 24
    high, wide = (n // 4 for n in dark.shape)
    dark = dark[: 4 * high, : 4 * wide].reshape(high, 4, wide, 4).any(axis=(1, 3))
    step = 25.4 / DOTS
    top, edge = int(34 / step), int(13 / step)
    field = dark[top:-edge, edge:-edge]
    best, depth = 0, np.zeros(field.shape[1], dtype=int)
    for row in field:
        depth = np.where(row, 0, depth + 1)
        for left in range(len(depth)):
            lowest = np.minimum.accumulate(depth[left:])
            best = max(best, int((lowest * np.arange(1, len(lowest) + 1)).max()))
    return best / field.size


def upright_rule(scene):
    """The rule of a panel, if the sheet has one."""
    rules = [item for item in scene.items if isinstance(item, Line) and item.look == "fine-rule"]
    return [
        rule for rule in rules
        if rule.points[0][0] == rule.points[1][0] and abs(rule.points[0][1] - rule.points[1][1]) > scene.height / 2
    ]  # fmt: skip


def test_the_picture_measure_finds_a_blank_of_known_size():
    [scene] = plate([laid_out(part) for part in parts_of(localised(read_graph("a_lamps")))], Legend("A"))
    assert 0.1 < largest_blank(scene) < 0.25


def test_a_narrow_chain_has_a_panel_and_a_wide_drawing_a_foot():
    narrow = [laid_out(part) for part in parts_of(localised(read_graph("a_lamps")))]
    wide = [laid_out(part) for part in parts_of(localised(read_graph("b_undercarriage")))]
    assert upright_rule(plate(narrow, Legend("A"))[0])
    assert not upright_rule(plate(wide, Legend("B"))[0])


def test_words_too_many_for_a_panel_go_into_a_foot():
    hazards = tuple(
        f"Item {n}: keep clear of it and of what it drives; isolate it first. " * 3 for n in range(14)
    )
    parts = [laid_out(part) for part in parts_of(localised(read_graph("a_lamps")))]
    for scene in plate(parts, Legend("A", hazards=hazards)):
        assert not upright_rule(scene)


SPARE = {
    "glider-tug": ("cockpit", "hook", "ignition", "signals"),
    "harbour-launch": ("supply", "cabin", "bilge", "navigation"),
    "mail-amphibian": ("pressure-head", "mooring-lamp", "heated-clothing", "voice-radio", "supply"),
}


@pytest.mark.parametrize("example", SPARE)
def test_no_plate_of_a_small_service_leaves_a_quarter_blank(example):
    """As asked: the largest blank rectangle under 25 %; here of the sheet less its frame and title."""
    plant = plant_of(example)
    known = roles(plant)
    for service in SPARE[example]:
        for scene in service_plate(plant, service, known=known).scenes:
            assert largest_blank(scene) < 0.25, service
