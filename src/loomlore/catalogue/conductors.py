"""Resistance, metal area and mass of a conductor from its size as written.

Four ways of writing a size lead to the metal by four routes, and they must not be mixed::

    23/.0076 in   strands    area = n pi d^2 / 4, resistance = resistivity x lay / area
    SWG 20        solid      diameter from the gauge table, no lay
    AWG 16        stranded   aircraft cable: the table's own resistance and circular mils, never the formula
    AWG 17        solid      a gauge that the aircraft table has not: the gauge formula, no lay
    1.0 mm2       cable      the standard's greatest resistance for the class where 1.0 is one of its sizes,
                             else resistivity x lay / area

The aircraft table gives the greatest resistance a stranded and tinned wire may have; it stands 3 % under to
27 % over that of a solid wire of the same number, and its circular mils are not those of the gauge formula.

All lengths are metres, areas square metres, temperatures °C, resistances those of one core.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from loomlore.catalogue.published_tables import published_table
from loomlore.findings import UnknownName
from loomlore.quantities import Size
from loomlore.references import Input, OutOfRange, Working, citation

__all__ = [
    "ALUMINIUM",
    "CIRCULAR_MIL",
    "COPPER",
    "LAY",
    "AircraftWire",
    "Metal",
    "aircraft_wires",
    "awg_diameter",
    "conductor_area",
    "conductor_resistance",
    "equivalent_aircraft_wire",
    "iec60228_resistance",
    "mass_per_metre",
    "resistance_per_metre",
    "resistance_working",
    "swg_diameter",
    "temperature_factor",
    "temperature_factor_iec60228_2004",
]

INCH = 0.0254
FOOT = 0.3048
CIRCULAR_MIL = math.pi / 4 * (INCH / 1000) ** 2
"""Area of a circle of one thousandth of an inch [m2]."""

LAY = 1.02
"""Length of a strand over length of its conductor. Common practice, no source: 2 % for period cable."""

BASE_TEMPERATURE = 20.0


@dataclass(frozen=True, slots=True)
class Metal:
    """A conductor's metal.

    ``resistivity`` at 20 °C [ohm m], ``zero`` the temperature [°C] at which its resistance would vanish if
    it went on falling straight, ``density`` [kg/m3].
    """

    name: str
    resistivity: float
    zero: float
    density: float


COPPER = Metal("copper", 1e-6 / 58, -234.5, 8890.0)
"""Annealed copper, 100 % of the international standard: 1/58 ohm mm2/m [iec60028]."""

ALUMINIUM = Metal("aluminium", 2.8264e-8, -238.1, 2703.0)
"""Hard-drawn aluminium [iec60287-1-1 table 1]; density from memory."""


@dataclass(frozen=True, slots=True)
class AircraftWire:
    """One row of AC 43.13-1B table 11-9: stranded tinned copper, in a bundle at altitude.

    ``amperes`` by rated conductor temperature [°C] -> [A]; ``resistance`` greatest at 20 °C [ohm/m];
    ``rounding`` the half of the last printed digit of that resistance [ohm/m]; ``area`` [m2].
    """

    gauge: str
    amperes: Mapping[int, float]
    resistance: float
    rounding: float
    area: float


def temperature_factor(temperature: float, *, metal: Metal = COPPER) -> float:
    """Return the resistance at a temperature over that at 20 °C.

    Parameters
    ----------
    temperature
        Of the conductor [°C].
    metal
        Copper where nothing is said.

    Returns
    -------
    float
        (zero + t) / (zero + 20), with zero 234.5 for copper and 238.1 for aluminium [1].

    Raises
    ------
    OutOfRange
        At or below the temperature where the straight line would give nothing.

    Notes
    -----
    A straight line that holds well from -100 to 300 °C; a filament needs its own law.

    Source
    ------
    [ac43.13-1b par 11-66d(4)]

    Examples
    --------
    Worked example 2: a run of 15.5 ft at 20 °C may be 9.5 ft long at 182 °C for the same drop.

    >>> round(15.5 / temperature_factor(182.0), 1)
    9.5
    """
    if not metal.zero < temperature < 1100:
        law = "the straight law"
        raise OutOfRange("the temperature", temperature, low=metal.zero, high=1100, unit="°C", source=law)
    return (temperature - metal.zero) / (BASE_TEMPERATURE - metal.zero)


def temperature_factor_iec60228_2004(temperature: float) -> float:
    """Return the copper factor as the cable standard rounds it, for checking a test report against it.

    Parameters
    ----------
    temperature
        Of the conductor [°C], 0 to 100.

    Returns
    -------
    float
        (230 + t) / 250; its inverse is the standard's printed k_t [1].

    Notes
    -----
    Differs from :func:`temperature_factor` by under 0.5 % between 5 and 100 °C.

    Source
    ------
    [iec60228 annex A]

    Examples
    --------
    >>> round(1 / temperature_factor_iec60228_2004(35.0), 3)
    0.943
    """
    return (230 + temperature) / 250


def awg_diameter(gauge: str) -> float:
    """Return the diameter of a solid wire of an American gauge number.

    Parameters
    ----------
    gauge
        ``16``, ``0``, ``00`` or ``2/0``, ``0000`` or ``4/0``.

    Returns
    -------
    float
        0.005 in x 92^((36 - n)/39), with n = 0 for 0, -1 for 00 ... [m].

    Raises
    ------
    UnknownName
        Where it is no such number.

    Source
    ------
    [astm-b258]

    Examples
    --------
    >>> round(awg_diameter("0000") / 0.0254, 4), round(awg_diameter("10") / 0.0254, 4)
    (0.46, 0.1019)
    """
    return 0.005 * INCH * math.pow(92.0, (36 - _awg_number(gauge)) / 39)


def _awg_number(gauge: str) -> int:
    noughts, stroke, rest = gauge.partition("/")
    if stroke and rest == "0" and noughts.isdecimal() and 1 <= int(noughts) <= 6:
        return 1 - int(noughts)
    if gauge and set(gauge) == {"0"} and len(gauge) <= 6:
        return 1 - len(gauge)
    if gauge.isdecimal() and 1 <= int(gauge) <= 56:
        return int(gauge)
    raise UnknownName("American wire gauge", gauge, [*map(str, range(57)), "00", "000", "0000"])


@cache
def _swg_diameters() -> Mapping[str, float]:
    rows = published_table("bs3737-1964-wire-gauge")
    return MappingProxyType({row["swg"]: float(row["diameter_in"]) * INCH for row in rows})


def swg_diameter(gauge: str) -> float:
    """Return the diameter of a wire of an Imperial Standard Wire Gauge number.

    Parameters
    ----------
    gauge
        ``20``, ``0``, ``2/0`` or ``00`` ... to ``7/0``.

    Returns
    -------
    float
        [m]

    Raises
    ------
    UnknownName
        Where it is no such number.

    Notes
    -----
    No. 28 is 0.0148 in; some tables print 0.0149.

    Source
    ------
    [bs3737]

    Examples
    --------
    >>> round(swg_diameter("20") / 0.0254, 4), round(swg_diameter("28") / 0.0254, 4)
    (0.036, 0.0148)
    """
    wanted = f"{len(gauge)}/0" if len(gauge) > 1 and set(gauge) == {"0"} else gauge
    found = _swg_diameters().get(wanted)
    if found is None:
        raise UnknownName("standard wire gauge", gauge, _swg_diameters())
    return found


@cache
def aircraft_wires() -> Mapping[str, AircraftWire]:
    """Return the stranded aircraft wires of the published table by gauge, thinnest first.

    Returns
    -------
    Mapping of str to AircraftWire
        ``24`` to ``0000``.

    Notes
    -----
    Never to be derived from the gauge formula. No. 24 stands 30 % above its own circular mils (the others
    12 to 21 %), as a high-strength alloy would; from No. 2 up the print has two decimals, worth 3 to 8 %.

    Source
    ------
    [ac43.13-1b table 11-9]

    Examples
    --------
    >>> aircraft_wires()["14"].amperes[150]
    14.0
    """
    wires = (_aircraft_wire(row) for row in published_table("ac43.13-1b-2001-table-11-9"))
    return MappingProxyType({wire.gauge: wire for wire in wires})


def _aircraft_wire(row: Mapping[str, str]) -> AircraftWire:
    printed = row["ohm_per_1000_ft"]
    last_digit = 10.0 ** -len(printed.partition(".")[2])
    return AircraftWire(
        gauge=row["awg"],
        amperes=MappingProxyType({t: float(row[f"amperes_{t}_c"]) for t in (105, 150, 200)}),
        resistance=float(printed) / (1000 * FOOT),
        rounding=last_digit / 2 / (1000 * FOOT),
        area=float(row["circular_mils"]) * CIRCULAR_MIL,
    )


def _aircraft_wire_of(gauge: str) -> AircraftWire | None:
    number = _awg_number(gauge)
    return aircraft_wires().get("0" * (1 - number) if number < 0 else str(number))


def equivalent_aircraft_wire(area: float) -> AircraftWire | None:
    """Return the thickest aircraft wire with no more metal than an area, or None where all have more.

    Parameters
    ----------
    area
        Of the metal [m2].

    Returns
    -------
    AircraftWire or None
        Its published ratings are on the safe side for a conductor of that area.

    Source
    ------
    [ac43.13-1b table 11-9], [method sect 1.5]

    Examples
    --------
    A period 23/.0076 in (0.67 mm2) stands between No. 20 (0.62) and No. 18 (0.96).

    >>> equivalent_aircraft_wire(0.673e-6).gauge
    '20'
    """
    # 1e-9: a wire must find itself whatever the rounding of its own area
    fitting = [wire for wire in aircraft_wires().values() if wire.area <= area * (1 + 1e-9)]
    return max(fitting, key=lambda wire: wire.area, default=None)


@cache
def _iec60228() -> Mapping[float, Mapping[str, str]]:
    rows = published_table("iec60228-2004-tables-1-2-3")
    return MappingProxyType({float(row["area_mm2"]): row for row in rows})


def iec60228_resistance(area: float, *, conductor_class: int = 5, coated: bool = False) -> float:
    """Return the greatest resistance that the cable standard allows a copper conductor at 20 °C.

    Parameters
    ----------
    area
        One of the standard's nominal areas [m2], 0.5 to 95 mm2.
    conductor_class
        1 solid, 2 stranded, 5 flexible.
    coated
        Whether the strands are tinned.

    Returns
    -------
    float
        [ohm/m]

    Raises
    ------
    UnknownName
        Where the standard has no such nominal area, class or coating.

    Notes
    -----
    At 50 mm2 class 2 (0.387 ohm/km) stands above class 5 (0.386): genuine, not a slip.

    Source
    ------
    [iec60228 table 3]

    Examples
    --------
    >>> round(iec60228_resistance(1.5e-6) * 1000, 4)
    13.3
    """
    nominal = _nominal_area(area)
    column = f"class_{conductor_class}" + ("_coated" if coated else "")
    printed = _iec60228()[nominal].get(column, "") if nominal else ""
    if not printed:
        sizes = [f"{size:g} mm2" for size in _iec60228()]
        raise UnknownName(f"conductor of class {conductor_class}", f"{area * 1e6:g} mm2", sizes)
    return float(printed) / 1000


def _nominal_area(area: float) -> float | None:
    """The standard's nominal area [mm2] that an area [m2] is, allowing for nothing but float rounding."""
    return next((size for size in _iec60228() if math.isclose(size, area * 1e6, rel_tol=1e-6)), None)


