"""Whatever the network, its solution is the right one.

Checked against networkx (resistance between nodes), an independent solver on scipy and one at 40 digits in
mpmath (both in ``independent``), and against laws that hold for every network.
"""

import random as chance
from dataclasses import replace
from statistics import median

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from independent import curve_of, forty_digits, independent_potentials
from loomlore.network.laws import OPEN, ConstantPower, Filament, Generator, Source, Straight
from loomlore.network.model import Branch, Network
from loomlore.network.settling import at_rest
from loomlore.network.solving import Solution, prepare, solve
from wiring import RESISTANCES, Wiring, mirrored, random_network

SEEDS = range(200)


def solution_of(network: Network) -> Solution:
    memory = at_rest(network)
    return solve(prepare(network), memory.levers, memory.variables)


def seeded(seed: int, **how) -> Network:
    return random_network(chance.Random(seed), **how)


seeds = st.integers(min_value=0, max_value=10**9)


def test_resistance_between_nodes_is_that_of_networkx():
    for seed in SEEDS:
        random = chance.Random(seed)
        graph = nx.gnm_random_graph(random.randint(3, 25), random.randint(4, 60), seed=seed)
        graph = graph.subgraph(max(nx.connected_components(graph), key=len))
        if len(graph) < 2:
            continue
        wiring = Wiring()
        for a, b, data in graph.edges(data=True):
            data["ohms"] = random.choice((0.01, 0.1, 1.0, 10.0, 47.0))
            wiring.wire(f"{a}-{b}", f"n{a}", f"n{b}", data["ohms"])
        ends = random.sample(sorted(graph.nodes), 2)
        wiring.wire("earth", f"n{ends[1]}", "0", 0.001)
        wiring.add("source", f"n{ends[0]}", f"n{ends[1]}", Source(volts=1.0, resistance=1.0))
        network = wiring.network()
        solution = solution_of(network)
        source = network.branch_of["source"]
        measured = solution.volts(source) / -solution.amps(source)
        assert measured == pytest.approx(nx.resistance_distance(graph, *ends, weight="ohms"), rel=1e-9)


def test_fed_nodes_are_at_the_potentials_of_an_independent_solver():
    compared = 0
    for seed in SEEDS:
        network = seeded(seed)
        ours, theirs = solution_of(network), independent_potentials(network)
        assert not ours.stalled
        for node in range(len(theirs)):
            if not ours.floats(node):
                compared += 1
                assert ours.potentials[node] == pytest.approx(theirs[node], abs=1e-9 * network.supply), seed
    assert compared > 1500


def test_volts_within_islands_are_those_of_forty_digits():
    """Each island hangs on its opens alone; an LU in doubles is not the truth there.

    How high a whole island floats is undefined, and not compared; the airframe's own is island 0.
    """
    compared = 0
    for seed in range(1000, 1400):
        network = seeded(seed, most=16, opens=0.45)
        ours = solution_of(network)
        if not any(ours.islands) or compared > 200:
            continue
        truth = forty_digits(network, ours.potentials)
        for node, first in enumerate(ours.islands):
            compared += ours.floats(node)
            volts = ours.potentials[node] - ours.potentials[first]
            assert abs(float(truth[node] - truth[first] - volts)) < 1e-10 * network.supply, (seed, node)
    assert compared > 200


def stalls_and_steps(networks: range) -> tuple[list[int], list[int]]:
    steps, stalled = [], []
    for seed in networks:
        solution = solution_of(seeded(seed))
        steps.append(solution.steps)
        if solution.stalled:
            stalled.append(seed)
    return stalled, steps


def test_a_hundred_random_networks_are_solved_in_few_steps():
    stalled, steps = stalls_and_steps(range(5000, 5100))
    assert not stalled
    assert median(steps) <= 7
    assert max(steps) <= 30


@pytest.mark.search
@pytest.mark.parametrize("batch", range(5))
def test_eight_hundred_random_networks_are_solved(batch):
    stalled, steps = stalls_and_steps(range(10_000 * (batch + 1), 10_000 * (batch + 1) + 800))
    assert (median(steps), max(steps)) <= (7, 30)
    assert not stalled


def nodal_sums(network: Network, solution: Solution) -> tuple[list[float], list[float]]:
    """Currents out of every node, and the sizes of what was added up there."""
    sums, sizes = [0.0] * len(network.node_names), [0.0] * len(network.node_names)
    for branch in network.branches:
        volts = solution.potentials[branch.a] - solution.potentials[branch.b]
        amps, slope = curve_of(branch)(volts)
        for node, sign in ((branch.a, 1), (branch.b, -1)):
            sums[node] += sign * amps
            # a current g (va - vb) cannot be nearer than g V 1e-16
            sizes[node] += abs(amps) + abs(slope) * 1e-5 * network.supply
    return sums, sizes


@given(seeds)
def test_currents_balance_at_every_node(seed):
    network = seeded(seed)
    sums, sizes = nodal_sums(network, solution_of(network))
    assert all(abs(total) <= 1e-9 * size + 1e-12 for total, size in zip(sums[1:], sizes[1:], strict=True))


@given(seeds)
def test_power_balances(seed):
    network = seeded(seed)
    delivered, residual = solution_of(network).balance
    assert abs(residual) <= 1e-9 * max(delivered, 0.01)  # an idle battery delivers nanowatts


