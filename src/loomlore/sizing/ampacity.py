"""How many amperes a conductor may carry where it lies, and how warm it runs.

Method: one conductor in free air, then the bundle, then the height::

    ampacity = free-air current at (rated - ambient) x bundle factor x altitude factor

The free-air currents are taken back out of the printed table, whose figures hold in a bundle at 60,000 ft and
70 °C: divide by its bundle and altitude factors and scale by the square root of the rise, since the heat that
a wire makes goes as the square of its current and the heat it loses as its rise. The three columns of the
table then agree to a few per cent, and with the chart's own 47 A (No. 14, rise 150 K) to 1 %.

A period conductor without a rating of its own is taken at its area, between the wires of the table.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from functools import cache

from loomlore.catalogue.conductors import AircraftWire, aircraft_wires
from loomlore.catalogue.published_tables import published_table
from loomlore.findings import UnknownName
from loomlore.references import Input, OutOfRange, Working, citation, status_of_row, weakest
from loomlore.sizing.judging import Judgement, judged

__all__ = [
    "altitude_factor",
    "ampacity",
    "ampacity_ac4313_2001",
    "bundle_factor",
    "bundle_loading",
    "conductor_temperature",
    "conductor_temperature_ac4313_2001",
    "conductor_temperature_square_law",
    "free_air_current",
    "judged_ampacity",
]

FOOT = 0.3048

TABLE_AMBIENT = 70.0
"""Of table 11-9 [°C]: the only ambient for which its three columns give one free-air current."""

TABLE_ALTITUDE = 60_000 * FOOT
TABLE_LOADING = 0.20
_WIRES_OF_THIN, _WIRES_OF_THICK = 33, 9
_THIN_GAUGES = frozenset({"24", "22", "20", "18", "16", "14", "12", "10"})

_LOADINGS = (0.2, 0.4, 0.6, 0.8, 1.0)
_MOST_WIRES = 41

_BELOW_TABLE = 0.75
"""Under No. 24 current goes as area to the 3/4, as a thin wire's loss goes (diameter to the 3/2)."""

_THINNEST = 0.05e-6


@cache
def _bundle_columns() -> tuple[tuple[tuple[int, float], ...], ...]:
    """For each loading the printed (wires, factor)."""
    rows = published_table("mil-w-5088l-bundle-derating")
    columns = (f"load_{round(loading * 100)}" for loading in _LOADINGS)
    return tuple(tuple((int(row["wires"]), float(row[c])) for row in rows if row[c]) for c in columns)


def _bundle_factor_in(column: tuple[tuple[int, float], ...], wires: int) -> float:
    printed = dict(column)
    if wires in printed:
        return printed[wires]
    last, at_last = column[-1]
    half, at_half = next((n, factor) for n, factor in column if n >= last / 2)
    exponent = math.log(at_last / at_half) / math.log(last / half)
    return at_last * math.pow(wires / last, exponent)


def bundle_factor(wires: int, *, loading: float) -> Working:
    """Return what a bundle leaves of a conductor's free-air current.

    Parameters
    ----------
    wires
        That carry current, 1 to 41.
    loading
        Current in the bundle over what its wires together may carry, 0 to 1 [1].

    Returns
    -------
    Working
        [1]

    Raises
    ------
    OutOfRange
        For more wires than the chart has, or a loading over 1.

    Notes
    -----
    Straight between the printed loadings; under 20 % as at 20 %. Over 19 wires the transcription ends: the
    last half of each column is carried on as a power of the number (at 35 wires and 20 %: 0.52, as the
    source's harness example has from the chart).

    Source
    ------
    [mil-w-5088l bundle derating figure], [ac43.13-1b fig 11-5], [method sect 3.1]

    Examples
    --------
    Worked example 2 reads 0.6 for 8 wires at 60 % from the chart.

    >>> round(bundle_factor(8, loading=0.6).value, 1)
    0.6
    """
    if not 1 <= wires <= _MOST_WIRES:
        raise OutOfRange(
            "a bundle of", wires, low=1, high=_MOST_WIRES, unit="wires", source="the bundle chart"
        )
    if not 0 <= loading <= 1 + 1e-9:
        raise OutOfRange("a loading of", loading, low=0, high=1, unit="", source="the bundle chart")
    columns = _bundle_columns()
    value = _between(loading, _LOADINGS, [_bundle_factor_in(column, wires) for column in columns])
    beyond = wires > columns[-1][-1][0]
    note = "Carried on beyond the 19 wires of the transcription." if beyond else ""
    return Working(
        "bundle factor",
        value,
        "",
        "chart by number of wires and loading",
        (Input("wires", wires), Input("loading", loading)),
        citation("mil-w-5088l", "bundle derating figure"),
        "computed" if beyond else "transcribed",
        note,
    )


