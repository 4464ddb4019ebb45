"""What comes out of a solution: volts of nodes, current, heat and stress of parts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.part import Part
from railmap.model.railmap import RailMap
from railmap.solve import stress
from railmap.solve.assemble import Network
from railmap.solve.laws import Floats
from railmap.solve.nodal import Operating

SOLVED, PARTLY, REFUSED, UNSETTLED = "solved", "partly solved", "contradiction", "not settled"


@dataclass(frozen=True)
class Check:
    """One limit of one part: what it carries, what it may carry, and the ratio of the two."""

    what: str
    unit: str
    value: float
    allowed: float
    ratio: float


@dataclass(frozen=True)
class PartResult:
    """What one part does.

    Attributes
    ----------
    volts : float
        Voltage between its ends, first pin against last (for a regulator input against output,
        for a transistor collector against emitter, for a bridge plus against minus).
    amps : float
        Current from the first end to the other; for a source the current it delivers, for a
        regulator, converter or bridge the current out of its output.
    watts : float
        Heat in the part. For a source, the heat in its own resistance.
    delivered_watts : float
        Power it puts into the map; 0 for all but sources.
    stress : float
        The highest of its ratios to a limit, 1.0 = at its derated rating; nan without any limit.
    checks : tuple of Check
        Every limit it has.
    pin_amps : dict of str to float
        Current into each pin.
    pin_volts : dict of str to float
        Volts of each pin against 0 V; nan where there is no path to 0 V.
    """

    ref: str
    volts: float
    amps: float
    watts: float
    delivered_watts: float
    stress: float
    checks: tuple[Check, ...]
    pin_amps: dict[str, float]
    pin_volts: dict[str, float]


@dataclass(frozen=True)
class Finding:
    """Something about the circuit that a reader of its figures has to know.

    Attributes
    ----------
    kind : str
        ``island``, ``contradiction``, ``open end``, ``collapsed`` or ``not settled``.
    sentence : str
        What it is, with names.
    refs, nodes : tuple of str
        The parts and nodes concerned.
    """

    kind: str
    sentence: str
    refs: tuple[str, ...] = ()
    nodes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Solution:
    """The solved map. Frozen; nothing of it is written back into the map.

    Attributes
    ----------
    status : str
        ``solved``; ``partly solved`` (something has no path to 0 V); ``contradiction`` or
        ``not settled`` (no figures).
    findings : tuple of Finding
        Everything worth saying about the circuit.
    """

    source: RailMap
    network: Network
    operating: Operating
    status: str
    findings: tuple[Finding, ...]

    @property
    def message(self) -> str:
        """All findings as sentences, one a line."""
        return "\n".join(f.sentence for f in self.findings)

    @property
    def refs(self) -> list[str]:
        """Part references, in the order of the arrays."""
        return self.network.refs

    @property
    def nodes(self) -> list[str]:
        """Nodes that something conducting touches."""
        return self.network.topology.nodes

    def volts(self, node: str, against: str | None = None) -> float:
        """Return the volts of a node.

        Parameters
        ----------
        node : str
            A node or a rail's name.
        against : str, optional
            Another node; 0 V by default.

        Returns
        -------
        float
            Volts; nan where the two have no path to each other, or nothing was solved.

        Raises
        ------
        MapError
            If the map has no such node.
        """
        return self._node_volts(node, "0V" if against is None else against)

    def _node_volts(self, node: str, against: str) -> float:
        a, b = (self._place(name) for name in (node, against))
        if a is None or b is None or not self._has_figures:
            return 0.0 if self._has_figures and node == against else float("nan")
        island = self.network.topology.island
        if island[a] != island[b]:
            return float("nan")
        v, shift = self.operating.node_volts, self.operating.node_shift
        return float((v[a] - v[b]) + (shift[a] - shift[b]))

    def _place(self, name: str) -> int | None:
        index = self.network.topology.index
        return index[name] if name in index else index.get(self.source.node_of(name))

    @property
    def _has_figures(self) -> bool:
        return self.status in (SOLVED, PARTLY)

    def part(self, ref: str) -> PartResult:
        """Return what one part does.

        Raises
        ------
        MapError
            If the map has no such part.
        """
        number = self.network.part_index.get(ref)
        if number is None:
            raise MapError(f"there is no part {ref!r} in the map")
        part = self.network.circuit.parts[ref]
        places = self._slots(number)
        pin_amps = dict(zip(part.pins, self._pin_amps[places].tolist(), strict=True))
        pin_volts = dict(zip(part.pins, self._pin_volts[places].tolist(), strict=True))
        return PartResult(
            ref, float(self.part_volts[number]), float(self.part_amps[number]),
            float(self.watts[number]), float(self.delivered_watts[number]),
            float(self.stress[number]), self._checks(number), pin_amps, pin_volts,
        )  # fmt: skip

    def _slots(self, number: int) -> slice:
        first = int(self.network.start[number])
        return slice(first, first + len(self.network.parts[number].pins))

    def _checks(self, number: int) -> tuple[Check, ...]:
        limits = self._limits
        return tuple(
            Check(
                stress.QUANTITIES[limits.quantity[row]], stress.UNITS[limits.quantity[row]],
                float(self._quantities[limits.quantity[row], number]),
                float(limits.allowed[row]), float(self._ratios[row]),
            )
            for row in np.flatnonzero(limits.part == number)
        )  # fmt: skip

    @cached_property
    def _pin_volts(self) -> Floats:
        """Volts of every pin against 0 V; nan off the main island."""
        at, topology = self.network.slot_node, self.network.topology
        v = self.operating.node_volts + self.operating.node_shift
        v = np.where(topology.island == 0, v, np.nan)
        found = np.append(v, np.nan)[at]
        return found if self._has_figures else np.full_like(found, np.nan)

    @cached_property
    def _pin_amps(self) -> Floats:
        found = self.operating.pin_amps
        return found if self._has_figures else np.full_like(found, np.nan)

    @cached_property
    def _ends(self) -> tuple[np.ndarray, np.ndarray]:
        """Flat pin numbers of each part's two ends."""
        first, second = np.empty((2, len(self.refs)), dtype=np.intp)
        for number, part in enumerate(self.network.parts):
            a, b = part.ends
            first[number] = self.network.start[number] + part.pins.index(a)
            second[number] = self.network.start[number] + part.pins.index(b)
        return first, second

    @cached_property
    def _drops(self) -> Floats:
        """Volts of every pin against the last pin of its part; exact within one island."""
        network = self.network
        last = np.append(network.start[1:], len(network.slot_node)) - 1
        last = last[network.slot_part]
        at, to = network.slot_node, network.slot_node[last]
        v = np.append(self.operating.node_volts, np.nan)
        shift = np.append(self.operating.node_shift, np.nan)
        drop = (v[at] - v[to]) + (shift[at] - shift[to])
        island = np.append(network.topology.island, -1)
        drop = np.where(island[at] == island[to], drop, np.nan)
        return drop if self._has_figures else np.full_like(drop, np.nan)

    @cached_property
    def part_volts(self) -> Floats:
        """Volts between the ends of every part, shape (parts,)."""
        first, second = self._ends
        return self._drops[first] - self._drops[second]

    @cached_property
    def part_amps(self) -> Floats:
        """Current of every part (see :class:`PartResult`), shape (parts,)."""
        first, second = self._ends
        out = np.array([isinstance(p, _OUT_OF_SECOND) for p in self.network.parts], dtype=bool)
        feeds = np.array([isinstance(p, _OUT_OF_FIRST) for p in self.network.parts], dtype=bool)
        amps = self._pin_amps[np.where(out, second, first)]
        return np.where(out | feeds, -amps, amps)

    @cached_property
    def delivered_watts(self) -> Floats:
        """Power that every part puts into the map, shape (parts,)."""
        emf = self.network.emf
        return np.where(emf != 0, emf * -self._pin_amps[self.network.start], 0.0)

    @cached_property
    def watts(self) -> Floats:
        """Heat in every part, shape (parts,); 0 in a part that is out of the circuit."""
        amps = self._pin_amps
        each = np.where(amps == 0, 0.0, self._drops * amps)
        taken = np.bincount(self.network.slot_part, each, len(self.refs))
        return taken + self.delivered_watts

    @cached_property
    def _limits(self) -> stress.Limits:
        return stress.gather_limits(self.network.circuit)

    @cached_property
    def _quantities(self) -> Floats:
        parts = self.network.parts
        found = np.empty((len(stress.QUANTITIES), len(parts)))
        found[stress.WATTS] = self.watts
        found[stress.AMPS] = np.abs(self.part_amps)
        found[stress.VOLTS] = np.abs(self.part_volts)
        found[stress.INPUT_VOLTS] = np.abs(self._drops[self.network.start])
        found[stress.INVERSE_VOLTS] = np.maximum(-self.part_volts, 0.0)
        return found

    @cached_property
    def _ratios(self) -> Floats:
        return stress.ratios(self._limits, self._quantities)

    @cached_property
    def stress(self) -> Floats:
        """Highest ratio to a limit of every part, shape (parts,); nan without any limit."""
        return stress.worst(self._limits, self._ratios, len(self.refs))

    @property
    def power_in(self) -> float:
        """Watts that the sources put in; what is pushed back into a source counts as out."""
        return float(np.nansum(np.maximum(self.delivered_watts, 0.0)))

    @property
    def power_out(self) -> float:
        """Watts of heat in all parts, and watts pushed back into sources."""
        back = np.nansum(np.maximum(-self.delivered_watts, 0.0))
        return float(np.nansum(self.watts) + back)

    def hottest(self) -> list[str]:
        """Return the references of all parts with a limit, the most stressed first."""
        order = np.argsort(-self.stress, kind="stable")
        return [self.refs[i] for i in order if not np.isnan(self.stress[i])]


_OUT_OF_FIRST = (kinds.Source,)
_OUT_OF_SECOND = (kinds.Regulator, kinds.Converter)
_ = Part
