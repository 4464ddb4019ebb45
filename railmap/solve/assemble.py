"""From a circuit to arrays: which part obeys which law, between which nodes.

This is the only place that knows both the kinds of part and the families of laws.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, cast

import numpy as np

from railmap.errors import NotYetError
from railmap.model import kinds
from railmap.model.part import ZERO_NODE, Part
from railmap.solve import laws, laws_three
from railmap.solve.laws import Family, Floats, Ints
from railmap.solve.pattern import Pattern, make_pattern
from railmap.solve.topology import ContradictionError, Tie, Topology, build_topology
from railmap.solve.what_if import OPEN, SHORT, Circuit, Fault

LEAST_OHMS = 1e-6
"""Slope given to a junction that is entered with none, so that its current stays defined."""
LEAST_QUIESCENT_AMPS = 1e-10
"""Taken by a regulator that is entered with none, so that its common pin stays defined."""
COLLAPSE_VOLTS = 0.5
"""Below this no circuit draws its steady current: common practice, no source."""
COLLAPSE_PART = 0.5
"""A power load lets go below this part of its volts: common practice, no source."""
ZENER_FORWARD_VOLTS = 0.75
ZENER_FORWARD_OHMS = 0.05


@dataclass(frozen=True)
class Row:
    """One row of a family: the pins it uses (by number in the part) and its numbers."""

    family: type[Any]
    pins: tuple[int, ...]
    numbers: dict[str, float]


@dataclass(frozen=True)
class Network:
    """A circuit as arrays.

    Attributes
    ----------
    circuit : Circuit
        What it was made from.
    refs : list of str
        Parts in order; ``start[i]`` is the first of part ``i``'s places in the flat pin list.
    slot_node : ndarray of int, shape (pins,)
        Node of each pin, -1 where it touches nothing that conducts.
    families : list of Family
        The laws.
    emf : ndarray, shape (parts,)
        Volts that a part drives by itself (sources).
    contradiction : list of str
        Parts of a loop of sources without resistance; empty where there is none.
    """

    circuit: Circuit
    refs: list[str]
    start: Ints
    slot_node: Ints
    topology: Topology
    families: list[Family]
    tie_slots: Ints
    tie_volts: Floats
    emf: Floats
    contradiction: list[str]
    places: dict[str, list[tuple[int, int]]] = field(repr=False, default_factory=dict[str, Any])

    @cached_property
    def parts(self) -> list[Part]:
        """The parts in order."""
        return list(self.circuit.parts.values())

    @cached_property
    def pattern(self) -> Pattern:
        """Where the laws go in the equations."""
        return make_pattern(self.topology, self.families)

    @cached_property
    def part_index(self) -> dict[str, int]:
        """Number of each part by reference."""
        return {ref: i for i, ref in enumerate(self.refs)}

    @cached_property
    def slot_part(self) -> Ints:
        """Part number of each place in the flat pin list."""
        sizes = [len(p.pins) for p in self.circuit.parts.values()]
        return np.repeat(np.arange(len(sizes)), sizes)

    @cached_property
    def conducting(self) -> frozenset[str]:
        """References of the parts that let current through."""
        found = {ref for ref, rows in self.places.items() if rows}
        tied: list[int] = self.slot_part[self.tie_slots[:, 0]].tolist()
        return frozenset(found.union(self.refs[i] for i in tied))

    @cached_property
    def ends(self) -> tuple[Ints, Ints]:
        """Flat pin numbers of each part's two ends."""
        pins = [[part.pins.index(end) for end in part.ends] for part in self.parts]
        found = self.start[:, None] + np.array(pins, dtype=np.intp).reshape(-1, 2)
        return found[:, 0], found[:, 1]

    @cached_property
    def loose_ends(self) -> list[tuple[str, tuple[str, ...]]]:
        """Parts with pins on nodes that nothing else is on, and those nodes."""
        faults = self.circuit.faults
        there = {r: n for r, n in self.circuit.nodes.items() if faults.get(r) is not OPEN}
        counts = Counter(node for nodes in there.values() for node in nodes)
        lonely = {node for node, count in counts.items() if count == 1 and node != ZERO_NODE}
        return [
            (ref, tuple(node for node in nodes if node in lonely))
            for ref, nodes in there.items() if not lonely.isdisjoint(nodes)
        ]  # fmt: skip


