"""The direct-current image of a map that windings feed, for many what-ifs in little time.

The mean volts of everything behind the reservoir capacitors follow from the mean volts of the raw
rails alone: over a whole turn no charge stays in a capacitor. So the windings and rectifiers are
replaced by what they do to a raw rail, its mean volts against the mean current it delivers, and
what hangs behind is solved as direct current. The curve is taken from the periodic state itself,
by loading the raw rails of the alternating side alone.

What changes on the alternating side cannot be asked of an image; that takes periodic states.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from railmap.errors import MapError
from railmap.model.kinds import (
    Bridge,
    Capacitor,
    Choke,
    Diode,
    Fuse,
    Link,
    Resistor,
    Source,
    Switch,
    Winding,
)
from railmap.model.part import ZERO_NODE, Part
from railmap.model.railmap import RailMap
from railmap.solve.front import turns
from railmap.solve.laws import Floats
from railmap.solve.many import Many, solve_many
from railmap.solve.solution import Solution
from railmap.solve.what_if import Circuit, WhatIf, what_if

ROUGH_PART: Final = 0.35
"""A node whose ripple is more than this part of its mean volts is of the alternating side."""
LEAST_VOLTS: Final = 0.05
"""Mean volts below which a node carries no rail."""
LOADINGS: Final = (
    1e4, 20.0, 6.0, 3.0, 2.0, 1.5, 1.25, 1.1, 1.0, 0.9, 0.8, 0.65, 0.5, 0.3, 0.15, 0.05,
)  # fmt: skip
"""Resistances a raw rail is loaded with to take its curve, over that of its present load."""
MOST_ROUNDS: Final = 12
MOST_OFF: Final = 0.02
"""Part of a node's volts that an image may miss the periodic state by and still be one."""
_BY_WIRE = (Link, Fuse, Switch, Choke, Resistor)


@dataclass(frozen=True)
class Port:
    """A raw rail as the rest of the map sees it.

    Attributes
    ----------
    node : str
        The raw rail.
    source : str
        Reference of the source that stands for it in the image.
    amps, volts, ripple : ndarray, shape (points,)
        Mean current it delivers, ascending in size, its mean volts and its ripple peak to peak
        there.
    calm_amps : float
        The current it delivers as the map is.
    across : dict of str to ndarray
        Mean volts that its current adds to the other raw rails, by their nodes.
    """

    node: str
    source: str
    amps: Floats
    volts: Floats
    ripple: Floats
    calm_amps: float
    across: dict[str, Floats]

    def tangents(self, amps: Floats) -> tuple[Floats, Floats, NDArray[np.intp]]:
        """Return open-circuit volts and resistance of the piece each current is on, and which."""
        size = np.abs(amps)
        piece = np.clip(np.searchsorted(np.abs(self.amps), size) - 1, 0, len(self.amps) - 2)
        rise = self.volts[piece + 1] - self.volts[piece]
        ohms = np.maximum(-rise / (self.amps[piece + 1] - self.amps[piece]), 1e-6)
        return self.volts[piece] + ohms * self.amps[piece], ohms, piece

    def ripple_at(self, amps: Floats) -> Floats:
        """Return the ripple of the raw rail at some currents, volts peak to peak."""
        return np.interp(np.abs(amps), np.abs(self.amps), self.ripple)


@dataclass(frozen=True)
class Means:
    """Mean figures of many what-ifs.

    Attributes
    ----------
    nodes : list of str
        Columns of ``volts``.
    volts : ndarray, shape (what-ifs, nodes)
        Mean volts against 0 V; nan where there are none.
    part_amps : dict of str to ndarray, shape (what-ifs,)
        Mean current of the parts that were asked for.
    port_amps : ndarray, shape (what-ifs, ports)
        What each raw rail delivers.
    """

    nodes: list[str]
    volts: Floats
    part_amps: dict[str, Floats]
    port_amps: Floats

    def of(self, node: str) -> Floats:
        """Return the mean volts of a node in every what-if."""
        if node == ZERO_NODE:
            return np.zeros(len(self.volts))
        return self.volts[:, self.nodes.index(node)]


