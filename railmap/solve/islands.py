"""What hangs together in each of many what-ifs, and which of them contradict themselves."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railmap.model import kinds
from railmap.model.part import ZERO_NODE
from railmap.solve.assemble import tie_of
from railmap.solve.laws import Ints
from railmap.solve.topology import Clusters, ContradictionError, build_topology
from railmap.solve.variants import Variants, moving_tie
from railmap.solve.what_if import SHORT, Circuit

_MAY_TIE = (
    kinds.Source, kinds.Winding, kinds.Link, kinds.Switch, kinds.Fuse, kinds.Choke,
)  # fmt: skip


def islands(variants: Variants) -> Ints:
    """Return which island each node is on in each what-if, shape (what-ifs, nodes).

    0 is what has a path to 0 V. A node that nothing conducts to has a number below 0 of its own.
    """
    index, nodes = variants.topology.index, len(variants.topology.nodes)
    always = [(index[t.plus], index[t.minus]) for t in variants.topology.ties]
    always.append((index[ZERO_NODE], index[ZERO_NODE]))
    sometimes: list[tuple[int, int, NDArray[np.bool_]]] = []
    for family, there in zip(variants.families, variants.there, strict=True):
        steady = np.asarray(there.all(axis=0), dtype=np.bool_)
        for row, pins in enumerate(family.pins.tolist()):
            pairs = [(pins[0], pin) for pin in pins[1:]]
            if steady[row]:
                always += pairs
            elif there[:, row].any():
                sometimes += [(a, b, there[:, row]) for a, b in pairs]
    cluster = _clusters(nodes, index[ZERO_NODE], always)
    if not sometimes:
        found = np.tile(cluster, (variants.count, 1))
    else:
        found = _spread(cluster, sometimes, variants.count)
    touched = np.zeros((variants.count, nodes), dtype=np.bool_)
    touched[:, [node for pair in always for node in pair]] = True
    for a, b, there in sometimes:
        touched[there, a] = touched[there, b] = True
    return np.where(touched, found, -1 - np.arange(nodes))


def _clusters(nodes: int, zero: int, pairs: Iterable[tuple[int, int]]) -> Ints:
    """Number what always hangs together, from 0 for what 0 V is in."""
    clusters = Clusters(nodes)
    for a, b in pairs:
        clusters.join(a, b)
    return clusters.numbers(zero)


def _spread(cluster: Ints, edges: list[tuple[int, int, NDArray[np.bool_]]], count: int) -> Ints:
    """Let the lowest number spread along what is there in each what-if."""
    size = int(cluster.max()) + 1
    lowest = np.tile(np.arange(size)[:, None], (1, count))
    total = -1
    while total != (total := int(lowest.sum())):
        for a, b, there in edges:
            one, other = lowest[cluster[a]], lowest[cluster[b]]
            low = np.minimum(one, other)
            np.copyto(one, low, where=there)
            np.copyto(other, low, where=there)
    return lowest.T[:, cluster]


def shorts_of(circuit: Circuit) -> frozenset[str]:
    """Return the parts that are short-circuited."""
    return frozenset(ref for ref, fault in circuit.faults.items() if fault is SHORT)


class Contradictions:
    """Finds what-ifs that contain a loop of ideal sources, each set of ties looked at but once.

    Parameters
    ----------
    moving : bool
        True if capacitors, chokes and windings move; False for direct current.
    """

    def __init__(self, moving: bool) -> None:
        self._tie_of: Any = moving_tie if moving else tie_of
        self._calm: tuple[Circuit, frozenset[str], frozenset[str]] | None = None
        self._known: dict[tuple[frozenset[str], frozenset[str]], list[str]] = {}

    def of(self, circuit: Circuit) -> list[str]:
        """Return the parts of such a loop; empty where there is none."""
        may, ties = self._of_calm(circuit.calm or circuit)
        again = (may & circuit.touched) | frozenset(circuit.faults)
        if again:
            ties = (ties - again) | {ref for ref in again if self._tie(circuit, ref)}
        key = ties, shorts_of(circuit)
        if key not in self._known:
            self._known[key] = self._loop(circuit, ties)
        return self._known[key]

    def _tie(self, circuit: Circuit, ref: str) -> Any:
        return self._tie_of(circuit.parts[ref], circuit.faults.get(ref), circuit.mains_ratio)

    def _of_calm(self, calm: Circuit) -> tuple[frozenset[str], frozenset[str]]:
        """Return what may be a tie, and what is one while nothing is tried."""
        if self._calm is None or self._calm[0] is not calm:
            may = frozenset(r for r, p in calm.parts.items() if isinstance(p, _MAY_TIE))
            self._calm = (calm, may, frozenset(r for r in may if self._tie(calm, r)))
        return self._calm[1:]

    def _loop(self, circuit: Circuit, ties: frozenset[str]) -> list[str]:
        held = [self._tie(circuit, ref)[0] for ref in circuit.parts if ref in ties]
        try:
            build_topology([], held)
        except ContradictionError as error:
            return error.refs
        return []
