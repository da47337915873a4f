"""``faults``: what every single fault does, sneak paths, and hazards, of one standard of fit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed
from loomlore.faults.criticality import SEVERITIES, Rated, criticality_table, services_criticality
from loomlore.faults.effects import FaultStudy, effect_words, fault_study
from loomlore.faults.hazards import Hazard, Hazards, Pair, firing_pairs, hazards_of
from loomlore.faults.modes import MODES
from loomlore.faults.situations import charges_of
from loomlore.faults.sneaking import Sneak, sneaks_under_faults, sneaks_with_all_well
from loomlore.faults.terminals import place_words, services_at
from loomlore.findings import UnknownName
from loomlore.network.building import Plant

__all__ = ["PARTS", "FaultsAnswer", "study_faults"]

PARTS = ("effects", "sneaks", "hazards")
"""What can be asked for."""

SNEAK_MARKS = {
    "path": "sneak path",
    "indication": "false light",
    "label": "wrong label",
    "timing": "restless",
}

MOST_ROWS = 40
"""Rows of a table on a page where not everything is asked for."""

JUDGED = (
    "Rates rank faults against each other and promise nothing: base rates and shares are largely from memory "
    "of the printed tables, the rest is our judgement, and no table knows an aeroplane of this age."
)


@dataclass(frozen=True, kw_only=True)
class FaultsAnswer:
    """What can go wrong, what it does, and whom it endangers."""

    title: str
    standard: str
    service: str
    plant: Plant
    study: FaultStudy | None = None
    rated: tuple[Rated, ...] = ()
    sneaks: tuple[Sneak, ...] | None = None
    hazards: Hazards | None = None
    pairs: Mapping[str, tuple[Pair, ...]] | None = None
    everything: bool = False

    @property
    def failed(self) -> bool:
        """Whether a cartridge is fired by one fault alone, or a sneak path is there with all well."""
        fires = (
            any(h.grave and h.kind == "cartridge" for h in self.hazards.hazards) if self.hazards else False
        )
        sneaks = any(s.fault is None and s.kind in ("path", "label") for s in self.sneaks or ())
        return fires or sneaks

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [
            Heading(f"{self.title}: faults, sneak paths, hazards", 1),
            Paragraph(f"Standard of fit: {self.standard}."),
        ]
        if self.hazards is not None:
            blocks += _hazard_blocks(self.hazards)
        if self.pairs is not None:
            blocks += _pair_blocks(self.plant, self.pairs, self._most)
        if self.sneaks is not None:
            blocks += _sneak_blocks(self.sneaks, self._most)
        if self.study is not None:
            blocks += _effect_blocks(self.plant, self.study, self.rated, self._most)
        return (*blocks, Paragraph(CAUTION, quiet=True))

    @property
    def _most(self) -> int:
        return 10**9 if self.everything else MOST_ROWS

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "faults",
            "title": self.title,
            "standard": self.standard,
            "service": self.service,
            "situations": _situations_data(self.plant, self.study),
            "faults": _faults_data(self.plant, self.study, self.rated),
            "criticality": services_criticality(self.rated),
            "sneaks": [_sneak_data(sneak) for sneak in self.sneaks or ()],
            "hazards": [_hazard_data(h) for h in self.hazards.hazards] if self.hazards else [],
            "pairs": _pairs_data(self.pairs or {}),
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def study_faults(
    record: Record,
    *,
    service: str = "",
    standard: str = "",
    parts: Iterable[str] = (),
    pairs: bool = False,
    severities: Mapping[str, str] | None = None,
    everything: bool = False,
) -> FaultsAnswer:
    """Study every single fault, the sneak paths and the hazards of an installation.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    service
        Faults of this service only; its id.
    standard
        A named standard of fit; the dossier's own where empty.
    parts
        Some of effects, sneaks and hazards; all where empty.
    pairs
        Also pairs of faults that fire a cartridge where neither does alone.
    severities
        Your own severity class (I to IV) by service, before ours.
    everything
        Every row, not only the gravest.

    Returns
    -------
    FaultsAnswer
        For one standard of fit.

    Raises
    ------
    UnknownName
        Where no service, standard, part or class is called so.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    wanted = _asked(plant, service, tuple(parts), severities or {})
    looks = "effects" in wanted or "sneaks" in wanted
    services = (service,) if service else ()
    study = fault_study(plant, services=services, keep="sneaks" in wanted) if looks else None
    header = opened.dossier.header
    return FaultsAnswer(
        title=header.title,
        standard=standard or header.standard or "the dossier's own",
        service=service,
        plant=plant,
        study=study if "effects" in wanted else None,
        rated=criticality_table(study, severities) if study is not None and "effects" in wanted else (),
        sneaks=_sneaks(plant, study, service) if study is not None and "sneaks" in wanted else None,
        hazards=_of_service(plant, hazards_of(plant), service) if "hazards" in wanted else None,
        pairs=_pairs(plant, service) if pairs else None,
        everything=everything,
    )


