"""Whether each load can ever carry a current, and each magneto be stopped: what finds a return nobody typed.

Every cable, mated way, contact (taken as closed) and element is an edge between nodes, the supplies among
them. An edge lies on a closed path through a supply exactly where both are in one block (biconnected
component) of that graph, so that one walk judges every load in every position of every control.

Source of the equivalence: an edge lies on a simple path between two nodes if and only if it is in one block
with an edge laid between them (a textbook property of blocks, after Whitney 1932; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from loomlore.record.equipment import Element, Equipment
from loomlore.record.model import AIRFRAME, Cable, Service
from loomlore.record.rules.context import Context, split_end
from loomlore.record.rules.shorts import SUPPLIES, Groups, copper_pairs, element_ends

__all__ = ["blocks", "check_working"]

_JUDGED = frozenset({"filament", "motor", "horn", "heater", "set", "coil", "cartridge"})
_SOURCES = frozenset({*SUPPLIES, "magneto"})

Edge = tuple[str, str]


@dataclass(frozen=True)
class _Dead:
    """A load that no current can reach, with the node of each of its ends."""

    parts: Equipment
    element: Element
    ends: Edge


def blocks(edges: list[Edge]) -> list[int]:
    """The block (biconnected component) of each edge.

    Parameters
    ----------
    edges
        Pairs of nodes; several between one pair, and from a node to itself, may be.

    Returns
    -------
    list of int
        For each edge a number; two edges have one number where a closed path without a repeated node goes
        through both.

    Examples
    --------
    >>> len(set(blocks([("a", "b"), ("b", "c"), ("c", "a"), ("c", "d")])))
    2
    """
    beside: dict[str, list[tuple[str, int]]] = {}
    for number, (a, b) in enumerate(edges):
        beside.setdefault(a, []).append((b, number))
        beside.setdefault(b, []).append((a, number))
    of = [-1] * len(edges)
    reached: dict[str, int] = {}
    count = 0
    for root in beside:
        if root not in reached:
            count = _walk(root, beside, reached, of, count)
    return of


def _walk(
    root: str, beside: dict[str, list[tuple[str, int]]], reached: dict[str, int], of: list[int], count: int
) -> int:
    """Number the blocks of one connected part, depth first; iterative, for a chain may be long."""
    lowest = {root: len(reached)}
    reached[root] = len(reached)
    way: list[tuple[str, int, Iterator[tuple[str, int]]]] = [(root, -1, iter(beside[root]))]
    open_edges: list[int] = []
    seen: set[int] = set()
    while way:
        node, by, ahead = way[-1]
        step = next(((o, e) for o, e in ahead if e not in seen), None)
        if step is None:
            way.pop()
            if way:
                above = way[-1][0]
                if lowest[node] >= reached[above]:
                    count = _close(open_edges, by, of, count)
                lowest[above] = min(lowest[above], lowest[node])
            continue
        other, edge = step
        seen.add(edge)
        open_edges.append(edge)
        if other == node:
            open_edges.pop()
            of[edge], count = count, count + 1
        elif other in reached:
            lowest[node] = min(lowest[node], reached[other])
        else:
            lowest[other] = reached[other] = len(reached)
            way.append((other, edge, iter(beside[other])))
    return count


def _close(open_edges: list[int], first: int, of: list[int], count: int) -> int:
    while True:
        edge = open_edges.pop()
        of[edge] = count
        if edge == first:
            return count + 1


# ---- the rule --------------------------------------------------------------------------------------------


def check_working(context: Context) -> None:
    """Warn of loads through which no current can flow in any position of any control.

    Parameters
    ----------
    context
        The standard of fit.
    """
    _check_stopping(context)
    dead = _dead(context)
    if not dead:
        return
    by_service: dict[str, list[_Dead]] = {}
    for load in dead:
        cables = _cables_at(context, load.parts.item.id)
        if cables and context.due(load.parts.item.id, *(c.id for c in cables)):
            by_service.setdefault(cables[0].service, []).append(load)
    for service, loads in by_service.items():
        known = context.dossier.services.get(service)
        if known is not None and not _excused(context, known, loads):
            _say(context, loads)


def _check_stopping(context: Context) -> None:
    """Warn of a magneto whose primary no contact, closed as it may be, can lead to earth.

    Other machines and loads count for nothing: through another magneto's primary no switch stops this one.
    """
    joined = Groups()
    for a, b, _ in copper_pairs(context):
        joined.join(a, b)
    for item, parts in context.installation.equipment.items():
        for contact in parts.contacts.values():
            first, second = (AIRFRAME if end == AIRFRAME else f"{item}.{end}" for end in contact.ends)
            joined.join(first, second)
    free = [
        parts.item
        for parts, element, a, b in element_ends(context)
        if element.law == "magneto" and joined.of(a) != joined.of(b) and not parts.item.note
    ]
    found = [item for item in free if _is_cabled_soundly(context, item.id)]
    if found:
        named = " and ".join(repr(item.id) for item in found)
        message = f"Nothing can stop {named}: in no position of any control does the primary reach earth."
        hint = "Add the lead that is missing: from the magneto to its switch, or from the switch to earth."
        context.remarks.warn("never-stopped", found[0], message, hint, also=found[1:])


def _is_cabled_soundly(context: Context, item: str) -> bool:
    """Whether an item is to be judged by its cables: it has some, and none of them is in doubt already."""
    cables = _cables_at(context, item)
    names = {item, *(c.id for c in cables), *(split_end(end)[0] for c in cables for end in (c.from_, c.to))}
    quiet = any(context.excused(name) for name in names) or not context.doubtful.isdisjoint(names)
    return bool(cables) and not quiet and context.due(*names)


def _cables_at(context: Context, item: str) -> list[Cable]:
    """The cables on an item; none where one of them is not solved, for then its feed is not all here."""
    found = [
        c for c in context.dossier.cables.values() if item in (split_end(c.from_)[0], split_end(c.to)[0])
    ]
    return [] if any(c.type for c in found) else found


def _edges(context: Context) -> tuple[list[Edge], list[_Dead]]:
    """All edges, the elements last and in order."""
    edges: list[Edge] = [(a, b) for a, b, _ in copper_pairs(context)]
    for item, parts in context.installation.equipment.items():
        edges.extend(
            (
                AIRFRAME if c.ends[0] == AIRFRAME else f"{item}.{c.ends[0]}",
                AIRFRAME if c.ends[1] == AIRFRAME else f"{item}.{c.ends[1]}",
            )
            for c in parts.contacts.values()
            if c.closed is not None
        )
    loads = [_Dead(parts, element, (a, b)) for parts, element, a, b in element_ends(context)]
    edges.extend(load.ends for load in loads)
    return edges, loads


def _dead(context: Context) -> list[_Dead]:
    edges, loads = _edges(context)
    first = len(edges) - len(loads)
    of = blocks(edges)
    live = {of[first + n] for n, load in enumerate(loads) if load.element.law in _SOURCES}
    if not live:
        return []  # nothing supplies anything yet
    judged = [
        (load, of[first + n] in live)
        for n, load in enumerate(loads)
        if load.element.law in _JUDGED and load.ends[0] != load.ends[1]
    ]
    # a second coil that is left unused is nobody's mistake: an item is dead where all that works in it is
    used = {load.parts.item.id for load, reached in judged if reached}
    return [load for load, reached in judged if not reached and load.parts.item.id not in used]


def _excused(context: Context, service: Service, loads: list[_Dead]) -> bool:
    """Whether something that is reported already may be what leaves them without current."""
    cables = [c for c in context.dossier.cables.values() if c.service == service.id]
    names = {service.id, *(c.id for c in cables), *(load.parts.item.id for load in loads)}
    names.update(name for c in cables for end in (c.from_, c.to) for name in (end, split_end(end)[0]))
    if any(context.excused(name) for name in names) or not context.doubtful.isdisjoint(names):
        return True
    return any(f.subject.partition(" ")[2] in names for f in context.remarks.findings)


def _say(context: Context, loads: list[_Dead]) -> None:
    """Say it at the first; a missing cable leaves several dark at once."""
    first, *others = {load.parts.item.id: load for load in loads}.values()
    item = first.parts.item
    loose = [end for end in first.ends if end != AIRFRAME and end not in context.cabled]
    loose = [end for end in loose if split_end(end)[1] in first.parts.terminal_names]
    also = f", nor through {len(others)} more of its service" if others else ""
    message = f"No current can ever flow through {item.id!r}{also}: "
    if loose:
        message += f"nothing is connected to {' and '.join(map(repr, loose))}."
        hint = f'Add the cable from {loose[0]!r}, to "earth" or the return where it is the last.'
    else:
        message += "its cables make no closed way through a supply."
        hint = "Follow its two leads: one must come from the supply, the other go back to it by another way."
    context.remarks.warn("never-fed", item, message, hint, also=[o.parts.item for o in others])
