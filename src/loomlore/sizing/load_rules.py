"""Rules of a load analysis: what a generator may carry, and how long a battery must last without it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from typing import Literal

from loomlore.findings import UnknownName
from loomlore.references import Citation, Input, Status, Working, citation
from loomlore.sizing.judging import Judgement, judged

__all__ = [
    "assumed_capacity_share",
    "generator_limit",
    "generator_limit_190_00734_17",
    "greatest_average",
    "judged_emergency_endurance",
    "judged_generator_load",
    "low_volts_warning",
    "summed_load",
]


def generator_limit(output: float, *, monitored: bool = False) -> Working:
    """Return the continuous load that a generator may be given.

    Parameters
    ----------
    output
        Its rated current or power [A] or [W].
    monitored
        Whether the crew can see the load, or a placard says what may be on together.

    Returns
    -------
    Working
        80 % of the output; all of it where the load is monitored or placarded [A].

    Source
    ------
    [ac43.13-1b par 11-35a]

    Examples
    --------
    >>> generator_limit(36.0).value
    28.8
    """
    share = 1.0 if monitored else 0.8
    inputs = (Input("output", output, "A"), Input("monitored or placarded", "yes" if monitored else "no"))
    formula = "output" if monitored else "80 % of the output"
    source = citation("ac43.13-1b", "par 11-35a")
    return Working("greatest continuous load", output * share, "A", formula, inputs, source)


def generator_limit_190_00734_17(output: float, *, landing_lamp: bool) -> Working:
    """Return what an alternator may carry in take-off and landing with the pressure head heated.

    Parameters
    ----------
    output
        As on its plate [A].
    landing_lamp
        Whether the landing lamp burns too.

    Returns
    -------
    Working
        95 % with the lamp, 80 % without [A].

    Source
    ------
    [190-00734-17 p 3-24]

    Examples
    --------
    >>> generator_limit_190_00734_17(60.0, landing_lamp=True).value
    57.0
    """
    share = 0.95 if landing_lamp else 0.80
    inputs = (Input("output", output, "A"), Input("landing lamp", "on" if landing_lamp else "off"))
    source = citation("190-00734-17", "p 3-24")
    formula = f"{share:.0%} of the output"
    return Working("greatest load in take-off and landing", output * share, "A", formula, inputs, source)


def summed_load(entries: Sequence[tuple[str, float, float]]) -> Working:
    """Return the continuous load of a phase.

    Parameters
    ----------
    entries
        Name, current [A] and the share of the phase that it is on, 0 to 1, of each load.

    Returns
    -------
    Working
        sum of I x share, with every load among its inputs [A].

    Source
    ------
    [14cfr23 sect 23.1351(a)(2)], [astm-f2490]

    Examples
    --------
    >>> summed_load([("lamps", 2.0, 1.0), ("pump", 5.0, 0.1)]).value
    2.5
    """
    value = sum(current * share for _, current, share in entries)
    inputs = tuple(
        Input(name if share == 1 else f"{name}, {share:.0%} of the time", current, "A")
        for name, current, share in entries
    )
    source = citation("14cfr23", "sect 23.1351(a)(2)")
    return Working("continuous load", value, "A", "sum of I x share of the time", inputs, source, "practice")


def judged_generator_load(load: Working, limit: Working) -> Judgement:
    """Judge a phase's load against what the generators may carry.

    Parameters
    ----------
    load, limit
        [A]

    Returns
    -------
    Judgement
        With what to do where the load is too great.

    Source
    ------
    [ac43.13-1b par 11-35a]
    """
    cure = "Shed load in this phase, placard what may be on together, or fit an ammeter the crew can watch."
    return judged("Generator load", value=load, limit=limit, cure=cure)


def low_volts_warning(nominal: float) -> Working:
    """Return the bus volts at which a low-volts warning should show.

    Parameters
    ----------
    nominal
        12 or 14, 24 or 28; another supply in proportion, with a note [V].

    Returns
    -------
    Working
        13 or 26 [V].

    Source
    ------
    [ac43.13-1b par 11-35b]

    Examples
    --------
    >>> low_volts_warning(24).value, low_volts_warning(12).value
    (26.0, 13.0)
    """
    entry = (Input("supply", nominal, "V"),)
    source = citation("ac43.13-1b", "par 11-35b")
    for low, high, warning in ((11.5, 15.0, 13.0), (23.0, 30.0, 26.0)):
        if low <= nominal <= high:
            return Working("low-volts warning", warning, "V", "as printed", entry, source)
    note = f"No source gives it for {nominal:g} V; 13/12 of the battery's volts is the printed ratio."
    own = citation("method", "sect 6.2")
    return Working(
        "low-volts warning", nominal * 13 / 12, "V", "supply x 13 / 12", entry, own, "computed", note
    )


def assumed_capacity_share(practice: Literal["us", "uk"]) -> Working:
    """Return the share of a battery's stamped capacity that an analysis may count on.

    Parameters
    ----------
    practice
        ``us`` 0.75; ``uk`` 0.72: 80 % of the stamped one-hour capacity, 90 % charged.

    Returns
    -------
    Working
        [1]

    Raises
    ------
    UnknownName
        For another practice.

    Notes
    -----
    The American figure was read in a worked example; the British one is from memory.

    Source
    ------
    [190-01007-a3 fig 3-19], [ail0194]

    Examples
    --------
    >>> assumed_capacity_share("us").value, round(assumed_capacity_share("uk").value, 2)
    (0.75, 0.72)
    """
    if practice not in ("us", "uk"):
        raise UnknownName("practice", practice, ("us", "uk"))
    source: Citation
    status: Status
    if practice == "us":
        value, formula, source, status = 0.75, "as printed", citation("190-01007-a3", "fig 3-19"), "read"
    else:
        value, formula, source, status = 0.8 * 0.9, "0.8 x 0.9", citation("ail0194"), "memory"
    return Working("share of the capacity", value, "", formula, (), source, status)


def judged_emergency_endurance(endurance: Working, *, required: float = 1800.0) -> Judgement:
    """Judge how long the battery lasts after the generators fail against what is required.

    Parameters
    ----------
    endurance
        [s]
    required
        Half an hour where nothing is said; a restored machine's own authority may ask otherwise [s].

    Returns
    -------
    Judgement
        The required time against the endurance.

    Source
    ------
    [14cfr23 sect 23.1353(h)], [190-01007-a3 fig 3-19]

    Examples
    --------
    The printed example: 40.8 min where 30 are required.

    >>> from loomlore.sizing.endurance import endurance_simple, usable_charge
    >>> judged_emergency_endurance(endurance_simple(usable_charge(3600, share=1), current=1)).passes
    True
    """
    source = citation("190-01007-a3", "fig 3-19")
    needed = Working("required endurance", required, "s", "as required", (), source)
    cure = "Shed more load, sooner, or fit a larger battery."
    return judged("Battery after the generators fail", value=needed, limit=endurance, cure=cure)


def greatest_average(steps: Sequence[tuple[float, float]], *, window: float) -> Working:
    """Return the greatest mean current over any stretch of a phase as long as a time class.

    Parameters
    ----------
    steps
        Time [s] and current [A] of each stretch of steady current, one behind the other.
    window
        5 s, 300 s, or longer than the phase for its whole mean [s].

    Returns
    -------
    Working
        [A]

    Notes
    -----
    A mean over a moving window is greatest where the window begins or ends at a step. The classes of 5 s,
    5 min and continuous are from memory.

    Source
    ------
    [mil-e-7016f], [astm-f2490], [method sect 6.1]

    Examples
    --------
    A landing lamp's motor, 4 A for 6 s beside 20 A of lamps for 10 min, in the 5 s and 5 min classes.

    >>> phase = [(6.0, 24.0), (594.0, 20.0)]
    >>> greatest_average(phase, window=5).value, round(greatest_average(phase, window=300).value, 2)
    (24.0, 20.08)
    """
    ends = list(accumulate((time for time, _ in steps), initial=0.0))
    charges = list(accumulate((time * current for time, current in steps), initial=0.0))
    span = min(window, ends[-1])
    starts = {s for end in ends for s in (end, end - span) if -1e-9 <= s <= ends[-1] - span + 1e-9}
    value = max(
        (_charge_at(s + span, ends, charges) - _charge_at(s, ends, charges)) / span for s in sorted(starts)
    )
    inputs = (Input("window", span, "s"), Input("steps", str(len(steps))))
    source = citation("mil-e-7016f")
    return Working("greatest mean", value, "A", "charge in the window / window", inputs, source, "memory")


def _charge_at(time: float, ends: Sequence[float], charges: Sequence[float]) -> float:
    k = next((k for k in range(1, len(ends) - 1) if time <= ends[k]), len(ends) - 1)
    rate = (charges[k] - charges[k - 1]) / (ends[k] - ends[k - 1])
    return charges[k - 1] + (time - ends[k - 1]) * rate
