"""The floor in the window: pan, zoom, and the mouse gestures."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QGraphicsView, QWidget

from railmap.bench import edits
from railmap.errors import MapError
from railmap.model.part import Part, Place
from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge, Picked, sentence
from railmap.ui.canvas.gestures import REACH_PX, Gesture, Pan, PlacePart, begin
from railmap.ui.canvas.legend import LegendWidget
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.newpart import new_part
from railmap.ui.theme import Theme

LEAST_SCALE, MOST_SCALE = 0.1, 24.0
WHEEL_STEP = 1.2
REACH_MM = 5.0
"""Reach of a pointer at most, so that a tile can still be gripped where it is small."""
NUDGE_MM = 1.0


class FloorView(QGraphicsView):
    """The floor.

    Attributes
    ----------
    hint : Signal(str)
        A line about the gesture under way; empty when it is over.
    placing : Signal(str)
        Kind of part about to be placed; empty when none is.
    """

    hint = Signal(str)
    placing = Signal(str)

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bridge = bridge
        self.floor = FloorScene(theme, self)
        self.floor.follow(bridge)
        self.setScene(self.floor)
        self._gesture: Gesture | None = None
        self._fitted = True
        self.legend = LegendWidget(theme, self)
        self.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setFrameShape(QGraphicsView.Shape.NoFrame)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        # A file that is dropped on the floor is for the window.
        self.setAcceptDrops(False)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Floor")
        self.setAccessibleDescription(
            "Boards with their parts. Arrow keys go from part to part; the lists beside it "
            "say the same in words."
        )
        bridge.map_changed.connect(self._map_changed)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self.floor.set_theme(theme)
        self.legend.set_theme(theme)

    def reach_mm(self) -> float:
        """Return how near a pointer has to be to hit a pin or a line."""
        return min(REACH_PX / self.transform().m11(), REACH_MM)

    def fit(self) -> None:
        """Show everything."""
        self._fitted = True
        box = self.floor.extent().adjusted(6, 6, -6, -6)
        # The legend stands in the lower corner: keep its strip free of boards.
        strip = (self.legend.height() + 6) / max(self.viewport().height(), 1)
        box.setHeight(box.height() / (1 - min(strip, 0.4)))
        self._show_box(box)

    def zoom_to(self, what: Picked) -> None:
        """Bring what is selected to the middle, large enough to read."""
        rect = self._place_of(what)
        if rect is None:
            return
        self._fitted = False
        wide = max(rect.width(), 150.0)
        box = QRectF(0, 0, wide, wide * 0.7)
        box.moveCenter(rect.center())
        self._show_box(box)

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom about a point of the viewport, the middle by default."""
        self._fitted = False
        now = self.transform().m11()
        factor = min(max(factor, LEAST_SCALE / now), MOST_SCALE / now)
        middle = QPointF(self.viewport().rect().center()) if at is None else at
        before = self.mapToScene(middle.toPoint())
        self.scale(factor, factor)
        step = self.mapToScene(middle.toPoint()) - before
        self.translate(step.x(), step.y())

    def start_placing(self, kind: str) -> None:
        """Carry a new part of a kind until the next click."""
        self.stop()
        self._gesture = PlacePart(self, kind)
        self.show_hint("Click where the part goes; Escape to leave it")
        self.placing.emit(kind)
        self.setFocus()

    def stop(self) -> None:
        """Give up the gesture under way."""
        if self._gesture is not None:
            self._gesture.cancel()
            self._end_gesture()

    def show_hint(self, text: str) -> None:
        """Tell what the gesture under way would do."""
        self.hint.emit(text)

    def place_part(self, kind: str, at: QPointF) -> None:
        """Add a part of a kind at a point of the floor, and select it."""
        m = self.bridge.map
        board = self.floor.board_at(at)
        sheet = m.boards.get(board)
        origin = QPointF(sheet.x_mm, sheet.y_mm) if sheet else QPointF(0, 0)
        node = self.floor.rail_at(at, self.reach_mm() * 1.5)
        spot = at - origin
        part: Part = new_part(m, kind, node, board, Place(spot.x(), spot.y()))
        if self.bridge.do(f"Add {part.ref}", [Change("parts", None, part)]):
            self.bridge.pick(Picked("part", part.ref))

    def delete_picked(self) -> None:
        """Take what is selected out of the map."""
        what, m = self.bridge.selection, self.bridge.map
        try:
            if what.kind == "part":
                self.bridge.do(f"Delete {what.key}", edits.remove_parts(m, [what.key]))
            elif what.kind == "board":
                self.bridge.do(f"Delete board {what.key}", edits.remove_board(m, what.key))
            elif what.kind == "rail" and what.key in m.rails:
                name = f"Forget rail {m.rails[what.key].title}"
                self.bridge.do(name, [Change("rails", what.key, None)])
        except MapError as error:
            self.bridge.trouble.emit(sentence(error))

    def turn_picked(self) -> None:
        """Mirror the selected part, so that its first pin is on the other side."""
        what = self.bridge.selection
        if what.kind != "part":
            return
        place = self.floor.layout.places[what.key]
        turned = Place(place.x_mm, place.y_mm, (place.turn + 180) % 360)
        part = self.bridge.map.parts[what.key].changed(place=turned)
        self.bridge.change_part(f"Turn {what.key}", part)

    def nudge(self, dx_mm: float, dy_mm: float) -> None:
        """Move the selected part a little."""
        what = self.bridge.selection
        if what.kind != "part":
            return
        place = self.floor.layout.places[what.key]
        moved = Place(place.x_mm + dx_mm, place.y_mm + dy_mm, place.turn)
        part = self.bridge.map.parts[what.key].changed(place=moved)
        self.bridge.change_part(f"Move {what.key}", part)

    def step_selection(self, dx: int, dy: int) -> None:
        """Select the nearest part in a direction."""
        tiles = self.floor.layout.tiles
        here = tiles.get(self.bridge.selection.key)
        if here is None or self.bridge.selection.kind != "part":
            if tiles:
                self.bridge.pick(Picked("part", next(iter(tiles))))
            return
        best, found = float("inf"), ""
        for ref, rect in tiles.items():
            step = rect.center() - here.center()
            ahead = step.x() * dx + step.y() * dy
            aside = abs(step.x() * dy) + abs(step.y() * dx)
            if ahead > 1 and ahead + 2 * aside < best:
                best, found = ahead + 2 * aside, ref
        if found:
            self.bridge.pick(Picked("part", found))
            self.ensureVisible(tiles[found], 20, 20)

    def _place_of(self, what: Picked) -> QRectF | None:
        layout = self.floor.layout
        if what.kind == "part":
            return layout.tiles.get(what.key)
        if what.kind == "board":
            return layout.boards.get(what.key)
        box = QRectF()
        for pin in layout.pins.get(what.key, []):
            box = box.united(layout.tiles[pin.ref])
        return None if box.isEmpty() else box

    def _show_box(self, box: QRectF) -> None:
        room = self.viewport().rect()
        if room.width() < 10 or room.height() < 10:
            return
        scale = min(room.width() / box.width(), room.height() / box.height())
        scale = min(max(scale, LEAST_SCALE), MOST_SCALE)
        self._give_room(box)
        self.resetTransform()
        self.scale(scale, scale)
        self.centerOn(box.center())

    def _give_room(self, box: QRectF) -> None:
        """Let the floor be moved beyond its boards, so that any part can come to the middle."""
        whole = self.floor.extent().united(box)
        self.setSceneRect(whole.adjusted(-3000, -3000, 3000, 3000))

    def _map_changed(self, changes: object) -> None:
        self.stop()
        self._give_room(self.floor.extent())
        if changes == () or self._fitted:
            self.fit()

    def _end_gesture(self) -> None:
        self._gesture = None
        self.show_hint("")
        self.placing.emit("")

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        pixel = event.position().toPoint()
        point = self.mapToScene(pixel)
        if isinstance(self._gesture, PlacePart) and event.button() == Qt.MouseButton.LeftButton:
            return
        self.stop()
        if event.button() in (Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton):
            self._gesture = Pan(self, pixel)
        elif event.button() == Qt.MouseButton.LeftButton:
            self._gesture = begin(self, point, pixel)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        pixel = event.position().toPoint()
        if self._gesture is not None:
            if isinstance(self._gesture, Pan):
                self._fitted = False
            self._gesture.move(self.mapToScene(pixel), pixel)
            return
        near = bool(self.floor.pin_at(self.mapToScene(pixel), self.reach_mm())[0])
        shape = Qt.CursorShape.CrossCursor if near else Qt.CursorShape.ArrowCursor
        self.viewport().setCursor(shape)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        gesture = self._gesture
        if gesture is None:
            return
        point = self.mapToScene(event.position().toPoint())
        self._end_gesture()
        gesture.end(point)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        point = self.mapToScene(event.position().toPoint())
        if not self.floor.part_at(point) and not self.floor.board_at(point):
            self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        turns = event.angleDelta().y() / 120.0
        if turns:
            self.zoom(WHEEL_STEP**turns, event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        arrows = {
            Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
        }  # fmt: skip
        step = arrows.get(Qt.Key(event.key()))
        if step is not None and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.nudge(step[0] * NUDGE_MM, step[1] * NUDGE_MM)
        elif step is not None:
            self.step_selection(*step)
        elif event.key() == Qt.Key.Key_Escape:
            self.stop()
            self.bridge.pick(Picked())
        else:
            super().keyPressEvent(event)

    def leaveEvent(self, event: QEvent) -> None:
        """See Qt."""
        self.show_hint("")

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self.legend.move(10, self.height() - self.legend.height() - 10)
        if self._fitted:
            self.fit()
