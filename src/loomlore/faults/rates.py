"""How often things fail, and in which way: published rates and mode shares, else judgement.

A *rate* belongs to a part in service: failures in a million hours, times the share of them that take one
mode. What a workshop does wrong (two leads crossed, the wrong lamp put in) has no rate by the hour; for
hunting a fault after a rebuild each mode has besides a *likelihood*, a bare weight after the order in which
restorers meet faults.

No table knows an aeroplane of 1940. Rates rank faults against each other; nobody should read an absolute
promise out of them. Each carries how well it is known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from loomlore.catalogue.published_tables import published_table
from loomlore.references import Status, status_of_row, weakest

__all__ = [
    "LEVELS",
    "LIKELIHOODS",
    "Rate",
    "effect_class",
    "item_criticality",
    "mode_criticality",
    "occurrence_level",
    "rate_of",
    "spares_suffice",
]

MODES_TABLE = "mil-hdbk-338b-1998-failure-modes"
RATES_TABLE = "mil-hdbk-217f-1995-base-rates"


@dataclass(frozen=True, slots=True)
class Rate:
    """Failures of a part in a million hours, the share of one mode, how well both are known, and from where.

    ``judged`` says which of the two is our judgement: "", "rate", "share" or "rate and share".
    """

    per_million_hours: float
    share: float
    status: Status
    source: str
    judged: str = ""

    @property
    def of_mode(self) -> float:
        """Failures of this mode in a million hours."""
        return self.per_million_hours * self.share


JUDGED_RATES: Mapping[str, float] = MappingProxyType(
    {
        "cable": 0.1,
        "sheath": 0.1,
        "bolt": 0.1,
        "bond": 0.1,
        "battery": 10.0,
        "generator": 20.0,
        "motor": 10.0,
        "starter": 20.0,
        "coil": 0.3,
        "solenoid": 0.5,
        "horn": 5.0,
        "heater": 5.0,
        "set": 50.0,
        "rectifier": 0.5,
        "resistor": 0.05,
        "rheostat": 1.0,
        "condenser": 0.3,
        "cartridge": 0.1,
        "magneto": 10.0,
    }
)
"""Failures in a million hours of parts that the published tables do not have: judgement, no source."""

_RATE_ROWS: Mapping[str, str] = MappingProxyType(
    {
        "fuse": "fuse",
        "switch": "switch toggle",
        "push": "switch push-button",
        "rotary": "switch rotary",
        "cam-switch": "switch limit",
        "pressure-switch": "switch pressure",
        "thermal-switch": "switch thermal",
        "relay": "relay at 25 C",
        "way": "connector circular",
        "meter": "meter panel DC",
    }
)

# part, mode: the table's item, its modes, the share of those counted to this mode (judgement where not 1)
_SHARES: Mapping[tuple[str, str], tuple[str, tuple[str, ...], float]] = MappingProxyType(
    {
        ("lamp", "burnt-out"): ("lamp/light", ("no illumination", "loss of illumination"), 1.0),
        ("fuse", "blown"): ("fuse", ("premature open",), 1.0),
        ("switch", "does-not-make"): ("switch toggle", ("open",), 1.0),
        ("switch", "sticks"): ("switch toggle", ("sticking", "short"), 1.0),
        ("push", "does-not-make"): ("switch push-button", ("open",), 1.0),
        ("push", "sticks"): ("switch push-button", ("sticking", "short"), 1.0),
        ("rotary", "does-not-make"): ("switch rotary", ("contact failure",), 1.0),
        ("rotary", "sticks"): ("switch rotary", ("improper output",), 0.5),
        ("thermal-switch", "does-not-make"): ("switch thermal", ("open",), 1.0),
        ("thermal-switch", "sticks"): ("switch thermal", ("short",), 1.0),
        ("relay", "does-not-pull"): ("relay", ("fails to trip",), 1.0),
        ("relay", "sticks-in"): ("relay", ("spurious trip",), 1.0),
        ("relay", "sticks"): ("relay", ("short",), 1.0),
        ("relay", "does-not-make"): ("relay", ("fails to trip",), 0.3),
        ("way", "open"): ("connector/connection", ("open",), 1.0),
        ("way", "high-resistance"): ("connector/connection", ("poor contact/intermittent",), 1.0),
        ("way", "bridged"): ("connector/connection", ("short",), 1.0),
        ("bolt", "open"): ("connector/connection", ("open",), 1.0),
        ("bolt", "high-resistance"): ("connector/connection", ("poor contact/intermittent",), 1.0),
        ("bond", "open"): ("connector/connection", ("open",), 1.0),
        ("bond", "high-resistance"): ("connector/connection", ("poor contact/intermittent",), 1.0),
        ("cable", "open"): ("cable", ("open",), 1.0),
        ("cable", "to-earth"): ("cable", ("short",), 0.8),
        ("cable", "touching"): ("cable", ("short",), 0.2),
        ("cable", "high-resistance"): ("cable", ("excessive wear",), 0.5),
        ("motor", "open"): ("motor electric", ("winding failure", "fails to start"), 0.7),
        ("motor", "shorted"): ("motor electric", ("winding failure",), 0.3),
        ("motor", "seized"): ("motor electric", ("bearing failure",), 1.0),
        ("starter", "open"): ("motor electric", ("winding failure", "fails to start"), 0.7),
        ("starter", "shorted"): ("motor electric", ("winding failure",), 0.3),
        ("starter", "seized"): ("motor electric", ("bearing failure",), 1.0),
        ("coil", "open"): ("coil", ("open",), 1.0),
        ("coil", "shorted"): ("coil", ("short",), 1.0),
        ("solenoid", "open"): ("solenoid", ("open",), 1.0),
        ("solenoid", "shorted"): ("solenoid", ("short",), 1.0),
        ("solenoid", "does-not-pull"): ("solenoid", ("slow movement",), 0.5),
        ("solenoid", "sticks-in"): ("solenoid", ("slow movement",), 0.5),
        ("generator", "open"): ("generator", ("no output",), 1.0),
        ("generator", "lost-residual"): ("generator", ("fails to run after start",), 1.0),
        ("generator", "regulator-stuck"): ("generator", ("loss of control",), 1.0),
        ("battery", "flat"): ("battery lead-acid", ("degraded output",), 1.0),
        ("battery", "cell-shorted"): ("battery lead-acid", ("short",), 1.0),
        ("battery", "open"): ("battery lead-acid", ("intermittent output",), 1.0),
        ("rectifier", "open"): ("diode general", ("open",), 1.0),
        ("rectifier", "shorted"): ("diode general", ("short",), 1.0),
        ("resistor", "open"): ("resistor wirewound", ("open",), 1.0),
        ("rheostat", "open"): ("resistor wirewound", ("open",), 1.0),
    }
)

_JUDGED_SHARES: Mapping[str, float] = MappingProxyType(
    {
        "open": 0.6,
        "shorted": 0.2,
        "burnt-out": 1.0,
        "does-not-make": 0.6,
        "sticks": 0.2,
        "does-not-pull": 0.5,
        "sticks-in": 0.2,
        "high-resistance": 0.3,
        "to-earth": 0.2,
        "touching": 0.05,
        "bridged": 0.1,
        "blown": 0.1,
        "flat": 0.7,
        "seized": 0.3,
    }
)
"""Share of a mode where no table has it: judgement, no source. What is not here is workmanship: no rate."""

LIKELIHOODS: Mapping[str, float] = MappingProxyType(
    {
        "crossed": 10.0,
        "high-resistance": 9.0,
        "lifted": 8.0,
        "missing": 4.0,
        "open": 7.0,
        "burnt-out": 7.0,
        "does-not-make": 7.0,
        "to-earth": 5.0,
        "touching": 2.0,
        "bridged": 3.0,
        "wrong-lamp": 4.0,
        "too-heavy": 4.0,
        "too-light": 2.0,
        "blown": 5.0,
        "reversed": 2.0,
        "sticks": 3.0,
        "does-not-pull": 3.0,
        "sticks-in": 1.0,
        "shorted": 1.0,
        "seized": 3.0,
        "flat": 4.0,
        "cell-shorted": 1.0,
        "lost-residual": 2.0,
        "regulator-stuck": 1.0,
        "parted": 3.0,
    }
)
"""Weights of the modes for a fault met after a rebuild, in the order a restorer meets them: judgement, after
common practice (crossed ways first, then joints, earths, open leads, chafed leads, wrong parts, contacts)."""


def rate_of(part: str, mode: str, *, volts: float = 24.0) -> Rate:
    """How often a part of an installation fails in one way.

    Parameters
    ----------
    part
        Such as ``lamp``, ``switch``, ``way`` or ``cable``.
    mode
        Such as ``burnt-out`` or ``high-resistance``.
    volts
        Rated volts, which decide a lamp's rate [V].

    Returns
    -------
    Rate
        Of nought where the mode is workmanship and has no rate by the hour.

    Source
    ------
    [mil-hdbk-217f sect 20.1] and the sections named in the table; [mil-hdbk-338b]

    Examples
    --------
    >>> rate_of("lamp", "burnt-out", volts=24).of_mode
    4.5
    >>> rate_of("cable", "crossed").of_mode
    0.0
    """
    number, status, source = _base_rate(part, volts)
    entry = _SHARES.get((part, mode))
    if entry is not None:
        share, share_status = _share(entry)
        judged = ["rate"] * (status == "practice") + ["share"] * (entry[2] != 1.0)
        named = f"{source}; share of modes: MIL-HDBK-338B"
        return Rate(number, share, weakest(status, share_status), named, " and ".join(judged))
    share = _JUDGED_SHARES.get(mode, 0.0)
    if share == 0.0:
        return Rate(number, 0.0, "practice", "workmanship: no rate by the hour", "share")
    judged = ["rate"] * (status == "practice") + ["share"]
    return Rate(number, share, weakest(status, "practice"), source, " and ".join(judged))


def _base_rate(part: str, volts: float) -> tuple[float, Status, str]:
    if part == "lamp":
        row = min(_lamp_rows(), key=lambda pair: abs(pair[0] - volts))[1]
        return (
            float(row["failures_per_million_hours"]),
            status_of_row(row["status"]),
            "MIL-HDBK-217F, sect 20.1",
        )
    if part in _RATE_ROWS:
        for row in published_table(RATES_TABLE):
            if row["item"] == _RATE_ROWS[part]:
                clause = row["section"].partition(" (")[0]
                return (
                    float(row["failures_per_million_hours"]),
                    status_of_row(row["status"]),
                    f"MIL-HDBK-217F, {clause}",
                )
    return JUDGED_RATES.get(part, 1.0), "practice", "judgement"


def _lamp_rows() -> list[tuple[float, Mapping[str, str]]]:
    rows = [row for row in published_table(RATES_TABLE) if row["item"].startswith("lamp, ")]
    return [(float(row["item"].removeprefix("lamp, ").removesuffix(" V")), row) for row in rows]


def _share(entry: tuple[str, tuple[str, ...], float]) -> tuple[float, Status]:
    item, modes, part_of = entry
    rows = [r for r in published_table(MODES_TABLE) if r["item"] == item and r["mode"] in modes]
    return part_of * sum(float(r["share"]) for r in rows), weakest(
        *(status_of_row(r["status"]) for r in rows)
    )


# -- criticality -----------------------------------------------------------------------------------


def mode_criticality(rate: float, *, share: float, effect: float, hours: float) -> float:
    """Criticality number of one failure mode: how many losses by it are to be expected.

    Parameters
    ----------
    rate
        Failures of the part in an hour [1].
    share
        Of them in this mode, alpha [1].
    effect
        Conditional probability that the mode has the effect of its severity class, beta [1].
    hours
        Time in which it can happen [h].

    Returns
    -------
    float
        C_m = beta alpha lambda_p t [1]

    Source
    ------
    [mil-std-1629a task 102]

    Examples
    --------
    >>> round(mode_criticality(7.2e-6, share=0.3, effect=0.5, hours=1) * 1e6, 2)
    1.08
    """
    return effect * share * rate * hours


def item_criticality(modes: list[float]) -> float:
    """Criticality number of an item in one severity class: the sum over its modes in that class.

    Parameters
    ----------
    modes
        Mode criticality numbers of one severity class [1].

    Returns
    -------
    float
        C_r [1]

    Source
    ------
    [mil-std-1629a task 102]
    """
    return math.fsum(modes)


LEVELS = (
    ("A", "frequent", 0.20),
    ("B", "reasonably probable", 0.10),
    ("C", "occasional", 0.01),
    ("D", "remote", 0.001),
    ("E", "extremely unlikely", 0.0),
)
"""Level, its word, and the share of the whole probability of failure above which it is reached.

