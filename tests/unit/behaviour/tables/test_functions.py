"""Function tables, read back from their words and held against the installation operated setting by setting.

The reader below knows nothing of how a table is made: it takes a cell's words as the crew would. Circuits
of common practice (two-way lighting, latching relay, interlock, buzzer, timer) carry no source.
"""

import csv
import io
import json
import re
from itertools import product
from pathlib import Path
from random import Random

import pytest

from loomlore.answers.functions import functions
from loomlore.answers.opening import open_dossier
from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.behaviour.readings import readings
from loomlore.behaviour.tables import tabulating
from loomlore.behaviour.tables.drafting import drafts_of
from loomlore.behaviour.tables.gathering import gathered_outcomes
from loomlore.behaviour.tables.tabulating import FunctionRow, function_tables
from loomlore.findings import UnknownName

EXAMPLES = Path(__file__).parents[4] / "examples"

# -- reading a table as the crew would -----------------------------------------------------------------------


def number(words):
    return float(re.sub(r"^about ", "", words).split()[0])


def cell_holds(cell, value):
    """Whether a lever standing at a value (a position's word, or a number) is what a cell says."""
    if cell == "any":
        return True
    if isinstance(value, str):
        value = value.replace("-", " ").lower()
        if cell.lower().startswith("not "):
            return value != cell[4:].lower()
        return value in cell.lower().split(" or ")
    if cell.startswith("below "):
        return value < number(cell[6:])
    if cell.startswith("above "):
        return value > number(cell[6:])
    low, high = cell.split(" to ")
    return number(low) <= value <= number(high)


def pair_holds(cell, one, other):
    """The same for two levers under one heading."""
    if cell == "any":
        return True
    if match := re.fullmatch(r"both (.+) or both (.+)", cell):
        return any(cell_holds(word, one) and cell_holds(word, other) for word in match.groups())
    if match := re.fullmatch(r"one (.+), (?:one|the other) (.+)", cell):
        a, b = match.groups()
        return (cell_holds(a, one) and cell_holds(b, other)) or (cell_holds(b, one) and cell_holds(a, other))
    if cell.startswith("either "):
        return cell_holds(cell[7:], one) or cell_holds(cell[7:], other)
    assert cell.startswith("both ")
    return cell_holds(cell[5:], one) and cell_holds(cell[5:], other)


def supply_holds(cell, name):
    return cell == "any" or (cell == "live" and name != "dead") or name in cell.split(" or ")


def read_off(table, setting, supply="", live=True):
    """What a table says is seen in a setting: column heads to values (two values for a double heading)."""
    said = set()
    for row in table.rows:
        holds = live or not table.live
        for head, cell in zip(table.columns, row.done, strict=True):
            value = supply if head == "supply" else setting[head]
            if head == "supply":
                holds = holds and supply_holds(cell, supply)
            elif isinstance(value, tuple):
                holds = holds and pair_holds(cell, *value)
            else:
                holds = holds and cell_holds(cell, value)
        if holds:
            said.add(row.seen)
    assert len(said) <= 1, f"{setting}: {said}"
    return said.pop() if said else table.otherwise


def seen_really(plant, levers):
    """Every item's state in a setting, from rest."""
    moves, findings = read_setting(plant, levers)
    assert not findings
    settled = operated(plant, rest(plant), moves)
    return {reading.name: reading.state.replace("-", " ") for reading in readings(plant, settled)}


def state_word(word):
    return "lit" if word == "over-run" else word


# -- the examples, setting by setting ------------------------------------------------------------------------

