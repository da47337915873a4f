"""What a difference is worth in volts and amperes: a drop, a fuse and what it protects, a machine's output.

All at 20 °C with the record's middle lengths; how warm a conductor runs, and what its doubt is worth, is the
cables' own study.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from loomlore.behaviour.exploring import Operation, lever_values
from loomlore.behaviour.operating import Moves, operated, rest
from loomlore.behaviour.readings import items_of, name_of, readings, services_of
from loomlore.behaviour.wording import setting_words
from loomlore.catalogue.conductors import conductor_area
from loomlore.findings import LoomloreError
from loomlore.network.building import Plant
from loomlore.network.laws import Cartridge, Fuse, Generator, Straight
from loomlore.quantities import as_written
from loomlore.record.model import AIRFRAME
from loomlore.references import Working
from loomlore.rivals.comparing import Difference
from loomlore.sizing.bundles import Conditions, size_of
from loomlore.sizing.drop import drop_limit, judged_drop
from loomlore.sizing.dropping import is_intermittent
from loomlore.sizing.duty import Study, levers_of_service, study
from loomlore.sizing.load_analysis import PhaseLoad, phase_loads
from loomlore.sizing.protecting import CableProtection, cable_protections
from loomlore.sizing.runs import LoadRun, worst_runs
from loomlore.sizing.variants import with_laws

__all__ = ["Figure", "Side", "bolts_off", "drops", "fuses", "machines", "protections"]

SPEAKING = 0.002
"""Share of the supply by which a drop must differ to be told."""


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A figure in both readings, in words: of what, in which setting; ``breaks`` whether a limit is broken."""

    what: str
    subject: str
    setting: str
    one: str
    other: str
    one_breaks: bool = False
    other_breaks: bool = False


@dataclass(frozen=True, eq=False)
class Side:
    """One of two installations that are set beside each other, with its studies, each made once."""

    plant: Plant
    studies: dict[str, Study] = field(default_factory=dict)

    def study(self, service: str) -> Study:
        """A service worked through its settings."""
        if service not in self.studies:
            self.studies[service] = study(self.plant, only=service)
        return self.studies[service]

    @cached_property
    def phases(self) -> tuple[PhaseLoad, ...]:
        """What each phase of the record asks."""
        return phase_loads(self.plant)


def _studies(one: Side, other: Side, service: str) -> tuple[Study, Study] | None:
    both = (one, other)
    if not all(service in side.plant.installation.dossier.services for side in both):
        return None
    return one.study(service), other.study(service)


def _marks(differs: Difference) -> frozenset[str]:
    return frozenset(n.removeprefix("cable:") for n in differs.branches if n.startswith("cable:"))


# -- drops -----------------------------------------------------------------------------------------------------


def drops(one: Side, other: Side, differs: Difference) -> Iterator[Figure]:
    """The drop at the load that a differing cable serves worst.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.

    Yields
    ------
    Figure
        One a service, for the load whose drop is greatest.

    Source
    ------
    [ac43.13-1b table 11-6]
    """
    marks = _marks(differs)
    for service in differs.services if marks else ():
        studies = _studies(one, other, service)
        if studies is None:
            continue
        here, there = (_runs(found, marks, service) for found in studies)
        shared = [name for name in here if name in there]
        if shared:
            worst = max(shared, key=lambda name: max(here[name].drop, there[name].drop))
            figure = _drop(studies, here[worst], there[worst], marks)
            if figure is not None:
                yield figure


def _runs(found: Study, marks: frozenset[str], service: str) -> dict[str, LoadRun]:
    """The worst run of each load of a service that passes through one of some cables, by the load's name."""
    branches = found.plant.network.branches
    loads = [load for load in found.loads if service in load.services]
    runs = worst_runs(found, loads=loads)
    return {
        run.load.name: run
        for run in runs.values()
        if any(branches[p.branch].sort == "cable" and branches[p.branch].name in marks for p in run.parts)
    }


def _fired(found: Study, run: LoadRun) -> str:
    law = found.plant.network.branches[run.load.branch].law
    assert isinstance(law, Cartridge)
    return f"{as_written(run.amps, 'current')} ({run.amps / law.all_fire:.1f} times its all-fire current)"


