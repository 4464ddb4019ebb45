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
T1A||26.5V 2R|0.8A|AC1|0V|Supply
T1B||26.5V 2R|0.8A|0V|AC2|"
D101|br||1A 200V|AC1|AC2|P0|N0|"
C1||3300u|50V|P0||"
R101||33R|2W|P0|P1|"
C11||470u|35V|P1||"
C2||2200u|50V|0V|N0|"
R201||68R|1W|N0|N1|"
X21||60mA@28 res|N1||"
C21||220u|35V|0V|N1|"
X11||105mA@27.5 res|P1||Logic
R102||82R|1W|P1|P2|"
X12||46mA@19 res|P2||"
C12||220u|25V|P2||"
U1||12V Iq 5mA|1.5W|P2|P3||"|35V
X13||45mA|P3||"
R103||820R|1W|P0|P4|"
ZD1||6.7V 5R|1/2W|P4||"
X14||20mA|P4||"|8V
C14||100u|10V|P4||"
R104||270R|2W|P0|P5|Amp
X15||45mA@13.8 res|P5||"|18V
C15||220u|25V|P5||"
X16||24mA@13.8 lamp|P5||"
R202||270R|1/2W|N1|N2|"
X22||28mA@17 res|N2||"
C22||100u|25V|0V|N2|"
R203||470R|1/2W|N2|N3|"
X23||14mA@10.4 res|N3||"
C23||47u|16V|0V|N3|"
P0||33||50V
P1||27||35V
P2||19||25V
P3||12
P4||6.8||8V
P5||14||18V
N0||-35||50V
N1||-28||35V
N2||-17||25V
N3||-10.5||16V
"""
"""The three boards as they are typed: a cell a stop of the Tab key, a line an Enter."""
V1, R1, R2, R3, L1, LAST = 4, 5, 6, 7, 8, 9
"""The lines of the divider's parts, and the empty one."""


class Typist:
    """Hands on a keyboard, which counts what they do."""

    def __init__(self, sheet: PartsSheet) -> None:
        self.sheet, self.grid, self.model = sheet, sheet.grid, sheet.grid.table
        self.strokes = self.cells = 0

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
        for number, text in enumerate(cells):
            if number:
                self.press(Qt.Key.Key_Tab)
            self.keys(text)
            self.cells += bool(text)
        self.press(Qt.Key.Key_Return)

    def go(self, place: int, column: str) -> None:
        index = self.model.index(place, COLUMNS.index(column))
        select = QItemSelectionModel.SelectionFlag.ClearAndSelect
        self.grid.selectionModel().setCurrentIndex(index, select)

    def write(self, place: int, column: str, text: str, key: Any = Qt.Key.Key_Return) -> None:
        self.go(place, column)
        self.keys(text)
        self.press(key)

    def text(self, place: int, column: str) -> str:
        return str(self.model.index(place, COLUMNS.index(column)).data())

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
