"""The network: nodes, one-port branches, levers, and what it remembers. Frozen, and blind to the record.

A node is a number; node 0 is the airframe, whose potential is nought by convention. A branch is a one-port
between two nodes with a law; a contact is a branch with a condition. A *variable* is a small whole number
that the installation remembers from one moment to the next.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from loomlore.network.conditions import Condition
from loomlore.network.laws import Law

__all__ = ["Branch", "Indication", "LatchRule", "Lever", "Movement", "Network", "Variable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """A control or a condition of the world: positions (then its value is a number of one) or a range.

    ``thresholds`` are the values at which some sentence changes its mind; ``wired`` those of them at which
    something in the installation itself does (a cam, a machine that cuts in).
    """

    name: str
    positions: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 1.0
    start: float = 0
    springs_to: int | None = None
    world: bool = False
    dimension: str = ""
    thresholds: tuple[float, ...] = ()
    wired: tuple[float, ...] = ()
    turns: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A one-port. ``sort`` is cable, contact, element, joint, bond or fuse; ``item`` the item it is in.

    ``closed`` closes a contact; ``works`` is when a machine works, ``restrained`` when its regulator feels its
    volts and holds back its field; ``follows`` a lever its law follows; ``memory`` the variable that holds its
    state (coil, blown fuse, fired cartridge), or -1.
    """

    name: str
    a: int
    b: int
    law: Law
    sort: str = "element"
    item: str = ""
    closed: Condition | None = None
    works: Condition | None = None
    follows: int = -1
    memory: int = -1
    restrained: Condition | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LatchRule:
    """When a latch is set and released, at once, on turning true, or after a time [s]."""

    set: Condition | None = None
    release: Condition | None = None
    set_on: Condition | None = None
    release_on: Condition | None = None
    set_after: float | None = None
    release_after: float | None = None
    set_wins: bool = False
    lost_with: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Variable:
    """Something remembered. ``what`` is coil, latch, sensed, blown or fired; ``branch`` whose it is.

    ``sensed`` variables copy a condition (``test``) or the state of a branch into memory, so that contacts
    may depend on them.
    """

    name: str
    what: str
    branch: int = -1
    start: int = 0
    latch: LatchRule | None = None
    test: Condition | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """A branch that drives a lever while it runs, at ``rate`` [unit/s]."""

    branch: int
    lever: int
    rate: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Indication:
    """What a meter shows: ``of`` is amps or volts of branch ``first``, or the ratio of two branches' amps.

    ``points`` are (input, mark) rising in input; ``dimension`` is that of the marks.
    """

    name: str
    of: str
    first: int
    second: int = -1
    points: tuple[tuple[float, float], ...] = ()
    dimension: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Network:
    """Everything the solver needs, and names to find things by.

    ``node_names`` are terminals ``item.terminal``; ``node_of`` finds them. ``dials`` gives a meter's branch
    its indications; ``branch_of`` has cables as ``cable:MARK``, all else by its name.
    """

    node_names: tuple[str, ...]
    branches: tuple[Branch, ...]
    levers: tuple[Lever, ...] = ()
    variables: tuple[Variable, ...] = ()
    movements: tuple[Movement, ...] = ()
    indications: tuple[Indication, ...] = ()
    supply: float = 24.0
    dials: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    node_of: Mapping[str, int] = field(default_factory=dict)
    branch_of: Mapping[str, int] = field(default_factory=dict)
    lever_of: Mapping[str, int] = field(default_factory=dict)
    variable_of: Mapping[str, int] = field(default_factory=dict)
