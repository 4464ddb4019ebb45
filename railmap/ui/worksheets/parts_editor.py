"""How a cell of the parts table is painted and typed in."""

from __future__ import annotations

from PySide6.QtCore import (
    QAbstractItemModel,
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QSize,
    Qt,
    Signal,
    Slot,
)
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QFrame,
    QLabel,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from railmap.bench.part_columns import COLUMNS
from railmap.ui.theme import Theme
from railmap.ui.worksheets.parts_model import MISSING_ROLE, PROPOSED_ROLE, REASON_ROLE, PartsModel
from railmap.ui.worksheets.tables import Index

Hint = QAbstractItemDelegate.EndEditHint
_ENDS = {
    Qt.Key.Key_Tab: Hint.EditNextItem, Qt.Key.Key_Backtab: Hint.EditPreviousItem,
    Qt.Key.Key_Return: Hint.SubmitModelCache, Qt.Key.Key_Enter: Hint.SubmitModelCache,
}  # fmt: skip
_MARK = 7.0


class CellLine(QLineEdit):
    """The line that a cell is typed in; what the table adds to it is selected, to be typed over.

    Attributes
    ----------
    written : Signal(str)
        Its text, as it is typed or completed.
    """

    written = Signal(str)

    def __init__(self, index: Index, parent: QWidget) -> None:
        super().__init__(parent)
        self._index = QPersistentModelIndex(index)
        self._before = ""
        self.textEdited.connect(self._edited)

    @Slot(str)
    def _edited(self, text: str) -> None:
        longer = len(text) > len(self._before) and self.cursorPosition() == len(text)
        self._before = text
        model = self._index.model()
        if longer and isinstance(model, PartsModel):
            full = model.completion(self._index.row(), COLUMNS[self._index.column()], text)
            if full:
                self.setText(full)
                self.setModified(True)
                self.setSelection(len(text), len(full) - len(text))
        self.written.emit(self.text())


class CellEditor(QStyledItemDelegate):
    """Paints the marks of cells, and makes the line that a cell is typed in.

    Attributes
    ----------
    typed : Signal(str)
        The text of the open cell, as it is typed.
    ended : Signal(int)
        The arrow key that ended the typing, for the table to follow.
    """

    typed = Signal(str)
    ended = Signal(int)

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """See Qt."""
        super().paint(painter, option, index)
        box = QRect(option.rect)  # pyright: ignore[reportAttributeAccessIssue]
        # Qt's own grid cannot be seen on a dark ground.
        painter.setPen(self.theme.line)
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        painter.drawLine(box.topRight(), box.bottomRight())
        if index.data(REASON_ROLE):
            self._paint_mark(painter, box)
        elif index.data(MISSING_ROLE):
            painter.save()
            painter.setPen(QPen(self.theme.warn, 1.4, Qt.PenStyle.DashLine))
            painter.drawLine(box.left() + 4, box.bottom() - 3, box.right() - 5, box.bottom() - 3)
            painter.restore()

    def _paint_mark(self, painter: QPainter, box: QRect) -> None:
        """Paint a corner: the mark of a cell with a reason, also without colour."""
        x, y = float(box.right() + 1), float(box.top())
        corner = [QPointF(x, y), QPointF(x - _MARK, y), QPointF(x, y + _MARK)]
        painter.save()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.theme.warn)
        painter.drawPolygon(QPolygonF(corner))
        painter.restore()

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """See Qt."""
        size = super().sizeHint(option, index)
        return QSize(size.width() + int(_MARK), size.height())

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        """See Qt."""
        editor = CellLine(index, parent)
        editor.setFrame(False)
        editor.setAutoFillBackground(True)
        editor.setAccessibleName(str(index.model().headerData(index.column(), _ACROSS)))
        editor.written.connect(self._was_typed)
        return editor

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        """See Qt; what is being typed stays when the map changes meanwhile."""
        assert isinstance(editor, QLineEdit)
        if not editor.isModified():
            editor.setText(index.data(PROPOSED_ROLE) or str(index.data(Qt.ItemDataRole.EditRole)))

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        """See Qt."""
        assert isinstance(editor, QLineEdit)
        if editor.isModified():
            model.setData(_plain(model, index), editor.text(), Qt.ItemDataRole.EditRole)

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        """See Qt; every key that ends the typing does so at once, not after the next one."""
        if event.type() == QEvent.Type.KeyPress and isinstance(editor, QLineEdit):
            assert isinstance(event, QKeyEvent)
            key = Qt.Key(event.key())
            if key in _ENDS:
                self.commitData.emit(editor)
                self.closeEditor.emit(editor, _ENDS[key])
                return True
            if key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
                self.commitData.emit(editor)
                self.closeEditor.emit(editor, Hint.NoHint)
                self.ended.emit(int(key))
                return True
        return super().eventFilter(editor, event)

    @Slot(str)
    def _was_typed(self, text: str) -> None:
        self.typed.emit(text)


_ACROSS = Qt.Orientation.Horizontal


def _plain(model: QAbstractItemModel, index: Index) -> QModelIndex:
    """Return an index that Qt takes: a persistent one is none."""
    if isinstance(index, QPersistentModelIndex):
        return model.index(index.row(), index.column())
    return index


class Bubble(QLabel):
    """A sentence at a cell, over the rows beside it; the mouse goes through it."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWordWrap(True)
        self.setFrameShape(QFrame.Shape.Box)
        self.setMargin(5)
        self.setAutoFillBackground(True)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setVisible(False)
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        colours = self.palette()
        colours.setColor(QPalette.ColorRole.Window, theme.panel)
        colours.setColor(QPalette.ColorRole.WindowText, QColor(theme.warn))
        self.setPalette(colours)

    def say(self, text: str, cell: QRect, room: QRect) -> None:
        """Show a sentence below a cell, or above it where there is no room; empty hides it."""
        if not text or not room.intersects(cell):
            self.setVisible(False)
            return
        self.setText(text)
        self.setAccessibleName(text)
        wide = min(self.fontMetrics().horizontalAdvance(text) + 24, 430, max(room.width() - 8, 80))
        high = self.heightForWidth(wide)
        left = max(min(cell.left(), room.right() - wide - 4), room.left() + 4)
        top = cell.bottom() + 2
        if top + high > room.bottom():
            top = max(cell.top() - high - 2, room.top())
        self.setGeometry(left, top, wide, high)
        self.setVisible(True)
        self.raise_()
