"""What a meter will read: ohms between any two terminals with the battery off, volts with it on.

An ohmmeter sees everything: its own leads, every path beside the one that is meant, lamps cold, motors
standing, a rectifier by the way round the leads are. So the whole installation is measured, with its controls
and contacts as they stand. Lamps are taken at their cold resistance and a range is given, since the meter's own
current warms a small one and no two are alike.

Method: what hangs together is one *body*; one of its nodes is taken as zero and the matrix of conductances is
inverted once, so that every pair of terminals in it is a sum of three figures. What is open is left out
altogether, and two bodies are simply open to each other. Where a rectifier would conduct, that pair is solved
again with the rectifier's line in place, until all rectifiers agree.

No reading is given while a source is connected, nor through a cartridge.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import listed, lowered
from loomlore.faults.terminals import terminal_words
from loomlore.findings import UnknownName
from loomlore.network.building import Plant
from loomlore.network.cases import Case, settled_case
from loomlore.network.laws import (
    OPEN,
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Generator,
    Law,
    Magneto,
    Motor,
    Rectifier,
    Source,
    Straight,
)
from loomlore.network.model import Branch
from loomlore.network.settling import Settled
from loomlore.quantities import as_written

__all__ = [
    "COLD_HIGH",
    "COLD_LOW",
    "TOLERANCE",
    "Ohmmeter",
    "Ohms",
    "Standing",
    "Volts",
    "dead_conductance",
    "knee_volts",
    "ohms_between",
    "standing_ohms",
    "volts_between",
]

LEADS = 0.2
"""Ohms of a meter's two leads: common practice, no source."""

CELL = 1.5
"""Volts of the cell in an ohmmeter: common practice, no source."""

CELL_AMPS = 0.01
"""Amperes that it drives through a dead short: common practice, no source."""

NOTHING_READS = 1e6
"""Ohms from which a reading is called open."""

COLD_LOW, COLD_HIGH = 0.8, 1.5
"""A cold lamp lies between these shares of its nominal cold resistance: the lower from lamp to lamp, the upper
where the meter's current warms it (an energy balance gives 1.26 to 1.51 for small lamps)."""

PRIMARY = 0.5
"""Ohms of a magneto's primary winding: common practice, no source."""

VOLTMETER = 10e6
"""Ohms of a voltmeter of today; one of the age is 1,000 ohms a volt or less."""

STANDS = 1e-3
"""Volts from which a source is taken to be connected between two terminals."""

TOLERANCE = 0.05
"""Share within which a reading is as expected: common practice, no source."""

_SOURCES = (Battery, Source, Generator)


@dataclass(frozen=True, kw_only=True)
class Ohmmeter:
    """An ohmmeter: cell [V], current through a short [A], leads [ohm]."""

    cell: float = CELL
    amps: float = CELL_AMPS
    leads: float = LEADS


@dataclass(frozen=True, kw_only=True)
class Ohms:
    """What an ohmmeter reads from ``a`` (its positive lead) to ``b``.

    ``ohms`` is None where it is open or refused; ``low`` and ``high`` are the range; ``through`` are the items
    that the current goes through; ``refused`` says why there is no reading, and what to do.
    """

    a: str
    b: str
    ohms: float | None = None
    low: float = 0.0
    high: float = 0.0
    through: tuple[str, ...] = ()
    refused: str = ""
    polar: bool = False

    @property
    def words(self) -> str:
        """As it stands on a card: ``4.2 Ω (3.6 to 6.1)``, ``open``, ``not to be measured``."""
        if self.refused:
            return "not to be measured"
        if self.ohms is None:
            return "open (over 1 Mohm)"
        nominal = as_written(self.ohms, "resistance")
        if self.high <= self.low * (1 + 2.2 * TOLERANCE):
            return nominal
        return f"{nominal} ({as_written(self.low, 'resistance')} to {as_written(self.high, 'resistance')})"


@dataclass(frozen=True, kw_only=True)
class Volts:
    """What a voltmeter reads from ``a`` to ``b``; None where nothing holds the two together."""

    a: str
    b: str
    volts: float
    through: str = ""

    @property
    def words(self) -> str:
        """As it stands on a card."""
        return as_written(self.volts, "voltage")


