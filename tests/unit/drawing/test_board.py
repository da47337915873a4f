"""The loom board at full size: lengths to scale, nails, tags, tiles that can be laid over one another."""

import re
from collections import Counter
from itertools import combinations, pairwise
from math import dist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlore.answers.opening import open_dossier
from loomlore.drawing.board import BOARD_SHEETS, board_length, loom_board
from loomlore.drawing.looms import leaves
from loomlore.drawing.press import least_line, least_type
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Circle, Group, Line, Rectangle, Text, walk
from loomlore.drawing.tails import cable_tails, laid_tail
from loomlore.sizing.dropping import lengths_of
from unit.drawing.test_roles import plant_of

ALLOWANCE = {
    "mail-amphibian": 100.0,
    "glider-tug": 150.0,
    "harbour-launch": 200.0,
}  # in the examples' own text [mm]
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
        {round(i.centre[0], 3) for i in everything(board[1]) if isinstance(i, Circle) and i.radius > 1}
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


def tails_of(name, loom):
    """Every tail as it is laid on the board: cable, end, record's tail, and the drawn line."""
    plant = plant_of(name)
    joined = plant.installation
    thing = joined.dossier.looms[loom]
    found = cable_tails(joined, thing)
    for many in leaves(joined, thing).values():
        for cable, end in many:
            yield cable, end, found[cable.id, end]


@pytest.mark.parametrize("name", ALLOWANCE)
def test_both_tails_and_the_legs_are_the_whole_cable_as_cables_has_it(name):
    """The tag's whole length is the one by which ``cables`` judges drops and cuts new cable."""
    plant = plant_of(name)
    lengths = lengths_of(plant.installation.dossier)
    for loom in plant.installation.dossier.looms.values():
        stops = leaves(plant.installation, loom)
        places = {}
        for n, many in enumerate(stops.values()):
            for cable, end in many:
                places.setdefault(cable.id, []).append((n, end))
        tails = cable_tails(plant.installation, loom)
        for mark, ((first, one), (last, other)) in places.items():
            legs = sum(leg.value for leg in loom.legs[first:last]) * 1000
            both = tails[mark, one].length + tails[mark, other].length
            assert (legs + both) / 1000 == pytest.approx(lengths[mark].value, abs=1e-9), mark
            assert tails[mark, one].whole == pytest.approx(lengths[mark].value)


def test_tails_by_hand():
    """glider-tug's wing loom: legs 1.0 m and 5.1 m, allowance 0.15 m at either end, both ends on the route.

    By hand: 1.0 + 5.1 + 2 x 0.15 = 6.40 m, so each tail is 150 mm.
    """
    found = list(tails_of("glider-tug", "port-wing-loom"))
    assert len(found) == 2
    for _, _, tail in found:
        assert tail.length == pytest.approx(150.0)
        assert tail.whole == pytest.approx(6.40)


def test_an_end_that_stands_away_from_the_route_has_the_longer_tail(amphibian_like):
    """By hand: 0.3 m aft of the place at 1.3 times is 390 mm, and 100 mm allowance at either end."""
    tails = cable_tails(amphibian_like, amphibian_like.dossier.looms["main"])
    assert tails["A1", "lamp.1"].length == pytest.approx(490.0)
    assert tails["A1", "box.1"].length == pytest.approx(100.0)
    # A written length of 3 m: 2 m of leg, 390 mm to the lamp, what is left (610 mm) halved.
    assert tails["A2", "lamp.2"].length == pytest.approx(390 + 305)
    assert tails["A2", "box.2"].length == pytest.approx(305)


@pytest.fixture
def amphibian_like(tmp_path):
    (tmp_path / "a.toml").write_text(
        """
[dossier]
format = 1
title = "Invented"
supply = "24 V"
allowance = "0.1 m"
[place]
bay = { at = ["0 m", "0 m", "0 m"] }
bow = { at = ["2 m", "0 m", "0 m"] }
far = { at = ["2.3 m", "0 m", "0 m"] }
[loom]
main = { route = ["bay", "bow"], legs = ["2 m"] }
[item]
box = { kind = "fuse-box", ways = 2, place = "bay" }
lamp = { kind = "lamp", rating = "24 V 6 W", place = "far" }
[service.lamp]
feed = "box.1"
[service.lamp.cables]
A1 = { from = "box.1", to = "lamp.1", along = "main" }
A2 = { from = "lamp.2", to = "box.2", along = "main", length = "3 m" }
""",
        encoding="utf-8",
    )
    return open_dossier(tmp_path).plant().installation


