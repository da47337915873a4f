"""What disagreements come to, as blocks and as data: properties read each way, sentences set against each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from loomlore.answers.pages import Block, Entry, Heading, Paragraph
from loomlore.behaviour.proving import Verdict
from loomlore.evidence.disagreements import Dispute, Weighing
from loomlore.record.model import Statement
from loomlore.rivals.contrasting import Contrast, Other

__all__ = ["VERDICT_WORDS", "change_notes", "contrast_data", "dispute_blocks", "dispute_data"]

VERDICT_WORDS = {
    "proved": "proved",
    "proved-if": "proved if",
    "contradicted": "contradicted",
    "never-reached": "never reached",
    "not-computable": "not computable",
    "out-of-scope": "out of scope",
}


# -- properties ------------------------------------------------------------------------------------------------


def change_notes(contrast: Contrast) -> list[str]:
    """What changes with each reading of a matter, a line for each change.

    Parameters
    ----------
    contrast
        Worked out.

    Returns
    -------
    list of str
        For each reading that is not the record's its changes, or that there are none.
    """
    notes = []
    for other in contrast.others:
        notes.append(f"{_reading_words(contrast, other)}:")
        notes += [f"  - {change.words}" for change in other.changes]
        if other.nothing:
            notes.append(f"  - {other.nothing}")
    return notes


def _reading_words(contrast: Contrast, other: Other) -> str:
    marks = other.rival.marks
    # a size in inches ends in "in": what follows it must not begin with that word
    where = f", for {', '.join(marks[:-1])} and {marks[-1]} alike" if len(marks) > 1 else ""
    aside = f" ({other.rival.aside})" if other.rival.aside else ""
    against = f" instead of {contrast.recorded}" if contrast.recorded else ""
    fits = f", with {', '.join(contrast.fits)} fitted" if contrast.fit and contrast.fits else ""
    return f"what changes with {other.rival.value}{against}{where}{aside}{fits}"


def contrast_data(contrast: Contrast) -> dict[str, Any]:
    """The same as plain data.

    Parameters
    ----------
    contrast
        Worked out.

    Returns
    -------
    dict
        The record's reading, and each other with its changes.
    """
    return {
        "about": contrast.about,
        "fit": contrast.fit,
        "fits": list(contrast.fits),
        "recorded": contrast.recorded,
        "readings": [
            {
                "value": other.rival.value,
                "statements": list(other.rival.statements),
                "cables": list(other.rival.marks),
                "aside": other.rival.aside,
                "changes": [
                    {
                        "what": change.what,
                        "subject": change.subject,
                        "setting": change.setting,
                        "recorded": change.recorded,
                        "otherwise": change.otherwise,
                        "words": change.words,
                    }
                    for change in other.changes
                ],
                "nothing": other.nothing,
            }
            for other in contrast.others
        ],
    }


# -- sentences -------------------------------------------------------------------------------------------------


def dispute_blocks(
    weighed: Weighing, statements: Mapping[str, Statement], verdicts: Mapping[str, Verdict]
) -> list[Block]:
    """Sentences that a decision weighs against each other: what the record makes of each, and where they part.

    Parameters
    ----------
    weighed
        What the sources say, weighed.
    statements
        By id.
    verdicts
        Of function statements, by id.

    Returns
    -------
    list of block
        Nothing where no decision weighs sentences.
    """
    entries = [_entry(dispute, statements, verdicts) for dispute in weighed.disputes]
    if not entries:
        return []
    said = "What the record does under each sentence; where they part, what is done and what is then seen."
    return [Heading("Where sentences of the sources differ"), Paragraph(said), *entries]


def _entry(dispute: Dispute, statements: Mapping[str, Statement], verdicts: Mapping[str, Verdict]) -> Entry:
    notes = [
        f"{side}: {_sentence_words(statements[name], verdicts.get(name))}"
        for side, names in (("adopted", dispute.adopted), ("set aside", dispute.rejected))
        for name in names
        if name in statements
    ]
    parting = _parting(dispute, verdicts)
    notes += [f"they part: {parting}"] if parting else []
    notes.append(f"decided: {dispute.decision.because}")
    if dispute.decision.dissent:
        notes.append(f"dissent: {dispute.decision.dissent}")
    return Entry("decided", dispute.decision.about or dispute.decision.name, tuple(notes), "plain")


def _sentence_words(statement: Statement, verdict: Verdict | None) -> str:
    word = "not judged" if verdict is None else VERDICT_WORDS[verdict.verdict]
    condition = f" {verdict.condition}" if verdict is not None and verdict.condition else ""
    source = str(statement.source or "no source")
    return f"{word}{condition}: “{statement.words}” ({source}) [{statement.id}]"


def _parting(dispute: Dispute, verdicts: Mapping[str, Verdict]) -> str:
    """What is done and seen where a sentence that was set aside, or one that was adopted, does not hold."""
    for name in (*dispute.rejected, *dispute.adopted):
        verdict = verdicts.get(name)
        if verdict is not None and verdict.seen:
            done = ", ".join(verdict.operations) or "with everything at rest"
            return f"{done}: {'; '.join(verdict.seen)}"
    return ""


def dispute_data(weighed: Weighing, verdicts: Mapping[str, Verdict]) -> Sequence[dict[str, Any]]:
    """Disputes between sentences as plain data.

    Parameters
    ----------
    weighed
        What the sources say, weighed.
    verdicts
        Of function statements, by id.

    Returns
    -------
    sequence of dict
        In order of the decisions.
    """
    return [
        {
            "decision": dispute.decision.id,
            "because": dispute.decision.because,
            "dissent": dispute.decision.dissent,
            "adopted": list(dispute.adopted),
            "rejected": list(dispute.rejected),
            "verdicts": {
                name: verdicts[name].verdict
                for name in (*dispute.adopted, *dispute.rejected)
                if name in verdicts
            },
            "parting": _parting(dispute, verdicts),
        }
        for dispute in weighed.disputes
    ]
