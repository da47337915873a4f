"""What can be wrong inside an item, by the law of each element: lamps, motors, coils, fuses, batteries."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from loomlore.faults.terminals import thing_words
from loomlore.network.building import Plant
from loomlore.network.conditions import StateIs, leaves
from loomlore.network.laws import (
    OPEN,
    Battery,
    Cartridge,
    Coil,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Law,
    Magneto,
    Meter,
    Motor,
    Rectifier,
    Rheostat,
    Source,
    Straight,
)
from loomlore.network.model import Branch

__all__ = ["Inside", "element_faults"]

INNER_SHORT = 0.02
"""Ohms of a winding or holder short-circuited inside: common practice, no source."""

BAD_CLIPS = 2.0
"""Ohms of a bad contact inside: as of a bad joint, common practice, no source."""

NEVER_PULLS = 1e9
"""Volts that no installation has: a coil that needs them does not pull in."""

CONDENSER_OHMS = 1e6
"""A branch of more ohms than this is a condenser, which passes nothing while it is sound."""

SHORT_CIRCUITED = "short-circuited"


@dataclass(frozen=True, kw_only=True)
class Inside:
    """A fault inside an item, before it gets its rate: its mode, the part it counts as, what changes."""

    name: str
    item: str
    mode: str
    part: str
    words: str
    look: str
    branches: tuple[tuple[int, Branch], ...] = ()
    levers: tuple[tuple[int, float], ...] = ()
    forgets: tuple[int, ...] = ()
    own: tuple[int, ...] = ()


_NOUNS: dict[type[Any], str] = {
    Filament: "lamp",
    Motor: "winding",
    Cartridge: "bridge",
    Meter: "coil",
    Rheostat: "arm",
}
_NAMED_ALREADY = ("filament", "armature", "coil", "field", "winding", "charge", "movement", "track")


@dataclass(frozen=True)
class _Piece:
    """One element, and what its faults are made from."""

    plant: Plant
    number: int

    @property
    def branch(self) -> Branch:
        return self.plant.network.branches[self.number]

    @property
    def called(self) -> str:
        """The element's name within a sentence."""
        item, _, part = self.branch.name.rpartition(".")
        equipment = self.plant.installation.equipment[item]
        if part.isdigit():
            return f"{thing_words(self.plant, item)} way {part}"
        thing = thing_words(self.plant, item)
        if len(equipment.elements) <= 1:
            return thing
        noun = _NOUNS.get(type(self.branch.law), "")
        if len(part) == 1 and noun:
            return f"{noun} {part} of {thing}"
        own = noun if noun and part not in _NAMED_ALREADY else ""
        return f"the {f'{part} {own}'.strip().replace('-', ' ')} of {thing}"

    def fault(
        self, mode: str, part: str, said: str, look: str, law: Law | None = None, **more: Any
    ) -> Inside:
        """A fault that puts another law in the element's place."""
        branches = more.pop("branches", None)
        if branches is None:
            branches = ((self.number, _refitted(self.branch, law)),) if law is not None else ()
        return Inside(
            name=self.branch.name,
            item=self.branch.item,
            mode=mode,
            part=part,
            words=f"{self.called} {said}",
            look=look,
            branches=branches,
            **more,
        )

    def opened(self, part: str, said: str, look: str, mode: str = "open") -> Inside:
        """The element carries nothing any more."""
        return self.fault(mode, part, said, look, self._resistance(1 / OPEN), own=(self.number,))

    def shorted(self, part: str, look: str, said: str = f"is {SHORT_CIRCUITED} inside") -> Inside:
        """The element is a dead short."""
        return self.fault("shorted", part, said, look, self._resistance(INNER_SHORT), own=(self.number,))

    def _resistance(self, ohms: float) -> Law:
        """A coil stays one, so that what is remembered of it lets go."""
        law = self.branch.law
        if isinstance(law, Coil):
            return replace(law, resistance=ohms, pulls_in=NEVER_PULLS, drops_out=NEVER_PULLS)
        return Straight(resistance=ohms)


