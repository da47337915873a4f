"""Criticality numbers and spares against worked examples of the handbooks.

Only the row POISSON (MIL-HDBK-338B, example of 5.3.8.1, p 5-27) was read by somebody; the others are from memory
and stand here beside the formula C_m = beta alpha lambda t, which was read.
"""

import math

import pytest

from loomlore.catalogue.published_tables import published_table
from loomlore.faults.rates import (
    LEVELS,
    LIKELIHOODS,
    effect_class,
    item_criticality,
    mode_criticality,
    occurrence_level,
    rate_of,
    spares_suffice,
)
from published.printed import agrees_with_print, is_read, printed_rows

ROWS = {row["id"]: row for row in printed_rows("criticality_examples")}


def test_two_spares_see_500_hours_through():
    row = ROWS["POISSON"]
    assert is_read(row)
    assert agrees_with_print(spares_suffice(0.001, hours=500, spares=2), row["expected"])


def test_spares_by_counting_failures_one_by_one():
    """Poisson's law as the limit of many short trials, worked without it."""
    trials, chance = 200_000, 0.5 / 200_000
    none = (1 - chance) ** trials
    one = none * trials * chance / (1 - chance)
    two = one * (trials - 1) / 2 * chance / (1 - chance)
    assert spares_suffice(0.001, hours=500, spares=2) == pytest.approx(none + one + two, abs=1e-5)


@pytest.mark.parametrize(("row", "share"), [("C2", 0.3), ("C3", 0.2)])
def test_mode_numbers(row, share):
    number = mode_criticality(0.10e-6 * 1.5 * 40 * 1.2, share=share, effect=0.5, hours=1)
    assert agrees_with_print(number * 1e6, ROWS[row]["expected"].removesuffix("e-6"))


def test_item_number_is_the_sum_of_its_modes():
    modes = [float(ROWS[name]["expected"]) for name in ("C2", "C3")]
    assert item_criticality(modes) == pytest.approx(float(ROWS["C4"]["expected"]))


def test_levels_and_classes_at_their_limits():
    """The limits are from memory: strictly above, as they are recalled."""
    assert [occurrence_level(x) for x in (0.21, 0.20, 0.11, 0.10, 0.011, 0.01, 0.0011, 0.001)] == list(
        "ABBCCDDE"
    )
    assert [letter for letter, *_ in LEVELS] == list("ABCDE")
    assert [effect_class(x) for x in (1.0, 0.99, 0.1, 0.0)] == ["actual", "probable", "possible", "none"]


def test_lamp_rates_follow_the_volts_of_the_table():
    """MIL-HDBK-217F sect 20.1 (from memory): 0.074 V to the 1.29, which its printed values keep to 2 %."""
    for volts in (6, 12, 24, 28):
        assert rate_of("lamp", "burnt-out", volts=volts).of_mode == pytest.approx(
            0.074 * volts**1.29, rel=0.02
        )


def test_mode_shares_of_each_item_are_a_whole():
    """Shares of one item add to one where the table lists all its modes; never to more."""
    sums: dict[str, float] = {}
    for row in published_table("mil-hdbk-338b-1998-failure-modes"):
        sums[row["item"]] = sums.get(row["item"], 0.0) + float(row["share"])
    assert all(total <= 1.005 for total in sums.values()), sums
    assert sum(math.isclose(total, 1.0, abs_tol=0.011) for total in sums.values()) >= 18


def test_published_and_judged_rates_say_which_they_are():
    assert rate_of("fuse", "blown").judged == ""
    assert rate_of("fuse", "blown").status == "memory"
    assert rate_of("cable", "open").judged == "rate"
    assert rate_of("heater", "open").judged == "rate and share"
    assert rate_of("way", "crossed").of_mode == 0.0


def test_likelihoods_keep_the_order_of_the_trade():
    """Crossed ways first, then bad joints, lifted earths, open leads, chafed leads, wrong parts: common practice."""
    order = ["crossed", "high-resistance", "lifted", "open", "to-earth", "wrong-lamp", "sticks", "shorted"]
    weights = [LIKELIHOODS[mode] for mode in order]
    assert weights == sorted(weights, reverse=True)
