"""Widths and outlines against fontTools, an independent reader of the same files."""

import pytest
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from loomlore.drawing.typefaces import FILES, font_file, glyph_outline, text_width, typeface, wrapped

SAMPLE = "Wheel Indicator 24 V ½ Ω – “é” H30 S"


@pytest.mark.parametrize("face", sorted(FILES))
def test_width_is_that_of_the_metrics_table(face):
    font = TTFont(font_file(face))
    cmap, metrics = font.getBestCmap(), font["hmtx"]
    letters = [letter for letter in SAMPLE if ord(letter) in cmap]
    expected = sum(metrics[cmap[ord(letter)]][0] for letter in letters) / font["head"].unitsPerEm * 10.0
    assert text_width("".join(letters), face=face, size=10.0) == pytest.approx(expected, rel=1e-12)
    assert len(letters) > len(SAMPLE) - 3


@pytest.mark.parametrize("letter", ["A", "g", "é", "8", "&"])
def test_outline_has_the_points_of_the_glyph_table(letter):
    font = TTFont(font_file("sans"))
    name = font.getBestCmap()[ord(letter)]
    pen = DecomposingRecordingPen(font.getGlyphSet())
    font.getGlyphSet()[name].draw(pen)
    ends = [
        args[-1] for command, args in pen.value if command in ("moveTo", "lineTo", "qCurveTo") and args[-1]
    ]
    outline = glyph_outline("sans", typeface("sans").glyph(letter))
    drawn = {values[-2:] for command, values in outline if command != "Z"}
    assert {(float(x), float(y)) for x, y in ends} <= drawn
    assert sum(command == "M" for command, _ in outline) == sum(c == "moveTo" for c, _ in pen.value)


def test_letter_spacing_adds_to_each_letter():
    plain, spaced = (text_width("PLATE", face="serif", size=5.0, spacing=s) for s in (0.0, 0.1))
    assert spaced - plain == pytest.approx(5 * 0.1 * 5.0)


def test_lines_keep_to_the_width_and_a_number_with_its_word():
    lines = wrapped("Starboard landing lamp motor 2", face="sans", size=2.65, width=18.0)
    assert all(text_width(line, face="sans", size=2.65) <= 18.0 for line in lines)
    assert lines[-1].endswith("motor 2")
    assert " ".join(lines) == "Starboard landing lamp motor 2"


def test_a_character_the_face_lacks_shows_as_missing():
    assert typeface("sans").glyph("\u4e00") == 0
