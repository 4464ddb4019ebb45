"""The scene is a projection of the map: what is on it, what it says, and how it is painted."""

from collections.abc import Callable
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPointF, QRectF

import railmap as rm
from railmap.bench import edits
from railmap.model.railmap import Change
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.scene import FloorScene

Render = Callable[..., np.ndarray]
FREE_SPOT = QRectF(-13.5, -8.2, 3.0, 1.8)
"""A piece of a tile, from its middle, that neither symbol nor text reaches."""


@pytest.fixture
def do(bridge: Bridge, settle: Callable[[], None]) -> Callable[..., None]:
    def carry_out(*changes: Change) -> None:
        assert bridge.do("Edit", list(changes))
        settle()

    return carry_out


def around(scene: FloorScene, ref: str) -> QRectF:
    return scene.layout.tiles[ref].adjusted(-4, -4, 4, 4)


def spot_of(scene: FloorScene, ref: str) -> QRectF:
    return FREE_SPOT.translated(scene.layout.tiles[ref].center())


def differs(one: np.ndarray, other: np.ndarray) -> float:
    """Part of the picture that is clearly another colour."""
    return float(np.mean(np.abs(one - other).max(axis=2) > 24))


def check_projection(scene: FloorScene, m: rm.RailMap) -> None:
    assert set(scene.parts) == set(m.parts)
    assert set(scene.boards) == set(m.boards)
    assert {tag.node for tag in scene.tags} <= set(m.nodes)
    kept = {*scene.parts.values(), *scene.boards.values(), *scene.tags, scene.runs}
    assert set(scene.items()) == kept
    for ref, item in scene.parts.items():
        assert item.ref == ref
        assert item.pos() == scene.layout.tiles[ref].center()


def test_it_shows_the_map(floor: FloorScene, divider: rm.RailMap) -> None:
    check_projection(floor, divider)
    assert floor.parts["R3"].pos() == QPointF(230, 30)
    assert floor.boards["Side"].pos() == QPointF(200, 0)


def test_it_follows_edits_both_ways(
    floor: FloorScene, bridge: Bridge, do: Callable[..., None], settle: Callable[[], None]
) -> None:
    m = bridge.map
    do(Change("parts", None, rm.Resistor("R9", "B", "C", ohms=10, board="Main")))
    check_projection(floor, m)
    do(Change("parts", "R1", m.parts["R1"].changed(place=rm.Place(80, 70))))
    check_projection(floor, m)
    assert floor.parts["R1"].pos() == QPointF(80, 70)
    do(*edits.remove_parts(m, ["R3", "R9"]))
    check_projection(floor, m)
    do(*edits.remove_board(m, "Side"))
    check_projection(floor, m)
    while bridge.history.undo_name is not None:
        bridge.undo()
        settle()
        check_projection(floor, m)
    while bridge.history.redo_name is not None:
        bridge.redo()
        settle()
        check_projection(floor, m)


def test_an_edit_shows_what_a_fresh_floor_would_show(
    floor: FloorScene, bridge: Bridge, do: Callable[..., None], render: Render
) -> None:
    m = bridge.map
    steps = [
        [Change("parts", "R1", m.parts["R1"].changed(place=rm.Place(60, 75)))],
        [Change("parts", "R3", m.parts["R3"].changed(a="RAW"))],
        [Change("parts", "R2", m.parts["R2"].changed(ref="R22", ohms=470.0))],
        [Change("parts", None, rm.Resistor("R9", "B", "C", ohms=10, board="Main"))],
        [Change("rails", "A", replace(m.rails["A"], name="Six volts"))],
        [Change("boards", "Side", replace(m.boards["Side"], y_mm=50.0))],
        edits.remove_parts(m, ["L1"]),
    ]
    for changes in steps:
        do(*changes)
        assert bridge.solution is not None
        fresh = FloorScene(floor.theme, bridge)
        fresh.show_map(m)
        fresh.show_solution(bridge.solution)
        assert floor.extent() == fresh.extent()
        for scale in (0.5, 1.5, 4.0):
            shown = render(floor, floor.extent(), scale)
            assert np.array_equal(shown, render(fresh, fresh.extent(), scale))


def test_what_an_edit_does_not_touch_stays(
    floor: FloorScene, bridge: Bridge, do: Callable[..., None]
) -> None:
    parts, boards = dict(floor.parts), dict(floor.boards)
    do(Change("parts", "R1", bridge.map.parts["R1"].changed(place=rm.Place(60, 75))))
    assert floor.parts == parts
    assert floor.boards == boards
    assert floor.parts["R1"].pos() == QPointF(60, 75)


