"""The command line: exit codes, suggestions, data and help."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from loomlore.cli import commands

ROOT = Path(__file__).parents[3]
TUG = str(ROOT / "examples" / "glider-tug")


def run(*words: str):
    return CliRunner().invoke(commands, list(words), prog_name="loomlore")


def test_a_sound_dossier_ends_with_nought():
    assert run("check", TUG).exit_code == 0


def test_an_error_in_the_text_ends_with_one_and_names_file_and_line(tmp_path):
    (tmp_path / "d.toml").write_text('[dossier]\nformat = 1\ntitle = "x"\nsuply = "24 V"\n', encoding="utf-8")
    result = run("check", str(tmp_path))
    assert result.exit_code == 1
    assert "d.toml:4" in result.output
    assert "supply" in result.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("chek", TUG), "Did you mean 'check'?"),
        (("operate", TUG, "--set", "mastr-switch=on"), "Did you mean 'master-switch'?"),
        (("operate", TUG, "--set", "master-switch=up"), "off, on"),
        (("operate", TUG, "--set", "master-switch"), "NAME=VALUE"),
        (("operate", TUG, "--procedure", "startng"), "procedure"),
        (("sources", TUG, "--only", "proven"), "proved"),
        (("sources", TUG, "--statement", "starter-turn"), "starter-turns"),
        (("operate", TUG, "--standard", "lamp-tugg"), "lamp-tug"),
        (("check", "no-such-folder"), "no-such-folder"),
    ],
)
def test_wrong_use_ends_with_two_and_says_what_to_write(words, said):
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.output


def test_data_is_one_json_value():
    data = json.loads(run("sources", TUG, "--json").output)
    verdicts = {s["id"]: s["verdict"] for s in data["statements"]}
    assert verdicts["starter-turns"] == "proved"


def test_operating_shows_what_the_handbook_promises():
    """Handbook of the invented tug, 7.5: the lamps on one switch."""
    result = run("operate", TUG, "--set", "master-switch=on", "--set", "navigation-switch=on")
    assert result.exit_code == 0
    for lamp in ("Port lamp", "Starboard lamp", "Tail lamp"):
        assert any(line.startswith(lamp) and " lit" in line for line in result.output.splitlines())


def test_every_command_has_examples_in_its_help():
    for name in commands.commands:
        assert "Examples:" in run(name, "--help").output, name


def test_an_empty_folder_is_wrong_use(tmp_path):
    result = run("check", str(tmp_path))
    assert result.exit_code == 2
    assert "loomlore new" in result.output or "holds" in result.output
