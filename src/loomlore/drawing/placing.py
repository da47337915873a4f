"""Where things stand: which way up, in which row, in which order along it.

Method (one connected part at a time)
-------------------------------------
1. Earths and tags hang on the pin they serve and take no part in what follows.
2. Distance from supply is counted over nets, not cables; each item that may turn stands with supply above,
   earth below.
3. Rows by a linear programme: every wire from a lower pin down to an upper pin is at least one row long,
   wires between like sides keep their items level, parallel items share a row. Its matrix is totally
   unimodular, so rows are whole.

``ordering`` then finds the order along each row.
"""

from collections import defaultdict, deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linprog

from loomlore.drawing.bodies import Body, Side, Symbol
from loomlore.drawing.diagram import Diagram, End, Node, Wire, conduction
from loomlore.drawing.symbols import turned, variants

__all__ = ["PITCH", "Fabric", "Hung", "fabric"]

PITCH = 5.0


@dataclass(frozen=True)
class Hung:
    """An earth or a tag and the wire that hangs it on a pin."""

    node: Node
    wire: Wire
    pin: End
    end: str  # which end of the wire is at the item: "a" or "b"


@dataclass(frozen=True)
class Fabric:
    """A connected part ready for ordering: its items' variants, its hung things, its wires between items."""

    diagram: Diagram
    nodes: tuple[str, ...]
    symbols: dict[str, tuple[Symbol, ...]]
    hung: dict[End, tuple[Hung, ...]]
    wires: tuple[Wire, ...]
    rows: dict[str, int]

    def side(self, end: End) -> Side:
        """Return the side a pin is on, as the item stands."""
        return self.symbols[end[0]][0].pin(end[1]).side

    def channel(self, end: End) -> int:
        """Return the channel a pin opens into: the number of the row beneath it."""
        row = self.rows[end[0]]
        return row if self.side(end) == "top" else row + 1


def fabric(diagram: Diagram) -> Fabric:
    """Hang what hangs, turn what turns, and find the rows.

    Parameters
    ----------
    diagram : Diagram
        One connected part, localised.

    Returns
    -------
    Fabric
        Ready for ``orders``.
    """
    hung = _hangings(diagram)
    apart = {one.node.id for many in hung.values() for one in many}
    away = {one.wire.id for many in hung.values() for one in many}
    nodes = tuple(node.id for node in diagram.nodes if node.id not in apart)
    wires = tuple(wire for wire in diagram.wires if wire.id not in away)
    symbols = _poles_turned(diagram, nodes, hung, wires, _standing(diagram, nodes, hung))
    rows = _rows(diagram, nodes, wires, symbols)
    return Fabric(diagram, nodes, symbols, hung, wires, rows)


def _hangings(diagram: Diagram) -> dict[End, tuple[Hung, ...]]:
    met: dict[str, int] = defaultdict(int)
    for wire in diagram.wires:
        met[wire.start[0]] += 1
        met[wire.end[0]] += 1
    found: dict[End, list[Hung]] = defaultdict(list)
    for wire in diagram.wires:
        for own, other, end in ((wire.start, wire.end, "b"), (wire.end, wire.start, "a")):
            node = diagram.node(own[0])
            if node.role != "item" and met[node.id] == 1 and diagram.node(other[0]).role == "item":
                found[other].append(Hung(node, wire, other, end))
    return {pin: tuple(many) for pin, many in found.items()}


# ---------------------------------------------------------------- supply, and which way up


def _nets(diagram: Diagram) -> dict[End, int]:
    net: dict[End, int] = {}
    joined: dict[End, list[End]] = defaultdict(list)
    for wire in diagram.wires:
        joined[wire.start].append(wire.end)
        joined[wire.end].append(wire.start)
    for node in diagram.nodes:
        for pin in (*node.body.tops, *node.body.bottoms):
            start = (node.id, pin)
            if start in net:
                continue
            number, ahead = len(net), [start]
            while ahead:
                here = ahead.pop()
                if here not in net:
                    net[here] = number
                    ahead += joined[here]
    return net


def _distances(diagram: Diagram, net: dict[End, int], starts: dict[int, int]) -> dict[int, int]:
    """Count steps through items from some nets, over nets."""
    next_to: dict[int, set[int]] = defaultdict(set)
    for node in diagram.nodes:
        for group in conduction(node.body):
            met = {net[node.id, pin] for pin in group}
            for here in met:
                next_to[here] |= met
    found = dict(starts)
    ahead = deque(sorted(starts, key=lambda start: (starts[start], start)))
    while ahead:
        here = ahead.popleft()
        for other in sorted(next_to[here]):
            if found.get(other, 99) > found[here] + 1:
                found[other] = found[here] + 1
                ahead.append(other)
    return found


