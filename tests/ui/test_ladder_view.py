"""The ladder in the window: selection both ways, keys, live figures, zoom, words."""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QFont, QHelpEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolTip

import railmap as rm
from railmap.bench import edits
from railmap.model.railmap import Change
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.ladder.figures import Mark
from railmap.ui.ladder.shapes import Bar, Box, Fall
from railmap.ui.ladder.view import LadderView

K = Qt.Key


@pytest.fixture
def ladder(bridge: Bridge, settle: Callable[[], None]) -> Iterator[LadderView]:
    view = LadderView(bridge, themes.light())
    view.resize(600, 600)
    view.show()
    settle()
    yield view
    view.close()
    view.deleteLater()
    settle()


@pytest.fixture
def press(ladder: LadderView, settle: Callable[[], None]) -> Callable[..., None]:
    def keys(*some: Qt.Key) -> None:
        for key in some:
            QTest.keyClick(ladder, key)
        settle()

    return keys


@pytest.fixture
def click(ladder: LadderView, settle: Callable[[], None]) -> Callable[[Box], None]:
    def at(box: Box) -> None:
        point = QPointF((box.left + box.right) / 2, (box.top + box.bottom) / 2)
        QTest.mouseClick(ladder, Qt.MouseButton.LeftButton, pos=point.toPoint())
        settle()

    return at


def fall_of(view: LadderView, ref: str) -> Fall:
    return next(f for f in view.scene.drawing().falls if ("part", ref) in f.keys)


def bar_of(view: LadderView, node: str) -> Bar:
    return next(b for b in view.scene.drawing().bars if b.key == ("rail", node))


def words(view: LadderView) -> list[str]:
    return [text.plain for text in view.scene.drawing().texts]


def test_a_click_selects_in_all_views(
    ladder: LadderView, bridge: Bridge, click: Callable[[Box], None]
) -> None:
    got: list[Picked] = []
    bridge.picked.connect(got.append)
    click(fall_of(ladder, "R3").tile)
    assert got == [Picked("part", "R3")]
    name = next(t for t in ladder.scene.drawing().texts if ("rail", "A") in t.keys)
    click(name.box)
    assert bridge.selection == Picked("rail", "A")
    line = bar_of(ladder, "RAW").line
    click(Box(line.right - 3, line.top, line.right - 3, line.top))
    assert bridge.selection == Picked("rail", "RAW")
    board = next(t for t in ladder.scene.drawing().texts if t.plain == "Side")
    click(board.box)
    assert bridge.selection == Picked("board", "Side")
    click(Box(ladder.width() - 9, 300, ladder.width() - 9, 300))
    assert bridge.selection == Picked()


def test_a_click_on_a_foot_of_many_loads_goes_from_one_to_the_next(
    ladder: LadderView, bridge: Bridge, click: Callable[[Box], None], settle: Any
) -> None:
    m = bridge.map.copy()
    m.add(rm.Load("L2", "B", "0V", ohms=1000, board="Side"))
    bridge.open_map(m, None)
    settle()
    tile = fall_of(ladder, "L2").tile
    for wanted in ("L1", "L2", "L1"):
        click(tile)
        assert bridge.selection == Picked("part", wanted)


def test_selection_from_outside_lights_path_and_fed(ladder: LadderView, bridge: Bridge) -> None:
    lit = ladder.scene.lit
    assert lit.state((("part", "R1"),)) == "plain"
    bridge.pick(Picked("part", "R3"))
    lit = ladder.scene.lit
    state = {ref: lit.state((("part", ref),)) for ref in ("V1", "R1", "R2", "R3", "L1")}
    assert state == {"V1": "path", "R1": "path", "R2": "dim", "R3": "picked", "L1": "fed"}
    assert lit.state((("rail", "RAW"),)) == "path"
    assert lit.state((("rail", "B"),)) == "fed"
    bridge.pick(Picked("rail", "A"))
    assert ladder.scene.lit.state((("rail", "A"),)) == "picked"
    bridge.pick(Picked())
    assert ladder.scene.lit.state((("rail", "A"),)) == "plain"


