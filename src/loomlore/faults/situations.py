"""How an installation stands when a fault is looked for: at rest, ready, in each phase, at work.

A fault in a circuit that is off hides. So beside rest and the phases of the record every load is brought to
work once: the fewest levers that do it are found, and moves that do not disturb each other are made
together. Nothing is fired and nothing explosive is worked here; cartridges have their own study.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, product

from loomlore.behaviour.exploring import Operation, lever_values, levers_of_items
from loomlore.behaviour.operating import Moves, operated, read_setting, rest
from loomlore.behaviour.readings import items_of
from loomlore.behaviour.tables.reaching import cone_of
from loomlore.behaviour.tables.telling import listed, lowered, order_words
from loomlore.faults.terminals import services_at
from loomlore.network.building import Plant
from loomlore.network.conditions import AllOf, Condition, LeverCompare, LeverIs, StateIs, leaves, within
from loomlore.network.laws import (
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Magneto,
    Meter,
    Motor,
    Straight,
)
from loomlore.network.settling import Settled
from loomlore.record.model import AIRFRAME
from loomlore.sentences import Sentence

__all__ = [
    "Situation",
    "charges_of",
    "is_load",
    "loads_of",
    "magnetos_of",
    "moved_from",
    "presumed_moves",
    "ready",
    "services_of_lever",
    "situations_of",
]

MOST_TOGETHER = 8
"""Merged situations at most; what is left over then is studied only as the phases have it."""

CARRIES = 1e-3
"""Amperes from which a contact is taken to be at work."""

MOST_TRIED = 60
"""Single and double moves tried for one load at most."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Situation:
    """One way the installation stands. ``minutes`` is how long a phase lasts, 0 for what is no phase.

    ``moves`` are the levers moved from rest; ``only`` the services whose faults are looked at in it (all
    where empty): a situation that only makes one more contact carry current tells nothing of the rest.
    ``about`` are the faults for whose sake alone it is there (ids; all where empty).
    """

    id: str
    title: str
    settled: Settled
    moves: tuple[tuple[int, float], ...] = ()
    minutes: float = 0.0
    only: frozenset[str] = frozenset()
    about: frozenset[str] = frozenset()

    def words(self, plant: Plant, services: Iterable[str] = ()) -> str:
        """The situation in a sentence; of several moves only those that matter to some services."""
        wanted = set(services)
        kept = self.moves
        if wanted and len(self.moves) > 1 and not self.about:
            always = {lever for lever, _ in ready(plant).moves}
            kept = tuple(m for m in self.moves if m[0] in always or wanted & services_of_lever(plant, m[0]))
        if self.id in ("rest", "ready") or self.minutes or not kept:
            return self.title
        orders = [order_words(plant, Operation(lever, value)) for lever, value in kept]
        return f"{self.title}: {listed(orders)}"


@lru_cache(maxsize=8)
def _lever_services(plant: Plant) -> Mapping[int, frozenset[str]]:
    found: dict[int, set[str]] = {}
    for branch in plant.network.branches:
        services = set(services_at(plant, (branch.item,), ())) if branch.item else set()
        levers = {branch.follows} - {-1}
        for condition in (branch.closed, branch.works):
            levers |= set(_levers(plant, condition))
        for lever in levers:
            found.setdefault(lever, set()).update(services)
    return {lever: frozenset(services) for lever, services in found.items()}


def _levers(plant: Plant, condition: Condition | None) -> Iterator[int]:
    """Levers that a condition speaks of, through latches."""
    for leaf in leaves(condition) if condition is not None else ():
        if isinstance(leaf, LeverIs | LeverCompare):
            yield leaf.lever
        elif isinstance(leaf, StateIs):
            rule = plant.network.variables[leaf.variable].latch
            for part in (rule.set, rule.release, rule.set_on, rule.release_on) if rule is not None else ():
                for inner in leaves(part) if part is not None else ():
                    if isinstance(inner, LeverIs | LeverCompare):
                        yield inner.lever


