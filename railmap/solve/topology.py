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

import networkx as nx
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
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(nodes)))
    edges = [(index[pins[0]], index[pin]) for _, pins in pin_sets for pin in pins[1:]]
    edges += [(index[tie.plus], index[tie.minus]) for tie in ties]
    graph.add_edges_from(edges)
    members, offsets = _groups(index, ties)
    islands = _islands(graph, index)
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


def _groups(index: dict[str, int], ties: list[Tie]) -> tuple[list[list[int]], Floats]:
    """Return the members of each group, and node offsets per volt of each tie."""
    links: nx.Graph[int] = nx.Graph()
    links.add_nodes_from(index[node] for tie in ties for node in (tie.plus, tie.minus))
    links.add_edges_from((index[t.plus], index[t.minus]) for t in ties if not t.is_source)
    cluster_of: dict[int, int] = {}
    clusters = [sorted(cluster) for cluster in nx.connected_components(links)]
    for number, cluster in enumerate(clusters):
        cluster_of.update(dict.fromkeys(cluster, number))
    tree: nx.Graph[int] = nx.Graph()
    tree.add_nodes_from(range(len(clusters)))
    for column, tie in enumerate(ties):
        if tie.is_source:
            _join(tree, cluster_of, index, ties, column)
    offsets = np.zeros((len(index), len(ties)))
    members = [[node] for node in index.values() if node not in cluster_of]
    for component in nx.connected_components(tree):
        root = min(component)
        for near, far in nx.bfs_edges(tree, root):
            column = tree.edges[near, far]["column"]
            plus = cluster_of[index[ties[column].plus]]
            offsets[clusters[far]] = offsets[clusters[near][0]]
            offsets[clusters[far], column] += 1.0 if plus == far else -1.0
        members.append([node for number in component for node in clusters[number]])
    return members, offsets


def _join(
    tree: nx.Graph[int],
    cluster_of: dict[int, int],
    index: dict[str, int],
    ties: list[Tie],
    column: int,
) -> None:
    """Tie two clusters by a source, or name the loop that it closes."""
    tie = ties[column]
    plus, minus = cluster_of[index[tie.plus]], cluster_of[index[tie.minus]]
    if plus == minus or nx.has_path(tree, plus, minus):
        raise ContradictionError(_loop(index, ties, column))
    tree.add_edge(plus, minus, column=column)


def _loop(index: dict[str, int], ties: list[Tie], column: int) -> list[str]:
    """Return the references of the shortest loop of ties through one tie."""
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


def _islands(graph: nx.Graph[int], index: dict[str, int]) -> Ints:
    island = np.zeros(len(index), dtype=np.intp)
    number = 0
    for component in nx.connected_components(graph):
        if index[ZERO_NODE] not in component:
            number += 1
            island[list(component)] = number
    return island


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
    found = np.zeros((len(ties), len(nodes)))
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    for column, tie in enumerate(ties):
        graph.add_edge(index[tie.plus], index[tie.minus], column=column)
    for component in nx.connected_components(graph):
        rows = sorted(component)
        columns = sorted(d["column"] for _, _, d in graph.subgraph(component).edges(data=True))
        at = {node: i for i, node in enumerate(rows)}
        incidence = np.zeros((len(rows), len(columns)))
        for i, column in enumerate(columns):
            incidence[at[index[ties[column].plus]], i] += 1.0
            incidence[at[index[ties[column].minus]], i] -= 1.0
        found[np.ix_(columns, rows)] = np.linalg.pinv(incidence)
    return found
