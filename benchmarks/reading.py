"""How long it takes to read and check a dossier: the large example, and 20,000 cables.

    python benchmarks/reading.py [--cables 20000] [--rounds 7]

Reach: 0.15 s for the large example read and checked, 3 s for 20,000 cables. The best of the rounds is given,
since others share the machine; beside it stands what tomllib alone takes, as the measure.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.record.folder import texts_below
from loomlore.record.reading import read_texts
from loomlore.record.rules import check_record

ROOT = Path(__file__).parents[1]
LARGE = ROOT / "examples" / "mail-amphibian"
A_FILE = 6100  # cables, so that no file is over its limit
EACH = 61  # cables of a service
COLD = """
import time; start = time.perf_counter()
from pathlib import Path
from loomlore.record.reading import read_dossier
from loomlore.record.rules import check_record
from loomlore.catalogue.shipped import shipped_kinds
imported = time.perf_counter()
reading = read_dossier(Path({folder!r}))
read = time.perf_counter()
check_record(reading, shipped_kinds())
print(imported - start, read - imported, time.perf_counter() - read)
"""


def best(rounds: int, work: Callable[[], object]) -> float:
    """The shortest of some rounds [s]."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def grown(cables: int) -> dict[str, str]:
    """A record with many cables: services of sixty, lamps with their switches along a loom."""
    texts = {
        "dossier.toml": '[dossier]\nformat = 1\ntitle = "Grown"\nsupply = "24 V"\n'
        '[source]\nhandbook = { title = "Handbook", nature = "handbook" }\n'
        '[place]\npanel = { at = ["2.4 m", "0 m", "0.9 m"] }\ntail = { at = ["9.4 m", "0 m", "0.9 m"] }\n'
        '[item]\nbattery = { kind = "battery", rating = "24 V 900 Ah", place = "panel" }\n'
        '[service.supply]\ntitle = "Supply"\n[service.supply.cables]\n'
        'S1 = { from = "battery.-", to = "earth", size = "61/.036 in", length = "0.3 m" }\n'
        '[loom]\nmain-loom = { route = ["panel", "tail"], legs = ["7.4 m"] }\n'
    }
    for first in range(0, cables, A_FILE):
        services = range(first // EACH, min(first + A_FILE, cables) // EACH)
        texts[f"part-{first // A_FILE}.toml"] = "".join(map(_service, services))
    return texts


def _service(number: int) -> str:
    """A fuse feeds twenty lamps, each through its own switch: 41 cables."""
    cited = f'sources = ["handbook 6.{number}"]'
    items = [f'[item.fuse-{number}]\nkind = "fuse"\nrating = "60 A"\nplace = "panel"\n{cited}\n']
    cables = []
    for n in range(1, 21):
        for kind, place in (("switch", "panel"), ("lamp", "tail")):
            rating = 'rating = "24 V 12 W"\n' if kind == "lamp" else ""
            items.append(f'[item.{kind}-{number}-{n}]\nkind = "{kind}"\n{rating}place = "{place}"\n{cited}\n')
        begin = f"fuse-{number}.2" if n == 1 else f"switch-{number}-{n - 1}.1"
        switch, lamp, length = f"switch-{number}-{n}", f"lamp-{number}-{n}", f'length = "0.{n} m"'
        cables += [
            f'L{number}-{n}A = {{ from = "{begin}", to = "{switch}.1", {length}, {cited} }}',
            f'L{number}-{n}B = {{ from = "{switch}.2", to = "{lamp}.1", along = "main-loom" }}',
            f'L{number}-{n}C = {{ from = "{lamp}.2", to = "earth", {length}, colour = "black" }}',
        ]
    cables.append(f'L{number} = {{ from = "battery.+", to = "fuse-{number}.1", length = "1 m" }}')
    usual = 'usual = { size = "14/.0076 in", colour = "red" }'
    return (
        f'[service.lamps-{number}]\ntitle = "Lamps {number}"\nfeed = "fuse-{number}"\n{usual}\n\n'
        f"[service.lamps-{number}.cables]\n" + "\n".join(cables) + "\n\n" + "\n".join(items) + "\n"
    )


def measured(name: str, texts: dict[str, str], rounds: int) -> None:
    """One line of the table."""
    kinds = shipped_kinds()
    reading = read_texts(texts)
    toml = best(rounds, lambda: [tomllib.loads(text) for text in texts.values()])
    read = best(rounds, lambda: read_texts(texts))
    check = best(max(rounds // 2, 1), lambda: check_record(reading, kinds))
    found = len(reading.findings) + len(check_record(reading, kinds))
    size = sum(text.count("\n") for text in texts.values())
    times = "".join(f"{seconds:10.3f}" for seconds in (toml, read, check, read + check))
    print(f"{name:18}{len(reading.dossier.cables):8}{size:8}{times}{read / toml:9.2f}{found:10}")


def cold(rounds: int) -> None:
    """The large example in a new process, the program loaded and nothing in any cache."""
    found = []
    for _ in range(rounds):
        asked = subprocess.run(
            [sys.executable, "-c", COLD.format(folder=str(LARGE))], capture_output=True, text=True, check=True
        )
        found.append(tuple(map(float, asked.stdout.split())))
    imported, read, check = min(found, key=lambda times: times[1] + times[2])
    print(f"\ncold, a new process: import {imported:.3f} s, read {read:.3f} s, check {check:.3f} s")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cables", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=7)
    asked = parser.parse_args()
    heads = "".join(f"{head:>10}" for head in ("tomllib s", "read s", "check s", "both s"))
    print(f"{'':18}{'cables':>8}{'lines':>8}{heads}{'x toml':>9}{'findings':>10}")
    texts, _ = texts_below(LARGE)
    measured("mail-amphibian", texts, asked.rounds)
    measured("grown", grown(asked.cables), 2)
    cold(asked.rounds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
