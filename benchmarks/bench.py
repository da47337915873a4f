"""How quick the bench is: cold start to first paint, toggle to plate restyled, edit to findings, size, memory.

    python benchmarks/bench.py [examples/mail-amphibian] [--toggles]

Wants playwright and a chromium. Times are of this machine, where server, browser and all else share the same
processors: the load average is printed beside them. ``--toggles`` leaves the rest out.
"""

import http.client
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from machine import machine
from playwright.sync_api import Browser, Page, sync_playwright

CIRCUITS = 4
"""Lamp circuits of one drawing of the invented plates."""

ELEMENTS = 232
"""Elements of one such drawing, as it is written now; the count beside each figure is what the page had."""

QUIET = 3
"""The quickest of so many toggles after one another stands for all of them in the figure ``quiet``."""

SIZES = (1500, 5000)

OPEN = [sys.executable, "-m", "loomlore.cli", "open", "--no-browser"]

# An invented plate of many elements: small services drawn alone, and their drawings set on one page. Laying out
# that many circuits as one drawing is another benchmark's business.
SERVE_MANY = """
import sys
from dataclasses import replace
from pathlib import Path
from loomlore.bench import desk, plates
from loomlore.bench.serving import open_bench

def many(plant):
    drawn = [plates.live_plate(plant, name) for name in plant.installation.dossier.services]
    names = {role: {k: v for one in drawn for k, v in one.names[role].items()} for role in plates.STYLED}
    drawings = tuple(drawing for one in drawn for drawing in one.drawings)
    items = tuple(item for one in drawn for item in one.items)
    return replace(drawn[0], drawings=drawings, names=names, items=items,
                   contacts=plates.contacts_alone(plant, names))

class Desk(desk.Desk):
    made = None
    def plate_at_hand(self, standard, service):
        return self.made
    def plate(self, standard, service, *, wait=0.0):
        self.made = self.made or many(self.plant(standard))
        return self.made

desk.Desk = Desk
open_bench(Path(sys.argv[1]), browser=False, say=lambda words: print(words, flush=True))
"""

# A toggle is timed in the page: from the event until its classes and words are changed and the styles and the
# layout that come of them are worked out. What the server took is what the browser waited for it; the rest is the
# browser's own: sending, reading the answer, changing, styling.
TOGGLE = """
async ([lever, positions, times]) => {
  const found = [];
  for (let n = 0; n < times; n += 1) {
    const input = document.querySelector(`[data-lever="${lever}"][value="${positions[n % 2]}"]`);
    performance.clearResourceTimings();
    const before = document.body.dataset.worked, began = performance.now();
    input.checked = true;
    const seen = new Promise((done) => new MutationObserver((_, observer) => {
      if (document.body.dataset.worked !== before) { observer.disconnect(); done(); }
    }).observe(document.body, { attributes: true }));
    input.dispatchEvent(new Event("input", { bubbles: true }));
    await seen;
    const drawn = document.querySelector(".drawings svg");
    const changed = performance.now();
    drawn.getBoundingClientRect();
    drawn.querySelector("text")?.getBBox();
    const whole = performance.now() - began, style = performance.now() - changed;
    const sent = performance.getEntriesByType("resource").find((one) => one.name.endsWith("/operate"));
    const server = sent ? sent.responseStart - sent.requestStart : 0;
    found.push({ whole, server, style, browser: whole - server });
    await new Promise((done) => setTimeout(done, 30));
  }
  return found;
}
"""
EDIT = """
async (asked) => {
  const headers = { "Content-Type": "application/json" };
  return (await fetch("/edit", { method: "POST", headers, body: JSON.stringify(asked) })).json();
}
"""
PAINTED = "() => performance.getEntriesByName('first-contentful-paint').length > 0"
PAINT = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
BEGAN = "performance.timeOrigin"


class Server:
    """A bench in a process of its own, and how long it took to say its address."""

    def __init__(self, *command: str) -> None:
        self.began = time.time()
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        found = re.search(r"http://\S+", self.process.stdout.readline())
        assert found is not None
        self.address, self.said = found.group(0), time.time() - self.began
        self.base = self.address.partition("/?")[0]

    def __enter__(self) -> "Server":
        return self

    def __exit__(self, *error: object) -> None:
        self.process.terminate()
        self.process.wait()

    def worked(self) -> float:
        """Processor seconds of the server so far: what a busy machine does not change."""
        words = Path(f"/proc/{self.process.pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")

    def memory(self) -> dict[str, float]:
        """Memory of the server and of the processes beside it [MB]: shared pages are counted in parts."""
        found = {"server": proportional(self.process.pid)}
        found["beside"] = sum(proportional(child) for child in descendants(self.process.pid))
        return found


