"""``locate``: from what is seen to what is wrong, and the next check; the fault chart of a service.

A hunt is kept in a text file and gone on with: answers are added, put right or taken back. The printed chart
begins with what is seen, and says at every step what to do, where, and what each outcome means.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite
from pathlib import Path
from typing import Any

from loomlore.answers.beginning import begin, services_of_hunt, situations_of_hunt
from loomlore.answers.fault_charts import chart_data, chart_page, chart_sheet, folding_of
from loomlore.answers.hunts import (
    Worked,
    keep_worked,
    open_hunt,
    save_hunt,
    worked_before,
    worked_key,
)
from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.locating.hunting import (
    MISTAKEN,
    Answer,
    Hunt,
    Pattern,
    answered,
    contradictions,
    corrected,
    explains_all,
    next_check,
    outcome_number,
    patterns_of,
    probabilities,
    ranked,
    standing,
)
from loomlore.faults.locating.hunting import seen_again as again
from loomlore.faults.locating.searching import (
    WELL,
    Proof,
    Search,
    Terms,
    position_words,
    proofs_of,
    search_of,
    suspects_of,
    warnings_of,
)
from loomlore.faults.locating.sequencing import Chart, End, Node
from loomlore.findings import UnknownName, UnreadableValue
from loomlore.network.building import Plant
from loomlore.quantities import read_quantity

__all__ = [
    "LocateAnswer",
    "Means",
    "Next",
    "Suspect",
    "found_words",
    "gone_on",
    "locate",
    "open_hunt",
    "save_hunt",
    "steps_made",
]

SHOWN = 12
"""Suspects on the page; all of them are in the data."""

FITS = 0.1
"""A suspect fits what was seen if no answer leaves less than this share of it."""


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """One fault, or several that no check tells apart, with their probability together."""

    faults: tuple[str, ...]
    words: tuple[str, ...]
    probability: float


@dataclass(frozen=True, kw_only=True)
class Means:
    """One outcome of a check: how likely it is, how many suspects it leaves, and the likeliest of them."""

    outcome: str
    probability: float
    left: int
    likeliest: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Next:
    """The next check, and what each of its outcomes means."""

    check: str
    words: str
    place: str
    minutes: float
    terminals: tuple[str, ...]
    settings: tuple[tuple[str, str], ...]
    means: tuple[Means, ...]
    cautions: tuple[str, ...] = ()
    first: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LocateAnswer:
    """Where a hunt stands, or the charts of a service.

    ``seeable`` is what can be reported: by name, the words for it. ``wrong`` counts reports that are weighed
    (``reported``) and then answers, from 1; ``mistaken`` is the chance that what was reported is.
    """

    title: str
    hunt: Hunt
    search: Search
    suspects: tuple[Suspect, ...] = ()
    next: Next | None = None
    proofs: tuple[Proof, ...] = ()
    wrong: tuple[int, ...] = ()
    unexplained: bool = False
    seeable: Mapping[str, tuple[str, ...]] | None = None
    patterns: tuple[Pattern, ...] = ()
    reported: tuple[Answer, ...] = ()
    mistaken: float = 0.0
    worked: Worked | None = None

    @property
    def failed(self) -> bool:
        """Whether the answers contradict each other."""
        return self.unexplained

    @property
    def trouble(self) -> str:
        """What is wrong with the answers, and what to do; nothing where one fault explains them all."""
        if not self.unexplained:
            return ""
        if self.wrong:
            names = [_called_wrong(number, len(self.reported)) for number in self.wrong]
            return (
                f"The reports and answers contradict each other; without {listed(names, 'or')} one fault explains "
                "all. Look or measure again, and put it right: --correct 1=OUTCOME an answer, --correct "
                "seen1=NAME=WORD a report."
            )
        return (
            "No single fault on the list explains all this. Look at the reports again, or for two faults "
            "at once."
        )

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(f"{self.title}: finding a fault", 1)]
        if self.seeable is not None:
            blocks += _seeable_blocks(self.search.plant, self.seeable)
        if self.suspects:
            blocks += _hunt_blocks(self)
        for pattern in self.patterns:
            blocks += _pattern_blocks(self.search, pattern)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        step = self.next
        return {
            "answer": "locate",
            "title": self.title,
            "hunt": self.hunt.as_data(),
            "suspects": [
                {"faults": list(s.faults), "words": list(s.words), "probability": s.probability}
                for s in self.suspects
            ],
            "next": None if step is None else _next_data(step),
            "proofs": [_proof_data(p) for p in self.proofs],
            "contradicting_answers": [n - len(self.reported) for n in self.wrong if n > len(self.reported)],
            "contradicting_reports": [n for n in self.wrong if n <= len(self.reported)],
            "report_mistaken": self.mistaken,
            "unexplained": self.unexplained,
            "seeable": {name: list(words) for name, words in (self.seeable or {}).items()},
            "charts": [_pattern_data(self.search, p) for p in self.patterns],
            "caution": CAUTION,
        }

    def written(self, form: str) -> bytes:
        """The charts to print.

        Parameters
        ----------
        form
            ``html`` (folds open), ``svg`` (the first chart), ``pdf`` (a sheet each).

        Returns
        -------
        bytes
            Of the file.

        Raises
        ------
        UnreadableValue
            Where there is no such form, or no chart.
        """
        some = [folding_of(self.search, p) for p in self.patterns if p.symptoms]
        if not some or form not in ("html", "svg", "pdf"):
            raise UnreadableValue(
                "there is no chart to write" if not some else f"a chart is not written as {form!r}",
                "Name a service with --service and end the file in .html, .svg or .pdf.",
            )
        titles = self.search.plant.installation.dossier.services
        title = ", ".join(titles[s].title or s for s in self.hunt.services) or self.title
        if form == "html":
            return chart_page(title, some).encode("utf-8")
        from loomlore.drawing.painting import write_pdf, write_svg

        sheets = [chart_sheet(title, one) for one in some]
        if form == "svg":
            return write_svg(sheets[0]).encode("utf-8")
        return write_pdf(sheets, title=f"Fault chart: {title}")

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


# -- asking --------------------------------------------------------------------------------------------------------


def locate(  # noqa: PLR0913  each is an option of the command
    record: Record,
    *,
    seen: Iterable[str] = (),
    setting: Mapping[str, str] | None = None,
    services: Iterable[str] = (),
    standard: str = "",
    hunt: Hunt | None = None,
    found: Iterable[str] = (),
    correct: Mapping[int, str] | None = None,
    noise: float = 0.02,
    after_rebuild: bool = True,
    way_in: Mapping[str, float] | None = None,
    chart: bool = False,
    seconds: float = 2.0,
    progress: Callable[[int, int], None] | None = None,
    mistaken: float = MISTAKEN,
    seen_again: Mapping[int, str] | None = None,
    beside: str | Path | None = None,
) -> LocateAnswer:
    """Begin a hunt, go on with one, or draw a service's charts.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    seen
        What the crew reports, as ``NAME=WORD``: ``tail-lamp=out``.
    setting
        How the controls stood when it was seen.
    services
        Where to look; those of the things seen where empty.
    standard
        A named standard of fit.
    hunt
        One begun before; what else is given is added to it.
    found
        Outcomes of checks, as ``CHECK=OUTCOME`` or ``CHECK=24.1 V``; a bare outcome belongs to the next check.
    correct
        By number of an answer, what it should have been; "" takes it back.
    noise
        Chance that an answer is wrong [1].
    after_rebuild
        Suspects weighed for an installation just worked on; else by failures in service.
    way_in
        Minutes to get at a place, by place [min].
    chart
        Draw the charts of the services instead.
    seconds
        For each chart's proof [s].
    progress
        Told (done, of how many) after each situation that is worked out.
    mistaken
        Chance that a report of the crew is mistaken [1]: judgement.
    seen_again
        By number of a report, what it should have been; "" takes it back.
    beside
        The hunt's file: what is worked out is kept beside it, and taken from there while it holds.

    Returns
    -------
    LocateAnswer
        With the hunt as it now stands, to be stored.

    Raises
    ------
    UnknownName
        Where no service, standard or thing is called so.
    UnreadableValue
        Where a word is none that can be seen.
    UnfitRecord
        Where the setting names what is not there.
    """
    base = hunt or Hunt(
        services=tuple(services), standard=standard, setting=dict(setting or {}), noise=noise,
        after_rebuild=after_rebuild, way_in=dict(way_in or {}), mistaken=mistaken,
    )  # fmt: skip
    for number, said in sorted((seen_again or {}).items(), reverse=True):
        base = again(base, number, said)
    base = replace(base, seen=tuple(dict.fromkeys((*base.seen, *seen))))
    opened = opened_of(record)
    plant = opened.plant(opened.fits(base.standard))
    title = opened.dossier.header.title
    base = replace(base, services=services_of_hunt(plant, base))
    _sound_way_in(plant, base.way_in)
    asked = tuple(found)
    if (asked or correct) and not (base.seen or base.answers or base.services):
        raise UnreadableValue(
            "nothing has been reported yet", "Begin with --seen NAME=WORD, or --service ID, and --hunt FILE."
        )
    if chart or not (base.seen or base.answers or asked or correct):
        return _charts(plant, title, base, chart=chart, seconds=seconds)
    key = worked_key(opened, base) if beside is not None else ""
    worked = worked_before(beside, key, plant) if beside is not None else None
    kept = worked
    if worked is None:
        worked = begin(plant, base, progress)
    answer = gone_on(
        LocateAnswer(title=title, hunt=base, search=worked.search, reported=worked.reported, worked=worked),
        found=asked,
        correct=correct,
    )
    if beside is not None and answer.worked is not None and answer.worked is not kept:
        keep_worked(beside, key, answer.worked)
    return answer


def _sound_way_in(plant: Plant, way_in: Mapping[str, float]) -> None:
    for place, minutes in way_in.items():
        if place not in plant.installation.dossier.places:
            raise UnknownName("place", place, plant.installation.dossier.places)
        if not 0.0 <= minutes < inf:
            raise UnreadableValue(f"{minutes:g} is no time to get to {place!r}", "Write minutes, such as 5.")


def gone_on(
    answer: LocateAnswer, *, found: Iterable[str] = (), correct: Mapping[int, str] | None = None
) -> LocateAnswer:
    """Go on with a hunt whose suspects are worked out already: quick, since only weights change.

    Parameters
    ----------
    answer
        Where it stood.
    found
        Outcomes of checks, as for :func:`locate`.
    correct
        By number of an answer, what it should have been; "" takes it back.

    Returns
    -------
    LocateAnswer
        Where it stands now.

    Raises
    ------
    UnknownName
        Where no check is called so.
    UnreadableValue
        Where a check has no such outcome, or there is no such answer.
    """
    hunt = answer.hunt
    worked = answer.worked or Worked(search=answer.search, reported=answer.reported, wide=True)
    for number, said in sorted((correct or {}).items(), reverse=True):
        hunt = _put_right(worked.search, hunt, number, said)
    _of_this_record(hunt, worked.search)
    worked = _widened(hunt, worked)
    for said in found:
        hunt = _added(worked.search, hunt, worked.reported, said)
        worked = _widened(hunt, worked)
    return _standing(answer.title, hunt, worked)


def _of_this_record(hunt: Hunt, search: Search) -> None:
    """Refuse answers about checks that the record does not give: it was changed, or the hunt is another one's."""
    for number, answer in enumerate(hunt.answers, start=1):
        if answer.check not in search.number_of:
            raise UnreadableValue(
                f"answer {number} of the hunt is of {answer.check!r}, a check that this record does not give",
                f"Take it back with --correct {number}= or begin again with another --hunt FILE: the record was "
                "changed since, or the hunt is of another one.",
            )


