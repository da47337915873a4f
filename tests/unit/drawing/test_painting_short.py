"""Short SVG draws what the long one does: read back by a reader of paths that shares nothing with the writer."""

import random
import re

import pytest

from loomlore.drawing.painting import write_svg
from loomlore.drawing.painting_short import drawn_together, short_number, short_shape
from loomlore.drawing.scene import Circle, Group, Line, Path, Rectangle, Scene

NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)")
WANTS = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "a": 7, "z": 0}


def corners(path):
    """Where each command of a path leads, absolutely (SVG 2, 9.3: the grammar and each command's meaning)."""
    x = y = 0.0
    start = (0.0, 0.0)
    found = []
    for letter, rest in re.findall(r"([A-Za-z])([^A-Za-z]*)", path):
        numbers = [float(one) for one in NUMBER.findall(rest)]
        kind, relative = letter.lower(), letter.islower()
        assert len(numbers) == WANTS[kind], path
        from_x, from_y = (x, y) if relative else (0.0, 0.0)
        if kind == "z":
            x, y = start
        elif kind == "h":
            x = from_x + numbers[0]
        elif kind == "v":
            y = from_y + numbers[0]
        else:
            x, y = from_x + numbers[-2], from_y + numbers[-1]
        if kind == "m":
            start = (x, y)
        found.append((kind, x, y))
    return found


def d_of(svg):
    return re.search(r' d="([^"]*)"', svg)[1]


@pytest.mark.parametrize(
    ("value", "written"),
    [(0.5, ".5"), (-0.25, "-.25"), (-0.0001, "0"), (12.0, "12"), (100, "100"), (1.0004, "1")],
)
def test_numbers_are_short_and_right(value, written):
    assert short_number(value) == written


def test_a_long_walk_ends_where_it_should():
    """A thousand steps of which none is a round number: rounding must not add up."""
    rng = random.Random(7)
    points = tuple((rng.uniform(-300, 300), rng.choice([0.0, rng.uniform(-300, 300)])) for _ in range(1000))
    found = corners(d_of(short_shape(Line(points, "ink"))))
    for (_, x, y), point in zip(found, points, strict=True):
        assert (x, y) == pytest.approx(point, abs=0.00051)


def test_curves_and_what_follows_a_closed_part():
    commands = (
        ("M", (5.0, 5.0)), ("L", (9.0, 5.0)), ("C", (9.5, 5.0, 10.0, 5.5, 10.0, 6.0)), ("A", (2.0, 1.0, 8.0, 8.0)),
        ("Z", ()), ("L", (1.0, 2.0)), ("M", (-3.0, -4.0)), ("L", (-3.0, 4.0)),
    )  # fmt: skip
    found = corners(d_of(short_shape(Path(commands, "ink"))))
    assert [(x, y) for _, x, y in found] == [
        pytest.approx(one) for one in [(5, 5), (9, 5), (10, 6), (8, 8), (5, 5), (1, 2), (-3, -4), (-3, 4)]
    ]
    # a control point is relative to the point before the curve, and an arc has a radius twice
    assert "c.5 0 1 .5 1 1" in d_of(short_shape(Path(commands, "ink")))
    assert "a2 2 0 0 1 -2 2" in d_of(short_shape(Path(commands, "ink")))


def test_what_is_nought_is_left_out_as_the_standard_takes_it():
    """SVG 2, 10.2 and 10.3: cx, cy, x and y are nought where they are not given."""
    assert short_shape(Circle((0.0, 2.5), 0.4, "solid")) == '<circle cy="2.5" r=".4" class="solid"/>'
    assert short_shape(Rectangle((0.0, 0.0), 3, 2, "body")) == '<rect width="3" height="2" class="body"/>'


def test_only_neighbours_that_look_alike_and_are_not_filled_become_one():
    one, two = Line(((0, 0), (1, 0)), "ink"), Line(((0, 1), (1, 1)), "ink")
    assert len(list(drawn_together([one, two]))) == 1
    for between in (
        Circle((0, 0), 1, "glass"),
        Line(((0, 0), (1, 0)), "blade"),
        Line(((0, 0), (1, 0)), "ink", "open"),
        Group((one,)),
    ):
        assert list(drawn_together([one, between, two])) == [one, between, two]
    filled = Path((("M", (0, 0)), ("L", (1, 1)), ("Z", ())), "body")
    assert list(drawn_together([filled, filled])) == [filled, filled]


def test_a_printed_sheet_is_written_as_before():
    """Short forms are the browser's; a file that somebody edits keeps a shape a line."""
    scene = Scene(10.0, 10.0, (Line(((0, 0), (1, 0)), "ink"), Line(((0, 1), (1, 1)), "ink")), "Two")
    assert write_svg(scene, words="text").count("<polyline") == 2
    assert write_svg(scene, words="live").count("<path") == 1
