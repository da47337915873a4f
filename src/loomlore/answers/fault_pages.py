"""The page of ``faults``: in short first, then the dangers, the sneak paths, the services, the gravest faults.

What does the same is one entry: the likeliest fault stands for the others, which are counted. A page that is not
asked for everything says how much it leaves out and how to get it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from loomlore.answers.pages import Block, Entry, Heading, Paragraph, Table
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.criticality import SEVERITIES, Rated, services_criticality, severity_of
from loomlore.faults.effects import Effect, FaultStudy, effect_words
from loomlore.faults.hazards import Firing, Hazard, Hazards
from loomlore.faults.modes import MODES, Fault
from loomlore.faults.pairing import PairStudy, Twosome
from loomlore.faults.sneaks.sneak import Sneak
from loomlore.faults.terminals import place_words, thing_words
from loomlore.network.building import Plant

__all__ = [
    "MOST_ROWS",
    "effect_blocks",
    "firing_blocks",
    "hazard_blocks",
    "pair_blocks",
    "short_blocks",
    "sneak_blocks",
]

MOST_ROWS = 40
"""Rows of a table on a page where not everything is asked for."""

MOST_ENTRIES = 8
"""Entries of one kind there."""

SNEAK_MARKS = {
    "path": "sneak path",
    "indication": "false light",
    "label": "wrong label",
    "timing": "restless",
}

CLASS_WORDS = {
    "I": "can kill",
    "II": "fire, or several services at once",
    "III": "a service lost, working unasked, or misread",
    "IV": "dimmer or brighter, or nothing seen",
}

JUDGED = (
    "Rates rank faults against each other and promise nothing: base rates and shares are largely from memory "
    "of the printed tables, the rest is our judgement, and no table knows an aeroplane of this age."
)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


# -- in short --------------------------------------------------------------------------------------


def short_blocks(
    study: FaultStudy | None,
    rated: Sequence[Rated],
    sneaks: Sequence[Sneak] | None,
    hazards: Hazards | None,
) -> Iterator[Block]:
    """What was found, in one paragraph.

    Parameters
    ----------
    study, rated
        Every single fault, and its severity.
    sneaks
        Sneak paths.
    hazards
        Hazards.

    Yields
    ------
    Block
        One paragraph.
    """
    said: list[str] = []
    if study is not None:
        counts = Counter(r.severity for r in rated)
        grades = [f"{counts[g]} of class {g} ({CLASS_WORDS[g]})" for g in SEVERITIES if counts[g]]
        said.append(
            f"{len(study.faults):,} single faults in {len(study.situations)} situations: {listed(grades)}"
        )
        said.append(f"{len(study.hidden):,} are hidden: nobody sees them in any situation")
    if hazards is not None:
        grave = sum(h.grave for h in hazards.hazards)
        said.append(f"{grave or 'no'} danger{'s need' if grave > 1 else ' needs'} one fault only")
    if sneaks is not None:
        well = sum(s.fault is None for s in sneaks)
        said.append(
            f"{well or 'no'} sneak path{'s are' if well > 1 else ' is'} there with everything in order, "
            f"{len(sneaks) - well or 'none'}{' more' if well else ''} with one fault"
        )
    yield Paragraph(f"In short: {'; '.join(said)}.")


# -- hazards ---------------------------------------------------------------------------------------


def hazard_blocks(plant: Plant, found: Hazards, service: str, *, everything: bool) -> Iterator[Block]:
    """Dangers, the gravest first; those that are alike on either side are one entry.

    Parameters
    ----------
    plant
        The installation.
    found
        Hazards.
    service
        The one asked for; "" for all.
    everything
        Whether each stands by itself, with every fault that does it.

    Yields
    ------
    Block
        A heading, and an entry for each.
    """
    yield Heading("Hazards")
    if not found.hazards:
        whose = "This service" if service else "This record"
        yield Paragraph(f"{whose} has nothing explosive, no magneto, no starter and no pump in a tank.")
    ordered = sorted(found.hazards, key=lambda h: not h.grave)
    groups: dict[tuple[object, ...], list[Hazard]] = {}
    for hazard in ordered:
        key = (
            (hazard.name,)
            if everything
            else (hazard.kind, hazard.grave, len(hazard.threats), _by_mode(hazard))
        )
        groups.setdefault(key, []).append(hazard)
    for group in groups.values():
        first, others = group[0], [thing_words(plant, h.item) for h in group[1:]]
        same = f" The same holds of {listed(others)}, by {'its' if len(others) == 1 else 'their'} own parts."
        notes = [first.look, f"Name{'s' if others else ''}: {', '.join(h.name for h in group)}."]
        if everything and first.threats:
            notes.append(f"Faults: {', '.join(t.fault.id for t in first.threats)}.")
        mark, tone = _mark(first)
        yield Entry(mark, f"{first.words}{same if others else ''}", tuple(notes), tone)


def _by_mode(hazard: Hazard) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(Counter(t.fault.mode for t in hazard.threats).items()))


def _mark(hazard: Hazard) -> tuple[str, str]:
    if hazard.kind == "cartridge-safe":
        return "safe", "good"
    if hazard.kind == "cartridge":
        return ("ONE FAULT", "bad") if hazard.grave else ("one and one", "doubt")
    return hazard.kind.replace("-", " "), "doubt"


def firing_blocks(plant: Plant, pairs: Mapping[str, Firing], most: int) -> Iterator[Block]:
    """Pairs of faults that fire a cartridge.

    Parameters
    ----------
    plant
        The installation.
    pairs
        By item.
    most
        Rows at most.

    Yields
    ------
    Block
        A table for each cartridge.
    """
    if not pairs:
        return
    yield Heading("Pairs of faults that fire a cartridge, armed and with nothing touched")
    alike: dict[tuple[object, ...], list[str]] = {}
    for item, firing in pairs.items():
        same = tuple((pair.first.id, pair.second.id, pair.result) for pair in firing.pairs)
        alike.setdefault((firing.tried, firing.of, same), []).append(item)
    for items in alike.values():
        firing = pairs[items[0]]
        yield Heading(listed([name_of(plant, item) for item in items]), 3)
        yield Paragraph(f"Tried: {firing.tried:,} of {firing.of:,} pairs, the likelier first.")
        if not firing.pairs:
            yield Paragraph("None of them reaches it.")
            continue
        rows = tuple(
            (pair.first.words, pair.second.words, pair.result.replace("-", " "))
            for pair in firing.pairs[:most]
        )
        yield Table(("one", "and the other", "it is then"), rows)
        if len(firing.pairs) > most:
            yield Paragraph(f"{len(firing.pairs) - most} more pairs: --all.")


# -- sneak paths -----------------------------------------------------------------------------------


def sneak_blocks(sneaks: Sequence[Sneak], *, everything: bool, whole: bool) -> Iterator[Block]:
    """Sneak paths with all well, then those that one fault opens.

    Parameters
    ----------
    sneaks
        Both.
    everything
        Whether all of them are shown.
    whole
        Whether the whole way is told of those under a fault.

    Yields
    ------
    Block
        Entries under two headings.
    """
    well = [s for s in sneaks if s.fault is None]
    yield Heading("Sneak paths with everything in order")
    if not well:
        yield Paragraph("None found in any setting of any service.")
    for sneak in well:
        yield _sneak_entry(sneak, "bad" if sneak.kind in ("path", "label") else "doubt", whole=True)
    under = [s for s in sneaks if s.fault is not None]
    yield Heading("Sneak paths that one fault opens")
    shown = under if everything else _most_telling(under)
    for sneak in shown:
        yield _sneak_entry(sneak, "doubt", whole=whole)
    if len(under) > len(shown):
        yield Paragraph(
            f"{len(under) - len(shown)} more, of which {_kinds(under[len(shown) :])}: --all, or --service ID."
        )
    if not under:
        yield Paragraph("None found.")


def _most_telling(under: Sequence[Sneak]) -> list[Sneak]:
    """Those under which something works unasked; of what is left the first."""
    works = [s for s in under if s.loads and s.kind == "path"]
    others = [s for s in under if s not in works]
    return (works + others)[: max(MOST_ENTRIES, 0)]


def _kinds(sneaks: Sequence[Sneak]) -> str:
    counts = Counter(SNEAK_MARKS[s.kind] for s in sneaks)
    return listed(
        [f"{n} {mark}{'s' if n > 1 and mark != 'restless' else ''}" for mark, n in counts.most_common()]
    )


def _sneak_entry(sneak: Sneak, tone: str, *, whole: bool) -> Entry:
    notes = [sneak.look]
    if sneak.way and whole:
        notes.append(f"The current goes {sneak.way}.")
    notes.append(f"Name: {sneak.name}.")
    return Entry(SNEAK_MARKS[sneak.kind], sneak.words, tuple(notes), tone)


# -- single faults ---------------------------------------------------------------------------------


def effect_blocks(
    plant: Plant,
    study: FaultStudy,
    rated: Sequence[Rated],
    service: str,
    *,
    everything: bool,
    dangers: bool,
) -> Iterator[Block]:
    """Every single fault: by service, the gravest, by what is seen, and what is hidden.

    Parameters
    ----------
    plant
        The installation.
    study, rated
        Every single fault, and its severity.
    service
        The one asked for; "" for all.
    everything
        Whether every row is shown.
    dangers
        Whether what can kill stands on the page already, among the hazards.

    Yields
    ------
    Block
        Tables and entries.
    """
    yield Heading("Every single fault")
    hours = rated[0].hours if rated else 0.0
    yield Paragraph(
        f"{study.cases:,} cases worked out; criticality over {hours:.3g} h of the record's phases. {JUDGED}"
    )
    yield _service_table(plant, study, rated)
    yield Heading("Gravest first", 3)
    yield from _gravest(plant, study, rated, everything=everything, dangers=dangers)
    if service or everything:
        most = 10**9 if everything else MOST_ROWS
        yield Heading("Fault by fault", 3)
        yield Table(
            ("class", "level", "fault", "what the crew sees", "look at"),
            tuple(_row(plant, study, row) for row in rated[:most]),
        )
        if len(rated) > most:
            yield Paragraph(f"{len(rated) - most} more: --all.")
        yield Heading("By what is seen", 3)
        rows = tuple(_symptom_rows(plant, study, service))
        yield Table(
            ("what is seen", "of", "in situations", "faults that do it, the likelier first"), rows[:most]
        )
    else:
        yield Paragraph(
            "Fault by fault, and which faults are behind what is seen: --service ID for one service, --all for "
            "everything. What is seen already: `loomlore locate`."
        )
    hidden = study.hidden
    if hidden:
        yield Heading("Hidden: nobody sees these in any situation", 3)
        counts = Counter(MODES[f.mode] for f in hidden)
        modes = listed([f"{n} {mode}" for mode, n in counts.most_common()])
        yield Paragraph(
            f"{len(hidden):,} faults: {modes}. They are found by the cards (continuity, bonding, insulation, fuses "
            "as fitted), not by the crew: `loomlore cards`."
        )


LOST, WRONG = ("lost", "weak", "stopped"), ("unasked", "misreads", "live", "fires", "above-no-fire")


def _service_table(plant: Plant, study: FaultStudy, rated: Sequence[Rated]) -> Table:
    numbers = services_criticality(rated)
    hidden = {f.id for f in study.hidden}
    rows = []
    for service, record in plant.installation.dossier.services.items():
        own = [r for r in rated if service in r.fault.services]
        if not own:
            continue
        counts = Counter(r.severity for r in own)
        kinds = [{c.kind for e in study.effects.get(r.fault.id, ()) for c in e.changes} for r in own]
        rows.append(
            (
                record.title or service,
                str(len(own)),
                *(str(counts.get(grade, 0)) for grade in SEVERITIES),
                str(sum(bool(k & set(LOST)) for k in kinds)),
                str(sum(bool(k & set(WRONG)) for k in kinds)),
                str(sum("blows" in k for k in kinds)),
                str(sum(r.fault.id in hidden for r in own)),
                f"{sum(numbers[service].values()) * 1e6:.3g}",
            )
        )
    columns = ("service", "faults", *SEVERITIES, "loses", "wrongly", "fuse", "hidden", "crit. e-6")
    return Table(columns, tuple(rows), right=tuple(range(1, len(columns))))


def _gravest(
    plant: Plant, study: FaultStudy, rated: Sequence[Rated], *, everything: bool, dangers: bool
) -> Iterator[Block]:
    """One entry for what several faults do alike, the gravest class first, in it what most faults do."""
    worst = min((r.severity for r in rated), key=SEVERITIES.index, default="IV")
    wanted = {"I", "II", "III"} - ({"I"} if dangers and not everything else set())
    if worst == "I" and "I" not in wanted:
        yield Paragraph("Class I stands above, among the hazards.")
    groups: dict[tuple[object, ...], list[tuple[Rated, Effect]]] = {}
    for row in rated:
        effects = study.effects.get(row.fault.id, ())
        if row.severity in wanted and effects:
            effect = min(effects, key=lambda e: SEVERITIES.index(severity_of(plant, e.changes)))
            groups.setdefault(_consequence(plant, effect, row.severity), []).append((row, effect))
    entries = sorted(groups.values(), key=lambda group: (SEVERITIES.index(group[0][0].severity), -len(group)))
    most = len(entries) if everything else 2 * MOST_ENTRIES
    for members in entries[:most]:
        yield _gravest_entry(plant, members)
    if not entries:
        yield Paragraph("Nothing graver than a lamp dimmer or brighter.")
    if len(entries) > most:
        yield Paragraph(f"{len(entries) - most} more consequences: --all, or --service ID.")


def _consequence(plant: Plant, effect: Effect, severity: str) -> tuple[object, ...]:
    kinds = {c.kind for c in effect.changes}
    if severity == "I":
        deadly = [(c.kind, c.item) for c in effect.changes if severity_of(plant, (c,)) == "I"]
        return severity, tuple(sorted(set(deadly)))
    if severity == "II" and "unfused" in kinds:
        return severity, "unfused"
    lost = tuple(sorted({c.service for c in effect.changes if c.kind in LOST}))
    return (
        (severity, lost) if severity == "II" else (severity, effect.changes[0].kind, effect.changes[0].name)
    )


def _gravest_entry(plant: Plant, members: Sequence[tuple[Rated, Effect]]) -> Entry:
    row, effect = max(members, key=lambda m: (m[0].fault.rate.of_mode, m[0].fault.likelihood))
    others = len(members) - 1
    more = (
        f" So {'do' if others > 1 else 'does'} {others} other single fault{'s' if others > 1 else ''}"
        if others
        else ""
    )
    names = [m[0].fault.id for m in members if m[0] is not row]
    few = f": {', '.join(names[:4])}{' and others' if len(names) > 4 else ''}." if others else ""
    deadly = sum(severity_of(plant, (c,)) == "I" for c in effect.changes)
    told = effect_words(plant, effect, most=min(3, deadly) if deadly else 3)
    text = f"{_sentence(row.fault.words)}; {told}.{more}{few}"
    mark = f"class {row.severity}"
    return Entry(mark, text, (_look(plant, row.fault),), "bad" if row.severity == "I" else "doubt")


def _look(plant: Plant, fault: Fault) -> str:
    where = place_words(plant, fault.place).removeprefix(", ")
    return f"{fault.look} Where: {where}." if where and where not in fault.look else fault.look


def _row(plant: Plant, study: FaultStudy, row: Rated) -> tuple[str, ...]:
    effects = [e for e in study.effects.get(row.fault.id, ()) if e.changes]
    effects.sort(key=lambda e: SEVERITIES.index(severity_of(plant, e.changes)))
    seen = effect_words(plant, effects[0], most=3) if effects else "nothing"
    quiet = [c.words(plant) for e in study.effects.get(row.fault.id, ()) for c in e.quiet]
    if not effects and quiet:
        seen = f"hidden: {quiet[0]}, and stays lit on its other lamp"
    others = len(effects) - 1
    more = f"; and in {others} other situation{'s' if others > 1 else ''}" if others > 0 else ""
    return row.severity, row.level, row.fault.words, f"{seen}{more}", _look(plant, row.fault)


def _symptom_rows(plant: Plant, study: FaultStudy, service: str) -> Iterator[tuple[str, ...]]:
    """One row for each thing and what is wrong with it, the service's own first, the likeliest faults first."""
    merged: dict[tuple[str, str], tuple[dict[str, Fault], set[str], str]] = {}
    for fault in study.faults:
        for effect in study.effects.get(fault.id, ()):
            for change in effect.changes:
                known = merged.setdefault((change.name, change.kind), ({}, set(), change.service))
                known[0][fault.id] = fault
                known[1].add(effect.situation.id)
    services = plant.installation.dossier.services
    order = list(services)
    ranked = sorted(
        merged.items(),
        key=lambda entry: (
            entry[1][2] != service,
            order.index(entry[1][2]) if entry[1][2] in order else len(order),
        ),
    )
    for (name, kind), (faults, situations, of) in ranked:
        ordered = sorted(faults.values(), key=lambda f: (-f.rate.of_mode, -f.likelihood))
        more = f" and {len(ordered) - 4} more" if len(ordered) > 4 else ""
        title = services[of].title or of if of in services else ""
        seen = f"{name_of(plant, name)}: {kind.replace('-', ' ')}"
        yield seen, lowered(title), str(len(situations)), f"{', '.join(f.id for f in ordered[:4])}{more}"