def _widened(hunt: Hunt, worked: Worked) -> Worked:
    """With every suspect of the services, once a mistaken report explains the answers better than any that shows it."""
    if worked.wide or not _others_do_better(hunt, worked):
        return worked
    return begin(worked.search.plant, hunt, wide=True)


def _others_do_better(hunt: Hunt, worked: Worked) -> bool:
    return _chance_mistaken(hunt, worked) > 0.5


def _chance_mistaken(hunt: Hunt, worked: Worked) -> float:
    """Chance that the reports are mistaken: of the other suspects nothing is known, so every outcome is as likely."""
    search = worked.search
    if worked.wide:
        weights = probabilities(search, [*worked.reported, *hunt.answers], noise=hunt.noise)
        fits = [
            all(search.table[n, f] == outcome_number(search.checks[n], a) for a, n in _rows_of(worked))
            for f in range(len(search.faults))
        ]
        return (
            float(sum(w for w, fit in zip(weights, fits, strict=True) if not fit)) if worked.reported else 0.0
        )
    own = standing(search, hunt.answers, noise=hunt.noise)
    blind = worked.others
    for answer in hunt.answers:
        blind /= max(2, len(search.checks[search.number_of[answer.check]].outcomes))
    return blind / (own + blind) if own + blind > 0 else 0.0