def assemble(circuit: Circuit) -> Network:
    """Turn a circuit into arrays.

    Raises
    ------
    NotYetError
        If a part obeys a law that this version does not compute.
    """
    rows: dict[str, list[Row]] = {}
    ties: list[tuple[Tie, tuple[int, int]]] = []
    for ref, part in circuit.parts.items():
        tie = tie_of(part, circuit.faults.get(ref), circuit.mains_ratio)
        if tie is not None:
            ties.append(tie)
        else:
            rows[ref] = rows_of(part, circuit.faults.get(ref), circuit.mains_ratio)
    topology, contradiction = gather_topology(circuit, rows, [t for t, _ in ties])
    if contradiction:
        ties = [(tie, pins) for tie, pins in ties if not tie.is_source]
    start = np.cumsum([0, *(len(p.pins) for p in circuit.parts.values())], dtype=np.intp)
    refs = list(circuit.parts)
    slot_node = np.array(
        [topology.index.get(n, -1) for nodes in circuit.nodes.values() for n in nodes],
        dtype=np.intp,
    )
    at = dict(zip(refs, start.tolist(), strict=False))
    families, places = stack_rows(rows, at, slot_node)
    emf = np.array([emf_of(p, circuit.mains_ratio) for p in circuit.parts.values()])
    return Network(
        circuit, refs, start[:-1], slot_node, topology, families,
        np.array([[at[t.ref] + k for k in pins] for t, pins in ties], dtype=np.intp).reshape(-1, 2),
        np.array([t.volts for t, _ in ties]), emf, contradiction, places,
    )  # fmt: skip


def with_part(network: Network, part: Part) -> Network | None:
    """Return the network with one part's numbers changed, sharing everything else.

    Returns None where the change is more than a change of numbers (a part that opens, or loses
    its resistance altogether): then the circuit has to be assembled anew.
    """
    circuit = network.circuit
    old = circuit.parts[part.ref]
    fault = circuit.faults.get(part.ref)
    if old.nodes != part.nodes or type(old) is not type(part):
        return None
    changed = Circuit(
        {**circuit.parts, part.ref: part}, circuit.faults, circuit.mains_ratio, circuit.ambient_c,
        circuit.mains_volts, circuit.limiter_watts,
    )  # fmt: skip
    if tie_of(part, fault, circuit.mains_ratio) or tie_of(old, fault, circuit.mains_ratio):
        return None
    rows = rows_of(part, fault, circuit.mains_ratio)
    places = network.places.get(part.ref, [])
    families = list(network.families)
    if [type(families[f]) for f, _ in places] != [r.family for r in rows]:
        return None
    for (number, place), row in zip(places, rows, strict=True):
        families[number] = _with_numbers(families[number], place, row.numbers)
    emf = network.emf.copy()
    emf[network.part_index[part.ref]] = emf_of(part, circuit.mains_ratio)
    found = replace(network, circuit=changed, families=families, emf=emf)
    # What no number can change is handed on to where cached_property looks for it.
    vars(found).update({name: getattr(network, name) for name in _OF_STRUCTURE})
    return found


_OF_STRUCTURE = ("pattern", "part_index", "slot_part", "conducting", "ends", "loose_ends")


def _with_numbers(family: Any, place: int, numbers: dict[str, float]) -> Family:
    values: dict[str, Floats] = {}
    for name, value in numbers.items():
        values[name] = getattr(family, name).copy()
        values[name][place] = value
    return replace(family, **values)


def gather_topology(
    circuit: Circuit, rows: dict[str, list[Row]], ties: list[Tie]
) -> tuple[Topology, list[str]]:
    """Return the topology of a circuit, and the parts of a contradiction in it."""
    pin_sets = [
        (ref, tuple([circuit.nodes[ref][k] for k in row.pins]))
        for ref, found in rows.items()
        for row in found
    ]
    try:
        return build_topology(pin_sets, ties), []
    except ContradictionError as error:
        return build_topology(pin_sets, [t for t in ties if not t.is_source]), error.refs


