"""A statement about function made ready to be judged: what it presumes, names, speaks of, and leaves unsaid.

What is moved in every way are the levers that the sentence names and those that the wiring lets change what it
looks at. What is moved alone, one at a time, are the other controls that could still make a difference: those
that the limit left out, those of the supply and of the services spoken of, and those that draw so much that
the common supply sags.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from loomlore.behaviour.exploring import (
    Operation,
    lever_values,
    levers_of_conditions,
    levers_of_items,
)
from loomlore.behaviour.influence import (
    circuits_measured,
    influence_of,
    levers_that_matter,
    supply_items,
)
from loomlore.behaviour.operating import Moves, operated, read_setting, rest
from loomlore.behaviour.readings import services_of
from loomlore.network.building import Plant
from loomlore.network.conditions import AllOf, Condition, LeverCompare, LeverIs, Measured, StateIs, leaves
from loomlore.network.settling import Settled
from loomlore.record.model import Statement
from loomlore.sentences import Sentence, conjunction, words_of

__all__ = [
    "Case",
    "is_function",
    "presumed",
    "ready",
    "refusal",
    "sentences_of",
    "services_named",
    "services_spoken_of",
]

MOST_COMBINATIONS = 300


def is_function(statement: Statement) -> bool:
    """Whether a statement is about function (and not about a property).

    Parameters
    ----------
    statement
        Any.

    Returns
    -------
    bool
        True where something is to be seen.
    """
    return statement.then is not None or bool(statement.steps)


def presumed(plant: Plant, statement: Statement) -> Sentence | None:
    """What a statement is read with: its own ``given``, else the dossier's and its services' standing ones.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function.

    Returns
    -------
    Sentence or None
        None where nothing is presumed.
    """
    if statement.given_none:
        return None
    if statement.given is not None:
        return statement.given
    dossier = plant.installation.dossier
    services = services_named(plant, _items_named(plant, (statement.then, *(s.see for s in statement.steps))))
    return conjunction(dossier.header.given, *(dossier.services[s].given for s in services))


def _items_named(plant: Plant, sentences: Iterable[Sentence | None]) -> tuple[str, ...]:
    """Items that sentences speak of."""
    found: dict[str, None] = {}
    for sentence in sentences:
        for name in words_of(sentence) if sentence is not None else ():
            for candidate in (name, name.partition(".")[0]):
                if candidate in plant.installation.equipment:
                    found.setdefault(candidate)
    return tuple(found)


def services_named(plant: Plant, items: Sequence[str]) -> tuple[str, ...]:
    """Services that items belong to.

    Parameters
    ----------
    plant
        The installation.
    items
        Item ids.

    Returns
    -------
    tuple of str
        Service ids, each once.
    """
    by_item = services_of(plant.installation)
    return tuple(dict.fromkeys(s for item in items for s in by_item.get(item, ())))


def services_spoken_of(plant: Plant, statement: Statement) -> frozenset[str]:
    """Services of the items that a statement names.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function.

    Returns
    -------
    frozenset of str
        Service ids.
    """
    by_item = services_of(plant.installation)
    sentences = sentences_of(statement, None)
    names = {n.partition(".")[0] for s in sentences if s is not None for n in words_of(s)}
    return frozenset(service for name in names for service in by_item.get(name, ()))


@dataclass(kw_only=True)
class Case:
    """A statement made ready: its conditions, levers, and what it leaves unsaid.

    ``named`` are the levers that it names, ``stated`` those in its presumptions and its occasion; ``one_way``
    the fuses and cartridges that it says nothing about. Which levers make a difference is sought when it is asked.
    """

    plant: Plant
    statement: Statement
    given: Sentence | None
    before: Condition
    then: Condition
    named: set[int]
    stated: set[int]
    one_way: tuple[int, ...]
    held: list[tuple[int, Settled]] = field(default_factory=list)
    failed: list[tuple[int, Settled, tuple[Operation, ...], Settled]] = field(default_factory=list)
    unknown: int = 0
    restless: tuple[tuple[Operation, ...], Settled] | None = None

    @property
    def levers(self) -> tuple[int, ...]:
        """Those that are moved in every way: named, and as many of those that the wiring lets matter as can be."""
        return self._split[0]

    @cached_property
    def alone(self) -> tuple[int, ...]:
        """Those that are moved alone: left out of the others, of the supply and the services, and that make it sag."""
        plant = self.plant
        supply = list(supply_items(plant))
        of_supply = levers_of_items(plant, supply)
        others = levers_of_items(plant, [*supply, *_of_services(plant, self._looked_at)])
        found = {n for n in others if n in of_supply or not plant.network.levers[n].world}
        found |= set(self._split[1]) | sagging(plant)
        return tuple(sorted(n for n in found - set(self.levers) if not _is_joint(plant, n)))

    @cached_property
    def cuts(self) -> Mapping[int, tuple[float, ...]]:
        """Where each range is cut, by lever, in its own unit [unit]."""
        return _cuts(self.plant, sentences_of(self.statement, self.given))

    @cached_property
    def features(self) -> tuple[tuple[str, int], ...]:
        """What the sentence leaves unsaid: (lever or variable, its number)."""
        return _features(self, _items_around(self.plant, self._conditions))

    @property
    def _looked_at(self) -> list[Sentence | None]:
        return [self.statement.then, *(step.see for step in self.statement.steps)]

    @property
    def _conditions(self) -> list[Condition]:
        return [self.plant.lexicon.condition(s) for s in self._looked_at if s is not None]

    @cached_property
    def _split(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Levers within the limit, and those left out."""
        plant = self.plant
        matter = levers_that_matter(plant, (), self._conditions) - self.named
        wider = {n for n in matter if not _is_joint(plant, n)}
        levers, left = _within_limit(plant, self.named, wider, self.cuts)
        return tuple(levers), tuple(left)

    def values(self, lever: int) -> tuple[float, ...]:
        """The values of a lever that can make a difference to this statement."""
        return lever_values(self.plant, lever, thresholds=self.cuts.get(lever))


