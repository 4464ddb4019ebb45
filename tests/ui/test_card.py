"""The card: values typed into it, what it says of bad ones, joins, names, and the drift slider."""

from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

import railmap as rm
from railmap.model.railmap import Change
from railmap.ui.bridge import Picked
from railmap.ui.card.boardpage import BoardPage
from railmap.ui.card.pages import MapPage, PartPage, RailPage
from railmap.ui.window import Window

ENTER, TAB = Qt.Key.Key_Return, Qt.Key.Key_Tab


@pytest.fixture
def m(window: Window) -> rm.RailMap:
    return window.bridge.map


# Values


def test_a_value_is_typed_as_the_bench_writes_it(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "R1")
    clerk.fill("ohms", "4k7")
    assert m.parts["R1"].ohms == 4700
    assert clerk.page.form.editors["ohms"].text() == "4k7"
    assert clerk.page.heading.text() == "R1   4k7"
    clerk.fill("rated_watts", "1/2W")
    assert m.parts["R1"].rated_watts == 0.5


def test_an_edit_is_undone_as_one(clerk: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    clerk.pick("part", "R1")
    clerk.fill("ohms", "150")
    assert window.bridge.history.undo_name == "Change R1"
    window.bridge.undo()
    clerk.settle()
    assert m.document() == before
    assert clerk.page.form.editors["ohms"].text() == "100R"
    assert "6.00 V" in clerk.figures


def test_figures_follow_an_edit(clerk: Any, window: Window) -> None:
    clerk.pick("part", "R1")
    clerk.fill("ohms", "200")
    assert "across it 8.00 V; through it 40 mA; heat 0.320 W" in clerk.figures.replace("40.0", "40")
    assert clerk.hot_figure("R1") == "32 %"


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("ohms", "lots", "'lots' cannot be read as ohms"),
        ("ohms", "50V", "'50V' is in volts; ohms are wanted here"),
        ("ohms", "-3", "above 0"),
        ("ohms", "0", "above 0"),
        ("ohms", "", "Nothing is written where a value is wanted"),
        ("rated_watts", "0", "above 0"),
        ("ref", "R2", "already a part 'R2'"),
        ("ref", "", "reference"),
        ("tolerance_pct", "-5", "at least 0"),
    ],
)
def test_a_bad_value_is_one_sentence_and_changes_nothing(
    clerk: Any, m: rm.RailMap, window: Window, troubles: list[str], name: str, text: str, said: str
) -> None:
    before = m.document()
    clerk.pick("part", "R1")
    clerk.fill(name, text)
    reason = clerk.reason(name)
    assert said in reason
    assert reason.endswith(".")
    assert not reason.endswith("..")
    assert "\n" not in reason
    assert m.document() == before
    assert window.bridge.history.undo_name is None
    assert clerk.page.form.editors[name].text() == text
    assert troubles == []


def test_a_good_value_takes_the_reason_away(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "R1")
    clerk.fill("ohms", "lots")
    assert clerk.reason("ohms")
    clerk.fill("ohms", "220")
    assert clerk.reason("ohms") == ""
    assert m.parts["R1"].ohms == 220


def test_the_old_value_takes_the_reason_away(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "R1")
    clerk.fill("ohms", "lots")
    clerk.fill("ohms", "100R")
    assert clerk.reason("ohms") == ""
    assert clerk.window.bridge.history.undo_name is None


def test_what_could_be_two_things_names_both(clerk: Any, m: rm.RailMap) -> None:
    m.add(rm.Capacitor("C1", "A", "0V", farads=1e-6))
    clerk.window.bridge.open_map(m, None)
    clerk.pick("part", "C1")
    clerk.fill("farads", "8M")
    reason = clerk.reason("farads")
    assert "could be 8 µF or 8000000 F" in reason
    assert "write 8u or 8000000F" in reason
    assert m.parts["C1"].farads == 1e-6
    clerk.fill("farads", "8u")
    assert m.parts["C1"].farads == pytest.approx(8e-6)


def test_a_refused_value_is_still_told_of_when_the_page_is_left(
    clerk: Any, hand: Any, m: rm.RailMap, window: Window
) -> None:
    clerk.pick("part", "R1")
    clerk.write(clerk.page.form.editors["ohms"], "lots", key=None)
    hand.click(*hand.middle("R2"))
    assert isinstance(clerk.page, PartPage)
    assert clerk.page.ref == "R2"
    assert window.message.isVisible()
    assert window.message.text.text().startswith("R1: 'lots' cannot be read as ohms")
    assert m.parts["R1"].ohms == 100