# -- the installation as an ohmmeter sees it -------------------------------------------------------------------


def _dead_ohms(law: Law, *, lamps: float) -> float | None:
    """Ohms of an element that stands cold and still; None for what needs its place or its piece."""
    match law:
        case Filament():
            return lamps * law.cold * law.volts / law.amps
        case Motor():
            return law.volts / (law.amps * law.stall)
        case ConstantPower():
            return law.works_from**2 / law.power
        case Battery() | Generator():
            return law.resistance
        case Magneto():
            return PRIMARY
        case _:
            return None


@dataclass(eq=False)
class Standing:
    """An installation standing dead: nodes, conductances, and bodies that hang together.

    ``taken_off`` are sources with a lead off. Made by :func:`standing_ohms`; as many pairs as wanted are read.
    """

    plant: Plant
    settled: Settled
    meter: Ohmmeter
    taken_off: frozenset[int]
    bodies: dict[tuple[float, int], _Body] = field(default_factory=dict)

    @property
    def branches(self) -> Sequence[Branch]:
        """With whatever fault is in them."""
        return self.settled.solution.solver.network.branches

    def conductance(self, number: int, lamps: float) -> float:
        """Conductance [S] of one branch as it stands dead; 0 where it is open."""
        closed = self.settled.solution.closed(number)
        return dead_conductance(self, number, self.branches[number], closed=closed, lamps=lamps)

    @cached_property
    def conductances(self) -> NDArray[np.float64]:
        """Of every branch, lamps at their nominal cold resistance."""
        return np.array([self.conductance(n, 1.0) for n in range(len(self.branches))])

    @cached_property
    def body_of(self) -> tuple[int, ...]:
        """For each node the least node it hangs together with, rectifiers counted as joined."""
        parent = list(range(self.settled.solution.solver.plan.nodes))
        for number, branch in enumerate(self.branches):
            if self.conductances[number] > 0 or isinstance(branch.law, Rectifier):
                a, b = _root(parent, branch.a), _root(parent, branch.b)
                parent[max(a, b)] = min(a, b)
        return tuple(_root(parent, node) for node in range(len(parent)))

    def body(self, node: int, lamps: float) -> _Body:
        """What hangs together with a node."""
        key = lamps, self.body_of[node]
        if key not in self.bodies:
            self.bodies[key] = _body(self, self.body_of[node], lamps)
        return self.bodies[key]


def dead_conductance(standing: Standing, number: int, branch: Branch, *, closed: bool, lamps: float) -> float:
    """Conductance of a branch as it stands dead, or of what a fault has put in its place.

    Parameters
    ----------
    standing
        The dead installation.
    number
        Of the branch; -1 for one that is new.
    branch
        It, or what is there instead.
    closed
        Whether it is closed, if it is a contact.
    lamps
        Share of the nominal cold resistance of a lamp [1].

    Returns
    -------
    float
        Conductance [S]; 0 where it is open, taken off, or a rectifier.
    """
    solution, law = standing.settled.solution, branch.law
    if number in standing.taken_off or isinstance(law, Rectifier) or not closed:
        return 0.0
    if isinstance(law, Source):
        return 1 / law.resistance if solution.works(number) else 0.0
    ohms = _dead_ohms(law, lamps=lamps)
    if ohms is not None:
        made = 1 / ohms
    elif number >= 0 and branch is standing.branches[number]:
        made = solution.conductance(number)
    else:
        lever = solution.followed(number) if number >= 0 else 0.0
        made = law.conductance(True, lever)  # type: ignore[union-attr]  # no live law is left
    return made if made >= 1e-9 else 0.0


def knee_volts(standing: Standing, number: int) -> float:
    """Volts from which a rectifier conducts.

    Parameters
    ----------
    standing
        The dead installation.
    number
        Of the rectifier's branch.

    Returns
    -------
    float
        Forward voltage [V].
    """
    return _knee(standing, number)


def _root(parent: list[int], node: int) -> int:
    while parent[node] != node:
        parent[node] = node = parent[parent[node]]
    return node


