"""``sources``: what became of each statement, and where the sources differ."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from loomlore.answers.opening import Opened, Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.answers.properties import property_blocks, property_data
from loomlore.behaviour.everywhere import Overall, prove_everywhere
from loomlore.behaviour.proving import VERDICTS, Verdict, is_function, prove
from loomlore.behaviour.readings import services_of
from loomlore.evidence.disagreements import Weighing, weigh
from loomlore.findings import UnknownName
from loomlore.network.building import Plant
from loomlore.record.model import Statement
from loomlore.sentences import words_of

__all__ = ["Judged", "SourcesAnswer", "sources"]

_MARKS = {
    "proved": ("proved", "good"),
    "proved-if": ("proved if", "doubt"),
    "contradicted": ("contradicted", "bad"),
    "never-reached": ("never reached", "doubt"),
    "not-computable": ("not computable", "doubt"),
    "out-of-scope": ("out of scope", "plain"),
}


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A function statement, its verdict, and whether a decision set it aside.

    ``overall`` has the verdict of each combination of fits, where more than one standard was asked for.
    """

    statement: Statement
    verdict: Verdict
    set_aside: str = ""
    overall: Overall | None = None

    @property
    def citation(self) -> str:
        """Where it stands."""
        return str(self.statement.source or "")


@dataclass(frozen=True, kw_only=True)
class SourcesAnswer:
    """All statements judged, and what the sources say of properties, weighed.

    ``only`` is the one verdict that is shown, ``partial`` that only some statements were asked for.
    """

    title: str
    standard: str
    judged: tuple[Judged, ...]
    weighed: Weighing
    only: str = ""
    partial: bool = False

    @property
    def failed(self) -> bool:
        """Whether a statement is contradicted that no decision has set aside."""
        return any(j.verdict.verdict == "contradicted" and not j.set_aside for j in self.judged)

    def count(self, verdict: str) -> int:
        """How many statements have a verdict."""
        return sum(j.verdict.verdict == verdict for j in self.judged)

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title, 1), Paragraph(f"Standard of fit: {self.standard}.")]
        counts = tuple((_MARKS[v][0], str(self.count(v))) for v in VERDICTS if self.count(v))
        if counts:
            blocks += [
                Heading("What the sources say of function"),
                Table(("verdict", "statements"), counts, (1,)),
            ]
        for entry in self.judged:
            if not self.only or entry.verdict.verdict == self.only:
                blocks.append(_entry(entry))
        if not self.only and not self.partial:
            blocks += property_blocks(self.weighed)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "sources",
            "title": self.title,
            "standard": self.standard,
            "counts": {verdict: self.count(verdict) for verdict in VERDICTS},
            "statements": [
                _judged_data(j) for j in self.judged if not self.only or j.verdict.verdict == self.only
            ],
            "properties": property_data(self.weighed),
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def sources(
    record: Record,
    *,
    service: str = "",
    statement: str = "",
    only: str = "",
    standard: str = "",
    progress: Callable[[int, int], None] | None = None,
    processes: int = 1,
) -> SourcesAnswer:
    """Judge the statements of a dossier.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    service
        Only statements that speak of this service's items.
    statement
        Only this one.
    only
        Show only this verdict.
    standard
        A named standard of fit; where empty, every permitted combination of the fits that matter.
    progress
        Told (done, of how many) after each statement.
    processes
        How many may work at once, where the system can fork; the verdicts are the same.

    Returns
    -------
    SourcesAnswer
        Function statements in the order of the record, then properties.

    Raises
    ------
    UnknownName
        Where nothing is called so.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = opened.dossier
    if only and only not in VERDICTS:
        raise UnknownName("verdict", only, VERDICTS)
    if service and service not in dossier.services:
        raise UnknownName("service", service, dossier.services)
    if statement and statement not in dossier.statements:
        raise UnknownName("statement", statement, dossier.statements)
    chosen = [
        s for s in dossier.statements.values() if is_function(s) and (not statement or s.id == statement)
    ]
    if service:
        chosen = [s for s in chosen if service in services_spoken_of(plant, s)]
    weighed = weigh(dossier, opened.kinds, place_of=opened.reading.place_of)
    aside = _set_aside(weighed)
    verdicts = _several(opened, plant, chosen, standard, processes) if processes > 1 else {}
    judged = []
    for number, said in enumerate(chosen):
        verdict, overall = verdicts.get(said.id) or _proved(opened, plant, said, standard)
        reason = aside.get(said.id, "")
        judged.append(Judged(statement=said, verdict=verdict, set_aside=reason, overall=overall))
        if progress is not None:
            progress(number + 1, len(chosen))
    named = dossier.standards[standard].name if standard else "every permitted combination of fits"
    return SourcesAnswer(
        title=dossier.header.title,
        standard=named,
        judged=tuple(judged),
        weighed=weighed,
        only=only,
        partial=bool(statement or service),
    )


_Proof = tuple[Verdict, Overall | None]


def _proved(opened: Opened, plant: Plant, said: Statement, standard: str) -> _Proof:
    if standard:
        return prove(plant, said), None
    overall = prove_everywhere(opened.dossier, said, opened.plant)
    return overall.verdict, overall


_AT_WORK: tuple[Opened, Plant, str] | None = None
"""What the forked workers inherit; set just before they are made."""


def _several(
    opened: Opened, plant: Plant, chosen: Sequence[Statement], standard: str, processes: int
) -> dict[str, _Proof]:
    """Judge in several processes, statements about the same services together; nothing where none can fork."""
    global _AT_WORK  # noqa: PLW0603  a forked worker inherits it, and nothing has to be sent
    if "fork" not in multiprocessing.get_all_start_methods() or len(chosen) < 2 * processes:
        return {}
    groups: dict[frozenset[str], list[str]] = {}
    for said in chosen:
        groups.setdefault(services_spoken_of(plant, said), []).append(said.id)
    _AT_WORK = (opened, plant, standard)
    tasks = sorted(groups.values(), key=len, reverse=True)
    try:
        with multiprocessing.get_context("fork").Pool(processes) as pool:
            return dict(pair for done in pool.imap_unordered(_work, tasks) for pair in done)
    finally:
        _AT_WORK = None


def _work(statements: list[str]) -> list[tuple[str, _Proof]]:
    assert _AT_WORK is not None
    opened, plant, standard = _AT_WORK
    return [(name, _proved(opened, plant, opened.dossier.statements[name], standard)) for name in statements]


def services_spoken_of(plant: Plant, statement: Statement) -> frozenset[str]:
    """Services of the items that a statement names.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function.

    Returns
    -------
    frozenset of str
        Service ids.
    """
    by_item = services_of(plant.installation)
    sentences = (statement.when, statement.then, *(step.see for step in statement.steps))
    names = {n.partition(".")[0] for s in sentences if s is not None for n in words_of(s)}
    return frozenset(service for name in names for service in by_item.get(name, ()))


def _set_aside(weighed: Weighing) -> dict[str, str]:
    """Statements that a decision weighed and did not adopt, with the decision's reason."""
    return {s: d.decision.because for d in weighed.disputes for s in d.rejected}


