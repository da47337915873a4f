"""Where sources differ, what was decided, and how many independent witnesses each value has.

A property statement says of a *matter* (``tail-lamp.rating``) a value. Statements of one matter agree, or are
in dispute until a decision adopts one; the adopted value must then be the record's. A source that is copied
from another is no second witness. A function statement is in dispute where a decision weighs it against
another; whether the record keeps it is for the proof to say.

Values are compared as what they are, not as text: ``14/.0076 in`` is ``14/0.0076 in``, ``0.5 A`` is
``500 mA``, a lamp of ``6 W`` does not differ from one of ``24 V 6 W``, nor ``26.8 V`` from ``26.6 to 27 V``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, field

from loomlore.evidence.matters import Matter, agree, matters_of
from loomlore.findings import Finding, in_order, nearest
from loomlore.record.model import Citation, Decision, Dossier, Statement
from loomlore.record.parts import Kind
from loomlore.record.remarks import PlaceOf, Remarks, called, meant

__all__ = ["Dispute", "Verdict", "Weighing", "weigh"]

COUNTED = ("items", "cables", "ways", "controls", "conditions", "earths", "looms", "sheaths")
"""Tables whose things have a standing that is counted."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """How a matter stands: agreed, in dispute, or decided (by ``decision``, for ``adopted``).

    ``witnesses`` counts the independent sources of each value, in the words of its first statement.
    ``kept`` says whether the record has the value (None: it has none, or nobody can compare).
    """

    matter: Matter
    state: str
    witnesses: Mapping[str, int]
    decision: Decision | None = None
    adopted: Statement | None = None
    kept: bool | None = None


@dataclass(frozen=True, kw_only=True)
class Dispute:
    """Function statements that a decision weighs against one another."""

    decision: Decision
    adopted: tuple[str, ...]
    rejected: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Weighing:
    """The evidence, weighed.

    ``standings`` counts things by standing; ``rejected`` are the statements that some decision weighed and
    did not adopt: contradicting them is no error of the record.
    """

    verdicts: tuple[Verdict, ...] = ()
    disputes: tuple[Dispute, ...] = ()
    rejected: frozenset[str] = frozenset()
    standings: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    @property
    def counts(self) -> Mapping[str, int]:
        """How many matters are agreed, decided and in dispute, and how many things nobody supports."""
        states = Counter(v.state for v in self.verdicts)
        both = {state: states.get(state, 0) for state in ("agreed", "decided", "in dispute")}
        return {**both, "unsupported": self.standings.get("unsupported", 0)}


def weigh(
    dossier: Dossier,
    kinds: Mapping[str, Kind] | None = None,
    *,
    place_of: PlaceOf | None = None,
    broken: frozenset[str] = frozenset(),
) -> Weighing:
    """Weigh the property statements, and gather what decisions say of the others.

    Parameters
    ----------
    dossier
        The whole record.
    kinds
        All kinds, for values that an item leaves to its kind; without them such values are not compared.
    place_of
        Where a key stands, for findings.
    broken
        Things that a slip has cost something already, such as ``item tail-lamp``: what is only lacking there
        is not said again.

    Returns
    -------
    Weighing
        Verdicts in order of the text, and what is wrong.
    """
    remarks = Remarks(place_of)
    matters = matters_of(dossier, kinds or {}, remarks)
    decisions = _by_matter(dossier, matters)
    slipped = frozenset(subject.partition(" ")[2] for subject in broken)
    verdicts = tuple(
        _verdict(dossier, m, decisions.get(m.key, []), remarks, slipped=m.about.rpartition(".")[0] in slipped)
        for m in matters.values()
    )
    disputes = tuple(_disputes(dossier, matters, remarks))
    not_adopted = {s.id for v in verdicts if v.adopted for s in v.matter.statements if not _same(v, s)}
    return Weighing(
        verdicts=verdicts,
        disputes=disputes,
        rejected=frozenset(not_adopted).union(*(d.rejected for d in disputes)),
        standings=_standings(dossier),
        findings=in_order(remarks.findings),
    )


def _standings(dossier: Dossier) -> Mapping[str, int]:
    return Counter(thing.standing for table in COUNTED for thing in getattr(dossier, table).values())


def _same(verdict: Verdict, statement: Statement) -> bool:
    return verdict.adopted is not None and verdict.matter.agree(statement, verdict.adopted)


# ---- witnesses -------------------------------------------------------------------------------------------


def original(dossier: Dossier, source: str) -> str:
    """The source that one was drawn from in the end; itself where it is no copy.

    Parameters
    ----------
    dossier
        The record.
    source
        A source's id.

    Returns
    -------
    str
        The id at the end of the chain of ``copied-from``.
    """
    seen = {source}
    while (found := dossier.sources.get(source)) and found.copied_from and found.copied_from not in seen:
        source = found.copied_from
        seen.add(source)
    return source


def _witnesses(dossier: Dossier, matter: Matter) -> dict[str, int]:
    first: dict[Hashable, str] = {}
    sources: dict[str, set[str]] = {}
    for statement in matter.statements:
        words = first.setdefault(matter.values[statement.id], statement.says)
        if statement.source is not None:
            sources.setdefault(words, set()).add(original(dossier, statement.source.source))
    return {words: len(sources.get(words, ())) for words in first.values()}


# ---- one matter ------------------------------------------------------------------------------------------


def _by_matter(
    dossier: Dossier, matters: Mapping[tuple[str, str], Matter]
) -> dict[tuple[str, str], list[Decision]]:
    """Decisions by matter: of those with the same name, the ones whose fit the decision's statement has."""
    found: dict[tuple[str, str], list[Decision]] = {}
    for decision in dossier.decisions.values():
        keys = [key for key, matter in matters.items() if matter.about == decision.about]
        holding = [key for key in keys if _adopted(matters[key], decision.adopts) is not None]
        for key in holding or keys:
            found.setdefault(key, []).append(decision)
    return found