def conductor_area(size: Size) -> float:
    """Return the metal's area of one core.

    Parameters
    ----------
    size
        As read from its text.

    Returns
    -------
    float
        Of the strands together, square to them [m2].

    Raises
    ------
    UnknownName
        Where a gauge is not known.

    Source
    ------
    [astm-b258], [bs3737], [ac43.13-1b table 11-9]

    Examples
    --------
    >>> from loomlore.quantities import read_size
    >>> round(conductor_area(read_size("14/.0076 in")) * 1e6, 2)
    0.41
    """
    if size.form == "awg":
        wire = _aircraft_wire_of(size.gauge)
        return wire.area if wire else math.pi / 4 * awg_diameter(size.gauge) ** 2
    if size.form == "swg":
        return math.pi / 4 * swg_diameter(size.gauge) ** 2
    return size.area


def _lay_of(size: Size) -> float:
    """Gauge numbers that no aircraft wire has, standard wire gauge and one strand are solid."""
    solid_gauge = size.form == "awg" and not _aircraft_wire_of(size.gauge)
    return 1.0 if solid_gauge or size.form == "swg" or size.strands == 1 else LAY


def _by_area(size: Size, metal: Metal) -> Working:
    area, lay = conductor_area(size), _lay_of(size)
    if area <= 0:
        raise OutOfRange("the metal's area", area, low=0, high=math.inf, unit="m2", source="any size")
    own = citation("iec60028") if metal is COPPER else citation("iec60287-1-1", "table 1")
    inputs = [Input("resistivity", metal.resistivity * 1e6, "ohm mm2/m"), Input("area", area * 1e6, "mm2")]
    if lay != 1.0:
        inputs.append(Input("lay", lay))
    formula = "resistivity x lay / area" if lay != 1.0 else "resistivity / area"
    note = "2 % for the lay of the strands is common practice, without a source." if lay != 1.0 else ""
    value = metal.resistivity * lay / area
    return Working(_PER_METRE, value, "ohm/m", formula, tuple(inputs), own, "transcribed", note)


