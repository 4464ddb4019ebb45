"""Photo and marks of a board by the buttons of its card: the commands of the floor's menu."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

import railmap as rm
from railmap.ui.canvas.marks import MARK_WORDS
from railmap.ui.card.boardpage import BoardPage
from railmap.ui.window import Window

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def picture(tmp_path: Path, plain_app: Any) -> Path:
    image = QImage(400, 250, QImage.Format.Format_RGB32)
    image.fill(QColor("#806040"))
    path = tmp_path / "board.png"
    assert image.save(str(path))
    return path


@pytest.fixture
def push_button(clerk: Any, window: Window) -> Callable[[str], None]:
    """Click a button of the card by its name."""

    def click(name: str) -> None:
        button = clerk.page.buttons[name]
        window.card.ensureWidgetVisible(button)
        clerk.settle()
        QTest.mouseClick(button, LEFT)
        clerk.settle()

    return click


@pytest.fixture
def page(clerk: Any) -> BoardPage:
    return clerk.pick("board", "Main")


def test_the_buttons_are_those_of_the_menu(
    page: BoardPage, hand: Any, window: Window, clerk: Any, picture: Path
) -> None:
    assert [name for name in page.buttons if name.startswith("photo")] == ["photo put"]
    window.view.boards.put_photo("Main", picture)
    clerk.settle()
    hand.click(60, 85, Qt.MouseButton.RightButton)
    menu = window.view.menu
    assert menu is not None
    (photo,) = [a.menu() for a in menu.actions() if a.menu() and "hoto" in a.text()]
    texts = [action.text().replace("&", "") for action in photo.actions()]
    menu.close()
    buttons = [b for name, b in clerk.page.buttons.items() if name.startswith("photo")]
    assert [b.accessibleName() for b in buttons] == [f"Photo: {text.lower()}" for text in texts]
    assert [b.text() for b in buttons[1:]] == texts[1:]


def test_put_turn_fade_and_remove_by_click(
    page: BoardPage, m: rm.RailMap, window: Window, clerk: Any, picture: Path,
    push_button: Callable[[str], None], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(picture), ""))
    push_button("photo put")
    first = m.boards["Main"].photo
    assert first is not None
    assert window.bridge.history.undo_name == "Put photo under Main"
    push_button("photo turn")
    push_button("photo fade")
    photo = m.boards["Main"].photo
    assert photo == replace(first, turn=90, dim_pct=first.dim_pct + 20)
    push_button("photo bring_out")
    assert m.boards["Main"].photo == replace(first, turn=90)
    # The form below says the same.
    assert clerk.page.photo.editors["turn"].text() == "90"
    push_button("photo remove")
    assert m.boards["Main"].photo is None
    assert clerk.page.photo is None
    assert window.bridge.history.undo_name == "Remove photo of Main"


def test_scale_by_click(
    page: BoardPage, m: rm.RailMap, window: Window, hand: Any, picture: Path, clerk: Any,
    push_button: Callable[[str], None],
) -> None:  # fmt: skip
    window.view.boards.put_photo("Main", picture)
    clerk.settle()
    push_button("photo scale")
    hand.click(20, 85)
    hand.click(120, 85)
    QTest.keyClicks(window.view.editor.line, "50")
    QTest.keyClick(window.view.editor.line, Qt.Key.Key_Return)
    photo = m.boards["Main"].photo
    assert photo is not None
    assert photo.mm_per_pixel == pytest.approx(0.2, rel=0.02)


@pytest.mark.parametrize("kind", MARK_WORDS)
def test_a_mark_is_added_where_the_board_is_seen(
    page: BoardPage, m: rm.RailMap, window: Window, clerk: Any, kind: str,
    push_button: Callable[[str], None],
) -> None:  # fmt: skip
    push_button(f"mark {kind}")
    (mark,) = m.boards["Main"].marks
    assert (mark.kind, mark.x_mm, mark.y_mm) == (kind, pytest.approx(80), pytest.approx(50))
    line = window.view.editor.line
    assert line.hasFocus()
    assert line.accessibleName() == MARK_WORDS[kind]
    QTest.keyClicks(line, "brown")
    QTest.keyClick(line, Qt.Key.Key_Return)
    clerk.settle()
    assert m.boards["Main"].marks[0].text == "brown"
    assert clerk.page.marks[0].editors["text"].text() == "brown"


def test_marks_do_not_lie_on_each_other(
    page: BoardPage, m: rm.RailMap, push_button: Callable[[str], None]
) -> None:
    for _ in range(5):
        push_button("mark note")
    places = {(mark.x_mm, mark.y_mm) for mark in m.boards["Main"].marks}
    assert len(places) == 5


def test_a_board_out_of_sight_is_brought_into_it(
    page: BoardPage, m: rm.RailMap, window: Window, push_button: Callable[[str], None]
) -> None:
    window.view.zoom(20, QPointF(window.view.viewport().rect().bottomRight()))
    window.view.horizontalScrollBar().setValue(window.view.horizontalScrollBar().maximum())
    push_button("mark scorch")
    (mark,) = m.boards["Main"].marks
    assert 0 <= mark.x_mm <= 160
    assert 0 <= mark.y_mm <= 100
    shown = window.view.mapToScene(window.view.viewport().rect()).boundingRect()
    assert shown.contains(window.view.floor.marks[0].pos())


def test_buttons_by_keyboard_keep_the_keyboard(
    page: BoardPage, m: rm.RailMap, window: Window, clerk: Any, picture: Path
) -> None:
    window.view.boards.put_photo("Main", picture)
    clerk.settle()
    clerk.page.buttons["photo turn"].setFocus()
    for turn in (90, 180):
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
        clerk.settle()
        assert m.boards["Main"].photo is not None
        assert m.boards["Main"].photo.turn == turn
    clerk.page.buttons["photo remove"].setFocus()
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    clerk.settle()
    assert m.boards["Main"].photo is None
    focus = QApplication.focusWidget()
    assert focus is not None
    assert window.card.isAncestorOf(focus)
    window.view.setFocus()
    window.commands["go_card"].trigger()
    assert clerk.page.isAncestorOf(QApplication.focusWidget())


def test_buttons_follow_a_new_name(
    page: BoardPage, m: rm.RailMap, clerk: Any, push_button: Callable[[str], None]
) -> None:
    clerk.fill("name", "Power")
    push_button("mark pin")
    assert [mark.kind for mark in m.boards["Power"].marks] == ["pin"]
