"""A whole record written out, and a dossier started."""

from pathlib import Path

import pytest

from loomlore.findings import RefusedEdit, UnreadableValue
from loomlore.quantities import UNITS, read_quantity
from loomlore.record.keys import TABLES
from loomlore.record.reading import read_dossier, read_texts
from loomlore.record.writing import amount_text, new_dossier, raw_of, write_dossier, written_texts
from record_comparing import without_places
from small_record import PAGE, reading_of

EXAMPLES = sorted(p for p in (Path(__file__).parents[3] / "examples").iterdir() if p.is_dir())


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name)
def test_an_example_written_and_read_is_the_same_record(example, tmp_path):
    dossier = read_dossier(example).dossier
    files = write_dossier(dossier, tmp_path)
    again = read_dossier(tmp_path)
    assert [str(f) for f in again.findings] == []
    assert without_places(again.dossier) == without_places(dossier)
    assert sorted(files) == list(again.texts)


def test_writing_twice_gives_the_same_text():
    once = written_texts(reading_of().dossier)
    assert written_texts(read_texts(once).dossier) == once


def test_what_reading_adds_is_not_written():
    dossier = reading_of().dossier
    assert raw_of("cable", dossier.cables["H1"], dossier) == {
        "from": "fuse-box.1",
        "to": "horn-switch.1",
        "length": "0.4 m",
    }
    assert raw_of("cable", dossier.cables["H3"], dossier)["colour"] == "black"
    assert raw_of("condition", dossier.conditions["airspeed"], dossier) == {"range": ["0 kt", "200 kt"]}
    assert raw_of("control", dossier.controls["throttle"], dossier) == {"range": [0, 1]}
    assert raw_of("item", dossier.items["fuse-box"], dossier) == {
        "kind": "fuse-box",
        "place": "panel",
        "sources": ["handbook 6.1"],
        "ways": 2,
    }


def test_a_record_is_not_written_over_another(tmp_path):
    (tmp_path / "theirs.toml").write_text(PAGE)
    with pytest.raises(RefusedEdit, match=r"theirs\.toml"):
        write_dossier(reading_of().dossier, tmp_path)
    assert (tmp_path / "theirs.toml").read_text() == PAGE
    assert [p.name for p in tmp_path.iterdir()] == ["theirs.toml"]


@pytest.mark.parametrize("dimension", sorted({dimension for _, dimension in UNITS.values()}))
@pytest.mark.parametrize("value", [0.0, 1.0, 0.1, 1 / 3, 123.456, 80 * 1852 / 3600, 1e-7, -2.5])
def test_an_amount_written_reads_back_to_the_last_bit(value, dimension):
    assert read_quantity(amount_text(value, dimension), dimension).value == value


# --- a started dossier -------------------------------------------------------------------------------------


def test_a_started_dossier_reads_without_a_finding(tmp_path):
    path = new_dossier(
        tmp_path / "boat", 'The "Grebe", harbour launch', supply="24 V", return_="two-wire", earthed="none"
    )
    reading = read_dossier(tmp_path / "boat")
    assert reading.findings == ()
    assert reading.dossier.header.title == 'The "Grebe", harbour launch'
    assert reading.dossier.header.return_ == "two-wire"
    assert path.read_text().count("\n#[") >= len(TABLES) - 2


def test_its_examples_read_without_a_finding_when_the_hash_is_taken_away(tmp_path):
    path = new_dossier(tmp_path, "Boat")
    lines = path.read_text().split("\n")
    bare = "\n".join(
        line[1:] if line.startswith("#") and not line.startswith("# ") else line for line in lines
    )
    reading = read_texts({"dossier.toml": bare})
    assert [str(f) for f in reading.findings] == []
    dossier = reading.dossier
    assert all(getattr(dossier, table.attribute) for table in TABLES.values())


def test_the_examples_of_every_key_read():
    """The example that a hint offers is itself in order: it is read in the table it is for."""
    for word, table in TABLES.items():
        for key in table.keys.values():
            import tomllib

            value = tomllib.loads(f"x = {key.example}")["x"]
            slips: list = []
            key.read(value, slips)
            assert slips == [], (word, key.name)


@pytest.mark.parametrize("wrong", [{"supply": "24"}, {"return_": "both"}, {"earthed": "plus"}])
def test_a_dossier_is_not_started_with_nonsense(tmp_path, wrong):
    with pytest.raises(UnreadableValue):
        new_dossier(tmp_path / "x", "Boat", **wrong)
    assert not (tmp_path / "x").exists()


def test_a_dossier_is_not_started_over_another(tmp_path):
    (tmp_path / "a.toml").write_text(PAGE)
    with pytest.raises(RefusedEdit):
        new_dossier(tmp_path, "Boat")
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]
