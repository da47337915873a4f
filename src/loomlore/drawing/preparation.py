"""From a service of the record to a diagram: what is drawn on its plate, and how each thing is shown.

* Every earthed end has its own earth, named where the record names the bolt; an item that returns through its
  case too.
* A fused way is a fuse under a tag that names box, way and amperes; a bar is a tag.
* A plug is drawn way by way, both halves as one; a stud is a joint in the line.
* An item whose home is another service and that meets this one at a single terminal is a tag naming that
  service.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from loomlore.drawing.bodies import Body, Part
from loomlore.drawing.composing import CASE, composed
from loomlore.drawing.diagram import BOLT_BODY, EARTH_BODY, TAG_BODY, Diagram, End, Node, Wire, localised
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.paints import Painted, colour_letters
from loomlore.drawing.roles import Roles, home_services
from loomlore.drawing.typefaces import balanced, wrapped
from loomlore.quantities import Size
from loomlore.record.equipment import Equipment
from loomlore.record.installation import Installation
from loomlore.record.model import AIRFRAME, Cable

__all__ = [
    "cable_role",
    "cited_together",
    "prepared",
    "service_diagram",
    "size_words",
    "spoken",
    "usual_size",
]

# Amperes that a period cable carries, for each square millimetre: only the class of a line's width hangs on
# it.
_AMPERES_PER_MM2 = 8.0
_JOINTS = frozenset({"stud", "terminal-block"})


@dataclass
class _Draft:
    """What has been prepared so far: nodes by id, and where each end of the record is drawn."""

    joined: Installation
    roles: Roles
    service: str
    cables: list[Cable]
    paints: Painted = field(default_factory=Painted)
    nodes: dict[str, Node] = field(default_factory=dict)
    ends: dict[str, End] = field(default_factory=dict)
    bare: list[Wire] = field(default_factory=list)


def service_diagram(
    joined: Installation, roles: Roles, service: str, *, paints: Painted | None = None
) -> Diagram:
    """Prepare the diagram of a service.

    Coloured by service, it also has the cables of other services that end on its items: who else hangs on
    these.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    service : str
        Its id.
    paints : Painted, optional
        How the conductors are coloured; by role where not given.

    Returns
    -------
    Diagram
        Localised, ready for layout; empty where the service has no cables in this standard of fit.
    """
    cables = [c for c in joined.dossier.cables.values() if c.service == service and c.from_ and c.to]
    if cables and paints is not None and paints.way == "service":
        cables += _neighbouring(joined, service)
    return prepared(joined, roles, cables, service, paints=paints)


def _neighbouring(joined: Installation, service: str) -> list[Cable]:
    """Return other services' cables on the items that are at home here."""
    homes = home_services(joined)
    own = {
        item for item, home in homes.items()
        if home == service and item in joined.equipment and _is_apparatus(joined, item)
    }  # fmt: skip
    return [
        cable for cable in joined.dossier.cables.values()
        if cable.service != service and {end.partition(".")[0] for end in (cable.from_, cable.to)} & own
    ]  # fmt: skip


def _is_apparatus(joined: Installation, item: str) -> bool:
    """Neither a bar, nor a box of fuses, nor a plug: there all services meet."""
    equipment = joined.equipment[item]
    return equipment.symbol != "bus-bar" and not equipment.fuse_ways and item not in joined.joined_by


def prepared(
    joined: Installation,
    roles: Roles,
    cables: list[Cable],
    service: str = "",
    *,
    paints: Painted | None = None,
) -> Diagram:
    """Prepare a diagram of some cables and what they join.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.
    roles : Roles
        What every node is.
    cables : list of Cable
        What is drawn.
    service : str
        The service whose home items are drawn whole; nothing: all items are.
    paints : Painted, optional
        How the conductors are coloured; by role where not given.

    Returns
    -------
    Diagram
        Localised.
    """
    draft = _Draft(joined, roles, service, cables, paints or Painted())
    met = _met(cables)
    for item, terminals in met.items():
        _prepare(draft, item, terminals)
    usual = usual_size(cables)
    wires = [_wire(draft, cable, usual) for cable in cables]
    return localised(Diagram(tuple(draft.nodes.values()), (*wires, *draft.bare)))


