"""The answers `cables` and `loads`: as pages, as plain data, and what they say to a wrong asking."""

import json
from pathlib import Path

import pytest

from loomlore.answers.cables import cables, practice_of
from loomlore.answers.loads import loads
from loomlore.answers.opening import open_dossier
from loomlore.findings import UnknownName

EXAMPLES = Path(__file__).parents[3] / "examples"
NAMES = ("glider-tug", "harbour-launch")


@pytest.fixture(scope="module", params=NAMES)
def opened(request):
    return open_dossier(EXAMPLES / request.param)


def _walk(data):
    yield data
    if isinstance(data, dict):
        for value in data.values():
            yield from _walk(value)
    elif isinstance(data, list):
        for value in data:
            yield from _walk(value)


def test_both_print_at_a_hundred_columns_with_their_caution(opened):
    for answer in (cables(opened, choose=("awg",), everything=True), loads(opened)):
        text = str(answer)
        assert max(map(len, text.splitlines())) <= 100
        assert "Not approved data" in text
        assert not answer.failed


def test_both_are_plain_data_without_infinities(opened):
    for answer in (cables(opened, choose=("metric",)), loads(opened)):
        text = json.dumps(answer.as_data(), allow_nan=False)
        assert json.loads(text)["caution"]


def test_every_figure_with_a_working_says_formula_source_and_status(opened):
    for answer in (cables(opened), loads(opened)):
        workings = [
            entry for entry in _walk(answer.as_data()) if isinstance(entry, dict) and "formula" in entry
        ]
        assert len(workings) > 10
        assert all(entry["formula"] and entry["source"] and entry["status"] for entry in workings)


def test_one_cable_is_argued_down_to_the_printed_table():
    text = str(cables(EXAMPLES / "glider-tug", "N2"))
    for word in (
        "source",
        "length",
        "current",
        "warmth",
        "drop",
        "fuse",
        "short",
        "I L r",
        "r20",
        "table 11-3",
    ):
        assert word in text, word


def test_a_representation_is_short(opened):
    """It must never walk into the solver and all that it remembers."""
    assert len(repr(cables(opened))) < 5_000
    assert len(repr(loads(opened).standards[0].phases[0])) < 20_000


@pytest.mark.parametrize(
    "asking",
    [
        lambda o: cables(o, "N22"),
        lambda o: cables(o, standard="nobodys"),
        lambda o: cables(o, service="nothing"),
        lambda o: loads(o, phase="nowhere"),
        lambda o: loads(o, shed=["nothing"]),
        lambda o: loads(o, standard="nobodys"),
    ],
)
def test_a_wrong_name_is_refused(opened, asking):
    with pytest.raises(UnknownName):
        asking(opened)


def test_a_wrong_length_of_the_user_s_own_limit_changes_only_its_verdict(opened):
    plain, strict = cables(opened), cables(opened, practice=practice_of(share=0.001))
    assert [d.cold for d in plain.found.drops] == [d.cold for d in strict.found.drops]
    assert strict.found.count("fails") > plain.found.count("fails")


def test_every_standard_of_fit_has_its_loads():
    found = loads(EXAMPLES / "glider-tug")
    assert [part.standard for part in found.standards] == ["lamp-tug", "telephone-tug"]


def test_the_chart_and_the_curve_are_there_as_data(opened):
    part = loads(opened).as_data()["standards"][0]
    assert {"phase", "amps", "output", "limit_one"} <= set(part["chart"][0])
    curve = part["endurance"][0]["curve"]
    assert len(curve) > 10
    minutes = [point["minutes"] for point in curve]
    assert minutes == sorted(minutes)


def test_a_dossier_without_phases_says_what_that_blocks(tmp_path):
    text = "\n".join(
        line for line in (EXAMPLES / "glider-tug" / "tug.toml").read_text(encoding="utf-8").splitlines()
    )
    (tmp_path / "tug.toml").write_text(text[: text.index("[phase]")], encoding="utf-8")
    found = loads(tmp_path)
    assert any(f.rule == "no-phases" and "margin" in f.message for f in found.findings)
    assert found.standards[0].starters[0].starts  # what can be answered still is


EMPTY = '[dossier]\nformat = 1\ntitle = "Empty (invented)"\n'

POOR = """
[dossier]
format = 1
title = "Six volts without a fuse (invented)"
supply = "6 V"
earthed = "positive"
[item]
battery = { kind = "battery", rating = "6 V" }
switch = { kind = "switch" }
lamp = { kind = "lamp", rating = "6 V 24 W" }
[service.lamp]
title = "Lamp"
[service.lamp.cables]
A0 = { from = "battery.+", to = "earth", size = "10 mm2", length = "1 m" }
A1 = { from = "battery.-", to = "switch.1", size = "SWG 20", length = "about 3 m" }
A2 = { from = "switch.2", to = "lamp.1", size = "SWG 30", length = "assumed 3 m" }
A3 = { from = "lamp.2", to = "earth", size = "AWG 17" }
[phase]
night = { minutes = "30 min", settings = { switch = "on" } }
wrong = { settings = { switsh = "on" } }
"""


@pytest.mark.parametrize("text", [EMPTY, POOR])
def test_a_poor_record_is_answered_as_far_as_it_goes(tmp_path, text):
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    for answer in (cables(tmp_path, choose=("awg", "metric")), loads(tmp_path)):
        assert "Not approved data" in str(answer)
        json.dumps(answer.as_data(), allow_nan=False)


def test_a_poor_record_is_told_what_each_gap_blocks(tmp_path):
    (tmp_path / "a.toml").write_text(POOR, encoding="utf-8")
    of_cables, of_loads = cables(tmp_path), loads(tmp_path)
    lengths = [f for f in of_cables.found.findings if f.rule.startswith("length")]
    assert {f.rule for f in lengths} == {"length-lacking", "length-estimated"}
    battery = next(f for f in of_loads.findings if f.rule == "rating-lacking")
    assert "how long it lasts" in battery.message
    assert any("switsh" in f.message for f in of_loads.findings)
    own = {r.cable.id: r for r in of_cables.found.cables}
    assert own["A1"].length.low < own["A1"].length.value < own["A1"].length.high
    assert own["A1"].protection.bare
