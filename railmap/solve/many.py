"""Many what-ifs on one map, solved together: arrays with the what-if as the first axis.

Direct-current maps go through one batched Newton iteration, maps that a winding feeds through one
batched periodic state. Work goes in chunks, so that no more than :data:`MOST_BYTES` of matrices
are alive at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railmap.errors import MapError, RailmapError
from railmap.model import kinds
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.batch import settle_batch
from railmap.solve.front import solve_circuit, turning_solution, turns
from railmap.solve.laws import Floats, Ints
from railmap.solve.measure import Turn
from railmap.solve.nodal import operate
from railmap.solve.partwise import part_figures
from railmap.solve.solution import Solution
from railmap.solve.turning import Turning, solve_turning
from railmap.solve.variants import Variants, build_variants, reach
from railmap.solve.what_if import (
    SHORT,
    Circuit,
    WhatIf,
    carry_out,
    from_setup,
    together,
    what_if,
)

_OHMIC = (kinds.Source, kinds.Resistor, kinds.Link, kinds.Switch, kinds.Fuse, kinds.Capacitor)
"""Parts whose law is a straight line; a map of them alone takes updates instead of matrices."""
MOST_BYTES = 256 * 2**20
"""Bound on the matrices of one chunk."""
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
    reach : ndarray of bool, shape (rows of turn, nodes)
        True where a node has a path to 0 V.
    """

    rows: Ints
    own: Ints
    variants: Variants
    turn: Turn
    turning: Turning | None
    reach: NDArray[np.bool_]


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
        ends = [self._map.node_of(n) for n in (node, "0V" if against is None else against)]

        def of_block(block: Block) -> Floats:
            a, b = (block.variants.topology.index.get(end) for end in ends)
            if a is None or b is None:
                return np.full(len(block.own), np.nan)
            volts = block.turn.node_mean[block.own]
            seen = block.reach[block.own]
            found = volts[:, a] - volts[:, b]
            return np.where(seen[:, a] == seen[:, b], found, np.nan)

        return self._gather(of_block, lambda s: s.volts(node, against))

    def ripple(self, node: str) -> ManyRipple:
        """Return the ripple of a node in every what-if."""
        end = self._map.node_of(node)

        def side(name: str) -> Floats:
            def of_block(block: Block) -> Floats:
                place = block.variants.topology.index.get(end)
                if place is None:
                    return np.full(len(block.own), np.nan)
                seen = block.reach[block.own, place]
                found = getattr(block.turn, f"node_{name}")[block.own, place]
                return np.where(seen, found, np.nan)

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

        def of_single(name: str) -> Callable[[Solution], float]:
            return lambda s: float(getattr(s, name)[s.network.part_index[ref]])

        names = ("part_volts", "part_amps", "watts", "stress", "amps_rms")
        figures = {id(b): part_figures(b.variants, b.turn, ref) for b in self._blocks}
        found = [
            self._gather(lambda b, k=k: figures[id(b)][k][b.own], of_single(name))
            for k, name in enumerate(names)
        ]  # fmt: skip
        return ManyParts(*found)

    def solution(self, row: int) -> Solution | None:
        """Return one what-if as a solution of its own; None where it has none."""
        if row in self._single:
            return self._single[row]
        for block in self._blocks:
            at = np.flatnonzero(block.rows == row)
            if len(at) and block.turning is not None:
                return turning_solution(self._map, block.turning, int(block.own[at[0]]))
            if len(at):
                return solve_circuit(self._map, block.variants.circuits[int(block.own[at[0]])])
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
    first = from_setup(setup) if setup is not None else what_if()
    if mains_volts is not None:
        first = together(first, what_if(mains_volts=mains_volts))
    tried = list(what_ifs)
    many = Many(m, len(tried))
    calm = carry_out(m, first)
    circuits = _carried_out(m, first, tried, many)
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
    m: RailMap, first: WhatIf, tried: Sequence[WhatIf], many: Many
) -> dict[int, Circuit]:
    """Carry out every what-if that can be; note the reason where one cannot."""
    found: dict[int, Circuit] = {}
    for row, change in enumerate(tried):
        try:
            found[row] = carry_out(m, together(first, change))
        except RailmapError as error:
            many.reasons[row] = str(error)
    return found


def _chunks(circuits: dict[int, Circuit], calm: Circuit) -> list[list[int]]:
    """Return what-ifs that are solved together, those that a winding feeds apart from the rest."""
    pins = sum(len(p.pins) for p in calm.parts.values())
    nodes = len({n for p in calm.parts.values() for n in p.nodes})
    states = sum(isinstance(p, kinds.Capacitor | kinds.Choke) for p in calm.parts.values()) + 3
    # For each what-if some ten sets of modes, each with volts, amps and steps.
    moving_bytes = 8 * 10 * states * (nodes + pins + 3 * states)
    square = 0 if all(isinstance(p, _OHMIC) for p in calm.parts.values()) else 3 * nodes * nodes
    still_bytes = 8 * (square + 10 * nodes + 30 * pins)
    found: list[list[int]] = []
    for turning in (False, True):
        rows = [row for row, c in circuits.items() if turns(c) is turning]
        size = max(1, MOST_BYTES // (moving_bytes if turning else still_bytes))
        found += [rows[start : start + size] for start in range(0, len(rows), size)]
    return found


def _solve_chunk(
    m: RailMap, calm: Circuit, rows: list[int], circuits: list[Circuit], many: Many
) -> None:
    """Solve some what-ifs; those that do not fit the others are solved by themselves."""
    turning = turns(circuits[0])
    alone = [i for i, c in enumerate(circuits) if _stands_apart(c)]
    if len(circuits) - len(alone) > 1:
        some = [i for i in range(len(circuits)) if i not in set(alone)]
        lead = calm if turns(calm) is turning else circuits[some[0]]
        variants = build_variants([lead, *(circuits[i] for i in some)], moving=turning)
        settled = _solve_together(m, variants, turning, [rows[i] for i in some], many)
        alone += [i for i, good in zip(some, settled, strict=True) if not good]
    else:
        alone = list(range(len(circuits)))
    for i in alone:
        many.keep_single(rows[i], solve_circuit(m, circuits[i]))


def _stands_apart(circuit: Circuit) -> bool:
    """Tell a what-if whose structure may contradict itself, as a short across a source does."""
    return SHORT in circuit.faults.values()


def _solve_together(
    m: RailMap, variants: Variants, turning: bool, rows: list[int], many: Many
) -> NDArray[np.bool_]:
    """Solve what-ifs under one structure, the first of which only leads them."""
    if variants.contradiction:
        return np.zeros(len(rows), dtype=bool)
    state: Turning | None = None
    if turning:
        lead = solve_turning(build_variants([variants.base], moving=True), m.mains_hertz)
        state = solve_turning(variants, m.mains_hertz, lead)
        turn, settled = state.turn, state.found
    else:
        lead = operate(variants.network(0))
        if not lead.settled:
            return np.zeros(len(rows), dtype=bool)
        batch = settle_batch(variants, lead.node_volts, lead.modes)
        turn, settled = batch.turn, batch.settled
    good = settled[1:]
    own = 1 + np.flatnonzero(good)
    numbers = np.array(rows, dtype=np.intp)[good]
    many.keep_block(Block(numbers, own, variants, turn, state, reach(variants)))
    return good
