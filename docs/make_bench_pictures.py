"""Take the pictures of the bench anew: a plate being worked, and a fault chart half folded open.

python3 dev.py run docs/make_bench_pictures.py

Wants chromium on the path, and the tools of requirements/dev.txt.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, ViewportSize, sync_playwright

ROOT = Path(__file__).parents[1]
FOLDER = Path(__file__).parent / "pictures"
EXAMPLE = "mail-amphibian"
SIZE = ViewportSize(width=1440, height=900)
LONGEST = 120_000
"""Milliseconds that anything is waited for."""

SERVE = """
import sys
from pathlib import Path
from loomlore.bench.serving import open_bench
if __name__ == "__main__":
    open_bench(Path(sys.argv[1]), browser=False, say=lambda words: print(words, flush=True))
"""


@contextmanager
def bench() -> Iterator[str]:
    """A bench on a copy of the example; gives its address."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / EXAMPLE
        shutil.copytree(ROOT / "examples" / EXAMPLE, copy)
        process = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(copy)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        try:
            yield found[0]
        finally:
            process.terminate()
            process.wait(10)


def done(page: Page, act: Callable[[], object]) -> None:
    """Do something on a service's page, and wait until it is told what came of it."""
    before = page.locator("body").get_attribute("data-worked") or ""
    act()
    page.wait_for_function("before => document.body.dataset.worked !== before", arg=before)


def plate(page: Page, base: str) -> None:
    """The warning horn sounding, its verdicts in the margin, the horn in hand."""
    page.goto(f"{base}/service/horn")
    page.locator(".drawings svg").first.wait_for()
    page.locator("body[data-worked]").wait_for()
    for control, position in (("Master switch", "on"), ("Port wheel", "moving")):
        group = page.get_by_role("group", name=control, exact=True)
        done(page, group.get_by_role("radio", name=position, exact=True).check)
    page.get_by_label("Card of").select_option(label="Warning horn")
    page.locator("#functions table").first.wait_for()
    page.wait_for_function(
        "() => [...document.querySelectorAll('.statement .mark')].every((mark) => mark.textContent)"
    )
    page.get_by_role("heading", name="What the sources say").evaluate(
        "e => { const words = e.closest('.words'); words.scrollTop = e.offsetTop - words.offsetTop - 8; }"
    )
    page.get_by_role("heading", name="As it stands").click()
    page.screenshot(path=FOLDER / "bench-horn.png")


def chart(page: Page, base: str) -> None:
    """A silent horn, two checks made."""
    page.goto(f"{base}/faults?service=horn")
    page.get_by_label("Warning horn", exact=True).select_option("silent")
    page.get_by_role("button", name="Begin the hunt").click()
    for made in range(3):
        page.locator("#chart > li.made").nth(made - 1).wait_for() if made else page.locator(
            ".step.now"
        ).wait_for()
        if made < 2:
            page.get_by_role("list", name="What is found").get_by_role("button").nth(0).click()
    page.evaluate("window.scrollTo(0, 0)")
    page.screenshot(path=FOLDER / "bench-fault-finding.png")


def main() -> None:
    """Take them."""
    with bench() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport=SIZE, color_scheme="light")
        page.set_default_timeout(LONGEST)
        page.goto(address)
        base = address.partition("/?")[0]
        plate(page, base)
        chart(page, base)
        browser.close()


if __name__ == "__main__":
    main()
