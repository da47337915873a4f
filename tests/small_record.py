"""A small record that reads without findings, for tests of the text: everything invented."""

from loomlore.record.reading import Reading, read_texts

PAGE = """\
# A page typed in from a handbook.
[dossier]
format = 1
title  = "Warning horn of a flying boat"
supply = "24 V"
given  = "master is on"

[condition]
wheels   = { positions = ["up", "moving", "down"] }
airspeed = { range = ["0 kt", "200 kt"], start = "0 kt" }

[control]
throttle = { range = [0, 1] }
master   = { positions = ["off", "on"], guarded = true }

[place]
panel = { at = ["2.4 m", "0 m", "0.9 m"], text = "instrument panel" }
bow   = { at = ["0.5 m", "0.2 m", "1.0 m"] }

[earth]
panel-bolt = { place = "panel", resistance = "2 mohm" }

[loom]
main-loom = { route = ["panel", "bow"], legs = ["2.2 m"] }

[source]
handbook = { title = "Handbook", nature = "handbook", date = "1937" }

[item]
fuse-box = { kind = "fuse-box", ways = 2, place = "panel", sources = ["handbook 6.1"] }
horn     = { kind = "horn", rating = "24 V 42 W", place = "bow", sources = ["handbook 6.8"] }

[item.horn-switch]
kind    = "cam-switch"
cams    = { main = "throttle < 0.2 and wheels is not down" }
place   = "panel"
sources = ["handbook 6.8"]

[way.fuse-box]
1 = { fuse = "5 A", text = "horn" }
2 = { spare = true }

[service.horn]
title = "Warning horn"
feed  = "fuse-box.1"
usual = { size = "14/.0076 in", colour = "red" }

[service.horn.cables]
H1 = { from = "fuse-box.1", to = "horn-switch.1", length = "0.4 m" }
H2 = { from = "horn-switch.2", to = "horn.1", along = "main-loom" }
H3 = { from = "horn.2", to = "earth.panel-bolt", length = "0.3 m", colour = "black" }

[[statement]]
source = "handbook 6.8"
words  = "With a throttle closed and the wheels up the horn sounds."
steps  = [
  { do = { master = "on", airspeed = "80 kt" }, see = "horn is silent" },
  { do = { throttle = 0.1 }, wait = "2 s" },
]
then   = "horn is sounding"

[[statement]]
id     = "horn-watts"
source = "handbook 6.8"
words  = "The horn takes 42 watts."
about  = "horn.rating"
says   = "24 V 42 W"

[phase]
cruise = { minutes = 90, settings = { master = "on", airspeed = "120 kt" }, duty = { horn = "10 s" } }
"""


def reading_of(text: str = PAGE, **others: str) -> Reading:
    """The reading of a page, with other files beside it: ``more="..."`` is ``more.toml``."""
    return read_texts({"page.toml": text} | {f"{name}.toml": other for name, other in others.items()})


def changed(old: str, new: str) -> str:
    """The page with one thing changed."""
    assert PAGE.count(old) >= 1, old
    return PAGE.replace(old, new, 1)


def line_of(text: str, part: str) -> int:
    """The first line that holds something, counted from 1."""
    return next(number for number, line in enumerate(text.split("\n"), 1) if part in line)