def stack_rows(
    rows: dict[str, list[Row]], at: dict[str, int], slot_node: Ints
) -> tuple[list[Family], dict[str, list[tuple[int, int]]]]:
    """Gather the rows of each family into arrays, and note where each part's rows went."""
    gathered: dict[type[Any], list[tuple[str, Row]]] = {}
    for ref, found in rows.items():
        for row in found:
            gathered.setdefault(row.family, []).append((ref, row))
    families: list[Family] = []
    places: dict[str, list[tuple[int, int]]] = {ref: [] for ref in rows}
    for family, entries in gathered.items():
        slots = np.array([[at[ref] + k for k in row.pins] for ref, row in entries], dtype=np.intp)
        names = list(entries[0][1].numbers)
        numbers = {n: np.array([row.numbers[n] for _, row in entries], dtype=float) for n in names}
        families.append(family(slot_node[slots], slots, **numbers))
    # A part's rows keep the order they were made in, which with_part relies on.
    counters = [0] * len(families)
    order = {family: i for i, family in enumerate(gathered)}
    for ref, found in rows.items():
        for row in found:
            number = order[row.family]
            places[ref].append((number, counters[number]))
            counters[number] += 1
    return families, places


def emf_of(part: Part, mains_ratio: float) -> float:
    """Return the volts that a part drives by itself."""
    if isinstance(part, kinds.Source):
        return part.volts * (mains_ratio if part.follows_mains else 1.0)
    return 0.0


def tie_of(
    part: Part, fault: Fault | None, mains_ratio: float
) -> tuple[Tie, tuple[int, int]] | None:
    """Return the tie that a part is, if it holds two nodes at a fixed voltage."""
    if fault is OPEN:
        return None
    if fault is SHORT:
        a, b = (part.pins.index(end) for end in part.ends)
        return Tie(part.ref, part.nodes[a], part.nodes[b], False), (a, b)
    if isinstance(part, kinds.Switch) and not part.closed:
        return None
    if isinstance(part, _MAY_TIE) and part.ohms == 0:
        source, volts = isinstance(part, kinds.Source), emf_of(part, mains_ratio)
        return Tie(part.ref, part.nodes[0], part.nodes[1], source, volts), (0, 1)
    return None


_MAY_TIE = (kinds.Source, kinds.Link, kinds.Switch, kinds.Fuse, kinds.Choke)


def rows_of(part: Part, fault: Fault | None, mains_ratio: float) -> list[Row]:
    """Return the rows that a part's law is made of; none for what lets no direct current by."""
    if fault is OPEN or (isinstance(part, kinds.Switch) and not part.closed):
        return []
    if isinstance(part, kinds.Winding):
        raise NotYetError(
            f"{part.ref}: this version does not solve windings yet; draw the raw rail as a source"
        )
    if isinstance(part, kinds.Capacitor) and part.leak_ohms is None:
        return []
    return _MAKERS[type(part)](part, mains_ratio)


def _conductor(ohms: float, volts: float = 0.0) -> list[Row]:
    return [Row(laws.Conductors, (0, 1), {"siemens": 1 / ohms, "volts": volts})]


def _junction(
    pins: tuple[int, int], forward: tuple[float, float], reverse: tuple[float, float]
) -> Row:
    return Row(
        laws.Junctions, pins,
        {
            "forward_volts": forward[0], "forward_siemens": 1 / max(forward[1], LEAST_OHMS),
            "reverse_volts": reverse[0], "reverse_siemens": 1 / max(reverse[1], LEAST_OHMS),
        },
    )  # fmt: skip


_NEVER = (float("inf"), 1.0)


def _diode(part: kinds.Diode, _: float) -> list[Row]:
    return [_junction((0, 1), (part.forward_volts, part.ohms), _NEVER)]


def _bridge(part: kinds.Bridge, _: float) -> list[Row]:
    forward = (part.forward_volts, part.ohms)
    return [_junction(pins, forward, _NEVER) for pins in ((0, 2), (1, 2), (3, 0), (3, 1))]


