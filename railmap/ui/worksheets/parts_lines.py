"""The lines of the parts table: what they stand for, and how they follow the map."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, Qt, Signal, Slot

from railmap.bench.part_columns import COLUMNS
from railmap.bench.parts_proposals import proposed
from railmap.bench.parts_table import KEYS, TABLES, Reading, Row, read_row
from railmap.model.board import Board
from railmap.model.part import Part
from railmap.model.rail import Rail
from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge
from railmap.ui.theme import Theme
from railmap.ui.worksheets.tables import Index


@dataclass
class Line:
    """One line of the table.

    Attributes
    ----------
    row : Row
        What was typed into it, and the key of the item that it stands for.
    item : Part, Rail, Board or None
        That item as the map had it last.
    reading : Reading or None
        What it says; None if nothing waits in it.
    left : bool
        True once a new line has been left: only then is it told what it lacks.
    proposed : dict of str to str
        What is proposed for its cells, by column; only for new lines that nobody has left.
    taken : set of str
        Columns in which what was proposed was taken by a key, and nothing was typed.
    """

    row: Row = field(default_factory=Row)
    item: Part | Rail | Board | None = None
    reading: Reading | None = None
    left: bool = False
    proposed: dict[str, str] = field(default_factory=dict[str, str])
    taken: set[str] = field(default_factory=set[str])

    @property
    def new(self) -> bool:
        """True if it stands for nothing in the map yet."""
        return not self.row.key

    @property
    def blank(self) -> bool:
        """True if it is new and nothing is typed into it."""
        texts = self.row.texts.items()
        return self.new and not any(text.strip() for c, text in texts if c not in self.taken)

    @property
    def waiting(self) -> bool:
        """True if something was typed that is not in the map."""
        return not self.blank and self.reading is not None


def rank_of(line: Line) -> int:
    """Return the order of a line's table; new lines stand below all."""
    return TABLES.index(line.row.table) if line.row.key else len(TABLES)


class MapLines(QAbstractTableModel):
    """A line for each board, rail and part of a map, and new ones below; it follows the map.

    Parameters
    ----------
    bridge : Bridge
        The map and its history.
    theme : Theme
        Inks, and how figures are written.

    Attributes
    ----------
    busy : int
        Above 0 while lines come or go: the present cell then moves by itself.
    counted : Signal()
        The number of rows, or of those that wait, may have changed.
    """

    counted = Signal()

    def __init__(self, bridge: Bridge, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bridge = bridge
        self.theme = theme
        self.lines: list[Line] = [Line()]
        self.busy = 0
        self._entered: tuple[str, str] | None = None
        self._fill()
        self._propose(self.lines[-1])
        bridge.map_changed.connect(self._map_changed)

    def set_theme(self, theme: Theme) -> None:
        """Show inks and figures of another theme; what was typed stays as it is."""
        self.theme = theme
        last = self.index(len(self.lines) - 1, len(COLUMNS) - 1)
        self.dataChanged.emit(self.index(0, 0), last)

    def row_of(self, table: str, key: str) -> int | None:
        """Return the place of the line that stands for an item."""
        keys = ((line.row.table, line.row.key) for line in self.lines)
        return next((place for place, known in enumerate(keys) if known == (table, key)), None)

    @Slot(object)
    def _map_changed(self, changes: tuple[Change, ...]) -> None:
        if not changes:
            self.beginResetModel()
            self.lines, self._entered = [Line()], None
            self._fill()
            self._propose(self.lines[-1])
            self.endResetModel()
            self.counted.emit()
            return
        for change in changes:
            self._follow_name(change)
        for place in reversed(range(len(self.lines))):
            if not self.lines[place].new and self._item_of(self.lines[place].row) is None:
                self._drop(place)
        self._insert_new()
        for line in self.lines:
            line.item = self._item_of(line.row)
            if line.row.texts:
                self._read(line)
            self._propose(line)
        last = self.index(len(self.lines) - 1, len(COLUMNS) - 1)
        self.dataChanged.emit(self.index(0, 0), last)
        self.counted.emit()

    def _item_of(self, row: Row) -> Part | Rail | Board | None:
        return self._bridge.map.table(row.table).get(row.key) if row.key else None

    def _follow_name(self, change: Change) -> None:
        """Let a line go on standing for an item that has another name now."""
        if change.key is None or change.item is None or change.table not in TABLES:
            return
        key = getattr(change.item, KEYS[change.table])
        place = self.row_of(change.table, change.key) if key != change.key else None
        if place is not None:
            self.lines[place].row = replace(self.lines[place].row, key=key)

    def _insert_new(self) -> None:
        """Give every item without a line one, behind the line of the item before it."""
        known = {(line.row.table, line.row.key) for line in self.lines}
        for table in TABLES:
            before: str | None = None
            for key, item in self._bridge.map.table(table).items():
                if (table, key) not in known:
                    after = None if before is None else self.row_of(table, before)
                    place = self._end_of(table) if after is None else after + 1
                    self._insert(place, Line(Row({}, table, key), item))
                before = key

    def _end_of(self, table: str) -> int:
        """Return the place behind the lines of a table and of those that go before it."""
        rank = TABLES.index(table)
        places = [i for i, line in enumerate(self.lines) if rank_of(line) <= rank]
        return places[-1] + 1 if places else 0

    def _fill(self) -> None:
        m = self._bridge.map
        self.lines[:0] = [
            Line(Row({}, table, key), item)
            for table in TABLES
            for key, item in m.table(table).items()
        ]

    def _keep_an_empty_line(self) -> None:
        """Keep one empty line, below all others."""
        for place in reversed(range(len(self.lines) - 1)):
            if self.lines[place].blank:
                self._drop(place)
        if not self.lines or not self.lines[-1].blank:
            self._insert(len(self.lines), Line())
        self._propose(self.lines[-1])
        self._show(len(self.lines) - 1)
        self.counted.emit()

    def _insert(self, place: int, line: Line) -> None:
        self.busy += 1
        self.beginInsertRows(QModelIndex(), place, place)
        self.lines.insert(place, line)
        self.endInsertRows()
        self.busy -= 1

    def _drop(self, place: int) -> None:
        self.busy += 1
        self.beginRemoveRows(QModelIndex(), place, place)
        del self.lines[place]
        self.endRemoveRows()
        self.busy -= 1

    @staticmethod
    def _forget(line: Line) -> None:
        line.row, line.reading, line.left = replace(line.row, texts={}), None, False
        line.taken.clear()

    def _read(self, line: Line) -> None:
        line.reading = read_row(self._bridge.map, line.row) if line.row.texts else None

    def _propose(self, line: Line, row: Row | None = None) -> None:
        """Work out what is proposed for a line, or for what is being typed into it."""
        line.proposed = {}
        others = [other for other in self.lines if other.new and other is not line]
        # One row at a time goes on from the last one.
        alone = all(other.left or other.blank for other in others)
        if line.new and not line.left and alone:
            refs = [other.row.ref for other in others]
            line.proposed = proposed(self._bridge.map, row or line.row, self._entered, refs)

    def _show(self, place: int) -> None:
        self.dataChanged.emit(self.index(place, 0), self.index(place, len(COLUMNS) - 1))
        self.headerDataChanged.emit(Qt.Orientation.Vertical, place, place)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """See Qt."""
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """See Qt."""
        return 0 if parent.isValid() else len(COLUMNS)