def _drop(
    studies: tuple[Study, Study], here: LoadRun, there: LoadRun, marks: frozenset[str]
) -> Figure | None:
    supply = studies[0].plant.network.supply
    if abs(here.drop - there.drop) < SPEAKING * supply:
        return None
    load = name_of(studies[0].plant, here.load.name)
    load = load[:1].lower() + load[1:]
    if here.load.sort == "cartridge":
        return Figure(
            what="drop",
            subject=f"Current in the {load} as it fires",
            setting=studies[0].cases[here.case].words,
            one=_fired(studies[0], here),
            other=_fired(studies[1], there),
        )
    limit = drop_limit(supply, intermittent=is_intermittent(studies[0], here))
    words = [_drop_words(found, run, marks, limit) for found, run in zip(studies, (here, there), strict=True)]
    return Figure(
        what="drop",
        subject=f"Drop at the {load}",
        setting=studies[0].cases[here.case].words,
        one=words[0][0],
        other=words[1][0],
        one_breaks=words[0][1],
        other_breaks=words[1][1],
    )


def _drop_words(found: Study, run: LoadRun, marks: frozenset[str], limit: Working) -> tuple[str, bool]:
    network = found.plant.network
    of_own = [
        f"{_volts(part.volts)} of it in {network.branches[part.branch].name}"
        for part in run.parts
        if network.branches[part.branch].sort == "cable" and network.branches[part.branch].name in marks
    ]
    value = Working("drop", run.drop, "V", "", (), limit.source, "computed")
    passes = judged_drop(value, limit).passes
    kept = f"{'within' if passes else 'over'} the circular's {as_written(limit.value, 'voltage')}"
    share = run.drop / network.supply
    return f"{_volts(run.drop)} ({share:.1%} of the supply{_comma(of_own)}), {kept}", not passes


def _comma(parts: Iterable[str]) -> str:
    return "".join(f", {part}" for part in parts)


def _volts(value: float) -> str:
    return f"{value:.2f} V"


# -- fuses -----------------------------------------------------------------------------------------------------


def fuses(one: Side, other: Side, differs: Difference) -> Iterator[Figure]:
    """What a fuse of another size is asked to carry, and whether it stands that.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.

    Yields
    ------
    Figure
        For each fuse that differs.
    """
    for name in differs.branches:
        laws = [_law(side.plant, name) for side in (one, other)]
        if not all(isinstance(law, Fuse) for law in laws):
            continue
        for service in differs.services:
            studies = _studies(one, other, service)
            if studies is None:
                continue
            lasting, case = studies[0].most[one.plant.network.branch_of[name]]
            words = [_fuse_words(law, lasting) for law in laws if isinstance(law, Fuse)]
            yield Figure(
                what="fuse",
                subject=f"The fuse of {name_of(one.plant, name)}, asked for {as_written(lasting, 'current')} at most",
                setting=studies[0].cases[case].words,
                one=words[0][0],
                other=words[1][0],
                one_breaks=words[0][1],
                other_breaks=words[1][1],
            )
            break


def _law(plant: Plant, name: str) -> object:
    number = plant.network.branch_of.get(name)
    return None if number is None else plant.network.branches[number].law


def _fuse_words(law: Fuse, most: float) -> tuple[str, bool]:
    share = most / law.carrying
    if most > law.fusing:
        over = f"{most / law.fusing:.2g} times the {as_written(law.fusing, 'current')} that melts it"
        return f"it would go: {share:.2g} times what it carries, {over}", True
    if share > 1:
        return (
            f"{share:.2g} times what it carries, under the {as_written(law.fusing, 'current')} that melts it",
            True,
        )
    return f"{share:.0%} of what it carries", False


