"""All rules in turn, over as many standards of fit as it takes to examine everything once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from loomlore.findings import Finding, Severity, in_order
from loomlore.record.fitting import permitted_combinations
from loomlore.record.installation import Installation, join
from loomlore.record.kinds import Kind, known_kinds
from loomlore.record.reading import Reading
from loomlore.record.remarks import PlaceOf, Remarks
from loomlore.record.rules.connections import (
    check_cables,
    check_items,
    check_places,
    check_scales,
    check_ways,
)
from loomlore.record.rules.context import Context
from loomlore.record.rules.directions import check_directions
from loomlore.record.rules.fits import check_fits, covering_standards
from loomlore.record.rules.grouping import together
from loomlore.record.rules.misnamed import with_misnamed
from loomlore.record.rules.names import (
    check_bindings,
    check_citations,
    check_feed_names,
    check_sentences,
    check_settings,
    check_sights,
)
from loomlore.record.rules.outlining import check_outlines
from loomlore.record.rules.plausible import check_plausible
from loomlore.record.rules.shorts import check_feeds, check_shorts
from loomlore.record.rules.slips import check_marks, check_words
from loomlore.record.rules.working import check_working
from loomlore.sentences import Sentence

__all__ = ["check_connections", "check_record"]


def check_record(reading: Reading, catalogue: Mapping[str, Kind]) -> tuple[Finding, ...]:
    """Everything wrong with a record beyond its text.

    Parameters
    ----------
    reading
        The dossier as read; what its own findings explain is not said again.
    catalogue
        The shipped kinds.

    Returns
    -------
    tuple of Finding
        In order of the text: kinds, joining, names, connections, fits, in every standard of fit that is
        named and as many more as it takes to see each fit both fitted and not.
    """
    kinds, of_kinds = known_kinds(reading.dossier, catalogue)
    findings: list[Finding] = []
    broken = reading.broken | _of_broken_kind(reading, of_kinds)
    settled: set[tuple[str, str]] = set()
    placed: dict[str, Sentence] = {}
    doubtful: set[str] = set()
    standards = covering_standards(reading.dossier, permitted_combinations(reading.dossier))
    before: Installation | None = None
    gathered: list[Remarks] = []
    for fits in standards:
        installation, slips = join(reading.dossier, kinds, fits, place_of=reading.place_of, like=before)
        findings.extend(_heard(slips, broken))
        broken |= {slip.subject for slip in slips if slip.severity is Severity.ERROR}
        remarks = Remarks(reading.place_of)
        context = Context(
            installation, remarks, broken, reading.touched, before is None, settled, placed, doubtful
        )
        before = installation
        _examine(context)
        findings.extend(_heard(remarks.findings, broken))
        gathered.append(remarks)
    every = in_order((*of_kinds, *with_misnamed(findings, gathered, reading.dossier)))
    return in_order(together(every))


def _of_broken_kind(reading: Reading, of_kinds: Iterable[Finding]) -> frozenset[str]:
    """Items whose kind has a finding of its own: what follows from it is not said again."""
    kinds = {f.subject for f in of_kinds if f.severity is Severity.ERROR and f.rule != "kind-twice"}
    return frozenset(f"item {i.id}" for i in reading.dossier.items.values() if f"kind {i.kind}" in kinds)


def check_connections(
    installation: Installation,
    *,
    broken: frozenset[str] = frozenset(),
    touched: frozenset[str] = frozenset(),
    place_of: PlaceOf | None = None,
) -> tuple[Finding, ...]:
    """Everything wrong with a record in one standard of fit.

    Parameters
    ----------
    installation
        The record joined.
    broken
        Subjects (``item horn``) that the reader has reported already.
    touched
        Words that broken lines speak of; what only seems to be missing there is not reported.
    place_of
        Where a key stands, for findings; without it a thing's own line is named.

    Returns
    -------
    tuple of Finding
        In order of the text.
    """
    remarks = Remarks(place_of)
    _examine(Context(installation, remarks, broken, touched))
    return _heard(remarks.findings, broken)


def _examine(context: Context) -> None:
    if context.first:
        check_places(context)
        check_outlines(context)
        check_sights(context)
        check_citations(context)
        check_fits(context)
        check_words(context)
        check_marks(context)
    check_cables(context)
    check_ways(context)
    check_items(context)
    check_scales(context)
    check_plausible(context)
    check_bindings(context)
    check_feed_names(context)
    check_sentences(context)
    check_settings(context)
    if context.first or context.varying:
        check_shorts(context)
        check_feeds(context)
        check_directions(context)
        check_working(context)


def _heard(findings: Iterable[Finding], broken: frozenset[str]) -> tuple[Finding, ...]:
    return in_order(f for f in findings if f.subject not in broken)
