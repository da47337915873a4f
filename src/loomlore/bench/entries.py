"""What stands on several pages: a source's sentence with its margin, a finding as a pencil mark, an address."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.bench.markup import Child, Markup, tag
from loomlore.findings import Finding, Severity
from loomlore.record.keys import TABLES
from loomlore.record.model import Statement

__all__ = ["counted", "finding_entry", "page_address", "record_address", "statement_entry", "wide"]

_TONES = {Severity.ERROR: "bad", Severity.WARNING: "doubt", Severity.NOTE: "plain"}


def page_address(path: str, standard: str) -> str:
    """The address of a page in a standard of fit.

    Parameters
    ----------
    path
        Of the page.
    standard
        Its id; nothing is added where it is empty.

    Returns
    -------
    str
        Path and query.
    """
    return f"{path}?standard={quote(standard)}" if standard else path


def record_address(opened: Opened, about: str) -> str:
    """The address of the line of the record that something is said about.

    Parameters
    ----------
    opened
        The dossier.
    about
        A thing of the record and one of its keys, such as ``tail-lamp.rating``.

    Returns
    -------
    str
        Path and place; the items where no thing is called so.
    """
    name = about.rpartition(".")[0] or about
    for subject in opened.reading.paths:
        word, _, identity = subject.partition(" ")
        if identity == name and word in TABLES:
            return f"/record/{word}#{quote(name)}"
    return "/record/item"


def statement_entry(statement: Statement, *, plate: str = "") -> Markup:
    """A source's sentence with room for its verdict in the margin.

    Parameters
    ----------
    statement
        What the source says.
    plate
        The service on whose plate its moves are played, where this page has no plate.

    Returns
    -------
    Markup
        The entry.
    """
    source = str(statement.source or "")
    illegible = " (partly illegible)" if not statement.legible else ""
    return tag(
        "div",
        tag(
            "p",
            tag("span", "", class_="mark"),
            f"“{statement.words}” ",
            tag("cite", source + illegible),
            class_="said",
        ),
        tag("div", class_="notes"),
        class_="statement",
        id=f"statement-{statement.id}",
        data_statement=statement.id,
        data_plate=plate or None,
    )


def counted(findings: Sequence[Finding]) -> str:
    """How many findings of each weight there are: ``1 error, 3 warnings``.

    Parameters
    ----------
    findings
        Any.

    Returns
    -------
    str
        Nothing where there are none.
    """
    numbers = [
        (word, sum(f.severity is severity for f in findings))
        for severity, word in (
            (Severity.ERROR, "error"),
            (Severity.WARNING, "warning"),
            (Severity.NOTE, "note"),
        )
    ]
    return ", ".join(f"{n} {word}{'s' if n != 1 else ''}" for word, n in numbers if n)


def finding_entry(finding: Finding) -> Markup:
    """A finding as a pencil mark: what is wrong, what to do, where.

    Parameters
    ----------
    finding
        Any.

    Returns
    -------
    Markup
        The entry.
    """
    word, _, name = finding.subject.partition(" ")
    where: Child = str(finding.place)
    if word in TABLES and name:
        where = tag("a", str(finding.place), href=f"/record/{word}#{quote(name)}")
    return tag(
        "div",
        tag(
            "p",
            tag("span", finding.severity.word, class_="mark tone-" + _TONES[finding.severity]),
            finding.message,
        ),
        tag("p", finding.hint, class_="pencil"),
        tag("p", where, class_="place"),
        class_="finding",
    )


def wide(table: Markup, label: str) -> Markup:
    """A table in a frame of its own, so that on a narrow page it and not the page is moved sideways.

    Parameters
    ----------
    table
        The table.
    label
        What it is, for those who hear the page.

    Returns
    -------
    Markup
        The frame.
    """
    return tag("div", table, class_="wide", role="region", tabindex=0, aria_label=label)
