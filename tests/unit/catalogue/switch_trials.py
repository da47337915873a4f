"""Trials of the switches, pushes, cam switches and dimmers."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import Trial

LAMP = 'lamp = { kind = "lamp", rating = "24 V 24 W" }'
TWO = 'a = { kind = "lamp", rating = "24 V 24 W" }\nb = { kind = "lamp", rating = "24 V 24 W" }'
THREE = TWO + '\nc = { kind = "lamp", rating = "24 V 24 W" }'
FOUR = THREE + '\nd = { kind = "lamp", rating = "24 V 24 W" }'
BACK = "a.2 > earth; b.2 > earth"


def made(kind: str) -> Trial:
    """A single pole in a lamp's lead: off it is out, on it is lit."""
    return Trial(
        kind,
        f'it = {{ kind = "{kind}" }}\n{LAMP}',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        "master on | it is off and lamp is out\nit on | lamp is lit\nit off | lamp is out",
    )


def springs(kind: str, rest: str, moved: str) -> Trial:
    """A push: the lamp changes while it is pressed, and goes back by itself."""
    return Trial(
        kind,
        f'it = {{ kind = "{kind}" }}\n{LAMP}',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        f"master on | lamp is {rest}\nit pressed | lamp is {moved}\n| it is released and lamp is {rest}",
    )


def held(kind: str, cam: str, rest: str, moved: str, positions: str = '"clear", "struck"') -> Trial:
    """A switch without a lever of its own: something of the world holds it."""
    clear, struck = (word.strip().strip('"') for word in positions.split(","))
    return Trial(
        kind,
        f'it = {{ kind = "{kind}", cams = {{ {cam} = "bolt is {struck}" }} }}\n{LAMP}\n'
        f"[condition]\nbolt = {{ positions = [{positions}] }}",
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        f"master on | lamp is {rest}\nbolt {struck} | lamp is {moved}\nbolt {clear} | lamp is {rest}",
    )


def changeover(kind: str, steps: str, more: str = "") -> Trial:
    """C to A or C to B, a lamp on each."""
    return Trial(
        kind,
        f'it = {{ kind = "{kind}"{more} }}\n{TWO}',
        f"box.1 > it.C; it.A > a.1; it.B > b.1; {BACK}",
        steps,
    )


ONE_POLE = [
    made("switch"),
    made("guarded-switch"),
    springs("push", "out", "lit"),
    springs("guarded-push", "out", "lit"),
    springs("push-to-break", "lit", "out"),
    springs("key", "out", "lit"),
    held("cam-switch", "main", "out", "lit"),
    held("cam-switch-break", "main", "lit", "out"),
    held("immersion-switch", "immersed", "out", "lit", '"dry", "wet"'),
]

