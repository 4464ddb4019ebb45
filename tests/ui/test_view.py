"""Gestures on the floor, by mouse and keyboard."""

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtTest import QTest

import railmap as rm
from railmap.ui.bridge import Picked
from railmap.ui.canvas.view import LEAST_SCALE, MOST_SCALE, FloorView
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


def far(one: QPointF, other: QPointF) -> float:
    return (one - other).manhattanLength()


@pytest.mark.parametrize(("kind", "ref"), [("Source", "V2"), ("Resistor", "R4"), ("Load", "X1")])
def test_place_a_part_by_button_and_click(
    hand: Any, m: rm.RailMap, window: Window, push: Callable[[str], None], kind: str, ref: str
) -> None:
    push(f"place {kind}")
    assert window.commands[f"place {kind}"].isChecked()
    hand.move(30, 75)
    hand.click(40, 80)
    part = m.parts[ref]
    assert (part.kind, part.board) == (kind, "Main")
    assert place_of(m, ref) == pytest.approx((40, 80), abs=1)
    assert window.bridge.selection == Picked("part", ref)
    assert not window.commands[f"place {kind}"].isChecked()
    assert window.bridge.history.undo_name == f"Add {ref}"


def test_a_part_that_is_placed_joins_only_new_nodes_or_0_v(
    hand: Any, m: rm.RailMap, push: Callable[[str], None]
) -> None:
    before = set(m.nodes)
    push("place Resistor")
    hand.click(40, 80)
    push("place Load")
    hand.click(90, 85)
    assert not before & set(m.parts["R4"].nodes)
    assert m.parts["X1"].nodes[1] == "0V"
    assert m.parts["X1"].nodes[0] not in before


def test_a_part_that_is_set_on_a_rail_joins_it(
    hand: Any, m: rm.RailMap, push: Callable[[str], None]
) -> None:
    spot = hand.on_rail("RAW")
    push("place Resistor")
    hand.click(*spot)
    assert m.parts["R4"].nodes[0] == "RAW"
    assert m.parts["R4"].nodes[1] not in ("RAW", "A", "B", "0V")


def test_a_part_can_be_placed_beside_the_boards(
    hand: Any, m: rm.RailMap, push: Callable[[str], None]
) -> None:
    push("place Load")
    hand.click(180, 90)
    assert m.parts["X1"].board == ""
    assert place_of(m, "X1") == pytest.approx((180, 90), abs=1)


@pytest.mark.parametrize("way", ["escape", "right button", "button again", "another kind"])
def test_placing_can_be_given_up(
    hand: Any, m: rm.RailMap, window: Window, push: Callable[[str], None], way: str
) -> None:
    before = m.document()
    push("place Resistor")
    hand.move(40, 80)
    if way == "escape":
        hand.key(Qt.Key.Key_Escape)
    elif way == "right button":
        hand.click(40, 80, Qt.MouseButton.RightButton)
    elif way == "button again":
        push("place Resistor")
    else:
        push("place Load")
        assert window.commands["place Load"].isChecked()
        hand.key(Qt.Key.Key_Escape)
    assert not window.commands["place Resistor"].isChecked()
    hand.click(40, 80)
    assert m.document() == before
    assert window.bridge.selection == Picked("board", "Main")


