"""One table of visual codes: what each class of a scene looks like, on paper and in the dark.

Hue and letter are the role of a conductor (or, where asked, its service or its cover's colour: ``paints``),
width is amperes, thin grey is dead, a dash is conjecture (a double line between a lever and its switches is
linkage), a casing is legibility only. ``paints.visual_codes`` is the table; the documents repeat it, and a
test holds the two together.

Source: hues are Okabe-Ito's (vermilion, blue, bluish green) and Tol's bright purple; the letter beside each
is the second mark for a copy in black and white. Least contrast on the paper is 3:1 for a line (WCAG 2,
1.4.11), checked in the tests.
"""

from dataclasses import dataclass
from typing import Literal

__all__ = [
    "COLOURS",
    "COVERS",
    "LEAST_LINE",
    "LEAST_TYPE",
    "LETTERINGS",
    "ROLES",
    "SERVICE_HUES",
    "STROKES",
    "Lettering",
    "Stroke",
    "Theme",
    "stylesheet",
    "width_class",
]

Theme = Literal["paper", "dark"]

# 6.5 pt, the least that reads in print on the sheet's own size.
LEAST_TYPE = 6.5 * 25.4 / 72
LEAST_LINE = 0.2  # what a press holds [mm]; common practice, no source

COLOURS: dict[str, dict[Theme, str]] = {
    "paper": {"paper": "#f7f1e1", "dark": "#14202e"},
    "tint": {"paper": "#efe7d0", "dark": "#1d2c3d"},
    "ink": {"paper": "#24211c", "dark": "#e9e2d0"},
    "soft": {"paper": "#655e50", "dark": "#a9a694"},
    "hair": {"paper": "#9b917b", "dark": "#5d6c7c"},
    "battery": {"paper": "#aa3377", "dark": "#dd88b4"},
    "fused": {"paper": "#d55e00", "dark": "#ff9a4d"},
    "switched": {"paper": "#0072b2", "dark": "#6cb8ea"},
    "generated": {"paper": "#00865f", "dark": "#43c79f"},
    "return": {"paper": "#24211c", "dark": "#d8d2c0"},
    "never": {"paper": "#7d7768", "dark": "#8a94a0"},
    "glass-red": {"paper": "#f2c9c2", "dark": "#5a2f33"},
    "glass-green": {"paper": "#cfe5d3", "dark": "#234a3a"},
    "glass-amber": {"paper": "#f6dfae", "dark": "#5a4620"},
    "glass-blue": {"paper": "#cddfee", "dark": "#24425e"},
    "glass-white": {"paper": "#fffdf6", "dark": "#33414f"},
    "glow": {"paper": "#ffd75e", "dark": "#ffdc73"},
    "lit-red": {"paper": "#ff7e66", "dark": "#ff6f5c"},
    "lit-green": {"paper": "#6fdc84", "dark": "#5fe38a"},
    "lit-amber": {"paper": "#ffb938", "dark": "#ffbf47"},
    "lit-blue": {"paper": "#6fb4ff", "dark": "#74baff"},
    "lit-white": {"paper": "#ffe27a", "dark": "#fff0b0"},
    "alarm": {"paper": "#b3261e", "dark": "#ff8a80"},
    "path": {"paper": "#f6d67c", "dark": "#5f4d1a"},
    "alarm-band": {"paper": "#f3bfb5", "dark": "#6b2b2b"},
}

# By service: Okabe and Ito's and Tol's hues again (Tol's muted indigo), and an olive of our own.
SERVICE_HUES: tuple[dict[Theme, str], ...] = (
    {"paper": "#0072b2", "dark": "#6cb8ea"},
    {"paper": "#d55e00", "dark": "#ff9a4d"},
    {"paper": "#00865f", "dark": "#43c79f"},
    {"paper": "#aa3377", "dark": "#dd88b4"},
    {"paper": "#332288", "dark": "#a79af0"},
    {"paper": "#7a6a00", "dark": "#cdbb3c"},
)

