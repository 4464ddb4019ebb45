"""The map as a graph: which nodes are one, which are tied by a source, what hangs in the air.

A node belongs to a *group*: nodes held together by links without resistance and by sources
without resistance. Inside a group every node differs from the group's own voltage by a fixed
offset, so that one unknown a group is enough and no branch current enters the equations. The
currents of the links and sources inside a group follow afterwards from Kirchhoff's current law.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from railmap.model.part import ZERO_NODE

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Tie:
    """Two nodes at a fixed voltage from each other: ``plus`` is ``volts`` above ``minus``."""

    ref: str
    plus: str
    minus: str
    is_source: bool
    volts: float = 0.0


class ContradictionError(Exception):
    """Sources without resistance that form a loop; carries the references of its parts."""

    def __init__(self, refs: list[str]) -> None:
        super().__init__(refs)
        self.refs = refs


@dataclass(frozen=True)
class Topology:
    """Nodes, groups and islands of one circuit.

    Attributes
    ----------
    nodes : list of str
        Every node, in order of first mention.
    ties : list of Tie
        Links and sources without resistance.
    offset_map : ndarray, shape (nodes, ties)
        Node offset from its group's voltage, per volt of each tie.
    group : ndarray of int, shape (nodes,)
        Group of each node; groups from ``free`` on are references at 0 V.
    free : int
        How many group voltages are unknown.
    island : ndarray of int, shape (nodes,)
        0 for what has a path to 0 V, else the number of the island.
    """

    nodes: list[str]
    index: dict[str, int]
    ties: list[Tie]
    offset_map: Floats
    group: Ints
    free: int
    groups: int
    island: Ints

    @cached_property
    def tie_current_map(self) -> Floats:
        """Current through each tie, plus to minus, per ampere put into each node.

        Shape (ties, nodes). Links in a loop share the current as equal resistances would.
        """
        return _tie_current_map(self.nodes, self.index, self.ties)


def build_topology(pin_sets: list[tuple[str, tuple[str, ...]]], ties: list[Tie]) -> Topology:
    """Find groups and islands.

    Parameters
    ----------
    pin_sets : list of (ref, nodes)
        For each part that conducts, the nodes it joins.
    ties : list of Tie
        Links and sources without resistance.

    Raises
    ------
    ContradictionError
        If sources without resistance form a loop.
    """
    nodes = _all_nodes(pin_sets, ties)
    index = {name: i for i, name in enumerate(nodes)}
    edges = [(index[pins[0]], index[pin]) for _, pins in pin_sets for pin in pins[1:]]
    edges += [(index[tie.plus], index[tie.minus]) for tie in ties]
    members, offsets = _groups(index, ties)
    islands = _islands(len(nodes), edges, index[ZERO_NODE])
    degree = np.bincount(np.array(edges, dtype=np.intp).ravel(), minlength=len(nodes))
    references = _references(islands, degree, index)
    group, free = _number_groups(members, set(references.values()))
    for node in references.values():
        same = group == group[node]
        offsets[same] -= offsets[node].copy()
    groups = int(group.max(initial=-1)) + 1
    return Topology(nodes, index, ties, offsets, group, free, groups, islands)


def _all_nodes(pin_sets: list[tuple[str, tuple[str, ...]]], ties: list[Tie]) -> list[str]:
    found = dict.fromkeys([ZERO_NODE])
    for _, pins in pin_sets:
        found.update(dict.fromkeys(pins))
    for tie in ties:
        found.update(dict.fromkeys((tie.plus, tie.minus)))
    return list(found)


class Clusters:
    """Things that hang together, by number.

    Parameters
    ----------
    count : int
        How many things there are.

    Examples
    --------
    >>> clusters = Clusters(4)
    >>> clusters.join(0, 2), clusters.join(2, 0), clusters.of(2) == clusters.of(0)
    (True, False, True)
    """

    def __init__(self, count: int) -> None:
        self._above = list(range(count))

    def of(self, one: int) -> int:
        """Return the thing that stands for all that hang together with one."""
        above = self._above
        while above[one] != one:
            above[one] = above[above[one]]
            one = above[one]
        return one

    def join(self, one: int, other: int) -> bool:
        """Let two hang together; tell whether they did not before. The lower number stands."""
        a, b = self.of(one), self.of(other)
        self._above[max(a, b)] = min(a, b)
        return a != b

    def numbers(self, first: int) -> Ints:
        """Return the number of each thing's cluster: 0 for that of the first, then in order."""
        found = {self.of(first): 0}
        each = [found.setdefault(self.of(one), len(found)) for one in range(len(self._above))]
        return np.array(each, dtype=np.intp)


