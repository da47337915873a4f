"""Trials of the relays. Pull-in at about 60 % of rated volts, drop-out two or three times lower: common practice."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import SOURCE, Trial

LAMPS = "\n".join(f'{name} = {{ kind = "lamp", rating = "24 V 24 W" }}' for name in "abcd")
PUSH = 'push = { kind = "push" }'
COIL = 'rating = "24 V 80 ohm"'


def coil_by_volts(
    kind: str,
    coil: str = "it.coil",
    *,
    fed: str = "it.1",
    back: str = "it.2",
    more: str = COIL,
    supply: int = 24,
) -> Trial:
    """The coil alone: of 24 V pulled in at 15 and not at 14, still held at 7 and let go at 5; of 12 V at half."""
    low, rest, pulls, holds = (volts * supply / 24 for volts in (5, 14, 15, 7))
    return Trial(
        kind,
        f'it = {{ kind = "{kind}", {more.replace("24 V", f"{supply} V")} }}\n{SOURCE}',
        f"source.- > earth; source.+ > {fed}" + (f"; {back} > earth" if back else ""),
        f"""volts-set {low} | {coil} is released
            volts-set {rest} | {coil} is released
            volts-set {pulls} | {coil} is pulled-in
            volts-set {holds} | {coil} is pulled-in and {holds - 0.1} V < volts across {coil} < {holds + 0.1} V
            volts-set {low} | {coil} is released
            volts-set {rest} | {coil} is released""",
        name=f"at {supply} volts",
        supply=f"{supply} V",
    )


BY_VOLTS = [
    coil_by_volts(kind, supply=supply)
    for supply in (24, 12, 6)
    for kind in """relay break-relay two-pole-relay changeover-relay two-pole-changeover-relay starter-relay timer-relay
        timer-relay-restarting delay-relay holding-relay solenoid-valve release-solenoid counter""".split()
] + [
    coil_by_volts("master-relay", fed="it.B", back="it.X"),
    coil_by_volts(
        "inertia-starter", coil="it.mesh", fed="it.M", back="", more='rating = "24 V 1200 W", mesh = "12 ohm"'
    ),
    coil_by_volts(
        "rotary-transformer", coil="it.start", fed="it.S", back="it.-", more='rating = "24 V 90 W"'
    ),
    coil_by_volts("radio-set", coil="it.receive-relay", fed="it.R", back="it.-", more='rating = "24 V 90 W"'),
    coil_by_volts("radio-set", coil="it.send-relay", fed="it.S", back="it.-", more='rating = "24 V 90 W"'),
    coil_by_volts(
        "recording-camera", coil="it.shutter", fed="it.P", back="it.-", more='rating = "24 V 24 W"'
    ),
]


def pulled(kind: str) -> str:
    return f'it = {{ kind = "{kind}", {COIL} }}\n{PUSH}\n{LAMPS}'


COIL_WIRES = "box.1 > push.1; push.2 > it.1; it.2 > earth; a.2 > earth; b.2 > earth; c.2 > earth; d.2 > earth"

CONTACTS = [
    Trial(
        "relay push",
        pulled(kind="relay"),
        COIL_WIRES + "; box.2 > it.A; it.B > a.1",
        "push pressed | a is out\nmaster on | a is out and it is released\npush pressed | a is lit and it is pulled-in\n| a is out",
    ),
    Trial(
        "starter-relay",
        pulled(kind="starter-relay"),
        COIL_WIRES + "; box.2 > it.A; it.B > a.1",
        "master on | a is out\npush pressed | a is lit\n| a is out",
    ),
    Trial(
        "break-relay",
        pulled(kind="break-relay"),
        COIL_WIRES + "; box.2 > it.A; it.B > a.1",
        "master on | a is lit\npush pressed | a is out\n| a is lit",
    ),
    Trial(
        "two-pole-relay",
        pulled(kind="two-pole-relay"),
        COIL_WIRES + "; box.2 > it.A1; it.B1 > a.1; box.3 > it.A2; it.B2 > b.1",
        "master on | a is out and b is out\npush pressed | a is lit and b is lit and amps in T7 < 1.2 A\n| a is out and b is out",
    ),
    Trial(
        "changeover-relay",
        pulled(kind="changeover-relay"),
        COIL_WIRES + "; box.2 > it.C; it.M > a.1; it.R > b.1",
        "master on | a is out and b is lit\npush pressed | a is lit and b is out\n| a is out and b is lit",
    ),
    # as a reversing relay: it turns the supply of what hangs between C1 and C2
    Trial(
        "two-pole-changeover-relay",
        pulled(kind="two-pole-changeover-relay"),
        COIL_WIRES.replace("a.2 > earth; ", "")
        + "; box.2 > it.M1; it.M2 > earth; it.R1 > earth; box.2 > it.R2; it.C1 > a.1; a.2 > it.C2",
        "master on | volts across a < -24 V and a is lit\npush pressed | volts across a > 24 V and a is lit\n| volts across a < -24 V",
    ),
    Trial(
        "two-pole-changeover-relay",
        pulled(kind="two-pole-changeover-relay"),
        COIL_WIRES + "; box.2 > it.C1; box.3 > it.C2; it.M1 > a.1; it.R1 > b.1; it.M2 > c.1; it.R2 > d.1",
        "master on | a is out and b is lit and c is out and d is lit\npush pressed | a is lit and b is out and c is lit and d is out",
        name="poles",
    ),
    # B is ahead of the switch; earthing X pulls it in
    Trial(
        "master-relay",
        f'it = {{ kind = "master-relay", {COIL} }}\nmain = {{ kind = "switch" }}\n{LAMPS}',
        "box.1 > it.B; it.X > main.1; main.2 > earth; it.S > a.1; a.2 > earth; it.B > b.1; b.2 > earth; c.2 > earth; d.2 > earth",
        "master on | a is out and b is lit\nmain on | a is lit and it is pulled-in\nmain off | a is out and b is lit",
    ),
]

# A drop-out above the sagging bus: 0.1 ohm of battery and a starter of 0.1 ohm at standstill bring 25 V to half.
SAG = """
    it = {{ kind = "starter-relay", rating = "24 V 20 ohm", pulls-in = "16 V", drops-out = "{drops}" }}
    trolley = {{ kind = "battery", rating = "24 V 20 Ah", resistance = "100 mohm" }}
    starter = {{ kind = "starter", rating = "24 V 5760 W" }}
    push = {{ kind = "push" }}
