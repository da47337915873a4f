"""The checker finds every kind of breach that is sown into a good drawing."""

from dataclasses import replace

import pytest

from loomlore.drawing.diagram import localised, parts_of
from loomlore.drawing.layout import PlacedWire, laid_out
from loomlore.drawing.rules import breaches, largest_blank
from loomlore.drawing.scene import Box
from unit.drawing.trial_graphs import read_graph


@pytest.fixture(scope="module")
def good():
    return laid_out(parts_of(localised(read_graph("b_undercarriage")))[0])


def rules_of(drawing):
    return {breach.rule for breach in breaches(drawing)}


def with_wire(drawing, name, points):
    wires = tuple(PlacedWire(w.wire, points(w.points)) if w.wire.id == name else w for w in drawing.wires)
    return replace(drawing, wires=wires)


def test_a_good_drawing_has_none(good):
    assert breaches(good) == []


def test_a_diagonal_is_found(good):
    bad = with_wire(good, "W33", lambda p: (p[0], (p[-1][0] + 2.0, p[-1][1] - 3), p[-1]))
    assert "no diagonal" in rules_of(bad)


def test_a_loose_end_is_found(good):
    bad = with_wire(good, "W33", lambda p: (p[0], (p[-1][0], p[-1][1] - 1.0)))
    assert "every end on its terminal" in rules_of(bad)


def test_a_wire_on_a_wire_is_found(good):
    other = next(w.points for w in good.wires if w.wire.id == "W30")
    bad = with_wire(good, "W31", lambda _: other)
    assert "no wire on a wire" in rules_of(bad)


def test_wires_too_near_are_found(good):
    near = next(w.points for w in good.wires if w.wire.id == "W30")
    bad = with_wire(good, "W31", lambda _: tuple((x + 1.5, y) for x, y in near))
    assert "no wire on a wire" in rules_of(bad)


def test_a_wire_through_a_symbol_is_found(good):
    node = next(n for n in good.nodes if n.node.id == "RY")
    y = (node.box.top + node.box.bottom) / 2
    bad = with_wire(good, "W33", lambda _: ((node.box.left - 5, y), (node.box.right + 5, y)))
    assert "no wire on a symbol or a name" in rules_of(bad)


def test_a_wire_through_a_name_is_found(good):
    box = next(n.name_box for n in good.nodes if n.node.id == "HN")
    x = (box.left + box.right) / 2
    bad = with_wire(good, "W33", lambda _: ((x, box.top - 4), (x, box.bottom + 4)))
    assert any("name HN" in b.who for b in breaches(bad))


def test_a_symbol_on_a_symbol_is_found(good):
    first, second = good.nodes[0], good.nodes[1]
    nodes = (replace(first, boxes=second.boxes), *good.nodes[1:])
    assert "no symbol on a symbol" in rules_of(replace(good, nodes=nodes))


def test_a_missing_and_a_doubled_mark_are_found(good):
    assert "every cable labelled" in rules_of(replace(good, marks=good.marks[1:]))
    assert "every cable labelled" in rules_of(replace(good, marks=(*good.marks, good.marks[0])))


def test_a_mark_on_a_mark_and_on_a_wire_is_found(good):
    moved = replace(good.marks[0], box=good.marks[1].box)
    assert "no label collision" in rules_of(replace(good, marks=(moved, *good.marks[1:])))
    x, y = next(w.points[0] for w in good.wires if w.wire.id == "W33")
    moved = replace(good.marks[0], box=Box(x - 1, y + 2, x + 1, y + 5))
    assert "no label collision" in rules_of(replace(good, marks=(moved, *good.marks[1:])))


def test_the_largest_blank_is_that_found_by_trying_all():
    field = Box(0, 0, 20, 16)
    taken = [Box(4, 0, 6, 8), Box(12, 6, 20, 8)]
    found = largest_blank(field, taken)
    best = 0.0
    for left in range(0, 20, 2):
        for right in range(left + 2, 21, 2):
            for top in range(0, 16, 2):
                for bottom in range(top + 2, 17, 2):
                    box = Box(left, top, right, bottom)
                    if not any(box.overlaps(other) for other in taken):
                        best = max(best, box.width * box.height)
    assert found.width * found.height == best
    assert not any(found.overlaps(other) for other in taken)
