"""The mains: what a generator delivers through to its bus, and the loop that turns an engine.

They carry what no fuse limits, so they are judged by what they lose: 2 % of the regulated volts at a
generator's rated output, and every milliohm of a starter's loop.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from loomlore.network.building import Plant
from loomlore.network.laws import Fuse, Generator, Straight
from loomlore.references import Input, Working, citation
from loomlore.sizing.drop import feeder_drop_limit, judged_drop
from loomlore.sizing.duty import Case, Study, starter_motors
from loomlore.sizing.judging import Judgement
from loomlore.sizing.runs import follow, only_fuse, run_of

__all__ = ["MainRun", "fuse_below", "judged_mains", "mains_of", "ohms_of"]


@dataclass(frozen=True, slots=True)
class MainRun:
    """The wiring of a main: ``rule`` is generator or starter.

    ``amps`` at which it is judged, ``volts`` regulated.
    """

    name: str
    rule: str
    branches: tuple[int, ...]
    amps: float
    volts: float
    case: int


def mains_of(study: Study) -> tuple[MainRun, ...]:
    """The mains of an installation.

    Parameters
    ----------
    study
        All cases.

    Returns
    -------
    tuple of MainRun
        Of generators that deliver in some case, with their earth side, and of starters that turn.
    """
    return (*_generators(study), *_starters(study))


def _generators(study: Study) -> Iterator[MainRun]:
    network = study.plant.network
    for number, branch in enumerate(network.branches):
        law = branch.law
        if not isinstance(law, Generator):
            continue
        amps, case = study.steady[number]
        if amps <= 0.01 * law.amps:
            continue
        positive = study.plant.installation.dossier.header.earthed != "positive"
        flows = study.cases[case]
        hot, cold = (branch.a, branch.b) if positive else (branch.b, branch.a)
        out = follow(study.plant, flows, hot, number, inward=not positive, to_bus=True)
        back = follow(study.plant, flows, cold, number, inward=positive, to_bus=True)
        volts = law.held if law.held is not None else law.volts
        yield MainRun(branch.item, "generator", (*out, *back), law.amps, volts, case)


def _starters(study: Study) -> Iterator[MainRun]:
    for number in starter_motors(study.plant):
        amps, case = study.most[number]
        if amps <= 1.0:
            continue
        load = next(load for load in study.loads if load.branch == number)
        run = run_of(study.plant, study.cases[case], case, load)
        if run is not None:
            yield MainRun(load.item, "starter", run.branches(), amps, study.plant.network.supply, case)


def judged_mains(study: Study) -> tuple[tuple[MainRun, Judgement], ...]:
    """Judge each generator's main at its rated output.

    Parameters
    ----------
    study
        All cases.

    Returns
    -------
    tuple of MainRun and Judgement
        Starters' loops are not judged so; see the study of starting.

    Source
    ------
    [ac43.13-1b par 11-66]
    """
    found = []
    for main in mains_of(study):
        if main.rule != "generator":
            continue
        parts = [
            (study.plant.network.branches[n].name, main.amps * ohms_of(study.plant, n)) for n in main.branches
        ]
        inputs = tuple(Input(name, volts, "V") for name, volts in parts)
        total = sum(volts for _, volts in parts)
        source = citation("ac43.13-1b", "par 11-66")
        value = Working(
            f"drop of the main of {main.name}",
            total,
            "V",
            "rated amperes x sum of r, at 20 °C",
            inputs,
            source,
            "computed",
        )
        found.append((main, judged_drop(value, feeder_drop_limit(main.volts))))
    return tuple(found)


def ohms_of(plant: Plant, branch: int) -> float:
    """The resistance of a piece of wiring.

    Parameters
    ----------
    plant
        The installation.
    branch
        Its number.

    Returns
    -------
    float
        [ohm]
    """
    law = plant.network.branches[branch].law
    return law.resistance if isinstance(law, Straight | Fuse) else 0.0


def fuse_below(study: Study, mark: str) -> int:
    """The fuse that a cable leads to and nowhere else, or -1.

    Parameters
    ----------
    study
        All cases.
    mark
        The cable.

    Returns
    -------
    int
        Branch of the fuse; -1 where the way divides before it, since then nothing limits what the cable
        carries.
    """
    branch = study.plant.network.branch_of[f"cable:{mark}"]
    _, number = study.steady[branch]
    case: Case = study.cases[number]
    record = study.plant.network.branches[branch]
    positive = study.plant.installation.dossier.header.earthed != "positive"
    far = record.b if (case.amps[branch] > 0) == positive else record.a
    return only_fuse(study.plant, far, branch)
