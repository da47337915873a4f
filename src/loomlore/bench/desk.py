"""What lies on the bench: the open dossier, its plates, its readers' sittings, and work that goes on beside.

The dossier is read again whenever its files differ from what was read, so that a change made in an editor
appears by itself. Everything worked out belongs to one reading; a new reading begins with none of it. Proofs
and function tables run one after another in a thread of their own, and stop when nobody asks for them.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomlore.answers.check import check
from loomlore.answers.opening import Opened, open_dossier
from loomlore.findings import Finding, LoomloreError, UnknownName
from loomlore.network.building import Plant
from loomlore.record.reading import Reading

if TYPE_CHECKING:  # drawing and faults are only loaded when a plate is opened: the first page is not to wait
    from loomlore.bench.plates import LivePlate
    from loomlore.bench.sittings import Sitting

__all__ = ["Desk", "Stopped", "Task"]

MOST_SITTINGS = 40
MOST_PAST = 12
"""Readings kept to tell whether a line is still the one that a page showed."""
FORGOTTEN_AFTER = 4.0
"""Seconds after which a piece of work that nobody has asked after is given up."""

LOOKED_FOR = 0.5
"""Seconds for which what was read is taken to be what the files hold, where nothing is written."""

Signature = tuple[tuple[str, int, int], ...]
Told = Callable[[int, int], None]


class Stopped(Exception):
    """Raised inside a piece of work that is not wanted any more."""


@dataclass
class Task:
    """One piece of work beside: how far it is, and what came of it."""

    work: Callable[[Told], Any]
    partial: dict[str, Any] = field(default_factory=dict)
    done: int = 0
    of: int = 0
    result: Any = None
    failed: str = ""
    finished: bool = False
    stopped: bool = False
    asked: float = field(default_factory=time.monotonic)

    def run(self) -> None:
        """Do it, unless nobody wants it any more."""
        try:
            self._told(0, self.of)
            self.result = self.work(self._told)
        except Stopped:
            self.stopped = True
        except Exception as error:  # noqa: BLE001  it must not take the bench with it; the page says it
            self.failed = f"This could not be worked out ({type(error).__name__}: {error})."
        self.finished = not self.stopped

    def _told(self, done: int, of: int) -> None:
        self.done, self.of = done, of
        if self.stopped or time.monotonic() - self.asked > FORGOTTEN_AFTER:
            raise Stopped


@dataclass
class Desk:
    """One dossier on the bench."""

    folder: Path
    version: int = 0
    past: OrderedDict[int, Reading] = field(default_factory=OrderedDict)
    _opened: Opened | None = None
    _signature: Signature = ()
    _looked: float = 0.0
    _findings: tuple[Finding, ...] | None = None
    _plates: dict[tuple[str, str], LivePlate] = field(default_factory=dict)
    _sittings: OrderedDict[str, tuple[int, Sitting]] = field(default_factory=OrderedDict)
    _tasks: dict[tuple[Any, ...], Task] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _beside: ThreadPoolExecutor = field(
        default_factory=lambda: ThreadPoolExecutor(max_workers=1, thread_name_prefix="beside")
    )

    # -- the record

    def fresh(self) -> Opened:
        """The dossier as its files are now; read again where they have changed.

        Raises :class:`UnfitRecord` or :class:`FileNotFoundError` where there is nothing to be read.
        """
        with self._lock:
            signature = signature_of(self.folder)
            self._looked = time.monotonic()
            if self._opened is None or signature != self._signature:
                self._opened = open_dossier(self.folder)
                self._signature = signature
                self.version += 1
                self.past[self.version] = self._opened.reading
                while len(self.past) > MOST_PAST:
                    self.past.popitem(last=False)
                self._findings = None
                self._plates.clear()
                for task in self._tasks.values():
                    task.stopped = True
                self._tasks.clear()
            return self._opened

    def recent(self) -> Opened:
        """The dossier as its files were a moment ago: while controls are worked the folder is left alone."""
        with self._lock:
            if self._opened is None or time.monotonic() - self._looked > LOOKED_FOR:
                return self.fresh()
            return self._opened

    def findings(self) -> tuple[Finding, ...]:
        """Everything wrong or doubtful about the record's text and connections."""
        with self._lock:
            opened = self.fresh()
            if self._findings is None:
                self._findings = check(opened).findings
            return self._findings

    def plant(self, standard: str) -> Plant:
        """The network of a standard of fit; the dossier's own where empty."""
        with self._lock:
            opened = self.recent()
            return opened.plant(opened.fits(standard))

    def plate(self, standard: str, service: str) -> LivePlate:
        """A service's plate in a standard of fit, drawn once."""
        from loomlore.bench.plates import live_plate

        with self._lock:
            plant = self.plant(standard)
            if service not in plant.installation.dossier.services:
                raise UnknownName("service", service, plant.installation.dossier.services)
            if (standard, service) not in self._plates:
                self._plates[standard, service] = live_plate(plant, service)
            return self._plates[standard, service]

    # -- the readers

    def sitting(self, name: str, standard: str) -> Sitting:
        """A reader's sitting, in the record as it is now and in the standard of fit that is looked at."""
        from loomlore.bench.sittings import Sitting

        with self._lock:
            plant = self.plant(standard)
            version, found = self._sittings.pop(name, (0, None))
            if found is None:
                found = Sitting(plant=plant, standard=standard)
            elif version != self.version or found.standard != standard:
                found = found.taken_to(plant, standard)
            self._sittings[name] = (self.version, found)
            while len(self._sittings) > MOST_SITTINGS:
                self._sittings.popitem(last=False)
            return found

    # -- work beside

    def beside(
        self, key: tuple[Any, ...], work: Callable[[Told], Any], partial: dict[str, Any] | None = None
    ) -> Task:
        """A piece of work, begun if it is not begun yet; it may lay down parts of its result in ``partial``."""
        with self._lock:
            self.fresh()
            task = self._tasks.get(key)
            if task is None or task.stopped:
                task = Task(work, {} if partial is None else partial)
                self._tasks[key] = task
                self._beside.submit(task.run)
            task.asked = time.monotonic()
            return task

    def stop(self, key: tuple[Any, ...]) -> None:
        """Give up a piece of work."""
        with self._lock:
            if key in self._tasks and not self._tasks[key].finished:
                self._tasks.pop(key).stopped = True

    def warm(self) -> None:
        """Read the record and load what the plates need, before anybody asks."""
        with suppress(LoomloreError, OSError):
            self.findings()
            self.plant("")
            import_module("loomlore.bench.spreads")

    def close(self) -> None:
        """Give up everything that goes on beside."""
        for task in self._tasks.values():
            task.stopped = True
        self._beside.shutdown(wait=False, cancel_futures=True)


def signature_of(folder: Path) -> Signature:
    """Names, times and sizes of a dossier's texts."""
    found = []
    for path in sorted(folder.rglob("*.toml")):
        try:
            state = path.stat()
        except OSError:
            continue
        found.append((str(path), state.st_mtime_ns, state.st_size))
    return tuple(found)
