"""What a change does to a settled installation: currents put in at its places.

A settled installation answers an ampere put in anywhere with volts everywhere, once and for all: its *answers*
are worked out by the star-mesh once a setting. A branch that becomes d siemens more is a current d u put in at its
ends (the compensation theorem), so that a case costs a system as small as what it changes, not the network::

    volts = as they stand - answers x (currents of the changes + what live branches take beyond their tangents)

* Straight changes go one by one, with what they do to one another. One that takes a branch away divides by what
  is left beside the branch: the share of an ampere that goes round by the rest. It is read off the branch's
  *mate*, the one of most ohms in its unbranched run, for as a difference from one it would have no digits. Where
  it is too small all the same the column is not for this method, unless the branch carries nothing: then nothing
  changes.
* A live branch whose slope moves by enough to matter is solved for by Newton's method, with the others of its
  column; the rest follow by what they take beyond their tangents, which shrinks at every step.
* An island has no answer of its own: one of its nodes is held. A change that joins an island to something else
  carries nothing, and moves the whole island; two such at once are not for this method.

Columns that are not for this method are handed back as not arrived, for the elimination of
:mod:`loomlore.network.arrays`, whose results these equal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from loomlore.network.arrays import DAMP_FROM, SECANT_STEPS, Floats, LawArrays, Marks, moved_pieces
from loomlore.network.kernel import compiled, live_columns
from loomlore.network.laws import OPEN
from loomlore.network.stands import Stand, Whole, live_laws, pieces_at

__all__ = ["Compensated", "Places", "compensated", "refused"]

LEAST_LEFT = 3e-5
"""What must be left beside a branch that goes, or too few digits are: volts are good to some 1e-14 of the
supply's over this. Read off a mate it may be less by the mate's share of the branch's conductance."""
CARRIES_NOTHING = 2e-9
"""Amperes under which a branch may go, or stay, without anything changing."""
LEAST_LIFTED = 1e-9
"""Volts under which what leaks may lift a node when nothing else is there."""
MATTERS = 0.02
"""A live branch is solved for where the change of its slope times the ohms that it sees is more than this."""
MOST_CHANGES = 16
"""Straight changes in one column; with more of them elimination is no dearer."""
MOST_STEPS = 40
LEAST_PIVOT = 1e-6
FEW = 4
"""Live branches up to which their answers are added up one by one."""
UNTHREADED = 2**18
"""Products up to which a matrix is multiplied in one thread: those of more threads wait for one another here."""


# -- straight changes ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, slots=True)
class Places:
    """Straight changes: of which column, between which nodes, by how much [S]; ``place`` -1 is a new branch."""

    column: Whole
    first: Whole
    second: Whole
    more: Floats
    place: Whole


@dataclass(eq=False, slots=True)
class Compensated:
    """Potentials [V] as [node, case] and which columns arrived.

    What is needed to look for ohms afterwards: the changes by slot, [slot, case], ``solving`` the matrix from
    volts where the changes are to their currents [S], [case, slot, slot], and by how much live slopes moved [S].
    """

    stand: Stand
    potentials: Floats
    arrived: Marks
    slots: _Slots
    solving: Floats
    steeper: Floats

    def ohms(self, first: int, second: int, unsure: float) -> Floats:
        """Ohms between two nodes in every column; not a number where they are not to be had so."""
        return _ohms(self, first, second, unsure)


@dataclass(eq=False, slots=True)
class _Slots:
    """Changes as [slot, case]; ``more`` is nought where there is none; ``joins`` one that joins an island."""

    first: Whole
    second: Whole
    more: Floats
    place: Whole
    joins: Marks
    refused: Marks
    mate: Whole
    apart: Floats
    let: Floats
    cuts: Marks


