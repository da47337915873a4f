"""A part as it stands before anything is changed: its levers, what it remembers, what no column can change.

What levers decide is judged once here; what the part's own memory decides is listed, to be judged column by column.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from loomlore.network.arrays import LIVE, PIECEWISE, Floats, LawArrays, Marks, Sheet, law_arrays
from loomlore.network.conditions import Condition, Measured, StateIs, judge, leaves
from loomlore.network.laws import OPEN, Cartridge, Fuse, Generator, Law, Magneto, Pieces, Source
from loomlore.network.model import Branch
from loomlore.network.settling import Memory
from loomlore.network.solving import ISLAND
from loomlore.network.stands import Stand
from loomlore.network.viewing import HOLDS, NEVER_HOLDS, PERHAPS, Whole

__all__ = ["NOTHING", "Setting"]

NOTHING = 1e-30
"""What every node has to the airframe [S], so that no pivot is nought."""


@dataclass(eq=False)
class Setting:
    """A sheet with its levers and what everything remembers: what is the same in every column.

    ``standing`` are the states of the branches in ``stated`` as the installation stands, ``stand`` its answers
    where columns are to be worked out by what they change; ``fast`` asks for the compiled kernel.
    """

    sheet: Sheet
    memory: Memory
    fed_hubs: tuple[int, ...] = ()
    laws: list[Law] = field(init=False)
    constant: dict[int, float] = field(init=False)
    dynamic: tuple[int, ...] = field(init=False)
    base_edges: Floats = field(init=False)
    constants: Floats = field(init=False)
    edge_of: Whole = field(init=False)
    dynamic_edges: tuple[int, ...] = field(init=False)
    alone_on_edge: Marks = field(init=False)
    magnetos: tuple[int, ...] = field(init=False)
    fuses: tuple[int, ...] = field(init=False)
    arrays: LawArrays = field(init=False)
    works: dict[int, Any] = field(init=False)
    turning: tuple[int, ...] = field(init=False)
    stated: tuple[int, ...] = field(init=False)
    standing: tuple[int, ...] = ()
    stand: Stand | None = None
    restrained: tuple[int, ...] = field(init=False)
    holding: Whole = field(init=False)
    tested: tuple[int, ...] = field(init=False)
    fast: bool = False
    reached: dict[int, frozenset[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Judge what no column can change."""
        sheet, own = self.sheet, set(self.sheet.part.variables)
        branches = [sheet.network.branches[n] for n in sheet.part.branches]
        self.laws = [self._law(branch) for branch in branches]
        self.dynamic = tuple(k for k in sheet.straight if _moves(branches[k], own))
        self.works = {
            k: self._truth(branches[k].works) for k in range(len(branches)) if branches[k].works is not None
        }
        self.turning = tuple(
            k for k in self.works if k not in self.dynamic and _speaks(branches[k].works, own)
        )
        moving = set(self.dynamic)
        self.constant = {k: self._conductance(k, branches[k]) for k in sheet.straight if k not in moving}
        self.base_edges = np.zeros(len(sheet.order.edges))
        self.base_edges[: sheet.order.nodes - 1] = NOTHING
        for k, g in self.constant.items():
            if sheet.edge[k] >= 0:
                self.base_edges[sheet.edge[k]] += g
        self.constants = np.zeros(len(branches))
        for k, g in self.constant.items():
            self.constants[k] = g
        self.edge_of = np.array(sheet.edge, dtype=np.int64)
        self.dynamic_edges = tuple(sorted({sheet.edge[k] for k in self.dynamic} - {-1}))
        shared = [len(sheet.on_edge.get(sheet.edge[k], ())) > 1 for k in range(len(branches))]
        live = set(sheet.live)
        self.alone_on_edge = np.array(
            [sheet.edge[k] >= 0 and not shared[k] and k not in live for k in range(len(branches))], dtype=bool
        )
        self.magnetos = tuple(k for k, law in enumerate(self.laws) if isinstance(law, Magneto))
        self.fuses = tuple(k for k, law in enumerate(self.laws) if isinstance(law, Fuse | Cartridge))
        pieces = [self.pieces(k, self.works.get(k, (True,))[0], self.laws[k]) for k in sheet.pieces]
        self.arrays = law_arrays(sheet, self.laws, pieces)
        self.restrained = tuple(k for k in sheet.pieces if _speaks(branches[k].restrained, own))
        self.holding = _holding_as_it_stands(self)
        self.tested = _tested_nodes(sheet)
        self.stated = tuple(k for k, b in enumerate(branches) if b.law.states or b.memory >= 0)

    def _law(self, branch: Branch) -> Law:
        """As the branch says; a machine's with its full field where its regulator does not feel its volts."""
        if branch.restrained is not None and isinstance(branch.law, Generator):
            return branch.law if self._truth(branch.restrained)[0] else branch.law.unbridled()
        return branch.law

    def feels(self, place: int) -> bool:
        """Whether a machine's regulator feels its volts as things stand."""
        branch = self.sheet.network.branches[self.sheet.part.branches[place]]
        return branch.restrained is None or self._truth(branch.restrained)[0]

    def _truth(self, condition: Condition | None) -> tuple[bool, bool]:
        if condition is None:
            return True, False
        value = judge(condition, self.memory.levers, self.memory.variables, lambda _: None)
        return value is True, value is not True

    def lever(self, place: int) -> float:
        """What a branch follows."""
        follows = self.sheet.network.branches[self.sheet.part.branches[place]].follows
        return float(self.memory.levers[follows]) if follows >= 0 else 0.0

    def pieces(self, place: int, works: bool, law: Law) -> Pieces:
        """The pieces of a piecewise branch."""
        assert isinstance(law, PIECEWISE)
        return law.pieces(works, self.lever(place))

    def reach(self, place: int) -> frozenset[int]:
        """The nodes that a branch hangs together with by any branch, the airframe apart."""
        if place not in self.reached:
            around: dict[int, set[int]] = {}
            for a, b in self.sheet.ends:
                around.setdefault(a, set()).add(b)
                around.setdefault(b, set()).add(a)
            found = {node for node in self.sheet.ends[place] if node}
            waiting = list(found)
            while waiting:
                fresh = around[waiting.pop()] - found - {0}
                found |= fresh
                waiting += fresh
            self.reached[place] = frozenset(found)
        return self.reached[place]

    def _conductance(self, place: int, branch: Branch) -> float:
        if branch.closed is not None and not self._truth(branch.closed)[0]:
            return OPEN
        assert not isinstance(branch.law, LIVE)
        return branch.law.conductance(self.works.get(place, (True,))[0], self.lever(place))


