"""The hunts of a dossier: kept as text files beside it, worked out in a process of their own, given up at a word.

A page asks again and again how far its hunt is. The first to ask has it begun; when nobody has asked for a while
it is given up. The answers of a hunt go into its file as soon as they are taken.
"""

from __future__ import annotations

import json
import re
import time
import tomllib
from collections import OrderedDict
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import RLock, Timer
from typing import Any

import tomlkit

from loomlore.bench.workshop import context_for
from loomlore.findings import UnknownName, UnreadableValue

__all__ = ["WELL", "Hunts", "Kept", "begun_data", "is_well"]

WELL = "as it should be"
"""The word of the checks for it; said again here, since the bench starts without what works them out."""

SHELF = "hunts"
"""Folder of the hunts in the dossier's."""

ENDING = ".hunt"
FORGOTTEN_AFTER = 8.0
"""Seconds after which an order that nobody asks after is given up."""

IDLE = 300.0
"""Seconds after which the process is let go where nobody has asked for anything."""

MOST_ORDERS = 24
MOST_BYTES = 200_000
MOST_SAID = 400
MOST_SEEN = 12
NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")


@dataclass(frozen=True)
class Kept:
    """A hunt on the shelf, as its file says."""

    name: str
    seen: tuple[str, ...]
    answers: int
    services: tuple[str, ...]
    standard: str


@dataclass
class _Order:
    """One thing to be worked out, how far it is, and what came of it."""

    what: dict[str, Any]
    begun: float = 0.0
    asked: float = field(default_factory=time.monotonic)
    done: int = 0
    of: int = 0
    made: dict[str, Any] | None = None
    refused: str = ""

    @property
    def over(self) -> bool:
        """Whether it is done, one way or the other."""
        return self.made is not None or bool(self.refused)


