"""Many what-ifs on one map as one structure with numbers by what-if.

A part that is open, short or unplugged in some of them and not in others is *loose*: it is
carried as conductances that can be nothing or next to a short, so that all share one structure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.model import kinds
from railmap.model.part import ZERO_NODE, Part
from railmap.solve.arrays import numbers_of
from railmap.solve.assemble import (
    Network,
    Row,
    emf_of,
    gather_topology,
    rows_of,
    stack_rows,
    tie_of,
)
from railmap.solve.laws import Conductors, Family, Floats, Ints
from railmap.solve.topology import Tie, Topology
from railmap.solve.what_if import OPEN, SHORT, Circuit, Fault

LEAST_ESR_OHMS = 1e-4
"""Series resistance of a capacitor that is entered with less; keeps its current defined."""
LOSS_OHMS_A_HENRY = 3e5
"""Loss across a choke: a thousand times its reactance at 50 Hz, so that it is never seen but where
the choke runs dry; there it takes what current is left. Common practice, no source."""
TIGHT_SIEMENS = 1e5
"""What stands for a short, and for a link that is open in another what-if."""
SILENT = {
    "siemens", "forward_siemens", "reverse_siemens", "amps", "watts", "base_siemens",
    "saturation_siemens",
}  # fmt: skip
"""Numbers that are nothing in a part that is out of the circuit."""

RowsOf = Callable[[Part, Fault | None, float], list[Row]]


@dataclass(frozen=True)
class Variants:
    """What-ifs with one structure.

    Attributes
    ----------
    circuits : sequence of Circuit
        The what-ifs carried out.
    families : list of Family
        The laws; every number has the what-if as its first axis.
    places : dict
        The rows of each part: (family, row).
    tie_slots : ndarray of int, shape (ties, 2)
        Pins of links and sources without resistance.
    tie_volts : ndarray, shape (what-ifs, ties)
        Their constant volts.
    contradiction : list of str
        Parts of a loop of sources without resistance; empty where there is none.
    """

    circuits: Sequence[Circuit]
    topology: Topology
    families: list[Family]
    places: dict[str, list[tuple[int, int]]]
    tie_slots: Ints
    tie_volts: Floats
    tie_column: dict[str, int]
    slot_node: Ints
    contradiction: list[str]

    @property
    def count(self) -> int:
        """How many what-ifs there are."""
        return len(self.circuits)

    @property
    def base(self) -> Circuit:
        """The first of them; all have the same parts between the same nodes."""
        return self.circuits[0]

    @cached_property
    def start_of(self) -> dict[str, int]:
        """First place of each part in the flat list of pins."""
        sizes = [len(p.pins) for p in self.base.parts.values()]
        return dict(zip(self.base.parts, np.cumsum([0, *sizes]).tolist(), strict=False))

    def number(self, ref: str, read: Callable[[Any], float], absent: float = 0.0) -> Floats:
        """Return a number of one part by what-if; ``absent`` where it is out of the circuit."""
        return np.array([
            absent if c.faults.get(ref) is not None else read(c.parts[ref]) for c in self.circuits
        ])  # fmt: skip

    @cached_property
    def windings(self) -> dict[str, Floats]:
        """Peak volts of each winding by what-if."""
        refs = [r for r, p in self.base.parts.items() if isinstance(p, kinds.Winding)]
        ratios = np.array([c.mains_ratio for c in self.circuits])
        return {r: sqrt(2) * ratios * self.number(r, lambda p: p.volts_rms) for r in refs}

    @cached_property
    def emf(self) -> Floats:
        """Constant volts that each part drives by itself, shape (what-ifs, parts)."""
        return np.array([
            [emf_of(p, c.mains_ratio) for p in c.parts.values()] for c in self.circuits
        ])  # fmt: skip

    @cached_property
    def _gather(self) -> Floats:
        """Sums pins at nodes: (nodes, pins)."""
        found = np.zeros((len(self.topology.nodes), len(self.slot_node)))
        inside = np.flatnonzero(self.slot_node >= 0)
        found[self.slot_node[inside], inside] = 1.0
        return found

    def with_ties(self, amps: Floats) -> Floats:
        """Add the currents of links and ideal sources to those of all other pins, in place.

        Pins are the second axis of ``amps``; there has to be a third.
        """
        if len(self.tie_slots):
            through = self.topology.tie_current_map @ -(self._gather @ amps)
            amps[:, self.tie_slots[:, 0]] += through
            amps[:, self.tie_slots[:, 1]] -= through
        return amps

    def network(self, row: int) -> Network:
        """Return one of the what-ifs as a network of its own."""
        sizes = [len(p.pins) for p in self.base.parts.values()]
        start = np.cumsum([0, *sizes], dtype=np.intp)[:-1]
        families: list[Any] = list(self.families)
        own = [{n: v[row] for n, v in numbers_of(f).items()} for f in families]
        families = [replace(f, **numbers) for f, numbers in zip(families, own, strict=True)]
        return Network(
            self.circuits[row], list(self.base.parts), start, self.slot_node, self.topology,
            families, self.tie_slots, self.tie_volts[row], self.emf[row], self.contradiction,
            self.places,
        )  # fmt: skip


def moving_rows(part: Part, fault: Fault | None, mains_ratio: float) -> list[Row]:
    """Return a part's rows while the mains turns; a capacitor's first row is its own branch."""
    if fault is OPEN:
        return []
    if isinstance(part, kinds.Choke):
        return [_conductor(1 / (LOSS_OHMS_A_HENRY * part.henries))]
    if isinstance(part, kinds.Winding):
        return [_conductor(1 / part.ohms)]
    if isinstance(part, kinds.Capacitor):
        rows = [_conductor(1 / max(part.esr_ohms, LEAST_ESR_OHMS))]
        return rows + ([_conductor(1 / part.leak_ohms)] if part.leak_ohms else [])
    return rows_of(part, fault, mains_ratio)


def moving_tie(part: Part, fault: Fault | None, mains_ratio: float) -> Any:
    """Return the tie that a part is while the mains turns."""
    if isinstance(part, kinds.Choke) and fault is not SHORT:
        return None
    if isinstance(part, kinds.Winding) and fault is None and part.ohms == 0:
        return Tie(part.ref, part.a, part.b, True), (0, 1)
    return tie_of(part, fault, mains_ratio)


def _conductor(siemens: float, volts: float = 0.0, pins: tuple[int, int] = (0, 1)) -> Row:
    return Row(Conductors, pins, {"siemens": siemens, "volts": volts})


def build_variants(circuits: Sequence[Circuit], moving: bool) -> Variants:
    """Bring what-ifs on one map under one structure.

    Parameters
    ----------
    circuits : sequence of Circuit
        The what-ifs carried out on the same map.
    moving : bool
        True if capacitors, chokes and windings are to move; False for direct current.
    """
    plain, tie = (moving_rows, moving_tie) if moving else (rows_of, tie_of)
    loose = _loose(circuits, tie)
    base = circuits[0]
    rows: dict[str, list[Row]] = {}
    ties: list[tuple[Tie, tuple[int, int]]] = []
    for ref, part in base.parts.items():
        found = None if ref in loose else tie(part, base.faults.get(ref), base.mains_ratio)
        if found is not None:
            ties.append(found)
        else:
            rows[ref] = _rows(ref, base, ref in loose, plain, tie)
    topology, contradiction = gather_topology(base, rows, [t for t, _ in ties])
    start = np.cumsum([0, *(len(p.pins) for p in base.parts.values())], dtype=np.intp)
    at = dict(zip(base.parts, start.tolist(), strict=False))
    slot_node = np.array(
        [topology.index.get(n, -1) for p in base.parts.values() for n in p.nodes], dtype=np.intp
    )
    families, places = stack_rows(rows, at, slot_node)
    widened = [_widened(family, len(circuits)) for family in families]
    tie_volts = np.tile(np.array([t.volts for t, _ in ties]), (len(circuits), 1))
    column = {t.ref: k for k, (t, _) in enumerate(ties)}
    for number, circuit in enumerate(circuits[1:], start=1):
        for ref in _changed(base, circuit):
            if ref in column:
                tie_volts[number, column[ref]] = emf_of(circuit.parts[ref], circuit.mains_ratio)
            else:
                new = _rows(ref, circuit, ref in loose, plain, tie)
                _write(widened, number, places[ref], new)
    return Variants(
        circuits, topology, widened, places,
        np.array([[at[t.ref] + k for k in pins] for t, pins in ties], dtype=np.intp).reshape(-1, 2),
        tie_volts.reshape(len(circuits), -1), column, slot_node, contradiction,
    )  # fmt: skip


def _loose(circuits: Sequence[Circuit], tie: Callable[..., Any]) -> set[str]:
    """Return the parts whose place in the structure is not the same in every what-if."""
    base = circuits[0]
    found: set[str] = set()
    for circuit in circuits[1:]:
        found |= {r for r in base.faults.keys() | circuit.faults.keys()
                  if base.faults.get(r) is not circuit.faults.get(r)}  # fmt: skip
        for ref in _changed(base, circuit) - found:
            one = tie(base.parts[ref], base.faults.get(ref), 1.0) is None
            if one != (tie(circuit.parts[ref], circuit.faults.get(ref), 1.0) is None):
                found.add(ref)
    return found


def _changed(base: Circuit, circuit: Circuit) -> set[str]:
    """Return the parts whose numbers may differ between two what-ifs."""
    found = {r for r, p in circuit.parts.items() if p is not base.parts[r] and p != base.parts[r]}
    found |= {r for r in base.faults.keys() | circuit.faults.keys()
              if base.faults.get(r) is not circuit.faults.get(r)}  # fmt: skip
    if base.mains_ratio != circuit.mains_ratio:
        found |= {r for r, p in circuit.parts.items()
                  if isinstance(p, kinds.Source) and p.follows_mains}  # fmt: skip
    return found


def _rows(
    ref: str, circuit: Circuit, is_loose: bool, plain: RowsOf, tie: Callable[..., Any]
) -> list[Row]:
    """Return a part's rows in one what-if; a loose part has the same rows in all."""
    part, fault = circuit.parts[ref], circuit.faults.get(ref)
    if not is_loose:
        return plain(part, fault, circuit.mains_ratio)
    fixed = tie(part, None, circuit.mains_ratio)
    if fixed is not None:
        rows = [_conductor(TIGHT_SIEMENS, fixed[0].volts)]
    else:
        rows = plain(part, None, circuit.mains_ratio)
    if fault is not None:
        rows = [replace(row, numbers=_silenced(row.numbers)) for row in rows]
    ends = tuple(part.pins.index(end) for end in part.ends)
    short = _conductor(TIGHT_SIEMENS if fault is SHORT else 0.0, 0.0, (ends[0], ends[1]))
    return [*rows, short]


