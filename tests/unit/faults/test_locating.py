"""Hunts on the bench record: what is foretold is what the one-by-one solver finds, and every hunt ends on the fault."""

import random

import numpy as np
import pytest
from tests.unit.faults.records import BENCH, plant_of

from loomlore.behaviour.operating import Moves, operated, rest
from loomlore.faults.injecting import case_of
from loomlore.faults.locating.hunting import (
    Answer,
    Hunt,
    answered,
    contradictions,
    corrected,
    final_set,
    hunt_from_data,
    next_check,
    outcome_number,
    patterns_of,
    probabilities,
    ranked,
    symptom_answers,
)
from loomlore.faults.locating.searching import (
    WELL,
    banded,
    proofs_of,
    search_of,
    suspects_of,
    telling_situations,
)
from loomlore.faults.situations import Situation
from loomlore.findings import UnknownName, UnreadableValue
from loomlore.network.cases import settled_case

PLANT = plant_of(BENCH)


def situation(**levers):
    moves = {}
    for name, position in levers.items():
        number = PLANT.network.lever_of[name.replace("__", ".").replace("_", "-")]
        moves[number] = PLANT.network.levers[number].positions.index(position)
    settled = operated(PLANT, rest(PLANT), Moves(moves))
    return Situation(id="work", title="at work", settled=settled, moves=tuple(moves.items()))


WORK = situation(master__lever="on", lamp_switch__lever="on", push__push="pressed")
FAULTS = suspects_of(PLANT, [])
SEARCH = search_of(PLANT, [WORK], FAULTS)
NUMBER = {f.id: n for n, f in enumerate(SEARCH.faults)}
SHOWN = [n for n in range(len(FAULTS)) if symptom_answers(SEARCH, n)]


def test_volts_foretold_are_what_a_voltmeter_of_ten_megohms_reads_in_the_solver():
    """Against the one-by-one solver with the meter put in as a branch."""
    from loomlore.faults.expecting import volts_between

    rng = random.Random(4)
    checks = [n for n, c in enumerate(SEARCH.checks) if c.what == "volts"]
    tried = 0
    while tried < 30:
        check, fault = rng.choice(checks), rng.randrange(len(FAULTS))
        case = case_of(PLANT, FAULTS[fault], WORK.settled)
        faulty = WORK.settled if case is None else settled_case(WORK.settled, case)
        reading = volts_between(PLANT, faulty, SEARCH.checks[check].terminals[0], "earth").volts
        assert SEARCH.readings[check, fault] == pytest.approx(reading, abs=0.02), (
            FAULTS[fault].id,
            SEARCH.checks[check].id,
        )
        tried += 1


def test_a_burnt_lamp_is_seen_out_with_full_volts_on_it():
    fault = NUMBER["lamp.filament.burnt-out"]
    said = {a.check.split(":")[2]: a.outcome for a in symptom_answers(SEARCH, fault)}
    assert said == {"lamp.filament": "out"}
    volts = SEARCH.number_of["volts:work:lamp.1"]
    assert SEARCH.readings[volts, fault] > 22


def test_a_broken_lead_before_the_lamp_leaves_nothing_on_it():
    volts = SEARCH.number_of["volts:work:lamp.1"]
    assert SEARCH.readings[volts, NUMBER["L3.open"]] == pytest.approx(0.0, abs=0.01)


def test_bands_part_where_readings_lie_further_apart_than_the_tolerance():
    middles, outcomes = banded(np.array([24.0, 0.0, 23.5, 11.0]), 1.0)
    assert middles == (0.0, 11.0, 23.75)
    assert outcomes == (2, 0, 2, 1)


@pytest.mark.parametrize("fault", random.Random(1).sample(SHOWN, 25))
def test_every_hunt_with_right_answers_ends_on_its_fault(fault):
    answers = list(symptom_answers(SEARCH, fault))
    for _ in range(40):
        weights = probabilities(SEARCH, answers, noise=0.0)
        check = next_check(SEARCH, weights, answers, noise=0.0, sure=0.9999)
        if check is None:
            break
        answers.append(
            Answer(SEARCH.checks[check].id, SEARCH.checks[check].outcomes[SEARCH.table[check, fault]])
        )
    left = final_set(SEARCH, probabilities(SEARCH, answers, noise=0.0))
    assert fault in left
    rows = SEARCH.table[:, list(left)]
    assert (rows == rows[:, :1]).all(), "what is left could still be told apart"


