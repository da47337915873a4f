"""The volt-ampere behaviour of one-ports.

Every law is monotone (current never falls as volts rise) but constant power, so that for given contacts and
states a network has one solution. A law offers one of four forms to the solver:

* ``Straight``: a conductance [S] that depends on whether the element works and on a lever it follows;
* ``Pieces``: straight pieces that join (batteries, generators, rectifiers);
* ``Filament``: i = (v / R_hot) / (c^4 + x^1.75)^(1/4), x = |v| / rated volts, c the cold ratio;
* ``ConstantPower``: P / v above the working minimum, a resistance below it.

Volts are first end minus second, amperes flow in at the first end.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from itertools import pairwise

__all__ = [
    "BAR",
    "OPEN",
    "Battery",
    "Cartridge",
    "Coil",
    "ConstantPower",
    "Filament",
    "Fuse",
    "Generator",
    "Law",
    "Magneto",
    "Meter",
    "Motor",
    "Pieces",
    "Rectifier",
    "Rheostat",
    "Source",
    "Straight",
]

OPEN = 1e-12
"""Conductance [S] of what is open: an insulation of a million megohms, so that no node is ever alone."""

BAR = 1e5
"""Largest conductance [S]: a branch current has an absolute error near g V 1e-16."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Straight pieces: between ``breaks[k-1]`` and ``breaks[k]`` [V], i = ``slopes[k]`` v + ``offsets[k]``."""

    breaks: tuple[float, ...]
    slopes: tuple[float, ...]
    offsets: tuple[float, ...]

    def piece(self, volts: float) -> int:
        """Which piece holds at these volts."""
        return bisect_right(self.breaks, volts)

    def amps(self, volts: float) -> float:
        """Current [A] at these volts."""
        k = bisect_right(self.breaks, volts)
        return self.slopes[k] * volts + self.offsets[k]


def pieces_through(points: tuple[tuple[float, float], ...], first: float, last: float) -> Pieces:
    """Straight pieces through (volts, amperes) points, with the slopes [S] of the first and last piece."""
    slopes, offsets = [first], [points[0][1] - first * points[0][0]]
    for (v0, i0), (v1, i1) in pairwise(points):
        slope = (i1 - i0) / (v1 - v0)
        slopes.append(slope)
        offsets.append(i0 - slope * v0)
    slopes.append(last)
    offsets.append(points[-1][1] - last * points[-1][0])
    return Pieces(tuple(v for v, _ in points), tuple(slopes), tuple(offsets))


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A resistance [ohm] and nothing else; ``states`` by the fraction x of rated ``volts``, or none.

    ``squared`` judges the state by x squared, as heat goes.
    """

    resistance: float
    volts: float = 0.0
    states: tuple[str, ...] = ()
    steps: tuple[float, ...] = ()
    squared: bool = False

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S]."""
        return min(BAR, 1.0 / self.resistance) if self.resistance > 0 else BAR

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """Number of the state at these volts."""
        x = abs(volts) / self.volts if self.volts else 0.0
        return bisect_right(self.steps, x * x if self.squared else x)


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor:
    """A motor: straight while it turns, ``stall`` times the current while ``works`` is false.

    The running line is that of a load whose torque rises with speed (fan, pump, gearing): common practice,
    no source. It leaves the starting current to the study of starting.
    """

    volts: float
    amps: float
    stall: float = 4.0
    states: tuple[str, ...] = ("stopped", "labouring", "running")
    steps: tuple[float, ...] = (0.3, 0.6)

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S], running or stalled."""
        return self.amps / self.volts * (1.0 if works else self.stall)

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 stopped, 1 labouring, 2 running."""
        return bisect_right(self.steps, abs(volts) / self.volts) if works else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Rheostat:
    """A resistance [ohm] that goes straight from ``at_0`` to ``at_1`` as a lever goes from low to high."""

    at_0: float
    at_1: float
    low: float = 0.0
    high: float = 1.0
    states: tuple[str, ...] = ()

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S] where the lever stands."""
        share = (lever - self.low) / (self.high - self.low)
        ohms = self.at_0 + (self.at_1 - self.at_0) * min(1.0, max(0.0, share))
        return min(BAR, 1.0 / ohms) if ohms > 0 else BAR

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """A rheostat has no states."""
        return 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A coil of a relay, cut-out or valve: its resistance [ohm], pull-in and drop-out volts.

    Its state is a memory: between drop-out and pull-in it stays as it was.
    """

    resistance: float
    pulls_in: float
    drops_out: float
    polarised: bool = False
    states: tuple[str, ...] = ("released", "pulled-in")

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S]."""
        return 1.0 / self.resistance

    def next_state(self, volts: float, now: int) -> int:
        """The state after these volts; a polarised coil does not pull in backwards."""
        size = volts if self.polarised else abs(volts)
        if size >= self.pulls_in:
            return 1
        return 0 if size < self.drops_out else now

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """Only for a coil that nothing remembers: pulled in at its pull-in volts."""
        return self.next_state(volts, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse:
    """A fuse: resistance [ohm] while whole; ``carrying`` and ``fusing`` amperes."""

    resistance: float
    carrying: float
    fusing: float
    states: tuple[str, ...] = ("whole", "blown")

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S], whole."""
        return min(BAR, 1.0 / self.resistance)

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """Whole; that it has blown is remembered outside."""
        return 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cartridge:
    """A cartridge's bridge [ohm], its no-fire and all-fire amperes. Fired is remembered outside."""

    resistance: float
    no_fire: float
    all_fire: float
    states: tuple[str, ...] = ("safe", "above-no-fire", "fired")

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S] of the whole bridge."""
        return 1.0 / self.resistance

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 safe, 1 above no-fire, 2 fires."""
        size = abs(amps)
        return 2 if size >= self.all_fire else 1 if size > self.no_fire else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A meter or one coil of a ratio meter: its resistance [ohm]; what it shows is an indication's matter."""

    resistance: float
    amperes: bool
    states: tuple[str, ...] = ("no-power", "off-scale", "reading")

    def conductance(self, works: bool, lever: float) -> float:
        """Conductance [S]."""
        return min(BAR, 1.0 / self.resistance)

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """2; an indication with a scale judges better."""
        return 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Magneto:
    """The primary of a magneto, seen from outside as nothing.

    Whether it is live is the resistance from its first end to its second through all the rest, which the
    solver finds by elimination: under :data:`STOPPING` ohms it is stopped.
    """

    states: tuple[str, ...] = ("live", "stopped")

    def conductance(self, works: bool, lever: float) -> float:
        """An open one."""
        return OPEN

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """Found by the solver."""
        return 0