def _between(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Straight between points; level beyond the ends."""
    if x <= xs[0] or len(xs) == 1:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    k = bisect_left(xs, x)
    share = (x - xs[k - 1]) / (xs[k] - xs[k - 1])
    return ys[k - 1] + share * (ys[k] - ys[k - 1])


def altitude_factor(altitude: float) -> Working:
    """Return what thin air leaves of a conductor's current.

    Parameters
    ----------
    altitude
        0 to 60,000 ft, in metres [m]; below the sea's level counts as on it.

    Returns
    -------
    Working
        [1]

    Raises
    ------
    OutOfRange
        Higher than the chart.

    Notes
    -----
    Straight between the three points known: 1 at the ground, 0.91 at 20,000 ft (printed in worked example 2),
    0.79 at 60,000 ft (from memory; it makes table 11-9 agree with the chart's 47 A).

    Source
    ------
    [ac43.13-1b fig 11-5]

    Examples
    --------
    >>> altitude_factor(20_000 * 0.3048).value
    0.91
    """
    rows = published_table("ac43.13-1b-2001-figure-11-5")
    heights = [float(row["altitude_ft"]) * FOOT for row in rows]
    if not altitude <= heights[-1]:
        low, high = heights[0], heights[-1]
        raise OutOfRange(
            "an altitude of", altitude, low=low, high=high, unit="m", source="AC 43.13-1B fig 11-5"
        )
    value = _between(altitude, heights, [float(row["factor"]) for row in rows])
    used = min(bisect_left(heights, altitude), len(rows) - 1)
    status = weakest(*(status_of_row(row["status"]) for row in rows[: used + 1]))
    entry = (Input("altitude", altitude / FOOT, "ft"),)
    source = citation("ac43.13-1b", "fig 11-5")
    return Working("altitude factor", value, "", "chart", entry, source, status)


def _free_air_at_100(wire: AircraftWire) -> float:
    """Amperes of a wire alone at a rise of 100 K, as the mean over the table's columns."""
    wires = _WIRES_OF_THIN if wire.gauge in _THIN_GAUGES else _WIRES_OF_THICK
    factor = bundle_factor(wires, loading=TABLE_LOADING).value * altitude_factor(TABLE_ALTITUDE).value
    columns = [
        amperes / factor * math.sqrt(100.0 / (rated - TABLE_AMBIENT))
        for rated, amperes in wire.amperes.items()
    ]
    return sum(columns) / len(columns)


@cache
def _free_air_curve() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Logarithms of area [m2] and of the free-air current at 100 K [A], thinnest first."""
    wires = sorted(aircraft_wires().values(), key=lambda wire: wire.area)
    return (
        tuple(math.log(wire.area) for wire in wires),
        tuple(math.log(_free_air_at_100(wire)) for wire in wires),
    )


def free_air_current(area: float, *, rise: float) -> Working:
    """Return the current that warms a conductor alone in still air by so much.

    Parameters
    ----------
    area
        Of the metal, 0.05 to 107 mm2 [m2].
    rise
        Conductor over ambient [K].

    Returns
    -------
    Working
        [A]

    Raises
    ------
    OutOfRange
        For other areas.

    Notes
    -----
    I100 sqrt(rise / 100), I100 between the table's wires straight on logarithms. Under No. 24 it goes as the
    area to the 3/4. No. 22 is 6 % under, No. 20 2 % over what the harness example reads from the chart.

    Source
    ------
    [ac43.13-1b table 11-9], [method sect 3.2]

    Examples
    --------
    Worked example 2 reads 47 A for No. 14 at a rise of 150 K.

    >>> from loomlore.catalogue.conductors import aircraft_wires
    >>> round(free_air_current(aircraft_wires()["14"].area, rise=150).value)
    47
    """
    areas, currents = _free_air_curve()
    thickest = math.exp(areas[-1])
    if not _THINNEST <= area <= thickest * (1 + 1e-9):
        low, high = _THINNEST * 1e6, thickest * 1e6
        raise OutOfRange(
            "an area of", area * 1e6, low=low, high=high, unit="mm2", source="AC 43.13-1B table 11-9"
        )
    below = min(math.log(area) - areas[0], 0.0)
    at_100 = math.exp(_between(math.log(area), areas, currents) + _BELOW_TABLE * below)
    value = at_100 * math.sqrt(rise / 100.0) if rise > 0 else 0.0
    inputs = (Input("area", area * 1e6, "mm2"), Input("I100", at_100, "A"), Input("rise", rise, "K"))
    note = (
        "I100 is table 11-9 without its bundle of 33 wires (9 from No. 8 up) at 20 %, its 60,000 ft and its "
        "70 °C; the altitude factor in it is from memory and agrees with the chart's 47 A."
    )
    source = citation("ac43.13-1b", "table 11-9")
    return Working("free-air current", value, "A", "I100 sqrt(rise / 100)", inputs, source, "computed", note)


def ampacity(
    area: float,
    *,
    rated_temperature: float,
    ambient: float,
    wires: int = 1,
    loading: float = 1.0,
    altitude: float = 0.0,
) -> Working:
    """Return the current that brings a conductor to its rated temperature where it lies.

    Parameters
    ----------
    area
        Of the metal [m2].
    rated_temperature
        That the covering stands for good [°C].
    ambient
        Of the air about the bundle [°C].
    wires
        In the bundle that carry current, this one included.
    loading
        Of the bundle, 0 to 1 [1]; 1 is the safe side.
    altitude
        [m]

    Returns
    -------
    Working
        [A]; nothing where the air is already as warm as the covering stands.

    Raises
    ------
    OutOfRange
        Where a chart ends.

    Source
    ------
    [ac43.13-1b fig 11-5], [mil-w-5088l bundle derating figure], [method sect 3.2]

    Examples
    --------
    Worked example 2: No. 14 of 200 °C, 8 wires at 60 %, 20,000 ft, 50 °C: printed 26 A.

    >>> from loomlore.catalogue.conductors import aircraft_wires
    >>> area = aircraft_wires()["14"].area
    >>> i = ampacity(area, rated_temperature=200, ambient=50, wires=8, loading=0.6, altitude=6096)
    >>> round(i.value)
    26
    """
    free = free_air_current(area, rise=rated_temperature - ambient)
    bundle, height = bundle_factor(wires, loading=loading), altitude_factor(altitude)
    warm = rated_temperature <= ambient
    note = f"The air at {ambient:g} °C is as warm as the covering stands ({rated_temperature:g} °C)."
    return Working(
        "ampacity",
        free.value * bundle.value * height.value,
        "A",
        "free-air current x bundle factor x altitude factor",
        (
            Input("free-air current", free.value, "A", free),
            Input("bundle factor", bundle.value, "", bundle),
            Input("altitude factor", height.value, "", height),
        ),
        citation("ac43.13-1b", "par 11-69"),
        "computed",
        note if warm else "",
    )


def ampacity_ac4313_2001(gauge: str, *, rated_temperature: int) -> Working:
    """Return the printed current of a stranded aircraft wire in a bundle, at 70 °C and 60,000 ft.

    Parameters
    ----------
    gauge
        ``24`` to ``0000``.
    rated_temperature
        105, 150 or 200 [°C].

    Returns
    -------
    Working
        [A]

    Raises
    ------
    UnknownName
        Where the table has no such wire or column.

    Source
    ------
    [ac43.13-1b table 11-9]

    Examples
    --------
    >>> ampacity_ac4313_2001("16", rated_temperature=105).value
    7.0
    """
    wire = aircraft_wires().get(gauge)
    if wire is None:
        raise UnknownName("stranded aircraft wire", gauge, aircraft_wires())
    if rated_temperature not in wire.amperes:
        raise UnknownName("column of table 11-9", str(rated_temperature), map(str, wire.amperes))
    inputs = (Input("gauge", f"No. {gauge}"), Input("rated", float(rated_temperature), "°C"))
    source = citation("ac43.13-1b", "table 11-9")
    return Working("ampacity in a bundle", wire.amperes[rated_temperature], "A", "as printed", inputs, source)


def bundle_loading(currents: Sequence[float], free_air: Sequence[float]) -> Working:
    """Return how heavily a bundle is loaded, when what its wires may carry itself depends on the loading.

    Parameters
    ----------
    currents
        One a wire [A].
    free_air
        What each wire may carry alone, at its rise and height [A].

    Returns
    -------
    Working
        The loading s for which sum(I) = s x bundle factor(n, s) x sum(free-air currents); infinite where
        even a full bundle carries less [1].

    Raises
    ------
    OutOfRange
        For more wires than the chart has.

    Notes
    -----
    s x factor rises with s in every column of the chart, so there is one answer; found by halving.

    Source
    ------
    [ac43.13-1b par 11-69], [method sect 3.3]

    Examples
    --------
    Twelve No. 12 at 68 A free air and 100 %: the chart's 0.43 leaves 29.24 A each.

    >>> round(bundle_loading([29.24] * 12, [68.0] * 12).value, 3)
    1.0
    """
    wires, total, capacity = len(currents), sum(currents), sum(free_air)
    inputs = (Input("wires", wires), Input("sum of I", total, "A"), Input("sum of free-air", capacity, "A"))
    formula = "sum(I) = s x bundle factor(n, s) x sum(free-air currents)"
    source = citation("ac43.13-1b", "par 11-69")
    value = _loading(wires, total / capacity) if total else 0.0
    return Working("bundle loading", value, "", formula, inputs, source, "computed")


def _loading(wires: int, share: float) -> float:
    # 1e-9: a bundle loaded to exactly what it may carry is full, not over
    if share > bundle_factor(wires, loading=1.0).value * (1 + 1e-9):
        return math.inf
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        enough = middle * bundle_factor(wires, loading=middle).value >= share
        low, high = (low, middle) if enough else (middle, high)
    return high


def conductor_temperature_ac4313_2001(
    *, current: float, ampacity: float, ambient: float, rated_temperature: float
) -> Working:
    """Return how warm a conductor runs, as the circular estimates it.

    Parameters
    ----------
    current
        [A]
    ampacity
        Where it lies [A].
    ambient
        T1 [°C]
    rated_temperature
        TR [°C]

    Returns
    -------
    Working
        T2 = T1 + (TR - T1) sqrt(I2 / Imax) [°C].

    Notes
    -----
    Too warm for currents under Imax and too cool above it, where :func:`conductor_temperature_square_law`
    holds; the layout of the formula is from memory, its symbols and inputs were read.

    Source
    ------
    [ac43.13-1b par 11-66d]

    Examples
    --------
    Worked example 2: 20 A where 26 A are allowed, 50 °C, wire of 200 °C: 182 °C.

    >>> t = conductor_temperature_ac4313_2001(current=20, ampacity=26, ambient=50, rated_temperature=200)
    >>> round(t.value)
    182
    """
    value = ambient + (rated_temperature - ambient) * math.sqrt(current / ampacity)
    inputs = _temperature_inputs(current, ampacity, ambient, rated_temperature)
    formula = "T1 + (TR - T1) sqrt(I2 / Imax)"
    source = citation("ac43.13-1b", "par 11-66d")
    return Working("conductor temperature", value, "°C", formula, inputs, source, "memory")


def conductor_temperature_square_law(
    *, current: float, ampacity: float, ambient: float, rated_temperature: float
) -> Working:
    """Return how warm a conductor runs, its rise going as the square of its current.

    Parameters
    ----------
    current
        [A]
    ampacity
        Where it lies [A].
    ambient
        T1 [°C]
    rated_temperature
        TR [°C]

    Returns
    -------
    Working
        T1 + (TR - T1) (I2 / Imax)^2 [°C].

    Notes
    -----
    The law by which the printed columns of 105, 150 and 200 °C agree with one another.

    Source
    ------
    [method sect 3.4]

    Examples
    --------
    >>> t = conductor_temperature_square_law(current=10, ampacity=20, ambient=20, rated_temperature=60)
    >>> t.value
    30.0
    """
    value = ambient + (rated_temperature - ambient) * (current / ampacity) ** 2
    inputs = _temperature_inputs(current, ampacity, ambient, rated_temperature)
    formula = "T1 + (TR - T1) (I2 / Imax)^2"
    source = citation("method", "sect 3.4")
    return Working("conductor temperature", value, "°C", formula, inputs, source, "computed")


def conductor_temperature(
    *, current: float, ampacity: float, ambient: float, rated_temperature: float
) -> Working:
    """Return how warm a conductor runs, by whichever of the two laws says warmer.

    Parameters
    ----------
    current
        [A]
    ampacity
        Where it lies [A].
    ambient
        T1 [°C]
    rated_temperature
        TR [°C]

    Returns
    -------
    Working
        [°C]; the circular's own up to the ampacity, the square law above it.

    Source
    ------
    [ac43.13-1b par 11-66d], [method sect 3.4]

    Examples
    --------
    >>> t = conductor_temperature(current=40, ampacity=20, ambient=20, rated_temperature=60)
    >>> t.value
    180.0
    """
    law = conductor_temperature_ac4313_2001 if current <= ampacity else conductor_temperature_square_law
    return law(current=current, ampacity=ampacity, ambient=ambient, rated_temperature=rated_temperature)


def _temperature_inputs(
    current: float, ampacity: float, ambient: float, rated: float
) -> tuple[Input, Input, Input, Input]:
    return (
        Input("I2", current, "A"),
        Input("Imax", ampacity, "A"),
        Input("T1", ambient, "°C"),
        Input("TR", rated, "°C"),
    )


def judged_ampacity(current: Working, limit: Working) -> Judgement:
    """Judge a current against what its conductor may carry; no tolerance.

    Parameters
    ----------
    current, limit
        [A]

    Returns
    -------
    Judgement
        With what to do where the conductor is overloaded.

    Source
    ------
    [ac43.13-1b par 11-66]
    """
    cure = "Use a thicker conductor, a covering that stands more heat, or take it out of the bundle."
    return judged("Current in the conductor", value=current, limit=limit, cure=cure)
