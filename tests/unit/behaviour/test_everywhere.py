"""Statements over the fits that matter, on a small invented circuit."""

from __future__ import annotations

from tests.unit.behaviour.small import HEAD

from loomlore.behaviour.everywhere import fits_that_matter, prove_everywhere
from loomlore.catalogue.shipped import shipped_kinds
from loomlore.network.building import build_plant
from loomlore.record.installation import join
from loomlore.record.kinds import known_kinds
from loomlore.record.reading import read_texts

FITS = """
[fit]
lamp-fit = { title = "Signal lamp" }
horn-fit = { title = "Signal horn" }
heater-fit = { title = "Heater" }
[choice]
signal = { one-of = ["lamp-fit", "horn-fit"] }
[standard]
first = { fits = ["lamp-fit"] }
[item]
signal-switch = { kind = "switch" }
signal-lamp = { kind = "lamp", rating = "24 V 6 W", fit = "lamp-fit" }
signal-horn = { kind = "horn", rating = "24 V 24 W", fit = "horn-fit" }
heater = { kind = "heater", rating = "24 V 100 W", fit = "heater-fit" }
heater-switch = { kind = "switch", fit = "heater-fit" }
[service.signal]
title = "Signal"
feed = "box.1"
[service.signal.cables]
N1 = { from = "box.1", to = "signal-switch.1", size = "1.0 mm2", length = "1 m" }
N2 = { from = "signal-switch.2", to = "signal-lamp.1", size = "1.0 mm2", length = "1 m", fit = "lamp-fit" }
N3 = { from = "signal-lamp.2", to = "earth", size = "1.0 mm2", length = "1 m", fit = "lamp-fit" }
N4 = { from = "signal-switch.2", to = "signal-horn.1", size = "1.0 mm2", length = "1 m", fit = "horn-fit" }
N5 = { from = "signal-horn.2", to = "earth", size = "1.0 mm2", length = "1 m", fit = "horn-fit" }
[service.heating]
title = "Heating"
feed = "box.3"
[service.heating.cables]
Q1 = { from = "box.3", to = "heater-switch.1", size = "2.5 mm2", length = "1 m", fit = "heater-fit" }
Q2 = { from = "heater-switch.2", to = "heater.1", size = "2.5 mm2", length = "1 m", fit = "heater-fit" }
Q3 = { from = "heater.2", to = "earth", size = "2.5 mm2", length = "1 m", fit = "heater-fit" }
[[statement]]
id = "lamp"
source = "notes 1"
words = "The lamp lights with the switch."
when = "signal-switch is on"
then = "signal-lamp is lit"
"""


def proved():
    reading = read_texts({"0.toml": HEAD, "1.toml": FITS})
    kinds, _ = known_kinds(reading.dossier, shipped_kinds())
    asked = []

    def plant_of(fits):
        asked.append(fits)
        return build_plant(join(reading.dossier, kinds, fits)[0])

    statement = reading.dossier.statements["lamp"]
    return reading.dossier, statement, prove_everywhere(reading.dossier, statement, plant_of), asked


def test_only_fits_of_the_services_spoken_of_matter():
    dossier, statement, _, asked = proved()
    assert fits_that_matter(dossier, statement) == {"lamp-fit", "horn-fit"}
    assert len(asked) == 2


def test_combinations_that_lack_the_item_are_left_out_of_the_verdict():
    _, _, overall, _ = proved()
    assert overall.verdict.verdict == "proved"
    assert not overall.differs
    assert {v.verdict for _, v in overall.by_fits} == {"proved", "out-of-scope"}