def descendants(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task").glob("*/children")
    children = [int(one) for path in listed for one in path.read_text(encoding="ascii").split()]
    return [*children, *(deeper for child in children for deeper in descendants(child))]


def proportional(process: int) -> float:
    try:
        text = Path(f"/proc/{process}/smaps_rollup").read_text(encoding="ascii")
    except OSError:
        return 0.0
    return int(re.search(r"^Pss:\s+(\d+)", text, re.MULTILINE)[1]) / 1024  # type: ignore[index]


def main() -> None:
    wanted = [one for one in sys.argv[1:] if not one.startswith("--")]
    example = Path(wanted[0] if wanted else "examples/mail-amphibian")
    print(machine())
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        if "--toggles" not in sys.argv:
            folder = Path(scratch) / "dossier"
            shutil.copytree(example, folder)
            answered(folder)
            cold(browser, folder)
            in_use(browser, folder)
        for size in SIZES:
            invented(browser, Path(scratch) / str(size), size)
        browser.close()


def load() -> str:
    return f"load {Path('/proc/loadavg').read_text(encoding='ascii').split()[0]}"


def opened(browser: Browser, address: str) -> Page:
    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    page.goto(address)
    page.wait_for_function(PAINTED)
    return page


def answered(folder: Path) -> None:
    """From the start of the command to the first page and the contents, asked for without a browser."""
    first, contents = [], []
    for _ in range(3):
        with Server(*OPEN, str(folder)) as server:
            host, _, path = server.address.removeprefix("http://").partition("/")
            cookie = asked(host, f"/{path}", "").headers["Set-Cookie"].partition(";")[0]
            asked(host, "/", cookie)
            first.append(time.time() - server.began)
            asked(host, "/", cookie)
            contents.append(time.time() - server.began)
    print(
        f"cold start, no browser: first page answered after {statistics.median(first):.2f} s, contents after "
        f"{statistics.median(contents):.2f} s; {load()}"
    )


def asked(host: str, path: str, cookie: str) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection(host, timeout=60)
    connection.request("GET", path, headers={"Cookie": cookie})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer


def cold(browser: Browser, folder: Path) -> None:
    """From the start of the command to the first paint; the browser is open already."""
    said, painted, read, worked, plates = [], [], [], [], []
    for _ in range(3):
        with Server(*OPEN, str(folder)) as server:
            page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
            page.goto(server.address, wait_until="commit")
            page.wait_for_function(PAINTED)
            said.append(server.said)
            painted.append(time.time() - server.began)
            page.locator("ol.contents").wait_for()
            worked.append(server.worked())
            read.append(time.time() - server.began)
            page.goto(f"{server.base}/service/generation")
            page.locator("#drawings svg").first.wait_for(timeout=60_000)
            plates.append(time.time() - server.began)
            page.context.close()
    print(
        f"cold start: address said after {statistics.median(said):.2f} s, first page painted after "
        f"{statistics.median(painted):.2f} s, contents after {statistics.median(read):.2f} s "
        f"({statistics.median(worked):.2f} s of processor), a plate seen after "
        f"{statistics.median(plates):.2f} s; {load()}"
    )


def in_use(browser: Browser, folder: Path) -> None:
    with Server(*OPEN, str(folder)) as server:
        page = opened(browser, server.address)
        for service in ("generation", "horn"):
            page.goto(f"{server.base}/service/{service}")
            page.locator("#drawings svg").first.wait_for(timeout=60_000)
            page.locator("#functions table").first.wait_for(timeout=60_000)
            page.locator("#proofs-said:empty").wait_for(state="attached", timeout=60_000)
            toggles(page, server, f"{server.base}/service/{service}", service, "master-switch.lever")
        edit(page, server)
        began = time.perf_counter()
        page.goto(f"{server.base}/sources")
        most: dict[str, float] = {}
        while page.locator("#proofs-said").inner_text() or time.perf_counter() - began < 2:
            now = server.memory()
            most = max(most, now, key=lambda one: sum(one.values()))
            page.wait_for_timeout(200)
        print(f"all proofs: {time.perf_counter() - began:.1f} s; {load()}")
        words = ", ".join(f"{name} {size:.0f} MB" for name, size in most.items())
        print(f"memory at its most while proving: {words}; together {sum(most.values()):.0f} MB")
        page.wait_for_timeout(25_000)
        words = ", ".join(f"{name} {size:.0f} MB" for name, size in server.memory().items())
        print(f"memory with nothing to do: {words}")
        page.context.close()


def toggles(
    page: Page,
    server: Server,
    address: str,
    name: str,
    lever: str,
    positions: tuple[str, str] = ("on", "off"),
) -> None:
    answer = page.goto(address)
    assert answer is not None
    page.locator('body[data-worked="1"]').wait_for()
    page.wait_for_function(PAINTED)
    paint = page.evaluate(PAINT)
    elements = page.evaluate("document.querySelectorAll('.drawings *').length")
    page.wait_for_timeout(1500)
    began = server.worked()
    found = page.evaluate(TOGGLE, [lever, list(positions), 60])
    each = 1000 * (server.worked() - began) / len(found)
    times = sorted(one["whole"] for one in found)
    print(
        f"{name}: {elements} elements, page {len(answer.body()) / 1000:.0f} kB, "
        f"{answer.request.sizes()['responseBodySize'] / 1000:.0f} kB on the way, painted {paint:.0f} ms; "
        f"{lever} {statistics.median(times):.1f} ms median, {times[int(0.95 * len(times))]:.1f} ms p95 "
        f"(waited for the server {part(found, 'server')}, browser {part(found, 'browser')}, of it styles and "
        f"layout {part(found, 'style')}); quiet {quiet(found):.1f} ms; server {each:.1f} ms of processor; {load()}"
    )


def part(found: list[dict[str, float]], name: str) -> str:
    return f"{statistics.median(one[name] for one in found):.1f}"


def quiet(found: list[dict[str, float]]) -> float:
    """The median of the quickest of a few after one another: what a busy machine changes least."""
    whole = [one["whole"] for one in found]
    return statistics.median(min(whole[at : at + QUIET]) for at in range(0, len(whole), QUIET))


def edit(page: Page, server: Server) -> None:
    page.goto(f"{server.base}/record/cable")
    # A cell in hand keeps the page from being loaded again while the edits are timed.
    page.get_by_role("grid").get_by_role("row").nth(1).click()
    version = int(page.locator("body").get_attribute("data-version") or 0)
    times, worked = [], server.worked()
    for length in range(41, 52):
        began = time.perf_counter()
        asked = {
            "do": "set",
            "subject": "cable E1",
            "key": "length",
            "text": f"0.{length} m",
            "version": version,
        }
        version = page.evaluate(EDIT, asked)["version"]
        times.append(1000 * (time.perf_counter() - began))
    each = 1000 * (server.worked() - worked) / len(times)
    print(
        f"edit to text and findings: {statistics.median(times):.0f} ms, best {min(times):.0f} ms, "
        f"{each:.0f} ms of processor; {load()}"
    )


def invented(browser: Browser, folder: Path, size: int) -> None:
    folder.mkdir()
    (folder / "page.toml").write_text(plates_of_size(size), encoding="utf-8")
    with Server(sys.executable, "-c", SERVE_MANY, str(folder)) as server:
        page = opened(browser, server.address)
        page.set_default_timeout(120_000)
        address = f"{server.base}/service/lamps-0"
        toggles(page, server, address, "invented, one lamp", "switch-0-0.lever")
        toggles(page, server, address, "invented, all lamps", "master.lever")
        page.context.close()


def plates_of_size(size: int) -> str:
    """An invented dossier whose drawings together have about so many elements."""
    circuits, each = CIRCUITS, ELEMENTS
    wire = 'size = "14/.0076 in", length = "1 m"'
    items = ['battery = { kind = "battery", rating = "24 V 40 Ah" }', 'master = { kind = "switch" }']
    services = []
    for n in range(max(1, round(size / each))):
        cables = []
        if not n:
            cables.append(f'E = {{ from = "battery.-", to = "earth", {wire} }}')
            cables.append(f'F = {{ from = "battery.+", to = "master.1", {wire} }}')
        for k in range(circuits):
            items.append(f'switch-{n}-{k} = {{ kind = "switch", start = "on" }}')
            items.append(f'lamp-{n}-{k} = {{ kind = "lamp", rating = "24 V 6 W" }}')
            cables.append(f'A{n}-{k} = {{ from = "master.2", to = "switch-{n}-{k}.1", {wire} }}')
            cables.append(f'B{n}-{k} = {{ from = "switch-{n}-{k}.2", to = "lamp-{n}-{k}.1", {wire} }}')
            cables.append(f'C{n}-{k} = {{ from = "lamp-{n}-{k}.2", to = "earth", {wire} }}')
        services.append(
            f'[service.lamps-{n}]\ntitle = "Lamps {n}"\n\n[service.lamps-{n}.cables]\n' + "\n".join(cables)
        )
    head = '[dossier]\nformat = 1\ntitle = "Invented lamps"\nsupply = "24 V"\n\n[item]\n'
    return head + "\n".join(items) + "\n\n" + "\n\n".join(services) + "\n"


if __name__ == "__main__":
    main()
