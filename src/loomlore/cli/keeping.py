"""Commands that keep, prove and draw the record: new, import, check, operate, functions, sources, draw."""

from __future__ import annotations

from pathlib import Path

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

__all__ = ["COMMANDS"]


@click.command(short_help="Start a dossier to type into.")
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


@click.command(short_help="Find what is wrong with the record, and what to write.")
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


@click.command(short_help="Work the controls; read what lights, sounds, flows.")
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
    record = opened(folder)
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


@click.command(short_help="Tabulate what you do and what you see.")
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
    record = opened(folder)
    with progress("functions") as told:
        answer = ask("functions", "functions", record, services, standard=standard, progress=told)
    if form:
        click.echo(answer.as_csv() if form == "csv" else answer.as_document(), nl=False)
        return
    show(answer, as_json=as_json)


@click.command(short_help="Judge what the sources say: proved, contradicted ...")
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
    record = opened(folder)
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


@click.command(short_help="Draw the coloured plates.")
@click.argument("folder", type=FOLDER)
@click.option("--service", default="", metavar="ID", help="This service's plate only.")
@click.option(
    "--plate",
    "plates",
    multiple=True,
    metavar="WORD",
    help="services, block, places, looms, faces, symbols, boards or all (but boards); repeat. [default: services]",
)
@click.option(
    "--loom", "looms", multiple=True, metavar="ID", help="Of loom plates and boards only this; repeat."
)
@click.option("--out", default="plates", show_default=True, metavar="FOLDER", help="Where the files go.")
@click.option(
    "--format", "formats", multiple=True, metavar="WORD", help="svg, png or pdf; repeat. [default: pdf]"
)
@click.option("--set", "settings", multiple=True, metavar="NAME=VALUE", help="Show this setting; repeat.")
@click.option(
    "--fault", default="", metavar="ID", help="Show the services with this fault, marked where it is."
)
@click.option(
    "--path",
    default="",
    metavar="NAME",
    help="Draw the way of this sneak or hazard, as faults names it, on every plate it crosses.",
)
@click.option(
    "--colours", default="role", show_default=True, metavar="WORD", help="role, service or insulation."
)
@click.option(
    "--verdicts", is_flag=True, help="Print what became of the sources' sentences in the title block."
)
@click.option("--sheet", default="A3", show_default=True, metavar="A3|A4", help="Pages of a board.")
@click.option("--trim", default="", metavar="WxH", help="Page size after cutting in mm, as 210x297.")
@click.option(
    "--bleed", type=click.FloatRange(min=0), default=0.0, metavar="MM", help="Ground beyond the edge."
)
@click.option("--marks", is_flag=True, help="Crop marks.")
@standard_option
@json_option
def draw(
    folder: Path,
    service: str,
    plates: tuple[str, ...],
    looms: tuple[str, ...],
    out: str,
    formats: tuple[str, ...],
    settings: tuple[str, ...],
    fault: str,
    path: str,
    colours: str,
    verdicts: bool,
    sheet: str,
    trim: str,
    bleed: float,
    marks: bool,
    standard: str,
    as_json: bool,
) -> None:
    """Draw the coloured plates of FOLDER, one for each service, and the other plates.

    \b
    Examples:
      loomlore draw examples/glider-tug --service navigation --format svg
      loomlore draw examples/mail-amphibian --plate all --out plates
      loomlore draw examples/glider-tug --service navigation --set master-switch=on --fault N2.open
      loomlore draw examples/mail-amphibian --path lower-hail-lamp.by.H6
      loomlore draw examples/glider-tug --plate boards --loom main-loom --sheet A4
    """
    answer = ask(
        "draw",
        "draw",
        opened(folder),
        service=service,
        plates=plates or ("services",),
        looms=looms,
        folder=out,
        formats=formats or ("pdf",),
        setting=read_settings(settings),
        fault=fault,
        path=path,
        colours=colours,
        verdicts=verdicts,
        sheet=sheet,
        printing=ask("draw", "printing_of", trim, bleed=bleed, marks=marks),
        standard=standard,
    )
    show(answer, as_json=as_json)


@click.command(name="import", short_help="Bring in a cable list from a spreadsheet.")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option(
    "--service", default="imported", show_default=True, help="Service of cables whose list gives none."
)
@click.option("--title", default="", help="What the installation is, where FOLDER is new.")
@click.option("--supply", default="", help="Nominal volts where FOLDER is new, like 12 V.")
@json_option
def import_(file: Path, folder: Path, service: str, title: str, supply: str, as_json: bool) -> None:
    """Bring the cable list in FILE (xlsx, ods, csv) into the dossier FOLDER.

    The list needs columns for a mark and two ends.  A FOLDER that is not there is started.

    \b
    Examples:
      loomlore import survey-cables.csv glider-tug
      loomlore import survey-cables.csv launch --title "Harbour launch" --supply "12 V"
    """
    answer = ask("bring", "import_list", file, folder, service=service, title=title, supply=supply)
    show(answer, as_json=as_json)


COMMANDS = (new, import_, check, operate, functions, sources, draw)
