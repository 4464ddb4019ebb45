"""The tile of a part: its symbol, reference and figures on a ground coloured by stress."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QGraphicsItem, QGraphicsRectItem, QStyleOptionGraphicsItem, QWidget

from railmap.ui.canvas.items import (
    BIG_BELOW,
    LEFT,
    MIDDLE,
    PLAIN_BELOW,
    RIGHT,
    TENTH,
    Face,
    Type,
    Words,
    pixels_a_mm,
)
from railmap.ui.canvas.layout import turned
from railmap.ui.canvas.symbols import HEIGHT, WIDTH, symbol
from railmap.ui.theme import Theme, ink_on

TILE = QRectF(-WIDTH / 2, -HEIGHT / 2, WIDTH, HEIGHT)
BIG_LINES = tuple(
    QRectF(-WIDTH / 2 + 1.2, y, WIDTH - 2.4, HEIGHT / 2 - 0.6) for y in (-HEIGHT / 2 + 0.6, -0.2)
)
LINE = WIDTH - 3.2
LEFT_LINES = tuple(QRectF(-LINE / 2, y, LINE * 0.54, 4.6) for y in (0.0, 4.0))
RIGHT_LINES = tuple(QRectF(LINE * 0.04 + 0.4, y, LINE * 0.46 - 0.4, 4.6) for y in (0.0, 4.0))


class Tint(NamedTuple):
    """What colours a tile: its step, -1 for plain; above its rating or not; out or not."""

    step: int = -1
    over: bool = False
    out: bool = False


class TilePaints:
    """Pens, grounds and fonts of the tiles in one theme, built once for all of them."""

    def __init__(self, theme: Theme) -> None:
        self.edge = QPen(theme.board_edge if theme.dark else theme.line, 0.35)
        # Without words a tile on plain ground has only its edge to be seen by.
        self.plain_edge = QPen(theme.board_edge, 0.7)
        self.out = QPen(theme.warn, 0.9, Qt.PenStyle.DashLine)
        self.picked = QPen(theme.accent, 1.5)
        self.lit = (
            QPen(theme.feed, 0.9, Qt.PenStyle.SolidLine),
            QPen(theme.feed, 0.9, Qt.PenStyle.DotLine),
        )
        steps = (*theme.stress, theme.tile)
        # A step of -1 is the last: plain.
        self.grounds = [QBrush(colour) for colour in steps]
        self.inks = [QPen(ink_on(colour, theme)) for colour in steps]
        self.symbols = [_ink_pen(pen, 0.55, 255) for pen in self.inks]
        self.hatches = [_ink_pen(pen, 0.5, 95) for pen in self.inks]
        self.large, self.small = Type(8.2, bold=True), Type(3.3)
        self.bold = Type(4.2, bold=True)
        self.outline = QPainterPath()
        self.outline.addRoundedRect(TILE, 1.8, 1.8)
        self.hatch = _hatch()


def _ink_pen(ink: QPen, wide: float, alpha: int) -> QPen:
    colour = QColor(ink.color())
    colour.setAlpha(alpha)
    return QPen(colour, wide, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap)


def _hatch() -> QPainterPath:
    path = QPainterPath()
    for k in range(int((WIDTH + HEIGHT) / 3) + 1):
        x = -WIDTH / 2 + 3 * k
        path.moveTo(x, -HEIGHT / 2)
        path.lineTo(x - HEIGHT, HEIGHT / 2)
    return path


class PartItem(QGraphicsRectItem):
    """A part: its symbol on a tile coloured by stress, with its reference and figure.

    Its words are asked for when they are to be seen, so that tiles too small or out of sight
    cost nothing when the figures change.

    Parameters
    ----------
    ref : str
        Reference of the part.
    tell : callable
        Returns what a part's tile says now, by reference.
    turn : int
        How the part is turned, degrees.
    middle : QPointF
        Its place on the floor.
    paints : TilePaints
        Pens, grounds and fonts.
    """

    def __init__(
        self, ref: str, tell: Callable[[str], Face], turn: int, middle: QPointF, paints: TilePaints
    ) -> None:
        super().__init__(TILE.adjusted(-1.2, -1.2, 1.2, 1.2))
        self.ref = ref
        self._tell = tell
        self._turn = turn
        self._paints = paints
        self._face: Face | None = None
        self._words: dict[int, Words] = {}
        self._tint = Tint()
        self._picked = False
        self._lit = 0
        self.worded = False
        # Its pen would widen the box.
        self.setPen(Qt.PenStyle.NoPen)
        self.setPos(middle)
        self.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)

    @property
    def face(self) -> Face:
        """What it says."""
        if self._face is None:
            self._face = self._tell(self.ref)
        return self._face

    def place(self, turn: int, middle: QPointF) -> None:
        """Put it somewhere else."""
        if middle != self.pos():
            self.setPos(middle)
        self.setZValue(3 if self._picked else 0)
        if turn != self._turn:
            self._turn = turn
            self.update()

    def look_again(self, tint: Tint, in_sight: bool) -> None:
        """Show other figures; repaints only if something to be seen has changed.

        Parameters
        ----------
        tint : Tint
            What colours it now.
        in_sight : bool
            True if it is on the screen; elsewhere it is painted when it comes there.
        """
        before, self._face = self._face, None
        same = tint == self._tint
        if same and self.worded and in_sight and self.face == before:
            return
        self._tint = tint
        if self.worded or not same:
            self.update()

    def set_paints(self, paints: TilePaints) -> None:
        """Paint in another theme."""
        self._paints = paints
        self.update()

    def set_marks(self, picked: bool, lit: int) -> None:
        """Show that it is selected, on the feed path (1), or fed by what is selected (2)."""
        if (picked, lit) != (self._picked, self._lit):
            self._picked, self._lit = picked, lit
            self.setZValue(3 if picked else 0)
            self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        self.worded = scale >= PLAIN_BELOW
        self._paint_tile(painter)
        if not self.worded:
            return
        if scale >= BIG_BELOW:
            self._paint_symbol(painter)
        painter.setPen(self._paints.inks[self._tint.step])
        painter.scale(TENTH, TENTH)
        for words in self._large_words() if scale < BIG_BELOW else self._small_words():
            words.draw(painter)

    def _paint_tile(self, painter: QPainter) -> None:
        paints, tint = self._paints, self._tint
        painter.setBrush(paints.grounds[tint.step])
        painter.setPen(paints.edge if self.worded else paints.plain_edge)
        painter.drawRoundedRect(TILE, 1.8, 1.8)
        if tint.over:
            painter.setClipPath(paints.outline)
            painter.setPen(paints.hatches[tint.step])
            painter.drawPath(paints.hatch)
            painter.setClipping(False)
        if not (tint.out or self._picked or self._lit):
            return
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if tint.out:
            painter.setPen(paints.out)
            painter.drawRoundedRect(TILE, 1.8, 1.8)
        if self._picked:
            painter.setPen(paints.picked)
            painter.drawRoundedRect(TILE.adjusted(-0.3, -0.3, 0.3, 0.3), 2, 2)
        elif self._lit:
            painter.setPen(paints.lit[self._lit - 1])
            painter.drawRoundedRect(TILE, 1.8, 1.8)

    def _paint_symbol(self, painter: QPainter) -> None:
        painter.save()
        painter.setTransform(turned(self._turn), combine=True)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(self._paints.symbols[self._tint.step])
        painter.drawPath(symbol(self.face.kind, self.face.flag))
        painter.restore()

    def _large_words(self) -> list[Words]:
        large = self._paints.large
        return [
            self._line(0, self.face.ref, BIG_LINES[0], MIDDLE, large),
            self._line(1, self.face.figure, BIG_LINES[1], MIDDLE, large),
        ]

    def _small_words(self) -> list[Words]:
        face, paints = self.face, self._paints
        value = f"{face.value} ▸" if face.changed else face.value
        return [
            self._line(2, face.ref, LEFT_LINES[0], LEFT, paints.bold),
            self._line(3, face.figure, RIGHT_LINES[0], RIGHT, paints.bold),
            self._line(4, value, LEFT_LINES[1], LEFT, paints.small),
            self._line(5, face.second, RIGHT_LINES[1], RIGHT, paints.small),
        ]

    def _line(
        self, place: int, text: str, box: QRectF, flags: Qt.AlignmentFlag, kind: Type
    ) -> Words:
        """Return one of the tile's lines; it is set anew only if it says something else."""
        held = self._words.get(place)
        if held is None or held.text != text:
            held = self._words[place] = Words(text, box, flags, kind)
        return held
