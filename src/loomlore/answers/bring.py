"""``import``: a cable list in a spreadsheet becomes one more file of a dossier."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loomlore.answers.opening import open_dossier
from loomlore.answers.operate import finding_data
from loomlore.answers.pages import Block, Entry, Heading, Page, Paragraph, as_html, as_text
from loomlore.findings import Finding, Place, RefusedEdit, Severity
from loomlore.record.editing import save_text
from loomlore.record.tables import import_cables
from loomlore.record.writing import new_dossier

__all__ = ["ImportAnswer", "import_list"]


@dataclass(frozen=True, kw_only=True)
class ImportAnswer:
    """How many cables came in, into which file, and what is to be mended in it."""

    source: str
    file: str
    cables: int
    unknown: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def failed(self) -> bool:
        """A list that could be read at all stands, and is mended by degrees."""
        return False

    def page(self) -> Page:
        """The answer as blocks."""
        blocks: list[Block] = [Heading(f"{self.cables} cables from {self.source}", 1)]
        for finding in self.findings:
            in_list = finding.place.file.startswith(self.source)
            row = f"row {finding.place.line}" if finding.place.line and in_list else finding.place.file
            blocks.append(Entry(finding.severity.word, f"{row}  {finding.message}", (finding.hint,), "doubt"))
        blocks.append(
            Paragraph(f"Written: {self.file}. Look through it, then: loomlore check {Path(self.file).parent}")
        )
        return tuple(blocks)

    def as_data(self) -> dict[str, Any]:
        """The answer as plain data, for JSON."""
        return {
            "answer": "import",
            "source": self.source,
            "file": self.file,
            "cables": self.cables,
            "unknown": list(self.unknown),
            "findings": [finding_data(f) for f in self.findings],
        }

    def __str__(self) -> str:
        return as_text(self.page())

    def _repr_html_(self) -> str:
        return as_html(self.page())


def import_list(
    file: str | Path, folder: str | Path, *, service: str = "imported", title: str = "", supply: str = ""
) -> ImportAnswer:
    """Bring a cable list into a dossier, as one more file of it.

    Parameters
    ----------
    file
        XLSX, ODS or CSV with columns for a mark and two ends.
    folder
        The dossier; started where there is none.
    service
        The service of cables whose list gives none.
    title
        What the installation is, where the dossier is started.
    supply
        Its nominal volts, as written in a dossier, where it is started.

    Returns
    -------
    ImportAnswer
        What came in.

    Raises
    ------
    UnreadableValue
        Where no sheet has a mark and two ends.
    RefusedEdit
        Where the dossier has a file of that name already, or cannot be written.
    """
    source, path = Path(file), Path(folder)
    started: tuple[Finding, ...] = ()
    if not any(path.rglob("*.toml")) if path.is_dir() else True:
        made = new_dossier(path, title or path.name.replace("-", " ").capitalize(), supply=supply or "24 V")
        started = (_assumed(made.name, volts_known=bool(supply)),)
    found = import_cables(source, known=open_dossier(path).dossier, service=service)
    target = path / f"{source.stem.lower().replace(' ', '-')}.toml"
    if target.exists():
        raise RefusedEdit(f"{target} is there already; nothing was written. Rename it, or the list.")
    save_text(target, found.text, expected="")
    return ImportAnswer(
        source=source.name,
        file=str(target),
        cables=found.cables,
        unknown=found.unknown,
        findings=(*started, *found.findings),
    )


def _assumed(file: str, *, volts_known: bool) -> Finding:
    """A list of cables says nothing of the supply, and the record must not pass a guess for a fact."""
    volts = "" if volts_known else "24 V, "
    message = (
        f"The dossier is new, and the list does not say these: {volts}airframe return, negative earthed."
    )
    hint = "See whether that is so, and mend supply, return and earthed under [dossier]."
    return Finding("assumed-supply", Severity.WARNING, Place(file), message, hint)
