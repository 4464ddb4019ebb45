"""Marks on a board: notes, pins, scorched spots and swollen capacitors."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsRectItem, QStyleOptionGraphicsItem, QWidget

from railmap.model.board import Mark
from railmap.ui.canvas.items import LEFT, PLAIN_BELOW, draw_text, pixels_a_mm, text_font
from railmap.ui.theme import Theme

MARK_WORDS = {
    "note": "Note", "pin": "Pin", "scorch": "Scorched spot", "bulge": "Swollen or leaking"
}  # fmt: skip
RADIUS_MM = 3.2
TEXT_MM = 3.4
MOST_LETTERS = 40


class MarkItem(QGraphicsRectItem):
    """One mark: its sign, and beside it what there is to say.

    Attributes
    ----------
    board : str
        Its board.
    number : int
        Its number among the marks of that board, from 0.
    """

    def __init__(self, board: str, number: int, mark: Mark, at: QPointF, theme: Theme) -> None:
        super().__init__()
        self.board, self.number, self._mark, self._theme = board, number, mark, theme
        self.setPen(Qt.PenStyle.NoPen)
        self.setZValue(1)
        self.setPos(at)
        said = " ".join(text for text in (mark.date, mark.text) if text)
        self._said = said if len(said) <= MOST_LETTERS else f"{said[: MOST_LETTERS - 1]}…"
        wide = len(self._said) * TEXT_MM * 0.62
        self._label = QRectF(RADIUS_MM + 1, -TEXT_MM * 0.8, wide, TEXT_MM * 1.6)
        sign = QRectF(-RADIUS_MM, -RADIUS_MM, 2 * RADIUS_MM, 2 * RADIUS_MM)
        self.setRect((sign.united(self._label) if said else sign).adjusted(-1, -1, 1, 1))
        words = f"{MARK_WORDS[mark.kind]} {mark.date}: {mark.text}"
        self.setToolTip(words)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def holds(self, point: QPointF) -> bool:
        """Tell whether a point of the floor is on its sign."""
        step = point - self.pos()
        return max(abs(step.x()), abs(step.y())) <= RADIUS_MM

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        theme = self._theme
        ink = theme.warn if self._mark.kind in ("scorch", "bulge") else theme.accent
        ground = QColor(theme.board)
        ground.setAlpha(225)
        painter.setPen(QPen(ink, 0.7))
        painter.setBrush(ground)
        painter.drawPath(_signs(self._mark.kind))
        if self._said and pixels_a_mm(option, painter) >= PLAIN_BELOW:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.drawRoundedRect(self._label, 0.8, 0.8)
            painter.setPen(theme.ink)
            draw_text(painter, self._label, LEFT, self._said, text_font(TEXT_MM))


def _signs(kind: str) -> QPainterPath:
    """Return the sign of a kind of mark, around its place."""
    path = QPainterPath()
    if kind == "scorch":
        path.addEllipse(QPointF(0, 0), 3, 2.6)
        for x in (-1.6, 0.0, 1.6):
            path.moveTo(x, 1.6)
            path.cubicTo(x - 1.2, 0.4, x + 1.2, -0.4, x, -1.6)
    elif kind == "bulge":
        path.addRect(QRectF(-2.4, -0.6, 4.8, 3.4))
        path.moveTo(-2.4, -0.6)
        path.cubicTo(-1.6, -3.6, 1.6, -3.6, 2.4, -0.6)
    elif kind == "pin":
        path.addEllipse(QPointF(0, -1.4), 1.6, 1.6)
        path.moveTo(0, 0.2)
        path.lineTo(0, 3)
    else:
        path.addRect(QRectF(-2.4, -2.8, 4.8, 5.6))
        for y in (-1.2, 0.2, 1.6):
            path.moveTo(-1.4, y)
            path.lineTo(1.4, y)
    return path
