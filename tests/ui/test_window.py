"""The window as a whole: bars, status, themes, setups, dropped files, closing, what is kept."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, QStandardPaths, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent, QImage, QPalette
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QMenu, QTableView, QToolBar, QWidget

import railmap as rm
from railmap.errors import NotYetError
from railmap.model.railmap import Change
from railmap.ui import bridge as bridge_module
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.settings import Settings
from railmap.ui.window import ALL_PLUGGED, Window

LEFT = Qt.MouseButton.LeftButton


def edit(window: Window) -> None:
    window.bridge.change_part("Change R1", window.bridge.map.parts["R1"].changed(notes="seen"))


def all_actions(menu: QMenu | Any) -> set[Any]:
    found = set()
    for action in menu.actions():
        found |= all_actions(action.menu()) if action.menu() else {action}
    return found


# Status


def test_the_status_tells_power_and_the_hottest(window: Window) -> None:
    assert window.status.power.text().startswith("power in 0.720 W = out 0.720 W")
    assert window.status.hottest.text() == "hottest R2 129 %"
    assert window.status.cautions.text() == "1 caution"


def test_the_hottest_is_a_click_away(window: Window, settle: Callable[[], None]) -> None:
    window.drawer.setCurrentWidget(window.drawer.cautions)
    QTest.mouseClick(window.status.hottest, LEFT)
    assert window.bridge.selection == Picked("part", "R2")
    assert window.drawer.currentWidget() is window.drawer.hot


def test_the_cautions_are_a_click_away(window: Window, settle: Callable[[], None]) -> None:
    QTest.mouseClick(window.status.cautions, LEFT)
    assert window.drawer.currentWidget() is window.drawer.cautions


def test_a_map_without_parts_has_no_hottest(window: Window, settle: Callable[[], None]) -> None:
    window.desk.new()
    settle()
    assert not window.status.hottest.isVisible()
    window.commands["hottest"].trigger()
    assert window.bridge.selection == Picked()


def test_a_contradiction_shows_no_figures(window: Window, settle: Callable[[], None]) -> None:
    window.bridge.do("Add V9", [Change("parts", None, rm.Source("V9", "RAW", "0V", volts=9))])
    settle()
    assert window.status.power.text().startswith("no figures: contradiction")
    assert "form a loop without resistance" in window.drawer.cautions.item(0).text()
    assert not window.message.isVisible()
    assert not window.grab().isNull()


def test_what_is_not_solved_yet_shows_no_figures(
    window: Window, settle: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any) -> None:
        raise NotYetError("T1: this version does not solve that yet")

    monkeypatch.setattr(bridge_module, "solve_on", refuse)
    window.bridge.set_mains(240)
    settle()
    assert window.status.power.text().strip() == "no figures: not solved"
    assert not window.status.hottest.isVisible()
    assert window.status.cautions.text() == "0 cautions"
    assert window.message.text.text() == "T1: this version does not solve that yet."


def test_a_message_is_said_where_it_can_be_read(window: Window, settle: Any) -> None:
    height = window.view.height()
    window.bridge.trouble.emit("R1: there is a reason.")
    settle()
    assert window.message.isVisible()
    assert window.message.text.text() == "R1: there is a reason."
    assert window.message.text.accessibleName() == "R1: there is a reason."
    assert window.view.height() < height
    assert window.message.text.palette().color(QPalette.ColorRole.WindowText) == window.theme.warn


# Commands


def test_every_command_is_in_a_menu_and_says_what_it_does(window: Window) -> None:
    listed = all_actions(window.menuBar())
    for name, action in window.commands.actions.items():
        assert action in listed, name
        assert action.text().strip("&"), name
        assert action.toolTip(), name


def test_no_key_is_given_twice(window: Window) -> None:
    keys = [
        key.toString() for action in window.commands.actions.values() for key in action.shortcuts()
    ]
    assert len(keys) == len(set(keys)) >= 20


def test_every_button_of_the_bar_has_an_icon(window: Window) -> None:
    bar = window.findChild(QToolBar, "tools")
    shown = [action for action in bar.actions() if action.text() and not action.isSeparator()]
    assert len(shown) >= 12
    for action in shown:
        assert not action.icon().isNull(), action.text()


def test_what_can_be_undone_is_named(window: Window) -> None:
    undo, redo = window.commands["undo"], window.commands["redo"]
    assert (undo.isEnabled(), redo.isEnabled()) == (False, False)
    edit(window)
    assert (undo.text(), undo.isEnabled()) == ("&Undo: Change R1", True)
    assert window.isWindowModified()
    undo.trigger()
    assert (redo.text(), redo.isEnabled()) == ("&Redo: Change R1", True)
    assert not window.isWindowModified()
    redo.trigger()
    assert window.bridge.map.parts["R1"].notes == "seen"


def test_boards_are_added_beside_each_other(window: Window) -> None:
    for _ in range(2):
        window.commands["add_board"].trigger()
    boards = window.bridge.map.boards
    assert list(boards) == ["Main", "Side", "Board 3", "Board 4"]
    assert boards["Board 3"].x_mm >= 320
    assert boards["Board 4"].x_mm >= boards["Board 3"].x_mm + boards["Board 3"].width_mm
    assert window.bridge.selection == Picked("board", "Board 4")


def test_zoom_by_command(window: Window) -> None:
    scale = window.view.transform().m11()
    window.commands["zoom_in"].trigger()
    assert window.view.transform().m11() == pytest.approx(scale * 1.2)
    window.commands["zoom_out"].trigger()
    assert window.view.transform().m11() == pytest.approx(scale)


def test_a_kind_that_is_not_in_the_bar_is_placed_by_key(hand: Any, window: Window) -> None:
    key = window.commands["place Capacitor"].shortcut()[0]
    hand.key(key.key(), key.keyboardModifiers())
    assert window.commands["place Capacitor"].isChecked()
    hand.click(40, 80)
    assert window.bridge.map.parts["C1"].board == "Main"


@pytest.mark.parametrize("kind", [kind.__name__ for kind in rm.model.kinds.KINDS])
def test_every_kind_can_be_placed_and_looked_at(
    window: Window, settle: Callable[[], None], kind: str
) -> None:
    before = set(window.bridge.map.parts)
    window.view.place_part(kind, QPointF(40, 80))
    settle()
    (ref,) = set(window.bridge.map.parts) - before
    assert window.bridge.map.parts[ref].kind == kind
    assert window.bridge.selection == Picked("part", ref)
    assert window.card.page.heading.text().startswith(ref)
    window.commands["undo"].trigger()
    settle()
    assert set(window.bridge.map.parts) == before


# Themes


def brightness(image: QImage) -> float:
    small = image.scaled(40, 25)
    return float(np.mean([
        small.pixelColor(x, y).lightness() for x in range(40) for y in range(25)
    ]))  # fmt: skip


def test_the_other_theme_keeps_everything(
    hand: Any, window: Window, settings: Settings, settle: Callable[[], None]
) -> None:
    window.bridge.set_drift("R1", 200.0)
    window.bridge.set_mains(240)
    window.bridge.pick(Picked("part", "R1"))
    window.view.zoom(1.4)
    settle()

    def everything() -> tuple[Any, ...]:
        bridge, view = window.bridge, window.view
        corner = view.mapToScene(0, 0)
        return (
            bridge.map.document(), dict(bridge.drift), bridge.mains_volts, bridge.selection,
            bridge.history.clean, view.transform().m11(), (corner.x(), corner.y()),
            window.card.page.heading.text(), window.card.page.drift.slider.value(),
            window.card.page.figures.accessibleName(), window.status.power.text(),
            {ref: item.face for ref, item in view.floor.parts.items()},
        )  # fmt: skip

    before = everything()
    assert brightness(window.grab().toImage()) > 170
    window.commands["theme"].trigger()
    settle()
    assert window.theme.dark
    assert everything() == before
    assert brightness(window.grab().toImage()) < 100
    window.commands["theme"].trigger()
    settle()
    assert everything() == before
    assert brightness(window.grab().toImage()) > 170


def test_the_theme_is_kept(window: Window, settings: Settings, make_window: Any) -> None:
    assert settings.dark is False
    window.commands["theme"].trigger()
    assert settings.dark is True
    assert make_window().theme.dark


def test_without_a_choice_the_theme_follows_the_desktop(
    make_window: Any, settings: Settings, tmp_path: Path
) -> None:
    plain = Settings(tmp_path / "plain.ini")
    assert plain.dark is None
    window = Window(plain)
    dark = QApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark
    assert window.theme.dark == dark
    window.deleteLater()


def test_icons_change_with_the_theme(window: Window) -> None:
    def ink(name: str) -> int:
        image = window.commands[name].icon().pixmap(20, 20).toImage()
        seen = [image.pixelColor(x, y) for x in range(image.width()) for y in range(image.height())]
        return max(seen, key=lambda colour: colour.alpha()).lightness()

    assert ink("fit") < 100
    window.set_theme(themes.dark())
    assert ink("fit") > 150
    assert window.commands["undo"].icon().pixmap(20, 20).toImage() is not None


# Setups


def test_a_setup_is_chosen(window: Window, settle: Callable[[], None]) -> None:
    box = window.setup_box
    assert [box.itemText(i) for i in range(box.count())] == [ALL_PLUGGED, "side out", "high"]
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Down)
    settle()
    assert window.bridge.setup_name == "side out"
    assert window.view.floor.parts["R3"].face.out
    QTest.keyClick(box, Qt.Key.Key_Down)
    settle()
    assert window.mains.volts.value() == 253
    QTest.keyClick(box, Qt.Key.Key_Home)
    settle()
    assert window.bridge.setup_name == ""
    assert not window.view.floor.parts["R3"].face.out


def test_setups_follow_the_map(window: Window, settle: Callable[[], None]) -> None:
    window.bridge.set_setup("side out")
    window.bridge.do("Keep a setup", [Change("setups", None, rm.Setup(name="bare"))])
    settle()
    box = window.setup_box
    assert box.currentText() == "side out"
    assert [box.itemText(i) for i in range(1, box.count())] == ["side out", "high", "bare"]
    window.bridge.do("Forget it", [Change("setups", "side out", None)])
    settle()
    assert box.currentText() == ALL_PLUGGED


# Files that are dropped


def drop(target: QWidget, *paths: Path) -> bool:
    """Drop files on a widget; return whether they were taken."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    at = target.rect().center()
    words = Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(at, *words)
    enter.ignore()
    QApplication.sendEvent(target, enter)
    if not enter.isAccepted():
        return False
    move = QDragMoveEvent(at, *words)
    QApplication.sendEvent(target, move)
    event = QDropEvent(QPointF(at), *words)
    event.ignore()
    QApplication.sendEvent(target, event)
    return event.isAccepted()


