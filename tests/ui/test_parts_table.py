"""The parts table as hands work it: by keyboard alone, by paste, by file."""

import sys
from collections.abc import Iterator
from typing import Any

import pytest
from keystroke_level import Estimate
from parts_typist import LAST, R1, R2, R3, RECORDER, V1, Typist, typing_at
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit, QPushButton

import railmap as rm
from railmap.bench.part_columns import COLUMNS, SPECS, TITLES
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.card.pages import KIND_WORDS

MOST_STROKES = 620
# Volts at 220 V of the example that ships with the program, see its own tests.
VOLTS = {
    "P0": 33.3, "P1": 26.8, "P2": 18.9, "P3": 12.0, "P4": 6.76, "P5": 14.2, "N0": -35.1,
    "N1": -28.1, "N2": -16.9, "N3": -10.3,
}  # fmt: skip


@pytest.fixture
def swift(empty: Bridge, settle: Any) -> Iterator[Typist]:
    with typing_at(empty, settle, tested=False) as found:
        yield found


def apart(m: rm.RailMap) -> bool:
    spots = {(p.board, p.place.x_mm, p.place.y_mm) for p in m.parts.values() if p.place}
    return len(spots) == len(m.parts)


def test_the_three_boards_by_keyboard_alone(
    swift: Typist, empty: Bridge, record_property: Any
) -> None:
    for line in RECORDER.splitlines():
        swift.row(*line.split("|"))
    m = empty.map
    assert [line.reading for line in swift.model.lines if line.waiting] == []
    assert (len(m.parts), len(m.rails), list(m.boards)) == (30, 10, ["Supply", "Logic", "Amp"])
    boards = [part.board for part in m.parts.values()]
    assert [boards.count(name) for name in m.boards] == [11, 9, 10]
    assert apart(m)
    empty.solve_now()
    assert empty.solution is not None
    for node, volts in VOLTS.items():
        assert empty.solution.volts(node) == pytest.approx(volts, rel=0.01), node
    assert swift.strokes <= MOST_STROKES
    estimate = Estimate(swift.strokes, swift.cells, swift.taken)
    record_property("keystrokes", swift.strokes)
    record_property("estimate", str(estimate))
    # Shown by pytest -rP.
    sys.stdout.write(f"{estimate}\n")
    _undo_and_redo(swift, empty)


def _undo_and_redo(typist: Typist, bridge: Bridge) -> None:
    m, full = bridge.map, bridge.map.copy()
    names = []
    while bridge.history.undo_name is not None:
        names.append(bridge.history.undo_name)
        bridge.undo()
    assert (names[0], names[-1], len(names)) == ("Add C9", "Add T1A", 40)
    assert m == rm.RailMap("Recorder", mains_volts=220)
    assert typist.refs == [""]
    while bridge.history.redo_name is not None:
        bridge.redo()
    assert m == full
    assert len(typist.refs) == 44


def test_the_same_values_as_the_example(swift: Typist, empty: Bridge) -> None:
    """Each resistor and rail of the map that ships with the program, by its values."""
    path = next(path for path in example_paths() if path.stem == "portable_tape_recorder")
    wanted = rm.load(path)
    for line in RECORDER.splitlines():
        swift.row(*line.split("|"))
    for ref, part in wanted.parts.items():
        if isinstance(part, rm.Resistor | rm.Winding | rm.Regulator):
            typed = empty.map.parts[ref]
            assert (typed.now(), typed.nodes) == (part.now(), part.nodes)
    for node, rail in wanted.rails.items():
        typed_rail = empty.map.rails[node]
        assert (typed_rail.label_volts, typed_rail.max_volts) == (rail.label_volts, rail.max_volts)


def test_a_new_row_waits_until_it_is_left(blank: Typist, empty: Bridge) -> None:
    for text in ("R1", "33R", "2W", "P0", "P1"):
        blank.keys(text)
        blank.press(Qt.Key.Key_Tab)
        assert not empty.map.parts
    assert blank.text(0, "kind") == "Resistor"
    assert blank.model.waiting == 1
    blank.press(Qt.Key.Key_Down)
    assert list(empty.map.parts) == ["R1"]
    assert empty.history.undo_name == "Add R1"
    assert blank.grid.here == (1, "board")
    assert blank.refs == ["R1", ""]