def _groups(index: dict[str, int], ties: list[Tie]) -> tuple[list[list[int]], Floats]:
    """Return the members of each group, and node offsets per volt of each tie."""
    clusters = Clusters(len(index))
    for tie in ties:
        if not tie.is_source:
            clusters.join(index[tie.plus], index[tie.minus])
    members: dict[int, list[int]] = {}
    for node in index.values():
        members.setdefault(clusters.of(node), []).append(node)
    offsets = np.zeros((len(index), len(ties)))
    for column, tie in enumerate(ties):
        if not tie.is_source:
            continue
        plus, minus = index[tie.plus], index[tie.minus]
        stays, comes = sorted((clusters.of(plus), clusters.of(minus)))
        if not clusters.join(plus, minus):
            raise ContradictionError(_loop(index, ties, column))
        # Where plus and minus stand in their own groups, and that one is a volt above the other.
        rise = offsets[plus] - offsets[minus]
        rise[column] -= 1.0
        joined = members.pop(comes)
        offsets[joined] += rise if minus in joined else -rise
        members[stays] += joined
    return list(members.values()), offsets


def _loop(index: dict[str, int], ties: list[Tie], column: int) -> list[str]:
    """Return the references of the shortest loop of ties through one tie."""
    # Loading it takes a tenth of a second, which maps without such a loop need not wait for.
    import networkx as nx

    graph: nx.MultiGraph[int] = nx.MultiGraph()
    for other, tie in enumerate(ties[: column + 1] + [t for t in ties if not t.is_source]):
        if other != column:
            graph.add_edge(index[tie.plus], index[tie.minus], key=tie.ref)
    plus, minus = index[ties[column].plus], index[ties[column].minus]
    if plus == minus:
        return [ties[column].ref]
    path: list[int] = nx.shortest_path(graph, plus, minus)
    found = [next(iter(graph[a][b])) for a, b in pairwise(path)]
    return list(dict.fromkeys([ties[column].ref, *found]))


def _islands(nodes: int, edges: list[tuple[int, int]], zero: int) -> Ints:
    clusters = Clusters(nodes)
    for one, other in edges:
        clusters.join(one, other)
    return clusters.numbers(zero)


def _references(islands: Ints, degree: Ints, index: dict[str, int]) -> dict[int, int]:
    """Return the node held at 0 V in each island: 0 V itself, else the busiest node."""
    found: dict[int, int] = {0: index[ZERO_NODE]}
    for node in np.flatnonzero(islands).tolist():
        number = int(islands[node])
        if number not in found or degree[node] > degree[found[number]]:
            found[number] = node
    return found


def _number_groups(members: list[list[int]], fixed: set[int]) -> tuple[Ints, int]:
    """Number the groups, those with a reference node last; return also how many are free."""
    unknown = [m for m in members if not fixed.intersection(m)]
    known = [m for m in members if fixed.intersection(m)]
    group = np.empty(sum(map(len, members)), dtype=np.intp)
    for number, nodes in enumerate(unknown + known):
        group[nodes] = number
    return group, len(unknown)


def _tie_current_map(nodes: list[str], index: dict[str, int], ties: list[Tie]) -> Floats:
    """Return the least-squares currents of the ties that meet Kirchhoff's current law."""
    incidence = np.zeros((len(nodes), len(ties)))
    for column, tie in enumerate(ties):
        incidence[index[tie.plus], column] += 1.0
        incidence[index[tie.minus], column] -= 1.0
    touched = np.flatnonzero(incidence.any(axis=1))
    found = np.zeros((len(ties), len(nodes)))
    found[:, touched] = np.linalg.pinv(incidence[touched])
    return found
