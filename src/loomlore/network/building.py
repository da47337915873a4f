"""The one bridge from the record to the network: an installation made ready to be operated.

In two passes, since a sentence may speak of anything: first every node, branch, lever and memory gets its
number; then the sentences become conditions. What the record lacks (a length, a size) is taken at a plain
value here so that the rest can be answered; the record's own check has said so already.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from loomlore.catalogue.conductors import conductor_resistance
from loomlore.findings import LoomloreError
from loomlore.network.conditions import Condition, Limits, Measured
from loomlore.network.elements import law_of
from loomlore.network.laws import Generator, Law, Straight
from loomlore.network.model import Branch, Indication, LatchRule, Lever, Movement, Network, Variable
from loomlore.network.solving import Solver, prepare
from loomlore.network.translating import Lexicon
from loomlore.quantities import Size
from loomlore.record.equipment import Contact, Element, Equipment, Latch
from loomlore.record.installation import Installation
from loomlore.record.lengths import cable_length
from loomlore.record.model import AIRFRAME, Cable, Control
from loomlore.sentences import Sentence

__all__ = ["Plant", "build_plant", "resistance_of"]

BOLT_OHMS = 0.0005
"""Resistance [ohm] of an earth bolt whose record gives none: common practice, no source."""

UNKNOWN_LENGTH = 2.0
UNKNOWN_SIZE = Size("area", 1.0e-6, 0, 0.0, "", 1, "1.0 mm2")
"""What a cable is taken for in the network where its record does not say, [m] and size; a finding has said so.
Common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Plant:
    """An installation in one standard of fit, its network, and the words for everything in it."""

    installation: Installation
    network: Network
    solver: Solver
    lexicon: Lexicon
    unsolved: tuple[str, ...] = ()


@dataclass(kw_only=True)
class _Draft:
    """The numbers given so far."""

    installation: Installation
    nodes: list[str] = field(default_factory=lambda: [AIRFRAME])
    node_of: dict[str, int] = field(default_factory=lambda: {AIRFRAME: 0})
    branches: list[Branch] = field(default_factory=list)
    branch_of: dict[str, int] = field(default_factory=dict)
    levers: list[Lever] = field(default_factory=list)
    lever_of: dict[str, int] = field(default_factory=dict)
    variables: list[Variable] = field(default_factory=list)
    variable_of: dict[str, int] = field(default_factory=dict)
    indications: list[Indication] = field(default_factory=list)
    indication_of: dict[str, int] = field(default_factory=dict)
    dials: dict[int, tuple[int, ...]] = field(default_factory=dict)
    movements: list[Movement] = field(default_factory=list)

    def node(self, name: str) -> int:
        if name not in self.node_of:
            self.node_of[name] = len(self.nodes)
            self.nodes.append(name)
        return self.node_of[name]

    def branch(self, key: str, branch: Branch) -> int:
        self.branch_of[key] = len(self.branches)
        self.branches.append(branch)
        return self.branch_of[key]

    def variable(self, variable: Variable) -> int:
        self.variable_of[variable.name] = len(self.variables)
        self.variables.append(variable)
        return self.variable_of[variable.name]


def build_plant(installation: Installation, *, temperature: float = 20.0) -> Plant:
    """Make the network of an installation.

    Parameters
    ----------
    installation
        A dossier in one standard of fit, joined to its kinds.
    temperature
        Of the conductors [°C].

    Returns
    -------
    Plant
        Ready to be operated.
    """
    draft = _Draft(installation=installation)
    _levers(draft)
    _earths(draft)
    for equipment in installation.equipment.values():
        _equipment(draft, equipment)
    _joints(draft)
    unsolved = _cables(draft, temperature)
    for equipment in installation.equipment.values():
        _indications(draft, equipment)
    lexicon = Lexicon(
        installation=installation,
        levers=draft.levers,
        lever_of=draft.lever_of,
        branches=draft.branches,
        branch_of=draft.branch_of,
        node_of=draft.node_of,
        variables=draft.variables,
        variable_of=draft.variable_of,
        indications=draft.indications,
        indication_of=draft.indication_of,
    )
    _conditions(draft, lexicon)
    return _finished(draft, lexicon, unsolved)


