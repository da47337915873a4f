"""Hunts: worked out beside the bench, kept as text files, gone on with, put right, given up.

The independent check is the circuit itself: battery, switch, lamp and earth in one loop, so that a lamp that stays
dark with the switch on leaves only what lies in that loop, and volts on both sides of the lamp put the fault behind it.
"""

import time
import tomllib

import pytest

pytest.importorskip("httpx2", reason="starlette's test client asks for it; requirements/dev.txt has it")

from loomlore.bench.hunts import WELL, Hunts, begun_data
from loomlore.faults.locating import checks
from loomlore.findings import LoomloreError, UnknownName, UnreadableValue
from unit.bench.benches import LAMP, dossier, let_in

OUT = {"service": "lamp", "seen": ["lamp.filament=out"], "rebuilt": True}


def done(hunts, asked, reading=1):
    """Ask until it is done."""
    for _ in range(1200):
        found = hunts.work(asked, reading)
        if found["state"] != "working":
            return found
        time.sleep(0.05)
    raise AssertionError("it is never done")


@pytest.fixture(scope="module")
def hunts(tmp_path_factory):
    folder = dossier(tmp_path_factory.mktemp("hunts") / "lamp", LAMP)
    shelf = Hunts(folder)
    yield shelf
    shelf.close()


@pytest.fixture(scope="module")
def begun(hunts):
    return done(hunts, {"do": "begin", **OUT})


def suspects(found):
    return [fault["words"] for one in found["suspects"] for fault in one["faults"]]


def test_what_can_be_seen_comes_with_its_words(hunts):
    things = {
        one["name"]: one["words"] for one in done(hunts, {"do": "seeable", "service": "lamp"})["things"]
    }
    assert "out" in things["lamp.filament"]


def test_suspects_lie_in_the_loop_of_the_dark_lamp(begun):
    assert begun["state"] == "stands"
    words = suspects(begun)
    assert any("the lamp is burnt out" in one for one in words)
    broken = {one.split()[1] for one in words if one.startswith("cable") and "is broken" in one}
    assert {"L2", "L3"} <= broken <= {"L1", "L2", "L3", "L4"}


def test_a_hunt_is_a_text_file_beside_the_record(hunts, begun):
    path = hunts.folder / "hunts" / f"{begun['name']}.hunt"
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert data["hunt"]["seen"] == ["lamp.filament=out"]
    assert data["hunt"]["after-rebuild"] is True
    assert begun["name"] in [one.name for one in hunts.kept()]


def test_answers_narrow_it_are_stored_put_right_and_taken_back(hunts, begun):
    name, now, before = begun["name"], begun, len(suspects(begun))
    assert now["next"] is not None
    step = now["next"]
    assert abs(sum(one["probability"] for one in step["outcomes"]) - 1) < 1e-6
    likeliest = step["outcomes"][0]["outcome"]
    said = f"{step['check']}={likeliest}"
    now = done(hunts, {"do": "found", "hunt": name, "answers": 0, "said": said})
    assert now["steps"][0]["found"] == likeliest
    assert len(now["steps"]) == 1
    left = sum(len(one["faults"]) for one in now["suspects"] if one["probability"] > 0.02)
    assert left < before
    stored = hunts.data(name)["answer"]
    assert stored[0]["check"] == step["check"]
    other = step["outcomes"][-1]["outcome"]
    assert other != likeliest
    now = done(hunts, {"do": "correct", "hunt": name, "answers": 1, "number": 1, "said": other})
    assert now["steps"][0]["found"] == other
    now = done(hunts, {"do": "correct", "hunt": name, "answers": 1, "number": 1, "said": ""})
    assert now["steps"] == []
    assert hunts.data(name)["answer"] == []


def test_a_hunt_is_gone_on_with_by_a_new_bench(hunts, begun):
    other = Hunts(hunts.folder)
    try:
        found = done(other, {"do": "stands", "hunt": begun["name"]})
    finally:
        other.close()
    assert suspects(found) == suspects(begun)


def test_an_answer_from_an_old_page_is_refused(hunts, begun):
    with pytest.raises(UnreadableValue, match="another window"):
        hunts.work({"do": "found", "hunt": begun["name"], "answers": 7, "said": "nothing"}, 1)


def test_a_word_that_is_none_is_refused_with_those_that_are(hunts):
    found = done(hunts, {"do": "begin", **OUT, "seen": ["lamp.filament=purple"]})
    assert found["state"] == "refused"
    assert "out" in found["refused_because"]


def test_it_is_given_up_at_once_and_begun_again(hunts):
    asked = {"do": "begin", **OUT, "seen": ["other.filament=out"]}
    hunts.work(asked, 2)
    start = time.monotonic()
    assert hunts.work({**asked, "cancel": True}, 2)["state"] == "given up"
    assert time.monotonic() - start < 2
    assert done(hunts, asked, 2)["state"] == "stands"


@pytest.mark.parametrize("name", ["", "../page", "a/b", ".hidden", "A", "x" * 99, "none"])
def test_a_name_that_is_no_hunt_is_refused(hunts, name):
    with pytest.raises(LoomloreError):
        hunts.work({"do": "stands", "hunt": name}, 1)


def test_a_spoilt_file_is_said_and_left_off_the_shelf(hunts, begun):
    path = hunts.folder / "hunts" / "2026-01-01-spoilt.hunt"
    path.write_text("[hunt\n", encoding="utf-8")
    try:
        shelf = [one.name for one in hunts.kept()]
        assert begun["name"] in shelf
        assert path.stem not in shelf
        with pytest.raises(UnreadableValue, match="cannot be read"):
            hunts.work({"do": "stands", "hunt": path.stem}, 1)
    finally:
        path.unlink()


@pytest.mark.parametrize("seen", [None, [], "lamp=out", ["x"] * 99])
def test_a_report_of_nothing_is_refused(seen):
    with pytest.raises(UnreadableValue):
        begun_data({"seen": seen})


def test_hunts_are_no_part_of_the_record(hunts, begun):
    from loomlore.answers.opening import open_dossier

    assert begun["name"]
    assert set(open_dossier(hunts.folder).reading.texts) == {"page.toml"}


def test_pages_of_a_hunt(tmp_path):
    client = let_in(dossier(tmp_path / "lamp", LAMP))
    assert "Fault finding" in client.get("/faults?service=lamp").text
    assert client.get("/faults?service=none").status_code == 404
    assert client.get("/faults/none").status_code == 404
    assert client.post("/hunt", json={"do": "fly"}).status_code == 409


def test_throwing_away(hunts):
    name = hunts.begun(begun_data(OUT))
    assert hunts.work({"do": "drop", "hunt": name}, 1) == {"state": "gone"}
    with pytest.raises(UnknownName):
        hunts.data(name)


def test_what_is_well_is_a_report_and_comes_after_what_is_wrong():
    assert WELL == checks.WELL
    seen = [f"port-lamp={WELL}", "tail-lamp=out"]
    assert begun_data({"service": "lamp", "seen": seen})["hunt"]["seen"] == seen[::-1]
    with pytest.raises(UnreadableValue, match="Nothing is reported"):
        begun_data({"service": "lamp", "seen": seen[:1]})
