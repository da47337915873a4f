"""Cases in bulk are the cases one by one: same volts, same memory, same events, same states.

The measure is :func:`settled_case`, which has its own tests against other solvers.
"""

import random as chance
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from invented_installation import installation, settings, settled
from loomlore.network.batches import Bulk, Outcome, bulk_of, settle_cases
from loomlore.network.cases import Case, bridged, opened, refitted, settled_case, shorted, stuck_closed
from loomlore.network.conditions import ALWAYS, AllOf, Measured
from loomlore.network.laws import (
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Meter,
    Rectifier,
    Source,
    Straight,
)
from loomlore.network.model import Indication, Network
from loomlore.network.parts import divided
from loomlore.network.settling import Settled, at_rest, moved, settle
from loomlore.network.solving import prepare
from wiring import Wiring, pulled, random_network, released

COIL = Coil(resistance=80.0, pulls_in=14.0, drops_out=6.0)


def random_case(network: Network, random: chance.Random) -> Case:
    branch = random.randrange(len(network.branches))
    node, other = (random.randrange(1, len(network.node_names)) for _ in range(2))
    law = network.branches[branch].law
    match random.randrange(6):
        case 0 | 1:
            return opened(network, branch)
        case 2:
            return shorted(network, node, resistance=random.choice((0.001, 0.1, 5.0)))
        case 3 if node != other:
            return bridged(network, node, other, resistance=random.choice((0.001, 1.0)))
        case 4 if network.branches[branch].closed is not None:
            return stuck_closed(network, branch)
        case _ if isinstance(law, Filament):
            return refitted(network, branch, replace(law, volts=law.volts * 2))
        case _ if isinstance(law, Fuse):
            return refitted(network, branch, replace(law, carrying=3 * law.carrying, fusing=3 * law.fusing))
        case _ if isinstance(law, Generator):
            return refitted(network, branch, replace(law, mode=random.choice(("open", "stuck"))))
        case _ if isinstance(law, Straight):
            return refitted(network, branch, Straight(resistance=law.resistance + random.choice((0.2, 5.0))))
    return opened(network, branch)


def check(base: Settled, case: Case, outcome: Outcome) -> None:
    network = base.solution.solver.network
    alone = settled_case(base, case)
    assert outcome.variables == alone.memory.variables
    assert outcome.timers == alone.memory.timers
    assert {(e.what, e.names) for e in outcome.events} == {(e.what, e.names) for e in alone.events}
    for e in outcome.events:
        twin = next(other for other in alone.events if (other.what, other.names) == (e.what, e.names))
        assert e.amps == pytest.approx(twin.amps, rel=1e-6)
    assert outcome.states == {n: alone.solution.state(n) for n in outcome.states}
    assert len(outcome.states) == sum(bool(b.law.states) or b.memory >= 0 for b in network.branches)
    islands, volts, ours = alone.solution.islands, alone.solution.potentials, outcome.potentials
    # without earth a battery's thousand short-circuit amperes round to 1e-13 A, and lift what hangs on a leak
    share = 1e-9 if any(0 in (branch.a, branch.b) for branch in network.branches) else 1e-8
    for node, first in enumerate(islands):
        there = ours[node] - ours[first]
        assert there == pytest.approx(volts[node] - volts[first], abs=share * network.supply)


def compare(base: Settled, cases: list[Case], bulk: Bulk | None = None) -> dict[str, int]:
    outcomes = settle_cases(bulk or bulk_of(base, entire=False), cases)
    for case, outcome, changes in zip(cases, outcomes, outcomes.changes, strict=True):
        check(base, case, outcome)
        standing = base.solution.state
        moved = {(n, standing(n), now) for n, now in outcome.states.items() if now != standing(n)}
        assert set(changes) == moved
    return outcomes.counts


