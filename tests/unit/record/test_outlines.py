"""Outlines: read, written, edited as every other thing; each slip is a finding; places outside are told."""

import pytest

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.findings import Severity
from loomlore.record.editing import set_key
from loomlore.record.model import Outline
from loomlore.record.outlines import Stretch, clearance, crossing_of, outline_stretches
from loomlore.record.reading import read_dossier, read_texts
from loomlore.record.rules import check_record
from loomlore.record.tables import lists_of
from loomlore.record.writing import written_texts
from shapes import polygon_area
from small_record import PAGE

HULL = 'hull = { view = "side", unit = "m", points = [[0, 0.9], [0.2, 0.1], [3, 0], [3.2, 1.2], [0.4, 1.3]] }'
PLAN = 'plan = { view = "plan", unit = "m", mirrored = true, points = [[0, 0], [1.5, 0.6], [3.2, 0]] }'


def reading(*lines, page=PAGE):
    return read_texts({"page.toml": f"{page}\n[outline]\n" + "\n".join(lines) + "\n"})


def findings(*lines, page=PAGE):
    """What the text and the rules say of outlines."""
    found = reading(*lines, page=page)
    every = (*found.findings, *check_record(found, shipped_kinds()))
    return [f for f in every if "outline" in f.subject or f.rule == "outside-outline"]


def test_points_are_read_in_their_unit():
    feet = HULL.replace('unit = "m"', 'unit = "ft"')
    found = outline_stretches(reading(feet).dossier.outlines["hull"])[0]
    assert found.closed
    assert found.points[3] == pytest.approx((3.2 * 0.3048, 1.2 * 0.3048))  # the international foot, exact


def test_a_point_may_have_units_of_its_own():
    line = 'hull = { view = "side", points = [["0 m", "3 ft"], ["3 ft 6 in", "0 in"], ["2 m", "1 m"]] }'
    found = reading(line)
    assert found.findings == ()
    assert outline_stretches(found.dossier.outlines["hull"])[0].points[1] == pytest.approx((42 * 0.0254, 0.0))


@pytest.mark.parametrize(
    ("line", "rule", "says"),
    [
        (HULL.replace(' unit = "m",', ""), "no-unit", 'unit = "m"'),
        (HULL.replace("[0.2, 0.1]", "[0,2, 0,1]"), None, "[0.2, 0.1]"),
        (HULL.replace("[0.2, 0.1]", "[0.2, 0,1]"), None, "[0.2, 0.1]"),
        (HULL.replace("[0.2, 0.1]", "[1, 0,1]"), None, "two"),
        ('hull = { view = "side", unit = "m", points = [[0, 0.9], [0.2, 0.1]] }', "too-few-points", "three points"),
        ('hull = { view = "side", unit = "m", points = [0, 0.9, 0.2, 0.1, 3, 0] }', None, "[0.2, 0.1], [3, 0]]"),
        (HULL.replace('"side"', '"front"'), None, '"plan"'),
        (HULL.replace('unit = "m"', 'unit = "metres"'), None, '"m"'),
        (HULL.replace('unit = "m"', 'unit = "m", mirrored = true'), "one-of-two", "mirrored"),
        (HULL.replace("points", "pionts"), "unknown-key", "points"),
    ],
)  # fmt: skip
def test_a_slip_makes_one_finding_that_says_what_to_write(line, rule, says):
    (finding,) = reading(line).findings
    assert finding.severity is Severity.ERROR
    assert finding.subject == "outline hull"
    assert rule is None or finding.rule == rule
    assert says in finding.hint
    assert finding.place.line == PAGE.count("\n") + 3


def test_a_decimal_comma_beside_a_broken_number_is_still_one_finding():
    assert len(reading(HULL.replace("[3, 0]", "[3, 0,05]")).findings) == 1


def test_what_is_written_reads_back():
    first = reading(HULL, PLAN).dossier
    again = read_texts(written_texts(first)).dossier
    strip = [(o.view, o.unit, o.points, o.mirrored, o.line) for o in again.outlines.values()]
    assert strip == [(o.view, o.unit, o.points, o.mirrored, o.line) for o in first.outlines.values()]


