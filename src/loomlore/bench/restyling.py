"""A plate as it stands: the classes that its groups carry, and what of them a page has not been told yet.

A page says which answer it had last. Where that is the last one that it was given, it is told what has changed
since; a page that has missed one, or was opened anew, is told everything.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from threading import Lock
from typing import Any

from loomlore.behaviour.readings import reading_of
from loomlore.bench.plates import LivePlate
from loomlore.drawing.states import LIVE_AMPERES, LIVE_VOLTS, PlateState, plate_state
from loomlore.network.building import Plant
from loomlore.network.settling import Settled

__all__ = ["Pages", "restyled"]

MOST_PAGES = 40
"""Pages of which it is remembered what they were told; one more is told everything each time."""

Groups = Mapping[str, Mapping[str, Any]]
"""Something of each name, by what it is of: classes by cable, for instance."""


@dataclass(frozen=True)
class _Told:
    number: int
    plate: LivePlate | None
    groups: Groups


@dataclass
class Pages:
    """What each page that is worked was last told."""

    _told: OrderedDict[str, _Told] = field(default_factory=OrderedDict)
    _numbers: Iterator[int] = field(default_factory=lambda: count(1))
    _lock: Lock = field(default_factory=Lock)

    def changes(
        self, page: str, plate: LivePlate | None, now: Groups, *, has: Any
    ) -> tuple[int, dict[str, dict[str, Any]]]:
        """What a page is to be told, and the number of this answer.

        ``has`` is the number of the answer that the page had last; a page without a name is told everything.
        """
        if not page:
            return 0, {what: dict(of) for what, of in now.items()}
        with self._lock:
            before = self._told.pop(page, None)
            told = _Told(next(self._numbers), plate, now)
            self._told[page] = told
            while len(self._told) > MOST_PAGES:
                self._told.popitem(last=False)
        known = before.groups if before is not None and before.number == has and before.plate is plate else {}
        return told.number, {what: _changed(known.get(what, {}), of) for what, of in now.items()}


def _changed(before: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, Any]:
    """What is new or another; what is gone cannot be, since a plate's names are the plate's own."""
    return {name: one for name, one in now.items() if name not in before or before[name] != one}


def restyled(plate: LivePlate, plant: Plant, settled: Settled) -> dict[str, dict[str, str]]:
    """Say which classes the groups of a plate carry in a state.

    Parameters
    ----------
    plate
        The plate.
    plant
        The installation as it stands, its fault and its meter in it.
    settled
        How it stands.

    Returns
    -------
    dict
        By role (cable, contact, part), then by name as drawn: classes with blanks between them.
    """
    contacts = plate_state(plate.contacts, settled).contacts
    amperes = _amperes(plant, settled, plate.names["cable"].values())
    found = PlateState(contacts, amperes, _parts(plant, settled, plate.names["part"].values())).classes()
    without = {"cable": "is-dead", "contact": "", "part": ""}
    return {
        role: {drawn: " ".join(found[role].get(known, ())) or without[role] for drawn, known in names.items()}
        for role, names in plate.names.items()
    }


def _amperes(plant: Plant, settled: Settled, cables: Iterable[str]) -> dict[str, float]:
    """Current in each live cable [A], as :func:`plate_state` has it."""
    found, solution = {}, settled.solution
    for cable in cables:
        number = plant.network.branch_of.get(f"cable:{cable}")
        if number is not None:
            amps = abs(solution.amps(number))
            if amps > LIVE_AMPERES or abs(solution.potentials[plant.network.branches[number].a]) > LIVE_VOLTS:
                found[cable] = amps
    return found


def _parts(plant: Plant, settled: Settled, parts: Iterable[str]) -> dict[str, str]:
    """The state of each part, as :func:`plate_state` has it."""
    found = {}
    for part in parts:
        number = plant.network.branch_of.get(part)
        if number is not None:
            state = reading_of(plant, settled, number).state
            found[part] = "lit" if state == "over-run" else state
    return found
