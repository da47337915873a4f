"""``locate``: from what is seen to what is wrong, and the next check; the fault chart of a service.

A hunt is kept in a text file and gone on with: answers are added, put right or taken back. The printed chart
begins with what is seen, and says at every step what to do, where, and what each outcome means.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import tomlkit

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.effects import observables_of
from loomlore.faults.hunting import (
    Answer,
    Hunt,
    Pattern,
    answered,
    contradictions,
    corrected,
    hunt_from_data,
    next_check,
    outcome_number,
    patterns_of,
    probabilities,
    ranked,
)
from loomlore.faults.injecting import Workshop, representatives
from loomlore.faults.locating import (
    WELL,
    Proof,
    Search,
    Terms,
    position_words,
    proofs_of,
    search_of,
    suspects_of,
    telling_situations,
    warnings_of,
)
from loomlore.faults.sequencing import Chart, End, Node
from loomlore.faults.situations import Situation, situations_of
from loomlore.findings import Place, UnfitRecord, UnknownName, UnreadableValue, nearest
from loomlore.network.building import Plant

__all__ = ["LocateAnswer", "Means", "Suspect", "locate", "open_hunt", "save_hunt"]

AS_SET = "as-set"
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


@dataclass(frozen=True, kw_only=True)
class LocateAnswer:
    """Where a hunt stands, or the charts of a service.

    ``seeable`` is what can be reported: by name, the words for it.
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

    @property
    def failed(self) -> bool:
        """Whether the answers contradict each other."""
        return self.unexplained

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
            "contradicting_answers": list(self.wrong),
            "unexplained": self.unexplained,
            "seeable": {name: list(words) for name, words in (self.seeable or {}).items()},
            "charts": [_pattern_data(self.search, p) for p in self.patterns],
            "caution": CAUTION,
        }

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
        after_rebuild=after_rebuild, way_in=dict(way_in or {}),
    )  # fmt: skip
    base = replace(base, seen=tuple(dict.fromkeys((*base.seen, *seen))))
    opened = opened_of(record)
    plant = opened.plant(opened.fits(base.standard))
    title = opened.dossier.header.title
    base = replace(base, services=_services(plant, base))
    if chart or not base.seen:
        return _charts(plant, title, base, chart=chart, seconds=seconds)
    for number, said in sorted((correct or {}).items(), reverse=True):
        base = _put_right(base, number, said)
    search, reported = _search(plant, base)
    for said in found:
        base = _added(search, base, reported, said)
    return _standing(title, base, search, reported)


def _services(plant: Plant, hunt: Hunt) -> tuple[str, ...]:
    known = plant.installation.dossier.services
    for service in hunt.services:
        if service not in known:
            raise UnknownName("service", service, known)
    if hunt.services:
        return hunt.services
    things = [_thing(plant, said.partition("=")[0].strip()) for said in hunt.seen]
    services = {o.name: o.service for o in observables_of(plant)}
    return tuple(dict.fromkeys(s for t in things if (s := services.get(t, ""))))


def _thing(plant: Plant, name: str) -> str:
    """The observable, or fuse, of a name as the crew gives it."""
    known = [o.name for o in observables_of(plant)]
    exact = [o for o in known if o == name]
    own = [o.name for o in observables_of(plant) if o.item == name]
    fuses = [b.name for b in plant.network.branches if b.name == name]
    titled = [o for o in known if name_of(plant, o).lower() == name.lower()]
    for meant in (exact, own, fuses, titled):
        if len(meant) == 1:
            return meant[0]
        if meant:
            raise UnreadableValue(
                f"{name!r} has several things to be seen.", f"Write one of: {', '.join(meant)}."
            )
    raise UnknownName("thing that can be seen", name, [*known, *(o.item for o in observables_of(plant))])


def _situations(plant: Plant, hunt: Hunt) -> tuple[Situation, ...]:
    chosen = telling_situations(plant, situations_of(plant), hunt.services, most=3)
    if not hunt.setting:
        return chosen
    moves, slips = read_setting(plant, hunt.setting, place=Place("--set"))
    if slips:
        raise UnfitRecord(slips)
    settled = operated(plant, rest(plant), moves)
    levers = tuple(moves.levers.items())
    return (Situation(id=AS_SET, title="as it was set", settled=settled, moves=levers), *chosen[:2])


