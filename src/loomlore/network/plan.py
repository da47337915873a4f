"""The order of elimination, found once for a network: which node goes when, and what that does to the rest.

Star-mesh: a node k with conductances g_i to its neighbours goes, and each pair of neighbours gets
g_i g_j / s between them, s = sum of the g_i; an injected current J_k is shared out as g_i / s. With
conductances alone nothing is ever subtracted, so an open of 1e-12 S and a bus bar of 1e5 S live together
without loss of digits. Nodes that no *live* branch (one whose law is not straight) touches go first: what
they leave behind holds for every step of Newton's method within a round.

The plan is numbers only. :func:`scalar_program` writes straight-line Python for one case from it; the bulk
solver runs the same numbers over arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

__all__ = ["Elimination", "Plan", "Program", "plan_for", "scalar_program"]


QUIET_DEGREE = 3
"""A quiet node with more neighbours than this stays among the live ones (measured: 2 to 4 cost the same)."""


@dataclass(frozen=True, slots=True)
class Elimination:
    """One node's going: its edges as (neighbour, edge), and its fills as (edge, edge, edge they add to)."""

    node: int
    edges: tuple[tuple[int, int], ...]
    fills: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """``edges`` are node pairs (fills at the end); ``quiet`` go first and once, ``live`` at every step.

    Bars with many neighbours stay among the live ones: gone early they would tie all their loads together.
    ``edge_of_branch`` gives each branch its edge (-1: both ends on one node).
    """

    nodes: int
    edges: tuple[tuple[int, int], ...]
    edge_of_branch: tuple[int, ...]
    quiet: tuple[Elimination, ...]
    live: tuple[Elimination, ...]


def plan_for(nodes: int, ends: Sequence[tuple[int, int]], live_branches: Sequence[int]) -> Plan:
    """Find an order of elimination: least degree first, quiet nodes before live ones.

    Parameters
    ----------
    nodes
        How many; node 0 is the reference and never goes.
    ends
        The two nodes of each branch.
    live_branches
        Branches whose conductance changes from step to step.

    Returns
    -------
    Plan
        Deterministic: ties go by node number.
    """
    edge_number: dict[tuple[int, int], int] = {}
    edges: list[tuple[int, int]] = []
    edge_of_branch = [_edge(a, b, edge_number, edges) for a, b in ends]
    neighbours: list[dict[int, int]] = [{} for _ in range(nodes)]
    for number, (a, b) in enumerate(edges):
        neighbours[a][b] = number
        neighbours[b][a] = number
    live_nodes = {node for branch in live_branches for node in ends[branch]} - {0}
    quiet_nodes = [node for node in range(1, nodes) if node not in live_nodes]
    quiet = _eliminate(quiet_nodes, neighbours, edge_number, edges, most=QUIET_DEGREE)
    gone = {step.node for step in quiet}
    kept = [node for node in range(1, nodes) if node not in gone]
    live = _eliminate(kept, neighbours, edge_number, edges)
    return Plan(nodes, tuple(edges), tuple(edge_of_branch), quiet, live)


def _edge(a: int, b: int, numbers: dict[tuple[int, int], int], edges: list[tuple[int, int]]) -> int:
    if a == b:
        return -1
    pair = (a, b) if a < b else (b, a)
    if pair not in numbers:
        numbers[pair] = len(edges)
        edges.append(pair)
    return numbers[pair]


def _eliminate(
    pool: list[int],
    neighbours: list[dict[int, int]],
    numbers: dict[tuple[int, int], int],
    edges: list[tuple[int, int]],
    *,
    most: int | None = None,
) -> tuple[Elimination, ...]:
    """Eliminate a pool of nodes, least degree first, until only nodes of more than ``most`` neighbours are left."""
    from heapq import heapify, heappop, heappush

    waiting = [(len(neighbours[node]), node) for node in pool]
    heapify(waiting)
    left, steps = set(pool), []
    while waiting:
        degree, node = heappop(waiting)
        if node not in left or degree != len(neighbours[node]):
            continue
        if most is not None and degree > most:
            break
        left.discard(node)
        around = sorted(neighbours[node].items())
        fills = []
        for place, (a, edge_a) in enumerate(around):
            del neighbours[a][node]
            for b, edge_b in around[place + 1 :]:
                target = _edge(a, b, numbers, edges)
                neighbours[a][b] = target
                neighbours[b][a] = target
                fills.append((edge_a, edge_b, target))
        for a, _ in around:
            if a in left:
                heappush(waiting, (len(neighbours[a]), a))
        steps.append(Elimination(node, tuple(around), tuple(fills)))
    return tuple(steps)