def _supplied(diagram: Diagram, net: dict[End, int]) -> dict[int, int]:
    """Return the nets that supply starts from.

    A bar counts less where a machine or a battery is on the sheet.
    """
    strong = {net[node.id, pin]: 0 for node in diagram.nodes for pin in node.supplies if not node.weak}
    weak = {
        net[node.id, pin]: 4 if strong else 0 for node in diagram.nodes for pin in node.supplies if node.weak
    }
    return (weak | strong) or dict.fromkeys(list(net.values())[:1], 0)


def _standing(
    diagram: Diagram, nodes: Sequence[str], hung: dict[End, tuple[Hung, ...]]
) -> dict[str, tuple[Symbol, ...]]:
    net = _nets(diagram)
    earthed = {net[node.id, "e"] for node in diagram.nodes if node.role == "earth"}
    far = _distances(diagram, net, _supplied(diagram, net))
    to_earth = _distances(diagram, net, dict.fromkeys(earthed, 0))
    found = {}
    for name in nodes:
        node = diagram.node(name)
        kinds = variants(node.body)
        if node.turns and _better_turned(node, net, far, to_earth, earthed, hung):
            kinds = tuple(turned(symbol) for symbol in kinds)
        found[name] = kinds
    return found


def _better_turned(
    node: Node,
    net: dict[End, int],
    far: dict[int, int],
    to_earth: dict[int, int],
    earthed: set[int],
    hung: dict[End, tuple[Hung, ...]],
) -> bool:
    def height(pins: Sequence[str]) -> float:
        total = 0.0
        for pin in pins:
            here = net[node.id, pin]
            total += far.get(here, 6) - 0.5 * min(to_earth.get(here, 6), 6)
            total += 8.0 * (here in earthed)
            total -= 4.0 * sum(
                one.node.role == "tag" and not one.node.weak for one in hung.get((node.id, pin), ())
            )
        return total / max(1, len(pins))

    if not node.body.tops or not node.body.bottoms:
        wrong = node.body.tops or ()
        return bool(wrong) and all(net[node.id, pin] in earthed for pin in wrong)
    return height(node.body.tops) > height(node.body.bottoms) + 0.01


# ---------------------------------------------------------------- poles that come back


def _poles_turned(
    diagram: Diagram,
    nodes: Sequence[str],
    hung: dict[End, tuple[Hung, ...]],
    wires: Sequence[Wire],
    standing: dict[str, tuple[Symbol, ...]],
) -> dict[str, tuple[Symbol, ...]]:
    """Turn single poles over, where what comes back to them would climb over the sheet.

    Both poles of a two-pole switch then have their supply above and their load below.
    """
    for name in nodes:
        bodies = list(_pole_bodies(diagram.node(name)))
        tried = [standing]
        for body in bodies:
            kinds = variants(body)
            if _is_turned(diagram.node(name), standing[name][0]):
                kinds = tuple(turned(symbol) for symbol in kinds)
            tried.append(standing | {name: kinds})
        if bodies:
            standing = min(tried, key=lambda one: _climbing(diagram, nodes, hung, wires, one))
    return standing


def _is_turned(node: Node, symbol: Symbol) -> bool:
    return bool(node.body.tops) and symbol.pin(node.body.tops[0]).side == "bottom"


def _pole_bodies(node: Node) -> Iterator[Body]:
    """Go through the bodies with one pole turned: a top and a bottom pin that conduct to nothing else."""
    groups = conduction(node.body)
    if not node.turns or not node.body.parts or len(groups) < 2:
        return
    for group in groups:
        tops = [pin for pin in node.body.tops if pin in group]
        bottoms = [pin for pin in node.body.bottoms if pin in group]
        if len(tops) == len(bottoms) == 1:
            other = {tops[0]: bottoms[0], bottoms[0]: tops[0]}
            yield replace(
                node.body,
                tops=tuple(other.get(pin, pin) for pin in node.body.tops),
                bottoms=tuple(other.get(pin, pin) for pin in node.body.bottoms),
            )


def _climbing(
    diagram: Diagram,
    nodes: Sequence[str],
    hung: dict[End, tuple[Hung, ...]],
    wires: Sequence[Wire],
    symbols: dict[str, tuple[Symbol, ...]],
) -> int:
    """Count what runs against the flow: wires from a foot to a head above it, loops, things hung the wrong way."""
    down, level = _arcs(nodes, wires, symbols)
    _, back = _without_cycles(diagram, nodes, down)
    count = 2 * len(back) + len(level)
    for (name, pin), things in hung.items():
        top = symbols[name][0].pin(pin).side == "top"
        count += sum(3 for one in things if one.node.role == "earth" and top)
        count += sum(1 for one in things if one.node.supplies and not top)
    return count