def _search(plant: Plant, hunt: Hunt) -> tuple[Search, tuple[Answer, ...]]:
    """What was reported decides first who is a suspect at all; only those are worked out everywhere."""
    situations = _situations(plant, hunt)
    faults = suspects_of(plant, hunt.services)
    alike = representatives(plant, faults)
    worked = list({f.id: f for f in alike.values()}.values())
    terms = Terms(way_in=hunt.way_in, after_rebuild=hunt.after_rebuild)
    kept = {f.id for f in worked}
    reported: list[Answer] = []
    waiting = [_report(plant, said) for said in hunt.seen]
    shop = Workshop(plant)
    words: dict[str, None] = {}
    for situation in situations:
        if not waiting:
            break
        wide = search_of(
            plant,
            [situation],
            worked,
            services=hunt.services,
            terms=replace(terms, metered=False),
            workshop=shop,
        )
        still = []
        for thing, word in waiting:
            answer = _see(wide, thing, word, words)
            if answer is None:
                still.append((thing, word))
                continue
            reported.append(answer)
            check = wide.number_of[answer.check]
            row, outcome = wide.table[check], outcome_number(wide.checks[check], answer)
            kept &= {f.id for n, f in enumerate(worked) if row[n] == outcome}
        waiting = still
    if waiting:
        raise _unseen(*waiting[0], words)
    suspects = [f for f in faults if alike[f.id].id in kept]
    search = search_of(
        plant, situations, suspects or faults, services=hunt.services, terms=terms, workshop=shop
    )
    return search, () if suspects else tuple(reported)


def _report(plant: Plant, said: str) -> tuple[str, str]:
    name, sign, word = said.partition("=")
    if not sign:
        raise UnreadableValue(
            f"{said!r} says nothing of what was seen", "Write NAME=WORD, such as tail-lamp=out."
        )
    word = word.strip()
    return _thing(plant, name.strip()), {"blown": "it goes again", "goes": "it goes again"}.get(word, word)


def _see(search: Search, thing: str, word: str, words: dict[str, None]) -> Answer | None:
    """The look at a thing that can have this outcome; other outcomes are added to ``words``."""
    for check in search.checks:
        if check.what == "see" and check.id.endswith(f":{thing}"):
            words |= dict.fromkeys(check.outcomes)
            try:
                return Answer(check.id, check.outcomes[outcome_number(check, Answer(check.id, word))])
            except UnreadableValue:
                continue
    return None


def _unseen(thing: str, word: str, words: Iterable[str]) -> UnreadableValue:
    listed_words = tuple(words)
    if not listed_words:
        return UnreadableValue(
            f"no fault on the list shows at {thing!r} in these settings",
            "Give the setting in which it was seen, or name another service.",
        )
    meant = nearest(word, listed_words)
    hint = f"Write {meant!r}." if meant else f"Write one of: {'; '.join(listed_words)}."
    return UnreadableValue(f"{thing!r} cannot be {word!r} here", hint)


def _read_found(search: Search, said: str, ask: str) -> Answer:
    name, sign, word = said.rpartition("=")
    check = name.strip() if sign else ask
    if check not in search.number_of:
        raise UnknownName("check", check, search.number_of)
    word = word.strip()
    bare = word.removesuffix("V").strip()
    try:
        return Answer(check, volts=float(bare))
    except ValueError:
        outcome_number(search.checks[search.number_of[check]], Answer(check, word))
        return Answer(check, word)


def _added(search: Search, hunt: Hunt, reported: Sequence[Answer], said: str) -> Hunt:
    weights = probabilities(search, [*reported, *hunt.answers], noise=hunt.noise)
    asked = next_check(search, weights, hunt.answers, noise=hunt.noise)
    return answered(hunt, _read_found(search, said, search.checks[asked].id if asked is not None else ""))


def _put_right(hunt: Hunt, number: int, said: str) -> Hunt:
    if not said:
        return corrected(hunt, number, None)
    old = hunt.answers[number - 1].check if 1 <= number <= len(hunt.answers) else ""
    bare = said.removesuffix("V").strip()
    try:
        return corrected(hunt, number, Answer(old, volts=float(bare)))
    except ValueError:
        return corrected(hunt, number, Answer(old, said))


