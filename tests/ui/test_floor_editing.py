"""The floor as an editor: several parts at once, by mouse, key and clipboard."""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, QRectF, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest

import railmap as rm
from railmap.model.kinds import KINDS
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.canvas.commands import CLIP_TYPE
from railmap.ui.canvas.group import Group, refs_of
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.canvas.symbols import AXIS, pins_of, tile_of
from railmap.ui.canvas.view import FloorView
from railmap.ui.window import Window

CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
ALT = Qt.KeyboardModifier.AltModifier
LEFT = Qt.MouseButton.LeftButton


def place_of(m: rm.RailMap, ref: str) -> tuple[float, float, int]:
    place = m.parts[ref].place
    assert place is not None
    return place.x_mm, place.y_mm, place.turn


@pytest.fixture(autouse=True)
def empty_clipboard(plain_app: Any) -> Iterator[None]:
    QGuiApplication.clipboard().clear()
    yield
    QGuiApplication.clipboard().clear()


@pytest.fixture
def picked(window: Window) -> Callable[[], tuple[str, ...]]:
    return lambda: refs_of(window.bridge.selection)


@pytest.fixture
def pick(window: Window, settle: Callable[[], None]) -> Callable[..., None]:
    """Select parts."""

    def choose(*refs: str) -> None:
        window.bridge.pick(Group(refs=refs) if len(refs) > 1 else Picked("part", refs[0]))
        settle()

    return choose


@pytest.fixture
def check_undo(window: Window, m: rm.RailMap) -> Iterator[None]:
    """Every edit of a test taken back gives the equal map, and done again the other."""
    before = m.document()
    yield
    after, history = m.document(), window.bridge.history
    names: list[str] = []
    while history.undo_name:
        names.append(history.undo().name)
    assert m.document() == before
    assert all(names)
    while history.redo_name:
        history.redo()
    assert m.document() == after


def with_key(hand: Any, x: float, y: float, held: Qt.KeyboardModifier) -> None:
    QTest.mouseClick(hand.view.viewport(), LEFT, held, hand.pixel(x, y))
    hand.settle()


def test_a_frame_selects_what_it_touches(hand: Any, picked: Any, window: Window) -> None:
    hand.drag((10, 80), (145, 35))
    assert picked() == ("V1", "R1", "R2")
    for ref, item in window.view.floor.parts.items():
        assert item._picked == (ref in ("V1", "R1", "R2"))
    hand.drag((10, 80), (20, 70))
    assert window.bridge.selection == Picked("board", "Main")


def test_a_frame_is_drawn_and_counted_and_can_be_given_up(hand: Any, window: Window) -> None:
    items = len(window.view.floor.items())
    hand.carry((10, 80), (145, 35))
    assert window.status.hint.text() == "3 parts"
    assert len(window.view.floor.items()) == items + 1
    hand.key(Qt.Key.Key_Escape)
    assert len(window.view.floor.items()) == items
    hand.release(145, 35)
    assert window.bridge.selection == Picked()


@pytest.mark.parametrize("held", [CONTROL, SHIFT])
def test_a_click_with_a_key_adds_a_part_and_leaves_it_out(
    hand: Any, picked: Any, held: Qt.KeyboardModifier
) -> None:
    hand.click(*hand.middle("R1"))
    with_key(hand, *hand.middle("R3"), held)
    assert picked() == ("R1", "R3")
    with_key(hand, *hand.middle("L1"), held)
    assert picked() == ("R1", "R3", "L1")
    with_key(hand, *hand.middle("R3"), held)
    assert picked() == ("R1", "L1")
    with_key(hand, *hand.middle("R1"), held)
    assert picked() == ("L1",)
    with_key(hand, 180, 90, held)
    assert picked() == ("L1",)


def test_a_frame_with_shift_adds_and_begins_anywhere(hand: Any, picked: Any) -> None:
    hand.click(*hand.middle("V1"))
    port = hand.view.viewport()
    QTest.mousePress(port, LEFT, SHIFT, hand.pixel(180, 5))
    QTest.mouseMove(port, hand.pixel(220, 40))
    QTest.mouseRelease(port, LEFT, SHIFT, hand.pixel(240, 45))
    assert picked() == ("V1", "R3")


def test_shift_and_arrows_select_more(hand: Any, pick: Any, picked: Any) -> None:
    pick("V1")
    hand.key(Qt.Key.Key_Right, SHIFT)
    hand.key(Qt.Key.Key_Right, SHIFT)
    assert picked()[:2] == ("V1", "R1")
    assert len(picked()) == 3


