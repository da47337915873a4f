"""Where the sources differ: readings side by side, what hangs on it, and the decision, written where it is argued."""

from __future__ import annotations

from typing import Any

from loomlore.answers.opening import Opened
from loomlore.bench.entries import record_address
from loomlore.bench.markup import Child, Markup, tag
from loomlore.evidence.disagreements import Verdict

__all__ = ["dispute_entry"]

_TONES = {"in dispute": "bad", "decided": "plain"}


def dispute_entry(opened: Opened, verdict: Verdict) -> Markup:
    """A matter in which the sources differ.

    Parameters
    ----------
    opened
        The dossier.
    verdict
        How the matter stands.

    Returns
    -------
    Markup
        Its readings side by side, what was decided, the form to decide it, and room for what changes.
    """
    matter = verdict.matter
    fit = f" (with {matter.fit})" if matter.fit else ""
    return tag(
        "div",
        tag(
            "h3",
            tag("span", verdict.state, class_="mark tone-" + _TONES.get(verdict.state, "good")),
            tag("a", matter_words(opened, matter.about) + fit, href=record_address(opened, matter.about)),
        ),
        tag(
            "div",
            *[_side(verdict, value, count) for value, count in verdict.witnesses.items()],
            class_="sides",
        ),
        *_decided(verdict),
        tag(
            "details",
            tag("summary", "What changes with the other reading"),
            tag(
                "div",
                class_="worked",
                data_what="changes",
                data_about=matter.about,
                data_fit=matter.fit or None,
            ),
            class_="changing",
        ),
        tag(
            "details",
            tag("summary", "Change the decision" if verdict.decision is not None else "Decide it"),
            _form(verdict),
            class_="deciding",
        ),
        class_="dispute",
        id=f"dispute-{matter.about}-{matter.fit}",
    )


def matter_words(opened: Opened, about: str) -> str:
    """A matter as a heading: the thing by its name, and what of it.

    Parameters
    ----------
    opened
        The dossier.
    about
        As written, such as ``tail-lamp.rating``.

    Returns
    -------
    str
        ``Tail lamp: rating``.
    """
    name, _, key = about.rpartition(".")
    dossier = opened.dossier
    if name in dossier.cables:
        return f"Cable {dossier.cables[name].mark or name}: {key}"
    for things in (dossier.items, dossier.places, dossier.earths, dossier.services):
        if name in things:
            return f"{things[name].name}: {key}"
    return about


def _side(verdict: Verdict, value: str, count: int) -> Markup:
    recorded = verdict.matter.recorded
    adopted = verdict.adopted is not None and verdict.adopted.says == value
    return tag(
        "div",
        tag(
            "p",
            tag("b", value),
            tag("span", "adopted", class_="mark tone-good adopted") if adopted else None,
            tag("span", f" {count} witness{'es' if count != 1 else ''}", class_="soft"),
        ),
        *[
            tag("p", f"“{one.words}” ", tag("cite", _cited(one)), class_="said")
            for one in verdict.matter.statements
            if one.says == value
        ],
        class_="side is-adopted" if adopted and recorded is not None else "side",
    )


def _cited(statement: Any) -> str:
    illegible = "" if statement.legible else " (partly illegible)"
    return f"{statement.source or ''}{illegible}"


def _decided(verdict: Verdict) -> list[Child]:
    notes: list[Child] = []
    decision = verdict.decision
    if decision is not None:
        by = f" ({decision.by})" if decision.by else ""
        notes.append(tag("p", f"Decided: {decision.because}{by}", class_="pencil"))
        notes += [tag("p", f"Dissent: {decision.dissent}", class_="pencil")] if decision.dissent else []
    if verdict.kept is False:
        notes.append(tag("p", "The record has another value than was decided.", class_="pencil tone-bad"))
    return notes


def _form(verdict: Verdict) -> Markup:
    """The decision in words; it goes into the text of the record, that line only."""
    matter, decision = verdict.matter, verdict.decision
    field = f"{matter.about}-{matter.fit}"
    said = [one for one in matter.statements if one.source is not None]
    adopts = str(decision.adopts) if decision is not None and decision.adopts is not None else ""
    options = [tag("option", "none of them", value="", selected=verdict.adopted is None)]
    options += [
        tag(
            "option",
            f"{one.says} ({one.source})",
            value=adopts if one is verdict.adopted else str(one.source),
            selected=one is verdict.adopted,
        )
        for one in said
    ]
    because, by, dissent = (
        (decision.because, decision.by, decision.dissent) if decision is not None else ("", "", "")
    )
    return tag(
        "form",
        tag("label", "Follow", for_=f"adopts-{field}"),
        tag("select", *options, id=f"adopts-{field}", name="adopts"),
        tag("label", "Because", for_=f"because-{field}"),
        tag("textarea", because, id=f"because-{field}", name="because", rows=3, required=True),
        tag("label", "Who decides", for_=f"by-{field}"),
        tag("input", id=f"by-{field}", name="by", value=by or None, autocomplete="off"),
        tag("label", "What may be said against it", for_=f"dissent-{field}"),
        tag("input", id=f"dissent-{field}", name="dissent", value=dissent or None, autocomplete="off"),
        tag("button", "Write it down", type="submit"),
        tag("p", role="status", class_="pencil"),
        class_="decision",
        data_about=matter.about,
        data_fit=matter.fit or None,
        data_weighed="\n".join(dict.fromkeys(str(one.source) for one in said)),
        data_subject=f"decision {decision.id}" if decision is not None else None,
    )