POSITIONS = [
    Trial(
        "double-pole-switch",
        f'it = {{ kind = "double-pole-switch" }}\n{LAMP}',
        # the lamp's return comes back through the second pole
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > it.4; it.3 > earth",
        "master on | it is off and lamp is out\nit on | lamp is lit\nit off | lamp is out",
    ),
    Trial(
        "double-pole-switch",
        f'it = {{ kind = "double-pole-switch" }}\n{TWO}',
        f"box.1 > it.1; it.2 > a.1; box.2 > it.3; it.4 > b.1; {BACK}",
        "master on | a is out and b is out\nit on | a is lit and b is lit\nit off | a is out and b is out",
        name="poles",
    ),
    changeover(
        "two-way-switch",
        "master on | it is up and a is lit and b is out\nit down | a is out and b is lit\nit up | a is lit and b is out",
    ),
    Trial(
        "two-way-switch",
        f'fore = {{ kind = "two-way-switch" }}\naft = {{ kind = "two-way-switch" }}\n{LAMP}',
        "box.1 > fore.C; fore.A > aft.A; fore.B > aft.B; aft.C > lamp.1; lamp.2 > earth",
        """master on | lamp is lit
           fore down | lamp is out
           aft down | lamp is lit
           fore up | lamp is out
           aft up | lamp is lit""",
        name="two doors",
    ),
    changeover(
        "two-way-switch",
        "master on | it is land and a is lit\nit water | a is out and b is lit",
        ', first = "land", second = "water"',
    ),
    changeover(
        "changeover-switch",
        "master on | it is off and a is out and b is out\nit up | a is lit and b is out\nit down | a is out and b is lit\nit off | a is out and b is out",
    ),
    changeover(
        "spring-changeover-switch",
        "master on | a is out and b is out\nit up | a is lit and b is out\n| it is off and a is out\nit down | b is lit and a is out\n| b is out",
    ),
    changeover(
        "three-position-switch",
        "master on | it is off and a is out and b is out\nit low | a is lit and b is out\nit high | a is lit and b is lit\nit off | a is out and b is out",
    ),
    Trial(
        "two-pole-changeover-switch",
        f'it = {{ kind = "two-pole-changeover-switch" }}\n{FOUR}',
        "box.1 > it.C1; box.2 > it.C2; it.A1 > a.1; it.B1 > b.1; it.A2 > c.1; it.B2 > d.1; a.2 > earth; b.2 > earth; c.2 > earth; d.2 > earth",
        """master on | it is off and a is out and b is out and c is out and d is out
           it up | a is lit and b is out and c is lit and d is out and amps in T1 < 1.2 A
           it down | a is out and b is lit and c is out and d is lit""",
    ),
    Trial(
        "three-way-selector",
        f'it = {{ kind = "three-way-selector" }}\n{THREE}',
        "box.1 > it.C; it.A1 > a.1; it.A2 > b.1; it.A3 > c.1; a.2 > earth; b.2 > earth; c.2 > earth",
        """master on | it is off and a is out and b is out and c is out
           it first | a is lit and b is out and c is out
           it second | a is out and b is lit and c is out
           it third | a is out and b is out and c is lit""",
    ),
    Trial(
        "four-way-selector",
        f'it = {{ kind = "four-way-selector", first = "port" }}\n{FOUR}',
        "box.1 > it.C; it.A1 > a.1; it.A2 > b.1; it.A3 > c.1; it.A4 > d.1; a.2 > earth; b.2 > earth; c.2 > earth; d.2 > earth",
        """master on | it is off and a is out and b is out and c is out and d is out
           it port | a is lit and b is out and c is out and d is out
           it second | a is out and b is lit and c is out and d is out
           it third | a is out and b is out and c is lit and d is out
           it fourth | a is out and b is out and c is out and d is lit""",
    ),
    Trial(
        "changeover-push",
        f'it = {{ kind = "changeover-push" }}\n{TWO}',
        f"box.1 > it.C; it.M > a.1; it.B > b.1; {BACK}",
        "master on | a is out and b is lit\nit pressed | a is lit and b is out\n| a is out and b is lit",
    ),
    Trial(
        "double-pole-push",
        f'it = {{ kind = "double-pole-push" }}\n{TWO}',
        f"box.1 > it.1; it.2 > a.1; box.2 > it.3; it.4 > b.1; {BACK}",
        "master on | a is out and b is out\nit pressed | a is lit and b is lit and amps in T1 < 1.2 A\n| a is out and b is out",
    ),
]

BOX = f'it = {{ kind = "signalling-box" }}\n{TWO}'
RETURNS = f'it = {{ kind = "signalling-box-return" }}\n{TWO}'
SIGNALLING = """master on | a is out and b is out
    it.key pressed | a is out and b is out
    it.upper continuous | a is lit and b is out
    it.upper keyed | a is out and b is out
    it.key pressed | a is lit and b is out
    | a is out
    it.upper off, it.lower continuous | a is out and b is lit
    it.lower keyed | b is out
    it.key pressed | b is lit and a is out
    it.upper continuous | a is lit and b is out
    it.key pressed | a is lit and b is lit
    it.upper keyed | a is out and b is out
    it.lower continuous | a is out and b is lit
    it.lower keyed, it.upper continuous | a is lit and b is out"""
RETURN_WIRES = "box.1 > it.S; it.U > a.1; it.D > b.1; a.2 > it.RU; b.2 > it.RD; it.E > earth"

