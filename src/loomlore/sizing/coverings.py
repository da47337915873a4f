"""How warm a covering may run, for good and for a moment, by what the record calls it.

Period rubber stands least, and it is what most old cables have: where the record says nothing, or only names
a braid, lacquer or a screen over it, rubber is assumed and the answer says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from loomlore.references import Working, citation

__all__ = ["Covering", "covering_of"]


@dataclass(frozen=True, slots=True)
class Covering:
    """A class of insulation: ``rated`` for good and ``moment`` for the seconds of a fault [°C].

    ``assumed`` says that the record does not name it.
    """

    name: str
    rated: float
    moment: float
    assumed: bool = False

    @property
    def working(self) -> Working:
        """The rated temperature with its standing [°C]."""
        note = "The record names no covering; rubber is the weakest." if self.assumed else ""
        formula, source = f"the class of {self.name}", citation("common-practice")
        return Working("rated temperature", self.rated, "°C", formula, (), source, "practice", note)


_CLASSES = (
    (("ptfe", "silicone", "kapton", "polyimide"), Covering("PTFE or silicone", 200.0, 350.0)),
    (("etfe", "polyalkene", "cross-linked", "xlpe"), Covering("cross-linked or ETFE", 150.0, 250.0)),
    (("pvc", "vinyl", "nylon", "glass"), Covering("PVC", 70.0, 160.0)),
    (("cambric", "varnished"), Covering("varnished cambric", 80.0, 200.0)),
    (("paper",), Covering("paper", 80.0, 160.0)),
    (("rubber", "vulcanised", "v.i.r", "vir", "cab-tyre"), Covering("rubber", 60.0, 200.0)),
)
"""Words looked for in the record's `cover`.

In order. 60 °C and 200 °C for rubber, 70 and 160 for PVC are those of the wiring rules, from memory; the
others common practice, no source."""

_ASSUMED = Covering("rubber, assumed", 60.0, 200.0, assumed=True)


def covering_of(cover: str) -> Covering:
    """The class of a covering.

    Parameters
    ----------
    cover
        As the record describes it, such as ``rubber, lacquered braid``.

    Returns
    -------
    Covering
        Rubber where no word is known.

    Source
    ------
    [common-practice]

    Examples
    --------
    >>> covering_of("rubber and braid").rated, covering_of("lead").assumed
    (60.0, True)
    """
    words = cover.casefold()
    for names, covering in _CLASSES:
        if any(name in words for name in names):
            return covering
    return _ASSUMED
