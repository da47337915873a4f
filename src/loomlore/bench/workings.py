"""What a page works out when it is asked for: cables, loads, effects of faults, test cards of a service or an item.

Each comes from its answer, cut down to what the page is about, as plain blocks; a sheet to print has the whole card.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol
from urllib.parse import quote

from loomlore.answers.opening import Opened
from loomlore.answers.pages import Block as AnswerBlock
from loomlore.answers.pages import Entry, Heading, Paragraph, Table
from loomlore.bench.entries import page_address
from loomlore.bench.markup import Markup, joined, tag
from loomlore.bench.telling import services_with
from loomlore.evidence.disagreements import weigh
from loomlore.findings import UnknownName
from loomlore.network.building import Plant

__all__ = ["CARD_TITLES", "block_data", "progress", "sheet_page", "worked", "worked_place"]

Told = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Fold:
    """Lines that are shut away under one that says what they are."""

    text: str
    lines: tuple[str, ...]


Block = AnswerBlock | Fold
TITLES = {
    "functions": "Function",
    "cables": "Cables",
    "loads": "Loads",
    "effects": "Effects of faults",
    "cards": "Test cards",
    "changes": "What changes",
}
CARD_TITLES = {
    "continuity": "Continuity",
    "bonding": "Bonding",
    "insulation": "Insulation",
    "first-power": "First power",
    "drops": "Millivolt drop under load",
    "regulator": "Regulator and cut-out",
    "fuses": "Fuse ratings",
    "functions": "Function test",
}
TONES = {"passes": "good", "in doubt": "doubt", "fails": "bad"}


class WorksBeside(Protocol):
    """What is asked of the desk here."""

    def fresh(self) -> Opened:
        """The dossier as its files are now."""

    def worked(self, standard: str, *what: str) -> Any:
        """A part of a page, begun if it is not begun yet."""

    def stop_working(self, standard: str, *what: str) -> None:
        """Give up a part of a page."""


def progress(desk: WorksBeside, asked: Mapping[str, Any]) -> dict[str, Any]:
    """How far a part of a page is, and its blocks when it is done; begun if it is not yet.

    Parameters
    ----------
    desk
        With the dossier.
    asked
        ``what`` is wanted of which ``service`` or ``item``, in which ``standard``.

    Returns
    -------
    dict
        finished, failed, done, of, blocks.

    Raises
    ------
    UnknownName
        Where there is no such thing.
    """
    what, standard = str(asked.get("what")), str(asked.get("standard", ""))
    service, item, card = (str(asked.get(word, "")) for word in ("service", "item", "card"))
    if what == "changes":
        card = f"{asked.get('about', '')} {asked.get('fit') or ''}".strip()
    _known(desk.fresh(), what, service, item)
    if asked.get("cancel"):
        desk.stop_working(standard, what, service, item, card)
        return {"finished": False, "stopped": True}
    task = desk.worked(standard, what, service, item, card)
    return {
        "finished": task.finished,
        "failed": task.failed,
        "done": task.done,
        "of": task.of,
        "blocks": task.result or [],
    }


def worked(opened: Opened, standard: str, asked: Sequence[str], told: Told) -> list[dict[str, Any]]:
    """Work out a part of a page.

    Parameters
    ----------
    opened
        The dossier.
    standard
        Of fit.
    asked
        What, of which service or which item, and which test card.
    told
        Told (done, of how many).

    Returns
    -------
    list of dict
        Blocks as plain data.
    """
    what, service, item, card = asked
    plant = opened.plant(opened.fits(standard))
    services = [service] if service else list(services_with(plant, item))
    return [block_data(block) for block in _MADE[what](opened, standard, services, item, card, told)]


def _known(opened: Opened, what: str, service: str, item: str) -> None:
    if what not in TITLES:
        raise UnknownName("working", what, TITLES)
    if service and service not in opened.dossier.services:
        raise UnknownName("service", service, opened.dossier.services)
    if item and item not in opened.dossier.items:
        raise UnknownName("item", item, opened.dossier.items)
    if not service and not item and what != "changes":
        raise UnknownName("service", "", opened.dossier.services)


def block_data(block: Block) -> dict[str, Any]:
    """A block as plain data for the script.

    Parameters
    ----------
    block
        Of an answer's page.

    Returns
    -------
    dict
        With its ``kind``.
    """
    match block:
        case Heading(text, level):
            return {"kind": "heading", "text": text, "level": level}
        case Paragraph(text, quiet):
            return {"kind": "paragraph", "text": text, "quiet": quiet}
        case Table(columns, rows, right):
            return {"kind": "table", "columns": columns, "rows": rows, "right": right}
        case Fold(text, lines):
            return {"kind": "fold", "text": text, "lines": lines}
        case Entry(mark, text, notes, tone):
            return {"kind": "entry", "mark": mark, "text": text, "notes": notes, "tone": tone}


# -- function --------------------------------------------------------------------------------------------------


def _functions(
    opened: Opened, standard: str, services: list[str], item: str, card: str, told: Told
) -> Iterable[Block]:
    from loomlore.answers.functions import functions

    del card
    name = opened.dossier.items[item].name if item else ""
    data = functions(opened, services, standard=standard, progress=told).as_data()
    tables = [table for service in data["services"] for table in service["tables"]]
    for table in tables:
        wanted = [
            n for n, thing in enumerate(table["things"]) if not name or thing.lower().startswith(name.lower())
        ]
        things = tuple(table["things"][n] for n in wanted)
        rows = [(*row["done"], *(row["seen"][n] for n in wanted)) for row in table["rows"]]
        if wanted and rows:
            rest = (
                "otherwise",
                *[""] * (len(table["columns"]) - 1),
                *(table["otherwise"][n] for n in wanted),
            )
            yield Table((*table["columns"], *things), (*dict.fromkeys(map(tuple, rows)), rest))
        elif wanted:
            yield Paragraph(
                ", ".join(
                    f"{t}: {table['otherwise'][n]}, whatever is done"
                    for t, n in zip(things, wanted, strict=True)
                )
                + "."
            )
    if name and not any(
        thing.lower().startswith(name.lower()) for table in tables for thing in table["things"]
    ):
        yield Paragraph(
            "Nothing is seen or heard of it by itself; its service's page has what it does.", quiet=True
        )


# -- cables and loads ------------------------------------------------------------------------------------------


def _cables(
    opened: Opened, standard: str, services: list[str], item: str, card: str, told: Told
) -> Iterable[Block]:
    from loomlore.answers.cables import cables

    del card
    for number, service in enumerate(services):
        told(number, len(services))
        data = cables(opened, standard=standard, service=service, everything=True).as_data()
        ends = opened.dossier.cables
        listed = [
            one
            for one in data["cables"]
            if one["service"] == service and (not item or _lands(ends[one["cable"]], item))
        ]
        if len(services) > 1 and listed:
            yield Heading(_title(opened, service), 3)
        if not item:
            yield from _drops(data["drops"], opened.plant(opened.fits(standard)), service)
        if listed:
            rows = tuple(_cable_row(one) for one in listed)
            yield Table(("cable", "size", "m", "A", "may carry", "°C", ""), rows, right=(2, 3, 4, 5))
            for one in listed:
                if one["verdict"] != "passes":
                    words = "; ".join(one["reasons"]) or "Not enough is recorded to judge it."
                    yield Entry(
                        one["verdict"], f"{one['cable']}: {words}", (), TONES.get(one["verdict"], "doubt")
                    )
        yield Paragraph(
            f"Judged in air at {data['ambient']:g} °C by AC 43.13-1B, in the worst of {data['settings_tried']} "
            "settings. The current and the temperature are for good.",
            quiet=True,
        )


def _lands(cable: Any, item: str) -> bool:
    return item in (cable.from_.rpartition(".")[0], cable.to.rpartition(".")[0])


def _title(opened: Opened, service: str) -> str:
    found = opened.dossier.services[service]
    return found.title or found.name


def _cable_row(one: Mapping[str, Any]) -> tuple[str, ...]:
    amps, carries, warm = one["amps"], one["may_carry"], one["temperature"]
    return (
        one["cable"],
        str(one["size"] or "?").replace(" ", "\N{NO-BREAK SPACE}"),
        f"{one['length']:.2f}" if one["length"] is not None else "?",
        f"{amps:.2f}" if amps is not None else "?",
        f"{carries['value']:.1f}" if carries else "?",
        f"{warm['value']:.0f}" if warm else "?",
        one["verdict"],
    )


def _drops(drops: Iterable[Mapping[str, Any]], plant: Plant, service: str) -> Iterable[Block]:
    own = [d for d in drops if service in services_with(plant, d["load"].rpartition(".")[0])]
    for one in own:
        drop = f"{one['drop']['value']:.2f} V" if one["drop"] else "nobody can say"
        limits = " or ".join(f"{v['limit']['value']:g} V" for v in one["verdicts"] if v["limit"])
        verdict = "; ".join(dict.fromkeys(v["verdict"] for v in one["verdicts"])) or "no limit"
        words = f"{one['name']}, {one['amps']:.2f} A: the run to it drops {drop}{f' of {limits}' if limits else ''}."
        notes = (f"worst setting: {one['setting']}",) if one["setting"] else ()
        yield Entry(verdict, words, notes, TONES.get(verdict, "doubt"))


def _loads(
    opened: Opened, standard: str, services: list[str], item: str, card: str, told: Told
) -> Iterable[Block]:
    from loomlore.answers.loads import loads

    del item, card
    told(0, 1)
    named = standard or opened.dossier.header.standard or next(iter(opened.dossier.standards), "")
    found = loads(opened, standard=named).as_data()["standards"]
    for part in found:
        rows = []
        for phase in part["phases"]:
            for one in phase["services"]:
                if one["service"] in services:
                    share = f"{100 * one['share']:.0f} % of the time" if one["share"] < 1 else "all the time"
                    bus = f"{phase['bus_volts']:.1f}" if phase["bus_volts"] > 1 else "dead"
                    rows.append(
                        (
                            phase["title"],
                            f"{one['watts']:.0f}",
                            f"{one['amps']:.2f}",
                            one["duty"] or share,
                            bus,
                        )
                    )
        if rows:
            yield Table(("phase", "W", "A", "for", "bus, V"), tuple(rows), right=(1, 2, 4))
        else:
            yield Paragraph("In no phase of the record is it at work.", quiet=True)
        yield from _lasting(part, services)


def _lasting(part: Mapping[str, Any], services: list[str]) -> Iterable[Block]:
    for mooring in part.get("moorings", ()):
        used = {name: amount for name, amount in mooring["services"].items() if name in services}
        if used:
            yield Paragraph(
                f"Of the battery's {mooring['capacity_Ah']:.0f} A h at a mooring it uses "
                f"{sum(map(float, used.values())):.1f}."
            )


# -- faults ----------------------------------------------------------------------------------------------------

MOST_SEEN = 3


def _effects(
    opened: Opened, standard: str, services: list[str], item: str, card: str, told: Told
) -> Iterable[Block]:
    from loomlore.answers.faults import study_faults

    del card
    found: dict[str, dict[str, Any]] = {}
    plant = opened.plant(opened.fits(standard))
    for number, service in enumerate(services):
        told(number, len(services))
        data = study_faults(opened, service=service, standard=standard, parts=["effects"], everything=True)
        for fault in data.as_data()["faults"]:
            if not item or item in fault["items"]:
                found.setdefault(fault["id"], fault)
    yield from effect_blocks(plant, list(found.values()))


def effect_blocks(plant: Plant, faults: list[dict[str, Any]]) -> Iterable[Block]:
    """Single faults by what the crew sees of them, the likeliest first; what shows nowhere last.

    Parameters
    ----------
    plant
        For the names of places.
    faults
        As the answer about faults has them.

    Returns
    -------
    iterable of Block
        Each thing seen with the faults that show it, and what is hidden.
    """
    seen: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for fault in faults:
        seen.setdefault(_symptom(fault), []).append(fault)
    hidden = seen.pop((), [])
    order = sorted(seen.items(), key=lambda one: -sum(f["likelihood"] for f in one[1]))
    for words, alike in order:
        ranked = sorted(alike, key=lambda fault: -float(fault["likelihood"]))
        lead = ranked[0]["words"]
        yield Entry("", f"{_capital('; '.join(words))}.")
        more = f"{lead}, or one of {len(alike) - 1} more" if len(alike) > 1 else lead
        yield Fold(
            more, tuple(f"{f['words']}: {_lower(f['look'])}{_place(plant, f['place'])}" for f in ranked)
        )
    if hidden:
        count = f"{len(hidden)} fault{'s' if len(hidden) > 1 else ''}"
        yield Entry(
            "hidden",
            f"{count} that nothing shows, until it is looked for or a second one comes.",
            (),
            "doubt",
        )
        lines = (f"{f['words']}: {_lower(f['look'])}{_place(plant, f['place'])}" for f in hidden)
        yield Fold("All of them, and where to look", tuple(lines))
    if not faults:
        yield Paragraph("Nothing on the list of faults touches it.", quiet=True)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:].rstrip(".")


def _symptom(fault: Mapping[str, Any]) -> tuple[str, ...]:
    """The changes of the situation in which most is seen."""
    best: list[str] = []
    for effect in fault["effects"]:
        words = [change["words"].replace("the fuse fuse", "the fuse") for change in effect["changes"]]
        best = max(best, list(dict.fromkeys(_without_figures(w) for w in words)), key=len)
    more = [f"and {len(best) - MOST_SEEN} more"] if len(best) > MOST_SEEN else []
    return (*best[:MOST_SEEN], *more)


def _without_figures(words: str) -> str:
    """The same symptom of two faults may differ in the amperes that blow the fuse; the crew sees none."""
    return words.partition(" (")[0] if words.endswith(" A)") else words


def _place(plant: Plant, place: str) -> str:
    from loomlore.faults.terminals import place_words

    words = place_words(plant, place).removeprefix(", ") if place else ""
    return f" ({words})" if words else ""


# -- cards -----------------------------------------------------------------------------------------------------


def _cards(
    opened: Opened, standard: str, services: list[str], item: str, card: str, told: Told
) -> Iterable[Block]:
    from loomlore.answers.cards import cards

    del item
    answer = cards(opened, [card] if card else (), service=services[0], standard=standard, progress=told)
    # Its title and the caution stand on every page of the bench.
    return answer.page()[1:-1]


# -- sources ---------------------------------------------------------------------------------------------------


def _changes(
    opened: Opened, standard: str, services: list[str], item: str, card: str, told: Told
) -> Iterable[Block]:
    """What becomes of the installation with each reading of one matter that the record has not."""
    from loomlore.answers.disputes import change_notes
    from loomlore.rivals.contrasting import contrasts

    del services, item
    told(0, 1)
    about, _, fit = card.partition(" ")
    weighed = weigh(opened.dossier, opened.kinds, place_of=opened.reading.place_of)
    one = tuple(v for v in weighed.verdicts if v.matter.key == (about, fit))
    if not one:
        raise UnknownName("matter", about, [v.matter.about for v in weighed.verdicts])
    fits = opened.fits(standard)
    lines = [
        line
        for found in contrasts(
            opened.dossier, opened.kinds, replace(weighed, verdicts=one), opened.plant, fits
        )
        for line in change_notes(found)
    ]
    yield from _in_entries(lines)


def _in_entries(lines: Sequence[str]) -> Iterable[Block]:
    """Each reading an entry, what it changes its notes."""
    said, notes = "", list[str]()
    for line in lines:
        if line.startswith("  - "):
            notes.append(line[4:])
            continue
        if said:
            yield Entry("", said, tuple(notes))
        said, notes = _capital(line.removeprefix("what changes ")), []
    if said:
        yield Entry("", said, tuple(notes))
    else:
        yield Paragraph("No source has another reading than the record.", quiet=True)


_MADE: dict[str, Callable[[Opened, str, list[str], str, str, Told], Iterable[Block]]] = {
    "functions": _functions,
    "cables": _cables,
    "loads": _loads,
    "effects": _effects,
    "cards": _cards,
    "changes": _changes,
}


# -- places on a page ------------------------------------------------------------------------------------------


def worked_place(what: str, title: str, *, service: str = "", item: str = "", print_at: str = "") -> Markup:
    """A part of a page that is worked out when it is opened.

    Parameters
    ----------
    what
        Of ``TITLES``.
    title
        Its heading.
    service
        Of which service.
    item
        Or of which item.
    print_at
        Address of the same as a sheet to print.

    Returns
    -------
    Markup
        Shut.
    """
    link = (
        tag("p", tag("a", "The same as a sheet to print", href=print_at), class_="onward")
        if print_at
        else None
    )
    return tag(
        "details",
        tag("summary", tag("h2", title)),
        tag("div", class_="worked", data_what=what, data_service=service or None, data_item=item or None),
        link,
        class_="working",
    )


def sheet_page(
    opened: Opened, plant: Plant, what: str, of: str, *, card: str = "", standard: str = ""
) -> tuple[str, Markup]:
    """A clean page of one working, to be printed.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation in one standard of fit.
    what
        Of ``TITLES``.
    of
        The service.
    card
        Only this test card.
    standard
        Id of the standard of fit.

    Returns
    -------
    tuple of str and Markup
        Title, and the page's body.

    Raises
    ------
    UnknownName
        Where there is no such service, working or card.
    """
    if what == "changes":
        raise UnknownName("sheet", what, [word for word in TITLES if word != "changes"])
    _known(opened, what, of, "")
    if of not in plant.installation.dossier.services:
        raise UnknownName("service in this standard of fit", of, plant.installation.dossier.services)
    if card and card not in CARD_TITLES:
        raise UnknownName("card", card, CARD_TITLES)
    title = f"{_title(opened, of)}: {CARD_TITLES.get(card, TITLES[what]).lower()}"
    body = joined(
        tag(
            "p",
            tag("button", "Print", type="button", id="print"),
            " ",
            tag("a", "Back to the service", href=page_address(f"/service/{quote(of)}", standard)),
            class_="buttons",
        ),
        tag("p", opened.dossier.header.title, class_="kicker"),
        tag("h1", title),
        tag("div", class_="worked", data_what=what, data_service=of, data_card=card or None, data_now="yes"),
    )
    return title, body
