"""A small invented record without a fault, and ways to read, join and spoil it."""

# ruff: noqa: E501  the cases stand one a line, as they would in a record

from __future__ import annotations

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.findings import Finding
from loomlore.record.installation import Installation, join
from loomlore.record.kinds import known_kinds
from loomlore.record.reading import Reading, read_texts
from loomlore.record.rules import check_record

TRIAL = """\
[dossier]
format = 1
title = "Invented trial installation"
supply = "24 V"
allowance = "0.1 m"
given = "master is on"

[condition]
wheels = { positions = ["up", "moving", "down"] }
engine-speed = { range = ["0 rev/min", "2400 rev/min"] }
tank = { range = [0, 1] }

[control]
throttle = { range = [0, 1] }
fire-lever = { positions = ["off", "on"] }

[place]
panel = { at = ["2 m", "0 m", "1 m"] }
bay = { at = ["5 m", "0 m", "1 m"] }
tip = { at = ["5 m", "8 m", "1 m"] }

[earth]
panel-bolt = { place = "panel", resistance = "2 mohm", bonds = { bay-bolt = "1 mohm" } }
bay-bolt = { place = "bay", resistance = "1 mohm" }

[loom]
main = { route = ["panel", "bay", "tip"], legs = ["3.4 m", "8.6 m"] }

[sheath]
T1 = { type = "twin 14/.0076 in", cores = ["red", "black"], length = "6 m" }

[source]
handbook = { title = "Handbook", nature = "handbook" }
drawing = { title = "Drawing", nature = "drawing", copied-from = "handbook" }

[fit]
radio = { title = "Radio" }
no-radio = { title = "No radio" }

[choice]
wireless = { one-of = ["radio", "no-radio"] }

[modification]
mod-1 = { title = "Stronger lamp", change = { lamp = { rating = "24 V 12 W" } } }

[standard]
delivered = { title = "As delivered", fits = ["radio"] }
later = { title = "Later", fits = ["no-radio", "mod-1"] }

[item]
battery = { kind = "battery", rating = "24 V 45 Ah", place = "bay", sources = ["handbook 3.1"] }
master = { kind = "switch", place = "panel" }
box = { kind = "fuse-box", ways = 3, place = "panel" }
horn-switch = { kind = "cam-switch-silenced", place = "panel", cams = { main = "throttle < 0.2 and wheels is not down" } }
horn = { kind = "horn", rating = "24 V 42 W", place = "bay" }
lamp = { kind = "lamp", rating = "24 V 6 W", place = "tip" }
lamp-switch = { kind = "switch", place = "panel", start = "off" }
radio-plug = { kind = "plug", ways = 2, place = "bay", mates = "radio-socket", fit = "radio" }
radio-socket = { kind = "socket", ways = 2, place = "bay", fit = "radio" }
radio-set = { kind = "receiver", rating = "24 V 60 W", place = "bay", fit = "radio" }
magneto = { kind = "magneto", place = "bay" }
magneto-switch = { kind = "magneto-switch", place = "panel" }
gauge = { kind = "ratio-gauge", place = "panel" }
tank-unit = { kind = "tank-unit", place = "tip", binds = { contents = "tank" } }
fire-switch = { kind = "switch", place = "panel", binds = { lever = "fire-lever" } }
generator = { kind = "generator", rating = "28 V 36 A", place = "bay", binds = { speed = "engine-speed" }, regulated-by = "regulator" }
regulator = { kind = "regulator", place = "bay" }
cut-out = { kind = "cut-out", place = "bay" }

[scale.gauge]
flight = [["0.41", "0 gal(UK)"], ["2.45", "90 gal(UK)"]]

[way.box]
1 = { fuse = "5 A", text = "Horn" }
2 = { fuse = "10 A", basis = "fusing" }
3 = { fuse = "5 A" }

[service.supply]
title = "Supply"
usual = { size = "61/.036 in" }
[service.supply.cables]
S1 = { from = "battery.-", to = "earth.bay-bolt", length = "0.5 m" }
S2 = { from = "battery.+", to = "master.1", along = "main" }
S3 = { from = "master.2", to = "box.bus", length = "0.4 m" }
S4 = { from = "generator.D", to = "cut-out.D", length = "0.6 m" }
S5 = { from = "cut-out.A", to = "master.1", length = "3.5 m" }
S6 = { from = "generator.E", to = "earth.bay-bolt", length = "0.4 m" }
S7 = { from = "cut-out.D", to = "regulator.D", length = "0.4 m" }
S8 = { from = "regulator.F", to = "generator.F", length = "0.4 m" }
S9 = { from = "regulator.E", to = "earth.bay-bolt", length = "0.4 m" }
S10 = { from = "cut-out.E", to = "earth.bay-bolt", length = "0.4 m" }

[service.horn]
title = "Warning horn"
feed = "box.1"
usual = { size = "14/.0076 in" }
[service.horn.cables]
H1 = { from = "box.1", to = "horn-switch.1", length = "0.6 m", sources = ["drawing sheet 2"] }
H2 = { from = "horn-switch.2", to = "horn.1", along = "main" }
H3 = { from = "horn.2", to = "earth.bay-bolt", length = "0.6 m" }

[service.lamps]
title = "Lamps and gauge"
feed = "box.2"
usual = { size = "14/.0076 in" }
[service.lamps.cables]
L1 = { from = "box.2", to = "lamp-switch.1", length = "0.5 m" }
L2 = { from = "lamp-switch.2", to = "lamp.1", core = "T1.red" }
L3 = { from = "lamp.2", to = "earth.panel-bolt", core = "T1.black" }
L4 = { from = "box.2", to = "gauge.+", length = "0.5 m" }
L5 = { from = "gauge.L", to = "tank-unit.L", along = "main" }
L6 = { from = "gauge.R", to = "tank-unit.R", along = "main" }
L7 = { from = "box.2", to = "fire-switch.1", length = "0.5 m" }
L8 = { from = "fire-switch.2", to = "lamp.1", along = "main" }

[service.radio]
title = "Radio"
feed = "box.3"
usual = { size = "23/.0076 in" }
fit = "radio"
[service.radio.cables]
R1 = { from = "box.3", to = "radio-socket.1", along = "main" }
R2 = { from = "radio-plug.1", to = "radio-set.+", length = "0.6 m" }
R3 = { from = "radio-set.-", to = "radio-plug.2", length = "0.6 m" }
R4 = { from = "radio-socket.2", to = "earth.bay-bolt", length = "0.6 m" }

[service.ignition]
title = "Ignition"
usual = { size = "14/.0076 in" }
[service.ignition.cables]
M1 = { from = "magneto.P", to = "magneto-switch.1", along = "main" }
M2 = { from = "magneto-switch.E", to = "earth.panel-bolt", length = "0.4 m" }

[[statement]]
id = "horn-sounds"
source = "handbook 6.8"
words = "The horn sounds when a throttle is closed with the wheels not down."
when = "throttle < 0.1 and wheels is one of (up, moving)"
then = "horn is sounding"

[[statement]]
id = "silenced"
source = "handbook 6.9"
words = "It is silenced by the push."
steps = [
  { do = { throttle = 0.1 }, see = "horn is sounding" },
  { do = { "horn-switch.push" = "pressed" } },
]
then = "horn-switch.silenced and horn is silent"

[[statement]]
id = "lamp-rating"
source = "handbook 6.2"
words = "One lamp of 6 watts."
about = "lamp.rating"
says = "6 W"

[procedure.start-up]
title = "Starting"
start = { engine-speed = "0 rev/min" }
steps = [
  { do = { master = "on" }, see = "gauge is reading" },
  { do = { engine-speed = "1200 rev/min", "magneto-switch.lever" = "on" }, see = "generator is generating and magneto is live" },
]

[phase]
cruise = { minutes = 60, settings = { master = "on", engine-speed = "2000 rev/min" }, duty = { lamps = "continuous", horn = "10 s" } }

[[measurement]]
id = "horn-coil"
of = ["horn.1", "earth.bay-bolt"]
value = "13.7 ohm"
as = "found"
"""