class Image:
    """The direct-current image of a map in one setup; see :func:`image_of`.

    Attributes
    ----------
    m : RailMap
        The map of what hangs behind the raw rails, with a source for each of those.
    calm : Solution
        The exact solution it is taken from.
    ports : tuple of Port
        The raw rails; none where no winding feeds the map.
    outside : frozenset of str
        References of parts that are not in it: those of the alternating side.
    """

    def __init__(
        self,
        m: RailMap,
        calm: Solution,
        ports: tuple[Port, ...],
        outside: frozenset[str],
    ) -> None:
        self.m, self.calm, self.ports, self.outside = m, calm, ports, outside
        self._scale: dict[str, tuple[float, float]] = {}
        means = self.means([what_if()])
        for node in self.m.nodes:
            if node != ZERO_NODE:
                self._scale[node] = _fit(calm.volts(node), float(means.of(node)[0]))
        self.misses = max((abs(ratio - 1.0) for ratio, _ in self._scale.values()), default=0.0)

    def means(self, changes: Sequence[WhatIf], amps_of: Iterable[str] = ()) -> Means:
        """Return the mean figures under some what-ifs, none of which is of the alternating side.

        Parameters
        ----------
        changes : sequence of WhatIf
            Changes of parts, on top of the setup that the image was taken in.
        amps_of : iterable of str
            Parts whose current is wanted.

        Returns
        -------
        Means
        """
        wanted, nodes = list(amps_of), [n for n in self.m.nodes if n != ZERO_NODE]
        count = len(changes)
        volts = np.full((count, len(nodes)), np.nan)
        parts = {ref: np.full(count, np.nan) for ref in wanted}
        amps = np.tile([port.calm_amps for port in self.ports], (count, 1))
        rows = np.arange(count)
        for _ in range(MOST_ROUNDS if self.ports else 1):
            many, pieces = self._round([changes[i] for i in rows.tolist()], amps[rows])
            for column, node in enumerate(nodes):
                volts[rows, column] = many.volts(node)
            for ref in wanted:
                parts[ref][rows] = many.part(ref).amps
            found = self._delivered(many)
            settled = [
                np.all([p.tangents(found[:, i])[2] == pieces[i]], axis=0)
                & (np.abs(found[:, i] - amps[rows, i]) <= self._near(p))
                for i, p in enumerate(self.ports)
            ]
            amps[rows] = found
            rows = rows[~np.all(settled, axis=0)] if settled else rows[:0]
            if not len(rows):
                break
        for column, node in enumerate(nodes):
            ratio, shift = self._scale.get(node, (1.0, 0.0))
            volts[:, column] = volts[:, column] * ratio + shift
        return Means(nodes, volts, parts, amps)

    def _near(self, port: Port) -> float:
        """Return how near a current must come to the last round's for what it adds across."""
        crossing = any(np.any(v) for v in port.across.values())
        return 1e-3 * max(abs(port.calm_amps), 1e-3) if crossing else np.inf

    def _round(
        self, changes: Sequence[WhatIf], amps: Floats
    ) -> tuple[Many, list[NDArray[np.intp]]]:
        """Solve what-ifs with each raw rail on the piece of its curve that its current is on."""
        pieces: list[NDArray[np.intp]] = []
        values: list[tuple[str, Floats, Floats]] = []
        for i, port in enumerate(self.ports):
            volts, ohms, piece = port.tangents(amps[:, i])
            for j, other in enumerate(self.ports):
                if port.node in other.across:
                    size = np.abs(other.amps)
                    volts = volts + np.interp(np.abs(amps[:, j]), size, other.across[port.node])
            pieces.append(piece)
            values.append((port.source, volts, ohms))
        tried = [
            replace(change, parts={
                **change.parts,
                **{ref: {"volts": v[row], "ohms": o[row]} for ref, v, o in values},
            })
            for row, change in enumerate(changes)
        ]  # fmt: skip
        return solve_many(self.m, tried), pieces

    def _delivered(self, many: Many) -> Floats:
        found = [many.part(port.source).amps for port in self.ports]
        held = [np.nan_to_num(amps) for amps in found]
        return np.stack(held, axis=1) if held else np.zeros((len(many), 0))