def test_figures_stay_until_the_edited_map_is_solved(floor: FloorScene, bridge: Bridge) -> None:
    faces = {ref: item.face for ref, item in floor.parts.items()}
    assert bridge.do("Edit", [Change("parts", "R2", bridge.map.parts["R2"].changed(ohms=100.0))])
    assert {ref: item.face for ref, item in floor.parts.items()} == faces
    bridge.solve_now()
    assert floor.parts["R2"].face.value == "100R"
    # 12 V over 100 ohms and 100 beside 200: 4.8 V, 0.23 W of 0.14 W.
    assert floor.parts["R2"].face.figure == "165 %"


def test_a_map_that_cannot_be_solved_has_no_figures(floor: FloorScene, bridge: Bridge) -> None:
    bridge.unsolved.emit()
    assert {item.face.figure for item in floor.parts.values()} == {""}
    assert {item.face.step for item in floor.parts.values()} == {-1}
    bridge.solve_now()
    assert floor.parts["R1"].face.figure == "36 %"


def test_another_map_takes_the_place_of_the_first(floor: FloorScene, bridge: Bridge) -> None:
    other = rm.RailMap("Other")
    other.add_board("Far", 100, 80)
    other.add(rm.Source("V7", "P", "0V", volts=5, board="Far"))
    other.add(rm.Resistor("R7", "P", "0V", ohms=10, board="Far"))
    bridge.open_map(other, None)
    check_projection(floor, other)
    assert floor.parts["V7"].face.figure == "500 mA"


def test_tiles_say_what_the_solution_says(
    floor: FloorScene, bridge: Bridge, do: Callable[..., None]
) -> None:
    assert floor.parts["R1"].face.figure == "36 %"
    assert floor.parts["R1"].face.value == "100R"
    assert floor.parts["R2"].face.figure == "129 %"
    assert floor.parts["R2"].face.over
    assert not floor.parts["R1"].face.over
    do(Change("parts", "R1", bridge.map.parts["R1"].changed(ohms=50.0, rated_watts=0.5)))
    # 12 V over 50 and 100 ohms: 80 mA, 0.32 W of 0.5 W.
    assert floor.parts["R1"].face.figure == "64 %"


def test_a_tile_shows_that_another_value_is_tried(
    floor: FloorScene, bridge: Bridge, settle: Callable[[], None]
) -> None:
    assert not floor.parts["R1"].face.changed
    bridge.set_drift("R1", 200.0)
    settle()
    assert floor.parts["R1"].face.changed
    assert floor.parts["R1"].face.value == "200R"
    assert not floor.parts["R2"].face.changed
    bridge.end_drift()
    settle()
    assert not floor.parts["R1"].face.changed


def test_a_rail_has_a_label_on_every_board_it_reaches(
    floor: FloorScene, divider: rm.RailMap
) -> None:
    for node, boards in (("RAW", {"Main"}), ("A", {"Main", "Side"}), ("B", {"Side"})):
        tags = [tag for tag in floor.tags if tag.node == node]
        assert len(tags) == len(boards)
        beside = {floor.board_at(tag.pos()) for tag in tags}
        assert beside <= boards


def test_no_label_for_0_v(floor: FloorScene) -> None:
    assert all(tag.node != "0V" for tag in floor.tags)
    assert {pin.ref for pin in floor.layout.grounds} == {"V1", "R2", "L1"}


def test_a_label_moves_with_the_volts(
    floor: FloorScene, bridge: Bridge, settle: Callable[[], None], render: Render
) -> None:
    tag = next(tag for tag in floor.tags if tag.node == "A")
    box = tag.boundingRect().translated(tag.pos())
    before = render(floor, box, 6.0)
    bridge.set_mains(207)
    settle()
    assert differs(render(floor, box, 6.0), before) > 0.005
    bridge.set_mains(230)
    settle()
    assert differs(render(floor, box, 6.0), before) == 0


def test_labels_lie_clear_of_each_other(floor: FloorScene) -> None:
    boxes = [tag.boundingRect().translated(tag.pos()) for tag in floor.tags]
    for number, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[number + 1 :])
        assert not any(box.intersects(tile) for tile in floor.layout.tiles.values())


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
@pytest.mark.parametrize("mains", [1.0, 1.08])
def test_labels_of_the_examples_lie_clear_of_each_other_in_the_window(
    floor: FloorScene, bridge: Bridge, settle: Callable[[], None], path: object, mains: float
) -> None:
    m = rm.load(str(path))
    bridge.open_map(m, None)
    bridge.set_mains(m.mains_volts * mains)
    settle()
    boxes = [tag.sceneBoundingRect() for tag in floor.tags]
    assert boxes
    for number, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[number + 1 :])


