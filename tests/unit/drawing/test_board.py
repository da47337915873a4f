"""The loom board at full size: lengths to scale, nails, tags, tiles that can be laid over one another."""

from collections import Counter
from itertools import pairwise

import pytest

from loomlore.drawing.board import BOARD_SHEETS, board_length, loom_board
from loomlore.drawing.press import least_line, least_type
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Circle, Group, Rectangle, Text, walk
from unit.drawing.test_roles import plant_of

LOOM = "port-root-loom"  # 0.9 m, 1.0 m and 1.7 m in the example's own text
OVERLAP, MARGIN = 10.0, 12.0


@pytest.fixture(scope="module")
def board():
    plant = plant_of("mail-amphibian")
    return plant, loom_board(plant.installation, roles(plant), LOOM)


def on_board(scene, number, step):
    """What a page shows, in the board's own coordinates."""
    [group] = [item for item in scene.items if isinstance(item, Group) and item.role == "board"]
    assert group.scale == 1.0
    assert group.shift[0] == pytest.approx(MARGIN - number * step)
    return [item for item, _ in walk(group.items) if not isinstance(item, Group)]


def everything(scenes):
    step = BOARD_SHEETS["A3"][0] - 2 * MARGIN - OVERLAP
    return [item for n, scene in enumerate(scenes) for item in on_board(scene, n, step)]


def test_the_trunk_is_as_long_as_the_record_says(board):
    plant, scenes = board
    trunk = [i for i in everything(scenes) if isinstance(i, Rectangle) and i.look == "body"]
    left = min(piece.corner[0] for piece in trunk)
    right = max(piece.corner[0] + piece.width for piece in trunk)
    assert right - left == pytest.approx(900 + 1000 + 1700)
    assert board_length(plant.installation.dossier.looms[LOOM]) == (pytest.approx(3600), 0)


def test_nails_are_never_far_apart(board):
    xs = sorted(
        {round(i.centre[0], 3) for i in everything(board[1]) if isinstance(i, Circle) and i.look == "solid"}
    )
    assert max(b - a for a, b in pairwise(xs)) <= 250.0 + 1e-6
    for place in (0, 900, 1900, 3600):
        assert any(abs(x - xs[0] - place) < 1e-6 for x in xs)


def test_every_cable_of_the_loom_has_a_tag_at_either_end(board):
    plant, scenes = board
    tags = Counter()
    seen = set()
    for item in everything(scenes):
        if isinstance(item, Text) and item.turned:
            key = (item.words, round(item.at[0], 2), round(item.at[1], 2))
            if key not in seen:
                seen.add(key)
                tags[item.words.split()[0]] += 1
    for cable in plant.installation.dossier.cables.values():
        if cable.along == LOOM:
            assert tags[cable.mark or cable.id] == 2, cable.id


def test_register_marks_of_neighbours_fall_on_one_another(board):
    _, scenes = board
    step = BOARD_SHEETS["A3"][0] - 2 * MARGIN - OVERLAP
    marks = [
        {
            (round(i.centre[0] + n * step, 3), round(i.centre[1], 3))
            for i in scene.items
            if isinstance(i, Circle)
        }
        for n, scene in enumerate(scenes)
    ]
    assert len(scenes) > 5
    for one, other in pairwise(marks):
        assert len(one & other) == 2


def test_pages_say_where_they_belong_and_how_to_check_the_scale(board):
    for n, scene in enumerate(board[1]):
        said = " ".join(item.words for item, _ in walk(scene.items) if isinstance(item, Text))
        assert f"page A{n + 1} of A{len(board[1])}" in said
        assert "100 mm: measure it" in said


@pytest.mark.parametrize("sheet", ["A3", "A4"])
def test_a_board_can_be_printed(sheet):
    plant = plant_of("glider-tug")
    for name in plant.installation.dossier.looms:
        scenes = loom_board(plant.installation, roles(plant), name, sheet=sheet)
        for scene in scenes:
            assert (scene.width, scene.height) == BOARD_SHEETS[sheet]
            assert least_type(scene) >= 6.5 * 25.4 / 72 - 1e-9
            assert least_line(scene) >= 0.2


def test_a_smaller_sheet_takes_more_rows():
    plant = plant_of("mail-amphibian")
    names = {
        item.words.split("page ")[1].split()[0]
        for scene in loom_board(plant.installation, roles(plant), LOOM, sheet="A4")
        for item, _ in walk(scene.items)
        if isinstance(item, Text) and "page " in item.words and " of " in item.words
    }
    assert {"A1", "B1"} <= names
