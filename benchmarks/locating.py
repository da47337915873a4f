"""Hunts for faults: charts, the next check, and 500 simulated hunts in the large example.

    python benchmarks/locating.py [--hunts 500] [--services N]

A hunt begins with what the crew would see in the telling situations of the service. Perfect: every answer is right.
Noisy: every answer to a check is wrong with a chance of 5 %, and then any of the check's other outcomes. The measure
is the mean of minutes over the mean of the best chart's (exact) or of a bound under it.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from pathlib import Path

import numpy as np

from loomlore.answers.opening import open_dossier
from loomlore.faults.injecting import Workshop
from loomlore.faults.locating.hunting import Answer, final_set, next_check, patterns_of, probabilities
from loomlore.faults.locating.searching import search_of, suspects_of, telling_situations
from loomlore.faults.locating.sequencing import Trial, alike_groups, best_chart, charted, plain_chart
from loomlore.faults.situations import situations_of

EXAMPLE = Path(__file__).parents[1] / "examples" / "mail-amphibian"
NOISE = 0.05


def charts() -> None:
    """Exact charts of 20 faults, and looking ahead against them."""
    rng, shares, plain, times = random.Random(2), [], [], []
    for _ in range(60):
        weights = [rng.random() ** 3 + 1e-3 for _ in range(20)]
        trials = [
            Trial(
                str(n),
                rng.choice([1, 2, 3, 5, 8]),
                tuple(rng.randint(0, rng.choice([1, 1, 2])) for _ in range(20)),
            )
            for n in range(rng.randint(15, 40))
        ]
        began = time.perf_counter()
        best = best_chart(weights, trials, seconds=30)
        times.append(time.perf_counter() - began)
        if best is None or best.cost == 0:
            print("not proved in 30 s")
            continue
        shares.append(charted(weights, trials, seconds=0).cost / best.cost - 1)
        plain.append(plain_chart(weights, trials).cost / best.cost - 1)
    print(
        f"exact, 20 faults: mean {np.mean(times):.3f} s, most {max(times):.3f} s, {len(shares)} of 60 proved"
    )
    print(f"looking ahead over the best: mean {np.mean(shares):.2%}, most {max(shares):.2%}")
    print(f"the plain rule over the best: mean {np.mean(plain):.2%}, most {max(plain):.2%}")


class Ground:
    """One service's table, with what each fault shows and the best chart from there."""

    def __init__(self, plant, service, situations, shop):
        chosen = telling_situations(plant, situations, [service])
        faults = suspects_of(plant, [service], feeding=False)
        self.search = search_of(plant, chosen, faults, services=[service], workshop=shop)
        self.patterns = [p for p in patterns_of(self.search, seconds=2.0) if p.symptoms]
        self.of = {f: p for p in self.patterns for f in p.faults}
        self.narrowed = {id(p): self.search.only(p.faults) for p in self.patterns}
        self.known: dict = {}

    def answer(self, narrow, check, suspect, rng, noise):
        outcome = int(narrow.table[check, suspect])
        count = len(narrow.checks[check].outcomes)
        if noise and count > 1 and rng.random() < noise:
            outcome = rng.choice([n for n in range(count) if n != outcome])
        return Answer(narrow.checks[check].id, narrow.checks[check].outcomes[outcome])

    def hunt(self, fault, rng, noise, timed):
        pattern = self.of[fault]
        narrow = self.narrowed[id(pattern)]
        suspect = pattern.faults.index(fault)
        answers: list[Answer] = []
        minutes, sure = 0.0, 0.995 if noise else 0.99999
        while len(answers) < 60:
            weights = probabilities(narrow, answers, noise=noise)
            began = time.perf_counter()
            check = next_check(narrow, weights, answers, noise=noise, sure=sure)
            timed.append(time.perf_counter() - began)
            if check is None:
                break
            answers.append(self.answer(narrow, check, suspect, rng, noise))
            minutes += narrow.checks[check].minutes
        left = final_set(narrow, probabilities(narrow, answers, noise=noise), sure=sure)
        return len(answers), minutes, suspect in left, len(left)


def hunts(count: int, most: int) -> None:
    """Simulated hunts, with faults drawn by their weight."""
    plant = open_dossier(EXAMPLE).plant()
    situations, shop, rng = situations_of(plant), Workshop(plant), random.Random(5)
    began = time.perf_counter()
    services = list(plant.installation.dossier.services)[:most]
    grounds = [Ground(plant, s, situations, shop) for s in services]
    grounds = [g for g in grounds if g.of]
    print(f"{len(grounds)} services made ready in {time.perf_counter() - began:.0f} s")
    charts = [p.chart for g in grounds for p in g.patterns]
    print(
        f"{len(charts)} charts, {sum(c.exact for c in charts)} proved best; widest gap {max(c.gap for c in charts):.0%}"
    )
    sizes = [len(alike_groups(g.search.trials(), p.faults)) for g in grounds for p in g.patterns]
    print(f"groups in a chart: most {max(sizes)}")
    pool = [(g, f) for g in grounds for f in g.of]
    weights = [float(g.search.weights[f]) for g, f in pool]
    drawn = rng.choices(pool, weights, k=count)
    best = np.mean([g.of[f].chart.bound for g, f in drawn])
    for noise in (0.0, NOISE):
        timed: list[float] = []
        found = [g.hunt(f, rng, noise, timed) for g, f in drawn]
        minutes, right = np.mean([m for _, m, _, _ in found]), np.mean([r for _, _, r, _ in found])
        print(
            f"noise {noise:.0%}: {np.mean([c for c, *_ in found]):.2f} checks, {minutes:.2f} minutes "
            f"({minutes / best - 1:+.1%} on {best:.2f} of the best without noise), right one left {right:.1%}, "
            f"which has {np.mean([k for *_, k in found]):.1f} faults; next check mean {1e3 * np.mean(timed):.1f} ms, "
            f"most {1e3 * max(timed):.0f} ms"
        )


if __name__ == "__main__":
    reader = argparse.ArgumentParser()
    reader.add_argument("--hunts", type=int, default=500)
    reader.add_argument("--services", type=int, default=99)
    asked = reader.parse_args(sys.argv[1:])
    charts()
    hunts(asked.hunts, asked.services)
