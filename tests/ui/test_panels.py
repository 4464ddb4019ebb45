"""Ladder, card and worksheets as panels of one window: keys, focus, what is kept, the status."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QByteArray, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolBar, QToolButton

import railmap as rm
from railmap.figures import POINT
from railmap.model.railmap import Change
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.drawer import SHEETS
from railmap.ui.settings import Settings
from railmap.ui.shape import Shape, unpack
from railmap.ui.status import balance_text
from railmap.ui.window import Window


@pytest.fixture
def winding(divider: rm.RailMap) -> rm.RailMap:
    """A map that a winding feeds, with one rectifier."""
    m = rm.RailMap("Winding", mains_volts=230)
    m.add(rm.Winding("T1", "AC", "0V", volts_rms=18, ohms=1))
    m.add(rm.Diode("D1", "AC", "RAW"))
    m.add(rm.Capacitor("C1", "RAW", "0V", farads=1e-3))
    m.add(rm.Load("L1", "RAW", "0V", amps=0.1))
    m.add_rail("RAW", "raw")
    return m


def press(window: Window, name: str) -> None:
    """Press the key of a command."""
    (key,) = window.commands[name].shortcuts()
    combination = key[0]
    QTest.keyClick(
        QApplication.focusWidget() or window, combination.key(), combination.keyboardModifiers()
    )


# Going from panel to panel


def test_every_panel_is_reached_by_a_key(window: Window, settle: Callable[[], None]) -> None:
    window.activateWindow()
    settle()
    press(window, "go_ladder")
    assert window.ladder.hasFocus()
    press(window, "go_floor")
    assert window.view.hasFocus()
    press(window, "go_card")
    focus = QApplication.focusWidget()
    assert focus is not None
    assert window.card.isAncestorOf(focus)
    for title in SHEETS:
        press(window, f"sheet {title}")
        focus = QApplication.focusWidget()
        assert window.drawer.tabText(window.drawer.currentIndex()).startswith(title)
        assert focus is not None
        assert window.drawer.isAncestorOf(focus), title


def test_the_ladder_is_put_away_and_comes_back(window: Window, settle: Callable[[], None]) -> None:
    window.activateWindow()
    settle()
    command = window.commands["ladder"]
    assert command.isChecked()
    press(window, "ladder")
    assert (window.ladder.isVisible(), command.isChecked()) == (False, False)
    press(window, "go_ladder")
    assert (window.ladder.isVisible(), command.isChecked()) == (True, True)
    assert window.ladder.hasFocus()


def test_zoom_goes_to_the_picture_that_has_the_keyboard(
    window: Window, settle: Callable[[], None]
) -> None:
    window.activateWindow()
    settle()
    scale, sight = window.view.transform().m11(), window.ladder.scene.sight
    press(window, "go_ladder")
    window.commands["zoom_in"].trigger()
    assert window.ladder.scene.sight != sight
    assert window.view.transform().m11() == scale
    window.bridge.pick(Picked("rail", "A"))
    window.commands["zoom_to"].trigger()
    near = window.ladder.scene.sight
    assert near.low < 6 < near.high
    window.commands["fit"].trigger()
    assert window.ladder.scene.is_whole
    press(window, "go_floor")
    window.commands["zoom_in"].trigger()
    assert window.view.transform().m11() > scale
    assert window.ladder.scene.is_whole


def test_one_selection_in_ladder_floor_and_parts(
    window: Window, settle: Callable[[], None]
) -> None:
    window.drawer.show_sheet("Parts")
    fall = next(f for f in window.ladder.scene.drawing().falls if ("part", "R3") in f.keys)
    middle = (fall.tile.left + fall.tile.right) / 2, (fall.tile.top + fall.tile.bottom) / 2
    at = window.ladder.rect().topLeft() + type(window.ladder.rect().topLeft())(*map(int, middle))
    QTest.mouseClick(window.ladder, Qt.MouseButton.LeftButton, pos=at)
    settle()
    assert window.bridge.selection == Picked("part", "R3")
    place, _ = window.drawer.parts.grid.here
    assert window.drawer.parts.grid.table.lines[place].row.ref == "R3"
    assert window.card.page.about == Picked("part", "R3")


def test_a_value_typed_in_the_parts_table_moves_the_ladder(
    window: Window, settle: Callable[[], None]
) -> None:
    grid = window.drawer.parts.grid
    window.activateWindow()
    press(window, "sheet Parts")
    window.bridge.pick(Picked("part", "R1"))
    settle()
    place = grid.table.row_of("parts", "R1")
    assert place is not None
    grid.setCurrentIndex(grid.table.index(place, 2))
    QTest.keyClicks(grid, "2")
    editor = QApplication.focusWidget()
    QTest.keyClicks(editor, "00R")
    QTest.keyClick(editor, Qt.Key.Key_Return)
    settle()
    assert window.bridge.map.parts["R1"].now() == 200
    # 12 V over 200 ohms and twice 200 ohms side by side.
    assert window.ladder.scene.figures.of("A") == pytest.approx(4)
    assert "Divider" in window.windowTitle()
    assert window.isWindowModified()


def test_delete_in_the_parts_table_empties_a_cell_and_takes_out_no_part(
    window: Window, settle: Callable[[], None]
) -> None:
    window.activateWindow()
    window.bridge.pick(Picked("part", "R1"))
    press(window, "sheet Parts")
    press(window, "delete")
    settle()
    assert "R1" in window.bridge.map.parts


def test_both_themes_reach_every_panel(window: Window, settle: Callable[[], None]) -> None:
    window.set_theme(themes.dark())
    settle()
    assert window.ladder.theme.dark
    assert window.drawer.parts.grid.table.theme.dark
    for title in SHEETS:
        window.drawer.show_sheet(title)
        settle()
        small = window.grab().toImage().scaled(40, 25)
        assert sum(small.pixelColor(x, 12).lightness() for x in range(40)) / 40 < 110


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080)])
def test_nothing_of_the_bar_is_cut(
    window: Window, settle: Callable[[], None], size: tuple[int, int]
) -> None:
    window.resize(*size)
    for path in example_paths():
        window.open_path(path)
        settle()
        bar = window.findChild(QToolBar, "tools")
        more = bar.findChild(QToolButton, "qt_toolbar_ext_button")
        assert more is None or not more.isVisible(), path.stem
        for box in (window.setup_box, window.colour_box):
            assert box.width() >= box.sizeHint().width(), path.stem


# What is kept


def test_the_layout_is_kept(make_window: Any, settings: Settings, settle: Any) -> None:
    first = make_window()
    first.resizeDocks([first.ladder_dock], [390], Qt.Orientation.Horizontal)
    first.resizeDocks([first.drawer_dock], [260], Qt.Orientation.Vertical)
    first.drawer.show_sheet("Ripple")
    settle()
    width, height = first.ladder_dock.width(), first.drawer_dock.height()
    first.close()
    again = make_window()
    assert again.drawer.title == "Ripple"
    assert again.ladder_dock.width() == pytest.approx(width, abs=3)
    assert again.drawer_dock.height() == pytest.approx(height, abs=3)
    again.commands["ladder"].trigger()
    again.close()
    last = make_window()
    assert not last.ladder.isVisible()
    assert not last.commands["ladder"].isChecked()


def test_a_layout_of_another_version_gives_the_first_one(
    make_window: Any, settings: Settings
) -> None:
    settings.keep_shape(QByteArray(b"x"), QByteArray(b"nonsense"))
    window = make_window()
    assert window.drawer.title == SHEETS[0]
    assert window.ladder.isVisible()


@pytest.mark.parametrize(
    "data", [b"", b"[]", b"[1]", b'[2, "", "Parts"]', b'[1, "%", 3]', b'{"a": 1}', b"\xff", b"1"]
)
def test_bytes_that_say_nothing(data: bytes) -> None:
    assert unpack(QByteArray(data)) is None


def test_a_shape_comes_back_as_it_was() -> None:
    shape = Shape(QByteArray(bytes(range(256))), "Ripple")
    assert unpack(shape.pack()) == shape


# Status and ripple


def test_what_does_not_balance_is_not_called_equal(divider: rm.RailMap) -> None:
    solution = rm.solve(divider)
    assert balance_text(solution, POINT) == "power in 0.720 W = out 0.720 W"

    class Leaky:
        has_figures, power_in, power_out = True, 2.0, 1.5

    leaky: Any = Leaky()
    assert balance_text(leaky, POINT) == "power in 2.00 W ≠ out 1.50 W"


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
def test_every_example_balances(path: Path) -> None:
    solution = rm.solve(rm.load(path))
    assert " = out " in balance_text(solution, POINT)


def test_a_contradiction_with_windings_is_a_finding(
    window: Window, winding: rm.RailMap, settle: Callable[[], None]
) -> None:
    window.bridge.open_map(winding, None)
    window.drawer.show_sheet("Ripple")
    settle()
    assert window.bridge.turning is not None
    assert "peak to peak" in window.drawer.ripple.figures.text()
    for ref in ("V8", "V9"):
        source = rm.Source(ref, "RAW", "0V", volts=9 if ref == "V8" else 8)
        window.bridge.do(f"Add {ref}", [Change("parts", None, source)])
    settle()
    assert window.bridge.solution is not None
    assert window.bridge.solution.status == "contradiction"
    assert window.bridge.turning is None
    assert window.status.power.text().startswith("no figures: contradiction")
    assert "form a loop" in window.drawer.ripple.figures.text()
    assert window.drawer.count_cautions() == 1
    assert not window.message.isVisible()
    window.commands["undo"].trigger()
    settle()
    assert window.bridge.solution.status == "solved"


def test_the_caution_tab_tells_how_many(window: Window) -> None:
    at = window.drawer.indexOf(window.drawer.cautions)
    assert window.drawer.tabText(at) == "Cautions (1)"
    assert [window.drawer.tabText(i) for i in range(at)] == list(SHEETS[:-1])
