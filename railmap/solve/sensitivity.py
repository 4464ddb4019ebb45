"""How far every node moves with every part's value.

Without a winding exactly, from one factorisation. At the operating point Kirchhoff's current law
reads ``F(v, p) = 0``; by the implicit function theorem ``dv/dp = -(dF/dv)^-1 dF/dp``. The matrix is
the one the last Newton step was made with, so that all parts of a map cost one factorisation and as
many back substitutions. Only parts of one law's piece enter: at the very end of a piece the slope
is that of the piece in use.

Where a winding feeds the map, every value is moved a little up and down, and all those periodic
states are found together.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from msgspec.structs import force_setattr

from railmap.errors import MapError
from railmap.model.kinds import Fuse, Source, Switch
from railmap.model.part import Part
from railmap.solve.arrays import numbers_of
from railmap.solve.assemble import Network, rows_of
from railmap.solve.equations import Equations
from railmap.solve.laws import Family, Floats, Ints
from railmap.solve.many import MOST_BYTES, bytes_each
from railmap.solve.nodal import Operating
from railmap.solve.solution import Solution
from railmap.solve.turning import ALONE, solve_turning
from railmap.solve.variants import build_variants
from railmap.solve.what_if import Circuit

STEP = 1e-5
"""Part of a value that a law is moved by to take its slope; the slope is central, so its error is
the square of this."""
TURNING_STEP = 1e-3
"""The same where a winding feeds the map: large beside what a periodic state is left short of."""
_EITHER_WAY = (TURNING_STEP, -TURNING_STEP)


@dataclass(frozen=True)
class Sensitivity:
    """Slopes of all nodes against all parts' main values.

    Attributes
    ----------
    nodes, refs : list of str
        Rows and columns.
    volts : ndarray, shape (nodes, parts)
        Volts (their mean, where a winding feeds the map) that a node would move if the part's
        value rose by 100 percent, by the slope here; 0 for a part that is out of the circuit or
        has no value.
    """

    nodes: list[str]
    refs: list[str]
    volts: Floats

    def of(self, node: str, ref: str) -> float:
        """Return one slope, volts for a rise of 100 percent.

        Raises
        ------
        MapError
            If there is no such node or part.
        """
        if node not in self.nodes or ref not in self.refs:
            raise MapError(f"there is no node {node!r} or no part {ref!r}")
        return float(self.volts[self.nodes.index(node), self.refs.index(ref)])


def sensitivities(solution: Solution) -> Sensitivity:
    """Return how every node moves with every part.

    Parameters
    ----------
    solution : Solution
        A solved map.

    Returns
    -------
    Sensitivity

    Raises
    ------
    MapError
        If there are no figures.

    Examples
    --------
    A percent more in the lower of two equal resistors lifts the middle by a quarter percent:

    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=10),
    ...     rm.Resistor("R1", "RAW", "A", ohms=100),
    ...     rm.Resistor("R2", "A", "0V", ohms=100),
    ... ):
    ...     _ = m.add(part)
    >>> round(sensitivities(rm.solve(m)).of("A", "R2") / 100, 6)
    0.025
    """
    if not solution.has_figures:
        raise MapError("there are no slopes where the map has no solution")
    network = solution.network
    volts = _still(network, solution.operating) if solution.turn is None else _turning(solution)
    return Sensitivity(list(network.topology.nodes), list(network.refs), volts)


def _turning(solution: Solution) -> Floats:
    """Return the slopes where a winding feeds the map, by central differences."""
    network, circuit = solution.network, solution.network.circuit
    refs = [
        ref for ref, part in circuit.parts.items()
        if ref not in circuit.faults and _main_value(part)
    ]  # fmt: skip
    moved = [_with_scaled(circuit, r, 1 + side) for r in refs for side in _EITHER_WAY]
    size = max(1, MOST_BYTES // bytes_each(circuit, True))
    means = [np.zeros((0, len(network.topology.nodes)))]
    for first in range(0, len(moved), size):
        means.append(_means(solution, moved[first : first + size]))
    volts = np.concatenate(means)
    found = np.zeros((len(network.topology.nodes), len(network.refs)))
    columns = [network.part_index[ref] for ref in refs]
    found[:, columns] = (volts[::2] - volts[1::2]).T / (2 * TURNING_STEP)
    return found


def _main_value(part: Part) -> float:
    """Return a part's main value; 0 where it has none, or none that anything follows."""
    if isinstance(part, Switch | Fuse) or not part.main_field:
        return 0.0
    return float(getattr(part, part.main_field) or 0.0)