def test_what_is_lit_is_seen(ladder: LadderView, bridge: Bridge, pixels: Any, rgb: Any) -> None:
    def lit() -> float:
        found = pixels(ladder.grab().toImage())
        return float(np.mean(np.abs(found - rgb(themes.light().feed)).max(axis=2) < 12))

    before = lit()
    bridge.pick(Picked("part", "R3"))
    assert lit() > before + 0.002


def test_up_and_down_go_from_rung_to_rung(
    ladder: LadderView, bridge: Bridge, press: Callable[..., None]
) -> None:
    press(K.Key_Down)
    assert bridge.selection == Picked("rail", "RAW")
    press(K.Key_Down)
    assert bridge.selection == Picked("rail", "A")
    press(K.Key_End)
    assert bridge.selection == Picked("rail", "B")
    press(K.Key_Down)
    assert bridge.selection == Picked("rail", "B")
    press(K.Key_Up, K.Key_Up, K.Key_Up)
    assert bridge.selection == Picked("rail", "RAW")
    press(K.Key_End, K.Key_Home)
    assert bridge.selection == Picked("rail", "RAW")


def test_left_and_right_go_along_a_rung_and_up_and_down_leave_a_part(
    ladder: LadderView, bridge: Bridge, press: Callable[..., None]
) -> None:
    bridge.pick(Picked("rail", "A"))
    seen = []
    for _ in range(5):
        press(K.Key_Right)
        seen.append(bridge.selection.key)
    assert seen == ["R1", "R2", "R3", "R3", "R3"]
    press(K.Key_Left, K.Key_Left, K.Key_Left)
    assert bridge.selection == Picked("rail", "A")
    press(K.Key_Right, K.Key_Up)
    assert bridge.selection == Picked("rail", "RAW")
    bridge.pick(Picked("part", "R3"))
    press(K.Key_Down)
    assert bridge.selection == Picked("rail", "B")
    press(K.Key_Escape)
    assert bridge.selection == Picked()


def test_every_rung_and_every_part_is_reached_by_keys(
    ladder: LadderView, bridge: Bridge, press: Callable[..., None], settle: Any
) -> None:
    m = rm.load(next(path for path in example_paths() if path.stem == "portable_tape_recorder"))
    bridge.open_map(m, None)
    settle()
    reached: set[Picked] = set()
    press(K.Key_Home)
    for _ in range(len(ladder.scene.ladder.rungs)):
        rung = bridge.selection
        reached.add(rung)
        for _ in range(10):
            press(K.Key_Right)
            reached.add(bridge.selection)
        bridge.pick(rung)
        press(K.Key_Down)
    shown = [p.ref for p in m.parts.values() if not isinstance(p, rm.Capacitor)]
    assert {what.key for what in reached if what.kind == "part"} == set(shown)
    assert {what.key for what in reached if what.kind == "rail"} == set(ladder.scene.ladder.rungs)


