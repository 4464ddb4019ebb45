"""Sweeps: what the rails do while one part, or the mains, goes through a range."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railmap.errors import MapError
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.many import Many, solve_many
from railmap.solve.what_if import WhatIf, what_if


@dataclass(frozen=True)
class Sweep:
    """A range gone through.

    Attributes
    ----------
    what : str
        A part's reference, or ``mains``.
    unit : str
        Unit of the values.
    values : ndarray, shape (points,)
        What was tried, SI.
    nodes : list of str
        Nodes of the rails.
    volts : ndarray, shape (points, nodes)
        Mean volts; nan where there is no solution.
    many : Many
        The solutions.
    """

    what: str
    unit: str
    values: NDArray[np.float64]
    nodes: list[str]
    volts: NDArray[np.float64]
    many: Many

    def swing(self) -> NDArray[np.float64]:
        """Return how far each rail goes, volts."""
        none = np.isnan(self.volts)
        high = np.where(none, -np.inf, self.volts).max(axis=0)
        low = np.where(none, np.inf, self.volts).min(axis=0)
        return np.where(none.all(axis=0), np.nan, high - low)


def sweep_part(
    m: RailMap,
    ref: str,
    values: Sequence[float],
    *,
    change: WhatIf | None = None,
    setup: Setup | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Sweep:
    """Take a part's main value through a range.

    Parameters
    ----------
    m : RailMap
        The map.
    ref : str
        The part.
    values : sequence of float
        Values to try, SI.
    change : WhatIf, optional
        What else is tried at the same time.
    setup : Setup, optional
        How the unit is powered.
    progress, cancelled : callable, optional
        See :func:`railmap.solve.many.solve_many`.

    Raises
    ------
    MapError
        If the map has no such part, or it has no value to change.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Source("V1", "RAW", "0V", volts=9),
    ...     rm.Resistor("R1", "RAW", "A", ohms=100),
    ...     rm.Resistor("R2", "A", "0V", ohms=200),
    ... ):
    ...     _ = m.add(part)
    >>> _ = m.add_rail("A")
    >>> [round(float(v), 6) for v in sweep_part(m, "R1", [100, 250]).volts[:, 0]]
    [6.0, 4.0]
    """
    part = m.parts.get(ref)
    if part is None:
        raise MapError(f"there is no part {ref!r} in the map")
    if not part.main_field:
        raise MapError(f"{ref}: a {part.kind} has no value to change")
    base = change or what_if()
    tried = [
        WhatIf({**base.parts, ref: float(v)}, base.unplugged, base.accessories_out,
               base.mains_volts, base.loads_off)
        for v in values
    ]  # fmt: skip
    many = solve_many(m, tried, setup=setup, progress=progress, cancelled=cancelled)
    return _sweep(m, ref, part.unit, values, many)


def sweep_mains(
    m: RailMap,
    volts: Sequence[float],
    *,
    setup: Setup | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Sweep:
    """Take the mains through a range of volts; see :func:`sweep_part`."""
    tried = [what_if(mains_volts=float(v)) for v in volts]
    many = solve_many(m, tried, setup=setup, progress=progress)
    return _sweep(m, "mains", "V", volts, many)


def _sweep(m: RailMap, what: str, unit: str, values: Sequence[float], many: Many) -> Sweep:
    nodes = list(m.rails) or [n for n in m.nodes if n != "0V"]
    table = [many.volts(node) for node in nodes]
    volts = np.array(table).T if table else np.zeros((len(many), 0))
    return Sweep(what, unit, np.array(values, dtype=float), nodes, volts, many)
