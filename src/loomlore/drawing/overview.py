"""The block plan: which fuse box or bar feeds which services, one box a service, with its plate's number."""

from loomlore.drawing.bodies import Body
from loomlore.drawing.diagram import Diagram, Node, Wire, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.preparation import spoken
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Scene
from loomlore.drawing.sheets import Legend, plate
from loomlore.drawing.typefaces import wrapped
from loomlore.record.installation import Installation
from loomlore.record.model import Service

__all__ = ["block_plate"]

_ACROSS = 6  # services under one tag before the next row of tags


def block_plate(joined: Installation, roles: Roles, *, number: str = "") -> list[Scene]:
    """Draw the block plan of an installation.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    number : str
        Of the plate.

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
    diagrams = [_box(joined, roles, box, many) for box, many in groups.items()]
    parts = [laid_out(part) for diagram in diagrams for part in parts_of(diagram)]
    unfed = [f"{_plate_number(joined, s)} {s.title or s.name}" for s in services if not s.feed]
    notes = ["Numbers are those of the plates. The mark on a feed is its way and its fuse."]
    notes += [f"Without a fused feed: {'; '.join(unfed)}."] if unfed else []
    legend = Legend("Services and their feeds", joined.dossier.header.title, number, notes=tuple(notes))
    return plate(sorted(parts, key=lambda part: -part.box.width * part.box.height), legend) if parts else []


def _plate_number(joined: Installation, service: Service) -> int:
    return list(joined.dossier.services).index(service.id) + 1


def _box(joined: Installation, roles: Roles, box: str, services: list[Service]) -> Diagram:
    """Repeat the box for every few services: a row of short lines reads better than one comb of long ones."""
    nodes: list[Node] = []
    wires: list[Wire] = []
    name = joined.dossier.items[box].name if box in joined.dossier.items else box
    rows = [services[n : n + _ACROSS] for n in range(0, len(services), _ACROSS)]
    for n, row in enumerate(rows):
        feeds = [(feed, service) for service in row for feed in service.feed if feed.partition(".")[0] == box]
        pins = tuple(feed for feed, _ in feeds)
        body = Body((), pins, words=(spoken(name),), labels=False)
        nodes.append(Node(f"{box}~{n}", body, turns=False, supplies=pins, of=box))
        nodes += [_service(joined, service, box) for service in row]
        wires += [
            Wire(
                f"{service.id}~{feed}",
                (f"{box}~{n}", feed),
                (service.id, feed),
                _feed_mark(joined, feed),
                _role(roles, feed),
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
    return " · ".join(part for part in (way, fuse) if part)


def _service(joined: Installation, service: Service, box: str) -> Node:
    look = LETTERINGS["t-name"]
    words = f"{_plate_number(joined, service)} {service.title or service.name}"
    lines = wrapped(words, face=look.face, size=look.size, width=26.0)
    pins = tuple(feed for feed in service.feed if feed.partition(".")[0] == box)
    body = Body(pins, (), words=lines, labels=False)
    return Node(service.id, body, turns=False, of=service.id, title=service.title)