TUG_SUPPLY = {
    "dead": {},
    "battery": {"master-switch": "on"},
    "generator": {"master-switch": "on", "engine-speed": 2000.0},
}
LAUNCH_SUPPLY = {
    "dead": {},
    "port battery": {"battery-selector": "port"},
    "starboard battery": {"battery-selector": "starboard"},
    "quay supply": {"quay-supply": "in"},
    "generator": {"battery-selector": "port", "engine-speed": 1500.0},
}
OFF_ON, UP_DOWN, PUSH = ("off", "on"), ("up", "down"), ("released", "pressed")
CASES = [
    # dossier, service, supplies, {heading: (name, values)}, things
    (
        "glider-tug",
        "navigation",
        TUG_SUPPLY,
        {"navigation switch": ("navigation-switch", OFF_ON)},
        "Tail lamp",
    ),
    ("glider-tug", "hook", TUG_SUPPLY, {"release push": ("release-push", PUSH)}, "Hook release"),
    ("glider-tug", "starting", TUG_SUPPLY, {"starter push": ("starter-push", PUSH)}, "Starter"),
    (
        "glider-tug",
        "signals",
        TUG_SUPPLY,
        {"signal switch": ("signal-switch", OFF_ON), "signal push": ("signal-push", PUSH)},
        "Signal lamp",
    ),
    (
        "glider-tug",
        "cockpit",
        TUG_SUPPLY,
        {"cockpit dimmer": ("cockpit-dimmer", (0.0, 0.1, 0.3, 0.5, 0.62, 0.75, 0.9, 1.0))},
        "Cockpit lamp",
    ),
    (
        "harbour-launch",
        "navigation",
        LAUNCH_SUPPLY,
        {"navigation switch": ("navigation-switch", OFF_ON)},
        "Bow lamp",
    ),
]


@pytest.fixture(scope="module")
def opened():
    known = {}

    def get(name):
        if name not in known:
            known[name] = open_dossier(EXAMPLES / name)
        return known[name]

    return get


@pytest.mark.parametrize(
    ("dossier", "service", "supplies", "levers", "thing"), CASES, ids=lambda v: str(v)[:20]
)
def test_a_table_says_what_is_seen_in_every_setting(opened, dossier, service, supplies, levers, thing):
    plant = opened(dossier).plant()
    (table,) = function_tables(plant, service).tables
    for supply, brought in supplies.items():
        for values in product(*(choices for _, choices in levers.values())):
            setting = dict(zip(levers, values, strict=True))
            moved = {name: value for (name, _), value in zip(levers.values(), values, strict=True)}
            really = state_word(seen_really(plant, brought | moved)[thing])
            said = read_off(table, setting, supply=supply, live=supply != "dead")
            assert said[0] == really, (supply, setting)


def test_the_charging_lamp_follows_the_engine(opened):
    plant = opened("glider-tug").plant()
    table = next(t for t in function_tables(plant, "warning").tables if t.things == ("Charging lamp",))
    for speed, master in product((0.0, 400.0, 900.0, 1300.0, 2300.0), OFF_ON):
        really = seen_really(plant, {"engine-speed": speed, "master-switch": master})["Charging lamp"]
        said = read_off(table, {"engine speed": speed, "master switch": master})
        assert said == (state_word(really),), (speed, master)


def test_magnetos_are_live_unless_a_row_stops_them(opened):
    plant = opened("glider-tug").plant()
    (table,) = function_tables(plant, "ignition").tables
    assert table.otherwise == ("live", "live")
    for position in ("off", "left", "right", "both"):
        really = seen_really(plant, {"magneto-switch": position})
        said = read_off(table, {"magneto switch": position})
        assert said == (really["Left magneto"], really["Right magneto"]), position


def test_two_way_lighting_is_said_in_words(opened):
    # The launch's cabin lamp is wired as common practice has it: either door changes it.
    plant = opened("harbour-launch").plant()
    (table,) = function_tables(plant, "cabin").tables
    assert table.columns == ("fore door and aft door switches",)
    assert len(table.rows) == 1
    assert table.sayings == (
        "Either of the fore door and aft door switches changes the cabin lamp, however the other stands.",
    )
    for fore, aft in product(UP_DOWN, repeat=2):
        levers = {"battery-selector": "port", "fore-door-switch": fore, "aft-door-switch": aft}
        said = read_off(table, {table.columns[0]: (fore, aft)})
        assert said == (state_word(seen_really(plant, levers)["Cabin lamp"]),)


def test_a_live_service_speaks_of_no_supply_and_its_float_has_two_levels(opened):
    told = function_tables(opened("harbour-launch").plant(), "bilge")
    (table,) = told.tables
    assert not table.live
    assert not told.supplies
    assert table.columns == ("float switch",)
    assert [(r.done, r.seen) for r in table.rows] == [(("up",), ("running",))]
    (saying,) = table.sayings
    assert "until" in saying
    assert "bilge water" in saying


