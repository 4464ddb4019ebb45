"""What the tiles and labels say and how they are coloured, from the solution.

What colours them is a :class:`Colouring`; it makes :class:`Shades` of a solution. Another one is a
class of shades, a row of colours in the theme, and an entry in :data:`COLOURINGS`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

from railmap.figures import POINT, Figures
from railmap.model import kinds
from railmap.model.part import ZERO_NODE, Part
from railmap.solve.solution import Solution
from railmap.ui.canvas.items import Face
from railmap.ui.theme import (
    FIT_STEPS,
    SHIFT_STEPS,
    STEP_SIZE,
    STEPS,
    fit_step,
    shift_step,
    stress_step,
)


def value_text(part: Part, figures: Figures) -> str:
    """Return the last known main value of a part as the bench writes it."""
    if isinstance(part, kinds.Switch):
        return "closed" if part.closed else "open"
    if isinstance(part, kinds.Fuse):
        return figures.code(part.rated_amps, "A") if part.rated_amps else ""
    value = part.now()
    if isinstance(part, kinds.PassTransistor) and value is not None:
        return figures.sign(f"β {value:g}")
    return "" if value is None else figures.code(value, part.unit)


class Shade(NamedTuple):
    """What colours one part or rail.

    Attributes
    ----------
    weight : float
        Of several, the one with the highest counts; nan where nothing is known.
    step : int
        Colour step of the theme, -1 for plain.
    over : bool
        True above a rating, so that it is hatched.
    text : str
        The figure that the colour stands for.
    """

    weight: float = math.nan
    step: int = -1
    over: bool = False
    text: str = ""


class Fit(NamedTuple):
    """How the last readings of one place fit: the worst misfit, and the verdict on it.

    Attributes
    ----------
    misfit : float
        In standard uncertainties of the difference.
    verdict : str
        One of :data:`railmap.ui.theme.FIT_STEPS`.
    """

    misfit: float
    verdict: str


Fits = Mapping[tuple[str, str], Fit]
"""By kind of place, ``rail`` or ``part``, and its key."""
FIT_SHAPES: Final[Mapping[str, str]] = {"ok": "✓", "watch": "▲", "act": "■"}
"""What stands before a verdict, so that it is also told without colour."""


class Shades:
    """What colours parts and rails at a solution: parts by stress.

    Parameters
    ----------
    solution : Solution or None
        None while there is none.
    calm : Solution or None
        The solution without what is tried.
    figures : Figures
        How figures are written.
    fits : dict of (str, str) to Fit, optional
        How readings fit.
    """

    scale = "over"
    """What the legend of the ladder has to explain of them."""

    def __init__(
        self,
        solution: Solution | None,
        calm: Solution | None = None,
        figures: Figures = POINT,
        fits: Fits | None = None,
    ) -> None:
        self._now, self._was, self._figures = solution, calm, figures
        self._fits: Fits = {} if fits is None else fits

    def written(self, figures: Figures) -> Shades:
        """Return the same with figures written in some way."""
        if figures == self._figures:
            return self
        return type(self)(self._now, self._was, figures, self._fits)

    def of_part(self, ref: str) -> Shade:
        """Return the shade of a part; a plain one where nothing is known of it."""
        number = None if self._now is None else self._now.network.part_index.get(ref)
        return Shade() if number is None else self._of_number(number)

    def of_rail(self, node: str) -> Shade:
        """Return the shade of a rail."""
        return Shade()

    def rail_steps(self, nodes: Iterable[str]) -> dict[str, int] | None:
        """Return the colour steps of those rails whose lines are seen by them.

        None if rails keep their own colours.
        """
        return None

    def _of_number(self, number: int) -> Shade:
        assert self._now is not None
        stress = float(self._now.stress[number])
        if math.isnan(stress):
            return Shade()
        return Shade(stress, stress_step(stress), stress > 1, percent(stress))


class ShiftShades(Shades):
    """How far what is tried has moved the rails, and a part with the one of its ends moved most."""

    scale = "shift"

    @cached_property
    def _rails(self) -> dict[str, Shade]:
        """The shades of rails that were asked for."""
        return {}

    def of_rail(self, node: str) -> Shade:
        """See :class:`Shades`."""
        if node not in self._rails:
            shift = self._shift(node)
            known = math.isfinite(shift)
            text = shift_text(shift, self._figures)
            self._rails[node] = (
                Shade(abs(shift), shift_step(shift), False, text) if known else Shade()
            )
        return self._rails[node]

    def rail_steps(self, nodes: Iterable[str]) -> dict[str, int] | None:
        """See :class:`Shades`; a thin line needs more of a colour than a tile does."""
        shades = {node: self.of_rail(node) for node in nodes}
        return {node: s.step for node, s in shades.items() if s.weight >= SEEN_PCT}

    def _of_number(self, number: int) -> Shade:
        assert self._now is not None
        shades = [self.of_rail(node) for node in self._now.network.parts[number].nodes]
        known = [shade for shade in shades if shade.text]
        return max(known, key=lambda shade: shade.weight, default=Shade())

    def _shift(self, node: str) -> float:
        """Return how far a rail has moved away from 0 V, or towards it, in per cent."""
        if self._now is None or self._was is None or node == ZERO_NODE:
            return math.nan
        if not (self._now.has_figures and self._was.has_figures):
            return math.nan
        now, was = (self._size(solution, node) for solution in (self._now, self._was))
        return 100 * (now - was) / was if was >= LEAST_VOLTS else math.nan

    @staticmethod
    def _size(solution: Solution, node: str) -> float:
        if solution.is_alternating(node):
            return solution.volts_rms(node)
        return abs(solution.volts(node))


class FitShades(Shades):
    """How readings fit their forecasts: of rails, and of parts that were read themselves."""

    scale = "fit"

    def of_part(self, ref: str) -> Shade:
        """See :class:`Shades`."""
        return self._of(("part", ref))

    def of_rail(self, node: str) -> Shade:
        """See :class:`Shades`."""
        return self._of(("rail", node))

    def rail_steps(self, nodes: Iterable[str]) -> dict[str, int] | None:
        """See :class:`Shades`; rails without readings stay soft."""
        return {node: self.of_rail(node).step for node in nodes if ("rail", node) in self._fits}

    def _of(self, key: tuple[str, str]) -> Shade:
        fit = self._fits.get(key)
        if fit is None:
            return Shade()
        text = f"{FIT_SHAPES[fit.verdict]} {misfit_text(fit.misfit, self._figures)}"
        return Shade(abs(fit.misfit), fit_step(fit.verdict), fit.verdict == "act", text)


SEEN_PCT = 3.0
LEAST_VOLTS = 0.5
"""Below this a shift in per cent says nothing."""


@dataclass(frozen=True)
class Colouring:
    """Something to colour the views by.

    Attributes
    ----------
    word : str
        What it is called where it is chosen.
    title : str
        What stands over its scale of colours.
    first, count : int
        Its steps among those of the theme.
    marks : tuple of (float, str)
        Words below the scale: where, from 0 on the left to 1 on the right, and what.
    hatched_from : int
        First step, counted within the scale, that is hatched; its count for none.
    make : type of Shades
        Makes shades of a solution, of the one without what is tried, and of readings.
    """

    word: str
    title: str
    first: int
    count: int
    marks: tuple[tuple[float, str], ...]
    hatched_from: int
    make: type[Shades]


_FULL = 1 / STEP_SIZE / STEPS
"""Where 100 percent stands on the scale of stress."""
BY_STRESS = Colouring(
    "Stress", "Load in percent of the rating where it stands", 0, STEPS,
    ((0.0, "0"), (0.5 * _FULL, "50"), (0.8 * _FULL, "80"), (_FULL, "100"), (1.0, "over")),
    round(1 / STEP_SIZE), Shades,
)  # fmt: skip
BY_SHIFT = Colouring(
    "Shift", "Volts moved by what is tried, percent", STEPS, SHIFT_STEPS,
    ((0.0, "−20"), (0.25, "−10"), (0.5, "0"), (0.75, "+10"), (1.0, "+20")), SHIFT_STEPS,
    ShiftShades,
)  # fmt: skip
BY_FIT = Colouring(
    "Readings", "Readings against their forecasts", STEPS + SHIFT_STEPS, len(FIT_STEPS),
    tuple((at, f"{FIT_SHAPES[word]} {word}") for at, word in zip((1 / 6, 0.5, 5 / 6), FIT_STEPS,
                                                                strict=True)),
    FIT_STEPS.index("act"), FitShades,
)  # fmt: skip
COLOURINGS = (BY_STRESS, BY_SHIFT)


def part_face(
    part: Part, solution: Solution | None, number: int, changed: bool, figures: Figures,
    shade: Shade | None = None,
) -> Face:  # fmt: skip
    """Return what the tile of a part says; coloured by stress unless a shade is given."""
    flag = (isinstance(part, kinds.Switch) and part.closed) or (
        isinstance(part, kinds.PassTransistor) and part.polarity == "pnp"
    )
    if solution is None:
        value = value_text(part, figures)
        return Face(part.kind, flag, part.ref, value, "", "", -1, False, changed, False)
    shade = Shades(solution).of_part(part.ref) if shade is None else shade
    now = solution.network.circuit.parts[part.ref]
    blocks = isinstance(part, kinds.Capacitor)
    figure, second = _two_figures(solution, number, shade.text, blocks, figures)
    out = part.ref in solution.network.circuit.faults
    return Face(
        part.kind, flag, part.ref, value_text(now, figures), figure, second, shade.step,
        shade.over, changed, out,
    )  # fmt: skip


def _two_figures(
    solution: Solution, number: int, first: str, blocks: bool, figures: Figures
) -> tuple[str, str]:
    """Return the two figures of a tile: first the one it is coloured by, where there is one."""
    alternating = isinstance(solution.network.parts[number], kinds.Winding)
    amps = float((solution.amps_rms if alternating else solution.part_amps)[number])
    flow = figures.show(abs(amps), "A") if math.isfinite(amps) else "–"
    drop = float(solution.part_volts[number])
    across = figures.show(abs(drop), "V") if math.isfinite(drop) else "–"
    if not first:
        return (across, "") if blocks else (flow, across)
    return first, across if blocks else flow


def percent(stress: float) -> str:
    """Return a stress as a percentage.

    Examples
    --------
    >>> percent(0.834), percent(12.3)
    ('83 %', '>999 %')
    """
    if math.isnan(stress):
        return "–"
    return f"{stress * 100:.0f} %" if stress < 9.995 else ">999 %"


def rail_texts(
    solution: Solution | None, node: str, title: str, figures: Figures, shade: Shade | None = None
) -> tuple[str, str]:
    """Return what the label of a rail says, in full and in short."""
    more = f"  {shade.text}" if shade is not None and shade.text else ""
    if solution is None:
        return title, title
    volts = solution.volts(node)
    if not math.isfinite(volts):
        return f"{title}  no path to 0 V", f"{title} –"
    if solution.is_alternating(node):
        rms = solution.volts_rms(node)
        return f"{title}  {figures.sign(f'{rms:.1f}')} V AC{more}", f"{title} ~{rms:.0f}"
    short = f"{title} {volts_text(volts, figures, 1).removesuffix(' V')}"
    return f"{title}  {volts_text(volts, figures)}{more}", short


def shift_text(per_cent: float, figures: Figures) -> str:
    """Return how far something is off, in per cent with a sign; nothing is never below nothing.

    Examples
    --------
    >>> [shift_text(shift, Figures(",")) for shift in (9.44, -0.004, -3)]
    ['+9,4 %', '+0,0 %', '-3,0 %']
    """
    return figures.sign(f"{round(per_cent, 1) + 0.0:+.1f} %")


def misfit_text(misfit: float, figures: Figures) -> str:
    """Return how far a reading is off, in standard deviations.

    Examples
    --------
    >>> misfit_text(-2.94, Figures(",")), misfit_text(0.01, Figures()), misfit_text(800, Figures())
    ('−2,9 σ', '0.0 σ', '+>99 σ')
    """
    size = f"{abs(misfit):.1f}" if abs(misfit) < 99.95 else ">99"
    sign = "" if size == "0.0" else "+" if misfit > 0 else "−"
    return figures.sign(f"{sign}{size} σ")


def volts_text(volts: float, figures: Figures, decimals: int = 2) -> str:
    """Return volts with their sign, and one decimal at most above 100 V.

    Examples
    --------
    >>> volts_text(29.114, Figures()), volts_text(-0.001, Figures(","))
    ('+29.11 V', '0,00 V')
    """
    if not math.isfinite(volts):
        return "–"
    text = f"{abs(volts):.{1 if abs(volts) >= 99.95 else decimals}f}"
    sign = "" if float(text) == 0 else ("+" if volts > 0 else "−")
    return figures.sign(f"{sign}{text} V")