def _slots(stand: Stand, places: Places, count: int) -> _Slots:
    """Additions first, then what goes: whatever is taken away is judged with the additions in place."""
    order = np.lexsort((places.place, places.more < 0, places.column))
    column = places.column[order]
    slot = np.arange(len(column)) - np.searchsorted(column, column)
    refused = np.zeros(count, dtype=bool)
    refused[column[slot >= MOST_CHANGES]] = True
    keep = ~refused[column]
    order, column, slot = order[keep], column[keep], slot[keep]
    depth = int(slot.max(initial=-1)) + 1
    first, second = np.zeros((depth, count), dtype=np.int64), np.zeros((depth, count), dtype=np.int64)
    place, more = np.full((depth, count), -1, dtype=np.int64), np.zeros((depth, count))
    first[slot, column], second[slot, column] = places.first[order], places.second[order]
    place[slot, column], more[slot, column] = places.place[order], places.more[order]
    joins = (stand.islands[first] != stand.islands[second]) & (more > 0)
    refused |= joins.sum(axis=0) > 1
    # a branch that goes altogether, and whose mate does not
    gone = (place >= 0) & (more < 0) & (more + stand.straight[place] <= 2 * OPEN)
    mate = np.where(gone, stand.mates[place], -1)
    for s in range(depth):
        for t in range(depth):
            # a new branch inside the run parts the two
            run = stand.run[place[s]]
            touched = (place[t] < 0) & ((stand.inside[first[t]] == run) | (stand.inside[second[t]] == run))
            mate[s][((mate[s] == place[t]) & (place[t] >= 0)) | (touched & (run >= 0))] = -1
    apart = stand.potentials[first] - stand.potentials[second]
    by_mate = mate >= 0
    own = place[by_mate]
    apart[by_mate] = stand.turned[own] * stand.amps[mate[by_mate]] / stand.straight[own]
    cuts = _cuts(stand, more, place) & gone
    apart[cuts] = stand.leaking[place[cuts]] / stand.straight[place[cuts]]
    return _Slots(first, second, more, place, joins, refused, mate, apart, np.zeros((depth, count)), cuts)


def _cuts(stand: Stand, more: Floats, place: Whole) -> Marks:
    """Slots whose branch cuts something off, in columns where it is all that changes."""
    own = np.maximum(place, 0)
    alone: Marks = (place >= 0) & (stand.beyond[own, 1] > stand.beyond[own, 0])
    found: Marks = alone & ((more != 0).sum(axis=0) == 1)
    return found


def _rows(slots: _Slots, of_node: Floats, of_place: Floats, pick: Any = slice(None)) -> Floats:
    """What an ampere at each slot makes of some rows, [row, slot, case]."""
    first, second, place = slots.first[:, pick], slots.second[:, pick], slots.place[:, pick]
    if (place >= 0).all():
        return of_place[:, place]
    found = of_place[:, np.maximum(place, 0)]
    new = np.nonzero(place < 0)
    found[:, new[0], new[1]] = of_node[:, first[new]] - of_node[:, second[new]]
    return found


def _between(stand: Stand, slots: _Slots) -> Floats:
    """Volts that an ampere at the second slot makes at the first, [slot, slot, case]."""
    depth, count = slots.more.shape
    found = np.empty((depth, depth, count))
    for s in range(depth):
        a, b = slots.first[s], slots.second[s]
        for t in range(depth):
            place = np.maximum(slots.place[t], 0)
            known = stand.across[a, place] - stand.across[b, place]
            new = np.flatnonzero(slots.place[t] < 0)
            if len(new):
                c, d = slots.first[t][new], slots.second[t][new]
                z = stand.nodal
                known[new] = (z[a[new], c] - z[b[new], c]) - (z[a[new], d] - z[b[new], d])
            found[s, t] = known
    return found


