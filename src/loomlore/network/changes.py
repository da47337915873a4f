"""What cases change in a part: each as a column, many of them as arrays.

A :class:`Column` is what one case changes, :class:`Changes` are those of many, a row for each change. A case that
cannot be written so (a contact with another condition, a machine in a lamp's place) is settled by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loomlore.network.arrays import LIVE, PIECEWISE, Floats, Sheet
from loomlore.network.cases import Case
from loomlore.network.conditions import ALWAYS, NEVER, Condition
from loomlore.network.laws import OPEN, ConstantPower, Filament, Law
from loomlore.network.viewing import Whole

__all__ = ["Changes", "Column", "changes_of", "column_of"]


@dataclass(frozen=True, slots=True)
class Column:
    """What one case changes in a part: conductances in place of branches, laws, and a bridge.

    ``forced`` are (place, conductance [S]); ``laws`` are (place, law) for whatever is another law now;
    ``extra`` are (node, node, conductance [S]) by the part's own nodes.
    """

    forced: tuple[tuple[int, float], ...] = ()
    laws: tuple[tuple[int, Law], ...] = ()
    extra: tuple[tuple[int, int, float], ...] = ()


def column_of(sheet: Sheet, case: Case) -> Column | None:
    """Read a case as a column of a part; None where it is not one.

    Parameters
    ----------
    sheet
        Of the part.
    case
        With all its changes in that part.

    Returns
    -------
    Column or None
        None: settle it alone.
    """
    forced, laws, extra = [], [], []
    for number, branch in case.branches:
        k = sheet.place[number]
        old = sheet.network.branches[number]
        if (
            (branch.a, branch.b) != (old.a, old.b)
            or not _plain(branch.closed)
            or branch.follows not in (-1, old.follows)
        ):
            return None
        if isinstance(branch.law, LIVE):
            if not _alike(old.law, branch.law) or branch.works != old.works:
                return None
        elif branch.works is not None and branch.works != old.works:
            return None
        else:
            forced.append((k, OPEN if branch.closed == NEVER else branch.law.conductance(True, 0.0)))
        if branch.law != old.law:
            laws.append((k, branch.law))
    for branch in case.extra:
        if isinstance(branch.law, LIVE) or branch.closed is not None or branch.works is not None:
            return None
        extra.append((sheet.local[branch.a], sheet.local[branch.b], branch.law.conductance(True, 0.0)))
    return Column(tuple(forced), tuple(laws), tuple(extra))


def _plain(closed: Condition | None) -> bool:
    return closed is None or closed in (ALWAYS, NEVER)


def _alike(old: Law, new: Law) -> bool:
    return any(
        isinstance(old, kind) and isinstance(new, kind) for kind in (Filament, ConstantPower, PIECEWISE)
    )


@dataclass(eq=False)
class Changes:
    """What columns change, as arrays: a row for each change, whatever the column.

    ``place``, ``column`` and ``siemens`` are of forced branches; ``first``, ``second``, ``edge`` (-1: none has
    such an edge), ``at`` and ``strength`` of new ones; ``laws`` are (place, column, law).
    """

    count: int
    place: Whole
    column: Whole
    siemens: Floats
    first: Whole
    second: Whole
    edge: Whole
    at: Whole
    strength: Floats
    laws: list[tuple[int, int, Law]]

    def taken(self, pick: Whole) -> Changes:
        """Those of some of the columns, which are numbered anew; one may be taken more than once."""
        if len(pick) == self.count and (pick == np.arange(self.count)).all():
            return self
        forced, here = _rows_of(self.column, pick)
        extra, there = _rows_of(self.at, pick)
        places: dict[int, list[int]] = {}
        for new, column in enumerate(pick.tolist() if self.laws else ()):
            places.setdefault(column, []).append(new)
        return Changes(
            count=len(pick),
            place=self.place[forced],
            column=here,
            siemens=self.siemens[forced],
            first=self.first[extra],
            second=self.second[extra],
            edge=self.edge[extra],
            at=there,
            strength=self.strength[extra],
            laws=[(k, new, law) for k, n, law in self.laws for new in places.get(n, ())],
        )


def _rows_of(column: Whole, pick: Whole) -> tuple[Whole, Whole]:
    """Which rows are of the picked columns, and of which of them."""
    order = np.argsort(column, kind="stable")
    begin = np.searchsorted(column, pick, side="left", sorter=order)
    many = np.searchsorted(column, pick, side="right", sorter=order) - begin
    at = np.repeat(np.arange(len(pick)), many)
    within = np.arange(len(at)) - np.repeat(np.cumsum(many) - many, many)
    return order[np.repeat(begin, many) + within], at


def changes_of(sheet: Sheet, columns: Sequence[Column]) -> Changes:
    """Put columns together.

    Parameters
    ----------
    sheet
        Of the part.
    columns
        The cases.

    Returns
    -------
    Changes
        With as many columns.
    """
    number = sheet.order.number
    forced = [(k, n, g) for n, column in enumerate(columns) for k, g in column.forced]
    extra = [(a, b, n, g) for n, column in enumerate(columns) for a, b, g in column.extra]

    def whole(values: Sequence[int]) -> Whole:
        return np.array(values, dtype=np.int64)

    return Changes(
        count=len(columns),
        place=whole([k for k, _, _ in forced]),
        column=whole([n for _, n, _ in forced]),
        siemens=np.array([g for _, _, g in forced], dtype=float),
        first=whole([a for a, _, _, _ in extra]),
        second=whole([b for _, b, _, _ in extra]),
        edge=whole([number.get((a, b) if a < b else (b, a), -1) for a, b, _, _ in extra]),
        at=whole([n for _, _, n, _ in extra]),
        strength=np.array([g for _, _, _, g in extra], dtype=float),
        laws=[(k, n, law) for n, column in enumerate(columns) for k, law in column.laws],
    )
