"""Small invented dossiers for the tests of faults."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from loomlore.answers.opening import open_dossier
from loomlore.catalogue.shipped import shipped_kinds
from loomlore.network.building import Plant, build_plant
from loomlore.record.installation import join
from loomlore.record.kinds import known_kinds
from loomlore.record.reading import read_texts

EXAMPLES = Path(__file__).parents[3] / "examples"

BENCH = """
[dossier]
format = 1
title = "A bench for faults (invented)"
supply = "24 V"
given = "master is on"
[source.notes]
title = "Notes of the tests"
nature = "handbook"
[earth]
bolt = { resistance = "1 mohm" }
[loom]
run = { route = [] }
[item]
battery = { kind = "battery", rating = "24 V 40 Ah" }
master = { kind = "switch" }
box = { kind = "fuse-box", ways = 4 }
lamp-switch = { kind = "switch" }
plug = { kind = "plug", ways = 3, mates = "outlet" }
outlet = { kind = "socket", ways = 3 }
lamp = { kind = "lamp", rating = "24 V 12 W" }
window = { kind = "doubled-lamp", rating = "24 V 3 W" }
push = { kind = "push" }
relay = { kind = "relay", rating = "24 V 80 ohm" }
pump = { kind = "pump", rating = "24 V 48 W" }
[way.box]
1 = { fuse = "5 A" }
2 = { fuse = "5 A" }
3 = { fuse = "10 A" }
4 = { spare = true }
[service.supply]
title = "Supply"
[service.supply.cables]
S1 = { from = "battery.-", to = "earth", size = "10 mm2", length = "0.5 m" }
S2 = { from = "battery.+", to = "master.1", size = "10 mm2", length = "0.5 m" }
S3 = { from = "master.2", to = "box.bus", size = "10 mm2", length = "0.5 m" }
[service.lamps]
title = "Lamps"
feed = "box.1"
[service.lamps.cables]
L1 = { from = "box.1", to = "lamp-switch.1", size = "1 mm2", length = "1 m" }
L2 = { from = "lamp-switch.2", to = "outlet.1", size = "1 mm2", length = "1 m" }
L3 = { from = "plug.1", to = "lamp.1", size = "1 mm2", length = "1 m" }
L4 = { from = "lamp.2", to = "earth.bolt", size = "1 mm2", length = "1 m" }
[service.window]
title = "Window"
feed = "box.2"
[service.window.cables]
W1 = { from = "box.2", to = "outlet.2", size = "1 mm2", length = "1 m" }
W2 = { from = "plug.2", to = "window.1", size = "1 mm2", length = "1 m" }
W3 = { from = "window.2", to = "earth.bolt", size = "1 mm2", length = "1 m" }
[service.pump]
title = "Pump"
feed = "box.3"
[service.pump.cables]
P1 = { from = "box.3", to = "push.1", size = "1 mm2", length = "1 m" }
P2 = { from = "push.2", to = "relay.1", size = "1 mm2", length = "1 m" }
P3 = { from = "relay.2", to = "earth", size = "1 mm2", length = "1 m" }
P4 = { from = "box.3", to = "relay.A", size = "1 mm2", length = "1 m" }
P5 = { from = "relay.B", to = "pump.1", size = "1 mm2", length = "1 m" }
P6 = { from = "pump.2", to = "earth", size = "1 mm2", length = "1 m" }
""".replace("[loom]\nrun = { route = [] }\n", "")


@cache
def plant_of(text: str) -> Plant:
    """A plant from dossier text; an error of reading or joining fails the test."""
    reading = read_texts({"page.toml": text})
    kinds, slips = known_kinds(reading.dossier, shipped_kinds())
    installation, findings = join(reading.dossier, kinds)
    said = [f for f in (*reading.findings, *slips, *findings) if f.severity.word == "error"]
    assert not said, "\n".join(map(str, said))
    return build_plant(installation)


@cache
def example(name: str, standard: str = "") -> Plant:
    """An example's plant in a named standard of fit."""
    opened = open_dossier(EXAMPLES / name)
    return opened.plant(opened.fits(standard))
