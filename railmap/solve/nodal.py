"""The direct-current solution of a network by modified nodal analysis.

One unknown a group of nodes (see :mod:`railmap.solve.topology`), Newton's method on the smooth
laws, and a change of mode where a law is made of straight pieces. The pieces are changed all at
once while that helps, and one at a time, lowest first, where it goes in circles; for networks of
passive parts that rule ends (K. G. Murty's least-index method for P-matrices, Oper. Res. 22,
1974; from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railmap.solve.assemble import Network
from railmap.solve.laws import Floats, Ints

SPARSE_FROM = 160
"""Unknowns from which the sparse solver is the quicker one; see tests/benchmarks."""
TOGETHER = 40
"""Steps in which all modes may change at once before they change one at a time."""
ALONE = 100
"""Steps in which they change one at a time."""
CREEPS, INNER = 150, 12
"""Steps of the most patient way, and the most solutions a step."""
FIRST_HOLD, LAST_HOLD = 1e3, 1e-10
"""Conductance, in siemens, that holds the nodes in the first and the last of those steps."""
NEAR = 1e-11
"""Kirchhoff's current law is met when the sum is below this part of the currents that meet."""
GUESS_SIEMENS = 1e-12


@dataclass(frozen=True)
class Operating:
    """Where a network settles.

    Attributes
    ----------
    node_volts : ndarray, shape (nodes,)
        Volts of each node against the reference of its island.
    node_shift : ndarray, shape (nodes,)
        A last correction too small to be added to ``node_volts`` without loss.
    pin_amps : ndarray, shape (pins,)
        Current into each pin of the flat pin list.
    modes : list of ndarray
        Mode of every row of every family.
    steps : int
        Linear solutions it took.
    settled : bool
        False if it did not come to rest; the other fields are then where it stopped.
    restless : list of int
        Numbers of the parts that kept changing.
    """

    node_volts: Floats
    node_shift: Floats
    pin_amps: Floats
    modes: list[Ints]
    steps: int
    settled: bool
    restless: list[int]


def operate(network: Network, start: Operating | None = None) -> Operating:
    """Find the operating point.

    Parameters
    ----------
    network : Network
        A circuit as arrays.
    start : Operating, optional
        The operating point of the same network with other numbers, as a first guess. Used only
        where the laws leave one solution, so that the answer never depends on the way there.

    Returns
    -------
    Operating
    """
    system = _System(network)
    if start is not None and len(start.modes) == len(network.families) and system.single_valued:
        first = start.node_volts[system.first_node] - system.offset[system.first_node]
        found = _settle(system, first, start.modes)
        if found.settled:
            return found
    return _settle(system, *_first_guess(system))


