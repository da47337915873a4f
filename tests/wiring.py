"""Networks for the tests of the solver: written down by hand, or drawn at random."""

from dataclasses import replace
from random import Random

from loomlore.network.conditions import AllOf, AnyOf, Condition, LeverIs, NotSo, StateIs
from loomlore.network.laws import (
    Battery,
    Coil,
    ConstantPower,
    Filament,
    Fuse,
    Generator,
    Law,
    Motor,
    Rectifier,
    Rheostat,
    Source,
    Straight,
)
from loomlore.network.model import Branch, LatchRule, Lever, Movement, Network, Variable
from loomlore.network.settling import Memory, Settled, at_rest, moved, settle
from loomlore.network.solving import Solution, prepare


class Wiring:
    """A network written down piece by piece; nodes, levers and memories go by name. "0" is the airframe."""

    def __init__(self, supply: float = 24.0) -> None:
        self.supply = supply
        self.nodes: dict[str, int] = {"0": 0}
        self.branches: list[Branch] = []
        self.levers: list[Lever] = []
        self.variables: list[Variable] = []
        self.movements: list[Movement] = []

    def node(self, name: str) -> int:
        return self.nodes.setdefault(name, len(self.nodes))

    def lever(self, name: str, *positions: str, **more) -> int:
        self.levers.append(Lever(name=name, positions=positions, **more))
        return len(self.levers) - 1

    def on(self, name: str, start: int = 0) -> Condition:
        """A switch of that name, and the condition that it is on."""
        known = [lever.name for lever in self.levers]
        number = known.index(name) if name in known else self.lever(name, "off", "on", start=start)
        return LeverIs(number, (1,))

    def add(self, name: str, a: str, b: str, law: Law, **more) -> int:
        self.branches.append(Branch(name=name, a=self.node(a), b=self.node(b), law=law, **more))
        return len(self.branches) - 1

    def wire(self, name: str, a: str, b: str, ohms: float) -> int:
        return self.add(name, a, b, Straight(resistance=ohms), sort="cable")

    def contact(self, name: str, a: str, b: str, closed: Condition, ohms: float = 0.005) -> int:
        return self.add(name, a, b, Straight(resistance=ohms), sort="contact", closed=closed)

    def remembered(self, name: str, a: str, b: str, law: Law) -> int:
        """A coil, fuse or cartridge with its memory; the result is the number of the variable."""
        what = {"Coil": "coil", "Fuse": "blown", "Cartridge": "fired"}[type(law).__name__]
        branch = self.add(name, a, b, law, memory=len(self.variables))
        self.variables.append(Variable(name=name, what=what, branch=branch))
        return len(self.variables) - 1

    def latch(self, name: str, **rule) -> int:
        self.variables.append(Variable(name=name, what="latch", latch=LatchRule(**rule)))
        return len(self.variables) - 1

    def sensed(self, name: str, branch: int) -> int:
        self.variables.append(Variable(name=name, what="sensed", branch=branch))
        return len(self.variables) - 1

    def network(self) -> Network:
        return Network(
            node_names=tuple(self.nodes),
            branches=tuple(self.branches),
            levers=tuple(self.levers),
            variables=tuple(self.variables),
            movements=tuple(self.movements),
            supply=self.supply,
            node_of=dict(self.nodes),
            branch_of={branch.name: n for n, branch in enumerate(self.branches)},
            lever_of={lever.name: n for n, lever in enumerate(self.levers)},
            variable_of={variable.name: n for n, variable in enumerate(self.variables)},
        )


class Operated:
    """An installation at the bench: levers are moved, time passes, things are read by name."""

    def __init__(self, wiring: Wiring) -> None:
        self.network = wiring.network()
        self.solver = prepare(self.network)
        self.now: Settled = settle(self.solver, at_rest(self.network))

    @property
    def solution(self) -> Solution:
        return self.now.solution

    @property
    def memory(self) -> Memory:
        return self.now.memory

    def move(self, **levers: float) -> "Operated":
        numbers = {self.network.lever_of[name.replace("_", "-")]: value for name, value in levers.items()}
        self.now = settle(self.solver, moved(self.memory, numbers), near=self.solution)
        return self

    def volts(self, name: str) -> float:
        return self.solution.volts(self.network.branch_of[name])

    def amps(self, name: str) -> float:
        return self.solution.amps(self.network.branch_of[name])

    def state(self, name: str) -> str:
        number = self.network.branch_of[name]
        return self.network.branches[number].law.states[self.solution.state(number)]

    def variable(self, name: str) -> int:
        return self.memory.variables[self.network.variable_of[name]]

    def events(self) -> list[tuple[str, tuple[str, ...]]]:
        return [(event.what, event.names) for event in self.now.events]


