"""``sources``: what became of each statement, and where the sources differ."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from loomlore.answers.disputes import VERDICT_WORDS, dispute_blocks
from loomlore.answers.opening import Opened, Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.answers.properties import property_blocks, property_data
from loomlore.behaviour.everywhere import Overall, prove_everywhere
from loomlore.behaviour.proving import VERDICTS, Verdict, is_function, prove
from loomlore.behaviour.stating import services_spoken_of
from loomlore.evidence.disagreements import Weighing, weigh
from loomlore.findings import Severity, UnknownName
from loomlore.network.building import Plant
from loomlore.record.model import Statement
from loomlore.rivals.contrasting import Contrast, contrasts, differing_matters

__all__ = ["Judged", "SourcesAnswer", "Unread", "sources"]

_TONES = {"proved": "good", "contradicted": "bad", "out-of-scope": "plain"}


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
class Unread:
    """A statement with a sentence that could not be read, so that nobody can judge it; where it stands."""

    id: str
    source: str
    words: str
    file: str
    line: int


@dataclass(frozen=True, kw_only=True)
class SourcesAnswer:
    """All statements judged, and what the sources say of properties, weighed.

    ``contrasts`` is what changes with each reading where sources differ; ``unread`` are statements none of
    whose sentences could be read; ``left`` is how much was left when somebody stopped it. ``only`` is the one
    verdict that is shown, ``partial`` that only some statements were asked for.
    """

    title: str
    standard: str
    judged: tuple[Judged, ...]
    weighed: Weighing
    contrasts: tuple[Contrast, ...] = ()
    unread: tuple[Unread, ...] = ()
    left: int = 0
    only: str = ""
    partial: bool = False

    @property
    def failed(self) -> bool:
        """Whether a statement is contradicted that no decision has set aside."""
        return any(j.verdict.verdict == "contradicted" and not j.set_aside for j in self.judged)

    def count(self, verdict: str) -> int:
        """How many statements have a verdict."""
        return sum(j.verdict.verdict == verdict for j in self.judged)

    @property
    def _verdicts(self) -> dict[str, Verdict]:
        return {entry.statement.id: entry.verdict for entry in self.judged}

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(self.title, 1), Paragraph(f"Standard of fit: {self.standard}.")]
        if self.left:
            said = f"Stopped: {self.left} of the sentences and disagreements were not reached. What follows stands."
            blocks.append(Entry("stopped", said, tone="doubt"))
        counts = tuple((VERDICT_WORDS[v], str(self.count(v))) for v in VERDICTS if self.count(v))
        if counts:
            blocks += [
                Heading("What the sources say of function"),
                Table(("verdict", "statements"), counts, (1,)),
            ]
        for entry in self.judged:
            if not self.only or entry.verdict.verdict == self.only:
                blocks.append(_entry(entry))
        if not self.only:
            blocks += [_unread_entry(unread) for unread in self.unread]
        if not self.only and not self.partial:
            statements = {entry.statement.id: entry.statement for entry in self.judged}
            blocks += dispute_blocks(self.weighed, statements, self._verdicts)
            blocks += property_blocks(self.weighed, self.contrasts)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "sources",
            "title": self.title,
            "standard": self.standard,
            "counts": {verdict: self.count(verdict) for verdict in VERDICTS},
            "left": self.left,
            "statements": [
                _judged_data(j) for j in self.judged if not self.only or j.verdict.verdict == self.only
            ],
            "not_read": [
                {"id": u.id, "source": u.source, "words": u.words, "file": u.file, "line": u.line}
                for u in self.unread
            ],
            "properties": property_data(self.weighed, self.contrasts, self._verdicts),
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
    readings: bool = True,
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
    readings
        Whether the record is worked with each reading where sources differ, to tell what changes.

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
    asked = [s for s in dossier.statements.values() if not statement or s.id == statement]
    broken = _unreadable(opened)
    unread = tuple(_unread(s) for s in asked if s.id in broken)
    chosen = [s for s in asked if is_function(s) and s.id not in broken]
    if service:
        chosen = [s for s in chosen if service in services_spoken_of(plant, s)]
    weighed = weigh(dossier, opened.kinds, place_of=opened.reading.place_of)
    aside = _set_aside(weighed)
    verdicts = _several(opened, plant, chosen, standard, processes) if processes > 1 else {}
    wanted = readings and not (only or statement or service)
    of = len(chosen) + (len(differing_matters(weighed)) if wanted else 0)
    told = progress or _untold
    judged: list[Judged] = []
    found: list[Contrast] = []
    stopped = False
    try:
        for said in chosen:
            verdict, overall = verdicts.get(said.id) or _proved(opened, plant, said, standard)
            reason = aside.get(said.id, "")
            judged.append(Judged(statement=said, verdict=verdict, set_aside=reason, overall=overall))
            told(len(judged), of)
        for contrast in _contrasts(opened, standard, weighed, judged, broken) if wanted else ():
            found.append(contrast)
            told(len(judged) + len(found), of)
    except KeyboardInterrupt:
        stopped = True
    named = dossier.standards[standard].name if standard else "every permitted combination of fits"
    return SourcesAnswer(
        title=dossier.header.title,
        standard=named,
        judged=tuple(judged),
        weighed=weighed,
        contrasts=tuple(found),
        left=of - len(judged) - len(found) if stopped else 0,
        unread=unread,
        only=only,
        partial=bool(statement or service),
    )


def _untold(done: int, of: int) -> None:
    """Nobody watches."""


def _contrasts(
    opened: Opened, standard: str, weighed: Weighing, judged: Sequence[Judged], broken: frozenset[str]
) -> Iterator[Contrast]:
    """What changes with each reading; a verdict that is known already is not sought again."""
    proofs = {(j.statement.id, frozenset(fits)): v for j in judged for fits, v in _each(j)}

    def proof_of(installed: Plant, said: Statement) -> Verdict:
        known = proofs.get((said.id, installed.installation.fits))
        return prove(installed, said) if known is None else known

    return contrasts(
        opened.dossier,
        opened.kinds,
        weighed,
        opened.plant,
        opened.fits(standard),
        proof_of=proof_of,
        leaving=broken,
    )


def _unreadable(opened: Opened) -> frozenset[str]:
    """Statements that a slip in the text has cost a sentence: without it they would say something else."""
    wrong = {f.subject for f in opened.reading.findings if f.severity is Severity.ERROR}
    return frozenset(name for name in opened.dossier.statements if f"statement {name}" in wrong)


def _unread(statement: Statement) -> Unread:
    return Unread(
        id=statement.id,
        source=str(statement.source or ""),
        words=statement.words,
        file=statement.where.file,
        line=statement.where.line,
    )


def _unread_entry(unread: Unread) -> Entry:
    where = f"{unread.file}:{unread.line}" if unread.file else ""
    notes = (f"not read: see check{f' ({where})' if where else ''}", f"{unread.source} [{unread.id}]".strip())
    return Entry("not read", f"“{unread.words}”", notes, "bad")


def _each(entry: Judged) -> list[tuple[tuple[str, ...], Verdict]]:
    """Each verdict of a statement with all fits that it was judged in."""
    every = (entry.verdict, *(v for _, v in (entry.overall.by_fits if entry.overall is not None else ())))
    return [(verdict.fits, verdict) for verdict in every if verdict.fits]


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


def _set_aside(weighed: Weighing) -> dict[str, str]:
    """Statements that a decision weighed and did not adopt, with the decision's reason."""
    return {s: d.decision.because for d in weighed.disputes for s in d.rejected}


def _entry(entry: Judged) -> Entry:
    mark, tone = VERDICT_WORDS[entry.verdict.verdict], _TONES.get(entry.verdict.verdict, "doubt")
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
            said.append(f"{words}: {VERDICT_WORDS[verdict.verdict]}")
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
