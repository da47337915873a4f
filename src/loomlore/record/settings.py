"""What is set to what: names and values of settings, as procedures, phases and the crew write them."""

from __future__ import annotations

from dataclasses import dataclass

from loomlore.findings import UnreadableValue
from loomlore.quantities import read_quantity
from loomlore.record.installation import Installation
from loomlore.record.laws import LAWS
from loomlore.record.model import Control
from loomlore.record.naming import Reference, Unresolved, called_reference, free_control, resolve
from loomlore.record.shapes import read_amount

__all__ = ["Setting", "control_behind", "resolve_setting"]


@dataclass(frozen=True, slots=True)
class Setting:
    """What a setting moves and where to: a position, or an amount in the inside unit of the range.

    ``reference`` is a control, a condition, or the element of a fuse that is pulled or put in by hand;
    ``control`` is None for a fuse.
    """

    reference: Reference
    value: str | float | None
    control: Control | None


def resolve_setting(name: str, value: str | float | None, installation: Installation) -> Setting | Unresolved:
    """What ``name = value`` sets.

    Parameters
    ----------
    name
        As in a sentence.
    value
        A position, an amount with its unit, a bare number; None where only the name is of interest. For a
        range of the dossier's own a number is in the inside unit, as the reader leaves it.
    installation
        The record in one standard of fit.

    Returns
    -------
    Setting or Unresolved
        What is moved, and where to; or why nothing is.
    """
    if value is None:
        found = resolve(name, installation, sense="is")
        if isinstance(found, Unresolved) and found.rule == "wrong-sense":
            found = resolve(name, installation, sense="compare")
        return found if isinstance(found, Unresolved) else _movable(found, None, name, installation)
    if isinstance(value, str):
        found = resolve(name, installation, sense="is", words=(value,))
        if isinstance(found, Reference):
            return _movable(found, value, name, installation)
        if found.rule not in ("wrong-sense", "unknown-position") or not _is_amount(value):
            return found
    return _set_amount(name, value, installation)


def _is_amount(text: str) -> bool:
    try:
        read_quantity(text, bare=True)
    except UnreadableValue:
        return False
    return True


def _movable(
    found: Reference, value: str | float | None, name: str, installation: Installation
) -> Setting | Unresolved:
    control = control_behind(found, installation)
    if control is not None and found.what != "follow":
        return Setting(found, value, control)
    if found.what == "element" and set(found.words) == set(LAWS["fuse"].states):
        return Setting(found, value, None)
    hint = "Set the control or the condition that brings it about."
    return Unresolved(
        f"{name!r} is seen, not set: it is {called_reference(found)}.", hint, rule="wrong-sense"
    )


def _set_amount(name: str, value: str | float, installation: Installation) -> Setting | Unresolved:
    found = resolve(name, installation, sense="compare")
    if isinstance(found, Unresolved):
        return found
    control = control_behind(found, installation)
    if control is None or control.range is None or found.what == "follow":
        return _movable(found, value, name, installation)
    low, high = control.range
    if not isinstance(value, str) and name in (
        *installation.dossier.conditions,
        *installation.dossier.controls,
    ):
        return Setting(found, float(value), control)  # the reader has read its unit
    try:
        amount = read_amount(value, None)
        if amount.dimension != low.dimension and {amount.dimension, low.dimension} != {"", "fraction"}:
            amount = read_amount(value, low.dimension)
    except UnreadableValue as slip:
        return Unresolved(f"{name!r}: {slip.message}", slip.hint, rule="wrong-unit")
    if not low.value <= amount.value <= high.value:
        message = f"{name!r} cannot stand at {amount.text!r}: it runs from {low.text} to {high.text}."
        return Unresolved(message, "Write an amount within that.", rule="unknown-position")
    return Setting(found, amount.value, control)


def control_behind(found: Reference, installation: Installation) -> Control | None:
    """The control or condition that a reference speaks of, or that moves what it speaks of.

    Parameters
    ----------
    found
        What a name stands for.
    installation
        The record in the same standard of fit.

    Returns
    -------
    Control or None
        None where it is nothing that is moved.
    """
    name: str | None = found.id
    if found.what == "follow":
        item, _, short = found.id.partition(".")
        name = installation.equipment[item].binds.get(short)
    elif found.what not in ("control", "condition"):
        return None
    free = free_control(name, installation) if name else None
    if free is None:
        return None
    for table in (installation.dossier.conditions, installation.dossier.controls):
        if free.id in table:
            return table[free.id]
    item, _, short = free.id.partition(".")
    return installation.equipment[item].controls[short]
