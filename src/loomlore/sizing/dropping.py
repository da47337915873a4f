"""Every load's drop judged: hot conductors, doubtful lengths, disputed sizes, and which of them decides.

Three plants with one numbering are solved in each load's worst case: lengths at their middle, all at the
longer end, all at the shorter, each conductor as warm as it runs. A drop that keeps to its limit with the
longest lengths passes; one that breaks it with the shortest fails; between, the doubt decides, and it is
named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from loomlore.behaviour.readings import name_of
from loomlore.catalogue.conductors import conductor_resistance, resistance_working
from loomlore.findings import LoomloreError, UnreadableValue
from loomlore.network.building import UNKNOWN_LENGTH, UNKNOWN_SIZE, Plant
from loomlore.network.settling import Memory
from loomlore.network.solving import Solution, solve
from loomlore.quantities import Quantity, Size, read_quantity, read_size
from loomlore.record.lengths import Length, cable_length
from loomlore.record.model import Cable, Dossier
from loomlore.references import Input, Working, citation
from loomlore.sizing.bundles import Warmth, size_of
from loomlore.sizing.drop import drop_limit, judged_drop, share_of_supply_limit, voltage_drop
from loomlore.sizing.duty import Study, starter_motors
from loomlore.sizing.judging import Judgement
from loomlore.sizing.runs import LoadRun, drop_along, worst_runs
from loomlore.sizing.variants import with_resistances

__all__ = ["CableLength", "Dispute", "DropVerdict", "Verdict", "judged_runs", "lengths_of"]

NEGLIGIBLE = 0.005
"""A doubt that moves a drop by less than this share of its limit is not told."""


@dataclass(frozen=True, slots=True)
class CableLength:
    """A cable's length for sizing: middle, ends, and how it came.

    ``known`` says whether it was written at all.
    """

    value: float
    low: float
    high: float
    how: str
    explanation: str
    known: bool
    estimated: bool

    @property
    def doubtful(self) -> bool:
        """Whether its ends differ."""
        return self.high > self.low


@dataclass(frozen=True, slots=True)
class Dispute:
    """What a drop would be if another source's word were taken.

    ``what`` in words, ``whole`` for all its run.
    """

    cable: str
    statement: str
    source: str
    what: str
    drop: float
    passes: bool
    whole: bool


@dataclass(frozen=True, slots=True)
class Verdict:
    """A drop against one limit: ``word`` is passes, fails or in doubt; ``decides`` says what decides."""

    limit: Working
    judgement: Judgement
    word: str
    decides: str = ""
    disputes: tuple[Dispute, ...] = ()


@dataclass(frozen=True, slots=True)
class DropVerdict:
    """A load's drop in its worst setting.

    ``cold`` at 20 °C with the middle lengths, ``hot`` as warm as it runs, ``low`` and ``high`` with the
    shortest and the longest lengths; ``words`` the setting; ``intermittent`` by which column it is judged.
    """

    run: LoadRun
    words: str
    cold: float
    hot: Working
    low: float
    high: float
    intermittent: bool
    verdicts: tuple[Verdict, ...]


def lengths_of(dossier: Dossier) -> dict[str, CableLength]:
    """The lengths of all cables, with their doubt.

    Parameters
    ----------
    dossier
        In one standard of fit.

    Returns
    -------
    dict of str to CableLength
        By mark; where nothing is known, the plain value that the network takes.
    """
    return {cable.id: _length(cable_length(cable, dossier)) for cable in dossier.cables.values()}


def _length(length: Length | None) -> CableLength:
    if length is None:
        plain = UNKNOWN_LENGTH
        return CableLength(
            plain, plain, plain, "unknown", "not known; taken as 2 m", known=False, estimated=True
        )
    q = length.quantity
    return CableLength(q.value, q.low, q.high, length.how, length.explanation, True, length.estimated)


def conductor_of(cable: Cable, dossier: Dossier) -> Size:
    """A cable's size, or the plain one that the network takes where the record gives none."""
    return size_of(cable, dossier) or UNKNOWN_SIZE


def warm_resistances(
    plant: Plant,
    warmth: Mapping[str, Warmth],
    metres: Callable[[str], float],
    *,
    sizes: Mapping[str, Size] | None = None,
) -> dict[int, float]:
    """The resistance [ohm] of each cable's branch, as warm as it runs."""
    dossier = plant.installation.dossier
    found: dict[int, float] = {}
    for cable in dossier.cables.values():
        number = plant.network.branch_of.get(f"cable:{cable.id}")
        if number is None:
            continue
        size = (sizes or {}).get(cable.id) or conductor_of(cable, dossier)
        warm = warmth[cable.id].temperature.value if cable.id in warmth else 20.0
        try:
            found[number] = conductor_resistance(size, length=metres(cable.id), temperature=min(warm, 250.0))
        except LoomloreError:
            continue
    return found


