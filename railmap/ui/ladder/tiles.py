"""Tiles of the ladder: what is between rungs, coloured by stress, and the edges of limits."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from railmap.ui.canvas.symbols import AXIS, WIDTH, symbol
from railmap.ui.ladder.shapes import Box, Fall
from railmap.ui.theme import Theme, ink_on

SYMBOL_FROM = (14.0, 20.0)
"""Size from which a tile has a symbol."""
UPRIGHT = ("Diode", "Bridge", "Zener", "PassTransistor", "Choke", "Converter", "Source")


def paint_tile(painter: QPainter, fall: Fall, theme: Theme, state: str) -> None:
    """Paint the tile of a drop, feeder or foot."""
    ground = theme.step_colour(fall.step)
    painter.setPen(_edge(fall, theme, state))
    painter.setBrush(ground)
    box = QRectF(fall.tile.left, fall.tile.top, fall.tile.width, fall.tile.height)
    if fall.kind == "foot":
        painter.drawPolygon(_triangle(box, fall.outward))
        return
    if fall.kind == "source":
        painter.drawEllipse(box)
        _paint_source(painter, box, fall, theme, ground)
        return
    painter.drawRoundedRect(box, 2, 2)
    if fall.over:
        paint_hatch(painter, box, ink_on(ground, theme))
    if fall.kind == "feeder":
        painter.setPen(_edge(fall, theme, state))
        _paint_winding(painter, fall, theme)
    if fall.kind == "drop" and fall.symbol in UPRIGHT:
        _paint_symbol(painter, box, fall, ink_on(ground, theme))


def _edge(fall: Fall, theme: Theme, state: str) -> QPen:
    if state == "picked":
        return QPen(theme.accent, 2.6)
    if state == "path":
        return QPen(theme.feed, 1.8)
    if fall.out:
        return QPen(theme.warn, 1.6, Qt.PenStyle.DashLine)
    return QPen(theme.ink if state != "dim" else theme.soft_ink, 1.0)


def _triangle(box: QRectF, outward: int) -> QPolygonF:
    base, tip = (box.top(), box.bottom()) if outward > 0 else (box.bottom(), box.top())
    return QPolygonF([QPointF(box.left(), base), QPointF(box.right(), base),
                      QPointF(box.center().x(), tip)])  # fmt: skip


def paint_hatch(painter: QPainter, box: QRectF, ink: QColor) -> None:
    """Hatch a box, as above 100 percent."""
    colour = QColor(ink)
    colour.setAlpha(150)
    painter.setPen(QPen(colour, 1.0))
    lines: list[QLineF] = []
    start = box.top() - box.width() + 4
    while start < box.bottom():
        # From (left, y) down to (right, y + width), cut to the box.
        y0, y1 = max(start, box.top()), min(start + box.width(), box.bottom())
        lines.append(QLineF(box.left() + y0 - start, y0, box.left() + y1 - start, y1))
        start += 4
    painter.drawLines(lines)


def paint_hatched_edge(painter: QPainter, limit: Box, theme: Theme) -> None:
    """Paint a limit: a line, hatched on its forbidden side."""
    painter.setPen(QPen(theme.warn, 1.4))
    painter.drawLine(QLineF(limit.left, limit.top, limit.right, limit.top))
    painter.setPen(QPen(theme.warn, 0.9))
    lines: list[QLineF] = []
    x = limit.left + 1.0
    while x < limit.right - 4:
        lines.append(QLineF(x, limit.top, x + 4, limit.bottom))
        x += 5
    painter.drawLines(lines)


def _paint_winding(painter: QPainter, fall: Fall, theme: Theme) -> None:
    """Paint the mark of an alternating source at the far end of a feeder."""
    far = fall.line.top if fall.outward < 0 else fall.line.bottom
    middle = QPointF(fall.line.left, far - fall.outward * 8)
    ground = theme.step_colour(fall.far_step)
    painter.setBrush(ground)
    painter.drawEllipse(middle, 8, 8)
    if fall.far_over:
        inside = QRectF(middle.x() - 5, middle.y() - 5, 10, 10)
        paint_hatch(painter, inside, ink_on(ground, theme))
    path = QPainterPath(middle - QPointF(5, 0))
    path.cubicTo(middle + QPointF(-2.5, -7), middle + QPointF(-2, -5), middle)
    path.cubicTo(middle + QPointF(2, 5), middle + QPointF(2.5, 7), middle + QPointF(5, 0))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ink_on(ground, theme), 1.2))
    painter.drawPath(path)


def _paint_source(painter: QPainter, box: QRectF, fall: Fall, theme: Theme, ground: QColor) -> None:
    """Paint a source of direct current: a circle, with plus towards the positive end."""
    if fall.over:
        paint_hatch(painter, box.adjusted(2, 2, -2, -2), ink_on(ground, theme))
    painter.setPen(QPen(ink_on(ground, theme), 1.3))
    middle = box.center()
    for up, crossed in ((-4, fall.outward > 0), (4, fall.outward < 0)):
        y = middle.y() + up
        painter.drawLine(QLineF(middle.x() - 2.5, y, middle.x() + 2.5, y))
        if crossed:
            painter.drawLine(QLineF(middle.x(), y - 2.5, middle.x(), y + 2.5))


def _paint_symbol(painter: QPainter, box: QRectF, fall: Fall, ink: QColor) -> None:
    if box.width() < SYMBOL_FROM[0] or box.height() < SYMBOL_FROM[1]:
        return
    painter.save()
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    painter.translate(box.center())
    painter.rotate(90.0 * fall.outward)
    scale = box.height() / WIDTH
    painter.scale(scale, scale)
    painter.translate(0.0, -AXIS)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ink, 1.0 / scale))
    painter.drawPath(symbol(fall.symbol))
    painter.restore()