def in_every_setting(count: int, seed: int, *, entire: bool = False) -> dict[str, int]:
    network = installation()
    random = chance.Random(seed)
    counts: dict[str, int] = {}
    like = None
    for setting in settings(network):
        base = settled(network, setting)
        like = bulk_of(base, like=like, entire=entire)
        cases = [random_case(network, random) for _ in range(count)]
        outcomes = compare(base, cases, like)
        for how, number in outcomes.items():
            counts[how] = counts.get(how, 0) + number
    return counts


def test_cases_of_an_installation_in_every_setting():
    counts = in_every_setting(12, seed=1)
    assert counts["part"] > 40
    assert counts["whole"] > 0


def test_cases_of_an_installation_by_what_they_change():
    counts = in_every_setting(12, seed=1, entire=True)
    assert counts["part"] == 0
    assert counts["alone"] < 6


@pytest.mark.search
@pytest.mark.parametrize("entire", [False, True])
def test_four_hundred_and_two_cases_of_an_installation(entire):
    assert sum(in_every_setting(67, seed=2, entire=entire).values()) == 402


@hypothesis_settings(max_examples=25)
@given(st.integers(0, 10**9))
def test_cases_of_random_networks(seed):
    random = chance.Random(seed)
    network = random_network(random, floats=random.random() < 0.2)
    base = settle(prepare(network), at_rest(network))
    cases = [random_case(network, random) for _ in range(6)]
    compare(base, cases)
    compare(base, cases, bulk_of(base, entire=True))


@given(st.integers(0, 10**9))
def test_parts_and_hubs_make_trees_that_hold_everything_once(seed):
    network = random_network(chance.Random(seed))
    division = divided(network)
    held = [n for part in division.parts for n in part.branches]
    assert sorted(held) == list(range(len(network.branches)))
    for part in division.parts:
        inside = set(part.nodes)
        assert all({network.branches[n].a, network.branches[n].b} <= inside for n in part.branches)
    joints = sum(len(parts) for parts in division.at_hub.values())
    inner = [set(part.nodes) - {0} - set(part.hubs) for part in division.parts]
    assert sum(len(nodes) for nodes in inner) + len(division.at_hub) == len(network.node_names) - 1
    # a forest: as many joints as parts and hubs, less one for each tree
    trees = len(_trees(division))
    assert joints == len(division.parts) + len(division.at_hub) - trees


def _trees(division) -> set[int]:
    parent = list(range(len(division.parts)))

    def root(n: int) -> int:
        while parent[n] != n:
            n = parent[n]
        return n

    for parts in division.at_hub.values():
        for other in parts[1:]:
            parent[root(other)] = root(parts[0])
    return {root(n) for n in range(len(parent))}


# -- what must be worked out wider, or alone -----------------------------------------------------------------


def box(ways: int = 4, ohms: float = 0.02) -> Wiring:
    """A battery, a bus bar, and fused ways with a lamp each."""
    wiring = Wiring()
    law = Battery(open_volts=25.2, resistance=ohms, charging_volts=27.5, float_amps=0.9)
    wiring.add("battery", "bus", "0", law)
    for way in range(ways):
        wiring.remembered(
            f"fuse {way}", "bus", f"way {way}", Fuse(resistance=0.01, carrying=10.0, fusing=17.5)
        )
        wiring.wire(f"cable {way}", f"way {way}", f"lamp {way} +", 0.05)
        wiring.add(f"lamp {way}", f"lamp {way} +", f"lamp {way} -", Filament(volts=24.0, amps=2.0))
        wiring.wire(f"return {way}", f"lamp {way} -", "0", 0.01)
    return wiring


def bulked(wiring: Wiring, *cases: tuple) -> tuple[Settled, list[Outcome]]:
    """The settled installation, and outcomes that have been checked; cases are (maker, name or names)."""
    network = wiring.network()
    base = settle(prepare(network), at_rest(network))
    made = []
    for maker, *names in cases:
        where = network.node_of if maker in (shorted, bridged) else network.branch_of
        made.append(maker(network, *(where[name] for name in names)))
    outcomes = settle_cases(bulk_of(base, entire=False), made)
    for case, outcome in zip(made, outcomes, strict=True):
        check(base, case, outcome)
    compare(base, made, bulk_of(base, entire=True))
    return base, list(outcomes)


