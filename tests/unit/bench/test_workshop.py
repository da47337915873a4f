"""Work beside the bench: given up at once, its memory kept small, and nobody kept waiting by it.

Outside: what the operating system says of the processes; verdicts are those that are proved in this process.
"""

import math
import os
import threading
import time
from types import MappingProxyType

import pytest

from loomlore.answers.opening import open_dossier
from loomlore.behaviour.proving import prove
from loomlore.bench import errands
from loomlore.bench.desk import Desk, files_of
from loomlore.bench.errands import ERRANDS, opened_from
from loomlore.bench.forgetting import forget, resident
from loomlore.bench.telling import verdict_data
from loomlore.bench.workshop import Task, Texts, Workshop
from loomlore.record.reading import read_dossier
from unit.bench.benches import LAMP, dossier


def stays(pipe, _):
    """Takes an errand, says that it has begun, and never comes back."""
    pipe.recv()
    pipe.send(("told", os.getpid(), 0))
    time.sleep(600)


def dies(pipe, _):
    pipe.recv()
    os._exit(3)


def echoes(pipe, _):
    while True:
        folder, texts, errand, asked = pipe.recv()
        pipe.send(("laid", "texts", texts is not None))
        pipe.send(("made", (folder, errand, asked)))


def parts(pipe, _):
    """Does the first of what is asked, and leaves the rest to another."""
    _, _, _, asked = pipe.recv()
    pipe.send(("laid", asked[0], os.getpid()))
    pipe.send(("rest", asked[1:]) if len(asked) > 1 else ("made", None))
    time.sleep(600)


@pytest.fixture
def shop():
    made = []

    def shop_of(serve):
        made.append(Workshop("tried", lambda: serve))
        return made[-1]

    yield shop_of
    for one in made:
        one.close()


def task(**more):
    return Task(Texts("folder", MappingProxyType({"a.toml": ""})), "errand", ("asked",), **more)


def wait_for(so, seconds=20.0):
    end = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < end
        time.sleep(0.01)


