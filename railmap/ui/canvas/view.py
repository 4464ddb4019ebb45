"""The floor in the window: pan, zoom, and the mouse gestures."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt, Signal, Slot
from PySide6.QtGui import (
    QContextMenuEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QGraphicsView, QWidget

from railmap.bench.edits import free_ref
from railmap.bench.groups import settled, spot_at
from railmap.model.part import Part
from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.asking import FloorEditor, Question
from railmap.ui.canvas.boardwork import BoardWork, MoveMark, ScalePhoto
from railmap.ui.canvas.commands import FloorCommands
from railmap.ui.canvas.gestures import (
    REACH_PX,
    SHAKE_MM,
    SHAKE_PX,
    Band,
    Gesture,
    Pan,
    snapped,
)
from railmap.ui.canvas.group import ADDING, picked_of, refs_of
from railmap.ui.canvas.joins import Join, PlacePart
from railmap.ui.canvas.legend import LegendWidget
from railmap.ui.canvas.menu import FloorMenu
from railmap.ui.canvas.moves import MoveBoard, MoveParts, ResizeBoard
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.newpart import PREFIX, new_part
from railmap.ui.theme import Theme

LEAST_SCALE, MOST_SCALE = 0.1, 24.0
WHEEL_STEP = 1.2
REACH_MM = 5.0
"""Reach of a pointer at most, so that a tile can still be gripped where it is small."""
FIRST_GRID_MM = 1.0
FAR_STEPS = 10
"""Steps of the grid that an arrow key moves something by while Shift is held."""
CARRIED = (PlacePart, ScalePhoto)
"""Gestures that go on between clicks."""
HANDLE_SHAPES = {
    (1, 1): Qt.CursorShape.SizeFDiagCursor, (-1, 1): Qt.CursorShape.SizeBDiagCursor,
    (0, 1): Qt.CursorShape.SizeHorCursor, (0, 0): Qt.CursorShape.SizeVerCursor,
}  # fmt: skip


class FloorView(QGraphicsView):
    """The floor.

    Attributes
    ----------
    hint : Signal(str)
        A line about the gesture under way; empty when it is over.
    placing : Signal(str)
        Kind of part about to be placed; empty when none is.
    placed : Signal(str)
        Reference of a part that has just been set down.
    grid_mm : float
        Grid that parts and boards go to.
    held : Qt.KeyboardModifier
        Keys held at the last press or move of the pointer.
    """

    hint = Signal(str)
    placing = Signal(str)
    placed = Signal(str)

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bridge = bridge
        self.floor = FloorScene(theme, self)
        self.floor.follow(bridge)
        self.setScene(self.floor)
        self._gesture: Gesture | None = None
        self._fitted, self._shown = True, QRectF()
        self._menu_wanted = False
        self.grid_mm = FIRST_GRID_MM
        self.held = Qt.KeyboardModifier.NoModifier
        self.menu: FloorMenu | None = None
        self.editor = FloorEditor(theme, self)
        self.commands = FloorCommands(self)
        self.boards = BoardWork(self)
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
            "Boards with their parts. Arrow keys go from part to part, with Shift they select "
            "more, with Control they move what is selected; the lists beside it say the same "
            "in words."
        )
        bridge.map_changed.connect(self._map_changed)
        bridge.coloured.connect(self._coloured)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self.floor.set_theme(theme)
        self.commands.set_theme(theme)
        self.editor.set_theme(theme)
        self.legend.set_theme(theme)

    def reach_mm(self) -> float:
        """Return how near a pointer has to be to hit a pin or a line."""
        return min(REACH_PX / self.transform().m11(), REACH_MM)

    def fit(self) -> None:
        """Show everything."""
        self._fitted = True
        self._shown = self._whole()
        box = QRectF(self._shown)
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

    def shaky(self, step: QPointF) -> bool:
        """Tell whether a pointer has moved so little that a click was meant."""
        least = min(SHAKE_MM, SHAKE_PX / self.transform().m11())
        return step.manhattanLength() < least

    def on_grid(self, point: QPointF) -> QPointF:
        """Return the nearest point of the grid, which begins at the corner of each board."""
        origin = self.floor.layout.boards.get(self.floor.board_at(point), QRectF()).topLeft()
        step = point - origin
        return origin + QPointF(snapped(step.x(), self.grid_mm), snapped(step.y(), self.grid_mm))

    def start_placing(self, kind: str) -> None:
        """Carry a new part of a kind until the next click, or the Return key."""
        self.stop()
        middle = self.mapToScene(self.viewport().rect().center())
        self._gesture = PlacePart(self, kind, middle)
        ref = free_ref(self.bridge.map, PREFIX[kind])
        self.show_hint(f"{ref}: click where it goes, or arrow keys and Return; Escape to leave it")
        self.placing.emit(kind)
        self.setFocus()

    def carry(self, gesture: Gesture) -> None:
        """Go on with a gesture that is not held by a button until the next click."""
        self.stop()
        self._gesture = gesture
        self.setFocus()

    def stop(self) -> None:
        """Give up the gesture under way."""
        if self._gesture is not None:
            self._gesture.cancel()
            self._end_gesture()

    def show_hint(self, text: str) -> None:
        """Tell what the gesture under way would do."""
        self.hint.emit(text)

    def ask(self, question: Question, point: QPointF) -> None:
        """Ask something at a point of the floor, in a line to type in."""
        self.editor.ask(question, self.mapFromScene(point) + QPoint(12, 8))

    def turn_placed(self, degrees: int) -> bool:
        """Turn the part that is being placed; False if none is."""
        if not isinstance(self._gesture, PlacePart):
            return False
        self._gesture.turn_by(degrees)
        return True

    def place_part(self, kind: str, at: QPointF, turn: int = 0) -> None:
        """Add a part of a kind at a point of the floor, and select it."""
        m, places = self.bridge.map, self.floor.layout.places
        board, place = spot_at(m, at.x(), at.y(), turn)
        node = self.floor.rail_at(at, self.reach_mm() * 1.5)
        part: Part = new_part(m, kind, node, board, place)
        changes = [Change("parts", None, part), *settled(m, places, {board})]
        if self.bridge.do(f"Add {part.ref}", changes):
            self.bridge.pick(Picked("part", part.ref))
            self.placed.emit(part.ref)

    def delete_picked(self) -> None:
        """Take what is selected out of the map."""
        self.commands.delete()

    def turn_picked(self) -> None:
        """Turn what is selected by half a turn, so that its first pin is on the other side."""
        self.commands.turn(2)

    def step_selection(self, dx: int, dy: int, adding: bool = False) -> None:
        """Select the nearest part in a direction, beside those that are selected if wanted."""
        tiles, refs = self.floor.layout.tiles, refs_of(self.bridge.selection)
        here = tiles.get(refs[-1]) if refs else None
        if here is None:
            if tiles:
                self.bridge.pick(Picked("part", next(iter(tiles))))
            return
        best, found = float("inf"), ""
        for ref, rect in tiles.items():
            step = rect.center() - here.center()
            ahead = step.x() * dx + step.y() * dy
            aside = abs(step.x() * dy) + abs(step.y() * dx)
            if ahead > 1 and ahead + 2 * aside < best and not (adding and ref in refs):
                best, found = ahead + 2 * aside, ref
        if found:
            self.bridge.pick(picked_of((*refs, found)) if adding else Picked("part", found))
            self.ensureVisible(tiles[found], 20, 20)

    def _whole(self) -> QRectF:
        return self.floor.extent().adjusted(6, 6, -6, -6)

    def _place_of(self, what: Picked) -> QRectF | None:
        layout = self.floor.layout
        if what.kind == "part":
            return layout.tiles.get(what.key)
        if what.kind == "board":
            return layout.boards.get(what.key)
        box = QRectF()
        for ref in refs_of(what):
            box = box.united(layout.tiles.get(ref, QRectF()))
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
        if changes == () or (self._fitted and self._whole() != self._shown):
            self.fit()

    @Slot()
    def _coloured(self) -> None:
        self.legend.set_colouring(self.bridge.colouring)

    def _end_gesture(self) -> None:
        self._gesture = None
        self.show_hint("")
        self.placing.emit("")

    def _begin(self, point: QPointF, pixel: QPoint) -> Gesture:
        """Return the gesture of a press with the main button; select what is under it."""
        scene, bridge, reach = self.floor, self.bridge, self.reach_mm()
        if self.held & ADDING:
            return Band(self, point, adding=True)
        handle = scene.handle_at(point, reach)
        if handle is not None:
            return ResizeBoard(self, *handle, point)
        ref, pin = scene.pin_at(point, reach)
        if ref:
            bridge.pick(Picked("part", ref))
            return Join(self, ref, pin, point)
        mark, ref = scene.mark_at(point), scene.part_at(point)
        if mark is not None:
            bridge.pick(Picked("board", mark.board))
            return MoveMark(self, mark, point)
        if ref:
            refs = refs_of(bridge.selection)
            if ref not in refs:
                bridge.pick(Picked("part", ref))
                refs = (ref,)
            return MoveParts(self, refs, ref, point)
        return self._begin_on_ground(point, pixel)

    def _begin_on_ground(self, point: QPointF, pixel: QPoint) -> Gesture:
        node, board = self.floor.rail_at(point, self.reach_mm()), self.floor.board_at(point)
        if node:
            self.bridge.pick(Picked("rail", node))
            return Pan(self, pixel)
        self.bridge.pick(Picked("board", board) if board else Picked())
        if not board:
            return Pan(self, pixel)
        if self.floor.grip_at(point):
            return MoveBoard(self, board, point)
        return Band(self, point, adding=False)

    def _hover(self, point: QPointF) -> Qt.CursorShape:
        """Return the pointer that tells what a press at a point would do."""
        handle = self.floor.handle_at(point, self.reach_mm())
        if handle is not None:
            return HANDLE_SHAPES[handle[1][0] * handle[1][1], abs(handle[1][0])]
        if self.floor.pin_at(point, self.reach_mm())[0]:
            return Qt.CursorShape.CrossCursor
        if not self.floor.part_at(point) and self.floor.grip_at(point):
            return Qt.CursorShape.SizeAllCursor
        return Qt.CursorShape.ArrowCursor

    def show_menu(self, point: QPointF) -> None:
        """Show the menu at a point of the floor."""
        if self.menu is not None:
            self.menu.deleteLater()
        self.menu = FloorMenu(self, point)
        self.menu.popup(self.viewport().mapToGlobal(self.mapFromScene(point)))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        pixel = event.position().toPoint()
        point, self.held = self.mapToScene(pixel), event.modifiers()
        carried = isinstance(self._gesture, CARRIED)
        if carried and event.button() == Qt.MouseButton.LeftButton:
            return
        self.editor.leave()
        self._menu_wanted = self._gesture is None
        self.stop()
        if event.button() in (Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton):
            self._gesture = Pan(self, pixel)
        elif event.button() == Qt.MouseButton.LeftButton:
            self._gesture = self._begin(point, pixel)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        pixel, self.held = event.position().toPoint(), event.modifiers()
        if self._gesture is not None:
            if isinstance(self._gesture, Pan):
                self._fitted = False
            self._gesture.move(self.mapToScene(pixel), pixel)
            return
        self.viewport().setCursor(self._hover(self.mapToScene(pixel)))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        gesture, self.held = self._gesture, event.modifiers()
        if gesture is None:
            return
        point = self.mapToScene(event.position().toPoint())
        self._end_gesture()
        gesture.end(point)
        right = event.button() == Qt.MouseButton.RightButton and self._menu_wanted
        if right and isinstance(gesture, Pan) and gesture.still:
            self.show_menu(point)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """See Qt."""
        event.accept()
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            rect = self._place_of(self.bridge.selection)
            middle = self.mapToScene(self.viewport().rect().center())
            self.show_menu(middle if rect is None else rect.center())

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
        step, held = arrows.get(Qt.Key(event.key())), event.modifiers()
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        shift = bool(held & Qt.KeyboardModifier.ShiftModifier)
        far = self.grid_mm * (FAR_STEPS if shift else 1)
        placed = self._gesture if isinstance(self._gesture, PlacePart) else None
        if step is not None and placed is not None:
            placed.shift(QPointF(step[0] * far, step[1] * far))
        elif step is not None and control:
            self.commands.nudge(step[0] * far, step[1] * far)
        elif step is not None:
            self.step_selection(*step, adding=shift)
        elif placed is not None and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._end_gesture()
            placed.end(placed.at)
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
