"""Cards on the bench record: figures by hand, cautions beside items, and what is found set beside what is expected."""

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.faults.cards.card import Row, judged_row
from loomlore.faults.cards.carding import CARDS, card_of, sequence

PLANT = plant_of(BENCH)


def rows(card, **more):
    return {r.id: r for r in card_of(PLANT, card, **more).rows}


def test_continuity_has_every_lead_once():
    assert len(rows("continuity")) == len(PLANT.installation.dossier.cables)
    assert set(rows("continuity", service="window")) == {"continuity:W1", "continuity:W2", "continuity:W3"}


def test_first_power_steps_by_what_each_fuse_feeds():
    """Fuse 2 feeds the window's two 3 W lamps, in at once: 6 W of 24 V is 0.25 A. Fuses 1 and 3 wait for a switch."""
    found = rows("first-power")
    assert next(iter(found)) == "first-power:start"
    assert found["first-power:box.2"].low < 0.25 < found["first-power:box.2"].high
    assert found["first-power:box.1"].expect.startswith("no more")
    assert "up to" in found["first-power:box.1"].expect


def test_the_limit_of_the_supply_is_said_where_a_fuse_goes_over_it():
    assert "at its limit" in rows("first-power", limit_amps=0.1)["first-power:box.2"].expect
    assert "at its limit" not in rows("first-power", limit_amps=5.0)["first-power:box.2"].expect


def test_millivolts_are_amperes_times_ohms():
    """12 W at about 24 V is half an ampere through L1's own resistance."""
    row = rows("drops", service="lamps")["drops:cable:L1"]
    ohms = PLANT.network.branches[PLANT.network.branch_of["cable:L1"]].law.resistance
    assert row.high == pytest.approx(1.5 * 0.5 * ohms + 0.005, rel=0.1)


def test_insulation_prints_a_limit_and_what_comes_off_first():
    card = card_of(PLANT, "insulation", service="lamps")
    assert "the lamp" in card.rows[0].expect
    assert "5 Mohm at least (from memory)" in card.rows[0].expect
    assert any("100 V" in said for said in card.first)
    assert card.limits


def test_bonding_has_bolts_with_their_limit():
    row = rows("bonding")["bonding:bolt"]
    assert row.high == 0.0025
    assert judged_row(row, 0.002) == "as expected"
    assert judged_row(row, 0.004) == "too high"


def test_fuses_as_fitted():
    assert set(rows("fuses")) == {"fuses:box.1", "fuses:box.2", "fuses:box.3"}
    assert rows("fuses")["fuses:box.3"].expect.startswith("10 A carrying, 17.5 A fusing")


def test_functions_follow_the_function_table():
    found = list(card_of(PLANT, "functions", service="lamps").rows)
    assert any("lit" in r.expect for r in found)
    assert any("out" in r.expect and "other setting" in r.what for r in found)


def test_cartridges_have_their_caution_beside_the_item_and_no_figure_to_measure():
    plant = example("mail-amphibian")
    card = card_of(plant, "continuity", service="fire-bottles")
    assert any("isolated and shorted" in said for said in card.first)
    assert any("EXPLOSIVE" in caution for row in card.rows for caution in row.cautions)


def test_every_fuse_of_a_cartridge_circuit_stays_out_at_first_power():
    plant = example("mail-amphibian")
    card = card_of(plant, "first-power", service="fire-bottles")
    assert [r.id for r in card.rows] == ["first-power:start"]


def test_regulator_card_holds_the_machines():
    card = card_of(example("mail-amphibian"), "regulator")
    assert any("volts held" in r.what and r.expect == "28 V" for r in card.rows)


def test_cards_come_in_the_order_of_work():
    assert sequence(["first-power", "insulation"]) == ["insulation", "first-power"]
    assert CARDS.index("insulation") < CARDS.index("first-power")


def test_every_kind_of_card_says_what_comes_first_and_most_what_another_reading_means():
    for kind in CARDS:
        card = card_of(PLANT, kind)
        assert card.first, kind
        assert card.meaning or kind in ("fuses", "functions"), kind


def test_insulation_under_the_printed_limit_is_too_low_and_over_it_never_too_high():
    row = card_of(PLANT, "insulation", service="lamps").rows[0]
    assert judged_row(row, 4e6) == "too low"
    assert judged_row(row, 1e9) == "as expected"


def test_a_row_without_figure_is_not_judged():
    assert judged_row(Row(id="x", what="x", expect="lit"), 1.0) == ""
