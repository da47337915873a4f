"""How long the large example's cables, a re-wire and its loads take, and what the network costs among it.

    python benchmarks/sizing.py [--example NAME] [--rounds 3]

Each figure is the best of some rounds, on a dossier opened anew, in one process; reading the text is told
apart. The numbers to keep: all of ``cables`` in 5 s, choosing in 10 s.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path

from loomlore.answers.cables import cables
from loomlore.answers.loads import loads
from loomlore.answers.opening import Opened, open_dossier
from loomlore.sizing.cable_study import cable_study
from loomlore.sizing.duty import study
from loomlore.sizing.rewiring import rewired

EXAMPLES = Path(__file__).parents[1] / "examples"
KEEP = {"cables, all of it": 5.0, "choosing, AWG": 10.0, "choosing, metric": 10.0}


def timed(work: Callable[[], object], rounds: int) -> tuple[float, float]:
    """The best of some rounds: by the clock on the wall, and of the processor's own time [s]."""
    walls, own = [], []
    for _ in range(rounds):
        wall, mine = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        own.append(time.process_time() - mine)
    return min(walls), min(own)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--example", default="mail-amphibian")
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    folder = EXAMPLES / asked.example

    def fresh() -> Opened:
        return open_dossier(folder)

    plant = fresh().plant()
    found = cable_study(plant)
    figures = {
        "opening the dossier": timed(fresh, asked.rounds),
        "one network made": timed(lambda: fresh().plant(), asked.rounds),
        "every setting tried": timed(lambda: study(fresh().plant()), asked.rounds),
        "cables, all of it": timed(lambda: str(cables(fresh())), asked.rounds),
        "choosing, AWG": timed(lambda: rewired(found, catalogue="awg"), asked.rounds),
        "choosing, metric": timed(lambda: rewired(found, catalogue="metric"), asked.rounds),
        "loads, every standard": timed(lambda: str(loads(fresh())), asked.rounds),
    }
    print(f"{asked.example}: {len(found.cables)} cables, {len(found.study.cases)} settings")
    late = 0
    for name, (wall, own) in figures.items():
        limit = KEEP.get(name)
        # one process, one thread: on a machine that others use the processor's own time is the fair one
        slow = limit is not None and own > limit
        kept = "" if limit is None else f"   to keep: {limit:g} s" + ("   TOO SLOW" if slow else "")
        late += slow
        print(f"{name:24}{wall:8.2f} s by the clock{own:8.2f} s of work{kept}")
    return 1 if late else 0


if __name__ == "__main__":
    raise SystemExit(main())