def _rows_of(worked: Worked) -> list[tuple[Answer, int]]:
    return [(answer, worked.search.number_of[answer.check]) for answer in worked.reported]


def steps_made(answer: LocateAnswer) -> tuple[Next, ...]:
    """Tell every check made so far as it stood when it was made: what each outcome then meant.

    Parameters
    ----------
    answer
        Where a hunt stands.

    Returns
    -------
    tuple of Next
        One for each answer of the hunt, in their order.
    """
    search, hunt = answer.search, answer.hunt
    made = []
    for number, one in enumerate(hunt.answers):
        if one.check not in search.number_of:
            continue
        before = [*answer.reported, *hunt.answers[:number]]
        weights = probabilities(search, before, noise=hunt.noise)
        made.append(_next(search, weights, search.number_of[one.check]))
    return tuple(made)


def _read_found(search: Search, said: str, ask: str) -> Answer:
    name, sign, word = said.rpartition("=")
    check = name.strip() if sign else ask
    if check not in search.number_of:
        raise UnreadableValue(
            f"no check of this hunt is called {check!r}" if check else "there is no check left to answer",
            "Write the outcome alone, for the check that is asked; or CHECK=OUTCOME, with a name that --json gives.",
        )
    word = word.strip()
    answer = _as_answer(check, word)
    outcome_number(search.checks[search.number_of[check]], answer)
    return answer


