"""Every single fault of an example in every base setting, end to end, and what the time goes to.

    python3 dev.py run benchmarks/faults.py [FOLDER]

Not the reading of the text. Base settings are rest and each phase; beside them the fuller list of situations that
the command uses, sneak paths, hazards, and pairs of one service's faults. In one situation the two stages stand apart:
settling the cases, and saying what they do.

Beside the study stands the plain loop of plain_loop.py: PLAIN cases, drawn at random from those that put in nothing but
straight branches, are settled by it one by one, and its processor time is scaled to all. What it leaves out (listing
faults, making cases, saying what they do) the study's time holds.

Bounded, so that all is done within five minutes on two cores: PLAIN cases of the plain loop, PAIRS pairs.
"""

import sys
import time
from pathlib import Path
from random import Random

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parent)]

from plain_loop import PlainLoop

from loomlore.answers.opening import open_dossier
from loomlore.faults.effects import effects_of, fault_study
from loomlore.faults.hazards import hazards_of
from loomlore.faults.injecting import Workshop, case_of, representatives, struck
from loomlore.faults.modes import faults_of
from loomlore.faults.pairing import pair_study
from loomlore.faults.situations import situations_of
from loomlore.faults.sneaks.under_faults import sneaks_under_faults
from loomlore.faults.sneaks.with_all_well import sneaks_with_all_well

EXAMPLES = Path(__file__).parents[1] / "examples"

PLAIN = 200
"""Cases that the plain loop is timed on."""

PAIRS = 300
"""Pairs of faults that are tried."""


def timed(what: str, work):
    """Do it, and say how long it took on the wall and on this processor."""
    wall, own = time.perf_counter(), time.process_time()
    result = work()
    print(f"{what:46} {time.perf_counter() - wall:8.2f} s   processor {time.process_time() - own:8.2f} s")
    return result


def plain_seconds(plant, faults, situations):
    """Processor seconds of the plain loop for a fault in a setting, and how many of these change anything at all."""
    every = [(fault, one) for one in situations for fault in faults]
    there = [(one, case) for fault, one in every if (case := case_of(plant, fault, one.settled)) is not None]
    straight = [
        (one, case) for one, case in there if all(hasattr(b.law, "conductance") for _, b in case.branches)
    ]
    drawn = Random(1).sample(straight, min(PLAIN, len(straight)))
    loop = PlainLoop(plant.network)
    loop.settled_case(drawn[0][0].settled, drawn[0][1])  # what is imported or made once
    own = time.process_time()
    for one, case in drawn:
        loop.settled_case(one.settled, case)
    return (time.process_time() - own) / len(drawn), len(there)


def main() -> None:
    """Print the figures."""
    began = time.perf_counter()
    fault_study(open_dossier(EXAMPLES / "glider-tug").plant())  # what is compiled or imported once
    dossier = open_dossier(sys.argv[1] if len(sys.argv) > 1 else EXAMPLES / "mail-amphibian")
    own = time.process_time()
    plant = dossier.plant()
    faults = timed("list of faults", lambda: faults_of(plant))
    situations = timed("situations", lambda: situations_of(plant))
    base = [s for s in situations if s.id == "rest" or s.minutes]
    study = timed(
        f"{len(faults)} faults in {len(base)} base settings", lambda: fault_study(plant, situations=base)
    )
    own = time.process_time() - own
    stood_for = len(faults) * len(base)
    print(f"{study.cases} cases worked out for {stood_for} faults in settings")
    plain, there = plain_seconds(plant, faults, base)
    print(
        f"plain loop: {1e3 * plain:.2f} ms a case (sample of {PLAIN}); {there} cases {plain * there:.0f} s, "
        f"the {study.cases} alone {plain * study.cases:.0f} s; the study from the opened record {own:.2f} s: "
        f"{plain * there / own:.1f} and {plain * study.cases / own:.1f} times the plain loop, processor time"
    )
    workshop, alike = Workshop(plant), representatives(plant, faults)
    worked = list({f.id: f for f in alike.values()}.values())
    tuple(struck(workshop, base[-1], worked[:50]))
    results = timed(
        f"settling {len(worked)} in one setting", lambda: tuple(struck(workshop, base[-1], worked))
    )
    timed("saying what they do", lambda: effects_of(plant, results))
    whole = timed(f"the same in {len(situations)} situations, kept", lambda: fault_study(plant, keep=True))
    print(f"{whole.cases} cases; {len(whole.hidden)} faults hidden")
    well = timed("sneak paths with all well", lambda: sneaks_with_all_well(plant))
    under = timed("sneak paths under each fault", lambda: sneaks_under_faults(whole))
    print(f"{len(well)} with all well, {len(under)} under a fault")
    hazards = timed("hazards", lambda: hazards_of(plant))
    print(f"{len(hazards.charges)} cartridges, {sum(h.grave for h in hazards.hazards)} grave")
    service = list(plant.installation.dossier.services)[len(plant.installation.dossier.services) // 2]
    pairs = timed(f"pairs of the faults of {service}", lambda: pair_study(plant, [service], most=PAIRS))
    print(
        f"{pairs.pairs} of {pairs.of_pairs} pairs, {pairs.tried} cases, {len(pairs.found)} with an effect of their own"
    )
    print(f"all of it {time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
