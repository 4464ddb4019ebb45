"""Who feeds whom: the way from a source to a rail or part, and everything that hangs behind it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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
    return feed_of_parts(m, [ref])


def feed_of_parts(m: RailMap, refs: Iterable[str]) -> Feed:
    """Return what feeds some parts, and what is fed through them alone, taken together.

    Parameters
    ----------
    m : RailMap
        The map.
    refs : iterable of str
        Some parts; what the map does not have counts for nothing.

    Examples
    --------
    Neither of two resistors side by side feeds the load alone; both together do:

    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=9),
    ...     rm.Resistor("R1", "RAW", "A", ohms=1),
    ...     rm.Resistor("R2", "RAW", "A", ohms=1),
    ...     rm.Load("L1", "A", "0V", amps=0.1),
    ... ):
    ...     _ = m.add(part)
    >>> sorted(feed_of_part(m, "R1").fed_refs), sorted(feed_of_parts(m, ["R1", "R2"]).fed_refs)
    ([], ['L1'])
    """
    return _feed(m, [("part", ref) for ref in dict.fromkeys(refs)])


def feed_of_node(m: RailMap, node: str) -> Feed:
    """Return what feeds a node, and what is fed from it alone."""
    return NOTHING if node == ZERO_NODE else _feed(m, [("node", node)])


_Key = tuple[str, str]
_ROOT: _Key = ("", "")
"""What all sources hang on while ways are sought."""


def _graph(m: RailMap) -> nx.Graph[_Key]:
    """Return parts and nodes as one graph, without 0 V."""
    graph: nx.Graph[_Key] = nx.Graph()
    for part in m.parts.values():
        graph.add_node(("part", part.ref))
        for node in part.nodes:
            if node != ZERO_NODE:
                graph.add_edge(("part", part.ref), ("node", node))
    return graph


def _feed(m: RailMap, wanted: Sequence[_Key]) -> Feed:
    graph = _graph(m)
    sources = {("part", p.ref) for p in m.parts.values() if isinstance(p, Source | Winding)}
    starts = {key for key in wanted if key in graph}
    if not starts:
        return NOTHING
    dead = {("part", p.ref) for p in m.parts.values() if _leads_nowhere(p)}
    live = graph.copy()
    live.remove_nodes_from(dead)
    path = _paths(graph, live, starts, sources)
    ways = graph.copy()
    ways.remove_nodes_from(dead - starts)
    return _split(path, _fed(graph, ways, starts, sources) - path)


def _leads_nowhere(part: Part) -> bool:
    """Tell a part that only takes, even between two rails, or blocks direct current."""
    ends = {part.nodes[part.pins.index(end)] for end in part.ends}
    return isinstance(part, Capacitor | Load) or (
        ZERO_NODE in ends and not isinstance(part, Source | Winding)
    )


def _paths(
    graph: nx.Graph[_Key], live: nx.Graph[_Key], starts: set[_Key], sources: set[_Key]
) -> set[_Key]:
    """Return the shortest way from a source to each start; only the start where there is none."""
    ways = live.copy()
    ways.add_edges_from((_ROOT, source) for source in sorted(sources))
    ways.add_node(_ROOT)
    reached: dict[_Key, list[_Key]] = nx.single_source_shortest_path(ways, _ROOT)
    found = set(starts)
    for start in starts:
        near = [start] if start in live else sorted(graph.neighbors(start))
        ends = [reached[key] for key in near if key in reached]
        found.update(min(ends, key=len, default=[start]))
    return found - {_ROOT}


def _fed(
    graph: nx.Graph[_Key], ways: nx.Graph[_Key], starts: set[_Key], sources: set[_Key]
) -> set[_Key]:
    """Return all that no source reaches once the starts are taken out, and all that feed."""
    taken, given = starts - sources, starts & sources
    near = _reached(ways, taken)
    rest = ways.copy()
    rest.remove_nodes_from(taken)
    near -= _reached(rest, sources & set(rest))
    near |= _reached(ways, given)
    return near | {
        key for key in set(graph) - set(ways)
        if graph.degree(key) and near.issuperset(graph.neighbors(key))
    }  # fmt: skip


def _reached(ways: nx.Graph[_Key], starts: set[_Key]) -> set[_Key]:
    """Return all that hangs together with any of the starts."""
    found: set[_Key] = set()
    for start in starts:
        if start not in found:
            found |= nx.node_connected_component(ways, start)
    return found


def _split(path: set[_Key], fed: set[_Key]) -> Feed:
    def pick(keys: set[_Key], kind: str) -> frozenset[str]:
        return frozenset(name for what, name in keys if what == kind)

    return Feed(pick(path, "part"), pick(path, "node"), pick(fed, "part"), pick(fed, "node"))
