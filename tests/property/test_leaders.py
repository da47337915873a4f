"""Figures at leaders: no two leaders cross, nothing touches a number, whatever the craft and its places are."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlore.drawing.leading import Spot, led
from loomlore.drawing.scene import Box, Circle, Group, Line, Text, walk
from loomlore.drawing.spots import place_plate
from loomlore.drawing.typefaces import text_width
from shapes import segments_cross
from unit.drawing.test_roles import plant_of

EXAMPLES = ("mail-amphibian", "glider-tug", "harbour-launch")


def faults_of(seated):
    """What is wrong with seated figures, by plain geometry of the tests' own."""
    wrong = []
    for one, other in combinations(seated, 2):
        if segments_cross(one.leader, other.leader):
            wrong.append(("cross", one.spot.words, other.spot.words))
        if one.box.overlaps(other.box):
            wrong.append(("numbers", one.spot.words, other.spot.words))
    for one in seated:
        for other in seated:
            x, y = other.spot.at
            if one.box.left < x < one.box.right and one.box.top < y < one.box.bottom:
                wrong.append(("on a spot", one.spot.words, other.spot.words))
    return wrong


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 14)), min_size=1, max_size=24, unique=True))
def test_no_leaders_cross_and_nothing_lies_on_a_number(places):
    """Spots on a grid of 3 mm in a hull of 120 by 42 mm; numbers outside it."""
    spots = [Spot(str(n), (20 + 3.0 * x, 20 + 3.0 * y), 2.6) for n, (x, y) in enumerate(places, 1)]
    hull = Box(18, 18, 144, 66)
    seated = led(spots, Box(0, 0, 164, 86), free=lambda box: not box.overlaps(hull))
    assert [one.spot for one in seated] == spots
    assert faults_of(seated) == []
    assert not any(one.box.overlaps(hull, 0.5) for one in seated)


def test_too_many_spots_for_the_room_is_said():
    spots = [Spot(str(n), (3.0 * n, 10.0), 2.6) for n in range(20)]
    with pytest.raises(ValueError, match="no room"):
        led(spots, Box(0, 0, 12, 12), free=lambda _: True)


def views(scenes):
    """Each view of a place plan: its leaders, its figures' boxes, its spots, its other words' boxes."""
    for scene in scenes:
        for block, _ in walk(scene.items):
            if isinstance(block, Group) and block.role == "block":
                leaders = [
                    item.points for item in block.items if isinstance(item, Line) and item.look == "leader"
                ]
                if leaders:
                    texts = [item for item in block.items if isinstance(item, Text)]
                    figures = [item for item in texts if item.anchor == "middle"]
                    spots = [item.centre for item in block.items if isinstance(item, Circle)]
                    yield leaders, figures, spots, [item for item in texts if item not in figures]


def box_of(text):
    size = {"t-symbol-small": 2.35, "t-name": 2.65, "t-terminal": 2.3}[text.look]
    face = "sans" if text.look == "t-terminal" else "sans-semibold"
    long = text_width(text.words, face=face, size=size)
    left = text.at[0] - (long / 2 if text.anchor == "middle" else 0.0)
    return Box(left, text.at[1] - 0.7 * size, left + long, text.at[1])


@pytest.mark.parametrize("example", EXAMPLES)
def test_the_examples_place_plans_keep_every_rule(example):
    scenes = place_plate(plant_of(example).installation)
    found = list(views(scenes))
    assert len(found) == 2
    for leaders, figures, spots, others in found:
        assert len(leaders) == len(figures) == len(spots)
        assert not [pair for pair in combinations(leaders, 2) if segments_cross(*pair)]
        boxes = [box_of(text) for text in (*figures, *others)]
        assert not [(a, b) for a, b in combinations(boxes, 2) if a.overlaps(b)]
        for x, y in spots:
            assert not any(box.left < x < box.right and box.top < y < box.bottom for box in boxes)


@pytest.mark.parametrize("example", EXAMPLES)
def test_the_outline_on_paper_is_the_record_s_to_one_scale(example):
    """The box round the drawn points of both views, against the record's own figures."""
    dossier = plant_of(example).installation.dossier
    scale = []
    for scene in place_plate(plant_of(example).installation):
        for group, grown in walk(scene.items):
            if isinstance(group, Group) and group.role == "outline":
                ends = [v[-2:] for shape in group.items for _, v in getattr(shape, "commands", ()) if v]
                ends += [p for shape in group.items for p in getattr(shape, "points", ())]
                view = "side" if "port side" in group.name else "plan"
                typed = [p[0] for o in dossier.outlines.values() if o.view == view for p in o.points]
                drawn = max(x for x, _ in ends) - min(x for x, _ in ends)
                scale.append(drawn * grown / (max(typed) - min(typed)))
    assert scale[0] == pytest.approx(scale[1], rel=1e-6)
