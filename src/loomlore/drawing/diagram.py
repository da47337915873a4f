"""What the layout works on.

Nodes with pins by side, wires between pins; nothing of the record, nothing of a page.  Invariants ----------
* A node's pins are those of its body; a wire joins two pins, or hangs an earth or a tag on one. *
``localised`` is pure preparation: every earthed end gets its own earth, every end on a bar its own tag, a
plug or a fuse box falls into its used ways. It never changes what is connected to what.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.paints import Paint, role_paint

__all__ = [
    "BOLT_BODY",
    "EARTH_BODY",
    "TAG_BODY",
    "Diagram",
    "End",
    "Node",
    "Wire",
    "conduction",
    "cut_in_two",
    "localised",
    "parts_of",
]

NodeRole = Literal["item", "earth", "tag"]
End = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Node:
    """An item of the drawing.

    ``name`` and ``small`` are the printed lines beside it; ``turns`` allows it upside down; ``supplies``
    names pins that supply starts from; ``ways`` lets it fall into its parts; ``tag`` is what a tag over its
    first pin says; ``weak`` marks a bar that supplies only where no machine or battery of the part does.
    ``of`` is the thing it stands for in the record, ``title`` is read aloud.
    """

    id: str
    body: Body
    role: NodeRole = "item"
    name: tuple[str, ...] = ()
    small: tuple[str, ...] = ()
    turns: bool = True
    supplies: tuple[str, ...] = ()
    ways: bool = False
    tag: tuple[str, ...] = ()
    weak: bool = False
    of: str = ""
    title: str = ""
    standing: str = "attested"


@dataclass(frozen=True, slots=True)
class Wire:
    """A conductor between two pins: its mark, what it is (a key of ``looks.ROLES``), and how sure we are.

    ``paint`` is its hue and second mark where these are not the role's.

    ``bare`` wires join a part of a box to its own bar inside: they are no cable and carry no mark.
    """

    id: str
    start: End
    end: End
    mark: str = ""
    role: str = "fused"
    amperes: float | None = None
    standing: str = "attested"
    bare: bool = False
    title: str = ""
    paint: Paint | None = None

    @property
    def shown(self) -> Paint:
        """What it is painted with."""
        return self.paint or role_paint(self.role)

    @property
    def cable(self) -> str:
        """The cable's id; the two pieces of a cable that goes on elsewhere share it."""
        return self.id.partition(">")[0]


@dataclass(frozen=True)
class Diagram:
    """Nodes and wires of one plate."""

    nodes: tuple[Node, ...]
    wires: tuple[Wire, ...]
    by_id: Mapping[str, Node] = field(init=False, repr=False, compare=False)
    wire_by_id: Mapping[str, Wire] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_id", {node.id: node for node in self.nodes})
        object.__setattr__(self, "wire_by_id", {wire.id: wire for wire in self.wires})

    def node(self, name: str) -> Node:
        """Return a node by id."""
        return self.by_id[name]

    def wire(self, name: str) -> Wire:
        """Return a wire by id."""
        return self.wire_by_id[name]


def conduction(body: Body) -> tuple[frozenset[str], ...]:
    """Return which pins conduct to one another inside, at least while some contact is closed.

    Parameters
    ----------
    body : Body
        What the node is composed of.

    Returns
    -------
    tuple of frozenset of str
        Groups of pins; a body without parts is one group.
    """
    if not body.parts:
        return (frozenset((*body.tops, *body.bottoms)),)
    groups: list[set[str]] = [{pin} for pin in (*body.tops, *body.bottoms)]
    for part in body.parts:
        met = [group for group in groups if group & set(part.ends)]
        joined = set(part.ends).union(*met)
        groups = [group for group in groups if group not in met] + [joined]
    pins = {*body.tops, *body.bottoms}
    return tuple(sorted((frozenset(group & pins) for group in groups if group & pins), key=sorted))


EARTH_BODY = Body(("e",), (), (Part("earth", "earth", ("e", "")),), labels=False, envelope=False)
BOLT_BODY = Body(("e",), (), (Part("earth", "bolt", ("e", "")),), labels=False, envelope=False)
TAG_BODY = Body((), ("t",), labels=False, envelope=False)


def localised(diagram: Diagram) -> Diagram:
    """Give every earthed end its own earth, every end on a bar its own tag, every used way its own symbol.

    Parameters
    ----------
    diagram : Diagram
        As the record has it: one airframe, one bar, whole plugs and boxes.

    Returns
    -------
    Diagram
        The same connections, ready to be laid out.
    """
    return _own_ends(_ways_singly(diagram))


def _ways_singly(diagram: Diagram) -> Diagram:
    nodes: list[Node] = []
    moved: dict[End, End] = {}
    used = {end for wire in diagram.wires for end in (wire.start, wire.end)}
    for node in diagram.nodes:
        if not node.ways:
            nodes.append(node)
            continue
        for part in node.body.parts:
            way = _way(node, part)
            ends = [(node.id, end) for end in part.ends]
            if any(end in used for end in ends if end[1] not in _shared(node)):
                nodes.append(way)
                moved |= {end: (way.id, end[1]) for end in ends}
    return _tagged(Diagram(tuple(nodes), tuple(_moved(wire, moved) for wire in diagram.wires)))


def _shared(node: Node) -> set[str]:
    ends = [end for part in node.body.parts for end in part.ends]
    return {end for end in ends if ends.count(end) > 1}


