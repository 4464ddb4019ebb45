"""Several parts selected together are one selection of the whole window, whoever selects them."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QTableView, QWidget

import railmap as rm
from railmap.bench import edits
from railmap.ui.bridge import Picked
from railmap.ui.canvas.group import Group, keys_of, picked_of, refs_of, toggled
from railmap.ui.card.grouppage import GroupPage
from railmap.ui.ladder.shapes import Fall
from railmap.ui.window import Window

K = Qt.Key
NONE = Qt.KeyboardModifier.NoModifier
SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def picked(window: Window) -> Callable[[], tuple[str, ...]]:
    return lambda: refs_of(window.bridge.selection)


@pytest.fixture
def told(window: Window) -> Iterator[list[Picked]]:
    """All that was said to be selected, one after the other."""
    found: list[Picked] = []
    window.bridge.picked.connect(found.append)
    yield found
    window.bridge.picked.disconnect(found.append)


def rows_of(table: QTableView) -> set[str]:
    """The names in the rows of which cells are selected."""
    model = table.model()
    return {str(model.index(i.row(), 0).data()) for i in table.selectionModel().selectedIndexes()}


def click_row(table: QTableView, name: str, held: Any = NONE) -> None:
    model = table.model()
    row = next(r for r in range(model.rowCount()) if model.index(r, 0).data() == name)
    table.scrollTo(model.index(row, 0))
    at = table.visualRect(model.index(row, 0)).center()
    QTest.mouseClick(table.viewport(), LEFT, held, at)


def fall_of(window: Window, ref: str) -> Fall:
    return next(f for f in window.ladder.scene.drawing().falls if ("part", ref) in f.keys)


def click_fall(window: Window, ref: str, held: Any = NONE) -> None:
    tile = fall_of(window, ref).tile
    at = QPointF((tile.left + tile.right) / 2, (tile.top + tile.bottom) / 2)
    QTest.mouseClick(window.ladder, LEFT, held, at.toPoint())


def marked(window: Window) -> list[str]:
    """The parts that the floor shows as selected."""
    return [ref for ref, item in window.view.floor.parts.items() if item._picked]


def press(widget: QWidget, key: Qt.Key, held: Any = NONE, times: int = 1) -> None:
    for _ in range(times):
        QTest.keyClick(widget, key, held)


def show_sheet(window: Window, title: str, settle: Callable[[], None]) -> QTableView:
    window.drawer.go_to(title)
    window.activateWindow()
    settle()
    return {"Hot list": window.drawer.hot, "Parts": window.drawer.parts.grid}[title]


def test_adding_to_a_selection() -> None:
    assert toggled(Picked(), ["R1"]) == Picked("part", "R1")
    assert toggled(Picked("rail", "A"), ["R1"]) == Picked("part", "R1")
    assert toggled(Picked("part", "R1"), ["R1"]) == Picked()
    assert toggled(Group(refs=("R1", "R2", "R3")), ["R2"]) == Group(refs=("R1", "R3"))
    # What stands for several things adds all of them before it leaves all of them out.
    assert toggled(Picked("part", "L1"), ["L1", "L2"]) == Group(refs=("L1", "L2"))
    assert keys_of(picked_of(["R1", "R2"])) == (("part", "R1"), ("part", "R2"))
    assert keys_of(Picked("rail", "A")) == (("rail", "A"),)
    assert keys_of(Picked()) == ()


def test_a_group_of_the_floor_is_lit_in_the_ladder_with_its_feed(
    window: Window, hand: Any, settle: Callable[[], None]
) -> None:
    floor = window.view.floor
    QTest.mouseClick(window.view.viewport(), LEFT, pos=hand.pixel(*hand.middle("R2")))
    QTest.mouseClick(window.view.viewport(), LEFT, CONTROL, hand.pixel(*hand.middle("R3")))
    settle()
    assert refs_of(window.bridge.selection) == ("R2", "R3")
    lit = window.ladder.scene.lit
    state = {ref: lit.state([("part", ref)]) for ref in ("V1", "R1", "R2", "R3", "L1")}
    assert state == {
        "V1": "path", "R1": "path", "R2": "picked", "R3": "picked", "L1": "fed",
    }  # fmt: skip
    assert lit.state([("rail", "RAW")]) == "path"
    assert lit.state([("rail", "B")]) == "fed"
    # The floor lights the same.
    assert {ref for ref, item in floor.parts.items() if item._lit == 1} >= {"V1", "R1"}
    assert window.ladder.accessibleName() == "Ladder, 2 parts, R2, R3"
    about = window.ladder.accessibleDescription()
    assert about.startswith("R2, resistor 200R")
    assert "R3, resistor 50R" in about


def test_a_group_of_the_floor_is_selected_in_every_table_with_its_parts(
    window: Window, hand: Any, settle: Callable[[], None], told: list[Picked]
) -> None:
    hand.drag((60, 88), (150, 20))
    settle()
    assert refs_of(window.bridge.selection) == ("R1", "R2")
    assert rows_of(window.drawer.hot) == {"R1", "R2"}
    assert rows_of(window.drawer.parts.grid) == {"R1", "R2"}
    assert rows_of(window.drawer.rails) == set()
    # Nobody answers to what he is told.
    assert [what for what in told if isinstance(what, Group)] == [Group(refs=("R1", "R2"))]
    window.bridge.pick(Picked("part", "R2"))
    settle()
    assert rows_of(window.drawer.hot) == rows_of(window.drawer.parts.grid) == {"R2"}
    window.bridge.pick(Picked())
    assert rows_of(window.drawer.hot) == set()


def test_a_part_without_a_row_stays_in_the_group(
    window: Window, settle: Callable[[], None], picked: Any
) -> None:
    """The hot list has no row for a load without limits."""
    hot = show_sheet(window, "Hot list", settle)
    window.bridge.pick(picked_of(["L1", "R2"]))
    assert rows_of(hot) == {"R2"}
    assert picked() == ("L1", "R2")
    click_row(hot, "R1", CONTROL)
    assert picked() == ("L1", "R2", "R1")
    click_row(hot, "R2")
    assert picked() == ("R2",)
    # The only row of a group that is to be seen is selected alone by a click, too.
    window.bridge.pick(picked_of(["L1", "R2"]))
    click_row(hot, "R2")
    assert window.bridge.selection == Picked("part", "R2")


@pytest.mark.parametrize("how", ["control", "shift", "key"])
def test_rows_of_the_hot_list_make_a_group(
    window: Window, settle: Callable[[], None], told: list[Picked], how: str
) -> None:
    hot = show_sheet(window, "Hot list", settle)
    click_row(hot, "R2")
    if how == "key":
        press(hot, K.Key_Down, SHIFT)
    else:
        click_row(hot, "R1", CONTROL if how == "control" else SHIFT)
    settle()
    wanted = Group(refs=("R2", "R1"))
    assert told == [Picked("part", "R2"), wanted]
    assert window.bridge.selection == wanted
    assert marked(window) == ["R1", "R2"]
    assert isinstance(window.card.page, GroupPage)
    assert window.ladder.scene.lit.picked == keys_of(wanted)
    assert rows_of(window.drawer.parts.grid) == {"R1", "R2"}


def test_a_row_is_left_out_again(window: Window, settle: Callable[[], None], picked: Any) -> None:
    hot = show_sheet(window, "Hot list", settle)
    click_row(hot, "R2")
    click_row(hot, "R1", CONTROL)
    click_row(hot, "R2", CONTROL)
    assert picked() == ("R1",)
    click_row(hot, "R1", CONTROL)
    assert window.bridge.selection == Picked()
    press(hot, K.Key_Home)
    press(hot, K.Key_Down, SHIFT)
    assert picked() == ("R2", "R1")
    press(hot, K.Key_Up, SHIFT)
    assert picked() == ("R2",)


def test_a_group_keeps_its_rows_as_the_order_changes(
    window: Window, m: rm.RailMap, settle: Callable[[], None], told: list[Picked]
) -> None:
    change = m.parts["R3"].changed(rated_watts=3.0)
    window.bridge.change_part("Change R3", change)
    settle()
    window.bridge.pick(picked_of(["R2", "R3"]))
    window.bridge.change_part("Change R2", m.parts["R2"].changed(rated_watts=30.0))
    settle()
    names = [row.ref for row in window.drawer.hot.rows.rows]
    assert names == ["R1", "R3", "R2"]
    assert rows_of(window.drawer.hot) == {"R2", "R3"}
    assert told == [Group(refs=("R2", "R3"))]


def test_keys_held_on_the_floor_mean_nothing_to_the_tables(
    window: Window, hand: Any, settle: Callable[[], None], picked: Any
) -> None:
    for ref, wanted in (("R1", {"R1"}), ("R2", {"R1", "R2"}), ("R1", {"R2"})):
        QTest.keyPress(window.view, K.Key_Control, CONTROL)
        QTest.mouseClick(window.view.viewport(), LEFT, CONTROL, hand.pixel(*hand.middle(ref)))
        QTest.keyRelease(window.view, K.Key_Control)
        settle()
        assert set(picked()) == rows_of(window.drawer.hot) == wanted


@pytest.mark.parametrize("how", ["key", "shift", "drag"])
def test_rows_of_the_parts_table_make_a_group(
    window: Window, settle: Callable[[], None], how: str
) -> None:
    grid = show_sheet(window, "Parts", settle)
    click_row(grid, "R1")
    if how == "key":
        press(grid, K.Key_Down, SHIFT, 2)
    elif how == "shift":
        click_row(grid, "R3", SHIFT)
    else:
        model = grid.model()
        rows = {model.index(r, 0).data(): r for r in range(model.rowCount())}
        grid.scrollToBottom()
        spots = [grid.visualRect(model.index(rows[r], 0)).center() for r in ("R1", "R2", "R3")]
        QTest.mousePress(grid.viewport(), LEFT, NONE, spots[0])
        for spot in spots:
            QTest.mouseMove(grid.viewport(), spot)
        QTest.mouseRelease(grid.viewport(), LEFT, NONE, spots[-1])
    settle()
    assert set(refs_of(window.bridge.selection)) == {"R1", "R2", "R3"}
    assert rows_of(window.drawer.hot) == {"R1", "R2"}
    assert marked(window) == ["R1", "R2", "R3"]
    press(grid, K.Key_Up)
    settle()
    assert len(refs_of(window.bridge.selection)) == 1


def test_a_key_in_the_parts_table_is_for_one_column_of_the_group(
    window: Window, m: rm.RailMap, settle: Callable[[], None]
) -> None:
    window.bridge.pick(picked_of(["R1", "R2"]))
    grid = show_sheet(window, "Parts", settle)
    assert {column for _, column in grid.chosen} == {grid.currentIndex().column()}
    assert rows_of(grid) == {"R1", "R2"}
    press(grid, K.Key_Delete, CONTROL)
    settle()
    assert list(m.parts) == ["V1", "R3", "L1"]
    window.bridge.undo()
    settle()
    assert set(m.parts) == {"V1", "R1", "R2", "R3", "L1"}


def test_a_table_that_is_worked_in_keeps_its_cells(
    window: Window, settle: Callable[[], None]
) -> None:
    grid = show_sheet(window, "Parts", settle)
    click_row(grid, "R1")
    settle()
    window.bridge.pick(picked_of(["R2", "R3"]))
    settle()
    assert rows_of(grid) == {"R1"}
    assert refs_of(window.bridge.selection) == ("R2", "R3")


@pytest.mark.parametrize("held", [CONTROL, SHIFT])
def test_clicks_in_the_ladder_make_a_group(
    window: Window, settle: Callable[[], None], told: list[Picked], held: Any
) -> None:
    click_fall(window, "R1")
    click_fall(window, "R3", held)
    settle()
    assert told == [Picked("part", "R1"), Group(refs=("R1", "R3"))]
    assert isinstance(window.card.page, GroupPage)
    assert rows_of(window.drawer.parts.grid) == {"R1", "R3"}
    assert marked(window) == ["R1", "R3"]
    click_fall(window, "R1", held)
    assert window.bridge.selection == Picked("part", "R3")
    # A rung is no part, and beside everything there is nothing to add.
    bar = next(b for b in window.ladder.scene.drawing().bars if b.key == ("rail", "RAW"))
    for at in (QPointF(bar.line.right - 2, bar.line.top), QPointF(window.ladder.width() - 3, 3)):
        QTest.mouseClick(window.ladder, LEFT, held, at.toPoint())
        assert window.bridge.selection == Picked("part", "R3")


def test_a_foot_of_several_loads_adds_all_of_them(
    window: Window, settle: Callable[[], None], picked: Any
) -> None:
    m = window.bridge.map.copy()
    m.add(rm.Load("L2", "B", "0V", ohms=1000, board="Side"))
    window.bridge.open_map(m, None)
    settle()
    click_fall(window, "R1")
    click_fall(window, "L1", CONTROL)
    assert picked() == ("R1", "L1", "L2")
    click_fall(window, "L2", CONTROL)
    assert picked() == ("R1",)


def test_keys_in_the_ladder_make_a_group(
    window: Window, settle: Callable[[], None], picked: Any
) -> None:
    ladder = window.ladder
    window.bridge.pick(Picked("rail", "A"))
    press(ladder, K.Key_Right)
    settle()
    assert picked() == ("R1",)
    seen = {"R1"}
    for _ in range(2):
        press(ladder, K.Key_Right, SHIFT)
        assert set(picked()) > seen
        seen = set(picked())
    assert seen == {"R1", "R2", "R3"}
    # At the end of the rung there is nothing more to add.
    press(ladder, K.Key_Right, SHIFT)
    assert set(picked()) == seen
    press(ladder, K.Key_Escape)
    assert window.bridge.selection == Picked()


def test_keys_in_the_ladder_follow_the_feed(
    window: Window, settle: Callable[[], None], picked: Any
) -> None:
    ladder = window.ladder
    window.bridge.pick(Picked("part", "R1"))
    press(ladder, K.Key_Down, SHIFT)
    assert picked() == ("R1", "R3")
    press(ladder, K.Key_Down, SHIFT)
    assert picked() == ("R1", "R3", "L1")
    press(ladder, K.Key_Down, SHIFT)
    assert picked() == ("R1", "R3", "L1")
    # Without Shift the keys go on from the last one.
    press(ladder, K.Key_Up)
    assert window.bridge.selection == Picked("rail", "B")
    window.bridge.pick(Picked("part", "R3"))
    press(ladder, K.Key_Up, SHIFT, 2)
    assert picked() == ("R3", "R1", "V1")
    press(ladder, K.Key_Up, SHIFT)
    assert picked() == ("R3", "R1", "V1")


def test_keys_of_the_ladder_with_nothing_to_start_from(window: Window) -> None:
    for key in (K.Key_Up, K.Key_Down, K.Key_Left, K.Key_Right):
        press(window.ladder, key, SHIFT)
    window.bridge.open_map(rm.RailMap(), None)
    for key in (K.Key_Up, K.Key_Down, K.Key_Left, K.Key_Right):
        press(window.ladder, key, SHIFT)
    assert window.bridge.selection == Picked()


def test_zooming_to_a_group_shows_all_of_it(window: Window, settle: Callable[[], None]) -> None:
    window.bridge.pick(picked_of(["R1", "R3"]))
    window.ladder.setFocus()
    settle()
    window.ladder.zoom_to_selection()
    sight = window.ladder.scene.sight
    assert all(sight.low <= volts <= sight.high for volts in (12.0, 6.0, 4.5))


def test_what_is_deleted_leaves_the_group_in_all_views(
    window: Window, m: rm.RailMap, settle: Callable[[], None], told: list[Picked]
) -> None:
    window.bridge.pick(picked_of(["R1", "R2", "R3"]))
    window.bridge.do("Delete R1", edits.remove_parts(m, ["R1"]))
    settle()
    assert window.bridge.selection == Group(refs=("R2", "R3"))
    assert window.ladder.scene.lit.picked == (("part", "R2"), ("part", "R3"))
    assert rows_of(window.drawer.parts.grid) == {"R2", "R3"}
    window.bridge.do("Delete R2", edits.remove_parts(m, ["R2"]))
    settle()
    assert window.bridge.selection == Picked("part", "R3")
    assert told[1:] == [Group(refs=("R2", "R3")), Picked("part", "R3")]
