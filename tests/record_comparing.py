"""Comparing records by what they say, wherever it stands."""

import dataclasses
from collections.abc import Mapping
from typing import Any

from loomlore.findings import Place


def without_places(thing: Any) -> Any:
    """A record as plain tuples and dicts, with every place left out."""
    if isinstance(thing, Place):
        return None
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return (
            type(thing).__name__,
            *(without_places(getattr(thing, f.name)) for f in dataclasses.fields(thing) if f.compare),
        )
    if isinstance(thing, Mapping):
        return {key: without_places(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [without_places(value) for value in thing]
    return thing
