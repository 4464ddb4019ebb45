"""After a crash: unsaved work is offered in a bar, restored as an edit, or discarded."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

import railmap as rm
from railmap.store.autosave import left_over, open_slot
from railmap.ui import recovery
from railmap.ui.habits import Habits
from railmap.ui.recovery import AWAY, LATER, RESTORE, RecoveryBar
from railmap.ui.settings import Preferences, Settings
from railmap.ui.window import Window

LEFT = Qt.MouseButton.LeftButton
PROGRAM = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from railmap.ui import app as program
from railmap.ui.settings import Settings
from railmap.ui.window import Window

app = QApplication([])

def edit():
    window = next(w for w in app.topLevelWidgets() if isinstance(w, Window))
    bridge = window.bridge
    bridge.change_part("Change R1", bridge.map.parts["R1"].changed(notes="before the crash"))
    look = QTimer(window)
    look.timeout.connect(lambda: tell(look))
    look.start(20)

def tell(look):
    if list(Path(sys.argv[1]).parent.glob("unsaved/*/draft")):
        look.stop()
        print("kept", flush=True)

QTimer.singleShot(0, edit)
program.run(Path(sys.argv[2]), Settings(Path(sys.argv[1])))
"""


@pytest.fixture
def work(divider: rm.RailMap) -> rm.RailMap:
    m = divider.copy()
    m.add(rm.Resistor("R9", "B", "0V", ohms=1000))
    return m


@pytest.fixture
def leave(settings: Settings) -> Callable[..., Path]:
    """Leave work as a run that crashed does; returns its draft."""

    def put(m: rm.RailMap, path: Path | None = None, age_s: float = 0) -> Path:
        slot = open_slot(settings.unsaved_folder)
        slot.write(m, path)
        slot.let_go()
        draft = slot.folder / "draft"
        when = draft.stat().st_mtime - age_s
        os.utime(draft, (when, when))
        return draft

    return put


@pytest.fixture
def bar(habits: Habits) -> RecoveryBar:
    return habits.bar


def count(settings: Settings) -> int:
    return len(list(settings.unsaved_folder.rglob("draft")))


def test_nothing_left_nothing_said(bar: RecoveryBar, window: Window) -> None:
    bar.look()
    assert not bar.isVisible()
    bar.restore()
    bar.discard()
    assert window.bridge.history.clean


def test_it_is_offered_and_restored(
    bar: RecoveryBar, window: Window, leave: Any, file: Path, work: rm.RailMap,
    divider: rm.RailMap, settings: Settings, settle: Any,
) -> None:  # fmt: skip
    draft = leave(work, file)
    bar.look()
    settle()
    assert bar.isVisible()
    text = bar.text.text()
    when = recovery._moment(recovery.datetime.fromtimestamp(draft.stat().st_mtime))
    assert text.startswith(f"Unsaved work on divider.railmap, last changed {when}, is left from")
    assert bar.text.accessibleName() == text
    assert bar.text.toolTip() == str(file)
    assert bar.later_button.toolTip() == LATER
    assert window.isEnabled(), "it blocks nothing"
    QTest.mouseClick(bar.restore_button, LEFT)
    settle()
    assert not bar.isVisible()
    bridge = window.bridge
    assert bridge.map == work
    assert bridge.path == file
    assert not bridge.history.clean
    assert rm.load(file) == divider, "it is not saved before a person saves it"
    assert bridge.history.undo_name == RESTORE
    bridge.undo()
    assert bridge.map == divider
    assert bridge.history.clean


def test_what_is_restored_is_never_without_a_draft(
    bar: RecoveryBar, habits: Habits, window: Window, leave: Any, file: Path, work: rm.RailMap,
    settings: Settings, qtbot: Any,
) -> None:  # fmt: skip
    draft = leave(work, file)
    bar.look()
    bar.restore()
    assert draft.exists()
    assert left_over(settings.unsaved_folder) == [], "this window holds it"
    window.commands["save"].trigger()
    qtbot.waitUntil(lambda: count(settings) == 0)
    assert rm.load(file) == work
    habits.end()
    assert list(settings.unsaved_folder.iterdir()) == []


