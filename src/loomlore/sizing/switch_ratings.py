"""What a switch must be rated for: a lamp's inrush, a coil's kick, a motor's start."""

from __future__ import annotations

from typing import Literal

from loomlore.catalogue.published_tables import published_table
from loomlore.references import Input, OutOfRange, Working, citation, status_of_row
from loomlore.sizing.judging import Judgement, judged

__all__ = ["SwitchedLoad", "judged_switch", "required_switch_rating", "switch_factor"]

SwitchedLoad = Literal["lamp", "inductive", "resistive", "motor"]
"""Filament lamps; relays and solenoids; heaters; motors."""

_SYSTEMS = ((11.5, 15.0, 12), (23.0, 30.0, 28))


def switch_factor(nominal: float, load: SwitchedLoad) -> Working:
    """Return how many times the continuous current a switch must be rated for.

    Parameters
    ----------
    nominal
        Of the supply as written, 12 to 14 or 24 to 28 [V].
    load
        What it switches.

    Returns
    -------
    Working
        The factor [1].

    Raises
    ------
    OutOfRange
        For any other supply.

    Source
    ------
    [ac43.13-1b table 11-4]

    Examples
    --------
    >>> switch_factor(24, "lamp").value, switch_factor(12, "lamp").value
    (8.0, 5.0)
    """
    system = next((system for low, high, system in _SYSTEMS if low <= nominal <= high), None)
    for row in published_table("ac43.13-1b-1998-table-11-4"):
        if float(row["nominal_v"]) == system and row["load"] == load:
            inputs = (Input("supply", nominal, "V"), Input("load", load))
            source = citation("ac43.13-1b", "table 11-4")
            formula = f"the {system} V row for a load that is {load}"
            status = status_of_row(row["status"])
            return Working("switch factor", float(row["factor"]), "", formula, inputs, source, status)
    raise OutOfRange("a supply of", nominal, low=11.5, high=30, unit="V", source="AC 43.13-1B table 11-4")


def required_switch_rating(*, current: float, nominal: float, load: SwitchedLoad) -> Working:
    """Return the rating that a switch needs.

    Parameters
    ----------
    current
        Continuous [A].
    nominal
        Of the supply [V].
    load
        What it switches.

    Returns
    -------
    Working
        current x factor [A].

    Raises
    ------
    OutOfRange
        For a supply that the table has not.

    Source
    ------
    [ac43.13-1b table 11-4]

    Examples
    --------
    >>> required_switch_rating(current=2.5, nominal=28, load="lamp").value
    20.0
    """
    factor = switch_factor(nominal, load)
    inputs = (Input("I", current, "A"), Input("factor", factor.value, "", factor))
    source = citation("ac43.13-1b", "table 11-4")
    return Working("required switch rating", current * factor.value, "A", "I x factor", inputs, source)


def judged_switch(*, rating: float, current: float, nominal: float, load: SwitchedLoad) -> Judgement:
    """Judge a switch's rating against its load.

    Parameters
    ----------
    rating
        As stamped [A].
    current
        Continuous [A].
    nominal
        Of the supply [V].
    load
        What it switches.

    Returns
    -------
    Judgement
        The required rating against the stamped one.

    Raises
    ------
    OutOfRange
        For a supply that the table has not.

    Source
    ------
    [ac43.13-1b table 11-4]
    """
    required = required_switch_rating(current=current, nominal=nominal, load=load)
    stamped = Working(
        "stamped rating", rating, "A", "as stamped", (), citation("common-practice"), "practice"
    )
    cure = "Fit a switch of a higher rating, or let it work a relay."
    return judged("Switch rating", value=required, limit=stamped, cure=cure)
