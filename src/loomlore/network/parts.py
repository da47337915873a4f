"""An installation taken apart at its bus bars, so that a fault is worked out where it is.

Leave the airframe away, and what is left of most installations is a tree of blocks that hang together at
single nodes: the bus bars. There it is taken apart. A *part* is a service, or several that an earth bolt or
a second feed ties together, or the supply; a *hub* is a bus bar at which parts meet::

    battery, machines ── hub ── service          a part sees the others
                          ├──── service          through its hubs alone,
                          └──── feeder ── hub    as currents against volts

Parts that something remembered ties together by what it measures (a cut-out's latch reads volts here and
amperes there) are one part. What else one part's coils do in another is not a matter of this module.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from loomlore.network.conditions import Condition, Measured, StateIs, leaves
from loomlore.network.model import Network, Variable

__all__ = ["Division", "Order", "Part", "divided", "order_of", "whole"]

FEWEST_AT_A_HUB = 3
"""A node is taken for a bus bar where removing it leaves at least this many pieces."""


@dataclass(frozen=True, slots=True)
class Part:
    """``nodes`` and ``branches`` by their numbers in the network; nodes[0] is the airframe.

    ``hubs`` are among its nodes (numbers in the network); ``variables`` are judged by what is in it alone,
    ``exported`` are those of them that move something outside it.
    """

    nodes: tuple[int, ...]
    branches: tuple[int, ...]
    hubs: tuple[int, ...]
    variables: tuple[int, ...]
    exported: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Division:
    """The parts, which part each branch and node is of (a hub: of one of its parts), and the parts at a hub."""

    parts: tuple[Part, ...]
    part_of_branch: tuple[int, ...]
    part_of_node: tuple[int, ...]
    at_hub: dict[int, tuple[int, ...]]


def whole(network: Network) -> Part:
    """The network as one part.

    Parameters
    ----------
    network
        Any network.

    Returns
    -------
    Part
        Without hubs.
    """
    return Part(
        nodes=tuple(range(len(network.node_names))),
        branches=tuple(range(len(network.branches))),
        hubs=(),
        variables=tuple(range(len(network.variables))),
    )


@lru_cache(maxsize=32)
def divided(network: Network) -> Division:
    """Take an installation apart.

    Parameters
    ----------
    network
        Any network.

    Returns
    -------
    Division
        Every branch is in one part; parts and hubs make a tree, or several.
    """
    blocks = _blocks(network)
    hubs = _hubs(blocks)
    group = _grouped(network, blocks, hubs)
    return _division(network, blocks, group, hubs)


# -- blocks: what no single node can part ----------------------------------------------------------------------


def _blocks(network: Network) -> list[frozenset[int]]:
    """Nodes of each block of the network without the airframe; a lone node is a block by itself."""
    around: list[set[int]] = [set() for _ in network.node_names]
    for branch in network.branches:
        if branch.a != branch.b and branch.a and branch.b:
            around[branch.a].add(branch.b)
            around[branch.b].add(branch.a)
    found: list[frozenset[int]] = []
    depth = [0] * len(around)
    low = [0] * len(around)
    for root in range(1, len(around)):
        if not depth[root]:
            found += _blocks_from(root, around, depth, low)
    return found


def _blocks_from(
    root: int, around: list[set[int]], depth: list[int], low: list[int]
) -> Iterator[frozenset[int]]:
    """Depth first, without recursion: an installation's chains are deeper than Python's stack."""
    depth[root] = low[root] = 1
    if not around[root]:
        yield frozenset((root,))
        return
    path: list[tuple[int, int, Iterator[int]]] = [(root, 0, iter(sorted(around[root])))]
    open_edges: list[tuple[int, int]] = []
    while path:
        node, parent, others = path[-1]
        other = next(others, None)
        if other is None:
            path.pop()
            if path:
                above = path[-1][0]
                low[above] = min(low[above], low[node])
                if low[node] >= depth[above]:
                    yield _closed(open_edges, (above, node))
        elif not depth[other]:
            depth[other] = low[other] = depth[node] + 1
            open_edges.append((node, other))
            path.append((other, node, iter(sorted(around[other]))))
        elif other != parent and depth[other] < depth[node]:
            low[node] = min(low[node], depth[other])
            open_edges.append((node, other))


def _closed(open_edges: list[tuple[int, int]], until: tuple[int, int]) -> frozenset[int]:
    nodes: set[int] = set()
    while True:
        edge = open_edges.pop()
        nodes.update(edge)
        if edge == until:
            return frozenset(nodes)


def _hubs(blocks: list[frozenset[int]]) -> set[int]:
    count = Counter(node for block in blocks for node in block)
    return {node for node, pieces in count.items() if pieces >= FEWEST_AT_A_HUB}


# -- parts: blocks that belong together --------------------------------------------------------------------------


def _grouped(network: Network, blocks: list[frozenset[int]], hubs: set[int]) -> list[int]:
    """The group of each block: joined at every node that is no hub, and by what is measured across them."""
    parent = list(range(len(blocks)))
    blocks_at: dict[int, list[int]] = {}
    for number, block in enumerate(blocks):
        for node in block:
            blocks_at.setdefault(node, []).append(number)
    for node, numbers in blocks_at.items():
        if node not in hubs:
            for number in numbers[1:]:
                _unite(parent, numbers[0], number)
    for nodes in (*(_measured_nodes(network, v) for v in network.variables), *_dialled_nodes(network)):
        wanted = {_root(parent, blocks_at[node][0]) for node in nodes if node not in hubs}
        if len(wanted) > 1:
            _unite_paths(parent, blocks, hubs, wanted)
        # what is measured between two hubs is of every part between them
        at_hubs = [node for node in nodes if node in hubs]
        if at_hubs and (wanted or len(at_hubs) > 1):
            starts = wanted or {_root(parent, blocks_at[at_hubs[0]][0])}
            for hub in at_hubs:
                near = {_root(parent, number) for number in blocks_at[hub]}
                if not near & {_root(parent, number) for number in starts}:
                    _unite_paths(parent, blocks, hubs, {*starts, min(near)})
    return [_root(parent, number) for number in range(len(blocks))]


def _root(parent: list[int], number: int) -> int:
    while parent[number] != number:
        parent[number] = number = parent[parent[number]]
    return number


def _unite(parent: list[int], a: int, b: int) -> None:
    a, b = _root(parent, a), _root(parent, b)
    parent[max(a, b)] = min(a, b)


def _unite_paths(parent: list[int], blocks: list[frozenset[int]], hubs: set[int], wanted: set[int]) -> None:
    """Join groups, with all that lie between them on the tree of groups and hubs."""
    hubs_of: dict[int, set[int]] = {}
    for number, block in enumerate(blocks):
        hubs_of.setdefault(_root(parent, number), set()).update(block & hubs)
    first, *others = sorted({_root(parent, number) for number in wanted})
    came: dict[int, int] = {first: first}
    waiting = deque([first])
    while waiting:
        here = waiting.popleft()
        for group, own in hubs_of.items():
            if group not in came and own & hubs_of[here]:
                came[group] = here
                waiting.append(group)
    for other in others:
        while other in came and other != first:
            _unite(parent, other, first)
            other = came[other]  # noqa: PLW2901  the way back is walked
    # groups of different trees have nothing between them
    for other in others:
        _unite(parent, other, first)


def _measured_nodes(network: Network, variable: Variable) -> set[int]:
    """The nodes (not the airframe) whose potentials a variable's next value depends on."""
    branches: set[int] = set()
    nodes: set[int] = set()
    if (
        variable.what in ("coil", "blown", "fired", "sensed")
        and variable.branch >= 0
        and variable.test is None
    ):
        branches.add(variable.branch)
    if variable.latch is not None and variable.latch.lost_with >= 0:
        branches.add(variable.latch.lost_with)
    for leaf in _tests(variable):
        if not isinstance(leaf, Measured):
            continue
        match leaf.of:
            case "volts":
                nodes.update((leaf.a, max(leaf.b, 0)))
            case "group":
                branches.update(leaf.group)
            case "shown":
                dial = network.indications[leaf.a]
                branches.update(n for n in (dial.first, dial.second) if n >= 0)
            case _:
                branches.add(leaf.a)
    for number in branches:
        nodes.update((network.branches[number].a, network.branches[number].b))
    return nodes - {0}


