"""The parts table: a map entered without drawing, by keyboard, paste or CSV."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPalette
from PySide6.QtWidgets import (
    QFileDialog,
    QLabel,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from railmap.bench.part_columns import COLUMNS
from railmap.bench.parts_sheet import read_file, read_sheet, to_csv, write_file
from railmap.bench.parts_table import hint
from railmap.errors import RailmapError
from railmap.ui.bridge import Bridge, sentence
from railmap.ui.theme import Theme
from railmap.ui.worksheets.fitting import FittingRow
from railmap.ui.worksheets.parts_grid import PartsGrid

KEYS = 'Tab: next cell. Enter: row done, with what it proposes. ": as above. Esc: take back.'
OFFERED = "{} is proposed: Tab takes it; type over it, or Delete to leave the cell empty."
FILTER = "Sheets (*.csv *.tsv *.txt);;All files (*)"


class ShortLabel(QLabel):
    """A line of text on the right that gives way: it is cut, and its tip says all of it."""

    def __init__(self) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def setText(self, text: str) -> None:
        """See Qt."""
        super().setText(text)
        self.setToolTip(text)

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        cut = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter.drawText(
            self.rect(), Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, cut
        )


class PartsSheet(QWidget):
    """The table with its buttons, and a line about the present cell.

    Parameters
    ----------
    bridge : Bridge
        The map, its history and what is selected.
    theme : Theme
        Its colours.
    """

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self._bridge, self._theme = bridge, theme
        self.setAccessibleName("Parts")
        self.grid = PartsGrid(bridge, theme)
        self.count, self.line = ShortLabel(), QLabel()
        self.line.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._said, self._good = "", False
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self._buttons())
        column.addWidget(self.grid, 1)
        self.line.setContentsMargins(10, 3, 10, 4)
        self.line.setWordWrap(True)
        column.addWidget(self.line)
        self.setFocusProxy(self.grid)
        self.grid.moved.connect(self._moved)
        self.grid.told.connect(self._show_line)
        self.grid.said.connect(self.say)
        self.grid.table.counted.connect(self._show_count)
        self.set_theme(theme)
        self._show_count()

    def _buttons(self) -> FittingRow:
        row = FittingRow(self.count)
        for text, tip, slot in (
            ("Dele&te rows", "Take the selected rows out of the map (Ctrl+Delete)", self._delete),
            ("Pa&ste", "Take in rows from a spreadsheet, with or without titles (Ctrl+V)",
             self.grid.paste),
            ("S&ort", "Sort by the present column; again for the other way", self._sort),
            ("Rea&d CSV…", "Take in a sheet from a file", self._ask_read),
            ("&Write CSV…", "Write the whole table to a file", self._ask_write),
        ):  # fmt: skip
            button = QPushButton(text)
            button.setToolTip(tip)
            button.clicked.connect(slot)
            row.add(button)
        self.all_columns = QPushButton("&All columns")
        self.all_columns.setCheckable(True)
        self.all_columns.setToolTip("Show also the columns that few parts need")
        self.all_columns.toggled.connect(self.grid.show_all)
        row.add(self.all_columns)
        return row

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self._theme = theme
        self.grid.set_theme(theme)
        self._show_line()

    def read(self, path: Path) -> None:
        """Take in a sheet from a file, as one edit."""
        try:
            sheet = read_sheet(read_file(path))
            self.say(self.grid.table.take_in(sheet, "Read"))
        except RailmapError as error:
            self.say(str(error))

    def write(self, path: Path) -> None:
        """Write the whole table to a file."""
        try:
            write_file(path, to_csv(self._bridge.map))
        except RailmapError as error:
            self.say(str(error))
        else:
            self.say(f"{path.name} is written", good=True)

    @Slot(str)
    def say(self, text: str, good: bool = False) -> None:
        """Say something until another cell is the present one."""
        self._said = self._theme.figures.words(sentence(text)) if text else ""
        self._good = good
        self._show_line()

    @Slot()
    def _moved(self) -> None:
        self._said = ""
        self._show_line()

    @Slot()
    def _show_line(self) -> None:
        """Show what is wrong, else what was said last, else what the present cell takes."""
        place, column = self.grid.here
        table, figures = self.grid.table, self._theme.figures
        if place >= len(table.lines):
            return
        trouble = self.grid.reason or ("" if self._good else self._said)
        offer = self.grid.offer
        wanted = figures.words(hint(table.spec_at(place), column))
        usual = OFFERED.format(offer) if offer else wanted
        text = trouble or self._said or usual
        if text and not trouble and not self._said and table.lines[place].new:
            text = f"{text}   {KEYS}"
        colours = self.line.palette()
        ink = self._theme.warn if trouble else self._theme.soft_ink
        colours.setColor(QPalette.ColorRole.WindowText, ink)
        self.line.setPalette(colours)
        self.line.setText(text)
        self.line.setAccessibleName(text)

    @Slot()
    def _show_count(self) -> None:
        m, waiting = self._bridge.map, self.grid.table.waiting
        words = [
            f"{len(m.table(table))} {table if len(m.table(table)) != 1 else table[:-1]}"
            for table in ("parts", "rails", "boards")
        ]
        if waiting:
            words.append(f"{waiting} row{'' if waiting == 1 else 's'} not in the map yet")
        self.count.setText(" · ".join(words))

    @Slot()
    def _delete(self) -> None:
        self.grid.delete_rows()
        self.grid.setFocus()

    @Slot()
    def _sort(self) -> None:
        self.grid.sort_by(COLUMNS.index(self.grid.here[1]))
        self.grid.setFocus()

    @Slot()
    def _ask_read(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Read a sheet", self._folder(), FILTER)
        if name:
            self.read(Path(name))

    @Slot()
    def _ask_write(self) -> None:
        stem = self._bridge.path.stem if self._bridge.path else "parts"
        start = str(Path(self._folder()) / f"{stem}.csv")
        name, _ = QFileDialog.getSaveFileName(self, "Write the table", start, FILTER)
        if name:
            path = Path(name)
            self.write(path if path.suffix else path.with_suffix(".csv"))

    def _folder(self) -> str:
        return str(self._bridge.path.parent if self._bridge.path else Path.home())
