"""Exact updates of a linear map: a what-if that changes a few parts costs a few numbers.

With ``A u = b`` solved once, a change of the conductances of rows ``S`` leaves the group volts
``u' = u - W x``. ``W`` holds the answers of ``A`` to a unit current through each of those rows,
``K`` the volts these make across the rows, and ``(I + d K) x = d v - e`` with ``d`` the changes of
conductance, ``v`` the volts across the rows before and ``e`` the changes of what their own sources
push. For one part this is the update of Sherman and Morrison (1950), for several that of Woodbury
(1950); from memory.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from railmap.solve.equations import Equations
from railmap.solve.laws import Conductors, Floats, Ints, ResistiveLoads
from railmap.solve.variants import Variants

MOST_ROWS = 8
"""What-ifs that change more rows than this are solved anew."""


def is_linear(variants: Variants) -> bool:
    """Tell whether every law of a map is Ohm's, whatever the what-if."""
    kinds = (Conductors, ResistiveLoads)
    families = variants.families
    return bool(families) and all(type(family) in kinds for family in families)


def updated(variants: Variants, unknown: Floats, node_volts: Floats) -> Floats | None:
    """Return the group volts of every what-if from those of the first.

    Parameters
    ----------
    variants : Variants
        What-ifs on a linear map; the first is solved.
    unknown : ndarray, shape (free,)
        Its group volts.
    node_volts : ndarray, shape (nodes,)
        Its node volts.

    Returns
    -------
    ndarray, shape (what-ifs, free), or None
        None where the what-ifs change more than a few rows, or sources without resistance, or
        leave a node without any path.
    """
    if np.any(variants.tie_volts != variants.tie_volts[:1]):
        return None
    siemens, push, pins = _rows(variants)
    slope, shove = siemens - siemens[:1], push - push[:1]
    differs = (slope != 0) | (shove != 0)
    most = int(differs.sum(axis=1).max(initial=0))
    if most > MOST_ROWS:
        return None
    if most == 0 or not len(unknown):
        return np.tile(unknown, (variants.count, 1))
    rows = np.flatnonzero(differs.any(axis=0))
    own = _own_rows(differs[:, rows], most)
    before = node_volts[pins[rows, 0]] - node_volts[pins[rows, 1]]
    d = np.take_along_axis(slope[:, rows], own, axis=1)
    e = np.take_along_axis(shove[:, rows], own, axis=1)
    try:
        answers, between = _answers(variants, pins[rows])
        small = d[:, :, None] * between[own[:, :, None], own[:, None, :]] + np.eye(most)
        x = np.linalg.solve(small, (d * before[own] - e)[..., None])[..., 0]
    except np.linalg.LinAlgError:
        # Some what-if leaves a node with nothing to hold it.
        return None
    through = np.zeros((variants.count, len(rows)))
    everyone = np.arange(variants.count)[:, None]
    np.add.at(through, (everyone, own), x)
    return unknown - through @ answers.T


def _rows(variants: Variants) -> tuple[Floats, Floats, Ints]:
    """Return conductance and pushed current of all rows by what-if, and their pins."""
    families: list[Any] = list(variants.families)
    siemens = np.concatenate([f.siemens for f in families], axis=1)
    push = np.concatenate([f.siemens * f.volts for f in families], axis=1)
    return siemens, push, np.concatenate([f.pins for f in families])


def _answers(variants: Variants, pins: Ints) -> tuple[Floats, Floats]:
    """Return group volts for a unit current through each row, and the volts across the rows."""
    network = variants.network(0)
    equations = Equations(network)
    still = np.zeros(len(network.topology.nodes))
    modes = [np.zeros(len(f.pins), dtype=np.intp) for f in network.families]
    slopes = equations.evaluate(still, modes).slopes
    group, free = network.topology.group, equations.free
    drive = np.zeros((equations.pattern.groups, len(pins)))
    column = np.arange(len(pins))
    np.add.at(drive, (group[pins[:, 0]], column), 1.0)
    np.add.at(drive, (group[pins[:, 1]], column), -1.0)
    answers = np.asarray(equations.solver(slopes, columns=len(pins))(drive[:free]))
    padded = np.zeros((equations.pattern.groups, len(pins)))
    padded[:free] = answers
    at_nodes = padded[group]
    return answers, at_nodes[pins[:, 0]] - at_nodes[pins[:, 1]]


def _own_rows(differs: Any, most: int) -> Ints:
    """Return the rows that each what-if changes, filled up with rows that it does not."""
    return np.argsort(~differs, axis=1, kind="stable")[:, :most]