def _dialled_nodes(network: Network) -> Iterator[set[int]]:
    """The nodes that one instrument measures at: a ratio gauge's coils may be fed by different ways."""
    for branch, dials in network.dials.items():
        numbers = {branch}
        for dial in dials:
            numbers |= {
                n for n in (network.indications[dial].first, network.indications[dial].second) if n >= 0
            }
        if len(numbers) > 1:
            yield {node for n in numbers for node in (network.branches[n].a, network.branches[n].b)} - {0}


def _tests(variable: Variable) -> Iterator[Condition]:
    rule = variable.latch
    tests = [variable.test]
    if rule is not None:
        tests += [rule.set, rule.release, rule.set_on, rule.release_on]
    for test in tests:
        if test is not None:
            yield from leaves(test)


def _division(network: Network, blocks: list[frozenset[int]], group: list[int], hubs: set[int]) -> Division:
    nodes: dict[int, set[int]] = {}
    for number, block in enumerate(blocks):
        nodes.setdefault(group[number], set()).update(block)
    groups = sorted(nodes)
    place = {name: number for number, name in enumerate(groups)}
    at_hub: dict[int, list[int]] = {hub: [] for hub in hubs}
    part_of_node = [0] * len(network.node_names)
    for name in groups:
        for node in nodes[name]:
            part_of_node[node] = place[name]
            if node in hubs:
                at_hub[node].append(place[name])
    real = {hub: tuple(parts) for hub, parts in at_hub.items() if len(parts) > 1}
    part_of_branch = [_part_of(branch.a, branch.b, part_of_node, real) for branch in network.branches]
    owner = [_owner(network, variable, part_of_node, real) for variable in network.variables]
    exported = _exported(network, owner, part_of_branch)
    branches_of: list[list[int]] = [[] for _ in groups]
    own: list[list[int]] = [[] for _ in groups]
    for n, part in enumerate(part_of_branch):
        branches_of[part].append(n)
    for n, part in enumerate(owner):
        if part >= 0:
            own[part].append(n)
    parts = [
        Part(
            nodes=(0, *sorted(nodes[name])),
            branches=tuple(branches_of[k]),
            hubs=tuple(sorted(nodes[name] & real.keys())),
            variables=tuple(own[k]),
            exported=tuple(n for n in own[k] if n in exported),
        )
        for k, name in enumerate(groups)
    ]
    return Division(tuple(parts), tuple(part_of_branch), tuple(part_of_node), real)


