"""What follows a part on the floor: its runs while it is dragged, and labels that give way."""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QRectF, Qt

import railmap as rm
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.group import Group
from railmap.ui.canvas.layout import Pin
from railmap.ui.canvas.scene import DRAGGED, FloorScene
from railmap.ui.canvas.view import FIRST_GRID_MM
from railmap.ui.faces import COLOURINGS
from railmap.ui.settings import Settings
from railmap.ui.window import Window

EXAMPLES = pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)


@pytest.fixture
def runs_alone(view: Any, render: Any) -> Callable[[], np.ndarray]:
    """Paint the runs, and nothing that lies over them."""

    def paint() -> np.ndarray:
        over = [*view.floor.parts.values(), *view.floor.tags]
        for item in over:
            item.setOpacity(0)
        found = render(view.floor, QRectF(-30, -30, 420, 220), 3.0)
        for item in over:
            item.setOpacity(1)
        return found

    return paint


def ends(lines: list[Any]) -> set[tuple[float, float]]:
    return {point for line in lines for point in ((line.x1(), line.y1()), (line.x2(), line.y2()))}


def test_runs_follow_a_part_that_is_dragged(
    hand: Any, view: Any, runs_alone: Callable[[], np.ndarray]
) -> None:
    hand.click(*hand.middle("R2"))
    before = runs_alone()
    x, y = hand.middle("R2")
    hand.carry((x, y), (x - 20, y + 15))
    lifted = view.floor.runs._lifted
    assert set(lifted) == {"A"}
    a, b = hand.pin("R2", "a"), hand.pin("R2", "b")
    assert (a[0] - 20, a[1] + 15) in ends(lifted["A"].lines)
    assert a not in ends(lifted["A"].lines)
    # The mark of its pin on 0 V goes along.
    (mark,) = view.floor.runs._lifted_returns.values()
    assert (b[0] - 20, b[1] + 15) in ends(mark.lines)
    during = runs_alone()
    assert (during != before).any()
    hand.release(x - 20, y + 15)
    assert not view.floor.runs._up()
    assert np.array_equal(runs_alone(), during)
    view.bridge.undo()
    hand.settle()
    assert np.array_equal(runs_alone(), before)


@pytest.mark.parametrize("way", ["escape", "back where it was"])
def test_a_drag_that_is_given_up_leaves_no_trace(
    hand: Any, view: Any, runs_alone: Callable[[], np.ndarray], way: str
) -> None:
    hand.click(*hand.middle("R1"))
    before, places = runs_alone(), {r: item.pos() for r, item in view.floor.parts.items()}
    x, y = hand.middle("R1")
    hand.carry((x, y), (x, y + 40))
    if way == "escape":
        hand.key(Qt.Key.Key_Escape)
    else:
        hand.move(x, y)
    hand.release(x, y)
    assert {r: item.pos() for r, item in view.floor.parts.items()} == places
    assert all(item.zValue() < DRAGGED for item in view.floor.parts.values())
    view.bridge.pick(Picked("part", "R1"))  # Escape lets go of the selection too
    hand.settle()
    assert np.array_equal(runs_alone(), before)
    assert view.bridge.history.undo_name is None


def test_a_rail_that_is_dragged_as_a_whole_keeps_its_shape(
    hand: Any, view: Any, window: Window
) -> None:
    window.bridge.pick(Group(refs=("R3", "L1")))
    (run,) = (run for run in view.floor._routes if run.node == "B")
    x, y = hand.middle("L1")
    hand.carry((x, y), (x + 6, y + 8))
    lines = view.floor.runs._lifted["B"].lines
    assert [(line.x1() - 6, line.y1() - 8, line.x2() - 6, line.y2() - 8) for line in lines] == (
        pytest.approx(np.array(run.lines))
    )


def test_a_part_that_is_dragged_to_another_board_brings_its_runs(hand: Any, view: Any) -> None:
    x, y = hand.middle("R2")
    hand.carry((x, y), (x + 110, y + 20))
    lines = view.floor.runs._lifted["A"].lines
    edge = view.floor.layout.boards["Main"].right()
    assert any(line.x1() < edge < line.x2() or line.x2() < edge < line.x1() for line in lines)


@pytest.fixture
def scene(bridge: Bridge) -> Iterator[FloorScene]:
    found = FloorScene(themes.light(), bridge)
    found.follow(bridge)
    yield found
    found.deleteLater()


def fresh_labels(m: rm.RailMap, bridge: Bridge) -> dict[tuple[str, str], tuple[float, float]]:
    fresh = FloorScene(themes.light(), bridge)
    fresh.show_map(m)
    assert bridge.solution is not None
    fresh.show_solution(bridge.solution)
    found = labels(fresh)
    fresh.deleteLater()
    return found