# ---------------------------------------------------------------- rows


def _arcs(
    nodes: Sequence[str], wires: Sequence[Wire], symbols: dict[str, tuple[Symbol, ...]]
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Return the wires that lead down, upper item first, and those between like sides."""
    number = {name: n for n, name in enumerate(nodes)}
    down: list[tuple[int, int]] = []
    level: list[tuple[int, int]] = []
    for wire in wires:
        a, b = wire.start, wire.end
        pair = (number[a[0]], number[b[0]])
        if pair[0] == pair[1]:
            continue
        sides = [symbols[end[0]][0].pin(end[1]).side for end in (a, b)]
        if sides[0] == sides[1]:
            level.append(pair)
        else:
            down.append(pair if sides[0] == "bottom" else pair[::-1])
    return down, level


def _rows(
    diagram: Diagram, nodes: Sequence[str], wires: Sequence[Wire], symbols: dict[str, tuple[Symbol, ...]]
) -> dict[str, int]:
    number = {name: n for n, name in enumerate(nodes)}
    down, alike = _arcs(nodes, wires, symbols)
    level = [(*pair, 1.6) for pair in alike]
    kept, back = _without_cycles(diagram, nodes, down)
    level += [(a, b, 0.7) for a, b in back]
    level += [(number[a], number[b], 12.0) for a, b in _parallels(diagram, nodes)]
    return dict(zip(nodes, _solved_rows(len(nodes), kept, level), strict=True))


def _without_cycles(
    diagram: Diagram, nodes: Sequence[str], down: Sequence[tuple[int, int]]
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Drop the wires that close a cycle, walking from the supply."""
    net = _nets(diagram)
    far = _distances(diagram, net, _supplied(diagram, net))
    depth = []
    for name in nodes:
        body = diagram.node(name).body
        depth.append(min((far.get(net[name, pin], 99) for pin in (*body.tops, *body.bottoms)), default=99))
    after: dict[int, list[int]] = defaultdict(list)
    for a, b in down:
        after[a].append(b)
    state: dict[int, int] = {}
    back: set[tuple[int, int]] = set()

    def visit(here: int) -> None:
        state[here] = 1
        for other in sorted(set(after[here]), key=lambda n: (depth[n], n)):
            if state.get(other) == 1:
                back.add((here, other))
            elif other not in state:
                visit(other)
        state[here] = 2

    for start in sorted(range(len(nodes)), key=lambda n: (depth[n], n)):
        if start not in state:
            visit(start)
    return [pair for pair in down if pair not in back], [pair for pair in down if pair in back]


def _parallels(diagram: Diagram, nodes: Sequence[str]) -> list[tuple[str, str]]:
    net = _nets(diagram)
    alike: dict[object, list[str]] = defaultdict(list)
    for name in nodes:
        body = diagram.node(name).body
        tops = tuple(sorted(net[name, pin] for pin in body.tops))
        if body.tops and body.bottoms:
            alike[tops, tuple(part.glyph for part in body.parts)].append(name)
    return [(many[0], other) for many in alike.values() for other in many[1:]]


def _solved_rows(
    count: int, down: Sequence[tuple[int, int]], level: Sequence[tuple[int, int, float]]
) -> list[int]:
    """Minimise the rows that wires pass, subject to every wire down being at least one row long."""
    extra = len(level)
    cost = np.zeros(count + extra)
    upper: list[tuple[dict[int, float], float]] = []
    for a, b in down:
        cost[b] += 1.0
        cost[a] -= 1.0
        upper.append(({a: 1.0, b: -1.0}, -1.0))
    for n, (a, b, weight) in enumerate(level):
        cost[count + n] = weight
        upper.append(({a: 1.0, b: -1.0, count + n: -1.0}, 0.0))
        upper.append(({b: 1.0, a: -1.0, count + n: -1.0}, 0.0))
    cost[:count] += 1e-3
    if not upper:
        return [0] * count
    matrix = np.zeros((len(upper), count + extra))
    for n, (row, _) in enumerate(upper):
        for place, value in row.items():
            matrix[n, place] = value
    solved = linprog(cost, A_ub=matrix, b_ub=[limit for _, limit in upper], bounds=(0, None), method="highs")
    if solved.x is None:
        raise ArithmeticError(f"the rows of the plate have no solution: {solved.message}")
    rows = [round(value) for value in solved.x[:count]]
    return [row - min(rows) for row in rows]