def test_enter_goes_to_what_a_row_lacks(blank: Typist, empty: Bridge) -> None:
    blank.row("R1", "33V", "2W", "RAW")
    assert blank.grid.here == (0, "drawn")
    reason = "R1, drawn: '33V' is in volts; ohms are wanted here."
    assert (blank.sheet.line.text(), blank.grid.bubble.text()) == (reason, reason)
    assert blank.grid.bubble.isVisible()
    assert blank.text(0, "drawn") == "33V"
    blank.keys("33R")
    blank.press(Qt.Key.Key_Return)
    assert blank.grid.here == (0, "to")
    assert blank.sheet.line.text() == "R1, to: name the node that it goes to."
    assert not empty.map.parts
    blank.keys("P1")
    blank.press(Qt.Key.Key_Return)
    assert list(empty.map.parts) == ["R1"]
    assert blank.grid.here == (1, "ref")
    assert not blank.grid.bubble.isVisible()


def test_the_reason_stands_at_the_cell_while_it_is_typed(blank: Typist) -> None:
    blank.keys("R1")
    blank.press(Qt.Key.Key_Tab)
    blank.keys("10m")
    assert blank.grid.bubble.isVisible()
    assert blank.grid.bubble.text().startswith("R1, drawn: '10m' could be 10 mΩ or 10 MΩ")
    cell = blank.grid.visualRect(blank.grid.currentIndex())
    assert abs(blank.grid.bubble.geometry().top() - cell.bottom()) < 5
    assert blank.grid.viewport().rect().contains(blank.grid.bubble.geometry())
    blank.press(Qt.Key.Key_Backspace)
    assert not blank.grid.bubble.isVisible()
    blank.press(Qt.Key.Key_Escape)
    assert blank.text(0, "drawn") == ""
    blank.press(Qt.Key.Key_Escape)
    assert blank.refs == [""]


# Kind, the column with something bad in it, and what is bad.
BAD = [
    ("ref", "R2", "there is already a part 'R2'"),
    ("kind", "thing", "'thing' is no kind known here"),
    ("drawn", "much", "'much' cannot be read as ohms"),
    ("fitted", "33V", "'33V' is in volts; ohms are wanted here"),
    ("found", "-3", "ohms must be above 0, is -3"),
    ("rating", "2V", "'2V' is in volts; watts are wanted here"),
    ("from", " ", "a pin needs a node"),
    ("to", "N" * 125, "the name is longer than 120 characters"),
    ("board", "B" * 125, "the name is longer than 120 characters"),
    ("limit", "0", "highest volts must be above 0, is 0"),
    ("tolerance_pct", "-1", "tolerance must be at least 0 and at most 100, is -1"),
    ("technology", "wood", "'wood' cannot be read here"),
    ("place_x_mm", "wide", "'wide' cannot be read as millimetres"),
]


@pytest.mark.parametrize(("column", "text", "reason"), BAD)
def test_bad_input_keeps_the_map_and_the_text(
    typist: Typist, bridge: Bridge, column: str, text: str, reason: str
) -> None:
    before = bridge.map.copy()
    typist.sheet.all_columns.setChecked(True)
    typist.write(R1, column, text)
    assert bridge.map == before
    assert bridge.history.undo_name is None
    index = typist.model.index(R1, COLUMNS.index(column))
    said = index.data(Qt.ItemDataRole.ToolTipRole)
    assert typist.model.text_at(R1, column) == text
    assert reason in said
    assert f", {TITLES[column].lower()}: " in said
    assert said.endswith(".")
    assert "\n" not in said
    assert index.data(Qt.ItemDataRole.AccessibleDescriptionRole) == said
    assert typist.grid.here == (R1, column)
    assert typist.sheet.count.text().endswith("1 row not in the map yet")
    typist.press(Qt.Key.Key_Escape)
    assert typist.model.waiting == 0
    assert index.data(Qt.ItemDataRole.ToolTipRole) == ""


def test_a_bad_row_holds_back_its_other_cells(typist: Typist, bridge: Bridge) -> None:
    typist.write(R1, "drawn", "much")
    typist.write(R1, "rating", "2W")
    assert bridge.map.parts["R1"].rated_watts == 1
    typist.write(R1, "drawn", "120R")
    assert (bridge.map.parts["R1"].ohms, bridge.map.parts["R1"].rated_watts) == (120, 2)
    assert bridge.history.undo_name == "Change R1"
    bridge.undo()
    assert typist.text(R1, "drawn") == "100R"
    assert bridge.history.undo_name is None


