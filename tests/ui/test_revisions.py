"""The menu of revisions, and where else the window tells of them."""

from collections.abc import Callable

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from railmap.bench.part_columns import COLUMNS
from railmap.figures import Figures
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.window import Window

Settle = Callable[[], None]
Key = Qt.Key


@pytest.fixture
def revised(window: Window, settle: Settle) -> Window:
    """A window with a late revision, in which R1 is 50R of 2 W and R2 100R."""
    values = {"R1": {"ohms": 50, "rated_watts": 2}, "R2": {"ohms": 100}}
    window.bridge.map.add_revision("late", notes="From the second series on.", values=values)
    settle()
    return window


def entries(window: Window) -> list[QAction]:
    window.revisions.fill()
    return window.revisions.choices.actions()


def texts(window: Window) -> list[str]:
    return [action.text() for action in entries(window)]


def entry(window: Window, name: str) -> QAction:
    return next(action for action in entries(window) if action.data() == name)


def ohms(window: Window, ref: str = "R1") -> float | None:
    return window.bridge.map.parts[ref].now()


def answer(window: Window, text: str) -> None:
    line = window.view.editor.line
    assert line.hasFocus()
    line.selectAll()
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Key.Key_Return)


def change(window: Window, what: str, name: str) -> None:
    menu = window.revisions.changes[what]
    window.revisions.fill()
    next(action for action in menu.actions() if action.data() == name).trigger()


def test_it_lists_what_the_map_keeps(revised: Window) -> None:
    assert texts(revised) == ["As &drawn", "late (R1 50R, R1 rated power 2W, R2 100R)"]
    revised.bridge.map.add_revision("A & B", values={"R3": {"ohms": 47}})
    assert texts(revised)[2] == "A && B (R3 47R)"
    values = {ref: {"ohms": 1} for ref in ("R1", "R2", "R3")} | {"V1": {"volts": 9}}
    revised.bridge.map.add_revision("x" * 60, values=values)
    assert texts(revised)[3] == f"{'x' * 39}… (4 values)"


def test_it_is_in_the_menu_of_edits(revised: Window) -> None:
    edit = next(a.menu() for a in revised.menuBar().actions() if a.text() == "&Edit")
    assert revised.revisions.menu.menuAction() in edit.actions()
    assert revised.revisions.menu.accessibleName() == "Revisions"


def test_one_is_fitted_by_keyboard_and_taken_back(revised: Window, settle: Settle) -> None:
    menu = revised.revisions.menu
    menu.popup(QPoint(0, 0))
    QTest.keyClick(menu, Key.Key_Down)
    QTest.keyClick(menu, Key.Key_Down)
    QTest.keyClick(menu, Key.Key_Return)
    settle()
    assert menu.isHidden()
    assert (ohms(revised), ohms(revised, "R2")) == (50, 100)
    assert revised.bridge.history.undo_name == "Fit revision late"
    assert [action.isChecked() for action in entries(revised)] == [False, True]
    solution = revised.bridge.solution
    assert solution is not None
    # 100 ohms beside 200, behind 50: Ohm's law
    assert solution.volts("A") == pytest.approx(12 * (200 / 3) / (50 + 200 / 3))
    revised.commands["undo"].trigger()
    assert ohms(revised) == 100
    assert [action.isChecked() for action in entries(revised)] == [True, False]


def test_back_to_the_drawing(revised: Window) -> None:
    entry(revised, "late").trigger()
    entry(revised, "").trigger()
    assert ohms(revised) == 100
    assert revised.bridge.history.undo_name == "Fit as drawn"


def test_fitting_what_is_fitted_changes_nothing(revised: Window) -> None:
    entry(revised, "late").trigger()
    entry(revised, "late").trigger()
    revised.commands["undo"].trigger()
    assert ohms(revised) == 100


def test_the_tip_tells_what_would_change(revised: Window) -> None:
    tip = entry(revised, "late").toolTip().splitlines()
    assert tip == [
        "From the second series on.", "R1 100R → 50R", "R1 rated power 1W → 2W", "R2 200R → 100R",
    ]  # fmt: skip
    assert entry(revised, "").toolTip() == "What is fitted now"


def test_what_stays_is_said(revised: Window) -> None:
    part = revised.bridge.map.parts["R1"].with_fitted(75, source="marking on the body")
    revised.bridge.change_part("Fit", part)
    assert not any(action.isChecked() for action in entries(revised))
    entry(revised, "late").trigger()
    assert revised.message.text.text() == (
        "R1 stays 75R (marking on the body): it was fitted by hand, and not from a revision."
    )
    for ref in ("R2", "R3"):
        part = revised.bridge.map.parts[ref].changed(fitted={}).with_fitted(75)
        revised.bridge.change_part("Fit", part)
    entry(revised, "late").trigger()
    assert "and so do 2 more values: they were fitted by hand" in revised.message.text.text()


