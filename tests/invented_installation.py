"""An invented installation of any size: batteries, machines, fuse boxes and services, for speed and comparison.

At size 1 it has 28 services in three fuse boxes, two machines with cut-outs and failure lamps, a master relay,
starters behind relays, some 460 nodes and 280 cables. Each further unit of size adds three boxes and 28
services on feeders of their own.
"""

from dataclasses import dataclass
from random import Random

from loomlore.network.conditions import AllOf, Condition, Measured
from loomlore.network.laws import (
    Battery,
    Coil,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Magneto,
    Motor,
    Rectifier,
    Rheostat,
    Straight,
)
from loomlore.network.model import Network
from loomlore.network.settling import Memory, Settled, at_rest, moved, settle
from loomlore.network.solving import prepare
from wiring import Wiring, pulled

SPEED = 4000.0


@dataclass(frozen=True)
class Setting:
    """Which levers are on, at which speed the engines turn."""

    name: str
    on: tuple[str, ...]
    speed: float


def installation(size: int = 1) -> Network:
    wiring = Wiring(supply=24.0)
    _supply(wiring, size)
    for unit in range(size):
        for box, ways in (("A", 8), ("B", 8), ("C", 12)):
            _box(wiring, f"{box}{unit}", ways, Random(f"{box}{unit}"))
    for engine in ("port", "starboard"):
        _starter(wiring, engine)
        wiring.add(f"{engine} magneto", f"{engine} magneto", "0", Magneto())
        wiring.wire(f"{engine} ignition lead", f"{engine} magneto", f"{engine} ignition", 0.02)
        wiring.contact(
            f"{engine} ignition switch", f"{engine} ignition", "0", wiring.on(f"{engine} ignition")
        )
    return wiring.network()


def _supply(wiring: Wiring, size: int) -> None:
    """Battery, master relay and machines, the larger the more they feed."""
    law = Battery(open_volts=25.2, resistance=0.024 / size, charging_volts=27.5, float_amps=0.9 * size)
    wiring.add("battery", "battery +", "battery -", law)
    wiring.wire("battery earth", "battery -", "battery bolt", 0.0006 / size)
    wiring.wire("battery bolt", "battery bolt", "0", 0.0005 / size)
    wiring.wire("battery cable", "battery +", "live bus", 0.0008 / size)
    wiring.wire("master coil cable", "live bus", "master coil", 0.05)
    coil = Coil(resistance=41.0, pulls_in=14.0, drops_out=6.0)
    wiring.remembered("master relay", "master coil", "master switch", coil)
    wiring.contact("master switch", "master switch", "0", wiring.on("master"))
    wiring.contact("master contact", "live bus", "main bus", pulled(0), ohms=0.0008 / size)
    wiring.wire("voltmeter", "main bus", "0", 4000.0)
    wiring.lever("speed", low=0.0, high=SPEED, start=0.0)
    for side, held in (("port", 27.9), ("starboard", 28.1)):
        _machine(wiring, side, held, size)


def _machine(wiring: Wiring, side: str, held: float, size: int) -> None:
    law = Generator(
        volts=28.0,
        amps=36.0 * size,
        held=held,
        droop=0.5,
        residual=1.5,
        resistance=0.04 / size,
        open_volts=42.0,
        cuts_in=2200.0,
        full_at=3000.0,
    )
    d, a, shunt = f"{side} D", f"{side} A", f"{side} shunt"
    wiring.add(f"{side} machine", d, f"{side} E", law, follows=1)
    wiring.wire(f"{side} bond", f"{side} E", "0", 0.001 / size)
    wiring.wire(f"{side} suppressor", d, f"{side} E", 1e9)
    wiring.wire(f"{side} main", d, a, 0.0123 / size)
    latch = len(wiring.variables)
    cut_out = wiring.contact(f"{side} cut-out", a, shunt, pulled(latch), ohms=0.002 / size)
    closes = Measured(of="volts", a=wiring.node(a), limits=((">", 26.8),))
    opens = Measured(of="amps", a=cut_out, limits=(("<", -5.0 * size),))
    wiring.latch(f"{side} cut-out", set=closes, release=opens)
    wiring.wire(f"{side} ammeter", shunt, "main bus", 0.001 / size)
    wiring.wire(f"{side} lamp lead", "main bus", f"{side} lamp", 0.05)
    wiring.add(f"{side} failure lamp", f"{side} lamp", f"{side} rectifier", Filament(volts=24.0, amps=0.1))
    wiring.add(f"{side} rectifier", f"{side} rectifier", a, Rectifier(amps=0.5, drop=0.8))


def _starter(wiring: Wiring, engine: str) -> None:
    number = len(wiring.variables)
    wiring.wire(f"{engine} starter push lead", "main bus", f"{engine} push", 0.1)
    wiring.contact(
        f"{engine} starter push", f"{engine} push", f"{engine} starter coil", wiring.on(f"{engine} start")
    )
    law = Coil(resistance=8.0, pulls_in=14.0, drops_out=6.0)
    wiring.remembered(f"{engine} starter relay", f"{engine} starter coil", "0", law)
    wiring.contact(f"{engine} starter contact", "live bus", f"{engine} stud", pulled(number), ohms=0.0027)
    wiring.wire(f"{engine} starter cable", f"{engine} stud", f"{engine} starter", 0.0029)
    wiring.add(f"{engine} starter", f"{engine} starter", "0", Straight(resistance=0.04))