SIGNALS = [
    # feeds are switched: joined returns do no harm
    Trial("signalling-box", BOX, f"box.1 > it.S; it.U > a.1; it.D > b.1; {BACK}", SIGNALLING),
    Trial(
        "signalling-box",
        BOX,
        "box.1 > it.S; it.U > a.1; it.D > b.1; a.2 > b.2; b.2 > earth",
        SIGNALLING,
        name="returns joined",
    ),
    Trial(
        "signalling-box key",
        BOX + '\nsecond = { kind = "key" }',
        f"box.1 > it.S; it.U > a.1; it.D > b.1; {BACK}; box.1 > second.1; second.2 > it.K",
        "master on, it.upper keyed | a is out\nsecond pressed | a is lit\n| a is out\nit.key pressed | a is lit",
        name="second key",
    ),
    # returns are keyed: each must come back by itself
    Trial("signalling-box-return", RETURNS, RETURN_WIRES, SIGNALLING),
    Trial(
        "signalling-box-return",
        RETURNS
        + '\nc = { kind = "lamp", rating = "24 V 24 W" }\nd = { kind = "lamp", rating = "24 V 24 W" }',
        RETURN_WIRES + "; it.U > c.1; it.D > d.1; c.2 > earth; d.2 > earth",
        "master on | c is out and d is out\nit.upper keyed | c is lit and d is out\nit.lower keyed, it.upper off | c is out and d is lit",
        name="feeds",
    ),
    # the sneak: one shared return, one lamp continuous and the other keyed, and the keyed one burns untouched
    Trial(
        "signalling-box-return",
        RETURNS,
        RETURN_WIRES + "; it.RU > it.RD",
        """master on, it.upper continuous | a is lit and b is out
           it.upper keyed, it.lower keyed | a is out and b is out
           it.upper continuous, it.lower keyed | it.key is released and a is lit and b is lit
           it.upper keyed, it.lower continuous | it.key is released and a is lit and b is lit""",
        name="sneak",
    ),
    Trial(
        "signalling-box-return key",
        RETURNS + '\nsecond = { kind = "key" }',
        RETURN_WIRES + "; it.K > second.1; second.2 > earth",
        "master on, it.upper keyed | a is out\nsecond pressed | a is lit\n| a is out",
        name="second key",
    ),
]

HORN = 'horn = { kind = "horn", rating = "24 V 42 W" }'
THROTTLE = "[condition]\nthrottle = { range = [0, 1], start = 0.6 }"

HELD = [
    *[
        Trial(
            kind,
            f'it = {{ kind = "{kind}", cams = {{ {cam} = "bolt is home" }} }}\n{TWO}\n[condition]\nbolt = {{ positions = ["back", "home"] }}',
            f"box.1 > it.C; it.M > a.1; it.B > b.1; {BACK}",
            "master on | a is out and b is lit\nbolt home | a is lit and b is out\nbolt back | a is out and b is lit",
        )
        for kind, cam in (("cam-changeover-switch", "main"), ("striker-switch", "struck"))
    ],
    Trial(
        "cam-switch-silenced",
        f'it = {{ kind = "cam-switch-silenced", cams = {{ main = "throttle < 0.28", reset = "throttle > 0.45" }} }}\n{HORN}\n{THROTTLE}',
        "box.1 > it.1; it.2 > horn.1; horn.2 > earth",
        """master on | horn is silent
           throttle 0.1 | horn is sounding
           it.push pressed | horn is silent
           | horn is silent
           throttle 0.4 | horn is silent
           throttle 0.1 | horn is silent
           throttle 0.6 | horn is silent
           throttle 0.1 | horn is sounding""",
    ),
    # with no reset of its own it lets go as soon as the cam lets go
    Trial(
        "cam-switch-silenced",
        f'it = {{ kind = "cam-switch-silenced", cams = {{ main = "throttle < 0.28" }} }}\n{HORN}\n{THROTTLE}',
        "box.1 > it.1; it.2 > horn.1; horn.2 > earth",
        "master on, throttle 0.1 | horn is sounding\nit.push pressed | horn is silent\nthrottle 0.3\nthrottle 0.1 | horn is sounding",
        name="own reset",
    ),
    Trial(
        "silencing-push",
        f'it = {{ kind = "silencing-push", cams = {{ reset = "throttle > 0.45" }} }}\n{HORN}\n{THROTTLE}',
        "box.1 > it.1; it.2 > horn.1; horn.2 > earth",
        """master on | horn is sounding
           throttle 0.1 | horn is sounding
           it.push pressed | horn is silent
           | it.silenced and horn is silent
           throttle 0.6 | horn is sounding""",
    ),
    Trial(
        "silencing-push-cancelled",
        f'it = {{ kind = "silencing-push-cancelled", cams = {{ reset = "throttle > 0.45", first = "selector is land" }} }}\n{HORN}\n{THROTTLE}\n[control]\nselector = {{ positions = ["land", "water"] }}',
        "box.1 > it.1; it.2 > horn.1; horn.2 > earth",
        """master on, throttle 0.1 | horn is sounding
           it.push pressed | horn is silent
           | horn is silent
           selector water | horn is sounding
           it.push pressed | horn is silent
           selector land | horn is sounding
           it.push pressed | horn is silent
           throttle 0.6 | horn is sounding
           throttle 0.1, selector water | horn is sounding
           it.push pressed | horn is silent
           throttle 0.6 | horn is sounding""",
    ),
]


