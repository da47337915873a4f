"""What works out a hunt, in a process beside the bench: one order after another, and how far it is.

Working out what every suspect would show takes seconds. Done here it costs the pages nothing, and is given up at
once by ending the process. What is worked out stays: a further answer to the same hunt is quick.
"""

from __future__ import annotations

import signal
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from loomlore.answers.locate import LocateAnswer, Next, gone_on, locate, steps_made
from loomlore.answers.opening import Opened, open_dossier
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import lowered
from loomlore.faults.effects import MISREADS, observables_of
from loomlore.faults.locating.checks import WELL, Check
from loomlore.faults.locating.hunting import Answer, hunt_from_data, probabilities
from loomlore.findings import LoomloreError
from loomlore.network.building import Plant
from loomlore.quantities import as_written

__all__ = ["Hunter", "hunt_data", "serve"]

MOST_OPEN = 6
"""Hunts whose suspects are kept worked out."""

SHOWN = 14
"""Groups of suspects on the page."""

LEAST = 5e-3
"""Probability under which a group of suspects is only counted."""

FITS = 1e-4
"""Probability from which a suspect fits answers of which none is wrong."""

Told = Callable[[int, int], None]


@dataclass
class Hunter:
    """One dossier, and the hunts that are open in it."""

    folder: Path
    _reading: object = None
    _opened: Opened | None = None
    _hunts: OrderedDict[str, LocateAnswer] = field(default_factory=OrderedDict)

    def work(self, order: Mapping[str, Any], told: Told) -> dict[str, Any]:
        """Do one order; raises :class:`LoomloreError` where it cannot be done."""
        opened = self._as_read(order.get("reading"))
        if order["do"] == "seeable":
            return _seeable(opened, order, told)
        hunt = hunt_from_data(order["data"])
        begun = replace(hunt, answers=())
        found = self._hunts.get(repr(begun)) or locate(opened, hunt=hunt, progress=told)
        if found.hunt != hunt:
            found = gone_on(replace(found, hunt=replace(found.hunt, answers=hunt.answers)))
        said, number = str(order.get("said", "")), int(order.get("number", 0))
        if order["do"] == "found":
            found = gone_on(found, found=[said])
        elif order["do"] == "correct":
            found = gone_on(found, correct={number: said})
        for one in (begun, replace(found.hunt, answers=())):
            self._hunts[repr(one)] = found
        while len(self._hunts) > MOST_OPEN:
            self._hunts.popitem(last=False)
        return hunt_data(opened, found)

    def _as_read(self, reading: object) -> Opened:
        """The dossier; read anew where the bench has another reading than this."""
        if self._opened is None or reading != self._reading:
            self._opened, self._reading = open_dossier(self.folder), reading
            self._hunts.clear()
        return self._opened


