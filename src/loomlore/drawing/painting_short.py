"""Shapes in the shortest SVG that draws the same, for the browser, which parses and restyles every one of them.

Invariants
----------
* What is drawn is the same to 1/1000 mm; every number is rounded once, from its place and not from a step before
  it, so that steps from point to point add up to where they should lead.
* Only lines and paths that stand next to one another, are seen in the same state, look alike and are not filled
  become one path: nothing comes to lie over or under something else, and no fill gets a hole.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from itertools import groupby

from loomlore.drawing.looks import STROKES
from loomlore.drawing.scene import Circle, Item, Line, Path, Point, Rectangle

__all__ = ["drawn_together", "short_number", "short_shape"]

STEPS = 1000
"""Steps of one millimetre. With a hundred, letters and lines come to stand a dot further on some screens."""

Commands = tuple[tuple[str, tuple[float, ...]], ...]


def drawn_together(items: Iterable[Item]) -> Iterator[Item]:
    """Put lines and paths together that can be one path.

    Parameters
    ----------
    items
        Siblings, in order.

    Yields
    ------
    Item
        In the same order; fewer of them.
    """
    for look, alike in groupby(items, key=_look_of_unfilled):
        found = list(alike)
        if look is None or len(found) == 1:
            yield from found
        else:
            commands = tuple(command for one in found for command in _commands(one))
            yield Path(commands, look[0], look[1])


def _look_of_unfilled(item: Item) -> tuple[str, str] | None:
    """Look and state of what may be drawn together with its like; None for anything else."""
    if not isinstance(item, Line | Path):
        return None
    fills = {STROKES[part].fill for part in item.look.split() if part in STROKES} - {""}
    return (item.look, item.only) if fills == {"none"} else None


def _commands(item: Item) -> Commands:
    if isinstance(item, Path):
        return item.commands
    assert isinstance(item, Line), "nothing else is drawn together"
    return tuple(("L" if place else "M", point) for place, point in enumerate(item.points))


def short_shape(item: Line | Circle | Rectangle | Path) -> str:
    """Write a shape.

    Parameters
    ----------
    item
        One drawn item.

    Returns
    -------
    str
        An SVG element.
    """
    looks = escape(" ".join(part for part in (item.look, item.only and f"only-{item.only}") if part))
    marks = f' class="{looks}"' if looks else ""
    if isinstance(item, Circle):
        return f'<circle{_placed("cx", "cy", item.centre)} r="{short_number(item.radius)}"{marks}/>'
    if isinstance(item, Rectangle):
        rounded = f' rx="{short_number(item.rounded)}"' if item.rounded else ""
        size = f' width="{short_number(item.width)}" height="{short_number(item.height)}"'
        return f"<rect{_placed('x', 'y', item.corner)}{size}{rounded}{marks}/>"
    return f'<path d="{_steps(_commands(item))}"{marks}/>'


def _placed(across: str, down: str, at: Point) -> str:
    """Where something stands; what is nought is left out, as SVG takes it to be."""
    numbers = [(name, short_number(value)) for name, value in zip((across, down), at, strict=True)]
    return "".join(f' {name}="{number}"' for name, number in numbers if number != "0")


def short_number(value: float) -> str:
    """Write a number to 1/1000, with nothing that can be left out.

    Parameters
    ----------
    value
        For instance a length [mm].

    Returns
    -------
    str
        ``.5`` for 0.5, ``-.25`` for -0.25, ``0`` for -0.0001.
    """
    return _written(round(value * STEPS))


def _written(steps: int) -> str:
    whole, part = divmod(abs(steps), STEPS)
    behind = f".{part:03d}".rstrip("0") if part else ""
    return f"{'-' if steps < 0 else ''}{whole or ''}{behind}" if steps else "0"


def _numbers(*steps: int) -> str:
    """Numbers one after another; a sign parts them as well as a blank does."""
    words = map(_written, steps)
    first = next(words)
    return first + "".join(word if word.startswith("-") else f" {word}" for word in words)


def _steps(commands: Commands) -> str:
    """A path's commands, each from where the one before led."""
    written: list[str] = []
    here = start = (0, 0)
    for command, values in commands:
        if command == "Z":
            written.append("z")
            here = start
            continue
        ends = tuple(round(value * STEPS) for value in values)
        to = (ends[-2], ends[-1])
        written.append(_step(command, values, ends, here, first=not written))
        here = to
        if command == "M":
            start = to
    return "".join(written)


def _step(
    command: str, values: tuple[float, ...], ends: tuple[int, ...], here: tuple[int, int], *, first: bool
) -> str:
    across, down = ends[-2] - here[0], ends[-1] - here[1]
    if command == "A":
        return f"a{_numbers(ends[0], ends[0])} 0 0 {int(values[1])} {_numbers(across, down)}"
    if command == "C":
        return "c" + _numbers(*(end - here[place % 2] for place, end in enumerate(ends)))
    if command == "M":
        return f"M{_numbers(*ends)}" if first else f"m{_numbers(across, down)}"
    if not down:
        return f"h{_written(across)}"
    return f"l{_numbers(across, down)}" if across else f"v{_written(down)}"