# -- pairs -----------------------------------------------------------------------------------------


def pair_blocks(study: PairStudy, standard: str, *, everything: bool) -> Iterator[Block]:
    """Pairs of faults of a service: what neither does alone.

    Parameters
    ----------
    study
        Of the pairs.
    standard
        The standard of fit in which they were tried; "" where it is the page's own.
    everything
        Whether every pair has an entry.

    Yields
    ------
    Block
        How much was tried, then entries.
    """
    plant = study.plant
    titles = [plant.installation.dossier.services[s].title or s for s in study.services]
    fit = f", standard {standard}" if standard else ""
    yield Heading(f"Two faults at once: {listed(titles)}{fit}")
    which = (
        f"all {study.of_pairs:,}"
        if study.pairs == study.of_pairs
        else (f"the first {study.pairs:,} of {study.of_pairs:,}")
    )
    left = f" Broken off: {study.left} parts of the work are left." if study.left else ""
    several = "s" if len(study.situations) != 1 else ""
    yield Paragraph(
        f"Tried: {which} pairs in {len(study.situations)} situation{several}, {study.tried:,} cases. In "
        f"{study.excluded:,} more the two cannot be together, or one changes nothing as things then stand.{left} Told "
        "is what a pair does that neither does alone. Pairs that hide when they are alone come first, then those "
        "with an earth, a heavy fuse or a stuck contact, then the likelier."
    )
    if not study.found:
        yield Paragraph("No pair does anything that one of the two does not do alone.")
    groups: dict[tuple[object, ...], list[Twosome]] = {}
    for twosome in study.found:
        groups.setdefault((id(twosome),) if everything else _what(twosome), []).append(twosome)
    entries = list(groups.values())
    most = len(entries) if everything else 2 * MOST_ENTRIES
    for members in entries[:most]:
        yield _pair_entry(plant, members)
    if len(entries) > most:
        yield Paragraph(f"{len(entries) - most} more: --all.")


