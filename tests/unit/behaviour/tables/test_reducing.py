"""The reduction against all rows there are, tried one after another, and against examples worked by hand."""

from itertools import combinations, product
from random import Random

import pytest

from loomlore.behaviour.tables import reducing
from loomlore.behaviour.tables.reducing import Axis, Derived, Row, derivations, derived_points, reduced_table


def choices(axis):
    """Every set of values that a row may allow: any for positions, a run of neighbours for a range."""
    values = range(axis.size)
    if axis.ordered:
        return [frozenset(range(a, b + 1)) for a in values for b in values if a <= b]
    return [frozenset(c) for n in range(1, axis.size + 1) for c in combinations(values, n)]


def fewest_by_trying(axes, points, outcome):
    """The least number of sound rows that hold all points of an outcome, by trying every set of rows."""
    on = [p for p, seen in points.items() if seen == outcome]
    off = [p for p, seen in points.items() if seen != outcome]
    held = set()
    for allowed in product(*(choices(axis) for axis in axes)):
        inside = frozenset(p for p in on if all(v in a for v, a in zip(p, allowed, strict=True)))
        if inside and not any(all(v in a for v, a in zip(p, allowed, strict=True)) for p in off):
            held.add(inside)
    held = [h for h in held if not any(h < other for other in held)]
    for count in range(1, len(on) + 1):
        if any(len(frozenset().union(*chosen)) == len(on) for chosen in combinations(held, count)):
            return count
    return 0


def random_table(seed):
    random = Random(seed)
    axes = [Axis(random.choice((2, 2, 3)), random.random() < 0.3) for _ in range(random.choice((2, 3, 4)))]
    points = {}
    for point in product(*(range(axis.size) for axis in axes)):
        if random.random() < 0.8:  # a fifth of the settings never occur
            points[point] = random.choice((0, 0, 1, 1, 2))
    return axes, points


def holds_exactly(axes, points, rows, otherwise):
    for point, seen in points.items():
        found = {row.outcome for row in rows if row.covers(point)}
        assert found == (set() if seen == otherwise else {seen})
    for row in rows:
        assert all(values in choices(axis) for axis, values in zip(axes, row.allowed, strict=True))


@pytest.mark.parametrize("seed", range(60))
def test_no_table_of_fewer_rows_exists(seed):
    axes, points = random_table(seed)
    reduced = reduced_table(axes, points, otherwise=0)
    holds_exactly(axes, points, reduced.rows, 0)
    assert reduced.exact
    for outcome in set(points.values()) - {0}:
        assert sum(row.outcome == outcome for row in reduced.rows) == fewest_by_trying(axes, points, outcome)


@pytest.mark.parametrize("seed", range(30))
def test_the_quick_way_is_sound_and_says_that_it_is_not_proved(seed, monkeypatch):
    monkeypatch.setattr(reducing, "MOST_WIDEST", 0)
    axes, points = random_table(seed)
    if set(points.values()) <= {0}:
        return
    reduced = reduced_table(axes, points, otherwise=0)
    holds_exactly(axes, points, reduced.rows, 0)
    assert not reduced.exact
    for outcome in set(points.values()) - {0}:
        least = fewest_by_trying(axes, points, outcome)
        assert least <= sum(row.outcome == outcome for row in reduced.rows) <= least + 1


def test_more_than_63_values_go_the_quick_way():
    axes = [Axis(13)] * 5
    random = Random(4)
    points = {tuple(random.randrange(13) for _ in range(5)): n % 2 for n in range(120)}
    reduced = reduced_table(axes, points, otherwise=0)
    assert not reduced.exact
    holds_exactly(axes, points, reduced.rows, 0)


