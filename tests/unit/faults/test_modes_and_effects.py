"""The list of faults, and what each does, against what a fitter expects: common practice, no source."""

from collections import Counter
from random import Random

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.faults.criticality import criticality_table, severity_of
from loomlore.faults.effects import KINDS, changes_of, effect_words, effects_of, fault_study
from loomlore.faults.injecting import Workshop, alike_of, case_of, representatives, struck
from loomlore.faults.modes import MODES, faults_of
from loomlore.faults.pairing import pair_study
from loomlore.faults.situations import loads_of, ready, situations_of
from loomlore.network.cases import settled_case
from loomlore.network.conditions import LeverIs, leaves
from loomlore.network.laws import (
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Magneto,
    Meter,
    Motor,
    Rectifier,
    Rheostat,
)


@pytest.fixture(scope="module")
def bench():
    return plant_of(BENCH)


@pytest.fixture(scope="module")
def study(bench):
    return fault_study(bench)


def kinds_of(study, fault):
    """What is seen under a fault: (thing, kind of change), over all situations."""
    return {(c.name, c.kind) for e in study.effects.get(fault, ()) for c in e.changes}


@pytest.mark.parametrize("name", ["glider-tug", "harbour-launch", "mail-amphibian"])
def test_every_thing_of_the_record_has_its_faults(name):
    plant = example(name)
    faults = {f.id: f for f in faults_of(plant)}
    for branch in plant.network.branches:
        has = {mode for mode in MODES if f"{branch.name}.{mode}" in faults}
        assert modes_wanted(plant, branch) <= has, branch.name
    assert all(f.mode in MODES and f.words and f.look.endswith((".", ".)")) for f in faults.values())


# The restorer's list: what can be wrong with what (common practice, no source).
OF_SORT = {
    "cable": {"open", "high-resistance"},
    "fuse": {"blown", "high-resistance", "too-light", "too-heavy"},
    "bolt": {"lifted", "high-resistance"},
    "bond": {"missing", "high-resistance"},
}
OF_LAW = {
    Filament: {"burnt-out", "wrong-lamp", "shorted"},
    Motor: {"open", "shorted", "seized"},
    ConstantPower: {"open", "shorted"},
    Meter: {"open"},
    Rheostat: {"open", "shorted"},
    Rectifier: {"open", "shorted"},
    Battery: {"open", "flat", "cell-shorted"},
    Generator: {"open", "shorted", "lost-residual"},
    Cartridge: {"open"},
    Magneto: {"shorted"},
}


def modes_wanted(plant, branch):
    equipment = plant.installation.equipment.get(branch.item)
    if branch.sort == "contact" and branch.closed is not None:
        plugged = any(
            tuple(plant.network.levers[leaf.lever].positions) == ("in", "parted")
            for leaf in leaves(branch.closed)
            if isinstance(leaf, LeverIs)
        )
        return {"does-not-make", "high-resistance"} | (set() if plugged else {"sticks"})
    if branch.sort == "element" and isinstance(branch.law, Coil):
        pulls = set() if equipment.symbol == "generator" else {"does-not-pull", "sticks-in"}
        return {"open", "shorted"} | pulls
    if branch.sort == "element":
        reversed_ = {"reversed"} if equipment.kind.startswith("ground-supply") else set()
        return OF_LAW.get(type(branch.law), set()) | (reversed_ if isinstance(branch.law, Battery) else set())
    return OF_SORT.get(branch.sort, set())


def test_ways_leads_plugs_and_regulators_of_the_amphibian():
    """Counted in its record by hand: 15 plugs, studs and sockets that part; two regulators; two suppressors."""
    faults = faults_of(example("mail-amphibian"))
    count = Counter(f.mode for f in faults)
    assert count["parted"] == 15
    assert count["regulator-stuck"] == count["lost-residual"] == 2
    assert {"port-suppressor", "starboard-suppressor"} <= {f.items[0] for f in faults if f.mode == "shorted"}
    assert all(count[mode] > 30 for mode in ("crossed", "bridged", "touching", "to-earth"))


