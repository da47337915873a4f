"""The furniture of a plate: ground, rules, title, key of the colours used, notes, number, caution.

A plate looks like one of a good handbook: warm paper, ink, a serif for titles and notes, a sans for names.
The drawing fills the field; where it leaves a large blank, the account of the service is set there, and where
it is narrow, a panel beside it says what else the foot says.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from loomlore.drawing.engraving import engraved
from loomlore.drawing.layout import Drawing, bends
from loomlore.drawing.legends import CAUTION, Foot, Legend, foot_items, foot_of, key_rows
from loomlore.drawing.looks import LETTERINGS
from loomlore.drawing.packing import FORMATS, SCALES, Packed, packed, split
from loomlore.drawing.panels import PANELS, Panel, panel_items, panel_of, text_block
from loomlore.drawing.rules import blank_spot, covered, largest_blank
from loomlore.drawing.scene import Box, Group, Item, Line, Rectangle, Scene, Text
from loomlore.drawing.typefaces import wrapped

__all__ = ["CAUTION", "Block", "Legend", "free_plate", "plate"]

_MARGIN = 8.0
_INNER = 9.6
_PAD = 6.0
_NOTE = 3.9
_MOST_SHARE = 20.0  # that a channel between two rows is made higher, so that a part fills its field [mm]
_SCALE_PRICE = 0.25  # a drawing a tenth smaller must leave that tenth less of the sheet blank
_PANEL_PRICE = 0.03  # a foot is usual: a panel must leave that much less of the field blank


@dataclass(frozen=True)
class Block:
    """Items that are set on a sheet as one: they cover a width and a height [mm] from their own 0, 0."""

    items: tuple[Item, ...]
    width: float
    height: float


@dataclass(frozen=True)
class _Page:
    """A sheet's size and its inner borders [mm]; it has a foot or a panel."""

    width: float
    height: float
    head: float
    foot: Foot | None = None
    panel: Panel | None = None

    @property
    def field(self) -> Box:
        edge = _INNER + _PAD
        if self.panel is not None:
            right, bottom = self.width - edge - self.panel.width, self.height - _INNER - 5.0
            return Box(edge, self.head + 2.0, right, bottom)
        low = self.foot.height if self.foot is not None else 0.0
        return Box(edge, self.head, self.width - edge, self.height - _INNER - low - 4.0)


def plate(parts: Sequence[Drawing], legend: Legend) -> list[Scene]:
    """Set laid-out parts on as few sheets as they need.

    Parameters
    ----------
    parts : sequence of Drawing
        The connected parts, the largest first.
    legend : Legend
        Title, notes and the rest.

    Returns
    -------
    list of Scene
        One a sheet: A4 or A3, upright or lying, whichever is smallest; several where one does not hold all;
        longer than A3 (a folding plate) only where one part does not fit otherwise.
    """
    chosen = _chosen(parts, legend)
    if chosen is not None:
        page, spots, said = _with_account(parts, legend, *chosen)
        return [_sheet(parts, page, spots, said, sheet=(1, 1))]
    return _several(parts, legend)


def free_plate(blocks: Sequence[Block], legend: Legend) -> list[Scene]:
    """Set blocks of any content on as few sheets as they need, in the same furniture.

    Parameters
    ----------
    blocks : sequence of Block
        Each must fit A3.
    legend : Legend
        Title, notes and the rest; its account goes into the notes.

    Returns
    -------
    list of Scene
        One a sheet.
    """
    legend = _sayings(legend)[-1]
    sizes = [(block.width, block.height) for block in blocks]
    for _, width, height in FORMATS:
        page = _page((), legend, width, height)
        spots = packed(sizes, field=(page.field.width, page.field.height), scales=SCALES[3:])
        if spots is not None:
            return [_free_sheet(blocks, page, spots, legend, (1, 1))]
    page = _page((), legend, 420.0, 297.0)
    room = (page.field.width, page.field.height)
    shares = split(sizes, field=room)
    scenes = []
    for number, members in enumerate(shares, 1):
        spots = packed([sizes[n] for n in members], field=room, scales=(1.0,))
        if spots is None:
            raise ValueError("a block of the plate is too large for A3")
        scenes.append(_free_sheet([blocks[n] for n in members], page, spots, legend, (number, len(shares))))
    return scenes


