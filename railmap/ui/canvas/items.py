"""What is painted on the floor: boards, tiles, rail labels. Everything is in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from railmap.ui.canvas.layout import turned
from railmap.ui.canvas.symbols import HEIGHT, WIDTH, symbol
from railmap.ui.theme import Theme, ink_on

TENTH = 0.1
"""Text is set in tenths of a millimetre, for fonts have no sizes below one."""
BIG_BELOW, PLAIN_BELOW = 2.1, 0.55
"""Pixels a millimetre below which tiles show large figures only, and none at all."""


def text_font(size_mm: float, bold: bool = False) -> QFont:
    """Return a font of a height in millimetres, for a painter scaled by :data:`TENTH`."""
    font = QFont()
    font.setPixelSize(max(1, round(size_mm / TENTH)))
    font.setBold(bold)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font


def draw_text(
    painter: QPainter, box: QRectF, flags: Qt.AlignmentFlag, text: str, font: QFont
) -> None:
    """Draw text in a box given in millimetres, set smaller if it would not fit."""
    painter.save()
    painter.scale(TENTH, TENTH)
    room = QRectF(box.x() * 10, box.y() * 10, box.width() * 10, box.height() * 10)
    painter.setFont(font)
    wide = painter.fontMetrics().horizontalAdvance(text)
    if wide > room.width() > 0:
        small = QFont(font)
        small.setPixelSize(max(1, int(font.pixelSize() * room.width() / wide)))
        painter.setFont(small)
    painter.drawText(room, flags | Qt.TextFlag.TextSingleLine, text)
    painter.restore()


def pixels_a_mm(option: QStyleOptionGraphicsItem, painter: QPainter) -> float:
    """Return the scale at which an item is painted."""
    return option.levelOfDetailFromTransform(painter.worldTransform())


TAG_MM = 4.3
"""Height of the text of a rail's label."""

LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
MIDDLE = Qt.AlignmentFlag.AlignCenter


class BoardItem(QGraphicsItem):
    """A board to scale, with its name and size."""

    def __init__(self, name: str, rect: QRectF, theme: Theme) -> None:
        super().__init__()
        self.name = name
        self._size = rect.size()
        self._theme = theme
        self._picked = False
        self.setPos(rect.topLeft())
        self.setZValue(-10)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def set_picked(self, picked: bool) -> None:
        """Show that it is selected."""
        if picked != self._picked:
            self._picked = picked
            self.update()

    def boundingRect(self) -> QRectF:
        """See Qt."""
        return QRectF(QPointF(0, 0), self._size).adjusted(-1, -1, 1, 1)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        theme = self._theme
        rect = QRectF(QPointF(0, 0), self._size)
        edge = theme.accent if self._picked else theme.board_edge
        painter.setPen(QPen(edge, 1.0 if self._picked else 0.6))
        painter.setBrush(theme.board)
        painter.drawRoundedRect(rect, 3, 3)
        if pixels_a_mm(option, painter) < PLAIN_BELOW:
            return
        painter.setBrush(theme.floor)
        painter.setPen(QPen(theme.board_edge, 0.4))
        for x in (4.5, rect.width() - 4.5):
            for y in (4.5, rect.height() - 4.5):
                painter.drawEllipse(QPointF(x, y), 1.6, 1.6)
        painter.setPen(theme.soft_ink)
        name = QRectF(9, 1.8, rect.width() - 60, 6.4)
        draw_text(painter, name, LEFT, self.name, text_font(5.0, bold=True))
        size = f"{rect.width():.0f} × {rect.height():.0f} mm"
        box = QRectF(rect.width() - 49, 1.8, 40, 6.4)
        draw_text(painter, box, RIGHT, size, text_font(3.6))


@dataclass(frozen=True)
class Face:
    """What a tile says.

    Attributes
    ----------
    kind : str
        Kind of part.
    flag : bool
        Other state of its symbol.
    ref, value, figure, second : str
        Reference, value, main figure (percent or amps) and a second one.
    step : int
        Colour step, -1 for plain.
    over : bool
        True above its rating.
    changed : bool
        True while another value is tried on it.
    out : bool
        True if it is out of the circuit.
    """

    kind: str
    flag: bool
    ref: str
    value: str
    figure: str
    second: str
    step: int
    over: bool
    changed: bool
    out: bool


