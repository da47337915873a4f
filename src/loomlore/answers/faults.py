"""``faults``: what every single fault does, sneak paths, and hazards, of one standard of fit."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loomlore.answers.fault_pages import (
    MOST_ROWS,
    effect_blocks,
    firing_blocks,
    hazard_blocks,
    pair_blocks,
    short_blocks,
    sneak_blocks,
)
from loomlore.answers.opening import Opened, Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Heading, Page, Paragraph, as_html, as_text
from loomlore.answers.sharing import Told, shared_pairs
from loomlore.faults.criticality import SEVERITIES, Rated, criticality_table, services_criticality
from loomlore.faults.effects import Change, Effect, FaultStudy, fault_study
from loomlore.faults.hazards import Firing, Hazard, Hazards, firing_pairs, hazards_of
from loomlore.faults.pairing import MOST_PAIRS, PairStudy
from loomlore.faults.situations import charges_of
from loomlore.faults.sneaks.sneak import Sneak
from loomlore.faults.sneaks.under_faults import sneaks_under_faults
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well
from loomlore.faults.terminals import services_at
from loomlore.findings import UnknownName
from loomlore.network.building import Plant

__all__ = ["PARTS", "FaultsAnswer", "PairTerms", "study_faults"]

PARTS = ("effects", "sneaks", "hazards")
"""What can be asked for."""


_STYLE = (
    "body{font:1rem/1.45 'Source Sans 3','Source Sans Pro',sans-serif;max-width:62rem;margin:2rem auto;"
    "padding:0 1rem}table{border-collapse:collapse}th,td{padding:.2rem .6rem;text-align:left;"
    "vertical-align:top;border-bottom:1px solid #999}td[align=right],th[align=right]{text-align:right}"
    "tr{break-inside:avoid}"
)


@dataclass(frozen=True, kw_only=True)
class PairTerms:
    """How pairs of a service's faults are tried.

    ``situations`` are ids, all that concern the service where empty; ``most`` pairs, 0 for no limit; ``scheduler`` a
    cluster's address; ``kept`` a file in which chunks that are done are kept; ``told`` hears of progress;
    ``everywhere`` tries them in every named standard of fit, each with a file of its own.
    """

    situations: Sequence[str] = ()
    most: int = MOST_PAIRS
    scheduler: str = ""
    kept: Path | None = None
    told: Told | None = None
    everywhere: bool = False


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
    pairs: Mapping[str, Firing] | None = None
    twosomes: Mapping[str, PairStudy] | None = None
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
        most = 10**9 if self.everything else MOST_ROWS
        everything = self.everything
        blocks: list[Block] = [
            Heading(f"{self.title}: faults, sneak paths, hazards", 1),
            Paragraph(f"Standard of fit: {self.standard}."),
        ]
        if (self.study, self.sneaks, self.hazards) != (None, None, None):
            blocks += short_blocks(self.study, self.rated, self.sneaks, self.hazards)
        if self.hazards is not None:
            blocks += hazard_blocks(self.plant, self.hazards, self.service, everything=everything)
        if self.pairs is not None:
            blocks += firing_blocks(self.plant, self.pairs, most)
        several = len(self.twosomes or {}) > 1
        for name, study in (self.twosomes or {}).items():
            blocks += pair_blocks(study, name if several else "", everything=everything)
        if self.sneaks is not None:
            whole = everything or bool(self.service)
            blocks += sneak_blocks(self.sneaks, everything=everything, whole=whole)
        if self.study is not None:
            blocks += effect_blocks(
                self.plant,
                self.study,
                self.rated,
                self.service,
                everything=everything,
                dangers=self.hazards is not None,
            )
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_document(self) -> str:
        """The answer as one HTML page for a browser or a printer."""
        title = html.escape(f"{self.title}: faults")
        return (
            f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><title>{title}</title>"
            f"<style>{_STYLE}</style></head><body>{as_html(self.page())}</body></html>\n"
        )

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
            "two_faults": [_twosomes_data(name, study) for name, study in (self.twosomes or {}).items()],
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
    terms: PairTerms | None = None,
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
        Also pairs of faults: of the service named, what two do that neither does alone; and those that fire a
        cartridge.
    terms
        How pairs of the service's faults are tried.
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
        twosomes=_twosomes(opened, service, standard, terms or PairTerms()) if pairs and service else None,
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
    well = tuple(s for s in sneaks_with_all_well(plant) if not service or service in s.services)
    return (*well, *sneaks_under_faults(study))


def _of_service(plant: Plant, found: Hazards, service: str) -> Hazards:
    if not service:
        return found
    kept = tuple(h for h in found.hazards if service in services_at(plant, (h.item,), ()))
    return Hazards(charges=found.charges, hazards=kept)


def _twosomes(opened: Opened, service: str, standard: str, terms: PairTerms) -> dict[str, PairStudy]:
    """Pairs by standard of fit: the one asked for, or every named one that has the service."""
    named = [standard]
    if terms.everywhere:
        plants = {name: opened.plant(opened.fits(name)) for name in opened.dossier.standards}
        named = [name for name, plant in plants.items() if service in plant.installation.dossier.services]
    found = {}
    for name in named or [standard]:
        kept = terms.kept
        if kept is not None and len(named) > 1:
            kept = kept.with_name(f"{kept.stem}-{name}{kept.suffix}")
        found[name] = shared_pairs(
            opened,
            (service,),
            standard=name,
            situations=terms.situations,
            most=terms.most,
            scheduler=terms.scheduler,
            kept=kept,
            told=terms.told,
        )
        if found[name].left:
            break
    return found


def _pairs(plant: Plant, service: str) -> dict[str, Firing]:
    found = {}
    for number in charges_of(plant):
        item = plant.network.branches[number].item
        if not service or service in services_at(plant, (item,), ()):
            found[item] = firing_pairs(plant, number)
    return found


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
            "effects": [_effect_data(plant, e) for e in study.effects.get(row.fault.id, ())],
        }
        for row in rated
    ]


def _effect_data(plant: Plant, effect: Effect) -> dict[str, Any]:
    return {
        "situation": effect.situation.id,
        "changes": [_change_data(plant, c) for c in effect.changes],
        "quiet": [c.words(plant) for c in effect.quiet],
    }


def _change_data(plant: Plant, change: Change) -> dict[str, Any]:
    return {
        "name": change.name,
        "service": change.service,
        "kind": change.kind,
        "before": change.before,
        "after": change.after,
        "words": change.words(plant),
    }


def _sneak_data(sneak: Sneak) -> dict[str, Any]:
    return {
        "name": sneak.name,
        "kind": sneak.kind,
        "words": sneak.words,
        "look": sneak.look,
        "situation": sneak.situation,
        "fault": sneak.fault.id if sneak.fault else "",
        "loads": list(sneak.loads),
        "reversed": list(sneak.reversed_),
        "path": list(sneak.path),
        "way": sneak.way,
        "steps": [
            {"name": s.name, "sort": s.sort, "enters": s.enters, "leaves": s.leaves, "against": s.against}
            for s in sneak.steps
        ],
        "services": list(sneak.services),
    }


def _hazard_data(hazard: Hazard) -> dict[str, Any]:
    return {
        "name": hazard.name,
        "kind": hazard.kind,
        "item": hazard.item,
        "words": hazard.words,
        "look": hazard.look,
        "grave": hazard.grave,
        "threats": [{"fault": t.fault.id, "does": list(t.does), "result": t.result} for t in hazard.threats],
    }


def _pairs_data(pairs: Mapping[str, Firing]) -> list[dict[str, Any]]:
    return [
        {
            "item": item,
            "tried": firing.tried,
            "of": firing.of,
            "pairs": [
                {"first": pair.first.id, "second": pair.second.id, "result": pair.result}
                for pair in firing.pairs
            ],
        }
        for item, firing in pairs.items()
    ]


def _twosomes_data(standard: str, study: PairStudy) -> dict[str, Any]:
    return {
        "standard": standard,
        "services": list(study.services),
        "situations": [s.id for s in study.situations],
        "pairs": study.pairs,
        "of_pairs": study.of_pairs,
        "tried": study.tried,
        "excluded": study.excluded,
        "parts_left": study.left,
        "found": [
            {
                "first": t.first.id,
                "second": t.second.id,
                "severity": t.severity,
                "hidden_alone": t.hidden,
                "look": f"{t.first.look} {t.second.look}",
                "effects": [_effect_data(study.plant, e) for e in t.effects],
            }
            for t in study.found
        ],
    }
