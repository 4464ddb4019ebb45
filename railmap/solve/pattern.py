"""Where the laws go in the equations: decided by what joins which nodes, not by any number.

All rows of all families are laid out one after the other, so that one call adds up the currents
of the whole circuit, and one fills the matrix. The pattern is made once for a network and shared
by every network that differs from it in numbers only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railmap.solve.laws import Family, Floats, Ints
from railmap.solve.topology import Topology

SPARSE_FROM = 100
"""Unknowns from which the sparse solver is the quicker one; see tests/benchmarks."""


@dataclass(frozen=True)
class SparsePattern:
    """The matrix by compressed columns: where each entry and the diagonal lie in its data."""

    indices: NDArray[np.int32]
    indptr: NDArray[np.int32]
    place: Ints
    diagonal: Ints


@dataclass(frozen=True)
class Pattern:
    """Places of currents and slopes in the equations of one circuit.

    An *entry* is one slope: of the current into one pin against the voltage of another.

    Attributes
    ----------
    free, groups : int
        How many group voltages are unknown, and how many there are.
    pin_group : ndarray of int, shape (pins,)
        Group of each pin of each row of each family.
    entry_pin, entry_node : ndarray of int, shape (entries,)
        The pin whose current an entry belongs to, and the node whose voltage it is against.
    kept : ndarray of bool, shape (entries,)
        True for entries between two unknowns; the others do not enter the matrix.
    rows, columns : ndarray of int
        Place in the matrix of each entry that is kept.
    first_node : ndarray of int, shape (free,)
        The first node of each group.
    """

    free: int
    groups: int
    pin_group: Ints
    entry_pin: Ints
    entry_node: Ints
    kept: NDArray[np.bool_]
    rows: Ints
    columns: Ints
    first_node: Ints

    @cached_property
    def entry_group(self) -> Ints:
        """Group that each entry's current flows out of."""
        return self.pin_group[self.entry_pin]

    @cached_property
    def sparse(self) -> SparsePattern:
        """The matrix by compressed columns."""
        n = self.free
        diagonal = np.arange(n)
        keys = np.concatenate((self.columns * n + self.rows, diagonal * n + diagonal))
        unique, place = np.unique(keys, return_inverse=True)
        found = place.astype(np.intp)
        return SparsePattern(
            (unique % n).astype(np.int32),
            np.searchsorted(unique, np.arange(n + 1) * n).astype(np.int32),
            found[: len(self.columns)],
            found[len(self.columns) :],
        )


def make_pattern(topology: Topology, families: list[Family]) -> Pattern:
    """Lay out the rows of the families in the equations of a circuit."""
    no_ints = np.zeros(0, dtype=np.intp)
    pins, entry_pin, entry_node = [no_ints], [no_ints], [no_ints]
    first = 0
    for family in families:
        size = family.pins.shape[1]
        numbers = first + np.arange(family.pins.size).reshape(-1, size)
        pins.append(family.pins.ravel())
        entry_pin.append(np.repeat(numbers, size, axis=1).ravel())
        entry_node.append(np.tile(family.pins, (1, size)).ravel())
        first += family.pins.size
    pin_group = topology.group[np.concatenate(pins)]
    at, against = np.concatenate(entry_pin), np.concatenate(entry_node)
    rows, columns = pin_group[at], topology.group[against]
    free = topology.free
    kept = (rows < free) & (columns < free)
    first_node = np.unique(topology.group, return_index=True)[1][:free]
    return Pattern(
        free, topology.groups, pin_group, at, against, kept, rows[kept], columns[kept], first_node
    )


def gathered(places: Ints, values: Floats, size: int) -> Floats:
    """Add up values by place; what no value falls on is 0."""
    # Without any value, numpy would count in whole numbers.
    return np.bincount(places, values, size).astype(np.float64, copy=False)