def test_modes_of_the_restorers_list_are_all_met():
    met = {
        f.mode
        for name in ("glider-tug", "harbour-launch", "mail-amphibian")
        for f in faults_of(example(name))
    }
    assert met == set(MODES)


@pytest.mark.parametrize(
    ("fault", "seen"),
    [
        ("L3.open", {("lamp.filament", "lost")}),
        ("lamp.filament.burnt-out", {("lamp.filament", "lost")}),
        ("L2.to-earth", {("lamp.filament", "lost"), ("box.1", "blows")}),
        ("lamp-switch.pole.sticks", {("lamp.filament", "unasked")}),
        ("relay.coil.does-not-pull", {("pump.armature", "lost")}),
        ("relay.main.sticks", {("pump.armature", "unasked")}),
        ("relay.coil.sticks-in", {("pump.armature", "unasked")}),
        ("relay.coil.open", {("pump.armature", "lost")}),
        ("pump.armature.seized", {("pump.armature", "lost")}),
        ("box.2.blown", {("window.window", "lost")}),
        ("plug.parted", {("window.window", "lost"), ("lamp.filament", "lost")}),
        ("earth.bolt.lifted", {("window.window", "lost"), ("lamp.filament", "lost")}),
    ],
)
def test_what_a_fitter_expects_is_seen(study, fault, seen):
    assert kinds_of(study, fault) >= seen
    assert {k for _, k in kinds_of(study, fault)} <= {k for _, k in seen} | {
        "dimmer",
        "weak",
        "unasked",
        "overload",
    }


def test_bridged_ways_light_the_lamp_with_its_switch_off(study):
    assert ("lamp.filament", "unasked") in kinds_of(study, "plug.1~2.bridged")


def test_crossed_ways_change_two_lamps_over(study):
    assert {("lamp.filament", "unasked"), ("window.window", "lost")} <= kinds_of(study, "plug.1x2.crossed")


def test_a_doubled_lamp_hides_the_failure_of_one(study):
    hidden = {f.id for f in study.hidden}
    assert {"window.a.burnt-out", "window.b.burnt-out"} <= hidden
    (quiet,) = {c.kind for e in study.effects["window.a.burnt-out"] for c in e.quiet}
    assert quiet == "dimmer"


def test_wrong_lamp_of_half_the_volts_is_over_run(study):
    """At twice its volts a filament gives 2^3.4 = 10.6 times its light: exponent read in retrieved text."""
    assert ("lamp.filament", "over-run") in kinds_of(study, "lamp.filament.wrong-lamp")


def test_unfused_short_is_a_fire(study, bench):
    assert any(kind == "unfused" for _, kind in kinds_of(study, "S2.to-earth"))
    changes = study.effects["S2.to-earth"][0].changes
    assert severity_of(bench, changes) == "II"
    assert "nothing blows" in effect_words(bench, study.effects["S2.to-earth"][0])


def test_every_load_is_at_work_in_some_situation():
    for name in ("glider-tug", "mail-amphibian"):
        plant = example(name)
        situations = situations_of(plant)
        idle = [n for n in loads_of(plant) if not any(s.settled.solution.state(n) for s in situations)]
        assert not idle, [plant.network.branches[n].name for n in idle]
        assert not any(e.what in ("fired", "blown") for s in situations for e in s.settled.events)


def test_ready_makes_the_presumption_true(bench):
    moves, _ = read_setting(bench, {"master": "on"})
    assert ready(bench).settled.memory == operated(bench, rest(bench), moves).memory


@pytest.mark.parametrize("name", ["glider-tug", "harbour-launch"])
def test_bulk_answers_are_those_of_one_by_one(name):
    """Two ways of working: arrays over parts, and the single settle of a rebuilt network."""
    plant = example(name)
    faults = Random(4).sample(faults_of(plant), 40)
    workshop = Workshop(plant)
    for situation in situations_of(plant)[:3]:
        for one in struck(workshop, situation, faults):
            alone = settled_case(situation.settled, one.case)
            # how a relay that chatters stood last is nobody's business: it depends on who looked first
            restless = {n for event in alone.events if event.what == "chatters" for n in event.names}
            steady = [n for n, v in enumerate(plant.network.variables) if v.name not in restless]
            assert [one.variables[n] for n in steady] == [alone.memory.variables[n] for n in steady], (
                one.fault.id
            )
            assert [one.state(n) for n in loads_of(plant)] == [
                alone.solution.state(n) for n in loads_of(plant)
            ], one.fault.id
            assert changes_of(plant, situation.settled, one.settled(plant)) == changes_of(
                plant, situation.settled, alone
            ), one.fault.id


