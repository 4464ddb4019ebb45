"""The tables of the drawer below: hot list, rails, findings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Slot
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from railmap.bench.part_columns import KIND_WORDS
from railmap.report.tables import HotRow, RailRow, hot_rows, rail_rows
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.faces import percent, shift_text, volts_text
from railmap.ui.theme import Theme, ink_on, stress_step
from railmap.units import show

Index = QModelIndex | QPersistentModelIndex
PAD_PX = 8


@dataclass(frozen=True)
class Column:
    """One column: its title, the text of a row, and whether it holds figures."""

    title: str
    text: Callable[[Any], str]
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
            return self._columns[column].text(row)
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


def _maybe(value: float | None, write: Callable[[float], str]) -> str:
    return "" if value is None else write(value)


def _band(row: RailRow) -> str:
    if row.low_volts is None or row.high_volts is None:
        return ""
    near, far = sorted((row.low_volts, row.high_volts), key=abs)
    return f"{volts_text(near, 1).removesuffix(' V')} … {volts_text(far, 1)}"


HOT = (
    Column("Part", lambda r: r.ref),
    Column("Of rating", lambda r: _maybe(r.ratio, percent), True),
    Column("Kind", lambda r: KIND_WORDS[r.kind]),
    Column("Board", lambda r: r.board),
    Column("Value", lambda r: r.value_text, True),
    Column("Heat", lambda r: _maybe(r.watts, lambda w: show(w, "W")), True),
    Column("Limited by", lambda r: r.what),
    Column("Carries", lambda r: _maybe(r.amount, lambda v: show(v, r.amount_unit)), True),
    Column("Allowed", lambda r: _maybe(r.allowed, lambda v: show(v, r.amount_unit)), True),
    Column("", lambda r: "over its rating" if r.over else ""),
)
RAILS = (
    Column("Rail", lambda r: r.name),
    Column("Boards", lambda r: ", ".join(r.boards)),
    Column("Forecast", lambda r: _maybe(r.volts, volts_text), True),
    Column("Label", lambda r: _maybe(r.label_volts, volts_text), True),
    Column("From label", lambda r: _maybe(r.difference_pct, shift_text), True),
    Column("Acceptable", _band, True),
    Column("", lambda r: r.verdict),
    Column("Limit", lambda r: _maybe(r.max_volts, lambda v: show(v, "V")), True),
    Column("", lambda r: "over its limit" if r.over_limit else ""),
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
    """

    def __init__(
        self,
        bridge: Bridge,
        model_of: Callable[[QWidget], Rows],
        make: Callable[..., list[Any]],
        about: Callable[[Any], Picked],
        name: str,
    ) -> None:
        super().__init__()
        self._bridge, self._make, self._about = bridge, make, about
        self.rows = model_of(self)
        self.setModel(self.rows)
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
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
        self._following = False
        self.selectionModel().currentRowChanged.connect(self._row_chosen)
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

    @Slot(QModelIndex, QModelIndex)
    def _row_chosen(self, now: QModelIndex, _: QModelIndex) -> None:
        if now.isValid() and not self._following and now.row() < len(self.rows.rows):
            self._bridge.pick(self._about(self.rows.rows[now.row()]))

    @Slot(object)
    def _picked(self, what: Picked) -> None:
        """Follow the selection of the other views."""
        self._following = True
        found = next((i for i, r in enumerate(self.rows.rows) if self._about(r) == what), None)
        if found is None:
            self.clearSelection()
            self.selectionModel().clearCurrentIndex()
        elif self.currentIndex().row() != found:
            self.selectRow(found)
        self._following = False


def hot_sheet(bridge: Bridge, theme: Theme) -> Sheet:
    """Return the hot list: every part with a limit, the most loaded first."""
    return Sheet(
        bridge, lambda parent: Rows(HOT, _hot_ratio, 1, theme, parent), hot_rows,
        lambda row: Picked("part", row.ref), "Hot list",
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
