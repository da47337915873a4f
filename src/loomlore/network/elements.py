"""An element of the record made into a law: ratings and parameters become numbers.

Defaults that no kind gives are common practice, no source, unless a source is named beside them.
"""

from __future__ import annotations

from loomlore.network.laws import (
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Law,
    Magneto,
    Meter,
    Motor,
    Rectifier,
    Rheostat,
    Straight,
)
from loomlore.record.equipment import Element

__all__ = ["FUSING_FACTOR", "law_of"]

FUSING_FACTOR = 1.75
"""Fusing over carrying current of a period fuse: common practice, no source (the dossier's basis decides)."""

FUSE_DROP = 0.08
"""Volts across a fuse at its carrying current: common practice, no source."""

CELL_VOLTS = 2.0
"""Nominal volts of a lead-acid cell, by which the cells of a battery are counted."""


def law_of(element: Element, *, supply: float, basis: str, low: float = 0.0, high: float = 1.0) -> Law:
    """Make the law of an element.

    Parameters
    ----------
    element
        Joined to its item: amounts in inside units.
    supply
        Nominal volts of the installation [V], where the element's rating has none.
    basis
        "carrying" or "fusing", for a fuse that says nothing itself.
    low
        Low end of what a rheostat follows [unit].
    high
        High end of what a rheostat follows [unit].

    Returns
    -------
    Law
        Ready for the network.

    Raises
    ------
    ValueError
        For a law that is not known here; the record's own check finds it first.
    """
    made = _MAKERS.get(element.law)
    if made is not None:
        return made(element, _volts(element, supply))
    if element.law == "fuse":
        return _fuse(element, basis)
    if element.law == "rheostat":
        return Rheostat(
            at_0=_value(element, "at-0", 0.0), at_1=_value(element, "at-1", 0.0), low=low, high=high
        )
    raise ValueError(f"no law is called {element.law!r}")


def _volts(element: Element, supply: float) -> float:
    rated = element.rating.get("voltage")
    return rated.value if rated is not None and rated.value > 0 else supply


def _value(element: Element, key: str, default: float) -> float:
    quantity = element.values.get(key)
    return default if quantity is None else quantity.value


def _amps(element: Element, volts: float, default: float) -> float:
    """Rated amperes, from amperes, watts or ohms."""
    rating = element.rating
    if "current" in rating:
        return rating["current"].value
    if "power" in rating:
        return rating["power"].value / volts
    ohms = rating.get("resistance") or element.values.get("resistance")
    return volts / ohms.value if ohms is not None and ohms.value > 0 else default


def _ohms(element: Element, volts: float, default: float) -> float:
    ohms = element.values.get("resistance") or element.rating.get("resistance")
    if ohms is not None:
        return ohms.value
    amps = _amps(element, volts, 0.0)
    return volts / amps if amps > 0 else default


def _conductor(element: Element, volts: float) -> Law:
    return Straight(resistance=_ohms(element, volts, 1e-3))


def _condenser(element: Element, volts: float) -> Law:
    return Straight(resistance=_value(element, "resistance", 1e9))


def _filament(element: Element, volts: float) -> Law:
    return Filament(volts=volts, amps=_amps(element, volts, 0.1), cold=_value(element, "cold-ratio", 1 / 12))


def _motor(element: Element, volts: float) -> Law:
    amps = _amps(element, volts, 1.0)
    stall = element.values.get("stall")
    times = 4.0
    if stall is not None:
        by = {"current": stall.value / amps, "resistance": volts / max(stall.value, 1e-9) / amps}
        times = by.get(stall.dimension, stall.value)
    return Motor(volts=volts, amps=amps, stall=max(times, 1.0))


def _horn(element: Element, volts: float) -> Law:
    states, steps = ("silent", "faint", "sounding"), (0.3, 0.7)
    return Straight(resistance=_ohms(element, volts, 20.0), volts=volts, states=states, steps=steps)


