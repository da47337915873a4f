"""Small invented dossiers as text, made into plants for the tests of behaviour."""

from __future__ import annotations

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.network.building import Plant, build_plant
from loomlore.record.installation import join
from loomlore.record.kinds import known_kinds
from loomlore.record.reading import read_texts

HEAD = """
[dossier]
format = 1
title = "A bench of the tests (invented)"
supply = "24 V"
given = "master is on"

[source.notes]
title = "Notes of the tests"
nature = "handbook"

[item]
battery = { kind = "battery", rating = "24 V 40 Ah" }
master = { kind = "switch" }
box = { kind = "fuse-box", ways = 4 }

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
"""

HORN = """
[condition]
wheels = { positions = ["locked-down", "moving", "locked-up"] }
throttle = { range = [0, 1], start = 0.5 }
[control]
selector = { positions = ["land", "water"] }

[item.throttle-switch]
kind = "cam-switch-silenced"
cams = { main = "throttle < 0.28", reset = "throttle > 0.45" }
[item.wheel-switch]
kind = "cam-switch"
cams = { main = "(selector is land and wheels is not locked-down) or (selector is water and wheels is not locked-up)" }
[item.horn]
kind = "horn"
rating = "24 V 42 W"

[service.horn]
title = "Warning horn"
feed = "box.1"
[service.horn.cables]
H1 = { from = "box.1", to = "throttle-switch.1", size = "1.0 mm2", length = "3 m" }
H2 = { from = "throttle-switch.2", to = "wheel-switch.1", size = "1.0 mm2", length = "3 m" }
H3 = { from = "wheel-switch.2", to = "horn.1", size = "1.0 mm2", length = "3 m" }
H4 = { from = "horn.2", to = "earth", size = "1.0 mm2", length = "0.5 m" }
"""


def plant_of(*texts: str) -> Plant:
    """A plant from dossier text; a finding of reading or joining fails the test."""
    reading = read_texts({f"{number}.toml": text for number, text in enumerate(texts)})
    kinds, slips = known_kinds(reading.dossier, shipped_kinds())
    installation, findings = join(reading.dossier, kinds)
    said = [*reading.findings, *slips, *findings]
    assert not said, "\n".join(map(str, said))
    return build_plant(installation)
