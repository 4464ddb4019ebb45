"""What the window is painted and written in, light and dark, in one frozen place.

Stress colours come from perceptually uniform maps of even lightness (P. Kovesi, "Good Colour
Maps: How to Design Them", 2015: linear map L18, as pyqtgraph ships it; inferno for the dark
theme), so that they also read without colour vision and in black and white. Shifts go both ways:
their maps (D1 on light, D4 on dark) have blue below and red above, and the ground in the middle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyqtgraph as pg
from PySide6.QtGui import QColor, QPalette

from railmap.figures import POINT, Figures

STEPS = 28
STEP_SIZE = 0.05
"""One colour step is five percent of stress; the last stands for all above 135 %."""
SHIFT_STEPS = 27
FIT_STEPS = ("ok", "watch", "act")
"""Verdicts on a reading, in the order of their colours."""
MOST_SHIFT_PCT = 20.0
"""Volts that moved farther than this have the colour of it."""


@dataclass(frozen=True)
class Theme:
    """Every colour the painters use, and how they write figures.

    Attributes
    ----------
    stress : tuple of QColor
        Tile colours by step, see :func:`stress_step`.
    shift : tuple of QColor
        Colours of volts that moved, from down to up; see :func:`shift_step`.
    fit : tuple of QColor
        Colours of verdicts on readings, see :data:`FIT_STEPS`.
    rails : tuple of QColor
        Colours of the runs.
    found : QColor
        Ring around what was found.
    on_dark, on_light : QColor
        Ink on a coloured ground, see :func:`ink_on`.
    figures : Figures
        How figures are written and read.
    """

    dark: bool
    window: QColor
    panel: QColor
    field: QColor
    ink: QColor
    soft_ink: QColor
    line: QColor
    floor: QColor
    grid: QColor
    board: QColor
    board_edge: QColor
    tile: QColor
    accent: QColor
    accent_ink: QColor
    feed: QColor
    found: QColor
    warn: QColor
    good: QColor
    on_dark: QColor
    on_light: QColor
    stress: tuple[QColor, ...]
    shift: tuple[QColor, ...]
    fit: tuple[QColor, ...]
    rails: tuple[QColor, ...]
    figures: Figures = POINT

    @property
    def steps(self) -> tuple[QColor, ...]:
        """Colours of all steps: those of stress, then those of shift and of fit."""
        return self.stress + self.shift + self.fit

    def tile_colour(self, stress: float) -> QColor:
        """Return the colour of a tile at some stress; plain where there is no limit."""
        return self.step_colour(stress_step(stress))

    def step_colour(self, step: int) -> QColor:
        """Return the colour of a step; plain for -1, where nothing is known."""
        return self.tile if step < 0 else self.steps[step]


def stress_step(stress: float) -> int:
    """Return the colour step of a stress; -1 for one that is not known."""
    if np.isnan(stress):
        return -1
    return int(min(max(stress, 0.0) / STEP_SIZE, STEPS - 1))


def shift_step(per_cent: float) -> int:
    """Return the colour step of a shift, the middle one for none; -1 for one not known.

    Examples
    --------
    >>> shift_step(0.0) - STEPS, shift_step(-1e9) - STEPS, shift_step(1e9) - STEPS
    (13, 0, 26)
    """
    if np.isnan(per_cent):
        return -1
    part = min(max(per_cent / MOST_SHIFT_PCT, -1.0), 1.0)
    return STEPS + round((part + 1) / 2 * (SHIFT_STEPS - 1))


def fit_step(verdict: str) -> int:
    """Return the colour step of a verdict on a reading; -1 where there is none.

    Examples
    --------
    >>> [fit_step(word) - STEPS - SHIFT_STEPS for word in FIT_STEPS], fit_step("")
    ([0, 1, 2], -1)
    """
    return STEPS + SHIFT_STEPS + FIT_STEPS.index(verdict) if verdict in FIT_STEPS else -1


def _ramp(name: str, low: float, high: float, steps: int = STEPS) -> tuple[QColor, ...]:
    table = pg.colormap.get(name)
    assert table is not None, f"pyqtgraph ships no map {name}"
    rows = np.asarray(table.map(np.linspace(low, high, steps), mode=table.BYTE))
    return tuple(QColor(*(int(c) for c in row[:3])) for row in rows)


def _colours(*names: str) -> tuple[QColor, ...]:
    return tuple(QColor(name) for name in names)


def light(figures: Figures = POINT) -> Theme:
    """Return the light theme."""
    return Theme(
        dark=False,
        window=QColor("#f3f1ec"), panel=QColor("#faf9f6"), field=QColor("#ffffff"),
        ink=QColor("#1d252c"), soft_ink=QColor("#66707a"), line=QColor("#d5d0c6"),
        floor=QColor("#eae7e0"), grid=QColor("#dedad1"),
        board=QColor("#f8f7f2"), board_edge=QColor("#9aa39b"), tile=QColor("#f1f1ef"),
        accent=QColor("#0b63a5"), accent_ink=QColor("#ffffff"), feed=QColor("#0b63a5"),
        found=QColor("#8e2a8b"),
        warn=QColor("#b3261e"), good=QColor("#2f6b47"),
        on_dark=QColor("#ffffff"), on_light=QColor("#14191d"),
        stress=_ramp("CET-L18", 0.06, 0.98), shift=_ramp("CET-D1", 0.04, 0.96, SHIFT_STEPS),
        fit=_colours("#00795a", "#c98200", "#a8201a"),
        rails=_colours("#2d6a9f", "#7a5195", "#2f7f74", "#8a6d1f", "#a04668", "#4f6d2f",
                       "#5b5ea6", "#8c5a3c"),
        figures=figures,
    )  # fmt: skip


def dark(figures: Figures = POINT) -> Theme:
    """Return the dark theme."""
    return Theme(
        dark=True,
        window=QColor("#1f2428"), panel=QColor("#252b30"), field=QColor("#1a1f23"),
        ink=QColor("#e6e4de"), soft_ink=QColor("#98a2ab"), line=QColor("#3a434a"),
        floor=QColor("#191d20"), grid=QColor("#23282c"),
        board=QColor("#232b2a"), board_edge=QColor("#5d6a66"), tile=QColor("#313a3f"),
        accent=QColor("#5cb2f0"), accent_ink=QColor("#10181e"), feed=QColor("#74c1f7"),
        found=QColor("#f0a6ee"),
        warn=QColor("#ff8a7a"), good=QColor("#86cfa2"),
        on_dark=QColor("#ffffff"), on_light=QColor("#14191d"),
        stress=_ramp("inferno", 0.2, 0.93), shift=_ramp("CET-D4", 0.0, 1.0, SHIFT_STEPS),
        fit=_colours("#4cc39c", "#f0b43c", "#ff7a66"),
        rails=_colours("#7db4e6", "#c3a2e0", "#7fcabd", "#d9bd6a", "#e595b4", "#a9c77f",
                       "#a7aaf0", "#d7a383"),
        figures=figures,
    )  # fmt: skip


def ink_on(ground: QColor, theme: Theme) -> QColor:
    """Return the theme's dark or white ink, whichever reads better on a ground.

    Relative luminance as in WCAG 2.1, so that text keeps a contrast of at least 4.5 to 1.
    """
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
             for c in (ground.redF(), ground.greenF(), ground.blueF())]  # fmt: skip
    luminance = 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]
    return theme.on_light if luminance > 0.19 else theme.on_dark


def palette(theme: Theme) -> QPalette:
    """Return the Qt palette of a theme."""
    found = QPalette()
    role = QPalette.ColorRole
    for name, colour in (
        (role.Window, theme.window), (role.WindowText, theme.ink), (role.Base, theme.field),
        (role.AlternateBase, theme.panel), (role.Text, theme.ink), (role.Button, theme.panel),
        (role.ButtonText, theme.ink), (role.Highlight, theme.accent),
        (role.HighlightedText, theme.accent_ink), (role.ToolTipBase, theme.panel),
        (role.ToolTipText, theme.ink), (role.PlaceholderText, theme.soft_ink),
        (role.Mid, theme.line), (role.Midlight, theme.line), (role.Dark, theme.line),
        (role.Light, theme.panel), (role.Link, theme.accent), (role.Accent, theme.accent),
    ):  # fmt: skip
        found.setColor(name, colour)
    for name in (role.WindowText, role.Text, role.ButtonText):
        found.setColor(QPalette.ColorGroup.Disabled, name, theme.soft_ink)
    return found