def test_so_it_is_with_autosave_off(
    bar: RecoveryBar, window: Window, leave: Any, file: Path, work: rm.RailMap, settings: Settings
) -> None:
    settings.preferences = Preferences(dark=False, autosave=False)
    draft = leave(work, file)
    bar.look()
    bar.restore()
    assert draft.exists()


def test_the_draft_of_the_map_before_is_taken_away(
    habits: Habits, window: Window, leave: Any, file: Path, work: rm.RailMap, settings: Settings,
    qtbot: Any, answer: Any,
) -> None:  # fmt: skip
    window.commands["add_board"].trigger()
    qtbot.waitUntil(lambda: count(settings) == 1)
    leave(work, file)
    habits.bar.look()
    answer("Discard")
    habits.bar.restore()
    qtbot.waitUntil(lambda: not habits.keeper.timer.isActive())
    habits.keeper._work._pool.waitForDone()
    assert count(settings) == 1


def test_unsaved_work_in_the_window_comes_first(
    bar: RecoveryBar, window: Window, leave: Any, work: rm.RailMap, answer: Any, settle: Any
) -> None:
    leave(work)
    bar.look()
    window.commands["add_board"].trigger()
    asked = answer("Cancel")
    bar.restore()
    assert asked == ["Divider has changes that are not saved."]
    assert "R9" not in window.bridge.map.parts
    assert bar.isVisible()


def test_a_map_that_was_never_saved(
    bar: RecoveryBar, window: Window, leave: Any, work: rm.RailMap
) -> None:
    leave(work)
    bar.look()
    assert "Unsaved work on Divider, which was never saved, last" in bar.text.text()
    bar.restore()
    assert window.bridge.map == work
    assert window.bridge.path is None
    assert not window.bridge.history.clean


@pytest.mark.parametrize("how", ["gone", "damaged"])
def test_its_own_file_may_be_lost(
    bar: RecoveryBar, window: Window, leave: Any, file: Path, work: rm.RailMap, how: str
) -> None:
    leave(work, file)
    file.unlink() if how == "gone" else file.write_text("{")
    bar.look()
    bar.restore()
    assert window.bridge.map == work
    assert window.bridge.path == file
    assert not window.bridge.history.clean


def test_a_file_saved_since_is_told_and_kept(
    bar: RecoveryBar, window: Window, leave: Any, file: Path, work: rm.RailMap
) -> None:
    leave(work, file, age_s=3600)
    bar.look()
    assert "The file has been saved since." in bar.text.text()
    bar.restore()
    window.bridge.undo()
    assert window.bridge.map == rm.load(file)


def test_what_was_saved_after_all_is_not_offered(
    bar: RecoveryBar, leave: Any, file: Path, divider: rm.RailMap, settings: Settings
) -> None:
    leave(divider, file)
    bar.look()
    assert not bar.isVisible()
    assert list(settings.unsaved_folder.iterdir()) == []


def test_what_was_saved_while_it_was_offered_is_done_with(
    bar: RecoveryBar, window: Window, leave: Any, file: Path, work: rm.RailMap, settings: Settings
) -> None:
    leave(work, file)
    bar.look()
    rm.save(work, file)
    bar.restore()
    assert window.bridge.history.clean
    assert window.bridge.map == work
    assert count(settings) == 0


def test_it_is_discarded(
    bar: RecoveryBar, window: Window, leave: Any, file: Path, work: rm.RailMap, settings: Settings,
    divider: rm.RailMap, settle: Any,
) -> None:  # fmt: skip
    leave(work, file)
    bar.look()
    settle()
    QTest.mouseClick(bar.discard_button, LEFT)
    assert not bar.isVisible()
    assert list(settings.unsaved_folder.iterdir()) == []
    assert window.bridge.map is divider