@pytest.mark.parametrize("where", ["floor", "window", "hot list"])
def test_a_file_is_dropped(
    window: Window, tmp_path: Path, divider: rm.RailMap, settle: Callable[[], None], where: str
) -> None:
    path = tmp_path / "dropped.railmap"
    rm.save(divider, path)
    targets = {
        "floor": window.view.viewport(), "window": window, "hot list": window.drawer.hot.viewport()
    }  # fmt: skip
    assert drop(targets[where], path)
    settle()
    assert window.bridge.path == path


def test_what_is_no_file_is_not_taken(window: Window) -> None:
    data = QMimeData()
    data.setText("R1")
    event = QDragEnterEvent(
        QPoint(5, 5), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier
    )
    event.ignore()
    QApplication.sendEvent(window, event)
    assert not event.isAccepted()


def test_a_bad_file_that_is_dropped_is_one_sentence(
    window: Window, tmp_path: Path, divider: rm.RailMap
) -> None:
    path = tmp_path / "bad.railmap"
    path.write_text("{}")
    drop(window, path)
    assert window.message.isVisible()
    assert window.bridge.map is divider


# Closing, and what is kept


@pytest.mark.parametrize(("button", "closed"), [("Cancel", False), ("Discard", True)])
def test_closing_asks_about_unsaved_work(
    window: Window, answer: Callable[[str], list[str]], button: str, closed: bool
) -> None:
    edit(window)
    asked = answer(button)
    window.close()
    assert asked == ["Divider has changes that are not saved."]
    assert window.isVisible() != closed
    assert window.bridge.map.parts["R1"].notes == "seen"


