"""In which order things stand along their rows: fewest crossings, then shortest wires.

Method
------
* A wire passes each row between its ends through a *gate*. Between rows lie channels; in a channel a wire is
  a chord of a circle (upper edge left to right, lower edge right to left), and two wires cross if their ends
  interleave on it: one rule for straight, backward and U-shaped wires.
* Restarts of barycentre sweeps, then sifting and choice among a symbol's variants; crossings first, then
  length. What follows from a row's order is remembered until the row is touched.

Same input, same result: the seed is fixed and every iteration sorted.
"""

import random
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from loomlore.drawing.bodies import Side
from loomlore.drawing.diagram import End, Wire
from loomlore.drawing.placing import PITCH, Fabric

__all__ = ["Order", "orders"]

# On an edge of a row: ("slot", "WIRE:a"), ("gate-top", "WIRE@ROW"); in a row: ("node", id), ("gate", ...).
Key = tuple[str, str]
_EFFORT = 400_000  # wires looked at in counting crossings, after which no further restart is made


@dataclass(frozen=True)
class _View:
    """What follows from a row's order.

    Where every slot and gate is about [mm], and their ranks along the upper and lower edge.
    """

    place: dict[Key, float]
    upper: dict[Key, int]
    lower: dict[Key, int]


@dataclass(frozen=True)
class _Seats:
    """An item by itself: width with room for its name [mm], its slots' places, their ranks by edge."""

    width: float
    place: tuple[tuple[Key, float], ...]
    upper: tuple[Key, ...]
    lower: tuple[Key, ...]


@dataclass
class Order:
    """One arrangement: items and gates along each row, the variant of each symbol, the wires on each pin.

    ``views`` remembers what follows for each row; whatever changes a row must call ``touch``.
    """

    rows: list[list[Key]]
    variant: dict[str, int]
    slots: dict[End, list[str]]
    crossings: int = 0
    length: float = 0.0
    strays: float = 0.0
    views: dict[int, _View] = field(default_factory=dict)
    items: dict[str, _Seats] = field(default_factory=dict)

    def touch(self, row: int, item: str = "") -> None:
        """Forget what was known of a row, and of an item in it."""
        self.views.pop(row, None)
        self.items.pop(item, None)

    def copied(self) -> "Order":
        """Return an independent copy."""
        return Order(
            [list(row) for row in self.rows], dict(self.variant), {k: list(v) for k, v in self.slots.items()},
            self.crossings, self.length, self.strays, dict(self.views), dict(self.items),
        )  # fmt: skip


@dataclass
class _Search:
    """What ordering one part needs: wires by channel, gates by row, and counts kept by channel."""

    cloth: Fabric
    chance: random.Random
    ends: dict[str, tuple[End, End]] = field(default_factory=dict)
    segments: dict[int, list[tuple[Key, Key]]] = field(default_factory=lambda: defaultdict(list))
    gates: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    on_pin: dict[End, list[str]] = field(default_factory=lambda: defaultdict(list))
    partner: dict[Key, Key] = field(default_factory=dict)
    edge: dict[Key, tuple[int, Side]] = field(default_factory=dict)
    effort: int = 0

    def __post_init__(self) -> None:
        for wire in self.cloth.wires:
            self._thread(wire)
            for end, letter in ((wire.start, "a"), (wire.end, "b")):
                self.edge["slot", f"{wire.id}:{letter}"] = (self.cloth.rows[end[0]], self.cloth.side(end))
        for many in self.segments.values():
            for a, b in many:
                self.partner[a] = b
                self.partner[b] = a
        for pin, things in sorted(self.cloth.hung.items()):
            for one in things:
                self.on_pin[pin].append(f"{one.wire.id}:{one.end}:hung")

    def _thread(self, wire: Wire) -> None:
        a, b = wire.start, wire.end
        ca, cb = self.cloth.channel(a), self.cloth.channel(b)
        self.ends[wire.id] = (a, b)
        self.on_pin[a].append(f"{wire.id}:a")
        self.on_pin[b].append(f"{wire.id}:b")
        first, last = (("slot", f"{wire.id}:a"), ("slot", f"{wire.id}:b"))
        if ca > cb:
            first, last, ca, cb = last, first, cb, ca
        here: Key = first
        for row in range(ca, cb):
            self.gates[row].append(wire.id)
            self.segments[row].append((here, ("gate-top", f"{wire.id}@{row}")))
            here = ("gate-bottom", f"{wire.id}@{row}")
            self.edge["gate-top", here[1]] = (row, "top")
            self.edge[here] = (row, "bottom")
        self.segments[cb].append((here, last))