def test_a_value_is_taken_when_the_page_is_left_by_key(
    clerk: Any, m: rm.RailMap, window: Window
) -> None:
    clerk.pick("part", "R1")
    clerk.write(clerk.page.form.editors["ohms"], "150", key=None)
    # The most loaded part is R2; the editor still has the keyboard.
    window.commands["hottest"].trigger()
    clerk.settle()
    assert clerk.page.ref == "R2"
    assert m.parts["R1"].ohms == 150


def test_text_that_is_being_typed_stays_while_figures_move(clerk: Any, window: Window) -> None:
    clerk.pick("part", "R1")
    editor = clerk.page.form.editors["ohms"]
    clerk.write(editor, "22", key=None)
    window.bridge.set_mains(240)
    clerk.settle()
    assert editor.text() == "22"
    assert "6.26 V" in clerk.figures


def test_yes_and_choices(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "V1")
    QTest.mouseClick(
        clerk.page.form.editors["follows_mains"], Qt.MouseButton.LeftButton, pos=QPoint(8, 10)
    )
    assert not m.parts["V1"].follows_mains
    clerk.pick("part", "R1")
    box = clerk.page.form.editors["technology"]
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Down)
    assert m.parts["R1"].technology == "carbon composition"
    assert box.currentText() == "carbon composition"


def test_an_optional_value_can_be_emptied(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "R1")
    clerk.fill("rated_watts", "")
    assert m.parts["R1"].rated_watts is None
    assert clerk.page.form.editors["rated_watts"].placeholderText() == "not given"
    assert all(not bar.isVisible() for bar in clerk.page.bars)


def test_a_load_is_given_by_one_value_at_a_time(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "L1")
    clerk.fill("amps", "30m")
    load = m.parts["L1"]
    assert (load.amps, load.ohms, load.watts) == (pytest.approx(0.03), None, None)
    assert clerk.page.form.editors["ohms"].text() == ""
    clerk.fill("watts", "0.1")
    load = m.parts["L1"]
    assert (load.amps, load.ohms, load.watts) == (None, None, pytest.approx(0.1))
    clerk.fill("watts", "")
    assert "one of amps, ohms or watts" in clerk.reason("watts")
    assert m.parts["L1"].watts == pytest.approx(0.1)


def test_fitted_and_found_values_are_listed(clerk: Any, m: rm.RailMap) -> None:
    part = m.parts["R1"].with_fitted(120, source="bands").with_found(131.5, source="lifted")
    clerk.window.bridge.change_part("Note R1", part)
    clerk.pick("part", "R1")
    shown = {
        key: [line.text() for line in row.lines.values()]
        for key, row in clerk.page.known.rows.items()
    }
    assert shown == {
        ("fitted", "ohms"): ["120R", "", "bands"], ("found", "ohms"): ["131R5", "", "lifted"],
    }  # fmt: skip
    assert clerk.page.heading.text() == "R1   131R5"


# Names and joins


def test_rename_a_part(clerk: Any, m: rm.RailMap, window: Window) -> None:
    before = m.document()
    clerk.pick("part", "R1")
    clerk.fill("ref", "R101")
    assert "R1" not in m.parts
    assert m.parts["R101"].ohms == 100
    assert window.bridge.selection == Picked("part", "R101")
    assert clerk.page.heading.text() == "R101   100R"
    assert window.bridge.history.undo_name == "Rename R1 to R101"
    clerk.fill("ohms", "120")
    assert m.parts["R101"].ohms == 120
    window.bridge.undo()
    window.bridge.undo()
    clerk.settle()
    assert m.document() == before


def test_the_next_field_has_the_keyboard_after_a_rename(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "R1")
    clerk.write(clerk.page.form.editors["ref"], "R101", key=TAB)
    assert "R101" in m.parts
    assert QApplication.focusWidget() is clerk.page.form.editors["ohms"]
    QTest.keyClicks(QApplication.focusWidget(), "330")
    QTest.keyClick(QApplication.focusWidget(), ENTER)
    clerk.settle()
    assert m.parts["R101"].ohms == 330


def test_rename_a_board_keeps_it_selected_and_marked(
    clerk: Any, m: rm.RailMap, window: Window, render: Callable[..., Any]
) -> None:
    clerk.pick("board", "Side")
    edge = window.view.floor.layout.boards["Side"].adjusted(0, 40, -110, -40)
    marked = render(window.view.floor, edge)
    clerk.fill("name", "Amplifier")
    assert list(m.boards) == ["Main", "Amplifier"]
    assert m.parts["R3"].board == "Amplifier"
    assert m.setups["side out"].unplugged == ("Amplifier",)
    assert window.bridge.selection == Picked("board", "Amplifier")
    assert clerk.page.heading.text() == "Amplifier"
    assert abs(render(window.view.floor, edge) - marked).max() < 8


