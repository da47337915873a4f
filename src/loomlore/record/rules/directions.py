"""Cables that are written against the current: ``amps in`` counts from ``from`` to ``to``.

Judged only where there is no doubt. Nodes that copper joins to a supply's negative pole (positive, where
that is earthed) are the return: on it a cable leads home. Off it a cable leads away from the supplies. In
both, only a cable that is the only link to what lies beyond it is judged: the bridges of the network, found
in one walk that remembers how far back each node can reach.
"""

from __future__ import annotations

from collections.abc import Iterable

from loomlore.record.model import AIRFRAME, Cable
from loomlore.record.rules.connections import cables_between
from loomlore.record.rules.context import Context
from loomlore.record.rules.shorts import SUPPLIES, Groups, copper_pairs, element_ends, node_of

__all__ = ["check_directions"]

_ROOT = ""


def check_directions(context: Context) -> None:
    """Note cables that are written against the current.

    Parameters
    ----------
    context
        The standard of fit.
    """
    fresh = [c for c in cables_between(context) if ("direction", c.id) not in context.settled]
    context.settled.update(("direction", c.id) for c in fresh)
    if not fresh or context.doubtful:
        return  # with a wrong end about, what seems the only link may be none
    returns, live, back = _poles(context)
    home = returns.of(AIRFRAME)
    out = _walk(_links(context, returns), live)
    ways = {a for _, e, _, a in element_ends(context) if e.law == "fuse" and e.each}
    bars = {
        *back,
        *(n for _, e, *ends in element_ends(context) if e.law == "conductor" and e.each for n in ends),
    }
    homeward = _walk(_copper(context, returns), [AIRFRAME, *back])
    for cable in fresh:
        first, second = node_of(cable.from_), node_of(cable.to)
        if first == AIRFRAME != second or (first in bars and homeward.get(cable.id) == second):
            _say(context, cable, "begins on the return")
        elif second in ways and first not in ways:
            _say(context, cable, f"ends at the way {cable.to!r} that feeds it")
        elif second in live and first not in live:
            _say(context, cable, f"ends at the supply {cable.to!r}")
        elif home not in (returns.of(first), returns.of(second)) and out.get(cable.id) == first:
            _say(context, cable, f"leads back to the supply: only it feeds {cable.from_!r}")


def _say(context: Context, cable: Cable, said: str) -> None:
    message = f"Cable {cable.id!r} {said}."
    hint = f'Write from = "{cable.to}", to = "{cable.from_}": amps count from the feed onwards.'
    context.remarks.note("runs-backwards", cable, message, hint, key="to")


def _poles(context: Context) -> tuple[Groups, list[str], list[str]]:
    """Copper with the return as one node, and the live and the returning poles of all supplies."""
    copper = Groups()
    for a, b, _ in copper_pairs(context):
        copper.join(a, b)
    live: list[str] = []
    back: list[str] = []
    positive_earth = context.dossier.header.earthed == "positive"
    for parts, element, first, second in element_ends(context):
        if element.law == "conductor" and element.each:
            copper.join(first, second)  # a bus-bar
        if element.law in SUPPLIES:
            pole, home = (second, first) if positive_earth else (first, second)
            live.append(pole)
            if home.partition(".")[2] not in parts.inner:
                back.append(home)
                copper.join(home, AIRFRAME)
    return copper, live, back


def _copper(context: Context, returns: Groups) -> dict[str, list[tuple[str, str]]]:
    """Neighbours of each node on the return, by copper and bus-bars alone."""
    home = returns.of(AIRFRAME)
    pairs = [(node_of(c.from_), node_of(c.to), c.id) for c in cables_between(context)]
    pairs += [(joint.end_a, joint.end_b, "") for joint in context.installation.joints]
    pairs += [(a, b, "") for _, e, a, b in element_ends(context) if e.law == "conductor" and e.each]
    return _beside((a, b, name) for a, b, name in pairs if returns.of(a) == home)


def _beside(pairs: Iterable[tuple[str, str, str]]) -> dict[str, list[tuple[str, str]]]:
    beside: dict[str, list[tuple[str, str]]] = {}
    for number, (a, b, cable) in enumerate(pairs):
        name = cable or f" {number}"  # no mark has a blank in it
        beside.setdefault(a, []).append((b, name))
        beside.setdefault(b, []).append((a, name))
    return beside


def _links(context: Context, returns: Groups) -> dict[str, list[tuple[str, str]]]:
    """Neighbours of each node off the return, with the cable between, or "" inside an item."""
    home = returns.of(AIRFRAME)
    pairs = [(node_of(c.from_), node_of(c.to), c.id) for c in cables_between(context)]
    pairs += [(joint.end_a, joint.end_b, "") for joint in context.installation.joints]
    pairs += [(a, b, "") for _, e, a, b in element_ends(context) if e.law not in SUPPLIES]
    for item, parts in context.installation.equipment.items():
        pairs += [(f"{item}.{c.ends[0]}", f"{item}.{c.ends[1]}", "") for c in parts.contacts.values()]
    return _beside(pair for pair in pairs if home not in (returns.of(pair[0]), returns.of(pair[1])))


def _walk(beside: dict[str, list[tuple[str, str]]], supplies: list[str]) -> dict[str, str]:
    """The end that lies away from every supply, for each cable that is the only way there."""
    beside = {**beside, _ROOT: [(pole, f" supply {n}") for n, pole in enumerate(supplies)]}
    for n, pole in enumerate(supplies):
        beside[pole] = [*beside.get(pole, []), (_ROOT, f" supply {n}")]
    reached = {_ROOT: 0}
    low = {_ROOT: 0}
    away: dict[str, str] = {}
    path = [(_ROOT, "", iter(beside[_ROOT]))]
    while path:
        node, came_by, neighbours = path[-1]
        for other, link in neighbours:
            if link == came_by:
                continue
            if other in reached:
                low[node] = min(low[node], reached[other])
            else:
                reached[other] = low[other] = len(reached)
                path.append((other, link, iter(beside[other])))
                break
        else:
            path.pop()
            if path:
                above = path[-1][0]
                low[above] = min(low[above], low[node])
                if low[node] > reached[above]:
                    away[came_by] = node
    return away