def test_an_outline_is_edited_in_its_own_line(tmp_path):
    (tmp_path / "page.toml").write_text(f"{PAGE}\n[outline]\n{HULL}\n", encoding="utf-8")
    set_key(tmp_path, read_dossier(tmp_path), "outline hull", "points", [[0, 1], [2, 0], [3, 1.5]])
    text = (tmp_path / "page.toml").read_text(encoding="utf-8")
    assert text.startswith(PAGE)
    assert (
        text.removeprefix(PAGE)
        == '\n[outline]\nhull = { view = "side", unit = "m", points = [[0, 1], [2, 0], [3, 1.5]] }\n'
    )


def test_a_half_becomes_a_whole_of_twice_its_area():
    half = Outline(id="p", view="plan", unit="m", mirrored=True, points=((0, 0), (1, 2), (4, 1), (5, 0)))
    (whole,) = outline_stretches(half)
    # By hand, shoelace of the half: area 0.5 * |0*2-1*0 + 1*1-4*2 + 4*0-5*1 + 0| = 6.
    assert polygon_area(whole.points) == pytest.approx(12.0)


def test_a_part_on_one_side_is_drawn_on_both():
    float_ = Outline(id="f", view="plan", unit="m", mirrored=True, points=((3, 7), (4, 6.8), (5, 7)))
    one, other = outline_stretches(float_)
    assert [(x, -y) for x, y in one.points] == list(other.points)


def test_clearance_of_a_square():
    square = Stretch(((0, 0), (2, 0), (2, 2), (0, 2)), closed=True)
    assert clearance((1, 1), [square]) == 0
    assert clearance((5, 1), [square]) == pytest.approx(3)
    assert clearance((5, 6), [square]) == pytest.approx(5)  # 3, 4, 5
    assert clearance((1, 1), [Stretch(square.points, closed=False)]) == pytest.approx(1)


def test_a_line_that_crosses_itself_is_found():
    assert crossing_of(Stretch(((0, 0), (2, 2), (2, 0), (0, 2)), closed=True)) == (1, 3)
    assert crossing_of(Stretch(((0, 0), (2, 0), (2, 2), (0, 2)), closed=True)) is None


def test_a_sound_outline_and_places_within_are_not_spoken_of():
    assert findings(HULL, PLAN) == []


@pytest.mark.parametrize(
    ("lines", "page", "rule", "says"),
    [
        ((HULL,), PAGE.replace('"0.2 m", "1.0 m"]', '"0.2 m", "10 m"]'), "outside-outline", "8.7"),
        ((PLAN,), PAGE.replace('"0.2 m", "1.0 m"]', '"-2 m", "1.0 m"]'), "outside-outline", "signs"),
        ((HULL.replace("[0.2, 0.1], [3, 0]", "[3, 0], [0.2, 0.1]"),), PAGE, "outline-crosses", "order"),
        ((PLAN.replace("[3.2, 0]", "[3.2, 0.4]"),), PAGE, "outline-half", "centre line"),
        ((PLAN.replace("[1.5, 0.6]", "[1.5, 0.6], [2, -0.6]"),), PAGE, "outline-half", "one half"),
    ],
)
def test_what_is_hardly_meant_is_a_warning(lines, page, rule, says):
    found = findings(*lines, page=page)
    assert rule in {f.rule for f in found}
    for finding in found:
        assert finding.severity is Severity.WARNING
    assert any(says in f.message + f.hint for f in found if f.rule == rule)


def test_an_outline_that_cannot_be_read_warns_of_no_place():
    broken = HULL.replace(' unit = "m",', "").replace("[3, 0]", "[1, 0]")
    assert {f.rule for f in findings(broken)} == {"no-unit"}


def test_a_line_with_a_slip_of_the_pen_is_mended_and_told_once():
    """A comma left out between two points: the outline is read as meant."""
    found = reading(HULL.replace("[0.2, 0.1], [3, 0]", "[0.2, 0.1] [3, 0]"))
    (finding,) = found.findings
    assert finding.place.line == PAGE.count("\n") + 3
    assert len(found.dossier.outlines["hull"].points) == 5


def test_an_outline_goes_into_a_spreadsheet_whole():
    [sheet] = [s for s in lists_of(reading(HULL).dossier) if s.name == "outline"]
    row = dict(zip(*sheet.rows, strict=True))
    assert row["view"] == "side"
    assert row["points"] == "[[0.0, 0.9], [0.2, 0.1], [3.0, 0.0], [3.2, 1.2], [0.4, 1.3]]"
