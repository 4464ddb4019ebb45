"""Ten thousand things that a user may do, at random but the same each time.

Nothing of it may raise, warn (either fails the test by itself), lose the map, or leave a file that
does not load as what was saved.
"""

import random
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtPrintSupport import QPrintDialog
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QDialog,
    QFileDialog,
    QInputDialog,
    QLineEdit,
    QMenu,
    QMessageBox,
    QWidget,
)

import railmap as rm
from railmap.resources import data_dir
from railmap.ui.window import Window

EXAMPLE = data_dir("example_boards") / "small_receiver.railmap"
ACTIONS, ROUND = 10_000, 500
LEFT, RIGHT = Qt.MouseButton.LeftButton, Qt.MouseButton.RightButton
NONE = Qt.KeyboardModifier.NoModifier
MODIFIERS = (
    NONE, NONE, NONE, Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier,
)  # fmt: skip
KEYS = (
    Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Tab,
    Qt.Key.Key_Return, Qt.Key.Key_Escape, Qt.Key.Key_Delete, Qt.Key.Key_Backspace, Qt.Key.Key_Home,
    Qt.Key.Key_End, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_Space, Qt.Key.Key_R,
    Qt.Key.Key_D, Qt.Key.Key_0, Qt.Key.Key_Plus, Qt.Key.Key_Minus, Qt.Key.Key_F2,
)  # fmt: skip
TYPED = ("R7", "4k7", "150R", "nonsense", "22 W", "+12", "Main", "1/2W", "1,5", "-6V8", "0", "1e99")
LEAVES_THE_MAP = ("open", "save", "quit", "close", "new")


class Monkey:
    """Hands on a window that do one thing after the other."""

    def __init__(self, window: Window, settle: Callable[[], None], seed: int) -> None:
        self.window, self.settle, self.random = window, settle, random.Random(seed)
        self.done: list[str] = []
        self.commands = [
            name for name in window.commands.actions if not name.startswith(LEAVES_THE_MAP)
        ]

    def act(self) -> None:
        """Do one thing."""
        doings = (
            (self.click, 30), (self.drag, 14), (self.key, 30), (self.type, 8), (self.command, 8),
            (self.undo, 6), (self.drift, 4), (self.mains, 2), (self.tab, 3), (self.setup, 1),
            (self.wheel, 4), (self.revision, 2),
        )  # fmt: skip
        doing = self.random.choices([d for d, _ in doings], [w for _, w in doings])[0]
        self.done.append(doing.__name__)
        doing()

    def _widget(self) -> QWidget:
        window = self.window
        places = [
            window.view.viewport(), window.view.viewport(), window.ladder,
            window.drawer.currentWidget() or window.view.viewport(), window.card,
        ]  # fmt: skip
        return self.random.choice(places)

    def _spot(self, widget: QWidget) -> QPoint:
        return QPoint(
            self.random.randrange(max(1, widget.width())),
            self.random.randrange(max(1, widget.height())),
        )

    def _under(self, widget: QWidget, spot: QPoint) -> tuple[QWidget, QPoint]:
        child = widget.childAt(spot)
        return (widget, spot) if child is None else (child, child.mapFrom(widget, spot))

    def click(self) -> None:
        widget = self._widget()
        target, spot = self._under(widget, self._spot(widget))
        if isinstance(target, QComboBox):
            return
        if self.random.random() < 0.1:
            QTest.mouseDClick(target, LEFT, self.random.choice(MODIFIERS), spot)
        else:
            QTest.mouseClick(target, LEFT, self.random.choice(MODIFIERS), spot)

    def drag(self) -> None:
        widget = self.window.view.viewport()
        start, end = self._spot(widget), self._spot(widget)
        modifier = self.random.choice(MODIFIERS)
        QTest.mousePress(widget, LEFT, modifier, start)
        for part in (1, 2, 3):
            QTest.mouseMove(widget, start + (end - start) * (part / 3))
        if self.random.random() < 0.1:
            QTest.keyClick(widget, Qt.Key.Key_Escape)
        QTest.mouseRelease(widget, LEFT, modifier, end)

    def key(self) -> None:
        target = QApplication.focusWidget() or self.window.view
        QTest.keyClick(target, self.random.choice(KEYS), self.random.choice(MODIFIERS))

    def type(self) -> None:
        target = QApplication.focusWidget()
        if isinstance(target, QLineEdit):
            target.selectAll()
        if target is not None:
            QTest.keyClicks(target, self.random.choice(TYPED))
            QTest.keyClick(QApplication.focusWidget() or target, Qt.Key.Key_Return)

    def command(self) -> None:
        name = self.random.choice(self.commands)
        self.done[-1] = name
        if self.window.commands[name].isEnabled():
            self.window.commands[name].trigger()

    def undo(self) -> None:
        self.window.commands[self.random.choice(["undo", "undo", "redo"])].trigger()

    def drift(self) -> None:
        parts = [ref for ref, p in self.window.bridge.map.parts.items() if p.main_field]
        if parts:
            ref = self.random.choice(parts)
            now = self.window.bridge.map.parts[ref].now() or 1.0
            self.window.bridge.set_drift(ref, now * self.random.uniform(0.5, 2))
            if self.random.random() < 0.5:
                self.window.bridge.end_drift()

    def mains(self) -> None:
        self.window.bridge.set_mains(self.random.uniform(180, 260))

    def tab(self) -> None:
        self.window.drawer.setCurrentIndex(self.random.randrange(self.window.drawer.count()))

    def setup(self) -> None:
        box = self.window.setup_box
        if box.count():
            box.setCurrentIndex(self.random.randrange(box.count()))

    def revision(self) -> None:
        """Choose something in the menu of revisions; where that asks, give a name."""
        desk = self.window.revisions
        desk.fill()
        actions = [a for menu in (desk.menu, *desk.changes.values()) for a in menu.actions()]
        self.random.choice([a for a in actions if a.isEnabled() and not a.isSeparator()]).trigger()
        line = self.window.view.editor.line
        if line.hasFocus():
            line.selectAll()
            QTest.keyClicks(line, self.random.choice(("late", "early", "A & B", " ", "")))
            QTest.keyClick(line, Qt.Key.Key_Return)

    def wheel(self) -> None:
        for name in ("zoom_in", "zoom_out", "fit"):
            if self.random.random() < 0.4:
                self.window.commands[name].trigger()