def services_of_lever(plant: Plant, lever: int) -> frozenset[str]:
    """Services in which a lever moves something.

    Parameters
    ----------
    plant
        The installation.
    lever
        Its number.

    Returns
    -------
    frozenset of str
        Service ids.
    """
    return _lever_services(plant).get(lever, frozenset())


def moved_from(plant: Plant, base: Settled, moves: Mapping[int, float]) -> Settled:
    """An installation with some levers moved, settled.

    Parameters
    ----------
    plant
        The installation.
    base
        Where things stand.
    moves
        New value by lever, in the lever's own inside unit [1].

    Returns
    -------
    Settled
        With the memory of before.
    """
    return operated(plant, base, Moves(dict(moves), {}))


# -- ready -----------------------------------------------------------------------------------------


@lru_cache(maxsize=8)
def ready(plant: Plant) -> Situation:
    """The installation with the standing presumptions of its record made true, such as the master on.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    Situation
        Rest where there are none.
    """
    header = plant.installation.dossier.header
    moves = presumed_moves(plant, header.given)
    if not moves:
        return Situation(id="rest", title="at rest", settled=rest(plant))
    orders = [order_words(plant, Operation(lever, value)) for lever, value in moves.items()]
    title = f"{listed(orders)}, nothing else touched"
    return Situation(
        id="ready", title=title, settled=moved_from(plant, rest(plant), moves), moves=tuple(moves.items())
    )


def presumed_moves(plant: Plant, given: Sentence | None) -> dict[int, float]:
    """Levers that a presumption wants elsewhere than at rest, as far as it is a plain "and" of positions.

    Parameters
    ----------
    plant
        The installation.
    given
        A standing presumption.

    Returns
    -------
    dict of int to float
        New value by lever, in the lever's own inside unit [1].
    """
    if given is None:
        return {}
    moves: dict[int, float] = {}
    condition = plant.lexicon.condition(given)
    for part in condition.parts if isinstance(condition, AllOf) else (condition,):
        match part:
            case LeverIs(lever, positions) if plant.network.levers[lever].start not in positions:
                moves[lever] = float(positions[0])
            case LeverCompare(lever, _):
                values = lever_values(plant, lever)
                good = [v for v in values if _keeps(part, v)]
                if good and not _keeps(part, plant.network.levers[lever].start):
                    moves[lever] = good[0]
            case _:
                continue
    return moves


def _keeps(part: LeverCompare, value: float) -> bool:
    return within(value, part.limits)


# -- loads -----------------------------------------------------------------------------------------


@lru_cache(maxsize=8)
def _decisive(plant: Plant) -> frozenset[int]:
    """Variables on which a contact or a machine depends, through latches."""
    network = plant.network
    found: set[int] = set()
    waiting = [c for b in network.branches for c in (b.closed, b.works) if c is not None]
    while waiting:
        for leaf in leaves(waiting.pop()):
            if isinstance(leaf, StateIs) and leaf.variable not in found:
                found.add(leaf.variable)
                variable = network.variables[leaf.variable]
                rule = variable.latch
                parts = (rule.set, rule.release, rule.set_on, rule.release_on) if rule is not None else ()
                waiting += [part for part in (*parts, variable.test) if part is not None]
    return frozenset(found)


def is_load(plant: Plant, number: int) -> bool:
    """Whether a branch is something that is seen, heard or felt at work, or shows a reading.

    Parameters
    ----------
    plant
        The installation.
    number
        Of the branch.

    Returns
    -------
    bool
        A coil counts where it moves no contact: a valve, a hook, a counter.
    """
    branch = plant.network.branches[number]
    law = branch.law
    if isinstance(law, Coil):
        return branch.memory not in _decisive(plant)
    if isinstance(law, Straight):
        return bool(law.states)
    if isinstance(law, Meter):
        dials = plant.network.dials.get(number, ())
        return any(plant.network.indications[dial].first == number for dial in dials)
    return isinstance(law, Filament | Motor | ConstantPower)


@lru_cache(maxsize=8)
def loads_of(plant: Plant) -> tuple[int, ...]:
    """Branches that are loads, in order of the network.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of int
        Without cartridges and magnetos.
    """
    return tuple(n for n in range(len(plant.network.branches)) if is_load(plant, n))


