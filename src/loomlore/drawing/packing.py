"""Parts on sheets: which sheet, at what scale, where each part stands.

Parts are set against a skyline from the top or from the left, in several orders; of the sheets that hold them
all the smallest wins, and on it the largest scale, then the smallest blank. Spare room is given to the
distances between parts, so the sheet is filled.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from loomlore.drawing.rules import largest_blank
from loomlore.drawing.scene import Box

__all__ = ["FORMATS", "GAP", "SCALES", "Packed", "packed", "split"]

GAP = 9.0
_MOST_DRIFT = 45.0
# Sheets in the order they are tried: name, width, height [mm]. Source: ISO 216.
FORMATS: tuple[tuple[str, float, float], ...] = (
    ("A4 portrait", 210.0, 297.0),
    ("A4 landscape", 297.0, 210.0),
    ("A3 landscape", 420.0, 297.0),
    ("A3 portrait", 297.0, 420.0),
)
SCALES = (1.5, 1.4, 1.3, 1.22, 1.15, 1.08, 1.0)

Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Packed:
    """Where the parts stand in a field: their upper left corners [mm] and the scale they are drawn at."""

    corners: tuple[Size, ...]
    scale: float
    used: Size


def packed(
    sizes: Sequence[Size],
    *,
    field: Size,
    scales: Sequence[float] = SCALES,
    covers: Sequence[Sequence[Box]] = (),
) -> Packed | None:
    """Set all parts into one field.

    Parameters
    ----------
    sizes : sequence of (width, height)
        Of the parts [mm].
    field : (width, height)
        Of the sheet's field [mm].
    scales : sequence of float
        Scales to try, the largest first [1].
    covers : sequence of sequence of Box, optional
        What each part covers within its size [mm]; all of it, where not given.

    Returns
    -------
    Packed or None
        None if the parts do not fit at the last scale.
    """
    for scale in scales:
        grown = [(width * scale, height * scale) for width, height in sizes]
        found = {
            corners: None
            for order in _orders(grown)
            for from_left in (False, True)
            if (corners := _against_skyline(grown, order, field, from_left=from_left)) is not None
        }
        if found:
            best = _fullest(list(found), grown, field, scale, covers)
            return Packed(_spread(grown, best, field), scale, _used(grown, best))
    return None


def _fullest(
    found: Sequence[tuple[Size, ...]],
    sizes: Sequence[Size],
    field: Size,
    scale: float,
    covers: Sequence[Sequence[Box]],
) -> tuple[Size, ...]:
    """Return the arrangement whose largest blank is smallest, of equal ones the lowest."""
    if len(found) == 1:
        return found[0]
    whole = Box(0.0, 0.0, *field)

    def blank(corners: tuple[Size, ...]) -> tuple[float, float]:
        boxes = []
        for n, (x, y) in enumerate(_spread(sizes, corners, field)):
            mine = covers[n] if covers else [Box(0.0, 0.0, sizes[n][0] / scale, sizes[n][1] / scale)]
            boxes += [
                Box(x + scale * b.left, y + scale * b.top, x + scale * b.right, y + scale * b.bottom)
                for b in mine
            ]
        largest = largest_blank(whole, boxes, step=6.0)
        return round(largest.width * largest.height, 3), _used(sizes, corners)[1]

    return min(found, key=blank)


def split(sizes: Sequence[Size], *, field: Size) -> list[list[int]]:
    """Share parts out over several sheets, in their order, as few as it takes.

    Parameters
    ----------
    sizes : sequence of (width, height)
        Of the parts [mm], each fitting the field.
    field : (width, height)
        Of a sheet's field [mm].

    Returns
    -------
    list of list of int
        The parts of each sheet.
    """
    sheets: list[list[int]] = []
    for part in range(len(sizes)):
        for sheet in sheets:
            if packed([sizes[n] for n in [*sheet, part]], field=field, scales=(1.0,)) is not None:
                sheet.append(part)
                break
        else:
            sheets.append([part])
    return sheets


def _orders(sizes: Sequence[Size]) -> list[list[int]]:
    every = list(range(len(sizes)))
    keys = (
        lambda n: (n,),
        lambda n: (-sizes[n][1], n),
        lambda n: (-sizes[n][0], n),
        lambda n: (-sizes[n][0] * sizes[n][1], n),
        lambda n: (sizes[n][0], n),
    )
    return [sorted(every, key=key) for key in keys]


def _against_skyline(
    sizes: Sequence[Size], order: Sequence[int], field: Size, *, from_left: bool
) -> tuple[Size, ...] | None:
    placed: dict[int, Box] = {}
    for part in order:
        width, height = sizes[part]
        spots = [(0.0, 0.0)]
        for box in placed.values():
            spots += [
                (box.right + GAP, box.top),
                (box.left, box.bottom + GAP),
                (box.right + GAP, 0.0),
                (0.0, box.bottom + GAP),
            ]
        ranked = sorted(spots, key=lambda spot: (spot[1] + height, spot[0]))
        if from_left:
            ranked = sorted(spots, key=lambda spot: (spot[0] + width, spot[1]))
        for x, y in ranked:
            box = Box(x, y, x + width, y + height)
            fits = box.right <= field[0] + 1e-6 and box.bottom <= field[1] + 1e-6
            if fits and not any(box.grown(GAP - 0.01).overlaps(other) for other in placed.values()):
                placed[part] = box
                break
        else:
            return None
    return tuple((placed[n].left, placed[n].top) for n in range(len(sizes)))


def _used(sizes: Sequence[Size], corners: Sequence[Size]) -> Size:
    width = max(x + w for (x, _), (w, _) in zip(corners, sizes, strict=True))
    height = max(y + h for (_, y), (_, h) in zip(corners, sizes, strict=True))
    return width, height


def _spread(sizes: Sequence[Size], corners: Sequence[Size], field: Size) -> tuple[Size, ...]:
    """Share the spare room between the parts; what is right of or below another stays so."""
    used = _used(sizes, corners)
    spare = (field[0] - used[0], field[1] - used[1])
    # Beyond this the parts would drift apart: what is left over goes to the margins.
    drift = tuple(min(room, _MOST_DRIFT) for room in spare)
    far = tuple(max(corner[axis] for corner in corners) for axis in (0, 1))
    moved = []
    for corner in corners:
        shift = [
            (spare[axis] - drift[axis]) / 2 + drift[axis] * (corner[axis] / far[axis] if far[axis] else 0.5)
            for axis in (0, 1)
        ]
        moved.append((corner[0] + shift[0], corner[1] + shift[1]))
    return tuple(moved)
