"""The sweep curve: the rails against one part's value."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from railmap.bench.sweeps import Sweep
from railmap.ui.theme import Theme

MOST_RAILS = 4


class SweepCurve(QWidget):
    """Up to four rails that the part moves most, over its value on a logarithmic scale."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._sweep: Sweep | None = None
        self._names: list[str] = []
        self._chosen: list[int] = []
        self._now = math.nan
        self.setFixedHeight(150)
        self.setAccessibleName("Rails against the value of this part")

    def show_sweep(self, sweep: Sweep | None, names: list[str], theme: Theme) -> None:
        """Show a sweep; the rails that move most are drawn.

        Parameters
        ----------
        sweep : Sweep or None
            None while it is being worked out.
        names : list of str
            Titles of its rails.
        theme : Theme
            Colours.
        """
        self._theme, self._sweep, self._names = theme, sweep, names
        self._chosen = []
        if sweep is not None:
            swing = np.nan_to_num(sweep.swing())
            order = np.argsort(-swing, kind="stable")[:MOST_RAILS]
            self._chosen = [int(k) for k in order if swing[k] > 0.005]
        self.update()

    def show_value(self, value: float) -> None:
        """Mark the value that is tried now."""
        if value != self._now:
            self._now = value
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, sweep = self._theme, self._sweep
        frame = QRectF(38, 6, self.width() - 92, self.height() - 26)
        painter.setPen(QPen(theme.line, 1))
        painter.setBrush(theme.field)
        painter.drawRect(frame)
        painter.setPen(theme.soft_ink)
        if sweep is None or not self._chosen:
            text = "working it out …" if sweep is None else "no rail moves with this value"
            painter.drawText(frame, Qt.AlignmentFlag.AlignCenter, text)
            return
        volts = sweep.volts[:, self._chosen]
        low, high = float(np.nanmin(volts)), float(np.nanmax(volts))
        pad = 0.06 * max(high - low, 0.1)
        self._axes(painter, frame, sweep, low - pad, high + pad)
        spots: list[float] = []
        for column, number in enumerate(self._chosen):
            colour = theme.rails[column % len(theme.rails)]
            line = self._line(frame, sweep.values, volts[:, column], low - pad, high + pad)
            self._draw(painter, line, colour)
            self._label(painter, frame, line, self._names[number], colour, spots)

    def _axes(
        self, painter: QPainter, frame: QRectF, sweep: Sweep, low: float, high: float
    ) -> None:
        font, figures = painter.font(), self._theme.figures
        font.setPointSizeF(font.pointSizeF() * 0.82)
        painter.setFont(font)
        for part in (0.0, 0.5, 1.0):
            y = frame.bottom() - part * frame.height()
            text = figures.sign(f"{low + part * (high - low):.1f}").replace("-", "−")
            box = QRectF(0, y - 8, frame.left() - 4, 16)
            flags = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(box, flags, text)
        first, last = float(sweep.values[0]), float(sweep.values[-1])
        for value, flag in (
            (first, Qt.AlignmentFlag.AlignLeft),
            (last, Qt.AlignmentFlag.AlignRight),
        ):
            text = figures.code(float(f"{value:.2g}"), sweep.unit)
            painter.drawText(
                QRectF(frame.left(), frame.bottom() + 3, frame.width(), 16), flag, text
            )
        if first <= self._now <= last:
            x = self._x_of(frame, sweep.values, self._now)
            painter.setPen(QPen(self._theme.accent, 1.2, Qt.PenStyle.DashLine))
            painter.drawLine(QPointF(x, frame.top()), QPointF(x, frame.bottom()))

    @staticmethod
    def _x_of(frame: QRectF, values: NDArray[np.float64], value: float) -> float:
        first, last = math.log(values[0]), math.log(values[-1])
        return frame.left() + frame.width() * (math.log(value) - first) / (last - first)

    def _line(
        self,
        frame: QRectF,
        values: NDArray[np.float64],
        volts: NDArray[np.float64],
        low: float,
        high: float,
    ) -> list[QPointF]:
        scale = frame.height() / (high - low)
        return [
            QPointF(self._x_of(frame, values, float(x)), frame.bottom() - (float(v) - low) * scale)
            for x, v in zip(values, volts, strict=True) if math.isfinite(v)
        ]  # fmt: skip

    @staticmethod
    def _draw(painter: QPainter, line: list[QPointF], colour: QColor) -> None:
        painter.setPen(QPen(colour, 1.8))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(QPolygonF(line))

    @staticmethod
    def _label(
        painter: QPainter,
        frame: QRectF,
        line: list[QPointF],
        name: str,
        colour: QColor,
        spots: list[float],
    ) -> None:
        """Name a line at its end, moved aside where another name stands."""
        if not line:
            return
        y = line[-1].y()
        while any(abs(y - other) < 13 for other in spots):
            y += 13 if y < frame.center().y() else -13
        spots.append(y)
        painter.setPen(colour)
        box = QRectF(frame.right() + 4, y - 8, 52, 16)
        painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, name)
