"""How long a battery lasts, and what a hydrometer and a voltmeter say of its charge.

Charge is in coulombs and time in seconds inside; 1 Ah is 3600 C. Every formula shows hours and
ampere-hours, as the trade writes them.

A capacity belongs to a rate. *45 Ah at the ten-hour rate* is 4.5 A for ten hours; at 20 A there is less.
Peukert's law in its one-ampere form (t = C / I^k) is right only for a capacity measured at one ampere, and
takes more than a quarter off a 20-hour capacity: the form here carries the rate's hours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from loomlore.references import Citation, Input, OutOfRange, Status, Working, citation

__all__ = [
    "capacity_factor_ieee485_1997",
    "charge_from_gravity_tm5_1185",
    "charge_from_volts_tm5_3805",
    "corrected_gravity_navedtra14344",
    "corrected_gravity_tp5606",
    "endurance_in_phases",
    "endurance_peukert_1897",
    "endurance_simple",
    "freezing_point_tm5_1185",
    "peukert_exponent",
    "usable_charge",
]

HOUR = 3600.0


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def usable_charge(capacity: float, *, share: float, temperature_factor: Working | None = None) -> Working:
    """Return the charge that may be counted on.

    Parameters
    ----------
    capacity
        As stamped [C].
    share
        Of it that is assumed to be there, such as 0.75 or 0.72 [1].
    temperature_factor
        Of cold, from :func:`capacity_factor_ieee485_1997` [1].

    Returns
    -------
    Working
        [C]

    Source
    ------
    [190-01007-a3 fig 3-19]

    Examples
    --------
    35 Ah derated by 0.75: 26.25 Ah.

    >>> usable_charge(35 * 3600, share=0.75).value / 3600
    26.25
    """
    inputs = [Input("capacity", capacity / HOUR, "Ah"), Input("share", share)]
    value, formula = capacity * share, "capacity x share"
    if temperature_factor is not None:
        inputs.append(Input("cold", temperature_factor.value, "", temperature_factor))
        value, formula = value * temperature_factor.value, "capacity x share x cold"
    source = citation("190-01007-a3", "fig 3-19")
    return Working("usable charge", value, "C", formula, tuple(inputs), source)


def endurance_simple(charge: Working, *, current: float) -> Working:
    """Return how long a charge lasts at a steady current, whatever the rate.

    Parameters
    ----------
    charge
        That may be counted on [C].
    current
        [A]

    Returns
    -------
    Working
        charge / current; infinite where nothing is drawn [s].

    Source
    ------
    [190-01007-a3 fig 3-19]

    Examples
    --------
    >>> endurance_simple(usable_charge(25 * 3600, share=1.0), current=5).value / 3600
    5.0
    """
    value = charge.value / current if current > 0 else math.inf
    inputs = (Input("Q", charge.value / HOUR, "Ah", charge), Input("I", current, "A"))
    source = citation("190-01007-a3", "fig 3-19")
    return Working("endurance", value, "s", "Q / I", inputs, source)


def endurance_peukert_1897(
    capacity: float, *, rate_time: float, exponent: float, current: float, share: float = 1.0
) -> Working:
    """Return how long a battery lasts at a steady current, by Peukert's law on the basis of its rate.

    Parameters
    ----------
    capacity
        As stamped, for the rate [C].
    rate_time
        Of the rate: ten hours, twenty hours, or capacity over one ampere for a one-ampere basis [s].
    exponent
        k, 1.1 to 1.4 for lead and acid [1].
    current
        [A]
    share
        Of the capacity that is assumed to be there [1].

    Returns
    -------
    Working
        H (share C / (H I))^k; infinite where nothing is drawn [s].

    Notes
    -----
    Under the rate's own current the law promises more than the stamped capacity; the result is then held to
    share C / I, and says so.

    Source
    ------
    [peukert-1897], [method sect 5.2]

    Examples
    --------
    100 Ah at 20 h, k 1.2, 10 A: 8.71 h, and not the 6.31 h of the one-ampere form.

    >>> t = endurance_peukert_1897(360000, rate_time=72000, exponent=1.2, current=10)
    >>> round(t.value / 3600, 2)
    8.71
    """
    law = (
        rate_time * math.pow(share * capacity / (rate_time * current), exponent) if current > 0 else math.inf
    )
    plain = share * capacity / current if current > 0 else math.inf
    held = law > plain
    inputs = (
        Input("C", capacity / HOUR, "Ah"),
        Input("H", rate_time / HOUR, "h"),
        Input("k", exponent),
        Input("I", current, "A"),
        Input("share", share),
    )
    formula = "share C / I" if held else "H (share C / (H I))^k"
    note = "Under the rate's own current: held to the stamped capacity." if held else ""
    value = min(law, plain)
    return Working("endurance", value, "s", formula, inputs, citation("peukert-1897"), "read", note)


def peukert_exponent(
    *, first_current: float, first_time: float, second_current: float, second_time: float
) -> Working:
    """Return Peukert's exponent from two discharges of one battery.

    Parameters
    ----------
    first_current, second_current
        [A]
    first_time, second_time
        Until flat [s].

    Returns
    -------
    Working
        ln(t2 / t1) / ln(I1 / I2) [1].

    Raises
    ------
    OutOfRange
        Where both currents are the same, or one is nothing.

    Source
    ------
    [peukert-1897]

    Examples
    --------
    >>> k = peukert_exponent(first_current=1, first_time=360000, second_current=5, second_time=52184)
    >>> round(k.value, 2)
    1.2
    """
    ratio = first_current / second_current if second_current > 0 else 0.0
    if ratio <= 0 or ratio == 1.0:
        raise OutOfRange(
            "a ratio of currents of", ratio, low=0, high=math.inf, unit="", source="Peukert, but for 1"
        )
    value = math.log(second_time / first_time) / math.log(ratio)
    inputs = (
        Input("I1", first_current, "A"),
        Input("t1", first_time / HOUR, "h"),
        Input("I2", second_current, "A"),
        Input("t2", second_time / HOUR, "h"),
    )
    source = citation("peukert-1897")
    return Working("Peukert's exponent", value, "", "ln(t2 / t1) / ln(I1 / I2)", inputs, source)


def endurance_in_phases(
    charge: Working, *, fixed: Sequence[tuple[str, float, float]], remaining: tuple[str, float]
) -> Working:
    """Return how long a battery lasts after the generators fail, when some phases have a fixed length.

    Parameters
    ----------
    charge
        That may be counted on [C].
    fixed
        Name, current [A] and time [s] of each phase that must be flown, such as the minutes until the crew
        sheds load, and the landing.
    remaining
        Name and current [A] of the phase that takes what is left.

    Returns
    -------
    Working
        fixed times + (charge - fixed charges) / remaining current [s]; where the charge does not even cover
        the fixed phases, the moment in them at which it ends, and a note.

    Source
    ------
    [190-01007-a3 fig 3-19]

    Examples
    --------
    The printed example: 43.5 A for 5 min, 48.1 A for 10 min landing, cruise at 34 A: 40.8 min in all.

    >>> t = endurance_in_phases(
    ...     usable_charge(35 * 3600, share=0.75),
    ...     fixed=[("before shedding", 43.5, 300), ("landing", 48.1, 600)],
    ...     remaining=("cruise", 34.0),
    ... )
    >>> round(t.value / 60, 1)
    40.8
    """
    inputs = [Input("Q", charge.value / HOUR, "Ah", charge)]
    left, total = charge.value, 0.0
    for name, current, time in fixed:
        lasts = min(time, left / current) if current > 0 else time
        inputs.extend((Input(name, current, "A"), Input(f"{name}, for", time / 60, "min")))
        left, total = left - lasts * current, total + lasts
        if lasts < time:
            note = (
                f"The charge ends in the phase {name!r}, after {lasts / 60:.1f} of its {time / 60:.1f} min."
            )
            return _in_phases(total, inputs, note)
    name, current = remaining
    inputs.append(Input(name, current, "A"))
    return _in_phases(total + (left / current if current > 0 else math.inf), inputs, "")


def _in_phases(value: float, inputs: Sequence[Input], note: str) -> Working:
    formula = "fixed times + (Q - sum of I t) / I of the rest"
    source = citation("190-01007-a3", "fig 3-19")
    return Working("endurance", value, "s", formula, tuple(inputs), source, "read", note)


_SIZE_FACTORS = (
    (25, 1.52), (30, 1.43), (40, 1.30), (50, 1.19), (60, 1.11), (70, 1.04),
    (77, 1.00), (80, 0.98), (90, 0.94), (100, 0.91), (110, 0.88), (120, 0.86),
)  # fmt: skip
"""Electrolyte [°F] -> how much larger a cell must be. From memory."""

_COLDEST = -18.0


def capacity_factor_ieee485_1997(temperature: float) -> Working:
    """Return what cold leaves of a lead battery's capacity.

    Parameters
    ----------
    temperature
        Of the electrolyte, -18 to 49 °C [°C].

    Returns
    -------
    Working
        1 over the source's size factor; 1 at 25 °C [1].

    Raises
    ------
    OutOfRange
        Colder or warmer.

    Notes
    -----
    Straight between the printed temperatures; under -4 °C, where they end, carried on straight. All from
    memory, and meant for stationary cells: a measured discharge of the battery itself is worth more. At
    -18 °C it gives 0.45, where another rule from memory gives 40 % of the cranking power.

    Source
    ------
    [ieee485 table 1]

    Examples
    --------
    >>> round(capacity_factor_ieee485_1997(25.0).value, 2)
    1.0
    """
    points = [(_celsius(f), 1 / factor) for f, factor in _SIZE_FACTORS]
    if not _COLDEST <= temperature <= points[-1][0] + 1e-9:
        high = points[-1][0]
        raise OutOfRange(
            "an electrolyte at", temperature, low=_COLDEST, high=high, unit="°C", source="the table"
        )
    below = temperature < points[0][0]
    note = "Carried on below -4 °C." if below else ""
    entry = (Input("electrolyte", temperature, "°C"),)
    return Working(
        "capacity factor of cold",
        _on_line(temperature, points),
        "",
        "1 / size factor",
        entry,
        citation("ieee485", "table 1"),
        "memory",
        note,
    )


def _on_line(x: float, points: Sequence[tuple[float, float]]) -> float:
    """Straight between points of rising x; the end stretches carried on."""
    k = next((k for k in range(1, len(points) - 1) if x <= points[k][0]), len(points) - 1)
    (x0, y0), (x1, y1) = points[k - 1], points[k]
    return y0 + (x - x0) * (y1 - y0) / (x1 - x0)


_HYDROMETER_BASE = _celsius(80)


def corrected_gravity_tp5606(
    reading: float, *, temperature: float, base: float = _HYDROMETER_BASE
) -> Working:
    """Return the specific gravity that a hydrometer would show at its base temperature.

    Parameters
    ----------
    reading
        As read [1].
    temperature
        Of the electrolyte [°C].
    base
        80 °F where nothing is said; 60 °F (15.6 °C) on most British hydrometers [°C].

    Returns
    -------
    Working
        reading + 0.004 for each 10 °F over the base [1].

    Notes
    -----
    The printed table has +0.020 at 30 °F; by its own rule it is -0.020.

    Source
    ------
    [tp-5606 fig 3-17]

    Examples
    --------
    1.235 at 100 °F is 1.243.

    >>> round(corrected_gravity_tp5606(1.235, temperature=37.78).value, 3)
    1.243
    """
    source = citation("tp-5606", "fig 3-17")
    return _corrected(reading, temperature, base, 0.0004, "reading + 0.0004 (T - base)", source)


def corrected_gravity_navedtra14344(
    reading: float, *, temperature: float, base: float = _HYDROMETER_BASE
) -> Working:
    """Return the specific gravity at the base temperature, by the coarser rule of 0.001 for each 3 °F.

    Parameters
    ----------
    reading
        As read [1].
    temperature
        Of the electrolyte [°C].
    base
        80 °F where nothing is said [°C].

    Returns
    -------
    Working
        reading + 0.001 for each 3 °F over the base [1].

    Source
    ------
    [navedtra14344]

    Examples
    --------
    >>> round(corrected_gravity_navedtra14344(1.250, temperature=(50 - 32) / 1.8).value, 3)
    1.24
    """
    return _corrected(
        reading, temperature, base, 1 / 3000, "reading + (T - base) / 3000", citation("navedtra14344")
    )


def _corrected(
    reading: float, temperature: float, base: float, by_degree: float, formula: str, source: Citation
) -> Working:
    degrees = (temperature - base) * 1.8
    inputs = (
        Input("reading", reading),
        Input("T", temperature * 1.8 + 32, "°F"),
        Input("base", base * 1.8 + 32, "°F"),
    )
    return Working("specific gravity", reading + by_degree * degrees, "", formula, inputs, source)


_CHARGE_BY_GRAVITY = ((1.13, 0.0), (1.19, 0.25), (1.22, 0.50), (1.25, 0.75), (1.28, 1.0))
_CHARGE_BY_VOLTS = ((11.7, 0.0), (12.0, 0.25), (12.2, 0.50), (12.4, 0.75), (12.6, 1.0))
_FREEZING = ((1.10, 19.0), (1.15, 5.0), (1.20, -16.0), (1.25, -62.0), (1.28, -90.0))


def charge_from_gravity_tm5_1185(gravity: float) -> Working:
    """Return the state of charge that a specific gravity shows.

    Parameters
    ----------
    gravity
        At 80 °F, corrected [1].

    Returns
    -------
    Working
        Straight between 1.13 (flat), 1.19, 1.22, 1.25 and 1.28 (full); 0 and 1 beyond [1].

    Notes
    -----
    The table calls 1.16 nearly flat: about an eighth here. Other makers fill to 1.265; take the battery's own
    full gravity where it is known.

    Source
    ------
    [tm5-1185 table II]

    Examples
    --------
    >>> charge_from_gravity_tm5_1185(1.22).value
    0.5
    """
    source = citation("tm5-1185", "table II")
    return _charge(Input("gravity", f"{gravity:.3f}"), gravity, _CHARGE_BY_GRAVITY, source, "read")


def charge_from_volts_tm5_3805(volts: float, *, cells: int) -> Working:
    """Return the state of charge that a rested battery's open volts show.

    Parameters
    ----------
    volts
        At its terminals, hours after charge or load [V].
    cells
        6 for 12 V, 12 for 24 V.

    Returns
    -------
    Working
        Straight between 11.7, 12.0, 12.2, 12.4 and 12.6 V for six cells; 0 and 1 beyond [1].

    Source
    ------
    [tm5-3805-262-20 par 5-9a]

    Examples
    --------
    >>> round(charge_from_volts_tm5_3805(24.4, cells=12).value, 3)
    0.5
    """
    source = citation("tm5-3805-262-20", "par 5-9a")
    return _charge(Input("volts", volts, "V"), volts * 6 / cells, _CHARGE_BY_VOLTS, source, "read")


def _charge(
    entry: Input, x: float, points: Sequence[tuple[float, float]], source: Citation, status: Status
) -> Working:
    value = min(1.0, max(0.0, _on_line(x, points)))
    return Working(
        "state of charge", value, "", "straight between the table's points", (entry,), source, status
    )


def freezing_point_tm5_1185(gravity: float) -> Working:
    """Return the temperature at which an electrolyte freezes and may burst its cell.

    Parameters
    ----------
    gravity
        At 80 °F, 1.10 to 1.28 [1].

    Returns
    -------
    Working
        Straight between the printed gravities [°C].

    Raises
    ------
    OutOfRange
        For other gravities.

    Source
    ------
    [tm5-1185 table III]

    Examples
    --------
    A flat battery of 1.15 freezes at 5 °F.

    >>> freezing_point_tm5_1185(1.15).value
    -15.0
    """
    if not _FREEZING[0][0] <= gravity <= _FREEZING[-1][0]:
        low, high = _FREEZING[0][0], _FREEZING[-1][0]
        raise OutOfRange("a gravity of", gravity, low=low, high=high, unit="", source="TM 5-1185 table III")
    value = _celsius(_on_line(gravity, _FREEZING))
    entry = (Input("gravity", f"{gravity:.3f}"),)
    source = citation("tm5-1185", "table III")
    return Working("freezing point", value, "°C", "straight between the table's points", entry, source)