def _finished(draft: _Draft, lexicon: Lexicon, unsolved: tuple[str, ...]) -> Plant:
    _machine_thresholds(draft, lexicon)
    wired = {number: tuple(sorted(cuts)) for number, cuts in lexicon.thresholds.items()}
    _dossier_thresholds(lexicon)
    levers = tuple(
        replace(
            lever,
            thresholds=tuple(sorted(lexicon.thresholds.get(number, ()))),
            wired=wired.get(number, ()),
        )
        for number, lever in enumerate(draft.levers)
    )
    lexicon.levers[:] = levers
    supply = draft.installation.dossier.header.supply
    network = Network(
        node_names=tuple(draft.nodes),
        branches=tuple(draft.branches),
        levers=levers,
        variables=tuple(draft.variables),
        movements=tuple(draft.movements),
        indications=tuple(draft.indications),
        supply=supply.value if supply else 24.0,
        dials=draft.dials,
        node_of=draft.node_of,
        branch_of=draft.branch_of,
        lever_of=draft.lever_of,
        variable_of=draft.variable_of,
    )
    return Plant(
        installation=draft.installation,
        network=network,
        solver=prepare(network),
        lexicon=lexicon,
        unsolved=unsolved,
    )


def _machine_thresholds(draft: _Draft, lexicon: Lexicon) -> None:
    """The speed at which a machine cuts in cuts its range too."""
    for branch in draft.branches:
        if isinstance(branch.law, Generator) and branch.follows >= 0:
            lexicon.thresholds.setdefault(branch.follows, set()).add(branch.law.cuts_in)


def _dossier_thresholds(lexicon: Lexicon) -> None:
    """Have every sentence of the dossier translated once, so that ranges are cut wherever any names them."""
    dossier = lexicon.installation.dossier
    for statement in dossier.statements.values():
        for sentence in (statement.given, statement.when, statement.then, *(s.see for s in statement.steps)):
            lexicon.condition(sentence)
    for procedure in dossier.procedures.values():
        for step in procedure.steps:
            lexicon.condition(step.see)
    for service in dossier.services.values():
        lexicon.condition(service.given)
    lexicon.condition(dossier.header.given)


# -- levers --------------------------------------------------------------------------------------------------


def _levers(draft: _Draft) -> None:
    dossier = draft.installation.dossier
    for control in (*dossier.controls.values(), *dossier.conditions.values()):
        _lever(draft, control.id, control, None)
    for equipment in draft.installation.equipment.values():
        for short, control in equipment.controls.items():
            name = f"{equipment.item.id}.{short}" if short else equipment.item.id
            bound = equipment.binds.get(short)
            if bound is not None and bound in draft.lever_of:
                draft.lever_of[name] = draft.lever_of[bound]
            else:
                _lever(draft, name, control, equipment.item.start.get(short))
        for followed in equipment.follows:
            bound = equipment.binds.get(followed, "")
            if bound in draft.lever_of:
                draft.lever_of[f"{equipment.item.id}.{followed}"] = draft.lever_of[bound]


def _lever(draft: _Draft, name: str, control: Control, start: str | float | None) -> None:
    first = control.start if start is None else start
    springs = control.springs_to
    low, high = (control.range[0].value, control.range[1].value) if control.range else (0.0, 1.0)
    value: float
    if control.positions:
        value = control.positions.index(first) if first in control.positions else 0
    else:
        value = float(first) if isinstance(first, int | float) else low
    draft.lever_of[name] = len(draft.levers)
    draft.levers.append(
        Lever(
            name=name,
            positions=control.positions,
            low=low,
            high=high,
            start=value,
            springs_to=control.positions.index(springs) if springs in control.positions else None,
            world=control.world,
            dimension=control.range[0].dimension if control.range else "",
            turns=control.turns,
        )
    )


# -- earths and cables -----------------------------------------------------------------------------------------


def _earths(draft: _Draft) -> None:
    for bolt in draft.installation.dossier.earths.values():
        name = f"{AIRFRAME}.{bolt.id}"
        ohms = bolt.resistance.value if bolt.resistance else BOLT_OHMS
        a = draft.node(name)
        draft.branch(name, Branch(name=name, a=a, b=0, law=Straight(resistance=ohms), sort="bolt"))
    for bolt in draft.installation.dossier.earths.values():
        for other, bond in bolt.bonds.items():
            name = f"{AIRFRAME}.{bolt.id}~{other}"
            a, b = draft.node(f"{AIRFRAME}.{bolt.id}"), draft.node(f"{AIRFRAME}.{other}")
            draft.branch(name, Branch(name=name, a=a, b=b, law=Straight(resistance=bond.value), sort="bond"))


def resistance_of(cable: Cable, installation: Installation, *, temperature: float = 20.0) -> float:
    """Resistance of a cable from end to end.

    Parameters
    ----------
    cable
        Of the installation.
    installation
        For its looms, sheaths and allowance.
    temperature
        Of the conductor [°C].

    Returns
    -------
    float
        [ohm], with plain values where the record gives no length or size.
    """
    size = cable.size if isinstance(cable.size, Size) else UNKNOWN_SIZE
    if cable.core:
        sheath = installation.dossier.sheaths.get(cable.core.rpartition(".")[0])
        size = sheath.size if sheath is not None and sheath.size is not None else size
    length = cable_length(cable, installation.dossier)
    metres = UNKNOWN_LENGTH if length is None or length.quantity is None else length.quantity.value
    try:
        return conductor_resistance(size, length=metres, temperature=temperature)
    except LoomloreError:
        return conductor_resistance(UNKNOWN_SIZE, length=metres, temperature=temperature)


