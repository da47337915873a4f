"""The volt-ampere laws against handbook figures, each with its source and how it came here."""

import math
from itertools import pairwise

import pytest

from loomlore.network.laws import BAR, Filament, Generator, Motor, Rectifier, Rheostat, Straight, light
from published.printed import is_read, printed_rows

LAMP = Filament(volts=24.0, amps=1.0)


def exponent(quantity: str) -> float:
    """An exponent of volts, from a published row that was read; a range gives its lower end."""
    (row,) = printed_rows("lamp_exponents", quantity=quantity)
    assert is_read(row)
    return float(row["exponent_of_V_over_Vrated"].split()[0])


def amps(lamp: Filament, x: float) -> float:
    return lamp.amps_and_slope(x * lamp.volts)[0]


def test_a_filaments_current_rises_as_the_published_power_of_its_volts():
    """Within 0.02 of the printed 0.55 at rated volts, and over the volts that lamps are run at."""
    printed = exponent("current")
    current, slope = LAMP.amps_and_slope(LAMP.volts)
    assert slope * LAMP.volts / current == pytest.approx(printed, abs=0.02)
    for low, high in ((0.8, 1.0), (0.9, 1.1), (1.0, 1.2)):
        assert math.log(amps(LAMP, high) / amps(LAMP, low)) / math.log(high / low) == pytest.approx(
            printed, abs=0.02
        )


def test_a_filaments_watts_rise_as_the_published_power():
    printed = exponent("power")
    watts = 1.1 * amps(LAMP, 1.1) / amps(LAMP, 1.0)
    assert math.log(watts) / math.log(1.1) == pytest.approx(printed, abs=0.05)


def test_light_rises_as_the_published_power():
    assert math.log(light(26.4, 24.0)) / math.log(1.1) == pytest.approx(exponent("luminous output"), abs=0.1)
    # common practice: a 24 V lamp at 28 V gives 1.7 times its light
    assert light(28.0, 24.0) == pytest.approx(1.7, abs=0.05)


