"""What lies on the bench: the open dossier, its plates, its readers' sittings, and work that goes on beside.

The dossier is read again whenever its files differ from what was read, so that a change made in an editor
appears by itself. Everything worked out belongs to one reading; a new reading begins with none of it, except
that verdicts of the reading before are still shown, as what they are, until they have been proved again.

Invariants
* The desk's lock is held to look something up or to put it down, never while anything is read, drawn or proved.
* Reading, building a network and checking each have a lock of their own: whoever wants the same waits for it,
  and is not made to do it twice.
* While controls are worked nothing is read: the network is the one that was last read.
"""

from __future__ import annotations

import math
import os
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from importlib import import_module
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomlore.answers.check import check
from loomlore.answers.opening import Opened, open_dossier
from loomlore.bench.forgetting import forget
from loomlore.bench.workshop import FORGOTTEN_AFTER, Task, Texts, Workshop
from loomlore.findings import Finding, LoomloreError, UnknownName
from loomlore.network.building import Plant
from loomlore.record.editing import sweep

if TYPE_CHECKING:  # drawing and faults are only loaded when a plate is opened: the first page is not to wait
    from loomlore.bench.plates import LivePlate
    from loomlore.bench.sittings import Sitting

__all__ = ["Desk", "NotDrawn", "Seen", "files_of"]

MOST_SITTINGS = 40
MOST_PAST = 12
"""Readings kept to tell whether a line is still the one that a page showed."""

DRAWN_AGAIN = 4
"""Plates that are drawn again of themselves when the record has changed: those last looked at."""

DEEPEST = 16
"""Folders within folders that are looked into, as in reading."""

LONGEST_WAIT = 60.0
"""Seconds for which a page waits for what it cannot be shown without."""

Actions = tuple[Mapping[str, Any], ...]
"""What was done in a sitting, in order."""

Signature = tuple[tuple[str, int, int, int], ...]


class NotDrawn(LoomloreError):
    """A drawing could not be made; why is in its words."""


@dataclass(frozen=True)
class Seen:
    """What a page showed of an earlier reading: enough to tell whether a line is still the same."""

    raw: Mapping[str, Mapping[str, Any]]
    paths: Mapping[str, tuple[str, tuple[str | int, ...]]]