def _cables(draft: _Draft, temperature: float) -> tuple[str, ...]:
    unsolved = []
    for cable in draft.installation.dossier.cables.values():
        if cable.type or not cable.from_ or not cable.to:
            unsolved.append(cable.id)
            continue
        ohms = resistance_of(cable, draft.installation, temperature=temperature)
        law = Straight(resistance=max(ohms, 1e-5))
        ends = draft.node(cable.from_), draft.node(cable.to)
        draft.branch(f"cable:{cable.id}", Branch(name=cable.id, a=ends[0], b=ends[1], law=law, sort="cable"))
    return tuple(unsolved)


def _joints(draft: _Draft) -> None:
    for joint in draft.installation.joints:
        law = Straight(resistance=joint.resistance)
        a, b = draft.node(joint.end_a), draft.node(joint.end_b)
        item = joint.end_a.rpartition(".")[0]
        draft.branch(joint.end_a, Branch(name=joint.end_a, a=a, b=b, law=law, sort="joint", item=item))


# -- equipment -------------------------------------------------------------------------------------------------


def _end(draft: _Draft, equipment: Equipment, short: str) -> int:
    if short == AIRFRAME:
        bolt = equipment.item.earth.removeprefix(f"{AIRFRAME}.")
        return draft.node(f"{AIRFRAME}.{bolt}" if bolt and bolt != AIRFRAME else AIRFRAME)
    return draft.node(f"{equipment.item.id}.{short}")


def _equipment(draft: _Draft, equipment: Equipment) -> None:
    item = equipment.item.id
    for terminal in (*equipment.terminal_names, *equipment.inner):
        draft.node(f"{item}.{terminal}")
    for contact in equipment.contacts.values():
        name = f"{item}.{contact.name}"
        a, b = _end(draft, equipment, contact.ends[0]), _end(draft, equipment, contact.ends[1])
        law = Straight(resistance=contact.resistance)
        draft.branch(name, Branch(name=name, a=a, b=b, law=law, sort="contact", item=item))
    for element in equipment.elements.values():
        _element(draft, equipment, element)
    for latch in equipment.latches.values():
        draft.variable(Variable(name=f"{item}.{latch.name}", what="latch", start=int(latch.start)))


_REMEMBERED = {"coil": "coil", "fuse": "blown", "cartridge": "fired"}


def _element(draft: _Draft, equipment: Equipment, element: Element) -> None:
    name = f"{equipment.item.id}.{element.name}"
    follows = _followed(draft, equipment, element)
    law = _law(draft, equipment, element, follows)
    what = _REMEMBERED.get(element.law)
    branch = Branch(
        name=name,
        a=_end(draft, equipment, element.ends[0]),
        b=_end(draft, equipment, element.ends[1]),
        law=law,
        sort="fuse" if element.law == "fuse" else "element",
        item=equipment.item.id,
        follows=follows,
    )
    number = draft.branch(name, branch)
    if what:
        memory = draft.variable(Variable(name=name, what=what, branch=number))
        draft.branches[number] = replace(branch, memory=memory)
    for followed, rate in element.moves.items():
        lever = draft.lever_of.get(f"{equipment.item.id}.{followed}")
        if lever is not None:
            draft.movements.append(Movement(branch=number, lever=lever, rate=rate))


def _followed(draft: _Draft, equipment: Equipment, element: Element) -> int:
    word = element.words.get("follows") or element.words.get("speed")
    return draft.lever_of.get(f"{equipment.item.id}.{word}", -1) if word else -1


def _law(draft: _Draft, equipment: Equipment, element: Element, follows: int) -> Law:
    header = draft.installation.dossier.header
    lever = draft.levers[follows] if follows >= 0 else None
    return law_of(
        element,
        supply=header.supply.value if header.supply else 24.0,
        basis=equipment.item.basis or header.basis,
        low=lever.low if lever else 0.0,
        high=lever.high if lever else 1.0,
    )