def _what(twosome: Twosome) -> tuple[object, ...]:
    changes = twosome.effects[0].changes
    return twosome.severity, twosome.hidden, changes[0].kind, changes[0].name


def _pair_entry(plant: Plant, members: Sequence[Twosome]) -> Entry:
    first = members[0]
    effect = first.effects[0]
    alone = " Nobody sees either alone." if first.hidden else ""
    others = len(members) - 1
    common = Counter(f.id for m in members for f in (m.first, m.second)).most_common(1)[0]
    with_it = ""
    if others:
        shared = f" with {common[0]}" if common[1] == len(members) else ""
        with_it = f" {others} other pair{'s do' if others > 1 else ' does'} the same{shared}."
    concerned = (*first.first.services, *first.second.services, *(c.service for c in effect.changes[:3]))
    situation = effect.situation.words(plant, concerned)
    does = listed([c.words(plant) for c in effect.changes[:3]])
    more = len(effect.changes) - 3
    rest = f" and {more} more thing{'s are' if more > 1 else ' is'} otherwise" if more > 0 else ""
    text = f"{_sentence(first.first.words)}, and {first.second.words}; {situation}: {does}{rest}.{alone}{with_it}"
    tone = "bad" if first.severity == "I" else "doubt"
    look = f"{first.first.look} {first.second.look}"
    return Entry(f"class {first.severity}", text, (look,), tone)
