"""Trials of meters, gauges, tank units and transmitters."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import SOURCE, Trial

# A shunt that drops 50 mV at 100 A is half a milliohm: EASA Part-66 module 11B notes (read in retrieved text; the
# row "ammeter shunt" of regulator_cutout_values). 2.52 ohm on 25.2 V is 10 A, less what battery and cables drop.
SHUNT = "regulator_cutout_values: 50 mV at 100 A, 0.5 milliohm (read in retrieved text)"

LOAD = 'load = { kind = "resistor", resistance = "2.49 ohm" }\non = { kind = "switch" }\n'

PANEL = [
    Trial(
        "voltmeter",
        f'{SOURCE}\n[item.it]\nkind = "voltmeter"\nrating = "40 V"',
        "source.- > earth; source.+ > it.+; it.- > earth",
        """| it is not reading or it < 0.01 V
             volts-set 12 | 11.9 V < it < 12.1 V and it is reading
             volts-set 28 | 27.9 V < it < 28.1 V and 6 mA < amps in it.movement < 8 mA""",
    ),
    Trial(
        "voltmeter",
        f'{SOURCE}\n[item.it]\nkind = "voltmeter"\nrating = "20 V"',
        "source.- > earth; source.+ > it.+; it.- > earth",
        "volts-set 15 | it is reading\nvolts-set 28 | it is off-scale\nvolts-set 0 | it is not off-scale",
        name="beyond its scale",
    ),
    Trial(
        "voltmeter",
        f'{SOURCE}\n[item.it]\nkind = "voltmeter"\nrating = "40 V"',
        "source.- > earth; source.+ > it.-; it.+ > earth",
        "volts-set 12 | it is off-scale",
        name="reversed",
    ),
    Trial(
        "ammeter",
        LOAD + 'it = { kind = "ammeter", rating = "60 A" }',
        "box.1 > it.+; it.- > on.1; on.2 > load.1; load.2 > earth",
        "master on | it is not off-scale and amps in it < 0.01 A\non on | 9.9 A < it < 10.1 A and it is reading and volts across it < 20 mV",
    ),
    # centre zero: it tells charge from discharge
    Trial(
        "ammeter",
        LOAD
        + SOURCE
        + '[item.it]\nkind = "ammeter"\nrating = "60 A"\n[scale.it]\ncharge = [["-60 A", "-60 A"], ["60 A", "60 A"]]',
        "source.- > earth; source.+ > on.1; on.2 > it.+; it.- > box.1; box.1 > load.1; load.2 > earth",
        "master on, volts-set 25.2 | -0.1 A < it.charge < 0.1 A\non on | it.charge > 4 A\nvolts-set 24.6, on on | it.charge < -1 A",
        name="centre zero",
    ),
    Trial(
        "shunt shunt-ammeter",
        LOAD
        + 'strip = { kind = "shunt", resistance = "0.5 mohm" }\nit = { kind = "shunt-ammeter", rating = "50 mV" }\n[scale.it]\nbus = [["0 mV", "0 A"], ["50 mV", "100 A"]]',
        "box.1 > strip.1; strip.2 > on.1; on.2 > load.1; load.2 > earth; strip.+ > it.+; it.- > strip.-",
        "master on | it.bus < 0.01 A\non on | 9.9 A < it.bus < 10.1 A and 9.9 A < amps in strip.strip < 10.1 A and 4.9 mV < volts across it.movement < 5.1 mV",
        source=SHUNT,
    ),
    # as shipped: one milliohm, 60 mV at 60 A
    Trial(
        "shunt shunt-ammeter",
        LOAD
        + 'strip = { kind = "shunt" }\nit = { kind = "shunt-ammeter", rating = "60 mV" }\n[scale.it]\nbus = [["0 mV", "0 A"], ["60 mV", "60 A"]]',
        "box.1 > strip.1; strip.2 > on.1; on.2 > load.1; load.2 > earth; strip.+ > it.+; it.- > strip.-",
        "master on, on on | 9.9 A < it.bus < 10.1 A\non off | it.bus < 0.01 A",
        name="one milliohm",
    ),
]

# Coils of 100 ohm and a track of 150 with 2 ohm left at the end: left over right is (100 + 2) / (100 + 150) = 0.408
# empty and the inverse, 2.451, full; 1 at half. The second attitude of the tank reads a few gallons more.
# An open lead drives it off its scale. The right one shorted to earth gives 100 / (100 + left track): with the tank
# full, 100 / 102, it reads nearly half, with the tank empty it stays on empty.
TANK = """
[condition]
tank = { range = [0, 1], start = 0.5 }
[scale.it]
flight = [["0.408", "0 gal(UK)"], ["1", "45 gal(UK)"], ["2.451", "90 gal(UK)"]]
ground = [["0.408", "5 gal(UK)"], ["1", "50 gal(UK)"], ["2.451", "95 gal(UK)"]]
"""
GAUGE = (
    SOURCE
    + TANK
    + """
