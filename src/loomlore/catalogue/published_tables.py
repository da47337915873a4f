"""Reads the shipped tables of published figures: one file a table, named document-edition-table.

The figures stand in the files as printed, in the document's units and with its digits; whoever reads a table
converts. Every row has a ``status`` whose first word is one of :data:`loomlore.references.Status`.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from loomlore.findings import UnknownName

__all__ = ["published_table", "published_tables"]

_FOLDER = Path(__file__).with_name("data")


@cache
def published_tables() -> tuple[str, ...]:
    """Return the names of the tables that ship.

    Returns
    -------
    tuple of str
        File names without ``.csv``, in order.
    """
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.csv")))


@cache
def published_table(name: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of one shipped table, as printed.

    Parameters
    ----------
    name
        The file's name without ``.csv``.

    Returns
    -------
    tuple of Mapping
        One mapping a row, column to text; an empty text where the print has no figure.

    Raises
    ------
    UnknownName
        Where no such table ships.

    Examples
    --------
    >>> published_table("ac43.13-1b-2001-table-11-9")[1]["ohm_per_1000_ft"]
    '16.20'
    """
    if name not in published_tables():
        raise UnknownName("published table", name, published_tables())
    with (_FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(MappingProxyType(row) for row in csv.DictReader(file))
