"""``new``: a started dossier to type into."""

from __future__ import annotations

from pathlib import Path

from loomlore.record.writing import new_dossier

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
    file = new_dossier(path, title or path.name.replace("-", " ").capitalize(), supply=supply)
    return f"Started {file}\nType into it, and ask as often as you like: loomlore check {folder}"
