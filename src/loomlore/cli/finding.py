"""Commands that ask what a fault does, find the one that has happened, and test for it: faults, locate, cards."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from loomlore.cli.asking import (
    FOLDER,
    ask,
    json_option,
    opened,
    progress,
    read_settings,
    show,
    standard_option,
)
from loomlore.findings import LoomloreError

__all__ = ["COMMANDS"]


@click.command(short_help="Say what every single fault does; sneak paths; hazards.")
@click.argument("folder", type=FOLDER)
@click.option("--service", default="", metavar="ID", help="Faults of this service only.")
@click.option(
    "--part",
    "parts",
    multiple=True,
    metavar="WORD",
    help="effects, sneaks or hazards; repeat. [default: all]",
)
@click.option(
    "--pairs", is_flag=True, help="Also pairs of faults: of --service, and those that fire a cartridge."
)
@click.option(
    "--situation", "situations", multiple=True, metavar="ID", help="Try pairs in this one only; repeat."
)
@click.option(
    "--most", type=click.IntRange(0), default=1000, show_default=True, help="Pairs tried; 0 for all."
)
@click.option("--every-standard", is_flag=True, help="Try pairs in every named standard of fit.")
@click.option("--scheduler", default="", metavar="ADDRESS", help="Share pairs out on this cluster.")
@click.option(
    "--so-far",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Keep pairs done; go on.",
)
@click.option(
    "--severity",
    "severities",
    multiple=True,
    metavar="SERVICE=CLASS",
    help="Your own class, I to IV; repeat.",
)
@click.option("--all", "everything", is_flag=True, help="Every row, not only the gravest.")
@click.option("--html", "as_html", is_flag=True, help="Print one page for a browser or a printer.")
@standard_option
@json_option
def faults(
    folder: Path,
    service: str,
    parts: tuple[str, ...],
    pairs: bool,
    situations: tuple[str, ...],
    most: int,
    every_standard: bool,
    scheduler: str,
    so_far: Path | None,
    severities: tuple[str, ...],
    everything: bool,
    as_html: bool,
    standard: str,
    as_json: bool,
) -> None:
    """Say what every single fault of FOLDER does, where current can sneak, and what is dangerous.

    \b
    Examples:
      loomlore faults examples/glider-tug --service navigation
      loomlore faults examples/glider-tug --service navigation --part hazards --pairs
      loomlore faults examples/mail-amphibian --standard early --part hazards
    """
    if as_html and as_json:
        raise click.UsageError("Ask for one of --html and --json.")
    if (situations or every_standard or scheduler or so_far) and not (pairs and service):
        raise click.UsageError(
            "--situation, --every-standard, --scheduler and --so-far are for pairs of one service: add --pairs "
            "--service ID."
        )
    record = opened(folder)
    with progress("pairs") as told:
        terms = ask(
            "faults",
            "PairTerms",
            situations=situations,
            most=most,
            scheduler=scheduler,
            kept=so_far,
            told=told,
            everywhere=every_standard,
        )
        answer = ask(
            "faults",
            "study_faults",
            record,
            service=service,
            parts=parts,
            pairs=pairs,
            terms=terms,
            severities=read_settings(severities),
            everything=everything,
            standard=standard,
        )
    if as_html:
        click.echo(answer.as_document(), nl=False)
        raise SystemExit(1 if answer.failed else 0)
    show(answer, as_json=as_json)


FILE = click.Path(dir_okay=False, path_type=Path)


@click.command(short_help="From what is seen to the next best check.")
@click.argument("folder", type=FOLDER)
@click.option(
    "--seen", multiple=True, metavar="NAME=WORD", help="What is otherwise than it should be; repeat."
)
@click.option(
    "--set", "settings", multiple=True, metavar="NAME=VALUE", help="How the controls stood; repeat."
)
@click.option("--service", "services", multiple=True, metavar="ID", help="Look in this service only; repeat.")
@click.option("--hunt", "path", type=FILE, metavar="FILE", help="File of the hunt; made, or gone on with.")
@click.option("--found", multiple=True, metavar="[CHECK=]OUTCOME", help="What a check gave; repeat.")
@click.option(
    "--correct",
    multiple=True,
    metavar="NUMBER=OUTCOME",
    help="Put an answer right, or a report: seen1=NAME=WORD; nothing after = takes it back; repeat.",
)
@click.option(
    "--mistaken",
    type=click.FloatRange(0, 0.5),
    default=0.05,
    show_default=True,
    help="Share of reports that are mistaken (judgement).",
)
@click.option(
    "--noise", type=click.FloatRange(0, 0.4), default=0.02, show_default=True, help="Share of wrong answers."
)
@click.option("--in-service", is_flag=True, help="Weigh by failures in service, not as after a rebuild.")
@click.option(
    "--way-in", multiple=True, metavar="PLACE=MINUTES", help="How long it takes to get there; repeat."
)
@click.option("--chart", is_flag=True, help="Print the fault charts of the service.")
@click.option("--out", type=FILE, metavar="FILE", help="Write the charts: .html folds open, .svg, .pdf.")
@standard_option
@json_option
def locate(
    folder: Path,
    seen: tuple[str, ...],
    settings: tuple[str, ...],
    services: tuple[str, ...],
    path: Path | None,
    found: tuple[str, ...],
    correct: tuple[str, ...],
    mistaken: float,
    noise: float,
    in_service: bool,
    way_in: tuple[str, ...],
    chart: bool,
    out: Path | None,
    standard: str,
    as_json: bool,
) -> None:
    """Find the fault in FOLDER: from what is seen to the next best check, and from its outcome on.

    \b
    Examples:
      loomlore locate examples/glider-tug --service navigation --seen tail-lamp=out
      loomlore locate examples/glider-tug --service navigation --chart
    """
    hunt = ask("locate", "open_hunt", path) if path is not None and path.exists() else None
    if hunt is not None and (settings or services or way_in or in_service):
        raise click.UsageError(
            "A hunt that goes on keeps its settings; begin a new --hunt FILE to change them."
        )
    answer = ask(
        "locate",
        "locate",
        opened(folder),
        seen=seen,
        setting=read_settings(settings),
        services=services,
        standard=standard,
        hunt=hunt,
        found=found,
        correct={int(n): v for n, v in _numbered(correct).items() if n.isdigit()},
        seen_again={int(n.removeprefix("seen")): v for n, v in _numbered(correct).items() if not n.isdigit()},
        mistaken=mistaken,
        beside=path,
        noise=noise,
        after_rebuild=not in_service,
        way_in={place: _minutes(v) for place, v in read_settings(way_in).items()},
        chart=chart or out is not None,
    )
    if out is not None:
        write(out, ask_written(answer, out))
        return
    if path is not None and not chart:
        ask("locate", "save_hunt", answer.hunt, path)
    show(answer, as_json=as_json)


def write(path: Path, made: bytes) -> None:
    """Write a file; a folder that is not there, or must not be written, is wrong use."""
    try:
        path.write_bytes(made)
    except OSError as slip:
        raise click.UsageError(
            f"{str(path)!r} cannot be written: {slip.strerror}. Name another file."
        ) from None


def sheet_text(path: Path) -> str:
    """The text of a filled-in sheet; what is no text is wrong use."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        said = f"{str(path)!r} is no plain text. Save it from the spreadsheet as CSV (UTF-8)."
    except OSError as slip:
        said = f"{str(path)!r} cannot be read: {slip.strerror}. Name another file."
    raise click.UsageError(said)


