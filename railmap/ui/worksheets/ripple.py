"""The ripple worksheet: what a scope would show over one turn of the mains."""

from __future__ import annotations

import math
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from railmap.figures import POINT
from railmap.solve.turning import Waves, waves
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.faces import volts_text
from railmap.ui.theme import Theme
from railmap.ui.worksheets.notes import said

NOTHING = (
    "No winding feeds this map, so nothing ripples. Place a winding, a rectifier and a reservoir."
)


SIDE, LEAST_SIDE, MOST_SIDE = 0.4, 110, 220
"""Part of the width for words beside the trace, and between which pixels it stays."""
WHOLE_FROM = 470


class Axis(pg.AxisItem):
    """An axis whose figures are written the reader's way."""

    def __init__(self, side: str) -> None:
        super().__init__(side)
        self._figures = POINT

    def set_theme(self, theme: Theme) -> None:
        """Paint and write in another theme."""
        self._figures = theme.figures
        # To set a pen also throws away the picture that it keeps of its figures.
        self.setPen(pg.mkPen(theme.line))
        self.setTextPen(theme.soft_ink)

    def tickStrings(self, values: Any, scale: float, spacing: float) -> list[str]:
        """See pyqtgraph."""
        return [self._figures.sign(text) for text in super().tickStrings(values, scale, spacing)]


class RippleSheet(QWidget):
    """Waveform of one rail's volts or one part's current over a period."""

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self._bridge, self._theme = bridge, theme
        self._waves: Waves | None = None
        self.setAccessibleName("Ripple")
        self.choice = QComboBox()
        self.choice.setAccessibleName("Rail or part to show")
        self.choice.activated.connect(self._chosen)
        self.figures = QLabel()
        self.figures.setWordWrap(True)
        self._axes = {side: Axis(side) for side in ("left", "bottom")}
        self.plot = pg.PlotWidget(axisItems=self._axes)
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        self.plot.setMouseEnabled(x=False, y=False)
        self.curve = self.plot.plot()
        self.still = self.plot.plot()
        self._lay_out()
        self.set_theme(theme)
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._show_anew)
        bridge.picked.connect(self._picked)
        bridge.map_changed.connect(self._fill)

    def _lay_out(self) -> None:
        side = QVBoxLayout()
        side.addWidget(self.choice)
        side.addWidget(self.figures)
        side.addStretch(1)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 8, 10, 6)
        row.addLayout(side)
        row.addWidget(self.plot, 1)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.plot.setBackground(theme.field)
        for axis in self._axes.values():
            axis.set_theme(theme)
        self.plot.showGrid(x=True, y=True, alpha=0.25)
        self.curve.setPen(pg.mkPen(theme.accent, width=2))
        self.still.setPen(pg.mkPen(theme.soft_ink, width=1, style=Qt.PenStyle.DashLine))
        if self.isVisible():
            self._draw()

    def _label_time(self) -> None:
        """Tell what the lower axis is, in full where there is room for it."""
        words = "one turn of the mains, ms" if self.width() >= WHOLE_FROM else "ms"
        self.plot.setLabel("bottom", words, color=self._theme.soft_ink.name())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt; where there is little room the trace has most of it."""
        room = round(min(max(self.width() * SIDE, LEAST_SIDE), MOST_SIDE))
        self.choice.setFixedWidth(room)
        self.figures.setFixedWidth(room)
        self._label_time()

    def showEvent(self, event: Any) -> None:
        """See Qt."""
        self._draw_anew()

    @Slot(object)
    def _fill(self, _: object) -> None:
        """Offer every rail, then every part."""
        m = self._bridge.map
        nodes = [*m.rails, *(n for n in m.nodes if n != "0V" and n not in m.rails)]
        entries = [(f"Volts of {m.rails[n].title if n in m.rails else n}", f"rail {n}")
                   for n in nodes if n in m.nodes]  # fmt: skip
        entries += [(f"Current of {ref}", f"part {ref}") for ref in m.parts]
        self.choice.clear()
        for text, key in entries:
            self.choice.addItem(text, key)
        self._follow(self._bridge.selection)

    def _follow(self, what: Picked) -> None:
        place = self.choice.findData(f"{what.kind} {what.key}")
        if place >= 0:
            self.choice.setCurrentIndex(place)

    @Slot(object)
    def _solved(self, _: object) -> None:
        self._show_anew()

    @Slot()
    def _show_anew(self) -> None:
        self._waves = None
        if self.isVisible():
            self._draw_anew()

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        self._follow(what)
        if self.isVisible():
            self._draw()

    @Slot(int)
    def _chosen(self, _: int) -> None:
        self._draw()

    def _draw_anew(self) -> None:
        turning, solution = self._bridge.turning, self._bridge.solution
        known = solution is not None and solution.turn is not None
        if known and turning is not None and self._waves is None:
            self._waves = waves(turning)
        self._draw()

    def _why_still(self) -> str:
        """Return why there is no trace to show; nothing where there is one."""
        solution = self._bridge.solution
        if solution is None:
            return "No figures: the map is not solved."
        if not solution.has_figures:
            return said(solution.findings[0], self._theme.figures)
        return NOTHING if solution.turn is None else ""

    def _draw(self) -> None:
        data = self.choice.currentData()
        reason = self._why_still()
        if reason or self._waves is None or data is None:
            self.figures.setText(reason or NOTHING)
            self.curve.setData([], [])
            self.still.setData([], [])
            return
        kind, _, key = data.partition(" ")
        values = self._values(kind, key)
        if values is None:
            return
        times = 1000 * self._waves.seconds
        mean = self._mean(kind, key)
        self.curve.setData(times, values)
        self.still.setData([times[0], times[-1]], [mean, mean])
        unit = "V" if kind == "rail" else "A"
        self._label_time()
        self.plot.setLabel("left", units=unit, color=self._theme.soft_ink.name())
        self.figures.setText(self._words(kind, key))

    def _values(self, kind: str, key: str) -> Any:
        solution, wave = self._bridge.solution, self._waves
        assert solution is not None
        assert wave is not None
        if kind == "rail":
            index = solution.network.topology.index
            if key not in index:
                return None
            return wave.volts[:, index[key]] - wave.volts[:, index["0V"]]
        number = solution.network.part_index.get(key)
        if number is None:
            return None
        return wave.amps[:, solution.current_pin(number)] * solution.current_sign(number)

    def _mean(self, kind: str, key: str) -> float:
        solution = self._bridge.solution
        assert solution is not None
        return solution.volts(key) if kind == "rail" else solution.part(key).amps

    def _words(self, kind: str, key: str) -> str:
        solution = self._bridge.solution
        assert solution is not None
        style = self._theme.figures
        show = style.show
        if kind == "rail":
            ripple = solution.ripple(key)
            often = "" if math.isnan(ripple.hertz) else style.sign(f" at {ripple.hertz:g} Hz")
            low, high = (volts_text(v, style) for v in (ripple.low_volts, ripple.high_volts))
            return (
                f"Mean {volts_text(solution.volts(key), style)}\n"
                f"Ripple {show(ripple.volts_pp, 'V')} peak to peak{often}\nFrom {low} to {high}"
            )
        part = solution.part(key)
        return (
            f"Mean {show(part.amps, 'A')}\nEffective {show(part.amps_rms, 'A')}\n"
            f"Peak {show(part.amps_peak, 'A')}"
        )