@pytest.mark.parametrize("name", ["glider-tug", "harbour-launch"])
def test_every_state_is_in_rows_of_its_outcome_and_no_other(opened, name):
    plant = opened(name).plant()
    states = 0
    for service in plant.installation.dossier.services:
        for draft in (
            draft for gathering in gathered_outcomes(plant, service) for draft in drafts_of(gathering)
        ):
            for vector, seen in draft.points.items():
                found = {row.outcome for row in draft.reduced.rows if tabulating._covers(draft, row, vector)}
                assert found == (set() if seen == draft.quiet else {seen})
                states += 1
    assert states > 50


def test_a_gauge_follows_its_tank(opened):
    tables = function_tables(opened("mail-amphibian").plant(), "fuel-contents").tables
    port = next(t for t in tables if t.things == ("Port gauge",))
    (row,) = port.rows
    assert row.done == ("pressed",)
    # The example's scales: 0-90 gal(UK) in flight, 0-84 afloat.
    low, high = (
        float(n) for n in re.match(r"shows (\S+) to (\S+) gal\(UK\) \(flight\)", row.seen[0]).groups()
    )
    assert 0 <= low < 5
    assert 85 < high <= 90
    assert port.sayings == ("The port gauge follows the port contents.",)


# -- the large example ---------------------------------------------------------------------------------------


def horn_sounds(water, wheels, throttles):
    """As the handbook of the example has it, silencer left alone."""
    wanted = "locked-up" if water else "locked-down"
    return any(t < 0.28 for t in throttles) and any(wheel != wanted for wheel in wheels)


def test_the_warning_horn_in_few_rows(opened):
    told = function_tables(opened("mail-amphibian").plant(), "horn")
    (table,) = told.tables
    assert told.settings >= 432
    assert len(table.rows) + 1 <= 15
    assert told.exact
    throttles, wheels, lever, silencer = table.columns
    for water, port, starboard in product((False, True), *[("locked-down", "moving", "locked-up")] * 2):
        for t in product((0.1, 0.35, 0.8), repeat=2):
            said = set()
            for row in table.rows:
                cells = dict(zip(table.columns, row.done, strict=True))
                assert cells[silencer] == "any" or cells[silencer].startswith("not ")
                if (
                    pair_holds(cells[throttles], *t)
                    and pair_holds(cells[wheels], port, starboard)
                    and cell_holds(cells[lever], "water" if water else "land")
                ):
                    said.add(row.seen)
            sounds = horn_sounds(water, (port, starboard), t)
            assert said == ({("sounding",)} if sounds else set()), (water, port, starboard, t)


def test_hail_lamps_keep_the_sneak_path(opened):
    # With one lamp at continuous and the other at keyed both burn continuously: the example's planted fault.
    tables = function_tables(opened("mail-amphibian").plant(), "hail-lamps").tables
    assert sum(len(t.rows) + 1 for t in tables) <= 10
    upper = next(t for t in tables if t.things == ("Upper hail lamp",))
    said = read_off(upper, dict(zip(upper.columns, ("keyed", "continuous", "released"), strict=True)))
    assert said == ("lit",)
    assert read_off(upper, dict(zip(upper.columns, ("keyed", "off", "released"), strict=True))) == ("out",)


def test_every_service_of_the_examples_has_its_tables_or_nothing_to_see(opened):
    for name in ("glider-tug", "harbour-launch"):
        answer = functions(opened(name))
        assert {s.service for s in answer.services} == set(opened(name).dossier.services)
        assert all(s.whole and s.exact for s in answer.services)
        assert sum(bool(s.tables) for s in answer.services) >= len(answer.services) - 1


# -- circuits of common practice (no source) -----------------------------------------------------------------

BENCH = """
[dossier]
format = 1
title = "Bench"
supply = "24 V"
return = "earth"
earthed = "negative"
basis = "carrying"

[item]
battery = { kind = "battery", rating = "24 V 45 Ah", resistance = "24 mohm" }
master-switch = { kind = "switch" }
fuse = { kind = "fuse", rating = "5 A" }

[service.supply]
title = "Supply"
usual = { size = "2.5 mm2" }

[service.supply.cables]
S1 = { from = "battery.+", to = "master-switch.1", length = "1 m" }
S2 = { from = "battery.-", to = "earth", length = "1 m" }
S3 = { from = "master-switch.2", to = "fuse.1", length = "1 m" }

[service.tried]
title = "Tried"
feed = "fuse"
usual = { size = "1.0 mm2" }
"""