@dataclass(eq=False)
class _Body:
    """Nodes that hang together; ``inverse`` is of the conductances with the first node at zero."""

    place: Mapping[int, int]
    branches: tuple[int, ...]
    rectifiers: tuple[int, ...]
    matrix: NDArray[np.float64]
    conductances: Mapping[int, float]

    @cached_property
    def inverse(self) -> NDArray[np.float64]:
        """[ohm]; the first node's row and column are nil."""
        return _inverted(self.matrix)


ALONE = 1e-9
"""Siemens that tie a node, which only a blocking rectifier reaches, to the rest, so that the matrix has an inverse."""


def _inverted(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    found = np.zeros_like(matrix)
    if len(matrix) > 1:
        found[1:, 1:] = np.linalg.inv(matrix[1:, 1:])
    return found


def _body(standing: Standing, root: int, lamps: float) -> _Body:
    place: dict[int, int] = {}
    for node, own in enumerate(standing.body_of):
        if own == root:
            place[node] = len(place)
    matrix = np.zeros((len(place), len(place)))
    inside, rectifiers, known = [], [], {}
    for number, branch in enumerate(standing.branches):
        if branch.a not in place or branch.a == branch.b:
            continue
        rectifier = isinstance(branch.law, Rectifier)
        g = ALONE if rectifier else standing.conductance(number, lamps)
        if g > 0:
            _stamp(matrix, place[branch.a], place[branch.b], g)
            inside.append(number)
            known[number] = g
            if rectifier:
                rectifiers.append(number)
    return _Body(place, tuple(inside), tuple(rectifiers), matrix, known)


def _stamp(matrix: NDArray[np.float64], a: int, b: int, g: float) -> None:
    matrix[a, a] += g
    matrix[b, b] += g
    matrix[a, b] -= g
    matrix[b, a] -= g


# -- one reading ------------------------------------------------------------------------------------------------


def standing_ohms(
    plant: Plant, settled: Settled, *, taken_off: Iterable[str] = (), meter: Ohmmeter | None = None
) -> Standing:
    """Make an installation ready to be measured with an ohmmeter.

    Parameters
    ----------
    plant
        The installation.
    settled
        How the controls stand.
    taken_off
        Items (batteries, a ground supply) of which a lead is off, or that are not plugged in. Relays that they
        held in let go.
    meter
        The ohmmeter; a common one where None.

    Returns
    -------
    Standing
        For :func:`ohms_between`.

    Raises
    ------
    UnknownName
        Where no source is called so.
    """
    network = settled.solution.solver.network
    numbers: list[int] = []
    sources = {b.item: n for n, b in enumerate(network.branches) if isinstance(b.law, _SOURCES)}
    for item in taken_off:
        if item not in sources:
            raise UnknownName("source", item, sources)
        numbers += [
            n for n, b in enumerate(network.branches) if b.item == item and isinstance(b.law, _SOURCES)
        ]
    if numbers:
        law = Straight(resistance=1 / OPEN)
        parted = tuple(
            (n, Branch(name=(b := network.branches[n]).name, a=b.a, b=b.b, law=law, sort=b.sort, item=b.item))
            for n in numbers
        )
        settled = settled_case(settled, Case(branches=parted))
    return Standing(plant, settled, meter or Ohmmeter(), frozenset(numbers))


def ohms_between(standing: Standing, a: str, b: str) -> Ohms:
    """What an ohmmeter reads between two terminals.

    Parameters
    ----------
    standing
        From :func:`standing_ohms`.
    a
        Terminal on the positive lead: ``item.terminal`` or ``earth.bolt``.
    b
        Terminal on the other.

    Returns
    -------
    Ohms
        Leads included; refused while a source is connected, or where a cartridge would carry the current.

    Raises
    ------
    UnknownName
        Where no terminal is called so.

    Notes
    -----
    R = Zaa + Zbb - 2 Zab of the body's inverse, and the leads.

    Source
    ------
    [method]
    """
    first, second = _node(standing.plant, a), _node(standing.plant, b)
    said = _source_there(standing, first, second)
    if said:
        return Ohms(a=a, b=b, refused=said)
    if standing.body_of[first] != standing.body_of[second]:
        return Ohms(a=a, b=b)
    body = standing.body(first, 1.0)
    ohms, amps, polar = _read(standing, body, first, second)
    said = _forbidden(standing, amps)
    if said:
        return Ohms(a=a, b=b, refused=said)
    through = _through(standing, amps)
    if ohms > NOTHING_READS:
        return Ohms(a=a, b=b, polar=polar)
    ends = [ohms, ohms]
    if any(isinstance(standing.branches[n].law, Filament) and abs(i) > 0.001 for n, i in amps.items()):
        ends = [
            _read(standing, standing.body(first, lamps), first, second)[0] for lamps in (COLD_LOW, COLD_HIGH)
        ]
    leads = standing.meter.leads
    low, high = ((1 - TOLERANCE) * ends[0] + leads, (1 + TOLERANCE) * ends[1] + leads)
    return Ohms(a=a, b=b, ohms=ohms + leads, low=low, high=high, through=through, polar=polar)


def _node(plant: Plant, terminal: str) -> int:
    number = plant.network.node_of.get(terminal)
    if number is None:
        raise UnknownName("terminal", terminal, plant.network.node_of)
    return number


def _source_there(standing: Standing, a: int, b: int) -> str:
    """Why there is to be no ohmmeter here: volts stand between the terminals."""
    volts = standing.settled.solution.between(a, b)
    if volts is None or abs(volts) < STANDS:
        return ""
    joined = [n for n in _sources(standing) if abs(standing.settled.solution.volts(n)) > STANDS]
    return f"{as_written(abs(volts), 'voltage')} stand between them. {_take_off(standing, joined)}"


def _sources(standing: Standing) -> list[int]:
    return [
        n
        for n, b in enumerate(standing.branches)
        if isinstance(b.law, _SOURCES) and n not in standing.taken_off
    ]


def _take_off(standing: Standing, numbers: Iterable[int]) -> str:
    names = dict.fromkeys(
        f"the {lowered(name_of(standing.plant, standing.branches[n].item))}" for n in numbers
    )
    said = listed(list(names)) if names else "every source"
    return f"Take a lead off {said} first; an ohmmeter is not for live circuits."


def _read(standing: Standing, body: _Body, a: int, b: int) -> tuple[float, dict[int, float], bool]:
    """Ohms without leads; each branch's share of the meter's current; whether a rectifier has a say."""
    p, q = body.place[a], body.place[b]
    inverse = body.inverse
    ohms = float(inverse[p, p] + inverse[q, q] - 2 * inverse[p, q])
    volts = inverse[:, p] - inverse[:, q]
    inside = standing.meter.cell / standing.meter.amps
    current = standing.meter.cell / (inside + standing.meter.leads + ohms)
    ends = {
        n: (body.place[standing.branches[n].a], body.place[standing.branches[n].b]) for n in body.branches
    }
    across = {n: current * float(volts[x] - volts[y]) for n, (x, y) in ends.items()}
    forward = {n for n in body.rectifiers if across[n] > _knee(standing, n)}
    backward = any(-across[n] > _knee(standing, n) for n in body.rectifiers)
    if forward:
        ohms, across, current = _conducting(standing, body, (p, q), forward, ends)
    shares = {
        n: across[n] * body.conductances[n] / current for n in body.branches if n not in body.rectifiers
    }
    return ohms, shares, bool(forward) or backward


def _knee(standing: Standing, number: int) -> float:
    law = standing.branches[number].law
    assert isinstance(law, Rectifier)
    return law.pieces(True, 0.0).breaks[0]


def _conducting(
    standing: Standing,
    body: _Body,
    pair: tuple[int, int],
    forward: set[int],
    ends: Mapping[int, tuple[int, int]],
) -> tuple[float, dict[int, float], float]:
    """The pair solved with the meter in place and rectifiers on their conducting line, until they all agree."""
    inside = standing.meter.cell / standing.meter.amps + standing.meter.leads
    p, q = pair
    across: dict[int, float] = {}
    current = 1.0
    for _ in range(4 * len(body.rectifiers) + 4):
        matrix = body.matrix.copy()
        injected = np.zeros(len(matrix))
        _stamp(matrix, p, q, 1 / inside)
        injected[p] += standing.meter.cell / inside
        injected[q] -= standing.meter.cell / inside
        for n in forward:
            law = standing.branches[n].law
            assert isinstance(law, Rectifier)
            pieces, (x, y) = law.pieces(True, 0.0), ends[n]
            _stamp(matrix, x, y, pieces.slopes[1] - ALONE)
            injected[x] -= pieces.offsets[1]
            injected[y] += pieces.offsets[1]
        volts = _inverted(matrix) @ injected
        across = {n: float(volts[x] - volts[y]) for n, (x, y) in ends.items()}
        current = (standing.meter.cell - float(volts[p] - volts[q])) / inside
        now = {n for n in body.rectifiers if across[n] > _knee(standing, n)}
        if now == forward:
            break
        forward = now
    reads = standing.meter.cell / current - inside if current > 0 else np.inf
    return float(reads), across, current


LEAST_SHARE = 0.02
"""Share of the meter's current from which an item is named, and a source is in the way."""


def _forbidden(standing: Standing, amps: Mapping[int, float]) -> str:
    """Why no current may be sent here: a cartridge would carry some of it, or a source is in the loop."""
    explosive = {b.item for b in standing.branches if isinstance(b.law, Cartridge)}
    charges = [n for n, i in amps.items() if standing.branches[n].item in explosive and abs(i) > 1e-6]
    if charges:
        item = standing.branches[charges[0]].item
        return (
            f"The meter's current would go through the {lowered(name_of(standing.plant, item))}: never. "
            "Take it out, or isolate it and short its leads, before anything is measured here."
        )
    still = [n for n in _sources(standing) if abs(amps.get(n, 0.0)) > 1e-3 and _lives(standing, n)]
    return _take_off(standing, still) if still else ""


def _lives(standing: Standing, number: int) -> bool:
    """Whether a source has volts of its own; a generator that stands has none."""
    return (
        not isinstance(standing.branches[number].law, Generator)
        or abs(standing.settled.solution.volts(number)) > STANDS
    )


def _through(standing: Standing, amps: Mapping[int, float]) -> tuple[str, ...]:
    elements = [
        (abs(i), n)
        for n, i in amps.items()
        if standing.branches[n].sort == "element"
        and abs(i) >= LEAST_SHARE
        and not (isinstance(standing.branches[n].law, Straight) and standing.conductances[n] > 20)
    ]
    return tuple(dict.fromkeys(standing.branches[n].item for _, n in sorted(elements, reverse=True)))


# -- volts -------------------------------------------------------------------------------------------------------


def volts_between(
    plant: Plant, settled: Settled, a: str, b: str, *, meter: float = VOLTMETER, lamp: Filament | None = None
) -> Volts:
    """What a voltmeter, or a test lamp, shows between two terminals, itself being part of the network.

    Parameters
    ----------
    plant
        The installation.
    settled
        How it stands, with a fault or without.
    a
        Terminal on the positive lead.
    b
        Terminal on the other.
    meter
        Resistance of the voltmeter [ohm].
    lamp
        A test lamp instead.

    Returns
    -------
    Volts
        First terminal over second.

    Raises
    ------
    UnknownName
        Where no terminal is called so.
    """
    first, second = _node(plant, a), _node(plant, b)
    law: Law = lamp if lamp is not None else Straight(resistance=meter)
    with_meter = settled_case(
        settled, Case(extra=(Branch(name="meter", a=first, b=second, law=law, sort="element"),))
    )
    return Volts(
        a=a, b=b, volts=with_meter.solution.potentials[first] - with_meter.solution.potentials[second]
    )


def relays_held(standing: Standing) -> tuple[str, ...]:
    """Relays that stay pulled in with the sources off: none, unless something is stuck.

    Parameters
    ----------
    standing
        The dead installation.

    Returns
    -------
    tuple of str
        Items.
    """
    variables = standing.settled.memory.variables
    network = standing.settled.solution.solver.network
    return tuple(
        b.item
        for b in network.branches
        if isinstance(b.law, Coil) and b.memory >= 0 and variables[b.memory] == 1
    )


def pair_words(plant: Plant, a: str, b: str) -> str:
    """Where the two leads go, as a fitter says it.

    Parameters
    ----------
    plant
        The installation.
    a
        A terminal.
    b
        Another.

    Returns
    -------
    str
        ``horn relay 1 to the hold bolt``.
    """
    return f"{terminal_words(plant, a)} to {terminal_words(plant, b)}"
