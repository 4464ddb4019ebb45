"""Preferences: kept between runs, refused in one sentence, and acting at once."""

from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from railmap.figures import Figures
from railmap.ui import habits as habits_module
from railmap.ui import settings as settings_module
from railmap.ui.habits import Habits
from railmap.ui.preferences import PreferencesWindow
from railmap.ui.settings import Preferences, Settings, locale_of
from railmap.ui.window import Window


@pytest.fixture
def page(habits: Habits, settle: Any) -> PreferencesWindow:
    habits.actions["preferences"].trigger()
    settle()
    return habits.preferences


def type_figure(page: PreferencesWindow, place: int, text: str) -> str:
    """Type a figure of new maps; return the reason if it was refused."""
    edit = page.figures[place]
    edit.line.setFocus()
    edit.line.selectAll()
    QTest.keyClicks(edit.line, text)
    QTest.keyClick(edit.line, Qt.Key.Key_Return)
    return edit.reason.text()


def choose(box: Any, value: object) -> None:
    place = [box.itemData(i) for i in range(box.count())].index(value)
    box.setCurrentIndex(place)
    box.activated.emit(place)


# The settings file


def test_nothing_is_set_at_first(tmp_path: Path) -> None:
    settings = Settings(tmp_path / "new.ini")
    assert settings.preferences == Preferences(230.0, 50.0, 40.0, "", None, True)


def test_all_of_it_is_kept_for_the_next_run(tmp_path: Path) -> None:
    wanted = Preferences(117.5, 60.0, 55.0, ",", True, False)
    first = Settings(tmp_path / "a.ini")
    told: list[bool] = []
    first.changed.connect(lambda: told.append(True))
    first.preferences = wanted
    first.preferences = wanted
    assert told == [True]
    first._store.sync()
    again = Settings(tmp_path / "a.ini")
    assert again.preferences == wanted
    again.preferences = Preferences()
    again._store.sync()
    assert Settings(tmp_path / "a.ini").preferences == Preferences()


@pytest.mark.parametrize(
    "line", ["mains_volts=-5", "mains_hertz=nan", "ambient_c=warm", "mains_volts=1e999",
             "decimal=;", "dark=perhaps", "autosave=7", "mains_volts=@Invalid()"],
)  # fmt: skip
def test_what_makes_no_sense_is_as_if_never_set(tmp_path: Path, line: str) -> None:
    path = tmp_path / "odd.ini"
    path.write_text(f"[General]\n{line}\n")
    assert Settings(path).preferences == Preferences()


@pytest.mark.parametrize(("locale", "sign"), [("de_DE", ","), ("en_GB", "."), ("ar_EG", ".")])
def test_the_desktop_says_which_sign(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, locale: str, sign: str
) -> None:
    monkeypatch.setattr(settings_module.QLocale, "system", lambda: QLocale(locale))
    settings = Settings(tmp_path / "a.ini")
    assert settings.figures == Figures(sign)  # type: ignore[arg-type]
    settings.preferences = Preferences(decimal="." if sign == "," else ",")
    assert settings.figures != Figures(sign)  # type: ignore[arg-type]


def test_drafts_lie_beside_the_settings(tmp_path: Path) -> None:
    assert Settings(tmp_path / "a.ini").unsaved_folder == tmp_path / "unsaved"


# The window


def test_it_blocks_nothing(page: PreferencesWindow, window: Window) -> None:
    assert page.isVisible()
    assert not page.isModal()
    window.commands["add_board"].trigger()
    assert len(window.bridge.map.boards) == 3
    QTest.keyClick(page, Qt.Key.Key_Escape)
    assert not page.isVisible()


