"""Voltage drop along a run, and the limits it must keep.

The limits are those from the bus to the equipment's earth. The published tables accept 0.504 V against a
limit of 0.5 V, so a strict comparison would contradict its own source: a drop may be 1 % over, and says so.
"""

from __future__ import annotations

from loomlore.catalogue.conductors import AircraftWire, aircraft_wires
from loomlore.catalogue.published_tables import published_table
from loomlore.references import Input, Working, citation, status_of_row
from loomlore.sizing.judging import Judgement, judged

__all__ = [
    "DROP_TOLERANCE",
    "drop_limit",
    "earth_return_limit",
    "feeder_drop_limit",
    "greatest_length",
    "judged_drop",
    "share_of_supply_limit",
    "thinnest_aircraft_wire",
    "voltage_drop",
]

DROP_TOLERANCE = 0.01
"""AC 43.13-1B table 11-7 takes No. 4 at 0.504 V against 0.5 V (0.8 % over); its No. 6 would be 58 % over."""

_SYSTEMS = ((11.5, 15.0, 14), (23.0, 30.0, 28), (110.0, 120.0, 115), (195.0, 210.0, 200))
"""Supply as written from, to [V] -> the published system. A 12 V battery's bus stands at 14 when charged."""

_SHARE = 1 / 28
"""The limit over the nominal volts of the 14 and 28 V systems; 115 and 200 V have 3.5 %."""


def voltage_drop(*, current: float, length: float, resistance: Working) -> Working:
    """Return the drop along a run.

    Parameters
    ----------
    current
        [A]
    length
        Of conductor: out, and back too where the return is a cable [m].
    resistance
        Per metre, from :func:`loomlore.catalogue.conductors.resistance_working` [ohm/m].

    Returns
    -------
    Working
        I L r [V].

    Source
    ------
    [ac43.13-1b table 11-7]

    Examples
    --------
    107 ft of No. 6 with 20 A: printed 0.942 V.

    >>> from loomlore.quantities import read_size
    >>> from loomlore.catalogue.conductors import resistance_working
    >>> r = resistance_working(read_size("AWG 6"))
    >>> round(voltage_drop(current=20, length=107 * 0.3048, resistance=r).value, 3)
    0.942
    """
    return Working(
        "voltage drop",
        current * length * resistance.value,
        "V",
        "I L r",
        (
            Input("I", current, "A"),
            Input("L", length, "m"),
            Input("r", resistance.value, "ohm/m", resistance),
        ),
        citation("ac43.13-1b", "table 11-7"),
    )


def drop_limit(nominal: float, *, intermittent: bool = False) -> Working:
    """Return the greatest drop from the bus to the equipment's earth.

    Parameters
    ----------
    nominal
        Of the supply as written: 12 or 14, 24 or 28, 115, 200 [V].
    intermittent
        Whether the load is on for two minutes at a time at most.

    Returns
    -------
    Working
        0.5, 1, 4, 7 V; twice that for intermittent loads; for another supply the same share, 1/28, and a
        note that no source gives it [V].

    Notes
    -----
    The continuous limits are borne out by tables 11-7 and 11-8; the intermittent column is from memory.

    Source
    ------
    [ac43.13-1b table 11-6]

    Examples
    --------
    >>> drop_limit(24).value, drop_limit(12).value
    (1.0, 0.5)
    """
    duty = "intermittent" if intermittent else "continuous"
    inputs = (Input("supply", nominal, "V"), Input("duty", duty))
    system = next((system for low, high, system in _SYSTEMS if low <= nominal <= high), None)
    for row in published_table("ac43.13-1b-2001-table-11-6"):
        if float(row["nominal_v"]) == system and row["duty"] == duty:
            return Working(
                "greatest drop",
                float(row["limit_v"]),
                "V",
                f"the {system} V row",
                inputs,
                citation("ac43.13-1b", "table 11-6"),
                status_of_row(row["status"]),
            )
    value = nominal * _SHARE * (2 if intermittent else 1)
    note = f"No source gives a limit for {nominal:g} V; this is the same share as at 14 and 28 V."
    formula = "supply / 28" + (" x 2" if intermittent else "")
    return Working(
        "greatest drop", value, "V", formula, inputs, citation("method", "sect 2.2"), "computed", note
    )


def share_of_supply_limit(nominal: float, *, share: float) -> Working:
    """Return a limit that the record or its owner sets as a share of the supply, such as 3 %.

    Parameters
    ----------
    nominal
        Of the supply [V].
    share
        0 to 1 [1].

    Returns
    -------
    Working
        [V]

    Source
    ------
    [common-practice]
    """
    inputs = (Input("supply", nominal, "V"), Input("share", share))
    return Working(
        "greatest drop",
        nominal * share,
        "V",
        "supply x share",
        inputs,
        citation("common-practice"),
        "practice",
    )


