"""The command line: each command opens a dossier, asks one question, and prints or writes the answer.

Exit codes: 0 fine, 1 findings of severity error (or a sentence contradicted, a step not so),
2 wrong use. Nothing heavy is imported until a command runs.
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

from loomlore.findings import LoomloreError, UnfitRecord, nearest
from loomlore.version import VERSION

__all__ = ["main"]

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


class Commands(click.Group):
    """A group that suggests the right word for a wrong one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command, or say which is nearest."""
        name = args[0] if args else ""
        if name and not name.startswith("-") and self.get_command(ctx, name) is None:
            meant = nearest(name, self.list_commands(ctx))
            hint = (
                f" Did you mean {meant!r}?" if meant else f" Commands: {', '.join(self.list_commands(ctx))}."
            )
            raise click.UsageError(f"There is no command {name!r}.{hint}")
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click gives it
        """Commands in the order of the work, not of the alphabet."""
        return list(self.commands)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Each command has its own --help with examples.  Not approved data: work on an aircraft, and its "
    "release, belong to a licensed engineer under the rules of the local authority.",
)
@click.version_option(VERSION, prog_name="loomlore")
def commands() -> None:
    """Keep, prove and publish the record of a historic aircraft's electrical installation.

    A dossier is a folder of plain text files. Begin with "loomlore new FOLDER", type from the handbook, and
    ask "loomlore check FOLDER" as often as you like.
    """


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
    """Open a dossier; a folder without any text is wrong use."""
    return import_module("loomlore.answers.opening").open_dossier(folder)


def read_settings(words: tuple[str, ...]) -> Mapping[str, str]:
    """``NAME=VALUE`` words as a mapping."""
    found: dict[str, str] = {}
    for word in words:
        name, sign, value = word.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise click.UsageError(f"{word!r} is no setting. Write NAME=VALUE, like --set master-switch=on.")
        found[name.strip()] = value.strip()
    return found


def ask(module: str, function: str, *given: Any, **named: Any) -> Any:
    """Call an answer's function; what a caller did wrong becomes wrong use."""
    try:
        return getattr(import_module(f"loomlore.answers.{module}"), function)(*given, **named)
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


@commands.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", default="", help="What the installation is, as it is to stand on its pages.")
@click.option("--supply", default="24 V", show_default=True, help="Nominal volts.")
def new(folder: Path, title: str, supply: str) -> None:
    """Start a dossier: a FOLDER with commented text files to type into.

    \b
    Examples:
      loomlore new glider-tug --title "Glider tug, single engine" --supply "12 V"
    """
    started = ask("start", "new", folder, title=title, supply=supply)
    click.echo(started)


@commands.command()
@click.argument("folder", type=FOLDER)
@json_option
def check(folder: Path, as_json: bool) -> None:
    """Find everything wrong or doubtful in the text of FOLDER, at its line, with what to write.

    \b
    Examples:
      loomlore check examples/mail-amphibian
      loomlore check examples/glider-tug --json
    """
    show(ask("check", "check", ask("opening", "open_dossier", folder)), as_json=as_json)


@commands.command()
@click.argument("folder", type=FOLDER)
@click.option(
    "--set", "settings", multiple=True, metavar="NAME=VALUE", help="Move a control or condition; repeat."
)
@click.option("--procedure", default="", metavar="ID", help="Play a procedure of the dossier, step by step.")
@click.option("--service", default="", metavar="ID", help="Readings of this service's items only.")
@click.option("--all", "everything", is_flag=True, help="List things that do nothing too.")
@standard_option
@json_option
def operate(
    folder: Path,
    settings: tuple[str, ...],
    procedure: str,
    service: str,
    everything: bool,
    standard: str,
    as_json: bool,
) -> None:
    """Work the controls of FOLDER and read what lights, sounds and flows.

    Everything starts at rest; all that is set moves at once, then the installation settles.

    \b
    Examples:
      loomlore operate examples/glider-tug --set master-switch=on --set navigation-switch=on
      loomlore operate examples/mail-amphibian --procedure cold-start
    """
    record = ask("opening", "open_dossier", folder)
    answer = ask(
        "operate",
        "operate",
        record,
        read_settings(settings),
        procedure=procedure,
        standard=standard,
        service=service,
        everything=everything,
    )
    show(answer, as_json=as_json)


