"""What many cables of one file lack is said once: a list brought in from a survey is not a hundred findings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from loomlore.findings import Finding

__all__ = ["together"]

FEW = 3
"""So many are still said one by one, each at its own line."""

_SAID: Mapping[str, tuple[str, str]] = {
    "size-missing": (
        "have no size, so that their drop and their protection cannot be judged",
        'Write size = "14/0.30 mm" in each, or in the service of those that share one: usual = { size = … }.',
    ),
    "length-missing": (
        "have no length, and where their ends are does not say",
        'Write length = "2.4 m" in each, or along = a loom, or give the items at both ends a `place`.',
    ),
}


def together(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Say at the first cable of a file what more than a few of its cables lack.

    Parameters
    ----------
    findings
        Of a whole record, none twice.

    Returns
    -------
    tuple of Finding
        Each group in the place of its first.
    """
    kept: list[Finding] = []
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        group = groups.setdefault((finding.rule, finding.place.file), [])
        group.append(finding)
        if finding.rule not in _SAID or len(group) == 1:
            kept.append(finding)
    lacking = {group[0]: group for (rule, _), group in groups.items() if rule in _SAID}
    return tuple(said for finding in kept for said in _grouped(finding, lacking.get(finding, [finding])))


def _grouped(first: Finding, group: list[Finding]) -> list[Finding]:
    if len(group) <= FEW:
        return group
    what, hint = _SAID[first.rule]
    marks = [finding.subject.partition(" ")[2] for finding in group]
    named = ", ".join(map(repr, marks[:6])) + (", …" if len(marks) > 6 else "")
    message = f"{len(group)} cables {what}: {named}."
    return [replace(first, message=message, hint=hint, also_at=tuple(f.place for f in group[1:]))]
