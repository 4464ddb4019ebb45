"""What the parts table proposes while it is typed in: seen before it is taken, never taken else."""

import html
import re
from typing import Any

import pytest
from parts_typist import R2, Typist
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QGuiApplication
from PySide6.QtWidgets import QLineEdit

import railmap as rm
from railmap.bench.part_columns import COLUMNS
from railmap.ui.bridge import Bridge
from railmap.ui.help import page

Key = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def started(blank: Typist) -> Typist:
    """A typist behind R101, which leads from P0 to P1 on the board Supply."""
    blank.row("R101", "33R", "2W", "P0", "P1", "Supply")
    return blank


def offers(typist: Typist) -> dict[str, str]:
    """What is proposed in the present line, by column."""
    return {column: text for column, text in typist.offers.items() if text}


def data(typist: Typist, column: str, role: Qt.ItemDataRole) -> Any:
    return typist.model.index(typist.grid.here[0], COLUMNS.index(column)).data(role)


def editor(typist: Typist) -> QLineEdit:
    found = typist.target()
    assert isinstance(found, QLineEdit)
    return found


def test_an_empty_map_proposes_nothing(blank: Typist) -> None:
    assert offers(blank) == {}


def test_a_proposal_looks_and_sounds_like_one(started: Typist) -> None:
    started.keys("R")
    started.press(Key.Key_Tab)
    for column in ("from", "to", "board"):
        ink = data(started, column, Qt.ItemDataRole.ForegroundRole)
        font = data(started, column, Qt.ItemDataRole.FontRole)
        assert ink == started.model.theme.soft_ink
        assert isinstance(font, QFont)
        assert font.italic()
        said = data(started, column, Qt.ItemDataRole.AccessibleDescriptionRole)
        assert said == "Proposed. Tab takes it, Enter takes the whole row."
        assert data(started, column, Qt.ItemDataRole.DisplayRole)
        assert data(started, column, Qt.ItemDataRole.EditRole) == ""
    assert data(started, "ref", Qt.ItemDataRole.FontRole) is None
    started.go(started.grid.here[0], "from")
    assert started.sheet.line.text().startswith("P1 is proposed: Tab takes it; type over it, or")


def test_tab_takes_one_cell_and_enter_the_row(started: Typist, empty: Bridge) -> None:
    assert offers(started) == {"ref": "P1"}
    started.press(Key.Key_Tab)
    assert started.grid.here[1] == "drawn"
    assert data(started, "ref", Qt.ItemDataRole.EditRole) == "P1"
    started.keys("27")
    started.press(Key.Key_Return)
    assert empty.map.rails["P1"].label_volts == 27
    started.keys("R")
    started.press(Key.Key_Tab)
    started.keys("82")
    assert offers(started) == {"from": "P1", "to": "P2", "board": "Supply"}
    assert list(empty.map.parts) == ["R101"]
    started.press(Key.Key_Return)
    part = empty.map.parts["R102"]
    assert (part.nodes, part.board, part.now()) == (("P1", "P2"), "Supply", 82)
    assert empty.history.undo_name == "Add R102"


def test_typing_and_delete_come_before_a_proposal(started: Typist, empty: Bridge) -> None:
    for text in ("R", "82", "", "P0", ""):
        started.keys(text)
        started.press(Key.Key_Tab)
    assert started.grid.here[1] == "board"
    started.press(Key.Key_Delete)
    assert offers(started) == {}
    assert started.text(started.grid.here[0], "board") == ""
    started.press(Key.Key_Return)
    part = empty.map.parts["R102"]
    assert (part.nodes, part.board) == (("P0", "P2"), "")


def test_an_emptied_line_is_a_refusal_too(started: Typist, empty: Bridge) -> None:
    for text in ("R", "82", "", "", ""):
        started.keys(text)
        started.press(Key.Key_Tab)
    started.keys("S")
    started.press(Key.Key_Backspace)
    assert editor(started).text() == ""
    started.press(Key.Key_Return)
    assert empty.map.parts["R102"].board == ""


