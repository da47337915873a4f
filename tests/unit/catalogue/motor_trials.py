"""Trials of motors, pumps, starters, what moves and comes back, heaters and solenoids."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import Trial

SWITCH = 'on = { kind = "switch" }\n'


def by_volts(
    kind: str, words: tuple[str, str, str], fed: str, back: str, *, half: str = "50 V"
) -> list[Trial]:
    """At its volts, at half and at a quarter of them, and switched off."""
    full, middle, least = words
    wires = f"box.1 > on.1; on.2 > it.{fed}" + (f"; it.{back} > earth" if back else "")
    return [
        Trial(
            kind,
            f'{SWITCH}it = {{ kind = "{kind}", rating = "{rating} 240 W" }}',
            wires,
            f"master on | it is {least} and amps in T1 < 0.001 A\non on | it is {seen}{more}\non off | it is {least}",
            name=name,
        )
        for rating, seen, more, name in (
            ("24 V", full, " and 10 A < amps in T1 < 10.6 A", ""),
            (half, middle, "", "half volts"),
            ("100 V", least, " and amps in T1 > 0.1 A", "quarter volts"),
        )
    ]


RUNS = ("running", "labouring", "stopped")
HEATS = ("hot", "warm", "cold")

PLAIN = [
    *by_volts("motor", RUNS, "1", "2"),
    *by_volts("motor-case-return", RUNS, "1", ""),
    *by_volts("pump", RUNS, "1", "2"),
    *by_volts("tank-pump", RUNS, "1", "2"),
    *by_volts("starter", RUNS, "S", ""),
    *by_volts("insulated-starter", RUNS, "S", "-"),
    *by_volts("heater", HEATS, "1", "2"),
    *by_volts("pressure-head", HEATS, "1", "2"),
]

PARTING = [
    # each tag of the lead parts: neither side of the winding is live then
    Trial(
        "heated-clothing",
        SWITCH + 'it = { kind = "heated-clothing", rating = "24 V 60 W" }',
        "box.1 > on.1; on.2 > it.1; it.2 > earth",
        "master on | it.winding is cold\non on | it.winding is hot\nit.joint parted | it.winding is cold and amps in T1 < 0.001 A\nit.joint in | it.winding is hot\non off | it.winding is cold",
    ),
    Trial(
        "solenoid-valve guarded-push",
        'on = { kind = "guarded-push" }\nit = { kind = "solenoid-valve", rating = "24 V 24 W" }',
        "box.1 > on.1; on.2 > it.1; it.2 > earth",
        "master on | it is released\non pressed | it is pulled-in and 1 A < amps in it < 1.06 A\n| it is released",
    ),
    Trial(
        "release-solenoid guarded-push",
        'on = { kind = "guarded-push" }\nit = { kind = "release-solenoid", rating = "24 V 240 W" }',
        "box.1 > on.1; on.2 > it.1; it.2 > earth",
        "master on | it is released\non pressed | it is pulled-in and 10 A < amps in it < 10.6 A\n| it is released",
    ),
]

# Energise until the flywheel is up to speed, then mesh: never at once, and not when it has run down.
INERTIA = [
    Trial(
        "inertia-starter",
        'it = { kind = "inertia-starter", rating = "24 V 480 W", mesh = "12 ohm" }\nspin = { kind = "push" }\nmesh = { kind = "push" }',
        "box.1 > spin.1; spin.2 > it.S; box.2 > mesh.1; mesh.2 > it.M",
        """master on | it.armature is stopped and not it.cranking
             mesh pressed | it.mesh is pulled-in and not it.cranking
             spin pressed, hold spin | it.armature is running and 20 A < amps in T1 < 21 A
             mesh pressed | not it.cranking
             wait 11.5 s | not it.spun
             wait 1 s | it.spun and not it.cranking
             mesh pressed | it.cranking
             | not it.cranking
             spin released | it.spun and it.armature is stopped
             mesh pressed | it.cranking
             wait 14 s | it.spun
             wait 2 s | not it.spun
             mesh pressed | not it.cranking""",
    ),
    # the flywheel runs down while it is meshed, and the cranking ends
    Trial(
        "inertia-starter",
        'it = { kind = "inertia-starter", rating = "24 V 480 W", mesh = "12 ohm" }\nspin = { kind = "push" }\nmesh = { kind = "switch" }',
        "box.1 > spin.1; spin.2 > it.S; box.2 > mesh.1; mesh.2 > it.M",
        "master on, spin pressed, hold spin\nwait 13 s\nspin released, mesh on | it.cranking\nwait 16 s | it.mesh is pulled-in and not it.cranking",
        name="runs down",
    ),
]

# Ten seconds from end to end, and each way ends at its own limit switch; turned about half way, it comes back.
TRAVEL = """
[item.it]
kind = "KIND"
KEYS
[item.lever]
kind = "changeover-switch"
first = "out"
second = "back"
[condition]
CONDITION
"""
REVERSING = (
    TRAVEL.replace("KIND", "reversing-motor")
    .replace("KEYS", 'rating = "24 V 60 W"\nbinds = { travel = "flap" }')
    .replace("CONDITION", "flap = { range = [0, 1] }")
)
WIRES = "box.1 > lever.C; lever.A > it.X; lever.B > it.R; it.E > earth"

MOVING = [
    Trial(
        "reversing-motor",
        REVERSING,
        WIRES,
        """master on | it.extend is stopped and it.retract is stopped
             lever back | it.retract is stopped and amps in T1 < 0.001 A
             lever out | it.extend is running and it.retract is stopped and 2.5 A < amps in T1 < 2.7 A
             wait 4 s | 0.39 < flap < 0.41 and it.extend is running
             lever off | it.extend is stopped
             wait 10 s | 0.39 < flap < 0.41
             lever out
             wait 5.9 s | it.extend is running and flap < 1
             wait 0.2 s | it.extend is stopped and flap >= 1 and amps in T1 < 0.001 A
             lever back | it.retract is running and it.extend is stopped
             wait 9.9 s | it.retract is running and flap > 0
             wait 0.2 s | it.retract is stopped and flap <= 0 and amps in T1 < 0.001 A""",
    ),
    # six seconds out to 60 degrees, lit from ten degrees on; on the way in it goes dark below ten
    Trial(
        "landing-lamp",
        TRAVEL.replace("KIND", "landing-lamp")
        .replace(
            "KEYS",
            'ratings = { filament = "24 V 240 W", extend = "24 V 60 W", retract = "24 V 60 W" }\nbinds = { angle = "lamp-angle" }',
        )
        .replace("CONDITION", 'lamp-angle = { range = ["0 deg", "60 deg"] }'),
        WIRES + "; box.2 > it.L",
        """master on | it.filament is out and it.extend is stopped
             lever back | it.retract is stopped
             lever out | it.extend is running and it.filament is out
             wait 0.9 s | it.filament is out and 8 deg < lamp-angle < 10 deg
             wait 0.2 s | it.filament is lit and it.filament is not over-run and 10 A < amps in it.filament < 10.6 A
             wait 4.8 s | it.extend is running and lamp-angle < 60 deg
             wait 0.2 s | it.extend is stopped and lamp-angle >= 60 deg and it.filament is lit
             lever off | it.filament is lit
             lever back | it.retract is running
             wait 4.9 s | it.filament is lit
             wait 0.2 s | it.filament is out and it.retract is running
             wait 1 s | it.retract is stopped and lamp-angle <= 0 deg""",
    ),
]

TRIALS = (*PLAIN, *PARTING, *INERTIA, *MOVING)
