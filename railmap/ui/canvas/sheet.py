"""A board on the floor: its outline, its name, and its photo. Everything is in millimetres."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QPen, QTransform
from PySide6.QtWidgets import QGraphicsRectItem, QStyleOptionGraphicsItem, QWidget

from railmap.model.board import Board, Photo
from railmap.ui.canvas.items import (
    LEFT,
    PLAIN_BELOW,
    RIGHT,
    TENTH,
    Type,
    Words,
    draw_text,
    pixels_a_mm,
    text_font,
)
from railmap.ui.theme import Theme

STRIP_MM = 9.0
"""Height of the strip with the name; a board is moved by it."""
RIM_MM = 3.0
"""Width of the other edges that it is moved by."""
HANDLES = tuple((x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if x or y)
"""Edges and corners of a board that it is made larger by, from its middle."""
HANDLE_PX = 8.0
LEAST_PIXELS = 64
"""Smaller copies of a photo than this are not made."""


def handle_point(rect: QRectF, handle: tuple[int, int]) -> QPointF:
    """Return where a handle of a board is."""
    across, down = handle
    middle = rect.center()
    return QPointF(
        middle.x() + across * rect.width() / 2, middle.y() + down * rect.height() / 2
    )  # fmt: skip


class Picture:
    """A photo ready to be painted: turned, and in several sizes, since large ones are slow.

    Parameters
    ----------
    photo : Photo
        The photo.
    """

    def __init__(self, photo: Photo) -> None:
        image = QImage.fromData(photo.data)
        if not image.isNull():
            image = image.transformed(QTransform().rotate(photo.turn))
            image = image.convertToFormat(QImage.Format.Format_RGB32)
        self.readable = not image.isNull()
        size = QRectF(0, 0, image.width(), image.height()).size() * photo.mm_per_pixel
        self.rect = QRectF(QPointF(photo.x_mm, photo.y_mm), size)
        self._scale = 1 / photo.mm_per_pixel
        self._opacity = 1 - photo.dim_pct / 100
        self._copies = [image]
        while min(image.width(), image.height()) >= 2 * LEAST_PIXELS:
            image = image.scaled(
                image.width() // 2, image.height() // 2,
                Qt.AspectRatioMode.IgnoreAspectRatio, Qt.TransformationMode.SmoothTransformation,
            )  # fmt: skip
            self._copies.append(image)

    def draw(self, painter: QPainter, scale: float) -> None:
        """Draw it at a scale in pixels a millimetre."""
        smaller = self._scale / max(scale, 1e-6)
        number = 0
        while smaller >= 2 and number + 1 < len(self._copies):
            smaller, number = smaller / 2, number + 1
        painter.save()
        painter.setOpacity(painter.opacity() * self._opacity)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        image = self._copies[number]
        painter.drawImage(self.rect, image, QRectF(image.rect()))
        painter.restore()


class BoardItem(QGraphicsRectItem):
    """A board to scale, with its name, its size and its photo."""

    def __init__(self, board: Board, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._picked = False
        self._board: Board | None = None
        self._picture: Picture | None = None
        # Its pen would widen the box.
        self.setPen(Qt.PenStyle.NoPen)
        self.setZValue(-10)
        self.show_board(board)

    @property
    def name(self) -> str:
        """Name of the board."""
        assert self._board is not None
        return self._board.name

    def show_board(self, board: Board) -> None:
        """Show another place, size or photo."""
        before, self._board = self._board, board
        if board is before:
            return
        if before is None or before.photo != board.photo:
            self._picture = None if board.photo is None else Picture(board.photo)
        wide, high = board.width_mm, board.height_mm
        self._outline = QRectF(0, 0, wide, high)
        self.setPos(board.x_mm, board.y_mm)
        self.setRect(self._outline.adjusted(-1, -1, 1, 1))
        self._words = [
            Words(board.name, QRectF(9, 1.8, wide - 60, 6.4), LEFT, Type(5.0, bold=True)),
            Words(f"{wide:.0f} × {high:.0f} mm", QRectF(wide - 49, 1.8, 40, 6.4), RIGHT, Type(3.6)),
        ]
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def set_picked(self, picked: bool) -> None:
        """Show that it is selected."""
        if picked != self._picked:
            self._picked = picked
            self.update()

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        theme, scale = self._theme, pixels_a_mm(option, painter)
        edge = theme.accent if self._picked else theme.board_edge
        painter.setPen(QPen(edge, 1.0 if self._picked else 0.6))
        painter.setBrush(theme.board)
        painter.drawRoundedRect(self._outline, 3, 3)
        if self._picture is not None:
            self._draw_photo(painter, scale, self._picture)
        if scale < PLAIN_BELOW:
            return
        self._draw_holes(painter)
        if self._picked:
            self._draw_handles(painter, scale)
        painter.setPen(theme.soft_ink)
        painter.scale(TENTH, TENTH)
        for words in self._words:
            words.draw(painter)

    def _draw_photo(self, painter: QPainter, scale: float, picture: Picture) -> None:
        if not picture.readable:
            painter.setPen(self._theme.warn)
            said = "The photo of this board cannot be shown: it is no JPEG picture."
            draw_text(painter, self._outline.adjusted(9, 9, -9, -9), LEFT, said, text_font(5.0))
            return
        painter.save()
        painter.setClipRect(self._outline, Qt.ClipOperation.IntersectClip)
        picture.draw(painter, scale)
        painter.restore()
        # The name has to be read on any photo.
        strip = QRectF(0.3, 0.3, self._outline.width() - 0.6, STRIP_MM - 0.3)
        painter.fillRect(strip, self._theme.board)

    def _draw_holes(self, painter: QPainter) -> None:
        painter.setBrush(self._theme.floor)
        painter.setPen(QPen(self._theme.board_edge, 0.4))
        for x in (4.5, self._outline.width() - 4.5):
            for y in (4.5, self._outline.height() - 4.5):
                painter.drawEllipse(QPointF(x, y), 1.6, 1.6)

    def _draw_handles(self, painter: QPainter, scale: float) -> None:
        half = min(HANDLE_PX / scale / 2, 2.0)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.accent)
        # They stay within the outline, or its box would have to grow with them.
        inner = self._outline.adjusted(half, half, -half, -half)
        for handle in HANDLES:
            at = handle_point(inner, handle)
            painter.drawRect(QRectF(at.x() - half, at.y() - half, 2 * half, 2 * half))
