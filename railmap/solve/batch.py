"""The direct-current operating points of many what-ifs under one structure, by batched algebra."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railmap.solve.arrays import add_along
from railmap.solve.equations import GRAIN, NEAR
from railmap.solve.laws import Floats, Ints
from railmap.solve.measure import Turn, still_turn
from railmap.solve.moving import taken
from railmap.solve.rank import is_linear, updated
from railmap.solve.variants import Variants

MOST_STEPS = 40
REST_SIEMENS = 1e-15
"""From every group to its reference, so that one that nothing holds has volts."""


@dataclass(frozen=True)
class Batch:
    """Operating points of some what-ifs.

    Attributes
    ----------
    turn : Turn
        Their figures; what would swing stands still.
    settled : ndarray of bool
        False where it did not come to rest.
    """

    turn: Turn
    settled: NDArray[np.bool_]


def settle_batch(variants: Variants, volts: Floats, modes: list[Ints]) -> Batch:
    """Find the operating points of some what-ifs.

    Parameters
    ----------
    variants : Variants
        The what-ifs under one structure.
    volts : ndarray, shape (nodes,)
        First guess for all of them: the operating point of the undisturbed map.
    modes : list of ndarray, each shape (rows of the family,)
        Its modes.
    """
    equations = _Equations(variants)
    count = variants.count
    unknown = np.tile(equations.unknown_of(volts), (count, 1)) - equations.group_offset
    state = [np.tile(m, (count, 1)) for m in modes]
    shift = np.zeros_like(unknown)
    settled = np.zeros(count, dtype=bool)
    if is_linear(variants):
        quick = updated(variants, unknown[0], volts)
        if quick is not None:
            unknown = quick
            settled = equations.met(unknown, state)
            # Where an update has lost too many digits, the what-if is better solved by itself.
            return Batch(equations.figures(unknown, shift, state), settled)
    active = np.arange(count)
    for _ in range(MOST_STEPS):
        v = equations.volts(unknown[active], active)
        met, step, asked = equations.step(v, active, [s[active] for s in state])
        steady = np.ones(len(active), dtype=bool)
        for number, (old, new) in enumerate(zip(state, asked, strict=True)):
            steady &= np.all(old[active] == new, axis=1)
            state[number][active] = new
        done = steady & met
        shift[active[done]] = step[done]
        settled[active[done]] = True
        active, step = active[~done], step[~done]
        if not len(active):
            break
        unknown[active] += step
    turn = equations.figures(unknown, shift, state)
    return Batch(turn, settled)


class _Equations:
    """Kirchhoff's current law of many what-ifs at once."""

    def __init__(self, variants: Variants) -> None:
        self.variants = variants
        topology = variants.topology
        self.free, self.groups = topology.free, topology.groups
        self.group = topology.group
        self.offset = variants.tie_volts @ topology.offset_map.T
        first = np.unique(topology.group, return_index=True)[1][: topology.free]
        self._first = first
        self.group_offset = self.offset[:, first]

    def unknown_of(self, volts: Floats) -> Floats:
        """Return group volts from node volts, offsets not yet taken off."""
        return volts[self._first]

    def volts(self, unknown: Floats, rows: Ints) -> Floats:
        """Return node volts from group volts."""
        padded = np.zeros((len(unknown), self.groups))
        padded[:, : self.free] = unknown
        return padded[:, self.group] + self.offset[rows]

    def step(
        self, v: Floats, rows: Ints, modes: list[Ints]
    ) -> tuple[NDArray[np.bool_], Floats, list[Ints]]:
        """Return where the law is met, the Newton steps, and the modes that are asked for."""
        asked: list[Ints] = []
        count, free = len(rows), self.free
        total = np.zeros((self.groups, count))
        noise = np.zeros((self.groups, count))
        matrix = np.zeros((free * free, count))
        for family, mode in zip(self.variants.families, modes, strict=True):
            some = taken(family, rows)
            new = some.next_mode(v, mode)
            asked.append(np.asarray(new, dtype=np.intp))
            amps, slope = some.evaluate(v, asked[-1])
            self._add(family.pins, amps, slope, v, total, noise, matrix)
        right = total[:free].T
        met = np.all(np.abs(right) <= noise[:free].T, axis=1)
        if free == 0:
            return met, right, asked
        square = np.ascontiguousarray(matrix.T).reshape(count, free, free)
        square[:, np.arange(free), np.arange(free)] += REST_SIEMENS
        step = np.asarray(np.linalg.solve(square, -right[..., None])[..., 0], dtype=np.float64)
        return met, step, asked

    def met(self, unknown: Floats, modes: list[Ints]) -> NDArray[np.bool_]:
        """Return where Kirchhoff's current law is met, without a look at the slopes."""
        v = self.volts(unknown, np.arange(len(unknown)))
        total, noise = np.zeros((len(v), self.groups)), np.zeros((len(v), self.groups))
        for family, mode in zip(self.variants.families, modes, strict=True):
            amps, slope = family.evaluate(v, mode)
            rough = _roughness(amps, slope, v[:, family.pins])
            for k in range(family.pins.shape[1]):
                groups = self.group[family.pins[:, k]]
                add_along(total, groups, values=amps[:, :, k])
                add_along(noise, groups, values=rough[:, :, k])
        return np.all(np.abs(total) <= noise, axis=1, where=self._is_free)

    @cached_property
    def _is_free(self) -> NDArray[np.bool_]:
        return np.arange(self.groups) < self.free

    def _add(
        self,
        pins: Ints,
        amps: Floats,
        slope: Floats,
        v: Floats,
        total: Floats,
        noise: Floats,
        matrix: Floats,
    ) -> None:
        """Add one family's currents and slopes, with the what-if as the last, contiguous axis."""
        slope = np.broadcast_to(slope, (*amps.shape, amps.shape[-1]))
        rough = _roughness(amps, slope, v[:, pins])
        groups, free = self.group[pins], self.free
        amps_t = np.ascontiguousarray(np.moveaxis(amps, 0, -1))
        rough_t = np.ascontiguousarray(np.moveaxis(rough, 0, -1))
        slope_t = np.ascontiguousarray(np.moveaxis(slope, 0, -1))
        for row in range(pins.shape[0]):
            for a in range(pins.shape[1]):
                ga = groups[row, a]
                total[ga] += amps_t[row, a]
                noise[ga] += rough_t[row, a]
                if ga >= free:
                    continue
                for b in range(pins.shape[1]):
                    if groups[row, b] < free:
                        matrix[ga * free + groups[row, b]] += slope_t[row, a, b]

    def figures(self, unknown: Floats, shift: Floats, modes: list[Ints]) -> Turn:
        """Return volts and currents, the last correction carried into both."""
        variants = self.variants
        everyone = np.arange(variants.count)
        v = self.volts(unknown, everyone)
        move = self.volts(shift, everyone) - self.offset
        pins = np.zeros((variants.count, len(variants.slot_node)))
        for family, mode in zip(variants.families, modes, strict=True):
            amps, slope = family.evaluate(v, mode)
            amps = amps + (slope @ move[:, family.pins][..., None])[..., 0]
            for k in range(family.slots.shape[1]):
                add_along(pins, family.slots[:, k], values=amps[:, :, k])
        variants.with_ties(pins[..., None])
        return still_turn(v, move, pins, variants)


def _roughness(amps: Floats, slope: Floats, v: Floats) -> Floats:
    """Return how finely the current into each pin is known."""
    grain = (np.abs(slope) @ np.abs(v)[..., None])[..., 0]
    return np.abs(amps) * NEAR + GRAIN * grain
