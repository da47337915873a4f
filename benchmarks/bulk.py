"""Bulk solving against the plain loop, as ratios in one run: python benchmarks/bulk.py

End to end is: making the cases of every single fault, the tables, settling, and what changes its state, in rest
and five phases; nothing is read from text. The rate and the growth are those of parts against tables, which
larger installations use. Seconds are the process's own, so that neighbours on the machine count
less. The rate is that of cases once tables stand. Growth is the cost of a
case in one service of installations 1, 10 and 100 times as large.
"""

import sys
from dataclasses import dataclass
from pathlib import Path
from random import Random
from time import process_time

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "tests")]

from machine import machine
from plain_loop import PlainLoop
from single_faults import single_faults

from invented_installation import installation, settings, settled
from loomlore.answers.opening import open_dossier
from loomlore.network.batches import Bulk, bulk_of, settle_cases
from loomlore.network.cases import Case
from loomlore.network.kernel import compiled
from loomlore.network.model import Network
from loomlore.network.parts import divided
from loomlore.network.settling import Settled, at_rest, settle
from loomlore.sizing.duty import phase_settled

EXAMPLES = Path(__file__).parents[1] / "examples"
PLAIN_CASES = 300
RATE_CASES = 20_000


@dataclass(frozen=True)
class EndToEnd:
    """Seconds and cases; how many were worked out in a part, in the whole, alone; how much of it tables took."""

    seconds: float
    cases: int
    counts: dict[str, int]
    tables: float


def plain_seconds(network: Network, bases: list[Settled], count: int = PLAIN_CASES) -> float:
    """Seconds a case of the plain loop, over random single faults in random settings."""
    random = Random(1)
    loop, cases = PlainLoop(network), single_faults(network)
    chosen = [(random.choice(bases), random.choice(cases)) for _ in range(count)]
    began = process_time()
    for base, case in chosen:
        loop.settled_case(base, case)
    return (process_time() - began) / count


def end_to_end(network: Network, bases: list[Settled], *, fast: bool) -> EndToEnd:
    """Every single fault in every setting, and what each changes."""
    began = process_time()
    like: Bulk | None = None
    counts: dict[str, int] = {}
    tables, total = 0.0, 0
    cases = single_faults(network)
    for base in bases:
        like = bulk_of(base, like=like, fast=fast)
        at = process_time()
        stand(like)
        tables += process_time() - at
        outcomes = settle_cases(like, cases)
        total += len(outcomes.changes)
        for how, number in outcomes.counts.items():
            counts[how] = counts.get(how, 0) + number
    return EndToEnd(process_time() - began, total, counts, tables)


def stand(bulk: Bulk) -> None:
    """Make every table; where cases are worked out in the whole, the answers of the installation as it stands."""
    if bulk.entire:
        assert bulk.stand is not None
        return
    for part in range(len(bulk.division.parts)):
        bulk.curves(part)


def rate(network: Network, base: Settled, *, fast: bool, count: int = RATE_CASES) -> float:
    """Cases a second once tables stand: random single faults of the services."""
    bulk = bulk_of(base, fast=fast, entire=False)
    stand(bulk)
    cases = [case for case in single_faults(network) if _in_a_service(bulk, case)]
    chosen = Random(2).choices(cases, k=count)
    settle_cases(bulk, cases)
    began = process_time()
    settle_cases(bulk, chosen)
    return count / (process_time() - began)


def _in_a_service(bulk: Bulk, case: Case) -> bool:
    from loomlore.network.batches import _part_of

    part = _part_of(bulk, case)
    return part >= 0 and len(bulk.division.parts[part].nodes) > 12


def growth(sizes: tuple[int, ...], *, fast: bool, count: int = 4000) -> dict[int, float]:
    """Seconds a case in the same service of installations of these sizes, once its tables stand."""
    found = {}
    for size in sizes:
        network = installation(size)
        base = settled(network, settings(network)[4])
        bulk = bulk_of(base, fast=fast, entire=False)
        part = bulk.division.part_of_node[network.node_of["A0.7 way"]]
        cases = single_faults_of(bulk, part)
        chosen = Random(3).choices(cases, k=count)
        settle_cases(bulk, cases)
        began = process_time()
        settle_cases(bulk, chosen)
        found[size] = (process_time() - began) / count
    return found


def single_faults_of(bulk: Bulk, part: int) -> list[Case]:
    """Opens and shorts of one part."""
    from loomlore.network.cases import opened, shorted

    record = bulk.division.parts[part]
    inner = set(record.nodes) - {0} - set(record.hubs)
    cases = [opened(bulk.network, n) for n in record.branches]
    return cases + [shorted(bulk.network, node) for node in sorted(inner)]


def invented() -> tuple[Network, list[Settled]]:
    """The installation that the tests invent, in rest and five phases."""
    network = installation()
    return network, [settled(network, setting) for setting in settings(network)]


def mail_amphibian() -> tuple[Network, list[Settled]]:
    """The large example, in rest and each of its phases."""
    plant = open_dossier(EXAMPLES / "mail-amphibian").plant()
    phases = plant.installation.dossier.phases.values()
    rest = settle(plant.solver, at_rest(plant.network))
    return plant.network, [rest, *(phase_settled(plant, phase)[0] for phase in phases)]


def table(network: Network, bases: list[Settled], engines: list[tuple[str, bool]], *, rates: bool) -> None:
    """Print one installation's figures."""
    cables = sum(branch.sort == "cable" for branch in network.branches)
    parts = sorted((len(part.nodes) for part in divided(network).parts), reverse=True)
    print(
        f"{len(network.node_names)} nodes, {len(network.branches)} branches, {cables} cables, {len(bases)} settings"
    )
    print(f"{len(parts)} parts, the largest of {parts[0]} nodes")
    for _, fast in engines:
        end_to_end(network, bases[:1], fast=fast)  # what is compiled or imported once
    plain = plain_seconds(network, bases)
    print(f"plain loop: {1e3 * plain:.2f} ms a case, {1 / plain:.0f} cases a second\n")
    print("end to end        cases   seconds (tables)   cases/s   x plain   part/whole/alone")
    for name, fast in engines:
        result = end_to_end(network, bases, fast=fast)
        a_second = result.cases / result.seconds
        how = "/".join(str(result.counts[key]) for key in ("part", "whole", "alone"))
        print(
            f"{name:16} {result.cases:6d}   {result.seconds:7.2f} ({result.tables:.2f})   "
            f"{a_second:8.0f}   {a_second * plain:7.0f}   {how}"
        )
    if rates:
        print("\nonce tables stand                         cases/s   x plain")
        for name, fast in engines:
            a_second = rate(network, bases[4], fast=fast)
            print(f"{name:40} {a_second:8.0f}   {a_second * plain:7.0f}")
    print(f"\nplain loop again: {1e3 * plain_seconds(network, bases, 100):.2f} ms a case")


def main() -> None:
    """Print the tables."""
    print(machine())
    engines = [("numpy", False)] + ([("compiled", True)] if compiled() is not None else [])
    print("\n== the invented installation\n")
    table(*invented(), engines, rates=True)
    print("\na case in a service of an installation 1, 10, 100 times as large, µs")
    for name, fast in engines:
        costs = growth((1, 10, 100), fast=fast)
        print(f"{name:16}" + "".join(f"{1e6 * cost:9.1f}" for cost in costs.values()))
    print("\n== the mail amphibian\n")
    table(*mail_amphibian(), engines, rates=False)


if __name__ == "__main__":
    main()
