"""Fuses and breakers: what a conductor needs, what it stands, and when a fuse goes.

A period print gives a fuse's *carrying* amperes (what it takes for good) or its *fusing* amperes (what melts
it); they differ by 1.75 or so. Every figure here says which it is.

Two independent roads lead to the heat that a conductor stands before its copper melts, and agree to 0.3 %:
the adiabatic formula with 226 and 234.5, and Onderdonk's with 33 and 234 plus ambient.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Literal

from loomlore.catalogue.conductors import CIRCULAR_MIL, aircraft_wires, swg_diameter
from loomlore.catalogue.published_tables import published_table
from loomlore.findings import UnknownName
from loomlore.references import Input, OutOfRange, Working, citation, status_of_row
from loomlore.sizing.judging import Judgement, judged

__all__ = [
    "FUSING_OVER_CARRYING",
    "Basis",
    "Protector",
    "adiabatic_factor",
    "carrying_current",
    "cartridge_opening_time_ul248_14",
    "fuse_wire_swg",
    "fusing_current",
    "fusing_current_onderdonk",
    "fusing_current_preece_1888",
    "fusing_diameter_preece_1888",
    "fusing_time_onderdonk",
    "judged_discrimination",
    "judged_fuse_for_ampacity",
    "judged_protector",
    "judged_withstand",
    "protector_limit_ac4313_1998",
    "withstand_current",
]

Basis = Literal["carrying", "fusing"]
Protector = Literal["fuse", "breaker"]

INCH = 0.0254

FUSING_OVER_CARRYING = 1.75
"""Common practice for period fuses, no source; cartridges to UL 248-14 lie between 1.35 and 2."""

DISCRIMINATION = 2.0
"""Rating of the fuse nearer the supply over that nearer the load, of one type. Common practice, no source."""

COPPER_MELTS = 1083.0
_K_COPPER, _BETA_COPPER = 226.0, 234.5
_LONGEST_ADIABATIC = 5.0
_LONGEST_ONDERDONK = 10.0


def carrying_current(rating: float, *, basis: Basis, factor: float = FUSING_OVER_CARRYING) -> Working:
    """Return what a fuse carries for good.

    Parameters
    ----------
    rating
        As printed [A].
    basis
        Which the print means.
    factor
        Fusing over carrying current [1].

    Returns
    -------
    Working
        [A]

    Source
    ------
    [common-practice]

    Examples
    --------
    >>> carrying_current(35, basis="fusing").value
    20.0
    """
    return _by_basis("carrying current", rating, basis, "carrying", 1 / factor)


def fusing_current(rating: float, *, basis: Basis, factor: float = FUSING_OVER_CARRYING) -> Working:
    """Return what melts a fuse in the end.

    Parameters
    ----------
    rating
        As printed [A].
    basis
        Which the print means.
    factor
        Fusing over carrying current [1].

    Returns
    -------
    Working
        [A]

    Source
    ------
    [common-practice]

    Examples
    --------
    >>> fusing_current(20, basis="carrying").value
    35.0
    """
    return _by_basis("fusing current", rating, basis, "fusing", factor)


def _by_basis(quantity: str, rating: float, basis: Basis, wanted: Basis, factor: float) -> Working:
    own = basis == wanted
    inputs = [Input("rating", rating, "A"), Input("basis", basis)]
    if not own:
        inputs.append(Input("factor", factor))
    formula = "as printed" if own else "rating x factor"
    value = rating if own else rating * factor
    return Working(quantity, value, "A", formula, tuple(inputs), citation("common-practice"), "practice")


def protector_limit_ac4313_1998(area: float, *, kind: Protector) -> Working:
    """Return the greatest fuse or breaker for a conductor.

    Parameters
    ----------
    area
        Of its metal [m2]; a conductor between two gauges is taken as the thinner.
    kind
        ``fuse`` or ``breaker``.

    Returns
    -------
    Working
        [A]

    Raises
    ------
    OutOfRange
        Thinner than No. 22, where the table ends.

    Notes
    -----
    The table has no breaker for Nos. 1 and 0: that of No. 2 stands for them. Above No. 0 its last row stands.

    Source
    ------
    [ac43.13-1b table 11-3]

    Examples
    --------
    A period 14/.0076 in (0.41 mm2) is at least a No. 22: 5 A.

    >>> protector_limit_ac4313_1998(0.41e-6, kind="fuse").value
    5.0
    """
    limits = _protectors(kind)
    # 1e-9: a wire must find itself whatever the rounding of its own area
    fitting = [gauge for gauge in limits if aircraft_wires()[gauge].area <= area * (1 + 1e-9)]
    if not fitting:
        low = aircraft_wires()["22"].area * 1e6
        source = "AC 43.13-1B table 11-3"
        raise OutOfRange("an area of", area * 1e6, low=low, high=math.inf, unit="mm2", source=source)
    gauge = max(fitting, key=lambda found: aircraft_wires()[found].area)
    return Working(
        f"greatest {kind}",
        limits[gauge],
        "A",
        f"the row of No. {gauge}",
        (Input("area", area * 1e6, "mm2"),),
        citation("ac43.13-1b", "table 11-3"),
    )


@cache
def _protectors(kind: Protector) -> Mapping[str, float]:
    rows = published_table("ac43.13-1b-1998-table-11-3")
    return MappingProxyType({row["awg"]: float(row[f"{kind}_a"]) for row in rows if row[f"{kind}_a"]})


def judged_protector(rating: Working, limit: Working) -> Judgement:
    """Judge a fuse or breaker against the greatest its conductor may have.

    Parameters
    ----------
    rating
        What it carries [A].
    limit
        From :func:`protector_limit_ac4313_1998` [A].

    Returns
    -------
    Judgement
        With what to do where the conductor would burn before its fuse.

    Source
    ------
    [ac43.13-1b table 11-3]
    """
    cure = f"Fit {limit.value:g} A or less, or a thicker conductor."
    return judged("Fuse or breaker for the conductor", value=rating, limit=limit, cure=cure)


def judged_fuse_for_ampacity(rating: Working, ampacity: Working) -> Judgement:
    """Judge what a fuse carries against what its conductor may carry.

    Parameters
    ----------
    rating
        What the fuse carries for good [A].
    ampacity
        Of the conductor where it lies [A].

    Returns
    -------
    Judgement
        With what to do where the conductor is the weaker.

    Source
    ------
    [ac43.13-1b par 11-48]
    """
    cure = f"Fit a fuse that carries {ampacity.value:.3g} A or less, or a thicker conductor."
    return judged("Fuse against the conductor's ampacity", value=rating, limit=ampacity, cure=cure)


def judged_discrimination(*, downstream: Working, upstream: Working) -> Judgement:
    """Judge whether the fuse nearer the load goes first.

    Parameters
    ----------
    downstream, upstream
        What the fuse nearer the load, and that nearer the supply, carry [A].

    Returns
    -------
    Judgement
        Twice the downstream fuse against the upstream one.

    Source
    ------
    [common-practice]
    """
    needed = Working(
        "least upstream fuse",
        downstream.value * DISCRIMINATION,
        "A",
        "downstream x 2, fuses of one type",
        (Input("downstream", downstream.value, "A", downstream),),
        citation("common-practice"),
        "practice",
    )
    cure = f"Fit {needed.value:g} A or more upstream if its cable allows, or less downstream."
    return judged("Discrimination", value=needed, limit=upstream, cure=cure)


def adiabatic_factor(*, start: float, final: float) -> Working:
    """Return the k of copper between two temperatures, so that I sqrt(t) = k S.

    Parameters
    ----------
    start
        Before the fault [°C].
    final
        That the covering stands for a moment [°C].

    Returns
    -------
    Working
        226 sqrt(ln((234.5 + final) / (234.5 + start))) [A s^1/2 / mm2].

    Notes
    -----
    For up to 5 s, in which no heat gets away. 226 is from memory; up to the melting of copper it agrees
    with Onderdonk's formula, which was read, to 0.3 %.

    Source
    ------
    [iec60949 sect 3]

    Examples
    --------
    The wiring rules print 115 for a covering of 70 °C that stands 160, 143 for 90 and 250.

    >>> round(adiabatic_factor(start=70, final=160).value), round(adiabatic_factor(start=90, final=250).value)
    (115, 143)
    """
    if not -_BETA_COPPER < start <= final <= COPPER_MELTS:
        raise OutOfRange(
            "a final temperature of", final, low=start, high=COPPER_MELTS, unit="°C", source="the law"
        )
    value = _K_COPPER * math.sqrt(math.log((_BETA_COPPER + final) / (_BETA_COPPER + start)))
    inputs = (Input("start", start, "°C"), Input("final", final, "°C"))
    formula = "226 sqrt(ln((234.5 + final) / (234.5 + start)))"
    source = citation("iec60949", "sect 3")
    note = "226 is from memory; Onderdonk's formula, which was read, agrees to 0.3 %."
    return Working("adiabatic factor", value, "A s^1/2/mm2", formula, inputs, source, "memory", note)


def withstand_current(area: float, *, time: float, start: float, final: float) -> Working:
    """Return the fault current that a copper conductor stands for a time.

    Parameters
    ----------
    area
        Of the metal [m2].
    time
        Until the fuse goes, up to 5 s [s].
    start, final
        Before the fault, and what the covering stands for a moment [°C].

    Returns
    -------
    Working
        k S / sqrt(t) [A].

    Raises
    ------
    OutOfRange
        Over 5 s, where heat gets away; or for temperatures that make no sense.

    Source
    ------
    [iec60949 sect 3]

    Examples
    --------
    >>> round(withstand_current(1e-6, time=1, start=70, final=160).value)
    115
    """
    if not 0 < time <= _LONGEST_ADIABATIC:
        raise OutOfRange(
            "a time of", time, low=0, high=_LONGEST_ADIABATIC, unit="s", source="the adiabatic law"
        )
    factor = adiabatic_factor(start=start, final=final)
    unit = "A s^1/2/mm2"
    return Working(
        "withstand current",
        factor.value * area * 1e6 / math.sqrt(time),
        "A",
        "k S / sqrt(t)",
        (Input("k", factor.value, unit, factor), Input("S", area * 1e6, "mm2"), Input("t", time, "s")),
        citation("iec60949", "sect 3"),
        factor.status,
    )


def judged_withstand(fault: Working, withstand: Working) -> Judgement:
    """Judge a fault current against what the conductor stands until its fuse has gone.

    Parameters
    ----------
    fault, withstand
        [A]

    Returns
    -------
    Judgement
        With what to do where the covering would burn first.

    Source
    ------
    [iec60949 sect 3]
    """
    cure = "Fit a quicker or smaller fuse nearer the supply, or a thicker conductor."
    return judged("Fault current in the conductor", value=fault, limit=withstand, cure=cure)


@cache
def _preece() -> Mapping[str, float]:
    rows = published_table("preece-1888-constants")
    return MappingProxyType({row["metal"]: float(row["constant_in"]) for row in rows})


def _preece_constant(metal: str) -> float:
    found = _preece().get(metal)
    if found is None:
        raise UnknownName("metal of Preece's table", metal, _preece())
    return found


def fusing_current_preece_1888(diameter: float, *, metal: str = "copper") -> Working:
    """Return the current that melts a bare round wire in still air, given time.

    Parameters
    ----------
    diameter
        [m]
    metal
        copper, aluminium, platinum, german-silver, platinoid, iron, tin, tin-lead, lead.

    Returns
    -------
    Working
        C d^(3/2), d in inches [A].

    Raises
    ------
    UnknownName
        For another metal.

    Notes
    -----
    For long bare wires; a short or enclosed one takes more. Aluminium at 250 A is misprinted 0.1208 in.

    Source
    ------
    [preece-1888]

    Examples
    --------
    >>> round(fusing_current_preece_1888(0.0201 * 0.0254).value, 1)
    29.2
    """
    constant = _preece_constant(metal)
    inputs = (Input("C", constant, "A/in^3/2"), Input("d", diameter / INCH, "in"))
    source = citation("preece-1888")
    value = constant * (diameter / INCH) ** 1.5
    return Working("fusing current", value, "A", "C d^(3/2)", inputs, source, "transcribed")


def fusing_diameter_preece_1888(current: float, *, metal: str = "copper") -> Working:
    """Return the diameter of the bare round wire that a current just melts.

    Parameters
    ----------
    current
        [A]
    metal
        As for :func:`fusing_current_preece_1888`.

    Returns
    -------
    Working
        (I / C)^(2/3) in inches, given in metres [m].

    Raises
    ------
    UnknownName
        For another metal.

    Source
    ------
    [preece-1888]

    Examples
    --------
    >>> round(fusing_diameter_preece_1888(100).value / 0.0254, 4)
    0.0457
    """
    constant = _preece_constant(metal)
    inputs = (Input("I", current, "A"), Input("C", constant, "A/in^3/2"))
    source = citation("preece-1888")
    value = (current / constant) ** (2 / 3) * INCH
    return Working("diameter that melts", value, "m", "(I / C)^(2/3)", inputs, source, "transcribed")


def fusing_current_onderdonk(area: float, *, time: float, ambient: float) -> Working:
    """Return the current that melts a copper conductor in a short time.

    Parameters
    ----------
    area
        Of the metal [m2].
    time
        Up to 10 s [s].
    ambient
        Before the fault [°C].

    Returns
    -------
    Working
        A sqrt(log10((1083 - Ta) / (234 + Ta) + 1) / (33 t)), A in circular mils [A].

    Raises
    ------
    OutOfRange
        Over 10 s, where heat gets away.

    Notes
    -----
    234 *plus* ambient: a worked example in circulation has minus, and 178 A for the case below.

    Source
    ------
    [onderdonk]

    Examples
    --------
    2581 circular mils, 5 s, 25 °C.

    >>> round(fusing_current_onderdonk(2581 * 5.067075e-10, time=5, ambient=25).value, 1)
    168.9
    """
    if not 0 < time <= _LONGEST_ONDERDONK:
        raise OutOfRange("a time of", time, low=0, high=_LONGEST_ONDERDONK, unit="s", source="Onderdonk")
    value = area / CIRCULAR_MIL * math.sqrt(_onderdonk_heat(ambient) / (33 * time))
    inputs = (Input("A", area / CIRCULAR_MIL, "cmil"), Input("t", time, "s"), Input("Ta", ambient, "°C"))
    formula = "A sqrt(log10((1083 - Ta) / (234 + Ta) + 1) / (33 t))"
    return Working("current that melts", value, "A", formula, inputs, citation("onderdonk"))


def _onderdonk_heat(ambient: float) -> float:
    return math.log10((COPPER_MELTS - ambient) / (234 + ambient) + 1)


def fusing_time_onderdonk(area: float, *, current: float, ambient: float) -> Working:
    """Return how soon a current melts a copper conductor.

    Parameters
    ----------
    area
        Of the metal [m2].
    current
        [A]
    ambient
        Before the fault [°C].

    Returns
    -------
    Working
        The formula turned about; over 10 s it is too short, since heat gets away, and a note says so [s].

    Source
    ------
    [onderdonk]

    Examples
    --------
    >>> round(fusing_time_onderdonk(2581 * 5.067075e-10, current=168.86, ambient=25).value, 2)
    5.0
    """
    mils = area / CIRCULAR_MIL
    value = _onderdonk_heat(ambient) * (mils / current) ** 2 / 33
    inputs = (Input("A", mils, "cmil"), Input("I", current, "A"), Input("Ta", ambient, "°C"))
    note = "Over 10 s heat gets away, and it lasts longer than this." if value > _LONGEST_ONDERDONK else ""
    formula = "log10((1083 - Ta) / (234 + Ta) + 1) (A / I)^2 / 33"
    return Working("time to melt", value, "s", formula, inputs, citation("onderdonk"), "read", note)


def cartridge_opening_time_ul248_14(rating: float, *, current: float) -> Working:
    """Return the longest a cartridge fuse may take to open.

    Parameters
    ----------
    rating
        What it carries, up to 60 A [A].
    current
        [A]

    Returns
    -------
    Working
        An hour from 1.35 times its rating, 2 min (4 min over 30 A) from twice; infinite below [s].

    Raises
    ------
    OutOfRange
        Over 60 A.

    Source
    ------
    [ul248-14]

    Examples
    --------
    >>> cartridge_opening_time_ul248_14(10, current=20).value
    120.0
    """
    if not 0 < rating <= 60:
        raise OutOfRange("a rating of", rating, low=0, high=60, unit="A", source="UL 248-14")
    multiple = current / rating
    inputs = (Input("rating", rating, "A"), Input("I", current, "A"), Input("multiple", multiple))
    value, formula = _opening_time(multiple, rating)
    source = citation("ul248-14")
    return Working("longest time to open", value, "s", formula, inputs, source, "transcribed")


def _opening_time(multiple: float, rating: float) -> tuple[float, str]:
    if multiple >= 2.0:
        return (120.0, "2 min at twice the rating") if rating <= 30 else (240.0, "4 min at twice the rating")
    if multiple >= 1.35:
        return 3600.0, "1 h at 1.35 times the rating"
    if multiple > 1.0:
        return math.inf, "between the rating and 1.35 times it a fuse may or may not open"
    return math.inf, "it carries its rating for good"


def fuse_wire_swg(carrying: float) -> Working:
    """Return the tinned copper fuse wire that carries a current for good: the thinnest of the trade table.

    Parameters
    ----------
    carrying
        [A]

    Returns
    -------
    Working
        The wire's diameter, its gauge among the inputs [m].

    Raises
    ------
    OutOfRange
        Over 102 A, where the table ends.

    Notes
    -----
    Nos. 38 to 40 were read; the rest is from memory and agrees with Preece within 14 %.

    Source
    ------
    [swg-fuse-wire], [preece-1888]

    Examples
    --------
    >>> print(fuse_wire_swg(5).inputs[0])
    gauge = SWG 35
    """
    rows = sorted(published_table("swg-fuse-wire-tinned-copper"), key=lambda row: float(row["rated_a"]))
    row = next((row for row in rows if float(row["rated_a"]) >= carrying), None)
    if row is None:
        high = float(rows[-1]["rated_a"])
        raise OutOfRange("a current of", carrying, low=0, high=high, unit="A", source="the fuse wire table")
    diameter = swg_diameter(row["swg"])
    inputs = (
        Input("gauge", f"SWG {row['swg']}"),
        Input("rated", float(row["rated_a"]), "A"),
        Input("fuses at about", float(row["fusing_a"]), "A"),
    )
    formula = f"thinnest wire rated {carrying:g} A or more"
    source = citation("swg-fuse-wire", f"No {row['swg']}")
    return Working("fuse wire", diameter, "m", formula, inputs, source, status_of_row(row["status"]))