def runs(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_piece_nobody_wants_ends_with_its_process(shop):
    asked = shop(stays).give(task(patience=60.0))
    wait_for(lambda: asked.done)
    process = asked.done
    assert runs(process)
    asked.stopped = True
    assert asked.over.wait(5)
    wait_for(lambda: not runs(process), 5)
    assert not asked.finished


def test_a_piece_nobody_asks_after_is_forgotten(shop):
    asked = shop(stays).give(task(patience=0.5))
    assert asked.over.wait(20)
    assert asked.stopped
    assert not asked.finished


def test_a_process_that_dies_is_said_and_the_next_piece_is_done(shop):
    falling = shop(dies)
    first = falling.give(task(patience=60.0))
    assert first.over.wait(20)
    assert "its process has ended" in first.failed
    second = shop(echoes).give(task(patience=60.0))
    assert second.over.wait(20)
    assert second.result == ("folder", "errand", ("asked",))


def test_the_texts_are_sent_once_for_each_reading(shop):
    sent = []
    echoing = shop(echoes)
    texts = Texts("folder", MappingProxyType({}))
    for one in (texts, texts, Texts("folder", MappingProxyType({}))):
        asked = Task(one, "errand", (), patience=60.0, laid=lambda _, new: sent.append(new))
        assert echoing.give(asked).over.wait(20)
    assert sent == [True, False, True]


def test_a_process_that_has_grown_leaves_the_rest_to_another(shop):
    done = {}
    asked = Task(
        Texts("f", MappingProxyType({})), "errand", ("a", "b", "c"), patience=60.0, laid=done.__setitem__
    )
    assert shop(parts).give(asked).over.wait(30)
    assert list(done) == ["a", "b", "c"]
    assert len(set(done.values())) == 3
    wait_for(lambda: not any(runs(process) for process in list(done.values())[:2]), 5)


def test_what_can_wait_waits(shop):
    """A piece without end of patience is done when nothing else is to do."""
    order = []
    quiet = shop(echoes)
    pieces = [
        Task(
            Texts("f", MappingProxyType({})),
            str(n),
            (),
            patience=patience,
            laid=lambda *_, n=n: order.append(n),
        )
        for n, patience in enumerate((float("inf"), float("inf"), 60.0))
    ]
    for one in pieces:
        quiet.give(one)
    for one in pieces:
        assert one.over.wait(20)
    assert order.index(2) < order.index(1)


def test_the_errand_reads_what_the_bench_read_and_proves_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr(errands, "MOST_MEMORY", math.inf)  # that of the tests' own process is no matter here
    opened = open_dossier(dossier(tmp_path / "lamp", LAMP))
    again = opened_from("elsewhere", opened.reading.texts)
    assert again.reading.dossier == opened.reading.dossier
    found = {}
    ERRANDS["verdicts"](again, lambda *_: None, found.__setitem__, "", ("lit", "wrong"))
    plant = opened.plant()
    assert set(found) == {"lit", "wrong"}
    for name, verdict in found.items():
        assert verdict == verdict_data(plant, prove(plant, opened.dossier.statements[name]))


def test_what_is_remembered_can_be_given_back(tmp_path):
    from loomlore.behaviour.exploring import explored

    opened = open_dossier(dossier(tmp_path / "lamp", LAMP))
    prove(opened.plant(), opened.dossier.statements["lit"])
    assert explored.cache_info().currsize
    forget()
    assert not explored.cache_info().currsize
    assert resident() >= 0


# -- the desk ---------------------------------------------------------------------------------------------------


@pytest.fixture
def desk(tmp_path):
    made = Desk(dossier(tmp_path / "lamp", LAMP))
    yield made
    made.close()


def judged(desk):
    wait_for(lambda: desk.verdicts("", "")["finished"], 60)
    return desk.verdicts("", "")


def test_verdicts_of_before_are_stale_until_they_are_proved_again(desk):
    before = judged(desk)
    assert before["verdicts"]["wrong"]["moves"]
    (desk.folder / "page.toml").write_text(LAMP.replace("always out", "always dark"), encoding="utf-8")
    desk.fresh()
    now = desk.verdicts("", "")
    assert not now["finished"]
    assert now["done"] < now["of"]
    assert all(one["stale"] for one in now["verdicts"].values())
    assert now["verdicts"]["wrong"]["mark"] == before["verdicts"]["wrong"]["mark"]
    assert not now["verdicts"]["wrong"]["moves"], "moves of another reading are not played"
    assert not any(one.get("stale") for one in judged(desk)["verdicts"].values())


def test_nobody_waits_for_a_plate_that_is_being_drawn(desk, monkeypatch):
    """While a plate is under way the record is read, edited and operated."""
    given = threading.Event()
    monkeypatch.setattr(Workshop, "give", lambda _, one: (given.set(), one)[1])
    waiting = threading.Thread(target=lambda: desk.plate("", "lamp", wait=5.0), daemon=True)
    waiting.start()
    assert given.wait(10)
    began = time.monotonic()
    assert desk.plate_at_hand("", "lamp") is None
    sitting = desk.sitting("a", "")
    sitting.work({"do": "move", "lever": "switch.lever", "to": "on"})
    (desk.folder / "page.toml").write_text(LAMP + "\n", encoding="utf-8")
    desk.fresh()
    desk.findings()
    assert time.monotonic() - began < 4.0
    assert waiting.is_alive()


def test_what_was_done_stays_when_the_record_changes(desk):
    desk.sitting("a", "").work({"do": "move", "lever": "switch.lever", "to": "on"})
    old = desk.sitting("a", "")
    (desk.folder / "page.toml").write_text(LAMP.replace("24 V 6 W", "24 V 5 W"), encoding="utf-8")
    desk.fresh()
    new = desk.sitting("a", "")
    assert new is not old
    assert new.positions()["switch.lever"] == "on"


def test_links_and_hidden_files_are_none_of_the_dossiers(desk, tmp_path):
    outside = dossier(tmp_path / "outside")
    (desk.folder / "link.toml").symlink_to(outside / "page.toml")
    (desk.folder / "folder").symlink_to(outside)
    (desk.folder / ".page.toml.0123abcd").write_text("x")
    (desk.folder / ".git").mkdir()
    (desk.folder / ".git" / "x.toml").write_text("")
    (desk.folder / "more").mkdir()
    (desk.folder / "more" / "b.toml").write_text("")
    assert list(files_of(desk.folder)) == ["more/b.toml", "page.toml"]


@pytest.mark.parametrize("file", ["page.toml", "more.toml", "broken.toml"])
def test_reading_on_from_an_earlier_reading_is_reading(tmp_path, file):
    """Files taken over from an earlier reading make no difference to what is read and found."""
    folder = dossier(tmp_path / "lamp", LAMP)
    (folder / "more.toml").write_text('[place]\nshelf = { name = "Shelf" }\n', encoding="utf-8")
    (folder / "broken.toml").write_text('[place]\nhook = { name = "Hook"\n', encoding="utf-8")
    before = read_dossier(folder)
    with (folder / file).open("a", encoding="utf-8") as text:
        text.write('\n[place.bench]\nname = "Bench"\n')
    on, anew = read_dossier(folder, before=before), read_dossier(folder)
    assert on.dossier == anew.dossier
    assert on.findings == anew.findings
    assert on.paths == anew.paths
    assert on.raw == anew.raw
    assert on.broken == anew.broken


FIRST_DECISION = """
[[decision]]
about = "battery"
because = "it was so"
"""
CHANGES = {
    "a key of another file, which all its cables take over": ("horn.toml", "10 A", "15 A"),
    "another order, which a reader sees": ("steps.toml", 'a = "on", b = "on"', 'b = "on", a = "on"'),
    "a thing gone, so that what has no name of its own is numbered anew": ("steps.toml", FIRST_DECISION, ""),
    "a slip beside it": ("steps.toml", "because", "becuase"),
    "what is usual of the service": ("horn.toml", "14/.0076 in", "23/.0076 in"),
    "a range that settings elsewhere are read by": ("horn.toml", '"kt"', '"m/s"'),
}
FILES = {
    "horn.toml": """
[dossier]
format = 1
title = "Horn"
supply = "12 V"

[item]
battery = { kind = "battery", rating = "12 V 40 Ah" }
horn = { kind = "horn" }
a = { kind = "switch" }
b = { kind = "switch" }
box = { kind = "fuse-box" }

[way.box]
1 = { fuse = "10 A" }

[condition]
speed = { range = ["0 kt", "90 kt"], unit = "kt" }

[service.horn]
title = "Horn"
usual = { size = "14/.0076 in" }
""",
    "cables.toml": """
[service.horn.cables]
H1 = { from = "battery.+", to = "box.1", length = "1 m" }
H2 = { from = "box.1", to = "horn.1", length = "2 m" }
""",
    "steps.toml": f"""
[procedure.try]
title = "Try it"
start = {{ speed = "80 kt" }}
steps = [ {{ do = {{ a = "on", b = "on" }} }} ]
{FIRST_DECISION}
[[decision]]
about = "horn"
because = "so it was"
""",
}


@pytest.mark.parametrize("change", CHANGES)
def test_things_taken_over_are_as_if_read_again(tmp_path, change):
    """A thing of an unchanged file is taken over as it was made; no edit elsewhere may leave it behind."""
    folder = tmp_path / "horn"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / name).write_text(text, encoding="utf-8")
    before = read_dossier(folder)
    again = read_dossier(folder, before=before)
    assert again.dossier == before.dossier
    assert all(again.dossier.cables[one] is before.dossier.cables[one] for one in ("H1", "H2"))
    file, was, now = CHANGES[change]
    assert was in FILES[file]
    (folder / file).write_text(FILES[file].replace(was, now, 1), encoding="utf-8")
    on, anew = read_dossier(folder, before=before), read_dossier(folder)
    assert anew.texts != before.texts
    # repr shows the order of what is set, which == between mappings does not
    assert repr(on.dossier) == repr(anew.dossier)
    assert on.findings == anew.findings
    assert (on.paths, on.raw, on.broken, on.touched) == (anew.paths, anew.raw, anew.broken, anew.touched)