def _zener(part: kinds.Zener, _: float) -> list[Row]:
    forward = (ZENER_FORWARD_VOLTS, ZENER_FORWARD_OHMS)
    knee = part.zener_volts - part.ohms * part.test_amps
    return [_junction((1, 0), forward, (knee, part.ohms))]


def _load(part: kinds.Load, _: float) -> list[Row]:
    at = part.at_volts or 0.0
    law = part.behaviour
    if law == "resistive":
        ohms = part.ohms or at / _amps_of(part)
        return [Row(laws.ResistiveLoads, (0, 1), {"siemens": 1 / ohms, "volts": 0.0})]
    if law == "power":
        watts = part.watts or at * _amps_of(part)
        low = part.collapse_volts or COLLAPSE_PART * at or COLLAPSE_VOLTS
        return [Row(laws.PowerLoads, (0, 1), {"watts": watts, "collapse_volts": low})]
    if law == "lamp":
        return [Row(laws.Lamps, (0, 1), {"amps": _amps_of(part), "at_volts": at})]
    return [_steady((0, 1), _amps_of(part), part.collapse_volts or COLLAPSE_VOLTS)]


def _amps_of(part: kinds.Load) -> float:
    """Return the current of a load at its volts; the model sees to it that these are given."""
    at = cast(float, part.at_volts)
    if part.watts is not None:
        return part.watts / at
    return at / part.ohms if part.ohms is not None else cast(float, part.amps)


def _steady(pins: tuple[int, int], amps: float, collapse_volts: float) -> Row:
    return Row(laws.SteadyLoads, pins, {"amps": amps, "collapse_volts": collapse_volts})


def _regulator(part: kinds.Regulator, _: float) -> list[Row]:
    numbers = {
        "sign": 1.0 if part.volts > 0 else -1.0, "volts": abs(part.volts),
        "dropout_volts": part.dropout_volts,
        "limit_amps": float("inf") if part.limit_amps is None else part.limit_amps,
        "siemens": 1 / part.ohms,
    }  # fmt: skip
    quiescent = max(part.quiescent_amps, LEAST_QUIESCENT_AMPS)
    own = _steady((0, 2), quiescent, COLLAPSE_VOLTS)
    return [Row(laws_three.Regulators, (0, 1, 2), numbers), own]


def _converter(part: kinds.Converter, _: float) -> list[Row]:
    numbers = {
        "sign": 1.0 if part.volts > 0 else -1.0, "volts": abs(part.volts),
        "efficiency": part.efficiency, "min_input_volts": part.min_input_volts,
        "limit_amps": float("inf") if part.limit_amps is None else part.limit_amps,
        "siemens": 1 / part.ohms,
    }  # fmt: skip
    return [Row(laws_three.Converters, (0, 1, 2), numbers)]


def _transistor(part: kinds.PassTransistor, _: float) -> list[Row]:
    numbers = {
        "sign": 1.0 if part.polarity == "npn" else -1.0, "gain": part.gain,
        "forward_volts": part.forward_volts,
        "base_siemens": 1 / (part.ohms * (part.gain + 1)),
        "saturation_siemens": 1 / part.saturation_ohms,
    }  # fmt: skip
    return [Row(laws_three.Transistors, (0, 1, 2), numbers)]


def _ohmic(part: Any, _: float) -> list[Row]:
    return _conductor(part.ohms)


_MAKERS: dict[type[Part], Callable[[Any, float], list[Row]]] = {
    kinds.Source: lambda part, ratio: _conductor(part.ohms, emf_of(part, ratio)),
    kinds.Resistor: _ohmic,
    kinds.Link: _ohmic,
    kinds.Switch: _ohmic,
    kinds.Fuse: _ohmic,
    kinds.Choke: _ohmic,
    kinds.Capacitor: lambda part, _: _conductor(part.leak_ohms),
    kinds.Diode: _diode,
    kinds.Bridge: _bridge,
    kinds.Zener: _zener,
    kinds.Load: _load,
    kinds.Regulator: _regulator,
    kinds.Converter: _converter,
    kinds.PassTransistor: _transistor,
}
