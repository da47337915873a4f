"""The pages of the open handbook: contents, a service with its plate, where, an item, sources, findings.

Pages are written whole by the server and read without a script; the script works the controls and fills in
what takes longer: tables of function and verdicts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.answers.pages import CAUTION
from loomlore.answers.sources import services_spoken_of
from loomlore.bench.entries import finding_entry, page_address, statement_entry
from loomlore.bench.markup import Child, Markup, joined, tag
from loomlore.bench.telling import rating_words, services_with, statements_of
from loomlore.evidence.disagreements import Weighing
from loomlore.findings import Finding, Severity
from loomlore.network.building import Plant
from loomlore.record.model import Statement

__all__ = [
    "contents_page",
    "findings_page",
    "frame",
    "item_page",
    "refusal_page",
    "sources_page",
    "where_page",
]

PAGES = (
    ("/", "Services"),
    ("/where", "Where"),
    ("/sources", "Sources"),
    ("/record/item", "Record"),
    ("/findings", "Pencil marks"),
)


def frame(
    opened: Opened,
    *,
    title: str,
    here: str,
    version: int,
    body: Child,
    marks: int = 0,
    standard: str = "",
    kind: str = "",
) -> Markup:
    """Set a page's body in the handbook's frame.

    Parameters
    ----------
    opened
        The dossier.
    title
        Of the page.
    here
        The path of the running head it belongs to.
    version
        Of the reading; the page asks whether it still is the latest.
    body
        What stands on the page.
    marks
        How many findings there are.
    standard
        The standard of fit that is looked at, by id.
    kind
        Which kind of page it is, for the script and the style.

    Returns
    -------
    Markup
        The whole document.
    """
    name = opened.dossier.header.title or "Untitled dossier"
    links = [
        _head_link(path, f"{words} {marks}" if path == "/findings" and marks else words, here, standard)
        for path, words in PAGES
    ]
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("title", f"{title} · {name}"),
        tag("link", rel="stylesheet", href="/assets/bench.css"),
        tag("link", rel="stylesheet", href="/assets/plate.css"),
        tag("script", type="module", src="/assets/bench.js"),
    )
    top = tag(
        "header",
        tag("a", "Go to the page", href="#page", class_="skip"),
        tag("p", tag("a", name, href=page_address("/", standard)), class_="name"),
        _standards(opened, standard),
        tag("nav", tag("ul", *links), aria_label="Pages"),
        class_="top",
    )
    foot = tag(
        "footer",
        tag("p", CAUTION, class_="caution"),
        tag(
            "p",
            tag("button", "An address for another browser", type="button", id="another"),
            class_="another",
        ),
        tag("p", id="another-said", role="status"),
    )
    note = tag("div", id="note", role="status", class_="note")
    page = tag(
        "body",
        top,
        tag("main", note, body, id="page", class_=kind),
        foot,
        data_version=version,
        data_standard=standard,
        data_kind=kind,
    )
    return joined(Markup("<!doctype html>\n"), tag("html", head, page, lang="en"))


def _head_link(path: str, words: str, here: str, standard: str) -> Markup:
    now = "page" if path == here else None
    return tag("li", tag("a", words, href=page_address(path, standard), aria_current=now))


def _standards(opened: Opened, standard: str) -> Markup | None:
    standards = opened.dossier.standards
    if not standards:
        return None
    chosen = standard or opened.dossier.header.standard or next(iter(standards))
    options = [
        tag("option", one.title or one.name, value=one.id, selected=one.id == chosen)
        for one in standards.values()
    ]
    return tag(
        "p",
        tag("label", "Standard of fit", for_="standard"),
        tag("select", *options, id="standard"),
        class_="standard",
    )


# -- contents ------------------------------------------------------------------------------------------------


def contents_page(opened: Opened, plant: Plant, standard: str) -> Markup:
    """The table of contents: every service with its plate, and what is not fitted.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    standard
        Its id.

    Returns
    -------
    Markup
        The page's body.
    """
    cables: dict[str, int] = {}
    for cable in plant.installation.dossier.cables.values():
        cables[cable.service] = cables.get(cable.service, 0) + 1
    rows = []
    for number, service in enumerate(opened.dossier.services.values(), 1):
        name = service.title or service.name
        if service.id in cables and service.id in plant.installation.dossier.services:
            link: Child = tag("a", name, href=page_address(f"/service/{quote(service.id)}", standard))
            more = _first_sentence(service.account)
        else:
            link, more = name, "not fitted in this standard"
        rows.append(
            tag(
                "li",
                tag("span", str(number), class_="plate-number"),
                tag("span", link, class_="title"),
                tag("span", more, class_="soft"),
            )
        )
    header = opened.dossier.header
    text = tag("p", header.text, class_="account") if header.text else None
    supply = header.supply.text if header.supply is not None else ""
    return_ = "airframe return" if header.return_ == "earth" else "two-wire"
    poles = {"negative": "negative earthed", "positive": "positive earthed"}.get(
        header.earthed, "neither pole earthed"
    )
    kicker = ", ".join(part for part in (supply, return_, poles) if part)
    return joined(
        tag("p", kicker, class_="kicker"),
        tag("h1", header.title or "Untitled dossier"),
        text,
        tag("h2", "Plates"),
        tag("ol", *rows, class_="contents"),
    )


def _first_sentence(account: str) -> str:
    first, point, _ = account.partition(". ")
    return first + ("." if point else "")


# -- where, and an item --------------------------------------------------------------------------------------


def where_page(
    opened: Opened, plant: Plant, standard: str, asked: str, drawings: Sequence[str], found: Sequence[str]
) -> Markup:
    """Where things are: the search, what it found, and the place plan.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    standard
        Its id.
    asked
        What was searched for.
    drawings
        Place plans as SVG.
    found
        Items found, best first.

    Returns
    -------
    Markup
        The page's body.
    """
    form = tag(
        "form",
        tag("label", "Find an item, a cable or a place by any of its names", for_="asked"),
        tag("input", type="search", id="asked", name="for", value=asked, autocomplete="off"),
        tag("input", type="hidden", name="standard", value=standard) if standard else None,
        tag("button", "Find", type="submit"),
        action="/where",
        method="get",
        class_="search",
        role="search",
    )
    rows = [_where_row(opened, plant, name, standard) for name in found]
    if asked and not rows:
        result: Child = tag(
            "p", f"Nothing in the record is called “{asked}”. Both vocabularies were tried.", role="status"
        )
    else:
        head = tag(
            "thead", tag("tr", *[tag("th", words, scope="col") for words in ("what", "where", "services")])
        )
        result = _wide(tag("table", head, tag("tbody", *rows)), "What was found") if rows else None
    plan = tag("div", *map(Markup, drawings), class_="drawings plan") if drawings else None
    return joined(tag("h1", "Where things are"), form, result, plan)


def _wide(table: Markup, label: str) -> Markup:
    return tag("div", table, class_="wide", role="region", tabindex=0, aria_label=label)


def _where_row(opened: Opened, plant: Plant, name: str, standard: str) -> Markup:
    dossier = opened.dossier
    if name in dossier.items:
        item = dossier.items[name]
        where: Child = _place_words(opened, item.place)
        services = services_with(plant, name)
        what: Child = tag("a", item.name, href=page_address(f"/item/{quote(name)}", standard))
    elif name in dossier.cables:
        cable = dossier.cables[name]
        where, services, what = (
            f"{cable.from_} to {cable.to}",
            (cable.service,),
            f"cable {cable.mark or name}",
        )
    else:
        place = dossier.places[name]
        where, services, what = _place_words(opened, name), (), place.name
    links = [
        tag(
            "a",
            dossier.services[s].title or dossier.services[s].name,
            href=page_address(f"/service/{quote(s)}", standard),
        )
        for s in services
        if s in dossier.services
    ]
    return tag("tr", tag("td", what), tag("td", where), tag("td", joined(*links, between=", ")))


def _place_words(opened: Opened, place: str) -> str:
    spot = opened.dossier.places.get(place)
    if spot is None:
        return place or "no place recorded"
    at = ""
    if spot.at is not None:
        aft, starboard, up = spot.at
        side = "to starboard" if starboard > 0 else "to port" if starboard < 0 else "on the centre line"
        at = (
            f"{aft:.2f} m aft, {abs(starboard):.2f} m {side}, {up:.2f} m up"
            if starboard
            else f"{aft:.2f} m aft, {side}, {up:.2f} m up"
        )
    return ", ".join(
        part for part in (spot.text.rstrip(".") or spot.name, spot.station, spot.zone, at) if part
    )


def item_page(opened: Opened, plant: Plant, name: str, standard: str) -> Markup:
    """An item: what it is, where, what lands on it, who says so.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    name
        The item's id.
    standard
        Id of the standard of fit.

    Returns
    -------
    Markup
        The page's body.
    """
    item = opened.dossier.items[name]
    equipment = plant.installation.equipment.get(name)
    facts: list[tuple[str, Child]] = [("kind", equipment.title if equipment else item.kind)]
    facts += [("rating", rating_words(item.rating))] if item.rating is not None else []
    facts.append(("where", _place_words(opened, item.place)))
    facts += [("earthed at", item.earth)] if item.earth else []
    facts += [("also called", ", ".join(item.also))] if item.also else []
    facts.append(("standing", item.standing))
    facts += [("sources", "; ".join(str(c) for c in item.sources))] if item.sources else []
    links = [
        tag("a", opened.dossier.services[s].title or s, href=page_address(f"/service/{quote(s)}", standard))
        for s in services_with(plant, name)
        if s in opened.dossier.services
    ]
    facts += [("services", joined(*links, between=", "))] if links else []
    rows = [
        tag(
            "tr",
            *[
                tag("td", words)
                for words in (end.rpartition(".")[2], cable.mark or cable.id, other, cable.colour)
            ],
        )
        for cable in opened.dossier.cables.values()
        for end, other in ((cable.from_, cable.to), (cable.to, cable.from_))
        if end.rpartition(".")[0] == name
    ]
    head = tag(
        "thead", tag("tr", *[tag("th", w, scope="col") for w in ("terminal", "cable", "goes to", "colour")])
    )
    statements = [s for s in opened.dossier.statements.values() if s.about.partition(".")[0] == name]
    return joined(
        tag("h1", item.name),
        tag("p", item.text, class_="account") if item.text else None,
        tag("div", tag("h2", "Take care"), tag("p", equipment.hazard), class_="hazards")
        if equipment is not None and equipment.hazard
        else None,
        tag("dl", *[joined(tag("dt", what), tag("dd", said)) for what, said in facts], class_="facts"),
        tag("h2", "What lands on it"),
        _wide(tag("table", head, tag("tbody", *rows)), "Cables on it")
        if rows
        else tag("p", "No cable lands on it."),
        joined(tag("h2", "What the sources say of it"), *[statement_entry(s) for s in statements])
        if statements
        else None,
        tag("p", tag("a", "Its line in the record", href=f"/record/item#{quote(name)}"), class_="onward"),
    )


# -- sources -------------------------------------------------------------------------------------------------


def sources_page(opened: Opened, plant: Plant, weighed: Weighing) -> Markup:
    """What the sources say: documents, sentences about function, and disagreements side by side.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    weighed
        What the sources say of properties, weighed.

    Returns
    -------
    Markup
        The page's body.
    """
    documents = [
        tag(
            "tr",
            tag("td", one.id),
            tag("td", one.title or one.name),
            tag("td", ", ".join(p for p in (one.nature, one.date.text if one.date is not None else "") if p)),
            tag("td", one.describes),
            tag("td", one.held),
        )
        for one in opened.dossier.sources.values()
    ]
    head = tag(
        "thead",
        tag("tr", *[tag("th", w, scope="col") for w in ("cited as", "title", "what", "describes", "held")]),
    )
    disputed = [v for v in weighed.verdicts if v.state != "agreed"]
    agreed = len(weighed.verdicts) - len(disputed)
    statements = statements_of(opened, plant, "")
    return joined(
        tag("h1", "Sources"),
        tag(
            "section",
            tag("h2", "Documents"),
            _wide(tag("table", head, tag("tbody", *documents)), "Documents"),
        ),
        tag(
            "section",
            tag("h2", "Where they differ"),
            *[_dispute(v) for v in disputed],
            tag("p", f"On {agreed} other matters the sources agree.", class_="soft") if agreed else None,
            class_="disputes",
        ),
        tag(
            "section",
            tag("h2", "What they say of function"),
            tag(
                "p",
                tag("span", id="proofs-said", role="status"),
                " ",
                tag("button", "Stop", type="button", id="stop", hidden=True),
                class_="soft",
            ),
            *[_with_service(opened, plant, s) for s in statements],
            class_="statements",
        ),
    )


def _with_service(opened: Opened, plant: Plant, statement: Statement) -> Markup:
    """A sentence; the moves that break it are played on the plate of the first service it speaks of."""
    spoken = services_spoken_of(plant, statement)
    return statement_entry(statement, plate=next((s for s in opened.dossier.services if s in spoken), ""))


def _dispute(verdict: Any) -> Markup:
    decision = verdict.decision
    sides = [
        tag(
            "div",
            tag("p", tag("b", value)),
            tag("p", f"{count} witness{'es' if count != 1 else ''}", class_="soft"),
            *[
                tag("p", f"“{s.words}” ", tag("cite", str(s.source or "")))
                for s in verdict.matter.statements
                if s.says == value
            ],
            class_="side",
        )
        for value, count in verdict.witnesses.items()
    ]
    fit = f" (with {verdict.matter.fit})" if verdict.matter.fit else ""
    notes: list[Child] = []
    if decision is not None:
        by = f" ({decision.by})" if decision.by else ""
        notes.append(tag("p", f"Decided: {decision.because}{by}", class_="pencil"))
        notes += [tag("p", f"Dissent: {decision.dissent}", class_="pencil")] if decision.dissent else []
    if verdict.kept is False:
        notes.append(tag("p", "The record has another value than was decided.", class_="pencil"))
    if decision is None:
        about = quote(verdict.matter.about)
        notes.append(
            tag(
                "p", tag("a", "Write a decision", href=f"/record/decision?about={about}#add"), class_="onward"
            )
        )
    return tag(
        "div",
        tag(
            "h3",
            tag("span", verdict.state, class_="mark tone-" + _tone(verdict.state)),
            verdict.matter.about + fit,
        ),
        tag("div", *sides, class_="sides"),
        *notes,
        class_="dispute",
    )


def _tone(state: str) -> str:
    return {"in dispute": "bad", "decided": "plain"}.get(state, "good")


# -- findings ------------------------------------------------------------------------------------------------


def findings_page(findings: Sequence[Finding]) -> Markup:
    """Everything wrong or doubtful, each with its place in the text and what to do.

    Parameters
    ----------
    findings
        In the order of the text.

    Returns
    -------
    Markup
        The page's body.
    """
    if not findings:
        return joined(
            tag("h1", "Pencil marks"), tag("p", "Nothing is wrong with the text or its connections.")
        )
    counted = [
        (word, sum(f.severity is s for f in findings))
        for s, word in ((Severity.ERROR, "error"), (Severity.WARNING, "warning"), (Severity.NOTE, "note"))
    ]
    said = ", ".join(f"{n} {word}{'s' if n != 1 else ''}" for word, n in counted if n)
    return joined(
        tag("h1", "Pencil marks"),
        tag("p", f"{said}, in the order of the text.", class_="account"),
        tag("div", *[finding_entry(f) for f in findings], class_="pencilled"),
    )


def refusal_page(title: str, words: Sequence[str]) -> Markup:
    """A page that only says what is wrong, where there is no record to be shown.

    Parameters
    ----------
    title
        What is wrong.
    words
        Why, and what to do.

    Returns
    -------
    Markup
        The whole document.
    """
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("title", title),
        tag("link", rel="stylesheet", href="/assets/bench.css"),
    )
    body = tag("body", tag("main", tag("h1", title), *[tag("p", one) for one in words]))
    return joined(Markup("<!doctype html>\n"), tag("html", head, body, lang="en"))
