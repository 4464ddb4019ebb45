"""A map as a moving network: capacitors and chokes with their states, windings with the mains.

The state is ``z = [x, cos wt, sin wt, 1]``: volts of capacitors, then amps of chokes, one turn of
the mains, and one for what is constant. Numbers carry the what-if as their first axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.model import kinds
from railmap.solve.arrays import add_along, taken
from railmap.solve.laws import (
    ENDLESS,
    Conductors,
    Family,
    Floats,
    Ints,
    Junctions,
    Pieced,
    SteadyLoads,
)
from railmap.solve.laws_three import Outputs, Regulators, Transistors
from railmap.solve.limiter import LimitedWindings, Limiter
from railmap.solve.variants import LEAST_ESR_OHMS, LOSS_OHMS_A_HENRY, Variants

PIECED = (Junctions, SteadyLoads, Regulators, Outputs, Transistors)
LEAK_SIEMENS = 1e-14
"""Ties every group to 0 V, so that a node cut off from everything keeps defined volts."""
FADE_PER_SECOND = 50.0
"""How fast a state dies whose capacitor or choke is out of the circuit."""


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
        What a volt across their branch does: siemens of its series resistance over farads, or one
        over henries with the choke's losses; 0 where it is out of the circuit.
    back : ndarray, shape (what-ifs, states)
        Volts that each takes off that branch per unit of its state: 1 for a capacitor, its
        resistance for a choke.
    """

    refs: list[str]
    choke: NDArray[np.bool_]
    nodes: Ints
    slots: Ints
    inverse: Floats
    back: Floats


