"""The parts table and other sheets: paste, copy and files."""

from pathlib import Path

import pytest
from parts_typist import LAST, R1, R2, V1, Typist
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QPushButton

import railmap as rm
from railmap.ui.bridge import Bridge


def clip(text: str) -> None:
    QGuiApplication.clipboard().setText(text)


def paste(typist: Typist) -> None:
    typist.press(Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


def test_a_whole_paste_is_one_step(blank: Typist, empty: Bridge) -> None:
    clip("Part\tBoard\tValue\tWatts\tFrom\tTo\nR1\tA\t33\t2\t+29\tN1\nR2\tB\t4k7\t½\tN1\t0V\n")
    paste(blank)
    assert empty.history.undo_name == "Paste 2 rows"
    assert list(empty.map.boards) == ["A", "B"]
    assert empty.map.rails["+29"].label_volts == 29
    assert empty.map.parts["R2"].rated_watts == 0.5
    assert blank.refs == ["A", "B", "+29", "R1", "R2", ""]
    assert blank.text(2, "drawn") == "29V"
    empty.undo()
    assert empty.map == rm.RailMap("Recorder", mains_volts=220)
    assert blank.refs == [""]


def test_a_paste_without_titles_goes_by_the_order_of_the_table(
    blank: Typist, empty: Bridge
) -> None:
    clip("R1\tResistor\t33R\t\t39R2\t2W\tP0\tP1\t\t\tA\nX1\t\t105mA\t\t\t\tP1\n")
    paste(blank)
    assert empty.map.parts["R1"].now() == 39.2
    assert empty.map.parts["X1"].nodes == ("P1", "0V")


def test_rows_that_are_not_good_wait_below(blank: Typist, empty: Bridge) -> None:
    clip("R1\t\t33R\t\t\t\tP0\tP1\nR2\t\tlots\t\t\t\tP0\tP1\n?\t\t1k\n")
    paste(blank)
    assert list(empty.map.parts) == ["R1"]
    assert blank.refs == ["R1", "R2", "?", ""]
    assert blank.sheet.line.text() == (
        "2 rows wait to be put right. R2, drawn: 'lots' cannot be read as ohms; write it like 4k7"
        " or 150R."
    )
    blank.write(1, "drawn", "1k")
    assert list(empty.map.parts) == ["R1", "R2"]
    blank.go(2, "ref")
    blank.press(Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    assert blank.refs == ["R1", "R2", ""]


def test_a_column_is_pasted_downwards(typist: Typist, bridge: Bridge) -> None:
    typist.go(R1, "found")
    clip("104R\n210R\n51R")
    paste(typist)
    assert [bridge.map.parts[f"R{i}"].now() for i in (1, 2, 3)] == [104, 210, 51]
    assert bridge.history.undo_name == "Paste 3 rows"
    assert typist.refs == ["Main", "Side", "RAW", "A", "V1", "R1", "R2", "R3", "L1", ""]
    clip("105R\nlots")
    paste(typist)
    assert bridge.map.parts["R1"].now() == 105
    assert bridge.map.parts["R2"].now() == 210
    assert typist.model.reason_at(R2, "found").startswith("R2, found: 'lots'")


def test_what_cannot_be_pasted_says_why(typist: Typist, bridge: Bridge) -> None:
    before = bridge.map.copy()
    clip("Ref\tValue\tDrawn\nR1\t2\t3")
    paste(typist)
    assert typist.sheet.line.text() == (
        "Nothing was pasted: the columns Value and Drawn both mean drawn."
    )
    typist.go(V1, "drawn")
    assert "Nothing" not in typist.sheet.line.text()
    clip("\t".join("x" * 60))
    paste(typist)
    assert typist.sheet.line.text().startswith("Nothing was pasted: row 1 has 60 cells, but")
    assert bridge.map == before


def test_columns_that_are_not_known_are_named(blank: Typist, empty: Bridge) -> None:
    clip("Ref\tValue\tFrom\tTo\tSupplier\nR1\t33\tA\tB\tx")
    paste(blank)
    assert list(empty.map.parts) == ["R1"]
    assert blank.sheet.line.text() == "Not taken in: the column Supplier."


def test_copy_and_paste_go_together(typist: Typist, bridge: Bridge) -> None:
    typist.go(R1, "ref")
    typist.press(Qt.Key.Key_End, Qt.KeyboardModifier.ShiftModifier)
    typist.press(Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    text = QGuiApplication.clipboard().text()
    assert text == "R1\tResistor\t100R\t\t\t1W\tRAW\tA\t\t\tMain\t\t\r\n"
    clip(text.replace("R1", "R9"))
    typist.go(LAST, "ref")
    paste(typist)
    assert bridge.map.parts["R9"].nodes == ("RAW", "A")


def test_files(typist: Typist, bridge: Bridge, tmp_path: Path, empty: Bridge) -> None:
    path = tmp_path / "divider.csv"
    typist.sheet.write(path)
    assert typist.sheet.line.text() == "divider.csv is written."
    typist.sheet.read(path)
    assert bridge.history.undo_name is None
    bridge.open_map(rm.RailMap(), None)
    typist.sheet.read(path)
    assert bridge.history.undo_name == "Read 9 rows"
    assert typist.refs == ["Main", "Side", "RAW", "A", "V1", "R1", "R2", "R3", "L1", ""]
    typist.sheet.read(tmp_path / "none.csv")
    assert "cannot be read: no such file" in typist.sheet.line.text()
    typist.sheet.write(tmp_path / "none" / "x.csv")
    assert "cannot be written: no such file" in typist.sheet.line.text()


def test_files_are_asked_for(
    typist: Typist, bridge: Bridge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def answer(name: str) -> None:
        for ask in ("getOpenFileName", "getSaveFileName"):
            monkeypatch.setattr(QFileDialog, ask, lambda *_: (name, ""))

    def push(text: str) -> None:
        button = next(b for b in typist.sheet.findChildren(QPushButton) if b.text() == text)
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)

    answer(str(tmp_path / "parts"))
    push("&Write CSV…")
    assert [path.name for path in tmp_path.iterdir()] == ["parts.csv"]
    bridge.open_map(rm.RailMap(), None)
    answer("")
    push("Rea&d CSV…")
    assert not bridge.map.parts
    answer(str(tmp_path / "parts.csv"))
    push("Rea&d CSV…")
    assert len(bridge.map.parts) == 5
    typist.go(4, "ref")
    push("Dele&te rows")
    assert "V1" not in bridge.map.parts


def test_a_pasted_file_that_the_map_refuses(typist: Typist, bridge: Bridge) -> None:
    before = bridge.map.copy()
    clip("Ref\tKind\tRail name\nRAW\trail\tsame\nA\trail\tsame")
    paste(typist)
    assert bridge.map == before
    assert typist.sheet.line.text() == (
        "Nothing was pasted: rail on node A: the name 'same' is taken by the rail on node 'RAW'."
    )


def test_two_rows_that_swap_their_names_are_refused(typist: Typist, bridge: Bridge) -> None:
    before = bridge.map.copy()
    typist.go(R1, "ref")
    clip("R1\t\t120R\nR1\t\t130R")
    paste(typist)
    assert bridge.map.parts["R1"].now() == 120
    assert typist.sheet.line.text().endswith("R1, reference: it stands in the sheet twice.")
    bridge.undo()
    assert bridge.map == before
