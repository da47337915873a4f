"""A service as a spread of the open handbook: words left, live plate right, readings in the margin, controls below."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.behaviour.readings import items_of, name_of
from loomlore.bench.entries import counted, finding_entry, page_address, statement_entry
from loomlore.bench.markup import Child, Markup, joined, tag
from loomlore.bench.plates import LivePlate
from loomlore.bench.sittings import METERS
from loomlore.bench.telling import controls_of, place_of, size_words, statements_of
from loomlore.bench.workings import CARD_TITLES, worked_place
from loomlore.drawing.looks import ROLES
from loomlore.faults.terminals import terminal_words
from loomlore.findings import Finding, Severity
from loomlore.network.building import Plant

__all__ = ["service_page"]

OHMMETER = "ohmmeter, battery off"
"""Reads beside the installation, as it stands with its batteries off; it is no part of the circuit."""

MOST_MARKS = 8
"""Pencil marks that stand on a service's page; all of them are on their own page."""


def service_page(
    opened: Opened,
    plant: Plant,
    plate: LivePlate,
    standard: str,
    findings: Sequence[Finding],
    *,
    being_drawn: bool = False,
) -> Markup:
    """A service: its words on the left, its plate live, what is read in the margin, its controls along the foot.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    plate
        The plate, drawn.
    standard
        Id of the standard of fit.
    findings
        Of the whole record; those about this service are set as pencil notes.
    being_drawn
        Whether the plate is still to come; the page then says so, and asks for it.

    Returns
    -------
    Markup
        The page's body.
    """
    return joined(
        tag("section", *_opening(opened, plant, plate, findings), class_="opening"),
        tag(
            "section",
            tag("h2", "Plate", class_="unseen"),
            tag(
                "div",
                *map(Markup, plate.drawings),
                class_="drawings",
                id="drawings",
                tabindex=0,
                role="group",
                aria_label="Drawing; press an item or a cable for its card",
            )
            if plate.drawings
            else tag("p", "The plate is being drawn …", class_="soft", id="being-drawn", role="status")
            if being_drawn
            else tag("p", "Nothing of this service is fitted in this standard.", class_="soft"),
            tag(
                "p", "The plate goes on to the side: slide it.", class_="sideways", id="sideways", hidden=True
            ),
            tag(
                "div",
                _key(plate),
                tag("button", "Closer", type="button", id="closer", aria_pressed="false"),
                class_="under",
            ),
            class_="stage",
            aria_label="Plate",
            data_service=plate.service,
        ),
        _foot(plant, plate),
        _margin(plant, plate),
        tag(
            "article",
            *_words(opened, plant, plate, standard, findings),
            class_="words",
            aria_label="The service in words",
        ),
    )


def _opening(opened: Opened, plant: Plant, plate: LivePlate, findings: Sequence[Finding]) -> Iterable[Child]:
    service = opened.dossier.services[plate.service]
    feeds = [_lower(name_of(plant, feed)) for feed in service.feed]
    fed = f" · fed by {' or '.join(feeds)}" if feeds else " · no fused feed"
    yield tag("p", f"Plate {plate.number}{fed}", class_="kicker")
    yield tag("h1", plate.title)
    pencilled = _pencilled(opened, plate.service, findings)
    if pencilled:
        tone = "bad" if any(f.severity is Severity.ERROR for f in pencilled) else "doubt"
        said = f"{counted(pencilled)} in its record"
        yield tag("p", tag("a", said, href="#pencil-marks", class_=f"tone-{tone}"), class_="marked")
    yield tag("p", service.account, class_="account") if service.account else None


