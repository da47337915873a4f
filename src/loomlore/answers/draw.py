"""``draw``: plates as SVG, PNG or PDF, at rest, in a setting, or with a fault."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.behaviour.proving import VERDICTS, is_function, prove
from loomlore.behaviour.readings import event_words
from loomlore.behaviour.stating import services_spoken_of
from loomlore.drawing.board import BOARD_SHEETS
from loomlore.drawing.further import FURTHER, further_plates
from loomlore.drawing.painting import write_pdf, write_png, write_svg
from loomlore.drawing.paints import WAYS, Way
from loomlore.drawing.pathways import PathMark, path_mark
from loomlore.drawing.plates import Plates, Said, service_plate
from loomlore.drawing.press import pressed
from loomlore.drawing.roles import Roles, roles
from loomlore.drawing.states import PlateState, plate_state
from loomlore.drawing.striking import FaultMark, fault_mark
from loomlore.faults.injecting import case_of
from loomlore.faults.modes import faults_of
from loomlore.faults.named_paths import named_path
from loomlore.findings import Place, RefusedEdit, UnfitRecord, UnknownName, UnreadableValue
from loomlore.network.building import Plant
from loomlore.network.cases import settled_case
from loomlore.network.settling import Settled
from loomlore.record.model import Dossier

__all__ = ["FORMATS", "PLATES", "DrawAnswer", "Printing", "draw", "printing_of"]

FORMATS = ("svg", "png", "pdf")
PLATES = ("services", *FURTHER, "all")
DOTS_PER_INCH = 150.0


@dataclass(frozen=True, kw_only=True)
class Printing:
    """How pages are set for a printer: size after cutting, bleed [mm], crop marks."""

    trim: tuple[float, float] | None = None
    bleed: float = 0.0
    marks: bool = False

    @property
    def idle(self) -> bool:
        """Whether pages stay as they are."""
        return self.trim is None and not self.bleed and not self.marks


def printing_of(trim: str = "", *, bleed: float = 0.0, marks: bool = False) -> Printing:
    """Read how pages are set for a printer.

    Parameters
    ----------
    trim
        Width and height after cutting in millimetres, as 210x297; the sheet's own where empty.
    bleed
        How far the ground goes on over the edge [mm].
    marks
        Whether crop marks are set.

    Returns
    -------
    Printing
        For ``draw``.

    Raises
    ------
    UnreadableValue
        Where the size is no size.
    """
    if not trim:
        return Printing(bleed=bleed, marks=marks)
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)(?:\s*mm)?", trim.strip())
    if not found or min(float(found[1]), float(found[2])) <= 0.0:
        raise UnreadableValue(f"{trim!r} is no page size.", "Write width and height in mm, as 210x297.")
    return Printing(trim=(float(found[1]), float(found[2])), bleed=bleed, marks=marks)


@dataclass(frozen=True)
class _Shown:
    """What the services' plates show: words of the setting, the state, the fault and what it did."""

    words: str = ""
    state: PlateState | None = None
    fault: FaultMark | None = None
    events: tuple[str, ...] = field(default=())
    path: PathMark | None = None


@dataclass(frozen=True, kw_only=True)
class DrawAnswer:
    """The plates that were drawn, and the files they went into."""

    title: str
    standard: str
    plates: tuple[Plates, ...]
    files: tuple[str, ...]
    left_out: tuple[str, ...] = ()

    @property
    def failed(self) -> bool:
        """Drawing does not fail; what cannot be drawn is said."""
        return False

    def page(self) -> Page:
        """The answer as blocks."""
        rows = tuple((str(p.number), p.title, str(len(p.scenes))) for p in self.plates)
        blocks: list[Block] = [
            Heading(self.title, 1),
            Paragraph(f"Standard of fit: {self.standard}."),
            Table(("plate", "title", "sheets"), rows, right=(0, 2)),
        ]
        if self.left_out:
            blocks.append(
                Paragraph(f"Not fitted in this standard, so without a plate: {', '.join(self.left_out)}.")
            )
        blocks.append(Paragraph(f"Written: {_listed(self.files)}."))
        return (*blocks, Paragraph(CAUTION, quiet=True))

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "draw",
            "title": self.title,
            "standard": self.standard,
            "plates": [
                {"number": p.number, "service": p.service, "title": p.title, "sheets": len(p.scenes)}
                for p in self.plates
            ],
            "files": list(self.files),
            "left_out": list(self.left_out),
            "caution": CAUTION,
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        drawings = "".join(write_svg(scene) for plates in self.plates[:1] for scene in plates.scenes[:1])
        return as_html(self.page()) + drawings


def _listed(files: tuple[str, ...]) -> str:
    if len(files) <= 6:
        return ", ".join(files)
    return f"{len(files)} files, {files[0]} to {files[-1]}"


