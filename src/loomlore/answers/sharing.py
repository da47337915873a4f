"""A sweep of pairs shared out among other machines, with ``dask.distributed`` (the extra ``[cluster]``).

The same chunks are worked out by the same function as in one process (:mod:`loomlore.faults.pairing`). Each chunk is
sent with the texts of the record, under a key made of both, so that a worker needs nothing of its own but the same
version of this package. What comes back is put together by key: a chunk that is worked out twice, because a worker
was lost on the way, counts once; a chunk whose worker dies is worked out by another.

Chunks that are done are also kept in a file, one line each, where one is named: a sweep that was broken off goes on
from there, on a cluster or without one. The file says of which record and which pairs it is.

**Whoever reaches a scheduler can run any code on its workers.** It belongs on a trusted network, or behind the
certificates of its own documentation.
"""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any

from loomlore.answers.opening import Opened, opened_from
from loomlore.faults.effects import Change
from loomlore.faults.pairing import (
    MOST_PAIRS,
    Chunk,
    ChunkDone,
    Find,
    PairStudy,
    Plan,
    chunks_of,
    gathered,
    plan_pairs,
    worked_out,
)
from loomlore.findings import NoCluster, RefusedEdit, UnknownName, UnreadableValue
from loomlore.network.kernel import compiled
from loomlore.version import VERSION

__all__ = ["Order", "chunk_done", "shared_pairs"]

PATIENCE = 10.0
"""Seconds to wait for a scheduler to answer."""

RETRIES = 3
"""How often a chunk is sent again that failed otherwise than by a worker's death."""

Told = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Order:
    """What a worker must know: the record's texts (packed), the standard of fit, which pairs in which situations."""

    texts: bytes
    standard: str
    services: tuple[str, ...]
    situations: tuple[str, ...]
    most: int
    hidden: tuple[str, ...]

    @property
    def digest(self) -> str:
        """The same for the same pairs of the same record."""
        asked = json.dumps([self.standard, self.services, self.situations, self.most, self.hidden])
        return hashlib.sha256(self.texts + asked.encode() + _build().encode()).hexdigest()[:16]


def _order(opened: Opened, standard: str, plan: Plan, most: int) -> Order:
    texts = json.dumps(dict(sorted(opened.reading.texts.items())), ensure_ascii=False)
    situations = tuple(s.id for s in plan.situations)
    return Order(
        zlib.compress(texts.encode()),
        standard,
        plan.services,
        situations,
        most,
        tuple(sorted(plan.hidden)),
    )


@lru_cache(maxsize=4)
def _plan_of(order: Order) -> Plan:
    texts: dict[str, str] = json.loads(zlib.decompress(order.texts))
    opened = opened_from(texts)
    plant = opened.plant(opened.fits(order.standard))
    return plan_pairs(
        plant, order.services, situations=order.situations, most=order.most, hidden=order.hidden
    )


_ONE_AT_A_TIME = Lock()


def chunk_done(order: Order, chunk: Chunk) -> ChunkDone:
    """Work out a chunk on whatever machine this runs.

    Parameters
    ----------
    order
        With the record.
    chunk
        One of its chunks.

    Returns
    -------
    ChunkDone
        The same everywhere.
    """
    with _ONE_AT_A_TIME:  # what a plan keeps is made for one thread
        return worked_out(_plan_of(order), chunk)


DECIDES = ("record", "catalogue", "network", "behaviour", "faults")
"""Packages whose source decides what a sweep finds."""


@lru_cache(maxsize=1)
def _build() -> str:
    """Version of the package, and a digest of its source and of the way it solves: what must be the same all over."""
    source = hashlib.sha256()
    folder = Path(__file__).parents[1]
    for path in sorted(path for name in DECIDES for path in (folder / name).rglob("*.py")):
        source.update(path.read_bytes())
    fast = "compiled" if compiled() is not None else "plain"
    return f"{VERSION} {source.hexdigest()[:12]} {fast}"


