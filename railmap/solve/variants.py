"""Many what-ifs on one map as one structure with numbers by what-if.

A part that is open, short or unplugged in some of them and not in others is *loose*, and so is one
whose law has other rows in some of them; see :mod:`railmap.solve.forms` for how it is carried.
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
from railmap.model.part import Part
from railmap.solve.arrays import numbers_of, taken
from railmap.solve.assemble import (
    Network,
    Row,
    emf_of,
    gather_topology,
    rows_of,
    stack_rows,
    tie_of,
)
from railmap.solve.forms import Form, Forms, PlacedTie, Template, conductor, gather_forms
from railmap.solve.laws import Family, Floats, Ints
from railmap.solve.topology import Tie, Topology
from railmap.solve.what_if import OPEN, SHORT, Circuit, Fault

LEAST_ESR_OHMS = 1e-4
"""Series resistance of a capacitor that is entered with less; keeps its current defined."""
BLEED_SIEMENS = 1e-7
"""From the output of a regulator to its common pin: what its own divider takes, common practice,
no source. It empties a capacitor that nothing else does, too slowly to be seen in any current."""
LOSS_OHMS_A_HENRY = 3e5
"""Loss across a choke: a thousand times its reactance at 50 Hz, so that it is never seen but where
the choke runs dry; there it takes what current is left. Common practice, no source."""


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
    there : list of ndarray of bool, each shape (what-ifs, rows of the family)
        False where a row lets nothing by because its part is out of the circuit.
    tight : ndarray of int
        Pins of links, shorts and sources without resistance that are carried as conductances.
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
    there: list[NDArray[np.bool_]]
    tight: Ints

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

    def emf_of(self, ref: str) -> Floats:
        """Return the constant volts that a part drives by itself; 0 where it has a fault."""
        if not isinstance(self.base.parts[ref], kinds.Source):
            return np.zeros(self.count)
        emf = [emf_of(c.parts[ref], c.mains_ratio) for c in self.circuits]
        return np.array(emf) * self.number(ref, lambda _: 1.0)

    @cached_property
    def emf(self) -> Floats:
        """Constant volts that each part drives by itself, shape (what-ifs, parts)."""
        found = [self.emf_of(ref) for ref in self.base.parts]
        return np.array(found).reshape(len(found), self.count).T

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

    def some(self, rows: Sequence[int]) -> Variants:
        """Return some of the what-ifs under the structure of all."""
        at = np.array(rows, dtype=np.intp)
        return replace(
            self, circuits=[self.circuits[row] for row in rows],
            families=[taken(family, at) for family in self.families],
            tie_volts=self.tie_volts[at], there=[there[at] for there in self.there],
        )  # fmt: skip

    def network(self, row: int) -> Network:
        """Return one of the what-ifs as a network of its own."""
        circuit = self.circuits[row]
        start = np.array(list(self.start_of.values())[: len(circuit.parts)], dtype=np.intp)
        emf = np.array([emf_of(p, circuit.mains_ratio) for p in circuit.parts.values()])
        families = [taken(family, row) for family in self.families]
        return Network(
            circuit, list(circuit.parts), start, self.slot_node, self.topology,
            families, self.tie_slots, self.tie_volts[row], emf, self.contradiction,
            self.places,
        )  # fmt: skip


def moving_rows(part: Part, fault: Fault | None, mains_ratio: float) -> list[Row]:
    """Return a part's rows while the mains turns; a capacitor's first row is its own branch."""
    if fault is OPEN:
        return []
    if isinstance(part, kinds.Choke):
        return [conductor(1 / (LOSS_OHMS_A_HENRY * part.henries + part.ohms))]
    if isinstance(part, kinds.Winding):
        return [conductor(1 / part.ohms)]
    if isinstance(part, kinds.Capacitor):
        rows = [conductor(1 / max(part.esr_ohms, LEAST_ESR_OHMS))]
        return rows + ([conductor(1 / part.leak_ohms)] if part.leak_ohms else [])
    rows = rows_of(part, fault, mains_ratio)
    if isinstance(part, kinds.Regulator) and fault is None:
        rows.append(conductor(BLEED_SIEMENS, 0.0, (1, 2)))
    return rows


def moving_tie(part: Part, fault: Fault | None, mains_ratio: float) -> PlacedTie | None:
    """Return the tie that a part is while the mains turns."""
    if isinstance(part, kinds.Choke) and fault is not SHORT:
        return None
    if isinstance(part, kinds.Winding) and fault is None and part.ohms == 0:
        return Tie(part.ref, part.a, part.b, True), (0, 1)
    return tie_of(part, fault, mains_ratio)


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
    forms = gather_forms(circuits, plain, tie)
    base = circuits[0]
    ties = [f.tie for ref, f in forms.first.items() if f.tie and ref not in forms.loose]
    laid = _Laid(base, forms)
    rows = {ref: laid.rows(ref, form) for ref, form in laid.with_rows()}
    topology, contradiction = gather_topology(base, rows, [t for t, _ in ties])
    if contradiction:
        ties = [(t, pins) for t, pins in ties if not t.is_source]
    start = np.cumsum([0, *(len(p.pins) for p in base.parts.values())], dtype=np.intp)
    at = dict(zip(base.parts, start.tolist(), strict=False))
    slot_node = np.array(
        [topology.index.get(n, -1) for p in base.parts.values() for n in p.nodes], dtype=np.intp
    )
    families, places = stack_rows(rows, at, slot_node)
    tie_volts = np.tile(np.array([t.volts for t, _ in ties]), (len(circuits), 1))
    found = Variants(
        circuits, topology, [_widened(family, len(circuits)) for family in families], places,
        np.array([[at[t.ref] + k for k in pins] for t, pins in ties], dtype=np.intp).reshape(-1, 2),
        tie_volts.reshape(len(circuits), -1), {t.ref: k for k, (t, _) in enumerate(ties)},
        slot_node, contradiction, [np.ones((len(circuits), len(f.pins)), bool) for f in families],
        np.array(laid.tight(at), dtype=np.intp),
    )  # fmt: skip
    _fill_in(found, laid)
    return found


class _Laid:
    """The rows of every part, a loose one's always the same ones."""

    def __init__(self, base: Circuit, forms: Forms) -> None:
        self.forms = forms
        self.templates = {ref: Template(base.parts[ref], forms.of(ref)) for ref in forms.loose}

    def with_rows(self) -> list[tuple[str, Form]]:
        """Return the parts that are no ties, as they are in the first what-if."""
        loose = self.forms.loose
        return [(r, f) for r, f in self.forms.first.items() if not f.tie or r in loose]

    def tight(self, at: dict[str, int]) -> list[int]:
        """Return the pins of what is a tie in some what-ifs, by the first pin of each part."""
        forms = [(ref, form.tie) for ref in self.templates for form in self.forms.of(ref)]
        return sorted({at[ref] + tie[1][0] for ref, tie in forms if tie is not None})

    def rows(self, ref: str, form: Form) -> list[Row]:
        """Return the rows of a part in one form."""
        template = self.templates.get(ref)
        return form.rows if template is None else [row for row, _ in template.rows(form)]


