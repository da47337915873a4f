"""A page's boxes in a PDF: where it is trimmed and how far its ground bleeds, added to a file that has neither.

The typesetter writes the media box alone. What is missing is appended as an incremental update: each page's
object once more with its boxes, a table of these objects, a trailer that names the table before. The file's
own bytes stay as they are, and the same file with the same boxes gives the same bytes.

Source
------
ISO 32000-1:2008 (PDF 1.7): 7.5.4 cross-reference table, 7.5.6 incremental updates, 14.11.2 page boundaries;
read from memory, held by the tests against a reader of their own.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from loomlore.drawing.scene import Box, Scene

__all__ = ["with_boxes"]

_POINT = 72 / 25.4  # in a millimetre


@dataclass(frozen=True)
class _File:
    """A PDF with one plain cross-reference table: its bytes, where its objects begin, its trailer."""

    data: bytes
    offsets: dict[int, int]
    trailer: bytes
    start: int

    def body(self, number: int) -> bytes:
        """An object between its first and its last line."""
        start = self.data.index(b"obj", self.offsets[number]) + 3
        return self.data[start : self.data.index(b"endobj", start)].strip()


def with_boxes(data: bytes, scenes: Sequence[Scene]) -> bytes:
    """Add each page's trim box and bleed box.

    Parameters
    ----------
    data : bytes
        A PDF with a plain cross-reference table, a page for each scene.
    scenes : sequence of Scene
        In the order of the pages; those without boxes are left as they are.

    Returns
    -------
    bytes
        The file, longer by what was added; the same where no scene has boxes.

    Raises
    ------
    RuntimeError
        Where the file is built otherwise.
    """
    if not any(scene.trim for scene in scenes):
        return data
    try:
        file = _opened(data)
        pages = list(_pages(file, _reference(file.body(_reference(file.trailer, b"Root")), b"Pages")))
    except (AttributeError, KeyError, ValueError) as error:
        raise RuntimeError("the typesetter wrote a file whose pages cannot be found") from error
    if len(pages) != len(scenes):
        raise RuntimeError(f"the file has {len(pages)} pages for {len(scenes)} sheets")
    changed = [
        (number, _boxed(file.body(number), scene)) for number, scene in zip(pages, scenes, strict=True)
    ]
    return data + _update(file, sorted((n, body) for n, body in changed if body != file.body(n)))


def _opened(data: bytes) -> _File:
    start = int(data[data.rindex(b"startxref") + 9 :].split()[0])
    table = re.match(rb"xref\s+0 (\d+)\s+", data[start:])
    if table is None:
        raise ValueError("no plain table")
    first, count = start + table.end(), int(table[1])
    rows = [data[first + 20 * n : first + 20 * (n + 1)] for n in range(count)]
    offsets = {n: int(row[:10]) for n, row in enumerate(rows) if row[17:18] == b"n"}
    end = data.index(b"startxref", first)
    return _File(data, offsets, data[data.index(b"trailer", first) + 7 : end].strip(), start)


def _reference(body: bytes, key: bytes) -> int:
    found = re.search(rb"/" + key + rb"\s+(\d+) 0 R", body)
    if found is None:
        raise ValueError(f"no {key!r}")
    return int(found[1])


def _pages(file: _File, number: int) -> Iterator[int]:
    """Go through the tree of pages in order."""
    body = file.body(number)
    kids = re.search(rb"/Kids\s*\[([^\]]*)\]", body)
    if kids is None:
        yield number
        return
    for kid in re.findall(rb"(\d+) 0 R", kids[1]):
        yield from _pages(file, int(kid))


def _boxed(body: bytes, scene: Scene) -> bytes:
    """A page's dictionary with the boxes of its scene in it; up is plus in a PDF."""
    if scene.trim is None:
        return body
    body = re.sub(rb"/(?:TrimBox|BleedBox)\s*\[[^\]]*\]", b"", body)
    named = ((b"BleedBox", scene.bleed or scene.trim), (b"TrimBox", scene.trim))
    added = b"".join(b"/%s[%s]" % (name, _corners(box, scene.height)) for name, box in named)
    return body[: body.rindex(b">>")] + added + b">>"


def _corners(box: Box, height: float) -> bytes:
    corners = (box.left, height - box.bottom, box.right, height - box.top)
    return " ".join(f"{corner * _POINT:.4f}".rstrip("0").rstrip(".") for corner in corners).encode()


def _update(file: _File, changed: Sequence[tuple[int, bytes]]) -> bytes:
    """The objects once more, their table, and a trailer that leads to the table before."""
    parts: list[bytes] = [] if file.data.endswith(b"\n") else [b"\n"]
    rows: list[bytes] = [b"0 1\n0000000000 65535 f \n"]
    for number, body in changed:
        at = len(file.data) + sum(map(len, parts))
        rows.append(b"%d 1\n%010d 00000 n \n" % (number, at))
        parts.append(b"%d 0 obj\n%s\nendobj\n" % (number, body))
    table = len(file.data) + sum(map(len, parts))
    trailer = file.trailer[: file.trailer.rindex(b">>")] + b"/Prev %d>>" % file.start
    return b"".join([*parts, b"xref\n", *rows, b"trailer\n", trailer, b"\nstartxref\n%d\n%%%%EOF\n" % table])
