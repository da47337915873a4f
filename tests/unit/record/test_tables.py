"""Lists out into spreadsheets and in again, and cables from anybody's list."""

import csv
import datetime as dt
import io
import re
import zipfile

import pytest
import python_calamine
import xlsxwriter

from loomlore.findings import UnreadableValue
from loomlore.record.reading import read_texts
from loomlore.record.sheets import Sheet, read_sheets, write_sheets
from loomlore.record.tables import export_lists, import_cables, lists_of
from small_record import PAGE, reading_of

AWKWARD = (
    "3-4",
    "1E5",
    "007",
    "=1+1",
    "+24 V",
    "-",
    "@home",
    "'quoted",
    "a;b",
    'say "so"',
    "ohm Ω",
    "",
    "-0.3 m",
)


@pytest.mark.parametrize("suffix", [".xlsx", ".ods", ".csv"])
def test_cells_come_back_as_they_went(tmp_path, suffix):
    sheet = Sheet("cable", (("mark", "from"), *((cell, "x") for cell in AWKWARD)))
    (path,) = write_sheets(tmp_path / f"list{suffix}", [sheet])
    (again,) = read_sheets(path)
    assert again.rows == sheet.rows


def test_a_spreadsheet_program_sees_text_and_no_formula(tmp_path):
    sheet = Sheet("cable", (("mark",), *((cell,) for cell in AWKWARD if cell)))
    (path,) = write_sheets(tmp_path / "list.xlsx", [sheet])
    rows = python_calamine.load_workbook(path).get_sheet_by_name("cable").to_python()
    assert [row[0] for row in rows[1:]] == [cell for cell in AWKWARD if cell]
    with zipfile.ZipFile(path) as parts:
        assert b"<f>" not in parts.read("xl/worksheets/sheet1.xml")
    (path,) = write_sheets(tmp_path / "list.csv", [sheet])
    cells = [row[0] for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig")))]
    assert not [cell for cell in cells if cell[:1] in "=@" or (cell[:1] == "+" and not cell[1:2].isdigit())]


@pytest.mark.parametrize("suffix", [".xlsx", ".ods", ".csv"])
def test_the_same_list_gives_the_same_bytes(tmp_path, suffix):
    dossier = reading_of().dossier
    first = [p.read_bytes() for p in export_lists(dossier, tmp_path / f"a{suffix}", words=["cable"])]
    again = [p.read_bytes() for p in export_lists(dossier, tmp_path / f"b{suffix}", words=["cable"])]
    assert first == again


def test_an_export_has_a_sheet_a_table_and_a_column_a_key(tmp_path):
    sheets = {sheet.name: sheet.rows for sheet in lists_of(reading_of().dossier)}
    assert {"item", "cable", "way", "statement", "place"} <= set(sheets)
    head, first, *_ = sheets["cable"]
    row = dict(zip(head, first, strict=True))
    assert row == {
        "id": "H1",
        "service": "horn",
        "from": "fuse-box.1",
        "to": "horn-switch.1",
        "size": "14/.0076 in",
        "length": "0.4 m",
        "along": "",
        "colour": "red",
    }
    sources = [dict(zip(sheets["item"][0], row, strict=True))["sources"] for row in sheets["item"][1:]]
    assert sources == ["handbook 6.1", "handbook 6.8", "handbook 6.8"]
    paths = export_lists(reading_of().dossier, tmp_path / "x.csv")
    assert "x-cable.csv" in {p.name for p in paths}


# --- import ------------------------------------------------------------------------------------------------


def imported(tmp_path, text, known=PAGE, name="list.csv"):
    path = tmp_path / name
    path.write_text(text)
    dossier = read_texts({"page.toml": known}).dossier if known else None
    found = import_cables(path, known=dossier)
    beside = {"page.toml": known} if known else {"page.toml": '[dossier]\nformat = 1\ntitle = "x"\n'}
    reading = read_texts(beside | {"zz.toml": found.text})
    assert [str(f) for f in reading.findings] == []
    return found, reading.dossier


def test_a_list_with_a_mark_and_two_ends_becomes_cables(tmp_path):
    text = "Cable No.;From;To\nL1;Fuse box 2;Lamp 1\nL2;Lamp 2;Earth\n"
    found, dossier = imported(tmp_path, text)
    assert found.cables == 2
    assert found.unknown == ("lamp",)
    assert (dossier.cables["L1"].from_, dossier.cables["L1"].to) == ("fuse-box.2", "lamp.1")
    assert dossier.cables["L2"].to == "earth"
    assert dossier.items["lamp"].kind == "unknown"
    (finding,) = found.findings
    assert finding.rule == "unknown-items"
    assert "lamp" in finding.message


@pytest.mark.parametrize(
    "heading",
    [
        "mark,from,to", "Wire No,Start,Finish", "ID,From Item,To Item", "no.,End A,End B", "Number,Origin,Destination",
        '"Cable, no.",FROM,TO', "Cable mark\tFrom\tTo",
    ],
)  # fmt: skip
def test_columns_are_known_by_usual_words(tmp_path, heading):
    sign = "\t" if "\t" in heading else ","
    text = f"List of wires{sign}{sign}\n\n{heading}\nL1{sign}horn.1{sign}lamp.2\n"
    found, dossier = imported(tmp_path, text)
    assert found.cables == 1
    assert (dossier.cables["L1"].from_, dossier.cables["L1"].to) == ("horn.1", "lamp.2")


@pytest.mark.parametrize(
    ("cell", "end"),
    [
        ("horn.1", "horn.1"), ("Horn 1", "horn.1"), ("HORN/1", "horn.1"), ("horn: 2", "horn.2"),
        ("Horn terminal 2", "horn.2"), ("Horn pin A", "horn.A"), ("battery.+", "battery.+"),
        ("Warning horn", "warning-horn.?"), ("Fuse box 1", "fuse-box.1"), ("Earth", "earth"), ("GND", "earth"),
        ("earth.panel-bolt", "earth.panel-bolt"), ("Fuse Box A way 3", "fuse-box-a.3"), ("horn", "horn.?"),
    ],
)  # fmt: skip
def test_an_end_is_an_item_and_its_terminal(tmp_path, cell, end):
    _, dossier = imported(tmp_path, f"mark,from,to\nL1,{cell},lamp.2\n")
    assert dossier.cables["L1"].from_ == end


def test_terminals_may_have_columns_of_their_own(tmp_path):
    text = "mark,from,from pin,to,to pin\nL1,Fuse box,2,Bow lamp,A\n"
    _, dossier = imported(tmp_path, text)
    assert (dossier.cables["L1"].from_, dossier.cables["L1"].to) == ("fuse-box.2", "bow-lamp.A")
    assert dossier.items["bow-lamp"].name == "Bow lamp"


def test_other_names_of_an_item_are_known(tmp_path):
    known = PAGE.replace('kind = "horn",', 'kind = "horn", also = ["Klaxon"],')
    found, dossier = imported(tmp_path, "mark,from,to\nL1,Klaxon 1,Earth\n", known)
    assert dossier.cables["L1"].from_ == "horn.1"
    assert found.unknown == ()


def test_sizes_and_lengths_take_the_unit_of_their_heading(tmp_path):
    text = 'mark,from,to,"Size (mm2)","Length, m",colour\nL1,a.1,b.1,1.5,2.4,red\n'
    _, dossier = imported(tmp_path, text)
    cable = dossier.cables["L1"]
    assert (cable.size.text, cable.length.text, cable.colour) == ("1.5 mm2", "2.4 m", "red")


def test_what_is_plainly_meant_is_read_and_said_and_the_rest_is_kept(tmp_path):
    text = 'mark,from,to,size,length\nL1,a.1,b.1,16 AWG,"2,5 m"\nL2,a.2,b.2,as before,long\n'
    found, dossier = imported(tmp_path, text)
    assert dossier.cables["L1"].size.text == "AWG 16"
    assert dossier.cables["L1"].length.text == "2.5 m"
    assert dossier.cables["L2"].note == "size as listed: as before; length as listed: long"
    rules = sorted(f.rule for f in found.findings)
    assert rules == ["kept-as-note", "kept-as-note", "read-as", "read-as", "unknown-items"]
    assert {f.place.line for f in found.findings if f.rule == "kept-as-note"} == {3}


def test_marks_become_keys_and_none_is_lost(tmp_path):
    text = "mark,from,to\n12 A,a.1,b.1\n12-A,a.2,b.2\nH1,a.3,b.3\nh1,a.4,b.4\n"
    found, dossier = imported(tmp_path, text)
    new = {mark: cable.mark for mark, cable in dossier.cables.items() if cable.from_.startswith("a.")}
    assert new == {"12-A": "12 A", "12-A-2": "12-A", "H1-2": "H1", "h1-3": "h1"} or set(new.values()) >= {
        "12 A",
        "12-A",
    }
    assert len(new) == 4
    assert sum(f.rule == "mark-twice" for f in found.findings) == 3


def test_a_row_without_an_end_is_left_out_and_said(tmp_path):
    found, dossier = imported(
        tmp_path, "mark,from,to\nL1,a.1,\n,a.1,b.1\nremark,,\n,,\nL2,a.1,b.1\n", known=""
    )
    assert set(dossier.cables) == {"L2", "unmarked-3"}
    left = [(f.place.line, f.place.column) for f in found.findings if f.rule == "row-left-out"]
    assert left == [(2, 3), (4, 2)]
    assert [(f.place.line, f.place.column) for f in found.findings if f.rule == "no-mark"] == [(3, 1)]
    assert found.unknown == ("a", "b")


def test_services_of_a_list_become_services(tmp_path):
    text = "mark,from,to,circuit\nL1,a.1,b.1,Bow Lamps\nL2,a.2,b.2,\n"
    _, dossier = imported(tmp_path, text)
    assert dossier.cables["L1"].service == "bow-lamps"
    assert dossier.cables["L2"].service == "imported"
    assert dossier.services["bow-lamps"].title == "Bow lamps"


def test_a_workbook_gives_its_first_sheet_that_is_a_list(tmp_path):
    path = tmp_path / "book.xlsx"
    book = xlsxwriter.Workbook(str(path))
    cover = book.add_worksheet("Cover")
    cover.write(0, 0, "Wiring of the launch")
    page = book.add_worksheet("Cables")
    page.write_row(2, 0, ["Mark", "From", "To", "Length (m)", "Date"])
    page.write_row(3, 0, [12, "Fuse box 3", "Horn 1", 2.5])
    page.write_datetime(3, 4, dt.datetime(1937, 5, 11))  # noqa: DTZ001 - a cell has no zone
    book.close()
    found = import_cables(path)
    assert found.cables == 1
    dossier = read_texts({"a.toml": '[dossier]\nformat = 1\ntitle = "x"\n', "b.toml": found.text}).dossier
    assert (dossier.cables["12"].from_, dossier.cables["12"].length.text) == ("fuse-box.3", "2.5 m")
    assert found.findings[0].place.file == "book.xlsx [Cables]"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("list.csv", b"a,b,c\n1,2,3\n"),
        ("list.xlsx", b"this is no workbook"),
        ("list.ods", b"PK\x03\x04 nor this"),
        ("list.pdf", b"%PDF"),
        ("list.csv", b""),
    ],
)
def test_what_is_no_list_says_what_to_do(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(UnreadableValue) as refused:
        import_cables(tmp_path / name)
    assert refused.value.hint


def test_a_file_that_unpacks_to_gigabytes_is_refused(tmp_path):
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", b"0" * 250_000_000)
    assert path.stat().st_size < 1_000_000
    with pytest.raises(UnreadableValue, match="unpacks"):
        read_sheets(path)


def test_a_list_read_back_from_its_own_export_is_the_same_cables(tmp_path):
    dossier = reading_of().dossier
    for suffix in (".xlsx", ".ods", ".csv"):
        (path,) = export_lists(dossier, tmp_path / f"cables{suffix}", words=["cable"])
        found = import_cables(path)
        again = read_texts({"a.toml": '[dossier]\nformat = 1\ntitle = "x"\n', "b.toml": found.text}).dossier
        for mark, cable in dossier.cables.items():
            other = again.cables[mark]
            assert (other.from_, other.to, other.size, other.length, other.colour) == (
                cable.from_, cable.to, cable.size, cable.length, cable.colour,
            )  # fmt: skip


def test_several_marks_in_a_row_are_as_many_cables(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(
        'No.,From,To,Remarks\n"N2, N3",lamp 1,box 2,alike\nN4 and N5,lamp 2,box 3,\nroot plug A,lamp 3,box 4,\n'
    )
    brought = import_cables(path)
    assert brought.cables == 5
    assert [f.rule for f in brought.findings if f.rule == "several-marks"] == ["several-marks"] * 2
    for mark in ("N2", "N3", "N4", "N5", "root-plug-A"):
        assert re.search(rf"^{mark} *= ", brought.text, re.MULTILINE)
    assert brought.text.count("listed as N2, N3") == 2


def test_each_of_several_marks_takes_its_own_end_where_ends_are_listed(tmp_path):
    rows = 'mark,from,to\n"N2, N3",switch 2,"port lamp 1, tail lamp 2"\n"N4, N5","a 1, b 1, c 1",box 2\n'
    _, dossier = imported(tmp_path, rows)
    ends = {mark: (dossier.cables[mark].from_, dossier.cables[mark].to) for mark in ("N2", "N3")}
    assert ends == {"N2": ("switch.2", "port-lamp.1"), "N3": ("switch.2", "tail-lamp.2")}
    # three ends of two cables belong to neither: they stay as they stand
    assert dossier.cables["N4"].from_ == dossier.cables["N5"].from_


def test_a_column_under_a_strange_heading_is_kept(tmp_path):
    rows = "Cable No.,From,To,Cable,Seen by\nS1,battery 1,box 2,37/.036,A.B.\nS2,box 3,lamp 1,14/.0076,\n"
    found, dossier = imported(tmp_path, rows)
    assert [dossier.cables[mark].size.text for mark in ("S1", "S2")] == ["37/.036 in", "14/.0076 in"]
    assert (dossier.cables["S1"].note, dossier.cables["S2"].note) == ("Seen by: A.B.", "")
    (said,) = [f for f in found.findings if f.rule == "column-not-known"]
    assert "'Seen by'" in said.message
    assert (said.place.line, said.place.column) == (1, 5)


@pytest.mark.parametrize(
    ("cell", "end"),
    [
        ("Earth (battery tray)", "earth.tray-bolt"),
        ("earth at tray bolt", "earth.tray-bolt"),
        ("Ground, rear spar", "earth"),
        ("Ground socket 1", "ground-socket.1"),
        ("Earthing switch 2", "earthing-switch.2"),
    ],
)
def test_an_earth_with_its_place_is_a_bolt_or_the_airframe(tmp_path, cell, end):
    known = (
        '[dossier]\nformat = 1\ntitle = "x"\n[place]\nbattery-tray = { at = ["1 m", "0 m", "0 m"] }\n'
        '[earth]\ntray-bolt = { place = "battery-tray" }\n'
        '[item]\nearthing-switch = { kind = "switch" }\nground-socket = { kind = "unknown" }\n'
    )
    _, dossier = imported(tmp_path, f'mark,from,to\nS2,battery -,"{cell}"\n', known=known)
    assert dossier.cables["S2"].to == end


def test_feet_and_bare_inches_are_read_and_said(tmp_path):
    found, dossier = imported(tmp_path, "mark,from,to,length\nN4,a 1,b 1,17 ft 6\n")
    # 17 ft 6 in: 17.5 x 0.3048 m, the international foot
    assert dossier.cables["N4"].length.value == pytest.approx(17.5 * 0.3048)
    assert [f.rule for f in found.findings if f.place.line == 2] == ["read-as"]
