"""Commands that ask what a fault does, and find the one that has happened: faults."""

from __future__ import annotations

from pathlib import Path

import click

from loomlore.cli.asking import FOLDER, ask, json_option, read_settings, show, standard_option

__all__ = ["COMMANDS"]


@click.command(short_help="Say what every single fault does; sneak paths; hazards.")
@click.argument("folder", type=FOLDER)
@click.option("--service", default="", metavar="ID", help="Faults of this service only.")
@click.option(
    "--part", "parts", multiple=True, metavar="WORD", help="effects, sneaks or hazards; repeat. [default: all]"
)
@click.option("--pairs", is_flag=True, help="Also pairs of faults that fire a cartridge.")
@click.option(
    "--severity", "severities", multiple=True, metavar="SERVICE=CLASS", help="Your own class, I to IV; repeat."
)
@click.option("--all", "everything", is_flag=True, help="Every row, not only the gravest.")
@standard_option
@json_option
def faults(
    folder: Path,
    service: str,
    parts: tuple[str, ...],
    pairs: bool,
    severities: tuple[str, ...],
    everything: bool,
    standard: str,
    as_json: bool,
) -> None:
    """Say what every single fault of FOLDER does, where current can sneak, and what is dangerous.

    \b
    Examples:
      loomlore faults examples/glider-tug --service navigation
      loomlore faults examples/mail-amphibian --standard early --part hazards
    """
    record = ask("opening", "open_dossier", folder)
    answer = ask(
        "faults",
        "faults",
        record,
        service=service,
        parts=parts,
        pairs=pairs,
        severities=read_settings(severities),
        everything=everything,
        standard=standard,
    )
    show(answer, as_json=as_json)


COMMANDS = (faults,)