def draw(  # noqa: PLR0913  each is an option of the command
    record: Record,
    *,
    plates: Iterable[str] = ("services",),
    service: str = "",
    looms: Iterable[str] = (),
    folder: str | Path = "plates",
    formats: Iterable[str] = ("pdf",),
    setting: Mapping[str, str | float] | None = None,
    fault: str = "",
    path: str = "",
    colours: Way = "role",
    sheet: str = "A3",
    printing: Printing | None = None,
    standard: str = "",
    verdicts: bool = False,
) -> DrawAnswer:
    """Draw the plates of a dossier.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    plates
        Of ``PLATES``; all is everything but the boards, which run to many pages.
    service
        Of the services' plates only this one.
    looms
        Of the loom plates and boards only these.
    folder
        Where the files go; made where it is not there.
    formats
        Of svg, png, pdf. A PDF holds all plates, boards apart.
    setting
        Show the services' plates in this setting; at rest where None.
    fault
        Show them with this fault of the restorer's list, marked where it is.
    path
        The name of a sneak path or a hazard, as ``faults`` prints it: the plates that it crosses are drawn, in its
        setting and with its fault, each with its part of the path.
    colours
        What the colours say: role, service or insulation.
    sheet
        Pages of a board: A3 or A4.
    printing
        Trim, bleed and crop marks.
    standard
        A named standard of fit; the dossier's own where empty.
    verdicts
        Whether the verdicts of the service's statements stand in the title block.

    Returns
    -------
    DrawAnswer
        What was drawn.

    Raises
    ------
    UnknownName
        Where nothing is called so.
    UnfitRecord
        Where the setting names what is not there.
    RefusedEdit
        Where a file cannot be written, a page would be too small to read, or a path comes with another setting.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = plant.installation.dossier
    wanted, formats, looms = tuple(plates), tuple(formats), tuple(looms)
    _refuse(dossier, service, formats)
    if path and (setting or fault):
        raise RefusedEdit("A path brings its own setting and fault. Leave --set and --fault out.")
    for word, what, known_words in (
        *((word, "plate", PLATES) for word in wanted),
        *((name, "loom", tuple(dossier.looms)) for name in looms),
        (colours, "way of colouring", WAYS),
        (sheet, "sheet", tuple(BOARD_SHEETS)),
    ):
        if word not in known_words:
            raise UnknownName(what, word, known_words)
    if "all" in wanted:
        wanted = tuple(word for word in PLATES if word not in ("all", "boards") or word in wanted)
    known = roles(plant)
    standing = _standing(opened.dossier, standard)
    drawn: list[Plates] = []
    empty: list[Plates] = []
    if "services" in wanted:
        shown = _on_path(plant, path) if path else _shown(plant, setting or {}, fault)
        crossed = list(shown.path.services) if shown.path is not None else list(dossier.services)
        for name in [service] if service else crossed:
            said = Said(
                standard=standing,
                setting=shown.words,
                verdicts=_verdicts(plant, name) if verdicts else "",
                events=shown.events,
            )
            one = _service(plant, name, known, said, shown, colours)
            (drawn if one.scenes else empty).append(one)
    drawn += further_plates(plant, known, wanted, looms=looms, sheet=sheet, way=colours, standing=standing)
    drawn = [_printed(one, printing or Printing()) for one in drawn]
    return DrawAnswer(
        title=dossier.header.title,
        standard=standing,
        plates=tuple(drawn),
        files=_written(drawn, Path(folder), formats, dossier.header.title),
        left_out=tuple(p.title for p in empty),
    )


def _service(plant: Plant, name: str, known: Roles, said: Said, shown: _Shown, colours: Way) -> Plates:
    return service_plate(
        plant,
        name,
        known=known,
        said=said,
        state=shown.state,
        way=colours,
        fault=shown.fault,
        path=shown.path,
    )


def _on_path(plant: Plant, name: str) -> _Shown:
    """Show the installation in which a path carries its current, its fault marked where it has one."""
    named = named_path(plant, name)
    mark = path_mark(plant, named)
    if not mark.services:
        raise RefusedEdit(f"{name}: no current tells of it, so there is no way to draw. {named.words}")
    settled, fault = named.settled, None
    if named.fault is not None:
        case = case_of(plant, named.fault, settled)
        settled, fault = (
            (settled_case(settled, case) if case is not None else settled),
            fault_mark(named.fault),
        )
    state = plate_state(plant, settled)
    # A cartridge that has fired, a magneto's lead: the path is drawn even where nothing flows by now.
    flowing = {step.name: state.amperes.get(step.name, 0.0) for step in mark.steps if step.sort == "cable"}
    state = replace(state, amperes={**state.amperes, **flowing})
    words = _moved_words(plant, named.settled)
    return _Shown(words, state, fault, tuple(event_words(plant, event) for event in settled.events), mark)


def _moved_words(plant: Plant, settled: Settled) -> str:
    """What has been moved since rest, in words; a control that is its item's only one has the item's name."""
    before, now = rest(plant).memory.levers, settled.memory.levers
    levers = plant.network.levers
    items = [lever.name.partition(".")[0] for lever in levers]
    moved = []
    for lever, item, start, value in zip(levers, items, before, now, strict=True):
        if start != value:
            name = item if items.count(item) == 1 else lever.name.replace(".", ", ")
            stands = lever.positions[int(value)] if lever.positions else f"{value:g}"
            moved.append(f"{name} {stands}".replace("-", " "))
    return ", ".join(moved) or "nothing touched"


def _shown(plant: Plant, setting: Mapping[str, str | float], fault: str) -> _Shown:
    """Settle the installation as asked, with the fault if there is one."""
    if not setting and not fault:
        return _Shown()
    moves, findings = read_setting(plant, setting, place=Place("--set"))
    if findings:
        raise UnfitRecord(findings)
    settled = operated(plant, rest(plant), moves) if setting else rest(plant)
    words = ", ".join(f"{name.replace('-', ' ')} {value}" for name, value in setting.items())
    words = words or "nothing touched"
    if not fault:
        return _Shown(words, plate_state(plant, settled))
    settled, mark = _with_fault(plant, settled, fault)
    events = tuple(event_words(plant, event) for event in settled.events)
    return _Shown(words, plate_state(plant, settled), mark, events)


def _with_fault(plant: Plant, settled: Settled, name: str) -> tuple[Settled, FaultMark]:
    listed = {fault.id: fault for fault in faults_of(plant)}
    if name not in listed:
        raise UnknownName("fault", name, listed)
    case = case_of(plant, listed[name], settled)
    return (settled_case(settled, case) if case is not None else settled), fault_mark(listed[name])


def _printed(plates: Plates, printing: Printing) -> Plates:
    if printing.idle:
        return plates
    try:
        scenes = tuple(
            pressed(scene, trim=printing.trim, bleed=printing.bleed, marks=printing.marks)
            for scene in plates.scenes
        )
    except ValueError as error:
        raise RefusedEdit(f"{error}. Nothing was written.") from error
    return replace(plates, scenes=scenes)


def _refuse(dossier: Dossier, service: str, formats: Iterable[str]) -> None:
    if service and service not in dossier.services:
        raise UnknownName("service", service, dossier.services)
    for word in formats:
        if word not in FORMATS:
            raise UnknownName("format", word, FORMATS)


def _standing(dossier: Dossier, standard: str) -> str:
    chosen = standard or dossier.header.standard or next(iter(dossier.standards), "")
    return dossier.standards[chosen].name if chosen in dossier.standards else "as recorded"


def _verdicts(plant: Plant, service: str) -> str:
    """``proved 9 · proved if 2 · contradicted 1`` for the statements that speak of a service."""
    statements = plant.installation.dossier.statements.values()
    spoken = [s for s in statements if is_function(s) and service in services_spoken_of(plant, s)]
    found = [prove(plant, statement).verdict for statement in spoken]
    counted = [(v.replace("-", " "), found.count(v)) for v in VERDICTS if found.count(v)]
    return " · ".join(f"{word} {count}" for word, count in counted)


def _written(plates: list[Plates], folder: Path, formats: tuple[str, ...], title: str) -> tuple[str, ...]:
    """Write the files; a board is a document of its own, its pages belong together."""
    files: list[str] = []
    boards = [plate for plate in plates if plate.service.startswith("board-")]
    others = [plate for plate in plates if plate not in boards]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for plate in plates:
            for number, scene in enumerate(plate.scenes, 1):
                sheet = f"-{number}" if len(plate.scenes) > 1 else ""
                stem = f"plate-{plate.number:02d}-{plate.service}{sheet}"
                if "svg" in formats:
                    files.append(_save(folder / f"{stem}.svg", write_svg(scene).encode()))
                if "png" in formats:
                    files.append(_save(folder / f"{stem}.png", write_png(scene, dots_per_inch=DOTS_PER_INCH)))
        for group in ([others] if others else []) + [[board] for board in boards]:
            if "pdf" in formats:
                name = f"plate-{group[0].number:02d}-{group[0].service}" if len(group) == 1 else "plates"
                scenes = [scene for plate in group for scene in plate.scenes]
                files.append(_save(folder / f"{name}.pdf", write_pdf(scenes, title=title)))
    except OSError as error:
        raise RefusedEdit(
            f"cannot write into {str(folder)!r}: {error.strerror}. Choose another --out."
        ) from error
    return tuple(files)


def _save(path: Path, content: bytes) -> str:
    path.write_bytes(content)
    return str(path)