def sentences_of(statement: Statement, given: Sentence | None) -> tuple[Sentence | None, ...]:
    """All sentences of a statement about function.

    Parameters
    ----------
    statement
        About function.
    given
        What it is read with.

    Returns
    -------
    tuple of Sentence or None
        Presumptions, occasion, what is then so, and what is seen on the way.
    """
    return (given, statement.when, statement.then, *(step.see for step in statement.steps))


def refusal(plant: Plant, statement: Statement, given: Sentence | None) -> tuple[str, str] | None:
    """Whether a statement cannot be judged at all, since a name stands for nothing here.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function.
    given
        What it is read with.

    Returns
    -------
    tuple of str and str, or None
        Out of scope or not computable, and why.
    """
    doubts = []
    for sentence in sentences_of(statement, given):
        if sentence is None:
            continue
        plant.lexicon.condition(sentence)
        doubts += [plant.lexicon.doubts[name] for name in words_of(sentence) if name in plant.lexicon.doubts]
    written = f"statement {statement.id}"
    for step in statement.steps:
        _, findings = read_setting(plant, step.do, place=step.where, subject=written)
        if findings and not any(d.not_fitted for d in doubts):
            missing = _not_fitted_name(plant, step.do)
            verdict = "out-of-scope" if missing else "not-computable"
            return verdict, findings[0].message
    for doubt in doubts:
        if doubt.not_fitted:
            because = f"{doubt.name} is not fitted in this standard of fit."
            return "out-of-scope", because
    if doubts:
        because = f"{doubts[0].message} {doubts[0].hint}"
        return "not-computable", because
    return None


def _not_fitted_name(plant: Plant, names: Iterable[str]) -> bool:
    whole, fitted = plant.installation.whole, plant.installation.dossier
    for name in names:
        for table in ("items", "controls", "conditions"):
            first = name.partition(".")[0]
            if first in getattr(whole, table) and first not in getattr(fitted, table):
                return True
    return False


def ready(plant: Plant, statement: Statement, given: Sentence | None) -> Case:
    """Make a statement ready to be judged.

    Parameters
    ----------
    plant
        The installation.
    statement
        About function; :func:`refusal` has nothing against it.
    given
        What it is read with.

    Returns
    -------
    Case
        Nothing judged yet.
    """
    lexicon = plant.lexicon
    sentences = sentences_of(statement, given)
    named = levers_of_conditions(plant, [lexicon.condition(s) for s in sentences if s is not None])
    stated = levers_of_conditions(plant, [lexicon.condition(given), lexicon.condition(statement.when)])
    for step in statement.steps:
        named |= set(read_setting(plant, step.do)[0].levers)
    before = AllOf((lexicon.condition(given), lexicon.condition(statement.when)))
    return Case(
        plant=plant,
        statement=statement,
        given=given,
        before=before,
        then=lexicon.condition(statement.then),
        named=named,
        stated=stated,
        one_way=_one_way(plant, (lexicon.condition(given), lexicon.condition(statement.when))),
    )


SAG = 0.05
"""Share of its volts that a common supply loses by a heavy draught: a twentieth dims a lamp for all to see.
Common practice, no source."""


@lru_cache(maxsize=16)
def sagging(plant: Plant) -> frozenset[int]:
    """Levers that alone make the common supply sag: they reach every load, by no wiring but the supply's own.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    frozenset of int
        Such as starter pushes; the supply's own levers are not among them.
    """
    start = operated(plant, rest(plant), _presumed_moves(plant))
    buses = sorted({b.a for b in plant.network.branches if b.sort == "fuse"})
    own = levers_of_items(plant, list(supply_items(plant)))
    found: set[int] = set()
    for number, lever in enumerate(plant.network.levers):
        if number in own or _is_joint(plant, number):
            continue
        for value in lever_values(plant, number):
            if value != start.memory.levers[number]:
                there = operated(plant, start, Moves({number: value}))
                if lever.world and there.solution is start.solution:
                    continue
                if any(_sags(start, there, bus) for bus in buses):
                    found.add(number)
    return frozenset(found)