def _as_answer(check: str, word: str) -> Answer:
    """Volts or ohms where the word is a figure, else the word."""
    if check.startswith("ohms:"):
        try:
            return Answer(check, ohms=read_quantity(word, "resistance").value)
        except UnreadableValue:
            return Answer(check, word)
    try:
        bare = float(word)
        volts = bare if isfinite(bare) else None
    except ValueError:
        try:
            volts = read_quantity(word, "voltage").value
        except UnreadableValue:
            volts = None
    return Answer(check, word) if volts is None else Answer(check, volts=volts)


def _added(search: Search, hunt: Hunt, reported: Sequence[Answer], said: str) -> Hunt:
    weights = probabilities(search, [*reported, *hunt.answers], noise=hunt.noise)
    asked = next_check(search, weights, hunt.answers, noise=hunt.noise)
    return answered(hunt, _read_found(search, said, search.checks[asked].id if asked is not None else ""))


def _put_right(search: Search, hunt: Hunt, number: int, said: str) -> Hunt:
    if not said:
        return corrected(hunt, number, None)
    old = hunt.answers[number - 1].check if 1 <= number <= len(hunt.answers) else ""
    right = _as_answer(old, said.strip())
    if old in search.number_of:
        outcome_number(search.checks[search.number_of[old]], right)
    return corrected(hunt, number, right)


