"""Where things are, and what a thing is: the search with its two plans, and the page of an item."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.behaviour.proving import is_function
from loomlore.bench.entries import page_address, statement_entry, wide
from loomlore.bench.markup import Child, Markup, joined, tag
from loomlore.bench.telling import items_spoken_of, rating_words, services_with, size_words
from loomlore.bench.workings import worked_place
from loomlore.faults.terminals import terminal_words
from loomlore.network.building import Plant
from loomlore.record.model import AIRFRAME, Cable, Statement

__all__ = ["item_page", "looms_of", "where_page"]


def where_page(
    opened: Opened,
    plant: Plant,
    standard: str,
    asked: str,
    plans: Mapping[str, Sequence[str]] | None,
    found: Sequence[str],
) -> Markup:
    """Where things are: the search, what it found, the place plan and the loom plan beside it.

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
    plans
        Sheets as SVG, by title: places, looms; None where they are still being drawn.
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
        result = wide(tag("table", head, tag("tbody", *rows)), "What was found") if rows else None
    order = {place: str(number) for number, place in enumerate(opened.dossier.places, 1)}
    marked = " ".join(order[place] for place in dict.fromkeys(_places(opened, found)) if place in order)
    names = "|".join(words.lower() for name in found for words in _called(opened, name))
    if plans is None:
        awaited = tag("p", "The plans are being drawn …", class_="soft", id="plans-awaited", role="status")
        return joined(tag("h1", "Where things are"), form, result, tag("div", awaited, class_="plans"))
    drawn = [_plan(title, sheets, marked, names) for title, sheets in plans.items() if sheets]
    return joined(
        tag("h1", "Where things are"), form, result, tag("div", *drawn, class_="plans") if drawn else None
    )


def _called(opened: Opened, name: str) -> tuple[str, ...]:
    """How a thing is called on the loom plan."""
    if name in opened.dossier.items:
        return (opened.dossier.items[name].name,)
    cable = opened.dossier.cables.get(name)
    return (f"{cable.mark or name} ",) if cable is not None else ()


def looms_of(opened: Opened, found: Sequence[str]) -> tuple[str, ...]:
    """The looms in which something that was found lies, or a cable of it does.

    Parameters
    ----------
    opened
        The dossier.
    found
        Items, cables and places.

    Returns
    -------
    tuple of str
        In the order of the record.
    """
    wanted = set(found)
    along = {
        cable.along
        for name, cable in opened.dossier.cables.items()
        if name in wanted or wanted & {end.partition(".")[0] for end in (cable.from_, cable.to)}
    }
    through = {loom.id for loom in opened.dossier.looms.values() if wanted & set(loom.route)}
    return tuple(loom for loom in opened.dossier.looms if loom in along or loom in through)


def _plan(title: str, sheets: Sequence[str], marked: str, names: str) -> Markup:
    return tag(
        "section",
        tag("h2", title),
        tag(
            "button",
            "Closer",
            type="button",
            class_="closer",
            aria_pressed="false",
            aria_label=f"Closer: {title}",
        ),
        tag(
            "div",
            *map(Markup, sheets),
            class_="drawings plan",
            tabindex=0,
            role="group",
            aria_label=title,
            data_marked=marked if title == "Place plan" and marked else None,
            data_named=names if title == "Loom plan" and names else None,
        ),
    )


def _places(opened: Opened, found: Sequence[str]) -> list[str]:
    """The places of what was found: an item's own, a cable's two ends, a place."""
    dossier = opened.dossier
    places = []
    for name in found:
        if name in dossier.items:
            places.append(dossier.items[name].place)
        elif name in dossier.cables:
            ends = (dossier.cables[name].from_, dossier.cables[name].to)
            places += [_place_of(opened, end) for end in ends]
        else:
            places.append(name)
    return places