@dataclass
class Desk:
    """One dossier on the bench."""

    folder: Path
    version: int = 0
    past: OrderedDict[int, Seen] = field(default_factory=OrderedDict)
    _opened: Opened | None = None
    _texts: Texts | None = None
    _signature: Signature = ()
    _findings: tuple[Finding, ...] | None = None
    _plates: dict[tuple[str, str], LivePlate] = field(default_factory=dict)
    _looked_at: OrderedDict[tuple[str, str], None] = field(default_factory=OrderedDict)
    _sittings: OrderedDict[str, tuple[str, Sitting | Actions]] = field(default_factory=OrderedDict)
    _tasks: dict[tuple[Any, ...], Task] = field(default_factory=dict)
    _judged: dict[tuple[str, str], tuple[int, dict[str, Any]]] = field(default_factory=dict)
    _spoken: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _reading: threading.Lock = field(default_factory=threading.Lock)
    _building: threading.Lock = field(default_factory=threading.Lock)
    _checking: threading.Lock = field(default_factory=threading.Lock)
    _proving: Workshop = field(default_factory=lambda: Workshop("proving", _errands))
    _drawing: Workshop = field(default_factory=lambda: Workshop("drawing", _errands, idle=3.0, stands_back=0))
    _working: Workshop = field(default_factory=lambda: Workshop("working", _errands))

    # -- the record

    def fresh(self) -> Opened:
        """The dossier as its files are now; read again where they have changed.

        Raises :class:`UnfitRecord` or :class:`FileNotFoundError` where there is nothing to be read.
        """
        signature = signature_of(self.folder)
        opened = self._opened
        if opened is not None and signature == self._signature:
            return opened
        with self._reading:
            signature = signature_of(self.folder)  # before the files are read: what changes meanwhile shows
            if self._opened is None or signature != self._signature:
                self._put_down(open_dossier(self.folder, before=self._opened), signature)
            assert self._opened is not None
            return self._opened

    def _put_down(self, opened: Opened, signature: Signature) -> None:
        """Take a new reading for the one in hand, and give up what belonged to the one before."""
        with self._lock:
            first = self._opened is None
            for task in self._tasks.values():
                task.stopped = True
            self._tasks.clear()
            self._opened, self._signature = opened, signature
            self._texts = Texts(str(self.folder), opened.reading.texts)
            self.version += 1
            self.past[self.version] = Seen(opened.reading.raw, opened.reading.paths)
            while len(self.past) > MOST_PAST:
                self.past.popitem(last=False)
            self._findings = None
            # of a sitting in a reading that is gone only what was done is kept, not the installation
            for name, (standard, sitting) in self._sittings.items():
                self._sittings[name] = (standard, actions_of(sitting))
            self._plates.clear()
            self._spoken.clear()
            again = [] if first else list(self._looked_at)[-DRAWN_AGAIN:]
        if not first:
            forget()  # networks of readings that are gone
        for standard, service in again:
            self._have_drawn(standard, service, math.inf)

    def recent(self) -> Opened:
        """The dossier as it was last read: while controls are worked the folder is left alone."""
        return self._opened or self.fresh()

    def findings(self) -> tuple[Finding, ...]:
        """Everything wrong or doubtful about the record's text and connections."""
        opened = self.fresh()
        with self._checking:
            if self._findings is None or opened is not self._opened:
                found = check(opened).findings
                with self._lock:
                    if opened is self._opened:
                        self._findings = found
                return found
            return self._findings

    def plant(self, standard: str) -> Plant:
        """The network of a standard of fit; the dossier's own where empty."""
        opened = self.recent()
        fits = opened.fits(standard)
        with self._building:
            return opened.plant(fits)

    # -- plates

    def plate(self, standard: str, service: str, *, wait: float = 0.0) -> LivePlate | None:
        """A service's plate in a standard of fit; None where it is not drawn yet, and begun then.

        Waits for it at most ``wait`` seconds. Raises :class:`UnknownName` where there is no such service, and
        :class:`NotDrawn` where it cannot be drawn.
        """
        plant = self.plant(standard)
        if service not in plant.installation.dossier.services:
            raise UnknownName("service", service, plant.installation.dossier.services)
        with self._lock:
            self._looked_at.pop((standard, service), None)
            self._looked_at[standard, service] = None
            while len(self._looked_at) > MOST_SITTINGS:
                self._looked_at.popitem(last=False)
            found = self._plates.get((standard, service))
        if found is not None:
            return found
        task = self._have_drawn(standard, service)
        if not (task.finished or (wait > 0 and task.over.wait(wait))) or task.stopped:
            return None
        return self._drawn(standard, service, task, plant)

    def plate_at_hand(self, standard: str, service: str) -> LivePlate | None:
        """The plate where it is drawn; nothing is begun, nothing waited for."""
        return self._plates.get((standard, service))

    def _drawn(self, standard: str, service: str, task: Task, plant: Plant) -> LivePlate:
        from loomlore.bench.plates import LivePlate, contacts_alone

        if task.failed:
            raise NotDrawn(task.failed)
        plate = LivePlate(**task.result, contacts=contacts_alone(plant, task.result["names"]))
        with self._lock:
            if self._texts is task.texts:
                self._plates[standard, service] = plate
                self._tasks.pop(("plate", standard, service), None)
        return plate

    def _have_drawn(self, standard: str, service: str, patience: float = LONGEST_WAIT) -> Task:
        return self._errand(("plate", standard, service), self._drawing, patience=patience)

    def plans(self, standard: str, looms: Sequence[str], *, wait: float) -> dict[str, tuple[str, ...]] | None:
        """The place plan and the plan of some looms; None where they are not drawn within ``wait`` seconds.

        Raises :class:`NotDrawn` where they cannot be drawn.
        """
        task = self._errand(("plans", standard, *looms), self._drawing, patience=LONGEST_WAIT)
        if not task.over.wait(wait) or task.stopped:
            return None
        if task.failed:
            raise NotDrawn(task.failed)
        found: dict[str, tuple[str, ...]] = task.result
        return found

    def drawing(self, what: str, standard: str, *more: Any) -> Any:
        """Something else drawn (``plans``, ``sheet``), waited for.

        Raises :class:`NotDrawn` where it cannot be drawn.
        """
        task = self._errand((what, standard, *more), self._drawing, patience=LONGEST_WAIT)
        if not task.over.wait(LONGEST_WAIT) or task.stopped or task.failed:
            raise NotDrawn(task.failed or "The drawing was given up; load the page again.")
        return task.result

    # -- the readers

    def sitting(self, name: str, standard: str) -> Sitting:
        """A reader's sitting, in the record as it is now and in the standard of fit that is looked at."""
        from loomlore.bench.sittings import Sitting

        plant = self.plant(standard)
        was_in, found = self._sittings.get(name, (standard, ()))
        if isinstance(found, tuple) or was_in != standard:
            found = Sitting.replayed(plant, standard, actions_of(found))
        with self._lock:
            self._sittings[name] = (standard, found)
            self._sittings.move_to_end(name)
            while len(self._sittings) > MOST_SITTINGS:
                self._sittings.popitem(last=False)
            return found

    # -- what a page works out when it is opened

    def worked(self, standard: str, *what: str) -> Task:
        """A part of a page, begun if it is not begun yet; see :mod:`loomlore.bench.workings`."""
        return self._errand(("worked", standard, *what), self._working)

    def stop_working(self, standard: str, *what: str) -> None:
        """Give up a part of a page."""
        self._give_up(("worked", standard, *what))

    # -- verdicts and tables

    def functions(self, standard: str, service: str) -> Task:
        """A service's tables of function, begun if they are not begun yet."""
        return self._errand(("functions", standard, service), self._proving)

    def verdicts(self, standard: str, service: str) -> dict[str, Any]:
        """How far the sentences about a service (all where empty) are judged, and every verdict there is.

        A verdict of an earlier reading is ``stale``: it is shown until it has been proved again.
        """
        self.fresh()
        spoken = self._sentences(standard, service)
        shown = self._shown(standard, spoken)
        waiting = tuple(name for name in spoken if shown.get(name, {"stale": True}).get("stale"))
        failed = ""
        if waiting:
            key = ("verdicts", standard, service)
            task = self._errand(key, self._proving, asked=(standard, waiting), laid=self._lay(standard))
            failed = task.failed
            shown = self._shown(standard, spoken)
        done = sum(not one.get("stale") for one in shown.values())
        finished = done == len(spoken) or bool(failed)
        return {"finished": finished, "failed": failed, "done": done, "of": len(spoken), "verdicts": shown}

    def moves(self, standard: str, statement: str) -> list[dict[str, Any]]:
        """The moves that break a sentence; judged first where it has not been."""
        opened, found = self.fresh(), self._judged.get((standard, statement))
        if found is None or found[0] != self.version:
            if statement not in self._sentences(standard, ""):
                raise UnknownName("statement", statement, opened.dossier.statements)
            key = ("moves", standard, statement)
            asked = (standard, (statement,))
            task = self._errand(
                key, self._proving, "verdicts", asked=asked, patience=LONGEST_WAIT, laid=self._lay(standard)
            )
            task.over.wait(LONGEST_WAIT)
            found = self._judged.get((standard, statement))
        moves: list[dict[str, Any]] = found[1]["moves"] if found is not None else []
        return moves

    def stop_proving(self, standard: str, service: str) -> None:
        """Give up the proofs of a service."""
        self._give_up(("verdicts", standard, service))

    def _sentences(self, standard: str, service: str) -> tuple[str, ...]:
        from loomlore.bench.telling import statements_of

        found = self._spoken.get((standard, service))
        if found is None:
            opened, plant = self.recent(), self.plant(standard)
            found = tuple(one.id for one in statements_of(opened, plant, service))
            with self._lock:
                if opened is self._opened:
                    self._spoken[standard, service] = found
        return found

    def _shown(self, standard: str, spoken: Sequence[str]) -> dict[str, dict[str, Any]]:
        with self._lock:
            found = {
                name: self._judged[standard, name] for name in spoken if (standard, name) in self._judged
            }
            return {
                name: verdict if version == self.version else {**verdict, "stale": True, "moves": []}
                for name, (version, verdict) in found.items()
            }

    def _lay(self, standard: str) -> Callable[[str, Any], None]:
        version = self.version

        def lay(statement: str, verdict: Any) -> None:
            with self._lock:
                before = self._judged.get((standard, statement))
                if before is None or before[0] <= version:
                    self._judged[standard, statement] = (version, verdict)

        return lay

    # -- work beside

    def _errand(
        self,
        key: tuple[Any, ...],
        shop: Workshop,
        errand: str = "",
        *,
        asked: tuple[Any, ...] | None = None,
        patience: float = FORGOTTEN_AFTER,
        laid: Callable[[str, Any], None] | None = None,
    ) -> Task:
        """A piece of work in a process beside, begun if it is not begun yet; the key is errand and what is asked."""
        self.recent()
        with self._lock:
            assert self._texts is not None
            task = self._tasks.get(key)
            if task is None or task.stopped or task.failed_long_ago:
                what = key[1:] if asked is None else asked
                task = Task(self._texts, errand or key[0], what, patience=patience, laid=laid)
                self._tasks[key] = task
                shop.give(task)
            task.asked = time.monotonic()
            task.patience = min(task.patience, patience)
            return task

    def _give_up(self, key: tuple[Any, ...]) -> None:
        with self._lock:
            if key in self._tasks and not self._tasks[key].finished:
                self._tasks.pop(key).stopped = True

    def warm(self) -> None:
        """Read the record, load what the pages need and have the plates drawn, before anybody asks."""
        with suppress(LoomloreError, OSError):
            sweep(self.folder)
            self.findings()
            plant = self.plant("")
            import_module("loomlore.bench.spreads")
            for service in plant.installation.dossier.services:
                self._have_drawn("", service, math.inf)

    def close(self) -> None:
        """Give up everything that goes on beside."""
        for task in self._tasks.values():
            task.stopped = True
        self._proving.close()
        self._drawing.close()
        self._working.close()