def _at_work(plant: Plant, settled: Settled, number: int) -> bool:
    law = plant.network.branches[number].law
    if plant.network.branches[number].sort == "contact":
        return abs(settled.solution.amps(number)) > CARRIES
    state = settled.solution.state(number)
    return state == 2 if isinstance(law, Meter) else state > 0


def charges_of(plant: Plant) -> tuple[int, ...]:
    """Branches that are cartridges.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of int
        Their numbers.
    """
    return tuple(n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Cartridge))


def _fires(plant: Plant, settled: Settled) -> bool:
    return any(settled.solution.state(n) > 0 for n in charges_of(plant))


# -- all situations --------------------------------------------------------------------------------


@lru_cache(maxsize=8)
def situations_of(plant: Plant) -> tuple[Situation, ...]:
    """Rest, ready, every phase, and the services at work.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of Situation
        In that order.
    """
    found = [Situation(id="rest", title="at rest", settled=rest(plant))]
    start = ready(plant)
    if start.id != "rest":
        found.append(start)
    for phase in plant.installation.dossier.phases.values():
        moves, slips = read_setting(plant, phase.settings)
        if slips:
            continue
        settled = operated(plant, rest(plant), moves)
        minutes = phase.minutes.value / 60 if phase.minutes else 1.0
        title = lowered(phase.title or phase.id.replace("-", " "))
        found.append(
            Situation(
                id=phase.id,
                title=f"in the phase '{title}'",
                settled=settled,
                moves=tuple(moves.levers.items()),
                minutes=minutes,
            )
        )
    for base, title in ((found[0], "shut down"), (start, "ready")):
        if base.id == "rest" and title == "ready":
            continue
        found += _together(plant, base, title, found, (*loads_of(plant), *_machines(plant)))
    contacts = [
        n for n, b in enumerate(plant.network.branches) if b.sort == "contact" and b.closed is not None
    ]
    for situation in _together(plant, start, "ready", found, contacts):
        new = [
            n
            for n in contacts
            if _at_work(plant, situation.settled, n) and not any(_at_work(plant, s.settled, n) for s in found)
        ]
        services = {s for n in new for s in services_at(plant, (plant.network.branches[n].item,), ())}
        found.append(
            replace(situation, id=situation.id.replace("at-work", "other-contacts"), only=frozenset(services))
        )
    return (*found, *_shared_earths(plant, found[0], start))


MOST_AT_A_BOLT = 4
"""Situations for one bolt."""


def _shared_earths(plant: Plant, shut_down: Situation, start: Situation) -> Iterator[Situation]:
    """One service at work and another one's switches on, for each two that share an earth bolt.

    A lifted bolt lets the one feed the other backwards, and most where the other's bus is dead.
    """
    dossier = plant.installation.dossier
    for bolt in dossier.earths:
        terminal = f"{AIRFRAME}.{bolt}"
        services = list(
            dict.fromkeys(
                c.service for c in dossier.cables.values() if terminal in (c.from_, c.to) and c.service
            )
        )
        moves = {s: _service_moves(plant, shut_down, start, terminal, s) for s in services}
        made = 0
        for first, second in ((a, b) for a in services for b in services if a != b):
            alive, switched = moves[first][0], moves[second][1]
            if alive is None or switched is None or made >= MOST_AT_A_BOLT:
                continue
            made += 1
            both = {**switched, **alive}
            settled = moved_from(plant, shut_down.settled, both)
            if not _fires(plant, settled):
                yield Situation(
                    id=f"{bolt}-{first}-{second}",
                    title="shut down",
                    settled=settled,
                    moves=tuple(both.items()),
                    about=frozenset((f"{terminal}.lifted",)),
                )


