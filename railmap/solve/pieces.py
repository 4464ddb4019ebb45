"""A network on one set of modes is linear: its volts, currents and motion as matrices.

The state of a moving network is ``z = [x, cos wt, sin wt, 1]``: the volts of its capacitors and the
amps of its chokes, one turn of the mains, and one for what is constant. Given the modes, node
volts are ``V z``, currents into pins ``P z``, and ``z`` after a time ``h`` is ``E z`` with the
exact ``E = expm(M h)``. A *job* is one what-if on one set of modes; many are worked out at once.

Time is counted in *ticks*: whole numbers, so that a turn of the mains ends where it began.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from railmap.solve.laws import Floats, Ints
from railmap.solve.moving import Moving

STEPS = 128
"""Steps a turn of the mains; what bends or comes to an end is looked for once a step."""


class Grain(NamedTuple):
    """How finely time is looked at.

    Attributes
    ----------
    halvings : int
        How often a step is halved to come to a tick, to which a moment of change is known.
    ahead : int
        How often a step is doubled: the points ahead that are looked at together.
    """

    halvings: int
    ahead: int

    @property
    def finest(self) -> int:
        """The level of the pieces that is one tick; each level is half the one before."""
        return self.ahead + self.halvings


@dataclass(frozen=True)
class Pieces:
    """Matrices of some jobs.

    Attributes
    ----------
    volts : ndarray, shape (jobs, nodes, z)
        Node volts from the state.
    seen : ndarray, shape (jobs, watched nodes, z)
        Volts of the nodes that the laws with pieces look at.
    bounds : ndarray, shape (jobs, bounds, z)
        What must not fall below 0 for the modes to hold.
    rates : ndarray, shape (jobs, bounds, z)
        How fast that changes, a tick.
    motion : ndarray, shape (jobs, z, z)
        How fast the state changes, a tick.
    levels : ndarray, shape (jobs, levels, z, z)
        The state after so many steps, half of them, ..., one, a half, ... and last after one tick;
        worked out by :meth:`Store.make_ready`, for many pieces are passed without a stay.
    """

    volts: Floats
    seen: Floats
    bounds: Floats
    rates: Floats
    motion: Floats
    levels: Floats


class Store:
    """Pieces worked out so far.

    Parameters
    ----------
    moving : Moving
        The network, with its what-ifs.
    grain : Grain
        How finely time is looked at.

    Attributes
    ----------
    columns : list of slice
        Where each family's modes lie among those of all families laid out in one row.
    rows : ndarray of int, shape (jobs,)
        The what-if of each job.
    flat : ndarray of int, shape (jobs, rows of all families)
        Its modes.
    """

    def __init__(self, moving: Moving, grain: Grain) -> None:
        self.moving, self.grain = moving, grain
        self._index: dict[bytes, int] = {}
        self._room: Pieces | None = None
        ends = np.cumsum([0, *(len(f.pins) for f in moving.families)]).tolist()
        self.columns = [slice(a, b) for a, b in pairwise(ends)]
        self.rows: Ints = np.zeros(0, dtype=np.intp)
        self.flat: Ints = np.zeros((0, ends[-1]), dtype=np.intp)
        self._ready = np.zeros(0, dtype=bool)

    @property
    def ticks(self) -> int:
        """Ticks a turn."""
        return STEPS << self.grain.halvings

    @property
    def pieces(self) -> Pieces:
        """All pieces there are."""
        assert self._room is not None
        return _some(self._room, slice(0, len(self.rows)))

    def foresee(self, flat: Ints) -> None:
        """Work out at once what every what-if will need that goes through some modes."""
        count, kinds = self.moving.variants.count, len(flat)
        rows = np.repeat(np.arange(count), kinds)
        self.make_ready(self.places(rows, np.tile(flat, (count, 1))))

    def _keep(self, found: Pieces, rows: Ints, flat: Ints) -> None:
        """Take more pieces, with room for as many again where there is none left."""
        start, count = len(self.rows), len(rows)
        if self._room is None:
            self._room = found
        elif start + count > len(self._room.volts):
            self._room = Pieces(**{
                name: np.concatenate((held[:start], new, np.empty_like(held[:start])))
                for (name, held), new in zip(vars(self._room).items(), _values(found), strict=True)
            })  # fmt: skip
        else:
            for held, new in zip(_values(self._room), _values(found), strict=True):
                held[start : start + count] = new
        self.rows = np.concatenate((self.rows, rows))
        self.flat = np.concatenate((self.flat, flat))
        self._ready = np.concatenate((self._ready, np.zeros(count, dtype=bool)))

    def make_ready(self, places: Ints) -> None:
        """Work out the steps of some pieces that are to be walked on."""
        own = np.array(sorted({int(p) for p in places[~self._ready[places]]}), dtype=np.intp)
        if len(own):
            self._ready[own] = True
            self.pieces.levels[own] = _exponentials(self.pieces.motion[own], self.grain.finest)

    def modes(self, flat: Ints) -> list[Ints]:
        """Return modes laid out in one row, family by family."""
        return [np.asarray(flat[..., own], dtype=np.intp) for own in self.columns]

    def places(self, rows: Ints, flat: Ints) -> Ints:
        """Return the places of the pieces of some what-ifs on their modes.

        Parameters
        ----------
        rows : ndarray of int, shape (jobs,)
            The what-ifs.
        flat : ndarray of int, shape (jobs, rows of all families)
            Their modes.
        """
        numbers = rows[:, None].astype(np.int32).view(np.int8)
        ids = np.concatenate((numbers, flat.astype(np.int8)), axis=1)
        keys = [line.tobytes() for line in ids]
        new: dict[bytes, int] = {}
        for i, key in enumerate(keys):
            if key not in self._index:
                new.setdefault(key, i)
        if new:
            jobs = np.fromiter(new.values(), dtype=np.intp)
            found = work_out(self.moving, rows[jobs], self.modes(flat[jobs]), self.grain)
            start = len(self.rows)
            self._index.update({key: start + k for k, key in enumerate(new)})
            self._keep(found, rows[jobs], flat[jobs])
        return np.array([self._index[key] for key in keys], dtype=np.intp)


def _values(pieces: Pieces) -> list[Floats]:
    return list(vars(pieces).values())


def _some(pieces: Pieces, which: slice) -> Pieces:
    return Pieces(*(values[which] for values in _values(pieces)))


def work_out(moving: Moving, rows: Ints, modes: list[Ints], grain: Grain) -> Pieces:
    """Work out the matrices of some jobs.

    Parameters
    ----------
    moving : Moving
        The network, with its what-ifs.
    rows : ndarray of int, shape (jobs,)
        The what-if of each job.
    modes : list of ndarray, each shape (jobs, rows of the family)
        Its modes, family by family.
    grain : Grain
        How finely time is looked at.
    """
    volts = _node_volts(moving, rows, modes)
    tick = 2 * np.pi / moving.omega / (STEPS << grain.halvings)
    motion = moving.motion(rows, volts) * tick
    bounds = _bounds(moving, rows, modes, volts)
    levels = np.empty((len(rows), grain.finest + 1, *motion.shape[1:]))
    return Pieces(volts, volts[:, moving.watched], bounds, bounds @ motion, motion, levels)


def _node_volts(moving: Moving, rows: Ints, modes: list[Ints]) -> Floats:
    """Solve Kirchhoff's current law for the volts of all groups, then of all nodes."""
    straight, drive = moving.straight
    matrix, right = straight[rows], drive[rows]
    shift = moving.shift(rows)
    still = np.zeros((len(rows), moving.nodes))
    for number in moving.pieced:
        family = moving.family(number, rows)
        amps, slope = family.evaluate(still, modes[number])
        fixed = slope @ shift[:, family.pins]
        fixed[..., -1] += amps
        moving.gather(number, matrix, right, slope, fixed)
    free = matrix.shape[1] - 1
    volts = np.zeros_like(right)
    volts[:, :free] = np.linalg.solve(matrix[:, :free, :free], -right[:, :free])
    return volts[:, moving.node_group] + shift