def _heater(element: Element, volts: float) -> Law:
    states, steps = ("cold", "warm", "hot"), (0.1, 0.7)
    return Straight(
        resistance=_ohms(element, volts, 10.0), volts=volts, states=states, steps=steps, squared=True
    )


def _coil(element: Element, volts: float) -> Law:
    pulls_in = _value(element, "pulls-in", 0.6 * volts)
    drops_out = min(_value(element, "drops-out", 0.25 * volts), pulls_in)
    return Coil(
        resistance=_ohms(element, volts, 80.0),
        pulls_in=pulls_in,
        drops_out=drops_out,
        polarised=element.polarised,
    )


def _set(element: Element, volts: float) -> Law:
    power = _amps(element, volts, 1.0) * volts
    return ConstantPower(power=power, volts=volts, works_from=_value(element, "works-from", 0.8 * volts))


def _battery(element: Element, volts: float) -> Law:
    """Open and charging volts go straight with charge; resistance rises with cold and with discharge.

    2.10 V a cell open when full, 2.03 when half; 24 mohm at 15 °C becomes 42 half charged at -5 °C: common
    practice, no source, held against the published rested volts in the tests.
    """
    cells = max(1, round(volts / CELL_VOLTS))
    charge = min(1.0, max(0.0, _value(element, "charge", 1.0)))
    cold = 1 + 0.02 * (15.0 - _value(element, "temperature", 15.0))
    weak = 1 + 0.5 * (1 - charge)
    hours = element.rating["charge"].value / 3600.0 if "charge" in element.rating else 40.0
    return Battery(
        open_volts=cells * (1.9667 + 0.1333 * charge),
        resistance=_value(element, "resistance", 0.024) * max(cold, 0.5) * weak,
        charging_volts=cells * (2.15 + 0.20 * charge),
        float_amps=0.02 * hours,
    )


def _generator(element: Element, volts: float) -> Law:
    held: float | None = None
    if element.words.get("set") != "none":
        held = _value(element, "set", volts)
    top = held if held is not None else volts
    return Generator(
        volts=volts,
        amps=_amps(element, volts, 30.0),
        held=held,
        droop=_value(element, "droop", 0.02 * volts),
        residual=_value(element, "residual", 0.06 * volts),
        resistance=_value(element, "resistance", 0.04),
        open_volts=_value(element, "open-volts", 1.5 * top),
        cuts_in=_value(element, "cuts-in", 1.0),
        full_at=_value(element, "full-at", 1.0),
    )


def _rectifier(element: Element, volts: float) -> Law:
    amps = element.rating["current"].value if "current" in element.rating else 1.0
    return Rectifier(amps=amps, drop=_value(element, "drop", 0.8))


def _meter(element: Element, volts: float) -> Law:
    amperes = "current" in element.rating
    return Meter(resistance=_ohms(element, volts, 1e-3 if amperes else 4e3), amperes=amperes)


def _cartridge(element: Element, volts: float) -> Law:
    return Cartridge(
        resistance=_value(element, "resistance", 1.0),
        no_fire=_value(element, "no-fire", 0.2),
        all_fire=_value(element, "all-fire", 1.0),
    )


def _magneto(element: Element, volts: float) -> Law:
    return Magneto()


def _fuse(element: Element, basis: str) -> Law:
    amps = element.rating["current"].value if "current" in element.rating else 5.0
    fusing = (element.words.get("basis") or basis) == "fusing"
    carrying = amps / FUSING_FACTOR if fusing else amps
    return Fuse(
        resistance=_value(element, "resistance", FUSE_DROP / carrying),
        carrying=carrying,
        fusing=carrying * FUSING_FACTOR,
    )


_MAKERS = {
    "conductor": _conductor,
    "suppressor": _conductor,
    "condenser": _condenser,
    "filament": _filament,
    "motor": _motor,
    "horn": _horn,
    "heater": _heater,
    "coil": _coil,
    "set": _set,
    "battery": _battery,
    "generator": _generator,
    "rectifier": _rectifier,
    "meter": _meter,
    "ratio-coil": _meter,
    "cartridge": _cartridge,
    "magneto": _magneto,
}
