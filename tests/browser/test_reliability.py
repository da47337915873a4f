"""What is kept is kept: killed in the middle of a save, a full disk, a folder that may not be written, two at once.

Outside: a file system renames a file whole or not at all (POSIX.1-2017, rename), so that a text may be the old
one or the new one and nothing between; the full disk is a real one where this machine lets us make a small one.
"""

import os
import random
import re
import shutil
import signal
import subprocess
import threading
import time
import tomllib

import pytest

from browser.conftest import ROOT, Served
from browser.speaking import Speaker

SLOW_DISK = """
import os, random, time
_sync = os.fsync
def slowly(number):
    time.sleep(random.uniform(0.0, 0.04))
    _sync(number)
    time.sleep(random.uniform(0.0, 0.02))
os.fsync = slowly
"""
ROUNDS = 8


@pytest.fixture
def folder(tmp_path):
    found = tmp_path / "tug"
    shutil.copytree(ROOT / "examples" / "glider-tug", found)
    return found


@pytest.fixture
def serving():
    benches = []

    def serve(folder, before=""):
        benches.append(Served(folder, before))
        return benches[-1]

    yield serve
    for bench in benches:
        bench.stop()


def length_of(folder, cable="L1"):
    text = (folder / "tug.toml").read_text(encoding="utf-8")
    return next(
        service["cables"][cable]["length"]
        for service in tomllib.loads(text)["service"].values()
        if cable in service.get("cables", {})
    )


def keep(speaker, text, version, cable="L1"):
    return speaker.post(
        "/edit",
        {"do": "set", "subject": f"cable {cable}", "key": "length", "text": text, "version": version},
    )


def test_killed_in_the_middle_of_saving_every_kept_edit_is_there(folder, serving):
    dice = random.Random(19)
    path = folder / "tug.toml"
    number = 100
    in_between = 0
    for _ in range(ROUNDS):
        before = path.read_bytes()
        bench = serving(folder, SLOW_DISK)
        speaker = Speaker(bench)
        version = speaker.post("/version", {})["version"]
        kept, sent = [], []

        def edits(first, speaker=speaker, version=version, kept=kept, sent=sent):
            now, seen = first, version
            while True:
                sent.append(now)
                try:
                    answer = keep(speaker, f"{now / 100:.2f} m", seen)
                except Exception:  # noqa: BLE001  killed
                    return
                assert "refused" not in answer, answer
                kept.append(now)
                now, seen = now + 1, answer["version"]

        worker = threading.Thread(target=edits, args=(number,))
        worker.start()
        while not kept:
            time.sleep(0.01)
        time.sleep(dice.uniform(0.0, 0.5))
        os.kill(bench.process.pid, signal.SIGKILL)
        worker.join(10)
        there = round(float(length_of(folder).removesuffix(" m")) * 100)
        assert there in {kept[-1], sent[-1]}
        in_between += there != kept[-1] or sent[-1] != kept[-1]
        now = path.read_bytes()
        old, new = before.split(b"\n"), now.split(b"\n")
        assert len([1 for a, b in zip(old, new, strict=True) if a != b]) == 1, "that line, and no other byte"
        number = sent[-1] + 1
    assert in_between, "no round was killed with an edit under way; it proves nothing"


def test_what_a_killed_save_left_beside_is_taken_away(folder, serving):
    left, own = folder / ".tug.toml.0123abcd", folder / ".tug.toml.mine"
    left.write_text("half a")
    own.write_text("kept")
    os.utime(left, (time.time() - 600, time.time() - 600))
    speaker = Speaker(serving(folder))
    speaker.get("/")
    for _ in range(200):
        if not left.exists():
            break
        time.sleep(0.05)
    assert not left.exists()
    assert own.exists()


# -- a disk that takes no more ----------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 256 kB, where this machine lets us make one."""
    place = tmp_path / "disk"
    place.mkdir()
    if shutil.which("mount") is None or os.geteuid() != 0:
        pytest.skip("only the superuser can make a small disk")
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", place], check=False)
    if made.returncode:
        pytest.skip("this machine makes no small disk")
    yield place
    subprocess.run(["umount", "-l", place], check=False)


def filled(place):
    """Fill a disk to its last byte."""
    ballast = place / "ballast"
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 4096)
        except OSError:
            pass
    return ballast


def test_a_full_disk_says_so_and_loses_nothing(small_disk, serving):
    folder = small_disk / "tug"
    shutil.copytree(ROOT / "examples" / "glider-tug", folder)
    speaker = Speaker(serving(folder))
    version = speaker.post("/version", {})["version"]
    ballast = filled(small_disk)
    before = (folder / "tug.toml").read_bytes()
    answer = keep(speaker, "0.99 m", version)
    assert "the disk is full" in answer["refused"]
    assert (folder / "tug.toml").read_bytes() == before
    assert not list(folder.glob(".*")), "nothing is left beside"
    ballast.unlink()
    assert "refused" not in keep(speaker, "0.99 m", version)
    assert length_of(folder) == "0.99 m"


def test_a_disk_that_fails_at_any_step_leaves_the_old_text(folder, serving):
    """No space when writing, when flushing, when renaming: each in turn, in a bench of its own."""
    before = (folder / "tug.toml").read_bytes()
    for step in ("fsync", "replace", "rename"):
        failing = (
            f"import os, pathlib\ndef full(*a, **k): raise OSError(28, 'No space left on device')\n"
            f"setattr(os, '{step}', full)\n"
        )
        bench = serving(folder, failing)
        speaker = Speaker(bench)
        answer = keep(speaker, "0.98 m", speaker.post("/version", {})["version"])
        if step != "rename":  # a file is put in its place by os.replace; rename is not used
            assert "the disk is full" in answer["refused"], step
            assert (folder / "tug.toml").read_bytes() == before, step
        assert not list(folder.glob(".*")), step