@dataclass(frozen=True, slots=True)
class Program:
    """Straight-line functions for one case.

    ``quiet(g)`` takes the edges' conductances (a list, original edges first) and returns the list with all
    fills made by the quiet nodes; ``live(g, j)`` takes that list with the live branches added and the
    injected currents of the live nodes by node, and returns the potentials of the live nodes by node;
    ``back(g, v)`` puts the potentials of the quiet nodes into ``v``.
    """

    quiet: Callable[[list[float]], list[float]]
    live: Callable[[list[float], list[float]], list[float]]
    back: Callable[[list[float], list[float]], None]


_DEAD = 1e-10
"""A pivot [S] under this is an island's last: what is injected there is rounding, and how high the island
floats is undefined; the volts within it are good."""


@lru_cache(maxsize=64)
def scalar_program(plan: Plan) -> Program:
    """Write and compile the three functions of a plan.

    Parameters
    ----------
    plan
        From :func:`plan_for`.

    Returns
    -------
    Program
        The same plan gives the same functions.
    """
    made: dict[str, Any] = {}
    text = "\n".join((_quiet_text(plan), _live_text(plan), _back_text(plan)))
    exec(compile(text, "<elimination>", "exec"), made)  # noqa: S102  written from whole numbers alone
    return Program(made["quiet"], made["live"], made["back"])


def _quiet_text(plan: Plan) -> str:
    lines = ["def quiet(g):"]
    for step in plan.quiet:
        if step.fills:
            lines.append(f"    s = 1.0/({_sum(step)})")
            lines += [f"    g[{t}] += g[{a}]*g[{b}]*s" for a, b, t in step.fills]
    return "\n".join([*lines, "    return g", ""])


def _sum(step: Elimination) -> str:
    return "+".join(f"g[{edge}]" for _, edge in step.edges)


def _live_text(plan: Plan) -> str:
    """Forward over local names (the fastest that Python has), then back."""
    local = {edge for step in plan.live for _, edge in step.edges}
    lines = ["def live(g, j):"]
    lines += [f"    g{edge} = g[{edge}]" for edge in sorted(local)]
    lines += [f"    j{step.node} = j[{step.node}]" for step in plan.live]
    for step in plan.live:
        if not step.edges:
            continue
        lines.append(f"    s{step.node} = " + "+".join(f"g{edge}" for _, edge in step.edges))
        lines.append(f"    q = 1.0/s{step.node}")
        lines += [f"    g{t} += g{a}*g{b}*q" for a, b, t in step.fills]
        lines.append(f"    if s{step.node} > {_DEAD} or s{step.node} < -{_DEAD}:")
        lines.append(f"        q *= j{step.node}")
        lines += [f"        j{n} += g{edge}*q" for n, edge in step.edges if n]
        lines.append("        pass")
        lines.append(f"    else: j{step.node} = 0.0")
    lines.append("    v0 = 0.0")
    for step in reversed(plan.live):
        if not step.edges:
            lines.append(f"    v{step.node} = 0.0")
            continue
        terms = "+".join([f"j{step.node}"] + [f"g{edge}*v{n}" for n, edge in step.edges if n])
        lines.append(f"    v{step.node} = ({terms})/s{step.node}")
    lines.append(f"    v = [0.0]*{plan.nodes}")
    lines += [f"    v[{step.node}] = v{step.node}" for step in plan.live]
    return "\n".join([*lines, "    return v", ""])


def _back_text(plan: Plan) -> str:
    lines = ["def back(g, v):"]
    for step in reversed(plan.quiet):
        if step.edges:
            terms = "+".join(f"g[{edge}]*v[{n}]" for n, edge in step.edges if n) or "0.0"
            lines.append(f"    v[{step.node}] = ({terms})/({_sum(step)})")
    return "\n".join([*lines, "    return None", ""])