def labels(scene: FloorScene) -> dict[tuple[str, str], tuple[float, float]]:
    return {(tag.node, tag.board): tag.pos().toTuple() for tag in scene.tags}


def test_labels_of_parts_moved_one_after_the_other(bridge: Bridge, scene: FloorScene) -> None:
    """What is kept of the labels is what a fresh start would give."""
    m = rm.load(next(path for path in example_paths() if path.stem == "portable_tape_recorder"))
    bridge.open_map(m, None)
    rng = np.random.default_rng(7)
    for ref in rng.choice(list(m.parts), 12):
        x, y = rng.integers(20, 90, 2)
        board = m.boards[str(rng.choice(list(m.boards)))].name
        bridge.change_part("Move", m.parts[ref].changed(board=board, place=rm.Place(x, y)))
        bridge.solve_now()
        assert labels(scene) == fresh_labels(m, bridge)


@EXAMPLES
@pytest.mark.parametrize("colouring", COLOURINGS, ids=lambda one: one.word)
def test_labels_of_the_examples_touch_no_tile(
    bridge: Bridge, scene: FloorScene, path: Any, colouring: Any
) -> None:
    bridge.open_map(rm.load(path), None)
    bridge.set_colouring(colouring)
    boxes = [(tag.node, tag.sceneBoundingRect()) for tag in scene.tags]
    assert boxes
    for node, box in boxes:
        for ref, tile in scene.layout.tiles.items():
            assert not box.intersects(tile), (node, ref)


def test_rails_keep_their_colours_when_a_part_is_moved(bridge: Bridge, scene: FloorScene) -> None:
    scene.runs.set_steps(None)
    before = {node: scene.runs.colour(node) for node in scene.layout.pins}
    # Then the rail A reaches farthest.
    moved = bridge.map.parts["R1"].changed(place=rm.Place(20, 90))
    bridge.change_part("Move R1", moved)
    scene.runs.set_steps(None)
    assert {node: scene.runs.colour(node) for node in scene.layout.pins} == before


def test_a_name_that_is_typed_tells_what_it_joins(hand: Any, view: Any, window: Window) -> None:
    window.bridge.pick(Picked("part", "L1"))
    view.commands.name_node()
    said, line = view.editor.reason, view.editor.line
    assert (line.text(), said.text()) == ("B", "with R3 b")
    for name, meaning in (
        ("NEW", "a new node"), ("A", "with R1 b, R2 a, R3 a"), ("+6", "with R1 b, R2 a, R3 a"),
        ("0V", ""), ("", "on a node of its own"), ("RAW", "with V1 plus, R1 a"),
    ):  # fmt: skip
        line.setText(name)
        assert said.text() == meaning


def test_a_rail_has_its_name_with_the_boards_behind_a_link(hand: Any, m: rm.RailMap) -> None:
    hand.drag(hand.pin("L1", "a"), hand.on_rail("B"))
    hand.view.commands.take_off("L1", "a")
    hand.drag(hand.pin("L1", "a"), hand.pin("R1", "a"))
    assert m.parts["J1"].nodes == ("RAW", "RAW Side")
    assert m.parts["L1"].nodes == ("RAW Side", "0V")


def test_a_link_past_a_board_lies_on_none(hand: Any, m: rm.RailMap, window: Window) -> None:
    window.commands["add_board"].trigger()
    window.commands["place Load"].trigger()
    *_, name = m.boards
    board = window.view.floor.layout.boards[name]
    hand.click(board.left() + 60, board.top() + 50)
    hand.drag(hand.pin("X1", "a"), hand.pin("R1", "a"))
    tile = window.view.floor.layout.tiles["J1"]
    side = window.view.floor.layout.boards["Side"]
    assert side.right() < tile.left() < tile.right() < board.left()
    pins: list[Pin] = window.view.floor.layout.pins[f"RAW {name}"]
    assert {pin.ref for pin in pins} == {"J1", "X1"}


def test_the_grid_is_remembered(make_window: Callable[[], Window], settings: Settings) -> None:
    window = make_window()
    assert window.view.grid_mm == FIRST_GRID_MM
    action = next(a for a in window.view.commands.grids.actions() if a.data() == 2.54)
    action.trigger()
    other = make_window()
    assert other.view.grid_mm == 2.54
    (chosen,) = (a for a in other.view.commands.grids.actions() if a.isChecked())
    assert chosen.data() == 2.54
    assert Settings(settings.path).grid_mm == 2.54


@pytest.mark.parametrize("text", ["", "wide", "-1", "nan", "inf", "3.7"])
def test_a_grid_that_makes_no_sense_is_as_if_never_chosen(
    make_window: Callable[[], Window], settings: Any, text: str
) -> None:
    settings._store.setValue("grid_mm", text)
    assert make_window().view.grid_mm == FIRST_GRID_MM
