"""The card as an editor: several parts, fitted and found values, photo and marks, pins."""

from datetime import date
from typing import Any

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QToolButton

import railmap as rm
from railmap.bench.known import value_fields, with_known
from railmap.bench.part_columns import KIND_WORDS
from railmap.model.board import Mark, Photo
from railmap.model.kinds import KINDS
from railmap.model.part import Earlier
from railmap.model.railmap import Change
from railmap.ui.bridge import Picked
from railmap.ui.canvas.group import Group
from railmap.ui.card.boardpage import BoardPage
from railmap.ui.card.grouppage import GroupPage
from railmap.ui.window import Window


@pytest.fixture
def group(window: Window, settle: Any, clerk: Any) -> Any:
    """The page of R1, R2 and R3."""
    window.bridge.pick(Group(refs=("R1", "R2", "R3")))
    settle()
    assert isinstance(clerk.page, GroupPage)
    return clerk.page


def test_the_card_of_several_parts(group: Any, clerk: Any) -> None:
    assert group.heading.text() == "3 parts selected"
    assert group.below.text() == "3 × resistor"
    assert group.names.text() == "R1, R2, R3"
    # 0.36 W + 0.18 W + 0.045 W by Ohm's law.
    assert "0.585 W" in clerk.figures
    editors = group.form.editors
    assert set(editors) == {"board", "rated_watts", "tolerance_pct", "technology"}
    assert editors["rated_watts"].placeholderText() == "various"
    assert editors["tolerance_pct"].placeholderText() == "not given"
    assert editors["board"].currentIndex() == -1


def test_the_same_for_all(group: Any, clerk: Any, m: rm.RailMap, window: Window) -> None:
    clerk.fill("rated_watts", "2W")
    assert [m.parts[r].rated_watts for r in ("R1", "R2", "R3")] == [2, 2, 2]
    assert window.bridge.history.undo_name == "Change 3 parts"
    assert clerk.page is group
    assert group.form.editors["rated_watts"].text() == "2W"
    clerk.fill("rated_watts", "-1")
    assert "above 0" in clerk.reason("rated_watts")
    box = group.form.editors["board"]
    box.setCurrentIndex(box.findData("Side"))
    box.activated.emit(box.currentIndex())
    assert {m.parts[r].board for r in ("R1", "R2", "R3")} == {"Side"}
    assert [m.parts[r].board for r in ("V1", "L1")] == ["Main", "Side"]


def test_a_group_that_loses_parts(group: Any, clerk: Any, window: Window, settle: Any) -> None:
    window.bridge.do("Delete R1", [Change("parts", "R1", None)])
    settle()
    assert window.bridge.selection == Group(refs=("R2", "R3"))
    assert clerk.page.heading.text() == "2 parts selected"
    window.bridge.do("Delete R2", [Change("parts", "R2", None)])
    settle()
    assert window.bridge.selection == Picked("part", "R3")


def test_a_value_as_found(clerk: Any, m: rm.RailMap, settle: Any) -> None:
    page = clerk.pick("part", "R1")
    lines = page.known.rows["found", "ohms"].lines
    clerk.write(lines["value"], "236R")
    today = date.today().isoformat()
    assert m.parts["R1"].found["ohms"] == rm.Known(236, today)
    clerk.write(lines["source"], "cold, one leg lifted")
    clerk.write(lines["date"], "2024-05-06")
    assert m.parts["R1"].found["ohms"] == rm.Known(236, "2024-05-06", "cold, one leg lifted")
    assert m.parts["R1"].earlier == ()
    clerk.write(lines["value"], "240R")
    assert m.parts["R1"].now() == 240
    first = Earlier("found", "ohms", 236, "2024-05-06", "cold, one leg lifted")
    assert m.parts["R1"].earlier == (first,)
    assert page.known.history.text() == (
        "Before:\nfound 236R (2024-05-06 cold, one leg lifted)"
    )  # fmt: skip
    clerk.write(lines["value"], "")
    assert m.parts["R1"].found == {}
    assert len(m.parts["R1"].earlier) == 2


def test_a_found_value_that_cannot_be_is_refused(clerk: Any, m: rm.RailMap) -> None:
    page = clerk.pick("part", "R1")
    line = page.known.rows["fitted", "ohms"].lines["value"]
    for text, reason in (("abc", "abc"), ("0", "must be above 0")):
        clerk.write(line, text)
        assert reason in page.known.reason.text()
        assert page.known.reason.text().endswith(".")
    assert m.parts["R1"].fitted == {}
    clerk.write(line, "")
    assert page.known.reason.text() == ""


