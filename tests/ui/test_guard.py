"""The question about unsaved work by keyboard, and recent files that are gone."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox

import railmap as rm
from railmap.ui.settings import Settings
from railmap.ui.window import Window

Key = Qt.Key


def edit(window: Window) -> None:
    window.bridge.change_part("Change R1", window.bridge.map.parts["R1"].changed(notes="seen"))


@pytest.fixture
def saved(window: Window, divider: rm.RailMap, tmp_path: Path) -> Path:
    """The file of the window's map, which has a change that is not saved."""
    path = tmp_path / "divider.railmap"
    rm.save(divider, path)
    window.bridge.saved(path)
    edit(window)
    return path


@pytest.fixture
def press(plain_app: QApplication) -> Callable[..., list[list[str]]]:
    """Press keys in the next question; returns the answers that it offered."""
    offered: list[list[str]] = []

    def go(*keys: Key) -> list[list[str]]:
        def act() -> None:
            box = plain_app.activeModalWidget()
            assert isinstance(box, QMessageBox)
            offered.append([button.text() for button in box.buttons()])
            for key in keys:
                QTest.keyClick(box, key)
            if box.isVisible():
                # A letter presses its button as a finger does, not at once.
                QTimer.singleShot(400, box.reject)

        QTimer.singleShot(0, act)
        return offered

    return go


@pytest.mark.parametrize(
    ("keys", "left", "stored"),
    [
        ([Key.Key_Return], True, True),
        ([Key.Key_S], True, True),
        ([Key.Key_D], True, False),
        ([Key.Key_K], False, False),
        ([Key.Key_Escape], False, False),
    ],
)
def test_the_question_is_answered_by_keyboard(
    window: Window, saved: Path, press: Any, keys: list[Key], left: bool, stored: bool
) -> None:
    offered = press(*keys)
    assert window.desk.may_leave() == left
    assert sorted(offered[0]) == ["&Discard", "&Keep working", "&Save"]
    assert (rm.load(saved).parts["R1"].notes == "seen") == stored
    assert window.desk.given_up == (left and not stored)


def test_giving_up_ends_with_the_next_change(window: Window, saved: Path, answer: Any) -> None:
    answer("Discard")
    assert window.desk.may_leave()
    assert window.desk.given_up
    edit(window)
    window.bridge.undo()
    assert not window.desk.given_up


def test_nothing_to_save_no_question(window: Window, answer: Any) -> None:
    asked = answer("Cancel")
    assert window.desk.may_leave()
    assert asked == []
    assert not window.desk.given_up


# Recent files that are gone


def test_a_recent_file_that_is_gone_is_taken_off(
    window: Window, tmp_path: Path, divider: rm.RailMap, settings: Settings
) -> None:
    path = tmp_path / "first.railmap"
    rm.save(divider, path)
    window.open_path(path)
    (action,) = window.recent_menu.actions()
    path.unlink()
    action.trigger()
    assert window.message.text.text() == f"{path} is gone, and off the list of recent files."
    assert window.recent_menu.actions() == []
    assert settings._remembered == []


def test_several_that_are_gone_are_one_sentence(
    window: Window, tmp_path: Path, settings: Settings, troubles: list[str]
) -> None:
    paths = [tmp_path / f"{name}.railmap" for name in "abc"]
    for path in paths:
        path.touch()
        settings.add_recent(path)
    for path in paths:
        path.unlink()
    window.desk.drop_gone()
    window.desk.drop_gone()
    a, b, c = paths
    assert troubles == [f"{c}, {b} and {a} are gone, and off the list of recent files."]


def test_a_file_on_a_disk_that_is_away_comes_back(
    window: Window, tmp_path: Path, settings: Settings, troubles: list[str]
) -> None:
    disk, away = tmp_path / "disk", tmp_path / "away"
    disk.mkdir()
    (disk / "a.railmap").touch()
    settings.add_recent(disk / "a.railmap")
    disk.rename(away)
    window.desk.drop_gone()
    assert settings.recent == []
    assert troubles == []
    settings.add_recent(away / "a.railmap")
    away.rename(disk)
    assert settings.recent == [disk / "a.railmap"]
