"""A real window on a real display: it paints, it takes a click and a key, and it closes."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QColor, QGuiApplication, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

import railmap as rm
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.window import Window

pytestmark = pytest.mark.window
TOOL = shutil.which("xdotool")
RECORDER = next(path for path in example_paths() if path.stem == "portable_tape_recorder")
WAIT_MS = 8000
Screen = Callable[..., np.ndarray]


def tool(*words: str | int) -> str:
    """Run xdotool, which works the display's mouse and keyboard."""
    assert TOOL is not None
    found = subprocess.run(
        [TOOL, *map(str, words)], capture_output=True, encoding="utf-8", check=False, timeout=10
    )
    return found.stdout.strip()


def click(widget: QWidget, at: QPoint) -> None:
    if TOOL is None:
        QTest.mouseClick(widget, Qt.MouseButton.LeftButton, pos=at)
        return
    place = widget.mapToGlobal(at)
    tool("mousemove", place.x(), place.y(), "click", 1)


def press(widget: QWidget, name: str, key: Qt.Key) -> None:
    if TOOL is None:
        QTest.keyClick(widget, key)
        return
    # Without a window manager nothing gives the keyboard to a window.
    tool("windowfocus", int(widget.window().winId()))
    tool("key", name)


def part_of(picture: np.ndarray, colour: QColor) -> float:
    """How much of a picture has a colour."""
    wanted = np.array([colour.red(), colour.green(), colour.blue()])
    return float(np.mean(np.abs(picture - wanted).max(axis=2) < 6))


@pytest.fixture
def screen(pixels: Callable[[QImage], np.ndarray]) -> Screen:
    """What the display shows, of every program; a widget's piece of it or all."""

    def grab(widget: QWidget | None = None, box: QRect | None = None) -> np.ndarray:
        place = (0, 0, -1, -1)
        if widget is not None:
            box = widget.rect() if box is None else box
            corner = widget.mapToGlobal(box.topLeft())
            place = (corner.x(), corner.y(), box.width(), box.height())
        return pixels(QGuiApplication.primaryScreen().grabWindow(0, *place).toImage())

    return grab


@pytest.fixture
def real(make_window: Callable[[], Window], qtbot: Any, settle: Callable[[], None]) -> Window:
    assert QGuiApplication.platformName() != "offscreen"
    window = make_window()
    window.move(0, 0)
    window.resize(1200, 760)
    window.open_path(RECORDER)
    window.activateWindow()
    with qtbot.waitExposed(window):
        window.show()
    settle()
    return window


@pytest.fixture
def process(tmp_path: Path) -> Iterator[Callable[..., "subprocess.Popen[str]"]]:
    """Start the program as a user does, with a home of its own."""
    started: list[subprocess.Popen[str]] = []

    def start(*words: str) -> "subprocess.Popen[str]":
        home = {"HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path / "config")}
        program = subprocess.Popen(
            [sys.executable, "-m", "railmap", *words], cwd=Path(rm.__file__).parents[1],
            env={**os.environ, **home}, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            encoding="utf-8",
        )  # fmt: skip
        started.append(program)
        return program

    yield start
    for program in started:
        if program.poll() is None:
            program.kill()
        program.communicate()


def test_it_paints(real: Window, screen: Screen, pixels: Any, qtbot: Any) -> None:
    theme = real.theme

    def painted() -> None:
        shown = screen(real.view.viewport())
        assert part_of(shown, theme.board) > 0.1
        assert part_of(shown, theme.floor) > 0.05
        assert part_of(shown, theme.stress[stress_of(real, "R102")]) > 0.001

    qtbot.waitUntil(painted, timeout=WAIT_MS)
    assert pixels(real.grab().toImage()).std() > 10


def stress_of(window: Window, ref: str) -> int:
    return window.view.floor.parts[ref].face.step


def test_a_click_selects_a_part_everywhere(real: Window, screen: Screen, qtbot: Any) -> None:
    view = real.view
    middle = view.floor.layout.tiles["R102"].center() + QPointF(4, 5)
    click(view.viewport(), view.mapFromScene(middle))
    wanted = Picked("part", "R102")
    qtbot.waitUntil(lambda: real.bridge.selection == wanted, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: real.card.page.heading.text().startswith("R102"), timeout=WAIT_MS)
    row = real.drawer.hot.selectionModel().selectedRows()[0]
    assert row.data() == "R102"

    def framed() -> None:
        box = view.floor.layout.tiles["R102"].adjusted(-1, -1, 1, 1)
        shown = screen(view.viewport(), view.mapFromScene(box).boundingRect())
        assert part_of(shown, real.theme.accent) > 0.02

    qtbot.waitUntil(framed, timeout=WAIT_MS)


def test_a_key_deletes_and_the_figures_follow(real: Window, qtbot: Any) -> None:
    view = real.view
    view.setFocus()
    real.bridge.pick(Picked("part", "L12"))
    press(view, "Delete", Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: "L12" not in real.bridge.map.parts, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: "L12" not in view.floor.parts, timeout=WAIT_MS)


def test_it_closes(real: Window, qtbot: Any) -> None:
    if TOOL is None:
        real.close()
    else:
        press(real.view, "ctrl+w", Qt.Key.Key_unknown)
    qtbot.waitUntil(lambda: not real.isVisible(), timeout=WAIT_MS)


@pytest.mark.skipif(TOOL is None, reason="needs xdotool")
def test_the_program_starts_paints_and_ends(
    process: Callable[..., Any], screen: Screen, qtbot: Any, tmp_path: Path
) -> None:
    program = process(str(RECORDER))
    windows: list[str] = []

    def shown() -> None:
        windows[:] = tool(
            "search", "--onlyvisible", "--pid", program.pid, "--name", "railmap"
        ).split()
        assert windows, "no window yet"
        assert "portable_tape_recorder.railmap" in tool("getwindowname", windows[0])
        assert part_of(screen(), themes.light().board) > 0.05

    qtbot.waitUntil(shown, timeout=WAIT_MS)
    tool("windowfocus", "--sync", windows[0])
    tool("key", "ctrl+w")
    qtbot.waitUntil(lambda: program.poll() is not None, timeout=WAIT_MS)
    out, err = program.communicate()
    assert (program.returncode, out) == (0, "")
    assert "Traceback" not in err
    assert "A fault" not in err
    kept = list((tmp_path / "config").rglob("window.ini"))
    assert len(kept) == 1
    assert "portable_tape_recorder" in kept[0].read_text()
