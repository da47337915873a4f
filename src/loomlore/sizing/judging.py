"""One verdict for every rule of sizing: a value against its limit, both with their working.

A limit is kept where the value is no more than the limit and its stated tolerance. Whoever reads a verdict
sees whether it passed by the tolerance alone.
"""

from __future__ import annotations

from dataclasses import dataclass

from loomlore.references import Status, Working, weakest

__all__ = ["Judgement", "judged"]


@dataclass(frozen=True, slots=True)
class Judgement:
    """Whether a value keeps to its limit; ``cure`` says what to do where it does not.

    ``tolerance`` is a share of the limit [1]; ``by_tolerance`` marks a value that lies between the limit
    and the limit with its tolerance.
    """

    rule: str
    passes: bool
    by_tolerance: bool
    value: Working
    limit: Working
    tolerance: float
    cure: str

    @property
    def share(self) -> float:
        """The value over its limit [1]; infinite where nothing is allowed."""
        if self.limit.value == 0:
            return 0.0 if self.value.value == 0 else float("inf")
        return self.value.value / self.limit.value

    @property
    def status(self) -> Status:
        """The lowest status among all figures that the verdict leans on."""
        return weakest(self.value.weakest_status, self.limit.weakest_status)

    def __str__(self) -> str:
        verdict = "within" if self.passes else "over"
        figures = (
            f"{self.value.value:.4g} {self.value.unit}, {verdict} {self.limit.value:.4g} {self.limit.unit}"
        )
        close = f" by its tolerance of {self.tolerance:.0%}" if self.by_tolerance else ""
        return f"{self.rule}: {figures}{close}." + ("" if self.passes else f" {self.cure}")


def judged(rule: str, *, value: Working, limit: Working, cure: str, tolerance: float = 0.0) -> Judgement:
    """Judge a value against its limit.

    Parameters
    ----------
    rule
        What is judged, as the start of a sentence.
    value, limit
        In the same unit.
    cure
        What to do where the value is over its limit, as a sentence.
    tolerance
        Share of the limit that a value may be over it [1].

    Returns
    -------
    Judgement
        Passing where value <= limit (1 + tolerance).
    """
    passes = value.value <= limit.value * (1 + tolerance)
    by_tolerance = passes and value.value > limit.value
    return Judgement(rule, passes, by_tolerance, value, limit, tolerance, cure)