def _fit(true: float, seen: float) -> tuple[float, float]:
    """Return the factor, or the shift, that takes what an image shows to what is so."""
    if not np.isfinite(true) or not np.isfinite(seen):
        return 1.0, 0.0
    if abs(seen) < LEAST_VOLTS:
        return 1.0, true - seen
    return true / seen, 0.0


def image_of(m: RailMap, calm: Solution) -> Image:
    """Return the direct-current image of a map.

    Parameters
    ----------
    m : RailMap
        The map.
    calm : Solution
        Its exact solution in the setup and at the mains that the image shall show.

    Returns
    -------
    Image

    Raises
    ------
    MapError
        If the map has no image: it has no solution, or its raw rails have no reservoir.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap(mains_volts=230)
    >>> for part in (
    ...     rm.Winding("T1", "AC", "0V", volts_rms=15, ohms=3),
    ...     rm.Diode("D1", "AC", "RAW"),
    ...     rm.Capacitor("C1", "RAW", "0V", farads=2200e-6),
    ...     rm.Resistor("R1", "RAW", "A", ohms=82),
    ...     rm.Load("L1", "A", "0V", ohms=400),
    ... ):
    ...     _ = m.add(part)
    >>> change = rm.what_if(R1=164)
    >>> seen = float(image_of(m, rm.solve(m)).means([change]).of("A")[0])
    >>> abs(seen / rm.solve(m, change=change).volts("A") - 1) < 1e-3
    True
    """
    if not calm.has_figures:
        raise MapError("a map without a solution has no image")
    circuit = calm.network.circuit
    outside, nodes = (
        _alternating_side(circuit, calm) if turns(circuit) else (frozenset[str](), list[str]())
    )
    twin = _bare(m)
    for ref in outside:
        del twin.parts[ref]
    gone = {ref for ref in circuit.faults if ref in twin.parts}
    for ref in gone:
        del twin.parts[ref]
    for ref in twin.parts:
        twin.parts[ref] = _followed(circuit.parts[ref], circuit.mains_ratio)
    ports = _curves(m, calm, outside, nodes) if nodes else ()
    for port in ports:
        twin.parts[port.source] = Source(port.source, port.node, ZERO_NODE, volts=1.0, ohms=1.0)
    found = Image(twin, calm, ports, outside | gone)
    if found.misses > MOST_OFF:
        raise MapError("what hangs behind the raw rails does not follow from their means")
    return found


def _bare(m: RailMap) -> RailMap:
    """Return a copy of a map without what names parts and cannot be asked of an image."""
    twin = m.copy()
    for table in (twin.readings, twin.setups, twin.revisions):
        table.clear()
    return twin


def _followed(part: Part, mains_ratio: float) -> Part:
    """Return a source as it is at the mains of the image, as any other part."""
    if isinstance(part, Source) and part.follows_mains:
        return part.changed(volts=part.volts * mains_ratio, follows_mains=False)
    return part


def _alternating_side(circuit: Circuit, calm: Solution) -> tuple[frozenset[str], list[str]]:
    """Return the parts of the alternating side and the raw rails they feed."""
    parts = {ref: p for ref, p in circuit.parts.items() if ref not in circuit.faults}
    rough = {n for n in calm.nodes if n != ZERO_NODE and _is_rough(calm, n)}
    outside = {
        ref for ref, part in parts.items()
        if isinstance(part, Winding) or (
            isinstance(part, Diode | Bridge) and not rough.isdisjoint(part.nodes)
        )
        or (not rough.isdisjoint(part.nodes) and len(part.pins) == 2)
    }  # fmt: skip
    for _ in range(len(parts)):
        ports = _touched(parts, outside) - rough - {ZERO_NODE}
        bare = [node for node in ports if not _reservoir(parts, node)]
        grown = {
            ref for node in bare for ref, part in parts.items()
            if ref not in outside and isinstance(part, _BY_WIRE) and node in part.nodes
        }  # fmt: skip
        if not ports:
            break
        if not bare:
            return frozenset(outside), [n for n in calm.nodes if n in ports]
        if not grown:
            raise MapError(f"the raw rail on node {bare[0]} has no reservoir capacitor")
        outside |= grown
        rough |= set(bare)
    raise MapError("the raw rails have no reservoir capacitors")