def _words(
    opened: Opened, plant: Plant, plate: LivePlate, standard: str, findings: Sequence[Finding]
) -> Iterable[Child]:
    service = opened.dossier.services[plate.service]
    yield tag("p", service.text, class_="account soft") if service.text else None
    hazards = _hazards(plant, plate.service)
    if hazards:
        yield tag("div", tag("h2", "Take care"), *[tag("p", words) for words in hazards], class_="hazards")
    pencilled = _pencilled(opened, plate.service, findings)
    marks = tag(
        "section",
        tag("h2", "Pencil marks"),
        *[finding_entry(f) for f in pencilled[:MOST_MARKS]],
        tag("p", f"And {len(pencilled) - MOST_MARKS} more, on the page of pencil marks.", class_="soft")
        if len(pencilled) > MOST_MARKS
        else None,
        class_="pencilled",
        id="pencil-marks",
    )
    wrong = any(f.severity is Severity.ERROR for f in pencilled)
    if wrong:  # what the plate and the proofs show then is not the installation
        yield marks
    yield tag(
        "section",
        tag("h2", "What you do, what you see"),
        tag("div", tag("p", "Being worked out …", class_="soft", role="status"), id="functions"),
        class_="functions",
    )
    statements = statements_of(opened, plant, plate.service)
    if statements:
        yield tag(
            "section",
            tag("h2", "What the sources say"),
            *[statement_entry(one) for one in statements],
            tag("p", id="proofs-said", role="status", class_="soft"),
            class_="statements",
        )
    procedures = _procedures(opened, plant, plate.service)
    if procedures:
        yield tag("section", tag("h2", "Procedures"), *procedures, class_="procedures")
    if pencilled and not wrong:
        yield marks
    yield _conductors(opened, plant, plate.service, standard)
    yield from _workings(plate.service, standard)
    yield _links(plate.service, standard)


def _conductors(opened: Opened, plant: Plant, service: str, standard: str) -> Markup:
    """Every item of the service with its terminals, every cable end by end, and who says so."""
    fitted = plant.installation
    items = [
        tag(
            "li",
            tag("a", equipment.item.name, href=page_address(f"/item/{quote(name)}", standard)),
            tag("span", f" {place_of(opened, equipment.item.place)}", class_="soft"),
            f": {', '.join(t for side in equipment.terminals.values() for t in side)}",
        )
        for name in items_of(fitted, service)
        if (equipment := fitted.equipment.get(name)) is not None
    ]
    cables = [
        tag(
            "li",
            tag("b", f"{cable.mark or cable.id} "),
            f"{terminal_words(plant, cable.from_)} to {terminal_words(plant, cable.to)}",
            tag(
                "span",
                f" {', '.join(part for part in (size_words(cable), cable.colour) if part)}",
                class_="soft",
            ),
            tag(
                "span",
                f" {cable.standing}: {'; '.join(map(str, cable.sources))}".rstrip(": "),
                class_="pencil",
            ),
        )
        for cable in fitted.dossier.cables.values()
        if cable.service == service
    ]
    return tag(
        "details",
        tag("summary", tag("h2", "Items, terminals, conductors")),
        tag("ul", *items, class_="listed"),
        tag("ul", *cables, class_="listed"),
        class_="working",
    )


def _workings(service: str, standard: str) -> Iterable[Markup]:
    for what, title in (
        ("cables", "Cables"),
        ("loads", "Loads, phase by phase"),
        ("effects", "What faults do"),
    ):
        address = page_address(f"/sheet/{what}/{quote(service)}", standard)
        yield worked_place(what, title, service=service, print_at=address)
    cards = [
        tag("li", tag("a", title, href=card_address(service, standard, card)))
        for card, title in (("", "All of them, in the order of work"), *CARD_TITLES.items())
    ]
    yield tag(
        "details",
        tag("summary", tag("h2", "Test cards to print")),
        tag("ul", *cards, class_="links"),
        class_="working",
    )


def card_address(service: str, standard: str, card: str) -> str:
    """The address of a test card as a sheet to print; of all where ``card`` is empty."""
    address = page_address(f"/sheet/cards/{quote(service)}", standard)
    return f"{address}{'&' if standard else '?'}card={card}" if card else address


def _links(service: str, standard: str) -> Markup:
    more = "&" if standard else "?"
    links = [
        tag(
            "a",
            "Find a fault in it",
            href=f"{page_address('/faults', standard)}{more}service={quote(service)}",
        ),
        tag("a", "Its lines in the record", href=f"/record/cable?service={quote(service)}"),
        tag(
            "a", "The plate as a sheet to print", href=page_address(f"/plate/{quote(service)}.svg", standard)
        ),
    ]
    return tag("ul", *[tag("li", link) for link in links], class_="onward links")


