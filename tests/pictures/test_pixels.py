"""What the painter puts on paper, looked at pixel by pixel with an independent reader of PNG."""

import io

import pytest
from PIL import Image

from loomlore.drawing.diagram import localised, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.looks import COLOURS, STROKES
from loomlore.drawing.painting import write_png
from loomlore.drawing.scene import Group
from loomlore.drawing.sheets import Legend, plate
from unit.drawing.trial_graphs import read_graph

DOTS = 254.0  # ten to the millimetre


@pytest.fixture(scope="module", params=["paper", "dark"])
def picture(request):
    parts = [laid_out(part) for part in parts_of(localised(read_graph("b_undercarriage")))]
    [scene] = plate(parts, Legend("Undercarriage indicator", number="3"))
    png = write_png(scene, dots_per_inch=DOTS, theme=request.param)
    return request.param, scene, Image.open(io.BytesIO(png)).convert("RGB")


def rgb(name, theme):
    colour = COLOURS[name][theme]
    return tuple(int(colour[n : n + 2], 16) for n in (1, 3, 5))


def wires(scene):
    """Each wire's line as placed on the sheet, with its role."""
    for part in (item for item in scene.items if isinstance(item, Group)):
        for group in part.items:
            if group.role == "cable" and "role-" in group.items[0].look:
                points = [
                    (part.shift[0] + part.scale * x, part.shift[1] + part.scale * y)
                    for x, y in group.items[0].points
                ]
                yield group.items[0].look.split("role-")[1].split()[0], points


def test_every_wire_has_the_hue_of_its_role(picture):
    theme, scene, image = picture
    seen = 0
    for role, points in wires(scene):
        (x0, y0), (x1, y1) = points[0], points[1]
        at = (round((x0 + 0.4 * (x1 - x0)) * 10), round((y0 + 0.4 * (y1 - y0)) * 10))
        near = [image.getpixel((at[0] + dx, at[1] + dy)) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
        assert rgb(STROKES[f"role-{role}"].stroke, theme) in near, role
        seen += 1
    assert seen == len(read_graph("b_undercarriage").wires)


def test_the_ground_is_paper_to_the_edge(picture):
    theme, _, image = picture
    corners = [(2, 2), (image.width - 3, 2), (2, image.height - 3), (image.width - 3, image.height - 3)]
    assert {image.getpixel(corner) for corner in corners} == {rgb("paper", theme)}


def test_the_title_and_the_number_leave_ink(picture):
    _, _, image = picture
    middle = image.width // 2
    title = image.crop((middle - 400, 150, middle + 400, 260)).convert("L")
    low, high = title.getextrema()
    assert high - low > 120
    foot = image.crop((100, image.height - 400, image.width - 100, image.height - 100)).convert("L")
    assert foot.getextrema()[1] - foot.getextrema()[0] > 120