def _place_of(opened: Opened, end: str) -> str:
    item, _, terminal = end.rpartition(".")
    if item == AIRFRAME:
        earth = opened.dossier.earths.get(terminal)
        return earth.place if earth is not None else ""
    thing = opened.dossier.items.get(item.partition(".")[0])
    return thing.place if thing is not None else ""


def _where_row(opened: Opened, plant: Plant, name: str, standard: str) -> Markup:
    dossier = opened.dossier
    if name in dossier.items:
        item = dossier.items[name]
        where: Child = _place_words(opened, item.place)
        services = services_with(plant, name)
        what: Child = joined(
            tag("a", item.name, href=page_address(f"/item/{quote(name)}", standard)),
            tag("span", f" also {', '.join(item.also)}", class_="soft") if item.also else None,
        )
    elif name in dossier.cables:
        cable = dossier.cables[name]
        where, services, what = (
            f"{cable.from_} to {cable.to}{f', along {cable.along}' if cable.along else ''}",
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
    dossier = opened.dossier
    item, equipment = dossier.items[name], plant.installation.equipment.get(name)
    services = [one for one in services_with(plant, name) if one in dossier.services]
    hazard = equipment.hazard if equipment is not None else ""
    said = [s for s in dossier.statements.values() if s.about.partition(".")[0] == name]
    function = [s for s in dossier.statements.values() if is_function(s) and name in items_spoken_of(s)]
    return joined(
        tag("p", equipment.title if equipment is not None else item.kind, class_="kicker"),
        tag("h1", item.name),
        tag("p", item.text, class_="account") if item.text else None,
        tag("div", tag("h2", "Take care"), tag("p", hazard), class_="hazards") if hazard else None,
        _facts(opened, plant, name, standard, services),
        tag("h2", "Terminals, and what lands on them"),
        _landing(opened, plant, name),
        _said([*said, *function], services if function else (), opened, standard),
        *_measured(opened, name),
        *[
            worked_place(what, title, item=name)
            for what, title in (
                ("functions", "What makes it work"),
                ("cables", "Its cables"),
                ("loads", "Load, phase by phase"),
                ("effects", "If it fails"),
            )
            if services
        ],
        _onward(opened, name, standard, services),
    )


def _facts(opened: Opened, plant: Plant, name: str, standard: str, services: Sequence[str]) -> Markup:
    item = opened.dossier.items[name]
    where = tag(
        "a",
        _place_words(opened, item.place),
        href=page_address("/where", standard) + _for(item.name, standard),
    )
    facts: list[tuple[str, Child]] = []
    facts += [("rating", rating_words(item.rating))] if item.rating is not None else []
    facts.append(("where", where))
    facts += [("earthed at", item.earth)] if item.earth else []
    facts += [("also called", ", ".join(item.also))] if item.also else []
    facts.append(("standing", item.standing))
    facts += [("sources", "; ".join(str(c) for c in item.sources))] if item.sources else []
    links = [
        tag("a", _title(opened, one), href=page_address(f"/service/{quote(one)}", standard))
        for one in services
    ]
    facts += [("services", joined(*links, between=", "))] if links else []
    if name not in plant.installation.equipment:
        facts.append(("fitted", "not in this standard of fit"))
    return tag("dl", *[joined(tag("dt", what), tag("dd", said)) for what, said in facts], class_="facts")


def _for(name: str, standard: str) -> str:
    return f"{'&' if standard else '?'}for={quote(name)}"


def _title(opened: Opened, service: str) -> str:
    found = opened.dossier.services[service]
    return found.title or found.name


def _landing(opened: Opened, plant: Plant, name: str) -> Markup:
    """Every terminal with its cables, also those on which none lands."""
    on: dict[str, list[tuple[Cable, str]]] = {}
    equipment = plant.installation.equipment.get(name)
    if equipment is not None:
        on = {t: [] for side in equipment.terminals.values() for t in side}
    for cable in opened.dossier.cables.values():
        for end, other in ((cable.from_, cable.to), (cable.to, cable.from_)):
            if end.rpartition(".")[0] == name:
                on.setdefault(end.rpartition(".")[2], []).append((cable, other))
    if not on:
        return tag("p", "It has no terminals.")
    coloured = any(cable.colour for cables in on.values() for cable, _ in cables)
    heads = (
        "terminal",
        "cable",
        "goes to",
        "size",
        *(("colour",) if coloured else ()),
        "standing",
        "who says so",
    )
    rows = [
        row
        for terminal, cables in on.items()
        for row in _terminal_rows(plant, terminal, cables, coloured=coloured)
    ]
    head = tag("thead", tag("tr", *[tag("th", words, scope="col") for words in heads]))
    return wide(tag("table", head, tag("tbody", *rows)), "Terminals and cables")


def _terminal_rows(
    plant: Plant, terminal: str, cables: Sequence[tuple[Cable, str]], *, coloured: bool
) -> list[Markup]:
    if not cables:
        return [tag("tr", tag("td", terminal), tag("td", "no cable", colspan=5 + coloured, class_="soft"))]
    return [
        tag(
            "tr",
            tag("td", terminal),
            tag("td", tag("a", cable.mark or cable.id, href=_line_of(cable))),
            tag("td", terminal_words(plant, other)),
            tag("td", size_words(cable)),
            tag("td", cable.colour) if coloured else None,
            tag("td", cable.standing, class_="pencil"),
            tag("td", "; ".join(str(one) for one in cable.sources), class_="soft"),
        )
        for cable, other in cables
    ]


def _line_of(cable: Cable) -> str:
    return f"/record/cable?service={quote(cable.service)}#{quote(cable.id)}"


def _said(
    said: Sequence[Statement], proved_in: Sequence[str], opened: Opened, standard: str
) -> Markup | None:
    if not said:
        return None
    links = [
        tag(
            "a",
            opened.dossier.services[one].title or opened.dossier.services[one].name,
            href=page_address(f"/service/{quote(one)}", standard),
        )
        for one in proved_in
    ]
    return tag(
        "section",
        tag("h2", "What the sources say of it"),
        *[statement_entry(s) for s in said],
        tag("p", "Whether these hold is worked out under ", joined(*links, between=", "), ".", class_="soft")
        if links
        else None,
        class_="statements",
    )


def _measured(opened: Opened, name: str) -> list[Markup]:
    found = [
        one
        for one in opened.dossier.measurements.values()
        if any(of.partition(".")[0] == name for of in one.of)
    ]
    rows = [
        tag(
            "tr",
            tag("td", ", ".join(one.of)),
            tag("td", one.value.text if one.value is not None else ""),
            tag("td", one.as_),
            tag(
                "td",
                ", ".join(
                    part for part in (one.on.text if one.on is not None else "", one.by, one.meter) if part
                ),
            ),
        )
        for one in found
    ]
    if not rows:
        return []
    head = tag(
        "thead",
        tag("tr", *[tag("th", w, scope="col") for w in ("of", "value", "as", "when, who, with what")]),
    )
    return [tag("h2", "Measured"), wide(tag("table", head, tag("tbody", *rows)), "Measured")]


def _onward(opened: Opened, name: str, standard: str, services: Sequence[str]) -> Markup:
    links = [tag("li", tag("a", "Its line in the record", href=f"/record/item#{quote(name)}"))]
    for one in services:
        title, more = _title(opened, one), "&" if standard else "?"
        cards = page_address(f"/sheet/cards/{quote(one)}", standard)
        faults = f"{page_address('/faults', standard)}{more}service={quote(one)}"
        links.append(
            tag(
                "li",
                f"{title}: ",
                tag("a", "test cards", href=cards, aria_label=f"Test cards of {title}"),
                ", ",
                tag("a", "find a fault", href=faults, aria_label=f"Find a fault in {title}"),
            )
        )
    return tag("ul", *links, class_="onward links")