def test_a_filaments_resistance_is_that_of_tungsten():
    """Forsythe and Worthing 1925, with T rising as the published 0.42 power of the volts: within 7 %.

    Working temperatures of 2300 to 2800 K: from memory, common practice.
    """
    table = {int(r["T_K"]): float(r["R_over_R300"]) for r in printed_rows("tungsten_resistivity")}

    def ratio(kelvin: float) -> float:
        low = int(kelvin // 100) * 100
        return table[low] + (table[low + 100] - table[low]) * (kelvin - low) / 100

    assert 1 / ratio(2800) < LAMP.cold < 1 / ratio(2300)
    for hot in (2300, 2500, 2800):
        for x in (0.4, 0.6, 0.8, 1.0, 1.1, 1.2):
            tungsten = ratio(hot * x ** exponent("colour temperature")) / ratio(hot)
            law = (x * LAMP.volts / amps(LAMP, x)) / (LAMP.volts / LAMP.amps)
            assert law == pytest.approx(tungsten, rel=0.07), (hot, x)


def test_a_cold_filament_has_its_cold_resistance():
    current = amps(LAMP, 1e-6)
    assert 24e-6 / current == pytest.approx(24.0 * LAMP.cold, rel=1e-3)


@pytest.mark.parametrize("x", [-1.3, -0.4, 0.02, 0.3, 0.9, 1.4])
def test_a_filaments_slope_is_that_of_its_current(x):
    step = 1e-5 * LAMP.volts
    _, slope = LAMP.amps_and_slope(x * LAMP.volts)
    rise = amps(LAMP, x + 1e-5) - amps(LAMP, x - 1e-5)
    assert slope == pytest.approx(rise / (2 * step), rel=1e-5)


def test_a_rectifier_conducts_from_six_tenths_and_drops_its_volts_at_rated_current():
    """Silicon 0.6 to 0.7 V, 1.0 to 1.1 V at rated current: textbooks, from memory, unverified."""
    pieces = Rectifier(amps=1.0, drop=1.05).pieces(True, 0.0)
    assert pieces.amps(1.05) == pytest.approx(1.0)
    assert pieces.amps(0.60) < 1e-5
    assert 0.01 < pieces.amps(0.70) < 0.5
    assert -1e-4 < pieces.amps(-28.0) < 0


def test_a_motor_takes_its_stall_current_while_it_cannot_turn():
    motor = Motor(volts=24.0, amps=2.0, stall=4.0)
    assert 24.0 * motor.conductance(True, 0.0) == pytest.approx(2.0)
    assert 24.0 * motor.conductance(False, 0.0) == pytest.approx(8.0)
    assert motor.state(24.0, 8.0, False) == 0
    assert [motor.states[motor.state(v, 0.0, True)] for v in (5.0, 12.0, 20.0)] == [
        "stopped",
        "labouring",
        "running",
    ]


def test_a_rheostat_follows_its_lever_and_stops_at_its_ends():
    dimmer = Rheostat(at_0=0.0, at_1=150.0, low=0.0, high=10.0)
    assert 1 / dimmer.conductance(True, 5.0) == pytest.approx(75.0)
    assert 1 / dimmer.conductance(True, 20.0) == pytest.approx(150.0)
    assert dimmer.conductance(True, 0.0) == BAR
    assert Straight(resistance=0.0).conductance(True, 0.0) == BAR


def machine(**more) -> Generator:
    given = {
        "volts": 28.0, "amps": 36.0, "held": 28.0, "droop": 0.5, "residual": 1.5, "resistance": 0.04,
        "open_volts": 42.0, "cuts_in": 2200.0, "full_at": 3000.0,
    }  # fmt: skip
    return Generator(**(given | more))


def test_a_regulated_machine_holds_its_volts_less_its_droop():
    pieces = machine().pieces(True, 3000.0)
    assert pieces.amps(28.0) == pytest.approx(0.0)
    assert pieces.amps(27.75) == pytest.approx(-18.0)
    assert pieces.amps(27.5) == pytest.approx(-36.0)
    # beyond its limit volts give way, and the current hardly rises
    assert -36.1 < pieces.amps(10.0) < -36.0
    # driven backwards it is a motor on its armature resistance
    assert pieces.amps(28.4) == pytest.approx(0.4 / 0.04)


def test_a_machine_below_its_cutting_in_speed_gives_less_and_at_rest_nothing():
    """It builds up from about two thirds of that speed: common practice, no source; below, the residual alone."""
    law = machine()
    forces = [
        law.force(True, speed) for speed in (0.0, 1100.0, 2200.0 * 2 / 3, 2200.0 * 5 / 6, 2200.0, 3000.0)
    ]
    assert forces == pytest.approx([0.0, 0.75, 1.0, 14.0, 28.0, 28.0])
    limits = [law.limit(True, speed) for speed in (2200.0, 2600.0, 3000.0)]
    assert limits[1:] == pytest.approx([18.0, 36.0])
    assert 0 < limits[0] <= 0.1 * 36  # its field and little more at cutting in: common practice, no source


def test_a_machine_builds_up_gradually_and_carries_its_own_field_as_it_does():
    """No leap at the cutting-in speed: within a fifth under it each hundredth more of speed gives about as much more.

    The field, 12 ohm behind 2 ohm of pile, takes a twentieth of the machine's amperes, as is common practice.
    """
    law = machine()

    def volts(speed: float) -> float:
        low, high = 0.0, 40.0
        for _ in range(60):
            middle = (low + high) / 2
            given = -law.pieces(True, speed).amps(middle) - middle / 14.0
            low, high = (middle, high) if given > 0 else (low, middle)
        return low

    rising = [volts(2200.0 * n / 100) for n in range(80, 105)]
    steps = [b - a for a, b in pairwise(rising)]
    assert all(step >= -1e-6 for step in steps)
    assert max(steps) < 1.2
    assert rising[0] == pytest.approx(0.4 * 28.0, rel=0.1)
    assert rising[20] == pytest.approx(28.0, abs=0.5)


def test_a_machine_at_rest_is_its_armature():
    assert machine().pieces(True, 0.0).amps(28.0) == pytest.approx(28.0 / 0.04)


@pytest.mark.parametrize("law", [machine(mode="open"), machine(residual=2.0, mode="open")])
def test_a_broken_field_leaves_only_the_residual(law):
    """Common practice, no source: an open regulator leaves the residual volt or two."""
    assert law.force(True, 3000.0) == law.residual
    assert law.pieces(True, 3000.0).amps(law.residual) == pytest.approx(0.0, abs=1e-9)


def test_a_regulator_stuck_closed_gives_over_voltage():
    law = machine(mode="stuck")
    assert law.pieces(True, 3000.0).amps(42.0) == pytest.approx(0.0, abs=1e-9)
    assert law.pieces(True, 3000.0).amps(28.0) < -35.9


def test_a_third_brush_machine_is_always_at_its_limit():
    law = machine(held=None, amps=10.0)
    pieces = law.pieces(True, 3000.0)
    assert pieces.amps(14.0) == pytest.approx(-10.0, rel=1e-2)
    assert pieces.amps(28.0) == pytest.approx(-10.0, rel=1e-2)
    assert pieces.amps(42.0) == pytest.approx(0.0, abs=1e-9)
