"""What colours the views: stress, or how far what is tried has moved the rails."""

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

import railmap as rm
from railmap.figures import POINT
from railmap.ui import theme as themes
from railmap.ui.bridge import Bridge
from railmap.ui.faces import (
    BY_SHIFT,
    BY_STRESS,
    COLOURINGS,
    Shades,
    ShiftShades,
    part_face,
    rail_texts,
)
from railmap.ui.theme import FIT_STEPS, SHIFT_STEPS, STEPS, shift_step
from railmap.ui.window import Window

MIDDLE = STEPS + SHIFT_STEPS // 2


@pytest.fixture
def shifted(divider: rm.RailMap) -> ShiftShades:
    """R1 from 100 to 200 ohms: rail A falls from 6 V to 12 / 300 * 100 = 4 V, by a third."""
    return ShiftShades(rm.solve(divider, change=rm.what_if(R1=200)), rm.solve(divider))


def test_a_rail_is_shaded_by_how_far_it_moved(shifted: ShiftShades) -> None:
    assert shifted.of_rail("A").text == "-33.3 %"
    assert shifted.of_rail("A").step == STEPS
    assert shifted.of_rail("RAW").step == MIDDLE
    assert shifted.of_rail("0V").step == -1


def test_a_part_has_the_shade_of_its_end_that_moved_most(shifted: ShiftShades) -> None:
    assert shifted.of_part("R1") == shifted.of_rail("A")
    assert shifted.of_part("V1").text == "+0.0 %"
    assert not shifted.of_part("R2").over
    assert shifted.of_part("R99").step == -1


def test_only_lines_of_rails_that_moved_are_coloured(
    shifted: ShiftShades, divider: rm.RailMap
) -> None:
    assert shifted.rail_steps(["RAW", "A"]) == {"A": STEPS}
    assert Shades(rm.solve(divider)).rail_steps(["RAW", "A"]) is None


def test_a_negative_rail_that_sags_is_below_none(divider: rm.RailMap) -> None:
    divider.add(rm.Source("V2", "0V", "NEG", volts=10, ohms=10))
    divider.add(rm.Resistor("R9", "NEG", "0V", ohms=90))
    after = rm.solve(divider, change=rm.what_if(R9=10))
    # From 9 V to 5 V below zero.
    assert ShiftShades(after, rm.solve(divider)).of_rail("NEG").text == "-44.4 %"


def test_without_figures_everything_is_plain(divider: rm.RailMap) -> None:
    divider.add(rm.Source("V9", "RAW", "0V", volts=9))
    broken = rm.solve(divider)
    for colouring in COLOURINGS:
        shades = colouring.make(broken, broken)
        assert shades.of_part("R1").step == -1
        assert shades.of_rail("A").step == -1
    assert Shades(None).of_part("R1").step == -1


def test_tile_and_label_say_the_figure_they_are_coloured_by(
    shifted: ShiftShades, divider: rm.RailMap
) -> None:
    after = rm.solve(divider, change=rm.what_if(R1=200))
    number = after.network.part_index["R1"]
    plain = part_face(divider.parts["R1"], after, number, True, POINT)
    face = part_face(divider.parts["R1"], after, number, True, POINT, shifted.of_part("R1"))
    assert (plain.figure, face.figure, face.step) == ("32 %", "-33.3 %", STEPS)
    assert rail_texts(after, "A", "+6", POINT, shifted.of_rail("A"))[0] == "+6  +4.00 V  -33.3 %"


@pytest.mark.parametrize("theme", [themes.light(), themes.dark()], ids=["light", "dark"])
def test_colours_of_shift_go_both_ways(theme: themes.Theme) -> None:
    assert len(theme.steps) == STEPS + SHIFT_STEPS + len(FIT_STEPS)
    down, none, up = (theme.step_colour(shift_step(v)) for v in (-20.0, 0.0, 20.0))
    assert down.blue() > down.red() + 60
    assert up.red() > up.blue() + 60
    assert abs(none.red() - none.blue()) < 30
    for colouring in COLOURINGS:
        assert colouring.first + colouring.count <= len(theme.steps)


def test_it_is_chosen_in_the_bar_or_in_the_menu(window: Window, settle: Callable[[], None]) -> None:
    box = window.colour_box
    words = [f"Colour: {colouring.word.lower()}" for colouring in COLOURINGS]
    assert words[:2] == ["Colour: stress", "Colour: shift"]
    assert [box.itemText(i) for i in range(box.count())] == words
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Down)
    settle()
    assert window.bridge.colouring is BY_SHIFT
    assert window.commands["colour Shift"].isChecked()
    window.commands["colour Stress"].trigger()
    assert window.bridge.colouring is BY_STRESS
    assert box.currentIndex() == 0
    assert not window.commands["colour Shift"].isChecked()


def test_the_ladder_follows(window: Window, settle: Callable[[], None]) -> None:
    window.bridge.set_colouring(BY_SHIFT)
    window.bridge.set_drift("R1", 200.0)
    settle()
    drawing = window.ladder.scene.drawing()
    fall = next(f for f in drawing.falls if ("part", "R1") in f.keys)
    assert fall.step == STEPS
    texts = [text.plain for text in drawing.texts]
    assert any("-33.3 %" in text for text in texts)
    assert any("moved by" in text for text in texts)
    assert "over rating" not in texts
    assert "shift" in {swatch.mark for swatch in drawing.legend}
    assert not window.ladder.grab().isNull()
    window.bridge.set_colouring(BY_STRESS)
    drawing = window.ladder.scene.drawing()
    assert "over rating" in [text.plain for text in drawing.texts]


def test_another_colouring_solves_nothing_anew(bridge: Bridge, settle: Callable[[], None]) -> None:
    solved: list[object] = []
    bridge.solved.connect(solved.append)
    coloured: list[object] = []
    bridge.coloured.connect(lambda: coloured.append(1))
    bridge.set_colouring(BY_SHIFT)
    bridge.set_colouring(BY_SHIFT)
    settle()
    assert (solved, coloured) == ([], [1])
    assert isinstance(bridge.shades(), ShiftShades)
