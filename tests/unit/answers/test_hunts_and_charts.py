"""A hunt kept on the disk and gone on with, reports put right, charts that fold open, cards entered in the record."""

import json
import shutil
from pathlib import Path

import pytest
from tests.unit.faults.records import BENCH

from loomlore.answers.cards import Found, cards, read_found
from loomlore.answers.entering import enter
from loomlore.answers.fault_charts import chart_page, chart_sheet, folding_of
from loomlore.answers.hunts import open_hunt, save_hunt, worked_path
from loomlore.answers.locate import gone_on, locate
from loomlore.answers.opening import open_dossier
from loomlore.drawing.scene import Text, walk
from loomlore.findings import UnreadableValue

SETTING = {"master": "on", "lamp-switch": "on"}


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "bench"
    made.mkdir()
    (made / "page.toml").write_text(BENCH, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    made = tmp_path_factory.mktemp("bench")
    (made / "page.toml").write_text(BENCH, encoding="utf-8")
    return open_dossier(made)


def begun(folder, path, **more):
    return locate(open_dossier(folder), seen=["lamp=out"], setting=SETTING, beside=path, **more)


def shares(answer):
    return {s.faults: round(s.probability, 9) for s in answer.suspects}


def _not_again(*given, **named):
    pytest.fail(f"worked out again: {given} {named}")


BRIGHTER = BENCH.replace('rating = "24 V 12 W"', 'rating = "24 V 24 W"')

# -- what is worked out is kept, and never wrong --------------------------------------------------------------------


def test_what_was_worked_out_is_taken_from_its_file_and_is_the_same(folder, tmp_path, monkeypatch):
    path = tmp_path / "hunt.toml"
    first = begun(folder, path)
    save_hunt(first.hunt, path)
    assert worked_path(path).exists()
    import loomlore.answers.locate as module

    monkeypatch.setattr(module, "begin", _not_again)
    again = locate(open_dossier(folder), hunt=open_hunt(path), beside=path)
    assert shares(again) == shares(first)
    assert again.next == first.next


@pytest.mark.parametrize("spoil", ["deleted", "torn", "another thing", "record changed"])
def test_a_file_that_does_not_hold_is_worked_out_anew(folder, tmp_path, spoil):
    path = tmp_path / "hunt.toml"
    first = begun(folder, path)
    save_hunt(first.hunt, path)
    if spoil == "deleted":
        worked_path(path).unlink()
    elif spoil == "record changed":
        (folder / "page.toml").write_text(BRIGHTER, encoding="utf-8")
    else:
        worked_path(path).write_text({"torn": "{", "another thing": "[]"}[spoil], encoding="utf-8")
    fresh = locate(open_dossier(folder), hunt=open_hunt(path))
    kept = locate(open_dossier(folder), hunt=open_hunt(path), beside=path)
    assert shares(kept) == shares(fresh)
    assert (kept.search.readings == fresh.search.readings)[
        ~(kept.search.readings != kept.search.readings)
    ].all()
    json.loads(worked_path(path).read_text(encoding="utf-8"))


# -- reports ------------------------------------------------------------------------------------------------------


def test_a_report_is_put_right_and_taken_back_like_a_reading(opened):
    first = locate(opened, seen=["lamp=out"], setting=SETTING)
    dim = locate(opened, hunt=first.hunt, seen_again={1: "lamp=too bright"})
    assert dim.hunt.seen == ("lamp=too bright",)
    assert shares(dim) != shares(first)
    two = locate(opened, hunt=first.hunt, seen=["window=out"])
    assert locate(opened, hunt=two.hunt, seen_again={2: ""}).hunt.seen == ("lamp=out",)
    with pytest.raises(UnreadableValue):
        locate(opened, hunt=first.hunt, seen_again={3: "lamp=too bright"})


def test_readings_against_a_report_make_it_doubtful_and_say_so(opened):
    """The crew said that the lamp was out; it is lit, has its volts, and the window is what is dark."""
    answer = locate(opened, seen=["lamp=out"], setting=SETTING)
    before = answer.mistaken
    assert before < 0.05
    number = {c.id: c for c in answer.search.checks}
    full = number["volts:as-set:lamp.1"].id
    answer = gone_on(
        answer, found=[f"{full}=23.9 V", "volts:as-set:lamp.2=0 V", "lamp:lamp.filament=the lamp is good"]
    )
    assert answer.worked.wide
    assert answer.mistaken > 0.6
    assert answer.failed
    assert "report 1" in answer.trouble
    assert "seen1=" in answer.trouble


def test_what_is_right_in_its_setting_is_no_report(opened):
    with pytest.raises(UnreadableValue) as slip:
        locate(opened, seen=["lamp=out"], setting={"master": "on"})
    assert "nothing wrong" in str(slip.value)
    assert "--set" in slip.value.hint


# -- ohms ---------------------------------------------------------------------------------------------------------


def test_an_answer_in_ohms_is_stored_and_counts(opened, tmp_path):
    answer = locate(opened, seen=["lamp=out"], setting=SETTING)
    check = next(c for c in answer.search.checks if c.what == "ohms" and "L3" not in c.id)
    low, high = check.ohms[-1]
    said = f"{low + 1:.2f} ohm" if high == float("inf") else f"{(low + high) / 2:.2f} ohm"
    gone = gone_on(answer, found=[f"{check.id}={said}"])
    assert gone.hunt.answers[0].ohms is not None
    path = tmp_path / "hunt.toml"
    save_hunt(gone.hunt, path)
    assert open_hunt(path) == gone.hunt
    assert shares(gone) != shares(answer)


# -- charts -------------------------------------------------------------------------------------------------------


def ends(step):
    for way in step["ways"]:
        if way["step"] is not None:
            yield from ends(way["step"])
        else:
            yield from (fault for named in way["named"] for fault in named["faults"])


def test_every_suspect_of_a_chart_is_at_just_one_end_of_its_nested_steps(opened):
    answer = locate(opened, services=["lamps"], chart=True)
    for chart in answer.as_data()["charts"]:
        nested = chart["chart"]
        found = (
            list(ends(nested["step"]))
            if nested["step"]
            else [f for n in nested["named"] for f in n["faults"]]
        )
        assert sorted(found) == sorted(chart["faults"])
        if nested["step"]:
            assert sum(way["chance"] for way in nested["step"]["ways"]) == pytest.approx(1)


def test_the_page_folds_open_and_refers_to_nothing_outside(opened):
    answer = locate(opened, services=["lamps"], chart=True)
    page = answer.written("html").decode()
    assert "<details>" in page
    assert "Not approved data" in page
    assert "http" not in page.replace("http-equiv", "")
    assert "src=" not in page


def test_no_words_of_a_sheet_leave_it(opened):
    answer = locate(opened, services=["lamps"], chart=True)
    folding = folding_of(answer.search, max(answer.patterns, key=lambda p: len(p.faults) * bool(p.symptoms)))
    sheet = chart_sheet("Lamps", folding)
    texts = [item for item, _ in walk(sheet.items) if isinstance(item, Text)]
    assert any("voltmeter" in text.words for text in texts)
    assert all(0 < text.at[0] < sheet.width - 20 and 0 < text.at[1] < sheet.height for text in texts)
    assert chart_page("Lamps", [folding]).count("<section>") == 1


def test_charts_are_written_by_the_name_of_the_file_and_no_other_way(opened):
    answer = locate(opened, services=["lamps"], chart=True)
    assert answer.written("pdf").startswith(b"%PDF")
    assert answer.written("svg").startswith((b"<svg", b"<?xml"))
    with pytest.raises(UnreadableValue):
        answer.written("docx")


# -- cards come back ------------------------------------------------------------------------------------------------


def filled(folder):
    lines = cards(open_dossier(folder), ["bonding", "continuity", "first-power"]).as_csv().splitlines()
    for n, line in enumerate(lines):
        if line.startswith("bonding:bolt,"):
            lines[n] = line.removesuffix(",,,,,") + ",4 mohm,1.2 mohm,bridge 3,1947-03-02,J. B."
        if line.startswith("continuity:L1,"):
            lines[n] = line.removesuffix(",,,,,") + ",0.3,,multimeter,1947-03-02,J. B."
        if line.startswith("first-power:box.2,"):
            lines[n] = line.removesuffix(",,,,,") + ",0.24 A,,bench meter,1947-03-02,J. B."
    return "\n".join([*lines, "continuity:L99,,,,0.3 ohm,,,,"])


def test_a_card_printed_filled_and_entered_comes_back_beside_its_prediction(folder):
    before = (folder / "page.toml").read_bytes()
    entered = enter(folder, read_found(filled(folder)))
    assert {row[:3] for row in entered.entered} == {
        ("bonding:bolt", "found", "4 mohm"),
        ("bonding:bolt", "left", "1.2 mohm"),
        ("first-power:box.2", "found", "0.24 A"),
    }
    said = [f.message for f in entered.findings]
    assert any("no unit" in message for message in said)
    assert any("L99" in message for message in said)
    assert entered.failed
    assert (folder / "page.toml").read_bytes() == before
    after = open_dossier(folder)
    assert not after.reading.findings
    answer = cards(after, ["bonding", "first-power"])
    rows = {row["id"]: row for card in answer.as_data()["cards"] for row in card["rows"]}
    assert rows["bonding:bolt"]["as_found"] == "4 mohm"
    assert rows["bonding:bolt"]["as_left"] == "1.2 mohm"
    assert rows["bonding:bolt"]["meter"] == "bridge 3"
    assert rows["bonding:bolt"]["verdict"] == "too high"
    assert rows["first-power:box.2"]["verdict"] == "as expected"
    assert "4 mohm too high" in str(answer)


def test_the_same_sheet_is_not_entered_twice_and_a_new_day_is(folder):
    sheet = filled(folder)
    enter(folder, read_found(sheet))
    again = enter(folder, read_found(sheet))
    assert not again.entered
    assert again.already == 3
    later = enter(folder, read_found(sheet.replace("1947-03-02", "1947-04-01")))
    assert len(later.entered) == 3
    assert len(open_dossier(folder).dossier.measurements) == 6


def test_dates_and_words_that_are_no_figure_are_findings(folder):
    found = {
        "bonding:bolt": Found(as_found="4 mohm", date="last Tuesday"),
        "functions:lamps:1:1": Found(as_found="lit"),
        "bonding:bolt~x": Found(as_found="1 mohm"),
    }
    answer = enter(folder, found)
    assert not answer.entered
    assert len(answer.findings) == 3
    assert all(f.hint for f in answer.findings)


def test_a_sheet_may_be_toml():
    found = read_found('[[row]]\nid = "bonding:bolt"\nas_found = "4 mohm"\nmeter = "bridge 3"\n')
    assert found == {"bonding:bolt": Found(as_found="4 mohm", meter="bridge 3")}
    with pytest.raises(UnreadableValue):
        read_found('[[row]]\nas_found = "4 mohm"\n')


def test_a_measurement_between_two_terminals_stands_on_the_card_too(tmp_path):
    """The amphibian's survey has the mooring run with a bridge; the card has the cable's two ends."""
    example = Path(__file__).parents[3] / "examples" / "mail-amphibian"
    folder = shutil.copytree(example, tmp_path / "amphibian")
    answer = cards(open_dossier(folder), ["continuity"], service="mooring-lamp")
    row = next(
        r for r in answer.as_data()["cards"][0]["rows"] if r["of"] == ["mooring-switch.2", "mooring-lamp.1"]
    )
    assert row["as_found"] == "0.41 ohm"