@pytest.mark.parametrize(
    ("kind", "key", "name", "text", "said"),
    [
        ("board", "Side", "name", "Main", "already a board 'Main'"),
        ("board", "Side", "name", "", "name"),
        ("board", "Side", "width_mm", "0", "above 0"),
        ("rail", "A", "name", "+12", "taken by the rail on node 'RAW'"),
        ("rail", "A", "max_volts", "-9", "above 0"),
        ("rail", "A", "order", "1.5", "whole number"),
        ("", "", "mains_volts", "0", "above 0"),
        ("", "", "mains_hertz", "fast", "cannot be read"),
    ],
)
def test_a_bad_value_of_board_rail_or_map(
    clerk: Any, m: rm.RailMap, kind: str, key: str, name: str, text: str, said: str
) -> None:
    before = m.document()
    clerk.pick(kind, key)
    clerk.fill(name, text)
    assert said in clerk.reason(name)
    assert clerk.reason(name).endswith(".")
    assert m.document() == before
    assert clerk.window.bridge.selection == Picked(kind, key)


def test_values_of_a_board(clerk: Any, m: rm.RailMap) -> None:
    page = clerk.pick("board", "Main")
    assert isinstance(page, BoardPage)
    assert "heat in its parts, loads apart 0.540 W" in clerk.figures
    clerk.fill("width_mm", "200")
    clerk.fill("laminate", "phenolic paper")
    assert (m.boards["Main"].width_mm, m.boards["Main"].laminate) == (200, "phenolic paper")


def test_values_of_a_rail(clerk: Any, m: rm.RailMap) -> None:
    page = clerk.pick("rail", "A")
    assert isinstance(page, RailPage)
    assert page.heading.text() == "+6"
    assert "forecast +6.00 V; label +6.00 V; from the label +0.0 %" in clerk.figures
    lines = page.parts.text().splitlines()
    assert len(lines) == 3
    assert "gives" in lines[0]
    assert "takes" in lines[1]
    clerk.fill("max_volts", "5")
    assert m.rails["A"].max_volts == 5
    assert "120 %" in page.bar.accessibleName()
    assert "5.00 V" in page.bar.accessibleName()


def test_a_node_becomes_a_rail_by_its_name(clerk: Any, m: rm.RailMap, window: Window) -> None:
    page = clerk.pick("rail", "B")
    assert "Node without" in page.below.text()
    clerk.fill("name", "+4.5")
    assert m.rails["B"].name == "+4.5"
    assert page.heading.text() == "+4.5"
    window.bridge.undo()
    assert "B" not in m.rails


def test_values_of_the_map(clerk: Any, m: rm.RailMap, window: Window) -> None:
    assert isinstance(clerk.page, MapPage)
    assert "power in 0.720 W; power out 0.720 W" in clerk.figures
    clerk.fill("title", "Bench divider")
    clerk.fill("mains_volts", "220")
    assert (m.title, m.mains_volts) == ("Bench divider", 220)
    assert "Bench divider" in window.windowTitle()
    assert window.mains.design.text() == "of 220 V"


def test_join_by_typing_a_node(clerk: Any, m: rm.RailMap, window: Window) -> None:
    clerk.pick("part", "L1")
    clerk.write(clerk.page.pins["a"].lineEdit(), "RAW")
    assert m.parts["L1"].nodes == ("RAW", "0V")
    assert window.bridge.history.undo_name == "Join L1 to RAW"
    clerk.write(clerk.page.pins["a"].lineEdit(), "FRESH")
    assert m.parts["L1"].nodes == ("FRESH", "0V")


def test_join_by_choosing_a_node(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "L1")
    box = clerk.page.pins["a"]
    assert {box.itemText(i) for i in range(box.count())} == {"0V", "RAW", "A", "B"}
    box.setFocus()
    box.setCurrentIndex(box.findText("A"))
    box.activated.emit(box.currentIndex())
    assert m.parts["L1"].nodes == ("A", "0V")


def test_a_short_name_is_not_completed_to_a_longer_one(clerk: Any, m: rm.RailMap) -> None:
    m.add(rm.Resistor("R10", "N10", "N1", ohms=10))
    clerk.window.bridge.open_map(m, None)
    clerk.pick("part", "L1")
    clerk.write(clerk.page.pins["a"].lineEdit(), "N1")
    assert m.parts["L1"].nodes == ("N1", "0V")
    clerk.write(clerk.page.pins["a"].lineEdit(), "n1")
    assert m.parts["L1"].nodes == ("n1", "0V")


