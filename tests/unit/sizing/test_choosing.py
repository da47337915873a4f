"""Choosing the lightest sizes: against brute force, exact boundaries, and what is said where nothing fits."""

import itertools
import math
import time

import numpy as np
import pytest

from loomlore.findings import UnknownName
from loomlore.references import OutOfRange
from loomlore.sizing.choosing import SLACK, Candidate, Limit, Run, lightest_sizes

REEL = tuple(
    # Invented round figures, 1.6 a step; mass not quite in proportion, as with real covering.
    Candidate(f"size {k}", resistance=0.04 / 1.6**k, mass=0.004 + 0.004 * 1.6**k, ampacity=6 * 1.35**k)
    for k in range(6)
)


def random_harness(seed):
    """A tree of 4 to 6 runs, a limit to each leaf; now and then a fuse, a twin, a loop."""
    random = np.random.default_rng(seed)
    count = int(random.integers(4, 7))
    above = [-1] + [int(random.integers(0, k)) for k in range(1, count)]
    leaves = [k for k in range(count) if k not in above]
    drawn = {leaf: float(random.uniform(0.5, 5)) for leaf in leaves}
    paths = {leaf: path_to(leaf, above) for leaf in leaves}
    current = [sum(drawn[leaf] for leaf in leaves if k in paths[leaf]) for k in range(count)]
    sizes = REEL[: int(random.integers(3, 6))]
    fuses = [math.ceil(current[k]) if random.random() < 0.3 else 0 for k in range(count)]
    twin = "twin" if random.random() < 0.3 else ""
    runs = [
        Run(
            f"r{k}",
            length=float(random.uniform(0.5, 12)),
            current=current[k],
            fuse=float(fuses[k]),
            derating=float(random.uniform(0.8, 1)),
            group=twin if k >= count - 2 else "",
        )
        for k in range(count)
    ]
    limits = [
        Limit(
            f"leaf {leaf}", tuple((f"r{k}", current[k]) for k in paths[leaf]), float(random.uniform(0.4, 2.5))
        )
        for leaf in leaves
    ]
    if random.random() < 0.4:
        path = paths[leaves[0]]
        limits.append(
            Limit("loop", tuple((f"r{k}", 1.0) for k in path), float(random.uniform(0.1, 0.6)), "ohm")
        )
    return runs, sizes, limits


def path_to(leaf, above):
    path = [leaf]
    while above[path[-1]] >= 0:
        path.append(above[path[-1]])
    return path


def lightest_by_brute_force(runs, sizes, limits, *, most_sizes=None):
    """Every combination tried, with the rules written out afresh."""
    best = None
    for chosen in itertools.product(sizes, repeat=len(runs)):
        by_run = {run.name: size for run, size in zip(runs, chosen, strict=True)}
        by_group = {}
        for run in runs:
            if run.group:
                by_group.setdefault(run.group, set()).add(by_run[run.name].name)
        carries = all(
            max(run.current, run.fuse) <= by_run[run.name].ampacity * run.derating * (1 + SLACK)
            for run in runs
        )
        alike = all(len(names) == 1 for names in by_group.values())
        few = most_sizes is None or len({size.name for size in chosen}) <= most_sizes
        if not (carries and alike and few):
            continue
        lengths = {run.name: run.length for run in runs}
        kept = all(
            sum(weight * lengths[name] * by_run[name].resistance for name, weight in limit.terms)
            <= limit.greatest * (1 + SLACK)
            for limit in limits
        )
        mass = sum(run.length * size.mass for run, size in zip(runs, chosen, strict=True))
        if kept and (best is None or mass < best):
            best = mass
    return best


@pytest.mark.parametrize("seed", range(100))
def test_as_light_as_brute_force(seed):
    runs, sizes, limits = random_harness(seed)
    choice = lightest_sizes(runs, sizes, limits)
    best = lightest_by_brute_force(runs, sizes, limits)
    if best is None:
        assert choice.shortfalls
        assert not choice.sizes
        return
    assert choice.mass == pytest.approx(best, rel=1e-9)
    assert choice.proven
    assert choice.bound == pytest.approx(best, rel=1e-6)
    assert all(kept.value.value <= kept.limit.greatest * (1 + SLACK) for kept in choice.limits)


def nearly_missed(seed, share):
    """A harness whose lightest set now misses, or just keeps, its tightest limit by a share of it."""
    runs, sizes, limits = random_harness(seed)
    choice = lightest_sizes(runs, sizes, limits)
    if not choice.sizes:
        return None
    tightest = max(choice.limits, key=lambda kept: kept.share)
    moved = [
        Limit(limit.name, limit.terms, tightest.value.value * (1 - share), limit.unit)
        if limit == tightest.limit
        else limit
        for limit in limits
    ]
    return runs, sizes, moved


