"""The figures that the ladder shows, taken out of a solution once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from railmap.bench.rungs import Ladder
from railmap.figures import POINT
from railmap.figures import Figures as Style
from railmap.solve.solution import Solution
from railmap.ui.faces import Shade, Shades

LEAST_SHIFT_VOLTS = 0.005
"""A rung that moves by less has no ghost: it reads the same to a hundredth."""


@dataclass(frozen=True)
class Mark:
    """A reading to show on a rung.

    Attributes
    ----------
    node : str
        The rung.
    volts : float
        What was read.
    verdict : str
        ``ok``, ``watch`` or ``act``; empty where it cannot be compared.
    stage : str
        ``as received``, ``after renewal`` or ``later visit``.
    elsewhere : str
        The setup it was read in, if that is not the one that is shown.
    """

    node: str
    volts: float
    verdict: str = "ok"
    stage: str = "as received"
    elsewhere: str = ""


@dataclass(frozen=True)
class Figures:
    """Volts of the rungs, and current, stress and state of the parts between them.

    Attributes
    ----------
    volts : dict of str to float
        By node; nan where there is no path to 0 V.
    calm : dict of str to float
        Volts without drift, of the rungs that drift has moved.
    amps, stress : dict of str to float
        By reference.
    shades : dict of str to Shade
        What colours the parts, by reference.
    scale : str
        Mark of the legend that explains them.
    out : frozenset of str
        Parts out of the circuit.
    rms : dict of str to float
        Effective volts of the alternating rails, by title.
    marks : tuple of Mark
        Readings.
    rails : dict of str to int
        Colour steps of rungs, by node; none for those in their usual ink.
    """

    volts: Mapping[str, float] = field(default_factory=dict)
    calm: Mapping[str, float] = field(default_factory=dict)
    amps: Mapping[str, float] = field(default_factory=dict)
    stress: Mapping[str, float] = field(default_factory=dict)
    shades: Mapping[str, Shade] = field(default_factory=dict)
    scale: str = Shades.scale
    out: frozenset[str] = frozenset()
    rms: Mapping[str, float] = field(default_factory=dict)
    marks: tuple[Mark, ...] = ()
    rails: Mapping[str, int] = field(default_factory=dict)

    def shade(self, refs: Iterable[str]) -> Shade:
        """Return the weightiest shade of some parts, a plain one where none is known."""
        known = [self.shades[ref] for ref in refs if ref in self.shades]
        known = [shade for shade in known if not math.isnan(shade.weight)]
        return max(known, key=lambda shade: shade.weight, default=Shade())

    def of(self, node: str) -> float:
        """Return the volts of a node, nan where there are none."""
        return self.volts.get(node, math.nan)


def figures_of(
    ladder: Ladder,
    solution: Solution | None,
    calm: Solution | None = None,
    marks: Iterable[Mark] = (),
    shades: Shades | None = None,
    style: Style = POINT,
) -> Figures:
    """Return the figures of a solution.

    Parameters
    ----------
    ladder : Ladder
        Whose rungs and parts are wanted.
    solution : Solution or None
        None while there is none.
    calm : Solution or None
        The solution without drift.
    marks : iterable of Mark
        Readings.
    shades : Shades, optional
        What colours the parts; their stress by default.
    style : railmap.figures.Figures
        How figures are written.
    """
    if solution is None or not solution.has_figures:
        return Figures(marks=tuple(marks))
    volts = {node: solution.volts(node) for node in ladder.rungs}
    before: dict[str, float] = {}
    if calm is not None and calm is not solution and calm.has_figures:
        for node, now in volts.items():
            then = calm.volts(node)
            if abs(then - now) >= LEAST_SHIFT_VOLTS:
                before[node] = then
    refs, rails = solution.refs, solution.source.rails
    shades = (shades or Shades(solution)).written(style)
    rms = {r.title: solution.volts_rms(n) for n, r in rails.items() if n in ladder.alternating}
    return Figures(
        {**volts, "0V": 0.0}, before,
        dict(zip(refs, solution.part_amps.tolist(), strict=True)),
        dict(zip(refs, solution.stress.tolist(), strict=True)),
        {ref: shades.of_part(ref) for ref in refs}, shades.scale,
        frozenset(solution.network.circuit.faults), rms, tuple(marks),
        shades.rail_steps(ladder.rungs) or {},
    )  # fmt: skip


@dataclass(frozen=True)
class Sight:
    """The volts in sight, from ``low`` up to ``high``."""

    low: float
    high: float

    def zoomed(self, factor: float, about: float) -> Sight:
        """Return the span seen at ``factor`` times the scale, with one voltage kept in place."""
        size = min(max((self.high - self.low) / factor, LEAST_SPAN), MOST_SPAN)
        part = (about - self.low) / (self.high - self.low)
        low = about - part * size
        return Sight(low, low + size)

    def moved(self, volts: float) -> Sight:
        """Return the span shifted by some volts."""
        return Sight(self.low + volts, self.high + volts)

    def holding(self, other: Sight) -> Sight:
        """Return the span widened to hold another."""
        return Sight(min(self.low, other.low), max(self.high, other.high))


LEAST_SPAN, MOST_SPAN = 0.02, 1e6
"""Volts in sight at least and at most."""
LIMIT_REACH = 1.2
"""A limit is in sight if it is not farther out than this, over the farthest volts."""


def whole(ladder: Ladder, figures: Figures) -> Sight:
    """Return the span that holds every rung, label and band, and the limits near them."""
    held = [0.0, *(v for v in figures.volts.values() if math.isfinite(v))]
    held += [v for v in figures.calm.values() if math.isfinite(v)]
    held += [mark.volts for mark in figures.marks]
    for rung in ladder.rungs.values():
        if rung.rail is not None and rung.rail.band_volts is not None:
            held += rung.rail.band_volts
    low, high = min(held), max(held)
    reach = max(high, -low) * LIMIT_REACH
    for rung in ladder.rungs.values():
        limit = rung.rail.max_volts if rung.rail is not None else None
        if limit is not None and limit <= reach:
            low, high = min(low, rung.side * limit), max(high, rung.side * limit)
    return Sight(low, high) if high > low else Sight(low - 1, high + 1)


def around(volts: Iterable[float], all_volts: Iterable[float]) -> Sight | None:
    """Return a span about some volts, wide enough to tell their neighbours apart."""
    held = [v for v in volts if math.isfinite(v)]
    if not held:
        return None
    low, high = min(held), max(held)
    others = sorted({abs(v - (low + high) / 2) for v in all_volts if math.isfinite(v)})
    near = [far for far in others if far > 1e-6][:3]
    half = max((high - low) * 0.7, near[-1] * 1.3 if near else 1.0, LEAST_SPAN * 5)
    middle = (low + high) / 2
    return Sight(middle - half, middle + half)