def test_figures_follow_drift_without_a_rebuild(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    before, built = bar_of(ladder, "A").line.top, ladder.scene.ladder
    assert ladder.scene.drawing().ghosts == ()
    bridge.set_drift("R1", 150.0)
    settle()
    assert ladder.scene.ladder is built
    after = ladder.scene.drawing()
    assert bar_of(ladder, "A").line.top > before + 10
    # 12 V over 150 and 100 ohms is 4.8 V, 6 V without drift (by Ohm's law).
    assert any("+4.80" in text for text in words(ladder))
    assert any(abs(ghost.top - before) < 0.01 for ghost in after.ghosts)
    bridge.set_mains(200)
    settle()
    assert ladder.scene.ladder is built
    bridge.end_drift()
    settle()
    assert ladder.scene.drawing().ghosts == ()


def test_the_scale_stays_while_the_mains_fall(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.set_mains(253)
    settle()
    sight, line = ladder.scene.sight, bar_of(ladder, "RAW").line.top
    bridge.set_mains(207)
    settle()
    assert ladder.scene.sight == sight
    assert bar_of(ladder, "RAW").line.top > line + 10


def test_names_stay_where_they_are_while_values_drift(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    def side() -> bool:
        note = next(t for t in ladder.scene.drawing().texts if t.plain == "R3")
        return note.box.left > fall_of(ladder, "R3").line.left

    was = side()
    for ohms in (101.0, 104.0, 109.0, 118.0):
        bridge.set_drift("R1", ohms)
        settle()
        assert side() == was


def test_another_map_is_laid_out_anew(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    built = ladder.scene.ladder
    bridge.do("Add R9", [Change("parts", None, rm.Resistor("R9", "B", "0V", 50))])
    settle()
    assert ladder.scene.ladder is not built
    assert fall_of(ladder, "R9")
    bridge.undo()
    settle()
    assert not any(("part", "R9") in f.keys for f in ladder.scene.drawing().falls)


def test_it_can_be_painted_between_an_edit_and_its_solution(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    was = words(ladder)
    bridge.do("Delete R3", edits.remove_parts(bridge.map, ["R3"]))
    assert words(ladder) == was
    assert not ladder.grab().isNull()
    settle()
    assert not any(("part", "R3") in f.keys for f in ladder.scene.drawing().falls)


def test_a_map_that_cannot_be_solved_has_no_figures(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    m = bridge.map.copy()
    m.add(rm.Source("V9", "RAW", "0V", volts=9))
    bridge.open_map(m, None)
    settle()
    assert any(text.startswith("No figures: +12") for text in words(ladder))
    assert ladder.scene.drawing().bars == ()


def test_an_unplugged_board_leaves_its_rungs_without_a_path(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    bridge.set_setup("side out")
    settle()
    assert "R3" not in [t for t in words(ladder) if t == "75 %"]
    fall = next((f for f in ladder.scene.drawing().falls if ("part", "R3") in f.keys), None)
    assert fall is None or fall.out


def test_the_wheel_zooms_about_the_pointer_and_keys_about_the_selection(
    ladder: LadderView, bridge: Bridge, turn_wheel: Callable[..., None], press: Any
) -> None:
    at = QPoint(300, 200)
    volts = ladder.scene.ground().volts(200)
    turn_wheel(ladder, 3, at)
    assert ladder.scene.ground().volts(200) == pytest.approx(volts)
    assert not ladder.scene.is_whole
    press(K.Key_0)
    assert ladder.scene.is_whole
    bridge.pick(Picked("rail", "A"))
    before = bar_of(ladder, "A").line.top
    press(K.Key_Plus)
    assert bar_of(ladder, "A").line.top == pytest.approx(before)
    size = ladder.scene.sight.high - ladder.scene.sight.low
    press(K.Key_Minus)
    assert ladder.scene.sight.high - ladder.scene.sight.low == pytest.approx(size * 1.25)


def test_zoom_to_selection_and_whole(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None], press: Any
) -> None:
    m = bridge.map.copy()
    m.add(rm.Resistor("R8", "A", "CLOSE", ohms=1, board="Side"))
    m.add(rm.Load("L8", "CLOSE", "0V", ohms=1000, board="Side"))
    bridge.open_map(m, None)
    settle()
    gap = abs(bar_of(ladder, "A").line.top - bar_of(ladder, "CLOSE").line.top)
    assert gap < 2
    bridge.pick(Picked("part", "R8"))
    ladder.zoom_to_selection()
    assert abs(bar_of(ladder, "A").line.top - bar_of(ladder, "CLOSE").line.top) > 2 * gap
    ladder.fit()
    assert abs(bar_of(ladder, "A").line.top - bar_of(ladder, "CLOSE").line.top) == (
        pytest.approx(gap)
    )
    bridge.pick(Picked("rail", "A"))
    press(K.Key_Return)
    assert not ladder.scene.is_whole
    bridge.pick(Picked("board", "Main"))
    sight = ladder.scene.sight
    ladder.zoom_to_selection()
    assert ladder.scene.sight == sight


def test_a_rung_out_of_sight_comes_into_sight_when_it_is_reached(
    ladder: LadderView, bridge: Bridge, press: Callable[..., None]
) -> None:
    bridge.pick(Picked("rail", "B"))
    ladder.zoom(20)
    press(K.Key_Home)
    assert bar_of(ladder, "RAW")
    press(K.Key_End)
    assert bar_of(ladder, "B")


def test_dragging_moves_the_volts_and_page_keys_too(
    ladder: LadderView, press: Callable[..., None]
) -> None:
    before, line = ladder.scene.sight, bar_of(ladder, "A").line.top
    QTest.mousePress(ladder, Qt.MouseButton.LeftButton, pos=QPoint(590, 200))
    QTest.mouseMove(ladder, QPoint(590, 230))
    QTest.mouseMove(ladder, QPoint(590, 250))
    QTest.mouseRelease(ladder, Qt.MouseButton.LeftButton, pos=QPoint(590, 250))
    assert bar_of(ladder, "A").line.top == pytest.approx(line + 50, abs=1)
    press(K.Key_0, K.Key_PageUp)
    assert ladder.scene.sight.low > before.low
    press(K.Key_PageDown)
    assert ladder.scene.sight.low == pytest.approx(before.low)


def test_it_says_what_is_selected(ladder: LadderView, bridge: Bridge, settle: Any) -> None:
    assert ladder.accessibleName() == "Ladder"
    assert "Height is volts" in ladder.accessibleDescription()
    bridge.pick(Picked("rail", "A"))
    assert ladder.accessibleName() == "Ladder, +6 +6.00 V"
    said = ladder.accessibleDescription()
    for piece in ("rung 2 of 3", "Label +6.00 V; inside +5.40 V to +6.60 V", "Limit 9.00 V"):
        assert piece in said
    bridge.pick(Picked("part", "R2"))
    assert ladder.accessibleName() == "Ladder, R2 129 %"
    assert "from +6" in ladder.accessibleDescription()
    assert "over it" in ladder.accessibleDescription()
    bridge.set_drift("R1", 150.0)
    bridge.pick(Picked("rail", "A"))
    settle()
    assert "Without drift +6.00 V" in ladder.accessibleDescription()
    bridge.pick(Picked("part", "L1"))
    assert "Takes" in ladder.accessibleDescription()


def test_a_tip_says_what_is_under_the_pointer(
    ladder: LadderView, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown: list[str] = []
    monkeypatch.setattr(QToolTip, "showText", lambda at, text, widget: shown.append(text))
    tile = fall_of(ladder, "R3").tile
    for point in (QPoint(round(tile.left + 3), round(tile.top + 3)), QPoint(595, 300)):
        event = QHelpEvent(QHelpEvent.Type.ToolTip, point, ladder.mapToGlobal(point))
        QApplication.sendEvent(ladder, event)
    assert shown[0].startswith("R3, resistor 50R from +6 to B, on Side. Carries 30.0 mA.")
    assert shown[1] == ""


def test_readings_are_shown_and_said(ladder: LadderView, bridge: Bridge) -> None:
    ladder.set_readings((Mark("A", 5.1, "act"), Mark("A", 6.02, "ok", "after renewal", "high")))
    bridge.pick(Picked("rail", "A"))
    said = ladder.accessibleDescription()
    assert "Reading as received +5.10 V, does not fit the forecast." in said
    assert "Reading after renewal +6.02 V in setup high, fits the forecast." in said
    assert len(ladder.scene.drawing().signs) == 2
    assert "+5.10" in words(ladder)


def test_both_themes_and_a_larger_font(ladder: LadderView, pixels: Any) -> None:
    light = pixels(ladder.grab().toImage())
    ladder.set_theme(themes.dark())
    dark = pixels(ladder.grab().toImage())
    assert light.mean() > 180
    assert dark.mean() < 90
    size = ladder.scene.letters.usual_size()
    ladder.setFont(QFont(ladder.font().family(), 14))
    assert ladder.scene.letters.usual_size() > size


def test_it_fits_every_width_with_real_letters(
    ladder: LadderView, bridge: Bridge, settle: Callable[[], None]
) -> None:
    for path in example_paths():
        bridge.open_map(rm.load(path), None)
        for wide, high in ((260, 500), (400, 900), (800, 500), (200, 160)):
            ladder.resize(wide, high)
            settle()
            texts = ladder.scene.drawing().texts
            for number, text in enumerate(texts):
                assert not any(text.box.overlaps(other.box) for other in texts[:number])
            assert not ladder.grab().isNull()


def test_a_view_made_late_shows_what_is_there(bridge: Bridge, settle: Any) -> None:
    bridge.pick(Picked("rail", "A"))
    view = LadderView(bridge, themes.dark())
    assert view.accessibleName() == "Ladder, +6 +6.00 V"
    assert len(view.scene.drawing().bars) == 3
    view.deleteLater()
    settle()
