"""The list of faults, and what each does, against what a fitter expects: common practice, no source."""

from random import Random

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.faults.criticality import criticality_table, severity_of
from loomlore.faults.effects import changes_of, effect_words, fault_study
from loomlore.faults.injecting import Workshop, alike_of, case_of, representatives, struck
from loomlore.faults.modes import MODES, faults_of
from loomlore.faults.situations import loads_of, ready, situations_of
from loomlore.network.cases import settled_case


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
    network = plant.network
    for branch in network.branches:
        if branch.sort == "cable":
            assert {f"{branch.name}.open", f"{branch.name}.high-resistance"} <= faults.keys()
        elif branch.sort == "contact" and branch.closed is not None:
            assert {f"{branch.name}.does-not-make", f"{branch.name}.sticks"} <= faults.keys()
        elif branch.sort == "fuse":
            assert {f"{branch.name}.{m}" for m in ("blown", "too-light", "too-heavy")} <= faults.keys()
        elif branch.sort == "bolt":
            assert f"{branch.name}.lifted" in faults
        elif branch.sort == "bond":
            assert f"{branch.name}.missing" in faults
    assert all(f.mode in MODES and f.words and f.look.endswith((".", ".)")) for f in faults.values())


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
            assert one.outcome.variables == alone.memory.variables, one.fault.id
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
