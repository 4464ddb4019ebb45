"""What the colours mean: a strip with its marks."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QWidget

from railmap.ui.canvas.items import draw_text, text_font
from railmap.ui.faces import BY_STRESS, Colouring
from railmap.ui.theme import Theme, ink_on


def draw_legend(
    painter: QPainter, box: QRectF, theme: Theme, colouring: Colouring = BY_STRESS
) -> None:
    """Paint the legend into a box; lengths in the painter's units, text in millimetres."""
    strip = QRectF(box.left(), box.top() + 5.4, box.width(), 3.4)
    painter.setPen(theme.soft_ink)
    top = QRectF(box.left(), box.top(), box.width(), 5)
    draw_text(painter, top, Qt.AlignmentFlag.AlignLeft, colouring.title, text_font(3.6))
    wide = strip.width() / colouring.count
    for step in range(colouring.count):
        cell = QRectF(strip.left() + step * wide, strip.top(), wide + 0.05, strip.height())
        colour = theme.step_colour(colouring.first + step)
        painter.fillRect(cell, colour)
        if step >= colouring.hatched_from:
            ink = QColor(ink_on(colour, theme))
            ink.setAlpha(130)
            painter.setPen(QPen(ink, 0.4))
            painter.drawLine(cell.topRight() - QPointF(0.05, 0), cell.bottomLeft())
    painter.setPen(theme.ink)
    for part, word in colouring.marks:
        middle = strip.left() + part * strip.width()
        text = QRectF(middle - 8, strip.bottom() + 0.2, 16, 4.6)
        flag = Qt.AlignmentFlag.AlignHCenter
        if part == 0.0:
            text, flag = text.translated(8, 0), Qt.AlignmentFlag.AlignLeft
        elif part == 1.0:
            text, flag = text.translated(-8, 0), Qt.AlignmentFlag.AlignRight
        draw_text(painter, text, flag, word, text_font(3.6))


class LegendWidget(QWidget):
    """The legend as a small window over the corner of the floor."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme, self._colouring = theme, BY_STRESS
        self.setFixedSize(262, 48)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.set_colouring(BY_STRESS)

    def set_colouring(self, colouring: Colouring) -> None:
        """Explain other colours."""
        self._colouring = colouring
        self.setAccessibleName(f"Colours: {colouring.title}")
        self.update()

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
        box = QRectF(3, 1.4, self.width() / 2.9 - 6, 13)
        draw_legend(painter, box, self._theme, self._colouring)