def _part_of(a: int, b: int, part_of_node: list[int], hubs: dict[int, tuple[int, ...]]) -> int:
    """The part of what joins two nodes: that of the end which is no hub, else one that has both."""
    inner = [node for node in (a, b) if node and node not in hubs]
    if inner:
        return part_of_node[inner[0]]
    common = [set(hubs[node]) for node in (a, b) if node]
    return min(set.intersection(*common)) if common else 0


def _owner(
    network: Network, variable: Variable, part_of_node: list[int], hubs: dict[int, tuple[int, ...]]
) -> int:
    """The part that judges a variable; -1 where nothing measured moves it."""
    nodes = sorted(_measured_nodes(network, variable))
    if not nodes:
        return -1
    inner = [node for node in nodes if node not in hubs]
    if inner:
        return part_of_node[inner[0]]
    common: set[int] = set.intersection(*(set(hubs[node]) for node in nodes))
    return min(common) if common else -1


def _exported(network: Network, owner: list[int], part_of_branch: list[int]) -> set[int]:
    """Variables on which a contact, a machine or a memory of another part than their own depends."""
    found: set[int] = set()
    for number, branch in enumerate(network.branches):
        tests = [
            leaf
            for test in (branch.closed, branch.works, branch.restrained)
            if test is not None
            for leaf in leaves(test)
        ]
        found.update(n for n in _spoken_of(tests) if owner[n] != part_of_branch[number])
    for number, variable in enumerate(network.variables):
        found.update(n for n in _spoken_of(_tests(variable)) if owner[n] != owner[number])
    return found


