"""Test cards as pages to print and fill in: one card a sheet of A4, its warnings numbered and at the head.

A line that touches something dangerous bears the numbers of its warnings, so that nobody has to guess which is meant.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from loomlore.answers.pages import CAUTION
from loomlore.faults.cards.card import Card, Row

__all__ = ["cards_document", "numbered_cautions"]

_STYLE = """
@page{size:A4;margin:14mm 12mm 16mm 14mm}
*{box-sizing:border-box}
body{font:9.5pt/1.35 'Source Sans 3','Source Sans Pro','Liberation Sans',sans-serif;color:#000;margin:0 auto;
max-width:186mm;padding:4mm 0}
section{break-after:page}section:last-of-type{break-after:auto}
header{display:flex;justify-content:space-between;align-items:baseline;border-bottom:1.2pt solid #000;margin-bottom:2mm}
h1{font-size:15pt;margin:0}header p{margin:0;text-align:right;font-size:8.5pt}
h2{font-size:9.5pt;margin:3mm 0 .6mm}
ol,ul{margin:0;padding-left:6mm}li{margin:.3mm 0}
.mind{border:1.2pt solid #000;padding:1mm 2.5mm 1.6mm;margin:2.5mm 0}.mind h2{margin:.4mm 0}
.mind ol{columns:2;column-gap:6mm;padding-left:5mm;font-size:8.5pt;line-height:1.28}.mind li{break-inside:avoid}
table{border-collapse:collapse;width:100%;margin:2.5mm 0;table-layout:fixed}
th,td{border:.5pt solid #000;padding:.9mm 1.4mm;text-align:left;vertical-align:top;overflow-wrap:anywhere}
th{font-weight:600;background:#eee;print-color-adjust:exact;-webkit-print-color-adjust:exact}
tr{break-inside:avoid}thead{display:table-header-group}
tr.on td{border:0;padding:0 0 .6mm;font-size:8pt}
.end{break-inside:avoid}
.fill{width:24mm}.fill.words{width:34mm}td.fill{height:8.5mm}.expect{width:52mm}.fill small,td small{color:#333}
td b{white-space:nowrap}
.by{display:flex;gap:6mm;margin:4mm 0 2mm;break-inside:avoid}
.by span{flex:1;border-bottom:.5pt solid #000;padding-bottom:5mm}
footer{font-size:8pt;break-inside:avoid}footer p{margin:.6mm 0}
.bad{font-weight:700}
"""


class _Found(Protocol):
    """What somebody wrote beside a line."""

    @property
    def as_found(self) -> str:
        """The reading as it was met."""

    @property
    def as_left(self) -> str:
        """The reading as it was left."""


def numbered_cautions(card: Card) -> dict[str, int]:
    """The warnings of a card, numbered in the order in which its lines meet them.

    Parameters
    ----------
    card
        Any.

    Returns
    -------
    dict of str to int
        From 1.
    """
    said = dict.fromkeys(caution for row in card.rows for caution in row.cautions)
    return {caution: number for number, caution in enumerate(said, start=1)}


def cards_document(
    title: str,
    standard: str,
    cards: Iterable[Card],
    *,
    found: Mapping[str, _Found],
    verdicts: Mapping[str, tuple[str, str]],
    defer: str,
) -> str:
    """Cards as one page of HTML that prints a card a sheet.

    Parameters
    ----------
    title
        Of the installation.
    standard
        Of fit, in words.
    cards
        In the order of work.
    found
        What was measured, by line.
    verdicts
        By line, what was found and what was left beside its prediction, in words.
    defer
        What goes before the card.

    Returns
    -------
    str
        The whole document.
    """
    sections = [_section(title, standard, card, found, verdicts, defer) for card in cards]
    return (
        f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><title>{_e(title)}: test cards</title>"
        f"<style>{_STYLE}</style></head><body>{''.join(sections)}</body></html>\n"
    )


def _e(text: str) -> str:
    return html.escape(text)


def _section(
    title: str,
    standard: str,
    card: Card,
    found: Mapping[str, _Found],
    verdicts: Mapping[str, tuple[str, str]],
    defer: str,
) -> str:
    cautions = numbered_cautions(card)
    head = f"<header><h1>{_e(card.title)}</h1><p>{_e(title)}<br>Standard of fit: {_e(standard)}</p></header>"
    body = [head, _listing("First", card.first)]
    if cautions:
        said = "".join(f"<li>{_e(caution)}</li>" for caution in cautions)
        body.append(f"<div class='mind'><h2>Mind</h2><ol>{said}</ol></div>")
    if card.rows:
        body.append(_rows(card, cautions, found, verdicts))
    else:
        body.append("<p>Nothing of the installation comes on this card.</p>")
    body.append(_listing("If it is not so", card.meaning))
    body.append(_wrong(card.rows))
    body.append(_limits(card))
    body.append(
        "<div class='end'><div class='by'>"
        "<span>Meter</span><span>Date</span><span>Name</span><span>Signature</span></div>"
    )
    body.append(f"<footer><p>{_e(defer)}</p><p>{_e(CAUTION)}</p></footer></div>")
    return f"<section>{''.join(body)}</section>"


def _listing(heading: str, lines: Sequence[str]) -> str:
    if not lines:
        return ""
    return f"<h2>{heading}</h2><ul>{''.join(f'<li>{_e(line)}</li>' for line in lines)}</ul>"


def _rows(
    card: Card,
    cautions: Mapping[str, int],
    found: Mapping[str, _Found],
    verdicts: Mapping[str, tuple[str, str]],
) -> str:
    words = " words" if not any(row.dimension for row in card.rows) else ""
    head = (
        f"<colgroup><col><col class='expect'><col class='fill{words}'><col class='fill{words}'></colgroup>"
        f"<thead><tr class='on'><td colspan='4'>{_e(card.title)}</td></tr>"
        "<tr><th>what</th><th>expect</th><th>as found</th><th>as left</th></tr></thead>"
    )
    lines = []
    for row in card.rows:
        marks = ", ".join(map(str, sorted({cautions[said] for said in row.cautions})))
        mind = f" <b>mind {marks}</b>" if marks else ""
        where = f"<br><small>{_e(row.where)}</small>" if row.where else ""
        one, said = found.get(row.id), verdicts.get(row.id, ("", ""))
        cells = "".join(
            f"<td class='fill'>{_e(text)}{_verdict(verdict)}</td>"
            for text, verdict in (
                (one.as_found if one else "", said[0]),
                (one.as_left if one else "", said[1]),
            )
        )
        lines.append(f"<tr><td>{_e(row.what)}{mind}{where}</td><td>{_e(row.expect)}</td>{cells}</tr>")
    return f"<table>{head}<tbody>{''.join(lines)}</tbody></table>"


def _verdict(said: str) -> str:
    if not said:
        return ""
    return f"<br><small{'' if said == 'as expected' else ' class=bad'}>{_e(said)}</small>"


def _wrong(rows: Iterable[Row]) -> str:
    lines = [
        f"<tr><td>{_e(row.what)}</td><td>{_e(' '.join(row.wrong))}</td></tr>" for row in rows if row.wrong
    ]
    if not lines:
        return ""
    return (
        "<table><thead><tr><th class='expect'>if it is not so</th><th>look here</th></tr></thead>"
        f"<tbody>{''.join(lines)}</tbody></table>"
    )


def _limits(card: Card) -> str:
    lines = [
        f"<tr><td>{_e(x.what)}</td><td>{_e(x.words)}</td><td>{_e(x.source)}</td><td>{_e(x.status)}</td></tr>"
        for x in card.limits
    ]
    if not lines:
        return ""
    return (
        "<table><thead><tr><th>limit for</th><th>limit</th><th>source</th><th>how it came here</th></tr></thead>"
        f"<tbody>{''.join(lines)}</tbody></table>"
    )
