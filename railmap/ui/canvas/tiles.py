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
from railmap.ui.canvas.symbols import HEIGHT, WIDTH, symbol, tile_of, turned
from railmap.ui.theme import Theme, ink_on

LINE = WIDTH - 3.2


class Lines(NamedTuple):
    """Where the words of a tile go: two large ones, or reference, figure, value and second."""

    large: tuple[QRectF, ...]
    small: tuple[QRectF, ...]
    sides: tuple[Qt.AlignmentFlag, ...]


def _lines(turn: int) -> Lines:
    """Return where words go: below a symbol that lies, to the right of one that stands."""
    box = tile_of(turn)
    high = HEIGHT / 2 - 0.6
    large = tuple(
        QRectF(box.left() + 1.2, y, box.width() - 2.4, high) for y in (-HEIGHT / 2 + 0.6, -0.2)
    )
    if turn % 180:
        rows = tuple(QRectF(0.2, y, HEIGHT / 2 - 1.0, 4.6) for y in (-12.4, 3.6, -7.8, 8.2))
        return Lines(large, rows, (LEFT,) * 4)
    left, right = (-LINE / 2, LINE * 0.54), (LINE * 0.04 + 0.4, LINE * 0.46 - 0.4)
    rows = tuple(QRectF(x, y, wide, 4.6) for y in (0.0, 4.0) for x, wide in (left, right))
    return Lines(large, rows, (LEFT, RIGHT, LEFT, RIGHT))


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
        steps = (*theme.steps, theme.tile)
        # A step of -1 is the last: plain.
        self.grounds = [QBrush(colour) for colour in steps]
        self.inks = [QPen(ink_on(colour, theme)) for colour in steps]
        self.symbols = [_ink_pen(pen, 0.55, 255) for pen in self.inks]
        self.hatches = [_ink_pen(pen, 0.5, 95) for pen in self.inks]
        self.large, self.small = Type(8.2, bold=True), Type(3.3)
        self.bold = Type(4.2, bold=True)
        self.lines = _lines(0), _lines(90)
        self.hatch = _hatch()


def _ink_pen(ink: QPen, wide: float, alpha: int) -> QPen:
    colour = QColor(ink.color())
    colour.setAlpha(alpha)
    return QPen(colour, wide, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap)


def _hatch() -> QPainterPath:
    path = QPainterPath()
    for k in range(int(2 * WIDTH / 3) + 1):
        x = -WIDTH / 2 + 3 * k
        path.moveTo(x, -WIDTH / 2)
        path.lineTo(x - WIDTH, WIDTH / 2)
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
        super().__init__()
        self.ref = ref
        self._tell = tell
        self._paints = paints
        self._face: Face | None = None
        self._words: dict[int, Words] = {}
        self._tint = Tint()
        self._picked = False
        self._lit = 0
        self.worded = False
        # Its pen would widen the box.
        self.setPen(Qt.PenStyle.NoPen)
        self._stand(turn)
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
            self._stand(turn)
            self.update()

    def _stand(self, turn: int) -> None:
        self._turn, self._tile = turn, tile_of(turn)
        self._words = {}
        self.setRect(self._tile.adjusted(-1.2, -1.2, 1.2, 1.2))

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
        painter.drawRoundedRect(self._tile, 1.8, 1.8)
        if tint.over:
            painter.setClipRect(self._tile.adjusted(0.3, 0.3, -0.3, -0.3))
            painter.setPen(paints.hatches[tint.step])
            painter.drawPath(paints.hatch)
            painter.setClipping(False)
        if not (tint.out or self._picked or self._lit):
            return
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if tint.out:
            painter.setPen(paints.out)
            painter.drawRoundedRect(self._tile, 1.8, 1.8)
        if self._picked:
            painter.setPen(paints.picked)
            painter.drawRoundedRect(self._tile.adjusted(-0.3, -0.3, 0.3, 0.3), 2, 2)
        elif self._lit:
            painter.setPen(paints.lit[self._lit - 1])
            painter.drawRoundedRect(self._tile, 1.8, 1.8)

    def _paint_symbol(self, painter: QPainter) -> None:
        painter.save()
        if self._turn:
            # A third lead is longer than there is room for beside a tile that is turned.
            painter.setClipRect(self._tile)
        painter.setTransform(turned(self._turn), combine=True)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(self._paints.symbols[self._tint.step])
        painter.drawPath(symbol(self.face.kind, self.face.flag))
        painter.restore()

    def _large_words(self) -> list[Words]:
        boxes, large = self._paints.lines[self._turn % 180 != 0].large, self._paints.large
        texts = self.face.ref, self.face.figure
        return [
            self._line(place, text, box, MIDDLE, large)
            for place, (text, box) in enumerate(zip(texts, boxes, strict=True))
        ]

    def _small_words(self) -> list[Words]:
        face, paints = self.face, self._paints
        value = f"{face.value} ▸" if face.changed else face.value
        texts = face.ref, face.figure, value, face.second
        _, boxes, sides = paints.lines[self._turn % 180 != 0]
        kinds = paints.bold, paints.bold, paints.small, paints.small
        rows = zip(texts, boxes, sides, kinds, strict=True)
        return [self._line(place, *row) for place, row in enumerate(rows, 2)]

    def _line(
        self, place: int, text: str, box: QRectF, flags: Qt.AlignmentFlag, kind: Type
    ) -> Words:
        """Return one of the tile's lines; it is set anew only if it says something else."""
        held = self._words.get(place)
        if held is None or held.text != text:
            held = self._words[place] = Words(text, box, flags, kind)
        return held
