"""What a page works out when it is opened, the ohmmeter, names for a cell, and decisions beside what is disputed."""

import re
import time

import pytest

pytest.importorskip("httpx2", reason="starlette's test client asks for it; requirements/dev.txt has it")

from loomlore.answers.opening import open_dossier
from loomlore.bench.sittings import Sitting
from loomlore.bench.suggesting import suggested
from loomlore.bench.telling import ohms_data, setting_of
from loomlore.bench.things import looms_of
from unit.bench.benches import LAMP, dossier, let_in

PLACED = """
[place]
nose = { at = ["0.5 m", "0 m", "1 m"] }
tail = { at = ["7 m", "0 m", "1 m"] }

[loom]
spine = { route = ["nose", "tail"], legs = ["6.5 m"] }
other = { route = ["nose", "tail"], legs = ["6.5 m"] }
"""
DISPUTED = """
[[statement]]
id     = "as-listed"
source = "handbook 3"
words  = "Lamp, 24 volts, 12 watts."
about  = "lamp.rating"
says   = "24 V 12 W"

[[statement]]
id     = "as-marked"
source = "handbook 4"
words  = "Lamp, 24 volts, 6 watts."
about  = "lamp.rating"
says   = "24 V 6 W"
"""


@pytest.fixture
def client(tmp_path):
    text = LAMP.replace('length = "1 m" }\nL3', 'length = "1 m", along = "spine" }\nL3') + PLACED + DISPUTED
    client = let_in(dossier(tmp_path / "lamp", text))
    client.folder = tmp_path / "lamp"
    return client


def worked(client, **asked):
    for _ in range(1200):
        found = client.post("/worked", json=asked).json()
        if found.get("finished"):
            assert not found["failed"]
            return found["blocks"]
        time.sleep(0.05)
    raise AssertionError("it is never done")


def words_of(blocks):
    return " ".join(str(block) for block in blocks)


def test_cables_of_a_service_are_judged(client):
    (table,) = [block for block in worked(client, what="cables", service="lamp") if block["kind"] == "table"]
    rows = {row[0]: row for row in table["rows"]}
    assert set(rows) == {f"L{n}" for n in range(1, 9)}
    # 6 W at 24 V is 0.25 A; a lead-acid battery at work stands a little above its nominal volts.
    assert 0.2 < float(rows["L2"][3]) < 0.3


def test_an_items_cables_are_its_own(client):
    (table,) = [block for block in worked(client, what="cables", item="lamp") if block["kind"] == "table"]
    assert {row[0] for row in table["rows"]} == {"L2", "L3"}


def test_effects_of_faults_of_an_item_are_its_own(client):
    blocks = worked(client, what="effects", item="lamp")
    assert "lamp is out" in words_of(blocks)
    assert "burnt out" in words_of(blocks)
    assert "the other is burnt out" not in words_of(blocks)


def test_what_makes_an_item_work(client):
    (table,) = [block for block in worked(client, what="functions", item="lamp") if block["kind"] == "table"]
    assert [row[-1] for row in table["rows"]] == ["lit", "out"]


@pytest.mark.parametrize("card", ["continuity", "drops"])
def test_a_card_is_a_sheet_of_its_own(client, card):
    page = client.get(f"/sheet/cards/lamp?card={card}").text
    assert f'data-card="{card}"' in page
    blocks = worked(client, what="cards", service="lamp", card=card)
    assert [block["kind"] for block in blocks].count("heading") == 1


@pytest.mark.parametrize(
    "path", ["/sheet/none/lamp", "/sheet/cards/none", "/sheet/cards/lamp?card=none", "/sheet/cables/none"]
)
def test_a_sheet_that_is_none(client, path):
    assert client.get(path).status_code == 404


@pytest.mark.parametrize(
    "asked", [{"what": "none", "service": "lamp"}, {"what": "cables"}, {"what": "cables", "item": "x"}]
)
def test_a_working_that_is_none_is_refused(client, asked):
    assert client.post("/worked", json=asked).status_code == 409


