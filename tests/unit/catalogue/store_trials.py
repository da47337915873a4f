"""Trials of cartridges, what arms and fires them, cameras and counters.

A cartridge is safe up to its no-fire current and goes at its all-fire current; the figures are the kinds' own, as a
maker would state them. With 0.8 ohm of bridge and 1 ohm of limiting resistor on 25.2 V, 15 ohm more is 1.5 A.
"""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import SOURCE, Trial


def fires(kind: str, volts: str, amps: str, seen: str, *, events: str = "") -> Trial:
    return Trial(
        kind,
        f'{SOURCE}\n[item.it]\nkind = "{kind}"\n[item.line]\nkind = "resistor"\nresistance = "14 ohm"',
        "source.- > earth; source.+ > line.1; line.2 > it.1; it.2 > earth",
        f"| it is safe\nvolts-set {volts} | {seen} and {amps}"
        + (
            "\nvolts-set 0 | it is fired\nvolts-set 20 | it is fired and amps in T2 < 0.001 A"
            if events
            else ""
        ),
        name=seen.rpartition(" ")[2],
        events=events,
    )


BRIDGES = [
    # 14 + 1.8 ohm: 0.49 A at 7.74 V, 0.51 A at 8.06 V, 1.49 A at 23.5 V, 1.51 A at 23.9 V
    fires("cartridge", "7.74", "0.48 A < amps in T2 < 0.50 A", "it is safe"),
    fires("cartridge", "8.06", "0.50 A < amps in T2 < 0.52 A", "it is above-no-fire"),
    fires("cartridge", "23.5", "1.48 A < amps in T2 < 1.5 A", "it is above-no-fire"),
    fires("cartridge", "23.9", "amps in T2 < 0.001 A", "it is fired", events="fired"),
    # 14 + 1 ohm: 0.19, 0.21, 0.79 and 0.81 A
    fires("detonator", "2.85", "0.18 A < amps in T2 < 0.2 A", "it is safe"),
    fires("detonator", "3.15", "0.2 A < amps in T2 < 0.22 A", "it is above-no-fire"),
    fires("detonator", "11.85", "0.78 A < amps in T2 < 0.8 A", "it is above-no-fire"),
    fires("detonator", "12.15", "amps in T2 < 0.001 A", "it is fired", events="fired"),
]

# Two pushes in series, the arming plug between them and the cartridge.
FIRING = 'it = { kind = "cartridge" }\nplug = { kind = "KIND" }\nfirst = { kind = "guarded-push" }\nsecond = { kind = "guarded-push" }\n'
FIRING_WIRES = "box.1 > first.1; first.2 > second.1; second.2 > plug.1; plug.2 > it.1; it.2 > earth"
BOTH = "first pressed, second pressed, hold first, hold second"

ARMING = [
    Trial(
        "cartridge arming-plug",
        FIRING.replace("KIND", "arming-plug"),
        FIRING_WIRES,
        f"""master on | plug is out and it is safe
             {BOTH} | it is safe and amps in T5 < 0.001 A
             first released, second released, plug in | it is safe
             first pressed | it is safe
             second pressed | it is safe
             {BOTH} | it is fired""",
        events="fired",
    ),
    # with the plug out, the lead to the cartridge is also put to E: even a chafe from a live cable cannot fire it
    Trial(
        "shorting-arming-plug",
        FIRING.replace("KIND", "shorting-arming-plug")
        + 'leak = { kind = "resistor", resistance = "8 ohm" }\nchafe = { kind = "push" }',
        FIRING_WIRES + "; plug.E > earth; box.2 > leak.1; leak.2 > chafe.1; chafe.2 > plug.2",
        f"""master on | plug is out and it is safe
             {BOTH} | it is safe and amps in T5 < 0.001 A
             first released, second released
             chafe pressed | it is safe and amps in T8 > 2.5 A and amps in T4 < 0.1 A
             plug in | it is safe
             {BOTH} | it is fired""",
        events="fired",
    ),
    # the same chafe with the plain plug out fires it: why the lead is shorted
    Trial(
        "arming-plug",
        FIRING.replace("KIND", "arming-plug")
        + 'leak = { kind = "resistor", resistance = "8 ohm" }\nchafe = { kind = "push" }',
        FIRING_WIRES + "; box.2 > leak.1; leak.2 > chafe.1; chafe.2 > plug.2",
        "master on | plug is out and it is safe\nchafe pressed | it is fired",
        name="chafe",
        events="fired",
    ),
    # nothing is shorted once the plug is in
    Trial(
        "shorting-arming-plug",
        FIRING.replace("KIND", "shorting-arming-plug"),
        FIRING_WIRES + "; plug.E > earth",
        f"master on, plug in | it is safe\n{BOTH} | it is fired",
        name="armed",
        events="fired",
    ),
    Trial(
        "inertia-switch flame-switch immersion-switch cartridge",
        'it = { kind = "cartridge" }\nplug = { kind = "arming-plug" }\nknock = { kind = "inertia-switch", cams = { impact = "happens is crash" } }\n'
        'fire = { kind = "flame-switch", cams = { alight = "happens is burns" } }\nwater = { kind = "immersion-switch", cams = { immersed = "happens is ditched" } }\n'
        '[condition]\nhappens = { positions = ["nothing", "crash", "burns", "ditched"] }',
        "box.1 > knock.1; knock.2 > water.1; water.2 > plug.1; box.2 > fire.1; fire.2 > plug.1; plug.2 > it.1; it.2 > earth",
        """master on | it is safe
             happens crash | it is safe
             happens ditched | it is safe and knock.tripped
             plug in | it is fired""",
        name="in series",
        events="fired",
    ),
    Trial(
        "flame-switch cartridge",
        'it = { kind = "cartridge" }\nfire = { kind = "flame-switch", cams = { alight = "bay is alight" } }\n[condition]\nbay = { positions = ["cool", "alight"] }',
        "box.1 > fire.1; fire.2 > it.1; it.2 > earth",
        "master on | it is safe\nbay alight | it is fired",
        name="bottle",
        events="fired",
    ),
]

CAMERAS = [
    # each exposure asks the shutter and steps the counter; without the drive's supply nothing is counted
    Trial(
        "recording-camera",
        'it = { kind = "recording-camera", rating = "24 V 24 W" }\nrun = { kind = "switch" }\nask = { kind = "push" }',
        "box.1 > run.1; run.2 > it.+; box.2 > ask.1; ask.2 > it.P; it.- > earth",
        """master on | it.drive is stopped and it.shutter is released and it.counter is released
             run on | it.drive is running and it.shutter is released and it.counter is released and 1 A < amps in T1 < 1.1 A
             ask pressed | it.shutter is pulled-in and it.counter is pulled-in and 0.4 A < amps in T3 < 0.44 A and 0.12 A < amps in it.counter < 0.13 A
             | it.shutter is released and it.counter is released and it.drive is running
             run off | it.drive is stopped
             ask pressed | it.shutter is pulled-in and it.counter is released""",
    ),
    Trial(
        "counter",
        'it = { kind = "counter", rating = "24 V 200 ohm" }\nask = { kind = "push" }',
        "box.1 > ask.1; ask.2 > it.1; it.2 > earth",
        "master on | it is released\nask pressed | it is pulled-in\n| it is released",
    ),
]

TRIALS = (*BRIDGES, *ARMING, *CAMERAS)
