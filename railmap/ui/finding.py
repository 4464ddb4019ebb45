"""The box that finds parts, rails and boards, and the rings around what was found."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, QRectF, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QPainter, QPen
from PySide6.QtWidgets import (
    QGraphicsItem,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QStyleOptionGraphicsItem,
    QWidget,
)

from railmap.bench.find import find
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.items import pixels_a_mm
from railmap.ui.canvas.view import FloorView
from railmap.ui.theme import Theme

READABLE = 1.5
"""Pixels a millimetre from which a tile can be read."""


class FindBox(QWidget):
    """A line to type into, and which of the matches is shown.

    Attributes
    ----------
    found : Signal(object)
        A tuple of what matches (:class:`Picked`); empty when nothing is looked for.
    went : Signal(object)
        The match that was gone to.
    left : Signal()
        The box was left by Escape.
    """

    found = Signal(object)
    went = Signal(object)
    left = Signal()

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bridge, self._theme = bridge, theme
        self.matches: tuple[Picked, ...] = ()
        self.place = -1
        self.line, self.count = QLineEdit(), QLabel()
        self.line.setPlaceholderText("Find R104, 4k7, +12 …")
        self.line.setAccessibleName("Find")
        self.line.setAccessibleDescription(
            "Reference, rail, node, value, board or notes. Enter goes to the next match, Shift "
            "and Enter to the one before, Escape ends the search."
        )
        self.line.setToolTip("Find by reference, rail, node, value, board or notes (Ctrl+F)")
        self.line.setClearButtonEnabled(True)
        self.line.setMinimumWidth(110)
        self.line.setMaximumWidth(200)
        self.count.setVisible(False)
        row = QHBoxLayout(self)
        row.setContentsMargins(6, 0, 6, 0)
        row.setSpacing(4)
        row.addWidget(self.line)
        row.addWidget(self.count)
        self.setFocusProxy(self.line)
        self.line.textChanged.connect(self._look)
        self.line.installEventFilter(self)
        bridge.map_changed.connect(self._look_again)

    def set_theme(self, theme: Theme) -> None:
        """Read figures as another theme does."""
        self._theme = theme
        self._look_again(None)

    def step(self, by: int) -> None:
        """Go to the next match, or to the one before."""
        if not self.matches:
            return
        if self.place < 0:
            self.place = 0 if by > 0 else len(self.matches) - 1
        else:
            self.place = (self.place + by) % len(self.matches)
        self._tell()
        self._bridge.pick(self.matches[self.place])
        self.went.emit(self.matches[self.place])

    def start(self) -> None:
        """Take the keyboard, with what stands there selected."""
        self.line.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.line.selectAll()

    @Slot(str)
    def _look(self, text: str) -> None:
        found = find(self._bridge.map, text, self._theme.figures)
        self.matches = tuple(Picked(f.kind, f.key) for f in found)
        self.place = -1
        self._tell()
        self.found.emit(self.matches)

    @Slot(object)
    def _look_again(self, _: object) -> None:
        """Follow the map; the match that was gone to stays the present one."""
        if not self.line.text().strip():
            return
        here = self.matches[self.place] if self.place >= 0 else None
        self._look(self.line.text())
        if here in self.matches:
            self.place = self.matches.index(here)
            self._tell()

    def _tell(self) -> None:
        total = len(self.matches)
        if not self.line.text().strip():
            text = ""
        elif not total:
            text = "none"
        else:
            text = f"{self.place + 1}/{total}" if self.place >= 0 else f"{total}"
        self.count.setText(text)
        self.count.setVisible(bool(text))
        self.count.setAccessibleName(f"Matches: {text or 'nothing looked for'}")

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """See Qt; Enter, the arrows and Escape in the line."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return super().eventFilter(watched, event)
        back = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        match Qt.Key(event.key()):
            case Qt.Key.Key_Return | Qt.Key.Key_Enter:
                self.step(-1 if back else 1)
            case Qt.Key.Key_Down:
                self.step(1)
            case Qt.Key.Key_Up:
                self.step(-1)
            case Qt.Key.Key_Escape:
                self.line.clear()
                self.left.emit()
            case _:
                return False
        return True


class FoundRings(QGraphicsItem):
    """Rings on the floor around what was found; they lie over everything.

    Parameters
    ----------
    view : FloorView
        The floor.
    """

    def __init__(self, view: FloorView, theme: Theme) -> None:
        super().__init__()
        self._view, self._theme = view, theme
        self._found: Sequence[Picked] = ()
        self._rects: list[QRectF] = []
        self._box = QRectF()
        self.setZValue(50)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        view.floor.addItem(self)

    @property
    def rects(self) -> list[QRectF]:
        """What is ringed, in millimetres of the floor."""
        return self._rects

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.update()

    def show_found(self, found: Sequence[Picked]) -> None:
        """Ring what was found, and nothing else."""
        self._found = found
        self.follow()

    def follow(self) -> None:
        """Move to where things are now."""
        rects = [rect for what in self._found for rect in self._rects_of(what)]
        if rects == self._rects:
            return
        self.prepareGeometryChange()
        self._rects, self._box = rects, QRectF()
        for rect in rects:
            self._box = self._box.united(rect.adjusted(-4, -4, 4, 4))
        self.update()

    def bring(self, what: Picked) -> None:
        """Let something be seen: zoom to it if it is out of sight or too small to read."""
        view = self._view
        sight = view.mapToScene(view.viewport().rect()).boundingRect()
        rects = self._rects_of(what)
        seen = any(sight.contains(rect) for rect in rects)
        if rects and not (seen and (what.kind == "board" or view.transform().m11() >= READABLE)):
            view.zoom_to(what)

    def _rects_of(self, what: Picked) -> list[QRectF]:
        floor = self._view.floor
        if what.kind == "rail":
            return [tag.sceneBoundingRect() for tag in floor.tags if tag.node == what.key]
        places = floor.layout.tiles if what.kind == "part" else floor.layout.boards
        rect = places.get(what.key)
        return [] if rect is None else [rect]

    def boundingRect(self) -> QRectF:
        """See Qt."""
        return self._box

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """See Qt."""
        scale = pixels_a_mm(option, painter)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, wide in ((self._theme.panel, 5.0), (self._theme.found, 3.0)):
            # Of even width on the screen, for they must be seen from afar as well.
            painter.setPen(QPen(colour, wide / scale))
            for rect in self._rects:
                around = 2.0 / scale + 1.0
                painter.drawRoundedRect(rect.adjusted(-around, -around, around, around), 3, 3)
