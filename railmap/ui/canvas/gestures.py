"""Mouse gestures on the floor, one class each: begin, move, end, cancel."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from msgspec.structs import replace
from PySide6.QtCore import QLineF, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QPen
from PySide6.QtWidgets import QGraphicsLineItem, QGraphicsRectItem

from railmap.model.part import Place
from railmap.model.railmap import Change
from railmap.ui.bridge import Picked
from railmap.ui.canvas.symbols import HEIGHT, WIDTH

if TYPE_CHECKING:
    from railmap.ui.canvas.view import FloorView

SNAP_MM = 1.0
REACH_PX = 7.0


def snapped(value: float) -> float:
    """Return a length on the snap grid."""
    return round(value / SNAP_MM) * SNAP_MM


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
        self._last = pixel
        view.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)

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


class MovePart:
    """Drag a part, on its board or to another; one edit, made on release."""

    def __init__(self, view: FloorView, ref: str, point: QPointF) -> None:
        self._view, self._ref = view, ref
        self._item = view.floor.parts[ref]
        self._home = self._item.pos()
        self._grip = point - self._home
        self._moved = False

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`Gesture`."""
        target = point - self._grip
        target = QPointF(snapped(target.x()), snapped(target.y()))
        if not self._moved and (target - self._home).manhattanLength() < 2:
            return
        self._moved = True
        self._item.setZValue(20)
        self._item.setPos(target)

    def end(self, point: QPointF) -> None:
        """See :class:`Gesture`."""
        if not self._moved:
            return
        bridge, scene = self._view.bridge, self._view.floor
        part = bridge.map.parts[self._ref]
        middle = self._item.pos()
        board = scene.board_at(middle)
        sheet = bridge.map.boards.get(board)
        origin = QPointF(sheet.x_mm, sheet.y_mm) if sheet else QPointF(0, 0)
        at = middle - origin
        turn = scene.layout.places[self._ref].turn
        moved = part.changed(board=board, place=Place(at.x(), at.y(), turn))
        if not bridge.change_part(f"Move {self._ref}", moved):
            self.cancel()

    def cancel(self) -> None:
        """See :class:`Gesture`."""
        self._item.setPos(self._home)


class MoveBoard:
    """Drag a board with everything on it; one edit, made on release."""

    def __init__(self, view: FloorView, name: str, point: QPointF) -> None:
        self._view, self._name, self._start = view, name, point
        self._rect = view.floor.layout.boards[name]
        self._ghost: QGraphicsRectItem | None = None

    def _shift(self, point: QPointF) -> QPointF:
        step = point - self._start
        return QPointF(snapped(step.x()), snapped(step.y()))

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`Gesture`."""
        step = self._shift(point)
        if self._ghost is None:
            if step.manhattanLength() < 3:
                return
            pen = QPen(self._view.floor.theme.accent, 1.0, Qt.PenStyle.DashLine)
            self._ghost = self._view.floor.addRect(self._rect, pen)
            self._ghost.setZValue(30)
        self._ghost.setPos(step)

    def end(self, point: QPointF) -> None:
        """See :class:`Gesture`."""
        if self._ghost is None:
            return
        self.cancel()
        step = self._shift(point)
        board = self._view.bridge.map.boards[self._name]
        moved = replace(board, x_mm=board.x_mm + step.x(), y_mm=board.y_mm + step.y())
        name = f"Move board {self._name}"
        self._view.bridge.do(name, [Change("boards", self._name, moved)])

    def cancel(self) -> None:
        """See :class:`Gesture`."""
        if self._ghost is not None:
            self._view.floor.removeItem(self._ghost)
            self._ghost = None


class Join:
    """Drag from a pin to another pin or to a rail: the pin then belongs to that rail."""

    def __init__(self, view: FloorView, ref: str, pin: str, point: QPointF) -> None:
        self._view, self._ref, self._pin = view, ref, pin
        pen = QPen(view.floor.theme.accent, 1.2, Qt.PenStyle.DashLine)
        self._line: QGraphicsLineItem | None = view.floor.addLine(QLineF(point, point), pen)
        self._line.setZValue(30)
        self._from = point

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`Gesture`."""
        if self._line is not None:
            self._line.setLine(QLineF(self._from, point))
        self._view.show_hint(self._hint(point))

    def _target(self, point: QPointF) -> str:
        """Return the node under a point, or nothing."""
        scene, reach = self._view.floor, self._view.reach_mm()
        if (point - self._from).manhattanLength() < reach:
            return ""  # a click, not a drag
        ref, pin = scene.pin_at(point, reach)
        if ref and (ref, pin) != (self._ref, self._pin):
            return getattr(self._view.bridge.map.parts[ref], pin)
        return scene.rail_at(point, reach)

    def _hint(self, point: QPointF) -> str:
        node = self._target(point)
        return f"Join {self._ref} {self._pin} to {node}" if node else "Drop on a pin or a rail"

    def end(self, point: QPointF) -> None:
        """See :class:`Gesture`."""
        self.cancel()
        node = self._target(point)
        part = self._view.bridge.map.parts[self._ref]
        if node and node != getattr(part, self._pin):
            joined = part.changed(**{self._pin: node})
            self._view.bridge.change_part(f"Join {self._ref} to {node}", joined)

    def cancel(self) -> None:
        """See :class:`Gesture`."""
        if self._line is not None:
            self._view.floor.removeItem(self._line)
            self._line = None
        self._view.show_hint("")


class PlacePart:
    """Carry a new part over the floor and set it down; its first pin joins a rail it is set on."""

    def __init__(self, view: FloorView, kind: str) -> None:
        self._view, self.kind = view, kind
        pen = QPen(view.floor.theme.accent, 1.0, Qt.PenStyle.DashLine)
        box = QRectF(-WIDTH / 2, -HEIGHT / 2, WIDTH, HEIGHT)
        self._ghost: QGraphicsRectItem | None = view.floor.addRect(box, pen)
        self._ghost.setZValue(30)
        self._ghost.setVisible(False)

    def move(self, point: QPointF, pixel: QPoint) -> None:
        """See :class:`Gesture`."""
        if self._ghost is not None:
            self._ghost.setVisible(True)
            self._ghost.setPos(snapped(point.x()), snapped(point.y()))

    def end(self, point: QPointF) -> None:
        """See :class:`Gesture`."""
        self.cancel()
        at = QPointF(snapped(point.x()), snapped(point.y()))
        self._view.place_part(self.kind, at)

    def cancel(self) -> None:
        """See :class:`Gesture`."""
        if self._ghost is not None:
            self._view.floor.removeItem(self._ghost)
            self._ghost = None


def begin(view: FloorView, point: QPointF, pixel: QPoint) -> Gesture:
    """Return the gesture that a press with the main button starts, and select what is under it."""
    scene, bridge = view.floor, view.bridge
    ref, pin = scene.pin_at(point, view.reach_mm())
    if ref:
        bridge.pick(Picked("part", ref))
        return Join(view, ref, pin, point)
    ref = scene.part_at(point)
    if ref:
        bridge.pick(Picked("part", ref))
        return MovePart(view, ref, point)
    node = scene.rail_at(point, view.reach_mm())
    if node:
        bridge.pick(Picked("rail", node))
        return Pan(view, pixel)
    board = scene.board_at(point)
    bridge.pick(Picked("board", board) if board else Picked())
    return MoveBoard(view, board, point) if board else Pan(view, pixel)