@commands.command()
@click.argument("folder", type=FOLDER)
@click.argument("services", nargs=-1, metavar="[SERVICE]...")
@click.option("--csv", "form", flag_value="csv", help="Print lines for a spreadsheet.")
@click.option("--html", "form", flag_value="html", help="Print one page for a browser or a printer.")
@standard_option
@json_option
def functions(
    folder: Path, services: tuple[str, ...], form: str | None, standard: str, as_json: bool
) -> None:
    """Tabulate what you do and what you see: every SERVICE of FOLDER, or those named, in the fewest rows.

    \b
    Examples:
      loomlore functions examples/glider-tug
      loomlore functions examples/mail-amphibian horn hail-lamps
      loomlore functions examples/mail-amphibian --html > functions.html
    """
    if form and as_json:
        raise click.UsageError("Ask for one of --csv, --html and --json.")
    record = ask("opening", "open_dossier", folder)
    with progress("functions") as told:
        answer = ask("functions", "functions", record, services, standard=standard, progress=told)
    if form:
        click.echo(answer.as_csv() if form == "csv" else answer.as_document(), nl=False)
        return
    show(answer, as_json=as_json)


@commands.command()
@click.argument("folder", type=FOLDER)
@click.option("--service", default="", metavar="ID", help="Statements about this service only.")
@click.option("--statement", default="", metavar="ID", help="One statement only.")
@click.option("--only", default="", metavar="VERDICT", help="Only this verdict, such as contradicted.")
@standard_option
@json_option
def sources(folder: Path, service: str, statement: str, only: str, standard: str, as_json: bool) -> None:
    """Judge what the sources of FOLDER say: proved, proved if, contradicted, in dispute, decided.

    \b
    Examples:
      loomlore sources examples/glider-tug
      loomlore sources examples/mail-amphibian --only contradicted
    """
    record = ask("opening", "open_dossier", folder)
    with progress("proofs") as told:
        answer = ask(
            "sources",
            "sources",
            record,
            service=service,
            statement=statement,
            only=only,
            standard=standard,
            progress=told,
        )
    show(answer, as_json=as_json)


@commands.command()
@click.argument("folder", type=FOLDER)
@click.option("--service", default="", metavar="ID", help="This service's plate only.")
@click.option("--out", default="plates", show_default=True, metavar="FOLDER", help="Where the files go.")
@click.option(
    "--format", "formats", multiple=True, metavar="WORD", help="svg, png or pdf; repeat. [default: pdf]"
)
@click.option("--set", "settings", multiple=True, metavar="NAME=VALUE", help="Show this setting; repeat.")
@click.option(
    "--verdicts", is_flag=True, help="Print what became of the sources' sentences in the title block."
)
@standard_option
@json_option
def draw(
    folder: Path,
    service: str,
    out: str,
    formats: tuple[str, ...],
    settings: tuple[str, ...],
    verdicts: bool,
    standard: str,
    as_json: bool,
) -> None:
    """Draw the coloured plates of FOLDER, one for each service.

    \b
    Examples:
      loomlore draw examples/glider-tug --service navigation --format svg
      loomlore draw examples/mail-amphibian --out plates
    """
    record = ask("opening", "open_dossier", folder)
    answer = ask(
        "draw",
        "draw",
        record,
        service=service,
        folder=out,
        formats=formats or ("pdf",),
        setting=read_settings(settings),
        standard=standard,
        verdicts=verdicts,
    )
    show(answer, as_json=as_json)


@commands.command(name="import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option(
    "--service", default="imported", show_default=True, help="Service of cables whose list gives none."
)
@json_option
def import_(file: Path, folder: Path, service: str, as_json: bool) -> None:
    """Bring the cable list in FILE (xlsx, ods, csv) into the dossier FOLDER.

    \b
    Examples:
      loomlore import survey-cables.csv glider-tug
    """
    show(ask("bring", "import_list", file, folder, service=service), as_json=as_json)


def main() -> None:
    """Run the command line."""
    commands(prog_name="loomlore")


if __name__ == "__main__":
    main()
