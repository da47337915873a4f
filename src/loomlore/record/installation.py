"""A dossier in one standard of fit, joined to its kinds: what everything after the record works from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from loomlore.findings import Finding, Severity, UnreadableValue
from loomlore.record.equipment import Equipment, cable_ends, equip, with_regulation
from loomlore.record.fitting import fitted, named_standard
from loomlore.record.laws import CONTACT_OHMS
from loomlore.record.model import Dossier, Item
from loomlore.record.parts import Element, Kind
from loomlore.record.remarks import PlaceOf, Remarks, meant
from loomlore.record.vocabulary import own_word
from loomlore.sentences import Is, Sentence

__all__ = ["Installation", "Joint", "join"]


@dataclass(frozen=True, slots=True)
class Joint:
    """A way of one half of a plug against the same way of the other: a contact across two items.

    Ends are ``item.terminal``; ``closed`` is in the dossier's names (None: always); ``resistance`` [ohm].
    """

    end_a: str
    end_b: str
    closed: Sentence | None
    resistance: float = CONTACT_OHMS


@dataclass(frozen=True, kw_only=True)
class Installation:
    """``dossier`` holds only what is fitted, with the fits' changes made; ``equipment`` its items, joined.

    ``fits`` are the fits and modifications that are fitted; ``whole`` is the record before the fits.
    ``joints`` join the ways of plug halves; each is closed while the half that says ``mates`` is in, and
    ``joined_by`` maps either half to the half whose joint it is. ``kinds`` are all that items may be.
    """

    dossier: Dossier
    equipment: Mapping[str, Equipment] = field(default_factory=dict)
    fits: frozenset[str] = frozenset()
    whole: Dossier = field(default_factory=Dossier)
    joints: tuple[Joint, ...] = ()
    joined_by: Mapping[str, str] = field(default_factory=dict)
    kinds: Mapping[str, Kind] = field(default_factory=dict)


def join(
    dossier: Dossier,
    kinds: Mapping[str, Kind],
    fits: frozenset[str] | None = None,
    *,
    place_of: PlaceOf | None = None,
    like: Installation | None = None,
) -> tuple[Installation, tuple[Finding, ...]]:
    """Take a dossier in one standard of fit and join each item to its kind.

    Parameters
    ----------
    dossier
        The whole record.
    kinds
        The catalogue's kinds and the dossier's own.
    fits
        What is fitted; None is the dossier's default standard.
    place_of
        Where a key of a thing stands, for findings.
    like
        The same record in another standard of fit: what does not differ is taken from there, and its
        findings are not repeated.

    Returns
    -------
    tuple of Installation and tuple of Finding
        Items whose kind is not known are left out, with a finding.
    """
    chosen = named_standard(dossier, None) if fits is None else fits
    present = fitted(dossier, chosen)
    loose = {name for name, kind in kinds.items() if kind.any_terminal}
    ends = cable_ends(present) if any(item.kind in loose for item in present.items.values()) else {}
    equipment: dict[str, Equipment] = {}
    remarks = Remarks(place_of)
    for item in present.items.values():
        kind = kinds.get(item.kind)
        if kind is None:
            _say_unknown_kind(item, kinds, remarks)
            continue
        if like is not None and not kind.any_terminal and _unchanged(item, present, like):
            equipment[item.id] = like.equipment[item.id]
            continue
        equipment[item.id], slips = equip(item, kind, present, ends=ends, place_of=place_of)
        remarks.findings.extend(slips)
    _regulate(present, equipment, remarks)
    joints, joined_by = _joints(present, equipment, remarks)
    joined = Installation(
        dossier=present,
        equipment=equipment,
        fits=chosen,
        whole=dossier,
        joints=joints,
        joined_by=joined_by,
        kinds=kinds,
    )
    return joined, tuple(remarks.findings)


def _unchanged(item: Item, present: Dossier, like: Installation) -> bool:
    """Whether an item and its ways are the very same in another standard of fit."""
    parts = like.equipment.get(item.id)
    if parts is None or parts.item is not item or item.regulated_by:
        return False
    names = (f"{item.id}.{way}" for way in parts.fuse_ways)
    return all(present.ways.get(name) is like.dossier.ways.get(name) for name in names)


def _say_unknown_kind(item: Item, kinds: Mapping[str, Kind], remarks: Remarks) -> None:
    if not item.kind:
        hint = 'Write kind = "…", or kind = "unknown" for the time being.'
        remarks.say("no-kind", item, f"Item {item.id!r} says no kind.", hint)
        return
    same = own_word(item.kind, kinds)
    none = "Use a kind of the catalogue (docs/kinds.md lists them), or write your own under [kind]."
    hint = f"Here it is called {same!r}." if same else meant(item.kind, kinds, none=none)
    message = f"Item {item.id!r} is of kind {item.kind!r}, which nobody has described."
    remarks.say("unknown-kind", item, message, hint, key="kind")


def _regulate(dossier: Dossier, equipment: dict[str, Equipment], remarks: Remarks) -> None:
    """Give each regulated generator the set volts and droop of its regulator."""
    supply = dossier.header.supply.value if dossier.header.supply else None
    for item in dossier.items.values():
        if not item.regulated_by or item.id not in equipment:
            continue
        regulator = equipment.get(item.regulated_by)
        if regulator is None or not regulator.regulates:
            _say_no_regulator(item, equipment, remarks)
            continue
        machine = equipment[item.id]
        elements: dict[str, Element] = dict(machine.elements)
        for name, element in machine.elements.items():
            if element.law == "generator":
                try:
                    elements[name] = with_regulation(element, regulator, supply=supply)
                except UnreadableValue as slip:
                    message = f"Item {regulator.item.id!r} cannot regulate: {slip.message}"
                    remarks.say("unfit-parameter", regulator.item, message, slip.hint)
        equipment[item.id] = replace(machine, elements=elements)


def _say_no_regulator(item: Item, equipment: Mapping[str, Equipment], remarks: Remarks) -> None:
    able = [name for name, other in equipment.items() if other.regulates]
    what = "no regulator" if item.regulated_by in equipment else "not in the record, or not fitted"
    message = f"Item {item.id!r} is regulated by {item.regulated_by!r}, which is {what}."
    hint = meant(item.regulated_by, able, none="Add the regulator's item.")
    remarks.say("no-regulator", item, message, hint, key="regulated-by")


def _joints(
    dossier: Dossier, equipment: Mapping[str, Equipment], remarks: Remarks
) -> tuple[tuple[Joint, ...], dict[str, str]]:
    joints: list[Joint] = []
    joined_by: dict[str, str] = {}
    for item in dossier.items.values():
        if not item.mates or item.id not in equipment or item.mates not in equipment:
            continue  # a half that is not there, or of an unknown kind, has its own finding
        if joined_by.get(item.id) == item.mates:
            continue  # both halves name each other: one joint, the first one's
        if taken := next((h for h in (item.id, item.mates) if h in joined_by), None):
            message = f"Item {item.id!r} mates {item.mates!r}, but {taken!r} is already mated by "
            message += f"{joined_by[taken]!r}."
            hint = "Give the two plugs different fits, or mend `mates`."
            remarks.say("mated-twice", item, message, hint, key="mates")
            continue
        joined_by[item.id] = joined_by[item.mates] = item.id
        joints.extend(_ways_joined(equipment[item.id], equipment[item.mates], remarks))
    return tuple(joints), joined_by


def _ways_joined(plug: Equipment, socket: Equipment, remarks: Remarks) -> Iterator[Joint]:
    closed = Is(plug.item.id, ("in",))
    mine, theirs = plug.terminal_names, set(socket.terminal_names)
    shared = [t for t in mine if t in theirs]
    if len(shared) < max(len(theirs), len(mine)):
        message = (
            f"Item {plug.item.id!r} has {len(mine)} ways and its mate {socket.item.id!r} has {len(theirs)}; "
            f"{len(shared)} meet."
        )
        hint = (
            "Give both halves the same `ways`, or leave the smaller one's ways unused by intent and say so."
        )
        severity = Severity.WARNING if shared else Severity.ERROR
        remarks.say("unequal-halves", plug.item, message, hint, key="mates", severity=severity)
    for terminal in shared:
        yield Joint(f"{plug.item.id}.{terminal}", f"{socket.item.id}.{terminal}", closed)
