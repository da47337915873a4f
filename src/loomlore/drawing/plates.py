"""The plates of an installation: one for each service in one standard of fit.

``service_plate`` and ``all_plates`` are what the command, the book and the bench call.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from loomlore.drawing.diagram import Diagram, cut_in_two, parts_of
from loomlore.drawing.layout import Drawing, laid_out
from loomlore.drawing.preparation import citations, service_diagram, usual_size
from loomlore.drawing.roles import Roles, home_services, roles
from loomlore.drawing.scene import Scene
from loomlore.drawing.sheets import Legend, plate
from loomlore.drawing.states import PlateState, showing
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
    parts = service_drawings(plant, service, known=known)
    legend = _legend(joined, thing, number, said or Said())
    scenes = tuple(plate(parts, legend)) if parts else ()
    if state is not None:
        scenes = tuple(showing(scene, state) for scene in scenes)
    return Plates(service, number, legend.title, scenes)


def service_drawings(plant: Plant, service: str, *, known: Roles | None = None) -> list[Drawing]:
    """Lay out the connected parts of a service.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    service : str
        Its id.
    known : Roles, optional
        From ``roles``, where the caller has them already.

    Returns
    -------
    list of Drawing
        The largest first.
    """
    diagram = service_diagram(plant.installation, known or roles(plant), service)
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
    notes.append(service.text)
    hazards = [f"{one.item.name}: {one.hazard}" for one in items if one.hazard]
    things = [service, *cables, *(one.item for one in items)]
    return Legend(
        title=title,
        subtitle=_subtitle(dossier, said),
        number=str(number),
        account=service.account,
        notes=tuple(note for note in notes if note),
        sources=_sources(citations(things)),
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


def _sources(found: Iterable[str]) -> str:
    """Gather citations by source: ``handbook 9.18, 9.20; drawing sheet 7``."""
    grouped: dict[str, list[str]] = {}
    for citation in found:
        source, _, locator = citation.partition(" ")
        many = grouped.setdefault(source, [])
        if locator and locator not in many:
            many.append(locator)
    return "; ".join(
        f"{source.replace('-', ' ')} {', '.join(many)}".strip() for source, many in grouped.items()
    )
