"""A re-wire chosen and put back into the network, against every set tried in Ohm's law by hand."""

from itertools import product

import pytest

from loomlore.catalogue.conductors import aircraft_wires
from loomlore.sizing.bundles import Conditions
from loomlore.sizing.cable_study import Practice, cable_study
from loomlore.sizing.rewiring import rewired
from unit.sizing.benches import HEAD, HEATER, WAYS, bench, plant_of

SECOND = """
[item]
second-switch = { kind = "switch" }
second = { kind = "heater", rating = "24 V 48 W" }
[service.second]
title = "Second heater"
feed = "box.2"
[service.second.cables]
D1 = { from = "box.2", to = "second-switch.1", size = "1.0 mm2", length = "5 m" }
D2 = { from = "second-switch.2", to = "second.1", size = "1.0 mm2", length = "LONG" }
D3 = { from = "second.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


@pytest.mark.parametrize("long", ["9 m", "17 m", "31 m"])
def test_the_second_heaters_cables_are_the_lightest_by_trying_all(long):
    """Three cables behind one fuse of 10 A, 0.72 V in all, every gauge tried, hot as the tool has it."""
    found = cable_study(
        bench(HEATER, SECOND.replace("LONG", long)), Practice(share=0.03, conditions=Conditions(ambient=20.0))
    )
    chosen = rewired(found)
    assert chosen.choice.proven
    assert not chosen.broken
    own = {c.cable: c for c in chosen.changes if c.cable.startswith("D")}
    # table 11-3: No. 18 and thicker may have a fuse of 10 A
    wires = {f"AWG {g}": w for g, w in aircraft_wires().items() if g not in ("24", "22", "20")}
    lengths = {"D1": 5.0, "D2": float(long.split()[0]), "D3": 1.0}
    amps = 48 / 24 * 25.2 / 24.8
    # each conductor as warm as it came out; every other set is held to the warmest
    heat = {m: (234.5 + w.temperature.value) / 254.5 for m, w in chosen.warmth.items() if m in lengths}
    warmest = dict.fromkeys(heat, max(heat.values()))
    fixed = amps * (0.08 / 10 + 0.005)

    def drop(set_of, hot):
        ohms = sum(lengths[m] * hot[m] * wires[size].resistance for m, size in set_of.items())
        return fixed + amps * ohms

    def mass(set_of):
        return sum(lengths[m] * wires[size].area for m, size in set_of.items())

    every = ({**dict(zip(lengths, sizes, strict=True))} for sizes in product(wires, repeat=3))
    best = min((s for s in every if drop(s, warmest) <= 0.72), key=mass)
    mine = {mark: change.size for mark, change in own.items()}
    assert mass(mine) <= mass(best) * (1 + 1e-9)
    assert drop(mine, heat) <= 0.72 * 1.01


@pytest.mark.parametrize("catalogue", ["awg", "metric"])
def test_a_chosen_set_passes_where_the_period_set_failed(catalogue):
    thin = HEATER.replace("1.0 mm2", "0.5 mm2")
    found = cable_study(bench(thin), Practice(share=0.02))
    assert any(v.word == "fails" for d in found.drops for v in d.verdicts)
    chosen = rewired(found, catalogue=catalogue)
    assert not chosen.broken
    assert all(v.word == "passes" for d in chosen.judged for v in d.verdicts)
    assert all(w.current <= w.limit.value for w in chosen.warmth.values())


def test_every_line_says_why_it_is_not_thinner():
    chosen = rewired(cable_study(bench(HEATER), Practice(share=0.03)))
    assert all(change.why for change in chosen.changes)
    assert sum(c.mass for c in chosen.changes) == pytest.approx(chosen.mass)


def test_few_sizes_cost_mass():
    found = cable_study(bench(HEATER, SECOND.replace("LONG", "17 m")), Practice(share=0.03))
    free, one = rewired(found), rewired(found, most_sizes=2)
    assert one.mass >= free.mass
    assert len({c.size for c in one.changes}) <= 2


def test_cores_of_a_twin_keep_one_size():
    sheath = '[sheath.T1]\ntype = "twin 1.0 mm2"\nlength = "6 m"\ncores = ["red", "black"]\n'
    twin = HEATER.replace(
        'to = "heater.1", size = "1.0 mm2", length = "6 m"', 'to = "heater.1", core = "T1.red"'
    ).replace('to = "earth", size = "1.0 mm2", length = "1 m"', 'to = "earth", core = "T1.black"')
    chosen = rewired(cable_study(plant_of(HEAD, WAYS, sheath, twin), Practice(share=0.03)))
    sizes = {c.cable: c.size for c in chosen.changes}
    assert sizes["H2"] == sizes["H3"]


def test_where_no_size_will_do_it_says_what_is_short():
    found = cable_study(bench(HEATER), Practice(share=0.0005))
    chosen = rewired(found)
    assert not chosen.changes
    assert chosen.broken