def test_faults_that_stand_for_each_other_do_the_same():
    """What is called alike changes the same things when each is worked out by itself."""
    plant = example("glider-tug")
    faults = faults_of(plant)
    alike = representatives(plant, faults)
    stands = [f for f in faults if alike[f.id].id != f.id]
    assert len(stands) > 60
    workshop = Workshop(plant)
    for situation in situations_of(plant)[1:6]:
        for fault in Random(5).sample(stands, 25):
            pair = [case_of(plant, f, situation.settled) for f in (fault, alike[fault.id])]
            if None in pair or alike_of(plant, fault) == ("nothing",):
                continue
            seen = [
                {
                    (c.name, c.kind)
                    for c in changes_of(
                        plant, situation.settled, settled_case(situation.settled, case), f.own
                    )[0]
                }
                for case, f in zip(pair, (fault, alike[fault.id]), strict=True)
            ]
            assert seen[0] == seen[1], (situation.id, fault.id, alike[fault.id].id)
    assert workshop.plant is plant


def test_symptom_table_holds_every_effect(study):
    table = study.symptoms()
    for fault in study.faults:
        for effect in study.effects.get(fault.id, ()):
            for change in effect.changes:
                assert fault in table[change.name, change.kind, effect.situation.id]


def test_the_sieve_holds_back_nothing_that_changes():
    """Whatever is not looked at for a fault is as it was: against looking at everything, one by one."""
    plant = example("glider-tug")
    workshop = Workshop(plant)
    faults = Random(6).sample(faults_of(plant), 60)
    for situation in situations_of(plant)[:5]:
        results = tuple(struck(workshop, situation, faults))
        for one, effect in zip(results, effects_of(plant, results), strict=True):
            alone = settled_case(situation.settled, one.case)
            seen, quiet = changes_of(plant, situation.settled, alone, one.own)
            kinds = (
                "fires",
                "above-no-fire",
                "live",
                "stopped",
                "unfused",
                "blows",
                "overload",
                "chatters",
                "race",
            )
            assert [c for c in effect.changes if c.kind not in kinds or c in seen] == sorted(
                seen, key=lambda c: KINDS.index(c.kind)
            ), one.fault.id
            assert effect.quiet == quiet


def test_no_current_flows_between_two_ends_that_hang_free():
    """A lead that is off, and touching its neighbour beyond the break: nothing to say of a short."""
    plant = plant_of(BENCH)
    study = pair_study(plant, ["lamps"], most=0)
    told = [c for t in study.found for e in t.effects for c in e.changes if c.kind == "unfused"]
    amps = [float(c.after.split()[0]) for c in told]
    assert all(a < 24 / 0.01 for a in amps)


def test_your_own_class_of_a_service_goes_first(study):
    ours = {row.fault.id: row.severity for row in criticality_table(study)}
    yours = {row.fault.id: row.severity for row in criticality_table(study, {"lamps": "II"})}
    assert (ours["L3.open"], yours["L3.open"]) == ("III", "II")
    assert ours["window.a.burnt-out"] == yours["window.a.burnt-out"] == "IV"


def test_lost_residual_keeps_the_generator_dead_and_its_lamp_lit():
    plant = example("glider-tug")
    study = fault_study(
        plant, faults=[f for f in faults_of(plant) if f.mode in ("lost-residual", "regulator-stuck")]
    )
    dead = next(f.id for f in study.faults if f.mode == "lost-residual")
    assert ("charging-lamp.filament", "unasked") in kinds_of(study, dead)
    stuck = next(f.id for f in study.faults if f.mode == "regulator-stuck")
    assert any(kind in ("brighter", "over-run", "misreads") for _, kind in kinds_of(study, stuck))