class PartItem(QGraphicsItem):
    """A part: its symbol on a tile coloured by stress, with its reference and figure."""

    def __init__(self, face: Face, turn: int, middle: QPointF, theme: Theme) -> None:
        super().__init__()
        self.face = face
        self._turn = turn
        self._theme = theme
        self._picked = False
        self._lit = 0
        self.setPos(middle)
        self.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)

    @property
    def ref(self) -> str:
        """Reference of the part it shows."""
        return self.face.ref

    def set_face(self, face: Face) -> None:
        """Show other figures; repaints only if something to be seen has changed."""
        if face != self.face:
            self.face = face
            self.update()

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def set_marks(self, picked: bool, lit: int) -> None:
        """Show that it is selected, on the feed path (1), or fed by what is selected (2)."""
        if (picked, lit) != (self._picked, self._lit):
            self._picked, self._lit = picked, lit
            self.setZValue(3 if picked else 0)
            self.update()

    def boundingRect(self) -> QRectF:
        """See Qt."""
        return QRectF(-WIDTH / 2 - 1.2, -HEIGHT / 2 - 1.2, WIDTH + 2.4, HEIGHT + 2.4)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        ground = self._ground()
        ink = ink_on(ground, self._theme)
        self._paint_tile(painter, ground, ink)
        if scale < PLAIN_BELOW:
            return
        if scale < BIG_BELOW:
            self._paint_large(painter, ink)
            return
        self._paint_symbol(painter, ink)
        self._paint_lines(painter, ink)

    def _ground(self) -> QColor:
        return self._theme.step_colour(self.face.step)

    def _paint_tile(self, painter: QPainter, ground: QColor, ink: QColor) -> None:
        theme = self._theme
        tile = QRectF(-WIDTH / 2, -HEIGHT / 2, WIDTH, HEIGHT)
        painter.setBrush(ground)
        painter.setPen(QPen(theme.line if not theme.dark else theme.board_edge, 0.35))
        painter.drawRoundedRect(tile, 1.8, 1.8)
        if self.face.over:
            painter.setClipPath(_rounded(tile))
            hatch = QColor(ink)
            hatch.setAlpha(95)
            painter.setPen(QPen(hatch, 0.5))
            painter.drawPath(_HATCH)
            painter.setClipping(False)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if self.face.out:
            painter.setPen(QPen(theme.warn, 0.9, Qt.PenStyle.DashLine))
            painter.drawRoundedRect(tile, 1.8, 1.8)
        if self._picked:
            painter.setPen(QPen(theme.accent, 1.5))
            painter.drawRoundedRect(tile.adjusted(-0.3, -0.3, 0.3, 0.3), 2, 2)
        elif self._lit:
            style = Qt.PenStyle.SolidLine if self._lit == 1 else Qt.PenStyle.DotLine
            painter.setPen(QPen(theme.feed, 0.9, style))
            painter.drawRoundedRect(tile, 1.8, 1.8)

    def _paint_large(self, painter: QPainter, ink: QColor) -> None:
        painter.setPen(ink)
        box = QRectF(-WIDTH / 2 + 1.2, -HEIGHT / 2 + 0.6, WIDTH - 2.4, HEIGHT / 2 - 0.6)
        font = text_font(8.2, bold=True)
        draw_text(painter, box, MIDDLE, self.face.ref, font)
        draw_text(painter, box.translated(0, HEIGHT / 2 - 0.8), MIDDLE, self.face.figure, font)

    def _paint_symbol(self, painter: QPainter, ink: QColor) -> None:
        painter.save()
        painter.setTransform(turned(self._turn), combine=True)
        painter.setPen(QPen(ink, 0.55, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawPath(symbol(self.face.kind, self.face.flag))
        painter.restore()

    def _paint_lines(self, painter: QPainter, ink: QColor) -> None:
        face = self.face
        painter.setPen(ink)
        first = QRectF(-WIDTH / 2 + 1.6, 0.0, WIDTH - 3.2, 4.6)
        half = QRectF(first.x(), first.y(), first.width() * 0.54, first.height())
        rest = QRectF(half.right() + 0.4, first.y(), first.width() * 0.46 - 0.4, first.height())
        draw_text(painter, half, LEFT, face.ref, text_font(4.2, bold=True))
        draw_text(painter, rest, RIGHT, face.figure, text_font(4.2, bold=True))
        value = f"{face.value} ▸" if face.changed else face.value
        drop = QPointF(0, 4.0)
        draw_text(painter, half.translated(drop), LEFT, value, text_font(3.3))
        draw_text(painter, rest.translated(drop), RIGHT, face.second, text_font(3.3))


def _rounded(rect: QRectF) -> QPainterPath:
    path = QPainterPath()
    path.addRoundedRect(rect, 1.8, 1.8)
    return path


def _hatch() -> QPainterPath:
    path = QPainterPath()
    steps = int((WIDTH + HEIGHT) / 3)
    for k in range(steps + 1):
        x = -WIDTH / 2 + 3 * k
        path.moveTo(x, -HEIGHT / 2)
        path.lineTo(x - HEIGHT, HEIGHT / 2)
    return path


_HATCH = _hatch()


class RailTag(QGraphicsItem):
    """The label of a rail on one board: its name and its volts."""

    HIGH = 6.2

    def __init__(self, node: str, at: QPointF, colour: QColor, theme: Theme) -> None:
        super().__init__()
        self.node = node
        self._text = node
        self._short = node
        self._colour = colour
        self._theme = theme
        self._picked = False
        self._wide = 10.0
        self.setPos(at)
        self.setZValue(2)
        self.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)

    def set_text(self, text: str, short: str) -> None:
        """Show other volts: in full, and in short for when there is little room."""
        if text != self._text:
            self.prepareGeometryChange()
            self._text, self._short = text, short
            wide = QFontMetricsF(text_font(TAG_MM, bold=True)).horizontalAdvance(text)
            self._wide = wide * TENTH + 3.0
            self.update()

    def set_picked(self, picked: bool) -> None:
        """Show that its rail is selected."""
        if picked != self._picked:
            self._picked = picked
            self.update()

    def boundingRect(self) -> QRectF:
        """See Qt."""
        box = QRectF(-self._wide / 2, -self.HIGH / 2, self._wide, self.HIGH)
        return box.adjusted(-0.5, -0.5, 0.5, 0.5)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        if scale < 0.9:
            return
        box = QRectF(-self._wide / 2, -self.HIGH / 2, self._wide, self.HIGH)
        ground = self._colour if self._picked else self._theme.board
        painter.setBrush(ground)
        painter.setPen(QPen(self._colour, 0.5))
        painter.drawRoundedRect(box, 1.4, 1.4)
        painter.setPen(ink_on(ground, self._theme) if self._picked else self._theme.ink)
        inside = box.adjusted(0.9, 0, -0.9, 0)
        if scale < BIG_BELOW:
            draw_text(painter, inside, MIDDLE, self._short, text_font(6.0, bold=True))
        else:
            draw_text(painter, inside, MIDDLE, self._text, text_font(TAG_MM, bold=True))