def _spoken_of(tests: Iterable[Condition]) -> Iterator[int]:
    return (leaf.variable for leaf in tests if isinstance(leaf, StateIs))


# -- the order in which a part's nodes go ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Order:
    """An order of elimination in which every node has an edge to the airframe, for shorts come anywhere.

    ``edges`` are pairs of the part's own node numbers (0 the airframe), those from node k to the airframe
    first: edge k - 1. Each step is (node, ((neighbour, edge), ...), ((edge, edge, edge they add to), ...)).
    """

    nodes: int
    edges: tuple[tuple[int, int], ...]
    number: dict[tuple[int, int], int]
    quiet: tuple[Step, ...]
    live: tuple[Step, ...]


Step = tuple[int, tuple[tuple[int, int], ...], tuple[tuple[int, int, int], ...]]

MOST_AROUND = 2
"""A quiet node with more neighbours than this, besides the airframe, waits for the live ones."""


def order_of(count: int, pairs: Iterable[tuple[int, int]], live: set[int], last: int | None = None) -> Order:
    """Find an order: quiet nodes of few neighbours, the rest by least degree, and one last of all.

    Parameters
    ----------
    count
        Nodes, the airframe with them [1].
    pairs
        What is joined.
    live
        Nodes at which something changes from step to step.
    last
        A node to be kept to the end [1].

    Returns
    -------
    Order
        Deterministic.
    """
    edges = [(0, node) for node in range(1, count)]
    number = {edge: k for k, edge in enumerate(edges)}
    around: list[dict[int, int]] = [{} for _ in range(count)]
    for a, b in pairs:
        if a and b and a != b:
            edge = _numbered(a, b, number, edges)
            around[a][b] = around[b][a] = edge
    quiet = [node for node in range(1, count) if node not in live and node != last]
    gone = _eliminated(quiet, around, number, edges, MOST_AROUND)
    done = {step[0] for step in gone}
    rest = [node for node in range(1, count) if node not in done and node != last]
    kept = _eliminated(rest, around, number, edges, count)
    if last is not None:
        kept += _eliminated([last], around, number, edges, count)
    return Order(count, tuple(edges), number, tuple(gone), tuple(kept))


def _numbered(a: int, b: int, number: dict[tuple[int, int], int], edges: list[tuple[int, int]]) -> int:
    pair = (a, b) if a < b else (b, a)
    if pair not in number:
        number[pair] = len(edges)
        edges.append(pair)
    return number[pair]


def _eliminated(
    pool: list[int],
    around: list[dict[int, int]],
    number: dict[tuple[int, int], int],
    edges: list[tuple[int, int]],
    most: int,
) -> list[Step]:
    from heapq import heapify, heappop, heappush

    waiting = [(len(around[node]), node) for node in pool]
    heapify(waiting)
    left, steps = set(pool), []
    while waiting:
        degree, node = heappop(waiting)
        if node not in left or degree != len(around[node]):
            continue
        if degree > most:
            break
        left.discard(node)
        beside = [(0, node - 1), *sorted(around[node].items())]
        fills = []
        for place, (a, edge_a) in enumerate(beside):
            if a:
                del around[a][node]
            for b, edge_b in beside[place + 1 :]:
                target = _numbered(a, b, number, edges)
                if a:
                    around[a][b] = around[b][a] = target
                fills.append((edge_a, edge_b, target))
        for a, _ in beside[1:]:
            if a in left:
                heappush(waiting, (len(around[a]), a))
        steps.append((node, tuple(beside), tuple(fills)))
    return steps
