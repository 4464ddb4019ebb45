"""What the tests of the solver share: building and solving, random maps, and the laws of currents.

Kirchhoff's current law holds at a node if what flows out of it is below 1e-9 of the currents that
meet there, or below 1e-12 of the largest current of the map. Power in equals power out to 1e-9,
or to 1e-12 of the largest power that any pin carries. In a map without any source, a femtoampere
is nothing.
"""

import math
import random
from collections.abc import Callable, Sequence

import numpy as np
import pytest

import railmap as rm

NOTHING_AMPS = 1e-15

Maker = Callable[[random.Random, str, Sequence[str]], rm.Part]


@pytest.fixture(scope="session")
def map_of() -> Callable[..., rm.RailMap]:
    """Build a map of parts."""

    def build(*parts: rm.Part) -> rm.RailMap:
        m = rm.RailMap()
        for part in parts:
            m.add(part)
        return m

    return build


@pytest.fixture(scope="session")
def solved(map_of, adds_up) -> Callable[..., rm.Solution]:
    """Build a map of parts, solve it, and see that its currents and powers add up."""

    def solve(*parts: rm.Part, change: rm.WhatIf | None = None) -> rm.Solution:
        s = rm.solve(map_of(*parts), change=change)
        assert s.status == "solved", s.message
        adds_up(s)
        return s

    return solve


@pytest.fixture(scope="session")
def adds_up() -> Callable[[rm.Solution], None]:
    """See that a solution keeps Kirchhoff's current law at every node, and loses no power."""

    def check(s: rm.Solution) -> None:
        at, amps = s.network.slot_node, s.operating.pin_amps
        nodes = len(s.nodes)
        total = np.bincount(at[at >= 0], amps[at >= 0], nodes)
        size = np.bincount(at[at >= 0], np.abs(amps[at >= 0]), nodes)
        top = np.max(np.abs(amps), initial=0.0)
        assert np.all(np.abs(total) <= np.maximum(1e-9 * size, 1e-12 * top) + NOTHING_AMPS)
        assert np.all(amps[at < 0] == 0)
        volts = (s.operating.node_volts + s.operating.node_shift)[at]
        most = np.max(np.abs(amps * volts), initial=0.0)
        nothing = NOTHING_AMPS * np.max(np.abs(volts), initial=0.0)
        assert abs(s.power_in - s.power_out) <= max(1e-9 * s.power_in, 1e-12 * most) + nothing

    return check


@pytest.fixture(scope="session")
def rail_map() -> Callable[[int, str], rm.RailMap]:
    """Build a map as supplies are: a tree of resistors from the sources, with other parts on it.

    ``kinds`` is a string of the letters in ``MAKERS``.
    """

    def build(seed: int, kinds: str) -> rm.RailMap:
        rng = random.Random(f"{seed} {kinds}")
        m = rm.RailMap()
        nodes = ["0V", *(f"N{i}" for i in range(rng.randint(1, 12)))]
        for i in range(rng.randint(1, 2)):
            volts = rng.choice((-1, 1)) * _spread(rng, 3, 300)
            ohms = rng.choice((0, _spread(rng, 0.01, 10)))
            m.add(rm.Source(f"V{i}", nodes[1 + i % (len(nodes) - 1)], "0V", volts=volts, ohms=ohms))
        for i, node in enumerate(nodes[1:]):
            m.add(rm.Resistor(f"R{i}", rng.choice(nodes[: i + 1]), node, ohms=_spread(rng, 1, 1e5)))
        for i in range(len(nodes)):
            _add(m, rng, rng.choice(kinds), f"X{i}", nodes, True)
        return m

    return build


@pytest.fixture(scope="session")
def wild_map() -> Callable[[int, str], rm.RailMap]:
    """Build a map without any sense: every pin of every part on any node."""

    def build(seed: int, kinds: str) -> rm.RailMap:
        rng = random.Random(f"{seed} {kinds}")
        m = rm.RailMap()
        nodes = ["0V", *(f"N{i}" for i in range(rng.randint(1, 8)))]
        for i in range(rng.randint(1, 14)):
            _add(m, rng, rng.choice(kinds), f"X{i}", nodes, False)
        return m

    return build


