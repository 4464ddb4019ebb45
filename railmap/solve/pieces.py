"""A network on one set of modes is linear: its volts, currents and motion as matrices.

The state of a moving network is ``z = [x, cos wt, sin wt, 1]``: the volts of its capacitors and the
amps of its chokes, one turn of the mains, and one for what is constant. Given the modes, node
volts are ``V z``, currents into pins ``P z``, and ``z`` after a time ``h`` is ``E z`` with the
exact ``E = expm(M h)``. A *job* is one what-if on one set of modes; many are worked out at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railmap.solve.arrays import add_along
from railmap.solve.laws import Floats, Ints
from railmap.solve.moving import Moving

LEAK_SIEMENS = 1e-12
"""Ties every group to 0 V, so that a node cut off from everything keeps defined volts."""
TAYLOR = 12
"""Terms of the exponential's series after scaling: enough for 1e-16 below a norm of a half."""


@dataclass(frozen=True)
class Pieces:
    """Matrices of some jobs.

    Attributes
    ----------
    volts : ndarray, shape (jobs, nodes, z)
        Node volts from the state.
    amps : ndarray, shape (jobs, pins, z)
        Currents into the flat list of pins, from the state.
    seen : ndarray, shape (jobs, watched nodes, z)
        Volts of the nodes that the laws with pieces look at.
    coarse : ndarray, shape (jobs, ahead, z, z)
        The state after one, two, ... whole steps.
    fine : ndarray, shape (jobs, parts, z, z)
        The state after one, two, ... parts of a step.
    half_coarse, half_fine : ndarray, shape (jobs, z, z)
        The state after half a step, and after half a part.
    """

    volts: Floats
    amps: Floats
    seen: Floats
    coarse: Floats
    fine: Floats
    half_coarse: Floats
    half_fine: Floats


@dataclass(frozen=True)
class Pace:
    """How a turn of the mains is walked.

    Attributes
    ----------
    steps : int
        Whole steps a turn.
    ahead : int
        Whole steps that are tried at once.
    halvings : int
        How often a step is halved to catch a change of mode.
    """

    steps: int
    ahead: int
    halvings: int

    @property
    def parts(self) -> int:
        """Parts that a step is cut into to catch a change of mode."""
        return 2**self.halvings


def work_out(moving: Moving, rows: Ints, modes: list[Ints], pace: Pace) -> Pieces:
    """Work out the matrices of some jobs.

    Parameters
    ----------
    moving : Moving
        The network, with its what-ifs.
    rows : ndarray of int, shape (jobs,)
        The what-if of each job.
    modes : list of ndarray, each shape (jobs, rows of the family)
        Its modes, family by family.
    pace : Pace
        How the turn is walked.
    """
    slopes, constant = _currents(moving, rows, modes)
    volts = _node_volts(moving, rows, slopes, constant)
    amps = _pin_amps(moving, slopes, constant, volts)
    motion = moving.motion(rows, volts, amps)
    step = 2 * np.pi / moving.omega / pace.steps
    levels = _exponentials(motion, step, pace.halvings + 1)
    return Pieces(
        volts, amps, volts[:, moving.watched],
        _powers(levels[:, 0], pace.ahead), _powers(levels[:, -2], pace.parts),
        levels[:, 1].copy(), levels[:, -1].copy(),
    )  # fmt: skip


def _powers(matrix: Floats, count: int) -> Floats:
    """Return a matrix to the powers one, two, ..., doubling the known ones each time."""
    found = np.empty((matrix.shape[0], count, *matrix.shape[1:]))
    found[:, 0] = matrix
    known = 1
    while known < count:
        more = min(known, count - known)
        found[:, known : known + more] = found[:, :more] @ found[:, known - 1 : known]
        known += more
    return found


def _currents(moving: Moving, rows: Ints, modes: list[Ints]) -> tuple[list[Floats], list[Floats]]:
    """Return each family's slopes (jobs, rows, k, k) and what does not depend on volts."""
    jobs, z = len(rows), moving.size
    still = np.zeros((jobs, moving.nodes))
    slopes: list[Floats] = []
    constant: list[Floats] = []
    for number, (family, mode) in enumerate(zip(moving.families_of(rows), modes, strict=True)):
        amps, slope = family.evaluate(still, mode)
        full = (jobs, *slope.shape[-3:])
        slope = np.broadcast_to(slope, full)
        fixed = np.zeros((jobs, *amps.shape[-2:], z))
        fixed[..., -1] = amps
        if number in moving.drives:
            # Ohm's law with a moving voltage in series: amps = g (v - W z).
            drive = moving.drives[number][rows]
            g = slope[..., 0, 0, None]
            fixed[..., 0, :] -= g * drive
            fixed[..., 1, :] += g * drive
        slopes.append(slope)
        constant.append(fixed)
    return slopes, constant


def _node_volts(moving: Moving, rows: Ints, slopes: list[Floats], constant: list[Floats]) -> Floats:
    """Solve Kirchhoff's current law for the volts of all groups, then of all nodes."""
    jobs, n, z = len(rows), moving.nodes, moving.size
    matrix = np.zeros((jobs, n, n))
    right = np.zeros((jobs, n, z))
    right += moving.pushed
    for family, slope, fixed in zip(moving.families, slopes, constant, strict=True):
        pins = family.pins
        size = pins.shape[1]
        for a in range(size):
            add_along(right, pins[:, a], values=fixed[:, :, a])
            for b in range(size):
                add_along(matrix, pins[:, a], pins[:, b], values=slope[:, :, a, b])
    shift = moving.shift(rows)
    select = moving.select
    by_group = select.T @ matrix @ select
    free = select.shape[1]
    by_group[:, np.arange(free), np.arange(free)] += LEAK_SIEMENS
    drive = select.T @ (right + matrix @ shift)
    return select @ np.linalg.solve(by_group, -drive) + shift


def _pin_amps(
    moving: Moving, slopes: list[Floats], constant: list[Floats], volts: Floats
) -> Floats:
    jobs, z = volts.shape[0], moving.size
    found = np.zeros((jobs, moving.pins, z))
    found += moving.pushed_pins
    for family, slope, fixed in zip(moving.families, slopes, constant, strict=True):
        amps = fixed + slope @ volts[:, family.pins]
        for k in range(family.slots.shape[1]):
            add_along(found, family.slots[:, k], values=amps[:, :, k])
    return moving.variants.with_ties(found)


def _exponentials(motion: Floats, step: float, levels: int) -> Floats:
    """Return exp(M h), exp(M h/2), ... by scaling and squaring, the squarings being the halves."""
    norm = float(np.abs(motion).sum(axis=-1).max(initial=0.0)) * step
    halvings = max(levels, int(np.ceil(np.log2(max(norm, 1e-12) / 0.5))), 0)
    small = motion * (step / 2.0**halvings)
    eye = np.broadcast_to(np.eye(motion.shape[-1]), motion.shape)
    power = eye.copy()
    for term in range(TAYLOR, 0, -1):
        power = eye + small @ power / term
    found = np.empty((motion.shape[0], levels + 1, *motion.shape[1:]))
    for halving in range(halvings, -1, -1):
        if halving <= levels:
            found[:, halving] = power
        if halving:
            power = power @ power
    return found