def protections(one: Side, other: Side, differs: Difference) -> Iterator[Figure]:
    """Cables that their fuse protects in one reading and not in the other.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.

    Yields
    ------
    Figure
        Those that fare alike together.

    Source
    ------
    [ac43.13-1b table 11-3], [method sect 4.1]
    """
    changed = any(isinstance(_law(one.plant, n), Fuse) for n in differs.branches)
    marks = _marks(differs)
    for service in differs.services if changed or marks else ():
        studies = _studies(one, other, service)
        if studies is None:
            continue
        here, there = (_protected(found, service) for found in studies)
        alike: dict[tuple[tuple[str, bool], tuple[str, bool]], list[str]] = {}
        for mark in here:
            if mark in there and (changed or mark in marks):
                alike.setdefault((_protection_words(here[mark]), _protection_words(there[mark])), []).append(
                    mark
                )
        for (one_words, other_words), listed in alike.items():
            if one_words != other_words and UNJUDGED not in (one_words[0], other_words[0]):
                own = "its" if len(listed) == 1 else "their"
                yield Figure(
                    what="protection",
                    subject=f"Cable{'s' * (len(listed) > 1)} {', '.join(listed)}",
                    setting="",
                    one=one_words[0].replace("its", own),
                    other=other_words[0].replace("its", own),
                    one_breaks=one_words[1],
                    other_breaks=other_words[1],
                )


def _protected(found: Study, service: str) -> Mapping[str, CableProtection]:
    dossier = found.plant.installation.dossier
    areas: dict[str, float] = {}
    for cable in dossier.cables.values():
        size = size_of(cable, dossier)
        if (
            cable.service != service
            or size is None
            or f"cable:{cable.id}" not in found.plant.network.branch_of
        ):
            continue
        try:
            areas[cable.id] = conductor_area(size)
        except LoomloreError:
            continue
    return cable_protections(found, {}, Conditions(), areas=areas)


UNJUDGED = "not judged"


def _protection_words(protection: CableProtection) -> tuple[str, bool]:
    """By the chart, and by a short at its far end; only what is judged is compared."""
    said, wrong = [], False
    if protection.chart is not None:
        wrong = not protection.chart.passes
        said.append("thinner than the chart asks for its fuse" if wrong else "protected by its fuse")
    if protection.short is not None and protection.short.word == "does not clear":
        said, wrong = [*said, "a short at its far end does not melt the fuse"], True
    return ", ".join(said) or UNJUDGED, wrong


# -- machines --------------------------------------------------------------------------------------------------


def machines(one: Side, other: Side, differs: Difference) -> Iterator[Figure]:
    """How much of the machines' output the heaviest phase asks, where a machine's rating differs.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.

    Yields
    ------
    Figure
        With all machines running, and with one lost.

    Source
    ------
    [ac43.13-1b par 11-35a]
    """
    laws = [(_law(one.plant, n), _law(other.plant, n)) for n in differs.branches]
    if not any(isinstance(a, Generator) and isinstance(b, Generator) and a.amps != b.amps for a, b in laws):
        return
    both = [one.phases, other.phases]
    running = {m.running for phase in both[0] for m in phase.machines}
    for count in sorted(running, reverse=True):
        here, there = (
            {
                phase.phase.id: (m, phase)
                for phase in phases
                for m in phase.machines
                if m.running == count and m.output > 0
            }
            for phases in both
        )
        shared = here.keys() & there.keys()
        if not shared:
            continue
        worst = max(sorted(shared), key=lambda name: max(here[name][0].share, there[name][0].share))
        yield Figure(
            what="machine",
            subject=f"Asked of {'one machine' if count == 1 else f'{count} machines'}",
            setting=f"in {here[worst][1].phase.name.lower()}",
            one=f"{here[worst][0].share:.0%} of {as_written(here[worst][0].output, 'current')}",
            other=f"{there[worst][0].share:.0%} of {as_written(there[worst][0].output, 'current')}",
            one_breaks=not here[worst][0].judgement.passes,
            other_breaks=not there[worst][0].judgement.passes,
        )


# -- earth bolts -----------------------------------------------------------------------------------------------

OFF = 1e9
"""Ohms of a bolt that is off."""

_STILL = frozenset(
    {"", "out", "stopped", "silent", "released", "cold", "dead", "whole", "no-power", "safe", "idle"}
)