def _bounds(moving: Moving, rows: Ints, modes: list[Ints], volts: Floats) -> Floats:
    """Return what must not fall below 0, family by family, row by row, against the state."""
    found = [np.zeros((len(rows), 0, moving.size))]
    for number in moving.pieced:
        family = moving.family(number, rows)
        slopes, constants = family.bounds(modes[number])
        lines = slopes @ volts[:, family.pins]
        lines[..., -1] += constants
        found.append(lines.reshape(len(rows), -1, moving.size)[:, moving.ending[number]])
    return np.concatenate(found, axis=1)


def pin_amps(moving: Moving, rows: Ints, modes: list[Ints], volts: Floats) -> Floats:
    """Return currents into the flat list of pins against the state: (jobs, pins, z).

    Parameters
    ----------
    moving : Moving
        The network, with its what-ifs.
    rows : ndarray of int, shape (jobs,)
        The what-if of each job.
    modes : list of ndarray, each shape (jobs, rows of the family)
        Its modes, family by family.
    volts : ndarray, shape (jobs, nodes, z)
        Its node volts against the state.
    """
    still = np.zeros((len(rows), moving.nodes))
    flows = [np.zeros((len(rows), 0, moving.size))]
    for number, family in enumerate(moving.families):
        some = moving.family(number, rows)
        amps, slope = some.evaluate(still, modes[number])
        flow = moving.fixed(number, rows, amps, slope) + slope @ volts[:, family.pins]
        flows.append(flow.reshape(len(rows), -1, moving.size))
    found = moving.into_pins @ np.concatenate(flows, axis=1) + moving.pushed_pins
    return moving.variants.with_ties(found)


def _exponentials(step: Floats, levels: int) -> Floats:
    """Return exp(M h) for the step ``M h`` doubled so many times, ..., twice, once, and as it is.

    By scaling and squaring of ``F = exp(M h) - 1``, of which ``2 F + F F`` is the double: what
    moves slowly beside something fast would otherwise drown in the 1.
    """
    norm = float(np.abs(step).sum(axis=-1).max(initial=0.0))
    extra = max(int(np.ceil(np.log2(max(norm, 1e-300) / SMALL))), 0)
    small = step / 2.0**extra
    norm = norm / 2.0**extra
    eye = np.eye(step.shape[-1])
    power, term, size = small.copy(), small, norm
    k = 1
    while size > 1e-18 and k < MOST_TERMS:
        k += 1
        term = term @ small / k
        size *= norm / k
        power = power + term
    found = np.empty((step.shape[0], levels + 1, *step.shape[1:]))
    for halving in range(levels + extra, -1, -1):
        if halving <= levels:
            found[:, halving] = power + eye
        if halving:
            power = 2 * power + power @ power
    return found


SMALL, MOST_TERMS = 0.1, 14
"""Below this norm so many terms of the exponential's series are exact."""
