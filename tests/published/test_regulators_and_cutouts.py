"""Cut-outs, regulators and shunts of the catalogue against the figures that documents print for them."""

import re

import pytest
from tests.unit.catalogue.supply_trials import CUT, CUT_WIRES, MACHINE, MAIN, SELF
from tests.unit.catalogue.trials import Trial, disagreements, plant_of_trial

from loomlore.behaviour.operating import operated, read_setting, rest
from published.printed import half_digit, is_read, printed_rows

CLOSING = printed_rows("regulator_cutout_values", item="cut-out contacts close")
HOLDING = printed_rows("regulator_cutout_values", item="regulated mean, vibrating regulator")
DIFFERENCE = printed_rows("regulator_cutout_values", item="differential reverse-current relay closes")
SHUNT = printed_rows("regulator_cutout_values", item="ammeter shunt")


def numbers(printed: str) -> list[str]:
    return re.findall(r"\d+(?:\.\d+)?", printed)


def agrees(trial: Trial) -> None:
    assert not (wrong := disagreements(trial, plant_of_trial(trial))), "\n".join(wrong)


def test_every_row_was_read_by_somebody():
    assert all(is_read(row) for row in (*CLOSING, *HOLDING, *DIFFERENCE, *SHUNT))


@pytest.mark.parametrize("kind", ["cut-out", "control-box"])
@pytest.mark.parametrize("row", CLOSING, ids=lambda row: row["system"])
def test_a_cut_out_closes_at_the_printed_volts(kind, row):
    """Open just below the least that rounds to what is printed, closed just above the greatest."""
    least, most = numbers(row["value"])[0], numbers(row["value"])[-1]
    field = '\n[item.field]\nkind = "resistor"\nresistance = "12 ohm"\n' if kind == "control-box" else ""
    agrees(
        Trial(
            kind,
            CUT.replace("KIND", kind) + field,
            CUT_WIRES + ("; it.F > field.1; field.2 > earth" if field else ""),
            f"volts-set {float(least) - half_digit(least):.3f} | not it.cut-in\n"
            # a whole number's own half digit would let anything up to 27.5 V pass
            f"volts-set {float(most) + 0.05:.3f} | it.cut-in",
            supply=row["system"],
        )
    )


@pytest.mark.parametrize("regulator", ["vibrating-regulator", "regulator"])
@pytest.mark.parametrize("row", HOLDING, ids=lambda row: row["system"])
def test_a_regulator_holds_the_printed_mean(regulator, row):
    """A 14 or 28 volt regulator stands in a 12 or 24 volt installation; half the machine's load is on it."""
    mean, spread = (float(n) for n in numbers(row["value"]))
    supply = f"{mean * 12 / 14:g} V"
    items = MACHINE.replace("REGULATOR", regulator).replace("28 V 36 A", f"{mean:g} V 36 A")
    load = f"{mean / 18:.3f} ohm"
    agrees(
        Trial(
            regulator,
            items.replace("24 V 3 W", f"{supply} 3 W").replace("2.8 ohm", load),
            SELF + MAIN,
            f"master on, engine 1800 rev/min | {mean - spread} V < volts at machine.D < {mean + spread} V\n"
            f"on on | amps in load > 16 A and {mean - spread} V < volts at machine.D < {mean + spread} V",
            supply=supply,
        )
    )


def test_a_differential_relay_closes_on_the_printed_difference():
    """The bus is a full battery of twelve cells at rest: 25.2 V."""
    least, most = (float(n) for n in numbers(DIFFERENCE[0]["value"]))
    bus = 25.2
    agrees(
        Trial(
            "differential-cut-out",
            CUT.replace("KIND", "differential-cut-out"),
            CUT_WIRES,
            f"master on, volts-set {bus + least:.3f} | not it.cut-in\nvolts-set {bus + most:.3f} | it.cut-in",
        )
    )


def test_a_shunt_of_the_printed_ohms_drops_the_printed_millivolts():
    millivolts, amps, milliohms = (float(n) for n in numbers(SHUNT[0]["value"]))
    trial = Trial(
        "shunt",
        f'it = {{ kind = "shunt", resistance = "{milliohms} mohm" }}\n'
        'load = { kind = "resistor", resistance = "0.22 ohm" }',
        "box.1 > it.1; it.2 > load.1; load.2 > earth",
        "master on | amps in load > 90 A",
        fuse="200 A",
    )
    plant = plant_of_trial(trial)
    moves, _ = read_setting(plant, {"master": "on"})
    solution = operated(plant, rest(plant), moves).solution
    strip = plant.network.branch_of["it.strip"]
    per_ampere = solution.volts(strip) / solution.amps(strip)
    assert solution.amps(strip) > 90
    assert per_ampere * amps * 1000 == pytest.approx(millivolts, abs=half_digit("50"))