def _adopted(matter: Matter, adopts: Citation | None) -> Statement | None:
    """The statement that a decision's citation means: by its id, else by source and locator."""
    if adopts is None:
        return None
    cited = [s for s in matter.statements if s.id == adopts.source and not adopts.locator]
    cited = cited or [s for s in matter.statements if s.source == adopts]
    by_source = [s for s in matter.statements if s.source is not None and s.source.source == adopts.source]
    if not cited and not adopts.locator and len(by_source) == 1:
        cited = by_source
    return cited[0] if cited else None


def _verdict(
    dossier: Dossier, matter: Matter, decisions: list[Decision], remarks: Remarks, *, slipped: bool
) -> Verdict:
    witnesses = _witnesses(dossier, matter)
    if decisions:
        return _decided(matter, decisions, witnesses, remarks, slipped=slipped)
    agreed = matter.unanimous
    kept = all(_keeps(matter, s) for s in matter.statements) if agreed and matter.recorded else None
    if not agreed:
        _say_dispute(matter, witnesses, remarks)
    elif kept is False:
        _say_differs(matter, witnesses, remarks)
    return Verdict(matter=matter, state="agreed" if agreed else "in dispute", witnesses=witnesses, kept=kept)


def _keeps(matter: Matter, statement: Statement) -> bool | None:
    if matter.recorded is None:
        return None
    return agree(matter.recorded.value, matter.values[statement.id])


def _say_dispute(matter: Matter, witnesses: Mapping[str, int], remarks: Remarks) -> None:
    said = "; ".join(f"{words!r} ({_sources(matter, words)})" for words in witnesses)
    first, *others = matter.statements
    message = f"Sources differ about {matter.about!r}: {said}."
    hint = f'Decide: [decision] … = {{ about = "{matter.about}", adopts = …, because = … }}.'
    remarks.warn("in-dispute", first, message, hint, key="says", also=others)


def _sources(matter: Matter, words: str) -> str:
    value = next(matter.values[s.id] for s in matter.statements if s.says == words)
    cited = [
        str(s.source) for s in matter.statements if matter.values[s.id] == value and s.source is not None
    ]
    return ", ".join(dict.fromkeys(cited)) or "no source"


def _say_differs(matter: Matter, witnesses: Mapping[str, int], remarks: Remarks) -> None:
    assert matter.recorded is not None
    words = next(iter(witnesses))
    message = (
        f"The record has {matter.about!r} as {matter.recorded.text!r}, where {_sources(matter, words)} "
        f"says {words!r}."
    )
    hint = "Mend the record, or add what says otherwise as a statement, and a decision."
    remarks.warn("record-differs", matter.statements[0], message, hint, key="says")


