"""The shape of each answer's plain data, as ``--json`` prints it. Published as JSON Schema in docs/schemas.

Amounts are SI: volts, amperes, watts, ohms, metres, seconds. A key once published keeps its meaning; new keys
may be added.
"""

from __future__ import annotations

from typing import Any, Literal

from typing_extensions import TypedDict

__all__ = [
    "CablesData",
    "CardsData",
    "CheckData",
    "DrawData",
    "EnteredData",
    "FaultsData",
    "FindingData",
    "FunctionsData",
    "ImportData",
    "LoadsData",
    "LocateData",
    "MomentData",
    "OperateData",
    "PlaceData",
    "PropertyData",
    "ReadingData",
    "SourcesData",
    "StatementData",
]

VerdictWord = Literal[
    "proved", "proved-if", "contradicted", "never-reached", "not-computable", "out-of-scope"
]


class PlaceData(TypedDict):
    """Where in the text; lines and columns from 1, 0 where unknown."""

    file: str
    line: int
    column: int


class FindingData(TypedDict):
    """One finding."""

    rule: str
    severity: Literal["note", "warning", "error"]
    file: str
    line: int
    column: int
    message: str
    hint: str
    subject: str
    also_at: list[PlaceData]


class CheckData(TypedDict):
    """``loomlore check --json``."""

    answer: Literal["check"]
    title: str
    counts: dict[str, int]
    findings: list[FindingData]
    errors: int
    warnings: int
    notes: int
    caution: str


class ReadingData(TypedDict):
    """An element as it stands."""

    item: str
    part: str
    name: str
    state: str
    volts: float
    amps: float
    watts: float
    shows: str
    light: float | None


class FuseData(TypedDict):
    """A whole fuse that carries something [A]."""

    name: str
    amps: float
    carrying: float


class MomentData(TypedDict):
    """How things stand at one time; ``verdict`` is whether a step's ``see`` held."""

    done: str
    see: str
    verdict: Literal["", "so", "not so", "unknown"]
    note: str
    readings: list[ReadingData]
    sources: list[ReadingData]
    fuses: list[FuseData]
    delivered_watts: float
    residual_watts: float
    happened: list[str]


class PositionData(TypedDict):
    """A control or condition that has been moved from rest."""

    name: str
    position: str


class OperateData(TypedDict):
    """``loomlore operate --json``."""

    answer: Literal["operate"]
    title: str
    standard: str
    positions: list[PositionData]
    moments: list[MomentData]
    findings: list[FindingData]
    caution: str


class FitsVerdictData(TypedDict):
    """The verdict with certain fits fitted."""

    fits: list[str]
    verdict: VerdictWord


class StatementData(TypedDict):
    """A statement about function, judged."""

    id: str
    source: str
    words: str
    verdict: VerdictWord
    given: str
    condition: str
    condition_sentence: str
    because: str
    operations: list[str]
    seen: list[str]
    states: int
    reached: int
    set_aside: str
    by_fits: list[FitsVerdictData]


class MatterData(TypedDict):
    """One property that sources speak of; ``witnesses`` counts independent sources of each value."""

    about: str
    fit: str
    state: Literal["agreed", "decided", "in dispute"]
    witnesses: dict[str, int]
    statements: list[str]
    decision: str
    because: str
    recorded: str
    kept: bool | None


class DisputeData(TypedDict):
    """Function statements that a decision weighs against one another, by id; ``parting`` is where they part."""

    decision: str
    because: str
    dissent: str
    adopted: list[str]
    rejected: list[str]
    verdicts: dict[str, VerdictWord]
    parting: str


class ChangeData(TypedDict):
    """One thing that a reading changes, with the record's reading and with the other, and both as a sentence."""

    what: Literal[
        "verdict", "state", "mark", "amount", "drop", "fuse", "protection", "machine", "bolt", "check"
    ]
    subject: str
    setting: str
    recorded: str
    otherwise: str
    words: str


