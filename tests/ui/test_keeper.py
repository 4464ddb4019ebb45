"""Unsaved work is written a moment after each change, and taken away when all is saved."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QThread
from PySide6.QtWidgets import QApplication, QFileDialog

import railmap as rm
from railmap.store import autosave
from railmap.store.autosave import Draft, left_over
from railmap.ui.habits import Habits
from railmap.ui.keeper import WAIT_MS, Keeper
from railmap.ui.settings import Preferences, Settings
from railmap.ui.window import Window


def edit(window: Window, notes: str = "seen") -> None:
    window.bridge.change_part("Change R1", window.bridge.map.parts["R1"].changed(notes=notes))


@pytest.fixture
def kept(habits: Habits, settings: Settings, qtbot: Any) -> Callable[[], Draft | None]:
    """Wait until the keeper is done, and read what it kept."""

    def read() -> Draft | None:
        keeper = habits.keeper
        qtbot.waitUntil(lambda: not keeper.timer.isActive())
        keeper._work._pool.waitForDone()
        qtbot.wait(1)
        return None if keeper._slot is None else keeper._slot.read()

    return read


def drafts(settings: Settings) -> list[Path]:
    return list(settings.unsaved_folder.rglob("draft"))


def test_without_a_change_nothing_is_written(
    habits: Habits, kept: Any, settings: Settings, window: Window
) -> None:
    window.bridge.set_mains(240)
    window.bridge.set_drift("R1", 200.0)
    assert kept() is None
    assert not settings.unsaved_folder.exists()


def test_every_change_is_kept(kept: Any, window: Window) -> None:
    for notes in ("one", "two", "three"):
        edit(window, notes)
        draft = kept()
        assert draft.map == window.bridge.map
        assert draft.map.parts["R1"].notes == notes
        assert draft.path is None
    window.bridge.undo()
    assert kept().map.parts["R1"].notes == "two"


def test_many_changes_in_a_moment_are_written_once(
    kept: Any, window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[bool] = []
    real = autosave.Slot.write

    def write(slot: autosave.Slot, m: rm.RailMap, path: Path | None) -> None:
        written.append(QThread.currentThread() is QApplication.instance().thread())
        real(slot, m, path)

    monkeypatch.setattr(autosave.Slot, "write", write)
    for number in range(20):
        edit(window, str(number))
    assert kept().map.parts["R1"].notes == "19"
    assert written == [False], "once, and not in the thread of the window"


def test_it_waits_a_moment(window: Window, settings: Settings) -> None:
    keeper = Keeper(window.bridge, window.desk, settings, window)
    assert (keeper.timer.interval(), keeper.timer.isSingleShot()) == (WAIT_MS, True)
    edit(window)
    left = keeper.timer.remainingTime()
    edit(window, "again")
    assert keeper.timer.isActive()
    assert keeper.timer.remainingTime() <= left, "more changes do not put it off"
    window.bridge.history.mark_clean()
    keeper.end()


def test_undo_of_everything_leaves_nothing_to_keep(
    kept: Any, window: Window, settings: Settings
) -> None:
    edit(window)
    assert kept() is not None
    window.bridge.undo()
    assert kept() is None
    assert drafts(settings) == []


def test_a_saved_map_needs_no_draft(
    kept: Any, window: Window, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    edit(window)
    assert kept() is not None
    file = str(tmp_path / "a.railmap")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (file, ""))
    window.commands["save"].trigger()
    assert kept() is None
    assert drafts(settings) == []
    edit(window, "more")
    assert kept().path == tmp_path / "a.railmap"


def test_another_map_has_another_draft(
    kept: Any, window: Window, settings: Settings, answer: Any
) -> None:
    edit(window)
    assert kept() is not None
    answer("Discard")
    window.desk.new()
    assert kept() is None
    window.commands["add_board"].trigger()
    assert list(kept().map.boards) == ["Board 1", "Board 2"]
    assert len(drafts(settings)) == 1


def test_two_windows_do_not_mix(
    habits: Habits, kept: Any, window: Window, make_window: Any, settings: Settings, qtbot: Any
) -> None:
    other = make_window()
    keeper = Keeper(other.bridge, other.desk, settings, other)
    keeper.timer.setInterval(0)
    other.desk.new()
    other.commands["add_board"].trigger()
    edit(window)
    assert kept().map == window.bridge.map
    qtbot.waitUntil(lambda: len(drafts(settings)) == 2)
    assert left_over(settings.unsaved_folder) == []
    other.bridge.history.mark_clean()
    keeper.end()
    assert len(drafts(settings)) == 1
    assert kept().map == window.bridge.map


def test_closing_leaves_nothing_behind(
    habits: Habits, kept: Any, window: Window, settings: Settings, answer: Any
) -> None:
    edit(window)
    assert kept() is not None
    answer("Discard")
    window.close()
    habits.end()
    assert list(settings.unsaved_folder.iterdir()) == []


def test_an_end_without_a_question_leaves_the_draft(
    habits: Habits, kept: Any, window: Window, settings: Settings
) -> None:
    """As when the desktop ends the program: nobody has given the work up."""
    edit(window)
    habits.end()
    habits.end()
    (slot,) = left_over(settings.unsaved_folder)
    draft = slot.read()
    assert draft is not None
    assert draft.map == window.bridge.map
    slot.remove()


def test_work_given_up_for_a_file_that_does_not_open_is_kept_on(
    habits: Habits, kept: Any, window: Window, settings: Settings, tmp_path: Path, answer: Any
) -> None:
    edit(window)
    assert kept() is not None
    answer("Discard")
    window.open_path(tmp_path / "none.railmap")
    assert kept() is not None
    edit(window, "more")
    habits.end()
    (slot,) = left_over(settings.unsaved_folder)
    draft = slot.read()
    assert draft is not None
    assert draft.map.parts["R1"].notes == "more"
    slot.remove()


def test_it_can_be_switched_off_and_on(kept: Any, window: Window, settings: Settings) -> None:
    edit(window)
    assert kept() is not None
    settings.preferences = Preferences(dark=False, autosave=False)
    assert kept() is None
    edit(window, "more")
    assert kept() is None
    assert drafts(settings) == []
    settings.preferences = Preferences(dark=False)
    assert kept().map.parts["R1"].notes == "more"


def test_a_folder_that_was_taken_away_is_made_again(
    kept: Any, window: Window, settings: Settings
) -> None:
    edit(window)
    assert kept() is not None
    shutil.rmtree(settings.unsaved_folder)
    edit(window, "more")
    assert kept().map.parts["R1"].notes == "more"


def test_what_cannot_be_kept_is_said_once(
    kept: Any, window: Window, settings: Settings, troubles: list[str]
) -> None:
    settings.unsaved_folder.touch()
    for notes in ("one", "two", "three"):
        edit(window, notes)
        assert kept() is None
    (said,) = troubles
    assert said.startswith("Unsaved work is not kept for a crash: ")
    assert said.endswith(".")
    assert window.bridge.map.parts["R1"].notes == "three"
    settings.unsaved_folder.unlink()
    edit(window, "four")
    assert kept().map.parts["R1"].notes == "four"
    assert len(troubles) == 1


def test_a_draft_that_cannot_be_taken_away_is_said(
    kept: Any, window: Window, troubles: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(slot: autosave.Slot) -> None:
        raise rm.FileError("it is in use")

    edit(window)
    assert kept() is not None
    with monkeypatch.context() as patch:
        patch.setattr(autosave.Slot, "clear", refuse)
        window.bridge.undo()
        kept()
    assert troubles == ["The draft of what is saved now stays: it is in use."]
