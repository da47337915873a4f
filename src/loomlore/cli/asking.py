"""What all commands share: options, opening a dossier, asking a question, showing the answer.

What a caller did wrong (a name that is not there, a value that cannot be read) becomes wrong use, exit code 2.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any, Protocol

import click

from loomlore.findings import LoomloreError, UnfitRecord

__all__ = [
    "FOLDER",
    "amount",
    "ask",
    "ask_of",
    "json_option",
    "opened",
    "progress",
    "read_carrying",
    "read_settings",
    "show",
    "standard_option",
]

FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)


class Answer(Protocol):
    """What every command's result offers."""

    @property
    def failed(self) -> bool:
        """Whether the command ends with exit code 1."""

    def page(self) -> Any:
        """Blocks for a reader."""

    def as_data(self) -> dict[str, Any]:
        """Plain data for JSON."""


def json_option(function: Any) -> Any:
    """The --json option."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print plain data; schemas are in docs/schemas."
    )(function)


def standard_option(function: Any) -> Any:
    """The --standard option."""
    text = "Standard of fit, by its id; the dossier's own where not given."
    return click.option("--standard", default="", metavar="ID", help=text)(function)


def show(answer: Answer, *, as_json: bool) -> None:
    """Print an answer and leave with its exit code."""
    if as_json:
        click.echo(json.dumps(answer.as_data(), ensure_ascii=False, indent=2))
    else:
        from loomlore.answers.pages import as_text

        colour = sys.stdout.isatty() and "NO_COLOR" not in os.environ
        click.echo(as_text(answer.page(), width=_width(), colour=colour), color=colour)
    if answer.failed:
        raise SystemExit(1)


def _width() -> int:
    from shutil import get_terminal_size

    return max(60, min(120, get_terminal_size((100, 24)).columns))


def opened(folder: Path) -> Any:
    """Open a dossier; say on the error stream if its text has errors, since every answer leans on it."""
    record = ask("opening", "open_dossier", folder)
    wrong = sum(finding.severity.word == "error" for finding in record.reading.findings)
    if wrong:
        errors = "an error" if wrong == 1 else f"{wrong} errors"
        click.echo(
            f"The record has {errors}, and what follows leans on the rest: loomlore check {folder}", err=True
        )
    return record


def read_settings(words: tuple[str, ...]) -> Mapping[str, str]:
    """``NAME=VALUE`` words as a mapping."""
    found: dict[str, str] = {}
    for word in words:
        name, sign, value = word.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise click.UsageError(f"{word!r} is no setting. Write NAME=VALUE, like --set master-switch=on.")
        if name.strip() in found:
            raise click.UsageError(f"{name.strip()!r} stands twice; it can only be at one.")
        found[name.strip()] = value.strip()
    return found


def ask(module: str, function: str, *given: Any, **named: Any) -> Any:
    """Call an answer's function; what a caller did wrong becomes wrong use."""
    return ask_of(f"loomlore.answers.{module}", function, *given, **named)


def ask_of(module: str, function: str, *given: Any, **named: Any) -> Any:
    """Call a function of the package; what a caller did wrong becomes wrong use."""
    try:
        return getattr(import_module(module), function)(*given, **named)
    except UnfitRecord as error:
        said = "\n".join(f"{finding.message} {finding.hint}" for finding in error.findings)
        raise click.UsageError(said) from None
    except LoomloreError as error:
        raise click.UsageError(str(error)) from None


def _untold(done: int, of: int) -> None:
    """Nobody watches."""


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on the error stream while something long runs, only where somebody watches it."""
    if not sys.stderr.isatty() or "NO_COLOR" in os.environ:
        yield _untold
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)


def amount(text: str, dimension: str) -> float | None:
    """An option's amount in the inside unit; None where it was not given."""
    if not text:
        return None
    value: float = ask_of("loomlore.quantities", "read_quantity", text, dimension).value
    return value


def read_carrying(words: tuple[str, ...]) -> Mapping[str, float]:
    """``SIZE=AMPERES`` words as a mapping."""
    found: dict[str, float] = {}
    for word in words:
        size, sign, value = word.rpartition("=")
        if not sign or not size.strip():
            raise click.UsageError(f'{word!r} is no size with amperes. Write --carrying "14/.0076 in=5 A".')
        found[size.strip()] = amount(value.strip(), "current") or 0.0
    return found
