"""A dossier opened: its text read, its kinds known, and one plant for each standard of fit asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.findings import Finding, UnfitRecord, UnknownName
from loomlore.network.building import Plant, build_plant
from loomlore.record.fitting import named_standard, permitted_combinations
from loomlore.record.installation import Installation, join
from loomlore.record.kinds import known_kinds
from loomlore.record.model import Dossier
from loomlore.record.parts import Kind
from loomlore.record.reading import Reading, read_dossier, read_texts

__all__ = ["Opened", "Record", "open_dossier", "opened_from", "opened_of"]


@dataclass(kw_only=True)
class Opened:
    """A dossier's reading and what has been made of it so far; plants are made when first asked for."""

    folder: Path
    reading: Reading
    kinds: dict[str, Kind]
    kind_findings: tuple[Finding, ...] = ()
    _plants: dict[frozenset[str], Plant] = field(default_factory=dict)
    _joined: dict[frozenset[str], tuple[Installation, tuple[Finding, ...]]] = field(default_factory=dict)

    @property
    def dossier(self) -> Dossier:
        """The record as read."""
        return self.reading.dossier

    def fits(self, standard: str = "") -> frozenset[str]:
        """The fits of a named standard; the dossier's own where none is named."""
        standards = self.dossier.standards
        if standard and standard not in standards:
            raise UnknownName("standard of fit", standard, standards)
        return named_standard(self.dossier, standard or None)

    def joined(self, fits: frozenset[str]) -> tuple[Installation, tuple[Finding, ...]]:
        """The installation in one standard of fit, and what joining found."""
        if fits not in self._joined:
            self._joined[fits] = join(self.dossier, self.kinds, fits)
        return self._joined[fits]

    def plant(self, fits: frozenset[str] | None = None) -> Plant:
        """The network of one standard of fit, ready to be operated."""
        chosen = self.fits() if fits is None else fits
        if chosen not in self._plants:
            self._plants[chosen] = build_plant(self.joined(chosen)[0])
        return self._plants[chosen]

    def permitted(self, names: frozenset[str]) -> tuple[frozenset[str], ...]:
        """Permitted combinations of the named fits, the others as in the dossier's own standard."""
        return tuple(permitted_combinations(self.dossier, names))


def open_dossier(folder: str | Path, *, before: Opened | None = None) -> Opened:
    """Read a dossier.

    Parameters
    ----------
    folder
        The folder of its text files.
    before
        The same dossier opened earlier: files that have not changed since are not taken apart again.

    Returns
    -------
    Opened
        With all findings of the reading.

    Raises
    ------
    UnfitRecord
        Where the folder holds no text at all.
    FileNotFoundError
        Where there is no such folder.
    """
    path = Path(folder)
    if not path.is_dir():
        raise FileNotFoundError(f"there is no folder {str(folder)!r}")
    reading = read_dossier(path, before=None if before is None else before.reading)
    if not reading.texts:
        raise UnfitRecord(reading.findings)
    return _opened(path, reading)


def opened_from(texts: Mapping[str, str]) -> Opened:
    """Open a dossier whose texts are at hand.

    Parameters
    ----------
    texts
        By path relative to the folder that they are of.

    Returns
    -------
    Opened
        Of no folder.
    """
    return _opened(Path(), read_texts(texts))


def _opened(folder: Path, reading: Reading) -> Opened:
    kinds, findings = known_kinds(reading.dossier, shipped_kinds())
    return Opened(folder=folder, reading=reading, kinds=dict(kinds), kind_findings=findings)


Record = Opened | str | Path
"""What every answer takes: a dossier opened already, or its folder."""


def opened_of(record: Record) -> Opened:
    """Open a dossier unless it is open.

    Parameters
    ----------
    record
        A dossier opened already, or its folder.

    Returns
    -------
    Opened
        The same one, or a fresh reading.
    """
    return record if isinstance(record, Opened) else open_dossier(record)
