"""Supplies that the wiring shorts: two that work against each other through bare conductors, or one alone."""

from __future__ import annotations

from collections.abc import Iterator

from loomlore.behaviour.readings import name_of
from loomlore.network.building import Plant
from loomlore.network.laws import Battery, Generator, Source
from loomlore.network.settling import Settled
from loomlore.quantities import as_written

__all__ = ["shorted_supplies"]

HOURS = 1.0
"""A battery that gives or takes its whole charge within so many hours does no work by it: common practice, no
source; a starter's battery does so for seconds, and has a load that takes it."""

FLOATING = 0.02
"""A battery's floating amperes over its ampere-hours, as the network takes them."""

LOST = 0.5
"""Share of what the supplies give that may be lost in bare wiring and in the supplies themselves."""

CARRIES = 0.8
"""A cable on the way of a short carries so much of its current."""

MOST_CABLES = 8

WIRING = frozenset({"cable", "contact", "joint", "fuse", "bolt", "bond"})


def shorted_supplies(plant: Plant, settled: Settled) -> tuple[str, ...]:
    """What to say where supplies are shorted, to each other or through themselves, by wiring alone.

    Parameters
    ----------
    plant
        The installation.
    settled
        Where things stand.

    Returns
    -------
    tuple of str
        One sentence with what to do, or none.
    """
    solution, branches = settled.solution, plant.network.branches
    sources = [n for n, b in enumerate(branches) if isinstance(b.law, Battery | Generator | Source)]
    strained = [n for n in sources if abs(solution.amps(n)) > _most(branches[n].law)]
    if not strained or _useful(plant, settled) > 1 - LOST:
        return ()
    names = [name_of(plant, branches[n].item) for n in strained]
    amps = max(abs(solution.amps(n)) for n in strained)
    cables = [
        branch.name
        for number, branch in enumerate(branches)
        if branch.sort == "cable" and abs(solution.amps(number)) > CARRIES * amps
    ]
    way = f" through {', '.join(cables[:MOST_CABLES])}" if cables else ""
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    together = "are shorted together" if len(names) > 1 else "is shorted"
    where = "these cables end" if len(cables) > 1 else "this cable ends" if cables else "they are joined"
    flow = f"{as_written(amps, 'current')} flow{way}, and no load takes them"
    return (f"{listed} {together} by the wiring: {flow}. Look at where {where}.",)


def _most(law: object) -> float:
    """Amperes beyond which a supply does no work by what it gives or takes."""
    match law:
        case Battery(float_amps=floating):
            return floating / FLOATING / HOURS
        case Generator(amps=amps):
            return 1.5 * amps
        case Source(volts=volts, resistance=resistance):
            return 0.25 * abs(volts) / resistance
        case _:
            return float("inf")


def _useful(plant: Plant, settled: Settled) -> float:
    """Share of what the supplies would give, at their open volts, that reaches something else than bare wiring."""
    solution, branches = settled.solution, plant.network.branches
    given = sum(_given(plant, settled))
    taken = sum(
        abs(solution.watts(n))
        for n, b in enumerate(branches)
        if b.sort not in WIRING and not isinstance(b.law, Battery | Generator | Source)
    )
    return taken / given if given > 0 else 1.0


def _given(plant: Plant, settled: Settled) -> Iterator[float]:
    """What each supply gives at its electromotive force [W], its own loss in it."""
    solution = settled.solution
    for number, branch in enumerate(plant.network.branches):
        amps = -solution.amps(number)
        match branch.law:
            case Battery(open_volts=volts) | Source(volts=volts):
                yield max(0.0, amps * volts)
            case Generator() as law:
                yield max(0.0, amps * law.force(solution.works(number), solution.followed(number)))
            case _:
                continue
