"""What the sources say of properties, weighed, as blocks and as data: agreed, decided, in dispute."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from loomlore.answers.disputes import change_notes, contrast_data, dispute_data
from loomlore.answers.pages import Block, Entry, Heading, Paragraph, Table
from loomlore.behaviour.proving import Verdict as Proof
from loomlore.evidence.disagreements import Verdict, Weighing
from loomlore.rivals.contrasting import Contrast

__all__ = ["property_blocks", "property_data"]

_TONES = {"agreed": "good", "decided": "plain", "in dispute": "bad"}


def property_blocks(weighed: Weighing, contrasts: Sequence[Contrast] = ()) -> list[Block]:
    """Disagreements about properties, each value with its independent witnesses.

    Parameters
    ----------
    weighed
        From :func:`loomlore.evidence.disagreements.weigh`.
    contrasts
        What changes with each reading, where that was worked out.

    Returns
    -------
    list
        Nothing where no source says anything of a property.
    """
    if not weighed.verdicts and not weighed.disputes:
        return []
    counts = tuple((what, str(number)) for what, number in weighed.counts.items() if number)
    blocks: list[Block] = [
        Heading("What the sources say of properties"),
        Table(("matter", ""), counts, right=(1,)),
    ]
    by_matter = {(contrast.about, contrast.fit): contrast for contrast in contrasts}
    blocks += [
        _entry(verdict, by_matter.get(verdict.matter.key))
        for verdict in weighed.verdicts
        if verdict.state != "agreed" or verdict.matter.key in by_matter
    ]
    agreed = sum(v.state == "agreed" and v.matter.key not in by_matter for v in weighed.verdicts)
    if agreed:
        blocks.append(Paragraph(f"On {agreed} other matter{'s' if agreed > 1 else ''} the sources agree."))
    return blocks


def _entry(verdict: Verdict, contrast: Contrast | None) -> Entry:
    fit = f" (with {verdict.matter.fit})" if verdict.matter.fit else ""
    values = "; ".join(
        f"{value} ({count} witness{'es' if count != 1 else ''})" for value, count in verdict.witnesses.items()
    )
    notes = [f"{s.source}: “{s.words}”" for s in verdict.matter.statements]
    if verdict.decision is not None:
        notes.append(f"decided: {verdict.decision.because}")
        if verdict.decision.dissent:
            notes.append(f"dissent: {verdict.decision.dissent}")
    if verdict.kept is False:
        notes.append("the record has another value")
    notes += change_notes(contrast) if contrast is not None else []
    return Entry(verdict.state, f"{verdict.matter.about}{fit}: {values}", tuple(notes), _TONES[verdict.state])


def property_data(
    weighed: Weighing, contrasts: Sequence[Contrast] = (), verdicts: Mapping[str, Proof] | None = None
) -> dict[str, Any]:
    """The same as plain data.

    Parameters
    ----------
    weighed
        From :func:`loomlore.evidence.disagreements.weigh`.
    contrasts
        What changes with each reading, where that was worked out.
    verdicts
        Of function statements, by id.

    Returns
    -------
    dict
        Counts, matters, and disputes between function statements.
    """
    return {
        "counts": dict(weighed.counts),
        "standings": dict(weighed.standings),
        "matters": [_matter_data(verdict) for verdict in weighed.verdicts],
        "disputes": list(dispute_data(weighed, verdicts or {})),
        "contrasts": [contrast_data(contrast) for contrast in contrasts],
    }


def _matter_data(verdict: Verdict) -> dict[str, Any]:
    decision = verdict.decision
    return {
        "about": verdict.matter.about,
        "fit": verdict.matter.fit,
        "state": verdict.state,
        "witnesses": dict(verdict.witnesses),
        "statements": [s.id for s in verdict.matter.statements],
        "decision": decision.id if decision is not None else "",
        "because": decision.because if decision is not None else "",
        "recorded": verdict.matter.recorded.text if verdict.matter.recorded is not None else "",
        "kept": verdict.kept,
    }
