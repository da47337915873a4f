"""How far things stand apart along their rows: one linear programme for a part, then a grid.

Variables are the columns of every symbol, the bars of pins with several wires, and the gates. The programme
keeps every pair of neighbours clear of each other and makes wires straight, bars centred, parents centred
over their branches. All least distances are whole steps of the grid, so rounding to the grid (which is
monotone) keeps them.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_matrix

from loomlore.drawing.bodies import GRID, Pin, Symbol
from loomlore.drawing.diagram import End
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.naming import Berth, barred, berth, name_size
from loomlore.drawing.ordering import Order
from loomlore.drawing.placing import PITCH, Fabric, Hung
from loomlore.drawing.typefaces import text_width

__all__ = ["TAG_HEIGHT", "Spaced", "half_width", "spaced", "up"]

TAG_HEIGHT = 7.6


@dataclass(frozen=True)
class Term:
    """A linear expression: variables with their factors, and a constant."""

    factors: tuple[tuple[int, float], ...]
    constant: float = 0.0

    def plus(self, value: float) -> "Term":
        """Return the term moved by a constant."""
        return Term(self.factors, self.constant + value)

    def at(self, values: np.ndarray) -> float:
        """Return its value."""
        return self.constant + sum(factor * float(values[n]) for n, factor in self.factors)


@dataclass
class Programme:
    """Weighted absolute differences to be minimised under least distances, row by row."""

    count: int = 0
    rows: list[tuple[list[tuple[int, float]], float]] = field(default_factory=list)
    absolute: list[tuple[Term, Term, float]] = field(default_factory=list)
    wires: list[int] = field(default_factory=list)

    def variable(self) -> Term:
        """Add a variable."""
        self.count += 1
        return Term(((self.count - 1, 1.0),))

    def apart(self, left: Term, right: Term, least: float) -> None:
        """Demand ``right - left >= least``."""
        factors = [*left.factors, *((n, -f) for n, f in right.factors)]
        self.rows.append((factors, right.constant - left.constant - least))

    def near(self, one: Term, other: Term, weight: float) -> None:
        """Charge the distance between two terms."""
        self.absolute.append((one, other, weight))

    def wire(self, one: Term, other: Term, weight: float) -> None:
        """Charge a wire's shift; ``straightened`` may forgive it."""
        self.wires.append(len(self.absolute))
        self.near(one, other, weight)

    def straightened(self, values: np.ndarray) -> None:
        """Charge bent wires less and nearly straight ones more: fewer bends, not less shift."""
        for n in self.wires:
            one, other, weight = self.absolute[n]
            shift = abs(one.at(values) - other.at(values))
            self.absolute[n] = (one, other, 0.4 * weight + weight * 6.0 / (2.0 + shift))

    def solved(self) -> np.ndarray:
        """Return the values of the variables."""
        rows = list(self.rows)
        total = self.count + len(self.absolute)
        for n, (one, other, _) in enumerate(self.absolute):
            gap = self.count + n
            for a, b in ((one, other), (other, one)):
                factors = [*a.factors, *((v, -f) for v, f in b.factors), (gap, -1.0)]
                rows.append((factors, b.constant - a.constant))
        cost = np.zeros(total)
        cost[self.count :] = [weight for _, _, weight in self.absolute]
        row = np.array([n for n, (factors, _) in enumerate(rows) for _ in factors])
        place = np.array([place for factors, _ in rows for place, _ in factors])
        value = np.array([value for factors, _ in rows for _, value in factors])
        matrix = coo_matrix((value, (row, place)), shape=(len(rows), total)).tocsr()
        limits = np.array([limit for _, limit in rows])
        free = [(None, None)] * self.count + [(0.0, None)] * len(self.absolute)
        # The library's stubs know dense matrices only.
        answer = linprog(cost, A_ub=matrix, b_ub=limits, bounds=free, method="highs")  # type: ignore[call-overload]
        if answer.x is None:
            raise ArithmeticError(f"the spacing of the plate has no solution: {answer.message}")
        return np.asarray(answer.x[: self.count])