def test_an_item_page_has_terminals_standing_and_sources(client):
    page = client.get("/item/lamp").text
    assert re.search(r"<td>2</td><td><a [^>]*>L3</a></td><td>the airframe</td>", page)
    assert "What makes it work" in page
    assert "unsupported" in page or "attested" in page
    assert "“Lamp, 24 volts, 12 watts.”" in page


# -- ohmmeter ------------------------------------------------------------------------------------------------


@pytest.fixture
def sitting(client):
    return Sitting(plant=open_dossier(client.folder).plant())


def figure(data):
    return float(re.match(r"([\d.]+)", data["said"]).group(1))


def test_an_ohmmeter_reads_the_cold_lamp_with_the_battery_off(sitting):
    # 24 V squared over 6 W is 96 ohms hot, a twelfth of it cold (common practice, no source), and 0.2 of leads.
    # The other lamp and its push are open; the switch too, so that nothing lies beside it.
    data = ohms_data(sitting, "lamp.1", "lamp.2")
    assert figure(data) == pytest.approx(96 / 12 + 0.2, rel=0.25)
    assert "with a lead off the battery" in data["notes"]
    assert any("lamp" in words for words in data["notes"])


def test_an_ohmmeter_follows_the_controls(sitting):
    assert "open" in ohms_data(sitting, "switch.1", "lamp.1")["said"]
    sitting.work({"do": "move", "lever": "switch.lever", "to": "on"})
    assert "open" not in ohms_data(sitting, "switch.1", "lamp.1")["said"]


def test_an_ohmmeter_wants_two_terminals_that_there_are(client):
    for ends in ({"from": "lamp.1", "to": "lamp.1"}, {"from": "x", "to": "lamp.1"}):
        assert client.post("/ohms", json=ends).status_code == 409
    assert client.post("/ohms", json={"from": "lamp.1", "to": "lamp.2"}).json()["said"]


def test_the_setting_of_a_sitting_is_what_was_moved(sitting):
    assert setting_of(sitting) == {}
    sitting.work({"do": "move", "lever": "switch.lever", "to": "on"})
    assert setting_of(sitting) == {"switch.lever": "on"}


# -- names, places, decisions ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "key", "text", "meant"),
    [
        ("cable", "to", "lmp.1", "lamp.1"),
        ("item", "place", "nosee", "nose"),
        ("cable", "along", "spin", "spine"),
    ],
)
def test_a_near_miss_is_answered_with_what_was_meant(client, word, key, text, meant):
    opened = open_dossier(client.folder)
    found = suggested(opened, opened.plant(), word, key, text)
    assert meant in found["hint"]
    assert suggested(opened, opened.plant(), word, key, meant)["wrong"] == ""


def test_names_are_offered_while_one_types(client):
    asked = {"subject": "cable L2", "key": "to", "text": "lam"}
    assert client.post("/try", json=asked).json()["choices"][:2] == ["lamp.1", "lamp.2"]
    assert client.post("/try", json={**asked, "key": "length", "text": "two"}).json()["wrong"]


def test_the_loom_of_what_was_found(client):
    opened = open_dossier(client.folder)
    assert looms_of(opened, ["lamp"]) == ("spine",)
    assert looms_of(opened, ["tail"]) == ("spine", "other")
    assert looms_of(opened, ["push"]) == ()


def test_where_has_both_plans(client):
    for _ in range(100):
        page = client.get("/where?for=lamp").text
        if "being drawn" not in page:
            break
    assert "Place plan" in page
    assert "Loom plan" in page


def test_a_decision_is_written_beside_the_dispute(client):
    page = client.get("/sources").text
    assert "in dispute" in page
    assert 'data-about="lamp.rating"' in page
    cells = {
        "about": "lamp.rating",
        "adopts": "handbook 4",
        "weighed": "handbook 3",
        "because": "It is stamped on it.",
    }
    before = (client.folder / "page.toml").read_text(encoding="utf-8")
    answer = client.post("/edit", json={"do": "add", "table": "decision", "cells": cells})
    assert answer.status_code == 200, answer.text
    assert (client.folder / "page.toml").read_text(encoding="utf-8").startswith(before.rstrip())
    page = client.get("/sources").text
    assert "Decided: It is stamped on it." in page
    assert "in dispute" not in page
    assert 'data-subject="decision ' in page