def follows(kind: str, name: str, spread: str, steps: str, wiring: str = "", start: str = "") -> Trial:
    """A switch with two thresholds: it stays as it was between them."""
    more = f", start = {start}" if start else ""
    return Trial(
        kind,
        f'it = {{ kind = "{kind}", binds = {{ {name} = "amount" }} }}\n{LAMP}\n[condition]\namount = {{ range = {spread}{more} }}',
        wiring or "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        steps,
    )


PRESSURE = """master on | lamp is lit
    amount 1.8 lb/in2 | lamp is lit
    amount 2.5 lb/in2 | lamp is out
    amount 1.8 lb/in2 | lamp is out
    amount 1.2 lb/in2 | lamp is lit"""

FOLLOWING = [
    follows("pressure-switch", "pressure", '["0 lb/in2", "10 lb/in2"]', PRESSURE),
    follows(
        "pressure-switch-case-return",
        "pressure",
        '["0 lb/in2", "10 lb/in2"]',
        PRESSURE,
        "box.1 > lamp.1; lamp.2 > it.1",
    ),
    follows(
        "float-switch",
        "level",
        "[0, 1]",
        "master on | lamp is out\namount 0.4 | lamp is out\namount 0.7 | lamp is lit\namount 0.4 | lamp is lit\namount 0.1 | lamp is out",
    ),
    follows(
        "thermal-switch",
        "temperature",
        '["-20 °C", "150 °C"]',
        "master on | lamp is out\namount 90 °C | lamp is out\namount 100 °C | lamp is lit\namount 90 °C | lamp is lit\namount 80 °C | lamp is out",
        start='"15 °C"',
    ),
    # knocked once, it stays made; reset only when the knock is over
    Trial(
        "inertia-switch",
        f'it = {{ kind = "inertia-switch", cams = {{ impact = "crash is hard" }} }}\n{LAMP}\n[condition]\ncrash = {{ positions = ["none", "hard"] }}',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        """master on | lamp is out
           it.reset pressed | lamp is out
           crash hard | lamp is lit
           it.reset pressed | lamp is lit
           crash none | lamp is lit
           it.reset pressed | lamp is out
           | lamp is out""",
    ),
    Trial(
        "flame-switch",
        f'it = {{ kind = "flame-switch", cams = {{ alight = "bay is alight" }} }}\n{LAMP}\n[condition]\nbay = {{ positions = ["cool", "alight"] }}',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        "master on | lamp is out\nbay alight | lamp is lit\nbay cool | it.tripped and lamp is lit\nmaster off | lamp is out\nmaster on | lamp is lit",
    ),
]

DIMMERS = [
    # off at 0; 150 ohm in series just above it; at 1 no more than 0.2 ohm: a 24 W lamp of about 1 A loses 0.2 V
    Trial(
        "dimmer",
        f'it = {{ kind = "dimmer" }}\n{LAMP}',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        """master on | lamp is out and amps in T1 < 0.001 A
           it.knob 0.05 | 0.15 A < amps in T1 < 0.18 A and lamp is not lit
           it.knob 0.97 | lamp is lit and 1 V < volts across it.track < 10 V
           it.knob 1 | lamp is lit and 0.15 V < volts across it.track < 0.25 V
           it.knob 0 | lamp is out and amps in T1 < 0.001 A""",
    ),
    # 24 ohm before a 24 W lamp: less than half the volts and a tenth of the light, so that it glimmers or burns low
    Trial(
        "stepped-dimmer",
        f'it = {{ kind = "stepped-dimmer", low = "24 ohm" }}\n{LAMP}',
        "box.1 > it.1; it.2 > lamp.1; lamp.2 > earth",
        """master on | it is off and lamp is out
           it low | 6 V < volts across lamp < 13 V
           it high | volts across lamp > 24 V and lamp is lit
           it off | lamp is out and amps in T1 < 0.001 A""",
    ),
]

TRIALS = (*ONE_POLE, *POSITIONS, *SIGNALS, *HELD, *FOLLOWING, *DIMMERS)