def _standing(title: str, hunt: Hunt, worked: Worked) -> LocateAnswer:
    search, reported = worked.search, worked.reported
    answers = [*reported, *hunt.answers]
    weights = probabilities(search, answers, noise=hunt.noise)
    groups = ranked(search, weights)
    chosen = next_check(search, weights, hunt.answers, noise=hunt.noise)
    step = _next(search, weights, chosen) if chosen is not None else None
    proofs = (
        proofs_of(search, [float(w) for w in weights], groups[0].faults) if step is None and groups else ()
    )
    wrong = contradictions(search, answers)
    return LocateAnswer(
        title=title,
        hunt=hunt,
        search=search,
        suspects=tuple(
            Suspect(
                faults=tuple(search.faults[n].id for n in g.faults),
                words=tuple(search.faults[n].words for n in g.faults),
                probability=g.probability,
            )
            for g in groups
        ),
        next=step,
        proofs=proofs,
        wrong=wrong,
        unexplained=not explains_all(search, answers) and (bool(reported) or step is None),
        reported=reported,
        mistaken=_chance_mistaken(hunt, worked),
        worked=worked,
    )


def _called_wrong(number: int, reports: int) -> str:
    return f"report {number}" if number <= reports else f"answer {number - reports}"


def _next(search: Search, weights: Any, number: int) -> Next:
    check, row = search.checks[number], search.table[number]
    means = []
    for outcome, words in enumerate(check.outcomes):
        members = [n for n in range(len(row)) if row[n] == outcome and weights[n] > 1e-4]
        if members:
            best = sorted(members, key=lambda n: -weights[n])[:3]
            likely = tuple(search.faults[n].words for n in best)
            means.append(
                Means(
                    outcome=words,
                    probability=float(sum(weights[n] for n in members)),
                    left=len(members),
                    likeliest=likely,
                )
            )
    hazard = (
        search.plant.installation.equipment[check.item].hazard
        if check.item in search.plant.installation.equipment
        else ""
    )
    return Next(
        check=check.id, words=check.words, place=check.place, minutes=check.minutes, terminals=check.terminals,
        settings=position_words(search.plant, check.moves), means=tuple(sorted(means, key=lambda m: -m.probability)),
        cautions=tuple(dict.fromkeys((*((hazard,) if hazard else ()), *check.cautions))), first=check.first,
    )  # fmt: skip


def _charts(plant: Plant, title: str, hunt: Hunt, *, chart: bool, seconds: float) -> LocateAnswer:
    situations = situations_of_hunt(plant, hunt)
    terms = Terms(way_in=hunt.way_in, after_rebuild=hunt.after_rebuild, metered=chart)
    faults = suspects_of(plant, hunt.services, feeding=False)
    search = search_of(plant, situations, faults, services=hunt.services, terms=terms)
    if not search.faults:
        raise UnreadableValue(
            "nothing of the record can fail: no item, cable or fuse stands in it",
            "Run loomlore check on the folder.",
        )
    seeable: dict[str, tuple[str, ...]] = {}
    for check in search.checks:
        if check.what == "see":
            name = check.id.split(":", 2)[2]
            words = (w for w in check.outcomes if not w.endswith(WELL))
            seeable[name] = tuple(dict.fromkeys((*seeable.get(name, ()), *words)))
    patterns = patterns_of(search, seconds=seconds) if chart else ()
    return LocateAnswer(
        title=title, hunt=hunt, search=search, seeable=None if chart else seeable, patterns=patterns
    )


