"""Solved networks of two textbooks and a handbook, each to the digits it prints.

OpenStax College Physics (modules m42356, m42357, m42359, m42362) and University Physics 2 (m58455), and
DOE-HDBK-1011/1-92 module ES-02: all read in retrieved text. A current that comes out negative is part of the
published answer.
"""

import json

import pytest

from loomlore.network.laws import Source
from published.printed import agrees_with_print, is_read, printed_rows
from wiring import Operated, Wiring

STIFF = 1e-6
"""Ohms inside a source that the book takes for ideal: five orders under the last printed digit."""


def case(name: str) -> tuple[dict, dict[str, str]]:
    """The inputs of a printed case, and its answers as printed."""
    (row,) = printed_rows("kirchhoff_examples", id=name)
    assert is_read(row)
    return json.loads(row["inputs"]), json.loads(row["published"], parse_float=str, parse_int=str)


def held(printed: dict[str, str], **values: float) -> None:
    assert printed.keys() == values.keys()
    for name, value in values.items():
        assert agrees_with_print(value, printed[name]), (name, value, printed[name])


def source(wiring: Wiring, name: str, a: str, volts: float, ohms: float = STIFF, b: str = "0") -> None:
    wiring.add(name, a, b, Source(volts=volts, resistance=ohms))


def delivered(bench: Operated, name: str) -> float:
    return -bench.amps(name)


def watts(bench: Operated, name: str) -> float:
    return bench.solution.watts(bench.network.branch_of[name])


def test_two_sources_one_of_which_is_charged():
    given, printed = case("CP-kirchhoff")
    wiring = Wiring()
    source(wiring, "E1", "a", given["E1_V"], given["R2+r1"])
    source(wiring, "E2", "a", given["E2_V"], given["R3+r2"])
    wiring.wire("R1", "a", "0", given["R1"])
    bench = Operated(wiring)
    assert bench.amps("E1") > 0
    held(printed, I1=bench.amps("R1"), I2=delivered(bench, "E1"), I3=delivered(bench, "E2"))


def test_three_in_series():
    given, printed = case("CP-series")
    wiring = Wiring()
    source(wiring, "E", "a", given["V"])
    for name, a, b, ohms in zip(("R1", "R2", "R3"), "abc", "bc0", given["R"], strict=True):
        wiring.wire(name, a, b, ohms)
    bench = Operated(wiring)
    amps = delivered(bench, "E")
    volts = {f"V{n}": bench.volts(f"R{n}") for n in (1, 2, 3)}
    power = {f"P{n}": watts(bench, f"R{n}") for n in (1, 2, 3)}
    held(printed, Rt=given["V"] / amps, I=amps, **volts, **power, P=-watts(bench, "E"))


def test_three_in_parallel():
    given, printed = case("CP-parallel")
    wiring = Wiring()
    source(wiring, "E", "a", given["V"])
    for name, ohms in zip(("R1", "R2", "R3"), given["R"], strict=True):
        wiring.wire(name, "a", "0", ohms)
    bench = Operated(wiring)
    amps = {f"I{n}": bench.amps(f"R{n}") for n in (1, 2, 3)}
    power = {f"P{n}": watts(bench, f"R{n}") for n in (1, 2, 3)}
    total = delivered(bench, "E")
    held(printed, Rt=given["V"] / total, I=total, **amps, **power, P=-watts(bench, "E"))


def test_a_feeder_and_two_in_parallel():
    given, printed = case("CP-seriesparallel")
    wiring = Wiring()
    source(wiring, "E", "a", given["V"])
    wiring.wire("R1", "a", "b", given["R1"])
    wiring.wire("R2", "b", "0", given["R2"])
    wiring.wire("R3", "b", "0", given["R3"])
    bench = Operated(wiring)
    amps = bench.amps("R1")
    held(
        printed,
        Rp=bench.volts("R2") / amps,
        Rt=given["V"] / amps,
        I=amps,
        V1=bench.volts("R1"),
        Vp=bench.volts("R2"),
        I2=bench.amps("R2"),
        P2=watts(bench, "R2"),
        I3=bench.amps("R3"),
    )


