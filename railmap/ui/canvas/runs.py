"""All runs of the floor in one item, so that a thousand lines cost one repaint."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen
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
        self._steps: Mapping[str, int] | None = None
        self.set_runs(runs, grounds)
        self.setZValue(-5)

    def set_runs(self, runs: list[Run], grounds: list[Pin]) -> None:
        """Show other runs."""
        self.prepareGeometryChange()
        self._lines = {run.node: [QLineF(*line) for line in run.lines] for run in runs}
        self._number = {node: i for i, node in enumerate(self._lines)}
        self._joints = _joints(runs, len(self._theme.rails))
        self._grounds = [line for pin in grounds for line in _return_mark(pin)]
        self._box = _bounds(runs, self._grounds)
        self._group()
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self._group()
        self.update()

    def set_marks(self, picked: str, path: frozenset[str], fed: frozenset[str]) -> None:
        """Light the selected rail, its feed path, and what it feeds."""
        marks = (picked, path, fed)
        if marks != (self._picked, self._path, self._fed):
            self._picked, self._path, self._fed = marks
            self._group()
            self.update()

    def set_steps(self, steps: Mapping[str, int] | None) -> None:
        """Colour some rails by steps of the theme and the others softly; None: each in its own."""
        if steps != self._steps:
            self._steps = steps
            self._group()
            self.update()

    def colour(self, node: str) -> QColor:
        """Return the colour of a rail."""
        if self._steps is not None:
            step = self._steps.get(node)
            return self._theme.soft_ink if step is None else self._theme.step_colour(step)
        rails = self._theme.rails
        return rails[self._number.get(node, 0) % len(rails)]

    def node_at(self, point: QPointF, reach_mm: float) -> str:
        """Return the rail whose line is nearest to a point and within reach, or nothing."""
        best, found = reach_mm, ""
        for node, lines in self._lines.items():
            for line in lines:
                far = _distance(line, point)
                if far <= best:
                    best, found = far, node
        return found

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
        for colour, wide, lines in self._groups:
            line = max(wide, 0.9 / scale)
            painter.setPen(QPen(colour, line, Qt.PenStyle.SolidLine, Qt.PenCapStyle.SquareCap))
            painter.drawLines(lines)
        if scale >= PLAIN_BELOW:
            painter.setPen(Qt.PenStyle.NoPen)
            for colour, path in zip(self._theme.rails, self._joints, strict=True):
                painter.setBrush(colour if self._steps is None else self._theme.soft_ink)
                painter.drawPath(path)

    def _group(self) -> None:
        """Put lines with the same pen together, so that each pen is set once."""
        groups: dict[tuple[int, float], tuple[QColor, float, list[QLineF]]] = {}
        for node, lines in self._lines.items():
            colour, wide = self._look(node)
            groups.setdefault((colour.rgba(), wide), (colour, wide, []))[2].extend(lines)
        # Wide lines are those that are lit: they lie on top.
        self._groups = sorted(groups.values(), key=lambda group: group[1])

    def _look(self, node: str) -> tuple[QColor, float]:
        """Return colour and width of a rail's lines."""
        if node == self._picked or node in self._path:
            return self._theme.feed, 1.7
        colour = self.colour(node)
        if node in self._fed:
            return colour, 1.3
        if self._picked or self._path:
            colour = QColor(colour)
            colour.setAlpha(120)
        return colour, 0.8


def _joints(runs: list[Run], colours: int) -> list[QPainterPath]:
    """Return where lines meet and cross the edges of boards, one path a colour."""
    paths = [QPainterPath() for _ in range(colours)]
    for path in paths:
        path.setFillRule(Qt.FillRule.WindingFill)
    for number, run in enumerate(runs):
        path = paths[number % colours]
        for x, y in run.dots:
            path.addEllipse(QPointF(x, y), 1.1, 1.1)
        for x, y in run.plugs:
            path.addRoundedRect(QRectF(x - 2.2, y - 1.5, 4.4, 3.0), 0.8, 0.8)
    return paths


def _bounds(runs: list[Run], grounds: list[QLineF]) -> QRectF:
    """Return a box around all lines, with room for their width."""
    ends = [line for run in runs for line in run.lines]
    ends += [(line.x1(), line.y1(), line.x2(), line.y2()) for line in grounds]
    if not ends:
        return QRectF()
    points = np.array(ends).reshape(-1, 2)
    low, high = QPointF(*points.min(axis=0).tolist()), QPointF(*points.max(axis=0).tolist())
    return QRectF(low, high).adjusted(-2, -2, 2, 2)


def _return_mark(pin: Pin) -> list[QLineF]:
    """Return the mark of a pin on 0 V: a short lead and a bar, as for a frame connection."""
    if pin.down:
        x, y = pin.x, pin.y + 2.2 * pin.down
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