@dataclass(frozen=True)
class Spaced:
    """Where everything stands across the part [mm]: symbols' columns, slots, gates; names beside symbols.

    ``names`` has the left border of each name, and the height of its middle from the symbol's top.
    """

    columns: dict[str, tuple[float, ...]]
    slots: dict[str, float]
    gates: dict[str, float]
    names: dict[str, tuple[float, float]]
    pins: dict[str, dict[str, float]]


@dataclass
class _Stand:
    """The terms of one entry of a row: the outer slots above and below, and its body."""

    body: tuple[Term, Term]
    top: tuple[Term, Term] | None = None
    bottom: tuple[Term, Term] | None = None


# A terminal's bar grows, so that the wires on it run straight down: by so much on either side of its pin [mm].
BAR_STRETCH = 12.0
BAR_PRICE = 0.8
MAIN_PRICE = 0.7  # for what goes straight on from a terminal and stands beside its middle


@dataclass
class _Rack:
    """A part while it is being spaced."""

    cloth: Fabric
    order: Order
    programme: Programme = field(default_factory=Programme)
    columns: dict[str, list[Term]] = field(default_factory=dict)
    slots: dict[str, Term] = field(default_factory=dict)
    gates: dict[str, Term] = field(default_factory=dict)
    berths: dict[str, Berth] = field(default_factory=dict)
    left: frozenset[str] = frozenset()
    pins: dict[str, dict[str, Term]] = field(default_factory=lambda: defaultdict(dict))
    hung: dict[str, Hung] = field(default_factory=dict)
    gaps: list[tuple[str, str, float, Term]] = field(default_factory=list)
    onward: dict[str, Term] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for many in self.cloth.hung.values():
            self.hung |= {f"{one.wire.id}:{one.end}:hung": one for one in many}


def spaced(
    cloth: Fabric, order: Order, *, airy: float = 0.0, rounds: int = 2, left: frozenset[str] = frozenset()
) -> Spaced:
    """Space a part along its rows.

    Parameters
    ----------
    cloth : Fabric
        The part.
    order : Order
        Its order.
    airy : float
        Extra distance between neighbours [mm], where the page has room.
    rounds : int
        How often the wires are weighed anew, so that fewer of them bend.
    left : frozenset of str
        The items whose names stand left of their symbols.

    Returns
    -------
    Spaced
        Places on the grid, the leftmost thing at about 0.
    """
    rack = _Rack(cloth, order, left=left)
    for row in order.rows:
        stands = [_gate(rack, name) if kind == "gate" else _item(rack, name) for kind, name in row]
        for one, other in pairwise(stands):
            _keep_apart(rack.programme, one, other, airy)
        if len(stands) > 1:
            rack.programme.near(stands[0].body[0], stands[-1].body[1], 0.02)
    _straighten(rack)
    _centre(rack)
    # Half-way values all go up: equal values must stay equal, or a straight wire would get a jog.
    values = rack.programme.solved()
    for _ in range(rounds):
        rack.programme.straightened(values)
        values = rack.programme.solved()
    if _shrunk(rack, values):
        values = rack.programme.solved()
    values = np.floor(values / GRID + 0.5 + 1e-6) * GRID
    columns = {name: tuple(term.at(values) for term in terms) for name, terms in rack.columns.items()}
    slots = {name: term.at(values) for name, term in rack.slots.items()}
    pins = {name: {pin: term.at(values) for pin, term in many.items()} for name, many in rack.pins.items()}
    return Spaced(
        columns,
        slots,
        {name: term.at(values) for name, term in rack.gates.items()},
        {
            name: (_name_place(rack, name, columns[name], slots), one.middle)
            for name, one in rack.berths.items()
        },
        pins,
    )


def _shrunk(rack: _Rack, values: np.ndarray) -> bool:
    """Hold together the bars that grew in vain: no wire on them runs straight for it."""

    def straight(slot: str) -> bool:
        onward = rack.onward.get(slot)
        return onward is not None and abs(rack.slots[slot].at(values) - onward.at(values)) < GRID / 2

    found = False
    for one, two, step, pin in rack.gaps:
        left, right = rack.slots[one].at(values), rack.slots[two].at(values)
        far = (right - pin.at(values)) - (pin.at(values) - left)
        outer = [two] if far > GRID else [one] if far < -GRID else [one, two]
        if right - left > step + GRID / 2 and not any(straight(slot) for slot in outer):
            rack.programme.apart(rack.slots[two], rack.slots[one], -step)
            found = True
    return found


