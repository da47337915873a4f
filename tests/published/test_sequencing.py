"""Test sequencing instances with proven optima.

P90 is the small example of Pattipati and Alexandridis 1990 [pattipati-1990]: its matrix is from memory and was
not checked against the print; its optimum is recalled as 2.18, and is worked out again below by enumerating every
tree. CHAIN8 and CHAIN7 equal the analytic bounds (3, and 20/7). CHAIN6 and GREEDY5 are constructed, with optima
by brute force: on all of P90, CHAIN6 and GREEDY5 most information for the cost is known not to be best.
"""

from itertools import product

import pytest

from loomlore.faults.locating.sequencing import Trial, best_chart, charted, plain_chart

# instance: (probability, signature over t1..tn) by state; every test costs 1
STATES = {
    "P90": (
        (0.7, "00000"),
        (0.01, "01001"),
        (0.02, "00110"),
        (0.1, "10011"),
        (0.05, "11000"),
        (0.12, "11110"),
    ),
    "CHAIN8": tuple((0.125, "1" * (7 - n) + "0" * n) for n in range(8)),
    "CHAIN7": tuple((1 / 7, "1" * (6 - n) + "0" * n) for n in range(7)),
    "CHAIN6": (
        (0.4, "11111"),
        (0.05, "01111"),
        (0.25, "00111"),
        (0.1, "00011"),
        (0.15, "00001"),
        (0.05, "00000"),
    ),
    "GREEDY5": ((0.3, "1011"), (0.05, "0100"), (0.05, "0001"), (0.45, "0110"), (0.15, "1111")),
}

# optimum, cost of the plain rule; all as tabled, six digits
ANSWERS = {
    "P90": (2.18, 2.86),
    "CHAIN8": (3.0, 3.0),
    "CHAIN7": (2.857143, 2.857143),
    "CHAIN6": (2.4, 2.5),
    "GREEDY5": (2.1, 2.35),
}


def instance(name):
    weights = [p for p, _ in STATES[name]]
    count = len(STATES[name][0][1])
    return weights, [Trial(f"t{n + 1}", 1.0, tuple(int(s[n]) for _, s in STATES[name])) for n in range(count)]


def all_trees(members, trials):
    """Every tree, as the depth of each member."""
    if len(members) == 1:
        yield {members[0]: 0}
        return
    for trial in trials:
        zero = [m for m in members if not trial.outcomes[m]]
        one = [m for m in members if trial.outcomes[m]]
        if zero and one:
            for left, right in product(list(all_trees(zero, trials)), list(all_trees(one, trials))):
                yield {m: d + 1 for m, d in (left | right).items()}


@pytest.mark.parametrize("name", STATES)
def test_exact(name):
    chart = best_chart(*instance(name))
    assert chart.cost == pytest.approx(ANSWERS[name][0], abs=5e-7)


@pytest.mark.parametrize("name", STATES)
def test_looking_ahead_within_five_per_cent(name):
    cost = charted(*instance(name), seconds=0, small=0).cost
    assert ANSWERS[name][0] - 5e-7 <= cost <= 1.05 * ANSWERS[name][0]


@pytest.mark.parametrize("name", STATES)
def test_the_plain_rule_fails_where_it_is_known_to(name):
    assert plain_chart(*instance(name)).cost == pytest.approx(ANSWERS[name][1], abs=5e-7)


def test_p90_by_enumerating_every_tree():
    weights, trials = instance("P90")
    costs = [sum(weights[m] * d for m, d in tree.items()) for tree in all_trees(list(range(6)), trials)]
    assert len(costs) == 316
    assert min(costs) == pytest.approx(2.18, abs=1e-12)
