"""A cable list brought into a folder: what the new dossier assumes is said, and never in an old one."""

from loomlore.answers.bring import import_list
from loomlore.record.reading import read_dossier

LIST = "mark,from,to\nS1,battery +,master 1\n"


def _brought(tmp_path, name, **more):
    (tmp_path / "list.csv").write_text(LIST)
    return import_list(tmp_path / "list.csv", tmp_path / name, **more)


def test_a_new_dossier_says_what_no_list_can_have_told(tmp_path):
    answer = _brought(tmp_path, "boat")
    (said,) = [f for f in answer.findings if f.rule == "assumed-supply"]
    assert said.place.file == "dossier.toml"
    assert "24 V" in said.message
    assert "dossier.toml  The dossier is new" in str(answer)


def test_volts_and_title_that_are_given_stand_in_it(tmp_path):
    answer = _brought(tmp_path, "boat", title="Harbour launch", supply="12 V")
    header = read_dossier(tmp_path / "boat").dossier.header
    assert (header.title, header.supply.text) == ("Harbour launch", "12 V")
    (said,) = [f for f in answer.findings if f.rule == "assumed-supply"]
    assert " V" not in said.message


def test_an_old_dossier_keeps_its_own(tmp_path):
    (tmp_path / "tug").mkdir()
    (tmp_path / "tug" / "tug.toml").write_text('[dossier]\nformat = 1\ntitle = "Tug"\nsupply = "12 V"\n')
    answer = _brought(tmp_path, "tug", supply="28 V")
    assert [f for f in answer.findings if f.rule == "assumed-supply"] == []
    assert read_dossier(tmp_path / "tug").dossier.header.supply.text == "12 V"