def test_closing_without_edits_asks_nothing(
    window: Window, answer: Callable[[str], list[str]]
) -> None:
    asked = answer("Cancel")
    window.commands["close"].trigger()
    assert asked == []
    assert not window.isVisible()


def test_the_shape_of_the_window_is_kept(
    make_window: Any, settings: Settings, settle: Callable[[], None], tmp_path: Path
) -> None:
    first = make_window()
    first.resize(770, 570)
    sides = [first.ladder_dock, first.card_dock]
    first.resizeDocks(sides, [200, 360], Qt.Orientation.Horizontal)
    settle()
    width = first.card_dock.width()
    first.close()
    again = Window(Settings(tmp_path / "window.ini"))
    again.show()
    settle()
    assert (again.width(), again.height()) == (770, 570)
    assert again.card_dock.width() == pytest.approx(width, abs=12)
    assert width > 345
    again.close()
    again.deleteLater()


def test_settings_go_to_the_file_they_were_given(
    window: Window, tmp_path: Path, divider: rm.RailMap
) -> None:
    path = tmp_path / "a.railmap"
    rm.save(divider, path)
    window.open_path(path)
    window.close()
    window.settings._store.sync()
    text = (tmp_path / "window.ini").read_text()
    assert "geometry=" in text
    assert "a.railmap" in text


def test_the_users_own_settings_have_a_place_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def place(location: Any) -> str:
        asked.append(location)
        return str(tmp_path)

    monkeypatch.setattr(QStandardPaths, "writableLocation", place)
    settings = Settings()
    settings.dark = True
    settings._store.sync()
    assert asked == [QStandardPaths.StandardLocation.GenericConfigLocation]
    assert (tmp_path / "railmap" / "window.ini").read_text().startswith("[General]")


def test_damaged_settings_do_no_harm(tmp_path: Path, settle: Callable[[], None]) -> None:
    path = tmp_path / "window.ini"
    path.write_text('[General]\ndark=perhaps\ngeometry="nonsense"\nrecent=7, @Invalid()\n')
    window = Window(Settings(path))
    window.show()
    settle()
    assert not window.theme.dark
    assert window.settings.recent == []
    window.close()
    window.deleteLater()


# For a screen reader


def test_what_can_be_used_has_a_name(window: Window, settle: Callable[[], None]) -> None:
    window.bridge.pick(Picked("part", "R1"))
    settle()
    named = [
        window.view, window.ladder, window.card, window.drawer,
        *(window.drawer.widget(i) for i in range(window.drawer.count())),
        window.mains.slider, window.mains.volts, window.setup_box, window.colour_box,
        window.finder.line,
    ]  # fmt: skip
    assert all(widget.accessibleName() for widget in named)
    assert len({widget.accessibleName() for widget in named}) == len(named)
    assert isinstance(window.drawer.hot, QTableView)
    assert window.findChildren(QLineEdit)
