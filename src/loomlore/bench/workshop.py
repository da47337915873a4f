"""What is worked out beside the bench, in a process of its own: proofs, tables of function, plates.

Invariants
* A piece of work is given the texts of the record as the bench has read them, so that what comes back belongs
  to that reading.
* A piece that nobody wants any more is given up by ending the process: at once, whatever it is in the middle of.
* What comes back is small: verdicts, tables and drawings, never the installation. The memory that a proof
  takes is the process's, which leaves the rest to another when it has grown, and ends when there is nothing to do.
* No lock is held while anything is worked out.
"""

from __future__ import annotations

import itertools
import math
import multiprocessing
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

__all__ = ["FORGOTTEN_AFTER", "Task", "Texts", "Workshop", "context_for"]

FORGOTTEN_AFTER = 4.0
"""Seconds after which a piece of work that nobody has asked after is given up."""

TRIED_AGAIN = 1.0
"""Seconds unasked after which a piece of work that failed is begun again when it is asked for."""

LOOK = 0.05
"""Seconds between looks at whether a piece is still wanted."""

_NUMBERS = itertools.count(1)


@dataclass(frozen=True, eq=False)
class Texts:
    """The texts of one reading of the record; ``number`` tells readings apart."""

    folder: str
    texts: Mapping[str, str]
    number: int = field(default_factory=lambda: next(_NUMBERS))


@dataclass(eq=False)
class Task:
    """One piece of work: what it is, how far it is, and what came of it.

    ``patience`` is for how long it goes on unasked [s]; one with endless patience waits until nothing else is
    to be done. ``laid`` is told each part of the result as it comes.
    """

    texts: Texts
    errand: str
    asked_for: tuple[Any, ...]
    patience: float = FORGOTTEN_AFTER
    laid: Callable[[str, Any], None] | None = None
    done: int = 0
    of: int = 0
    result: Any = None
    failed: str = ""
    finished: bool = False
    stopped: bool = False
    asked: float = field(default_factory=time.monotonic)
    over: threading.Event = field(default_factory=threading.Event)

    @property
    def unwanted(self) -> bool:
        """Whether nobody wants it any more."""
        return self.stopped or time.monotonic() - self.asked > self.patience

    @property
    def failed_long_ago(self) -> bool:
        """Whether it is worth trying again: it failed, and the page that was told so has been loaded anew."""
        return bool(self.failed) and time.monotonic() - self.asked > TRIED_AGAIN

    def take(self, word: str, said: tuple[Any, ...]) -> bool:
        """Take what the process says; whether that was its last word on this piece."""
        if word == "told":
            self.done, self.of = said
        elif word == "laid":
            if self.laid is not None:
                self.laid(*said)
        elif word == "made":
            self.result, self.finished = said[0], True
        else:
            self.failed, self.finished = said[0], True
        return self.finished


@dataclass(eq=False)
class Workshop:
    """One process beside the bench, and the pieces of work that wait for it.

    ``serve`` gives what the process runs; it is asked for when the first piece comes. ``idle`` is for how long
    it stays with nothing to do [s], ``stands_back`` how far its priority is below the bench's.
    """

    name: str
    serve: Callable[[], Callable[[Connection, int], None]]
    idle: float = 20.0
    stands_back: int = 5
    _waiting: list[Task] = field(default_factory=list)
    _change: threading.Condition = field(default_factory=threading.Condition)
    _foreman: threading.Thread | None = None
    _process: BaseProcess | None = None
    _pipe: Connection | None = None
    _has_read: int = 0
    _closed: bool = False

    def give(self, task: Task) -> Task:
        """Have a piece of work done when those before it are."""
        with self._change:
            if self._foreman is None:
                self._foreman = threading.Thread(target=self._run, daemon=True, name=self.name)
                self._foreman.start()
            self._waiting.append(task)
            self._change.notify()
        return task

    def close(self) -> None:
        """Give everything up."""
        with self._change:
            self._closed = True
            for task in self._waiting:
                task.stopped = True
            self._change.notify()
        if self._foreman is not None:
            self._foreman.join(2.0)
        self._let_go()

    # -- the foreman's thread

    def _run(self) -> None:
        while (task := self._next()) is not None:
            try:
                self._see_to(task)
            except (EOFError, OSError) as error:
                self._let_go()
                task.failed = f"This could not be worked out: its process has ended ({error})."
                task.finished = True
            except Exception as error:  # noqa: BLE001  one piece must not keep the others waiting for ever
                self._let_go()
                task.failed = f"This could not be worked out ({type(error).__name__}: {error})."
                task.finished = True
            finally:
                task.over.set()

    def _next(self) -> Task | None:
        """The next piece that is wanted; None when the shop is closed."""
        with self._change:
            while not self._closed:
                for task in [one for one in self._waiting if one.unwanted]:
                    self._waiting.remove(task)
                    task.stopped = True
                    task.over.set()
                if self._waiting:
                    task = min(self._waiting, key=lambda one: math.isinf(one.patience))
                    self._waiting.remove(task)
                    return task
                if not self._change.wait(self.idle):
                    self._let_go()
        return None

    def _see_to(self, task: Task) -> None:
        """Have one piece done, or given up as soon as it is unwanted."""
        pipe = self._sent(task)
        while True:
            if task.unwanted or self._closed:
                task.stopped = True
                self._let_go()
                return
            if pipe.poll(LOOK):
                word, *said = pipe.recv()
                if word == "rest":
                    task.asked_for = said[0]
                    self._let_go()
                    pipe = self._sent(task)
                    continue
                if task.take(word, tuple(said)):
                    return

    def _sent(self, task: Task) -> Connection:
        """The pipe to the process, which has been given the piece."""
        pipe = self._hand()
        texts = None if task.texts.number == self._has_read else dict(task.texts.texts)
        self._has_read = task.texts.number
        pipe.send((task.texts.folder, texts, task.errand, task.asked_for))
        return pipe

    def _hand(self) -> Connection:
        """The pipe to the process, begun if there is none."""
        if self._process is None or self._pipe is None or not self._process.is_alive():
            self._let_go()
            serve = self.serve()
            context = context_for(serve.__module__)
            self._pipe, theirs = context.Pipe()
            process = context.Process(
                target=serve, args=(theirs, self.stands_back), daemon=True, name=self.name
            )
            process.start()
            self._process = process  # only now: one that has not begun cannot be ended
            theirs.close()
        return self._pipe

    def _let_go(self) -> None:
        """End the process."""
        process, pipe = self._process, self._pipe
        self._process, self._pipe, self._has_read = None, None, 0
        if process is not None:
            process.kill()
            process.join(2.0)
            with suppress(ValueError):
                process.close()
        if pipe is not None:
            pipe.close()


def context_for(module: str) -> Any:
    """Processes begun without this one's memory: one loads what all need, and each is parted from it in no time.

    Where the system cannot do that, each begins from nothing.

    Parameters
    ----------
    module
        What all need.

    Returns
    -------
    context
        Of :mod:`multiprocessing`.
    """
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([module])
    return context
