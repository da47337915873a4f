"""Layout: supply above, earth below, same result twice; counts against counting by hand."""

from itertools import combinations, pairwise

import pytest

from loomlore.drawing.diagram import Wire, localised, parts_of
from loomlore.drawing.layout import PlacedWire, bends, crossings, laid_out, length
from unit.drawing.trial_graphs import read_graph


def largest(name):
    return laid_out(parts_of(localised(read_graph(name)))[0])


def wire(name, *points):
    return PlacedWire(Wire(name, ("a", "1"), ("b", "2")), tuple(points))


def test_a_cross_is_one_crossing_and_a_corner_none():
    cross = [wire("a", (0, 0), (0, 10)), wire("b", (-5, 5), (5, 5))]
    assert crossings(cross) == 1
    corner = [wire("a", (0, 0), (0, 10)), wire("b", (1, 5), (5, 5))]
    assert crossings(corner) == 0
    assert bends([wire("a", (0, 0), (0, 5), (5, 5), (5, 9))]) == 2
    assert length([wire("a", (0, 0), (0, 5), (5, 5))]) == 10


@pytest.mark.parametrize("name", ["b_undercarriage", "d_all"])
def test_crossings_are_those_of_every_pair_of_segments(name):
    placed = largest(name).wires
    count = 0
    for one, other in combinations(placed, 2):
        for (a, b), (c, d) in ((s, t) for s in pairwise(one.points) for t in pairwise(other.points)):
            if (a[0] == b[0]) == (c[0] == d[0]):
                continue
            (x, lo, hi), (y, le, ri) = (
                ((a[0], *sorted((a[1], b[1]))), (c[1], *sorted((c[0], d[0]))))
                if a[0] == b[0]
                else ((c[0], *sorted((c[1], d[1]))), (a[1], *sorted((a[0], b[0]))))
            )
            count += lo < y < hi and le < x < ri
    assert crossings(placed) == count


def test_supply_stands_above_and_earth_below():
    drawing = largest("b_undercarriage")
    tops = {placed.node.id: placed.top for placed in drawing.nodes}
    assert tops["FB.1"] < tops["PL.1"] < tops["ULL"] < tops["DLL"] < tops["PL.3"] < tops["RL1"]
    assert tops["TH"] < tops["RY"] < tops["HN"]
    for one in drawing.hung:
        assert one.over is (one.node.role == "tag")


def test_parallel_lamps_share_a_row():
    tops = {placed.node.id: placed.top for placed in largest("b_undercarriage").nodes}
    assert len({tops[name] for name in ("GL1", "GL2", "RL1", "RL2", "GR1", "GR2", "RR1", "RR2")}) == 1


def test_a_chain_in_series_is_one_straight_line():
    drawing = largest("a_lamps")
    straight = {placed.wire.id: len(placed.points) == 2 for placed in drawing.wires}
    assert straight["W2"]
    assert straight["W3"]


def test_same_input_same_drawing():
    first, second = largest("c_charging"), largest("c_charging")
    assert first == second


def test_more_room_keeps_the_order():
    drawing = largest("b_undercarriage")
    wider = drawing.again(5.0, 4.0)
    assert wider.box.height > drawing.box.height + 10
    assert crossings(wider.wires) == crossings(drawing.wires)
    names = lambda d: [p.node.id for p in sorted(d.nodes, key=lambda p: (p.top, p.box.left))]  # noqa: E731
    assert [n for n in names(drawing) if n.startswith("GL")] == [
        n for n in names(wider) if n.startswith("GL")
    ]
