"""What the checks against published numbers share.

A number that a source prints holds to half a unit of its last printed digit (``printed``); a
number that was recomputed exactly holds to a part in a thousand million (``exactly``). Every map
that ``solved`` solves is also checked for Kirchhoff's current law at each node and for power in =
power out; so is every map that ``turned`` turns by the mains.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import atan, cos, exp, hypot, pi, sin, sqrt
from typing import Any

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

import railmap as rm

Edge = tuple[str, str, float]


@pytest.fixture(scope="session")
def printed() -> Callable[..., Any]:
    """Compare with a figure as printed, given as text, in a unit given in SI."""

    def compare(text: str, unit: float = 1.0) -> Any:
        decimals = len(text.partition(".")[2])
        half_digit = 0.5 * 10.0**-decimals
        return pytest.approx(float(text) * unit, rel=0, abs=half_digit * unit * (1 + 1e-9))

    return compare


@pytest.fixture(scope="session")
def exactly() -> Callable[..., Any]:
    """Compare with a figure known exactly."""

    def compare(value: Any) -> Any:
        return pytest.approx(value, rel=1e-9, abs=1e-12)

    return compare


@pytest.fixture(scope="session")
def solved() -> Callable[..., rm.Solution]:
    """Build a map of parts, solve it, and see that its currents and powers add up."""

    def solve(*parts: rm.Part, change: rm.WhatIf | None = None) -> rm.Solution:
        m = rm.RailMap()
        for part in parts:
            m.add(part)
        s = rm.solve(m, change=change)
        assert s.status == "solved", s.message
        _currents_add_up(m, s, 1e-9)
        assert s.power_in == pytest.approx(s.power_out, rel=1e-9)
        return s

    return solve


@pytest.fixture(scope="session")
def turned() -> Callable[..., rm.Solution]:
    """Build a map of parts that a winding feeds, solve it, and see that it adds up."""

    def solve(*parts: rm.Part, hertz: float = 60, change: rm.WhatIf | None = None) -> rm.Solution:
        m = rm.RailMap(mains_hertz=hertz)
        for part in parts:
            m.add(part)
        s = rm.solve(m, change=change)
        assert s.status == "solved", s.message
        _currents_add_up(m, s, 1e-6)
        assert s.power_in == pytest.approx(s.power_out, rel=1e-6, abs=1e-9)
        return s

    return solve


@dataclass(frozen=True)
class Reservoir:
    """A rectifier without resistance into a reservoir and a resistor, peak volts being 1.

    The output follows the mains down until the capacitor can give the load its current, at
    ``pi - atan(wCR)``, and falls exponentially from there until it meets the next rise. Derived.

    Attributes
    ----------
    low : float
        The lowest volts, where the rise is met.
    mean : float
        Mean volts.
    amps, amps_rms : float
        Largest and effective current of the rectifier, in units of peak volts over the load's
        ohms.
    """

    low: float
    mean: float
    amps: float
    amps_rms: float


@pytest.fixture(scope="session")
def reservoir() -> Callable[[float, int], Reservoir]:
    """Work out a reservoir of some ``wCR``, charged once or twice a turn of the mains."""

    def work_out(wcr: float, pulses: int) -> Reservoir:
        period = 2 * pi / pulses
        cut = pi - atan(wcr)

        def falling(angle: float) -> float:
            return sin(cut) * exp((cut - angle) / wcr)

        met = brentq(lambda a: sin(a) - falling(a + period), 1e-9, pi / 2, xtol=1e-14)
        charged = cos(met) - cos(cut)
        fallen = wcr * (sin(cut) - falling(met + period))

        def current(angle: float) -> float:
            """Return C dv/dt and the load's own current."""
            return wcr * cos(angle) + sin(angle)

        top = max(current(met), hypot(wcr, 1) if met <= atan(1 / wcr) else 0.0)
        square = quad(lambda a: current(a) ** 2, met, cut)[0] / period
        return Reservoir(sin(met), (charged + fallen) / period, top, sqrt(square))

    return work_out


@pytest.fixture(scope="session")
def ohms_between() -> Callable[..., float]:
    """Find the resistance between two nodes of a network of resistors, by one volt across them."""

    def find(edges: Iterable[Edge], a: str, b: str) -> float:
        m = rm.RailMap()
        m.add(rm.Source("V1", a, "0V", volts=1.0))
        for number, (one, other, ohms) in enumerate(edges):
            ends = ["0V" if node == b else node for node in (one, other)]
            m.add(rm.Resistor(f"R{number}", *ends, ohms=ohms))
        s = rm.solve(m)
        assert s.status == "solved", s.message
        assert s.power_out == pytest.approx(s.power_in, rel=1e-9)
        return 1.0 / s.part("V1").amps

    return find


def _currents_add_up(m: rm.RailMap, s: rm.Solution, part: float) -> None:
    """See that mean currents sum to nothing at each node, against what flows there and back."""
    total = dict.fromkeys(m.nodes, 0.0)
    size = dict.fromkeys(m.nodes, 0.0)
    for ref, one in m.parts.items():
        found = s.part(ref)
        for pin, node in zip(one.pins, one.nodes, strict=True):
            total[node] += found.pin_amps[pin]
            size[node] += max(abs(found.pin_amps[pin]), found.amps_rms)
    for node, amps in total.items():
        # Where next to nothing flows, the leak of what blocks and rounding are seen.
        most = part * size[node] + 1e-7 * max(size.values())
        assert abs(amps) <= most, f"{node}: {amps} A too much"