def spoilt(old: str, new: str, text: str = TRIAL) -> str:
    """The trial record with one place changed."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
    return text.replace(old, new)


def added(line: str, under: str, text: str = TRIAL) -> str:
    """The trial record with a line more under a heading."""
    assert text.count(under + "\n") == 1
    return text.replace(under + "\n", f"{under}\n{line}\n")


def reading_of(text: str = TRIAL) -> Reading:
    return read_texts({"trial.toml": text})


def found_in(text: str) -> tuple[Finding, ...]:
    """What the rules say of a record that reads without a finding."""
    reading = reading_of(text)
    assert not reading.findings, [str(f) for f in reading.findings]
    return check_record(reading, shipped_kinds())


def joined(text: str = TRIAL, fits: frozenset[str] | None = None) -> tuple[Installation, tuple[Finding, ...]]:
    reading = reading_of(text)
    assert not reading.findings, [str(f) for f in reading.findings]
    kinds, slips = known_kinds(reading.dossier, shipped_kinds())
    assert not slips, [str(f) for f in slips]
    return join(reading.dossier, kinds, fits, place_of=reading.place_of)


def installation_of(text: str = TRIAL, fits: frozenset[str] | None = None) -> Installation:
    return joined(text, fits)[0]


def line_of(part: str, text: str) -> int:
    """The line, from 1, on which something stands first."""
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)
