"""Painters: well-formed, deterministic, fit for a strict content security policy."""

import io
import xml.etree.ElementTree as ET

from PIL import Image

from loomlore.drawing.painting import face_rules, write_pdf, write_png, write_svg
from loomlore.drawing.scene import Circle, Group, Line, Path, Rectangle, Scene, Text

BLADES = Group(
    (Line(((0, 0), (0, 5)), "blade", "shut"), Line(((0, 0), (-3, 5)), "blade", "open")),
    role="contact",
    name="horn.pole",
    state="open",
    shift=(30.0, 10.0),
)
SCENE = Scene(
    100.0,
    50.0,
    (
        Rectangle((0, 0), 100, 50, "ground"),
        Text((50, 20), 'Wheels & "floats"', "t-title", "middle"),
        Line(((10, 40), (90, 40)), "wire role-switched amperes-5"),
        Circle((70, 30), 3, "glass"),
        Path((("M", (5, 5)), ("A", (2, 1, 9, 5)), ("Z", ())), "ink"),
        BLADES,
    ),
    "Horn <test>",
    "A line & a circle",
)
SVG = "{http://www.w3.org/2000/svg}"


def test_every_variant_is_well_formed_and_titled():
    for words in ("outlined", "text", "live"):
        root = ET.fromstring(write_svg(SCENE, words=words))
        assert root.find(f"{SVG}title").text == "Horn <test>"
        assert root.find(f"{SVG}desc").text == "A line & a circle"


def test_live_has_classes_only_and_every_state():
    svg = write_svg(SCENE, words="live")
    assert "style=" not in svg
    assert "<style" not in svg
    assert 'class="contact state-open" data-contact="horn.pole"' in svg
    assert "only-shut" in svg
    assert "only-open" in svg


def test_paper_shows_the_state_at_rest_only():
    svg = write_svg(SCENE, words="text")
    assert "only-open" in svg
    assert "only-shut" not in svg


def test_outlined_needs_no_font_and_says_its_words():
    root = ET.fromstring(write_svg(SCENE))
    assert not root.findall(f".//{SVG}text")
    said = [group.get("aria-label") for group in root.iter(f"{SVG}g")]
    assert 'Wheels & "floats"' in said
    known = {path.get("id") for path in root.iter(f"{SVG}path") if path.get("id")}
    used = {use.get("href")[1:] for use in root.iter(f"{SVG}use")}
    assert used
    assert used <= known


def test_png_has_its_size_its_ground_and_its_wire():
    picture = Image.open(io.BytesIO(write_png(SCENE, dots_per_inch=254))).convert("RGB")
    assert picture.size == (1000, 500)
    assert picture.getpixel((950, 480)) == (0xF7, 0xF1, 0xE1)
    assert picture.getpixel((500, 400)) == (0x00, 0x72, 0xB2)
    title = picture.crop((150, 130, 850, 210)).convert("L")
    assert title.getextrema()[0] < 80, "the title has left no ink"


def test_same_scene_same_bytes():
    assert write_svg(SCENE) == write_svg(SCENE)
    assert write_png(SCENE) == write_png(SCENE)
    assert write_pdf([SCENE], title="x") == write_pdf([SCENE], title="x")


def test_pdf_has_a_page_a_scene_of_its_size():
    pdf = write_pdf([SCENE, SCENE, SCENE], title="Three")
    assert pdf.startswith(b"%PDF")
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page/") + pdf.count(b"/Type/Page/") == 3 or (
        b"/Count 3" in pdf
    )
    # 100 mm in points
    assert b"283.46" in pdf


def test_faces_are_served_by_name():
    css = face_rules("/type")
    assert css.count("@font-face") == 7
    assert "url('/type/SourceSansPro-Regular.ttf')" in css
