"""Wires through the channels: which wire takes which track, and how high everything stands.

Method ------ In a channel every wire is straight, or has one horizontal run between upright ends. Two runs
that overlap take different tracks; the order of tracks is the one with the fewest crossings; where an upright
end of one would lie on that of another (one from above, one from below, at the same x) the first must turn
off above the second. A ring of such demands is cut by a dog-leg: the wire turns twice.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from loomlore.drawing.bodies import GRID

__all__ = ["CLEAR", "TRACK", "Run", "Tracked", "tracked"]

TRACK = 2.5
CLEAR = 1.9  # upright wires nearer than this would touch [mm]; parallel wires stand at least this far apart


@dataclass(frozen=True)
class Run:
    """A wire's way through one channel: its ends, and on which edge (True: the upper) each lies.

    ``before`` names the run that must lie above this one: the first half of a dog-leg.
    """

    wire: str
    ends: tuple[tuple[float, bool], tuple[float, bool]]
    before: str = ""
    half: int = 0

    @property
    def left(self) -> float:
        """Leftmost end [mm]."""
        return min(self.ends[0][0], self.ends[1][0])

    @property
    def right(self) -> float:
        """Rightmost end [mm]."""
        return max(self.ends[0][0], self.ends[1][0])

    @property
    def straight(self) -> bool:
        """Whether it needs no track."""
        return self.ends[0][0] == self.ends[1][0] and self.ends[0][1] != self.ends[1][1]

    def uprights(self, *, upper: bool) -> list[float]:
        """Return where it meets an edge [mm]."""
        return [x for x, above in self.ends if above == upper]


@dataclass(frozen=True)
class Tracked:
    """A channel's runs with their tracks, counted from above; straight runs have none."""

    runs: tuple[Run, ...]
    track: dict[tuple[str, int], int] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many tracks are used."""
        return 1 + max(self.track.values(), default=-1)


def tracked(runs: Sequence[Run]) -> Tracked:
    """Give every run of a channel its track.

    Parameters
    ----------
    runs : sequence of Run
        All wires of the channel.

    Returns
    -------
    Tracked
        With dog-legs where the demands form a ring.
    """
    bent = [run for run in runs if not run.straight]
    straight = [run for run in runs if run.straight]
    bent = _without_rings(bent, straight)
    order = _best_order(bent)
    return Tracked((*bent, *straight), _levels(order))


def _key(run: Run) -> tuple[str, int]:
    return run.wire, run.half


def _must_be_above(one: Run, other: Run) -> bool:
    """One must turn off above the other where its upper end and the other's lower end are in line."""
    if one.wire == other.wire:
        return one.half < other.half
    tops, bottoms = one.uprights(upper=True), other.uprights(upper=False)
    return any(abs(a - b) < CLEAR for a in tops for b in bottoms)


def _crossings(above: Run, below: Run) -> int:
    """Count the crossings of two runs when the first lies above the second."""
    if above.wire == below.wire:
        return 0
    count = sum(above.left < x < above.right for x in below.uprights(upper=True))
    return count + sum(below.left < x < below.right for x in above.uprights(upper=False))


def _without_rings(bent: list[Run], straight: list[Run]) -> list[Run]:
    for _ in range(12):
        ring = _ring(bent)
        if not ring:
            return bent
        choices = [
            run for run in ring if run.half == 0 and run.uprights(upper=True) and run.uprights(upper=False)
        ]
        cut = max(choices or ring, key=lambda run: (run.right - run.left, run.wire))
        bent = [run for run in bent if run is not cut] + _dog_leg(cut, [*bent, *straight])
    return bent


def _ring(bent: list[Run]) -> list[Run]:
    """Return the runs of a ring of demands, or nothing."""
    left = list(bent)
    while True:
        free = [
            run for run in left if not any(_must_be_above(other, run) for other in left if other is not run)
        ]
        if not free:
            break
        left = [run for run in left if run not in free]
        if not left:
            return []
    while left:
        last = [
            run for run in left if not any(_must_be_above(run, other) for other in left if other is not run)
        ]
        if not last:
            return left
        left = [run for run in left if run not in last]
    return []


def _dog_leg(run: Run, others: list[Run]) -> list[Run]:
    taken = [x for other in others for x, _ in other.ends]
    first, last = run.ends if run.ends[0][1] else run.ends[::-1]
    middle = (first[0] + last[0]) / 2
    steps = [
        round(middle / GRID) * GRID + GRID * n for n in sorted(range(-40, 41), key=lambda n: (abs(n), n))
    ]
    x = next((x for x in steps if all(abs(x - t) >= CLEAR for t in taken)), middle)
    return [
        replace(run, ends=(first, (x, False)), half=0),
        replace(run, ends=((x, True), last), half=1),
    ]


def _best_order(bent: list[Run]) -> list[Run]:
    """Order the runs from above by insertion, fewest crossings, every demand kept."""
    order = sorted(bent, key=_natural)

    def cost(row: list[Run]) -> int:
        total = 0
        for n, above in enumerate(row):
            for below in row[n + 1 :]:
                total += _crossings(above, below) + 1000 * _must_be_above(below, above)
        return total

    best = cost(order)
    for _ in range(5):
        before = best
        for run in list(order):
            rest = [other for other in order if other is not run]
            for n in range(len(order)):
                tried = [*rest[:n], run, *rest[n:]]
                now = cost(tried)
                if now < best:
                    order, best = tried, now
        if best == before:
            break
    return order


def _natural(run: Run) -> tuple[int, float, str, int]:
    upper = len(run.uprights(upper=True))
    return 2 - upper, run.right - run.left if upper == 0 else run.left - run.right, run.wire, run.half


def _touch(one: Run, other: Run) -> bool:
    return one.left < other.right + CLEAR and other.left < one.right + CLEAR


def _levels(order: list[Run]) -> dict[tuple[str, int], int]:
    level: dict[tuple[str, int], int] = {}
    for n, run in enumerate(order):
        over = [level[_key(other)] for other in order[:n] if _touch(run, other)]
        level[_key(run)] = max(over, default=-1) + 1
    return _sunk(order, level)


def _sunk(order: list[Run], level: dict[tuple[str, int], int]) -> dict[tuple[str, int], int]:
    """Let runs with both ends below lie as low as they may: their legs grow shorter."""
    lowest = max(level.values(), default=0)
    for n in range(len(order) - 1, -1, -1):
        run = order[n]
        if not run.uprights(upper=True):
            under = [level[_key(other)] for other in order[n + 1 :] if _touch(run, other)]
            level[_key(run)] = min(under, default=lowest + 1) - 1
    return level