def serve(pipe: Connection, folder: str) -> None:
    """Take orders from a pipe until it is shut.

    Parameters
    ----------
    pipe
        Orders in; how far it is, and answers, out.
    folder
        Of the dossier.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    hunter = Hunter(Path(folder))
    while True:
        try:
            order = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            made: tuple[Any, ...] = (
                "made",
                hunter.work(order, lambda done, of: pipe.send(("told", done, of))),
            )
        except (LoomloreError, OSError) as error:
            made = ("refused", str(error))
        except Exception as error:  # noqa: BLE001  one hunt must not end the others; the page says it
            made = ("refused", f"This could not be worked out ({type(error).__name__}: {error}).")
        pipe.send(made)


def _seeable(opened: Opened, order: Mapping[str, Any], told: Told) -> dict[str, Any]:
    """What can be seen of a service, and the words for what is wrong with it."""
    service = str(order["service"])
    answer = locate(opened, services=[service], standard=str(order["standard"]), progress=told)
    plant = answer.search.plant
    own = {one.name for one in observables_of(plant) if one.service == service}
    things = [(name, words) for name, words in (answer.seeable or {}).items() if words]
    things.sort(key=lambda thing: thing[0] not in own)
    return {
        "things": [
            {"name": name, "title": name_of(plant, name), "words": list(words)} for name, words in things
        ]
    }


def hunt_data(opened: Opened, answer: LocateAnswer) -> dict[str, Any]:
    """A hunt as the page shows it: what was seen, every check made, the next one, what may be wrong.

    Parameters
    ----------
    opened
        The dossier.
    answer
        Where the hunt stands.

    Returns
    -------
    dict
        Plain data; ``hunt`` is what is stored.
    """
    plant, hunt = answer.search.plant, answer.hunt
    steps = []
    for number, (step, said) in enumerate(zip(steps_made(answer), hunt.answers, strict=True), start=1):
        found = said.outcome if said.volts is None else f"{said.volts:g} V"
        wrong = number + len(answer.reported) in answer.wrong
        before = [*answer.reported, *hunt.answers[: number - 1]]
        steps.append(_step(answer, step, before) | {"number": number, "found": found, "wrong": wrong})
    kept = [one for one in answer.suspects if one.probability >= LEAST][:SHOWN]
    faults = {fault.id: fault for fault in answer.search.faults}
    return {
        "hunt": hunt.as_data(),
        "seen": [_seen(plant, said) for said in hunt.seen],
        "set": [f"{lowered(name_of(plant, name))} {word}" for name, word in hunt.setting.items()],
        "services": [_service(opened, name) for name in hunt.services],
        "after_rebuild": hunt.after_rebuild,
        "steps": steps,
        "next": None
        if answer.next is None
        else _step(answer, answer.next, [*answer.reported, *hunt.answers]),
        "suspects": [
            {
                "probability": one.probability,
                "faults": [_suspect(faults[f], hunt.services) for f in one.faults],
            }
            for one in kept
        ],
        "less_likely": len(answer.suspects) - len(kept),
        "trouble": answer.trouble,
        "proofs": [
            {
                "look": proof.look,
                "words": [f.words for f in proof.faults],
                "probability": proof.probability,
                "minutes": proof.minutes,
                "cautions": list(proof.hazards),
            }
            for proof in answer.proofs
        ],
    }


def _seen(plant: Any, said: str) -> str:
    name, _, word = said.partition("=")
    return f"{name_of(plant, name.strip())}: {word.strip()}"


def _service(opened: Opened, name: str) -> dict[str, str]:
    service = opened.dossier.services[name]
    return {"id": name, "title": service.title or service.name}


def _suspect(fault: Any, hunted: Sequence[str]) -> dict[str, Any]:
    """A suspect, and the service on whose plate it is tried: the hunted one where it is in that."""
    of = [*(service for service in hunted if service in fault.services), *fault.services]
    return {"id": fault.id, "words": fault.words, "service": of[0] if of else ""}


def _outcome_words(plant: Plant, check: Check, outcome: str) -> str:
    """An outcome as the page says it: of a dial, how near is near, for a needle is not read to three figures."""
    number = plant.network.branch_of.get(check.id.rpartition(":")[2]) if check.what == "see" else None
    dials = plant.network.dials.get(number, ()) if number is not None else ()
    if not dials:
        return outcome
    scale = plant.network.indications[dials[0]]
    if not scale.points:
        return outcome
    slack = as_written(MISREADS * abs(scale.points[-1][1] - scale.points[0][1]), scale.dimension)
    if outcome.endswith(WELL):
        return f"{outcome}, or within {slack} of it"
    return f"{outcome}, by more than {slack}" if outcome == "reads wrong" else outcome


def _step(answer: LocateAnswer, step: Next, before: Sequence[Answer]) -> dict[str, Any]:
    """A check: what to do, where, the meter, what to set, what each outcome means.

    ``left`` counts those that would fit every answer, as if none could be wrong.
    """
    search, network = answer.search, answer.search.plant.network
    number = search.number_of[step.check]
    check, row = search.checks[number], search.table[number]
    fits = probabilities(search, before, noise=0.0) > FITS
    left = {words: int((fits & (row == outcome)).sum()) for outcome, words in enumerate(check.outcomes)}
    moves = []
    for number, value in check.moves:
        lever = network.levers[number]
        to: str | float = lever.positions[int(value)] if lever.positions else value
        moves.append({"lever": lever.name, "to": to})
    return {
        "check": step.check,
        "words": step.words,
        "place": step.place,
        "minutes": step.minutes,
        "volts": bool(step.terminals),
        "settings": [f"{name}: {position}" for name, position in step.settings],
        "moves": moves,
        "cautions": list(step.cautions),
        "outcomes": [
            {
                "outcome": one.outcome,
                "words": _outcome_words(search.plant, check, one.outcome),
                "probability": one.probability,
                "left": left[one.outcome],
                "likeliest": list(one.likeliest),
            }
            for one in step.means
        ],
    }
