"""Standards of fit: what is permitted, and the record as it stands in one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.findings import UnknownName
from loomlore.record.fitting import (
    changed,
    fits_of,
    fitted,
    is_fitted,
    is_permitted,
    named_standard,
    permitted_combinations,
)
from loomlore.record.model import Choice, Dossier, Fit, Standard
from loomlore.record.rules.fits import covering_standards
from loomlore.sentences import read_sentence
from trial_record import TRIAL, reading_of, spoilt

RADIO, NONE = frozenset({"radio"}), frozenset({"no-radio"})


def dossier(text: str = TRIAL) -> Dossier:
    return reading_of(text).dossier


def record(
    choices: dict[str, tuple[str, ...]], rest: tuple[str, ...] = (), **standards: tuple[str, ...]
) -> Dossier:
    names = [*(f for one_of in choices.values() for f in one_of), *rest]
    return Dossier(
        fits={n: Fit(id=n) for n in names},
        choices={n: Choice(id=n, one_of=one_of) for n, one_of in choices.items()},
        standards={n: Standard(id=n, fits=fits) for n, fits in standards.items()},
    )


def test_exactly_one_of_each_choice_and_any_of_the_rest():
    found = list(
        permitted_combinations(record({"wireless": ("a", "b"), "tips": ("c", "d", "e")}, ("f", "g")))
    )
    # 2 x 3 choices, 2 to the 2 of the rest
    assert len(found) == len(set(found)) == 24
    assert all(len(fits & {"a", "b"}) == 1 and len(fits & {"c", "d", "e"}) == 1 for fits in found)


def test_only_the_named_fits_vary_and_the_rest_is_as_in_the_default():
    whole = record({"wireless": ("a", "b"), "tips": ("c", "d", "e")}, ("f", "g"), usual=("b", "d", "g"))
    assert list(permitted_combinations(whole, frozenset({"f"}))) == [
        frozenset({"b", "d", "g"}),
        frozenset({"b", "d", "g", "f"}),
    ]
    # a choice of which one fit is named also takes another of its fits
    assert set(permitted_combinations(whole, frozenset({"c"}))) == {
        frozenset({"b", "c", "g"}),
        frozenset({"b", "d", "g"}),
    }
    assert list(permitted_combinations(whole, frozenset())) == [frozenset({"b", "d", "g"})]


def test_the_default_comes_first_and_a_fit_may_need_another():
    whole = record({}, ("a", "b"), usual=("a",))
    needing = Dossier(
        fits={"a": Fit(id="a"), "b": Fit(id="b", fit=read_sentence("a"))},
        standards=whole.standards,
    )
    assert list(permitted_combinations(needing)) == [frozenset("a"), frozenset(), frozenset("ab")]
    assert not is_permitted(needing, frozenset("b"))


def test_a_standard_is_taken_by_name_by_the_dossier_or_the_first():
    assert named_standard(dossier(), None) == RADIO
    assert named_standard(dossier(), "later") == {"no-radio", "mod-1"}
    chosen = dossier(spoilt('supply = "24 V"', 'supply = "24 V"\nstandard = "later"'))
    assert named_standard(chosen, None) == {"no-radio", "mod-1"}
    assert named_standard(record({"wireless": ("a", "b")}, ("c",)), None) == {"a"}
    with pytest.raises(UnknownName, match="'later'"):
        named_standard(dossier(), "latter")


def test_what_is_not_fitted_is_gone_with_all_that_stands_under_it():
    with_radio, without = fitted(dossier(), RADIO), fitted(dossier(), NONE)
    assert set(with_radio.items) - set(without.items) == {"radio-plug", "radio-socket", "radio-set"}
    assert set(with_radio.cables) - set(without.cables) == {"R1", "R2", "R3", "R4"}
    assert "radio" not in without.services
    assert dossier().items.keys() == with_radio.items.keys()


def test_a_change_is_read_as_the_text_is():
    after = fitted(dossier(), frozenset({"radio", "mod-1"}))
    assert after.items["lamp"].rating["power"].value == 12.0
    assert fitted(dossier(), RADIO).items["lamp"].rating["power"].value == 6.0
    assert after.items["lamp"].place == "tip"


def test_what_a_fit_takes_away_is_gone_with_its_ways_and_scales():
    text = spoilt(
        'mod-1 = { title = "Stronger lamp", ',
        'mod-1 = { title = "No box, no gauge", removes = ["box", "gauge", "H1"], ',
    )
    after = fitted(dossier(text), frozenset({"radio", "mod-1"}))
    assert not {"box", "gauge"} & after.items.keys()
    assert "H1" not in after.cables
    assert after.ways == {}
    assert after.scales == {}
    assert "L1" in after.cables  # a cable to it is the user's to take away: the rules say so


def test_a_way_and_a_cable_may_be_changed_and_a_new_kind_drops_the_olds_parameters():
    text = spoilt(
        'change = { lamp = { rating = "24 V 12 W" } }',
        'change = { "box.1" = { fuse = "10 A" }, H1 = { length = "2 m" }, box = { kind = "terminal-block" } }',
    )
    after = fitted(dossier(text), frozenset({"radio", "mod-1"}))
    assert after.ways["box.1"].fuse.value == 10.0
    assert after.cables["H1"].length.value == 2.0
    assert after.items["box"].own == {}
    assert dossier(text).items["box"].own == {"ways": 3}


def test_a_change_that_cannot_be_read_is_a_slip_and_leaves_the_key():
    lamp = dossier().items["lamp"]
    after, slips = changed(lamp, "item", {"rating": "24", "place": "bay"})
    assert after.rating == lamp.rating
    assert after.place == "bay"
    assert [slip.path[0] for slip in slips] == ["rating"]


def test_a_fit_sentence_that_nobody_can_judge_keeps_its_thing():
    known = fits_of(dossier())
    assert is_fitted(read_sentence("radoi"), RADIO, known)
    assert not is_fitted(read_sentence("radio and not mod-1"), NONE, known)
    assert is_fitted(read_sentence("radio is fitted and mod-1 is not fitted"), RADIO, known)


def test_covering_sees_every_fit_in_and_out():
    whole = record({"wireless": ("a", "b", "c")}, ("d",), usual=("a",))
    chosen = covering_standards(whole, permitted_combinations(whole))
    for fit in "abcd":
        assert {fit in fits for fits in chosen} == {True, False}


@given(st.data())
def test_every_combination_is_permitted_and_the_dossier_without_fits_is_itself(data):
    names = data.draw(st.lists(st.sampled_from("abcdefg"), min_size=2, max_size=6, unique=True))
    cut = data.draw(st.integers(0, len(names)))
    choices = {"one": tuple(names[:cut])} if cut > 1 else {}
    whole = record(choices, tuple(names[cut:]) if choices else tuple(names))
    found = list(permitted_combinations(whole))
    rest = len(names) - (cut if choices else 0)
    assert len(found) == (cut if choices else 1) * 2**rest
    assert all(is_permitted(whole, fits) for fits in found)
