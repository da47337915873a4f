"""Rules about what cables join: shorted supplies and loads, ways joined together, services without a feed.

Two pictures of the same installation. *Copper*: nodes joined by cables, mated ways and links, nothing else;
in it a supply or a load whose two ends coincide is shorted. *Conducting*: copper and everything inside items
but the fuses of boxes and the airframe; in it a service's cables must hang together with its feed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from functools import lru_cache

from loomlore.findings import Severity
from loomlore.record.equipment import Element, Equipment
from loomlore.record.model import AIRFRAME, Service
from loomlore.record.rules.connections import cables_between, earth_only
from loomlore.record.rules.context import ENDS, Context, is_earth, nodes_of, split_end

__all__ = ["SUPPLIES", "Groups", "check_feeds", "check_shorts", "copper_pairs", "element_ends", "node_of"]

SUPPLIES = ("battery", "generator")
LOADS = ("filament", "motor", "horn", "coil", "heater", "set", "cartridge", "meter", "ratio-coil", "fuse")


class Groups:
    """Nodes that are one, by union and find."""

    def __init__(self) -> None:
        self.above: dict[str, str] = {}

    def of(self, node: str) -> str:
        """The node that stands for all that are one with this one."""
        above = self.above
        root = first = above.get(node, node)
        while (further := above.get(root, root)) != root:
            root = further
        if first != root:
            while (further := above.get(node, node)) != root:
                above[node] = root
                node = further
        return root

    def join(self, a: str, b: str) -> None:
        """Make two nodes one."""
        self.above[self.of(a)] = self.of(b)


@lru_cache(maxsize=ENDS)
def node_of(end: str) -> str:
    """The node of a cable's end; bolts are the airframe here, since milliohms do not undo a short.

    Parameters
    ----------
    end
        As written.

    Returns
    -------
    str
        The end itself, or the airframe.
    """
    return AIRFRAME if is_earth(end) else end


def copper_pairs(context: Context) -> Iterator[tuple[str, str, str]]:
    """Pairs of nodes that copper joins, and what a finding calls it.

    Parameters
    ----------
    context
        The standard of fit.

    Yields
    ------
    tuple of str
        Two nodes, and the cable, plug or link.
    """
    for cable in cables_between(context):
        yield node_of(cable.from_), node_of(cable.to), f"cable {cable.id}"
    for joint in context.installation.joints:
        yield joint.end_a, joint.end_b, f"plug {split_end(joint.end_a)[0]}"
    for item, parts in context.installation.equipment.items():
        for contact in parts.contacts.values():
            if contact.closed is None:
                yield f"{item}.{contact.ends[0]}", f"{item}.{contact.ends[1]}", f"{contact.name} of {item}"


def element_ends(context: Context) -> tuple[tuple[Equipment, Element, str, str], ...]:
    """Every element with the nodes of its ends.

    Parameters
    ----------
    context
        The standard of fit.

    Returns
    -------
    tuple of tuple
        The item, the element, its first and its second node.
    """
    return context.elements


# ---- shorts ----------------------------------------------------------------------------------------------


def check_shorts(context: Context) -> None:
    """Find supplies and loads that cables alone short, ways joined together or to earth, poles reversed.

    Parameters
    ----------
    context
        The standard of fit.
    """
    copper = Groups()
    for a, b, _ in copper_pairs(context):
        copper.join(a, b)
    outputs: dict[str, tuple[Equipment, Element]] = {}
    for parts, element, first, second in element_ends(context):
        if copper.of(first) == copper.of(second):
            _say_shorted(context, parts, element, first, second)
        elif element.law in SUPPLIES:
            _check_pole(context, parts, (copper.of(first), copper.of(second)), copper.of(AIRFRAME))
        if element.each and element.law == "fuse":
            _check_way(context, parts, element, copper, outputs)


def _say_shorted(context: Context, parts: Equipment, element: Element, first: str, second: str) -> None:
    path = _path(context, first, second)
    way = " and ".join(path)
    item, name = parts.item.id, element.name
    if element.law in SUPPLIES:
        message = f"Item {item!r}, a {element.law}, is shorted: {first!r} and {second!r} are joined by {way}."
        _say_copper(context, "shorted-supply", parts, message, path)
    elif element.law == "fuse":
        _say_copper(context, "bypassed-fuse", parts, f"Fuse {name!r} of {item!r} is bypassed by {way}.", path)
    elif element.law in LOADS:
        message = f"{name!r} of {item!r} is shorted by {way}, and can never work."
        _say_copper(context, "shorted-element", parts, message, path, severity=Severity.WARNING)


def _say_copper(
    context: Context,
    rule: str,
    parts: Equipment,
    message: str,
    path: list[str],
    *,
    severity: Severity = Severity.ERROR,
) -> None:
    """Say it at the cable where there is only one, else at the item and point to the cables."""
    known = context.dossier.cables
    cables = [known[name] for what in path for word, _, name in (what.partition(" "),) if word == "cable"]
    hint = "Mend the end that is on the wrong terminal."
    if len(cables) == 1:
        context.remarks.say(rule, cables[0], message, hint, severity=severity, also=(parts.item,))
    else:
        context.remarks.say(rule, parts.item, message, hint, severity=severity, also=cables)


def _path(context: Context, first: str, second: str) -> list[str]:
    """The copper between two nodes, by the fewest pieces."""
    beside: dict[str, list[tuple[str, str]]] = {}
    for a, b, what in copper_pairs(context):
        beside.setdefault(a, []).append((b, what))
        beside.setdefault(b, []).append((a, what))
    came: dict[str, tuple[str, str]] = {first: ("", "")}
    waiting = deque([first])
    while waiting and second not in came:
        node = waiting.popleft()
        for other, what in beside.get(node, ()):
            if other not in came:
                came[other] = (node, what)
                waiting.append(other)
    path: list[str] = []
    node = second
    while node != first:
        node, what = came[node]
        path.append(what)
    return path[::-1]


def _check_pole(context: Context, parts: Equipment, poles: tuple[str, str], earth: str) -> None:
    header, item = context.dossier.header, parts.item
    if earth not in poles:
        return
    if header.earthed == "none":
        message = f"Item {item.id!r} has a pole on earth, and the dossier says that none is earthed."
        context.remarks.warn("earthed-pole", item, message, "Mend its cable, or `earthed` in [dossier].")
        return
    on_earth = "positive" if poles[0] == earth else "negative"
    if on_earth != header.earthed:
        message = (
            f"Item {item.id!r} has its {on_earth} pole on earth; the dossier earths the {header.earthed}."
        )
        hint = "Swap the ends of its two cables, or mend `earthed` in [dossier]."
        context.remarks.say("earthed-pole", item, message, hint)


def _check_way(
    context: Context,
    parts: Equipment,
    element: Element,
    copper: Groups,
    outputs: dict[str, tuple[Equipment, Element]],
) -> None:
    end = nodes_of(parts, element.ends)[1]
    if end not in context.cabled:
        return
    node = copper.of(end)
    if node == copper.of(AIRFRAME):
        path = _path(context, end, AIRFRAME)
        message = f"Way {element.name} of {parts.item.id!r} goes straight to earth by {' and '.join(path)}."
        _say_copper(context, "way-to-earth", parts, message, path)
        return
    other, its = outputs.setdefault(node, (parts, element))
    if its is not element:
        there = nodes_of(other, its.ends)[1]
        path = _path(context, there, end)
        message = (
            f"Ways {there!r} and {end!r} are joined by {' and '.join(path)}: neither fuse protects alone."
        )
        _say_copper(context, "ways-joined", parts, message, path)


# ---- feeds -----------------------------------------------------------------------------------------------


def check_feeds(context: Context) -> None:
    """Judge that each service has its feed, that its cables hang together with it, and magnetos have none.

    Parameters
    ----------
    context
        The standard of fit.
    """
    conducting = _conducting(context)
    by_service: dict[str, list[str]] = {}
    for cable in context.dossier.cables.values():
        by_service.setdefault(cable.service, []).append(cable.id)
    for service in context.dossier.services.values():
        cables = by_service.get(service.id, [])
        if _feeds_known(context, service):
            if service.feed:
                _check_fed(context, service, cables, conducting)
            _check_ways_of(context, service, cables)
        _check_magneto(context, service, cables)


def _conducting(context: Context) -> Groups:
    groups = Groups()
    for a, b, _ in copper_pairs(context):
        if AIRFRAME not in (a, b):
            groups.join(a, b)
    for parts in context.installation.equipment.values():
        parts_inside: Iterable[tuple[str, str]] = (
            *(e.ends for e in parts.elements.values() if not e.each),
            *(c.ends for c in parts.contacts.values()),
        )
        for ends in parts_inside:
            a, b = nodes_of(parts, ends)
            if AIRFRAME not in (a, b):
                groups.join(a, b)
    return groups


def _feeds_known(context: Context, service: Service) -> bool:
    """Whether every feed is a terminal, or an item, that is fitted; what is not is a finding of names."""
    for item, terminal in map(split_end, service.feed):
        parts = context.installation.equipment.get(item)
        if parts is None or (terminal and terminal not in parts.terminal_names):
            return False
    return True


def _feed_nodes(context: Context, service: Service) -> set[str]:
    nodes: set[str] = set()
    for feed in service.feed:
        item, terminal = split_end(feed)
        names = (terminal,) if terminal else context.installation.equipment[item].terminal_names
        nodes.update(f"{item}.{name}" for name in names)
    return nodes


def _check_fed(context: Context, service: Service, cables: list[str], conducting: Groups) -> None:
    fed = {conducting.of(node) for node in _feed_nodes(context, service)}
    solved = [
        c for c in (context.dossier.cables[name] for name in cables) if not c.type and not earth_only(c)
    ]
    led = any(conducting.of(end) in fed for c in solved for end in (c.from_, c.to) if not is_earth(end))
    if not solved or led or _excused_service(context, service, cables):
        return
    feed = " and ".join(repr(f) for f in service.feed)
    message = f"Service {service.id!r} is fed from {feed}, but none of its cables leads there."
    hint = "Add the cable from the way, or mend `feed`."
    context.remarks.say("no-feed-path", service, message, hint, key="feed")


def _excused_service(context: Context, service: Service, cables: list[str]) -> bool:
    """Whether a broken line, or a wrong end, may hide the link between a service and its feed."""
    if not context.doubtful.isdisjoint(cables):
        return True
    if not (context.broken or context.touched):
        return False
    ends = (end for name in cables for end in _cable_ends(context, name))
    names = {service.id, *cables, *(split_end(end)[0] for end in ends)}
    return any(context.excused(name) for name in names)


def _cable_ends(context: Context, name: str) -> tuple[str, str]:
    cable = context.dossier.cables[name]
    return cable.from_, cable.to


def _check_ways_of(context: Context, service: Service, cables: list[str]) -> None:
    for name in cables:
        cable = context.dossier.cables[name]
        if cable.from_ in service.feed or cable.to in service.feed:
            continue  # two ways joined have a finding of their own
        for end, key in ((cable.from_, "from"), (cable.to, "to")):
            item, number = split_end(end)
            parts = context.installation.equipment.get(item)
            element = parts.elements.get(number) if parts else None
            if element is None or not (element.each and element.law == "fuse") or end in service.feed:
                continue
            if f"service {service.id}" in context.broken:
                continue
            says = f"is fed from {' and '.join(service.feed)}" if service.feed else "says no feed"
            message = f"Cable {name!r} is on way {end!r}, but its service {service.id!r} {says}."
            hint = f'Write feed = "{end}" in the service, or mend the cable\'s end.'
            context.remarks.warn("way-not-its-feed", cable, message, hint, key=key, also=(service,))


def _check_magneto(context: Context, service: Service, cables: list[str]) -> None:
    if not service.feed:
        return
    for end in (end for name in cables for end in _cable_ends(context, name)):
        parts = context.installation.equipment.get(split_end(end)[0])
        if parts and any(e.law == "magneto" for e in parts.elements.values()):
            message = f"Service {service.id!r} has the magneto {parts.item.id!r} and a feed."
            hint = "A magneto makes its own current: take `feed` out, or move its cables to another service."
            context.remarks.warn("magneto-with-feed", service, message, hint, key="feed")
            return