def _indications(draft: _Draft, equipment: Equipment) -> None:
    """Printed scales; a plain meter without one shows its own amperes or volts up to full scale."""
    item = equipment.item.id
    scales = [s for s in draft.installation.dossier.scales.values() if s.item == item]
    meters = [e for e in equipment.elements.values() if e.law == "meter"]
    if equipment.ratio:
        first, second = (draft.branch_of[f"{item}.{name}"] for name in equipment.ratio)
        of = "ratio"
    elif meters:
        first, second = draft.branch_of[f"{item}.{meters[0].name}"], -1
        of = "amps" if "current" in meters[0].rating else "volts"
    else:
        return
    made = []
    for scale in scales:
        points = tuple((x, mark.value) for x, mark in scale.points)
        made.append(
            Indication(
                name=scale.id,
                of=of,
                first=first,
                second=second,
                points=points,
                dimension=scale.points[0][1].dimension if scale.points else "",
            )
        )
    if not made and meters:
        made.append(_plain_dial(f"{item}.{meters[0].name}", of, first, meters[0]))
    numbers = []
    for dial in made:
        if len(dial.points) < 2:
            continue
        draft.indication_of[dial.name] = len(draft.indications)
        numbers.append(len(draft.indications))
        draft.indications.append(dial)
    for branch in (first, second):
        if branch >= 0:
            draft.dials[branch] = tuple(numbers)


def _plain_dial(name: str, of: str, branch: int, element: Element) -> Indication:
    dimension = "current" if of == "amps" else "voltage"
    full = element.rating[dimension].value if dimension in element.rating else 0.0
    points = ((0.0, 0.0), (full, full)) if full > 0 else ()
    return Indication(name=name, of=of, first=branch, points=points, dimension=dimension)


# -- conditions ------------------------------------------------------------------------------------------------


def _conditions(draft: _Draft, lexicon: Lexicon) -> None:
    for equipment in draft.installation.equipment.values():
        item = equipment.item.id
        for contact in equipment.contacts.values():
            _close(draft, lexicon, contact, item)
        for element in equipment.elements.values():
            if element.works is not None:
                number = draft.branch_of[f"{item}.{element.name}"]
                works = lexicon.remembered(element.works, within=item)
                draft.branches[number] = replace(draft.branches[number], works=works)
        for latch in equipment.latches.values():
            number = draft.variable_of[f"{item}.{latch.name}"]
            rule = _rule(draft, lexicon, latch, item)
            draft.variables[number] = replace(draft.variables[number], latch=rule)
    for equipment in draft.installation.equipment.values():
        _restrain(draft, lexicon, equipment)
    for joint in draft.installation.joints:
        if joint.closed is not None:
            number = draft.branch_of[joint.end_a]
            closed = lexicon.remembered(joint.closed, within="")
            draft.branches[number] = replace(draft.branches[number], closed=closed)


FEELS = 0.1
"""Share of the supply's volts from which a regulator's coil holds back the field: below it a machine has its full
field anyway, as it builds up. Common practice, no source."""

FEELING = ("coil", "shunt")
"""What the winding is called, across the machine, by which a regulator feels its volts."""


def _restrain(draft: _Draft, lexicon: Lexicon, equipment: Equipment) -> None:
    """A regulated machine is held back only while its regulator's coil has volts; else it has its full field."""
    regulator = draft.installation.equipment.get(equipment.item.regulated_by)
    if regulator is None or not regulator.regulates:
        return
    name = next((f"{regulator.item.id}.{part}" for part in FEELING if part in regulator.elements), "")
    if name not in draft.branch_of:
        return
    header = draft.installation.dossier.header
    number = draft.branch_of[name]
    winding = draft.branches[number].law
    if not isinstance(winding, Straight):
        return
    # by its amperes, which are defined in an insulated installation too
    limit = FEELS * (header.supply.value if header.supply else 24.0) / winding.resistance
    limits: Limits = (("<", -limit),) if header.earthed == "positive" else ((">", limit),)
    felt = lexicon.measured(Measured("amps", number, limits=limits))
    for element in equipment.elements.values():
        number = draft.branch_of[f"{equipment.item.id}.{element.name}"]
        if isinstance(draft.branches[number].law, Generator):
            draft.branches[number] = replace(draft.branches[number], restrained=felt)


def _close(draft: _Draft, lexicon: Lexicon, contact: Contact, item: str) -> None:
    if contact.closed is None:
        return
    number = draft.branch_of[f"{item}.{contact.name}"]
    closed = lexicon.remembered(contact.closed, within=item)
    draft.branches[number] = replace(draft.branches[number], closed=closed)


def _rule(draft: _Draft, lexicon: Lexicon, latch: Latch, item: str) -> LatchRule:
    def made(sentence: Sentence | None) -> Condition | None:
        return None if sentence is None else lexicon.condition(sentence, within=item)

    return LatchRule(
        set=made(latch.set),
        release=made(latch.release),
        set_on=made(latch.set_on),
        release_on=made(latch.release_on),
        set_after=latch.set_after,
        release_after=latch.release_after,
        set_wins=latch.wins == "set",
        lost_with=draft.branch_of.get(f"{item}.{latch.lost_with}", -1) if latch.lost_with else -1,
    )