def test_join_pin_to_pin(hand: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    hand.drag(hand.pin("R2", "a"), hand.pin("R1", "a"))
    assert m.parts["R2"].nodes == ("RAW", "0V")
    assert window.bridge.history.undo_name == "Join R2 to RAW"
    window.bridge.undo()
    assert m.document() == before


def test_join_pin_to_rail(hand: Any, m: rm.RailMap) -> None:
    hand.drag(hand.pin("L1", "a"), hand.on_rail("A"))
    assert m.parts["L1"].nodes == ("A", "0V")


def test_join_pin_to_0_v(hand: Any, m: rm.RailMap) -> None:
    hand.drag(hand.pin("R3", "b"), hand.pin("R2", "b"))
    assert m.parts["R3"].nodes == ("A", "0V")


def test_join_says_what_it_would_do(hand: Any, window: Window) -> None:
    hand.carry(hand.pin("R2", "a"), hand.pin("R1", "a"))
    assert window.status.hint.text() == "Join R2 a to RAW"
    hand.move(60, 85)
    assert window.status.hint.text() == "Drop on a pin or a rail"
    hand.release(60, 85)
    assert window.status.hint.text() == ""


def test_a_pin_dropped_on_nothing_stays_where_it_was(hand: Any, m: rm.RailMap) -> None:
    before = m.document()
    hand.drag(hand.pin("L1", "a"), (180, 90))
    assert m.document() == before


def test_a_click_on_a_pin_selects_and_joins_nothing(
    hand: Any, m: rm.RailMap, window: Window
) -> None:
    # Two pins so near that a shaky hand could mean either.
    bridge = rm.Bridge("D1", "X", "Y", "Z", "0V", board="Main", place=rm.Place(50, 80))
    m.add(bridge)
    window.bridge.open_map(m, None)
    window.view.zoom(0.4)
    x, y = hand.pin("D1", "ac1")
    hand.drag((x, y), (x, y + 3.5))
    assert m.parts["D1"].nodes == bridge.nodes
    assert window.bridge.selection == Picked("part", "D1")


def test_move_a_part(hand: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    x, y = hand.middle("R1")
    hand.drag((x, y), (x + 10, y + 15))
    assert m.parts["R1"].board == "Main"
    assert place_of(m, "R1") == (90, 45)
    assert hand.middle("R1") == (90, 45)
    assert window.bridge.history.undo_name == "Move R1"
    window.bridge.undo()
    assert m.document() == before


def test_move_a_part_to_another_board(hand: Any, m: rm.RailMap) -> None:
    hand.drag(hand.middle("R2"), (230, 70))
    assert m.parts["R2"].board == "Side"
    assert place_of(m, "R2") == (30, 70)
    assert m.parts["R2"].nodes == ("A", "0V")


def test_move_a_part_off_the_boards(hand: Any, m: rm.RailMap) -> None:
    hand.drag(hand.middle("R2"), (180, 90))
    assert m.parts["R2"].board == ""
    assert place_of(m, "R2") == (180, 90)


def test_a_shaky_click_moves_nothing(hand: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    x, y = hand.middle("R1")
    hand.drag((x, y), (x + 0.8, y))
    assert m.document() == before
    assert window.bridge.selection == Picked("part", "R1")


def test_a_small_tile_can_still_be_gripped(hand: Any, m: rm.RailMap, view: FloorView) -> None:
    view.zoom(0.3 / view.transform().m11())
    x, y = hand.middle("R1")
    hand.drag((x, y), (x, y + 40))
    assert place_of(m, "R1") == pytest.approx((80, 70), abs=4)
    assert m.parts["R1"].nodes == ("RAW", "A")


def test_move_a_board_with_its_parts(hand: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    hand.drag((240, 5), (252, 25))
    assert (m.boards["Side"].x_mm, m.boards["Side"].y_mm) == (212, 20)
    assert place_of(m, "R3") == (30, 30)
    assert hand.middle("R3") == (242, 50)
    assert window.bridge.history.undo_name == "Move board Side"
    window.bridge.undo()
    assert m.document() == before


def test_delete_a_part(hand: Any, m: rm.RailMap, window: Window) -> None:
    hand.click(*hand.middle("R3"))
    hand.key(Qt.Key.Key_Delete)
    assert "R3" not in m.parts
    assert "R3" not in window.view.floor.parts
    assert window.bridge.selection == Picked()


def test_delete_a_board_with_its_parts(hand: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    hand.click(240, 90)
    assert window.bridge.selection == Picked("board", "Side")
    hand.key(Qt.Key.Key_Delete)
    assert list(m.boards) == ["Main"]
    assert set(m.parts) == {"V1", "R1", "R2"}
    hand.key(Qt.Key.Key_Z, CONTROL)
    assert m.document() == before


def test_delete_a_rail_forgets_its_name_only(hand: Any, m: rm.RailMap, window: Window) -> None:
    hand.click(*hand.on_rail("A"))
    assert window.bridge.selection == Picked("rail", "A")
    hand.key(Qt.Key.Key_Delete)
    assert list(m.rails) == ["RAW"]
    assert m.parts["R1"].nodes == ("RAW", "A")


def test_undo_and_redo_by_key(hand: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    hand.drag(hand.middle("R1"), (90, 70))
    after = m.document()
    assert after != before
    hand.key(Qt.Key.Key_Z, CONTROL)
    assert m.document() == before
    # The key to redo is another one on every desktop.
    keys = window.commands["redo"].shortcut()[0]
    hand.key(keys.key(), keys.keyboardModifiers())
    assert m.document() == after


@pytest.mark.parametrize("button", [Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton])
def test_pan_takes_the_floor_along(
    hand: Any, view: FloorView, m: rm.RailMap, button: Qt.MouseButton
) -> None:
    before = m.document()
    start = view.mapFromScene(QPointF(80, 30))
    point = view.mapToScene(start)
    QTest.mousePress(view.viewport(), button, pos=start)
    QTest.mouseMove(view.viewport(), start + QPoint(40, 25))
    QTest.mouseMove(view.viewport(), start + QPoint(130, -60))
    QTest.mouseRelease(view.viewport(), button, pos=start + QPoint(130, -60))
    assert far(view.mapToScene(start + QPoint(130, -60)), point) < 1
    assert m.document() == before


def test_pan_by_the_bare_floor(hand: Any, view: FloorView, window: Window) -> None:
    window.bridge.pick(Picked("part", "R1"))
    start, point = hand.pixel(180, 90), QPointF(180, 90)
    QTest.mousePress(view.viewport(), Qt.MouseButton.LeftButton, pos=start)
    QTest.mouseMove(view.viewport(), start + QPoint(50, 70))
    QTest.mouseRelease(view.viewport(), Qt.MouseButton.LeftButton, pos=start + QPoint(50, 70))
    assert far(view.mapToScene(start + QPoint(50, 70)), point) < 1
    assert window.bridge.selection == Picked()


@pytest.mark.parametrize("place", [(0.2, 0.3), (0.5, 0.5), (0.9, 0.8)])
@pytest.mark.parametrize("notches", [3, -2])
def test_the_wheel_zooms_about_the_pointer(
    view: FloorView, turn_wheel: Callable[..., None], place: tuple[float, float], notches: int
) -> None:
    pixel = QPoint(
        round(place[0] * view.viewport().width()), round(place[1] * view.viewport().height())
    )
    scale, point = view.transform().m11(), view.mapToScene(pixel)
    turn_wheel(view.viewport(), notches, pixel)
    assert view.transform().m11() == pytest.approx(scale * 1.2**notches)
    assert far(view.mapToScene(pixel), point) * view.transform().m11() < 3


def test_zoom_has_ends(view: FloorView, turn_wheel: Callable[..., None]) -> None:
    for _ in range(60):
        turn_wheel(view.viewport(), 2)
    assert view.transform().m11() == pytest.approx(MOST_SCALE)
    for _ in range(60):
        turn_wheel(view.viewport(), -2)
    assert view.transform().m11() == pytest.approx(LEAST_SCALE)


def shown(view: FloorView) -> QRectF:
    return view.mapToScene(view.viewport().rect()).boundingRect()


def all_there_is(view: FloorView) -> QRectF:
    box = view.floor.itemsBoundingRect()
    assert view.floor.extent().contains(box)
    return box


@pytest.mark.parametrize("way", ["button", "double click"])
def test_fit_shows_everything(
    hand: Any, view: FloorView, push: Callable[[str], None], way: str
) -> None:
    view.zoom(1.6)
    hand.drag((180, 90), (150, 60))
    assert not shown(view).contains(all_there_is(view))
    if way == "button":
        push("fit")
    else:
        QTest.mouseDClick(view.viewport(), Qt.MouseButton.LeftButton, pos=hand.pixel(180, 90))
    assert shown(view).contains(all_there_is(view))
    # The legend lies beside the boards and not on them.
    for board in view.floor.layout.boards.values():
        assert not view.legend.geometry().intersects(view.mapFromScene(board).boundingRect())


def test_the_floor_stays_put_under_edits_once_it_was_zoomed(
    hand: Any, view: FloorView, settle: Callable[[], None]
) -> None:
    view.zoom(2.0)
    before = shown(view)
    hand.drag(hand.middle("R2"), (230, 70))
    hand.key(Qt.Key.Key_Z, CONTROL)
    after = shown(view)
    assert far(after.topLeft(), before.topLeft()) < 0.5


def test_zoom_to_what_is_selected(window: Window, view: FloorView) -> None:
    for what in (Picked("part", "L1"), Picked("rail", "B"), Picked("board", "Side")):
        window.bridge.pick(what)
        window.commands["zoom_to"].trigger()
        layout = view.floor.layout
        box = layout.boards["Side"] if what.kind == "board" else layout.tiles["L1"]
        assert shown(view).contains(box.center())
        assert shown(view).contains(box)
        window.commands["fit"].trigger()


GESTURES = {
    "move a part": ((80.0, 34.0), (95.0, 60.0)),
    "move a board": ((240.0, 5.0), (255.0, 25.0)),
    "join": ((275.0, 55.6), (65.0, 25.6)),
    "pan": ((180.0, 90.0), (190.0, 60.0)),
}


@pytest.mark.parametrize("name", GESTURES)
def test_escape_cancels_a_gesture(
    hand: Any, m: rm.RailMap, view: FloorView, window: Window, name: str
) -> None:
    start, end = GESTURES[name]
    before, items = m.document(), len(view.floor.items())
    places = {ref: item.pos() for ref, item in view.floor.parts.items()}
    hand.carry(start, end)
    hand.key(Qt.Key.Key_Escape)
    hand.release(*end)
    assert m.document() == before
    assert window.bridge.history.undo_name is None
    assert {ref: item.pos() for ref, item in view.floor.parts.items()} == places
    assert len(view.floor.items()) == items
    assert window.status.hint.text() == ""


@pytest.mark.parametrize("name", [name for name in GESTURES if name != "pan"])
def test_the_gestures_that_escape_cancels_would_change_the_map(
    hand: Any, m: rm.RailMap, name: str
) -> None:
    before = m.document()
    hand.drag(*GESTURES[name])
    assert m.document() != before


def test_an_edit_under_a_gesture_ends_it(hand: Any, m: rm.RailMap, window: Window) -> None:
    hand.drag(hand.middle("R2"), (130, 80))
    before = m.document()
    hand.carry(hand.middle("R2"), (60, 75))
    hand.key(Qt.Key.Key_Delete)
    hand.release(60, 75)
    assert "R2" not in m.parts
    hand.key(Qt.Key.Key_Z, CONTROL)
    assert m.document() == before


def test_no_gesture_leaves_anything_on_the_floor(hand: Any, view: FloorView) -> None:
    items = len(view.floor.items())
    hand.drag(hand.middle("R1"), (90, 34))
    hand.drag((240, 5), (252, 25))
    hand.drag(hand.pin("R3", "a"), (180, 90))
    assert len(view.floor.items()) == items


def test_the_pointer_shows_where_a_pin_is(hand: Any, view: FloorView) -> None:
    hand.move(*hand.pin("R1", "a"))
    assert view.viewport().cursor().shape() == Qt.CursorShape.CrossCursor
    hand.move(*hand.middle("R1"))
    assert view.viewport().cursor().shape() == Qt.CursorShape.ArrowCursor
