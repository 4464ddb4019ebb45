"""The one door to the solver."""

from __future__ import annotations

import numpy as np

from railmap.errors import MapError
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.assemble import Network, assemble
from railmap.solve.findings import contradiction, look
from railmap.solve.nodal import Operating, operate
from railmap.solve.solution import PARTLY, REFUSED, SOLVED, UNSETTLED, Solution
from railmap.solve.turning import Turning, solve_turning
from railmap.solve.variants import build_variants
from railmap.solve.what_if import (
    OPEN,
    Circuit,
    WhatIf,
    as_asked,
    carry_out,
)


def solve(
    m: RailMap,
    *,
    mains_volts: float | None = None,
    setup: Setup | None = None,
    change: WhatIf | None = None,
) -> Solution:
    """Solve a map.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.
    mains_volts : float, optional
        Mains volts rms; the setup's, else the design mains, by default.
    setup : Setup, optional
        How the unit is powered.
    change : WhatIf, optional
        Something to try on top of that.

    Returns
    -------
    Solution
        Its ``status`` tells whether the network has a solution, and ``message`` why not.

    Raises
    ------
    MapError
        If the setup or the what-if names something the map does not have.
    NotYetError
        If a part obeys a law that this version does not compute.

    Examples
    --------
    Nine volts over 100 and 200 ohms:

    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add(rm.Source("V1", "RAW", "0V", volts=9))
    >>> _ = m.add(rm.Resistor("R1", "RAW", "A", ohms=100))
    >>> _ = m.add(rm.Resistor("R2", "A", "0V", ohms=200))
    >>> round(rm.solve(m).volts("A"), 9)
    6.0
    """
    return solve_circuit(m, carry_out(m, as_asked(setup, change, mains_volts)))


def solve_circuit(m: RailMap, circuit: Circuit, start: Turning | None = None) -> Solution:
    """Solve a map's parts as they are with a what-if carried out.

    Parameters
    ----------
    m : RailMap
        The map they come from.
    circuit : Circuit
        The parts.
    start : Turning, optional
        The periodic state of a circuit like it, as a first guess.
    """
    return solve_on(m, circuit, start)[0]


def solve_on(
    m: RailMap, circuit: Circuit, start: Turning | None = None
) -> tuple[Solution, Turning | None]:
    """Solve as :func:`solve_circuit` does; return also what to begin the next solution from.

    Returns
    -------
    Solution
        The solution.
    Turning or None
        The periodic state, where a winding feeds the circuit and it does not contradict itself.
    """
    if not turns(circuit):
        return solve_network(m, assemble(circuit)), None
    variants = build_variants([circuit], moving=True)
    if variants.contradiction:
        return _refused(m, variants.network(0)), None
    turning = solve_turning(variants, m.mains_hertz, start)
    return turning_solution(m, turning, 0), turning


def turn_circuit(m: RailMap, circuit: Circuit, start: Turning | None = None) -> Turning:
    """Return the periodic state of a circuit that a winding feeds; see :func:`solve_circuit`.

    Raises
    ------
    MapError
        If windings or sources without resistance form a loop.
    """
    variants = build_variants([circuit], moving=True)
    if variants.contradiction:
        raise MapError(contradiction(variants.contradiction).sentence)
    return solve_turning(variants, m.mains_hertz, start)


def _refused(m: RailMap, network: Network) -> Solution:
    """Return the solution without figures of what contradicts itself."""
    volts, amps = np.zeros(len(network.topology.nodes)), np.zeros(len(network.slot_node))
    operating = Operating(volts, volts, amps, [], 0, False, [])
    return Solution(m, network, operating, REFUSED, look(network, operating))


def turns(circuit: Circuit) -> bool:
    """Tell whether a winding is in the circuit, so that the mains turns it."""
    return any(circuit.faults.get(ref) is not OPEN for ref in circuit.windings)


def turning_solution(m: RailMap, turning: Turning, row: int) -> Solution:
    """Return one what-if of a periodic state as a solution."""
    network = turning.moving.variants.network(row)
    turn = turning.turn.one(row)
    operating = Operating(
        turn.node_mean, np.zeros_like(turn.node_mean), turn.pin_mean,
        [mode[row] for mode in turning.modes], 0, bool(turning.found[row]), [],
    )  # fmt: skip
    status, findings = _status(network, operating), look(network, operating, turn)
    seen = turn if status in (SOLVED, PARTLY) else None
    return Solution(m, network, operating, status, findings, seen, turning)


def solve_network(m: RailMap, network: Network, start: Operating | None = None) -> Solution:
    """Solve a network that is assembled already.

    Parameters
    ----------
    m : RailMap
        The map it comes from.
    network : Network
        The circuit as arrays.
    start : Operating, optional
        Operating point of the same network with other numbers.
    """
    operating = operate(network, None if network.contradiction else start)
    findings = look(network, operating)
    return Solution(m, network, operating, _status(network, operating), findings)


def _status(network: Network, operating: Operating) -> str:
    if network.contradiction:
        return REFUSED
    if not operating.settled:
        return UNSETTLED
    return PARTLY if network.topology.island.any() else SOLVED
