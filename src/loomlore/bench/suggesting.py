"""Names for a cell of the record while it is typed: what may stand there, and the nearest where none is called so.

Only keys whose value is one name, or begins with one, are helped; whether the connection then makes sense is for
the checks to say.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from loomlore.answers.opening import Opened
from loomlore.findings import nearest
from loomlore.network.building import Plant
from loomlore.record.model import AIRFRAME

__all__ = ["known_names", "suggested"]

MOST_OFFERED = 12
CLOSE = 0.55


def known_names(opened: Opened, plant: Plant, word: str, key: str) -> tuple[str, ...]:
    """What may stand in a cell.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation, for its terminals.
    word
        The table's word.
    key
        The column's.

    Returns
    -------
    tuple of str
        Names; none where the cell takes something else.
    """
    dossier = opened.dossier
    named: dict[tuple[str, str], Iterable[str]] = {
        ("item", "kind"): opened.kinds,
        ("item", "earth"): dossier.earths,
        ("item", "mates"): dossier.items,
        ("item", "regulated-by"): dossier.items,
        ("measurement", "of"): (*dossier.items, *dossier.cables),
        ("procedure", "service"): dossier.services,
    }
    if word == "cable" and key in ("from", "to"):
        bolts = [f"{AIRFRAME}.{bolt}" for bolt in dossier.earths]
        return (*bolts, *(name for name in plant.network.node_of if not name.startswith(f"{AIRFRAME}.")))
    if key == "place":
        return tuple(dossier.places)
    if key == "along":
        return tuple(dossier.looms)
    if key == "service":
        return tuple(dossier.services)
    return tuple(named.get((word, key), ()))


def suggested(opened: Opened, plant: Plant, word: str, key: str, text: str) -> dict[str, Any]:
    """What is to be said of a name while it is typed.

    Parameters
    ----------
    opened
        The dossier.
    plant
        The installation.
    word
        The table's word.
    key
        The column's.
    text
        As typed so far.

    Returns
    -------
    dict
        ``wrong`` and ``hint`` where nothing is called so, ``choices`` to go on with.
    """
    known, typed = known_names(opened, plant, word, key), text.strip()
    if not known or not typed:
        return {"wrong": "", "hint": "", "choices": list(known[:MOST_OFFERED])}
    folded = typed.casefold()
    begins = [name for name in known if name.casefold().startswith(folded)]
    holds = [name for name in known if folded in name.casefold() and name not in begins]
    choices = [*begins, *holds][:MOST_OFFERED]
    if typed in known:
        return {"wrong": "", "hint": "", "choices": choices}
    meant = nearest(typed, known, cutoff=CLOSE)
    wrong = f"Nothing is called {typed!r}."
    if meant is not None:
        hint = f"Did you mean {meant}?"
    elif choices:
        hint = f"Such as {choices[0]}."
    else:
        hint = "Add it to its own table first."
    return {"wrong": wrong, "hint": hint, "choices": choices or ([meant] if meant else [])}
