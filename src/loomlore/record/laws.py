"""The laws as the record knows them: their states in words, their parameters, and what they must be given.

How a law behaves belongs to the network; here stands only what a kind or an item may write about one, so
that a slip in the text is found before anything is solved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

__all__ = ["CONTACT_OHMS", "LAWS", "RATED", "Law", "states_of"]

CONTACT_OHMS = 0.005
"""Resistance [ohm] of a closed contact, a mated way or a link that says none: 1 to 20 mohm is common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """One law: its states in order, marks that lie within a state, its amounts and its words.

    ``amounts`` maps a parameter to the dimensions it may have; ``words`` are parameters that are names or
    words; ``wants`` are alternatives, one of which must be given whole: dimensions stand for the rating's
    parts, other words for parameters.
    """

    states: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()
    amounts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    wants: tuple[tuple[str, ...], ...] = ()


_OHM = {"resistance": ("resistance",)}
_LOAD = (("voltage", "power"), ("voltage", "current"))
_RESISTIVE = (("resistance",),)

LAWS: Mapping[str, Law] = MappingProxyType(
    {
        "conductor": Law(amounts=_OHM, wants=_RESISTIVE),
        "filament": Law(
            states=("out", "glimmering", "lit"),
            marks=("over-run",),
            amounts=_OHM | {"cold-ratio": ("",)},
            wants=_LOAD,
        ),
        "motor": Law(
            states=("stopped", "labouring", "running"),
            amounts=_OHM | {"stall": ("fraction", "", "current", "resistance")},
            wants=_LOAD,
        ),
        "horn": Law(states=("silent", "faint", "sounding"), amounts=_OHM, wants=_LOAD),
        "coil": Law(
            states=("released", "pulled-in"),
            amounts=_OHM | {"pulls-in": ("voltage",), "drops-out": ("voltage",)},
            wants=(("resistance",), *_LOAD),
        ),
        "heater": Law(states=("cold", "warm", "hot"), amounts=_OHM, wants=_LOAD),
        "set": Law(
            states=("dead", "weak", "working"),
            amounts={"works-from": ("voltage",)},
            wants=_LOAD,
        ),
        "battery": Law(
            states=("idle", "discharging", "charging"),
            amounts=_OHM | {"charge": ("", "fraction", "charge"), "temperature": ("temperature",)},
            wants=(("voltage", "charge"),),
        ),
        "generator": Law(
            states=("idle", "generating", "limited"),
            amounts=_OHM
            | {
                "set": ("voltage",),
                "droop": ("voltage",),
                "residual": ("voltage",),
                "open-volts": ("voltage",),
                "cuts-in": ("rotation", "speed", ""),
                "full-at": ("rotation", "speed", ""),
            },
            words=("speed",),
            wants=(("voltage", "current"),),
        ),
        "regulator": Law(
            states=("regulating", "open", "stuck"),
            amounts=_OHM | {"set": ("voltage",), "droop": ("voltage",)},
        ),
        "rectifier": Law(
            states=("blocking", "conducting"), amounts=_OHM | {"drop": ("voltage",)}, wants=(("current",),)
        ),
        "fuse": Law(states=("whole", "blown"), amounts=_OHM, words=("basis",), wants=(("current",),)),
        "rheostat": Law(
            amounts={"at-0": ("resistance",), "at-1": ("resistance",)},
            words=("follows",),
            wants=(("at-0", "at-1", "follows"),),
        ),
        "meter": Law(
            states=("no-power", "off-scale", "reading"),
            amounts=_OHM,
            wants=(("current", "resistance"), ("voltage", "resistance")),
        ),
        "ratio-coil": Law(states=("no-power", "off-scale", "reading"), amounts=_OHM, wants=_RESISTIVE),
        "cartridge": Law(
            states=("safe", "above-no-fire", "fired"),
            amounts=_OHM | {"no-fire": ("current",), "all-fire": ("current",)},
            wants=(("resistance", "no-fire", "all-fire"),),
        ),
        "magneto": Law(states=("live", "stopped"), amounts=_OHM),
        "condenser": Law(amounts=_OHM | {"capacitance": ("capacitance",)}),
        "suppressor": Law(amounts=_OHM, wants=_RESISTIVE),
    }
)
"""Every law by its name in a kind."""

RATED = frozenset(
    "filament motor horn coil heater set battery generator rectifier fuse meter ratio-coil".split()
)
"""Laws that take the item's ``rating`` where the kind gives the element none of its own."""


def states_of(law: str) -> tuple[str, ...]:
    """The words that ``is`` may be followed by for an element of a law.

    Parameters
    ----------
    law
        A key of :data:`LAWS`.

    Returns
    -------
    tuple of str
        States in order, then the marks within a state.

    Examples
    --------
    >>> states_of("filament")
    ('out', 'glimmering', 'lit', 'over-run')
    """
    known = LAWS.get(law)
    return known.states + known.marks if known else ()