def test_it_is_left_for_later(
    bar: RecoveryBar, leave: Any, work: rm.RailMap, settings: Settings, settle: Any
) -> None:
    draft = leave(work)
    bar.look()
    settle()
    QTest.mouseClick(bar.later_button, LEFT)
    assert not bar.isVisible()
    (slot,) = left_over(settings.unsaved_folder)
    assert slot.folder == draft.parent
    slot.remove()


def test_closing_the_window_leaves_it_for_later(
    habits: Habits, leave: Any, work: rm.RailMap, settings: Settings, window: Window
) -> None:
    leave(work)
    habits.bar.look()
    window.close()
    habits.end()
    (slot,) = left_over(settings.unsaved_folder)
    slot.remove()


def test_several_one_after_another(
    bar: RecoveryBar, window: Window, leave: Any, work: rm.RailMap, divider: rm.RailMap,
    settings: Settings, file: Path,
) -> None:  # fmt: skip
    leave(work, file, age_s=60)
    leave(divider)
    bar.look()
    assert "Divider, which was never saved" in bar.text.text()
    assert bar.text.text().endswith("(1 more)")
    bar.discard()
    assert "divider.railmap" in bar.text.text()
    assert "more" not in bar.text.text()
    bar.restore()
    assert window.bridge.map == work


def test_two_windows_do_not_offer_the_same(
    bar: RecoveryBar, make_window: Any, leave: Any, work: rm.RailMap, settings: Settings
) -> None:
    leave(work)
    bar.look()
    other = Habits(make_window())
    other.bar.look()
    assert (bar.isHidden(), other.bar.isHidden()) == (False, True)
    other.end()


@pytest.mark.parametrize("content", [b"", b"nonsense", b'{"format": "railmap draft"'])
def test_a_damaged_draft_stops_nothing_and_is_one_sentence(
    bar: RecoveryBar, window: Window, leave: Any, work: rm.RailMap, settings: Settings,
    settle: Any, content: bytes,
) -> None:  # fmt: skip
    leave(work, age_s=60)
    leave(work).write_bytes(content)
    bar.look()
    settle()
    text = bar.text.text()
    assert text.startswith("Unsaved work of ")
    assert " cannot be restored: the draft does not begin as a draft does. It is kept as " in text
    (aside,) = settings.unsaved_folder.glob("set aside/*")
    assert str(aside) in text
    assert aside.read_bytes() == content
    assert not bar.restore_button.isVisible()
    assert bar.later_button.toolTip() == AWAY
    QTest.mouseClick(bar.later_button, LEFT)
    assert bar.restore_button.isVisible(), "the other one is offered next"
    bar.restore()
    assert window.bridge.map == work
    bar.look()
    assert bar.isHidden(), "it is said once"


def test_a_place_that_cannot_be_looked_through_is_one_sentence(
    bar: RecoveryBar, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: Path) -> None:
        raise rm.FileError("/there cannot be used for unsaved work: permission denied")

    monkeypatch.setattr(recovery, "left_over", refuse)
    bar.look()
    assert bar.text.text() == "/there cannot be used for unsaved work: permission denied."
    bar.later()
    assert bar.isHidden()


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is of POSIX")
def test_the_program_itself_is_killed(
    bar: RecoveryBar, window: Window, file: Path, settings: Settings, tmp_path: Path
) -> None:
    words = [sys.executable, "-c", PROGRAM, str(tmp_path / "window.ini"), str(file)]
    with subprocess.Popen(
        words, cwd=Path(rm.__file__).parents[1], stdout=subprocess.PIPE, text=True,
        stderr=subprocess.DEVNULL,
    ) as program:  # fmt: skip
        assert program.stdout is not None
        assert program.stdout.readline().strip() == "kept"
        bar.look()
        assert bar.isHidden(), "it still runs"
        program.send_signal(signal.SIGKILL)
        program.wait()
    bar.look()
    assert "divider.railmap" in bar.text.text()
    bar.restore()
    assert window.bridge.map.parts["R1"].notes == "before the crash"
    assert rm.load(file).parts["R1"].notes == ""
