"""A table of settings and outcomes brought down to its fewest rows, with "any" wherever it does not matter.

A *point* is one setting: a value (by number) for every variable, and the outcome seen there. Settings that
are not among the points do not occur, and a row may cover them or not. A *row* allows each variable some of
its values: any at all for a variable of positions, a run of neighbours for an ordered one (a range cut into
pieces). A row is sound if every point in it has its outcome.

Two ways, the second where the first grows too large:

exact
    all widest sound rows, by cutting every point of another outcome out of the whole space in turn; then the
    fewest that cover, by dominance, and by integer programming for what dominance leaves.
found
    rows widened from single points in several fixed orders of the variables, then the fewest of those.

Values that no point of a row takes are then struck from it where that makes it no longer to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Axis", "Derived", "Reduced", "Row", "derivations", "derived_points", "reduced_table"]

Point = tuple[int, ...]
Points = Mapping[Point, int]

MOST_WIDEST = 8000
"""Widest rows kept at once before the exact way is given up: one to three seconds of work."""
ORDERS = 12
SOLVER_SECONDS = 4.0
LISTED = 0.2
"""What a value more in a cell costs, against the cell itself; only rows of equal number are chosen by it."""


@dataclass(frozen=True, slots=True)
class Axis:
    """A variable: how many values, whether they are in order, and how little one likes to speak of it."""

    size: int
    ordered: bool = False
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Row:
    """For each variable the values that the row allows, and the outcome of all points in it."""

    allowed: tuple[frozenset[int], ...]
    outcome: int

    def covers(self, point: Point) -> bool:
        """Whether a point is in the row."""
        return all(value in values for value, values in zip(point, self.allowed, strict=True))


@dataclass(frozen=True, slots=True)
class Reduced:
    """The rows, in order of outcome; ``exact`` says that no table of fewer rows exists."""

    rows: tuple[Row, ...]
    exact: bool


def reduced_table(axes: Sequence[Axis], points: Points, *, otherwise: int) -> Reduced:
    """Cover each outcome but one by the fewest rows.

    Parameters
    ----------
    axes
        The variables.
    points
        Outcome by setting, for every setting that occurs.
    otherwise
        The outcome that is left to a last row "otherwise".

    Returns
    -------
    Reduced
        Every point of another outcome is in a row of its outcome and in none of a different one.

    Source
    ------
    [mccluskey-1956], carried over to variables of more than two values.

    Examples
    --------
    A lamp burns if a switch of three positions stands at 1 or 2 and there is supply.

    >>> points = {(s, v): int(s > 0 and v == 1) for s in range(3) for v in range(2)}
    >>> for row in reduced_table([Axis(3), Axis(2)], points, otherwise=0).rows:
    ...     print([sorted(values) for values in row.allowed], row.outcome)
    [[1, 2], [1]] 1
    """
    rows: list[Row] = []
    exact = True
    for outcome in sorted(set(points.values()) - {otherwise}):
        on = [point for point, seen in points.items() if seen == outcome]
        off = [point for point, seen in points.items() if seen != outcome]
        masks, proved = _fewest(axes, on, off)
        exact = exact and proved
        rows += _tightened(axes, [_row(axes, mask, outcome) for mask in masks], on)
    return Reduced(tuple(rows), exact)


# -- rows as whole numbers: one bit for each value of each variable ------------------------------------------


def _offsets(axes: Sequence[Axis]) -> list[int]:
    places, offset = [], 0
    for axis in axes:
        places.append(offset)
        offset += axis.size
    return places


def _packed(point: Point, offsets: Sequence[int]) -> int:
    mask = 0
    for value, offset in zip(point, offsets, strict=True):
        mask |= 1 << (offset + value)
    return mask


def _row(axes: Sequence[Axis], mask: int, outcome: int) -> Row:
    allowed = []
    for axis, offset in zip(axes, _offsets(axes), strict=True):
        allowed.append(frozenset(n for n in range(axis.size) if mask >> (offset + n) & 1))
    return Row(tuple(allowed), outcome)


def cell_cost(axis: Axis, values: frozenset[int]) -> float:
    """How much there is to say of one variable in a row: nothing for "any", a list costs a little more."""
    count = len(values)
    if count == axis.size:
        return 0.0
    if axis.ordered:
        ends = (min(values) > 0) + (max(values) < axis.size - 1)
        return axis.weight * (1 + LISTED * (ends - 1))
    return axis.weight * (1 + LISTED * (min(count, axis.size - count) - 1))


def _cost(axes: Sequence[Axis], mask: int) -> float:
    row = _row(axes, mask, 0)
    return sum(cell_cost(axis, values) for axis, values in zip(axes, row.allowed, strict=True))


def _tightened(axes: Sequence[Axis], rows: Sequence[Row], on: Sequence[Point]) -> list[Row]:
    """Strike values that a row need not allow, where the cell gets no longer by it.

    First those that no point of the row takes, then those whose points are in other rows as well (but a run
    of neighbours is not cut where nothing changes: its end would be read as a threshold).
    """
    tight = [_struck(axes, row, [point for point in on if row.covers(point)]) for row in rows]
    apart = [
        _set_apart(axes, tight, on, order) for order in (range(len(tight)), range(len(tight) - 1, -1, -1))
    ]
    return min(apart, key=lambda found: sum(row.covers(point) for row in found for point in on))


def _set_apart(
    axes: Sequence[Axis], rows: Sequence[Row], on: Sequence[Point], order: Iterable[int]
) -> list[Row]:
    apart = list(rows)
    for number in order:
        others = [other for n, other in enumerate(apart) if n != number]
        alone = [p for p in on if apart[number].covers(p) and not any(other.covers(p) for other in others)]
        if alone:
            apart[number] = _struck(axes, apart[number], alone, runs=False)
    return apart


def _struck(axes: Sequence[Axis], row: Row, points: Sequence[Point], *, runs: bool = True) -> Row:
    allowed = list(row.allowed)
    for place, axis in enumerate(axes):
        if len(allowed[place]) == axis.size or (axis.ordered and not runs):
            continue
        taken = {point[place] for point in points}
        if axis.ordered:
            taken = set(range(min(taken), max(taken) + 1))
        if cell_cost(axis, frozenset(taken)) <= cell_cost(axis, allowed[place]):
            allowed[place] = frozenset(taken)
    return replace(row, allowed=tuple(allowed))


def _fewest(axes: Sequence[Axis], on: Sequence[Point], off: Sequence[Point]) -> tuple[list[int], bool]:
    """The fewest rows that cover ``on`` and keep off ``off``, and whether that is proved."""
    offsets = _offsets(axes)
    on_masks = [_packed(point, offsets) for point in on]
    widest = _all_widest(axes, on_masks, [_packed(point, offsets) for point in off])
    if widest is not None:
        chosen, proved = _cover(axes, widest, on_masks)
        return chosen, proved
    chosen, _ = _cover(axes, _widened(axes, on, off), on_masks)
    return chosen, False


# -- exact: all widest rows ----------------------------------------------------------------------------------


def _all_widest(axes: Sequence[Axis], on: Sequence[int], off: Sequence[int]) -> list[int] | None:
    """All rows that are sound, touch ``on``, and lie in no wider one; None where they grow too many."""
    import numpy as np

    bits = sum(axis.size for axis in axes)
    if bits > 63:
        return None
    on_array = np.array(on, dtype=np.int64)
    rows = np.array([(1 << bits) - 1], dtype=np.int64)
    for point in _far_first(on, off):
        inside = (rows & point) == point
        if not inside.any():
            continue
        kept = rows[~inside]
        cut = _cut_out(axes, rows[inside], point)
        cut = cut[((cut[:, None] & on_array) == on_array).any(axis=1)]
        rows = np.concatenate([kept, _not_within(cut, kept)])
        if len(rows) > MOST_WIDEST:
            return None
    return [int(row) for row in rows]


def _far_first(on: Sequence[int], off: Sequence[int]) -> list[int]:
    """Points to cut out, the ones nearest to a wanted point first: they cut smallest and soonest."""
    sample = on[:: max(1, len(on) // 64)]
    return sorted(off, key=lambda o: (min((o ^ p).bit_count() for p in sample), o))


def _cut_out(axes: Sequence[Axis], rows: NDArray[np.int64], point: int) -> NDArray[np.int64]:
    """Each row without the point: one narrower row a variable (two where its values are in order)."""
    import numpy as np

    made = []
    for axis, offset in zip(axes, _offsets(axes), strict=True):
        field = ((1 << axis.size) - 1) << offset
        bit = point & field
        halves = (field & (bit - 1), field & ~(bit | (bit - 1))) if axis.ordered else (field & ~bit,)
        for half in halves:
            narrowed = rows & (~field | half)
            made.append(narrowed[(narrowed & field) != 0])
    return np.unique(np.concatenate(made)) if made else rows[:0]


def _not_within(cut: NDArray[np.int64], kept: NDArray[np.int64]) -> NDArray[np.int64]:
    """The new rows that lie in no other row, old or new."""
    if len(cut) and len(kept):
        cut = cut[~((cut[:, None] & kept) == cut[:, None]).any(axis=1)]
    if len(cut) > 1:
        within = (cut[:, None] & cut) == cut[:, None]
        cut = cut[within.sum(axis=1) == 1]
    return cut


# -- found: rows widened from points -------------------------------------------------------------------------


def _widened(axes: Sequence[Axis], on: Sequence[Point], off: Sequence[Point]) -> list[int]:
    import numpy as np

    offsets, found = _offsets(axes), set()
    off_array = np.array(off, dtype=np.int64).reshape(len(off), len(axes))
    packed = {point: _packed(point, offsets) for point in on}
    for number in range(ORDERS):
        order = Random(number)
        waiting = sorted(on)
        order.shuffle(waiting)
        covered: set[Point] = set()
        for point in waiting:
            if point in covered:
                continue
            places = list(range(len(axes)))
            order.shuffle(places)
            mask = _widest_around(axes, offsets, point, off_array, places)
            found.add(mask)
            covered.update(p for p in on if packed[p] & mask == packed[p])
    return sorted(found)


def _widest_around(
    axes: Sequence[Axis], offsets: Sequence[int], point: Point, off: NDArray[np.int64], order: Sequence[int]
) -> int:
    """Widen a row from a point, variable by variable; ``outside`` counts where a point is still kept off."""
    mask = _packed(point, offsets)
    outside = (off != list(point)).sum(axis=1)
    for place in order:
        for value in _outwards(axes[place], point[place]):
            bit = 1 << (offsets[place] + value)
            if mask & bit or (
                axes[place].ordered and not _neighbours(mask, offsets[place], value, axes[place])
            ):
                continue
            freed = off[:, place] == value
            if (outside[freed] == 1).any():
                continue
            outside = outside - freed
            mask |= bit
    return mask


def _outwards(axis: Axis, value: int) -> list[int]:
    return sorted((n for n in range(axis.size) if n != value), key=lambda n: (abs(n - value), n))


def _neighbours(mask: int, offset: int, value: int, axis: Axis) -> bool:
    below = value > 0 and mask >> (offset + value - 1) & 1
    above = value + 1 < axis.size and mask >> (offset + value + 1) & 1
    return bool(below or above)


# -- covering ------------------------------------------------------------------------------------------------


def _cover(axes: Sequence[Axis], rows: Sequence[int], on: Sequence[int]) -> tuple[list[int], bool]:
    """The fewest rows that hold all points, then the shortest to say; and whether it is proved."""
    held: dict[int, tuple[float, int]] = {}
    for row in rows:
        coverage = sum(1 << n for n, point in enumerate(on) if row & point == point)
        cost = _cost(axes, row)
        if coverage and (coverage not in held or (cost, row) < held[coverage]):
            held[coverage] = (cost, row)
    left = (1 << len(on)) - 1
    chosen: list[int] = []
    while True:
        held = _undominated(held)
        needed = _needed(held, left)
        if not needed:
            break
        chosen += [held[coverage][1] for coverage in needed]
        for coverage in needed:
            left &= ~coverage
        held = _restricted(held, left)
        if not left:
            return chosen, True
    picked, proved = _programme(held, left)
    return chosen + picked, proved


def _undominated(held: Mapping[int, tuple[float, int]]) -> dict[int, tuple[float, int]]:
    """Without those that hold no more than a cheaper one does."""
    ranked = sorted(held.items(), key=lambda entry: (-entry[0].bit_count(), entry[1]))
    kept: dict[int, tuple[float, int]] = {}
    for coverage, (cost, row) in ranked:
        if not any(coverage & wider == coverage and other <= cost for wider, (other, _) in kept.items()):
            kept[coverage] = (cost, row)
    return kept


def _needed(held: Mapping[int, tuple[float, int]], left: int) -> list[int]:
    """Rows that alone hold some point."""
    once = twice = 0
    for coverage in held:
        twice |= once & coverage
        once |= coverage
    alone = once & ~twice & left
    return [coverage for coverage in held if coverage & alone]


def _restricted(held: Mapping[int, tuple[float, int]], left: int) -> dict[int, tuple[float, int]]:
    rest: dict[int, tuple[float, int]] = {}
    for coverage, entry in held.items():
        still = coverage & left
        if still and (still not in rest or entry < rest[still]):
            rest[still] = entry
    return rest


def _programme(held: Mapping[int, tuple[float, int]], left: int) -> tuple[list[int], bool]:
    """What dominance leaves, as an integer programme."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    coverages = list(held)
    points = [n for n in range(left.bit_length()) if left >> n & 1]
    matrix = csr_matrix(np.array([[c >> n & 1 for c in coverages] for n in points], dtype=float))
    dearest = 1 + sum(sorted((held[c][0] for c in coverages), reverse=True)[: len(points)])
    objective = np.array([dearest + held[c][0] for c in coverages])
    result = milp(
        objective,
        constraints=LinearConstraint(matrix, lb=np.ones(len(points))),
        integrality=np.ones(len(coverages), dtype=np.int64),
        bounds=Bounds(0, 1),
        options={"time_limit": SOLVER_SECONDS, "mip_rel_gap": 0.0},
    )
    if result.x is None:
        return _greedy(held, left), False
    return [held[c][1] for c, x in zip(coverages, result.x, strict=True) if x > 0.5], result.status == 0


