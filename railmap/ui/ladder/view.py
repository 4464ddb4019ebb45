"""The ladder in the window: zoom, pan, selection by pointer and by keys."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import (
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QToolTip, QWidget

from railmap.solve.solution import Solution
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.group import ADDING, Picked, keys_of, picked_of, refs_of, toggled
from railmap.ui.ladder import words
from railmap.ui.ladder.figures import Mark
from railmap.ui.ladder.found import paint_found
from railmap.ui.ladder.lettering import QtLettering
from railmap.ui.ladder.paint import paint_ladder
from railmap.ui.ladder.scene import LadderScene
from railmap.ui.ladder.shapes import Box, Key
from railmap.ui.ladder.steps import (
    keys_at,
    part_beside,
    part_beyond,
    row_of,
    rungs_in_order,
)
from railmap.ui.theme import Theme

STEP = 1.25
"""How much a key or a notch of the wheel zooms."""
DRAG_PX = 4.0
PAGE = 0.5
"""Part of the sight that a page key moves by."""


class LadderView(QWidget):
    """The ladder.

    Parameters
    ----------
    bridge : Bridge
        Where map, solutions and selection come from.
    theme : Theme
        Colours.
    """

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bridge, self.theme = bridge, theme
        self.scene = LadderScene(QtLettering(self.font()), theme.figures)
        self.scene.set_room(self._room())
        self.found: frozenset[Key] = frozenset()
        self._node = ""
        self._pressed: QPointF | None = None
        self._dragged = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName("Ladder")
        bridge.map_changed.connect(self._map_changed)
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._unsolved)
        bridge.coloured.connect(self._coloured)
        bridge.picked.connect(self._picked)
        self._map_changed(())
        if bridge.solution is not None:
            self._solved(bridge.solution)
        self._picked(bridge.selection)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self.theme = theme
        if theme.figures != self.scene.style:
            self.scene.set_style(theme.figures)
            self._coloured()
        self._tell()

    def set_readings(self, marks: tuple[Mark, ...]) -> None:
        """Show readings on the rungs."""
        self.scene.set_marks(marks)
        self._tell()

    def show_found(self, found: Iterable[Picked]) -> None:
        """Light up what was found."""
        self.found = frozenset((what.kind, what.key) for what in found)
        self.update()

    def bring(self, what: Picked) -> None:
        """Move something into sight if it is out of it."""
        nodes = [what.key] if what.kind == "rail" else self.scene.nodes_of(what.key)
        volts = [self.scene.figures.of(node) for node in nodes]
        if volts and not any(self.scene.sight.low <= v <= self.scene.sight.high for v in volts):
            self._bring(nodes[0])
            self.update()

    @Slot()
    def fit(self) -> None:
        """Show every rung."""
        self.scene.show_whole()
        self.update()

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom the volts about a point; by default about what is selected, or the middle."""
        scene, ground = self.scene, self.scene.ground()
        y = (ground.clip.top + ground.clip.bottom) / 2 if at is None else at.y()
        volts = ground.volts(y)
        if at is None and self._node in scene.ladder.rungs:
            here = scene.figures.of(self._node)
            volts = here if scene.sight.low <= here <= scene.sight.high else volts
        scene.show_sight(scene.sight.zoomed(factor, volts))
        self.update()

    @Slot()
    def zoom_in(self) -> None:
        """Show fewer volts, larger."""
        self.zoom(STEP)

    @Slot()
    def zoom_out(self) -> None:
        """Show more volts, smaller."""
        self.zoom(1 / STEP)

    def zoom_to(self, what: Picked) -> None:
        """Bring what is selected to the middle, with its nearest neighbours told apart."""
        if self.scene.zoom_to(what):
            self.update()

    @Slot()
    def zoom_to_selection(self) -> None:
        """Bring what is selected to the middle."""
        self.zoom_to(self.bridge.selection)

    def step_rung(self, by: int) -> None:
        """Select the next rung, upwards below 0; from a part the rung on that side of it."""
        order = rungs_in_order(self.scene.ladder, self.scene.figures)
        if not order:
            return
        end = self._end_of_part(order, by)
        if end:
            self._go(end)
            return
        if self._node not in order:
            self._go(order[0 if by > 0 else -1])
            return
        self._go(order[min(max(order.index(self._node) + by, 0), len(order) - 1)])

    def _end_of_part(self, order: Sequence[str], by: int) -> str:
        """Return the upper or lower rung of the part selected last; nothing if none is."""
        refs = refs_of(self.bridge.selection)
        ends = [node for node in self.scene.nodes_of(refs[-1]) if node in order] if refs else []
        ends.sort(key=order.index)
        return ends[0 if by < 0 else -1] if ends else ""

    def add_beyond(self, by: int) -> None:
        """Select also a part that leads on from the last one, upwards below 0."""
        order = rungs_in_order(self.scene.ladder, self.scene.figures)
        node = self._end_of_part(order, by) or self._node
        if node in order:
            refs = refs_of(self.bridge.selection)
            self._add(node, part_beyond(self.scene.ladder, order, node, refs, by))

    def add_beside(self, by: int) -> None:
        """Select also the next part on the same rung, backwards below 0."""
        if self._node in self.scene.ladder.rungs:
            refs = refs_of(self.bridge.selection)
            self._add(self._node, part_beside(self.scene.ladder, self._node, refs, by))

    def _add(self, node: str, ref: str) -> None:
        if ref:
            self._node = node
            self.bridge.pick(picked_of((*refs_of(self.bridge.selection), ref)))
            self._bring(node)

    def step_along(self, by: int) -> None:
        """Select the next part on the same rung, backwards below 0."""
        if self._node not in self.scene.ladder.rungs:
            self.step_rung(1)
            return
        row = row_of(self.scene.ladder, self._node)
        here = next(reversed(keys_of(self.bridge.selection)), ("", ""))
        at = row.index(here) if here in row else 0
        self._pick(row[min(max(at + by, 0), len(row) - 1)])

    def _go(self, node: str) -> None:
        self._node = node
        self._pick(("rail", node))
        self._bring(node)

    def _bring(self, node: str) -> None:
        """Move a rung into sight if it is out of it."""
        volts, sight = self.scene.figures.of(node), self.scene.sight
        edge = (sight.high - sight.low) * 0.1
        if volts > sight.high:
            self.scene.show_sight(sight.moved(volts - sight.high + edge))
        elif volts < sight.low:
            self.scene.show_sight(sight.moved(volts - sight.low - edge))

    def _pick(self, key: Key) -> None:
        self.bridge.pick(Picked(*key))

    def _room(self) -> Box:
        return Box(0.0, 0.0, float(self.width()), float(self.height()))

    @Slot(object)
    def _map_changed(self, changes: object) -> None:
        self.scene.show_map(self.bridge.map, anew=changes == ())

    @Slot(object)
    def _solved(self, solution: Solution) -> None:
        bridge = self.bridge
        self.scene.show_solution(solution, bridge.calm, bool(bridge.drift), bridge.shades())
        self._tell()

    @Slot()
    def _coloured(self) -> None:
        if self.bridge.solution is not None:
            self._solved(self.bridge.solution)

    @Slot()
    def _unsolved(self) -> None:
        self.scene.show_solution(None)
        self._tell()

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        self.scene.pick(what)
        refs = refs_of(what)
        if what.kind == "rail":
            self._node = what.key
        elif refs:
            nodes = self.scene.nodes_of(refs[-1])
            # Stays on the rung along which the keys went.
            if nodes and self._node not in nodes:
                self._node = nodes[0]
        self._tell()

    def _tell(self) -> None:
        """Repaint, and say in words what is selected."""
        keys = self.scene.lit.picked
        short = words.short(self.scene, keys)
        self.setAccessibleName(f"Ladder, {short}" if short else "Ladder")
        about = words.about_all(self.scene, keys[: words.MOST_NAMED])
        self.setAccessibleDescription(about or HELP)
        self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(300, 500)

    def minimumSizeHint(self) -> QSize:
        """See Qt."""
        return QSize(200, 160)

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), self.theme.floor)
        paint_ladder(painter, QRectF(self.rect()), self.scene, self.theme)
        paint_found(painter, self.scene.drawing(), self.found, self.theme)
        if self.hasFocus():
            painter.setPen(self.theme.accent)
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        self.scene.set_room(self._room())

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        if event.type() == QEvent.Type.FontChange:
            self.scene.set_letters(QtLettering(self.font()))
            self.update()
        super().changeEvent(event)

    def event(self, event: QEvent) -> bool:
        """See Qt."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            keys = self.keys_at(QPointF(event.pos()))
            text = "\n".join(words.about(self.scene, key) for key in keys)
            QToolTip.showText(event.globalPos(), text, self)
            return True
        return super().event(event)

    def keys_at(self, point: QPointF) -> tuple[Key, ...]:
        """Return what is at a point of the widget."""
        return keys_at(self.scene.drawing(), point.x(), point.y())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        self._pressed, self._dragged = event.position(), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        if self._pressed is None:
            over = bool(self.keys_at(event.position()))
            self.setCursor(
                Qt.CursorShape.PointingHandCursor if over else Qt.CursorShape.ArrowCursor
            )
            return
        moved = event.position().y() - self._pressed.y()
        if self._dragged or abs(moved) > DRAG_PX:
            self._dragged, self._pressed = True, event.position()
            ground = self.scene.ground()
            self.scene.show_sight(self.scene.sight.moved(ground.volts(0) - ground.volts(moved)))
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        pressed, self._pressed = self._pressed, None
        if pressed is None or self._dragged or event.button() != Qt.MouseButton.LeftButton:
            return
        keys = self.keys_at(event.position())
        if event.modifiers() & ADDING:
            refs = [key for kind, key in keys if kind == "part"]
            if refs:
                self.bridge.pick(toggled(self.bridge.selection, refs))
            return
        if not keys:
            self.bridge.pick(Picked())
            return
        # A foot of several loads goes on to the next one with every click.
        picked = self.scene.lit.picked
        same = len(picked) == 1 and picked[0] in keys and event.position() == pressed
        at = keys.index(picked[0]) + 1 if same else 0
        self._pick(keys[at % len(keys)])

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        if not self.keys_at(event.position()):
            self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        turns = event.angleDelta().y() / 120.0
        if turns:
            self.zoom(STEP**turns, event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        key = Qt.Key(event.key())
        adding = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if not (adding and self._reach(key)) and not self._move(key):
            super().keyPressEvent(event)

    def _reach(self, key: Qt.Key) -> bool:
        """Select one more part where the key points; False if it points nowhere."""
        match key:
            case Qt.Key.Key_Up | Qt.Key.Key_Down:
                self.add_beyond(-1 if key == Qt.Key.Key_Up else 1)
            case Qt.Key.Key_Left | Qt.Key.Key_Right:
                self.add_beside(-1 if key == Qt.Key.Key_Left else 1)
            case _:
                return False
        return True

    def _move(self, key: Qt.Key) -> bool:
        """Do what a key stands for; False if it stands for nothing."""
        sight = self.scene.sight
        page = PAGE * (sight.high - sight.low)
        order = rungs_in_order(self.scene.ladder, self.scene.figures)
        match key:
            case Qt.Key.Key_Up | Qt.Key.Key_Down:
                self.step_rung(-1 if key == Qt.Key.Key_Up else 1)
            case Qt.Key.Key_Left | Qt.Key.Key_Right:
                self.step_along(-1 if key == Qt.Key.Key_Left else 1)
            case Qt.Key.Key_Home | Qt.Key.Key_End if order:
                self._go(order[0 if key == Qt.Key.Key_Home else -1])
            case Qt.Key.Key_PageUp | Qt.Key.Key_PageDown:
                self.scene.show_sight(sight.moved(page if key == Qt.Key.Key_PageUp else -page))
            case Qt.Key.Key_Plus | Qt.Key.Key_Minus:
                self.zoom(STEP if key == Qt.Key.Key_Plus else 1 / STEP)
            case Qt.Key.Key_Return | Qt.Key.Key_Enter:
                self.zoom_to_selection()
            case Qt.Key.Key_Escape:
                self._node = ""
                self._pick(("", ""))
            case Qt.Key.Key_0:
                self.fit()
            case _:
                return False
        self.update()
        return True


HELP = (
    "Height is volts, columns are boards. Up and down go from rung to rung, left and right to "
    "what stands on one, Home and End to the highest and the lowest. With Shift the arrow keys "
    "select one part more: the next on the rung, or one that leads on from it. Plus and minus "
    "zoom, Return zooms to what is selected, 0 shows everything."
)
