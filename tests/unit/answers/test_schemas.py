"""The published schemas are those of the code, and what the commands print keeps to them."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest
from pydantic import TypeAdapter

ROOT = Path(__file__).parents[3]
EXAMPLES = ("glider-tug", "harbour-launch")


def made():
    spec = importlib.util.spec_from_file_location("make_schemas", ROOT / "docs" / "make_schemas.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_published_schemas_are_those_of_the_code():
    for name, schema in made().schemas().items():
        written = json.loads((ROOT / "docs" / "schemas" / name).read_text(encoding="utf-8"))
        assert written == schema, f"run: python3 dev.py run docs/make_schemas.py ({name} differs)"


@pytest.mark.parametrize("example", EXAMPLES)
@pytest.mark.parametrize("answer", ["check", "operate", "sources", "functions", "cables", "loads"])
def test_what_is_printed_keeps_to_its_schema(example, answer):
    import loomlore

    data = getattr(loomlore, answer)(ROOT / "examples" / example).as_data()
    adapter = TypeAdapter(made().ANSWERS[answer])
    adapter.validate_python(json.loads(json.dumps(data)), strict=True)


def test_what_draws_and_imports_keeps_to_its_schema(tmp_path):
    import loomlore

    (tmp_path / "list.csv").write_text("mark,from,to\nN1,box 3,lamp 1\n", encoding="utf-8")
    answers = {
        "draw": loomlore.draw(
            ROOT / "examples" / "glider-tug", service="navigation", folder=tmp_path / "plates"
        ),
        "import": loomlore.import_list(tmp_path / "list.csv", tmp_path / "dossier"),
    }
    for name, answer in answers.items():
        TypeAdapter(made().ANSWERS[name]).validate_python(
            json.loads(json.dumps(answer.as_data())), strict=True
        )


def held(name, answer):
    """The answer's data, held strictly to its schema."""
    data = json.loads(json.dumps(answer.as_data()))
    TypeAdapter(made().ANSWERS[name]).validate_python(data, strict=True)
    return data


def test_what_finds_faults_keeps_to_its_schema():
    from loomlore.answers.locate import gone_on, locate

    folder = ROOT / "examples" / "glider-tug"
    assert held("locate", locate(folder, services=["signals"]))["seeable"]
    assert held("locate", locate(folder, services=["signals"], chart=True, seconds=0.2))["charts"]
    hunt = locate(folder, seen=["tail-lamp=out"])
    while hunt.next is not None:
        assert held("locate", hunt)["next"]["outcomes"]
        hunt = gone_on(hunt, found=[hunt.next.means[0].outcome])
    assert held("locate", hunt)["proofs"]


def test_what_tests_before_power_keeps_to_its_schema(tmp_path):
    from shutil import copytree

    from loomlore.answers.cards import Found, cards
    from loomlore.answers.entering import enter

    folder = copytree(ROOT / "examples" / "glider-tug", tmp_path / "tug")
    written = {"continuity:N1": Found(as_found="0.2 ohm"), "continuity:N2": Found(as_found="0.2")}
    verdicts = {
        row["id"]: row["verdict"]
        for card in held("cards", cards(folder, service="navigation", found=written))["cards"]
        for row in card["rows"]
    }
    assert (verdicts["continuity:N1"], verdicts["continuity:N2"]) == ("as expected", "not a figure")
    entered = held("entered", enter(folder, written))
    assert [one["line"] for one in entered["entered"]] == ["continuity:N1"]
    assert [one["where"] for one in entered["findings"]] == ["continuity:N2"]


def test_a_wrong_shape_is_refused():
    adapter = TypeAdapter(made().ANSWERS["check"])
    with pytest.raises(ValueError, match="answer"):
        adapter.validate_python({"title": "no answer named"})


def test_several_processes_give_the_same_verdicts():
    import loomlore

    folder = ROOT / "examples" / "glider-tug"
    one = loomlore.sources(folder, standard="lamp-tug")
    two = loomlore.sources(folder, standard="lamp-tug", processes=2)
    assert [(j.statement.id, j.verdict) for j in one.judged] == [
        (j.statement.id, j.verdict) for j in two.judged
    ]