def _is_rough(calm: Solution, node: str) -> bool:
    mean = calm.volts(node)
    if np.isnan(mean):
        return True
    return abs(mean) < LEAST_VOLTS or calm.ripple(node).volts_pp > ROUGH_PART * abs(mean)


def _touched(parts: dict[str, Part], refs: Collection[str]) -> set[str]:
    return {node for ref in refs for node in parts[ref].nodes}


def _reservoir(parts: dict[str, Part], node: str) -> bool:
    return any(isinstance(p, Capacitor) and node in p.nodes for p in parts.values())


def _curves(
    m: RailMap, calm: Solution, outside: frozenset[str], nodes: list[str]
) -> tuple[Port, ...]:
    """Load the raw rails of the alternating side alone, one after another."""
    circuit = calm.network.circuit
    side, known = _bare(m), {*nodes, ZERO_NODE}
    side.parts.clear()
    inner = _touched(circuit.parts, outside) | known
    for ref, part in circuit.parts.items():
        reservoir = isinstance(part, Capacitor) and set(part.nodes) <= inner
        if ref not in circuit.faults and (ref in outside or reservoir):
            side.parts[ref] = part
    amps = {node: _into(calm, outside, node) for node in nodes}
    loads = {node: f"at {node}" for node in nodes}
    ohms = {n: abs(calm.volts(n) / i) if abs(i) > 1e-6 else 1e6 for n, i in amps.items()}
    for node, ref in loads.items():
        side.parts[ref] = Resistor(ref, node, ZERO_NODE, ohms=ohms[node])
    rows = [
        what_if({loads[node]: ohms[node] * factor}, mains_volts=circuit.mains_ratio * m.mains_volts,
                limiter_watts=circuit.limiter_watts)
        for node in nodes for factor in LOADINGS
    ]  # fmt: skip
    many = solve_many(side, rows)
    if any(many.reasons):
        raise MapError(f"a raw rail cannot be loaded: {next(filter(None, many.reasons))}")
    volts = {node: many.volts(node) for node in nodes}
    ripple = {node: many.ripple(node).volts_pp for node in nodes}
    count, still = len(LOADINGS), LOADINGS.index(1.0)
    found: list[Port] = []
    for number, node in enumerate(nodes):
        own = slice(number * count, (number + 1) * count)
        seen = volts[node][own]
        drawn = seen / (ohms[node] * np.array(LOADINGS))
        # The droppers behind a raw rail are no plain resistance; the present state is known.
        shift, more = calm.volts(node) - seen[still], amps[node] - drawn[still]
        across = {n: volts[n][own] - volts[n][own][still] for n in nodes if n != node}
        across = {n: np.where(np.abs(v) < 1e-3 * abs(calm.volts(n)), 0.0, v)
                  for n, v in across.items()}  # fmt: skip
        found.append(Port(
            node, f"raw {node}", drawn + more, seen + shift, ripple[node][own], amps[node],
            {n: v for n, v in across.items() if v.any()},
        ))  # fmt: skip
    return tuple(found)


def _into(calm: Solution, outside: Collection[str], node: str) -> float:
    """Return the mean current that some parts bring to a node."""
    found = 0.0
    for ref in outside:
        part = calm.network.circuit.parts[ref]
        if node in part.nodes:
            amps = calm.part(ref).pin_amps
            found -= sum(amps[pin] for pin in part.pins if getattr(part, pin) == node)
    return found