STOPPING = 10.0
"""Primary-to-earth resistance [ohm] below which a magneto is stopped: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filament:
    """A lamp: rated volts and amperes, and cold resistance as a fraction of hot."""

    volts: float
    amps: float
    cold: float = 1 / 12
    states: tuple[str, ...] = ("out", "glimmering", "lit")

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 out, 1 glimmering (light x^3.4 of a thousandth), 2 lit (a tenth)."""
        light = (abs(volts) / self.volts) ** 3.4
        return 2 if light >= 0.1 else 1 if light >= 0.001 else 0

    def amps_and_slope(self, volts: float) -> tuple[float, float]:
        """Current [A] and its slope [S]."""
        y = (abs(volts) / self.volts) ** 1.75
        base = self.cold**4 + y
        conductance = self.amps / self.volts * base**-0.25
        return conductance * volts, conductance * (1.0 - 0.4375 * y / base)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstantPower:
    """A set: ``power`` [W] above ``works_from`` volts, a resistance below. Not monotone."""

    power: float
    volts: float
    works_from: float
    states: tuple[str, ...] = ("dead", "weak", "working")

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 dead (under half its working minimum), 1 weak, 2 working."""
        size = abs(volts)
        return 2 if size >= self.works_from else 1 if size >= self.works_from / 2 else 0

    def amps_and_slope(self, volts: float) -> tuple[float, float]:
        """Current [A] and its slope [S], which is negative while it works."""
        if abs(volts) >= self.works_from:
            return self.power / volts, -self.power / volts**2
        g = self.power / self.works_from**2
        return g * volts, g


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectifier:
    """Conducts from its first end to its second above ``drop`` volts at rated ``amps``."""

    amps: float
    drop: float = 1.0
    states: tuple[str, ...] = ("blocking", "conducting")

    def pieces(self, works: bool, lever: float) -> Pieces:
        """Leak, then conduct: from six tenths of its drop on, reaching the drop at its rated current."""
        knee, leak = 0.6 * self.drop, 1e-6 * self.amps / self.drop
        return pieces_through(((knee, leak * knee),), leak, (self.amps - leak * knee) / (self.drop - knee))

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """1 while it carries more than a thousandth of its rating forward."""
        return 1 if amps > 1e-3 * self.amps else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """An accumulator by its state: open volts, resistance [ohm], charging volts and the current there.

    Between open and charging volts it takes a small current that rises to ``float_amps``.
    """

    open_volts: float
    resistance: float
    charging_volts: float
    float_amps: float
    states: tuple[str, ...] = ("idle", "discharging", "charging")

    def pieces(self, works: bool, lever: float) -> Pieces:
        """Discharge, float, charge."""
        points = ((self.open_volts, 0.0), (self.charging_volts, self.float_amps))
        return pieces_through(points, 1 / self.resistance, 1 / self.resistance)

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 idle, 1 discharging, 2 charging."""
        if abs(amps) <= 1e-4 * max(1.0, self.float_amps):
            return 0
        return 2 if amps > 0 else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A supply held at ``volts`` behind a resistance [ohm]: ground supply, test supply."""

    volts: float
    resistance: float
    states: tuple[str, ...] = ("idle", "delivering", "absorbing")

    def pieces(self, works: bool, lever: float) -> Pieces:
        """One straight piece while it works, an open line while it does not."""
        if not works:
            return Pieces((), (OPEN,), (0.0,))
        return Pieces((), (1 / self.resistance,), (-self.volts / self.resistance,))

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 idle, 1 delivering, 2 absorbing."""
        return 0 if abs(amps) < 1e-6 else 1 if amps < 0 else 2


