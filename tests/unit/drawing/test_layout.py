"""Layout: supply above, earth below, same result twice; counts against counting by hand."""

from itertools import combinations, pairwise

import pytest

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.diagram import TAG_BODY, Diagram, Node, Wire, localised, parts_of
from loomlore.drawing.layout import PlacedWire, bends, crossings, laid_out, length
from loomlore.drawing.plates import service_drawings
from unit.drawing.test_roles import plant_of
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


# ---------------------------------------------------------------- two poles, one in line, names aside

SWITCH = Body(
    ("1", "3"),
    ("2", "4"),
    (Part("a", "make", ("1", "2"), actuator="lever"), Part("b", "make", ("3", "4"))),
    (("a", "b"),),
)
LAMP = Body(("1",), ("2",), (Part("l", "lamp", ("1", "2")),))


def two_pole(lamps):
    """A two-pole switch, its terminals as on the case: lines above, and the return comes back to 3."""
    nodes = [Node("S", SWITCH), Node("plus", TAG_BODY, "tag", ("fuse",), supplies=("t",), weak=True)]
    nodes += [Node("minus", TAG_BODY, "tag", ("negative", "bar"))]
    nodes += [Node(f"L{n}", LAMP, name=(f"Lamp {n}",)) for n in range(lamps)]
    wires = [Wire("P", ("plus", "t"), ("S", "1"), "P"), Wire("N", ("S", "4"), ("minus", "t"), "N", "return")]
    wires += [Wire(f"A{n}", ("S", "2"), (f"L{n}", "1"), f"A{n}") for n in range(lamps)]
    wires += [Wire(f"B{n}", (f"L{n}", "2"), ("S", "3"), f"B{n}", "return") for n in range(lamps)]
    return Diagram(tuple(nodes), tuple(wires))


@pytest.mark.parametrize("lamps", [1, 2, 3])
def test_both_poles_of_a_switch_have_their_supply_above(lamps):
    drawing = laid_out(two_pole(lamps))
    [switch] = [placed for placed in drawing.nodes if placed.node.id == "S"]
    assert switch.pins["1"][1] == switch.pins["4"][1] < switch.pins["2"][1] == switch.pins["3"][1]
    for placed in drawing.wires:
        if placed.wire.id[0] in "AB":
            assert min(y for _, y in placed.points) >= switch.pins["3"][1], "no return climbs over the switch"
    assert crossings(drawing.wires) == 0


def test_nested_returns_of_the_launch_cross_nothing():
    """Three lamps between the poles of one switch can be drawn as three nested loops."""
    [drawing] = service_drawings(plant_of("harbour-launch"), "navigation")
    assert crossings(drawing.wires) == 0


def test_a_pole_with_its_earth_below_is_not_turned():
    drawing = largest("b_undercarriage")
    [relay] = [placed for placed in drawing.nodes if placed.node.id == "RY"]
    assert relay.pins["E"][1] > relay.pins["A"][1]


def test_what_goes_straight_on_stands_at_the_pin_of_its_bar():
    """A lamp fed from above, with a second lamp beside it fed from its terminal: the feed is in line."""
    nodes = (
        Node("tag", TAG_BODY, "tag", ("fuse",), supplies=("t",), weak=True),
        Node("F", Body(("1",), ("2",), (Part("f", "fuse", ("1", "2")),))),
        Node("L", LAMP, name=("Port lamp, with a name that keeps the other one far off",)),
        Node("M", LAMP, name=("Starboard lamp",)),
    )
    wires = (
        Wire("a", ("tag", "t"), ("F", "1"), bare=True),
        Wire("b", ("F", "2"), ("L", "1"), "B"),
        Wire("c", ("L", "1"), ("M", "1"), "C"),
    )
    drawing = laid_out(Diagram(nodes, wires))
    feed = next(placed.points for placed in drawing.wires if placed.wire.id == "b")
    lamp = next(placed for placed in drawing.nodes if placed.node.id == "L")
    assert {x for x, _ in feed} == {lamp.pins["1"][0]}


def test_names_go_left_where_a_wire_runs_straight_for_it():
    """Two plug ways under two poles nearer to one another than a name is long."""
    plug = Body(("a",), ("b",), (Part("w", "plug-way", ("a", "b")),), labels=False)
    coil = Body(("1", "2"), (), (Part("c", "coil", ("1", "2")),), order="fixed")
    relay = Body(("x", "y"), ("p", "q"), (Part("a", "make", ("x", "p")), Part("b", "make", ("y", "q"))))
    nodes = (
        Node("R", relay, name=("Relay",), supplies=("x", "y")),
        Node("P", plug, name=("Starboard root", "plug, way 7")),
        Node("Q", plug, name=("Starboard root", "plug, way 8")),
        Node("C", coil, name=("Coil",)),
    )
    wires = (
        Wire("a", ("R", "p"), ("P", "a"), "A"),
        Wire("b", ("R", "q"), ("Q", "a"), "B"),
        Wire("c", ("P", "b"), ("C", "1"), "C"),
        Wire("d", ("Q", "b"), ("C", "2"), "D"),
    )
    drawing = laid_out(Diagram(nodes, wires))
    assert bends(drawing.wires) == 0
