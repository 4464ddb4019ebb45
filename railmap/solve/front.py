"""The one door to the solver."""

from __future__ import annotations

from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.assemble import Network, assemble
from railmap.solve.findings import look
from railmap.solve.nodal import Operating, operate
from railmap.solve.solution import PARTLY, REFUSED, SOLVED, UNSETTLED, Solution
from railmap.solve.what_if import WhatIf, carry_out, from_setup, together, what_if


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
    whole = what_if(mains_volts=mains_volts)
    if change is not None:
        whole = together(change, whole)
    if setup is not None:
        whole = together(from_setup(setup), whole)
    return solve_network(m, assemble(carry_out(m, whole)))


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