def _with_scaled(circuit: Circuit, ref: str, factor: float) -> Circuit:
    parts = {**circuit.parts, ref: _scaled(circuit.parts[ref], factor)}
    return replace(circuit, parts=parts, calm=circuit, touched=frozenset({ref}))


def _means(solution: Solution, moved: list[Circuit]) -> Floats:
    """Return the mean volts of every node in some what-ifs near a solution."""
    lead = replace(moved[0].calm or moved[0], calm=moved[0].calm, touched=frozenset())
    variants, hertz = build_variants([lead, *moved], moving=True), solution.source.mains_hertz
    # What is told by small differences has to be known as well as it can be.
    state = solve_turning(variants, hertz, solution.state, ALONE)
    volts = state.turn.node_mean.copy()
    for row in np.flatnonzero(~state.found).tolist():
        alone = solve_turning(variants.some([row]), hertz, solution.state)
        volts[row] = alone.turn.node_mean[0]
    return volts[1:]


def _still(network: Network, operating: Operating) -> Floats:
    """Return the slopes of a map that no winding feeds."""
    equations = Equations(network)
    point = equations.evaluate(operating.node_volts, operating.modes)
    moved, owner = _moved(network, operating.node_volts, operating.modes)
    lifted, count = _lifted(network), len(network.refs)
    flows = np.zeros((equations.pattern.groups, count))
    np.add.at(flows, (equations.pattern.pin_group, owner), moved)
    unmet = flows[: equations.free]
    if lifted.any():
        unmet += _through_offsets(equations, point.slopes, lifted)
    step = (
        -np.asarray(equations.solver(point.slopes, columns=count)(unmet))
        if equations.free
        else unmet
    )
    padded = np.zeros((equations.pattern.groups, count))
    padded[: equations.free] = step
    return padded[network.topology.group] + lifted


def _moved(network: Network, v: Floats, modes: list[Ints]) -> tuple[Floats, Ints]:
    """Return the slopes of pin currents against their part's value, and whose they are."""
    up, down = _shifted(network, 1 + STEP), _shifted(network, 1 - STEP)
    change: list[Floats] = [np.zeros(0)]
    owner: list[Ints] = [np.zeros(0, dtype=np.intp)]
    for one, other, mode in zip(up, down, modes, strict=True):
        amps = (one.evaluate(v, mode)[0] - other.evaluate(v, mode)[0]) / (2 * STEP)
        change.append(amps.ravel())
        owner.append(network.slot_part[one.slots].ravel())
    return np.concatenate(change), np.concatenate(owner)


def _lifted(network: Network) -> Floats:
    """Return the slopes of nodes' fixed offsets against sources without resistance."""
    found = np.zeros((len(network.topology.nodes), len(network.refs)))
    for column, tie in enumerate(network.topology.ties):
        number = network.part_index[tie.ref]
        if isinstance(network.parts[number], Source):
            found[:, number] = network.topology.offset_map[:, column] * network.tie_volts[column]
    return found


def _shifted(network: Network, factor: float) -> list[Family]:
    """Return the laws with every part's main value times a factor."""
    values = [{n: v.copy() for n, v in numbers_of(f).items()} for f in network.families]
    circuit = network.circuit
    for ref, part in circuit.parts.items():
        places = network.places.get(ref)
        if not places or ref in circuit.faults or isinstance(part, Switch | Fuse):
            continue
        rows = rows_of(_scaled(part, factor), None, circuit.mains_ratio)
        for (family, place), row in zip(places, rows, strict=True):
            for name, value in row.numbers.items():
                values[family][name][place] = value
    families: list[Any] = list(network.families)
    return [replace(f, **v) for f, v in zip(families, values, strict=True)]


def _scaled(part: Part, factor: float) -> Part:
    """Return a part with its main value scaled a little, which needs no checking again."""
    value = getattr(part, part.main_field) if part.main_field else None
    if value is None:
        return part
    found = copy(part)
    force_setattr(found, part.main_field, value * factor)
    return found


def _through_offsets(equations: Equations, slopes: Floats, lifted: Floats) -> Floats:
    """Return what flows out of each free group where nodes are lifted by a part's value."""
    pattern = equations.pattern
    flows = slopes[:, None] * lifted[pattern.entry_node]
    found = np.zeros((pattern.groups, lifted.shape[1]))
    np.add.at(found, pattern.entry_group, flows)
    return found[: equations.free]
