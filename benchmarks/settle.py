"""One setting settled warm, and one settled from nothing, against the plain loop: python benchmarks/settle.py

Seconds are the process's own.
"""

import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from time import process_time

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "tests")]

from machine import machine
from plain_loop import PlainLoop

from invented_installation import installation, settings, settled
from loomlore.network.cases import Case
from loomlore.network.plan import scalar_program
from loomlore.network.settling import Memory, Settled, moved, settle
from loomlore.network.solving import prepare


def milliseconds(work: Callable[[], object], count: int = 50) -> float:
    """Median of some runs [ms]."""
    times = []
    for _ in range(count):
        began = process_time()
        work()
        times.append(process_time() - began)
    return 1e3 * median(times)


def anew(memory: Memory, base: Settled) -> None:
    """Settle a memory, starting near the base, with nothing remembered."""
    solver = base.solution.solver
    solver.memo.clear()
    settle(solver, memory, near=base.solution)


def main() -> None:
    """Print the table."""
    network = installation()
    loop = PlainLoop(network)
    print(machine())
    cables = sum(branch.sort == "cable" for branch in network.branches)
    print(f"{len(network.node_names)} nodes, {len(network.branches)} branches, {cables} cables\n")
    print("setting          settled warm   one switch moved   plain loop   warm x plain   (ms)")
    for setting in settings(network):
        base = settled(network, setting)
        switch = network.lever_of["A0.5"]
        other = moved(base.memory, {switch: 1 - base.memory.levers[switch]})

        here, there = (milliseconds(partial(anew, memory, base)) for memory in (base.memory, other))
        plain = milliseconds(partial(loop.settled_case, base, Case()), 20)
        print(f"{setting.name:16} {here:12.2f} {there:18.2f} {plain:12.2f} {plain / here:14.1f}")
    cold = milliseconds(lambda: (scalar_program.cache_clear(), prepare.__wrapped__(network)), 5)
    print(f"\nmaking the solver of the network: {cold:.0f} ms")


if __name__ == "__main__":
    main()
