"""The block plan: the supply from its sources to the boxes, and which box feeds which services.

A block of the supply is a source, a bar or a box; what lies on the way between two (switches, relays, fuses,
cut-outs) is one block of its own, named in order. The way is the shortest over conductors, closed or not.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

from loomlore.drawing.bodies import Body
from loomlore.drawing.diagram import Diagram, Node, Wire, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.legends import Legend, subtitle_of
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.paints import Painted, Way, painted
from loomlore.drawing.preparation import spoken
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Scene
from loomlore.drawing.sheets import plate
from loomlore.drawing.typefaces import wrapped
from loomlore.network.building import Plant
from loomlore.network.model import Branch
from loomlore.record.installation import Installation
from loomlore.record.model import Service

__all__ = ["block_plate", "supply_diagram"]

_IN_LINE = frozenset({"shunt", "suppressor", "resistor"})
_ACROSS = 6  # services under one tag before the next row of tags


def block_plate(
    joined: Installation,
    roles: Roles,
    *,
    number: str = "",
    standing: str = "",
    way: Way = "role",
    plant: Plant | None = None,
) -> list[Scene]:
    """Draw the block plan of an installation.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    number : str
        Of the plate.
    standing : str
        Name of the standard of fit, for the subtitle.
    way : str
        What the colours say; by the covers' colour is by role here, a feed being several cables.
    plant : Plant, optional
        The same with its network; with it the supply is drawn as well.

    Returns
    -------
    list of Scene
        As few sheets as it takes.
    """
    wired = {cable.service for cable in joined.dossier.cables.values()}
    services = [service for service in joined.dossier.services.values() if service.id in wired]
    groups: dict[str, list[Service]] = {}
    for service in services:
        for box in dict.fromkeys(feed.partition(".")[0] for feed in service.feed):
            groups.setdefault(box, []).append(service)
    paints = painted(joined, way) if way == "service" else Painted()
    feeds = {box: _box(joined, roles, paints, box, many) for box, many in groups.items()}
    diagrams = _joined_up(plant, roles, groups, feeds) if plant is not None else list(feeds.values())
    parts = [laid_out(part) for diagram in diagrams for part in parts_of(diagram)]
    unfed = [f"{_plate_number(joined, s)} {s.title or s.name}" for s in services if not s.feed]
    notes = ["Numbers are those of the plates. The mark on a feed is its way and its fuse."]
    notes += [f"Without a fused feed: {'; '.join(unfed)}."] if unfed else []
    legend = Legend(
        "Services and their feeds",
        subtitle_of(joined.dossier.header.title, standing),
        number,
        notes=tuple(notes),
    )
    return plate(parts, legend) if parts else []


def _joined_up(
    plant: Plant, roles: Roles, groups: dict[str, list[Service]], feeds: dict[str, Diagram]
) -> list[Diagram]:
    """The supply first; where no box has more than a row of services, with the services under their boxes."""
    supply = supply_diagram(plant, roles)
    if any(len(many) > _ACROSS for many in groups.values()):
        return [supply, *_merged(feeds.values())]
    nodes = {node.id: node for node in supply.nodes}
    wires = list(supply.wires)
    apart: list[Diagram] = []
    for box, diagram in feeds.items():
        if box not in nodes:
            apart.append(diagram)
            continue
        head, *services = diagram.nodes
        body = replace(nodes[box].body, bottoms=head.body.bottoms)
        nodes[box] = replace(nodes[box], body=body)
        nodes |= {node.id: node for node in services}
        wires += [replace(wire, start=(box, wire.start[1])) for wire in diagram.wires]
    return [Diagram(tuple(nodes.values()), tuple(wires)), *_merged(apart)]


def _merged(diagrams: Iterable[Diagram]) -> list[Diagram]:
    """Join diagrams that have a service in common: one that is fed from two sides is drawn once."""
    found: list[Diagram] = []
    for diagram in diagrams:
        names = {node.id for node in diagram.nodes}
        at = next((n for n, other in enumerate(found) if names & {node.id for node in other.nodes}), None)
        if at is None:
            found.append(diagram)
            continue
        nodes = {node.id: node for node in found[at].nodes}
        for node in diagram.nodes:
            before = nodes[node.id].body.tops if node.id in nodes else ()
            tops = tuple(dict.fromkeys((*before, *node.body.tops)))
            nodes[node.id] = replace(node, body=replace(node.body, tops=tops))
        found[at] = Diagram(tuple(nodes.values()), (*found[at].wires, *diagram.wires))
    return found


# ---------------------------------------------------------------- the supply


def supply_diagram(plant: Plant, roles: Roles) -> Diagram:
    """Draw the supply together: sources, what lies on the way, bars, boxes.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    roles : Roles
        What every node is.

    Returns
    -------
    Diagram
        One node a block.
    """
    joined = plant.installation
    stops = _stops(joined)
    chains: list[tuple[str, ...]] = []
    for source in stops:
        if stops[source] != "box":
            for far, passed in _ways_from(plant, roles, source, stops).items():
                if (far, source) not in [(one[0], one[-1]) for one in chains] and stops[far] != "source":
                    between = [item for item in passed if _is_telling(joined, item)]
                    chains.append((source, *between, far))
    edges = _shared_ends(chains, stops)
    blocks = _in_blocks(edges, stops)
    tops: dict[str, list[str]] = {}
    bottoms: dict[str, list[str]] = {}
    wires: list[Wire] = []
    for n, (one, other) in enumerate(dict.fromkeys((blocks[a][0], blocks[b][0]) for a, b in edges)):
        if one != other:
            pin, role = f"{n}", _chain_role(joined, roles, one if one in stops else other.rpartition(">")[2])
            bottoms.setdefault(one, []).append(pin)
            tops.setdefault(other, []).append(pin)
            wires.append(Wire(f"supply{pin}", (one, pin), (other, pin), "", role))
    members = dict(blocks.values())
    nodes = [
        _supply_node(joined, name, members[name], tops.get(name, []), bottoms.get(name, []))
        for name in dict.fromkeys(end for wire in wires for end in (wire.start[0], wire.end[0]))
    ]
    return Diagram(tuple(nodes), tuple(wires))


def _shared_ends(chains: Iterable[tuple[str, ...]], stops: dict[str, str]) -> list[tuple[str, str]]:
    """Lay ways that end alike on one another: what two sources come through together is there once.

    A name is a stop's own, or what lies on the way with all that follows: ``main-fuse>fuse-box``.
    """
    edges: list[tuple[str, str]] = []
    for chain in chains:
        names = [item if item in stops else ">".join(chain[n:]) for n, item in enumerate(chain)]
        edges += pairwise(names)
    return list(dict.fromkeys(edges))


def _in_blocks(edges: Sequence[tuple[str, str]], stops: dict[str, str]) -> dict[str, tuple[str, list[str]]]:
    """Gather what lies in line, one behind the other, into one block: its name, and the items in it."""
    into = Counter(end for _, end in edges)
    after = Counter(start for start, _ in edges)
    block = {name: (name, [name.partition(">")[0]]) for edge in edges for name in edge}
    for one, other in edges:
        if one not in stops and other not in stops and into[other] == 1 and after[one] == 1:
            name, items = block[one]
            together = (name, [*items, *block[other][1]])
            for key, (old, _) in list(block.items()):
                if old in (name, block[other][0]):
                    block[key] = together
    return block


def _stops(joined: Installation) -> dict[str, str]:
    found: dict[str, str] = {}
    for item, equipment in joined.equipment.items():
        if {element.law for element in equipment.elements.values()} & {"battery", "generator"}:
            found[item] = "source"
        elif equipment.symbol == "bus-bar":
            found[item] = "bar"
        elif len(equipment.fuse_ways) > 1:
            found[item] = "box"
    return found


def _ways_from(plant: Plant, roles: Roles, source: str, stops: dict[str, str]) -> dict[str, tuple[str, ...]]:
    """Return the blocks next to one, each with the items on the shortest way there."""
    network = plant.network
    at: dict[int, list[tuple[int, str]]] = {}
    for branch in network.branches:
        if _passes(plant, branch):
            at.setdefault(branch.a, []).append((branch.b, branch.item))
            at.setdefault(branch.b, []).append((branch.a, branch.item))
    owner = {node: name.partition(".")[0] for name, node in network.node_of.items() if node}
    ahead = [
        (node, ())
        for name, node in network.node_of.items()
        if name.partition(".")[0] == source and node and roles.of_node.get(name) != "return"
    ]
    seen = {node for node, _ in ahead}
    found: dict[str, tuple[str, ...]] = {}
    queue: list[tuple[int, tuple[str, ...]]] = list(ahead)
    while queue:
        node, passed = queue.pop(0)
        here = owner.get(node, "")
        if stops.get(here, "source") != "source" and here != source:
            found.setdefault(here, passed)
            continue
        for other, item in at.get(node, ()):
            if other and other not in seen and roles.of_node.get(network.node_names[other]) != "return":
                seen.add(other)
                more = (item,) if item and item not in (*passed, source) else ()
                queue.append((other, (*passed, *more)))
    return found


def _passes(plant: Plant, branch: Branch) -> bool:
    if branch.sort in ("cable", "joint"):
        return True
    equipment = plant.installation.equipment.get(branch.item)
    if equipment is None or len(equipment.contacts) > 3:
        return False
    if branch.sort in ("contact", "fuse"):
        return True
    element = equipment.elements.get(branch.name.removeprefix(f"{branch.item}."))
    if element is None:
        return False
    if element.law == "meter":
        return "current" in element.rating
    return element.law in ("conductor", "suppressor") and equipment.symbol in _IN_LINE


def _is_telling(joined: Installation, item: str) -> bool:
    """A stud, a shunt or a suppressor tells nothing in a block plan."""
    equipment = joined.equipment[item]
    moving = any(contact.closed is not None for contact in equipment.contacts.values())
    return bool(equipment.fuse_ways) or moving or "fuse" in equipment.symbol


def _chain_role(joined: Installation, roles: Roles, name: str) -> str:
    """The role at the first live terminal of where a line ends."""
    equipment = joined.equipment.get(name)
    terminals = equipment.terminal_names if equipment is not None else ()
    found = [roles.of_node.get(f"{name}.{terminal}", "never") for terminal in terminals]
    return next((role for role in found if role not in ("never", "return")), "fused")


def _supply_node(
    joined: Installation, name: str, items: list[str], tops: list[str], bottoms: list[str]
) -> Node:
    look = LETTERINGS["t-name"]
    words = ", ".join(spoken(joined.equipment[item].item.name) for item in items)
    lines = wrapped(words, face=look.face, size=look.size, width=30.0)
    body = Body(tuple(tops), tuple(bottoms), words=lines, labels=False, order="free")
    supplies = tuple(bottoms) if not tops else ()
    return Node(
        f"{name}", body, turns=False, supplies=supplies, of=name if ">" not in name else "", title=words
    )


# ---------------------------------------------------------------- the feeds


def _plate_number(joined: Installation, service: Service) -> int:
    return list(joined.dossier.services).index(service.id) + 1


def _box(joined: Installation, roles: Roles, paints: Painted, box: str, services: list[Service]) -> Diagram:
    """Repeat the box for every few services: a row of short lines reads better than one comb of long ones."""
    nodes: list[Node] = []
    wires: list[Wire] = []
    name = joined.dossier.items[box].name if box in joined.dossier.items else box
    rows = [services[n : n + _ACROSS] for n in range(0, len(services), _ACROSS)]
    for n, row in enumerate(rows):
        feeds = [(feed, service) for service in row for feed in service.feed if feed.partition(".")[0] == box]
        pins = tuple(dict.fromkeys(feed for feed, _ in feeds))
        words = spoken(name) if n == 0 else f"{spoken(name)}, further services"
        body = Body((), pins, words=(words,), labels=False)
        nodes.append(Node(f"{box}~{n}", body, turns=False, supplies=pins, of=box))
        nodes += [_service(joined, service, box) for service in row]
        wires += [
            Wire(
                f"{service.id}~{feed}",
                (f"{box}~{n}", feed),
                (service.id, feed),
                _feed_mark(joined, feed),
                _role(roles, feed),
                paint=paints.of_service.get(service.id),
            )
            for feed, service in feeds
        ]
    return Diagram(tuple(nodes), tuple(wires))


def _role(roles: Roles, feed: str) -> str:
    return roles.of_node.get(feed, "fused")


def _feed_mark(joined: Installation, feed: str) -> str:
    _, _, way = feed.partition(".")
    known = joined.dossier.ways.get(feed)
    fuse = known.fuse.text if known is not None and known.fuse is not None else ""
    return " · ".join(part for part in (f"way {way}" if way else "", fuse) if part)


def _service(joined: Installation, service: Service, box: str) -> Node:
    look = LETTERINGS["t-name"]
    words = f"{_plate_number(joined, service)} {service.title or service.name}"
    lines = wrapped(words, face=look.face, size=look.size, width=26.0)
    pins = tuple(dict.fromkeys(feed for feed in service.feed if feed.partition(".")[0] == box))
    body = Body(pins, (), words=lines, labels=False)
    return Node(service.id, body, turns=False, of=service.id, title=service.title)