def test_what_cannot_be_fitted_is_said(revised: Window) -> None:
    revised.bridge.map.add_revision("odd", values={"L1": {"amps": 1}})
    entry(revised, "odd").trigger()
    assert revised.message.text.text().startswith("L1: with its last known values, ")
    assert revised.bridge.history.undo_name is None


def test_what_is_fitted_is_kept_under_a_name(window: Window) -> None:
    window.revisions.fill()
    assert not window.revisions.keep.isEnabled()
    window.bridge.change_part("Fit", window.bridge.map.parts["R1"].with_fitted(50))
    window.revisions.fill()
    window.revisions.keep.trigger()
    assert window.view.editor.line.accessibleName() == "Keep as revision"
    answer(window, "")
    assert window.view.editor.reason.text() == "The revision's name must not be empty."
    answer(window, " late ")
    assert not window.view.editor.isVisible()
    assert window.bridge.map.revisions["late"].values == {"R1": {"ohms": 50.0}}
    assert window.bridge.history.undo_name == "Keep revision late"
    assert entry(window, "late").isChecked()
    window.revisions.keep.trigger()
    answer(window, "late")
    assert window.view.editor.reason.text() == "There is already a revision 'late'."
    QTest.keyClick(window.view.editor.line, Key.Key_Escape)
    assert len(window.bridge.map.revisions) == 1


def test_those_that_are_kept_can_be_changed(revised: Window) -> None:
    m = revised.bridge.map
    entry(revised, "late").trigger()
    change(revised, "rename", "late")
    answer(revised, "second series")
    assert list(m.revisions) == ["second series"]
    assert m.parts["R1"].fitted["ohms"].source == "revision second series"
    change(revised, "notes", "second series")
    answer(revised, "Seen twice.")
    assert m.revisions["second series"].notes == "Seen twice."
    revised.bridge.change_part("Fit", m.parts["R3"].with_fitted(47))
    change(revised, "renew", "second series")
    assert m.revisions["second series"].of("R3") == {"ohms": 47.0}
    change(revised, "remove", "second series")
    assert not m.revisions
    assert ohms(revised) == 50
    assert revised.bridge.history.undo_name == "Remove revision second series"


def test_nothing_can_be_taken_in_where_nothing_is_fitted(revised: Window) -> None:
    revised.revisions.fill()
    able = {what: menu.menuAction().isEnabled() for what, menu in revised.revisions.changes.items()}
    assert able == {"rename": True, "notes": True, "renew": False, "remove": True}
    change(revised, "renew", "late")
    assert "there is nothing to keep" in revised.message.text.text()


def test_the_card_of_a_part_tells_of_each(revised: Window, settle: Settle) -> None:
    revised.bridge.pick(Picked("part", "R1"))
    settle()
    history = revised.card.page.known.history
    assert history.isVisibleTo(revised.card.page)
    assert history.text() == "By revision:\nlate: 50R, rated power 2W"
    revised.bridge.map.parts["R1"].changed()
    entry(revised, "late").trigger()
    settle()
    assert revised.card.page.known.rows["fitted", "ohms"].lines["source"].text() == "revision late"
    revised.bridge.pick(Picked("part", "R3"))
    settle()
    assert not revised.card.page.known.history.isVisibleTo(revised.card.page)


def test_the_card_of_the_map_tells_which_is_fitted(revised: Window, settle: Settle) -> None:
    assert "revision" not in revised.card.page.below.text()
    entry(revised, "late").trigger()
    settle()
    assert revised.card.page.below.text().endswith("; fitted as revision late")


def test_the_parts_table_tells_of_each(revised: Window) -> None:
    model = revised.drawer.parts.grid.table
    place = model.row_of("parts", "R1")
    cell = model.index(place, COLUMNS.index("fitted"))
    assert cell.data(Qt.ItemDataRole.ToolTipRole) == "late: 50R, rated power 2W"
    assert cell.data(Qt.ItemDataRole.AccessibleDescriptionRole) == "late: 50R, rated power 2W"
    assert model.index(place, COLUMNS.index("found")).data(Qt.ItemDataRole.ToolTipRole) == ""
    other = model.index(model.row_of("parts", "R3"), COLUMNS.index("fitted"))
    assert other.data(Qt.ItemDataRole.ToolTipRole) == ""


def test_figures_follow_the_decimal_sign(revised: Window) -> None:
    revised.bridge.map.add_revision("odd", values={"V1": {"volts": 12.5}})
    revised.set_theme(themes.light(Figures(",")))
    assert texts(revised)[2] == "odd (V1 12,5V)"


def test_filling_it_again_leaves_nothing_behind(revised: Window, settle: Settle) -> None:
    desk = revised.revisions
    counts: list[tuple[int, int]] = []
    for _ in range(3):
        desk.fill()
        settle()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        counts.append((len(desk.findChildren(QAction)), len(desk.menu.findChildren(QAction))))
    assert len(set(counts)) == 1
