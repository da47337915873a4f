"""The hard rules of a plate hold on the trial graphs and on random circuits; the long search tries 200."""

import random
from dataclasses import replace

import pytest

from loomlore.drawing.diagram import Wire, localised, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.rules import breaches
from unit.drawing.random_graphs import random_diagram
from unit.drawing.trial_graphs import NAMES, read_graph


def drawings(diagram):
    return [laid_out(part) for part in parts_of(localised(diagram))]


@pytest.mark.parametrize("name", NAMES)
def test_trial_graphs_keep_every_rule(name):
    for drawing in drawings(read_graph(name)):
        assert breaches(drawing) == []


@pytest.mark.parametrize("seed", range(20))
def test_random_circuits_keep_every_rule(seed):
    for drawing in drawings(random_diagram(seed, most=18)):
        assert breaches(drawing) == []


@pytest.mark.parametrize("seed", range(3))
def test_a_random_circuit_is_drawn_the_same_twice(seed):
    diagram = random_diagram(seed + 100, most=14)
    assert drawings(diagram) == drawings(diagram)


@pytest.mark.parametrize("seed", [3, 14, 21])
def test_wires_from_an_item_to_itself_keep_every_rule(seed):
    diagram, chance = random_diagram(seed, most=14), random.Random(seed)
    wires = list(diagram.wires)
    for n in range(3):
        node = chance.choice([node for node in diagram.nodes if node.role == "item"])
        ends = [(node.id, chance.choice([*node.body.tops, *node.body.bottoms])) for _ in "ab"]
        wires.append(Wire(f"self{n}", *ends, f"X{n}"))
    for drawing in drawings(replace(diagram, wires=tuple(wires))):
        assert breaches(drawing) == []


@pytest.mark.search
@pytest.mark.parametrize("seed", range(1000, 1200))
def test_many_random_circuits_keep_every_rule(seed):
    for drawing in drawings(random_diagram(seed)):
        assert breaches(drawing) == []
        assert breaches(drawing.again(7.5, 5.0)) == []