def test_select_all(hand: Any, picked: Any, window: Window, m: rm.RailMap) -> None:
    hand.key(Qt.Key.Key_A, CONTROL)
    assert set(picked()) == set(m.parts)
    window.bridge.pick(Picked("board", "Side"))
    hand.key(Qt.Key.Key_A, CONTROL)
    assert set(picked()) == {"R3", "L1"}


def test_parts_are_dragged_together(
    hand: Any, pick: Any, m: rm.RailMap, window: Window, check_undo: None
) -> None:
    pick("R1", "R2")
    x, y = hand.middle("R1")
    hand.drag((x, y), (x + 12, y + 7))
    assert place_of(m, "R1") == (92, 37, 0)
    assert place_of(m, "R2") == (142, 67, 0)
    assert window.bridge.history.undo_name == "Move 2 parts"
    assert window.bridge.selection == Group(refs=("R1", "R2"))


def test_each_part_of_a_group_goes_to_the_board_under_it(
    hand: Any, pick: Any, m: rm.RailMap, check_undo: None
) -> None:
    pick("R1", "R2")
    x, y = hand.middle("R2")
    hand.drag((x, y), (x + 100, y))
    assert [m.parts[ref].board for ref in ("R1", "R2")] == ["", "Side"]
    assert place_of(m, "R2") == (30, 60, 0)


def test_a_click_on_one_of_several_selects_it_alone(hand: Any, pick: Any, picked: Any) -> None:
    pick("R1", "R2")
    hand.click(*hand.middle("R2"))
    assert picked() == ("R2",)


def test_escape_puts_all_parts_back(hand: Any, pick: Any, m: rm.RailMap, view: FloorView) -> None:
    before = m.document()
    places = {ref: item.pos() for ref, item in view.floor.parts.items()}
    pick("R1", "R2", "R3")
    hand.carry(hand.middle("R1"), (100, 80))
    assert view.floor.parts["R3"].pos() != places["R3"]
    hand.key(Qt.Key.Key_Escape)
    hand.release(100, 80)
    assert {ref: item.pos() for ref, item in view.floor.parts.items()} == places
    assert m.document() == before


@pytest.mark.parametrize(
    ("held", "step"), [(CONTROL, 1.0), (CONTROL | SHIFT, 10.0)], ids=["one", "ten"]
)
@pytest.mark.parametrize("grid", [1.0, 2.54])
def test_nudge_by_the_grid(
    hand: Any, pick: Any, m: rm.RailMap, view: FloorView, held: Any, step: float, grid: float,
    check_undo: None,
) -> None:  # fmt: skip
    view.commands.set_grid(grid)
    pick("R1", "R2")
    hand.key(Qt.Key.Key_Right, held)
    hand.key(Qt.Key.Key_Up, held)
    assert place_of(m, "R1") == pytest.approx((80 + step * grid, 30 - step * grid, 0))
    assert place_of(m, "R2") == pytest.approx((130 + step * grid, 60 - step * grid, 0))


def test_nudge_a_board(hand: Any, window: Window, m: rm.RailMap, check_undo: None) -> None:
    window.bridge.pick(Picked("board", "Side"))
    hand.key(Qt.Key.Key_Left, CONTROL)
    hand.key(Qt.Key.Key_Down, CONTROL, SHIFT)
    assert (m.boards["Side"].x_mm, m.boards["Side"].y_mm) == (199, 10)


def test_the_grid_begins_at_the_corner_of_the_board(
    hand: Any, window: Window, m: rm.RailMap
) -> None:
    window.view.commands.set_grid(2.54)
    hand.drag(hand.middle("R2"), (233.3, 71.2))
    x, y, _ = place_of(m, "R2")
    assert m.parts["R2"].board == "Side"
    assert (x / 2.54, y / 2.54) == pytest.approx((round(x / 2.54), round(y / 2.54)))
    assert (x, y) == pytest.approx((33.3, 71.2), abs=2)


def test_quarter_turns_by_key(
    hand: Any, pick: Any, m: rm.RailMap, view: FloorView, check_undo: None
) -> None:
    pick("R1")
    middle = QPointF(*hand.middle("R1"))
    for turn in (90, 180, 270, 0):
        hand.key(Qt.Key.Key_R, CONTROL)
        assert place_of(m, "R1") == (80, 30, turn)
        expected = [middle + at for at, _ in pins_of("Resistor", turn)]
        found = [QPointF(*hand.pin("R1", pin)) for pin in "ab"]
        assert found == expected
        assert view.floor.layout.tiles["R1"] == tile_of(turn).translated(middle)
    hand.key(Qt.Key.Key_T, CONTROL, SHIFT)
    assert place_of(m, "R1") == (80, 30, 270)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("kind", ["Resistor", "Regulator", "PassTransistor", "Bridge"])
