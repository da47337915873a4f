"""``import``: a cable list in a spreadsheet becomes one more file of a dossier."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loomlore.answers.opening import open_dossier
from loomlore.answers.operate import finding_data
from loomlore.answers.pages import Block, Entry, Heading, Page, Paragraph, as_html, as_text
from loomlore.findings import Finding, RefusedEdit
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
            row = f"row {finding.place.line}" if finding.place.line else self.source
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


def import_list(file: str | Path, folder: str | Path, *, service: str = "imported") -> ImportAnswer:
    """Bring a cable list into a dossier, as one more file of it.

    Parameters
    ----------
    file
        XLSX, ODS or CSV with columns for a mark and two ends.
    folder
        The dossier; started where there is none.
    service
        The service of cables whose list gives none.

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
    if not any(path.rglob("*.toml")) if path.is_dir() else True:
        new_dossier(path, path.name.replace("-", " ").capitalize())
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
        findings=found.findings,
    )
