"""Small invented installations for the tests of sizing, and a reader that lets nothing wrong pass."""

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
basis = "carrying"
given = "master is on"

[item]
battery = { kind = "battery", rating = "24 V 40 Ah", resistance = "24 mohm" }
master = { kind = "switch" }
box = { kind = "fuse-box", ways = 3 }
"""

WAYS = """
[way.box]
1 = { fuse = "5 A" }
2 = { fuse = "10 A" }
3 = { spare = true }

[service.supply]
title = "Supply"
[service.supply.cables]
S1 = { from = "battery.-", to = "earth", size = "10 mm2", length = "0.5 m" }
S2 = { from = "battery.+", to = "master.1", size = "10 mm2", length = "0.5 m" }
S3 = { from = "master.2", to = "box.bus", size = "10 mm2", length = "0.5 m" }
"""

HEATER = """
[item]
heater-switch = { kind = "switch" }
heater = { kind = "heater", rating = "24 V 96 W" }

[service.heater]
title = "Heater"
feed = "box.1"
[service.heater.cables]
H1 = { from = "box.1", to = "heater-switch.1", size = "1.0 mm2", length = "2 m" }
H2 = { from = "heater-switch.2", to = "heater.1", size = "1.0 mm2", length = "6 m" }
H3 = { from = "heater.2", to = "earth", size = "1.0 mm2", length = "1 m" }
"""


def plant_of(*texts: str, strict: bool = True) -> Plant:
    """A plant from dossier text; unless told otherwise a finding fails the test."""
    reading = read_texts({f"{number}.toml": text for number, text in enumerate(texts)})
    kinds, slips = known_kinds(reading.dossier, shipped_kinds())
    installation, findings = join(reading.dossier, kinds)
    said = [*reading.findings, *slips, *findings]
    assert not strict or not said, "\n".join(map(str, said))
    return build_plant(installation)


def bench(*more: str, strict: bool = True) -> Plant:
    """The common head, box and supply, and what a test adds."""
    return plant_of(HEAD, WAYS, *more, strict=strict)
