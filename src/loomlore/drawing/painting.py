"""Painters: a scene as SVG (outlined, or live for the browser), PNG and PDF.

Invariants
----------
* Same scene, same bytes: numbers are rounded to 1/1000 mm, nothing depends on the clock or on a hash.
* No ``style`` attribute anywhere; the live variant carries no ``<style>`` either, since a strict content
  security policy forbids both: the page serves ``looks.stylesheet`` as a file.
* An outlined SVG needs no font; a missing face can therefore never drop words without notice.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape
from typing import Literal

from loomlore.drawing.looks import LETTERINGS, Lettering, Theme, stylesheet
from loomlore.drawing.painting_boxes import with_boxes
from loomlore.drawing.painting_short import drawn_together, short_number, short_shape
from loomlore.drawing.scene import Circle, Group, Item, Line, Path, Rectangle, Scene, Text
from loomlore.drawing.typefaces import FILES, font_file, glyph_outline, text_width, typeface

__all__ = ["Words", "face_rules", "lettering", "write_pdf", "write_png", "write_svg"]

Words = Literal["outlined", "text", "live"]


def write_svg(scene: Scene, *, words: Words = "outlined", theme: Theme = "paper") -> str:
    """Write a scene as SVG.

    Parameters
    ----------
    scene : Scene
        The sheet.
    words : str
        ``outlined``: letters as shapes, for any viewer; ``text``: letters as text, with a style sheet inside;
        ``live``: for the browser, classes only, every state present.
    theme : str
        ``paper`` or ``dark``.

    Returns
    -------
    str
        The SVG document.
    """
    sheet = _Sheet(words=words)
    body = sheet.items(scene.items, state="")
    style = "" if words == "live" else f"<style>{stylesheet(theme)}</style>"
    glyphs = "".join(sheet.glyphs.values())
    size = "" if words == "live" else f' width="{_n(scene.width)}mm" height="{_n(scene.height)}mm"'
    view = f'viewBox="0 0 {_n(scene.width)} {_n(scene.height)}" role="img" class="plate"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{size} {view}>'
        f"<title>{escape(scene.title)}</title><desc>{escape(scene.description)}</desc>"
        f"{style}{f'<defs>{glyphs}</defs>' if glyphs or words != 'live' else ''}{body}</svg>\n"
    )


def write_png(scene: Scene, *, dots_per_inch: float = 150.0, theme: Theme = "paper") -> bytes:
    """Write a scene as PNG.

    Parameters
    ----------
    scene : Scene
        The sheet.
    dots_per_inch : float
        Resolution on the sheet's own size [1/in].
    theme : str
        ``paper`` or ``dark``.

    Returns
    -------
    bytes
        The PNG file.
    """
    import resvg_py

    svg = write_svg(scene, words="outlined", theme=theme)
    width = round(scene.width / 25.4 * dots_per_inch)
    # Without dpi the renderer cannot read a size given in millimetres.
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, width=width, dpi=96.0, skip_system_fonts=True))


def write_pdf(scenes: Iterable[Scene], *, title: str, theme: Theme = "paper") -> bytes:
    """Write scenes as the pages of one PDF.

    Each page has its scene's size, its words can be searched, its drawing is described; one made ready for a
    printer says where it is trimmed and how far it bleeds.

    Parameters
    ----------
    scenes : iterable of Scene
        One a page.
    title : str
        The document's title.
    theme : str
        ``paper`` or ``dark``.

    Returns
    -------
    bytes
        The PDF file; the same bytes for the same scenes.
    """
    import typst

    pages = list(scenes)
    inputs = {"title": title, "count": str(len(pages))}
    for number, scene in enumerate(pages):
        inputs[f"picture-{number}"] = write_svg(scene, words="text", theme=theme)
        inputs[f"width-{number}"], inputs[f"height-{number}"] = _n(scene.width), _n(scene.height)
        inputs[f"alt-{number}"] = f"{scene.title}. {scene.description}"
    folders = sorted({str(font_file(face).parent) for face in FILES})
    made, warnings = typst.compile_with_warnings(  # type: ignore[misc]  # the stub leaves Input open
        _BOOK.encode(), sys_inputs=inputs, font_paths=folders, ignore_system_fonts=True, timestamp=0
    )
    if warnings:
        raise RuntimeError(f"the typesetter warned: {[str(warning) for warning in warnings]}")
    return with_boxes(bytes(made), pages)


# The pictures and words come in as data, never as markup.
_BOOK = """
#set document(title: sys.inputs.title, date: none)
#for number in range(int(sys.inputs.count)).map(str) {
  let size(side) = float(sys.inputs.at(side + "-" + number)) * 1mm
  page(
    width: size("width"), height: size("height"), margin: 0pt,
    image(
      bytes(sys.inputs.at("picture-" + number)), format: "svg",
      width: size("width"), height: size("height"), alt: sys.inputs.at("alt-" + number),
    ),
  )
}
"""


def face_rules(address: str) -> str:
    """Write the ``@font-face`` rules of a page that serves the faces itself.

    Parameters
    ----------
    address : str
        Path under which the page serves the faces' files by name.

    Returns
    -------
    str
        CSS.
    """
    rules = []
    for face in FILES:
        family, _, variant = face.partition("-")
        name = {"sans": "Source Sans Pro", "serif": "Source Serif Pro"}[family]
        weight = {"semibold": 600, "bold": 700}.get(variant, 400)
        slant = "italic" if variant == "italic" else "normal"
        file = f"{address}/{font_file(face).name}"
        rules.append(
            f"@font-face{{font-family:'{name}';font-weight:{weight};font-style:{slant};src:url('{file}')}}"
        )
    return "\n".join(rules) + "\n"


@dataclass
class _Sheet:
    """What one writing of an SVG collects: the outlines used so far."""

    words: Words
    glyphs: dict[tuple[str, int], str] = field(default_factory=dict)

    def items(self, items: Iterable[Item], *, state: str) -> str:
        seen = (item for item in items if self._seen(item, state))
        return "".join(map(self.item, drawn_together(seen) if self.words == "live" else seen))

    def _seen(self, item: Item, state: str) -> bool:
        return self.words == "live" or not item.only or item.only == state

    def item(self, item: Item) -> str:
        if isinstance(item, Group):
            return self.group(item)
        if isinstance(item, Text):
            return self.outlined(item) if self.words == "outlined" else _text(item, live=self.words == "live")
        return short_shape(item) if self.words == "live" else _shape(item)

    def group(self, group: Group) -> str:
        classes = " ".join(
            part for part in (group.role, group.state and f"state-{group.state}", _only(group)) if part
        )
        marks = f' class="{escape(classes)}"' if classes else ""
        if group.role and group.name:
            marks += f' data-{group.role}="{escape(group.name)}"'
        if group.shift != (0.0, 0.0) or group.scale != 1.0:
            grow = f" scale({_n(group.scale)})" if group.scale != 1.0 else ""
            number = short_number if self.words == "live" else _n
            marks += f' transform="translate({number(group.shift[0])} {number(group.shift[1])}){grow}"'
        title = f"<title>{escape(group.title)}</title>" if group.title else ""
        items = self.items(group.items, state=group.state)
        if self.words == "live" and not (items or title or group.name):
            return ""
        inside = f"<g{marks}>{title}{items}</g>"
        return f'<a href="{escape(group.link)}">{inside}</a>' if group.link else inside

    def outlined(self, text: Text) -> str:
        look = lettering(text.look)
        font = typeface(look.face)
        scale = look.size / font.units
        shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
        at = -shift * text_width(text.words, face=look.face, size=look.size, spacing=look.spacing) / scale
        letters = []
        for letter in text.words:
            glyph = font.glyph(letter)
            if glyph_outline(look.face, glyph):
                letters.append(f'<use href="#{self.outline(look.face, glyph)}" x="{_n(at, 0)}"/>')
            at += font.advance(glyph) + look.spacing * font.units
        turn = f" rotate({_n(-text.turned)})" if text.turned else ""
        place = f"translate({_n(text.at[0])} {_n(text.at[1])}){turn} scale({scale:.6f})"
        said = escape(text.words, quote=True)
        return (
            f'<g class="{escape(text.look)}" aria-label="{said}" transform="{place}">{"".join(letters)}</g>'
        )

    def outline(self, face: str, glyph: int) -> str:
        name = f"{face}-{glyph}"
        if (face, glyph) not in self.glyphs:
            path = "".join(
                command + " ".join(_n(-v if place % 2 else v, 0) for place, v in enumerate(values))
                for command, values in glyph_outline(face, glyph)
            )
            self.glyphs[face, glyph] = f'<path id="{name}" d="{path}"/>'
        return name


def lettering(look: str) -> Lettering:
    """Return how a text item's words are set.

    Parameters
    ----------
    look : str
        Its classes; the first that is a lettering counts.

    Returns
    -------
    Lettering
        Face, size [mm], colour and spacing.
    """
    return next(LETTERINGS[part] for part in look.split() if part in LETTERINGS)


def _text(text: Text, *, live: bool) -> str:
    number = short_number if live else _n
    at = f"{number(text.at[0])} {number(text.at[1])}"
    turn = f' transform="rotate({_n(-text.turned)} {at})"' if text.turned else ""
    anchor = f' text-anchor="{text.anchor}"' if text.anchor != "start" else ""
    where = f'x="{number(text.at[0])}" y="{number(text.at[1])}"'
    if live and turn:
        where, turn = f'transform="translate({at})rotate({_n(-text.turned)})"', ""
    return f"<text {where}{_class(text)}{anchor}{turn}>{escape(text.words)}</text>"


def _shape(item: Line | Circle | Rectangle | Path) -> str:
    if isinstance(item, Line):
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in item.points)
        return f'<polyline points="{points}"{_class(item)}/>'
    if isinstance(item, Circle):
        x, y = item.centre
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(item.radius)}"{_class(item)}/>'
    if isinstance(item, Rectangle):
        x, y = item.corner
        rounded = f' rx="{_n(item.rounded)}"' if item.rounded else ""
        size = f'width="{_n(item.width)}" height="{_n(item.height)}"'
        return f'<rect x="{_n(x)}" y="{_n(y)}" {size}{rounded}{_class(item)}/>'
    return f'<path d="{"".join(_command(c, v) for c, v in item.commands)}"{_class(item)}/>'


def _command(command: str, values: tuple[float, ...]) -> str:
    if command == "A":
        radius, sweep, x, y = values
        return f"A{_n(radius)} {_n(radius)} 0 0 {int(sweep)} {_n(x)} {_n(y)}"
    return command + " ".join(_n(value) for value in values)


def _class(item: Item) -> str:
    look = "" if isinstance(item, Group) else item.look
    return f' class="{escape(" ".join(part for part in (look, _only(item)) if part))}"'


def _only(item: Item) -> str:
    return f"only-{item.only}" if item.only else ""


def _n(value: float, places: int = 3) -> str:
    text = f"{value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