def _free_sheet(
    blocks: Sequence[Block], page: _Page, spots: Packed, legend: Legend, sheet: tuple[int, int]
) -> Scene:
    items: list[Item] = [*_ground(page), *_head(page, legend)]
    for block, (x, y) in zip(blocks, spots.corners, strict=True):
        corner = (page.field.left + x, page.field.top + y)
        items.append(Group(block.items, role="block", shift=corner, scale=spots.scale))
    items += _foot(page, legend, sheet)
    return Scene(page.width, page.height, tuple(items), legend.title, legend.description)


def _chosen(parts: Sequence[Drawing], legend: Legend) -> tuple[_Page, Packed, Legend] | None:
    """Choose the smallest sheet that holds the parts and every word, of equal ones the fullest and largest."""
    sizes = [(part.box.width, part.box.height) for part in parts]
    covers = [covered(part) for part in parts]
    found: list[tuple[float, float, int]] = []
    held: list[tuple[_Page, Packed, Legend]] = []
    for _, width, height in FORMATS:
        if found and min(found)[0] < width * height:
            break
        for page, said in _pages(parts, legend, width, height):
            spots = packed(sizes, field=(page.field.width, page.field.height), scales=SCALES, covers=covers)
            if spots is None or (said.account and not page.panel and not _account(parts, spots, page, said)):
                continue
            price = _blank_share(parts, spots, page) + _SCALE_PRICE * (SCALES[0] - spots.scale)
            found.append((width * height, price + (_PANEL_PRICE if page.panel else 0.0), len(held)))
            held.append((page, spots, said))
            if not page.panel:
                break
    return held[min(found)[2]] if found else None


def _pages(
    parts: Sequence[Drawing], legend: Legend, width: float, height: float
) -> Iterator[tuple[_Page, Legend]]:
    """Go through the arrangements of a sheet: panels, then a foot, the account in a blank or in the notes."""
    for wide in PANELS:
        page = _page(parts, legend, width, height, panel=wide)
        if (
            page.panel is not None
            and page.field.width > 0
            and page.panel.height <= height - _INNER - page.head
        ):
            yield page, legend
    for said in _sayings(legend):
        yield _page(parts, said, width, height), said


def _sayings(legend: Legend) -> list[Legend]:
    """Return the account set in a blank, or else as the first of the notes."""
    if not legend.account:
        return [legend]
    return [legend, replace(legend, account="", notes=(legend.account, *legend.notes))]


def _several(parts: Sequence[Drawing], legend: Legend) -> list[Scene]:
    """Share the parts out over A3 sheets; only a part that none of these holds makes a folding plate."""
    legend = _sayings(legend)[-1]
    rooms = [_page(parts, legend, width, height).field for _, width, height in FORMATS[2:]]
    large = [n for n, part in enumerate(parts) if not any(_holds(room, part) for room in rooms)]
    shares = [[n] for n in large] + min((_shares(parts, large, room) for room in rooms), key=len)
    scenes = []
    for number, members in enumerate(shares, 1):
        mine = [parts[n] for n in members]
        chosen = _chosen(mine, legend) or _folding(mine, legend)
        if chosen is None:
            raise ValueError("a part of the plate is too large for any sheet")
        scenes.append(_sheet(mine, *chosen, sheet=(number, len(shares))))
    return scenes


def _holds(room: Box, part: Drawing) -> bool:
    return part.box.width <= room.width and part.box.height <= room.height


def _shares(parts: Sequence[Drawing], large: Sequence[int], room: Box) -> list[list[int]]:
    """Share out what is not too large; what this room does not hold has a sheet of its own."""
    fitting = [n for n, part in enumerate(parts) if n not in large and _holds(room, part)]
    turned = [[n] for n, part in enumerate(parts) if n not in large and not _holds(room, part)]
    sizes = [(parts[n].box.width, parts[n].box.height) for n in fitting]
    return turned + [[fitting[n] for n in one] for one in split(sizes, field=(room.width, room.height))]


def _folding(parts: Sequence[Drawing], legend: Legend) -> tuple[_Page, Packed, Legend] | None:
    """Return the smallest sheet lengthened by panels of 105 mm that holds all."""
    sizes = [(part.box.width, part.box.height) for part in parts]
    sheets = [(420.0 + 105.0 * n, height) for n in range(1, 16) for height in (297.0, 420.0)]
    sheets += [(420.0 + 105.0 * n, 420.0 + 105.0 * m) for n in range(9) for m in range(9)]
    for width, height in sorted(sheets, key=lambda sheet: (sheet[0] * sheet[1], sheet)):
        page = _page(parts, legend, width, height)
        spots = packed(sizes, field=(page.field.width, page.field.height), scales=(1.15, 1.08, 1.0))
        if spots is not None:
            return page, spots, legend
    return None


