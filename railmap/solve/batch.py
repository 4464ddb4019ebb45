"""The direct-current operating points of many what-ifs under one structure, by batched algebra."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railmap.solve.arrays import add_along, taken
from railmap.solve.equations import FAR, GRAIN, NEAR, ROOM_VOLTS, Equations
from railmap.solve.laws import Floats, Ints
from railmap.solve.laws_three import Converters
from railmap.solve.measure import Turn, still_turn
from railmap.solve.nodal import GUESS_SIEMENS, TOGETHER
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
        First guess for all of them, where their laws leave one solution: the operating point of
        the undisturbed map.
    modes : list of ndarray, each shape (rows of the family,)
        Its modes.
    """
    equations = _Equations(variants)
    count = variants.count
    unknown = np.tile(equations.unknown_of(volts), (count, 1)) - equations.group_offset
    state = [np.tile(m, (count, 1)) for m in modes]
    if is_linear(variants):
        quick = updated(variants, unknown[0], volts)
        if quick is not None:
            # Where an update has lost too many digits, the what-if is better solved by itself.
            settled = equations.met(quick, state)
            return Batch(equations.figures(quick, np.zeros_like(quick), state), settled)
    if not Equations(variants.network(0)).single_valued:
        # The answer must not depend on what else is tried: each goes the way it goes alone.
        unknown, state = _without_loads(equations)
    return _settled(equations, unknown, state)


def _settled(equations: _Equations, unknown: Floats, state: list[Ints]) -> Batch:
    """Step until every what-if is at rest, or none gets there any more."""
    shift = np.zeros_like(unknown)
    settled = np.zeros(len(unknown), dtype=bool)
    active = np.arange(len(unknown))
    for _ in range(MOST_STEPS):
        v = equations.volts(unknown[active], active)
        modes = [s[active] for s in state]
        asked = equations.asked(v, active, modes)
        steady = _same(modes, asked, len(active)) & equations.within_reach(v, active)
        for old, new in zip(state, asked, strict=True):
            old[active] = new
        met, step = equations.step(v, active, asked)
        done = steady & met
        shift[active[done]] = step[done]
        settled[active[done]] = True
        left = ~done & _finite(step)
        active, step = active[left], step[left]
        if not len(active):
            break
        unknown[active] += step
    return Batch(equations.figures(unknown, shift, state), settled)


def _without_loads(equations: _Equations) -> tuple[Floats, list[Ints]]:
    """Return the operating points without loads, as a map that is solved alone begins."""
    count, families = equations.variants.count, equations.variants.families
    state = [np.full((count, len(f.pins)), f.first_mode, dtype=np.intp) for f in families]
    unknown = np.zeros((count, equations.free))
    active = np.arange(count)
    for _ in range(TOGETHER):
        modes = [s[active] for s in state]
        v = equations.volts(unknown[active], active)
        _, step = equations.step(v, active, modes, GUESS_SIEMENS, loads=False)
        unknown[active[~_finite(step)]] = 0.0
        active, step = active[_finite(step)], step[_finite(step)]
        unknown[active] += step
        modes = [s[active] for s in state]
        v = equations.volts(unknown[active], active)
        asked = equations.asked(v, active, modes)
        done = _same(modes, asked, len(active)) & equations.within_reach(v, active)
        for old, new in zip(state, asked, strict=True):
            old[active] = new
        active = active[~done]
        if not len(active):
            break
    unknown[active] = 0.0
    return unknown, state


def _finite(step: Floats) -> NDArray[np.bool_]:
    """Tell for each what-if whether there is a step."""
    return np.asarray(np.isfinite(step).all(axis=1), dtype=np.bool_)


def _same(one: list[Ints], other: list[Ints], count: int) -> NDArray[np.bool_]:
    """Tell for each what-if whether all modes are the same."""
    found = np.ones(count, dtype=np.bool_)
    for a, b in zip(one, other, strict=True):
        found &= np.all(a == b, axis=1)
    return found


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

    def asked(self, v: Floats, rows: Ints, modes: list[Ints]) -> list[Ints]:
        """Return the modes that node volts ask for."""
        pairs = zip(self.variants.families, modes, strict=True)
        return [np.asarray(taken(f, rows).next_mode(v, m), dtype=np.intp) for f, m in pairs]

    def within_reach(self, v: Floats, rows: Ints) -> NDArray[np.bool_]:
        """Tell whether node volts can be those of a map at rest."""
        return np.asarray(np.all(np.abs(v) <= self._reach[rows, None], axis=1), dtype=np.bool_)

    @cached_property
    def _reach(self) -> Floats:
        variants = self.variants
        volts = [np.abs(variants.emf).sum(axis=1)]
        volts += [f.volts.sum(axis=1) for f in variants.families if isinstance(f, Converters)]
        return FAR * np.sum(volts, axis=0) + ROOM_VOLTS

    def step(
        self,
        v: Floats,
        rows: Ints,
        modes: list[Ints],
        rest: float = REST_SIEMENS,
        loads: bool = True,
    ) -> tuple[NDArray[np.bool_], Floats]:
        """Return where the law is met, and the Newton steps; nan where these are not defined."""
        count, free = len(rows), self.free
        total = np.zeros((self.groups, count))
        noise = np.zeros((self.groups, count))
        matrix = np.zeros((free * free, count))
        for family, mode in zip(self.variants.families, modes, strict=True):
            if loads or not family.draws:
                amps, slope = taken(family, rows).evaluate(v, mode)
                self._add(family.pins, amps, slope, v, total, noise, matrix)
        right = total[:free].T
        met = np.all(np.abs(right) <= noise[:free].T, axis=1)
        if free == 0:
            return met, right
        square = np.ascontiguousarray(matrix.T).reshape(count, free, free)
        square[:, np.arange(free), np.arange(free)] += rest
        return met, _answers(square, -right)

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


def _answers(square: Floats, right: Floats) -> Floats:
    """Return the answers of matrices; nan for one that is singular."""
    try:
        return np.asarray(np.linalg.solve(square, right[..., None])[..., 0], dtype=np.float64)
    except np.linalg.LinAlgError:
        if len(square) == 1:
            return np.full_like(right, np.nan)
    half = len(square) // 2
    parts = (_answers(square[some], right[some]) for some in (slice(half), slice(half, None)))
    return np.concatenate(list(parts))


def _roughness(amps: Floats, slope: Floats, v: Floats) -> Floats:
    """Return how finely the current into each pin is known."""
    grain = (np.abs(slope) @ np.abs(v)[..., None])[..., 0]
    return np.abs(amps) * NEAR + GRAIN * grain