def test_a_case_in_one_way_is_worked_out_in_that_way():
    _, (outcome, blown) = bulked(box(), (opened, "cable 1"), (shorted, "lamp 2 +"))
    assert (outcome.how, blown.how) == ("part", "part")
    assert [(e.what, e.names) for e in blown.events] == [("blown", ("fuse 2",))]


def test_a_relay_in_another_way_that_lets_go_as_the_bus_sags_makes_the_case_wider():
    wiring = box(ohms=0.5)
    wiring.wire("coil lead", "bus", "coil", 0.05)
    wiring.contact("push", "bus", "coil", ALWAYS)
    wiring.remembered("relay", "coil", "0", Coil(resistance=80.0, pulls_in=14.0, drops_out=13.0))
    wiring.contact("work", "bus", "load", pulled(4))
    wiring.add("load", "load", "0", Filament(volts=24.0, amps=1.0))
    _, (sags, calm) = bulked(wiring, (shorted, "lamp 2 +"), (opened, "cable 1"))
    # the bus falls to 2 V and the relay lets go, before the fuse blows; then it pulls in again
    assert (sags.how, calm.how) == ("whole", "part")
    assert ("blown", ("fuse 2",)) in [(e.what, e.names) for e in sags.events]


def test_a_coil_that_works_a_contact_elsewhere_makes_the_case_wider():
    wiring = box()
    wiring.remembered("relay", "lamp 1 +", "lamp 1 -", COIL)
    wiring.wire("feed", "bus", "elsewhere", 0.01)
    wiring.contact("work", "elsewhere", "load", pulled(4))
    wiring.add("load", "load", "0", Filament(volts=24.0, amps=1.0))
    base, (lets_go, stays) = bulked(wiring, (opened, "cable 1"), (opened, "lamp 1"))
    assert (lets_go.how, stays.how) == ("whole", "part")
    assert base.memory.variables[4] == 1
    assert (lets_go.variables[4], stays.variables[4]) == (0, 1)


def test_a_bridge_between_two_ways_is_worked_out_in_the_whole():
    _, (outcome, _) = bulked(box(), (bridged, "lamp 1 +", "lamp 2 +"), (bridged, "lamp 0 +", "lamp 0 -"))
    assert outcome.how == "whole"


def test_a_relay_that_a_fault_makes_a_buzzer_chatters_in_bulk():
    wiring = box()
    wiring.contact("break", "lamp 1 +", "coil", released(4))
    wiring.remembered("buzzer", "coil", "0", COIL)
    network = wiring.network()
    base = settle(prepare(network), at_rest(network))
    assert [e.what for e in base.events] == ["chatters"]
    wiring = box()
    wiring.contact("break", "lamp 1 +", "kept open", released(4))
    wiring.remembered("relay", "coil", "0", COIL)
    _, (outcome,) = bulked(wiring, (bridged, "kept open", "coil"))
    assert [(e.what, e.names) for e in outcome.events] == [("chatters", ("relay",))]


def test_interlocked_relays_race_in_bulk():
    wiring = box()
    wiring.contact("switch", "lamp 1 +", "feed", wiring.on("switch"))
    wiring.contact("b breaks a", "feed", "a", released(5))
    wiring.contact("a breaks b", "feed", "b", released(4))
    wiring.remembered("relay a", "a", "0", COIL)
    wiring.remembered("relay b", "b", "0", COIL)
    _, (outcome,) = bulked(wiring, (stuck_closed, "switch"))
    assert [(e.what, e.names) for e in outcome.events] == [("race", ("relay a", "relay b"))]