def _refitted(branch: Branch, law: Law) -> Branch:
    works = None if isinstance(law, Straight) else branch.works
    return replace(branch, law=law, works=works, closed=None)


def element_faults(plant: Plant) -> Iterator[Inside]:
    """Every fault inside every item.

    Parameters
    ----------
    plant
        The installation.

    Returns
    -------
    iterator of Inside
        In order of the network's branches.
    """
    for number, branch in enumerate(plant.network.branches):
        if branch.sort in ("element", "fuse"):
            maker = _MAKERS.get(type(branch.law))
            if maker is not None:
                yield from maker(_Piece(plant, number))


def _lamp(piece: _Piece) -> Iterator[Inside]:
    law = piece.branch.law
    assert isinstance(law, Filament)
    volts = law.volts / 2 if law.volts > 16 else law.volts * 2
    wrong = replace(law, volts=volts, amps=law.amps * law.volts / volts)
    named = f"{volts:g}"
    yield piece.opened(
        "lamp", "is burnt out", f"Take the bulb out of {piece.called} and try it on the bench.", "burnt-out"
    )
    yield piece.fault(
        "wrong-lamp",
        "lamp",
        f"has a {named} V lamp in it",
        f"Read the cap of the bulb in {piece.called}: {law.volts:g} V belongs there.",
        wrong,
    )
    yield piece.shorted(
        "lamp",
        f"Look at the holder of {piece.called}: a bent contact, solder, verdigris.",
        "has its holder short-circuited",
    )


def _motor(piece: _Piece) -> Iterator[Inside]:
    law = piece.branch.law
    assert isinstance(law, Motor)
    part = "starter" if piece.plant.installation.equipment[piece.branch.item].symbol == "starter" else "motor"
    stalled = Motor(volts=law.volts, amps=law.amps * law.stall, stall=1.0, steps=(1e9, 1e9))
    yield piece.opened(
        part, "has an open winding or brush", f"Look at the brushes of {piece.called}; measure its winding."
    )
    yield piece.shorted(part, f"Measure the winding of {piece.called} against its data, and to its frame.")
    yield piece.fault("seized", part, "is seized", f"Turn {piece.called} by hand, its fuse out.", stalled)


def _plain(piece: _Piece) -> Iterator[Inside]:
    """Horns, heaters, resistors, piles and condensers, which are all one law."""
    law, item = piece.branch.law, piece.plant.installation.equipment[piece.branch.item]
    assert isinstance(law, Straight)
    if law.resistance >= CONDENSER_OHMS:
        yield piece.shorted(
            "condenser",
            f"Take off one lead of {piece.called} and measure it to earth; then look for a burnt lead.",
        )
        return
    part = "horn" if "silent" in law.states else "heater" if law.states else "resistor"
    yield piece.opened(part, "is open inside", f"Measure {piece.called} through.")
    if law.resistance <= 10 * INNER_SHORT:
        worse = replace(law, resistance=law.resistance + BAD_CLIPS)
        yield piece.fault(
            "high-resistance",
            part,
            "has a loose or black stud",
            f"Look at the studs of {piece.called}.",
            worse,
        )
    else:
        regulator = item.regulates and piece.branch.name.endswith((".pile", ".points"))
        said = "is stuck closed" if regulator else f"is {SHORT_CIRCUITED} inside"
        if regulator:
            yield from _stuck_regulator(piece)
        else:
            yield piece.shorted(part, f"Measure {piece.called} against its data.", said)


def _stuck_regulator(piece: _Piece) -> Iterator[Inside]:
    network = piece.plant.network
    machines = []
    for name, equipment in piece.plant.installation.equipment.items():
        if equipment.item.regulated_by == piece.branch.item:
            machines += [
                n for n, b in enumerate(network.branches) if b.item == name and isinstance(b.law, Generator)
            ]
    changed = tuple(
        (n, replace(network.branches[n], law=replace(law, mode="stuck")))
        for n in machines
        if isinstance(law := network.branches[n].law, Generator)
    )
    if changed:
        look = (
            f"Look at {piece.called}: pile stuck, points welded, coil lead off; watch the voltmeter as the "
            "engine is opened up."
        )
        yield piece.fault("regulator-stuck", "generator", "is stuck closed", look, branches=changed)


