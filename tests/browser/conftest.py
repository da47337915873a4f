"""A bench served on the loopback address, and Debian's chromium to open it with."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SERVE = """
import sys
from pathlib import Path
from loomlore.bench.serving import open_bench
open_bench(Path(sys.argv[1]), browser=False, say=lambda words: print(words, flush=True))
"""


class Served:
    """A bench in a process of its own."""

    def __init__(self, folder, before=""):
        paths = os.pathsep.join([str(ROOT / "src"), *filter(None, sys.path)])
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-c", before + SERVE, str(folder)], stdout=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": paths},
        )  # fmt: skip
        self.address = re.search(r"http://\S+", self.process.stdout.readline()).group(0)
        self.base = self.address.partition("/?")[0]
        self.process.stdout.readline()

    def stop(self):
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(10)
        self.process.stdout.close()


@pytest.fixture(scope="session")
def chromium():
    sync_api = pytest.importorskip("playwright.sync_api", reason="requirements/dev.txt has it")
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("no chromium on this machine")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def served(tmp_path_factory):
    """The glider tug, a copy of its own: every page and control."""
    folder = tmp_path_factory.mktemp("bench") / "tug"
    shutil.copytree(ROOT / "examples" / "glider-tug", folder)
    bench = Served(folder)
    yield bench
    bench.stop()


@pytest.fixture(scope="session")
def let_in(chromium, served):
    """The cookie of a browser that has used the address."""
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    state = context.storage_state()
    context.close()
    return state


@pytest.fixture
def opening(chromium, served, let_in):
    """Opens pages of the bench; complaints of the browser (script errors, a breach of the policy) fail the test."""
    contexts, complaints = [], []

    def open_page(path, *, width=1440, height=900, **more):
        context = chromium.new_context(
            viewport={"width": width, "height": height}, storage_state=let_in, **more
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console", lambda said: complaints.append(said.text) if "Security Policy" in said.text else None
        )
        page.goto(served.base + path)
        page.set_default_timeout(8000)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not complaints


@pytest.fixture
def opening_of(chromium):
    """Opens pages of any bench, each in a browser of its own."""
    contexts = []

    def open_page(bench, path):
        from browser.speaking import speaker_of

        name, _, value = speaker_of(bench).cookie.partition("=")
        context = chromium.new_context(viewport={"width": 1440, "height": 900})
        contexts.append(context)
        context.add_cookies([{"name": name, "value": value, "url": bench.base}])
        page = context.new_page()
        page.set_default_timeout(15000)
        page.goto(bench.base + path)
        return page

    yield open_page
    for context in contexts:
        context.close()
