"""The last touch of a part's spacing: names on the other side of their symbols, where wires run straight for it.

A name stands right of its symbol, and keeps the next item off. Where that bends a wire, names near it are
tried on the left, one after the other; what costs less is kept.
"""

from collections.abc import Iterator
from itertools import pairwise

from loomlore.drawing.bodies import GRID
from loomlore.drawing.diagram import Wire
from loomlore.drawing.ordering import Order
from loomlore.drawing.placing import Fabric
from loomlore.drawing.spacing import Spaced, spaced

__all__ = ["left_names"]

_MOST = 20  # spacings tried for one part
_REACH = 32.0  # a wire that is bent by more is not straightened by moving a name [mm]
_LENGTH_PRICE = 47.0
_LEFT_PRICE = 0.3  # a name stands right of its symbol unless something is gained
_OFF_CENTRE = 3.0
_BAR_PRICE = 0.06  # for each millimetre of bars


def left_names(cloth: Fabric, order: Order) -> frozenset[str]:
    """Choose the items whose names stand left of their symbols.

    Parameters
    ----------
    cloth : Fabric
        The part.
    order : Order
        Its order.

    Returns
    -------
    frozenset of str
        Mostly empty.
    """
    left: frozenset[str] = frozenset()
    across = spaced(cloth, order)
    best, tried = _cost(cloth, order, across, left), 0
    seen: set[frozenset[str]] = set()
    while tried < _MOST:
        trials = (left | names for names in _candidates(cloth, order, across))
        trial = next((trial for trial in trials if trial not in seen), left)
        if trial == left:
            break
        seen.add(trial)
        tried += 1
        other = spaced(cloth, order, left=trial)
        cost = _cost(cloth, order, other, trial)
        if cost < best - 1e-6:
            best, left, across = cost, trial, other
    return left


def _candidates(cloth: Fabric, order: Order, across: Spaced) -> Iterator[frozenset[str]]:
    """Go through the named items at or beside the ends of slightly bent wires, the least bent first.

    Each is tried by itself, then with all that stand in one line with it.
    """
    names = list(dict.fromkeys(_near_bends(cloth, order, across)))
    yield from (frozenset((name,)) for name in names)
    above: dict[str, set[str]] = {}
    for wire in cloth.wires:
        line = _line(cloth, across, wire)
        if max(line) - min(line) < GRID / 2 and len(line) == 2:
            above.setdefault(wire.start[0], set()).add(wire.end[0])
            above.setdefault(wire.end[0], set()).add(wire.start[0])
    for name in names:
        column, ahead = {name}, [name]
        while ahead:
            more = above.get(ahead.pop(), set()) - column
            column |= more
            ahead += sorted(more)
        yield frozenset(column & set(across.names))


def _near_bends(cloth: Fabric, order: Order, across: Spaced) -> Iterator[str]:
    bent = []
    for wire in cloth.wires:
        line = _line(cloth, across, wire)
        for one, two in pairwise(line):
            if GRID / 2 < abs(one - two) < _REACH and cloth.side(wire.start) != cloth.side(wire.end):
                bent.append((round(abs(one - two), 3), wire.id, wire))
    for _, _, wire in sorted(bent, key=lambda row: row[:2]):
        for name, _ in (wire.start, wire.end):
            row = order.rows[cloth.rows[name]]
            seat = row.index(("node", name))
            for kind, other in (
                *row[seat : seat + 1],
                *row[max(0, seat - 1) : seat],
                *row[seat + 1 : seat + 2],
            ):
                if kind == "node" and other in across.names:
                    yield other


def _line(cloth: Fabric, across: Spaced, wire: Wire) -> list[float]:
    """Return where a wire stands in each row that it passes [mm]."""
    ends = sorted(((cloth.channel(wire.start), f"{wire.id}:a"), (cloth.channel(wire.end), f"{wire.id}:b")))
    gates = [across.gates[f"{wire.id}@{row}"] for row in range(ends[0][0], ends[1][0])]
    return [across.slots[ends[0][1]], *gates, across.slots[ends[1][1]]]


def _cost(cloth: Fabric, order: Order, across: Spaced, left: frozenset[str]) -> float:
    shifts = [abs(one - two) for wire in cloth.wires for one, two in pairwise(_line(cloth, across, wire))]
    bars = [
        max(places) - min(places)
        for slots in order.slots.values()
        if (places := [across.slots[slot] for slot in slots])
    ]
    bends = 2.0 * sum(shift > GRID / 2 for shift in shifts)
    off = _OFF_CENTRE * _off_centre(cloth, order, across)
    return bends + off + sum(shifts) / _LENGTH_PRICE + _BAR_PRICE * sum(bars) + _LEFT_PRICE * len(left)


def _off_centre(cloth: Fabric, order: Order, across: Spaced) -> int:
    """Count the terminals that feed several things below and do not stand over the middle of these."""
    below: dict[tuple[str, str], list[float]] = {}
    for wire in cloth.wires:
        for own, other, end in ((wire.start, wire.end, "b"), (wire.end, wire.start, "a")):
            if cloth.side(own) == "bottom" and cloth.rows[other[0]] > cloth.rows[own[0]]:
                below.setdefault(own, []).append(across.slots[f"{wire.id}:{end}"])
    count = 0
    for pin, far in below.items():
        if len(far) > 1:
            mine = [across.slots[slot] for slot in order.slots[pin]]
            count += abs(min(mine) + max(mine) - min(far) - max(far)) > 2 * GRID / 2
    return count