def _met(cables: Iterable[Cable]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for cable in cables:
        for end in (cable.from_, cable.to):
            item, _, terminal = end.partition(".")
            many = found.setdefault(item, [])
            if terminal not in many:
                many.append(terminal)
    return found


# ---------------------------------------------------------------- items


def _prepare(draft: _Draft, item: str, terminals: list[str]) -> None:
    if item == AIRFRAME:
        for terminal in terminals:
            _earth(draft, terminal)
        return
    equipment = draft.joined.equipment.get(item)
    if equipment is None:
        _unknown(draft, item, terminals)
    elif equipment.fuse_ways and "bus" in equipment.terminal_names and len(equipment.fuse_ways) > 1:
        _fuse_box(draft, equipment, terminals)
    elif equipment.symbol == "bus-bar":
        for terminal in terminals:
            _tag(draft, equipment, terminal, (*_lines(equipment.item.name, 24.0), f"stud {terminal}"))
    elif item in draft.joined.joined_by:
        _plug(draft, equipment, terminals)
    elif equipment.symbol in _JOINTS and not equipment.contacts:
        for terminal in terminals:
            _joint(draft, equipment, terminal, many=len(equipment.terminal_names) > 1)
    elif _is_guest(draft, item, terminals):
        service = draft.joined.dossier.services[home_services(draft.joined)[item]]
        words = (*_lines(equipment.item.name, 24.0), f"{terminals[0]} · see {service.title or service.name}")
        _tag(draft, equipment, terminals[0], _relined(words))
    else:
        _whole(draft, equipment, terminals)


def spoken(name: str) -> str:
    """Return a name as it is printed: a letter alone, as in "Fuse box A", is a capital.

    Parameters
    ----------
    name : str
        Of an item.

    Returns
    -------
    str
        The same words.
    """
    return " ".join(word.upper() if len(word) == 1 else word for word in name.split())


def _lines(words: str, width: float) -> tuple[str, ...]:
    look = LETTERINGS["t-name"]
    return balanced(spoken(words), face=look.face, size=look.size, width=width)


def _relined(lines: Iterable[str], width: float = 28.0) -> tuple[str, ...]:
    look = LETTERINGS["t-tag"]
    return tuple(
        part for line in lines for part in wrapped(line, face=look.face, size=look.size, width=width)
    )


def _is_guest(draft: _Draft, item: str, terminals: list[str]) -> bool:
    home = home_services(draft.joined).get(item, draft.service)
    return (
        bool(draft.service)
        and home != draft.service
        and len(terminals) == 1
        and home in draft.joined.dossier.services
    )


def _earth(draft: _Draft, terminal: str) -> None:
    key = f"{AIRFRAME}.{terminal}" if terminal else AIRFRAME
    draft.nodes[key] = _earth_node(draft, key, terminal)
    draft.ends[key] = (key, "e")


def _earth_node(draft: _Draft, key: str, bolt: str) -> Node:
    if not bolt:
        return Node(key, EARTH_BODY, "earth", of=AIRFRAME, title="the airframe")
    known = draft.joined.dossier.earths.get(bolt)
    words = known.name if known is not None else bolt
    look = LETTERINGS["t-terminal"]
    name = balanced(words, face=look.face, size=look.size, width=11.0)
    return Node(key, BOLT_BODY, "earth", name=name, of=f"{AIRFRAME}.{bolt}", title=words)


def _unknown(draft: _Draft, item: str, terminals: list[str]) -> None:
    tops = tuple(terminals[: (len(terminals) + 1) // 2])
    body = Body(tops, tuple(t for t in terminals if t not in tops), words=_lines(item, 20.0), order="free")
    draft.nodes[item] = Node(item, body, of=item, title=item)
    draft.ends |= {f"{item}.{terminal}": (item, terminal) for terminal in terminals}


def _tag(draft: _Draft, equipment: Equipment, terminal: str, words: tuple[str, ...]) -> None:
    key = f"{equipment.item.id}.{terminal}"
    role = draft.roles.of_node.get(key, "never")
    supplies = ("t",) if role not in ("return", "never") else ()
    draft.nodes[key] = Node(
        key,
        TAG_BODY,
        "tag",
        name=words,
        supplies=supplies,
        weak=True,
        of=equipment.item.id,
        title=" ".join(words),
    )
    draft.ends[key] = (key, "t")


def _fuse_box(draft: _Draft, equipment: Equipment, terminals: list[str]) -> None:
    item = equipment.item
    for terminal in terminals:
        key = f"{item.id}.{terminal}"
        if terminal not in equipment.fuse_ways:
            _tag(draft, equipment, terminal, (*_lines(item.name, 24.0), terminal))
            continue
        way = draft.joined.dossier.ways.get(key)
        fuse = way.fuse.text if way is not None and way.fuse is not None else ""
        words = f"way {terminal} · {fuse}" if fuse else f"way {terminal}"
        body = Body(("bus",), (terminal,), (Part(terminal, "fuse", ("bus", terminal)),), labels=False)
        tag = (*_lines(item.name, 24.0), words)
        draft.nodes[key] = Node(key, body, name=(), tag=tag, of=key, title=f"{item.name} {words}")
        draft.ends[key] = (key, terminal)


def _plug(draft: _Draft, equipment: Equipment, terminals: list[str]) -> None:
    """Draw a plug way by way; a half with something inside (a controller) is drawn whole."""
    plug = draft.joined.joined_by[equipment.item.id]
    halves = [plug, draft.joined.equipment[plug].item.mates]
    met = _met(draft.cables)
    used = list(dict.fromkeys(t for half in halves for t in met.get(half, ())))
    inside = [half for half in halves if _has_inside(draft.joined.equipment[half], used)]
    if not inside:
        for terminal in terminals:
            _plug_way(draft, equipment, terminal)
    elif inside[0] not in draft.nodes:
        _whole(draft, draft.joined.equipment[inside[0]], used)
        draft.ends |= {f"{half}.{terminal}": (inside[0], terminal) for half in halves for terminal in used}


def _has_inside(equipment: Equipment, used: list[str]) -> bool:
    """Whether these ways meet anything inside; a link counts where it joins two of them."""
    links = [contact for contact in equipment.contacts.values() if contact.closed is None]
    working = len(equipment.contacts) > len(links) or bool(equipment.elements)
    return working or any(set(link.ends) <= set(used) for link in links)


def _plug_way(draft: _Draft, equipment: Equipment, terminal: str) -> None:
    """Draw both halves of a way as one: the half that says ``mates`` is the plug, with the pin."""
    plug = draft.joined.joined_by[equipment.item.id]
    socket = draft.joined.equipment[plug].item.mates
    names = [draft.joined.equipment[half].item.name for half in (plug, socket)]
    key = f"{plug}.{terminal}"
    body = Body(("s",), ("p",), (Part(terminal, "plug-way", ("s", "p")),), labels=False)
    name = (*_lines(names[0], 20.0), f"way {terminal}")
    draft.nodes.setdefault(
        key, Node(key, body, name=name, of=key, title=f"{names[0]} in {names[1]}, way {terminal}")
    )
    draft.ends[f"{plug}.{terminal}"] = (key, "p")
    draft.ends[f"{socket}.{terminal}"] = (key, "s")


def _joint(draft: _Draft, equipment: Equipment, terminal: str, *, many: bool) -> None:
    """A stud joins what comes to it with what goes from it."""
    key = f"{equipment.item.id}.{terminal}"
    body = Body(("in",), ("out",), (Part(terminal, "stud", ("in", "out")),), labels=False)
    name = (*_lines(equipment.item.name, 20.0), *((terminal,) if many else ()))
    draft.nodes[key] = Node(key, body, name=name, small=_place(draft, equipment), of=equipment.item.id)
    draft.ends[key] = (key, "*")


def _whole(draft: _Draft, equipment: Equipment, terminals: list[str]) -> None:
    item = equipment.item
    made = composed(equipment, draft.roles.shut_in(item.id), used=frozenset(terminals))
    body, name = made.body, _lines(item.name, 19.0)
    if not body.parts:
        body, name = Body(body.tops, body.bottoms, order=body.order, words=name, printed=body.printed), ()
    body = _with_terminals(body, terminals)
    small = (*_rating(equipment), *_place(draft, equipment))
    draft.nodes[item.id] = Node(
        item.id, body, name=name, small=small, turns=equipment.turn != "fixed", supplies=_supplies(equipment),
        of=item.id, title=f"{item.name}, {equipment.title}", standing=item.standing,
    )  # fmt: skip
    draft.ends |= {f"{item.id}.{terminal}": (item.id, terminal) for terminal in (*body.tops, *body.bottoms)}
    if made.on_case:
        key = f"{item.id}~case"
        draft.nodes[key] = _earth_node(draft, key, item.earth.removeprefix(f"{AIRFRAME}."))
        draft.bare.append(Wire(f"{item.id}~case", (item.id, CASE), (key, "e"), role="return", bare=True))


def _with_terminals(body: Body, terminals: list[str]) -> Body:
    """A cable on a terminal that the kind does not have still lands somewhere: on the box, below."""
    missing = tuple(t for t in terminals if t not in body.tops and t not in body.bottoms)
    if not missing:
        return body
    return Body(
        body.tops,
        (*body.bottoms, *missing),
        body.parts,
        body.links,
        body.order,
        words=body.words,
        printed=body.printed,
    )


def _supplies(equipment: Equipment) -> tuple[str, ...]:
    """Return the terminals that a source inside feeds, directly or through a contact.

    A ground supply that is fed from above as well (it takes over) is drawn in the line, not at its head.
    """
    if equipment.controls and equipment.terminals.get("top"):
        return ()
    found = set()
    for element in equipment.elements.values():
        if element.law in ("battery", "generator", "magneto"):
            met = {element.ends[0]}
            for contact in equipment.contacts.values():
                if met & set(contact.ends):
                    met |= set(contact.ends)
            found |= met
    return tuple(name for name in equipment.terminal_names if name in found)


def _rating(equipment: Equipment) -> tuple[str, ...]:
    rating = equipment.item.rating or {}
    words = " ".join(quantity.text for quantity in rating.values())
    return (words,) if words else ()


def _place(draft: _Draft, equipment: Equipment) -> tuple[str, ...]:
    spot = draft.joined.dossier.places.get(equipment.item.place)
    if spot is None:
        return ()
    look = LETTERINGS["t-rating"]
    return balanced(spot.name.lower(), face=look.face, size=look.size, width=20.0)


# ---------------------------------------------------------------- cables


def usual_size(cables: Iterable[Cable]) -> str:
    """Return the size that most of the cables have, as written.

    Parameters
    ----------
    cables : iterable of Cable
        Of one plate.

    Returns
    -------
    str
        Empty where none has a size.
    """
    counts: dict[str, int] = {}
    for cable in cables:
        counts[size_words(cable)] = counts.get(size_words(cable), 0) + 1
    counts.pop("", None)
    return max(counts, key=lambda size: counts[size]) if counts else ""


def size_words(cable: Cable) -> str:
    """Return a cable's size as it is printed.

    Parameters
    ----------
    cable : Cable
        The cable.

    Returns
    -------
    str
        As written; empty where the record has none.
    """
    return cable.size.text if isinstance(cable.size, Size) else str(cable.size or "")


def _wire(draft: _Draft, cable: Cable, usual: str) -> Wire:
    start, end = (
        _drawn_end(draft, name, arrives=arrives) for name, arrives in ((cable.from_, False), (cable.to, True))
    )
    role = cable_role(draft.roles, cable)
    return Wire(
        cable.id, start, end, mark=_mark(cable, usual), role=role, amperes=_amperes(cable),
        standing=cable.standing, paint=draft.paints.paint(cable, role),
        title=f"Cable {cable.mark or cable.id}, {cable.from_} to {cable.to}",
    )  # fmt: skip


def _drawn_end(draft: _Draft, name: str, *, arrives: bool) -> End:
    node, pin = draft.ends[name]
    return (node, "in" if arrives else "out") if pin == "*" else (node, pin)


def _mark(cable: Cable, usual: str) -> str:
    size = size_words(cable)
    words = [
        cable.mark or cable.id,
        size.removesuffix(" in") if size and size != usual else "",
        colour_letters(cable.colour),
    ]
    return " ".join(word for word in words if word)


def cable_role(roles: Roles, cable: Cable) -> str:
    """Return the role of a cable, from those of its ends.

    Parameters
    ----------
    roles : Roles
        What every node is.
    cable : Cable
        The cable.

    Returns
    -------
    str
        A key of ``looks.ROLES``.
    """
    if cable.type:
        return "recorded"
    found = {roles.of_node.get(end, "never") for end in (cable.from_, cable.to)} - {"never"}
    for role in ("return", "battery", "fused", "switched", "generated"):
        if role in found:
            return role
    return "never"


def _amperes(cable: Cable) -> float | None:
    if isinstance(cable.size, Size) and cable.size.area:
        return cable.size.area * 1e6 * _AMPERES_PER_MM2
    return None


def cited_together(things: Iterable[object]) -> str:
    """Gather what things cite by source: ``handbook 9.18, 9.20; drawing sheet 7``.

    Parameters
    ----------
    things : iterable
        Items and cables of the record.

    Returns
    -------
    str
        Each citation once, in the order in which they are met.
    """
    grouped: dict[str, list[str]] = {}
    for thing in things:
        for citation in getattr(thing, "sources", ()):
            source, _, locator = str(citation).partition(" ")
            many = grouped.setdefault(source, [])
            if locator and locator not in many:
                many.append(locator)
    return "; ".join(
        f"{source.replace('-', ' ')} {', '.join(many)}".strip() for source, many in grouped.items()
    )
