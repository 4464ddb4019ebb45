"""The rows of the parts table: what the map holds, what is being typed, and what is wrong with it.

A row that is typed in changes the map once all of it is good, through the one history of edits;
until then it keeps what was typed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import msgspec
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont

from railmap.bench.part_cells import sort_key, write_cell
from railmap.bench.part_columns import COLUMNS, TITLES, Spec, spec_for, spec_of
from railmap.bench.parts_entry import (
    entered,
    paste_name,
    refused_sentence,
    removal_name,
    removed,
)
from railmap.bench.parts_proposals import completed
from railmap.bench.parts_sheet import Sheet, read_sheet, to_text
from railmap.bench.parts_table import (
    KEYS,
    Reading,
    Row,
    describe,
    kind_of_row,
    read_row,
    read_rows,
)
from railmap.errors import MapError
from railmap.ui.card.revised import revision_lines
from railmap.ui.worksheets.parts_lines import Line, MapLines
from railmap.ui.worksheets.tables import Index

Role = Qt.ItemDataRole
REASON_ROLE = Role.UserRole
"""What is wrong with a cell."""
MISSING_ROLE = Role.UserRole + 1
"""What a cell still needs, once its row has been left."""
PROPOSED_ROLE = Role.UserRole + 2
"""What a key would put into a cell."""
DITTO = '"'
OFFER = "Proposed. Tab takes it, Enter takes the whole row."


class PartsModel(MapLines):
    """Boards, rails and parts as rows to be typed in; the last line is always an empty one."""

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
        return write_cell(line.item, column, self.theme.figures) if line.item is not None else ""

    def reason_at(self, place: int, column: str) -> str:
        """Return what is wrong with a cell; empty if nothing is."""
        reading = self.lines[place].reading
        return reading.reasons.get(column, "") if reading is not None else ""

    def missing_at(self, place: int, column: str) -> str:
        """Return what a cell still needs; empty before its row has been left."""
        line = self.lines[place]
        known = line.reading is not None and (line.left or not line.new)
        return line.reading.missing.get(column, "") if known and line.reading else ""

    def offered(self, place: int, column: str) -> str:
        """Return what is proposed for a cell; empty for nothing. The kind goes by the reference."""
        return self.lines[place].proposed.get(column, "") if column != "kind" else ""

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

    # What is typed, and what is taken as it is proposed.

    def take(self, place: int, *columns: str) -> bool:
        """Put what is proposed into some cells; return False if nothing is."""
        line = self.lines[place]
        offers = {c: self.offered(place, c) for c in columns if self.offered(place, c)}
        if not offers:
            return False
        line.row = replace(line.row, texts={**line.row.texts, **offers})
        line.taken |= set(offers)
        self._read(line)
        self._propose(line)
        self._show(place)
        return True

    def preview(self, place: int, column: str, text: str) -> None:
        """Show what is proposed for the rest of a row if the text of a cell were this."""
        line = self.lines[place]
        own = self.offered(place, column)
        self._propose(line, self._with_text(place, column, text))
        if own:
            # Emptied, the cell is still one for which something is proposed.
            line.proposed[column] = own
        self._show(place)

    def preview_ended(self, place: int) -> None:
        """Show again what is proposed for a row as it stands."""
        if place < len(self.lines):
            self._propose(self.lines[place])
            self._show(place)

    def completion(self, place: int, column: str, text: str) -> str:
        """Return what a text that is being typed is likely to become; empty if unknown."""
        line = self.lines[place]
        if column != "ref" or not line.new or line.left:
            return ""
        refs = [other.row.ref for other in self.lines if other.new and other is not line]
        return completed(self._bridge.map, text, refs)

    def reason_while_typing(self, place: int, column: str, text: str) -> str:
        """Return what would be wrong with a cell if its text were this; nothing is changed."""
        row = self._with_text(place, column, text)
        return read_row(self._bridge.map, row).reasons.get(column, "") if text.strip() else ""

    def setData(self, index: Index, value: Any, role: int = Role.EditRole) -> bool:
        """See Qt."""
        place, column, text = index.row(), COLUMNS[index.column()], str(value)
        if text.strip() == DITTO:
            text = self._text_above(place, column)
        refused = not text and bool(self.offered(place, column))
        if text == self.text_at(place, column) and not refused:
            return False
        line = self.lines[place]
        line.row = self._with_text(place, column, text)
        line.taken.discard(column)
        self._read(line)
        self._propose(line)
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
            self._propose(line)
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
            sheet = read_sheet(text, column, self.theme.figures)
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
        for line, typed in zip(lines, sheet.typed_by_place(), strict=True):
            texts = {**line.row.texts, **typed.texts}
            row = replace(line.row, texts=texts, figures=typed.figures)
            readings.append(read_row(m, row))
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

    # What goes into the map.

    def _with_text(self, place: int, column: str, text: str) -> Row:
        row, item = self.lines[place].row, self.lines[place].item
        texts, figures = {**row.texts, column: text}, self.theme.figures
        written = write_cell(item, column, figures) if item is not None else ""
        if text == written and not self.offered(place, column):
            del texts[column]
        return replace(row, texts=texts, figures=figures)

    def _enter(self, line: Line) -> None:
        """Put the item of a good line into the map; a refusal stays at its reference."""
        reading, before = line.reading, replace(line)
        if reading is None or reading.item is None:
            return
        table = spec_for(reading.item).table
        old = self._bridge.map.table(line.row.table)[line.row.key] if line.row.key else None
        # The line stands for its item before the map tells of it, or there would be two.
        line.row, line.reading = Row({}, table, getattr(reading.item, KEYS[table])), None
        line.item, line.taken = reading.item, set()
        entered_before, self._entered = self._entered, (table, line.row.key)
        try:
            changes = entered(self._bridge.map, [reading])
            self._bridge.history.do(describe(old, reading.item), changes)
        except MapError as error:
            line.row, line.item, self._entered = before.row, before.item, entered_before
            reason = f"{before.row.ref}, reference: {error}."
            line.reading = Reading(before.row, None, {"ref": reason}, {})
            return
        self._bridge.state_changed.emit()

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
                said = self.reason_at(place, column) or self.missing_at(place, column)
                said = said or (OFFER if self.offered(place, column) else "")
                return said or self._revised(place, column)
            case Role.ForegroundRole | Role.BackgroundRole:
                return self._colour(place, column, role)
            case Role.FontRole:
                return _slanted() if self._is_dim(place, column) else None
            case _:
                known = {REASON_ROLE: self.reason_at, MISSING_ROLE: self.missing_at}
                known[PROPOSED_ROLE] = self.offered
                return known[role](place, column) if role in known else None

    def _revised(self, place: int, column: str) -> str:
        """Return what revisions say of a part, for the cell of its fitted value."""
        row, m = self.lines[place].row, self._bridge.map
        if column != "fitted" or row.table != "parts" or row.key not in m.parts:
            return ""
        return "\n".join(revision_lines(m, row.key, self.theme.figures))

    def _shown(self, place: int, column: str) -> str:
        """Return the text of a cell for reading: on one line, or what is proposed or guessed."""
        text = self.text_at(place, column)
        if not text and column in self.lines[place].proposed:
            return self.lines[place].proposed[column]
        if column == "kind" and not text:
            spec = self.spec_at(place)
            return spec.word if spec is not None else ""
        return " ".join(text.split()) if "\n" in text else text

    def _colour(self, place: int, column: str, role: int) -> Any:
        if role == Role.ForegroundRole:
            if self.reason_at(place, column):
                return self.theme.warn
            return self.theme.soft_ink if self._is_dim(place, column) else None
        spec = self.spec_at(place)
        return None if spec is None or spec.has(column) else self.theme.tile

    def _is_dim(self, place: int, column: str) -> bool:
        """Tell whether a cell shows something that nobody typed."""
        dim = column == "kind" or column in self.lines[place].proposed
        return dim and not self.text_at(place, column)


def _slanted() -> QFont:
    font = QFont()
    font.setItalic(True)
    return font
