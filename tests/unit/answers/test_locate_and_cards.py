"""The answers ``locate`` and ``cards`` on an invented dossier: a hunt from the crew's report to the proof, and back."""

import pytest
from tests.unit.faults.records import BENCH

from loomlore.answers.cards import cards, read_found
from loomlore.answers.locate import locate, open_hunt, save_hunt
from loomlore.answers.opening import open_dossier
from loomlore.findings import UnknownName, UnreadableValue

SETTING = {"master": "on", "lamp-switch": "on"}


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    (folder / "page.toml").write_text(BENCH, encoding="utf-8")
    return open_dossier(folder)


def names(answer):
    return {f for s in answer.suspects if s.probability > 0.01 for f in s.faults}


def test_a_report_makes_suspects_and_a_next_check_that_says_what_each_outcome_means(opened):
    answer = locate(opened, seen=["lamp=out"], setting=SETTING)
    assert {"L1.open", "lamp.filament.burnt-out"} <= names(answer)
    assert answer.next is not None
    assert len(answer.next.means) > 1
    assert sum(m.probability for m in answer.next.means) == pytest.approx(1, abs=0.01)
    text = str(answer)
    assert "NEXT CHECK" in text
    assert "Not approved data" in text


def test_a_hunt_goes_on_from_its_file_to_the_proof(opened, tmp_path):
    path = tmp_path / "hunt.toml"
    answer = locate(opened, seen=["lamp=out"], setting=SETTING, noise=0.0)
    for _ in range(20):
        save_hunt(answer.hunt, path)
        if answer.next is None:
            break
        search, fault = (
            answer.search,
            next(n for n, f in enumerate(answer.search.faults) if f.id == "L1.open"),
        )
        row = search.number_of[answer.next.check]
        said = search.checks[row].outcomes[search.table[row, fault]]
        answer = locate(opened, hunt=open_hunt(path), found=[said])
    assert answer.next is None
    assert "L1.open" in answer.suspects[0].faults
    assert any(f.id == "L1.open" for p in answer.proofs for f in p.faults)
    assert not answer.failed


def test_an_answer_is_put_right_and_taken_back(opened):
    first = locate(opened, seen=["lamp=out"], setting=SETTING, found=["volts:as-set:lamp.1=0 V"])
    assert first.hunt.answers[0].volts == 0.0
    mended = locate(opened, hunt=first.hunt, correct={1: "24 V"})
    assert mended.hunt.answers[0].volts == 24.0
    assert names(mended) != names(first)
    assert locate(opened, hunt=first.hunt, correct={1: ""}).hunt.answers == ()


def test_without_a_report_it_lists_what_can_be_seen(opened):
    answer = locate(opened, services=["lamps"])
    assert answer.seeable
    assert "out" in answer.seeable["lamp.filament"]
    assert "--seen" in str(answer)


def test_a_chart_says_at_every_step_where_to_go(opened):
    answer = locate(opened, services=["lamps"], chart=True)
    steps = [s for p in answer.as_data()["charts"] for s in p["steps"]]
    assert any(s["then"].startswith("go to step") for s in steps)
    assert all(p["exact"] in (True, None) for p in answer.as_data()["charts"])


def test_wrong_words_are_met_with_what_to_write(opened):
    with pytest.raises(UnknownName):
        locate(opened, seen=["lanp=out"], setting=SETTING)
    with pytest.raises(UnreadableValue) as slip:
        locate(opened, seen=["lamp=owt"], setting=SETTING)
    assert "out" in slip.value.hint
    with pytest.raises(UnreadableValue):
        locate(opened, seen=["lamp"], setting=SETTING)


def test_cards_in_order_with_room_and_caution(opened):
    answer = cards(opened, ["fuses", "bonding"])
    assert [c.id for c in answer.cards] == ["bonding", "fuses"]
    assert "as found" in str(answer)
    assert "as left" in str(answer)
    assert "Meter" in str(answer)


def test_what_was_found_comes_back_beside_the_prediction(opened):
    sheet = cards(opened, ["bonding"]).as_csv()
    lines = sheet.splitlines()
    line = next(n for n, text in enumerate(lines) if text.startswith("bonding:bolt"))
    lines[line] = lines[line].removesuffix(",,,,,") + ",4 mohm,1.2 mohm,bridge 3,1947-03-02,J"
    found = read_found("\n".join(lines))
    answer = cards(opened, ["bonding"], found=found)
    row = answer.as_data()["cards"][0]["rows"][0]
    assert row["as_found"] == "4 mohm"
    assert row["verdict"] == "too high"
    assert row["meter"] == "bridge 3"
    assert not answer.failed
    lines[line] = lines[line].replace("1.2 mohm", "9 mohm")
    assert cards(opened, ["bonding"], found=read_found("\n".join(lines))).failed


def test_cards_refuse_what_there_is_not(opened):
    with pytest.raises(UnknownName):
        cards(opened, ["bondage"])
    with pytest.raises(UnreadableValue):
        read_found("a,b\n1,2\n")
