"""Photo and marks of a board: put there, scaled, turned, faded, painted, taken away."""

import base64
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QBuffer, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog

import railmap as rm
from railmap.errors import FileError, MapError
from railmap.model.board import Board, Mark, Photo
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.canvas import photos
from railmap.ui.canvas.photos import LONGEST_PX, photo_from
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.window import Window

LEFT = Qt.MouseButton.LeftButton


def draw(wide: int, high: int) -> QImage:
    """A picture that is red on the left and blue on the right."""
    image = QImage(wide, high, QImage.Format.Format_RGB32)
    image.fill(QColor("#0000ff"))
    painter = QPainter(image)
    painter.fillRect(0, 0, wide // 2, high, QColor("#ff0000"))
    painter.end()
    return image


def image_of(photo: Photo) -> QImage:
    return QImage.fromData(photo.data, "JPG")


@pytest.fixture
def board() -> Board:
    return Board("Main", 160, 100)


@pytest.fixture
def picture(tmp_path: Path, plain_app: Any) -> Path:
    path = tmp_path / "board.png"
    assert draw(800, 500).save(str(path))
    return path


@pytest.mark.parametrize(
    ("size", "kept"),
    [((800, 500), (800, 500)), ((4000, 1000), (2000, 500)), ((300, 3000), (200, 2000))],
)
@pytest.mark.parametrize("ending", ["png", "jpg"])
def test_a_picture_is_made_small_and_fills_the_width(
    tmp_path: Path, board: Board, size: tuple[int, int], kept: tuple[int, int], ending: str
) -> None:
    path = tmp_path / f"board.{ending}"
    draw(*size).save(str(path))
    photo = photo_from(path, board)
    image = image_of(photo)
    assert (image.width(), image.height()) == kept
    assert max(kept) <= LONGEST_PX
    assert photo.mm_per_pixel * image.width() == pytest.approx(160)


def test_what_is_transparent_becomes_white(tmp_path: Path, board: Board) -> None:
    image = QImage(40, 40, QImage.Format.Format_ARGB32)
    image.fill(Qt.GlobalColor.transparent)
    path = tmp_path / "clear.png"
    image.save(str(path))
    assert image_of(photo_from(path, board)).pixelColor(20, 20).lightness() > 250


@pytest.mark.parametrize("what", ["text", "cut off", "gone", "huge", "gif", "empty", "folder"])
def test_what_is_no_picture_gives_one_sentence(
    tmp_path: Path, board: Board, picture: Path, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "it.png"
    data = picture.read_bytes()
    if what == "text":
        path.write_text("no picture")
    elif what == "cut off":
        path.write_bytes(data[: len(data) // 3])
    elif what == "gif":
        path.write_bytes(b"GIF89a" + bytes(60))
    elif what == "empty":
        path.write_bytes(b"")
    elif what == "folder":
        path.mkdir()
    elif what == "huge":
        monkeypatch.setattr(photos, "MOST_PIXELS", 1000)
        path = picture
    with pytest.raises(FileError) as caught:
        photo_from(path, board)
    assert path.name in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("jpeg", ["", "????", "AAAA", "no base 64", "/9j/é"])
def test_a_photo_that_is_none_is_refused_by_the_map(jpeg: str) -> None:
    with pytest.raises(MapError, match="the photo is no"):
        Photo(jpeg)


def test_a_file_with_a_bad_photo_is_refused_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "bad.railmap"
    path.write_text(
        '{"format": "railmap", "version": 1, "boards": [{"name": "Main", "width_mm": 100,'
        ' "height_mm": 50, "photo": {"jpeg": "AAAA"}}]}'
    )
    with pytest.raises(FileError, match=r"boards\[0\] Main, photo: the photo is no JPEG picture"):
        rm.load(path)


def test_one_file_is_the_whole_map(window: Window, picture: Path, tmp_path: Path) -> None:
    window.view.boards.put_photo("Main", picture)
    m = window.bridge.map
    picture.unlink()
    rm.save(m, tmp_path / "map.railmap")
    again = rm.load(tmp_path / "map.railmap")
    assert again == m
    assert again.boards["Main"].photo is not None


def test_choose_a_photo(
    window: Window, m: rm.RailMap, picture: Path, monkeypatch: pytest.MonkeyPatch, check_undo: None
) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(picture), ""))
    window.view.boards.choose_photo("Main")
    assert m.boards["Main"].photo is not None
    assert window.bridge.history.undo_name == "Put photo under Main"


def test_a_photo_that_cannot_be_read_changes_nothing(
    window: Window, m: rm.RailMap, tmp_path: Path, troubles: list[str]
) -> None:
    before = m.document()
    window.view.boards.put_photo("Main", tmp_path / "gone.png")
    assert len(troubles) == 1
    assert troubles[0].endswith("no such file or directory.")
    assert m.document() == before


def test_scale_by_two_points_and_their_distance(
    hand: Any, window: Window, m: rm.RailMap, picture: Path, check_undo: None
) -> None:
    window.view.boards.put_photo("Main", picture)
    window.view.boards.start_scaling("Main")
    hand.click(20, 85)
    assert window.status.hint.text().startswith("Click another point")
    hand.click(120, 85)
    window.activateWindow()
    line = window.view.editor.line
    QTest.keyClicks(line, "-5")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert window.view.editor.reason.text() == "The distance must be above 0, is -5.0."
    line.setText("50")
    QTest.keyClick(line, Qt.Key.Key_Return)
    photo = m.boards["Main"].photo
    assert photo is not None
    assert photo.mm_per_pixel == pytest.approx(0.1, rel=0.02)
    # The first point is where it was.
    assert photo.x_mm == pytest.approx(10, abs=0.5)
    assert window.bridge.history.undo_name == "Scale photo of Main"


def test_escape_gives_scaling_up(hand: Any, window: Window, picture: Path) -> None:
    window.view.boards.put_photo("Main", picture)
    items = len(window.view.floor.items())
    window.view.boards.start_scaling("Main")
    hand.click(20, 85)
    hand.move(80, 85)
    hand.key(Qt.Key.Key_Escape)
    hand.click(120, 85)
    assert not window.view.editor.line.isVisible()
    assert len(window.view.floor.items()) == items


def test_turn_fade_and_remove(window: Window, m: rm.RailMap, picture: Path, check_undo: None):
    work = window.view.boards
    work.put_photo("Main", picture)
    work.turn_photo("Main")
    work.dim_photo("Main", 1)
    photo = m.boards["Main"].photo
    assert photo is not None
    assert (photo.turn, photo.dim_pct) == (90, 60)
    for _ in range(9):
        work.dim_photo("Main", -1)
    assert m.boards["Main"].photo == replace(photo, dim_pct=0.0)
    work.remove_photo("Main")
    assert m.boards["Main"].photo is None


@pytest.mark.parametrize(("turn", "left"), [(0, "red"), (180, "blue")])
@pytest.mark.parametrize("pixels_a_mm", [1.0, 4.0, 12.0])
def test_the_photo_is_painted_under_the_parts_in_its_place(
    plain_app: Any, board: Board, picture: Path, render: Callable[..., np.ndarray], turn: int,
    left: str, pixels_a_mm: float,
) -> None:  # fmt: skip
    m = rm.RailMap()
    photo = photo_from(picture, board)
    m.boards["Main"] = replace(board, photo=replace(photo, turn=turn, dim_pct=0.0))
    m.add(rm.Resistor("R1", "A", "B", ohms=5, board="Main", place=rm.Place(80, 50)))
    scene = FloorScene(themes.light(), plain_app)
    scene.show_map(m)
    found = render(scene, QRectF(0, 0, 160, 100), pixels_a_mm)
    at = {
        "left": found[round(80 * pixels_a_mm), round(30 * pixels_a_mm)],
        "right": found[round(80 * pixels_a_mm), round(130 * pixels_a_mm)],
        "part": found[round(57 * pixels_a_mm), round(67 * pixels_a_mm)],
    }
    scene.deleteLater()
    red, blue = np.array([255, 0, 0]), np.array([0, 0, 255])
    wanted = (red, blue) if left == "red" else (blue, red)
    assert np.abs(at["left"] - wanted[0]).max() < 30
    assert np.abs(at["right"] - wanted[1]).max() < 30
    assert at["part"].min() > 150  # the tile lies on the photo


# Qt says it too, in its own words.
@pytest.mark.qt_log_ignore("JPEG datastream contains no image", extend=True)
def test_a_photo_that_no_reader_takes_is_told_on_the_board(
    plain_app: Any, board: Board, render: Callable[..., np.ndarray]
) -> None:
    scene = FloorScene(themes.light(), plain_app)
    m = rm.RailMap()
    m.boards["Main"] = board
    scene.show_map(m)
    plain = render(scene, QRectF(0, 0, 160, 100))
    m.boards["Main"] = replace(board, photo=Photo("/9j/"))
    scene.show_map(m)
    assert np.abs(render(scene, QRectF(0, 0, 160, 100)) - plain).max() > 100
    scene.deleteLater()


def test_mark_say_move_and_remove(
    hand: Any, window: Window, m: rm.RailMap, settle: Any, check_undo: None
) -> None:
    window.activateWindow()
    window.view.boards.add_mark("Main", "scorch", QPointF(50, 85))
    settle()
    QTest.keyClicks(window.view.editor.line, "under R1")
    QTest.keyClick(window.view.editor.line, Qt.Key.Key_Return)
    settle()
    (mark,) = m.boards["Main"].marks
    assert (mark.kind, mark.x_mm, mark.y_mm, mark.text) == ("scorch", 50, 85, "under R1")
    assert len(mark.date) == 10
    assert window.bridge.selection == Picked("board", "Main")
    hand.drag((50, 85), (60, 80))
    moved = m.boards["Main"].marks[0]
    assert (moved.x_mm, moved.y_mm) == pytest.approx((60, 80), abs=0.5)
    assert moved == replace(mark, x_mm=moved.x_mm, y_mm=moved.y_mm)
    (item,) = window.view.floor.marks
    assert "under R1" in item.toolTip()
    window.view.boards.change_mark("Main", 0, None)
    settle()
    assert m.boards["Main"].marks == ()
    assert window.view.floor.marks == []


def test_the_menu_of_a_board(hand: Any, window: Window, m: rm.RailMap, settle: Any) -> None:
    hand.click(60, 85, Qt.MouseButton.RightButton)
    menu = window.view.menu
    assert menu is not None
    menus = {a.text().replace("&", ""): a.menu() for a in menu.actions() if a.menu()}
    assert {"Photo", "Mark here", "Grid"} <= set(menus)
    assert [a.isEnabled() for a in menus["Photo"].actions()] == [True] + 5 * [False]
    next(a for a in menus["Mark here"].actions() if a.text() == "Swollen or leaking").trigger()
    menu.close()
    settle()
    assert m.boards["Main"].marks[0].kind == "bulge"


@pytest.mark.parametrize("kind", ["note", "pin", "scorch", "bulge"])
def test_every_kind_of_mark_is_painted(
    plain_app: Any, board: Board, render: Callable[..., np.ndarray], kind: Any,
    theme: themes.Theme,
) -> None:  # fmt: skip
    scene = FloorScene(theme, plain_app)
    m = rm.RailMap()
    m.boards["Main"] = board
    scene.show_map(m)
    box = QRectF(40, 40, 60, 20)
    plain = render(scene, box)
    m.boards["Main"] = replace(board, marks=(Mark(kind, 50, 50, "2024-05-06", "brown"),))
    scene.show_map(m)
    marked = render(scene, box)
    scene.set_theme(themes.dark() if not theme.dark else themes.light())
    assert np.abs(marked - plain).max() > 60
    scene.deleteLater()


def test_jpeg_as_qt_writes_it_is_taken(plain_app: Any) -> None:
    data = QBuffer()
    data.open(QBuffer.OpenModeFlag.WriteOnly)
    assert draw(20, 10).save(data, "JPG", 80)
    photo = Photo(base64.b64encode(data.data().data()).decode("ascii"))
    assert image_of(photo).width() == 20
