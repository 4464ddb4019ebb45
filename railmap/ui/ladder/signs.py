"""Signs of readings: the shape tells the verdict, the filling the stage."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF

from railmap.ui.theme import Theme, fit_step

SIZE = 5.0
"""Half width of a sign, pixels."""


def paint_sign(
    painter: QPainter, at: QPointF, verdict: str, stage: str, elsewhere: bool, theme: Theme
) -> None:
    """Paint the sign of a reading.

    Parameters
    ----------
    painter : QPainter
        Where to paint.
    at : QPointF
        Its middle.
    verdict : str
        ``ok`` is a diamond, ``watch`` a triangle, ``act`` a square, anything else a circle.
    stage : str
        Full as received, empty after renewal, with a dot at a later visit.
    elsewhere : bool
        True for one that was read in another setup than is shown: its edge is broken.
    theme : Theme
        Colours.
    """
    step = fit_step(verdict)
    colour = theme.soft_ink if step < 0 else theme.step_colour(step)
    painter.setPen(QPen(colour, 1.6))
    painter.setBrush(colour if stage == "as received" and not elsewhere else theme.board)
    if elsewhere:
        painter.setPen(QPen(colour, 1.6, Qt.PenStyle.DotLine))
    corners = _CORNERS.get(verdict)
    if corners is None:
        painter.drawEllipse(at, SIZE - 0.5, SIZE - 0.5)
    else:
        painter.drawPolygon(QPolygonF([at + QPointF(x, y) * SIZE for x, y in corners]))
    if stage == "later visit":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawEllipse(at, 1.6, 1.6)


_CORNERS = {
    "ok": ((0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)),
    "watch": ((0.0, -1.0), (1.0, 0.8), (-1.0, 0.8)),
    "act": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
}
