"""``draw``: plates of the services as SVG, PNG or PDF, at rest or in a setting."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loomlore.answers.opening import Record, opened_of
from loomlore.answers.pages import CAUTION, Block, Heading, Page, Paragraph, Table, as_html, as_text
from loomlore.answers.sources import services_spoken_of
from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.behaviour.proving import VERDICTS, is_function, prove
from loomlore.drawing.painting import write_pdf, write_png, write_svg
from loomlore.drawing.plates import Plates, Said, service_plate
from loomlore.drawing.roles import roles
from loomlore.drawing.states import plate_state
from loomlore.findings import Place, RefusedEdit, UnfitRecord, UnknownName
from loomlore.network.building import Plant
from loomlore.record.model import Dossier

__all__ = ["FORMATS", "DrawAnswer", "draw"]

FORMATS = ("svg", "png", "pdf")
DOTS_PER_INCH = 150.0


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
            Table(("plate", "service", "sheets"), rows, right=(0, 2)),
        ]
        if self.left_out:
            blocks.append(Paragraph(f"Not fitted in this standard, so without a plate: {', '.join(self.left_out)}."))
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


def draw(
    record: Record,
    *,
    service: str = "",
    folder: str | Path = "plates",
    formats: Iterable[str] = ("pdf",),
    setting: Mapping[str, str | float] | None = None,
    standard: str = "",
    verdicts: bool = False,
) -> DrawAnswer:
    """Draw the plates of a dossier's services.

    Parameters
    ----------
    record
        A dossier's folder, or a dossier opened.
    service
        Only this one.
    folder
        Where the files go; made where it is not there.
    formats
        Of svg, png, pdf. A PDF holds all plates.
    setting
        Show the plates in this setting; at rest where None.
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
        Where a file cannot be written.
    """
    opened = opened_of(record)
    plant = opened.plant(opened.fits(standard))
    dossier = plant.installation.dossier
    _refuse(dossier, service, formats)
    standing = _standing(opened.dossier, standard)
    words, state = "", None
    if setting:
        moves, findings = read_setting(plant, setting, place=Place("--set"))
        if findings:
            raise UnfitRecord(findings)
        state = plate_state(plant, operated(plant, rest(plant), moves))
        words = ", ".join(f"{name.replace('-', ' ')} {value}" for name, value in setting.items())
    known = roles(plant)
    plates, empty = [], []
    for name in [service] if service else list(dossier.services):
        said = Said(standard=standing, setting=words, verdicts=_verdicts(plant, name) if verdicts else "")
        drawn = service_plate(plant, name, known=known, said=said, state=state)
        (plates if drawn.scenes else empty).append(drawn)
    files = _written(plates, Path(folder), tuple(formats), dossier.header.title)
    return DrawAnswer(
        title=dossier.header.title,
        standard=standing,
        plates=tuple(plates),
        files=files,
        left_out=tuple(p.title for p in empty),
    )


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
    files: list[str] = []
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
        if "pdf" in formats and plates:
            name = f"plate-{plates[0].number:02d}-{plates[0].service}" if len(plates) == 1 else "plates"
            scenes = [scene for plate in plates for scene in plate.scenes]
            files.append(_save(folder / f"{name}.pdf", write_pdf(scenes, title=title)))
    except OSError as error:
        raise RefusedEdit(f"cannot write into {str(folder)!r}: {error.strerror}. Choose another --out.") from error
    return tuple(files)


def _save(path: Path, content: bytes) -> str:
    path.write_bytes(content)
    return str(path)
