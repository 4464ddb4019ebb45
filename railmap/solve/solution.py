"""What comes out of a solution: volts of nodes, current, heat and stress of parts."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import sqrt

import numpy as np

from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.railmap import RailMap
from railmap.solve import stress
from railmap.solve.assemble import Network
from railmap.solve.laws import Floats
from railmap.solve.measure import Turn
from railmap.solve.nodal import Operating
from railmap.solve.partwise import AtPins, Layout, PartFigures, lay_out, part_figures
from railmap.solve.turning import Turning

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
        Mean voltage between its ends, first pin against last (for a regulator input against
        output, for a transistor collector against emitter, for a bridge plus against minus).
    amps : float
        Mean current from the first end to the other; for a source the current it delivers, for a
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
        Mean volts of each pin against 0 V; nan where there is no path to 0 V.
    amps_rms, amps_peak : float
        Effective value and largest size of the current into the pin that ``amps`` is taken at.
    volts_peak : float
        Largest size of the voltage between its ends.
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
    amps_rms: float
    amps_peak: float
    volts_peak: float


@dataclass(frozen=True)
class Ripple:
    """The ripple of a node.

    Attributes
    ----------
    volts_pp : float
        Peak to peak; 0 where no winding feeds the map.
    hertz : float
        How often it comes: the mains frequency or twice that; nan where there is none.
    low_volts, high_volts : float
        The lowest and the highest volts of the node.
    """

    volts_pp: float
    hertz: float
    low_volts: float
    high_volts: float


@dataclass(frozen=True)
class Lamp:
    """A lamp in series with the mains.

    Attributes
    ----------
    rated_watts : float
        What it is made for, at the design mains.
    volts_rms, amps_rms, watts : float
        Effective volts across it, its effective current, and its power.
    """

    rated_watts: float
    volts_rms: float
    amps_rms: float
    watts: float


@dataclass(frozen=True)
class Finding:
    """Something about the circuit that a reader of its figures has to know.

    Attributes
    ----------
    kind : str
        ``island``, ``contradiction``, ``open end``, ``collapsed``, ``drop-out`` or
        ``not settled``.
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
    turn : Turn or None
        Figures over one turn of the mains, where a winding feeds the map and there are figures.
    state : Turning or None
        The periodic state it comes from, or one near it.
    """

    source: RailMap
    network: Network
    operating: Operating
    status: str
    findings: tuple[Finding, ...]
    turn: Turn | None = None
    state: Turning | None = field(default=None, repr=False)

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

    def volts_rms(self, node: str) -> float:
        """Return the effective volts of a node against 0 V; see :meth:`volts`."""
        mean, place = self.volts(node), self._place(node)
        if self.turn is None or place is None or np.isnan(mean):
            return abs(mean)
        return float(self.turn.node_rms[place])

    def is_alternating(self, node: str) -> bool:
        """Tell a node whose volts go from one side of 0 V to the other, as a winding's do."""
        ripple = self.ripple(node)
        # Behind a rectifier that blocks, a leak takes a rail a little beyond 0 V.
        least = max(ALTERNATING_PART * ripple.volts_pp, NO_RIPPLE_VOLTS)
        return ripple.low_volts < -least and ripple.high_volts > least

    def _node_volts(self, node: str, against: str) -> float:
        a, b = (self._place(name) for name in (node, against))
        if a is None or b is None or not self.has_figures:
            return 0.0 if self.has_figures and node == against else float("nan")
        island = self.network.topology.island
        if island[a] != island[b]:
            return float("nan")
        v, shift = self.operating.node_volts, self.operating.node_shift
        return float((v[a] - v[b]) + (shift[a] - shift[b]))

    def _place(self, name: str) -> int | None:
        index = self.network.topology.index
        return index[name] if name in index else index.get(self.source.node_of(name))

    @property
    def has_figures(self) -> bool:
        """True if it has volts and currents to show."""
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
            float(self.amps_rms[number]), float(self.amps_peak[number]),
            float(self._figures.volts_peak[0, number]),
        )  # fmt: skip

    def ripple(self, node: str) -> Ripple:
        """Return the ripple of a node.

        Parameters
        ----------
        node : str
            A node or a rail's name.

        Raises
        ------
        MapError
            If the map has no such node.
        """
        place, mean = self._place(node), self.volts(node)
        if self.turn is None or place is None or np.isnan(mean):
            return Ripple(0.0 * mean, float("nan"), mean, mean)
        low, high = float(self.turn.node_low[place]), float(self.turn.node_high[place])
        swing = high - low
        if swing <= NO_RIPPLE_VOLTS:
            return Ripple(swing, float("nan"), low, high)
        once = float(self.turn.node_once[place]) > ONCE_PART * swing
        hertz = self.source.mains_hertz * (1 if once else 2)
        return Ripple(swing, hertz, low, high)

    def _slots(self, number: int) -> slice:
        first = int(self.network.start[number])
        return slice(first, first + len(self.network.parts[number].pins))

    def current_pin(self, number: int) -> int:
        """Return the flat pin at which a part's current is taken."""
        return int(self._layout.amps_pin[number])

    def current_sign(self, number: int) -> float:
        """Return -1 where a part's current counts out of that pin, else 1."""
        return -1.0 if self._layout.outwards[number] else 1.0

    def _checks(self, number: int) -> tuple[Check, ...]:
        found: list[Check] = []
        for row in np.flatnonzero(self._limits.part == number):
            what = int(self._limits.quantity[row])
            value, allowed = self._figures.used[0, what, number], self._limits.allowed[row]
            found.append(
                Check(
                    stress.QUANTITIES[what], stress.UNITS[what],
                    float(value), float(allowed), float(self._ratios[row]),
                )
            )  # fmt: skip
        return tuple(found)

    @cached_property
    def _pin_volts(self) -> Floats:
        """Volts of every pin against 0 V; nan off the main island."""
        at, topology = self.network.slot_node, self.network.topology
        v = self.operating.node_volts + self.operating.node_shift
        v = np.where(topology.island == 0, v, np.nan)
        found = np.append(v, np.nan)[at]
        return found if self.has_figures else np.full_like(found, np.nan)

    @cached_property
    def _pin_amps(self) -> Floats:
        found = self.operating.pin_amps
        return found if self.has_figures else np.full_like(found, np.nan)

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
        return drop if self.has_figures else np.full_like(drop, np.nan)

    @cached_property
    def _layout(self) -> Layout:
        return lay_out(self.network.parts)

    @cached_property
    def _at_pins(self) -> AtPins:
        """What is known at the pins; nothing swings where no winding feeds the map."""
        drop, amps = self._drops[None], self._pin_amps[None]
        known = self.turn
        if known is None:
            size, watts = np.abs(amps), np.where(amps == 0, 0.0, drop * amps)
            return AtPins(drop, drop, drop, amps, size, size, watts)
        low, high = (
            np.where(np.isnan(drop), np.nan, side) for side in (known.drop_low, known.drop_high)
        )
        rms, peak, watts = known.pin_rms[None], known.pin_peak[None], known.pin_watts[None]
        return AtPins(drop, low, high, amps, rms, peak, watts)

    @cached_property
    def _figures(self) -> PartFigures:
        return part_figures(self._layout, self._at_pins, self.delivered_watts[None])

    @property
    def part_volts(self) -> Floats:
        """Volts between the ends of every part, shape (parts,)."""
        return self._figures.volts[0]

    @property
    def part_amps(self) -> Floats:
        """Mean current of every part (see :class:`PartResult`), shape (parts,)."""
        return self._figures.amps[0]

    @property
    def amps_rms(self) -> Floats:
        """Effective current of every part, shape (parts,)."""
        return self._figures.amps_rms[0]

    @property
    def amps_peak(self) -> Floats:
        """Largest size of the current of every part, shape (parts,)."""
        return self._figures.amps_peak[0]

    @property
    def watts(self) -> Floats:
        """Heat in every part, shape (parts,); 0 in a part that is out of the circuit."""
        return self._figures.watts[0]

    @cached_property
    def delivered_watts(self) -> Floats:
        """Power that every part puts into the map, shape (parts,); none through a fault."""
        if not self.has_figures:
            return np.full(len(self.refs), np.nan)
        start, circuit = self._layout.start, self.network.circuit
        emf = self.network.emf.copy()
        emf[[self.network.part_index[ref] for ref in circuit.faults]] = 0.0
        found = np.where(emf != 0, emf * -self._pin_amps[start], 0.0)
        if self.turn is not None:
            ratio = sqrt(2) * circuit.mains_ratio
            for number, part in enumerate(self.network.parts):
                if isinstance(part, kinds.Winding) and part.ref not in circuit.faults:
                    once = float(self.turn.once_amps[start[number]])
                    lamp = float(self.turn.lamp_watts[start[number]])
                    found[number] = -ratio * part.volts_rms * once - lamp
        return found

    @property
    def lamp(self) -> Lamp | None:
        """What the lamp in series with the mains does; None without one."""
        watts = self.network.circuit.limiter_watts
        if watts is None or self.turn is None:
            return None
        heat, amps = float(self.turn.lamp_watts.sum()), float(self.turn.mains_rms)
        return Lamp(watts, heat / amps if amps > 0 else 0.0, amps, heat)

    @cached_property
    def _limits(self) -> stress.Limits:
        return stress.gather_limits(self.network.circuit)

    @cached_property
    def _ratios(self) -> Floats:
        return stress.ratios(self._limits, self._figures.used[0])

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


ALTERNATING_PART = 1e-3
"""Of its swing, what a node must reach on either side of 0 V to count as alternating."""
NO_RIPPLE_VOLTS = 1e-9
ONCE_PART = 0.12
"""Ripple comes once a turn if that part of it has more than this of the whole swing."""
