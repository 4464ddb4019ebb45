"""The worksheets below the floor: hot list, rails and cautions."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QAbstractItemModel, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QTableView

import railmap as rm
from railmap.errors import NotYetError
from railmap.figures import POINT
from railmap.model.railmap import Change
from railmap.ui import bridge as bridge_module
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.theme import ink_on, stress_step
from railmap.ui.window import Window
from railmap.ui.worksheets.notes import STANDING, CautionList, cautions
from railmap.ui.worksheets.tables import HOT, RAILS, hot_sheet, rail_sheet

HORIZONTAL = Qt.Orientation.Horizontal


@pytest.fixture
def hot(bridge: Bridge) -> Any:
    sheet = hot_sheet(bridge, themes.light())
    bridge.solve_now()
    yield sheet
    sheet.close()


@pytest.fixture
def rails(bridge: Bridge) -> Any:
    sheet = rail_sheet(bridge, themes.light())
    bridge.solve_now()
    yield sheet
    sheet.close()


def titles(model: QAbstractItemModel) -> list[str]:
    return [model.headerData(i, HORIZONTAL) for i in range(model.columnCount())]


def texts(table: QTableView) -> list[dict[str, str]]:
    """The rows as a reader sees them, by the titles of the columns."""
    model = table.model()
    names = titles(model)
    return [
        {name: str(model.index(row, i).data()) for i, name in enumerate(names) if name}
        for row in range(model.rowCount())
    ]


def chosen(table: QTableView) -> str:
    rows = table.selectionModel().selectedRows()
    return str(rows[0].data()) if rows else ""


def click(table: QTableView, row: int, column: int = 0) -> None:
    box = table.visualRect(table.model().index(row, column))
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=box.center())


def test_the_hot_list_begins_with_the_most_loaded(hot: Any) -> None:
    rows = texts(hot)
    assert [row["Part"] for row in rows] == ["R2", "R1"]
    assert rows[0] == {
        "Part": "R2", "Kind": "Resistor", "Board": "Main", "Value": "200R", "Heat": "0.180 W",
        "Limited by": "power", "Carries": "0.180 W", "Allowed": "0.140 W", "Of rating": "129 %",
    }  # fmt: skip
    last = hot.model().index(0, len(HOT) - 1).data()
    assert last == "over its rating"
    assert hot.model().index(1, len(HOT) - 1).data() == ""


def test_the_rails_with_label_and_limit(rails: Any) -> None:
    rows = texts(rails)
    assert {row["Rail"] for row in rows} == {"+12", "+6"}
    row = next(row for row in rows if row["Rail"] == "+6")
    assert row == {
        "Rail": "+6", "Boards": "Main, Side", "Forecast": "+6.00 V", "Label": "+6.00 V",
        "From label": "+0.0 %", "Acceptable": "+5.4 … +6.6 V", "Limit": "9.00 V",
    }  # fmt: skip


def test_the_band_of_a_negative_rail_keeps_its_sign(
    rails: Any, bridge: Bridge, settle: Callable[[], None]
) -> None:
    changes = [
        Change("parts", None, rm.Source("V2", "0V", "NEG", volts=30)),
        Change("rails", None, rm.Rail("NEG", "-28", label_volts=-28)),
    ]
    assert bridge.do("Add", changes)
    settle()
    row = next(row for row in texts(rails) if row["Rail"] == "-28")
    assert (row["Forecast"], row["Acceptable"]) == ("−30.00 V", "−25.2 … −30.8 V")


def test_tables_follow_the_map(hot: Any, bridge: Bridge, settle: Callable[[], None]) -> None:
    part = rm.Resistor("R9", "RAW", "0V", ohms=144, rated_watts=2)
    bridge.do("Add R9", [Change("parts", None, part)])
    settle()
    assert [row["Part"] for row in texts(hot)] == ["R2", "R9", "R1"]
    bridge.undo()
    settle()
    assert [row["Part"] for row in texts(hot)] == ["R2", "R1"]


def test_tables_follow_mains_and_drift(
    hot: Any, rails: Any, bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.set_mains(253)
    bridge.set_drift("R1", 50.0)
    settle()
    # 13.2 V over 50 and 100 ohms.
    row = next(row for row in texts(rails) if row["Rail"] == "+6")
    assert row["Forecast"] == "+8.80 V"
    assert {row["Part"]: row["Value"] for row in texts(hot)} == {"R2": "200R", "R1": "50R"}


def test_without_a_solution_there_are_no_rows(
    hot: Any, rails: Any, bridge: Bridge, settle: Callable[[], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def refuse(*args: Any) -> None:
        raise NotYetError("not yet")

    monkeypatch.setattr(bridge_module, "solve_on", refuse)
    bridge.set_mains(240)
    settle()
    assert texts(hot) == []
    assert texts(rails) == []


def test_figures_stand_on_the_right(hot: Any) -> None:
    model = hot.model()
    for column, wanted in enumerate(HOT):
        for side in (
            model.index(0, column).data(Qt.ItemDataRole.TextAlignmentRole),
            model.headerData(column, HORIZONTAL, Qt.ItemDataRole.TextAlignmentRole),
        ):
            assert bool(side & Qt.AlignmentFlag.AlignRight) == wanted.figures


def test_the_marked_column_has_the_colour_of_the_stress(hot: Any) -> None:
    theme, model = themes.light(), hot.model()
    for row, ratio in ((0, 1.286), (1, 0.36)):
        ground = theme.stress[stress_step(ratio)]
        index = model.index(row, 1)
        assert index.data(Qt.ItemDataRole.BackgroundRole) == ground
        assert index.data(Qt.ItemDataRole.ForegroundRole) == ink_on(ground, theme)
        assert model.index(row, 0).data(Qt.ItemDataRole.BackgroundRole) is None


def test_the_limit_of_a_rail_has_the_colour_of_what_is_used(rails: Any) -> None:
    model, column = rails.model(), titles(rails.model()).index("Limit")
    rows = {row["Rail"]: number for number, row in enumerate(texts(rails))}
    found = model.index(rows["+6"], column).data(Qt.ItemDataRole.BackgroundRole)
    assert found == themes.light().stress[stress_step(6 / 9)]
    assert model.index(rows["+12"], column).data(Qt.ItemDataRole.BackgroundRole) is None


def test_over_the_limit_stands_in_words(
    rails: Any, bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.set_mains(230 * 1.6)
    settle()
    words = {str(rails.model().index(row, len(RAILS) - 1).data()) for row in range(2)}
    assert words == {"", "over its limit"}


def test_columns_have_room_for_what_they_say(window: Window, settle: Callable[[], None]) -> None:
    window.drawer.setCurrentWidget(window.drawer.rails)
    # What is in order now is outside its band a moment later, which is a longer word.
    for volts in (230, 345, 230, 100):
        window.bridge.set_mains(volts)
        settle()
        for table in (window.drawer.rails, window.drawer.hot):
            for column in range(table.model().columnCount() - 1):
                assert table.columnWidth(column) >= table.sizeHintForColumn(column)


def test_a_row_selects_its_part(window: Window, settle: Callable[[], None]) -> None:
    click(window.drawer.hot, 1)
    assert window.bridge.selection == Picked("part", "R1")
    QTest.keyClick(window.drawer.hot, Qt.Key.Key_Up)
    assert window.bridge.selection == Picked("part", "R2")
    window.drawer.setCurrentWidget(window.drawer.rails)
    settle()
    click(window.drawer.rails, 0)
    assert window.bridge.selection == Picked("rail", window.drawer.rails.rows.rows[0].node)


def test_the_tables_follow_the_selection(window: Window) -> None:
    window.bridge.pick(Picked("part", "R1"))
    assert chosen(window.drawer.hot) == "R1"
    window.bridge.pick(Picked("rail", "A"))
    assert chosen(window.drawer.hot) == ""
    assert chosen(window.drawer.rails) == "+6"
    assert window.bridge.selection == Picked("rail", "A")
    window.bridge.pick(Picked("part", "V1"))
    assert chosen(window.drawer.rails) == ""


def test_the_selected_part_stays_selected_as_the_order_changes(
    window: Window, settle: Callable[[], None]
) -> None:
    window.bridge.pick(Picked("part", "R2"))
    window.bridge.change_part("Change R2", window.bridge.map.parts["R2"].changed(rated_watts=5.0))
    settle()
    assert [row["Part"] for row in texts(window.drawer.hot)] == ["R1", "R2"]
    assert chosen(window.drawer.hot) == "R2"
    assert window.bridge.selection == Picked("part", "R2")


def sentences(m: rm.RailMap, **more: Any) -> list[str]:
    return [text for text, _ in cautions(m, rm.solve(m, **more), POINT)]


def test_cautions_name_what_is_over_its_limit(divider: rm.RailMap) -> None:
    found = cautions(divider, rm.solve(divider, mains_volts=230 * 1.6), POINT)
    assert found == [
        ("Rail +6 would be at +9.60 V, above its limit of 9.00 V.", Picked("rail", "A")),
        (
            "R2 would be at 329 % of its power: 0.461 W, where 0.140 W is allowed.",
            Picked("part", "R2"),
        ),
    ]


def test_cautions_tell_what_the_circuit_says(divider: rm.RailMap) -> None:
    divider.add(rm.Resistor("R9", "B", "NOWHERE", ohms=10))
    found = cautions(divider, rm.solve(divider), POINT)
    assert found[0] == (
        "R9: NOWHERE leads nowhere, no other part is on it.", Picked("part", "R9")
    )  # fmt: skip


def test_no_caution_permits(divider: rm.RailMap) -> None:
    texts_now = [*sentences(divider, mains_volts=400), *STANDING]
    assert len(texts_now) > len(STANDING)
    assert not any(word in text.lower() for text in texts_now for word in (" safe", "may touch"))
    assert any("not a permission" in text for text in texts_now)
    assert any("local codes" in text for text in texts_now)


def test_the_list_of_cautions(window: Window, settle: Callable[[], None]) -> None:
    listed: CautionList = window.drawer.cautions
    assert listed.count_now == 1
    rows = [listed.item(i).text() for i in range(listed.count())]
    assert rows[0].startswith("R2 would be at 129 %")
    assert rows[1:] == list(STANDING)
    assert window.drawer.tabText(window.drawer.indexOf(listed)) == "Cautions (1)"
    assert window.status.cautions.text() == "1 caution"
    window.bridge.set_mains(150)
    settle()
    assert window.drawer.tabText(window.drawer.indexOf(listed)) == "Cautions"
    assert window.status.cautions.text() == "0 cautions"


def test_a_caution_selects_what_it_is_about(window: Window, settle: Callable[[], None]) -> None:
    window.commands["sheet Cautions"].trigger()
    settle()
    listed = window.drawer.cautions
    assert window.drawer.currentWidget() is listed
    box = listed.visualItemRect(listed.item(0))
    QTest.mouseClick(listed.viewport(), Qt.MouseButton.LeftButton, pos=box.center())
    assert window.bridge.selection == Picked("part", "R2")
    box = listed.visualItemRect(listed.item(listed.count() - 1))
    QTest.mouseClick(listed.viewport(), Qt.MouseButton.LeftButton, pos=box.center())
    assert window.bridge.selection == Picked("part", "R2")


def test_what_always_holds_can_be_read_in_both_themes(
    window: Window, settle: Callable[[], None]
) -> None:
    for theme in (themes.dark(), themes.light()):
        window.set_theme(theme)
        settle()
        ink = window.drawer.cautions.item(window.drawer.cautions.count() - 1).foreground().color()
        assert ink == theme.soft_ink


def test_the_hot_list_is_painted_in_its_colours(
    window: Window, rgb: Callable[..., np.ndarray]
) -> None:
    box = window.drawer.hot.visualRect(window.drawer.hot.model().index(0, 1))
    image = window.drawer.hot.viewport().grab(box).toImage()
    colour = image.pixelColor(3, 3)
    assert rgb(colour) == pytest.approx(rgb(window.theme.tile_colour(1.286)), abs=4)
