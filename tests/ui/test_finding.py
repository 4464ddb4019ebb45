"""The find box: matches light up, Enter goes on, the selection and the views follow."""

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

import railmap as rm
from railmap.model.railmap import Change
from railmap.ui.bridge import Picked
from railmap.ui.ladder.found import boxes_found
from railmap.ui.window import Window

K = Qt.Key
Type = Callable[[str], None]


@pytest.fixture
def write(window: Window, settle: Callable[[], None]) -> Type:
    """Call the box by its key, and type."""
    window.activateWindow()
    settle()

    def keys(text: str) -> None:
        QTest.keyClick(window, K.Key_F, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClicks(window.finder.line, text)
        settle()

    return keys


def test_its_key_gives_it_the_keyboard(window: Window, write: Type) -> None:
    write("R")
    assert window.finder.line.hasFocus()
    write("V1")
    assert window.finder.line.text() == "V1"


def test_matches_light_up_before_anything_is_selected(window: Window, write: Type) -> None:
    write("R2")
    assert window.bridge.selection == Picked()
    assert window.rings.rects == [window.view.floor.layout.tiles["R2"]]
    assert window.ladder.found == {("part", "R2")}
    assert window.finder.count.text() == "1"


def test_enter_goes_on_and_comes_round(window: Window, write: Type) -> None:
    write("R")
    picked = []
    for _ in range(5):
        QTest.keyClick(window.finder.line, K.Key_Return)
        picked.append(window.bridge.selection.key)
    assert picked == ["R1", "R2", "R3", "RAW", "R1"]
    assert window.finder.count.text() == "1/4"
    QTest.keyClick(window.finder.line, K.Key_Return, Qt.KeyboardModifier.ShiftModifier)
    assert window.bridge.selection == Picked("rail", "RAW")
    assert window.finder.line.hasFocus()


def test_the_next_is_reached_from_elsewhere(window: Window, write: Type) -> None:
    write("R")
    window.view.setFocus()
    window.commands["find_next"].trigger()
    window.commands["find_next"].trigger()
    assert window.bridge.selection == Picked("part", "R2")
    window.commands["find_before"].trigger()
    assert window.bridge.selection == Picked("part", "R1")


def test_all_views_show_what_was_gone_to(
    window: Window, write: Type, settle: Callable[[], None]
) -> None:
    window.view.zoom(0.2)
    window.ladder.zoom_to(Picked("rail", "B"))
    write("+12")
    QTest.keyClick(window.finder.line, K.Key_Return)
    settle()
    assert window.card.page.about == Picked("rail", "RAW")
    assert window.drawer.rails.selectionModel().selectedRows()[0].data() == "+12"
    sight = window.view.mapToScene(window.view.viewport().rect()).boundingRect()
    assert any(sight.intersects(rect) for rect in window.rings.rects)
    assert window.view.transform().m11() > 1
    assert window.ladder.scene.sight.low <= 12 <= window.ladder.scene.sight.high
    assert boxes_found(window.ladder.scene.drawing(), window.ladder.found)


def test_what_is_seen_well_stays_where_it_is(window: Window, write: Type) -> None:
    window.view.zoom_to(Picked("part", "R1"))
    corner = window.view.mapToScene(0, 0)
    write("R1")
    QTest.keyClick(window.finder.line, K.Key_Return)
    assert window.view.mapToScene(0, 0) == corner


def test_escape_ends_it(window: Window, write: Type) -> None:
    write("R1")
    QTest.keyClick(window.finder.line, K.Key_Escape)
    assert window.finder.line.text() == ""
    assert window.finder.count.isHidden()
    assert window.rings.rects == []
    assert window.ladder.found == frozenset()
    assert window.view.hasFocus()


def test_nothing_is_found(window: Window, write: Type) -> None:
    write("R99")
    assert window.finder.count.text() == "none"
    assert "none" in window.finder.count.accessibleName()
    QTest.keyClick(window.finder.line, K.Key_Return)
    assert window.bridge.selection == Picked()


def test_it_follows_the_map(window: Window, write: Type, settle: Callable[[], None]) -> None:
    write("R")
    QTest.keyClick(window.finder.line, K.Key_Return)
    QTest.keyClick(window.finder.line, K.Key_Return)
    window.bridge.do("Delete R1", [Change("parts", "R1", None)])
    settle()
    assert window.finder.count.text() == "1/3"
    assert len(window.rings.rects) == 2 + sum(
        tag.node == "RAW" for tag in window.view.floor.tags
    )  # fmt: skip
    part = window.bridge.map.parts["R2"]
    window.bridge.change_part("Move R2", part.changed(place=rm.Place(60, 80)))
    settle()
    assert window.view.floor.layout.tiles["R2"] in window.rings.rects


def test_rings_are_to_be_seen_in_both_views(
    window: Window, write: Type, pixels: Any, settle: Callable[[], None]
) -> None:
    def ringed(widget: Any) -> int:
        colour = window.theme.found
        wanted = [colour.red(), colour.green(), colour.blue()]
        return int((abs(pixels(widget.grab().toImage()) - wanted).max(axis=2) < 8).sum())

    assert ringed(window.view) == ringed(window.ladder) == 0
    write("R1")
    assert ringed(window.view) > 60
    assert ringed(window.ladder) > 20
    window.commands["theme"].trigger()
    settle()
    assert ringed(window.view) > 60