def _page(
    parts: Sequence[Drawing], legend: Legend, width: float, height: float, *, panel: float = 0.0
) -> _Page:
    head = _INNER + 16.0 + 8.0 * len(_title_lines(legend, width)) + (0.0 if legend.subtitle else -4.0)
    rows = key_rows(parts, legend)
    if panel:
        return _Page(width, height, head, panel=panel_of(rows, legend, width=panel))
    return _Page(width, height, head, foot_of(rows, legend, inner=width - 2 * _INNER))


def _placed_boxes(parts: Sequence[Drawing], spots: Packed, page: _Page) -> list[Box]:
    found = []
    for part, (x, y) in zip(parts, spots.corners, strict=True):
        for box in covered(part):
            left, top = page.field.left + x, page.field.top + y
            found.append(
                Box(
                    left + box.left * spots.scale,
                    top + box.top * spots.scale,
                    left + box.right * spots.scale,
                    top + box.bottom * spots.scale,
                )
            )
    return found


def _blank_share(parts: Sequence[Drawing], spots: Packed, page: _Page) -> float:
    """Return the share of all under the title that the largest blank takes, in the field or in the panel.

    A part by itself is first drawn out, as it will be, to fill the field.
    """
    boxes, field = _placed_boxes(parts, spots, page), page.field
    if len(parts) == 1:
        tall, most = parts[0].box.height, parts[0].box.height + _MOST_SHARE * parts[0].channels
        factor = min(field.height / (tall * spots.scale), most / tall)
        middle = (field.top + field.bottom) / 2
        ends = [
            (middle + (box.top - middle) * factor, middle + (box.bottom - middle) * factor) for box in boxes
        ]
        boxes = [Box(box.left, up, box.right, down) for box, (up, down) in zip(boxes, ends, strict=True)]
    air = _PAD if page.panel is not None else 0.0
    largest = largest_blank(Box(field.left, field.top, field.right + air, field.bottom), boxes, step=3.0)
    blank = largest.width * largest.height
    if page.panel is not None:
        blank = max(blank, page.panel.width * (page.height - _INNER - page.head - page.panel.height))
    return blank / ((page.width - 2 * (_INNER + _PAD)) * (page.height - page.head - _INNER))


def _sheet(
    parts: Sequence[Drawing], page: _Page, spots: Packed, legend: Legend, *, sheet: tuple[int, int]
) -> Scene:
    if len(parts) == 1 or len({y for _, y in spots.corners}) == 1:
        filled, moved = _filled(parts[0], page, spots) if len(parts) == 1 else _drawn_out(parts, page, spots)
        # Never fill the sheet at the price of the words.
        if page.panel or not legend.account or _account(filled, moved, page, legend):
            parts, spots = filled, moved
    items: list[Item] = [*_ground(page), *_head(page, legend)]
    corner = page.field
    for part, (x, y) in zip(parts, spots.corners, strict=True):
        drawn = engraved(part, legend.beside)
        shift = (corner.left + x, corner.top + y)
        items.append(Group(drawn, role="part", shift=shift, scale=spots.scale))
    items += _account(parts, spots, page, legend)
    items += _foot(page, legend, sheet)
    return Scene(page.width, page.height, tuple(items), legend.title, legend.description)


def _with_account(
    parts: Sequence[Drawing], legend: Legend, page: _Page, spots: Packed, said: Legend
) -> tuple[_Page, Packed, Legend]:
    """Take the account out of the notes again where the drawing, once it fills the sheet, leaves room."""
    if len(parts) > 1 or not legend.account or said.account or page.panel:
        return page, spots, said
    taller = _page(parts, legend, page.width, page.height)
    again = packed(
        [(parts[0].box.width, parts[0].box.height)],
        field=(taller.field.width, taller.field.height),
        scales=(spots.scale,),
    )
    if again is None:
        return page, spots, said
    filled, moved = _filled(parts[0], taller, again)
    return (taller, again, legend) if _account(filled, moved, taller, legend) else (page, spots, said)


