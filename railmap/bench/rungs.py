"""How a map stands as a ladder: rails as rungs, boards as columns, parts as drops between rungs.

Only what hangs together is worked out here, not where on the screen: which lane of which column a
part hangs in, and from which lane to which a rung reaches. It stays as it is while volts move.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count, pairwise

import networkx as nx

from railmap.model.kinds import (
    Capacitor,
    Diode,
    Fuse,
    Link,
    Load,
    PassTransistor,
    Source,
    Switch,
    Winding,
)
from railmap.model.part import ZERO_NODE, Part
from railmap.model.rail import Rail
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution

CHASSIS = "Chassis"
"""Title of the column of parts that are on no board."""


@dataclass(frozen=True)
class Column:
    """A board: its name, its title, and its lanes from ``first`` up to ``last``."""

    board: str
    title: str
    first: int
    last: int


@dataclass(frozen=True)
class Rung:
    """A node that carries direct current.

    Attributes
    ----------
    node, title : str
        The node, and what it is called.
    rail : Rail or None
        None for a node that only carries the path, as behind a rectifier.
    side : int
        1 above 0 V, -1 below it.
    first, last : int
        The lanes it reaches from and to.
    home : int
        The lane it is made in.
    """

    node: str
    title: str
    rail: Rail | None
    side: int
    first: int
    last: int
    home: int


@dataclass(frozen=True)
class Drop:
    """A part between the rung it takes from and the one it feeds; ``flat`` drops next to nothing.

    Either node may be 0 V.
    """

    ref: str
    over: str
    under: str
    lane: int
    flat: bool


@dataclass(frozen=True)
class Feeder:
    """What feeds a raw rung: a source, or rectifiers with the windings behind them.

    Attributes
    ----------
    node : str
        The rung it feeds.
    refs : tuple of str
        Its source or rectifiers.
    windings : tuple of str
        Windings; none behind a source of direct current.
    behind : tuple of str
        Other parts of the alternating side.
    """

    node: str
    refs: tuple[str, ...]
    windings: tuple[str, ...]
    behind: tuple[str, ...]
    lane: int


@dataclass(frozen=True)
class Foot:
    """The loads of one board on one rung."""

    node: str
    refs: tuple[str, ...]
    lane: int


@dataclass(frozen=True)
class Ladder:
    """A map as a ladder.

    Attributes
    ----------
    columns : tuple of Column
        Boards with something to show, in the order of the map.
    narrow : tuple of bool
        For every lane whether it holds nothing but flat drops.
    rungs : dict of str to Rung
        Rungs by node.
    drops, feeders, feet
        What is between, before and on the rungs.
    alternating : frozenset of str
        Nodes whose volts are no direct volts; they are no rungs.
    """

    columns: tuple[Column, ...]
    narrow: tuple[bool, ...]
    rungs: dict[str, Rung]
    drops: tuple[Drop, ...]
    feeders: tuple[Feeder, ...]
    feet: tuple[Foot, ...]
    alternating: frozenset[str]


def alternating_nodes(m: RailMap, solution: Solution | None) -> frozenset[str]:
    """Return the nodes whose volts go from one side of 0 V to the other.

    Without a solution these are the ends of windings that are no rails.
    """
    ends = {
        node for part in m.parts.values() if isinstance(part, Winding) for node in part.nodes
    }  # fmt: skip
    if solution is None or not solution.has_figures:
        return frozenset(ends - {ZERO_NODE} - set(m.rails))
    dead = {n for n in ends if math.isnan(solution.volts(n))} - set(m.rails)
    found = {n for n in m.nodes if _alternates(solution, n)}
    return frozenset((found | dead) - {ZERO_NODE})


def _alternates(solution: Solution, node: str) -> bool:
    """Tell volts that go to both sides of 0 V by more than a diode leaks."""
    if not solution.is_alternating(node):
        return False
    ripple = solution.ripple(node)
    return min(-ripple.low_volts, ripple.high_volts) > LEAST_SWING * ripple.volts_pp


def ladder_of(
    m: RailMap, alternating: frozenset[str] = frozenset(), volts: Mapping[str, float] | None = None
) -> Ladder:
    """Return a map as a ladder.

    Parameters
    ----------
    m : RailMap
        The map.
    alternating : frozenset of str
        Nodes on the alternating side, see :func:`alternating_nodes`.
    volts : dict of str to float, optional
        Volts of nodes; only their sides of 0 V matter. Without them labels tell the side.

    Returns
    -------
    Ladder

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add_board("Main", 160, 100)
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=24, board="Main"),
    ...     rm.Resistor("R1", "RAW", "A", ohms=150, board="Main"),
    ...     rm.Load("L1", "A", "0V", amps=0.1, board="Main"),
    ... ):
    ...     _ = m.add(part)
    >>> ladder = ladder_of(m)
    >>> [d.ref for d in ladder.drops], [f.refs for f in ladder.feet], list(ladder.rungs)
    (['R1'], [('L1',)], ['RAW', 'A'])
    """
    builder = _Builder(m, alternating, volts or {})
    builder.grow()
    return builder.ladder()


_Slot = tuple[int, int]
"""A column, and a place in it counted from the left."""


class _Builder:
    """Walks from what feeds the map down to the loads, and gives every part a lane."""

    def __init__(self, m: RailMap, alternating: frozenset[str], volts: Mapping[str, float]) -> None:
        self.m, self.alternating, self.volts = m, alternating, volts
        parts = [p for p in m.parts.values() if not isinstance(p, Capacitor)]
        self.fed = _feeders(parts, alternating)
        self.loads = _loads(parts, alternating)
        self.hanging: dict[str, list[Part]] = {}
        shown = [p for p in parts if _is_drop(p, alternating)]
        for part in shown:
            for node in path_of(part):
                self.hanging.setdefault(node, []).append(part)
        shown += [m.parts[ref] for some in self.loads.values() for ref in some]
        shown += [m.parts[f.refs[0]] for some in self.fed.values() for f in some]
        boards = {part.board for part in shown}
        self.boards = [name for name in (*m.boards, "") if name in boards] or [""]
        self.used: dict[tuple[int, int], set[int]] = {}
        self.wide: set[_Slot] = set()
        self.touched: dict[str, list[_Slot]] = {}
        self.made: dict[str, _Slot] = {}
        self.drops: dict[str, tuple[str, str, _Slot, bool]] = {}
        self.feeders: list[tuple[Feeder, _Slot]] = []
        self.feet: list[tuple[str, tuple[str, ...], _Slot]] = []

    def grow(self) -> None:
        """Give lanes to everything, from the fed nodes on."""
        seen: set[str] = {ZERO_NODE, *self.alternating}
        for start in dict.fromkeys((*self.fed, *self.loads, *self.hanging, *self.m.rails)):
            stack: list[tuple[str, _Slot | None]] = [(start, None)]
            while stack:
                node, slot = stack.pop()
                if node not in seen:
                    seen.add(node)
                    # The last one is taken off first.
                    stack.extend(reversed(self._settle(node, slot)))

    def _settle(self, node: str, slot: _Slot | None) -> list[tuple[str, _Slot | None]]:
        """Place what hangs on a node; return the nodes it leads to, with lanes they go on in."""
        for feeder in self.fed.get(node, ()):
            at = self._new_slot(self.m.parts[feeder.refs[0]].board, node)
            self.feeders.append((feeder, at))
            self._touch(node, at)
            slot = slot or at
        found: list[tuple[str, _Slot | None]] = []
        for part in self.hanging.get(node, ()):
            if part.ref not in self.drops:
                at, other, goes_on = self._hang(part, node, slot)
                slot = None if at == slot else slot
                found.append((other, at if goes_on else None))
        self._set_feet(node)
        here = self.touched.get(node, [])
        if not here or (node in self.m.rails and self.wide.isdisjoint(here)):
            # Every rail has a lane to have its name in.
            board = self.boards[here[0][0] if here else 0]
            self._touch(node, self._new_slot(board, node))
        return found

    def _hang(self, part: Part, node: str, slot: _Slot | None) -> tuple[_Slot, str, bool]:
        """Give a part a lane; return it, the other node, and whether the lane goes on there."""
        first, second = path_of(part)
        other = second if first == node else first
        flat = isinstance(part, Link | Fuse | Switch)
        at = slot
        across = other != ZERO_NODE and self.side(other) != self.side(node)
        if at is None or flat or across or self.boards[at[0]] != part.board:
            at = self._new_slot(part.board, node, other, flat)
        self.drops[part.ref] = (node, other, at, flat)
        goes_on = not flat and not across
        self._touch(node, at)
        if other != ZERO_NODE:
            self._touch(other, at)
            if goes_on:
                self.made.setdefault(other, at)
        return at, other, goes_on

    def _set_feet(self, node: str) -> None:
        """Hang the loads of a node beside its other parts on their boards."""
        by_board: dict[str, list[str]] = {}
        for ref in self.loads.get(node, ()):
            by_board.setdefault(self.m.parts[ref].board, []).append(ref)
        for board, refs in by_board.items():
            column = self.boards.index(board)
            here = [s for s in self.touched.get(node, ()) if s[0] == column and s in self.wide]
            at = here[0] if here else self._new_slot(board, node)
            self.feet.append((node, tuple(refs), at))
            self._touch(node, at)

    def _new_slot(self, board: str, node: str, other: str = ZERO_NODE, flat: bool = False) -> _Slot:
        """Return the next free slot of a board, on the sides of 0 V that a part spans."""
        column = self.boards.index(board)
        sides = {self.side(n) for n in (node, other) if n != ZERO_NODE}
        taken = [self.used.setdefault((column, side), set()) for side in sides]
        place = next(n for n in count() if not any(n in places for places in taken))
        for places in taken:
            places.add(place)
        if not flat:
            self.wide.add((column, place))
        return column, place

    def side(self, node: str) -> int:
        """Return on which side of 0 V a node is."""
        volts = self.volts.get(node, math.nan)
        if math.isnan(volts) or abs(volts) < SIDE_VOLTS:
            rail = self.m.rails.get(node)
            volts = 0.0 if rail is None else rail.label_volts or 0.0
        return -1 if volts < 0 else 1

    def _touch(self, node: str, slot: _Slot) -> None:
        self.touched.setdefault(node, []).append(slot)

    def ladder(self) -> Ladder:
        """Return what was found, with lanes counted over all columns."""
        places = [
            {0} | self.used.get((c, 1), set()) | self.used.get((c, -1), set())
            for c in range(len(self.boards))
        ]
        counts = [max(some) + 1 for some in places]
        first = [sum(counts[:c]) for c in range(len(counts))]

        def lane(slot: _Slot) -> int:
            return first[slot[0]] + slot[1]

        wide = {lane(slot) for slot in self.wide}
        return Ladder(
            tuple(
                Column(name, name or CHASSIS, first[c], first[c] + counts[c])
                for c, name in enumerate(self.boards)
            ),
            tuple(number not in wide for number in range(sum(counts))),
            {node: self._rung(node, [lane(s) for s in slots], wide, lane)
             for node, slots in self.touched.items() if node not in self.alternating},
            tuple(Drop(ref, over, under, lane(at), flat)
                  for ref, (over, under, at, flat) in self.drops.items()),
            tuple(replace(feeder, lane=lane(at)) for feeder, at in self.feeders),
            tuple(Foot(node, refs, lane(at)) for node, refs, at in self.feet),
            self.alternating,
        )  # fmt: skip

    def _rung(
        self, node: str, lanes: list[int], wide: set[int], lane: Callable[[_Slot], int]
    ) -> Rung:
        rail = self.m.rails.get(node)
        made = self.made.get(node)
        home = next((n for n in lanes if n in wide), lanes[0]) if made is None else lane(made)
        title = node if rail is None else rail.title
        return Rung(node, title, rail, self.side(node), min(lanes), max(lanes), home)


LEAST_SWING = 1e-3
"""Part of its swing that a node has on the other side of 0 V, if it alternates at all."""
SIDE_VOLTS = 1e-3
"""Less than this is on no side of 0 V."""


def path_of(part: Part) -> tuple[str, str]:
    """Return the nodes between which a part carries its current, as it is drawn."""
    by_pin = dict(zip(part.pins, part.nodes, strict=True))
    if isinstance(part, PassTransistor):
        return part.collector, part.emitter
    return by_pin[part.ends[0]], by_pin[part.ends[1]]


def _touches(part: Part, nodes: frozenset[str]) -> bool:
    return not nodes.isdisjoint(part.nodes)


def _is_drop(part: Part, alternating: frozenset[str]) -> bool:
    first, second = path_of(part)
    if first == second or _touches(part, alternating) or isinstance(part, Winding):
        return False
    return not (isinstance(part, Load | Source) and ZERO_NODE in (first, second))


def _loads(parts: Sequence[Part], alternating: frozenset[str]) -> dict[str, list[str]]:
    """Return the loads between a node and 0 V, by node."""
    found: dict[str, list[str]] = {}
    for part in parts:
        nodes = set(part.nodes) - {ZERO_NODE}
        if isinstance(part, Load) and ZERO_NODE in part.nodes and len(nodes) == 1:
            node = nodes.pop()
            if node not in alternating:
                found.setdefault(node, []).append(part.ref)
    return found


def _feeders(parts: Sequence[Part], alternating: frozenset[str]) -> dict[str, list[Feeder]]:
    """Return what feeds each raw node: its sources, and its rectifiers with all behind them."""
    found: dict[str, list[Feeder]] = {}
    for part in parts:
        ends = set(path_of(part))
        if isinstance(part, Source) and ZERO_NODE in ends and len(ends) == 2:
            (node,) = ends - {ZERO_NODE}
            found.setdefault(node, []).append(Feeder(node, (part.ref,), (), (), 0))
    rectified: dict[str, list[tuple[str, list[Part]]]] = {}
    for group in _groups(parts, alternating):
        inside = [p for p in parts if not group.isdisjoint(p.nodes)]
        for part in inside:
            if not isinstance(part, Winding):
                for node in dict.fromkeys(part.nodes):
                    if node not in alternating and node != ZERO_NODE:
                        rectified.setdefault(node, []).append((part.ref, inside))
    for node, pairs in rectified.items():
        found.setdefault(node, []).append(_rectifier(node, pairs, alternating))
    return found


def _rectifier(
    node: str, pairs: list[tuple[str, list[Part]]], alternating: frozenset[str]
) -> Feeder:
    """Return all rectifiers of a node as one feeder, from pairs of one and the parts around it."""
    refs = [ref for ref, _ in pairs]
    inside = {part.ref: part for _, around in pairs for part in around}
    # Diodes to 0 V are the other half of a bridge.
    alone = alternating | {ZERO_NODE}
    back = [p for p in inside.values() if not isinstance(p, Winding) and alone.issuperset(p.nodes)]
    refs += [p.ref for p in back if isinstance(p, Diode)]
    windings = tuple(p.ref for p in inside.values() if isinstance(p, Winding))
    behind = tuple(p.ref for p in back if not isinstance(p, Diode))
    return Feeder(node, tuple(dict.fromkeys(refs)), windings, behind, 0)


def _groups(parts: Sequence[Part], alternating: frozenset[str]) -> list[set[str]]:
    """Return alternating nodes that belong together: of one winding, one rectifier, one wire."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(node for p in parts for node in p.nodes if node in alternating)
    for part in parts:
        nodes = [node for node in part.nodes if node in alternating]
        graph.add_edges_from(pairwise(nodes))
    return list(nx.connected_components(graph))
