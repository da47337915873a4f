"""Every command and every snippet in the documents runs, in order, and prints what stands below it.

In a document, ``toml`` blocks whose first line is ``# FILE`` are typed into that file, anew, or over certain
lines where it says ``# FILE, line N``; ``console`` blocks are run line by line: what follows ``$`` is the
command, what follows it must be printed, where a line of three points stands for any lines left out, and three
points within a line for any text. Python blocks are doctests.
"""

from __future__ import annotations

import doctest
import importlib.util
import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from loomlore.cli import commands

ROOT = Path(__file__).parents[2]
DOCUMENTS = sorted([*(ROOT / "docs").glob("*.md"), ROOT / "README.md"])
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
POINTS = "..."
LEFT_OUT = (POINTS, "…")


def blocks_of(document: Path) -> list[tuple[str, str]]:
    return BLOCK.findall(document.read_text(encoding="utf-8"))


def typed(text: str, folder: Path) -> None:
    """Type a block into its file: anew, or over the lines that its first line names."""
    first, _, body = text.partition("\n")
    match = re.fullmatch(r"# ([\w./-]+\.toml)(?:, lines? (\d+).*)?", first)
    if not match:
        return
    path = folder / match[1]
    path.parent.mkdir(parents=True, exist_ok=True)
    if not match[2]:
        path.write_text(text, encoding="utf-8")
        return
    lines, start = path.read_text(encoding="utf-8").split("\n"), int(match[2]) - 1
    new = body.rstrip("\n").split("\n")
    lines[start : start + len(new)] = new
    path.write_text("\n".join(lines), encoding="utf-8")


def run(command: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    words = shlex.split(command, comments=True)
    assert words[0] == "loomlore", f"a document runs something else: {command}"
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")
    result = CliRunner().invoke(commands, words[1:], prog_name="loomlore")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code in (0, 1) or "Error:" in result.output, result.output
    return result.output


def _line(line: str) -> str:
    if line.strip() in LEFT_OUT:
        return r"(?:.*\n)*?"
    return re.escape(line).replace(re.escape(POINTS), ".*") + r" *\n"


def matches(expected: str, printed: str) -> bool:
    """Whether the printed lines are the expected ones, points standing for lines left out."""
    wanted = [line.rstrip() for line in expected.strip("\n").split("\n")]
    pattern = "".join(_line(line) for line in wanted)
    return re.fullmatch(r"\n*" + pattern + r"\n*", printed.rstrip("\n") + "\n") is not None


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: d.name)
def test_commands_and_snippets_run_as_printed(document, tmp_path, monkeypatch):
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    for kind, text in blocks_of(document):
        if kind == "toml":
            typed(text, tmp_path)
        elif kind == "console":
            for command, expected in re.findall(r"^\$ (.*)\n((?:(?!\$ ).*\n)*)", text, re.MULTILINE):
                printed = run(command, tmp_path, monkeypatch)
                if expected.strip():
                    assert matches(expected, printed), (
                        f"{command}\n--- printed\n{printed}\n--- document\n{expected}"
                    )
        elif kind == "python":
            doctests(document.name, text)


def doctests(name: str, text: str) -> None:
    parser, runner = doctest.DocTestParser(), doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    runner.run(parser.get_doctest(text, {}, name, name, 0))
    assert not runner.failures


def test_the_comparison_can_fail():
    assert matches("a\n...\nc\n", "a\nb\nc\n")
    assert not matches("a\n...\nc\n", "a\nb\nd\n")
    assert not matches("a\nb\n", "a\n")
    assert matches("a lit ...\n", "a lit 5 V\n")
    assert not matches("a lit ...\n", "a out 0 V\n")


def test_made_pages_are_those_of_the_code():
    maker = "make_tables"
    spec = importlib.util.spec_from_file_location(maker, ROOT / "docs" / f"{maker}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name, text in module.pages().items():
        written = (ROOT / "docs" / name).read_text(encoding="utf-8")
        assert written == text, f"run: python3 dev.py run docs/{maker}.py ({name} differs)"


def test_every_tool_word_of_the_command_line_is_in_the_documents():
    text = "".join(d.read_text(encoding="utf-8") for d in DOCUMENTS)
    missing = [name for name in commands.commands if f"loomlore {name}" not in text]
    assert not missing, f"no document shows: {missing}"