def _name_place(rack: _Rack, name: str, columns: tuple[float, ...], slots: dict[str, float]) -> float:
    """Set the name as near as it may stand; the programme has kept the room."""
    node, place = rack.cloth.diagram.node(name), rack.berths[name]
    mine = [slots[slot] for side in place.past for slot in _slots_of(rack, name, side)]
    if name in rack.left:
        width = name_size(node.name, node.small)[0]
        return min([columns[0] - place.off - 1.2, *(x - 2.8 for x in mine)]) - width
    return max([columns[-1] + place.off + 1.2, *(x + 2.8 for x in mine)])


def _slots_of(rack: _Rack, name: str, side: str) -> list[str]:
    symbol = rack.cloth.symbols[name][rack.order.variant[name]]
    pins = (pin.name for pin in symbol.pins if pin.side == side)
    return [slot for pin in pins for slot in rack.order.slots.get((name, pin), [])]


def up(value: float) -> float:
    """Round a distance up to the grid.

    Parameters
    ----------
    value : float
        [mm].

    Returns
    -------
    float
        [mm].
    """
    return ceil(value / GRID - 1e-9) * GRID


def _gate(rack: _Rack, name: str) -> _Stand:
    x = rack.gates[name] = rack.programme.variable()
    edge = (x.plus(-GRID), x.plus(GRID))
    return _Stand(edge, edge, edge)


def _item(rack: _Rack, name: str) -> _Stand:
    symbol = rack.cloth.symbols[name][rack.order.variant[name]]
    columns = rack.columns[name] = [rack.programme.variable() for _ in range(symbol.columns)]
    for n, gap in enumerate(symbol.gaps):
        rack.programme.apart(columns[n], columns[n + 1], gap)
        most = max(gap + symbol.stretches[n], _crowd(rack, name, symbol, n))
        rack.programme.apart(columns[n + 1], columns[n], -most)
        rack.programme.near(columns[n], columns[n + 1], 0.5)
    edges = {side: _edge(rack, name, symbol, columns, side) for side in ("top", "bottom")}
    left, right = _named(rack, name, symbol, columns, edges)
    return _Stand((left, right), edges["top"], edges["bottom"])


def _crowd(rack: _Rack, name: str, symbol: Symbol, n: int) -> float:
    """Return the room that the wires on two neighbouring columns may need at most [mm]."""
    widths = {"top": 0.0, "bottom": 0.0}
    for pin in symbol.pins:
        if n in pin.columns or n + 1 in pin.columns:
            slots = rack.order.slots.get((name, pin.name), [])
            widths[pin.side] += sum(2 * up(half_width(rack.hung.get(slot))) for slot in slots)
    return max(widths.values())


def _named(
    rack: _Rack, name: str, symbol: Symbol, columns: list[Term], edges: dict[str, tuple[Term, Term] | None]
) -> tuple[Term, Term]:
    """Stand the name beside the symbol, and return the outer borders of the two."""
    node = rack.cloth.diagram.node(name)
    width, height = name_size(node.name, node.small)
    left, right = columns[0].plus(-up(symbol.left + 1.0)), columns[-1].plus(up(symbol.right + 0.5))
    if not width:
        return left, right.plus(GRID)
    bars = barred(rack.order, name, symbol)
    place = rack.berths[name] = berth(symbol, height, bars=bars, left=name in rack.left)
    start, border = rack.programme.variable(), rack.programme.variable()
    past = [edge for side in place.past if (edge := edges[side]) is not None]
    if name in rack.left:
        near = columns[0].plus(-up(place.off + 0.5))
        rack.programme.apart(border, left, 0.0)
        rack.programme.apart(border, start, up(width + 1.0))
        _beside(rack.programme, start, near, place.off)
        for far, _ in past:
            rack.programme.apart(start, far, -GRID / 2)
        return border, right
    near = columns[-1].plus(up(place.off + 0.5))
    rack.programme.apart(right, border, 0.0)
    rack.programme.apart(start, border, up(width + 1.0))
    _beside(rack.programme, near, start, place.off)
    for _, far in past:
        rack.programme.apart(far, start, -GRID / 2)
    return left, border


