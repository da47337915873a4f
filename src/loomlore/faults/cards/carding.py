"""All cards, in the order of work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from loomlore.faults.cards.card import Card
from loomlore.faults.cards.dead import bonding, continuity, fuses, insulation
from loomlore.faults.cards.live import drops, first_power, functions, regulator
from loomlore.network.building import Plant
from loomlore.network.laws import (
    Filament,
)

__all__ = ["CARDS", "card_of", "sequence"]

CARDS = ("continuity", "bonding", "insulation", "first-power", "drops", "regulator", "fuses", "functions")
"""Cards in the order in which they are worked through: nothing is powered before insulation has passed."""


_MAKERS = {
    "continuity": continuity,
    "bonding": bonding,
    "insulation": insulation,
    "drops": drops,
    "regulator": regulator,
    "fuses": fuses,
    "functions": functions,
}


def card_of(
    plant: Plant, card: str, *, service: str = "", limit_amps: float = 5.0, lamp: Filament | None = None
) -> Card:
    """Make one card.

    Parameters
    ----------
    plant
        The installation.
    card
        One of :data:`CARDS`.
    service
        Of this service only; of the whole installation where empty.
    limit_amps
        Where the bench supply of the first-power card is set to limit [A].
    lamp
        A lamp in series instead of a limit.

    Returns
    -------
    Card
        In the order of work.

    Raises
    ------
    KeyError
        Where no card is called so.
    """
    if card == "first-power":
        return first_power(plant, service, limit_amps, lamp)
    return _MAKERS[card](plant, service)


def sequence(cards: Iterable[str]) -> Sequence[str]:
    """Cards in the order of work.

    Parameters
    ----------
    cards
        Ids.

    Returns
    -------
    sequence of str
        Of :data:`CARDS`.
    """
    wanted = set(cards)
    return [card for card in CARDS if card in wanted]