def test_a_latch_on_volts_of_an_installation_without_earth():
    wiring = Wiring()
    law = Battery(open_volts=25.2, resistance=0.02, charging_volts=27.5, float_amps=0.9)
    wiring.add("battery", "plus", "minus", law)
    wiring.wire("lead", "plus", "lamp +", 0.05)
    wiring.add("lamp", "lamp +", "lamp -", Filament(volts=24.0, amps=2.0))
    wiring.wire("return", "lamp -", "minus", 0.01)
    plus, minus = wiring.node("lamp +"), wiring.node("lamp -")
    volts = Measured(of="volts", a=plus, b=minus, limits=((">", 20.0),))
    low = Measured(of="volts", a=plus, b=minus, limits=(("<", 10.0),))
    latch = wiring.latch("latch", set=volts, release=low)
    base, (lit, broken, bridging) = bulked(
        wiring, (opened, "lamp"), (opened, "lead"), (bridged, "lamp +", "lamp -")
    )
    assert base.memory.variables[latch] == 1
    # a lead that goes leaves the lamp's two ends together; so there are volts, and they are none
    assert [outcome.variables[latch] for outcome in (lit, broken, bridging)] == [1, 0, 0]


def test_latches_and_cartridges_in_bulk():
    wiring = box()
    latch = wiring.latch("latch", set=wiring.on("set"), lost_with=wiring.branches.index(wiring.branches[0]))
    wiring.contact("line", "lamp 1 +", "bridge", pulled(latch))
    wiring.remembered("bottle", "bridge", "0", Cartridge(resistance=2.0, no_fire=0.5, all_fire=1.5))
    _, outcomes = bulked(wiring, (stuck_closed, "line"), (bridged, "lamp 1 +", "bridge"), (opened, "bottle"))
    assert [[e.what for e in o.events] for o in outcomes] == [["fired"], ["fired"], []]


def test_a_service_with_two_feeds_is_like_any_other():
    wiring = box()
    wiring.wire("second bus cable", "bus", "second bus", 0.01)
    for way in range(3):
        wiring.wire(f"more {way}", "second bus", f"more {way}", 0.05)
        wiring.add(f"more lamp {way}", f"more {way}", "0", Filament(volts=24.0, amps=1.0))
    over = wiring.on("changeover")
    wiring.contact("normal", "lamp 1 +", "shared", AllOf(()))
    wiring.contact("emergency", "second bus", "shared", over)
    wiring.add("shared lamp", "shared", "0", Filament(volts=24.0, amps=1.0))
    cases = [(opened, "normal"), (stuck_closed, "emergency"), (opened, "cable 1"), (shorted, "shared")]
    bulked(wiring, *cases, (opened, "second bus cable"), (shorted, "second bus"), (opened, "battery"))


def test_two_wire_returns_and_floating_installations():
    wiring = Wiring()
    wiring.add(
        "battery",
        "plus",
        "minus",
        Battery(open_volts=25.0, resistance=0.02, charging_volts=27.5, float_amps=0.9),
    )
    for way in range(4):
        wiring.remembered(
            f"fuse {way}", "plus", f"way {way}", Fuse(resistance=0.01, carrying=5.0, fusing=8.75)
        )
        wiring.wire(f"out {way}", f"way {way}", f"lamp {way} +", 0.05)
        wiring.add(f"lamp {way}", f"lamp {way} +", f"lamp {way} -", Filament(volts=24.0, amps=2.0))
        wiring.wire(f"back {way}", f"lamp {way} -", "minus", 0.05)
    wiring.wire("earth lamp resistor", "plus", "test", 100.0)
    wiring.contact("earth test", "test", "0", wiring.on("earth test"))
    network = wiring.network()
    first = settle(prepare(network), at_rest(network))
    cases = [opened(network, n) for n in range(len(network.branches))]
    cases += [shorted(network, n) for n in range(1, len(network.node_names))]
    cases += [bridged(network, 3, 6), bridged(network, 2, 4)]
    compare(first, cases)
    earthed = settle(prepare(network), moved(first.memory, {0: 1}))
    compare(earthed, cases)