def test_figures_of_new_maps(page: PreferencesWindow, window: Window, settings: Settings) -> None:
    before = window.bridge.map.document()
    assert [edit.line.text() for edit in page.figures] == ["230V", "50Hz", "40C"]
    assert [type_figure(page, n, text) for n, text in enumerate(("117,5 V", "60", "55"))] == [
        ""
    ] * 3
    assert settings.preferences.mains_volts == 117.5
    assert window.bridge.map.document() == before, "a map that is open keeps its own"
    window.desk.new()
    m = window.bridge.map
    assert (m.mains_volts, m.mains_hertz, m.about.ambient_c) == (117.5, 60.0, 55.0)
    assert window.bridge.history.clean


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("-3", "It must be above 0."),
        ("0", "It must be above 0."),
        ("lots", "'lots' cannot be read as volts; write it like 24mV or 12.5V."),
        ("50Hz", "'50Hz' is in hertz; volts are wanted here."),
        ("", "Nothing is written where a value is wanted."),
    ],
)
def test_a_bad_figure_is_one_sentence_and_changes_nothing(
    page: PreferencesWindow, settings: Settings, text: str, why: str
) -> None:
    if not text:
        page.figures[0].line.clear()
    assert type_figure(page, 0, text) == why
    assert page.figures[0].reason.isVisible()
    assert page.figures[0].line.accessibleDescription() == why
    assert settings.preferences.mains_volts == 230.0
    assert type_figure(page, 0, "240") == ""
    assert settings.preferences.mains_volts == 240.0


def test_the_decimal_sign_acts_at_once(
    page: PreferencesWindow, window: Window, settings: Settings
) -> None:
    window.bridge.set_mains(231.5)
    type_figure(page, 0, "117.5")
    choose(page.decimal, ",")
    page.setFocus()
    assert "Figures are written like 12,5 V." in page.note.text()
    assert settings.figures == Figures(",")
    assert page.figures[0].line.text() in ("117,5V", "117.5V")
    assert window.mains.volts.locale().decimalPoint() == ","
    choose(page.decimal, ".")
    assert "Figures are written like 12.5 V." in page.note.text()
    assert window.mains.volts.locale().decimalPoint() == "."


@pytest.mark.parametrize(("sign", "other"), [(",", "."), (".", ",")])
def test_the_other_sign_is_never_dropped_in_a_spin_box(sign: str, other: str) -> None:
    """230.5 must not become 2305, as it would where a point may mark thousands."""
    locale = locale_of(sign)
    assert locale.toDouble(f"230{sign}5") == (230.5, True)
    assert not locale.toDouble(f"230{other}5")[1]
    assert locale.toString(1234.5, "f", 1) == f"1234{sign}5"


def test_light_and_dark_act_at_once(
    page: PreferencesWindow, window: Window, settings: Settings
) -> None:
    choose(page.theme, True)
    assert window.theme.dark
    assert settings.dark is True
    choose(page.theme, False)
    assert not window.theme.dark
    window.commands["theme"].trigger()
    assert page.theme.currentData() is True


def test_it_follows_the_desktop(
    page: PreferencesWindow, habits: Habits, window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Hints:
        def colorScheme(self) -> Qt.ColorScheme:  # noqa: N802
            return Qt.ColorScheme.Dark

    with monkeypatch.context() as patch:
        patch.setattr(habits_module.QApplication, "styleHints", Hints)
        choose(page.theme, None)
        assert window.theme.dark
    QApplication.styleHints().colorSchemeChanged.emit(Qt.ColorScheme.Light)
    scheme = QApplication.styleHints().colorScheme()
    assert window.theme.dark == (scheme == Qt.ColorScheme.Dark)


def test_autosave_is_switched(page: PreferencesWindow, settings: Settings) -> None:
    assert page.autosave.isChecked()
    assert str(settings.unsaved_folder) in page.autosave.toolTip()
    page.autosave.click()
    assert not settings.preferences.autosave
    page.autosave.click()
    assert settings.preferences.autosave


def test_sentences_are_seen_whole(page: PreferencesWindow, settle: Any) -> None:
    type_figure(page, 0, "lots of volts, and more of them than would fit into one line")
    settle()
    for label in (page.figures[0].reason, page.note):
        assert label.height() >= label.heightForWidth(label.width())
    assert page.figures[0].line.height() >= page.figures[0].line.minimumSizeHint().height()


def test_everything_has_a_name(page: PreferencesWindow) -> None:
    lines = [edit.line for edit in page.figures]
    names = [widget.accessibleName() for widget in (*lines, page.decimal, page.theme)]
    assert all(names)
    assert len(set(names)) == 5