def test_a_file_that_may_not_be_written_says_so_and_what_was_typed_stays(opening_of, folder, serving):
    bench = serving(folder)
    page = opening_of(bench, "/record/cable")
    (folder / "tug.toml").chmod(0o444)
    try:
        field = typing(page, "cable L1", "0.97 m")
        field.press("Enter")
        page.locator("td .beside", has_text="read-only").wait_for()
        assert field.input_value() == "0.97 m"
    finally:
        (folder / "tug.toml").chmod(0o644)
    field.press("Enter")
    wait_for(lambda: length_of(folder) == "0.97 m")


def test_a_bench_that_has_gone_says_so_and_what_was_typed_stays(opening_of, folder, serving):
    bench = serving(folder)
    page = opening_of(bench, "/record/cable")
    field = typing(page, "cable L1", "0.96 m")
    bench.process.kill()
    bench.process.wait(10)
    field.press("Enter")
    page.locator("td .beside", has_text="does not answer").wait_for()
    assert field.input_value() == "0.96 m"


# -- two at once ------------------------------------------------------------------------------------------------


def typing(page, row, text):
    page.locator(f'tr[data-subject="{row}"] td[data-key="length"]').click()
    field = page.get_by_role("textbox", name=f"length of {row}")
    field.fill(text)
    return field


def wait_for(so, seconds=10.0):
    end = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < end
        time.sleep(0.05)


def test_two_browsers_in_one_cell_the_second_is_shown_what_the_first_kept(opening_of, folder, serving):
    bench = serving(folder)
    first, second = opening_of(bench, "/record/cable"), opening_of(bench, "/record/cable")
    theirs, ours = typing(first, "cable L1", "1.01 m"), typing(second, "cable L1", "1.02 m")
    theirs.press("Enter")
    wait_for(lambda: length_of(folder) == "1.01 m")
    ours.press("Enter")
    second.locator("td .beside", has_text=re.compile(r"length was .* is 1\.01 m")).wait_for()
    assert ours.input_value() == "1.02 m"
    assert length_of(folder) == "1.01 m"


def test_many_edits_at_once_are_all_there_or_refused(folder, serving):
    """Eight readers press Enter in eight lines of one file in the same moment: none writes over another."""
    speaker = Speaker(serving(folder))
    version = speaker.post("/version", {})["version"]
    page = speaker.get("/record/cable").text
    cables = re.findall(r'data-subject="cable ([^"]+)"', page)[:8]
    answers = {}

    def one(cable):
        answers[cable] = keep(speaker, "1.23 m", version, cable)

    workers = [threading.Thread(target=one, args=(cable,)) for cable in cables]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    kept = [cable for cable in cables if "refused" not in answers[cable]]
    assert len(kept) == len(cables), answers
    for cable in kept:
        assert length_of(folder, cable) == "1.23 m"


def test_one_reader_is_answered_while_a_plate_is_drawn_and_proofs_run_for_another(folder, serving):
    """While everything heavy is under way, working a control is answered at once."""
    speaker = Speaker(serving(folder))
    speaker.get("/")
    speaker.post("/operate", {"sitting": "a", "service": "signals"})
    speaker.post("/verdicts", {"service": ""})
    speaker.post("/functions", {"service": "signals"})
    waits = []
    for position in ("on", "off") * 5:
        began = time.perf_counter()
        action = {"do": "move", "lever": "master-switch.lever", "to": position}
        answer = speaker.post("/operate", {"sitting": "a", "service": "signals", "action": action})
        waits.append(time.perf_counter() - began)
        assert answer["seen"]["levers"]["master-switch.lever"] == position
    assert sorted(waits)[len(waits) // 2] < 0.5, "common practice, no source: a wait that is felt"


# -- the other examples -------------------------------------------------------------------------------------------

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.mark.parametrize("example", ["glider-tug", "harbour-launch"])
def test_every_page_of_the_other_examples_opens_without_complaint(opening_of, tmp_path, serving, example):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="requirements/dev.txt has it")
    shutil.copytree(ROOT / "examples" / example, tmp_path / example)
    bench = serving(tmp_path / example)
    page = opening_of(bench, "/")
    said = []
    page.on("console", lambda one: said.append(one.text) if one.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    services = page.evaluate(
        "[...document.querySelectorAll('a[href^=\"/service/\"]')].map((a) => a.getAttribute('href'))"
    )
    heads = page.evaluate("[...document.querySelectorAll('nav a')].map((a) => a.getAttribute('href'))")
    assert services
    page.goto(bench.base + "/record/item")
    tables = page.evaluate(
        "[...document.querySelectorAll('nav.tables a')].map((a) => a.getAttribute('href'))"
    )
    assert tables
    wrong = []
    for path in dict.fromkeys([*heads, *services, *tables]):
        answer = page.goto(bench.base + path)
        assert answer.ok, path
        if path.startswith("/service/"):
            page.locator("#drawings svg").first.wait_for(timeout=30_000)
        found = axe.Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
        wrong += [
            (path, one["id"], node["html"][:100])
            for one in found.response["violations"]
            for node in one["nodes"]
        ]
    assert not wrong
    assert not said