def _silenced(numbers: dict[str, float]) -> dict[str, float]:
    return {name: 0.0 if name in SILENT else value for name, value in numbers.items()}


def _widened(family: Any, count: int) -> Family:
    wide = {name: np.tile(value, (count, 1)) for name, value in numbers_of(family).items()}
    return replace(family, **wide)


def _write(
    families: list[Any], number: int, places: list[tuple[int, int]], rows: list[Row]
) -> None:
    for (family, place), row in zip(places, rows, strict=True):
        for name, value in row.numbers.items():
            getattr(families[family], name)[number, place] = value


def reach(variants: Variants) -> NDArray[np.bool_]:
    """Return which nodes have a path to 0 V in each what-if, shape (what-ifs, nodes)."""
    nodes = len(variants.topology.nodes)
    edges: list[tuple[int, int, Any]] = []
    for family in variants.families:
        alive = _alive(family)
        for row, pins in enumerate(family.pins):
            edges += [(int(pins[0]), int(pin), alive[:, row]) for pin in pins[1:]]
    index = variants.topology.index
    everywhere = np.ones(variants.count, dtype=bool)
    edges += [(index[t.plus], index[t.minus], everywhere) for t in variants.topology.ties]
    found = np.zeros((nodes, variants.count), dtype=bool)
    found[index[ZERO_NODE]] = True
    for _ in range(nodes):
        before = int(found.sum())
        for a, b, alive in edges:
            joined = (found[a] | found[b]) & alive
            found[a] |= joined
            found[b] |= joined
        if int(found.sum()) == before:
            break
    return found.T


def _alive(family: Any) -> NDArray[np.bool_]:
    """Return where a row lets anything by, shape (what-ifs, rows)."""
    sizes = [value for name, value in numbers_of(family).items() if name in SILENT]
    found = sizes[0] > 0
    for size in sizes[1:]:
        found = found | (size > 0)
    return found
