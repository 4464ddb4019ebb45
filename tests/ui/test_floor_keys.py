"""The floor by keyboard: from part to part, and small moves."""

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication

import railmap as rm
from railmap.ui.bridge import Picked
from railmap.ui.canvas.view import FloorView
from railmap.ui.window import Window

CONTROL = Qt.KeyboardModifier.ControlModifier
ARROWS = {
    "left": Qt.Key.Key_Left, "right": Qt.Key.Key_Right,
    "up": Qt.Key.Key_Up, "down": Qt.Key.Key_Down,
}  # fmt: skip


def place_of(m: rm.RailMap, ref: str) -> tuple[float, float]:
    place = m.parts[ref].place
    assert place is not None
    return place.x_mm, place.y_mm


@pytest.mark.parametrize(
    ("start", "way", "end"),
    [("V1", "right", "R1"), ("R1", "left", "V1"), ("R1", "down", "R2"), ("R3", "down", "L1"),
     ("L1", "up", "R3"), ("V1", "left", "V1")],
)  # fmt: skip
def test_arrow_keys_go_from_part_to_part(
    hand: Any, window: Window, start: str, way: str, end: str
) -> None:
    window.bridge.pick(Picked("part", start))
    hand.key(ARROWS[way])
    assert window.bridge.selection == Picked("part", end)


def test_an_arrow_key_begins_with_the_first_part(hand: Any, window: Window) -> None:
    hand.key(ARROWS["right"])
    assert window.bridge.selection == Picked("part", "V1")


def test_arrow_keys_reach_every_part(hand: Any, window: Window, m: rm.RailMap) -> None:
    seen = {"V1"}
    for _ in range(4):
        for ref in list(seen):
            for arrow in ARROWS.values():
                window.bridge.pick(Picked("part", ref))
                hand.key(arrow)
                seen.add(window.bridge.selection.key)
    assert seen == set(m.parts)


def test_arrow_keys_on_an_empty_floor(hand: Any, window: Window) -> None:
    window.bridge.open_map(rm.RailMap(), None)
    hand.key(ARROWS["down"])
    assert window.bridge.selection == Picked()


def test_control_and_an_arrow_move_the_part_a_little(
    hand: Any, window: Window, m: rm.RailMap
) -> None:
    window.bridge.pick(Picked("part", "R1"))
    hand.key(ARROWS["right"], CONTROL)
    hand.key(ARROWS["right"], CONTROL)
    hand.key(ARROWS["up"], CONTROL)
    assert place_of(m, "R1") == (82, 29)


def test_mirror_puts_the_first_pin_on_the_other_side(
    hand: Any, window: Window, push: Callable[[str], None]
) -> None:
    x, y = hand.pin("R1", "a")
    window.bridge.pick(Picked("part", "R1"))
    push("turn")
    assert hand.pin("R1", "a") == pytest.approx((x + 30, y))
    push("turn")
    assert hand.pin("R1", "a") == pytest.approx((x, y))


def test_escape_selects_nothing(hand: Any, window: Window) -> None:
    hand.click(*hand.middle("R1"))
    hand.key(Qt.Key.Key_Escape)
    assert window.bridge.selection == Picked()


@pytest.mark.parametrize("key", [0x416, 0x3A9, 0x5D0, 0x1000000 + 0xFFF])
def test_a_key_without_a_name_does_nothing(view: FloorView, m: rm.RailMap, key: int) -> None:
    before = m.document()
    event = QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, "Ж")
    QApplication.sendEvent(view, event)
    assert m.document() == before