@dataclass
class Hunts:
    """The hunts of one dossier."""

    folder: Path
    _process: BaseProcess | None = None
    _pipe: Connection | None = None
    _now: str = ""
    _rest: Timer | None = None
    _orders: OrderedDict[str, _Order] = field(default_factory=OrderedDict)
    _lock: RLock = field(default_factory=RLock)

    # -- the shelf

    def kept(self) -> tuple[Kept, ...]:
        """The hunts on the shelf, the latest first; a file that is no hunt is left out."""
        with suppress(OSError):
            shelf = self.folder / SHELF
            paths = [] if shelf.is_symlink() else sorted(shelf.glob(f"*{ENDING}"), reverse=True)
            found = (_kept(path) for path in paths if not path.is_symlink())
            return tuple(one for one in found if one is not None)
        return ()

    def data(self, name: str) -> dict[str, Any]:
        """A hunt as stored; raises :class:`UnknownName` where there is none."""
        path = self._path(name)
        try:
            return tomllib.loads(path.read_bytes()[:MOST_BYTES].decode())
        except FileNotFoundError:
            raise UnknownName("hunt", name, [one.name for one in self.kept()]) from None
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as slip:
            raise UnreadableValue(f"{path.name} cannot be read: {slip}", "Mend the line.") from slip

    def put(self, name: str, data: Mapping[str, Any]) -> None:
        """Write a hunt's file; raises :class:`OSError` where it cannot be written."""
        path = self._path(name)
        path.parent.mkdir(exist_ok=True)
        beside = path.with_suffix(".part")
        beside.write_text(tomlkit.dumps(data), encoding="utf-8")
        beside.replace(path)

    def begun(self, data: Mapping[str, Any]) -> str:
        """Put a new hunt on the shelf; its name is the day and what was seen."""
        wrong = " ".join(one for one in data["hunt"]["seen"] if not is_well(one))
        seen = "-".join(re.findall(r"[a-z0-9]+", wrong.lower()))[:48].strip("-")
        first = f"{time.strftime('%Y-%m-%d')}-{seen or 'hunt'}"
        name, number = first, 2
        while self._path(name).exists():
            name, number = f"{first}-{number}", number + 1
        self.put(name, data)
        return name

    def drop(self, name: str) -> None:
        """Throw a hunt away; raises :class:`UnknownName` where there is none."""
        self.data(name)
        self._path(name).unlink()

    def _path(self, name: str) -> Path:
        if not NAME.fullmatch(name):
            raise UnknownName("hunt", name)
        path = self.folder / SHELF / f"{name}{ENDING}"
        if path.is_symlink() or path.parent.is_symlink():  # nothing outside the dossier is read or written
            raise UnknownName("hunt", name)
        return path

    # -- what a page asks for

    def work(self, asked: Mapping[str, Any], reading: object) -> dict[str, Any]:
        """Do one thing with a hunt; ``reading`` says which reading of the dossier the bench has.

        Raises :class:`LoomloreError` where it cannot be done.
        """
        do, name, standard = str(asked.get("do")), str(asked.get("hunt", "")), str(asked.get("standard", ""))
        order: dict[str, Any] = {"do": do, "reading": reading, "standard": standard}
        if do == "drop":
            self.drop(name)
            return {"state": "gone"}
        if do == "seeable":
            order["service"] = str(asked.get("service", ""))
        elif do == "begin":
            order["data"] = begun_data(asked)
        elif do in ("stands", "found", "correct"):
            order["data"] = self.data(name)
            if asked.get("answers", len(order["data"].get("answer", ()))) != len(
                order["data"].get("answer", ())
            ):
                raise UnreadableValue(
                    "This hunt has gone on in another window.", "Load the page again; nothing was taken."
                )
            order |= {"said": str(asked.get("said", ""))[:MOST_SAID], "number": asked.get("number", 0)}
        else:
            raise UnknownName("request", do, ("seeable", "begin", "stands", "found", "correct", "drop"))
        key = json.dumps(order, sort_keys=True, default=str)
        if asked.get("cancel"):
            self.give_up(key)
            return {"state": "given up"}
        answer = self.ask(key, order)
        if answer["state"] == "stands" and do != "seeable":
            return self._stored(do, name, answer)
        return answer

    def _stored(self, do: str, name: str, answer: dict[str, Any]) -> dict[str, Any]:
        """Write down what was begun, found or put right."""
        try:
            if do == "begin":
                name = self.begun(answer["hunt"])
            elif do != "stands":
                self.put(name, answer["hunt"])
        except OSError as error:
            said = f"This could not be written down: {error}. Note it on paper; the hunt is as it was."
            return {"state": "refused", "refused_because": said}
        return {**answer, "name": name}

    # -- working out

    def ask(self, key: str, order: dict[str, Any]) -> dict[str, Any]:
        """How far an order is; it is begun if it is not yet."""
        with self._lock:
            self._put_off_rest()
            self._listen()
            if key not in self._orders:
                self._orders[key] = _Order(order)
                while len(self._orders) > MOST_ORDERS:
                    self._orders.popitem(last=False)
            one = self._orders[key]
            one.asked = time.monotonic()
            if not one.over:
                self._go_on()
            if one.refused:
                self._orders.pop(key)
                return {"state": "refused", "refused_because": one.refused}
            if one.made is not None:
                return {"state": "stands", **one.made}
            seconds = time.monotonic() - one.begun if one.begun else 0.0
            waits = key != self._now
            return {"state": "working", "seconds": seconds, "done": one.done, "of": one.of, "waits": waits}

    def give_up(self, key: str) -> None:
        """Leave an order where it is; what is under way is ended."""
        with self._lock:
            self._orders.pop(key, None)
            if key == self._now:
                self._end()

    def close(self) -> None:
        """End the process."""
        with self._lock:
            if self._rest is not None:
                self._rest.cancel()
            self._end()

    def _put_off_rest(self) -> None:
        if self._rest is not None:
            self._rest.cancel()
        self._rest = Timer(IDLE, self.close)
        self._rest.daemon = True
        self._rest.start()

    def _listen(self) -> None:
        """Take in what the process has said."""
        try:
            while self._pipe is not None and self._pipe.poll():
                self._hear(self._pipe.recv())
        except (EOFError, OSError):
            one = self._orders.get(self._now)
            if one is not None:
                one.refused = (
                    "The working out has ended of itself, perhaps for want of memory. Begin it again."
                )
            self._end()

    def _hear(self, said: tuple[Any, ...]) -> None:
        one = self._orders.get(self._now)
        if said[0] == "told":
            if one is not None:
                one.done, one.of = said[1], said[2]
            return
        if one is not None and said[0] == "made":
            one.made = said[1]
        elif one is not None:
            one.refused = said[1]
        self._now = ""

    def _go_on(self) -> None:
        """Send the next order, where nothing is under way that anybody waits for."""
        now = self._orders.get(self._now)
        if now is not None and time.monotonic() - now.asked > FORGOTTEN_AFTER:
            self.give_up(self._now)
        if self._now:
            return
        fresh = time.monotonic() - FORGOTTEN_AFTER
        waiting = [key for key, one in self._orders.items() if not one.over and one.asked > fresh]
        if not waiting:
            return
        self._start()
        assert self._pipe is not None
        self._now = waiting[0]
        self._orders[self._now].begun = time.monotonic()
        self._pipe.send(self._orders[self._now].what)

    def _start(self) -> None:
        if self._process is not None and self._process.is_alive():
            return
        context = context_for("loomlore.bench.errands")
        self._pipe, other = context.Pipe()
        self._process = context.Process(
            target=_serve, args=(other, str(self.folder)), daemon=True, name="hunter"
        )
        self._process.start()
        other.close()

    def _end(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.join(2)
        if self._pipe is not None:
            self._pipe.close()
        self._process, self._pipe, self._now = None, None, ""


def _serve(pipe: Connection, folder: str) -> None:
    """What the process runs; the bench itself has no need of what hunting brings with it."""
    from loomlore.bench.hunter import serve

    serve(pipe, folder)


def is_well(said: str) -> bool:
    """Whether a report is of a thing that is as it should be.

    Parameters
    ----------
    said
        A name and a word, ``port-lamp=as it should be``.

    Returns
    -------
    bool
        True where nothing is wrong with it.
    """
    return said.partition("=")[2].strip() == WELL


def begun_data(asked: Mapping[str, Any]) -> dict[str, Any]:
    """A hunt that has only been reported, as it is stored.

    Parameters
    ----------
    asked
        From the page: seen, services, standard, setting, rebuilt.

    Returns
    -------
    dict
        Plain data.

    Raises
    ------
    UnreadableValue
        Where nothing is reported.
    """
    seen, setting = asked.get("seen"), asked.get("setting")
    wrong = [one for one in seen if not is_well(str(one))] if isinstance(seen, list) else []
    if not isinstance(seen, list) or not wrong or len(seen) > MOST_SEEN:
        raise UnreadableValue("Nothing is reported.", "Say of at least one thing what is wrong with it.")
    service = str(asked.get("service", ""))
    given = setting if isinstance(setting, dict) else {}
    return {
        "hunt": {
            "services": [service] if service else [],
            "standard": str(asked.get("standard", "")),
            "seen": [str(one)[:MOST_SAID] for one in (*wrong, *(one for one in seen if one not in wrong))],
            "noise": 0.02,
            "after-rebuild": asked.get("rebuilt") is not False,
            "setting": {str(name)[:80]: str(value)[:80] for name, value in list(given.items())[:200]},
            "way-in": {},
        },
        "answer": [],
    }


def _kept(path: Path) -> Kept | None:
    if not NAME.fullmatch(path.stem):
        return None
    try:
        data = tomllib.loads(path.read_bytes()[:MOST_BYTES].decode())
        head = data["hunt"]
        return Kept(
            path.stem,
            tuple(map(str, head["seen"])),
            len(data.get("answer", ())),
            tuple(map(str, head["services"])),
            str(head["standard"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
