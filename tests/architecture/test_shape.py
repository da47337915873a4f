"""The size and the names of modules, and what the package offers at its root."""

import importlib
import re
import tomllib

import pytest

import loomlore
from architecture.source import PACKAGE, ROOT, Module, expect_none, package_modules

MOST_LINES = 800
# Each says that whoever wrote it did not know what the module is for.
EMPTY_NAMES = {"base", "common", "helper", "helpers", "manager", "managers", "misc", "util", "utils"}


def empty_words(name: str) -> set[str]:
    """The words in a module's name that say nothing."""
    return set(re.split(r"[._]", name)) & EMPTY_NAMES


def too_long(module: Module) -> bool:
    """Whether a module has more lines than anyone reads through."""
    return len(module.text.splitlines()) > MOST_LINES


def test_no_module_is_too_long():
    expect_none(name for name, module in package_modules().items() if too_long(module))


def test_length_is_measured():
    assert too_long(Module("loomlore.record.model", "x = 1\n" * (MOST_LINES + 1)))
    assert not too_long(Module("loomlore.record.model", "x = 1\n" * MOST_LINES))


def test_module_names_say_what_is_inside():
    tests = {path.stem for part in ("tests", "benchmarks") for path in (ROOT / part).rglob("*.py")}
    expect_none(name for name in [*package_modules(), *sorted(tests)] if empty_words(name))


@pytest.mark.parametrize("name", ["loomlore.utils", "loomlore.record.base", "loomlore.bench.page_helpers"])
def test_empty_name_is_found(name):
    assert empty_words(name)


@pytest.mark.parametrize("name", ["loomlore.sizing.baseline", "loomlore.record.reading"])
def test_name_that_holds_one_is_not(name):
    assert not empty_words(name)


def test_exports_are_where_they_are_said_to_be():
    for name, source in loomlore._EXPORTS.items():
        module = importlib.import_module(source)
        assert getattr(loomlore, name) is getattr(module, name)
        assert name in getattr(module, "__all__", [name])
        assert name in dir(loomlore)
        assert name in loomlore.__all__


def test_exports_are_sorted_and_public():
    names = list(loomlore._EXPORTS)
    assert names == sorted(names)
    assert not [name for name in names if name.startswith("_")]


def test_export_is_read_when_asked_for(monkeypatch):
    monkeypatch.setitem(loomlore._EXPORTS, "VERSION", "loomlore.version")
    try:
        assert loomlore.__version__ == loomlore.VERSION
    finally:
        vars(loomlore).pop("VERSION", None)


def test_export_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        loomlore.nonsense  # noqa: B018 - the access is the test


def test_versions_agree():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["name"] == PACKAGE
    assert project["version"] == loomlore.__version__
