"""Parts on sheets: inside the field, apart from one another, spread over what is left."""

import random
from itertools import combinations

import pytest

from loomlore.drawing.packing import GAP, packed, split
from loomlore.drawing.scene import Box


def boxes(sizes, made):
    return [
        Box(x, y, x + w * made.scale, y + h * made.scale)
        for (x, y), (w, h) in zip(made.corners, sizes, strict=True)
    ]


@pytest.mark.parametrize("seed", range(12))
def test_parts_stand_inside_and_apart(seed):
    chance = random.Random(seed)
    sizes = [(chance.uniform(20, 150), chance.uniform(20, 120)) for _ in range(chance.randint(1, 9))]
    made = packed(sizes, field=(390.0, 420.0))
    if made is None:
        assert sum((w + GAP) * (h + GAP) for w, h in sizes) > 0.5 * 390 * 420
        return
    placed = boxes(sizes, made)
    assert all(
        b.left >= -1e-6 and b.top >= -1e-6 and b.right <= 390.001 and b.bottom <= 420.001 for b in placed
    )
    assert not any(a.grown(GAP - 0.05).overlaps(b) for a, b in combinations(placed, 2))


def test_one_part_stands_in_the_middle_at_the_largest_scale():
    made = packed([(100.0, 50.0)], field=(160.0, 200.0), scales=(2.0, 1.5, 1.0))
    assert made.scale == 1.5
    assert made.corners == ((5.0, 62.5),)


def test_what_does_not_fit_is_refused():
    assert packed([(100.0, 50.0)], field=(90.0, 200.0)) is None


def test_parts_are_shared_out_in_their_order():
    assert split([(80.0, 80.0)] * 3, field=(100.0, 200.0)) == [[0, 1], [2]]