def _coil(piece: _Piece) -> Iterator[Inside]:
    law = piece.branch.law
    assert isinstance(law, Coil)
    symbol = piece.plant.installation.equipment[piece.branch.item].symbol
    solenoid, field = symbol == "valve", symbol == "generator"
    part = "solenoid" if solenoid else "coil"
    yield piece.opened(
        part, "has an open coil" if not field else "is open", f"Measure the coil of {piece.called}."
    )
    yield piece.shorted(part, f"Measure the coil of {piece.called} against its data.")
    if field:
        return
    armature = "solenoid" if solenoid else "relay"
    idle = replace(law, pulls_in=NEVER_PULLS, drops_out=NEVER_PULLS)
    held = replace(law, pulls_in=0.0, drops_out=0.0)
    look = f"Work the armature of {piece.called} by hand: free, gap clean, spring right."
    yield piece.fault("does-not-pull", armature, "does not pull in", look, idle)
    yield piece.fault("sticks-in", armature, "sticks pulled in", look, held)


def _fuse(piece: _Piece) -> Iterator[Inside]:
    law = piece.branch.law
    assert isinstance(law, Fuse)
    box = f"the fuse in {piece.called}"
    yield piece.opened(
        "fuse", "has its fuse blown, out or loose in the clips", f"Look at {box} and its clips.", "blown"
    )
    light = replace(law, carrying=law.carrying / 2, fusing=law.fusing / 2, resistance=2 * law.resistance)
    heavy = replace(law, carrying=law.carrying * 4, fusing=law.fusing * 4, resistance=law.resistance / 4)
    dirty = replace(law, resistance=law.resistance + BAD_CLIPS)
    yield piece.fault(
        "high-resistance", "fuse", "sits badly in its clips", f"Look at {box}: clips black or slack.", dirty
    )
    right = f"{law.carrying:g} A carrying belongs there"
    yield piece.fault(
        "too-light", "fuse", f"has a fuse of {light.carrying:g} A in it", f"Read {box}: {right}.", light
    )
    yield piece.fault(
        "too-heavy", "fuse", f"has a fuse of {heavy.carrying:g} A in it", f"Read {box}: {right}.", heavy
    )


def _set(piece: _Piece) -> Iterator[Inside]:
    yield piece.opened(
        "set",
        "is dead inside",
        f"Look at the fuse and the supply plug of {piece.called}; try it on the bench.",
    )
    yield piece.shorted("set", f"Measure the supply of {piece.called} to earth, its plug out.")


def _meter(piece: _Piece) -> Iterator[Inside]:
    yield piece.opened(
        "meter",
        "is open inside",
        f"Measure {piece.called} through with a bridge, never with a low ohmmeter across a movement.",
    )
    law = piece.branch.law
    if isinstance(law, Meter) and law.resistance > 10 * INNER_SHORT:
        yield piece.shorted("meter", f"Measure {piece.called} against its data.")


def _rheostat(piece: _Piece) -> Iterator[Inside]:
    yield piece.opened("rheostat", "has a broken track", f"Measure {piece.called} through its whole travel.")
    yield piece.shorted("rheostat", f"Measure {piece.called} through its whole travel.")


def _rectifier(piece: _Piece) -> Iterator[Inside]:
    yield piece.opened("rectifier", "is open", f"Measure {piece.called} both ways.")
    yield piece.shorted("rectifier", f"Measure {piece.called} both ways.", "passes current both ways")