def _add(
    m: rm.RailMap, rng: random.Random, kind: str, ref: str, nodes: list[str], apart: bool
) -> None:
    """Add a part of a kind; with its pins on different nodes if there are so many."""
    make = MAKERS[kind]
    if apart:
        count = 4 if kind == "B" else 3 if kind in "UKQ" else 2
        if len(nodes) < count:
            return
        pins = rng.sample(nodes, count)
        if kind in "UK" and "0V" not in pins[:2]:
            pins[2] = "0V"
    else:
        pins = [rng.choice(nodes) for _ in range(4)]
    m.add(make(rng, ref, pins))


def _spread(rng: random.Random, low: float, high: float) -> float:
    return 10 ** rng.uniform(math.log10(low), math.log10(high))


def _set_volts(rng: random.Random) -> float:
    return rng.choice((-1, 1)) * _spread(rng, 3, 60)


def _quiescent(rng: random.Random) -> float:
    return rng.choice((0.0, 0.005))


def _limit(rng: random.Random) -> float | None:
    return rng.choice((None, 1.0))


MAKERS: dict[str, Maker] = {
    "V": lambda r, ref, n: rm.Source(ref, *n[:2], volts=_set_volts(r), ohms=_spread(r, 0.01, 10)),
    "I": lambda r, ref, n: rm.Source(ref, *n[:2], volts=_set_volts(r)),
    "R": lambda r, ref, n: rm.Resistor(ref, *n[:2], ohms=_spread(r, 1e-3, 1e6)),
    "D": lambda r, ref, n: rm.Diode(ref, *n[:2], ohms=r.choice((0.0, 0.05, 1.0))),
    "B": lambda r, ref, n: rm.Bridge(ref, *n[:4]),
    "Z": lambda r, ref, n: rm.Zener(
        ref, *n[:2], zener_volts=_spread(r, 2, 60), ohms=r.choice((0.1, 5.0))
    ),
    "C": lambda r, ref, n: rm.Capacitor(ref, *n[:2], farads=1e-3, leak_ohms=r.choice((None, 1e6))),
    "H": lambda r, ref, n: rm.Choke(ref, *n[:2], henries=1.0, ohms=r.choice((0.0, 5.0))),
    "S": lambda r, ref, n: rm.Load(ref, *n[:2], amps=_spread(r, 1e-3, 1)),
    "O": lambda r, ref, n: rm.Load(ref, *n[:2], ohms=_spread(r, 1, 1e4)),
    "P": lambda r, ref, n: rm.Load(ref, *n[:2], watts=_spread(r, 1e-3, 10)),
    "M": lambda r, ref, n: rm.Load(
        ref, *n[:2], amps=_spread(r, 1e-3, 1), at_volts=_spread(r, 3, 60), law="lamp"
    ),
    "U": lambda r, ref, n: rm.Regulator(
        ref, *n[:3], volts=_set_volts(r), quiescent_amps=_quiescent(r), limit_amps=_limit(r)
    ),
    "K": lambda r, ref, n: rm.Converter(
        ref, *n[:3], volts=_set_volts(r), efficiency=r.uniform(0.5, 1), limit_amps=_limit(r)
    ),
    "Q": lambda r, ref, n: rm.PassTransistor(
        ref, *n[:3], gain=_spread(r, 10, 300), polarity=r.choice(("npn", "pnp"))
    ),
    "J": lambda r, ref, n: rm.Link(ref, *n[:2], ohms=r.choice((0.0, 0.02))),
    "W": lambda r, ref, n: rm.Switch(ref, *n[:2], closed=r.random() < 0.7),
    "F": lambda r, ref, n: rm.Fuse(ref, *n[:2]),
}
