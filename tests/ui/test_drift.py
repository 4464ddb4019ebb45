"""The drift slider of the card: tried values move every figure, and are never written."""

from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

import railmap as rm
from railmap.ui.window import Window


@pytest.fixture
def m(window: Window) -> rm.RailMap:
    return window.bridge.map


def test_the_drift_slider_moves_all_figures(clerk: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    page = clerk.pick("part", "R1")
    tile = window.view.floor.parts["R1"]
    assert (clerk.hot_figure("R1"), tile.face.figure) == ("36 %", "36 %")
    page.drift.slider.setValue(120)  # 0.3 decades: twice the value
    clerk.settle()
    # 12 V over 200 and 100 ohms: 40 mA, 0.32 W.
    assert window.bridge.drift == {"R1": pytest.approx(200, rel=0.005)}
    assert "heat 0.320 W" in clerk.figures
    assert clerk.hot_figure("R1") == "32 %"
    assert tile.face.figure == "32 %"
    assert tile.face.changed
    assert "hottest R2" in window.status.hottest.text()
    assert page.drift._change.text() == "+100 %"
    assert m.document() == before


def test_back_ends_the_drift(clerk: Any, window: Window) -> None:
    page = clerk.pick("part", "R1")
    assert not page.drift.reset.isEnabled()
    page.drift.slider.setValue(120)
    clerk.settle()
    assert page.drift.reset.isEnabled()
    QTest.mouseClick(page.drift.reset, Qt.MouseButton.LeftButton)
    clerk.settle()
    assert window.bridge.drift == {}
    assert page.drift.slider.value() == 0
    assert page.drift._value.text() == "100R"
    assert clerk.hot_figure("R1") == "36 %"
    assert not window.view.floor.parts["R1"].face.changed


def test_the_slider_at_its_middle_ends_the_drift(clerk: Any, window: Window) -> None:
    page = clerk.pick("part", "R1")
    page.drift.slider.setValue(40)
    page.drift.slider.setValue(0)
    clerk.settle()
    assert window.bridge.drift == {}


def test_all_values_back(clerk: Any, window: Window) -> None:
    clerk.pick("part", "R1").drift.slider.setValue(40)
    clerk.pick("part", "R2").drift.slider.setValue(-40)
    clerk.settle()
    assert set(window.bridge.drift) == {"R1", "R2"}
    window.commands["end_drift"].trigger()
    clerk.settle()
    assert window.bridge.drift == {}
    assert clerk.page.drift.slider.value() == 0


def test_the_slider_goes_by_key(clerk: Any, window: Window) -> None:
    page = clerk.pick("part", "R1")
    page.drift.slider.setFocus()
    seen = [0]
    for _ in range(5):
        QTest.keyClick(page.drift.slider, Qt.Key.Key_Right)
        clerk.settle()
        seen.append(page.drift.slider.value())
    assert seen == sorted(set(seen))
    assert window.bridge.drift["R1"] > 108
    QTest.keyClick(page.drift.slider, Qt.Key.Key_Home)
    clerk.settle()
    assert window.bridge.drift["R1"] == pytest.approx(10, rel=0.01)
    QTest.keyClick(page.drift.slider, Qt.Key.Key_End)
    clerk.settle()
    assert window.bridge.drift["R1"] == pytest.approx(1000, rel=0.01)


def test_a_drift_is_typed(clerk: Any, m: rm.RailMap, window: Window) -> None:
    page = clerk.pick("part", "R1")
    clerk.write(page.drift._value, "236")
    assert window.bridge.drift == {"R1": 236.0}
    assert page.drift._value.text() == "236R"
    assert page.drift._change.text() == "+136 %"
    assert page.drift.slider.value() == round(400 * 0.3729)
    assert m.parts["R1"].ohms == 100
    clerk.write(page.drift._value, "100R")
    assert window.bridge.drift == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [("much", "'much' cannot be read"), ("0", "above 0"), ("-5", "above 0"), ("5V", "in volts")],
)
def test_a_bad_drift_is_one_sentence(clerk: Any, window: Window, text: str, said: str) -> None:
    page = clerk.pick("part", "R1")
    clerk.write(page.drift._value, text)
    assert window.bridge.drift == {}
    assert page.drift._reason.isVisible()
    assert said in page.drift._reason.text()
    assert page.drift._reason.text().endswith(".")


def test_a_drift_that_the_part_cannot_have_leaves_all_as_it_was(
    clerk: Any, m: rm.RailMap, window: Window, troubles: list[str]
) -> None:
    m.add(rm.Zener("D1", "A", "0V", zener_volts=7, ohms=10, test_amps=0.05))
    window.bridge.open_map(m, None)
    page = clerk.pick("part", "D1")
    clerk.write(page.drift._value, "0.4")
    assert len(troubles) == 1
    assert window.bridge.drift == {}
    assert page.drift._value.text() == "7V"
    assert page.drift.slider.value() == 0


def test_a_drift_stays_when_another_part_is_looked_at(clerk: Any, window: Window) -> None:
    clerk.pick("part", "R1").drift.slider.setValue(120)
    clerk.pick("part", "R2")
    page = clerk.pick("part", "R1")
    assert page.drift.slider.value() == pytest.approx(120, abs=1)
    assert page.drift._change.text() == "+100 %"


def test_a_negative_regulator_can_drift(clerk: Any, m: rm.RailMap, window: Window) -> None:
    m.add(rm.Source("V2", "0V", "NEG", volts=12))
    m.add(rm.Regulator("U1", "NEG", "OUT", "0V", volts=-5))
    m.add(rm.Resistor("R9", "OUT", "0V", ohms=100))
    window.bridge.open_map(m, None)
    page = clerk.pick("part", "U1")
    assert page.drift._value.text() == "-5V"
    page.drift.slider.setValue(40)
    clerk.settle()
    assert window.bridge.drift["U1"] == pytest.approx(-5 * 10**0.1, rel=0.005)
    assert window.bridge.solution is not None
    assert window.bridge.solution.volts("OUT") == pytest.approx(window.bridge.drift["U1"], rel=1e-3)
    clerk.write(page.drift._value, "5")
    assert "below 0" in page.drift._reason.text()


def test_a_source_edited_to_nothing_has_no_scale(clerk: Any, m: rm.RailMap) -> None:
    page = clerk.pick("part", "V1")
    clerk.fill("volts", "0")
    assert m.parts["V1"].volts == 0
    assert not page.drift.slider.isEnabled()
    clerk.fill("volts", "9")
    assert page.drift.slider.isEnabled()


def test_a_switch_has_no_drift(clerk: Any, m: rm.RailMap, window: Window) -> None:
    m.add(rm.Switch("S1", "A", "B"))
    window.bridge.open_map(m, None)
    assert clerk.pick("part", "S1").drift is None


def test_the_ghost_tells_what_it_was(clerk: Any) -> None:
    page = clerk.pick("part", "R1")
    page.drift.slider.setValue(120)
    clerk.settle()
    assert ("heat", "0.320 W", "0.360 W") in page.figures._rows[0]
