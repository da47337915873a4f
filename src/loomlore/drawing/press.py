"""For a printer: trim to a page's size, bleed, crop marks; and the least type and line of a sheet.

A sheet is never trimmed so small that its type falls under 6.5 pt or its lines under 0.2 mm: it is refused.
"""

from collections.abc import Iterator
from dataclasses import replace

from loomlore.drawing.looks import LEAST_LINE, LEAST_TYPE, LETTERINGS, STROKES
from loomlore.drawing.scene import Box, Group, Item, Line, Rectangle, Scene, Text, walk

__all__ = ["least_line", "least_type", "pressed"]

_ROOM = 9.0  # outside the bleed, for the crop marks [mm]
_LONG = 5.0


def least_type(scene: Scene) -> float:
    """Return the size of the smallest words of a sheet.

    Parameters
    ----------
    scene : Scene
        The sheet.

    Returns
    -------
    float
        [mm]; infinite without words.
    """
    sizes = [
        scale * LETTERINGS[next(part for part in item.look.split() if part in LETTERINGS)].size
        for item, scale in walk(scene.items)
        if isinstance(item, Text)
    ]
    return min(sizes, default=float("inf"))


def least_line(scene: Scene) -> float:
    """Return the width of the thinnest line of a sheet.

    Parameters
    ----------
    scene : Scene
        The sheet.

    Returns
    -------
    float
        [mm]; infinite without lines.
    """
    widths = [scale * _width(item.look) for item, scale in walk(scene.items) if not isinstance(item, Group)]
    return min((width for width in widths if width > 0.0), default=float("inf"))


def _width(look: str) -> float:
    """Return the width of a look's stroke; later rows of the table win over earlier ones."""
    classes = set(look.split())
    width, drawn = 0.0, False
    for name, stroke in STROKES.items():
        if name in classes:
            width = stroke.width or width
            drawn = drawn or bool(stroke.stroke)
    return width if drawn else 0.0


def pressed(
    scene: Scene,
    *,
    trim: tuple[float, float] | None = None,
    bleed: float = 0.0,
    marks: bool = False,
) -> Scene:
    """Make a sheet ready for a printer.

    Parameters
    ----------
    scene : Scene
        The sheet.
    trim : (width, height), optional
        The page's size after cutting, upright or lying as the sheet is [mm]; the sheet's own where not given.
    bleed : float
        How far the ground goes on over the edge of the page [mm].
    marks : bool
        Whether crop marks stand outside the bleed.

    Returns
    -------
    Scene
        The page with its bleed, and room for the marks where there are any.

    Raises
    ------
    ValueError
        Where type or lines would be too small to print, or the bleed is negative.
    """
    if bleed < 0.0:
        raise ValueError("a bleed is 0 mm or more")
    width, height = _turned(trim, scene) if trim else (scene.width, scene.height)
    scale = min(width / scene.width, height / scene.height)
    _refuse_small(scene, scale)
    edge = bleed + (_ROOM if marks else 0.0)
    shift = (edge + (width - scale * scene.width) / 2, edge + (height - scale * scene.height) / 2)
    ground = Rectangle((edge - bleed, edge - bleed), width + 2 * bleed, height + 2 * bleed, "ground")
    items: list[Item] = [ground, Group(scene.items, role="page", shift=shift, scale=scale)]
    items += _crop_marks(edge, bleed, width, height) if marks else []
    page = Box(edge, edge, edge + width, edge + height)
    return replace(
        scene,
        width=width + 2 * edge,
        height=height + 2 * edge,
        items=tuple(items),
        trim=page,
        bleed=page.grown(bleed),
    )


def _turned(trim: tuple[float, float], scene: Scene) -> tuple[float, float]:
    low, high = sorted(trim)
    return (high, low) if scene.width > scene.height else (low, high)


def _refuse_small(scene: Scene, scale: float) -> None:
    need = max(LEAST_TYPE / least_type(scene), LEAST_LINE / least_line(scene))
    if scale < need - 1e-9:
        wide, tall = need * scene.width, need * scene.height
        raise ValueError(
            f"{scene.title}: trimmed so small, type would fall under 6.5 pt or lines under 0.2 mm; "
            f"{wide:.0f} x {tall:.0f} mm is the least"
        )


def _crop_marks(edge: float, bleed: float, width: float, height: float) -> Iterator[Item]:
    gap = max(bleed, 2.0) + 1.0
    for x, way in ((edge, -1.0), (edge + width, 1.0)):
        for y in (edge, edge + height):
            yield Line(((x + way * gap, y), (x + way * (gap + _LONG), y)), "fine-rule")
    for y, way in ((edge, -1.0), (edge + height, 1.0)):
        for x in (edge, edge + width):
            yield Line(((x, y + way * gap), (x, y + way * (gap + _LONG))), "fine-rule")
