"""Trials of fuses, boxes, plugs, blocks and what parts."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import Trial

LAMP = 'lamp = { kind = "lamp", rating = "24 V 24 W" }\n'
TWO = LAMP + 'other = { kind = "lamp", rating = "24 V 24 W" }\n'
SHORT = 'short = { kind = "switch" }\n'

FUSES = [
    # a short takes out its own way and no other; put back by hand once the short is off, the lamp lights again
    Trial(
        "fuse-box",
        TWO + SHORT,
        "box.1 > lamp.1; lamp.2 > earth; box.1 > short.1; short.2 > earth; box.2 > other.1; other.2 > earth",
        """master on | lamp is lit and other is lit and box.1 is whole and box.2 is whole
             short on | lamp is out and other is lit and box.1 is blown and box.2 is whole
             short off | lamp is out
             box.1 whole | lamp is lit
             box.2 blown | lamp is lit and other is out""",
        fuse="5 A",
        events="blown",
    ),
    Trial(
        "fuse",
        LAMP + SHORT + 'it = { kind = "fuse", rating = "5 A" }',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth; it.2 > short.1; short.2 > earth",
        "master on | lamp is lit and it is whole\nshort on | lamp is out and it is blown and box.1 is whole\nshort off | lamp is out",
        events="blown",
        fuse="60 A",
    ),
    # the basis of the stamp decides at 7 A: carrying 5 A it holds though overloaded, fusing 5 A it goes
    Trial(
        "fuse",
        'it = { kind = "fuse", rating = "5 A", basis = "carrying" }\nload = { kind = "resistor", resistance = "3.6 ohm" }',
        "box.1 > it.1; it.2 > load.1; load.2 > earth",
        "master on | it is whole and 6.5 A < amps in it < 7.1 A",
        name="carrying",
        events="overload",
    ),
    Trial(
        "fuse",
        'it = { kind = "fuse", rating = "5 A", basis = "fusing" }\nload = { kind = "resistor", resistance = "3.6 ohm" }',
        "box.1 > it.1; it.2 > load.1; load.2 > earth",
        "master on | it is blown",
        name="fusing",
        events="blown",
    ),
    # two wires: either pole's fuse parts the lamp, and a short between the poles blows one of them
    Trial(
        "double-pole-fuse bus-bar",
        LAMP + SHORT + 'bar = { kind = "bus-bar" }\nit = { kind = "double-pole-fuse", rating = "5 A" }',
        "box.1 > it.+; it.1 > lamp.1; lamp.2 > it.2; it.- > bar.1; it.1 > short.1; short.2 > it.2",
        """master on | lamp is lit and it.positive is whole and it.negative is whole
             it.positive blown | lamp is out
             it.positive whole, it.negative blown | lamp is out
             it.negative whole | lamp is lit
             short on | lamp is out and (it.positive is blown or it.negative is blown) and box.1 is whole""",
        negative="bar.bar",
        events="blown",
        fuse="60 A",
    ),
    Trial(
        "bus-bar",
        TWO + 'bar = { kind = "bus-bar", ways = 3 }\non = { kind = "switch" }',
        "box.1 > bar.bar; bar.1 > on.1; on.2 > lamp.1; bar.2 > other.1; lamp.2 > earth; other.2 > earth",
        "master on | lamp is out and other is lit\non on | lamp is lit and other is lit and 2 A < amps in T1 < 2.1 A",
    ),
]

JOINTS = [
    # same-named ways meet and no others; with the plug out both sides are dead
    Trial(
        "plug socket",
        TWO + 'it = { kind = "plug", ways = 4, mates = "root" }\nroot = { kind = "socket", ways = 4 }',
        "box.1 > it.1; box.2 > it.2; root.1 > lamp.1; root.3 > other.1; lamp.2 > earth; other.2 > earth",
        "master on | it is in and lamp is lit and other is out\nit parted | lamp is out and amps in T1 < 0.001 A\nit in | lamp is lit",
    ),
    # the whole current of both lamps crosses one bolt, as a main does at the wing root
    Trial(
        "stud",
        TWO + 'it = { kind = "stud" }',
        "box.1 > it.1; it.1 > lamp.1; it.1 > other.1; lamp.2 > earth; other.2 > earth",
        "master on | lamp is lit and other is lit and 2 A < amps in T1 < 2.1 A\nmaster off | lamp is out",
    ),
    Trial(
        "joint-stud",
        LAMP + 'it = { kind = "joint-stud" }',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        "master on | lamp is lit\nit parted | lamp is out and amps in T1 < 0.001 A\nit in | lamp is lit",
    ),
    Trial(
        "battery-link",
        LAMP + 'it = { kind = "battery-link" }',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        "master on | it is in and lamp is lit\nit out | lamp is out\nit in | lamp is lit",
    ),
    # each way is one node; links join the ways they name and no others
    Trial(
        "terminal-block",
        TWO
        + 'third = { kind = "lamp", rating = "24 V 24 W" }\nit = { kind = "terminal-block", ways = 4, links = [["1", "2"]] }',
        "box.1 > it.1; it.1 > lamp.1; it.2 > other.1; it.3 > third.1; lamp.2 > earth; other.2 > earth; third.2 > earth",
        "master on | lamp is lit and other is lit and third is out",
    ),
    # brought out for a meter: it changes nothing, and shows what is on its ways
    Trial(
        "test-socket voltmeter",
        LAMP
        + 'on = { kind = "switch" }\nit = { kind = "test-socket", ways = 2 }\nmeter = { kind = "voltmeter", rating = "40 V" }',
        "box.1 > on.1; on.2 > lamp.1; lamp.2 > earth; on.2 > it.1; it.2 > earth; it.1 > meter.+; meter.- > it.2",
        "master on | lamp is out and meter < 0.1 V\non on | lamp is lit and 25 V < meter < 25.2 V",
    ),
    # both poles part together: with one pole still made the lamp's far end would be live
    Trial(
        "parting-socket",
        TWO + 'it = { kind = "parting-socket" }',
        "box.1 > it.1; it.3 > lamp.1; lamp.2 > it.4; it.2 > earth; it.3 > other.1; other.2 > earth",
        "master on | it is in and lamp is lit and other is lit\nit parted | lamp is out and other is out\nit in | lamp is lit",
    ),
    Trial(
        "parting-socket",
        TWO + 'it = { kind = "parting-socket" }',
        "box.1 > it.1; it.3 > lamp.1; box.2 > it.2; it.4 > other.1; lamp.2 > earth; other.2 > earth",
        "master on | lamp is lit and other is lit\nit parted | lamp is out and other is out",
        name="poles",
    ),
    # nobody knows what it is: cables land on any terminal, and nothing conducts inside
    Trial(
        "unknown",
        LAMP + 'it = { kind = "unknown" }',
        "box.1 > it.X7; it.Q > lamp.1; lamp.2 > earth",
        "master on | lamp is out and amps in T1 < 0.001 A",
    ),
]

TRIALS = (*FUSES, *JOINTS)
