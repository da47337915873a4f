"""A kind as written, and the parts that an item is made of once joined to it. Types only.

A :class:`Kind` keeps its values as they stand in the text, since a parameter (``"<resistance>"``) may stand
in any of them and only an item gives the parameters; :mod:`loomlore.record.shapes` reads them with the
parameters filled in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loomlore.findings import Place
from loomlore.quantities import Quantity, Rating
from loomlore.sentences import Sentence

__all__ = ["Contact", "Element", "Kind", "Latch", "Parameter"]


@dataclass(frozen=True, kw_only=True)
class Contact:
    """A pair of ends joined while ``closed`` holds (None: always); ``resistance`` [ohm] when closed."""

    name: str
    ends: tuple[str, str]
    closed: Sentence | None
    resistance: float


@dataclass(frozen=True, kw_only=True)
class Element:
    """A one-port: its law's name, ends, when it works (None: always), its rating and parameters.

    ``values`` are the law's amounts by key, in volts where the kind wrote a share of the rated volts;
    ``words`` what is no amount (``follows``, ``speed``, ``basis`` ...); ``moves`` maps a followed name to its
    rate [unit/s]. ``each`` is the way's number for ``each-way``.
    """

    name: str
    law: str
    ends: tuple[str, str]
    works: Sentence | None = None
    rating: Rating = field(default_factory=dict)
    values: Mapping[str, Quantity] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    moves: Mapping[str, float] = field(default_factory=dict)
    polarised: bool = False
    each: str = ""


@dataclass(frozen=True, kw_only=True)
class Latch:
    """A memory of one bit. ``set_after`` and ``release_after`` are seconds."""

    name: str
    set: Sentence | None = None
    release: Sentence | None = None
    set_on: Sentence | None = None
    release_on: Sentence | None = None
    set_after: float | None = None
    release_after: float | None = None
    start: bool = False
    wins: str = "release"
    lost_with: str = ""


@dataclass(frozen=True, slots=True)
class Parameter:
    """What an item may give a kind: ``default`` as written, or None where the item must give it.

    ``unit`` is the unit that stands alone in the kind for a parameter without default.
    """

    name: str
    default: str | float | None
    unit: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Kind:
    """A catalogue entry, as written. Two kinds are the same only if they are one object.

    ``terminals``, ``controls``, ``latches``, ``contacts``, ``elements`` and ``each_way`` hold the raw tables.
    ``any_terminal`` says that it takes whatever terminals cables name (``terminals = "any"``).
    """

    id: str
    where: Place = field(default_factory=Place)
    title: str = ""
    symbol: str = ""
    hazard: str = ""
    text: str = ""
    note: str = ""
    terminals: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    any_terminal: bool = False
    turn: str = "free"
    inner: tuple[str, ...] = ()
    parameters: Mapping[str, Parameter] = field(default_factory=dict)
    controls: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    cams: Mapping[str, str] = field(default_factory=dict)
    follows: Mapping[str, str] = field(default_factory=dict)
    latches: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    contacts: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    elements: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    each_way: Mapping[str, Any] | None = None
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    ratio: tuple[str, str] | None = None
