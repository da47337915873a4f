"""The pins in requirements/: whole, hashed, and naming no place to fetch from."""

import re
import tomllib

import pytest

from architecture.source import ROOT, expect_none

_PIN = re.compile(r"(?P<name>[a-z0-9][a-z0-9.-]*)==(?P<version>[^\s;]+)( ; (?P<marker>.+?))?")
_HASH = re.compile(r"--hash=sha256:[0-9a-f]{64}")


def pins(text: str) -> dict[tuple[str, str], list[str]]:
    """The hashes of each pin, by name and version; with anything else in the text as a fault.

    A long line is written as several, each but the last ending in a backslash.
    """
    found: dict[tuple[str, str], list[str]] = {}
    for line in text.replace("\\\n", " ").splitlines():
        head, *hashes = re.split(r"\s+(?=--)", line.strip())
        match = _PIN.fullmatch(head)
        if not match or not hashes or not all(map(_HASH.fullmatch, hashes)):
            raise ValueError(f"not a pin with hashes, and nothing else: {line[:100]}")
        found.setdefault((match["name"], match["version"]), []).extend(hashes)
    return found


def read(name: str) -> dict[tuple[str, str], list[str]]:
    """The pins of one file."""
    return pins((ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8"))


def asked_for(*extras: str) -> set[str]:
    """The packages that pyproject.toml asks for, with those of some extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = [*project["dependencies"]]
    for extra in extras or project["optional-dependencies"]:
        lines += project["optional-dependencies"][extra] if extra != "none" else []
    return {re.match(r"[A-Za-z0-9.-]+", line)[0].lower() for line in lines}


def test_what_is_asked_for_is_pinned():
    assert asked_for("none") <= {name for name, _ in read("run")}
    assert asked_for() <= {name for name, _ in read("dev")}


def test_run_pins_are_among_the_dev_pins():
    dev = read("dev")
    expect_none(pin for pin, hashes in read("run").items() if dev.get(pin) != hashes)


def test_work_on_it_needs_more_than_running_it():
    assert {name for name, _ in read("dev")} > {name for name, _ in read("run")}


@pytest.mark.parametrize(
    "text",
    [
        "numpy",
        "numpy==2.4.6",
        "numpy>=2.4 --hash=sha256:" + "0" * 64,
        "numpy==2.4.6 --hash=md5:" + "0" * 32,
        "# from somewhere",
        "--ind" + "ex-url somewhere",
        "numpy @ file.whl --hash=sha256:" + "0" * 64,
    ],
)
def test_anything_but_a_hashed_pin_is_refused(text):
    with pytest.raises(ValueError, match="not a pin"):
        pins(text)


def test_pin_with_marker_is_read():
    text = "numpy==2.4.6 ; python_full_version < '3.12' \\\n    --hash=sha256:" + "0" * 64
    assert pins(text) == {("numpy", "2.4.6"): ["--hash=sha256:" + "0" * 64]}