def test_another_value_than_the_main_one(clerk: Any, m: rm.RailMap, settle: Any) -> None:
    page = clerk.pick("part", "R1")
    place = page.known.more.findData("fitted/rated_watts")
    page.known.more.activated.emit(place)
    clerk.write(page.known.rows["fitted", "rated_watts"].lines["value"], "5W")
    assert m.parts["R1"].fitted["rated_watts"].value == 5


@pytest.mark.parametrize("kind", KINDS)
def test_every_number_of_a_kind_can_be_fitted_and_found(kind: type[rm.Part]) -> None:
    more: dict[str, Any] = {
        "Source": {"volts": 5}, "Winding": {"volts_rms": 5}, "Resistor": {"ohms": 5},
        "Capacitor": {"farads": 1e-3}, "Choke": {"henries": 1}, "Load": {"amps": 0.1},
        "Zener": {"zener_volts": 5}, "Regulator": {"volts": 5}, "Converter": {"volts": 5},
    }.get(kind.__name__, {})  # fmt: skip
    part = kind(ref="X1", **dict(zip(kind.pins, "ABCD", strict=False)), **more)
    names = value_fields(part)
    assert names[0] == part.main_field
    for name in names:
        if kind is rm.Load and name in ("ohms", "watts"):
            continue  # a load is given by one of them
        # Of the ends of a derating line the upper one is the higher.
        value = {"rated_c": 70.0, "zero_c": 150.0}.get(name, 0.5)
        assert with_known(part, "found", name, rm.Known(value)).found[name].value == value


def test_mounting_and_stand_off(clerk: Any, m: rm.RailMap, settle: Any) -> None:
    page = clerk.pick("part", "R1")
    clerk.fill("standoff_mm", "8")
    box = page.form.editors["mounting"]
    box.activated.emit(0)
    box.setCurrentIndex(box.findData("raised"))
    box.activated.emit(box.currentIndex())
    settle()
    assert (m.parts["R1"].standoff_mm, m.parts["R1"].mounting) == (8, "raised")
    clerk.fill("standoff_mm", "-1")
    assert "at least 0" in clerk.reason("standoff_mm")


def test_a_pin_by_the_name_of_a_rail_and_off(clerk: Any, m: rm.RailMap) -> None:
    page = clerk.pick("part", "L1")
    clerk.write(page.pins["a"].lineEdit(), "+12")
    assert m.parts["L1"].nodes == ("RAW", "0V")
    clerk.write(page.pins["a"].lineEdit(), "")
    assert m.parts["L1"].nodes == ("N1", "0V")


def test_a_part_that_is_placed_is_asked_for_its_value(
    clerk: Any, m: rm.RailMap, window: Window
) -> None:
    window.view.placed.connect(window.card.ask)
    window.view.start_placing("Resistor")
    QTest.keyClick(window.view, Qt.Key.Key_Return)
    editor = clerk.page.form.editors["ohms"]
    assert clerk.page.about == Picked("part", "R4")
    assert editor.hasFocus()
    QTest.keyClicks(editor, "4k7")
    QTest.keyClick(editor, Qt.Key.Key_Return)
    assert m.parts["R4"].now() == 4700


def test_photo_and_marks_of_a_board(clerk: Any, m: rm.RailMap, window: Window, settle: Any) -> None:
    page = clerk.pick("board", "Main")
    assert isinstance(page, BoardPage)
    assert page.photo is None
    board = replace(
        m.boards["Main"], photo=Photo("/9j/"), marks=(Mark("scorch", 50, 60, "2024-05-06"),)
    )
    window.bridge.do("Photo", [Change("boards", "Main", board)])
    settle()
    page = clerk.page
    clerk.write(page.photo.editors["dim_pct"], "70")
    clerk.write(page.marks[0].editors["text"], "brown under R1")
    now = m.boards["Main"]
    assert now.photo is not None
    assert now.photo.dim_pct == 70
    assert now.marks == (Mark("scorch", 50, 60, "2024-05-06", "brown under R1"),)
    clerk.write(page.photo.editors["turn"], "45")
    assert "multiple of 90" in page.complaint()
    clerk.write(page.photo.editors["turn"], "90")
    (button,) = [b for b in page.findChildren(QToolButton) if b.text() == "Remove"]
    button.click()
    settle()
    assert m.boards["Main"].marks == ()


# Qt says of the photo that is none what it is.
pytestmark = [
    pytest.mark.qt_log_ignore("JPEG datastream contains no image", extend=True),
    pytest.mark.usefixtures("check_undo"),
]


def test_the_words_of_the_kinds_stand_once() -> None:
    assert list(KIND_WORDS) == [kind.__name__ for kind in KINDS]