def solved(wiring: Wiring) -> Operated:
    """The installation at rest, settled."""
    return Operated(wiring)


def mirrored(network: Network) -> Network:
    """The same installation with the positive pole earthed: every one-port turned end for end."""
    turned = tuple(replace(branch, a=branch.b, b=branch.a) for branch in network.branches)
    return replace(network, branches=turned)


# -- at random -----------------------------------------------------------------------------------------------

RESISTANCES = (1e-5, 1e-4, 1e-3, 5e-3, 0.02, 0.1, 0.5, 2.0, 10.0, 100.0, 2000.0)


def random_supply(random: Random, wiring: Wiring, at: str, supply: float, floats: bool) -> None:
    """A battery, and perhaps a generator or a ground supply, between the bus and the return."""
    back = "return" if floats else "0"
    wiring.add(
        "battery",
        at,
        back,
        Battery(
            open_volts=supply * random.uniform(0.95, 1.08),
            resistance=random.choice((0.012, 0.024, 0.06)),
            charging_volts=supply * random.uniform(1.1, 1.2),
            float_amps=random.uniform(0.3, 1.0),
        ),
    )
    for number in range(random.choice((0, 1, 2))):
        wiring.wire(f"main {number}", f"generator {number}", at, random.choice((0.005, 0.02)))
        wiring.add(f"generator {number}", f"generator {number}", back, random_generator(random, supply))
    if random.random() < 0.2:
        wiring.add(
            "ground supply", at, back, Source(volts=supply * random.uniform(1.0, 1.2), resistance=0.02)
        )


def random_generator(random: Random, supply: float) -> Generator:
    return Generator(
        volts=supply,
        amps=random.choice((10.0, 36.0)),
        held=random.choice((None, supply * 1.15, supply * 1.17, supply * 1.18)),
        droop=random.choice((0.2, 0.5)),
        residual=0.06 * supply,
        resistance=0.04,
        open_volts=1.7 * supply,
        cuts_in=0.0,
        full_at=0.0,
    )


def random_load(random: Random, supply: float) -> Law:
    """Any law that is monotone, and a set whose working volts keep one solution."""
    amps = random.choice((0.1, 0.5, 1.0, 4.0, 10.0))
    return random.choice(
        (
            Filament(volts=supply, amps=amps),
            Filament(volts=supply / 2, amps=amps, cold=1 / 15),
            ConstantPower(power=amps * supply, volts=supply, works_from=supply * random.uniform(0.8, 0.9)),
            Straight(resistance=random.choice(RESISTANCES[4:])),
            Motor(volts=supply, amps=amps),
            Rheostat(at_0=0.0, at_1=150.0),
            Coil(resistance=random.choice((40.0, 80.0)), pulls_in=0.6 * supply, drops_out=0.25 * supply),
            Rectifier(amps=amps, drop=random.choice((0.7, 1.0))),
            Fuse(resistance=0.01, carrying=10.0, fusing=17.5),
        )
    )


def random_network(random: Random, *, floats: bool = False, most: int = 30, opens: float = 0.15) -> Network:
    """A supply, a tangle of conductors, contacts open and closed, bus bars, and loads anywhere."""
    supply = random.choice((12.0, 24.0))
    wiring = Wiring(supply=supply)
    back = "return" if floats else "0"
    names = ["bus"]
    random_supply(random, wiring, "bus", supply, floats)
    always, never = AllOf(()), AnyOf(())
    for number in range(random.randint(4, most)):
        name = f"n{number}"
        for _ in range(random.choice((1, 1, 1, 2, 2, 3))):
            other = random.choice(names)
            label = f"{name} {len(wiring.branches)}"
            draw = random.random()
            if draw < opens:
                wiring.contact(label, name, other, never)
            elif draw < opens + 0.15:
                wiring.contact(label, name, other, always)
            elif draw < opens + 0.25:
                wiring.add(label, name, other, Straight(resistance=random.choice((1e-5, 1e-4))), sort="joint")
            elif draw < 0.8:
                wiring.wire(label, name, other, random.choice(RESISTANCES))
            else:
                wiring.add(label, name, other, random_load(random, supply))
        names.append(name)
        for _ in range(random.choice((0, 0, 1, 1, 2))):
            ends = (name, back) if random.random() < 0.8 else (back, name)
            wiring.add(f"load {len(wiring.branches)}", *ends, random_load(random, supply))
    return wiring.network()


def negated(condition: Condition) -> Condition:
    return NotSo(condition)


def pulled(variable: int) -> Condition:
    return StateIs(variable, (1,))


def released(variable: int) -> Condition:
    return StateIs(variable, (0,))
