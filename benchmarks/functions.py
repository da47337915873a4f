"""Function tables: how long, how many rows, and the exact way against the quick one.

Run: python benchmarks/functions.py
"""

from itertools import product
from pathlib import Path
from random import Random
from time import perf_counter

from loomlore.answers.opening import open_dossier
from loomlore.behaviour.tables import reducing
from loomlore.behaviour.tables.reducing import Axis, reduced_table
from loomlore.behaviour.tables.tabulating import function_tables

EXAMPLES = Path(__file__).parents[1] / "examples"


def random_table(seed, sizes, terms):
    """Outcomes of a random sum of products, as wiring makes them: each term speaks of a few variables."""
    random = Random(seed)
    chosen = []
    for _ in range(terms):
        places = random.sample(range(len(sizes)), 4)
        chosen.append({p: frozenset(random.sample(range(sizes[p]), max(1, sizes[p] // 2))) for p in places})
    return {
        point: int(any(all(point[p] in values for p, values in term.items()) for term in chosen))
        for point in product(*(range(size) for size in sizes))
    }


def time_reductions():
    for name, sizes, terms in (
        ("432 settings", (2, 2, 2, 2, 3, 3, 3), 6),
        ("3,456 settings, 10 variables", (2, 2, 2, 2, 2, 2, 2, 3, 3, 3), 38),
    ):
        points = random_table(7, sizes, terms)
        axes = [Axis(size) for size in sizes]
        for most in (reducing.MOST_WIDEST, 0):
            kept, reducing.MOST_WIDEST = reducing.MOST_WIDEST, most
            began = perf_counter()
            reduced = reduced_table(axes, points, otherwise=0)
            took = perf_counter() - began
            reducing.MOST_WIDEST = kept
            way = "exact" if reduced.exact else "fewest found"
            print(f"{name}: {len(points)} points, {len(reduced.rows)} rows, {way}, {took:.2f} s")


def time_examples():
    for folder in sorted(EXAMPLES.iterdir()):
        if not (folder.is_dir() and any(folder.glob("*.toml"))):
            continue
        plant = open_dossier(folder).plant()
        began, rows, settings, slowest, exact = perf_counter(), 0, 0, (0.0, ""), True
        for service in plant.installation.dossier.services:
            start = perf_counter()
            told = function_tables(plant, service)
            slowest = max(slowest, (perf_counter() - start, service))
            rows += sum(len(table.rows) + 1 for table in told.tables)
            settings += told.settings
            exact = exact and told.exact
        took, way = perf_counter() - began, "exact" if exact else "fewest found"
        print(f"{folder.name}: {settings} settings, {rows} rows, {way}, {took:.1f} s; ", end="")
        print(f"slowest {slowest[1]}, {slowest[0]:.1f} s")


if __name__ == "__main__":
    time_reductions()
    time_examples()
