"""Limits printed on cards, each with its source and how it came here."""

from __future__ import annotations

from loomlore.faults.cards.card import Limit

__all__ = [
    "EQUIPMENT_LIMIT",
    "MEMORY",
    "PRODS",
    "START_AT",
    "STRIP_LIMIT",
    "bonding_limits",
    "insulation_limits",
]

MEMORY = "from memory: read the print before leaning on it"


def bonding_limits() -> tuple[Limit, ...]:
    """Bonding limits for a card.

    Returns
    -------
    tuple of Limit
        As printed, with their status.

    Source
    ------
    [ac43.13-1b par 11-188f], [ac43.13-1b par 11-189], [faa-h-8083-32 ch 4], [cap562 leaflet 9-1 table 1]
    """
    read = "read"
    return (
        Limit("equipment frame to structure", "under 2.5 mohm", "AC 43.13-1B par 11-188f", read),
        Limit("each bonding strip's joint", "3 mohm at most", "AC 43.13-1B par 11-189", read),
        Limit("generator or battery earth to any equipment earth", "5 mohm", "FAA-H-8083-32 ch 4", read),
        Limit("parts carrying the main earth current", "50 mohm", "CAP 562 leaflet 9-1 table 1", MEMORY),
    )


def insulation_limits() -> tuple[Limit, ...]:
    """Insulation limits for a card.

    Returns
    -------
    tuple of Limit
        As remembered, with their status: the print was not open for any of them.

    Source
    ------
    [cap562 leaflet 9-1]
    """
    leaflet = "CAP 562 leaflet 9-1"
    return (
        Limit("wheel wells, engines and nacelles", "2 Mohm", leaflet, MEMORY),
        Limit("lighting and signalling", "5 Mohm", leaflet, MEMORY),
        Limit("all other services", "10 Mohm", leaflet, MEMORY),
        Limit("rotating machines", "0.5 Mohm", leaflet, MEMORY),
    )


PRODS = 0.2
"""Ohms by which prods and a meter's last figure may differ: common practice, no source."""

STRIP_LIMIT = 0.003
EQUIPMENT_LIMIT = 0.0025
"""Ohms: [ac43.13-1b par 11-189] and [ac43.13-1b par 11-188f]."""

START_AT = (
    "Start at 100 V; old rubber is not given 250 V until it has passed at 100 V (common practice, no source)."
)
