"""Editing the record from the bench: that line only, refused when stale, undone in order."""

import os

import pytest

from loomlore.bench.desk import Desk
from loomlore.bench.ledger import Ledger, record_page, shown_value, typed_value
from loomlore.findings import LoomloreError, RefusedEdit
from loomlore.record.keys import TABLES
from unit.bench.benches import LAMP, dossier


@pytest.fixture
def folder(tmp_path):
    return dossier(tmp_path / "lamp", LAMP)


@pytest.fixture
def ledger(folder):
    desk = Desk(folder)
    desk.fresh()
    yield Ledger(desk)
    desk.close()


def text(ledger):
    return (ledger.desk.folder / "page.toml").read_text(encoding="utf-8")


def change(ledger, subject, key, value, version=None):
    asked = {"do": "set", "subject": subject, "key": key, "text": value}
    return ledger.work({**asked, "version": ledger.desk.version if version is None else version})


def test_a_cell_changes_its_line_and_no_other(ledger):
    change(ledger, "cable L2", "length", "2.5 m")
    pairs = list(zip(LAMP.split("\n"), text(ledger).split("\n"), strict=True))
    assert [(a, b) for a, b in pairs if a != b] == [
        (line, line.replace("1 m", "2.5 m")) for line in LAMP.split("\n") if line.startswith("L2")
    ]


def test_an_emptied_cell_takes_its_key_out(ledger):
    change(ledger, "cable L2", "length", "")
    assert 'L2 = { from = "switch.2", to = "lamp.1", size = "14/.0076 in" }' in text(ledger)


def test_findings_follow_an_edit(ledger):
    change(ledger, "cable L2", "length", "2 m")
    assert not any("lampp.1" in finding.message for finding in ledger.desk.findings())
    marks = change(ledger, "cable L2", "to", "lampp.1")["marks"]
    assert marks == len(ledger.desk.findings())
    assert any("lampp.1" in finding.message for finding in ledger.desk.findings())
    page = record_page(ledger.desk.fresh(), "cable", ledger.desk.findings())
    assert "has-finding" in page
    assert "lamp" in page.split("has-finding")[1].split("</td>")[0]


def test_undo_and_redo_give_the_bytes_back(ledger):
    change(ledger, "cable L2", "length", "2 m")
    once = text(ledger)
    change(ledger, "item lamp", "rating", "24 V 12 W")
    twice = text(ledger)
    ledger.work({"do": "undo"})
    assert text(ledger) == once
    ledger.work({"do": "undo"})
    assert text(ledger) == LAMP
    ledger.work({"do": "redo"})
    ledger.work({"do": "redo"})
    assert text(ledger) == twice
    with pytest.raises(RefusedEdit):
        ledger.work({"do": "redo"})


def test_a_stale_line_is_refused_with_the_difference(ledger):
    seen = ledger.desk.version
    path = ledger.desk.folder / "page.toml"
    path.write_text(
        LAMP.replace(
            'lamp.1", size = "14/.0076 in", length = "1 m"', 'lamp.1", size = "14/.0076 in", length = "7 m"'
        )
    )
    with pytest.raises(RefusedEdit, match="length was 1 m, is 7 m"):
        change(ledger, "cable L2", "length", "2 m", version=seen)
    assert 'length = "7 m"' in text(ledger)


def test_another_line_changed_outside_is_no_reason_to_refuse(ledger):
    seen = ledger.desk.version
    path = ledger.desk.folder / "page.toml"
    path.write_text(LAMP.replace("The lamp is always out.", "The lamp is out."))
    change(ledger, "cable L2", "length", "2 m", version=seen)
    assert "The lamp is out." in text(ledger)
    assert 'length = "2 m"' in text(ledger)


def test_two_readers_of_one_line_cannot_overwrite_each_other(ledger):
    seen = ledger.desk.version
    change(ledger, "cable L2", "length", "2 m", version=seen)
    with pytest.raises(RefusedEdit, match="length was 1 m, is 2 m"):
        change(ledger, "cable L2", "length", "3 m", version=seen)


def test_undo_over_an_outside_change_is_refused(ledger):
    change(ledger, "cable L2", "length", "2 m")
    path = ledger.desk.folder / "page.toml"
    path.write_text(path.read_text() + "# a note\n")
    with pytest.raises(RefusedEdit, match="changed since"):
        ledger.work({"do": "undo"})
    assert text(ledger).endswith("# a note\n")