def orders(cloth: Fabric, *, seed: int = 7, restarts: int = 14, keep: int = 5) -> list[Order]:
    """Find the best few orders of a part.

    Parameters
    ----------
    cloth : Fabric
        The part.
    seed : int
        Of the restarts.
    restarts : int
        How many.
    keep : int
        How many different orders to return.

    Returns
    -------
    list of Order
        Fewest crossings first, then shortest.
    """
    search = _Search(cloth, random.Random(seed))
    restarts = min(restarts, 2 + len(cloth.wires))
    found: dict[tuple[object, ...], Order] = {}
    for attempt in range(3 * restarts):
        order = _start(search, attempt)
        # A walk along the wires is often nearly planar already: every other time it is not swept.
        best = _sifted(search, _swept(search, order) if attempt % 2 == 0 else order)
        found.setdefault(_row_key(best), best)
        least = min(order.crossings for order in found.values())
        if attempt >= restarts - 1 and (least == 0 or search.effort > _EFFORT):
            break
    for order in sorted(found.values(), key=lambda order: (order.crossings, order.length))[:2]:
        other = _sifted(search, _mirrored(search, order))
        found.setdefault(_row_key(other), other)
    for order in sorted(found.values(), key=lambda order: (order.crossings, order.length))[:3]:
        other = _rethreaded(search, order)
        found.setdefault(_row_key(other), other)
    for order in found.values():
        order.strays = _strays(cloth, order)
    ranked = sorted(found.values(), key=lambda order: (order.crossings, order.length + 25.0 * order.strays))
    return ranked[:keep]


def _row_key(order: Order) -> tuple[object, ...]:
    return tuple(tuple(row) for row in order.rows)


def _mirrored(search: _Search, order: Order) -> Order:
    other = order.copied()
    other.views.clear()
    other.items.clear()
    other.rows = [row[::-1] for row in order.rows]
    other.slots = {pin: slots[::-1] for pin, slots in order.slots.items()}
    _choose_variants(search, other)
    _measured(search, other)
    return other


def _strays(cloth: Fabric, order: Order) -> float:
    """Measure how far the rows stand against the record's own order: port before starboard, 1 before 2.

    A row in that order counts 0, one the other way about 1 (half of one less Spearman's coefficient of
    ranks), so that two neighbours may change places cheaply, port and starboard may not.
    """
    seat = {name: n for n, name in enumerate(cloth.nodes)}
    total = 0.0
    for row in order.rows:
        names = [name for kind, name in row if kind == "node"]
        ranks = {name: n for n, name in enumerate(sorted(names, key=lambda name: seat[name]))}
        count = len(names)
        if count > 1:
            off = sum((n - ranks[name]) ** 2 for n, name in enumerate(names))
            total += 3.0 * off / (count * (count * count - 1))
    return total


def _start(search: _Search, attempt: int) -> Order:
    cloth = search.cloth
    last = max([*cloth.rows.values(), *search.gates], default=0)
    rows: list[list[Key]] = [[] for _ in range(last + 1)]
    for name in _walk(search, attempt):
        rows[cloth.rows[name]].append(("node", name))
    for row in sorted(search.gates):
        rows[row] += [("gate", f"{wire}@{row}") for wire in search.gates[row]]
    order = Order(
        rows, dict.fromkeys(cloth.nodes, 0), {pin: list(many) for pin, many in search.on_pin.items()}
    )
    _measured(search, order)
    return order


