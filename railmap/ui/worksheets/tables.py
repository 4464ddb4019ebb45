"""The tables of the drawer below: hot list, rails, findings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Slot,
)
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from railmap.bench.part_columns import KIND_WORDS
from railmap.figures import Figures
from railmap.report.tables import HotRow, RailRow, hot_rows, rail_rows
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.group import Picked, keys_of, picked_of, refs_of
from railmap.ui.faces import percent, shift_text, volts_text
from railmap.ui.theme import Theme, ink_on, stress_step

Index = QModelIndex | QPersistentModelIndex
PAD_PX = 8


@dataclass(frozen=True)
class Column:
    """One column: its title, the text of a row in some way of writing, and if it holds figures."""

    title: str
    text: Callable[[Any, Figures], str]
    figures: bool = False


class Rows(QAbstractTableModel):
    """Rows of frozen data as a table.

    Parameters
    ----------
    columns : sequence of Column
        What to show.
    ratio : callable
        Stress of a row, for the colour of its marked column; None for none.
    marked : int
        The column that takes the colour.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        ratio: Callable[[Any], float | None],
        marked: int,
        theme: Theme,
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self._columns = columns
        self._ratio, self._marked = ratio, marked
        self.theme = theme
        self.rows: list[Any] = []

    def show_rows(self, rows: list[Any]) -> None:
        """Show other rows; the table keeps its place if their number stays."""
        if len(rows) == len(self.rows):
            self.rows = rows
            if rows:
                last = self.index(len(rows) - 1, len(self._columns) - 1)
                self.dataChanged.emit(self.index(0, 0), last)
            return
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """See Qt."""
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """See Qt."""
        return 0 if parent.isValid() else len(self._columns)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """See Qt."""
        if orientation == Qt.Orientation.Horizontal:
            if role == Qt.ItemDataRole.DisplayRole:
                return self._columns[section].title
            if role == Qt.ItemDataRole.TextAlignmentRole:
                return self._side(section)
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """See Qt."""
        row, column = self.rows[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._columns[column].text(row, self.theme.figures)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._side(column)
        if column == self._marked and role in _COLOURS:
            ratio = self._ratio(row)
            if ratio is not None:
                ground = self.theme.stress[stress_step(ratio)]
                return ground if role == Qt.ItemDataRole.BackgroundRole else self._ink(ground)
        return None

    def _ink(self, ground: QColor) -> QColor:
        return ink_on(ground, self.theme)

    def _side(self, column: int) -> Qt.AlignmentFlag:
        side = Qt.AlignmentFlag.AlignRight if self._columns[column].figures else None
        return (side or Qt.AlignmentFlag.AlignLeft) | Qt.AlignmentFlag.AlignVCenter


_COLOURS = (Qt.ItemDataRole.BackgroundRole, Qt.ItemDataRole.ForegroundRole)


def _shown(value: float | None, unit: str, style: Figures) -> str:
    return "" if value is None else style.show(value, unit)


def _written(value: float | None, write: Callable[[float, Figures], str], style: Figures) -> str:
    return "" if value is None else write(value, style)


def _band(row: RailRow, style: Figures) -> str:
    if row.low_volts is None or row.high_volts is None:
        return ""
    near, far = sorted((row.low_volts, row.high_volts), key=abs)
    return f"{volts_text(near, style, 1).removesuffix(' V')} … {volts_text(far, style, 1)}"


HOT = (
    Column("Part", lambda r, _: r.ref),
    Column("Of rating", lambda r, _: "" if r.ratio is None else percent(r.ratio), True),
    Column("Kind", lambda r, _: KIND_WORDS[r.kind]),
    Column("Board", lambda r, _: r.board),
    Column("Value", lambda r, style: r.value_in(style), True),
    Column("Heat", lambda r, style: _shown(r.watts, "W", style), True),
    Column("Limited by", lambda r, _: r.what),
    Column("Carries", lambda r, style: _shown(r.amount, r.amount_unit, style), True),
    Column("Allowed", lambda r, style: _shown(r.allowed, r.amount_unit, style), True),
    Column("", lambda r, _: "over its rating" if r.over else ""),
)
RAILS = (
    Column("Rail", lambda r, _: r.name),
    Column("Boards", lambda r, _: ", ".join(r.boards)),
    Column("Forecast", lambda r, style: _written(r.volts, volts_text, style), True),
    Column("Label", lambda r, style: _written(r.label_volts, volts_text, style), True),
    Column("From label", lambda r, style: _written(r.difference_pct, shift_text, style), True),
    Column("Acceptable", _band, True),
    Column("", lambda r, _: r.verdict),
    Column("Limit", lambda r, style: _shown(r.max_volts, "V", style), True),
    Column("", lambda r, _: "over its limit" if r.over_limit else ""),
)


class Sheet(QTableView):
    """A table whose rows select what they are about.

    Parameters
    ----------
    bridge : Bridge
        Where the solutions come from.
    model : Rows
        Its rows.
    make : callable
        Makes the rows from map and solution.
    about : callable
        What a row is about.
    several : bool
        True if several of its rows may be selected together: its rows are parts.
    """

    def __init__(
        self,
        bridge: Bridge,
        model_of: Callable[[QWidget], Rows],
        make: Callable[..., list[Any]],
        about: Callable[[Any], Picked],
        name: str,
        several: bool = False,
    ) -> None:
        super().__init__()
        self._bridge, self._make, self._about = bridge, make, about
        self._following = self._adding = False
        self.rows = model_of(self)
        self.setModel(self.rows)
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        modes = QAbstractItemView.SelectionMode
        self.setSelectionMode(modes.ExtendedSelection if several else modes.SingleSelection)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setFrameShape(QTableView.Shape.NoFrame)
        self.verticalHeader().setVisible(False)
        self.verticalHeader().setDefaultSectionSize(24)
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.setStretchLastSection(True)
        header.setHighlightSections(False)
        header.setMinimumSectionSize(24)
        header.setDefaultSectionSize(24)
        # Only the rows that are seen count, or long tables would be slow.
        header.setResizeContentsPrecision(0)
        self.selectionModel().selectionChanged.connect(self._rows_chosen)
        # A row that is among several is selected alone by a click; it may be the only one here.
        self.clicked.connect(self._rows_chosen)
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._unsolved)
        bridge.picked.connect(self._picked)

    @Slot(object)
    def _solved(self, solution: Any) -> None:
        self.rows.show_rows(self._make(self._bridge.map, solution))
        self._widen()
        self._picked(self._bridge.selection)

    def _widen(self) -> None:
        """Give every column the room it wants; none becomes narrower while figures move."""
        for column in range(self.rows.columnCount()):
            title = self.horizontalHeader().sectionSizeHint(column)
            wanted = max(self.sizeHintForColumn(column), title) + PAD_PX
            if wanted > self.columnWidth(column):
                self.setColumnWidth(column, wanted)

    @Slot()
    def _unsolved(self) -> None:
        self.rows.show_rows([])

    @Slot()
    def _rows_chosen(self) -> None:
        """Select in all views what the rows are about."""
        if self._following:
            return
        chosen = {i.row() for i in self.selectionModel().selectedRows()}
        about = [self._about(row) for row in self.rows.rows]
        found = [what for number, what in enumerate(about) if number in chosen]
        refs = [ref for what in found for ref in refs_of(what)]
        held = refs_of(self._bridge.selection)
        if self._adding:
            # What has no row here cannot be left out here either.
            held = tuple(ref for ref in held if ref in refs or Picked("part", ref) not in about)
        else:
            held = tuple(ref for ref in held if ref in refs)
        self._bridge.pick(found[-1] if found and not refs else picked_of((*held, *refs)))

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        """Follow the selection of the other views."""
        place = {self._about(row): number for number, row in enumerate(self.rows.rows)}
        wanted = [Picked(*key) for key in keys_of(what)]
        self._following = True
        self._select([place[one] for one in wanted if one in place])
        self._following = False

    def _select(self, rows: list[int]) -> None:
        """Select some rows; the last one is the present one, if none of them is."""
        chosen = self.selectionModel()
        if not rows:
            self.clearSelection()
            chosen.clearCurrentIndex()
            return
        here = self.currentIndex().row() if self.currentIndex().row() in rows else rows[-1]
        if {i.row() for i in chosen.selectedRows()} == set(rows) and here == (
            self.currentIndex().row()
        ):
            return
        self.selectRow(here)
        some = QItemSelection()
        for row in rows:
            some.select(self.rows.index(row, 0), self.rows.index(row, 0))
        flags = QItemSelectionModel.SelectionFlag
        chosen.select(some, flags.Select | flags.Rows)

    def selectionCommand(
        self, index: Index, event: QEvent | None = None
    ) -> QItemSelectionModel.SelectionFlag:
        """See Qt; keys that are held for another view mean nothing to this one."""
        flags = QItemSelectionModel.SelectionFlag
        if self._following:
            return flags.ClearAndSelect | flags.Rows
        command = super().selectionCommand(index, event)
        self._adding = not command & flags.Clear
        return command


def hot_sheet(bridge: Bridge, theme: Theme) -> Sheet:
    """Return the hot list: every part with a limit, the most loaded first."""
    return Sheet(
        bridge, lambda parent: Rows(HOT, _hot_ratio, 1, theme, parent), hot_rows,
        lambda row: Picked("part", row.ref), "Hot list", several=True,
    )  # fmt: skip


def rail_sheet(bridge: Bridge, theme: Theme) -> Sheet:
    """Return the rails with forecast, label and limit."""
    return Sheet(
        bridge, lambda parent: Rows(RAILS, _rail_ratio, 7, theme, parent), rail_rows,
        lambda row: Picked("rail", row.node), "Rails",
    )  # fmt: skip


def _hot_ratio(row: HotRow) -> float | None:
    return row.ratio


def _rail_ratio(row: RailRow) -> float | None:
    if row.max_volts is None or row.volts is None:
        return None
    return abs(row.volts) / row.max_volts
