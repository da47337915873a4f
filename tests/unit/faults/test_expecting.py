"""Ohms against sums by hand and against networkx's resistance distance; volts against the divider by hand."""

import networkx as nx
import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.behaviour.operating import Moves, operated, rest
from loomlore.faults.expecting import (
    Ohmmeter,
    ohms_between,
    pair_words,
    relays_held,
    standing_ohms,
    volts_between,
)
from loomlore.findings import UnknownName
from loomlore.network.cases import Case, settled_case
from loomlore.network.laws import Battery, Filament, Straight
from loomlore.network.model import Branch

PLANT = plant_of(BENCH)
LEADS = 0.2


def lever(name, position):
    number = PLANT.network.lever_of[name]
    return {number: PLANT.network.levers[number].positions.index(position)}


def standing(moves=None, **more):
    settled = operated(PLANT, rest(PLANT), Moves(moves or {}))
    return standing_ohms(PLANT, settled, taken_off=("battery",), **more)


def ohms_of(cable):
    return PLANT.network.branches[PLANT.network.branch_of[f"cable:{cable}"]].law.resistance


def test_one_lead_reads_itself_and_the_meters_leads():
    reading = ohms_between(standing(), "box.1", "lamp-switch.1")
    assert reading.ohms == pytest.approx(ohms_of("L1") + LEADS, rel=1e-6)


def test_a_cold_lamp_reads_a_twelfth_of_hot_with_a_range_about_it():
    """24 V 12 W is 48 ohm hot; a cold lamp about a twelfth of it, 4 ohm (common practice, no source)."""
    reading = ohms_between(standing(), "lamp.1", "lamp.2")
    assert reading.ohms == pytest.approx(4.0 + LEADS, rel=1e-6)
    assert reading.low < 4.0 < reading.ohms < reading.high
    assert reading.through == ("lamp",)
    assert "(" in reading.words


def test_an_open_switch_reads_what_is_beside_it_and_a_closed_one_nothing():
    """Open it still reads round the other way: lamp 4 ohm, then the two lamps of the window, 16 ohm each."""
    assert ohms_between(standing(), "lamp-switch.1", "lamp-switch.2").ohms == pytest.approx(
        4 + 8 + LEADS, rel=0.03
    )
    assert ohms_between(standing(), "relay.A", "box.4").words.startswith("open")
    closed = ohms_between(standing(lever("lamp-switch.lever", "on")), "lamp-switch.1", "lamp-switch.2")
    assert closed.ohms == pytest.approx(LEADS, abs=0.05)


def test_paths_beside_the_one_that_is_meant_are_in_the_reading():
    """A lamp of 24 V 3 W is 192 ohm hot and 16 cold; the window has two side by side, 8 ohm."""
    reading = ohms_between(standing(), "window.1", "window.2")
    assert reading.ohms - LEADS == pytest.approx(8.0, rel=0.02)


def test_a_coil_reads_its_resistance():
    assert ohms_between(standing(), "relay.1", "relay.2").ohms == pytest.approx(80 + LEADS, rel=1e-3)


def test_a_relay_lets_go_with_the_battery_off():
    live = operated(PLANT, rest(PLANT), Moves(lever("master.lever", "on") | lever("push.push", "pressed")))
    dead = standing_ohms(PLANT, live, taken_off=("battery",))
    assert relays_held(dead) == ()
    # not the 0.2 ohm of a made contact: the pump standing (12 ohm running, a quarter of it) and back to earth
    # through the window's 8 ohm beside the coil's 80
    assert ohms_between(dead, "relay.A", "relay.B").ohms == pytest.approx(3 + 8 * 80 / 88 + LEADS, rel=0.03)


def test_no_ohmmeter_where_volts_stand_and_the_words_say_what_to_take_off():
    live = standing_ohms(PLANT, operated(PLANT, rest(PLANT), Moves(lever("master.lever", "on"))))
    reading = ohms_between(live, "box.bus", "earth")
    assert reading.ohms is None
    assert "battery" in reading.refused
    assert reading.words == "not to be measured"


def test_no_ohmmeter_across_the_battery_itself_even_at_no_volts():
    assert ohms_between(standing_ohms(PLANT, rest(PLANT)), "battery.+", "battery.-").refused


def test_the_meters_own_leads_are_what_it_is_told():
    reading = ohms_between(standing(meter=Ohmmeter(leads=0.5)), "box.1", "lamp-switch.1")
    assert reading.ohms == pytest.approx(ohms_of("L1") + 0.5, rel=1e-6)


def test_a_name_that_is_no_terminal_is_said():
    with pytest.raises(UnknownName):
        ohms_between(standing(), "lamp.9", "earth")
    with pytest.raises(UnknownName):
        standing_ohms(PLANT, rest(PLANT), taken_off=("lamp",))


def test_leads_in_words():
    assert pair_words(PLANT, "lamp.1", "earth.bolt") == "lamp 1 to the bolt"