def _battery(piece: _Piece) -> Iterator[Inside]:
    law = piece.branch.law
    assert isinstance(law, Battery)
    cells = max(1, round(law.open_volts / 2.1))
    flat = replace(law, open_volts=0.96 * law.open_volts, resistance=2.5 * law.resistance)
    less = (cells - 1) / cells
    cell = replace(law, open_volts=less * law.open_volts, charging_volts=less * law.charging_volts)
    yield piece.opened(
        "battery",
        "has an open cell or link, or a post loose",
        f"Look at the posts and links of {piece.called}; measure each cell on load.",
    )
    yield piece.fault("flat", "battery", "is half flat", f"Hydrometer in every cell of {piece.called}.", flat)
    yield piece.fault(
        "cell-shorted", "battery", "has a cell shorted", f"Measure each cell of {piece.called} on load.", cell
    )
    if piece.plant.installation.equipment[piece.branch.item].kind.startswith("ground-supply"):
        reversed_ = Source(volts=-law.open_volts, resistance=law.resistance)
        look = (
            "Prove the trolley's polarity with a voltmeter before the plug goes in; look at the plug's "
            "long and short pins."
        )
        yield piece.fault("reversed", "battery", "comes in with its polarity reversed", look, reversed_)


def _generator(piece: _Piece) -> Iterator[Inside]:
    law, network = piece.branch.law, piece.plant.network
    assert isinstance(law, Generator)
    yield piece.opened(
        "generator",
        "gives nothing: brushes or armature open",
        f"Look at the brushes and commutator of {piece.called}.",
    )
    yield piece.shorted(
        "generator", f"Look at the brushes and commutator of {piece.called}; measure to its frame."
    )
    fields = (
        [leaf.variable for leaf in leaves(piece.branch.works) if isinstance(leaf, StateIs)]
        if piece.branch.works
        else []
    )
    latches = [
        n
        for n, v in enumerate(network.variables)
        if v.what == "latch" and _beside(piece.plant, v.name, piece.branch)
    ]
    look = (
        f"Look for the residual volt or two at {piece.called}, turning; if there is none, flash the field "
        "as its handbook says."
    )
    yield piece.fault(
        "lost-residual",
        "generator",
        "has lost its residual",
        look,
        replace(law, residual=0.0),
        forgets=(*fields, *latches),
    )


def _beside(plant: Plant, name: str, branch: Branch) -> bool:
    """Whether a latch is in an item that plain leads join to a machine: its own cut-out."""
    network = plant.network
    item = name.rpartition(".")[0]
    reached, waiting = {branch.a}, [branch.a]
    while waiting:
        node = waiting.pop()
        for other in network.branches:
            if (
                node in (other.a, other.b)
                and other.closed is None
                and other.sort in ("cable", "joint", "element")
            ):
                law = other.law
                far = other.b if node == other.a else other.a
                if isinstance(law, Straight) and law.resistance < 1.0 and far not in reached and far:
                    reached.add(far)
                    waiting.append(far)
        for other in network.branches:
            stud = other.sort == "contact" and node in (other.a, other.b)
            if stud and plant.installation.equipment[other.item].symbol == "stud":
                far = other.b if node == other.a else other.a
                if far not in reached and far:
                    reached.add(far)
                    waiting.append(far)
    return any(network.node_names[node].rpartition(".")[0] == item for node in reached)


def _cartridge(piece: _Piece) -> Iterator[Inside]:
    yield piece.opened(
        "cartridge",
        "has a broken bridge, or is spent",
        "Arming plug out; then the test lamp, never an ohmmeter.",
    )


def _magneto(piece: _Piece) -> Iterator[Inside]:
    yield piece.shorted(
        "magneto",
        f"Take the lead off {piece.called}: if it sparks now the lead is earthed, if not the magneto.",
        "has its primary earthed inside",
    )


_Maker = Callable[[_Piece], Iterator[Inside]]

_MAKERS: dict[type[Any], _Maker] = {
    Filament: _lamp,
    Motor: _motor,
    Straight: _plain,
    Coil: _coil,
    Fuse: _fuse,
    ConstantPower: _set,
    Meter: _meter,
    Rheostat: _rheostat,
    Rectifier: _rectifier,
    Battery: _battery,
    Generator: _generator,
    Cartridge: _cartridge,
    Magneto: _magneto,
}