def actions_of(sitting: Sitting | Actions) -> Actions:
    """What was done in a sitting."""
    return sitting if isinstance(sitting, tuple) else sitting.actions


def _errands() -> Callable[[Connection, int], None]:
    """What the processes beside run; it brings proofs with it, which the first page has no need of."""
    from loomlore.bench.errands import serve

    return serve


def files_of(folder: Path) -> dict[str, os.stat_result]:
    """A dossier's texts as they are on the disk, by path relative to the folder ("/" between the parts).

    Links and hidden files and folders are none of the dossier's: nothing outside its folder is ever looked at.

    Parameters
    ----------
    folder
        The dossier's.

    Returns
    -------
    dict of str to os.stat_result
        In order of path.
    """
    found: dict[str, os.stat_result] = {}
    waiting = [(str(folder), "", 0)]
    while waiting:
        here, below, depth = waiting.pop()
        with suppress(OSError), os.scandir(here) as entries:
            for entry in entries:
                if entry.name.startswith(".") or entry.is_symlink():
                    continue
                if entry.is_dir(follow_symlinks=False):
                    if depth < DEEPEST:
                        waiting.append((entry.path, f"{below}{entry.name}/", depth + 1))
                elif entry.name.endswith(".toml") and entry.is_file(follow_symlinks=False):
                    found[below + entry.name] = entry.stat(follow_symlinks=False)
    return dict(sorted(found.items()))


def signature_of(folder: Path) -> Signature:
    """Names, times and sizes of a dossier's texts, and which file each is: a save puts another in its place."""
    return tuple(
        (name, state.st_mtime_ns, state.st_size, state.st_ino) for name, state in files_of(folder).items()
    )