@pytest.fixture
def nothing_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every question that would wait for an answer be turned down at once."""
    for name in ("getOpenFileName", "getSaveFileName", "getExistingDirectory"):
        monkeypatch.setattr(QFileDialog, name, lambda *a, **k: ("", ""))
    for name in ("getText", "getDouble", "getItem", "getInt"):
        monkeypatch.setattr(QInputDialog, name, lambda *a, **k: ("", False))
    monkeypatch.setattr(QMessageBox, "exec", lambda _: QMessageBox.StandardButton.Cancel)
    for dialog in (QDialog, QPrintDialog):
        monkeypatch.setattr(dialog, "exec", lambda _: 0)
    monkeypatch.setattr(QMenu, "exec", lambda *a, **k: None)


@pytest.mark.usefixtures("nothing_asks")
def test_ten_thousand_things(
    make_window: Callable[[], Window], settle: Callable[[], None], tmp_path: Path
) -> None:
    window = make_window()
    window.bridge.open_map(rm.load(EXAMPLE), None)
    settle()
    monkey = Monkey(window, settle, seed=20261125)
    for step in range(1, ACTIONS + 1):
        monkey.act()
        if step % 20 == 0:
            settle()
        for popup in (QApplication.activePopupWidget(), QApplication.activeModalWidget()):
            if popup is not None:
                popup.close()
        if step % ROUND == 0:
            window.bridge.end_drift()
            path = tmp_path / "map.railmap"
            rm.save(window.bridge.map, path)
            assert rm.load(path) == window.bridge.map, monkey.done[-ROUND:]
            if len(window.bridge.map.parts) < 3:
                window.bridge.open_map(rm.load(EXAMPLE), None)
    while window.bridge.history.undo_name is not None:
        window.bridge.undo()
    while window.bridge.history.redo_name is not None:
        window.bridge.redo()
    rm.save(window.bridge.map, path)
    assert rm.load(path) == window.bridge.map
