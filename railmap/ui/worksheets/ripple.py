"""The ripple worksheet: what a scope would show over one turn of the mains."""

from __future__ import annotations

import math
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from railmap.solve.turning import Waves, waves
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.faces import volts_text
from railmap.ui.theme import Theme
from railmap.units import show

NOTHING = (
    "No winding feeds this map, so nothing ripples. Place a winding, a rectifier and a reservoir."
)


class RippleSheet(QWidget):
    """Waveform of one rail's volts or one part's current over a period."""

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self._bridge, self._theme = bridge, theme
        self._waves: Waves | None = None
        self.setAccessibleName("Ripple")
        self.choice = QComboBox()
        self.choice.setAccessibleName("Rail or part to show")
        self.choice.setMinimumWidth(190)
        self.choice.activated.connect(self._chosen)
        self.figures = QLabel()
        self.figures.setWordWrap(True)
        self.figures.setMinimumWidth(190)
        self.plot = pg.PlotWidget()
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        self.plot.setMouseEnabled(x=False, y=False)
        self.curve = self.plot.plot()
        self.still = self.plot.plot()
        side = QVBoxLayout()
        side.addWidget(self.choice)
        side.addWidget(self.figures)
        side.addStretch(1)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 8, 10, 6)
        row.addLayout(side)
        row.addWidget(self.plot, 1)
        self.set_theme(theme)
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._show_anew)
        bridge.picked.connect(self._picked)
        bridge.map_changed.connect(self._fill)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.plot.setBackground(theme.field)
        for side in ("left", "bottom"):
            axis = self.plot.getAxis(side)
            axis.setPen(pg.mkPen(theme.line))
            axis.setTextPen(theme.soft_ink)
        self.plot.showGrid(x=True, y=True, alpha=0.25)
        self.curve.setPen(pg.mkPen(theme.accent, width=2))
        self.still.setPen(pg.mkPen(theme.soft_ink, width=1, style=Qt.PenStyle.DashLine))

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
            return solution.findings[0].sentence
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
        self.plot.setLabel("bottom", "one turn of the mains, ms", color=self._theme.soft_ink.name())
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
        if kind == "rail":
            ripple = solution.ripple(key)
            often = "" if math.isnan(ripple.hertz) else f" at {ripple.hertz:g} Hz"
            return (
                f"Mean {volts_text(solution.volts(key))}\n"
                f"Ripple {show(ripple.volts_pp, 'V')} peak to peak{often}\n"
                f"From {volts_text(ripple.low_volts)} to {volts_text(ripple.high_volts)}"
            )
        part = solution.part(key)
        return (
            f"Mean {show(part.amps, 'A')}\nEffective {show(part.amps_rms, 'A')}\n"
            f"Peak {show(part.amps_peak, 'A')}"
        )