def test_the_cyclic_textbook_function():
    # f(a, b, c) = sum of minterms 0, 1, 2, 5, 6, 7: six prime implicants in a ring, none essential, three
    # needed.
    # A commonplace of the textbooks of switching theory; from memory, and confirmed by trying above.
    minterms = {0, 1, 2, 5, 6, 7}
    points = {(n >> 2, n >> 1 & 1, n & 1): int(n in minterms) for n in range(8)}
    reduced = reduced_table([Axis(2)] * 3, points, otherwise=0)
    assert len(reduced.rows) == 3
    assert fewest_by_trying([Axis(2)] * 3, points, 1) == 3


def test_a_range_is_one_run_of_neighbours():
    # 0, 1 and 3, 4 of five pieces: two rows as a range, one as positions.
    points = {(n,): int(n != 2) for n in range(5)}
    assert len(reduced_table([Axis(5, ordered=True)], points, otherwise=0).rows) == 2
    assert len(reduced_table([Axis(5)], points, otherwise=0).rows) == 1


def test_what_does_not_matter_is_any():
    points = {(a, b, c): int(a == 1) for a in range(3) for b in range(2) for c in range(4)}
    (row,) = reduced_table([Axis(3), Axis(2), Axis(4)], points, otherwise=0).rows
    assert row.allowed == (frozenset({1}), frozenset({0, 1}), frozenset(range(4)))


def test_values_that_never_occur_are_not_said():
    # The lever's middle never occurs with the switch on: "on and 2", not "on and (1 or 2)".
    points = {(0, 0): 0, (0, 1): 0, (0, 2): 0, (1, 0): 0, (1, 2): 1}
    (row,) = reduced_table([Axis(2), Axis(3)], points, otherwise=0).rows
    assert row == Row((frozenset({1}), frozenset({2})), 1)


def test_the_dearer_variable_is_left_out():
    # The second variable always says what the first says; it is a relay's coil and costs more.
    points = {(0, 0): 0, (1, 1): 1}
    (row,) = reduced_table([Axis(2), Axis(2, weight=1.6)], points, otherwise=0).rows
    assert row.allowed == (frozenset({1}), frozenset({0, 1}))


@pytest.mark.parametrize("count", [2, 3, 4])
def test_parity_is_found_and_takes_one_row(count):
    # Two-way and intermediate switches in a row, one more variable that must be on.
    axes = [Axis(2)] * (count + 1)
    points = {p: int(sum(p[:count]) % 2 and p[count]) for p in product(range(2), repeat=count + 1)}
    (derived,) = derivations(axes, points)
    assert derived == Derived("parity", tuple(range(count)))
    assert len(reduced_table(axes, points, otherwise=0).rows) == 2 ** (count - 1)
    together = derived_points(axes, points, derived)
    assert together is not None
    assert len(reduced_table(*together, otherwise=0).rows) == 1


def test_either_of_two_is_no_parity():
    points = {p: int(any(p)) for p in product(range(2), repeat=2)}
    assert derivations([Axis(2), Axis(2)], points) == ()


def test_one_that_ends_the_trial_is_no_parity():
    # A cartridge fires at the first of two causes; both together never occur. That is no parity.
    points = {(0, 0): 0, (0, 1): 1, (1, 0): 1}
    assert derivations([Axis(2), Axis(2)], points) == ()


@pytest.mark.parametrize("seed", range(20))
def test_pairs_taken_together_say_the_same(seed):
    random = Random(seed)
    axes = [Axis(3, ordered=True), Axis(2), Axis(3, ordered=True)]
    by_pair = {(lo, hi, b): random.randrange(2) for lo in range(3) for hi in range(3) for b in range(2)}
    points = {
        (x, b, y): by_pair[min(x, y), max(x, y), b] for x, b, y in product(range(3), range(2), range(3))
    }
    if len(set(points.values())) < 2:
        return
    assert derivations(axes, points, [(0, 2)]) == (Derived("sorted", (0, 2)),)
    together = derived_points(axes, points, Derived("sorted", (0, 2)))
    assert together is not None
    rows = reduced_table(*together, otherwise=0).rows
    for (x, b, y), seen in points.items():
        assert any(row.covers((min(x, y), b, max(x, y))) for row in rows) == bool(seen)
