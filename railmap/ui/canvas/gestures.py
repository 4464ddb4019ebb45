"""Mouse gestures on the floor, one class each: begin, move, end, cancel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPen
from PySide6.QtWidgets import QGraphicsRectItem

from railmap.ui.canvas.group import picked_of, refs_of, toggled

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView

REACH_PX = 7.0
SHAKE_MM, SHAKE_PX = 2.0, 8.0
"""Less than this, whichever is smaller, is a click with a shaky hand."""


def snapped(value: float, grid_mm: float) -> float:
    """Return a length on a grid."""
    return round(round(value / grid_mm) * grid_mm, 6)


class Gesture(Protocol):
    """What a view asks of a gesture; points are on the floor, in millimetres."""

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """Follow the pointer."""
        ...

    def end(self, point: QPointF) -> None:
        """Finish at a point."""
        ...

    def cancel(self) -> None:
        """Leave everything as it was."""
        ...


class Pan:
    """Drag the floor along."""

    def __init__(self, view: FloorView, pixel: QPoint) -> None:
        self._view = view
        self._start = self._last = pixel
        view.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)

    @property
    def still(self) -> bool:
        """True while the pointer has not been moved."""
        return (self._last - self._start).manhattanLength() < SHAKE_PX

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`Gesture`."""
        step = pixel - self._last
        self._last = pixel
        across, down = self._view.horizontalScrollBar(), self._view.verticalScrollBar()
        across.setValue(across.value() - step.x())
        down.setValue(down.value() - step.y())

    def end(self, point: QPointF) -> None:
        """See :class:`Gesture`."""
        self._view.viewport().unsetCursor()

    def cancel(self) -> None:
        """See :class:`Gesture`."""
        self._view.viewport().unsetCursor()


class Band:
    """Draw a frame around parts to select them.

    Parameters
    ----------
    view : FloorView
        The floor.
    point : QPointF
        Where it begins.
    adding : bool
        True to keep what is selected; a click then adds a part, or leaves it out again.
    """

    def __init__(self, view: FloorView, point: QPointF, adding: bool) -> None:
        self._view, self._start, self._adding = view, point, adding
        self._kept = refs_of(view.bridge.selection) if adding else ()
        self._frame: QGraphicsRectItem | None = None

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`Gesture`."""
        if self._frame is None:
            if self._view.shaky(point - self._start):
                return
            accent = self._view.floor.theme.accent
            pen = QPen(accent, 1.2, Qt.PenStyle.DashLine)
            pen.setCosmetic(True)
            ground = QColor(accent)
            ground.setAlpha(30)
            self._frame = self._view.floor.addRect(QRectF(), pen, ground)
            self._frame.setZValue(40)
        self._frame.setRect(QRectF(self._start, point).normalized())
        count = len(self._found(point))
        self._view.show_hint(f"{count} part{'' if count == 1 else 's'}")

    def end(self, point: QPointF) -> None:
        """See :class:`Gesture`."""
        drawn = self._frame is not None
        self.cancel()
        if drawn:
            found = self._found(point)
            if found or self._adding:
                self._view.bridge.pick(picked_of((*self._kept, *found)))
        elif self._adding:
            ref = self._view.floor.part_at(self._start)
            if ref:
                self._view.bridge.pick(toggled(self._view.bridge.selection, [ref]))

    def _found(self, point: QPointF) -> list[str]:
        frame = QRectF(self._start, point).normalized()
        tiles = self._view.floor.layout.tiles
        return [ref for ref, rect in tiles.items() if frame.intersects(rect)]

    def cancel(self) -> None:
        """See :class:`Gesture`."""
        if self._frame is not None:
            self._view.floor.removeItem(self._frame)
            self._frame = None
        self._view.show_hint("")