[item.it]
kind = "{gauge}"
[item.unit]
kind = "{unit}"
binds = {{ contents = "tank" }}
[item.lead]
kind = "joint-stud"
[item.chafed]
kind = "switch"
"""
)
LEADS = "source.- > earth; source.+ > it.+; it.L > lead.1; lead.2 > unit.L; it.R > unit.R; it.R > chafed.1; chafed.2 > earth"


def gauge(gauge: str, unit: str) -> str:
    items = GAUGE
    for word, kind in (("{gauge}", gauge), ("{unit}", unit), ("{{", "{"), ("}}", "}")):
        items = items.replace(word, kind)
    return items


READS = """{push}volts-set 0 | it.left is no-power
    {push}volts-set 24 | 44.5 gal(UK) < it.flight < 45.5 gal(UK) and 49.5 gal(UK) < it.ground < 50.5 gal(UK)
    {push}volts-set 18 | 44.5 gal(UK) < it.flight < 45.5 gal(UK)
    {push}volts-set 28 | 44.5 gal(UK) < it.flight < 45.5 gal(UK) and 150 mA < amps in it.left < 170 mA
    {push}tank 0 | it.flight < 0.5 gal(UK) and it.left is reading
    {push}tank 1 | it.flight > 89 gal(UK) and it.left is reading
    {push}tank 0.75 | 50 gal(UK) < it.flight < 80 gal(UK)
    {push}lead parted | it.left is off-scale
    {push}lead in, tank 1, chafed on | 43 gal(UK) < it.flight < 45 gal(UK)
    {push}tank 0, chafed on | it.flight < 0.1 gal(UK)"""

CONTENTS = [
    Trial("ratio-gauge tank-unit", gauge("ratio-gauge", "tank-unit"), LEADS, READS.replace("{push}", "")),
    Trial(
        "ratio-gauge insulated-tank-unit",
        gauge("ratio-gauge", "insulated-tank-unit"),
        LEADS + "; unit.E > earth",
        READS.replace("{push}", ""),
    ),
    Trial(
        "ratio-gauge-push",
        gauge("ratio-gauge-push", "tank-unit"),
        LEADS,
        READS.replace("{push}", "it.push pressed, "),
    ),
    Trial(
        "ratio-gauge-push",
        gauge("ratio-gauge-push", "tank-unit"),
        LEADS,
        "volts-set 24 | it.left is no-power and amps in it.left < 0.001 A\nit.push pressed | it.left is reading\n| it.left is no-power",
        name="dark",
    ),
]

# The older gauge reads amperes: 400 + 20 ohm empty, 40 + 20 full on 25.2 V are 0.060 and 0.42 A; a tenth more volts,
# a tenth more on the dial.
OLDER = (
    SOURCE
    + """
[condition]
tank = { range = [0, 1] }
[item.it]
kind = "volts-gauge"
rating = "0.6 A"
[item.unit]
kind = "KIND"
binds = { NAME = "tank" }
"""
)
OLD = "source.- > earth; source.+ > it.+; it.T > unit.T"
OLD_READS = """volts-set 25.2 | 0.0595 A < it < 0.0605 A
    tank 1 | 0.418 A < it < 0.422 A
    volts-set 27.72 | 0.459 A < it < 0.465 A
    volts-set 12.6 | 0.208 A < it < 0.212 A"""
OLDER_GAUGES = [
    Trial(
        "volts-gauge single-tank-unit",
        OLDER.replace("KIND", "single-tank-unit").replace("NAME", "contents"),
        OLD,
        OLD_READS,
    ),
    Trial(
        "volts-gauge transmitter",
        OLDER.replace("KIND", "transmitter").replace("NAME", "value"),
        OLD,
        OLD_READS,
    ),
]

TRIALS = (*PANEL, *CONTENTS, *OLDER_GAUGES)
