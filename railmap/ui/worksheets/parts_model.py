"""The rows of the parts table: what the map holds, what is being typed, and what is wrong with it.

A row that is typed in changes the map once all of it is good, through the one history of edits;
until then it keeps what was typed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import msgspec
from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, Qt, Signal, Slot

from railmap.bench.part_cells import sort_key, write_cell
from railmap.bench.part_columns import COLUMNS, TITLES, Spec, spec_for, spec_of
from railmap.bench.parts_entry import (
    entered,
    paste_name,
    refused_sentence,
    removal_name,
    removed,
)
from railmap.bench.parts_sheet import Sheet, read_sheet, to_text
from railmap.bench.parts_table import (
    KEYS,
    TABLES,
    Reading,
    Row,
    describe,
    kind_of_row,
    read_row,
    read_rows,
)
from railmap.errors import MapError
from railmap.model.board import Board
from railmap.model.part import Part
from railmap.model.rail import Rail
from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge
from railmap.ui.theme import Theme
from railmap.ui.worksheets.parts_lines import Line, rank_of
from railmap.ui.worksheets.tables import Index

Role = Qt.ItemDataRole
REASON_ROLE = Role.UserRole
"""What is wrong with a cell."""
MISSING_ROLE = Role.UserRole + 1
"""What a cell still needs, once its row has been left."""
DITTO = '"'


class PartsModel(QAbstractTableModel):
    """Boards, rails and parts as rows; the last line is always an empty one.

    Parameters
    ----------
    bridge : Bridge
        The map and its history.
    theme : Theme
        Inks.

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
        self._fill()
        bridge.map_changed.connect(self._map_changed)

    # What it shows.

    def spec_at(self, place: int) -> Spec | None:
        """Return the kind of a line as it is typed; None if it is not known."""
        line = self.lines[place]
        if line.item is not None and not line.row.texts.get("kind", "").strip():
            return spec_for(line.item)
        try:
            kind = kind_of_row(self._bridge.map, line.row)
        except MapError:
            return None
        return spec_of(kind) if kind else None

    def text_at(self, place: int, column: str) -> str:
        """Return the text of a cell: typed, else as the map has it."""
        line = self.lines[place]
        if column in line.row.texts:
            return line.row.texts[column]
        return write_cell(line.item, column) if line.item is not None else ""

    def reason_at(self, place: int, column: str) -> str:
        """Return what is wrong with a cell; empty if nothing is."""
        reading = self.lines[place].reading
        return reading.reasons.get(column, "") if reading is not None else ""

    def missing_at(self, place: int, column: str) -> str:
        """Return what a cell still needs; empty before its row has been left."""
        line = self.lines[place]
        known = line.reading is not None and (line.left or not line.new)
        return line.reading.missing.get(column, "") if known and line.reading else ""

    def first_trouble(self, place: int) -> str:
        """Return the first column of a line that is wrong or lacking; empty if it is good."""
        reading = self.lines[place].reading
        if reading is None:
            return ""
        return next((c for c in COLUMNS if c in reading.reasons or c in reading.missing), "")

    @property
    def waiting(self) -> int:
        """How many rows wait to be put right."""
        return sum(line.waiting for line in self.lines)

    def row_of(self, table: str, key: str) -> int | None:
        """Return the place of the line that stands for an item."""
        keys = ((line.row.table, line.row.key) for line in self.lines)
        return next((place for place, known in enumerate(keys) if known == (table, key)), None)

    # What is typed.

    def reason_while_typing(self, place: int, column: str, text: str) -> str:
        """Return what would be wrong with a cell if its text were this; nothing is changed."""
        row = self._with_text(place, column, text)
        return read_row(self._bridge.map, row).reasons.get(column, "") if text.strip() else ""

    def setData(self, index: Index, value: Any, role: int = Role.EditRole) -> bool:
        """See Qt."""
        place, column, text = index.row(), COLUMNS[index.column()], str(value)
        if text.strip() == DITTO:
            text = self._text_above(place, column)
        if text == self.text_at(place, column):
            return False
        line = self.lines[place]
        line.row = self._with_text(place, column, text)
        self._read(line)
        if not line.new and line.reading is not None and line.reading.item is not None:
            self._enter(line)
        self._show(place)
        self._keep_an_empty_line()
        return True

    def _text_above(self, place: int, column: str) -> str:
        """Return the text of the nearest cell above, past rows that have nothing there."""
        specs = ((above, self.spec_at(above)) for above in reversed(range(place)))
        found = next((above for above, spec in specs if spec and spec.has(column)), None)
        return "" if found is None else self.text_at(found, column)

    def finish(self, place: int) -> bool:
        """End a line: put it into the map if it is good; return False if it waits."""
        if self.busy or place >= len(self.lines):
            return True
        line = self.lines[place]
        if line.blank:
            self.take_back(place)
            return True
        if line.new and line.reading is not None:
            line.left = True
            if line.reading.item is not None:
                self._enter(line)
        self._show(place)
        self._keep_an_empty_line()
        return not line.waiting

    def take_back(self, place: int) -> None:
        """Drop what was typed into a line and is not in the map."""
        self._forget(self.lines[place])
        self._show(place)
        self._keep_an_empty_line()

    def clear_cells(self, cells: list[tuple[int, int]]) -> None:
        """Empty some cells, as one edit."""
        if len(cells) == 1:
            self.setData(self.index(*cells[0]), "")
            return
        with self._bridge.history.together(f"Clear {len(cells)} cells"):
            for place, column in cells:
                if self.flags(self.index(place, column)) & Qt.ItemFlag.ItemIsEditable:
                    self.setData(self.index(place, column), "")
        self._bridge.state_changed.emit()

    def remove(self, places: list[int]) -> None:
        """Take rows out of the map, as one edit; those that are not in it just go."""
        rows = [self.lines[place].row for place in sorted(set(places))]
        keys = [(row.table, row.key) for row in rows if row.key]
        for place in sorted(set(places), reverse=True):
            if self.lines[place].new:
                self._drop(place)
        if keys:
            self._bridge.do(removal_name(keys), removed(self._bridge.map, keys))
        self._keep_an_empty_line()

    def paste(self, text: str, place: int, column: str) -> str:
        """Take in text from a spreadsheet, as one edit.

        With a header, or from the first column on, each row is a part, rail or board by its
        reference; else the cells go into the lines from the given one down.

        Returns
        -------
        str
            What must be said about it, in sentences; empty if nothing.
        """
        try:
            sheet = read_sheet(text, column)
            if sheet.titled or column == COLUMNS[0]:
                return self.take_in(sheet, "Paste")
            return self._paste_below(sheet, place)
        except MapError as error:
            return f"Nothing was pasted: {error}."

    def take_in(self, sheet: Sheet, what: str) -> str:
        """Enter the rows of a sheet as one edit, and return what must be said about it."""
        readings = read_rows(self._bridge.map, sheet.typed())
        said = self._take(readings, paste_name(readings, what))
        if sheet.unknown:
            said = f"{said} Not taken in: the column {', '.join(sheet.unknown)}.".strip()
        return said

    def _paste_below(self, sheet: Sheet, place: int) -> str:
        """Put cells into the lines from one down; the map changes in one edit."""
        m = self._bridge.map
        lines = self.lines[place : place + len(sheet.rows)]
        lines += [Line() for _ in range(len(sheet.rows) - len(lines))]
        readings: list[Reading] = []
        for line, row in zip(lines, sheet.typed_by_place(), strict=True):
            texts = {**line.row.texts, **row.texts}
            readings.append(read_row(m, replace(line.row, texts=texts)))
        return self._take(readings, paste_name(readings), [line for line in lines if line.new])

    def _take(self, readings: list[Reading], name: str, replaced: list[Line] | None = None) -> str:
        """Enter good readings, and keep the others as lines that wait."""
        good = [reading for reading in readings if reading.item is not None]
        try:
            changes = entered(self._bridge.map, good)
            self._bridge.history.do(name, changes)
        except MapError as error:
            return f"Nothing was pasted: {error}."
        self._bridge.state_changed.emit()
        for place in reversed(range(len(self.lines))):
            if any(self.lines[place] is line for line in replaced or ()):
                self._drop(place)
        for reading in readings:
            self._keep_waiting(reading) if reading.item is None else self._settle(reading.item)
        self._keep_an_empty_line()
        return refused_sentence(readings)

    def _settle(self, item: msgspec.Struct) -> None:
        """Let nothing wait in the line of an item that is in the map as it was typed."""
        table = spec_for(item).table
        place = self.row_of(table, getattr(item, KEYS[table]))
        if place is not None:
            self._forget(self.lines[place])
            self._show(place)

    def _keep_waiting(self, reading: Reading) -> None:
        row = reading.row
        place = self.row_of(row.table, row.key) if row.key else None
        if place is None:
            last = len(self.lines)
            end = last - 1 if last and self.lines[-1].blank else last
            self._insert(end, Line(row, None, reading, left=True))
        else:
            self.lines[place] = Line(row, self._item_of(row), reading)
            self._show(place)

    def texts_of(self, cells: list[tuple[int, int]]) -> str:
        """Return cells as text for the clipboard."""
        rows: dict[int, list[str]] = {}
        for place, column in sorted(cells):
            rows.setdefault(place, []).append(self.text_at(place, COLUMNS[column]))
        return to_text(list(rows.values()), "\t")

    # How it follows the map.

    def _with_text(self, place: int, column: str, text: str) -> Row:
        row, item = self.lines[place].row, self.lines[place].item
        texts = {**row.texts, column: text}
        written = write_cell(item, column) if item is not None else ""
        if text == written:
            del texts[column]
        return replace(row, texts=texts)

    def _read(self, line: Line) -> None:
        line.reading = read_row(self._bridge.map, line.row) if line.row.texts else None

    def _enter(self, line: Line) -> None:
        """Put the item of a good line into the map; a refusal stays at its reference."""
        reading, before = line.reading, replace(line)
        if reading is None or reading.item is None:
            return
        table = spec_for(reading.item).table
        old = self._bridge.map.table(line.row.table)[line.row.key] if line.row.key else None
        # The line stands for its item before the map tells of it, or there would be two.
        line.row, line.reading = Row({}, table, getattr(reading.item, KEYS[table])), None
        line.item = reading.item
        try:
            changes = entered(self._bridge.map, [reading])
            self._bridge.history.do(describe(old, reading.item), changes)
        except MapError as error:
            line.row, line.item = before.row, before.item
            reason = f"{before.row.ref}, reference: {error}."
            line.reading = Reading(before.row, None, {"ref": reason}, {})
            return
        self._bridge.state_changed.emit()

    @Slot(object)
    def _map_changed(self, changes: tuple[Change, ...]) -> None:
        if not changes:
            self.beginResetModel()
            self.lines = [Line()]
            self._fill()
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

    def _show(self, place: int) -> None:
        self.dataChanged.emit(self.index(place, 0), self.index(place, len(COLUMNS) - 1))
        self.headerDataChanged.emit(Qt.Orientation.Vertical, place, place)

    # See Qt.

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """See Qt; new lines stay below."""
        name = COLUMNS[column]
        keys = {
            place: sort_key(line.item, name)
            for place, line in enumerate(self.lines)
            if line.item is not None
        }
        down = order == Qt.SortOrder.DescendingOrder
        places = sorted(keys, key=lambda place: keys[place], reverse=down)
        places += [place for place in range(len(self.lines)) if place not in keys]
        self.layoutAboutToBeChanged.emit()
        old = self.persistentIndexList()
        new_place = {before: now for now, before in enumerate(places)}
        self.lines = [self.lines[place] for place in places]
        self.changePersistentIndexList(
            old, [self.index(new_place[i.row()], i.column()) for i in old]
        )
        self.layoutChanged.emit()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """See Qt."""
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """See Qt."""
        return 0 if parent.isValid() else len(COLUMNS)

    def flags(self, index: Index) -> Qt.ItemFlag:
        """See Qt."""
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        usual = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        place, column = index.row(), COLUMNS[index.column()]
        spec = self.spec_at(place)
        writable = spec is None or spec.has(column) or bool(self.text_at(place, column))
        return usual | Qt.ItemFlag.ItemIsEditable if writable else usual

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Role.DisplayRole
    ) -> Any:
        """See Qt."""
        if orientation == Qt.Orientation.Horizontal:
            if role == Role.TextAlignmentRole:
                return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
            return TITLES[COLUMNS[section]] if role == Role.DisplayRole else None
        line = self.lines[section]
        if role == Role.DisplayRole:
            return "!" if line.waiting and (line.left or not line.new) else "+" * line.new
        if role == Role.ForegroundRole:
            return self.theme.warn if line.waiting else self.theme.soft_ink
        return None

    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        """See Qt."""
        if not index.isValid():
            return None
        place, column = index.row(), COLUMNS[index.column()]
        match role:
            case Role.DisplayRole | Role.EditRole:
                known = self._shown if role == Role.DisplayRole else self.text_at
                return known(place, column)
            case Role.ToolTipRole | Role.AccessibleDescriptionRole:
                return self.reason_at(place, column) or self.missing_at(place, column)
            case Role.ForegroundRole | Role.BackgroundRole:
                return self._colour(place, column, role)
            case _:
                said = {REASON_ROLE: self.reason_at, MISSING_ROLE: self.missing_at}
                return said[role](place, column) if role in said else None

    def _shown(self, place: int, column: str) -> str:
        """Return the text of a cell for reading: on one line, and with the kind that is guessed."""
        text = self.text_at(place, column)
        if column == "kind" and not text:
            spec = self.spec_at(place)
            return spec.word if spec is not None else ""
        return " ".join(text.split()) if "\n" in text else text

    def _colour(self, place: int, column: str, role: int) -> Any:
        if role == Role.ForegroundRole:
            if self.reason_at(place, column):
                return self.theme.warn
            guessed = column == "kind" and not self.text_at(place, column)
            return self.theme.soft_ink if guessed else None
        spec = self.spec_at(place)
        return None if spec is None or spec.has(column) else self.theme.tile
