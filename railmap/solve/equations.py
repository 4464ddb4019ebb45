"""The equations of one network: Kirchhoff's current law at every group of nodes.

What is found here is found at once for all rows of all families; see
:mod:`railmap.solve.pattern` for how they lie in the equations.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railmap.solve.assemble import Network
from railmap.solve.laws import Floats, Ints, PowerLoads
from railmap.solve.laws_three import Converters, Transistors
from railmap.solve.pattern import SPARSE_FROM, gathered

NEAR = 1e-11
"""Kirchhoff's current law is met when the sum is below this part of the currents that meet."""
GRAIN = 8 * float(np.finfo(float).eps)
"""How finely the current of a law is known, as a part of its slope times its volts."""
NOTHING_AMPS = 1e-15
"""A current too small to be anything."""
REFINEMENTS = 6
"""Most corrections of the currents once the voltages are found."""
EXACT = 1e-14
"""Currents are as exact as they can be when they add up to this part of themselves."""
FAR, ROOM_VOLTS = 1.01, 1.0
"""No node can be farther from its reference than all that drives in series; with some room."""
MANY_COLUMNS = 4
"""With more answers wanted than this part of the unknowns, a full matrix is the quicker one."""
LOST = 1e30
"""Volts from which a search is lost."""


@dataclass(frozen=True)
class Point:
    """What the laws give at some volts of all nodes.

    Attributes
    ----------
    amps : ndarray, shape (pins,)
        Current into each pin of each row of each family.
    slopes : ndarray, shape (entries,)
        Their slopes.
    residual : ndarray, shape (free,)
        Sum of the currents that leave each group; 0 where Kirchhoff's current law is met.
    noise : ndarray, shape (free,)
        How near to 0 that sum has to be.
    """

    amps: Floats
    slopes: Floats
    residual: Floats
    noise: Floats

    def held(self, siemens: float, moved: Floats) -> Point:
        """Return the point as it is with every group tied to where it started."""
        if siemens == 0:
            return self
        pull = siemens * moved
        # A stage on the way need not be as exact as the end.
        noise = self.noise + 1e-7 * np.abs(pull) + 1e-12 * siemens
        return Point(self.amps, self.slopes, self.residual + pull, noise)

    @property
    def met(self) -> bool:
        """True if Kirchhoff's current law holds at every group."""
        return bool(np.all(np.abs(self.residual) <= self.noise))


_MANY_VALUED = (PowerLoads, Converters, Transistors)