def _standing(title: str, hunt: Hunt, search: Search, reported: Sequence[Answer]) -> LocateAnswer:
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
        unexplained=bool(reported) or (bool(wrong) and step is None),
    )


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
        cautions=(hazard,) if hazard else (),
    )  # fmt: skip


def _charts(plant: Plant, title: str, hunt: Hunt, *, chart: bool, seconds: float) -> LocateAnswer:
    situations = _situations(plant, hunt)
    terms = Terms(way_in=hunt.way_in, after_rebuild=hunt.after_rebuild, metered=chart)
    faults = suspects_of(plant, hunt.services, feeding=False)
    search = search_of(plant, situations, faults, services=hunt.services, terms=terms)
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


# -- storing -------------------------------------------------------------------------------------------------------


def open_hunt(path: str | Path) -> Hunt:
    """Read a hunt from its file.

    Parameters
    ----------
    path
        A TOML file.

    Returns
    -------
    Hunt
        To go on with.

    Raises
    ------
    UnreadableValue
        Where the text is no hunt.
    """
    try:
        return hunt_from_data(tomllib.loads(Path(path).read_text(encoding="utf-8")))
    except tomllib.TOMLDecodeError as slip:
        raise UnreadableValue(
            f"{Path(path).name} cannot be read: {slip}", "Mend the line, or begin the hunt again."
        ) from slip


def save_hunt(hunt: Hunt, path: str | Path) -> None:
    """Write a hunt to its file.

    Parameters
    ----------
    hunt
        As it stands.
    path
        Where to; what was there is replaced.
    """
    Path(path).write_text(tomlkit.dumps(hunt.as_data()), encoding="utf-8")


# -- pages ---------------------------------------------------------------------------------------------------------


def _seeable_blocks(plant: Plant, seeable: Mapping[str, tuple[str, ...]]) -> list[Block]:
    rows = tuple((name, lowered(name_of(plant, name)), "; ".join(words)) for name, words in seeable.items())
    return [
        Heading("What can be seen"),
        Paragraph("Report what is otherwise than it should be, by name: --seen NAME=WORD."),
        Table(("name", "what it is", "words"), rows),
    ]


def _hunt_blocks(answer: LocateAnswer) -> list[Block]:
    blocks: list[Block] = [Paragraph(f"Seen: {'; '.join(answer.hunt.seen)}.")]
    if answer.hunt.answers:
        rows = tuple(
            (str(n), a.check, a.outcome if a.volts is None else f"{a.volts:g} V", a.note)
            for n, a in enumerate(answer.hunt.answers, start=1)
        )
        blocks.append(Table(("no.", "check", "found", "note"), rows))
    if answer.unexplained:
        blocks.append(Entry("mind", _unexplained_words(answer), tone="bad"))
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


def _unexplained_words(answer: LocateAnswer) -> str:
    if answer.wrong:
        said = listed([str(n) for n in answer.wrong], "or")
        return (
            f"The answers contradict each other; without answer {said} one fault explains all. Make it again."
        )
    return (
        "No single fault on the list explains all this. Look at the reports again, or for two faults at once."
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
    said = "; ".join(_symptom_words(search, c, o) for c, o in pattern.symptoms)
    blocks: list[Block] = [Heading(f"Seen ({share})"), Paragraph(f"{said}.")]
    if pattern.chart is not None:
        blocks.append(Table(("step", "do", "if", "then"), tuple(_steps(search, pattern.chart))))
        blocks.append(Paragraph(_proof_of_chart(pattern.chart), quiet=True))
    return blocks


def _proof_of_chart(chart: Chart) -> str:
    if isinstance(chart.tree, End):
        return "No check tells these apart: look at each."
    mean = f"On average {chart.cost:.1f} minutes of checks"
    if chart.exact:
        return f"{mean}; no order of these checks does it in less."
    return f"{mean}; at most {chart.gap:.0%} over the best order there may be."


def _symptom_words(search: Search, number: int, outcome: int) -> str:
    check = search.checks[number]
    name = check.id.split(":", 2)[2]
    title = next(s.title for s in search.situations if s.id == check.situation)
    return f"{title}: {lowered(name_of(search.plant, name))} {check.outcomes[outcome]}"


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
    }
