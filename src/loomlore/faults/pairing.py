"""Two faults at once: what a pair does that neither of the two does alone.

A doubled lamp hides the failure of one, a heavy fuse the short that it should have cleared, a stuck push the one in
series with it. Every pair of a service's faults is put in, in each of some situations, and what either of the two
does there by itself is taken away; what is left is told, the gravest and the best hidden first.

The work is cut into *chunks*: a situation, and a slice of the list of pairs, which is always in the same order:
first those in which both hide when they are alone, then those in which one does, or is of a kind that works on
others (an earth, a heavy fuse, a stuck contact), among each other the likelier first. A chunk's key names it, so
that chunks may be worked out anywhere and in any order, twice if a machine is lost, and are counted once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from loomlore.faults.criticality import SEVERITIES, severity_of
from loomlore.faults.effects import Change, Effect, effects_of
from loomlore.faults.injecting import Workshop, alike_of, case_of, put_in, representatives, together
from loomlore.faults.modes import Fault, faults_of
from loomlore.faults.situations import Situation, magnetos_of, situations_of
from loomlore.faults.terminals import services_at
from loomlore.network.building import Plant
from loomlore.network.cases import Case

__all__ = [
    "MOST_PAIRS",
    "Chunk",
    "ChunkDone",
    "Find",
    "PairStudy",
    "Plan",
    "chunks_of",
    "gathered",
    "pair_study",
    "plan_pairs",
    "worked_out",
]

MOST_PAIRS = 1000
"""Pairs tried of one service, in each situation, where no other limit is asked for."""

CHUNK = 256
"""Pairs in one chunk."""

TOLD = frozenset(
    (
        "fires",
        "above-no-fire",
        "live",
        "unfused",
        "unasked",
        "lost",
        "weak",
        "stopped",
        "misreads",
        "blows",
        "overcharged",
        "over-run",
        "overload",
        "chatters",
        "race",
    )
)
"""Kinds of change that are told of a pair: a lamp a little dimmer still is not."""


@dataclass(frozen=True, slots=True, order=True)
class Chunk:
    """A slice of the pairs in one situation. Chunks of one plan are told apart by it, wherever they are done."""

    situation: str
    start: int
    stop: int

    @property
    def key(self) -> str:
        """Such as ``ready/000256-000512``."""
        return f"{self.situation}/{self.start:06d}-{self.stop:06d}"


@dataclass(frozen=True, slots=True)
class Find:
    """What a pair does in one situation that neither does alone; the pair by its place in the plan's list."""

    pair: int
    situation: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class ChunkDone:
    """A chunk worked out: how many pairs were put in, how many cannot stand together, and what was found."""

    chunk: Chunk
    tried: int
    excluded: int
    finds: tuple[Find, ...]


@dataclass(eq=False)
class Plan:
    """Which pairs of which faults in which situations. ``of`` is how many pairs there are in all."""

    plant: Plant
    services: tuple[str, ...]
    situations: tuple[Situation, ...]
    faults: tuple[Fault, ...]
    pairs: tuple[tuple[int, int], ...]
    of: int
    hidden: frozenset[str]
    alone: dict[tuple[str, str], frozenset[tuple[str, str]]] = field(default_factory=dict)
    known: set[str] = field(default_factory=set)
    workshop: Workshop | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Twosome:
    """A pair that does something of its own, and where. ``hidden`` says that nobody sees either alone."""

    first: Fault
    second: Fault
    severity: str
    hidden: bool
    effects: tuple[Effect, ...]

    @property
    def likelihood(self) -> float:
        """Weight after a rebuild: the product of the two."""
        return self.first.likelihood * self.second.likelihood


@dataclass(frozen=True, kw_only=True, eq=False)
class PairStudy:
    """What pairs do. ``pairs`` of ``of_pairs`` were to be tried; ``tried`` and ``excluded`` count pairs in situations.

    ``left`` are the chunks that were not done.
    """

    plant: Plant
    services: tuple[str, ...]
    situations: tuple[Situation, ...]
    pairs: int
    of_pairs: int
    tried: int
    excluded: int
    found: tuple[Twosome, ...]
    left: int = 0

    @property
    def whole(self) -> bool:
        """Whether every pair was tried in every situation."""
        return not self.left and self.pairs == self.of_pairs


