"""The same installation with other figures.

Hot or longer cables, a cold battery, an engine that will not turn.

Invariant: numbering is kept, so that a memory of the one is a memory of the other and branches can be
compared. A law that is re-solved in each step anyway (battery, generator) is exchanged without a new plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from loomlore.network.building import Plant
from loomlore.network.conditions import LeverIs
from loomlore.network.laws import BAR, Battery, Generator, Law, Source, Straight
from loomlore.network.model import Branch, Lever
from loomlore.network.settling import Memory
from loomlore.network.solving import Solver, prepare

__all__ = ["FAULT_OHMS", "with_faults", "with_laws", "with_resistances"]

FAULT_OHMS = 0.005
"""A chafed cable against metal, as good as a contact: common practice, no source."""

_EXCHANGED = (Battery, Generator, Source)


def with_resistances(plant: Plant, ohms: Mapping[int, float]) -> Plant:
    """The installation with other resistances of cables.

    Parameters
    ----------
    plant
        The installation.
    ohms
        By branch [ohm].

    Returns
    -------
    Plant
        With its own solver.
    """
    return with_laws(plant, {n: Straight(resistance=max(r, 1 / BAR)) for n, r in ohms.items()})


def with_laws(plant: Plant, laws: Mapping[int, Law]) -> Plant:
    """The installation with other laws of some branches.

    Parameters
    ----------
    plant
        The installation.
    laws
        By branch.

    Returns
    -------
    Plant
        With its own solver; the plan is kept where only batteries, generators or supplies change.
    """
    old = plant.network.branches
    branches = list(old)
    for number, law in laws.items():
        branches[number] = replace(branches[number], law=law)
    network = replace(plant.network, branches=tuple(branches))
    same = all(isinstance(law, _EXCHANGED) and isinstance(old[n].law, _EXCHANGED) for n, law in laws.items())
    solver = replace(plant.solver, network=network, memo={}) if same else prepare(network)
    return replace(plant, network=network, solver=solver)


def with_faults(plant: Plant, nodes: Sequence[int], *, to: int = 0) -> tuple[Solver, int]:
    """The installation with a short that can be put on any one of some nodes.

    Parameters
    ----------
    plant
        The installation.
    nodes
        Where a conductor may touch.
    to
        The node that it touches; 0 is the airframe.

    Returns
    -------
    tuple of Solver and int
        A solver that takes one lever more, the last: 0 no fault, k the short at the k-th node; and the number
        of the branch of the first short, the others following in order.
    """
    network = plant.network
    lever = Lever(name="short", positions=tuple(str(k) for k in range(len(nodes) + 1)))
    law = Straight(resistance=FAULT_OHMS)
    shorts = tuple(
        Branch(
            name=f"short {k}",
            a=node,
            b=to,
            law=law,
            sort="contact",
            closed=LeverIs(len(network.levers), (k,)),
        )
        for k, node in enumerate(nodes, start=1)
    )
    first = len(network.branches)
    shorted = replace(network, branches=(*network.branches, *shorts), levers=(*network.levers, lever))
    return prepare(shorted), first


def with_fault(memory: Memory, number: int) -> Memory:
    """A memory for the solver of :func:`with_faults`, with the short at the k-th node."""
    return replace(memory, levers=(*memory.levers, float(number)))