# A cable's own cover. Edged with ink, so that the pale ones read; IEC 60757 letters are the second mark.
COVERS: dict[str, dict[Theme, str]] = {
    "black": {"paper": "#24211c", "dark": "#0b0f14"},
    "brown": {"paper": "#7b4a21", "dark": "#9a6233"},
    "red": {"paper": "#c0281e", "dark": "#e0493d"},
    "orange": {"paper": "#e8862a", "dark": "#f09a48"},
    "yellow": {"paper": "#f5d000", "dark": "#f5d93b"},
    "green": {"paper": "#1f8a42", "dark": "#38ab5f"},
    "blue": {"paper": "#1560b0", "dark": "#3c8be0"},
    "violet": {"paper": "#6a3d9a", "dark": "#9468c8"},
    "grey": {"paper": "#8a8578", "dark": "#a29d90"},
    "white": {"paper": "#fffdf6", "dark": "#f6f2e6"},
    "pink": {"paper": "#f2a6b8", "dark": "#f2a6b8"},
    "gold": {"paper": "#c9a227", "dark": "#c9a227"},
    "turquoise": {"paper": "#35b6b4", "dark": "#35b6b4"},
    "silver": {"paper": "#c8ccd0", "dark": "#c8ccd0"},
    "bare": {"paper": "#a5622a", "dark": "#cf8a4f"},
    "unknown": {"paper": "#7d7768", "dark": "#8a94a0"},
}
COLOURS |= {f"service-{n}": hues for n, hues in enumerate(SERVICE_HUES)}
COLOURS |= {f"cover-{name}": hues for name, hues in COVERS.items()}


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line, an outline or an area is drawn; widths and dashes in millimetres."""

    stroke: str = ""
    width: float = 0.0
    fill: str = ""
    dash: tuple[float, ...] = ()
    cap: Literal["butt", "round"] = "butt"


@dataclass(frozen=True, slots=True)
class Lettering:
    """How words are set: face, size [mm], colour, space between letters [em]."""

    face: str
    size: float
    colour: str = "ink"
    spacing: float = 0.0


# Later rows win over earlier ones, as in a style sheet.
STROKES: dict[str, Stroke] = {
    "ground": Stroke(fill="paper"),
    "panel": Stroke(fill="tint"),
    "rule": Stroke("ink", 0.7, "none"),
    "fine-rule": Stroke("ink", 0.2, "none"),
    "ink": Stroke("ink", 0.35, "none", cap="round"),
    "thick": Stroke("ink", 0.8, "none"),
    "thin": Stroke("ink", 0.2, "none", cap="round"),
    "body": Stroke("ink", 0.35, "tint"),
    "solid": Stroke("ink", 0.2, "ink"),
    "blade": Stroke("ink", 0.5, "none", cap="round"),
    "knot": Stroke("paper", 0.25, "ink"),
    "ring": Stroke("ink", 0.3, "paper"),
    "linkage": Stroke("soft", 0.2, "none"),
    "envelope": Stroke("soft", 0.2, "none"),
    "craft": Stroke("ink", 0.4, "tint"),
    "craft-line": Stroke("ink", 0.3, "none", cap="round"),
    "route": Stroke("hair", 0.25, "none"),
    "leader": Stroke("ink", 0.2, "none"),
    "hair-rule": Stroke("hair", 0.2, "none"),
    "glass": Stroke("ink", 0.35, "glass-white"),
    "glass-red": Stroke(fill="glass-red"),
    "glass-green": Stroke(fill="glass-green"),
    "glass-amber": Stroke(fill="glass-amber"),
    "glass-blue": Stroke(fill="glass-blue"),
    "tag": Stroke("ink", 0.3, "tint"),
    "casing": Stroke("paper", 1.7, "none"),
    "wire": Stroke("ink", 0.55, "none"),
    "amperes-1": Stroke(width=0.45),
    "amperes-2": Stroke(width=0.6),
    "amperes-3": Stroke(width=0.8),
    "amperes-4": Stroke(width=1.1),
    "amperes-5": Stroke(width=1.5),
    "role-battery": Stroke("battery"),
    "role-fused": Stroke("fused"),
    "role-switched": Stroke("switched"),
    "role-generated": Stroke("generated"),
    "role-return": Stroke("return", 0.4),
    "role-never": Stroke("never", 0.3),
    "role-recorded": Stroke("hair", 0.9),
    **{f"service-{n}": Stroke(f"service-{n}") for n in range(len(SERVICE_HUES))},
    **{f"cover-{name}": Stroke(f"cover-{name}") for name in COVERS},
    "cover-unknown": Stroke("cover-unknown", 0.3),
    # The ink that shows on either side of a cover's colour, by class of width.
    **{
        f"edge-{n}": Stroke("ink", round(width + 0.4, 2), "none")
        for n, width in enumerate((0.45, 0.6, 0.8, 1.1, 1.5), 1)
    },
    "tracer": Stroke(width=0.25, fill="none"),
    "fault-band": Stroke("alarm-band", 3.2, "none", cap="round"),
    "fault-frame": Stroke("alarm", 0.6, "none"),
    "fault-ring": Stroke("alarm", 0.5, "paper"),
    "fault-cross": Stroke("alarm", 0.5, "none", cap="round"),
    "fault-tag": Stroke("alarm", 0.5, "paper"),
    # A path: a light band with dark edges under its conductors, so that it reads without its hue.
    "path-edge": Stroke("ink", 2.4, "none", cap="round"),
    "path-band": Stroke("path", 1.9, "none", cap="round"),
    "path-halo": Stroke("ink", 0.25, "path"),
    "path-arrow": Stroke("ink", 0.45, "none", cap="round"),
    "path-ring": Stroke("ink", 0.35, "paper"),
    "path-tag": Stroke("ink", 0.35, "path"),
    "dead": Stroke("hair", 0.25),
    "conjectural": Stroke(dash=(2.2, 1.1)),
    "lit-red": Stroke(fill="lit-red"),
    "lit-green": Stroke(fill="lit-green"),
    "lit-amber": Stroke(fill="lit-amber"),
    "lit-blue": Stroke(fill="lit-blue"),
    "lit-white": Stroke(fill="lit-white"),
}

LETTERINGS: dict[str, Lettering] = {
    "t-title": Lettering("serif-semibold", 6.6, spacing=0.09),
    "t-subtitle": Lettering("serif-italic", 3.6, "ink"),
    "t-plate": Lettering("serif-semibold", 5.0, spacing=0.07),
    "t-head": Lettering("sans-bold", 2.7, spacing=0.12),
    "t-note": Lettering("serif", 2.9),
    "t-note-italic": Lettering("serif-italic", 2.9, "soft"),
    "t-key": Lettering("sans", 2.8),
    "t-verdict": Lettering("sans-bold", 2.8),
    "t-fine": Lettering("sans", 2.35, "soft"),
    "t-name": Lettering("sans-semibold", 2.65),
    "t-rating": Lettering("serif-italic", 2.4, "soft"),
    "t-terminal": Lettering("sans", 2.3, "soft"),
    "t-mark": Lettering("sans", 2.35, "ink"),
    "t-symbol": Lettering("sans-semibold", 3.0),
    "t-symbol-small": Lettering("sans-semibold", 2.35),
    "t-tag": Lettering("sans-semibold", 2.35),
    "t-amperes": Lettering("sans-bold", 2.35),
    "t-fault": Lettering("sans-bold", 2.8, "alarm"),
}

# The letter that stands for the role where a copy has lost its colour, and the words of the key.
ROLES: dict[str, tuple[str, str]] = {
    "battery": ("B", "always live from the battery"),
    "fused": ("F", "live through a fuse"),
    "switched": ("S", "live when switched"),
    "generated": ("G", "live only from generator, magneto or ground supply"),
    "return": ("", "return to the airframe"),
    "never": ("N", "never live in any setting"),
    "recorded": ("", "coaxial, aerial or tube: recorded, not solved"),
}

# What the live view changes; classes are put on groups by the page, never a style.
_LIVE_RULES = (
    (".is-dead .wire", "stroke:{hair};stroke-width:.25px"),
    (".is-lit .glass,.is-over-run .glass", "fill:{lit-white}"),
    (".is-lit .glass-red,.is-over-run .glass-red", "fill:{lit-red}"),
    (".is-lit .glass-green,.is-over-run .glass-green", "fill:{lit-green}"),
    (".is-lit .glass-amber,.is-over-run .glass-amber", "fill:{lit-amber}"),
    (".is-lit .glass-blue,.is-over-run .glass-blue", "fill:{lit-blue}"),
    (".is-glimmering .glass", "fill:{glass-amber}"),
    (".is-picked .casing", "stroke:{glow};stroke-width:3px"),
    (".is-picked .body,.is-picked .glass", "stroke-width:.8px"),
)


_MOST_THROWS = 8


def width_class(amperes: float | None) -> str:
    """Return the class of a conductor's width.

    Parameters
    ----------
    amperes : float or None
        What the conductor carries or is fused at [A]; None where nobody knows.

    Returns
    -------
    str
        One of ``amperes-1`` (to 3 A), ``-2`` (to 12 A), ``-3`` (to 30 A), ``-4`` (to 100 A), ``-5``.
    """
    if amperes is None:
        return "amperes-2"
    return f"amperes-{1 + sum(amperes > step for step in (3.0, 12.0, 30.0, 100.0))}"


def stylesheet(theme: Theme = "paper", *, live: bool = False) -> str:
    """Write the style sheet of a scene's classes.

    Parameters
    ----------
    theme : str
        ``paper`` or ``dark``.
    live : bool
        With the rules of the browser's live view: states shown by class, nothing inline.

    Returns
    -------
    str
        CSS.
    """
    rules = [f".{name}{{{_stroke_rule(look, theme)}}}" for name, look in STROKES.items()]
    rules += [f".{name}{{{_text_rule(look, theme)}}}" for name, look in LETTERINGS.items()]
    if live:
        hues = {name: shades[theme] for name, shades in COLOURS.items()}
        rules += [f"{where}{{{what.format(**hues)}}}" for where, what in _LIVE_RULES]
        states = ["open", "shut", "at-none", *(f"at-{n}" for n in range(_MOST_THROWS))]
        rules += [f".state-{a} > .only-{b}{{display:none}}" for a in states for b in states if a != b]
    return "\n".join(rules) + "\n"


def _stroke_rule(look: Stroke, theme: Theme) -> str:
    parts = []
    if look.fill:
        parts.append(f"fill:{_hue(look.fill, theme)}")
    if look.stroke:
        parts.append(f"stroke:{_hue(look.stroke, theme)}")
    if look.width:
        parts.append(f"stroke-width:{look.width:g}px")
    if look.dash:
        parts.append("stroke-dasharray:" + " ".join(f"{step:g}" for step in look.dash))
    if look.cap != "butt":
        parts.append("stroke-linecap:round;stroke-linejoin:round")
    return ";".join(parts)


def _hue(name: str, theme: Theme) -> str:
    return name if name == "none" else COLOURS[name][theme]


def _text_rule(look: Lettering, theme: Theme) -> str:
    family, _, variant = look.face.partition("-")
    names = {"sans": "'Source Sans Pro',sans-serif", "serif": "'Source Serif Pro',serif"}
    weight = {"semibold": 600, "bold": 700}.get(variant, 400)
    slant = "italic" if variant == "italic" else "normal"
    rule = f"font-family:{names[family]};font-size:{look.size:g}px;font-weight:{weight};font-style:{slant}"
    spacing = f";letter-spacing:{look.spacing * look.size:.3g}px" if look.spacing else ""
    return f"{rule};fill:{COLOURS[look.colour][theme]};stroke:none{spacing}"