def _entry(entry: Judged) -> Entry:
    mark, tone = _MARKS[entry.verdict.verdict]
    verdict, notes = entry.verdict, []
    if verdict.verdict == "proved-if":
        notes.append(f"holds if {verdict.condition}")
    if verdict.verdict in ("contradicted", "proved-if") and verdict.operations:
        orders = ", ".join(verdict.operations)
        otherwise = "otherwise: " if verdict.verdict == "proved-if" else ""
        notes.append(f"{otherwise}{orders}: {'; '.join(verdict.seen)}")
    elif verdict.verdict == "contradicted":
        notes.append(f"with everything at rest: {'; '.join(verdict.seen)}")
    if verdict.because:
        notes.append(verdict.because)
    if verdict.given:
        notes.append(f"read with: {verdict.given}")
    notes += _by_fits(entry)
    if entry.set_aside:
        notes.append(f"set aside by decision: {entry.set_aside}")
        tone = "plain" if tone == "bad" else tone
    notes.append(f"{entry.citation} [{entry.statement.id}]")
    return Entry(mark, f"“{entry.statement.words}”", tuple(notes), tone)


def _by_fits(entry: Judged) -> list[str]:
    """Where the fits change the verdict: which verdict with which."""
    if entry.overall is None or not entry.overall.differs:
        return []
    said = []
    for fits, verdict in entry.overall.by_fits:
        if verdict.verdict != "out-of-scope":
            without = [f for f in entry.overall.matter if f not in fits]
            words = f"with {', '.join(fits)}" if fits else f"without {', '.join(without)}"
            said.append(f"{words}: {_MARKS[verdict.verdict][0]}")
    return said


def _judged_data(entry: Judged) -> dict[str, Any]:
    verdict = entry.verdict
    return {
        "id": entry.statement.id,
        "source": entry.citation,
        "words": entry.statement.words,
        "verdict": verdict.verdict,
        "given": verdict.given,
        "condition": verdict.condition,
        "condition_sentence": verdict.condition_sentence,
        "because": verdict.because,
        "operations": list(verdict.operations),
        "seen": list(verdict.seen),
        "states": verdict.states,
        "reached": verdict.reached,
        "set_aside": entry.set_aside,
        "by_fits": [
            {"fits": list(fits), "verdict": found.verdict}
            for fits, found in (entry.overall.by_fits if entry.overall is not None else ())
        ],
    }
