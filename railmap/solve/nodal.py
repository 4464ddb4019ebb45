"""The direct-current solution of a network by modified nodal analysis.

One unknown a group of nodes (see :mod:`railmap.solve.topology`), Newton's method on the smooth
laws, and a change of mode where a law is made of straight pieces. The pieces are changed all at
once while that helps, and one at a time, lowest first, where it goes in circles; for networks of
passive parts that rule ends (K. G. Murty's least-index method for P-matrices, Oper. Res. 22,
1974; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railmap.solve.assemble import Network
from railmap.solve.equations import LOST, Equations, Point
from railmap.solve.laws import Floats, Ints
from railmap.solve.pattern import gathered

TOGETHER = 40
"""Steps in which all modes may change at once before they change one at a time."""
ALONE = 100
"""Steps in which they change one at a time."""
CREEPS, INNER = 150, 12
"""Steps of the most patient way, and the most solutions a step."""
FIRST_HOLD, LAST_HOLD = 1e3, 1e-12
"""Conductance, in siemens, that holds the nodes in the first and the last of those steps."""
GUESS_SIEMENS = 1e-12
FLICKER_VOLTS = 1e-8
FLICKER_PART = 1e-7
"""Modes that change while all volts move less than this sit on a knee, if the currents of both
pieces agree to this part of the largest current; on a steep slope the volts alone do not tell."""


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
    equations = Equations(network)
    if start is not None and equations.single_valued and _fits(start, network):
        first = start.node_volts + start.node_shift - equations.offset
        warm = _State(first[equations.pattern.first_node], start.modes)
        state = _all_at_once(equations, warm)
        if state.settled:
            return _finish(equations, state)
    return _settle(equations, *_first_guess(equations))


def _fits(start: Operating, network: Network) -> bool:
    sizes = [len(mode) for mode in start.modes]
    return sizes == [len(f.pins) for f in network.families] and (
        len(start.node_volts) == len(network.topology.nodes)
    )


@dataclass(frozen=True)
class _State:
    """Where the search stands; at rest once it carries what the laws give there."""

    unknown: Floats
    modes: list[Ints]
    steps: int = 0
    point: Point | None = None

    @property
    def settled(self) -> bool:
        return self.point is not None


def _first_guess(equations: Equations) -> tuple[Floats, list[Ints]]:
    """Return the operating point without loads: from there the loads pull the rails down."""
    modes = [np.full(len(f.pins), f.first_mode, dtype=np.intp) for f in equations.families]
    unknown = np.zeros(equations.free)
    for _ in range(TOGETHER):
        point = equations.evaluate(equations.volts(unknown), modes, loads=False)
        try:
            unknown = unknown - equations.solver(point.slopes, GUESS_SIEMENS)(point.residual)
        except np.linalg.LinAlgError:
            break
        v = equations.volts(unknown)
        new = equations.asked(v, modes)
        if _same(new, modes) and equations.within_reach(v):
            return unknown, modes
        modes = new
    return np.zeros(equations.free), modes


def _settle(equations: Equations, unknown: Floats, modes: list[Ints]) -> Operating:
    """Try the quick way, then the two patient ones."""
    state = _State(unknown, modes)
    for patience in (_all_at_once, _creep, _one_at_a_time):
        state = patience(equations, state)
        if state.settled:
            break
    return _finish(equations, state)


def _all_at_once(equations: Equations, start: _State) -> _State:
    return _step(equations, start, TOGETHER)


def _one_at_a_time(equations: Equations, start: _State) -> _State:
    """Let only the first row that asks for another mode have it, each time."""
    return _step(equations, start, ALONE, alone=True)


def _step(
    equations: Equations, state: _State, most: int, hold: float = 0.0, alone: bool = False
) -> _State:
    """Step until every law is on the piece its voltages ask for and the currents add up.

    ``hold`` is a conductance that ties every group to where it started.
    """
    unknown, modes, anchor = state.unknown, state.modes, state.unknown
    steps, moved = state.steps, np.inf
    for _ in range(most):
        v = equations.volts(unknown)
        asked = equations.asked(v, modes)
        steady = _same(asked, modes) or (
            moved < FLICKER_VOLTS and not alone and _on_knees(equations, v, modes, asked)
        )
        if not steady:
            modes = _one_change(modes, asked) if alone else asked
        point = equations.evaluate(v, modes).held(hold, unknown - anchor)
        if steady and point.met and equations.within_reach(v):
            return _State(unknown, modes, steps, point)
        try:
            shift = equations.solver(point.slopes, hold)(-point.residual)
        except np.linalg.LinAlgError:
            break
        steps += 1
        moved = float(np.max(np.abs(shift), initial=0.0))
        if not moved < LOST:
            break
        unknown = unknown + shift
    return _State(unknown, modes, steps)


def _creep(equations: Equations, start: _State) -> _State:
    """Let the voltages drift to rest as if every node had a capacitor, in ever longer steps.

    This is pseudo-transient continuation (C. T. Kelley and D. E. Keyes, SIAM J. Numer. Anal. 35,
    1998; from memory). It begins without loads, so that a load with two solutions takes the one
    at the higher voltage.
    """
    unknown, modes = _first_guess(equations)
    state, hold = _State(unknown, modes, start.steps), FIRST_HOLD
    for _ in range(CREEPS):
        trial = _step(equations, state, INNER, hold)
        if trial.settled:
            state, hold = _State(trial.unknown, trial.modes, trial.steps), hold * 0.3
        else:
            state, hold = _State(state.unknown, state.modes, trial.steps), hold * 5.0
        if hold < LAST_HOLD:
            return _all_at_once(equations, state)
    return state


def _on_knees(equations: Equations, v: Floats, modes: list[Ints], asked: list[Ints]) -> bool:
    """Tell whether the pieces in use and those asked for give the same currents."""
    one, other = equations.evaluate(v, modes).amps, equations.evaluate(v, asked).amps
    largest = np.max(np.abs(one), initial=0.0)
    return bool(np.max(np.abs(one - other), initial=0.0) <= FLICKER_PART * largest)


def _same(one: list[Ints], other: list[Ints]) -> bool:
    return all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))


def _one_change(modes: list[Ints], asked: list[Ints]) -> list[Ints]:
    """Let only the first of the rows that ask for another mode have it."""
    pairs = enumerate(zip(modes, asked, strict=True))
    number = next(i for i, (mode, wanted) in pairs if not np.array_equal(mode, wanted))
    row = np.flatnonzero(modes[number] != asked[number])[0]
    new = list(modes)
    new[number] = modes[number].copy()
    new[number][row] = asked[number][row]
    return new


def _restless(equations: Equations, state: _State, point: Point) -> list[int]:
    """Return the parts that still ask for another mode, and those where currents do not add up."""
    network = equations.network
    unmet = np.zeros(network.topology.groups, dtype=bool)
    unmet[: equations.free] = np.abs(point.residual) > point.noise
    asked = equations.asked(equations.volts(state.unknown), state.modes)
    found: set[int] = set()
    for family, mode, wanted in zip(equations.families, state.modes, asked, strict=True):
        rows = (mode != wanted) | np.any(unmet[network.topology.group[family.pins]], axis=1)
        found.update(network.slot_part[family.slots[rows, 0]].tolist())
    return sorted(found)


def _finish(equations: Equations, state: _State) -> Operating:
    """Correct the currents, and find those of links and ideal sources."""
    network = equations.network
    v = equations.volts(state.unknown)
    if state.point is None:
        left = _restless(equations, state, equations.evaluate(v, state.modes))
        none = np.zeros(len(network.slot_node))
        return Operating(v, 0.0 * v, none, state.modes, state.steps, False, left)
    amps, shift = equations.refined(state.point)
    slots = [family.slots.ravel() for family in equations.families]
    flat = np.concatenate([np.zeros(0, dtype=np.intp), *slots])
    pin_amps = gathered(flat, amps, len(network.slot_node))
    through = network.topology.tie_current_map @ -_into_parts(network, pin_amps)
    np.add.at(pin_amps, network.tie_slots[:, 0], through)
    np.subtract.at(pin_amps, network.tie_slots[:, 1], through)
    node_shift = equations.volts(shift) - equations.offset
    return Operating(v, node_shift, pin_amps, state.modes, state.steps, True, [])


def _into_parts(network: Network, pin_amps: Floats) -> Floats:
    """Return the current that leaves each node into parts."""
    inside = network.slot_node >= 0
    nodes = len(network.topology.nodes)
    return gathered(network.slot_node[inside], pin_amps[inside], nodes)