def test_pins_are_on_the_edge_of_the_tile_and_point_out_of_it(kind: str, turn: int) -> None:
    box = tile_of(turn)
    for at, way in pins_of(kind, turn):
        assert box.contains(at)
        assert not box.contains(at + QPointF(way) * 0.1)
    # Pins that are turned by four quarters are where they were.
    assert pins_of(kind, turn) == pins_of(kind, turn + 360)


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_the_symbol_is_painted_turned(
    plain_app: Any, divider: rm.RailMap, render: Any, turn: int
) -> None:
    pictures: list[np.ndarray] = []
    for now in (turn, turn + 180):
        scene = FloorScene(themes.light(), plain_app)
        divider.parts["D9"] = rm.Diode("D9", "A", "B", board="Main", place=rm.Place(60, 75, now))
        scene.show_map(divider)
        # The strip of the symbol, without the words beside it.
        box = scene.layout.tiles["D9"]
        lies = now % 180 == 0
        middle = box.center() + (QPointF(0, AXIS) if lies else QPointF(AXIS, 0))
        size = QPointF(10, 4) if lies else QPointF(4, 10)
        pictures.append(render(scene, QRectF(middle - size, middle + size), 6.0))
        scene.deleteLater()
    one, other = pictures
    assert np.abs(one - other).max() > 100
    assert np.abs(one[::-1, ::-1] - other).mean() < 6


def test_line_up_and_space_out_by_key(
    hand: Any, pick: Any, m: rm.RailMap, window: Window, check_undo: None
) -> None:
    pick("V1", "R1", "R2")
    hand.key(Qt.Key.Key_Down, ALT)
    assert [place_of(m, ref)[1] for ref in ("V1", "R1", "R2")] == [60, 60, 60]
    assert window.bridge.history.undo_name == "Line up 3 parts"
    hand.key(Qt.Key.Key_PageDown, ALT)
    assert [place_of(m, ref)[0] for ref in ("V1", "R1", "R2")] == [30, 80, 130]
    assert window.bridge.history.undo_name == "Line up 3 parts"  # they were even already
    hand.key(Qt.Key.Key_Left, ALT)
    assert {place_of(m, ref)[0] for ref in ("V1", "R1", "R2")} == {30}


def test_repeat(hand: Any, pick: Any, picked: Any, m: rm.RailMap, check_undo: None) -> None:
    pick("R3", "L1")
    hand.key(Qt.Key.Key_R, CONTROL, SHIFT)
    assert picked() == ("R4", "L2")
    assert m.parts["R4"].nodes == ("A", "B")
    assert place_of(m, "L2") == (100, 70, 0)


def test_delete_several(hand: Any, pick: Any, m: rm.RailMap, window: Window, check_undo: None):
    pick("R3", "L1", "R1")
    hand.key(Qt.Key.Key_Delete)
    assert set(m.parts) == {"V1", "R2"}
    assert window.bridge.history.undo_name == "Delete 3 parts"
    assert window.bridge.selection == Picked()


def test_copy_and_paste_in_one_map(
    hand: Any, pick: Any, picked: Any, m: rm.RailMap, window: Window, check_undo: None
) -> None:
    pick("R1", "R2")
    hand.key(Qt.Key.Key_C, CONTROL)
    data = QGuiApplication.clipboard().mimeData()
    assert data.hasFormat(CLIP_TYPE)
    assert data.text().splitlines()[1].split("\t")[:3] == ["R1", "Resistor", "100R"]
    hand.key(Qt.Key.Key_V, CONTROL)
    assert picked() == ("R4", "R5")
    assert m.parts["R4"].nodes == m.parts["R1"].nodes
    assert window.bridge.history.undo_name == "Paste 2 parts"


def test_cut_and_paste_into_another_window(
    hand: Any, pick: Any, m: rm.RailMap, make_window: Callable[[], Window], settle: Any
) -> None:
    pick("R1", "R2")
    hand.key(Qt.Key.Key_X, CONTROL)
    assert not {"R1", "R2"} & set(m.parts)
    other = make_window()
    other.view.commands.paste()
    settle()
    assert {r: p.nodes for r, p in other.bridge.map.parts.items()} == {
        "R1": ("RAW", "A"), "R2": ("A", "0V"),
    }  # fmt: skip
    assert [rail.name for rail in other.bridge.map.rails.values()] == ["+12", "+6"]