@settings(deadline=None)
@given(
    st.floats(0.0, 400.0),
    st.floats(-60.0, 60.0),
    st.floats(20.0, 46.0),  # a tag is 46 mm at most
    st.sampled_from([7.4, 9.6]),
    st.sampled_from([20.0, 24.0]),
)
def test_a_tail_is_drawn_as_long_as_it_is_cut(length, aside, tag, pitch, rise):
    laid = laid_tail(length, aside, tag=tag, pitch=pitch, rise=rise)
    drawn = sum(dist(a, b) for a, b in pairwise(laid.line))
    if laid.whole:
        assert drawn == pytest.approx(length, abs=1e-6)
    else:
        assert drawn < length
    assert laid.tag + tag <= 131.0 + 1e-6, "the tag stays on the board"
    assert max(y for _, y in laid.line) <= 108.0 + 1e-6
    assert all(x <= max(aside, 0.0) + pitch - 1.2 for x, _ in laid.line), "and in its column"


def test_a_tail_on_the_page_is_to_length_and_says_so(board):
    """Every tail of the example's loom: 100 mm, measured on the scene itself."""
    plant, _ = board
    for name, loom in (
        ("mail-amphibian", LOOM),
        ("glider-tug", "engine-loom"),
        ("harbour-launch", "aft-loom"),
    ):
        plant = plant_of(name)
        scenes = loom_board(plant.installation, roles(plant), loom)
        whole = {}
        step = BOARD_SHEETS["A3"][0] - 2 * MARGIN - OVERLAP
        for n, scene in enumerate(scenes):
            for group in [g for g, _ in walk(scene.items) if isinstance(g, Group) and g.role == "cable"]:
                words = " ".join(t.words for t in group.items if isinstance(t, Text))
                lines = [i.points for i in group.items if isinstance(i, Line) and "wire" in i.look]
                if "cut" in words and all(-0.1 <= x - n * step <= step for line in lines for x, _ in line):
                    whole[words] = sum(dist(*line) for line in lines)
        assert whole
        for words, drawn in whole.items():
            said = float(re.search(r"cut (\d+) mm from N\d+ of", words)[1])
            if said == ALLOWANCE[name]:
                assert drawn == pytest.approx(said, abs=0.01), words


@pytest.mark.parametrize(
    ("name", "loom"),
    [("mail-amphibian", "hull-loom"), ("mail-amphibian", "port-wing-loom"), ("harbour-launch", "aft-loom")],
)
def test_nothing_on_a_page_lies_on_a_tag_or_a_word(name, loom):
    plant = plant_of(name)
    for scene in loom_board(plant.installation, roles(plant), loom):
        [group] = [item for item in scene.items if isinstance(item, Group) and item.role == "board"]
        found = [item for item, _ in walk(group.items)]
        # A tag that the page's edge cuts is drawn whole: its own words may stand on the next page.
        tags = [i for i in found if isinstance(i, Rectangle) and i.look == "tag"]
        boxes = {
            (*i.corner, i.corner[0] + i.width, i.corner[1] + i.height)
            for i in tags
            if i.width > 5 and i.height > 30
        }
        for one, other in combinations(sorted(boxes), 2):
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            assert across < 0.05 or down < 0.05
        for line in [i for i in found if isinstance(i, Line) and "wire" in i.look]:
            (ax, ay), (bx, by) = line.points
            through = [
                box
                for box in boxes
                if abs(ax - bx) < 0.01
                and box[0] + 0.1 < ax < box[2] - 0.1
                and min(ay, by) < box[3]
                and max(ay, by) > box[1]
            ]
            assert len(through) <= 1, "its own tag at most"
