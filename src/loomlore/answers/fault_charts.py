"""The fault chart of a service: nested steps as plain data, a page that folds open, a sheet that folds out.

A chart begins with what is seen. Each step is one check: what to set and do first, where, with which leads, how
long it takes, and its outcomes; each outcome leads to the next step or names the faults that are left, with what
proves them in the best order.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from loomlore.answers.pages import CAUTION
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import lowered
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.scene import Item, Line, Rectangle, Scene, Text
from loomlore.drawing.typefaces import wrapped
from loomlore.faults.locating.hunting import Pattern
from loomlore.faults.locating.searching import Search, position_words, proofs_of, warnings_of
from loomlore.faults.locating.sequencing import Chart, End, Node
from loomlore.faults.terminals import services_at

__all__ = ["Folding", "Named", "Step", "Way", "chart_data", "chart_page", "chart_sheet", "folding_of"]


@dataclass(frozen=True, kw_only=True)
class Named:
    """What is left at an end: where to look, and which faults that proves."""

    look: str
    place: str
    minutes: float
    faults: tuple[str, ...]
    words: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Way:
    """One outcome of a step with its chance, and what comes of it: another step, or faults."""

    outcome: str
    chance: float
    step: Step | None = None
    named: tuple[Named, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Step:
    """One check of a chart. ``number`` counts the steps as they are read, from 1."""

    number: int
    check: str
    do: str
    place: str
    minutes: float
    settings: tuple[tuple[str, str], ...]
    terminals: tuple[str, ...]
    first: tuple[str, ...]
    cautions: tuple[str, ...]
    ways: tuple[Way, ...]


@dataclass(frozen=True, kw_only=True)
class Folding:
    """A chart: what is seen, its share of all faults, and where to begin; ``gap`` is how far from proved best."""

    seen: tuple[str, ...]
    share: float
    step: Step | None
    named: tuple[Named, ...]
    mean_minutes: float
    exact: bool
    gap: float

    @property
    def proof(self) -> str:
        """How good the order of checks is."""
        if self.step is None:
            return "No check tells these apart: look at each, in this order."
        mean = f"On average {self.mean_minutes:.1f} minutes of checks"
        if self.exact:
            return f"{mean}; no order of these checks does it in less."
        return f"{mean}; at most {self.gap:.0%} over the best order there may be."


def folding_of(search: Search, pattern: Pattern) -> Folding:
    """Make the nested chart of a pattern.

    Parameters
    ----------
    search
        The table.
    pattern
        With its chart.

    Returns
    -------
    Folding
        Without a step where no check tells the suspects apart.
    """
    chart = pattern.chart or Chart(End(pattern.faults), 0.0, 0.0, exact=True)
    total = float(search.weights.sum())
    seen = _seen(search, pattern)
    counter = iter(range(1, 1_000_000))
    node = chart.tree
    step = None if isinstance(node, End) else _step(search, node, counter)
    named = _named(search, node.faults) if isinstance(node, End) else ()
    return Folding(
        seen=seen, share=pattern.probability / total if total > 0 else 0.0, step=step, named=named,
        mean_minutes=chart.cost, exact=chart.exact, gap=chart.gap,
    )  # fmt: skip


def _seen(search: Search, pattern: Pattern) -> tuple[str, ...]:
    """What is seen, one sentence for each standing of the controls."""
    by_title: dict[str, list[str]] = {}
    for check, outcome in pattern.symptoms:
        title, _, said = symptom_words(search, check, outcome).partition(": ")
        by_title.setdefault(title, []).append(said)
    return tuple(f"{title}: {', '.join(said)}" for title, said in by_title.items())


def symptom_words(search: Search, number: int, outcome: int) -> str:
    """What is seen, in words.

    Parameters
    ----------
    search
        The table.
    number
        Of the look.
    outcome
        Of the look.

    Returns
    -------
    str
        With the standing of the controls in front.
    """
    check = search.checks[number]
    name = check.id.split(":", 2)[2]
    situation = next(s for s in search.situations if s.id == check.situation)
    item = name.rpartition(".")[0] or name
    stands, _, orders = situation.words(search.plant, services_at(search.plant, (item,), ())).partition(": ")
    told = stands if not orders else orders if stands == "ready" else f"{stands}, then {orders}"
    said = check.outcomes[outcome].removeprefix("it ")
    return f"{told}: {lowered(name_of(search.plant, name))} {said}"


def _step(search: Search, node: Node, counter: Any) -> Step:
    assert not isinstance(node, End)
    check = search.checks[node.trial]
    number = next(counter)
    item = search.plant.installation.equipment.get(check.item)
    hazard = (item.hazard,) if item is not None and item.hazard else ()
    members = [f for _, way in node.ways for f in _faults_of(way)]
    whole = float(search.weights[members].sum()) or 1.0
    ways = []
    for outcome, way in node.ways:
        chance = float(search.weights[_faults_of(way)].sum()) / whole
        further = None if isinstance(way, End) else _step(search, way, counter)
        named = _named(search, way.faults) if isinstance(way, End) else ()
        ways.append(Way(outcome=check.outcomes[outcome], chance=chance, step=further, named=named))
    return Step(
        number=number, check=check.id, do=check.words, place=check.place, minutes=check.minutes,
        settings=position_words(search.plant, check.moves), terminals=check.terminals, first=check.first,
        cautions=(*hazard, *check.cautions), ways=tuple(ways),
    )  # fmt: skip


def _faults_of(node: Node) -> list[int]:
    if isinstance(node, End):
        return list(node.faults)
    return [f for _, way in node.ways for f in _faults_of(way)]


def _named(search: Search, faults: Sequence[int]) -> tuple[Named, ...]:
    weights = [float(w) for w in search.weights]
    return tuple(
        Named(
            look=proof.look, place=proof.place, minutes=proof.minutes,
            faults=tuple(f.id for f in proof.faults), words=tuple(f.words for f in proof.faults),
            cautions=warnings_of(search.plant, proof.faults),
        )
        for proof in proofs_of(search, weights, faults)
    )  # fmt: skip


# -- data ----------------------------------------------------------------------------------------------------------


def chart_data(folding: Folding) -> dict[str, Any]:
    """The nested steps of a chart as plain data.

    Parameters
    ----------
    folding
        The chart.

    Returns
    -------
    dict
        ``step`` and ``named`` as in every way of a step; one of them is empty.
    """
    return {"seen": list(folding.seen), "share": folding.share, "proof": folding.proof} | _onwards(
        folding.step, folding.named
    )


def _onwards(step: Step | None, named: Iterable[Named]) -> dict[str, Any]:
    return {"step": None if step is None else _step_data(step), "named": [_named_data(n) for n in named]}


def _step_data(step: Step) -> dict[str, Any]:
    return {
        "number": step.number,
        "check": step.check,
        "do": step.do,
        "place": step.place,
        "minutes": step.minutes,
        "settings": [{"name": name, "position": word} for name, word in step.settings],
        "terminals": list(step.terminals),
        "first": list(step.first),
        "cautions": list(step.cautions),
        "ways": [
            {"outcome": way.outcome, "chance": way.chance} | _onwards(way.step, way.named)
            for way in step.ways
        ],
    }


def _named_data(named: Named) -> dict[str, Any]:
    return {
        "look": named.look,
        "place": named.place,
        "minutes": named.minutes,
        "faults": list(named.faults),
        "words": list(named.words),
        "cautions": list(named.cautions),
    }


# -- a page that folds open ------------------------------------------------------------------------------------------

_STYLE = """
body{font:16px/1.45 Georgia,serif;color:#24211c;background:#f7f1e1;margin:2rem auto;max-width:62rem;padding:0 1rem}
h1{font-size:1.5rem;letter-spacing:.05em;border-bottom:2px solid #24211c}h2{font-size:1.05rem;margin:2rem 0 .4rem}
.step{border:1px solid #24211c;background:#efe7d0;padding:.5rem .8rem;margin:.3rem 0}
.step b{font-family:sans-serif}.quiet{color:#655e50;font-size:.88rem}.mind{color:#b3261e;font-weight:bold}
details{margin:.2rem 0 .2rem 1.2rem;border-left:2px solid #9b917b;padding-left:.8rem}
summary{cursor:pointer;font-family:sans-serif;font-weight:600}ol{margin:.3rem 0 .6rem}li{margin:.2rem 0}
@media print{body{background:none;margin:0;max-width:none;font-size:11px}details::details-content
{content-visibility:visible;block-size:auto}.step{break-inside:avoid}section{break-before:page}section:first-of-type
{break-before:auto}}
"""


def chart_page(title: str, foldings: Iterable[Folding]) -> str:
    """One page of its own with every chart; a press on an outcome folds it open, printed it is open throughout.

    Parameters
    ----------
    title
        Of the service.
    foldings
        Its charts.

    Returns
    -------
    str
        HTML without any reference to another file.
    """
    parts = [f"<h1>Fault chart: {_said(title)}</h1><p class=quiet>{_said(CAUTION)}</p>"]
    for folding in foldings:
        seen = "; ".join(folding.seen) or "nothing: found only by looking, or when a second fault comes"
        parts.append(f"<section><h2>Seen: {_said(seen)}</h2>")
        parts.append(f"<p class=quiet>{folding.share:.0%} of the faults. {_said(folding.proof)}</p>")
        parts.append(_onwards_html(folding.step, folding.named) + "</section>")
    head = f"<meta charset=utf-8><title>Fault chart: {_said(title)}</title><style>{_STYLE}</style>"
    return f"<!doctype html><html lang=en-GB><head>{head}</head><body>{''.join(parts)}</body></html>\n"


def _said(text: str) -> str:
    return html.escape(text, quote=True)


def _onwards_html(step: Step | None, named: Sequence[Named]) -> str:
    if step is None:
        return f"<ol>{''.join(map(_named_html, named))}</ol>"
    notes = [f"{step.minutes:.1f} minutes with the way in"]
    notes = [step.place, *notes] if step.place else notes
    minds = "".join(f"<div class=mind>{_said(said)}</div>" for said in step.cautions)
    ways = "".join(
        f"<details><summary>{_said(way.outcome)} <span class=quiet>({way.chance:.0%})</span></summary>"
        f"{_onwards_html(way.step, way.named)}</details>"
        for way in step.ways
    )
    return (
        f"<div class=step><b>{step.number}</b> {_said(step.do)} <span class=quiet>{_said('; '.join(notes))}</span>"
        f"{minds}</div>{ways}"
    )


def _named_html(named: Named) -> str:
    minds = "".join(f"<div class=mind>{_said(said)}</div>" for said in named.cautions)
    words = "; or ".join(named.words)
    suspect = f"Suspect: {_said(words)}. {named.minutes:.0f} min."
    return f"<li>{_said(named.look)} <span class=quiet>{suspect}</span>{minds}</li>"


# -- a sheet that folds out --------------------------------------------------------------------------------------------

MARGIN, BOX, GAP, BETWEEN, PAD = 14.0, 60.0, 32.0, 3.0, 2.0
"""Millimetres: edge of the sheet, a box, the room for an outcome, between two boxes, inside a box."""

MOST_NAMED = 6
"""Looks printed at one end; the rest are counted."""


def chart_sheet(title: str, folding: Folding) -> Scene:
    """One chart as a sheet to print: steps from left to right, as wide as it must be, to be folded out.

    Parameters
    ----------
    title
        Of the service.
    folding
        The chart.

    Returns
    -------
    Scene
        In millimetres; at least as large as an A4 sheet lying.
    """
    drawn: list[Item] = []
    seen = "Seen: " + ("; ".join(folding.seen) or "nothing")
    columns = _depth(folding.step) if folding.step is not None else 0
    width = max(297.0, 2 * MARGIN + columns * (BOX + GAP) + BOX + 20.0)
    top = MARGIN + 8.0
    head: list[Item] = [Text((MARGIN, top), f"FAULT CHART: {title.upper()}", "t-plate")]
    top += 4.0
    for line in _wrapped(seen, "t-note", width - 2 * MARGIN):
        top += 4.2
        head.append(Text((MARGIN, top), line, "t-note"))
    top += 4.2
    head.append(Text((MARGIN, top), f"{folding.share:.0%} of the faults. {folding.proof}", "t-note-italic"))
    top += 3.0
    head.append(Line(((MARGIN, top), (width - MARGIN, top)), "fine-rule"))
    bottom = _drawn(drawn, folding.step, folding.named, MARGIN, top + 5.0)
    height = max(210.0, bottom + 12.0)
    foot: list[Item] = [Text((MARGIN, height - 6.0), CAUTION, "t-fine")]
    ground = Rectangle((0.0, 0.0), width, height, "ground")
    return Scene(
        width=width, height=height, items=(ground, *head, *drawn, *foot), title=f"Fault chart: {title}",
        description=seen,
    )  # fmt: skip


def _depth(step: Step) -> int:
    return 1 + max((_depth(way.step) for way in step.ways if way.step is not None), default=0)


def _wrapped(words: str, look: str, width: float) -> tuple[str, ...]:
    lettering = LETTERINGS[look]
    return wrapped(words, face=lettering.face, size=lettering.size, width=width)


def _drawn(drawn: list[Item], step: Step | None, named: Sequence[Named], x: float, y: float) -> float:
    """Draw what comes next from a corner on; how far down it reaches."""
    if step is None:
        return _box(drawn, _named_lines(named), x, y, BOX + 20.0, "ring")
    lines = [
        (f"{step.number}", "t-symbol"),
        *((line, "t-note") for line in _wrapped(step.do, "t-note", BOX - 2 * PAD)),
    ]
    notes = f"{step.place}; {step.minutes:.1f} min" if step.place else f"{step.minutes:.1f} min"
    lines += [(line, "t-fine") for line in _wrapped(notes, "t-fine", BOX - 2 * PAD)]
    lines += [
        (line, "t-fault") for said in step.cautions for line in _wrapped(said, "t-fault", BOX - 2 * PAD)
    ]
    bottom = _box(drawn, lines, x, y, BOX, "tag")
    spine, level, end = x + BOX + 3.0, y + 5.0, y
    levels = []
    for way in step.ways:
        words = _wrapped(f"{way.outcome} ({way.chance:.0%})", "t-verdict", GAP - 6.0)
        level = end + 5.0 if end > y else y + 5.0
        level = max(level, end + 3.4 * (len(words) - 1) + 2.0)
        levels.append(level)
        drawn.append(Line(((spine, level), (x + BOX + GAP, level)), "ink"))
        for n, line in enumerate(reversed(words)):
            drawn.append(Text((spine + 1.5, level - 1.2 - 3.4 * n), line, "t-verdict"))
        end = _drawn(drawn, way.step, way.named, x + BOX + GAP, level - 5.0) + BETWEEN
    drawn.append(Line(((x + BOX, levels[0]), (spine, levels[0]), (spine, levels[-1])), "ink"))
    return max(bottom, end - BETWEEN)


def _named_lines(named: Sequence[Named]) -> list[tuple[str, str]]:
    room = BOX + 20.0 - 2 * PAD
    lines: list[tuple[str, str]] = []
    for one in named[:MOST_NAMED]:
        lines += [(line, "t-note") for line in _wrapped(one.look, "t-note", room)]
        lines += [
            (line, "t-fine") for line in _wrapped("Suspect: " + "; or ".join(one.words) + ".", "t-fine", room)
        ]
        lines += [(line, "t-fault") for said in one.cautions for line in _wrapped(said, "t-fault", room)]
    if len(named) > MOST_NAMED:
        lines.append((f"and {len(named) - MOST_NAMED} more places: see the list.", "t-note-italic"))
    return lines


def _box(
    drawn: list[Item], lines: Sequence[tuple[str, str]], x: float, y: float, width: float, look: str
) -> float:
    level = y + PAD
    words: list[Item] = []
    for line, lettering in lines:
        level += 1.32 * LETTERINGS[lettering].size
        words.append(Text((x + PAD, level - 0.3), line, lettering))
    drawn.append(Rectangle((x, y), width, level + PAD - y, look))
    drawn += words
    return level + PAD