LEAST_OUTPUT = 0.1
"""Share of its rated amperes that a machine can give at its cutting-in speed and below, before its output rises:
its own field, a twentieth or so, and as much again. Common practice, no source."""

BUILDS_FROM = 2 / 3
"""Share of its cutting-in speed from which a machine that excites itself builds up. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Generator:
    """A direct-current generator behind its regulator.

    While it ``works`` above ``cuts_in`` speed it holds ``held`` volts less its droop, up to a current limit
    that rises straight to ``amps`` at ``full_at``; below that speed its electromotive force falls straight to
    what its residual gives at two thirds of it; beyond the limit volts give way. A machine that holds nothing
    (third brush) has ``held`` None: it is always at its limit, and runs away without a battery up to
    ``open_volts``, which it reaches at ``full_at``. ``mode`` is regulating, open (residual only) or stuck (its
    full field, up to ``open_volts``).
    """

    volts: float
    amps: float
    held: float | None
    droop: float
    residual: float
    resistance: float
    open_volts: float
    cuts_in: float
    full_at: float
    mode: str = "regulating"
    states: tuple[str, ...] = ("idle", "generating", "limited")

    def force(self, works: bool, speed: float) -> float:
        """Electromotive force [V] at no load."""
        turning = min(1.0, max(0.0, speed / self.cuts_in)) if self.cuts_in > 0 else 1.0
        if not works or self.mode == "open":
            return self.residual * turning
        built = (turning - BUILDS_FROM) / (1 - BUILDS_FROM)
        return max(self.residual * turning, self._top(speed) * built)

    def _top(self, speed: float) -> float:
        """What it is held at; with nothing to hold it, as much at cutting in, and rising to its open volts."""
        if self.mode != "stuck" and self.held is not None:
            return self.held
        least = self.volts if self.held is None else self.held
        rising = self.full_at - self.cuts_in
        share = min(1.0, max(0.0, (speed - self.cuts_in) / rising)) if rising > 0 else 1.0
        return least + (self.open_volts - least) * share

    def unbridled(self) -> Generator:
        """The same with its full field, since its regulator does not feel its volts."""
        return self if self.held is None or self.mode == "open" else replace(self, mode="stuck")

    def limit(self, works: bool, speed: float) -> float:
        """Largest current [A] at this speed."""
        if not works or self.mode == "open":
            return self.residual / self.resistance * 0.5
        if self.full_at <= self.cuts_in:
            return self.amps
        share = (speed - self.cuts_in) / (self.full_at - self.cuts_in)
        return self.amps * min(1.0, max(LEAST_OUTPUT, share))

    def pieces(self, works: bool, lever: float) -> Pieces:
        """From a short upwards: limited, drooping, driven backwards as a motor."""
        force, limit = self.force(works, lever), self.limit(works, lever)
        if force < 1e-3:
            return Pieces((), (1 / self.resistance,), (0.0,))
        fall = (
            self.droop * limit / self.amps
            if works and self.held is not None and self.mode == "regulating"
            else 0.0
        )
        fall = max(fall, limit * self.resistance * 0.2, 1e-3 * force)
        fall = min(fall, 0.5 * force)
        knee = force - fall
        return pieces_through(((knee, -limit), (force, 0.0)), 1e-3 * limit / force, 1 / self.resistance)

    def state(self, volts: float, amps: float, works: bool, lever: float = 0.0) -> int:
        """0 idle, 1 generating, 2 at its limit."""
        if not works or -amps < 1e-3 * self.amps:
            return 0
        return 2 if -amps >= 0.999 * self.limit(works, lever) else 1


Law = (
    Straight
    | Motor
    | Rheostat
    | Coil
    | Fuse
    | Cartridge
    | Meter
    | Magneto
    | Filament
    | ConstantPower
    | Rectifier
    | Battery
    | Source
    | Generator
)


def light(volts: float, rated: float) -> float:
    """Light of a filament as a fraction of its rated light: x to the 3.4 (see ``lamp_exponents``)."""
    return math.pow(abs(volts) / rated, 3.4)