@pytest.mark.parametrize("share", [1e-5, 1e-6, 5e-7, 1e-8, 0.0, -5e-7])
def test_limits_nearer_than_the_solver_sees(share):
    """Harness 14 at 5e-7 once had a set 0.5 % too heavy called proven, before limits were whole numbers."""
    solved = []
    for seed in range(24):
        harness = nearly_missed(seed, share)
        if harness is None:
            continue
        choice, best = lightest_sizes(*harness), lightest_by_brute_force(*harness)
        assert (best is None) == (not choice.sizes)
        if best is not None:
            assert choice.mass == pytest.approx(best, rel=1e-9)
            assert choice.proven
        solved.append(choice.solved)
    assert len(solved) > 10
    if 0 < share < 1e-6:
        assert max(solved) > 1, "no answer was refused: this would not try the cuts"


def test_the_hundred_hold_both_kinds():
    """Else the test above would not try what it says."""
    found = [lightest_sizes(*random_harness(seed)) for seed in range(100)]
    fitting = sum(bool(choice.sizes) for choice in found)
    assert 30 <= fitting <= 90
    uneven = sum(len({size.name for size in choice.sizes.values()}) > 1 for choice in found)
    assert uneven >= 20


@pytest.mark.parametrize("seed", range(0, 40, 2))
@pytest.mark.parametrize("most_sizes", [1, 2])
def test_few_sizes_as_light_as_brute_force(seed, most_sizes):
    runs, sizes, limits = random_harness(seed)
    choice = lightest_sizes(runs, sizes, limits, most_sizes=most_sizes)
    best = lightest_by_brute_force(runs, sizes, limits, most_sizes=most_sizes)
    if best is None:
        assert not choice.sizes
        assert choice.shortfalls[0].hint
        return
    assert choice.mass == pytest.approx(best, rel=1e-9)
    assert len({size.name for size in choice.sizes.values()}) <= most_sizes


THIN = Candidate("thin", resistance=0.02, mass=0.01, ampacity=10)
THICK = Candidate("thick", resistance=0.01, mass=0.02, ampacity=20)


@pytest.mark.parametrize(
    ("over", "name"), [(0.0, "thin"), (-1e-12, "thin"), (-1e-8, "thick"), (-4e-7, "thick"), (-1e-3, "thick")]
)
def test_a_limit_met_exactly_and_missed_by_less_than_the_solver_sees(over, name):
    """5 A, 10 m, 0.02 ohm/m is 1 V. The solver's own tolerance of one in a million must not decide."""
    run, limit = Run("r", 10, 5), Limit("lamp", (("r", 5),), 1.0 + over)
    choice = lightest_sizes([run], [THIN, THICK], [limit])
    assert choice.sizes["r"].name == name
    assert choice.proven


def test_many_cuts_still_end():
    """Eight equal runs on one limit missed by less than the solver sees: all 70 fours of them are refused."""
    runs = [Run(f"r{k}", 1, 1) for k in range(8)]
    limit = Limit("end", tuple((run.name, 1.0) for run in runs), 0.12 * (1 - 3e-7))  # four thin are 0.12
    choice = lightest_sizes(runs, [THIN, THICK], [limit], seconds=20)
    thin = sum(size.name == "thin" for size in choice.sizes.values())
    assert thin == 3
    assert choice.proven
    assert choice.solved > 50


def test_metal_is_spent_where_the_current_flows():
    """A feeder that serves four lamps gets the thick size before any of the lamps does."""
    runs = [Run("feeder", 5, 8), *(Run(f"lamp {k}", 5, 2) for k in range(4))]
    limits = [Limit(f"lamp {k}", (("feeder", 8), (f"lamp {k}", 2)), 0.7) for k in range(4)]
    choice = lightest_sizes(runs, [THIN, THICK], limits)
    assert choice.sizes["feeder"].name == "thick"
    assert {choice.sizes[f"lamp {k}"].name for k in range(4)} == {"thin"}


def test_the_reason_names_what_the_lighter_size_breaks():
    choice = lightest_sizes([Run("r", 10, 5)], [THIN, THICK], [Limit("tail lamp", (("r", 5),), 0.9)])
    (reason,) = choice.reasons
    assert (reason.chosen, reason.lighter) == ("thick", "thin")
    assert reason.broken == ("tail lamp: 1 V of 0.9",)


def test_a_fuse_sets_the_size():
    choice = lightest_sizes([Run("r", 1, 1, fuse=15)], [THIN, THICK], [])
    assert choice.sizes["r"].name == "thick"
    assert "fuse" in choice.reasons[0].broken[0]


def test_a_table_of_fuses_sets_the_size():
    listed = Candidate("listed", resistance=0.02, mass=0.01, ampacity=50, greatest_fuse=5)
    choice = lightest_sizes([Run("r", 1, 1, fuse=10)], [listed, THICK], [])
    assert choice.sizes["r"].name == "thick"


def test_a_twin_has_one_size():
    runs = [Run("out", 10, 5, group="twin"), Run("back", 10, 1, group="twin"), Run("alone", 10, 1)]
    choice = lightest_sizes(runs, [THIN, THICK], [Limit("lamp", (("out", 5), ("back", 5)), 1.5)])
    assert choice.sizes["out"].name == choice.sizes["back"].name == "thick"
    assert choice.sizes["alone"].name == "thin"