def test_a_label_that_outgrows_its_room_gets_another_place_and_back(
    floor: FloorScene, bridge: Bridge, settle: Callable[[], None]
) -> None:
    places = [tag.pos() for tag in floor.tags]
    bridge.set_setup("side out")
    settle()
    assert any("no path" in tag.text for tag in floor.tags)
    boxes = [tag.sceneBoundingRect() for tag in floor.tags]
    for number, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[number + 1 :])
    bridge.set_setup("")
    settle()
    assert [tag.pos() for tag in floor.tags] == places


def test_what_is_out_of_the_circuit_is_marked(
    floor: FloorScene, bridge: Bridge, settle: Callable[[], None], render: Render
) -> None:
    whole = render(floor, around(floor, "R3"))
    bridge.set_setup("side out")
    settle()
    assert floor.parts["R3"].face.out
    assert floor.parts["L1"].face.out
    assert not floor.parts["R1"].face.out
    edge = render(floor, around(floor, "R3"))
    warn = themes.light().warn
    red = np.abs(edge - [warn.red(), warn.green(), warn.blue()]).max(axis=2) < 60
    assert np.mean(red) > 0.01
    bridge.set_setup("")
    settle()
    assert differs(render(floor, around(floor, "R3")), whole) == 0


def test_a_tile_has_the_colour_of_its_stress(
    floor: FloorScene, render: Render, rgb: Callable[..., np.ndarray]
) -> None:
    theme = floor.theme
    found = render(floor, spot_of(floor, "R1")).mean(axis=(0, 1))
    assert found == pytest.approx(rgb(theme.tile_colour(0.36)), abs=3)
    plain = render(floor, spot_of(floor, "V1")).mean(axis=(0, 1))
    assert plain == pytest.approx(rgb(theme.tile), abs=3)


def test_an_overloaded_tile_looks_different(
    floor: FloorScene, render: Render, rgb: Callable[..., np.ndarray], do: Callable[..., None]
) -> None:
    over = render(floor, spot_of(floor, "R2"))
    theme = floor.theme
    # The hatch darkens it, so its mean is only near to the colour.
    assert over.mean(axis=(0, 1)) == pytest.approx(rgb(theme.tile_colour(1.286)), abs=60)
    assert np.abs(over.mean(axis=(0, 1)) - rgb(theme.tile_colour(0.36))).max() > 60
    # A hatch and not a plain colour: it must read in black and white.
    assert over.mean(axis=2).std() > 10
    do(Change("parts", "R2", floor.map.parts["R2"].changed(rated_watts=0.5)))
    calm = render(floor, spot_of(floor, "R2"))
    assert calm.mean(axis=(0, 1)) == pytest.approx(rgb(theme.tile_colour(0.36)), abs=3)
    assert calm.mean(axis=2).std() < 3


def test_a_part_with_more_load_is_nearer_to_the_end_of_the_scale(
    floor: FloorScene, bridge: Bridge, settle: Callable[[], None], render: Render
) -> None:
    cool = render(floor, spot_of(floor, "R1")).mean()
    bridge.set_mains(340)
    settle()
    # Light theme: the scale goes from light to dark.
    assert render(floor, spot_of(floor, "R1")).mean() < cool - 5


@pytest.mark.parametrize(
    ("what", "ref"),
    [
        (Picked("part", "R2"), "R2"),
        (Picked("part", "R2"), "R1"),
        (Picked("part", "R1"), "L1"),
        (Picked("rail", "A"), "V1"),
        (Picked("rail", "A"), "R3"),
    ],
)
def test_selection_feed_path_and_what_is_fed_are_lit(
    floor: FloorScene, bridge: Bridge, render: Render, what: Picked, ref: str
) -> None:
    before = render(floor, floor.layout.tiles[ref])
    bridge.pick(what)
    assert differs(render(floor, floor.layout.tiles[ref]), before) > 0.01
    bridge.pick(Picked())
    assert differs(render(floor, floor.layout.tiles[ref]), before) == 0


def test_what_has_nothing_to_do_with_the_selection_is_not_lit(
    floor: FloorScene, bridge: Bridge, render: Render
) -> None:
    before = render(floor, floor.layout.tiles["R2"])
    bridge.pick(Picked("part", "L1"))
    assert differs(render(floor, floor.layout.tiles["R2"]), before) == 0


def test_a_board_is_marked_as_selected(floor: FloorScene, bridge: Bridge, render: Render) -> None:
    edge = QRectF(200, 40, 4, 40).translated(-2, 0)
    before = render(floor, edge)
    bridge.pick(Picked("board", "Side"))
    assert differs(render(floor, edge), before) > 0.05


