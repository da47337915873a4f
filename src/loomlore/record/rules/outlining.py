"""Rules of outlines: what crosses itself, what is half a half, and places that lie outside the craft."""

from __future__ import annotations

import math
from collections.abc import Iterator

from loomlore.record.model import Outline, Thing
from loomlore.record.outlines import ON_CENTRE, Stretch, clearance, crossing_of, outline_stretches
from loomlore.record.remarks import called
from loomlore.record.rules.context import Context

__all__ = ["check_outlines"]

OUTSIDE = 0.15
"""Beyond an outline by more than this is outside it [m]: a lamp or a rail stands out by less. Common practice,
no source."""

SHARE_OUTSIDE = 0.02
"""Or by more than this share of the outline's length, whichever is more: what a small drawing can be read to."""


def check_outlines(context: Context) -> None:
    """Judge outlines, and that places and items lie within those of each view.

    Parameters
    ----------
    context
        The first standard of fit; the whole record is judged.
    """
    whole = context.whole
    sound = [o for o in whole.outlines.values() if f"outline {o.id}" not in context.broken]
    for outline in sound:
        _check_line(context, outline)
        if outline.mirrored and outline.view == "plan":
            _check_half(context, outline)
    for view, across, axis in (("side", "up", 2), ("plan", "to starboard", 1)):
        # One outline that cannot be read may be the very one that a place lies in.
        if any(outline.view in (view, "") for outline in whole.outlines.values() if outline not in sound):
            continue
        stretches = [s for o in sound if o.view == view for s in outline_stretches(o)]
        if stretches:
            _check_within(context, view, across, axis, stretches)


def _check_line(context: Context, outline: Outline) -> None:
    found = crossing_of(outline_stretches(outline)[0])
    if found is not None:
        first, second = (min(n, len(outline.points)) for n in found)
        message = f"{called(outline)} crosses itself, behind its points no. {first} and no. {second}."
        hint = "Look for a slipped figure or a missing sign there, or for points out of order."
        context.remarks.warn("outline-crosses", outline, message, hint, key="points")


def _check_half(context: Context, outline: Outline) -> None:
    half = outline_stretches(outline)[0].points[: len(outline.points)]
    sides = {math.copysign(1.0, y) for _, y in half if abs(y) > ON_CENTRE}
    if len(sides) > 1:
        message = f"{called(outline)} is mirrored and has points on both sides of the centre line."
        hint = "Type one half only, starboard plus or port minus, or take `mirrored` out."
        context.remarks.warn("outline-half", outline, message, hint, key="points")
        return
    ends = [abs(half[0][1]) <= ON_CENTRE, abs(half[-1][1]) <= ON_CENTRE]
    if ends[0] != ends[1] and not outline.line:
        which, off = ("begins", half[0]) if ends[1] else ("ends", half[-1])
        message = f"{called(outline)} is mirrored and {which} {abs(off[1]):.2g} m off the centre line."
        hint = (
            "Begin and end the half on the centre line, across 0; a part on one side touches it at neither."
        )
        context.remarks.warn("outline-half", outline, message, hint, key="points")


def _check_within(context: Context, view: str, across: str, axis: int, stretches: list[Stretch]) -> None:
    xs = [x for stretch in stretches for x, _ in stretch.points]
    most = max(OUTSIDE, SHARE_OUTSIDE * (max(xs) - min(xs)))
    for thing, at in _placed(context):
        apart = clearance((at[0], at[axis]), stretches)
        if apart > most:
            where = f"{at[0]:.2f} m aft, {at[axis]:.2f} m {across}"
            message = f"{called(thing)} ({where}) lies {apart:.2f} m outside the {view} outline."
            hint = (
                "Look at its figures and signs (aft, to starboard and up are plus, all from one point); "
                f"if they are right, add what it stands on as an [outline] of view {view!r}."
            )
            context.remarks.warn("outside-outline", thing, message, hint, key="at")


def _placed(context: Context) -> Iterator[tuple[Thing, tuple[float, float, float]]]:
    for place in context.whole.places.values():
        if place.at is not None and f"place {place.id}" not in context.broken:
            yield place, place.at
    for item in context.whole.items.values():
        if item.at is not None and f"item {item.id}" not in context.broken:
            yield item, item.at