def test_a_cell_that_a_kind_lacks_takes_no_text(typist: Typist) -> None:
    typist.write(R1, "third", "X")
    assert typist.text(R1, "third") == ""
    assert typist.sheet.line.text() == "A resistor has nothing here."


@pytest.mark.parametrize(
    ("column", "text", "name"),
    [
        ("rating", "1/2W", "Change rating of R1"), ("drawn", "120R", "Change drawn value of R1"),
        ("found", "104R", "Change found value of R1"), ("to", "C", "Join R1 to C"),
        ("board", "Side", "Move R1 to Side"), ("ref", "R101", "Rename R1 to R101"),
        ("kind", "fuse", ""),
    ],
)  # fmt: skip
def test_each_edit_is_one_step_with_a_name(
    typist: Typist, bridge: Bridge, column: str, text: str, name: str
) -> None:
    before, line = bridge.map.copy(), typist.text(R1, column)
    typist.write(R1, column, text)
    if column == "kind":
        # A fuse has no watts; the row waits until they are gone.
        assert bridge.map == before
        typist.go(R1, "rating")
        typist.press(Qt.Key.Key_Delete)
        typist.go(R1, "drawn")
        name = "Change R1"
    assert bridge.history.undo_name == name
    after = bridge.map.copy()
    assert after != before
    bridge.undo()
    assert bridge.map == before
    assert bridge.history.undo_name is None
    assert typist.text(R1, column) == line
    bridge.redo()
    assert bridge.map == after
    assert len(typist.refs) == 10


def test_renaming_keeps_the_line(typist: Typist, bridge: Bridge) -> None:
    typist.write(R1, "ref", "R101", Qt.Key.Key_Tab)
    assert typist.grid.here == (R1, "kind")
    assert typist.refs[4:7] == ["V1", "R101", "R2"]
    bridge.undo()
    assert typist.refs[4:7] == ["V1", "R1", "R2"]


