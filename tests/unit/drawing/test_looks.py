"""Contrast by the formula of WCAG 2.2, least type size, hues of the published palettes."""

import pytest

from loomlore.drawing.looks import COLOURS, LEAST_TYPE, LETTERINGS, ROLES, STROKES, stylesheet, width_class

THEMES = ("paper", "dark")


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(
    ("colour", "ratio"),
    # Checked with the formula elsewhere: wcag_checks.csv, read in retrieved text.
    [("#767676", 4.5422), ("#777777", 4.4781), ("#949494", 3.0335), ("#FF0000", 3.9985), ("#0000FF", 8.5925)],
)
def test_the_formula_gives_the_published_ratios(colour, ratio):
    assert contrast(colour, "#FFFFFF") == pytest.approx(ratio, abs=5e-5)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("role", [role for role in ROLES if role != "recorded"])
def test_every_role_stands_out_three_to_one(role, theme):
    assert contrast(COLOURS[STROKES[f"role-{role}"].stroke][theme], COLOURS["paper"][theme]) >= 3.0


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", ["paper", "tint"])
def test_words_stand_out_four_and_a_half_to_one(theme, ground):
    for look in LETTERINGS.values():
        assert contrast(COLOURS[look.colour][theme], COLOURS[ground][theme]) >= 4.5


def test_no_type_is_smaller_than_six_and_a_half_points():
    assert pytest.approx(6.5 / 72 * 25.4) == LEAST_TYPE
    assert all(look.size >= LEAST_TYPE for look in LETTERINGS.values())


def test_hues_are_of_the_published_palettes():
    # Okabe and Ito: vermilion, blue; Tol's bright scheme: purple (palettes.csv, read in retrieved text).
    assert COLOURS["fused"]["paper"].upper() == "#D55E00"
    assert COLOURS["switched"]["paper"].upper() == "#0072B2"
    assert COLOURS["battery"]["paper"].upper() == "#AA3377"


def test_letters_tell_roles_apart_without_colour():
    letters = [letter for letter, _ in ROLES.values() if letter]
    assert len(set(letters)) == len(letters) >= 5


def test_width_grows_with_amperes():
    classes = [width_class(amperes) for amperes in (1, 5, 20, 60, 300)]
    widths = [STROKES[name].width for name in classes]
    assert widths == sorted(widths)
    assert len(set(widths)) == 5


def test_the_live_sheet_hides_the_other_state():
    assert ".state-open > .only-shut{display:none}" in stylesheet(live=True)
    assert "display:none" not in stylesheet()