def test_a_line_is_added_and_taken_out(ledger):
    ledger.work(
        {
            "do": "add",
            "table": "cable",
            "id": "L9",
            "of": "lamp",
            "cells": {"from": "bad-joint.2", "to": "earth"},
        }
    )
    assert 'L9 = { from = "bad-joint.2", to = "earth" }' in text(ledger)
    ledger.work({"do": "remove", "subject": "cable L9", "version": ledger.desk.version})
    assert text(ledger) == LAMP


def test_a_decision_is_written(ledger):
    cells = {"about": "lamp.rating", "because": "it was measured"}
    ledger.work({"do": "add", "table": "decision", "cells": cells})
    (decision,) = ledger.desk.fresh().dossier.decisions.values()
    assert decision.because == "it was measured"


def test_rows_are_pasted_from_a_spreadsheet_all_or_none(ledger):
    good = "id\tkind\tplace\nthird\tlamp\t\nfourth\tlamp\t\n"
    ledger.work({"do": "paste", "table": "item", "text": good})
    assert {"third", "fourth"} <= set(ledger.desk.fresh().dossier.items)
    before = text(ledger)
    with pytest.raises(RefusedEdit, match="Row 3"):
        ledger.work({"do": "paste", "table": "item", "text": "id\tkind\nfifth\tlamp\nlamp\tlamp\n"})
    assert text(ledger) == before


@pytest.mark.parametrize(
    ("subject", "key", "typed", "wrong"),
    [
        ("cable L2", "length", "2.4 m", False),
        ("cable L2", "length", "two", True),
        ("cable L2", "length", "2.4 kg", True),
        ("cable L2", "size", "14/.0076 in", False),
        ("cable L2", "size", "14/..0076 in", True),
        ("cable L2", "from", "", True),
        ("statement lit", "when", "switch is on", False),
        ("statement lit", "when", "switch is", True),
        ("item lamp", "rating", "24 V 6 W", False),
        ("item lamp", "rating", "24 V 6 Q", True),
    ],
)
def test_a_value_is_judged_while_it_is_typed(ledger, subject, key, typed, wrong):
    found = ledger.tried({"subject": subject, "key": key, "text": typed})
    assert bool(found["wrong"]) is wrong
    assert text(ledger) == LAMP


@pytest.mark.parametrize(
    "asked",
    [
        {"do": "burn"},
        {"do": "add", "table": "x"},
        {"do": "set", "subject": "x y", "key": "z"},
        {"do": "add", "table": "cable", "id": "L9", "cells": {}},
        {"do": "undo"},
        {"do": "paste", "table": "item", "text": "x"},
    ],
)
def test_a_wrong_edit_is_refused_and_writes_nothing(ledger, asked):
    with pytest.raises(LoomloreError):
        ledger.work(asked)
    assert text(ledger) == LAMP


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_read_only_folder_says_so(ledger):
    ledger.desk.folder.chmod(0o500)
    try:
        with pytest.raises(RefusedEdit, match="read-only"):
            change(ledger, "cable L2", "length", "2 m")
    finally:
        ledger.desk.folder.chmod(0o700)


def test_a_read_only_file_says_so(ledger):
    (ledger.desk.folder / "page.toml").chmod(0o400)
    with pytest.raises(RefusedEdit, match="read-only"):
        change(ledger, "cable L2", "length", "2 m")
    assert text(ledger) == LAMP


def test_values_are_typed_without_quotes_and_shown_so():
    assert typed_value(TABLES["item"], "kind", "horn") == "horn"
    assert typed_value(TABLES["item"], "kind", '"horn"') == "horn"
    assert typed_value(TABLES["item"], "sources", "handbook 6.8, survey 4") == ["handbook 6.8", "survey 4"]
    assert typed_value(TABLES["way"], "spare", "true") is True
    assert typed_value(TABLES["cable"], "mark", "7") == "7"
    assert typed_value(TABLES["procedure"], "start", '{ master = "on" }') == {"master": "on"}
    assert shown_value(["handbook 6.8", "survey 4"]) == "handbook 6.8, survey 4"
    assert shown_value("horn") == "horn"


def test_a_file_changed_in_an_editor_appears(ledger):
    version = ledger.desk.version
    path = ledger.desk.folder / "page.toml"
    path.write_text(LAMP.replace("A lamp of", "Another lamp of"))
    assert ledger.desk.fresh().dossier.header.title == "Another lamp of an invented aeroplane"
    assert ledger.desk.version == version + 1
