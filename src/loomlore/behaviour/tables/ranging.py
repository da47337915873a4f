"""The values of a lever that are worth trying: its positions, or one in each piece of its range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from loomlore.network.building import Plant
from loomlore.network.laws import Generator

__all__ = ["Edge", "Scale", "scale_of"]


@dataclass(frozen=True, slots=True)
class Edge:
    """Where one piece of a range ends and the next begins; ``exact`` where a condition says so."""

    value: float
    exact: bool


@dataclass(frozen=True, slots=True)
class Scale:
    """The values of a lever that are tried: its positions, or one for each piece between ``edges``."""

    lever: int
    values: tuple[float, ...]
    edges: tuple[Edge, ...] = ()

    def place(self, value: float) -> int:
        """Which piece (or position) a value is in."""
        if not self.edges:
            return round(value)
        place = 0
        for edge in self.edges:
            below = self.values[place] == edge.value
            if value > edge.value or (value == edge.value and not below):
                place += 1
        return min(place, len(self.values) - 1)


def scale_of(plant: Plant, lever: int, cuts: Sequence[float], *, smooth: int) -> Scale:
    """The values of a lever that are tried.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.
    cuts
        Values at which a condition changes its mind, in the unit of the lever [1].
    smooth
        How many pieces at least a range is cut into, besides.

    Returns
    -------
    Scale
        All positions, or a value in each piece.
    """
    record = plant.network.levers[lever]
    if record.positions:
        return Scale(lever, tuple(float(n) for n in range(len(record.positions))))
    exact = {cut for cut in cuts if record.low <= cut <= record.high}
    width = record.high - record.low
    between = {record.low + width * n / smooth for n in range(1, smooth)} if smooth else set()
    between |= {cut for b in plant.network.branches if b.follows == lever for cut in _machine_cuts(b.law)}
    between = {b for b in between if all(abs(b - cut) > width / 40 for cut in exact)}
    inner = sorted(cut for cut in exact | between if record.low < cut < record.high)
    ends = [record.low, *inner, record.high]
    values = [(a + b) / 2 for a, b in pairwise(ends)]
    edges = [Edge(cut, cut in exact) for cut in inner]
    if record.low in exact:
        values, edges = [record.low, *values], [Edge(record.low, True), *edges]
    elif smooth:
        values[0] = record.low
    if record.high in exact:
        values, edges = [*values, record.high], [*edges, Edge(record.high, True)]
    elif smooth:
        values[-1] = record.high
    return Scale(lever, tuple(values), tuple(edges))


def _machine_cuts(law: object) -> tuple[float, ...]:
    """Speeds at which a generator comes in and reaches its full current."""
    return (law.cuts_in, law.full_at) if isinstance(law, Generator) else ()
