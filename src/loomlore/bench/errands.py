"""What the process beside the bench does: one errand after another, with the record as the bench has read it.

It stands back for the bench and the browser (a lower priority), says how far it is, and leaves the rest to
another process when it has grown too large.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from loomlore.answers.functions import functions
from loomlore.answers.opening import Opened
from loomlore.behaviour.proving import prove
from loomlore.behaviour.stating import services_spoken_of
from loomlore.bench.forgetting import forget, resident
from loomlore.bench.telling import verdict_data
from loomlore.catalogue.shipped import shipped_kinds
from loomlore.evidence.disagreements import weigh
from loomlore.findings import LoomloreError
from loomlore.network.building import Plant
from loomlore.record.kinds import known_kinds
from loomlore.record.reading import read_texts

__all__ = ["ERRANDS", "opened_from", "serve"]

MOST_MEMORY = 130e6
"""Bytes of the process's own above which what is left to do is done by another one: memory that a proof has
taken is not given back to the system, whatever is forgotten. One sentence may take 80 MB more."""

Told = Callable[[int, int], None]
Lay = Callable[[str, Any], None]


def opened_from(folder: str, texts: Mapping[str, str]) -> Opened:
    """Open a dossier from its texts.

    Parameters
    ----------
    folder
        It is in.
    texts
        By path relative to the folder.

    Returns
    -------
    Opened
        The same as the bench has.
    """
    reading = read_texts(texts)
    kinds, findings = known_kinds(reading.dossier, shipped_kinds())
    return Opened(folder=Path(folder), reading=reading, kinds=dict(kinds), kind_findings=findings)


class Rest(Exception):
    """The process has grown too large; ``asked`` is what is left of the errand."""

    def __init__(self, *asked: Any) -> None:
        super().__init__()
        self.asked = asked


# -- the errands ---------------------------------------------------------------------------------------------


def _verdicts(opened: Opened, told: Told, lay: Lay, standard: str, statements: Sequence[str]) -> None:
    """Judge statements in one standard of fit; each verdict is laid down as it comes."""
    plant = opened.plant(opened.fits(standard))
    weighed = weigh(opened.dossier, opened.kinds, place_of=opened.reading.place_of)
    aside = {s: d.decision.because for d in weighed.disputes for s in d.rejected}
    # those that speak of the same circuits after one another: what is worked out for one serves the next
    said = sorted(
        (opened.dossier.statements[name] for name in statements),
        key=lambda s: sorted(services_spoken_of(plant, s)),
    )
    for number, statement in enumerate(said):
        told(number, len(said))
        lay(statement.id, verdict_data(plant, prove(plant, statement), aside.get(statement.id, "")))
        if resident() > MOST_MEMORY and number + 1 < len(said):
            raise Rest(standard, tuple(one.id for one in said[number + 1 :]))


def _functions(opened: Opened, told: Told, lay: Lay, standard: str, service: str) -> Any:
    del lay
    return functions(opened, [service], standard=standard, progress=told).as_data()["services"][0]


def _plate(opened: Opened, told: Told, lay: Lay, standard: str, service: str) -> dict[str, Any]:
    """A plate's drawings and names; its contacts are the bench's own."""
    from loomlore.bench.plates import live_plate

    del told, lay
    plate = live_plate(_plant(opened, standard), service)
    return {one.name: getattr(plate, one.name) for one in fields(plate) if one.name != "contacts"}


def _plans(opened: Opened, told: Told, lay: Lay, standard: str, *looms: str) -> Any:
    from loomlore.bench.plates import plan_drawings

    del told, lay
    return plan_drawings(_plant(opened, standard), looms)


def _worked(opened: Opened, told: Told, lay: Lay, standard: str, *what: str) -> Any:
    from loomlore.bench.workings import worked

    del lay
    return worked(opened, standard, what, told)


def _sheet(opened: Opened, told: Told, lay: Lay, standard: str, service: str) -> str:
    from loomlore.bench.plates import sheet

    del told, lay
    return sheet(_plant(opened, standard), service)


def _plant(opened: Opened, standard: str) -> Plant:
    return opened.plant(opened.fits(standard))


ERRANDS: Mapping[str, Callable[..., Any]] = {
    "verdicts": _verdicts,
    "functions": _functions,
    "plate": _plate,
    "plans": _plans,
    "worked": _worked,
    "sheet": _sheet,
}
"""By name; each is given the dossier, whom to tell how far it is, whom to give parts to, and what was asked."""


# -- one after another ---------------------------------------------------------------------------------------


@dataclass
class _Backroom:
    pipe: Connection
    opened: Opened | None = None

    def told(self, done: int, of: int) -> None:
        self.pipe.send(("told", done, of))

    def lay(self, name: str, part: Any) -> None:
        self.pipe.send(("laid", name, part))

    def run(self, folder: str, texts: Mapping[str, str] | None, errand: str, asked: Sequence[Any]) -> Any:
        if texts is not None:
            forget()
            self.opened = opened_from(folder, texts)
        assert self.opened is not None, "the first errand brings the texts"
        made = ERRANDS[errand](self.opened, self.told, self.lay, *asked)
        if resident() > MOST_MEMORY:
            forget()
        return made


def serve(pipe: Connection, stands_back: int = 0) -> None:
    """Do errands from a pipe until it is shut.

    Parameters
    ----------
    pipe
        Errands in; how far they are, parts of what is made, and what is made, out.
    stands_back
        How far the priority is below that of the bench and the browser.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(stands_back)
    room = _Backroom(pipe)
    with suppress(EOFError, OSError):
        while True:
            asked = pipe.recv()
            pipe.send(_said(room, asked))


def _said(room: _Backroom, asked: tuple[Any, ...]) -> tuple[str, Any]:
    try:
        return "made", room.run(*asked)
    except Rest as rest:
        return "rest", rest.asked
    except (EOFError, ConnectionError):
        raise  # nobody listens any more
    except LoomloreError as error:
        return "failed", str(error)
    except Exception as error:  # noqa: BLE001  one errand must not end the others; the page says it
        return "failed", f"This could not be worked out ({type(error).__name__}: {error})."
