"""``new``: a started dossier to type into."""

from __future__ import annotations

from pathlib import Path

from loomlore.findings import RefusedEdit
from loomlore.record.tables import new_dossier

__all__ = ["new"]


def new(folder: str | Path, *, title: str = "", supply: str = "24 V") -> str:
    """Start a dossier.

    Parameters
    ----------
    folder
        To be made; it may exist if it holds no dossier.
    title
        What the installation is.
    supply
        Nominal volts, as written in a dossier.

    Returns
    -------
    str
        What was written, and what to do next.

    Raises
    ------
    RefusedEdit
        Where the folder holds a dossier already, or cannot be written.
    """
    path = Path(folder)
    if path.is_dir() and any(path.glob("*.toml")):
        raise RefusedEdit(f"{str(folder)!r} holds a dossier already. Choose another folder.")
    files = new_dossier(path, title=title, supply=supply)
    listed = "\n".join(f"  {file}" for file in files)
    return f"Started {folder}:\n{listed}\nType into them, and ask: loomlore check {folder}"
