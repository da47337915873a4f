"""Pairs of faults shared out on a cluster: a real one of two processes, started here, against one process."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from tests.unit.faults.records import EXAMPLES

from loomlore.answers import sharing
from loomlore.answers.opening import open_dossier
from loomlore.answers.sharing import shared_pairs
from loomlore.faults.pairing import chunks_of
from loomlore.findings import NoCluster, UnknownName, UnreadableValue

distributed = pytest.importorskip("distributed")

# the library warns of its own event loop and of sockets left to the collector when a worker is killed
pytestmark = [
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]


@pytest.fixture(scope="module")
def tug():
    return open_dossier(EXAMPLES / "glider-tug")


@pytest.fixture(scope="module")
def alone(tug):
    return shared_pairs(tug, ["navigation"])


@pytest.fixture(scope="module")
def cluster():
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as made:
        yield made


def told_of(study):
    """Everything a study says, in plain values."""
    return (
        study.tried,
        study.excluded,
        study.left,
        [
            (t.first.id, t.second.id, t.severity, t.hidden, [(e.situation.id, e.changes) for e in t.effects])
            for t in study.found
        ],
    )


def test_a_cluster_finds_what_one_process_finds(tug, alone, cluster):
    assert alone.found
    assert told_of(shared_pairs(tug, ["navigation"], scheduler=cluster.scheduler_address)) == told_of(alone)


def test_a_worker_killed_in_the_middle_changes_nothing(tug, alone, cluster, monkeypatch):
    """SIGKILL to one of two workers once the first chunks are in; the other, and a new one, do its chunks again."""
    monkeypatch.setattr(sharing, "chunks_of", lambda plan: chunks_of(plan, size=16))
    killed = []

    def told(done, _):
        if done == 3 and not killed:
            with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
                pids = client.run(os.getpid)
            killed.append(next(iter(pids.values())))
            os.kill(killed[0], signal.SIGKILL)

    study = shared_pairs(tug, ["navigation"], scheduler=cluster.scheduler_address, told=told)
    assert killed
    assert told_of(study) == told_of(alone)


def test_a_worker_of_another_version_is_refused(tug, cluster, monkeypatch):
    monkeypatch.setattr(sharing, "_builds_of", lambda _: {"tcp://w:1": "9.9.9 000000000000 plain"})
    with pytest.raises(NoCluster, match=r"9\.9\.9.*Install the same"):
        shared_pairs(tug, ["navigation"], scheduler=cluster.scheduler_address)


def test_a_worker_that_has_no_loomlore_is_named(tug, cluster, monkeypatch):
    error = ModuleNotFoundError("No module named 'loomlore'")
    monkeypatch.setattr(sharing, "_builds_of", lambda _: {"tcp://w:1": error})
    with pytest.raises(NoCluster, match=r"tcp://w:1 cannot run loomlore.*Install there the same version"):
        shared_pairs(tug, ["navigation"], scheduler=cluster.scheduler_address)


def test_nobody_at_the_address_says_what_to_start(tug, monkeypatch):
    monkeypatch.setattr(sharing, "PATIENCE", 0.5)
    with pytest.raises(NoCluster, match="Start one with `dask scheduler`"):
        shared_pairs(tug, ["navigation"], scheduler="tcp://127.0.0.1:9")


def test_an_address_that_is_none_is_refused(tug):
    with pytest.raises(NoCluster, match="No scheduler answers at"):
        shared_pairs(tug, ["navigation"], scheduler="nonsense://x")


def test_without_the_extra_it_says_what_to_install(tug, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NoCluster, match=r"pip install 'loomlore\[cluster\]'"):
        shared_pairs(tug, ["navigation"], scheduler="tcp://127.0.0.1:9")


def test_what_was_broken_off_goes_on_from_its_file(tug, alone, tmp_path):
    """Ctrl-C after two chunks: what is done is told and kept; the same command then does only the rest."""
    kept = tmp_path / "pairs.jsonl"

    def told(done, _):
        if done == 2:
            raise KeyboardInterrupt

    broken = shared_pairs(tug, ["navigation"], kept=kept, told=told)
    assert broken.left > 0
    assert not broken.whole
    assert len(kept.read_text().splitlines()) == 3  # a head and two chunks
    seen = []
    whole = shared_pairs(tug, ["navigation"], kept=kept, told=lambda done, _: seen.append(done))
    assert seen[0] == 3
    assert told_of(whole) == told_of(alone)


def test_a_line_cut_off_in_the_writing_is_done_again(tug, alone, tmp_path):
    kept = tmp_path / "pairs.jsonl"
    shared_pairs(tug, ["navigation"], kept=kept)
    kept.write_text(kept.read_text()[:-40])
    assert told_of(shared_pairs(tug, ["navigation"], kept=kept)) == told_of(alone)


def test_the_file_of_another_sweep_is_refused(tug, tmp_path):
    kept = tmp_path / "pairs.jsonl"
    shared_pairs(tug, ["navigation"], kept=kept, most=20)
    with pytest.raises(UnreadableValue, match="of another record"):
        shared_pairs(tug, ["navigation"], kept=kept, most=30)


def test_a_situation_that_is_none_is_refused(tug):
    with pytest.raises(UnknownName, match="ready"):
        shared_pairs(tug, ["navigation"], situations=["reddy"])


def test_importing_the_answers_does_not_import_the_cluster():
    source = Path(sharing.__file__).parents[2]
    program = """import sys, loomlore.answers.faults, loomlore.answers.sharing
print("distributed" in sys.modules or "dask" in sys.modules)"""
    said = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONPATH": str(source)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.strip() == "False"
