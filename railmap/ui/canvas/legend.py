"""What the colours mean: a strip from 0 to above 100 percent of the rating."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QWidget

from railmap.ui.canvas.items import draw_text, text_font
from railmap.ui.theme import STEP_SIZE, STEPS, Theme, ink_on

MARKS = (0.0, 0.5, 0.8, 1.0)


def draw_legend(painter: QPainter, box: QRectF, theme: Theme) -> None:
    """Paint the legend into a box; lengths in the painter's units, text in millimetres."""
    strip = QRectF(box.left(), box.top() + 5.4, box.width(), 3.4)
    painter.setPen(theme.soft_ink)
    top = QRectF(box.left(), box.top(), box.width(), 5)
    title = "Load in percent of the rating where it stands"
    draw_text(painter, top, Qt.AlignmentFlag.AlignLeft, title, text_font(3.6))
    wide = strip.width() / STEPS
    for step in range(STEPS):
        cell = QRectF(strip.left() + step * wide, strip.top(), wide + 0.05, strip.height())
        painter.fillRect(cell, theme.stress[step])
        if (step + 1) * STEP_SIZE > 1.001:
            ink = QColor(ink_on(theme.stress[step], theme))
            ink.setAlpha(130)
            painter.setPen(QPen(ink, 0.4))
            painter.drawLine(cell.topRight() - QPointF(0.05, 0), cell.bottomLeft())
    painter.setPen(theme.ink)
    for mark in MARKS:
        x = strip.left() + mark / STEP_SIZE * wide
        text = QRectF(x - 8, strip.bottom() + 0.2, 16, 4.6)
        flag = Qt.AlignmentFlag.AlignHCenter
        if mark == 0.0:
            text, flag = text.translated(8, 0), Qt.AlignmentFlag.AlignLeft
        draw_text(painter, text, flag, f"{mark * 100:.0f}", text_font(3.6))
    over = QRectF(strip.right() - 20, strip.bottom() + 0.2, 20, 4.6)
    draw_text(painter, over, Qt.AlignmentFlag.AlignRight, "over", text_font(3.6))


class LegendWidget(QWidget):
    """The legend as a small window over the corner of the floor."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setFixedSize(262, 48)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAccessibleName("Colours: load in percent of the rating")

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def paintEvent(self, event: object) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ground = QColor(self._theme.panel)
        ground.setAlpha(225)
        painter.setBrush(ground)
        painter.setPen(QPen(self._theme.line, 1))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 5, 5)
        painter.scale(2.9, 2.9)
        draw_legend(painter, QRectF(3, 1.4, self.width() / 2.9 - 6, 13), self._theme)
