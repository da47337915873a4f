"""Print settings, over every plate of the examples in every named standard of fit."""

import re
from pathlib import Path

import pytest

from loomlore.answers.opening import open_dossier
from loomlore.drawing.further import FURTHER, further_plates
from loomlore.drawing.painting import write_svg
from loomlore.drawing.plates import all_plates
from loomlore.drawing.press import least_line, least_type, pressed
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Line, Rectangle, Scene, Text, walk

EXAMPLES = Path(__file__).parents[3] / "examples"
STANDARDS = [
    (name, standard)
    for name in ("glider-tug", "harbour-launch", "mail-amphibian")
    for standard in ("", *open_dossier(EXAMPLES / name).dossier.standards)
]
TYPE = 6.5 * 25.4 / 72  # 6.5 pt in millimetres
HAIRLINE = 0.2
ISO_216 = {(210.0, 297.0), (297.0, 210.0), (297.0, 420.0), (420.0, 297.0)}


@pytest.mark.parametrize(("example", "standard"), STANDARDS)
def test_every_plate_can_be_printed(example, standard):
    opened = open_dossier(EXAMPLES / example)
    plant = opened.plant(opened.fits(standard))
    plates = all_plates(plant)
    plates += further_plates(plant, roles(plant), [word for word in FURTHER if word != "boards"])
    assert plates
    for one in plates:
        for scene in one.scenes:
            assert least_type(scene) >= TYPE - 1e-9, scene.title
            assert least_line(scene) >= HAIRLINE - 1e-9, scene.title
            assert (scene.width, scene.height) in ISO_216, scene.title


def test_what_is_measured_is_what_is_painted():
    """The thinnest stroke of the painted sheet's own style sheet, read back from the SVG."""
    scene = Scene(50, 50, (Line(((0, 0), (9, 9)), "fine-rule"), Text((5, 5), "x", "t-fine")), "t")
    svg = write_svg(scene, words="text")
    [width] = re.findall(r"\.fine-rule\{[^}]*stroke-width:([\d.]+)px", svg)
    [size] = re.findall(r"\.t-fine\{[^}]*font-size:([\d.]+)px", svg)
    assert least_line(scene) == pytest.approx(float(width))
    assert least_type(scene) == pytest.approx(float(size))


def sheet():
    ground = Rectangle((0.0, 0.0), 210.0, 297.0, "ground")
    return Scene(210.0, 297.0, (ground, Text((20, 20), "words", "t-title")), "A title")


def test_a_bleed_goes_over_every_edge():
    made = pressed(sheet(), bleed=3.0)
    assert (made.width, made.height) == (216.0, 303.0)
    ground = made.items[0]
    assert (ground.corner, ground.width, ground.height) == ((0.0, 0.0), 216.0, 303.0)


def test_crop_marks_stand_outside_the_bleed_and_point_at_the_corners():
    made = pressed(sheet(), bleed=3.0, marks=True)
    edge = (made.width - 210.0) / 2
    lines = [item for item in made.items if isinstance(item, Line)]
    assert len(lines) == 8
    for line in lines:
        (x0, y0), (x1, y1) = line.points
        at_x = min(abs(x - edge) for x in (x0,)) < 1e-9 or abs(x0 - edge - 210.0) < 1e-9
        at_y = abs(y0 - edge) < 1e-9 or abs(y0 - edge - 297.0) < 1e-9
        assert (x0 == x1 and at_x) or (y0 == y1 and at_y)
        outside = [x < edge - 3 or x > edge + 213 or y < edge - 3 or y > edge + 300 for x, y in line.points]
        assert all(outside)


def test_a_trim_that_makes_type_too_small_is_refused():
    small = Scene(210.0, 297.0, (Text((0, 0), "x", "t-fine"),), "Navigation lamps")
    with pytest.raises(ValueError, match=r"Navigation lamps.*6\.5 pt"):
        pressed(small, trim=(148.0, 210.0))
    large = pressed(small, trim=(420.0, 297.0))
    assert (large.width, large.height) == (297.0, 420.0)
    assert least_type(large) == pytest.approx(least_type(small) * min(297 / 210, 420 / 297))


def test_a_negative_bleed_is_refused():
    with pytest.raises(ValueError, match="bleed"):
        pressed(sheet(), bleed=-1.0)


def test_nothing_is_lost():
    made = pressed(sheet(), trim=(210.0, 297.0), bleed=3.0, marks=True)
    assert any(isinstance(item, Text) and item.words == "words" for item, _ in walk(made.items))
