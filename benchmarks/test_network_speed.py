"""Ratios of the network's solvers to the plain loop, watched in one run; `bulk.py` and `settle.py` print them all.

Limits lie well under what is measured on an idle machine, so that a busy one does not turn them red.
"""

import sys
from pathlib import Path
from time import process_time

import pytest

sys.path.append(str(Path(__file__).parent))

import bulk
import settle

from invented_installation import installation, settings, settled
from loomlore.network.kernel import compiled


@pytest.fixture(scope="module")
def network():
    return installation()


@pytest.fixture(scope="module")
def bases(network):
    return [settled(network, setting) for setting in settings(network)]


def test_one_setting_settles_warm_in_five_milliseconds(bases):
    assert settle.milliseconds(lambda: settle.anew(bases[4].memory, bases[4]), 20) < 5.0


def test_a_case_once_tables_stand_is_many_times_the_plain_loop(network, bases):
    plain = bulk.plain_seconds(network, bases, 40)
    assert bulk.rate(network, bases[4], fast=False, count=8000) * plain > 40
    if compiled() is not None:
        assert bulk.rate(network, bases[4], fast=True, count=8000) * plain > 60


def test_a_case_costs_about_the_same_in_an_installation_ten_times_as_large():
    costs = bulk.growth((1, 10), fast=False, count=2000)
    assert costs[10] < 3 * costs[1]


def test_every_single_fault_end_to_end_beats_the_plain_loop(network, bases):
    plain = bulk.plain_seconds(network, bases[4:5], 40)
    began = process_time()
    result = bulk.end_to_end(network, bases[4:5], fast=False)
    assert plain * result.cases / (process_time() - began) > 3
