"""The surge at switch-on: what rectifiers carry while empty reservoirs fill.

The mains may be switched on at any moment of its turn, so that several are tried and the worst is
told. The integral of the current squared is taken over the first half turn, 10 or 8.3 ms, the time
for which a diode's rating is given.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railmap.model import kinds
from railmap.model.railmap import RailMap
from railmap.model.setup import Setup
from railmap.solve.front import turns
from railmap.solve.laws import Floats
from railmap.solve.measure import Recorder
from railmap.solve.turning import TOGETHER, at_rest
from railmap.solve.variants import build_variants
from railmap.solve.walking import Panels, Walker
from railmap.solve.what_if import WhatIf, as_asked, carry_out

MOMENTS = 16
"""Moments of a turn at which the mains is switched on, the worst of which counts."""


@dataclass(frozen=True)
class Surge:
    """What a rectifier carries at switch-on.

    Attributes
    ----------
    amps_peak : float
        Highest current.
    i2t : float
        Integral of the current squared over the first half turn, ampere squared seconds.
    rated_i2t : float or None
        What it may carry once, where that is known.
    """

    amps_peak: float
    i2t: float
    rated_i2t: float | None

    @property
    def stress(self) -> float:
        """Ratio to the rating, 1.0 = at the rating; nan without one."""
        return self.i2t / self.rated_i2t if self.rated_i2t else float("nan")


def surges(
    m: RailMap,
    *,
    mains_volts: float | None = None,
    setup: Setup | None = None,
    change: WhatIf | None = None,
) -> dict[str, Surge]:
    """Return the surge at switch-on of every rectifier that a winding feeds.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.
    mains_volts, setup, change
        As for :func:`railmap.solve`.

    Returns
    -------
    dict of str to Surge
        By reference; empty where no winding feeds the map. For a bridge it is the current at
        that end of its output that carries more.

    Examples
    --------
    Ten volts peak over half an ohm into a large reservoir, switched on at the crest:

    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> for part in (
    ...     rm.Winding("T1", "A", "0V", volts_rms=7.07, ohms=0.5),
    ...     rm.Diode("D1", "A", "P", forward_volts=0, ohms=0),
    ...     rm.Capacitor("C1", "P", "0V", farads=0.1),
    ... ):
    ...     _ = m.add(part)
    >>> round(surges(m)["D1"].amps_peak, 1)
    20.0
    """
    circuit = carry_out(m, as_asked(setup, change, mains_volts))
    wanted = {
        ref: part for ref, part in circuit.parts.items()
        if isinstance(part, kinds.Diode | kinds.Bridge) and ref not in circuit.faults
    }  # fmt: skip
    if not turns(circuit) or not wanted:
        return {}
    variants = build_variants([circuit], moving=True)
    if variants.contradiction:
        return {}
    moving, guess = at_rest(variants, m.mains_hertz)
    walker = Walker(moving, TOGETHER.grain)
    phases = np.arange(MOMENTS) * 2 * np.pi / MOMENTS
    rows = np.zeros(MOMENTS, dtype=np.intp)
    walk = walker.begin(rows, guess.x[rows], guess.flat[rows], phases=phases)
    recorder = Recorder(walker, variants)
    told: list[Panels] = []
    walker.turn(walk, told.append, ticks=walker.store.ticks // 2)
    recorder.keep(told, np.arange(MOMENTS), ~walk.lost)
    turn = recorder.turn(MOMENTS)
    i2t = turn.pin_rms**2 / m.mains_hertz
    return {
        ref: _surge(part, variants.start_of[ref], turn.pin_peak, i2t)
        for ref, part in wanted.items()
    }  # fmt: skip


def _surge(part: kinds.Diode | kinds.Bridge, start: int, peak: Floats, i2t: Floats) -> Surge:
    ends = [start + part.pins.index(end) for end in part.ends]
    return Surge(float(peak[:, ends].max()), float(i2t[:, ends].max()), part.surge_i2t)
