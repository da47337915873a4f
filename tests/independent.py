"""A second solver, which shares nothing with the first but the formulas of the laws.

Node potentials by Newton's method on the sum of all currents, scipy's sparse LU for the step, and along the
step the point where the content of the network is least (Brent's method on its slope). A second road, in
mpmath at 40 digits, polishes what the first found: the truth for nodes that hang on opens of 1e-12 S.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise

import mpmath
import numpy as np
from scipy.optimize import brentq
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from loomlore.network.conditions import judge
from loomlore.network.laws import (
    Battery,
    ConstantPower,
    Filament,
    Generator,
    Motor,
    Rectifier,
    Rheostat,
    Source,
)
from loomlore.network.model import Branch, Network

LEAK = 1e-12
LARGEST = 1e5

Curve = Callable[[float], tuple[float, float]]
"""Volts to amperes and their slope [S]; works with floats and with mpmath's numbers."""


def straight(conductance: float, offset: float = 0.0) -> Curve:
    return lambda v: (conductance * v + offset, conductance)


def bent(points: Sequence[tuple[float, float]], first: float, last: float) -> Curve:
    """Straight lines through points (volts, amperes) that go on with two slopes."""

    def curve(v: float) -> tuple[float, float]:
        (v0, i0), (vn, i_n) = points[0], points[-1]
        if v < v0:
            return i0 + first * (v - v0), first
        for (va, ia), (vb, ib) in pairwise(points):
            if va <= v < vb:
                slope = (ib - ia) / (vb - va)
                return ia + slope * (v - va), slope
        return i_n + last * (v - vn), last

    return curve


def filament(law: Filament) -> Curve:
    """R / R_hot = (c^4 + x^1.75)^(1/4)."""

    def curve(v: float) -> tuple[float, float]:
        root = mpmath.root if isinstance(v, mpmath.mpf) else (lambda z, n: z ** (1.0 / n))
        y = root(abs(v) / law.volts, 4) ** 7 if v else v * 0
        inside = law.cold**4 + y
        g = law.amps / law.volts / root(inside, 4)
        return g * v, g - g * y * 1.75 / 4 / inside

    return curve


def constant_power(law: ConstantPower) -> Curve:
    def curve(v: float) -> tuple[float, float]:
        if abs(v) < law.works_from:
            return law.power * v / law.works_from**2, law.power / law.works_from**2
        return law.power / v, -law.power / v**2

    return curve


def generator(law: Generator) -> Curve:
    """A machine at full speed that works: its own limit, its droop, then driven as a motor."""
    force = law.open_volts if law.held is None else law.held
    droop = 0.0 if law.held is None else law.droop
    fall = min(max(droop, 0.2 * law.amps * law.resistance, 1e-3 * force), force / 2)
    return bent([(force - fall, -law.amps), (force, 0.0)], 1e-3 * law.amps / force, 1 / law.resistance)


def curve_of(branch: Branch) -> Curve:
    """The curve of a branch that works, its levers at nought."""
    law = branch.law
    if branch.closed is not None and not judge(branch.closed, (), (), lambda _: None):
        return straight(LEAK)
    match law:
        case Filament():
            return filament(law)
        case ConstantPower():
            return constant_power(law)
        case Generator():
            return generator(law)
        case Battery():
            points = [(law.open_volts, 0.0), (law.charging_volts, law.float_amps)]
            return bent(points, 1 / law.resistance, 1 / law.resistance)
        case Rectifier():
            leak, knee = 1e-6 * law.amps / law.drop, 0.6 * law.drop
            return bent([(knee, leak * knee)], leak, (law.amps - leak * knee) / (law.drop - knee))
        case Source():
            return straight(1 / law.resistance, -law.volts / law.resistance)
        case Motor():
            return straight(law.amps / law.volts)
        case Rheostat():
            return straight(min(LARGEST, 1 / law.at_0) if law.at_0 else LARGEST)
        case _:
            return straight(min(LARGEST, 1 / law.resistance))


def independent_potentials(network: Network) -> np.ndarray:
    """Node potentials [V] with everything at work and every lever at nought."""
    curves = [curve_of(branch) for branch in network.branches]
    a = np.array([branch.a for branch in network.branches])
    b = np.array([branch.b for branch in network.branches])
    v = np.full(len(network.node_names), network.supply / 2)
    v[0] = 0.0
    for _ in range(200):
        currents, slopes = _currents(curves, v[a] - v[b])
        step = _step(len(v), a, b, currents, slopes)
        if np.max(np.abs(step)) < 1e-13 * network.supply:
            return v + step
        v = v + _length(curves, v, step, a, b) * step
    return v


def _currents(curves: Sequence[Curve], volts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    pairs = np.array([curve(float(u)) for curve, u in zip(curves, volts, strict=True)])
    return pairs[:, 0], pairs[:, 1]


def _step(count: int, a: np.ndarray, b: np.ndarray, currents: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    rows = np.concatenate([a, b, a, b])
    columns = np.concatenate([a, b, b, a])
    matrix = csc_matrix((np.concatenate([slopes, slopes, -slopes, -slopes]), (rows, columns)), (count, count))
    residual = np.bincount(a, currents, count) - np.bincount(b, currents, count)
    step = np.zeros(count)
    step[1:] = splu(matrix[1:, 1:].tocsc()).solve(-residual[1:])
    return step


def _length(curves: Sequence[Curve], v: np.ndarray, step: np.ndarray, a: np.ndarray, b: np.ndarray) -> float:
    """How far along the step the slope of the content is nought; all of it where it never is."""
    volts, along = v[a] - v[b], step[a] - step[b]

    def slope(t: float) -> float:
        return float(_currents(curves, volts + t * along)[0] @ along)

    if slope(1.0) <= 0 or slope(0.0) >= 0:
        return 1.0
    return max(0.01, brentq(slope, 0.0, 1.0, xtol=1e-6))


def forty_digits(network: Network, start: Sequence[float], steps: int = 3) -> list[mpmath.mpf]:
    """Polish potentials by Newton's method at 40 digits."""
    curves = [curve_of(branch) for branch in network.branches]
    count = len(network.node_names)
    with mpmath.workdps(40):
        v = [mpmath.mpf(float(u)) for u in start]
        for _ in range(steps):
            matrix, residual = mpmath.zeros(count - 1, count - 1), mpmath.zeros(count - 1, 1)
            for branch, curve in zip(network.branches, curves, strict=True):
                current, slope = curve(v[branch.a] - v[branch.b])
                for node, other, sign in ((branch.a, branch.b, 1), (branch.b, branch.a, -1)):
                    if node == 0 or branch.a == branch.b:
                        continue
                    residual[node - 1] -= sign * current
                    matrix[node - 1, node - 1] += slope
                    if other:
                        matrix[node - 1, other - 1] -= slope
            step = mpmath.lu_solve(matrix, residual)
            v = [v[0], *(v[n] + step[n - 1] for n in range(1, count))]
        return v