def test_a_node_needs_a_name_that_can_be(
    clerk: Any, m: rm.RailMap, window: Window, troubles: list[str]
) -> None:
    before = m.document()
    clerk.pick("part", "L1")
    clerk.write(clerk.page.pins["a"].lineEdit(), "x" * 121)
    assert m.document() == before
    assert len(troubles) == 1
    assert troubles[0].startswith("L1: ")
    assert troubles[0].endswith(".")
    assert window.message.text.text() == troubles[0]
    assert clerk.page.pins["a"].currentText() == "B"


def test_a_pin_without_a_name_is_taken_off(clerk: Any, m: rm.RailMap, window: Window) -> None:
    clerk.pick("part", "L1")
    clerk.write(clerk.page.pins["a"].lineEdit(), "")
    assert m.parts["L1"].nodes == ("N1", "0V")
    assert window.bridge.history.undo_name == "Take L1 a off"


def test_another_board_is_chosen(clerk: Any, m: rm.RailMap) -> None:
    clerk.pick("part", "R2")
    box = clerk.page.pins["board"]
    box.setFocus()
    box.setCurrentText("Side")
    box.activated.emit(box.currentIndex())
    clerk.settle()
    assert m.parts["R2"].board == "Side"
    # It is placed anew: a place on the one board means nothing on the other.
    assert m.parts["R2"].place is None
    assert "on Side" in clerk.page.below.text()


def test_the_wheel_scrolls_the_card_and_changes_nothing(
    clerk: Any, m: rm.RailMap, window: Window, turn_wheel: Callable[..., None]
) -> None:
    before = m.document()
    page = clerk.pick("part", "R1")
    window.view.setFocus()
    for widget in (page.pins["a"], page.pins["board"], page.form.editors["technology"],
                   page.drift.slider):  # fmt: skip
        turn_wheel(widget, -1)
        clerk.settle()
    assert m.document() == before
    assert window.bridge.drift == {}


# The page turns


@pytest.mark.parametrize(
    ("what", "page"),
    [(Picked("part", "R1"), PartPage), (Picked("rail", "A"), RailPage),
     (Picked("rail", "0V"), RailPage), (Picked("board", "Main"), BoardPage),
     (Picked(), MapPage)],
)  # fmt: skip
def test_the_card_shows_what_is_selected(clerk: Any, what: Picked, page: type) -> None:
    clerk.pick("part", "R2")
    assert type(clerk.pick(what.kind, what.key)) is page


def test_a_part_that_is_deleted_leaves_the_card(clerk: Any, window: Window) -> None:
    clerk.pick("part", "R1")
    window.bridge.do("Delete R1", [Change("parts", "R1", None)])
    clerk.settle()
    assert isinstance(clerk.page, MapPage)


def test_a_part_of_another_kind_under_the_same_name(clerk: Any, window: Window) -> None:
    clerk.pick("part", "L1")
    other = rm.RailMap("Other", mains_volts=230)
    other.add(rm.Source("V1", "RAW", "0V", volts=5))
    other.add(rm.Choke("L1", "RAW", "A", henries=1, ohms=10))
    other.add(rm.Resistor("R1", "A", "0V", ohms=10))
    window.bridge.open_map(other, None)
    clerk.settle()
    assert isinstance(clerk.page, MapPage)
    assert "henries" in clerk.pick("part", "L1").form.editors


def test_the_page_without_a_solution_has_no_figures(clerk: Any, window: Window) -> None:
    for what in (Picked("part", "R1"), Picked("rail", "A"), Picked("board", "Main"), Picked()):
        clerk.pick(what.kind, what.key)
        assert "V" in clerk.figures or "W" in clerk.figures
        window.bridge.solution = window.bridge.calm = None
        window.bridge.unsolved.emit()
        assert clerk.figures == ""
        window.bridge.solve_now()


def test_a_rail_without_a_path_to_0_v(clerk: Any, m: rm.RailMap, window: Window) -> None:
    m.add(rm.Resistor("R8", "X", "Y", ohms=10, rated_watts=1))
    m.add(rm.Resistor("R9", "Y", "X", ohms=10))
    m.add_rail("X", label_volts=5, max_volts=6)
    window.bridge.open_map(m, None)
    clerk.pick("rail", "X")
    assert "nan" not in clerk.figures
    assert "forecast –" in clerk.figures
    assert "nan" not in clerk.page.bar.accessibleName()
    assert not clerk.page.grab().isNull()


def test_every_editor_says_what_it_is(clerk: Any) -> None:
    page = clerk.pick("part", "R1")
    editors = [*page.form.editors.values(), *page.pins.values(), page.drift.slider]
    editors += page.findChildren(QLineEdit)
    named = [w for w in editors if not isinstance(w.parent(), tuple(map(type, page.pins.values())))]
    assert all(widget.accessibleName() for widget in named)