The letters were read in retrieved text; the limits are from memory: check the print before leaning on
them."""


def occurrence_level(share: float) -> str:
    """Level A to E of a mode by its share of all failures in the time.

    Parameters
    ----------
    share
        Of the overall probability of failure [1].

    Returns
    -------
    str
        A letter.

    Source
    ------
    [mil-std-1629a task 102]

    Examples
    --------
    >>> occurrence_level(0.15)
    'B'
    """
    return next((letter for letter, _, above in LEVELS if share > above), "E")


def effect_class(effect: float) -> str:
    """Word for a conditional probability of the effect.

    Parameters
    ----------
    effect
        Beta [1].

    Returns
    -------
    str
        actual, probable, possible or none.

    Source
    ------
    [mil-std-1629a task 102]
    """
    if effect >= 1.0:
        return "actual"
    return "probable" if effect > 0.10 else "possible" if effect > 0 else "none"


def spares_suffice(rate: float, *, hours: float, spares: int) -> float:
    """Probability that so many spares see a part through: no more failures than spares, by Poisson's law.

    Parameters
    ----------
    rate
        Failures in an hour [1].
    hours
        Time to be covered [h].
    spares
        Held.

    Returns
    -------
    float
        Probability [1]

    Source
    ------
    [mil-hdbk-338b sect 5.3]

    Examples
    --------
    >>> round(spares_suffice(0.001, hours=500, spares=2), 3)
    0.986
    """
    mean = rate * hours
    return math.exp(-mean) * math.fsum(mean**k / math.factorial(k) for k in range(spares + 1))