def resistance_graph(plant, dead):
    """Every branch that conducts, cold, as an edge; built from the laws and not by the code under test."""
    graph = nx.Graph()
    solution = dead.settled.solution
    for number, branch in enumerate(plant.network.branches):
        law = branch.law
        if branch.a == branch.b or not solution.closed(number) or isinstance(law, Battery):
            continue
        if isinstance(law, Filament):
            ohms = law.cold * law.volts / law.amps
        elif hasattr(law, "stall"):
            ohms = law.volts / (law.amps * law.stall)
        elif isinstance(law, Straight) or hasattr(law, "resistance"):
            ohms = law.resistance
        else:
            continue
        if ohms < 1e9:
            known = graph.get_edge_data(branch.a, branch.b)
            siemens = 1 / max(ohms, 1e-5) + (known["siemens"] if known else 0.0)
            graph.add_edge(branch.a, branch.b, siemens=siemens)
    return graph


PAIRS = [
    ("box.bus", "earth"), ("outlet.1", "earth"), ("lamp.1", "earth.bolt"), ("relay.1", "earth"), ("pump.1", "earth"),
    ("window.1", "earth"), ("box.1", "box.2"), ("box.2", "relay.1"), ("lamp.1", "window.1"), ("pump.1", "window.2"),
]  # fmt: skip


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_any_two_terminals_agree_with_networkx(a, b):
    dead = standing(lever("lamp-switch.lever", "on"))
    graph = resistance_graph(PLANT, dead)
    first, second = PLANT.network.node_of[a], PLANT.network.node_of[b]
    reading = ohms_between(dead, a, b)
    joined = first in graph and second in graph and nx.has_path(graph, first, second)
    if not joined:
        assert reading.ohms is None
        return
    body = graph.subgraph(nx.node_connected_component(graph, first))
    wanted = nx.resistance_distance(body, first, second, weight="siemens", invert_weight=False)
    assert reading.ohms - LEADS == pytest.approx(wanted, rel=1e-6)


def test_a_cartridge_is_never_measured_through():
    plant = example("mail-amphibian")
    off = [b.item for b in plant.network.branches if isinstance(b.law, Battery)]
    dead = standing_ohms(plant, rest(plant), taken_off=dict.fromkeys(off))
    item = "port-fire-cartridge"
    ends = [plant.network.node_names[n] for b in plant.network.branches if b.item == item for n in (b.a, b.b)]
    for a, b in zip(ends[::2], ends[1::2], strict=True):
        reading = ohms_between(dead, a, b)
        assert reading.ohms is None
        assert "never" in reading.refused


DIODE = BENCH.replace(
    "[way.box]", 'diode = { kind = "rectifier", rating = "24 V 2 A", drop = "0.8 V" }\n[way.box]'
)


def test_a_rectifier_alone_reads_open_one_way_and_the_meters_cell_over_its_knee_the_other():
    """1.5 V behind 150 ohm and 0.2 ohm of leads into a knee of 0.48 V (six tenths of 0.8 V), 0.16 ohm above it at 2 A.

    By hand: i = (1.5 - 0.48) / (150.2 + 0.16) = 6.78 mA; it shows 1.5 / i - 150 = 71.1 ohm.
    """
    plant = plant_of(DIODE)
    dead = standing_ohms(plant, rest(plant), taken_off=("battery",))
    forward, backward = ohms_between(dead, "diode.+", "diode.-"), ohms_between(dead, "diode.-", "diode.+")
    readings = sorted([forward, backward], key=lambda r: r.ohms is None)
    assert readings[0].ohms == pytest.approx(1.5 / (1.02 / 150.36) - 150, rel=0.001)
    assert readings[0].polar
    assert readings[1].ohms is None


def test_a_voltmeter_behind_a_megohm_still_shows_twenty_two_of_twenty_four():
    """10 Mohm behind 1 Mohm divides 24 V to 24 x 10/11 = 21.8 V; a 6 W lamp there stays out (common practice)."""
    settled = operated(PLANT, rest(PLANT), Moves(lever("master.lever", "on")))
    number = PLANT.network.branch_of["cable:W1"]
    old = PLANT.network.branches[number]
    bad = Branch(name=old.name, a=old.a, b=old.b, law=Straight(resistance=1e6), sort=old.sort)
    opened = PLANT.network.branch_of["cable:W2"]
    off = PLANT.network.branches[opened]
    cut = Branch(name=off.name, a=off.a, b=off.b, law=Straight(resistance=1e12), sort=off.sort)
    faulty = settled_case(settled, Case(branches=((number, bad), (opened, cut))))
    supply = faulty.solution.between(PLANT.network.node_of["box.2"], 0)
    reading = volts_between(PLANT, faulty, "outlet.2", "earth")
    assert reading.volts == pytest.approx(supply * 10 / 11, rel=1e-3)
    lamp = volts_between(PLANT, faulty, "outlet.2", "earth", lamp=Filament(volts=24, amps=0.25))
    assert abs(lamp.volts) < 0.01