# -- pages ---------------------------------------------------------------------------------------------------------


def _seeable_blocks(plant: Plant, seeable: Mapping[str, tuple[str, ...]]) -> list[Block]:
    rows = tuple((name, lowered(name_of(plant, name)), "; ".join(words)) for name, words in seeable.items())
    return [
        Heading("What can be seen"),
        Paragraph("Report what is otherwise than it should be, by name: --seen NAME=WORD."),
        Table(("name", "what it is", "words"), rows),
    ]


def _hunt_blocks(answer: LocateAnswer) -> list[Block]:
    blocks: list[Block] = [
        Table(
            ("report", "seen"), tuple((f"seen{n}", said) for n, said in enumerate(answer.hunt.seen, start=1))
        )
    ]
    blocks.append(Paragraph(_mistaken_words(answer), quiet=True))
    if answer.hunt.answers:
        rows = tuple(
            (str(n), a.check, found_words(a), a.note) for n, a in enumerate(answer.hunt.answers, start=1)
        )
        blocks.append(Table(("no.", "check", "found", "note"), rows))
    if answer.unexplained:
        blocks.append(Entry("mind", answer.trouble, tone="bad"))
    blocks.append(Heading("What may be wrong"))
    rest_of = len(answer.suspects) - SHOWN
    listed_suspects = tuple(
        (f"{s.probability:.0%}", " OR ".join(s.words))
        for s in answer.suspects[:SHOWN]
        if s.probability >= 5e-4
    )
    blocks.append(Table(("probability", "suspect"), listed_suspects, right=(0,)))
    if rest_of > 0:
        blocks.append(Paragraph(f"And {rest_of} less likely.", quiet=True))
    if answer.next is not None:
        blocks += _next_blocks(answer.next)
    elif answer.proofs:
        blocks += [Heading("Prove it, in this order"), *_proof_entries(answer.proofs)]
    return blocks


def found_words(answer: Answer) -> str:
    """What was found, in words.

    Parameters
    ----------
    answer
        Of a hunt.

    Returns
    -------
    str
        The reading with its unit, or the outcome.
    """
    if answer.volts is not None:
        return f"{answer.volts:g} V"
    return f"{answer.ohms:g} ohm" if answer.ohms is not None else answer.outcome


def _mistaken_words(answer: LocateAnswer) -> str:
    if not answer.hunt.seen:
        return "Nothing is reported: every fault of these services is a suspect."
    share = f"{answer.hunt.mistaken:.0%} of reports are taken to be mistaken (judgement)"
    if answer.worked is not None and answer.worked.wide:
        return f"{share}; with the answers so far, {answer.mistaken:.0%} that one of these is."
    return (
        f"{share}; with the answers so far, {answer.mistaken:.0%}. "
        "Until that is likely, only faults that show them are weighed."
    )


def _next_blocks(step: Next) -> list[Block]:
    notes = [f"Where: {step.place}."] if step.place else []
    notes.append(f"About {step.minutes:.1f} minutes with the way in. Check name: {step.check}")
    notes += list(step.cautions)
    rows = tuple(
        (
            m.outcome,
            f"{m.probability:.0%}",
            str(m.left),
            "; ".join(m.likeliest) + ("; ..." if m.left > 3 else ""),
        )
        for m in step.means
    )
    return [
        Heading("Next check"),
        Entry("check", step.words, tuple(notes)),
        Table(("if it is", "chance", "suspects left", "then likeliest"), rows, right=(1, 2)),
    ]


def _proof_entries(proofs: Iterable[Proof]) -> list[Block]:
    found: list[Block] = []
    for place, proof in enumerate(proofs, start=1):
        words = "; or ".join(f.words for f in proof.faults)
        notes = (f"{proof.probability:.0%}: {words}. About {proof.minutes:.0f} minutes.", *proof.hazards)
        found.append(Entry(str(place), proof.look, notes))
    return found


