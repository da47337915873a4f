"""Symbols composed from what an item is made of: contacts, coils and elements between its terminals.

Invariants
----------
* A symbol is a row of columns; each part stands upright in a column of its own, ends upwards and downwards;
  each pin stands over or under a column, or midway over the throws of a selector. Layout may widen the gaps
  that stretch.
* A net that has ends above and below gets a passing lead, so that every conduction inside is drawn, none
  invented.
* What has no parts (an aerial, an unknown box) is a box with its terminals, its name inside.

       top pins      A       C          y = 0
                     |  +----+          upper channel: tracks where a net joins columns
                    coil     blade      the band: parts, centred
                     |       |          lower channel
       bottom pins   E       NO         y = height
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import permutations
from math import ceil

from loomlore.drawing.bodies import GRID, Block, Body, Joint, Part, Pin, Side, Symbol, joints_of
from loomlore.drawing.glyphs import ACTUATOR_REACH, glyph
from loomlore.drawing.inking import TRACK_STEP, Frame, inked, moved_from_right, turned_item
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Box, Item
from loomlore.drawing.typefaces import text_width

__all__ = ["LABEL_BAND", "body_box", "body_boxes", "compose", "turned", "variants"]

_LEAST_GAP = 5.0
_STRETCH = 17.5  # how far a gap between parts may widen [mm]
_SELECTOR_STRETCH = 5.0
_THROW = 1.2
_SIDES: tuple[Side, Side] = ("top", "bottom")
LABEL_BAND = 3.2  # from the end of a symbol past the words at its terminals [mm]


@lru_cache(maxsize=4_000)
def compose(body: Body) -> Symbol:
    """Compose a symbol in its best order.

    Parameters
    ----------
    body : Body
        Pins by side, parts, linkages.

    Returns
    -------
    Symbol
        Columns ordered for the fewest crossings and the shortest leads inside.
    """
    return _assemble(body, _best_order(body, _blocks(body)))


@lru_cache(maxsize=4_000)
def variants(body: Body, limit: int = 8) -> tuple[Symbol, ...]:
    """Return the arrangements a layout may choose from, the natural one first.

    Parameters
    ----------
    body : Body
        Its ``order`` says whether the pins keep their order, may be mirrored, or stand freely.
    limit : int
        At most so many.

    Returns
    -------
    tuple of Symbol
        One for a fixed order, two for a mirrored one, up to the limit for a free one.
    """
    first = compose(body)
    if body.order == "fixed" or len(body.tops) + len(body.bottoms) <= 2:
        return (first,)
    found = [first]
    orders = _pin_orders(body) if body.order == "free" else [(body.tops[::-1], body.bottoms[::-1])]
    for tops, bottoms in orders:
        other = compose(replace(body, tops=tops, bottoms=bottoms, order="fixed"))
        # An arrangement that tangles its own inside is no help to the sheet.
        if other.inner > first.inner + 2.0:
            continue
        if all(_pin_row(other) != _pin_row(known) for known in found):
            found.append(other)
        if len(found) >= limit:
            break
    return tuple(found)


def _pin_orders(body: Body) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    tops, bottoms = list(permutations(body.tops)), list(permutations(body.bottoms))
    if len(tops) * len(bottoms) > 200:
        return [(body.tops[::-1], body.bottoms[::-1])]
    return [(top, bottom) for top in tops for bottom in bottoms]


def _pin_row(symbol: Symbol) -> tuple[tuple[str, Side, tuple[int, ...]], ...]:
    return tuple(sorted((pin.name, pin.side, pin.columns) for pin in symbol.pins))


def turned(symbol: Symbol) -> Symbol:
    """Return a symbol upside down, its words still upright.

    Parameters
    ----------
    symbol : Symbol
        Any symbol.

    Returns
    -------
    Symbol
        Top pins below, bottom pins above.
    """
    other: dict[Side, Side] = {"top": "bottom", "bottom": "top"}
    pins = tuple(replace(pin, side=other[pin.side]) for pin in symbol.pins)
    shoulders = tuple((other[side], reach) for side, reach in symbol.shoulders)

    def draw(places: Sequence[float], seats: Mapping[str, float]) -> tuple[Item, ...]:
        return tuple(turned_item(item, symbol.height) for item in symbol.draw(places, seats))

    return replace(symbol, pins=pins, shoulders=shoulders, draw=draw)


# ---------------------------------------------------------------- what stands in which column


def _blocks(body: Body) -> list[Block]:
    level = dict.fromkeys(body.tops, 0) | dict.fromkeys(body.bottoms, 2)
    seats = {name: n for row in (body.tops, body.bottoms) for n, name in enumerate(row)}
    blocks = [_block(stack, level, seats) for stack in _stacks(body)]
    blocks += _passes(body, blocks)
    return blocks + _stubs(body, blocks)


def _stacks(body: Body) -> list[tuple[Part, ...]]:
    """Join parts in series through an inner node that nothing else meets into one stack, top part first."""
    pins = {*body.tops, *body.bottoms}
    stacks: list[tuple[Part, ...]] = [(part,) for part in body.parts]
    for net in sorted({end for part in body.parts for end in part.ends} - pins):
        meeting = [stack for stack in stacks if net in (*stack[0].ends, *stack[-1].ends)]
        count = sum(part.ends.count(net) for part in body.parts)
        if count == 2 and len(meeting) == 2 and all(_plain(stack) for stack in meeting):
            first, second = meeting
            joined = (*_ending(first, net), *_starting(second, net))
            stacks[stacks.index(first)] = joined
            stacks.remove(second)
    return stacks


def _plain(stack: tuple[Part, ...]) -> bool:
    return all(len(part.ends) == 2 for part in stack)


def _reversed(stack: tuple[Part, ...]) -> tuple[Part, ...]:
    return tuple(replace(part, ends=part.ends[::-1]) for part in reversed(stack))


def _ending(stack: tuple[Part, ...], net: str) -> tuple[Part, ...]:
    return stack if stack[-1].ends[1] == net else _reversed(stack)


def _starting(stack: tuple[Part, ...], net: str) -> tuple[Part, ...]:
    return stack if stack[0].ends[0] == net else _reversed(stack)


def _block(stack: tuple[Part, ...], level: dict[str, int], seats: dict[str, int]) -> Block:
    if len(stack[0].ends) > 2:
        return _selector_block(stack[0], level, seats)
    upper, lower = stack[0].ends[0], stack[-1].ends[1]
    over = level.get(upper, 1) > level.get(lower, 1)
    if over:
        stack, upper, lower = _reversed(stack), lower, upper
    return Block(stack, 1, (Joint("top", upper, (0,)), Joint("bottom", lower, (0,))), over)


def _selector_block(part: Part, level: dict[str, int], seats: dict[str, int]) -> Block:
    """Set the throws in the order of their pins, so that a mirrored body has a mirrored selector."""
    part = _in_order(part, seats)
    common, *throws = part.ends
    over = level.get(common, 1) > min(level.get(throw, 1) for throw in throws)
    sides: tuple[Side, Side] = ("bottom", "top") if over else ("top", "bottom")
    joints = [Joint(sides[1], throw, (n,)) for n, throw in enumerate(throws) if throw]
    return Block((part,), len(throws), (Joint(sides[0], common, tuple(range(len(throws)))), *joints), over)


def _in_order(part: Part, seats: dict[str, int]) -> Part:
    common, *throws = part.ends
    order = sorted(range(len(throws)), key=lambda n: seats.get(throws[n], n))
    rest = None if part.rest is None else order.index(part.rest)
    names = tuple(part.throws[n] for n in order) if part.throws else tuple(order)
    return replace(part, ends=(common, *(throws[n] for n in order)), rest=rest, throws=names)


def _passes(body: Body, blocks: list[Block]) -> list[Block]:
    nets: dict[str, set[Side]] = {}
    for block in blocks:
        for joint in block.joints:
            nets.setdefault(joint.net, set()).add(joint.side)
    for name in body.tops:
        nets.setdefault(name, set()).add("top")
    for name in body.bottoms:
        nets.setdefault(name, set()).add("bottom")
    both = sorted(net for net, sides in nets.items() if len(sides) == 2)
    return [Block((), 1, (Joint("top", net, (0,)), Joint("bottom", net, (0,)))) for net in both]


def _stubs(body: Body, blocks: list[Block]) -> list[Block]:
    met = {joint.net for block in blocks for joint in block.joints}
    tops = [name for name in body.tops if name not in met]
    bottoms = [name for name in body.bottoms if name not in met]
    found = []
    for n in range(max(len(tops), len(bottoms))):
        joints = [Joint("top", name, (0,)) for name in tops[n : n + 1]]
        joints += [Joint("bottom", name, (0,)) for name in bottoms[n : n + 1]]
        found.append(Block((), 1, tuple(joints)))
    return found


# ---------------------------------------------------------------- their order


def _best_order(body: Body, blocks: list[Block]) -> list[Block]:
    if len(blocks) <= 6:
        every = [list(order) for order in permutations(blocks)]
        return min(every, key=lambda order: _order_cost(body, order))
    order = sorted(blocks, key=lambda block: _natural_place(body, block))
    for _ in range(6):
        for block in list(order):
            rest = [other for other in order if other is not block]
            tried = [[*rest[:n], block, *rest[n:]] for n in range(len(blocks))]
            order = min(tried, key=lambda row: _order_cost(body, row))
    return order


def _natural_place(body: Body, block: Block) -> float:
    rows = {name: n for row in (body.tops, body.bottoms) for n, name in enumerate(row)}
    met = [rows[joint.net] for joint in block.joints if joint.net in rows]
    return sum(met) / len(met) if met else 99.0


def _order_cost(body: Body, order: Sequence[Block]) -> float:
    spans = _spans(order)
    cost = sum(reach[-1] - reach[0] for reach in spans.values())
    for side in ("top", "bottom"):
        rows = sorted((reach[0], reach[-1]) for (where, _), reach in spans.items() if where == side)
        cost += 3.0 * sum(a[0] < b[0] < a[1] for a in rows for b in rows)
    pins = _pins(body, order)
    for names in (body.tops, body.bottoms):
        seats = [pins[name] for name in names]
        early = [a for n, a in enumerate(seats) for b in seats[n + 1 :] if sum(a) * len(b) > sum(b) * len(a)]
        cost += len(early) * (1000.0 if body.order == "fixed" else 0.4)
    return cost


def _spans(order: Sequence[Block]) -> dict[tuple[Side, str], list[float]]:
    spans: dict[tuple[Side, str], list[float]] = {}
    for joint in joints_of(order):
        seat = (joint.columns[0] + joint.columns[-1]) / 2
        spans.setdefault((joint.side, joint.net), []).append(seat)
    return {key: sorted(reach) for key, reach in spans.items()}


def _pins(body: Body, order: Sequence[Block]) -> dict[str, tuple[int, ...]]:
    """Seat each pin over an end of its net, over a line that goes straight through if any."""
    joints = joints_of(order)
    named = {*body.tops, *body.bottoms}
    through: dict[tuple[int, ...], set[str]] = {}
    for joint in joints:
        if joint.net in named:
            through.setdefault(joint.columns, set()).add(joint.net)
    links = _link_columns(order)
    sides: list[tuple[Side, str]] = [("top", name) for name in body.tops]
    sides += [("bottom", name) for name in body.bottoms]
    seats = {}
    for side, name in sides:
        mine = [joint.columns for joint in joints if joint.side == side and joint.net == name]
        mine = [columns for columns in mine if len(through.get(columns, ())) > 1] or mine
        mine = [columns for columns in mine if columns not in links] or mine
        seats[name] = mine[(len(mine) - 1) // 2]
    return seats


def _link_columns(order: Sequence[Block]) -> set[tuple[int, ...]]:
    """Return the columns of mere links: the main line goes through something else, if anything."""
    found: set[tuple[int, ...]] = set()
    first = 0
    for block in order:
        if block.parts and all(part.glyph == "line" for part in block.parts):
            found.add((first,))
        first += block.width
    return found


# ---------------------------------------------------------------- geometry


def _assemble(body: Body, order: list[Block]) -> Symbol:
    seats = _pins(body, order)
    rests = _rests(order)
    pins = tuple(Pin(name, "top", seats[name], rests.get(name)) for name in body.tops)
    pins += tuple(Pin(name, "bottom", seats[name], rests.get(name)) for name in body.bottoms)
    tracks = _tracks(order)
    framed = _is_framed(body)
    reach = _reaches(order)
    margin = 1.6 if framed else 0.0
    gaps, stretches = _gaps(body, order, reach, pins)
    labels = {side: _label_widths(body, pins, side).get(len(reach) - 1, 0.0) for side in _SIDES}
    label = max(labels.values())
    spare = max(0.0, _words_width(body) - sum(gaps) - reach[0][0] - reach[-1][1]) / 2
    frame = Frame(
        body, tuple(order), pins, tracks,
        _channel(body, tracks, "top", framed), _band(body, order), _channel(body, tracks, "bottom", framed),
        reach[0][0] + margin + spare, max(reach[-1][1] + spare, label) + margin, framed,
    )  # fmt: skip
    trunk = frame.right if framed else reach[-1][1] + spare
    return Symbol(
        pins, gaps, stretches, frame.height, frame.left, frame.right, _order_cost(body, order), trunk,
        tuple((side, width) for side, width in labels.items() if width > trunk and not framed),
        lambda places, seats: inked(frame, places, seats),
    )  # fmt: skip


def _rests(order: Sequence[Block]) -> dict[str, int]:
    found, first = {}, 0
    for block in order:
        if block.parts and len(block.parts[0].ends) > 2 and block.parts[0].rest is not None:
            found[block.parts[0].ends[0]] = first + block.parts[0].rest
        first += block.width
    return found


def _is_framed(body: Body) -> bool:
    if body.envelope is not None:
        return body.envelope
    if len(body.parts) != 1 or body.links or body.parts[0].glyph == "line":
        return True
    return not {*body.tops, *body.bottoms} <= set(body.parts[0].ends)


def _tracks(order: Sequence[Block]) -> dict[tuple[Side, str], int]:
    tracks: dict[tuple[Side, str], int] = {}
    for side in ("top", "bottom"):
        rows: list[list[tuple[float, float]]] = []
        for (where, net), reach in sorted(
            _spans(order).items(), key=lambda row: (row[1][-1] - row[1][0], row[0])
        ):
            if where != side or reach[0] == reach[-1]:
                continue
            span = (reach[0], reach[-1])
            free = next(
                (n for n, row in enumerate(rows) if all(b < span[0] or span[1] < a for a, b in row)), None
            )
            if free is None:
                free = len(rows)
                rows.append([])
            rows[free].append(span)
            tracks[side, net] = free
    return tracks


def _channel(body: Body, tracks: dict[tuple[Side, str], int], side: Side, framed: bool) -> float:
    used = 1 + max((n for (where, _), n in tracks.items() if where == side), default=-1)
    pins = body.tops if side == "top" else body.bottoms
    lead = 3.2 if body.labels and pins else 1.2 if framed and pins else 0.0
    return ceil((lead + used * TRACK_STEP + (0.6 if framed else 0.0)) * 2) / 2


def _band(body: Body, order: Sequence[Block]) -> float:
    tallest = max((sum(glyph(part.glyph).height for part in block.parts) for block in order), default=0.0)
    return max(tallest, 5.0 + 3.0 * len(body.words)) if body.parts or body.words else max(tallest, 6.0)


def _reaches(order: Sequence[Block]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for block in order:
        # The blade of a selector leans between its throws: these need no more than a ring's width.
        glyphs = [glyph(part.glyph) for part in block.parts if len(part.ends) < 3]
        least = 0.6 if glyphs or not block.parts else _THROW
        left = max([shape.left for shape in glyphs] + [least])
        right = max([shape.right for shape in glyphs] + [least])
        if any(part.actuator and not moved_from_right(part) for part in block.parts):
            left = max(left, ACTUATOR_REACH)
        if any(part.actuator and moved_from_right(part) for part in block.parts):
            right = max(right, ACTUATOR_REACH)
        found += [
            (left if n == 0 else 0.8, right if n == block.width - 1 else 0.8) for n in range(block.width)
        ]
    return found


def _gaps(
    body: Body, order: Sequence[Block], reach: list[tuple[float, float]], pins: tuple[Pin, ...]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    inside = [n > 0 for block in order for n in range(block.width)]
    words = _label_widths(body, pins, *_SIDES)
    gaps, stretches = [], []
    for n in range(1, len(reach)):
        least = max(_LEAST_GAP, reach[n - 1][1] + reach[n][0] + 0.8, words.get(n - 1, 0.0) + 1.9)
        gap = ceil(least / GRID) * GRID
        if inside[n]:
            gap = max(gap, 7.5)
        gaps.append(gap)
        stretches.append(_SELECTOR_STRETCH if inside[n] else _STRETCH)
    return tuple(gaps), tuple(stretches)


def _words_width(body: Body) -> float:
    look = LETTERINGS["t-name"]
    return max((text_width(line, face=look.face, size=look.size) for line in body.words), default=0.0)


def _label_widths(body: Body, pins: tuple[Pin, ...], *sides: Side) -> dict[int, float]:
    if not body.labels:
        return {}
    look = LETTERINGS["t-terminal"]
    found: dict[int, float] = {}
    for pin in (pin for pin in pins if pin.side in sides):
        width = 0.7 + text_width(body.label(pin.name), face=look.face, size=look.size)
        for column in pin.columns:
            found[column] = max(found.get(column, 0.0), width)
    return found


def body_box(symbol: Symbol, places: Sequence[float]) -> Box:
    """Return the box a symbol covers when its first column stands at ``places[0]`` and its top at 0.

    Parameters
    ----------
    symbol : Symbol
        The symbol.
    places : sequence of float
        Its columns' places [mm].

    Returns
    -------
    Box
        [mm].
    """
    return Box(places[0] - symbol.left, 0.0, places[-1] + symbol.right, symbol.height)


def body_boxes(symbol: Symbol, places: Sequence[float]) -> tuple[Box, ...]:
    """Return the boxes a symbol really covers: what it draws, and the words that stand out at its terminals.

    Parameters
    ----------
    symbol : Symbol
        The symbol.
    places : sequence of float
        Its columns' places [mm].

    Returns
    -------
    tuple of Box
        The trunk first; its top is at 0 [mm].
    """
    trunk = Box(places[0] - symbol.left, 0.0, places[-1] + symbol.trunk, symbol.height)
    ends = {"top": (0.0, LABEL_BAND), "bottom": (symbol.height - LABEL_BAND, symbol.height)}
    return trunk, *(Box(trunk.right, ends[side][0], places[-1] + reach, ends[side][1])
                    for side, reach in symbol.shoulders)  # fmt: skip