def _fill_in(variants: Variants, laid: _Laid) -> None:
    """Write in what differs from the first what-if."""
    forms = laid.forms
    for ref, template in laid.templates.items():
        _write_odd(variants, ref, template, forms)
    for ref, some in forms.alike.items():
        values = np.array(some.numbers)
        if ref in variants.tie_column:
            variants.tie_volts[some.which, variants.tie_column[ref]] = values[:, 0]
            continue
        first, template = forms.first[ref], laid.templates.get(ref)
        places = variants.places.get(ref, [])
        if template is not None:
            places = [places[k] for k in template.places(first)]
        # A short, and a source without resistance that a contradiction leaves out, have none.
        for column, (k, name) in enumerate(first.names() if places else []):
            family, place = places[k]
            getattr(variants.families[family], name)[some.which, place] = values[:, column]


def _write_odd(variants: Variants, ref: str, template: Template, forms: Forms) -> None:
    """Write the rows of a loose part, and which of them are there."""
    odd = forms.odd.get(ref, {})
    which, places = list(odd), variants.places[ref]
    for (family, place), (_, there) in zip(places, template.rows(forms.first[ref]), strict=True):
        variants.there[family][:, place] = there
    wide = [template.rows(form) for form in odd.values()]
    for k, (family, place) in enumerate(places if odd else []):
        variants.there[family][which, place] = [rows[k][1] for rows in wide]
        for name in wide[0][k][0].numbers:
            values = [rows[k][0].numbers[name] for rows in wide]
            getattr(variants.families[family], name)[which, place] = values


def _widened(family: Any, count: int) -> Family:
    wide = {name: np.tile(value, (count, 1)) for name, value in numbers_of(family).items()}
    return replace(family, **wide)