def _walk(search: _Search, attempt: int) -> list[str]:
    """Order the items by a walk along the wires, so that neighbours start together."""
    cloth = search.cloth
    next_to: dict[str, list[str]] = defaultdict(list)
    for a, b in search.ends.values():
        next_to[a[0]].append(b[0])
        next_to[b[0]].append(a[0])
    names = sorted(cloth.nodes, key=lambda name: (cloth.rows[name], cloth.nodes.index(name)))
    if attempt:
        search.chance.shuffle(names)
    seen: dict[str, None] = {}
    for start in names:
        ahead = [start]
        while ahead:
            here = ahead.pop()
            if here in seen:
                continue
            seen[here] = None
            others = sorted(set(next_to[here]), key=cloth.nodes.index)
            if attempt:
                search.chance.shuffle(others)
            ahead += reversed(others)
    return list(seen)


def _view(search: _Search, order: Order, row: int) -> _View:
    """Set the items of a row side by side about a common middle, and rank their slots."""
    known = order.views.get(row)
    if known is not None:
        return known
    x = 0.0
    place: dict[Key, float] = {}
    upper: list[Key] = []
    lower: list[Key] = []
    for kind, name in order.rows[row]:
        if kind == "gate":
            place["gate-top", name] = place["gate-bottom", name] = x + PITCH / 2
            upper.append(("gate-top", name))
            lower.append(("gate-bottom", name))
            x += PITCH
        else:
            seats = order.items.get(name)
            if seats is None:
                seats = order.items[name] = _seats(search, order, name)
            for key, value in seats.place:
                place[key] = x + value
            upper += seats.upper
            lower += seats.lower
            x += seats.width
    place = {key: value - x / 2 for key, value in place.items()}
    ranks = [{key: n for n, key in enumerate(edge)} for edge in (upper, lower)]
    view = order.views[row] = _View(place, *ranks)
    return view


def _seats(search: _Search, order: Order, name: str) -> _Seats:
    symbol = search.cloth.symbols[name][order.variant[name]]
    places = symbol.places()
    place: list[tuple[Key, float]] = []
    edges: dict[Side, list[Key]] = {"top": [], "bottom": []}
    for pin in sorted(symbol.pins, key=lambda pin: pin.columns):
        middle = symbol.left + (places[pin.columns[0]] + places[pin.columns[-1]]) / 2
        slots = order.slots.get((name, pin.name), [])
        place += [
            (("slot", slot), middle + (n - (len(slots) - 1) / 2) * PITCH) for n, slot in enumerate(slots)
        ]
        edges[pin.side] += [("slot", slot) for slot in slots]
    width = symbol.left + places[-1] + symbol.right + 14.0
    return _Seats(width, tuple(place), tuple(edges["top"]), tuple(edges["bottom"]))


def _channel_crossings(search: _Search, order: Order, channel: int) -> int:
    segments = search.segments.get(channel)
    if not segments or len(segments) < 2:
        return 0
    search.effort += len(segments)
    above = _view(search, order, channel - 1).lower if 0 < channel <= len(order.rows) else {}
    below = _view(search, order, channel).upper if channel < len(order.rows) else {}
    last = len(above) + len(below) - 1
    pairs = []
    for a, b in segments:
        x = above[a] if a in above else last - below[a]
        y = above[b] if b in above else last - below[b]
        pairs.append((x, y) if x < y else (y, x))
    if len(pairs) < 20:
        pairs.sort()
        count = 0
        for n, (_, reach) in enumerate(pairs):
            for start, end in pairs[n + 1 :]:
                if start > reach:
                    break
                count += end > reach
        return count
    ends = np.array(pairs)
    low, high = ends[:, 0], ends[:, 1]
    return int(((low[:, None] < low) & (low < high[:, None]) & (high > high[:, None])).sum())


