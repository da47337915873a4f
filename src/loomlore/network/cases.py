"""A case: an installation with something changed in it, in a moment of its life.

What is changed is written as branches: one that stands in another's place (a cable that is open, a contact
that is welded, a lamp of the wrong rating) and ones that are new (a short to earth, a bridge between two
conductors). The one-by-one solver and the bulk solver read the same case.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from loomlore.network.laws import OPEN, Law, Straight
from loomlore.network.model import Branch, Network
from loomlore.network.settling import Memory, Settled, settle
from loomlore.network.solving import Solver, prepare, prepared_like

__all__ = [
    "Case",
    "bridged",
    "network_with",
    "opened",
    "refitted",
    "settled_case",
    "shorted",
    "solver_for",
    "stuck_closed",
]

SHORT = 0.001
"""Resistance [ohm] of a short or a bridge of bare metal: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What is changed, and where the installation stood when it happened.

    ``branches`` are (number, what stands in its place), with the same ends; ``extra`` are new branches between
    nodes that there are; ``memory`` is None where levers and memory are those of the base.
    """

    branches: tuple[tuple[int, Branch], ...] = ()
    extra: tuple[Branch, ...] = ()
    memory: Memory | None = None


def opened(network: Network, branch: int) -> Case:
    """A branch that carries nothing any more: cut, burnt out, not made.

    Parameters
    ----------
    network
        Where it is.
    branch
        Its number.

    Returns
    -------
    Case
        With that one fault.
    """
    return refitted(network, branch, Straight(resistance=1 / OPEN))


def refitted(network: Network, branch: int, law: Law) -> Case:
    """Another law in a branch's place: the wrong lamp, a machine without field, a joint of some ohms.

    Parameters
    ----------
    network
        Where it is.
    branch
        Its number.
    law
        What is there instead; no condition opens it.

    Returns
    -------
    Case
        With that one fault.
    """
    old = network.branches[branch]
    works = old.works if not isinstance(law, Straight) else None
    return Case(branches=((branch, replace(old, law=law, closed=None, works=works)),))


def stuck_closed(network: Network, branch: int) -> Case:
    """A contact that stays made: welded, or stuck.

    Parameters
    ----------
    network
        Where it is.
    branch
        Number of a contact.

    Returns
    -------
    Case
        With that one fault.
    """
    return Case(branches=((branch, replace(network.branches[branch], closed=None)),))


def shorted(network: Network, node: int, *, resistance: float = SHORT) -> Case:
    """A node touches the airframe.

    Parameters
    ----------
    network
        Where it is.
    node
        Its number.
    resistance
        Of what touches [ohm].

    Returns
    -------
    Case
        With that one fault.
    """
    return bridged(network, node, 0, resistance=resistance)


def bridged(network: Network, a: int, b: int, *, resistance: float = SHORT) -> Case:
    """Two nodes touch each other.

    Parameters
    ----------
    network
        Where they are.
    a
        Number of one.
    b
        Number of the other.
    resistance
        Of what touches [ohm].

    Returns
    -------
    Case
        With that one fault.
    """
    name = f"{network.node_names[a]} ~ {network.node_names[b]}"
    law = Straight(resistance=resistance)
    return Case(extra=(Branch(name=name, a=a, b=b, law=law, sort="bridge"),))


def network_with(network: Network, case: Case) -> Network:
    """The network as the case has changed it; branches keep their numbers, new ones come last.

    Parameters
    ----------
    network
        Without fault.
    case
        What is changed.

    Returns
    -------
    Network
        A new one.
    """
    branches = list(network.branches)
    for number, branch in case.branches:
        branches[number] = branch
    return replace(network, branches=(*branches, *case.extra))


def settled_case(base: Settled, case: Case) -> Settled:
    """Settle one case by itself: the measure for everything that is done in bulk.

    Parameters
    ----------
    base
        The installation before, settled.
    case
        What is changed.

    Returns
    -------
    Settled
        Its solver is one made for this case.
    """
    network = network_with(base.solution.solver.network, case)
    solver = prepare.__wrapped__(network)  # made for once: not to be remembered
    return settle(solver, base.memory if case.memory is None else case.memory)


def solver_for(base: Settled, case: Case) -> Solver:
    """Make a solver for one case, by the base's plan where that will do.

    Parameters
    ----------
    base
        The installation before, settled.
    case
        What is changed.

    Returns
    -------
    Solver
        Good for any levers and memory.
    """
    old = base.solution.solver
    network = network_with(old.network, case)
    if case.extra or not all(_fits(old.network.branches[n], branch) for n, branch in case.branches):
        return prepare.__wrapped__(network)  # made for once: not to be remembered
    return prepared_like(old, network)


def _fits(old: Branch, new: Branch) -> bool:
    """Whether a branch may stand in another's place in the same plan and conditions."""
    ends = (old.a, old.b) == (new.a, new.b)
    law = type(new.law) is type(old.law) or isinstance(new.law, Straight)
    return ends and law and new.closed in (None, old.closed) and new.works in (None, old.works)