def ask_written(answer: Any, out: Path) -> bytes:
    """An answer's charts in the form that the file's name asks for; another form is wrong use."""
    try:
        made: bytes = answer.written(out.suffix.removeprefix("."))
    except LoomloreError as slip:
        raise click.UsageError(str(slip)) from None
    return made


def _numbered(words: tuple[str, ...]) -> dict[str, str]:
    """``NUMBER=OUTCOME`` words; an empty outcome takes the answer back."""
    pairs = [word.partition("=") for word in words]
    if any(not sign or not number.strip().removeprefix("seen").isdigit() for number, sign, _ in pairs):
        raise click.UsageError(
            "Write --correct NUMBER=OUTCOME, like --correct 2=lit, or --correct seen1=tail-lamp=dim."
        )
    return {number.strip(): outcome.strip() for number, _, outcome in pairs}


def _minutes(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise click.UsageError(f"{text!r} is no number of minutes. Write --way-in PLACE=5.") from None


@click.command(short_help="Test cards with the readings to expect.")
@click.argument("folder", type=FOLDER)
@click.argument("kinds", nargs=-1, metavar="[CARD]...")
@click.option("--service", default="", metavar="ID", help="This service's cards only.")
@click.option("--limit", default="5 A", show_default=True, help="Current limit of the bench supply.")
@click.option("--sheet", type=FILE, metavar="FILE", help="Write a CSV to fill in.")
@click.option(
    "--html", "as_html", is_flag=True, help="Print pages for a browser or a printer, a card a sheet."
)
@click.option(
    "--found",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A sheet filled in, CSV or TOML.",
)
@click.option(
    "--enter",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Enter a filled-in sheet in the record, as measurements.",
)
@click.option("--lamp", default="", metavar='"24 V 60 W"', help="First power through a lamp in series.")
@standard_option
@json_option
def cards(
    folder: Path,
    kinds: tuple[str, ...],
    service: str,
    limit: str,
    sheet: Path | None,
    as_html: bool,
    found: Path | None,
    enter: Path | None,
    lamp: str,
    standard: str,
    as_json: bool,
) -> None:
    """Make test cards for FOLDER: first power, continuity, bonding, insulation, drop, function ...

    \b
    Examples:
      loomlore cards examples/glider-tug continuity --service navigation
      loomlore cards examples/glider-tug --html > cards.html
      loomlore cards examples/glider-tug --sheet cards.csv
      loomlore cards MY-DOSSIER --enter cards.csv
    """
    if as_html and as_json:
        raise click.UsageError("Ask for one of --html and --json.")
    if enter is not None:
        sheet_read = ask("cards", "read_found", sheet_text(enter))
        entered = ask("entering", "enter", opened(folder), sheet_read, standard=standard)
        show(entered, as_json=as_json)
        return
    filled = ask("cards", "read_found", sheet_text(found)) if found is not None else None
    answer = ask(
        "cards", "cards", opened(folder), kinds, service=service, standard=standard, limit=limit, found=filled,
        lamp=lamp,
    )  # fmt: skip
    if sheet is not None:
        write(sheet, answer.as_csv().encode("utf-8"))
    if as_html:
        click.echo(answer.as_document(), nl=False)
        raise SystemExit(1 if answer.failed else 0)
    show(answer, as_json=as_json)


@click.command(name="open", short_help="Open the record as a handbook in the browser.")
@click.argument("folder", type=FOLDER)
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS", help="Listen here.")
@click.option("--port", default=0, type=click.IntRange(0, 65535), help="Port; a free one where not given.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def open_(folder: Path, host: str, port: int, no_browser: bool) -> None:
    """Open FOLDER as a handbook in the browser: work its switches, ask where things are, mend its record.

    It listens on this machine only unless told otherwise; others on the network could then reach it,
    unencrypted, with its token.

    \b
    Examples:
      loomlore open examples/mail-amphibian
    """
    from loomlore.bench.serving import open_bench

    try:
        open_bench(folder, host=host, port=port, browser=not no_browser, say=click.echo)
    except OSError as error:
        hint = f"cannot listen on {host}:{port}: {error.strerror}. Choose another --port."
        raise click.UsageError(hint) from None


COMMANDS = (faults, locate, cards, open_)