def _near_crossings(search: _Search, order: Order, row: int) -> int:
    return _channel_crossings(search, order, row) + _channel_crossings(search, order, row + 1)


def _near_length(search: _Search, order: Order, row: int) -> float:
    """Return the estimated length of the wires in the channels about a row."""
    place = dict(_view(search, order, row).place)
    for other in (row - 1, row + 1):
        if 0 <= other < len(order.rows):
            place |= _view(search, order, other).place
    segments = [*search.segments.get(row, ()), *search.segments.get(row + 1, ())]
    return sum(abs(place[a] - place[b]) for a, b in segments)


def _places(search: _Search, order: Order) -> dict[Key, float]:
    found: dict[Key, float] = {}
    for row in range(len(order.rows)):
        found |= _view(search, order, row).place
    return found


def _measured(search: _Search, order: Order) -> None:
    order.crossings = sum(_channel_crossings(search, order, channel) for channel in search.segments)
    order.length = _length(search, order)


def _length(search: _Search, order: Order) -> float:
    place = _places(search, order)
    return sum(abs(place[a] - place[b]) for many in search.segments.values() for a, b in many)


def _swept(search: _Search, order: Order) -> Order:
    best = order.copied()
    for sweep in range(8):
        rows = range(len(order.rows))
        for row in rows if sweep % 2 == 0 else reversed(rows):
            place = _places(search, order)
            _sort_row(search, order, row, place)
        _sort_slots(search, order)
        _choose_variants(search, order)
        _measured(search, order)
        if (order.crossings, order.length) < (best.crossings, best.length):
            best = order.copied()
    return best


def _sort_row(search: _Search, order: Order, row: int, place: dict[Key, float]) -> None:
    partner = search.partner

    def pull(entry: Key) -> float:
        kind, name = entry
        mine: list[Key]
        if kind == "gate":
            mine = [("gate-top", name), ("gate-bottom", name)]
        else:
            body = search.cloth.diagram.node(name).body
            pins = (*body.tops, *body.bottoms)
            mine = [("slot", slot) for pin in pins for slot in order.slots.get((name, pin), [])]
        reach = [place[partner[key]] for key in mine if key in partner]
        return (
            sum(reach) / len(reach) if reach else sum(place.get(key, 0.0) for key in mine) / max(1, len(mine))
        )

    order.rows[row].sort(key=pull)
    order.touch(row)


def _sort_slots(search: _Search, order: Order) -> None:
    """Fan the wires of each pin out towards their other ends; those that turn back stand outermost."""
    place = _places(search, order)
    for pin, slots in order.slots.items():
        if len(slots) > 1:
            own = sum(place["slot", slot] for slot in slots) / len(slots)
            slots.sort(key=lambda slot: _fan(search, place, ("slot", slot), own))
            order.touch(search.cloth.rows[pin[0]], pin[0])


def _fan(search: _Search, place: dict[Key, float], key: Key, own: float) -> tuple[int, float]:
    partner = search.partner.get(key)
    if partner is None:
        return 0, own
    there = place[partner]
    if search.edge.get(partner) != search.edge[key]:
        return 0, there
    return (1, -there) if there > own else (-1, -there)


def _choose_variants(search: _Search, order: Order) -> None:
    for name in search.cloth.nodes:
        kinds = search.cloth.symbols[name]
        if len(kinds) < 2:
            continue
        row = search.cloth.rows[name]
        scores = []
        for n in range(len(kinds)):
            order.variant[name] = n
            order.touch(row, name)
            scores.append(
                (_near_crossings(search, order, row), round(_near_length(search, order, row), 3), n)
            )
        order.variant[name] = min(scores)[2]
        order.touch(row, name)