def test_rows_are_deleted_by_key(typist: Typist, bridge: Bridge, settle: Any) -> None:
    before = bridge.map.copy()
    typist.go(R3, "ref")
    typist.press(Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    typist.press(Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    assert typist.refs[4:] == ["V1", "R1", "R2", ""]
    assert bridge.history.undo_name == "Delete 2 rows"
    bridge.undo()
    assert bridge.map == before
    assert typist.refs[4:] == ["V1", "R1", "R2", "R3", "L1", ""]
    typist.go(R2, "ref")
    typist.press(Qt.Key.Key_Delete, Qt.KeyboardModifier.ControlModifier)
    assert bridge.history.undo_name == "Delete R2"
    settle()


def test_several_cells_are_cleared_in_one_step(typist: Typist, bridge: Bridge) -> None:
    before = bridge.map.copy()
    typist.go(R1, "rating")
    typist.press(Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    typist.press(Qt.Key.Key_Delete)
    assert [bridge.map.parts[ref].rated_watts for ref in ("R1", "R2")] == [None, None]
    assert bridge.history.undo_name == "Clear 2 cells"
    bridge.undo()
    assert bridge.map == before


def test_sorting(typist: Typist, bridge: Bridge) -> None:
    typist.write(LAST, "ref", "R10", Qt.Key.Key_Tab)
    typist.go(R1, "drawn")
    buttons = typist.sheet.findChildren(QPushButton)
    button = next(button for button in buttons if button.text() == "S&ort")
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    resistors = [ref for ref in typist.refs if ref in ("R1", "R2", "R3")]
    assert resistors == ["R3", "R1", "R2"]
    assert typist.refs[-2:] == ["R10", ""]
    assert typist.grid.here[1] == "drawn"
    assert typist.text(*typist.grid.here) == "100R"
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert [ref for ref in typist.refs if ref in ("R1", "R2", "R3")] == ["R2", "R1", "R3"]
    assert bridge.history.undo_name is None


def test_typing_goes_on_while_the_map_changes(typist: Typist, bridge: Bridge, settle: Any) -> None:
    typist.go(R2, "drawn")
    typist.keys("47")
    change = bridge.map.parts["R2"].changed(rated_watts=3.0)
    bridge.change_part("Change R2", change)
    bridge.do("Delete V1", rm.bench.edits.remove_parts(bridge.map, ["V1"]))
    settle()
    editor = typist.target()
    assert isinstance(editor, QLineEdit)
    assert editor.text() == "47"
    typist.keys("0R")
    typist.press(Qt.Key.Key_Return)
    assert (bridge.map.parts["R2"].ohms, bridge.map.parts["R2"].rated_watts) == (470, 3)


def test_another_map_ends_the_typing(typist: Typist, bridge: Bridge, settle: Any) -> None:
    typist.go(R2, "drawn")
    typist.keys("47")
    bridge.open_map(rm.RailMap(), None)
    settle()
    assert typist.refs == [""]
    assert typist.grid.here == (0, "ref")
    typist.row("R1", "1k", "", "A", "B")
    assert list(bridge.map.parts) == ["R1"]


def test_the_selection_is_shared(typist: Typist, bridge: Bridge) -> None:
    assert typist.grid.here == (V1, "ref")
    assert bridge.selection == Picked()
    typist.go(R2, "drawn")
    assert bridge.selection == Picked("part", "R2")
    typist.go(3, "drawn")
    assert bridge.selection == Picked("rail", "A")
    typist.grid.clearFocus()
    bridge.pick(Picked("part", "R1"))
    assert typist.grid.here == (R1, "drawn")


def test_tab_goes_back_too(typist: Typist) -> None:
    typist.go(R1, "from")
    typist.press(Qt.Key.Key_Backtab)
    assert typist.grid.here == (R1, "rating")
    typist.go(R1, "ref")
    typist.press(Qt.Key.Key_Backtab)
    assert typist.grid.here == (V1, "notes")


def test_ditto_repeats_the_cell_above(typist: Typist, bridge: Bridge) -> None:
    typist.write(R2, "rating", '"')
    assert bridge.map.parts["R2"].rated_watts == 1


def test_leaving_the_table_ends_the_row(typist: Typist, bridge: Bridge, settle: Any) -> None:
    typist.go(LAST, "ref")
    for text in ("R9", "1k", "", "A", "B"):
        typist.keys(text)
        typist.press(Qt.Key.Key_Tab)
    typist.sheet.all_columns.setFocus()
    settle()
    assert bridge.map.parts["R9"].ohms == 1000


def test_the_table_speaks_as_the_card_does() -> None:
    assert {name: spec.word for name, spec in SPECS.items() if name in KIND_WORDS} == KIND_WORDS


def test_both_themes(typist: Typist, settle: Any) -> None:
    typist.write(R1, "drawn", "much")
    for theme in (themes.dark(), themes.light()):
        typist.sheet.set_theme(theme)
        settle()
        ink = typist.model.index(R1, 2).data(Qt.ItemDataRole.ForegroundRole)
        assert ink == theme.warn


def test_columns_have_room_for_their_titles(typist: Typist) -> None:
    typist.sheet.all_columns.setChecked(True)
    header = typist.grid.horizontalHeader()
    for number in range(len(COLUMNS)):
        assert header.sectionSize(number) >= header.sectionSizeHint(number)


def test_what_the_map_refuses_stays_at_the_reference(typist: Typist, bridge: Bridge) -> None:
    before = bridge.map.copy()
    # B is a node that no rail is on: the rail would join two nodes to one.
    typist.write(3, "ref", "B")
    assert bridge.map == before
    assert typist.model.reason_at(3, "ref") == "B, reference: there is already a node 'B'."
    assert typist.model.text_at(3, "ref") == "B"
    typist.press(Qt.Key.Key_Escape)
    assert typist.text(3, "ref") == "A"


def test_going_to_another_cell_by_arrow_ends_the_typing(typist: Typist, bridge: Bridge) -> None:
    typist.write(R1, "drawn", "110R", Qt.Key.Key_Down)
    assert typist.grid.here == (R2, "drawn")
    typist.keys("210R")
    typist.press(Qt.Key.Key_Up)
    assert typist.grid.here == (R1, "drawn")
    assert [bridge.map.parts[ref].now() for ref in ("R1", "R2")] == [110, 210]
    typist.press(Qt.Key.Key_Return)
    assert typist.grid.here == (R2, "drawn")