def _whose(build: str) -> str:
    version, digest, fast = build.split(" ")
    return f"loomlore {version} (source {digest}, {'with' if fast == 'compiled' else 'without'} [fast])"


# -- in turn, or on a cluster ----------------------------------------------------------------------


def shared_pairs(
    opened: Opened,
    services: Sequence[str],
    *,
    standard: str = "",
    situations: Sequence[str] = (),
    most: int = MOST_PAIRS,
    scheduler: str = "",
    kept: Path | None = None,
    told: Told | None = None,
) -> PairStudy:
    """Work out every pair of a service's faults, here or on a cluster.

    Parameters
    ----------
    opened
        The record.
    services
        Whose faults.
    standard
        A named standard of fit; the dossier's own where empty.
    situations
        Ids of situations; all that concern the service where empty.
    most
        Pairs at most, in their order; 0 for no limit.
    scheduler
        Address of a cluster's scheduler, as ``tcp://192.168.1.20:8786``; in this process where empty.
    kept
        File in which chunks that are done are kept, and from which they are taken.
    told
        Called with chunks done and chunks in all.

    Returns
    -------
    PairStudy
        Also where it is broken off with Ctrl-C: what is done by then, and how much is left.

    Raises
    ------
    NoCluster
        Where the extra is not installed, the scheduler does not answer, or a worker is of another version.
    UnknownName
        Where no situation is called so.
    """
    plant = opened.plant(opened.fits(standard))
    plan = plan_pairs(plant, services, situations=situations, most=most)
    missing = [name for name in situations if name not in {s.id for s in plan.situations}]
    if missing:
        raise UnknownName("situation", missing[0], known_situations(plan))
    order, chunks = _order(opened, standard, plan, most), chunks_of(plan)
    done = {one.chunk.key: one for one in _read_kept(kept, order, chunks)}
    rest = [chunk for chunk in chunks if chunk.key not in done]
    working = _on_cluster(order, rest, scheduler) if scheduler and rest else _in_turn(plan, rest)
    try:
        for one in working:
            if one.chunk.key not in done:
                done[one.chunk.key] = one
                _keep(kept, order, one)
            if told is not None:
                told(len(done), len(chunks))
    except KeyboardInterrupt:
        working.close()
        if not done:
            raise
    return gathered(plan, done.values(), of=len(chunks))


def known_situations(plan: Plan) -> tuple[str, ...]:
    """Ids of all situations of a plan's installation.

    Parameters
    ----------
    plan
        Any.

    Returns
    -------
    tuple of str
        In order.
    """
    from loomlore.faults.situations import situations_of

    return tuple(s.id for s in situations_of(plan.plant))


def _in_turn(plan: Plan, chunks: Sequence[Chunk]) -> Generator[ChunkDone, None, None]:
    for chunk in chunks:
        yield worked_out(plan, chunk)


def _on_cluster(order: Order, chunks: Sequence[Chunk], address: str) -> Generator[ChunkDone, None, None]:
    distributed = _distributed()
    client = _client(distributed, address)
    try:
        _agree(client, address)
        futures = [
            client.submit(
                chunk_done, order, chunk, key=f"loomlore-{order.digest}-{chunk.key}", retries=RETRIES
            )
            for chunk in chunks
        ]
        try:
            yield from _as_they_come(distributed, client, futures)
        finally:
            client.cancel(futures)
    finally:
        client.close(timeout=PATIENCE)


def _as_they_come(distributed: Any, client: Any, futures: Sequence[Any]) -> Iterator[ChunkDone]:
    for future in distributed.as_completed(futures, loop=client.loop):
        if future.status == "cancelled" or client.status != "running":
            raise NoCluster(
                "The scheduler has gone in the middle of the work. What was done is kept where --so-far names a "
                "file; start the scheduler again and give the same command."
            )
        try:
            yield future.result()
        except distributed.KilledWorker as error:
            raise NoCluster(
                f"A chunk has brought down one worker after another ({error}). Give the workers more memory "
                "(--memory-limit), and each one thread (--nthreads 1)."
            ) from error
        future.release()


