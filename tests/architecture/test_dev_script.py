"""dev.py: read by any Python, needs nothing but Python, and spoils no folder that is not its own."""

import ast
import importlib.util
import os
import subprocess
import sys

import pytest

from architecture.source import ROOT

SCRIPT = ROOT / "dev.py"


@pytest.fixture(scope="module")
def dev():
    spec = importlib.util.spec_from_file_location("dev_script", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def run(*arguments, **settings):
    return subprocess.run(
        [sys.executable, SCRIPT, *arguments],
        env=os.environ | settings,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_old_python_can_read_it():
    ast.parse(SCRIPT.read_text(encoding="utf-8"), feature_version=(3, 6))


def test_needs_only_the_standard_library():
    tree = ast.parse(SCRIPT.read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert {name.partition(".")[0] for name in names} <= sys.stdlib_module_names


def test_help_names_every_command(dev):
    done = run("--help")
    assert done.returncode == 0
    for command in dev.COMMANDS:
        assert f"dev.py {command} " in done.stdout


@pytest.mark.parametrize("arguments", [[], ["nonsense"]])
def test_wrong_use(arguments):
    done = run(*arguments)
    assert done.returncode == 2
    assert "setup" in done.stdout + done.stderr


def test_folder_of_somebody_else_is_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    done = run("setup", "run", LOOMLORE_VENV=str(tmp_path))
    assert done.returncode == 1
    assert "did not make it" in done.stderr
    assert "What to do" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize(
    ("said", "advice"),
    [
        ("ERROR: Could not find a version that satisfies x (from versions: none)", "network"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "not the one"),
        ("(from versions: 1.0, 2.0)\nERROR: No matching distribution found", "no ready-built file"),
        ("OSError: [Errno 28] No space left on device", "disk is full"),
    ],
)
def test_advice_fits_what_pip_said(dev, said, advice):
    assert advice in dev.advice(said)
    assert "What to do" in dev.advice(said)


def test_pins_decide_whether_anything_is_to_do(dev, tmp_path, monkeypatch):
    """A finished set-up is left alone; a changed pin, another place, or a half-made folder is not."""
    (tmp_path / "requirements").mkdir()
    for pins in dev.PIN_SETS:
        (tmp_path / "requirements" / f"{pins}.txt").write_text(pins)
    done = []
    for name, value in {
        "ROOT": str(tmp_path),
        "VENV": str(tmp_path / "made"),
        "STAMP": str(tmp_path / "made" / "stamp"),
        "PYTHON": str(tmp_path / "made" / "python"),
        "install": lambda pins: done.append(f"install {pins}"),
        "write_package_links": lambda: None,
    }.items():
        monkeypatch.setattr(dev, name, value)

    def make_venv(_stamp):
        done.append("make")
        (tmp_path / "made").mkdir(exist_ok=True)
        (tmp_path / "made" / "python").write_text("")

    monkeypatch.setattr(dev, "make_venv", make_venv)

    def set_up(pins):
        done.clear()
        dev.set_up(pins)
        return done[:]

    assert set_up("run") == ["make", "install run"]
    assert set_up("run") == []
    assert set_up("dev") == ["install dev"]
    assert set_up("run") == set_up("dev") == []
    (tmp_path / "requirements" / "run.txt").write_text("changed")
    assert set_up("run") == ["make", "install run"]
    (tmp_path / "made" / "python").unlink()
    assert set_up("run") == ["make", "install run"]
    dev.write_stamp(["begun"])
    assert set_up("dev") == ["make", "install dev"]
    monkeypatch.setattr(dev, "LAYOUT", "another")
    assert set_up("dev") == ["make", "install dev"]
