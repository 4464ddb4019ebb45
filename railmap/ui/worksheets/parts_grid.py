"""The grid of the parts table: moving, typing, pasting and deleting by keyboard alone."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QApplication,
    QHeaderView,
    QTableView,
    QWidget,
)

from railmap.bench.part_columns import COLUMNS, MAIN_COLUMNS
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.theme import Theme
from railmap.ui.worksheets.parts_editor import Bubble, CellEditor
from railmap.ui.worksheets.parts_model import PartsModel

Hint = QAbstractItemDelegate.EndEditHint
_KINDS = {"parts": "part", "rails": "rail", "boards": "board"}
_WIDTHS = {"kind": 122, "drawn": 172, "board": 84, "notes": 140}
_LEAST, _MOST = 48, 300
# What nobody knows of a part while it is copied from the drawing.
_LATER = ("fitted", "found", "notes")


class PartsGrid(QTableView):
    """The table of parts, rails and boards.

    Parameters
    ----------
    bridge : Bridge
        The map, its history and what is selected.
    theme : Theme
        Its colours.

    Attributes
    ----------
    moved : Signal()
        Another cell is the present one.
    told : Signal()
        What is wrong with the present cell may have changed; it stands in ``reason``.
    said : Signal(str)
        One sentence about what was pasted.
    """

    moved = Signal()
    told = Signal()
    said = Signal(str)

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self._bridge = bridge
        self.table = PartsModel(bridge, theme, self)
        self.cells = CellEditor(theme, self)
        self.setModel(self.table)
        self.setItemDelegate(self.cells)
        self.bubble = Bubble(theme, self.viewport())
        self.reason = self._live = ""
        self._following = False
        # Many changes in a row widen the columns once.
        self._wide = QTimer(self)
        self._wide.setSingleShot(True)
        self._wide.setInterval(0)
        self._wide.timeout.connect(self._widen)
        self._set_up()
        self.show_all(False)
        self.selectionModel().currentChanged.connect(self._current_changed)
        self.cells.typed.connect(self._typed)
        self.cells.ended.connect(self._go)
        self.table.dataChanged.connect(self._say_reason)
        self.table.modelReset.connect(self._to_start)
        self.table.counted.connect(self._wide.start)
        bridge.picked.connect(self._picked)
        QApplication.instance().focusChanged.connect(self._focus_moved)  # type: ignore[union-attr]
        self._to_start()

    def _set_up(self) -> None:
        self.setAccessibleName("Parts table")
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setFrameShape(QTableView.Shape.NoFrame)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            triggers.AnyKeyPressed | triggers.DoubleClicked | triggers.EditKeyPressed
        )
        self.verticalHeader().setDefaultSectionSize(24)
        self.verticalHeader().setMinimumWidth(22)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionsClickable(True)
        header.setStretchLastSection(True)
        header.sectionClicked.connect(self.sort_by)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        for number, column in enumerate(COLUMNS):
            title = header.sectionSizeHint(number) + 6
            self.setColumnWidth(number, max(_WIDTHS.get(column, _LEAST), title))
        # Only the rows that are seen count, or long tables would be slow.
        header.setResizeContentsPrecision(0)

    def show_all(self, on: bool) -> None:
        """Show every column, or the usual ones."""
        for number, column in enumerate(COLUMNS):
            self.setColumnHidden(number, not on and column not in MAIN_COLUMNS)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self.cells.theme = theme
        self.bubble.set_theme(theme)
        self.table.set_theme(theme)

    @property
    def here(self) -> tuple[int, str]:
        """Line and column of the present cell."""
        index = self.currentIndex()
        return (index.row(), COLUMNS[index.column()]) if index.isValid() else (0, COLUMNS[0])

    @property
    def offer(self) -> str:
        """What is proposed for the present cell; empty while it is typed in."""
        typing = self.state() == QAbstractItemView.State.EditingState
        return "" if typing else self.table.offered(*self.here)

    @property
    def chosen(self) -> list[tuple[int, int]]:
        """Line and column number of the selected cells that can be seen."""
        found = [(i.row(), i.column()) for i in self.selectionModel().selectedIndexes()]
        return [(row, column) for row, column in found if not self.isColumnHidden(column)]

    # Moving.

    def step(self, by: int) -> None:
        """Go to the next cell, or to the one before, that is there to be filled in."""
        place, column = self.here
        number = COLUMNS.index(column)
        if by > 0:
            self.table.take(place, column)
        stops = self._stops(place, by)
        ahead = [n for n in stops if n > number] if by > 0 else [n for n in stops if n < number]
        if ahead:
            self._set_here(place, ahead[0 if by > 0 else -1])
        elif by > 0:
            self.end_row()
        elif place > 0:
            self._set_here(place - 1, self._stops(place - 1, by)[-1])

    def _stops(self, place: int, by: int) -> list[int]:
        """Return the columns that Tab stops at in a line: forwards not at a kind that is known."""
        spec, new = self.table.spec_at(place), self.table.lines[place].new
        told = new and by > 0 and spec is not None and not self.table.text_at(place, "kind")
        return [
            number
            for number, column in enumerate(COLUMNS)
            if not self.isColumnHidden(number)
            and (spec is None or spec.has(column))
            and not (new and column in _LATER)
            and not (told and column == "kind")
        ]

    def end_row(self) -> None:
        """End the present line: on to the next if it is good, else to what it lacks."""
        place, column = self.here
        new = self.table.lines[place].new
        if self.table.lines[place].blank and self.table.offered(place, column):
            self.step(1)
            return
        if self._shows_unseen(place):
            return
        self.table.take(place, *MAIN_COLUMNS)
        if new and self.table.finish(place):
            self._set_here(len(self.table.lines) - 1, COLUMNS.index("ref"))
            return
        trouble = self.table.first_trouble(place)
        if trouble and (new or trouble == column):
            self.show_column(trouble)
            self._set_here(place, COLUMNS.index(trouble))
            return
        self._set_here(min(place + 1, len(self.table.lines) - 1), COLUMNS.index(column))

    def _shows_unseen(self, place: int) -> bool:
        """Go to the first cell of a row with a proposal that is out of sight; False if none is."""
        room = self.viewport().rect()
        for number, column in enumerate(COLUMNS):
            cell = self.visualRect(self.table.index(place, number))
            if self.table.offered(place, column) and not room.contains(cell.center()):
                self._set_here(place, number)
                return True
        return False

    @Slot()
    def _widen(self) -> None:
        """Give every column the room it wants, within reason; none becomes narrower."""
        for number in range(len(COLUMNS)):
            wanted = 0 if self.isColumnHidden(number) else self.sizeHintForColumn(number) + 6
            if wanted > self.columnWidth(number):
                self.setColumnWidth(number, min(wanted, _MOST))

    def show_column(self, column: str) -> None:
        """Let a column be seen that has something to say."""
        self.setColumnHidden(COLUMNS.index(column), False)

    def _set_here(self, place: int, column: int) -> None:
        index = self.table.index(place, column)
        # Without saying how, the keys that are held down would decide what is selected.
        select = QItemSelectionModel.SelectionFlag.ClearAndSelect
        self.selectionModel().setCurrentIndex(index, select)
        self.scrollTo(index)

    @Slot()
    def _to_start(self) -> None:
        focus = QApplication.focusWidget()
        if focus is not None and self.isAncestorOf(focus):
            # The cell that was open goes with the old map; the keyboard stays here.
            self.setFocus()
        tables = [line.row.table for line in self.table.lines]
        first = tables.index("parts") if "parts" in tables else len(tables) - 1
        # To open a map selects nothing in the other views.
        self._following = True
        self._set_here(first, 0)
        self._following = False
        self._wide.start()

    @Slot(int)
    def _go(self, key: int) -> None:
        place, column = self.here
        place += 1 if key == Qt.Key.Key_Down else -1
        if 0 <= place < len(self.table.lines):
            self._set_here(place, COLUMNS.index(column))

    @Slot(QModelIndex, QModelIndex)
    def _current_changed(self, now: QModelIndex, before: QModelIndex) -> None:
        self._live = ""
        if self.table.busy:
            return
        if before.isValid() and before.row() != now.row():
            self.table.finish(before.row())
        row = self.table.lines[self.here[0]].row
        if row.key and not self._following:
            self._bridge.pick(Picked(_KINDS[row.table], row.key))
        self._say_reason()
        self.moved.emit()

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        """Follow the selection of the other views, but not away from what is being typed."""
        table = next((t for t, kind in _KINDS.items() if kind == what.kind), "")
        place = self.table.row_of(table, what.key) if table else None
        busy = self.state() == QAbstractItemView.State.EditingState or self.hasFocus()
        if place is not None and not busy and place != self.here[0]:
            self._following = True
            self._set_here(place, COLUMNS.index(self.here[1]))
            self._following = False

    @Slot(QWidget, QWidget)
    def _focus_moved(self, old: QWidget | None, now: QWidget | None) -> None:
        inside = old is not None and (old is self or self.isAncestorOf(old))
        if inside and now is not None and now is not self and not self.isAncestorOf(now):
            self.table.finish(self.here[0])

    # What is said at a cell.

    @Slot(str)
    def _typed(self, text: str) -> None:
        place, column = self.here
        self._live = self.table.reason_while_typing(place, column, text)
        self.table.preview(place, column, text)
        self._say_reason()

    @Slot()
    def _say_reason(self) -> None:
        place, column = self.here
        self.reason = ""
        if self.state() == QAbstractItemView.State.EditingState:
            self.reason = self._live
        elif place < len(self.table.lines):
            reasons = (self.table.reason_at(place, column), self.table.missing_at(place, column))
            self.reason = next(filter(None, reasons), "")
        cell = self.visualRect(self.currentIndex())
        self.bubble.say(self.reason, cell, self.viewport().rect())
        self.told.emit()

    # Editing as a whole.

    def paste(self) -> None:
        """Take in what the clipboard holds."""
        text = QGuiApplication.clipboard().text()
        if text.strip():
            self.said.emit(self.table.paste(text, *self.here))
            self._say_reason()

    def copy(self) -> None:
        """Put the selected cells on the clipboard."""
        if self.chosen:
            QGuiApplication.clipboard().setText(self.table.texts_of(self.chosen))

    def delete_rows(self) -> None:
        """Take the selected rows out of the map."""
        place, column = self.here
        self.table.remove([row for row, _ in self.chosen] or [place])
        self._set_here(min(place, len(self.table.lines) - 1), COLUMNS.index(column))

    @Slot(int)
    def sort_by(self, column: int) -> None:
        """Sort by a column; again, and it goes the other way."""
        header = self.horizontalHeader()
        up = Qt.SortOrder.AscendingOrder
        same = header.isSortIndicatorShown() and header.sortIndicatorSection() == column
        if same and header.sortIndicatorOrder() == up:
            up = Qt.SortOrder.DescendingOrder
        header.setSortIndicatorShown(True)
        header.setSortIndicator(column, up)
        self.table.sort(column, up)
        self.scrollTo(self.currentIndex())

    def closeEditor(self, editor: QWidget, hint: Hint) -> None:
        """See Qt; the table itself knows which cell is the next."""
        self._live = ""
        super().closeEditor(editor, Hint.NoHint)
        self.table.preview_ended(self.here[0])
        if hint == Hint.RevertModelCache:
            self._say_reason()
        elif hint in (Hint.EditNextItem, Hint.EditPreviousItem):
            self.step(1 if hint == Hint.EditNextItem else -1)
        elif hint == Hint.SubmitModelCache:
            self.end_row()

    def scrollContentsBy(self, dx: int, dy: int) -> None:
        """See Qt."""
        super().scrollContentsBy(dx, dy)
        self._say_reason()

    def event(self, event: QEvent) -> bool:
        """See Qt; keys that mean something in a table are not left to the window."""
        if event.type() == QEvent.Type.ShortcutOverride:
            assert isinstance(event, QKeyEvent)
            if self._is_ours(event):
                event.accept()
                return True
        return super().event(event)

    @staticmethod
    def _is_ours(event: QKeyEvent) -> bool:
        keys = QKeySequence.StandardKey
        if event.matches(keys.Copy) or event.matches(keys.Paste):
            return True
        return event.key() == Qt.Key.Key_Delete

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        keys, key = QKeySequence.StandardKey, event.key()
        plain = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab) and not plain & _CONTROL:
            self.step(1 if key == Qt.Key.Key_Tab else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.end_row()
        elif key == Qt.Key.Key_Escape:
            self.table.take_back(self.here[0])
        elif key == Qt.Key.Key_Delete and plain & _CONTROL:
            self.delete_rows()
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.table.clear_cells(self.chosen)
        elif event.matches(keys.Paste):
            self.paste()
        elif event.matches(keys.Copy):
            self.copy()
        else:
            super().keyPressEvent(event)
            return
        event.accept()


_CONTROL = Qt.KeyboardModifier.ControlModifier
