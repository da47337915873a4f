"""Two faults at once, against small circuits worked by hand and against settling each pair by itself."""

from itertools import combinations
from random import Random

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.faults.effects import changes_of, fault_study
from loomlore.faults.injecting import case_of, together
from loomlore.faults.pairing import MOST_PAIRS, chunks_of, gathered, pair_study, plan_pairs, worked_out
from loomlore.network.cases import settled_case


@pytest.fixture(scope="module")
def bench():
    return plant_of(BENCH)


@pytest.fixture(scope="module")
def found(bench):
    return pair_study(bench, ["lamps"], most=0)


def pairs_of(study):
    return {frozenset((t.first.id, t.second.id)): t for t in study.found}


def test_a_window_goes_dark_when_both_its_lamps_are_burnt_out(bench):
    """The doubled lamp of common practice: each failure hides, both together put the window out."""
    study = pair_study(bench, ["window"], most=0)
    both = pairs_of(study)[frozenset(("window.a.burnt-out", "window.b.burnt-out"))]
    assert both.hidden
    assert study.found.index(both) == 0
    assert {(c.name, c.kind) for e in both.effects for c in e.changes} == {("window.window", "lost")}


def test_two_lifted_bolts_open_a_sneak_path_that_neither_does():
    """By hand: the stern bolt off, the signal lamp's current goes on through the tail lamp to both tip lamps in
    parallel; one tip lamp's bolt off as well, the other gets all of it and glimmers."""
    told = pairs_of(pair_study(example("glider-tug"), ["navigation"]))
    for lifted, glimmers in (("port", "starboard-lamp.filament"), ("starboard", "port-lamp.filament")):
        twosome = told[frozenset((f"earth.{lifted}-tip-bolt.lifted", "earth.stern-bolt.lifted"))]
        assert [(c.name, c.kind) for c in twosome.effects[0].changes] == [(glimmers, "unasked")]


def test_nothing_is_told_that_one_of_the_two_does_alone(bench, found):
    study = fault_study(bench, services=["lamps"])
    for twosome in found.found:
        for effect in twosome.effects:
            alone = {
                (c.name, c.kind)
                for fault in (twosome.first, twosome.second)
                for e in study.effects.get(study.alike[fault.id].id, ())
                if e.situation.id == effect.situation.id
                for c in e.changes
            }
            assert not {(c.name, c.kind) for c in effect.changes} & alone


def test_pairs_in_arrays_are_pairs_settled_by_themselves():
    plant = example("glider-tug")
    plan = plan_pairs(plant, ["navigation"], most=0)
    done = [worked_out(plan, chunk) for chunk in chunks_of(plan)]
    finds = {(f.pair, f.situation): f for one in done for f in one.finds}
    for situation in plan.situations:
        for number in Random(7).sample(range(len(plan.pairs)), 25):
            faults = [plan.faults[n] for n in plan.pairs[number]]
            cases = [case_of(plant, f, situation.settled) for f in faults]
            both = None if None in cases else together(*cases)
            if both is None:
                assert (number, situation.id) not in finds
                continue
            after = settled_case(situation.settled, both)
            own = tuple(n for f in faults for n in f.own)
            seen = {(c.name, c.kind) for c in changes_of(plant, situation.settled, after, own)[0]}
            told = finds.get((number, situation.id))
            events = ("blows", "overload", "chatters", "race", "unfused")
            assert {(c.name, c.kind) for c in told.changes if c.kind not in events} <= seen if told else True
            alone = plan.alone[faults[0].id, situation.id] | plan.alone[faults[1].id, situation.id]
            fresh = {
                (n, k) for n, k in seen if k in ("unasked", "lost") and not any(n == m for m, _ in alone)
            }
            crossed = "crossed" in (faults[0].mode, faults[1].mode)
            assert crossed or fresh <= ({(c.name, c.kind) for c in told.changes} if told else set())


def test_every_pair_is_tried_or_counted_as_impossible(bench, found):
    plan = plan_pairs(bench, ["lamps"], most=0)
    assert len(plan.pairs) == len(set(plan.pairs)) == len(list(combinations(plan.faults, 2)))
    assert found.tried + found.excluded == len(plan.pairs) * len(plan.situations)
    assert found.whole


def test_a_limit_is_told_and_takes_the_hidden_first(bench):
    few = pair_study(bench, ["lamps"], most=5)
    assert (few.pairs, few.whole) == (5, False)
    assert few.of_pairs > MOST_PAIRS or few.of_pairs > 5
    plan = plan_pairs(bench, ["lamps"], most=5)
    assert all({plan.faults[a].id, plan.faults[b].id} <= plan.hidden for a, b in plan.pairs)


def test_chunks_in_any_order_and_twice_make_one_answer(bench, found):
    plan = plan_pairs(bench, ["lamps"], most=0)
    chunks = chunks_of(plan, size=40)
    done = [worked_out(plan, chunk) for chunk in chunks]
    mixed = Random(8).sample(done, len(done)) + done[:3]
    study = gathered(plan, mixed, of=len(chunks))
    assert (study.tried, study.excluded, study.left) == (found.tried, found.excluded, 0)
    assert [(t.first.id, t.second.id) for t in study.found] == [
        (t.first.id, t.second.id) for t in found.found
    ]


def test_ctrl_c_keeps_what_is_done(bench):
    def told(done, of):
        if done == 1 and of > 1:
            raise KeyboardInterrupt

    study = pair_study(bench, ["lamps"], most=0, told=told)
    assert study.left > 0
    assert study.tried > 0