def _lower(name: str) -> str:
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def _hazards(plant: Plant, service: str) -> list[str]:
    named: dict[str, list[str]] = {}
    for item in items_of(plant.installation, service):
        equipment = plant.installation.equipment[item]
        if equipment.hazard:
            named.setdefault(equipment.hazard, []).append(equipment.item.name)
    return [f"{', '.join(names)}: {words}" for words, names in named.items()]


def _procedures(opened: Opened, plant: Plant, service: str) -> list[Markup]:
    found = []
    levers = {
        lever["id"].partition(".")[0]
        for group in controls_of(plant, service)[:2]
        for lever in group["levers"]
        if group["title"] in ("Controls", "What happens to it")
    }
    for procedure in opened.dossier.procedures.values():
        touched = {name.partition(".")[0] for step in procedure.steps for name in step.do}
        if not touched & levers:
            continue
        steps = [tag("li", step.text or _step_words(step.do)) for step in procedure.steps]
        found.append(
            tag(
                "div",
                tag("h3", procedure.title or procedure.name),
                tag("button", "Begin", type="button", class_="begin"),
                tag("button", "Next step", type="button", class_="next", disabled=True),
                tag("ol", *steps),
                class_="procedure",
                data_procedure=procedure.id,
                data_steps=len(steps),
            )
        )
    return found


def _step_words(do: Any) -> str:
    return ", ".join(f"{name.replace('-', ' ')}: {value}" for name, value in do.items()) or "look"


def _concerns(opened: Opened, service: str, finding: Finding) -> bool:
    word, _, name = finding.subject.partition(" ")
    if word == "service":
        return name == service
    if word == "cable":
        cable = opened.dossier.cables.get(name)
        return cable is not None and cable.service == service
    if word in ("item", "way"):
        cables = opened.dossier.cables.values()
        ends = {end for c in cables if c.service == service for end in (c.from_, c.to)}
        ends |= set(opened.dossier.services[service].feed)
        return name in ends if word == "way" else name in {end.rpartition(".")[0] for end in ends}
    return False


def _pencilled(opened: Opened, service: str, findings: Sequence[Finding]) -> list[Finding]:
    """Findings about a service, errors first."""
    found = [f for f in findings if _concerns(opened, service, f)]
    return sorted(found, key=lambda f: f.severity is not Severity.ERROR)


def _key(plate: LivePlate) -> Markup:
    """The key of the roles that this plate uses."""
    drawn = "".join(plate.drawings)
    used = [(role, letter, words) for role, (letter, words) in ROLES.items() if f"role-{role}" in drawn]
    rows = [
        tag("li", tag("span", class_=f"swatch swatch-{role}"), f"{letter} {words}".strip())
        for role, letter, words in used
    ]
    rows.append(tag("li", tag("span", class_="swatch swatch-dead"), "thin: dead as it stands"))
    return tag("ul", *rows, class_="key", aria_label="Key of the plate")


def _margin(plant: Plant, plate: LivePlate) -> Markup:
    things = [tag("option", "choose an item or a cable", value="")]
    things += [tag("option", f"{name_of(plant, name)}", value=name) for name in plate.items]
    things += [tag("option", f"cable {name}", value=name) for name in plate.names["cable"]]
    ends = {end: terminal_words(plant, end) for name in plate.items for end in _terminals(plant, name)}
    options = [tag("option", "the airframe", value="earth")]
    options += [
        tag("option", ends[end], value=end) for end in sorted(ends, key=lambda end: ends[end].casefold())
    ]
    meter = tag(
        "form",
        *_choice("meter-from", "From", "from", [*options[1:], *options[:1]]),
        *_choice("meter-to", "to", "to", options),
        *_choice("meter-with", "with", "with", [tag("option", sort) for sort in (*METERS, OHMMETER)]),
        tag("button", "Put it on", type="submit"),
        tag("button", "Take it off", type="button", id="meter-off", disabled=True),
        tag("p", id="meter-said", role="status", class_="reading"),
        id="meter",
    )
    return tag(
        "aside",
        tag("h2", "As it stands"),
        tag("div", id="fault-said", class_="fault-said", role="status"),
        tag("div", id="seen", aria_live="polite", class_="seen"),
        tag("details", tag("summary", "What was done"), tag("ol", id="steps"), open=True),
        tag(
            "p",
            tag("button", "Undo the last step", type="button", id="undo", disabled=True),
            tag("button", "Return to rest", type="button", id="rest"),
            class_="buttons",
        ),
        tag(
            "p",
            tag(
                "label",
                "Let time pass ",
                tag(
                    "select",
                    *[
                        tag("option", words, value=s)
                        for words, s in (
                            ("1 second", 1),
                            ("5 seconds", 5),
                            ("30 seconds", 30),
                            ("5 minutes", 300),
                        )
                    ],
                    id="seconds",
                ),
            ),
            tag("button", "Wait", type="button", id="wait"),
            class_="buttons",
        ),
        tag("h2", "In hand"),
        *_choice("hand", "Card of", "hand", things),
        tag("div", id="card", class_="card", aria_live="polite"),
        tag("h2", "Meter"),
        meter,
        class_="margin",
        aria_label="Readings and cards",
    )


