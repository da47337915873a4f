"""Fault finding: what is reported is entered, and a chart folds open check by check until the fault is proved.

The pages are written here as far as the record and the hunt's file go; the script puts in what is worked out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed
from loomlore.bench.entries import page_address
from loomlore.bench.hunts import Kept, is_well
from loomlore.bench.markup import Markup, joined, tag
from loomlore.findings import UnknownName
from loomlore.network.building import Plant

__all__ = ["begin_page", "hunt_page"]

BEWARE = (
    "Some checks are made with the supply on: keep clear of what turns, moves or gets hot, have a second person at "
    "the master switch, and isolate every cartridge first. Never an ohmmeter on a live circuit."
)


def begin_page(opened: Opened, plant: Plant, standard: str, service: str, kept: Sequence[Kept]) -> Markup:
    """Where a hunt is begun, or one from the shelf gone on with.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    standard
        Its id.
    service
        In which something is wrong, where that is known already.
    kept
        The hunts on the shelf.

    Returns
    -------
    Markup
        The page's body.

    Raises
    ------
    UnknownName
        Where no service is called so.
    """
    services = opened.dossier.services
    if service and service not in services:
        raise UnknownName("service", service, services)
    return joined(
        tag("h1", "Fault finding"),
        tag(
            "p",
            "Say what is seen or heard and should not be, or should be and is not. From that the suspects follow, "
            "and the check that tells most for its minutes.",
            class_="account",
        ),
        tag("p", BEWARE, class_="hazards"),
        tag("section", tag("h2", "What is wrong"), _report_form(opened, plant, service), class_="report"),
        tag(
            "section",
            tag("h2", "Hunts on the shelf"),
            tag("ul", *[_shelved(plant, standard, one) for one in kept], class_="shelf")
            if kept
            else tag(
                "p",
                "None yet. A hunt is a text file in the dossier's folder, and can be taken up again on any day.",
                class_="soft",
            ),
        ),
    )


def _report_form(opened: Opened, plant: Plant, service: str) -> Markup:
    wired = {cable.service for cable in plant.installation.dossier.cables.values()}
    options = [tag("option", "choose a service", value="")]
    options += [
        tag("option", one.title or one.name, value=one.id, selected=one.id == service)
        for one in opened.dossier.services.values()
        if one.id in wired
    ]
    return tag(
        "form",
        tag(
            "p",
            tag("label", "In which service? ", for_="hunted"),
            tag("select", *options, id="hunted", name="service"),
        ),
        tag("div", id="seeable"),
        tag(
            "fieldset",
            tag("legend", "The installation has been"),
            _radio("rebuilt", "yes", "worked on just now (crossed leads and bad joints come first)", on=True),
            _radio("rebuilt", "no", "in service (what fails with age comes first)", on=False),
        ),
        tag(
            "p",
            tag(
                "label",
                tag("input", type="checkbox", name="as_set", id="as-set"),
                " seen with the controls as they stand on the plates now",
            ),
            tag("span", id="as-set-said", class_="soft"),
        ),
        tag("p", tag("button", "Begin the hunt", type="submit"), class_="buttons"),
        tag("div", id="under-way", role="status"),
        id="report",
    )


def _radio(name: str, value: str, words: str, *, on: bool) -> Markup:
    return tag("label", tag("input", type="radio", name=name, value=value, checked=on), f" {words}")


def _shelved(plant: Plant, standard: str, kept: Kept) -> Markup:
    seen = "; ".join(_said(plant, one) for one in kept.seen if not is_well(one))
    answers = f"{kept.answers} check{'s' if kept.answers != 1 else ''} made"
    return tag(
        "li",
        tag(
            "a",
            seen or kept.name,
            href=page_address(f"/faults/{quote(kept.name)}", kept.standard or standard),
        ),
        tag("span", f" {kept.name[:10]}, {answers}", class_="soft"),
    )


def _said(plant: Plant, said: str) -> str:
    name, _, word = said.partition("=")
    return f"{name_of(plant, name.strip())}: {word.strip()}"


def hunt_page(opened: Opened, plant: Plant, name: str, data: Mapping[str, Any]) -> Markup:
    """One hunt: its chart on the left, folding open; what may be wrong in the margin.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in the hunt's standard of fit.
    name
        The hunt's name.
    data
        As stored.

    Returns
    -------
    Markup
        The page's body.
    """
    head = data.get("hunt", {})
    said = [str(one) for one in head.get("seen", ())]
    seen = "; ".join(_said(plant, one) for one in said if not is_well(one))
    well = listed([name_of(plant, one.partition("=")[0].strip()) for one in said if is_well(one)])
    services = [opened.dossier.services[s] for s in head.get("services", ()) if s in opened.dossier.services]
    titles = ", ".join(one.title or one.name for one in services)
    return joined(
        tag("p", f"Fault chart · {titles}" if titles else "Fault chart", class_="kicker"),
        tag("h1", seen or name),
        tag("p", f"As it should be: {well}.", class_="well") if well else None,
        tag("p", id="as-was", class_="soft"),
        tag("p", BEWARE, class_="hazards"),
        tag("div", id="under-way", role="status"),
        tag(
            "div",
            tag(
                "section",
                tag("h2", "The chart"),
                tag("ol", id="chart", class_="chart", aria_label="Fault chart"),
                aria_label="The chart",
                class_="charted",
            ),
            tag(
                "aside",
                tag("h2", "What may be wrong"),
                tag("div", id="suspects", aria_live="polite"),
                aria_label="What may be wrong",
                class_="suspected",
            ),
            class_="hunt",
            data_hunt=name,
        ),
        tag(
            "p",
            tag("a", "All hunts", href=page_address("/faults", str(head.get("standard", "")))),
            " · ",
            tag("button", "Throw this hunt away", type="button", id="drop", class_="link"),
            class_="onward",
        ),
    )