@dataclass(frozen=True, eq=False)
class _Bench:
    """The plants with other lengths, and what was solved in them."""

    study: Study
    lengths: Mapping[str, CableLength]
    warmth: Mapping[str, Warmth]
    middle: Plant
    longest: Plant
    shortest: Plant

    def solved(self, plant: Plant, case: int) -> Solution:
        memory: Memory = self.study.cases[case].settled.memory
        solution = self.study.cases[case].solution
        return solve(plant.solver, memory.levers, solution.variables, near=solution)

    def mark_of(self, branch: int) -> str:
        record = self.study.plant.network.branches[branch]
        return record.name if record.sort == "cable" else ""


def judged_runs(
    study: Study, warmth: Mapping[str, Warmth], *, share: float | None = None, longest_only: bool = False
) -> tuple[DropVerdict, ...]:
    """Judge the drop at every load in its worst setting.

    Parameters
    ----------
    study
        All cases.
    warmth
        How warm each cable runs.
    share
        A period or user limit as a share of the supply, beside the circular's [1].
    longest_only
        Take every length at its longer end, and leave what other sources say aside.

    Returns
    -------
    tuple of DropVerdict
        In order of the record; starters and cartridges are not judged here, since their drop is their
        current's.

    Source
    ------
    [ac43.13-1b table 11-6], [method sect 2.3]
    """
    plant = study.plant
    lengths = lengths_of(plant.installation.dossier)

    def made(metres: Callable[[str], float]) -> Plant:
        return with_resistances(plant, warm_resistances(plant, warmth, metres))

    middle = made(lambda mark: lengths[mark].high if longest_only else lengths[mark].value)
    doubtful = not longest_only and any(length.doubtful for length in lengths.values())
    bench = _Bench(
        study=study,
        lengths=lengths,
        warmth=warmth,
        middle=middle,
        longest=made(lambda mark: lengths[mark].high) if doubtful else middle,
        shortest=made(lambda mark: lengths[mark].low) if doubtful else middle,
    )
    starters = starter_motors(plant)
    judged = (load for load in study.loads if load.sort != "cartridge" and load.branch not in starters)
    runs = worst_runs(study, loads=judged)
    alternatives = () if longest_only else tuple(_alternatives(bench))
    return tuple(_judged(bench, run, share, alternatives) for run in runs.values())


def is_intermittent(study: Study, run: LoadRun) -> bool:
    """Whether the load of a run is on only while a push is held, or for the seconds of its own travel."""
    network = study.plant.network
    if any(movement.branch == run.load.branch for movement in network.movements):
        return True
    own = [c for c in study.cases if abs(c.amps[run.load.branch]) > 0.5 * study.most[run.load.branch][0]]
    return bool(own) and all(case.momentary for case in own)


def _judged(
    bench: _Bench, run: LoadRun, share: float | None, alternatives: tuple[_Alternative, ...]
) -> DropVerdict:
    supply = bench.study.plant.network.supply
    intermittent = is_intermittent(bench.study, run)
    limits = [drop_limit(supply, intermittent=intermittent)]
    if share is not None:
        limits.append(share_of_supply_limit(supply, share=share))
    hot = _hot_working(bench, run)
    low = drop_along(bench.solved(bench.shortest, run.case), run)
    high = drop_along(bench.solved(bench.longest, run.case), run)
    return DropVerdict(
        run=run,
        words=bench.study.cases[run.case].words,
        cold=run.drop,
        hot=hot,
        low=low,
        high=high,
        intermittent=intermittent,
        verdicts=tuple(_verdict(bench, run, hot, low, high, limit, alternatives) for limit in limits),
    )


def _hot_working(bench: _Bench, run: LoadRun) -> Working:
    """The drop piece by piece: each cable's I L r with its own resistance, hot."""
    solution = bench.solved(bench.middle, run.case)
    network, dossier = bench.study.plant.network, bench.study.plant.installation.dossier
    inputs = []
    for part in run.parts:
        volts, mark = abs(solution.volts(part.branch)), bench.mark_of(part.branch)
        working = None
        if mark and mark in bench.warmth and abs(solution.amps(part.branch)) > 0:
            size = conductor_of(dossier.cables[mark], dossier)
            warm = min(bench.warmth[mark].temperature.value, 250.0)
            r = resistance_working(size, temperature=warm)
            amps, length = abs(solution.amps(part.branch)), bench.lengths[mark].value
            working = voltage_drop(current=amps, length=length, resistance=r)
        name = f"cable {mark}" if mark else name_of(bench.study.plant, network.branches[part.branch].name)
        inputs.append(Input(name, volts, "V", working))
    total = sum(float(entry.value) for entry in inputs)
    formula = "sum of the drops of its wiring, from the solved network"
    source = citation("method", "sect 2.3")
    return Working(
        f"drop at {name_of(bench.study.plant, run.load.name)}",
        total,
        "V",
        formula,
        tuple(inputs),
        source,
        "computed",
    )