def test_other_laws_in_place_of_the_recorded_ones():
    wiring = box()
    law = Generator(
        volts=28.0, amps=36.0, held=28.0, droop=0.5, residual=1.5, resistance=0.04, open_volts=42.0, cuts_in=0.0,
        full_at=0.0,
    )  # fmt: skip
    wiring.add("machine", "D", "0", law)
    wiring.wire("main", "D", "bus", 0.0123)
    wiring.wire("lead", "bus", "set +", 0.05)
    wiring.add("set", "set +", "0", ConstantPower(power=100.0, volts=24.0, works_from=19.0))
    wiring.add("rectifier", "set +", "beyond", Rectifier(amps=1.0, drop=0.8))
    wiring.add("beyond", "beyond", "0", Filament(volts=24.0, amps=0.5))
    wiring.add("ground supply", "bus", "0", Source(volts=27.0, resistance=0.05), works=wiring.on("plugged"))
    network = wiring.network()
    base = settle(prepare(network), at_rest(network))
    at = network.branch_of

    def in_place(name: str, new) -> Case:
        return refitted(network, at[name], new)

    cases = [
        in_place("machine", replace(law, mode="open")),
        in_place("machine", replace(law, mode="stuck")),
        in_place("machine", Straight(resistance=0.05)),
        in_place("lamp 1", Filament(volts=12.0, amps=4.0)),
        in_place("lamp 1", Straight(resistance=0.01)),
        in_place("set", ConstantPower(power=50.0, volts=24.0, works_from=16.0)),
        in_place("rectifier", Straight(resistance=0.01)),
        in_place("rectifier", Rectifier(amps=1.0, drop=1.2)),
        in_place("fuse 1", Fuse(resistance=0.05, carrying=1.0, fusing=1.75)),
        in_place("lamp 1", Rectifier(amps=1.0, drop=0.8)),
        in_place("battery", Battery(open_volts=24.4, resistance=0.042, charging_volts=27.0, float_amps=0.9)),
    ]
    counts = compare(base, cases)
    assert counts["alone"] == 1
    plugged = settle(prepare(network), moved(base.memory, {0: 1}))
    compare(plugged, cases)


def test_cases_that_begin_from_another_memory():
    wiring = box()
    wiring.contact("switch", "lamp 1 +", "more", wiring.on("switch"))
    wiring.add("more", "more", "0", Filament(volts=24.0, amps=1.0))
    network = wiring.network()
    base = settle(prepare(network), at_rest(network))
    cases = [replace(opened(network, n), memory=moved(base.memory, {0: 1})) for n in range(6)]
    assert compare(base, cases)["whole"] == 6


# -- what was wrong once -------------------------------------------------------------------------------------


def test_a_ratio_gauge_with_coils_in_two_ways():
    wiring = box()
    left = wiring.add("left coil", "lamp 1 +", "0", Meter(resistance=200.0, amperes=True))
    right = wiring.add("right coil", "lamp 2 +", "0", Meter(resistance=200.0, amperes=True))
    points = ((0.5, 0.0), (2.0, 10.0))
    dial = Indication(name="gauge", of="ratio", first=left, second=right, points=points)
    network = replace(wiring.network(), indications=(dial,), dials={left: (0,)})
    base = settle(prepare(network), at_rest(network))
    cases = [opened(network, network.branch_of["cable 1"]), opened(network, network.branch_of["cable 2"])]
    for entire in (False, True):
        compare(base, cases, bulk_of(base, entire=entire))


def test_two_new_branches_in_one_case():
    wiring = box()
    network = wiring.network()
    base = settle(prepare(network), at_rest(network))
    first = bridged(network, network.node_of["lamp 0 +"], network.node_of["lamp 1 -"], resistance=0.5)
    second = bridged(network, network.node_of["way 2"], network.node_of["lamp 3 -"], resistance=0.7)
    both = Case(extra=first.extra + second.extra)
    for entire in (False, True):
        compare(base, [first, second, both], bulk_of(base, entire=entire))


