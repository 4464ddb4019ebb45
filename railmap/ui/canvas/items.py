"""What is painted on the floor: rail labels and words. Everything is in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QGraphicsItem, QGraphicsRectItem, QStyleOptionGraphicsItem, QWidget

from railmap.ui.canvas.boxes import Floats
from railmap.ui.theme import Theme, ink_on

TENTH = 0.1
"""Text is set in tenths of a millimetre, for fonts have no sizes below one."""
BIG_BELOW, PLAIN_BELOW = 2.1, 0.75
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


class Type:
    """A font with its measures, made once for many words."""

    def __init__(self, size_mm: float, bold: bool = False) -> None:
        self.font = text_font(size_mm, bold)
        self.metrics = QFontMetricsF(self.font)

    def width(self, text: str) -> float:
        """Return the width of a text in tenths of a millimetre."""
        return self.metrics.horizontalAdvance(text)

    def smaller(self, part: float) -> Type:
        """Return the same at a part of its size."""
        # Rounded down.
        return Type(self.font.pixelSize() * part * TENTH - TENTH / 2, self.font.bold())


class Words:
    """Words in a box given in millimetres, set once; smaller if they would not fit.

    They are drawn by a painter scaled by :data:`TENTH`.
    """

    def __init__(self, text: str, box: QRectF, flags: Qt.AlignmentFlag, kind: Type) -> None:
        self.text = text
        room, wide = box.width() / TENTH, kind.width(text)
        if wide > room > 0:
            kind = kind.smaller(room / wide)
            wide = kind.width(text)
        self._font = kind.font
        part = 0.0 if flags & Qt.AlignmentFlag.AlignLeft else 1.0
        if flags & Qt.AlignmentFlag.AlignHCenter:
            part = 0.5
        high = kind.metrics.ascent() - kind.metrics.descent()
        self._at = QPointF(
            box.x() / TENTH + part * (room - wide), box.center().y() / TENTH + high / 2
        )

    def draw(self, painter: QPainter) -> None:
        """Draw them."""
        painter.setFont(self._font)
        painter.drawText(self._at, self.text)


def pixels_a_mm(option: QStyleOptionGraphicsItem, painter: QPainter) -> float:
    """Return the scale at which an item is painted."""
    return option.levelOfDetailFromTransform(painter.worldTransform())


TAG_MM = 4.3
"""Height of the text of a rail's label."""
TAG_BELOW = 0.9
"""Pixels a millimetre below which rails have no labels."""

LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
MIDDLE = Qt.AlignmentFlag.AlignCenter


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


class TagMetrics:
    """Fonts and widths of rail labels."""

    def __init__(self) -> None:
        self.full, self.short = Type(TAG_MM, bold=True), Type(6.0, bold=True)
        self._usual: dict[str, float] = {}

    def width_mm(self, text: str) -> float:
        """Return the width of a label that says something."""
        return self.full.width(text) * TENTH + 3.0

    def usual_mm(self, text: str) -> float:
        """Return the width of a label with what it says usually; asked for again and again."""
        if text not in self._usual:
            # Figures of the same length differ by hairs.
            self._usual[text] = self.width_mm(text) + 1.0
        return self._usual[text]


class RailTag(QGraphicsRectItem):
    """The label of a rail on one board: its name and its volts.

    Attributes
    ----------
    text : str
        What it says in full.
    usual_mm : float
        Its width with volts of the usual size.
    room_mm : float
        The width that was kept free for it.
    """

    HIGH, TALL = 6.2, 7.2
    """Height of its outline, and of the room that it takes."""

    def __init__(self, node: str, board: str, theme: Theme, metrics: TagMetrics) -> None:
        super().__init__()
        self._metrics = metrics
        self.node, self.board = node, board
        self.usual_mm = self.room_mm = 0.0
        self.text = self._short = ""
        self._words: dict[bool, Words] = {}
        self._colour = theme.ink
        self._theme = theme
        self._picked = False
        self._box = QRectF()
        self._spot: Floats | None = None
        # Its pen would widen the box.
        self.setPen(Qt.PenStyle.NoPen)
        self.setZValue(2)
        self.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)

    def set_text(self, text: str, short: str) -> None:
        """Show other volts: in full, and in short for when there is little room."""
        if (text, short) != (self.text, self._short):
            self.text, self._short = text, short
            self._words = {}
            wide = self._metrics.width_mm(text)
            self._box = QRectF(-wide / 2, -self.HIGH / 2, wide, self.HIGH)
            self.setRect(self._box.adjusted(-0.5, -0.5, 0.5, 0.5))
            self.update()

    def needed_mm(self) -> float:
        """Return the width to keep free: its own, but no less than the usual one."""
        return max(self.rect().width(), self.usual_mm)

    def place(self, box: Floats) -> None:
        """Put it into a box; one that it is in already costs nothing."""
        if box is not self._spot:
            self._spot = box
            left, top, right, bottom = box.tolist()
            self.setPos((left + right) / 2, (top + bottom) / 2)

    def set_colours(self, colour: QColor, theme: Theme) -> None:
        """Paint in other colours."""
        if colour != self._colour or theme is not self._theme:
            self._colour, self._theme = colour, theme
            self.update()

    def set_picked(self, picked: bool) -> None:
        """Show that its rail is selected."""
        if picked != self._picked:
            self._picked = picked
            self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        if scale < TAG_BELOW:
            return
        ground = self._colour if self._picked else self._theme.board
        painter.setBrush(ground)
        painter.setPen(QPen(self._colour, 0.5))
        short = scale < BIG_BELOW
        painter.drawRoundedRect(self._outline(short), 1.4, 1.4)
        painter.setPen(ink_on(ground, self._theme) if self._picked else self._theme.ink)
        painter.scale(TENTH, TENTH)
        self._worded(short).draw(painter)

    def _outline(self, short: bool) -> QRectF:
        """Return its box; what it says in short needs no more than the usual room."""
        spare = self._box.width() - self.usual_mm if short and self.usual_mm else 0.0
        return self._box.adjusted(spare / 2, 0, -spare / 2, 0) if spare > 0 else self._box

    def _worded(self, short: bool) -> Words:
        if short not in self._words:
            inside = self._outline(short).adjusted(0.9, 0, -0.9, 0)
            kind = self._metrics.short if short else self._metrics.full
            self._words[short] = Words(self._short if short else self.text, inside, MIDDLE, kind)
        return self._words[short]