""".format
SAG_WIRES = (
    "trolley.- > earth; trolley.+ > it.A; it.B > starter.S; it.A > push.1; push.2 > it.1; it.2 > earth"
)

SAGGING = [
    Trial(
        "starter-relay starter",
        SAG(drops="6 V"),
        SAG_WIRES,
        "| it is released and starter is stopped\npush pressed | it is pulled-in and 11 V < volts at trolley.+ < 13 V and amps in starter > 100 A\n| it is released",
        name="holds",
    ),
    Trial(
        "starter-relay",
        SAG(drops="14 V"),
        SAG_WIRES,
        "push pressed | volts at trolley.+ > 5 V",
        name="chatters",
        events="chatters",
    ),
]

TIMED_WIRES = "box.1 > push.1; push.2 > it.1; it.2 > earth; box.2 > it.A; it.B > a.1; a.2 > earth"


def timed(kind: str, more: str = "") -> str:
    return f'it = {{ kind = "{kind}", {COIL}{more} }}\n{PUSH}\na = {{ kind = "lamp", rating = "24 V 24 W" }}'


TIMERS = [
    Trial(
        "timer-relay",
        timed(kind="timer-relay"),
        TIMED_WIRES,
        """master on | a is out
             push pressed | a is lit
             wait 7.9 s | a is lit
             wait 0.2 s | a is out
             push pressed | a is lit
             wait 5 s | a is lit
             push pressed | a is lit
             wait 2.9 s | a is lit
             wait 0.2 s | a is out""",
    ),
    # held down it runs its time all the same, and not again by itself
    Trial(
        "timer-relay",
        timed(kind="timer-relay"),
        TIMED_WIRES,
        """master on, push pressed, hold push | a is lit
             wait 7.9 s | a is lit
             wait 0.2 s | a is out
             wait 20 s | a is out
             push released | a is out
             push pressed | a is lit""",
        name="held",
    ),
    Trial(
        "timer-relay",
        timed(kind="timer-relay", more=', runs = "3 s"'),
        TIMED_WIRES,
        "master on, push pressed | a is lit\nwait 2.9 s | a is lit\nwait 0.2 s | a is out",
        name="three seconds",
    ),
    Trial(
        "timer-relay-restarting",
        timed(kind="timer-relay-restarting"),
        TIMED_WIRES,
        """master on | a is out
             push pressed | a is lit
             wait 5 s | a is lit
             push pressed | a is lit
             wait 7.9 s | a is lit
             wait 0.2 s | a is out
             push pressed, hold push | a is lit
             wait 20 s | a is lit
             push released | a is lit
             wait 7.9 s | a is lit
             wait 0.2 s | a is out""",
    ),
    Trial(
        "delay-relay",
        timed(kind="delay-relay"),
        TIMED_WIRES,
        """master on | a is out
             push pressed, hold push | a is out
             wait 4.9 s | a is out
             push released | a is out
             push pressed, hold push | a is out
             wait 4.9 s | a is out
             wait 0.2 s | a is lit
             wait 60 s | a is lit
             push released | a is out""",
    ),
    # touched on; it holds itself by H until H loses its supply, and does not come back with it
    Trial(
        "holding-relay",
        f'it = {{ kind = "holding-relay", {COIL} }}\n{PUSH}\nkeep = {{ kind = "switch" }}\na = {{ kind = "lamp", rating = "24 V 24 W" }}',
        TIMED_WIRES + "; box.3 > keep.1; keep.2 > it.H",
        """master on, keep on | a is out
             push pressed | a is lit
             | a is lit and it.coil is released and it.holding is pulled-in
             keep off | a is out
             keep on | a is out and it.holding is released
             push pressed | a is lit
             master off
             master on | a is out
             keep off, push pressed | a is lit
             | a is out""",
    ),
]

TRIALS = (*BY_VOLTS, *CONTACTS, *SAGGING, *TIMERS)
