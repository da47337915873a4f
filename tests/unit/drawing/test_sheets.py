"""Furniture: every word on the sheet and on nothing else, the key of what is used, the caution always."""

from itertools import combinations

import pytest

from loomlore.drawing.diagram import localised, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.legends import CAUTION, Legend
from loomlore.drawing.looks import LEAST_TYPE, LETTERINGS, ROLES
from loomlore.drawing.scene import Box, Group, Text
from loomlore.drawing.sheets import plate
from loomlore.drawing.typefaces import text_width
from unit.drawing.trial_graphs import NAMES, read_graph

ACCOUNT = "Both lamps of a window burn together; the failure of one leaves the window lit but dimmer. " * 3
LEGEND = Legend(
    "Wheel indicator and warning horn",
    "An invented type · 24 volts, airframe return",
    "14",
    ACCOUNT,
    (
        "Cables are 14/.0076 in unless marked otherwise.",
        "Switches and relays are shown as nobody has touched them.",
    ),
    "handbook 9.18; drawing sheet 7",
    "proved 9 · contradicted 1",
    "record of 1 May 2026",
    hazards=("Horn: loud.",),
)


def words(items, x=0.0, y=0.0, scale=1.0):
    """Every text with its box on the sheet and its printed size."""
    for item in items:
        if isinstance(item, Group):
            yield from words(
                item.items, x + scale * item.shift[0], y + scale * item.shift[1], scale * item.scale
            )
        elif isinstance(item, Text):
            look = next(LETTERINGS[part] for part in item.look.split() if part in LETTERINGS)
            long = scale * text_width(item.words, face=look.face, size=look.size, spacing=look.spacing)
            size = scale * look.size
            left = x + scale * item.at[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * long
            base = y + scale * item.at[1]
            if item.turned == 90.0:
                bx = x + scale * item.at[0]
                yield item, size, Box(bx - 0.68 * size, base - long, bx, base)
            else:
                yield item, size, Box(left, base - 0.68 * size, left + long, base)


@pytest.fixture(scope="module")
def sheets():
    made = {}
    for name in NAMES:
        parts = [laid_out(part) for part in parts_of(localised(read_graph(name)))]
        made[name] = (parts, plate(parts, LEGEND))
    return made


@pytest.mark.parametrize("name", NAMES)
def test_every_word_is_large_enough_and_on_the_sheet(sheets, name):
    for scene in sheets[name][1]:
        for item, size, box in words(scene.items):
            assert size >= LEAST_TYPE - 1e-9, item.words
            assert box.left > 9.6, item.words
            assert box.top > 9.6, item.words
            assert box.right < scene.width - 9.6, item.words
            assert box.bottom < scene.height - 9.6, item.words


@pytest.mark.parametrize("name", NAMES)
def test_no_word_lies_on_another(sheets, name):
    for scene in sheets[name][1]:
        found = list(words(scene.items))
        for (one, _, a), (other, _, b) in combinations(found, 2):
            assert not a.overlaps(b, 0.15), f"{one.words!r} on {other.words!r}"


@pytest.mark.parametrize("name", NAMES)
def test_the_key_is_of_the_roles_used_on_that_sheet(sheets, name):
    parts, scenes = sheets[name]
    used = {w.wire.role for part in parts for w in part.wires if not w.wire.bare}
    said = {item.words for scene in scenes for item, _, _ in words(scene.items)}
    for role, (letter, meaning) in ROLES.items():
        assert any(meaning.startswith(line) for line in said if line.startswith(meaning[:12])) is (
            role in used
        )
        assert not letter or role not in used or letter in said


@pytest.mark.parametrize("name", NAMES)
def test_nothing_that_must_be_said_is_lost(sheets, name):
    for scene in sheets[name][1]:
        text = " ".join(item.words for item, _, _ in words(scene.items))
        assert CAUTION in text
        assert "Both lamps of a window burn together" in text or ACCOUNT[:30] in text
        for note in (*LEGEND.notes, LEGEND.verdicts, LEGEND.dated, "PLATE 14", "Caution: Horn: loud."):
            assert note in text, note


def test_every_part_is_on_some_sheet(sheets):
    for parts, scenes in sheets.values():
        groups = [item for scene in scenes for item in scene.items if isinstance(item, Group)]
        assert len(groups) == len(parts)


def test_small_parts_take_a_small_sheet(sheets):
    [scene] = sheets["a_lamps"][1]
    assert {scene.width, scene.height} == {210.0, 297.0}


def test_no_caution_is_parted_between_two_columns():
    """A caution read half is worse than none: all its lines stand under one another."""
    hazards = tuple(f"Item {n}: keep clear of it and of what it drives; isolate it first." for n in range(7))
    legend = Legend("Title", "", "1", notes=("A note. " * 12,), hazards=hazards)
    parts = [laid_out(part) for part in parts_of(localised(read_graph("a_lamps")))]
    for scene in plate(parts, legend):
        lines = [(item.at, item.words) for item, _, _ in words(scene.items) if item.look == "t-verdict"]
        for (x, y), line in lines:
            if line.startswith("Caution") and not line.rstrip().endswith("first."):
                below = [other for (ox, oy), other in lines if ox == x and 0 < oy - y < 4.5]
                assert below, line
