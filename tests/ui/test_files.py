"""Opening and saving from the window: dialogs, unsaved work, recent files, bad files."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QFileDialog

import railmap as rm
from railmap.errors import NotYetError
from railmap.ui import bridge as bridge_module
from railmap.ui.settings import RECENT, Settings
from railmap.ui.window import Window

Answer = Callable[[str], list[str]]


@pytest.fixture
def choose(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path | None], list[str]]:
    """Choose one file in every dialog, or none; returns what each dialog proposed."""

    def set_choice(path: Path | None) -> list[str]:
        proposed: list[str] = []

        def ask(parent: Any, title: str, start: str, *more: Any) -> tuple[str, str]:
            proposed.append(start)
            return ("" if path is None else str(path), "")

        monkeypatch.setattr(QFileDialog, "getOpenFileName", ask)
        monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
        return proposed

    return set_choice


@pytest.fixture
def fresh(make_window: Callable[[], Window], settle: Callable[[], None]) -> Window:
    """A window as it opens without a file."""
    found = make_window()
    found.desk.new()
    settle()
    return found


def edit(window: Window) -> None:
    window.bridge.change_part("Change R1", window.bridge.map.parts["R1"].changed(notes="seen"))


def said(window: Window) -> str:
    return window.message.text.text() if window.message.isVisible() else ""


def test_a_new_map_has_a_board_and_nothing_to_save(fresh: Window) -> None:
    assert list(fresh.bridge.map.boards) == ["Board 1"]
    assert fresh.bridge.path is None
    assert fresh.bridge.history.clean
    assert fresh.windowTitle() == "New map[*] — railmap"


def test_open_by_dialog(
    make_window: Any, settle: Callable[[], None], file: Path, divider: rm.RailMap, choose: Any
) -> None:
    window = make_window()
    choose(file)
    window.commands["open"].trigger()
    settle()
    assert window.bridge.map == divider
    assert window.bridge.path == file
    assert window.windowTitle() == "divider.railmap[*] — railmap"
    assert said(window) == ""


def test_one_file_after_another(
    fresh: Window, file: Path, tmp_path: Path, settle: Callable[[], None]
) -> None:
    other = rm.RailMap("Other")
    other.add(rm.Source("V9", "P", "0V", volts=5, ohms=1))
    rm.save(other, tmp_path / "other.railmap")
    fresh.open_path(file)
    settle()
    fresh.open_path(tmp_path / "other.railmap")
    settle()
    assert fresh.bridge.map == other
    assert set(fresh.view.floor.parts) == {"V9"}


def test_a_dialog_that_is_closed_changes_nothing(
    window: Window, divider: rm.RailMap, choose: Any
) -> None:
    choose(None)
    window.commands["open"].trigger()
    window.commands["save_as"].trigger()
    window.commands["picture"].trigger()
    assert window.bridge.map is divider
    assert window.bridge.path is None
    assert said(window) == ""


def test_save_to_the_file_it_came_from(
    fresh: Window, file: Path, settle: Callable[[], None]
) -> None:
    fresh.open_path(file)
    edit(fresh)
    assert fresh.isWindowModified()
    assert fresh.commands["save"].isEnabled()
    fresh.commands["save"].trigger()
    assert rm.load(file).parts["R1"].notes == "seen"
    assert not fresh.isWindowModified()
    assert not fresh.commands["save"].isEnabled()


def test_a_map_without_a_file_asks_for_one(
    window: Window, tmp_path: Path, choose: Any, divider: rm.RailMap
) -> None:
    proposed = choose(tmp_path / "kept.railmap")
    window.commands["save"].trigger()
    assert Path(proposed[0]).name == "divider.railmap"
    assert rm.load(tmp_path / "kept.railmap") == divider
    assert window.bridge.path == tmp_path / "kept.railmap"


def test_save_as_adds_the_ending(window: Window, tmp_path: Path, choose: Any) -> None:
    choose(tmp_path / "kept")
    window.commands["save_as"].trigger()
    assert window.bridge.path == tmp_path / "kept.railmap"
    assert (tmp_path / "kept.railmap").is_file()


@pytest.mark.parametrize(("button", "replaced"), [("Yes", True), ("No", False)])
def test_the_ending_replaces_no_other_file_unasked(
    window: Window, file: Path, choose: Any, answer: Answer, button: str, replaced: bool
) -> None:
    before = file.read_bytes()
    edit(window)
    choose(file.with_suffix(""))
    asked = answer(button)
    window.commands["save_as"].trigger()
    assert asked == ["divider.railmap is there already. Replace it?"]
    assert (file.read_bytes() != before) == replaced
    assert window.bridge.history.clean == replaced


def test_a_file_that_cannot_be_written_is_one_sentence(
    window: Window, tmp_path: Path, choose: Any
) -> None:
    edit(window)
    choose(tmp_path / "no folder" / "a.railmap")
    window.commands["save_as"].trigger()
    assert said(window).startswith(str(tmp_path / "no folder"))
    assert said(window).endswith(".")
    assert window.bridge.path is None
    assert not window.bridge.history.clean


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("", "empty"),
        ('{"format": "railmap", "version": 1, "parts": [{"kind": "Resistor"}]}', "parts[0]"),
        ('{"format": "railmap", "version": 99}', "99"),
        ("not a map at all", "is not a railmap file"),
    ],
)
def test_a_bad_file_is_one_sentence_and_the_map_stays(
    window: Window, tmp_path: Path, divider: rm.RailMap, settings: Settings, content: str, why: str
) -> None:
    bad = tmp_path / "bad.railmap"
    bad.write_text(content)
    window.open_path(bad)
    assert why in said(window)
    assert said(window).startswith("bad.railmap")
    assert said(window).endswith(".")
    assert not said(window).endswith("..")
    assert window.bridge.map is divider
    assert window.bridge.path is None
    assert bad not in settings.recent


def test_a_file_that_is_gone(window: Window, tmp_path: Path, divider: rm.RailMap) -> None:
    window.open_path(tmp_path / "gone.railmap")
    assert said(window) == f"{tmp_path / 'gone.railmap'} cannot be read: no such file or directory."
    assert window.bridge.map is divider


def test_the_message_goes_with_the_next_edit_or_by_its_button(
    window: Window, tmp_path: Path
) -> None:
    window.open_path(tmp_path / "gone.railmap")
    edit(window)
    assert said(window) == ""
    window.bridge.history.mark_clean()
    window.open_path(tmp_path / "gone.railmap")
    assert said(window)
    window.message._close.click()
    assert said(window) == ""


# Unsaved work


@pytest.mark.parametrize("way", ["new", "open", "recent"])
def test_unsaved_work_is_kept_on_cancel(
    window: Window, divider: rm.RailMap, file: Path, choose: Any, answer: Answer, way: str
) -> None:
    edit(window)
    asked = answer("Cancel")
    proposed = choose(file)
    if way == "recent":
        window.open_path(file)
    else:
        window.commands[way].trigger()
    assert asked == ["Divider has changes that are not saved."]
    assert proposed == []
    assert window.bridge.map is divider
    assert window.bridge.history.undo_name == "Change R1"


def test_unsaved_work_is_dropped_on_discard(
    window: Window, divider: rm.RailMap, file: Path, answer: Answer
) -> None:
    edit(window)
    answer("Discard")
    window.open_path(file)
    assert window.bridge.path == file
    assert window.bridge.map.parts["R1"].notes == ""


def test_unsaved_work_is_saved_first(
    window: Window, file: Path, tmp_path: Path, choose: Any, answer: Answer
) -> None:
    edit(window)
    answer("Save")
    choose(tmp_path / "kept.railmap")
    window.open_path(file)
    assert rm.load(tmp_path / "kept.railmap").parts["R1"].notes == "seen"
    assert window.bridge.path == file


def test_unsaved_work_stays_if_it_cannot_be_saved(
    window: Window, divider: rm.RailMap, file: Path, choose: Any, answer: Answer
) -> None:
    edit(window)
    answer("Save")
    choose(None)
    window.open_path(file)
    assert window.bridge.map is divider
    assert not window.bridge.history.clean


def test_saved_work_is_left_without_a_question(window: Window, file: Path, answer: Answer) -> None:
    asked = answer("Cancel")
    window.open_path(file)
    assert asked == []
    assert window.bridge.path == file


def test_what_is_only_tried_is_no_unsaved_work(
    window: Window, file: Path, answer: Answer, settle: Callable[[], None]
) -> None:
    window.bridge.set_drift("R1", 200.0)
    window.bridge.set_mains(240)
    settle()
    asked = answer("Cancel")
    window.open_path(file)
    assert asked == []


# Recent files


def test_files_opened_and_saved_are_recent(
    window: Window, file: Path, tmp_path: Path, choose: Any, settle: Callable[[], None]
) -> None:
    assert not window.recent_menu.isEnabled()
    window.open_path(file)
    choose(tmp_path / "second.railmap")
    window.commands["save_as"].trigger()
    actions = window.recent_menu.actions()
    assert [action.text() for action in actions] == ["Second", "Divider"]
    actions[1].trigger()
    settle()
    assert window.bridge.path == file
    assert [action.text() for action in window.recent_menu.actions()] == ["Divider", "Second"]


def test_recent_files_are_kept_for_the_next_run(settings: Settings, tmp_path: Path) -> None:
    paths = [tmp_path / f"{n}.railmap" for n in range(RECENT + 3)]
    for path in paths:
        path.touch()
        settings.add_recent(path)
    settings.add_recent(paths[-3])
    again = Settings(tmp_path / "window.ini")
    assert again.recent[:3] == [paths[-3], paths[-1], paths[-2]]
    assert len(again.recent) == RECENT
    paths[-1].unlink()
    assert paths[-1] not in again.recent


def test_a_single_recent_file_is_kept_too(settings: Settings, tmp_path: Path) -> None:
    (tmp_path / "one, two.railmap").touch()
    settings.add_recent(tmp_path / "one, two.railmap")
    assert Settings(tmp_path / "window.ini").recent == [tmp_path / "one, two.railmap"]


def test_every_example_is_in_the_menu_and_opens(fresh: Window, settle: Callable[[], None]) -> None:
    actions = fresh.examples_menu.actions()
    assert len(actions) >= 3
    for action in actions:
        action.trigger()
        settle()
        assert fresh.bridge.path == Path(action.data())
        assert fresh.bridge.solution is not None
        assert fresh.bridge.solution.status == "solved"
        assert said(fresh) == ""


# Pictures


def test_a_picture_is_saved(window: Window, tmp_path: Path, choose: Any) -> None:
    proposed = choose(tmp_path / "floor.png")
    window.commands["picture"].trigger()
    assert Path(proposed[0]).name == "divider.png"
    assert QImage(str(tmp_path / "floor.png")).width() == 2400
    assert said(window) == ""


def test_a_picture_with_a_wrong_ending_is_one_sentence(
    window: Window, tmp_path: Path, choose: Any
) -> None:
    choose(tmp_path / "floor.bmp")
    window.commands["picture"].trigger()
    assert said(window) == "A picture file ends in .png, .svg or .pdf, not in '.bmp'."
    assert not (tmp_path / "floor.bmp").exists()


def test_no_picture_without_a_solution(
    window: Window, choose: Any, settle: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any) -> None:
        raise NotYetError("not yet")

    monkeypatch.setattr(bridge_module, "solve_on", refuse)
    window.bridge.set_mains(240)
    settle()
    proposed = choose(None)
    window.commands["picture"].trigger()
    assert proposed == []
    assert "before the map is solved" in said(window)