def _beside(programme: Programme, one: Term, other: Term, off: float) -> None:
    """Stand a name and its symbol close to one another."""
    programme.apart(one, other, GRID / 2 if off > 3 else 1.0)
    programme.near(one, other, 0.5)


def _edge(rack: _Rack, name: str, symbol: Symbol, columns: list[Term], side: str) -> tuple[Term, Term] | None:
    """Lay the slots of one side from left to right, each clear of the next; return the outer borders."""
    before: tuple[Term, float] | None = None
    first: Term | None = None
    for pin in sorted((pin for pin in symbol.pins if pin.side == side), key=lambda pin: pin.columns):
        for slot, term in _bar(rack, name, pin, columns):
            half = half_width(rack.hung.get(slot))
            if before is not None:
                rack.programme.apart(before[0], term, up(before[1] + half))
            first = first or term.plus(-up(half))
            before = (term, half)
    if first is None or before is None:
        return None
    return first, before[0].plus(up(before[1]))


def _bar(rack: _Rack, name: str, pin: Pin, columns: list[Term]) -> list[tuple[str, Term]]:
    middle = rack.pins[name][pin.name] = _pin_term(rack.programme, pin, columns)
    slots = rack.order.slots.get((name, pin.name), [])
    if len(slots) < 2:
        found = [(slot, middle) for slot in slots]
    else:
        terms = [rack.programme.variable() for _ in slots]
        rack.programme.apart(terms[0], middle, 0.0)
        rack.programme.apart(middle, terms[-1], 0.0)
        steps = [
            up(half_width(rack.hung.get(one)) + half_width(rack.hung.get(two)))
            for one, two in pairwise(slots)
        ]
        rack.programme.apart(middle, terms[0], -max(sum(steps) / 2 + BAR_STRETCH, sum(steps)))
        rack.programme.apart(terms[-1], middle, -max(sum(steps) / 2 + BAR_STRETCH, sum(steps)))
        for (slot, term), (other, after) in pairwise(zip(slots, terms, strict=True)):
            step = up(half_width(rack.hung.get(slot)) + half_width(rack.hung.get(other)))
            rack.programme.apart(after, term, -(step + 2 * BAR_STRETCH))
            rack.programme.near(term, after, BAR_PRICE)
            rack.gaps.append((slot, other, step, middle))
        found = list(zip(slots, terms, strict=True))
        main = _main_slot(rack, (name, pin.name), slots)
        if main is not None:
            rack.programme.near(terms[slots.index(main)], middle, MAIN_PRICE)
        else:
            total = Term((*terms[0].factors, *terms[-1].factors))
            rack.programme.near(total, Term(tuple((n, 2 * f) for n, f in middle.factors)), 0.15)
    rack.slots |= dict(found)
    return found


def _main_slot(rack: _Rack, end: End, slots: list[str]) -> str | None:
    """Return the one wire of several that goes straight on from a terminal, where the others turn aside."""
    away = 1 if rack.cloth.side(end) == "bottom" else -1
    onward = []
    for slot in slots:
        if slot in rack.hung:
            onward.append(slot)
            continue
        name, letter = slot.rsplit(":", 1)
        wire = rack.cloth.diagram.wire(name)
        other = wire.end if letter == "a" else wire.start
        below = (rack.cloth.rows[other[0]] - rack.cloth.rows[end[0]]) * away
        if rack.cloth.side(other) != rack.cloth.side(end) and below > 0:
            onward.append(slot)
    return onward[0] if len(onward) == 1 else None


