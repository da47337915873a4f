"""Trim and bleed as boxes of the PDF's pages, read back by a reader that shares nothing with the writer."""

import os
import subprocess
import sys
from dataclasses import replace

import pytest

from loomlore.drawing.painting import write_pdf
from loomlore.drawing.painting_boxes import with_boxes
from loomlore.drawing.press import pressed
from loomlore.drawing.scene import Box, Rectangle, Scene, Text
from unit.drawing.pdf_reader import page_boxes

MM = 72 / 25.4  # PDF's default unit is 1/72 in (ISO 32000-1, 8.3.2.3)


def sheet(width=210.0, height=297.0, title="Sheet"):
    items = (Rectangle((0, 0), width, height, "ground"), Text((20, 20), title, "t-title"))
    return Scene(width, height, items, title)


def near(box, *millimetres):
    return box == pytest.approx([side * MM for side in millimetres], abs=0.01)


def test_a_page_with_bleed_has_both_boxes():
    """Trimmed to A4 with 3 mm: by hand 216 x 303 mm of paper, the cut 3 mm within."""
    (boxes,) = page_boxes(write_pdf([pressed(sheet(), bleed=3.0)], title="One"))
    assert near(boxes["MediaBox"], 0, 0, 216, 303)
    assert near(boxes["BleedBox"], 0, 0, 216, 303)
    assert near(boxes["TrimBox"], 3, 3, 213, 300)


def test_crop_marks_stand_outside_the_bleed_box():
    """With marks there are 9 mm more on every side: the bleed box begins there, the cut 3 mm further in."""
    (boxes,) = page_boxes(write_pdf([pressed(sheet(), bleed=3.0, marks=True)], title="One"))
    assert near(boxes["MediaBox"], 0, 0, 234, 321)
    assert near(boxes["BleedBox"], 9, 9, 225, 312)
    assert near(boxes["TrimBox"], 12, 12, 222, 309)


def test_boxes_lie_within_one_another_on_every_page():
    """ISO 32000-1, 14.11.2: the trim box within the bleed box within the media box."""
    pages = [pressed(sheet(w, h, f"Sheet {n}"), bleed=5.0, marks=n % 2 == 0) for n, (w, h) in
             enumerate([(210.0, 297.0), (297.0, 210.0), (420.0, 297.0)] * 9)]  # fmt: skip
    found = page_boxes(write_pdf(pages, title="Many"))
    assert len(found) == len(pages)
    for boxes, page in zip(found, pages, strict=True):
        media, bleed, trim = (boxes[name] for name in ("MediaBox", "BleedBox", "TrimBox"))
        assert near(media, 0, 0, page.width, page.height)
        for outer, inner in ((media, bleed), (bleed, trim)):
            assert outer[0] <= inner[0] + 0.01
            assert outer[1] <= inner[1] + 0.01
            assert outer[2] >= inner[2] - 0.01
            assert outer[3] >= inner[3] - 0.01


def test_up_is_up():
    """A box that is not in the middle: 10 mm are cut at the top of the page and none at its foot."""
    scene = replace(sheet(100.0, 100.0), trim=Box(0, 10, 100, 100))
    (boxes,) = page_boxes(write_pdf([scene], title="One"))
    assert near(boxes["TrimBox"], 0, 0, 100, 90)


def test_without_bleed_nothing_is_added():
    plain = write_pdf([sheet()], title="One")
    assert with_boxes(plain, [sheet()]) == plain
    assert "TrimBox" not in page_boxes(plain)[0]


def test_the_file_s_own_bytes_stay():
    scene = pressed(sheet(), bleed=3.0)
    plain = write_pdf([replace(scene, trim=None, bleed=None)], title="One")
    boxed = write_pdf([scene], title="One")
    assert boxed.startswith(plain)
    assert len(boxed) - len(plain) < 600


def test_a_file_built_otherwise_is_refused():
    with pytest.raises(RuntimeError, match="pages"):
        with_boxes(b"%PDF-1.7\nstartxref\n3\n%%EOF", [pressed(sheet(), bleed=3.0)])
    with pytest.raises(RuntimeError, match="1 pages for 2 sheets"):
        with_boxes(write_pdf([sheet()], title="One"), [pressed(sheet(), bleed=3.0)] * 2)


def test_the_same_bytes_under_another_hash_seed():
    code = (
        "import hashlib\n"
        "from loomlore.drawing.painting import write_pdf\n"
        "from loomlore.drawing.press import pressed\n"
        "from loomlore.drawing.specimens import symbol_sheet\n"
        "pages = [pressed(s, bleed=3.0, marks=True) for s in symbol_sheet('1')]\n"
        "print(hashlib.sha256(write_pdf(pages, title='One')).hexdigest())\n"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("0", "1")
    }  # fmt: skip
    assert len(found) == 1
