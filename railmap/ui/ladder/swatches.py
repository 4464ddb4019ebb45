"""Samples of the ladder's marks in its legend."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen

from railmap.model.record import STAGES
from railmap.ui.ladder.shapes import Box, Swatch
from railmap.ui.ladder.signs import paint_sign
from railmap.ui.ladder.tiles import paint_hatch, paint_hatched_edge
from railmap.ui.theme import STEP_SIZE, Theme, ink_on

OVER_STEP = int(1.1 / STEP_SIZE)


def paint_legend(painter: QPainter, swatches: Iterable[Swatch], theme: Theme) -> None:
    """Paint the samples of a legend."""
    for mark, box in swatches:
        if mark in ("forecast", "label", "ghost"):
            _paint_line(painter, mark, box, theme)
        elif mark in (*STAGES, "elsewhere", "watch", "act"):
            _paint_sign(painter, mark, box, theme)
        else:
            _paint_area(painter, mark, box, theme)


def _paint_line(painter: QPainter, mark: str, box: Box, theme: Theme) -> None:
    y = (box.top + box.bottom) / 2
    pen = QPen(theme.ink, 2.4)
    if mark != "forecast":
        pen = QPen(theme.soft_ink, 1.1 if mark == "label" else 1.6)
        pen.setDashPattern([4, 3] if mark == "label" else [2, 2])
    painter.setPen(pen)
    painter.drawLine(QLineF(box.left, y, box.right, y))


def _paint_area(painter: QPainter, mark: str, box: Box, theme: Theme) -> None:
    area = QRectF(box.left, box.top, box.width, box.height)
    if mark == "band":
        colour = QColor(theme.good)
        colour.setAlpha(64 if theme.dark else 48)
        painter.fillRect(area, colour)
    elif mark == "limit":
        y = (box.top + box.bottom) / 2
        paint_hatched_edge(painter, Box(box.left, y + 2, box.right, y - 2), theme)
    elif mark in ("shift", "fit"):
        colours = theme.shift if mark == "shift" else theme.fit
        wide = area.width() / len(colours)
        for step, colour in enumerate(colours):
            painter.fillRect(QRectF(area.left() + step * wide, area.top(), wide + 0.1,
                                    area.height()), colour)  # fmt: skip
    else:
        ground = theme.step_colour(OVER_STEP)
        painter.setPen(QPen(theme.ink, 1.0))
        painter.setBrush(ground)
        painter.drawRoundedRect(area, 2, 2)
        paint_hatch(painter, area, ink_on(ground, theme))


def _paint_sign(painter: QPainter, mark: str, box: Box, theme: Theme) -> None:
    at = QPointF((box.left + box.right) / 2, (box.top + box.bottom) / 2)
    verdict = mark if mark in ("watch", "act") else "ok"
    stage = mark if mark in STAGES else STAGES[0]
    paint_sign(painter, at, verdict, stage, mark == "elsewhere", theme)
