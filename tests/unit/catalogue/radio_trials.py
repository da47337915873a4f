"""Trials of sets, controllers and microphones; aerial and coaxial runs are recorded only."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import SOURCE, Trial


def set_by_volts(kind: str, element: str, start: str = "") -> Trial:
    """90 W whatever the volts above 19.2 V (80 % of 24), and so less current as they rise; weak below, dead below half."""
    name = f"it.{element}"
    return Trial(
        kind,
        f'{SOURCE}\n[item.it]\nkind = "{kind}"\nrating = "24 V 90 W"',
        "source.- > earth; source.+ > it.+; it.- > earth" + (f"; source.+ > it.{start}" if start else ""),
        f"""volts-set 0 | {name} is dead
            volts-set 28 | {name} is working and 3.18 A < amps in {name} < 3.25 A
            volts-set 24 | {name} is working and 3.71 A < amps in {name} < 3.79 A
            volts-set 19.5 | {name} is working and 4.56 A < amps in {name} < 4.67 A
            volts-set 18.5 | {name} is weak
            volts-set 8 | {name} is dead""",
        name="volts",
    )


SETS = [
    set_by_volts("receiver", "receiver"),
    set_by_volts("amplifier", "valves"),
    set_by_volts("rotary-transformer", "machine", "S"),
    Trial(
        "rotary-transformer",
        'it = { kind = "rotary-transformer", rating = "24 V 90 W" }\nstart = { kind = "switch" }',
        "box.1 > it.+; it.- > earth; box.2 > start.1; start.2 > it.S",
        "master on | it.machine is dead and amps in T1 < 0.001 A\nstart on | it.machine is working and it.start is pulled-in and 0.16 A < amps in T3 < 0.17 A\nstart off | it.machine is dead",
    ),
]

# One controller pattern or the other mates the base: 1 supply, 2 receive, 3 send, 4 earth.
RADIO = 'it = { kind = "radio-set", ratings = { receiver = "24 V 90 W", sender = "24 V 280 W" } }\nbase = { kind = "socket", ways = 6 }\n'
RADIO_WIRES = "box.1 > it.+; it.- > earth; box.2 > base.1; base.2 > it.R; base.3 > it.S; base.4 > earth"
QUIET = "it.receiver is dead and it.sender is dead"
HEARS = "it.receiver is working and it.sender is dead and 3.4 A < amps in T1 < 3.7 A"
SENDS = "it.sender is working and it.receiver is dead and 10 A < amps in T1 < 12 A"
CONTROLLERS = [
    Trial(
        "radio-set remote-controller socket",
        RADIO + 'control = { kind = "remote-controller", mates = "base" }',
        RADIO_WIRES,
        f"""master on | {QUIET} and amps in T1 < 0.001 A
             control.lever receive | {HEARS}
             control.lever send | {SENDS} and 0.16 A < amps in T4 < 0.17 A
             control.lever receive | {HEARS}
             control parted | {QUIET}
             control in, control.lever off | {QUIET}""",
    ),
    Trial(
        "radio-set remote-controller-push",
        RADIO + 'control = { kind = "remote-controller-push", mates = "base" }',
        RADIO_WIRES,
        f"""master on | {QUIET}
             control.push pressed | {QUIET} and it.send-relay is released
             control.lever on | {HEARS}
             control.push pressed | {SENDS}
             | {HEARS}
             control.lever off | {QUIET}""",
    ),
    # send alone does not put the sender on: the set must have been started first
    Trial(
        "radio-set",
        'it = { kind = "radio-set", ratings = { receiver = "24 V 90 W", sender = "24 V 280 W" } }\nr = { kind = "switch" }\ns = { kind = "switch" }',
        "box.1 > it.+; it.- > earth; box.2 > r.1; r.2 > it.R; box.3 > s.1; s.2 > it.S",
        f"master on, s on | {QUIET} and it.send-relay is pulled-in\nr on | {SENDS}\ns off | {HEARS}\nr off | {QUIET}",
        name="send alone",
    ),
    # no set is fitted: the shorting plug carries 2 to 4 round, and the lamp behind it lights
    Trial(
        "shorting-plug socket",
        'base = { kind = "socket", ways = 6 }\nit = { kind = "shorting-plug", ways = 6, mates = "base", links = [["2", "4"]] }\na = { kind = "lamp", rating = "24 V 24 W" }\nb = { kind = "lamp", rating = "24 V 24 W" }',
        "box.1 > base.2; base.4 > a.1; base.3 > b.1; a.2 > earth; b.2 > earth",
        "master on | it is in and a is lit and b is out\nit parted | a is out\nit in | a is lit",
    ),
]

# The microphone's push earths M through its granules: 60 ohm and the keying relay's 150, 18 of 25 V on the coil.
SPEECH = [
    Trial(
        "microphone microphone-socket radio-set",
        'socket = { kind = "microphone-socket" }\nhand = { kind = "microphone", mates = "socket" }\nit = { kind = "radio-set", ratings = { receiver = "24 V 90 W", sender = "24 V 280 W" } }\n'
        'keying = { kind = "relay", rating = "24 V 150 ohm" }\non = { kind = "switch" }',
        "box.1 > it.+; it.- > earth; box.2 > on.1; on.2 > it.R; box.3 > keying.1; keying.2 > socket.M; socket.E > earth; box.3 > keying.A; keying.B > it.S",
        f"""master on | {QUIET}
             on on | {HEARS}
             hand.push pressed | {SENDS} and 0.115 A < amps in hand.granules < 0.125 A
             | {HEARS}
             hand parted | {HEARS}
             hand.push pressed | {HEARS}
             hand in, hand.push pressed | {SENDS}""",
    ),
]

# Recorded and drawn, not solved: they join, and nothing is said against them.
RECORDED = [
    Trial(
        "aerial aerial-winch coaxial-socket",
        'it = { kind = "aerial" }\nwinch = { kind = "aerial-winch" }\nsocket = { kind = "coaxial-socket" }\nset = { kind = "receiver", rating = "24 V 90 W" }\n'
        'other = { kind = "receiver", rating = "24 V 60 W" }',
        "box.1 > set.+; set.- > earth; box.2 > other.+; other.- > earth; it.A ~ socket.A; socket.A ~ set.A; winch.A ~ other.A; winch.L ~ it.A",
        "master on | set is working and other is working and 3.4 A < amps in T1 < 3.7 A",
    ),
]

TRIALS = (*SETS, *CONTROLLERS, *SPEECH, *RECORDED)