def test_only_what_is_allowed():
    choice = lightest_sizes([Run("r", 1, 1, allowed=("thick",))], [THIN, THICK], [])
    assert choice.sizes["r"].name == "thick"


def test_a_drop_that_nothing_keeps_is_told_with_its_least():
    choice = lightest_sizes([Run("r", 10, 5)], [THIN, THICK], [Limit("horn", (("r", 5),), 0.4)])
    (short,) = choice.shortfalls
    assert (short.name, short.allowed, short.unit) == ("horn", 0.4, "V")
    assert short.least == pytest.approx(0.5)  # 5 A x 10 m x 0.01 ohm/m
    assert choice.proven


def test_a_current_that_nothing_carries_is_told():
    choice = lightest_sizes([Run("starter", 10, 300)], [THIN, THICK], [])
    (short,) = choice.shortfalls
    assert (short.name, short.least, short.allowed, short.unit) == ("starter", 300, 20, "A")


def test_too_few_sizes_allowed_is_told():
    heavy = Candidate("heavy", resistance=0.02, mass=0.5, ampacity=100)
    runs = [Run("starter", 1, 90), Run("lamp", 10, 5)]
    limits = [Limit("lamp", (("lamp", 5),), 0.6)]
    assert lightest_sizes(runs, [THICK, heavy], limits).proven
    choice = lightest_sizes(runs, [THICK, heavy], limits, most_sizes=1)
    assert not choice.sizes
    assert choice.shortfalls[0].least == 2


@pytest.mark.parametrize(
    ("runs", "limits", "said"),
    [
        ([Run("tail", 1, 1)], [Limit("x", (("tial", 1),), 1)], "tail"),
        ([Run("tail", 1, 1, allowed=("thik",))], [], "thick"),
        ([Run("tail", 1, 1), Run("tail", 2, 1)], [], "only once"),
    ],
)
def test_names_that_do_not_exist_are_refused(runs, limits, said):
    with pytest.raises(UnknownName, match=said):
        lightest_sizes(runs, [THIN, THICK], limits)


def test_a_negative_length_is_refused():
    with pytest.raises(OutOfRange):
        lightest_sizes([Run("r", -1, 1)], [THIN], [])


def test_no_runs_at_all():
    choice = lightest_sizes([], [THIN], [])
    assert choice.mass == 0
    assert choice.proven


def large_harness(branches):
    random = np.random.default_rng(branches)
    runs, limits = [], []
    for b in range(branches):
        loads = random.uniform(0.3, 3, size=5)
        runs.append(Run(f"feed {b}", float(random.uniform(2, 8)), float(loads.sum())))
        for k, amps in enumerate(loads):
            runs.append(Run(f"load {b}.{k}", float(random.uniform(1, 10)), float(amps)))
            terms = ((f"feed {b}", float(loads.sum())), (f"load {b}.{k}", float(amps)))
            limits.append(Limit(f"load {b}.{k}", terms, 1.0))
    return runs, limits


def test_three_hundred_cables_in_reasonable_time():
    """50 services of six cables; the figure is generous, for a busy machine."""
    runs, limits = large_harness(50)
    started = time.perf_counter()
    choice = lightest_sizes(runs, REEL, limits)
    assert time.perf_counter() - started < 20
    assert choice.proven
    assert len(choice.sizes) == 300


def trunk_with_branches(count):
    """One trunk that thins out, a load at every joint: all limits hang together, the hardest kind."""
    random = np.random.default_rng(count)
    loads = random.uniform(0.2, 2, count)
    carried = [float(loads[k:].sum()) for k in range(count)]
    runs = [Run(f"trunk {k}", float(random.uniform(0.3, 1)), carried[k]) for k in range(count)]
    runs += [Run(f"load {k}", float(random.uniform(1, 6)), float(loads[k])) for k in range(count)]
    limits = [
        Limit(
            f"load {k}",
            (*((f"trunk {j}", carried[j]) for j in range(k + 1)), (f"load {k}", float(loads[k]))),
            float(random.uniform(0.7, 1.2)),
        )
        for k in range(count)
    ]
    sizes = [Candidate(f"s{k}", 0.04 / 1.35**k, 0.003 + 0.004 * 1.35**k, 6 * 1.25**k) for k in range(14)]
    return runs, sizes, limits


def test_when_time_runs_out_a_set_that_passes_is_given_with_its_gap():
    harness = trunk_with_branches(40)
    hurried = lightest_sizes(*harness, seconds=1e-6)
    assert len(hurried.sizes) == 80
    assert all(kept.value.value <= kept.limit.greatest * (1 + SLACK) for kept in hurried.limits)
    patient = lightest_sizes(*harness, seconds=30)
    assert patient.proven
    assert hurried.bound <= patient.mass * (1 + 1e-9) <= hurried.mass * (1 + 2e-9)
    if not hurried.proven:
        assert hurried.gap >= (hurried.mass - patient.mass) / hurried.mass - 1e-9
