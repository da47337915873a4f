"""A plate in one settled state: blades as they stand, lit lamps lit, current by width, dead wires thin.

``plate_state`` reads a state off a solution; ``showing`` puts it into a scene for paper; the bench takes the
same state as classes and changes classes only, never the drawing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from loomlore.behaviour.readings import readings
from loomlore.drawing.composing import selector_groups
from loomlore.drawing.looks import width_class
from loomlore.drawing.scene import Circle, Group, Item, Line, Scene
from loomlore.network.building import Plant
from loomlore.network.settling import Settled

__all__ = ["PlateState", "ampere_words", "plate_state", "showing"]

LIVE_VOLTS = 0.5  # a node nearer than this to the airframe is dead on the plate [V]
LIVE_AMPERES = 1e-3
HEAVY_AMPERES = 1.0  # from here a run's current is printed beside it [A]


@dataclass(frozen=True)
class PlateState:
    """What a plate shows of a state.

    ``contacts`` maps ``ITEM.CONTACT`` to open, shut, or the throw ``at-N`` of a selector; ``amperes`` maps a
    live cable to its current [A], a dead one is not in it; ``parts`` maps ``ITEM.ELEMENT`` to its state.
    """

    contacts: Mapping[str, str] = field(default_factory=dict)
    amperes: Mapping[str, float] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)

    def classes(self) -> dict[str, dict[str, list[str]]]:
        """Return the classes for a page's groups: by attribute (cable, contact, part), then by name."""
        cables = {name: ["is-live", width_class(amps)] for name, amps in self.amperes.items()}
        contacts = {name: [f"state-{state}"] for name, state in self.contacts.items()}
        parts = {name: [f"is-{state}"] for name, state in self.parts.items() if state}
        return {"cable": cables, "contact": contacts, "part": parts}


def plate_state(plant: Plant, settled: Settled) -> PlateState:
    """Read off a settled state what a plate shows of it.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    settled : Settled
        Where things stand.

    Returns
    -------
    PlateState
        Of the whole installation.
    """
    found = readings(plant, settled, fuses=True)
    parts = {f"{one.item}.{one.part}": "lit" if one.state == "over-run" else one.state for one in found}
    return PlateState(_contacts(plant, settled), _amperes(plant, settled), parts)


def ampere_words(state: PlateState) -> dict[str, str]:
    """Return what is printed beside the heavy runs.

    Parameters
    ----------
    state : PlateState
        What a plate shows.

    Returns
    -------
    dict of str to str
        By cable, in amperes to two figures or whole ones.
    """
    heavy = {name: amps for name, amps in state.amperes.items() if amps >= HEAVY_AMPERES}
    return {name: f"{amps:.0f} A" if amps >= 9.95 else f"{amps:.1f} A" for name, amps in heavy.items()}


def _contacts(plant: Plant, settled: Settled) -> dict[str, str]:
    found: dict[str, str] = {}
    number_of = plant.network.branch_of
    for item, equipment in plant.installation.equipment.items():
        closed = {
            name: settled.solution.closed(number_of[f"{item}.{name}"])
            for name in equipment.contacts
            if f"{item}.{name}" in number_of
        }
        found |= {f"{item}.{name}": "shut" if shut else "open" for name, shut in closed.items()}
        for _, names in selector_groups(equipment):
            throw = next((n for n, name in enumerate(names) if closed.get(name)), None)
            found[f"{item}.{names[0]}"] = "at-none" if throw is None else f"at-{throw}"
    return found


def _amperes(plant: Plant, settled: Settled) -> dict[str, float]:
    found: dict[str, float] = {}
    solution = settled.solution
    for number, branch in enumerate(plant.network.branches):
        if branch.sort == "cable":
            amps = abs(solution.amps(number))
            if amps > LIVE_AMPERES or abs(solution.potentials[branch.a]) > LIVE_VOLTS:
                found[branch.name] = amps
    return found


def showing(scene: Scene, state: PlateState) -> Scene:
    """Put a state into a scene.

    Parameters
    ----------
    scene : Scene
        A service's plate.
    state : PlateState
        What it shows.

    Returns
    -------
    Scene
        The same drawing: blades moved, lamps lit, widths by current, dead wires thin.
    """
    return replace(scene, items=tuple(_shown(item, state) for item in scene.items))


def _shown(item: Item, state: PlateState) -> Item:
    if not isinstance(item, Group):
        return item
    if item.role == "cable":
        return _shown_cable(item, state)
    if item.role == "contact" and item.name in state.contacts:
        return replace(item, state=state.contacts[item.name])
    inner = tuple(_shown(part, state) for part in item.items)
    if item.role == "part" and state.parts.get(item.name) == "lit":
        inner = tuple(_lit(part) for part in inner)
    return replace(item, items=inner)


def _lit(item: Item) -> Item:
    if not isinstance(item, Circle) or "glass" not in item.look:
        return item
    tint = item.look.rpartition("glass-")[2] if "glass-" in item.look else "white"
    return replace(item, look=f"glass lit-{tint}")


def _shown_cable(cable: Group, state: PlateState) -> Group:
    if cable.name.endswith("~feed") or cable.name.endswith("~case"):
        return cable
    amps = state.amperes.get(cable.name)
    items = tuple(_live_line(item, amps) if isinstance(item, Line) else item for item in cable.items)
    return replace(cable, items=tuple(item for item in items if item is not None))


def _live_line(line: Line, amps: float | None) -> Line | None:
    """A dead wire has neither edge nor tracer; a live one's edge goes with its width."""
    if line.look.startswith("wire"):
        return replace(line, look=_live_look(line.look, amps))
    if line.look.startswith("edge-"):
        _, _, dash = line.look.partition(" ")
        edge = width_class(amps).replace("amperes", "edge")
        return None if amps is None else replace(line, look=f"{edge} {dash}".strip())
    return None if amps is None and line.look.startswith("tracer") else line


def _live_look(look: str, amps: float | None) -> str:
    kept = [part for part in look.split() if not part.startswith("amperes-")]
    if amps is None:
        return " ".join([*kept, "dead"])
    return " ".join([kept[0], width_class(amps), *kept[1:]])