def test_paste_rows_of_a_spreadsheet(hand: Any, m: rm.RailMap, picked: Any) -> None:
    QGuiApplication.clipboard().setText("Reference\tDrawn\tFrom\tTo\nR1\t4k7\tB\t0V\n")
    hand.key(Qt.Key.Key_V, CONTROL)
    assert picked() == ("R4",)
    assert m.parts["R4"].now() == 4700
    assert m.parts["R1"].now() == 100


@pytest.mark.parametrize("what", ["text", "clip", "nothing", "half a clip"])
def test_what_cannot_be_pasted_gives_one_sentence(
    hand: Any, m: rm.RailMap, window: Window, troubles: list[str], what: str
) -> None:
    before = m.document()
    data = QMimeData()
    if what == "text":
        data.setText("Dear Sir,\nthe set hums.")
    elif what != "nothing":
        text = b"\x00\xff{" if what == "clip" else b'{"format": "railmap", "version": 1, "parts": ['
        data.setData(CLIP_TYPE, text)
    QGuiApplication.clipboard().setMimeData(data)
    hand.key(Qt.Key.Key_V, CONTROL)
    assert len(troubles) == 1
    assert troubles[0].endswith(".")
    assert "\n" not in troubles[0]
    assert m.document() == before


def test_joining_across_boards_makes_a_link(
    hand: Any, m: rm.RailMap, window: Window, check_undo: None
) -> None:
    hand.drag(hand.pin("L1", "a"), hand.pin("R1", "a"))
    link = m.parts["J1"]
    assert link.kind == "Link"
    assert link.nodes == ("RAW", m.parts["L1"].nodes[0])
    assert m.parts["L1"].nodes[0] not in ("RAW", "B")
    assert link.board == ""
    tile = window.view.floor.layout.tiles["J1"]
    for board in window.view.floor.layout.boards.values():
        assert not board.intersects(tile)


def test_alt_joins_across_boards_without_a_link(hand: Any, m: rm.RailMap) -> None:
    start, end = hand.pin("L1", "a"), hand.pin("R1", "a")
    port = hand.view.viewport()
    QTest.mousePress(port, LEFT, ALT, hand.pixel(*start))
    QTest.mouseMove(port, hand.pixel(150, 40))
    QTest.mouseRelease(port, LEFT, ALT, hand.pixel(*end))
    assert m.parts["L1"].nodes == ("RAW", "0V")
    assert "J1" not in m.parts


def test_a_rail_that_is_on_the_board_already_needs_no_link(hand: Any, m: rm.RailMap) -> None:
    hand.drag(hand.pin("L1", "a"), hand.pin("R1", "b"))
    assert m.parts["L1"].nodes == ("A", "0V")
    assert "J1" not in m.parts


def test_a_pin_lights_up_and_the_line_snaps_to_it(hand: Any, view: FloorView) -> None:
    x, y = hand.pin("R1", "a")
    hand.carry(hand.pin("R2", "a"), (x + 1.5, y + 0.5))
    gesture: Any = view._gesture
    assert gesture._ring.isVisible()
    assert gesture._ring.pos() == QPointF(x, y)
    assert gesture._line.line().p2() == QPointF(x, y)
    hand.move(x + 20, y + 40)
    assert not gesture._ring.isVisible()
    hand.key(Qt.Key.Key_Escape)


def test_a_new_part_gives_way_to_a_rail(hand: Any, m: rm.RailMap, push: Any) -> None:
    push("place Resistor")
    hand.click(40, 80)
    hand.drag(hand.pin("R1", "a"), hand.pin("R4", "a"))
    assert m.parts["R1"].nodes[0] == "RAW"
    assert m.parts["R4"].nodes[0] == "RAW"