def _solving(stand: Stand, slots: _Slots) -> Floats:
    """From volts without the changes to the currents that they take, [case, slot, slot].

    Slot by slot, each with the ohms that the ones before have left it: x = m (u - sum of z x). What would divide
    by nought carries nothing, or is refused.
    """
    depth, count = slots.more.shape
    z = _between(stand, slots)
    u = slots.apart
    solving = np.zeros((depth, depth, count))
    for s in range(depth):
        # row: volts at s after the slots before, as weights of the volts without any change
        m = np.where(slots.joins[s], 0.0, slots.more[s])
        row = np.zeros((s + 1, count))
        row[s] = 1.0
        seen = z[s, s].copy()
        for t in range(s):
            weight = sum((z[s, r] * solving[r, t] for r in range(s)), np.zeros(count))
            row[t] = -weight
            seen -= weight * z[t, s]
        left, least = 1.0 + m * seen, np.full(count, LEAST_LEFT)
        by_mate = np.flatnonzero(slots.mate[s] >= 0)
        if len(by_mate):
            left[by_mate] = _left_by_mate(stand, slots, solving, z, s, by_mate) + OPEN * seen[by_mate]
            mate, own = slots.mate[s, by_mate], slots.place[s, by_mate]
            least[by_mate] *= np.abs(stand.tangents[mate] / stand.straight[own])
        cut = np.flatnonzero(slots.cuts[s])
        left[cut], least[cut] = stand.leak[slots.place[s, cut]] + OPEN * seen[cut], 0.0
        volts = sum((row[t] * u[t] for t in range(s + 1)), np.zeros(count))
        gone = (m < 0) & (np.abs(left) < least)
        nothing = gone & (np.abs(m * volts) < CARRIES_NOTHING) & _goes_for_good(stand, slots, s)
        slots.refused |= gone & ~nothing
        slots.let[s] = np.where(nothing, -m * volts, 0.0)
        gain = np.where(gone, 0.0, m / np.where(gone, 1.0, left))
        new = gain * row
        # the slots before give way to this one
        for r in range(s):
            back = sum((solving[r, t] * z[t, s] for t in range(s)), np.zeros(count))
            for t in range(s + 1):
                solving[r, t] -= back * new[t]
        solving[s, : s + 1] = new
    return np.moveaxis(solving, 2, 0)


def refused(stand: Stand, changes: Places, count: int) -> Marks:
    """Columns that are not for this method, as far as it shows before anything is solved.

    Parameters
    ----------
    stand
        The installation as it stands.
    changes
        Straight changes.
    count
        Columns [1].

    Returns
    -------
    array
        Marks.
    """
    slots = _slots(stand, changes, count)
    _solving(stand, slots)
    return slots.refused


def _goes_for_good(stand: Stand, slots: _Slots, s: int) -> Marks:
    """Whether a slot's branch cuts something off: by itself, or as another of its run has gone already."""
    place = np.maximum(slots.place[s], 0)
    alone: Marks = (slots.place[s] >= 0) & (stand.beyond[place, 1] > stand.beyond[place, 0])
    for t in range(s):
        same = (stand.run[place] >= 0) & (stand.run[place] == stand.run[np.maximum(slots.place[t], 0)])
        alone |= same & (slots.place[t] >= 0) & (slots.place[s] >= 0) & (slots.more[t] < 0)
    return alone


def _left_by_mate(stand: Stand, slots: _Slots, solving: Floats, z: Floats, s: int, pick: Whole) -> Floats:
    """The share of an ampere put in across a slot's branch that goes through the branch's mate."""
    mate, place = slots.mate[s, pick], slots.place[s, pick]
    a, b = stand.first[mate], stand.second[mate]

    def at_mate(t: int) -> Floats:
        other = np.maximum(slots.place[t, pick], 0)
        volts: Floats = stand.across[a, other] - stand.across[b, other]
        new = np.flatnonzero(slots.place[t, pick] < 0)
        if len(new):
            c, d = slots.first[t, pick][new], slots.second[t, pick][new]
            volts[new] = (stand.nodal[a[new], c] - stand.nodal[b[new], c]) - (
                stand.nodal[a[new], d] - stand.nodal[b[new], d]
            )
        return volts

    found = at_mate(s)
    for r in range(s):
        of_r = at_mate(r)
        for t in range(s):
            found -= of_r * solving[r, t, pick] * z[t, s, pick]
    # by the mate it flows back, against the way in
    share: Floats = -stand.turned[place] * stand.tangents[mate] * found
    return share


# -- Newton's method on the live branches ------------------------------------------------------------------------


