"""All runs of the floor in one item, so that a thousand lines cost one repaint."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from railmap.ui.canvas.items import PLAIN_BELOW, pixels_a_mm
from railmap.ui.canvas.layout import Pin
from railmap.ui.canvas.routing import Run
from railmap.ui.theme import Theme


class RunsItem(QGraphicsItem):
    """Every rail's lines, plugs and joints, and the returns to 0 V."""

    def __init__(self, runs: list[Run], grounds: list[Pin], theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._picked = ""
        self._path: frozenset[str] = frozenset()
        self._fed: frozenset[str] = frozenset()
        self.set_runs(runs, grounds)
        self.setZValue(-5)

    def set_runs(self, runs: list[Run], grounds: list[Pin]) -> None:
        """Show other runs."""
        self.prepareGeometryChange()
        self._runs = {run.node: run for run in runs}
        self._lines = {run.node: [QLineF(*line) for line in run.lines] for run in runs}
        self._colour_of = {node: i for i, node in enumerate(self._runs)}
        self._grounds = [line for pin in grounds for line in _return_mark(pin)]
        self._box = self._bounds()

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def set_marks(self, picked: str, path: frozenset[str], fed: frozenset[str]) -> None:
        """Light the selected rail, its feed path, and what it feeds."""
        self._picked, self._path, self._fed = picked, path, fed
        self.update()

    def colour(self, node: str) -> QColor:
        """Return the colour of a rail."""
        rails = self._theme.rails
        return rails[self._colour_of.get(node, 0) % len(rails)]

    def node_at(self, point: QPointF, reach_mm: float) -> str:
        """Return the rail whose line is nearest to a point and within reach, or nothing."""
        best, found = reach_mm, ""
        for node, lines in self._lines.items():
            for line in lines:
                far = _distance(line, point)
                if far <= best:
                    best, found = far, node
        return found

    def _bounds(self) -> QRectF:
        box = QRectF()
        for lines in (*self._lines.values(), self._grounds):
            for line in lines:
                box = box.united(QRectF(line.p1(), line.p2()).normalized().adjusted(-2, -2, 2, 2))
        return box

    def boundingRect(self) -> QRectF:
        """See Qt."""
        return self._box

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(self._theme.soft_ink, 0.55))
        painter.drawLines(self._grounds)
        for node, lines in self._lines.items():
            painter.setPen(self._pen(node, scale))
            painter.drawLines(lines)
        if scale >= PLAIN_BELOW:
            self._paint_marks(painter)

    def _pen(self, node: str, scale: float) -> QPen:
        wide, style, colour = 0.8, Qt.PenStyle.SolidLine, self.colour(node)
        if node == self._picked or node in self._path:
            wide, colour = 1.7, self._theme.feed
        elif node in self._fed:
            wide = 1.3
        elif self._picked or self._path:
            colour = QColor(colour)
            colour.setAlpha(120)
        return QPen(colour, max(wide, 0.9 / scale), style, Qt.PenCapStyle.SquareCap)

    def _paint_marks(self, painter: QPainter) -> None:
        painter.setPen(Qt.PenStyle.NoPen)
        for node, run in self._runs.items():
            painter.setBrush(self.colour(node))
            for x, y in run.dots:
                painter.drawEllipse(QPointF(x, y), 1.1, 1.1)
            for x, y in run.plugs:
                painter.drawRoundedRect(QRectF(x - 2.2, y - 1.5, 4.4, 3.0), 0.8, 0.8)


def _return_mark(pin: Pin) -> list[QLineF]:
    """Return the mark of a pin on 0 V: a short lead and a bar, as for a frame connection."""
    if pin.pin in ("common", "base"):
        x, y = pin.x, pin.y + 2.2
        return [QLineF(pin.x, pin.y, x, y), QLineF(x - 2.4, y, x + 2.4, y)]
    x = pin.x + 2.4 * pin.out
    return [QLineF(pin.x, pin.y, x, pin.y), QLineF(x, pin.y - 2.4, x, pin.y + 2.4)]


def _distance(line: QLineF, point: QPointF) -> float:
    """Return the distance of a point from a level or upright line."""
    x0, x1 = sorted((line.x1(), line.x2()))
    y0, y1 = sorted((line.y1(), line.y2()))
    dx = max(x0 - point.x(), 0.0, point.x() - x1)
    dy = max(y0 - point.y(), 0.0, point.y() - y1)
    return float((dx * dx + dy * dy) ** 0.5)