class RivalReadingData(TypedDict):
    """A reading that is not the record's, and what it changes; ``nothing`` says why where that is nothing.

    ``cables`` are those that it is tried in together, ``aside`` what had to be taken along with it.
    """

    value: str
    statements: list[str]
    cables: list[str]
    aside: str
    changes: list[ChangeData]
    nothing: str


class ContrastData(TypedDict):
    """A property on which sources differ, and what changes electrically with each reading."""

    about: str
    fit: str
    fits: list[str]
    recorded: str
    readings: list[RivalReadingData]


class NotReadData(TypedDict):
    """A statement with a sentence that could not be read: see ``check``."""

    id: str
    source: str
    words: str
    file: str
    line: int


class PropertyData(TypedDict):
    """What the sources say of properties, and which function statements they weigh."""

    counts: dict[str, int]
    standings: dict[str, int]
    matters: list[MatterData]
    disputes: list[DisputeData]
    contrasts: list[ContrastData]


class SourcesData(TypedDict):
    """``loomlore sources --json``."""

    answer: Literal["sources"]
    title: str
    standard: str
    counts: dict[str, int]
    left: int
    statements: list[StatementData]
    not_read: list[NotReadData]
    properties: PropertyData
    caution: str


class RowData(TypedDict):
    """A row of a function table: what is done under each column, what is seen of each thing."""

    done: list[str]
    seen: list[str]


class TableData(TypedDict):
    """A function table; ``otherwise`` is what is seen where no row fits."""

    columns: list[str]
    things: list[str]
    rows: list[RowData]
    otherwise: list[str]
    wants_live_supply: bool
    fewest: Literal["exact", "fewest found"]
    sayings: list[str]


class SupplyData(TypedDict):
    """A kind of supply and how it comes about."""

    name: str
    reached_by: str


class ServiceFunctionsData(TypedDict):
    """The function tables of one service."""

    service: str
    title: str
    fed_by: str
    supplies: list[SupplyData]
    settings: int
    whole: bool
    warnings: list[str]
    tables: list[TableData]


class FunctionsData(TypedDict):
    """``loomlore functions --json``."""

    answer: Literal["functions"]
    title: str
    standard: str
    services: list[ServiceFunctionsData]
    caution: str


class PlateData(TypedDict):
    """A service's plate."""

    number: int
    service: str
    title: str
    sheets: int


class DrawData(TypedDict):
    """``loomlore draw --json``."""

    answer: Literal["draw"]
    title: str
    standard: str
    plates: list[PlateData]
    files: list[str]
    left_out: list[str]
    caution: str


class ImportData(TypedDict):
    """``loomlore import --json``."""

    answer: Literal["import"]
    source: str
    file: str
    cables: int
    unknown: list[str]
    findings: list[FindingData]


Working = dict[str, Any]
"""A judged figure with how it came: value, unit, formula, inputs, source; inputs may carry their own."""


class CablesData(TypedDict):
    """``loomlore cables --json``; lengths in metres, drops in volts, temperatures in degrees Celsius."""

    answer: Literal["cables"]
    title: str
    standard: str
    ambient: float
    altitude: float
    share: float | None
    settings_tried: int
    cables: list[Working]
    drops: list[Working]
    mains: list[Working]
    fuses: list[Working]
    switches: list[Working]
    rewirings: list[Working]
    findings: list[FindingData]
    caution: str


class BatteryTermsData(TypedDict):
    """What is counted on of a battery."""

    rate_hours: float
    share: float | None
    exponent: float
    temperature: float | None
    age: float


class StandardLoadsData(TypedDict):
    """Loads of one standard of fit."""

    standard: str
    title: str
    phases: list[Working]
    chart: list[Working]
    sharing: list[Working]
    endurance: list[Working]
    moorings: list[Working]
    starting: list[Working]