def test_name_the_node_at_a_pin_by_key(
    hand: Any, pick: Any, m: rm.RailMap, window: Window, check_undo: None
) -> None:
    window.activateWindow()
    pick("L1")
    hand.key(Qt.Key.Key_F2)
    line = window.view.editor.line
    assert line.isVisible()
    assert line.text() == "B"
    QTest.keyClicks(line, "+12")
    QTest.keyClick(line, Qt.Key.Key_Tab)
    assert m.parts["L1"].nodes == ("RAW", "0V")
    assert line.isVisible()
    QTest.keyClicks(line, "NEW")
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert m.parts["L1"].nodes == ("RAW", "NEW")
    assert not line.isVisible()
    hand.key(Qt.Key.Key_F2)
    QTest.keyClick(line, Qt.Key.Key_Delete)
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert m.parts["L1"].nodes == ("N1", "NEW")
    # Without a screen the list of names takes the keyboard away with it.
    window.view.commands.name_node()
    assert line.isVisible()
    line.setText("x" * 121)
    QTest.keyClick(line, Qt.Key.Key_Return)
    assert window.view.editor.reason.text().endswith("longer than 120 characters.")
    QTest.keyClick(line, Qt.Key.Key_Escape)
    assert not line.isVisible()
    assert m.parts["L1"].nodes == ("N1", "NEW")


@pytest.mark.parametrize("kind", [kind.__name__ for kind in KINDS])
def test_every_kind_can_be_placed_by_keyboard(
    hand: Any, view: FloorView, m: rm.RailMap, kind: str, check_undo: None
) -> None:
    held = set(m.parts)
    view.start_placing(kind)
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Down, SHIFT)
    hand.key(Qt.Key.Key_R, CONTROL)
    hand.key(Qt.Key.Key_Return)
    (ref,) = set(m.parts) - held
    assert m.parts[ref].kind == kind
    assert view.bridge.selection == Picked("part", ref)


def test_a_placed_part_turns_by_key_while_it_is_carried(
    hand: Any, view: FloorView, m: rm.RailMap
) -> None:
    view.start_placing("Resistor")
    view.commands.turn(1)
    hand.click(40, 80)
    assert place_of(m, "R4") == (40, 80, 90)


def test_resize_a_board_by_its_corner(hand: Any, m: rm.RailMap, window: Window, check_undo: None):
    window.bridge.pick(Picked("board", "Side"))
    hand.drag((320, 100), (340, 130))
    assert (m.boards["Side"].width_mm, m.boards["Side"].height_mm) == (140, 130)
    hand.drag((200, 65), (190, 65))
    assert (m.boards["Side"].x_mm, m.boards["Side"].width_mm) == (190, 150)
    assert hand.middle("R3") == (230, 30)
    assert window.bridge.history.undo_name == "Resize board Side"


def test_parts_without_a_place_stay_when_one_is_moved(
    hand: Any, window: Window, settle: Any
) -> None:
    m = rm.RailMap()
    m.add_board("Main", 300, 200)
    for number in range(5):
        m.add(rm.Resistor(f"R{number}", f"N{number}", f"N{number + 1}", ohms=5, board="Main"))
    window.bridge.open_map(m, None)
    settle()
    before = {ref: hand.middle(ref) for ref in m.parts}
    hand.drag(hand.middle("R1"), (250, 150))
    after = {ref: hand.middle(ref) for ref in m.parts}
    assert after.pop("R1") != before.pop("R1")
    assert after == before
    assert window.bridge.history.undo().name == "Move R1"
    settle()
    assert all(part.place is None for part in m.parts.values())


def test_the_menu_at_a_pin(hand: Any, window: Window, m: rm.RailMap, settle: Any) -> None:
    x, y = hand.pin("R1", "b")
    hand.click(x, y, Qt.MouseButton.RightButton)
    menu = window.view.menu
    assert menu is not None
    texts = [action.text() for action in menu.actions()]
    assert texts[:2] == ["Name the node at R1 b…", "Take R1 b off A"]
    menu.actions()[1].trigger()
    menu.close()
    settle()
    assert m.parts["R1"].nodes == ("RAW", "N1")
    assert window.bridge.history.undo_name == "Take R1 b off"


def test_parts_without_a_place_stay_when_a_pin_is_joined(
    hand: Any, window: Window, settle: Any
) -> None:
    m = rm.RailMap()
    m.add_board("Main", 300, 200)
    m.add(rm.Source("V1", "N1", "0V", volts=5, board="Main"))
    for number in range(1, 5):
        m.add(rm.Resistor(f"R{number}", f"N{number}", f"N{number + 1}", ohms=5, board="Main"))
    window.bridge.open_map(m, None)
    settle()
    before = {ref: hand.middle(ref) for ref in m.parts}
    hand.drag(hand.pin("R4", "a"), hand.pin("R1", "a"))
    assert m.parts["R4"].nodes[0] == "N1"
    assert {ref: hand.middle(ref) for ref in m.parts} == before