def _pattern_blocks(search: Search, pattern: Pattern) -> list[Block]:
    total = float(search.weights.sum())
    share = f"{pattern.probability / total:.0%} of the faults" if total > 0 else ""
    if not pattern.symptoms:
        words = tuple((search.faults[n].words,) for n in pattern.faults)
        return [
            Heading(f"Nothing is seen ({share})"),
            Table(("found only by looking, or when a second fault comes",), words),
        ]
    said = "; ".join(folding_of(search, pattern).seen)
    blocks: list[Block] = [Heading(f"Seen ({share})"), Paragraph(f"{said}.")]
    if pattern.chart is not None:
        blocks.append(Table(("step", "do", "if", "then"), tuple(_steps(search, pattern.chart))))
        blocks.append(Paragraph(folding_of(search, pattern).proof, quiet=True))
    return blocks


def _steps(search: Search, chart: Chart) -> list[tuple[str, str, str, str]]:
    """The tree as numbered steps: each outcome leads to a step or to the suspects that are left."""
    if isinstance(chart.tree, End):
        return [("1", _end_words(search, chart.tree.faults), "", "")]
    rows: list[tuple[str, str, str, str]] = []
    waiting: list[tuple[int, Node]] = [(1, chart.tree)]
    given = 1
    while waiting:
        number, node = waiting.pop(0)
        assert not isinstance(node, End)
        check = search.checks[node.trial]
        first = f"{check.words}{f' ({check.place})' if check.place else ''}"
        for outcome, way in node.ways:
            if isinstance(way, End):
                then = _end_words(search, way.faults)
            else:
                given += 1
                waiting.append((given, way))
                then = f"go to step {given}"
            rows.append((str(number) if first else "", first, check.outcomes[outcome], then))
            first = ""
    return rows


def _end_words(search: Search, faults: Sequence[int]) -> str:
    weights = [float(w) for w in search.weights]
    said = [
        f"{p.look} [{'; or '.join(f.words for f in p.faults)}]" for p in proofs_of(search, weights, faults)
    ]
    warn = warnings_of(search.plant, [search.faults[n] for n in faults])
    return " Then: ".join(said) + (f" CAUTION: {' '.join(warn)}" if warn else "")


# -- data ----------------------------------------------------------------------------------------------------------


def _next_data(step: Next) -> dict[str, Any]:
    return {
        "check": step.check,
        "words": step.words,
        "place": step.place,
        "minutes": step.minutes,
        "terminals": list(step.terminals),
        "settings": [{"name": name, "position": word} for name, word in step.settings],
        "outcomes": [
            {
                "outcome": m.outcome,
                "probability": m.probability,
                "left": m.left,
                "likeliest": list(m.likeliest),
            }
            for m in step.means
        ],
        "first": list(step.first),
        "cautions": list(step.cautions),
    }


def _proof_data(proof: Proof) -> dict[str, Any]:
    return {
        "look": proof.look,
        "place": proof.place,
        "minutes": proof.minutes,
        "probability": proof.probability,
        "faults": [f.id for f in proof.faults],
        "cautions": list(proof.hazards),
    }


def _pattern_data(search: Search, pattern: Pattern) -> dict[str, Any]:
    chart = pattern.chart
    return {
        "seen": [
            {"check": search.checks[c].id, "outcome": search.checks[c].outcomes[o]}
            for c, o in pattern.symptoms
        ],
        "probability": pattern.probability,
        "faults": [search.faults[n].id for n in pattern.faults],
        "steps": []
        if chart is None
        else [dict(zip(("step", "do", "if", "then"), r, strict=True)) for r in _steps(search, chart)],
        "mean_minutes": None if chart is None else chart.cost,
        "bound_minutes": None if chart is None else chart.bound,
        "exact": None if chart is None else chart.exact,
        "chart": chart_data(folding_of(search, pattern)),
    }