def _sifted(search: _Search, order: Order) -> Order:
    """Move entries of a row, and wires along a pin, where that saves crossings or else length."""
    best = order.copied()
    for _ in range(4):
        for row in range(len(order.rows)):
            for entry in list(order.rows[row]):
                _sift_entry(search, order, row, entry)
        _sort_slots(search, order)
        _choose_variants(search, order)
        _swap_slots(search, order)
        _measured(search, order)
        if (order.crossings, round(order.length, 3)) >= (best.crossings, round(best.length, 3)):
            break
        best = order.copied()
    return best


def _swap_slots(search: _Search, order: Order) -> None:
    for pin, slots in order.slots.items():
        row = search.cloth.rows[pin[0]]
        for n in range(len(slots) - 1):
            before = _near_crossings(search, order, row)
            if not before:
                break
            slots[n], slots[n + 1] = slots[n + 1], slots[n]
            order.touch(row, pin[0])
            if _near_crossings(search, order, row) >= before:
                slots[n], slots[n + 1] = slots[n + 1], slots[n]
                order.touch(row, pin[0])


def _rethreaded(search: _Search, order: Order) -> Order:
    """Take crossing wires out and thread each anew: through another gap of a row, from another place on its bars.

    Sifting moves one thing at a time; here the gap and the places on both bars are tried together.
    """
    best = order.copied()
    for _ in range(3):
        if not best.crossings:
            break
        trial = best.copied()
        for row in sorted(search.gates):
            for wire in search.gates[row]:
                _thread_anew(search, trial, row, wire)
        trial = _sifted(search, trial)
        if (trial.crossings, round(trial.length, 3)) >= (best.crossings, round(best.length, 3)):
            break
        best = trial
    return best


def _thread_anew(search: _Search, order: Order, row: int, wire: str) -> None:
    bars = [end for end in dict.fromkeys(search.ends[wire]) if len(order.slots[end]) > 1]
    rows = {row, *(search.cloth.rows[end[0]] for end in bars)}
    channels = sorted({channel for here in rows for channel in (here, here + 1)})
    entry: Key = ("gate", f"{wire}@{row}")
    rest = [other for other in order.rows[row] if other != entry]
    others = [[slot for slot in order.slots[end] if slot.rsplit(":", 1)[0] != wire] for end in bars]
    mine = [[slot for slot in order.slots[end] if slot.rsplit(":", 1)[0] == wire] for end in bars]

    def stand(gap: int, seats: tuple[int, ...]) -> None:
        order.rows[row] = [*rest[:gap], entry, *rest[gap:]]
        for end, free, own, seat in zip(bars, others, mine, seats, strict=True):
            order.slots[end] = [*free[:seat], *own, *free[seat:]]
            order.touch(search.cloth.rows[end[0]], end[0])
        order.touch(row)

    def crossings() -> int:
        return sum(_channel_crossings(search, order, channel) for channel in channels)

    was = (
        order.rows[row].index(entry),
        tuple(order.slots[end].index(own[0]) for end, own in zip(bars, mine, strict=True)),
    )
    least, best = crossings(), was
    for gap in range(len(rest) + 1) if least else ():
        for seats in product(*(range(len(free) + 1) for free in others)):
            if search.effort > 6 * _EFFORT:
                break
            stand(gap, seats)
            count = crossings()
            if count < least:
                least, best = count, (gap, seats)
    stand(*best)


def _sift_entry(search: _Search, order: Order, row: int, entry: Key) -> None:
    here = order.rows[row]
    if len(here) < 2 or search.effort > 4 * _EFFORT:
        return
    rest = [other for other in here if other != entry]
    was = here.index(entry)

    def stand(n: int) -> None:
        order.rows[row] = [*rest[:n], entry, *rest[n:]]
        order.touch(row)

    scores = []
    for n in range(len(here)):
        stand(n)
        scores.append(_near_crossings(search, order, row))
    tied = [n for n, score in enumerate(scores) if score == min(scores)]
    choice = tied[0]
    if len(tied) > 1:
        lengths = []
        for n in tied:
            stand(n)
            lengths.append((round(_near_length(search, order, row), 3), n != was, n))
        choice = min(lengths)[2]
    stand(choice)
