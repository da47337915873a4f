"""Trials of lamps, windows, horns and of ignition."""

# ruff: noqa: E501  a trial's lines stand as they would in a record

from __future__ import annotations

from tests.unit.catalogue.trials import SOURCE, Trial

# Luminous output goes as volts to the 3.4 or 3.5, current to the 0.55: article on lamp rerating citing a maker (2007)
# and the Standard Handbook for Electrical Engineers, 11th ed. 1978, p. 22-8 (read in retrieved text; the rows
# "luminous output" and "current" of tests/published/data/lamp_exponents.csv). On 25.2 V, a full battery of twelve
# cells, a lamp stamped 24 V draws 1.05 ** 0.55 = 1.027 of its amperes; one stamped 50 V gives 0.091 to 0.097 of its
# light and one stamped 200 V 0.0007 to 0.0009, either side of a tenth and a thousandth by either exponent.
RERATING = "lamp_exponents.csv: current 0.55, luminous output 3.4 to 3.5 (read in retrieved text)"

FEED = 'on = { kind = "switch" }\n'
LEAD = "box.1 > on.1; on.2 > it.1; "


def lamp_by_volts(kind: str, back: str) -> list[Trial]:
    def item(rating: str) -> str:
        return f'{FEED}it = {{ kind = "{kind}", rating = "{rating}" }}'

    wires = LEAD.rstrip("; ") + back
    return [
        Trial(
            kind,
            item("24 V 24 W"),
            wires,
            "master on | it is out\non on | it is lit and it is not over-run and 1.017 A < amps in it < 1.037 A\non off | it is out",
            source=RERATING,
        ),
        Trial(
            kind,
            item("50 V 50 W"),
            wires,
            "master on, on on | it is glimmering and it is not lit",
            name="half volts",
            source=RERATING,
        ),
        Trial(
            kind,
            item("200 V 50 W"),
            wires,
            "master on, on on | it is out and volts across it > 24 V",
            name="eighth",
            source=RERATING,
        ),
        # 1.4 times its volts: three times its light
        Trial(
            kind,
            item("18 V 18 W"),
            wires,
            "master on, on on | it is over-run and it is lit",
            name="over-run",
            source=RERATING,
        ),
    ]


PLAIN = [
    *lamp_by_volts("lamp", "; it.2 > earth"),
    *lamp_by_volts("lamp-case-return", ""),
    *lamp_by_volts("warning-lamp", "; it.2 > earth"),
    *lamp_by_volts("fixed-landing-lamp", "; it.2 > earth"),
]

WINDOWS = [
    # its own circuit lights it; the push lights it from T whether that is live or dead, and off its own circuit
    Trial(
        "warning-lamp-push-to-test",
        f'{FEED}it = {{ kind = "warning-lamp-push-to-test", rating = "24 V 3 W" }}',
        LEAD + "box.2 > it.T; it.2 > earth",
        """master on | it is out
             it.test pressed | it is lit
             | it is out
             on on | it is lit and amps in T2 > 0.1 A
             it.test pressed | it is lit and amps in T2 < 0.001 A
             on off | it is out""",
    ),
    # T on a dead feed: the push takes it off its own circuit, and it stays dark
    Trial(
        "warning-lamp-push-to-test",
        f'{FEED}it = {{ kind = "warning-lamp-push-to-test", rating = "24 V 3 W" }}',
        LEAD + "it.T > earth; it.2 > earth",
        "master on, on on | it is lit\nit.test pressed | it is out",
        name="dead test feed",
    ),
    Trial(
        "twin-filament-lamp",
        'it = { kind = "twin-filament-lamp", ratings = { main = "24 V 36 W", auxiliary = "24 V 6 W" } }\non = { kind = "changeover-switch" }',
        "box.1 > on.C; on.A > it.M; on.B > it.A; it.E > earth",
        """master on | it.main is out and it.auxiliary is out
             on up | it.main is lit and it.auxiliary is out and 1.45 A < amps in T1 < 1.6 A
             on down | it.main is out and it.auxiliary is lit and 0.24 A < amps in T1 < 0.27 A""",
    ),
    *[
        Trial(
            kind,
            f'it = {{ kind = "{kind}", rating = "24 V 2.4 W" }}\non = {{ kind = "changeover-switch", first = "down", second = "locked" }}',
            "box.1 > on.C; on.A > it.R; on.B > it.G; it.E > earth",
            f"""master on | it.red is out and it.green is out
                  on down | it.red is lit and it.green is out and {low} A < amps in T1 < {high} A
                  on locked | it.red is out and it.green is lit and {low} A < amps in T1 < {high} A""",
        )
        for kind, low, high in (
            ("twin-window-indicator", 0.2, 0.21),
            ("twin-window-indicator-single", 0.1, 0.105),
        )
    ],
    Trial(
        "doubled-lamp",
        f'{FEED}it = {{ kind = "doubled-lamp", rating = "24 V 2.4 W" }}',
        LEAD + "it.2 > earth",
        "master on | it.window is out\non on | it.window is lit and it.a is lit and it.b is lit and 0.2 A < amps in T1 < 0.21 A",
    ),
]

