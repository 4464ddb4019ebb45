"""Who feeds whom: the way from a source to a rail or part, and everything that hangs behind it."""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx

from railmap.model.kinds import Capacitor, Load, Source, Winding
from railmap.model.part import ZERO_NODE, Part
from railmap.model.railmap import RailMap


@dataclass(frozen=True)
class Feed:
    """The feed path of a rail or part, and what it feeds, as references and nodes."""

    path_refs: frozenset[str]
    path_nodes: frozenset[str]
    fed_refs: frozenset[str]
    fed_nodes: frozenset[str]


NOTHING = Feed(frozenset(), frozenset(), frozenset(), frozenset())


def feed_of_part(m: RailMap, ref: str) -> Feed:
    """Return what feeds a part, and what is fed through it alone.

    Parameters
    ----------
    m : RailMap
        The map.
    ref : str
        A part.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=9),
    ...     rm.Resistor("R1", "RAW", "A", ohms=1),
    ...     rm.Load("L1", "A", "0V", amps=0.1),
    ... ):
    ...     _ = m.add(part)
    >>> feed = feed_of_part(m, "R1")
    >>> sorted(feed.path_refs), sorted(feed.fed_refs)
    (['R1', 'V1'], ['L1'])
    """
    return _feed(m, ("part", ref))


def feed_of_node(m: RailMap, node: str) -> Feed:
    """Return what feeds a node, and what is fed from it alone."""
    return NOTHING if node == ZERO_NODE else _feed(m, ("node", node))


_Key = tuple[str, str]


def _graph(m: RailMap) -> nx.Graph[_Key]:
    """Return parts and nodes as one graph, without 0 V."""
    graph: nx.Graph[_Key] = nx.Graph()
    for part in m.parts.values():
        graph.add_node(("part", part.ref))
        for node in part.nodes:
            if node != ZERO_NODE:
                graph.add_edge(("part", part.ref), ("node", node))
    return graph


def _feed(m: RailMap, start: _Key) -> Feed:
    graph = _graph(m)
    sources = {("part", p.ref) for p in m.parts.values() if isinstance(p, Source | Winding)}
    if start not in graph:
        return NOTHING
    ways = graph.copy()
    ways.remove_nodes_from(
        ("part", p.ref) for p in m.parts.values() if _leads_nowhere(p) and ("part", p.ref) != start
    )
    path = _path(ways, start, sources)
    fed = _fed(graph, ways, start, sources)
    return _split(path, fed - set(path))


def _leads_nowhere(part: Part) -> bool:
    """Tell a part that only takes, even between two rails, or blocks direct current."""
    ends = {part.nodes[part.pins.index(end)] for end in part.ends}
    return isinstance(part, Capacitor | Load) or (
        ZERO_NODE in ends and not isinstance(part, Source | Winding)
    )


def _path(ways: nx.Graph[_Key], start: _Key, sources: set[_Key]) -> list[_Key]:
    found: list[_Key] = [start]
    reached = nx.single_source_shortest_path(ways, start)
    ends = [key for key in reached if key in sources]
    if ends:
        found = reached[min(ends, key=lambda key: len(reached[key]))]
    return found


def _fed(graph: nx.Graph[_Key], ways: nx.Graph[_Key], start: _Key, sources: set[_Key]) -> set[_Key]:
    """Return all that no source reaches once the start is taken out."""
    near: set[_Key] = set(nx.node_connected_component(ways, start))
    if start not in sources:
        rest = ways.copy()
        rest.remove_node(start)
        for source in sources & set(rest):
            near -= nx.node_connected_component(rest, source)
    return near | {
        key for key in set(graph) - set(ways)
        if graph.degree(key) and near.issuperset(graph.neighbors(key))
    }  # fmt: skip


def _split(path: list[_Key], fed: set[_Key]) -> Feed:
    def pick(keys: list[_Key] | set[_Key], kind: str) -> frozenset[str]:
        return frozenset(name for what, name in keys if what == kind)

    return Feed(pick(path, "part"), pick(path, "node"), pick(fed, "part"), pick(fed, "node"))
