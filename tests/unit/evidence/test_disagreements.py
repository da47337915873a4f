"""Sources weighed: who agrees, who is in dispute, how many witnesses there are, what was decided."""

# ruff: noqa: E501  the cases stand one a line, as they would in a record

import pytest

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.evidence.disagreements import weigh
from loomlore.evidence.matters import agree, comparable
from loomlore.quantities import read_quantity, read_rating, read_size
from trial_record import TRIAL, line_of, reading_of, spoilt

SOURCES = """
[[statement]]
id = "ways-drawn"
source = "drawing sheet 1"
words = "Fuse box, {drawn} ways"
about = "box.ways"
says = "{drawn}"

[[statement]]
id = "ways-counted"
source = "survey photo 3"
words = "{counted} ways"
about = "box.ways"
says = "{counted}"

[[statement]]
id = "ways-printed"
source = "handbook 6.1"
words = "the {printed}-way box"
about = "box.ways"
says = "{printed}"
"""

DECISION = """
[decision]
box-ways = { about = "box.ways", adopts = "ways-counted", weighed = ["ways-drawn", "ways-printed"], because = "counted on the box itself" }
"""


def record(drawn: int, counted: int, printed: int, more: str = "") -> str:
    survey = 'drawing = { title = "Drawing", nature = "drawing", copied-from = "handbook" }'
    text = spoilt(survey, f'{survey}\nsurvey = {{ title = "Survey", nature = "survey" }}')
    return text + SOURCES.format(drawn=drawn, counted=counted, printed=printed) + more


def weighed(text: str):
    reading = reading_of(text)
    assert not reading.findings, [str(f) for f in reading.findings]
    return weigh(reading.dossier, shipped_kinds(), place_of=reading.place_of)


def verdict(text: str, about: str = "box.ways"):
    return next(v for v in weighed(text).verdicts if v.matter.about == about)


def test_sources_that_agree_with_the_record_are_no_finding():
    assert weighed(TRIAL).findings == ()
    found = verdict(record(3, 3, 3))
    assert (found.state, found.kept) == ("agreed", True)


def test_a_copy_is_no_second_witness():
    # the drawing is copied from the handbook; the survey stands alone
    assert verdict(record(3, 3, 3)).witnesses == {"3": 2}
    assert verdict(record(11, 3, 11)).witnesses == {"11": 1, "3": 1}


def test_sources_that_differ_are_in_dispute_until_decided():
    text = record(11, 3, 11)
    result = weighed(text)
    assert result.counts["in dispute"] == 1
    (finding,) = result.findings
    assert finding.rule == "in-dispute"
    assert "'11' (drawing sheet 1, handbook 6.1)" in finding.message
    assert "'3' (survey photo 3)" in finding.message
    assert finding.place.line == line_of('says = "11"', text)
    decided = verdict(record(11, 3, 11, DECISION))
    assert (decided.state, decided.kept, decided.adopted.id) == ("decided", True, "ways-counted")
    assert weighed(record(11, 3, 11, DECISION)).findings == ()


def test_what_is_adopted_must_be_the_records():
    (finding,) = weighed(record(11, 4, 11, DECISION)).findings
    assert finding.rule == "decision-not-kept"
    assert "'4'" in finding.message
    assert "'3'" in finding.message


def test_agreed_sources_and_a_record_that_says_otherwise():
    (finding,) = weighed(record(4, 4, 4)).findings
    assert finding.rule == "record-differs"


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ('adopts = "ways-counted"', 'adopts = "ways-countd"', "adopts-nothing"),
        ('adopts = "ways-counted"', 'adopts = "survey photo 9"', "adopts-nothing"),
        ('weighed = ["ways-drawn", "ways-printed"]', 'weighed = ["ways-drawn"]', "not-weighed"),
        ('about = "box.ways", adopts', 'about = "box.way", adopts', "decides-nothing"),
    ],
)
def test_a_decision_that_does_not_fit_its_statements(old, new, rule):
    assert rule in {f.rule for f in weighed(record(11, 3, 11, spoilt(old, new, DECISION))).findings}


def test_a_citation_adopts_as_well_as_an_id():
    by_place = DECISION.replace('adopts = "ways-counted"', 'adopts = "survey photo 3"')
    assert verdict(record(11, 3, 11, by_place)).adopted.id == "ways-counted"


def test_two_decisions_contradict():
    second = '\nagain = { about = "box.ways", adopts = "ways-drawn", because = "it is the drawing" }\n'
    rules = [f.rule for f in weighed(record(11, 3, 11, DECISION.rstrip() + second)).findings]
    assert rules == ["decisions-contradict"]


def test_function_statements_weighed_together_are_in_dispute():
    text = (
        TRIAL
        + """
[decision]
horn = { about = "horn at rest", adopts = "horn-sounds", weighed = ["silenced"], because = "it was tried" }
"""
    )
    result = weighed(text)
    (dispute,) = result.disputes
    assert (dispute.adopted, dispute.rejected) == (("horn-sounds",), ("silenced",))
    assert result.rejected == {"silenced"}


def test_statements_of_two_fits_are_two_matters():
    text = (
        TRIAL
        + """
[[statement]]
id = "stronger-lamp"
source = "handbook 6.3"
words = "A lamp of 12 watts after the modification."
about = "lamp.rating"
says = "24 V 12 W"
fit = "mod-1"
"""
    )
    states = {(v.matter.fit, v.state, v.kept) for v in weighed(text).verdicts}
    assert states == {("", "agreed", True), ("mod-1", "agreed", True)}


@pytest.mark.parametrize(
    ("about", "rule", "hint"),
    [("lmap.rating", "unknown-name", "'lamp.rating'"), ("lamp.ratng", "unknown-key", "'rating'")],
)
def test_a_statement_about_nothing_known(about, rule, hint):
    (finding,) = weighed(spoilt('about = "lamp.rating"', f'about = "{about}"')).findings
    assert finding.rule == rule
    assert hint in finding.hint


def test_what_a_source_says_may_be_no_value():
    (finding,) = weighed(spoilt('says = "6 W"', 'says = "6 mm"')).findings
    assert finding.rule == "unreadable-value"


def test_things_without_support_are_counted():
    # of the trial record's items and cables, the battery and H1 have sources
    standings = weighed(TRIAL).standings
    assert standings["attested"] == 2
    assert weighed(TRIAL).counts["unsupported"] == standings["unsupported"] == sum(standings.values()) - 2


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (read_quantity("0.5 A"), read_quantity("500 mA"), True),
        (read_quantity("3 ft 6 in"), read_quantity("42 in"), True),
        (read_quantity("26.8 V"), read_quantity("26.6 to 27.0 V"), True),
        (read_quantity("28.0 V ± 0.2 V"), read_quantity("28.5 V"), False),
        (read_quantity("5 A"), read_quantity("5 V"), False),
        (read_size("14/.0076 in"), read_size("14/0.0076 in"), True),
        (read_size("14/.0076 in"), read_size("23/.0076 in"), False),
        (read_rating("24 V 6 W"), read_rating("6 W, 24 V"), True),
        (read_rating("24 V 6 W"), read_rating("24 V 12 W"), False),
        ("Red", "red ", True),
        (("a", "b"), ("a", "c"), False),
    ],
)
def test_values_are_compared_as_what_they_are(one, other, same):
    assert agree(comparable(one), comparable(other)) is same
    assert agree(comparable(other), comparable(one)) is same