class _System:
    """The equations of one network: where each slope goes in the matrix."""

    def __init__(self, network: Network) -> None:
        topology = network.topology
        self.network = network
        self.families = network.families
        self.free = topology.free
        self.group = topology.group
        self.offset = topology.offset_map @ network.tie_volts[: len(topology.ties)]
        if network.contradiction:
            self.offset = np.zeros(len(topology.nodes))
        self.first_node = np.unique(topology.group, return_index=True)[1][: topology.free]
        self.rows, self.columns, self.kept = self._pattern()
        self.sparse = self.free >= SPARSE_FROM
        self.single_valued = not any(type(f).__name__ in _MANY_VALUED for f in self.families)
        if self.sparse:
            self._prepare_sparse()

    def _pattern(self) -> tuple[Ints, Ints, NDArray[np.bool_]]:
        rows: list[Ints] = []
        columns: list[Ints] = []
        for family in self.families:
            groups = self.group[family.pins]
            size = groups.shape[1]
            rows.append(np.repeat(groups, size, axis=1).ravel())
            columns.append(np.tile(groups, (1, size)).ravel())
        all_rows = np.concatenate(rows) if rows else np.zeros(0, dtype=np.intp)
        all_columns = np.concatenate(columns) if columns else np.zeros(0, dtype=np.intp)
        kept = (all_rows < self.free) & (all_columns < self.free)
        return all_rows[kept], all_columns[kept], kept

    def _prepare_sparse(self) -> None:
        n = self.free
        diagonal = np.arange(n)
        keys = np.concatenate((self.columns * n + self.rows, diagonal * n + diagonal))
        unique, place = np.unique(keys, return_inverse=True)
        self.place = place[: len(self.columns)]
        self.diagonal = place[len(self.columns) :]
        self.indices = (unique % n).astype(np.int32)
        self.indptr = np.searchsorted(unique, np.arange(n + 1) * n).astype(np.int32)

    def volts(self, unknown: Floats) -> Floats:
        """Return node volts from group volts."""
        padded = np.zeros(self.network.topology.groups)
        padded[: self.free] = unknown
        return padded[self.group] + self.offset

    def evaluate(self, v: Floats, modes: list[Ints], loads: bool = True) -> _Point:
        """Return currents, slopes, and how far Kirchhoff's current law is from being met."""
        n = self.network.topology.groups
        total, size = np.zeros(n), np.zeros(n)
        slopes: list[Floats] = []
        currents: list[Floats] = []
        for family, mode in zip(self.families, modes, strict=True):
            amps, slope = family.evaluate(v, mode)
            if family.draws and not loads:
                amps, slope = np.zeros_like(amps), np.zeros_like(slope)
            groups = self.group[family.pins].ravel()
            total += np.bincount(groups, amps.ravel(), n)
            grain = np.abs(slope) @ np.abs(v[family.pins])[..., None]
            noise = np.abs(amps) * NEAR + 8 * np.finfo(float).eps * grain[..., 0]
            size += np.bincount(groups, noise.ravel(), n)
            slopes.append(slope.ravel())
            currents.append(amps)
        kept = np.concatenate(slopes)[self.kept] if slopes else np.zeros(0)
        return _Point(total[: self.free], size[: self.free], kept, currents)

    def solve(self, point: _Point, extra: float = 0.0) -> Floats:
        """Return the Newton step of the group volts."""
        if self.free == 0:
            return np.zeros(0)
        if self.sparse:
            return self._solve_sparse(point, extra)
        matrix = np.bincount(
            self.rows * self.free + self.columns, point.slopes, self.free * self.free
        ).reshape(self.free, self.free)
        matrix[np.diag_indices(self.free)] += extra
        return np.linalg.solve(matrix, -point.residual)

    def _solve_sparse(self, point: _Point, extra: float) -> Floats:
        # Loading scipy.sparse takes a fifth of a second, which small maps need not wait for.
        from scipy.sparse import csc_matrix
        from scipy.sparse.linalg import splu

        data = np.bincount(self.place, point.slopes, len(self.indices))
        data[self.diagonal] += extra
        matrix = csc_matrix((data, self.indices, self.indptr), shape=(self.free, self.free))
        try:
            return splu(matrix, permc_spec="MMD_AT_PLUS_A").solve(-point.residual)
        except RuntimeError as error:
            raise np.linalg.LinAlgError(str(error)) from None


_MANY_VALUED = {"PowerLoads", "Converters", "Transistors"}


@dataclass(frozen=True)
class _Point:
    residual: Floats
    noise: Floats
    slopes: Floats
    currents: list[Floats]

    def held(self, siemens: float, moved: Floats) -> _Point:
        """Return the point as it is with every group tied to where it started."""
        if siemens == 0:
            return self
        pull = siemens * moved
        # A stage on the way need not be as exact as the end.
        noise = self.noise + 1e-7 * np.abs(pull) + 1e-12 * siemens
        return _Point(self.residual + pull, noise, self.slopes, self.currents)

    @property
    def met(self) -> bool:
        """True if Kirchhoff's current law holds at every group."""
        return bool(np.all(np.abs(self.residual) <= self.noise))


@dataclass(frozen=True)
class _State:
    """Where the search stands; settled once it carries a last correction."""

    unknown: Floats
    modes: list[Ints]
    steps: int = 0
    point: _Point | None = None
    shift: Floats | float = 0.0

    @property
    def settled(self) -> bool:
        return self.point is not None


def _first_guess(system: _System) -> tuple[Floats, list[Ints]]:
    """Return the operating point without loads: from there the loads pull the rails down."""
    modes = [np.full(len(f.pins), f.first_mode, dtype=np.intp) for f in system.families]
    unknown = np.zeros(system.free)
    for _ in range(TOGETHER):
        v = system.volts(unknown)
        point = system.evaluate(v, modes, loads=False)
        try:
            unknown = unknown + system.solve(point, GUESS_SIEMENS)
        except np.linalg.LinAlgError:
            break
        v = system.volts(unknown)
        new = _asked(system, v, modes)
        if _same(new, modes):
            break
        modes = new
    return unknown, modes


def _asked(system: _System, v: Floats, modes: list[Ints]) -> list[Ints]:
    return [f.next_mode(v, m) for f, m in zip(system.families, modes, strict=True)]


def _settle(system: _System, unknown: Floats, modes: list[Ints]) -> Operating:
    """Try the quick way, then the two patient ones."""
    state = _State(unknown, modes)
    for patience in (_all_at_once, _creep, _one_at_a_time):
        state = patience(system, state)
        if state.settled:
            break
    return _finish(system, state)


def _all_at_once(system: _System, start: _State) -> _State:
    return _step(system, start, TOGETHER, lambda modes, asked: asked)


