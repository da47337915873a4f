"""Which cases need no working out together: those that change nothing, and those that are quicker by themselves.

Most single faults of an installation at rest, and many in flight, are in circuits that carry nothing. What such a
fault would move is estimated from the answers of the installation as it stands; only where that is under a
tenth of a nanovolt, and nothing else could see it, is the case as if nothing had happened.
"""

from __future__ import annotations

import numpy as np

from loomlore.network.arrays import LIVE, Marks
from loomlore.network.changes import Changes
from loomlore.network.compensating import LEAST_LEFT, Places, refused
from loomlore.network.laws import OPEN
from loomlore.network.standing import Setting

__all__ = ["lone_columns", "still_columns"]

LEAST_MOVED = 1e-10
"""Volts under which nothing has moved."""


def still_columns(setting: Setting, changes: Changes) -> Marks:
    """Columns in which nothing moves: what they change carries nothing, with it or without.

    Parameters
    ----------
    setting
        The whole as it stands, with its answers.
    changes
        What the columns change.

    Returns
    -------
    array
        Marks. Whatever else might see a change (a magneto, a test of volts on what is cut off, a state of the
        branch itself) makes a column one that is to be worked out.
    """
    stand = setting.stand
    assert stand is not None
    v = stand.potentials
    lively = np.zeros(changes.count, dtype=bool)
    near = np.zeros(len(v), dtype=bool)
    for magneto in setting.magnetos:
        near[list(setting.reach(magneto))] = True
    # branches in place of others: what they would carry, against what is carried
    k, a, b = changes.place, stand.first[changes.place], stand.second[changes.place]
    apart = np.abs(changes.siemens * (v[a] - v[b]) - stand.amps[k])
    more = changes.siemens - stand.tangents[k]
    cuts = (stand.beyond[k, 1] > stand.beyond[k, 0]) & (changes.siemens <= OPEN)
    beyond_a = (stand.within[a] >= stand.beyond[k, 0]) & (stand.within[a] < stand.beyond[k, 1])
    high = np.maximum(stand.nodal[a, a], stand.nodal[b, b])
    left = np.maximum(np.abs(1.0 + more * (stand.across[a, k] - stand.across[b, k])), 1e-15)
    kept = np.where(beyond_a, b, a)
    moves = apart * np.where(cuts, np.maximum(stand.nodal[kept, kept], stand.leak_ohms[k]), high / left)
    stated = np.zeros(len(stand.first), dtype=bool)
    for place, state in zip(setting.stated, setting.standing, strict=True):
        memory = setting.sheet.network.branches[setting.sheet.part.branches[place]].memory
        stated[place] = state != 0 or (memory >= 0 and setting.memory.variables[memory] != 0)
    stated[list(setting.magnetos)] = True
    tested = stand.within[list(setting.tested)]
    low, top = stand.beyond[k].T
    parts = ((tested[:, None] >= low) & (tested[:, None] < top)).any(axis=0)
    bad = ~(moves < LEAST_MOVED) | stated[k] | parts | near[a] | near[b]
    bad |= (stand.islands[a] != stand.islands[b]) | (~cuts & (more < 0) & (left < LEAST_LEFT) & (apart > 0))
    lively[changes.column[bad]] = True
    # another live law is for the solver; so is one that has states
    for _, column, law in changes.laws:
        lively[column] |= isinstance(law, LIVE) or bool(law.states)
    a, b = changes.first, changes.second
    ohms = stand.nodal[a, a] - stand.nodal[a, b] - stand.nodal[b, a] + stand.nodal[b, b]
    amps = np.abs(changes.strength * (v[a] - v[b]) / (1.0 + changes.strength * ohms))
    bad = ~(amps * np.maximum(stand.nodal[a, a], stand.nodal[b, b]) < LEAST_MOVED) | near[a] | near[b]
    lively[changes.at[bad | (stand.islands[a] != stand.islands[b])]] = True
    several = np.bincount(changes.column, minlength=changes.count) + np.bincount(
        changes.at, minlength=changes.count
    )
    return ~lively & (several <= 1)


def lone_columns(setting: Setting, changes: Changes) -> Marks:
    """Columns without a new branch that are quicker settled by themselves than eliminated a few at a time.

    Parameters
    ----------
    setting
        The whole as it stands, with its answers.
    changes
        What the columns change.

    Returns
    -------
    array
        Marks; none where elimination is compiled.
    """
    stand, k = setting.stand, changes.place
    assert stand is not None
    if setting.fast:
        return np.zeros(changes.count, dtype=bool)
    more = changes.siemens - stand.straight[k]
    lone = refused(stand, Places(changes.column, stand.first[k], stand.second[k], more, k), changes.count)
    lone[changes.at] = False
    return lone
