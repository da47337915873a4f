"""Random circuits for the hard rules: constructed, seeded, no installation stands behind them."""

import random

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.diagram import EARTH_BODY, TAG_BODY, Diagram, Node, Wire


def _two(glyph: str) -> Body:
    return Body(("a",), ("b",), (Part("p", glyph, ("a", "b")),), labels=False)


PALETTE: tuple[Body, ...] = (
    _two("lamp"), _two("lamp"), _two("make"), _two("plug-way"), _two("plug-way"), _two("fuse"),
    _two("rheostat"), _two("horn"), _two("motor"), Body(("C",), ("NC", "NO"), (Part("s", "selector", ("C",
    "NC", "NO"), actuator="cam"),), order="free"), Body(("M",), ("1", "2", "3"), (Part("s", "selector", ("M",
    "1", "2", "3"), rest=None),)), Body(("x1", "c1"), ("x2", "c2"),
         (Part("coil", "coil", ("x1", "x2")), Part("c", "make", ("c1", "c2"))), (("coil", "c"),)),
    Body(("A", "F"), ("E",), (Part("p", "carbon-pile", ("A", "F")), Part("c", "coil", ("A", "E"))),
    order="free"), Body(("+", "H"), ("S", "E"), words=("Box",), order="free"), Body((), ("F", "A", "E"),
    (Part("g", "generator", ("A", "E")), Part("f", "winding", ("F", "E"))), order="free"),
)  # fmt: skip


def random_diagram(seed: int, *, least: int = 5, most: int = 24) -> Diagram:
    """Make a connected circuit: a random tree of items, some further wires, a feed, earths."""
    chance = random.Random(seed)
    count = chance.randint(least, most)
    nodes = [
        Node(f"n{n}", chance.choice(PALETTE), name=("Item", f"number {n}")[: chance.randint(1, 2)])
        for n in range(count)
    ]
    wires: list[Wire] = []

    def join(a: tuple[str, str], b: tuple[str, str], role: str) -> None:
        wires.append(Wire(f"w{len(wires)}", a, b, f"K{len(wires)}", role))

    for n in range(1, count):
        other = nodes[max(0, n - chance.randint(1, 4))]
        join(
            (other.id, _pin(chance, other, low=True)),
            (nodes[n].id, _pin(chance, nodes[n], low=False)),
            "switched",
        )
    for _ in range(chance.randint(0, count // 3)):
        a, b = chance.sample(nodes, 2)
        join((a.id, _pin(chance, a, low=True)), (b.id, _pin(chance, b, low=chance.random() < 0.2)), "fused")
    nodes += [
        Node("bar", TAG_BODY, "tag", name=("Fuse box", "way 3"), supplies=("t",)),
        Node("earth", EARTH_BODY, "earth"),
    ]
    join(("bar", "t"), ("n0", _pin(chance, nodes[0], low=False)), "fused")
    for node in nodes[:count]:
        if chance.random() < 0.5:
            join((node.id, _pin(chance, node, low=True)), ("earth", "e"), "return")
    return Diagram(tuple(nodes), tuple(wires))


def _pin(chance: random.Random, node: Node, *, low: bool) -> str:
    first, second = (node.body.bottoms, node.body.tops) if low else (node.body.tops, node.body.bottoms)
    return chance.choice(first or second)
