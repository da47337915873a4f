"""The draw answer: which plates, which files, what is refused."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from loomlore.answers.draw import PLATES, Printing, draw, printing_of
from loomlore.findings import RefusedEdit, UnknownName, UnreadableValue

TUG = Path(__file__).parents[3] / "examples" / "glider-tug"


def test_each_word_draws_its_plates(tmp_path):
    for word in PLATES:
        if word in ("services", "all"):
            continue
        looms = ("main-loom",) if word == "boards" else ()
        answer = draw(TUG, plates=[word], looms=looms, folder=tmp_path / word, formats=("svg",))
        assert answer.plates, word
        assert all(Path(name).read_text(encoding="utf-8").startswith("<svg") for name in answer.files)


def test_all_is_everything_but_the_boards(tmp_path):
    answer = draw(TUG, plates=["all"], folder=tmp_path, formats=("svg",))
    names = {plates.service for plates in answer.plates}
    assert {"navigation", "block", "places", "looms", "faces-fuse-boxes", "symbols"} <= names
    assert not any(name.startswith("board") for name in names)
    numbers = [plates.number for plates in answer.plates]
    assert numbers == sorted(numbers)


def test_a_board_is_a_document_of_its_own(tmp_path):
    answer = draw(TUG, plates=["block", "boards"], looms=["main-loom"], folder=tmp_path)
    assert len(answer.files) == 2
    assert all(Path(name).read_bytes().startswith(b"%PDF") for name in answer.files)


def test_a_fault_is_drawn(tmp_path):
    draw(
        TUG,
        service="navigation",
        setting={"master-switch": "on", "navigation-switch": "on"},
        fault="N2.open",
        folder=tmp_path,
        formats=("svg",),
    )
    [path] = tmp_path.iterdir()
    text = path.read_text(encoding="utf-8")
    assert "FAULT. Cable N2" in text
    assert 'class="fault-band"' in text


@pytest.mark.parametrize(
    "asked",
    [
        {"plates": ["servces"]},
        {"colours": "rainbow"},
        {"sheet": "A5"},
        {"looms": ["no-such-loom"], "plates": ["looms"]},
        {"fault": "N2.opne"},
        {"service": "navigaton"},
    ],
)
def test_a_name_that_is_not_there_is_refused_and_nothing_written(asked, tmp_path):
    with pytest.raises(UnknownName):
        draw(TUG, folder=tmp_path / "out", **asked)
    assert not (tmp_path / "out").exists()


def test_a_page_too_small_to_read_is_refused_and_nothing_written(tmp_path):
    with pytest.raises(RefusedEdit, match=r"6\.5 pt"):
        draw(TUG, service="hook", printing=Printing(trim=(105.0, 148.0)), folder=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_the_same_twice_gives_the_same_bytes(tmp_path):
    for folder in ("one", "two"):
        draw(TUG, plates=["all"], folder=tmp_path / folder, formats=("svg",))
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_another_hash_seed_gives_the_same_bytes(tmp_path):
    code = (
        "import sys, pathlib\n"
        "from loomlore.answers.draw import draw, printing_of\n"
        f"tug = pathlib.Path({str(TUG)!r})\n"
        "words = ['block', 'places', 'looms', 'boards', 'faces']\n"
        "printing = printing_of(bleed=3.0, marks=True)\n"
        "draw(tug, plates=words, looms=['engine-loom'], folder=sys.argv[1], printing=printing)\n"
        "draw(tug, path='left-magneto.live', folder=sys.argv[1], formats=('svg', 'png'))\n"
    )
    made = []
    for seed in ("0", "1"):
        folder = tmp_path / seed
        subprocess.run(
            [sys.executable, "-c", code, str(folder)], env={**os.environ, "PYTHONHASHSEED": seed}, check=True
        )
        made.append({path.name: path.read_bytes() for path in sorted(folder.iterdir())})
    assert len(made[0]) >= 4
    assert made[0] == made[1]


@pytest.mark.parametrize("words", ["210x297", "210 x 297 mm", "210×297"])
def test_a_page_size_is_read(words):
    assert printing_of(words, bleed=3.0).trim == (210.0, 297.0)


@pytest.mark.parametrize("words", ["A4", "0x297", "210", "-210x297"])
def test_what_is_no_page_size_is_refused(words):
    with pytest.raises(UnreadableValue, match="210x297"):
        printing_of(words)