def _choice(identity: str, words: str, name: str, options: Iterable[Markup]) -> tuple[Markup, Markup]:
    return tag("label", words, for_=identity), tag("select", *options, id=identity, name=name)


def _terminals(plant: Plant, name: str) -> list[str]:
    item = name if name in plant.installation.equipment else name.rpartition(".")[0]
    equipment = plant.installation.equipment.get(item)
    if equipment is None:
        return []
    listed = [f"{item}.{t}" for side in equipment.terminals.values() for t in side]
    way = name.rpartition(".")[2]
    kept = [t for t in listed if item == name or t.rpartition(".")[2] == way]
    return [t for t in kept if t in plant.network.node_of]


def _foot(plant: Plant, plate: LivePlate) -> Markup:
    groups = []
    for number, group in enumerate(controls_of(plant, plate.service)):
        levers = [_lever(lever) for lever in group["levers"]]
        body = tag("div", *levers, class_="levers")
        groups.append(
            tag(
                "details",
                tag("summary", group["title"]),
                body,
                open=bool(group["open"]),
                class_=f"group group-{number}",
            )
        )
    return tag(
        "section", tag("h2", "Controls", class_="unseen"), *groups, class_="foot", aria_label="Controls"
    )


def _lever(lever: dict[str, Any]) -> Markup:
    name, identity = lever["name"], lever["id"]
    field = f"lever-{identity}"
    if not lever["positions"]:
        step = (lever["high"] - lever["low"]) / 200
        return tag(
            "div",
            tag("label", name, for_=field, class_="legend"),
            tag(
                "input",
                type="range",
                id=field,
                min=lever["low"],
                max=lever["high"],
                step=f"{step:.12g}",
                value=lever["start"],
                data_lever=identity,
            ),
            tag("output", for_=field, data_amount=identity),
            class_="lever lever-range",
        )
    if lever["springs"] and len(lever["positions"]) == 2:
        pressed = next(p for p in lever["positions"] if p != lever["springs"])
        return tag(
            "fieldset",
            tag("legend", name),
            tag(
                "button",
                pressed if pressed != "pressed" else "press",
                type="button",
                class_="push",
                data_push=identity,
                data_to=pressed,
                data_back=lever["springs"],
                aria_pressed="false",
                aria_label=f"{name}: {pressed}",
            ),
            tag("label", tag("input", type="checkbox", data_hold=identity), " hold"),
            class_="lever",
        )
    if len(lever["positions"]) > 4:
        options = [
            tag("option", _shown(p), value=p, selected=p == lever["start"]) for p in lever["positions"]
        ]
        return tag(
            "div",
            tag("label", name, for_=field, class_="legend"),
            tag("select", *options, id=field, data_lever=identity),
            class_="lever",
        )
    radios = [
        tag(
            "label",
            tag("input", type="radio", name=field, value=p, checked=p == lever["start"], data_lever=identity),
            " ",
            _shown(p),
            data_back=lever["springs"] or None,
        )
        for p in lever["positions"]
    ]
    classes = "lever two" if len(radios) == 2 else "lever"
    return tag("fieldset", tag("legend", name), *radios, class_=classes)


def _shown(position: str) -> str:
    return position.replace("-", " ")
