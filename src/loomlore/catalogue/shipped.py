"""The kinds that ship: read once from the files beside this module."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from loomlore.findings import Place, UnfitRecord
from loomlore.record.kinds import Kind, read_kinds

__all__ = ["raw_kinds", "shipped_kinds"]


@cache
def shipped_kinds() -> Mapping[str, Kind]:
    """All kinds of the catalogue by id.

    Returns
    -------
    mapping of str to Kind
        The same object at every call, so that what is made of a kind may be kept.

    Raises
    ------
    UnfitRecord
        Where a shipped kind cannot be read: a mistake of this package.
    """
    kinds, findings = read_kinds(raw_kinds(), judged=False)
    if findings:
        raise UnfitRecord(findings)
    return MappingProxyType(dict(kinds))


def raw_kinds() -> dict[str, tuple[Mapping[str, Any], Place]]:
    """The kinds' tables as TOML gives them, in order of file and line.

    Returns
    -------
    dict of str to tuple of (mapping, Place)
        The place names the file; a kind that stands twice is taken from the later file, and a test of the
        catalogue refuses it.
    """
    raw: dict[str, tuple[Mapping[str, Any], Place]] = {}
    folder = files("loomlore.catalogue") / "kinds"
    for file in sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name):
        tables = tomllib.loads(file.read_text(encoding="utf-8")).get("kind", {})
        raw.update({name: (table, Place(file.name)) for name, table in tables.items()})
    return raw