def compensated(
    stand: Stand,
    places: Places,
    laws: LawArrays,
    start: Floats,
    close: float,
    *,
    fast: bool = False,
) -> Compensated:
    """Work out columns from what they change.

    Parameters
    ----------
    stand
        The installation as it stands.
    places
        Straight changes.
    laws
        Parameters of the live branches, with what the columns change in them.
    start
        Potentials to begin from [V], [node, case].
    close
        A column has arrived when no live branch moves by more [V].
    fast
        Whether Newton's method is the compiled one.

    Returns
    -------
    Compensated
        Columns that have not arrived are for elimination.
    """
    count = start.shape[1]
    slots = _slots(stand, places, count)
    solving = _solving(stand, slots)
    seen = _rows(slots, stand.at_live_of_node, stand.at_live_of_place)
    currents = np.einsum("cst,tc->sc", solving, slots.apart)
    run = _Run(stand, laws, seen, solving, close)
    live = stand.live
    before = stand.potentials[stand.first[live]] - stand.potentials[stand.second[live]]
    run.unmoved = before[:, None] - np.einsum("fsc,sc->fc", seen, currents)
    volts = start[stand.first[live]] - start[stand.second[live]]
    kernel = compiled(live_columns) if fast and len(volts) else None
    beyond, arrived, steeper = run.iterate(volts) if kernel is None else run.compiled(kernel, volts)
    felt = np.einsum("fsc,fc->sc", seen, beyond)
    currents -= np.einsum("cst,tc->sc", solving, felt)
    potentials = stand.potentials[:, None] - _times(stand.across[:, live], beyond)
    for s in range(len(currents)):
        carried = np.flatnonzero(currents[s] != 0)
        if len(carried):
            rows = _rows(_one_slot(slots, s, carried), stand.nodal, stand.across)[:, 0]
            potentials[:, carried] -= rows * currents[s][carried]
    _put_back(stand, slots, potentials)
    potentials[0] = 0.0
    _put_islands(stand, slots, potentials)
    arrived &= ~slots.refused & _nothing_carried(slots, potentials) & ~_leaks_far(stand, slots)
    return Compensated(stand, potentials, arrived, slots, solving, steeper)