# Two wires, nothing to the hull. Clear: both burn alike, at half the supply. An earth on a pole puts that pole's lamp
# out and brightens the other. The push joins the middle to the hull, so without it the fault shows nothing.
FAULTS = 'bar = { kind = "bus-bar" }\nplus = { kind = "switch" }\nminus = { kind = "switch" }\n'
FAULT_WIRES = "box.1 > it.+; it.- > bar.1; it.E > earth; box.1 > plus.1; plus.2 > earth; bar.2 > minus.1; minus.2 > earth"
EARTH_FAULTS = [
    Trial(
        "earth-fault-lamps bus-bar",
        FAULTS + 'it = { kind = "earth-fault-lamps", rating = "24 V 5 W" }',
        FAULT_WIRES,
        """master on | 12 V < volts across it.positive < 13 V and 12 V < volts across it.negative < 13 V
             it.push pressed | 12 V < volts across it.positive < 13 V and 12 V < volts across it.negative < 13 V and it.positive is not out
             plus on | 12 V < volts across it.positive < 13 V and 12 V < volts across it.negative < 13 V
             it.push pressed | it.positive is out and it.negative is lit
             plus off, minus on | it.negative is not out
             it.push pressed | it.positive is lit and it.negative is out""",
        negative="bar.bar",
    ),
    Trial(
        "earth-fault-lamps-always",
        FAULTS + 'it = { kind = "earth-fault-lamps-always", rating = "24 V 5 W" }',
        FAULT_WIRES,
        """master on | 12 V < volts across it.positive < 13 V and 12 V < volts across it.negative < 13 V and it.positive is not out
             plus on | it.positive is out and it.negative is lit
             plus off, minus on | it.positive is lit and it.negative is out""",
        negative="bar.bar",
    ),
]

# A horn at four tenths of its volts is faint, at a quarter silent.
HORNS = [
    Trial(
        kind,
        f'{FEED}it = {{ kind = "{kind}", rating = "{volts} V 42 W" }}',
        LEAD + "it.2 > earth",
        f"master on | it is silent\non on | it is {heard}\non off | it is silent",
        name=name,
    )
    for kind in ("horn", "bell")
    for volts, heard, name in ((24, "sounding", ""), (60, "faint", "weak"), (100, "silent", "starved"))
]

# Off earths the primary; dead means live, so a parted lead leaves it live. No battery has any part in it.
IGNITION = [
    Trial(
        "magneto magneto-switch joint-stud",
        'it = { kind = "magneto" }\non = { kind = "magneto-switch" }\nroot = { kind = "joint-stud" }',
        "it.P > root.1; root.2 > on.1; on.E > earth",
        """| on is off and it is stopped
             on on | it is live
             on off | it is stopped
             root parted | it is live
             root in, master on | it is stopped""",
    ),
    Trial(
        "insulated-magneto magneto-switch",
        'it = { kind = "insulated-magneto" }\non = { kind = "magneto-switch" }\nroot = { kind = "joint-stud" }',
        "it.P > on.1; on.E > earth; it.E > root.1; root.2 > earth",
        "| it is stopped\non on | it is live\non off, root parted | it is live",
    ),
    Trial(
        "dual-magneto-switch",
        'port = { kind = "magneto" }\nstarboard = { kind = "magneto" }\non = { kind = "dual-magneto-switch", first = "port-only", second = "starboard-only" }',
        "port.P > on.1; starboard.P > on.2; on.E > earth",
        """| port is stopped and starboard is stopped
             on port-only | port is live and starboard is stopped
             on starboard-only | port is stopped and starboard is live
             on both | port is live and starboard is live""",
    ),
    Trial(
        "dual-magneto-switch",
        'a = { kind = "magneto" }\nb = { kind = "magneto" }\non = { kind = "dual-magneto-switch" }',
        "a.P > on.1; b.P > on.2; on.E > earth",
        "on left | a is live and b is stopped\non right | a is stopped and b is live",
        name="own words",
    ),
    *[
        Trial(
            kind,
            f'{FEED}it = {{ kind = "{kind}", rating = "24 V 48 W" }}',
            LEAD.rstrip("; ") + back,
            "master on | not it.sparking\non on | it.sparking and 2 A < amps in it.primary < 2.2 A\non off | not it.sparking",
        )
        for kind, back in (("boost-coil", ""), ("ignition-coil", "; it.2 > earth"))
    ],
    # a trembler works from about half its volts
    *[
        Trial(
            kind,
            f'{SOURCE}\n[item.it]\nkind = "{kind}"\nrating = "24 V 48 W"',
            "source.- > earth; source.+ > it.1" + back,
            "volts-set 11 | not it.sparking\nvolts-set 13 | it.sparking\nvolts-set 8 | it.sparking\nvolts-set 6.5 | not it.sparking",
            name="volts",
        )
        for kind, back in (("boost-coil", ""), ("ignition-coil", "; it.2 > earth"))
    ],
    Trial(
        "glow-plugs",
        f'{FEED}it = {{ kind = "glow-plugs", rating = "24 V 240 W" }}',
        LEAD.rstrip("; "),
        "master on | it is cold\non on | it is hot and 10 A < amps in it < 10.6 A\non off | it is cold",
    ),
]

TRIALS = (*PLAIN, *WINDOWS, *EARTH_FAULTS, *HORNS, *IGNITION)