def _box(wiring: Wiring, box: str, ways: int, random: Random) -> None:
    bus = f"{box} bus"
    wiring.wire(f"{box} feeder", "main bus", f"{box} stud", 0.003)
    wiring.wire(f"{box} stud", f"{box} stud", bus, 0.0005)
    if box.startswith("C"):
        wiring.wire(f"{box} live feeder", "live bus", f"{box} live", 0.004)
    for way in range(1, ways + 1):
        fed = f"{box} live" if box.startswith("C") and way <= 6 else bus
        _service(wiring, f"{box}.{way}", fed, random, shared=way in (3, 4) and box.startswith("A"))


def _service(wiring: Wiring, name: str, bus: str, random: Random, *, shared: bool) -> None:
    """A fused feed, a plug, a switch, and one to three loads with their returns."""
    box = name.partition(".")[0]
    carrying = random.choice((5.0, 10.0, 15.0))
    drop = random.uniform(0.01, 0.03)
    wiring.remembered(
        f"{name} fuse",
        bus,
        f"{name} way",
        Fuse(resistance=0.08 / carrying, carrying=carrying, fusing=1.75 * carrying),
    )
    wiring.wire(f"{name} a", f"{name} way", f"{name} plug f", drop)
    wiring.add(f"{name} plug", f"{name} plug f", f"{name} plug m", Straight(resistance=0.002), sort="joint")
    wiring.wire(f"{name} b", f"{name} plug m", f"{name} switch in", drop)
    on = wiring.on(name)
    bolt = f"{box} shared bolt" if shared else f"{name} bolt"
    if bolt not in wiring.nodes:
        wiring.wire(bolt, bolt, "0", 0.0005)
    start = f"{name} switch out"
    if name.endswith((".2", ".6")) and box.startswith(
        ("A", "B")
    ):  # through a relay whose coil the switch feeds
        start = _relay(wiring, name, on, bolt, drop)
    else:
        wiring.contact(f"{name} switch", f"{name} switch in", start, on)
    for number in range(random.choice((2, 2, 2, 3))):
        _load(wiring, f"{name} load {number}", start, bolt, carrying * 0.2, random)


def _relay(wiring: Wiring, name: str, on: Condition, bolt: str, drop: float) -> str:
    number = len(wiring.variables)
    wiring.contact(f"{name} switch", f"{name} switch in", f"{name} coil", on)
    wiring.wire(f"{name} coil lead", f"{name} coil", f"{name} X", drop)
    wiring.remembered(f"{name} relay", f"{name} X", bolt, Coil(resistance=80.0, pulls_in=14.0, drops_out=6.0))
    wiring.contact(f"{name} contact", f"{name} switch in", f"{name} M", pulled(number))
    return f"{name} M"


def _load(wiring: Wiring, name: str, start: str, bolt: str, amps: float, random: Random) -> None:
    there, back = f"{name} +", f"{name} -"
    wiring.wire(f"{name} lead", start, f"{name} plug", random.uniform(0.02, 0.06))
    wiring.add(f"{name} joint", f"{name} plug", f"{name} socket", Straight(resistance=0.002), sort="joint")
    wiring.wire(f"{name} tail", f"{name} socket", there, random.uniform(0.005, 0.02))
    draw = random.random()
    if draw < 0.6:
        law = Filament(volts=24.0, amps=amps)
    elif draw < 0.75:
        law = Motor(volts=24.0, amps=amps)
    elif draw < 0.85:
        law = ConstantPower(power=24.0 * amps, volts=24.0, works_from=19.0)
    else:
        law = Straight(resistance=24.0 / amps)
    if draw > 0.95:
        wiring.lever(f"{name} dimmer", low=0.0, high=1.0, start=0.4)
        wiring.add(
            f"{name} dimmer",
            there,
            f"{name} dimmed",
            Rheostat(at_0=0.0, at_1=20.0),
            follows=len(wiring.levers) - 1,
        )
        there = f"{name} dimmed"
    wiring.add(name, there, back, law)
    wiring.wire(f"{name} return", back, bolt, random.uniform(0.005, 0.02))


def settings(network: Network) -> tuple[Setting, ...]:
    """Rest and five phases."""
    switches = [lever.name for lever in network.levers if "." in lever.name and "dimmer" not in lever.name]
    phases = [Setting("rest", (), 0.0)]
    for name, share, speed in (
        ("moored", 0.15, 0.0),
        ("taxying", 0.4, 1500.0),
        ("day cruise", 0.4, 3200.0),
        ("night cruise", 0.6, 3200.0),
        ("landing", 0.75, 2600.0),
    ):
        random = Random(name)
        on = tuple(switch for switch in switches if random.random() < share)
        phases.append(Setting(name, ("master", *on), speed))
    return tuple(phases)


def settled(network: Network, setting: Setting) -> Settled:
    """The installation in a setting, from rest."""
    levers: dict[int, float] = {network.lever_of[name]: 1 for name in setting.on}
    levers[network.lever_of["speed"]] = setting.speed
    rest = settle(prepare(network), at_rest(network))
    return settle(prepare(network), moved(rest.memory, levers))


def memory_of(network: Network, setting: Setting) -> Memory:
    return settled(network, setting).memory


def nothing() -> Condition:
    return AllOf(())