class LoadsData(TypedDict):
    """``loomlore loads --json``."""

    answer: Literal["loads"]
    title: str
    battery_terms: BatteryTermsData
    standards: list[StandardLoadsData]
    findings: list[FindingData]
    caution: str


class FaultsData(TypedDict):
    """``loomlore faults --json``."""

    answer: Literal["faults"]
    title: str
    standard: str
    service: str
    situations: list[Working]
    faults: list[Working]
    criticality: dict[str, Any]
    sneaks: list[Working]
    hazards: list[Working]
    pairs: list[Working]
    two_faults: list[Working]
    caution: str


class CardRowData(TypedDict):
    """One line of a test card; ``low`` and ``high`` are in the SI unit of ``dimension``.

    ``dimension`` is empty where the line is answered in words; ``verdict`` says how what was found lies to it.
    """

    id: str
    what: str
    where: str
    expect: str
    low: float | None
    high: float | None
    dimension: Literal["", "resistance", "voltage", "current"]
    cautions: list[str]
    of: list[str]
    if_wrong: list[str]
    as_found: str
    as_left: str
    meter: str
    date: str
    name: str
    verdict: Literal["", "as expected", "too low", "too high", "not a figure"]


class CardLimitData(TypedDict):
    """A published limit; ``status`` says how the figure came here."""

    what: str
    limit: str
    source: str
    status: str


class CardData(TypedDict):
    """One test card."""

    card: str
    title: str
    first: list[str]
    if_not_so: list[str]
    rows: list[CardRowData]
    limits: list[CardLimitData]


class CardsData(TypedDict):
    """``loomlore cards --json``."""

    answer: Literal["cards"]
    title: str
    standard: str
    service: str
    cards: list[CardData]
    caution: str


EnteredLineData = TypedDict(
    "EnteredLineData", {"line": str, "as": Literal["found", "left"], "value": str, "verdict": str}
)
"""One measurement that was entered."""


class NotEnteredData(TypedDict):
    """Something on the sheet that was not entered, and what to write."""

    severity: Literal["error", "warning", "note"]
    where: str
    message: str
    hint: str


class EnteredData(TypedDict):
    """``loomlore cards --enter FILE --json``; ``already`` counts what the record has."""

    answer: Literal["entered"]
    title: str
    file: str
    entered: list[EnteredLineData]
    already: int
    findings: list[NotEnteredData]
    caution: str


class SuspectData(TypedDict):
    """Faults that no check tells apart, with their probability together."""

    faults: list[str]
    words: list[str]
    probability: float


class LeverData(TypedDict):
    """A control and where to put it."""

    name: str
    position: str


class OutcomeData(TypedDict):
    """One outcome of a check: how likely it is, how many suspects it leaves, and the likeliest of them."""

    outcome: str
    probability: float
    left: int
    likeliest: list[str]


class NextCheckData(TypedDict):
    """The check that tells most for its minutes."""

    check: str
    words: str
    place: str
    minutes: float
    terminals: list[str]
    settings: list[LeverData]
    outcomes: list[OutcomeData]
    first: list[str]
    cautions: list[str]


class ProofData(TypedDict):
    """How one of the last suspects is proved."""

    look: str
    place: str
    minutes: float
    probability: float
    faults: list[str]
    cautions: list[str]


class LocateData(TypedDict):
    """``loomlore locate --json``: where a hunt stands, or what can be seen, or the charts of a service.

    ``contradicting_answers`` and ``contradicting_reports`` count from 1; ``report_mistaken`` is a probability;
    ``hunt`` is the hunt's file as data.
    """

    answer: Literal["locate"]
    title: str
    hunt: Working
    suspects: list[SuspectData]
    next: NextCheckData | None
    proofs: list[ProofData]
    contradicting_answers: list[int]
    contradicting_reports: list[int]
    report_mistaken: float
    unexplained: bool
    seeable: dict[str, list[str]]
    charts: list[Working]
    caution: str
