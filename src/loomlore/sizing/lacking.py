"""What the record does not say, and which answers that blocks. What can be answered still is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from loomlore.findings import Finding, Place, Severity
from loomlore.network.building import Plant
from loomlore.record.laws import LAWS
from loomlore.record.parts import Element
from loomlore.sizing.bundles import size_of
from loomlore.sizing.dropping import CableLength
from loomlore.sizing.switching import SwitchReport

__all__ = ["lacking_for_cables", "lacking_for_loads"]

_BLOCKS = {
    "fuse": "whether it protects its cables and lets its loads live",
    "battery": "how long it lasts, and what the bus falls to in starting",
    "generator": "what margin it has in any phase",
    "filament": "its current, its drop and its part in the load",
    "motor": "its current running and starting, its drop and its part in the load",
    "horn": "its current, its drop and its part in the load",
    "heater": "its current, its drop and its part in the load",
    "coil": "whether it holds, and its drop",
    "set": "its current, its drop and its part in the load",
    "cartridge": "the current in its line",
}


def lacking_for_cables(
    plant: Plant, lengths: Mapping[str, CableLength], switches: tuple[SwitchReport, ...], *, basis_given: bool
) -> tuple[Finding, ...]:
    """What stops an answer about cables, fuses and switches.

    Parameters
    ----------
    plant
        The installation.
    lengths
        Of its cables.
    switches
        What each needs.
    basis_given
        Whether the dossier says what its fuses' figures mean.

    Returns
    -------
    tuple of Finding
        One for each thing, or one for many of a kind.
    """
    return (
        *_sizes(plant),
        *_lengths(plant, lengths),
        *_ratings(plant, frozenset(_BLOCKS) - {"battery", "generator"}),
        *_basis(plant, basis_given),
        *_switches(switches),
    )


def lacking_for_loads(plant: Plant) -> tuple[Finding, ...]:
    """What stops an answer about loads, endurance and starting.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of Finding
        One for each thing.
    """
    found = list(_ratings(plant, frozenset(_BLOCKS) - {"fuse"}))
    if not plant.installation.dossier.phases:
        message = (
            "The dossier has no [phase]: loads by phase, generator margin and nights at the mooring are "
            "not answered."
        )
        hint = 'Write one for each: [phase] cruise = { minutes = "60 min", settings = { … } }.'
        found.append(
            Finding("no-phases", Severity.WARNING, plant.installation.dossier.header.where, message, hint)
        )
    return tuple(found)


def _sizes(plant: Plant) -> Iterator[Finding]:
    dossier = plant.installation.dossier
    for cable in dossier.cables.values():
        if cable.type or size_of(cable, dossier) is not None:
            continue
        message = (
            f"Cable {cable.id} has no size: what it drops, what it may carry and what fuse it may have are "
            "not answered."
        )
        hint = "Write its size, or the `usual` size of its service. Drops past it are reckoned with 1 mm2."
        yield Finding("size-lacking", Severity.WARNING, cable.where, message, hint, f"cable {cable.id}")


def _lengths(plant: Plant, lengths: Mapping[str, CableLength]) -> Iterator[Finding]:
    dossier = plant.installation.dossier
    for mark, length in lengths.items():
        cable = dossier.cables[mark]
        if not length.known and not cable.type:
            message = (
                f"Cable {mark} has no length, and nothing to reckon it from: its drop, and its mass "
                "re-wired, are not answered."
            )
            hint = (
                "Write length, or along = its loom, or give both ends a place. Drops past it are reckoned "
                "with 2 m."
            )
            yield Finding("length-lacking", Severity.WARNING, cable.where, message, hint, f"cable {mark}")
    guessed = [mark for mark, length in lengths.items() if length.known and length.estimated]
    if guessed:
        shown = ", ".join(guessed[:8]) + (" …" if len(guessed) > 8 else "")
        message = (
            f"{len(guessed)} cables have only an estimated length (straight distance, or assumed): {shown}."
        )
        hint = "Drops are judged at the longer end, and say where that decides; measure those first."
        yield Finding("length-estimated", Severity.NOTE, dossier.cables[guessed[0]].where, message, hint)


def _ratings(plant: Plant, laws: frozenset[str]) -> Iterator[Finding]:
    for equipment in plant.installation.equipment.values():
        for element in equipment.elements.values():
            if element.law not in laws or _given(element):
                continue
            name = (
                equipment.item.name
                if len(equipment.elements) == 1
                else f"{equipment.item.name}, {element.name}"
            )
            message = f"{name} has no rating: not answered is {_BLOCKS[element.law]}."
            hint = (
                f"Write rating = as stamped{_such(element.law)}; a plain value is taken meanwhile for its "
                "neighbours' sake."
            )
            yield Finding(
                "rating-lacking",
                Severity.WARNING,
                equipment.item.where,
                message,
                hint,
                f"item {equipment.item.id}",
            )


def _such(law: str) -> str:
    examples = {"fuse": "5 A", "battery": "24 V 45 Ah", "generator": "28 V 36 A", "coil": "24 V 80 ohm"}
    return f', such as "{examples.get(law, "24 V 6 W")}"'


def _given(element: Element) -> bool:
    """Whether one of the law's alternatives is given, its volts apart (the supply stands for them)."""
    law = LAWS[element.law]
    if element.law == "battery":  # its parameter `charge` is how full it is, not what it holds
        return "charge" in element.rating
    has = {*element.rating, *element.values, *element.words}
    return not law.wants or any(set(wanted) - {"voltage"} <= has for wanted in law.wants)


def basis_of(plant: Plant, item: str, element: str) -> str:
    """What a fuse's own figure is said to mean, by its way or item; "" where the dossier decides."""
    dossier = plant.installation.dossier
    way = dossier.ways.get(f"{item}.{element}")
    return (way.basis if way is not None else "") or dossier.items[item].basis


def _basis(plant: Plant, given: bool) -> Iterator[Finding]:
    if given:
        return
    fuses = [
        f"{e.item.id}"
        for e in plant.installation.equipment.values()
        for x in e.elements.values()
        if x.law == "fuse" and not basis_of(plant, e.item.id, x.name)
    ]
    if not fuses:
        return
    message = (
        f"Nothing says whether the figures of {len(fuses)} fuses are carrying or fusing amperes; taken as "
        "carrying. "
        "If the print means fusing, each carries 1/1.75 of it, and every answer about protection moves by "
        "that."
    )
    hint = 'Write basis = "carrying" or "fusing" under [dossier], or on the fuse.'
    yield Finding("basis-lacking", Severity.WARNING, plant.installation.dossier.header.where, message, hint)


def _switches(switches: tuple[SwitchReport, ...]) -> Iterator[Finding]:
    bare = [report for report in switches if report.stamped is None]
    if bare:
        message = (
            f"{len(bare)} switches, pushes and relays have no current stamped in the record: whether they "
            "are strong enough is not answered."
        )
        hint = 'Read it off each and write rating = "24 V 10 A"; what each needs stands in the table.'
        yield Finding("switch-rating-lacking", Severity.NOTE, Place(), message, hint)