def bolts_off(one: Side, other: Side, differs: Difference) -> Iterator[Figure]:
    """What else comes to life when the bolt that a differing cable ends at is off.

    Parameters
    ----------
    one
        As the record has it.
    other
        As another reading has it.
    differs
        What they have differently.

    Yields
    ------
    Figure
        Where an end at an earth bolt differs: the services there feed one another through it.
    """
    for mark in _marks(differs):
        plants = one.plant, other.plant
        bolts = [_bolt_of(plant, mark) for plant in plants]
        if bolts[0] == bolts[1] or not any(bolts):
            continue
        service = one.plant.installation.dossier.cables[mark].service
        found = [_alive(plant, bolt, service) for plant, bolt in zip(plants, bolts, strict=True)]
        telling = found[0] or found[1]
        if telling is None:
            continue
        words = [
            f"(the {_bolt_words(plant, bolt)}) {_alive_words(alive)}" if bolt else "there is no bolt"
            for plant, bolt, alive in zip(plants, bolts, found, strict=True)
        ]
        yield Figure(
            what="bolt",
            subject=f"The earth bolt of {mark} off and all else at rest",
            setting=telling[0],
            one=words[0],
            other=words[1],
        )


MOST_ALIVE = 6


def _alive_words(alive: tuple[str, tuple[str, ...]] | None) -> str:
    if alive is None:
        return "nothing of other services comes to life"
    left = len(alive[1]) - MOST_ALIVE
    return ", ".join(alive[1][:MOST_ALIVE]) + (f" and {left} more" if left > 0 else "")


def _bolt_words(plant: Plant, bolt: str) -> str:
    """An earth bolt's name within a sentence."""
    name = plant.installation.dossier.earths[bolt].name
    return name[:1].lower() + name[1:]


def _bolt_of(plant: Plant, mark: str) -> str:
    cable = plant.installation.dossier.cables.get(mark)
    ends = (cable.from_, cable.to) if cable is not None else ()
    named = (end.removeprefix(f"{AIRFRAME}.") for end in ends if end.startswith(f"{AIRFRAME}."))
    return next((bolt for bolt in named if bolt in plant.installation.dossier.earths), "")


def _alive(plant: Plant, bolt: str, service: str) -> tuple[str, tuple[str, ...]] | None:
    """The setting in which most of other services comes to life with a bolt off, all else at rest.

    One lever of the service is moved, and one of the services that share the bolt.
    """
    if not bolt:
        return None
    number = plant.network.branch_of[f"{AIRFRAME}.{bolt}"]
    off = with_laws(plant, {number: Straight(resistance=OFF)})
    own = set(items_of(plant.installation, service))
    best: tuple[str, tuple[str, ...]] | None = None
    for operations in _pairs(plant, service, _sharing(plant, bolt) - {service}):
        moves = Moves({o.lever: o.value for o in operations})
        alive = _lively(off, moves, own) - _lively(plant, moves, own)
        if alive and (best is None or len(alive) > len(best[1])):
            best = setting_words(plant, operations), tuple(sorted(alive))
    return best


def _pairs(plant: Plant, service: str, others: frozenset[str]) -> Iterator[tuple[Operation, ...]]:
    start = rest(plant).memory.levers

    def moved(levers: Iterable[int]) -> list[Operation]:
        return [Operation(n, v) for n in levers for v in lever_values(plant, n) if v != start[n]]

    theirs = moved(dict.fromkeys(n for other in sorted(others) for n in levers_of_service(plant, other)))
    for one in moved(levers_of_service(plant, service)):
        yield (one,)
        yield from ((one, other) for other in theirs if other.lever != one.lever)


def _sharing(plant: Plant, bolt: str) -> frozenset[str]:
    """Services with a cable on a bolt, or an item whose case is on it."""
    dossier, name = plant.installation.dossier, f"{AIRFRAME}.{bolt}"
    by_item = services_of(plant.installation)
    found = {c.service for c in dossier.cables.values() if name in (c.from_, c.to)}
    return frozenset(found.union(*(by_item.get(i.id, ()) for i in dossier.items.values() if i.earth == name)))


def _lively(plant: Plant, moves: Moves, own: set[str]) -> set[str]:
    """Things of other services that do something."""
    found = readings(plant, operated(plant, rest(plant), moves))
    return {f"{r.name} {r.state}" for r in found if r.item not in own and r.state not in _STILL}