def _asked(
    plant: Plant, service: str, parts: tuple[str, ...], severities: Mapping[str, str]
) -> tuple[str, ...]:
    known = plant.installation.dossier.services
    for name in (*((service,) if service else ()), *severities):
        if name not in known:
            raise UnknownName("service", name, known)
    for part in parts:
        if part not in PARTS:
            raise UnknownName("part of the fault study", part, PARTS)
    for grade in severities.values():
        if grade not in SEVERITIES:
            raise UnknownName("severity class", grade, SEVERITIES)
    return parts or PARTS


def _sneaks(plant: Plant, study: FaultStudy, service: str) -> tuple[Sneak, ...]:
    well = tuple(
        s for s in sneaks_with_all_well(plant) if not service or service in s.services or s.kind == "label"
    )
    return (*well, *sneaks_under_faults(study))


def _of_service(plant: Plant, found: Hazards, service: str) -> Hazards:
    if not service:
        return found
    kept = tuple(h for h in found.hazards if service in services_at(plant, (h.item,), ()))
    return Hazards(charges=found.charges, hazards=kept)


def _pairs(plant: Plant, service: str) -> dict[str, tuple[Pair, ...]]:
    found = {}
    for number in charges_of(plant):
        item = plant.network.branches[number].item
        if not service or service in services_at(plant, (item,), ()):
            found[item] = firing_pairs(plant, number)
    return found


# -- blocks ------------------------------------------------------------------------------------------


def _hazard_blocks(found: Hazards) -> Iterator[Block]:
    yield Heading("Hazards")
    if not found.hazards:
        yield Paragraph("Nothing explosive, no magneto, no starter and no pump in a tank is in this record.")
    for hazard in found.hazards:
        mark, tone = _mark(hazard)
        yield Entry(mark, hazard.words, (hazard.look,), tone)


def _mark(hazard: Hazard) -> tuple[str, str]:
    if hazard.kind == "cartridge-safe":
        return "safe", "good"
    if hazard.kind == "cartridge":
        return ("ONE FAULT", "bad") if hazard.grave else ("one and one", "doubt")
    return hazard.kind.replace("-", " "), "doubt"


def _pair_blocks(plant: Plant, pairs: Mapping[str, tuple[Pair, ...]], most: int) -> Iterator[Block]:
    yield Heading("Pairs of faults that fire a cartridge, armed and with nothing touched")
    for item, found in pairs.items():
        yield Heading(name_of(plant, item), 3)
        if not found:
            yield Paragraph("No pair that was tried reaches it.")
            continue
        rows = tuple(
            (pair.first.words, pair.second.words, pair.result.replace("-", " ")) for pair in found[:most]
        )
        yield Table(("one", "and the other", "it is then"), rows)
        if len(found) > most:
            yield Paragraph(f"{len(found) - most} more pairs; ask for everything.")


def _sneak_blocks(sneaks: tuple[Sneak, ...], most: int) -> Iterator[Block]:
    well = [s for s in sneaks if s.fault is None]
    yield Heading("Sneak paths with everything in order")
    if not well:
        yield Paragraph("None found in any setting of any service.")
    for sneak in well:
        tone = "bad" if sneak.kind in ("path", "label") else "doubt"
        yield Entry(SNEAK_MARKS[sneak.kind], sneak.words, (sneak.look,), tone)
    under = [s for s in sneaks if s.fault is not None]
    yield Heading("Sneak paths that one fault opens")
    for sneak in under[:most]:
        yield Entry(SNEAK_MARKS[sneak.kind], sneak.words, (sneak.look,), "doubt")
    if len(under) > most:
        yield Paragraph(f"{len(under) - most} more; ask for everything, or for one service.")
    if not under:
        yield Paragraph("None found.")


def _effect_blocks(plant: Plant, study: FaultStudy, rated: tuple[Rated, ...], most: int) -> Iterator[Block]:
    yield Heading("Every single fault")
    hours = rated[0].hours if rated else 0.0
    yield Paragraph(
        f"{len(study.faults)} faults in {len(study.situations)} situations, {study.cases} worked out; "
        f"criticality over {hours:.3g} h of the record's phases. {JUDGED}"
    )
    yield _service_table(plant, study, rated)
    yield Heading("Gravest first", 3)
    rows = tuple(_row(plant, study, row) for row in rated[:most])
    yield Table(("class", "level", "fault", "what the crew sees", "look at"), rows)
    yield Heading("By what is seen", 3)
    yield Table(("what is seen", "when", "faults that do it"), tuple(_symptom_rows(plant, study))[:most])
    hidden = study.hidden
    if hidden:
        yield Heading("Hidden: nobody sees these in any situation", 3)
        counts = Counter(MODES[f.mode] for f in hidden)
        yield Paragraph(
            f"{len(hidden)} faults: {listed([f'{n} {mode}' for mode, n in counts.most_common()])}. "
            "They are found by the cards (continuity, bonding, insulation, fuses as fitted), not by the crew."
        )