@pytest.mark.parametrize(
    "name", ["CP-battery-10-0.1", "CP-battery-0.5-0.1", "CP-battery-0.5-0.5", "CP-flashlight"]
)
def test_a_source_with_its_own_resistance(name):
    given, printed = case(name)
    wiring = Wiring()
    source(wiring, "E", "a", given["E"], given["r"])
    wiring.wire("R", "a", "0", given["R"])
    bench = Operated(wiring)
    values = {"I": bench.amps("R"), "Vt": bench.volts("R"), "P": watts(bench, "R")}
    held(printed, **{key: values[key] for key in printed})


def test_a_source_on_charge():
    given, printed = case("CP-charge-r")
    wiring = Wiring()
    source(wiring, "E", "a", given["E"], float(printed["r"]))
    source(wiring, "charger", "a", given["Vt"])
    bench = Operated(wiring)
    assert bench.amps("E") == pytest.approx(-given["I"], rel=1e-5)
    held(printed, r=(bench.volts("E") - given["E"]) / bench.amps("E"))


def test_a_balanced_bridge_carries_nothing():
    """Printed as 1.56 kohm; 2500 ohm x 0.625 is 1562.5."""
    given, printed = case("CP-bridge")
    for ohms, sign in ((given["R3"] * given["ratio"], 0), (1500.0, 1), (1600.0, -1)):
        wiring = Wiring()
        source(wiring, "E", "a", 10.0)
        wiring.wire("R1", "a", "left", 1000.0)
        wiring.wire("R2", "left", "0", 1000.0 * given["ratio"])
        wiring.wire("R3", "a", "right", given["R3"])
        wiring.wire("Rx", "right", "0", ohms)
        wiring.wire("galvanometer", "left", "right", 50.0)
        amps = Operated(wiring).amps("galvanometer")
        assert (abs(amps) < 1e-12) if sign == 0 else (amps * sign > 1e-6)
        if sign == 0:
            assert agrees_with_print(ohms / 1000, f"{float(printed['Rx']) / 1000:.2f}")


def test_one_source_drives_another_backwards():
    """The printed denominator reads 10 + 30 + 10; the figure and its powers need 20 for the last."""
    given, printed = case("UP-kirchhoff-2")
    wiring = Wiring()
    source(wiring, "V2", "a", given["V2"])
    wiring.wire("R1", "a", "b", given["R"][0])
    wiring.wire("R2", "b", "c", given["R"][1])
    source(wiring, "V1", "c", given["V1"], b="d")
    wiring.wire("R3", "d", "0", given["R"][2])
    bench = Operated(wiring)
    power = {f"PR{n}": watts(bench, f"R{n}") for n in (1, 2, 3)}
    held(printed, I=bench.amps("R1"), **power, PV1=watts(bench, "V1"), Psource=-watts(bench, "V2"))


@pytest.mark.parametrize("name", ["DOE-series-1", "DOE-series-2"])
def test_the_handbooks_series_circuits(name):
    given, printed = case(name)
    volts = given.get("V") or float(printed["Vt"])
    wiring = Wiring()
    source(wiring, "E", "a", volts)
    for n, (a, b, ohms) in enumerate(zip("abc", "bc0", given["R"], strict=True)):
        wiring.wire(f"R{n}", a, b, ohms)
    bench = Operated(wiring)
    if "I" in given:
        assert bench.amps("R0") == pytest.approx(given["I"], rel=1e-6)
    values = {
        "Rt": volts / bench.amps("R0"),
        "I": bench.amps("R0"),
        "Vt": sum(bench.volts(f"R{n}") for n in range(3)),
    }
    held(printed, **{key: values[key] for key in printed})
