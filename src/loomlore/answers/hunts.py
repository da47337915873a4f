"""Hunts on the disk: what was found, as text; and beside it what was worked out, which may be deleted at any time.

The hunt's own file holds only what somebody said or measured. What every suspect would show takes seconds to
work out; it is kept in a second file under a digest of everything it follows from: the record's text, the version of
this tool, and how the hunt was begun. Where the digest is another, or the file cannot be read, it is worked out anew.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit

from loomlore.answers.opening import Opened
from loomlore.behaviour.operating import rest
from loomlore.faults.locating.checks import Check
from loomlore.faults.locating.hunting import Answer, Hunt, hunt_from_data
from loomlore.faults.locating.searching import Search
from loomlore.faults.modes import faults_of
from loomlore.faults.situations import Situation, moved_from
from loomlore.findings import RefusedEdit, UnreadableValue
from loomlore.network.building import Plant
from loomlore.version import VERSION

__all__ = ["Worked", "keep_worked", "open_hunt", "save_hunt", "worked_before", "worked_key", "worked_path"]

SHAPE = 1
"""Of the second file; another number makes every older one worthless."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Worked:
    """What a hunt begins with.

    ``reported`` are the crew's reports as answers, weighed where ``wide``: then every suspect of the services is in
    the search, also those that do not show what was reported. Otherwise only those that do are in it, and
    ``others`` is the weight of the rest, each times the chance that the reports it contradicts are mistaken, over
    the weight of those that are in it.
    """

    search: Search
    reported: tuple[Answer, ...] = ()
    wide: bool = False
    others: float = 0.0


def open_hunt(path: str | Path) -> Hunt:
    """Read a hunt from its file.

    Parameters
    ----------
    path
        A TOML file.

    Returns
    -------
    Hunt
        To go on with.

    Raises
    ------
    UnreadableValue
        Where the text is no hunt.
    """
    name = Path(path).name
    again = "Mend the line, or begin the hunt again in another file."
    try:
        return hunt_from_data(tomllib.loads(Path(path).read_text(encoding="utf-8")))
    except UnreadableValue as slip:
        raise UnreadableValue(f"{name}: {slip.message}", f"{slip.hint} {again}") from slip
    except UnicodeDecodeError as slip:
        raise UnreadableValue(f"{name} is no text", "Name the hunt's own .toml file.") from slip
    except OSError as slip:
        raise UnreadableValue(
            f"{name} cannot be read: {slip.strerror}", "Name another --hunt FILE."
        ) from slip
    except tomllib.TOMLDecodeError as slip:
        raise UnreadableValue(f"{name} cannot be read: {slip}", again) from slip


def save_hunt(hunt: Hunt, path: str | Path) -> None:
    """Write a hunt to its file.

    Parameters
    ----------
    hunt
        As it stands.
    path
        Where to; what was there is replaced.

    Raises
    ------
    RefusedEdit
        Where it cannot be written.
    """
    try:
        Path(path).write_text(tomlkit.dumps(hunt.as_data()), encoding="utf-8")
    except OSError as slip:
        raise RefusedEdit(
            f"The hunt cannot be written to {str(path)!r}: {slip.strerror}. Name another --hunt FILE."
        ) from slip


def worked_path(path: str | Path) -> Path:
    """Where what was worked out is kept beside a hunt's file.

    Parameters
    ----------
    path
        Of the hunt.

    Returns
    -------
    Path
        ``horn.worked.json`` beside ``horn.toml``.
    """
    return Path(path).with_suffix(".worked.json")


def worked_key(opened: Opened, hunt: Hunt) -> str:
    """A digest of everything that a hunt's beginning follows from.

    Parameters
    ----------
    opened
        The dossier, with its text.
    hunt
        As it was begun; its answers do not matter.

    Returns
    -------
    str
        Hexadecimal.
    """
    begun = {k: v for k, v in hunt.as_data()["hunt"].items() if k != "noise"}
    parts = [f"{SHAPE} {VERSION}", json.dumps(begun, sort_keys=True)]
    parts += [f"{name}\n{text}" for name, text in sorted(opened.reading.texts.items())]
    digest = hashlib.sha256()
    for part in parts:
        raw = part.encode("utf-8", errors="surrogateescape")
        digest.update(len(raw).to_bytes(8, "big") + raw)
    return digest.hexdigest()


def keep_worked(path: str | Path, key: str, worked: Worked) -> None:
    """Keep what was worked out beside a hunt; nothing is said where the folder cannot be written.

    Parameters
    ----------
    path
        Of the hunt.
    key
        From :func:`worked_key`.
    worked
        What the hunt begins with.
    """
    search = worked.search
    data = {
        "about": "Worked out by loomlore from the record; may be deleted at any time.",
        "key": key,
        "wide": worked.wide,
        "others": worked.others,
        "reported": [asdict(answer) for answer in worked.reported],
        "situations": [{"id": s.id, "title": s.title, "moves": s.moves} for s in search.situations],
        "faults": [f.id for f in search.faults],
        "weights": search.weights.tolist(),
        "checks": [asdict(check) for check in search.checks],
        "table": search.table.tolist(),
        "readings": search.readings.tolist(),
    }
    try:
        worked_path(path).write_text(json.dumps(data), encoding="utf-8")
    except OSError:
        return


def worked_before(path: str | Path, key: str, plant: Plant) -> Worked | None:
    """What was worked out before, if it follows from just this record.

    Parameters
    ----------
    path
        Of the hunt.
    key
        From :func:`worked_key`.
    plant
        The installation.

    Returns
    -------
    Worked or None
        None where there is none, it belongs to another record, version or beginning, or cannot be read.
    """
    try:
        data = json.loads(worked_path(path).read_text(encoding="utf-8"))
        return _worked(data, plant) if data["key"] == key else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _worked(data: Mapping[str, Any], plant: Plant) -> Worked:
    known = {fault.id: fault for fault in faults_of(plant)}
    start = rest(plant)
    situations = []
    for raw in data["situations"]:
        moves = tuple((int(n), v) for n, v in raw["moves"])
        settled = moved_from(plant, start, dict(moves))
        situations.append(Situation(id=raw["id"], title=raw["title"], settled=settled, moves=moves))
    faults = tuple(known[id_] for id_ in data["faults"])
    checks = tuple(_check(raw) for raw in data["checks"])
    shape = len(checks), len(faults)
    search = Search(
        plant=plant,
        situations=tuple(situations),
        faults=faults,
        weights=np.array(data["weights"], dtype=np.float64).reshape(len(faults)),
        checks=checks,
        table=np.array(data["table"], dtype=np.int64).reshape(shape),
        readings=np.array(data["readings"], dtype=np.float64).reshape(shape),
    )
    reported = tuple(Answer(**raw) for raw in data["reported"])
    return Worked(search=search, reported=reported, wide=bool(data["wide"]), others=float(data["others"]))


def _check(raw: Mapping[str, Any]) -> Check:
    """A check from JSON, which has lists where there were tuples."""
    pairs = {key: tuple(tuple(pair) for pair in raw[key]) for key in ("moves", "ohms")}
    plain = {key: tuple(raw[key]) for key in ("terminals", "outcomes", "volts", "first", "cautions")}
    return Check(**{**raw, **pairs, **plain})
