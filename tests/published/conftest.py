"""What the checks against published numbers share.

A number that a source prints holds to half a unit of its last printed digit (``printed``); a
number that was recomputed exactly holds to a part in a thousand million (``exactly``). Every map
that ``solved`` solves is also checked for Kirchhoff's current law at each node and for power in =
power out.
"""

from collections.abc import Callable, Iterable
from typing import Any

import pytest

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
        _currents_add_up(m, s)
        assert s.power_in == pytest.approx(s.power_out, rel=1e-9)
        return s

    return solve


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


def _currents_add_up(m: rm.RailMap, s: rm.Solution) -> None:
    total = dict.fromkeys(m.nodes, 0.0)
    size = dict.fromkeys(m.nodes, 0.0)
    for ref, part in m.parts.items():
        amps = s.part(ref).pin_amps
        for pin, node in zip(part.pins, part.nodes, strict=True):
            total[node] += amps[pin]
            size[node] += abs(amps[pin])
    for node, amps in total.items():
        assert abs(amps) <= 1e-9 * size[node], f"{node}: {amps} A too much"
