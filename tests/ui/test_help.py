"""Help inside the program: pages that ship with it, links, search, and keys as they are."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QAction, QColor, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from railmap.ui import help as help_module
from railmap.ui import theme as themes
from railmap.ui.habits import Habits
from railmap.ui.help import PAGES, HelpWindow, keys_table, page, title_of
from railmap.ui.window import Window


@pytest.fixture
def help_window(habits: Habits, settle: Callable[[], None]) -> HelpWindow:
    habits.actions["help start"].trigger()
    settle()
    return habits.help


def rows(found: HelpWindow) -> list[str]:
    return [found.list.item(row).text() for row in range(found.list.count())]


def type_search(found: HelpWindow, text: str) -> None:
    found.search.setFocus()
    found.search.clear()
    QTest.keyClicks(found.search, text)


# The pages


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole(name: str) -> None:
    text = page(name)
    assert title_of(text)
    assert text.count("<h1>") == 1
    for target in re.findall('href="(.*?)"', text):
        assert target.removesuffix(".html") in PAGES, "no page leads out of the program"
    for tag in ("p", "ul", "ol", "li", "table", "tr", "td", "h1", "h2", "b", "i"):
        assert len(re.findall(f"<{tag}[ >]", text)) == text.count(f"</{tag}>"), tag


def test_the_first_page_is_read_in_five_minutes() -> None:
    """At 200 words a minute, a usual reading speed (common practice, no source)."""
    words = re.sub("<.*?>", " ", page("start")).split()
    assert 300 < len(words) <= 5 * 200


def test_the_page_about_paper_is_read_in_three_minutes() -> None:
    words = re.sub("<.*?>", " ", page("paper")).split()
    assert 200 < len(words) <= 3 * 200


def test_cautions_defer_to_local_codes_and_licensed_people() -> None:
    text = page("cautions")
    for word in ("Local codes", "licensed", "not a permission", "Measure to prove dead"):
        assert word in text


def test_a_text_without_a_title_has_none() -> None:
    assert title_of("<p>nothing</p>") == ""


# Keys


def test_the_keys_are_those_of_the_real_actions(help_window: HelpWindow, window: Window) -> None:
    help_window.show_page("keys")
    lines = help_window.browser.toPlainText().splitlines()
    keyed = [action for action in window.actions() if not action.shortcut().isEmpty()]
    assert len(keyed) >= 20
    for action in keyed:
        place = lines.index(action.shortcut().toString(QKeySequence.SequenceFormat.NativeText))
        assert lines[place + 1] == action.text().replace("&", "").split(":")[0].rstrip("…")
    assert "F1" in lines


def test_the_floor_has_keys_of_its_own(help_window: HelpWindow, window: Window) -> None:
    action = QAction("&Weigh the part…", window.view)
    action.setShortcut("F8")
    window.view.addAction(action)
    help_window.open_at("keys")
    lines = help_window.browser.toPlainText().splitlines()
    assert lines[lines.index("F8") + 1] == "Weigh the part"
    assert lines.index("F8") > lines.index("On the floor")


def test_keys_changed_since_are_shown_at_the_next_opening(
    help_window: HelpWindow, window: Window
) -> None:
    window.commands["turn"].setShortcut("Ctrl+Alt+Shift+F9")
    help_window.open_at("keys")
    assert "Ctrl+Alt+Shift+F9" in help_window.browser.toPlainText()


def test_texts_of_actions_are_put_into_html_safely(window: Window) -> None:
    action = QAction("Cut <here> & there: R1", window)
    assert keys_table([action]) == "<table></table>"
    action.setShortcuts([QKeySequence("F7"), QKeySequence("F8")])
    assert keys_table([action]) == (
        "<table><tr><td>F7, F8</td><td>Cut &lt;here&gt;  there</td></tr></table>"
    )


# The window


def test_it_blocks_nothing(help_window: HelpWindow, window: Window) -> None:
    assert help_window.isVisible()
    assert not help_window.isModal()
    assert help_window.browser.hasFocus()
    QTest.keyClick(help_window, Qt.Key.Key_Escape)
    assert not help_window.isVisible()
    assert window.isVisible()


@pytest.mark.parametrize("name", PAGES)
def test_each_page_is_in_the_menu(habits: Habits, name: str, settle: Callable[[], None]) -> None:
    habits.actions[f"help {name}"].trigger()
    settle()
    assert habits.help.name == name
    heading = re.search("<h1>(.*?)</h1>", page(name))
    assert heading
    assert habits.help.browser.toPlainText().startswith(heading.group(1))
    habits.help.close()


def test_links_and_the_list_lead_to_pages(help_window: HelpWindow) -> None:
    help_window.browser.anchorClicked.emit(QUrl("words.html"))
    assert help_window.name == "words"
    help_window.browser.anchorClicked.emit(QUrl("https://example.com/"))
    help_window.browser.anchorClicked.emit(QUrl("file:///etc/passwd"))
    assert help_window.name == "words"
    assert help_window.browser.toPlainText().startswith("Words")
    help_window.list.setFocus()
    QTest.keyClick(help_window.list, Qt.Key.Key_End)
    assert help_window.name == PAGES[-1]


def test_search_counts_and_goes_to_what_it_found(help_window: HelpWindow) -> None:
    type_search(help_window, "bleeder")
    assert help_window.name == "words"
    here = PAGES.index("words")
    assert rows(help_window)[here] == "Words   1"
    assert rows(help_window)[0] == "Five minutes"
    assert help_window.count.text() == "1 found"
    assert len(help_window.browser.extraSelections()) == 1
    help_window.search.clear()
    assert help_window.count.text() == ""
    assert rows(help_window)[here] == "Words"
    assert help_window.browser.extraSelections() == []


def test_search_ignores_capitals_and_says_if_there_is_nothing(help_window: HelpWindow) -> None:
    type_search(help_window, "KIRCHHOFF")
    assert help_window.name == "computed"
    help_window.search.setText("oscillogram")
    assert help_window.count.text() == "Not found"
    assert help_window.name == "computed"
    help_window.find_next()
    assert help_window.name == "computed"


def test_enter_goes_through_all_places(help_window: HelpWindow) -> None:
    type_search(help_window, "ripple")
    total = sum(help_window._counts().values())
    assert total >= 4
    seen = set()
    for _ in range(total):
        QTest.keyClick(help_window.search, Qt.Key.Key_Return)
        cursor = help_window.browser.textCursor()
        assert cursor.selectedText().casefold() == "ripple"
        seen.add((help_window.name, cursor.position()))
    assert len(seen) == total, "each place once"
    QTest.keyClick(help_window, Qt.Key.Key_F3)
    cursor = help_window.browser.textCursor()
    assert (help_window.name, cursor.position()) in seen, "and then from the first again"


def test_a_key_leads_to_the_search(help_window: HelpWindow) -> None:
    QTest.keyClick(help_window.browser, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert help_window.search.hasFocus()


def test_it_follows_the_theme(
    help_window: HelpWindow, window: Window, settle: Callable[[], None]
) -> None:
    def link() -> QColor:
        found = help_window.browser.document().find("cautions").charFormat()
        return found.foreground().color()

    assert link() == themes.light().accent
    window.set_theme(themes.dark())
    settle()
    assert link() == themes.dark().accent


def test_it_can_be_made_before_it_is_shown(qtbot: Any) -> None:
    owner = QWidget()
    qtbot.addWidget(owner)
    found = help_module.HelpWindow({"window": owner.actions}, owner)
    assert found.name == "start"
    assert found.isHidden()