@dataclass(frozen=True)
class Moving:
    """The moving network of some what-ifs on one map.

    Attributes
    ----------
    variants : Variants
        Structure and numbers.
    families : list of Family
        Laws with their numbers by what-if, slow ones as they are within a turn.
    omega : float
        Mains, radians a second.
    limiter : Limiter or None
        A lamp in series with the mains.
    """

    variants: Variants
    families: list[Family]
    states: States
    omega: float
    limiter: Limiter | None = None

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
    def driven(self) -> Floats:
        """Volts of all windings' peaks and sources in series, by what-if."""
        peaks = sum(self.variants.windings.values(), np.zeros(self.variants.count))
        return peaks + np.abs(self.variants.emf).sum(axis=1)

    @cached_property
    def volts_states(self) -> Floats:
        """1 for states that are volts, 0 for those that are amps."""
        return np.where(self.states.choke, 0.0, 1.0)

    @cached_property
    def node_group(self) -> Ints:
        """Group of each node; all that are held at 0 V count as the one after the last."""
        topology = self.variants.topology
        return np.minimum(topology.group, topology.free)

    @cached_property
    def drives(self) -> dict[int, Floats]:
        """Moving volts in series with pins, by family: (what-ifs, rows, k, z)."""
        found: dict[int, Floats] = {}
        for number, family in enumerate(self.families):
            if type(family) is Conductors:
                found[number] = self._drive(number, family)
            elif isinstance(family, LimitedWindings):
                found[number] = self._behind_the_lamp(family)
        return found

    def _behind_the_lamp(self, family: LimitedWindings) -> Floats:
        found = np.zeros((self.variants.count, *family.pins.shape, self.size))
        assert self.limiter is not None
        for k, ref in enumerate(self.limiter.refs):
            found[:, 0, 2 * k, -2] = self.variants.windings[ref]
        return found

    def _drive(self, number: int, family: Conductors) -> Floats:
        variants = self.variants
        found = np.zeros((variants.count, *family.pins.shape, self.size))
        for k, ref in enumerate(self.states.refs):
            self._put(found, number, ref, k, self.states.back[:, k])
        for ref, peak in variants.windings.items():
            self._put(found, number, ref, -2, peak)
        return found

    def _put(
        self, drives: Floats, number: int, ref: str, column: int, volts: Floats | float
    ) -> None:
        """Put moving volts in series with the first row of a part, if this family has it."""
        for family, row in self.variants.places.get(ref, [])[:1]:
            if family == number:
                drives[:, row, 0, column] = volts

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
    def primary(self) -> Floats:
        """Current that the mains gives, from the currents into the pins: (what-ifs, pins)."""
        found = np.zeros((self.variants.count, self.pins))
        if self.limiter is not None:
            found[:, self.limiter.at] = -self.limiter.per_volt
        return found

    @cached_property
    def lamp_share(self) -> Floats:
        """Volts that the lamp in the mains takes off each winding, per ampere of the mains."""
        last = self.families[-1] if self.families else None
        return self.primary * (last.lamp_ohms if isinstance(last, LimitedWindings) else 0.0)

    @cached_property
    def into_pins(self) -> Floats:
        """Sums the currents of all rows of all families at the flat list of pins."""
        slots = [np.zeros(0, dtype=np.intp), *(f.slots.ravel() for f in self.families)]
        flat = np.concatenate(slots)
        found = np.zeros((self.pins, len(flat)))
        found[flat, np.arange(len(flat))] = 1.0
        return found

    @cached_property
    def pieced(self) -> list[int]:
        """Numbers of the families whose laws have pieces."""
        return [i for i, f in enumerate(self.families) if isinstance(f, PIECED) and len(f.pins)]

    @cached_property
    def watched(self) -> Ints:
        """Nodes that the laws with pieces look at."""
        pins = [self.families[i].pins.ravel() for i in self.pieced]
        # Plain np.unique would load numpy.ma, which takes longer than a small map's solution.
        return np.array(sorted({int(n) for some in pins for n in some}), dtype=np.intp)

    @cached_property
    def ending(self) -> dict[int, Ints]:
        """Which bounds of each family can ever end a piece, among those of all its rows."""
        found: dict[int, Ints] = {}
        everyone = np.arange(self.variants.count)
        for number in self.pieced:
            family = self.family(number, everyone)
            ends = False
            for mode in family.modes:
                modes = np.full((len(everyone), len(family.pins)), mode, dtype=np.intp)
                slopes, constants = family.bounds(modes)
                ends = ends | (slopes.any(axis=-1) & (constants < ENDLESS / 2)).any(axis=0)
            found[number] = np.flatnonzero(ends)
        return found

    def family(self, number: int, rows: Ints) -> Any:
        """Return a family with the numbers of some what-ifs, one a job."""
        return taken(self.families[number], rows)

    def watching(self, rows: Ints) -> list[tuple[int, Pieced]]:
        """Return the laws with pieces for some what-ifs, pins numbered among watched nodes."""
        found: list[tuple[int, Pieced]] = []
        for i in self.pieced:
            family: Any = self.families[i]
            pins = np.searchsorted(self.watched, self.families[i].pins)
            found.append((i, taken(replace(family, pins=pins), rows)))
        return found

    @cached_property
    def straight(self) -> tuple[Floats, Floats]:
        """What the laws without pieces give to Kirchhoff's current law at every group.

        Slopes (what-ifs, groups, groups) and what does not depend on volts (what-ifs, groups, z),
        the last group being all that is held.
        """
        everyone = np.arange(self.variants.count)
        size = self.variants.topology.free + 1
        matrix = np.zeros((len(everyone), size, size))
        right = np.zeros((len(everyone), size, self.size))
        pushed = np.broadcast_to(self.pushed, (len(everyone), *self.pushed.shape))
        add_along(right, self.node_group, values=pushed)
        still = np.zeros((len(everyone), self.nodes))
        shift = self.shift(everyone)
        for number, family in enumerate(self.families):
            if number in self.pieced or not len(family.pins):
                continue
            mode = np.zeros((len(everyone), len(family.pins)), dtype=np.intp)
            amps, slope = family.evaluate(still, mode)
            fixed = self.fixed(number, everyone, amps, slope)
            self.gather(number, matrix, right, slope, fixed + slope @ shift[:, family.pins])
        matrix[:, np.arange(size), np.arange(size)] += LEAK_SIEMENS
        return matrix, right

    def fixed(self, number: int, rows: Ints, amps: Floats, slope: Floats) -> Floats:
        """Return a family's currents at 0 V against the state: (jobs, rows, k, z)."""
        found = np.zeros((*np.broadcast_shapes(amps.shape, slope.shape[:-1]), self.size))
        found[..., -1] = amps
        if number in self.drives:
            # Ohm's law with a moving voltage in series: amps = g (v - W z).
            found -= slope @ self.drives[number][rows]
        return found

    def gather(
        self, number: int, matrix: Floats, right: Floats, slope: Floats, fixed: Floats
    ) -> None:
        """Add a family's slopes and fixed currents to Kirchhoff's current law."""
        jobs, size = matrix.shape[:2]
        groups = self.node_group[self.families[number].pins]
        cells: Ints = (groups[:, :, None] * size + groups[:, None, :]).ravel()
        job: Ints = np.arange(jobs, dtype=np.intp)[:, None]
        place: Ints = (job * size * size + cells).ravel()
        slope = np.broadcast_to(slope, (jobs, *slope.shape[1:]))
        np.add.at(matrix.reshape(-1), place, slope.ravel())
        at: Ints = (job * size + groups.ravel()).ravel()
        np.add.at(right.reshape(-1, self.size), at, fixed.reshape(-1, self.size))

    def motion(self, rows: Ints, volts: Floats) -> Floats:
        """Return ``M`` of ``dz/dt = M z`` for some jobs: (jobs, z, z)."""
        states, z = self.states, self.size
        found = np.zeros((len(rows), z, z))
        m = len(states.refs)
        inverse = states.inverse[rows]
        across = volts[:, states.nodes[:, 0]] - volts[:, states.nodes[:, 1]]
        across[:, np.arange(m), np.arange(m)] -= states.back[rows]
        found[:, :m] = inverse[..., None] * across
        dead = inverse == 0
        if dead.any():
            job, k = np.nonzero(dead)
            found[job, k] = 0.0
            found[job, k, k] = -FADE_PER_SECOND
        found[:, -3, -2] = -self.omega
        found[:, -2, -3] = self.omega
        return found


def moving_states(variants: Variants) -> States:
    """Return the capacitors and chokes of a network, as states."""
    parts = variants.base.parts
    refs = [r for r, p in parts.items() if isinstance(p, kinds.Capacitor)]
    refs += [r for r, p in parts.items() if isinstance(p, kinds.Choke)]
    choke = np.array([isinstance(parts[r], kinds.Choke) for r in refs], dtype=bool)
    first = [variants.start_of[r] for r in refs]
    slots = np.array([[s, s + 1] for s in first], dtype=np.intp).reshape(-1, 2)
    inverse = [variants.number(r, _inverse) for r in refs]
    back = [variants.number(r, _back) for r in refs]
    none = np.zeros((0, variants.count))
    return States(
        refs, choke, variants.slot_node[slots], slots,
        np.array(inverse or none).T, np.array(back or none).T,
    )  # fmt: skip


def _inverse(part: kinds.Capacitor | kinds.Choke) -> float:
    if isinstance(part, kinds.Capacitor):
        return 1 / (part.farads * max(part.esr_ohms, LEAST_ESR_OHMS))
    loss = LOSS_OHMS_A_HENRY * part.henries
    return loss / (loss + part.ohms) / part.henries


def _back(part: kinds.Capacitor | kinds.Choke) -> float:
    return part.ohms if isinstance(part, kinds.Choke) else 1.0
