"""The first page, and what the program puts around its window."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

import railmap as rm
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui import welcome as welcome_module
from railmap.ui.habits import Habits
from railmap.ui.settings import Settings
from railmap.ui.welcome import CAUTION, MOST_RECENT, Welcome
from railmap.ui.window import Window

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def first(habits: Habits, settle: Callable[[], None]) -> Welcome:
    habits.begin(None)
    settle()
    return habits.welcome


def button(first: Welcome, text: str) -> Any:
    return next(b for b in first.buttons if b.text().replace("&", "") == text)


def names(first: Welcome) -> list[str]:
    return [b.text() for b in first.buttons if b in first._paths]


def test_it_is_shown_without_a_file(first: Welcome, window: Window) -> None:
    assert first.isVisible()
    assert first.size() == window.view.size()
    assert window.bridge.path is None
    assert list(window.bridge.map.boards) == ["Board 1"]
    assert button(first, "New map").hasFocus()
    assert any(CAUTION in label.text() for label in first.findChildren(welcome_module.QLabel))


def test_with_a_file_the_file_is_shown(
    habits: Habits, window: Window, tmp_path: Path, divider: rm.RailMap, settle: Any
) -> None:
    rm.save(divider, tmp_path / "a.railmap")
    habits.begin(tmp_path / "a.railmap")
    settle()
    assert not habits.welcome.isVisible()
    assert window.bridge.map == divider


def test_every_example_is_there_and_opens(
    first: Welcome, window: Window, settle: Callable[[], None]
) -> None:
    paths = example_paths()
    assert names(first) == [path.stem.replace("_", " ").capitalize() for path in paths]
    for path, name in zip(paths, names(first), strict=True):
        first.open_up()
        choice = button(first, name)
        m = rm.load(path)
        assert f"{len(m.parts)} parts" in choice.description()
        assert choice.accessibleName() == f"Open {name}"
        QTest.mouseClick(choice, LEFT)
        settle()
        assert window.bridge.path == path
        assert not first.isVisible()


def test_recent_files_are_there(
    habits: Habits, settings: Settings, tmp_path: Path, settle: Any, divider: rm.RailMap,
    window: Window,
) -> None:  # fmt: skip
    for number in range(MOST_RECENT + 2):
        path = tmp_path / f"set_{number}.railmap"
        rm.save(divider, path)
        settings.add_recent(path)
    settings.add_recent(example_paths()[0])
    habits.begin(None)
    settle()
    recent = names(habits.welcome)[len(example_paths()) :]
    assert recent == [f"Set {number}" for number in (6, 5, 4, 3, 2)]
    QTest.mouseClick(button(habits.welcome, "Set 5"), LEFT)
    assert window.bridge.path == tmp_path / "set_5.railmap"


def test_it_works_by_keyboard(first: Welcome, window: Window, settle: Any) -> None:
    window.activateWindow()
    settle()
    for _ in range(4):
        QTest.keyClick(window.focusWidget(), Qt.Key.Key_Tab)
    focus = window.focusWidget()
    assert focus.text() == names(first)[0]
    QTest.keyClick(focus, Qt.Key.Key_Space)
    settle()
    assert window.bridge.path == example_paths()[0]


def test_a_new_map_a_file_and_help(
    first: Welcome, habits: Habits, window: Window, monkeypatch: pytest.MonkeyPatch, settle: Any
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(
        QFileDialog, "getOpenFileName", lambda *words: asked.append(words[1]) or ("", "")
    )
    QTest.mouseClick(button(first, "Open a file…"), LEFT)
    assert asked == ["Open a map"]
    assert first.isVisible()
    QTest.mouseClick(button(first, "Five minutes of help"), LEFT)
    assert habits.help.isVisible()
    assert habits.help.name == "start"
    habits.help.close()
    QTest.mouseClick(button(first, "New map"), LEFT)
    settle()
    assert not first.isVisible()
    assert window.focusWidget() is window.view


@pytest.mark.parametrize("way", ["button", "key"])
def test_it_can_be_put_away(
    habits: Habits, window: Window, divider: rm.RailMap, settle: Any, way: str
) -> None:
    habits.actions["first_page"].trigger()
    settle()
    first = habits.welcome
    assert first.isVisible()
    if way == "button":
        QTest.mouseClick(button(first, "Back to the map"), LEFT)
    else:
        window.activateWindow()
        settle()
        QTest.keyClick(first.buttons[0], Qt.Key.Key_Escape)
    assert not first.isVisible()
    assert window.bridge.map is divider


def test_it_covers_the_floor_whatever_its_size(
    first: Welcome, window: Window, settle: Callable[[], None]
) -> None:
    window.resize(1000, 700)
    settle()
    assert first.size() == window.view.size()


def test_a_file_can_be_dropped_on_it(
    first: Welcome, window: Window, tmp_path: Path, divider: rm.RailMap, settle: Any
) -> None:
    path = tmp_path / "dropped.railmap"
    rm.save(divider, path)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    target = first.viewport()
    at = target.rect().center()
    words = Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(at, *words)
    enter.ignore()
    QApplication.sendEvent(target, enter)
    assert enter.isAccepted()
    QApplication.sendEvent(target, QDragMoveEvent(at, *words))
    QApplication.sendEvent(target, QDropEvent(QPointF(at), *words))
    settle()
    assert window.bridge.path == path
    assert not first.isVisible()


def test_its_icons_follow_the_theme(first: Welcome, window: Window, settle: Any) -> None:
    def ink() -> int:
        image = button(first, names(first)[0]).icon().pixmap(20, 20).toImage()
        seen = [image.pixelColor(x, y) for x in range(image.width()) for y in range(image.height())]
        return max(seen, key=lambda colour: colour.alpha()).lightness()

    before = ink()
    window.set_theme(themes.dark())
    settle()
    assert ink() > before + 30


def test_a_damaged_example_says_so(tmp_path: Path) -> None:
    (tmp_path / "bad.railmap").write_text("{}")
    assert welcome_module._about(tmp_path / "bad.railmap").startswith(
        "bad.railmap is not a railmap"
    )


# The menu, and the beginning


def test_the_menu_has_what_there_is(habits: Habits, window: Window) -> None:
    assert habits.menu.menuAction() in window.menuBar().actions()
    listed = habits.menu.actions()
    for name, action in habits.actions.items():
        assert action in listed, name
        assert action in window.actions(), name
    taken = [action.shortcut() for action in window.commands.actions.values()]
    for action in habits.actions.values():
        assert action.shortcut().isEmpty() or action.shortcut() not in taken
    assert habits.actions["help start"].shortcut() == QKeySequence("F1")


def test_files_that_are_gone_are_told_once(
    habits: Habits, window: Window, settings: Settings, tmp_path: Path, settle: Any
) -> None:
    gone = tmp_path / "gone.railmap"
    gone.touch()
    settings.add_recent(gone)
    gone.unlink()
    habits.begin(None)
    assert window.message.text.text() == f"{gone} is gone, and off the list of recent files."
    window.message.clear()
    habits.begin(None)
    assert window.message.isHidden()


def test_a_bad_file_is_what_is_told_first(
    habits: Habits, window: Window, settings: Settings, tmp_path: Path
) -> None:
    gone, bad = tmp_path / "gone.railmap", tmp_path / "bad.railmap"
    gone.touch()
    bad.write_text("{}")
    settings.add_recent(gone)
    gone.unlink()
    habits.begin(bad)
    assert window.message.text.text().startswith("bad.railmap is not a railmap file")