class Equations:
    """The equations of one network, in the volts of its groups."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.families = network.families
        self.pattern = network.pattern
        self.free = network.pattern.free
        self.offset = network.topology.offset_map @ network.tie_volts

    @cached_property
    def single_valued(self) -> bool:
        """True if the laws leave one solution, wherever the search begins."""
        return not any(isinstance(family, _MANY_VALUED) for family in self.families)

    @cached_property
    def reach(self) -> float:
        """Volts that no node can be beyond, however everything is joined."""
        driven = float(np.sum(np.abs(self.network.emf)))
        lifted = sum(float(f.volts.sum()) for f in self.families if isinstance(f, Converters))
        return FAR * (driven + lifted) + ROOM_VOLTS

    def volts(self, unknown: Floats) -> Floats:
        """Return node volts from group volts."""
        padded = np.zeros(self.pattern.groups)
        padded[: self.free] = unknown
        return padded[self.network.topology.group] + self.offset

    def within_reach(self, v: Floats) -> bool:
        """Tell whether node volts can be those of the network at rest."""
        return bool(np.all(np.abs(v) <= self.reach))

    def asked(self, v: Floats, modes: list[Ints]) -> list[Ints]:
        """Return the modes that node volts ask for."""
        return [f.next_mode(v, m) for f, m in zip(self.families, modes, strict=True)]

    def evaluate(self, v: Floats, modes: list[Ints], loads: bool = True) -> Point:
        """Return what the laws give at some node volts; without loads if so asked."""
        pattern, amps, slopes = self.pattern, [np.zeros(0)], [np.zeros(0)]
        for family, mode in zip(self.families, modes, strict=True):
            found, slope = family.evaluate(v, mode)
            share = 1.0 if loads or not family.draws else 0.0
            amps.append(share * found.ravel())
            slopes.append(share * slope.ravel())
        all_amps, all_slopes = np.concatenate(amps), np.concatenate(slopes)
        # Where an ideal source takes back what its group has, the digits are the group's.
        size = np.abs(v) + 2 * np.abs(self.offset)
        grain = GRAIN * np.abs(all_slopes) * size[pattern.entry_node]
        noise = NOTHING_AMPS + self.sums(NEAR * np.abs(all_amps))
        noise += gathered(pattern.entry_group, grain, pattern.groups)[: self.free]
        return Point(all_amps, all_slopes, self.sums(all_amps), noise)

    def sums(self, amps: Floats) -> Floats:
        """Add up what flows out of each free group."""
        return gathered(self.pattern.pin_group, amps, self.pattern.groups)[: self.free]

    def along(self, slopes: Floats, shift: Floats) -> Floats:
        """Return how the currents change along their slopes where group volts change."""
        at = self.pattern
        padded = np.zeros(at.groups)
        padded[: self.free] = shift
        # Only differences count; what all nodes have in common would cost digits.
        moved = padded[self.network.topology.group][at.entry_node] - padded[at.entry_group]
        return gathered(at.entry_pin, slopes * moved, len(at.pin_group))

    def refined(self, point: Point) -> tuple[Floats, Floats]:
        """Return the currents as they add up to nothing, and the change of volts they ask for.

        A current of microamperes beside a junction of a microohm is lost in the last digit of
        the volts. So the volts stay, and what is missing is added to the currents themselves.
        """
        amps, shift = point.amps, np.zeros(self.free)
        try:
            solve = self.solver(point.slopes)
            for _ in range(REFINEMENTS):
                left = self.sums(amps)
                if np.all(np.abs(left) <= EXACT * self.sums(np.abs(amps))):
                    break
                step = solve(-left)
                amps = amps + self.along(point.slopes, step)
                shift = shift + step
        except np.linalg.LinAlgError:
            # Nothing but steady currents: whatever the volts, these are the currents.
            return point.amps, np.zeros(self.free)
        return amps, shift

    def solver(
        self, slopes: Floats, extra: float = 0.0, columns: int = 1
    ) -> Callable[[Floats], Floats]:
        """Return what gives the change of group volts from the currents put into the groups.

        ``extra`` is a conductance from every group to its reference; ``columns`` tells how many
        answers are wanted, for with many of them a full matrix is the quicker one.

        Raises
        ------
        numpy.linalg.LinAlgError
            If the slopes leave some volts undefined.
        """
        kept = slopes[self.pattern.kept]
        if self.free >= SPARSE_FROM and columns < self.free / MANY_COLUMNS:
            return self._sparse_solver(kept, extra)
        matrix = self._dense(kept)
        matrix[np.diag_indices(self.free)] += extra
        return lambda amps: np.asarray(np.linalg.solve(matrix, amps), dtype=np.float64)

    def _dense(self, kept: Floats) -> Floats:
        n, pattern = self.free, self.pattern
        return gathered(pattern.rows * n + pattern.columns, kept, n * n).reshape(n, n)

    def _sparse_solver(self, kept: Floats, extra: float) -> Callable[[Floats], Floats]:
        # Loading scipy.sparse takes a fifth of a second, which small maps need not wait for.
        from scipy.sparse import csc_matrix
        from scipy.sparse.linalg import splu

        at = self.pattern.sparse
        data = gathered(at.place, kept, len(at.indices))
        data[at.diagonal] += extra
        matrix = csc_matrix((data, at.indices, at.indptr), shape=(self.free, self.free))
        try:
            return splu(matrix, permc_spec="MMD_AT_PLUS_A").solve
        except RuntimeError as error:
            raise np.linalg.LinAlgError(str(error)) from None