def _greedy(held: Mapping[int, tuple[float, int]], left: int) -> list[int]:
    chosen = []
    while left:
        best = max(held, key=lambda c: ((c & left).bit_count(), -held[c][0]))
        chosen.append(held[best][1])
        left &= ~best
    return chosen


# -- variables that act only together ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Derived:
    """Variables that matter only together: their ``parity``, or (``sorted``) the lower and higher of two."""

    how: str
    members: tuple[int, ...]


def derivations(
    axes: Sequence[Axis], points: Points, alike: Iterable[tuple[int, int]] = ()
) -> tuple[Derived, ...]:
    """Find variables of which only the parity matters, and pairs of which it does not matter which is which.

    Parameters
    ----------
    axes
        The variables.
    points
        Outcome by setting.
    alike
        Pairs that may be looked upon as interchangeable (their values mean the same).

    Returns
    -------
    tuple of Derived
        No variable in two of them.

    Examples
    --------
    Two two-way switches and one lamp:

    >>> points = {(a, b): a ^ b for a in range(2) for b in range(2)}
    >>> derivations([Axis(2), Axis(2)], points)
    (Derived(how='parity', members=(0, 1)),)
    """
    found = [Derived("parity", members) for members in _parities(axes, points)]
    used = {place for derived in found for place in derived.members}
    for a, b in alike:
        if axes[a].size == axes[b].size and not {a, b} & used and _interchangeable(points, a, b):
            found.append(Derived("sorted", (a, b)))
            used |= {a, b}
    return tuple(found)


