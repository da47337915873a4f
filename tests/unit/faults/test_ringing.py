"""Dead checks against the reading of one pair at a time, which test_expecting holds against networkx and by hand."""

import random

import numpy as np
import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.behaviour.operating import Moves, operated, rest
from loomlore.faults.expecting import Ohmmeter, Standing, ohms_between, standing_ohms
from loomlore.faults.injecting import case_of
from loomlore.faults.locating.ringing import ohm_bands, ring_rows
from loomlore.faults.locating.searching import (
    Terms,
    changes_nothing,
    search_of,
    suspects_of,
    telling_situations,
)
from loomlore.faults.situations import Situation, situations_of
from loomlore.network.cases import settled_case

PLANT = plant_of(BENCH)
FAULTS = suspects_of(PLANT, [])
NUMBER = {fault.id: n for n, fault in enumerate(FAULTS)}


def lever(name, position):
    number = PLANT.network.lever_of[name]
    return number, float(PLANT.network.levers[number].positions.index(position))


MOVES = (lever("lamp-switch.lever", "on"),)
SETTLED = operated(PLANT, rest(PLANT), Moves(dict(MOVES)))
AT = Situation(id="work", title="at work", settled=SETTLED, moves=MOVES)
ROWS = ring_rows(PLANT, AT, FAULTS, [()] * len(FAULTS), services=frozenset(), terms=Terms())
BY_ID = {row.check.id: row for row in ROWS}


def reading(fault, a, b):
    """One pair, the fault settled by itself in the dead installation."""
    dead = standing_ohms(PLANT, SETTLED, taken_off=("battery",))
    case = case_of(PLANT, FAULTS[fault], dead.settled)
    if case is not None:
        dead = Standing(PLANT, settled_case(dead.settled, case), Ohmmeter(), dead.taken_off)
    return ohms_between(dead, a, b).ohms


@pytest.mark.parametrize("seed", range(30))
def test_every_ohm_foretold_is_what_one_reading_by_itself_gives(seed):
    rng = random.Random(seed)
    row = rng.choice([r for r in ROWS if r.check.id.count(":") == 3])
    fault = rng.randrange(len(FAULTS))
    low, high = row.check.ohms[row.outcomes[fault]]
    alone = reading(fault, *row.check.terminals)
    if alone is None or alone > 1e5:
        assert np.isinf(high), (FAULTS[fault].id, row.check.id)
    else:
        assert low <= alone * 1.0001
        assert alone <= high * 1.0001


def test_a_lead_that_is_off_reads_what_is_round_the_other_way():
    """Through the lamp, 4 ohm cold, and the window's two of 16 side by side: 12 ohm, the bus being fed by nothing."""
    row = BY_ID["ohms:work:plug.1:lamp.1"]
    low, high = row.check.ohms[row.outcomes[NUMBER["L3.open"]]]
    assert low < 12.2 < high < 20
    assert row.check.outcomes[row.outcomes[NUMBER["L1.open"]]].startswith("through")


def test_parting_the_plug_puts_a_short_on_one_side():
    """Chafed before the plug it is still there with the plug apart; chafed behind it, it is gone."""
    row = next(r for i, r in BY_ID.items() if ".parted:outlet.1" in i)
    before, behind = (row.outcomes[NUMBER[f"{lead}.to-earth"]] for lead in ("L2", "L3"))
    assert row.check.ohms[before][1] < 1.0
    assert row.check.ohms[behind][0] > 3.0


def test_what_is_taken_apart_costs_more_and_says_what_to_do_first():
    parted = next(r.check for i, r in BY_ID.items() if ".parted:" in i)
    plain = BY_ID["ohms:work:plug.1:lamp.1"].check
    lifted = next(r.check for i, r in BY_ID.items() if ".lifted:" in i)
    assert parted.minutes > plain.minutes + 2.5
    assert lifted.minutes > parted.minutes
    assert "lead off the battery" in plain.words
    assert parted.first[-1].startswith("Part the")
    assert any("No starter" in said for said in lifted.cautions)


def test_no_dead_check_goes_where_one_reading_is_refused():
    plant = example("mail-amphibian")
    at = telling_situations(plant, situations_of(plant), ["fire-bottles"])[0]
    faults = suspects_of(plant, ["fire-bottles"], feeding=False)[:40]
    services = frozenset(["fire-bottles"])
    rows = ring_rows(plant, at, faults, [()] * len(faults), services=services, terms=Terms())
    dead = standing_ohms(plant, rest(plant), taken_off=("battery", "ground-supply"))
    for row in rows:
        assert "never" not in ohms_between(dead, *row.check.terminals).refused


def test_bands_by_hand():
    """5 % and 0.2 ohm of leads: 1.0 is 1.15 to 1.25, 1.2 is 1.34 to 1.46, one band of both; 10 is another."""
    bands, outcomes = ohm_bands(np.array([10.0, 1.0, np.inf, 1.2]), np.array([10.0, 1.0, np.inf, 1.2]))
    assert outcomes == (1, 0, 2, 0)
    assert bands[0] == pytest.approx((1.15, 1.46))
    assert np.isinf(bands[2][0])


def test_a_fault_that_is_said_to_change_nothing_changes_no_potential():
    """Against the one-by-one solver, for every fault of the bench in two standings of it."""
    on = Situation(
        id="on",
        title="on",
        settled=operated(PLANT, rest(PLANT), Moves(dict([*MOVES, lever("master.lever", "on")]))),
    )
    quiet = 0
    for at in (AT, on):
        for fault in FAULTS:
            case = case_of(PLANT, fault, at.settled)
            if case is None or not changes_nothing(at.settled, case):
                continue
            quiet += 1
            after = settled_case(at.settled, case)
            assert after.memory.variables == at.settled.memory.variables
            for node in range(len(PLANT.network.node_names)):
                if not after.solution.floats(node):
                    was = at.settled.solution.potentials[node]
                    assert after.solution.potentials[node] == pytest.approx(was, abs=1e-6), fault.id
    assert quiet > 40


def test_a_search_has_the_same_outcomes_with_and_without_leaving_out_what_changes_nothing(monkeypatch):
    from loomlore.faults.locating import searching

    quick = search_of(PLANT, [AT], FAULTS)
    monkeypatch.setattr(searching, "changes_nothing", lambda *_: False)
    slow = search_of(PLANT, [AT], FAULTS)
    assert [c.id for c in quick.checks] == [c.id for c in slow.checks]
    assert (quick.table == slow.table).all()