def _service_moves(
    plant: Plant, shut_down: Situation, start: Situation, bolt: str, service: str
) -> tuple[dict[int, float] | None, dict[int, float] | None]:
    """What brings a load that returns to a bolt to work with the aeroplane shut down, and with it ready."""
    cables = plant.installation.dossier.cables.values()
    ends = [
        c.from_ if c.to == bolt else c.to for c in cables if bolt in (c.from_, c.to) and c.service == service
    ]
    items = {end.rpartition(".")[0] for end in ends}
    loads = [n for n in loads_of(plant) if plant.network.branches[n].item in items]
    for load in loads:
        if _at_work(plant, start.settled, load):
            return (None, {})
        ready_moves = _moves_for(plant, start, load)
        if ready_moves is not None:
            return _moves_for(plant, shut_down, load), ready_moves
    return None, None


def _together(
    plant: Plant, base: Situation, title: str, known: Sequence[Situation], numbers: Iterable[int]
) -> list[Situation]:
    """Loads (or contacts) at work in no situation before, brought to work with as many as agree."""
    wanted = [n for n in numbers if not any(_at_work(plant, s.settled, n) for s in known)]
    found = {n: own for n in wanted if (own := _moves_for(plant, base, n)) is not None}
    made: list[Situation] = []
    while found and len(made) < MOST_TOGETHER:
        moves: dict[int, float] = {}
        taken: list[int] = []
        for number, own in found.items():
            heavy = _heavy(plant, number)
            if (taken and (heavy or _heavy(plant, taken[0]))) or any(
                moves.get(k, v) != v for k, v in own.items()
            ):
                continue
            trial = moved_from(plant, base.settled, {**moves, **own})
            if all(_at_work(plant, trial, n) for n in (*taken, number)) and not _fires(plant, trial):
                moves.update(own)
                taken.append(number)
        if not taken:
            break
        found = {n: m for n, m in found.items() if n not in taken}
        settled = moved_from(plant, base.settled, moves)
        name = f"{title.replace(' ', '-')}-at-work-{len(made) + 1}"
        made.append(Situation(id=name, title=title, settled=settled, moves=(*base.moves, *moves.items())))
    return made


def _heavy(plant: Plant, number: int) -> bool:
    """A starter drags the bus down: it is studied by itself."""
    item = plant.network.branches[number].item
    return plant.installation.equipment[item].symbol == "starter"


def _machines(plant: Plant) -> tuple[int, ...]:
    return tuple(n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Generator))


def _moves_for(plant: Plant, base: Situation, number: int) -> dict[int, float] | None:
    """The fewest levers that bring a load to work: those of its own circuit, else of its service."""
    levers = set(cone_of(plant, (number,)).levers) | ({plant.network.branches[number].follows} - {-1})
    by_hand_first = sorted(levers, key=lambda n: (plant.network.levers[n].world, n))
    found = _first_that_works(plant, base, number, by_hand_first)
    if found is None:
        item = plant.network.branches[number].item
        items = {i for s in services_at(plant, (item,), ()) for i in items_of(plant.installation, s)}
        single = [n for n in sorted(levers_of_items(plant, tuple(items))) if not _is_joint(plant, n)]
        found = _first_that_works(plant, base, number, single)
    return found


def _is_joint(plant: Plant, lever: int) -> bool:
    return plant.network.levers[lever].positions == ("in", "parted")


def _first_that_works(
    plant: Plant, base: Situation, number: int, levers: Sequence[int]
) -> dict[int, float] | None:
    values = {n: [v for v in _tried(plant, n) if v != base.settled.memory.levers[n]] for n in levers}
    tried = 0
    for size in (1, 2):
        for chosen in combinations(levers, size):
            for choice in product(*(values[n] for n in chosen)):
                moves = dict(zip(chosen, choice, strict=True))
                tried += 1
                if tried > MOST_TRIED:
                    return None
                there = moved_from(plant, base.settled, moves)
                if _at_work(plant, there, number) and not _fires(plant, there):
                    return moves
    return None


def _tried(plant: Plant, lever: int) -> tuple[float, ...]:
    record = plant.network.levers[lever]
    values = lever_values(plant, lever)
    return values if record.positions else tuple(dict.fromkeys((record.high, *values)))


def magnetos_of(plant: Plant) -> tuple[int, ...]:
    """Branches that are magnetos.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    tuple of int
        Their numbers.
    """
    return tuple(n for n, b in enumerate(plant.network.branches) if isinstance(b.law, Magneto))