def _parities(axes: Sequence[Axis], points: Points) -> list[tuple[int, ...]]:
    """Groups of two-valued variables: turning any one over changes something, any two nothing."""
    turning = [p for p, axis in enumerate(axes) if axis.size == 2 and _turns_over(points, p)]
    groups: list[list[int]] = []
    for place in turning:
        for group in groups:
            if all(_only_together(points, place, other) for other in group):
                group.append(place)
                break
        else:
            groups.append([place])
    return [tuple(group) for group in groups if len(group) > 1]


def _flipped(point: Point, *places: int) -> Point:
    return tuple(1 - value if n in places else value for n, value in enumerate(point))


def _turns_over(points: Points, place: int) -> bool:
    return any(points.get(_flipped(point, place), seen) != seen for point, seen in points.items())


def _only_together(points: Points, a: int, b: int) -> bool:
    """Turning both over never changes anything, and somewhere all four settings of the two have been seen."""
    whole = False
    for point, seen in points.items():
        other = points.get(_flipped(point, a, b))
        if other is None:
            continue
        if other != seen:
            return False
        whole = whole or (_flipped(point, a) in points and _flipped(point, b) in points)
    return whole


def _swapped(point: Point, a: int, b: int) -> Point:
    values = list(point)
    values[a], values[b] = values[b], values[a]
    return tuple(values)


