"""Reader of the four trial graphs (invented installations of 6 to 93 items) into the drawing's own input.

The graphs are constructed cases: no published drawing stands behind them.
"""

import json
from pathlib import Path
from typing import Any

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.diagram import EARTH_BODY, TAG_BODY, Diagram, Node, Wire
from loomlore.drawing.typefaces import wrapped

FOLDER = Path(__file__).parent / "graphs"
NAMES = ("a_lamps", "b_undercarriage", "c_charging", "d_all")

_TWO_ENDS = {
    "lamp": "lamp", "switch": "make", "push": "make",  "horn": "horn", "battery": "battery",
    "motor": "motor", "heater": "heater", "coil": "booster", "resistor": "rheostat", "fuse": "fuse",
}  # fmt: skip
_ROLE = {"red": "fused", "black": "return"}


def read_graph(name: str) -> Diagram:
    """Read one graph as an unprepared diagram."""
    data = json.loads((FOLDER / f"{name}.json").read_text())
    nodes = tuple(_node(item) for item in data["items"])
    labels = {item["id"]: item["label"] for item in data["items"]}
    boxes = {item["id"] for item in data["items"] if item["kind"] == "fusebox"}
    bars = {item["id"] for item in data["items"] if item["kind"] == "bus"}
    wires = []
    for row in data["cables"]:
        start, end = _end(row["a"]), _end(row["b"])
        if start[0] in bars and end[0] in boxes:
            continue
        colour = row["colour"]
        role = _ROLE.get(colour, "battery" if start[0] in bars else "switched")
        wires.append(Wire(row["id"], start, end, row["id"], role))
    nodes = tuple(_with_tag(node, labels) if node.id in boxes else node for node in nodes)
    return Diagram(nodes, tuple(wires))


def _with_tag(node: Node, labels: dict[str, str]) -> Node:
    from dataclasses import replace

    return replace(node, tag=(labels[node.id], "bar"))


def _end(words: str) -> tuple[str, str]:
    node, _, pin = words.partition(".")
    return node, pin


def _node(item: dict[str, Any]) -> Node:
    kind, tops, bottoms = item["kind"], tuple(item["top"]), tuple(item["bottom"])
    bottoms += tuple(item["left"]) + tuple(item["right"])
    name = wrapped(item["label"], face="sans-semibold", size=2.65, width=14)
    if kind == "earth":
        return Node(item["id"], EARTH_BODY, "earth")
    if kind == "bus":
        body = TAG_BODY if bottoms == ("t",) else Body((), bottoms, labels=False, envelope=False)
        return Node(item["id"], body, "tag", name=(item["label"],), supplies=bottoms, weak=True)
    body = _body(item, tops, bottoms)
    source = {"battery": ("+",), "generator": ("A",), "socket": ("+",)}.get(kind, ())
    if kind == "box" and not body.parts:
        name, body = (), Body(tops, bottoms, order=item["order"], words=name)
    return Node(
        item["id"], body, name=name, supplies=source, turns=item["flip"], ways=kind in ("plug", "fusebox")
    )


def _body(item: dict[str, Any], tops: tuple[str, ...], bottoms: tuple[str, ...]) -> Body:
    kind, order, name = item["kind"], item["order"], item["id"]
    if kind == "battery":
        return Body((), ("+", "-"), (Part("cells", "battery", ("+", "-")),), order=order, envelope=False)
    if kind == "fusebox":
        return Body(tops, bottoms, tuple(Part(way, "fuse", ("in", way)) for way in bottoms), order=order)
    if kind == "plug":
        return Body(
            tops, bottoms, tuple(Part(a[:-1], "plug-way", (a, b)) for a, b in item["links"]), order=order
        )
    if kind == "changeover":
        return Body(tops, bottoms, (Part("s", "selector", (*tops, *bottoms), actuator="cam"),), order=order)
    if len(tops) == len(bottoms) == 1 and kind in {*_TWO_ENDS, "meter"}:
        tint = "green" if name.startswith("G") else "red" if name.startswith("R") else ""
        push = "push" if kind == "push" else "lever" if kind == "switch" else ""
        glyph = _TWO_ENDS.get(kind, item["label"].lower())
        part = Part("p", glyph, (tops[0], bottoms[0]), tint=tint, actuator=push)
        return Body(tops, bottoms, (part,), order=order, labels=False)
    parts, links = _special(item)
    return Body(tops, bottoms, parts, links, order=order)


def _special(item: dict[str, Any]) -> tuple[tuple[Part, ...], tuple[tuple[str, str], ...]]:
    kind, name, pairs = item["kind"], item["id"], item.get("links") or []
    if kind == "relay":
        coils = [pair for pair in pairs if not pair[0].lower().startswith("c")]
        parts = [Part(f"coil{n}", "coil", tuple(pair)) for n, pair in enumerate(coils)]
        parts += [Part("contact", "make", tuple(pair)) for pair in pairs if pair not in coils]
        return tuple(parts), ((parts[-2].name, "contact"),)
    if kind == "socket":
        return tuple(Part(pin, "cup", (f"~{pin}", pin)) for pin in item["bottom"]), ()
    if kind == "generator":
        return (Part("armature", "generator", ("A", "E")), Part("field", "winding", ("F", "E"))), ()
    if kind == "motor":
        ends = [pin for pin in item["top"] if pin != "E"]
        parts = [Part(f"field{n}", "winding", (end, "n")) for n, end in enumerate(ends)]
        return (*parts, Part("armature", "motor", ("n", "E"))), ()
    if kind == "box" and name == "CUT":
        parts = [Part("main", "make", ("G", "B")), Part("coil", "coil", ("G", "E"))]
        return tuple(parts), (("coil", "main"),)
    if kind == "box" and name == "REG":
        parts = [Part("pile", "carbon-pile", ("A", "F")), Part("coil", "coil", ("A", "E"))]
        return tuple(parts), (("coil", "pile"),)
    if kind == "box" and name == "SUP":
        pairs = [Part("a", "winding", ("A1", "A2")), Part("f", "winding", ("F1", "F2"))]
        return (*pairs, Part("c", "condenser", ("A2", "E"))), ()
    if kind == "box" and name == "SHN":
        return (
            Part("s", "shunt", ("i", "o")),
            Part("s1", "line", ("i", "s1")),
            Part("s2", "line", ("o", "s2")),
        ), ()
    if kind == "box" and name in ("IS", "FS", "RC", "FL"):
        return (Part("s", "selector", (*item["top"], *item["bottom"]), actuator="lever", rest=None),), ()
    if kind == "box" and pairs:
        parts = [
            Part(f"c{n}", "break", tuple(pair), actuator="cam" if n == 0 else "")
            for n, pair in enumerate(pairs)
        ]
        return tuple(parts), (("c0", "c1"),)
    return (), ()
