"""Several parts selected together, in a table of single cells: the parts table."""

from __future__ import annotations

from PySide6.QtCore import (
    QItemSelection,
    QItemSelectionModel,
    QObject,
    QTimer,
    Slot,
)
from PySide6.QtWidgets import QAbstractItemView

from railmap.ui.bridge import Bridge
from railmap.ui.canvas.group import Picked, picked_of, refs_of
from railmap.ui.worksheets.parts_grid import PartsGrid


class SeveralRows(QObject):
    """Keeps the rows in which cells are selected, and the parts selected in the window, the same.

    The table itself sees to the row of the present cell. Of the rows of several parts the cells of
    the present column are selected, so that a key does to them what it does to one cell.

    Parameters
    ----------
    bridge : Bridge
        What is selected.
    grid : PartsGrid
        The table.
    """

    def __init__(self, bridge: Bridge, grid: PartsGrid) -> None:
        super().__init__(grid)
        self._bridge, self._grid = bridge, grid
        self._following = False
        # The table tells of its present cell before or after its selection: wait for both.
        self._chosen = QTimer(self)
        self._chosen.setSingleShot(True)
        self._chosen.setInterval(0)
        self._chosen.timeout.connect(self._rows_chosen)
        grid.selectionModel().selectionChanged.connect(self._selection_changed)
        bridge.picked.connect(self._picked)

    @Slot()
    def _selection_changed(self) -> None:
        if not self._following and self._grid.hasFocus():
            self._chosen.start()

    @Slot()
    def _rows_chosen(self) -> None:
        """Select in all views the parts in whose rows cells are selected."""
        refs = self._refs()
        if len(refs) > 1:
            held = refs_of(self._bridge.selection)
            self._bridge.pick(picked_of((*(ref for ref in held if ref in refs), *refs)))

    def _rows(self) -> list[int]:
        return sorted({place for place, _ in self._grid.chosen})

    def _refs(self) -> list[str]:
        rows = [self._grid.table.lines[place].row for place in self._rows()]
        return [row.key for row in rows if row.table == "parts" and row.key]

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        """Follow the other views, but not away from what is being typed or marked here."""
        grid, refs = self._grid, refs_of(what)
        busy = grid.hasFocus() or grid.state() == QAbstractItemView.State.EditingState
        if busy or not grid.currentIndex().isValid():
            return
        places = [grid.table.row_of("parts", ref) for ref in refs]
        rows = [place for place in places if place is not None]
        if len(rows) < 2:
            rows = [grid.currentIndex().row()]
        if rows != self._rows():
            self._select(rows)

    def _select(self, rows: list[int]) -> None:
        column, some = self._grid.currentIndex().column(), QItemSelection()
        for row in rows:
            cell = self._grid.table.index(row, column)
            some.select(cell, cell)
        self._following = True
        clear = QItemSelectionModel.SelectionFlag.ClearAndSelect
        self._grid.selectionModel().select(some, clear)
        self._grid.scrollTo(self._grid.table.index(rows[-1], column))
        self._following = False
