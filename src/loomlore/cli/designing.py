"""Commands that judge the design: cables, loads."""

from __future__ import annotations

from pathlib import Path

import click

from loomlore.cli.asking import (
    FOLDER,
    amount,
    ask,
    ask_of,
    json_option,
    opened,
    read_carrying,
    show,
    standard_option,
)

__all__ = ["COMMANDS"]


@click.command(short_help="Judge drop, warmth and protection of every cable.")
@click.argument("folder", type=FOLDER)
@click.argument("cable", default="")
@click.option("--service", default="", metavar="ID", help="This service's loads and cables only.")
@click.option(
    "--limit", default="", metavar="SHARE", help='A drop limit of your own or the period\'s, like "3 %".'
)
@click.option(
    "--ambient",
    default="30 °C",
    show_default=True,
    metavar="TEMPERATURE",
    help="Of the air.",
)
@click.option("--altitude", default="", metavar="HEIGHT", help='Above the sea, like "10000 ft".')
@click.option(
    "--carrying",
    multiple=True,
    metavar="SIZE=A",
    help='The period\'s amperes, "14/.0076 in=5 A"; repeat.',
)
@click.option(
    "--choose",
    multiple=True,
    type=click.Choice(["awg", "metric"]),
    help="Choose the lightest modern set; repeat.",
)
@click.option("--sizes", type=click.IntRange(min=1), help="How many different sizes may be bought for it.")
@click.option("--all", "everything", is_flag=True, help="Cable by cable, with what passes easily too.")
@standard_option
@json_option
def cables(
    folder: Path,
    cable: str,
    service: str,
    limit: str,
    ambient: str,
    altitude: str,
    carrying: tuple[str, ...],
    choose: tuple[str, ...],
    sizes: int | None,
    everything: bool,
    standard: str,
    as_json: bool,
) -> None:
    """Judge drop, warmth and protection of every cable of FOLDER; argue one CABLE from source to verdict.

    Every load is judged in its worst setting, which is found by trying. A re-wire is chosen beside the period
    set, never instead of it.

    \b
    Examples:
      loomlore cables examples/glider-tug
      loomlore cables examples/mail-amphibian R2 --limit "3 %"
      loomlore cables examples/mail-amphibian --choose awg --choose metric --sizes 6
    """
    practice = ask(
        "cables",
        "practice_of",
        ambient=amount(ambient, "temperature"),
        altitude=amount(altitude, "length") or 0.0,
        share=amount(limit, "fraction"),
        carrying=read_carrying(carrying),
    )
    answer = ask(
        "cables",
        "cables",
        opened(folder),
        cable,
        standard=standard,
        service=service,
        practice=practice,
        choose=choose,
        most_sizes=sizes,
        everything=everything,
    )
    show(answer, as_json=as_json)


@click.command(short_help="Add up loads, endurance and starting.")
@click.argument("folder", type=FOLDER)
@click.option("--phase", default="", metavar="ID", help="This phase only.")
@click.option("--shed", multiple=True, metavar="SERVICE", help="Turned off when the generators fail; repeat.")
@click.option(
    "--rate",
    default="10 h",
    show_default=True,
    metavar="TIME",
    help="That the capacity is stamped for.",
)
@click.option("--share", default="", metavar="SHARE", help='Of the capacity counted on; "72 %" if not given.')
@click.option(
    "--exponent", type=click.FloatRange(1.0, 2.0), default=1.2, show_default=True, help="Peukert's."
)
@click.option("--battery-at", default="", metavar="TEMPERATURE", help='Of the electrolyte, like "-4 °C".')
@click.option(
    "--age", default="100 %", show_default=True, metavar="SHARE", help="What age leaves of the capacity."
)
@standard_option
@json_option
def loads(
    folder: Path,
    phase: str,
    shed: tuple[str, ...],
    rate: str,
    share: str,
    exponent: float,
    battery_at: str,
    age: str,
    standard: str,
    as_json: bool,
) -> None:
    """Add up what each phase of FOLDER asks: generators, battery, nights at the mooring, starting.

    For every standard of fit unless one is named.

    \b
    Examples:
      loomlore loads examples/glider-tug
      loomlore loads examples/mail-amphibian --standard mail --shed voice-radio --shed pressure-head
      loomlore loads examples/mail-amphibian --battery-at "-4 °C" --age "80 %"
    """
    terms = ask_of(
        "loomlore.sizing.lasting",
        "BatteryTerms",
        rate_hours=(amount(rate, "time") or 36000.0) / 3600.0,
        share=amount(share, "fraction"),
        exponent=exponent,
        temperature=amount(battery_at, "temperature"),
        age=amount(age, "fraction") or 1.0,
    )
    answer = ask(
        "loads",
        "loads",
        opened(folder),
        standard=standard,
        phase=phase,
        shed=shed,
        terms=terms,
    )
    show(answer, as_json=as_json)


COMMANDS = (cables, loads)
