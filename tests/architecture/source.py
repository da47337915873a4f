"""The package's source as data: which modules there are, and what each imports. Nothing is run."""

import ast
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src"
PACKAGE = "loomlore"


@dataclass(frozen=True)
class Import:
    """One import: the module it reaches, the name taken from it ("" for the module itself), and its line."""

    target: str
    name: str
    line: int


@dataclass(frozen=True)
class Module:
    """One module by its dotted name, as text."""

    name: str
    text: str
    is_package: bool = False

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text, self.name)

    @property
    def layer(self) -> str:
        return layer_of(self.name)


def layer_of(name: str) -> str:
    """The part just below the package root: `record` for `loomlore.record.reading`; "" for the root."""
    return name.partition(".")[2].partition(".")[0]


def package_modules() -> dict[str, Module]:
    """Every module of the package, by name."""
    modules = {}
    for path in sorted((SOURCE / PACKAGE).rglob("*.py")):
        parts = path.relative_to(SOURCE).with_suffix("").parts
        is_package = parts[-1] == "__init__"
        name = ".".join(parts[:-1] if is_package else parts)
        modules[name] = Module(name, path.read_text(encoding="utf-8"), is_package)
    return modules


def modules_of(**texts: str) -> dict[str, Module]:
    """Modules made up for a test: `drawing__scene="..."` is `loomlore.drawing.scene`, and so on.

    Every package above a module is there too, empty, as it would be on disk.
    """
    modules = {PACKAGE: Module(PACKAGE, "", is_package=True)}
    for key, text in texts.items():
        parts = key.split("__")
        for depth in range(1, len(parts)):
            name = ".".join([PACKAGE, *parts[:depth]])
            modules.setdefault(name, Module(name, "", is_package=True))
        name = ".".join([PACKAGE, *parts])
        modules[name] = Module(name, text, is_package=name in modules)
    return modules


def imports(module: Module, known: Mapping[str, Module]) -> list[Import]:
    """What a module imports from the package, wherever in it the import stands.

    Imports inside functions count, those for type checking count, and so does a string that is exactly the
    name of a module of the package (what `import_module` or a table of lazily read commands is given).
    """
    found = []
    for node in ast.walk(module.tree):
        match node:
            case ast.Import(names=names):
                found += [Import(alias.name, "", node.lineno) for alias in names]
            case ast.ImportFrom():
                found += _taken_from(module, node, known)
            case ast.Constant(value=str(text)) if text.startswith(f"{PACKAGE}."):
                name = text.partition(":")[0]
                found += [Import(name, "", node.lineno)] if name in known else []
    return [entry for entry in found if entry.target.partition(".")[0] == PACKAGE]


def _taken_from(module: Module, node: ast.ImportFrom, known: Mapping[str, Module]) -> Iterator[Import]:
    source = node.module or ""
    if node.level:
        here = module.name.split(".")
        above = here[: len(here) - node.level + (1 if module.is_package else 0)]
        source = ".".join([*above, *([source] if source else [])])
    for alias in node.names:
        whole = f"{source}.{alias.name}"
        if whole in known and source != PACKAGE:
            yield Import(whole, "", node.lineno)
        else:
            yield Import(source, alias.name, node.lineno)


def foreign_imports(module: Module) -> set[str]:
    """The libraries that a module imports, anywhere in it, by their whole dotted names."""
    found = set()
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return {name for name in found if name.partition(".")[0] != PACKAGE}


def expect_none(complaints: Iterable[object]) -> None:
    """Fail with every complaint on a line of its own, so that one run tells all there is to mend."""
    lines = list(dict.fromkeys(map(str, complaints)))
    if lines:
        pytest.fail("\n".join(lines), pytrace=False)