def _service_table(plant: Plant, study: FaultStudy, rated: tuple[Rated, ...]) -> Table:
    numbers = services_criticality(rated)
    hidden = {f.id for f in study.hidden}
    rows = []
    for service, record in plant.installation.dossier.services.items():
        own = [r for r in rated if service in r.fault.services]
        if not own:
            continue
        counts = Counter(r.severity for r in own)
        total = sum(numbers[service].values())
        rows.append(
            (
                record.title or service,
                str(len(own)),
                *(str(counts.get(grade, 0)) for grade in SEVERITIES),
                str(sum(r.fault.id in hidden for r in own)),
                f"{total * 1e6:.3g}",
            )
        )
    columns = ("service", "faults", *SEVERITIES, "hidden", "criticality x 1e6")
    return Table(columns, tuple(rows), right=tuple(range(1, len(columns))))


def _row(plant: Plant, study: FaultStudy, row: Rated) -> tuple[str, ...]:
    effects = [e for e in study.effects.get(row.fault.id, ()) if e.changes]
    seen = effect_words(plant, effects[0], most=3) if effects else "nothing"
    quiet = [c.words(plant) for e in study.effects.get(row.fault.id, ()) for c in e.quiet]
    if not effects and quiet:
        seen = f"hidden: {quiet[0]}, and stays lit on its other lamp"
    more = f"; and in {len(effects) - 1} other situations" if len(effects) > 1 else ""
    where = place_words(plant, row.fault.place).removeprefix(", ")
    return (
        row.severity,
        row.level,
        row.fault.words,
        f"{seen}{more}",
        f"{row.fault.look}{f' ({where})' if where else ''}",
    )


def _symptom_rows(plant: Plant, study: FaultStudy) -> Iterator[tuple[str, ...]]:
    """One row for each thing seen in one situation, with the likeliest faults first."""
    titles = {s.id: s.title for s in study.situations}
    for (name, kind, situation), found in study.symptoms().items():
        ordered = sorted(found, key=lambda f: (-f.rate.of_mode, -f.likelihood))
        ids = listed([f.id for f in ordered[:5]])
        more = f" and {len(ordered) - 5} more" if len(ordered) > 5 else ""
        yield f"{name_of(plant, name)}: {kind.replace('-', ' ')}", titles[situation], f"{ids}{more}"


# -- plain data ----------------------------------------------------------------------------------------


def _situations_data(plant: Plant, study: FaultStudy | None) -> list[dict[str, Any]]:
    if study is None:
        return []
    return [{"id": s.id, "words": s.words(plant), "minutes": s.minutes} for s in study.situations]


def _faults_data(plant: Plant, study: FaultStudy | None, rated: tuple[Rated, ...]) -> list[dict[str, Any]]:
    if study is None:
        return []
    hidden = {f.id for f in study.hidden}
    return [
        {
            "id": row.fault.id,
            "mode": row.fault.mode,
            "words": row.fault.words,
            "look": row.fault.look,
            "place": row.fault.place,
            "services": list(row.fault.services),
            "items": list(row.fault.items),
            "cables": list(row.fault.cables),
            "severity": row.severity,
            "effect_probability": row.effect,
            "effect_word": row.word,
            "failures_per_million_hours": row.fault.rate.of_mode,
            "rate_status": row.fault.rate.status,
            "rate_source": row.fault.rate.source,
            "judged": row.fault.rate.judged,
            "likelihood": row.fault.likelihood,
            "criticality": row.number,
            "level": row.level,
            "hidden": row.fault.id in hidden,
            "alike": study.alike[row.fault.id].id,
            "effects": [
                {
                    "situation": effect.situation.id,
                    "changes": [
                        {
                            "name": c.name,
                            "service": c.service,
                            "kind": c.kind,
                            "before": c.before,
                            "after": c.after,
                            "words": c.words(plant),
                        }
                        for c in effect.changes
                    ],
                    "quiet": [c.words(plant) for c in effect.quiet],
                }
                for effect in study.effects.get(row.fault.id, ())
            ],
        }
        for row in rated
    ]


def _sneak_data(sneak: Sneak) -> dict[str, Any]:
    return {
        "kind": sneak.kind,
        "words": sneak.words,
        "look": sneak.look,
        "situation": sneak.situation,
        "fault": sneak.fault.id if sneak.fault else "",
        "loads": list(sneak.loads),
        "reversed": list(sneak.reversed_),
        "path": list(sneak.path),
        "services": list(sneak.services),
    }


def _hazard_data(hazard: Hazard) -> dict[str, Any]:
    return {
        "kind": hazard.kind,
        "item": hazard.item,
        "words": hazard.words,
        "look": hazard.look,
        "grave": hazard.grave,
        "threats": [{"fault": t.fault.id, "does": list(t.does), "result": t.result} for t in hazard.threats],
    }


def _pairs_data(pairs: Mapping[str, tuple[Pair, ...]]) -> list[dict[str, Any]]:
    return [
        {"item": item, "first": pair.first.id, "second": pair.second.id, "result": pair.result}
        for item, found in pairs.items()
        for pair in found
    ]