def _tested_nodes(sheet: Sheet) -> tuple[int, ...]:
    """Nodes whose volts something asks for, and asks whether there are any."""
    found: set[int] = set()
    for number in sheet.part.variables:
        variable = sheet.network.variables[number]
        rule = variable.latch
        parts = (rule.set, rule.release, rule.set_on, rule.release_on) if rule is not None else ()
        for test in (variable.test, *parts):
            for leaf in leaves(test) if test is not None else ():
                if isinstance(leaf, Measured) and leaf.of == "volts":
                    found.update(
                        sheet.local[node] for node in (leaf.a, max(leaf.b, 0)) if node in sheet.local
                    )
    return tuple(sorted(found))


def _moves(branch: Branch, own: set[int]) -> bool:
    if branch.memory >= 0 and isinstance(branch.law, Fuse | Cartridge):
        return True
    return _speaks(branch.closed, own) or _speaks(branch.works, own)


def _speaks(condition: Condition | None, own: set[int]) -> bool:
    return condition is not None and any(
        isinstance(leaf, StateIs) and leaf.variable in own for leaf in leaves(condition)
    )


def _holding_as_it_stands(setting: Setting) -> Whole:
    found = np.full(len(setting.laws), PERHAPS, dtype=np.int64)
    for k, law in enumerate(setting.laws):
        if isinstance(law, Magneto):
            found[k] = NEVER_HOLDS
        elif isinstance(law, LIVE):
            found[k] = PERHAPS if isinstance(law, Source) else HOLDS
        elif k in setting.constant:
            found[k] = HOLDS if setting.constant[k] >= ISLAND else NEVER_HOLDS
    return found
