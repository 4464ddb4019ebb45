"""Lights up what was found on the ladder."""

from __future__ import annotations

from collections.abc import Set

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from railmap.ui.ladder.shapes import Box, Drawing, Key
from railmap.ui.theme import Theme

RING_PX = 3.0


def boxes_found(drawing: Drawing, keys: Set[Key]) -> list[Box]:
    """Return the tiles, rungs and names of what was found, as far as they are in sight."""
    found = [fall.tile for fall in drawing.falls if not keys.isdisjoint(fall.keys)]
    named = [text for text in drawing.texts if not keys.isdisjoint(text.keys)]
    found += [text.box for text in named if len(text.keys) == 1 and text.keys[0][0] == "rail"]
    said = {text.keys[0] for text in named}
    return found + [bar.line for bar in drawing.bars if bar.key in keys and bar.key not in said]


def paint_found(painter: QPainter, drawing: Drawing, keys: Set[Key], theme: Theme) -> None:
    """Paint a ring around everything that was found."""
    if not keys:
        return
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for box in boxes_found(drawing, keys):
        around = box.grown(RING_PX)
        ring = QRectF(around.left, around.top, around.width, around.height)
        # Two lines, so that it is seen on every ground.
        for colour, wide in ((theme.panel, 4.0), (theme.found, 2.0)):
            painter.setPen(QPen(colour, wide))
            painter.drawRoundedRect(ring, 4, 4)
    painter.restore()
