"""The trade's two vocabularies: one word is stored, both are accepted in search and in what is typed.

Common practice, no source. A quotation is never changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["VOCABULARIES", "own_word"]

VOCABULARIES: tuple[tuple[str, ...], ...] = (
    ("earth", "ground"),
    ("cable", "wire"),
    ("loom", "harness"),
    ("screened", "shielded"),
    ("way", "contact", "pin"),
    ("bonding strip", "jumper"),
    ("cut out", "reverse current relay"),
    ("magnetic relay", "solenoid", "contactor"),
    ("accumulator", "storage battery", "battery"),
    ("generator", "dynamo"),
    ("condenser", "capacitor"),
    ("rotary transformer", "dynamotor"),
    ("valve", "tube"),
    ("aerial", "antenna"),
    ("navigation lamp", "position light"),
    ("hail lamp", "recognition light"),
    ("lamp", "light", "bulb"),
    ("horn", "hooter"),
    ("undercarriage", "landing gear"),
    ("pressure head", "pitot tube"),
    ("airscrew", "propeller"),
    ("push", "push button", "momentary switch"),
    ("switch", "tumbler", "toggle"),
    ("fuse box", "fusebox", "fuse panel"),
    ("dimmer", "rheostat"),
    ("changeover", "double throw"),
    ("petrol", "gasoline"),
)
"""Words that mean one thing, in plain letters with blanks."""


def own_word(word: str, known: Iterable[str]) -> str | None:
    """The word of a list that means what another word means.

    Parameters
    ----------
    word
        As typed.
    known
        Ids that might be meant.

    Returns
    -------
    str or None
        None where no word of the list means the same.

    Examples
    --------
    >>> own_word("accumulator", ["battery", "regulator"])
    'battery'
    """
    plain = re.sub(r"[-_ ]+", " ", word.strip().casefold())
    ids = {name.replace("-", " "): name for name in known}
    for meanings in VOCABULARIES:
        if plain in meanings:
            for other in (*meanings, *(m.removeprefix("magnetic ") for m in meanings)):
                if other in ids:
                    return ids[other]
    return None