_IEC60228_TABLES = {1: "table 1", 2: "table 2", 5: "table 3"}

_PER_METRE = "resistance per metre at 20 °C"


@lru_cache(maxsize=4096)
def _at_20(size: Size, metal: Metal, conductor_class: int) -> Working:
    if size.form == "awg" and metal is COPPER and (wire := _aircraft_wire_of(size.gauge)):
        listed = (Input("stranded aircraft wire", f"No. {wire.gauge}"),)
        source = citation("ac43.13-1b", "table 11-9")
        return Working(_PER_METRE, wire.resistance, "ohm/m", "the table's greatest value", listed, source)
    if size.form == "area" and metal is COPPER and _nominal_area(size.area):
        value = iec60228_resistance(size.area, conductor_class=conductor_class)
        entry = (Input("area", size.area * 1e6, "mm2"), Input("class", str(conductor_class)))
        table = _IEC60228_TABLES[conductor_class]
        formula = "the standard's greatest value"
        return Working(_PER_METRE, value, "ohm/m", formula, entry, citation("iec60228", table), "transcribed")
    return _by_area(size, metal)


def resistance_working(
    size: Size, *, temperature: float = BASE_TEMPERATURE, metal: Metal = COPPER, conductor_class: int = 5
) -> Working:
    """Return one core's resistance per metre with the table or formula it came from.

    Parameters
    ----------
    size
        As read from its text.
    temperature
        Of the conductor [°C].
    metal
        Copper where nothing is said.
    conductor_class
        For a size written as an area that the cable standard lists: 1 solid, 2 stranded, 5 flexible.

    Returns
    -------
    Working
        Its value in [ohm/m].

    Raises
    ------
    UnknownName
        Where a gauge or class is not known.
    OutOfRange
        Where the temperature or the area makes no sense.

    Notes
    -----
    Class 5 is taken where none is given: a re-wired run is flexible cable, and its greatest resistance is
    the worse end of the two.

    Source
    ------
    [iec60028], [iec60228 table 3], [ac43.13-1b table 11-9], [method sect 1.2]

    Examples
    --------
    >>> from loomlore.quantities import read_size
    >>> print(resistance_working(read_size("14/.0076 in")))
    resistance per metre at 20 °C: 0.04292 ohm/m, from resistivity x lay / area
      with resistivity = 0.01724 ohm mm2/m, area = 0.4097 mm2, lay = 1.02
      source: IEC 60028 (from a transcription of the document)
      note: 2 % for the lay of the strands is common practice, without a source.
    """
    cold = _at_20(size, metal, conductor_class)
    if temperature == BASE_TEMPERATURE:
        return cold
    factor = temperature_factor(temperature, metal=metal)
    return Working(
        f"resistance per metre at {temperature:g} °C",
        cold.value * factor,
        "ohm/m",
        "r20 (zero + t) / (zero + 20)",
        (
            Input("r20", cold.value, "ohm/m", cold),
            Input("zero", -metal.zero, "°C"),
            Input("t", temperature, "°C"),
        ),
        citation("ac43.13-1b", "par 11-66d(4)"),
    )