def bench(folder, items, cables):
    """A little dossier with one service: items as ``name = kind rating``, cables as pairs of ends."""
    text = BENCH.replace("\n[service.supply]\n", f"\n{items}\n[service.supply]\n")
    rows = [
        f'T{n} = {{ from = "{a}", to = "{b}", length = "1 m" }}' for n, (a, b) in enumerate(cables, start=1)
    ]
    (folder / "bench.toml").write_text(
        text + "\n[service.tried.cables]\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    opened = open_dossier(folder)
    assert not [f for f in opened.reading.findings if f.severity.word == "error"]
    return opened.plant()


def test_a_latching_relay_remembers(tmp_path):
    plant = bench(
        tmp_path,
        """
start-push = { kind = "push" }
stop-push = { kind = "push-to-break" }
relay = { kind = "two-pole-relay", rating = "24 V 150 ohm" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
""",
        [
            ("fuse.2", "stop-push.1"),
            ("stop-push.2", "start-push.1"),
            ("start-push.2", "relay.1"),
            ("stop-push.2", "relay.A1"),
            ("relay.B1", "relay.1"),
            ("relay.2", "earth"),
            ("fuse.2", "relay.A2"),
            ("relay.B2", "lamp.1"),
            ("lamp.2", "earth"),
        ],
    )
    (table,) = function_tables(plant, "tried").tables
    assert table.columns == ("relay",)
    assert [(r.done, r.seen) for r in table.rows] == [(("pulled in",), ("lit",))]
    (saying,) = table.sayings
    pulls, releases = saying.split(", and stays in until ")
    assert "start push is pressed" in pulls
    assert "stop push is released" in pulls
    assert "stop push is pressed" in releases
    assert "supply is dead" in releases


def test_an_interlock_keeps_the_first(tmp_path):
    # Each relay's coil is fed through the other's break contact: whichever comes first keeps the other out.
    plant = bench(
        tmp_path,
        """
red-push = { kind = "push" }
green-push = { kind = "push" }
red-relay = { kind = "two-pole-changeover-relay", rating = "24 V 150 ohm" }
green-relay = { kind = "two-pole-changeover-relay", rating = "24 V 150 ohm" }
red-lamp = { kind = "lamp", rating = "24 V 6 W" }
green-lamp = { kind = "lamp", rating = "24 V 6 W" }
""",
        [
            ("fuse.2", "red-push.1"),
            ("fuse.2", "green-push.1"),
            ("red-push.2", "green-relay.C1"),
            ("green-relay.R1", "red-relay.1"),
            ("green-push.2", "red-relay.C1"),
            ("red-relay.R1", "green-relay.1"),
            ("red-relay.2", "earth"),
            ("green-relay.2", "earth"),
            ("fuse.2", "red-relay.C2"),
            ("red-relay.M2", "red-lamp.1"),
            ("red-lamp.2", "earth"),
            ("fuse.2", "green-relay.C2"),
            ("green-relay.M2", "green-lamp.1"),
            ("green-lamp.2", "earth"),
        ],
    )
    told = function_tables(plant, "tried")
    seen = {row.seen for table in told.tables for row in table.rows}
    (table,) = told.tables
    assert table.things == ("Red lamp", "Green lamp")
    assert seen == {("lit", "out"), ("out", "lit")}
    assert ("lit", "lit") not in seen
    (saying,) = table.sayings
    assert re.search(
        r"pulls in when the (red|green) push is pressed and the (red|green) push is released", saying
    )
    # Both pushes held while the supply comes on: which relay moves first decides.
    assert any("may end either way" in warning for warning in told.warnings)


def test_a_buzzer_chatters(tmp_path):
    plant = bench(
        tmp_path,
        """
call-push = { kind = "push" }
buzzer = { kind = "break-relay", rating = "24 V 150 ohm" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
""",
        [
            ("fuse.2", "call-push.1"),
            ("call-push.2", "buzzer.A"),
            ("buzzer.B", "buzzer.1"),
            ("buzzer.2", "earth"),
            ("buzzer.B", "lamp.1"),
            ("lamp.2", "earth"),
        ],
    )
    told = function_tables(plant, "tried")
    (table,) = told.tables
    assert [(r.done, r.seen) for r in table.rows] == [(("pressed",), ("chattering",))]
    (warning,) = told.warnings
    assert "call push is pressed" in warning
    assert "buzzer never comes to rest: it chatters" in warning


@pytest.mark.parametrize(
    ("kind", "words"), [("timer-relay", "for 8 s"), ("timer-relay-restarting", "until 8 s after")]
)
def test_a_timer_is_told_by_the_push_that_starts_it(tmp_path, kind, words):
    plant = bench(
        tmp_path,
        f"""
pump-push = {{ kind = "push" }}
timer = {{ kind = "{kind}", rating = "24 V 150 ohm" }}
pump = {{ kind = "pump", rating = "24 V 48 W" }}
""",
        [
            ("fuse.2", "pump-push.1"),
            ("pump-push.2", "timer.1"),
            ("timer.2", "earth"),
            ("fuse.2", "timer.A"),
            ("timer.B", "pump.1"),
            ("pump.2", "earth"),
        ],
    )
    (table,) = function_tables(plant, "tried").tables
    assert [(r.done, r.seen) for r in table.rows] == [(("running",), ("running",))]
    (saying,) = table.sayings
    assert words in saying
    assert "pump push" in saying


def test_a_setting_that_blows_a_fuse_is_named(tmp_path):
    # A lamp whose switch, at its second position, shorts the feed: 1 mohm across a 5 A fuse.
    plant = bench(
        tmp_path,
        """
switch = { kind = "two-way-switch", first = "lamp", second = "wrong" }
lamp = { kind = "lamp", rating = "24 V 6 W" }
""",
        [("fuse.2", "switch.C"), ("switch.A", "lamp.1"), ("lamp.2", "earth"), ("switch.B", "earth")],
    )
    told = function_tables(plant, "tried")
    assert any("switch is at WRONG" in w and "fuse blows" in w for w in told.warnings)


# -- the answer ----------------------------------------------------------------------------------------------


def test_the_answer_as_text_data_spreadsheet_and_page(opened):
    answer = functions(opened("glider-tug"), ["signals", "navigation"])
    assert [s.service for s in answer.services] == ["signals", "navigation"]
    text = str(answer)
    assert "SIGNALS TO THE GLIDER" in text
    assert "otherwise" in text
    data = json.loads(json.dumps(answer.as_data()))
    assert data["answer"] == "functions"
    signals = data["services"][0]["tables"][0]
    assert signals["fewest"] == "exact"
    assert len(signals["rows"]) == 2
    lines = list(csv.DictReader(io.StringIO(answer.as_csv())))
    assert {line["service"] for line in lines} == {"signals", "navigation"}
    assert sum(line["service"] == "signals" for line in lines) == 3
    page = answer.as_document()
    assert page.startswith("<!doctype html>")
    assert page.count("<table>") == 3  # two tables, and how each supply comes about
    assert "Not approved data" in page


def test_a_service_that_is_not_there(opened):
    with pytest.raises(UnknownName):
        functions(opened("glider-tug"), ["wireless"])


def test_two_makings_are_the_same(opened):
    plant = opened("harbour-launch").plant()
    once = [function_tables(plant, service) for service in plant.installation.dossier.services]
    other = open_dossier(EXAMPLES / "harbour-launch").plant()
    services = list(other.installation.dossier.services)
    Random(1).shuffle(services)
    again = {service: function_tables(other, service) for service in services}
    assert once == [again[told.service] for told in once]


def test_two_machines_that_cut_in_and_out_alike_are_told_in_one_sentence():
    """Of 945 and 908 the lower is where it first depends, of 1130 and 1140 the lower where it no longer does."""
    rows = (
        FunctionRow(("above about 1140 rev/min", "above about 1140 rev/min"), ("out",)),
        FunctionRow(("above about 1130 rev/min", "below about 945 rev/min"), ("out",)),
        FunctionRow(("below about 945 rev/min", "above about 1130 rev/min"), ("out",)),
        FunctionRow(("below about 908 rev/min", "below about 908 rev/min"), ("lit",)),
    )
    (saying,) = tabulating._gap_sayings(["port engine speed", "starboard engine speed"], rows)
    assert "Between about 908 rev/min and 1130 rev/min" in saying
    assert "speeds rise or fall" in saying
