"""One sneak condition: current where nobody meant it to go, with everything in order, and under each single fault.

What is looked for, after the sneak categories of the published handbooks:

* *path*: a lead that carries current one way in one setting and the other way in another, where cutting it
  puts out a load: two circuits are joined that should be apart. Under a fault: current backwards through a switch,
  lamp or fuse, or a load that works unasked by such a path.
* *indication*: a lamp that lights for the wrong reason.
* *label*: one control moved, and another one's load answers; a position whose word names the other side.
* *timing*: what chatters, or ends one way or the other by chance.

Which way current is meant to go through a switch is its cables' own direction, ``from`` the feed ``to`` the
load; a bare lead between two circuits has no right way, and either is reported.

**Names.** Every sneak has a name that stays while the record does, whatever else is found beside it:

* with all well: a path is ``LOAD.by.LEAD`` (``lower-hail-lamp.by.H6``: the item that is lit, and the lead, or the
  contact, that carries the current backwards), a label ``LEVER.POSITION.label``, a timing ``RELAY.restless``;
* under a fault: the fault's own id (``earth.hold-bolt.lifted``): there is one sneak a fault.

**Path.** ``steps`` are the marks of its way in the order of the current, from the source to the airframe or the
source's return, each with the two nodes between which it lies; ``settled`` is how the installation stands
before the fault is put in. :func:`loomlore.faults.named_paths.named_path` finds one by its name.
"""

from __future__ import annotations

from dataclasses import dataclass

from loomlore.faults.modes import Fault
from loomlore.faults.tracing import Step
from loomlore.network.settling import Settled

__all__ = ["Sneak", "sentence"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Sneak:
    """One sneak condition. ``kind`` is path, indication, label or timing; ``fault`` None with all well.

    ``name`` and ``steps``: see the head of this module; ``way`` is the same way in words, from the last fuse.
    ``reversed_`` are the branches that carry current against the usual way; ``settled`` is how things stand,
    before the fault.
    """

    name: str
    kind: str
    words: str
    look: str
    situation: str
    fault: Fault | None = None
    loads: tuple[str, ...] = ()
    reversed_: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    way: str = ""
    services: tuple[str, ...] = ()
    settled: Settled | None = None

    @property
    def path(self) -> tuple[str, ...]:
        """Names of the branches on its way, in the order of the current."""
        return tuple(step.name for step in self.steps)


def sentence(text: str) -> str:
    """Begin a sentence.

    Parameters
    ----------
    text
        What it says.

    Returns
    -------
    str
        With a capital.
    """
    return text[:1].upper() + text[1:]