def test_the_selection_is_still_marked_after_an_edit(
    floor: FloorScene, bridge: Bridge, do: Callable[..., None], render: Render
) -> None:
    bridge.pick(Picked("part", "R2"))
    before = render(floor, around(floor, "R2"))
    do(Change("parts", "R1", bridge.map.parts["R1"].changed(notes="seen")))
    assert differs(render(floor, around(floor, "R2")), before) == 0


def test_the_theme_reaches_every_item(
    floor: FloorScene, bridge: Bridge, render: Render, rgb: Callable[..., np.ndarray]
) -> None:
    dark = themes.dark()
    floor.set_theme(dark)
    assert render(floor, spot_of(floor, "R1")).mean(axis=(0, 1)) == pytest.approx(
        rgb(dark.tile_colour(0.36)), abs=3
    )
    board = render(floor, QRectF(20, 85, 10, 8)).mean(axis=(0, 1))
    assert board == pytest.approx(rgb(dark.board), abs=3)
    bare = render(floor, QRectF(172, 66, 10, 8)).mean(axis=(0, 1))
    assert bare == pytest.approx(rgb(dark.floor), abs=3)
    check_projection(floor, bridge.map)


def test_what_is_under_a_point(floor: FloorScene) -> None:
    assert floor.part_at(QPointF(80, 30)) == "R1"
    assert floor.part_at(QPointF(80, 60)) == ""
    assert floor.board_at(QPointF(80, 60)) == "Main"
    assert floor.board_at(QPointF(180, 60)) == ""
    assert floor.pin_at(QPointF(66, 26), 3) == ("R1", "a")
    assert floor.pin_at(QPointF(80, 30), 3) == ("", "")
    assert floor.rail_at(QPointF(180, 95), 2) == ""


def test_an_empty_map_can_be_shown(plain_app: Any, render: Render) -> None:
    bridge = Bridge()
    scene = FloorScene(themes.light(), bridge)
    scene.follow(bridge)
    bridge.solve_now()
    assert scene.extent().width() > 0
    assert render(scene, scene.extent(), 1.0).std() < 10


def test_no_two_kinds_look_alike(theme: themes.Theme, render: Render, bridge: Bridge) -> None:
    m = every_kind()
    scene = FloorScene(theme, bridge)
    scene.show_map(m)
    symbols = {
        ref: render(scene, QRectF(tile.x() + 1, tile.y() + 1, tile.width() - 2, 8.0), 4.0)
        for ref, tile in scene.layout.tiles.items()
    }
    assert len(symbols) == 15
    for one, other in combinations(symbols, 2):
        kinds = m.parts[one].kind, m.parts[other].kind
        assert differs(symbols[one], symbols[other]) > 0.005, kinds


def test_tiles_are_there_at_every_scale(
    theme: themes.Theme, render: Render, bridge: Bridge, rgb: Callable[..., np.ndarray]
) -> None:
    m = every_kind()
    scene = FloorScene(theme, bridge)
    scene.show_map(m)
    for scale in (0.4, 1.5, 6.0):
        for tile in scene.layout.tiles.values():
            picture = render(scene, tile.adjusted(3, 3, -3, -3), scale)
            assert np.median(picture, axis=(0, 1)) == pytest.approx(rgb(theme.tile), abs=6)


def test_words_come_with_the_scale(floor: FloorScene, render: Render) -> None:
    tile = floor.layout.tiles["V1"].adjusted(2, 2, -2, -2)
    # Too small to be read, there is nothing but the colour.
    assert render(floor, tile, 0.5).std() < 3
    assert render(floor, tile, 1.5).std() > 10
    assert render(floor, tile, 6.0).std() > 10


def every_kind() -> rm.RailMap:
    m = rm.RailMap("All kinds")
    m.add_board("Main", 280, 220)
    values: dict[type[rm.Part], dict[str, Any]] = {
        rm.Source: {"volts": 5}, rm.Winding: {"volts_rms": 9}, rm.Resistor: {"ohms": 1},
        rm.Capacitor: {"farads": 1e-6}, rm.Choke: {"henries": 1}, rm.Load: {"amps": 0.1},
        rm.Zener: {"zener_volts": 5}, rm.Regulator: {"volts": 5}, rm.Converter: {"volts": 5},
        rm.Diode: {}, rm.Bridge: {}, rm.PassTransistor: {}, rm.Link: {}, rm.Switch: {},
        rm.Fuse: {},
    }  # fmt: skip
    for number, (kind, given) in enumerate(values.items()):
        pins = {pin: "0V" if i else f"N{number}" for i, pin in enumerate(kind.pins)}
        m.add(kind(ref=f"Z{number}", board="Main", **pins, **given))
    return m