def plan_pairs(
    plant: Plant,
    services: Iterable[str],
    *,
    situations: Iterable[str] = (),
    most: int = MOST_PAIRS,
    hidden: Iterable[str] | None = None,
) -> Plan:
    """List the pairs of a service's faults in their order, and the situations in which they are tried.

    Parameters
    ----------
    plant
        The installation.
    services
        Whose faults.
    situations
        Ids of situations; where empty all those in which one of the faults changes anything.
    most
        Pairs at most, 0 for no limit.
    hidden
        Faults that nobody sees alone, where that is known; worked out where None.

    Returns
    -------
    Plan
        The same for the same record, whatever machine makes it.
    """
    wanted = tuple(services)
    chosen = [f for f in faults_of(plant) if set(wanted) & set(f.services)]
    alike = representatives(plant, chosen)
    worked = list({f.id: f for f in alike.values() if alike_of(plant, f) != ("nothing",)}.values())
    plan = Plan(
        plant=plant,
        services=wanted,
        situations=(),
        faults=tuple(worked),
        pairs=(),
        of=len(worked) * (len(worked) - 1) // 2,
        hidden=frozenset(hidden or ()),
        workshop=Workshop(plant),
    )
    plan.situations = tuple(_concerned(plan, set(situations)))
    if hidden is None:
        plan.hidden = _hidden(plan)
    listed = sorted(combinations(range(len(worked)), 2), key=lambda pair: _rank(plan, pair))
    plan.pairs = tuple(listed[:most] if most else listed)
    return plan


WORKS_ON_OTHERS = ("lifted", "missing", "too-heavy", "sticks", "sticks-in", "touching", "bridged")
"""Modes that change what another fault does."""


def _rank(plan: Plan, pair: tuple[int, int]) -> tuple[int, float]:
    faults = [plan.faults[n] for n in pair]
    hide = sum(f.id in plan.hidden for f in faults)
    works = any(f.mode in WORKS_ON_OTHERS for f in faults)
    return -2 if hide == 2 else -1 if hide or works else 0, -faults[0].likelihood * faults[1].likelihood


def _hidden(plan: Plan) -> frozenset[str]:
    for situation in plan.situations:
        _alone(plan, situation)
    seen = {fault for (fault, _), changes in plan.alone.items() if changes}
    return frozenset(f.id for f in plan.faults if f.id not in seen)


def _concerned(plan: Plan, asked: set[str]) -> Iterator[Situation]:
    ids = {f.id for f in plan.faults}
    for situation in situations_of(plan.plant):
        if asked:
            if situation.id in asked:
                yield situation
            continue
        if (situation.about and not situation.about & ids) or (
            situation.only and not situation.only & set(plan.services)
        ):
            continue
        _alone(plan, situation)
        if any(plan.alone[f.id, situation.id] for f in plan.faults):
            yield situation


def _quiet(plan: Plan) -> bool:
    items = {plan.plant.network.branches[n].item for n in magnetos_of(plan.plant)}
    return not set(services_at(plan.plant, items, ())) & {s for f in plan.faults for s in f.services}


def _alone(plan: Plan, situation: Situation) -> None:
    """Work out once what each fault does in a situation by itself."""
    if situation.id in plan.known:
        return
    assert plan.workshop is not None
    cases = [(f, c) for f in plan.faults if (c := case_of(plan.plant, f, situation.settled)) is not None]
    results = put_in(plan.workshop, situation, cases, quiet=_quiet(plan))
    for fault in plan.faults:
        plan.alone[fault.id, situation.id] = frozenset()
    for effect in effects_of(plan.plant, results):
        plan.alone[effect.fault.id, situation.id] = frozenset((c.name, c.kind) for c in effect.changes)
    plan.known.add(situation.id)


def chunks_of(plan: Plan, *, size: int = CHUNK) -> tuple[Chunk, ...]:
    """Cut a plan's work into chunks.

    Parameters
    ----------
    plan
        From :func:`plan_pairs`.
    size
        Pairs in one.

    Returns
    -------
    tuple of Chunk
        The likelier pairs of every situation before the others.
    """
    starts = range(0, len(plan.pairs), size)
    return tuple(
        Chunk(situation.id, start, min(start + size, len(plan.pairs)))
        for start in starts
        for situation in plan.situations
    )


def worked_out(plan: Plan, chunk: Chunk) -> ChunkDone:
    """Work out one chunk.

    Parameters
    ----------
    plan
        From :func:`plan_pairs`.
    chunk
        One of :func:`chunks_of`.

    Returns
    -------
    ChunkDone
        The same whenever and wherever it is done.
    """
    plant = plan.plant
    situation = next(s for s in plan.situations if s.id == chunk.situation)
    _alone(plan, situation)
    assert plan.workshop is not None
    cases = {n: case_of(plant, f, situation.settled) for n, f in enumerate(plan.faults)}
    taken: list[tuple[int, Case]] = []
    for number in range(chunk.start, chunk.stop):
        first, second = (cases[n] for n in plan.pairs[number])
        both = together(first, second) if first is not None and second is not None else None
        if both is not None:
            taken.append((number, both))
    put = [(plan.faults[plan.pairs[number][0]], case) for number, case in taken]
    seconds = [plan.faults[plan.pairs[number][1]] for number, _ in taken]
    results = put_in(plan.workshop, situation, put, quiet=_quiet(plan), seconds=seconds)
    finds = tuple(
        find
        for (number, _), effect in zip(taken, effects_of(plant, results), strict=True)
        if (find := _find(plan, number, effect)) is not None
    )
    return ChunkDone(chunk, len(taken), chunk.stop - chunk.start - len(taken), finds)


