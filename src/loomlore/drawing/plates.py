"""The plates of an installation: one for each service in one standard of fit.

``service_plate`` and ``all_plates`` are what the command, the book and the bench call.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from loomlore.drawing.diagram import Diagram, cut_in_two, parts_of
from loomlore.drawing.layout import Drawing, laid_out
from loomlore.drawing.legends import Legend
from loomlore.drawing.paints import Way, painted
from loomlore.drawing.pathways import PathMark, path_key, path_notes, pathed_scene
from loomlore.drawing.preparation import cited_together, service_diagram, usual_size
from loomlore.drawing.roles import Roles, home_services, roles
from loomlore.drawing.scene import Scene
from loomlore.drawing.sheets import plate
from loomlore.drawing.states import PlateState, ampere_words, showing
from loomlore.drawing.striking import FaultMark, struck_scene
from loomlore.network.building import Plant
from loomlore.record.installation import Installation
from loomlore.record.model import Dossier, Service

__all__ = ["Plates", "Said", "all_plates", "service_drawings", "service_plate"]

# What A3 holds beside a foot of middling height, lying and upright [mm].
_A3_FIELDS = ((388.0, 205.0), (265.0, 325.0))


@dataclass(frozen=True)
class Said:
    """What the caller knows of a service and the drawing does not."""

    verdicts: str = ""
    dated: str = ""
    standard: str = ""
    credit: str = ""
    setting: str = ""
    events: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plates:
    """The sheets of one service."""

    service: str
    number: int
    title: str
    scenes: tuple[Scene, ...]


def service_plate(
    plant: Plant,
    service: str,
    *,
    known: Roles | None = None,
    said: Said | None = None,
    state: PlateState | None = None,
    way: Way = "role",
    fault: FaultMark | None = None,
    path: PathMark | None = None,
) -> Plates:
    """Draw the plate of a service.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    service : str
        Its id.
    known : Roles, optional
        From ``roles``, where the caller has them already.
    said : Said, optional
        What else is printed.
    state : PlateState, optional
        What the plate shows; nothing: all as nobody has touched it.
    way : str
        What the colours say: ``role``, ``service`` or ``insulation``.
    fault : FaultMark, optional
        Marked where it is on the plate; ``state`` is then the installation with it.
    path : PathMark, optional
        What of it is on this plate is marked.

    Returns
    -------
    Plates
        One sheet or more; none where the service has no cables in this standard of fit.

    Raises
    ------
    KeyError
        Where the installation has no such service.
    """
    joined = plant.installation
    thing = joined.dossier.services[service]
    number = list(joined.dossier.services).index(service) + 1
    parts = service_drawings(plant, service, known=known, way=way)
    legend = _legend(joined, thing, number, said or Said())
    if way != "role":
        legend = replace(legend, notes=(*_way_notes(joined, service, way), *legend.notes))
    if state is not None:
        legend = replace(legend, beside=ampere_words(state), shows=True)
    if fault is not None:
        legend = _with_fault(parts, legend, fault)
    if path is not None:
        notes = (*path_notes(path, service), *legend.notes)
        legend = replace(legend, notes=notes, key=(*legend.key, path_key()))
    scenes = tuple(plate(parts, legend)) if parts else ()
    if state is not None:
        scenes = tuple(showing(scene, state) for scene in scenes)
    if fault is not None:
        scenes = tuple(struck_scene(scene, fault)[0] for scene in scenes)
    if path is not None:
        scenes = tuple(pathed_scene(scene, path, service) for scene in scenes)
    return Plates(service, number, legend.title, scenes)


def _way_notes(joined: Installation, service: str, way: Way) -> tuple[str, ...]:
    if way == "service":
        words = "Coloured by service; the number in brackets is that of the service's plate."
        return (f"{words} Cables of other services on these items are drawn to where they go.",)
    cables = [cable for cable in joined.dossier.cables.values() if cable.service == service]
    bare = sum(not cable.colour for cable in cables)
    known = f"the record has the colour of {len(cables) - bare} of {len(cables)} cables" if bare else ""
    words = "Coloured as the covers are; letters after IEC 60757"
    return (f"{words}; {known}." if known else f"{words}.",)


def _with_fault(parts: list[Drawing], legend: Legend, fault: FaultMark) -> Legend:
    words = f"{fault.words[:1].upper()}{fault.words[1:]}"
    things = fault.exact | fault.whole
    shown = {placed.node.of for part in parts for placed in part.nodes}
    shown |= {placed.node.of for part in parts for placed in part.hung}
    cables = {placed.wire.cable for part in parts for placed in part.wires}
    if things & shown or fault.cables & cables:
        return replace(legend, fault=f"FAULT. {words}. {fault.look}".strip())
    return replace(legend, notes=(f"A fault that is not on this plate: {words}.", *legend.notes))


def service_drawings(
    plant: Plant, service: str, *, known: Roles | None = None, way: Way = "role"
) -> list[Drawing]:
    """Lay out the connected parts of a service.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    service : str
        Its id.
    known : Roles, optional
        From ``roles``, where the caller has them already.
    way : str
        What the colours say: ``role``, ``service`` or ``insulation``.

    Returns
    -------
    list of Drawing
        The largest first.
    """
    paints = painted(plant.installation, way)
    diagram = service_diagram(plant.installation, known or roles(plant), service, paints=paints)
    letters = iter("ABCDEFGHJKLMNPQRSTUVWXYZ")
    return [one for part in parts_of(diagram) if _is_drawable(part) for one in _pieces(part, letters)]


def _pieces(part: Diagram, letters: Iterator[str]) -> list[Drawing]:
    """Lay out a part; where it is too large for A3, cut it where one wire holds it together, and go on."""
    drawing = laid_out(part)
    if any(drawing.box.width <= wide and drawing.box.height <= tall for wide, tall in _A3_FIELDS):
        return [drawing]
    halves = cut_in_two(part, next(letters))
    if halves is None:
        return [drawing]
    return [one for half in halves for one in _pieces(half, letters)]


def _is_drawable(part: Diagram) -> bool:
    return any(node.role == "item" for node in part.nodes)


def all_plates(plant: Plant, *, said: Mapping[str, Said] | None = None) -> list[Plates]:
    """Draw the plates of all services of an installation.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    said : mapping of str to Said, optional
        By service.

    Returns
    -------
    list of Plates
        In the record's order; services without cables in this standard of fit are left out.
    """
    known = roles(plant)
    every = [
        service_plate(plant, service, known=known, said=(said or {}).get(service))
        for service in plant.installation.dossier.services
    ]
    return [one for one in every if one.scenes]


# ---------------------------------------------------------------- what is said


def _legend(joined: Installation, service: Service, number: int, said: Said) -> Legend:
    dossier = joined.dossier
    cables = [cable for cable in dossier.cables.values() if cable.service == service.id]
    homes = home_services(joined)
    items = [
        joined.equipment[name]
        for name, home in homes.items()
        if home == service.id and name in joined.equipment
    ]
    title = service.title or service.name
    usual = usual_size(cables)
    notes = [f"Cables are {usual} unless marked otherwise." if usual else ""]
    shown = f"with {said.setting}" if said.setting else "as nobody has touched them"
    notes.append(f"Switches and relays are shown {shown}.")
    if said.setting:
        notes.append("Figures beside the wires are amperes, from 1 A up.")
    notes += said.events
    notes.append(service.text)
    hazards = [f"{one.item.name}: {one.hazard}" for one in items if one.hazard]
    things = [service, *cables, *(one.item for one in items)]
    return Legend(
        title=title,
        subtitle=_subtitle(dossier, said),
        number=str(number),
        account=service.account,
        notes=tuple(note for note in notes if note),
        sources=cited_together(things),
        verdicts=said.verdicts,
        dated=said.dated,
        credit=said.credit,
        hazards=tuple(_alike(hazards)),
        description=service.account,
        returns="" if dossier.header.return_ == "earth" else "return to the supply's other pole",
    )


def _alike(hazards: Iterable[str]) -> list[str]:
    """Say a hazard that several items share once, with all their names."""
    named: dict[str, list[str]] = {}
    for hazard in hazards:
        name, _, words = hazard.partition(": ")
        named.setdefault(words, []).append(name)
    return [f"{', '.join(names)}: {words}" for words, names in named.items()]


def _subtitle(dossier: Dossier, said: Said) -> str:
    header = dossier.header
    supply = header.supply.text.replace("V", "volts") if header.supply is not None else ""
    way = {"earth": "airframe return", "two-wire": "two-wire"}.get(header.return_, header.return_)
    pole = {"negative": "negative earthed", "positive": "positive earthed"}.get(
        header.earthed, "neither pole earthed"
    )
    standard = f"standard of fit: {said.standard}" if said.standard else ""
    return " · ".join(part for part in (header.title, supply, f"{way}, {pole}", standard) if part)
