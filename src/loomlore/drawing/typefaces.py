"""The two type families of a plate, measured and outlined from the font packages.

Method: a small reader of TrueType tables (``head``, ``maxp``, ``hhea``, ``hmtx``, ``cmap`` 4, ``loca``,
``glyf``), enough for width and outline; no shaping and no kerning, so that a measured width is never narrower
than what is set. Source: the table layouts of the OpenType specification, read against fonttools in the
tests.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import import_module
from pathlib import Path
from typing import Literal

__all__ = [
    "FILES",
    "Face",
    "Typeface",
    "balanced",
    "font_file",
    "glyph_outline",
    "text_width",
    "typeface",
    "wrapped",
]

Face = Literal["sans", "sans-semibold", "sans-bold", "sans-italic", "serif", "serif-italic", "serif-semibold"]

FILES: dict[str, tuple[str, str]] = {
    "sans": ("font_source_sans_pro", "SourceSansPro-Regular.ttf"),
    "sans-semibold": ("font_source_sans_pro", "SourceSansPro-Semibold.ttf"),
    "sans-bold": ("font_source_sans_pro", "SourceSansPro-Bold.ttf"),
    "sans-italic": ("font_source_sans_pro", "SourceSansPro-It.ttf"),
    "serif": ("font_source_serif_pro", "SourceSerifPro-Regular.ttf"),
    "serif-italic": ("font_source_serif_pro", "SourceSerifPro-It.ttf"),
    "serif-semibold": ("font_source_serif_pro", "SourceSerifPro-Semibold.ttf"),
}

# What stands in for a character that the face lacks; chosen so that meaning survives.
_SPARE = {"\u2009": " ", "\u202f": " ", "\u2011": "-", "\u03a9": "\u2126", "\u2126": "\u03a9"}

Outline = tuple[tuple[str, tuple[float, ...]], ...]


def font_file(face: str) -> Path:
    """Return where a face lies on disk.

    Parameters
    ----------
    face : str
        One of the keys of ``FILES``.

    Returns
    -------
    Path
        The TrueType file inside its font package.
    """
    package, file = FILES[face]
    found = import_module(package).__file__
    if found is None:
        raise FileNotFoundError(f"the font package {package} has no folder")
    return Path(found).parent / "files" / file


@dataclass(frozen=True)
class Typeface:
    """One face: its tables, its map from characters to glyphs, its widths [font units]."""

    data: bytes
    tables: dict[str, int]
    units: int
    glyphs: dict[int, int]
    advances: tuple[int, ...]
    places: tuple[int, ...]

    def glyph(self, character: str) -> int:
        """Return the glyph of a character, of its stand-in, or of the missing character."""
        found = self.glyphs.get(ord(character))
        if found is None and character in _SPARE:
            found = self.glyphs.get(ord(_SPARE[character]))
        return found or 0

    def advance(self, glyph: int) -> int:
        """Return how far a glyph moves on [font units]."""
        return self.advances[min(glyph, len(self.advances) - 1)]


@cache
def typeface(face: str) -> Typeface:
    """Read a face once.

    Parameters
    ----------
    face : str
        One of the keys of ``FILES``.

    Returns
    -------
    Typeface
        Ready to measure and to outline.

    Source
    ------
    OpenType specification, tables head, maxp, hhea, hmtx, cmap, loca.
    """
    data = font_file(face).read_bytes()
    tables = _tables(data)
    units: int = struct.unpack_from(">H", data, tables["head"] + 18)[0]
    long_places: int = struct.unpack_from(">h", data, tables["head"] + 50)[0]
    count: int = struct.unpack_from(">H", data, tables["maxp"] + 4)[0]
    metrics: int = struct.unpack_from(">H", data, tables["hhea"] + 34)[0]
    advances = tuple(struct.unpack_from(">H", data, tables["hmtx"] + 4 * n)[0] for n in range(metrics))
    form = f">{count + 1}{'I' if long_places else 'H'}"
    places = tuple(p if long_places else 2 * p for p in struct.unpack_from(form, data, tables["loca"]))
    return Typeface(data, tables, units, _character_map(data, tables["cmap"]), advances, places)


def _tables(data: bytes) -> dict[str, int]:
    count = struct.unpack_from(">H", data, 4)[0]
    rows = (struct.unpack_from(">4sIII", data, 12 + 16 * n) for n in range(count))
    return {tag.decode("ascii"): start for tag, _, start, _ in rows}


def _character_map(data: bytes, start: int) -> dict[int, int]:
    count = struct.unpack_from(">H", data, start + 2)[0]
    for n in range(count):
        platform, encoding, offset = struct.unpack_from(">HHI", data, start + 4 + 8 * n)
        if (platform, encoding) == (3, 1):
            return dict(_segments(data, start + offset))
    raise ValueError("the face has no Unicode character map of format 4")


def _segments(data: bytes, start: int) -> Iterator[tuple[int, int]]:
    count = struct.unpack_from(">H", data, start + 6)[0] // 2
    ends, starts = start + 14, start + 16 + 2 * count
    for n in range(count):
        last = struct.unpack_from(">H", data, ends + 2 * n)[0]
        first = struct.unpack_from(">H", data, starts + 2 * n)[0]
        delta = struct.unpack_from(">H", data, starts + 2 * count + 2 * n)[0]
        at = starts + 4 * count + 2 * n
        reach = struct.unpack_from(">H", data, at)[0]
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if reach:
                glyph = struct.unpack_from(">H", data, at + reach + 2 * (code - first))[0]
            if glyph:
                yield code, (glyph + delta) & 0xFFFF


@lru_cache(maxsize=20_000)
def text_width(words: str, *, face: str, size: float, spacing: float = 0.0) -> float:
    """Measure a line of words.

    Parameters
    ----------
    words : str
        The line.
    face : str
        One of the keys of ``FILES``.
    size : float
        Type size [mm].
    spacing : float
        Extra space after each letter, as a share of the size [1].

    Returns
    -------
    float
        Width [mm], without kerning.
    """
    font = typeface(face)
    units = sum(font.advance(font.glyph(letter)) for letter in words)
    return size * (units / font.units + spacing * len(words))


@lru_cache(maxsize=20_000)
def wrapped(words: str, *, face: str, size: float, width: float) -> tuple[str, ...]:
    """Break words into lines no wider than asked, where blanks allow it.

    Parameters
    ----------
    words : str
        The words; a newline forces a break.
    face : str
        One of the keys of ``FILES``.
    size : float
        Type size [mm].
    width : float
        Greatest width [mm].

    Returns
    -------
    tuple of str
        The lines.
    """
    lines: list[str] = []
    blank = text_width(" ", face=face, size=size)
    for paragraph in words.split("\n"):
        line, used = "", 0.0
        for word in _glued(paragraph.split()):
            # Without kerning widths add up: a word is measured once, not with every line it might end.
            wide = text_width(word, face=face, size=size)
            if line and used + blank + wide > width + 1e-9:
                lines.append(line)
                line = ""
            line, used = (f"{line} {word}", used + blank + wide) if line else (word, wide)
        lines.append(line)
    return tuple(lines)


def balanced(words: str, *, face: str, size: float, width: float) -> tuple[str, ...]:
    """Break words into as few lines as ``wrapped`` would, as even as may be.

    Parameters
    ----------
    words : str
        The words.
    face : str
        One of the keys of ``FILES``.
    size : float
        Type size [mm].
    width : float
        Greatest width [mm].

    Returns
    -------
    tuple of str
        The lines; none holds a short word alone that the line before could give company.
    """
    lines = wrapped(words, face=face, size=size, width=width)
    narrower = width
    while len(lines) > 1:
        narrower *= 0.96
        tried = wrapped(words, face=face, size=size, width=narrower)
        if len(tried) > len(lines) or any(text_width(one, face=face, size=size) > narrower for one in tried):
            break
        lines = tried
    return lines


def _glued(words: list[str]) -> list[str]:
    """Keep a number or a letter with the word before it: no line holds a "2" alone."""
    found: list[str] = []
    for word in words:
        if found and len(word) <= 2 and (word[0].isdigit() or len(word) == 1 or word in ("V", "W", "A")):
            found[-1] = f"{found[-1]} {word}"
        else:
            found.append(word)
    return found


@lru_cache(maxsize=4_000)
def glyph_outline(face: str, glyph: int) -> Outline:
    """Return the outline of a glyph as path commands M, L, Q, Z [font units, y upwards].

    Parameters
    ----------
    face : str
        One of the keys of ``FILES``.
    glyph : int
        Its number in the face.

    Returns
    -------
    tuple of command and values
        Empty for a blank.

    Source
    ------
    OpenType specification, table glyf.
    """
    font = typeface(face)
    return tuple(command for contour in _contours(font, glyph) for command in _contour_path(contour))


_Contour = list[tuple[float, float, bool]]


def _contours(font: Typeface, glyph: int) -> list[_Contour]:
    start, end = font.places[glyph], font.places[glyph + 1]
    if start == end:
        return []
    at = font.tables["glyf"] + start
    count = struct.unpack_from(">h", font.data, at)[0]
    if count < 0:
        return _composite(font, at + 10)
    return _simple(font.data, at + 10, count)


def _simple(data: bytes, at: int, count: int) -> list[_Contour]:
    ends = struct.unpack_from(f">{count}H", data, at)
    at += 2 * count
    at += 2 + struct.unpack_from(">H", data, at)[0]
    flags: list[int] = []
    while len(flags) <= ends[-1]:
        flag = data[at]
        at += 1
        flags.append(flag)
        if flag & 8:
            flags.extend([flag] * data[at])
            at += 1
    xs, at = _coordinates(data, at, flags, short=2, same=16)
    ys, at = _coordinates(data, at, flags, short=4, same=32)
    points = [(float(x), float(y), bool(f & 1)) for x, y, f in zip(xs, ys, flags, strict=True)]
    firsts = [0, *(end + 1 for end in ends[:-1])]
    return [points[first : end + 1] for first, end in zip(firsts, ends, strict=True)]


def _coordinates(data: bytes, at: int, flags: list[int], *, short: int, same: int) -> tuple[list[int], int]:
    values, here = [], 0
    for flag in flags:
        if flag & short:
            here += data[at] if flag & same else -data[at]
            at += 1
        elif not flag & same:
            here += struct.unpack_from(">h", data, at)[0]
            at += 2
        values.append(here)
    return values, at


def _composite(font: Typeface, at: int) -> list[_Contour]:
    found: list[_Contour] = []
    more = True
    while more:
        flags, glyph = struct.unpack_from(">HH", font.data, at)
        dx, dy = struct.unpack_from(">hh" if flags & 1 else ">bb", font.data, at + 4)
        at += 8 if flags & 1 else 6
        # Scaled parts (0x08, 0x40, 0x80) do not occur in these faces' Latin letters; step over them unscaled.
        at += 2 if flags & 0x08 else 4 if flags & 0x40 else 8 if flags & 0x80 else 0
        found += [[(x + dx, y + dy, on) for x, y, on in contour] for contour in _contours(font, glyph)]
        more = bool(flags & 0x20)
    return found


def _contour_path(contour: _Contour) -> Iterator[tuple[str, tuple[float, ...]]]:
    points = _with_middles(contour)
    start = next(n for n, point in enumerate(points) if point[2])
    ring = points[start:] + points[: start + 1]
    yield "M", ring[0][:2]
    n = 1
    while n < len(ring):
        if ring[n][2]:
            yield "L", ring[n][:2]
            n += 1
        else:
            yield "Q", (*ring[n][:2], *ring[n + 1][:2])
            n += 2
    yield "Z", ()


def _with_middles(contour: _Contour) -> _Contour:
    """Put in the points that TrueType leaves out: the middle of two neighbouring off-curve points."""
    full: _Contour = []
    for here, after in zip(contour, contour[1:] + contour[:1], strict=True):
        full.append(here)
        if not here[2] and not after[2]:
            full.append(((here[0] + after[0]) / 2, (here[1] + after[1]) / 2, True))
    return full