def _way(node: Node, part: Part) -> Node:
    top, bottom = part.ends
    if top in node.body.bottoms:
        top, bottom = bottom, top
    body = Body((top,), (bottom,), (part,), labels=False)
    last = node.name[-1] if node.name else node.id
    name = (*node.name[:-1], f"{last} {part.name}".strip())
    return replace(node, id=f"{node.id}.{part.name}", body=body, name=name, ways=False, turns=True)


def _moved(wire: Wire, moved: Mapping[End, End]) -> Wire:
    return replace(wire, start=moved.get(wire.start, wire.start), end=moved.get(wire.end, wire.end))


def _tagged(diagram: Diagram) -> Diagram:
    """Hang the tag of each node that has one over its first pin, by a bare lead."""
    nodes, wires = list(diagram.nodes), list(diagram.wires)
    for node in diagram.nodes:
        if node.tag and node.role == "item":
            pin = (*node.body.tops, *node.body.bottoms)[0]
            tag = Node(f"{node.id}~tag", TAG_BODY, "tag", name=node.tag, supplies=("t",), of=node.of)
            nodes.append(tag)
            wires.append(Wire(f"{node.id}~feed", (tag.id, "t"), (node.id, pin), bare=True))
    return Diagram(tuple(nodes), tuple(wires))


def _own_ends(diagram: Diagram) -> Diagram:
    nodes = [node for node in diagram.nodes if node.role == "item"]
    wires: list[Wire] = []
    for wire in diagram.wires:
        ends = []
        for where, end in (("a", wire.start), ("b", wire.end)):
            node = diagram.node(end[0])
            if node.role != "item":
                node = replace(node, id=f"{node.id}~{wire.id}{where}")
                nodes.append(node)
            ends.append((node.id, end[1]))
        wires.append(replace(wire, start=ends[0], end=ends[1]))
    return Diagram(tuple(nodes), tuple(wires))


def parts_of(diagram: Diagram) -> list[Diagram]:
    """Split a diagram into the parts that hang together, the largest first.

    Parameters
    ----------
    diagram : Diagram
        Localised.

    Returns
    -------
    list of Diagram
        Ordered by number of wires, then by the order of the nodes.
    """
    group = {node.id: node.id for node in diagram.nodes}

    def root(name: str) -> str:
        while group[name] != name:
            group[name] = group[group[name]]
            name = group[name]
        return name

    for wire in diagram.wires:
        group[root(wire.end[0])] = root(wire.start[0])
    return sorted(_gathered(diagram, {name: root(name) for name in group}), key=lambda part: -len(part.wires))


def _gathered(diagram: Diagram, roots: Mapping[str, str]) -> Iterable[Diagram]:
    for root in dict.fromkeys(roots[node.id] for node in diagram.nodes):
        nodes = tuple(node for node in diagram.nodes if roots[node.id] == root)
        wires = tuple(wire for wire in diagram.wires if roots[wire.start[0]] == root)
        yield Diagram(nodes, wires)


def cut_in_two(part: Diagram, letter: str) -> tuple[Diagram, Diagram] | None:
    """Cut a connected part where one wire alone holds it together, as evenly as may be.

    Parameters
    ----------
    part : Diagram
        Localised and connected.
    letter : str
        Of the tags that both pieces of the wire end at.

    Returns
    -------
    tuple of Diagram, or None
        None where no single wire leaves at least a fifth of the items on either side.
    """
    items = sum(node.role == "item" for node in part.nodes)
    best: tuple[int, str] | None = None
    for wire in part.wires:
        if wire.bare or any(part.node(end[0]).role != "item" for end in (wire.start, wire.end)):
            continue
        side = _reached(part, wire.start[0], wire.id)
        count = sum(part.node(name).role == "item" for name in side)
        if wire.end[0] not in side and min(count, items - count) >= max(3, items // 5):
            best = min(best or (items, ""), (abs(items - 2 * count), wire.id))
    if best is None:
        return None
    wire = next(wire for wire in part.wires if wire.id == best[1])
    return _halves(part, wire, letter)


def _reached(part: Diagram, start: str, without: str) -> set[str]:
    next_to: dict[str, list[str]] = {}
    for wire in part.wires:
        if wire.id != without:
            next_to.setdefault(wire.start[0], []).append(wire.end[0])
            next_to.setdefault(wire.end[0], []).append(wire.start[0])
    seen, ahead = {start}, [start]
    while ahead:
        for other in next_to.get(ahead.pop(), ()):
            if other not in seen:
                seen.add(other)
                ahead.append(other)
    return seen


def _halves(part: Diagram, wire: Wire, letter: str) -> tuple[Diagram, Diagram]:
    near = _reached(part, wire.start[0], wire.id)
    supplies = ("t",) if wire.role not in ("return", "never") else ()
    halves = []
    for here, end in ((True, "a"), (False, "b")):
        tag = Node(
            f"{wire.id}>{letter}{end}",
            TAG_BODY,
            "tag",
            ("continued", f"at {letter}"),
            supplies=supplies,
            weak=True,
        )
        piece = replace(wire, id=f"{wire.id}>{end}")
        piece = replace(piece, end=(tag.id, "t")) if here else replace(piece, start=(tag.id, "t"))
        nodes = tuple(node for node in part.nodes if (node.id in near) is here)
        wires = tuple(one for one in part.wires if one.id != wire.id and (one.start[0] in near) is here)
        halves.append(Diagram((*nodes, tag), (*wires, piece)))
    return halves[0], halves[1]
