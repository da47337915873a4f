"""The dossier as frozen types: what is written, read but not yet joined to anything.

Every table of a dossier has one type here; a :class:`Dossier` maps ids to them. Values are read
(quantities, sentences, citations), names are still words: :mod:`loomlore.record.naming` resolves them,
:mod:`loomlore.record.equipment` joins an item to its kind, :mod:`loomlore.record.fitting` takes a standard
of fit. Nothing here is ever changed; an edit makes a new text and the text is read again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loomlore.findings import Place
from loomlore.quantities import Date, Quantity, Rating, Size
from loomlore.sentences import Sentence

__all__ = [
    "AIRFRAME",
    "STANDINGS",
    "Bolt",
    "Cable",
    "Choice",
    "Citation",
    "Control",
    "Decision",
    "Dossier",
    "Fit",
    "Header",
    "Item",
    "Loom",
    "Measurement",
    "Outline",
    "Phase",
    "Procedure",
    "Scale",
    "Scan",
    "Service",
    "Sheath",
    "Source",
    "Spot",
    "Standard",
    "Statement",
    "Step",
    "Thing",
    "Tracing",
    "Way",
]

NOWHERE = Place()
"""What has no line of its own."""

AIRFRAME = "earth"
"""The name of the airframe as a terminal where no bolt is known."""

STANDINGS = ("attested", "inferred", "conjectural", "replacement")
"""What may be written; a thing without sources and without standing is "unsupported"."""


@dataclass(frozen=True, slots=True)
class Citation:
    """A source (or a statement's id) and where in it: ``handbook 6.8``, ``handbook p 12``."""

    source: str
    locator: str = ""

    def __str__(self) -> str:
        return f"{self.source} {self.locator}".strip()


@dataclass(frozen=True, kw_only=True)
class Thing:
    """What every thing of a dossier may carry."""

    id: str
    name: str = ""
    where: Place = NOWHERE
    also: tuple[str, ...] = ()
    text: str = ""
    note: str = ""
    sources: tuple[Citation, ...] = ()
    standing: str = "unsupported"
    fit: Sentence | None = None


@dataclass(frozen=True, kw_only=True)
class Header:
    """``[dossier]``: title, supply [V], return, which pole is earthed, and the standing presumptions."""

    format: int = 1
    title: str = ""
    supply: Quantity | None = None
    return_: str = "earth"
    earthed: str = "negative"
    allowance: Quantity | None = None
    basis: str = "carrying"
    given: Sentence | None = None
    standard: str = ""
    text: str = ""
    note: str = ""
    where: Place = NOWHERE


@dataclass(frozen=True, kw_only=True)
class Control(Thing):
    """A control, or with ``world`` a condition: positions by name, or a range of one dimension.

    ``start`` is a position, or a value in the inside unit of the range.
    """

    world: bool = False
    positions: tuple[str, ...] = ()
    range: tuple[Quantity, Quantity] | None = None
    start: str | float = ""
    springs_to: str | None = None
    guarded: bool = False
    turns: bool = False


@dataclass(frozen=True, kw_only=True)
class Spot(Thing):
    """``[place]``: a named position; ``at`` is metres aft, to starboard, up."""

    at: tuple[float, float, float] | None = None
    station: str = ""
    zone: str = ""


@dataclass(frozen=True, kw_only=True)
class Outline(Thing):
    """``[outline]``: a line round the craft or a part of it, as somebody read it off a drawing.

    ``points`` are as typed: numbers in ``unit``, or amounts with a unit of their own; aft and up in the side
    view, aft and to starboard in the plan. ``mirrored`` is one half of a plan, ``line`` is not closed.
    """

    view: str = ""
    unit: str = ""
    points: tuple[tuple[float | Quantity, float | Quantity], ...] = ()
    mirrored: bool = False
    line: bool = False


@dataclass(frozen=True, kw_only=True)
class Bolt(Thing):
    """``[earth]``: a bolt to the airframe, its resistance [ohm] and its bonds to other bolts."""

    place: str = ""
    resistance: Quantity | None = None
    bonds: Mapping[str, Quantity] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Loom(Thing):
    """A bundle along a route of places; ``legs`` are the lengths between them where known."""

    route: tuple[str, ...] = ()
    legs: tuple[Quantity, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Sheath(Thing):
    """Several cores in one cover; a cable takes ``core = "SHEATH.red"``."""

    type: str = ""
    size: Size | None = None
    cores: tuple[str, ...] = ()
    length: Quantity | None = None
    along: str = ""


@dataclass(frozen=True, kw_only=True)
class Source(Thing):
    """A document, drawing, photograph, survey, letter or recollection."""

    title: str = ""
    nature: str = ""
    date: Date | None = None
    describes: str = ""
    held: str = ""
    copied_from: str = ""
    pages: str = ""
    file: str = ""
    rights: str = ""
    credit: str = ""


@dataclass(frozen=True, kw_only=True)
class Scan(Thing):
    """A picture of a source, and what it shows."""

    file: str = ""
    source: Citation | None = None
    shows: tuple[str, ...] = ()
    scale: str = ""


@dataclass(frozen=True, kw_only=True)
class Tracing(Thing):
    """A conductor or item followed on a scan, in the scan's own pixels."""

    scan: str = ""
    of: str = ""
    points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Fit(Thing):
    """``[fit]`` or, with ``modification``, ``[modification]``: what it changes and takes away.

    ``change`` maps an item's or a cable's id to the keys it replaces, as written.
    """

    title: str = ""
    change: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    removes: tuple[str, ...] = ()
    modification: bool = False
    date: Date | None = None
    serials: str = ""


@dataclass(frozen=True, kw_only=True)
class Choice(Thing):
    """Exactly one of these fits is fitted."""

    one_of: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Standard(Thing):
    """A named standard of fit: which fits and modifications it has."""

    title: str = ""
    fits: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Service(Thing):
    """One purpose: its feeds, its account, what its sentences presume, and its cables' usual make."""

    title: str = ""
    feed: tuple[str, ...] = ()
    account: str = ""
    given: Sentence | None = None
    usual: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Cable(Thing):
    """One conductor run between two terminals; ``id`` is its mark as a key, ``mark`` as printed.

    ``size`` is a :class:`Size`, or the name of a catalogue cable; what the service's ``usual`` gives is
    filled in already. ``type`` is "" for a solved conductor, or coaxial, aerial, tube.
    """

    service: str = ""
    from_: str = ""
    to: str = ""
    size: Size | str | None = None
    length: Quantity | None = None
    along: str = ""
    core: str = ""
    colour: str = ""
    cover: str = ""
    mark: str = ""
    type: str = ""


@dataclass(frozen=True, kw_only=True)
class Item(Thing):
    """A piece of equipment, an instance of a kind.

    ``own`` holds the kind's parameters as written (text or number), for the kind to read.
    """

    kind: str = ""
    service: str = ""
    rating: Rating | None = None
    ratings: Mapping[str, Rating] = field(default_factory=dict)
    place: str = ""
    at: tuple[float, float, float] | None = None
    earth: str = ""
    cams: Mapping[str, Sentence] = field(default_factory=dict)
    binds: Mapping[str, str] = field(default_factory=dict)
    mates: str = ""
    links: tuple[tuple[str, ...], ...] = ()
    start: Mapping[str, str | float] = field(default_factory=dict)
    regulated_by: str = ""
    basis: str = ""
    own: Mapping[str, str | float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Way(Thing):
    """One position of a fuse box or plug: its fuse, or that it is spare. ``id`` is ``ITEM.N``."""

    item: str = ""
    number: str = ""
    fuse: Quantity | None = None
    basis: str = ""
    spare: bool = False


@dataclass(frozen=True, kw_only=True)
class Scale(Thing):
    """A printed scale of a meter: rising input (amps, volts, or ratio) against the mark. ``id`` is ``ITEM.NAME``."""

    item: str = ""
    points: tuple[tuple[float, Quantity], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Step:
    """A step of a procedure: operate, see, let go, wait. ``wait`` is in seconds."""

    do: Mapping[str, str | float] = field(default_factory=dict)
    see: Sentence | None = None
    hold: tuple[str, ...] = ()
    wait: float | None = None
    text: str = ""
    where: Place = NOWHERE


@dataclass(frozen=True, kw_only=True)
class Statement(Thing):
    """One thing a source says, verbatim.

    About function it has ``then`` (with ``when`` or ``steps``), about a property ``about`` and ``says``.
    ``given`` replaces the standing presumptions; ``given_none`` is ``given = ""``.
    """

    source: Citation | None = None
    words: str = ""
    legible: bool = True
    when: Sentence | None = None
    steps: tuple[Step, ...] = ()
    then: Sentence | None = None
    given: Sentence | None = None
    given_none: bool = False
    about: str = ""
    says: str = ""


@dataclass(frozen=True, kw_only=True)
class Decision(Thing):
    """What we conclude where sources differ, and why."""

    about: str = ""
    adopts: Citation | None = None
    weighed: tuple[Citation, ...] = ()
    because: str = ""
    by: str = ""
    on: Date | None = None
    dissent: str = ""


@dataclass(frozen=True, kw_only=True)
class Procedure(Thing):
    """Operations played in order, with memory."""

    title: str = ""
    start: Mapping[str, str | float] = field(default_factory=dict)
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Phase(Thing):
    """A phase of use: how long [s], what is set, and how long each service runs in it.

    ``duty`` maps a service to a share 0 to 1, or to seconds.
    """

    title: str = ""
    minutes: Quantity | None = None
    settings: Mapping[str, str | float] = field(default_factory=dict)
    duty: Mapping[str, tuple[str, float]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Measurement(Thing):
    """A value as found or as left, to stand beside the prediction."""

    of: tuple[str, ...] = ()
    value: Quantity | None = None
    as_: str = ""
    on: Date | None = None
    meter: str = ""
    by: str = ""


@dataclass(frozen=True, kw_only=True)
class Dossier:
    """The whole record of one installation, as read. ``kinds`` are its own, beside the catalogue's (raw)."""

    header: Header = Header()
    conditions: Mapping[str, Control] = field(default_factory=dict)
    controls: Mapping[str, Control] = field(default_factory=dict)
    places: Mapping[str, Spot] = field(default_factory=dict)
    outlines: Mapping[str, Outline] = field(default_factory=dict)
    earths: Mapping[str, Bolt] = field(default_factory=dict)
    looms: Mapping[str, Loom] = field(default_factory=dict)
    sheaths: Mapping[str, Sheath] = field(default_factory=dict)
    sources: Mapping[str, Source] = field(default_factory=dict)
    scans: Mapping[str, Scan] = field(default_factory=dict)
    tracings: Mapping[str, Tracing] = field(default_factory=dict)
    fits: Mapping[str, Fit] = field(default_factory=dict)
    choices: Mapping[str, Choice] = field(default_factory=dict)
    modifications: Mapping[str, Fit] = field(default_factory=dict)
    standards: Mapping[str, Standard] = field(default_factory=dict)
    services: Mapping[str, Service] = field(default_factory=dict)
    items: Mapping[str, Item] = field(default_factory=dict)
    cables: Mapping[str, Cable] = field(default_factory=dict)
    ways: Mapping[str, Way] = field(default_factory=dict)
    scales: Mapping[str, Scale] = field(default_factory=dict)
    statements: Mapping[str, Statement] = field(default_factory=dict)
    decisions: Mapping[str, Decision] = field(default_factory=dict)
    procedures: Mapping[str, Procedure] = field(default_factory=dict)
    phases: Mapping[str, Phase] = field(default_factory=dict)
    measurements: Mapping[str, Measurement] = field(default_factory=dict)
    kinds: Mapping[str, Any] = field(default_factory=dict)
