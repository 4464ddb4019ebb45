"""Hands on the keyboard of the parts table, for its tests."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from PySide6.QtCore import QEvent, QItemSelectionModel, Qt
from PySide6.QtTest import QAbstractItemModelTester, QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from railmap.bench.part_columns import COLUMNS
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge
from railmap.ui.worksheets.parts import PartsSheet

RECORDER = """\
T1A|26.5V 2R|0.8A|AC1|0|Supply
|"|"
D101|<br||1A 200V|||P0|N0
|33||50V
C1|3300u|50V
R101|33R|2W
|27||35V
|105mA@27.5 res
C3|470u|35V
|82R|1W|||Logic
|19||25V
|46mA@19 res
|220u|25V
U1|12V Iq 5mA|1.5W|||||35V
|12
|45mA
R|820R|1W|P0
|6.8||8V
ZD|6.7V 5R|1/2W
|20mA
|100u|10V
|270R|2W|P0||Amp
|14||18V
|45mA@13.8 res
X|24mA@13.8 lamp
C|220u|25V
N|-35||50V
C2|2200u|50V
R201|68R|1W
|-28||35V
|60mA@28 res
|220u|35V
|270R|1/2W|||Amp
|-17||25V
|28mA@17 res
|100u|25V
|470R|1/2W
|-10.5||16V
|14mA@10.4 res
|47u|16V
"""
"""The three boards as they are typed: a cell a stop of the Tab key, a line an Enter.

Values stand as on paper, with their units. An empty cell is passed over, and what is proposed in
it taken with that; the cells behind the last one are taken by the Enter. A cell with < before it
is reached backwards.
"""
V1, R1, R2, R3, L1, LAST = 4, 5, 6, 7, 8, 9
"""The lines of the divider's parts, and the empty one."""


class Typist:
    """Hands on a keyboard, which count what they do.

    Attributes
    ----------
    strokes, cells, taken : int
        Keys pressed, cells typed from paper, and proposals taken as they stood.
    """

    def __init__(self, sheet: PartsSheet) -> None:
        self.sheet, self.grid, self.model = sheet, sheet.grid, sheet.grid.table
        self.strokes = self.cells = self.taken = 0

    def target(self) -> Any:
        editor = QApplication.focusWidget()
        return editor if isinstance(editor, QLineEdit) else self.grid

    def keys(self, text: str) -> None:
        for letter in text:
            QTest.keyClicks(self.target(), letter)
            # A sign on the upper half of its key takes two.
            self.strokes += 1 + (letter in '"@' or letter.isupper())

    def press(self, key: Any, *modifiers: Qt.KeyboardModifier) -> None:
        held = Qt.KeyboardModifier.NoModifier
        for modifier in modifiers:
            held |= modifier
        QTest.keyClick(self.target(), key, held)
        self.strokes += 1 + len(modifiers)

    def row(self, *cells: str) -> None:
        """Type a row as :data:`RECORDER` says it."""
        for number, text in enumerate(cells):
            if number:
                self.press(Qt.Key.Key_Tab)
            if text.startswith("<"):
                self.press(Qt.Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
            word = text.removeprefix("<")
            self.keys(word)
            self.cells += bool(word)
            self.taken += not word and bool(self.offers[self.grid.here[1]])
        behind = COLUMNS[COLUMNS.index(self.grid.here[1]) + 1 :]
        self.taken += sum(bool(self.offers[column]) for column in behind)
        self.press(Qt.Key.Key_Return)

    @property
    def offers(self) -> dict[str, str]:
        """What is proposed in the present line, by column."""
        return {column: self.model.offered(self.grid.here[0], column) for column in COLUMNS}

    def go(self, place: int, column: str) -> None:
        index = self.model.index(place, COLUMNS.index(column))
        select = QItemSelectionModel.SelectionFlag.ClearAndSelect
        self.grid.selectionModel().setCurrentIndex(index, select)

    def write(self, place: int, column: str, text: str, key: Any = Qt.Key.Key_Return) -> None:
        self.go(place, column)
        self.keys(text)
        self.press(key)

    def text(self, place: int, column: str) -> str:
        """Return what is typed, guessed or in the map; nothing for what is only proposed."""
        text = str(self.model.index(place, COLUMNS.index(column)).data())
        return "" if text == self.model.offered(place, column) else text

    @property
    def refs(self) -> list[str]:
        return [self.text(place, "ref") for place in range(len(self.model.lines))]


@contextmanager
def typing_at(bridge: Bridge, settle: Callable[[], None], tested: bool = True) -> Iterator[Typist]:
    """Show the table of a map, and put hands on its keyboard."""
    sheet = PartsSheet(bridge, themes.light())
    if tested:
        # Asks everything at every change, which takes longer than hundreds of keys.
        mode = QAbstractItemModelTester.FailureReportingMode.Fatal
        assert QAbstractItemModelTester(sheet.grid.table, mode, sheet).model()
    sheet.resize(1280, 300)
    sheet.show()
    sheet.activateWindow()
    sheet.setFocus()
    settle()
    yield Typist(sheet)
    sheet.close()
    sheet.deleteLater()
    settle()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
