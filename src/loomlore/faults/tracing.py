"""The path of a current: from the source, through what it works, to the return, branch by branch.

At each node the way goes on with the largest current, so that the path is the one that feeds the thing; small
side currents are left to themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from loomlore.behaviour.tables.telling import listed
from loomlore.faults.terminals import branch_words, terminal_words
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Fuse, Generator, Source
from loomlore.network.model import Branch
from loomlore.network.settling import Settled

__all__ = ["Path", "Step", "path_through", "path_words"]

LEAST = 1e-5
"""Amperes that are followed."""


@dataclass(frozen=True, slots=True)
class Step:
    """One branch on a way: where the current enters it and where it leaves it, by the names of the nodes.

    ``name`` and ``sort`` are the branch's own: a cable's is its id, a contact's or element's ``item.part``, a
    plug way's ``item.way``, a bolt's ``earth.bolt``; a bridge is new, put in by a fault, and on no drawing.
    ``against`` says that the current goes from the branch's second end to its first.
    """

    name: str
    sort: str
    enters: str
    leaves: str
    against: bool


@dataclass(frozen=True, slots=True)
class Path:
    """Branches in order of the current; ``at`` is the place of the one asked for."""

    steps: tuple[Step, ...]
    amps: float
    at: int = 0

    @property
    def names(self) -> tuple[str, ...]:
        """Names alone."""
        return tuple(step.name for step in self.steps)


def path_through(settled: Settled, start: int, extra: Sequence[Branch] = ()) -> Path:
    """The way of the current through one branch.

    Parameters
    ----------
    settled
        How things stand.
    start
        Number of a branch that carries current.
    extra
        New branches that a fault has put in.

    Returns
    -------
    Path
        From a source's live side to the airframe or the source's return.
    """
    solution = settled.solution
    branches = [*solution.solver.network.branches, *extra]
    count = len(branches) - len(extra)

    def amps(number: int) -> float:
        if number < count:
            return solution.amps(number)
        b = branches[number]
        return (solution.potentials[b.a] - solution.potentials[b.b]) / max(
            getattr(b.law, "resistance", 1.0), 1e-9
        )

    into: dict[int, list[tuple[float, int, int]]] = {}
    out: dict[int, list[tuple[float, int, int]]] = {}
    for number, branch in enumerate(branches):
        flow = amps(number)
        if abs(flow) < LEAST:
            continue
        a, b = (branch.a, branch.b) if flow > 0 else (branch.b, branch.a)
        out.setdefault(a, []).append((abs(flow), number, b))
        into.setdefault(b, []).append((abs(flow), number, a))
    flow = amps(start)
    here = branches[start]
    first, last = (here.a, here.b) if flow >= 0 else (here.b, here.a)
    before = _walk(branches, into, first, start, upstream=True)
    after = _walk(branches, out, last, start, upstream=False)
    numbers = [*reversed(before), start, *after]
    nodes = solution.solver.network.node_names
    steps = []
    for n in numbers:
        branch, against = branches[n], amps(n) < 0
        ends = nodes[branch.a], nodes[branch.b]
        enters, leaves = reversed(ends) if against else ends
        steps.append(Step(branch.name, branch.sort, enters, leaves, against))
    return Path(tuple(steps), abs(flow), len(before))


def _walk(
    branches: Sequence[Branch],
    ways: dict[int, list[tuple[float, int, int]]],
    node: int,
    start: int,
    *,
    upstream: bool,
) -> list[int]:
    steps: list[int] = []
    seen = {start}
    while node or upstream:
        choices = [way for way in ways.get(node, ()) if way[1] not in seen]
        if not choices:
            break
        _, number, node = max(choices)
        seen.add(number)
        if isinstance(branches[number].law, Battery | Generator | Source):
            if upstream:
                steps.append(number)
            break
        steps.append(number)
    return steps


def path_words(plant: Plant, path: Path, extra: Sequence[Branch] = ()) -> str:
    """A path in words, from the last fuse before the load, or from the source where there is none.

    Parameters
    ----------
    plant
        The installation.
    path
        From :func:`path_through`.
    extra
        New branches that a fault has put in.

    Returns
    -------
    str
        Such as ``from fuse box A way 2 by H1, hail box upper feed, ... to the switch bolt``.
    """
    known = {b.name: b for b in (*plant.network.branches, *extra)}
    steps = [(known[step.name], step.against) for step in path.steps]
    begins = 0
    for place, (branch, against) in enumerate(steps[: path.at]):
        if isinstance(branch.law, Fuse) and not against:
            begins = place
    ends = len(steps)
    last = steps[-1][0]
    if last.sort == "bolt":
        ends -= 1
    said = [
        branch_words(plant, b.name, b.sort)
        + (" backwards" if against and b.sort not in ("element", "bridge", "bond") else "")
        for b, against in steps[begins + 1 : ends]
    ]
    head = branch_words(plant, steps[begins][0].name, steps[begins][0].sort)
    if last.sort == "bridge" and said:
        said, tail = said[:-1], f"the airframe, where {last.name.partition(' ')[0]} touches it"
    else:
        tail = terminal_words(plant, last.name) if last.sort == "bolt" else "the return"
    return f"from {head} by {listed(said)} to {tail}" if said else f"from {head} to {tail}"