def _times(left: Floats, right: Floats) -> Floats:
    """The product, in blocks that one thread does."""
    found = np.empty((left.shape[0], right.shape[1]))
    depth = max(1, left.shape[1])
    tall = max(1, min(left.shape[0], 128))
    wide = max(1, UNTHREADED // (depth * tall))
    for top in range(0, left.shape[0], tall):
        rows = left[top : top + tall]
        for side in range(0, right.shape[1], wide):
            found[top : top + tall, side : side + wide] = rows @ right[:, side : side + wide]
    return found


def _one_slot(slots: _Slots, s: int, pick: Whole) -> _Slots:
    return _Slots(
        slots.first[s : s + 1, pick], slots.second[s : s + 1, pick], slots.more[s : s + 1, pick],
        slots.place[s : s + 1, pick], slots.joins[s : s + 1, pick], slots.refused[pick],
        slots.mate[s : s + 1, pick], slots.apart[s : s + 1, pick], slots.let[s : s + 1, pick],
        slots.cuts[s : s + 1, pick],
    )  # fmt: skip


def _put_back(stand: Stand, slots: _Slots, potentials: Floats) -> None:
    """What leaked through a branch that goes is there again on the side that is left."""
    for s in range(len(slots.let)):
        pick = np.flatnonzero(slots.let[s])
        place = slots.place[s, pick]
        a, b = slots.first[s, pick], slots.second[s, pick]
        low, high = stand.beyond[place].T
        beyond_b = (stand.within[b] >= low) & (stand.within[b] < high)
        potentials[:, pick] += np.where(beyond_b, stand.nodal[:, a], -stand.nodal[:, b]) * slots.let[s, pick]


def _put_islands(stand: Stand, slots: _Slots, potentials: Floats) -> None:
    """An island that is joined to something at one place goes to the volts that are there."""
    for s, column in zip(*np.nonzero(slots.joins), strict=True):
        a, b = slots.first[s, column], slots.second[s, column]
        island, other = (a, b) if stand.islands[a] else (b, a)
        nodes = stand.islands == stand.islands[island]
        potentials[nodes, column] += potentials[other, column] - potentials[island, column]


def _nothing_carried(slots: _Slots, potentials: Floats) -> Marks:
    """Whether what was let be as it carries nothing still does."""
    fine = np.ones(potentials.shape[1], dtype=bool)
    for s in range(len(slots.more)):
        pick = np.flatnonzero(slots.let[s])
        volts = potentials[slots.first[s][pick], pick] - potentials[slots.second[s][pick], pick]
        fine[pick] = np.abs(slots.more[s][pick] * volts) < 10 * CARRIES_NOTHING
    return fine


def _leaks_far(stand: Stand, slots: _Slots) -> Marks:
    """Whether what leaked lifts anything, in columns where the answers are others as more than one thing changes."""
    a, b = slots.first, slots.second
    several = (slots.more != 0).sum(axis=0) > 1
    high = np.where(slots.more != 0, np.maximum(stand.nodal[a, a], stand.nodal[b, b]), 0.0)
    lifts = np.abs(slots.let).sum(axis=0) * high.max(axis=0, initial=0.0)
    far: Marks = several & (lifts > LEAST_LIFTED)
    return far


@dataclass(eq=False)
class _Run:
    """The live branches of some columns. ``unmoved`` are their volts with the straight changes alone."""

    stand: Stand
    laws: LawArrays
    seen: Floats
    solving: Floats
    close: float
    unmoved: Floats = None  # type: ignore[assignment]

    def columns(self, pick: Whole) -> _Run:
        """Some of the columns."""
        run = _Run(self.stand, self.laws.columns(pick), self.seen[..., pick], self.solving[pick], self.close)
        run.unmoved = self.unmoved[:, pick]
        return run

    def answered(self, beyond: Floats) -> Floats:
        """Volts at the live branches by what they take beyond their tangents, with the changes in place."""
        volts: Floats = _times(self.stand.among_live, beyond)
        if self.seen.shape[1]:
            felt = np.einsum("fsc,fc->sc", self.seen, beyond)
            volts -= np.einsum("fsc,sc->fc", self.seen, np.einsum("cst,tc->sc", self.solving, felt))
        return volts

    def answered_few(self, which: Whole, beyond: Floats) -> Floats:
        """The same where only some of each column's take anything, [chosen, case]."""
        if len(which) > FEW:
            put = np.zeros((len(self.stand.slopes), which.shape[1]))
            np.put_along_axis(put, which, beyond, axis=0)
            return self.answered(put)
        volts: Floats = self.stand.among_live[:, which[0]] * beyond[0]
        for row, amps in zip(which[1:], beyond[1:], strict=True):
            volts += self.stand.among_live[:, row] * amps
        if self.seen.shape[1]:
            column = np.arange(which.shape[1])
            felt = np.einsum("ics,ic->cs", self.seen[which, :, column], beyond)
            volts -= np.einsum("fsc,cs->fc", self.seen, np.einsum("cst,ct->cs", self.solving, felt))
        return volts

    def iterate(self, volts: Floats) -> tuple[Floats, Marks, Floats]:
        """Step until no live branch moves; what each takes beyond its tangent, and by how much its slope moved."""
        sheet, stand = self.stand.sheet, self.stand
        count = volts.shape[1]
        beyond, steeper = np.zeros_like(volts), np.zeros_like(volts)
        arrived = np.zeros(count, dtype=bool)
        active, run = np.arange(count), self
        piece = pieces_at(sheet, self.laws, volts)
        lines = len(volts) - len(piece)
        sees = run.own_ohms()
        for step in range(MOST_STEPS):
            secant = step < SECANT_STEPS
            amps, slopes = live_laws(
                sheet, run.laws, volts, piece, secant=secant, secant_sets=step >= DAMP_FROM
            )
            more = slopes - stand.slopes[:, None]
            taken = amps - (stand.slopes[:, None] * volts + stand.offsets[:, None])
            fresh = run.unmoved - run.answered(taken)
            fresh = run.newton(volts, fresh, more, sees)
            moved = np.abs(fresh - volts).max(axis=0, initial=0.0)
            if step >= DAMP_FROM and step % 2:
                fresh = np.where(moved > self.close, volts + 0.5 * (fresh - volts), fresh)
            piece, changed = moved_pieces(run.laws, piece, fresh[lines:], 1e-3 * self.close)
            there = (moved <= self.close) & ~changed & (step >= min(SECANT_STEPS, len(volts)))
            # linear in the last step: exact for what is on its piece, and a square of the close for the rest
            taken += more * (fresh - volts)
            beyond[:, active], steeper[:, active], arrived[active] = taken, more, there
            volts = fresh
            if there.all():
                break
            if there.any():
                late = np.flatnonzero(~there)
                active, run, volts = active[late], run.columns(late), volts[:, late]
                piece, sees = piece[:, late], sees[:, late]
        return beyond, arrived, steeper

    def compiled(self, kernel: Callable[..., Any], volts: Floats) -> tuple[Floats, Marks, Floats]:
        """The same as :meth:`iterate`, column by column."""
        stand, laws, sheet = self.stand, self.laws, self.stand.sheet
        counts = np.array([len(sheet.filaments), len(sheet.powers), len(sheet.pieces)])
        parameters = (np.ascontiguousarray(getattr(laws, name)) for name in LawArrays.__slots__)
        rows = (stand.among_live, self.seen, self.solving, self.unmoved, volts)
        found: tuple[Floats, Marks, Floats] = kernel(
            *map(np.ascontiguousarray, rows), stand.slopes, stand.offsets, counts, *parameters,
            MATTERS, LEAST_PIVOT, self.close,
        )  # fmt: skip
        return found

    def own_ohms(self) -> Floats:
        """Ohms that each live branch sees at its own ends, with the changes in place."""
        own = np.diag(self.stand.among_live)[:, None]
        if not self.seen.shape[1]:
            return np.repeat(own, self.unmoved.shape[1], axis=1)
        less = np.einsum("fsc,cst,ftc->fc", self.seen, self.solving, self.seen, optimize=True)
        found: Floats = own - less
        return found

    def newton(self, volts: Floats, fresh: Floats, more: Floats, sees: Floats) -> Floats:
        """Correct fresh volts by the slopes that have moved by enough to matter."""
        matters = np.abs(more * sees) > MATTERS
        number = matters.sum(axis=0)
        most = int(number.max(initial=0))
        low = 0
        for high in (1, 3, 7, 15, len(volts)):
            pick = np.flatnonzero((number > low) & (number <= high))
            if len(pick):
                self._corrected(pick, min(most, high), matters, volts, fresh, more)
            low = high
        return fresh

    def _corrected(
        self, pick: Whole, size: int, matters: Marks, volts: Floats, fresh: Floats, more: Floats
    ) -> None:
        """Newton's correction in some columns, each with at most so many branches; changes fresh volts."""
        run = self if len(pick) == matters.shape[1] else self.columns(pick)
        which = np.argsort(~matters[:, pick], axis=0, kind="stable")[:size]
        real = np.take_along_axis(matters[:, pick], which, axis=0)
        slope = np.where(real, np.take_along_axis(more[:, pick], which, axis=0), 0.0)
        short = np.take_along_axis(fresh[:, pick] - volts[:, pick], which, axis=0)
        # answers of the chosen by the chosen: [case, row, column]
        answers = self.stand.among_live[which.T[:, :, None], which.T[:, None, :]]
        if run.seen.shape[1]:
            column = np.arange(len(pick))
            chosen = run.seen[which, :, column[None, :]]  # [chosen, case, slot]
            left = np.einsum("ict,cts->cis", chosen, np.swapaxes(run.solving, 1, 2))
            answers = answers - np.einsum("cis,jcs->cij", left, chosen)
        matrix = answers * slope.T[:, None, :]
        matrix[:, np.arange(size), np.arange(size)] += 1.0
        change = _small_solved(matrix, short.T)
        fresh[:, pick] -= run.answered_few(which, slope * change.T)


def _small_solved(matrix: Floats, right: Floats) -> Floats:
    """Solve one small system a case; one that has too few digits gives no number, and does not arrive."""
    if matrix.shape[1] == 1:
        pivot = matrix[:, 0, 0]
        fine = (np.abs(pivot) > LEAST_PIVOT) | (right[:, 0] == 0)
        found: Floats = np.where(fine, right[:, 0] / np.where(fine & (pivot != 0), pivot, 1.0), np.nan)[
            :, None
        ]
        return found
    try:
        return np.asarray(np.linalg.solve(matrix, right[:, :, None])[:, :, 0])
    except np.linalg.LinAlgError:
        single = np.abs(np.linalg.det(matrix)) < 1e-300
        safe = matrix.copy()
        safe[single] = np.eye(matrix.shape[1])
        return np.asarray(np.linalg.solve(safe, right[:, :, None])[:, :, 0])


# -- ohms ------------------------------------------------------------------------------------------------------------


def _ohms(done: Compensated, first: int, second: int, unsure: float) -> Floats:
    """Straight changes are in it; where a live branch's slope could move it by more than ``unsure``, no number."""
    stand, slots = done.stand, done.slots
    count = done.potentials.shape[1]
    ends = stand.nodal[:, first] - stand.nodal[:, second]
    at = ends[slots.first] - ends[slots.second]
    found: Floats = ends[first] - ends[second] - np.einsum("sc,cst,tc->c", at, done.solving, at)
    live = stand.live
    reach = (ends[stand.first[live]] - ends[stand.second[live]])[:, None]
    if len(slots.more):
        seen = _rows(slots, stand.at_live_of_node, stand.at_live_of_place)
        reach = reach - np.einsum("fsc,cst,tc->fc", seen, done.solving, at)
    found = np.where(np.abs(reach**2 * done.steeper).max(axis=0, initial=0.0) > unsure, np.nan, found)
    # what went without a current, but not without an ampere that goes round by it
    let = slots.let != 0
    by_it = np.where(let, at**2 * np.abs(slots.more), 0.0).max(axis=0, initial=0.0)
    found = np.where(by_it > 1e-12, np.where(by_it * 1e3 > 1.0, np.inf, np.nan), found)
    joined = slots.joins.any(axis=0)
    home, other = stand.islands[first], stand.islands[second]
    if home != other:
        found[~joined] = np.inf
        lone = joined & ((slots.more != 0).sum(axis=0) == 1)
        by_way = _ohms_by_way(stand, slots, first, second)
        found[joined] = np.where(lone, by_way, np.nan)[joined]
    else:
        # what is joined to it at one place is no way from end to end
        found[joined & ((slots.more != 0).sum(axis=0) > 1)] = np.nan
    assert found.shape == (count,)
    return found


def _ohms_by_way(stand: Stand, slots: _Slots, first: int, second: int) -> Floats:
    """Ohms from one island to another by the one new branch between them; where it leads elsewhere there are none.

    Where live branches may take part there is no number, for their slopes may have moved.
    """
    a, b = slots.first[0], slots.second[0]
    z, islands = stand.nodal, stand.islands
    turned = islands[a] != islands[first]
    a, b = np.where(turned, b, a), np.where(turned, a, b)
    here = z[first, first] - z[first, a] - z[a, first] + z[a, a]
    there = z[second, second] - z[second, b] - z[b, second] + z[b, b]
    with np.errstate(divide="ignore"):
        ohms = here + there + 1.0 / slots.more[0]
    leads = (islands[a] == islands[first]) & (islands[b] == islands[second])
    sure = (here < 1e-3) | (here > 1e3), (there < 1e-3) | (there > 1e3)
    return np.where(leads, np.where(sure[0] & sure[1], ohms, np.nan), np.inf)
