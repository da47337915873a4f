"""Names beside symbols: near what they name, clear of its words and bars, on either side."""

import pytest

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.diagram import localised, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.naming import berth, name_size
from loomlore.drawing.symbols import compose
from unit.drawing.trial_graphs import NAMES, read_graph

SELECTOR = compose(
    Body(
        ("A", "B"), ("C",), (Part("s", "selector", ("C", "A", "B"), actuator="lever"),), order="fixed",
        printed=(("B", "B STARBOARD"),),
    )
)  # fmt: skip
PLUG = compose(Body(("s",), ("p",), (Part("1", "plug-way", ("s", "p")),), labels=False))
NO_BARS: frozenset = frozenset()


def test_a_long_word_at_a_terminal_does_not_push_the_name_away():
    """The word stands at the upper end; the name goes beside the blade, under the word."""
    _, height = name_size(("Battery selector",), ("wheelhouse",))
    place = berth(SELECTOR, height, bars=NO_BARS)
    assert place.off < SELECTOR.right - 8.0
    assert place.middle - height / 2 > 3.0
    assert place.middle + height / 2 < SELECTOR.height + 1.1


def test_a_name_too_tall_to_fit_under_the_word_stands_past_it():
    place = berth(SELECTOR, 5 * 3.1, bars=NO_BARS)
    assert place.off == SELECTOR.right


def test_on_the_left_there_are_no_words_to_clear():
    place = berth(SELECTOR, 2 * 3.1, bars=NO_BARS, left=True)
    assert place.off == SELECTOR.left
    assert place.middle == pytest.approx(SELECTOR.height / 2)


def test_a_name_makes_way_for_a_bar_upwards_not_aside():
    middle = berth(PLUG, 6.2, bars=NO_BARS).middle
    over_a_bar = berth(PLUG, 6.2, bars=frozenset({"bottom"}))
    assert over_a_bar.middle < middle
    assert over_a_bar.middle + 3.1 < PLUG.height - 1.2
    assert over_a_bar.past == ()


def test_between_two_bars_a_tall_name_stands_past_both():
    assert berth(PLUG, 6.2, bars=frozenset({"top", "bottom"})).past == ("top", "bottom")


@pytest.mark.parametrize("name", NAMES)
def test_no_name_stands_far_from_its_symbol(name):
    """A reader takes a name for that of the nearest symbol: nothing else may stand nearer than its own."""
    for part in parts_of(localised(read_graph(name))):
        drawing = laid_out(part)
        for placed in drawing.nodes:
            if placed.name_box is None:
                continue
            box, trunk = placed.name_box, placed.boxes[0]
            gap = trunk.left - box.right if placed.name_left else box.left - trunk.right
            bar = max((x for ends in placed.bars for x, _ in ends), default=0.0) - trunk.right
            assert 0.5 < gap < max(3.0, bar + 4.0), placed.node.id
            assert placed.name_left is (box.right < trunk.left)
