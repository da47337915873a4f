"""How quick the bench is: cold start to first paint, toggle to plate restyled, edit to findings, size, memory.

    python benchmarks/bench.py [examples/mail-amphibian]

Wants playwright and a chromium. Times are of this machine; the page is served and shown on the same one.
"""

import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from machine import machine
from playwright.sync_api import Page, sync_playwright

SERVE = (
    "import sys; from pathlib import Path; from loomlore.bench.serving import open_bench; "
    "open_bench(Path(sys.argv[1]), browser=False, say=lambda words: print(words, flush=True))"
)
# A toggle is timed in the page, from the event to the frame after its classes were changed.
TOGGLE = """
async ([lever, positions, times]) => {
  const found = [];
  for (let n = 0; n < times; n += 1) {
    const input = document.querySelector(`[data-lever="${lever}"][value="${positions[n % 2]}"]`);
    const before = document.body.dataset.worked, began = performance.now();
    input.checked = true;
    const seen = new Promise((done) => new MutationObserver((_, observer) => {
      if (document.body.dataset.worked !== before) { observer.disconnect(); done(); }
    }).observe(document.body, { attributes: true }));
    input.dispatchEvent(new Event("input", { bubbles: true }));
    await seen;
    found.push(performance.now() - began);
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
PAINT = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


def main() -> None:
    example = Path(sys.argv[1] if len(sys.argv) > 1 else "examples/mail-amphibian")
    print(machine())
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "dossier"
        shutil.copytree(example, folder)
        began = time.perf_counter()
        server = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(folder)], stdout=subprocess.PIPE, text=True
        )
        try:
            assert server.stdout is not None
            address = re.search(r"http://\S+", server.stdout.readline())
            assert address is not None
            opened = time.perf_counter() - began
            measure(address.group(0), opened, server.pid)
        finally:
            server.terminate()
            server.wait()


def measure(address: str, opened: float, process: int) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
        page.goto(address)
        paint = page.evaluate(PAINT) / 1000
        print(f"address said after {opened:.2f} s; first page painted {paint:.2f} s after it was asked for")
        base = address.partition("/?")[0]
        for service in ("generation", "horn"):
            toggles(page, base, service)
        edit(page, base)
        status = Path(f"/proc/{process}/status").read_text(encoding="utf-8")
        resident = next(line.split()[1] for line in status.splitlines() if line.startswith("VmRSS"))
        print(f"memory of the server: {int(resident) / 1024:.0f} MB")
        browser.close()


def toggles(page: Page, base: str, service: str) -> None:
    answer = page.goto(f"{base}/service/{service}")
    assert answer is not None
    page.locator('body[data-worked="1"]').wait_for()
    paint = page.evaluate(PAINT)
    elements = page.evaluate("document.querySelectorAll('.drawings *').length")
    page.locator("#functions table").first.wait_for(timeout=60_000)
    page.locator("#proofs-said:empty").wait_for(state="attached", timeout=60_000)
    times = sorted(page.evaluate(TOGGLE, ["master-switch.lever", ["on", "off"], 60]))
    print(
        f"{service}: {elements} elements, page {len(answer.body()) / 1000:.0f} kB, painted {paint:.0f} ms; "
        f"toggle {statistics.median(times):.1f} ms median, {times[int(0.95 * len(times))]:.1f} ms p95"
    )


def edit(page: Page, base: str) -> None:
    page.goto(f"{base}/record/cable")
    # A cell in hand keeps the page from being loaded again while the edits are timed.
    page.get_by_role("grid").get_by_role("row").nth(1).click()
    version = int(page.locator("body").get_attribute("data-version") or 0)
    times = []
    for length in ("0.41 m", "0.42 m", "0.43 m", "0.44 m", "0.45 m"):
        began = time.perf_counter()
        asked = {"do": "set", "subject": "cable E1", "key": "length", "text": length, "version": version}
        version = page.evaluate(EDIT, asked)["version"]
        times.append(time.perf_counter() - began)
    print(f"edit to text and findings: {1000 * statistics.median(times):.0f} ms")


if __name__ == "__main__":
    main()
