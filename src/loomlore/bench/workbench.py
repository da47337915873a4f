"""What the routes work with: the open dossier, its edits, its hunts, and what the pages were told.

Each is made when it is first asked for, and loads its modules then: the door is open before there is anything
behind it, and the first page waits for nothing that it does not show.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Lock
from typing import Any

from loomlore.bench.guarding import Guard
from loomlore.findings import LoomloreError

__all__ = ["Bench"]

FIRST_PAGE = 3.0
"""Seconds at most for which the first page has the processor to itself."""


@dataclass
class Bench:
    """What the routes work with; ``desk`` is made when first asked for, so that the door is open at once."""

    folder: Path
    guard: Guard
    _desk: Any = None
    _ledger: Any = None
    _hunts: Any = None
    _pages: Any = None
    _lock: Lock = field(default_factory=Lock)
    _said_so: bool = False
    warming: bool = False
    first_answered: Event = field(default_factory=Event)

    @property
    def desk(self) -> Any:
        """The open dossier."""
        with self._lock:
            if self._desk is None:
                from loomlore.bench.desk import Desk

                self._desk = Desk(self.folder)
            return self._desk

    @property
    def ledger(self) -> Any:
        """Its edits."""
        if self._ledger is None:
            from loomlore.bench.ledger import Ledger

            self._ledger = Ledger(self.desk)
        return self._ledger

    @property
    def hunts(self) -> Any:
        """Its hunts for faults."""
        with self._lock:
            if self._hunts is None:
                from loomlore.bench.hunts import Hunts

                self._hunts = Hunts(self.folder)
            return self._hunts

    @property
    def pages(self) -> Any:
        """What each page that is worked was last told."""
        with self._lock:
            if self._pages is None:
                from loomlore.bench.restyling import Pages

                self._pages = Pages()
            return self._pages

    def warm(self) -> None:
        """Read the record before anybody asks; the rest waits until the first page is out."""
        desk = self.desk
        with suppress(LoomloreError, OSError):
            desk.fresh()
        self.warming = False
        self.first_answered.wait(FIRST_PAGE)
        desk.warm()

    def says_it_reads(self) -> bool:
        """Whether a page is to say that the record is being read: once, and only while it is."""
        says, self._said_so = self.warming and not self._said_so, True
        return says

    def close(self) -> None:
        """Give up what goes on beside."""
        if self._desk is not None:
            self._desk.close()
        if self._hunts is not None:
            self._hunts.close()
