"""Symbols: pins on their border, ink inside their box, order as allowed, every shipped kind drawn."""

import pytest

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.composing import composed
from loomlore.drawing.glyphs import GLYPHS, SHAPES_AFTER_IEC
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Circle, Group, Item, Line, Path, Rectangle, Text
from loomlore.drawing.symbols import body_box, body_boxes, compose, turned, variants
from loomlore.drawing.typefaces import text_width
from loomlore.record.equipment import equip
from loomlore.record.kinds import sample_values
from loomlore.record.model import Dossier
from loomlore.record.model import Item as RecordItem

RELAY = Body(
    ("x1", "c1"),
    ("x2", "c2"),
    (Part("coil", "coil", ("x1", "x2")), Part("main", "make", ("c1", "c2"))),
    (("coil", "main"),),
)
CHANGEOVER = Body(("C",), ("B", "M"), (Part("s", "selector", ("C", "B", "M")),), order="free")
GENERATOR = Body(
    (), ("F", "D", "E"), (Part("g", "generator", ("D", "E")), Part("f", "winding", ("F", "E"))), order="free"
)


def points(items: tuple[Item, ...], dx: float = 0.0, dy: float = 0.0) -> list[tuple[float, float]]:
    """Corners of all ink (words apart), in the symbol's frame."""
    found = []
    for item in items:
        if isinstance(item, Group):
            found += points(item.items, dx + item.shift[0], dy + item.shift[1])
        elif isinstance(item, Line):
            found += [(x + dx, y + dy) for x, y in item.points]
        elif isinstance(item, Circle):
            (x, y), r = item.centre, item.radius
            found += [(x - r + dx, y - r + dy), (x + r + dx, y + r + dy)]
        elif isinstance(item, Rectangle):
            (x, y) = item.corner
            found += [(x + dx, y + dy), (x + item.width + dx, y + item.height + dy)]
        elif isinstance(item, Path):
            found += [(v[-2] + dx, v[-1] + dy) for c, v in item.commands if c != "Z"]
    return found


def drawn(symbol):
    return symbol.draw(symbol.places(), {})


def body_of(kind_id):
    """Compose a shipped kind as an item with plain parameters."""
    kind = shipped_kinds()[kind_id]
    item = RecordItem(id="thing", kind=kind_id, own=dict(sample_values(kind)))
    equipment, _ = equip(item, kind, Dossier())
    return composed(equipment, {}), equipment


@pytest.mark.parametrize("name", sorted(shipped_kinds()))
def test_every_shipped_kind_is_drawn_within_its_box(name):
    made, equipment = body_of(name)
    if not (made.body.tops or made.body.bottoms):
        pytest.skip("recorded only: no terminals")
    for symbol in variants(made.body):
        box = body_boxes(symbol, symbol.places())[0].grown(0.65)
        outside = [(x, y) for x, y in points(drawn(symbol)) if not (box.left <= x <= box.right)]
        assert not outside
        assert all(box.top <= y <= box.bottom for _, y in points(drawn(symbol)))
    if equipment.contacts or equipment.elements:
        assert made.body.parts, "a kind that has contacts or elements is no blank box"


def terminal_words(items: tuple[Item, ...]) -> list[Text]:
    return [item for item in items if isinstance(item, Text) and item.look == "t-terminal"]


@pytest.mark.parametrize("name", sorted(shipped_kinds()))
def test_words_at_the_terminals_of_a_shipped_kind_lie_within_its_boxes(name):
    made, _ = body_of(name)
    if not (made.body.tops or made.body.bottoms):
        pytest.skip("recorded only: no terminals")
    look = LETTERINGS["t-terminal"]
    for symbol in variants(made.body):
        boxes = body_boxes(symbol, symbol.places())
        whole = body_box(symbol, symbol.places())
        for word in terminal_words(drawn(symbol)):
            (x, y), wide = word.at, text_width(word.words, face=look.face, size=look.size)
            middle = y - 0.35 * look.size
            assert any(box.left < x < box.right + 0.05 and box.top < middle < box.bottom for box in boxes)
            assert x + wide < whole.right + 0.3, word.words
            assert any(x + wide < box.right + 0.3 and box.top < middle < box.bottom for box in boxes), (
                word.words
            )


@pytest.mark.parametrize("name", sorted(shipped_kinds()))
def test_every_part_of_a_kind_is_in_its_symbol(name):
    made, equipment = body_of(name)
    ends = {frozenset(part.ends) for part in made.body.parts}
    for element in equipment.elements.values():
        if len(equipment.terminal_names) <= 8:
            wanted = frozenset("case" if end == "earth" else end for end in element.ends)
            assert wanted in ends


@pytest.mark.parametrize("body", [RELAY, CHANGEOVER, GENERATOR])
def test_pins_stand_on_their_border(body):
    symbol = compose(body)
    for pin in symbol.pins:
        y = 0.0 if pin.side == "top" else symbol.height
        x = (symbol.places()[pin.columns[0]] + symbol.places()[pin.columns[-1]]) / 2
        assert (x, y) in [
            (round(c.centre[0], 6), round(c.centre[1], 6)) for c in drawn(symbol) if isinstance(c, Circle)
        ]


def test_a_turned_symbol_swaps_sides_and_keeps_its_words_upright():
    symbol = turned(compose(RELAY))
    assert {pin.name: pin.side for pin in symbol.pins} == {
        "x1": "bottom", "c1": "bottom", "x2": "top", "c2": "top",
    }  # fmt: skip
    assert all(getattr(item, "turned", 0.0) == 0.0 for item in drawn(symbol))


def test_variants_are_as_many_as_the_order_allows():
    fixed = Body(RELAY.tops, RELAY.bottoms, RELAY.parts, RELAY.links, "fixed")
    assert len(variants(fixed)) == 1
    assert len(variants(RELAY)) == 2
    left_to_right = {
        tuple(pin.name for pin in sorted(s.pins, key=lambda p: p.columns) if pin.side == "bottom")
        for s in variants(CHANGEOVER)
    }
    assert left_to_right == {("B", "M"), ("M", "B")}


def test_a_mirrored_selector_rests_on_the_same_throw():
    for symbol in variants(CHANGEOVER):
        [common] = [pin for pin in symbol.pins if pin.name == "C"]
        [rest] = [pin for pin in symbol.pins if pin.name == "B"]
        assert common.prefers == rest.columns[0]


def test_parts_in_series_stand_in_one_column():
    body = Body(("1",), ("2",), (Part("r", "resistor", ("1", "n")), Part("c", "cartridge", ("n", "2"))))
    assert compose(body).columns == 1


def test_a_straight_line_through_an_item_stays_straight():
    body = Body(("D",), ("A", "E"), (Part("main", "make", ("D", "A")), Part("coil", "coil", ("D", "E"))))
    symbol = compose(body)
    assert symbol.pin("D").columns == symbol.pin("A").columns


def test_glyphs_after_iec_are_all_drawn():
    assert set(SHAPES_AFTER_IEC) - {"selector"} <= set(GLYPHS)
