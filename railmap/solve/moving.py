"""A map as a moving network: capacitors and chokes with their states, windings with the mains.

The state is ``z = [x, cos wt, sin wt, 1]``: volts of capacitors, then amps of chokes, one turn of
the mains, and one for what is constant. Numbers carry the what-if as their first axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from railmap.model import kinds
from railmap.solve.arrays import numbers_of
from railmap.solve.laws import Conductors, Family, Floats, Ints, Junctions, SteadyLoads
from railmap.solve.laws_three import Regulators, Transistors
from railmap.solve.variants import Variants

_SWITCHING = (Junctions, SteadyLoads, Regulators, Transistors)
FADE_PER_SECOND = 50.0
"""How fast a state dies whose capacitor or choke is out of the circuit."""


@dataclass(frozen=True)
class Held:
    """Smooth laws held to a straight line through where they work: ``amps + slopes (v - at)``."""

    pins: Ints
    slots: Ints
    amps: Floats
    slopes: Floats
    at: Floats
    draws: ClassVar[bool] = True
    first_mode: ClassVar[int] = 0

    def evaluate(self, v: Floats, mode: Ints) -> tuple[Floats, Floats]:  # noqa: ARG002 (family)
        """See :class:`railmap.solve.laws.Family`."""
        step = v[..., self.pins] - self.at
        return self.amps + (self.slopes @ step[..., None])[..., 0], self.slopes

    def next_mode(self, v: Floats, mode: Ints) -> Ints:  # noqa: ARG002 (family)
        """See :class:`railmap.solve.laws.Family`."""
        return mode


@dataclass(frozen=True)
class States:
    """Capacitors and chokes in the order of the state.

    Attributes
    ----------
    refs : list of str
        Their parts.
    choke : ndarray of bool
        True for a choke, whose state is its current.
    nodes : ndarray of int, shape (states, 2)
        Nodes of its two pins.
    slots : ndarray of int, shape (states, 2)
        Places of its two pins in the flat list.
    inverse : ndarray, shape (what-ifs, states)
        One over farads or henries; 0 where it is out of the circuit.
    ohms : ndarray, shape (what-ifs, states)
        Series resistance of a choke.
    """

    refs: list[str]
    choke: NDArray[np.bool_]
    nodes: Ints
    slots: Ints
    inverse: Floats
    ohms: Floats


@dataclass(frozen=True)
class Moving:
    """The moving network of some what-ifs on one map.

    Attributes
    ----------
    variants : Variants
        Structure and numbers.
    families : list of Family
        Laws with their numbers by what-if; smooth ones replaced by :class:`Held`.
    omega : float
        Mains, radians a second.
    """

    variants: Variants
    families: list[Family]
    states: States
    omega: float

    @property
    def size(self) -> int:
        """Length of the state ``z``."""
        return len(self.states.refs) + 3

    @cached_property
    def nodes(self) -> int:
        """How many nodes there are."""
        return len(self.variants.topology.nodes)

    @cached_property
    def pins(self) -> int:
        """How many pins all parts have together."""
        return len(self.variants.slot_node)

    @cached_property
    def select(self) -> Floats:
        """Nodes from free groups, shape (nodes, free)."""
        topology = self.variants.topology
        found = np.zeros((self.nodes, topology.free))
        inside = np.flatnonzero(topology.group < topology.free)
        found[inside, topology.group[inside]] = 1.0
        return found

    def families_of(self, rows: Ints) -> list[Family]:
        """Return the families with the numbers of some what-ifs, one a job."""
        return [taken(family, rows) for family in self.families]

    @cached_property
    def drives(self) -> dict[int, Floats]:
        """Moving volts in series with conductors, by family: (what-ifs, rows, z)."""
        found: dict[int, Floats] = {}
        for number, family in enumerate(self.families):
            if type(family) is Conductors:
                found[number] = self._drive(number, family)
        return found

    def _drive(self, number: int, family: Conductors) -> Floats:
        variants = self.variants
        found = np.zeros((variants.count, len(family.pins), self.size))
        for k, ref in enumerate(self.states.refs):
            if not self.states.choke[k]:
                self._put(found, number, ref, k, 1.0)
        for ref, peak in variants.windings.items():
            self._put(found, number, ref, -2, peak)
        return found

    def _put(
        self, drives: Floats, number: int, ref: str, column: int, volts: Floats | float
    ) -> None:
        """Put moving volts in series with the first row of a part, if this family has it."""
        for family, row in self.variants.places.get(ref, [])[:1]:
            if family == number:
                drives[:, row, column] = volts

    def shift(self, rows: Ints) -> Floats:
        """Return how node volts differ from their group's: (jobs, nodes, z)."""
        variants = self.variants
        ties = np.zeros((len(rows), len(variants.topology.ties), self.size))
        ties[..., -1] = variants.tie_volts[rows]
        for ref, peak in variants.windings.items():
            column = variants.tie_column.get(ref)
            if column is not None:
                ties[:, column, -1] = 0.0
                ties[:, column, -2] = peak[rows]
        return variants.topology.offset_map @ ties

    @cached_property
    def pushed(self) -> Floats:
        """Current that chokes take out of each node: (nodes, z)."""
        found = np.zeros((self.nodes, self.size))
        for k in np.flatnonzero(self.states.choke):
            found[self.states.nodes[k, 0], k] += 1.0
            found[self.states.nodes[k, 1], k] -= 1.0
        return found

    @cached_property
    def pushed_pins(self) -> Floats:
        """Current into the pins of chokes: (pins, z)."""
        found = np.zeros((self.pins, self.size))
        for k in np.flatnonzero(self.states.choke):
            found[self.states.slots[k, 0], k] = 1.0
            found[self.states.slots[k, 1], k] = -1.0
        return found

    @cached_property
    def switching(self) -> list[int]:
        """Numbers of the families whose laws have pieces."""
        return [
            i for i, f in enumerate(self.families)
            if isinstance(f, _SWITCHING) and len(f.pins)
        ]  # fmt: skip

    @cached_property
    def watched(self) -> Ints:
        """Nodes that the laws with pieces look at."""
        pins = [self.families[i].pins.ravel() for i in self.switching]
        # Plain np.unique would load numpy.ma, which takes longer than a small map's solution.
        return np.array(sorted({int(n) for some in pins for n in some}), dtype=np.intp)

    def watching(self, rows: Ints) -> list[tuple[int, Family]]:
        """Return the laws with pieces, their pins numbered among the watched nodes.

        Numbers are those of some what-ifs, with room for an axis of points in time.
        """
        found: list[tuple[int, Family]] = []
        for i in self.switching:
            family: Any = self.families[i]
            at: Ints = self.families[i].pins
            pins = np.searchsorted(self.watched, at)
            found.append((i, taken(replace(family, pins=pins), rows, points=True)))
        return found

    def motion(self, rows: Ints, volts: Floats, amps: Floats) -> Floats:
        """Return ``M`` of ``dz/dt = M z`` for some jobs: (jobs, z, z)."""
        states, z = self.states, self.size
        found = np.zeros((len(rows), z, z))
        m = len(states.refs)
        inverse = states.inverse[rows]
        into = amps[:, states.slots[:, 0]]
        across = volts[:, states.nodes[:, 0]] - volts[:, states.nodes[:, 1]]
        across[:, np.arange(m), np.arange(m)] -= states.ohms[rows]
        force = np.where(states.choke[None, :, None], across, into)
        found[:, :m] = inverse[..., None] * force
        dead = np.flatnonzero(np.any(inverse == 0, axis=0))
        for k in dead:
            out = inverse[:, k] == 0
            found[out, k] = 0.0
            found[out, k, k] = -FADE_PER_SECOND
        found[:, -3, -2] = -self.omega
        found[:, -2, -3] = self.omega
        return found


