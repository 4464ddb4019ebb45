"""Many what-ifs on one map, solved together: arrays with the what-if as the first axis.

Direct-current maps go through one batched Newton iteration, maps that a winding feeds through one
batched periodic state. Work goes in chunks, so that no more than :data:`MOST_BYTES` of matrices
are alive at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from railmap.errors import MapError, RailmapError
from railmap.model import kinds
from railmap.model.part import ZERO_NODE
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.batch import settle_batch
from railmap.solve.findings import contradiction
from railmap.solve.forms import TIGHT_SIEMENS
from railmap.solve.front import solve_circuit, turns
from railmap.solve.islands import Contradictions, islands, shorts_of
from railmap.solve.laws import Floats, Ints
from railmap.solve.measure import Turn
from railmap.solve.nodal import operate
from railmap.solve.partwise import (
    AtPins,
    PartFigures,
    lay_out,
    part_figures,
    stress_by_what_if,
)
from railmap.solve.solution import Solution
from railmap.solve.turning import Turning, solve_turning
from railmap.solve.variants import Variants, build_variants
from railmap.solve.what_if import (
    CalmMap,
    Circuit,
    WhatIf,
    as_asked,
    together,
)

_OHMIC = (kinds.Source, kinds.Resistor, kinds.Link, kinds.Switch, kinds.Fuse, kinds.Capacitor)
"""Parts whose law is a straight line; a map of them alone takes updates instead of matrices."""
MOST_BYTES = 256 * 2**20
"""Bound on the matrices of one chunk."""
LOST_STILL, LOST_TURNING = 1e-6, 1e-5
"""A what-if in which a link without resistance would lose more than this part of the highest volts
is solved by itself."""
Progress = Callable[[int, int], None]
"""Told how many what-ifs are done, and how many there are."""
Cancelled = Callable[[], bool]
"""Asked between chunks; True stops the work."""


@dataclass(frozen=True)
class ManyParts:
    """What one part does in every what-if: arrays of shape (what-ifs,); see ``PartResult``."""

    volts: Floats
    amps: Floats
    watts: Floats
    stress: Floats
    amps_rms: Floats


@dataclass(frozen=True)
class ManyRipple:
    """Ripple of one node in every what-if: volts peak to peak, lowest and highest volts."""

    volts_pp: Floats
    low_volts: Floats
    high_volts: Floats


@dataclass(frozen=True, eq=False)
class Block:
    """What-ifs that were solved under one structure.

    Attributes
    ----------
    rows : ndarray of int
        Which of the what-ifs they are.
    own : ndarray of int
        Their rows in the arrays of ``turn``.
    variants : Variants
        Their structure.
    turn : Turn
        Their figures.
    turning : Turning or None
        The periodic state, where a winding feeds the map.
    islands : ndarray of int, shape (rows of turn, nodes)
        The island each node is on, 0 where it has a path to 0 V.
    """

    rows: Ints
    own: Ints
    variants: Variants
    turn: Turn
    turning: Turning | None
    islands: Ints

    def between(self, values: Floats, a: str, b: str) -> Floats:
        """Return a difference of node figures; nan where the nodes have no path to each other."""
        if a == b:
            return np.zeros(len(self.own))
        index = self.variants.topology.index
        if a not in index or b not in index:
            return np.full(len(self.own), np.nan)
        at, to, rows = index[a], index[b], self.own
        joined = self.islands[rows, at] == self.islands[rows, to]
        return np.where(joined, values[rows, at] - values[rows, to], np.nan)

    def figures(self, ref: str) -> PartFigures:
        """Return what one part does."""
        variants, turn, rows = self.variants, self.turn, self.own
        part, first = variants.base.parts[ref], variants.start_of[ref]
        pins = slice(first, first + len(part.pins))
        nodes = variants.slot_node[pins]
        island = np.where(nodes >= 0, self.islands[rows][:, nodes], -1)
        apart = (island != island[:, -1:]) | (island < 0)
        drop, low, high = (
            np.where(apart, np.nan, known[rows, pins])
            for known in (turn.drop_mean, turn.drop_low, turn.drop_high)
        )
        carried = (turn.pin_mean, turn.pin_rms, turn.pin_peak, turn.pin_watts)
        amps, rms, peak, watts = (known[rows, pins] for known in carried)
        delivered = -variants.emf_of(ref) * turn.pin_mean[:, first]
        if ref in variants.windings:
            delivered = -variants.windings[ref] * turn.once_amps[:, first]
            delivered -= turn.lamp_watts[:, first]
        known = AtPins(drop, low, high, amps, rms, peak, watts)
        return part_figures(lay_out([part]), known, delivered[rows, None])


class Many:
    """Solutions of many what-ifs.

    Attributes
    ----------
    reasons : list of str
        Why a what-if has no solution; empty where it has one.
    cancelled : bool
        True if the work was stopped; what was not reached has a reason that says so.
    """

    def __init__(self, m: RailMap, count: int) -> None:
        self._map = m
        self._blocks: list[Block] = []
        self._single: dict[int, Solution] = {}
        self._refused: dict[int, Circuit] = {}
        self.reasons = [""] * count
        self.cancelled = False

    def __len__(self) -> int:
        return len(self.reasons)

    @property
    def solved(self) -> NDArray[np.bool_]:
        """For each what-if, whether it has a solution."""
        return np.array([not reason for reason in self.reasons], dtype=bool)

    def keep_block(self, block: Block) -> None:
        """Take what-ifs that were solved together."""
        self._blocks.append(block)

    def keep_single(self, row: int, solution: Solution) -> None:
        """Take a what-if that was solved by itself."""
        self._single[row] = solution
        if not solution.has_figures:
            self.reasons[row] = solution.message

    def refuse(self, row: int, circuit: Circuit, loop: list[str]) -> None:
        """Take a what-if that contradicts itself by a loop of parts without resistance."""
        self._refused[row] = circuit
        self.reasons[row] = contradiction(loop).sentence

    def volts(self, node: str, against: str | None = None) -> Floats:
        """Return the mean volts of a node in every what-if; nan where there are none.

        Parameters
        ----------
        node : str
            A node or a rail's name.
        against : str, optional
            Another node; 0 V by default.

        Raises
        ------
        MapError
            If the map has no such node.
        """
        to = ZERO_NODE if against is None else against
        ends = self._map.node_of(node), self._map.node_of(to)

        def of_block(block: Block) -> Floats:
            return block.between(block.turn.node_mean, *ends)

        return self._gather(of_block, lambda s: s.volts(node, against))

    def ripple(self, node: str) -> ManyRipple:
        """Return the ripple of a node in every what-if."""
        end = self._map.node_of(node)

        def side(name: str) -> Floats:
            def of_block(block: Block) -> Floats:
                return block.between(getattr(block.turn, f"node_{name}"), end, ZERO_NODE)

            return self._gather(of_block, lambda s: getattr(s.ripple(end), f"{name}_volts"))

        low, high = side("low"), side("high")
        return ManyRipple(high - low, low, high)

    def part(self, ref: str) -> ManyParts:
        """Return what one part does in every what-if.

        Raises
        ------
        MapError
            If the map has no such part.
        """
        if ref not in self._map.parts:
            raise MapError(f"there is no part {ref!r} in the map")

        found = [np.full(len(self), np.nan) for _ in fields(ManyParts)]
        for block in self._blocks:
            seen = block.figures(ref)
            circuits = [block.variants.circuits[int(row)] for row in block.own]
            worst = stress_by_what_if(circuits, ref, seen.used)
            own = (seen.volts, seen.amps, seen.watts, worst[:, None], seen.amps_rms)
            for values, some in zip(found, own, strict=True):
                values[block.rows] = some[:, 0]
        for row, solution in self._single.items():
            number = solution.network.part_index[ref]
            own = (solution.part_volts, solution.part_amps, solution.watts, solution.stress,
                   solution.amps_rms)  # fmt: skip
            for values, some in zip(found, own, strict=True):
                values[row] = some[number]
        return ManyParts(*found)

    def solution(self, row: int) -> Solution | None:
        """Return one what-if as a solution of its own; None where it has none."""
        if row in self._single:
            return self._single[row]
        if row in self._refused:
            return solve_circuit(self._map, self._refused[row])
        for block in self._blocks:
            at = np.flatnonzero(block.rows == row)
            if len(at):
                circuit = block.variants.circuits[int(block.own[at[0]])]
                return solve_circuit(self._map, circuit, block.turning)
        return None

    def _gather(
        self, of_block: Callable[[Block], Floats], of_single: Callable[[Solution], float]
    ) -> Floats:
        found = np.full(len(self), np.nan)
        for block in self._blocks:
            found[block.rows] = of_block(block)
        for row, solution in self._single.items():
            found[row] = of_single(solution)
        return found


def solve_many(
    m: RailMap,
    what_ifs: Iterable[WhatIf],
    *,
    mains_volts: float | None = None,
    setup: Setup | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Many:
    """Solve a map under many what-ifs.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.
    what_ifs : iterable of WhatIf
        What to try, each by itself.
    mains_volts : float, optional
        Mains volts rms where a what-if does not say.
    setup : Setup, optional
        How the unit is powered where a what-if does not say.
    progress : callable, optional
        Told after each chunk how many are done, and how many there are.
    cancelled : callable, optional
        Asked before each chunk; True stops the work.

    Returns
    -------
    Many
        A what-if without a solution has nan in every array and a reason.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=9),
    ...     rm.Resistor("R1", "RAW", "A", ohms=100),
    ...     rm.Resistor("R2", "A", "0V", ohms=200),
    ... ):
    ...     _ = m.add(part)
    >>> many = solve_many(m, [rm.what_if(), rm.what_if(R1=250), rm.what_if(R1=rm.OPEN)])
    >>> [round(float(v), 6) + 0.0 for v in many.volts("A")]
    [6.0, 4.0, 0.0]
    """
    first = as_asked(setup, mains_volts=mains_volts)
    tried = list(what_ifs)
    many = Many(m, len(tried))
    calm_map = CalmMap(m)
    calm = calm_map.under(first)
    circuits = _carried_out(calm_map, first, tried, many)
    done = len(tried) - len(circuits)
    for rows in _chunks(circuits, calm):
        if cancelled is not None and cancelled():
            many.cancelled = True
            break
        _solve_chunk(m, calm, rows, [circuits.pop(row) for row in rows], many)
        done += len(rows)
        if progress is not None:
            progress(done, len(tried))
    for row in circuits:
        many.reasons[row] = "the work was stopped before this was reached"
    return many


def _carried_out(
    calm_map: CalmMap, first: WhatIf, tried: Sequence[WhatIf], many: Many
) -> dict[int, Circuit]:
    """Carry out every what-if that can be; note the reason where one cannot."""
    found: dict[int, Circuit] = {}
    refusing = {turning: Contradictions(turning) for turning in (False, True)}
    for row, change in enumerate(tried):
        try:
            circuit = calm_map.under(together(first, change))
        except RailmapError as error:
            many.reasons[row] = str(error)
            continue
        loop = refusing[turns(circuit)].of(circuit)
        if loop:
            many.refuse(row, circuit, loop)
        else:
            found[row] = circuit
    return found


def _chunks(circuits: dict[int, Circuit], calm: Circuit) -> list[list[int]]:
    """Return what-ifs that are solved together.

    Those that a winding feeds are apart from the rest, and so are those with other shorts: a
    short joins nodes, so that nothing fits them but their like.
    """
    sizes = {turning: max(1, MOST_BYTES // bytes_each(calm, turning)) for turning in (False, True)}
    alike: dict[tuple[bool, frozenset[str]], list[int]] = {}
    for row, circuit in circuits.items():
        alike.setdefault((turns(circuit), shorts_of(circuit)), []).append(row)
    return [
        rows[start : start + sizes[turning]]
        for (turning, _), rows in alike.items()
        for start in range(0, len(rows), sizes[turning])
    ]


def bytes_each(calm: Circuit, turning: bool) -> int:
    """Return about how many bytes of matrices a what-if takes while it is solved."""
    pins = sum(len(p.pins) for p in calm.parts.values())
    nodes = len({n for p in calm.parts.values() for n in p.nodes})
    if turning:
        states = sum(isinstance(p, kinds.Capacitor | kinds.Choke) for p in calm.parts.values()) + 3
        # Some ten sets of modes, each with its steps, volts, currents and bounds; then a turn's
        # five hundred states, and a few arrays of all bounds at the points that are looked at.
        jobs = 10 * states * (20 * states + 2 * nodes + 2 * pins)
        return 8 * (jobs + 600 * states + 250 * pins)
    square = 0 if all(isinstance(p, _OHMIC) for p in calm.parts.values()) else 3 * nodes * nodes
    return 8 * (square + 10 * nodes + 30 * pins + 1)


def _solve_chunk(
    m: RailMap, calm: Circuit, rows: list[int], circuits: list[Circuit], many: Many
) -> None:
    """Solve some what-ifs together; those that do not settle so are solved by themselves."""
    turning = turns(circuits[0])
    alone = list(range(len(circuits)))
    if len(circuits) > 1:
        lead = calm if _leads(calm, circuits[0]) else circuits[0]
        variants = build_variants([lead, *circuits], moving=turning)
        settled = _solve_together(m, variants, turning, rows, many)
        alone = np.flatnonzero(~settled).tolist()
    for i in alone:
        many.keep_single(rows[i], solve_circuit(m, circuits[i]))


def _leads(calm: Circuit, circuit: Circuit) -> bool:
    """Tell whether a what-if is near enough to the map without any to be solved from it."""
    turning = turns(calm)
    return (
        turning is turns(circuit)
        and shorts_of(calm) == shorts_of(circuit)
        and not Contradictions(turning).of(calm)
    )


def _solve_together(
    m: RailMap, variants: Variants, turning: bool, rows: list[int], many: Many
) -> NDArray[np.bool_]:
    """Solve what-ifs under one structure, the first of which only leads them."""
    state: Turning | None = None
    if turning:
        lead = solve_turning(variants.some([0]), m.mains_hertz)
        state = solve_turning(variants, m.mains_hertz, lead)
        turn, settled = state.turn, state.found
    else:
        lead = operate(variants.network(0))
        if not lead.settled:
            return np.zeros(len(rows), dtype=bool)
        batch = settle_batch(variants, lead.node_volts, lead.modes)
        turn, settled = batch.turn, batch.settled
    good = (settled & _is_stiff(variants, turn, LOST_TURNING if turning else LOST_STILL))[1:]
    own = 1 + np.flatnonzero(good)
    numbers = np.array(rows, dtype=np.intp)[good]
    if good.any():
        many.keep_block(Block(numbers, own, variants, turn, state, islands(variants)))
    return good


def _is_stiff(variants: Variants, turn: Turn, most: float) -> NDArray[np.bool_]:
    """Tell where what stands for links without resistance loses next to no volts."""
    if not len(variants.tight):
        return np.ones(variants.count, dtype=np.bool_)
    lost = turn.pin_peak[:, variants.tight].max(axis=1) / TIGHT_SIEMENS
    top = np.maximum(np.abs(turn.node_low), np.abs(turn.node_high)).max(axis=1)
    return np.asarray(lost <= most * top, dtype=np.bool_)
