"""The answer of ``faults``: its page, its data, what it refuses."""

import json

import pytest
from tests.unit.faults.records import EXAMPLES

from loomlore.answers.faults import study_faults as faults
from loomlore.answers.pages import CAUTION, Entry, Table
from loomlore.findings import UnknownName


@pytest.fixture(scope="module")
def tug():
    return faults(EXAMPLES / "glider-tug")


def test_page_has_hazards_sneaks_effects_and_the_caution(tug):
    text = str(tug)
    order = [
        "HAZARDS",
        "SNEAK PATHS WITH EVERYTHING IN ORDER",
        "SNEAK PATHS THAT ONE FAULT OPENS",
        "EVERY SINGLE FAULT",
    ]
    places = [text.index(heading) for heading in order]
    assert places == sorted(places)
    assert " ".join(CAUTION.split()) in " ".join(text.split())
    assert "our judgement" in text


def test_every_entry_ends_in_what_to_look_at(tug):
    entries = [block for block in tug.page() if isinstance(block, Entry)]
    assert entries
    assert all(entry.notes and entry.notes[0].endswith(".") for entry in entries)


def test_service_table_counts_every_fault_of_a_service_once(tug):
    table = next(b for b in tug.page() if isinstance(b, Table) and b.columns[0] == "service")
    for row in table.rows:
        assert int(row[1]) == sum(int(cell) for cell in row[2:6])


def test_data_is_plain_and_agrees_with_itself(tug):
    data = json.loads(json.dumps(tug.as_data()))
    ids = {fault["id"] for fault in data["faults"]}
    situations = {s["id"] for s in data["situations"]}
    assert len(ids) == len(data["faults"])
    for fault in data["faults"]:
        assert fault["alike"] in ids
        assert {e["situation"] for e in fault["effects"]} <= situations
        assert fault["hidden"] == (not any(e["changes"] for e in fault["effects"]))
    assert {s["fault"] for s in data["sneaks"]} - {""} <= ids
    numbers = sum(sum(of.values()) for of in data["criticality"].values())
    shared = sum(fault["criticality"] * len(fault["services"]) for fault in data["faults"])
    assert numbers == pytest.approx(shared)


def test_crossed_magneto_leads_make_the_command_fail(tug):
    assert tug.failed


def test_one_service_and_one_part():
    answer = faults(EXAMPLES / "glider-tug", service="navigation", parts=["effects"])
    assert answer.sneaks is None
    assert answer.hazards is None
    assert not answer.failed
    assert all("navigation" in fault["services"] for fault in answer.as_data()["faults"])


def test_pairs_where_nothing_is_explosive():
    answer = faults(EXAMPLES / "glider-tug", parts=["hazards"], pairs=True)
    assert answer.as_data()["pairs"] == []


@pytest.mark.parametrize(
    ("asked", "meant"),
    [
        ({"service": "navigaton"}, "navigation"),
        ({"parts": ["hazard"]}, "hazards"),
        ({"severities": {"hook": "V"}}, "V"),
    ],
)
def test_wrong_names_are_refused(asked, meant):
    with pytest.raises(UnknownName, match=meant):
        faults(EXAMPLES / "glider-tug", **asked)