def _verdict(
    bench: _Bench,
    run: LoadRun,
    hot: Working,
    low: float,
    high: float,
    limit: Working,
    alternatives: tuple[_Alternative, ...],
) -> Verdict:
    def passes(drop: float) -> bool:
        return judged_drop(replace(hot, value=drop), limit).passes

    worse = (
        replace(hot, value=high, formula=f"{hot.formula}, lengths at their longer ends")
        if high > low
        else hot
    )
    judgement = judged_drop(worse, limit)
    word = "passes" if judgement.passes else "in doubt" if passes(low) else "fails"
    decides = _deciding(bench, run, hot.value, limit, passes) if word == "in doubt" else ""
    disputes = tuple(_disputed(run, alternatives, limit, passes))
    return Verdict(limit, judgement, word, decides, disputes)


def _deciding(
    bench: _Bench, run: LoadRun, middle: float, limit: Working, passes: Callable[[float], bool]
) -> str:
    """Which cables' doubt carries the drop over the limit, the greatest first."""
    solution = bench.solved(bench.longest, run.case)
    swings = []
    for part in run.parts:
        mark = bench.mark_of(part.branch)
        length = bench.lengths.get(mark)
        if length is None or not length.doubtful:
            continue
        swing = abs(solution.volts(part.branch)) * (length.high - length.low) / length.high
        if swing > NEGLIGIBLE * limit.value:
            swings.append((swing, mark, length))
    swings.sort(key=lambda entry: -entry[0])
    stands = "passes" if passes(middle) else "fails"
    told = [
        f"{mark} ({length.low:.3g} to {length.high:.3g} m, worth {swing:.2f} V)"
        for swing, mark, length in swings[:3]
    ]
    listed = " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)
    return f"It {stands} with the middle lengths. Measure {listed}: that decides." if told else ""


# -- disputed sizes and lengths ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Alternative:
    """Another source's word for a cable, and the plant that it makes; ``whole`` for all of its run alike."""

    cable: str
    marks: frozenset[str]
    statement: str
    source: str
    what: str
    plant: Plant
    bench: _Bench
    whole: bool


def _alternatives(bench: _Bench) -> Iterator[_Alternative]:
    plant = bench.study.plant
    dossier = plant.installation.dossier
    for statement in dossier.statements.values():
        mark, _, key = statement.about.partition(".")
        cable = dossier.cables.get(mark)
        if cable is None or key not in ("size", "length"):
            continue
        try:
            said: Size | Quantity = (
                read_size(statement.says) if key == "size" else read_quantity(statement.says, "length")
            )
        except UnreadableValue:
            continue
        own = conductor_of(cable, dossier)
        if isinstance(said, Size) and said.text == own.text:
            continue
        if isinstance(said, Quantity) and said.value == bench.lengths[mark].value:
            continue
        alike = frozenset(
            c.id
            for c in dossier.cables.values()
            if c.service == cable.service and conductor_of(c, dossier) == own
        )
        source = str(statement.source) if statement.source else statement.id
        groups = [(frozenset({mark}), False)]
        if isinstance(said, Size) and len(alike) > 1:
            groups.append((alike, True))
        for marks, whole in groups:
            made = _with_said(bench, marks, said)
            yield _Alternative(mark, marks, statement.id, source, statement.says, made, bench, whole)


def _with_said(bench: _Bench, marks: frozenset[str], said: Size | Quantity) -> Plant:
    plant = bench.study.plant
    sizes = dict.fromkeys(marks, said) if isinstance(said, Size) else None

    def metres(mark: str) -> float:
        if isinstance(said, Quantity) and mark in marks:
            return said.high
        return bench.lengths[mark].high

    return with_resistances(plant, warm_resistances(plant, bench.warmth, metres, sizes=sizes))


def _disputed(
    run: LoadRun, alternatives: tuple[_Alternative, ...], limit: Working, passes: Callable[[float], bool]
) -> Iterator[Dispute]:
    along = set(run.branches())
    for other in alternatives:
        branch_of = other.plant.network.branch_of
        if not along & {branch_of.get(f"cable:{mark}", -1) for mark in other.marks}:
            continue
        if branch_of.get(f"cable:{other.cable}", -1) not in along:
            continue
        drop = drop_along(other.bench.solved(other.plant, run.case), run)
        if abs(drop - run.drop) > NEGLIGIBLE * limit.value:
            yield Dispute(
                other.cable, other.statement, other.source, other.what, drop, passes(drop), other.whole
            )
