"""Gestures that move parts and boards, and that give a board another size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QPen
from PySide6.QtWidgets import QGraphicsRectItem

from railmap.bench.boards import resized
from railmap.bench.groups import put, spot_at
from railmap.errors import MapError
from railmap.model.railmap import Change
from railmap.ui.bridge import Picked, sentence
from railmap.ui.canvas.gestures import snapped

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView

LEAST_MM = 10.0
"""A board is not made smaller than this by hand."""


class MoveParts:
    """Drag parts, on their boards or to others; one edit, made on release.

    Parameters
    ----------
    view : FloorView
        The floor.
    refs : sequence of str
        The parts.
    lead : str
        The one that is held; it goes to the grid of its board, the others with it.
    point : QPointF
        Where it is held.
    """

    def __init__(self, view: FloorView, refs: Sequence[str], lead: str, point: QPointF) -> None:
        self._view, self._lead, self._point = view, lead, point
        tiles = view.floor.layout.tiles
        self._homes = {ref: tiles[ref].center() for ref in refs}
        self._step: QPointF | None = None

    def _middles(self) -> dict[str, QPointF]:
        step = self._step or QPointF()
        return {ref: home + step for ref, home in self._homes.items()}

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        step = point - self._point
        if self._step is None and self._view.shaky(step):
            return
        home = self._homes[self._lead]
        step = self._view.on_grid(home + step) - home
        if step != self._step:
            self._step = step
            self._view.floor.drag(self._middles())

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        bridge, places = self._view.bridge, self._view.floor.layout.places
        if self._step is None:
            bridge.pick(Picked("part", self._lead))
            return
        spots = {
            ref: spot_at(bridge.map, middle.x(), middle.y(), places[ref].turn)
            for ref, middle in self._middles().items()
        }
        what = self._lead if len(spots) == 1 else f"{len(spots)} parts"
        bridge.do(f"Move {what}", put(bridge.map, places, spots))
        # Where the map has not changed, they go back.
        self.cancel()

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        self._view.floor.drag({})


class MoveBoard:
    """Drag a board with everything on it; one edit, made on release."""

    def __init__(self, view: FloorView, name: str, point: QPointF) -> None:
        self._view, self._name, self._start = view, name, point
        self._rect = view.floor.layout.boards[name]
        self._ghost: QGraphicsRectItem | None = None

    def _shift(self, point: QPointF) -> QPointF:
        step, grid = point - self._start, self._view.grid_mm
        return QPointF(snapped(step.x(), grid), snapped(step.y(), grid))

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is None:
            if self._view.shaky(point - self._start):
                return
            self._ghost = _ghost(self._view, self._rect)
        self._ghost.setPos(self._shift(point))

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is None:
            return
        self.cancel()
        step = self._shift(point)
        board = self._view.bridge.map.boards[self._name]
        moved = replace(board, x_mm=board.x_mm + step.x(), y_mm=board.y_mm + step.y())
        name = f"Move board {self._name}"
        self._view.bridge.do(name, [Change("boards", self._name, moved)])

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is not None:
            self._view.floor.removeItem(self._ghost)
            self._ghost = None


class ResizeBoard:
    """Drag an edge or a corner of a board; what is on it stays where it is."""

    def __init__(self, view: FloorView, name: str, handle: tuple[int, int], point: QPointF) -> None:
        self._view, self._name, self._handle, self._start = view, name, handle, point
        self._rect = view.floor.layout.boards[name]
        self._ghost: QGraphicsRectItem | None = None

    def _sized(self, point: QPointF) -> QRectF:
        rect, (across, down) = QRectF(self._rect), self._handle
        step, grid = point - self._start, self._view.grid_mm
        wide = max(snapped(rect.width() + across * step.x(), grid), LEAST_MM)
        high = max(snapped(rect.height() + down * step.y(), grid), LEAST_MM)
        if across < 0:
            rect.setLeft(rect.right() - wide)
        elif across > 0:
            rect.setWidth(wide)
        if down < 0:
            rect.setTop(rect.bottom() - high)
        elif down > 0:
            rect.setHeight(high)
        return rect

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is None:
            if self._view.shaky(point - self._start):
                return
            self._ghost = _ghost(self._view, self._rect)
        rect = self._sized(point)
        self._ghost.setRect(rect)
        said = f"{rect.width():g} × {rect.height():g} mm"
        self._view.show_hint(self._view.floor.theme.figures.sign(said))

    def end(self, point: QPointF) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is None:
            return
        self.cancel()
        rect, bridge = self._sized(point), self._view.bridge
        box = rect.left(), rect.top(), rect.width(), rect.height()
        try:
            changes = resized(bridge.map, self._view.floor.layout.places, self._name, box)
        except MapError as error:
            bridge.trouble.emit(sentence(error))
            return
        bridge.do(f"Resize board {self._name}", changes)

    def cancel(self) -> None:
        """See :class:`railmap.ui.canvas.gestures.Gesture`."""
        if self._ghost is not None:
            self._view.floor.removeItem(self._ghost)
            self._ghost = None
        self._view.show_hint("")


def _ghost(view: FloorView, rect: QRectF) -> QGraphicsRectItem:
    ghost = view.floor.addRect(rect, QPen(view.floor.theme.accent, 1.0, Qt.PenStyle.DashLine))
    ghost.setZValue(30)
    return ghost