def test_escape_brings_a_proposal_back(started: Typist) -> None:
    started.keys("R")
    started.press(Key.Key_Tab)
    started.go(started.grid.here[0], "board")
    started.keys("Am")
    started.press(Key.Key_Escape)
    assert offers(started) == {"from": "P1", "to": "P2", "board": "Supply"}


def test_to_edit_a_proposal_begins_with_it(started: Typist, empty: Bridge) -> None:
    started.keys("R")
    started.press(Key.Key_Tab)
    started.keys("82")
    started.press(Key.Key_Tab)
    started.go(started.grid.here[0], "board")
    started.press(Key.Key_F2)
    assert editor(started).text() == "Supply"
    started.press(Key.Key_End)
    started.keys("2")
    started.press(Key.Key_Return)
    assert empty.map.parts["R102"].board == "Supply2"


def test_what_is_proposed_follows_each_letter(started: Typist, empty: Bridge) -> None:
    """So that Enter right behind a reference takes only what could be seen."""
    assert offers(started) == {"ref": "P1"}
    started.keys("C")
    assert {c: t for c, t in offers(started).items() if c != "ref"} == {
        "from": "P1", "to": "0V", "board": "Supply"
    }  # fmt: skip
    started.press(Key.Key_Backspace)
    started.press(Key.Key_Backspace)
    started.keys("J1")
    seen = {c: t for c, t in offers(started).items() if c != "ref"}
    assert seen == {"from": "P1", "to": "P2", "board": "Supply"}
    started.press(Key.Key_Return)
    assert empty.map.parts["J1"].nodes == ("P1", "P2")


@pytest.mark.parametrize("way", [Key.Key_Up, "row above"])
def test_to_leave_a_row_takes_nothing(started: Typist, empty: Bridge, way: Any) -> None:
    before = empty.map.copy()
    for text in ("R", "82"):
        started.keys(text)
        started.press(Key.Key_Tab)
    place = started.grid.here[0]
    if way == Key.Key_Up:
        started.press(way)
    else:
        started.go(0, "ref")
    assert empty.map == before
    assert started.model.missing_at(place, "from").startswith("R102, from: name the node")
    started.go(place, "from")
    assert offers(started) == {}, "a row that waits is told what it lacks"


def test_what_was_only_taken_goes_when_it_is_left(started: Typist, empty: Bridge) -> None:
    before = empty.map.copy()
    started.press(Key.Key_Tab)
    assert started.model.waiting == 0
    started.press(Key.Key_Up)
    assert empty.map == before
    started.go(len(started.model.lines) - 1, "ref")
    assert offers(started) == {"ref": "P1"}


def test_enter_on_an_empty_row_is_no_row(started: Typist, empty: Bridge) -> None:
    before = empty.map.copy()
    for _ in range(5):
        started.press(Key.Key_Return)
        assert empty.map == before
        assert started.model.waiting == 0


def test_one_row_at_a_time_proposes(started: Typist) -> None:
    started.keys("R")
    started.press(Key.Key_Tab)
    started.keys("82")
    started.press(Key.Key_Tab)
    last = len(started.model.lines) - 1
    assert started.grid.here[0] == last - 1
    assert started.model.lines[last].proposed == {}


def test_letters_are_completed_and_typed_over(started: Typist) -> None:
    started.keys("R")
    line = editor(started)
    assert (line.text(), line.selectedText()) == ("R102", "102")
    started.keys("2")
    assert line.text() == "R2"
    started.keys("01")
    assert line.text() == "R201"
    for _ in range(3):
        started.press(Key.Key_Backspace)
    assert line.text() == "R", "what was taken away is not put back"
    started.press(Key.Key_Backspace)
    started.keys("Z")
    assert line.text() == "Z1"
    started.keys("D")
    assert (line.text(), line.selectedText()) == ("ZD1", "1")
    started.press(Key.Key_Backspace)
    assert line.text() == "ZD"
    started.press(Key.Key_Tab)
    assert data(started, "ref", Qt.ItemDataRole.EditRole) == "ZD"


