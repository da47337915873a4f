"""The plates that are not of one service: numbered on after these, drawn by the word the command takes."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from loomlore.drawing.board import loom_board
from loomlore.drawing.faces import fuse_boxes, fuse_plate, plug_plate, plugs
from loomlore.drawing.looms import loom_plate
from loomlore.drawing.overview import block_plate
from loomlore.drawing.paints import Way, painted
from loomlore.drawing.plates import Plates
from loomlore.drawing.roles import Roles
from loomlore.drawing.scene import Scene
from loomlore.drawing.specimens import symbol_sheet
from loomlore.drawing.spots import place_plate
from loomlore.network.building import Plant
from loomlore.record.installation import Installation

__all__ = ["FURTHER", "further_plates"]


@dataclass(frozen=True)
class _Asked:
    """What a plate is drawn from."""

    plant: Plant
    roles: Roles
    looms: Sequence[str]
    sheet: str
    way: Way
    standing: str = ""

    @property
    def joined(self) -> Installation:
        """The record in this standard of fit."""
        return self.plant.installation


def further_plates(
    plant: Plant,
    roles: Roles,
    words: Sequence[str],
    *,
    looms: Sequence[str] = (),
    sheet: str = "A3",
    way: Way = "role",
    standing: str = "",
) -> list[Plates]:
    """Draw plates that are not of one service.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.
    roles : Roles
        What every node is.
    words : sequence of str
        Keys of ``FURTHER``.
    looms : sequence of str
        For loom plates and boards: only these.
    sheet : str
        For boards: ``A4`` or ``A3``.
    way : str
        What the colours say.
    standing : str
        Name of the standard of fit.

    Returns
    -------
    list of Plates
        Those that have something to show.
    """
    asked = _Asked(plant, roles, list(looms) or list(plant.installation.dossier.looms), sheet, way, standing)
    first = len(plant.installation.dossier.services) + 1
    found: list[Plates] = []
    for n, (word, made) in enumerate(FURTHER.items()):
        if word in words:
            found += [plates for plates in made(asked, first + n) if plates.scenes]
    return found


def _one(word: str, number: int, scenes: Sequence[Scene]) -> list[Plates]:
    return [Plates(word, number, scenes[0].title, tuple(scenes))] if scenes else []


def _block(asked: _Asked, number: int) -> list[Plates]:
    scenes = block_plate(
        asked.joined,
        asked.roles,
        number=str(number),
        way=asked.way,
        plant=asked.plant,
        standing=asked.standing,
    )
    return _one("block", number, scenes)


def _places(asked: _Asked, number: int) -> list[Plates]:
    return _one("places", number, place_plate(asked.joined, number=str(number), standing=asked.standing))


def _looms(asked: _Asked, number: int) -> list[Plates]:
    return _one(
        "looms", number, loom_plate(asked.joined, asked.looms, number=str(number), standing=asked.standing)
    )


def _faces(asked: _Asked, number: int) -> list[Plates]:
    joined, roles = asked.joined, asked.roles
    boxes = fuse_plate(joined, roles, fuse_boxes(joined), number=f"{number}a", standing=asked.standing)
    ways = plug_plate(joined, roles, plugs(joined), number=f"{number}b", standing=asked.standing)
    return _one("faces-fuse-boxes", number, boxes) + _one("faces-plugs", number, ways)


def _symbols(_: _Asked, number: int) -> list[Plates]:
    return _one("symbols", number, symbol_sheet(str(number)))


def _boards(asked: _Asked, number: int) -> list[Plates]:
    paints = painted(asked.joined, asked.way)
    found: list[Plates] = []
    for name in asked.looms:
        scenes = loom_board(
            asked.joined, asked.roles, name, sheet=asked.sheet, paints=paints, number=str(number)
        )
        found += _one(f"board-{name}", number, scenes)
    return found


# In the order of their numbers, which stay whatever is asked for.
FURTHER: Mapping[str, Callable[[_Asked, int], list[Plates]]] = {
    "block": _block,
    "places": _places,
    "looms": _looms,
    "faces": _faces,
    "symbols": _symbols,
    "boards": _boards,
}