def feeder_drop_limit(regulated: float) -> Working:
    """Return the greatest drop from a generator or the battery to the bus.

    Parameters
    ----------
    regulated
        Volts that the regulator holds [V].

    Returns
    -------
    Working
        2 % of them, at the generator's rated current or the battery's five-minute rate [V].

    Source
    ------
    [ac43.13-1b par 11-66], [faa-h-8083-32 ch 4]

    Examples
    --------
    >>> round(feeder_drop_limit(28.0).value, 2)
    0.56
    """
    entry = (Input("regulated", regulated, "V"),)
    source = citation("ac43.13-1b", "par 11-66")
    return Working(
        "greatest drop of a feeder", 0.02 * regulated, "V", "2 % of the regulated volts", entry, source
    )


def earth_return_limit() -> Working:
    """Return the resistance from the generator's or battery's earth to any equipment's earth that will do.

    Returns
    -------
    Working
        0.005 ohm [ohm].

    Source
    ------
    [ac43.13-1b par 11-66], [faa-h-8083-32 ch 4]

    Examples
    --------
    >>> earth_return_limit().value
    0.005
    """
    source = citation("ac43.13-1b", "par 11-66")
    return Working("satisfactory earth return", 0.005, "ohm", "as printed", (), source)


def judged_drop(drop: Working, limit: Working, *, tolerance: float = DROP_TOLERANCE) -> Judgement:
    """Judge a drop against its limit.

    Parameters
    ----------
    drop, limit
        [V]
    tolerance
        Share of the limit [1].

    Returns
    -------
    Judgement
        With what to do where the drop is too great.

    Source
    ------
    [ac43.13-1b table 11-7], [method sect 2.1]
    """
    need = drop.value / limit.value if limit.value > 0 else float("inf")
    cure = f"Use a conductor of {need:.2g} times the metal or more, shorten the run, or divide its load."
    return judged("Voltage drop", value=drop, limit=limit, cure=cure, tolerance=tolerance)


def greatest_length(*, limit: Working, current: float, resistance: Working) -> Working:
    """Return the longest run that keeps to a limit.

    Parameters
    ----------
    limit
        [V]
    current
        [A]
    resistance
        Per metre, at the temperature at which the conductor runs [ohm/m].

    Returns
    -------
    Working
        limit / (I r) [m].

    Notes
    -----
    With the resistance at T2 this is the source's L2 = 254.5 L1 / (234.5 + T2).

    Source
    ------
    [ac43.13-1b table 11-8]

    Examples
    --------
    No. 10 with 20 A and 1 V: the chart is read as 39 ft, the factors give 39.7.

    >>> from loomlore.quantities import read_size
    >>> from loomlore.catalogue.conductors import resistance_working
    >>> r = resistance_working(read_size("AWG 10"))
    >>> round(greatest_length(limit=drop_limit(28), current=20, resistance=r).value / 0.3048, 1)
    39.7
    """
    return Working(
        "greatest length",
        limit.value / (current * resistance.value) if current else float("inf"),
        "m",
        "limit / (I r)",
        (
            Input("limit", limit.value, "V", limit),
            Input("I", current, "A"),
            Input("r", resistance.value, "ohm/m", resistance),
        ),
        citation("ac43.13-1b", "table 11-8"),
    )


def thinnest_aircraft_wire(
    *, current: float, length: float, limit: Working, tolerance: float = DROP_TOLERANCE
) -> AircraftWire | None:
    """Return the thinnest aircraft wire whose drop keeps to a limit; it must still carry the current.

    Parameters
    ----------
    current
        [A]
    length
        [m]
    limit
        [V]
    tolerance
        Share of the limit [1].

    Returns
    -------
    AircraftWire or None
        None where even No. 0000 drops too much.

    Source
    ------
    [ac43.13-1b table 11-7]

    Examples
    --------
    20 A over 90 ft within 0.5 V: the table takes No. 4 at 0.504 V; a strict comparison would give No. 2.

    >>> thinnest_aircraft_wire(current=20, length=90 * 0.3048, limit=drop_limit(14)).gauge
    '4'
    >>> thinnest_aircraft_wire(current=20, length=90 * 0.3048, limit=drop_limit(14), tolerance=0).gauge
    '2'
    """
    for wire in aircraft_wires().values():
        if current * length * wire.resistance <= limit.value * (1 + tolerance):
            return wire
    return None