def _filled(part: Drawing, page: _Page, spots: Packed) -> tuple[list[Drawing], Packed]:
    """Give a part that has a sheet to itself the room that is left, so that it fills its field."""
    wide, tall = page.field.width / spots.scale, page.field.height / spots.scale
    share = min(_MOST_SHARE, max(0.0, (tall - part.box.height) / max(1, part.channels)))
    best = taller = part.again(0.0, share)
    for airy in (16.0, 6.0):
        wider = part.again(airy, share)
        if (
            wider.box.width <= wide
            and bends(wider.wires) <= bends(taller.wires)
            and wider.cost < taller.cost * 1.2 + 3.0
        ):
            best = wider
            break
    again = packed(
        [(best.box.width, best.box.height)],
        field=(page.field.width, page.field.height),
        scales=(spots.scale,),
    )
    return ([best], again) if again is not None else ([part], spots)


def _drawn_out(parts: Sequence[Drawing], page: _Page, spots: Packed) -> tuple[list[Drawing], Packed]:
    """Make parts that stand side by side higher, each as far as the field and its channels allow."""
    tall = page.field.height / spots.scale
    higher = [
        part.again(0.0, min(_MOST_SHARE, max(0.0, (tall - part.box.height) / max(1, part.channels))))
        for part in parts
    ]
    again = packed(
        [(part.box.width, part.box.height) for part in higher],
        field=(page.field.width, page.field.height),
        scales=(spots.scale,),
    )
    kept = again is not None and len({y for _, y in again.corners}) == 1
    return (higher, again) if again is not None and kept else (list(parts), spots)


# ---------------------------------------------------------------- ground and head


def _ground(page: _Page) -> list[Item]:
    inner = page.width - 2 * _INNER, page.height - 2 * _INNER
    outer = page.width - 2 * _MARGIN, page.height - 2 * _MARGIN
    return [
        Rectangle((0.0, 0.0), page.width, page.height, "ground"),
        Rectangle((_MARGIN, _MARGIN), *outer, "rule"),
        Rectangle((_INNER, _INNER), *inner, "fine-rule"),
    ]


def _title_lines(legend: Legend, width: float) -> tuple[str, ...]:
    look = LETTERINGS["t-title"]
    room = width - 2 * _INNER - 20.0
    # Letter-spacing widens a line by its share of an em for each letter: about a sixth for capitals.
    return wrapped(
        legend.title.upper(), face=look.face, size=look.size * (1 + look.spacing * 1.55), width=room
    )


def _head(page: _Page, legend: Legend) -> list[Item]:
    middle = page.width / 2
    items: list[Item] = []
    y = _INNER + 10.5
    for line in _title_lines(legend, page.width):
        items.append(Text((middle, y), line, "t-title", "middle"))
        y += 8.0
    if legend.subtitle:
        items.append(Text((middle, y - 1.4), legend.subtitle, "t-subtitle", "middle"))
        y += 4.0
    return [*items, Line(((middle - 20.0, y - 2.6), (middle + 20.0, y - 2.6)), "fine-rule")]


# ---------------------------------------------------------------- the account, in a blank


def _account(parts: Sequence[Drawing], spots: Packed, page: _Page, legend: Legend) -> list[Item]:
    """Set the account into a blank, near a corner if it may be; return nothing where it does not fit."""
    if not legend.account or page.panel:
        return []
    look = LETTERINGS["t-note"]
    boxes = [box.grown(5.0) for box in _placed_boxes(parts, spots, page)]
    for width in (64.0, 78.0, 92.0, 56.0):
        lines = wrapped(legend.account, face=look.face, size=look.size, width=width)
        tall = 7.0 + _NOTE * len(lines)
        spot = blank_spot(page.field, boxes, width=width, height=tall)
        if spot is not None:
            return text_block("How it works", lines, spot.left, spot.top, width)
    return []


# ---------------------------------------------------------------- foot


def _foot(page: _Page, legend: Legend, sheet: tuple[int, int]) -> list[Item]:
    if page.panel is not None:
        left = page.width - _INNER - page.panel.width
        return panel_items(page.panel, legend, sheet, left=left, top=page.head, bottom=page.height - _INNER)
    if page.foot is None:
        return []
    top = page.height - _INNER - page.foot.height
    inner = page.width - 2 * _INNER
    return foot_items(page.foot, legend, sheet, left=_INNER, top=top, inner=inner)
