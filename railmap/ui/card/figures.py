"""The figures of what is selected, and the bar that shows how hard it works."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from railmap.ui.theme import STEP_SIZE, STEPS, Theme, ink_on, stress_step

MOST = STEPS * STEP_SIZE
LEAST_POINTS = 6.0
"""Figures do not become smaller than this to find room."""


class Figures(QWidget):
    """A row of large figures with small captions."""

    HIGH = 60

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._rows: list[list[tuple[str, str, str]]] = []
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_rows(self, rows: list[list[tuple[str, str, str]]], theme: Theme) -> None:
        """Show rows of (caption, figure, ghost); a ghost is the figure without what is tried."""
        self._theme = theme
        if rows != self._rows:
            taller = len(rows) != len(self._rows)
            self._rows = rows
            words = "; ".join(f"{c} {f}" for row in rows for c, f, _ in row)
            self.setAccessibleName(words)
            if taller:
                self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(220, max(1, len(self._rows)) * self.HIGH)

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return QSize(160, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        for number, row in enumerate(self._rows):
            wide = self.width() / max(1, len(row))
            for column, entry in enumerate(row):
                box = QRectF(column * wide, number * self.HIGH, wide - 6, self.HIGH)
                self._paint_one(painter, box, *entry)

    def _paint_one(
        self, painter: QPainter, box: QRectF, caption: str, figure: str, ghost: str
    ) -> None:
        small, large = QFont(self.font()), QFont(self.font())
        small.setPointSizeF(self.font().pointSizeF() * 0.86)
        large.setPointSizeF(self.font().pointSizeF() * 1.45)
        large.setBold(True)
        # A smaller font is not smaller by the same ratio, for its hints: measured until it fits.
        while large.pointSizeF() > LEAST_POINTS and _width(large, figure) > box.width():
            large.setPointSizeF(large.pointSizeF() - 0.25)
        painter.setPen(self._theme.soft_ink)
        painter.setFont(small)
        side = Qt.AlignmentFlag.AlignLeft
        painter.drawText(QRectF(box.x(), box.y(), box.width(), 16), side, caption)
        if ghost and ghost != figure:
            under = QRectF(box.x(), box.bottom() - 18, box.width(), 16)
            painter.drawText(under, side, f"was {ghost}")
        painter.setPen(self._theme.ink)
        painter.setFont(large)
        low = QRectF(box.x(), box.y() + 14, box.width(), 26)
        painter.drawText(low, side | Qt.AlignmentFlag.AlignVCenter, figure)


def _width(font: QFont, text: str) -> float:
    return QFontMetricsF(font).horizontalAdvance(text)


class StressBar(QWidget):
    """How much of a limit is used: a bar with marks at 50, 80 and 100 percent."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._entry = ("", "", math.nan)
        self.setFixedHeight(38)

    def show_check(self, what: str, text: str, ratio: float, theme: Theme) -> None:
        """Show one limit: what it limits, the figures in words, and the ratio."""
        self._theme = theme
        self._entry = (what, text, ratio)
        self.setAccessibleName(f"{what}, {text}")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        what, text, ratio = self._entry
        painter = QPainter(self)
        theme = self._theme
        painter.setPen(theme.ink)
        top = QRectF(0, 0, self.width(), 18)
        painter.drawText(top, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, what)
        painter.setPen(theme.soft_ink)
        painter.drawText(top, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
        bar = QRectF(0.5, 20.5, self.width() - 1, 12)
        painter.setPen(QPen(theme.line, 1))
        painter.setBrush(theme.field)
        painter.drawRect(bar)
        if not math.isnan(ratio):
            self._fill(painter, bar, ratio)
        painter.setPen(QPen(theme.soft_ink, 1))
        for mark in (0.5, 0.8, 1.0):
            x = bar.left() + bar.width() * mark / MOST
            painter.drawLine(QPointF(x, bar.bottom() - (12 if mark == 1 else 5)),
                             QPointF(x, bar.bottom()))  # fmt: skip

    def _fill(self, painter: QPainter, bar: QRectF, ratio: float) -> None:
        used = QRectF(bar)
        used.setWidth(bar.width() * min(max(ratio, 0.0) / MOST, 1.0))
        colour = self._theme.stress[stress_step(ratio)]
        painter.fillRect(used.adjusted(1, 1, 0, 0), colour)
        if ratio > 1:
            self._hatch(painter, used, colour)

    def _hatch(self, painter: QPainter, box: QRectF, colour: QColor) -> None:
        painter.save()
        painter.setClipRect(box)
        ink = QColor(ink_on(colour, self._theme))
        ink.setAlpha(110)
        painter.setPen(QPen(ink, 1))
        x = box.left()
        while x < box.right() + box.height():
            painter.drawLine(QPointF(x, box.top()), QPointF(x - box.height(), box.bottom()))
            x += 6
        painter.restore()