def _decided(
    matter: Matter,
    decisions: list[Decision],
    witnesses: Mapping[str, int],
    remarks: Remarks,
    *,
    slipped: bool,
) -> Verdict:
    decision, *others = decisions
    adopted = _adopted(matter, decision.adopts)
    for other in others:
        _say_twice(matter, decision, other, remarks)
    if adopted is None:
        _say_adopts_nothing(matter, decision, remarks)
        state = "agreed" if matter.unanimous else "in dispute"
        return Verdict(matter=matter, state=state, witnesses=witnesses)
    kept = _keeps(matter, adopted)
    if kept is False:
        _say_not_kept(matter, decision, adopted, remarks)
    elif matter.recorded is None and matter.comparable and not slipped:
        message = (
            f"{called(decision)} adopts {adopted.says!r} for {matter.about!r}; the record has nothing there."
        )
        remarks.warn("not-recorded", decision, message, f"Write it into the record: {matter.key_name} = ….")
    _say_not_weighed(matter, decision, adopted, remarks)
    return Verdict(
        matter=matter, state="decided", witnesses=witnesses, decision=decision, adopted=adopted, kept=kept
    )


def _say_twice(matter: Matter, decision: Decision, other: Decision, remarks: Remarks) -> None:
    first, second = _adopted(matter, decision.adopts), _adopted(matter, other.adopts)
    if first is not None and second is not None and not matter.agree(first, second):
        message = f"Decisions {decision.id!r} and {other.id!r} adopt different values for {matter.about!r}."
        hint = "Keep one; what speaks against it goes into its `dissent`."
        remarks.say("decisions-contradict", other, message, hint, key="adopts", also=(decision,))
    else:
        message = f"Decision {other.id!r} decides {matter.about!r}, as {decision.id!r} does already."
        remarks.warn("decided-twice", other, message, "Keep one of the two.", key="about", also=(decision,))


def _say_adopts_nothing(matter: Matter, decision: Decision, remarks: Remarks) -> None:
    names = [s.id for s in matter.statements]
    if decision.adopts is None:
        message = f"{called(decision)} adopts nothing about {matter.about!r}."
    else:
        message = (
            f"{called(decision)} adopts {str(decision.adopts)!r}, which says nothing about {matter.about!r}."
        )
    hint = meant(str(decision.adopts or ""), names, none="Name a statement about it, by its `id`.")
    remarks.say("adopts-nothing", decision, message, hint, key="adopts" if decision.adopts else "")


def _say_not_kept(matter: Matter, decision: Decision, adopted: Statement, remarks: Remarks) -> None:
    assert matter.recorded is not None
    message = (
        f"{called(decision)} adopts {adopted.says!r} for {matter.about!r}, and the record has "
        f"{matter.recorded.text!r}."
    )
    hint = "Write the adopted value into the record, or mend the decision."
    remarks.say("decision-not-kept", decision, message, hint, key="adopts", also=matter.recorded.things)


def _say_not_weighed(matter: Matter, decision: Decision, adopted: Statement, remarks: Remarks) -> None:
    weighed = [s for c in decision.weighed if (s := _adopted(matter, c)) is not None]
    left = [s for s in matter.statements if s not in weighed and not matter.agree(s, adopted)]
    if left:
        names = ", ".join(repr(s.id) for s in left)
        message = f"{called(decision)} does not weigh {names}, which says otherwise."
        remarks.note(
            "not-weighed", decision, message, "Add it to `weighed`, and say in `because` why it gives way."
        )


# ---- function statements ---------------------------------------------------------------------------------


def _disputes(
    dossier: Dossier, matters: Mapping[tuple[str, str], Matter], remarks: Remarks
) -> Iterator[Dispute]:
    abouts = {matter.about for matter in matters.values()}
    for decision in dossier.decisions.values():
        cited = [c for c in (decision.adopts, *decision.weighed) if c is not None]
        found = [s for c in cited for s in _function_statements(dossier, c)]
        if found:
            adopted = [s.id for s in _function_statements(dossier, decision.adopts)]
            rejected = [s.id for s in found if s.id not in adopted]
            yield Dispute(decision=decision, adopted=tuple(adopted), rejected=tuple(dict.fromkeys(rejected)))
        elif decision.about not in abouts:
            near = nearest(decision.about, abouts)
            hint = f"Did you mean {near!r}?" if near else "Add the statements that it weighs."
            message = f"{called(decision)} is about {decision.about!r}, of which no statement speaks."
            remarks.warn("decides-nothing", decision, message, hint, key="about" if decision.about else "")


def _function_statements(dossier: Dossier, citation: Citation | None) -> list[Statement]:
    if citation is None:
        return []
    functional = [s for s in dossier.statements.values() if not s.about]
    by_id = [s for s in functional if s.id == citation.source and not citation.locator]
    return by_id or [s for s in functional if s.source == citation]