def resistance_per_metre(
    size: Size, *, temperature: float = BASE_TEMPERATURE, metal: Metal = COPPER, conductor_class: int = 5
) -> float:
    """Return one core's resistance per metre.

    Parameters
    ----------
    size
        As read from its text.
    temperature
        Of the conductor [°C].
    metal
        Copper where nothing is said.
    conductor_class
        For a size written as an area that the cable standard lists: 1 solid, 2 stranded, 5 flexible.

    Returns
    -------
    float
        [ohm/m]

    Raises
    ------
    UnknownName
        Where a gauge or class is not known.
    OutOfRange
        Where the temperature or the area makes no sense.

    Source
    ------
    [iec60028], [iec60228 table 3], [ac43.13-1b table 11-9]

    Examples
    --------
    >>> from loomlore.quantities import read_size
    >>> round(resistance_per_metre(read_size("AWG 6")) * 0.3048, 5)
    0.00044
    """
    cold = _at_20(size, metal, conductor_class).value
    return cold if temperature == BASE_TEMPERATURE else cold * temperature_factor(temperature, metal=metal)


def conductor_resistance(size: Size, *, length: float, temperature: float = BASE_TEMPERATURE) -> float:
    """Return the resistance of one core of copper from end to end.

    Parameters
    ----------
    size
        As read from its text.
    length
        Of the run, one way [m].
    temperature
        Of the conductor [°C].

    Returns
    -------
    float
        [ohm]

    Raises
    ------
    UnknownName
        Where a gauge is not known.
    OutOfRange
        Where the length or temperature makes no sense.

    Source
    ------
    [iec60028], [iec60228 table 3], [ac43.13-1b table 11-9]

    Examples
    --------
    107 ft of No. 6 carrying 20 A: the table prints 0.942 V.

    >>> from loomlore.quantities import read_size
    >>> round(20 * conductor_resistance(read_size("AWG 6"), length=107 * 0.3048), 3)
    0.942
    """
    if not 0 <= length < math.inf:
        raise OutOfRange("the length", length, low=0, high=math.inf, unit="m", source="any run")
    return length * resistance_per_metre(size, temperature=temperature)


def mass_per_metre(size: Size, *, metal: Metal = COPPER) -> float:
    """Return the metal's mass per metre, all cores together, without covering.

    Parameters
    ----------
    size
        As read from its text.
    metal
        Copper where nothing is said.

    Returns
    -------
    float
        area x density x lay x cores [kg/m].

    Raises
    ------
    UnknownName
        Where a gauge is not known.

    Notes
    -----
    The covering weighs as much again on thin cable; take a maker's figure where the mass matters.

    Source
    ------
    [iec60028]

    Examples
    --------
    A kilometre of 1 mm2 of copper weighs 8.9 kg, and 2 % more when it is laid up.

    >>> from loomlore.quantities import read_size
    >>> round(mass_per_metre(read_size("1 mm2")) * 1000, 2)
    9.07
    """
    return conductor_area(size) * metal.density * _lay_of(size) * size.cores
