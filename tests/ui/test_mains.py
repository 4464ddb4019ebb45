"""The mains dial: slider, typed volts, and the mark of the design mains."""

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

import railmap as rm
from railmap.ui import theme as themes
from railmap.ui.mains import HIGH, LOW, MainsDial
from railmap.ui.window import Window

ENTER = Qt.Key.Key_Return


@pytest.fixture
def dial(window: Window, settle: Callable[[], None]) -> MainsDial:
    window.activateWindow()
    settle()
    return window.mains


def type_volts(dial: MainsDial, text: str, key: Any = ENTER) -> None:
    dial.volts.setFocus()
    dial.volts.selectAll()
    QTest.keyClicks(dial.volts, text)
    if key is not None:
        QTest.keyClick(dial.volts, key)


def test_it_begins_at_the_design_mains(dial: MainsDial) -> None:
    assert dial.design.text() == "of 230 V"
    assert dial.volts.value() == 230
    assert dial.slider.value() == 230
    assert (dial.slider.minimum(), dial.slider.maximum()) == (round(230 * LOW), round(230 * HIGH))


def test_the_slider_moves_the_volts_and_the_rails(
    dial: MainsDial, window: Window, settle: Callable[[], None]
) -> None:
    dial.slider.setValue(253)
    settle()
    assert window.bridge.mains_volts == 253
    assert dial.volts.value() == 253
    assert window.bridge.solution is not None
    assert window.bridge.solution.volts("A") == pytest.approx(6.6)
    assert window.bridge.history.clean


def test_the_slider_goes_by_key(
    dial: MainsDial, window: Window, settle: Callable[[], None]
) -> None:
    dial.slider.setFocus()
    QTest.keyClick(dial.slider, Qt.Key.Key_Right)
    settle()
    assert window.bridge.mains_volts == 231
    QTest.keyClick(dial.slider, Qt.Key.Key_Home)
    settle()
    assert window.bridge.mains_volts == round(230 * LOW)


def test_volts_are_typed(dial: MainsDial, window: Window, settle: Callable[[], None]) -> None:
    type_volts(dial, "236.5")
    settle()
    assert window.bridge.mains_volts == 236.5
    assert dial.volts.text() == "236.5 V"
    assert dial.slider.value() == 236
    assert window.bridge.solution is not None
    assert window.bridge.solution.volts("RAW") == pytest.approx(12 * 236.5 / 230)


def test_volts_beyond_the_slider_are_taken_too(
    dial: MainsDial, window: Window, settle: Callable[[], None]
) -> None:
    type_volts(dial, "300")
    settle()
    assert window.bridge.mains_volts == 300
    assert dial.volts.value() == 300
    assert dial.slider.value() == dial.slider.maximum()


def test_the_volts_still_follow_the_slider_after_one_figure_was_typed(
    dial: MainsDial, window: Window, settle: Callable[[], None]
) -> None:
    dial.volts.setFocus()
    dial.volts.lineEdit().setSelection(2, 1)
    QTest.keyClicks(dial.volts, "6")
    window.view.setFocus()
    settle()
    assert window.bridge.mains_volts == 236
    dial.slider.setValue(240)
    settle()
    assert dial.volts.value() == 240


def test_typing_is_not_disturbed_by_a_new_solution(
    dial: MainsDial, window: Window, settle: Callable[[], None]
) -> None:
    type_volts(dial, "24", key=None)
    window.bridge.set_drift("R1", 110.0)
    settle()
    assert dial.volts.lineEdit().text().startswith("24")
    assert window.bridge.mains_volts == 230
    QTest.keyClicks(dial.volts, "1")
    QTest.keyClick(dial.volts, ENTER)
    settle()
    assert window.bridge.mains_volts == 241


def test_letters_are_not_volts(dial: MainsDial, window: Window, settle: Callable[[], None]) -> None:
    type_volts(dial, "high")
    settle()
    assert window.bridge.mains_volts == 230
    assert dial.volts.value() == 230


def test_another_map_has_another_design_mains(
    dial: MainsDial, window: Window, settle: Callable[[], None]
) -> None:
    window.bridge.set_mains(250)
    window.bridge.open_map(rm.RailMap("Other", mains_volts=115), None)
    settle()
    assert dial.design.text() == "of 115 V"
    assert dial.volts.value() == 115
    assert (dial.slider.minimum(), dial.slider.maximum()) == (round(115 * LOW), round(115 * HIGH))


def test_a_setup_sets_the_dial(dial: MainsDial, window: Window, settle: Callable[[], None]) -> None:
    window.bridge.set_setup("high")
    settle()
    assert dial.volts.value() == 253


def test_the_design_mains_is_marked_on_the_slider(
    dial: MainsDial, settle: Callable[[], None]
) -> None:
    def marked() -> list[int]:
        image = dial.slider.grab().toImage()
        row = image.height() - 3
        accent = dial.slider.theme.accent
        return [
            x for x in range(image.width())
            if abs(image.pixelColor(x, row).red() - accent.red()) < 40
            and abs(image.pixelColor(x, row).blue() - accent.blue()) < 40
        ]  # fmt: skip

    for theme in (themes.light(), themes.dark()):
        dial.set_theme(theme)
        settle()
        columns = marked()
        part = (230 - dial.slider.minimum()) / (dial.slider.maximum() - dial.slider.minimum())
        wanted = 7 + (dial.slider.width() - 14) * part
        assert len(columns) >= 1
        assert abs(sum(columns) / len(columns) - wanted) < 3