def taken(family: Any, rows: Ints, points: bool = False) -> Family:
    """Return a family with the numbers of some what-ifs as its first axis.

    ``points`` leaves room for an axis of points in time behind it.
    """
    values = {name: value[rows] for name, value in numbers_of(family).items()}
    if points:
        values = {name: value[:, None] for name, value in values.items()}
    return replace(family, **values)


def moving_states(variants: Variants) -> States:
    """Return the capacitors and chokes of a network, as states."""
    parts = variants.base.parts
    refs = [r for r, p in parts.items() if isinstance(p, kinds.Capacitor)]
    refs += [r for r, p in parts.items() if isinstance(p, kinds.Choke)]
    choke = np.array([isinstance(parts[r], kinds.Choke) for r in refs], dtype=bool)
    first = [variants.start_of[r] for r in refs]
    slots = np.array([[s, s + 1] for s in first], dtype=np.intp).reshape(-1, 2)
    inverse = [variants.number(r, _inverse) for r in refs]
    ohms = [variants.number(r, _choke_ohms) for r in refs]
    none = np.zeros((0, variants.count))
    return States(
        refs, choke, variants.slot_node[slots], slots,
        np.array(inverse or none).T, np.array(ohms or none).T,
    )  # fmt: skip


def _inverse(part: kinds.Capacitor | kinds.Choke) -> float:
    return 1 / (part.farads if isinstance(part, kinds.Capacitor) else part.henries)


def _choke_ohms(part: kinds.Capacitor | kinds.Choke) -> float:
    return part.ohms if isinstance(part, kinds.Choke) else 0.0