def _sags(before: Settled, after: Settled, node: int) -> bool:
    volts = abs(before.solution.potentials[node])
    return volts > 1.0 and abs(after.solution.potentials[node]) < (1 - SAG) * volts


def _presumed_moves(plant: Plant) -> Moves:
    """What the dossier's standing presumption moves: the master on."""
    condition = plant.lexicon.condition(plant.installation.dossier.header.given)
    moves = {leaf.lever: float(leaf.positions[0]) for leaf in leaves(condition) if isinstance(leaf, LeverIs)}
    return Moves(moves)


def _is_joint(plant: Plant, lever: int) -> bool:
    return plant.network.levers[lever].positions == ("in", "parted")


def _of_services(plant: Plant, sentences: Sequence[Sentence | None]) -> list[str]:
    """Items of the services whose items the sentences speak of."""
    services = set(services_named(plant, _items_named(plant, sentences)))
    return [item for item, of in services_of(plant.installation).items() if services & set(of)]


def _items_around(plant: Plant, conditions: Sequence[Condition]) -> list[str]:
    """Items in the circuits that conditions look at: whose latches and fuses a sentence may leave unsaid."""
    influence = influence_of(plant)
    circuits = {c for condition in conditions for leaf in leaves(condition) for c in _circuits(plant, leaf)}
    branches = [plant.network.branches[n] for c in circuits for n in influence.branches[c]]
    return list(dict.fromkeys(branch.item for branch in branches if branch.item))


def _circuits(plant: Plant, leaf: Condition) -> list[int]:
    if isinstance(leaf, StateIs):
        branch = plant.network.variables[leaf.variable].branch
        return [influence_of(plant).circuit_of[branch]] if branch >= 0 else []
    return circuits_measured(plant, leaf) if isinstance(leaf, Measured) else []


def _cuts(plant: Plant, sentences: Sequence[Sentence | None]) -> Mapping[int, tuple[float, ...]]:
    """Where each range is cut: where the installation itself changes, and where this statement's sentences do."""
    cuts = {n: set(lever.wired) for n, lever in enumerate(plant.network.levers) if not lever.positions}
    for sentence in sentences:
        for leaf in leaves(plant.lexicon.condition(sentence)) if sentence is not None else ():
            if isinstance(leaf, LeverCompare):
                cuts[leaf.lever] |= {limit for _, limit in leaf.limits}
    return {n: tuple(sorted(found)) for n, found in cuts.items()}


def _within_limit(
    plant: Plant, named: set[int], wider: set[int], cuts: Mapping[int, tuple[float, ...]]
) -> tuple[list[int], list[int]]:
    """As many levers as the limit lets be combined, the named ones first, then those with fewest values."""
    levers, left, product = sorted(named), [], 1
    for lever in levers:
        product *= len(lever_values(plant, lever, thresholds=cuts.get(lever)))
    counts = {n: len(lever_values(plant, n, thresholds=cuts.get(n))) for n in wider}
    for lever in sorted(wider, key=lambda n: (counts[n], n)):
        count = counts[lever]
        if product * count <= MOST_COMBINATIONS:
            product *= count
            levers.append(lever)
        else:
            left.append(lever)
    return sorted(levers), left


def _one_way(plant: Plant, stated: Sequence[Condition]) -> tuple[int, ...]:
    """Fuses and cartridges that the sentence says nothing about beforehand."""
    spoken = {leaf.variable for c in stated for leaf in leaves(c) if isinstance(leaf, StateIs)}
    spoken |= {
        plant.network.branches[leaf.a].memory
        for c in stated
        for leaf in leaves(c)
        if isinstance(leaf, Measured) and leaf.of == "state"
    }
    variables = enumerate(plant.network.variables)
    return tuple(n for n, v in variables if v.what in ("blown", "fired") and n not in spoken)


def _features(case: Case, items: Sequence[str]) -> tuple[tuple[str, int], ...]:
    """What the sentence leaves unsaid: levers it does not name, latches and fuses of its items."""
    plant = case.plant
    levers = [("lever", n) for n in (*case.levers, *case.alone) if n not in case.named]
    spoken = {
        leaf.variable
        for s in sentences_of(case.statement, case.given)
        if s is not None
        for leaf in leaves(plant.lexicon.condition(s))
        if isinstance(leaf, StateIs)
    }
    wanted = set(items)
    memories = [
        ("variable", n)
        for n, variable in enumerate(plant.network.variables)
        if variable.what == "latch" and variable.name.rpartition(".")[0] in wanted and n not in spoken
    ]
    return (*levers, *memories)
