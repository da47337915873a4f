"""The weakest unstated condition under which a sentence holds, found from the states it held and failed in.

Each state is a row of features (unstated levers and memories) and whether the sentence held. Wanted is a
conjunction of "feature is one of ..." that no failing row keeps to and as many holding rows as possible do,
in as few features as possible.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain, combinations

__all__ = ["Requirement", "Row", "weakest_condition"]

MOST_FEATURES = 3
MOST_TRIED = 14

Row = tuple[float, ...]
"""The values of the features in one state."""


@dataclass(frozen=True, slots=True)
class Requirement:
    """A conjunction: for each feature (by place in the row) the values it may have; how many rows it keeps."""

    allowed: tuple[tuple[int, frozenset[float]], ...]
    kept: int

    def keeps(self, row: Row) -> bool:
        """Whether a row fulfils it."""
        return all(row[feature] in values for feature, values in self.allowed)


def weakest_condition(
    held: Iterable[Row], failed: Iterable[Row], *, ranges: frozenset[int] = frozenset()
) -> Requirement | None:
    """Find the condition.

    Parameters
    ----------
    held
        Rows of the states in which the sentence held.
    failed
        Rows of those in which it did not.
    ranges
        Features whose values are points of a range: only unbroken stretches of them make a condition.

    Returns
    -------
    Requirement or None
        None where no conjunction of up to three features keeps any holding row and no failing one.

    Examples
    --------
    >>> weakest_condition([(1, 0), (1, 1)], [(2, 0), (2, 1)]).allowed
    ((0, frozenset({1})),)
    """
    good, bad = sorted(set(held)), sorted(set(failed))
    if not good or not bad:
        return None
    width = len(good[0])
    varying = [f for f in range(width) if len({row[f] for row in chain(good, bad)}) > 1][:MOST_TRIED]
    best: Requirement | None = None
    for size in range(1, MOST_FEATURES + 1):
        for features in combinations(varying, size):
            found = _rectangle(features, good, bad, ranges)
            if found is not None and (best is None or found.kept > best.kept):
                best = found
        if best is not None and best.kept == len(good):
            return best
    return best


def _rectangle(
    features: Sequence[int], good: Sequence[Row], bad: Sequence[Row], ranges: frozenset[int]
) -> Requirement | None:
    """The best allowed values for these features; the last feature's follow from the others'."""
    *outer, last = features
    best: Requirement | None = None
    whole = {row[last] for row in chain(good, bad)}
    for choice in _choices(outer, good, bad, ranges):
        in_good = [row for row in good if all(row[f] in values for f, values in choice)]
        in_bad = {row[last] for row in bad if all(row[f] in values for f, values in choice)}
        allowed = frozenset(row[last] for row in in_good) - in_bad
        for values in _stretches(sorted(whole), allowed) if last in ranges else (allowed,):
            kept = sum(row[last] in values for row in in_good)
            if kept and (best is None or kept > best.kept) and values != whole:
                best = Requirement((*choice, (last, values)), kept)
    return best


def _stretches(domain: Sequence[float], allowed: frozenset[float]) -> list[frozenset[float]]:
    """Unbroken stretches of a range's values that are all allowed."""
    found: list[frozenset[float]] = []
    going: list[float] = []
    for value in [*domain, None]:
        if value is not None and value in allowed:
            going.append(value)
        elif going:
            found.append(frozenset(going))
            going = []
    return found


def _choices(
    features: Sequence[int], good: Sequence[Row], bad: Sequence[Row], ranges: frozenset[int]
) -> Iterable[tuple[tuple[int, frozenset[float]], ...]]:
    if not features:
        yield ()
        return
    first, *rest = features
    values = sorted({row[first] for row in good})
    if first in ranges:
        domain = sorted({row[first] for row in chain(good, bad)})
        runs = (domain[a:b] for a in range(len(domain)) for b in range(a + 1, len(domain) + 1))
        subsets: Iterable[Iterable[float]] = (run for run in runs if set(run) <= set(values))
    else:
        subsets = chain.from_iterable(combinations(values, n) for n in range(1, min(len(values), 4) + 1))
    for subset in subsets:
        for others in _choices(rest, good, bad, ranges):
            yield ((first, frozenset(subset)), *others)