def _pin_term(programme: Programme, pin: Pin, columns: list[Term]) -> Term:
    """A pin over one column stands there; one over several moves between them."""
    one, other = columns[pin.columns[0]], columns[pin.columns[-1]]
    if len(pin.columns) == 1:
        return one
    term = programme.variable()
    programme.apart(one, term, 0.0)
    programme.apart(term, other, 0.0)
    if pin.prefers is not None:
        programme.near(term, columns[pin.prefers], 4.0)
    else:
        programme.near(
            Term(tuple((n, 2 * f) for n, f in term.factors)), Term((*one.factors, *other.factors)), 0.2
        )
    return term


def half_width(hung: Hung | None) -> float:
    """Return how much room a slot needs on either side: a wire and its mark, an earth, or a tag [mm].

    Parameters
    ----------
    hung : Hung or None
        What hangs on the slot.

    Returns
    -------
    float
        [mm].
    """
    if hung is None:
        return PITCH / 2
    look = LETTERINGS["t-tag"] if hung.node.role == "tag" else LETTERINGS["t-terminal"]
    words = max((text_width(line, face=look.face, size=look.size) for line in hung.node.name), default=0.0)
    return max(3.0, words / 2 + (1.6 if hung.node.role == "tag" else 0.6))


def _keep_apart(programme: Programme, left: _Stand, right: _Stand, airy: float) -> None:
    pairs = [(left.body, right.body, airy)]
    for mine, other in ((left.top, right.top), (left.bottom, right.bottom)):
        if mine is not None and other is not None:
            pairs.append((mine, other, 0.0))
        if mine is not None:
            pairs.append((mine, right.body, 0.0))
        if other is not None:
            pairs.append((left.body, other, 0.0))
    for one, two, extra in pairs:
        programme.apart(one[1], two[0], up(extra))


def _straighten(rack: _Rack) -> None:
    single = {slots[0] for slots in rack.order.slots.values() if len(slots) == 1}
    for wire in rack.cloth.wires:
        a, b = (f"{wire.id}:a", f"{wire.id}:b")
        ca, cb = rack.cloth.channel(wire.start), rack.cloth.channel(wire.end)
        stops = [rack.gates[f"{wire.id}@{row}"] for row in range(min(ca, cb), max(ca, cb))]
        if ca > cb:
            a, b = b, a
        line = [rack.slots[a], *stops, rack.slots[b]]
        rack.onward |= {a: line[1], b: line[-2]}
        for n, (one, two) in enumerate(pairwise(line)):
            inner = 0 < n < len(line) - 2
            weight = 8.0 if inner else 2.0
            if not stops:
                weight = 4.0 if a in single and b in single else 2.5
                if rack.cloth.side(wire.start) == rack.cloth.side(wire.end):
                    weight = 0.8
            rack.programme.wire(one, two, weight)


def _centre(rack: _Rack) -> None:
    """Centre a pin that feeds several things below over the outermost of them."""
    below: dict[tuple[str, str], list[str]] = {}
    for wire in rack.cloth.wires:
        for own, other, end in ((wire.start, wire.end, "b"), (wire.end, wire.start, "a")):
            if rack.cloth.side(own) == "bottom" and rack.cloth.rows[other[0]] > rack.cloth.rows[own[0]]:
                below.setdefault(own, []).append(f"{wire.id}:{end}")
    for pin, far in below.items():
        if len(far) < 2:
            continue
        spots = sorted(far, key=lambda slot: _row_seat(rack, slot))
        ends = Term((*rack.slots[spots[0]].factors, *rack.slots[spots[-1]].factors),
                    rack.slots[spots[0]].constant + rack.slots[spots[-1]].constant)  # fmt: skip
        slots = rack.order.slots[pin]
        middle = Term((*rack.slots[slots[0]].factors, *rack.slots[slots[-1]].factors))
        rack.programme.near(middle, ends, 2.8)


def _row_seat(rack: _Rack, slot: str) -> int:
    name, letter = slot.rsplit(":", 1)
    wire = rack.cloth.diagram.wire(name)
    node = (wire.start if letter == "a" else wire.end)[0]
    return rack.order.rows[rack.cloth.rows[node]].index(("node", node))
