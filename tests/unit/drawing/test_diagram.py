"""Preparation changes nothing of what is connected to what."""

import networkx as nx
import pytest

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.diagram import Diagram, Node, Wire, conduction, cut_in_two, localised, parts_of
from unit.drawing.random_graphs import random_diagram
from unit.drawing.trial_graphs import NAMES, read_graph


def nets(diagram, rename=lambda end: end):
    """Groups of item pins joined by wires, earths and bars left out."""
    graph = nx.Graph()
    for wire in diagram.wires:
        ends = [end for end in (wire.start, wire.end) if diagram.node(end[0]).role == "item"]
        graph.add_nodes_from(rename(end) for end in ends)
        if len(ends) == 2:
            graph.add_edge(rename(ends[0]), rename(ends[1]))
    return {frozenset(group) for group in nx.connected_components(graph)}


@pytest.mark.parametrize("name", NAMES)
def test_localising_keeps_every_net(name):
    before = read_graph(name)
    after = localised(before)
    whole = {node.id for node in before.nodes if node.ways}

    def rename(end):
        owner = end[0].partition(".")[0]
        return (owner, end[1]) if owner in whole else end

    assert nets(after, rename) - nets(before) <= {
        frozenset({("FA", "in")}), frozenset({("FB", "in")}), frozenset({("FC", "in")}),
    }  # fmt: skip
    assert nets(before) <= nets(after, rename)


@pytest.mark.parametrize("name", NAMES)
def test_every_earth_and_tag_serves_one_wire(name):
    diagram = localised(read_graph(name))
    ends = [end[0] for wire in diagram.wires for end in (wire.start, wire.end)]
    for node in diagram.nodes:
        if node.role != "item":
            assert ends.count(node.id) == 1


def test_parts_hold_every_wire_once():
    diagram = localised(random_diagram(3))
    parts = parts_of(diagram)
    assert sorted(w.id for part in parts for w in part.wires) == sorted(w.id for w in diagram.wires)


def test_cutting_keeps_every_item_and_splits_one_wire():
    diagram = next(
        part
        for part in (parts_of(localised(random_diagram(seed)))[0] for seed in range(40))
        if cut_in_two(part, "A")
    )
    halves = cut_in_two(diagram, "A")
    items = lambda d: {node.id for node in d.nodes if node.role == "item"}  # noqa: E731
    assert items(halves[0]) | items(halves[1]) == items(diagram)
    assert not items(halves[0]) & items(halves[1])
    pieces = [wire for half in halves for wire in half.wires if ">" in wire.id]
    assert len(pieces) == 2
    assert len({wire.cable for wire in pieces}) == 1
    assert len(halves[0].wires) + len(halves[1].wires) == len(diagram.wires) + 1
    for half in halves:
        assert len(parts_of(half)) == 1
        assert any(node.name == ("continued", "at A") for node in half.nodes)


def test_a_ring_is_not_cut():
    nodes = tuple(Node(name, Body(("1",), ("2",), (Part("p", "lamp", ("1", "2")),))) for name in "abcdefgh")
    wires = [
        Wire(f"w{n}", (a, "2"), (b, "1")) for n, (a, b) in enumerate(zip("abcdefgh", "bcdefgha", strict=True))
    ]
    assert cut_in_two(Diagram(nodes, tuple(wires)), "A") is None


def test_a_coil_does_not_conduct_to_its_contact():
    body = Body(("1", "A"), ("2", "B"), (Part("c", "coil", ("1", "2")), Part("m", "make", ("A", "B"))))
    assert set(conduction(body)) == {frozenset({"1", "2"}), frozenset({"A", "B"})}
    assert conduction(Body(("1",), ("2",))) == (frozenset({"1", "2"}),)
