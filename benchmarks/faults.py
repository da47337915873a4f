"""Every single fault of an example in every base setting, end to end, and what the time goes to.

    python3 dev.py run benchmarks/faults.py [FOLDER]

Not the reading of the text. Base settings are rest and each phase; beside them the fuller list of situations that
the command uses, sneak paths, hazards, and pairs of one service's faults. In one situation the two stages stand apart:
settling the cases, and saying what they do. The plain loop's figure is in plain_loop.py.
"""

import sys
import time
from pathlib import Path

from loomlore.answers.opening import open_dossier
from loomlore.faults.effects import effects_of, fault_study
from loomlore.faults.hazards import hazards_of
from loomlore.faults.injecting import Workshop, representatives, struck
from loomlore.faults.modes import faults_of
from loomlore.faults.pairing import pair_study
from loomlore.faults.situations import situations_of
from loomlore.faults.sneaking import sneaks_under_faults, sneaks_with_all_well

EXAMPLES = Path(__file__).parents[1] / "examples"


def timed(what: str, work):
    """Do it, and say how long it took on the wall and on this processor."""
    wall, own = time.perf_counter(), time.process_time()
    result = work()
    print(f"{what:46} {time.perf_counter() - wall:8.2f} s   processor {time.process_time() - own:8.2f} s")
    return result


def main() -> None:
    """Print the figures."""
    plant = open_dossier(sys.argv[1] if len(sys.argv) > 1 else EXAMPLES / "mail-amphibian").plant()
    faults = timed("list of faults", lambda: faults_of(plant))
    situations = timed("situations", lambda: situations_of(plant))
    base = [s for s in situations if s.id == "rest" or s.minutes]
    study = timed(
        f"{len(faults)} faults in {len(base)} base settings", lambda: fault_study(plant, situations=base)
    )
    stood_for = len(faults) * len(base)
    print(f"{study.cases} cases worked out for {stood_for} faults in settings")
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
    pairs = timed(f"pairs of the faults of {service}", lambda: pair_study(plant, [service]))
    print(
        f"{pairs.pairs} of {pairs.of_pairs} pairs, {pairs.tried} cases, {len(pairs.found)} with an effect of their own"
    )


if __name__ == "__main__":
    main()