def test_delays_run_in_bulk():
    wiring = box()
    wiring.remembered("relay", "lamp 1 +", "0", COIL)
    wiring.latch("late", set=released(4), set_after=5.0)
    wiring.latch("let go late", set=pulled(4), release=released(4), release_after=3.0)
    base, (lets_go, stays) = bulked(wiring, (opened, "cable 1"), (opened, "cable 2"))
    assert base.memory.timers == stays.timers
    assert [t for t in lets_go.timers if t is not None] == [5.0, 3.0]


def test_a_battery_about_its_open_volts_beyond_a_hub():
    """Its kink lies where a charged battery floats: in the part outside, as the case sees it."""
    wiring = box(ohms=0.5)
    law = Battery(open_volts=25.0, resistance=0.05, charging_volts=27.5, float_amps=0.9)
    wiring.wire("second cable", "bus", "second +", 0.01)
    wiring.add("second battery", "second +", "0", law)
    wiring.add("charger", "bus", "0", Source(volts=25.35, resistance=0.2))
    cases = [(opened, f"lamp {n}") for n in range(4)] + [(opened, "charger")]
    more = [(shorted, "lamp 1 +"), (bridged, "lamp 1 +", "lamp 1 -")]
    bulked(wiring, *cases, *more)


def test_a_state_that_comes_and_goes_between_two_knots_of_a_table():
    """A lamp and resistors in a bridge: the volts across are nought at one height of the bus alone."""
    wiring = box(ohms=0.8)
    wiring.wire("bridge lead", "bus", "top", 0.01)
    wiring.add("lamp", "top", "left", Filament(volts=24.0, amps=1.0))
    wiring.wire("below the lamp", "left", "0", 20.0)
    wiring.wire("upper", "top", "right", 100.0)
    wiring.wire("lower", "right", "0", 131.0)
    law = Straight(resistance=1e4, volts=1.0, states=("level", "off level"), steps=(0.05,))
    wiring.add("detector", "left", "right", law)
    network = wiring.network()
    base = settle(prepare(network), at_rest(network))
    ohms = [0.3 * 1.15**n for n in range(40)]
    cases = [refitted(network, network.branch_of["lamp 2"], Straight(resistance=r)) for r in ohms]
    for entire in (False, True):
        bulk = bulk_of(base, entire=entire)
        compare(base, cases, bulk)
        number = network.branch_of["detector"]
        assert len({outcome.states[number] for outcome in settle_cases(bulk, cases)}) == 2


def test_opens_before_what_hardly_draws_keep_their_digits():
    """A bar before a voltmeter, a lamp behind a rectifier that blocks, a lead into an open switch."""
    wiring = box()
    wiring.wire("bar", "bus", "meter bus", 1e-4)
    wiring.wire("meter lead", "meter bus", "meter", 0.02)
    wiring.add("voltmeter", "meter", "0", Straight(resistance=4000.0))
    wiring.wire("second meter", "meter bus", "0", 1e6)
    wiring.wire("lamp lead", "bus", "small lamp", 0.05)
    wiring.add("small lamp", "small lamp", "rectifier", Filament(volts=24.0, amps=0.1))
    wiring.add("rectifier", "rectifier", "higher", Rectifier(amps=0.5, drop=0.8))
    wiring.add("higher", "higher", "0", Source(volts=28.0, resistance=0.1))
    wiring.wire("switch lead", "bus", "switch", 0.02)
    wiring.contact("switch", "switch", "beyond", wiring.on("off"))
    wiring.wire("load lead", "beyond", "load", 0.02)
    wiring.add("load", "load", "0", Straight(resistance=4000.0))
    names = ("bar", "meter lead", "lamp lead", "small lamp", "rectifier", "switch lead", "load lead", "load")
    bulked(wiring, *((opened, name) for name in names), (stuck_closed, "switch"), (shorted, "switch"))
