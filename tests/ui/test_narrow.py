"""A small window: nothing is cut off that does not say so."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF, QImage
from PySide6.QtWidgets import QPushButton

import railmap as rm
from railmap.model.board import Mark
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.canvas.group import picked_of
from railmap.ui.canvas.photos import photo_from
from railmap.ui.card.figures import Figures
from railmap.ui.window import Window
from railmap.ui.worksheets.fitting import FittingRow

SIZES = ((900, 700), (1280, 800))


@pytest.fixture
def row(window: Window, settle: Callable[[], None]) -> FittingRow:
    window.drawer.show_sheet("Parts")
    settle()
    return window.drawer.parts.findChild(FittingRow)


def offered(row: FittingRow) -> dict[str, Any]:
    """The buttons that have no room, as the menu shows them."""
    menu = row.more.menu()
    menu.aboutToShow.emit()
    return {action.text().replace("&", ""): action for action in menu.actions()}


@pytest.mark.parametrize("wide", [320, 450, 600, 900])
def test_every_button_of_the_parts_table_is_seen_whole_or_in_the_menu(
    row: FittingRow, window: Window, settle: Callable[[], None], wide: int
) -> None:
    # The drawer is as wide as the room between ladder and card.
    window.resize(window.width() - window.drawer.width() + wide, 700)
    settle()
    buttons = row.findChildren(QPushButton)
    assert len(buttons) == 6
    assert row.width() == pytest.approx(wide, abs=30)
    shown = [button for button in buttons if button.isVisible()]
    for button in shown:
        assert button.width() >= button.sizeHint().width()
        assert button.geometry().right() < row.width()
    names = [button.text().replace("&", "") for button in buttons]
    assert list(offered(row)) == names[len(shown) :]
    assert row.more.isVisible() == (len(shown) < len(buttons))
    assert not row.more.isVisible() or row.more.geometry().right() < row.width()


def test_the_menu_does_what_the_buttons_do(
    row: FittingRow, window: Window, settle: Callable[[], None]
) -> None:
    window.resize(900, 700)
    settle()
    grid = window.drawer.parts.grid
    wanted = list(range(grid.model().columnCount()))
    offered(row)["All columns"].trigger()
    assert not any(grid.isColumnHidden(number) for number in wanted)
    action = offered(row)["All columns"]
    assert action.isChecked()
    action.trigger()
    assert any(grid.isColumnHidden(number) for number in wanted)
    assert row.more.accessibleName() == "More buttons"
    assert all(action.toolTip() for action in offered(row).values())


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", ["small_receiver", "portable_tape_recorder"])
def test_every_page_of_the_card_has_room(
    window: Window, settle: Callable[[], None], name: str, size: tuple[int, int], tmp_path: Path
) -> None:
    m = rm.load(next(path for path in example_paths() if path.stem == name))
    first, *_ = m.boards
    image = QImage(80, 50, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.gray)
    assert image.save(str(tmp_path / "p.png"))
    photo = photo_from(tmp_path / "p.png", m.boards[first])
    marks = (Mark("bulge", 5, 5, "2026-11-25", "a long word about it"),)
    m.boards[first] = replace(m.boards[first], photo=photo, marks=marks)
    m.about = replace(m.about, title="A long title of a piece of equipment, with its number")
    window.resize(*size)
    window.bridge.open_map(m, None)
    kinds = {part.kind: ref for ref, part in m.parts.items()}
    picks = [Picked(), Picked("board", first), Picked("rail", next(iter(m.rails)))]
    picks += [Picked("part", ref) for ref in kinds.values()]
    for what in [*picks, picked_of(m.parts)]:
        window.bridge.pick(what)
        settle()
        assert window.card.page.width() == window.card.viewport().width(), what


@pytest.mark.parametrize("figure", ["+41.23 V", "−1234.56 V", "12.3 mA", "0.716 A²s"])
@pytest.mark.parametrize("wide", [60, 90, 140])
def test_a_figure_is_never_wider_than_its_room(
    plain_app: Any, pixels: Callable[[QImage], Any], figure: str, wide: int
) -> None:
    theme = themes.light()
    widget = Figures(theme)
    widget.show_rows([[("a", figure, "")]], theme)
    widget.resize(wide + 6, Figures.HIGH)
    found = pixels(widget.grab().toImage())
    large = QFont(widget.font())
    large.setPointSizeF(widget.font().pointSizeF() * 1.45)
    large.setBold(True)
    whole = QFontMetricsF(large).horizontalAdvance(figure)
    inked = (found[16:40] != found[0, -1]).any(axis=(0, 2)).nonzero()[0]
    # Cut off, its ink would reach the edge of its room.
    assert inked.max() < wide - 1 if whole > wide else whole
    widget.deleteLater()


def test_the_trace_has_most_of_a_narrow_drawer(window: Window, settle: Callable[[], None]) -> None:
    m = rm.load(next(path for path in example_paths() if path.stem == "small_receiver"))
    window.bridge.open_map(m, None)
    window.drawer.show_sheet("Ripple")
    sheet = window.drawer.ripple
    for size, words in (((900, 700), "ms"), ((1280, 800), "one turn of the mains, ms")):
        window.resize(*size)
        settle()
        assert sheet.plot.width() > sheet.choice.width()
        assert sheet.plot.getAxis("bottom").labelText == words