def _one_at_a_time(system: _System, start: _State) -> _State:
    """Let only the first row that asks for another mode have it, each time."""
    return _step(system, start, ALONE, _one_change)


def _step(
    system: _System, state: _State, most: int,
    choose: Callable[[list[Ints], list[Ints]], list[Ints]], hold: float = 0.0,
) -> _State:
    """Step until every law is on the piece its voltages ask for and the currents add up.

    ``hold`` is a conductance that ties every group to where it started.
    """
    unknown, modes, anchor = state.unknown, state.modes, state.unknown
    steps = state.steps
    for _ in range(most):
        v = system.volts(unknown)
        asked = _asked(system, v, modes)
        steady = _same(asked, modes)
        if not steady:
            modes = choose(modes, asked)
        point = system.evaluate(v, modes).held(hold, unknown - anchor)
        try:
            shift = system.solve(point, hold)
        except np.linalg.LinAlgError:
            return _State(unknown, modes, steps)
        steps += 1
        if steady and point.met:
            return _State(unknown, modes, steps, point, shift)
        unknown = unknown + shift
    return _State(unknown, modes, steps)


def _creep(system: _System, start: _State) -> _State:
    """Let the voltages drift to rest as if every node had a capacitor, in ever longer steps.

    This is pseudo-transient continuation (C. T. Kelley and D. E. Keyes, SIAM J. Numer. Anal. 35,
    1998; from memory). It begins without loads, so that a load with two solutions takes the one
    at the higher voltage.
    """
    unknown, modes = _first_guess(system)
    state, hold = _State(unknown, modes, start.steps), FIRST_HOLD
    for _ in range(CREEPS):
        trial = _step(system, state, INNER, lambda modes, asked: asked, hold)
        if trial.settled:
            state, hold = _State(trial.unknown, trial.modes, trial.steps), hold * 0.3
        else:
            state, hold = _State(state.unknown, state.modes, trial.steps), hold * 5.0
        if hold < LAST_HOLD:
            return _all_at_once(system, state)
        if hold > 1e9:
            break
    return state


def _same(one: list[Ints], other: list[Ints]) -> bool:
    return all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))


def _one_change(modes: list[Ints], asked: list[Ints]) -> list[Ints]:
    """Let only the first of the rows that ask for another mode have it."""
    new = [m.copy() for m in modes]
    for number, (mode, wanted) in enumerate(zip(modes, asked, strict=True)):
        rows = np.flatnonzero(mode != wanted)
        if len(rows):
            new[number][rows[0]] = wanted[rows[0]]
            break
    return new


def _restless(system: _System, state: _State, point: _Point) -> list[int]:
    """Return the parts that still ask for another mode, and those where currents do not add up."""
    slot_part = system.network.slot_part
    unmet = np.zeros(system.network.topology.groups, dtype=bool)
    unmet[: system.free] = np.abs(point.residual) > point.noise
    asked = _asked(system, system.volts(state.unknown), state.modes)
    found: set[int] = set()
    for family, mode, wanted in zip(system.families, state.modes, asked, strict=True):
        rows = (mode != wanted) | np.any(unmet[system.group[family.pins]], axis=1)
        found.update(slot_part[family.slots[rows, 0]].tolist())
    return sorted(found)


def _finish(system: _System, state: _State) -> Operating:
    """Carry the last correction into the currents, and find those of links and ideal sources."""
    network = system.network
    v = system.volts(state.unknown)
    point = state.point or system.evaluate(v, state.modes)
    left = [] if state.settled else _restless(system, state, point)
    node_shift = system.volts(state.shift) - system.offset if state.settled else 0.0 * v
    pin_amps = np.zeros(len(network.slot_node))
    for family, amps, mode in zip(system.families, point.currents, state.modes, strict=True):
        slope = family.evaluate(v, mode)[1]
        corrected = amps + (slope @ node_shift[family.pins][..., None])[..., 0]
        pin_amps += np.bincount(family.slots.ravel(), corrected.ravel(), len(pin_amps))
    if len(network.tie_slots) and not network.contradiction:
        through = network.topology.tie_current_map @ -_into_parts(network, pin_amps)
        pin_amps[network.tie_slots[:, 0]] += through
        pin_amps[network.tie_slots[:, 1]] -= through
    return Operating(v, node_shift, pin_amps, state.modes, state.steps, state.settled, left)


def _into_parts(network: Network, pin_amps: Floats) -> Floats:
    """Return the current that leaves each node into parts."""
    inside = network.slot_node >= 0
    nodes = len(network.topology.nodes)
    return np.bincount(network.slot_node[inside], pin_amps[inside], nodes)
