"""Rules about what is well formed and hardly meant.

Ratings that cannot go with the supply, looms that are never entered, places on the other side of the
craft than their names say, lengths beyond all measure, returns by the airframe in an installation of two
wires. Each is a warning: the record may be right, and then a `note` on the thing says why and quiets it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from loomlore.record.equipment import Element, Equipment
from loomlore.record.lengths import cable_length
from loomlore.record.model import Cable, Item, Spot
from loomlore.record.rules.connections import cables_between
from loomlore.record.rules.context import Context, is_earth, split_end
from loomlore.record.rules.shorts import SUPPLIES

__all__ = ["check_plausible"]

_WORKING = frozenset({"filament", "motor", "horn", "heater", "set"})
"""Laws of what is there to be worked by the supply; coils may be fed by something else in their item."""

FAR_ABOVE = 10.0
"""A load rated this many times the highest supply does nothing on it: twice and more is met where
lamps are to burn dim on purpose. Common practice, no source."""

AMMETER_PASSES = 1000.0
"""A meter that would pass this current [A] at its full scale in volts is no voltmeter. Common sense, no
source: even a moving-iron voltmeter passes less than 1 A."""


def check_plausible(context: Context) -> None:
    """Warn of ratings, looms and returns that are hardly meant.

    Parameters
    ----------
    context
        The standard of fit.
    """
    supply = _highest_supply(context)
    for parts in context.installation.equipment.values():
        if context.due(parts.item.id) and not parts.item.note:
            _check_rating(context, parts, supply)
            _check_meter(context, parts)
    if context.first:
        for place in context.whole.places.values():
            _check_side(context, place)
    cables = [c for c in cables_between(context) if not c.note and c.id not in context.doubtful]
    extent = _extent(context)
    for cable in cables:
        if context.due(cable.id):
            _check_loom_used(context, cable)
            _check_not_endless(context, cable, extent)
    if context.dossier.header.return_ == "two-wire":
        _check_returns(context, cables)


# ---- ratings ---------------------------------------------------------------------------------------------


def _highest_supply(context: Context) -> float:
    """The highest volts [V] that anything here supplies, 0 where none is known."""
    header = context.dossier.header.supply
    rated = (
        element.rating.get("voltage")
        for parts in context.installation.equipment.values()
        for element in parts.elements.values()
        if element.law in SUPPLIES
    )
    volts = [amount.high for amount in (header, *rated) if amount is not None]
    return max(volts, default=0.0)


def _check_rating(context: Context, parts: Equipment, supply: float) -> None:
    for element in _worked(parts):
        rated = element.rating.get("voltage")
        if supply and rated is not None and rated.low >= FAR_ABOVE * supply:
            message = f"Item {parts.item.id!r} is rated {rated.text}, and nothing here gives more than {supply:g} V."
            hint = "Look at the decimal point and the unit; where it is right, say why in its `note`."
            _warn_rating(context, "rating-above-supply", parts.item, message, hint)
            return


def _worked(parts: Equipment) -> Iterator[Element]:
    return (element for element in parts.elements.values() if element.law in _WORKING)


def _check_meter(context: Context, parts: Equipment) -> None:
    for element in parts.elements.values():
        volts, ohms = element.rating.get("voltage"), element.values.get("resistance")
        if element.law != "meter" or volts is None or ohms is None or ohms.value <= 0:
            continue
        if volts.value / ohms.value > AMMETER_PASSES:
            number = volts.text.split()[0]
            message = (
                f"Item {parts.item.id!r} carries the whole current ({ohms.text}), "
                f"and its full scale is given in volts, {volts.text!r}."
            )
            hint = f'Write rating = "{number} A", or take kind = "voltmeter" if it measures volts.'
            _warn_rating(context, "meter-in-volts", parts.item, message, hint)


def _warn_rating(context: Context, rule: str, item: Item, message: str, hint: str) -> None:
    context.remarks.warn(rule, item, message, hint, key="rating" if item.rating else "")


# ---- places ----------------------------------------------------------------------------------------------

ON_THE_LINE = 0.05
"""A place may lie this far [m] over the centre line and still be called by a side: where the tape was put."""


def _check_side(context: Context, place: Spot) -> None:
    """A place that is called port does not lie to starboard, nor the other way round."""
    sides = {"port", "starboard"}.intersection(place.id.split("-"))
    if len(sides) != 1 or place.at is None or place.note or f"place {place.id}" in context.broken:
        return
    (side,) = sides
    across = place.at[1]
    if across > ON_THE_LINE if side == "port" else across < -ON_THE_LINE:
        other = "starboard" if side == "port" else "port"
        message = f"Place {place.id!r} lies {abs(across):g} m to {other} by its figures."
        hint = "The second figure counts to starboard: port has a minus. Mend its sign, or the name."
        context.remarks.warn("other-side", place, message, hint, key="at")


# ---- cables ----------------------------------------------------------------------------------------------


def _check_loom_used(context: Context, cable: Cable) -> None:
    """A cable lies along a loom for one stretch of it at least."""
    loom = context.dossier.looms.get(cable.along)
    if loom is None or not {split_end(end)[0] for end in (cable.from_, cable.to)}.isdisjoint(
        context.doubtful
    ):
        return
    if not all(place in context.dossier.places for place in loom.route):
        return  # a place that is none has its own finding
    length = cable_length(cable, context.dossier)
    if length is None or length.how != "loom" or ", 0 legs" not in length.explanation:
        return
    message = (
        f"Cable {cable.id!r} lies along {loom.id!r}, but neither of its ends is nearer to another place of it: "
        "it would run no stretch of that loom."
    )
    hint = (
        f"The loom goes by {', '.join(loom.route)}. Mend `along`, the place of an end, or the loom's route."
    )
    context.remarks.warn("loom-not-used", cable, message, hint, key="along")


BEYOND = 2.0
"""A cable may be this many times as long as the two places that are farthest apart: looms go round about.
Common practice, no source."""


def _extent(context: Context) -> float:
    """The distance [m] of the two places that are farthest apart, 0 where too few have figures."""
    points = [place.at for place in context.whole.places.values() if place.at is not None]
    return (
        max((math.dist(a, b) for a, b in combinations(points, 2)), default=0.0)
        if len(points) > _SEVERAL
        else 0.0
    )


def _check_not_endless(context: Context, cable: Cable, extent: float) -> None:
    if not extent or cable.length is None or cable.length.low <= BEYOND * extent:
        return
    message = (
        f"Cable {cable.id!r} is {cable.length.text} long, and no two places of the record are more than "
        f"{extent:.3g} m apart."
    )
    hint = "Look at the decimal point and the unit; where it is right, say why in its `note`."
    context.remarks.warn("too-long", cable, message, hint, key="length")


def _check_returns(context: Context, cables: list[Cable]) -> None:
    """In an installation of two wires nothing that works returns by the airframe."""
    found = [(c, *which) for c in cables if context.due(c.id) and (which := _returned(context, c))]
    if len(found) > _SEVERAL:
        (first, key, load), *others = found
        message = (
            f"Cable {first.id!r} returns {load!r} to the airframe, as {len(others)} others do, "
            "and the dossier is two-wire."
        )
        hint = 'Write return = "earth" in [dossier], or lead them to the return bar.'
        context.remarks.warn(
            "return-by-airframe", first, message, hint, key=key, also=[c for c, _, _ in others]
        )
        return
    for cable, key, load in found:
        message = f"Cable {cable.id!r} returns {load!r} to the airframe, and the dossier is two-wire."
        hint = "Lead it to the return bar; where it does return that way, say so in its `note`."
        context.remarks.warn("return-by-airframe", cable, message, hint, key=key)


_SEVERAL = 3
"""More than this many are a dossier whose `return` is wrong rather than so many wrong cables."""


def _returned(context: Context, cable: Cable) -> tuple[str, str] | None:
    """The key of the end on the airframe, and the load's terminal at the other; None where it is no return."""
    for end, key, other in ((cable.from_, "from", cable.to), (cable.to, "to", cable.from_)):
        parts = context.installation.equipment.get(split_end(other)[0])
        if is_earth(end) and parts is not None and len(parts.terminal_names) <= 2 and any(_worked(parts)):
            return key, other
    return None
