"""Charts of checks against enumeration of every tree, written here without the code under test."""

import random
from functools import cache

import pytest

from loomlore.faults.locating.sequencing import (
    End,
    Trial,
    alike_groups,
    best_chart,
    charted,
    huffman_cost,
    next_trial,
    plain_chart,
    walked,
)


def enumerated(weights, trials):
    """The least mean cost over all trees, by trying every trial at every turning."""

    @cache
    def least(members):
        best = None
        for trial in trials:
            parts = {}
            for m in members:
                parts.setdefault(trial.outcomes[m], set()).add(m)
            if len(parts) > 1:
                cost = trial.cost * sum(weights[m] for m in members)
                cost += sum(least(frozenset(p)) for p in parts.values())
                best = cost if best is None else min(best, cost)
        return 0.0 if best is None else best

    return least(frozenset(range(len(weights)))) / sum(weights)


def puzzle(seed, faults, trials, outcomes=(1, 1, 2)):
    rng = random.Random(seed)
    weights = [rng.random() ** 2 + 0.01 for _ in range(faults)]
    made = [
        Trial(
            str(n),
            rng.choice([1, 2, 3, 5]),
            tuple(rng.randint(0, rng.choice(outcomes)) for _ in range(faults)),
        )
        for n in range(trials)
    ]
    return weights, made


def cost_by_walking(chart, weights, trials):
    total = 0.0
    for fault, weight in enumerate(weights):
        made, end = walked(chart, lambda t, f=fault: trials[t].outcomes[f])
        assert fault in end.faults
        total += weight * sum(trials[t].cost for t in made)
    return total / sum(weights)


@pytest.mark.parametrize("seed", range(25))
def test_exact_chart_costs_what_enumeration_finds(seed):
    weights, trials = puzzle(seed, 7, 6)
    chart = best_chart(weights, trials)
    assert chart.exact
    assert chart.cost == pytest.approx(enumerated(weights, trials), rel=1e-12)
    assert cost_by_walking(chart, weights, trials) == pytest.approx(chart.cost, rel=1e-12)


@pytest.mark.parametrize("seed", range(100, 125))
def test_looking_ahead_stays_within_five_per_cent_of_the_best(seed):
    weights, trials = puzzle(seed, 14, 18)
    best = best_chart(weights, trials).cost
    ahead = charted(weights, trials, seconds=0)
    assert cost_by_walking(ahead, weights, trials) == pytest.approx(ahead.cost, rel=1e-12)
    assert best - 1e-12 <= ahead.cost <= 1.05 * best
    assert ahead.bound <= best + 1e-12


def test_looking_ahead_is_within_two_per_cent_on_average():
    shares = []
    for seed in range(200, 230):
        weights, trials = puzzle(seed, 13, 16)
        shares.append(charted(weights, trials, seconds=0).cost / best_chart(weights, trials).cost)
    assert sum(shares) / len(shares) <= 1.02
    assert max(shares) <= 1.05


@pytest.mark.parametrize("seed", range(10))
def test_a_chart_given_no_time_to_prove_tells_a_gap_that_holds(seed):
    weights, trials = puzzle(seed, 10, 9)
    best = enumerated(weights, trials)
    chart = charted(weights, trials, seconds=0, small=0)
    assert chart.bound <= best + 1e-12 <= chart.cost + 2e-12
    assert chart.cost <= chart.bound * (1 + chart.gap) + 1e-9


def test_faults_that_no_trial_tells_apart_end_together():
    trials = [Trial("a", 1, (0, 0, 1, 1)), Trial("b", 1, (0, 0, 0, 1))]
    assert alike_groups(trials, range(4)) == ((0, 1), (2,), (3,))
    chart = best_chart([1, 1, 1, 1], trials)
    ends = [walked(chart, lambda t, f=fault: trials[t].outcomes[f])[1] for fault in range(4)]
    assert ends[0] == ends[1] == End((0, 1))


def test_nothing_to_tell_apart_wants_no_check():
    assert next_trial([1.0, 1.0], [Trial("a", 1, (0, 0))]) is None
    assert best_chart([1.0], [Trial("a", 1, (0,))]).cost == 0


def test_a_dear_trial_gives_way_to_two_cheap_ones():
    trials = [Trial("dear", 10, (0, 1, 2)), Trial("one", 1, (0, 1, 1)), Trial("two", 1, (0, 0, 1))]
    chart = best_chart([1, 1, 1], trials)
    assert chart.cost == pytest.approx(5 / 3)
    assert trials[next_trial([1, 1, 1], trials)].name != "dear"


def test_huffman_of_five_equal_leaves():
    """By hand: two leaves at depth 3 and three at depth 2 are 12 of 5."""
    assert huffman_cost([0.2] * 5) == pytest.approx(12 / 5)


def test_the_plain_rule_is_never_under_the_best():
    for seed in range(20):
        weights, trials = puzzle(seed, 8, 8)
        assert plain_chart(weights, trials).cost >= best_chart(weights, trials).cost - 1e-12