def _interchangeable(points: Points, a: int, b: int) -> bool:
    pairs = [
        (seen, points[other])
        for point, seen in points.items()
        if point[a] != point[b] and (other := _swapped(point, a, b)) in points
    ]
    return bool(pairs) and all(one == two for one, two in pairs)


def derived_points(
    axes: Sequence[Axis], points: Points, derived: Derived
) -> tuple[tuple[Axis, ...], dict[Point, int]] | None:
    """The table with derived variables in their members' places.

    Parameters
    ----------
    axes
        The variables.
    points
        Outcome by setting.
    derived
        From :func:`derivations`.

    Returns
    -------
    tuple of axes and points, or None
        The first member's place holds the parity (0 for an even number at 1), or the lower of two; the last
        member's the higher. A place that is no longer needed has one value. None where they do not decide.
    """
    first, last = derived.members[0], derived.members[-1]
    new_axes = list(axes)
    for place in derived.members:
        if derived.how == "parity":
            new_axes[place] = replace(axes[place], size=2 if place == first else 1)
        else:
            new_axes[place] = replace(axes[place], ordered=True)
    made: dict[Point, int] = {}
    for point, seen in points.items():
        values = list(point)
        if derived.how == "parity":
            together = sum(point[place] for place in derived.members) % 2
            for place in derived.members:
                values[place] = together if place == first else 0
        else:
            values[first], values[last] = sorted((point[first], point[last]))
        if made.setdefault(tuple(values), seen) != seen:
            return None
    return tuple(new_axes), made
