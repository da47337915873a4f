"""The compiled kernel's steps, run as plain Python, against the array solver, which is the reference.

So they are held together where numba is not installed; where it is, the compiled ones are too.
"""

import random as chance

import numpy as np
import pytest

from loomlore.network import arrays, compensating, kernel
from loomlore.network.batches import bulk_of, settle_cases
from loomlore.network.cases import bridged, opened, shorted
from loomlore.network.settling import at_rest, settle
from loomlore.network.solving import prepare
from wiring import random_network


def outcomes(seed: int, *, fast: bool, entire: bool = False):
    random = chance.Random(seed)
    network = random_network(random, most=12)
    base = settle(prepare(network), at_rest(network))
    nodes = len(network.node_names)
    cases = [opened(network, n) for n in range(len(network.branches))]
    cases += [shorted(network, node) for node in range(1, nodes)]
    cases += [bridged(network, random.randrange(1, nodes), random.randrange(1, nodes)) for _ in range(5)]
    return settle_cases(bulk_of(base, fast=fast, entire=entire), [case for case in cases if not _loop(case)])


def _loop(case) -> bool:
    return any(branch.a == branch.b for branch in case.extra)


@pytest.mark.parametrize("seed", [3, 5, 8])
def test_the_kernel_uncompiled_gives_what_the_arrays_give(seed, monkeypatch):
    monkeypatch.setattr(arrays, "compiled", lambda: kernel.columns)
    with np.errstate(all="ignore"):
        same = list(zip(outcomes(seed, fast=True), outcomes(seed, fast=False), strict=True))
    assert len(same) > 10
    for ours, reference in same:
        assert (ours.how, ours.variables, ours.states) == (
            reference.how,
            reference.variables,
            reference.states,
        )
        for volts, right in zip(ours.potentials, reference.potentials, strict=True):
            assert volts == pytest.approx(right, abs=1e-9)


@pytest.mark.parametrize("seed", [3, 5, 8])
def test_newtons_method_uncompiled_gives_what_the_arrays_give(seed, monkeypatch):
    worked = []

    def plain(work):
        worked.append(work)
        return work

    monkeypatch.setattr(compensating, "compiled", plain)
    with np.errstate(all="ignore"):
        ours = outcomes(seed, fast=True, entire=True)
        right = outcomes(seed, fast=False, entire=True)
    assert worked
    for one, reference in zip(ours, right, strict=True):
        assert (one.variables, one.states) == (reference.variables, reference.states)
        assert one.potentials == pytest.approx(reference.potentials, abs=1e-9)


@pytest.mark.parametrize("entire", [False, True])
@pytest.mark.parametrize("seed", [3, 5, 8, 13, 21])
def test_the_compiled_kernel_gives_what_the_arrays_give(seed, entire):
    pytest.importorskip("numba")
    pairs = zip(
        outcomes(seed, fast=True, entire=entire), outcomes(seed, fast=False, entire=entire), strict=True
    )
    for ours, reference in pairs:
        assert (ours.variables, ours.states) == (reference.variables, reference.states)
        assert entire or ours.how == reference.how
        for volts, right in zip(ours.potentials, reference.potentials, strict=True):
            assert volts == pytest.approx(right, abs=1e-9)
