"""A statement judged in every permitted combination of the fits that can matter to it, and in no others.

What can matter: fits that bring, change or take away an item or cable of the services that the statement
speaks of, and fits that it names itself. The verdict over all of them is the gravest; combinations that the
statement does not speak of at all are left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from loomlore.behaviour.proving import Verdict, prove
from loomlore.network.building import Plant
from loomlore.record.fitting import fits_of, is_fitted, permitted_combinations
from loomlore.record.model import Dossier, Statement
from loomlore.sentences import Sentence, words_of

__all__ = ["Overall", "fits_that_matter", "prove_everywhere"]

GRAVEST = ("contradicted", "not-computable", "proved-if", "proved", "never-reached", "out-of-scope")
"""The verdict over several combinations is the first of these that occurs; never reached in one counts only
where the statement is reached in none."""

MOST_COMBINATIONS = 64


@dataclass(frozen=True, kw_only=True)
class Overall:
    """The gravest verdict, and each combination's: (which of the fits that matter are fitted, verdict).

    ``whole`` is False where there are more combinations than are tried.
    """

    verdict: Verdict
    by_fits: tuple[tuple[tuple[str, ...], Verdict], ...]
    matter: tuple[str, ...] = ()
    whole: bool = True

    @property
    def differs(self) -> bool:
        """Whether the fits change the verdict (leaving aside combinations it does not speak of)."""
        return len({v.verdict for _, v in self.by_fits if v.verdict != "out-of-scope"}) > 1


def fits_that_matter(dossier: Dossier, statement: Statement) -> frozenset[str]:
    """Fits and modifications that can change what a statement says.

    Parameters
    ----------
    dossier
        The whole record, before any fits.
    statement
        About function.

    Returns
    -------
    frozenset of str
        Ids.
    """
    known = fits_of(dossier)
    sentences = (
        statement.fit,
        statement.given,
        statement.when,
        statement.then,
        *(s.see for s in statement.steps),
    )
    words = {w for s in sentences if s is not None for w in words_of(s)}
    words |= {name for step in statement.steps for name in step.do}
    items = {w.partition(".")[0] for w in words}
    services = {c.service for c in dossier.cables.values() if _ends(c.from_, c.to) & items}
    cables = [c for c in dossier.cables.values() if c.service in services]
    items |= {end for cable in cables for end in _ends(cable.from_, cable.to)}
    things: list[Sentence | None] = [dossier.items[i].fit for i in items if i in dossier.items]
    things += [cable.fit for cable in cables]
    named = {w for s in things if s is not None for w in words_of(s) if w in known} | (words & set(known))
    touched = items | {cable.id for cable in cables}
    named |= {fit.id for fit in known.values() if touched & {*fit.change, *fit.removes}}
    return frozenset(named)


def _ends(*ends: str) -> set[str]:
    return {end.rpartition(".")[0] for end in ends}


def prove_everywhere(
    dossier: Dossier, statement: Statement, plant_of: Callable[[frozenset[str]], Plant]
) -> Overall:
    """Judge a statement in every permitted combination of the fits that matter.

    Parameters
    ----------
    dossier
        The whole record.
    statement
        About function.
    plant_of
        Gives the network of a combination of fits.

    Returns
    -------
    Overall
        The dossier's own standard of fit first.
    """
    matter = fits_that_matter(dossier, statement)
    known = fits_of(dossier)
    found: list[tuple[tuple[str, ...], Verdict]] = []
    seen: set[frozenset[str]] = set()
    whole = True
    for fits in permitted_combinations(dossier, matter):
        if fits & matter in seen:
            continue
        if len(found) >= MOST_COMBINATIONS:
            whole = False
            break
        seen.add(fits & matter)
        if not is_fitted(statement.fit, fits, known):
            verdict = Verdict(
                statement=statement.id, verdict="out-of-scope", because="It speaks of another fit."
            )
        else:
            verdict = prove(plant_of(fits), statement)
        found.append((tuple(sorted(fits & matter)), verdict))
    return Overall(
        verdict=_gravest(v for _, v in found), by_fits=tuple(found), matter=tuple(sorted(matter)), whole=whole
    )


def _gravest(verdicts: Iterable[Verdict]) -> Verdict:
    return min(verdicts, key=lambda verdict: GRAVEST.index(verdict.verdict))