def test_a_reference_in_the_map_is_not_completed(typist: Typist) -> None:
    typist.go(R2, "ref")
    typist.keys("C")
    assert editor(typist).text() == "C"


def test_the_kind_is_passed_over_but_can_be_reached(started: Typist, empty: Bridge) -> None:
    started.keys("D101")
    started.press(Key.Key_Tab)
    assert started.grid.here[1] == "drawn"
    started.press(Key.Key_Backtab, Qt.KeyboardModifier.ShiftModifier)
    assert started.grid.here[1] == "kind"
    started.keys("zener")
    started.press(Key.Key_Tab)
    assert offers(started) == {"from": "P1", "to": "0V", "board": "Supply"}
    started.keys("5V")
    started.press(Key.Key_Return)
    assert isinstance(empty.map.parts["D101"], rm.Zener)


def test_letters_that_say_nothing_stop_at_the_kind(started: Typist) -> None:
    started.keys("?1")
    started.press(Key.Key_Tab)
    assert started.grid.here[1] == "kind"


def test_what_is_out_of_sight_is_shown_before_it_is_taken(
    started: Typist, empty: Bridge, settle: Any
) -> None:
    started.sheet.resize(420, 300)
    settle()
    started.keys("R")
    started.press(Key.Key_Tab)
    started.keys("82")
    seen = []
    while "R102" not in empty.map.parts:
        started.press(Key.Key_Return)
        seen.append(started.grid.here[1])
        assert len(seen) < 5
    assert seen[:1] == ["from"]
    assert "board" in seen
    assert empty.map.parts["R102"].board == "Supply"


def test_work_goes_on_from_what_was_entered_last(started: Typist, empty: Bridge) -> None:
    """The last row may be a rail, which stands above the parts."""
    started.press(Key.Key_Tab)
    started.keys("27")
    started.press(Key.Key_Return)
    started.row("P0", "33")
    assert offers(started)["ref"] == "X1"
    assert offers(started)["from"] == "P0"
    empty.undo()
    assert offers(started)["from"] == "P1", "and when that is gone, from the last part"


def test_paste_takes_nothing_that_is_proposed(started: Typist, empty: Bridge) -> None:
    QGuiApplication.clipboard().setText("R102\t\t82R\nR103\t\t82R\t\t\t\tP1\tP2\n")
    started.press(Key.Key_V, CONTROL)
    assert list(empty.map.parts) == ["R101", "R103"]
    assert empty.map.parts["R103"].board == ""
    place = started.refs.index("R102")
    started.go(place, "rating")
    assert offers(started) == {}
    started.keys("1W")
    started.press(Key.Key_Return)
    assert "R102" not in empty.map.parts
    assert started.grid.here == (place, "from")


def test_another_map_begins_anew(started: Typist, empty: Bridge, settle: Any) -> None:
    empty.open_map(rm.RailMap(), None)
    settle()
    assert offers(started) == {}


def test_the_keys_of_the_help_page_make_its_map(blank: Typist, empty: Bridge) -> None:
    """Each row as the page prints it, with nothing but the keys that it names."""
    rows = [found for found in re.findall("<tr><td>(.*?)</td>", page("paper")) if "Enter" in found]
    for row in rows[1:]:
        for key in re.findall("<b>.*?</b>|Tab|Enter", row):
            if key == "Tab":
                blank.press(Key.Key_Tab)
            elif key == "Enter":
                blank.press(Key.Key_Return)
            else:
                blank.keys(html.unescape(key.removeprefix("<b>").removesuffix("</b>")))
    m = empty.map
    assert {ref: part.nodes for ref, part in m.parts.items()} == {
        "T1A": ("AC1", "0V"), "T1B": ("0V", "AC2"), "BR1": ("AC1", "AC2", "P0", "N0"),
        "R101": ("P0", "P1"), "X1": ("P1", "0V"), "C1": ("P1", "0V"),
    }  # fmt: skip
    assert {part.board for part in m.parts.values()} == {"Supply"}
    assert (m.rails["P1"].label_volts, m.rails["P1"].max_volts) == (27, 35)
    assert blank.offers["ref"] == "R102"