@given(seeds, st.randoms(use_true_random=False))
def test_names_and_order_do_not_matter(seed, random):
    network = seeded(seed)
    count = len(network.node_names)
    new = [0, *random.sample(range(1, count), count - 1)]
    branches = [replace(branch, a=new[branch.a], b=new[branch.b]) for branch in network.branches]
    random.shuffle(branches)
    first = solution_of(network)
    second = solution_of(replace(network, branches=tuple(branches)))
    for node in range(count):
        assert second.potentials[new[node]] == pytest.approx(
            first.potentials[node], abs=1e-9 * network.supply
        )


@given(seeds, st.floats(0.001, 0.999))
def test_a_conductor_in_two_pieces_is_the_same_conductor(seed, share):
    network = seeded(seed)
    wires = [n for n, branch in enumerate(network.branches) if branch.sort == "cable"]
    if not wires:
        return
    number = wires[seed % len(wires)]
    wire = network.branches[number]
    ohms = wire.law.resistance
    middle = len(network.node_names)
    first, second = Straight(resistance=share * ohms), Straight(resistance=(1 - share) * ohms)
    if min(first.resistance, second.resistance) < 1e-5:  # the pieces would be bars, which are capped
        return
    halves = (replace(wire, b=middle, law=first), replace(wire, a=middle, law=second))
    branches = (*network.branches[:number], *halves, *network.branches[number + 1 :])
    cut = replace(network, branches=branches, node_names=(*network.node_names, "middle"))
    before, after = solution_of(network), solution_of(cut)
    for node in range(middle):
        assert after.potentials[node] == pytest.approx(before.potentials[node], abs=1e-9 * network.supply)


def _rounding(network: Network, solution: Solution, node: int) -> float:
    """A battery's short-circuit current, a thousand amperes, rounds to 1e-13 A; what little of it goes astray
    in a network without earth lifts a node that hangs on a rectifier's leak of 1e-7 S."""
    slopes = [
        curve_of(branch)(solution.potentials[branch.a] - solution.potentials[branch.b])[1]
        for branch in network.branches
        if node in (branch.a, branch.b)
    ]
    return 1e-9 * network.supply + 1e-12 / max(abs(slope) for slope in slopes)


@given(seeds)
def test_a_two_wire_installation_works_and_floats(seed):
    """Nothing touches the airframe: the same volts between nodes as with its return earthed."""
    floating = seeded(seed, floats=True)
    back = floating.node_of["return"]
    earth = Branch(name="earth", a=back, b=0, law=Straight(resistance=0.001), sort="bond")
    earthed = replace(floating, branches=(*floating.branches, earth))
    loose, held = solution_of(floating), solution_of(earthed)
    assert all(loose.floats(node) for node in range(1, len(floating.node_names)))
    assert loose.between(back, -1) is None
    for node in range(1, len(floating.node_names)):
        volts = held.between(node, back)
        if volts is not None:
            assert loose.between(node, back) == pytest.approx(volts, abs=_rounding(floating, held, node))


@given(seeds)
def test_positive_earth_is_the_mirror_image(seed):
    network = seeded(seed)
    plus, minus = solution_of(network), solution_of(mirrored(network))
    for node in range(len(network.node_names)):
        assert minus.potentials[node] == pytest.approx(-plus.potentials[node], abs=1e-9 * network.supply)
    for number in range(len(network.branches)):
        scale = max(1.0, abs(plus.amps(number)), 1e-4 * _conductance_of(network.branches[number]))
        assert minus.amps(number) == pytest.approx(plus.amps(number), abs=1e-8 * scale)


def _conductance_of(branch: Branch) -> float:
    return curve_of(branch)(0.0)[1]


@given(seeds)
def test_a_start_elsewhere_ends_at_the_same_place(seed):
    """All laws but constant power are monotone; those keep one solution by their working volts."""
    network = seeded(seed)
    cold = solution_of(network)
    memory = at_rest(network)
    other = replace(cold, potentials=[0.3 * v for v in cold.potentials])
    prepare(network).memo.clear()  # or it would remember the first
    warm = solve(prepare(network), memory.levers, memory.variables, near=other)
    if any(isinstance(branch.law, ConstantPower) for branch in network.branches):
        return
    for node in range(len(network.node_names)):
        if not cold.floats(node):
            assert warm.potentials[node] == pytest.approx(cold.potentials[node], abs=1e-9 * network.supply)


@given(st.floats(0.05, 0.5), st.floats(1.0, 60.0), st.floats(-60.0, 60.0))
def test_laws_are_monotone(cold, rated, volts):
    lamp = Filament(volts=rated, amps=1.0, cold=cold)
    amps, slope = lamp.amps_and_slope(volts)
    assert slope > 0
    assert amps * volts >= 0
    machine = Generator(
        volts=24.0,
        amps=36.0,
        held=28.0,
        droop=0.5,
        residual=1.5,
        resistance=0.04,
        open_volts=40.0,
        cuts_in=1.0,
        full_at=2.0,
    )
    for speed in (0.0, 0.3, 0.9, 1.0, 1.5, 3.0):
        pieces = machine.pieces(True, speed)
        assert pieces.amps(volts) <= pieces.amps(volts + 0.01)


def test_an_open_is_never_nothing():
    wiring = Wiring()
    wiring.add("source", "a", "0", Source(volts=24.0, resistance=0.01))
    wiring.contact("switch", "a", "b", wiring.on("switch"))
    wiring.wire("load", "b", "0", 24.0)
    solution = solution_of(wiring.network())
    assert solution.potentials[wiring.nodes["b"]] == pytest.approx(24.0 * 24.0 * OPEN, rel=1e-6)
    assert RESISTANCES[0] == 1e-5
