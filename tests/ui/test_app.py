"""The program as it is started, and what becomes of a fault in it."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QEvent, QTimer
from PySide6.QtWidgets import QApplication

import railmap as rm
from railmap.ui.app import run
from railmap.ui.settings import Settings
from railmap.ui.window import Window

PAINT_FAULT = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from railmap.ui import app as program, message
from railmap.ui.settings import Settings
from railmap.ui.window import Window

def paint(self, event):
    raise ValueError("the pen is dry")

message.MessageBar.paintEvent = paint
app = QApplication([])

def say():
    next(w for w in app.topLevelWidgets() if isinstance(w, Window)).message.say("hello")
    QTimer.singleShot(100, app.quit)

QTimer.singleShot(0, say)
sys.exit(program.run(None, Settings(Path(sys.argv[1]))))
"""


@pytest.fixture
def start(
    plain_app: QApplication, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., int]:
    """Start the program, have something done in its window, and end it."""

    def go(path: Path | None, do: Callable[[Window], None]) -> int:
        # The program puts its own hook in; it is taken out again after the test.
        monkeypatch.setattr(sys, "excepthook", sys.excepthook)
        done: list[BaseException | None] = []

        def act() -> None:
            (window,) = (w for w in plain_app.topLevelWidgets() if isinstance(w, Window))
            try:
                do(window)
                done.append(None)
            except AssertionError as error:
                done.append(error)
            window.bridge.history.mark_clean()
            window.close()
            window.deleteLater()

        QTimer.singleShot(0, act)
        code = run(path, settings)
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        assert len(done) == 1
        if done[0] is not None:
            raise done[0]
        return code

    return go


def fault(message: str) -> Callable[[], None]:
    def slot() -> None:
        raise ValueError(message)

    return slot


def test_it_starts_with_a_new_map(start: Callable[..., int]) -> None:
    def look(window: Window) -> None:
        assert window.isVisible()
        assert list(window.bridge.map.boards) == ["Board 1"]
        assert not window.message.isVisible()

    assert start(None, look) == 0


def test_it_opens_a_file(
    start: Callable[..., int], divider: rm.RailMap, tmp_path: Path, capfd: Any
) -> None:
    path = tmp_path / "a.railmap"
    rm.save(divider, path)

    def look(window: Window) -> None:
        assert window.bridge.path == path
        assert window.bridge.map == divider
        assert window.view.floor.parts["R2"].face.figure == "129 %"
        assert not window.message.isVisible()

    assert start(path, look) == 0
    assert "A fault" not in capfd.readouterr().err


def test_a_bad_file_leaves_a_new_map_and_says_why(
    start: Callable[..., int], tmp_path: Path
) -> None:
    path = tmp_path / "bad.railmap"
    path.write_text("{}")

    def look(window: Window) -> None:
        assert window.bridge.path is None
        assert list(window.bridge.map.boards) == ["Board 1"]
        assert window.message.isVisible()
        assert window.message.text.text().startswith("bad.railmap")

    assert start(path, look) == 0


def test_a_fault_in_a_slot_is_one_sentence(
    start: Callable[..., int], capfd: pytest.CaptureFixture[str]
) -> None:
    def look(window: Window) -> None:
        window.bridge.state_changed.connect(fault("the fuse is blown"))
        window.commands["add_board"].trigger()
        text = window.message.text.text()
        assert window.message.isVisible()
        assert text.startswith("A fault in railmap stopped that: ValueError: the fuse is blown")
        assert text.endswith(").")
        assert "\n" not in text
        # The work is still there.
        assert "Board 2" in window.bridge.map.boards

    assert start(None, look) == 0
    told = capfd.readouterr().err
    assert "the fuse is blown" in told
    assert "Traceback" not in told
    assert [line for line in told.splitlines() if "propagateSizeHints" not in line] == [
        line for line in told.splitlines() if line.startswith("A fault in railmap")
    ]


def test_a_fault_while_painting_is_one_sentence(tmp_path: Path) -> None:
    found = subprocess.run(
        [sys.executable, "-c", PAINT_FAULT, str(tmp_path / "window.ini")],
        cwd=Path(rm.__file__).parents[1], capture_output=True, encoding="utf-8", check=False,
        timeout=20,
    )  # fmt: skip
    assert found.returncode == 0
    assert "A fault in railmap stopped that: ValueError: the pen is dry" in found.stderr
    assert "Traceback" not in found.stderr
    assert found.stdout == ""


def test_the_program_has_a_name_and_an_icon(start: Callable[..., int]) -> None:
    seen: list[Any] = []

    def look(window: Window) -> None:
        seen.extend([QApplication.applicationName(), window.windowIcon().isNull()])

    start(None, look)
    assert seen == ["railmap", False]
