"""The pages of the open handbook that are read: contents, sources, findings; and the frame of every page.

Pages are written whole by the server and read without a script; the script works the controls and fills in
what takes longer: tables of function and verdicts.
"""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.answers.pages import CAUTION
from loomlore.bench.disputes import dispute_entry
from loomlore.bench.entries import counted, finding_entry, page_address, statement_entry, wide
from loomlore.bench.markup import Child, Markup, joined, tag
from loomlore.evidence.disagreements import Weighing
from loomlore.findings import Finding
from loomlore.network.building import Plant
from loomlore.record.installation import Installation
from loomlore.record.model import Statement

__all__ = [
    "contents_page",
    "findings_page",
    "frame",
    "refusal_page",
    "sources_page",
]

PAGES = (
    ("/", "Services"),
    ("/faults", "Fault finding"),
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


def contents_page(opened: Opened, installation: Installation, standard: str) -> Markup:
    """The table of contents: every service with its plate, and what is not fitted.

    Parameters
    ----------
    opened
        The dossier.
    installation
        In one standard of fit.
    standard
        Its id.

    Returns
    -------
    Markup
        The page's body.
    """
    cables: dict[str, int] = {}
    for cable in installation.dossier.cables.values():
        cables[cable.service] = cables.get(cable.service, 0) + 1
    rows = []
    for number, service in enumerate(opened.dossier.services.values(), 1):
        name = service.title or service.name
        if service.id in cables and service.id in installation.dossier.services:
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
    from loomlore.bench.telling import statements_of  # brings proofs with it; the contents do without

    statements = statements_of(opened, plant, "")
    return joined(
        tag("h1", "Sources"),
        tag(
            "section",
            tag("h2", "Documents"),
            wide(tag("table", head, tag("tbody", *documents)), "Documents"),
        ),
        tag(
            "section",
            tag("h2", "Where they differ"),
            *[dispute_entry(opened, v) for v in disputed],
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
    from loomlore.behaviour.stating import services_spoken_of

    spoken = services_spoken_of(plant, statement)
    return statement_entry(statement, plate=next((s for s in opened.dossier.services if s in spoken), ""))


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
    return joined(
        tag("h1", "Pencil marks"),
        tag("p", f"{counted(findings)}, in the order of the text.", class_="account"),
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