def _distributed() -> Any:
    try:
        import distributed
    except ImportError as error:
        raise NoCluster(
            "A cluster wants the extra [cluster] here and on every worker: pip install 'loomlore[cluster]'."
        ) from error
    return distributed


def _client(distributed: Any, address: str) -> Any:
    if not re.fullmatch(r"[a-z]+://\S+", address):
        raise NoCluster(f"{address!r} is no address of a scheduler. Write it as tcp://192.168.1.20:8786.")
    try:
        return distributed.Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise NoCluster(
            f"No scheduler answers at {address!r}. Start one with `dask scheduler` and on each machine "
            "`dask worker ADDRESS --nthreads 1`; give the address that it prints, as tcp://192.168.1.20:8786."
        ) from error


def _agree(client: Any, address: str) -> None:
    """Every worker must have this very package, since all answers go into one list."""
    workers = client.scheduler_info(n_workers=-1)["workers"]
    if not workers:
        raise NoCluster(
            f"The scheduler at {address} has no workers. Start them with `dask worker {address} --nthreads 1`."
        )
    for worker, build in _builds_of(client).items():
        if isinstance(build, BaseException):
            raise NoCluster(
                f"The worker at {worker} cannot run loomlore ({type(build).__name__}: {build}). Install there the "
                f"same version as here: {_whose(_build())}."
            )
        if build != _build():
            raise NoCluster(
                f"The worker at {worker} has {_whose(build)}, this machine {_whose(_build())}. Install the same "
                "on all, with or without [fast] alike, and start the workers again."
            )


def _builds_of(client: Any) -> Mapping[str, Any]:
    """What each worker has, or the error that it gave."""
    found: Mapping[str, Any] = client.run(_build, on_error="return")
    return found


# -- what is done, kept in a file ------------------------------------------------------------------


def _keep(path: Path | None, order: Order, one: ChunkDone) -> None:
    if path is None:
        return
    fresh = not path.exists() or not path.stat().st_size
    try:
        with path.open("a", encoding="utf-8") as file:
            if fresh:
                file.write(json.dumps({"loomlore": "pairs of faults", "of": order.digest}) + "\n")
            file.write(json.dumps(_line(one), ensure_ascii=False) + "\n")
    except OSError as error:
        raise RefusedEdit(f"cannot write {str(path)!r}: {error.strerror}. Name another --so-far.") from error


def _line(one: ChunkDone) -> dict[str, Any]:
    return {
        "chunk": [one.chunk.situation, one.chunk.start, one.chunk.stop],
        "tried": one.tried,
        "excluded": one.excluded,
        "finds": [
            [f.pair, f.situation, [[c.name, c.item, c.service, c.kind, c.before, c.after] for c in f.changes]]
            for f in one.finds
        ],
    }


def _read_kept(path: Path | None, order: Order, chunks: Sequence[Chunk]) -> Iterator[ChunkDone]:
    """Chunks of a file; a last line that was cut off in the writing is left."""
    if path is None or not path.exists() or not path.stat().st_size:
        return
    known = {chunk.key for chunk in chunks}
    head, *lines = path.read_text(encoding="utf-8", errors="replace").splitlines() or [""]
    if _read_line(head).get("of") != order.digest:
        raise UnreadableValue(
            f"{str(path)!r} is of another record, other pairs or another version.",
            "Name a new --so-far FILE.",
        )
    for line in lines:
        data = _read_line(line)
        if "chunk" in data:
            chunk = Chunk(*data["chunk"])
            if chunk.key in known:
                finds = tuple(
                    Find(pair, situation, tuple(Change(*c) for c in changes))
                    for pair, situation, changes in data["finds"]
                )
                yield ChunkDone(chunk, data["tried"], data["excluded"], finds)


def _read_line(line: str) -> dict[str, Any]:
    try:
        data = json.loads(line)
    except ValueError:
        return {}
    return data if isinstance(data, dict) else {}