def _find(plan: Plan, number: int, effect: Effect) -> Find | None:
    """What is new in a pair's effect; None where each of the two does it alone."""
    own: set[tuple[str, str]] = set()
    for place in plan.pairs[number]:
        own |= plan.alone[plan.faults[place].id, effect.situation.id]
    if _one_thing(*(plan.faults[place] for place in plan.pairs[number])):
        return None
    fresh = tuple(c for c in effect.changes if c.kind in TOLD and (c.name, c.kind) not in own)
    fresh = tuple(c for c in fresh if not _follows(c, own) and (c.kind != "misreads" or not own))
    return Find(number, effect.situation.id, fresh) if fresh else None


def _one_thing(first: Fault, second: Fault) -> bool:
    """Whether both are on one lead and one of them is a crossing: the other's effect is only somewhere else."""
    return "crossed" in (first.mode, second.mode) and bool(set(first.cables) & set(second.cables))


def _follows(change: Change, own: set[tuple[str, str]]) -> bool:
    """Whether a change is only a nuance of what one of the two does: lost instead of weak, or the other way."""
    alike = (
        ("lost", "weak", "dimmer", "misreads"),
        ("unasked", "brighter", "over-run"),
        ("blows", "overload"),
    )
    return any(change.kind in kinds and any((change.name, k) in own for k in kinds) for kinds in alike)


def gathered(plan: Plan, done: Iterable[ChunkDone], *, of: int) -> PairStudy:
    """Put chunks together into a study; a chunk that came twice counts once.

    Parameters
    ----------
    plan
        From :func:`plan_pairs`.
    done
        Chunks, in any order.
    of
        How many chunks there are.

    Returns
    -------
    PairStudy
        The gravest pairs first, then those that are hidden alone, then the likelier.
    """
    by_key = {one.chunk.key: one for one in done}
    chunks = [by_key[key] for key in sorted(by_key)]
    finds: dict[int, list[Find]] = {}
    for one in chunks:
        for find in one.finds:
            finds.setdefault(find.pair, []).append(find)
    return PairStudy(
        plant=plan.plant,
        services=plan.services,
        situations=plan.situations,
        pairs=len(plan.pairs),
        of_pairs=plan.of,
        tried=sum(one.tried for one in chunks),
        excluded=sum(one.excluded for one in chunks),
        found=_ranked(plan, finds),
        left=of - len(chunks),
    )


def _ranked(plan: Plan, finds: Mapping[int, Sequence[Find]]) -> tuple[Twosome, ...]:
    situations = {s.id: s for s in plan.situations}
    order = list(situations)
    found = []
    for number, those in finds.items():
        first, second = (plan.faults[n] for n in plan.pairs[number])
        effects = tuple(
            Effect(first, situations[f.situation], f.changes)
            for f in sorted(those, key=lambda f: order.index(f.situation))
        )
        grades = {id(e): severity_of(plan.plant, e.changes) for e in effects}
        effects = tuple(sorted(effects, key=lambda e: SEVERITIES.index(grades[id(e)])))
        hidden = {first.id, second.id} <= plan.hidden
        found.append(
            Twosome(
                first=first,
                second=second,
                severity=min(grades.values(), key=SEVERITIES.index),
                hidden=hidden,
                effects=effects,
            )
        )
    return tuple(
        sorted(
            found,
            key=lambda t: (
                SEVERITIES.index(t.severity),
                not t.hidden,
                -t.likelihood,
                t.first.id,
                t.second.id,
            ),
        )
    )


def pair_study(
    plant: Plant,
    services: Iterable[str],
    *,
    situations: Iterable[str] = (),
    most: int = MOST_PAIRS,
    told: Callable[[int, int], None] | None = None,
) -> PairStudy:
    """Every pair of a service's faults, in one process.

    Parameters
    ----------
    plant
        The installation.
    services
        Whose faults.
    situations
        Ids of situations; where empty all those in which one of the faults changes anything.
    most
        Pairs at most, in their order; 0 for no limit.
    told
        Called with chunks done and chunks in all.

    Returns
    -------
    PairStudy
        Also where it is broken off with Ctrl-C: what is done by then, and how much is left.
    """
    plan = plan_pairs(plant, services, situations=situations, most=most)
    chunks = chunks_of(plan)
    done: list[ChunkDone] = []
    try:
        for chunk in chunks:
            done.append(worked_out(plan, chunk))
            if told is not None:
                told(len(done), len(chunks))
    except KeyboardInterrupt:
        if not done:
            raise
    return gathered(plan, done, of=len(chunks))
