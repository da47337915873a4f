"""The answer of ``faults``: its page, its data, what it refuses."""

import json

import pytest
from click.testing import CliRunner
from tests.unit.faults.records import EXAMPLES

from loomlore.answers.faults import PairTerms
from loomlore.answers.faults import study_faults as faults
from loomlore.answers.pages import CAUTION, Entry, Table
from loomlore.cli import commands
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


def test_page_is_short_and_says_what_it_leaves_out(tug):
    text = str(tug)
    assert text.count("\n") < 260
    assert "In short:" in text
    assert "--service ID for one service, --all for everything" in " ".join(text.split())


def test_what_can_kill_is_told_once(tug):
    """The hazards have it; the gravest faults begin below them."""
    assert "Class I stands above, among the hazards." in str(tug)
    entries = [block for block in tug.page() if isinstance(block, Entry)]
    assert "class I" not in {entry.mark for entry in entries}
    assert "class II" in {entry.mark for entry in entries}


def test_everything_has_a_row_for_every_fault():
    answer = faults(EXAMPLES / "glider-tug", parts=["effects"], everything=True)
    table = next(b for b in answer.page() if isinstance(b, Table) and b.columns[0] == "class")
    assert len(table.rows) == len(answer.as_data()["faults"])


def test_pairs_of_a_service_say_how_many_were_tried():
    answer = faults(
        EXAMPLES / "glider-tug",
        service="navigation",
        parts=["hazards"],
        pairs=True,
        terms=PairTerms(situations=("ready",), most=100),
    )
    (told,) = answer.as_data()["two_faults"]
    assert told["situations"] == ["ready"]
    assert (told["pairs"], told["parts_left"]) == (100, 0)
    assert told["of_pairs"] > 100
    assert told["tried"] + told["excluded"] == 100
    assert f"the first 100 of {told['of_pairs']} pairs in 1 situation" in " ".join(str(answer).split())


def test_pairs_in_every_standard_of_fit(tmp_path):
    """The tug's two standards differ in the signals to the glider: a lamp in the one, a telephone in the other."""
    terms = PairTerms(most=60, everywhere=True, kept=tmp_path / "pairs.jsonl")
    answer = faults(EXAMPLES / "glider-tug", service="signals", parts=["hazards"], pairs=True, terms=terms)
    told = answer.as_data()["two_faults"]
    assert [one["standard"] for one in told] == ["lamp-tug", "telephone-tug"]
    assert {path.name for path in tmp_path.iterdir()} == {"pairs-lamp-tug.jsonl", "pairs-telephone-tug.jsonl"}
    assert "STANDARD TELEPHONE-TUG" in str(answer)


def test_html_stands_alone(tug):
    page = tug.as_document()
    assert page.startswith("<!doctype html>")
    assert page.count("<h1>") + page.count("<h2>") >= 1
    assert "<script" not in page


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--scheduler", "tcp://127.0.0.1:9"], "add --pairs --service ID"),
        (["--so-far", "x"], "add --pairs --service ID"),
        (["--html", "--json"], "one of --html and --json"),
    ],
)
def test_options_that_do_not_go_together_are_refused(words, said):
    result = CliRunner().invoke(commands, ["faults", str(EXAMPLES / "glider-tug"), *words])
    assert result.exit_code == 2
    assert said in " ".join(result.output.split())


def test_a_lever_that_follows_nothing_stops_no_study(tmp_path):
    """A pressure switch of which nobody has written what its pressure follows: a warning of `check`, no crash."""
    (tmp_path / "page.toml").write_text(
        '[dossier]\nformat = 1\ntitle = "A wagon (invented)"\nsupply = "24 V"\n'
        '[source.notes]\ntitle = "Notes"\nnature = "handbook"\n'
        '[item]\nbattery = { kind = "battery", rating = "24 V 40 Ah" }\noil-switch = { kind = "pressure-switch" }\n'
        '[service.oil.cables]\nO1 = { from = "battery.+", to = "oil-switch.1", size = "1 mm2", length = "1 m" }\n'
        'O2 = { from = "battery.-", to = "earth", size = "1 mm2", length = "1 m" }\n',
        encoding="utf-8",
    )
    assert faults(tmp_path).as_data()["faults"]