def test_one_wrong_answer_is_overcome_by_making_doubtful_checks_again():
    fault = NUMBER["L3.open"]
    answers, first = list(symptom_answers(SEARCH, fault)), True
    for _ in range(40):
        weights = probabilities(SEARCH, answers, noise=0.05)
        check = next_check(SEARCH, weights, answers, noise=0.05, sure=0.995)
        if check is None:
            break
        right = int(SEARCH.table[check, fault])
        given = (right + 1) % len(SEARCH.checks[check].outcomes) if first else right
        first = False
        answers.append(Answer(SEARCH.checks[check].id, SEARCH.checks[check].outcomes[given]))
    assert fault in final_set(SEARCH, probabilities(SEARCH, answers, noise=0.05), sure=0.995)


def test_probabilities_follow_bayes_by_hand():
    """One check with two outcomes: a suspect that foretold it keeps 1 - e of its weight, another e."""
    check = next(n for n, c in enumerate(SEARCH.checks) if c.what == "fuse")
    answer = Answer(SEARCH.checks[check].id, "blown, out or loose")
    foretold = SEARCH.table[check] == 1
    wanted = SEARCH.weights * np.where(foretold, 0.9, 0.1)
    assert probabilities(SEARCH, [answer], noise=0.1) == pytest.approx(wanted / wanted.sum())


def test_volts_count_by_their_distance():
    answer = Answer("volts:work:lamp.1", volts=0.0)
    weights = probabilities(SEARCH, [answer], noise=0.01)
    assert weights[NUMBER["L3.open"]] > 50 * weights[NUMBER["L4.open"]]


def test_answers_that_stand_against_each_other_are_named():
    fault = NUMBER["L3.open"]
    good = [
        *symptom_answers(SEARCH, fault),
        Answer("volts:work:lamp.1", "nothing"),
        Answer("see:work:window.window", WELL),
        Answer("see:work:pump.armature", WELL),
    ]
    assert contradictions(SEARCH, good) == ()
    bad = Answer("see:work:window.window", "out")
    # the two looks at the window stand against each other: without either, a fault explains the rest
    assert contradictions(SEARCH, [*good, bad]) == (3, 5)


def test_a_hunt_is_stored_resumed_and_corrected():
    hunt = Hunt(services=("lamps",), seen=("lamp=out",), setting={"master": "on"}, way_in={"hold": 4.0})
    hunt = answered(
        answered(hunt, Answer("volts:work:lamp.1", volts=24.1)),
        Answer("fuse:box.1", "whole and tight", note="dry"),
    )
    assert hunt_from_data(hunt.as_data()) == hunt
    mended = corrected(hunt, 1, Answer("volts:work:lamp.1", volts=0.0))
    assert mended.answers[0].volts == 0.0
    assert corrected(hunt, 2, None).answers == hunt.answers[:1]
    with pytest.raises(UnreadableValue):
        corrected(hunt, 3, None)
    with pytest.raises(UnreadableValue):
        hunt_from_data({})


def test_an_answer_to_no_check_and_a_word_that_is_no_outcome_are_said():
    with pytest.raises(UnknownName):
        probabilities(SEARCH, [Answer("see:nowhere:lamp", "out")], noise=0.0)
    check = SEARCH.checks[SEARCH.number_of["see:work:lamp.filament"]]
    assert check.outcomes[outcome_number(check, Answer(check.id, "ok"))].endswith(WELL)
    with pytest.raises(UnreadableValue):
        outcome_number(check, Answer(check.id, "purple"))


def test_faults_that_nothing_tells_apart_are_named_together_and_proved_likeliest_for_its_minutes_first():
    weights = probabilities(SEARCH, [], noise=0.0)
    group = max(ranked(SEARCH, weights), key=lambda g: len(g.faults))
    assert len(group.faults) > 1
    proofs = proofs_of(SEARCH, weights, group.faults)
    assert {f.id for p in proofs for f in p.faults} == {FAULTS[n].id for n in group.faults}
    shares = [p.probability / p.minutes for p in proofs]
    assert shares == sorted(shares, reverse=True)


def test_patterns_share_out_all_suspects_and_the_hidden_come_last():
    patterns = patterns_of(SEARCH, seconds=1.0)
    assert sorted(f for p in patterns for f in p.faults) == list(range(len(FAULTS)))
    assert not patterns[-1].symptoms
    assert all(p.chart is not None and p.chart.exact for p in patterns if p.symptoms)


def test_telling_situations_have_the_service_at_work():
    dead = situation()
    chosen = telling_situations(PLANT, [dead, WORK], ["lamps"], most=2)
    assert chosen[0] is WORK
