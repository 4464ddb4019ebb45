"""Paints a ladder: the one drawing code of screen, picture file and sheet."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from railmap.bench.feeds import NOTHING
from railmap.ui.ladder.lettering import QtLettering
from railmap.ui.ladder.lit import Lit
from railmap.ui.ladder.scene import LadderScene
from railmap.ui.ladder.shapes import Bar, Box, Drawing, Fall, Text
from railmap.ui.ladder.signs import paint_sign
from railmap.ui.ladder.swatches import paint_legend
from railmap.ui.ladder.tiles import paint_hatched_edge, paint_tile
from railmap.ui.theme import Theme, ink_on

Solid = Qt.PenStyle.SolidLine
DIM = 110
"""How strongly what has no part in the selected feed is drawn, of 255."""


def paint_ladder(painter: QPainter, rect: QRectF, scene: LadderScene, theme: Theme) -> None:
    """Paint a ladder.

    Parameters
    ----------
    painter : QPainter
        Its units are pixels of the drawing; scale it for other devices.
    rect : QRectF
        Where to paint; the ladder lays itself out for it.
    scene : LadderScene
        What to paint.
    theme : Theme
        Colours.
    """
    scene.set_room(Box(rect.left(), rect.top(), rect.right(), rect.bottom()))
    drawing, letters, lit = scene.drawing(), scene.letters, scene.lit
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _paint_ground(painter, drawing, theme)
    painter.save()
    # A hair more than the drawing, so that lines on its edge keep their width.
    painter.setClipRect(rect_of(drawing.clip.grown(1)), Qt.ClipOperation.IntersectClip)
    _paint_limits(painter, drawing, theme)
    _paint_leaders(painter, drawing, theme, lit)
    for fall in drawing.falls:
        _paint_line(painter, fall, theme, lit.state(fall.keys))
    for bar in drawing.bars:
        _paint_bar(painter, bar, theme, lit.state((bar.key,)))
    _paint_dots(painter, drawing, theme.ink if lit.feed is NOTHING else theme.soft_ink)
    for fall in drawing.falls:
        paint_tile(painter, fall, theme, lit.state(fall.keys))
    painter.restore()
    for sign in drawing.signs:
        at = QPointF(sign.x, sign.y)
        paint_sign(painter, at, sign.verdict, sign.stage, sign.elsewhere, theme)
    paint_legend(painter, drawing.legend, theme)
    _paint_texts(painter, drawing.texts, theme, letters, lit)
    painter.restore()


def rect_of(box: Box) -> QRectF:
    """Return a box as Qt has it."""
    return QRectF(box.left, box.top, box.width, box.height)


def line_of(box: Box) -> QLineF:
    """Return a line as Qt has it."""
    return QLineF(box.left, box.top, box.right, box.bottom)


def faded(colour: QColor, alpha: int) -> QColor:
    """Return a colour, less strong."""
    found = QColor(colour)
    found.setAlpha(alpha)
    return found


def _paint_ground(painter: QPainter, drawing: Drawing, theme: Theme) -> None:
    painter.setPen(QPen(theme.line, 1))
    painter.setBrush(theme.board)
    for column in drawing.columns:
        painter.drawRoundedRect(rect_of(column), 4, 4)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(theme.grid, 1))
    painter.drawLines([line_of(line) for line in drawing.grid])
    if drawing.zero is not None:
        painter.setPen(QPen(theme.soft_ink, 1.6))
        painter.drawLine(line_of(drawing.zero))


def _paint_limits(painter: QPainter, drawing: Drawing, theme: Theme) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(faded(theme.good, 64 if theme.dark else 48))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.drawRects([rect_of(box) for box in drawing.bands])
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(_dashed(theme.soft_ink, 1.1, (4, 3)))
    painter.drawLines([line_of(line) for line in drawing.labels])
    for limit in drawing.limits:
        paint_hatched_edge(painter, limit, theme)
    painter.setPen(_dashed(theme.soft_ink, 1.6, (2, 2)))
    painter.drawLines([line_of(line) for line in drawing.ghosts])


def _dashed(colour: QColor, wide: float, pattern: tuple[float, float]) -> QPen:
    pen = QPen(colour, wide, Solid, Qt.PenCapStyle.FlatCap)
    pen.setDashPattern(list(pattern))
    return pen


def _paint_leaders(painter: QPainter, drawing: Drawing, theme: Theme, lit: Lit) -> None:
    plain: list[QLineF] = []
    strong: list[QLineF] = []
    for line, key in drawing.leaders:
        picked = lit.state((key,)) == "picked"
        (strong if picked else plain).append(line_of(line))
    painter.setPen(QPen(faded(theme.soft_ink, 120), 0.8))
    painter.drawLines(plain)
    painter.setPen(QPen(theme.accent, 1.2))
    painter.drawLines(strong)


def _paint_line(painter: QPainter, fall: Fall, theme: Theme, state: str) -> None:
    colour, wide = theme.ink, fall.thick
    if state in ("picked", "path"):
        colour, wide = theme.feed, wide + 0.8
    elif state == "dim":
        colour = faded(colour, DIM)
    pen = QPen(colour, wide, Solid, Qt.PenCapStyle.FlatCap)
    if fall.out:
        pen = _dashed(colour, wide, (3, 2))
    painter.setPen(pen)
    painter.drawLine(line_of(fall.line))


def _paint_bar(painter: QPainter, bar: Bar, theme: Theme, state: str) -> None:
    wide = 1.2 if bar.thin else 2.4 if bar.step < 0 else 4.0
    colour = theme.ink if bar.step < 0 else theme.step_colour(bar.step)
    if state == "picked":
        painter.setPen(QPen(faded(theme.accent, 70), wide + 6, Solid, Qt.PenCapStyle.FlatCap))
        painter.drawLine(line_of(bar.line))
    if state in ("picked", "path"):
        colour, wide = theme.feed, wide + 0.8
    elif state == "dim":
        colour = faded(colour, DIM)
    painter.setPen(QPen(colour, wide, Solid, Qt.PenCapStyle.FlatCap))
    painter.drawLine(line_of(bar.line))


def _paint_dots(painter: QPainter, drawing: Drawing, colour: QColor) -> None:
    """Dot what meets; lines that only cross have no dot."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    rungs: dict[float, list[Box]] = {}
    for bar in drawing.bars:
        rungs.setdefault(round(bar.line.top, 3), []).append(bar.line)
    for fall in drawing.falls:
        for y in {fall.line.top, fall.line.bottom}:
            here = rungs.get(round(y, 3), ())
            if any(line.left - 0.5 <= fall.line.left <= line.right + 0.5 for line in here):
                painter.drawEllipse(QPointF(fall.line.left, y), 2.4, 2.4)


def _paint_texts(
    painter: QPainter, texts: Iterable[Text], theme: Theme, letters: QtLettering, lit: Lit
) -> None:
    ground = faded(theme.board, 215)
    for text in texts:
        state = lit.state(text.keys) if text.keys else "plain"
        if state == "picked":
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.accent)
            painter.drawRoundedRect(rect_of(text.box).adjusted(-2, 0, 2, 0), 2, 2)
        elif text.filled:
            painter.fillRect(rect_of(text.box).adjusted(-1, 1, 1, -1), ground)
        _paint_spans(painter, text, theme, letters, state)


def _paint_spans(
    painter: QPainter, text: Text, theme: Theme, letters: QtLettering, state: str
) -> None:
    left, base = text.box.left, text.box.top + letters.ascent(text.size)
    for span in text.spans:
        ink = theme.soft_ink if text.soft or state == "dim" else theme.ink
        if state == "picked":
            ink = ink_on(theme.accent, theme)
        elif span.warn:
            ink = theme.warn
        painter.setPen(ink)
        painter.setFont(letters.font(span.bold, text.size))
        painter.drawText(QPointF(left, base), span.text)
        left += letters.width(span.text, span.bold, text.size)
